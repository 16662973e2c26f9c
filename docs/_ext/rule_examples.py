"""The buses in the folder ``rules``: for each rule one that fires it and one that passes it, and what is found on them.

It needs no Sphinx, so that the tests hold the same buses, read and checked in the same way, to what the pages show.
"""

import datetime
import difflib
from pathlib import Path
from typing import Literal, TypeAlias

from rs485kit import Bus, Finding, Report, check, load_bus

Kind: TypeAlias = Literal["fires", "passes"]

KINDS: tuple[Kind, ...] = ("fires", "passes")
FOLDER = Path(__file__).parents[1] / "rules"
# waivers are judged as on this day, so that neither pages nor tests change with the calendar
DAY = datetime.date(2026, 12, 1)


def path_of(name: str, kind: Kind) -> Path:
    """Return where the file of a bus is."""
    return FOLDER / name / f"{kind}.toml"


def bus_of(name: str, kind: Kind) -> Bus:
    """Read the bus that fires or passes a rule."""
    return load_bus(path_of(name, kind))


def report_on(name: str, kind: Kind) -> Report:
    """Check the bus that fires or passes a rule against every rule."""
    return check(bus_of(name, kind), today=DAY)


def findings_of(report: Report, name: str) -> tuple[Finding, ...]:
    """Return what a report has from one rule."""
    return tuple(found for found in report.findings if found.rule == name)


def also_found_by(report: Report, name: str) -> tuple[str, ...]:
    """Return the other rules of its topic that find on the same bus what nobody answers for."""
    others = {found.rule for found in report.findings if found.verdict != "pass" and not found.waived}
    topic = name.partition(".")[0]
    return tuple(sorted(each for each in others - {name} if each.partition(".")[0] == topic))


def lines_that_differ(name: str, kind: Kind) -> tuple[int, ...]:
    """Return the numbers of the lines, but no comments, that the other bus of the pair does not have."""
    other: Kind = "passes" if kind == "fires" else "fires"
    lines, others = (path_of(name, each).read_text(encoding="utf-8").splitlines() for each in (kind, other))
    blocks = difflib.SequenceMatcher(a=lines, b=others, autojunk=False).get_matching_blocks()
    shared = {block.a + offset for block in blocks for offset in range(block.size)}
    return tuple(
        index + 1
        for index, line in enumerate(lines)
        if index not in shared and line.strip() and not line.startswith("#")
    )
