"""Rules on termination, driven levels and bias: for each a bus that fires it, one that passes, one that lacks data."""

import attrs
import pytest

from rs485kit import (
    Analyses,
    Bias,
    Bus,
    Cable,
    Link,
    Node,
    Policy,
    Segment,
    Termination,
    Transceiver,
    analysis,
    check,
    daisy_chain,
)
from rs485kit.errors import InputError, RuleError
from rs485kit.rules import RESERVED_PREFIXES, built_in, rule

RULES = {each.name: each for each in built_in()}
HEADINGS = ["What it checks", "Why it matters", "Limit and source", "When to waive"]
MINE = [
    name for name in RULES
    if name.startswith(("termination.", "driving.")) or name in ("idle.bias-reversed", "idle.bias-supply-lost", "idle.level-undefined")
]  # fmt: skip

PART = Transceiver(
    name="eighth load", unit_load=0.125, supply_voltage="5 V", driver_open_voltage=("1.5 V", "3.5 V", "5 V"),
    driver_loaded_voltage=("1.5 V", "2.2 V", "5 V"), receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV",
)  # fmt: skip
PAIR = Cable(name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm", velocity_factor=0.66)
END = Termination(resistance="120 ohm")
BIAS = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
SLOW, FAST = Link(data_rate="9600 bit/s"), Link(data_rate="1 Mbit/s")
NAMES = ("pump-house", "gate-1", "gate-2", "weir", "gauge")


def chain(*nodes, spacing="50 m", cable=PAIR, link=SLOW, **fields):
    """A chain of nodes given as mappings; the outer two end the line."""
    made = [Node(**{"name": name, "transceiver": PART, **node}) for name, node in zip(NAMES, nodes, strict=False)]
    return daisy_chain(made, spacing=spacing, cable=cable, link=link, name="canal", **fields)


def ended(*middle, **fields):
    """The same with a terminator at either end."""
    return chain({"terminations": END}, *middle, {"terminations": END}, **fields)


def found(name, bus, **settings):
    """What one rule gives, by the places: verdict and finding."""
    return {" ".join(each.where.names) or "bus": each for each in RULES[name](Analyses(bus), settings=settings)}


def verdicts(name, bus, **settings):
    """The verdicts of one rule by the names of their places."""
    return {place: each.verdict for place, each in found(name, bus, **settings).items()}


# --- bad input -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "settings", "word"),
    [
        ("termination.end-unterminated", {"round_trips": "3 m"}, "round_trips"),
        ("termination.end-unterminated", {"bit_share": True}, "bit_share"),
        ("termination.mismatched", {"most": "0.2 ohm"}, "most"),
        ("termination.rc-too-small", {"delays": "4 ns"}, "delays"),
        ("termination.too-many", {"most": 3}, "most"),
        ("driving.level-too-low", {"reserve": 2}, "reserve"),
        ("idle.bias-reversed", {"limit": 1}, "limit"),
    ],
)
def test_wrong_setting_is_named(name, settings, word):
    with pytest.raises(InputError, match=word):
        check(ended({}), policy=Policy(settings={name: settings}))


@pytest.mark.parametrize("prefix", ["termination", "driving", "idle"])
def test_prefixes_are_reserved(prefix):
    assert prefix in RESERVED_PREFIXES
    with pytest.raises(RuleError, match="reserved for the library"):
        check(ended({}), rules=[rule(f"{prefix}.mine", title="Mine", basis="house")(lambda analyses: [])])


@pytest.mark.parametrize("name", MINE)
def test_documentation_has_its_headings_in_order(name):
    lines = RULES[name].documentation.splitlines()
    assert [line for line in lines if line in HEADINGS] == HEADINGS
    assert lines[0].endswith(".")


@pytest.mark.parametrize("name", MINE)
def test_bus_without_any_device_gives_no_error(name):
    tap = Node(name="tap")
    assert not check(Bus(nodes=tap), policy=Policy(select=name)).plugin_errors
    assert not check(daisy_chain([tap, Node(name="other")], spacing="1 m"), policy=Policy(select=name)).plugin_errors


