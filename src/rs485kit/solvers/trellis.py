"""Worst-case eyes over every bit sequence, from the responses of receivers to one rising and one falling edge.

    levels = worst_levels(rise, fall, mark, space, per_bit)     # lowest mark, highest space at every phase
    eye = eye_opening(levels, upper, lower, per_bit)            # height, its phase and both sides, width
    eye = worst_eyes(rise, fall, mark, space, upper, lower, per_bit)        # the same in one, faster for equal edges
    near = worst_levels_near(rise, fall, mark, space, upper, lower, per_bit, reach)     # levels round the best phase
    word = worst_sequence(rise, fall, mark, space, per_bit, sample, judged="mark")     # the bits that attain it

`rise` and `fall` [V] both go from 0 to `mark - space` and are sampled `per_bit` times in a unit interval from the
beginning of the edge at the driver; `fall=None` says that they are equal. A *phase* is a time after the beginning of
the judged bit at the driver, so it counts the delay of the path and may exceed one unit interval; it is given by its
sample. Every phase of the record is judged: the bit that a receiver means by a sample is the one for which the eye is
open.

What a receiver sees is the level of the oldest bit, plus rise(t) for every transition to mark and minus fall(t) for
every transition to space, t after it. That is a walk over two states, present bit mark or space, and its extremes over
all walks come from two marches over the record, one from the oldest bit on and one from the latest bit back, which
meet at the judged bit. With equal edges they are sums of the positive parts of the pulse response (peak distortion
analysis). Transitions older than the record count with their full `mark - space`.

This is exact for a linear network driven by one driver without a pause whose edges do not depend on what came before.
"""

import math
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from rs485kit.solvers.line_graph import Floats, Indices

Bits: TypeAlias = NDArray[np.bool_]

# unit intervals that are judged first, from that of the largest pulse on: the eye that it opens ends in the next one
FURTHER = 3


class Levels(NamedTuple):
    """Lowest level while a mark is judged and highest while a space is, shape (..., phases) [V]."""

    lowest_mark: Floats
    highest_space: Floats


class Eye(NamedTuple):
    """Opening of an eye at its best phase, arrays of shape (...).

    `height` is the lesser of `mark_margin` (lowest mark above the upper threshold) and `space_margin` (highest space
    below the lower one) [V]; `sample` is the best phase [-]; `width` is the share of a unit interval round it where
    both are positive, its ends interpolated between samples, 0 for a closed eye [-].
    """

    height: Floats
    mark_margin: Floats
    space_margin: Floats
    sample: Indices
    width: Floats


class Near(NamedTuple):
    """Levels round the best phase of an eye: `sample` is that phase [-], shape (...), and the middle of the levels [V].

    Both levels have shape (..., 2 reach + 1). Where the record ends earlier, a level is as bad as can be: infinite.
    """

    sample: Indices
    lowest_mark: Floats
    highest_space: Floats


class Word(NamedTuple):
    """A bit sequence, oldest bit first: `bits` (True is mark), the place of the judged bit, and the level [V].

    All bits before the first are equal to it. The last bit begins `sample % per_bit` samples before the level is seen.
    """

    bits: Bits
    judged: int
    level: float


