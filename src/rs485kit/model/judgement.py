"""Judgement, as opposed to fact: which rules run, with which settings, and what is waived and why."""

import datetime
import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

import attrs

from rs485kit.errors import InputError, Problem
from rs485kit.model.base import (
    LONGEST_TEXT,
    are_names,
    is_flag,
    is_name,
    is_text,
    refused,
    shown,
    tuple_from,
    tuple_of,
)

Value: TypeAlias = str | float | bool
Settings: TypeAlias = tuple[tuple[str, tuple[tuple[str, Value], ...]], ...]


def names_tuple(given: str | Iterable[str] | None) -> tuple[str, ...]:
    """Read none, one or several names [-]."""
    if given is None:
        return ()
    return (given,) if isinstance(given, str) else _items(given, "names")


def pairs_tuple(given: Iterable[Iterable[str]]) -> tuple[tuple[str, str], ...]:
    """Read pairs of names [-]."""
    result = []
    for item in _items(given, "pairs of names"):
        pair = _items(item, "a pair of names")
        if len(pair) != 2 or not all(_is_key(name) for name in pair):
            raise InputError(Problem("", shown(item), "a pair of names"))
        result.append((pair[0], pair[1]))
    return tuple(result)


def settings_tuple(given: Mapping[str, Mapping[str, Value]] | Settings) -> Settings:
    """Read settings by rule and parameter, and keep them sorted and hashable [-]."""
    result = []
    problems: list[Problem] = []
    for rule, values in _table(given, "Policy.settings", "a table of rules"):
        place = f'Policy.settings["{rule}"]'
        try:
            items = _table(values, place, "a table of parameters")
        except InputError as error:
            problems += error.problems
            continue
        wanted = "text with a unit, a finite number, or true or false"
        problems += [Problem(f"{place}.{name}", shown(value), wanted) for name, value in items if not _is_value(value)]
        result.append((rule, tuple(items)))
    if problems:
        raise InputError(*problems)
    return tuple(result)


def _is_value(value: object) -> bool:
    if isinstance(value, int | float):
        try:
            return math.isfinite(value)
        except OverflowError:
            return False
    return is_text(value)


def _table(given: object, place: str, wanted: str) -> list[tuple[str, Any]]:
    """Return a mapping, or a tuple of pairs, as pairs sorted by name; each name once."""
    items = list(given.items()) if isinstance(given, Mapping) else list(_items(given, wanted, place))
    for item in items:
        if not isinstance(item, tuple) or len(item) != 2 or not _is_key(item[0]):
            raise InputError(Problem(place, shown(item), f"{wanted}, by name"))
    if len({name for name, _ in items}) < len(items):
        raise InputError(Problem(place, shown(given), "each name once"))
    return sorted(items, key=lambda item: item[0])


def _is_key(name: object) -> bool:
    return isinstance(name, str) and bool(name) and is_text(name)


def _items(given: object, wanted: str, place: str = "") -> tuple[Any, ...]:
    if isinstance(given, Iterable) and not isinstance(given, str | bytes | Mapping):
        return tuple(given)
    raise InputError(Problem(place, shown(given), wanted))


def last_day(given: datetime.date | str | None) -> datetime.date | None:
    """Read a day, as a date or as ISO text [-]."""
    if isinstance(given, str):
        try:
            return datetime.date.fromisoformat(given)
        except ValueError:
            raise InputError(Problem("Waiver.until", shown(given), "a day such as 2027-03-31")) from None
    if given is None or type(given) is datetime.date:
        return given
    raise InputError(Problem("Waiver.until", shown(given), "a day without a time, such as 2027-03-31"))


