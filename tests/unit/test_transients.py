"""Transients: displacement current and where it returns, communicating against holding, surges, protectors."""

import math

import attrs
import pytest

import rs485kit as rk
from rs485kit.analysis import transient_immunity

PART = rk.Transceiver(name="part", unit_load=0.125, supply_voltage="5 V")
PAIR = rk.Cable(name="pair", conductor_resistance="0.1 ohm/m", reference_resistance="0.1 ohm/m")
BARRIER = rk.Barrier(
    isolator=rk.Isolator(
        name="data", capacitance="1 pF", transient_immunity="25 kV/us", transient_immunity_static="50 kV/us",
        surge_voltage_peak="6 kV",
    ),
    supply=rk.IsolatedSupply(name="module", capacitance="40 pF", surge_voltage_peak="4 kV"),
)  # fmt: skip
WIRE = rk.CommonLink(resistance="0 ohm")


def section(count: int = 1, *, slew: object = "25 kV/us", site: rk.Environment | None = None, **fields: object) -> rk.Bus:
    """Return a pump house that bonds the reference, and isolated gates at 100 m from one another."""
    circuit = rk.Circuit(hazard="touchable", slew=slew)
    earths = [rk.Earth(name="pump", resistance="1 ohm"), rk.Earth(name="bank", resistance=("3 ohm", "4 ohm", "5 ohm"))]
    nodes = [rk.Node(name="pump-house", transceiver=PART, earth="pump", common=WIRE)]
    given = {"barrier": BARRIER, "circuit": circuit, "earth": "bank", "common": WIRE, **fields}
    nodes += [rk.Node(name=f"gate-{n}", transceiver=PART, **given) for n in range(1, count + 1)]
    return rk.daisy_chain(
        nodes, spacing="100 m", cable=PAIR, reference_conductor=True, earths=earths, environment=site
    )


def verdicts(bus: rk.Bus, rule: str) -> list[str]:
    report = rk.check(bus, policy=rk.Policy(select=rule))
    assert not report.plugin_errors
    return [each.verdict for each in report.findings]


def test_the_supply_carries_most_of_the_current():
    row = transient_immunity(section()).at("gate-1")
    assert row.current == pytest.approx(41e-12 * 25e9)
    assert row.supply_share == pytest.approx(40.0 / 41.0)
    assert row.returns == "pump"


def test_all_barriers_together_raise_the_reference():
    """1.025 A each: 1 ohm carries all of them, each span of 10 ohm what comes from behind it."""
    one = transient_immunity(section(1)).at("gate-1").reference_rise
    assert one == pytest.approx(1.025 * 11.0, rel=1e-3)
    table = transient_immunity(section(3))
    assert table.at("gate-1").reference_rise == pytest.approx(3.075 * 11.0, rel=1e-3)
    assert table.at("gate-3").reference_rise == pytest.approx(3.075 * 11.0 + 2.05 * 10.0 + 1.025 * 10.0, rel=1e-3)
    assert table.total_current == pytest.approx(3.075)


def test_a_section_that_floats_returns_nothing():
    bus = section()
    bus = bus.replace_node(attrs.evolve(bus.node("pump-house"), barrier=BARRIER))
    row = transient_immunity(bus).at("gate-1")
    assert row.returns == ""
    assert math.isnan(row.reference_rise)


@pytest.mark.parametrize(
    ("slew", "data", "state"),
    [("20 kV/us", "pass", "pass"), ("30 kV/us", "fail", "pass"), ("60 kV/us", "fail", "fail")],
)
def test_communicating_is_not_holding(slew, data, state):
    bus = section(slew=slew)
    assert verdicts(bus, "transient.data-disturbed") == [data]
    assert verdicts(bus, "transient.state-upset") == [state]


def test_a_part_that_communicates_holds_too():
    barrier = attrs.evolve(BARRIER, isolator=attrs.evolve(BARRIER.isolator, transient_immunity_static=None))
    assert verdicts(section(slew="20 kV/us", barrier=barrier), "transient.state-upset") == ["pass"]


