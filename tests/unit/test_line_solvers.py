"""Sweeps along trees of lines and the nodal form of rings, against closed forms and chain matrices."""

import math

import numpy as np
import pytest

from line_circuits import Circuit, Load, Pair, graph_of, media_of, pair_of, transfers
from rs485kit.solvers.line_graph import NO_LOAD, LineGraph, Media, line_tree, sections
from rs485kit.solvers.line_nodal import nodal_voltages, transfer_impedances
from rs485kit.solvers.sweep import driven, least_conductance, received, swept, voltages

ALGEBRA = 1e-9
LOSSY = pair_of(120, 2e8, 0.17)
LOSSLESS = pair_of(120, 2e8)
OTHER = pair_of(100, 1.8e8, 0.3)
S = np.array([1e3, 1e5 + 2e5j, 3e5 + 1e7j, 2e6 + 3e8j, 1j * 1e4, 1j * 6e7])
RING = [(0, 1, LOSSY, 30.0), (1, 2, OTHER, 50.0), (2, 0, LOSSLESS, 20.0), (2, 3, LOSSY, 5.0)]


def empty_graph(vertices: int, edges: list[tuple[int, int]]) -> LineGraph:
    count = len(edges)
    return LineGraph(
        vertices, np.array(edges, dtype=np.intp).reshape(-1, 2), np.zeros(count, dtype=np.intp), np.ones(count),
        np.full(vertices, NO_LOAD),
    )  # fmt: skip


