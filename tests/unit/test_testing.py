"""The room for authors of plugins: every fault of a rule or a part is caught, with the sentence that says what to do."""

import inspect
import itertools
import pickle
import random

import attrs
import pytest

import plugin_rules
import rs485kit as rk
from plugin_rules import PART, canal
from rs485kit.errors import InputError, Rs485kitError, RuleError
from rs485kit.model import Policy
from rs485kit.rules import Parameter, Rule
from rs485kit.tables import forms
from rs485kit.testing import ConformanceError, check_rule
from rs485kit.testing.edits import NOT_UNKNOWN, SUPPLIES, UNKNOWN_OBJECTS, lacking, limits_only, reordered, typical_only
from rs485kit.testing.trials import copied
from rs485kit.units import MinTypMax

DOCUMENTATION = inspect.cleandoc(plugin_rules.cable_too_thin.documentation)
NOT_LAID = rk.Place.segment("gate-1", "weir")
GOOD = canal()
THIN = canal(copper=("130 ohm/km", "138 ohm/km", "146 ohm/km"))
BARE = canal(cable=None)


def thin(bus):
    """Whether the first segment of a bus has too much resistance; None if that is not stated."""
    cable = bus.segments[0].cable
    if cable is None or cable.conductor_resistance is None or cable.conductor_resistance.max is None:
        return None
    return cable.conductor_resistance.max > 0.1


def judged(bus, verdict="fail", **fields):
    """What a rule of these tests finds on a bus; fields change the finding of a thin cable alone."""
    if thin(bus) is None:
        return rk.unknown(rk.Place.bus(), "the copper is not stated", missing=("conductor_resistance",))
    if not thin(bus):
        return rk.Finding(verdict="pass", where=rk.Place.bus(), message="the cable is thick enough")
    given = {"where": rk.Place.bus(), "message": "the cable is thin", "remedy": "lay a thicker one", **fields}
    return rk.Finding(verdict=verdict, **given)


def made(function, documentation=DOCUMENTATION, **fields):
    """A rule of a function, with the documentation of a good one."""
    function.__doc__ = documentation
    return rk.rule("canal.tried", **{"title": "A cable is thin", "basis": "house", **fields})(function)


def giving(**fields):
    """A rule that is right but for the form of its finding."""
    return made(lambda analyses: [judged(analyses.bus, **fields)])


def problems(rule, fires=THIN, passes=GOOD, **more):
    """What is wrong with a rule."""
    with pytest.raises(ConformanceError) as caught:
        check_rule(rule, fires=fires, passes=passes, **more)
    return caught.value.problems


def says(found, *parts):
    """Hold problems to one sentence at least that has all the parts."""
    assert any(all(part in each for part in parts) for each in found), found


# --- bad input -------------------------------------------------------------------------------------------


def test_what_is_no_rule_is_refused():
    with pytest.raises(RuleError, match=r"it is no rule; make one with @rs485kit\.rule"):
        check_rule(lambda analyses: (), fires=THIN, passes=GOOD)


@pytest.mark.parametrize(
    ("buses", "word"),
    [
        ({"fires": "canal.toml", "passes": GOOD}, "check_rule fires: given 'c', wanted a Bus"),
        ({"fires": [THIN, 3], "passes": GOOD}, "check_rule fires: given 3, wanted a Bus"),
        ({"fires": THIN, "passes": None}, "check_rule passes: given None, wanted a Bus"),
        ({"fires": THIN, "passes": GOOD, "lacks": 1.0}, "check_rule lacks: given 1.0, wanted a Bus"),
        ({"fires": (), "passes": GOOD}, "check_rule fires: given no bus, wanted at least one"),
        ({"fires": THIN, "passes": []}, "check_rule passes: given no bus, wanted at least one"),
    ],
)
def test_what_is_no_bus_is_refused(buses, word):
    with pytest.raises(InputError) as caught:
        check_rule(plugin_rules.cable_too_thin, **buses)
    assert word in str(caught.value)


@pytest.mark.parametrize("given", [{"most": "3 V"}, {"least": 1.0}, {"reserve": 2}])
def test_wrong_settings_are_refused_as_a_policy_would(given):
    with pytest.raises(InputError, match=next(iter(given))):
        check_rule(plugin_rules.cable_too_thin, fires=THIN, passes=GOOD, settings=given)


