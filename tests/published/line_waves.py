"""Waves in time for the recipes, from the closed forms alone: a Fourier series of a slow square wave.

The wave rises and falls by ramps and stays long enough between them for everything to settle, so half a period of what
comes out is the answer to one ramp. That shares nothing with an inverse Laplace transform. The sum is exact up to the
harmonics left out, which matter at corners only.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from rs485kit import formulas as f

Array = npt.NDArray[np.float64]
Transfer = Callable[[Array], npt.NDArray[np.complex128]]

NEARLY_DC = 1e-2


def answer(transfer: Transfer, ramp: float, *, period: float, highest: float) -> Callable[[Any], Array]:
    """Return the answer to a ramp from 0 V to 1 V that begins at 0 s, as a function of times below half a period.

    A transfer that gives several rows has an answer for each.
    """
    frequencies = np.arange(1.0, highest * period, 2.0) / period
    turning = 2.0 * np.pi * frequencies
    wave = 2.0 / (1j * turning * period) * np.sinc(frequencies * ramp) * np.exp(-0.5j * turning * ramp)
    passed = 2.0 * wave * transfer(frequencies)
    mean = 0.5 * transfer(np.array([NEARLY_DC])).real

    def at(times: Any) -> Array:
        times = np.atleast_1d(np.asarray(times, dtype=float))
        assert 0.0 <= times.min() <= times.max() < 0.5 * period
        return mean + np.stack([(passed @ np.exp(1j * turning * time)).real for time in times], axis=-1)

    return at


def driven(transfer: Transfer, times: Any, ramp: float, **window: float) -> Array:
    """Return that answer at some times."""
    return answer(transfer, ramp, **window)(times)


def reached(shares: Any, transfer: Transfer, between: tuple[float, float], ramp: float, **window: float) -> Array:
    """Return when a rising answer passes shares of its final value, by halving the time between two bounds."""
    heights, final = answer(transfer, ramp, **window), transfer(np.array([NEARLY_DC])).real
    low, high = (np.full(np.shape(shares), bound) for bound in between)
    for _ in range(30):
        middle = 0.5 * (low + high)
        is_below = heights(middle) < shares * final
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return 0.5 * (low + high)


def uniform(frequency: Array, *constants: Any, length: float, source: Any, load: Any) -> npt.NDArray[np.complex128]:
    """Return far voltage over the open voltage of the source, for one uniform line between two resistances."""
    line = f.characteristic_impedance(frequency, *constants), f.propagation_constant(frequency, *constants), length
    near = f.input_impedance(*line, load_impedance=load)
    return near / (source + near) * f.end_voltage_ratio(*line, load_impedance=load)


def skin_constants(frequency: Array, impedance: float, velocity: float, diameter: float, resistivity: float) -> Any:
    """Return the primary constants of a pair of isolated round wires with the given impedance outside them."""
    inside = 2.0 * np.asarray(f.internal_impedance(diameter, frequency, resistivity=resistivity))
    inductance = f.lossless_inductance(impedance, velocity) + inside.imag / (2.0 * np.pi * frequency)
    return inside.real, inductance, 0.0, f.lossless_capacitance(impedance, velocity)


def parallel(*impedances: Any) -> Any:
    """Return impedances in parallel."""
    return 1.0 / sum(1.0 / impedance for impedance in impedances)


def node_impedance(frequency: Array, resistance: float, capacitance: float) -> Any:
    """Return the impedance of a node's input."""
    return 1.0 / (1.0 / resistance + 2j * np.pi * frequency * capacitance)


def crossing_jitter(transfer: Transfer, rate: float, bits: Any, edge_share: float, *, samples: int) -> float:
    """Return the peak-to-peak jitter of the zero crossings of a repeated bit sequence, as a share of the bit.

    The bits go from -1 V to +1 V by ramps that take a share of the bit.
    """
    levels = 2.0 * np.asarray(bits, dtype=float) - 1.0
    bit, count = 1.0 / rate, levels.size
    frequencies = np.arange(1, count * samples // 2) * rate / count
    turning = 2.0 * np.pi * frequencies
    ramp = edge_share * bit
    steps = levels - np.roll(levels, 1)
    harmonics = np.fft.fft(steps)[np.arange(1, count * samples // 2) % count]
    wave = harmonics * np.sinc(frequencies * ramp) * np.exp(-0.5j * turning * ramp) / (1j * turning * count * bit)
    spectrum = np.zeros(count * samples // 2 + 1, dtype=complex)
    # x(t) with its mean over the period
    spectrum[0] = levels.mean() * transfer(np.array([NEARLY_DC]))[0].real
    spectrum[1:-1] = wave * transfer(frequencies)
    heights = np.fft.irfft(spectrum, n=count * samples) * count * samples
    following = np.roll(heights, -1)
    crossed = np.flatnonzero(heights * following < 0.0)
    places = (crossed + heights[crossed] / (heights[crossed] - following[crossed])) / samples
    middle = np.angle(np.exp(2j * np.pi * places).mean()) / (2.0 * np.pi)
    offsets = (places - middle + 0.5) % 1.0
    return float(np.ptp(offsets))


def pseudorandom_bits() -> list[int]:
    """Return the 127 bits of x^7 + x^6 + 1."""
    state, bits = [1] * 7, []
    for _ in range(127):
        bits.append(state[-1])
        state = [state[-1] ^ state[-2], *state[:-1]]
    return bits
