"""Topic E, star: C14 (manualshive.com manual 2587607 page 19).

Verdict wanted: outside the standard load and not failsafe, yet it settles at a low rate; not simply "star = wrong".
"""

import itertools

import attrs
import numpy as np
import pytest
from case_parts import (
    AWG22,
    END,
    FOOT,
    MILLI,
    WIRE,
    at_rate,
    exactly,
    findings,
    idle_millivolts,
    legs,
    load_of,
    part,
    printed,
    verdicts,
)

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
RUN = 4000.0 * FOOT
# 12 Mohm on each line: what draws nothing in the sources' arithmetic
LIGHT = part(1e-3)


def c14(
    *,
    runs: int = 7,
    run: float = 0.1,
    devices: int = 31,
    transceiver: rk.Transceiver = LIGHT,
    bias: float | None = None,
) -> rk.Bus:
    """A star of up to 7 runs [read], each up to 4000 ft of 22 AWG [read], 31 devices in all [read].

    The terminator is on at the last device of every run [read]. The panel stands at the hub, the devices are spread
    evenly [assumed]; 560 ohm of bias at the hub and 5 V if any, driver of 3.5 V behind 33 ohm [assumed].
    """
    cable = AWG22 if run > 1.0 else WIRE
    nodes = [rk.Node(name="panel", transceiver=transceiver, biases=legs(bias) if bias else None)]
    segments = []
    for number in range(1, runs + 1):
        count = len(range(number, devices + 1, runs))
        names = ["panel", *(f"run-{number}-{place}" for place in range(1, count)), f"run-{number}-last"]
        nodes += [rk.Node(name=name, transceiver=transceiver) for name in names[1:-1]]
        nodes.append(rk.Node(name=names[-1], transceiver=transceiver, terminations=END))
        segments += [rk.Segment(start=a, end=b, length=run / count, cable=cable) for a, b in itertools.pairwise(names)]
    return rk.Bus(name="C14", nodes=nodes, segments=segments)


@pytest.mark.parametrize("runs", range(1, 8))
def test_c14_load_falls_with_every_run(runs):
    """7 x 120 ohm are 17.1 ohm [derived]; 54 ohm, the standard load, is already passed by the third run."""
    assert load_of(c14(runs=runs), "panel") == pytest.approx(120.0 / runs, rel=5e-3)
    lacking = [field for _, field in rk.analysis.driven_levels(c14(runs=runs)).missing if "driver_least_load" in field]
    assert bool(lacking) == (runs > 2)


def test_c14_level_of_a_driver_at_zero_length():
    """1.19 V [derived, from 17.1 ohm]; unrounded 17.14 ohm give 1.197 V, and 32 full unit loads take it to 1.18 V."""
    levels = rk.analysis.driven_levels(c14())
    assert levels.between("panel", "run-7-last").mark.nominal == pytest.approx(1.19, abs=0.01)
    full = rk.analysis.driven_levels(c14(transceiver=part()))
    assert full.between("panel", "run-7-last").mark.nominal == printed(1.18, last=0.01)


def test_c14_outside_the_standard_load_no_bound_is_given():
    """Nominal levels reach every receiver by a volt, but what the driver guarantees ends at 54 ohm."""
    levels = rk.analysis.driven_levels(c14())
    assert (levels.nominal_margin > 0.9).all()
    assert np.isnan(levels.margin).all()
    assert "17.14 ohm" in dict(levels.missing)["panel"]


def test_c14_a_part_that_states_its_least_load_gets_its_bounds_back():
    strong = attrs.evolve(LIGHT, driver_least_load="15 ohm", driver_loaded_voltage=("1 V", "1.2 V", "1.5 V"))
    levels = rk.analysis.driven_levels(c14(transceiver=strong))
    assert levels.missing == ()
    assert levels.worst.margin == pytest.approx(0.8, abs=1e-3)


def test_c14_560_ohm_of_bias_is_no_idle_level():
    """75 mV with 560 ohm at 5 V; 206 ohm each would be needed for 200 mV [derived]."""
    bus = c14(bias=560.0)
    assert idle_millivolts(bus, "run-1-last") == printed(75)
    assert set(verdicts(bus, UNDEFINED).values()) == {"fail"}
    assert len(verdicts(bus, UNDEFINED)) == 32
    assert rk.formulas.largest_bias(5.0, 0.2, termination=120.0 / 7.0) == printed(206)
    assert idle_millivolts(c14(bias=206.0), "run-1-last") == printed(200)