# --- termination.end-unterminated ------------------------------------------------------------------------------------

OPEN_END = "termination.end-unterminated"


def test_open_end_of_a_fast_bus_is_marginal_and_never_a_failure():
    bus = chain({"terminations": END}, {}, spacing="1 km", link=FAST)
    (open_end,) = found(OPEN_END, bus).values()
    assert (open_end.verdict, open_end.where.names) == ("marginal", ("gate-1",))
    assert open_end.measured == pytest.approx(6e3 / (0.66 * 299_792_458.0))
    assert open_end.limit == pytest.approx(0.5e-6)
    assert "do not fit into 50 % of a bit at 1 Mbit/s" in open_end.message


def test_open_ends_of_a_slow_short_bus_pass_by_custom_and_say_so():
    (kept,) = check(chain({}, {}), policy=Policy(select=OPEN_END)).findings
    assert kept.verdict == "pass"
    assert "3 round trips over 50 m" in kept.message
    assert "by custom it needs none" in kept.message


@pytest.mark.parametrize(("rate", "length"), [("19.2 kbit/s", 853), ("38.4 kbit/s", 427), ("115.2 kbit/s", 143)])
def test_custom_agrees_with_the_table_of_a_maker_to_a_hundredth(rate, length):
    """19200: 853 m, 38400: 427, 115200: 143 m without terminators, as a device limit article prints."""
    link = Link(data_rate=rate)
    assert set(verdicts(OPEN_END, chain({}, {}, spacing=0.99 * length, link=link)).values()) == {"pass"}
    assert set(verdicts(OPEN_END, chain({}, {}, spacing=1.02 * length, link=link)).values()) == {"marginal"}


def test_terminated_ends_pass_whatever_else_is_stated():
    assert verdicts(OPEN_END, ended({}, link=None, cable=attrs.evolve(PAIR, velocity_factor=None))) == {"bus": "pass"}


@pytest.mark.parametrize(
    ("fields", "missing"),
    [
        ({"link": None}, ("link.data_rate",)),
        ({"link": Link()}, ("link.data_rate",)),
        ({"cable": attrs.evolve(PAIR, velocity_factor=None)}, ('cable "pair" velocity_factor',)),
        ({"cable": None}, ('segments["pump-house" - "gate-1"].cable',)),
    ],
)
def test_open_end_that_cannot_be_judged_is_unknown(fields, missing):
    unknown = found(OPEN_END, chain({"terminations": END}, {}, **fields))["gate-1"]
    assert (unknown.verdict, unknown.missing) == ("unknown", missing)
    assert "carries no terminator" in unknown.message


def test_slowest_wave_decides_about_the_pass():
    cable = attrs.evolve(PAIR, velocity_factor=(0.5, 0.66, 0.7))
    assert verdicts(OPEN_END, chain({}, {}, spacing="800 m", cable=cable, link=Link(data_rate="19.2 kbit/s"))) == {
        "pump-house": "marginal", "gate-1": "marginal",
    }  # fmt: skip
    typical = attrs.evolve(PAIR, velocity_factor=(None, 0.66, None))
    assert set(verdicts(OPEN_END, chain({}, {}, cable=typical)).values()) == {"unknown"}


def test_remedy_of_an_open_end():
    off = attrs.evolve(END, engaged=False)
    assert "engage" in found(OPEN_END, chain({"terminations": END}, {"terminations": off}))["gate-1"].remedy
    assert "fit a terminator" in found(OPEN_END, chain({}, {}))["gate-1"].remedy
    bus = ended({}).with_node(Node(name="branch", transceiver=PART), to="gate-1", length="60 m")
    assert "there and back" not in found(OPEN_END, bus)["branch"].remedy
    assert "lead the trunk to this place" in found(OPEN_END, bus)["branch"].remedy


