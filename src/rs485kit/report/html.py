"""A report as one HTML page that needs nothing else: no scripts, no outside resources, readable in print."""

import html
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from rs485kit.errors import InputError, Problem, shown
from rs485kit.report import wording
from rs485kit.report.wording import Section, one_line
from rs485kit.rules.finding import Finding, Verdict
from rs485kit.rules.scope import CAUTION

if TYPE_CHECKING:
    from rs485kit.report.summary import Report

# the page forbids itself scripts and outside resources, whatever a figure may hold
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"
_SYMBOLS: dict[Verdict, str] = {"fail": "\u2715", "unknown": "?", "marginal": "\u25b3", "pass": "\u2713"}
_SVG = re.compile(r"<svg[\s>].*</svg\s*>", re.DOTALL | re.IGNORECASE)

# blue, vermilion, orange and bluish green keep apart for every kind of colour vision; symbols and words say the same
_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 84rem; padding: 1.5rem; background: #fff; color: #1a1a1a;
  font: 1rem/1.45 system-ui, "Segoe UI", "DejaVu Sans", Arial, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.6rem; line-height: 1.25; margin: 0 0 .25rem; }
h2 { font-size: 1.2rem; margin: 2rem 0 .25rem; }
p { margin: .4rem 0; }
ul { margin: .4rem 0; padding-left: 1.4rem; }
.origin, .meaning { color: #444; }
.box { border: 1px solid #999; padding: .4rem 1rem; margin: 1rem 0; background: #f7f7f7; }
.box h2 { margin-top: .4rem; }
.line { font-size: 1.15rem; font-weight: 600; }
.box, tbody tr > :first-child { border-left: .4rem solid #777; }
.fail, .fail > :first-child { border-left-color: #d55e00; }
.unknown, .unknown > :first-child { border-left-color: #0072b2; }
.marginal, .marginal > :first-child { border-left-color: #e69f00; }
.pass, .pass > :first-child { border-left-color: #009e73; }
section { overflow-x: auto; }
table { width: 100%; min-width: 52rem; border-collapse: collapse; margin: .6rem 0; font-size: .9rem; }
th, td { border-bottom: 1px solid #bbb; padding: .3rem .6rem; text-align: left; vertical-align: top; }
thead th { border-bottom: 2px solid #555; overflow-wrap: normal; }
tbody th { font-weight: 600; }
[scope=row] { overflow-wrap: normal; }
td.figure { overflow-wrap: normal; }
.group th { background: #f0f0f0; font-weight: 400; }
.group p { margin: .1rem 0; }
td.figure { font-variant-numeric: tabular-nums; }
th.verdict, th.place { min-width: 6rem; }
th.finding { width: 45%; }
figure { margin: 1rem 0; }
figure svg { max-width: 100%; height: auto; }
figcaption { font-weight: 600; margin-bottom: .3rem; }
@media print {
  @page { margin: 12mm; }
  body { max-width: none; padding: 0; font-size: 9pt; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  table { font-size: 8pt; min-width: 0; }
  th, td { padding: .2rem .3rem; }
  thead { display: table-header-group; }
  tr, figure { break-inside: avoid; }
  h2, .meaning, thead, .group { break-after: avoid; }
}
"""


def rendered(report: "Report", figures: tuple[tuple[str, str], ...] = ()) -> str:
    """Return a report as one HTML page.

    Parameters
    ----------
    report : Report
        The report [-].
    figures : tuple of (str, str)
        Titles and SVG text of figures to show; the SVG goes into the page as it is [-].

    Returns
    -------
    str
        The page [-].

    Raises
    ------
    InputError
        If a figure is not a title with the text of an SVG.
    """
    title = _text(f"RS-485 bus check: {wording.bus_name(report)}")
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        '<head>\n<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_text(_POLICY)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n</head>",
        f"<body>\n<header>\n<h1>{title}</h1>\n<p>{_text(report.described)}</p>",
        f'<p class="origin">{_text(wording.origin(report))}</p>\n</header>\n<main>',
        f'<div class="box">\n<p>{_text(CAUTION)}</p>\n{_list("Not checked", report.not_checked)}\n</div>',
        _verdict(report),
        _errors(report),
        *map(_section, wording.sections(report)),
        *map(_figure, figures),
        _list("Assumptions", report.assumptions),
        _list("Policy in force", wording.policy_lines(report.policy)),
        _list("Rules that ran", wording.in_one(report.rules) or ["none"]),
        _list("Not applicable to this bus", wording.in_one(report.not_applicable)),
        _list("Plugins", map(str, report.plugins)),
        "</main>\n</body>\n</html>\n",
    ]
    return "\n".join(part for part in parts if part)


def _text(text: str) -> str:
    return html.escape(one_line(text))


def _verdict(report: "Report") -> str:
    kind: Verdict = "fail" if report.fails else "pass" if report.passed else "unknown"
    line = f'<p class="line">{_SYMBOLS[kind]} {_text(wording.verdict_line(report))}</p>'
    return f'<div class="box {kind}">\n<h2>Verdict</h2>\n{line}\n</div>'


def _errors(report: "Report") -> str:
    errors = _list("Did not run", map(wording.not_run, report.plugin_errors))
    what = "<p>What these would have found is not in this report.</p>"
    return f'<div class="box fail">\n{errors}\n{what}\n</div>' if errors else ""


def _section(section: Section) -> str:
    heading = f"<h2>{_text(section.heading)} ({len(section.findings)})</h2>"
    names = ("verdict", "place", "finding", *wording.LABELS)
    head = "".join(f'<th scope="col" class="{name.split()[0]}">{name.capitalize()}</th>' for name in names)
    bodies = "\n".join(map(_group, wording.groups(section.findings)))
    return (
        f'<section>\n{heading}\n<p class="meaning">{_text(section.meaning)}</p>\n'
        f"<table>\n<thead><tr>{head}</tr></thead>\n{bodies}\n</table>\n</section>"
    )


def _group(findings: tuple[Finding, ...]) -> str:
    """Return findings of one rule and verdict: a row of what they share, and a row for each."""
    first, remedy = findings[0], wording.common_remedy(findings)
    shared = [f"<b>{_text(first.rule)}</b>{f' ({_text(first.title)})' if first.title else ''}"]
    shared.append(f"Basis: {_text(wording.rests_on(first))}")
    if remedy:
        shared.append(f"Remedy: {_text(remedy)}")
    if first.waiver is not None:
        shared.append(f"Waived: {_text(wording.answered(first.waiver))}")
    lines = "".join(f"<p>{line}</p>" for line in shared)
    cell = f'<th scope="rowgroup" colspan="{3 + len(wording.LABELS)}">{lines}</th>'
    head = f'<tr class="group {first.verdict}">{cell}</tr>'
    rows = "\n".join(_row(found, with_remedy=not remedy) for found in findings)
    return f"<tbody>\n{head}\n{rows}\n</tbody>"


def _row(found: Finding, *, with_remedy: bool) -> str:
    what = _text(found.message)
    if with_remedy and found.remedy:
        what += f"<p>Remedy: {_text(found.remedy)}</p>"
    figures = wording.figures_of(found)
    cells = "".join(f'<td class="figure">{_kept_together(figures.get(label, ""))}</td>' for label in wording.LABELS)
    verdict = f"{_SYMBOLS[found.verdict]}&nbsp;{_text(wording.word(found))}"
    return (
        f'<tr class="{found.verdict}"><th scope="row">{verdict}</th>'
        f"<td>{_text(str(found.where))}</td><td>{what}</td>{cells}</tr>"
    )


def _kept_together(text: str) -> str:
    """Return a figure whose number and unit stay on one line."""
    return "&nbsp;".join(_text(text).rsplit(" ", 1))


def _figure(given: tuple[str, str]) -> str:
    title, svg = given if isinstance(given, tuple) and len(given) == 2 else (None, None)
    if not isinstance(title, str) or not isinstance(svg, str) or (match := _SVG.search(svg)) is None:
        raise InputError(Problem("figures", shown(given), "pairs of a title and the text of an SVG"))
    return f"<figure>\n<figcaption>{_text(title)}</figcaption>\n{match.group()}\n</figure>"


def _list(heading: str, lines: Iterable[str]) -> str:
    """Return a heading with a list below it, or nothing where there is nothing to list."""
    items = "\n".join(f"<li>{_text(line)}</li>" for line in lines)
    return f"<h2>{_text(heading)}</h2>\n<ul>\n{items}\n</ul>" if items else ""
