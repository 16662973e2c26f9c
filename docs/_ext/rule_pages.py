"""Pages that are made from the rules themselves.

Before Sphinx reads anything, every built-in rule and every finding about waivers gets a page in the folder
``reference/generated``: documentation, basis, source and settings, one bus that fires it and one that passes, and what
is found on them. ``rule-index`` lists these pages by topic; ``not-checked`` is the list of what no rule looks at.
"""

import re
from collections.abc import Iterable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

from docutils import nodes
from docutils.statemachine import StringList
from rule_examples import DAY, KINDS, Kind, also_found_by, findings_of, lines_that_differ, path_of, report_on
from sphinx.application import Sphinx
from sphinx.errors import ExtensionError
from sphinx.util.docutils import SphinxDirective
from sphinx.util.nodes import nested_parse_with_titles

from rs485kit.rules import Finding, Rule, built_in
from rs485kit.rules.explanation import ABOUT_WAIVERS, HURT, sections
from rs485kit.rules.figures import figure, share
from rs485kit.rules.scope import NOT_CHECKED

FOLDER = ("reference", "generated")
_TITLES: dict[Kind, str] = {"fires": "A bus that fires it", "passes": "A bus that passes"}
_TOPICS = {
    "driving": "Driven levels",
    "feed": "Feeds over the cable",
    "ground": "Grounds, commons and shields",
    "handover": "Between two drivers",
    "idle": "The idle bus",
    "insulation": "Insulation",
    "loading": "What hangs on the pair",
    "power": "Isolated supplies and heat",
    "signal": "Signals in time",
    "structure": "The shape of the bus",
    "termination": "Terminators",
    "timing": "Time on the bus",
    "transient": "Transients",
    "waiver": "Findings about waivers",
}


# --- one page --------------------------------------------------------------------------------------------


def rule_page(rule: Rule) -> Iterator[str]:
    """Give the lines of reStructuredText that describe a rule."""
    yield from _head(rule.name, rule.title)
    if rule.safety:
        yield from (".. caution::", "", f"   {_plain(HURT)}", "")
    for title, text in sections(rule.documentation):
        if title:
            yield from (*_titled(title), *text.splitlines(), "")
    yield from (*_titled("Basis"), f"{_plain(_basis(rule))}.", "")
    yield from (*_titled("Settings of a policy"), *_settings(rule), "")
    yield from _examples(rule.name)


def waiver_page(name: str) -> Iterator[str]:
    """Give the lines of reStructuredText that describe a finding about waivers."""
    title, text = ABOUT_WAIVERS[name]
    day = f"{DAY.day} {DAY:%B %Y}"
    yield from (*_head(name, title), _plain(text), "")
    yield from (f"It is no rule: the check itself finds it, and it is marginal. The day of these checks is {day}.", "")
    yield from _examples(name)


def _head(name: str, title: str) -> Iterator[str]:
    yield from (f".. _rule-{name}:", "", name, "=" * len(name), "", ".. rst-class:: fault", "", f"{_plain(title)}.", "")


def _titled(title: str) -> Iterator[str]:
    yield from (title, "-" * len(title), "")


def _basis(rule: Rule) -> str:
    basis = rule.basis.capitalize()
    return f"{basis}: {rule.source}" if rule.source else basis


def _settings(rule: Rule) -> Iterator[str]:
    for each in rule.parameters:
        default = figure(each.default, each.unit, digits=6)
        yield f"- ``{each.name}`` = {_plain(default)}: {_plain(each.meaning)}"
    meaning = f"a limit that is met by less than {share(rule.reserve)} of it is marginal"
    yield f"- ``reserve`` = {rule.reserve:g}: {meaning if rule.reserve else 'a limit that is just met is met'}"


def _plain(text: str) -> str:
    return re.sub(r"([\\*`|_])", r"\\\1", text)


# --- the buses of a page ---------------------------------------------------------------------------------


