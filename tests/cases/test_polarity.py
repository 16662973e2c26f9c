"""Topic B, polarity: C06, C07.

Both letters that makers print beside the lines are used in both senses; here a line is noninverting or inverting.
"""

import attrs
import pytest
from case_parts import (
    END,
    PLAIN,
    SIMPLE,
    WEIGHTLESS,
    at_one_place,
    device,
    exactly,
    findings,
    idle_millivolts,
    legs,
    printed,
    verdict,
    verdicts,
    waits_for,
)
from hypothesis import given, settings
from hypothesis import strategies as st

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
SEVERAL = "idle.bias-in-several-places"
TOO_LOW = "driving.level-too-low"
OPPOSED = "idle.bias-reversed"
# what the 0.1 mohm from node to node take
MICROVOLTS = 2e-5


# --- C06: bias on the wrong lines, a second, crossed module "repairs" the bus (repo esp32ModbusRTU #20) ----


def c06(*, second: bool = False, pulls: float = 20e3, part: rk.Transceiver = SIMPLE) -> rk.Bus:
    """Controller whose module has its bias the wrong way round [read], one meter [read], no terminator [assumed].

    Pulls of 20 kohm [read as the usual value of such modules], 5 V [assumed]. The second module is of the same make,
    hung on with its lines crossed [read], so that its bias comes out the right way round.
    """
    wrong = legs(pulls, reversed=True)
    nodes = [rk.Node(name="controller", transceiver=part, biases=wrong), rk.Node(name="meter", transceiver=part)]
    if second:
        nodes.append(rk.Node(name="second", transceiver=part, biases=wrong, lines_swapped=True))
    return at_one_place(nodes, name="C06")


@pytest.mark.parametrize("part", [SIMPLE, PLAIN], ids=["inputs to 0 V", "to half the supply"])
def test_c06_inverted_bias_holds_the_pair_at_a_steady_space(part):
    """Idle -1.15 V with 20 kohm pulls and two unit loads [derived]: receivers read a start bit that never ends."""
    bus = c06(part=part)
    assert idle_millivolts(bus, "meter") == printed(-1150, last=10)
    assert verdicts(bus, UNDEFINED) == {"controller": "fail", "meter": "fail"}
    assert all("wrong way round" in each.remedy for each in findings(bus, UNDEFINED))


def test_c06_the_same_with_680_ohm_at_3_volts_and_a_terminator():
    """-268 mV: 680 ohm, 3.3 V, 120 ohm, inputs that draw nothing [derived]."""
    nodes = [
        rk.Node(name="controller", transceiver=WEIGHTLESS, terminations=END, biases=legs(680.0, 3.3, reversed=True)),
        rk.Node(name="meter", transceiver=WEIGHTLESS),
    ]
    assert idle_millivolts(at_one_place(nodes), "meter") == printed(-268)


def test_c06_second_module_does_not_repair_but_cancels():
    """One set each way, of equal size: 0 mV [derived], undefined for every receiver, and marked as two sets."""
    bus = c06(second=True)
    for name in ("controller", "meter", "second"):
        assert idle_millivolts(bus, name) == pytest.approx(0.0, abs=1e-4)
    assert set(verdicts(bus, UNDEFINED).values()) == {"fail"}
    (several,) = findings(bus, SEVERAL)
    assert several.verdict == "marginal"
    assert "controller" in several.message
    assert "second" in several.message


def test_c06_without_its_supply_the_second_module_helps_no_more():
    """Gone when that module lost power [read]: its pulls then only load the pair, which stands at space again."""
    level = idle_millivolts(c06(second=True), "meter", unpowered=("second",))
    assert idle_millivolts(c06(), "meter") < level < -200.0


def test_c06_cured():
    bus = c06()
    right = bus.replace_node(attrs.evolve(bus.node("controller"), biases=legs(20e3)))
    assert idle_millivolts(right, "meter") == printed(1150, last=10)
    assert verdict(right, UNDEFINED) != "fail"


def test_c06_opposed_sets_are_named_both():
    """Wording to aim at: bias sets at node X and node Y oppose."""
    (found,) = findings(c06(second=True), OPPOSED)
    assert found.verdict == "fail"
    assert found.where.names == ("controller",)
    assert "controller and node second oppose" in found.message


def test_c06_inverted_set_alone_is_named_and_a_right_one_is_not():
    bus = c06()
    assert verdicts(bus, OPPOSED) == {"controller": "fail"}
    right = bus.replace_node(attrs.evolve(bus.node("controller"), biases=legs(20e3)))
    assert verdict(right, OPPOSED) == "pass"


# --- the kind: polarity of bias, at any size ---------------------------------------------------------------

OHMS = st.floats(100.0, 1e5)
VOLTS = st.floats(1.8, 12.0)


def biased(*sets: rk.Bias, loads: int = 2, ended: bool = True) -> rk.Bus:
    nodes = [device(number, WEIGHTLESS, biases=each) for number, each in enumerate(sets, 1)]
    nodes += [device(number, SIMPLE, terminations=END if ended else None) for number in range(11, 11 + loads)]
    return at_one_place(nodes)


