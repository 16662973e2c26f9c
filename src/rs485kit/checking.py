"""Bus in, report out: choose the rules, run each contained, apply waivers, put the findings in order."""

import contextlib
import datetime
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from rs485kit import __version__, discovery
from rs485kit.catalogue import _shelves
from rs485kit.errors import InputError, Problem, RuleError, listed
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Cable, IsolatedSupply, Isolator, Policy, Protector, TimingProfile, Transceiver
from rs485kit.plugins.isolation import Isolated, seconds
from rs485kit.plugins.loading import error_of
from rs485kit.plugins.required import unmet
from rs485kit.plugins.roster import Roster, Task, local_task, roster
from rs485kit.report.summary import PluginError, PluginUse, Report, ordered
from rs485kit.rules import RESERVED_PREFIXES, built_in
from rs485kit.rules.choosing import SITE, Known, left_out, wants
from rs485kit.rules.definition import Rule
from rs485kit.rules.finding import Finding
from rs485kit.rules.scope import NOT_CHECKED
from rs485kit.rules.waiving import about_waivers, waived
from rs485kit.tables import digest


def check(
    subject: Bus | Analyses,
    *,
    rules: Iterable[Rule] = (),
    plugins: bool = True,
    policy: Policy | None = None,
    isolate: bool = False,
    time_limit: str | float | None = None,
    today: datetime.date | None = None,
) -> Report:
    """Check a bus against every rule and return the report.

    Parameters
    ----------
    subject : Bus or Analyses
        The bus; with Analyses, what the rules compute stays there for plots and further questions [-].
    rules : iterable of Rule
        Rules of the caller, with names under "site."; they run in this process [-].
    plugins : bool
        Whether the rules of installed plugins take part [-].
    policy : Policy or None
        Laid over the policy that comes with the bus [-].
    isolate : bool
        Whether installed plugins run in a child process, which is stopped where one does not come back [-].
    time_limit : str, float or None
        With `isolate`, the longest time for the import of one plugin, and for one rule with the analyses that it asks
        for; None: 10 s [s].
    today : datetime.date or None
        The day that decides about waivers; None: the current day [-].

    Returns
    -------
    Report
        The report [-].

    Raises
    ------
    InputError
        If the subject is no bus, if a policy names a rule or setting that does not exist, or if a time limit is given
        without isolation or is none.
    RuleError
        If a rule passed by the caller is no rule or bears a reserved name.
    """
    analyses = subject if isinstance(subject, Analyses) else Analyses(subject)
    judgement = (policy or Policy()).over(analyses.bus.policy)
    if time_limit is not None and not isolate:
        raise InputError(Problem("time_limit", f"{time_limit}", "none without isolate=True", "it would limit nothing"))
    limit = seconds(time_limit)
    with contextlib.ExitStack() as stack:
        if not plugins:
            stack.enter_context(discovery.without_plugins())
        isolated = stack.enter_context(Isolated(analyses.bus, judgement, limit)) if isolate else None
        return _report(analyses, _own(rules), judgement, isolated, today or datetime.date.today())


def _report(
    analyses: Analyses, own: tuple[Rule, ...], policy: Policy, isolated: Isolated | None, day: datetime.date
) -> Report:
    bus = analyses.bus
    # what the report says of the bus is read before a rule can change it
    name, about, before, parts = bus.name, described(bus), digest(bus), tuple(_parts_used(bus))
    joined = roster(analyses, policy, RESERVED_PREFIXES, isolated)
    tasks = [*(local_task(rule, analyses, policy) for rule in (*built_in(), *own)), *joined.tasks]
    absent = left_out(policy, _known(tasks, joined))
    chosen = [task for task in tasks if wants(policy, task.name)]
    ran = _run(chosen)
    errors = [*joined.errors, *_wrong_parts(), *map(_not_there, absent), *ran.errors, *_changed(bus, before, chosen)]
    told = frozenset((error.package, error.name) for error in errors)
    errors += unmet(policy, frozenset(_by_plugin(chosen)), told)
    findings = [waived(each, policy.waivers, day) for each in ran.findings]
    findings += about_waivers(policy.waivers, ran.findings, _names(chosen), _names(chosen) - set(ran.names), day)
    return Report(
        bus=name,
        described=about,
        digest=before,
        findings=ordered(findings),
        rules=tuple(sorted(ran.names)),
        not_applicable=tuple(sorted(ran.idle)),
        plugins=(*_rules_used(chosen), *parts),
        plugin_errors=sorted(set(errors), key=lambda each: (each.package, each.name, each.cause)),
        policy=policy,
        assumptions=sorted({*analyses.assumed, *ran.assumed}),
        not_checked=NOT_CHECKED,
        date=day,
        version=__version__,
    )


