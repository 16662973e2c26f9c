"""Feed levels: what is refused or unknown, closed forms, collapse to 1e-6, shutting down, inrush, limits."""

import itertools
import math
import pickle

import attrs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rs485kit as rk
from rs485kit.errors import InputError, MissingDataError, UnknownNameError

WIRE = rk.Cable(name="24 AWG", conductor_resistance=84.2e-3, reference_resistance=84.2e-3)
FEED = rk.FeedConductors()


def head(volts=24.0, **figures):
    return rk.Node(name="head", feed_source=rk.FeedSource(voltage=volts, resistance=0.0, **figures))


def line(*loads, source=None, spacing=100.0, feed=FEED, **figures):
    nodes = [source or head(), *(rk.Node(name=f"gate-{k}", feed=load) for k, load in enumerate(loads, 1))]
    return rk.daisy_chain(nodes, spacing=spacing, cable=WIRE, feed=feed, **figures)


def levels(bus):
    return rk.analysis.feed_levels(bus)


# --- bad and missing figures ----------------------------------------------------------------------------


def test_two_laws_of_one_device_are_refused():
    with pytest.raises(InputError, match="power and current"):
        rk.FeedLoad(power=1.0, current=0.1)


def test_a_restart_below_the_minimum_is_refused():
    with pytest.raises(InputError, match="restart_voltage"):
        rk.FeedLoad(power=1.0, minimum_voltage=9.0, restart_voltage=8.0)


def test_a_common_return_needs_a_reference_conductor():
    with pytest.raises(InputError, match="reference_conductor"):
        line(rk.FeedLoad(power=1.0), feed=rk.FeedConductors(common_return=True))


def test_a_device_without_law_or_supply_is_named():
    with pytest.raises(MissingDataError, match=r'nodes\["gate-1"\]\.feed\.power'):
        levels(line(rk.FeedLoad(minimum_voltage=9.0)))


def test_a_cable_without_resistance_is_named():
    bus = line(rk.FeedLoad(power=1.0))
    bus = attrs.evolve(bus, segments=[attrs.evolve(each, cable=None) for each in bus.segments])
    with pytest.raises(MissingDataError, match="cable"):
        levels(bus)


def test_a_device_without_minimum_is_unknown_by_name():
    devices = levels(line(rk.FeedLoad(power=1.0))).devices
    assert devices.missing == (("gate-1", "feed.minimum_voltage"),)
    assert math.isnan(devices.at("gate-1").margin)


def test_a_limit_that_is_not_stated_leaves_limits_unknown():
    found = levels(line(rk.FeedLoad(power=(None, 1.0, None), minimum_voltage=9.0)))
    assert math.isnan(found.devices.at("gate-1").voltage.lower)
    assert not math.isnan(found.devices.at("gate-1").voltage.nominal)
    assert any("power" in each for each in found.unstated)
    assert not found.devices.at("gate-1").surely_running


def test_a_bus_without_feed_has_empty_tables():
    found = levels(rk.Bus(nodes=[rk.Node(name="alone")]))
    assert len(found.devices) == len(found.spans) == len(found.sources) == 0
    assert found.all_running
    assert found.load_factor.nominal == math.inf


def test_a_device_that_no_feeding_point_reaches_does_not_run():
    nodes = [head(), rk.Node(name="near", feed=rk.FeedLoad(power=1.0, minimum_voltage=9.0)),
             rk.Node(name="off", feed=rk.FeedLoad(power=1.0, minimum_voltage=9.0))]  # fmt: skip
    spans = [rk.Segment(start="head", end="near", length=10.0, cable=WIRE, feed=FEED),
             rk.Segment(start="near", end="off", length=10.0, cable=WIRE)]  # fmt: skip
    found = levels(rk.Bus(nodes=nodes, segments=spans))
    assert found.devices.at("near").running
    assert not found.devices.at("off").running
    assert found.devices.at("off").voltage.nominal == pytest.approx(0.0, abs=1e-12)


def test_rows_by_name():
    found = levels(line(rk.FeedLoad(power=1.0, minimum_voltage=9.0)))
    assert found.spans.between("gate-1", "head").current == found.spans.between("head", "gate-1").current
    with pytest.raises(UnknownNameError, match="head - gate-1"):
        found.spans.between("head", "gate-2")
    assert found.spans.to_records()[0]["current_nominal_A"] == pytest.approx(found.sources.at("head").current.nominal)


