"""Nodal analysis of a resistive network: conductors at the vertices of a graph, and a few terminals beside it.

Unknowns are numbered vertex by vertex, `width` of them each, then the border: terminals, such as earths, that
may touch any vertex. The border is closed by a Schur complement, so that the graph keeps its small blocks.
"""

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from rs485kit.solvers.elimination import Floats, Indices, Plan, Values, eliminated, elimination_plan
from rs485kit.solvers.sums import summed

MOST_PASSES = 4
SETTLED = 1e-9

Phasors: TypeAlias = NDArray[np.complex128]


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
    """Conductances, or admittances of one frequency, between pairs of unknowns."""

    start: Indices
    end: Indices
    conductance: Values


class _System(NamedTuple):
    """Blocks on the diagonal, couplings of edges, and the border's couplings and own block."""

    diagonal: Values
    coupling: Values
    to_border: Values
    border: Values


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
    joining = branches.conductance != 0
    part = joined_parts(layout.size, branches.start[joining], branches.end[joining])
    held = set(part[fixed].tolist())
    loose = [unknown for unknown in range(layout.size) if part[unknown] == unknown and unknown not in held]
    return np.array(loose, dtype=np.intp)


def joined_parts(size: int, start: Indices, end: Indices) -> Indices:
    """Return for each unknown the least unknown of the part that branches join it to.

    Parameters
    ----------
    size : int
        Number of unknowns [-].
    start, end : array of int
        Ends of the branches [-].

    Returns
    -------
    array of int, shape (size,)
        One unknown for each part [-].
    """
    part = list(range(size))

    def root(unknown: int) -> int:
        while part[unknown] != unknown:
            part[unknown] = part[part[unknown]]
            unknown = part[unknown]
        return unknown

    for first, second in zip(start.tolist(), end.tolist(), strict=True):
        a, b = root(first), root(second)
        if a != b:
            part[max(a, b)] = min(a, b)
    return np.array([root(unknown) for unknown in range(size)], dtype=np.intp)


def potentials(
    layout: Layout,
    branches: Branches,
    injected: Floats,
    fixed: Indices,
    given: Floats,
    *,
    passes: int = MOST_PASSES,
) -> Floats:
    """Return the potentials of a resistive network.

    Parameters
    ----------
    layout : Layout
        Shape of the network [-].
    branches : Branches
        Conductances between unknowns, of shape (b,) or, for a batch of networks, (b, n) [S].
    injected : array, shape (size, k) or (size, n, k)
        Current fed into each unknown, for k sets of sources [A].
    fixed : array of int, shape (f,)
        Unknowns whose potential is given; every part of the network needs one (`datum_unknowns`), or its
        potentials are arbitrary [-].
    given : array, shape (f, k) or (f, n, k)
        Their potentials [V].
    passes : int
        How often what a solution leaves over is solved for again, at the most [-].

    Returns
    -------
    array, shape (size, k) or (size, n, k)
        The potentials [V].

    Notes
    -----
    Kirchhoff's current law at every unknown, G v = i, with rows and columns of fixed unknowns moved to the right.
    With the border y beside the graph x: (C - B^T A^-1 B) y = g - B^T A^-1 f, x = A^-1 (f - B y).

    The sum on the diagonal loses a small conductance beside a large one: a receiver input beside a span of 1 mohm
    keeps 8 of its 16 digits, beside one of 1 uohm 4. The currents g (V_start - V_end) lose nothing, so what they
    leave over is solved for again until it no longer matters (iterative refinement; every pass removes as many digits
    of error as the first one got right).
    """
    return np.asarray(_potentials(layout, branches, injected, fixed, given, passes), dtype=np.float64)


def phasor_potentials(
    layout: Layout, admittances: Branches, injected: Phasors, fixed: Indices, given: Phasors
) -> Phasors:
    """Return the potentials of a network of admittances at one frequency, as phasors.

    Parameters
    ----------
    layout : Layout
        Shape of the network [-].
    admittances : Branches
        Admittances between unknowns, shape (b,) [S].
    injected : array of complex, shape (size, k)
        Current fed into each unknown, for k sets of sources [A].
    fixed : array of int, shape (f,)
        Unknowns whose potential is given [-].
    given : array of complex, shape (f, k)
        Their potentials [V].

    Returns
    -------
    array of complex, shape (size, k)
        The potentials [V].

    Notes
    -----
    The matrix is symmetric, not Hermitian; no block is conjugated. Otherwise as `potentials`.
    """
    return np.asarray(_potentials(layout, admittances, injected, fixed, given, MOST_PASSES), dtype=np.complex128)


def _potentials(
    layout: Layout, branches: Branches, injected: Values, fixed: Indices, given: Values, passes: int
) -> Values:
    potential = np.zeros(injected.shape, dtype=np.result_type(branches.conductance, injected, given))
    potential[fixed] = given
    is_fixed = np.zeros(layout.size, dtype=np.bool_)
    is_fixed[fixed] = True
    system = _assembled(layout, branches, ~(is_fixed[branches.start] | is_fixed[branches.end]), is_fixed)
    for _ in range(passes):
        left = injected - _through(branches, potential)
        left[is_fixed] = 0.0
        correction = _solved(layout, system, left)
        potential += correction
        if np.abs(correction).max(initial=0.0) <= SETTLED * np.abs(potential).max(initial=0.0):
            break
    return potential


