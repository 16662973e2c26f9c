"""One rule put to one bus: what it says, with places that exist; what cannot be told is an unknown."""

from collections.abc import Mapping
from typing import Any

from rs485kit.errors import MissingDataError, RuleError, SolveError
from rs485kit.memo import Analyses
from rs485kit.model import Bus
from rs485kit.rules.definition import Rule
from rs485kit.rules.finding import Finding, Place, unknown


def outcome(rule: Rule, analyses: Analyses, settings: Mapping[str, Any]) -> list[Finding]:
    """Return every finding of a rule, passes included.

    Parameters
    ----------
    rule : Rule
        The rule [-].
    analyses : Analyses
        The bus and its results so far [-].
    settings : mapping
        Settings of this rule by parameter [-].

    Returns
    -------
    list of Finding
        The findings; one unknown where an analysis lacks data or has no solution [-].

    Raises
    ------
    RuleError
        If it gives something that is no finding, or a finding at a place that the bus does not have.
    """
    try:
        findings = rule.findings(analyses, settings)
    except MissingDataError as error:
        lacking = unknown(Place.bus(), str(error), missing=error.missing, remedy=error.cure)
        findings = [rule.stamped(lacking)]
    except SolveError as error:
        findings = [rule.stamped(unknown(Place.bus(), str(error), remedy=error.cure))]
    for found in findings:
        refuse_strange_place(rule.name, found.where, analyses.bus)
    return findings


def refuse_strange_place(rule: str, where: Place, bus: Bus) -> None:
    """Refuse a place that a bus does not have.

    Parameters
    ----------
    rule : str
        Name of the rule that gave it, for the error [-].
    where : Place
        The place [-].
    bus : Bus
        The bus [-].

    Raises
    ------
    RuleError
        If the bus has no such place.
    """
    known = {earth.name for earth in bus.earths} if where.kind == "earth" else {node.name for node in bus.nodes}
    strange = [name for name in where.names if name not in known]
    if strange:
        raise RuleError(rule, f'it gave a finding at {where}, but the bus has no "{strange[0]}"')
    if where.kind == "segment" and not any({each.start, each.end} == set(where.names) for each in bus.segments):
        raise RuleError(rule, f"it gave a finding at {where}, but no segment joins the two")
    if where.kind == "barrier" and bus.node(where.names[0]).barrier is None:
        raise RuleError(rule, f"it gave a finding at {where}, but that node has no barrier")
