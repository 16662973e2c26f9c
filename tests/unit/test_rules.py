"""What a rule may be and say, and how verdicts come about."""

import math
import pickle

import pytest

import rs485kit as rk
from rs485kit import rules
from rs485kit.errors import InputError, RuleError, UnknownNameError
from rs485kit.rules.figures import figure, share


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


def depth(measured, *, limit=2.0, where=None, **fields):
    """A finding that a depth must be at least a limit."""
    return rk.at_least(where or rk.Place.bus(), "depth", measured=measured, limit=limit, unit="m", **fields)


class Rubbish:
    """Something that is no finding."""

    def __repr__(self):
        return "<rubbish>"


# --- rules that are none ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["", "depth", "Site.depth", "site..depth", "site.", ".depth", "site.deep_water", "site.2", "site depth", 7, None]
)
def test_a_name_is_words_with_a_prefix(name):
    with pytest.raises(RuleError, match="a name is lower-case words"):
        rk.rule(name, title="Too deep", basis="house")(lambda analyses: [])


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"title": ""}, "a title says the fault"),
        ({"title": 3}, "a title says the fault"),
        ({"basis": "law"}, "'law' is no basis; the bases are standard"),
        ({"basis": "standard"}, "names its source"),
        ({"basis": "common practice", "source": "a book"}, "common practice has no source"),
    ],
)
def test_a_rule_has_title_basis_and_source(fields, why):
    with pytest.raises(RuleError, match=why) as caught:
        rk.rule("site.depth", **{"title": "Too deep", "basis": "house", **fields})(lambda analyses: [])
    assert caught.value.rule == "site.depth"
    assert pickle.loads(pickle.dumps(caught.value)).why == caught.value.why


def test_a_rule_is_made_of_what_can_be_called():
    with pytest.raises(RuleError, match="cannot be called"):
        rk.rule("site.depth", title="Too deep", basis="house")(3)


LEAST = rk.parameter("least", "2 m", unit="m", meaning="least depth")


def takes_nothing():
    """A function that takes no Analyses."""
    return []


class NoSignature:
    """Something that can be called, but does not say how."""

    __signature__ = 3

    def __call__(self, analyses):
        """Give no finding."""
        return []


@pytest.mark.parametrize(
    ("function", "parameters", "why"),
    [
        (takes_nothing, (), "takes Analyses as its first argument"),
        (NoSignature(), (), "its parameters cannot be told"),
        (lambda *, least: [], (LEAST,), "takes Analyses as its first argument"),
        (lambda *analyses: [], (), "takes Analyses as its first argument"),
        (lambda analyses, least: [], (LEAST,), "least is not keyword-only"),
        (lambda analyses, **least: [], (LEAST,), "least is not keyword-only"),
        (lambda analyses, *, least: [], (), "keywords are .*least.* declared none"),
        (lambda analyses: [], (LEAST,), "keywords are none.* declared .*least"),
        (lambda analyses, *, least: [], (LEAST, LEAST), "each once"),
        (lambda analyses, *, reserve: [], (rk.parameter("reserve", 1, unit="", meaning="x"),), "none is called reserve"),
    ],
)
def test_keywords_and_parameters_are_the_same(function, parameters, why):
    with pytest.raises(RuleError, match=why):
        rk.rule("site.depth", title="Too deep", basis="house", parameters=parameters)(function)


@pytest.mark.parametrize("default", ["2 s", "2", True, math.nan, None])
def test_the_default_of_a_parameter_is_of_its_unit(default):
    with pytest.raises(InputError, match="parameter least"):
        rk.parameter("least", default, unit="m", meaning="least depth")


# --- places and findings that are none -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "names"),
    [("sluice", ("a",)), ("bus", ("a",)), ("node", ()), ("node", ("a", "b")), ("path", ("a",)), ("segment", ("a", 2))],
)
def test_a_place_has_a_kind_and_as_many_names(kind, names):
    with pytest.raises(RuleError, match="is no place"):
        rk.Place(kind, names)


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"verdict": "good"}, "'good' is no verdict; the verdicts are fail"),
        ({"where": "gate-1"}, "'gate-1' is no Place"),
        ({"message": ""}, "says in its message"),
        ({"message": None}, "says in its message"),
        ({"remedy": None}, "the remedy of a finding is text"),
        ({"unit": 3}, "the unit of a finding is text"),
        ({"sense": "above"}, "'above' is no sense"),
        ({"missing": (1,)}, "named by text"),
        ({"bound": math.nan}, "leaves the verdict unknown"),
    ],
)
def test_a_finding_has_verdict_place_and_message(fields, why):
    with pytest.raises(RuleError, match=why):
        rk.Finding(**{"verdict": "fail", "where": rk.Place.bus(), "message": "too deep", **fields})


