"""Topic D, termination: C11, C12; and C28 of topic J, where termination must not be blamed."""

import math

import attrs
import numpy as np
import pytest
from case_meter import pair_resistance
from case_parts import (
    AWG22,
    AWG24,
    END,
    PLAIN,
    at_rate,
    findings,
    idle_millivolts,
    legs,
    load_of,
    part,
    printed,
    verdict,
    verdicts,
)

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
TERMINATION = "termination."
BARE_END = "termination.end-unterminated"
LIGHT = 1e-3


# --- C11: 7 Vpp unterminated, 4.5 Vpp terminated (controlscourse.com, visual grounding and termination) -----


def c11(*, ends: int, inner: float, transceiver: rk.Transceiver | None = None) -> rk.Bus:
    """One controller on a cable of no consequence [read], 22 AWG shielded [read], 1 m [assumed].

    120 ohm terminators in or out [read], how many is not said. The driver has 3.5 V open [derived from 7 V peak to
    peak] behind `inner` ohm; a scope of 12 Mohm on each line stands at the far end [assumed].
    """
    driver = part(LIGHT, inner=inner) if transceiver is None else transceiver
    nodes = [
        rk.Node(name="controller", transceiver=driver, terminations=END if ends > 0 else None),
        rk.Node(name="scope", transceiver=driver, drives=False, terminations=END if ends > 1 else None),
    ]
    return rk.daisy_chain(nodes, spacing="1 m", cable=AWG22, name="C11")


def peak_to_peak(bus: rk.Bus, driver: str = "controller", receiver: str = "scope") -> float:
    levels = rk.analysis.driven_levels(bus).between(driver, receiver)
    return levels.mark.nominal - levels.space.nominal


@pytest.mark.parametrize("inner", [33.0, 67.0])
def test_c11_unterminated(inner):
    assert peak_to_peak(c11(ends=0, inner=inner)) == printed(7.0, last=0.1)


@pytest.mark.parametrize(("ends", "inner"), [(2, 33.0), (1, 67.0)])
def test_c11_terminated_amplitude_fits_two_terminators_as_well_as_one(ends, inner):
    """About 4.5 V peak to peak [read]: 33 ohm inside if both were in, 67 ohm if one [derived].

    The amplitude alone decides nothing: both descriptions give it to 0.02 V. 1 m of cable takes 0.1 ohm.
    """
    assert peak_to_peak(c11(ends=ends, inner=inner)) == printed(4.5, last=0.1)


def test_c11_handbook_driver_favours_two():
    """With 30 ohm inside, the handbook's figure, two terminators leave 4.67 V and one 5.6 V: 4.5 V is nearer to two."""
    assert peak_to_peak(c11(ends=2, inner=30.0)) == printed(4.67, last=0.02)
    assert peak_to_peak(c11(ends=1, inner=30.0)) == printed(5.6, last=0.02)


def test_c11_one_unit_load_at_each_end_takes_a_hundredth_of_a_volt():
    """The library's own receivers, 12 kohm across the pair for the two, take 0.16 % of the terminated amplitude."""
    without, loaded = (peak_to_peak(c11(ends=2, inner=33.0, transceiver=each)) for each in (part(LIGHT), PLAIN))
    assert loaded / without == pytest.approx(1.0 - 21.3 / 12e3, rel=1e-4)


def test_c11_no_bound_is_claimed_from_a_single_sample():
    """The driver's typical figures are known, its guaranteed ones are not: nominal levels come out, bounds do not."""
    typical = part(LIGHT, driver_open_voltage=(None, 3.5, None), driver_loaded_voltage=(None, 2.17, None))
    levels = rk.analysis.driven_levels(c11(ends=2, inner=33.0, transceiver=typical))
    assert 2.0 * levels.between("controller", "scope").mark.nominal == printed(4.5, last=0.1)
    assert math.isnan(levels.between("controller", "scope").mark.lower)
    assert {field for _, field in levels.missing} == {
        "transceiver.driver_loaded_voltage (its min)",
        "transceiver.driver_open_voltage (its max)",
    }


@pytest.mark.parametrize("ends", [0, 1, 2])
def test_c11_scope_that_draws_nothing_at_all_changes_nothing(ends):
    """No input current anywhere: the lines float against the driver's common until it is on, and then follow it."""
    light, none = (peak_to_peak(c11(ends=ends, inner=33.0, transceiver=part(load))) for load in (LIGHT, 0.0))
    assert none == pytest.approx(light, rel=1e-5)


# --- C12: missing 120 ohm, drop-outs a few times a week (repo Sofar2mqtt #94) ---------------------------------


