"""For every rule one bus that fires it and one that passes: the same files that its page shows, and what they give."""

import importlib
import inspect
import sys
from pathlib import Path

import attrs
import pytest

from rs485kit.rules import built_in
from rs485kit.rules.explanation import ABOUT_WAIVERS
from rs485kit.testing import check_rule

EXTENSIONS = Path(__file__).parents[2] / "docs" / "_ext"
HEADINGS = ["What it checks", "Why it matters", "Limit and source", "When to waive"]
RULES = {rule.name: rule for rule in built_in()}
NAMES = sorted([*RULES, *ABOUT_WAIVERS])
MOST_LINES = 64
WIDEST = 110

# the verdicts that the firing bus gets, in the order of the report
FIRED = {
    "driving.level-too-low": ["marginal", "marginal"],
    "feed.common-lifted": ["marginal", "marginal"],
    "feed.conductor-overloaded": ["fail"],
    "feed.fuse-too-large": ["fail"],
    "feed.near-collapse": ["marginal"],
    "feed.source-overloaded": ["fail"],
    "feed.voltage-too-low": ["marginal"],
    "ground.barrier-overstressed": ["fail"],
    "ground.bonded-twice": ["fail"],
    "ground.common-mode-exceeded": ["fail", "fail", "unknown", "unknown"],
    "ground.common-not-joined": ["fail", "fail"],
    "ground.fault-endangers": ["fail"],
    "ground.hidden-bond": ["fail"],
    "ground.leakage-adds-up": ["fail"],
    "ground.loop-current": ["fail"],
    "ground.noisy-common": ["marginal"],
    "ground.reference-floating": ["fail"],
    "ground.shield-bonded-twice": ["fail"],
    "ground.shield-is-reference": ["marginal"],
    "ground.shield-not-bonded": ["fail"],
    "insulation.clearance-too-small": ["fail"],
    "insulation.creepage-too-small": ["fail"],
    "insulation.grade-too-low": ["fail"],
    "insulation.impulse-too-low": ["fail"],
    "insulation.life-too-short": ["fail", "fail"],
    "insulation.path-unprotected": ["fail"],
    "insulation.withstand-too-low": ["fail"],
    "insulation.working-voltage-exceeded": ["fail", "fail"],
    "transient.data-disturbed": ["fail"],
    "transient.protector-overloaded": ["fail"],
    "transient.state-upset": ["fail"],
    "transient.surge-breaks-barrier": ["fail"],
    "handover.marks-left-to-bias": ["fail"],
    "handover.release-reads-as-start": ["fail", "fail"],
    "idle.bias-in-several-places": ["marginal"],
    "idle.bias-reversed": ["fail"],
    "idle.bias-supply-lost": ["marginal", "marginal"],
    "idle.level-undefined": ["fail", "fail", "fail"],
    "loading.bias-crowds-out-nodes": ["marginal"],
    "loading.unit-loads-exceeded": ["fail"],
    "power.does-not-start": ["fail", "fail"],
    "power.output-outside-supply": ["marginal", "marginal", "marginal", "marginal"],
    "power.part-too-hot": ["marginal", "marginal"],
    "power.supply-overloaded": ["fail"],
    "signal.does-not-settle": ["marginal"],
    "signal.edge-faster-than-needed": ["marginal"],
    "signal.eye-too-low": ["fail", "fail", "fail"],
    "signal.eye-too-narrow": ["fail", "fail", "marginal"],
    "signal.impedance-lowered": ["marginal", "marginal"],
    "signal.length-times-rate": ["marginal"],
    "signal.loss-too-high": ["marginal"],
    "signal.overshoot-too-high": ["fail", "fail", "fail"],
    "signal.stub-too-long": ["marginal"],
    "structure.disconnected": ["fail"],
    "structure.figures-missing": ["unknown", "unknown"],
    "structure.nobody-to-hear": ["unknown"],
    "structure.ring": ["marginal"],
    "termination.driver-overloaded": ["fail", "fail", "fail"],
    "termination.end-unterminated": ["marginal"],
    "termination.mismatched": ["marginal", "marginal"],
    "termination.rc-too-small": ["marginal", "marginal"],
    "termination.resistor-too-hot": ["marginal", "marginal"],
    "termination.too-many": ["marginal", "marginal"],
    "timing.bit-margin-too-small": ["fail", "fail", "fail"],
    "timing.cycle-too-long": ["fail"],
    "timing.dead-device-stalls": ["marginal"],
    "timing.echo-too-late": ["marginal", "marginal"],
    "timing.frame-cut-short": ["fail", "fail"],
    "timing.profile-not-kept": ["fail"],
    "timing.rate-above-rating": ["fail", "fail", "fail"],
    "timing.reply-after-timeout": ["fail", "fail"],
    "timing.reply-overlaps-request": ["fail", "fail"],
    "timing.request-overlaps-reply": ["fail", "fail"],
    "timing.silence-too-short": ["fail", "fail"],
    "waiver.matches-nothing": ["marginal"],
    "waiver.over": ["marginal"],
}


