"""Grounds: bonds and shields described badly, the ground graph, common mode against hand arithmetic, rules beyond their pairs."""

import math

import attrs
import pytest

import rs485kit as rk
from rs485kit.analysis import common_mode, ground_faults
from rs485kit.errors import InputError, MissingDataError, UnknownNameError
from rs485kit.network.galvanic import islands_of

PART = rk.Transceiver(
    name="part", unit_load=0.125, supply_voltage="5 V", driver_open_voltage=("1.5 V", "3.5 V", "5 V"),
    driver_loaded_voltage=("1.5 V", "2.2 V", "5 V"), driver_least_load="10 ohm",
    receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV",
)  # fmt: skip
PAIR = rk.Cable(
    name="pair", conductor_resistance="0.1 ohm/m", reference_resistance="0.1 ohm/m", shield_resistance="0.01 ohm/m",
)  # fmt: skip
END = rk.Termination(resistance="120 ohm")
WIRE = rk.CommonLink(resistance="0 ohm")
BARRIER = rk.Barrier(
    isolator=rk.Isolator(
        name="data", capacitance="1 pF", working_voltage_rms="400 V", working_voltage_peak="560 V",
        withstand_voltage_rms="2.5 kV",
    ),
    supply=rk.IsolatedSupply(
        name="converter", capacitance="40 pF", working_voltage_rms="400 V", working_voltage_peak="560 V",
        withstand_voltage_rms="1 kV",
    ),
)  # fmt: skip


def earths(volts: object = "2 V", mains: object = "1 V", **fields: object) -> list[rk.Earth]:
    return [
        rk.Earth(name="pump", potential="0 V", mains_potential="0 V", resistance="1 ohm"),
        rk.Earth(name="bank", potential=volts, mains_potential=mains, resistance="1 ohm", **fields),
    ]


def chain(*rows: dict, metres: float = 100.0, **fields: object) -> rk.Bus:
    """Return nodes gate-0, gate-1, ... on a chain with a reference conductor."""
    last = len(rows) - 1
    nodes = [
        rk.Node(name=f"gate-{n}", transceiver=PART, terminations=END if n in (0, last) else (), **row)
        for n, row in enumerate(rows)
    ]
    given = {"reference_conductor": True, "earths": earths(), **fields}
    return rk.daisy_chain(nodes, spacing=metres, cable=PAIR, **given)


ON_PUMP = {"earth": "pump", "common": WIRE}
ON_BANK = {"earth": "bank", "common": WIRE}
ISOLATED = {**ON_BANK, "barrier": BARRIER, "circuit": rk.Circuit(hazard="touchable")}


def found(bus: rk.Bus, rule: str) -> list[tuple[str, tuple[str, ...]]]:
    report = rk.check(bus, policy=rk.Policy(select=rule))
    assert not report.plugin_errors
    return [(each.verdict, each.where.names) for each in report.findings]