def test_settings_of_the_custom():
    bus = chain({}, {}, spacing="400 m", link=Link(data_rate="38.4 kbit/s"))
    assert set(verdicts(OPEN_END, bus).values()) == {"pass"}
    assert set(verdicts(OPEN_END, bus, round_trips=5).values()) == {"marginal"}
    assert set(verdicts(OPEN_END, bus, bit_share="40 %").values()) == {"marginal"}


# --- termination.too-many --------------------------------------------------------------------------------------------

TOO_MANY = "termination.too-many"


def test_third_terminator_in_mid_line_is_named_with_what_it_reflects():
    bus = ended({"terminations": END})
    assert verdicts(TOO_MANY, bus) == {"bus": "marginal", "gate-1": "marginal"}
    assert "33.3 % of every edge" in found(TOO_MANY, bus)["gate-1"].message
    assert "pump-house, gate-1, gate-2" in found(TOO_MANY, bus)["bus"].message


def test_doubled_terminator_is_named():
    bus = chain({"terminations": (END, END)}, {})
    assert verdicts(TOO_MANY, bus) == {"bus": "pass", "pump-house": "marginal"}
    assert "2 terminators are engaged at pump-house, at one end: 60 ohm" in found(TOO_MANY, bus)["pump-house"].message


def test_terminator_on_a_stub_is_named_also_where_the_impedance_is_not_stated():
    bus = ended({}, cable=attrs.evolve(PAIR, characteristic_impedance=None))
    bus = bus.with_node(Node(name="stub", transceiver=PART, terminations=END), to="gate-1", length="3 m")
    assert verdicts(TOO_MANY, bus)["stub"] == "marginal"
    assert "on a stub of 3 m" in found(TOO_MANY, bus)["stub"].message


def test_two_terminators_at_the_ends_pass_and_none_is_not_judged():
    assert verdicts(TOO_MANY, ended({"biases": BIAS})) == {"bus": "pass"}
    assert verdicts(TOO_MANY, ended({"terminations": attrs.evolve(END, engaged=False)})) == {"bus": "pass"}
    assert verdicts(TOO_MANY, chain({}, {})) == {}


# --- termination.driver-overloaded -----------------------------------------------------------------------------------

OVERLOADED = "termination.driver-overloaded"


def test_seven_terminated_runs_overload_every_driver_by_custom_alone():
    """Seven runs, each with 120 ohm: 17.1 ohm at zero length."""
    hub = Node(name="hub")
    runs = [Node(name=f"run-{n}", transceiver=attrs.evolve(PART, unit_load=0), terminations=END) for n in range(7)]
    segments = [Segment(start="hub", end=run.name, length="1 mm", cable=PAIR) for run in runs]
    bus = Bus(nodes=[hub, *runs], segments=segments)
    assert set(verdicts(OVERLOADED, bus).values()) == {"marginal"}
    assert found(OVERLOADED, bus)["run-0"].measured == pytest.approx(120 / 7, abs=1e-3)


def test_part_that_states_its_own_least_load_fails_below_it():
    weak, strong = (attrs.evolve(PART, driver_least_load=ohms) for ohms in ("100 ohm", "30 ohm"))
    bus = ended({"transceiver": weak}, {"transceiver": strong}, spacing="1 m")
    seen = verdicts(OVERLOADED, bus)
    assert (seen["gate-1"], seen["gate-2"]) == ("fail", "pass")


def test_nominal_load_that_only_tolerances_take_below_54_ohm_is_marginal():
    end = attrs.evolve(END, resistance="112 ohm +/- 5 %")
    bus = chain({"terminations": end}, {"terminations": end}, spacing="1 m")
    overloaded = found(OVERLOADED, bus)["gate-1"]
    assert overloaded.verdict == "marginal"
    assert overloaded.measured > 54.0 > overloaded.bound


def test_standard_bus_passes_and_bare_pair_too():
    assert set(verdicts(OVERLOADED, ended({"biases": BIAS})).values()) == {"pass"}
    assert set(verdicts(OVERLOADED, chain({}, {})).values()) == {"pass"}
    assert verdicts(OVERLOADED, chain({"drives": False}, {"drives": False})) == {}


