"""Every rule that there is: the library's own, then those of installed plugins."""

from rs485kit import discovery
from rs485kit.plugins.loading import error_of, load
from rs485kit.report.summary import PluginError
from rs485kit.rules import RESERVED_PREFIXES, built_in
from rs485kit.rules.definition import Rule


def listing() -> tuple[tuple[Rule, ...], tuple[PluginError, ...]]:
    """Return the rules of the library and of every plugin that loads, and what did not load.

    Returns
    -------
    tuple
        Rules, and errors [-].
    """
    owners = discovery.owners(discovery.RULES, RESERVED_PREFIXES)
    loaded = [load(claim) for _, claim in sorted(owners.claims.items())]
    rules = (*built_in(), *(rule for each in loaded for rule in each.rules))
    errors = (
        *(error_of(flaw, flaw.cause) for flaw in owners.flaws),
        *(error for each in loaded for error in each.errors),
    )  # fmt: skip
    return rules, errors