# --- a good rule -----------------------------------------------------------------------------------------


def test_a_good_rule_conforms():
    check_rule(plugin_rules.cable_too_thin, fires=THIN, passes=[GOOD], lacks=(BARE,))


def test_settings_hold_for_all_of_it():
    settings_ = {"most": "150 ohm/km"}
    check_rule(plugin_rules.cable_too_thin, fires=canal(copper="160 ohm/km"), passes=THIN, settings=settings_)
    says(problems(plugin_rules.cable_too_thin, settings=settings_), 'firing bus 1 "canal"', "should find a fault")


@pytest.mark.parametrize("rule", [giving(), made(lambda analyses: [judged(analyses.bus)], basis="common practice")])
def test_the_rule_that_these_tests_spoil_conforms(rule):
    check_rule(rule, fires=THIN, passes=GOOD, lacks=BARE)


# --- what it finds ---------------------------------------------------------------------------------------


def test_verdicts_are_held_to_what_is_expected():
    swapped = problems(plugin_rules.cable_too_thin, fires=GOOD, passes=THIN, lacks=GOOD)
    says(swapped, 'firing bus 1 "canal": it gave pass at segment pump-house - gate-1', "and should find a fault")
    says(swapped, 'passing bus 1 "canal": it gave fail at segment pump-house - gate-1', "and should pass")
    says(swapped, 'lacking bus 1 "canal": it gave pass at', "should say unknown; yield rs485kit.unknown")


def test_a_passing_bus_on_which_nothing_is_said_does_not_pass():
    quiet = made(lambda analyses: [judged(analyses.bus)] if thin(analyses.bus) is not False else [])
    says(problems(quiet), 'passing bus 1 "canal": it gave no finding, and should pass; yield a pass')


def test_a_rule_that_raises_is_told_with_the_line():
    raising = made(lambda analyses: [1 / 0])
    found = problems(raising)
    says(found, 'firing bus 1 "canal": it raised ZeroDivisionError: division by zero (line ', "nothing but MissingData")
    assert len(found) == 2


def test_data_missing_on_a_firing_bus_is_no_fault_found():
    def function(analyses):
        raise rk.MissingDataError("copper", ("conductor_resistance",), "state it")

    says(problems(made(function)), "since data are missing; state on a firing bus what the rule needs")
    with pytest.raises(ConformanceError) as caught:
        check_rule(made(function), fires=THIN, passes=GOOD, lacks=BARE)
    assert not [each for each in caught.value.problems if "lacking" in each]


def test_what_is_no_finding_is_told():
    says(problems(made(lambda analyses: ["thin"])), "it raised RuleError", "no Finding")


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"message": "thin\nindeed"}, "has a message that is not one line"),
        ({"message": " thin"}, "has a message that is not one line, or has blanks at its ends"),
        ({"remedy": ""}, "at bus has no remedy; say in it what to do"),
        ({"remedy": "lay\none"}, "has a remedy that is not one line"),
        ({"where": rk.Place.node("sluice")}, "at node sluice is at a place that the bus does not have"),
        ({"where": rk.Place.earth("weir")}, "at earth weir is at a place"),
        ({"where": rk.Place.barrier("weir")}, "at barrier weir is at a place"),
        ({"where": rk.Place.segment("pump-house", "weir")}, "at segment pump-house - weir is at a place"),
        ({"where": rk.Place.path("pump-house", "sluice")}, "at path pump-house -> sluice is at a place"),
        ({"measured": 1.0, "unit": "V"}, "has figures and no quantity"),
        ({"measured": 1.0, "quantity": "level", "unit": "mV"}, "has figures in a unit that is not SI"),
        ({"measured": 1.0, "quantity": "level", "unit": "bananas"}, "has figures in a unit that is not SI"),
        ({"measured": 3.0, "quantity": "share", "unit": "%"}, 'a bare number with the unit ""'),
        ({"measured": 1.0, "limit": 2.0, "quantity": "level", "unit": "V"}, "has a limit but no sense"),
        (
            {"measured": -1.0, "limit": 0.0, "quantity": "level", "unit": "V", "sense": "at least"},
            "has a limit of 0 and no scale",
        ),
    ],
)
def test_the_form_of_a_finding(fields, words):
    found = problems(giving(**fields))
    says(found, 'firing bus 1 "canal": the finding at', words)
    assert len(found) == 1


