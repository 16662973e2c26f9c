"""Nodal analysis of a resistive network: conductors at the vertices of a graph, and a few terminals beside it.

Unknowns are numbered vertex by vertex, `width` of them each, then the border: terminals, such as earths, that
may touch any vertex. The border is closed by a Schur complement, so that the graph keeps its small blocks.
"""

from typing import NamedTuple

import numpy as np

from rs485kit.solvers.elimination import Floats, Indices, Plan, eliminated, elimination_plan


class Layout(NamedTuple):
    """The shape of a network: vertices with `width` unknowns each, edges between them, border terminals."""

    vertices: int
    width: int
    border: int
    edges: Indices
    plan: Plan

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.vertices * self.width + self.border


class Branches(NamedTuple):
    """Conductances between pairs of unknowns."""

    start: Indices
    end: Indices
    conductance: Floats


def network_layout(vertices: int, width: int, border: int, edges: Indices) -> Layout:
    """Return the shape of a network with its order of elimination.

    Parameters
    ----------
    vertices : int
        Number of vertices [-].
    width : int
        Unknowns at each vertex [-].
    border : int
        Terminals beside the graph [-].
    edges : array, shape (m, 2)
        Pairs of vertices between which branches run, each pair once [-].

    Returns
    -------
    Layout
        The shape [-].
    """
    return Layout(vertices, width, border, edges, elimination_plan(vertices, edges))


def datum_unknowns(layout: Layout, branches: Branches, fixed: Indices) -> Indices:
    """Return one unknown of each part of the network that no branch joins to a fixed one.

    Such a part has no potential of its own: its datum is arbitrary, and only differences within it mean anything.

    Parameters
    ----------
    layout : Layout
        Shape of the network [-].
    branches : Branches
        Its branches [S].
    fixed : array of int
        Unknowns whose potential is given [-].

    Returns
    -------
    array of int
        The unknowns to be pinned [-].
    """
    part = list(range(layout.size))

    def root(unknown: int) -> int:
        while part[unknown] != unknown:
            part[unknown] = part[part[unknown]]
            unknown = part[unknown]
        return unknown

    joining = branches.conductance > 0
    for start, end in zip(branches.start[joining].tolist(), branches.end[joining].tolist(), strict=True):
        a, b = root(start), root(end)
        if a != b:
            part[max(a, b)] = min(a, b)
    held = {root(unknown) for unknown in fixed.tolist()}
    loose = [unknown for unknown in range(layout.size) if part[unknown] == unknown and unknown not in held]
    return np.array(loose, dtype=np.intp)


def potentials(layout: Layout, branches: Branches, injected: Floats, fixed: Indices, given: Floats) -> Floats:
    """Return the potentials of a resistive network.

    Parameters
    ----------
    layout : Layout
        Shape of the network [-].
    branches : Branches
        Conductances between unknowns [S].
    injected : array, shape (size, k)
        Current fed into each unknown, for k sets of sources [A].
    fixed : array of int, shape (f,)
        Unknowns whose potential is given; every part of the network needs one [-].
    given : array, shape (f, k)
        Their potentials [V].

    Returns
    -------
    array, shape (size, k)
        The potentials [V].

    Raises
    ------
    numpy.linalg.LinAlgError
        If a part of the network has no fixed unknown.

    Notes
    -----
    Kirchhoff's current law at every unknown, G v = i, with rows and columns of fixed unknowns moved to the right.
    With the border y beside the graph x: (C - B^T A^-1 B) y = g - B^T A^-1 f, x = A^-1 (f - B y).
    """
    size, columns = layout.size, injected.shape[1]
    potential = np.zeros((size, columns))
    potential[fixed] = given
    is_fixed = np.zeros(size, dtype=np.bool_)
    is_fixed[fixed] = True
    right = np.where(is_fixed[:, None], potential, injected - _through(branches, potential, size))
    free = ~(is_fixed[branches.start] | is_fixed[branches.end])
    diagonal, coupling, to_border, border = _assembled(layout, branches, free, is_fixed)
    inner = layout.vertices * layout.width
    sides = np.concatenate((right[:inner], to_border), axis=1).reshape(layout.vertices, layout.width, -1)
    solved = eliminated(layout.plan, diagonal, coupling, sides).reshape(inner, -1)
    inside, response = solved[:, :columns], solved[:, columns:]
    if layout.border:
        beside = np.linalg.solve(border - to_border.T @ response, right[inner:] - to_border.T @ inside)
        inside = inside - response @ beside
        return np.concatenate((inside, beside))
    return np.ascontiguousarray(inside)


def _through(branches: Branches, potential: Floats, size: int) -> Floats:
    """Return the current that leaves each unknown through the branches at given potentials."""
    current = branches.conductance[:, None] * (potential[branches.start] - potential[branches.end])
    result = np.zeros((size, potential.shape[1]))
    np.add.at(result, branches.start, current)
    np.subtract.at(result, branches.end, current)
    return result


def _assembled(
    layout: Layout, branches: Branches, free: np.ndarray, is_fixed: np.ndarray
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return blocks on the diagonal, couplings of edges, and the border's couplings and own block."""
    width, inner = layout.width, layout.vertices * layout.width
    own = np.zeros(layout.size)
    for end in (branches.start, branches.end):
        np.add.at(own, end, branches.conductance)
    # an unknown that is fixed, or that nothing touches, stands alone with its value
    own[is_fixed | (own == 0)] = 1.0
    start, end, conductance = branches.start[free], branches.end[free], branches.conductance[free]
    low, high = np.minimum(start, end), np.maximum(start, end)
    diagonal = np.zeros((layout.vertices, width, width))
    index = np.arange(width)
    diagonal[:, index, index] = own[:inner].reshape(-1, width)
    inside = high < inner
    a, b = low // width, high // width
    same = inside & (a == b)
    for row, column in ((low, high), (high, low)):
        np.subtract.at(diagonal, (a[same], row[same] % width, column[same] % width), conductance[same])
    coupling = np.zeros((len(layout.edges), width, width))
    apart = inside & (a != b)
    slot, turned = _slots(layout, a[apart], b[apart])
    first, second = low[apart] % width, high[apart] % width
    np.subtract.at(
        coupling,
        (slot, np.where(turned, second, first), np.where(turned, first, second)),
        conductance[apart],
    )
    to_border = np.zeros((inner, layout.border))
    across = ~inside & (low < inner)
    np.subtract.at(to_border, (low[across], high[across] - inner), conductance[across])
    border = np.diag(own[inner:])
    beside = low >= inner
    for row, column in ((low, high), (high, low)):
        np.subtract.at(border, (row[beside] - inner, column[beside] - inner), conductance[beside])
    return diagonal, coupling, to_border, border


def _slots(layout: Layout, a: Indices, b: Indices) -> tuple[Indices, np.ndarray]:
    """Return the edge between each pair of vertices, and whether it is listed the other way round."""
    edges = layout.edges
    keys = edges.min(axis=1) * layout.vertices + edges.max(axis=1) if len(edges) else np.empty(0, dtype=np.intp)
    order = np.argsort(keys)
    slot = order[np.searchsorted(keys[order], np.minimum(a, b) * layout.vertices + np.maximum(a, b))]
    return slot, edges[slot, 0] != a
