"""Topic G, length: C19 (e2e.ti.com interface forum thread 944880)."""

import attrs
import pytest
from case_parts import (
    END,
    FOOT,
    MILLI,
    WEIGHTLESS,
    at_rate,
    cable,
    exactly,
    idle_millivolts,
    legs,
    load_of,
    part,
    printed,
    verdicts,
)

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
PER_FOOT = 15e-3
WIRES = cable("15 mohm per foot", PER_FOOT / FOOT)
LENGTH = 4000.0 * FOOT
# so little that it ties the lines to a common and changes nothing else
LIGHT = 1e-6


def c19(length: float = LENGTH, *, far_loads: float = LIGHT, near_end: bool = False) -> rk.Bus:
    """4000 ft of 15 mohm/ft per wire, 120 ohm at the far end, 1.5 V at the driver, which holds it [all read].

    Inputs that draw nothing, or the unit loads of the whole bus lumped at the far end [assumed].
    """
    held = part(LIGHT, open_voltage=1.5, inner=0.0)
    nodes = [
        rk.Node(name="driver", transceiver=held, terminations=END if near_end else None),
        rk.Node(name="receiver", transceiver=attrs.evolve(held, unit_load=far_loads), terminations=END),
    ]
    return rk.daisy_chain(nodes, spacing=length, cable=WIRES, name="C19")


def far_level(bus: rk.Bus) -> float:
    return rk.analysis.driven_levels(bus).between("driver", "receiver").mark.nominal


def test_c19_loop_and_far_level():
    """Loop 120 ohm, 0.75 V at the receiver [read]; the near terminator changes nothing while the driver holds 1.5 V."""
    assert rk.formulas.loop_resistance(PER_FOOT / FOOT, LENGTH) == exactly(120.0)
    assert far_level(c19()) == printed(0.750, last=0.001)
    assert far_level(c19(near_end=True)) == printed(0.750, last=0.001)
    assert rk.formulas.far_voltage(1.5, 120.0, 120.0) == exactly(0.75)


def test_c19_32_unit_loads_at_the_far_end():
    """0.694 V [derived]: 750 ohm beside the terminator."""
    assert far_level(c19(far_loads=32.0)) == printed(0.694, last=0.001)


def test_c19_direct_current_alone_would_allow_26000_feet():
    """To 200 mV [derived]: 4000 ft is no limit of direct current."""
    assert far_level(c19(26000.0 * FOOT)) == printed(0.200, last=0.001)
    assert rk.formulas.longest_length(1.5, 0.2, 120.0, PER_FOOT / FOOT) == pytest.approx(26000.0 * FOOT, rel=1e-9)
    beyond = rk.analysis.driven_levels(c19(27000.0 * FOOT)).between("driver", "receiver")
    assert beyond.nominal_margin < 0.0 < rk.analysis.driven_levels(c19()).between("driver", "receiver").nominal_margin


def test_c19_what_the_driver_sees():
    """240 ohm, cable and far terminator; 80 ohm with one at its own end too [derived here]."""
    assert load_of(c19(), "driver") == printed(240.0, last=0.1)
    assert load_of(c19(near_end=True), "driver") == printed(80.0, last=0.1)
    assert rk.formulas.driver_load(120.0, 120.0, 120.0) == exactly(80.0)


def test_c19_driven_level_is_found_sound_at_4000_feet_and_not_at_27000():
    assert verdicts(c19(), "driving.level-too-low") == {"driver -> receiver": "pass"}
    assert verdicts(c19(27000.0 * FOOT), "driving.level-too-low")["driver -> receiver"] == "fail"


# --- idle level is the tighter limit ------------------------------------------------------------------------


def c19_biased(places: tuple[str, ...]) -> rk.Bus:
    """The same cable terminated at both ends, three places, 560/560 at 5 V at some of them [assumed]."""
    nodes = [
        rk.Node(
            name=name, transceiver=WEIGHTLESS, terminations=None if name == "middle" else END,
            biases=legs(560.0) if name in places else None,
        )
        for name in ("near", "middle", "far")
    ]  # fmt: skip
    return rk.daisy_chain(nodes, spacing=LENGTH / 2.0, cable=WIRES, name="C19, biased")


