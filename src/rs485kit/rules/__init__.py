"""Rules: what is asked of a bus, each with its limit and source, and the findings that they give."""

from rs485kit.rules.definition import Parameter, Rule, parameter, rule
from rs485kit.rules.explanation import explain
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown

__all__ = [
    "Finding",
    "Parameter",
    "Place",
    "Rule",
    "at_least",
    "at_most",
    "built_in",
    "explain",
    "parameter",
    "rule",
    "unknown",
]


def built_in() -> tuple[Rule, ...]:
    """Return the rules of the library itself, by name."""
    from rs485kit.rules import idle, loading, structure

    rules = (*idle.RULES, *loading.RULES, *structure.RULES)
    return tuple(sorted(rules, key=lambda each: each.name))


RESERVED_PREFIXES = frozenset({"loading", "idle", "structure", "waiver"})