# --- described badly --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: rk.Segment(start="a", end="b", length=1, shield=False, reference_is_shield=True), "not false"),
        (
            lambda: rk.Segment(start="a", end="b", length=1, reference_conductor=False, reference_is_shield=True),
            "not false",
        ),
        (lambda: rk.Segment(start="a", end="b", length=1, shield_joined="left"), "shield_joined"),
        (lambda: rk.ShieldBond(to="reference", earth="bank"), 'only with to = "earth"'),
        (lambda: rk.ShieldBond(to="chassis"), "earth"),
        (lambda: rk.EarthBond(earth="bank", capacitance="1 F"), "EarthBond.capacitance"),
        (lambda: rk.EarthBond(earth="bank", resistance="-1 ohm"), "EarthBond.resistance"),
        (lambda: rk.CommonLink(resistance="100 ohm", power="0 W"), "CommonLink.power"),
        (lambda: rk.Earth(name="bank", crest_factor=0.5), "crest_factor"),
        (lambda: rk.Earth(name="bank", fault_potential="-5 V"), "fault_potential"),
        (lambda: rk.Transceiver(name="x", common_mode_lowest="5 V", common_mode_highest="-5 V"), "common_mode"),
        (lambda: rk.Node(name="a", switches_power="yes"), "switches_power"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(make, words):
    with pytest.raises(InputError, match=words):
        make()


@pytest.mark.parametrize(
    "row",
    [
        {"earth": "moon", "common": WIRE},
        {**ON_BANK, "bonds": rk.EarthBond(earth="moon")},
        {**ON_BANK, "shield_bond": rk.ShieldBond(earth="moon")},
    ],
)
def test_an_earth_that_the_bus_does_not_have_is_refused(row):
    with pytest.raises(InputError, match="moon"):
        chain(ON_PUMP, row)


# --- the graph --------------------------------------------------------------------------------------------------------


def test_isolated_nodes_on_the_reference_conductor_are_one_island_with_one_bond():
    (island,) = islands_of(chain(ON_PUMP, ISOLATED, ISOLATED))
    assert island.nodes == ("gate-0", "gate-1", "gate-2")
    assert [(bond.node, bond.earth, bond.cause) for bond in island.bonds] == [("gate-0", "pump", "no barrier")]
    assert island.referenced


def test_isolated_nodes_on_two_wires_are_islands_of_their_own():
    bus = chain(ON_PUMP, {**ISOLATED, "common": None}, {**ISOLATED, "common": None}, reference_conductor=False)
    assert [(each.nodes, each.referenced) for each in islands_of(bus)] == [
        (("gate-0",), True), (("gate-1",), False), (("gate-2",), False),
    ]  # fmt: skip


@pytest.mark.parametrize(("ohms", "bonded"), [("0 ohm", True), ("1 kohm", True), ("1.1 kohm", False), ("1 Mohm", False)])
def test_metal_ends_at_a_kilohm(ohms, bonded):
    bond = rk.EarthBond(name="bleed", earth="bank", resistance=ohms)
    (island,) = islands_of(chain(ISOLATED, {**ISOLATED, "bonds": bond}))
    assert island.referenced is bonded
    assert [way.cause for way in island.ways] == ["bleed"]


def test_a_capacitor_is_a_way_and_no_bond():
    bond = rk.EarthBond(name="capacitor", earth="bank", capacitance="10 nF")
    (island,) = islands_of(chain(ISOLATED, {**ISOLATED, "bonds": bond}))
    assert (island.referenced, [way.capacitive for way in island.ways]) == (False, [True])


def test_a_shield_joined_at_one_end_only_does_not_carry_on():
    bus = chain(ON_PUMP, ISOLATED, ISOLATED, shield=True)
    cut = attrs.evolve(bus.segments[0], shield_joined="start")
    shields = [each.shield for each in islands_of(attrs.evolve(bus, segments=(cut, bus.segments[1]))) if each.shield]
    assert sorted(sorted(each) for each in shields) == [["gate-0"], ["gate-1", "gate-2"]]


# --- solved -----------------------------------------------------------------------------------------------------------


def test_loop_current_is_that_of_the_difference_over_the_loop():
    """2 V over 1 + 10 + 1 ohm; 1 V RMS over the same."""
    table = common_mode(chain(ON_PUMP, ON_BANK))
    span = table.spans.between("gate-1", "gate-0")
    assert span.reference == pytest.approx(-2.0 / 12.0, rel=1e-4)
    assert span.reference_mains == pytest.approx(1.0 / 12.0, rel=1e-4)
    assert table.spans.worst == span
    assert {round(row.current, 4) for row in table.bonds} == {round(2.0 / 12.0, 4), round(-2.0 / 12.0, 4)}


def test_shield_and_reference_share_the_current_by_their_resistance():
    bonds = {"shield_bond": rk.ShieldBond()}
    table = common_mode(chain({**ON_PUMP, **bonds}, {**ON_BANK, **bonds}, shield=True))
    span = table.spans.worst
    assert span.shield / span.reference == pytest.approx(10.0, rel=3e-3)


def test_isolation_moves_the_difference_to_the_barrier():
    table = common_mode(chain(ON_PUMP, ISOLATED, earths=earths("40 V", "30 V")))
    row = table.barriers.at("gate-1")
    assert row.voltage == pytest.approx(-40.0, abs=1e-3)
    assert row.mains == pytest.approx(30.0, rel=1e-3)
    assert row.peak == pytest.approx(40.0 + math.sqrt(2.0) * 30.0, rel=1e-3)
    assert table.receivers.at("gate-1").highest < 7.0
    assert table.barriers.worst.node == "gate-1"


@pytest.mark.parametrize("crest", [1.5, 3.0])
def test_harmonics_raise_the_peak(crest):
    row = common_mode(chain(ON_PUMP, ISOLATED, earths=earths("0 V", "30 V", crest_factor=crest))).barriers.at("gate-1")
    assert row.peak == pytest.approx(crest * 30.0, rel=1e-3)


def test_the_converter_carries_the_barrier_current():
    """1 pF beside 40 pF: 41 pF, of 230 V at 50 Hz 2.96 uA."""
    circuit = rk.Circuit(hazard="hazardous", working_voltage_rms="230 V")
    row = common_mode(chain(ON_PUMP, {**ISOLATED, "circuit": circuit})).barriers.at("gate-1")
    assert row.capacitance == pytest.approx(41e-12)
    assert row.leakage == pytest.approx(2 * math.pi * 50 * 41e-12 * 230.0)


@pytest.mark.parametrize("frequency", ["50 Hz", "60 Hz", "16.7 Hz"])
def test_leakage_follows_the_frequency_of_the_mains(frequency):
    circuit = rk.Circuit(hazard="hazardous", working_voltage_rms="230 V")
    place = rk.Environment(mains_frequency=frequency)
    row = common_mode(chain(ON_PUMP, {**ISOLATED, "circuit": circuit}, environment=place)).barriers.at("gate-1")
    assert row.leakage == pytest.approx(2 * math.pi * float(frequency.split()[0]) * 41e-12 * 230.0)


def test_each_line_counts_and_not_the_mean():
    """Where the mean is inside the range a line may be beyond it."""
    row = common_mode(chain(ON_PUMP, ON_BANK, reference_conductor=False, earths=earths("10.5 V", "0 V"))).receivers.at(
        "gate-0"
    )
    assert row.mean_highest < 12.0 < row.highest_nominal


def test_what_metal_does_not_define_is_not_told():
    table = common_mode(chain(ON_PUMP, {**ISOLATED, "common": None}, reference_conductor=False))
    assert all(math.isnan(row.margin) for row in table.receivers)
    assert {reason for _, reason in table.receivers.missing} == {
        "a way of metal from every common to the others or to an earth"
    }
    assert math.isnan(table.barriers.at("gate-1").voltage)


@pytest.mark.parametrize("field", ["potential", "mains_potential"])
def test_an_earth_of_unknown_potential_leaves_the_rows_unknown(field):
    bus = chain(ON_PUMP, ON_BANK)
    bus = attrs.evolve(bus, earths=(bus.earths[0], attrs.evolve(bus.earths[1], **{field: None})))
    table = common_mode(bus)
    assert all(math.isnan(row.lowest_nominal) for row in table.receivers)
    assert {what for _, what in table.receivers.missing} == {f'earths["bank"].{field}'}


def test_rows_that_do_not_exist_are_named():
    table = common_mode(chain(ON_PUMP, ON_BANK))
    with pytest.raises(UnknownNameError, match="gate-9"):
        table.receivers.at("gate-9")
    with pytest.raises(UnknownNameError, match="gate-9"):
        table.barriers.at("gate-9")
    with pytest.raises(UnknownNameError, match="gate-9"):
        table.spans.between("gate-0", "gate-9")
    with pytest.raises(UnknownNameError, match="no row"):
        _ = table.barriers.worst


def test_a_bus_without_cable_figures_says_so():
    bus = chain(ON_PUMP, ON_BANK)
    blank = attrs.evolve(bus, segments=[attrs.evolve(each, cable=None) for each in bus.segments])
    with pytest.raises(MissingDataError):
        common_mode(blank)


def test_records_carry_their_units():
    table = common_mode(chain(ON_PUMP, ISOLATED))
    assert "highest_nominal_V" in table.receivers.to_records()[0]
    assert "reference_A" in table.spans.to_records()[0]
    assert {"capacitance_F", "leakage_A"} <= set(table.barriers.to_records()[0])


# --- faults -----------------------------------------------------------------------------------------------------------


def test_an_open_bond_and_an_open_span_take_the_reference():
    bus = chain({**ISOLATED, "earth": "pump", "common": rk.CommonLink(resistance="0 ohm", bonded=True)}, ISOLATED, ISOLATED)
    rows = {(row.kind, row.place): row for row in ground_faults(bus)}
    assert rows["bond open", ("gate-0", "pump")].lost == ("gate-0", "gate-1", "gate-2")
    assert rows["reference open", ("gate-0", "gate-1")].lost == ("gate-1", "gate-2")
    assert rows["reference open", ("gate-1", "gate-2")].lost == ("gate-2",)


def test_a_shorted_barrier_makes_the_loop():
    rows = [row for row in ground_faults(chain(ON_PUMP, ISOLATED)) if row.kind == "barrier shorted"]
    assert [row.place for row in rows] == [("gate-1",)]
    assert rows[0].current == pytest.approx(math.hypot(2.0, 1.0) / 12.0, rel=1e-2)


def test_a_fault_to_earth_stands_across_the_barriers_of_that_earth():
    bus = chain(ON_PUMP, ISOLATED, earths=earths("0 V", "0 V", fault_potential="800 V"))
    (row,) = [row for row in ground_faults(bus) if row.kind == "earth fault"]
    assert (row.place, row.barrier) == (("bank",), "gate-1")
    assert row.barrier_mains == pytest.approx(800.0, rel=1e-2)
    assert found(bus, "ground.fault-endangers")[-1] == ("pass", ("gate-1",))
    beyond = chain(ON_PUMP, ISOLATED, earths=earths("0 V", "0 V", fault_potential="1.1 kV"))
    assert ("fail", ("gate-1",)) in found(beyond, "ground.fault-endangers")


# --- rules beyond their pairs -----------------------------------------------------------------------------------------


def test_one_node_without_barrier_is_the_bond_of_a_section():
    assert found(chain(ON_PUMP, ISOLATED, ISOLATED), "ground.bonded-twice") == [("pass", ("gate-0",))]


def test_two_nodes_without_barrier_on_two_earths_bond_a_section_twice():
    assert [verdict for verdict, _ in found(chain(ON_PUMP, ISOLATED, ON_BANK), "ground.bonded-twice")] == ["fail"]


def test_two_bonds_on_one_earth_are_one():
    assert [verdict for verdict, _ in found(chain(ON_PUMP, ISOLATED, ON_PUMP), "ground.bonded-twice")] == ["pass"]


@pytest.mark.parametrize(("hazard", "verdict"), [("hazardous", "fail"), ("touchable", "fail"), (None, "unknown")])
def test_a_floating_reference_is_judged_by_what_can_charge_it(hazard, verdict):
    row = {**ISOLATED, "circuit": rk.Circuit(hazard=hazard)}
    (judged,) = found(chain({**row, "earth": "pump"}, row), "ground.reference-floating")
    assert judged[0] == verdict


def test_a_bleed_is_told_and_is_no_bond():
    bleed = rk.EarthBond(name="bleed", earth="bank", resistance="1 Mohm")
    bus = chain(ISOLATED, {**ISOLATED, "bonds": bleed})
    report = rk.check(bus, policy=rk.Policy(select="ground.reference-floating"))
    assert "1 Mohm, which is no bond" in report.findings[0].message


def test_a_bond_at_the_own_earth_bridges_the_barrier():
    laptop = rk.EarthBond(name="adapter of the laptop", earth="bank", resistance="0.5 ohm")
    report = rk.check(chain(ON_PUMP, {**ISOLATED, "bonds": laptop}), policy=rk.Policy(select="ground.hidden-bond"))
    assert report.findings[0].verdict == "fail"
    assert "barrier is bridged" in report.findings[0].message


def test_no_remedy_touches_a_protective_earth():
    laptop = rk.EarthBond(name="adapter", earth="bank")
    bus = chain(ON_PUMP, {**ISOLATED, "bonds": laptop}, ON_BANK, shield=True)
    for each in rk.check(bus, policy=rk.Policy(select="ground.*")).findings:
        if "isolat" in each.remedy and each.verdict == "fail":
            assert "protective earth" in each.remedy or "reference conductor" in each.remedy


def test_leakage_of_ten_converters_is_felt():
    """Ten supplies of 1 nF at 230 V and 50 Hz: 0.72 mA."""
    wide = attrs.evolve(BARRIER, supply=attrs.evolve(BARRIER.supply, capacitance="1 nF"))
    row = {**ISOLATED, "barrier": wide, "circuit": rk.Circuit(hazard="hazardous", working_voltage_rms="230 V")}
    report = rk.check(chain(ON_PUMP, *[row] * 10, metres=1.0), policy=rk.Policy(select="ground.leakage-adds-up"))
    (judged,) = report.findings
    assert judged.verdict == "fail"
    assert judged.measured == pytest.approx(0.72e-3, rel=0.01)


def test_a_bus_that_states_nothing_of_its_grounds_has_one_unknown():
    nodes = [rk.Node(name=f"gate-{n}", transceiver=PART, terminations=END) for n in range(2)]
    report = rk.check(rk.daisy_chain(nodes, spacing=10, cable=PAIR), policy=rk.Policy(select="ground.*"))
    assert [(each.rule, each.verdict) for each in report.findings] == [("ground.common-not-joined", "unknown")]
    assert not report.passed


# --- what once passed and must not ------------------------------------------------------------------------------------


def test_every_barrier_is_held_against_a_fault_and_not_the_one_that_bears_most():
    strong = attrs.evolve(
        BARRIER, isolator=attrs.evolve(BARRIER.isolator, withstand_voltage_rms="5 kV"),
        supply=attrs.evolve(BARRIER.supply, withstand_voltage_rms="5 kV"),
    )  # fmt: skip
    places = [
        rk.Earth(name="pump", potential="0 V", mains_potential="0 V", resistance="1 ohm", fault_potential="3 kV"),
        rk.Earth(name="bank", potential="0 V", mains_potential="200 V", resistance="1 ohm"),
        rk.Earth(name="weir", potential="0 V", mains_potential="0 V", resistance="1 ohm"),
    ]
    bus = chain(ON_PUMP, {**ISOLATED, "barrier": strong}, {**ISOLATED, "earth": "weir"}, earths=places)
    assert ("fail", ("gate-2",)) in found(bus, "ground.fault-endangers")


@pytest.mark.parametrize(
    "more",
    [
        {"others": rk.Isolator(name="coupler", working_voltage_peak="50 V", withstand_voltage_rms="100 V")},
        {"bridges": rk.Bridge(name="c", kind="capacitor", working_voltage_peak="50 V", withstand_voltage_rms="100 V")},
    ],
)
def test_whatever_bridges_a_barrier_is_held(more):
    bus = chain(
        ON_PUMP, {**ISOLATED, "barrier": attrs.evolve(BARRIER, **more)},
        earths=earths("0 V", "100 V", fault_potential="900 V"),
    )  # fmt: skip
    assert "fail" in {verdict for verdict, _ in found(bus, "ground.barrier-overstressed")}
    assert "fail" in {verdict for verdict, _ in found(bus, "ground.fault-endangers")}


def test_an_rms_rating_says_nothing_of_direct_voltage():
    parts = {name: attrs.evolve(getattr(BARRIER, name), working_voltage_peak=None) for name in ("isolator", "supply")}
    bus = chain(ON_PUMP, {**ISOLATED, "barrier": attrs.evolve(BARRIER, **parts)}, earths=earths("2 kV", "0 V"))
    assert "unknown" in {verdict for verdict, _ in found(bus, "ground.barrier-overstressed")}


def test_a_difference_of_earths_with_limits_is_no_pass_by_its_middle():
    bus = chain(ON_PUMP, ON_BANK, earths=earths({"min": -50, "typ": 0, "max": 50}, "0 V"))
    assert "pass" not in {verdict for verdict, _ in found(bus, "ground.loop-current")}


def test_a_capacitor_to_the_own_earth_leaks_too():
    circuit = rk.Circuit(hazard="hazardous", working_voltage_rms="230 V")
    bond = rk.EarthBond(name="capacitor", earth="bank", capacitance="100 nF")
    bus = chain(ON_PUMP, {**ISOLATED, "circuit": circuit, "bonds": bond})
    assert common_mode(bus).barriers.at("gate-1").leakage == pytest.approx(2 * math.pi * 50 * 100e-9 * 230, rel=1e-2)
    assert found(bus, "ground.leakage-adds-up")[0][0] == "fail"


def test_greatest_capacitances_decide_what_leaks():
    wide = attrs.evolve(BARRIER, supply=attrs.evolve(BARRIER.supply, capacitance={"typ": 1e-9, "max": 2e-7}))
    circuit = rk.Circuit(hazard="hazardous", working_voltage_rms="230 V")
    assert found(chain(ON_PUMP, {**ISOLATED, "barrier": wide, "circuit": circuit}), "ground.leakage-adds-up")[0][0] != "pass"


@pytest.mark.parametrize("ohms", [{"max": 10}, {"min": 0, "max": 500}])
def test_a_bond_of_which_only_limits_are_stated_is_a_bond(ohms):
    laptop = rk.EarthBond(name="laptop", earth="bank", resistance=ohms)
    assert found(chain(ON_PUMP, {**ISOLATED, "bonds": laptop}), "ground.hidden-bond")[0][0] == "fail"


def test_a_declared_fault_is_never_passed_over():
    floating = chain(ISOLATED, ISOLATED, earths=earths(fault_potential="3 kV"))
    assert "unknown" in {verdict for verdict, _ in found(floating, "ground.fault-endangers")}
    mute = chain({**ON_PUMP, "drives": False}, {**ISOLATED, "drives": False}, earths=earths(fault_potential="1 kV"))
    assert "unknown" in {verdict for verdict, _ in found(mute, "ground.fault-endangers")}


def test_lines_that_a_fault_takes_too_low_are_told():
    part = attrs.evolve(PART, common_mode_highest="25 V")
    row = {"common": rk.CommonLink(resistance="100 ohm"), "earth": "pump"}
    bus = chain(row, {**row, "earth": "bank"}, earths=earths("0 V", "0 V", fault_potential="10 V"))
    bus = attrs.evolve(bus, nodes=[attrs.evolve(node, transceiver=part) for node in bus.nodes])
    assert "marginal" in {verdict for verdict, _ in found(bus, "ground.fault-endangers")}


def test_a_bus_on_which_nobody_listens_has_an_empty_table():
    bus = rk.Bus(nodes=rk.Node(name="gate", barrier=BARRIER, earth="bank"), earths=earths())
    assert len(common_mode(bus).receivers) == 0
    assert not rk.check(bus).plugin_errors


@pytest.mark.parametrize("turned", [False, True])
def test_two_bonds_of_one_node_to_one_earth_share_the_current_by_their_resistance(turned):
    bonds = [
        rk.EarthBond(name="x", earth="bank", resistance="1 ohm"), rk.EarthBond(name="y", earth="bank", resistance="100 ohm"),
    ]  # fmt: skip
    bus = chain(ON_PUMP, {**ISOLATED, "bonds": bonds[::-1] if turned else bonds})
    currents = {row.cause: row.current for row in common_mode(bus).bonds}
    assert currents["x"] / currents["y"] == pytest.approx(100.0, rel=1e-6)
    assert sum(currents.values()) == pytest.approx(0.0, abs=1e-9)


def test_a_hyphen_in_a_name_changes_no_current():
    plain = chain(ON_PUMP, ON_BANK, ON_PUMP)
    odd = attrs.evolve(
        plain,
        nodes=[attrs.evolve(node, name=node.name.replace("gate-1", "l - r")) for node in plain.nodes],
        segments=[
            attrs.evolve(each, start=each.start.replace("gate-1", "l - r"), end=each.end.replace("gate-1", "l - r"))
            for each in plain.segments
        ],
    )
    one, other = (sorted(row.current for row in common_mode(bus).bonds) for bus in (plain, odd))
    assert one == pytest.approx(other, abs=1e-9)
