"""A report in its four forms: what it says, in which order, and that no name or figure breaks it."""

import datetime
import html.parser
import json
import math
import re

import attrs
import pytest

import rs485kit as rk
from rs485kit.errors import InputError
from rs485kit.report import PluginError, PluginUse, Report, wording
from rs485kit.rules.scope import CAUTION, NOT_CHECKED

LONG = "sluice-" + "o" * 93
BAD_NAMES = ("gate | 7", "<script>alert(1)</script>", "`*_[gate](#)_*`", "Schütz-7 水門 £", 'gate "7" & \'8\'', "- 1. #7", LONG)
FORMS = ("to_text", "to_markdown", "to_html", "to_json")


def finding(verdict="fail", where=None, **fields):
    """A finding as the engine stamps it."""
    values = {"message": "the bus is a star", "rule": "site.star", "title": "A star", "basis": "common practice"}
    return rk.Finding(verdict=verdict, where=where or rk.Place.bus(), **{**values, **fields})


def level(measured, name="gate-1", **fields):
    """A finding about an idle level that must be at least 200 mV."""
    values = {"rule": "site.level", "title": "No level", "basis": "standard", "source": "a standard, 4.2"}
    given = {key: fields.pop(key) for key in ("bound", "limit", "scale", "remedy") if key in fields}
    figures = {"limit": 0.2, "unit": "V", **given}
    found = rk.at_least(rk.Place.node(name), "idle level", measured=measured, **figures)
    return attrs.evolve(found, **{**values, **fields})


def report_of(*findings, **fields):
    """A report with these findings, in this order."""
    values = {
        "bus": "north canal", "described": "3 devices, 120 m of cable", "digest": "0123456789abcdef" * 4, "findings": findings, "not_applicable": (), "plugins": (),
        "rules": tuple(sorted({found.rule for found in findings})), "plugin_errors": (), "policy": rk.Policy(),
        "assumptions": (), "not_checked": NOT_CHECKED, "date": datetime.date(2027, 1, 15), "version": "0.1.0",
    }  # fmt: skip
    return Report(**{**values, **fields})


WAIVER = rk.Waiver(rule="site.star", reason="until the new trunk is laid", bus=True, until="2027-03-31")
FULL = report_of(
    level(0.1467, bound=0.12, remedy="less termination"),
    finding(safety=True, rule="site.touch", basis="standard", source="a standard, 7.1"),
    finding("unknown", rule="site.cable", missing=("cable",), message="the cable is not known"),
    finding("marginal", rule="site.stub", message="a long stub"),
    finding(waiver=WAIVER),
    level(0.31, rule="site.other", name="tail"),
    policy=rk.Policy(select="site", skip="site.x", settings={"site.level": {"reserve": 0.2}}, waivers=WAIVER),
    assumptions=("copper is at 20 degC",),
    not_applicable=("site.ring",),
    plugins=(PluginUse(name="canal", package="canal-rules", version="1.2", rules=("canal.depth", "canal.width")),),
    plugin_errors=(PluginError(name="canal.depth", cause="ValueError: too\ndeep", package="canal-rules", version="1.2"),),
)


def flat(text):
    """Text on one line, so that wrapping does not matter."""
    return " ".join(text.split())


class Page(html.parser.HTMLParser):
    """Gathers the tags and the text of a page, and sees that every tag is closed."""

    VOID = ("meta", "br")

    def __init__(self, text):
        super().__init__()
        self.tags, self.open, self.words = [], [], []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open[-1:] != ["style"]:
            self.words.append(data)

    @property
    def text(self):
        return flat(" ".join(self.words))


# --- what could break a report ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BAD_NAMES)
def test_a_bad_name_breaks_no_form(name):
    report = report_of(level(0.1, name), level(0.3, name, rule="site.other"), bus=name)
    assert flat(name) in flat(report.to_text())
    page = Page(report.to_html())
    assert flat(name) in page.text
    assert "script" not in [tag for tag, _ in page.tags]
    loaded = json.loads(report.to_json())
    assert (loaded["bus"], loaded["findings"][0]["place"]) == (name, [name])
    rows = [line for line in report.to_markdown().splitlines() if line.startswith("| node")]
    assert len(rows) == 2
    assert len({len(re.findall(r"(?<!\\)\|", row)) for row in rows}) == 1
    assert "<script" not in report.to_markdown()


@pytest.mark.parametrize("form", FORMS)
def test_line_breaks_and_control_characters_stay_within_a_line(form):
    nasty = "one\n# two\r\n| three\x1b[31m\u202e\0 four"
    report = report_of(
        finding(message=nasty, remedy=nasty, rule=nasty, title=nasty, source=nasty, basis="standard"),
        plugin_errors=(PluginError(name="x", cause=nasty),), assumptions=(nasty,), plugins=(PluginUse(name=nasty, package=nasty, version=nasty),),
    )  # fmt: skip
    text = getattr(report, form)()
    assert all(line.isprintable() for line in text.split("\n"))
    if form == "to_markdown":
        assert not re.search(r"^(# two|\| three)", text, re.MULTILINE)