def constants(pair: Pair, s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return propagation and characteristic impedance."""
    media = media_of(Circuit([(0, 1, pair, 1.0)], {}), s)
    return media.propagation[0], media.impedance[0]


def chain_matrix(pair: Pair, length: float, s: np.ndarray) -> np.ndarray:
    """Return the chain matrix of a line in the hyperbolic functions of a textbook, one for each frequency."""
    gamma, impedance = constants(pair, s)
    x = gamma * length
    return np.moveaxis(
        np.array([[np.cosh(x), impedance * np.sinh(x)], [np.sinh(x) / impedance, np.cosh(x)]]), (0, 1), (1, 2)
    )


def shunt_matrix(admittance: np.ndarray) -> np.ndarray:
    one, zero = np.ones_like(admittance), np.zeros_like(admittance)
    return np.moveaxis(np.array([[one, zero], [admittance, one]]), (0, 1), (1, 2))


def node(s: np.ndarray) -> np.ndarray:
    return 1 / 12e3 + s * 60e-12


NODE = Load(conductance=1 / 12e3, capacitance=60e-12)
END = Load(conductance=1 / 120)


# --- bad cases ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "edges", [[(0, 1), (1, 2), (2, 0)], [(0, 1), (1, 0)], [(0, 1), (1, 1)], [(3, 4), (4, 3), (0, 1)]]
)
def test_ring_is_no_tree(edges):
    assert line_tree(empty_graph(5, edges)) is None


def test_vertex_that_nothing_touches_is_refused_by_the_nodal_form():
    circuit = Circuit([(0, 1, LOSSY, 10.0)], {0: END, 2: Load()})
    with pytest.raises(np.linalg.LinAlgError):
        transfer_impedances(graph_of(circuit), media_of(circuit, S), np.array([0]))


def test_long_line_neither_overflows_nor_reflects():
    circuit = Circuit([(0, 1, pair_of(120, 2e8, 5.0), 1e7)], {1: Load(conductance=1e6)})
    s = 1e7 + 1j * np.linspace(0, 1e10, 50)
    found = transfers(circuit, s, 0, 50.0)
    impedance = constants(circuit.lines[0][2], s)[1]
    np.testing.assert_array_equal(found[1], 0.0)
    np.testing.assert_allclose(found[0], impedance / (impedance + 50.0), rtol=1e-12)
    for section in sections(graph_of(circuit), media_of(circuit, s)):
        assert all(np.isfinite(part).all() for part in section)


# --- trees ----------------------------------------------------------------------------------------------


def test_parts_that_no_line_joins_have_a_root_each():
    tree = line_tree(empty_graph(6, [(1, 0), (5, 2), (2, 4)]))
    assert tree is not None
    assert tree.parent == (-1, 0, -1, -1, 2, 2)
    assert sorted(tree.order) == list(range(6))
    assert [tree.size[v] for v in range(6)] == [2, 1, 3, 1, 1, 1]


@pytest.mark.parametrize("stubs", [0, 3])
def test_few_branches_are_kept_at_a_time_whatever_the_depth(stubs):
    trunk = [(k, k + 1) for k in range(4000)]
    edges = trunk + [(k, 4001 + k * stubs + m) for k in range(4000) for m in range(stubs)]
    tree = line_tree(empty_graph(4001 + 4000 * stubs, edges))
    assert tree is not None
    assert max(tree.turns) <= 1
    assert all(tree.place[v] > tree.place[p] for v, p in enumerate(tree.parent) if p >= 0)


def test_edges_of_one_kind_and_length_share_their_exponentials():
    circuit = Circuit([(0, 1, LOSSY, 5.0), (1, 2, LOSSY, 5.0), (2, 3, OTHER, 5.0), (3, 4, LOSSY, 6.0)], {})
    lines = sections(graph_of(circuit), media_of(circuit, S))
    assert lines[0] is lines[1]
    assert len({id(line) for line in lines}) == 3


def test_short_line_keeps_its_digits():
    s = np.array([2j * math.pi])
    line = sections(graph_of(circuit := Circuit([(0, 1, LOSSLESS, 0.01)], {})), media_of(circuit, s))[0]
    np.testing.assert_allclose(line.shunt / 2, s * LOSSLESS.capacitance * 0.01, rtol=1e-9)
    np.testing.assert_allclose(line.series / 2, s * LOSSLESS.inductance * 0.01, rtol=1e-9)


# --- closed forms ---------------------------------------------------------------------------------------


def test_matched_line_halves_and_delays():
    gamma, impedance = constants(LOSSY, S)
    media = Media(gamma[None], impedance[None], 1.0 / impedance[None])
    graph = LineGraph(2, np.array([(0, 1)]), np.array([0]), np.array([700.0]), np.array([NO_LOAD, 0]))
    tree = line_tree(graph)
    sweep = swept(graph, tree, media)
    found = voltages(tree, sweep, 0, driven(sweep, 0, np.ones_like(S), impedance))
    np.testing.assert_allclose(sweep.admittance[0], 1.0 / impedance, rtol=1e-12)
    np.testing.assert_allclose(found[0], 0.5 * np.ones_like(S), rtol=1e-12)
    np.testing.assert_allclose(found[1], 0.5 * np.exp(-gamma * 700.0), rtol=1e-12)


def test_trunk_tap_trunk_is_the_cascade_of_chain_matrices():
    circuit = Circuit([(0, 1, LOSSY, 50.0), (1, 2, OTHER, 70.0), (1, 3, LOSSLESS, 2.0)], {2: END, 3: NODE})
    stub = chain_matrix(LOSSLESS, 2.0, S) @ np.stack([np.ones_like(S), node(S)], axis=-1)[..., None]
    tap = stub[:, 1, 0] / stub[:, 0, 0]
    far = np.stack([np.ones_like(S), np.full_like(S, 1 / 120)], axis=-1)[..., None]
    right = chain_matrix(OTHER, 70.0, S) @ far
    near = chain_matrix(LOSSY, 50.0, S) @ (shunt_matrix(tap) @ right)
    whole = near[:, 0, 0] + 60.0 * near[:, 1, 0]
    found = transfers(circuit, S, 0, 60.0)
    np.testing.assert_allclose(found[0], near[:, 0, 0] / whole, rtol=ALGEBRA)
    np.testing.assert_allclose(found[1], right[:, 0, 0] / whole, rtol=ALGEBRA)
    np.testing.assert_allclose(found[2], 1 / whole, rtol=ALGEBRA)
    np.testing.assert_allclose(found[3], right[:, 0, 0] / stub[:, 0, 0] / whole, rtol=ALGEBRA)


@pytest.mark.parametrize("driver", range(5))
def test_chain_of_five_loaded_nodes_is_the_cascade_from_any_driver(driver):
    pairs = [LOSSY, OTHER, LOSSLESS, LOSSY]
    lengths = [310.0, 0.0, 42.0, 700.0]
    circuit = Circuit(
        [(k, k + 1, pairs[k], lengths[k]) for k in range(4)],
        {k: Load(conductance=(1 + k) / 1000, capacitance=k * 40e-12) for k in range(5)},
    )
    loads = [(1 + k) / 1000 + S * k * 40e-12 for k in range(5)]

    def arm(vertices: range) -> np.ndarray:
        """Return voltage and current at the driver for one volt at the end of an arm that leaves it."""
        state = np.stack([np.ones_like(S), loads[vertices[-1]]], axis=-1)[..., None]
        for k in vertices[-2::-1]:
            state = shunt_matrix(loads[k]) @ chain_matrix(pairs[k], lengths[k], S) @ state
        return state

    right = arm(range(driver, 5))
    mirrored = [np.stack([np.ones_like(S), loads[0]], axis=-1)[..., None]]
    for k in range(driver):
        step = chain_matrix(pairs[k], lengths[k], S) @ mirrored[-1]
        mirrored.append(shunt_matrix(loads[k + 1] if k + 1 < driver else 0 * S) @ step)
    left = mirrored[-1] if driver else np.stack([np.ones_like(S), 0 * S], axis=-1)[..., None]
    admittance = right[:, 1, 0] / right[:, 0, 0] + left[:, 1, 0] / left[:, 0, 0]
    own = 1 / (1 + 54.0 * admittance)
    found = transfers(circuit, S, driver, 54.0)
    np.testing.assert_allclose(found[driver], own, rtol=ALGEBRA)
    np.testing.assert_allclose(found[4], own / right[:, 0, 0], rtol=ALGEBRA)
    np.testing.assert_allclose(found[0], own / left[:, 0, 0], rtol=ALGEBRA)


def test_lines_of_no_length_join_what_stands_at_their_ends():
    circuit = Circuit([(0, 1, LOSSY, 0.0), (2, 1, OTHER, 0.0), (1, 3, LOSSLESS, 0.0)], {0: NODE, 2: END, 3: NODE})
    graph = graph_of(circuit)
    sweep = swept(graph, line_tree(graph), media_of(circuit, S))
    np.testing.assert_allclose(sweep.admittance, np.broadcast_to(2 * node(S) + 1 / 120, (4, len(S))), rtol=1e-13)
    np.testing.assert_allclose(sweep.down, 1.0, rtol=1e-13)
    np.testing.assert_allclose(sweep.up, 1.0, rtol=1e-13)


def test_open_quarter_wave_shorts_its_own_resonance():
    length = 10.0
    s = np.array([1j * math.pi / 2 * 2e8 / length])
    circuit = Circuit([(0, 1, LOSSLESS, length)], {})
    graph = graph_of(circuit)
    sweep = swept(graph, line_tree(graph), media_of(circuit, s))
    assert abs(sweep.admittance[0, 0]) > 1e10
    found = transfers(circuit, s, 0, 120.0)
    assert abs(found[0, 0]) < 1e-10
    np.testing.assert_allclose(np.abs(found[1]), 1.0, rtol=1e-9)


def test_rest_of_a_star_survives_an_arm_that_is_nearly_a_short():
    arms = [(0, k, LOSSY, 0.0) for k in range(1, 21)]
    loads = {k: Load(conductance=1e-5 * k) for k in range(1, 20)} | {20: Load(conductance=1e15)}
    circuit = Circuit(arms, loads)
    graph, s = graph_of(circuit), np.array([1e5 + 1e6j])
    sweep = swept(graph, line_tree(graph), media_of(circuit, s))
    np.testing.assert_allclose(sweep.up[20], 1.0, rtol=1e-12)
    np.testing.assert_allclose(sweep.admittance[20], 1e15, rtol=1e-12)
    circuit = Circuit([*arms[:-1], (0, 20, LOSSY, 100.0)], loads)
    gamma, impedance = constants(LOSSY, s)
    graph = graph_of(circuit)
    sweep = swept(graph, line_tree(graph), media_of(circuit, s))
    rest = 1e-5 * sum(range(1, 20))
    expected = 1 / (np.cosh(gamma * 100) + impedance * rest * np.sinh(gamma * 100))
    np.testing.assert_allclose(sweep.up[20], expected, rtol=1e-12)


def test_complex_impedance_may_return_more_than_it_got_and_is_passive_all_the_same():
    s = 1j * np.geomspace(1e2, 1e6, 200)
    gamma, impedance = constants(Pair(0.17, 0.6e-6, 50e-12), s)
    inductive = 1 / (1 + s * 1e-2)
    reflection = (1 - impedance * inductive) / (1 + impedance * inductive)
    assert np.abs(reflection).max() > 1.1
    graph = LineGraph(2, np.array([(0, 1)]), np.array([0]), np.array([400.0]), np.array([NO_LOAD, 0]))
    sweep = swept(graph, line_tree(graph), Media(gamma[None], impedance[None], inductive[None]))
    assert least_conductance(sweep) >= -1e-12


def test_active_load_is_noticed():
    circuit = Circuit([(0, 1, LOSSY, 5.0)], {1: Load(conductance=-1e-3)})
    graph = graph_of(circuit)
    assert least_conductance(swept(graph, line_tree(graph), media_of(circuit, S))) < -0.01


# --- march ----------------------------------------------------------------------------------------------


def bush() -> Circuit:
    """Branches in branches, and a part that no line joins to the rest."""
    edges = [(0, 1), (1, 2), (2, 3), (2, 4), (1, 5), (5, 6), (6, 7), (6, 8), (8, 9), (0, 10), (11, 12)]
    lines = [(a, b, (LOSSY, OTHER, LOSSLESS)[k % 3], 3.0 + 7 * k) for k, (a, b) in enumerate(edges)]
    return Circuit(lines, {3: END, 9: END, 10: NODE, 7: NODE, 12: NODE})


@pytest.mark.parametrize("driver", range(13))
@pytest.mark.parametrize("piece", [1, 3, 32])
def test_pieces_hold_every_receiver_once_and_the_nodal_voltages(driver, piece):
    circuit = bush()
    graph, media = graph_of(circuit), media_of(circuit, S)
    tree = line_tree(graph)
    sweep = swept(graph, tree, media)
    start = driven(sweep, driver, 1 / S, 54.0)
    receivers = np.array([9, 0, 12, 3, 5, 7, driver] if driver not in (9, 0, 12, 3, 5, 7) else [9, 0, 12, 3, 5, 7])
    expected = nodal_voltages(transfer_impedances(graph, media, np.array([driver]))[0], driver, 1 / S, 54.0)[receivers]
    found = np.full(expected.shape, np.nan, dtype=complex)
    seen: list[int] = []
    for rows, spectra in received(tree, sweep, driver, start, receivers, piece=piece):
        assert len(rows) == len(spectra) <= piece
        seen += rows.tolist()
        found[rows] = spectra
    assert sorted(seen) == list(range(len(receivers)))
    np.testing.assert_allclose(found, expected, rtol=ALGEBRA, atol=1e-18)


# --- rings ----------------------------------------------------------------------------------------------


def test_two_equal_lines_side_by_side_are_one_of_half_the_impedance():
    half = Pair(LOSSY.resistance / 2, LOSSY.inductance / 2, LOSSY.capacitance * 2)
    double = Circuit([(0, 1, LOSSY, 80.0), (1, 0, LOSSY, 80.0), (1, 2, OTHER, 10.0)], {2: NODE})
    found = nodal_voltages(transfer_impedances(graph_of(double), media_of(double, S), np.array([0]))[0], 0, 1 / S, 54.0)
    single = Circuit([(0, 1, half, 80.0), (1, 2, OTHER, 10.0)], {2: NODE})
    np.testing.assert_allclose(found, transfers(single, S, 0, 54.0) / S, rtol=ALGEBRA)


def test_ring_of_one_line_loads_its_vertex_as_two_open_halves():
    ring = Circuit([(0, 1, LOSSY, 25.0), (1, 1, OTHER, 60.0)], {0: NODE})
    halves = Circuit([(0, 1, LOSSY, 25.0), (1, 2, OTHER, 30.0), (1, 3, OTHER, 30.0)], {0: NODE})
    found = transfer_impedances(graph_of(ring), media_of(ring, S), np.array([0, 1]))
    expected = transfer_impedances(graph_of(halves), media_of(halves, S), np.array([0, 1]))[:, :2]
    np.testing.assert_allclose(found, expected, rtol=ALGEBRA)


@pytest.mark.parametrize("place", range(len(RING)))
def test_cutting_a_line_of_a_ring_changes_nothing(place):
    whole = Circuit(RING, {1: NODE, 3: END})
    start, end, pair, length = RING[place]
    pieces = [(start, 4, pair, 0.3 * length), (4, end, pair, 0.7 * length)]
    cut = Circuit([*RING[:place], *pieces, *RING[place + 1 :]], whole.loads)
    drivers = np.arange(4)
    found = transfer_impedances(graph_of(cut), media_of(cut, S), drivers)[:, :4]
    expected = transfer_impedances(graph_of(whole), media_of(whole, S), drivers)
    np.testing.assert_allclose(found, expected, rtol=ALGEBRA)


def test_ring_closed_by_a_line_of_no_length_is_closed():
    joined = Circuit(
        [*RING[:2], (2, 4, LOSSLESS, 20.0), (4, 0, OTHER, 0.0), (4, 4, OTHER, 0.0), RING[3]], {1: NODE, 3: END}
    )
    whole = Circuit(RING, joined.loads)
    found = transfer_impedances(graph_of(joined), media_of(joined, S), np.array([3]))
    expected = transfer_impedances(graph_of(whole), media_of(whole, S), np.array([3]))
    np.testing.assert_allclose(found[:, :4], expected, rtol=ALGEBRA)
    np.testing.assert_array_equal(found[:, 4], found[:, 0])


def test_frequencies_are_solved_in_batches_as_if_together(monkeypatch):
    circuit = Circuit(RING, {1: NODE, 3: END})
    together = transfer_impedances(graph_of(circuit), media_of(circuit, S), np.array([0, 2]))
    monkeypatch.setattr("rs485kit.solvers.line_nodal.BATCH_BYTES", 16 * 16 * 4)
    np.testing.assert_allclose(
        transfer_impedances(graph_of(circuit), media_of(circuit, S), np.array([0, 2])), together, rtol=1e-13
    )
