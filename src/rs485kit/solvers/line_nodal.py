"""Signals on lines of any graph, rings included: nodal equations, frequency by frequency.

    response = transfer_impedances(graph, media, drivers)       # (drivers, vertices, f) [ohm]
    everywhere = nodal_voltages(response[k], drivers[k], source, resistance)    # (vertices, f)

A line of length l is the two-port y11 = coth(gamma l) / Zc, y12 = -1 / (Zc sinh(gamma l)), taken by exponentials that
do not grow and in the form of a branch -y12 across with y11 + y12 = tanh(gamma l / 2) / Zc at either end; lines of no
length join their ends. The cost grows with the cube of the vertices, so trees go to `sweep`.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from rs485kit.solvers.line_graph import Complexes, Indices, LineGraph, Media, loads, sections
from rs485kit.solvers.nodal import joined_parts

# how much memory the matrices of the frequencies that are solved together may take [bytes]
BATCH_BYTES = 2**25


class _Network(NamedTuple):
    """Branches between unknowns, and what stands at each unknown, frequencies first [S]."""

    start: Indices
    end: Indices
    across: Complexes
    own: Complexes


def transfer_impedances(graph: LineGraph, media: Media, drivers: Indices) -> Complexes:
    """Return the voltage at every vertex for a unit current into each driver's vertex, drivers switched off.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].
    media : Media
        What lines and loads are made of [-].
    drivers : array of int, shape (d,)
        Vertices into which current is fed [-].

    Returns
    -------
    array, shape (d, vertices, f)
        Transfer impedances; those at the drivers' own vertices are the inverse of the admittance seen there [ohm].

    Raises
    ------
    numpy.linalg.LinAlgError
        If the equations are exactly singular: a vertex that neither a line nor a load touches.

    Notes
    -----
    Beside a short line, of very small impedance, a load would lose digits in the sum on the diagonal. The currents
    y (V_start - V_end) lose none, so what they leave over is solved for once more (iterative refinement). Where a line
    without loss is half a wave long, y11 and y12 are infinite: on the axis of frequency that may cost all digits, on a
    contour shifted by c some 1 / (c delay), which is less than five.
    """
    merged = joined_parts(graph.vertices, *graph.edges[graph.length == 0.0].T)
    names, place = np.unique(merged, return_inverse=True)
    result = np.empty((len(drivers), graph.vertices, media.propagation.shape[1]), dtype=np.complex128)
    fed = np.zeros((len(names), len(drivers)), dtype=np.complex128)
    fed[place[drivers], np.arange(len(drivers))] = 1.0
    for some in _batches(media.propagation.shape[1], len(names)):
        network = _network(graph, _part(media, some), place, len(names))
        matrix = _matrices(network)
        solved: Complexes = np.asarray(np.linalg.solve(matrix, fed), dtype=np.complex128)
        solved += np.linalg.solve(matrix, np.asarray(fed - _through(network, solved)))
        result[..., some] = solved.transpose(2, 1, 0)[:, place]
    return result


def nodal_voltages(response: Complexes, driver: int, source: Complexes, resistance: float | Complexes) -> Complexes:
    """Return the voltages that one driver causes at all vertices: Z_rd E / (R + Z_dd).

    Parameters
    ----------
    response : array, shape (vertices, f)
        Transfer impedances of this driver [ohm].
    driver : int
        Its vertex [-].
    source : array, shape (f,)
        Transform of its EMF [V s].
    resistance : float or array
        Resistance, or impedance, behind which the EMF stands [ohm].

    Returns
    -------
    array, shape (vertices, f)
        Transforms of the voltages [V s].
    """
    return np.asarray(response * (source / (resistance + response[driver])))


def _batches(frequencies: int, unknowns: int) -> Iterator[slice]:
    together = max(1, BATCH_BYTES // (16 * unknowns**2))
    yield from (slice(first, first + together) for first in range(0, frequencies, together))


def _part(media: Media, some: slice) -> Media:
    return Media(*(values[:, some] for values in media))


def _network(graph: LineGraph, media: Media, place: Indices, unknowns: int) -> _Network:
    """Return lines as branches with half their shunt part at either end."""
    own = np.zeros((media.propagation.shape[1], unknowns), dtype=np.complex128)
    for vertex, load in enumerate(loads(graph, media)):
        own[:, place[vertex]] += load
    lines = sections(graph, media)
    # both ends of a line at one potential, by lines of no length: nothing crosses it, and its shunt part remains
    apart = []
    for number, ends in enumerate(place[graph.edges].tolist()):
        if graph.length[number] == 0.0:
            continue
        for end in ends:
            own[:, end] += lines[number].shunt / (1.0 + lines[number].through / 2.0) ** 2
        if ends[0] != ends[1]:
            apart.append(number)
    across = np.empty((len(own), len(apart)), dtype=np.complex128)
    for column, number in enumerate(apart):
        across[:, column] = lines[number].through / lines[number].series
    start, end = place[graph.edges[apart]].T
    return _Network(start, end, across, own)


def _matrices(network: _Network) -> Complexes:
    """Return the nodal matrices, one for each frequency."""
    frequencies, unknowns = network.own.shape
    matrix = np.zeros((frequencies, unknowns, unknowns), dtype=np.complex128)
    every = np.arange(unknowns)
    matrix[:, every, every] = network.own
    for start, end, across in zip(network.start.tolist(), network.end.tolist(), network.across.T, strict=True):
        matrix[:, start, start] += across
        matrix[:, end, end] += across
        matrix[:, start, end] -= across
        matrix[:, end, start] -= across
    return matrix


def _through(network: _Network, voltage: Complexes) -> Complexes:
    """Return the current that leaves each unknown at given voltages of shape (frequencies, unknowns, drivers)."""
    current = network.own[..., None] * voltage
    flowing = network.across[..., None] * (voltage[:, network.start] - voltage[:, network.end])
    for column, (start, end) in enumerate(zip(network.start.tolist(), network.end.tolist(), strict=True)):
        current[:, start] += flowing[:, column]
        current[:, end] -= flowing[:, column]
    return current
