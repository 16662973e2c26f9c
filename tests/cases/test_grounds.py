"""Topics H, I and J, grounds: C21 and C22 (no common path, or one too many), C24 (isolated islands), C26 (shield).

Sources: forum.arduino.cc t/335370 (C21); esphome-for-deye #17, HeishaMon #468 and #726, esphome-daikin-ekhhe #22 (C22);
electronics.stackexchange.com q/390121 (C24); controlscourse.com, shield reference case (C26).

In all four the voltages that somebody measured lie well inside -7 V .. +12 V, and the bus still broke.
"""

import math

import attrs
import pytest
from case_parts import AWG24, END, findings, legs, part, printed

import rs485kit as rk

MICRO, MILLI = 1e-6, 1e-3
PART = part(0.125)
WIRE = rk.CommonLink(resistance="0 ohm")
SHIELDED = attrs.evolve(AWG24, shield_resistance="12 ohm/km")


def verdicts(bus: rk.Bus, rule: str) -> set[str]:
    return {each.verdict for each in findings(bus, rule)}


# --- C21: a second link to equipment on the building's ground ---------------------------------------------------------


def c21(*, second_link: bool = True, apart: object = "3.5 V") -> rk.Bus:
    """Nodes fed over the cable [read], one with a serial link to equipment on the building's ground [read].

    The bus common is earthed where the feed is [assumed]; 3 to 4 V between the two grounds [read]; 100 m [assumed].
    """
    earths = [
        rk.Earth(name="feed", potential="0 V", mains_potential="0 V", resistance="0.5 ohm"),
        rk.Earth(name="building", potential=apart, mains_potential="0 V", resistance="0.5 ohm"),
    ]
    link = rk.EarthBond(name="serial link to the equipment", earth="building", resistance="0.5 ohm")
    nodes = [
        rk.Node(name="feed", transceiver=PART, earth="feed", common=rk.CommonLink(resistance="0 ohm", bonded=True),
                terminations=END, biases=legs(560.0)),
        rk.Node(name="node-1", transceiver=PART, common=WIRE),
        rk.Node(name="node-2", transceiver=PART, common=WIRE, bonds=link if second_link else (), terminations=END),
    ]  # fmt: skip
    return rk.daisy_chain(nodes, spacing="50 m", cable=AWG24, reference_conductor=True, earths=earths, name="C21")


def test_c21_the_number_alone_would_pass():
    """3 to 4 V moves lines of 1 to 3 V to -3 .. +7 V, which is inside -7 V .. +12 V."""
    rows = rk.analysis.common_mode(c21()).receivers
    assert rows.lowest_nominal.min() > -7.0
    assert rows.highest_nominal.max() < 12.0


def test_c21_the_loop_is_the_finding():
    (found,) = findings(c21(), "ground.loop-current")
    assert found.verdict == "fail"
    assert "building" in found.message
    chosen = rk.Policy(select="ground.loop-current")
    assert rk.check(c21(second_link=False), policy=chosen).findings == ()


def test_c21_current_of_the_loop_is_ohms_law():
    """3.5 V over 100 m of one 24 AWG wire, 8.42 ohm, is 0.42 A; with what the earths have, a little less."""
    assert printed(0.42, last=0.01) == 3.5 / (100.0 * 84.2e-3)
    row = rk.analysis.common_mode(c21()).bonds.worst
    assert abs(row.current) == pytest.approx(3.5 / (8.42 + 0.5 + 0.5 + 0.5), rel=2e-3)


@pytest.mark.parametrize("apart", ["0.5 V", "-2 V", "6 V"])
def test_a_loop_is_found_whatever_the_earths_differ_by(apart):
    """The kind: the graph decides, and the current says how bad it is."""
    found = findings(c21(apart=apart), "ground.loop-current")
    assert len(found) == 1
    assert found[0].measured > 0.04


def test_a_loop_of_unknown_difference_is_unknown():
    assert verdicts(c21(apart=None), "ground.loop-current") == {"unknown"}


# --- C22: two wires between supplies of their own ---------------------------------------------------------------------


def c22(*, wire: bool = False, isolated: bool = False) -> rk.Bus:
    """A module and a heat pump, each on an adapter of its own [read], joined by two wires [read] of 9 m [read]."""
    fields = {"transceiver": PART, "terminations": END, "common": WIRE if wire else None}
    nodes = [
        rk.Node(name="module", biases=legs(560.0), **fields),
        rk.Node(name="heat-pump", barrier=rk.Barrier() if isolated else None, **fields),
    ]
    return rk.daisy_chain(nodes, spacing="9 m", cable=AWG24, reference_conductor=wire, name="C22")


def test_c22_no_common_path_is_the_finding():
    """With adapters that are known to isolate it fails; where nothing is said of them it is unknown, and never passes."""
    found = {each.where.names: each for each in findings(c22(isolated=True), "ground.common-not-joined")}
    assert found["heat-pump",].verdict == "fail"
    assert "floats" in found["heat-pump",].message
    assert verdicts(c22(), "ground.common-not-joined") == {"unknown"}


def test_c22_a_common_mode_is_not_made_up():
    rows = rk.analysis.common_mode(c22()).receivers
    assert all(math.isnan(row.margin) for row in rows)
    assert verdicts(c22(), "ground.common-mode-exceeded") == {"unknown"}


def test_c22_the_wire_across_is_the_cure():
    assert "fail" not in verdicts(c22(wire=True), "ground.common-not-joined")
    assert not any(math.isnan(row.margin) for row in rk.analysis.common_mode(c22(wire=True)).receivers)


