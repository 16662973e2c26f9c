"""A report as data: JSON text, and findings as plain records for a table or a database."""

import json
import math
from typing import TYPE_CHECKING, Any

from rs485kit.model import Policy, Waiver
from rs485kit.report.wording import verdict_line
from rs485kit.rules.finding import Finding
from rs485kit.rules.scope import CAUTION

if TYPE_CHECKING:
    from rs485kit.report.summary import Report

FORMAT = 1


def json_text(report: "Report") -> str:
    """Return a report as JSON, in ASCII, the same text for the same report.

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    str
        The text; its key "report" is the version of the form, within which keys may be added [-].
    """
    content = {
        "report": FORMAT,
        "bus": report.bus,
        "described": report.described,
        "digest": report.digest,
        "date": report.date.isoformat(),
        "version": report.version,
        "caution": CAUTION,
        "not_checked": list(report.not_checked),
        "passed": report.passed,
        "verdict": verdict_line(report),
        "exit_status": report.exit_status,
        "plugin_errors": [
            {"name": error.name, "package": error.package, "version": error.version, "cause": error.cause}
            for error in report.plugin_errors
        ],
        "findings": finding_records(report),
        "assumptions": list(report.assumptions),
        "policy": _policy(report.policy),
        "rules": list(report.rules),
        "not_applicable": list(report.not_applicable),
        "plugins": [
            {"name": use.name, "package": use.package, "version": use.version, "rules": list(use.rules)}
            for use in report.plugins
        ],
    }
    return json.dumps(content, indent=2, allow_nan=False) + "\n"


def finding_records(report: "Report") -> list[dict[str, Any]]:
    """Return the findings as flat records; figures are in SI, in the unit beside them.

    Parameters
    ----------
    report : Report
        The report [-].

    Returns
    -------
    list of dict
        One record per finding, in the order of the report; None for what is not known or not finite [-].
    """
    return [_record(found) for found in report.findings]


def _record(found: Finding) -> dict[str, Any]:
    waiver = found.waiver
    return {
        "rule": found.rule,
        "title": found.title,
        "verdict": found.verdict,
        "place_kind": found.where.kind,
        "place": list(found.where.names),
        "quantity": found.quantity,
        "unit": found.unit,
        "measured": _finite(found.measured),
        "bound": _finite(found.bound),
        "limit": _finite(found.limit),
        "sense": found.sense,
        "margin": _finite(found.margin),
        "headroom": _finite(found.headroom),
        "message": found.message,
        "remedy": found.remedy,
        "basis": found.basis,
        "source": found.source,
        "safety": found.safety,
        "waived": found.waived,
        "waiver_reason": waiver.reason if waiver else None,
        "waiver_until": _day(waiver) if waiver else None,
        "missing": list(found.missing),
    }


def _policy(policy: Policy) -> dict[str, Any]:
    return {
        "select": list(policy.select),
        "skip": list(policy.skip),
        "settings": {
            rule: {name: _finite(value) if isinstance(value, float) else value for name, value in values}
            for rule, values in policy.settings
        },
        "waivers": [
            {
                "rule": waiver.rule,
                "reason": waiver.reason,
                "nodes": list(waiver.nodes),
                "barriers": list(waiver.barriers),
                "earths": list(waiver.earths),
                "segments": [list(pair) for pair in waiver.segments],
                "paths": [list(pair) for pair in waiver.paths],
                "bus": waiver.bus,
                "until": _day(waiver),
            }
            for waiver in policy.waivers
        ],
        "require": list(policy.require),
    }


def _day(waiver: Waiver) -> str | None:
    return waiver.until.isoformat() if waiver.until else None


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
