"""Whether a rule holds to what the library relies on, tried on buses of which it is known what should be found."""

import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import attrs
import numpy as np

from rs485kit.errors import InputError, Problem, Rs485kitError, RuleError
from rs485kit.memo import Analyses
from rs485kit.model import Bus
from rs485kit.model.base import shown
from rs485kit.rules import Rule, built_in
from rs485kit.tables import digest
from rs485kit.testing.edits import lacking, limits_only, reordered, typical_only
from rs485kit.testing.faults import ConformanceError
from rs485kit.testing.trials import PASSING, Case, Outcome, Role, cases, copied, difference, tried
from rs485kit.testing.wording import ill_formed, undocumented, unlabelled

REPEATS = 3
NO_SETTING = "no-such-setting"


def check_rule(
    rule: Rule,
    *,
    fires: Bus | Iterable[Bus],
    passes: Bus | Iterable[Bus],
    lacks: Bus | Iterable[Bus] = (),
    settings: Mapping[str, Any] | None = None,
) -> None:
    """Hold a rule to what the library relies on.

    On every bus: the verdict that is expected, the same findings when it is run again, after other rules, and with the
    bus listed in another order; nothing changed; nothing judged better because less is known. Every finding has a
    message, a remedy unless it passes, and a place that exists. The rule has its documentation, refuses wrong settings,
    and pickles where it can be imported.

    Parameters
    ----------
    rule : Rule
        The rule [-].
    fires : Bus or iterable of Bus
        Buses on which it finds something that is no pass [-].
    passes : Bus or iterable of Bus
        Buses on which it passes [-].
    lacks : Bus or iterable of Bus
        Buses that lack what it needs, so that it says `unknown` [-].
    settings : mapping or None
        Settings of the rule by parameter, under which all this holds [-].

    Raises
    ------
    ConformanceError
        With every problem that was found.
    RuleError
        If what is given is no rule.
    InputError
        If a bus is none, if there is no bus that fires or none that passes, or if a setting is wrong.
    """
    if not isinstance(rule, Rule):
        raise RuleError(shown(rule), "it is no rule; make one with @rs485kit.rule(...)")
    given = dict(settings or {})
    rule.values(given)
    every: list[Case] = []
    roles: tuple[tuple[Role, str, Bus | Iterable[Bus]], ...] = (
        ("firing", "fires", fires), ("passing", "passes", passes), ("lacking", "lacks", lacks)
    )  # fmt: skip
    for role, keyword, buses in roles:
        every += cases(rule, role, _buses(keyword, buses), given)
    problems = [problem for check in RULE_CHECKS for problem in check(rule)]
    for case in every:
        problems += _problems(case)
    if problems:
        raise ConformanceError(f'rule "{rule.name}"', tuple(problems))


def _buses(keyword: str, given: Bus | Iterable[Bus]) -> tuple[Bus, ...]:
    buses: tuple[Any, ...] = tuple(given) if isinstance(given, Iterable) else (given,)
    for each in buses:
        if not isinstance(each, Bus):
            raise InputError(Problem(f"check_rule {keyword}", shown(each), "a Bus, or several of them"))
    if not buses and keyword != "lacks":
        raise InputError(Problem(f"check_rule {keyword}", "no bus", "at least one", "a rule is held to what it finds"))
    return buses


def _problems(case: Case) -> Iterator[str]:
    """Give what is wrong on one bus; a rule that raises on it is asked no more."""
    checks = (verdicts,) if case.outcome.error else (verdicts, *CASE_CHECKS)
    for check in checks:
        yield from (f"{case}: {problem}" for problem in check(case))


# --- what it finds ---------------------------------------------------------------------------------------


