"""Enclosures of outputs over a box: the middle solved once and densely, corners where they decide.

The bounds themselves are those of `bounds`; here the arrays that they need are made from a network, with a driver
attached or without.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rs485kit.solvers.bounds import (
    Interval,
    Sources,
    ceiling,
    extremes,
    source_response,
    wrong_sign_loss,
)
from rs485kit.solvers.elimination import Floats, Indices
from rs485kit.solvers.nodal import Branches, Layout, potentials
from rs485kit.solvers.sums import summed

# how many roundings of the largest current in a network are granted to solving it: bounds are widened by that
ROUNDINGS = 64.0


class Workspace:
    """Arrays that are used again for one driver after another: fresh ones of that size cost more than their content."""

    def __init__(self) -> None:
        self._arrays: dict[str, Floats] = {}

    def array(self, name: str, shape: tuple[int, ...]) -> Floats:
        """Return an array of that name and shape, whatever it holds."""
        known = self._arrays.get(name)
        if known is None or known.shape != shape:
            known = self._arrays[name] = np.empty(shape)
        return known

    def difference(self, name: str, minuend: Floats, left: Floats, right: Floats, more: int = 0) -> Floats:
        """Return minuend - left @ right in an array of that name with so many more rows, left to be filled."""
        result = self.array(name, (len(minuend) + more, minuend.shape[1]))
        own = result[: len(minuend)]
        np.matmul(left, right, out=own)
        np.subtract(minuend, own, out=own)
        return result


class Box(NamedTuple):
    """A network whose conductances lie in intervals; its fixed unknowns are at zero, their sources in the branches.

    `series` marks branches along the way of a current, such as spans of cable: the middle is that of their resistances.
    """

    layout: Layout
    start: Indices
    end: Indices
    lower: Floats
    upper: Floats
    fixed: Indices
    series: NDArray[np.bool_]


class Middle(NamedTuple):
    """A box solved in its middle: potentials of every unknown for unit currents into every unknown.

    For a tolerant branch in `series` z is its current, for any other its voltage; `scale` turns voltage into z, `half`
    is the largest magnitude of theta in the disturbance theta * z of its current, and `transfer` says how z moves with
    the disturbances.
    """

    box: Box
    conductance: Floats
    tolerant: Indices
    series: NDArray[np.bool_]
    scale: Floats
    half: Floats
    impedance: Floats
    difference: Floats
    transfer: Floats


class Pairs(NamedTuple):
    """Outputs: potential differences between pairs of unknowns."""

    plus: Indices
    minus: Indices


class Port(NamedTuple):
    """A driver's port: its two lines against its common, with the resistance in each leg, or none."""

    lines: tuple[int, int]
    common: int
    resistance: float


class Enclosed(NamedTuple):
    """Outputs over a box.

    `outer` is proved, None where nothing could be; `middle` is taken with the conductances in the middle and is
    attained; `branches` bounds the z of the tolerant branches.
    """

    outer: Interval | None
    middle: Interval
    branches: Interval | None


