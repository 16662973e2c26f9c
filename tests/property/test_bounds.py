"""Proved bounds against draws from the box: nothing that was drawn lies outside, and where signs are certain they are exact.

The draws solve the network densely with numpy alone, at conductances, supplies, earths and input currents of their own.
"""

import numpy as np
import pytest

from random_buses import random_bus
from rs485kit.model import Bias, Cable, Node, Termination, Transceiver, daisy_chain
from rs485kit.network import idle_network
from rs485kit.network.border import border_box, border_sources, bounded_outputs, inputs_of, read_inputs
from rs485kit.network.driving import Driver, bounded_levels, driver_of, ready_for_drivers
from rs485kit.solvers.enclosure import Pairs, solved_middle

DRAWS = 1000
BUSES = 60
# what a dense solution of these networks may be off by [V]
SOLVING = 1e-9


def drawn(rng, lower, upper, count):
    """Return draws from an interval, half of them at its ends."""
    inside = rng.uniform(0.0, 1.0, (count, len(lower)))
    ends = rng.integers(0, 2, (count, len(lower)))
    share = np.where(rng.random((count, 1)) < 0.5, inside, ends)
    return lower + share * (upper - lower)


def solved(box, conductance, emf, driver=None):
    """Return potentials for each draw: dense, the fixed unknowns at zero and their sources in the branches."""
    size, count = box.layout.size, len(conductance)
    matrix = np.zeros((count, size, size))
    right = np.zeros((count, size))
    for branch, (a, b) in enumerate(zip(box.start, box.end, strict=True)):
        g = conductance[:, branch]
        matrix[:, a, a] += g
        matrix[:, b, b] += g
        matrix[:, a, b] -= g
        matrix[:, b, a] -= g
        right[:, a] += g * emf[:, branch]
        right[:, b] -= g * emf[:, branch]
    untouched = np.flatnonzero((matrix == 0).all(axis=(0, 2)))
    for unknown in {*box.fixed.tolist(), *untouched.tolist()}:
        matrix[:, unknown] = matrix[:, :, unknown] = 0.0
        matrix[:, unknown, unknown] = 1.0
        right[:, unknown] = 0.0
    if driver is None:
        return np.linalg.solve(matrix, right[..., None])[..., 0]
    # an ideal source in each leg: two more unknowns, the currents, and two more equations
    (lines, common), legs, held = driver
    wide = np.zeros((count, size + 2, size + 2))
    wide[:, :size, :size] = matrix
    more = np.zeros((count, size + 2))
    more[:, :size] = right
    for leg, line in enumerate(lines):
        wide[:, line, size + leg] = -1.0
        wide[:, size + leg, line] = 1.0
        if common not in box.fixed:
            wide[:, common, size + leg] += 1.0
            wide[:, size + leg, common] -= 1.0
        more[:, size + leg] = legs[leg] + held
    return np.linalg.solve(wide, more[..., None])[..., 0][:, :size]


def emf_of(sources, values, branches):
    """Return the EMF of every branch for each draw of the sources."""
    emf = np.zeros((len(values), branches))
    np.add.at(emf.T, sources.branch, (sources.sign[:, None] * values.T[sources.source]))
    return emf


@pytest.mark.parametrize("apart", [0.0, 7.0])
def test_no_draw_lies_outside_the_idle_bounds(apart):
    rng = np.random.default_rng(1)
    gaps, drawn_points = [], 0
    for _ in range(BUSES):
        bus = random_bus(rng, apart=apart)
        network = idle_network(bus)
        inputs = inputs_of(network, bus.nodes)
        pairs = Pairs(network.terminals[:, 0], network.terminals[:, 1])
        for name in ("matched", "independent"):
            box = border_box(network, inputs, name)
            middle = solved_middle(box)
            read = read_inputs(network, inputs, middle, name)
            if read.outside:
                continue
            found = bounded_outputs(middle, read, pairs)
            sources, _ = border_sources(network, inputs, name)
            values = drawn(rng, sources.lower, sources.upper, DRAWS)
            conductance = drawn(rng, box.lower, box.upper, DRAWS)
            potential = solved(box, conductance, emf_of(sources, values, len(box.start)))
            seen = potential[:, pairs.plus] - potential[:, pairs.minus]
            assert (seen >= found.lower - SOLVING).all()
            assert (seen <= found.upper + SOLVING).all()
            assert (found.attained_lower >= found.lower - SOLVING).all()
            assert (found.attained_upper <= found.upper + SOLVING).all()
            assert (found.attained_lower <= found.attained_upper).all()
            gaps += list(found.attained_lower - found.lower)
            drawn_points += len(seen)
    assert drawn_points >= 0.4 * 2 * BUSES * DRAWS
    # reported on the page about the solver
    assert np.median(gaps) < (5e-4 if apart == 0.0 else 5e-3)


