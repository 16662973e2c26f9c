"""The numerical kernels against dense matrices and exact arithmetic: elimination along any graph, nodal analysis."""

import itertools
from fractions import Fraction

import numpy as np
import pytest

from rs485kit.solvers.elimination import eliminated, elimination_plan
from rs485kit.solvers.nodal import Branches, datum_unknowns, joined_parts, network_layout, potentials

ALGEBRA = 1e-9
NO_EDGES = np.empty((0, 2), dtype=np.intp)

CHAIN = [(k, k + 1) for k in range(11)]
RING = [*CHAIN, (11, 0)]
STAR = [(0, k) for k in range(1, 12)]
TREE = [((k - 1) // 2, k) for k in range(1, 12)]
TWO_RINGS = [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 5), (5, 3), (9, 8)]
COMPLETE = list(itertools.combinations(range(6), 2))
MESH_WITH_TAILS = [*COMPLETE, (5, 6), (6, 7), (0, 8), (8, 9), (9, 0), (2, 10)]
LADDER = [*[(k, k + 2) for k in range(10)], *[(k, k + 1) for k in range(0, 12, 2)]]
GRAPHS = {
    "no edges": [],
    "chain": CHAIN,
    "chain listed backwards": [(b, a) for a, b in reversed(CHAIN)],
    "ring": RING,
    "star": STAR,
    "tree": TREE,
    "two rings and an edge apart": TWO_RINGS,
    "complete": COMPLETE,
    "mesh with tails": MESH_WITH_TAILS,
    "ladder": LADDER,
}


def edges_of(name: str) -> np.ndarray:
    return np.array(GRAPHS[name], dtype=np.intp).reshape(-1, 2)


def random_graph(generator: np.random.Generator) -> tuple[int, np.ndarray]:
    """Return a graph with a few loops, its edges in any order and any direction, some vertices alone."""
    vertices = int(generator.integers(1, 30))
    possible = list(itertools.combinations(range(vertices), 2))
    count = min(len(possible), int(generator.integers(0, 2 * vertices)))
    chosen = [possible[k] for k in generator.permutation(len(possible))[:count]]
    turned = [(b, a) if generator.random() < 0.5 else (a, b) for a, b in chosen]
    return vertices, np.array(turned, dtype=np.intp).reshape(-1, 2)


def random_system(
    generator: np.random.Generator, vertices: int, edges: np.ndarray, width: int, columns: int, batch: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return a symmetric, diagonally dominant block system on a graph."""
    coupling = generator.normal(size=(len(edges), *batch, width, width))
    own = generator.normal(size=(vertices, *batch, width, width))
    own = own + np.swapaxes(own, -1, -2)
    degree = np.bincount(edges.ravel(), minlength=vertices) + 1.0
    shift = 4.0 * width * degree.reshape(-1, *(1,) * (own.ndim - 1)) * np.eye(width)
    return own + shift, coupling, generator.normal(size=(vertices, *batch, width, columns))


def dense_solution(edges: np.ndarray, diagonal: np.ndarray, coupling: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Solve a block system without a batch as one full matrix."""
    vertices, width, columns = right.shape
    matrix = np.zeros((vertices, width, vertices, width))
    for vertex in range(vertices):
        matrix[vertex, :, vertex, :] = diagonal[vertex]
    for (a, b), block in zip(edges, coupling, strict=True):
        matrix[a, :, b, :] = block
        matrix[b, :, a, :] = block.T
    size = vertices * width
    return np.linalg.solve(matrix.reshape(size, size), right.reshape(size, columns)).reshape(right.shape)


# --- elimination: bad cases -----------------------------------------------------------------------------


def test_singular_block_is_refused():
    plan = elimination_plan(2, np.array([(0, 1)]))
    with pytest.raises(np.linalg.LinAlgError):
        eliminated(plan, np.zeros((2, 1, 1)), np.ones((1, 1, 1)), np.ones((2, 1, 1)))


def test_singular_core_is_refused():
    edges = edges_of("complete")
    with pytest.raises(np.linalg.LinAlgError):
        eliminated(elimination_plan(6, edges), np.ones((6, 1, 1)), np.ones((15, 1, 1)), np.ones((6, 1, 1)))


# --- elimination ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [1, 2, 4])
@pytest.mark.parametrize("name", GRAPHS)
def test_elimination_agrees_with_a_dense_matrix(name, width):
    edges = edges_of(name)
    system = random_system(np.random.default_rng(1), 12, edges, width, 3, ())
    found = eliminated(elimination_plan(12, edges), *system)
    np.testing.assert_allclose(found, dense_solution(edges, *system), rtol=0, atol=ALGEBRA)


@pytest.mark.parametrize("seed", range(60))
def test_elimination_agrees_with_a_dense_matrix_on_random_graphs(seed):
    generator = np.random.default_rng(seed)
    vertices, edges = random_graph(generator)
    system = random_system(generator, vertices, edges, int(generator.integers(1, 5)), int(generator.integers(1, 4)), ())
    found = eliminated(elimination_plan(vertices, edges), *system)
    np.testing.assert_allclose(found, dense_solution(edges, *system), rtol=0, atol=ALGEBRA)


@pytest.mark.parametrize("name", ["chain", "ring", "mesh with tails"])
@pytest.mark.parametrize("batch", [(5,), (2, 3)])
def test_every_member_of_a_batch_is_solved_as_if_alone(name, batch):
    edges = edges_of(name)
    diagonal, coupling, right = random_system(np.random.default_rng(2), 12, edges, 3, 2, batch)
    found = eliminated(elimination_plan(12, edges), diagonal, coupling, right)
    assert found.shape == right.shape
    for member in np.ndindex(*batch):
        pick = (slice(None), *member)
        alone = dense_solution(edges, diagonal[pick], coupling[pick], right[pick])
        np.testing.assert_allclose(found[pick], alone, rtol=0, atol=ALGEBRA)


def test_one_plan_serves_many_systems_and_leaves_its_input_alone():
    edges = edges_of("two rings and an edge apart")
    plan = elimination_plan(12, edges)
    for seed in range(3):
        system = random_system(np.random.default_rng(seed), 12, edges, 2, 1, ())
        before = [part.copy() for part in system]
        found = eliminated(plan, *system)
        np.testing.assert_allclose(found, dense_solution(edges, *system), rtol=0, atol=ALGEBRA)
        for part, copy in zip(system, before, strict=True):
            np.testing.assert_array_equal(part, copy)


@pytest.mark.parametrize(
    ("name", "core"), [("chain", 0), ("ring", 0), ("star", 0), ("tree", 0), ("ladder", 0), ("complete", 6)]
)
def test_only_a_dense_mesh_leaves_a_core(name, core):
    edges = edges_of(name)
    vertices = 6 if name == "complete" else 12
    assert len(elimination_plan(vertices, edges).core) == core


@pytest.mark.parametrize("name", ["chain", "star"])
def test_rounds_grow_with_the_logarithm_of_a_radial_graph(name):
    edges = [(k, k + 1) for k in range(4095)] if name == "chain" else [(0, k) for k in range(1, 4096)]
    assert len(elimination_plan(4096, np.array(edges)).rounds) <= 2 * 12


# --- nodal analysis: datum and bad cases ----------------------------------------------------------------


def star_of_branches(*ends_and_conductances: tuple[int, int, float]) -> Branches:
    start, end, conductance = zip(*ends_and_conductances, strict=True)
    return Branches(np.array(start), np.array(end), np.array(conductance, dtype=float))


def test_branch_between_vertices_without_an_edge_is_refused():
    layout = network_layout(3, 1, 0, np.array([(0, 1)]))
    with pytest.raises(IndexError):
        potentials(layout, star_of_branches((1, 2, 1.0)), np.zeros((3, 1)), np.array([0]), np.zeros((1, 1)))


def test_every_part_that_nothing_fixed_reaches_gets_one_datum():
    layout = network_layout(6, 1, 1, np.array([(0, 1), (2, 3), (4, 5)]))
    branches = star_of_branches((0, 1, 1.0), (2, 3, 1.0), (3, 6, 1.0), (4, 5, 0.0))
    assert datum_unknowns(layout, branches, np.array([6])).tolist() == [0, 4, 5]
    assert datum_unknowns(layout, branches, np.array([6, 1, 4, 5])).tolist() == []


def test_unknowns_that_branches_join_are_one_part():
    start, end = np.array([5, 1, 3, 1]), np.array([2, 3, 1, 1])
    assert joined_parts(6, start, end).tolist() == [0, 1, 2, 1, 4, 2]
    assert joined_parts(3, start[:0], end[:0]).tolist() == [0, 1, 2]


def test_differences_do_not_depend_on_the_datum():
    layout = network_layout(3, 1, 0, np.array([(0, 1), (1, 2)]))
    branches = star_of_branches((0, 1, 2.0), (1, 2, 0.5))
    injected = np.array([[1.0], [0.5], [-1.5]])
    for datum, volts in itertools.product(range(3), (0.0, -40.0)):
        found = potentials(layout, branches, injected, np.array([datum]), np.array([[volts]]))[:, 0]
        assert found[datum] == volts
        np.testing.assert_allclose(np.diff(found), [-0.5, -3.0], rtol=0, atol=ALGEBRA)


def test_unknown_that_nothing_touches_stays_where_it_is_put():
    layout = network_layout(2, 2, 1, NO_EDGES)
    branches = star_of_branches((0, 4, 1.0))
    found = potentials(layout, branches, np.zeros((5, 1)), np.array([4, 2]), np.array([[3.0], [7.0]]))[:, 0]
    np.testing.assert_allclose(found, [3.0, 0.0, 7.0, 0.0, 3.0], rtol=0, atol=ALGEBRA)


# --- nodal analysis -------------------------------------------------------------------------------------


def random_network(generator: np.random.Generator, width: int, border: int):
    """Return a network whose branches run within vertices, along edges, to the border and inside it."""
    vertices, edges = random_graph(generator)
    inner, size = vertices * width, vertices * width + border
    pairs = [(v * width + a, v * width + b) for v in range(vertices) for a in range(width) for b in range(a)]
    pairs += [(int(u) * width + a, int(v) * width + b) for u, v in edges for a in range(width) for b in range(width)]
    pairs += [(a, b) for a in range(inner) for b in range(inner, size)]
    pairs += list(itertools.combinations(range(inner, size), 2))
    chosen = [pairs[k] for k in generator.permutation(len(pairs))[: 3 * size]]
    # some pairs twice, some the other way round
    chosen += [(b, a) for a, b in chosen[: len(chosen) // 4]]
    start, end = (np.array([pair[side] for pair in chosen], dtype=np.intp) for side in (0, 1))
    conductance = np.exp(generator.normal(scale=3.0, size=len(chosen)))
    return network_layout(vertices, width, border, edges), Branches(start, end, conductance)


def dense_potentials(size: int, branches: Branches, injected: np.ndarray, fixed: np.ndarray, given: np.ndarray):
    matrix = np.zeros((size, size))
    for a, b, g in zip(*branches, strict=True):
        matrix[a, a] += g
        matrix[b, b] += g
        matrix[a, b] -= g
        matrix[b, a] -= g
    right = injected.copy()
    matrix[fixed] = np.eye(size)[fixed]
    right[fixed] = given
    return np.linalg.solve(matrix, right)


@pytest.mark.parametrize("border", [0, 1, 3])
@pytest.mark.parametrize("width", [1, 2, 3])
@pytest.mark.parametrize("seed", range(8))
def test_potentials_agree_with_a_dense_matrix(seed, width, border):
    generator = np.random.default_rng(1000 * seed + 10 * width + border)
    layout, branches = random_network(generator, width, border)
    some = generator.permutation(layout.size)[: 1 + layout.size // 6]
    fixed = np.concatenate((some, datum_unknowns(layout, branches, some)))
    given = generator.normal(size=(len(fixed), 4))
    injected = generator.normal(size=(layout.size, 4))
    found = potentials(layout, branches, injected, fixed, given)
    expected = dense_potentials(layout.size, branches, injected, fixed, given)
    np.testing.assert_array_equal(found[fixed], given)
    np.testing.assert_allclose(found, expected, rtol=0, atol=ALGEBRA * np.abs(expected).max())


@pytest.mark.parametrize("border", [0, 2])
@pytest.mark.parametrize("seed", range(4))
def test_every_network_of_a_batch_is_solved_as_if_alone(seed, border):
    generator = np.random.default_rng(seed)
    layout, branches = random_network(generator, 2, border)
    fixed = datum_unknowns(layout, branches, np.array([0]))
    fixed = np.concatenate(([0], fixed))
    conductance = branches.conductance[:, None] * np.array([1.0, 0.5, 3.0])
    conductance[:, 1] *= generator.uniform(0.5, 2.0, len(conductance))
    injected = generator.normal(size=(layout.size, 3, 2))
    given = generator.normal(size=(len(fixed), 3, 2))
    found = potentials(layout, branches._replace(conductance=conductance), injected, fixed, given)
    for member in range(3):
        alone = branches._replace(conductance=conductance[:, member])
        expected = potentials(layout, alone, injected[:, member], fixed, given[:, member])
        np.testing.assert_allclose(found[:, member], expected, rtol=0, atol=ALGEBRA * np.abs(expected).max())


def test_one_pass_is_enough_where_the_conductances_are_alike():
    layout = network_layout(12, 1, 0, edges_of("ring"))
    branches = star_of_branches(*[(a, b, 1.0 + a) for a, b in RING])
    injected = np.random.default_rng(3).normal(size=(12, 2))
    datum, volts = np.array([5]), np.array([[2.0, -1.0]])
    once = potentials(layout, branches, injected, datum, volts, passes=1)
    np.testing.assert_allclose(once, potentials(layout, branches, injected, datum, volts), rtol=0, atol=ALGEBRA)


@pytest.mark.parametrize("seed", range(8))
def test_currents_sum_to_zero_at_every_unknown_that_is_not_fixed(seed):
    generator = np.random.default_rng(seed)
    layout, branches = random_network(generator, 2, 2)
    fixed = np.concatenate(([layout.size - 1], datum_unknowns(layout, branches, np.array([layout.size - 1]))))
    injected = generator.normal(size=(layout.size, 2))
    found = potentials(layout, branches, injected, fixed, np.zeros((len(fixed), 2)))
    balance = injected.copy()
    current = branches.conductance[:, None] * (found[branches.start] - found[branches.end])
    np.subtract.at(balance, branches.start, current)
    np.add.at(balance, branches.end, current)
    balance[fixed] = 0.0
    assert np.abs(balance).max() <= ALGEBRA * np.abs(current).max()


# --- condition ------------------------------------------------------------------------------------------


def exact_potentials(size: int, branches: Branches, injected: np.ndarray, fixed: dict[int, float]) -> np.ndarray:
    """Solve in fractions of integers, without any rounding."""
    rows = [{k: Fraction(0)} for k in range(size)]
    right = [Fraction(float(value)) for value in injected]
    for a, b, g in zip(branches.start.tolist(), branches.end.tolist(), branches.conductance.tolist(), strict=True):
        for here, there in ((a, b), (b, a)):
            rows[here][here] = rows[here].get(here, Fraction(0)) + Fraction(g)
            rows[here][there] = rows[here].get(there, Fraction(0)) - Fraction(g)
    for unknown, value in fixed.items():
        rows[unknown], right[unknown] = {unknown: Fraction(1)}, Fraction(value)
    for k in range(size):
        for below in range(k + 1, size):
            factor = rows[below].pop(k, Fraction(0)) / rows[k][k]
            if factor:
                for column, value in rows[k].items():
                    if column != k:
                        rows[below][column] = rows[below].get(column, Fraction(0)) - factor * value
                right[below] -= factor * right[k]
    found = [Fraction(0)] * size
    for k in reversed(range(size)):
        rest = sum((value * found[column] for column, value in rows[k].items() if column != k), Fraction(0))
        found[k] = (right[k] - rest) / rows[k][k]
    return np.array([float(value) for value in found])


@pytest.mark.parametrize("bias_ohms", [510.0, 47e3])
@pytest.mark.parametrize("unit_load", [1.0, 1 / 8, 1 / 1000])
@pytest.mark.parametrize("span_ohms", [1e-1, 1e-3, 1e-6])
def test_light_loads_on_short_spans_are_solved_to_the_last_digits(span_ohms, unit_load, bias_ohms):
    """Ten eighth-load receivers on spans of 1 mohm: the sums on the diagonal alone would leave errors of nanovolts."""
    places, ground = 10, 20
    lines = [(2 * k + line, 2 * k + 2 + line, 1 / span_ohms) for k in range(places - 1) for line in (0, 1)]
    inputs = [(2 * k + line, ground, unit_load / 12e3) for k in range(places) for line in (0, 1)]
    branches = star_of_branches(*lines, *inputs, (2, ground, 1 / bias_ohms), (3, ground, 1 / bias_ohms))
    injected = np.zeros(2 * places + 1)
    np.add.at(
        injected,
        branches.start,
        np.where(np.arange(len(branches.start)) >= len(lines), 2.5, 0.0) * branches.conductance,
    )
    injected[2], injected[3] = injected[2] + 2.5 / bias_ohms, injected[3] - 2.5 / bias_ohms
    injected[ground] = 0.0
    layout = network_layout(places, 2, 1, np.array([(k, k + 1) for k in range(places - 1)]))
    found = potentials(layout, branches, injected[:, None], np.array([ground]), np.zeros((1, 1)))[:, 0]
    expected = exact_potentials(2 * places + 1, branches, injected, {ground: 0.0})
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-12 * 5.0)
    np.testing.assert_allclose(
        found[:-1:2] - found[1:-1:2], expected[:-1:2] - expected[1:-1:2], rtol=0, atol=1e-12 * 5.0
    )