def extension(name):
    """Return a module of the folder of Sphinx extensions, which is on the path while documentation is built."""
    sys.path.insert(0, str(EXTENSIONS))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(EXTENSIONS))


examples = extension("rule_examples")


def sections(documentation):
    """Return the text under each underlined heading."""
    lines = inspect.cleandoc(documentation).splitlines()
    heads = [at - 1 for at, line in enumerate(lines) if at and line and line == "-" * len(lines[at - 1])]
    ends = [*heads[1:], len(lines)]
    return {lines[head]: "\n".join(lines[head + 2 : end]).strip() for head, end in zip(heads, ends, strict=True)}


# --- the files -------------------------------------------------------------------------------------------------------


def test_every_rule_has_its_pair_and_nothing_else_is_there():
    wanted = {examples.path_of(name, kind) for name in NAMES for kind in examples.KINDS}
    assert wanted == {path for path in examples.FOLDER.rglob("*") if path.is_file()}
    assert {path.name for path in examples.FOLDER.iterdir()} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("kind", ["fires", "passes"])
def test_a_file_is_short_and_begins_with_what_is_the_matter(name, kind):
    lines = examples.path_of(name, kind).read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith(f"# {kind.capitalize()}: ") and lines[0].endswith(".")
    assert lines[1] == "format = 1"
    assert len(lines) <= MOST_LINES
    # what is longer is cut off on the page
    assert max(map(len, lines)) <= WIDEST


@pytest.mark.parametrize("name", NAMES)
def test_the_two_of_a_pair_differ_in_little(name):
    differing = [examples.lines_that_differ(name, kind) for kind in examples.KINDS]
    assert any(differing)
    assert max(map(len, differing)) <= 4


# --- what is found on them -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_one_fires_it(name):
    report = examples.report_on(name, "fires")
    assert not report.plugin_errors
    assert [found.verdict for found in examples.findings_of(report, name)] == FIRED[name]


@pytest.mark.parametrize("name", NAMES)
def test_the_other_passes_it_and_every_other_rule_of_its_topic(name):
    report = examples.report_on(name, "passes")
    assert not report.plugin_errors
    assert [found.verdict for found in examples.findings_of(report, name)] == (["pass"] if name in RULES else [])
    assert not examples.also_found_by(report, name)


@pytest.mark.parametrize("name", sorted(RULES))
def test_a_rule_conforms_on_its_pair(name):
    check_rule(RULES[name], fires=examples.bus_of(name, "fires"), passes=examples.bus_of(name, "passes"))


@pytest.mark.parametrize("name", sorted(RULES))
def test_a_rule_says_what_it_checks_and_why_under_fixed_headings(name):
    found = sections(RULES[name].documentation)
    assert list(found) == HEADINGS
    assert all(found.values())


# --- the pages -------------------------------------------------------------------------------------------------------


def test_lines_that_differ_are_those_that_the_other_does_not_have():
    lines = {
        kind: [
            examples.path_of("structure.ring", kind).read_text(encoding="utf-8").splitlines()[number - 1]
            for number in examples.lines_that_differ("structure.ring", kind)
        ]
        for kind in examples.KINDS
    }
    assert lines == {
        "fires": ['segments = [{ start = "weir", end = "pump-house", length = "280 m" }]'],
        "passes": [],
    }


def test_the_page_of_a_rule_has_both_buses_and_what_is_found():
    pytest.importorskip("sphinx", reason="pages are made by Sphinx")
    pages = extension("rule_pages").pages()
    assert sorted(pages) == NAMES
    for name, text in pages.items():
        assert f".. _rule-{name}:" in text
        assert [f"/rules/{name}/{kind}.toml" in text for kind in examples.KINDS] == [True, True]
        assert [text.count(f"**{verdict}**") for verdict in ("fail", "unknown", "marginal")] == [
            FIRED[name].count(verdict) for verdict in ("fail", "unknown", "marginal")
        ]
        assert text.count("**pass**") == (name in RULES)
        assert text.count("*Remedy:*") == len(FIRED[name])


def test_the_page_of_a_rule_on_safety_warns():
    pytest.importorskip("sphinx", reason="pages are made by Sphinx")
    page = extension("rule_pages").rule_page
    rule = RULES["structure.ring"]
    warned = [".. caution::" in page(attrs.evolve(rule, safety=safety)) for safety in (True, False)]
    assert warned == [True, rule.safety]