@pytest.mark.parametrize("apart", [0.0, 7.0])
def test_no_draw_lies_outside_the_driven_bounds(apart):
    rng = np.random.default_rng(2)
    gaps = []
    for _ in range(BUSES // 2):
        bus = random_bus(rng, apart=apart)
        network = idle_network(bus)
        inputs = inputs_of(network, bus.nodes)
        box = border_box(network, inputs, "independent")
        pairs = Pairs(network.terminals[:, 0], network.terminals[:, 1])
        driven = ready_for_drivers(network, inputs, solved_middle(box), pairs)
        drivers = tuple(driver_of(node, index) for index, node in enumerate(bus.nodes))
        mark, space, lines, outside = bounded_levels(driven, drivers)
        if outside or driven.read.outside:
            continue
        sources, _ = border_sources(network, inputs, "independent")
        against = Pairs(network.terminals[:, :2].ravel(), np.repeat(network.terminals[:, 2], 2))
        for row, driver in enumerate(drivers):
            for sign in (1.0, -1.0):
                seen = _driven_draws(rng, network, box, sources, driver, sign, against)
                assert (seen >= lines.lower.ravel() - SOLVING).all()
                assert (seen <= lines.upper.ravel() + SOLVING).all()
            for levels, sign in ((mark, 1.0), (space, -1.0)):
                seen = _driven_draws(rng, network, box, sources, driver, sign, pairs)
                assert (seen >= levels.lower[row] - SOLVING).all()
                assert (seen <= levels.upper[row] + SOLVING).all()
                assert (levels.attained_lower[row] >= levels.lower[row] - SOLVING).all()
                assert (levels.attained_upper[row] <= levels.upper[row] + SOLVING).all()
        gaps += list((mark.attained_lower - mark.lower).ravel())
    assert len(gaps) > BUSES
    assert np.median(gaps) < (2e-2 if apart == 0.0 else 5e-2)


def _driven_draws(rng, network, box, sources, driver: Driver, sign, pairs):
    values = drawn(rng, sources.lower, sources.upper, DRAWS // 5)
    conductance = drawn(rng, box.lower, box.upper, len(values))
    own = drawn(
        rng, np.array([driver.lower, driver.offset[1]]), np.array([driver.upper, driver.offset[2]]), len(values)
    )
    first, second, common = (int(unknown) for unknown in network.terminals[driver.vertex])
    held = sum((values[:, s] for u, s in zip(sources.held, sources.held_source, strict=True) if u == common), 0.0)
    legs = own[:, 1] + sign * own[:, 0] / 2, own[:, 1] - sign * own[:, 0] / 2
    potential = solved(box, conductance, emf_of(sources, values, len(box.start)), (((first, second), common), legs, held))
    seen = potential[:, pairs.plus] - potential[:, pairs.minus]
    for unknown, source in zip(sources.held, sources.held_source, strict=True):
        seen[:, pairs.plus == unknown] += values[:, source, None]
        seen[:, pairs.minus == unknown] -= values[:, source, None]
    return seen


def test_bounds_are_those_of_all_corners_without_earth_differences():
    """Every corner of conductances and sources of a small bus, by brute force."""
    cable = Cable(name="pair", conductor_resistance=(0.08, 0.084, 0.09))
    part = Transceiver(name="part", unit_load=1.0)
    bias = Bias(pull_up="560 ohm +/- 5 %", pull_down="560 ohm +/- 5 %", supply="5 V +/- 5 %")
    end = Termination(resistance="120 ohm +/- 5 %")
    bus = daisy_chain(
        [
            Node(name="head", transceiver=part, terminations=end, biases=bias),
            Node(name="tail", transceiver=part, terminations=end),
        ],
        spacing="800 m",
        cable=cable,
    )
    network = idle_network(bus)
    inputs = inputs_of(network, bus.nodes)
    box = border_box(network, inputs, "independent")
    middle = solved_middle(box)
    pairs = Pairs(network.terminals[:, 0], network.terminals[:, 1])
    for name in ("matched", "independent"):
        sources, _ = border_sources(network, inputs, name)
        free = np.flatnonzero(box.upper > box.lower)
        corners = ((np.arange(2 ** len(free))[:, None] >> np.arange(len(free))) & 1).astype(float)
        conductance = np.repeat(box.lower[None], len(corners), axis=0)
        conductance[:, free] += corners * (box.upper - box.lower)[free]
        least, most = np.full(2, np.inf), np.full(2, -np.inf)
        for choice in range(2 ** len(sources.lower)):
            bits = (choice >> np.arange(len(sources.lower))) & 1
            value = np.where(bits, sources.upper, sources.lower)[None].repeat(len(corners), axis=0)
            potential = solved(box, conductance, emf_of(sources, value, len(box.start)))
            seen = potential[:, pairs.plus] - potential[:, pairs.minus]
            least, most = np.minimum(least, seen.min(axis=0)), np.maximum(most, seen.max(axis=0))
        found = bounded_outputs(middle, read_inputs(network, inputs, middle, name), pairs)
        assert found.lower == pytest.approx(least, abs=1e-8)
        assert found.upper == pytest.approx(most, abs=1e-8)
        assert found.attained_lower == pytest.approx(least, abs=1e-8)