@pytest.mark.parametrize(
    "fields",
    [
        {"where": rk.Place.earth("bank")},
        {"where": NOT_LAID},
        {"where": rk.Place.segment("weir", "gate-1")},
        {"where": rk.Place.path("weir", "gate-1")},
        {"measured": 1.0, "quantity": "heat", "unit": "W*s"},
        {"measured": 1.0, "quantity": "slope", "unit": "V/s"},
        {"measured": 1.0, "quantity": "loads"},
    ],
)
def test_the_form_of_a_good_finding(fields):
    check_rule(giving(**fields), fires=THIN, passes=GOOD)


# --- what must not matter --------------------------------------------------------------------------------


def test_chance_is_caught():
    dice = random.Random(1)
    rule = made(lambda analyses: [judged(analyses.bus, message=f"thin by {dice.random()} ohm/m")])
    says(problems(rule), "run again, it no longer gave fail at bus", "nothing but the bus decide: no chance, no clock")


def test_another_order_of_findings_is_caught():
    turns = itertools.count()

    def function(analyses):
        found = [judged(analyses.bus, where=rk.Place.node(node.name)) for node in analyses.bus.nodes]
        return found[:: (-1) ** next(turns)]

    says(problems(made(function)), "run again, it gave the same findings in another order or words")


@pytest.mark.parametrize(
    ("function", "words"),
    [
        (
            lambda analyses: [judged(analyses.bus, where=rk.Place.node(analyses.bus.nodes[0].name))],
            "with nodes, segments and earths listed in reverse, it no longer gave fail at node pump-house",
        ),
        (
            lambda analyses: [judged(analyses.bus, where=rk.Place.node(analyses.bus.segments[0].start))],
            "with every segment turned end for end, it no longer gave fail at node pump-house",
        ),
        (
            lambda analyses: [judged(analyses.bus, where=rk.Place.earth(analyses.bus.earths[0].name))],
            "listed in reverse, it no longer gave fail at earth bank",
        ),
        (
            lambda analyses: [judged(analyses.bus, message=f"thin over {analyses.bus.segments[-1].length:g} m")],
            "listed in reverse, it no longer gave fail at bus (thin over 200 m)",
        ),
        (
            lambda analyses: [
                judged(analyses.bus, quantity="length", unit="m", measured=analyses.bus.segments[0].length)
            ],
            "listed in reverse, it no longer gave fail at bus (length 300",
        ),
    ],
)
def test_the_order_of_a_list_must_not_decide(function, words):
    says(problems(made(function)), words, "go by names and not by the order in which things are listed")


def test_either_of_two_equally_bad_places_may_be_named():
    def function(analyses):
        if thin(analyses.bus) is not True:
            return [judged(analyses.bus)]
        worst = max(analyses.bus.segments, key=lambda segment: segment.cable.conductor_resistance.max)
        resistance = worst.cable.conductor_resistance.max
        where = rk.Place.segment(worst.start, worst.end)
        return [rk.at_most(where, "copper", measured=resistance, limit=0.1, unit="ohm/m", remedy="lay another")]

    check_rule(made(function), fires=THIN, passes=GOOD)


@pytest.mark.parametrize(("adverse", "conforms"), [(0.16, True), (0.09, False)])
def test_a_proved_bound_may_hang_on_the_order_as_long_as_the_verdict_does_not(adverse, conforms):
    def function(analyses):
        if thin(analyses.bus) is not True:
            return [judged(analyses.bus)]
        bound = 0.15 if analyses.bus.nodes[0].name == "pump-house" else adverse
        return [rk.at_most(rk.Place.bus(), "copper", measured=0.08, bound=bound, limit=0.1, unit="ohm/m", remedy="lay")]

    rule = made(function, reserve=0.0)
    if conforms:
        check_rule(rule, fires=THIN, passes=GOOD)
    else:
        says(problems(rule), "it no longer gave marginal at bus (copper 0.08", "and gave pass at bus")


