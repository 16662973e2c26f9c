"""What a rule says: a verdict at a place, with measure, limit, margin, message, remedy and source."""

import contextlib
import math
from collections.abc import Iterable
from typing import Any, Literal, TypeAlias

import attrs

from rs485kit.errors import RuleError, listed, plain, shown
from rs485kit.model import Waiver
from rs485kit.rules.figures import figure
from rs485kit.units import MinTypMax

Verdict: TypeAlias = Literal["pass", "marginal", "fail", "unknown"]
Basis: TypeAlias = Literal["standard", "physics", "common practice", "house"]
Kind: TypeAlias = Literal["bus", "node", "segment", "barrier", "earth", "path"]
Sense: TypeAlias = Literal["at least", "at most"]

VERDICTS: tuple[Verdict, ...] = ("fail", "unknown", "marginal", "pass")
BASES: tuple[Basis, ...] = ("standard", "physics", "common practice", "house")
DEFAULT_RESERVE = 0.1
LONGEST_IN_REPORT = 2000
"""Longest text of a finding that goes whole into a report [-]."""
# a limit nearer to zero is no scale for a share of it
NOTHING = 1e-30
MOST_MISSING = 1000
"""Most names of what is missing that a report takes from one finding [-]."""
_NAMES_OF_KIND = {"bus": 0, "node": 1, "segment": 2, "barrier": 1, "earth": 1, "path": 2}


def texts_tuple(given: str | Iterable[str]) -> tuple[str, ...]:
    """Read none, one or several texts [-]."""
    texts = (given,) if isinstance(given, str) else tuple(given)
    return tuple(_plain(text) for text in texts)


def _plain(text: str) -> str:
    """Return text as a str and no subclass of it; what is no text stays, to be refused by name."""
    return plain(text) if isinstance(text, str) else text


def _cut(text: str) -> str:
    """Return text short enough for a report, with a note of what was left out."""
    if len(text) <= LONGEST_IN_REPORT:
        return text
    return f"{text[:LONGEST_IN_REPORT]} [cut here: {len(text)} characters in all]"


@attrs.frozen
class Place:
    """Where a finding holds: the bus as a whole, or something on it by name.

    Parameters
    ----------
    kind : str
        "bus", "node", "segment", "barrier", "earth" or "path" [-].
    names : tuple of str
        None for the bus; two for a segment or a path (driver, receiver); else one [-].
    """

    kind: Kind
    names: tuple[str, ...] = attrs.field(default=(), converter=texts_tuple)

    def __attrs_post_init__(self) -> None:
        """Refuse a place that is not one."""
        wanted = _NAMES_OF_KIND.get(self.kind)
        if wanted is None or len(self.names) != wanted or not all(isinstance(name, str) for name in self.names):
            raise RuleError("", f"{self.kind!r} with the names {self.names!r} is no place")

    @classmethod
    def bus(cls) -> "Place":
        """Return the place that is the bus as a whole."""
        return cls("bus")

    @classmethod
    def node(cls, name: str) -> "Place":
        """Return the place that is a node."""
        return cls("node", (name,))

    @classmethod
    def segment(cls, start: str, end: str) -> "Place":
        """Return the place that is a segment."""
        return cls("segment", (start, end))

    @classmethod
    def barrier(cls, node: str) -> "Place":
        """Return the place that is the barrier of a node."""
        return cls("barrier", (node,))

    @classmethod
    def earth(cls, name: str) -> "Place":
        """Return the place that is a local earth."""
        return cls("earth", (name,))

    @classmethod
    def path(cls, driver: str, receiver: str) -> "Place":
        """Return the place that is the path from a driver to a receiver."""
        return cls("path", (driver, receiver))

    def __str__(self) -> str:
        if self.kind == "bus":
            return "bus"
        return f"{self.kind} {(' -> ' if self.kind == 'path' else ' - ').join(self.names)}"


