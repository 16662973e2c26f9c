"""What a rule is: a named question with parameters, put to the analyses of a bus."""

import importlib
import inspect
import numbers
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeAlias

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem, RuleError
from rs485kit.memo import Analyses
from rs485kit.model.base import shown
from rs485kit.rules.finding import BASES, DEFAULT_RESERVE, Basis, Finding

RuleFunction: TypeAlias = Callable[..., Iterable[Finding]]

MOST_FINDINGS = 200_000
"""More than the paths of any bus that the standard allows; a rule that gives more would not end [-]."""
NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*(\.[a-z][a-z0-9]*(-[a-z0-9]+)*)+")


@attrs.frozen(kw_only=True)
class Parameter:
    """A figure of a rule that a policy may set.

    Parameters
    ----------
    name : str
        Keyword of the rule's function [-].
    default : float
        Value where the policy says nothing [`unit`].
    unit : str
        SI unit, "" for a bare number [-].
    meaning : str
        What it is, for a person [-].
    """

    name: str
    default: float
    unit: str
    meaning: str

    def __attrs_post_init__(self) -> None:
        """Refuse a unit in which the rule would not get what it reckons with."""
        try:
            units.refuse_scaled(self.unit)
        except InputError as error:
            raise InputError(*(problem.under(f"parameter {self.name}") for problem in error.problems)) from None

    def value(self, given: object, rule: str) -> float:
        """Return a value from a policy as an SI float.

        Parameters
        ----------
        given : str or float
            Text with a unit, or a bare number, which is SI [`unit`].
        rule : str
            Name of the rule, for the error [-].

        Returns
        -------
        float
            The value [`unit`].

        Raises
        ------
        InputError
            If it is not of that form or unit.
        """
        try:
            return units.si(given, self.unit)
        except InputError as error:
            place = f'policy.settings["{rule}"].{self.name}'
            raise InputError(*(problem.under(place) for problem in error.problems)) from None


def parameter(name: str, default: str | float, *, unit: str, meaning: str) -> Parameter:
    """Return a parameter of a rule.

    Parameters
    ----------
    name : str
        Keyword of the rule's function [-].
    default : str or float
        Value where the policy says nothing, as text with a unit or an SI number [`unit`].
    unit : str
        SI unit, "" for a bare number [-].
    meaning : str
        What it is, for a person [-].

    Returns
    -------
    Parameter
        The parameter [-].

    Raises
    ------
    InputError
        If the unit is not known or is no SI unit, or if the default is not of that unit.
    """
    try:
        units.refuse_scaled(unit)
        value = units.si(default, unit)
    except InputError as error:
        raise InputError(*(problem.under(f"parameter {name}") for problem in error.problems)) from None
    return Parameter(name=name, default=value, unit=unit, meaning=meaning)


def parameters_tuple(given: Iterable[Parameter]) -> tuple[Parameter, ...]:
    """Read parameters [-]."""
    return tuple(given)


def _is_share(given: object) -> bool:
    return isinstance(given, numbers.Real) and not isinstance(given, bool) and 0.0 <= float(given) <= 1.0