def test_load_without_cable_or_limits_is_unknown():
    assert verdicts(OVERLOADED, ended({}, cable=None)) == {"bus": "unknown"}
    assert "cable" in found(OVERLOADED, ended({}, cable=None))["bus"].message
    typical = attrs.evolve(END, resistance=(None, 120, None))
    assert verdicts(OVERLOADED, chain({"terminations": typical}, {}))["gate-1"] == "unknown"


@pytest.mark.parametrize(
    ("rating", "verdict"), [("10 mA", "fail"), ("50 mA", "marginal"), ("250 mA", "pass"), (None, "pass")]
)
def test_current_is_judged_where_the_part_states_a_rating(rating, verdict):
    bus = ended({"transceiver": attrs.evolve(PART, driver_current=rating)})
    given = [each for each in RULES[OVERLOADED](Analyses(bus)) if each.where.names == ("gate-1",)]
    assert [each.quantity for each in given] == ["load of the driver", "output current through the pair"][: 2 if rating else 1]
    assert given[-1].verdict == verdict


def test_current_of_a_driver_without_levels_is_unknown():
    silent = attrs.evolve(PART, driver_current="60 mA", driver_open_voltage=None)
    given = [each for each in RULES[OVERLOADED](Analyses(ended({"transceiver": silent}))) if each.where.names == ("gate-1",)]
    assert [each.verdict for each in given] == ["pass", "unknown"]
    assert "driver_open_voltage" in given[1].missing[0]


# --- termination.mismatched ------------------------------------------------------------------------------------------

MISMATCHED = "termination.mismatched"


@pytest.mark.parametrize(
    ("ohms", "impedance", "verdict"),
    [(120, 100, "pass"), (120, 90, "pass"), (120, 150, "pass"), (100, 120, "pass"), (220, 120, "marginal"), (60, 120, "marginal")],
)
def test_terminator_against_its_cable(ohms, impedance, verdict):
    bus = chain({"terminations": Termination(resistance=ohms)}, {}, cable=attrs.evolve(PAIR, characteristic_impedance=impedance))
    assert verdicts(MISMATCHED, bus) == {"pump-house": verdict}
    assert found(MISMATCHED, bus)["pump-house"].measured == pytest.approx(abs(ohms - impedance) / (ohms + impedance))


def test_limits_of_cable_and_terminator_count():
    cable = attrs.evolve(PAIR, characteristic_impedance=("85 ohm", "100 ohm", "120 ohm"))
    assert verdicts(MISMATCHED, chain({"terminations": END}, {}, cable=cable)) == {"pump-house": "pass"}
    assert verdicts(MISMATCHED, chain({"terminations": attrs.evolve(END, resistance=135)}, {}, cable=cable)) == {"pump-house": "marginal"}


def test_unstated_impedance_is_one_unknown():
    bus = ended({}, cable=attrs.evolve(PAIR, characteristic_impedance=None))
    assert verdicts(MISMATCHED, bus) == {"bus": "unknown"}
    assert found(MISMATCHED, bus)["bus"].missing == ('cable "pair" characteristic_impedance',)
    typical = ended({}, cable=attrs.evolve(PAIR, characteristic_impedance=(None, 120, None)))
    assert set(verdicts(MISMATCHED, typical).values()) == {"unknown"}


def test_what_is_not_at_an_end_is_not_judged():
    assert verdicts(MISMATCHED, chain({}, {"terminations": Termination(resistance=10)}, {})) == {}


def test_setting_of_the_largest_reflection():
    bus = chain({"terminations": END}, {}, cable=attrs.evolve(PAIR, characteristic_impedance="100 ohm"))
    assert verdicts(MISMATCHED, bus, most="5 %") == {"pump-house": "marginal"}


# --- termination.resistor-too-hot ------------------------------------------------------------------------------------

HOT = "termination.resistor-too-hot"


