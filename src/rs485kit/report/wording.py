"""The words that every form of a report shares: verdicts, counts, figures, bases, policy."""

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import attrs

from rs485kit.model import Policy, Waiver
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Verdict

if TYPE_CHECKING:
    from rs485kit.report.summary import PluginError, Report

_SAFETY_WORDS: dict[Verdict, str] = {
    "pass": "met", "fail": "not met", "unknown": "not checked", "marginal": "marginal",
}  # fmt: skip
DEFAULT_POLICY = "every rule, each with its own settings, and no waivers"
LABELS = ("solved", "adverse bound", "limit", "margin", "headroom")
MET = "Met"
MISSED = "A limit is missed, nominally or as the rule says, or the structure is wrong."
ABOUT_WAIVED = "Somebody answers for these; they count neither as failed nor as unknown."


@attrs.frozen
class Section:
    """Findings of one kind, with a heading and what the kind means.

    Parameters
    ----------
    heading : str
        Heading, for a person [-].
    meaning : str
        What puts a finding here [-].
    findings : tuple of Finding
        The findings, nearest to failing first [-].
    """

    heading: str
    meaning: str
    findings: tuple[Finding, ...]


def one_line(text: str) -> str:
    """Return text without line breaks and without characters that a terminal would obey [-]."""
    return " ".join("".join(c if c.isprintable() else "\ufffd" for c in word) for word in text.split())


def word(finding: Finding) -> str:
    """Return the verdict of a finding as its kind of requirement names it; safety is met or not met [-]."""
    text = _SAFETY_WORDS[finding.verdict] if finding.safety else finding.verdict
    return f"{text} (waived)" if finding.waived else text