def test_a_result_travels_between_processes():
    found = levels(line(rk.FeedLoad(power=1.0, minimum_voltage=9.0)))
    again = pickle.loads(pickle.dumps(found))
    assert again.devices.at("gate-1").voltage == found.devices.at("gate-1").voltage
    assert again.sources.at("head").current == found.sources.at("head").current


# --- closed forms ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.01, 0.5, 0.9, 0.999, 0.999999])
def test_one_load_at_the_end_of_a_line(share):
    """v = (V + sqrt(V^2 - 4 R P)) / 2."""
    loop = 2 * 100.0 * 84.2e-3
    power = share * 24.0**2 / (4 * loop)
    row = levels(line(rk.FeedLoad(power=power, minimum_voltage=1.0))).devices.at("gate-1")
    assert row.running
    assert row.voltage.nominal == pytest.approx((24.0 + math.sqrt(24.0**2 - 4 * loop * power)) / 2, rel=1e-9)


@pytest.mark.parametrize("volts", [5.0, 12.0, 24.0, 48.0])
@pytest.mark.parametrize("length", [30.0, 100.0, 777.0])
def test_collapse_is_at_a_quarter_of_the_square_over_the_loop(volts, length):
    power, loop = 0.37, 2 * length * 84.2e-3
    bus = line(rk.FeedLoad(power=power, minimum_voltage=0.1), source=head(volts), spacing=length)
    assert levels(bus).load_factor.nominal * power == pytest.approx(volts**2 / (4 * loop), rel=1e-6)


@pytest.mark.parametrize(("factor", "runs"), [(1 - 1e-6, True), (1 + 1e-6, False)])
def test_either_side_of_collapse_by_a_millionth(factor, runs):
    limit = 24.0**2 / (4 * 2 * 100.0 * 84.2e-3)
    assert levels(line(rk.FeedLoad(power=limit * factor, minimum_voltage=0.1))).all_running is runs


def test_constant_current_and_resistance_add_up():
    loop = 2 * 100.0 * 84.2e-3
    found = levels(line(rk.FeedLoad(current=0.2, minimum_voltage=3.0), rk.FeedLoad(resistance=100.0)))
    last = (24.0 - loop * 0.2) / (1 + 2 * loop / 100.0)
    assert found.devices.at("gate-2").voltage.nominal == pytest.approx(last, rel=1e-12)
    assert found.spans.between("head", "gate-1").current.nominal == pytest.approx(0.2 + last / 100.0, rel=1e-12)


def test_power_is_conserved():
    found = levels(line(*(rk.FeedLoad(power=0.1, minimum_voltage=3.0) for _ in range(9))))
    assert found.all_running
    given = 24.0 * found.sources.at("head").current.nominal
    assert given == pytest.approx(9 * 0.1 + sum(row.heat for row in found.spans), rel=1e-9)


def test_wires_in_parallel_and_a_warm_cable():
    climate = rk.Environment(temperature=333.15)
    bus = line(rk.FeedLoad(current=0.5), feed=rk.FeedConductors(wires=3), environment=climate)
    drop = 0.5 * 2 * 100.0 * 84.2e-3 / 3 * (1 + 0.00393 * 40)
    assert levels(bus).devices.at("gate-1").voltage.nominal == pytest.approx(24.0 - drop, rel=1e-9)


def test_a_common_return_is_one_conductor():
    feed = rk.FeedConductors(wires=3, common_return=True)
    bus = line(rk.FeedLoad(current=0.5), feed=feed, reference_conductor=True)
    found = levels(bus)
    back = 100.0 * 84.2e-3
    assert found.devices.at("gate-1").voltage.nominal == pytest.approx(24.0 - 0.5 * back * (1 + 1 / 3), rel=1e-12)
    assert found.grounds.at("gate-1").shift.nominal == pytest.approx(0.5 * back, rel=1e-12)
    assert found.grounds.at("head").shift.nominal == pytest.approx(0.0, abs=1e-12)


# --- shutting down --------------------------------------------------------------------------------------


