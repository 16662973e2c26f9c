"""How a check runs rules under a policy: containment, places, settings, waivers, order, and the report it gives."""

import datetime
import pickle
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest

import rs485kit as rk
from rs485kit import rules
from rs485kit.errors import InputError, MissingDataError, RuleError, SolveError, UnknownNameError
from rs485kit.report.summary import ordered
from rs485kit.rules.finding import VERDICTS

DAY = datetime.date(2027, 1, 15)
ONLY_SITE = rk.Policy(select="site")
LEAST = rk.parameter("least", "2 m", unit="m", meaning="least depth")


def two_gates(**fields):
    """A bus of two devices, the first of which has a barrier."""
    nodes = [
        rk.Node(name="gate-1", barrier=rk.Barrier(), earth="sluice"),
        rk.Node(name="gate-2"),
        rk.Node(name="gauge"),
    ]
    return rk.daisy_chain(nodes, spacing="100 m", earths=[rk.Earth(name="sluice")], name="canal", **fields)


def giving(*findings, name="site.depth", **fields):
    """A rule that gives these findings, or raises what is an error among them."""

    def function(analyses):
        for found in findings:
            if isinstance(found, BaseException):
                raise found
            yield found

    fields = {"title": "Too deep", "basis": "house", **fields}
    return rk.rule(name, **fields)(function)


def raised_in_line():
    """The line of this file on which `giving` raises."""
    lines = Path(__file__).read_text(encoding="utf-8").splitlines()
    return 1 + lines.index("                raise found")


def checked(*findings, policy=ONLY_SITE, today=DAY, **fields):
    """The report of a check with one rule that gives these findings."""
    return rk.check(two_gates(), rules=[giving(*findings, **fields)], policy=policy, today=today)


def depth(measured, *, limit=2.0, where=None, **fields):
    """A finding that a depth must be at least a limit."""
    return rk.at_least(where or rk.Place.bus(), "depth", measured=measured, limit=limit, unit="m", **fields)


@rk.rule("site.module-level", title="At module level", basis="house")
def module_level(analyses):
    """A rule that a pickle finds by name."""
    yield depth(3.0)


class Rubbish:
    """Something that is no finding."""

    def __repr__(self):
        return "<rubbish>"


def with_parameter(name="site.depth"):
    @rk.rule(name, title="Too shallow", basis="house", parameters=[LEAST], reserve=0.2, safety=True)
    def too_shallow(analyses, *, least):
        """The water is too shallow."""
        yield depth(2.3, limit=least)

    return too_shallow


# --- a check: rules of the caller ------------------------------------------------------------------------------------


def test_what_is_no_rule_is_refused():
    with pytest.raises(RuleError, match="it is no rule"):
        rk.check(two_gates(), rules=[Rubbish()])


@pytest.mark.parametrize("name", ["idle.depth", "loading.depth", "structure.depth", "waiver.depth"])
def test_reserved_prefixes_are_refused(name):
    with pytest.raises(RuleError, match="reserved for the library"):
        rk.check(two_gates(), rules=[giving(name=name)])


def test_other_prefixes_than_site_are_refused():
    with pytest.raises(RuleError, match="rules passed to a check"):
        rk.check(two_gates(), rules=[giving(name="canal.depth")])


def test_a_name_is_borne_once():
    with pytest.raises(RuleError, match="two rules bear this name"):
        rk.check(two_gates(), rules=[giving(), giving()])


def test_a_check_takes_a_bus():
    with pytest.raises(InputError, match="a Bus"):
        rk.check("canal")


def test_a_rule_that_raises_is_contained_and_the_others_run():
    bad = giving(ZeroDivisionError("by zero"), name="site.bad")
    report = rk.check(two_gates(), rules=[bad, giving(depth(3.0))], policy=ONLY_SITE)
    assert [(error.name, error.cause) for error in report.plugin_errors] == [
        ("site.bad", f"ZeroDivisionError: by zero ({Path(__file__).name}, line {raised_in_line()})")
    ]
    assert report.rules == ("site.depth",)
    assert [found.verdict for found in report.findings] == ["pass"]
    assert (report.passed, report.exit_status) == (False, 3)


