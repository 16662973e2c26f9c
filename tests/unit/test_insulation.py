"""Insulation of a bus: demands by hand arithmetic, what is not checked, paths, and the errors that people make."""

import math

import attrs
import pytest

import rs485kit as rk
from rs485kit.analysis import InsulationVoltage, insulation
from rs485kit.errors import InputError, UnknownNameError

MILLI = 1e-3
RATED = {
    "insulation": "reinforced", "withstand_voltage_rms": "5 kV", "working_voltage_rms": "600 V",
    "working_voltage_peak": "848 V", "impulse_voltage_peak": "8 kV", "surge_voltage_peak": "10 kV",
    "clearance": "8 mm", "creepage": "8 mm", "material_group": "I",
}  # fmt: skip
DATA, SUPPLY = rk.Isolator(name="data", **RATED), rk.IsolatedSupply(name="supply", **RATED)
BOARD, PLUG = (
    rk.Bridge(name=kind, kind=kind, clearance="8 mm", creepage="10 mm", material_group="IIIa")
    for kind in ("board", "connector")
)
BARRIER = rk.Barrier(isolator=DATA, supply=SUPPLY, bridges=(BOARD, PLUG))
MAINS = rk.Circuit(
    hazard="hazardous", working_voltage_rms="230 V", working_voltage_peak="325 V", system_voltage_rms="230 V",
    overvoltage_category=3,
)  # fmt: skip
TOUCHABLE = rk.Circuit(hazard="touchable")
SITE = rk.Environment(pollution_degree=2, altitude="100 m")
BASIC = {**RATED, "insulation": "basic"}
BASIC_BARRIER = attrs.evolve(
    BARRIER, isolator=rk.Isolator(name="data", **BASIC), supply=rk.IsolatedSupply(name="supply", **BASIC)
)


def bus_of(*nodes: rk.Node, site: rk.Environment = SITE) -> rk.Bus:
    return rk.daisy_chain(nodes, spacing="10 m", environment=site) if len(nodes) > 1 else rk.Bus(
        nodes=nodes, environment=site
    )


def gate(barrier: rk.Barrier | None = BARRIER, circuit: rk.Circuit | None = MAINS, name: str = "gate") -> rk.Node:
    return rk.Node(name=name, barrier=barrier, circuit=circuit)


def changed(**fields: object) -> rk.Barrier:
    """Return the barrier with the same fields changed in isolator and supply."""
    return attrs.evolve(BARRIER, isolator=attrs.evolve(DATA, **fields), supply=attrs.evolve(SUPPLY, **fields))


def check(bus: rk.Bus, requirement: str, element: str = "isolator") -> object:
    (found,) = [each for each in insulation(bus).checks(requirement) if each.element == element]
    return found


def verdicts(bus: rk.Bus, rule: str) -> set[str]:
    report = rk.check(bus, policy=rk.Policy(select=rule))
    assert not report.plugin_errors
    return {each.verdict for each in report.findings}


# --- described badly, and what does not exist -------------------------------------------------------------------------


def test_a_row_that_does_not_exist_is_named():
    with pytest.raises(UnknownNameError, match="gate-9"):
        insulation(bus_of(gate())).at("gate-9")


def test_kinds_of_voltages_are_not_compared():
    with pytest.raises(InputError, match="kinds are not converted"):
        InsulationVoltage(2500.0, "60 s RMS").bears(InsulationVoltage(400.0, "working RMS"))
    assert InsulationVoltage(600.0, "working RMS").bears(InsulationVoltage(230.0, "working RMS"))
    assert InsulationVoltage(math.nan, "working RMS").bears(InsulationVoltage(230.0, "working RMS")) is None


# --- demands ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("requirement", "demand"),
    [
        ("working voltage RMS", 230.0),
        ("working voltage peak", 325.0),
        ("withstand voltage RMS for 60 s", 2.0 * (230.0 + 1200.0)),
        ("impulse voltage peak", 6000.0),
        ("clearance", 5.5 * MILLI),
        ("creepage", 5.5 * MILLI),
    ],
)
def test_demands_of_reinforced_insulation_at_230_volts(requirement, demand):
    """4 kV of category III are raised one step to 6 kV: 5.5 mm; creepage at 250 V in group I would be 2.5 mm."""
    found = check(bus_of(gate()), requirement)
    assert found.demand == pytest.approx(demand)
    assert (found.status, found.grade) == ("met", "reinforced")
    assert insulation(bus_of(gate())).at("gate").status == "met"