def test_the_device_that_falls_short_is_taken_off_and_the_rest_runs():
    found = levels(line(*(rk.FeedLoad(power=1.0, minimum_voltage=18.0) for _ in range(6))))
    assert found.devices.running.count(True) < 6
    running = [row for row in found.devices if row.running]
    assert running and all(row.voltage.nominal >= 18.0 for row in running)
    assert not found.devices.at("gate-6").running
    assert found.load_factor.nominal < 1.0
    assert found.first_to_stop == "gate-6"


def test_the_talker_counts():
    quiet = rk.FeedLoad(power=1.0, minimum_voltage=10.0)
    talks = attrs.evolve(quiet, talking_power=1.5)
    without, with_it = (levels(line(quiet, each)).devices.at("gate-2").voltage.nominal for each in (quiet, talks))
    both = levels(line(quiet, rk.FeedLoad(power=2.5, minimum_voltage=10.0))).devices.at("gate-2").voltage.nominal
    assert with_it < without
    assert with_it == pytest.approx(both, rel=1e-9)


def test_a_device_without_supply_draws_nothing():
    bus = line(rk.FeedLoad(power=1.0, minimum_voltage=9.0), rk.FeedLoad(power=1.0, minimum_voltage=9.0))
    off = bus.replace_node(attrs.evolve(bus.node("gate-2"), powered=False))
    alone = levels(line(rk.FeedLoad(power=1.0, minimum_voltage=9.0))).devices.at("gate-1").voltage.nominal
    assert levels(off).devices.at("gate-1").voltage.nominal == pytest.approx(alone, rel=1e-12)


# --- switching on ---------------------------------------------------------------------------------------


def test_an_input_that_nothing_limits_is_a_short_at_first():
    found = levels(line(rk.FeedLoad(power=1.0, capacitance=100e-6, minimum_voltage=9.0)))
    assert found.sources.at("head").inrush == pytest.approx(24.0 / (2 * 100.0 * 84.2e-3), rel=1e-9)
    assert found.sources.at("head").charge == pytest.approx(2.4e-3, rel=1e-9)


def test_inputs_that_limit_their_inrush():
    limited = rk.FeedLoad(power=1.0, capacitance=100e-6, minimum_voltage=9.0, inrush_current=0.2)
    found = levels(line(limited, limited))
    assert found.sources.at("head").inrush == pytest.approx(0.4, rel=1e-9)
    loop = 2 * 100.0 * 84.2e-3
    assert found.devices.at("gate-2").starting_voltage == pytest.approx(24.0 - loop * (0.4 + 0.2), rel=1e-9)


def test_an_input_at_the_terminals_of_a_source_without_resistance():
    nodes = [attrs.evolve(head(), feed=rk.FeedLoad(power=1.0, capacitance=1e-6)), rk.Node(name="tail")]
    bus = rk.daisy_chain(nodes, spacing=10.0, cable=WIRE, feed=FEED)
    assert levels(bus).sources.at("head").inrush == math.inf


def test_inrush_without_a_stated_input_is_unknown():
    found = levels(line(rk.FeedLoad(power=1.0, minimum_voltage=9.0)))
    assert math.isnan(found.sources.at("head").inrush)
    assert "capacitance" in found.sources.missing[0][1]


# --- limits ---------------------------------------------------------------------------------------------


def _tolerant(power, *, wide=True, ring=False, resistive=False):
    loose = (0.9, 1.0, 1.1) if wide else (1.0, 1.0, 1.0)
    wire = rk.Cable(name="loose", conductor_resistance=tuple(84.2e-3 * each for each in loose))
    loads = [rk.FeedLoad(power=tuple(power * each for each in loose), minimum_voltage=6.0, talking_power=0.3 * power)
             for _ in range(3)]  # fmt: skip
    if resistive:
        loads[1] = rk.FeedLoad(resistance=tuple(300.0 * each for each in loose))
    source = rk.FeedSource(voltage=tuple(24.0 * each for each in loose), resistance=(0.5, 1.0, 1.5))
    nodes = [rk.Node(name="head", feed_source=source), *(rk.Node(name=f"gate-{k}", feed=x) for k, x in enumerate(loads, 1))]
    bus = rk.daisy_chain(nodes, spacing=100.0, cable=wire, feed=FEED)
    if ring:
        back = rk.Segment(start="gate-3", end="head", length=150.0, cable=wire, feed=FEED)
        bus = attrs.evolve(bus, segments=[*bus.segments, back])
    return bus