def c12(*, fitted: bool, length: float = 5.0, biased: bool = False) -> rk.Bus:
    """Inverter to a small controller, point to point [read]; the 120 ohm on the transceiver board missing or in [read].

    The inverter's own end terminated or not is not said: not [assumed]; 9600 bit/s, plain receivers, 5 m [assumed].
    """
    nodes = [
        rk.Node(name="controller", transceiver=PLAIN, terminations=END if fitted else None),
        rk.Node(name="inverter", transceiver=PLAIN, biases=legs(680.0) if biased else None),
    ]
    link = rk.Link(data_rate="9600 bit/s", controller="controller")
    return rk.daisy_chain(nodes, spacing=length, cable=AWG24, link=link, name="C12")


def test_c12_idle_level_is_undefined_before_and_after():
    """Without bias the idle level is 0 V either way: the 120 ohm does not give one."""
    for fitted in (False, True):
        assert idle_millivolts(c12(fitted=fitted), "inverter") == pytest.approx(0.0, abs=1e-3)
        assert verdicts(c12(fitted=fitted), UNDEFINED) == {"controller": "fail", "inverter": "fail"}


def test_c12_what_changes_is_the_impedance_of_the_idle_pair():
    """From 12 kohm, two receivers, to 119 ohm [derived as "kilohms to 120 ohm"]: pick-up falls a hundredfold.

    So does the most that the receivers' own inputs can leave between the lines: from 19 V, where they may draw nothing and
    the lines stand anywhere inside the border, to 64 mV.
    """
    assert pair_resistance(c12(fitted=False), "controller") == printed(12e3, last=20)
    assert pair_resistance(c12(fitted=True), "controller") == printed(118.8, last=0.1)
    free, held = (rk.analysis.idle_levels(c12(fitted=fitted)).at("inverter").voltage for fitted in (False, True))
    assert (free.lower, free.upper) == (printed(-19.0, last=0.02), printed(19.0, last=0.02))
    assert (held.lower, held.upper) == (pytest.approx(-held.upper), printed(0.064, last=0.001))


def test_c12_reflections_have_died_away_long_before_the_middle_of_a_bit():
    """Three round trips fit into half a bit at 9600 up to about 1700 m at 0.66 c [derived]: so says the rule too."""
    velocity = rk.formulas.propagation_velocity(0.66)
    assert rk.formulas.unterminated_length(9600.0, velocity) == printed(1700, last=100)
    assert rk.formulas.settling_time(5.0, velocity) < 1e-2 * 0.5 * rk.formulas.bit_time(9600.0)


@pytest.mark.parametrize("fitted", [False, True])
def test_c12_no_termination_failure_is_reported(fitted):
    """Termination by itself cannot explain this at 9600 on a short link; no reflection may be claimed."""
    assert {each.verdict for each in findings(c12(fitted=fitted, biased=True), TERMINATION)} == {"pass"}


def test_c12_the_solved_edge_settles_within_a_hundredth_of_a_bit():
    """Without any terminator on 5 m the edge rings for less than a microsecond of a bit of 104."""
    bus = attrs.evolve(at_rate(c12(fitted=False), 9600.0), link=None)
    seen = rk.analysis.waveforms(bus, "controller")
    far = seen.receivers.index("inverter")
    swing = seen.mark[far] - seen.space[far]
    away = np.flatnonzero(np.abs(seen.rise[far] - seen.mark[far]) > 0.01 * swing)
    assert seen.time[away[-1]] < 1e-2 / 9600.0
    assert rk.analysis.worst_eyes(at_rate(c12(fitted=False), 9600.0)).width.min() > 0.9


# --- C28: five drives on one metre, fails only while running (industrialmonitordirect.com, drives fail when running)


def c28() -> rk.Bus:
    """Master without isolation and five drives [read] on 1 m in all [read], 120 ohm at both ends [read].

    All on one DC common [read]; bias of 560 ohm at the master, 9600 bit/s, 1/8 unit load each [assumed].
    """
    common = rk.CommonLink(resistance="0 ohm")
    eighth = part(0.125)
    nodes = [rk.Node(name="master", transceiver=eighth, terminations=END, biases=legs(560.0), common=common)]
    nodes += [rk.Node(name=f"drive-{number}", transceiver=eighth, common=common) for number in range(1, 5)]
    nodes += [rk.Node(name="drive-5", transceiver=eighth, common=common, terminations=END)]
    link = rk.Link(data_rate="9600 bit/s", controller="master")
    return rk.daisy_chain(nodes, spacing="0.2 m", cable=AWG24, link=link, reference_conductor=True, name="C28")


def test_c28_load_idle_level_and_shape_are_clean():
    """A negative control: everything on the pair is in order, and the library must say so."""
    chosen = rk.Policy(select=("loading", "idle", "structure", "driving", "termination"))
    report = rk.check(at_rate(c28(), 9600.0), policy=chosen)
    assert {each.rule: each.verdict for each in report.findings if each.verdict != "pass"} == {}
    assert report.passed
    assert idle_millivolts(c28(), "drive-5") == printed(253.6, last=0.1)


