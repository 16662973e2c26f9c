"""Handovers against a circuit simulator with voltage-controlled switches, on constant R, L and C.

The simulator's switch turns over at once, in the middle of the time that a driver takes in the library. So what is
reckoned has to lie, within a hundredth of the swing, between the least and the greatest that the simulator says from one
such time earlier to one later.
"""

import json
from typing import Any

import numpy as np
import pytest

from line_circuits import graph_of, media_of
from oracle import simulator
from oracle.handover_netlist import CASES, INNER, LOOKS, SWITCHING, Handover, netlist
from oracle.regenerate_handovers import GOLDEN, said
from oracle.regenerate_lines import digest
from rs485kit.solvers.laplace import contour_of, frequencies, inverted, times
from rs485kit.solvers.line_nodal import transfer_impedances
from rs485kit.solvers.switching import Before, Ports, Sent, Switch, closed_after, closed_before

STORED: dict[str, Any] = json.loads(GOLDEN.read_text(encoding="utf-8"))
PROMISED = 1e-2
LOW = 1e-3

needs_simulator = pytest.mark.skipif(not simulator.is_installed(), reason=f"{simulator.NAME} is not on the path")


def reckoned(case: Handover) -> np.ndarray:
    """Return the voltages at the receivers at the times at which the simulator's are stored."""
    contour = contour_of(SWITCHING / 10, 8.0 * case.duration)
    graph, s = graph_of(case.circuit), frequencies(contour)
    every = np.arange(case.circuit.vertices, dtype=np.intp)
    impedance = transfer_impedances(graph, media_of(case.circuit, s), every)
    still = transfer_impedances(graph, media_of(case.circuit, np.array([LOW + 0j])), every)[:, :, 0].real
    fed = np.array([
        case.emf.get(vertex, 0.0) * (case.circuit.loads[vertex].conductance if vertex in case.circuit.loads else 0.0)
        for vertex in range(case.circuit.vertices)
    ])  # fmt: skip
    idle = still @ fed
    first, second = case.drivers
    current = (case.first - idle[first]) / (INNER[0] + still[first, first])
    voltage = idle + still[first] * current
    before = Before(float(current), (float(voltage[first]), float(voltage[second])))
    release = Switch(INNER[0], max(0.0, -case.gap), SWITCHING, "raised cosine")
    enable = Switch(INNER[1], max(0.0, case.gap), SWITCHING, "raised cosine")
    sent = Sent(case.second, tuple((enable.at + at, change, SWITCHING) for at, change in case.changes))
    both = np.array(case.drivers)
    ports = Ports(impedance[np.ix_(both, both)], still[np.ix_(both, both)])
    if case.gap < 0:
        _, found = closed_before(contour, ports, before, release, enable, sent)
    else:
        found = closed_after(contour, ports, before, release, enable, sent)
    receivers = list(case.receivers)
    spectra = np.einsum("prf,pf->rf", impedance[both][:, receivers], found.transform)
    final = found.final @ still[both][:, receivers]
    seen = voltage[receivers, None] + inverted(contour, spectra, final)
    looks = np.arange(LOOKS) * case.duration / LOOKS
    return np.array([np.interp(looks, times(contour), row) for row in seen])


def tube(name: str) -> np.ndarray:
    """Return the stored least and greatest voltages, shape (2, receivers, LOOKS)."""
    return np.array([STORED["cases"][name][key] for key in ("lowest", "highest")])


def beyond(case: Handover, limits: np.ndarray) -> float:
    """Return by how much what is reckoned is outside of what the simulator says, as a share of the swing."""
    lowest, highest = limits
    found = reckoned(case)
    outside = np.maximum(lowest - found, found - highest)
    return float(outside.max() / (highest.max() - lowest.min()))


def test_stored_results_are_of_these_cases():
    assert list(STORED["cases"]) == list(CASES)
    for name, case in CASES.items():
        assert STORED["cases"][name]["sha256"] == digest(netlist(name, case)), f"{name}: run {STORED['made_by']}"


@pytest.mark.parametrize("name", CASES)
def test_handovers_are_those_of_the_simulator(name):
    assert beyond(CASES[name], tube(name)) <= PROMISED


@pytest.mark.parametrize("name", CASES)
def test_a_handover_at_another_time_is_told_apart(name):
    case = CASES[name]
    assert beyond(case._replace(gap=case.gap * 1.1), tube(name)) > PROMISED


@needs_simulator
@pytest.mark.oracle
@pytest.mark.parametrize("name", CASES)
def test_simulator_with_longer_steps_says_the_same(name):
    assert beyond(CASES[name], said(name, CASES[name])) <= PROMISED
