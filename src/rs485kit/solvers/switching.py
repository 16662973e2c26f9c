"""Switching events on a linear network, composed exactly by substitution.

    first = opened(contour, ports, before, release)             # the released driver's current goes to nothing
    both = closed_after(contour, ports, before, release, enable)     # and then another one takes the pair
    both = closed_before(contour, ports, before, release, enable)    # or takes it before the first one lets go

A driver that lets go has its current forced from what it would be to nothing; one that takes the pair brings an EMF
that goes from the voltage it finds to its own behind its resistance. Both are sources on a linear network whose other
elements do not change, so that every event costs a transform to time and one back, and nothing is stepped.

All transforms are on the contour of `laplace`. `w(t)` is the raised cosine or ramp from 0 to 1 over which a driver
switches. `Currents` are by how much the currents of the two ports differ from those before the first event; with the
transfer impedances of the undriven network they give the voltage anywhere:

    V_r = V_r before + Z_r,releasing I_releasing + Z_r,enabling I_enabling.
"""

import math
from typing import NamedTuple

import numpy as np

from rs485kit.solvers.laplace import Contour, Shape, edge_transform, frequencies, inverted, times
from rs485kit.solvers.line_graph import Complexes, Floats

RELEASING, ENABLING = 0, 1


class Ports(NamedTuple):
    """The undriven network between the two drivers: impedances, shape (2, 2, f), and the same at rest, (2, 2) [ohm]."""

    impedance: Complexes
    resting: Floats


class Before(NamedTuple):
    """What there is before the first event: current of the releasing driver [A] and voltage at both drivers [V]."""

    current: float
    voltage: tuple[float, float]


class Switch(NamedTuple):
    """A driver that switches: resistance [ohm], when it begins to [s], and how long [s] and in which shape it does."""

    resistance: float
    at: float
    duration: float
    shape: Shape


class Sent(NamedTuple):
    """What an enabled driver sends: its first EMF [V], and its changes by time [s], step [V] and full duration [s]."""

    first: float
    changes: tuple[tuple[float, float, float], ...]


class Currents(NamedTuple):
    """Changes of the two drivers' currents: transforms, shape (2, f) [A s], and where they come to rest, (2,) [A]."""

    transform: Complexes
    final: Floats


def switched(contour: Contour, switch: Switch) -> Floats:
    """Return w(t) of a driver that switches, at the times of a contour.

    Parameters
    ----------
    contour : Contour
        The contour [-].
    switch : Switch
        When and how [-].

    Returns
    -------
    array, shape (points / 2,)
        From 0 to 1 [-].
    """
    share = np.clip((times(contour) - switch.at) / switch.duration, 0.0, 1.0)
    return share if switch.shape == "linear ramp" else np.asarray((1.0 - np.cos(math.pi * share)) / 2.0)


def switch_transform(contour: Contour, at: float, duration: float, shape: Shape) -> Complexes:
    """Return the transform of w(t).

    Parameters
    ----------
    contour : Contour
        The contour [-].
    at : float
        When it begins [s].
    duration : float
        How long it takes [s].
    shape : str
        "raised cosine" or "linear ramp" [-].

    Returns
    -------
    array, shape (f,)
        Transform [s].
    """
    s = frequencies(contour)
    return np.asarray(edge_transform(s, duration, shape) * np.exp(-s * at))


def transformed(contour: Contour, signal: Floats, final: float, switch: Switch) -> Complexes:
    """Return the transform of a signal that begins with a switch and comes to rest within the time of a contour.

    Parameters
    ----------
    contour : Contour
        The contour [-].
    signal : array, shape (points / 2,)
        The signal at `times(contour)` [any].
    final : float
        Where it comes to rest [any].
    switch : Switch
        The switch with which it begins; `final` times its w(t) is transformed exactly [-].

    Returns
    -------
    array, shape (f,)
        Transform; `inverted` gives back the same signal [any s].
    """
    moving = (signal - final * switched(contour, switch)) * np.exp(-contour.damping * times(contour))
    known = switch_transform(contour, switch.at, switch.duration, switch.shape)
    return np.asarray(contour.step * np.fft.rfft(moving, n=contour.points) + final * known)


def opened(contour: Contour, ports: Ports, before: Before, release: Switch) -> Currents:
    """Return the change of current of a driver that lets go a pair at rest: -i (w(t)).

    Parameters
    ----------
    contour : Contour
        The contour [-].
    ports : Ports
        The undriven network [-].
    before : Before
        Currents and voltages before [-].
    release : Switch
        How it lets go [-].

    Returns
    -------
    Currents
        Changes of current [A s].
    """
    transform = np.zeros((2, ports.impedance.shape[-1]), dtype=np.complex128)
    transform[RELEASING] = -before.current * switch_transform(contour, release.at, release.duration, release.shape)
    return Currents(transform, np.array([-before.current, 0.0]))