def test_c14_full_length_runs_shield_the_driver_at_the_hub():
    """Loop of 129 ohm in each run; the hub's driver then sees 35.6 ohm and the far ends get 0.87 V [derived]."""
    assert rk.formulas.loop_resistance(53.0e-3, RUN) == printed(129)
    bus = c14(run=RUN)
    assert load_of(bus, "panel") == printed(35.6, last=0.1)
    assert rk.analysis.driven_levels(bus).between("panel", "run-7-last").mark.nominal == printed(0.87, last=0.01)


def test_c14_full_length_from_one_far_end_to_another():
    """The source's 0.87 V is not the worst path: from the end of one run to that of another only 0.28 V are left.

    By hand, unloaded: six runs of 249.2 ohm beside one another are 41.5 ohm at the hub, 129.2 ohm before them, 120 ohm
    at the driver: 70.5 ohm; 3.5 V x 70.5/103.5 x 41.5/170.7 x 120/249.2. Of 200 mV 79 mV are left; 69 with full loads.
    """
    loop = 2.0 * 53.0e-3 * RUN
    others = (loop + 120.0) / 6.0
    load = 1.0 / (1.0 / 120.0 + 1.0 / (loop + others))
    level = 3.5 * load / (load + 33.0) * others / (loop + others) * 120.0 / (loop + 120.0)
    levels = rk.analysis.driven_levels(c14(run=RUN))
    assert levels.between("run-1-last", "run-7-last").mark.nominal == pytest.approx(level, rel=2e-3)
    assert levels.nominal_margin.min() == pytest.approx(level - 0.2, rel=5e-3)


def test_c14_hub_seen_from_one_run():
    """It reflects -0.71 and passes 0.29 [derived]."""
    reflected = rk.formulas.reflection_coefficient(120.0 / 6.0, 120.0)
    assert reflected == printed(-0.71, last=0.01)
    assert 1.0 + reflected == exactly(2.0 / 7.0)


@pytest.mark.parametrize(
    ("own_end", "launched", "first", "settled"), [(False, 2.745, 0.78, 1.32), (True, 2.26, 0.65, 1.197)]
)
def test_c14_steps_of_a_driver_at_the_end_of_a_run(own_end, launched, first, settled):
    """The derived steps, 2.74 V launched, 0.78 V first, 1.3 V at last, leave out the terminator at the driver's end.

    The drawing has one there [read]. With it 2.26 V are launched, the others first get 0.65 V and at last 1.197 V,
    which is the level that the case itself gives for zero length. Settled levels are the library's, the steps by hand.
    """
    at_driver = 60.0 if own_end else 120.0
    assert 3.5 * at_driver / (at_driver + 33.0) == printed(launched, last=0.01)
    assert 3.5 * at_driver / (at_driver + 33.0) * 2.0 / 7.0 == printed(first, last=0.01)
    bus = c14()
    if not own_end:
        bus = bus.replace_node(attrs.evolve(bus.node("run-1-last"), terminations=None))
    levels = rk.analysis.driven_levels(bus).between("run-1-last", "run-7-last")
    assert levels.mark.nominal == printed(settled, last=0.002)


def test_c14_settling_by_the_rule_of_thumb():
    """One round trip of a run is 12.3 us: within half a bit, 52 us, at 9600; not within 4.3 us at 115200 [derived]."""
    velocity = rk.formulas.propagation_velocity(0.66)
    trip = rk.formulas.settling_time(RUN, velocity, round_trips=1.0)
    assert trip / 1e-6 == printed(12.3, last=0.1)
    assert 3.0 * trip < 0.5 * rk.formulas.bit_time(9600.0)
    assert trip > 0.5 * rk.formulas.bit_time(115200.0)