def test_names_in_another_order_are_no_other_message():
    names = made(
        lambda analyses: [judged(analyses.bus, message=f"thin: {', '.join(node.name for node in analyses.bus.nodes)}")]
    )
    check_rule(names, fires=THIN, passes=GOOD)


def test_results_that_other_rules_left_must_not_decide():
    def function(analyses):
        early = not analyses.results
        return [judged(analyses.bus, message="thin" if early else "thin, 2 results are there")]

    says(problems(made(function)), "after the other rules, it no longer gave fail at bus (thin)")


def test_a_bus_that_is_changed_is_caught():
    def function(analyses):
        found = judged(analyses.bus)
        object.__setattr__(analyses.bus.nodes[1], "powered", False)
        return [found]

    found = problems(made(function))
    says(found, "it changed the bus; read the bus, and make a new one with attrs.evolve")
    assert GOOD.nodes[1].powered
    assert THIN.nodes[1].powered


def test_a_policy_that_is_changed_is_caught():
    def function(analyses):
        object.__setattr__(analyses.bus.policy, "skip", ("idle",))
        return [judged(analyses.bus)]

    bus = attrs.evolve(THIN, policy=Policy(skip="loading"))
    with pytest.raises(ConformanceError, match="it changed the bus"):
        check_rule(made(function), fires=bus, passes=attrs.evolve(GOOD, policy=Policy(skip="loading")))


def test_a_bus_that_no_table_can_hold_any_more_is_caught():
    def function(analyses):
        found = judged(analyses.bus)
        object.__setattr__(analyses.bus.nodes[1], "transceiver", object())
        return [found]

    says(problems(made(function)), "it changed the bus")


def test_results_that_are_changed_are_caught():
    def function(analyses):
        levels = rk.analysis.unit_loads(analyses)
        levels.custom.setflags(write=True)
        levels.custom[0] = 0.0
        return [judged(analyses.bus)]

    says(problems(made(function)), "it changed UnitLoads.custom of a result that other rules share; copy before")


def test_an_analysis_whose_arrays_are_open_is_caught():
    import numpy as np

    @attrs.frozen(eq=False)
    class Lengths:
        metres: np.ndarray
        parts: dict

    @rk.as_analysis()
    def lengths(analyses):
        metres = np.array(sorted(each.length for each in analyses.bus.segments))
        return Lengths(metres, {"of": [metres]})

    def function(analyses):
        lengths(analyses)
        return [judged(analyses.bus)]

    says(problems(made(function)), "the analysis result Lengths.metres can be written to; close its array")


# --- what is not known -----------------------------------------------------------------------------------


def test_silence_where_a_figure_is_missing_is_caught():
    rule = made(lambda analyses: [judged(analyses.bus)] if thin(analyses.bus) is not None else [])
    found = problems(rule)
    says(
        found,
        'firing bus 1 "canal": without any Cable.conductor_resistance, or without any Segment.cable',
        "it says nothing any more; yield rs485kit.unknown(...) where a figure is None",
    )
    says(found, 'passing bus 1 "canal": without any Cable.conductor_resistance')


def test_a_pass_for_want_of_a_figure_is_caught():
    def function(analyses):
        return [judged(analyses.bus if thin(analyses.bus) else GOOD)]

    found = problems(made(function))
    says(found, "without any Cable.conductor_resistance", "it gave pass at bus, which is better than what it finds")
    assert not [each for each in found if each.startswith("passing")]


def test_a_marginal_for_want_of_a_figure_is_better_than_a_fail():
    def function(analyses):
        return (
            [judged(THIN, "fail" if thin(analyses.bus) else "marginal")]
            if thin(analyses.bus) is not False
            else [judged(GOOD)]
        )

    says(problems(made(function)), "without any Cable.conductor_resistance", "gave marginal at bus, which is better")


def test_an_exception_for_want_of_a_figure_is_caught():
    def function(analyses):
        rate = analyses.bus.link.data_rate
        return [judged(analyses.bus, message=f"thin at {rate:g} bit/s")]

    found = problems(made(function))
    says(found, "without any Bus.link, it raised AttributeError")
    says(found, "without any Link.data_rate, it raised TypeError")


