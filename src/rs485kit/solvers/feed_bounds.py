"""Proved limits of a feed with rings, several feeding points or earths, or resistive loads, over a box of its figures.

Where the conductors form a tree with one feeding point and no load is a resistance, the corners of the box are the
limits (`feed`). Elsewhere a resistance may raise one voltage and lower another, and a corner proves nothing. There the
network is taken at the middle of every conductance g0; an element at g0 + d carries d w more, w being the voltage
across it less its EMF, and w = w0 - T (d w) with T = B' A^-1 B. So |w| <= |w0| + |T| D |w|, D holding the half-widths,
and where the spectral radius of |T| D is below 1, |w| <= U = (1 - |T| D)^-1 |w0|; every output then lies within
|C A^-1 B| D U of what the middle network makes of the sources. That holds for each source by itself, and so gives
limits of the port form: e in [e-, e+] and R in [R-, R+], entry by entry.

As v -> e - R i(v) rises with v, falls with R and i, and rises with e, the highest solution for e-, R+ and the heaviest
loads lies below that of every member of the box, and the one for e+, R- and the lightest above. From the voltages
follow what devices draw, and from these every other output.
"""

from typing import NamedTuple

import numpy as np

from rs485kit.solvers.elimination import Floats, Indices
from rs485kit.solvers.feed import (
    Circuit,
    Flags,
    Loads,
    Ports,
    highest_solution,
    inverted,
    load_factor,
    lowest_voltages,
    settled,
    settled_each,
)

SETTLED = 1e-9


class FeedBox(NamedTuple):
    """A feed over a box: the circuit with lower and upper limits of its figures, and what the devices draw.

    `light` and `heavy` are the least and the largest loads, `more` the most that each draws more while it talks [W].
    """

    lower: Circuit
    upper: Circuit
    at: Indices
    light: Loads
    heavy: Loads
    more: Floats


class FeedLimits(NamedTuple):
    """Lower and upper limits, each (2, ...): of devices, conductors, feeding points and ties, and further outputs."""

    voltage: Floats
    current: Floats
    conductor: Floats
    emf: Floats
    outputs: Floats
    surely_running: Flags
    load_factor: tuple[float, float]


class _Range(NamedTuple):
    lower: Floats
    upper: Floats


def enclosed_feed(box: FeedBox, outputs: Floats) -> FeedLimits | None:
    """Return proved limits of a feed over its box, or None where nothing is proved.

    Parameters
    ----------
    box : FeedBox
        The feed with its limits [-].
    outputs : array, shape (k, unknowns)
        Further outputs as combinations of the potentials [-].

    Returns
    -------
    FeedLimits or None
        Limits [V, A].

    Notes
    -----
    A feeding point takes nothing back. Where every one of them surely gives, the network is linear. One that may be
    blocked is taken as any conductance from 0 to its own, behind its EMF: that is what a diode in series makes of it.
    A resistive load that may stop is any conductance from 0 to its own.
    """
    blocked = np.zeros(box.lower.sources, dtype=np.bool_)
    may_stop = (box.heavy.conductance > 0) & (box.heavy.minimum > 0)
    while True:
        found = _enclosed(box, outputs, blocked, may_stop)
        if found is None:
            return None
        taking = (found.emf[0, : box.lower.sources] < -SETTLED) & ~blocked
        if not taking.any():
            break
        if (box.upper.inner[: box.lower.sources][taking] <= 0.0).any():
            return None
        blocked |= taking
    if may_stop.any() and found.surely_running.all():
        # all run whatever happens, so that none is ever less than its own conductance
        return _enclosed(box, outputs, blocked, np.zeros_like(may_stop)) or found
    return found


class _Elements(NamedTuple):
    """Every resistance as a conductance with limits, behind its EMF (-1: none), between two unknowns (-1: earth)."""

    start: Indices
    end: Indices
    lower: Floats
    upper: Floats
    emf: Indices


