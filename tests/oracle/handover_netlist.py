"""Handovers on lines with constant R, L and C, and their netlists with voltage-controlled switches.

A driver is an EMF behind its resistance and a switch. What stands at a vertex goes to an EMF, so that a bias network is
a conductance with one. The simulator begins at rest with the first driver on; events are counted from REST on.
"""

import math
from typing import NamedTuple

from line_circuits import Circuit, Load, pair_of

LOSSLESS = pair_of(120, 0.66 * 299792458.0)
PAIR_120 = pair_of(120, 0.66 * 299792458.0, 0.1684)
INNER = (40.0, 55.0)
# a switch closes and opens over this, and edges of data last as long [s]
SWITCHING = 100e-9
REST = 1e-6
# waveforms are compared at so many times, and the simulator takes so many steps at least
LOOKS, STEPS = 200, 3000
OPEN_OHMS, CLOSED_OHMS = 1e9, 1e-3


class Handover(NamedTuple):
    """A circuit with EMFs [V] behind the conductances at some vertices, two drivers, and what they do when."""

    circuit: Circuit
    emf: dict[int, float]
    drivers: tuple[int, int]
    first: float
    second: float
    gap: float
    receivers: tuple[int, ...]
    duration: float
    changes: tuple[tuple[float, float], ...] = ()


END = Load(conductance=1 / 120)
BIASED = Load(conductance=1 / 120 + 1 / 1020)
BIAS_EMF = {0: 5.0 * (1 / 1020) / (1 / 120 + 1 / 1020)}
NODE = Load(conductance=1 / 12e3, capacitance=60e-12)
LONE_BIAS = Load(conductance=1 / 9400)


def _line(first: Load, last: Load) -> Circuit:
    return Circuit([(0, 1, PAIR_120, 120.0), (1, 2, PAIR_120, 180.0)], {0: first, 1: NODE, 2: last})


CASES: dict[str, Handover] = {
    "with bias": Handover(_line(BIASED, END), BIAS_EMF, (0, 2), 3.0, 2.6, 10e-6, (0, 1, 2), 30e-6),
    "without bias": Handover(_line(END, NODE), {}, (0, 2), 3.0, 2.5, 10e-6, (0, 1, 2), 30e-6),
    "long tail": Handover(_line(LONE_BIAS, NODE), {0: 5.0}, (2, 0), -3.0, 3.0, 150e-6, (0, 1, 2), 200e-6),
    "contention": Handover(_line(END, END), {}, (0, 2), 3.0, -3.0, -12e-6, (0, 1, 2), 40e-6),
    "RC terminators": Handover(
        _line(Load(1 / 2000, 0.0, 120.0, 2.2e-9), Load(1 / 12e3, 0.0, 120.0, 2.2e-9)), {0: 2.0}, (0, 2), 3.0, 2.8,
        20e-6, (0, 1, 2), 60e-6,
    ),
    # the driver that enables itself lets go at the end of a space, and bias makes the mark until it takes the next one
    "self-directing driver": Handover(
        _line(LONE_BIAS, NODE), {0: 5.0}, (0, 2), -3.0, -3.0, 80e-6, (0, 1, 2), 140e-6,
    ),
    "stub": Handover(
        Circuit([(0, 1, LOSSLESS, 100.0), (1, 2, LOSSLESS, 150.0), (1, 3, LOSSLESS, 40.0)], {0: BIASED, 2: END, 3: NODE}),
        BIAS_EMF, (3, 0), 3.0, 3.0, 6e-6, (0, 2, 3), 30e-6,
    ),
    "bits after a gap": Handover(
        _line(BIASED, END), BIAS_EMF, (0, 2), 3.0, 3.0, 8e-6, (0, 1, 2), 50e-6, ((10e-6, -6.0), (20e-6, 6.0)),
    ),
}  # fmt: skip


def _share(at: float, duration: float = SWITCHING) -> str:
    begin = REST + at
    return (
        f"(time < {begin!r} ? 0 : (time < {begin + duration!r} ? 0.5 - 0.5 * cos({math.pi / duration!r} * "
        f"(time - {begin!r})) : 1))"
    )


def netlist(title: str, case: Handover, *, steps: int = STEPS) -> str:
    """Return the netlist that writes the waveforms at the receivers to `waveforms.txt`, from REST on."""
    lines = [f"* {title}"]
    release, enable = max(0.0, -case.gap), max(0.0, case.gap)
    own = [repr(case.second), *(f"{change!r} * {_share(enable + at)}" for at, change in case.changes)]
    lines += [
        f"B1 e1 0 V = {case.first!r}", f"B2 e2 0 V = {' + '.join(own)}",
        f"R1 e1 x1 {INNER[0]!r}", f"R2 e2 x2 {INNER[1]!r}",
        f"B3 c1 0 V = 1 - {_share(release)}", f"B4 c2 0 V = {_share(enable)}",
        f"S1 x1 n{case.drivers[0]} c1 0 DRIVER ON", f"S2 x2 n{case.drivers[1]} c2 0 DRIVER OFF",
        f".model DRIVER SW(VT=0.5 VH=0 RON={CLOSED_OHMS!r} ROFF={OPEN_OHMS!r})",
    ]  # fmt: skip
    for k, (a, b, pair, length) in enumerate(case.circuit.lines):
        if pair.resistance == 0:
            impedance = math.sqrt(pair.inductance / pair.capacitance)
            delay = length * math.sqrt(pair.inductance * pair.capacitance)
            lines.append(f"T{k} n{a} 0 n{b} 0 Z0={impedance!r} TD={delay!r}")
            continue
        constants = f"R={pair.resistance!r} L={pair.inductance!r} C={pair.capacitance!r} LEN={length!r}"
        lines += [f"O{k} n{a} 0 n{b} 0 LINE{k}", f".model LINE{k} LTRA({constants})"]
    for vertex, load in case.circuit.loads.items():
        if load.conductance:
            lines.append(f"VG{vertex} g{vertex} 0 {case.emf.get(vertex, 0.0)!r}")
            lines.append(f"RG{vertex} n{vertex} g{vertex} {1 / load.conductance!r}")
        if load.capacitance:
            lines.append(f"CG{vertex} n{vertex} 0 {load.capacitance!r}")
        if load.series_capacitance:
            lines.append(f"RS{vertex} n{vertex} m{vertex} {load.series_resistance!r}")
            lines.append(f"CS{vertex} m{vertex} 0 {load.series_capacitance!r}")
    seen = " ".join(f"v(n{vertex})" for vertex in case.receivers)
    lines += [
        ".options reltol=1e-4 vntol=1e-6 abstol=1e-9",
        f".tran {case.duration / 300!r} {REST + case.duration!r} {REST!r} {case.duration / steps!r}",
        ".control", "set numdgt=12", "run", f"wrdata waveforms.txt {seen}", "quit", ".endc", ".end", "",
    ]  # fmt: skip
    return "\n".join(lines)