def test_a_bus_that_nobody_touches_asks_for_basic():
    site = attrs.evolve(SITE, bus_touchable=False)
    assert check(bus_of(gate(), site=site), "impulse voltage peak").demand == 4000.0
    assert check(bus_of(gate(), site=site), "clearance").demand == pytest.approx(3.0 * MILLI)


@pytest.mark.parametrize(
    ("barrier", "row", "status"),
    [
        (changed(insulation="basic"), "grade", "not met"),
        (changed(working_voltage_rms="150 V"), "working voltage RMS", "not met"),
        (changed(working_voltage_peak="300 V"), "working voltage peak", "not met"),
        (changed(withstand_voltage_rms="2.5 kV"), "withstand voltage RMS for 60 s", "not met"),
        (changed(impulse_voltage_peak="4 kV"), "impulse voltage peak", "not met"),
        (changed(clearance="5 mm"), "clearance", "not met"),
        (changed(creepage="5 mm"), "creepage", "not met"),
        (changed(insulation=None), "grade", "not checked"),
        (changed(working_voltage_rms=None), "working voltage RMS", "not checked"),
        (changed(working_voltage_peak=None), "working voltage peak", "not checked"),
        (changed(withstand_voltage_rms=None), "withstand voltage RMS for 60 s", "not checked"),
        (changed(impulse_voltage_peak=None), "impulse voltage peak", "not checked"),
        (changed(clearance=None), "clearance", "not checked"),
        (changed(creepage=None), "creepage", "not checked"),
        (changed(material_group=None), "creepage", "not checked"),
    ],
)
def test_each_requirement_decides_by_itself(barrier, row, status):
    bus = bus_of(gate(barrier))
    assert check(bus, row).status == status
    assert insulation(bus).at("gate").status == status
    assert insulation(bus).at("gate").reached in ("", "basic")
    assert not rk.check(bus, policy=rk.Policy(select="insulation.*")).passed


@pytest.mark.parametrize("field", ["working_voltage_rms", "working_voltage_peak", "system_voltage_rms", "overvoltage_category"])
def test_what_the_circuit_does_not_state_is_not_checked(field):
    bus = bus_of(gate(circuit=attrs.evolve(MAINS, **{field: None})))
    assert insulation(bus).at("gate").status == "not checked"
    assert any(field in missing for row in insulation(bus) for each in row.checks for missing in each.missing)


@pytest.mark.parametrize("field", ["pollution_degree", "altitude"])
def test_what_the_site_does_not_state_is_not_checked(field):
    bus = bus_of(gate(), site=attrs.evolve(SITE, **{field: None}))
    assert check(bus, "clearance").status == "not checked"
    assert check(bus, "clearance").missing == (f"environment.{field}",)


def test_the_weaker_of_two_in_parallel_decides():
    weak = attrs.evolve(BARRIER, supply=attrs.evolve(SUPPLY, insulation="functional", withstand_voltage_rms="500 V"))
    assert insulation(bus_of(gate(weak))).at("gate").status == "not met"
    assert verdicts(bus_of(gate(weak)), "insulation.grade-too-low") == {"fail"}


@pytest.mark.parametrize("bridges", [(), (BOARD,), (PLUG,)])
def test_a_board_or_connector_that_is_not_described_is_not_as_good_as_the_part(bridges):
    bus = bus_of(gate(attrs.evolve(BARRIER, bridges=bridges)))
    assert insulation(bus).at("gate").status == "not checked"
    assert "unknown" in verdicts(bus, "insulation.clearance-too-small")


def test_pollution_degree_4_has_no_creepage_row():
    found = check(bus_of(gate(), site=attrs.evolve(SITE, pollution_degree=4)), "creepage")
    assert found.status == "not checked"
    assert found.missing


def test_a_mains_beyond_the_tables_is_not_checked():
    bus = bus_of(gate(circuit=attrs.evolve(MAINS, system_voltage_rms="5 kV")))
    assert check(bus, "impulse voltage peak").status == "not checked"


def test_a_known_impulse_replaces_that_of_the_mains():
    bus = bus_of(gate(circuit=attrs.evolve(MAINS, impulse_voltage_peak="1.4 kV")))
    assert check(bus, "impulse voltage peak").demand == 2500.0


