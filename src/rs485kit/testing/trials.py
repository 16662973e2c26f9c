"""One rule tried on one bus as a check would run it, and what came of it."""

import pickle
import re
import traceback
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal, TypeAlias

import attrs

from rs485kit.errors import MissingDataError, listed
from rs485kit.memo import Analyses
from rs485kit.model import Bus
from rs485kit.rules import Finding, Place, Rule, unknown

Role: TypeAlias = Literal["firing", "passing", "lacking"]
Settings: TypeAlias = Mapping[str, Any]

SHOWN = 3
# figures of one bus, listed in another order, may differ by rounding and by nothing else
AGREEMENT = 1e-6
# messages carry four digits, of which the last may turn either way
AGREEMENT_IN_WORDS = 2e-3
_NUMBER = re.compile(r"(?<![\w.-])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?!\w)")
# how far an outcome is from passing a report: no outcome may come nearer because less is known
PASSING = 2
_STANDING = {"fail": 0, "unknown": 0, "marginal": 1, "pass": PASSING}
_SILENT = 3


@attrs.frozen
class Outcome:
    """What came of a trial: findings, whether they stand for a MissingDataError, or the exception in words."""

    findings: tuple[Finding, ...] = ()
    data_missing: bool = False
    error: str = ""

    @property
    def standing(self) -> int:
        """The rank of the worst finding: 0 fail or unknown, 1 marginal, 2 pass, 3 nothing said."""
        return min((_STANDING[found.verdict] for found in self.findings), default=_SILENT)

    @property
    def others(self) -> tuple[Finding, ...]:
        """The findings that are no passes."""
        return tuple(found for found in self.findings if found.verdict != "pass")

    def __str__(self) -> str:
        if self.error:
            return f"raised {self.error}"
        if not self.findings:
            return "gave no finding"
        return f"gave {_listed([f'{found.verdict} at {found.where}' for found in self.findings])}"


@attrs.frozen
class Case:
    """A rule on a bus of which it is known what should be found, with what it finds."""

    rule: Rule
    settings: Settings
    role: Role
    index: int
    bus: Bus
    outcome: Outcome

    def __str__(self) -> str:
        name = f' "{self.bus.name}"' if self.bus.name else ""
        return f"{self.role} bus {self.index}{name}"

    def tried(self, subject: Bus | Analyses, **more: object) -> Outcome:
        """Return what the rule finds on another bus or with results already there, under the same settings."""
        return tried(self.rule, subject, {**self.settings, **more})


def cases(rule: Rule, role: Role, buses: Sequence[Bus], settings: Settings) -> Iterator[Case]:
    """Give the rule on each of some buses."""
    for index, bus in enumerate(buses, 1):
        yield Case(rule, settings, role, index, bus, tried(rule, bus, settings))


def copied(bus: Bus) -> Bus:
    """Return an equal bus that shares nothing with the one given, so that no trial can spoil another."""
    result: Bus = pickle.loads(pickle.dumps(bus))
    return result


def tried(rule: Rule, subject: Bus | Analyses, settings: Settings) -> Outcome:
    """Return what a rule finds; a bus is copied before.

    Parameters
    ----------
    rule : Rule
        The rule [-].
    subject : Bus or Analyses
        The bus, or a bus with results that are there already [-].
    settings : mapping
        Settings of the rule by parameter [-].

    Returns
    -------
    Outcome
        Its findings, or its exception [-].
    """
    analyses = subject if isinstance(subject, Analyses) else Analyses(copied(subject))
    try:
        return Outcome(tuple(rule.findings(analyses, settings)))
    except MissingDataError as error:
        found = unknown(Place.bus(), str(error), missing=error.missing, remedy=error.cure)
        return Outcome((rule.stamped(found),), data_missing=True)
    except Exception as error:
        return Outcome(error=f"{type(error).__name__}: {error}{_where(rule, error)}")


def _where(rule: Rule, error: Exception) -> str:
    """Return the line of the rule's own file from which an exception came."""
    file = getattr(getattr(rule.function, "__code__", None), "co_filename", None)
    lines = [frame.lineno for frame in traceback.extract_tb(error.__traceback__) if frame.filename == file]
    return f" (line {lines[-1]} of its file)" if lines else ""


