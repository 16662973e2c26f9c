"""Properties of the terminations of any bus: loads by Rayleigh, reflections of passive places, order without effect."""

import attrs
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dc_strategies import dc_buses, terminators
from rs485kit import Bus, Cable, Transceiver, analysis

ALGEBRA = 1e-9
QUICK = settings(max_examples=40, deadline=None)
LEVELS = {"driver_open_voltage": "3.5 V", "driver_loaded_voltage": "2.2 V"}
SPREAD = {"conductor_resistance": "80 mohm/m +/- 10 %", "characteristic_impedance": "120 ohm +/- 10 %"}


def stated(bus: Bus) -> Bus:
    """Return a bus whose drivers state their levels and whose cables state impedance and velocity, with limits."""

    def part(given: Transceiver | None) -> Transceiver | None:
        return None if given is None else attrs.evolve(given, **LEVELS)

    def cable(given: Cable) -> Cable:
        return attrs.evolve(given, velocity_factor=0.66, **SPREAD)

    return attrs.evolve(
        bus,
        nodes=[attrs.evolve(node, transceiver=part(node.transceiver)) for node in bus.nodes],
        segments=[attrs.evolve(segment, cable=cable(segment.cable)) for segment in bus.segments],
    )


BUSES = dc_buses().map(stated)


@QUICK
@given(bus=BUSES)
def test_limits_hold_the_nominal_value(bus):
    found = analysis.terminations(bus)
    for figure in (found.driver_load.resistance, found.fitted.reflection, found.fitted.resistance, found.delay):
        near = ALGEBRA * np.maximum(1.0, np.abs(np.nan_to_num(figure.nominal, posinf=1.0)))
        assert not (figure.lower > figure.nominal + near).any()
        assert not (figure.upper < figure.nominal - near).any()


@QUICK
@given(bus=BUSES)
def test_a_passive_place_sends_back_no_more_than_it_gets(bus):
    reflection = analysis.terminations(bus).fitted.reflection
    assert not (np.abs(reflection.lower) > 1.0 + ALGEBRA).any()
    assert not (np.abs(reflection.upper) > 1.0 + ALGEBRA).any()


@QUICK
@given(bus=BUSES, place=st.integers(0, 5), added=terminators())
def test_a_terminator_more_is_never_less_load(bus, place, added):
    """Rayleigh: the resistance that a driver sees falls, if anything, when something is joined to the network."""
    node = bus.nodes[place % len(bus.nodes)]
    fuller = bus.replace_node(attrs.evolve(node, terminations=(*node.terminations, added)))
    before, after = (analysis.terminations(each).driver_load.resistance for each in (bus, fuller))
    for part in ("lower", "nominal", "upper"):
        low, high = getattr(after, part), getattr(before, part)
        assert not (low > high * (1.0 + 1e-6)).any()


@QUICK
@given(bus=BUSES, data=st.data())
def test_order_of_nodes_and_segments_changes_nothing(bus, data):
    turned = attrs.evolve(
        bus, nodes=data.draw(st.permutations(bus.nodes)), segments=data.draw(st.permutations(bus.segments))
    )
    first, second = analysis.terminations(bus), analysis.terminations(turned)
    assert len(first.ends) == len(second.ends)
    assert set(first.fitted.nodes) == set(second.fitted.nodes)
    for row in first.driver_load:
        again = second.driver_load.at(row.node)
        np.testing.assert_allclose(again.resistance.nominal, row.resistance.nominal, rtol=1e-6)


@QUICK
@given(bus=dc_buses(shapes=("chain", "comb", "star")))
def test_ends_hold_those_of_the_bus(bus):
    found = analysis.terminations(bus)
    assert set(bus.ends) <= set(found.ends) or max(found.length) == bus.distance(*bus.ends)


@QUICK
@given(bus=dc_buses(least=3, shapes=("ring",)))
def test_a_ring_has_no_end(bus):
    assert analysis.terminations(bus).ends == ()