def _elements(box: FeedBox, blocked: Flags, may_stop: Flags) -> _Elements | None:
    low, high = box.lower, box.upper
    inner = np.flatnonzero(np.maximum(low.inner, high.inner) > 0.0)
    least, most = np.minimum(low.inner, high.inner)[inner], np.maximum(low.inner, high.inner)[inner]
    if (least <= 0.0).any():
        return None
    weakest = np.where(np.isin(inner, np.flatnonzero(blocked)), 0.0, 1.0 / most)
    loads = np.flatnonzero(box.heavy.conductance > 0)
    none = np.full(len(low.start), -1, dtype=np.intp)
    return _Elements(
        np.concatenate((low.start, low.plus[inner], box.at[loads, 0])),
        np.concatenate((low.end, low.minus[inner], box.at[loads, 1])),
        np.concatenate((low.conductance, weakest, np.where(may_stop, 0.0, box.light.conductance)[loads])),
        np.concatenate((high.conductance, 1.0 / least, box.heavy.conductance[loads])),
        np.concatenate((none, inner, np.full(len(loads), -1, dtype=np.intp))),
    )


def _enclosed(box: FeedBox, outputs: Floats, blocked: Flags, may_stop: Flags) -> FeedLimits | None:
    elements = _elements(box, blocked, may_stop)
    if elements is None:
        return None
    size, count, devices = box.lower.size, len(box.lower.emf), len(box.at)
    of_emf = elements.emf >= 0
    middle, half = (elements.lower + elements.upper) / 2, (elements.upper - elements.lower) / 2
    inner = np.zeros(count)
    inner[elements.emf[of_emf]] = 1.0 / middle[of_emf]
    plain = ~of_emf
    circuit = box.lower._replace(
        start=elements.start[plain], end=elements.end[plain], conductance=middle[plain], inner=inner
    )
    inverse = inverted(circuit, np.ones(count, dtype=np.bool_)).inverse
    incidence = np.zeros((size + count, len(elements.start)))
    column = np.arange(len(elements.start))
    incidence[elements.start, column] = 1.0
    grounded = elements.end < 0
    incidence[elements.end[~grounded], column[~grounded]] = -1.0
    across = np.zeros((devices, size + count))
    row = np.arange(devices)
    across[row, box.at[:, 0]], across[row, box.at[:, 1]] = 1.0, -1.0
    response = inverse @ np.column_stack((-across.T, np.eye(size + count)[:, size:]))
    couple = inverse @ incidence
    own = np.zeros((len(elements.start), devices + count))
    own[column[of_emf], devices + elements.emf[of_emf]] = 1.0
    wanted = np.zeros((len(outputs), size + count))
    wanted[:, :size] = outputs
    spread = np.abs(incidence.T @ couple) * half[None, :]
    grown = _grown(spread, np.column_stack((np.ones(len(half)), np.abs(incidence.T @ response - own))))
    if grown is None or (grown[:, 0] <= 0.0).any():
        return None
    every = np.concatenate((across, incidence.T, np.eye(size + count)[size:], wanted))
    to_sources = every @ response
    to_sources[devices : devices + len(half)] -= own
    slack = (np.abs(every @ couple) * half[None, :]) @ grown[:, 1:]
    if not (np.isfinite(to_sources).all() and np.isfinite(slack).all()):
        return None
    emf = _Range(np.minimum(box.lower.emf, box.upper.emf), np.maximum(box.lower.emf, box.upper.emf))
    return _limits(box, elements, _Range(to_sources - slack, to_sources + slack), emf)


def _grown(spread: Floats, largest: Floats) -> Floats | None:
    """Return U = (1 - |T| D)^-1 |w0| for each source."""
    try:
        return np.asarray(np.linalg.solve(np.eye(len(spread)) - spread, largest))
    except np.linalg.LinAlgError:
        return None


