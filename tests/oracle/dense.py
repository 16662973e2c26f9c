"""The whole circuit as one dense matrix: modified nodal analysis, numpy alone, nothing of the library's solvers.

Unknowns are the potentials of all nets and the currents of all voltage sources. One net of every island is held by a
conductance to ground, through which no current can flow.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from oracle.netlist import GROUND, Circuit

Floats = NDArray[np.float64]


def potentials(elements: Circuit, volts: Sequence[Sequence[float]] | None = None) -> dict[str, Floats]:
    """Return the potential of every net for each set of source voltages; by default the circuit's own [V]."""
    own = [[source.volts for source in elements.sources]]
    given = np.array(own if volts is None else volts, dtype=float).T
    nets = elements.nets
    row = {net: k for k, net in enumerate(nets)}
    row[GROUND] = len(nets)
    start, end, conductance = _branches(elements, row)
    matrix = np.zeros((len(nets) + 1, len(nets) + 1))
    for a, b, g in zip(start, end, conductance, strict=True):
        matrix[a, a] += g
        matrix[b, b] += g
        matrix[a, b] -= g
        matrix[b, a] -= g
    ties = np.zeros((len(nets) + 1, len(elements.sources)))
    for k, source in enumerate(elements.sources):
        ties[row[source.plus], k] += 1.0
        ties[row[source.minus], k] -= 1.0
    system = np.block([[matrix[:-1, :-1], ties[:-1]], [ties[:-1].T, np.zeros((ties.shape[1],) * 2)]])
    solution = np.zeros((len(system), given.shape[1]))
    for _ in range(3):
        # residuals from differences of potential, which lose nothing beside the sums on the diagonal
        potential = np.vstack((solution[: len(nets)], np.zeros(given.shape[1])))
        current = conductance[:, None] * (potential[start] - potential[end])
        leaving = ties @ solution[len(nets) :]
        np.add.at(leaving, start, current)
        np.subtract.at(leaving, end, current)
        solution += np.linalg.solve(system, np.vstack((-leaving[:-1], given - ties.T @ potential)))
    return {net: solution[k] for net, k in row.items() if net != GROUND} | {GROUND: np.zeros(given.shape[1])}


def _branches(elements: Circuit, row: dict[str, int]) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    held = [(row[net], row[GROUND], 1e-3) for net in elements.islands()]
    all_of_them = [(row[each.start], row[each.end], 1.0 / each.ohms) for each in elements.resistors] + held
    start, end, conductance = zip(*all_of_them, strict=True) if all_of_them else ((), (), ())
    return np.array(start, dtype=np.intp), np.array(end, dtype=np.intp), np.array(conductance, dtype=float)


def differences(elements: Circuit, names: Sequence[str], volts: Sequence[Sequence[float]] | None = None) -> Floats:
    """Return the voltage across the own lines of each node, for each set of sources [V]."""
    found = potentials(elements, volts)
    own = (elements.terminals[name] for name in names)
    return np.array([found[plus] - found[minus] for plus, minus, _ in own])


def against_common(elements: Circuit, names: Sequence[str], volts: Sequence[Sequence[float]] | None = None) -> Floats:
    """Return the voltage of each node's two lines against its own common, for each set of sources [V]."""
    found = potentials(elements, volts)
    own = (elements.terminals[name] for name in names)
    return np.array([[found[plus] - found[common], found[minus] - found[common]] for plus, minus, common in own])
