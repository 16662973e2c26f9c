"""Idle levels against a circuit simulator, and against a dense matrix, both fed by a netlist written apart.

The stored results agree with the library to 8e-13 V on all buses (1.5e-13 of the largest source); 1e-9 of the largest
source is asked. What the simulator says was stored by regenerate.py; tests marked `oracle` ask it again.
"""

import json
from typing import Any

import attrs
import numpy as np
import pytest

from oracle import dense, simulator
from oracle.buses import BUSES
from oracle.netlist import Inputs, circuit
from oracle.regenerate import GOLDEN, digest, listening, simulated, text_of, variants
from rs485kit import Bus, MinTypMax, analysis
from rs485kit.network import idle_network
from rs485kit.solvers.nodal import potentials

ALGEBRA = 1e-9
# what a proved limit may lie beyond the extreme itself, for rounding
PROVED = 1e-6
STORED: dict[str, Any] = json.loads(GOLDEN.read_text(encoding="utf-8"))
CASES = [(name, rails) for name, build in BUSES.items() for rails in variants(build())]
NAMES = list(BUSES)
SMALL = [name for name, build in BUSES.items() if len(listening(build())) <= 6]

GOOD = """* good
V1 a 0 1
R1 a 0 50
.control
op
let d0 = v(a)
print d0
quit
.endc
.end
"""
REFUSED = GOOD.replace(
    "R1 a 0 50", "R1 a b 50\nO1 b 0 c 0 LINE\n.model LINE LTRA(R=0.1 L=1u C=1n G=1u LEN=1)\nR2 c 0 50"
)
FLOATING = GOOD.replace("V1 a 0 1\nR1 a 0 50", "V1 a b 1\nR1 a b 50")
MISSPELT = GOOD.replace("v(a)", "v(elsewhere)")

needs_simulator = pytest.mark.skipif(not simulator.is_installed(), reason=f"{simulator.NAME} is not on the path")


# --- what is not believed -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("output", "errors"),
    [
        ("", "Fatal error: line: Nonzero G (except RG) line not supported yet\n"),
        ("d0 = 1.000000e+00\n", "Warning: singular matrix:  check node b\n"),
        ("d0 = 1.000000e+00\n", "Supplies reduced to 0 % Warning: source stepping failed\n"),
        ("", 'Error: RHS "v(elsewhere)" invalid\n'),
        ("", ""),
        ("d1 = 1.000000e+00\n", ""),
    ],
)
def test_trouble_is_told_from_the_text_though_the_exit_status_is_zero(output, errors):
    with pytest.raises(simulator.SimulatorError):
        simulator.understood(GOOD, output, errors, 0)


def test_exit_status_other_than_zero_is_trouble_too():
    with pytest.raises(simulator.SimulatorError, match="exit status 1"):
        simulator.understood(GOOD, "d0 = 1.0\n", "", 1)


def test_clean_run_is_read():
    assert simulator.understood(GOOD, "No. of Data Rows : 1\nd0 = -1.250000e-01\n", "", 0) == {"d0": -0.125}


@pytest.mark.oracle
@needs_simulator
@pytest.mark.parametrize("netlist", [REFUSED, FLOATING, MISSPELT], ids=["refused", "floating", "misspelt"])
def test_simulator_that_fails_is_noticed(netlist):
    with pytest.raises(simulator.SimulatorError, match="exit status 0"):
        simulator.operating_point(netlist)


# --- stored results -------------------------------------------------------------------------------------


def test_stored_results_are_of_these_buses():
    assert list(STORED["buses"]) == NAMES
    for name, rails in CASES:
        assert list(STORED["buses"][name]["rails"]) == list(variants(BUSES[name]()))
        stored = STORED["buses"][name]["rails"][rails]["sha256"]
        assert stored == digest(text_of(BUSES[name](), rails)), f"{name} has changed: run {STORED['made_by']}"


@pytest.mark.parametrize("name", NAMES)
def test_idle_levels_are_those_of_the_simulator(name):
    bus = BUSES[name]()
    idle = analysis.idle_levels(bus)
    of_rails = STORED["buses"][name]["rails"].values()
    worst = [min(each["difference"][node] for each in of_rails) for node in idle.nodes]
    assert idle.nodes == listening(bus)
    allowed = ALGEBRA * STORED["buses"][name]["largest_source"]
    np.testing.assert_allclose(idle.voltage.nominal, worst, rtol=0, atol=allowed)


@pytest.mark.parametrize(("name", "rails"), CASES)
def test_potentials_of_the_network_are_those_of_the_simulator(name, rails):
    stored = STORED["buses"][name]["rails"][rails]
    network = idle_network(BUSES[name](), rails=rails)
    solved = potentials(
        network.layout, network.branches, network.injected(network.emf[:, None]), network.fixed, network.given[:, None]
    )[:, 0]
    own = dict(zip(network.nodes, solved[network.terminals], strict=True))
    allowed = ALGEBRA * STORED["buses"][name]["largest_source"]
    for node, volts in stored["difference"].items():
        assert own[node][0] - own[node][1] == pytest.approx(volts, rel=0, abs=allowed)
    for node, volts in stored["line"].items():
        assert own[node][0] - own[node][2] == pytest.approx(volts, rel=0, abs=allowed)