def _through(matrix: _Range, lower: Floats, upper: Floats) -> Floats:
    """Return lower and upper limits of a matrix between its own times a vector between its own."""
    corners = np.stack([each * vector for each in matrix for vector in (lower, upper)])
    return np.stack((corners.min(axis=0).sum(axis=1), corners.max(axis=0).sum(axis=1)))


class _Devices(NamedTuple):
    voltage: Floats
    surely: Flags
    factor: tuple[float, float]


def _devices(box: FeedBox, gain: _Range, emf: _Range) -> _Devices:
    """Return limits of the voltages of the devices, from limits of the port form."""
    count = len(box.at)
    own = _Range(gain.lower[:count], gain.upper[:count])
    opened = _through(_Range(own.lower[:, count:], own.upper[:, count:]), emf.lower, emf.upper)
    # a current never raises a voltage between two conductors of one feed, so that 0 bounds what rounding leaves
    weak = Ports(opened[0], np.maximum(-own.lower[:, :count], 0.0))
    strong = Ports(opened[1], np.maximum(-own.upper[:, :count], 0.0))
    nothing = np.zeros(count)
    heavy, light = box.heavy._replace(conductance=nothing), box.light._replace(conductance=nothing)
    resistive = box.heavy.conductance > 0
    base = settled(weak, heavy)
    voltage, running = settled_each(weak, heavy, base, box.more)
    lowest = voltage.min(axis=0)
    runs = running.all(axis=0) & (lowest > 0) & ~(resistive & (lowest < box.heavy.minimum))
    # loads that are resistances stand in the network, where they do not grow with the others
    factor = (np.nan, np.nan) if resistive.any() else (load_factor(weak, heavy), load_factor(strong, light))
    if runs.all():
        upper = highest_solution(strong, light)
        return _Devices(np.stack((lowest, upper.voltage)), runs, factor)
    lowest = np.maximum(lowest_voltages(weak, heavy._replace(power=heavy.power + box.more)), 0.0)
    surely = (lowest >= box.heavy.minimum) & (lowest > 0) & (box.heavy.minimum > 0)
    return _Devices(np.stack((np.nan_to_num(lowest), opened[1])), surely, factor)


def _drawn(box: FeedBox, found: _Devices) -> tuple[_Range, _Range]:
    """Return what devices draw at constant power and current, and with what goes into their resistances."""
    low, high = found.voltage
    with np.errstate(divide="ignore", invalid="ignore"):
        running = np.maximum(low, box.heavy.minimum)
        power = box.heavy.power + box.more
        most = np.where(power > 0, power / running, 0.0) + box.heavy.current
        least = np.where(box.light.power > 0, box.light.power / high, 0.0) + box.light.current
    least = np.where(found.surely, least, 0.0)
    resistive = _Range(np.where(found.surely, box.light.conductance * low, 0.0), box.heavy.conductance * high)
    return _Range(least, most), _Range(least + resistive.lower, most + resistive.upper)


def _limits(box: FeedBox, elements: _Elements, gain: _Range, emf: _Range) -> FeedLimits | None:
    found = _devices(box, gain, emf)
    drawn, total = _drawn(box, found)
    if not np.isfinite(drawn.upper).all():
        return None
    reach = _through(gain, np.concatenate((drawn.lower, emf.lower)), np.concatenate((drawn.upper, emf.upper)))
    devices, branches, count = len(box.at), len(box.lower.start), len(box.lower.emf)
    low, high = reach[:, devices : devices + branches]
    ends = np.stack([g[:branches] * w for g in (elements.lower, elements.upper) for w in (low, high)])
    after = devices + len(elements.start)
    return FeedLimits(
        found.voltage,
        np.stack(total),
        np.stack((ends.min(axis=0), ends.max(axis=0))),
        reach[:, after : after + count],
        reach[:, after + count :],
        found.surely,
        found.factor,
    )
