"""Who takes part in a check: the rules of installed plugins that a policy may want, here or in a child process."""

from collections.abc import Callable
from typing import TypeAlias

import attrs

from rs485kit import discovery
from rs485kit.discovery import Claim
from rs485kit.errors import InputError
from rs485kit.memo import Analyses
from rs485kit.model import Policy
from rs485kit.plugins.causes import cause
from rs485kit.plugins.isolation import Isolated, StoppedError
from rs485kit.plugins.loading import error_of, load
from rs485kit.report.summary import PluginError
from rs485kit.rules.choosing import may_want
from rs485kit.rules.definition import Rule
from rs485kit.rules.finding import Finding
from rs485kit.rules.running import outcome

Outcome: TypeAlias = tuple[list[Finding], tuple[str, ...]]


@attrs.frozen(kw_only=True)
class Task:
    """A rule that is ready to run.

    Parameters
    ----------
    name : str
        Name of the rule [-].
    run : callable
        Gives its findings, and what analyses assumed elsewhere than in this process; may raise anything [-].
    claim : Claim or None
        Plugin that brings it; None: the library or the caller [-].
    """

    name: str
    run: Callable[[], Outcome]
    claim: Claim | None = None

    def failed(self, error: BaseException) -> PluginError:
        """Return the entry of a report about the rule, which raised."""
        why = str(error) if isinstance(error, StoppedError) else cause(error)
        if self.claim is None:
            return PluginError(name=self.name, cause=why)
        return error_of(self.claim, why, name=self.name)


@attrs.frozen(kw_only=True)
class Roster:
    """What came of looking for plugins.

    Parameters
    ----------
    tasks : tuple of Task
        Their rules [-].
    errors : tuple of PluginError
        Plugins and rules that were refused or did not load [-].
    failed : frozenset of str
        Prefixes that were refused, or whose plugin brought no rule that can run [-].
    unwanted : frozenset of str
        Prefixes of plugins that were not loaded, since the policy wants none of their rules [-].
    """

    tasks: tuple[Task, ...] = ()
    errors: tuple[PluginError, ...] = ()
    failed: frozenset[str] = frozenset()
    unwanted: frozenset[str] = frozenset()


def local_task(rule: Rule, analyses: Analyses, policy: Policy, *, claim: Claim | None = None) -> Task:
    """Return the task of a rule in this process.

    Raises
    ------
    InputError
        If a setting that the policy has for it is wrong.
    """
    settings = policy.settings_of(rule.name)
    rule.values(settings)
    return Task(name=rule.name, run=lambda: (outcome(rule, analyses, settings), ()), claim=claim)


def roster(analyses: Analyses, policy: Policy, reserved: frozenset[str], isolated: Isolated | None) -> Roster:
    """Load the plugins whose rules a policy may want.

    Parameters
    ----------
    analyses : Analyses
        The bus and its results so far [-].
    policy : Policy
        The policy in force [-].
    reserved : frozenset of str
        Prefixes that no plugin may own [-].
    isolated : Isolated or None
        The child process; None: in this process [-].

    Returns
    -------
    Roster
        The rules that are ready, and what went wrong [-].

    Raises
    ------
    InputError
        If a setting that the policy has for a rule is wrong.
    """
    owners = discovery.owners(discovery.RULES, reserved)
    errors = [error_of(flaw, flaw.cause) for flaw in owners.flaws if may_want(policy, flaw.name)]
    failed = {flaw.name for flaw in owners.flaws}
    unwanted = {name for name in owners.claims if not may_want(policy, name)}
    tasks: list[Task] = []
    for name, claim in sorted(owners.claims.items()):
        if name in unwanted:
            continue
        found, wrong = _loaded(claim, analyses, policy, isolated)
        tasks += found
        errors += wrong
        if not found:
            failed.add(name)
    return Roster(
        tasks=tuple(tasks), errors=tuple(errors), failed=frozenset(failed), unwanted=frozenset(unwanted)
    )  # fmt: skip


def _loaded(
    claim: Claim, analyses: Analyses, policy: Policy, isolated: Isolated | None
) -> tuple[list[Task], list[PluginError]]:
    if isolated is None:
        loaded = load(claim)
        return [local_task(rule, analyses, policy, claim=claim) for rule in loaded.rules], list(loaded.errors)
    try:
        names = isolated.load(claim)
    except StoppedError as error:
        return [], [error_of(claim, f"it cannot be loaded: {error}")]
    if names.problems:
        raise InputError(*names.problems)
    return [_remote_task(isolated, claim, name) for name in names.rules], list(names.errors)


def _remote_task(isolated: Isolated, claim: Claim, name: str) -> Task:
    return Task(name=name, run=lambda: isolated.run(claim, name), claim=claim)