@pytest.mark.parametrize(("member", "words"), [("max", "with typical values alone"), ("typ", "with limits and no typ")])
def test_members_of_a_figure_may_be_unknown(member, words):
    def function(analyses):
        copper = None if analyses.bus.segments[0].cable is None else analyses.bus.segments[0].cable.conductor_resistance
        if copper is None:
            return [rk.unknown(rk.Place.bus(), "the copper is not stated", missing=("conductor_resistance",))]
        return [judged(THIN if getattr(copper, member) > 0.1 else GOOD)]

    found = problems(made(function))
    says(found, words, "it raised TypeError")
    assert len(found) == 2


def test_a_missing_data_error_is_an_unknown():
    def function(analyses):
        if thin(analyses.bus) is None:
            raise rk.MissingDataError("copper", ("conductor_resistance",), "state it")
        return [judged(analyses.bus)]

    check_rule(made(function), fires=THIN, passes=GOOD, lacks=BARE)


def test_the_figures_that_may_be_none_without_being_unknown_are_those_of_the_model():
    optional = {
        (kind, name)
        for each in rk.model.__all__
        if isinstance(kind := getattr(rk.model, each), type)
        for name, form in forms(kind).items()
        if form.optional
    }
    assert set(NOT_UNKNOWN) | set(UNKNOWN_OBJECTS) | set(SUPPLIES) <= optional
    assert not set(NOT_UNKNOWN) & set(UNKNOWN_OBJECTS)
    for kind, name in NOT_UNKNOWN:
        described = inspect.getdoc(kind).partition(f"{name} : ")[2].partition(" : ")[0]
        assert "None: unknown" not in described, (kind, name)


def test_every_figure_that_a_bus_states_is_taken_away_once():
    edits = {edit.words: edit.bus for edit in lacking(GOOD)}
    assert {
        "without any Bus.link", "without any Cable.conductor_resistance", "without any Earth.potential",
        "without any Link.data_rate", "without any Segment.cable", "without any Transceiver.unit_load",
        "without any supply voltage",
    } <= set(edits)  # fmt: skip
    assert all(bus != GOOD for bus in edits.values())
    assert not any(node.transceiver.unit_load for node in edits["without any Transceiver.unit_load"].nodes)
    dark = edits["without any supply voltage"]
    assert [node.supply_voltage for node in dark.nodes] == [None] * 3
    assert dark.nodes[0].biases[0].supply is None
    assert not list(lacking(rk.Bus(nodes=rk.Node(name="weir"))))


def test_a_circuit_at_a_place_without_a_transceiver_stays():
    circuit = rk.Circuit(hazard="touchable")
    place = rk.Bus(nodes=rk.Node(name="weir", circuit=circuit))
    assert [edit.words for edit in lacking(place)] == ["without any Circuit.hazard"]
    device = rk.Bus(nodes=rk.Node(name="weir", circuit=circuit, transceiver=PART))
    assert "without any Node.circuit" in [edit.words for edit in lacking(device)]


def test_edits_leave_the_rest_as_it_is():
    assert typical_only(THIN).bus.segments[0].cable.conductor_resistance == MinTypMax(typ=0.138)
    assert limits_only(THIN).bus.segments[0].cable.conductor_resistance == MinTypMax(min=0.13, max=0.146)
    for edit in reordered(GOOD):
        assert {node.name: node for node in edit.bus.nodes} == {node.name: node for node in GOOD.nodes}
        assert edit.bus.distance("pump-house", "weir") == GOOD.distance("pump-house", "weir")
    assert copied(GOOD) == GOOD
    assert copied(GOOD).nodes[0] is not GOOD.nodes[0]


# --- the rule itself -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("documentation", "words"),
    [
        ("", "its documentation says nothing before its first heading"),
        (
            "A cable is thin.",
            "its documentation has the headings none; give its function a docstring with What it checks",
        ),
        (DOCUMENTATION.replace("Why it matters", "How it matters"), "has the headings What it checks, How it matters"),
        (DOCUMENTATION.replace("-" * 14, "-" * 12, 1), "has the headings Why it matters"),
        (DOCUMENTATION.replace("Copper takes from every level.\n", ""), 'no text under the heading "Why it matters"'),
        (DOCUMENTATION + "\n\nAnd more\n--------\nText.", "When to waive, And more"),
        (DOCUMENTATION.partition("\n")[2], "says nothing before its first heading"),
    ],
)
def test_documentation_has_its_headings(documentation, words):
    says(problems(made(lambda analyses: [judged(analyses.bus)], documentation)), words)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"title": "Thin\ncable"}, "its title is 'Thin\\ncable'; write the fault in one line"),
        ({"source": " ", "basis": "standard"}, "its source is ' '; name the document in one line"),
    ],
)
def test_labels_are_one_line(fields, words):
    says(problems(made(lambda analyses: [judged(analyses.bus)], **fields)), words)


