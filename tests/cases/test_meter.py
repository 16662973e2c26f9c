"""Topic P, meter readings: C46, C48."""

import attrs
import pytest
from case_meter import line_voltages
from case_parts import (
    END,
    PLAIN,
    SIMPLE,
    at_one_place,
    device,
    exactly,
    findings,
    idle_millivolts,
    legs,
    part,
    verdict,
    waits_for,
)

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
COMMON = rk.CommonLink(resistance="0 ohm")


# --- C46: windows of a heat-pump loop (manualshive.com manual 3752373 page 115) ------------------------------


def c46(ohms: float | None, *, ends: int = 1, controllers: int = 3, transceiver: rk.Transceiver = PLAIN) -> rk.Bus:
    """Loop controllers with one biasing unit [read], or controllers alone; shield as the common of all [read].

    5 V, three controllers, one terminator or two [assumed].
    """
    biased = rk.Node(name="biasing unit", terminations=END, biases=legs(ohms), common=COMMON) if ohms else None
    nodes = [device(number, transceiver, common=COMMON) for number in range(1, controllers + 1)]
    if biased is not None:
        nodes = [biased, *nodes]
    nodes[-1] = attrs.evolve(nodes[-1], terminations=END if ends == 2 else None)
    return at_one_place(nodes, reference_conductor=True, name="C46")


@pytest.mark.parametrize(("ohms", "ends"), [(240.0, 1), (120.0, 2)])
def test_c46_biased_loop_falls_inside_both_windows(ohms, ends):
    """One line 2.9 to 3.1 V and the other 1.9 to 2.1 V to shield [read]: at 5 V that takes R = 2 RT [derived]."""
    noninverting, inverting = line_voltages(c46(ohms, ends=ends), "device-2")
    assert 2.9 <= noninverting <= 3.1
    assert 1.9 <= inverting <= 2.1
    assert (noninverting + inverting) / 2.0 == pytest.approx(2.5, abs=1e-4)
    assert 800.0 <= idle_millivolts(c46(ohms, ends=ends), "device-2") <= 1200.0


def test_c46_unbiased_loop_stands_at_mid_supply_on_both_lines():
    """2.4 to 2.5 V on both when only controllers are connected [read]; inputs pull to half of 5 V, or of 4.8 V."""
    for supply, volts in (("5 V", 2.5), ("4.8 V", 2.4)):
        bus = c46(None, ends=2, transceiver=attrs.evolve(PLAIN, supply_voltage=supply))
        for name in ("device-1", "device-3"):
            assert line_voltages(bus, name) == (exactly(volts), exactly(volts))
        assert verdict(bus, UNDEFINED) == "fail"


def test_c46_inputs_referred_to_0_v_would_call_a_healthy_loop_shorted():
    """The simple model reads 0 V on both lines, which the maker's page takes for a short: it is not the default."""
    assert line_voltages(c46(None, transceiver=SIMPLE), "device-1") == (pytest.approx(0.0, abs=1e-9),) * 2


def test_c46_short_between_the_lines_reads_alike_on_both_and_not_0_v():
    """Biased and shorted: both lines at 2.5 V, the reading of an unbiased loop; only the difference tells."""
    bus = c46(240.0)
    shorted = bus.replace_node(attrs.evolve(bus.node("device-2"), terminations=rk.Termination(resistance="1 ohm")))
    noninverting, inverting = line_voltages(shorted, "device-2")
    assert noninverting == pytest.approx(2.5, abs=0.01)
    assert noninverting - inverting < 0.015


def test_c46_two_loops_crossed_cancel_to_mid_supply():
    """Too high or too low means a damaged driver or two loops crossed [read]: crossed, both lines read 2.5 V."""
    nodes = [
        rk.Node(name="first", terminations=END, biases=legs(240.0), common=COMMON),
        rk.Node(name="second", biases=legs(240.0, reversed=True), common=COMMON),
        device(1, PLAIN, common=COMMON),
    ]
    both = line_voltages(at_one_place(nodes, reference_conductor=True), "device-1")
    assert both == (pytest.approx(2.5, abs=1e-4), pytest.approx(2.5, abs=1e-4))


