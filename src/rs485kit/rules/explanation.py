"""What a rule is about, as text: documentation, parameters, basis and source."""

import inspect
import re
import textwrap

from rs485kit.rules.definition import Parameter, Rule
from rs485kit.rules.figures import figure, share

WIDTH = 100
_UNDERLINED = re.compile(r"^(?P<title>\S.*)\n(?P<line>-{3,})$", re.MULTILINE)
_OVER = (
    "The waiver no longer covers anything: what it covered counts again. Settle the matter, or let somebody answer for "
    "it anew with a later day."
)
_IDLE = (
    "The rule and the places that the waiver names have no finding: the matter is settled, the name is wrong, or the "
    "rule did not run. Remove the waiver or correct it, so that it does not hide a later fault."
)
ABOUT_WAIVERS = {
    "waiver.over": ("A waiver is past its last day", _OVER),
    "waiver.matches-nothing": ("A waiver covers nothing", _IDLE),
}
HURT = "People can be hurt where this is not met: local codes and licensed practice decide, not this report."


def about_waiver(name: str) -> str:
    """Return what a finding about a waiver means.

    Parameters
    ----------
    name : str
        One of `ABOUT_WAIVERS` [-].

    Returns
    -------
    str
        The text [-].
    """
    title, text = ABOUT_WAIVERS[name]
    return f"{_heading(name, title)}\n\n{textwrap.fill(text, WIDTH)}\n"


def explanation(rule: Rule) -> str:
    """Return what a rule checks, why, with which parameters, and on what its limit rests.

    Parameters
    ----------
    rule : Rule
        The rule [-].

    Returns
    -------
    str
        The text [-].
    """
    parts = [_heading(rule.name, rule.title)]
    if rule.documentation:
        parts.append(rule.documentation)
    parts.append(f"Basis: {rule.basis}")
    if rule.source:
        source = textwrap.fill(f"Source: {rule.source}", WIDTH, subsequent_indent="    ", break_on_hyphens=False)
        parts[-1] += f"\n{source}"
    parts.append("\n".join(["Settings that a policy may change:", *map(_line, rule.parameters), _reserve(rule)]))
    if rule.safety:
        parts.append(textwrap.fill(HURT, WIDTH))
    return "\n\n".join(parts) + "\n"


def sections(documentation: str) -> list[tuple[str, str]]:
    """Split the documentation of a rule at its underlined headings.

    Parameters
    ----------
    documentation : str
        The documentation [-].

    Returns
    -------
    list of (str, str)
        Headings and the text under each; what stands before them has an empty heading [-].
    """
    text = inspect.cleandoc(documentation)
    heads = [head for head in _UNDERLINED.finditer(text) if len(head["line"]) == len(head["title"])]
    starts = [0, *(head.end() for head in heads)]
    ends = [*(head.start() for head in heads), len(text)]
    titles = ["", *(head["title"] for head in heads)]
    return [(title, text[start:end].strip()) for title, start, end in zip(titles, starts, ends, strict=True)]


def _heading(name: str, title: str) -> str:
    return f"{name}\n{title}"


def _line(parameter: Parameter) -> str:
    text = f"{parameter.name} = {figure(parameter.default, parameter.unit, digits=6)}: {parameter.meaning}"
    return textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="      ", break_on_hyphens=False)


def _reserve(rule: Rule) -> str:
    meaning = f"a limit met by less than {share(rule.reserve)} of it is marginal"
    text = f"reserve = {figure(rule.reserve, '', digits=6)}: {meaning}"
    return textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="      ", break_on_hyphens=False)
