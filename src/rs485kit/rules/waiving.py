"""Waivers: which finding one covers, and what is said of one that covers nothing or is over."""

import datetime
from collections.abc import Iterable

import attrs

from rs485kit.model import Waiver
from rs485kit.rules.explanation import ABOUT_WAIVERS
from rs485kit.rules.finding import Finding, Place

REMOVE = "remove the waiver, or correct its rule, places or last day"


def waived(found: Finding, waivers: Iterable[Waiver], day: datetime.date) -> Finding:
    """Return a finding with the first waiver that covers it on a day.

    Parameters
    ----------
    found : Finding
        The finding; a pass needs no waiver [-].
    waivers : iterable of Waiver
        The waivers [-].
    day : datetime.date
        The day [-].

    Returns
    -------
    Finding
        The finding [-].
    """
    if found.verdict == "pass":
        return found
    for waiver in waivers:
        if not _is_over(waiver, day) and _matches(waiver, found):
            return attrs.evolve(found, waiver=waiver)
    return found


def about_waivers(
    waivers: Iterable[Waiver],
    found: Iterable[Finding],
    ran: frozenset[str],
    broken: frozenset[str],
    day: datetime.date,
) -> list[Finding]:
    """Return a finding for each waiver that is over, or that covers nothing.

    Parameters
    ----------
    waivers : iterable of Waiver
        The waivers [-].
    found : iterable of Finding
        Every finding of the check [-].
    ran : frozenset of str
        Names of the rules that were to run [-].
    broken : frozenset of str
        Names of those that were to run and did not come to an end [-].
    day : datetime.date
        The day of the check [-].

    Returns
    -------
    list of Finding
        The findings [-].
    """
    open_findings = [each for each in found if each.verdict != "pass"]
    undecided = broken | {each.rule for each in open_findings if each.verdict == "unknown"}
    result = []
    for waiver in waivers:
        if _is_over(waiver, day):
            result.append(_about(waiver, f"the waiver ended on {waiver.until}", "waiver.over"))
        elif waiver.rule not in ran:
            result.append(_about(waiver, "the waiver names a rule that did not run", "waiver.matches-nothing"))
        elif not any(_matches(waiver, each) for each in open_findings):
            what, remedy = "the waiver matches no finding", REMOVE
            if waiver.rule in undecided:
                # what it covers may come back as soon as the rule can judge again
                what += ", but the rule could not judge everything"
                remedy = "keep the waiver until the rule can judge: state what it lacks, or mend the rule"
            result.append(_about(waiver, what, "waiver.matches-nothing", remedy))
    return result


def _is_over(waiver: Waiver, day: datetime.date) -> bool:
    return waiver.until is not None and day > waiver.until


def _matches(waiver: Waiver, found: Finding) -> bool:
    if waiver.rule != found.rule:
        return False
    names, kind = found.where.names, found.where.kind
    if kind == "bus":
        return waiver.bus
    if kind in ("node", "barrier", "earth"):
        return names[0] in {"node": waiver.nodes, "barrier": waiver.barriers, "earth": waiver.earths}[kind]
    pairs = waiver.segments if kind == "segment" else waiver.paths
    return names in pairs or (kind == "segment" and names[::-1] in pairs)


def _about(waiver: Waiver, what: str, name: str, remedy: str = REMOVE) -> Finding:
    return Finding(
        verdict="marginal",
        where=Place.bus(),
        message=f'{what}: "{waiver.rule}", because "{waiver.reason}"',
        remedy=remedy,
        rule=name,
        title=ABOUT_WAIVERS[name][0],
    )
