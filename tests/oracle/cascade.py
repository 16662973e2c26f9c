"""Frequency responses of trees of lines from scikit-rf: two-ports in cascade from driver to receiver.

At every vertex on the way stand its load and its branches beside the way, each reduced to a one-port. Real port
impedances keep the definition of waves out of it.
"""

from typing import Any

import numpy as np
import skrf
from skrf.media import DistributedCircuit

from line_circuits import Circuit, Load, Pair
from oracle.line_networks import SOURCE_OHMS, Case

PORT_OHMS = 50.0


def responses(case: Case, hertz: np.ndarray) -> np.ndarray:
    """Return the voltages at the receivers for an EMF of one volt, shape (receivers, f)."""
    tree = _Tree(case.circuit, skrf.Frequency.from_f(hertz, unit="hz"))
    return np.array([tree.response(case.driver, receiver) for receiver in case.receivers])


class _Tree:
    def __init__(self, circuit: Circuit, frequency: Any) -> None:
        self.circuit, self.frequency = circuit, frequency
        self.around: dict[int, dict[int, tuple[Pair, float]]] = {v: {} for v in range(circuit.vertices)}
        for a, b, pair, length in circuit.lines:
            self.around[a][b] = self.around[b][a] = (pair, length)

    def medium(self, pair: Pair) -> Any:
        return DistributedCircuit(
            self.frequency, z0_port=PORT_OHMS, R=pair.resistance, L=pair.inductance, G=0.0, C=pair.capacitance
        )

    def line(self, start: int, end: int) -> Any:
        pair, length = self.around[start][end]
        return self.medium(pair).line(length, "m")

    def one_port(self, admittance: np.ndarray) -> Any:
        reflection = (1 - PORT_OHMS * admittance) / (1 + PORT_OHMS * admittance)
        return skrf.Network(frequency=self.frequency, s=reflection.reshape(-1, 1, 1), z0=PORT_OHMS)

    def load(self, load: Load) -> Any:
        s = 2j * np.pi * self.frequency.f
        admittance = load.conductance + s * load.capacitance
        if load.series_capacitance:
            admittance = admittance + 1 / (load.series_resistance + 1 / (s * load.series_capacitance))
        return self.one_port(admittance)

    def at(self, vertex: int, way: set[int]) -> list[Any]:
        """Return what stands across the pair at a vertex, the branches of the way left out."""
        medium = self.medium(next(iter(self.around[vertex].values()))[0])
        found = [medium.shunt(self.load(self.circuit.loads[vertex]))] if vertex in self.circuit.loads else []
        branches = [neighbour for neighbour in self.around[vertex] if neighbour not in way]
        return found + [medium.shunt(self.line(vertex, branch) ** self.branch(branch, vertex)) for branch in branches]

    def branch(self, vertex: int, came_from: int) -> Any:
        """Return the one-port of a vertex and everything behind it."""
        whole = self.one_port(np.zeros(len(self.frequency.f)))
        for part in self.at(vertex, {came_from}):
            whole = part**whole
        return whole

    def path(self, start: int, end: int, came_from: int = -1) -> list[int]:
        if start == end:
            return [end]
        for neighbour in self.around[start]:
            if neighbour != came_from and (rest := self.path(neighbour, end, start)):
                return [start, *rest]
        return []

    def response(self, driver: int, receiver: int) -> np.ndarray:
        way = self.path(driver, receiver)
        parts: list[Any] = []
        for k, vertex in enumerate(way):
            parts += [self.line(way[k - 1], vertex)] if k else []
            parts += self.at(vertex, set(way[max(k - 1, 0) : k + 2]) - {vertex})
        whole = parts[0]
        for part in parts[1:]:
            whole = whole**part
        return 1 / (whole.a[:, 0, 0] + SOURCE_OHMS * whole.a[:, 1, 0])