def _member(bus, rng):
    """Return a bus with each figure somewhere inside its limits, by itself."""

    def drawn(figure):
        return None if figure is None else float(rng.choice([figure.min, figure.max, rng.uniform(figure.min, figure.max)]))

    nodes = []
    for node in bus.nodes:
        if node.feed_source is not None:
            source = node.feed_source
            node = attrs.evolve(node, feed_source=attrs.evolve(
                source, voltage=drawn(source.voltage), resistance=drawn(source.resistance)))
        if node.feed is not None:
            feed = node.feed
            node = attrs.evolve(node, feed=attrs.evolve(
                feed, power=drawn(feed.power), resistance=drawn(feed.resistance)))
        nodes.append(node)
    segments = [
        attrs.evolve(each, cable=attrs.evolve(each.cable, conductor_resistance=drawn(each.cable.conductor_resistance)))
        for each in bus.segments
    ]  # fmt: skip
    return attrs.evolve(bus, nodes=nodes, segments=segments)


@pytest.mark.parametrize(("ring", "resistive"), list(itertools.product([False, True], repeat=2)))
@pytest.mark.parametrize("power", [0.5, 1.5])
def test_no_member_of_the_box_is_outside_the_limits(power, ring, resistive):
    bus = _tolerant(power, ring=ring, resistive=resistive)
    found = levels(bus)
    rng = np.random.default_rng(int(power * 10) + 2 * ring + resistive)
    for _ in range(60):
        one = levels(_member(bus, rng))
        for name in found.devices.nodes:
            limits, seen = found.devices.at(name), one.devices.at(name)
            assert limits.voltage.lower - 1e-9 <= seen.voltage.nominal <= limits.voltage.upper + 1e-9
            assert not limits.surely_running or seen.running
            assert seen.current.nominal <= limits.current.upper + 1e-9
        for limits, seen in zip(found.spans, one.spans, strict=True):
            assert seen.current.nominal <= limits.current.upper + 1e-9
        assert one.sources.at("head").current.nominal <= found.sources.at("head").current.upper + 1e-9
        for name in found.grounds.nodes:
            limits = found.grounds.at(name).shift
            assert limits.lower - 1e-9 <= one.grounds.at(name).shift.nominal <= limits.upper + 1e-9


def test_limits_of_a_tree_are_attained():
    bus = _tolerant(0.5)
    row = levels(bus).devices.at("gate-3")
    worst = _member(bus, _Ends(adverse=True))
    assert levels(worst).devices.at("gate-3").voltage.nominal == pytest.approx(row.voltage.lower, rel=1e-9)


class _Ends:
    """Stands for a generator that takes the adverse end of every figure."""

    def __init__(self, *, adverse):
        self.adverse = adverse

    def uniform(self, low, high):
        return high

    def choice(self, figures):
        # the voltage of the source is the one figure of some volts
        return figures[0] if figures[0] > 10.0 else figures[1]


small = settings(max_examples=40, deadline=None)


@small
@given(st.lists(st.floats(0.05, 3.0), min_size=1, max_size=5), st.floats(1.0, 1.5), st.integers(0, 4))
def test_more_load_never_raises_a_voltage(powers, factor, which):
    which %= len(powers)
    more = [power * (factor if index == which else 1.0) for index, power in enumerate(powers)]
    first, second = (
        levels(line(*(rk.FeedLoad(power=each, minimum_voltage=2.0) for each in every))) for every in (powers, more)
    )
    if second.all_running:
        assert first.all_running
        assert (second.devices.voltage.nominal <= first.devices.voltage.nominal + 1e-9).all()


@small
@given(st.lists(st.floats(0.05, 1.0), min_size=2, max_size=5))
def test_an_isolated_feeding_point_of_equal_voltage_never_lowers_a_device(powers):
    bus = line(*(rk.FeedLoad(power=each, minimum_voltage=2.0) for each in powers))
    last = bus.nodes[-1]
    more = bus.replace_node(attrs.evolve(last, feed_source=rk.FeedSource(voltage=24.0, resistance=3.0)))
    before, after = levels(bus).devices, levels(more).devices
    if all(before.running):
        assert (after.voltage.nominal >= before.voltage.nominal - 1e-9).all()


