"""Signals on lines of any graph, rings included: nodal equations, frequency by frequency.

    response = transfer_impedances(graph, media, drivers)       # (drivers, vertices, f) [ohm]
    everywhere = nodal_voltages(response[k], drivers[k], source, resistance)    # (vertices, f)

A line of length l is the two-port y11 = coth(gamma l) / Zc, y12 = -1 / (Zc sinh(gamma l)), taken by exponentials that
do not grow; lines of no length join their ends. The cost grows with the cube of the vertices, so trees go to `sweep`.
"""

from collections.abc import Iterator

import numpy as np

from rs485kit.solvers.line_graph import Complexes, Indices, LineGraph, Media, loads, sections
from rs485kit.solvers.nodal import joined_parts

# how much memory the matrices of the frequencies that are solved together may take [bytes]
BATCH_BYTES = 2**25


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
    """
    merged = joined_parts(graph.vertices, *graph.edges[graph.length == 0.0].T)
    names, place = np.unique(merged, return_inverse=True)
    result = np.empty((len(drivers), graph.vertices, media.propagation.shape[1]), dtype=np.complex128)
    fed = np.zeros((len(names), len(drivers)), dtype=np.complex128)
    fed[place[drivers], np.arange(len(drivers))] = 1.0
    for some in _batches(media.propagation.shape[1], len(names)):
        solved = np.linalg.solve(_matrices(graph, _part(media, some), place, len(names)), fed)
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


def _matrices(graph: LineGraph, media: Media, place: Indices, unknowns: int) -> Complexes:
    """Return the nodal matrices, one for each frequency."""
    matrix = np.zeros((media.propagation.shape[1], unknowns, unknowns), dtype=np.complex128)
    for vertex, load in enumerate(loads(graph, media)):
        matrix[:, place[vertex], place[vertex]] += load
    for (start, end), line in zip(place[graph.edges].tolist(), sections(graph, media), strict=True):
        if start == end:
            # both ends at one potential: a line of no length, or a ring of one line, which is but a load
            loop = 2.0 * (line.sum - line.through) / line.series if line.series.any() else 0.0
            matrix[:, start, start] += loop
            continue
        own, other = line.sum / line.series, line.through / line.series
        matrix[:, start, start] += own
        matrix[:, end, end] += own
        matrix[:, start, end] -= other
        matrix[:, end, start] -= other
    return matrix