def _solved(layout: Layout, system: _System, right: Values) -> Values:
    """Solve the assembled system, closing the border by its Schur complement."""
    width, columns, batch = layout.width, right.shape[-1], right.shape[1:-1]
    inner = layout.vertices * width
    sides = np.concatenate((right[:inner], np.broadcast_to(system.to_border, (inner, *batch, layout.border))), axis=-1)
    blocks = np.moveaxis(sides.reshape(layout.vertices, width, *sides.shape[1:]), 1, -2)
    solved = eliminated(layout.plan, system.diagonal, system.coupling, blocks)
    solved = np.moveaxis(solved, -2, 1).reshape(inner, *sides.shape[1:])
    inside, response = solved[..., :columns], solved[..., columns:]
    to_border, known = np.moveaxis(system.to_border, 0, -2), np.moveaxis(right[inner:], 0, -2)
    turned, inside_first, response_first = np.swapaxes(to_border, -1, -2), _first(inside), _first(response)
    beside = np.linalg.solve(system.border - turned @ response_first, known - turned @ inside_first)
    return np.concatenate((inside - np.moveaxis(response_first @ beside, -2, 0), np.moveaxis(beside, -2, 0)))


def _first(values: Values) -> Values:
    """Return values with the axis of unknowns behind that of the batch."""
    return np.moveaxis(values, 0, -2)


def _through(branches: Branches, potential: Values) -> Values:
    """Return the current that leaves each unknown through the branches at given potentials."""
    current = branches.conductance[..., None] * (potential[branches.start] - potential[branches.end])
    index = np.concatenate((branches.start, branches.end))
    return summed(index, np.concatenate((current, -current)), len(potential))


def _assembled(layout: Layout, branches: Branches, free: np.ndarray, is_fixed: np.ndarray) -> _System:
    """Return blocks on the diagonal, couplings of edges, and the border's couplings and own block."""
    width, inner = layout.width, layout.vertices * layout.width
    batch = branches.conductance.shape[1:]
    own = summed(
        np.concatenate((branches.start, branches.end)),
        np.concatenate((branches.conductance, branches.conductance)),
        layout.size,
    )
    # an unknown that is fixed, or that nothing touches, stands alone with its value
    own[is_fixed] = 1.0
    own[own == 0.0] = 1.0
    start, end, conductance = branches.start[free], branches.end[free], branches.conductance[free]
    low, high = np.minimum(start, end), np.maximum(start, end)
    inside = high < inner
    a, b = low // width, high // width
    same = inside & (a == b)
    rows = np.concatenate((low[same], high[same], np.arange(inner)))
    columns = np.concatenate((high[same], low[same], np.arange(inner))) % width
    values = np.concatenate((-conductance[same], -conductance[same], own[:inner]))
    diagonal = summed(rows * width + columns, values, inner * width)
    apart = inside & (a != b)
    slot, turned = _slots(layout, a[apart], b[apart])
    first, second = low[apart] % width, high[apart] % width
    rows, columns = np.where(turned, second, first), np.where(turned, first, second)
    coupling = summed((slot * width + rows) * width + columns, -conductance[apart], len(layout.edges) * width * width)
    across = ~inside & (low < inner)
    to_border = summed(low[across] * layout.border + high[across] - inner, -conductance[across], inner * layout.border)
    beside = low >= inner
    outer = np.arange(layout.border)
    rows = np.concatenate((low[beside] - inner, high[beside] - inner, outer))
    columns = np.concatenate((high[beside] - inner, low[beside] - inner, outer))
    values = np.concatenate((-conductance[beside], -conductance[beside], own[inner:]))
    border = summed(rows * layout.border + columns, values, layout.border**2)
    return _System(
        _blocks(diagonal.reshape(layout.vertices, width, width, *batch)),
        _blocks(coupling.reshape(len(layout.edges), width, width, *batch)),
        np.moveaxis(to_border.reshape(inner, layout.border, *batch), 1, -1),
        np.moveaxis(border.reshape(layout.border, layout.border, *batch), (0, 1), (-2, -1)),
    )


def _blocks(values: Values) -> Values:
    """Return blocks with their own two axes last, behind those of the batch."""
    return np.ascontiguousarray(np.moveaxis(values, (1, 2), (-2, -1)))


def _slots(layout: Layout, a: Indices, b: Indices) -> tuple[Indices, np.ndarray]:
    """Return the edge between each pair of vertices, and whether it is listed the other way round."""
    edges = layout.edges
    keys = edges.min(axis=1) * layout.vertices + edges.max(axis=1) if len(edges) else np.empty(0, dtype=np.intp)
    order = np.argsort(keys)
    slot = order[np.searchsorted(keys[order], np.minimum(a, b) * layout.vertices + np.maximum(a, b))]
    return slot, edges[slot, 0] != a