def verdicts(case: Case) -> Iterator[str]:
    """Give where the rule does not find what is expected of the bus."""
    outcome, unknown = case.outcome, any(found.verdict == "unknown" for found in case.outcome.findings)
    if outcome.error:
        yield f"it {outcome}; a rule raises nothing but MissingDataError"
    elif case.role == "firing" and outcome.data_missing:
        yield f"it {outcome}, since data are missing; state on a firing bus what the rule needs"
    elif case.role == "firing" and not outcome.others:
        yield f"it {outcome}, and should find a fault; correct the rule or the bus"
    elif case.role == "passing" and (outcome.others or not outcome.findings):
        yield f"it {outcome}, and should pass; yield a pass where the rule applies, or correct the bus"
    elif case.role == "lacking" and not unknown:
        yield f"it {outcome}, and should say unknown; yield rs485kit.unknown(...) where a figure is None"


def form(case: Case) -> Iterator[str]:
    """Give what is wrong with the text, figures and places of its findings."""
    yield from ill_formed(case.outcome.findings, case.bus)


# --- what must not matter --------------------------------------------------------------------------------


def repetition(case: Case) -> Iterator[str]:
    """Give whether the rule finds something else when it is run again."""
    again = [case.tried(case.bus) for _ in range(REPEATS - 1)]
    other = next((outcome for outcome in again if outcome != case.outcome), None)
    if other is not None:
        seen = difference(case.bus, case.outcome, other) or "it gave the same findings in another order or words"
        yield f"run again, {seen}; let nothing but the bus decide: no chance, no clock, nothing kept between two runs"


def order(case: Case) -> Iterator[str]:
    """Give whether the order in which a bus is listed decides what is found."""
    for edit in reordered(case.bus):
        seen = difference(case.bus, case.outcome, case.tried(edit.bus))
        if seen:
            yield f"{edit.words}, {seen}; go by names and not by the order in which things are listed"


def company(case: Case) -> Iterator[str]:
    """Give whether the rule finds something else on results that other rules have left."""
    analyses = Analyses(copied(case.bus))
    for other in built_in():
        if other.name != case.rule.name:
            tried(other, analyses, {})
    seen = difference(case.bus, case.outcome, case.tried(analyses))
    if seen:
        yield f"after the other rules, {seen}; take results from analyses, and let no state of their own decide"


def mutation(case: Case) -> Iterator[str]:
    """Give what the rule changes of the bus or of results that others share."""
    bus = copied(case.bus)
    analyses = _warmed(case, bus)
    before = [_leaves(result, type(result).__name__) for result in analyses.results]
    case.tried(analyses)
    after = [_leaves(result, type(result).__name__) for result in analyses.results]
    if _digest(bus) != digest(case.bus):
        yield "it changed the bus; read the bus, and make a new one with attrs.evolve"
    changed = [place for old, new in zip(before, after, strict=False) for place in old if new.get(place) != old[place]]
    if changed:
        yield f"it changed {changed[0]} of a result that other rules share; copy before you change"
    writable = [place for leaves in before for place, leaf in leaves.items() if leaf[:1] == ("writable",)]
    if writable:
        yield f"the analysis result {writable[0]} can be written to; close its array with setflags(write=False)"


def _warmed(case: Case, bus: Bus) -> Analyses:
    """Return a bus with the results that the rule asks for, computed without the rule."""
    asked = Analyses(copied(case.bus))
    case.tried(asked)
    analyses = Analyses(bus)
    for function, arguments in asked._kept:
        try:
            analyses._result(function, arguments, keep=True)
        except Rs485kitError:
            # an error is kept like a result, and the rule has met it already
            continue
    return analyses


def _digest(bus: Bus) -> str:
    try:
        return digest(bus)
    except Exception as error:
        # a field now holds what no table can hold
        return f"{type(error).__name__}"


def _leaves(thing: Any, place: str) -> dict[str, tuple[object, ...]]:
    """Return what a result holds by place, arrays by their bytes and by whether they can be written to."""
    if isinstance(thing, np.ndarray):
        return {place: ("writable" if thing.flags.writeable else "closed", thing.shape, thing.tobytes())}
    if attrs.has(type(thing)):
        inner = [(f"{place}.{field.name}", getattr(thing, field.name)) for field in attrs.fields(type(thing))]
    elif isinstance(thing, list | tuple):
        inner = [(f"{place}[{index}]", each) for index, each in enumerate(thing)]
    elif isinstance(thing, dict):
        inner = [(f"{place}[{key!r}]", each) for key, each in thing.items()]
    else:
        return {place: ("value", repr(thing))}
    return {name: leaf for where, each in inner for name, leaf in _leaves(each, where).items()}