def test_c22_what_the_filter_capacitor_leaks():
    """2.2 nF at 230 V and 50 Hz: 0.159 mA for ever, and 0.7 uC, 0.12 mJ when plugged at the peak."""
    farads, volts = 2.2e-9, 230.0
    assert 2 * math.pi * 50.0 * farads * volts / MILLI == printed(0.159, last=0.001)
    assert farads * volts * math.sqrt(2) / MICRO == printed(0.7, last=0.1)
    assert farads * volts**2 / MILLI == printed(0.12, last=0.01)


# --- C24: islands that nothing but 1 nF ties to anything --------------------------------------------------------------


def c24(*, reference: bool = False) -> rk.Bus:
    """A poller and isolated devices on two wires [read], shield on their chassis [read], 1 nF each to chassis [read]."""
    earths = [
        rk.Earth(name=name, potential="0 V", mains_potential="0 V", resistance="1 ohm")
        for name in ("poller", "device-1", "device-2", "device-3")
    ]
    barrier = rk.Barrier(isolator=rk.Isolator(name="signal", capacitance=1e-12), supply=rk.IsolatedSupply(
        name="supply", capacitance=10e-12,
    ))  # fmt: skip
    join = WIRE if reference else None
    nodes = [rk.Node(name="poller", transceiver=PART, earth="poller", terminations=END, biases=legs(560.0), common=join)]
    nodes += [
        rk.Node(
            name=each.name, transceiver=PART, earth=each.name, barrier=barrier, common=join,
            bonds=rk.EarthBond(name="1 nF to chassis", earth=each.name, capacitance="1 nF"),
            shield_bond=rk.ShieldBond(earth=each.name), terminations=END if each.name == "device-3" else (),
        )
        for each in earths[1:]
    ]  # fmt: skip
    return rk.daisy_chain(
        nodes, spacing="150 m", cable=SHIELDED, reference_conductor=reference, shield=True, earths=earths, name="C24"
    )


def test_c24_common_mode_cannot_be_computed_and_so_cannot_be_passed():
    bus = c24()
    rows = rk.analysis.common_mode(bus).receivers
    assert all(math.isnan(row.margin) for row in rows)
    assert verdicts(bus, "ground.common-mode-exceeded") == {"unknown"}
    assert {each.where.names[0] for each in findings(bus, "ground.common-not-joined")} == {
        "device-1", "device-2", "device-3",
    }  # fmt: skip
    assert verdicts(bus, "ground.common-not-joined") == {"fail"}


def test_c24_a_capacitor_is_no_bond():
    islands = [each for each in rk.analysis.common_mode(c24()).islands if "device-1" in each.nodes]
    assert [(each.referenced, each.nodes) for each in islands] == [(False, ("device-1",))]


def test_c24_the_shield_joins_the_chassis():
    found = findings(c24(), "ground.shield-bonded-twice")
    assert [each.verdict for each in found] == ["marginal"]


def test_c24_a_reference_conductor_gives_a_common_mode():
    rows = rk.analysis.common_mode(c24(reference=True)).receivers
    assert all(row.margin > 0 for row in rows)
    assert "fail" not in verdicts(c24(reference=True), "ground.common-not-joined")


def test_c24_current_of_a_surge_through_the_capacitor():
    """1 kV in 1.2 us drives 0.83 A through 1 nF."""
    assert printed(0.83, last=0.01) == 1e-9 * 1e3 / 1.2e-6


# --- C26: the shield as reference, and no earth -----------------------------------------------------------------------


def c26(*, earthed: bool = False, wire: bool = False) -> rk.Bus:
    """Drives on a shielded pair, the shield on the gateway's reference terminal and nowhere on earth [read].

    Four drives at 20 m [assumed]; the drives have barriers [assumed], which is why nothing else earths the shield.
    """
    names = ("gateway", "drive-1", "drive-2", "drive-3", "drive-4")
    earth = rk.Earth(name="hall", potential="0 V", mains_potential="0 V", resistance="1 ohm")
    nodes = [
        rk.Node(
            name=name, transceiver=PART, earth="hall", barrier=rk.Barrier(), common=WIRE,
            terminations=END if name in ("gateway", "drive-4") else (), biases=legs(560.0) if name == "gateway" else (),
            shield_bond=rk.ShieldBond() if earthed and name == "gateway" else None,
            circuit=rk.Circuit(hazard="touchable"),
        )
        for name in names
    ]  # fmt: skip
    if wire:
        nodes[0] = attrs.evolve(nodes[0], common=rk.CommonLink(resistance="0 ohm", bonded=True))
    return rk.daisy_chain(
        nodes, spacing="20 m", cable=SHIELDED, shield=True, reference_conductor=True, reference_is_shield=not wire,
        earths=[earth], name="C26",
    )  # fmt: skip


def test_c26_the_shield_without_an_earth_is_the_finding():
    (found,) = findings(c26(), "ground.shield-not-bonded")
    assert found.verdict == "fail"
    assert "reference conductor" in found.message
    assert findings(c26(), "ground.shield-is-reference")[0].verdict == "marginal"


def test_c26_earthing_the_shield_is_the_cure_and_a_wire_the_better_one():
    assert verdicts(c26(earthed=True), "ground.shield-not-bonded") == {"pass"}
    assert verdicts(c26(earthed=True), "ground.shield-is-reference") == {"marginal"}
    assert verdicts(c26(earthed=True, wire=True), "ground.shield-is-reference") == {"pass"}
    assert verdicts(c26(earthed=True, wire=True), "ground.shield-not-bonded") == {"pass"}


def test_c26_no_spike_is_made_up():
    """1.7 V of spikes is no result of ours: nothing here knows the coupling, so no voltage is told."""
    assert all(math.isnan(row.mains) or row.mains < 1e-6 for row in rk.analysis.common_mode(c26(earthed=True)).receivers)
