"""Rings cut and put back, against the nodal form that knows of no tree."""

import numpy as np
import pytest

from rs485kit.solvers.cut_rings import put_back, ring_voltages, spanning
from rs485kit.solvers.laplace import chosen_contour, frequencies
from rs485kit.solvers.line_graph import LineGraph, Media, line_tree
from rs485kit.solvers.line_model import LineModel, propagation
from rs485kit.solvers.line_nodal import nodal_voltages, transfer_impedances

PAIR = LineModel(0.17, 6e-7, 5e-11)
S = frequencies(chosen_contour(1e-7, "raised cosine", 1e-5))


def lossy(vertices, edges, seed=0, **length):
    """A graph of one cable with random lengths, and every vertex loaded."""
    random = np.random.default_rng(seed)
    lengths = random.uniform(1.0, 200.0, len(edges))
    for edge, value in length.items():
        lengths[int(edge.removeprefix("edge"))] = value
    kinds = np.zeros(len(edges), dtype=np.intp)
    line = propagation(PAIR, S)
    graph = LineGraph(vertices, np.array(edges), kinds, lengths, np.zeros(vertices, dtype=np.intp))
    return graph, Media(line.constant[None], line.impedance[None], (1 / 600 + S * 2e-11)[None])


RING = [(k, (k + 1) % 8) for k in range(8)]


@pytest.mark.parametrize(
    ("vertices", "edges", "rings"),
    [
        (8, RING, 1),
        (8, [*RING, (0, 4)], 2),
        (8, [*RING, (0, 4), (2, 6), (1, 5)], 4),
        (10, [*RING, (3, 8), (8, 9)], 1),
        (11, [*RING, (8, 9), (9, 10), (10, 8)], 2),
    ],
)
def test_it_agrees_with_the_nodal_form(vertices, edges, rings):
    graph, media = lossy(vertices, edges)
    kept, cut = spanning(graph)
    assert len(cut) == rings
    network = put_back(graph, media, kept, cut)
    for driver in (0, 5):
        dense = transfer_impedances(graph, media, np.array([driver]))[0]
        wanted = nodal_voltages(dense, driver, np.ones_like(S), 30.0)
        assert np.abs(ring_voltages(network, driver, np.ones_like(S), 30.0) - wanted).max() < 1e-11


def test_the_longest_line_of_a_ring_is_cut():
    graph, _ = lossy(8, RING, edge3=500.0)
    kept, cut = spanning(graph)
    assert cut.tolist() == [3]
    assert sorted([*kept, *cut]) == list(range(8))


def test_a_line_of_no_length_stays_in_the_tree():
    graph, media = lossy(8, RING, edge3=0.0, edge5=0.0)
    kept, cut = spanning(graph)
    assert {3, 5} <= set(kept.tolist())
    assert np.isfinite(ring_voltages(put_back(graph, media, kept, cut), 2, np.ones_like(S), 30.0)).all()


def test_a_tree_has_nothing_to_cut():
    graph, _ = lossy(8, RING[:-1])
    kept, cut = spanning(graph)
    assert len(cut) == 0
    assert line_tree(graph._replace(edges=graph.edges[kept])) is not None