def _examples(name: str) -> Iterator[str]:
    for kind in KINDS:
        path, report = path_of(name, kind), report_on(name, kind)
        yield from (*_titled(_TITLES[kind]), f".. literalinclude:: /rules/{name}/{path.name}", "   :language: toml")
        differing = ",".join(map(str, lines_that_differ(name, kind)))
        yield from ((f"   :emphasize-lines: {differing}", "") if differing else ("",))
        found = findings_of(report, name)
        for each in found:
            yield from _finding(each)
        if not found:
            yield from ("The report says nothing of this name.", "")
        others = also_found_by(report, name)
        if others:
            yield from (f"Other rules find something on this bus too: {', '.join(map(_reference, others))}.", "")


def _finding(found: Finding) -> Iterator[str]:
    yield from (f".. container:: finding {found.verdict}", "")
    yield from (f"   **{found.verdict}**, {_plain(str(found.where))}", "", f"   {_plain(found.message)}.", "")
    if found.verdict != "pass":
        yield from (f"   *Remedy:* {_plain(found.remedy)}.", "")


def _reference(name: str) -> str:
    return f":ref:`{name} <rule-{name}>`"


# --- all pages -------------------------------------------------------------------------------------------


def pages() -> dict[str, str]:
    """Return the text of every page by name."""
    rules = {rule.name: rule_page(rule) for rule in built_in()}
    waivers = {name: waiver_page(name) for name in ABOUT_WAIVERS}
    return {name: "\n".join(lines) for name, lines in {**rules, **waivers}.items()}


def write_pages(app: Sphinx) -> None:
    """Write the pages, those that are as they were left untouched, and remove those of rules that are gone."""
    names = [*(rule.name for rule in built_in()), *ABOUT_WAIVERS]
    lacking = [path for name in names for kind in KINDS if not (path := path_of(name, kind)).is_file()]
    if lacking:
        raise ExtensionError(f"rule-pages: a rule is shown with buses, and these are missing: {_listed(lacking)}")
    folder = Path(app.srcdir, *FOLDER)
    folder.mkdir(exist_ok=True)
    wanted = {folder / f"{name}.rst": text for name, text in pages().items()}
    for path in set(folder.glob("*.rst")) - set(wanted):
        path.unlink()
    for path, text in wanted.items():
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")


def _listed(paths: Iterable[Path]) -> str:
    return ", ".join(path.relative_to(path.parents[2]).as_posix() for path in paths)


class RuleIndex(SphinxDirective):
    """Puts links to the pages, by topic, in the place of the directive."""

    def run(self) -> list[nodes.Node]:
        titles = {rule.name: rule.title for rule in built_in()}
        titles.update((name, title) for name, (title, _) in ABOUT_WAIVERS.items())
        parent = nodes.section()
        parent.document = self.state.document
        for prefix, names in groupby(sorted(titles), key=lambda name: name.split(".")[0]):
            lines = [*_titled(_TOPICS[prefix]), ".. list-table::", "   :widths: 38 62", "   :class: rules", ""]
            for name in names:
                lines += [f"   * - {_reference(name)}", f"     - {_plain(titles[name])}"]
            nested_parse_with_titles(self.state, StringList(lines, source=f"rules on {prefix}"), parent)
        return parent.children


class NotChecked(SphinxDirective):
    """Puts the list of what no rule looks at in the place of the directive."""

    def run(self) -> list[nodes.Node]:
        items = [nodes.list_item("", nodes.paragraph(text=line)) for line in NOT_CHECKED]
        return [nodes.bullet_list("", *items, bullet="-")]


def setup(app: Sphinx) -> dict[str, Any]:
    """Make the directives known to Sphinx, and the pages before it looks for any."""
    app.add_directive("rule-index", RuleIndex)
    app.add_directive("not-checked", NotChecked)
    app.connect("builder-inited", write_pages)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
