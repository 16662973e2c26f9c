"""What is installed beside the library: the entry points of plugins, read from metadata alone.

Nothing is loaded here, on purpose: a list of what there is must not depend on what a plugin does when it is imported.
The environment variable RS485KIT_NO_PLUGINS (anything but empty or 0) and `without_plugins` make the list empty.
"""

import contextlib
import difflib
import functools
import os
import re
import sys
from collections.abc import Iterator, Mapping
from contextvars import ContextVar
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from importlib.metadata import Distribution

RULES = "rs485kit.rules"
PARTS = "rs485kit.parts"
SWITCH = "RS485KIT_NO_PLUGINS"

_PREFIX = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_GROUP = re.compile(r"^\s*\[\s*(.*?)\s*\]\s*$", re.MULTILINE)
_NOT_ASKED_FOR: ContextVar[bool] = ContextVar("plugins not asked for", default=False)


class Claim(NamedTuple):
    """An entry point of a plugin: a distribution says that it owns a name, and where its rules or parts are."""

    group: str
    name: str
    value: str
    package: str
    version: str


class Flaw(NamedTuple):
    """A claim, or the metadata of a distribution, that cannot be taken, and why."""

    name: str
    package: str
    version: str
    cause: str


class Distributions(NamedTuple):
    """The claims of the installed distributions, in one order whatever the order of installation."""

    claims: tuple[Claim, ...] = ()
    flaws: tuple[Flaw, ...] = ()


class Owners(NamedTuple):
    """Which claim owns each name of a group, and the claims that were refused."""

    claims: Mapping[str, Claim]
    flaws: tuple[Flaw, ...]


def switched_off() -> str:
    """Return why plugins are left out, as text that ends a sentence; empty if they are not."""
    if _NOT_ASKED_FOR.get():
        return "plugins are switched off"
    if os.environ.get(SWITCH, "") not in ("", "0"):
        return f"plugins are switched off by the environment variable {SWITCH}"
    return ""


@contextlib.contextmanager
def without_plugins() -> Iterator[None]:
    """Leave plugins out of everything that this thread or task does inside the block."""
    token = _NOT_ASKED_FOR.set(True)
    try:
        yield
    finally:
        _NOT_ASKED_FOR.reset(token)


def installed() -> Distributions:
    """Return what the installed distributions claim, read once for each search path.

    Returns
    -------
    Distributions
        The claims, and the metadata that could not be read [-].
    """
    return Distributions() if switched_off() else _read(tuple(sys.path))


def owners(group: str, reserved: frozenset[str]) -> Owners:
    """Return who owns which name of a group.

    Parameters
    ----------
    group : str
        `RULES` or `PARTS` [-].
    reserved : frozenset of str
        Names that no plugin may own [-].

    Returns
    -------
    Owners
        The claims by name, sorted; a claim that is refused is a flaw, and one name claimed twice gives it to neither
        [-].
    """
    found = installed()
    by_name: dict[str, list[Claim]] = {}
    for claim in found.claims:
        if claim.group == group:
            by_name.setdefault(claim.name, []).append(claim)
    accepted, flaws = {}, list(found.flaws)
    for name, claims in by_name.items():
        cause = _refusal(name, claims, reserved)
        if cause:
            flaws += [Flaw(name, claim.package, claim.version, cause) for claim in claims]
        else:
            accepted[name] = claims[0]
    return Owners(accepted, tuple(flaws))


def _refusal(name: str, claims: list[Claim], reserved: frozenset[str]) -> str:
    if name in reserved:
        return f'the name "{name}" is reserved for the library; choose another for the entry point'
    if _PREFIX.fullmatch(name) is None:
        return f'"{name}" is no name for an entry point; it is of lower-case words joined by hyphens, without a dot'
    if len(claims) > 1:
        who = " and ".join(f"{each.package} {each.version}" for each in claims)
        return f'the name "{name}" is claimed {len(claims)} times, by {who}, and given to none; uninstall all but one'
    return ""


@functools.lru_cache(maxsize=8)
def _read(path: tuple[str, ...]) -> Distributions:
    """Read the metadata of every distribution on a search path; one that cannot be read does not hide the others."""
    from importlib import metadata

    claims: list[Claim] = []
    flaws: list[Flaw] = []
    seen: set[str] = set()
    for distribution in metadata.distributions(path=list(path)):
        try:
            of_one, strange = _claims(distribution, seen)
            claims += of_one
            flaws += strange
        except Exception as error:
            cause = f"its metadata cannot be read ({type(error).__name__}: {error})"
            flaws.append(Flaw("entry points", _name_of(distribution), "", cause))
    return Distributions(tuple(sorted(claims)), tuple(sorted(flaws)))


def _claims(distribution: "Distribution", seen: set[str]) -> tuple[list[Claim], list[Flaw]]:
    """Return the claims of a distribution that the search path does not show a second time, and what is mistyped."""
    text = distribution.read_text("entry_points.txt") or ""
    groups = _GROUP.findall(text)
    strange = [group for group in groups if group not in (RULES, PARTS) and _is_near(group)]
    if RULES not in groups and PARTS not in groups and not strange:
        return [], []  # spares the parsing of everybody else's metadata
    name, version = distribution.metadata["Name"] or "", distribution.metadata["Version"] or ""
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in seen:
        return [], []
    seen.add(key)
    claims = [
        Claim(each.group, each.name, each.value, name, version)
        for each in distribution.entry_points
        if each.group in (RULES, PARTS)
    ]
    return claims, [Flaw("entry points", name, version, _mistyped(group)) for group in strange]


def _is_near(group: str) -> bool:
    """Return whether a group of entry points is meant for this library, or looks as if it were."""
    plain = re.sub(r"[-_]", "", group.lower())
    return plain.startswith("rs485kit") or bool(difflib.get_close_matches(plain, (RULES, PARTS), 1, 0.85))


def _mistyped(group: str) -> str:
    wanted = f'the groups of this library are "{RULES}" and "{PARTS}"'
    return f'its group of entry points "{group}" is read by nobody; {wanted}'


def _name_of(distribution: "Distribution") -> str:
    try:
        return distribution.metadata["Name"] or "a distribution without a name"
    except Exception:
        return "a distribution whose name cannot be read"