@pytest.mark.parametrize("value", [math.inf, -math.inf])
def test_what_is_not_finite_is_null_in_json(value):
    report = report_of(level(value), level(0.3, bound=value, rule="site.other"))
    loaded = json.loads(report.to_json(), parse_constant=pytest.fail)
    assert loaded["findings"][0]["measured"] is None
    assert loaded["findings"][1]["bound"] is None
    assert "infinite" in report.to_text()


def test_nan_is_null_and_unknown():
    report = report_of(level(math.nan), level(0.3, limit=math.nan))
    loaded = json.loads(report.to_json(), parse_constant=pytest.fail)
    assert [found["verdict"] for found in loaded["findings"]] == ["unknown", "unknown"]
    assert loaded["findings"][0]["measured"] is loaded["findings"][0]["headroom"] is None
    assert all("nan" not in getattr(report, form)().lower() for form in FORMS)


def test_a_limit_of_zero_has_a_margin_and_no_headroom():
    text = flat(report_of(level(0.1, limit=0.0)).to_text())
    assert "limit at least 0 V" in text
    assert "headroom" not in text


def test_two_hundred_findings_stay_readable_in_text_and_whole_elsewhere():
    names = [f"gate-{number:03}" for number in range(200)]
    report = report_of(*(level(0.1 + 1e-4 * number, name) for number, name in enumerate(names)))
    text = report.to_text()
    assert text.count("solved") == 3
    assert "and 197 more nodes: gate-003, gate-004" in text
    assert all(name in text for name in names)
    assert len(text.splitlines()) < 80
    assert max(map(len, text.splitlines())) <= 100
    assert len(report.to_records()) == 200
    assert report.to_markdown().count("| node gate-") == 200
    assert report.to_html().count("<td>node gate-") == 200


def test_four_alike_are_shown_in_full_and_so_are_all_about_the_bus():
    four = report_of(*(level(0.1, f"gate-{number}") for number in range(4))).to_text()
    assert four.count("solved") == 4
    assert "more" not in four.split("Failed")[1]
    about_bus = report_of(*(finding(message=f"star number {number}") for number in range(9))).to_text()
    assert "star number 8" in about_bus


def test_paths_and_segments_are_told_apart_by_both_names():
    paths = [finding(where=rk.Place.path("head", f"gate-{number}")) for number in range(9)]
    assert "and 6 more paths: head -> gate-3, head -> gate-4" in flat(report_of(*paths).to_text())


def test_different_remedies_stand_by_their_findings():
    text = flat(report_of(level(0.1, "a", remedy="less load"), level(0.1, "b", remedy="more bias")).to_text())
    assert text.index("node a") < text.index("less load") < text.index("node b") < text.index("more bias")
    same = report_of(level(0.1, "a", remedy="less load"), level(0.1, "b", remedy="less load")).to_text()
    assert same.count("less load") == 1


def test_long_names_are_never_cut_and_long_causes_are():
    report = report_of(level(0.1, LONG), plugin_errors=(PluginError(name="x", cause="y" * 5000),))
    assert LONG in report.to_text()
    assert max(map(len, report.to_text().splitlines())) <= 110


# --- the verdict -----------------------------------------------------------------------------------------------------