# --- what is not known -----------------------------------------------------------------------------------


def ignorance(case: Case) -> Iterator[str]:
    """Give where the rule is silent, raises, or judges better because less is stated."""
    if not case.outcome.findings:
        return
    faults: dict[str, list[str]] = {}
    for edit in (*lacking(case.bus), typical_only(case.bus)):
        _note(faults, edit.words, _worse(case.outcome.standing, case.tried(edit.bus)))
    # a nominal value is then the middle of the limits, which may well be better: only silence and errors count
    edit = limits_only(case.bus)
    _note(faults, edit.words, _worse(PASSING, case.tried(edit.bus)))
    for seen, words in faults.items():
        yield f"{', or '.join(words)}, {seen}; yield rs485kit.unknown(...) where a figure is None"


def _note(faults: dict[str, list[str]], words: str, seen: str) -> None:
    if seen:
        faults.setdefault(seen, []).append(words)


def _worse(standing: int, after: Outcome) -> str:
    """Return what is wrong with an outcome where less is known than where the outcome had that standing."""
    if after.error:
        return f"it {after}"
    if not after.findings:
        return "it says nothing any more"
    return f"it {after}, which is better than what it finds where that is stated" if after.standing > standing else ""


# --- settings --------------------------------------------------------------------------------------------


def reserve(case: Case) -> Iterator[str]:
    """Give whether a reserve of nothing or of the whole limit is not kept."""
    none, whole = (case.tried(case.bus, reserve=each) for each in (0.0, 1.0))
    for words, outcome in (("with a reserve of 0", none), ("with a reserve of 1", whole)):
        if outcome.error:
            yield f"{words}, it {outcome}; leave the reserve to the engine"
    if not none.error and not whole.error and whole.standing > none.standing:
        yield f"with a reserve of 1 it {whole}, better than with a reserve of 0; leave the reserve to the engine"


def settings_refused(rule: Rule) -> Iterator[str]:
    """Give which wrong settings the rule takes, or refuses without naming itself and the setting."""
    wrong: list[tuple[str, object]] = [(NO_SETTING, 1.0), ("reserve", 2.0), ("reserve", "1 V")]
    wrong += [(each.name, "1 ohm" if each.unit != "ohm" else "1 V") for each in rule.parameters]
    for name, value in wrong:
        cure = f"an InputError names the rule and the setting {name}"
        try:
            rule.values({name: value})
        except InputError as error:
            if rule.name not in str(error) or name not in str(error):
                yield f"the setting {name} = {value!r} is refused as {error}; {cure}"
        except Exception as error:
            yield f"the setting {name} = {value!r} raises {type(error).__name__}: {error}; {cure}"
        else:
            yield f"the setting {name} = {value!r} is taken; {cure}"


def pickling(rule: Rule) -> Iterator[str]:
    """Give whether a rule that can be imported does not come out of a pickle as itself."""
    module, name = rule.function.__module__, rule.function.__qualname__
    if "<" in name or module in (None, "builtins", "__main__"):
        return  # defined in a function, a script, or text that was executed: there is nothing to import
    cure = "define it at the top of a module, under the name of its function"
    try:
        back = pickle.loads(pickle.dumps(rule))
    except Exception as error:
        yield f"it cannot be sent to another process ({type(error).__name__}: {error}); {cure}"
        return
    if back is not rule:
        yield f"in another process {module}.{name} is another rule; {cure}"


RULE_CHECKS: tuple[Callable[[Rule], Iterator[str]], ...] = (undocumented, unlabelled, settings_refused, pickling)
CASE_CHECKS: tuple[Callable[[Case], Iterator[str]], ...] = (
    form, repetition, order, company, mutation, ignorance, reserve
)  # fmt: skip