def _listed(texts: Sequence[str]) -> str:
    return listed(tuple(dict.fromkeys(texts)), SHOWN)


# --- whether two outcomes say the same -------------------------------------------------------------------


def difference(bus: Bus, before: Outcome, after: Outcome) -> str:
    """Return in what two outcomes on one bus differ, written as it may be; empty if they say the same.

    The order of findings and the two ends of a segment do not count. Figures may differ by rounding, and a proved
    bound by more as long as the verdict is the same. Of several that
    are equally near to their limits, either may be named as the worst.

    Parameters
    ----------
    bus : Bus
        The bus, whose names are no figures of a message [-].
    before : Outcome
        What was found [-].
    after : Outcome
        What was found of the same bus in another form [-].

    Returns
    -------
    str
        The difference in words, such as "it gave ... and no longer ..." [-].
    """
    if before.error or after.error:
        return "" if before.error == after.error else f"it {after}"
    left, right = _unmatched(before.findings, after.findings, _names(bus))
    if not left and not right:
        return ""
    gone = f"no longer gave {_listed([_told(found) for found in left])}" if left else ""
    new = f"gave {_listed([_told(found) for found in right])}" if right else ""
    return f"it {' and '.join(filter(None, (gone, new)))}"


def _told(found: Finding) -> str:
    figures = "" if found.measured is None else f" ({found.quantity} {found.measured:.6g}; {found.message})"
    return f"{found.verdict} at {found.where}{figures or f' ({found.message})'}"


def _names(bus: Bus) -> re.Pattern[str]:
    names = {*(node.name for node in bus.nodes), *(earth.name for earth in bus.earths)}
    return re.compile("|".join(map(re.escape, sorted(names, key=len, reverse=True))))


def _unmatched(
    before: Sequence[Finding], after: Sequence[Finding], names: re.Pattern[str]
) -> tuple[list[Finding], list[Finding]]:
    """Return what stands in one list alone, after what says the same and then what is equally near to its limit."""
    left, right = list(before), list(after)
    for match in (lambda a, b: _say_the_same(a, b, names), _tied):
        for found in tuple(left):
            other = next((each for each in right if match(found, each)), None)
            if other is not None:
                left.remove(found)
                right.remove(other)
    return left, right


def _say_the_same(a: Finding, b: Finding, names: re.Pattern[str]) -> bool:
    if (_place(a), a.verdict, a.quantity, a.unit, a.sense) != (_place(b), b.verdict, b.quantity, b.unit, b.sense):
        return False
    figures = [(a.measured, b.measured), (a.limit, b.limit), (a.scale, b.scale)]
    size = max((abs(x) for pair in figures for x in pair if x is not None), default=0.0)
    if not all(_near(x, y, AGREEMENT * size) for x, y in figures) or (a.bound is None) != (b.bound is None):
        return False
    # a proved bound is an outer one, and which of several the solvers prove may hang on the order of the nodes
    return not _near(a.bound, b.bound, AGREEMENT * size) or _words_agree(a, b, names)


def _tied(a: Finding, b: Finding) -> bool:
    """Return whether two findings are equally near to their limits: a rule that names the worst may name either."""
    if (a.where.kind, a.verdict) != (b.where.kind, b.verdict) or a.headroom is None or b.headroom is None:
        return False
    return _near(a.headroom, b.headroom, AGREEMENT * max(1.0, abs(a.headroom)))


def _place(found: Finding) -> tuple[str, tuple[str, ...]]:
    names = found.where.names
    return found.where.kind, tuple(sorted(names)) if found.where.kind == "segment" else names


def _near(a: float | None, b: float | None, slack: float) -> bool:
    if a is None or b is None:
        return a is b
    return a == b or abs(a - b) <= slack


def _words_agree(a: Finding, b: Finding, names: re.Pattern[str]) -> bool:
    """Return whether the figures in two messages agree; names and their order may differ."""
    ours, theirs = (sorted(map(float, _NUMBER.findall(names.sub("_", found.message)))) for found in (a, b))
    size = max(map(abs, (*ours, *theirs)), default=0.0)
    return len(ours) == len(theirs) and all(
        _near(x, y, AGREEMENT_IN_WORDS * max(abs(x), abs(y)) + AGREEMENT * size)
        for x, y in zip(ours, theirs, strict=True)
    )