def described(bus: Bus) -> str:
    """Return what a bus is made of, in one line: a device forgotten or a cable too long shows at a glance.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    str
        The line [-].
    """
    devices = [node for node in bus.nodes if node.transceiver is not None]
    terminators = sum(each.engaged for node in bus.nodes for each in node.terminations)
    biases = sum(each.engaged for node in bus.nodes for each in node.biases)
    metres = sum(segment.length for segment in bus.segments)
    parts = [
        _counted(len(devices), "device"),
        f"{sum(node.drives for node in devices)} drive and {sum(node.receives for node in devices)} listen",
        _counted(len(bus.nodes) - len(devices), "passive place"),
        f"{metres:.4g} m of cable",
        _counted(terminators, "terminator"),
        _counted(biases, "bias network"),
    ]
    if bus.link is not None and bus.link.data_rate is not None:
        parts.append(f"{bus.link.data_rate / 1e3:.6g} kbit/s")
    return ", ".join(parts)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _own(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """Return the caller's rules after refusing what is none, what is doubled and what bears a reserved name."""
    own = tuple(rules)
    seen: set[str] = set()
    for rule in own:
        if not isinstance(rule, Rule):
            raise RuleError(repr(rule), "it is no rule; make one with @rs485kit.rule(...)")
        if rule.name.split(".")[0] != "site":
            reserved = " (reserved for the library)" if rule.name.split(".")[0] in RESERVED_PREFIXES else ""
            raise RuleError(rule.name, f'rules passed to a check have names under "site."{reserved}')
        if rule.name in seen:
            raise RuleError(rule.name, "two rules bear this name")
        seen.add(rule.name)
    return own


# --- running ---------------------------------------------------------------------------------------------------------


class _Ran(NamedTuple):
    """What came of running rules: names of those that ran, of those without a finding, and what did not run."""

    findings: list[Finding]
    names: list[str]
    idle: list[str]
    errors: list[PluginError]
    assumed: set[str]


def _run(tasks: Iterable[Task]) -> _Ran:
    """Run rules, each contained: one that raises must not take the report or the host with it."""
    ran = _Ran([], [], [], [], set())
    for task in tasks:
        try:
            findings, assumed = task.run()
        except KeyboardInterrupt:
            raise
        except BaseException as error:
            # SystemExit and the like too: whoever wrote the rule meant to end something of his own
            ran.errors.append(task.failed(error))
            continue
        ran.names.append(task.name)
        ran.findings.extend(_to_report(findings))
        ran.assumed.update(assumed)
        if not findings:
            ran.idle.append(task.name)
    return ran


def _to_report(findings: list[Finding]) -> list[Finding]:
    """Return everything but passes, or the pass nearest to its limit."""
    return [found for found in findings if found.verdict != "pass"] or list(ordered(findings)[:1])


# --- plugins ---------------------------------------------------------------------------------------------------------


def _known(tasks: Iterable[Task], joined: Roster) -> Known:
    return Known(
        rules=tuple(task.name for task in tasks),
        reserved=RESERVED_PREFIXES - {SITE},
        excused=joined.failed | joined.unwanted | {error.name for error in joined.errors},
        switched_off=discovery.switched_off(),
    )


def _wrong_parts() -> Iterator[PluginError]:
    return (error_of(flaw, flaw.cause) for flaw in _shelves.flaws())


def _not_there(pattern: str) -> PluginError:
    return PluginError(name=pattern, cause=f"the policy selects it, but {discovery.switched_off()}")


def _changed(bus: Bus, before: str, chosen: Iterable[Task]) -> Iterator[PluginError]:
    """Give an entry if a rule has changed the bus under the hands of the others."""
    if _digest_now(bus) == before:
        return
    foreign = sorted({task.claim.name if task.claim else task.name for task in chosen if not _is_built_in(task)})
    cause = (
        f"the bus was changed while it was judged, by one of {listed(tuple(foreign), 5)}: no finding of this report "
        "can be relied on; rs485kit.testing.check_rule tells which rule does it"
    )
    yield PluginError(name="bus", cause=cause)


def _digest_now(bus: Bus) -> str:
    """Return the digest of a bus that has been in the hands of rules; empty if it has none any more."""
    try:
        return digest(bus)
    except KeyboardInterrupt:
        raise
    except BaseException:
        # a field now holds what no table can hold, or what raises when it is looked at
        return ""


def _names(tasks: Iterable[Task]) -> frozenset[str]:
    return frozenset(task.name for task in tasks)


def _is_built_in(task: Task) -> bool:
    return task.claim is None and not task.name.startswith(f"{SITE}.")


def _by_plugin(tasks: Iterable[Task]) -> dict[str, list[Task]]:
    """Return tasks of plugins by prefix."""
    result: dict[str, list[Task]] = {}
    for task in tasks:
        if task.claim is not None:
            result.setdefault(task.claim.name, []).append(task)
    return result


def _rules_used(chosen: Iterable[Task]) -> Iterator[PluginUse]:
    for prefix, tasks in sorted(_by_plugin(chosen).items()):
        claim = tasks[0].claim
        assert claim is not None
        names = [task.name for task in tasks]
        yield PluginUse(name=prefix, package=claim.package, version=claim.version, rules=names)


def _parts_used(bus: Bus) -> Iterator[PluginUse]:
    """Give the namespaces of installed plugins that the names of a bus's parts show."""
    shown = {part.name.partition(".")[0] for part in _parts_of(bus) if "." in part.name}
    for namespace in _shelves.namespaces():
        claim = _shelves.owner(namespace)
        if namespace in shown and claim is not None:
            yield PluginUse(name=namespace, package=claim.package, version=claim.version)


def _parts_of(bus: Bus) -> Iterator[Transceiver | Cable | Isolator | IsolatedSupply | Protector | TimingProfile]:
    for node in bus.nodes:
        barrier = node.barrier
        held = (node.transceiver, *node.protectors, *((barrier.isolator, barrier.supply) if barrier else ()))
        yield from (part for part in held if part is not None)
    yield from (segment.cable for segment in bus.segments if segment.cable is not None)
    if bus.link is not None and bus.link.profile is not None:
        yield bus.link.profile
