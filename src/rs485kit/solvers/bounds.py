"""Proved bounds of a resistive network whose conductances and sources lie in intervals.

Every source is an EMF in series with a branch (a given potential is one in each branch that touches it). With the
conductances g0 in the middle of their intervals, the branch transfer T = Inc G0^-1 Inc^T and the response
w = Inc G0^-1 c of the branch voltages to an output c, the exact identity

    y(g, E) = y(g0, E) - sum_k w_k s_k,    u = u(g0, E) - T s,    s_k = (g_k - g0_k) u_k

has disturbances s of two forms. A branch across the network keeps its voltage: s = theta u with theta = g - g0. A
branch in series keeps its current: i = g0 u + s, s = theta i with theta = 1 - g0 / g. With z the one or the other,
z = z(g0, E) - M s with M = T, or g0 T - 1; |theta| <= h gives the fixed point Z = max |z(g0, E)| + |M| h Z and the
output y(g0, E) -+ sum |w_k| h_k Z_k. Taken about a corner instead of the middle, only those conductances count whose z
may have the sign that the corner did not expect; where none may, the corner is the extreme itself.
"""

from typing import NamedTuple

import numpy as np

from rs485kit.solvers.elimination import Floats, Indices
from rs485kit.solvers.sums import summed

MOST_ITERATIONS = 500
# how far the fixed point is carried; what is returned lies a little above it and is checked against its inequality
SETTLED = 1e-4


class Sources(NamedTuple):
    """Sources as entries (branch, source, sign): the EMF of a branch is the sum of sign * value over its entries.

    `held` names unknowns that stand at the value of a source; in every branch that touches one, that source stands.
    """

    branch: Indices
    source: Indices
    sign: Floats
    lower: Floats
    upper: Floats
    held: Indices
    held_source: Indices


class Interval(NamedTuple):
    """Lower and upper values."""

    lower: Floats
    upper: Floats


def source_response(sources: Sources, conductance: Floats, response: Floats) -> Floats:
    """Return how much an output moves with each source.

    Parameters
    ----------
    sources : Sources
        The sources [V].
    conductance : array, shape (b,) or (b, k)
        Conductance of each branch, for one set of conductances or for each output its own [S].
    response : array, shape (b, k)
        Response of the branch voltages to a unit current in each output [ohm].

    Returns
    -------
    array, shape (sources, k)
        Volts of output per volt of source [-].

    Notes
    -----
    By reciprocity y = sum_k g_k w_k E_k.
    """
    weight = conductance if conductance.ndim > 1 else conductance[:, None]
    entries = sources.sign[:, None] * weight[sources.branch] * response[sources.branch]
    return summed(sources.source, entries, len(sources.lower))


def extremes(response: Floats, lower: Floats, upper: Floats) -> Interval:
    """Return the least and largest of sums of responses times sources in intervals; exact, by linearity.

    Parameters
    ----------
    response : array, shape (s, k)
        Response of each output to each source [-].
    lower, upper : array, shape (s,) or (n, s)
        Limits of the sources, for one set of intervals or several [V].

    Returns
    -------
    Interval
        Arrays of shape (k,) or (n, k) [V].
    """
    centre, reach = (lower + upper) / 2 @ response, (upper - lower) / 2 @ np.abs(response)
    return Interval(centre - reach, centre + reach)


def ceiling(transfer: Floats, largest: Floats) -> Floats | None:
    """Return bounds of the magnitudes of z over all conductances in their intervals.

    Parameters
    ----------
    transfer : array, shape (k, k)
        Magnitude of the transfer from disturbances to z times their half-widths, |M| h [-].
    largest : array, shape (k, m)
        Largest magnitudes of z in the middle, for m sets of sources [V or A].

    Returns
    -------
    array, shape (k, m), or None
        The bounds; None if the fixed point does not contract, so that nothing is proved [V or A].

    Notes
    -----
    Z = largest + |M| h Z, by iteration from below. Whatever is returned satisfies Z >= largest + |M| h Z, which alone
    makes it a bound: the true z is the limit of the same iteration from its value in the middle.
    """
    bound, wanted = largest, largest
    with np.errstate(over="ignore", invalid="ignore"):
        for _ in range(MOST_ITERATIONS):
            following = wanted + transfer @ bound
            if not np.isfinite(following).all():
                return None
            if wanted is not largest and (largest + transfer @ following <= following).all():
                return following
            if wanted is largest and (following <= bound * (1.0 + SETTLED)).all():
                # from here on a little more is asked for everywhere, so that what is wanted holds with room
                wanted = largest + SETTLED * following
            bound = following
    return None


def wrong_sign_loss(response: Floats, towards: Floats, width: Floats, reach: Interval) -> Floats:
    """Return by how much outputs may lie below their corner.

    Parameters
    ----------
    response : array, shape (k, m)
        Response w of the branch voltages at each output's own corner [ohm].
    towards : array, shape (k, m)
        +1 where the corner takes the upper conductance, -1 where the lower [-].
    width : array, shape (k, m)
        How far the disturbances go from the corner inwards [S or 1].
    reach : Interval
        Bounds of z over the box, shape (k, m) or (k, 1) [V or A].

    Returns
    -------
    array, shape (m,)
        How far below its value at the corner an output may be; for a corner that was meant to be the least [V].

    Notes
    -----
    About the corner, y - y* = sum_k w_k s_k t_k z_k with s = `towards` and t in 0 .. width. Terms that cannot be
    negative cost nothing.
    """
    least = np.minimum(response * towards * reach.lower, response * towards * reach.upper)
    return np.asarray((width * np.maximum(0.0, -least)).sum(axis=0))