@pytest.mark.parametrize(
    ("parameter", "words"),
    [
        (Parameter(name="most", default=1.0, unit="V", meaning=""), "parameter most has the meaning ''"),
        (
            Parameter(name="most", default=float("nan"), unit="V", meaning="limit"),
            "default of its parameter most is refused",
        ),
        (Parameter(name="most", default="1 kV", unit="V", meaning="limit"), "most, '1 kV', is read as 1000.0"),
    ],
)
def test_parameters_are_explained_and_in_order(parameter, words):
    def function(analyses, *, most):
        return [judged(analyses.bus)]

    says(problems(made(function, parameters=[parameter])), words)


def test_a_rule_that_takes_any_setting_is_caught():
    class Lenient(Rule):
        def values(self, settings):
            return {}, 0.0

    function = giving().function
    rule = Lenient(name="canal.tried", title="Thin", function=function, basis="house")
    found = problems(rule)
    says(found, "the setting no-such-setting = 1.0 is taken; an InputError names the rule and the setting")
    says(found, "the setting reserve = 2.0 is taken")


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (InputError(rk.Problem("", "that", "this")), "no-such-setting = 1.0 is refused as given that"),
        (KeyError("no"), "no-such-setting = 1.0 raises KeyError"),
    ],
)
def test_a_refusal_names_the_rule_and_the_setting(error, words):
    class Gruff(Rule):
        def values(self, settings):
            if settings and set(settings) != {"reserve"}:
                raise error
            return super().values(settings)

    says(problems(Gruff(name="canal.tried", title="Thin", function=giving().function, basis="house")), words)


def test_a_reserve_that_makes_a_verdict_better_is_caught():
    class Turned(Rule):
        def findings(self, analyses, settings=None):
            kept = dict(settings or {})
            if kept.get("reserve") == 1.0:
                return [self.stamped(judged(GOOD))]
            if kept.get("reserve") == 0.0 and thin(analyses.bus) is False:
                raise ValueError("no reserve")
            return super().findings(analyses, kept)

    found = problems(Turned(name="canal.tried", title="Thin", function=giving().function, basis="house"))
    says(found, "firing", "with a reserve of 1 it gave pass at bus, better than with a reserve of 0")
    says(found, "passing", "with a reserve of 0, it raised ValueError")


def test_a_rule_that_a_pickle_does_not_find_is_caught():
    bus = canal()
    says(
        problems(plugin_rules.gate_missing, fires=bus, passes=bus),
        "it cannot be sent to another process (",
        "define it at the top of a module, under the name of its function",
    )


def test_a_pickle_that_finds_another_rule_is_caught(monkeypatch):
    twin = attrs.evolve(plugin_rules.cable_too_thin)
    monkeypatch.setattr(plugin_rules, "cable_too_thin", twin)
    function = twin.function
    original = Rule(name=twin.name, title=twin.title, function=function, basis="house", parameters=twin.parameters)
    says(problems(original), "in another process plugin_rules.cable_too_thin is another rule")


# --- the error -------------------------------------------------------------------------------------------


def test_the_error_lists_every_problem_and_survives_a_pickle():
    error = ConformanceError('rule "canal.tried"', ("one; cure", "two; cure"))
    assert isinstance(error, AssertionError)
    assert isinstance(error, Rs485kitError)
    assert str(error) == 'rule "canal.tried": 2 problems\n  1. one; cure\n  2. two; cure'
    back = pickle.loads(pickle.dumps(error))
    assert (type(back), back.subject, back.problems) == (ConformanceError, error.subject, error.problems)
    assert str(ConformanceError("part", ("one",))).startswith("part: 1 problem\n")
