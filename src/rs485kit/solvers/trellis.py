"""Worst-case eyes over every bit sequence, from the responses of receivers to one rising and one falling edge.

    levels = worst_levels(rise, fall, mark, space, per_bit)     # lowest mark, highest space at every phase
    eye = eye_opening(levels, upper, lower, per_bit)            # height, its phase and both sides, width
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

from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from rs485kit.solvers.line_graph import Floats, Indices

Bits: TypeAlias = NDArray[np.bool_]


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
    rising = _by_bits(rise, per_bit)
    low, high = np.asarray(space)[..., None, None], np.asarray(mark)[..., None, None]
    if fall is None:
        return _of_equal_edges(rising, low, high)
    falling = _by_bits(fall, per_bit)
    length = rising.shape[-2]
    lowest_mark, highest_space = np.empty((2, *rising.shape))
    # least and largest level with the newest bit so far mark or space, [least of mark, of space, largest of ...]
    phase_shape = (*rising.shape[:-2], per_bit)
    mark_least, space_least = (np.broadcast_to(level[..., 0], phase_shape) for level in (high, low))
    mark_largest, space_largest = mark_least, space_least
    for lag in range(length - 1, -1, -1):
        up, down = rising[..., lag, :], falling[..., lag, :]
        mark_least, space_least = np.minimum(mark_least, space_least + up), np.minimum(space_least, mark_least - down)
        mark_largest, space_largest = (
            np.maximum(mark_largest, space_largest + up),
            np.maximum(space_largest, mark_largest - down),
        )
        lowest_mark[..., lag, :] = mark_least
        highest_space[..., lag, :] = space_largest
    # what the bits after the judged one may add
    mark_least = space_least = mark_largest = space_largest = np.zeros(phase_shape)
    for lag in range(length):
        lowest_mark[..., lag, :] += mark_least
        highest_space[..., lag, :] += space_largest
        up, down = rising[..., lag, :], falling[..., lag, :]
        mark_least, space_least = np.minimum(mark_least, space_least - down), np.minimum(space_least, mark_least + up)
        mark_largest, space_largest = (
            np.maximum(mark_largest, space_largest - down),
            np.maximum(space_largest, mark_largest + up),
        )
    shape = (*rising.shape[:-2], length * per_bit)
    return Levels(lowest_mark.reshape(shape), highest_space.reshape(shape))


def _by_bits(response: Floats, per_bit: int) -> Floats:
    length = response.shape[-1] // per_bit
    return response[..., : length * per_bit].reshape(*response.shape[:-1], length, per_bit)


def _of_equal_edges(rising: Floats, low: Floats, high: Floats) -> Levels:
    """Return the levels by the positive parts of the pulse response, which sum to the swing with the negative ones."""
    pulse = rising.copy()
    pulse[..., 1:, :] -= rising[..., :-1, :]
    last = np.maximum(high - low - rising[..., -1:, :], 0.0)
    np.maximum(pulse, 0.0, out=pulse)
    positive = pulse.sum(axis=-2, keepdims=True) + last
    shape = (*pulse.shape[:-2], pulse.shape[-2] * pulse.shape[-1])
    return Levels((pulse + (high - positive)).reshape(shape), ((low + positive) - pulse).reshape(shape))


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
    height, mark_margin, space_margin = (
        np.take_along_axis(values, sample[..., None], axis=-1)[..., 0] for values in (opening, above, below)
    )
    width = (_reach(opening, sample, per_bit, -1) + _reach(opening, sample, per_bit, +1)) / per_bit
    return Eye(height, mark_margin, space_margin, sample, np.where(height > 0, np.minimum(width, 1.0), 0.0))


def _reach(opening: Floats, sample: Indices, per_bit: int, direction: int) -> Floats:
    """Return how many samples an opening lasts from its best one on, in one direction."""
    places = sample[..., None] + direction * np.arange(per_bit + 1)
    outside = (places < 0) | (places >= opening.shape[-1])
    near = np.take_along_axis(opening, places.clip(0, opening.shape[-1] - 1), axis=-1)
    near[outside] = 0.0
    closed = near <= 0
    closed[..., -1] = True
    first = np.argmax(closed, axis=-1)[..., None]
    end = np.take_along_axis(near, first, axis=-1)[..., 0]
    last = np.take_along_axis(near, np.maximum(first - 1, 0), axis=-1)[..., 0]
    part = np.divide(last, last - end, out=np.zeros_like(last), where=(last > 0) & (end <= 0))
    return np.asarray(np.maximum(first[..., 0] - 1, 0) + part)


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
