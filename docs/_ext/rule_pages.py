"""Directives that are filled from the rules themselves.

``rule-pages`` is every built-in rule with its documentation, limit, settings, basis and source; ``not-checked`` is the
list of what no rule looks at.
"""

import inspect
import re
from collections.abc import Iterator
from typing import Any

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective
from sphinx.util.nodes import nested_parse_with_titles

from rs485kit.rules import Rule, built_in
from rs485kit.rules.figures import figure, share
from rs485kit.rules.scope import NOT_CHECKED

_HEADING = re.compile(r"^(?P<title>\S.*)\n(?P<line>-+)$", re.MULTILINE)


def sections(documentation: str) -> list[tuple[str, str]]:
    """Split the documentation of a rule at its underlined headings; what stands before them has no heading."""
    text = inspect.cleandoc(documentation)
    heads = [head for head in _HEADING.finditer(text) if len(head["line"]) == len(head["title"])]
    starts = [0, *(head.end() for head in heads)]
    ends = [*(head.start() for head in heads), len(text)]
    titles = ["", *(head["title"] for head in heads)]
    return [(title, text[start:end].strip()) for title, start, end in zip(titles, starts, ends, strict=True)]


def page(rule: Rule) -> Iterator[str]:
    """Give the lines of reStructuredText that describe a rule."""
    yield from (f".. _rule-{rule.name}:", "", rule.name, "-" * len(rule.name), "")
    yield from (f"*{_plain(rule.title)}.*", "")
    for title, text in sections(rule.documentation):
        if title:
            yield from (title, *(f"    {line}" for line in text.splitlines()), "")
    yield from ("Basis", f"    {_plain(_basis(rule))}", "")
    yield from ("Settings of a policy", *(f"    {line}" for line in _settings(rule)), "")


def _basis(rule: Rule) -> str:
    return f"{rule.basis}: {rule.source}" if rule.source else rule.basis


def _settings(rule: Rule) -> Iterator[str]:
    for each in rule.parameters:
        default = figure(each.default, each.unit, digits=6)
        yield f"- ``{each.name}`` = {_plain(default)}: {_plain(each.meaning)}"
    meaning = f"a limit that is met by less than {share(rule.reserve)} of it is marginal"
    yield f"- ``reserve`` = {rule.reserve:g}: {meaning if rule.reserve else 'a limit that is just met is met'}"


def _plain(text: str) -> str:
    return re.sub(r"([\\*`|_])", r"\\\1", text)


class RulePages(SphinxDirective):
    """Puts the built-in rules in the place of the directive, each under a heading of its own."""

    def run(self) -> list[nodes.Node]:
        parent = nodes.section()
        parent.document = self.state.document
        for rule in built_in():
            nested_parse_with_titles(self.state, StringList(list(page(rule)), source=f"rule {rule.name}"), parent)
        return parent.children


class NotChecked(SphinxDirective):
    """Puts the list of what no rule looks at in the place of the directive."""

    def run(self) -> list[nodes.Node]:
        items = [nodes.list_item("", nodes.paragraph(text=line)) for line in NOT_CHECKED]
        return [nodes.bullet_list("", *items, bullet="-")]


def setup(app: Sphinx) -> dict[str, Any]:
    """Make the directives known to Sphinx."""
    app.add_directive("rule-pages", RulePages)
    app.add_directive("not-checked", NotChecked)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
