"""Bus in, report out: choose the rules, run each contained, apply waivers, put the findings in order."""

import datetime
import difflib
import fnmatch
from collections.abc import Iterable

import attrs

from rs485kit import __version__
from rs485kit.errors import InputError, MissingDataError, Problem, RuleError, UnknownNameError
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Policy, Waiver
from rs485kit.report.summary import PluginError, Report, ordered
from rs485kit.rules import RESERVED_PREFIXES, built_in
from rs485kit.rules.definition import Rule
from rs485kit.rules.finding import Finding, Place, unknown
from rs485kit.rules.scope import NOT_CHECKED
from rs485kit.tables import digest


def check(
    subject: Bus | Analyses,
    *,
    rules: Iterable[Rule] = (),
    policy: Policy | None = None,
    today: datetime.date | None = None,
) -> Report:
    """Check a bus against every rule and return the report.

    Parameters
    ----------
    subject : Bus or Analyses
        The bus; with Analyses, what the rules compute stays there for plots and further questions [-].
    rules : iterable of Rule
        Rules of the caller, with names under "site." [-].
    policy : Policy or None
        Laid over the policy that comes with the bus [-].
    today : datetime.date or None
        The day that decides about waivers; None: the current day [-].

    Returns
    -------
    Report
        The report [-].

    Raises
    ------
    InputError
        If the subject is no bus, or a policy names a rule or setting that does not exist.
    RuleError
        If a rule passed by the caller is no rule or bears a reserved name.
    """
    analyses = subject if isinstance(subject, Analyses) else Analyses(subject)
    bus = analyses.bus
    judgement = (policy or Policy()).over(bus.policy)
    day = today or datetime.date.today()
    every = (*built_in(), *_own(rules))
    chosen = _chosen(every, judgement)
    for rule in every:
        rule.values(judgement.settings_of(rule.name))
    found: list[Finding] = []
    idle: list[str] = []
    errors: list[PluginError] = []
    for rule in chosen:
        try:
            findings = _run(rule, analyses, judgement)
        except Exception as error:
            # containment: one rule that raises must not take the report or the host with it
            errors.append(PluginError(name=rule.name, cause=f"{type(error).__name__}: {error}"))
            continue
        found += findings
        if not findings:
            idle.append(rule.name)
    waived = [_waived(each, judgement.waivers, day) for each in found]
    waived += _idle_waivers(bus, judgement.waivers, found, {rule.name for rule in chosen}, day)
    return Report(
        bus=bus.name,
        described=described(bus),
        digest=digest(bus),
        findings=ordered(waived),
        rules=tuple(sorted(rule.name for rule in chosen if rule.name not in {error.name for error in errors})),
        not_applicable=tuple(sorted(idle)),
        plugins=(),
        plugin_errors=tuple(errors),
        policy=judgement,
        assumptions=_assumptions(analyses),
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


def _covers(pattern: str, name: str) -> bool:
    return name == pattern or name.startswith(pattern + ".") or fnmatch.fnmatchcase(name, pattern)


def _refuse_strange_rule(place: str, name: str, names: list[str], wanted: str) -> None:
    if name.split(".")[0] == "site" and not any(each.startswith("site.") for each in names):
        cure = "rules under site are the caller's own and are passed in Python: check(bus, rules=[...])"
        raise InputError(Problem(place, f'"{name}"', "a rule that takes part in this check", cure))
    near = tuple(difflib.get_close_matches(name, [*names, *sorted({each.split(".")[0] for each in names})], n=3))
    raise InputError(Problem(place, f'"{name}"', wanted, str(UnknownNameError("rule", name, near))))


def _chosen(rules: tuple[Rule, ...], policy: Policy) -> tuple[Rule, ...]:
    """Return the rules that the policy wants, after refusing names that no rule bears."""
    names = [rule.name for rule in rules]
    for place, patterns in (("policy.select", policy.select), ("policy.skip", policy.skip)):
        for pattern in patterns:
            if not any(_covers(pattern, name) for name in names):
                _refuse_strange_rule(place, pattern, names, "the name of a rule, or its beginning up to a dot")
    for name, _ in policy.settings:
        if name not in names:
            _refuse_strange_rule("policy.settings", name, names, "the name of a rule")
    return tuple(
        rule
        for rule in rules
        if (not policy.select or any(_covers(pattern, rule.name) for pattern in policy.select))
        and not any(_covers(pattern, rule.name) for pattern in policy.skip)
    )


def _run(rule: Rule, analyses: Analyses, policy: Policy) -> list[Finding]:
    """Return what a rule has to say: everything but passes, or the pass nearest to its limit."""
    try:
        findings = rule.findings(analyses, policy.settings_of(rule.name))
    except MissingDataError as error:
        lacking = unknown(Place.bus(), str(error), missing=error.missing, remedy=error.cure)
        findings = [rule.stamped(lacking)]
    for found in findings:
        _refuse_strange_place(rule, found.where, analyses.bus)
    others = [found for found in findings if found.verdict != "pass"]
    return others or list(ordered(findings)[:1])


def _refuse_strange_place(rule: Rule, where: Place, bus: Bus) -> None:
    known = {earth.name for earth in bus.earths} if where.kind == "earth" else {node.name for node in bus.nodes}
    strange = [name for name in where.names if name not in known]
    if strange:
        raise RuleError(rule.name, f'it gave a finding at {where}, but the bus has no "{strange[0]}"')
    if where.kind == "segment" and not any({each.start, each.end} == set(where.names) for each in bus.segments):
        raise RuleError(rule.name, f"it gave a finding at {where}, but no segment joins the two")
    if where.kind == "barrier" and bus.node(where.names[0]).barrier is None:
        raise RuleError(rule.name, f"it gave a finding at {where}, but that node has no barrier")


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


def _waived(found: Finding, waivers: tuple[Waiver, ...], day: datetime.date) -> Finding:
    if found.verdict == "pass":
        return found
    for waiver in waivers:
        if (waiver.until is None or day <= waiver.until) and _matches(waiver, found):
            return attrs.evolve(found, waiver=waiver)
    return found


def _idle_waivers(
    bus: Bus, waivers: tuple[Waiver, ...], found: list[Finding], ran: set[str], day: datetime.date
) -> list[Finding]:
    """Return a finding for each waiver that is over, or that waives nothing."""
    result = []
    for waiver in waivers:
        if waiver.until is not None and day > waiver.until:
            result.append(_about_waiver(waiver, f"the waiver ended on {waiver.until.isoformat()}", "waiver.over"))
        elif waiver.rule in ran and not any(f.verdict != "pass" and _matches(waiver, f) for f in found):
            result.append(_about_waiver(waiver, "the waiver matches no finding", "waiver.matches-nothing"))
        elif waiver.rule not in ran:
            result.append(_about_waiver(waiver, "the waiver names a rule that did not run", "waiver.matches-nothing"))
    return result


def _about_waiver(waiver: Waiver, what: str, name: str) -> Finding:
    return Finding(
        verdict="marginal",
        where=Place.bus(),
        message=f'{what}: "{waiver.rule}", because "{waiver.reason}"',
        remedy="remove the waiver, or correct its rule, places or last day",
        rule=name,
        title="A waiver has ended" if name == "waiver.over" else "A waiver waives nothing",
    )


def _assumptions(analyses: Analyses) -> tuple[str, ...]:
    assumed = (text for result in analyses.results for text in getattr(result, "assumed", ()))
    return tuple(sorted(dict.fromkeys(assumed)))
