"""Buses as lines with constant R, L and C for the simulators, and their netlists.

Each port of a line has its return at the netlist's ground: difference voltages are node voltages, and nothing floats.
Lines without resistance are T elements, lines with it LTRA elements; no other kind of the simulator holds an ordinary
pair's resistance.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

from line_circuits import Circuit, Load, Pair, pair_of

# full duration of the raised-cosine edge from 0 to 1 V of every driver [s]; the netlist has it as one expression, since
# every corner of a piecewise one is followed through every reflection and stops the simulator there
EDGE = 100e-9
# the simulator's longest step and the raster on which its waveforms are looked at [s]
LONGEST_STEP = 0.5e-9
RASTER = 5e-9

LOSSLESS = pair_of(120, 0.66 * 299792458.0)
PAIR_120 = pair_of(120, 0.66 * 299792458.0, 0.1684)
PAIR_100 = pair_of(100, 0.68 * 299792458.0, 0.1876)
END = Load(conductance=1 / 120)
NODE = Load(conductance=1 / 12e3, capacitance=60e-12)
BLOCKED = Load(series_resistance=120.0, series_capacitance=2.2e-9)
SOURCE_OHMS = 40.0


class Case(NamedTuple):
    """A circuit with its driver, the vertices that are looked at, and for how long [s]."""

    circuit: Circuit
    driver: int
    receivers: tuple[int, ...]
    duration: float


def beside(first: Load, second: Load) -> Load:
    """Return two loads at one place, at most one of them with a series capacitor."""
    return Load(*(a + b for a, b in zip(first, second, strict=True)))


def matched_line() -> Case:
    """One lossless line into its own impedance."""
    return Case(Circuit([(0, 1, LOSSLESS, 100.0)], {1: END}), 0, (0, 1), 1.2e-6)


def mismatched_line() -> Case:
    """One lossless line between too little and too much."""
    return Case(Circuit([(0, 1, LOSSLESS, 60.0)], {1: Load(conductance=1 / 500)}), 0, (0, 1), 4e-6)


def lossy_line() -> Case:
    """600 m of a pair with resistance, terminated at both ends."""
    return Case(Circuit([(0, 1, PAIR_120, 600.0)], {0: beside(END, NODE), 1: beside(END, NODE)}), 0, (0, 1), 12e-6)


def long_stub() -> Case:
    """A stub of 20 m in the middle of a terminated trunk."""
    lines = [(0, 1, PAIR_120, 80.0), (1, 2, PAIR_120, 120.0), (1, 3, PAIR_120, 20.0)]
    return Case(Circuit(lines, {0: END, 2: beside(END, NODE), 3: NODE}), 0, (0, 1, 2, 3), 3e-6)


def short_stubs() -> Case:
    """Twenty stubs of half a metre to a metre and a half on a terminated trunk, driven from the fifth."""
    lines: list[tuple[int, int, Pair, float]] = [(k, k + 1, PAIR_120, 6.0 + k % 3) for k in range(19)]
    lines += [(k, 20 + k, PAIR_120, (0.5, 1.0, 1.5)[k % 3]) for k in range(20)]
    loads = {20 + k: NODE for k in range(20)} | {0: END, 19: END}
    return Case(Circuit(lines, loads), 24, (24, 20, 30, 39), 3e-6)


def star() -> Case:
    """Six arms from a hub without a load, two of them terminated, driven from the end of one that is not."""
    lengths = (15.0, 40.0, 25.0, 60.0, 8.0, 33.0)
    lines = [(0, k + 1, PAIR_120, length) for k, length in enumerate(lengths)]
    loads = dict.fromkeys(range(1, 7), NODE) | {2: beside(END, NODE), 4: beside(END, NODE)}
    return Case(Circuit(lines, loads), 1, (1, 0, 4, 6), 4e-6)


def mixed_pairs() -> Case:
    """100 ohm cable spliced into a bus of 120 ohm, with a line without loss at its end."""
    lines = [(0, 1, PAIR_120, 70.0), (1, 2, PAIR_100, 45.0), (2, 3, PAIR_120, 90.0), (3, 4, LOSSLESS, 3.0)]
    return Case(Circuit(lines, {0: beside(END, NODE), 2: NODE, 3: END, 4: NODE}), 0, (0, 1, 2, 4), 3e-6)


def blocked_terminators() -> Case:
    """Terminators of 120 ohm before 2.2 nF at both ends."""
    lines = [(0, 1, PAIR_120, 60.0), (1, 2, PAIR_120, 90.0)]
    return Case(Circuit(lines, {0: beside(BLOCKED, NODE), 1: NODE, 2: beside(BLOCKED, NODE)}), 0, (0, 1, 2), 4e-6)


def missing_terminator() -> Case:
    """A trunk that is terminated at the driver's end alone."""
    lines = [(0, 1, PAIR_120, 50.0), (1, 2, PAIR_120, 110.0), (1, 3, PAIR_120, 2.0)]
    return Case(Circuit(lines, {0: END, 2: NODE, 3: NODE}), 0, (0, 2, 3), 6e-6)


CASES: dict[str, Callable[[], Case]] = {
    case.__name__.replace("_", " "): case
    for case in (
        matched_line, mismatched_line, lossy_line, long_stub, short_stubs, star, mixed_pairs, blocked_terminators,
        missing_terminator,
    )
}  # fmt: skip


def netlist(title: str, case: Case, *, longest_step: float = LONGEST_STEP, raster: float = RASTER) -> str:
    """Return the netlist that writes the waveforms at the receivers to `waveforms.txt`, each with its times."""
    circuit = case.circuit
    edge = f"time < {EDGE!r} ? 0.5 - 0.5 * cos({math.pi / EDGE!r} * time) : 1"
    lines = [f"* {title}", f"B1 s 0 V = {edge}", f"R1 s n{case.driver} {SOURCE_OHMS!r}"]
    models: dict[tuple[Pair, float], str] = {}
    for k, (a, b, pair, length) in enumerate(circuit.lines):
        if pair.resistance == 0:
            impedance = math.sqrt(pair.inductance / pair.capacitance)
            delay = length * math.sqrt(pair.inductance * pair.capacitance)
            lines.append(f"T{k} n{a} 0 n{b} 0 Z0={impedance!r} TD={delay!r}")
            continue
        model = models.setdefault((pair, length), f"LINE{len(models)}")
        lines.append(f"O{k} n{a} 0 n{b} 0 {model}")
    for (pair, length), model in models.items():
        constants = f"R={pair.resistance!r} L={pair.inductance!r} C={pair.capacitance!r} LEN={length!r}"
        lines.append(f".model {model} LTRA({constants})")
    for vertex, load in circuit.loads.items():
        if load.conductance:
            lines.append(f"RG{vertex} n{vertex} 0 {1 / load.conductance!r}")
        if load.capacitance:
            lines.append(f"CG{vertex} n{vertex} 0 {load.capacitance!r}")
        if load.series_capacitance:
            lines += [f"RS{vertex} n{vertex} m{vertex} {load.series_resistance!r}"]
            lines += [f"CS{vertex} m{vertex} 0 {load.series_capacitance!r}"]
    seen = " ".join(f"v(n{vertex})" for vertex in case.receivers)
    lines += [
        ".options reltol=1e-6 vntol=1e-9 abstol=1e-12", f".tran {raster!r} {case.duration!r} 0 {longest_step!r}",
        ".control", "set numdgt=12", "run", f"linearize {seen}", f"wrdata waveforms.txt {seen}", "quit", ".endc", ".end", "",
    ]  # fmt: skip
    return "\n".join(lines)
