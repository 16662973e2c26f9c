"""What must hold of signals on any bus: order and cuts, reciprocity, scale, and eyes against patterns and brute force."""

import itertools
import random

import attrs
import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from canal_signals import BIAS, END, LINK, PAIR, canal, node, with_figures
from rs485kit import Bus, Link, Node, Termination, analysis, daisy_chain
from rs485kit.analysis import WorstEyes
from rs485kit.network.responses import transfers
from rs485kit.network.signals import signal_network
from rs485kit.testing import buses
from rs485kit.testing.edits import reordered

QUICK = settings(
    max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)  # fmt: skip
ALGEBRA = 1e-9
# what is left of a response where its record ends, and may be counted or not
LEFT = 2e-4
TREES = buses(complete=True, shapes=("chain", "stubs", "star"), least_nodes=2, most_nodes=4)
ANY = buses(complete=True, least_nodes=2, most_nodes=4)
RATES = st.sampled_from([9600.0, 115200.0, 1e6, 3e6])


def same(one: WorstEyes, other: WorstEyes, most: float = ALGEBRA) -> None:
    """Hold that eyes are alike by names, as a share of the largest swing."""
    scale = float(np.nanmax(np.abs(one.mark - one.space)))
    drivers = [other.drivers.index(name) for name in one.drivers]
    receivers = [other.receivers.index(name) for name in one.receivers]
    for name in ("height", "mark_margin", "space_margin", "mark", "space", "overshoot"):
        mine, theirs = getattr(one, name), getattr(other, name)[np.ix_(drivers, receivers)]
        assert (np.isnan(mine) == np.isnan(theirs)).all()
        assert np.nanmax(np.abs(mine - theirs), initial=0.0) <= most * scale, name


# --- order, cuts, mirror ----------------------------------------------------------------------------------


@QUICK
@given(bus=TREES, place=st.integers(0, 9), share=st.floats(0.05, 0.95))
def test_cutting_a_segment_in_two_changes_nothing(bus, place, share):
    span = bus.segments[place % len(bus.segments)]
    cut = bus.with_node(Node(name="cut"), on=(span.start, span.end), at=share * span.length)
    before, after = analysis.worst_eyes(bus), analysis.worst_eyes(cut)
    assume((before.window, before.samples) == (after.window, after.samples))
    same(before, after)


@QUICK
@given(bus=ANY)
def test_the_order_of_nodes_and_segments_changes_nothing(bus):
    before = analysis.worst_eyes(bus)
    for edit in reordered(bus):
        after = analysis.worst_eyes(edit.bus)
        assert (after.window, after.samples, after.edge) == (before.window, before.samples, before.edge), edit.words
        same(before, after)


@st.composite
def chains(draw: st.DrawFn) -> tuple[list[Node], list[float], Link]:
    """Nodes along a trunk with edges, capacitances and terminators of their own, the lengths between them, a rate."""
    nodes = []
    for number in range(draw(st.integers(2, 4))):
        made = node(f"gate-{number}", terminations=draw(st.sampled_from([(), END, Termination(resistance="220 ohm")])))
        part = attrs.evolve(
            made.transceiver, capacitance=draw(st.floats(0.0, 5e-11)), driver_edge_time=draw(st.floats(5e-8, 5e-7)),
            driver_fall_time=draw(st.one_of(st.none(), st.floats(5e-8, 5e-7))),
        )  # fmt: skip
        nodes.append(attrs.evolve(made, transceiver=part))
    lengths = [draw(st.floats(1.0, 80.0)) for _ in nodes[1:]]
    return nodes, lengths, Link(data_rate=draw(RATES))


def laid(nodes: list[Node], lengths: list[float], link: Link) -> Bus:
    return daisy_chain(nodes, spacing=lengths, cable=PAIR, link=link)


@QUICK
@given(chain=chains())
def test_a_mirrored_bus_has_mirrored_eyes(chain):
    nodes, lengths, link = chain
    before, after = analysis.worst_eyes(laid(*chain)), analysis.worst_eyes(laid(nodes[::-1], lengths[::-1], link))
    assert after.drivers == before.drivers[::-1]
    assert (after.window, after.samples) == (before.window, before.samples)
    scale = (before.mark - before.space).max()
    for name in ("height", "width", "settling", "overshoot"):
        mirrored = getattr(after, name)[::-1, ::-1]
        unit = scale if name in ("height", "overshoot") else 1.0
        assert np.abs(mirrored - getattr(before, name)).max() <= 1e-6 * unit, name


# --- reciprocity and scale --------------------------------------------------------------------------------


@QUICK
@given(bus=ANY, frequency=st.floats(1.0, 1e8), damping=st.floats(1.0, 1e6))
def test_the_transfer_impedance_is_the_same_both_ways(bus, frequency, damping):
    """From two gains each way: g_rd / (1 - g_dd) is Z_rd / R_d, the driver's own resistance taken off."""
    network = signal_network(bus)
    vertices = np.array([source.vertex for source in network.sources])
    seen, own = transfers(network, network.sources, vertices, damping + 2j * np.pi * frequency)
    resistance = np.array([source.resistance for source in network.sources])
    impedance = seen * (resistance / (1.0 - own))[:, None]
    scale = np.sqrt(np.abs(np.outer(impedance.diagonal(), impedance.diagonal())))
    assert (np.abs(impedance - impedance.T) / scale).max() <= 1e-7