# --- verdicts --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measured", "bound", "verdict"),
    [
        (1.9, None, "fail"),
        (1.9, 1.8, "fail"),
        (2.0, None, "marginal"),
        (2.1, None, "marginal"),
        (2.5, 1.9, "marginal"),
        (2.5, 2.1, "marginal"),
        (2.1, 2.5, "marginal"),
        (2.2, None, "pass"),
        (2.5, 2.25, "pass"),
        (math.inf, None, "pass"),
        (-math.inf, None, "fail"),
    ],
)
def test_at_least_and_its_mirror_image(measured, bound, verdict):
    low = rk.at_least(rk.Place.bus(), "depth", measured=measured, bound=bound, limit=2.0, unit="m")
    high = rk.at_most(
        rk.Place.bus(), "depth", measured=-measured, bound=None if bound is None else -bound, limit=-2.0, unit="m"
    )
    assert (low.verdict, high.verdict) == (verdict, verdict)
    assert low.margin == high.margin
    assert low.headroom == high.headroom


def test_margin_and_headroom():
    found = depth(2.5, bound=2.2)
    assert found.margin == pytest.approx(0.2, abs=1e-9)
    assert found.headroom == pytest.approx(0.1, abs=1e-9)
    assert depth(None).margin is None
    assert depth(None).headroom is None
    below_zero = rk.at_least(rk.Place.bus(), "level", measured=-6.0, limit=-7.0, unit="V")
    assert below_zero.headroom == pytest.approx(1 / 7, abs=1e-9)


def test_where_the_limit_is_zero_the_scale_stands_for_it():
    assert depth(0.05, limit=0.0, scale=1.0).verdict == "marginal"
    assert depth(0.05, limit=0.0, scale=1.0).headroom == pytest.approx(0.05, abs=1e-9)
    assert depth(0.15, limit=0.0, scale=1.0).verdict == "pass"
    assert depth(0.05, limit=0.0).verdict == "pass"
    assert depth(0.05, limit=0.0).headroom is None


@pytest.mark.parametrize("nothing", [None, math.nan])
def test_an_unknown_measure_is_unknown_and_names_what_is_missing(nothing):
    found = depth(nothing, missing=("gauge.zero",), remedy="read the gauge")
    assert (found.verdict, found.missing, found.remedy) == ("unknown", ("gauge.zero",), "read the gauge")
    assert "gauge.zero" in found.message
    assert depth(nothing).missing == ("depth",)


@pytest.mark.parametrize("nothing", [None, math.nan])
def test_an_unknown_limit_is_unknown(nothing):
    found = depth(3.0, limit=nothing)
    assert found.verdict == "unknown"
    assert "limit of depth" in found.message


def test_a_bound_that_is_no_number_is_never_passed_over():
    assert depth(3.0, bound=math.nan).verdict == "unknown"
    assert "bound of depth" in depth(3.0, bound=math.nan).missing[0]
    assert depth(1.0, bound=math.nan).verdict == "fail"


def test_an_advisory_miss_is_marginal():
    assert depth(1.0, advisory=True).verdict == "marginal"
    assert depth(3.0, advisory=True).verdict == "pass"


def test_the_reserve_judges_anew():
    found = depth(2.1)
    assert found.judged(0.0).verdict == "pass"
    assert found.judged(0.2).verdict == "marginal"
    structure = rk.Finding(verdict="fail", where=rk.Place.bus(), message="a ring")
    assert structure.judged(0.0) == structure
    assert depth(None).judged(0.0).verdict == "unknown"


