"""Two drivers with a limited current on a linear network, stepped in time: only where a limit is reached.

    refuse(impedance_on(circle(step, count)))           # a network that is not passive in steps is refused
    kernel = port_kernel(impedance_on(points(step, count)), step, count)        # weights of convolution
    currents = limited_currents(kernel, first, second)

The network between the ports is turned into a discrete convolution v_n = sum_k h_k i_(n-k) by convolution quadrature:
its impedance is taken at s = delta(zeta) / step, delta(zeta) = 3/2 - 2 zeta + zeta^2 / 2 (the backward difference of
second order). That maps the unit disk into the right half plane, so that what is passive stays passive, however the
step; that it does is tested all the same, on a grid finer than that of the steps.
"""

import math
from typing import NamedTuple

import numpy as np

from rs485kit.solvers.line_graph import Complexes, Floats

# damping of the circle on which weights are computed: its power at the far end is what wraps round
WRAPPED = 1e-10
# the finer grid on which passivity is looked at
FINER = 2
# what rounding and wrapping may leave of a real part that should not be negative, relative to the largest
ROUNDING = 1e-6
# solving both ports of one step takes no more rounds than there are pairs of states
ROUNDS = 12


class PortKernel(NamedTuple):
    """Weights of the convolution, shape (n, 2, 2) [ohm], and their step [s]."""

    weights: Floats
    step: float


class LimitedPort(NamedTuple):
    """A driver at a port: i = gate * limited((emf - v) / resistance) + forced, at every step.

    `emf` [V], `gate` [-] and `forced` [A] have a value for every step. `current` is the limit of its magnitude [A].
    `before` is its current [A], `rest` the voltage there [V] before the first step.
    """

    emf: Floats
    gate: Floats
    forced: Floats
    resistance: float
    current: float
    before: float
    rest: float


class NotPassiveError(ValueError):
    """The discrete network would give back more than it got, and stepping it would not end well."""


def points(step: float, count: int) -> Complexes:
    """Return the complex frequencies at which a kernel wants the impedance.

    Parameters
    ----------
    step : float
        The step [s].
    count : int
        Number of steps, of which twice as many points are taken [-].

    Returns
    -------
    array, shape (count + 1,)
        Frequencies with a positive real part; those of the other half are their conjugates [rad/s].
    """
    zeta = _radius(count) * np.exp(-1j * np.pi * np.arange(count + 1) / count)
    return np.asarray((1.5 - 2.0 * zeta + 0.5 * zeta**2) / step)


def _radius(count: int) -> float:
    return math.exp(math.log(WRAPPED) / (2 * count))


def port_kernel(impedance: Complexes, step: float, count: int) -> PortKernel:
    """Return the weights of convolution of a network.

    Parameters
    ----------
    impedance : array, shape (2, 2, count + 1)
        Impedances between the ports at `points(step, count)` [ohm].
    step : float
        The step [s].
    count : int
        Number of steps [-].

    Returns
    -------
    PortKernel
        The kernel [-].
    """
    # Z(zeta) = sum_k h_k zeta^k, and zeta goes round as the transform of a real sequence does
    weights = np.fft.irfft(impedance, n=2 * count, axis=-1)[..., :count]
    scaled = weights * _radius(count) ** -np.arange(count)
    return PortKernel(np.ascontiguousarray(np.moveaxis(scaled, -1, 0)), step)


def circle(step: float, count: int) -> Complexes:
    """Return the complex frequencies that the unit circle is mapped to, on a grid FINER times as fine as the steps.

    Parameters
    ----------
    step : float
        The step [s].
    count : int
        Number of steps [-].

    Returns
    -------
    array, shape (FINER count,)
        Frequencies, none of them zero [rad/s].
    """
    zeta = np.exp(-1j * np.pi * (np.arange(FINER * count) + 0.5) / (FINER * count))
    return np.asarray((1.5 - 2.0 * zeta + 0.5 * zeta**2) / step)


def least_real_part(impedance: Complexes) -> float:
    """Return the least eigenvalue of the real part of impedances, each relative to its own magnitude.

    Parameters
    ----------
    impedance : array, shape (2, 2, f)
        Impedances between the ports at `circle(step, count)` [ohm].

    Returns
    -------
    float
        Not negative for a passive network, but for rounding [-].
    """
    matrices = np.moveaxis(impedance, -1, 0)
    hermitian = (matrices + np.conj(np.swapaxes(matrices, 1, 2))) / 2.0
    return float((np.linalg.eigvalsh(hermitian)[:, 0] / np.abs(matrices).max(axis=(1, 2))).min())


def refuse(impedance: Complexes) -> None:
    """Refuse a network that is not passive in steps.

    Parameters
    ----------
    impedance : array, shape (2, 2, f)
        Impedances between the ports at `circle(step, count)` [ohm].

    Raises
    ------
    NotPassiveError
        If a real part is negative somewhere on the unit circle.
    """
    least = least_real_part(impedance)
    if least < -ROUNDING:
        raise NotPassiveError(f"the real part goes down to {least:.2g} of the impedance")


def limited_currents(kernel: PortKernel, first: LimitedPort, second: LimitedPort) -> Floats:
    """Return the currents of two drivers whose currents are limited.

    Parameters
    ----------
    kernel : PortKernel
        The network between them, undriven [-].
    first, second : LimitedPort
        The drivers [-].

    Returns
    -------
    array, shape (2, n)
        Currents into the pair at every step [A].

    Notes
    -----
    At each step the network is v = h_0 (i - i_before) + history, h_0 positive semidefinite, and each driver's current
    falls as its voltage rises: there is one solution. It is found by solving with each driver inside or at one of its
    limits, until the states that come out are those that went in.
    """
    ports = (first, second)
    weights, count = kernel.weights, len(first.emf)
    changes = np.zeros((2, count))
    flipped = np.ascontiguousarray(weights[::-1])
    for now in range(count):
        # v of all earlier steps
        history = np.array([port.rest for port in ports])
        if now:
            some = flipped[len(weights) - 1 - now : len(weights) - 1]
            history += np.einsum("kij,jk->i", some, changes[:, :now])
        changes[:, now] = _one_step(weights[0], history, ports, now)
    return np.asarray(changes + np.array([[port.before] for port in ports]))


def _one_step(instant: Floats, history: Floats, ports: tuple[LimitedPort, LimitedPort], now: int) -> Floats:
    """Return the changes of both currents at one step."""
    gate = np.array([port.gate[now] for port in ports])
    emf = np.array([port.emf[now] for port in ports])
    resistance, limit = (np.array([getattr(port, name) for port in ports]) for name in ("resistance", "current"))
    forced = np.array([port.forced[now] - port.before for port in ports])
    state, changes = np.zeros(2), np.zeros(2)
    for _ in range(ROUNDS):
        # i = constant - slope v,  v = history + h0 i
        constant = np.where(state == 0, gate * emf / resistance, gate * state * limit) + forced
        slope = np.where(state == 0, gate / resistance, 0.0)
        changes = np.linalg.solve(np.eye(2) + slope[:, None] * instant, constant - slope * history)
        through = (emf - history - instant @ changes) / resistance
        wanted = np.where(np.abs(through) <= limit, 0.0, np.sign(through))
        if (wanted == state).all():
            break
        state = wanted
    return changes
