"""How far the references of receiver inputs reach: exactly as far as the lines may, which they move in turn."""

import itertools

import numpy as np

from rs485kit.network.assembly import Floats, Indices

# what lies less than this beyond is rounding; a line on which nothing but inputs stand follows them one to one, so that
# rounding alone would take it on for ever [V]
SETTLED = 1e-7
MOST_TURNS = 100
# what is reached is taken this much farther, so that rounding does not undo it [V]
ALLOWANCE = 1e-6


def references_reach(
    outputs: Floats,
    beyond: Floats,
    lower: Floats,
    upper: Floats,
    reference: Indices,
    pinned: np.ndarray,
    ends: tuple[float, float],
) -> tuple[Floats, Floats]:
    """Return limits of the sources with the references of pinned inputs as far as their lines reach.

    Parameters
    ----------
    outputs : array, shape (s, 2 n)
        Response of every input's voltage against its common to every source [-].
    beyond : array, shape (2 n,)
        How far the voltages may lie beyond what the sources make of them, by the tolerances of resistances [V].
    lower, upper : array, shape (s,)
        Limits of the sources, references at the least that they reach [V].
    reference : array of int, shape (2 n,)
        The source of each input [-].
    pinned : array of bool, shape (2 n,)
        Inputs whose common something other than inputs ties to the lines [-].
    ends : (float, float)
        Where the border of the unit load ends [V].

    Returns
    -------
    tuple of array, shape (s,)
        The limits [V].

    Notes
    -----
    A current of zero is inside the border at any voltage beyond -3 V .. +5 V, so a reference goes as far as the farther
    of its lines. With y = (-lower, upper) of the references, y = max(c + W y) with W >= 0: Newton's steps from below,
    which are exact as the right side is convex, kept inside the border. Where a step is negative there is no finite
    answer, and the border's end is one.
    """
    moved = np.unique(reference[pinned])
    if not len(moved):
        return lower, upper
    count, lines = len(moved), np.flatnonzero(np.isin(reference, moved))
    own = np.searchsorted(moved, reference[lines])
    others = np.setdiff1d(np.arange(len(lower)), moved)
    response = outputs[:, lines]
    positive, negative = response[moved].clip(0.0), -response[moved].clip(None, 0.0)
    low, high = lower[others, None] * response[others], upper[others, None] * response[others]
    constant = np.concatenate(
        (beyond[lines] - np.minimum(low, high).sum(axis=0), beyond[lines] + np.maximum(low, high).sum(axis=0))
    )
    weight = np.concatenate((np.concatenate((positive, negative)).T, np.concatenate((negative, positive)).T))
    target = np.concatenate((own, own + count))
    reach = np.concatenate((-lower[moved], upper[moved]))
    end = np.repeat((-ends[0], ends[1]), count)
    active = np.zeros(len(reach), dtype=np.bool_)
    for turn in itertools.count():
        seen = constant + weight @ reach
        order = np.lexsort((seen, target))
        row = order[np.flatnonzero(np.r_[target[order][1:] != target[order][:-1], True])]
        gap = seen[row] - reach
        moving = (gap > SETTLED) & (reach < end)
        if not moving.any():
            break
        # what has come to rest goes on with what still moves: two that push one another would else take turns for ever
        active = (active | moving) & (reach < end) & (gap > -SETTLED)
        together = np.flatnonzero(active)
        matrix = np.eye(len(together)) - weight[row[together]][:, together]
        step = _solution_or_nan(matrix, gap[together].clip(0.0))
        if turn < MOST_TURNS and (step >= 0).all():
            reach[together] = np.minimum(reach[together] + step, end[together])
        else:
            reach[moving] = end[moving]
    started = np.concatenate((-lower[moved], upper[moved]))
    reach = np.where(reach > started, np.minimum(reach + ALLOWANCE, end), reach)
    lower, upper = lower.copy(), upper.copy()
    lower[moved], upper[moved] = -reach[:count], reach[count:]
    return lower, upper


def _solution_or_nan(matrix: Floats, right: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.full(len(right), np.nan)
