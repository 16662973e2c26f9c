"""What holds for the ground network of any bus: datum, superposition, Kirchhoff, power, further nodes, widening, order."""

import math

import attrs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rs485kit as rk
from random_buses import random_bus
from rs485kit.analysis import common_mode
from rs485kit.network.galvanic import islands_of

seeds = st.integers(0, 2**32 - 1)
COLUMNS = (
    "lowest_nominal", "highest_nominal", "lowest", "highest", "mean_lowest", "mean_highest", "mains",
)  # fmt: skip
TINY = 1e-6


def bus_of(seed: int, *, apart: float = 2.0) -> rk.Bus:
    """Return a random bus of which everything that common mode asks for is stated."""
    rng = np.random.default_rng(seed)
    bus = random_bus(rng, apart=apart)
    earths = [
        attrs.evolve(
            earth, mains_potential=float(rng.uniform(0.0, 1.0)),
            mains_phase=float(rng.uniform(0.0, 6.0)) if rng.random() < 0.7 else None,
        )
        for earth in bus.earths
    ]  # fmt: skip
    nodes = [node if node.earth else attrs.evolve(node, earth=str(rng.choice(["pump", "bank"]))) for node in bus.nodes]
    return attrs.evolve(bus, earths=earths, nodes=nodes)


def shifted(figure: object, volts: float) -> tuple[float, float, float]:
    return figure.min + volts, figure.typ + volts, figure.max + volts


def quiet(bus: rk.Bus) -> rk.Bus:
    """Return a bus without any source but its earths: no bias supply, no driver, inputs that pull to 0 V."""
    part = attrs.evolve(bus.nodes[0].transceiver, input_reference="0 V", supply_voltage=None)
    return attrs.evolve(
        bus, nodes=[attrs.evolve(node, transceiver=part, biases=(), drives=False) for node in bus.nodes]
    )


def power(bus: rk.Bus) -> float:
    """Return the power that the earths put into the bus, direct current [W]."""
    potential = {earth.name: earth.potential.nominal for earth in bus.earths}
    return -sum(row.current * potential[row.earth] for row in common_mode(bus).bonds)


@given(seeds, st.floats(-3.0, 3.0))
@settings(deadline=None, max_examples=25)
def test_raising_every_earth_equally_changes_nothing(seed, volts):
    bus = bus_of(seed)
    raised = attrs.evolve(
        bus, earths=[attrs.evolve(earth, potential=shifted(earth.potential, volts)) for earth in bus.earths]
    )
    first, second = common_mode(bus), common_mode(raised)
    for column in COLUMNS:
        np.testing.assert_allclose(
            getattr(first.receivers, column), getattr(second.receivers, column), atol=TINY, equal_nan=True
        )
    for one, other in zip(first.spans, second.spans, strict=True):
        assert one.reference == pytest.approx(other.reference, abs=1e-8)


@given(seeds, st.floats(-5.0, 4.0))
@settings(deadline=None, max_examples=25)
def test_turning_every_phase_equally_changes_nothing(seed, angle):
    bus = bus_of(seed)
    earths = [attrs.evolve(earth, mains_phase=1.0 + index) for index, earth in enumerate(bus.earths)]
    turned = [attrs.evolve(earth, mains_phase=earth.mains_phase + angle) for earth in earths]
    first, second = (common_mode(attrs.evolve(bus, earths=each)) for each in (earths, turned))
    np.testing.assert_allclose(first.receivers.mains, second.receivers.mains, atol=1e-9, equal_nan=True)


@given(seeds, st.floats(-5.0, 5.0), st.floats(-5.0, 5.0))
@settings(deadline=None, max_examples=25)
def test_currents_of_two_differences_add_up(seed, first, second):
    bus = quiet(bus_of(seed))

    def currents(volts: float) -> np.ndarray:
        earths = [attrs.evolve(earth, potential=volts if earth.name == "bank" else 0.0) for earth in bus.earths]
        return np.array([row.current for row in common_mode(attrs.evolve(bus, earths=earths)).bonds])

    np.testing.assert_allclose(currents(first + second), currents(first) + currents(second), atol=1e-9)


