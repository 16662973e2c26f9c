"""Analyses: a bus with the results computed for it so far, shared by rules, plots and callers."""

import functools
import inspect
import threading
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec, TypeVar

from rs485kit.errors import InputError, Problem, Rs485kitError, SolveError
from rs485kit.model import Bus
from rs485kit.model.base import shown

P = ParamSpec("P")
R = TypeVar("R")


class Analyses:
    """A bus together with the results and errors of the analyses run on it.

    One re-entrant lock guards it: threads may share one, and an analysis may call another.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    """

    __slots__ = ("_bus", "_kept", "_lock")

    def __init__(self, bus: Bus) -> None:
        if not isinstance(bus, Bus):
            raise InputError(Problem("Analyses", shown(bus), "a Bus"))
        self._bus = bus
        self._kept: dict[tuple[Any, ...], tuple[bool, Any]] = {}
        self._lock = threading.RLock()

    @property
    def bus(self) -> Bus:
        """The bus."""
        return self._bus

    @property
    def results(self) -> tuple[Any, ...]:
        """The results kept so far, in the order in which they were computed."""
        with self._lock:
            return tuple(value for computed, value in self._kept.values() if computed)

    @property
    def assumed(self) -> tuple[str, ...]:
        """What the results kept so far took for given, each once, in alphabetical order."""
        texts = (getattr(result, "assumed", ()) for result in self.results)
        every = (each for of_result in texts if isinstance(of_result, tuple) for each in of_result)
        return tuple(sorted({each for each in every if isinstance(each, str)}))

    def _result(self, function: Callable[..., R], arguments: tuple[Any, ...], keep: bool) -> R:
        key = (function, arguments)
        with self._lock:
            try:
                known = self._kept.get(key)
            except TypeError:
                raise InputError(Problem(function.__name__, shown(arguments), "hashable arguments")) from None
            if known is None:
                known = self._computed(function, arguments)
                if keep:
                    self._kept[key] = known
        computed, value = known
        if computed:
            result: R = value
            return result
        # the same error may be raised many times over: it must not gather the frames of every caller
        raise value.with_traceback(None)

    def _computed(self, function: Callable[..., Any], arguments: tuple[Any, ...]) -> tuple[bool, Any]:
        try:
            return True, function(self, **dict(arguments))
        except Rs485kitError as error:
            return False, error
        except ValueError as error:
            # numpy's error for a singular matrix, told without importing numpy here
            if type(error).__name__ != "LinAlgError":
                raise
            cure = "look for figures that are out of all proportion, such as unit loads of next to nothing"
            return False, SolveError("the network of the bus", "its equations have no unique solution in numbers", cure)

    def __reduce__(self) -> tuple[type["Analyses"], tuple[Bus]]:
        return Analyses, (self._bus,)


def as_analysis(
    *, keep: bool = True
) -> Callable[[Callable[Concatenate[Analyses, P], R]], Callable[Concatenate[Bus | Analyses, P], R]]:
    """Return a decorator that makes a function of `Analyses` callable with a Bus, and keeps its results.

    Parameters
    ----------
    keep : bool
        Whether results are kept; false for records over time, which are large [-].

    Returns
    -------
    callable
        The decorator [-].
    """

    def decorate(function: Callable[Concatenate[Analyses, P], R]) -> Callable[Concatenate[Bus | Analyses, P], R]:
        signature = inspect.signature(function)

        @functools.wraps(function)
        def analysis(subject: Bus | Analyses, /, *args: P.args, **kwargs: P.kwargs) -> R:
            analyses = subject if isinstance(subject, Analyses) else Analyses(subject)
            bound = signature.bind(analyses, *args, **kwargs)
            bound.apply_defaults()
            given = tuple(bound.arguments.items())[1:]
            return analyses._result(function, given, keep)

        return analysis

    return decorate