def test_bias_leg_that_may_take_282_mw_is_too_small_a_quarter_watt():
    bus = ended({"biases": attrs.evolve(BIAS, power="0.25 W")})
    given = RULES[HOT](Analyses(bus))
    assert [each.verdict for each in given] == ["marginal", "marginal"]
    assert "282.4 mW" in given[0].message
    assert [each.verdict for each in RULES[HOT](Analyses(ended({"biases": attrs.evolve(BIAS, power="0.5 W")})))] == ["pass"] * 2


def test_resistor_that_is_too_hot_in_a_nominal_state_fails():
    end = attrs.evolve(END, power="20 mW")
    assert [each.verdict for each in RULES[HOT](Analyses(chain({"terminations": end}, {"terminations": END})))] == ["fail"]


def test_only_what_is_rated_is_judged():
    assert RULES[HOT](Analyses(ended({"biases": BIAS}))) == []
    rated = chain({"terminations": attrs.evolve(END, power="1 W")}, {"terminations": END})
    assert [each.where.names for each in RULES[HOT](Analyses(rated))] == [("pump-house",)]


def test_heat_that_is_not_known_of_a_rated_resistor_is_unknown():
    silent = attrs.evolve(PART, driver_open_voltage=None)
    bus = chain({"terminations": attrs.evolve(END, power="1 W")}, {"transceiver": silent})
    (unknown,) = RULES[HOT](Analyses(bus))
    assert unknown.verdict == "unknown"
    assert any("gate-1: transceiver.driver_open_voltage" in each for each in unknown.missing)


# --- termination.rc-too-small ----------------------------------------------------------------------------------------

RC_SMALL = "termination.rc-too-small"


def with_rc(capacitance, **fields):
    rc = Termination(resistance="120 ohm", capacitance=capacitance)
    return chain({"terminations": rc}, {}, spacing="100 m", **fields)


def test_one_nanofarad_is_no_match_for_a_long_line():
    """R C > 4 delays takes 16.7 nF for 100 m at 120 ohm (at two thirds of the speed of light)."""
    bus = with_rc("1 nF", link=Link(data_rate="19.2 kbit/s"))
    assert verdicts(RC_SMALL, bus) == {"pump-house": "marginal"}
    assert "0.23 % of a bit at 19.2 kbit/s" in found(RC_SMALL, bus)["pump-house"].message
    assert verdicts(RC_SMALL, with_rc("16 nF")) == {"pump-house": "marginal"}
    assert verdicts(RC_SMALL, with_rc("17.2 nF")) == {"pump-house": "pass"}
    assert verdicts(RC_SMALL, with_rc(("16 nF", "18 nF", "20 nF"))) == {"pump-house": "marginal"}


def test_rc_terminator_without_velocity_is_unknown_and_others_are_not_judged():
    unknown = found(RC_SMALL, with_rc("10 nF", cable=attrs.evolve(PAIR, velocity_factor=None), link=None))["pump-house"]
    assert (unknown.verdict, unknown.missing) == ("unknown", ('cable "pair" velocity_factor',))
    assert verdicts(RC_SMALL, ended({})) == {}


# --- driving.level-too-low -------------------------------------------------------------------------------------------

LOW = "driving.level-too-low"


def test_level_that_misses_nominally_fails_at_the_worst_receiver():
    bus = ended({"biases": attrs.evolve(BIAS, pull_up="270 ohm", pull_down="270 ohm")}, spacing="1.5 km")
    levels = analysis.driven_levels(bus)
    seen = found(LOW, bus)
    missed = [row.min() < 0 for row in levels.nominal_margin]
    assert [each.verdict == "fail" for each in seen.values()] == missed
    assert sum(missed) == 2
    for driver, row in zip(levels.drivers, levels.nominal_margin, strict=True):
        if row.min() < 0:
            assert f"{driver} {levels.receivers[int(row.argmin())]}" in seen