def solved_middle(box: Box) -> Middle:
    """Return a box solved in its middle.

    Parameters
    ----------
    box : Box
        The network with its intervals [S].

    Returns
    -------
    Middle
        Potentials for unit currents, and the transfer between branches with a tolerance [ohm].

    Raises
    ------
    numpy.linalg.LinAlgError
        If a part of the network has no fixed unknown.
    """
    arithmetic = (box.lower + box.upper) / 2
    harmonic = np.where(box.upper > 0, 2.0 * box.lower * box.upper / np.maximum(box.lower + box.upper, 1e-300), 0.0)
    conductance = np.where(box.series, harmonic, arithmetic)
    tolerant = np.flatnonzero(box.upper > box.lower)
    size = box.layout.size
    index = np.concatenate((box.start * size + box.end, box.end * size + box.start))
    matrix = summed(index, np.concatenate((-conductance, -conductance)), size * size).reshape(size, size)
    own = summed(np.concatenate((box.start, box.end)), np.concatenate((conductance, conductance)), size)
    np.fill_diagonal(matrix, np.where(own == 0.0, 1.0, own))
    matrix[box.fixed] = matrix[:, box.fixed] = 0.0
    matrix[box.fixed, box.fixed] = 1.0
    impedance = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    impedance[box.fixed] = impedance[:, box.fixed] = 0.0
    difference = impedance[box.start] - impedance[box.end]
    ends = box.start[tolerant], box.end[tolerant]
    transfer = difference[tolerant][:, ends[0]] - difference[tolerant][:, ends[1]]
    lower, upper, own = box.lower[tolerant], box.upper[tolerant], conductance[tolerant]
    # where the rest of its loop has the greater resistance, a branch carries a current that the rest holds
    series = (own * np.diag(transfer) > 0.5) & (lower > 0)
    # g = g0 + theta, or g = g0 / (1 - theta)
    above = own / np.where(series, lower, own) - 1.0
    half = np.where(series, np.maximum(above, 1.0 - own / upper), np.maximum(upper - own, own - lower))
    scale = np.where(series, own, 1.0)
    transfer = scale[:, None] * transfer
    held = np.flatnonzero(series)
    transfer[held, held] -= 1.0
    return Middle(box, conductance, tolerant, series, scale, half, impedance, difference, transfer)


def pair_response(middle: Middle, pairs: Pairs) -> Floats:
    """Return the response of every branch voltage to a unit current into each pair, shape (b, outputs) [ohm]."""
    return middle.difference[:, pairs.plus] - middle.difference[:, pairs.minus]


class Responses(NamedTuple):
    """What bounds need of outputs, with a driver attached or without.

    `outputs` and `branches` hold volts of output and the z of tolerant branches per volt of each source, `adjoint` the
    response of the tolerant branch voltages to each output, `transfer` that of z to disturbances, `rounding` the error
    of solving for each output per volt of the largest source.
    """

    outputs: Floats
    branches: Floats
    adjoint: Floats
    transfer: Floats
    rounding: Floats


def _rounding(middle: Middle, pairs: Pairs) -> Floats:
    """Return the error of solving: roundings of the largest current through each output's own impedance."""
    own = middle.impedance[pairs.plus, pairs.plus] + middle.impedance[pairs.minus, pairs.minus]
    own = own - 2.0 * middle.impedance[pairs.plus, pairs.minus]
    largest = middle.box.upper.max(initial=0.0)
    result: Floats = ROUNDINGS * float(np.finfo(np.float64).eps) * (1.0 + largest * np.abs(own))
    return result


def passive_responses(middle: Middle, sources: Sources, pairs: Pairs) -> Responses:
    """Return the responses of outputs while nobody drives.

    Parameters
    ----------
    middle : Middle
        The network [-].
    sources : Sources
        Its sources [V].
    pairs : Pairs
        The outputs [-].

    Returns
    -------
    Responses
        Their responses [-].
    """
    adjoint = pair_response(middle, pairs)
    outputs = source_response(sources, middle.conductance, adjoint)
    ends = middle.box.start[middle.tolerant], middle.box.end[middle.tolerant]
    onto = middle.difference[:, ends[0]] - middle.difference[:, ends[1]]
    branches = source_response(sources, middle.conductance, onto)
    place = np.full(len(middle.conductance), -1, dtype=np.intp)
    place[middle.tolerant] = np.arange(len(middle.tolerant))
    column = place[sources.branch]
    held = column >= 0
    np.subtract.at(branches, (sources.source[held], column[held]), sources.sign[held])
    return Responses(
        outputs, branches * middle.scale, adjoint[middle.tolerant], middle.transfer, _rounding(middle, pairs)
    )


class Magnitudes(NamedTuple):
    """Magnitudes of responses, the transfer times the half-widths of what disturbs: all that boxes of sources share."""

    outputs: Floats
    branches: Floats
    adjoint: Floats
    transfer: Floats


