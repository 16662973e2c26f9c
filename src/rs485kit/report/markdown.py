"""A report as Markdown: headings and tables, with every name and message escaped."""

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from rs485kit.report import wording
from rs485kit.report.wording import Section, one_line
from rs485kit.rules.finding import Finding
from rs485kit.rules.scope import CAUTION

if TYPE_CHECKING:
    from rs485kit.report.summary import Report

_ACTIVE = re.compile(r"([\\`*_{}\[\]#|~$])")


def rendered(report: "Report") -> str:
    """Return a report as Markdown.

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    str
        The text, ending in a line break [-].
    """
    parts = [
        f"# RS-485 bus check: {escaped(wording.bus_name(report))}",
        escaped(report.described),
        "",
        escaped(wording.origin(report)),
        f"> {escaped(CAUTION)}",
        _list("Not checked", report.not_checked),
        "## Verdict",
        f"**{escaped(wording.verdict_line(report))}**",
        _list("Did not run", map(wording.not_run, report.plugin_errors)),
    ]
    parts += [_section(section) for section in wording.sections(report)]
    parts += [
        _list("Assumptions", report.assumptions),
        _list("Policy in force", wording.policy_lines(report.policy)),
        _list("Rules that ran", wording.in_one(report.rules) or ["none"]),
        _list("Not applicable to this bus", wording.in_one(report.not_applicable)),
        _list("Plugins", map(str, report.plugins)),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def escaped(text: str) -> str:
    """Return text that Markdown shows as it is: on one line, without markup, table borders or HTML.

    Parameters
    ----------
    text : str
        The text [-].

    Returns
    -------
    str
        The escaped text [-].
    """
    plain = one_line(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return _ACTIVE.sub(r"\\\1", plain)


def _section(section: Section) -> str:
    heading = f"## {section.heading} ({len(section.findings)})"
    return "\n\n".join([heading, escaped(section.meaning), *map(_group, wording.groups(section.findings))])


def _group(findings: tuple[Finding, ...]) -> str:
    """Return findings of one rule and verdict: what they share, and a row for each."""
    first, remedy = findings[0], wording.common_remedy(findings)
    some_remedy = any(found.remedy for found in findings)
    shared = [f"Basis: {escaped(wording.rests_on(first))}"]
    if remedy:
        shared.append(f"Remedy: {escaped(remedy)}")
    if first.waiver is not None:
        shared.append(f"Waived: {escaped(wording.answered(first.waiver))}")
    return "\n\n".join([_heading(first), *shared, _table(findings, with_remedy=some_remedy and not remedy)])


def _heading(found: Finding) -> str:
    title = f" ({escaped(found.title)})" if found.title else ""
    return f"### {wording.word(found)}: {escaped(found.rule)}{title}"


def _table(findings: tuple[Finding, ...], *, with_remedy: bool) -> str:
    figures = [wording.figures_of(found) for found in findings]
    labels = [label for label in wording.LABELS if any(label in each for each in figures)]
    columns = ["place", "finding", *labels, *(["remedy"] if with_remedy else [])]
    rows = [" | ".join(columns), " | ".join("---" for _ in columns)]
    for found, each in zip(findings, figures, strict=True):
        texts = [str(found.where), found.message, *(each.get(label, "") for label in labels)]
        texts += [found.remedy] if with_remedy else []
        rows.append(" | ".join(map(escaped, texts)))
    return "\n".join(f"| {row} |" for row in rows)


def _list(heading: str, lines: Iterable[str]) -> str:
    """Return a heading with a list below it, or nothing where there is nothing to list."""
    items = "\n".join(f"- {_at_start(escaped(line))}" for line in lines)
    return f"## {heading}\n\n{items}" if items else ""


def _at_start(text: str) -> str:
    """Escape what would start a list, a rule or a heading at the beginning of a line."""
    return re.sub(r"^(\d*)([-+=.)])", r"\1\\\2", text)