def test_c19_bias_at_one_end_does_not_reach_the_other():
    """333 mV near and only 167 mV at the far end: not failsafe there [derived]."""
    bus = c19_biased(("near",))
    assert idle_millivolts(bus, "near") == printed(333)
    assert idle_millivolts(bus, "far") == printed(167)
    assert verdicts(bus, UNDEFINED) == {"far": "fail"}


def test_c19_lumped_formula_shows_neither():
    """All at one place it would be 254 mV everywhere: the library shows it beside the solved figures."""
    assert rk.analysis.idle_levels(c19_biased(("near",))).lumped / MILLI == printed(254)


def test_c19_bias_in_the_middle_reaches_both_ends():
    """372 mV there, 248 mV at both ends [derived here: 180 ohm either way, 90 ohm in all]."""
    bus = c19_biased(("middle",))
    assert idle_millivolts(bus, "middle") == printed(372)
    assert [idle_millivolts(bus, name) for name in ("near", "far")] == [printed(248), printed(248)]
    assert set(verdicts(bus, UNDEFINED).values()) == {"pass"}


def test_c19_bias_at_both_ends_reaches_everywhere_and_is_pointed_out_as_two():
    """484 mV all along, as no current flows in the cable; two sets are marginal by the protocol guide's rule of one."""
    bus = c19_biased(("near", "far"))
    assert [idle_millivolts(bus, name) for name in ("near", "middle", "far")] == [printed(484)] * 3
    assert set(verdicts(bus, UNDEFINED).values()) == {"pass"}
    assert verdicts(bus, "idle.bias-in-several-places") == {"bus": "marginal"}


@pytest.mark.parametrize("feet", [500.0, 1000.0, 2000.0, 3000.0, 4000.0, 8000.0])
def test_far_idle_level_at_any_length_of_cable(feet):
    """Near: V/R over (1/R + 2/120 + 2/(loop + 120)); far: that times 120/(loop + 120). Short from about 2000 ft on."""
    bus = c19_biased(("near",))
    bus = attrs.evolve(bus, segments=[attrs.evolve(each, length=feet * FOOT / 2.0) for each in bus.segments])
    loop = 2.0 * PER_FOOT * feet
    near = 5.0 / 560.0 / (1.0 / 560.0 + 2.0 / 120.0 + 2.0 / (loop + 120.0))
    idle = rk.analysis.idle_levels(bus)
    assert idle.at("near").voltage.nominal == exactly(near)
    assert idle.at("far").voltage.nominal == exactly(near * 120.0 / (loop + 120.0))
    assert ("far" in verdicts(bus, UNDEFINED) and verdicts(bus, UNDEFINED)["far"] == "fail") == (feet > 2500.0)


def test_c19_edges_and_not_direct_current_limit_the_length():
    """At 9600 and at the 90 kbit/s of the curve the eye is as high as direct current allows, 0.55 V beyond 200 mV.

    At 1 Mbit/s loss has taken half of it, and at 2 Mbit/s it is closed, though direct current would reach six times as
    far. Which length the asker wants explained, 4000 ft at 90 kbit/s, is no limit of the signal.
    """
    heights = {
        rate: rk.analysis.worst_eyes(at_rate(c19(), rate, 20e-9)).between("driver", "receiver").height
        for rate in (9600.0, 90e3, 1e6, 2e6)
    }
    assert heights[9600.0] == pytest.approx(far_level(c19()) - 0.2, abs=1e-3)
    assert heights[90e3] == pytest.approx(heights[9600.0], rel=1e-2)
    assert 0.0 < heights[1e6] < 0.6 * heights[9600.0]
    assert heights[2e6] < 0.0
    found = verdicts(at_rate(c19(), 2e6, 20e-9), "signal.eye-too-low")
    assert found["driver -> receiver"] == "fail"
    assert verdicts(at_rate(c19(), 2e6, 20e-9), "driving.level-too-low")["driver -> receiver"] == "pass"
