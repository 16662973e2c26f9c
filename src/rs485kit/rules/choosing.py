"""Which rules a policy wants, and whether the rules that it names exist."""

import difflib
import fnmatch
import re
from collections.abc import Iterable

import attrs

from rs485kit.errors import InputError, Problem, UnknownNameError
from rs485kit.model import Policy

_WILD = re.compile(r"[*?\[]")
SITE = "site"
"""Prefix of the rules that a caller passes to a check."""


@attrs.frozen(kw_only=True)
class Known:
    """The names that a policy may use.

    Parameters
    ----------
    rules : tuple of str
        Rules that can run [-].
    reserved : frozenset of str
        Prefixes of the library's own rules [-].
    excused : frozenset of str
        Rules and prefixes of installed plugins that did not load: the report says so already [-].
    switched_off : str
        Why plugins are left out; empty if they are not [-].
    """

    rules: tuple[str, ...]
    reserved: frozenset[str] = frozenset()
    excused: frozenset[str] = frozenset()
    switched_off: str = ""


def covers(pattern: str, name: str) -> bool:
    """Return whether a pattern of a policy means a rule: its name, a beginning of it up to a dot, or with wildcards."""
    return name == pattern or name.startswith(pattern + ".") or fnmatch.fnmatchcase(name, pattern)


def wants(policy: Policy, name: str) -> bool:
    """Return whether a policy lets a rule run."""
    selected = not policy.select or any(covers(pattern, name) for pattern in policy.select)
    return selected and not any(covers(pattern, name) for pattern in policy.skip)


def may_want(policy: Policy, prefix: str) -> bool:
    """Return whether a policy may want a rule under a prefix, of which the rules are not known yet."""
    if any(pattern in (prefix, f"{prefix}.*") for pattern in policy.skip):
        return False
    return not policy.select or any(_may_cover(pattern, prefix) for pattern in policy.select)


def _may_cover(pattern: str, prefix: str) -> bool:
    """Compare a prefix with a pattern as far as its first wildcard."""
    head, every = _WILD.split(pattern, maxsplit=1)[0], f"{prefix}."
    return pattern == prefix or head.startswith(every) or (head != pattern and every.startswith(head))


def left_out(policy: Policy, known: Known) -> tuple[str, ...]:
    """Refuse what a policy names and nothing bears; return what it selects of plugins that are switched off.

    Parameters
    ----------
    policy : Policy
        The policy [-].
    known : Known
        The names that it may use [-].

    Returns
    -------
    tuple of str
        Patterns under `select` that only a plugin can answer, plugins being switched off [-].

    Raises
    ------
    InputError
        If it names a rule, or a prefix, that does not exist.
    """
    absent = []
    for pattern in _strange(policy.select, known):
        if not _of_a_plugin(pattern, known):
            _refuse("policy.select", pattern, known)
        absent.append(pattern)
    for pattern in _strange(policy.skip, known):
        if not _of_a_plugin(pattern, known):
            _refuse("policy.skip", pattern, known)
    for name, _ in policy.settings:
        if name not in known.rules and not _excused(name, known) and not _of_a_plugin(name, known):
            _refuse("policy.settings", name, known)
    return tuple(absent)


def _strange(patterns: Iterable[str], known: Known) -> list[str]:
    return [
        pattern
        for pattern in patterns
        if not any(covers(pattern, name) for name in known.rules) and not _excused(pattern, known)
    ]


def _excused(name: str, known: Known) -> bool:
    """Return whether a name or pattern may mean a rule of a plugin that did not load."""
    return any(name == each or covers(name, each) or _may_cover(name, each.split(".")[0]) for each in known.excused)


def _of_a_plugin(name: str, known: Known) -> bool:
    """Return whether only a plugin could bear a name, plugins being switched off so that nobody can tell."""
    prefix, own = name.split(".")[0], {each.split(".")[0] for each in known.rules}
    foreign = prefix not in known.reserved | {SITE} and not difflib.get_close_matches(prefix, own, cutoff=0.7)
    return bool(known.switched_off) and foreign


def _refuse(place: str, name: str, known: Known) -> None:
    prefix = name.split(".")[0]
    prefixes = {each.split(".")[0] for each in known.rules}
    wanted = "the name of a rule"
    if place != "policy.settings":
        wanted += ", or its beginning up to a dot"
    if prefix == SITE and SITE not in prefixes:
        cure = "rules under site are the caller's own and are passed in Python: check(bus, rules=[...])"
        raise InputError(Problem(place, f'"{name}"', "a rule that takes part in this check", cure))
    near = tuple(difflib.get_close_matches(name, [*known.rules, *sorted(prefixes | known.excused)], n=3))
    hint = ""
    if prefix not in prefixes and prefix not in known.reserved:
        hint = known.switched_off or f'no installed plugin owns "{prefix}"'
    raise InputError(Problem(place, f'"{name}"', wanted, str(UnknownNameError("rule", name, near, hint))))