LINES = [
    ((), {}, "Not passed: no rule ran, so that nothing was checked", 3),
    ((), {"rules": ("site.x",), "not_applicable": ("site.x",)}, "Not passed: no rule that ran applies to this bus", 3),
    (
        (),
        {"plugin_errors": (PluginError(name="x", cause="y"),)},
        "Not passed: 1 rule or plugin did not run, no rule ran, so that nothing was checked",
        3,
    ),
    ((level(0.3),), {}, "Passed: no checked requirement failed", 0),
    ((level(0.21),), {}, "Passed: no checked requirement failed; 1 marginal finding", 0),
    ((level(0.1),), {}, "Not passed: 1 checked requirement failed", 1),
    ((level(0.1, "a"), level(0.1, "b")), {}, "Not passed: 1 checked requirement failed at 2 places", 1),
    (
        (level(0.1, "a"), level(0.1, "b"), finding(), finding("unknown", rule="site.cable")),
        {},
        "Not passed: 2 checked requirements failed at 3 places, 1 requirement could not be judged",
        1,
    ),
    (
        (level(None),),
        {},
        "Not passed: no checked requirement failed, but 1 requirement could not be judged",
        3,
    ),
    (
        (level(0.3),),
        {"plugin_errors": (PluginError(name="x", cause="y"), PluginError(name="z", cause="y"))},
        "Not passed: no checked requirement failed, but 2 rules or plugins did not run",
        3,
    ),
    ((finding(waiver=WAIVER),), {}, "Passed: no checked requirement failed without a waiver; 1 failure waived", 0),
    ((level(None, waiver=WAIVER),), {}, "Passed: no checked requirement failed; 1 unknown waived", 0),
    ((level(0.1), finding(waiver=WAIVER)), {}, "Not passed: 1 checked requirement failed; 1 failure waived", 1),
    ((finding(safety=True),), {}, "Not passed: 1 safety requirement not met", 1),
    (
        (finding("unknown", safety=True),),
        {},
        "Not passed: no checked requirement failed, but 1 safety requirement not checked",
        3,
    ),
    (
        (finding(safety=True, waiver=WAIVER),),
        {},
        "Passed: no checked requirement failed without a waiver; 1 safety requirement not met waived",
        0,
    ),
    (
        (finding("unknown", safety=True, waiver=WAIVER),),
        {},
        "Passed: no checked requirement failed; 1 safety requirement not checked waived",
        0,
    ),
]


@pytest.mark.parametrize(("findings", "fields", "line", "status"), LINES)
def test_the_verdict_says_what_passed_means_and_what_was_waived(findings, fields, line, status):
    report = report_of(*findings, **fields)
    assert report.verdict.startswith(line)
    assert report.passed == line.startswith("Passed")
    assert report.exit_status == status
    assert line in flat(report.to_text())
    assert line in Page(report.to_html()).text
    assert line in report.to_markdown()
    assert json.loads(report.to_json())["verdict"] == report.verdict


def test_an_empty_report_says_that_nothing_was_checked():
    for form in FORMS:
        assert "nothing was checked" in flat(getattr(report_of(), form)())


# --- order and words -------------------------------------------------------------------------------------------------


def in_order(text, *parts):
    places = [text.index(part) for part in parts]
    assert places == sorted(places), dict(zip(parts, places, strict=True))


def test_text_says_what_was_not_checked_before_the_verdict_and_errors_before_findings():
    text = flat(FULL.to_text())
    in_order(
        text, "north canal", "2027-01-15, bus digest 0123456789ab, rs485kit 0.1.0", flat(CAUTION), "Not checked",
        NOT_CHECKED[0], "Not passed: ", "DID NOT RUN", "canal.depth (canal-rules 1.2): ValueError: too deep",
        "fail: site.level", "not met: site.touch", "unknown: site.cable", "marginal: site.stub", "fail (waived): site.star",
        "pass: site.other, node tail", "copper is at 20 degC", "select: site", "skip: site.x",
        "settings of site.level: reserve = 0.2",
        'waiver of site.star for the bus: "until the new trunk is laid" (until 2027-03-31)', "Rules that ran",
        "Not applicable to this bus - site.ring", 'Plugins - canal-rules 1.2: 2 rules under "canal."',
    )  # fmt: skip


@pytest.mark.parametrize("form", ["to_markdown", "to_html"])
def test_the_other_forms_keep_the_order(form):
    text = getattr(FULL, form)()
    text = Page(text).text if form == "to_html" else flat(text.replace("\\", ""))
    in_order(
        text, "north canal", flat(CAUTION), "Not checked", NOT_CHECKED[0], "Not passed: ", "canal.depth (canal-rules 1.2)",
        "Failed or not met (2)", "Not judged (1)", "Marginal (1)", "Waived (1)", "until the new trunk is laid", "Met (1)",
        "copper is at 20 degC", "Policy in force", "Rules that ran", "Not applicable", "Plugins",
    )  # fmt: skip


def test_a_finding_is_shown_with_figures_remedy_basis_and_source():
    text = flat(FULL.to_text())
    in_order(
        text, "node gate-1: idle level is 146.7 mV (120 mV on the adverse side); it must be at least 200 mV",
        "solved 146.7 mV, adverse bound 120 mV, limit at least 200 mV, margin -80 mV, headroom -40 %",
        "remedy: less termination", "basis: standard, a standard, 4.2",
    )  # fmt: skip
    assert "basis: common practice" in text


def test_safety_is_met_or_not_met_never_pass_or_fail():
    findings = [
        finding(verdict, safety=True, rule=f"site.{verdict}", message="about the barrier", title="")
        for verdict in ("fail", "unknown", "marginal", "pass")
    ]
    text = report_of(*findings).to_text()
    assert [wording.word(found) for found in findings] == ["not met", "not checked", "marginal", "met"]
    assert not re.search(r"^ *(fail|unknown|pass):", text, re.MULTILINE)
    assert "met: site.pass" in text