@pytest.mark.parametrize(
    "error",
    [InputError(rk.Problem("x", "y", "z")), RecursionError(), RuleError("x", "y"), UnknownNameError("x", "y")],
)
def test_no_error_of_a_rule_ends_the_check(error):
    report = checked(error)
    assert len(report.plugin_errors) == 1
    assert not report.passed


def test_an_interrupt_ends_the_check():
    with pytest.raises(KeyboardInterrupt):
        checked(KeyboardInterrupt())


@pytest.mark.parametrize("rubbish", [None, Rubbish(), "fail", ("fail", "bus")])
def test_rubbish_is_contained(rubbish):
    report = checked(depth(3.0), rubbish)
    assert "is no Finding" in report.plugin_errors[0].cause
    assert report.findings == ()
    assert not report.passed


def test_missing_data_is_an_unknown():
    report = checked(MissingDataError("depths", ("gauge.zero",), "read the gauge"))
    (found,) = report.findings
    assert (found.verdict, found.missing, found.remedy) == ("unknown", ("gauge.zero",), "read the gauge")
    assert found.rule == "site.depth"
    assert report.exit_status == 3


def test_a_network_without_a_solution_is_an_unknown():
    report = checked(SolveError("signals in time", "they do not come to rest", "lower the data rate"))
    (found,) = report.findings
    assert (found.verdict, found.remedy) == ("unknown", "lower the data rate")
    assert found.message.startswith("signals in time: they do not come to rest")
    assert (report.plugin_errors, report.exit_status) == ((), 3)


@pytest.mark.parametrize(
    "where",
    [
        rk.Place.node("gate-9"),
        rk.Place.node("sluice"),
        rk.Place.earth("gate-1"),
        rk.Place.barrier("gate-2"),
        rk.Place.segment("gate-1", "gauge"),
        rk.Place.path("gate-1", "gate-9"),
    ],
)
def test_a_place_that_does_not_exist_is_refused(where):
    report = checked(depth(3.0, where=where))
    assert str(where) in report.plugin_errors[0].cause
    assert not report.passed


@pytest.mark.parametrize(
    "where",
    [
        rk.Place.node("gate-1"),
        rk.Place.earth("sluice"),
        rk.Place.barrier("gate-1"),
        rk.Place.segment("gate-2", "gate-1"),
        rk.Place.path("gate-1", "gauge"),
    ],
)
def test_a_place_that_exists_is_taken(where):
    assert checked(depth(3.0, where=where)).passed


def test_of_passes_the_nearest_to_the_limit_is_kept():
    report = checked(*(depth(value, where=rk.Place.node(name)) for name, value in (("gate-1", 4.0), ("gate-2", 3.0))))
    assert [found.where.names for found in report.findings] == [("gate-2",)]


def test_beside_another_finding_passes_are_left_out():
    report = checked(depth(4.0), depth(1.0, where=rk.Place.node("gate-1")))
    assert [found.verdict for found in report.findings] == ["fail"]
    assert report.exit_status == 1


def test_a_rule_without_findings_is_not_applicable():
    report = checked()
    assert report.not_applicable == ("site.depth",)
    assert report.rules == ("site.depth",)
    assert (report.passed, report.exit_status) == (False, 3)


# --- a check: policy -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("policy", "words"),
    [
        (rk.Policy(select="idel"), ["policy.select", '"idel"', '"idle"']),
        (rk.Policy(skip="site.dept"), ["policy.skip", '"site.dept"', '"site.depth"']),
        (rk.Policy(settings={"site.dept": {"reserve": 0}}), ["policy.settings", '"site.depth"']),
        (rk.Policy(settings={"site": {"reserve": 0}}), ["policy.settings", "the name of a rule"]),
        (rk.Policy(settings={"site.depth": {"leest": "1 m"}}), ["leest", "least"]),
        (rk.Policy(settings={"site.depth": {"least": "1 s"}}, skip="site"), ["least", "1 s"]),
    ],
)
def test_a_policy_names_what_there_is(policy, words):
    with pytest.raises(InputError) as caught:
        rk.check(two_gates(), rules=[with_parameter()], policy=policy)
    assert all(word in str(caught.value) for word in words)


