"""What a rule is about, for rules of the library, of installed plugins and of the caller."""

import difflib

from rs485kit import discovery
from rs485kit.errors import UnknownNameError
from rs485kit.plugins.loading import load
from rs485kit.rules import RESERVED_PREFIXES, built_in
from rs485kit.rules.definition import Rule
from rs485kit.rules.explanation import ABOUT_WAIVERS, about_waiver, explanation


def explain(subject: str | Rule, *, plugins: bool = True) -> str:
    """Return what a rule checks, why, with which parameters, and on what its limit rests.

    Parameters
    ----------
    subject : str or Rule
        Name of the rule, as a finding states it, or a rule of the caller's own [-].
    plugins : bool
        Whether to ask the plugin that owns the name's prefix [-].

    Returns
    -------
    str
        The text [-].

    Raises
    ------
    UnknownNameError
        If no rule bears the name; near names are offered.

    Examples
    --------
    >>> import rs485kit as rk
    >>> print(rk.explain("structure.ring").splitlines()[1])
    The cable closes a ring
    """
    if isinstance(subject, Rule):
        return explanation(subject)
    if subject in ABOUT_WAIVERS:
        return about_waiver(subject)
    rules = {rule.name: rule for rule in built_in()}
    hint = ""
    if plugins and subject not in rules:
        found, hint = _of_plugin(str(subject).split(".")[0])
        rules |= found
    if subject not in rules:
        near = tuple(difflib.get_close_matches(str(subject), [*rules, *ABOUT_WAIVERS], n=3))
        raise UnknownNameError("rule", str(subject), near, hint)
    return explanation(rules[subject])


def _of_plugin(prefix: str) -> tuple[dict[str, Rule], str]:
    """Return the rules of the plugin that owns a prefix, and what to know where a name is not among them."""
    owners = discovery.owners(discovery.RULES, RESERVED_PREFIXES)
    claim = owners.claims.get(prefix)
    if claim is not None:
        loaded = load(claim)
        return {rule.name: rule for rule in loaded.rules}, loaded.errors[0].cause if loaded.errors else ""
    refused = [flaw.cause for flaw in owners.flaws if flaw.name == prefix]
    return {}, refused[0] if refused else "" if prefix in RESERVED_PREFIXES else discovery.switched_off()
