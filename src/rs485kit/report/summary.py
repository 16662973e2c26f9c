"""The report: findings with what they rest on, and the verdict that follows from them."""

import datetime
from collections.abc import Iterable
from typing import Any

import attrs

from rs485kit.errors import NotPassedError
from rs485kit.model import Policy
from rs485kit.report import html, markdown, records, text, wording
from rs485kit.rules.finding import VERDICTS, Finding, texts_tuple


@attrs.frozen(kw_only=True)
class PluginError:
    """A rule or plugin that did not run, and why.

    Parameters
    ----------
    name : str
        Name of the rule or plugin [-].
    package : str
        Distribution that brought it; empty for a rule passed as an object [-].
    version : str
        Version of that distribution [-].
    cause : str
        What went wrong [-].
    """

    name: str
    cause: str
    package: str = ""
    version: str = ""

    def __str__(self) -> str:
        return wording.not_run(self)


@attrs.frozen(kw_only=True)
class PluginUse:
    """An installed plugin that took part in a check.

    Parameters
    ----------
    name : str
        Prefix of its rules, or namespace of its parts [-].
    package : str
        Distribution that brought it [-].
    version : str
        Version of that distribution [-].
    rules : tuple of str
        Its rules that were put to the bus; empty for parts [-].
    """

    name: str
    package: str
    version: str
    rules: tuple[str, ...] = attrs.field(default=(), converter=texts_tuple)

    def __str__(self) -> str:
        many = "" if len(self.rules) == 1 else "s"
        what = f"{len(self.rules)} rule{many} under" if self.rules else "parts under"
        return f'{self.package} {self.version}: {what} "{self.name}."'


def uses_tuple(given: Iterable[PluginUse]) -> tuple[PluginUse, ...]:
    """Read what took part [-]."""
    return tuple(given)


def findings_tuple(given: Iterable[Finding]) -> tuple[Finding, ...]:
    """Read findings [-]."""
    return tuple(given)


def errors_tuple(given: Iterable[PluginError]) -> tuple[PluginError, ...]:
    """Read what did not run [-]."""
    return tuple(given)


@attrs.frozen(kw_only=True, eq=False)
class Report:
    """What a check found.

    Parameters
    ----------
    bus : str
        Name of the bus [-].
    described : str
        What the bus is made of, in one line [-].
    digest : str
        Digest of the bus: equal for equal buses [-].
    findings : tuple of Finding
        Everything that is not a pass, and one pass per rule that found nothing else; worst first [-].
    rules : tuple of str
        Names of the rules that ran [-].
    not_applicable : tuple of str
        Names of rules that had nothing to judge [-].
    plugins : tuple of PluginUse
        Installed plugins that took part, with versions [-].
    plugin_errors : tuple of PluginError
        Rules and plugins that did not run [-].
    policy : Policy
        The policy that was in force [-].
    assumptions : tuple of str
        What was assumed where the bus says nothing [-].
    not_checked : tuple of str
        What no rule of this library looked at [-].
    date : datetime.date
        Day of the check [-].
    version : str
        Version of the library [-].
    """

    bus: str
    described: str
    digest: str
    findings: tuple[Finding, ...] = attrs.field(converter=findings_tuple)
    rules: tuple[str, ...] = attrs.field(converter=texts_tuple)
    not_applicable: tuple[str, ...] = attrs.field(converter=texts_tuple)
    plugins: tuple[PluginUse, ...] = attrs.field(converter=uses_tuple)
    plugin_errors: tuple[PluginError, ...] = attrs.field(converter=errors_tuple)
    policy: Policy
    assumptions: tuple[str, ...] = attrs.field(converter=texts_tuple)
    not_checked: tuple[str, ...] = attrs.field(converter=texts_tuple)
    date: datetime.date
    version: str

    @property
    def passed(self) -> bool:
        """Whether no checked requirement failed or stayed unknown, nothing went wrong, and a rule had its say."""
        return not (self.fails or self.unknowns or self.plugin_errors) and bool(self.judging)

    @property
    def judging(self) -> tuple[str, ...]:
        """Names of the rules that ran and found something to judge."""
        return tuple(name for name in self.rules if name not in self.not_applicable)

    @property
    def fails(self) -> tuple[Finding, ...]:
        """The failures that nobody answers for."""
        return tuple(f for f in self.findings if f.verdict == "fail" and not f.waived)

    @property
    def unknowns(self) -> tuple[Finding, ...]:
        """What could not be judged and nobody answers for."""
        return tuple(f for f in self.findings if f.verdict == "unknown" and not f.waived)

    @property
    def exit_status(self) -> int:
        """Status for a shell: 0 passed, 1 a failure, 3 no failure but incomplete."""
        if self.fails:
            return 1
        return 0 if self.passed else 3

    @property
    def verdict(self) -> str:
        """The verdict in one line."""
        return text.verdict_line(self)

    def worst(self, count: int) -> tuple[Finding, ...]:
        """Return the findings nearest to failing, or farthest beyond it.

        Parameters
        ----------
        count : int
            How many at the most [-].

        Returns
        -------
        tuple of Finding
            Failures first, then unknowns, then the rest by headroom [-].
        """
        return self.findings[:count]

    def at(self, name: str) -> tuple[Finding, ...]:
        """Return the findings at a place.

        Parameters
        ----------
        name : str
            Name of a node or an earth [-].

        Returns
        -------
        tuple of Finding
            Findings whose place bears that name; paths and segments count for both ends [-].
        """
        return tuple(f for f in self.findings if name in f.where.names)

    def raise_if_not_passed(self) -> None:
        """Raise if the report did not pass.

        Raises
        ------
        NotPassedError
            With the verdict and the findings behind it.
        """
        if not self.passed:
            raise NotPassedError(self.to_text())

    def to_text(self) -> str:
        """Return the report as plain text."""
        return text.rendered(self)

    def to_markdown(self) -> str:
        """Return the report as Markdown."""
        return markdown.rendered(self)

    def to_html(self, *, figures: tuple[tuple[str, str], ...] = ()) -> str:
        """Return the report as one HTML page.

        Parameters
        ----------
        figures : tuple of (str, str)
            Titles and SVG text of figures to show [-].

        Returns
        -------
        str
            The page [-].
        """
        return html.rendered(self, figures)

    def to_json(self) -> str:
        """Return the report as JSON text, `"report": 1`."""
        return records.json_text(self)

    def to_records(self) -> list[dict[str, Any]]:
        """Return the findings as plain records, for a table or a database."""
        return records.finding_records(self)


def ordered(findings: list[Finding]) -> tuple[Finding, ...]:
    """Return findings with failures first, then unknowns, marginals and passes, each by headroom, place and rule."""

    def key(found: Finding) -> tuple[object, ...]:
        headroom = found.headroom
        return (
            found.waived, VERDICTS.index(found.verdict), headroom is not None, headroom or 0.0,
            found.rule, found.where.kind, found.where.names,
        )  # fmt: skip

    return tuple(sorted(findings, key=key))