def test_what_a_part_holds_says_nothing_of_communicating():
    barrier = attrs.evolve(BARRIER, isolator=attrs.evolve(BARRIER.isolator, transient_immunity=None))
    assert verdicts(section(slew="20 kV/us", barrier=barrier), "transient.data-disturbed") == ["unknown"]


@pytest.mark.parametrize(("volts", "verdict"), [("100 V", "pass"), ("1 kV", "unknown")])
def test_a_burst_by_its_level_is_an_upper_estimate(volts, verdict):
    """1 kV in 5 ns are 200 kV/us if all of it is across the barrier: it cannot fail by that, nor pass."""
    bus = section(slew=None, site=rk.Environment(burst_voltage_peak=volts))
    assert verdicts(bus, "transient.data-disturbed") == [verdict]
    assert transient_immunity(bus).at("gate-1").estimated


def test_nothing_declared_is_nothing_judged():
    assert verdicts(section(slew=None), "transient.*") == []


@pytest.mark.parametrize(("current", "verdict"), [("500 A", "pass"), ("1 kA", "fail")])
def test_lightning_raises_the_earth_by_its_greatest_resistance(current, verdict):
    """5 ohm at the most: 1 kA are 5 kV, more than the 4 kV of the converter beside the isolator of 6 kV."""
    bus = section(slew=None)
    bus = attrs.evolve(bus, earths=(bus.earths[0], attrs.evolve(bus.earths[1], lightning_current=current)))
    assert verdicts(bus, "transient.surge-breaks-barrier") == [verdict]
    assert transient_immunity(bus).at("gate-1").surge_cause == "lightning at bank"


def test_lightning_into_an_earth_of_unknown_resistance_is_unknown():
    bus = section(slew=None)
    earth = attrs.evolve(bus.earths[1], lightning_current="10 kA", resistance=None)
    assert verdicts(attrs.evolve(bus, earths=(bus.earths[0], earth)), "transient.surge-breaks-barrier") == ["unknown"]


def test_a_surge_is_held_against_the_weaker_part():
    site = rk.Environment(surge_voltage_peak="5 kV")
    assert verdicts(section(slew=None, site=site), "transient.surge-breaks-barrier") == ["fail"]
    assert verdicts(section(slew=None, site=attrs.evolve(site, surge_voltage_peak="2 kV")), "transient.surge-breaks-barrier") == ["pass"]


@pytest.mark.parametrize(("rated", "verdict"), [("30 A", "pass"), ("20 A", "fail"), (None, "unknown")])
def test_a_protector_takes_the_surge_over_42_ohm(rated, verdict):
    clamp = rk.Protector(name="clamp", ends="line-common", surge_current=rated)
    bus = section(slew=None, site=rk.Environment(surge_voltage_peak="1 kV"), protectors=clamp)
    assert verdicts(bus, "transient.protector-overloaded") == [verdict]
    assert transient_immunity(bus).protectors[0].current == pytest.approx(1000.0 / 42.0)


def test_lightning_at_the_bonded_earth_lifts_the_reference_against_every_barrier():
    bus = section(slew=None)
    pump = attrs.evolve(bus.earths[0], lightning_current="30 kA", resistance="5 ohm")
    bus = attrs.evolve(bus, earths=(pump, bus.earths[1]))
    assert transient_immunity(bus).at("gate-1").surge == pytest.approx(150e3)
    assert verdicts(bus, "transient.surge-breaks-barrier") == ["fail"]


def test_what_stands_on_one_earth_alone_rises_together():
    bus = section(slew=None, earth="pump")
    pump = attrs.evolve(bus.earths[0], lightning_current="30 kA")
    bus = attrs.evolve(bus, earths=(pump, bus.earths[1]))
    assert transient_immunity(bus).at("gate-1").surge == 0.0