def magnitudes(responses: Responses, half: Floats, work: Workspace | None = None) -> Magnitudes:
    """Return the magnitudes of responses.

    Parameters
    ----------
    responses : Responses
        Responses of the outputs [-].
    half : array, shape (k,)
        Largest magnitudes of what stands before z [S or 1].
    work : Workspace or None
        Arrays to be used again; those of the responses are overwritten where only magnitudes are needed [-].

    Returns
    -------
    Magnitudes
        The magnitudes [-].
    """
    if work is None:
        work = Workspace()
        responses = responses._replace(adjoint=responses.adjoint.copy(), transfer=responses.transfer.copy())
    transfer = np.abs(responses.transfer, out=responses.transfer)
    transfer *= half
    return Magnitudes(
        np.abs(responses.outputs, out=work.array("outputs magnitude", responses.outputs.shape)),
        np.abs(responses.branches, out=work.array("branches magnitude", responses.branches.shape)),
        np.abs(responses.adjoint, out=responses.adjoint),
        transfer,
    )


def enclosed(responses: Responses, half: Floats, lower: Floats, upper: Floats) -> Enclosed:
    """Return outputs over a box of conductances and sources, about the middle.

    Parameters
    ----------
    responses : Responses
        Responses of the outputs [-].
    half : array, shape (k,)
        Largest magnitudes of what stands before z [S or 1].
    lower, upper : array, shape (s,)
        Limits of the sources [V].

    Returns
    -------
    Enclosed
        Proved and attained values [V].
    """
    return enclosed_for_each(responses, magnitudes(responses, half), half, lower[None], upper[None])[0]


def enclosed_for_each(
    responses: Responses, size: Magnitudes, half: Floats, lower: Floats, upper: Floats
) -> tuple[Enclosed, ...]:
    """Return outputs over a box of conductances and each of several boxes of sources, about the middle.

    Parameters
    ----------
    responses : Responses
        Responses of the outputs [-].
    size : Magnitudes
        Their magnitudes [-].
    half : array, shape (k,)
        Largest magnitudes of what stands before z [S or 1].
    lower, upper : array, shape (n, s)
        Limits of the sources, a row for each box [V].

    Returns
    -------
    tuple of Enclosed
        One for each box of sources [V].
    """
    centre, width = (lower + upper) / 2, (upper - lower) / 2
    middle = _about(centre @ responses.outputs, width @ size.outputs)
    inner = _about(centre @ responses.branches, width @ size.branches)
    largest = ceiling(size.transfer, np.maximum(np.abs(inner.lower), np.abs(inner.upper)).T)
    attained = [Interval(*pair) for pair in zip(middle.lower, middle.upper, strict=True)]
    if largest is None:
        return tuple(Enclosed(None, each, None) for each in attained)
    moved = (size.transfer @ largest).T
    source = np.maximum(np.abs(lower), np.abs(upper)).max(axis=1, initial=0.0)
    reach = (size.adjoint.T @ (half[:, None] * largest)).T + source[:, None] * responses.rounding
    outer = zip(middle.lower - reach, middle.upper + reach, strict=True)
    branches = zip(inner.lower - moved, inner.upper + moved, strict=True)
    return tuple(
        Enclosed(Interval(*each), about, Interval(*over))
        for each, about, over in zip(outer, attained, branches, strict=True)
    )


def _about(centre: Floats, reach: Floats) -> Interval:
    return Interval(centre - reach, centre + reach)


def least_corners(responses: Responses, chosen: Indices, lower: Floats, upper: Floats) -> Floats:
    """Return which limit each tolerant conductance takes to make outputs least, seen from the middle.

    Parameters
    ----------
    responses : Responses
        Responses of the outputs [-].
    chosen : array of int, shape (m,)
        The outputs wanted [-].
    lower, upper : array, shape (s,)
        Limits of the sources [V].

    Returns
    -------
    array, shape (k, m)
        +1 for the upper limit, -1 for the lower [-].

    Notes
    -----
    At the sources that make an output least, dy/dg_k = -w_k u_k.
    """
    outputs = responses.outputs[:, chosen]
    source = np.where(outputs > 0, lower[:, None], upper[:, None])
    return np.where(responses.adjoint[:, chosen] * (responses.branches.T @ source) > 0, 1.0, -1.0)