def worst_levels(
    rise: Floats, fall: Floats | None, mark: Floats | float, space: Floats | float, per_bit: int
) -> Levels:
    """Return the lowest mark and the highest space over every bit sequence, at every phase.

    Parameters
    ----------
    rise, fall : array, shape (..., n)
        Responses to the edges; what exceeds a whole number of unit intervals is not used. None: falls as it rises [V].
    mark, space : array, shape (...), or float
        Levels at rest [V].
    per_bit : int
        Samples in a unit interval [-].

    Returns
    -------
    Levels
        Levels at the phases of the record's whole unit intervals [V].
    """
    if fall is None:
        pulse, positive = _pulses(rise, mark, space, per_bit)
        lowest, highest = np.asarray(mark)[..., None, None], np.asarray(space)[..., None, None]
        shape = (*pulse.shape[:-2], -1)
        return Levels((pulse + (lowest - positive)).reshape(shape), ((highest + positive) - pulse).reshape(shape))
    return _walked(rise, fall, mark, space, per_bit, rise.shape[-1] // per_bit)


def _walked(
    rise: Floats, fall: Floats, mark: Floats | float, space: Floats | float, per_bit: int, judged: int
) -> Levels:
    """Return the levels of unequal edges at the phases of the first `judged` unit intervals."""
    # bits first, so that one step of the walk is one piece of memory; beside the walk stands its mirror image, whose
    # mark is the space, whose rise is the fall, and whose lowest mark is the highest space
    up = np.ascontiguousarray(np.moveaxis(np.stack([_by_bits(rise, per_bit), _by_bits(fall, per_bit)]), -2, 0))
    high, low = (np.broadcast_to(np.asarray(level)[..., None], up.shape[2:]) for level in (mark, space))
    least = _least_marks(up, np.stack([high, -low]), np.stack([low, -high]), judged)
    lowest, mirrored = (np.moveaxis(least[:, side], 0, -2).reshape(*rise.shape[:-1], -1) for side in (0, 1))
    return Levels(lowest, np.negative(mirrored, out=mirrored))


def _least_marks(up: Floats, mark: Floats, space: Floats, judged: int) -> Floats:
    """Return the least level of all walks with a mark at each of the last steps, by lag.

    A falling edge is the mirror's rise. `mark` and `space` are levels before the first step, and are used up.
    """
    least = np.empty((judged, *up.shape[1:]))
    risen, fallen = np.empty_like(mark), np.empty_like(mark)
    for lag in range(len(up) - 1, -1, -1):
        np.add(space, up[lag], out=risen)
        np.subtract(mark, up[lag, ::-1], out=fallen)
        mark = np.minimum(mark, risen, out=least[lag] if lag < judged else mark)
        np.minimum(space, fallen, out=space)
    # what the steps after the judged one may add
    mark, space = np.zeros_like(risen), np.zeros_like(risen)
    for lag in range(judged):
        least[lag] += mark
        np.add(mark, up[lag], out=risen)
        np.subtract(space, up[lag, ::-1], out=fallen)
        np.minimum(mark, fallen, out=mark)
        np.minimum(space, risen, out=space)
    return least


def _by_bits(response: Floats, per_bit: int) -> Floats:
    length = response.shape[-1] // per_bit
    return response[..., : length * per_bit].reshape(*response.shape[:-1], length, per_bit)


def _pulses(rise: Floats, mark: Floats | float, space: Floats | float, per_bit: int) -> tuple[Floats, Floats]:
    """Return the positive parts of the pulse response of equal edges, by lag and phase, and their sums over all lags.

    The positive and negative parts of all lags add up to the swing.
    """
    rising = _by_bits(rise, per_bit)
    pulse = np.empty(rising.shape)
    pulse[..., 0, :] = rising[..., 0, :]
    np.subtract(rising[..., 1:, :], rising[..., :-1, :], out=pulse[..., 1:, :])
    np.maximum(pulse, 0.0, out=pulse)
    behind = (np.asarray(mark) - space)[..., None, None] - rising[..., -1:, :]
    return pulse, pulse.sum(axis=-2, keepdims=True) + np.maximum(behind, 0.0)


def worst_eyes(
    rise: Floats,
    fall: Floats | None,
    mark: Floats | float,
    space: Floats | float,
    upper: Floats | float,
    lower: Floats | float,
    per_bit: int,
) -> Eye:
    """Return how far eyes are open over every bit sequence: `eye_opening` of `worst_levels`, in fewer steps.

    Parameters
    ----------
    rise, fall : array, shape (..., n)
        Responses to the edges, as for `worst_levels` [V].
    mark, space : array, shape (...), or float
        Levels at rest [V].
    upper, lower : array, shape (...), or float
        A mark counts above `upper`, a space below `lower` [V].
    per_bit : int
        Samples in a unit interval [-].

    Returns
    -------
    Eye
        Height, margins, phase and width [V, -].

    Notes
    -----
    With equal edges the levels of mark and space move alike, so that the best phase is that of the pulse response.

    With unequal ones only the first unit intervals are judged, up to some beyond the largest pulse. An isolated mark
    and an isolated space are sequences too, so that no eye is wider open than half of what they leave: pulse of rise
    plus pulse of fall, less swing and distance of the thresholds. Where that does not rule the later phases out, they
    are judged as well.
    """
    if fall is not None:
        return _unequal_eyes(rise, fall, mark, space, upper, lower, per_bit)
    pulse, positive = _pulses(rise, mark, space, per_bit)
    np.subtract(pulse, positive, out=pulse)
    mark_margin, space_margin = np.asarray(mark) - upper, np.asarray(lower) - space
    moving = pulse.reshape(*pulse.shape[:-2], -1)
    sample = np.argmax(moving, axis=-1)
    best, offset = _at(moving, sample), np.minimum(mark_margin, space_margin)
    return _eye(sample, best + mark_margin, best + space_margin, moving, offset, per_bit)


def _unequal_eyes(
    rise: Floats,
    fall: Floats,
    mark: Floats | float,
    space: Floats | float,
    upper: Floats | float,
    lower: Floats | float,
    per_bit: int,
) -> Eye:
    return eye_opening(_judged_levels(rise, fall, mark, space, upper, lower, per_bit), upper, lower, per_bit)


def _judged_levels(
    rise: Floats,
    fall: Floats,
    mark: Floats | float,
    space: Floats | float,
    upper: Floats | float,
    lower: Floats | float,
    per_bit: int,
) -> Levels:
    """Return the levels of unequal edges at the first phases, or at all where the best may be among the others."""
    pulses = _by_bits(rise + fall, per_bit)
    pulses[..., 1:, :] -= pulses[..., :-1, :].copy()
    tallest = pulses.max(axis=-1)
    judged = min(int(tallest.argmax(axis=-1).max(initial=0)) + FURTHER, tallest.shape[-1])
    levels = _walked(rise, fall, mark, space, per_bit, judged)
    if judged == tallest.shape[-1]:
        return levels
    eye = eye_opening(levels, upper, lower, per_bit)
    left_out = tallest[..., judged:].max(axis=-1, initial=-np.inf)
    possible = (left_out - (np.asarray(mark) - space) - (np.asarray(upper) - lower)) / 2.0
    if (possible > eye.height).any() or int(eye.sample.max(initial=0)) >= (judged - 1) * per_bit:
        return _walked(rise, fall, mark, space, per_bit, tallest.shape[-1])
    return levels


def worst_levels_near(
    rise: Floats,
    fall: Floats | None,
    mark: Floats | float,
    space: Floats | float,
    upper: Floats | float,
    lower: Floats | float,
    per_bit: int,
    reach: int,
) -> Near:
    """Return the lowest mark and the highest space over every bit sequence, at phases round the best one.

    Parameters
    ----------
    rise, fall : array, shape (..., n)
        Responses to the edges, as for `worst_levels` [V].
    mark, space : array, shape (...), or float
        Levels at rest [V].
    upper, lower : array, shape (...), or float
        A mark counts above `upper`, a space below `lower`: they choose the best phase, as in `worst_eyes` [V].
    per_bit : int
        Samples in a unit interval [-].
    reach : int
        Samples on either side of that phase [-].

    Returns
    -------
    Near
        The phase and the levels round it [-, V].
    """
    if fall is None:
        pulse, positive = _pulses(rise, mark, space, per_bit)
        np.subtract(pulse, positive, out=pulse)
        moving = pulse.reshape(*pulse.shape[:-2], -1)
        sample = np.argmax(moving, axis=-1)
        near = _around(moving, sample, reach, -np.inf)
        return Near(sample, np.asarray(mark)[..., None] + near, np.asarray(space)[..., None] - near)
    levels = _judged_levels(rise, fall, mark, space, upper, lower, per_bit)
    sample = eye_opening(levels, upper, lower, per_bit).sample
    low, high = levels
    return Near(sample, _around(low, sample, reach, -np.inf), _around(high, sample, reach, np.inf))


def _around(values: Floats, sample: Indices, reach: int, beyond: float) -> Floats:
    """Return `reach` values on either side of a sample, and `beyond` where there are none."""
    lead, phases = values.shape[:-1], values.shape[-1]
    places = sample.reshape(-1, 1) + np.arange(-reach, reach + 1)
    inside = np.minimum(np.maximum(places, 0), phases - 1)
    near: Floats = np.take(values, np.arange(math.prod(lead))[:, None] * phases + inside)
    near[places != inside] = beyond
    return near.reshape(*lead, 2 * reach + 1)


def eye_opening(levels: Levels, upper: Floats | float, lower: Floats | float, per_bit: int) -> Eye:
    """Return how far eyes are open.

    Parameters
    ----------
    levels : Levels
        Lowest marks and highest spaces [V].
    upper, lower : array, shape (...), or float
        A mark counts above `upper`, a space below `lower` [V].
    per_bit : int
        Samples in a unit interval [-].

    Returns
    -------
    Eye
        Height, margins, phase and width [V, -].

    Notes
    -----
    Between the last open sample and the first closed one the end of the eye is found by a straight line, so a width is
    good to a fraction of 1 / per_bit where levels move slowly, and to 1 / per_bit a side where they jump. It is never
    more than one: two bits cannot both be told from one sample. At the ends of the record an eye ends.
    """
    above = levels.lowest_mark - np.asarray(upper)[..., None]
    below = np.asarray(lower)[..., None] - levels.highest_space
    opening = np.minimum(above, below)
    sample = np.argmax(opening, axis=-1)
    return _eye(sample, _at(above, sample), _at(below, sample), opening, 0.0, per_bit)


def _at(values: Floats, sample: Indices) -> Floats:
    return np.take_along_axis(values, sample[..., None], axis=-1)[..., 0]


def _eye(
    sample: Indices, mark_margin: Floats, space_margin: Floats, opening: Floats, offset: Floats | float, per_bit: int
) -> Eye:
    """Return an eye by its best sample and margins there, and by the opening, which `offset` adds to everywhere."""
    lead = opening.shape[:-1]
    near = (_around(opening, sample, per_bit, -np.inf) + np.asarray(offset)[..., None]).reshape(-1, 2 * per_bit + 1)
    width = (stays_positive(near[:, per_bit::-1]) + stays_positive(near[:, per_bit:])).reshape(lead) / per_bit
    height = np.minimum(mark_margin, space_margin)
    return Eye(height, mark_margin, space_margin, sample, np.where(height > 0, np.minimum(width, 1.0), 0.0))


def stays_positive(opening: Floats) -> Floats:
    """Return how many samples each row stays positive from its first one on, the end by a straight line.

    Parameters
    ----------
    opening : array, shape (k, n)
        What is to stay positive [any].

    Returns
    -------
    array, shape (k,)
        Samples, at most n - 2 where nothing ends it [-].
    """
    closed = opening <= 0
    closed[:, -1] = True
    rows, first = np.arange(len(opening)), np.argmax(closed, axis=1)
    before = np.maximum(first - 1, 0)
    last, end = opening[rows, before], opening[rows, first]
    part = np.divide(last, last - end, out=np.zeros_like(last), where=(last > 0) & (end <= 0))
    return np.asarray(before + part)


def worst_sequence(
    rise: Floats,
    fall: Floats | None,
    mark: float,
    space: float,
    per_bit: int,
    sample: int,
    *,
    judged: Literal["mark", "space"],
) -> Word:
    """Return the bits that bring one receiver its lowest mark or its highest space at one phase.

    Parameters
    ----------
    rise, fall : array, shape (n,)
        Responses to the edges, as for `worst_levels` [V].
    mark, space : float
        Levels at rest [V].
    per_bit : int
        Samples in a unit interval [-].
    sample : int
        The phase [-].
    judged : str
        "mark" for the lowest mark, "space" for the highest space [-].

    Returns
    -------
    Word
        The bits, and the level that they attain [V].
    """
    target, place = divmod(sample, per_bit)
    rising = _by_bits(rise, per_bit)[:, place]
    falling = rising if fall is None else _by_bits(fall, per_bit)[:, place]
    # the highest space is the lowest mark of the same walk turned upside down
    wanted, sign = (True, 1.0) if judged == "mark" else (False, -1.0)
    least = {True: sign * mark, False: sign * space}
    came_from: list[dict[bool, bool]] = []
    for lag in range(len(rising) - 1, -1, -1):
        change = {True: sign * float(rising[lag]), False: -sign * float(falling[lag])}
        # a judged bit that must be what is asked for is one that nothing else may be
        before, least, origin = least, {}, {}
        for bit in (True, False):
            stay, turn = before.get(bit), before.get(not bit)
            options = [(stay, bit)] if stay is not None else []
            options += [(turn + change[bit], not bit)] if turn is not None else []
            if lag != target or bit is wanted:
                least[bit], origin[bit] = min(options)
        came_from.append(origin)
    bit = min(least, key=least.__getitem__)
    level = sign * least[bit]
    bits = [bit]
    for origin in reversed(came_from):
        bit = origin[bit]
        bits.append(bit)
    return Word(np.array(bits[::-1], dtype=np.bool_), len(rising) - target, level)
