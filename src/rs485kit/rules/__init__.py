"""Rules: what is asked of a bus, each with its limit and source, and the findings that they give."""

from rs485kit.rules.definition import Parameter, Rule, parameter, rule
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown

__all__ = [
    "Finding",
    "Parameter",
    "Place",
    "Rule",
    "at_least",
    "at_most",
    "built_in",
    "parameter",
    "rule",
    "unknown",
]


def built_in() -> tuple[Rule, ...]:
    """Return the rules of the library itself, by name."""
    from rs485kit.rules import (
        bit_timing,
        driving,
        feed,
        ground_levels,
        ground_structure,
        handover,
        idle,
        idle_bias,
        insulating,
        loading,
        polling,
        power,
        signal,
        signal_custom,
        structure,
        termination,
        termination_load,
        transients,
        turnaround,
    )

    rules = (
        *bit_timing.RULES, *driving.RULES, *feed.RULES, *ground_levels.RULES, *ground_structure.RULES,
        *handover.RULES, *idle.RULES, *idle_bias.RULES, *insulating.RULES, *loading.RULES, *polling.RULES,
        *power.RULES, *signal.RULES, *signal_custom.RULES, *structure.RULES, *termination.RULES,
        *termination_load.RULES, *transients.RULES, *turnaround.RULES,
    )  # fmt: skip
    return tuple(sorted(rules, key=lambda each: each.name))


RESERVED_PREFIXES = frozenset(
    (
        "driving", "feed", "ground", "handover", "idle", "insulation", "loading", "plugin", "power", "rs485kit",
        "signal", "site", "structure", "termination", "timing", "transient", "waiver",
    )
)
"""Prefixes that no plugin may own."""