# --- errors that people make ------------------------------------------------------------------------------------------


def test_a_withstand_for_60_s_is_no_working_voltage():
    """2500 V RMS for a minute and 560 V peak for good: at 450 V RMS, 636 V peak, the peak is what fails."""
    part = changed(withstand_voltage_rms="5 kV", working_voltage_rms=None, working_voltage_peak="560 V")
    bus = bus_of(gate(part, attrs.evolve(MAINS, working_voltage_rms="450 V", working_voltage_peak="636 V")))
    assert check(bus, "working voltage peak").status == "not met"
    assert check(bus, "working voltage RMS").status == "not checked"


def test_a_surge_rating_is_no_impulse_voltage():
    bus = bus_of(gate(changed(impulse_voltage_peak=None, surge_voltage_peak="12 kV")))
    assert check(bus, "impulse voltage peak").status == "not checked"


def test_eight_millimetres_are_not_reinforced_at_5000_metres():
    high = check(bus_of(gate(), site=attrs.evolve(SITE, altitude="5000 m")), "clearance")
    assert (high.status, round(high.demand / MILLI, 2)) == ("not met", 8.14)


def test_altitude_does_not_raise_creepage_by_itself():
    site = attrs.evolve(SITE, pollution_degree=3)
    low, high = (check(bus_of(gate(), site=attrs.evolve(site, altitude=h)), "creepage") for h in ("0 m", "3000 m"))
    assert low.demand == high.demand == pytest.approx(6.4 * MILLI)


def test_line_to_line_asks_for_more_than_line_to_neutral():
    """230/400 V counts as 300 V; whoever enters 400 V is asked for 8 kV instead of 6 kV."""
    wrong = bus_of(gate(circuit=attrs.evolve(MAINS, system_voltage_rms="400 V")))
    assert check(wrong, "impulse voltage peak").demand == 8000.0


# --- what stands behind -----------------------------------------------------------------------------------------------


def test_nothing_is_required_before_what_can_be_touched():
    table = insulation(bus_of(gate(circuit=TOUCHABLE)))
    assert (table.rows, table.harmless) == ((), ("gate",))
    assert verdicts(bus_of(gate(circuit=TOUCHABLE)), "insulation.*") == {"pass"}


@pytest.mark.parametrize("circuit", [None, rk.Circuit()])
def test_what_stands_behind_has_to_be_stated(circuit):
    assert insulation(bus_of(gate(circuit=circuit))).undescribed == ("gate",)
    assert verdicts(bus_of(gate(circuit=circuit)), "insulation.*") == {"unknown"}


def test_a_hazardous_circuit_without_a_barrier_fails():
    bus = bus_of(gate(barrier=None))
    assert insulation(bus).unguarded == ("gate",)
    assert verdicts(bus, "insulation.grade-too-low") == {"fail"}


# --- paths ------------------------------------------------------------------------------------------------------------

HIDDEN = attrs.evolve(SITE, bus_touchable=False)


def path(first: rk.Barrier, second: rk.Barrier | None) -> object:
    nodes = gate(first), gate(second, TOUCHABLE, "gauge")
    (found,) = insulation(bus_of(*nodes, site=HIDDEN)).paths
    return found


@pytest.mark.parametrize(
    ("first", "second", "reached", "status"),
    [
        (BARRIER, None, "reinforced", "met"),
        (BASIC_BARRIER, BARRIER, "reinforced", "met"),
        (BASIC_BARRIER, BASIC_BARRIER, "two basic", "met"),
        (BASIC_BARRIER, None, "basic", "not met"),
        (BASIC_BARRIER, changed(insulation="functional"), "basic", "not met"),
        # 60 s withstand voltages of two in series are not added: each has to meet all of basic by itself
        (changed(insulation="basic", withstand_voltage_rms="1 kV"), BASIC_BARRIER, "basic", "not met"),
        (BASIC_BARRIER, attrs.evolve(BASIC_BARRIER, bridges=()), "basic", "not checked"),
    ],
)
def test_two_barriers_in_series(first, second, reached, status):
    found = path(first, second)
    assert (found.reached, found.status) == (reached, status)


