"""Lines with constant R, L and C, what stands at their ends, and one driver: for the solvers, and for a simulator."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from hypothesis import strategies as st

from rs485kit.solvers.line_graph import (
    NO_LOAD,
    Complexes,
    LineGraph,
    Media,
    conductance_and_capacitance,
    line_tree,
    resistance_and_capacitance,
)
from rs485kit.solvers.sweep import driven, swept, voltages


class Pair(NamedTuple):
    """A pair by its constants per metre of loop [ohm/m, H/m, F/m]."""

    resistance: float
    inductance: float
    capacitance: float


class Load(NamedTuple):
    """What stands across the pair: a conductance [S] and a capacitance [F], and a resistor [ohm] before a capacitor [F]."""

    conductance: float = 0.0
    capacitance: float = 0.0
    series_resistance: float = 0.0
    series_capacitance: float = 0.0


class Circuit(NamedTuple):
    """Lines (start, end, pair, length in metres) between vertices named by numbers, and loads at some of them."""

    lines: Sequence[tuple[int, int, Pair, float]]
    loads: dict[int, Load]

    @property
    def vertices(self) -> int:
        """Number of vertices."""
        return 1 + max([*self.loads, *(max(a, b) for a, b, _, _ in self.lines)])


def pair_of(impedance: float, velocity: float, resistance: float = 0.0) -> Pair:
    """Return a pair by its characteristic impedance and velocity at high frequency."""
    return Pair(resistance, impedance / velocity, 1.0 / (impedance * velocity))


def graph_of(circuit: Circuit) -> LineGraph:
    """Return the graph of a circuit."""
    pairs, loads = kinds(circuit)
    return LineGraph(
        circuit.vertices,
        np.array([line[:2] for line in circuit.lines], dtype=np.intp).reshape(-1, 2),
        np.array([pairs.index(line[2]) for line in circuit.lines], dtype=np.intp),
        np.array([line[3] for line in circuit.lines], dtype=float),
        np.array([loads.index(circuit.loads[v]) if v in circuit.loads else NO_LOAD for v in range(circuit.vertices)]),
    )


def kinds(circuit: Circuit) -> tuple[list[Pair], list[Load]]:
    """Return the different pairs and loads of a circuit."""
    return list(dict.fromkeys(line[2] for line in circuit.lines)), list(dict.fromkeys(circuit.loads.values()))


def media_of(circuit: Circuit, s: Complexes) -> Media:
    """Return what a circuit is made of at complex frequencies."""
    pairs, loads = kinds(circuit)
    propagation, impedance = np.empty((2, len(pairs), len(s)), dtype=complex)
    for row, pair in enumerate(pairs):
        series, shunt = pair.resistance + s * pair.inductance, s * pair.capacitance
        propagation[row] = np.sqrt(series * shunt)
        impedance[row] = series / propagation[row]
    admittance = np.empty((len(loads), len(s)), dtype=complex)
    for row, load in enumerate(loads):
        admittance[row] = conductance_and_capacitance(s, load.conductance, load.capacitance)
        if load.series_capacitance:
            admittance[row] += resistance_and_capacitance(s, load.series_resistance, load.series_capacitance)
    return Media(propagation, impedance, admittance)


def transfers(circuit: Circuit, s: Complexes, driver: int, resistance: float) -> Complexes:
    """Return the voltages at all vertices of a tree for an EMF of one volt, by the sweep."""
    graph = graph_of(circuit)
    tree = line_tree(graph)
    assert tree is not None
    sweep = swept(graph, tree, media_of(circuit, s))
    return voltages(tree, sweep, driver, driven(sweep, driver, np.ones(len(s), dtype=complex), resistance))


def at_rest(circuit: Circuit, driver: int, resistance: float) -> np.ndarray:
    """Return the voltages at all vertices for an EMF of one volt, at so low a frequency that no capacitance counts."""
    return transfers(circuit, np.array([1e-6 + 0j]), driver, resistance)[:, 0].real


PAIRS = st.sampled_from(
    [pair_of(120, 2e8), pair_of(100, 1.8e8, 0.17), pair_of(150, 2.3e8, 0.05), pair_of(120, 2e8, 5.0)]
)
LENGTHS = st.one_of(st.just(0.0), st.floats(0.01, 5.0), st.floats(5.0, 1500.0))
LOADS = st.one_of(
    st.tuples(st.floats(1e-6, 0.1), st.floats(0, 1e-9)).map(lambda pick: Load(*pick)),
    st.tuples(st.floats(10, 500), st.floats(1e-10, 1e-7)).map(lambda pick: Load(0.0, 0.0, *pick)),
)


@st.composite
def trees(draw: st.DrawFn, most: int = 9) -> Circuit:
    """Trees in any order and direction of their lines, some lines of no length, a load somewhere."""
    count = draw(st.integers(2, most))
    names = draw(st.permutations(range(count)))
    lines = []
    for k in range(1, count):
        ends = (names[draw(st.integers(0, k - 1))], names[k])
        lines.append((*(ends if draw(st.booleans()) else ends[::-1]), draw(PAIRS), draw(LENGTHS)))
    loads = draw(st.dictionaries(st.integers(0, count - 1), LOADS, min_size=1))
    return Circuit(draw(st.permutations(lines)), loads)