@pytest.mark.parametrize("name", NAMES)
def test_datum_of_a_floating_island_does_not_matter(name):
    for stored in STORED["buses"][name]["rails"].values():
        assert stored["datum_effect"] <= ALGEBRA * STORED["buses"][name]["largest_source"]


@pytest.mark.parametrize(("name", "rails"), CASES)
def test_dense_matrix_agrees_with_the_simulator(name, rails):
    bus = BUSES[name]()
    stored = STORED["buses"][name]["rails"][rails]["difference"]
    computed = dense.differences(circuit(bus, rails=rails), list(stored))[:, 0]
    allowed = ALGEBRA * STORED["buses"][name]["largest_source"]
    np.testing.assert_allclose(computed, list(stored.values()), rtol=0, atol=allowed)


@pytest.mark.oracle
@needs_simulator
@pytest.mark.parametrize(("name", "rails"), CASES)
def test_simulator_says_again_what_is_stored(name, rails):
    stored = STORED["buses"][name]["rails"][rails]
    again = simulated(BUSES[name](), rails)
    allowed = ALGEBRA * STORED["buses"][name]["largest_source"]
    for kind in ("difference", "line"):
        assert again[kind] == pytest.approx(stored[kind], rel=0, abs=allowed)
    assert again["datum_effect"] <= allowed


# --- matched reading by brute force ---------------------------------------------------------------------


def sharpened(part: Any) -> Any:
    """Return a bus, or a part of one, with every tolerance replaced by its nominal value."""
    if isinstance(part, MinTypMax):
        return MinTypMax(min=part.nominal, typ=part.nominal, max=part.nominal)
    if isinstance(part, tuple):
        return tuple(map(sharpened, part))
    if attrs.has(type(part)):
        return attrs.evolve(part, **{f.name: sharpened(getattr(part, f.name)) for f in attrs.fields(type(part))})
    return part


def corners(bus: Bus, rails: str, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return, at every corner of the voltages to which the receivers pull, differences and lines against commons."""
    names = listening(bus)
    elements = circuit(bus, rails=rails, inputs=Inputs(unit_load_ohms=15e3))
    pulls = {f"q{k}": place for place, k in enumerate(k for k, node in enumerate(bus.nodes) if node.transceiver)}
    volts = [
        [
            (high if corner >> pulls[each.plus] & 1 else low)[pulls[each.plus]] if each.plus in pulls else each.volts
            for each in elements.sources
        ]
        for corner in range(2 ** len(names))
    ]
    return dense.differences(elements, names, volts), dense.against_common(elements, names, volts)


def brute_force(bus: Bus, rails: str) -> np.ndarray:
    """Return the extremes of all corners: of -3 V .. +5 V, and moved out round by round to where the lines stand."""
    count = len(listening(bus))
    low, high = np.full(count, -3.0), np.full(count, 5.0)
    inside: np.ndarray | None = None
    for _ in range(1000):
        differences, lines = corners(bus, rails, low, high)
        if inside is None:
            inside = differences
        lowest = np.minimum(low, lines.min(axis=(1, 2)).clip(-7.0))
        highest = np.maximum(high, lines.max(axis=(1, 2)).clip(None, 12.0))
        if max((low - lowest).max(), (highest - high).max()) < 1e-13:
            return np.array([inside.min(axis=1), inside.max(axis=1), differences.min(axis=1), differences.max(axis=1)])
        low, high = lowest, highest
    raise AssertionError("the references do not come to rest")


@pytest.mark.parametrize("name", SMALL)
def test_matched_reading_is_the_extreme_of_all_corners(name):
    bus = sharpened(BUSES[name]())
    found = np.array([brute_force(bus, rails) for rails in variants(bus)])
    lowest, highest = found.min(axis=0), found.max(axis=0)
    idle = analysis.idle_levels(bus).voltage
    np.testing.assert_allclose(idle.matched_attained_lower, lowest[0], rtol=0, atol=5 * ALGEBRA)
    np.testing.assert_allclose(idle.matched_attained_upper, highest[1], rtol=0, atol=5 * ALGEBRA)
    assert (idle.matched_lower <= lowest[2] + 5 * ALGEBRA).all()
    assert (idle.matched_upper >= highest[3] - 5 * ALGEBRA).all()
    np.testing.assert_allclose(idle.matched_lower, lowest[2], rtol=0, atol=PROVED)
    np.testing.assert_allclose(idle.matched_upper, highest[3], rtol=0, atol=PROVED)