def test_nothing_is_called_safe():
    for form in FORMS:
        text = flat(getattr(FULL, form)()).replace("\\n", " ")
        assert flat(CAUTION) in text
        assert not re.search(r"\bsafe\b", text.replace(flat(CAUTION), ""))


def test_a_default_policy_and_a_bus_without_a_name_are_said_so():
    text = report_of(level(0.3), bus="").to_text()
    assert "bus without a name" in text
    assert wording.DEFAULT_POLICY in text


def test_waivers_of_every_kind_of_place_are_shown():
    waiver = rk.Waiver(
        rule="site.star", reason="known", nodes="a", barriers="b", earths="c", segments=[("d", "e")], paths=[("f", "g")]
    )
    (line,) = wording.policy_lines(rk.Policy(waivers=waiver))
    assert line == (
        'waiver of site.star for node a, barrier b, earth c, segment d - e, path f -> g: "known" (no last day)'
    )


# --- data ------------------------------------------------------------------------------------------------------------


def test_json_has_everything_and_is_the_same_each_time():
    loaded = json.loads(FULL.to_json())
    assert FULL.to_json() == FULL.to_json()
    assert FULL.to_json().isascii()
    assert loaded["report"] == 1
    fields = {field.name for field in attrs.fields(Report)}
    assert fields <= set(loaded)
    assert loaded["findings"] == FULL.to_records()
    assert (loaded["passed"], loaded["exit_status"], loaded["caution"]) == (False, 1, CAUTION)
    assert loaded["policy"]["settings"] == {"site.level": {"reserve": 0.2}}
    assert loaded["policy"]["waivers"][0]["until"] == "2027-03-31"
    assert loaded["plugin_errors"][0]["cause"] == "ValueError: too\ndeep"


def test_a_record_carries_figures_in_si_with_their_unit():
    record = FULL.to_records()[0]
    assert record == {
        "rule": "site.level", "title": "No level", "verdict": "fail", "place_kind": "node", "place": ["gate-1"],
        "quantity": "idle level", "unit": "V", "measured": 0.1467, "bound": 0.12, "limit": 0.2, "sense": "at least",
        "margin": pytest.approx(-0.08, abs=1e-9), "headroom": pytest.approx(-0.4, abs=1e-9),
        "message": "idle level is 146.7 mV (120 mV on the adverse side); it must be at least 200 mV",
        "remedy": "less termination", "basis": "standard", "source": "a standard, 4.2", "safety": False, "waived": False,
        "waiver_reason": None, "waiver_until": None, "missing": [],
    }  # fmt: skip
    waived = FULL.to_records()[4]
    assert (waived["waived"], waived["waiver_reason"], waived["waiver_until"]) == (True, WAIVER.reason, "2027-03-31")


# --- the page --------------------------------------------------------------------------------------------------------

SVG = '<?xml version="1.0"?>\n<!DOCTYPE svg PUBLIC "-//X//Y" "http://x/y">\n<svg viewBox="0 0 9 9"><path d="M0 0"></path></svg>\n'


def test_the_page_needs_nothing_else_and_allows_nothing_else():
    text = FULL.to_html(figures=(("Levels", SVG),))
    page = Page(text)
    assert {tag for tag, _ in page.tags}.isdisjoint({"script", "link", "img", "iframe", "object"})
    assert "url(" not in text
    assert not re.search(r"https?://", text)
    policies = [attributes["content"] for tag, attributes in page.tags if "http-equiv" in attributes]
    assert policies == ["default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"]


def test_tables_have_scopes_and_verdicts_have_words_and_symbols():
    page = Page(FULL.to_html())
    scopes = {attributes.get("scope") for tag, attributes in page.tags if tag == "th"}
    assert scopes == {"col", "row", "rowgroup"}
    for words in ("✕ fail", "✕ not met", "? unknown", "△ marginal", "✓ pass"):
        assert words in page.text.replace("\xa0", " ")


def test_figures_stand_in_the_page_as_they_are_with_an_escaped_title():
    text = FULL.to_html(figures=(("<Levels>", SVG),))
    assert '<figcaption>&lt;Levels&gt;</figcaption>\n<svg viewBox="0 0 9 9"><path d="M0 0"></path></svg>' in text
    assert "<?xml" not in text
    assert text.count("<!DOCTYPE") == 1


@pytest.mark.parametrize("figure", ["<svg></svg>", ("a", "b"), ("a", None), (1, "<svg></svg>"), ("a",), ("a", "<svg>")])
def test_what_is_no_figure_is_refused(figure):
    with pytest.raises(InputError, match="pairs of a title and the text of an SVG"):
        FULL.to_html(figures=(figure,))
