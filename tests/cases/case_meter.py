"""Meter readings from the solved network: a line against a common, and the resistance between the lines.

The rooms below the analyses solve them already; no analysis offers them yet.
"""

import numpy as np

import rs485kit as rk
from rs485kit.network import Network, idle_network
from rs485kit.solvers.nodal import potentials


def _solved(network: Network, injected: np.ndarray, *, alive: bool) -> np.ndarray:
    given = network.given[:, None] if alive else np.zeros((len(network.fixed), 1))
    return potentials(network.layout, network.branches, injected, network.fixed, given)[:, 0]


def line_voltages(bus: rk.Bus, node: str) -> tuple[float, float]:
    """Return what a voltmeter reads while nobody drives: a node's two lines, noninverting first, to its common [V]."""
    network = idle_network(bus)
    potential = _solved(network, network.injected(network.emf[:, None]), alive=True)
    noninverting, inverting, common = potential[network.terminals[network.nodes.index(node)]]
    return float(noninverting - common), float(inverting - common)


def pair_resistance(bus: rk.Bus, node: str) -> float:
    """Return what an ohmmeter reads between a node's lines, all sources dead: 1 A in at one, out at the other [ohm]."""
    network = idle_network(bus)
    first, second, _ = network.terminals[network.nodes.index(node)]
    injected = np.zeros((network.layout.size, 1))
    injected[first], injected[second] = 1.0, -1.0
    potential = _solved(network, injected, alive=False)
    return float(potential[first] - potential[second])