@attrs.frozen(kw_only=True)
class Waiver:
    """A finding that somebody answers for: rule, places, reason and, if wanted, a last day.

    Parameters
    ----------
    rule : str
        Name of the rule [-].
    reason : str
        Why it may stand [-].
    nodes, barriers, earths : tuple of str
        Places by name [-].
    segments, paths : tuple of (str, str)
        Places by the names of their two ends [-].
    bus : bool
        Whether the finding about the bus as a whole is meant [-].
    until : datetime.date or None
        Last day on which it holds; None: no end [-].
    """

    rule: str = attrs.field(validator=is_name)
    reason: str = attrs.field()
    nodes: tuple[str, ...] = attrs.field(default=(), converter=names_tuple, validator=are_names)
    barriers: tuple[str, ...] = attrs.field(default=(), converter=names_tuple, validator=are_names)
    earths: tuple[str, ...] = attrs.field(default=(), converter=names_tuple, validator=are_names)
    segments: tuple[tuple[str, str], ...] = attrs.field(default=(), converter=pairs_tuple)
    paths: tuple[tuple[str, str], ...] = attrs.field(default=(), converter=pairs_tuple)
    bus: bool = attrs.field(default=False, validator=is_flag)
    until: datetime.date | None = attrs.field(default=None, converter=last_day)

    @reason.validator
    def _has_reason(self, attribute: "attrs.Attribute[Any]", value: object) -> None:
        if not is_text(value) or not value.strip():
            raise refused(self, attribute, value, f"in 1 to {LONGEST_TEXT} characters why the finding may stand")

    def __attrs_post_init__(self) -> None:
        """Refuse a waiver of everything."""
        if not (self.nodes or self.barriers or self.earths or self.segments or self.paths or self.bus):
            raise InputError(
                Problem(
                    f'Waiver of "{self.rule}"', "no place", "nodes, segments, barriers, earths, paths, or bus = true",
                    "a waiver holds for the places that it names",
                )
            )  # fmt: skip


def are_requirements(instance: object, attribute: "attrs.Attribute[Any]", value: tuple[str, ...]) -> None:
    """Refuse what does not name a distribution, with or without its versions."""
    if not value:
        return
    from packaging.requirements import InvalidRequirement, Requirement

    wanted = "the name of a distribution, with its lowest version if wanted, such as canal-rules >= 1.2"
    problems = []
    for text in value:
        try:
            read = Requirement(text)
        except (InvalidRequirement, TypeError):
            problems.append(Problem("Policy.require", shown(text), wanted))
            continue
        if read.extras or read.marker or read.url:
            problems.append(Problem("Policy.require", shown(text), f"{wanted}, and nothing else"))
    if problems:
        raise InputError(*problems)


def waivers_tuple(given: Waiver | Iterable[Waiver]) -> tuple[Waiver, ...]:
    """Read none, one or several waivers [-]."""
    return tuple_from(given, Waiver)


@attrs.frozen(kw_only=True)
class Policy:
    """Which rules run, with which settings, and what is waived.

    A pattern is a rule's name or a prefix of it that ends before a dot: "loading" covers "loading.unit-loads".

    Parameters
    ----------
    select : tuple of str
        Patterns of the rules to run; empty: all [-].
    skip : tuple of str
        Patterns of rules not to run [-].
    settings : mapping of str to mapping
        Values of rule parameters, by rule and parameter [-].
    waivers : tuple of Waiver
        What is waived [-].
    require : tuple of str
        Distributions of plugins without which a check must not pass, such as "canal-rules >= 1.2" [-].
    """

    select: tuple[str, ...] = attrs.field(default=(), converter=names_tuple, validator=are_names)
    skip: tuple[str, ...] = attrs.field(default=(), converter=names_tuple, validator=are_names)
    settings: Settings = attrs.field(default=(), converter=settings_tuple)
    waivers: tuple[Waiver, ...] = attrs.field(default=(), converter=waivers_tuple, validator=tuple_of(Waiver))
    require: tuple[str, ...] = attrs.field(default=(), converter=names_tuple, validator=are_requirements)

    def settings_of(self, rule: str) -> dict[str, Value]:
        """Return the settings of one rule, by parameter."""
        return next((dict(values) for name, values in self.settings if name == rule), {})

    def over(self, base: "Policy | None") -> "Policy":
        """Return this policy laid over another: its settings win; what is skipped, waived and required adds up.

        Parameters
        ----------
        base : Policy or None
            What it is laid over [-].

        Returns
        -------
        Policy
            The joint policy [-].
        """
        if base is None:
            return self
        merged = {rule: dict(values) for rule, values in base.settings}
        for rule, values in self.settings:
            merged[rule] = merged.get(rule, {}) | dict(values)
        waivers = base.waivers + tuple(waiver for waiver in self.waivers if waiver not in base.waivers)
        return Policy(
            select=self.select or base.select,
            skip=tuple(dict.fromkeys(base.skip + self.skip)),
            settings=merged,
            waivers=waivers,
            require=tuple(dict.fromkeys(base.require + self.require)),
        )
