"""Switching events composed by substitution against the method of characteristics, on lines without loss."""

from typing import NamedTuple

import numpy as np
import pytest

from line_circuits import Circuit, Load, graph_of, media_of, pair_of
from oracle.characteristics import Behind, End, Forced, at_rest, settled, voltages
from rs485kit.solvers.laplace import contour_of, frequencies, inverted, times
from rs485kit.solvers.line_nodal import transfer_impedances
from rs485kit.solvers.switching import Before, Ports, Sent, Switch, closed_after, closed_before

IMPEDANCE, VELOCITY = 120.0, 2e8
PAIR = pair_of(IMPEDANCE, VELOCITY)
STEP, WINDOW = 4e-9, 4e-4
# the window of the composed record, from which it is known that everything has come to rest
SEEN = 15000
INNER = (40.0, 55.0)
SWITCHING = 1e-6
PROMISED = 1e-6


class Case(NamedTuple):
    """A line [m] with what stands at its ends, EMFs before and after, and when the second driver takes the pair [s]."""

    length: float
    ends: tuple[End, End]
    first: float
    second: float
    gap: float
    changes: tuple[tuple[float, float, float], ...] = ()


END, BIASED, WEAK, OPEN = End(1 / 120, 0.0), End(1 / 120 + 1 / 1020, 0.5), End(1 / 2000, 1.0), End(1 / 12e3, 0.0)
CASES = {
    "terminated, no bias": Case(200.0, (END, END), 3.0, 3.0, 5e-6),
    "terminated, with bias": Case(200.0, (END, BIASED), 3.0, 2.5, 5e-6),
    "long tail": Case(300.0, (WEAK, OPEN), 3.0, 3.0, 2e-5),
    "one end, from space": Case(100.0, (END, OPEN), -3.0, 3.0, 3e-6),
    "contention": Case(200.0, (END, END), 3.0, -3.0, -8e-6),
    "overlap of marks with bias": Case(400.0, (BIASED, END), 3.0, 2.0, -5e-6),
    "bits after a gap": Case(200.0, (END, BIASED), 3.0, 3.0, 4e-6, ((1e-5, -6.0, 1e-6), (2e-5, 6.0, 1e-6))),
    "bits into an overlap": Case(200.0, (END, END), 3.0, 3.0, -2e-5, ((8e-6, -6.0, 1e-6), (1.6e-5, 6.0, 1e-6))),
}  # fmt: skip


def reckoned(case: Case) -> np.ndarray:
    """Return the voltages at both ends by the library's composition."""
    loads = {side: Load(conductance=end.conductance) for side, end in enumerate(case.ends)}
    circuit = Circuit([(0, 1, PAIR, case.length)], loads)
    contour = contour_of(STEP, WINDOW)
    s, places = frequencies(contour), np.arange(2, dtype=np.intp)
    impedance = transfer_impedances(graph_of(circuit), media_of(circuit, s), places)
    total = sum(end.conductance for end in case.ends)
    resting = np.full((2, 2), 1.0 / total)
    current, voltage = held(case)
    before = Before(current, (voltage, voltage))
    release = Switch(INNER[0], max(0.0, -case.gap), SWITCHING, "raised cosine")
    enable = Switch(INNER[1], max(0.0, case.gap), SWITCHING, "raised cosine")
    sent, ports = Sent(case.second, case.changes), Ports(impedance, resting)
    if case.gap < 0:
        _, found = closed_before(contour, ports, before, release, enable, sent)
    else:
        found = closed_after(contour, ports, before, release, enable, sent)
    spectra = np.einsum("pqf,qf->pf", impedance, found.transform)
    return voltage + inverted(contour, spectra, resting @ found.final)[:, :SEEN]


def held(case: Case) -> tuple[float, float]:
    """Return the current of the first driver before it lets go, and the voltage."""
    idle, total = settled(case.ends, 0.0), sum(end.conductance for end in case.ends)
    current = (case.first - idle) / (INNER[0] + 1.0 / total)
    return current, idle + current / total


def stepped(case: Case) -> np.ndarray:
    """Return the voltages at both ends by the method of characteristics."""
    seen = times(contour_of(STEP, WINDOW))[:SEEN]
    step = contour_of(STEP, WINDOW).step
    current, voltage = held(case)
    flight = round(case.length / VELOCITY / step)
    into = (
        current + case.ends[0].conductance * (case.ends[0].emf - voltage),
        case.ends[1].conductance * (case.ends[1].emf - voltage),
    )
    rest = at_rest(IMPEDANCE, voltage, into)
    off = Behind(np.zeros(SEEN), np.full(SEEN, np.inf))
    inner = tuple(np.full(SEEN, ohms) for ohms in INNER)

    def share(at: float, duration: float) -> np.ndarray:
        return (1.0 - np.cos(np.pi * np.clip((seen - at) / duration, 0.0, 1.0))) / 2.0

    leaving, taking = share(max(0.0, -case.gap), SWITCHING), share(max(0.0, case.gap), SWITCHING)

    def run(first: Forced | Behind, second: Forced | Behind) -> np.ndarray:
        return voltages(IMPEDANCE, flight, case.ends, (first, second), rest)

    # what the second driver finds where it takes the pair, and from which its own EMF starts
    found = run(Forced(current * (1.0 - leaving)), off)[1] if case.gap >= 0 else np.full(SEEN, voltage)
    own = found + (case.second - found) * taking
    for at, change, duration in case.changes:
        own = own + change * share(at, duration)
    # before it is enabled nothing flows: its EMF is the voltage that it finds
    second = Behind(own, inner[1])
    if case.gap >= 0:
        return run(Forced(current * (1.0 - leaving)), second)
    across = run(Behind(np.full(SEEN, case.first), inner[0]), second)
    flowing = (case.first - across[0]) / INNER[0]
    return run(Forced(flowing * (1.0 - leaving)), second)


@pytest.mark.parametrize("name", CASES)
def test_a_flight_takes_whole_steps(name):
    samples = CASES[name].length / VELOCITY / contour_of(STEP, WINDOW).step
    assert abs(samples - round(samples)) < 1e-9


@pytest.mark.parametrize("name", CASES)
def test_events_composed_are_those_of_the_method_of_characteristics(name):
    case = CASES[name]
    swing = abs(case.first) + abs(case.second)
    assert np.abs(reckoned(case) - stepped(case)).max() <= PROMISED * swing
