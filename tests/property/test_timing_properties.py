"""What must hold of the time of a bit and of idle tails on any bus."""

import itertools

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canal_signals import BIAS, END, PAIR
from property.test_signal_properties import ANY, QUICK
from rs485kit import Bus, Link, Node, Transceiver, analysis, daisy_chain
from rs485kit.testing.edits import reordered

ALGEBRA = 1e-9
# what is left of a record where it ends
LEFT = 1e-6
PART = Transceiver(
    name="part", unit_load=0.125, driver_open_voltage=3.5, driver_loaded_voltage=2.2, driver_edge_time=200e-9,
    receiver_upper_threshold=(-0.05, None, 0.2), receiver_lower_threshold=(-0.2, None, 0.0), driver_skew=20e-9,
    receiver_skew=20e-9, receiver_hysteresis=(0.02, None, None),
)  # fmt: skip
CLOCK = {"clock_tolerance": 0.005, "oversampling": 16, "samples": 3}


def canal(rate: float = 115200.0, *, part: Transceiver = PART, **changes: object) -> Bus:
    """Return a bus of three nodes."""
    fields = {**CLOCK, **changes}
    nodes = [
        Node(name="head", transceiver=part, terminations=END, biases=BIAS, **fields),
        Node(name="middle", transceiver=part, **fields),
        Node(name="tail", transceiver=part, terminations=END, **fields),
    ]
    return daisy_chain(nodes, spacing=300.0, cable=PAIR, link=Link(data_rate=rate))


def assert_no_better(before: Bus, after: Bus) -> None:
    """Hold that no margin has risen."""
    first, second = analysis.bit_timing(before), analysis.bit_timing(after)
    assert (second.slow_margin <= first.slow_margin + ALGEBRA).all()
    assert (second.fast_margin <= first.fast_margin + ALGEBRA).all()


@QUICK
@given(less=st.floats(0, 0.05), more=st.floats(0, 0.05))
def test_more_error_of_clocks_never_raises_a_margin(less, more):
    assert_no_better(canal(clock_tolerance=less), canal(clock_tolerance=less + more))


@QUICK
@given(less=st.floats(0, 1e-6), more=st.floats(0, 1e-6), field=st.sampled_from(["driver_skew", "receiver_skew"]))
def test_more_skew_never_raises_a_margin(less, more, field):
    parts = (attrs.evolve(PART, **{field: skew}) for skew in (less, less + more))
    assert_no_better(*(canal(part=part) for part in parts))


@QUICK
@given(
    up=st.floats(0, 0.3), down=st.floats(0, 0.3),
    field=st.sampled_from(["receiver_upper_threshold", "receiver_lower_threshold"]),
)  # fmt: skip
def test_wider_thresholds_never_raise_a_margin(up, down, field):
    figure = getattr(PART, field)
    wider = attrs.evolve(PART, **{field: (figure.min - down, None, figure.max + up)})
    assert_no_better(canal(), canal(part=wider))


@QUICK
@given(less=st.floats(0.0, 0.1), more=st.floats(0.0, 0.1))
def test_less_hysteresis_that_is_guaranteed_never_raises_a_margin(less, more):
    parts = (attrs.evolve(PART, receiver_hysteresis=(value, None, None)) for value in (less + more, less))
    assert_no_better(*(canal(part=part) for part in parts))


@pytest.mark.parametrize("edge", [100e-9, 300e-9, 1e-6])
def test_wider_limits_of_the_edge_never_raise_the_adverse_margin(edge):
    narrow, wide = (
        canal(part=attrs.evolve(PART, driver_edge_time=(edge / share, edge, edge * share))) for share in (1.1, 1.6)
    )
    first, second = (analysis.bit_timing(bus, corner="adverse") for bus in (narrow, wide))
    # steps of the records differ with the fastest edge
    assert (second.margin <= first.margin + 5e-3).all()


@QUICK
@given(bus=ANY)
def test_order_changes_nothing(bus):
    found, tails = analysis.bit_timing(bus), analysis.idle_tails(bus)
    for edit in reordered(bus):
        again, settled = analysis.bit_timing(edit.bus), analysis.idle_tails(edit.bus)
        for driver in found.drivers:
            for receiver in found.receivers:
                one, other = found.between(driver, receiver).margin, again.between(driver, receiver).margin
                assert one == pytest.approx(other, rel=LEFT, abs=LEFT, nan_ok=True)
                one, other = (each.between(driver, receiver).from_space for each in (tails, settled))
                # what is left where a record ends moves a slow crossing
                assert one == pytest.approx(other, rel=2e-4, abs=1e-9, nan_ok=True)


@pytest.mark.parametrize("rate", [9600.0, 115200.0, 500e3])
def test_a_margin_is_that_of_its_bit_and_clocks_alone_where_the_line_does_nothing(rate):
    """What is left of the last sample, worked out by hand for a short line with nothing but clocks and samples."""
    quick = attrs.evolve(PART, driver_skew=0.0, receiver_skew=0.0)
    found = analysis.bit_timing(canal(rate, part=quick)).between("head", "middle")
    tolerance, last = CLOCK["clock_tolerance"], 9
    late = (16 / 2 + 2) / 16
    parts = (found.start_shift, found.space_shift)
    fast = min(
        (last + 1) / (1 + tolerance) - (last + late) / (1 - tolerance) - parts[0] * rate,
        last / (1 + tolerance) - (last - 1 + late) / (1 - tolerance) - parts[1] * rate,
    )
    assert found.fast_margin == pytest.approx(fast, abs=1e-9)


def test_stronger_bias_never_makes_a_tail_from_space_longer():
    tails = []
    for ohms in (1000.0, 800.0, 600.0, 450.0):
        bus = canal()
        head = attrs.evolve(bus.node("head"), biases=attrs.evolve(BIAS, pull_up=ohms, pull_down=ohms))
        tails.append(analysis.idle_tails(bus.replace_node(head)).from_space)
    for longer, shorter in itertools.pairwise(tails):
        assert (np.where(np.isinf(longer), np.inf, longer) >= shorter - 1e-9).all()
