"""Signals on a tree of lines: one sweep from the leaves to the root and back, at all complex frequencies at once.

    sweep = swept(graph, tree, media)            # what every vertex sees, and the ratio along every edge
    start = driven(sweep, driver, source, resistance)          # spectrum at the driver's own vertex
    everywhere = voltages(tree, sweep, driver, start)          # (vertices, f), for one driver's waveforms
    for rows, spectra in received(tree, sweep, driver, start, receivers):
        ...                                      # the same in small pieces: no array of all receivers is made

A driver is an EMF behind a resistance; undriven, its vertex has nothing but its load. Every voltage is that of the
driver times the ratios along the way, so that all drivers and all receivers come from one sweep.

With e = exp(-gamma l) and the reflection rho = (1 - Zc Y) / (1 + Zc Y) of what stands at a line's far end, a line's
near end sees (1 - rho e^2) / (Zc (1 + rho e^2)) and passes on V_far / V_near = (1 + rho) e / (1 + rho e^2). Here both
are multiplied out by 1 + Zc Y, so that neither an open end, a short, a match nor a line of no length is special, and
no exponential grows. Reflections are not limited: at a complex impedance a passive load may return more than it got.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from rs485kit.solvers.line_graph import Complexes, Indices, LineGraph, LineTree, Media, Section, loads, sections

# spectra that are handed over together: fewer calls with small arrays count for more than what fits a processor's cache
PIECE = 128


class Sweep(NamedTuple):
    """What a tree of lines looks like from every vertex: arrays of shape (vertices, frequencies).

    `admittance` is what a source at the vertex sees [S]. `down` is the ratio of a vertex's voltage to its parent's
    when the source is on the parent's side, `up` that of the parent's voltage to the vertex's when it is on the
    vertex's own side; both are meaningless at a root [-].
    """

    admittance: Complexes
    down: Complexes
    up: Complexes


def swept(graph: LineGraph, tree: LineTree, media: Media) -> Sweep:
    """Return admittances at all vertices and ratios along all edges of a tree.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].
    tree : LineTree
        The same, rooted [-].
    media : Media
        What lines and loads are made of [-].

    Returns
    -------
    Sweep
        Admittances and ratios [S, -].

    Notes
    -----
    Down: from the leaves to the root each vertex gathers what its children's lines look like. Up: each vertex
    is told what the rest looks like from it. That rest is summed over the other children, never had by subtracting
    one child from the whole, which would lose digits where that child is nearly a short. The cost is one exponential
    per kind and length and some ten operations per edge, times the number of frequencies.
    """
    shape = (graph.vertices, media.propagation.shape[1])
    admittance, down, up = np.empty((3, *shape), dtype=np.complex128)
    down[:], up[:] = 1.0, 1.0
    lines, own = sections(graph, media), loads(graph, media)
    # on the way to the root, `up` keeps what each vertex's line looks like from its parent
    for vertex in reversed(tree.order):
        admittance[vertex] = own[vertex]
        for child in tree.children[vertex]:
            admittance[vertex] += up[child]
        if tree.parent[vertex] >= 0:
            down[vertex], up[vertex] = _passed(lines[tree.edge[vertex]], admittance[vertex])
    above: dict[int, Complexes | float] = dict.fromkeys((v for v in tree.order if tree.parent[v] < 0), 0.0)
    for vertex in tree.order:
        before = own[vertex] + above[vertex]
        admittance[vertex] += above.pop(vertex)
        children = tree.children[vertex]
        for child, rest in zip(children, _others(before, [up[child].copy() for child in children]), strict=True):
            up[child], above[child] = _passed(lines[tree.edge[child]], rest)
    return Sweep(admittance, down, up)


def _passed(line: Section, far: Complexes | float) -> tuple[Complexes, Complexes]:
    """Return the ratio of far to near voltage and the admittance at the near end of a line, by that at its far end."""
    scale = 1.0 / (line.sum + far * line.series)
    return line.through * scale, (far * line.sum + line.shunt) * scale


def _others(own: Complexes | float, branches: Sequence[Complexes]) -> Iterator[Complexes | float]:
    """Give for each branch the sum of `own` and all the other branches, without a subtraction."""
    behind: list[Complexes | float] = [0.0]
    for branch in reversed(branches[1:]):
        behind.append(behind[-1] + branch)
    for branch in branches:
        yield own + behind.pop()
        own = own + branch


def driven(sweep: Sweep, driver: int, source: Complexes, resistance: float | Complexes) -> Complexes:
    """Return the voltage at a driver's own vertex: V = E / (1 + R Y).

    Parameters
    ----------
    sweep : Sweep
        The tree of lines [-].
    driver : int
        Its vertex [-].
    source : array, shape (f,)
        Transform of its EMF [V s].
    resistance : float or array
        Resistance, or impedance, behind which the EMF stands [ohm].

    Returns
    -------
    array, shape (f,)
        Transform of the voltage [V s].
    """
    return np.asarray(source / (1.0 + resistance * sweep.admittance[driver]))


def voltages(tree: LineTree, sweep: Sweep, driver: int, start: Complexes) -> Complexes:
    """Return the voltages that one driver causes at all vertices.

    Parameters
    ----------
    tree : LineTree
        The tree [-].
    sweep : Sweep
        Its ratios [-].
    driver : int
        Vertex of the driver [-].
    start : array, shape (f,)
        Voltage there [V s].

    Returns
    -------
    array, shape (vertices, f)
        Voltages, zero where no line leads [V s].
    """
    result = np.zeros_like(sweep.down)
    for rows, spectra in received(tree, sweep, driver, start, np.arange(len(tree.order))):
        result[rows] = spectra
    return result


def received(
    tree: LineTree, sweep: Sweep, driver: int, start: Complexes, receivers: Indices, *, piece: int = PIECE
) -> Iterator[tuple[Indices, Complexes]]:
    """Give the voltages that one driver causes at receivers, a few receivers at a time.

    Parameters
    ----------
    tree : LineTree
        The tree [-].
    sweep : Sweep
        Its ratios [-].
    driver : int
        Vertex of the driver [-].
    start : array, shape (f,)
        Voltage there [V s].
    receivers : array of int
        Vertices where voltages are asked for, each once [-].
    piece : int
        How many are given at a time, at the most [-].

    Returns
    -------
    tuple of arrays, of shape (k,) and (k, f)
        Which of the receivers they are, by their place in `receivers`, in the order of the march; and their voltages
        [V s], in memory that the next piece overwrites [-].

    Notes
    -----
    The march goes outward from the driver and takes the largest branch last, so that a vertex's voltage may be
    overwritten by that of its last child: log2 of the vertices are kept, whatever the depth.
    """
    place = {int(vertex): row for row, vertex in enumerate(receivers)}
    kept = list(np.empty((max(tree.turns) + 3, len(start)), dtype=np.complex128))
    piece_of = np.empty((piece, len(start)), dtype=np.complex128)
    slots = list(piece_of)
    rows: list[int] = []
    kept[0][:] = start
    multiply, children = np.multiply, tree.children
    for vertex, source, ratio, target in _march(tree, sweep, driver):
        row = place.pop(vertex, None)
        if row is None:
            multiply(kept[source], ratio, kept[target])
            continue
        slot = slots[len(rows)]
        if children[vertex]:
            multiply(kept[source], ratio, kept[target])
            slot[:] = kept[target]
        else:
            multiply(kept[source], ratio, slot)
        rows.append(row)
        if len(rows) == piece:
            yield np.array(rows, dtype=np.intp), piece_of
            rows.clear()
    if rows:
        yield np.array(rows, dtype=np.intp), piece_of[: len(rows)]
    apart = np.array(list(place.values()), dtype=np.intp)
    for first in range(0, len(apart), piece):
        some = apart[first : first + piece]
        piece_of[: len(some)] = 0.0
        yield some, piece_of[: len(some)]


def _march(tree: LineTree, sweep: Sweep, driver: int) -> Iterator[tuple[int, int, Complexes | float, int]]:
    """Give (vertex, where its neighbour's voltage is kept, ratio, where to keep its own) outward from a driver.

    Places 0 and 1 hold the way to the root by turns, 0 the driver; a branch beside it has the places behind.
    """
    down, parent, turns = sweep.down, tree.parent, tree.turns
    vertex, came_from, here = driver, -1, 0
    yield driver, 0, 1.0, 0
    while True:
        for branch in tree.children[vertex]:
            if branch == came_from:
                continue
            first, shift = tree.place[branch], 2 - turns[branch]
            yield branch, here, down[branch], 2
            for below in tree.order[first + 1 : first + tree.size[branch]]:
                yield below, turns[parent[below]] + shift, down[below], turns[below] + shift
        if parent[vertex] < 0:
            return
        ratio = sweep.up[vertex]
        vertex, came_from = parent[vertex], vertex
        yield vertex, here, ratio, 1 - here
        here = 1 - here


def least_conductance(sweep: Sweep) -> float:
    """Return the least real part of any admittance relative to its magnitude: not negative for a passive network.

    Parameters
    ----------
    sweep : Sweep
        The tree of lines [-].

    Returns
    -------
    float
        Least of Re Y / |Y| over vertices and frequencies; rounding may take it some 1e-15 below zero [-].
    """
    magnitude = np.abs(sweep.admittance)
    ratio = np.divide(sweep.admittance.real, magnitude, out=np.zeros_like(magnitude), where=magnitude > 0)
    return float(ratio.min())
