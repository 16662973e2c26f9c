"""Common mode against a circuit simulator, at rest and at mains frequency, fed by a netlist written apart.

Direct current agrees to 1e-9 V, phasors to 1e-6 of the largest source: the simulator needs a resistor of 10 Tohm to
ground on every part that only capacitors hold. Tests marked `oracle` ask the simulator again.
"""

import json
from typing import Any

import numpy as np
import pytest

from oracle import simulator
from oracle.ground_buses import BUSES
from oracle.regenerate_ground import GOLDEN, simulated, states
from rs485kit import analysis
from rs485kit.network import idle_network
from rs485kit.network.assembly import field_sides
from rs485kit.network.loads import drivers_of, nominal_states
from rs485kit.network.mains import driven_magnitudes, mains_of
from rs485kit.solvers.enclosure import Pairs
from rs485kit.solvers.nodal import potentials

STORED: dict[str, Any] = json.loads(GOLDEN.read_text(encoding="utf-8"))["buses"]
DIRECT, ALTERNATING = 1e-8, 5e-6
NAMES = list(BUSES)
needs_simulator = pytest.mark.skipif(not simulator.is_installed(), reason=f"{simulator.NAME} is not on the path")


def stored(name: str, key: str) -> np.ndarray:
    """Return what the simulator said, shape (states, nodes, 3)."""
    bus = BUSES[name]()
    return np.array([STORED[name][driver][key] for driver in states(bus)]).reshape(1 + len(bus.nodes), -1, 3)


@pytest.mark.parametrize("name", NAMES)
def test_lines_against_commons_at_rest(name):
    bus = BUSES[name]()
    network, drivers = idle_network(bus), drivers_of(bus)
    own = network.terminals
    pairs = Pairs(own[:, :2].ravel(), np.repeat(own[:, 2], 2))
    found = nominal_states(network, pairs, drivers).reshape(-1, len(bus.nodes), 2)[: 1 + len(drivers)]
    assert found == pytest.approx(stored(name, "rest")[:, :, :2], abs=DIRECT)


@pytest.mark.parametrize("name", NAMES)
def test_lines_against_commons_at_mains_frequency(name):
    bus = BUSES[name]()
    network, drivers = idle_network(bus), drivers_of(bus)
    own = network.terminals
    pairs = Pairs(own[:, :2].ravel(), np.repeat(own[:, 2], 2))
    found = driven_magnitudes(network, mains_of(bus, network), pairs, drivers).reshape(-1, len(bus.nodes), 2)
    assert found == pytest.approx(stored(name, "mains")[:, :, :2], abs=ALTERNATING)


@pytest.mark.parametrize("name", NAMES)
def test_commons_against_earths(name):
    bus = BUSES[name]()
    network = idle_network(bus)
    rest = potentials(
        network.layout, network.branches, network.injected(network.emf[:, None]), network.fixed, network.given[:, None]
    )[:, 0]
    field = field_sides(bus, network)
    for index, node in enumerate(bus.nodes):
        if node.barrier is None:
            assert stored(name, "rest")[0, index, 2] == pytest.approx(
                rest[network.terminals[index, 2]] - rest[field[index]], abs=DIRECT
            )
            continue
        row = analysis.common_mode(bus).barriers.at(node.name)
        assert row.mains_estimate == pytest.approx(
            stored(name, "mains")[0, index, 2], abs=ALTERNATING
        ) or np.isnan(row.mains_estimate)
        if not np.isnan(row.voltage):
            assert row.voltage == pytest.approx(stored(name, "rest")[0, index, 2], abs=DIRECT)


def test_what_floats_has_no_voltage_across_its_barrier():
    for name in ("floating_island", "floating_island_in_a_screen", "two_wires_only"):
        rows = analysis.common_mode(BUSES[name]()).barriers
        assert all(np.isnan(row.voltage) and np.isnan(row.mains) and np.isnan(row.peak) for row in rows)
    estimates = analysis.common_mode(BUSES["floating_island_in_a_screen"]()).barriers
    assert not any(np.isnan(row.mains_estimate) for row in estimates)


@pytest.mark.oracle
@needs_simulator
@pytest.mark.parametrize("name", NAMES)
def test_the_simulator_says_what_is_stored(name):
    bus = BUSES[name]()
    for driver in states(bus):
        said = simulated(bus, driver)
        assert said["sha256"] == STORED[name][driver]["sha256"]
        for key in ("rest", "mains"):
            assert said[key] == pytest.approx(STORED[name][driver][key], abs=1e-9)