def test_a_bonded_feeding_point_can_lower_a_device():
    """The current that the earths drive through the common minus lifts it, and no one gains."""
    earths = [rk.Earth(name="house", potential=0.0, resistance=0.1), rk.Earth(name="bank", potential=9.0, resistance=0.1)]
    loads = [rk.Node(name=f"gate-{k}", feed=rk.FeedLoad(power=1.0, minimum_voltage=2.0)) for k in range(3)]
    source = rk.FeedSource(voltage=24.0, resistance=0.5, bonded=True)
    far = rk.FeedSource(voltage=24.0, resistance=60.0, bonded=True)
    nodes = [rk.Node(name="head", earth="house", feed_source=source), *loads]
    plain = rk.daisy_chain([*nodes, rk.Node(name="far")], spacing=60.0, cable=WIRE, feed=FEED, earths=earths)
    both = plain.replace_node(rk.Node(name="far", earth="bank", feed_source=far))
    assert levels(both).devices.at("gate-2").voltage.nominal < levels(plain).devices.at("gate-2").voltage.nominal


@small
@given(st.lists(st.floats(0.05, 0.8), min_size=2, max_size=5), st.randoms())
def test_order_of_nodes_changes_nothing(powers, chance):
    bus = line(*(rk.FeedLoad(power=each, minimum_voltage=2.0) for each in powers))
    mixed = list(bus.nodes)
    chance.shuffle(mixed)
    first, second = levels(bus), levels(attrs.evolve(bus, nodes=mixed))
    for name in first.devices.nodes:
        assert second.devices.at(name).voltage.nominal == pytest.approx(first.devices.at(name).voltage.nominal, rel=1e-9)


@small
@given(st.floats(0.0, 0.3), st.floats(0.0, 0.3), st.booleans())
def test_widening_never_narrows_a_limit(narrow, more, ring):
    def bus(width):
        loose = (1.0 - width / 4, 1.0, 1.0 + width / 4)
        wire = rk.Cable(name="w", conductor_resistance=tuple(84.2e-3 * each for each in loose))
        nodes = [head(), *(rk.Node(name=f"g{k}", feed=rk.FeedLoad(power=0.8, minimum_voltage=3.0)) for k in range(3))]
        made = rk.daisy_chain(nodes, spacing=80.0, cable=wire, feed=FEED)
        if ring:
            made = attrs.evolve(made, segments=[*made.segments, rk.Segment(
                start="g2", end="head", length=80.0, cable=wire, feed=FEED)])  # fmt: skip
        return levels(made).devices.voltage

    first, second = bus(narrow), bus(narrow + more)
    assert (second.lower <= first.lower + 1e-9).all()
    assert (second.upper >= first.upper - 1e-9).all()


@pytest.mark.parametrize(("fuse", "verdict"), [("1 A", "pass"), ("2 A", "fail")])
def test_two_feeding_points_drive_a_short_behind_a_stub_together(fuse, verdict):
    """Each fuse is within the 2 A of its wires; both together drive 4 A into the stub between them."""
    wires = rk.FeedConductors(wires=1, current_rating="2 A")
    cable = rk.catalogue.cable("generic.24-awg-120-ohm")
    source = rk.FeedSource(voltage="24 V", resistance="0.2 ohm", current_limit="3 A", fuse=fuse)
    nodes = [
        rk.Node(name="left", feed_source=source), rk.Node(name="middle"), rk.Node(name="right", feed_source=source),
        rk.Node(name="load", feed=rk.FeedLoad(power="5 W", minimum_voltage="9 V")),
    ]  # fmt: skip
    ends = (("left", "middle"), ("middle", "right"), ("middle", "load"))
    segments = [rk.Segment(start=a, end=b, length=20, cable=cable, feed=wires) for a, b in ends]
    report = rk.check(rk.Bus(nodes=nodes, segments=segments), policy=rk.Policy(select="feed.fuse-too-large"))
    found = {each.verdict for each in report.findings if each.where.kind == "segment"}
    assert found == {verdict}
