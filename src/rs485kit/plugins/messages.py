"""What a child process says of rules, as plain JSON: a pickle would bring the plugin's own classes into the parent."""

from collections.abc import Mapping
from typing import Any

import attrs

from rs485kit.errors import Problem
from rs485kit.report.summary import PluginError
from rs485kit.rules.finding import Finding, Place

_PLAIN = tuple(each.name for each in attrs.fields(Finding) if each.name not in ("where", "waiver"))
_OF_ERROR = tuple(each.name for each in attrs.fields(PluginError))


def from_finding(found: Finding) -> dict[str, Any]:
    """Return a finding, not yet waived, as a message [-]."""
    return {name: getattr(found, name) for name in _PLAIN} | {"where": [found.where.kind, list(found.where.names)]}


def to_finding(message: Mapping[str, Any]) -> Finding:
    """Return the finding of a message [-]."""
    kind, names = message["where"]
    return Finding(where=Place(kind, tuple(names)), **{name: message[name] for name in _PLAIN})


def from_error(error: PluginError) -> dict[str, str]:
    """Return what did not run as a message [-]."""
    return {name: getattr(error, name) for name in _OF_ERROR}


def to_error(message: Mapping[str, Any]) -> PluginError:
    """Return what did not run, of a message [-]."""
    return PluginError(**{name: message[name] for name in _OF_ERROR})


def from_problem(problem: Problem) -> list[Any]:
    """Return a problem of an input as a message [-]."""
    return [problem.place, problem.given, problem.wanted, problem.cure, problem.line]


def to_problem(message: list[Any]) -> Problem:
    """Return the problem of a message [-]."""
    return Problem(*message)
