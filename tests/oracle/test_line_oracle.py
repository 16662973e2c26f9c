"""Signals on lines against a circuit simulator in time and a network library in frequency.

On constant R, L and C the waveforms agree with the simulator's to 2e-4 of the swing, most of it what the step of either
leaves; 0.5 % is promised, a tenth of that is asked. Frequency responses agree to 1e-12; 1e-9 is asked. What the
simulators said was stored by regenerate_lines.py; tests marked `oracle` ask the circuit simulator again.
"""

import json
from typing import Any

import numpy as np
import pytest

from line_circuits import Circuit, Load, at_rest, graph_of, media_of, pair_of, transfers
from oracle import simulator
from oracle.line_networks import CASES, EDGE, RASTER, SOURCE_OHMS, Case, netlist
from oracle.line_simulator import waveforms
from oracle.regenerate_lines import GOLDEN, HERTZ, digest, samples
from rs485kit.solvers.laplace import Contour, contour_of, edge_transform, frequencies, halving_error, resolved
from rs485kit.solvers.line_nodal import nodal_voltages, transfer_impedances

STORED: dict[str, Any] = json.loads(GOLDEN.read_text(encoding="utf-8"))
NAMES = list(CASES)
PROMISED = 5e-3
ASKED = PROMISED / 10
ALGEBRA = 1e-9

needs_simulator = pytest.mark.skipif(not simulator.is_installed(), reason=f"{simulator.NAME} is not on the path")


def respond(case: Case, contour: Contour) -> np.ndarray:
    """Return transforms at the receivers for the driver's edge."""
    s = frequencies(contour)
    everywhere = transfers(case.circuit, s, case.driver, SOURCE_OHMS)
    return everywhere[list(case.receivers)] * edge_transform(s, EDGE, "raised cosine")


def swings(case: Case) -> np.ndarray:
    """Return the voltages at rest at the receivers."""
    return at_rest(case.circuit, case.driver, SOURCE_OHMS)[list(case.receivers)]


def stored(name: str, key: str) -> np.ndarray:
    return np.array([STORED["cases"][name][key][str(vertex)] for vertex in CASES[name]().receivers])


def test_stored_results_are_of_these_cases():
    assert list(STORED["cases"]) == NAMES
    for name, build in CASES.items():
        again = digest(netlist(name, build()))
        assert STORED["cases"][name]["sha256"] == again, f"{name} has changed: run {STORED['made_by']}"


def test_simulator_was_run_with_steps_that_do_not_matter():
    for name, build in CASES.items():
        assert STORED["cases"][name]["step_effect"] <= ASKED * swings(build()).min(), name


@pytest.mark.parametrize("name", NAMES)
def test_waveforms_are_those_of_the_simulator(name):
    case = CASES[name]()
    final = swings(case)
    _, found = resolved(lambda c: respond(case, c), contour_of(RASTER, 2.1 * case.duration), final)
    difference = np.abs(found[:, samples(case)] - stored(name, "volts"))
    assert (difference.max(axis=1) <= ASKED * final).all()


@pytest.mark.parametrize("name", NAMES)
def test_longest_step_keeps_the_promise(name):
    # 1/5 of the edge, the coarsest that a contour is chosen with, looked at where the rasters meet
    case = CASES[name]()
    final = swings(case)
    contour, found = resolved(lambda c: respond(case, c), contour_of(EDGE / 5, 2.1 * case.duration), final)
    coarse = round(EDGE / 5 / RASTER)
    common = samples(case) % coarse == 0
    assert common.sum() > 8
    difference = np.abs(found[:, samples(case)[common] // coarse] - stored(name, "volts")[:, common])
    assert (difference.max(axis=1) <= PROMISED * final).all()
    assert halving_error(lambda c: respond(case, c), contour, final) <= PROMISED * final.max()


@pytest.mark.parametrize("name", NAMES)
def test_frequency_responses_are_those_of_the_network_library(name):
    case = CASES[name]()
    found = transfers(case.circuit, 2j * np.pi * np.array(HERTZ), case.driver, SOURCE_OHMS)[list(case.receivers)]
    expected = stored(name, "response") @ np.array([1, 1j])
    np.testing.assert_allclose(found, expected, rtol=ALGEBRA, atol=ALGEBRA)


@pytest.mark.parametrize("name", NAMES)
def test_nodal_form_gives_the_same_responses(name):
    case, s = CASES[name](), 2j * np.pi * np.array(HERTZ)
    impedance = transfer_impedances(graph_of(case.circuit), media_of(case.circuit, s), np.array([case.driver]))[0]
    found = nodal_voltages(impedance, case.driver, np.ones_like(s), SOURCE_OHMS)[list(case.receivers)]
    expected = stored(name, "response") @ np.array([1, 1j])
    np.testing.assert_allclose(found, expected, rtol=ALGEBRA, atol=ALGEBRA)


@pytest.mark.parametrize("name", NAMES)
def test_network_library_says_again_what_is_stored(name):
    pytest.importorskip("skrf")
    from oracle.cascade import responses

    expected = stored(name, "response") @ np.array([1, 1j])
    np.testing.assert_allclose(responses(CASES[name](), np.array(HERTZ)), expected, rtol=ALGEBRA, atol=ALGEBRA)


@pytest.mark.oracle
@needs_simulator
@pytest.mark.parametrize("name", NAMES)
def test_simulator_says_again_what_is_stored(name):
    case, old = CASES[name](), STORED["cases"][name]
    # stored is the run with half the step
    _, volts = waveforms(netlist(name, case), len(case.receivers))
    allowed = 1.1 * old["step_effect"] + 1e-6
    np.testing.assert_allclose(volts[:, samples(case)], stored(name, "volts"), rtol=0, atol=allowed)


def ring() -> Case:
    """A ring of four lines with a tail and a stub, terminated at the tail."""
    pair, other = pair_of(120, 2e8, 0.17), pair_of(100, 1.8e8, 0.19)
    lines = [
        (0, 1, pair, 30.0),
        (1, 2, other, 50.0),
        (2, 3, pair, 40.0),
        (3, 0, pair, 25.0),
        (2, 4, pair, 60.0),
        (1, 5, pair, 4.0),
    ]
    node = Load(conductance=1 / 12e3, capacitance=60e-12)
    return Case(Circuit(lines, {0: node, 4: Load(conductance=1 / 120), 5: node}), 0, (0, 2, 4, 5), 4e-6)


@pytest.mark.oracle
@needs_simulator
def test_ring_agrees_with_the_simulator():
    case = ring()
    rows = list(case.receivers)

    def around(contour: Contour) -> np.ndarray:
        s = frequencies(contour)
        impedance = transfer_impedances(graph_of(case.circuit), media_of(case.circuit, s), np.array([0]))[0]
        return nodal_voltages(impedance, 0, edge_transform(s, EDGE, "raised cosine"), SOURCE_OHMS)[rows]

    _, volts = waveforms(netlist("ring", case), len(rows))
    slow = transfer_impedances(graph_of(case.circuit), media_of(case.circuit, np.array([1e-3 + 0j])), np.array([0]))[0]
    final = nodal_voltages(slow, 0, np.ones(1, dtype=complex), SOURCE_OHMS)[rows, 0].real
    _, found = resolved(around, contour_of(RASTER, 2.1 * case.duration), final)
    count = volts.shape[1]
    assert (np.abs(found[:, :count] - volts).max(axis=1) <= ASKED * final).all()
