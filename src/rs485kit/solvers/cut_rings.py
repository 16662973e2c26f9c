"""Signals on lines that close a few rings: the tree that is left when they are cut, and the cut lines put back.

    kept, cut = spanning(graph)                         # edges of a tree, and one edge for every ring
    rings = put_back(graph, media, kept, cut)           # once for all drivers
    everywhere = ring_voltages(rings, driver, source, resistance)       # (vertices, f)

With Z0 the transfer impedances of the tree, E the ends of the cut lines and Y their admittances, the network has

    Z = Z0 - Z0_E (1 + Y Z0_EE)^-1 Y Z0_E^T.

A column of Z0 is one march over the tree, so the cost is that of a tree and a small matrix for each frequency. The
longest line of each ring is cut: it loses most, so that the least has to be put right.
"""

from typing import NamedTuple

import numpy as np

from rs485kit.solvers.line_graph import Complexes, Indices, LineGraph, LineTree, Media, line_tree, sections
from rs485kit.solvers.sweep import Sweep, swept, voltages


class Rings(NamedTuple):
    """A network with its rings cut and put back.

    `ends` are the vertices of the cut lines' ends, two for each; `columns` what a unit current into each of them
    causes on the tree, shape (ends, vertices, f) [ohm]; `weights` is (1 + Y Z0_EE)^-1 Y, shape (f, ends, ends) [S].
    """

    tree: LineTree
    sweep: Sweep
    ends: Indices
    columns: Complexes
    weights: Complexes


def spanning(graph: LineGraph) -> tuple[Indices, Indices]:
    """Return the edges of a tree over a graph, or of several where it falls apart, and the edges that are left over.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].

    Returns
    -------
    tuple of arrays of int
        Edges kept, and edges cut: the longest of each ring [-].
    """
    group = list(range(graph.vertices))

    def root(vertex: int) -> int:
        while group[vertex] != vertex:
            group[vertex] = group[group[vertex]]
            vertex = group[vertex]
        return vertex

    kept: list[int] = []
    cut: list[int] = []
    for edge in np.argsort(graph.length, kind="stable").tolist():
        a, b = (root(int(vertex)) for vertex in graph.edges[edge])
        (cut if a == b else kept).append(edge)
        group[a] = b
    return np.array(sorted(kept), dtype=np.intp), np.array(sorted(cut), dtype=np.intp)


def put_back(graph: LineGraph, media: Media, kept: Indices, cut: Indices) -> Rings:
    """Return a network with its rings cut and put back.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].
    media : Media
        What they are made of [-].
    kept, cut : array of int
        Edges of the tree and edges that close rings, as `spanning` gives them; those cut have a length [-].

    Returns
    -------
    Rings
        Ready for any driver [-].
    """
    frequencies = media.propagation.shape[1]
    left = graph._replace(edges=graph.edges[kept], kind=graph.kind[kept], length=graph.length[kept])
    tree = line_tree(left)
    assert tree is not None, "the kept edges close a ring"
    sweep = swept(left, tree, media)
    ends = graph.edges[cut].reshape(-1)
    columns = np.array([_column(tree, sweep, int(end)) for end in ends]).reshape(len(ends), graph.vertices, frequencies)
    lines = sections(graph._replace(edges=graph.edges[cut], kind=graph.kind[cut], length=graph.length[cut]), media)
    admittance = np.zeros((frequencies, len(ends), len(ends)), dtype=np.complex128)
    for number, line in enumerate(lines):
        # y11 = coth(x) / Zc and y12 = -1 / (Zc sinh(x)), by the exponentials of the section
        first, second = 2 * number, 2 * number + 1
        admittance[:, first, first] = admittance[:, second, second] = line.sum / line.series
        admittance[:, first, second] = admittance[:, second, first] = -line.through / line.series
    between = columns[:, ends].transpose(2, 0, 1)
    weights: Complexes = np.linalg.solve(np.eye(len(ends)) + admittance @ between, admittance).astype(np.complex128)
    return Rings(tree, sweep, ends, columns, weights)


def ring_voltages(rings: Rings, driver: int, source: Complexes, resistance: float | Complexes) -> Complexes:
    """Return the voltages that one driver causes at all vertices.

    Parameters
    ----------
    rings : Rings
        The network [-].
    driver : int
        Vertex of the driver [-].
    source : array, shape (f,)
        Transform of its EMF [V s].
    resistance : float or array
        Resistance behind which the EMF stands [ohm].

    Returns
    -------
    array, shape (vertices, f)
        Voltages [V s].
    """
    impedance = ring_impedances(rings, driver)
    scale: Complexes = source / (resistance + impedance[driver])
    return impedance * scale


def ring_impedances(rings: Rings, vertex: int) -> Complexes:
    """Return the voltages that a unit current into a vertex causes at all vertices.

    Parameters
    ----------
    rings : Rings
        The network [-].
    vertex : int
        The vertex [-].

    Returns
    -------
    array, shape (vertices, f)
        Transfer impedances [ohm].
    """
    impedance = _column(rings.tree, rings.sweep, vertex)
    taken = np.einsum("fij,jf->if", rings.weights, impedance[rings.ends])
    for column, current in zip(rings.columns, taken, strict=True):
        impedance -= column * current
    return impedance


def _column(tree: LineTree, sweep: Sweep, vertex: int) -> Complexes:
    """Return the voltages that a unit current into a vertex of the tree causes, shape (vertices, f) [ohm]."""
    return voltages(tree, sweep, vertex, 1.0 / sweep.admittance[vertex])