@QUICK
@given(chain=chains(), factor=st.floats(0.5, 2.0))
def test_swing_and_overshoot_go_with_the_drivers_voltage(chain, factor):
    bus = laid(*chain)
    louder = bus
    for each in bus.nodes:
        part = each.transceiver
        louder = with_figures(
            louder, each.name, driver_open_voltage=part.driver_open_voltage.typ * factor,
            driver_loaded_voltage=part.driver_loaded_voltage.typ * factor,
        )  # fmt: skip
    before, after = analysis.worst_eyes(bus), analysis.worst_eyes(louder)
    swing = before.mark - before.space
    assert np.abs((after.mark - after.space) - factor * swing).max() <= ALGEBRA * swing.max()
    assert np.abs(after.overshoot - factor * before.overshoot).max() <= ALGEBRA * swing.max()
    # the thresholds stay where they are: 200 mV either side
    assert np.abs((after.height + 0.2) - factor * (before.height + 0.2)).max() <= ALGEBRA * swing.max()


# --- eyes against patterns --------------------------------------------------------------------------------


@QUICK
@given(chain=chains(), word=st.lists(st.booleans(), min_size=2, max_size=60), seed=st.integers(0, 10**6))
def test_no_pattern_is_worse_than_the_worst_case(chain, word, seed):
    bus = laid(*chain)
    eyes = analysis.worst_eyes(bus)
    driver = random.Random(seed).choice(eyes.drivers)
    seen = analysis.waveforms(bus, driver)
    voltage = seen.pattern(word).voltage
    row = eyes.drivers.index(driver)
    swing = (eyes.mark - eyes.space).max()
    for column in range(len(eyes.receivers)):
        sample = round(eyes.phase[row, column] / (seen.interval / seen.samples))
        for place, bit in enumerate(word):
            level = voltage[column, place * seen.samples + sample]
            margin = level - 0.2 - eyes.mark_margin[row, column] if bit else -0.2 - level - eyes.space_margin[row, column]
            assert margin >= -LEFT * swing


@QUICK
@given(chain=chains(), seed=st.integers(0, 10**6))
def test_the_worst_sequence_brings_its_level(chain, seed):
    bus = laid(*chain)
    eyes = analysis.worst_eyes(bus)
    dice = random.Random(seed)
    driver, receiver = dice.choice(eyes.drivers), dice.choice(eyes.receivers)
    found, seen = analysis.worst_sequence(bus, driver, receiver), analysis.waveforms(bus, driver)
    column, row = seen.receivers.index(receiver), eyes.between(driver, receiver)
    swing = seen.mark[column] - seen.space[column]
    sides = (
        (found.mark_bits, found.mark_judged, found.mark_level, found.mark_level - 0.2 - row.mark_margin, True),
        (found.space_bits, found.space_judged, found.space_level, -0.2 - found.space_level - row.space_margin, False),
    )
    for bits, judged, level, apart, wanted in sides:
        assert bits[judged] is wanted
        assert abs(apart) <= LEFT * swing
        shown = seen.pattern(bits)
        at = np.interp(judged * seen.interval + found.phase, shown.time, shown.voltage[column])
        assert at == pytest.approx(level, abs=1e-6)


def brute_force(bus: Bus, driver: str, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return lowest marks and highest spaces by receiver and phase over all sequences of some bits."""
    seen = analysis.waveforms(bus, driver)
    length = seen.rise.shape[1] // seen.samples * seen.samples
    lowest = np.full((len(seen.receivers), length), np.inf)
    highest = -lowest
    for word in itertools.product((False, True), repeat=count):
        voltage = seen.pattern(word).voltage
        for place, bit in enumerate(word):
            piece = voltage[:, place * seen.samples : place * seen.samples + length]
            extreme, pick = (lowest, np.minimum) if bit else (highest, np.maximum)
            pick(extreme, piece, out=extreme)
    return lowest, highest


BRUTES = {
    "unequal edges": with_figures(
        canal(60.0, head={"terminations": ()}, rate=Link(data_rate="700 kbit/s")), "gate",
        driver_edge_time="100 ns", driver_fall_time="400 ns",
    ),
    "equal edges, biased": canal(60.0, rate=Link(data_rate="700 kbit/s"), tail={"terminations": ()}).replace_node(
        node("gate", biases=BIAS)
    ),
}  # fmt: skip


@pytest.mark.parametrize("bus", BRUTES.values(), ids=BRUTES)
def test_the_worst_case_is_that_of_all_sequences(bus):
    """Bits enough that the record ends within them: before the first one the pair rests at its level."""
    eyes, seen = analysis.worst_eyes(bus), analysis.waveforms(bus, "gate")
    count = seen.rise.shape[1] // seen.samples + 1
    assert 5 <= count <= 13
    lowest, highest = brute_force(bus, "gate", count)
    swing = (eyes.mark - eyes.space).max()
    for column, receiver in enumerate(eyes.receivers):
        row = eyes.between("gate", receiver)
        height = np.minimum(lowest[column] - 0.2, -0.2 - highest[column]).max()
        assert height == pytest.approx(row.height, abs=LEFT * swing)
        words = analysis.worst_sequence(bus, "gate", receiver)
        sample = round(words.phase / (seen.interval / seen.samples))
        assert lowest[column, sample] == pytest.approx(words.mark_level, abs=1e-9 * swing)
        assert highest[column, sample] == pytest.approx(words.space_level, abs=1e-9 * swing)


def test_unequal_edges_cost_what_equal_ones_would_not_show():
    """What slows one edge alone closes the eye from one side; taking both edges for the faster one hides it."""
    equal = canal(60.0, rate=LINK)
    unequal = with_figures(equal, "gate", driver_edge_time="50 ns", driver_fall_time="800 ns")
    fast = with_figures(equal, "gate", driver_edge_time="50 ns")
    worst, hidden = (analysis.worst_eyes(each).between("gate", "pump-house") for each in (unequal, fast))
    assert worst.width < hidden.width - 0.1
    assert worst.height <= hidden.height + 1e-3