@settings(max_examples=15, deadline=None)
@given(ohms=OHMS, volts=VOLTS, loads=st.integers(1, 8), ended=st.booleans())
def test_reversed_set_gives_the_level_of_a_right_one_with_its_sign_changed(ohms, volts, loads, ended):
    right, wrong = (
        rk.analysis.idle_levels(biased(legs(ohms, volts, reversed=turned), loads=loads, ended=ended)).at("device-1")
        for turned in (False, True)
    )
    assert right.voltage.nominal > 0.0
    assert wrong.voltage.nominal == exactly(-right.voltage.nominal)
    assert wrong.margin < -wrong.threshold


@settings(max_examples=15, deadline=None)
@given(first=OHMS, second=OHMS, volts=VOLTS)
def test_of_two_opposed_sets_the_stronger_wins_by_the_difference(first, second, volts):
    """Vd = V (1/R1 - 1/R2) / (1/R1 + 1/R2 + n/12k + 2/RT), by symmetry; nothing where the two are equal."""
    idle = rk.analysis.idle_levels(biased(legs(first, volts), legs(second, volts, reversed=True)))
    level = volts * (1 / first - 1 / second) / (1 / first + 1 / second + 2 / 12e3 + 2 / 60.0)
    assert idle.lumped == exactly(level)
    assert idle.at("device-1").voltage.nominal == pytest.approx(level, rel=2e-4, abs=MICROVOLTS)


@pytest.mark.parametrize(
    "swapped", [("device-11",), ("device-11", "device-12"), ("device-1", "device-11", "device-12")]
)
def test_a_swapped_node_alone_hears_the_bus_upside_down(swapped):
    """Where all are crossed alike, none is."""
    bus = biased(legs(560.0))
    for name in swapped:
        bus = bus.replace_node(attrs.evolve(bus.node(name), lines_swapped=True))
    normal = rk.analysis.idle_levels(biased(legs(560.0)))
    turned = rk.analysis.idle_levels(bus)
    assert verdict(bus, OPPOSED) == ("fail" if swapped == ("device-11", "device-12") else "pass")
    for name in normal.nodes:
        sign = 1.0 if (name in swapped) == ("device-1" in swapped) else -1.0
        assert turned.at(name).voltage.nominal == exactly(sign * normal.at(name).voltage.nominal)


# --- C07: solar logger, pair reversed (repo eversolar-monitor #44) -----------------------------------------


def c07(*, reader_swapped: bool) -> rk.Bus:
    """A logger's pair [read], 120 ohm and 680/680 at 5 V [assumed], and a converter that reads it reversed [read]."""
    nodes = [
        rk.Node(name="logger", transceiver=PLAIN, terminations=END, biases=legs(680.0)),
        rk.Node(name="inverter", transceiver=PLAIN),
        rk.Node(name="reader", transceiver=PLAIN, lines_swapped=reader_swapped),
    ]
    return at_one_place(nodes, name="C07")


def test_c07_reader_takes_every_level_for_its_opposite():
    """FF is printed where 00 is expected [read]: marks arrive as spaces of the same size and spaces as marks."""
    right, wrong = (rk.analysis.driven_levels(c07(reader_swapped=turned)) for turned in (False, True))
    heard, meant = wrong.between("logger", "reader"), right.between("logger", "reader")
    assert meant.nominal_margin > 0.0
    assert heard.mark.nominal == exactly(-meant.mark.nominal)
    assert heard.space.nominal == exactly(-meant.space.nominal)
    assert heard.nominal_margin == exactly(-max(meant.mark.nominal, -meant.space.nominal) - 0.2)
    unhurt = [each.between("logger", "inverter").nominal_margin for each in (right, wrong)]
    assert unhurt[0] == exactly(unhurt[1])


def test_c07_reader_alone_idles_low_and_is_told_to_look_at_the_lines():
    bus = c07(reader_swapped=True)
    assert idle_millivolts(bus, "reader") == pytest.approx(-idle_millivolts(bus, "logger"), rel=1e-4)
    (found,) = (each for each in findings(bus, UNDEFINED) if each.verdict == "fail")
    assert found.where.names == ("reader",)
    assert "polarity" in found.remedy


def test_c07_every_driver_fails_at_the_reader_and_the_reader_at_all_others():
    """For each driver the worst receiver is told: the reader, and to the reader one of the others."""
    failing = [each for each in findings(c07(reader_swapped=True), TOO_LOW) if each.verdict == "fail"]
    assert {each.where.names[0] for each in failing} == {"logger", "inverter", "reader"}
    assert all("reader" in each.where.names for each in failing)
    assert all("polarity" in each.remedy for each in failing)
    assert "fail" not in verdicts(c07(reader_swapped=False), TOO_LOW).values()


@waits_for("commissioning.diagnose: byte patterns")
def test_c07_frames_on_a_reversed_pair_give_the_printed_bytes():
    """aa 55 01 00 00 00 10 04 00 01 14 and aa 55 01 00 00 00 10 00 00 01 10 [assumed], sent on an inverted pair and
    read as 8N1 without gaps, give exactly 95 55 ff ff ff df f7 ff fd d7 00 and 95 55 ff ff ff df ff ff fd df 00 [read].

    They are the logger's own requests: the reader saw an echo, not the inverter.
    """
    assert rk.commissioning.diagnose