def test_c28_driven_levels_and_load_are_clean():
    levels = rk.analysis.driven_levels(c28())
    assert levels.missing == ()
    assert levels.worst.margin > 1.5
    assert load_of(c28(), "master") > 54.0


def test_c28_no_termination_fault_is_insisted_on():
    assert {each.verdict for each in findings(c28(), TERMINATION)} == {"pass"}


def test_c28_round_trip_is_ten_nanoseconds():
    velocity = rk.formulas.propagation_velocity(0.66)
    assert rk.formulas.settling_time(1.0, velocity, round_trips=1.0) / 1e-9 == printed(10.1, last=0.1)


def test_c28_signals_are_as_clean_as_a_metre_lets_expect():
    eyes = rk.analysis.worst_eyes(at_rate(c28(), 9600.0))
    assert eyes.height.min() > 1.5
    assert eyes.width.min() > 0.95
    assert eyes.overshoot.max() < 0.01


def test_c28_master_on_the_common_of_switching_drives_is_the_finding():
    """The only finding wanted: the master's port is not isolated and shares a DC common with five switching drives."""
    bus = c28()
    for node in bus.nodes[1:]:
        bus = bus.replace_node(attrs.evolve(node, switches_power=True))
    (found,) = findings(bus, "ground.noisy-common")
    assert (found.verdict, found.where.names) == ("marginal", ("master",))
    assert "barrier" in found.remedy


def test_c28_an_isolated_master_is_the_cure():
    bus = c28()
    for node in bus.nodes[1:]:
        bus = bus.replace_node(attrs.evolve(node, switches_power=True))
    master = attrs.evolve(bus.node("master"), barrier=rk.Barrier())
    assert {each.verdict for each in findings(bus.replace_node(master), "ground.noisy-common")} == {"pass"}


# --- the kind: an end without its terminator is no fault where the edges settle ---------------------------------


@pytest.mark.parametrize("length", [1.0, 20.0, 100.0])
def test_short_and_slow_bus_without_terminators_does_not_fail(length):
    bus = c12(fitted=False, length=length, biased=True)
    assert {each.verdict for each in findings(bus, TERMINATION)} == {"pass"}


@pytest.mark.parametrize(("terminators", "load"), [(1, 120.0), (2, 60.0), (3, 40.0), (4, 30.0)])
def test_every_further_terminator_loads_the_driver_and_takes_idle_level(terminators, load):
    """A third one, hidden or forgotten in the middle, leaves 40 ohm: below the 54 ohm of a standard driver."""
    nodes = [rk.Node(name=f"gate-{n}", transceiver=part(LIGHT), terminations=END) for n in range(terminators)]
    nodes.append(rk.Node(name="control", transceiver=part(LIGHT), biases=legs(560.0)))
    bus = rk.daisy_chain(nodes, spacing="1 mm", cable=AWG24)
    assert load_of(bus, "gate-0") == pytest.approx(1.0 / (1.0 / load + 1.0 / 1120.0), rel=1e-4)
    assert idle_millivolts(bus, "gate-0") == pytest.approx(5e3 / 560.0 / (1.0 / 560.0 + 2.0 / load), rel=1e-4)
    lacking = [field for _, field in rk.analysis.driven_levels(bus).missing if "driver_least_load" in field]
    assert bool(lacking) == (load < 57.0)


def test_two_kilometres_without_terminators_are_not_called_sound():
    """The control of the control: a rule that never objects would pass the tests above."""
    bus = c12(fitted=False, length=2000.0, biased=True)
    assert verdict(bus, BARE_END) == "marginal"
    assert verdict(attrs.evolve(bus, link=rk.Link(data_rate="1200 bit/s")), BARE_END) == "pass"
    assert verdict(attrs.evolve(bus, link=None), BARE_END) == "unknown"


def test_terminator_that_is_fitted_and_not_switched_in_is_told_to_be_engaged():
    """C12 as found, "missing or not bridged" [read]: at a rate where it matters the cure is at hand."""
    loose = rk.Termination(resistance="120 ohm", engaged=False)
    bus = c12(fitted=False, length=2000.0)
    bus = bus.replace_node(attrs.evolve(bus.node("controller"), terminations=loose))
    (found,) = (each for each in findings(bus, BARE_END) if each.where.names == ("controller",))
    assert "engage" in found.remedy


@pytest.mark.parametrize("hidden", [False, True])
def test_hidden_second_terminator_on_a_node_is_pointed_out(hidden):
    """Topic A's recipe with a converter that holds a terminator of its own: two at one node, three in all."""
    nodes = [
        rk.Node(name="controller", transceiver=PLAIN, terminations=(END, END) if hidden else END),
        rk.Node(name="charger", transceiver=PLAIN, terminations=END),
    ]
    found = findings(rk.daisy_chain(nodes, spacing="5 m", cable=AWG24), "termination.too-many")
    assert {each.verdict for each in found} == {"marginal" if hidden else "pass"}
    assert any("controller" in each.where.names for each in found) == hidden