@attrs.frozen(kw_only=True, eq=False)
class Rule:
    """A rule: name, title, the function that judges, its parameters, basis and source.

    Parameters
    ----------
    name : str
        Dotted name that states the fault, such as "idle.level-undefined" [-].
    title : str
        The fault in one line [-].
    function : callable
        Takes Analyses and the parameters as keywords, gives findings [-].
    basis : str
        "standard", "physics", "common practice" or "house" [-].
    source : str
        Document behind the limit; empty for common practice [-].
    parameters : tuple of Parameter
        What a policy may set [-].
    reserve : float
        Share of a limit by which it must be met for a pass [-].
    safety : bool
        Whether people can be hurt where it fails [-].
    """

    name: str
    title: str
    function: RuleFunction
    basis: Basis
    source: str = ""
    parameters: tuple[Parameter, ...] = attrs.field(default=(), converter=parameters_tuple)
    reserve: float = DEFAULT_RESERVE
    safety: bool = False

    def __attrs_post_init__(self) -> None:
        """Refuse a rule that the engine could not run or a report not show."""
        if not isinstance(self.name, str) or NAME.fullmatch(self.name) is None:
            raise RuleError(shown(self.name), "a name is lower-case words joined by dots and hyphens, with a prefix")
        if not isinstance(self.title, str) or not self.title:
            raise RuleError(self.name, "a title says the fault in one line")
        if not isinstance(self.source, str):
            raise RuleError(self.name, f"its source is {shown(self.source)}; name the document as text, or none")
        if not isinstance(self.safety, bool):
            raise RuleError(self.name, f"its safety is {shown(self.safety)}; it is True or False")
        if not _is_share(self.reserve):
            raise RuleError(self.name, f"its reserve is {shown(self.reserve)}; it is a share of the limit from 0 to 1")
        strange = [each for each in self.parameters if not isinstance(each, Parameter)]
        if strange:
            raise RuleError(self.name, f"{shown(strange[0])} is no parameter; make it with rs485kit.parameter(...)")
        if self.basis not in BASES:
            raise RuleError(self.name, f"{self.basis!r} is no basis; the bases are {', '.join(BASES)}")
        if self.basis == "standard" and not self.source:
            raise RuleError(self.name, "a rule on the basis of a standard names its source")
        if self.basis == "common practice" and self.source:
            raise RuleError(self.name, "common practice has no source; name the basis that the source is")
        if not callable(self.function):
            raise RuleError(self.name, "the function cannot be called")
        self._check_signature()

    def _check_signature(self) -> None:
        try:
            taken = list(inspect.signature(self.function).parameters.values())
        except (TypeError, ValueError):
            raise RuleError(self.name, "its parameters cannot be told; use a plain function") from None
        if not taken or taken[0].kind not in (taken[0].POSITIONAL_ONLY, taken[0].POSITIONAL_OR_KEYWORD):
            raise RuleError(self.name, "the function takes Analyses as its first argument")
        keywords = [each.name for each in taken[1:] if each.kind == each.KEYWORD_ONLY]
        others = [each.name for each in taken[1:] if each.kind != each.KEYWORD_ONLY]
        declared = [each.name for each in self.parameters]
        if others:
            raise RuleError(self.name, f"the parameter {others[0]} is not keyword-only: put it behind *")
        if sorted(keywords) != sorted(declared) or len(set(declared)) != len(declared) or "reserve" in declared:
            raise RuleError(
                self.name,
                f"the function's keywords are {keywords or 'none'}, the parameters declared {declared or 'none'}; "
                "they are the same, each once, and none is called reserve",
            )

    @property
    def documentation(self) -> str:
        """The rule's own text: what it checks, why it matters, limit and source, when to waive."""
        return inspect.getdoc(self.function) or ""

    def values(self, settings: Mapping[str, Any]) -> tuple[dict[str, float], float]:
        """Return the parameters as SI floats, and the reserve, under the settings of a policy.

        Parameters
        ----------
        settings : mapping
            Settings of this rule by parameter; "reserve" too [-].

        Returns
        -------
        tuple
            Parameters by name, and the reserve [-].

        Raises
        ------
        InputError
            If a setting is unknown, or is not of its unit.
        """
        known = {each.name: each for each in self.parameters}
        foreign = sorted(set(settings) - set(known) - {"reserve"})
        if foreign:
            offered = ", ".join([*known, "reserve"])
            raise InputError(Problem(f'policy.settings["{self.name}"]', f'"{foreign[0]}"', f"one of {offered}"))
        values = {
            name: each.value(settings[name], self.name) if name in settings else each.default
            for name, each in known.items()
        }
        return values, self._reserve(settings.get("reserve", self.reserve))

    def _reserve(self, given: object) -> float:
        shape = Parameter(name="reserve", default=self.reserve, unit="", meaning="share of the limit kept in reserve")
        value = shape.value(given, self.name)
        if not 0 <= value <= 1:
            raise InputError(Problem(f'policy.settings["{self.name}"].reserve', f"{value:g}", "a share from 0 to 1"))
        return value

    def findings(self, analyses: Analyses, settings: Mapping[str, Any] | None = None) -> list[Finding]:
        """Return every finding of the rule on a bus, stamped and judged, passes included.

        Parameters
        ----------
        analyses : Analyses
            The bus and its results so far [-].
        settings : mapping or None
            Settings of this rule by parameter [-].

        Returns
        -------
        list of Finding
            The findings [-].

        Raises
        ------
        RuleError
            If the function gives something that is no finding.
        InputError
            If a setting is wrong.
        """
        values, reserve = self.values(settings or {})
        given = self.function(analyses, **values)
        if not isinstance(given, Iterable):
            raise RuleError(self.name, f"it gave {shown(given)}, which is no sequence of findings")
        result: list[Finding] = []
        for found in given:
            if not isinstance(found, Finding):
                raise RuleError(self.name, f"it gave {shown(found)}, which is no Finding")
            if len(result) == MOST_FINDINGS:
                raise RuleError(self.name, f"it gave more than {MOST_FINDINGS} findings")
            result.append(self.stamped(found.judged(reserve)))
        return result

    def stamped(self, found: Finding) -> Finding:
        """Return a finding with the rule's name, title, basis, source and safety filled in."""
        return attrs.evolve(
            found.shortened(), rule=self.name, title=self.title, basis=self.basis, source=self.source,
            safety=self.safety, waiver=None,
        )  # fmt: skip

    def __call__(self, analyses: Analyses, *, settings: Mapping[str, Any] | None = None) -> list[Finding]:
        """Return what `findings` returns, so that a rule can be tried by itself."""
        return self.findings(analyses, settings)

    def __reduce__(self) -> tuple[Callable[[str, str], "Rule"], tuple[str, str]]:
        return _named_rule, (self.function.__module__, self.function.__qualname__)


def _named_rule(module: str, name: str) -> Rule:
    """Return the rule that a module defines; a decorated function travels by name, like any function."""
    found: Any = importlib.import_module(module)
    for part in name.split("."):
        found = getattr(found, part)
    if not isinstance(found, Rule):
        raise RuleError(name, f"{module}.{name} is no rule")
    return found


def rule(
    name: str,
    *,
    title: str,
    basis: Basis,
    source: str = "",
    parameters: Iterable[Parameter] = (),
    reserve: float = DEFAULT_RESERVE,
    safety: bool = False,
) -> Callable[[RuleFunction], Rule]:
    """Return a decorator that makes a function of Analyses into a rule.

    Parameters
    ----------
    name : str
        Dotted name that states the fault; its first word is the prefix [-].
    title : str
        The fault in one line [-].
    basis : str
        "standard", "physics", "common practice" or "house" [-].
    source : str
        Document behind the limit; empty for common practice [-].
    parameters : iterable of Parameter
        One for each keyword of the function [-].
    reserve : float
        Share of a limit by which it must be met for a pass [-].
    safety : bool
        Whether people can be hurt where it fails [-].

    Returns
    -------
    callable
        The decorator [-].

    Raises
    ------
    RuleError
        If the rule is not of the form that the engine takes.
    """

    def decorate(function: RuleFunction) -> Rule:
        return Rule(
            name=name, title=title, function=function, basis=basis, source=source, parameters=tuple(parameters),
            reserve=reserve, safety=safety,
        )  # fmt: skip

    return decorate