def counted(count: int, one: str, many: str = "") -> str:
    """Return a number with its noun in the right form [-]."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def bus_name(report: "Report") -> str:
    """Return the name of the bus, or that it has none [-]."""
    return one_line(report.bus) or "bus without a name"


def origin(report: "Report") -> str:
    """Return day, digest of the bus and version of the library in one line [-]."""
    return f"{report.date.isoformat()}, bus digest {report.digest[:12]}, rs485kit {report.version}"


# --- the verdict -----------------------------------------------------------------------------------------------------


def verdict_line(report: "Report") -> str:
    """Return the verdict in one line: what "passed" means, and everything that was left open or waived.

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    str
        The line [-].
    """
    return f"{'Passed' if report.passed else 'Not passed'}: {reason(report)}"


def reason(report: "Report") -> str:
    """Return why a report passed or did not [-].

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    str
        The reason, without a full stop [-].
    """
    waived = [found for found in report.findings if found.waived]
    failed = _failed(report.fails)
    if not failed and report.judging:
        exception = " without a waiver" if any(found.verdict == "fail" for found in waived) else ""
        failed = [f"no checked requirement failed{exception}"]
    doubts = [*_unknown(report.unknowns), *_idle(report)]
    if doubts and not report.fails and report.judging:
        doubts[0] = f"but {doubts[0]}"
    marginal = sum(found.verdict == "marginal" and not found.waived for found in report.findings)
    rest = [counted(marginal, "marginal finding")] if marginal else []
    return ", ".join([*failed, *doubts]) + "".join(f"; {each}" for each in [*rest, *_waived(waived)])


def _of_kind(findings: Iterable[Finding], kind: str) -> Callable[[bool], tuple[int, int]]:
    """Return how many rules, and how many findings of them, are of a verdict, by whether safety depends on it."""
    chosen = [found for found in findings if found.verdict == kind]

    def count(safety: bool) -> tuple[int, int]:
        names = [found.rule for found in chosen if found.safety == safety]
        return len(set(names)), len(names)

    return count


def _at(rules: int, findings: int) -> str:
    return f" at {findings} places" if findings > rules else ""


def _failed(findings: Iterable[Finding]) -> list[str]:
    count = _of_kind(findings, "fail")
    (plain, places), (safety, safety_places) = count(False), count(True)
    result = [f"{counted(plain, 'checked requirement')} failed{_at(plain, places)}"] if plain else []
    if safety:
        result.append(f"{counted(safety, 'safety requirement')} not met{_at(safety, safety_places)}")
    return result


def _unknown(findings: Iterable[Finding]) -> list[str]:
    count = _of_kind(findings, "unknown")
    (plain, places), (safety, safety_places) = count(False), count(True)
    result = [f"{counted(plain, 'requirement')} could not be judged{_at(plain, places)}"] if plain else []
    if safety:
        result.append(f"{counted(safety, 'safety requirement')} not checked{_at(safety, safety_places)}")
    return result


def _idle(report: "Report") -> list[str]:
    result = []
    if report.plugin_errors:
        result.append(f"{counted(len(report.plugin_errors), 'rule or plugin', 'rules or plugins')} did not run")
    if not report.rules:
        result.append("no rule ran, so that nothing was checked")
    elif not report.judging:
        result.append("no rule that ran applies to this bus, so that nothing was checked")
    return result


def _waived(findings: Iterable[Finding]) -> list[str]:
    names = {
        ("fail", True): ("safety requirement not met", "safety requirements not met"),
        ("unknown", True): ("safety requirement not checked", "safety requirements not checked"),
        ("marginal", True): ("marginal safety finding", "marginal safety findings"),
        ("fail", False): ("failure", "failures"),
        ("unknown", False): ("unknown", "unknowns"),
        ("marginal", False): ("marginal finding", "marginal findings"),
    }
    kinds = [(found.verdict, found.safety) for found in findings]
    return [f"{counted(kinds.count(kind), *names[kind])} waived" for kind in names if kind in kinds]


# --- findings --------------------------------------------------------------------------------------------------------


def sections(report: "Report") -> list[Section]:
    """Return the findings by kind, nearest to failing first; kinds without a finding are left out.

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    list of Section
        The sections [-].
    """
    open_findings = [found for found in report.findings if not found.waived]

    def of(verdict: Verdict) -> tuple[Finding, ...]:
        return tuple(found for found in open_findings if found.verdict == verdict)

    every = [
        Section("Failed or not met", MISSED, of("fail")),
        Section("Not judged", "Something that the requirement needs is not known.", of("unknown")),
        Section(
            "Marginal",
            "Met at nominal values but missed by the adverse bound, met with less than the reserve, or against custom.",
            of("marginal"),
        ),
        Section("Waived", ABOUT_WAIVED, tuple(found for found in report.findings if found.waived)),
        Section(MET, "Rules that found nothing else, each at the place nearest to its limit.", of("pass")),
    ]
    return [section for section in every if section.findings]


def groups(findings: Iterable[Finding]) -> list[tuple[Finding, ...]]:
    """Return findings put together by rule, verdict and waiver, in the order in which each group begins.

    Parameters
    ----------
    findings : iterable of Finding
        The findings [-].

    Returns
    -------
    list of tuple of Finding
        The groups, none of them empty [-].
    """
    result: dict[tuple[object, ...], list[Finding]] = {}
    for found in findings:
        key = (found.rule, found.title, found.verdict, found.safety, found.basis, found.source, found.waiver)
        result.setdefault(key, []).append(found)
    return [tuple(group) for group in result.values()]


def common_remedy(group: tuple[Finding, ...]) -> str:
    """Return the remedy that every finding of a group names, or nothing where they differ [-]."""
    return group[0].remedy if len({found.remedy for found in group}) == 1 else ""


def figures_of(finding: Finding) -> dict[str, str]:
    """Return the figures that a finding has, as text with units by their label.

    Parameters
    ----------
    finding : Finding
        The finding [-].

    Returns
    -------
    dict of str to str
        Texts by labels, which are some of `LABELS`, in that order [-].
    """
    unit = one_line(finding.unit)
    values = (finding.measured, finding.bound, finding.limit, finding.margin)
    result = {
        label: figure(value, unit) for label, value in zip(LABELS[:-1], values, strict=True) if value is not None
    }
    if finding.bound == finding.measured:
        result.pop("adverse bound", None)
    if "limit" in result and finding.sense:
        result["limit"] = f"{finding.sense} {result['limit']}"
    if finding.headroom is not None:
        result["headroom"] = share(finding.headroom)
    return result


def rests_on(finding: Finding) -> str:
    """Return what stands behind the limit: the basis, and the source if there is one [-]."""
    return f"{finding.basis}, {one_line(finding.source)}" if finding.source else finding.basis


def answered(waiver: Waiver) -> str:
    """Return the reason of a waiver and its last day [-]."""
    end = f"until {waiver.until.isoformat()}" if waiver.until else "no last day"
    return f'"{one_line(waiver.reason)}" ({end})'


# --- the rest --------------------------------------------------------------------------------------------------------


def not_run(error: "PluginError") -> str:
    """Return what did not run and why [-]."""
    package = one_line(f"{error.package} {error.version}")
    return f"{one_line(error.name)}{f' ({package})' if package else ''}: {one_line(error.cause)}"


def in_one(names: Iterable[str]) -> list[str]:
    """Return names as one line of a list, or no line where there are none [-]."""
    text = ", ".join(map(one_line, names))
    return [text] if text else []


def policy_lines(policy: Policy) -> list[str]:
    """Return a policy in lines: what is selected, skipped, set and waived.

    Parameters
    ----------
    policy : Policy
        The policy [-].

    Returns
    -------
    list of str
        The lines [-].
    """
    result = []
    if policy.select:
        result.append(f"select: {', '.join(map(one_line, policy.select))}")
    if policy.skip:
        result.append(f"skip: {', '.join(map(one_line, policy.skip))}")
    if policy.require:
        result.append(f"require: {', '.join(map(one_line, policy.require))}")
    for rule, values in policy.settings:
        text = ", ".join(f"{one_line(name)} = {one_line(str(value))}" for name, value in values)
        result.append(f"settings of {one_line(rule)}: {text}")
    result += [f"waiver of {one_line(each.rule)} for {_places(each)}: {answered(each)}" for each in policy.waivers]
    return result or [DEFAULT_POLICY]


def _places(waiver: Waiver) -> str:
    named = {"node": waiver.nodes, "barrier": waiver.barriers, "earth": waiver.earths}
    result = ["the bus"] if waiver.bus else []
    result += [f"{kind} {one_line(name)}" for kind, names in named.items() for name in names]
    result += [f"segment {one_line(a)} - {one_line(b)}" for a, b in waiver.segments]
    result += [f"path {one_line(a)} -> {one_line(b)}" for a, b in waiver.paths]
    return ", ".join(result)
