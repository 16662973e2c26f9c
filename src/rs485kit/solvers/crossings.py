"""When edges cross a receiver's thresholds, earliest and latest over every bit sequence.

    near = worst_levels_near(rise, fall, mark, space, upper, lower, per_bit, reach(per_bit))
    shifts = worst_shifts(near, placed, per_bit)

Times are samples after the beginning of the judged bit at the driver. From `begins` to `ends` a receiver with these two
thresholds surely reads the bit, whatever bits stand round it: a mark from where the lowest mark of all sequences has
risen above the upper threshold until where it falls below the lower one, for so long the receiver keeps what it
reads; a space the other way round. So `mark_span().begins` is the latest rising edge, `mark_span().ends` less a bit
the earliest falling one, `space_span().begins` the latest falling and `space_span().ends` less a bit the earliest
rising one.
"""

from typing import NamedTuple

import numpy as np

from rs485kit.solvers.line_graph import Floats, Indices
from rs485kit.solvers.trellis import Near, stays_positive

# samples that are looked at on either side of the best phase, as a share of a unit interval: a mark is no longer than
# one interval and what its edges are apart
REACH = 1.5


# parts of the range of a threshold on each of which the spread of falling edges is bounded
PARTS = 4


class Placed(NamedTuple):
    """Where the two thresholds of receivers may lie, and the least distance between them, shape (...) [V]."""

    upper_low: Floats
    upper_high: Floats
    lower_low: Floats
    lower_high: Floats
    hysteresis: Floats


class Span(NamedTuple):
    """When a bit begins and ends to be read, shape (...), in samples; NaN where it is not read at the best phase."""

    begins: Floats
    ends: Floats


class Shifts(NamedTuple):
    """How far edges are from where the start edge of a character says, at the worst thresholds, shape (...) [samples].

    `mark` is by how much a mark may begin too late, `space` by how much a space may end too early, `start` by how much
    two falling edges may be apart. NaN where a bit is not read at all. `rising` and `falling` are the times of rising
    and falling edges, earliest and latest, after the beginning of the bit at the driver.
    """

    mark: Floats
    space: Floats
    start: Floats
    rising: Span
    falling: Span


def reach(per_bit: int) -> int:
    """Return how many samples on either side of the best phase are wanted."""
    return round(REACH * per_bit)


def mark_span(near: Near, upper: Floats, lower: Floats) -> Span:
    """Return from when to when a mark is surely read.

    Parameters
    ----------
    near : Near
        Levels round the best phase [V].
    upper, lower : array, shape (...)
        Thresholds of the receiver [V].

    Returns
    -------
    Span
        The span [samples].
    """
    return _span(near.sample, near.lowest_mark, upper, lower)


def space_span(near: Near, upper: Floats, lower: Floats) -> Span:
    """Return from when to when a space is surely read.

    Parameters
    ----------
    near : Near
        Levels round the best phase [V].
    upper, lower : array, shape (...)
        Thresholds of the receiver [V].

    Returns
    -------
    Span
        The span [samples].
    """
    return _span(near.sample, -near.highest_space, -lower, -upper)


def _span(sample: Indices, level: Floats, enters: Floats, leaves: Floats) -> Span:
    middle = level.shape[-1] // 2
    flat = level.reshape(-1, level.shape[-1])
    before, after = (
        stays_positive(part - threshold.reshape(-1, 1)).reshape(sample.shape)
        for part, threshold in ((flat[:, middle::-1], enters), (flat[:, middle:], leaves))
    )
    unread = level[..., middle] <= enters
    return Span(np.where(unread, np.nan, sample - before), np.where(unread, np.nan, sample + after))


def worst_shifts(near: Near, placed: Placed, per_bit: int) -> Shifts:
    """Return how far edges are from where the start edge says, at the worst thresholds and over every bit sequence.

    Parameters
    ----------
    near : Near
        Levels round the best phase [V].
    placed : Placed
        Where the thresholds may lie [V].
    per_bit : int
        Samples in a unit interval [-].

    Returns
    -------
    Shifts
        Shifts and times [samples].

    Notes
    -----
    A later rising and an earlier falling edge both come of higher thresholds, so that a mark begins latest against the
    start edge with both thresholds as high as they may lie, and a space ends earliest with both as low. The spread of
    falling edges alone is not monotone in their threshold: it is bounded on PARTS parts of its range, the latest
    edge at the lower end of a part less the earliest at its upper end.
    """
    high = np.minimum(placed.lower_high, placed.upper_high - placed.hysteresis)
    low = np.maximum(placed.upper_low, placed.lower_low + placed.hysteresis)
    both_high = mark_span(near, placed.upper_high, high)
    both_low = space_span(near, low, placed.lower_low)
    start = np.full(near.sample.shape, -np.inf)
    latest = both_low.begins
    for part in range(1, PARTS + 1):
        threshold = placed.lower_low + (high - placed.lower_low) * (part / PARTS)
        earliest = both_high.ends if part == PARTS else mark_span(near, placed.upper_high, threshold).ends
        start = np.maximum(start, latest - (earliest - per_bit))
        if part < PARTS:
            latest = space_span(near, threshold, threshold).begins
    return Shifts(
        mark=both_high.begins - (both_high.ends - per_bit),
        space=both_low.begins - (both_low.ends - per_bit),
        start=start,
        rising=Span(both_low.ends - per_bit, both_high.begins),
        falling=Span(both_high.ends - per_bit, both_low.begins),
    )