def test_short_bus_passes_with_one_finding_for_each_driver():
    bus = ended({"biases": BIAS})
    seen = found(LOW, bus)
    assert {each.where.names[0] for each in seen.values()} == {"pump-house", "gate-1", "gate-2"}
    assert {each.verdict for each in seen.values()} == {"pass"}
    assert all(each.where.kind == "path" for each in seen.values())


def test_crossed_receiver_fails_on_every_path_and_is_told_to_look_at_the_lines():
    seen = found(LOW, ended({"lines_swapped": True}))
    assert {place: each.verdict for place, each in seen.items()} == {
        "pump-house gate-1": "fail", "gate-1 pump-house": "fail", "gate-2 gate-1": "fail",
    }  # fmt: skip
    assert all("polarity" in each.remedy for each in seen.values())


def test_proved_level_that_misses_is_marginal():
    seen = found(LOW, ended({"biases": BIAS}, spacing="1.2 km"))
    assert {each.verdict for each in seen.values()} >= {"marginal"}
    worst = min(seen.values(), key=lambda each: each.margin)
    assert worst.measured > worst.limit > worst.bound
    assert "guaranteed" in worst.message
    assert "space of" in worst.message


def test_receiver_with_threshold_below_zero_takes_the_other_threshold_into_account():
    failsafe = attrs.evolve(PART, receiver_upper_threshold="-10 mV")
    seen = found(LOW, ended({"transceiver": failsafe}))
    assert {each.verdict for each in seen.values()} == {"pass"}
    assert {each.limit for each in seen.values()} == {0.2}


def test_bus_that_states_no_driver_is_one_unknown():
    silent = attrs.evolve(PART, driver_open_voltage=None, driver_loaded_voltage=None)
    bus = chain(*[{"terminations": END, "transceiver": silent}] * 2)
    assert verdicts(LOW, bus) == {"bus": "unknown"}


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"driver_open_voltage": (None, 3.5, None)}, "pump-house: transceiver.driver_open_voltage (its max)"),
        ({"driver_loaded_voltage": (None, 2.2, None)}, "pump-house: transceiver.driver_loaded_voltage (its min)"),
        ({"receiver_lower_threshold": None}, "pump-house: transceiver.receiver_lower_threshold (its min)"),
    ],
)
def test_path_that_lacks_a_figure_is_unknown(fields, word):
    lacking = {"terminations": END, "transceiver": attrs.evolve(PART, **fields)}
    seen = found(LOW, chain(lacking, {"terminations": END}))
    unknown = next(each for place, each in seen.items() if place.startswith("pump-house"))
    assert unknown.verdict == "unknown"
    assert word in unknown.missing


def test_overloaded_driver_has_no_proved_level():
    """Below 54 ohm nobody guarantees a level: unknown, unless the part states its own least load."""
    four = (END, END)
    bus = chain({"terminations": four}, {"terminations": four}, spacing="1 m")
    assert set(verdicts(LOW, bus).values()) == {"unknown"}
    strong = {"terminations": four, "transceiver": attrs.evolve(PART, driver_least_load="25 ohm")}
    assert set(verdicts(LOW, chain(strong, strong, spacing="1 m")).values()) == {"pass"}


def test_nobody_drives_or_nobody_listens():
    assert verdicts(LOW, chain({"drives": False}, {"drives": False})) == {}
    assert verdicts(LOW, chain({"receives": False}, {"receives": False})) == {}


# --- idle.level-undefined --------------------------------------------------------------------------------------------

UNDEFINED = "idle.level-undefined"


def test_far_receiver_misses_though_the_lumped_formula_does_not():
    bus = chain({"terminations": END, "biases": BIAS}, {"terminations": END}, spacing="1.2 km")
    far = found(UNDEFINED, bus)["gate-1"]
    assert far.verdict == "fail"
    assert "146.9 mV" in far.message
    assert "which it misses nominally" in far.message
    assert "the lumped formula, which leaves out the cable, says 277.6 mV" in far.message