@pytest.mark.parametrize(
    ("policy", "ran"),
    [
        (rk.Policy(select="site"), ("site.depth", "site.depth.gauge", "site.width")),
        (rk.Policy(select="site.depth"), ("site.depth", "site.depth.gauge")),
        (rk.Policy(select="site.*th"), ("site.depth", "site.width")),
        (rk.Policy(select="site", skip="site.depth"), ("site.width",)),
        (rk.Policy(select=("site.width", "site.depth.gauge")), ("site.depth.gauge", "site.width")),
        (rk.Policy(select="site", skip=("site",)), ()),
    ],
)
def test_a_pattern_is_a_name_or_its_beginning_up_to_a_dot(policy, ran):
    rules_of_site = [giving(depth(3.0), name=name) for name in ("site.depth", "site.depth.gauge", "site.width")]
    report = rk.check(two_gates(), rules=rules_of_site, policy=policy)
    assert report.rules == ran
    assert report.passed == bool(ran)


def test_settings_of_the_policy_reach_the_rule():
    policy = rk.Policy(select="site", settings={"site.depth": {"least": "1 m", "reserve": 0}})
    report = rk.check(two_gates(), rules=[with_parameter()], policy=policy)
    assert report.findings[0].limit == 1.0
    assert report.policy.settings == policy.settings


def test_the_policy_of_the_check_is_laid_over_that_of_the_bus():
    bus = two_gates(policy=rk.Policy(settings={"site.depth": {"least": "1 m", "reserve": 0}}))
    over = rk.Policy(select="site", settings={"site.depth": {"least": "2 m"}})
    assert rk.check(bus, rules=[with_parameter()], policy=over).findings[0].verdict == "pass"
    assert rk.check(bus, rules=[with_parameter()], policy=ONLY_SITE).findings[0].limit == 1.0


# --- a check: waivers ------------------------------------------------------------------------------------------------

@pytest.mark.parametrize(
    ("where", "waived", "elsewhere"),
    [
        (rk.Place.bus(), {"bus": True}, {"nodes": "gate-1"}),
        (rk.Place.node("gate-1"), {"nodes": "gate-1"}, {"nodes": "gate-2"}),
        (rk.Place.node("gate-1"), {"nodes": ("gate-2", "gate-1")}, {"barriers": "gate-1"}),
        (rk.Place.barrier("gate-1"), {"barriers": "gate-1"}, {"nodes": "gate-1"}),
        (rk.Place.earth("sluice"), {"earths": "sluice"}, {"bus": True}),
        (rk.Place.segment("gate-1", "gate-2"), {"segments": [("gate-2", "gate-1")]}, {"paths": [("gate-1", "gate-2")]}),
        (rk.Place.path("gate-1", "gauge"), {"paths": [("gate-1", "gauge")]}, {"paths": [("gauge", "gate-1")]}),
    ],
)
def test_a_waiver_holds_for_the_places_that_it_names(where, waived, elsewhere):
    def report_with(places):
        waiver = rk.Waiver(rule="site.depth", reason="dredged next week", **places)
        return checked(depth(1.0, where=where), policy=rk.Policy(select="site", waivers=waiver))

    report = report_with(waived)
    assert report.passed
    assert [found.waived for found in report.findings] == [True]
    assert report.fails == ()
    other = report_with(elsewhere)
    assert other.exit_status == 1
    assert [found.rule for found in other.findings] == ["site.depth", "waiver.matches-nothing"]


