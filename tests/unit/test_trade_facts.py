"""Facts of the trade as checks: common practice, with no source, and no part of it decides a limit."""

import pytest

import rs485kit as rk
from rs485kit import formulas

COMMON_PRACTICE = "common practice"
PAIR = rk.Cable(
    name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="100 ohm", velocity_factor=0.66
)
FAILSAFE = rk.Transceiver(
    name="full failsafe", unit_load=0.125, supply_voltage="5 V", receiver_upper_threshold="-10 mV",
    receiver_lower_threshold="-200 mV",
)  # fmt: skip
PLAIN = rk.Transceiver(
    name="plain", unit_load=0.125, supply_voltage="5 V", receiver_upper_threshold="200 mV",
    receiver_lower_threshold="-200 mV",
)  # fmt: skip


def two_nodes(part: rk.Transceiver, across: str | None) -> rk.Bus:
    end = rk.Termination(resistance=across) if across else None
    nodes = [rk.Node(name=name, transceiver=part, terminations=end) for name in ("head", "tail")]
    return rk.daisy_chain(nodes, spacing="300 m", cable=PAIR)


def test_96_kohm_is_an_eighth_of_a_unit_load_and_256_nodes():
    eighth = formulas.resistor_unit_loads_by_custom(96e3)
    assert eighth == pytest.approx(1 / 8)
    bus = rk.daisy_chain(
        [rk.Node(name=f"gate-{index}", transceiver=PLAIN) for index in range(256)], spacing="4 m", cable=PAIR
    )
    loads = rk.analysis.unit_loads(bus)
    assert loads.total == 32.0
    assert loads.total <= loads.limit
    assert loads.spare_nodes == 0
    one_more = bus.with_node(rk.Node(name="gate-256", transceiver=PLAIN), to="gate-255", length="4 m")
    report = rk.check(one_more, policy=rk.Policy(select="loading"))
    assert [found.verdict for found in report.findings] == ["fail"]


def test_120_ohm_on_100_ohm_cable_reflects_9_per_cent_and_still_works():
    bus = two_nodes(PLAIN, "120 ohm")
    places = rk.analysis.terminations(bus).fitted
    assert places.at("head").reflection.nominal == pytest.approx(1 / 11, abs=1e-9)
    report = rk.check(bus, policy=rk.Policy(select="termination.mismatched"))
    assert report.passed


@pytest.mark.parametrize("across", [None, "1 ohm", "120 ohm"], ids=["open", "shorted", "terminated, undriven"])
def test_full_failsafe_receiver_reads_mark_on_a_bus_that_nobody_drives(across):
    """It needs no bias: the level is the few millivolts that inputs make of each other, above -10 mV nominally."""
    levels = rk.analysis.idle_levels(two_nodes(FAILSAFE, across))
    assert (levels.voltage.nominal > levels.threshold).all()
    plain = rk.analysis.idle_levels(two_nodes(PLAIN, across))
    assert (plain.voltage.nominal < plain.threshold).all()


def test_full_failsafe_receivers_spare_the_bias():
    select = rk.Policy(select="idle.level-undefined")
    assert not rk.check(two_nodes(FAILSAFE, "120 ohm"), policy=select).fails
    assert len(rk.check(two_nodes(PLAIN, "120 ohm"), policy=select).fails) == 2