def _float(value: object, name: str = "a figure of a finding") -> float:
    """Return a number as a float, and refuse what is none: text, a spread, a Quantity, an array of several."""
    cure = "give one number in SI units, or None"
    if isinstance(value, MinTypMax):
        cure = "give .nominal as measured, and .min or .max, whichever is adverse, as bound (NaN where it is None)"
    elif not isinstance(value, str | bytes | bool):
        with contextlib.suppress(Exception):
            return float(value)  # type: ignore[arg-type]
    raise RuleError("", f"{name} is {shown(value)}, which is no number; {cure}")


def _number_or_none(value: float | None) -> float | None:
    number = None if value is None else _float(value)
    return None if number is None or math.isnan(number) else number


def _bound_or_none(value: float | None) -> float | None:
    """Refuse NaN, which would otherwise let the nominal value alone decide."""
    value = None if value is None else _float(value)
    if value is not None and math.isnan(value):
        raise RuleError("", "a bound that is not a number leaves the verdict unknown: use at_least, at_most or unknown")
    return value


@attrs.frozen(kw_only=True)
class Finding:
    """One thing that a rule says.

    A limit rule builds it with `at_least` or `at_most`, a rule that misses data with `unknown`; a rule about
    structure builds it directly. The engine fills in rule, title, basis, source, safety and waiver.

    Parameters
    ----------
    verdict : str
        "pass", "marginal", "fail" or "unknown" [-].
    where : Place
        Where it holds [-].
    message : str
        What is the matter, for a person [-].
    remedy : str
        What to do about it [-].
    quantity : str
        What was measured [-].
    unit : str
        Unit of `measured`, `bound`, `limit` and `margin` [-].
    measured : float or None
        Nominal value [`unit`].
    bound : float or None
        The value on the adverse side that is held against the limit for a pass [`unit`].
    limit : float or None
        The limit [`unit`].
    sense : str or None
        "at least" or "at most", for a limit [-].
    scale : float or None
        What stands for the limit in `headroom` where the limit is 0 [`unit`].
    advisory : bool
        Whether a miss is marginal instead of a failure, because only custom sets the limit [-].
    missing : tuple of str
        What was missing, for an unknown [-].
    rule, title, basis, source, safety, waiver
        Filled in by the engine [-].
    """

    verdict: Verdict
    where: Place
    message: str = attrs.field(converter=_plain)
    remedy: str = attrs.field(default="", converter=_plain)
    quantity: str = attrs.field(default="", converter=_plain)
    unit: str = attrs.field(default="", converter=_plain)
    measured: float | None = attrs.field(default=None, converter=_number_or_none)
    bound: float | None = attrs.field(default=None, converter=_bound_or_none)
    limit: float | None = attrs.field(default=None, converter=_number_or_none)
    sense: Sense | None = None
    scale: float | None = attrs.field(default=None, converter=_number_or_none)
    advisory: bool = attrs.field(default=False, converter=bool)
    missing: tuple[str, ...] = attrs.field(default=(), converter=texts_tuple)
    rule: str = ""
    title: str = ""
    basis: Basis = "house"
    source: str = ""
    safety: bool = False
    waiver: Waiver | None = None

    def __attrs_post_init__(self) -> None:
        """Refuse a finding that no report could show."""
        if self.verdict not in VERDICTS:
            raise RuleError(self.rule, f"{self.verdict!r} is no verdict; the verdicts are {', '.join(VERDICTS)}")
        if not isinstance(self.where, Place):
            raise RuleError(self.rule, f"{self.where!r} is no Place")
        if not isinstance(self.message, str) or not self.message:
            raise RuleError(self.rule, "a finding says in its message what is the matter")
        for name in ("remedy", "quantity", "unit"):
            if not isinstance(getattr(self, name), str):
                raise RuleError(self.rule, f"the {name} of a finding is text, not {getattr(self, name)!r}")
        if self.sense not in (None, "at least", "at most"):
            raise RuleError(self.rule, f'{self.sense!r} is no sense; a limit is "at least" or "at most"')
        if not all(isinstance(name, str) for name in self.missing):
            raise RuleError(self.rule, f"what is missing is named by text, not {self.missing!r}")

    @property
    def margin(self) -> float | None:
        """How far the worse of bound and measure is on the good side of the limit; negative: it misses."""
        values = [value for value in (self.measured, self.bound) if value is not None]
        if not values or self.limit is None or self.sense is None:
            return None
        return min(values) - self.limit if self.sense == "at least" else self.limit - max(values)

    @property
    def headroom(self) -> float | None:
        """The margin as a share of the limit, which puts findings of different units in one order."""
        size = 0.0 if self.limit is None else abs(self.limit)
        margin, scale = self.margin, self.scale if size < NOTHING else size
        return None if margin is None or not scale else margin / scale

    @property
    def waived(self) -> bool:
        """Whether somebody answers for it."""
        return self.waiver is not None

    def shortened(self) -> "Finding":
        """Return the finding with texts that a report can hold; what is cut says so."""
        missing = tuple(_cut(name) for name in self.missing[:MOST_MISSING])
        if len(self.missing) > MOST_MISSING:
            missing += (f"{len(self.missing) - MOST_MISSING} more",)
        return attrs.evolve(
            self, missing=missing, message=_cut(self.message), remedy=_cut(self.remedy),
            quantity=_cut(self.quantity), unit=_cut(self.unit),
        )  # fmt: skip

    def judged(self, reserve: float) -> "Finding":
        """Return the finding with its verdict worked out for another reserve; findings without a limit as they are.

        Parameters
        ----------
        reserve : float
            Share of the limit by which it must be met for a pass [-].

        Returns
        -------
        Finding
            The finding [-].
        """
        if self.sense is None or self.verdict == "unknown":
            return self
        return attrs.evolve(self, verdict=_verdict(self, reserve))


