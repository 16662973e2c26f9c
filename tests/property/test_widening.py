"""The general invariant: widening an input interval never narrows a result and never betters a verdict.

A result may come out narrower by no more than the gap that it reports between what is attained and what is proved: what
the narrower box attains, the wider box attains too.
"""

import attrs
import numpy as np
import pytest

import rs485kit as rk
from random_buses import random_bus
from rs485kit.units import MinTypMax

BUSES = 200
ALLOWED = 1e-9
WORSE = {"pass": 0, "marginal": 1, "unknown": 2, "fail": 3}


def wider(figure: MinTypMax, rng: np.random.Generator, least: float | None = None) -> MinTypMax:
    """Return a figure with limits farther out and the same typical value."""
    below, above = rng.uniform(0.0, 0.2, 2) * max(abs(figure.min), abs(figure.max))
    low = figure.min - below if least is None else max(least, figure.min - below)
    return MinTypMax(min=min(low, figure.min), typ=figure.nominal, max=figure.max + above)


def widened(bus: rk.Bus, rng: np.random.Generator) -> rk.Bus:
    """Return the bus with some of its intervals widened."""
    nodes = []
    for node in bus.nodes:
        biases = tuple(
            attrs.evolve(
                bias,
                pull_up=wider(bias.pull_up, rng, 50.0),
                pull_down=wider(bias.pull_down, rng, 50.0),
                supply=wider(bias.supply, rng, 0.0),
            )
            for bias in node.biases
        )
        terminations = tuple(
            attrs.evolve(each, resistance=wider(each.resistance, rng, 20.0)) for each in node.terminations
        )
        nodes.append(attrs.evolve(node, biases=biases, terminations=terminations))
    cable = attrs.evolve(
        bus.segments[0].cable, conductor_resistance=wider(bus.segments[0].cable.conductor_resistance, rng, 1e-3)
    )
    segments = [attrs.evolve(segment, cable=cable) for segment in bus.segments]
    earths = tuple(attrs.evolve(earth, potential=wider(earth.potential, rng)) for earth in bus.earths)
    return attrs.evolve(bus, nodes=tuple(nodes), segments=tuple(segments), earths=earths)


@pytest.mark.parametrize("apart", [0.0, 5.0])
def test_wider_intervals_never_narrow_the_idle_levels(apart):
    rng = np.random.default_rng(3)
    compared = 0
    for _ in range(BUSES):
        narrow = random_bus(rng, apart=apart)
        before, after = rk.analysis.idle_levels(narrow).voltage, rk.analysis.idle_levels(widened(narrow, rng)).voltage
        for reading in ("", "matched_"):
            lower, upper = getattr(after, f"{reading}lower"), getattr(after, f"{reading}upper")
            known = ~np.isnan(lower)
            # a result that became unknown is not a narrower one
            assert (lower <= getattr(before, f"{reading}attained_lower") + ALLOWED)[known].all()
            assert (upper >= getattr(before, f"{reading}attained_upper") - ALLOWED)[known].all()
            compared += int(known.sum())
    assert compared > BUSES


def test_wider_intervals_never_narrow_the_driven_levels():
    rng = np.random.default_rng(4)
    for _ in range(BUSES // 4):
        narrow = random_bus(rng, apart=3.0)
        before, after = rk.analysis.driven_levels(narrow), rk.analysis.driven_levels(widened(narrow, rng))
        for name in ("mark", "space"):
            old, new = getattr(before, name), getattr(after, name)
            known = ~np.isnan(new.lower)
            assert (new.lower <= old.attained_lower + ALLOWED)[known].all()
            assert (new.upper >= old.attained_upper - ALLOWED)[known].all()


def test_wider_intervals_never_better_a_verdict():
    rng = np.random.default_rng(5)
    for _ in range(BUSES // 4):
        narrow = random_bus(rng, apart=2.0)
        before, after = rk.check(narrow), rk.check(widened(narrow, rng))
        for rule in before.rules:
            worst = [
                max((WORSE[found.verdict] for found in report.findings if found.rule == rule), default=0)
                for report in (before, after)
            ]
            assert worst[1] >= worst[0], rule
