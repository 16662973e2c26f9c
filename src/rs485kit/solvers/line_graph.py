"""Lines between vertices: which graph they form, and what each of them does to a signal at many frequencies at once.

    graph = LineGraph(vertices, edges, kind, length, load)      # topology and lengths [m]
    media = Media(propagation, impedance, load)                 # per kind of line and of load, over frequencies s
    tree = line_tree(graph)                                     # None where the graph has a ring

A *kind* of line is a cable with its gamma(s) and characteristic impedance; many edges share a few kinds. A kind of
load is the whole admittance that stands across the pair at a vertex. `conductance_and_capacitance` and
`resistance_and_capacitance` give the two common ones. Trees are solved by `sweep`, graphs with rings by `line_nodal`.
"""

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Complexes: TypeAlias = NDArray[np.complex128]
Indices: TypeAlias = NDArray[np.intp]

NO_LOAD = -1


class LineGraph(NamedTuple):
    """Lines between pairs of vertices, in any order and direction.

    `edges` has shape (m, 2), `kind` and `length` [m] shape (m,). `load` names the kind of load at each vertex, or
    NO_LOAD.
    """

    vertices: int
    edges: Indices
    kind: Indices
    length: Floats
    load: Indices


class Media(NamedTuple):
    """What lines and loads are made of, at f complex frequencies.

    `propagation` [1/m] and `impedance` [ohm] have shape (kinds of line, f), `load` [S] has (kinds of load, f).
    """

    propagation: Complexes
    impedance: Complexes
    load: Complexes


class LineTree(NamedTuple):
    """A graph without rings, rooted: `order` has every vertex behind its parent and each branch in one piece.

    `parent` and `edge` (to the parent) are -1 at a root. Branches stand with the largest last. `place` is where a
    vertex stands in `order`, `size` how many vertices its branch has. `turns` counts how often one leaves the largest
    branch on the way from the root: at most log2 of the vertices, whatever the depth.
    """

    order: tuple[int, ...]
    parent: tuple[int, ...]
    edge: tuple[int, ...]
    children: tuple[tuple[int, ...], ...]
    place: tuple[int, ...]
    size: tuple[int, ...]
    turns: tuple[int, ...]


class Section(NamedTuple):
    """A line of given length by its exponentials, free of hyperbolic functions of a large argument.

    With x = gamma * length: `through` = 2 exp(-x), `sum` = 1 + exp(-2x), and the difference 1 - exp(-2x) times the
    characteristic impedance (`series` [ohm]) and admittance (`shunt` [S]).
    """

    through: Complexes
    sum: Complexes
    series: Complexes
    shunt: Complexes


def line_tree(graph: LineGraph) -> LineTree | None:
    """Return a graph as a rooted tree, or several where it falls apart; None where it has a ring.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].

    Returns
    -------
    LineTree or None
        The tree, rooted at the first vertex of each part [-].
    """
    around: list[list[tuple[int, int]]] = [[] for _ in range(graph.vertices)]
    for number, (a, b) in enumerate(graph.edges.tolist()):
        around[a].append((b, number))
        around[b].append((a, number))
    parent, edge, seen = [-1] * graph.vertices, [-1] * graph.vertices, [False] * graph.vertices
    found: list[int] = []
    roots = []
    for root in range(graph.vertices):
        if seen[root]:
            continue
        roots.append(root)
        seen[root] = True
        waiting = [root]
        while waiting:
            vertex = waiting.pop()
            found.append(vertex)
            for neighbour, number in around[vertex]:
                if number == edge[vertex]:
                    continue
                if seen[neighbour]:
                    return None
                seen[neighbour], parent[neighbour], edge[neighbour] = True, vertex, number
                waiting.append(neighbour)
    return _ordered(roots, found, parent, edge)


def _ordered(roots: list[int], found: list[int], parent: list[int], edge: list[int]) -> LineTree:
    """Return a tree whose vertices are found parents first, in the order that its sweep takes them."""
    size, branches = [1] * len(parent), [list[int]() for _ in parent]
    for vertex in reversed(found):
        if parent[vertex] >= 0:
            size[parent[vertex]] += size[vertex]
            branches[parent[vertex]].append(vertex)
    turns = [0] * len(parent)
    order: list[int] = []
    waiting = list(reversed(roots))
    while waiting:
        vertex = waiting.pop()
        order.append(vertex)
        branches[vertex].sort(key=size.__getitem__)
        for branch in branches[vertex]:
            turns[branch] = turns[vertex] + 1
        if branches[vertex]:
            turns[branches[vertex][-1]] = turns[vertex]
        waiting += reversed(branches[vertex])
    place = [0] * len(parent)
    for number, vertex in enumerate(order):
        place[vertex] = number
    children = tuple(map(tuple, branches))
    return LineTree(tuple(order), tuple(parent), tuple(edge), children, tuple(place), tuple(size), tuple(turns))


def sections(graph: LineGraph, media: Media) -> list[Section]:
    """Return every edge's line by its exponentials; edges of one kind and length share theirs.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].
    media : Media
        What they are made of [-].

    Returns
    -------
    list of Section
        One for each edge [-].
    """
    known: dict[tuple[int, float], Section] = {}
    result = []
    for key in zip(graph.kind.tolist(), graph.length.tolist(), strict=True):
        if key not in known:
            known[key] = _section(media.propagation[key[0]], media.impedance[key[0]], key[1])
        result.append(known[key])
    return result


def _section(propagation: Complexes, impedance: Complexes, length: float) -> Section:
    # 1 - exp(-2x) by its parts, so that a line much shorter than a wave loses no digits
    attenuation, phase = propagation.real * length, propagation.imag * length
    left, sine, cosine = np.exp(-attenuation), np.sin(phase), np.cos(phase)
    through, difference = np.empty((2, len(propagation)), dtype=np.complex128)
    through.real, through.imag = 2.0 * left * cosine, -2.0 * left * sine
    swing = 2.0 * left * left * sine
    difference.real, difference.imag = swing * sine - np.expm1(-2.0 * attenuation), swing * cosine
    return Section(through, 2.0 - difference, difference * impedance, difference / impedance)


def loads(graph: LineGraph, media: Media) -> list[Complexes | float]:
    """Return the admittance that stands across the pair at each vertex, 0.0 where there is none.

    Parameters
    ----------
    graph : LineGraph
        Lines between vertices [-].
    media : Media
        What stands at them [-].

    Returns
    -------
    list of array or float
        One for each vertex [S].
    """
    return [0.0 if kind == NO_LOAD else media.load[kind] for kind in graph.load.tolist()]


def conductance_and_capacitance(s: Complexes, conductance: float, capacitance: float) -> Complexes:
    """Return the admittance of a resistor beside a capacitor: G + s C.

    Parameters
    ----------
    s : array
        Complex frequencies [rad/s].
    conductance : float
        Conductance G [S].
    capacitance : float
        Capacitance C [F].

    Returns
    -------
    array
        Admittance [S].
    """
    return conductance + s * capacitance


def resistance_and_capacitance(s: Complexes, resistance: float, capacitance: float) -> Complexes:
    """Return the admittance of a resistor in series with a capacitor: s C / (1 + s R C).

    Parameters
    ----------
    s : array
        Complex frequencies [rad/s].
    resistance : float
        Resistance R [ohm].
    capacitance : float
        Capacitance C [F].

    Returns
    -------
    array
        Admittance [S].
    """
    return s * capacitance / (1.0 + s * resistance * capacitance)
