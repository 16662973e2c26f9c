"""Topic C, bias doubled: C09 (repo cdbus #4).

Each set raises the idle level and loads every driver: Vd = k (V/R) / (k/R + 2/RT), load = RT parallel to 2R/k.
"""

import attrs
import pytest
from case_meter import pair_resistance
from case_parts import (
    END,
    SIMPLE,
    WEIGHTLESS,
    at_one_place,
    device,
    exactly,
    findings,
    idle_millivolts,
    legs,
    load_of,
    part,
    printed,
    verdict,
)

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
SEVERAL = "idle.bias-in-several-places"
OVERLOADED = "termination.driver-overloaded"
# 12 Gohm on each line: draws nothing, and ties the lines to the common of a node without bias
LIGHT = part(1e-6)


def c09(sets: int, *, ohms: float = 1e3, transceiver: rk.Transceiver = WEIGHTLESS) -> rk.Bus:
    """Up to ten nodes on one pair, each with 1 kohm up and 1 kohm down [read]; here `sets` of them have it.

    5 V and 120 ohm at both ends [assumed]; inputs that draw nothing, as the derived figures have it.
    """
    nodes = []
    for number in range(1, 11):
        end, bias = END if number in (1, 10) else None, legs(ohms) if number <= sets else None
        nodes.append(device(number, transceiver, terminations=end, biases=bias))
    return at_one_place(nodes, name="C09")


FIGURES = [(1, 146, 58.3), (2, 283, 56.6), (3, 413, 55.0), (4, 536, 53.6), (10, 1154, 46.2)]


@pytest.mark.parametrize(("sets", "millivolts", "load"), FIGURES)
def test_c09_idle_level_and_load_by_number_of_sets(sets, millivolts, load):
    """146, 283, 413, 536, 1154 mV; 55.0, 53.6, 46.2 ohm from the third on [derived; the first two loads here].

    A driver sees what an ohmmeter would read with every source still.
    """
    assert idle_millivolts(c09(sets)) == printed(millivolts)
    assert load_of(c09(sets), "device-5") == printed(load, last=0.1)
    assert pair_resistance(c09(sets), "device-5") == pytest.approx(load_of(c09(sets), "device-5"), rel=1e-6)


def test_c09_one_set_of_330_ohm_does_what_three_of_1_kohm_do():
    """417 mV and 55.0 ohm at a single node, as the adviser says [derived]."""
    bus = c09(1, ohms=330.0)
    assert idle_millivolts(bus) == printed(417)
    assert load_of(bus, "device-5") == printed(55.0, last=0.1)


@pytest.mark.parametrize("sets", range(1, 11))
def test_c09_only_two_or_three_sets_meet_both_limits(sets):
    """More bias is not safer: one set leaves the idle level undefined, four load the driver below 54 ohm."""
    bus = c09(sets)
    defined = verdict(bus, UNDEFINED) == "pass"
    missing = rk.analysis.driven_levels(c09(sets, transceiver=LIGHT)).missing
    lacking = [field for _, field in missing if "driver_least_load" in field]
    assert (defined and not lacking) == (sets in (2, 3))
    assert defined == (sets > 1)
    assert len(lacking) == (0 if sets < 4 else 10)


@pytest.mark.parametrize("sets", range(1, 11))
def test_c09_closed_form_at_every_number(sets):
    """The lumped answer beside the solved one is the closed form itself."""
    assert rk.analysis.idle_levels(c09(sets)).lumped == exactly(sets * 5e-3 / (sets * 1e-3 + 2 / 60.0))


def test_c09_with_ten_unit_loads_the_third_set_already_loads_the_driver_too_much():
    """The derived loads leave the receivers out. Ten of 1 unit load are 2.4 kohm across the pair: three sets then leave
    53.8 ohm, below 54, and only two sets meet both limits."""
    assert load_of(c09(3, transceiver=SIMPLE), "device-5") == printed(53.8, last=0.1)
    assert load_of(c09(2, transceiver=SIMPLE), "device-5") == printed(55.3, last=0.1)


@pytest.mark.parametrize(("sets", "seen"), [(2, "marginal"), (3, "pass"), (4, "pass")])
def test_c09_of_two_sets_neither_may_fail(sets, seen):
    """Two sets hold 283 mV, one alone 142 mV beside the other's dead legs: both are needed. Of three one may fail."""
    assert verdict(c09(sets), "idle.bias-supply-lost") == seen


@pytest.mark.parametrize("sets", range(1, 11))
def test_c09_second_set_is_pointed_out(sets):
    (found,) = findings(c09(sets), SEVERAL)
    assert found.verdict == ("pass" if sets == 1 else "marginal")
    assert found.measured == sets


def test_c09_set_without_supply_loads_and_does_not_bias():
    """Of three sets one is off: its legs go to 0 V on both lines. 275 mV, less than the 283 mV of two sets alone."""
    level = idle_millivolts(c09(3), unpowered=("device-3",))
    assert level == printed(275.2, last=0.1)
    assert level < idle_millivolts(c09(2))


@pytest.mark.parametrize("sets", range(1, 11))
def test_c09_load_under_54_ohm_is_marginal_by_custom(sets):
    """From the fourth set on; a part that states 45 ohm itself has room for ten."""
    assert verdict(c09(sets), OVERLOADED) == ("pass" if sets < 4 else "marginal")
    stated = attrs.evolve(WEIGHTLESS, driver_least_load="45 ohm")
    assert verdict(c09(sets, transceiver=stated), OVERLOADED) == "pass"


def test_c09_standing_current_of_ten_sets():
    """19.2 mA through the terminators while nobody speaks [derived]: the idle level over 60 ohm."""
    assert idle_millivolts(c09(10)) / 60.0 == printed(19.2, last=0.1)


# --- the kind: several sets, not all alike -----------------------------------------------------------------------


def on_open_pair(*sets: rk.Bias) -> rk.Bus:
    return at_one_place([device(number, SIMPLE, biases=each) for number, each in enumerate(sets, 1)])


@pytest.mark.parametrize(("first", "second"), [((560.0, 5.0), (560.0, 3.3)), ((390.0, 3.3), (4700.0, 5.0))])
def test_two_sets_on_different_supplies_make_a_mean(first, second):
    """Vd = (V1/R1 + V2/R2) / (1/R1 + 1/R2 + n/12k), equal legs throughout."""
    idle = rk.analysis.idle_levels(on_open_pair(legs(*first), legs(*second)))
    (r1, v1), (r2, v2) = first, second
    assert idle.lumped == exactly((v1 / r1 + v2 / r2) / (1 / r1 + 1 / r2 + 2 / 12e3))


def test_weaker_supply_lowers_the_level_of_an_open_pair():
    """A 3.3 V set hung on an open 5 V pair takes level away, though it is fitted the right way round."""
    alone = idle_millivolts(on_open_pair(legs(560.0), legs(1e8)))
    assert idle_millivolts(on_open_pair(legs(560.0), legs(560.0, 3.3))) < alone


def test_hidden_set_counts_like_a_plain_one():
    """Two networks on one node, a visible and a hidden one: one place, the level and the load of two sets."""
    both = at_one_place(
        [device(1, WEIGHTLESS, terminations=(END, END), biases=(legs(1e3), legs(1e3))), device(2, WEIGHTLESS)]
    )
    assert idle_millivolts(both, "device-2") == printed(283)
    assert load_of(both, "device-2") == printed(56.6, last=0.1)
    assert findings(both, SEVERAL)[0].measured == 1.0