def test_level_that_only_the_adverse_common_mode_spoils_fails_and_says_so():
    bias = Bias(pull_up="640 ohm +/- 10 %", pull_down="640 ohm +/- 10 %", supply=("4.5 V", "5 V", "5.5 V"))
    end = attrs.evolve(END, resistance="120 ohm +/- 10 %")
    missed = found(UNDEFINED, chain({"terminations": end, "biases": bias}, {"terminations": end}, spacing="1 m"))["gate-1"]
    assert missed.verdict == "fail"
    assert "which it misses at the adverse common mode" in missed.message


def test_level_that_only_inputs_by_themselves_spoil_is_marginal():
    full = attrs.evolve(PART, unit_load=4.0)
    ends = {"terminations": END, "transceiver": full}
    missed = found(UNDEFINED, chain({**ends, "biases": BIAS}, ends, spacing="1 m"))["gate-1"]
    assert missed.verdict == "marginal"
    assert missed.measured > 0.22 > missed.bound
    assert "which it misses if every receiver input pulls its own way" in missed.message


def test_level_in_the_middle_of_a_short_bus_passes():
    seen = found(UNDEFINED, ended({"biases": BIAS}, spacing="1 m"))
    assert {each.verdict for each in seen.values()} == {"pass"}
    assert all("lumped" not in each.message for each in seen.values())


def test_limits_that_are_not_stated_make_a_level_unknown_but_no_nominal_miss_better():
    typical = Bias(pull_up=(None, 510, None), pull_down="510 ohm", supply="5 V")
    near, far = (found(UNDEFINED, ended({"biases": typical}, spacing=span)) for span in ("10 m", "5 km"))
    assert {each.verdict for each in near.values()} == {"unknown"}
    assert any("pull_up (its min)" in each for each in near["gate-1"].missing)
    assert far["pump-house"].verdict == "fail"


def test_unstated_threshold_is_unknown():
    silent = {"transceiver": attrs.evolve(PART, receiver_upper_threshold=None), "biases": BIAS}
    assert found(UNDEFINED, ended(silent))["gate-1"].verdict == "unknown"


# --- idle.bias-reversed ----------------------------------------------------------------------------------------------

REVERSED = "idle.bias-reversed"


def test_reversed_set_alone_fails_and_a_right_one_passes():
    assert verdicts(REVERSED, ended({"biases": attrs.evolve(BIAS, reversed=True)})) == {"gate-1": "fail"}
    assert verdicts(REVERSED, ended({"biases": BIAS})) == {"bus": "pass"}
    assert verdicts(REVERSED, ended({})) == {}


def test_opposed_sets_are_named_both():
    bus = ended({"biases": BIAS}, {"biases": attrs.evolve(BIAS, reversed=True)})
    (opposed,) = found(REVERSED, bus).values()
    assert opposed.where.names == ("gate-2",)
    assert "bias sets at node gate-2 and node gate-1 oppose" in opposed.message


def test_right_set_on_a_crossed_node_pulls_the_wrong_way():
    assert verdicts(REVERSED, ended({"biases": BIAS, "lines_swapped": True})) == {"gate-1": "fail"}
    turned = {"biases": attrs.evolve(BIAS, reversed=True), "lines_swapped": True}
    assert verdicts(REVERSED, ended(turned)) == {"bus": "pass"}


def test_bus_that_is_crossed_as_a_whole_is_not():
    end = {"terminations": END, "lines_swapped": True}
    assert verdicts(REVERSED, chain(end, {"biases": BIAS, "lines_swapped": True}, end)) == {"bus": "pass"}


def test_two_sets_on_one_node_may_oppose():
    bus = ended({"biases": (BIAS, attrs.evolve(BIAS, reversed=True))})
    assert verdicts(REVERSED, bus) == {"gate-1": "fail"}


def test_reversed_set_that_is_not_engaged_is_not_judged():
    assert verdicts(REVERSED, ended({"biases": attrs.evolve(BIAS, reversed=True, engaged=False)})) == {}


# --- idle.bias-supply-lost -------------------------------------------------------------------------------------------

LOST = "idle.bias-supply-lost"


