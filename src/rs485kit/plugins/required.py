"""Plugins without which a check must not pass: whether they are there, new enough, and were let to take part."""

import re

from packaging.requirements import Requirement
from packaging.version import InvalidVersion, Version

from rs485kit import discovery
from rs485kit.discovery import Claim
from rs485kit.model import Policy
from rs485kit.report.summary import PluginError
from rs485kit.rules import RESERVED_PREFIXES


def unmet(policy: Policy, ran: frozenset[str], told: frozenset[tuple[str, str]]) -> tuple[PluginError, ...]:
    """Return an entry for every distribution that a policy requires and that did not take part.

    Parameters
    ----------
    policy : Policy
        The policy in force [-].
    ran : frozenset of str
        Prefixes of plugins of which a rule was put to the bus [-].
    told : frozenset of (str, str)
        Distribution and prefix of each plugin that the report names already as refused or not loaded [-].

    Returns
    -------
    tuple of PluginError
        The entries [-].
    """
    claims = discovery.installed().claims
    result = []
    for text in policy.require:
        wanted = Requirement(text)
        mine = [claim for claim in claims if _normalised(claim.package) == _normalised(wanted.name)]
        why = _absence(wanted, mine) or _silence(mine, ran, told)
        if why:
            version = mine[0].version if mine else ""
            result.append(PluginError(name=text, package=wanted.name, version=version, cause=f"required, but {why}"))
    return tuple(result)


def _absence(wanted: Requirement, claims: list[Claim]) -> str:
    if not claims:
        return discovery.switched_off() or "no distribution of that name that brings rules or parts is installed"
    version = claims[0].version
    try:
        fits = wanted.specifier.contains(Version(version), prereleases=True)
    except InvalidVersion:
        return f'its version, "{version}", cannot be compared'
    return "" if fits else f"version {version} is installed"


def _silence(claims: list[Claim], ran: frozenset[str], told: frozenset[tuple[str, str]]) -> str:
    """Return why rules of an installed distribution are missing from the check, unless the report says so elsewhere."""
    owned = discovery.owners(discovery.RULES, RESERVED_PREFIXES).claims
    for claim in claims:
        if claim.group != discovery.RULES or (claim.package, claim.name) in told:
            continue
        if owned.get(claim.name) != claim:
            return f'its claim to the name "{claim.name}" is refused: the name is reserved, no name, or claimed twice'
        if claim.name not in ran:
            return f'the policy leaves out every rule under "{claim.name}."'
    return ""


def _normalised(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()
