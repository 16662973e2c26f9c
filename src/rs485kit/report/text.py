"""A report as plain text: the limits of the check first, then the verdict, then findings nearest to failing."""

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

from rs485kit.report import wording
from rs485kit.report.wording import Section, one_line, verdict_line
from rs485kit.rules.finding import Finding
from rs485kit.rules.scope import CAUTION

if TYPE_CHECKING:
    from rs485kit.report.summary import Report

__all__ = ["rendered", "verdict_line"]

WIDTH = 100
SHOWN = 3
LONGEST_WORD = 110
_HELD = "\N{NO-BREAK SPACE}"
_PLURALS = {"bus": "places", "node": "nodes", "segment": "segments", "barrier": "barriers", "earth": "earths",
            "path": "paths"}  # fmt: skip


def rendered(report: "Report") -> str:
    """Return a report as plain text, wrapped at 100 columns.

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    str
        The text, ending in a line break [-].
    """
    parts = [_title(report), _scope(report), _verdict(report)]
    parts += [_passes(each) if each.heading == wording.MET else _section(each) for each in wording.sections(report)]
    parts += [
        _block("Assumptions", report.assumptions),
        _block("Policy in force", wording.policy_lines(report.policy)),
        _block("Rules that ran", wording.in_one(report.rules) or ["none"]),
        _block("Not applicable to this bus", wording.in_one(report.not_applicable)),
        _block("Plugins", map(str, report.plugins)),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _title(report: "Report") -> str:
    lines = (f"RS-485 bus check: {wording.bus_name(report)}", report.described, wording.origin(report))
    return "\n".join(_wrapped(line) for line in lines)


def _scope(report: "Report") -> str:
    return f"{_wrapped(CAUTION)}\n\n{_block('Not checked', report.not_checked)}"


def _verdict(report: "Report") -> str:
    errors = [wording.not_run(error) for error in report.plugin_errors]
    heading = "DID NOT RUN: what these would have found is not in this report"
    line = f"Verdict\n{_wrapped(verdict_line(report), '  ', '    ')}"
    return "\n\n".join(part for part in (line, _block(heading, errors)) if part)


def _section(section: Section) -> str:
    heading = _wrapped(f"{section.heading} ({len(section.findings)}). {section.meaning}")
    return "\n\n".join([heading, *map(_group, wording.groups(section.findings))])


def _group(findings: tuple[Finding, ...]) -> str:
    """Return findings of one rule and verdict: the first few in full, the places of the others in one line."""
    first = findings[0]
    some = len(findings) > SHOWN + 1 and first.where.kind != "bus"
    shown, others = (findings[:SHOWN], findings[SHOWN:]) if some else (findings, ())
    remedy = wording.common_remedy(findings)
    title = f" ({one_line(first.title)})" if first.title else ""
    lines = [_wrapped(f"{wording.word(first)}: {one_line(first.rule)}{title}", "  ", "    ")]
    for found in shown:
        lines += _finding(found, with_remedy=not remedy)
    if others:
        lines.append(_wrapped(_more(others), "    ", "      "))
    if remedy:
        lines.append(_wrapped(f"remedy: {one_line(remedy)}", "    ", "      "))
    if first.waiver is not None:
        lines.append(_wrapped(f"waived: {wording.answered(first.waiver)}", "    ", "      "))
    lines.append(_wrapped(f"basis: {wording.rests_on(first)}", "    ", "      "))
    return "\n".join(lines)


def _finding(found: Finding, *, with_remedy: bool) -> list[str]:
    lines = [_wrapped(f"{one_line(str(found.where))}: {one_line(found.message)}", "    ", "      ")]
    figures = _figures(found)
    if figures:
        lines.append(_wrapped(figures, "      ", "      "))
    if with_remedy and found.remedy:
        lines.append(_wrapped(f"remedy: {one_line(found.remedy)}", "      ", "        "))
    return lines


def _figures(found: Finding, *, leave_out: str = "") -> str:
    """Return the figures of a finding in one line, each held together by no-break spaces."""
    figures = wording.figures_of(found)
    return ", ".join(f"{label} {text}".replace(" ", _HELD) for label, text in figures.items() if label != leave_out)


def _more(findings: tuple[Finding, ...]) -> str:
    kinds = {found.where.kind for found in findings}
    kind = kinds.pop() if len(kinds) == 1 else "bus"
    separator = " -> " if kind == "path" else " - "
    names = (str(found.where) if kind == "bus" else separator.join(found.where.names) for found in findings)
    return f"and {len(findings)} more {_PLURALS[kind]}: {', '.join(map(one_line, names))}"


def _passes(section: Section) -> str:
    lines = [_wrapped(f"{section.heading} ({len(section.findings)}). {section.meaning}")]
    for found in section.findings:
        figures = _figures(found, leave_out="margin")
        judged = figures and found.sense is not None  # without a sense the figures alone say nothing
        what = f"{one_line(found.quantity)} {figures}".strip() if judged else one_line(found.message)
        text = f"{wording.word(found)}: {one_line(found.rule)}, {one_line(str(found.where))}: {what}"
        lines.append(_wrapped(text, "  ", "    "))
    return "\n".join(lines)


def _block(heading: str, lines: Iterable[str]) -> str:
    """Return a heading with a list below it, or nothing where there is nothing to list."""
    items = [_wrapped(one_line(line), "  - ", "    ") for line in lines if line]
    return "\n".join([_wrapped(heading), *items]) if items else ""


def _wrapped(text: str, first: str = "", hang: str = "") -> str:
    """Wrap text; names stay whole, and only words longer than any name are cut."""
    too_long = any(len(each) > LONGEST_WORD for each in text.split())
    return textwrap.fill(
        text, WIDTH, initial_indent=first, subsequent_indent=hang, break_on_hyphens=False, break_long_words=too_long
    ).replace(_HELD, " ")