def test_level_of_others_that_hangs_on_one_supply_is_marginal():
    half = Bias(pull_up="820 ohm", pull_down="820 ohm", supply="5 V")
    bus = ended({"biases": half}, {"biases": half})
    assert verdicts(LOST, bus) == {"gate-1": "marginal", "gate-2": "marginal"}
    assert "other receivers lose their defined level" in found(LOST, bus)["gate-1"].message


def test_two_sets_each_strong_enough_pass():
    assert verdicts(LOST, ended({"biases": BIAS}, {"biases": BIAS})) == {"bus": "pass"}


def test_single_source_is_told_and_passes():
    (told,) = found(LOST, ended({"biases": BIAS})).values()
    assert (told.verdict, told.where.names) == ("pass", ("gate-1",))
    assert "only gate-1 biases the bus: without its supply 2 other receivers lose" in told.message


def test_bus_without_a_powered_bias_is_not_judged():
    assert verdicts(LOST, ended({})) == {}
    assert verdicts(LOST, ended({"biases": attrs.evolve(BIAS, supply_on=False)})) == {}


def test_strongest_four_are_tried_of_many():
    weak = Bias(pull_up="47 kohm", pull_down="47 kohm", supply="5 V")
    nodes = [Node(name="ends", transceiver=PART, terminations=(END, END), biases=BIAS)]
    nodes += [Node(name=f"gate-{n}", transceiver=PART, biases=weak) for n in range(12)]
    bus = daisy_chain(nodes, spacing="1 m", cable=PAIR)
    analyses = Analyses(bus)
    assert [each.where.names for each in RULES[LOST](analyses)] == [("ends",)]
    # the bus as it is, and four nodes without supply in turn
    assert sum(isinstance(each, analysis.IdleLevels) for each in analyses.results) == 5


def test_supply_that_is_not_stated_is_unknown():
    bus = ended({"biases": attrs.evolve(BIAS, supply=None), "transceiver": attrs.evolve(PART, supply_voltage=None)})
    (unknown,) = check(bus, policy=Policy(select=LOST)).findings
    assert unknown.verdict == "unknown"


@pytest.mark.parametrize("threshold", [None, (None, "-50 mV", None)])
def test_receiver_with_no_stated_threshold_is_unknown_and_neither_undefined_nor_a_pass(threshold):
    blind = attrs.evolve(PART, receiver_upper_threshold=threshold)
    given = list(RULES[LOST](Analyses(ended({"biases": BIAS}, {"biases": BIAS, "transceiver": blind}))))
    assert [each.verdict for each in given] == ["unknown"]
    assert "gate-2" in given[0].message
    assert "receiver_upper_threshold" in given[0].missing[0]


# --- structure -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name, spans, where",
    [
        ("structure.ring", [("gate-1", "gate-2", 90), ("gate-2", "weir", 120), ("weir", "gate-1", 70)], "gate-2 - weir"),
        ("structure.ring", [("gate-1", "gate-2", 80), ("gate-2", "weir", 80), ("weir", "gate-1", 80)], "gate-2 - weir"),
        ("structure.disconnected", [("gate-1", "weir", 80), ("gate-2", "gauge", 80)], "gate-2"),
        ("structure.disconnected", [("gate-1", "weir", 80), ("weir", "gate-3", 80), ("gauge", "gate-2", 80)], "gate-2"),
    ],
)
def test_where_the_structure_is_wrong_hangs_on_no_order(name, spans, where):
    segments = [Segment(start=start, end=end, length=length, cable=PAIR) for start, end, length in spans]
    nodes = [Node(name=each, transceiver=PART) for each in dict.fromkeys(end for span in spans for end in span[:2])]
    for bus in (Bus(nodes=nodes, segments=segments), Bus(nodes=nodes[::-1], segments=segments[::-1])):
        (found,) = RULES[name](Analyses(bus))
        assert (found.verdict, str(found.where).split(" ", 1)[1]) == ("fail" if "dis" in name else "marginal", where)
