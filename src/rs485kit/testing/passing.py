"""For a house's own tests: a report passes, or an error says in a few lines what stops it."""

from rs485kit.errors import InputError, NotPassedError, Problem
from rs485kit.model.base import shown
from rs485kit.report import Report


def assert_passes(report: Report) -> None:
    """Raise if a report did not pass, with what stops it and nothing else.

    Parameters
    ----------
    report : Report
        What `rs485kit.check` returned [-].

    Raises
    ------
    NotPassedError
        With the verdict, every failure and unknown that nobody answers for, and what did not run; it is an
        AssertionError too.
    InputError
        If what is given is no report.
    """
    if not isinstance(report, Report):
        raise InputError(Problem("assert_passes", shown(report), "a Report, as rs485kit.check returns it"))
    if report.passed:
        return
    lines = [f"{report.bus or 'bus without a name'}: {report.verdict}"]
    lines += [f"  {error.name} did not run: {error.cause}" for error in report.plugin_errors]
    for found in (*report.fails, *report.unknowns):
        lines.append(f"  {found.verdict}: {found.rule} at {found.where}: {found.message}")
    raise NotPassedError("\n".join(lines))
