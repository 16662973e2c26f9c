"""What must hold of signals on any tree of lines, and of worst-case eyes of any edges."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from line_circuits import Circuit, graph_of, media_of, trees
from rs485kit.solvers.line_graph import line_tree
from rs485kit.solvers.line_nodal import nodal_voltages, transfer_impedances
from rs485kit.solvers.sweep import Sweep, driven, least_conductance, swept, voltages
from rs485kit.solvers.trellis import eye_opening, worst_eyes, worst_levels, worst_sequence

PROPERTY = settings(max_examples=150, deadline=None, derandomize=True)
ALGEBRA = 1e-9
PASSIVE = 1e-9
# the contours of a long and of a short window
S = np.concatenate([c + 2j * np.pi * np.geomspace(1e2, 1e8, 25) for c in (1e5, 1e6)])
AXIS = 2j * np.pi * np.geomspace(1e2, 1e8, 49)


def solved(circuit: Circuit, s: np.ndarray) -> tuple[Sweep, list[np.ndarray]]:
    """Return the sweep of a tree, and for each driver the voltages at all vertices for one ampere into its vertex."""
    graph = graph_of(circuit)
    tree = line_tree(graph)
    assert tree is not None
    sweep = swept(graph, tree, media_of(circuit, s))
    return sweep, [voltages(tree, sweep, d, 1 / sweep.admittance[d]) for d in range(circuit.vertices)]


@PROPERTY
@given(circuit=trees())
def test_every_vertex_is_passive(circuit):
    for s in (S, AXIS):
        assert least_conductance(solved(circuit, s)[0]) >= -PASSIVE


@PROPERTY
@given(circuit=trees())
def test_transfer_impedance_is_the_same_both_ways(circuit):
    impedance = np.array(solved(circuit, S)[1])
    scale = np.sqrt(np.abs(np.einsum("iif,jjf->ijf", impedance, impedance)))
    assert (np.abs(impedance - impedance.transpose(1, 0, 2)) / scale).max() <= ALGEBRA


@PROPERTY
@given(circuit=trees(), place=st.integers(0, 7), share=st.floats(0.0, 1.0))
def test_cutting_a_line_in_two_changes_nothing(circuit, place, share):
    start, end, pair, length = circuit.lines[place % len(circuit.lines)]
    rest = [line for k, line in enumerate(circuit.lines) if k != place % len(circuit.lines)]
    # the loads keep their names, the vertex of the cut gets the next one
    new = circuit.vertices
    cut = Circuit([*rest, (start, new, pair, share * length), (end, new, pair, length - share * length)], circuit.loads)
    before, after = solved(circuit, S), solved(cut, S)
    np.testing.assert_allclose(after[0].admittance[:new], before[0].admittance, rtol=ALGEBRA)
    for mine, theirs in zip(before[1], after[1], strict=False):
        np.testing.assert_allclose(theirs[:new], mine, rtol=ALGEBRA, atol=ALGEBRA * np.abs(mine).max(axis=0).min())


@PROPERTY
@given(circuit=trees(), resistance=st.floats(0.0, 500.0), data=st.data())
def test_sweep_agrees_with_the_nodal_form(circuit, resistance, data):
    driver = data.draw(st.integers(0, circuit.vertices - 1))
    graph, media = graph_of(circuit), media_of(circuit, S)
    tree = line_tree(graph)
    sweep = swept(graph, tree, media)
    found = voltages(tree, sweep, driver, driven(sweep, driver, 1 / (S + 1.0), resistance))
    impedance = transfer_impedances(graph, media, np.array([driver]))[0]
    expected = nodal_voltages(impedance, driver, 1 / (S + 1.0), resistance)
    assert (np.abs(found - expected) / np.abs(expected).max(axis=0)).max() <= ALGEBRA


@PROPERTY
@given(circuit=trees(), data=st.data())
def test_names_and_order_change_nothing(circuit, data):
    names = data.draw(st.permutations(range(circuit.vertices)))
    turned = [(names[b], names[a], pair, length) for a, b, pair, length in reversed(circuit.lines)]
    other = Circuit(turned, {names[v]: load for v, load in circuit.loads.items()})
    before, after = solved(circuit, S)[0].admittance, solved(other, S)[0].admittance
    np.testing.assert_allclose(after[list(names)], before, rtol=ALGEBRA)


# --- eyes -----------------------------------------------------------------------------------------------

PER_BIT, LAGS = 3, 7
LEVELS = st.floats(-3.0, 3.0)


@st.composite
def responses(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, float, float]:
    """Two responses of any shape, and the levels at rest."""
    rise, fall = (np.array(draw(st.lists(LEVELS, min_size=PER_BIT * LAGS, max_size=PER_BIT * LAGS))) for _ in range(2))
    return rise, fall, draw(LEVELS), draw(LEVELS)


def seen(bits: list[bool], rise: np.ndarray, fall: np.ndarray, mark: float, space: float, phase: int) -> float:
    """Return the level `phase` samples after the last bit began, edges older than the record counting in full."""
    level = mark if bits[-LAGS - 1] else space
    for lag in range(LAGS):
        before, after = bits[-lag - 2], bits[-lag - 1]
        if after != before:
            level += rise[phase + lag * PER_BIT] if after else -fall[phase + lag * PER_BIT]
    return level


@PROPERTY
@given(given_=responses(), bits=st.lists(st.booleans(), min_size=LAGS + 1, max_size=40), equal=st.booleans())
def test_no_pattern_is_worse_than_the_worst_levels(given_, bits, equal):
    rise, fall, mark, space = given_
    levels = worst_levels(rise, None if equal else fall, mark, space, PER_BIT)
    for stop in range(LAGS + 1, len(bits) + 1):
        for phase in range(PER_BIT):
            level = seen(bits[:stop], rise, rise if equal else fall, mark, space, phase)
            for lag in range(LAGS):
                sample = phase + lag * PER_BIT
                if bits[stop - 1 - lag]:
                    assert level >= levels.lowest_mark[sample] - ALGEBRA
                else:
                    assert level <= levels.highest_space[sample] + ALGEBRA


@PROPERTY
@given(given_=responses(), sample=st.integers(0, PER_BIT * LAGS - 1), equal=st.booleans())
def test_worst_levels_are_attained(given_, sample, equal):
    rise, fall, mark, space = given_
    other = None if equal else fall
    levels = worst_levels(rise, other, mark, space, PER_BIT)
    for judged, expected in (("mark", levels.lowest_mark), ("space", levels.highest_space)):
        word = worst_sequence(rise, other, mark, space, PER_BIT, sample, judged=judged)
        assert word.bits[word.judged] == (judged == "mark")
        level = seen(word.bits.tolist(), rise, rise if equal else fall, mark, space, sample % PER_BIT)
        assert abs(level - expected[sample]) <= 1e-6


@PROPERTY
@given(given_=responses(), upper=st.floats(-0.2, 0.2), widening=st.floats(0.0, 0.5), equal=st.booleans())
def test_wider_thresholds_never_open_an_eye(given_, upper, widening, equal):
    rise, fall, mark, space = given_
    other = None if equal else fall
    narrow = worst_eyes(rise, other, mark, space, upper, upper, PER_BIT)
    wide = worst_eyes(rise, other, mark, space, upper + widening, upper - widening, PER_BIT)
    assert wide.height <= narrow.height + ALGEBRA
    assert 0.0 <= narrow.width <= 1.0
    again = eye_opening(worst_levels(rise, other, mark, space, PER_BIT), upper, upper, PER_BIT)
    assert abs(again.height - narrow.height) <= ALGEBRA