def _verdict(finding: Finding, reserve: float) -> Verdict:
    if finding.measured is None or finding.limit is None:
        return "unknown"
    sign = 1.0 if finding.sense == "at least" else -1.0
    if sign * (finding.measured - finding.limit) < 0:
        return "marginal" if finding.advisory else "fail"
    margin = finding.margin
    scale = abs(finding.limit) or finding.scale or 0.0
    assert margin is not None
    return "pass" if margin >= reserve * scale and margin >= 0 else "marginal"


def _limited(sense: Sense, where: Place, quantity: str, values: dict[str, Any]) -> Finding:
    for name in ("measured", "limit", "bound", "scale"):
        if values[name] is not None:
            values[name] = _float(values[name], f"{name} of {quantity}")
    values["missing"] = texts_tuple(values["missing"])
    for name, what in (("measured", quantity), ("limit", f"the limit of {quantity}")):
        if _number_or_none(values[name]) is None:
            missing = values["missing"] or (what,)
            message = f"{what} is not known: {listed(missing, 3)}"
            return unknown(where, message, missing=missing, remedy=values["remedy"])
    if values["bound"] is not None and math.isnan(values["bound"]):
        sign = 1.0 if sense == "at least" else -1.0
        if sign * (values["measured"] - values["limit"]) >= 0:
            missing = values["missing"] or (f"the bound of {quantity}",)
            message = f"{quantity} has no bound on the adverse side: {listed(missing, 3)}"
            return unknown(where, message, missing=missing, remedy=values["remedy"])
        values["bound"] = None
    values["missing"] = ()  # decided: nothing that is missing could change it
    message = values.pop("message") or _sentence(sense, quantity, values)
    draft = Finding(verdict="pass", where=where, quantity=quantity, sense=sense, message=message, **values)
    return draft.judged(DEFAULT_RESERVE)