@waits_for("commissioning.expected_readings")
def test_c46_readings_are_predicted_with_the_point_they_are_measured_against():
    """3.0 and 2.0 V to shield when biased, 2.4 to 2.5 V when not, and another figure on average while traffic runs."""
    assert rk.commissioning.expected_readings(c46(240.0))


@pytest.mark.parametrize("volts", [3.3, 5.0])
@pytest.mark.parametrize("ohms", [120.0, 390.0, 680.0, 4700.0])
def test_lines_of_any_even_bias_stand_about_half_of_its_supply(volts, ohms):
    """(V_plus + V_minus) / 2 = V/2 where the inputs pull to half of the same supply, and V/2 +- Vd/2 on the lines."""
    nodes = [
        rk.Node(name="head", terminations=END, biases=legs(ohms, volts), common=COMMON),
        device(1, attrs.evolve(PLAIN, supply_voltage=volts), common=COMMON),
    ]
    bus = at_one_place(nodes, reference_conductor=True)
    noninverting, inverting = line_voltages(bus, "device-1")
    assert noninverting + inverting == pytest.approx(volts, rel=1e-4)
    assert noninverting - inverting == pytest.approx(1e-3 * idle_millivolts(bus, "device-1"), rel=1e-9)


# --- C48: four line levels, receiver mute with 300 ohm across (e2e.ti.com isolation forum thread 532799) --------------

MEASURED = {
    "A": ((2.52, 1.32), (2.28, 1.16)),
    "B": ((1.99, 1.16), (1.70, 0.88)),
    "B without 300 ohm": ((2.04, 1.14), (1.72, 0.82)),
}
COMPLEMENTARY = {"A": (1.36, -0.96), "B": (1.11, -0.54), "B without 300 ohm": (1.22, -0.58)}
TOGETHER = {"A": (0.24, 0.16), "B": (0.29, 0.28), "B without 300 ohm": (0.32, 0.32)}


def c48(module: str) -> rk.Bus:
    """An isolated receiver [read] and a module that gives it the smaller of the levels measured there.

    The levels are those of complementary lines [derived]; the driver holds them [assumed].
    """
    level = min(abs(each) for each in COMPLEMENTARY[module])
    sender = part(1.0, open_voltage=level, inner=0.0)
    nodes = [rk.Node(name="module", transceiver=sender, receives=False), rk.Node(name="receiver", transceiver=PLAIN)]
    return at_one_place(nodes, name="C48")


@pytest.mark.parametrize("module", MEASURED)
def test_c48_both_readings_of_the_four_levels(module):
    """Complementary: +1.36/-0.96, +1.11/-0.54, +1.22/-0.58 V; high and low together: never negative [derived]."""
    (high, low), (other_high, other_low) = MEASURED[module]
    assert [high - other_low, low - other_high] == [exactly(each) for each in COMPLEMENTARY[module]]
    assert [high - other_high, low - other_low] == [exactly(each) for each in TOGETHER[module]]


@pytest.mark.parametrize("module", MEASURED)
def test_c48_levels_of_complementary_lines_are_legal_and_explain_nothing(module):
    """All are beyond +-200 mV: the library must call none of them a fault of level, not even the one that failed."""
    levels = rk.analysis.driven_levels(c48(module)).between("module", "receiver")
    assert levels.nominal_margin == pytest.approx(min(abs(each) for each in COMPLEMENTARY[module]) - 0.2, abs=1e-3)
    assert levels.nominal_margin > 0.3
    assert "fail" not in {each.verdict for each in findings(c48(module), "driving.")}


@waits_for("commissioning.diagnose: readings that decide nothing")
def test_c48_answer_is_undetermined():
    """Needed: the two lines against each other in time. If both were high together, B stuck high is expected, but A
    would fail too; so neither explanation may be claimed."""
    assert rk.commissioning.diagnose