def test_a_waiver_ends_after_its_last_day():
    waiver = rk.Waiver(rule="site.depth", reason="dredged next week", bus=True, until=DAY)
    policy = rk.Policy(select="site", waivers=waiver)
    assert checked(depth(1.0), policy=policy, today=DAY).passed
    after = checked(depth(1.0), policy=policy, today=DAY + datetime.timedelta(days=1))
    assert after.exit_status == 1
    assert [(found.rule, found.verdict) for found in after.findings] == [("site.depth", "fail"), ("waiver.over", "marginal")]
    assert "2027-01-15" in after.findings[1].message


@pytest.mark.parametrize("rule", ["site.depth", "site.gone"])
def test_a_waiver_that_waives_nothing_is_a_finding(rule):
    waiver = rk.Waiver(rule=rule, reason="dredged next week", bus=True)
    report = checked(depth(3.0), policy=rk.Policy(select="site", waivers=waiver))
    found = next(found for found in report.findings if found.rule == "waiver.matches-nothing")
    assert found.verdict == "marginal"
    assert rule in found.message
    assert "dredged next week" in found.message


def test_unknowns_and_marginals_can_be_waived_and_passes_need_not_be():
    waiver = rk.Waiver(rule="site.depth", reason="dredged next week", bus=True, nodes="gate-1")
    report = checked(depth(None), depth(2.1, where=rk.Place.node("gate-1")), policy=rk.Policy(select="site", waivers=waiver))
    assert [(found.verdict, found.waived) for found in report.findings] == [("unknown", True), ("marginal", True)]
    assert report.passed


# --- a report --------------------------------------------------------------------------------------------------------


def test_findings_stand_nearest_to_failing_first():
    places = [rk.Place.node(name) for name in ("a", "b", "c", "d", "e", "f", "g")]
    waiver = rk.Waiver(rule="site.depth", reason="dredged next week", bus=True)
    values = (3.0, 2.1, None, 1.5, 1.0, 3.5)
    findings = [depth(value, where=place) for value, place in zip(values, places, strict=False)]
    structure = rk.Finding(verdict="fail", where=places[6], message="a ring")
    waived = rk.Finding(verdict="fail", where=rk.Place.bus(), message="a star", waiver=waiver)
    result = ordered([*findings, waived, structure])
    assert [found.where.names for found in result] == [("g",), ("e",), ("d",), ("c",), ("b",), ("a",), ("f",), ()]
    assert [VERDICTS.index(found.verdict) for found in result[:-1]] == [0, 0, 0, 1, 2, 3, 3]


def test_worst_and_at():
    report = checked(
        depth(1.0, where=rk.Place.node("gate-1")), depth(1.5, where=rk.Place.path("gate-2", "gate-1")), name="site.depth"
    )
    assert [found.measured for found in report.worst(1)] == [1.0]
    assert len(report.at("gate-1")) == 2
    assert len(report.at("gate-2")) == 1
    assert report.at("gauge") == ()


def test_raise_if_not_passed():
    checked(depth(3.0)).raise_if_not_passed()
    with pytest.raises(rk.NotPassedError, match="1 checked requirement failed"):
        checked(depth(1.0)).raise_if_not_passed()


def test_a_check_twice_says_the_same():
    assert checked(depth(1.0), depth(2.1)).to_json() == checked(depth(1.0), depth(2.1)).to_json()


# --- pickles ---------------------------------------------------------------------------------------------------------


def test_rules_findings_and_reports_survive_a_pickle():
    (found,) = module_level(rk.Analyses(two_gates()))
    assert pickle.loads(pickle.dumps(module_level)) is module_level
    assert pickle.loads(pickle.dumps(found)) == found
    report = checked(depth(1.0), depth(None))
    assert pickle.loads(pickle.dumps(report)).to_json() == report.to_json()


def test_rules_findings_and_reports_cross_a_process_pool():
    bus = two_gates()
    rule = rules.built_in()[0]
    with ProcessPoolExecutor(1) as pool:
        findings = pool.submit(rule.findings, rk.Analyses(bus)).result()
        report = pool.submit(rk.check, bus, today=DAY).result()
    assert findings == rule.findings(rk.Analyses(bus))
    assert report.to_json() == rk.check(bus, today=DAY).to_json()
