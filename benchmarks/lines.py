"""What signals on lines cost: ratios to a circuit simulator and to bare inverse FFTs, growth with the nodes, memory.

    python benchmarks/lines.py [--without-simulator]

The simulator needs about a minute. All ratios are of one process on one core; every figure is the least of some runs,
except the simulator's, which is of one. Nothing here is a test.
"""

import argparse
import os
import platform
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from line_circuits import Circuit, Load, at_rest, graph_of, media_of
from oracle import simulator
from oracle.line_networks import PAIR_120, SOURCE_OHMS, Case, netlist
from oracle.line_simulator import waveforms
from rs485kit.solvers.laplace import (
    FULL_DURATION,
    Contour,
    contour_of,
    edge_transform,
    frequencies,
    inverted,
    resolved,
)
from rs485kit.solvers.line_graph import LineTree, line_tree
from rs485kit.solvers.sweep import Sweep, driven, received, swept, voltages
from rs485kit.solvers.trellis import worst_eyes

LENGTH, STUB = 1200.0, 0.3
EDGE = 100e-9
BIT, PER_BIT = 2e-6, 64
SIZES = (16, 32, 64, 128, 256, 512)
UPPER, LOWER = 0.6, 0.4


class Solved(NamedTuple):
    """A bus as far as all its drivers share it."""

    contour: Contour
    tree: LineTree
    sweep: Sweep
    source: np.ndarray
    nodes: np.ndarray


def bus(count: int) -> Circuit:
    """Return a terminated bus of 1.2 km with equal spans and a stub for each node; nodes follow the taps."""
    lines = [(k, k + 1, PAIR_120, LENGTH / (count - 1)) for k in range(count - 1)]
    lines += [(k, count + k, PAIR_120, STUB) for k in range(count)]
    node = Load(conductance=1 / 96e3, capacitance=15e-12)
    ends = dict.fromkeys((0, count - 1), Load(conductance=1 / 120))
    return Circuit(lines, ends | {count + k: node for k in range(count)})


def solved(count: int, contour: Contour, edge: float) -> Solved:
    """Return a bus with its sweep."""
    circuit = bus(count)
    graph, s = graph_of(circuit), frequencies(contour)
    tree = line_tree(graph)
    assert tree is not None
    sweep = swept(graph, tree, media_of(circuit, s))
    return Solved(contour, tree, sweep, edge_transform(s, edge, "raised cosine"), np.arange(count, 2 * count))


def one_driver(count: int, contour: Contour, edge: float, final: np.ndarray) -> np.ndarray:
    """Return the waveforms of the first node's driver at all nodes, from the lines' constants on."""
    all_drivers = solved(count, contour, edge)
    start = driven(all_drivers.sweep, count, all_drivers.source, SOURCE_OHMS)
    everywhere = voltages(all_drivers.tree, all_drivers.sweep, count, start)
    return inverted(contour, everywhere[count:], final[count:])


def all_eyes(known: Solved, *, unequal: bool) -> np.ndarray:
    """Return the worst eye heights of all pairs; unequal edges take a second record each, here the same once more."""
    count = len(known.nodes)
    height = np.empty((count, count))
    for driver in range(count):
        vertex = int(known.nodes[driver])
        start = driven(known.sweep, vertex, known.source, SOURCE_OHMS)
        for rows, spectra in received(known.tree, known.sweep, vertex, start, known.nodes):
            rise = inverted(known.contour, spectra, 1.0)
            fall = inverted(known.contour, spectra, 1.0) if unequal else None
            height[driver, rows] = worst_eyes(rise, fall, 1.0, 0.0, UPPER, LOWER, PER_BIT).height
    return height


def bare(records: int, points: int) -> None:
    """Do as many inverse FFTs, a piece at a time, from the same memory over and over."""
    spectra = np.random.default_rng(0).normal(size=(32, points // 2 + 1)) + 0j
    for _ in range(records // 32):
        np.fft.irfft(spectra, points)


def least(work: Callable[[], object], runs: int) -> float:
    """Return the least time of some runs [s]."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def against_simulator(count: int, step: float, points: int) -> None:
    """Print what one driver's waveforms cost here and there, and how far apart they are."""
    circuit = bus(count)
    final = at_rest(circuit, count, SOURCE_OHMS)
    contour = contour_of(step, step * points)
    mine = least(lambda: one_driver(count, contour, EDGE, final), 7)
    print(f"one driver, {count} drops, {points} points of {step:.3g} s: {mine * 1e3:.1f} ms")
    case = Case(circuit, count, tuple(range(count, 2 * count)), step * points / 2)
    start = time.perf_counter()
    _, volts = waveforms(netlist("bus", case, longest_step=step, raster=step), count)
    theirs = time.perf_counter() - start
    found = one_driver(count, contour, EDGE, final)
    shared = min(volts.shape[1], found.shape[1])
    apart = np.abs(volts[:, :shared] - found[:, :shared]).max() / final[count:].max()
    print(f"the simulator at the same step: {theirs:.1f} s, {theirs / mine:.0f} x; {apart:.1e} of the swing apart")


def settled_contour(count: int) -> Contour:
    """Return the contour for all pairs at 500 kbit/s: what the farthest pairs need to settle."""
    circuit = bus(count)
    final = at_rest(circuit, count, SOURCE_OHMS)
    edge = FULL_DURATION["raised cosine"] * EDGE

    def respond(contour: Contour) -> np.ndarray:
        known = solved(count, contour, edge)
        start = driven(known.sweep, count, known.source, SOURCE_OHMS)
        return voltages(known.tree, known.sweep, count, start)[count:]

    return resolved(respond, contour_of(BIT / PER_BIT, 8e-6), final[count:])[0]


def all_pairs() -> None:
    """Print what the worst eyes of all pairs cost, beside the bare inverse FFTs of their records."""
    print(f"worst eyes of all pairs at {1e-3 / BIT:.0f} kbit/s, {PER_BIT} phases; a record is one inverse FFT")
    heads = (("nodes", 5), ("points", 6), ("sweep s", 8), ("eyes s", 8), ("x bare", 7), ("unequal s", 9), ("x bare", 7))
    print(" ".join(f"{head:>{width}}" for head, width in heads), " us/pair")
    for count in SIZES:
        contour = settled_contour(count)
        edge = FULL_DURATION["raised cosine"] * EDGE
        sweep = least(lambda count=count, contour=contour, edge=edge: solved(count, contour, edge), 3)
        known = solved(count, contour, edge)
        runs = 3 if count <= 128 else 1
        equal = sweep + least(lambda known=known: all_eyes(known, unequal=False), runs)
        unequal = sweep + least(lambda known=known: all_eyes(known, unequal=True), runs)
        unit = least(lambda count=count, contour=contour: bare(count**2, contour.points), runs)
        print(
            f"{count:5d} {contour.points:6d} {sweep:8.3f} {equal:8.3f} {equal / unit:7.2f} {unequal:9.3f} "
            f"{unequal / unit / 2:7.2f} {equal / count**2 * 1e6:8.1f}"
        )


def main() -> None:
    """Print all of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--without-simulator", action="store_true")
    arguments = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}")
    all_pairs()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of the process so far {peak:.0f} MB")
    if not arguments.without_simulator and simulator.is_installed():
        against_simulator(32, EDGE / 5, 4096)


if __name__ == "__main__":
    main()