class Corner(NamedTuple):
    """Outputs at corners of their own: the value attained there, and the proved bound about it."""

    attained: Floats
    bound: Floats


class Driving(NamedTuple):
    """For each output the driver that is on, and the limits of the drivers' differential and offset voltage."""

    ports: tuple[Port, ...]
    lower: Floats
    upper: Floats


def least_at_corners(
    middle: Middle,
    sources: Sources,
    attainable: Interval,
    pairs: Pairs,
    towards: Floats,
    reach: Interval,
    *,
    driving: Driving | None = None,
) -> Corner:
    """Return the least values of outputs, each at a corner of its own.

    Parameters
    ----------
    middle : Middle
        The network [-].
    sources : Sources
        Its sources, as far as they may reach [V].
    attainable : Interval, shape (s,)
        Limits of the sources inside which every choice is surely possible [V].
    pairs : Pairs, m of them
        The outputs [-].
    towards : array, shape (k, m)
        Which limit each tolerant conductance takes at each corner: +1 upper, -1 lower [-].
    reach : Interval
        Proved bounds of the z of the tolerant branches, shape (k, m) or (k, 1) [V or A].
    driving : Driving or None
        The drivers; None: nobody drives [V].

    Returns
    -------
    Corner
        Attained and proved least values, shape (m,) [V].
    """
    box, count = middle.box, len(pairs.plus)
    conductance = np.repeat(middle.conductance[:, None], count, axis=1)
    low, high = box.lower[middle.tolerant][:, None], box.upper[middle.tolerant][:, None]
    conductance[middle.tolerant] = np.where(towards > 0, high, low)
    # what may stand before z, from the corner inwards
    series = middle.series[:, None]
    width = np.where(series, (high - low) / np.where(series, np.where(towards > 0, low, high), 1.0), high - low)
    injected = _unit_currents(box, pairs, driving)
    nothing = np.zeros((len(box.fixed), *injected.shape[1:]))
    branches = Branches(box.start, box.end, conductance)
    potential = potentials(box.layout, branches, injected, box.fixed, nothing, passes=2)
    response = potential[box.start] - potential[box.end]
    adjoint = response[..., 0]
    outputs = source_response(sources, conductance, adjoint)
    lower, upper = sources.lower, sources.upper
    inner = attainable
    if driving is not None:
        across = np.stack([_across(potential[:, index], port) for index, port in enumerate(driving.ports)])
        resistance = np.array([port.resistance for port in driving.ports])
        gain = _gain(across[:, :, 1:], across[:, :, :1], resistance)[..., 0]
        adjoint = adjoint - np.einsum("bml,ml->bm", response[..., 1:], gain)
        outputs = _with_drivers(outputs, sources, conductance, response, gain, driving)
        lower, upper = np.concatenate((lower, driving.lower)), np.concatenate((upper, driving.upper))
        inner = Interval(np.concatenate((inner.lower, driving.lower)), np.concatenate((inner.upper, driving.upper)))
    least = extremes(outputs, lower, upper).lower
    attained = extremes(outputs, inner.lower, inner.upper).lower
    loss = wrong_sign_loss(adjoint[middle.tolerant], towards, width, reach)
    return Corner(attained, least - loss - _rounding(middle, pairs) * _largest(lower, upper))


def _unit_currents(box: Box, pairs: Pairs, driving: Driving | None) -> Floats:
    """Return unit currents into each output's pair and, for its driver, into both legs of the port."""
    count = len(pairs.plus)
    injected = np.zeros((box.layout.size, count, 1 if driving is None else 3))
    each = np.arange(count)
    injected[pairs.plus, each, 0] += 1.0
    injected[pairs.minus, each, 0] -= 1.0
    for index, port in enumerate(driving.ports if driving is not None else ()):
        for leg, line in enumerate(port.lines):
            injected[line, index, 1 + leg] += 1.0
            injected[port.common, index, 1 + leg] -= 1.0
    return injected