def _sentence(sense: Sense, quantity: str, values: dict[str, Any]) -> str:
    unit = values["unit"]
    text = f"{quantity} is {figure(values['measured'], unit)}"
    if values["bound"] is not None and values["bound"] != values["measured"]:
        text += f" ({figure(values['bound'], unit)} on the adverse side)"
    return f"{text}; it must be {sense} {figure(values['limit'], unit)}"


def at_least(
    where: Place,
    quantity: str,
    *,
    measured: float | None,
    limit: float,
    unit: str,
    bound: float | None = None,
    scale: float | None = None,
    advisory: bool = False,
    message: str = "",
    remedy: str = "",
    missing: str | tuple[str, ...] = (),
) -> Finding:
    """Return the finding that a figure must not be below a limit.

    Parameters
    ----------
    where : Place
        Where it holds [-].
    quantity : str
        What was measured [-].
    measured : float or None
        Nominal value; None or NaN gives an unknown [`unit`].
    limit : float
        The limit [`unit`].
    unit : str
        Unit of the figures [-].
    bound : float or None
        Value on the adverse side; None: the nominal value. NaN gives an unknown unless the nominal value already
        misses the limit [`unit`].
    scale : float or None
        What stands for the limit where it is 0 [`unit`].
    advisory : bool
        Whether a miss is marginal instead of a failure, because only custom sets the limit [-].
    message : str
        What is the matter; empty: a sentence made of the figures [-].
    remedy : str
        What to do about it [-].
    missing : str or tuple of str
        What is missing where `measured` is not known [-].

    Returns
    -------
    Finding
        The finding, judged with the default reserve [-].
    """
    return _limited("at least", where, quantity, {
        "measured": measured, "limit": limit, "unit": unit, "bound": bound, "scale": scale,
        "advisory": advisory, "message": message, "remedy": remedy, "missing": missing,
    })  # fmt: skip


def at_most(
    where: Place,
    quantity: str,
    *,
    measured: float | None,
    limit: float,
    unit: str,
    bound: float | None = None,
    scale: float | None = None,
    advisory: bool = False,
    message: str = "",
    remedy: str = "",
    missing: str | tuple[str, ...] = (),
) -> Finding:
    """Return the finding that a figure must not be above a limit.

    Parameters
    ----------
    where : Place
        Where it holds [-].
    quantity : str
        What was measured [-].
    measured : float or None
        Nominal value; None or NaN gives an unknown [`unit`].
    limit : float
        The limit [`unit`].
    unit : str
        Unit of the figures [-].
    bound : float or None
        Value on the adverse side; None: the nominal value. NaN gives an unknown unless the nominal value already
        misses the limit [`unit`].
    scale : float or None
        What stands for the limit where it is 0 [`unit`].
    advisory : bool
        Whether a miss is marginal instead of a failure, because only custom sets the limit [-].
    message : str
        What is the matter; empty: a sentence made of the figures [-].
    remedy : str
        What to do about it [-].
    missing : str or tuple of str
        What is missing where `measured` is not known [-].

    Returns
    -------
    Finding
        The finding, judged with the default reserve [-].
    """
    return _limited("at most", where, quantity, {
        "measured": measured, "limit": limit, "unit": unit, "bound": bound, "scale": scale,
        "advisory": advisory, "message": message, "remedy": remedy, "missing": missing,
    })  # fmt: skip


def unknown(where: Place, message: str, *, missing: str | tuple[str, ...] = (), remedy: str = "") -> Finding:
    """Return the finding that something cannot be judged.

    Parameters
    ----------
    where : Place
        Where it holds [-].
    message : str
        What cannot be judged and why [-].
    missing : str or tuple of str
        What the bus does not state [-].
    remedy : str
        What to do about it; empty: state what is missing [-].

    Returns
    -------
    Finding
        The finding [-].
    """
    cure = remedy or ("state " + listed(texts_tuple(missing), 3) if missing else "")
    return Finding(verdict="unknown", where=where, message=message, missing=missing, remedy=cure)