def test_c14_steps_at_the_other_runs():
    """0.78 V, then 1.10, 1.23, 1.28 ... 1.3 V without the terminator at the driver's own end [derived].

    Solved on lines of 1 mohm/m with the inputs in place, as shares of the last; those and the loss take 3 %.
    """
    bus = at_rate(c14(run=RUN), 9600.0, cable=WIRE)
    bus = bus.replace_node(attrs.evolve(bus.node("run-1-last"), terminations=None))
    bus = attrs.evolve(bus, link=None)
    seen = rk.analysis.waveforms(bus, "run-1-last")
    far = seen.receivers.index("run-7-last")
    share = (seen.rise[far] - seen.space[far]) / (seen.mark[far] - seen.space[far])
    trip = 2.0 * RUN / rk.formulas.propagation_velocity(0.66)
    steps = np.interp([trip * (1.4 + number) for number in range(4)], seen.time, share)
    assert steps == pytest.approx(np.array([0.78, 1.10, 1.23, 1.28]) / 1.32, abs=0.035)
    assert np.interp(0.9 * trip, seen.time, share) == pytest.approx(0.0, abs=1e-3)


def test_c14_full_length_runs_are_open_at_9600_and_not_at_115200():
    """Settled in time at 9600; at 115200 the first step exceeds 200 mV, and still some sequence closes the eye."""
    slow, fast = (rk.analysis.worst_eyes(at_rate(c14(run=RUN), rate)) for rate in (9600.0, 115200.0))
    assert np.nanmax(slow.settling) < 0.5 / 9600.0
    assert slow.height.min() == pytest.approx(rk.analysis.driven_levels(c14(run=RUN)).nominal_margin.min(), abs=2e-3)
    assert slow.width.min() > 0.7
    assert np.nanmax(fast.settling) > 0.5 / 115200.0
    assert fast.height.min() < 0.0


@pytest.mark.parametrize("run", [0.1, RUN], ids=["zero length", "full length"])
def test_c14_every_run_is_an_end_and_has_its_terminator(run):
    """Runs of 4000 ft are lines, each with an end; where all are at one place only two are ends, the rest stubs."""
    found = rk.analysis.terminations(c14(run=run))
    assert sum(found.fitted.engaged) == 7
    assert found.terminated == found.ends
    assert len(found.ends) == (7 if run == RUN else 2)


@pytest.mark.parametrize("run", [0.1, RUN], ids=["zero length", "full length"])
def test_c14_load_and_number_of_terminators_are_pointed_out_and_the_star_is_no_failure(run):
    """A load under 54 ohm is marginal by custom, seven terminators are marginal by the protocol guide's rule of two."""
    found = findings(c14(run=run), "termination.")
    assert {each.verdict for each in found} <= {"pass", "marginal"}
    marginal = {each.rule for each in found if each.verdict == "marginal"}
    assert {"termination.driver-overloaded", "termination.too-many"} <= marginal
    assert not any(each.rule == "termination.end-unterminated" for each in found if each.verdict != "pass")


def test_c14_full_length_levels_are_told_to_be_beyond_what_the_driver_guarantees():
    """The hub's driver sees 35.6 ohm: nominal levels pass, levels there are unknown unless the part gives its curve.

    The drivers at the far ends see 70 ohm, which is enough; with full unit loads their 0.27 V at the other ends, 0.2 V
    for sure, is all but too little.
    """
    bus = c14(run=RUN, transceiver=part())
    found = verdicts(bus, "driving.level-too-low")
    assert "fail" not in found.values()
    assert found["panel -> panel"] == "unknown"
    assert {each for path, each in found.items() if path.startswith("run-1-last")} == {"marginal"}
    assert load_of(c14(run=RUN), "run-1-last") == printed(70.5, last=0.1)


def test_c14_shape_alone_is_accepted():
    """A star is a tree: nothing is disconnected and no ring is closed."""
    report = rk.check(c14(), policy=rk.Policy(select=("structure",)))
    assert {each.verdict for each in report.findings if each.rule != "structure.figures-missing"} == {"pass"}


# --- the kind: terminators on every arm ---------------------------------------------------------------------


@pytest.mark.parametrize("arms", [2, 3, 5, 9])
def test_bias_needed_by_a_star_goes_with_the_number_of_its_arms(arms):
    """R = (V/0.2 - 1) RT / 2 with RT = 120 ohm / arms: at the limit the idle level is 200 mV."""
    needed = rk.formulas.largest_bias(5.0, 0.2, termination=120.0 / arms)
    assert needed == exactly(24.0 * 60.0 / arms)
    bus = c14(runs=arms, devices=arms, bias=needed)
    assert idle_millivolts(bus, f"run-{arms}-last") * MILLI == pytest.approx(0.2, rel=1e-3)
