"""The method of characteristics: one line without loss between two places, each with a resistor, a source and drivers.

Nothing of the library is used. At each end the wave that comes in is what the other end sent one flight time before:

    v = incoming + outgoing,    i into the line = (outgoing - incoming) / Z0 = everything that the end's elements deliver.

Time goes in steps of which the flight takes a whole number, so that nothing is interpolated.
"""

from typing import NamedTuple

import numpy as np


class End(NamedTuple):
    """What stands at one end: a conductance [S] to an EMF [V], which is a terminator and a bias network in one."""

    conductance: float
    emf: float


class Forced(NamedTuple):
    """A driver whose current is forced [A], by time."""

    current: np.ndarray


class Behind(NamedTuple):
    """A driver with an EMF [V] by time behind a resistance [ohm]; infinite resistance: it is off."""

    emf: np.ndarray
    resistance: np.ndarray


def settled(ends: tuple[End, End], current: float) -> float:
    """Return the voltage of a line at rest, both ends alike, with a current fed into it."""
    total = ends[0].conductance + ends[1].conductance
    return (ends[0].conductance * ends[0].emf + ends[1].conductance * ends[1].emf + current) / total


def voltages(
    impedance: float, flight: int, ends: tuple[End, End], drivers: tuple[Forced | Behind, Forced | Behind],
    before: tuple[float, float],
) -> np.ndarray:
    """Return the voltages at both ends, shape (2, times), and nothing else.

    `before` are the outgoing waves of both ends before the first sample, the line being at rest; `flight` is in samples.
    """
    count = len(drivers[0][0])
    found, sent = np.empty((2, count)), np.empty((2, count + flight))
    sent[:, :flight] = np.array(before)[:, None]
    for now in range(count):
        for side in (0, 1):
            incoming = sent[1 - side, now]
            end, driver = ends[side], drivers[side]
            # (v - 2 incoming) / Z0 = G (E - v) + current
            admittance, feed = 1.0 / impedance + end.conductance, 2.0 * incoming / impedance + end.conductance * end.emf
            if isinstance(driver, Forced):
                feed += driver.current[now]
            else:
                admittance += 1.0 / driver.resistance[now]
                feed += driver.emf[now] / driver.resistance[now]
            found[side, now] = feed / admittance
            sent[side, now + flight] = found[side, now] - incoming
    return found


def at_rest(impedance: float, voltage: float, into_line: tuple[float, float]) -> tuple[float, float]:
    """Return the outgoing waves of a line at rest at a voltage, with currents into it at its ends."""
    return (voltage + impedance * into_line[0]) / 2.0, (voltage + impedance * into_line[1]) / 2.0