def _with_drivers(
    outputs: Floats, sources: Sources, conductance: Floats, response: Floats, gain: Floats, driving: Driving
) -> Floats:
    """Return responses of outputs to the sources with drivers on, and to the drivers' own two voltages."""
    held = np.stack([source_response(sources, conductance, response[..., 1 + leg]) for leg in (0, 1)], axis=-1)
    held -= np.stack([_common_response(sources, port) for port in driving.ports], axis=1)
    return np.concatenate((outputs - np.einsum("sml,ml->sm", held, gain), *_driver_response(gain.T)))


def _largest(lower: Floats, upper: Floats) -> float:
    return float(np.maximum(np.abs(lower), np.abs(upper)).max(initial=0.0))


def driven_responses(
    middle: Middle, sources: Sources, passive: Responses, pairs: Pairs, port: Port, *, work: Workspace | None = None
) -> Responses:
    """Return the responses of outputs while one driver is on; its differential and offset voltage are two more sources.

    Parameters
    ----------
    middle : Middle
        The network [-].
    sources : Sources
        Its sources [V].
    passive : Responses
        The responses of the same outputs while nobody drives [-].
    pairs : Pairs
        The outputs [-].
    port : Port
        The driver [-].
    work : Workspace or None
        Arrays to be used again; the result stands in them [-].

    Returns
    -------
    Responses
        The responses, with two more rows of sources: differential voltage and offset [-].

    Notes
    -----
    The port sees its open-circuit voltages v and the impedance matrix Z; the driver's legs e behind resistances R
    carry i = (Z + R)^-1 (e - v), and everything else moves by its response to i. R may be zero.
    """
    impedance = middle.impedance
    columns = [impedance[:, line] - impedance[:, port.common] for line in port.lines]
    across = _across(np.stack(columns, axis=1), port)
    response = np.stack(
        [middle.difference[:, line] - middle.difference[:, port.common] for line in port.lines], axis=1
    )
    seen = np.stack([impedance[line] - impedance[port.common] for line in port.lines])
    onto = seen[:, pairs.plus] - seen[:, pairs.minus]
    gain = _gain(across, onto, np.array(port.resistance))
    own = response[middle.tolerant]
    branch_gain = _gain(across, own.T, np.array(port.resistance))
    scaled_gain = branch_gain * middle.scale
    held = source_response(sources, middle.conductance, response) - _common_response(sources, port)
    work = work or Workspace()
    outputs = work.difference("outputs", passive.outputs, held, gain, 2)
    branches = work.difference("branches", passive.branches, held, scaled_gain, 2)
    outputs[-2:], branches[-2:] = np.concatenate(_driver_response(gain)), np.concatenate(_driver_response(scaled_gain))
    return Responses(
        outputs,
        branches,
        work.difference("adjoint", passive.adjoint, own, gain),
        work.difference("transfer", passive.transfer, middle.scale[:, None] * own, branch_gain),
        passive.rounding,
    )


def _across(potential: Floats, port: Port) -> Floats:
    """Return the voltages of a port's two legs against its common, from potentials of shape (size, k)."""
    return np.stack([potential[line] - potential[port.common] for line in port.lines])


def _gain(impedance: Floats, onto: Floats, resistance: Floats) -> Floats:
    """Return (Z + R)^-1 Z_onto: what each leg of a driver adds to each output per volt."""
    return np.asarray(np.linalg.solve(impedance + resistance[..., None, None] * np.eye(2), onto), dtype=np.float64)


def _driver_response(gain: Floats) -> tuple[Floats, Floats]:
    """Return the responses to the differential and to the offset voltage of a driver, one row each."""
    return (gain[..., :1, :] - gain[..., 1:, :]) / 2, gain[..., :1, :] + gain[..., 1:, :]


def _common_response(sources: Sources, port: Port) -> Floats:
    """Return how a port's voltages follow the sources through a common that stands at one of them."""
    result = np.zeros((len(sources.lower), 2))
    result[sources.held_source[sources.held == port.common]] = 1.0
    return result