def closed_after(
    contour: Contour, ports: Ports, before: Before, release: Switch, enable: Switch, sent: Sent
) -> Currents:
    """Return the changes of current where a driver lets go and another one takes the pair later.

    Parameters
    ----------
    contour : Contour
        The contour [-].
    ports : Ports
        The undriven network [-].
    before : Before
        Currents and voltages before [-].
    release, enable : Switch
        How one lets go and the other one takes the pair; the release begins first [-].
    sent : Sent
        What the second driver sends [-].

    Returns
    -------
    Currents
        Changes of current [A s].

    Notes
    -----
    The second driver finds v(t), what the first has left, and adds L[(E - v) w] / (R + Z) to it.
    """
    found = opened(contour, ports, before, release)
    over = ports.impedance[ENABLING, RELEASING] * found.transform[RELEASING]
    left = ports.resting[ENABLING, RELEASING] * found.final[RELEASING]
    gap = sent.first - before.voltage[ENABLING] - inverted(contour, over, left)
    source = transformed(
        contour, gap * switched(contour, enable), sent.first - before.voltage[ENABLING] - left, enable
    )
    source += _changes(contour, sent, enable)
    final = sent.first - before.voltage[ENABLING] - left + sum(change for _, change, _ in sent.changes)
    found.transform[ENABLING] = source / (enable.resistance + ports.impedance[ENABLING, ENABLING])
    found.final[ENABLING] = final / (enable.resistance + ports.resting[ENABLING, ENABLING])
    return found


def closed_before(
    contour: Contour, ports: Ports, before: Before, release: Switch, enable: Switch, sent: Sent
) -> tuple[Currents, Currents]:
    """Return the changes of current where a driver takes the pair before another one lets go.

    Parameters
    ----------
    contour : Contour
        The contour [-].
    ports : Ports
        The undriven network [-].
    before : Before
        Currents and voltages before [-].
    release, enable : Switch
        How one lets go and the other one takes the pair; the release begins last [-].
    sent : Sent
        What the second driver sends, from when it is enabled [-].

    Returns
    -------
    tuple of Currents
        Changes as long as both drive, as if it went on so, and with the release [A s].

    Notes
    -----
    With the first driver still there the second one sees the network with that one's resistance across its terminals.
    The release forces the first one's current, whatever it has become, to nothing: -i(t) w(t) is fed into the
    network of the second driver alone.
    """
    impedance, resting = ports
    taking = switch_transform(contour, enable.at, enable.duration, enable.shape)
    source = (sent.first - before.voltage[ENABLING]) * taking + _changes(contour, sent, enable)
    final = sent.first - before.voltage[ENABLING] + sum(change for _, change, _ in sent.changes)
    both = _shared(impedance, release.resistance, enable.resistance, source)
    still = resting.astype(np.complex128)[..., None]
    at_rest = _shared(still, release.resistance, enable.resistance, np.array([final + 0j]))
    together = Currents(both, at_rest[:, 0].real)
    flowing = before.current + inverted(contour, both[RELEASING], float(together.final[RELEASING]))
    last = -(before.current + float(together.final[RELEASING]))
    taken = transformed(contour, -flowing * switched(contour, release), last, release)
    apart = both.copy()
    apart[RELEASING] += taken
    apart[ENABLING] -= impedance[ENABLING, RELEASING] * taken / (enable.resistance + impedance[ENABLING, ENABLING])
    settled = together.final + last * np.array(
        [1.0, -resting[ENABLING, RELEASING] / (enable.resistance + resting[ENABLING, ENABLING])]
    )
    return together, Currents(apart, settled)


def _shared(impedance: Complexes, releasing: float, enabling: float, source: Complexes) -> Complexes:
    """Return the changes of both drivers' currents for a change of the second one's EMF, both being connected."""
    across = releasing + impedance[RELEASING, RELEASING]
    seen = impedance[ENABLING, ENABLING] - impedance[ENABLING, RELEASING] * impedance[RELEASING, ENABLING] / across
    second = source / (enabling + seen)
    return np.stack((-impedance[RELEASING, ENABLING] * second / across, second))


def _changes(contour: Contour, sent: Sent, enable: Switch) -> Complexes:
    total = np.zeros(contour.points // 2 + 1, dtype=np.complex128)
    for at, change, duration in sent.changes:
        total += change * switch_transform(contour, at, duration, enable.shape)
    return total