@given(seeds)
@settings(deadline=None, max_examples=25)
def test_what_flows_into_the_earths_flows_out_of_them(seed):
    rows = common_mode(bus_of(seed)).bonds
    assert sum(row.current for row in rows) == pytest.approx(0.0, abs=1e-9)


@given(seeds, st.data())
@settings(deadline=None, max_examples=25)
def test_removing_a_barrier_never_lowers_the_power_of_the_earths(seed, data):
    bus = quiet(bus_of(seed, apart=6.0))
    isolated = [node for node in bus.nodes if node.barrier is not None]
    if not isolated:
        return
    node = data.draw(st.sampled_from(isolated))
    assert power(bus.replace_node(attrs.evolve(node, barrier=None))) >= power(bus) - 1e-12
    assert power(bus) >= -1e-12


@given(seeds)
@settings(deadline=None, max_examples=25)
def test_an_isolated_node_without_unit_load_changes_no_other_node(seed):
    bus = bus_of(seed)
    part = attrs.evolve(bus.nodes[0].transceiver, unit_load=0.0)
    extra = rk.Node(name="extra", transceiver=part, barrier=rk.Barrier(), drives=False, earth="bank")
    segment = bus.segments[0]
    wider = bus.with_node(extra, on=(segment.start, segment.end), at=segment.length / 2)
    if bus.segments[0].reference_conductor:
        wider = wider.replace_node(attrs.evolve(extra, common=rk.CommonLink(resistance="0 ohm")))
    before, after = common_mode(bus).receivers, common_mode(wider).receivers
    for name in before.nodes:
        one, other = before.at(name), after.at(name)
        for column in ("lowest_nominal", "highest_nominal", "mean_lowest", "mean_highest", "mains"):
            assert getattr(one, column) == pytest.approx(getattr(other, column), abs=TINY, nan_ok=True)


@given(seeds, st.floats(0.01, 2.0))
@settings(deadline=None, max_examples=20)
def test_wider_limits_of_an_earth_never_narrow_a_limit(seed, more):
    bus = bus_of(seed)
    bank = bus.earth("bank")
    low, middle, high = shifted(bank.potential, 0.0)
    wider = attrs.evolve(bus, earths=[bus.earth("pump"), attrs.evolve(bank, potential=(low - more, middle, high + more))])
    before, after = common_mode(bus), common_mode(wider)
    for one, other in zip(before.receivers, after.receivers, strict=True):
        if not math.isnan(other.lowest):
            assert other.lowest <= one.lowest + 1e-3
            assert other.highest >= one.highest - 1e-3
    for one, other in zip(before.barriers, after.barriers, strict=True):
        if not math.isnan(other.upper):
            assert other.lower <= one.lower + TINY
            assert other.upper >= one.upper - TINY


@given(seeds)
@settings(deadline=None, max_examples=20)
def test_order_of_nodes_changes_nothing(seed):
    bus = bus_of(seed)
    back = attrs.evolve(bus, nodes=bus.nodes[::-1], segments=bus.segments[::-1], earths=bus.earths[::-1])
    first, second = common_mode(bus), common_mode(back)
    for node in first.receivers.nodes:
        for column in ("lowest_nominal", "highest_nominal", "mains"):
            one, other = (getattr(each.receivers.at(node), column) for each in (first, second))
            assert one == pytest.approx(other, abs=TINY, nan_ok=True)
    assert {frozenset(each.nodes) for each in islands_of(bus)} == {frozenset(each.nodes) for each in islands_of(back)}


@given(seeds)
@settings(deadline=None, max_examples=20)
def test_limits_hold_the_nominal_answer(seed):
    for row in common_mode(bus_of(seed)).receivers:
        if not math.isnan(row.lowest):
            assert row.lowest <= row.lowest_nominal + TINY
            assert row.highest >= row.highest_nominal - TINY