def test_the_sentence_is_made_of_the_figures():
    found = rk.at_least(rk.Place.bus(), "level", measured=0.14672, bound=0.12, limit=0.2, unit="V")
    assert found.message == "level is 146.7 mV (120 mV on the adverse side); it must be at least 200 mV"
    assert depth(3.0, message="deep enough").message == "deep enough"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.0, "V", "0 V"),
        (-0.0, "V", "0 V"),
        (0.14672, "V", "146.7 mV"),
        (-0.05328, "V", "-53.28 mV"),
        (0.99996, "V", "1 V"),
        (999.96e3, "bit/s", "1 Mbit/s"),
        (115200.0, "bit/s", "115.2 kbit/s"),
        (1200.0, "m", "1.2 km"),
        (2.5e6, "m", "2500 km"),
        (3600.0, "s", "3600 s"),
        (1e-7, "s", "100 ns"),
        (42e-12, "F/m", "42 pF/m"),
        (1e-18, "V", "0 V"),
        (-2e-14, "V", "-0.02 pV"),
        (298.15, "K", "298.1 K"),
        (32.0, "", "32"),
        (120000.0, "", "120000"),
        (math.inf, "V", "infinite V"),
        (-math.inf, "", "-infinite"),
        (math.nan, "V", "not known"),
        (None, "V", "not known"),
    ],
)
def test_figures_for_people(value, unit, text):
    assert figure(value, unit) == text


def test_shares_are_per_cent():
    assert [share(each) for each in (-0.2664, 0.0, 12.0, None, math.nan)] == [
        "-26.6 %", "0 %", "1200 %", "not known", "not known",
    ]  # fmt: skip


# --- a rule by itself ------------------------------------------------------------------------------------------------


def with_parameter(name="site.depth"):
    @rk.rule(name, title="Too shallow", basis="house", parameters=[LEAST], reserve=0.2, safety=True)
    def too_shallow(analyses, *, least):
        """The water is too shallow."""
        yield depth(2.3, limit=least)

    return too_shallow


def test_a_rule_stamps_and_judges_what_it_gives():
    (found,) = with_parameter()(rk.Analyses(two_gates()))
    assert (found.rule, found.title, found.basis, found.safety) == ("site.depth", "Too shallow", "house", True)
    assert found.verdict == "marginal"
    assert with_parameter().documentation == "The water is too shallow."


def test_settings_reach_the_function():
    (found,) = with_parameter()(rk.Analyses(two_gates()), settings={"least": "1 m", "reserve": "5 %"})
    assert (found.limit, found.verdict) == (1.0, "pass")


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"depth": 1}, ["depth", "least, reserve"]),
        ({"least": "1 s"}, ['policy.settings["site.depth"].least', "1 s"]),
        ({"least": True}, ["least", "True"]),
        ({"reserve": "1 m"}, ["reserve"]),
        ({"reserve": 1.5}, ["reserve", "1.5", "0 to 1"]),
        ({"reserve": -0.1}, ["reserve", "-0.1"]),
    ],
)
def test_a_wrong_setting_is_named(settings, words):
    with pytest.raises(InputError) as caught:
        with_parameter()(rk.Analyses(two_gates()), settings=settings)
    assert all(word in str(caught.value) for word in words)


@pytest.mark.parametrize("given", [None, 3])
def test_a_rule_gives_a_sequence(given):
    with pytest.raises(RuleError, match="no sequence of findings"):
        rk.rule("site.depth", title="Too deep", basis="house")(lambda analyses: given)(rk.Analyses(two_gates()))


def test_a_rule_gives_findings():
    with pytest.raises(RuleError, match="<rubbish>, which is no Finding"):
        giving(Rubbish())(rk.Analyses(two_gates()))


def test_one_missing_figure_may_be_given_as_text():
    found = rk.unknown(rk.Place.bus(), "the data rate is not stated", missing="link.data_rate")
    assert (found.missing, found.remedy) == (("link.data_rate",), "state link.data_rate")


# --- explanations ----------------------------------------------------------------------------------------------------


def test_every_built_in_rule_is_explained():
    for rule in rules.built_in():
        text = rk.explain(rule.name)
        assert text.startswith(f"{rule.name}\n{rule.title}\n")
        assert rule.documentation in text
        assert f"Basis: {rule.basis}" in text
        assert "reserve = " in text


def test_an_explanation_gives_parameters_with_defaults_and_units():
    from rs485kit.rules.explanation import explanation

    text = explanation(with_parameter())
    assert "least = 2 m: least depth" in text
    assert "reserve = 0.2" in text
    assert "People can be hurt" in text
    assert "Basis: house" in text


def test_an_unknown_rule_is_answered_with_near_names():
    name = rules.built_in()[0].name
    with pytest.raises(UnknownNameError, match=f'did you mean "{name}"') as caught:
        rk.explain(name + "x")
    assert name in caught.value.near
    with pytest.raises(UnknownNameError, match='there is no rule ""'):
        rk.explain("")


def test_findings_about_waivers_are_explained_too():
    assert "last day" in rk.explain("waiver.over")
    assert "covers nothing" in rk.explain("waiver.matches-nothing")