def test_a_bus_that_can_be_touched_is_the_end_of_the_path():
    (found,) = insulation(bus_of(gate(BASIC_BARRIER))).paths
    assert (found.touched, found.status) == ("", "not met")


# --- life -------------------------------------------------------------------------------------------------------------

YEAR = 31557600.0


def lasting(*points: tuple[float, float]) -> object:
    life = tuple(rk.LifePoint(voltage_rms=volts, life=seconds) for volts, seconds in points)
    barrier = attrs.evolve(BARRIER, isolator=attrs.evolve(DATA, life_points=life))
    return check(bus_of(gate(barrier)), "life")


def test_life_is_the_shortest_of_three_laws():
    """60 s at 5 kV and 30 years at 1272 V: at 276 V, 1.2 times 230 V, the exponential promises least."""
    found = lasting((5000.0, 60.0), (1272.0, 30.0 * YEAR))
    slope = rk.formulas.exponential_life_slope(5000.0, 60.0, 1272.0, 30.0 * YEAR)
    assert found.rating == pytest.approx(rk.formulas.exponential_life(276.0, 1272.0, 30.0 * YEAR, slope))
    assert found.demand == pytest.approx(30.0 * YEAR)
    assert found.status == "met"


def test_a_point_above_holds_its_life_out():
    assert lasting((480.0, 40.0 * YEAR)).status == "met"
    assert lasting((480.0, 20.0 * YEAR)).status == "not met"


def test_a_point_below_says_nothing():
    assert lasting((200.0, 100.0 * YEAR)).status == "not checked"
    assert lasting().status == "not checked"
    assert insulation(bus_of(gate())).at("gate").status == "met"


# --- words ------------------------------------------------------------------------------------------------------------


def test_the_report_names_what_was_not_checked_and_never_says_safe():
    report = rk.check(bus_of(gate()), policy=rk.Policy(select="insulation.*"))
    assert report.passed
    text = report.to_text()
    assert "does not say that an" in text
    assert "is safe" not in text.replace("that an\ninstallation is safe", "")
    for each in report.findings:
        assert "safe" not in each.message


def test_every_failing_finding_defers_to_who_is_competent():
    bus = bus_of(gate(changed(insulation="basic", clearance="1 mm", withstand_voltage_rms="1 kV")))
    for each in rk.check(bus, policy=rk.Policy(select="insulation.*")).fails:
        assert "competent" in each.remedy


# --- what once passed and must not ------------------------------------------------------------------------------------


def test_a_device_of_which_nothing_is_stated_may_be_touched():
    part = rk.Transceiver(name="part", unit_load=0.125)
    bus = bus_of(gate(BASIC_BARRIER), rk.Node(name="panel", transceiver=part), site=HIDDEN)
    (found,) = insulation(bus).paths
    assert (found.touched, found.status) == ("panel", "not checked")


def test_a_lasting_peak_beyond_the_table_is_not_checked():
    circuit = attrs.evolve(MAINS, working_voltage_peak="90 kV")
    assert check(bus_of(gate(circuit=circuit)), "clearance").status == "not checked"


def test_a_mains_that_no_row_rationalises_is_not_checked():
    circuit = attrs.evolve(MAINS, system_voltage_rms="10 kV", working_voltage_rms="10 V", impulse_voltage_peak="500 V")
    assert check(bus_of(gate(circuit=circuit)), "creepage").status == "not checked"


def test_a_peak_below_the_rms_voltage_is_refused():
    with pytest.raises(InputError, match="not below the RMS"):
        rk.Circuit(hazard="hazardous", working_voltage_rms="700 V", working_voltage_peak="0 V")


def test_a_hazardous_circuit_of_no_working_voltage_is_not_checked():
    circuit = attrs.evolve(MAINS, working_voltage_rms="0 V", working_voltage_peak="0 V")
    assert check(bus_of(gate(circuit=circuit)), "working voltage RMS").status == "not checked"


def test_life_that_grows_with_voltage_is_not_checked():
    assert lasting((300.0, 1e8), (1000.0, 2e9)).status == "not checked"


def test_feed_conductors_at_a_hazardous_circuit_are_named():
    fed = attrs.evolve(gate(), feed=rk.FeedLoad(power="1 W"))
    bus = bus_of(fed)
    assert insulation(bus).fed == ("gate",)
    assert "unknown" in verdicts(bus, "insulation.path-unprotected")
