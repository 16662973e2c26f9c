"""Signals in time from their Laplace transforms, and the transforms of edges.

    contour = chosen_contour(duration, "raised cosine", settling, interval=bit)     # window and step
    s = frequencies(contour)                                                        # where transforms are wanted
    source = edge_transform(s, duration, "raised cosine")                           # 0 to 1 V, from t = 0 on
    waveform = inverted(contour, spectrum, final)                                   # at times(contour)
    contour, waveforms = resolved(respond, contour, final)                          # widened until settled, or refused
    error = halving_error(respond, contour, final)                                  # measured, in volts

The transform is sampled on the shifted contour s = c + j w, which stays clear of every pole of a passive network, and
turned into time by one real inverse FFT, f(t) exp(-c t) being what is periodic there. Only the first half of the
window is handed out: in the second exp(c t) magnifies whatever the sampling lost. What comes after the window wraps
round onto it by exp(-c window); since it is known (`final`, from the DC solution), it is taken off again, and so a
small c will do. The spectrum is not tapered.
"""

import math
from collections.abc import Callable
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from rs485kit.solvers.line_graph import Complexes, Floats

Shape: TypeAlias = Literal["raised cosine", "linear ramp"]
Response: TypeAlias = Callable[["Contour"], Complexes]

# full duration over time from 10 % to 90 %: a ramp spends 0.8 of its duration there, half a cosine 1 - 2 acos(0.8) / pi
FULL_DURATION: dict[Shape, float] = {
    "raised cosine": 1.0 / (1.0 - 2.0 * math.acos(0.8) / math.pi),
    "linear ramp": 1.0 / 0.8,
}
# the longest step, as a share of the duration of an edge: a ramp's corners need the finer one
STEPS_PER_EDGE: dict[Shape, int] = {"raised cosine": 5, "linear ramp": 16}
# what of the signal behind the window wraps round onto it, before the known part is taken off: exp(-c window). Of what
# has not settled 1e-7 is left; a smaller share would magnify whatever the step does not resolve, by its inverse root
# at the end of the first half
WRAPPED = 1e-3
SETTLED = 1e-4
# the last sixteenth of the time is where a response must have settled
LATE = 16
MOST_POINTS = 2**20


class UnresolvedError(ValueError):
    """The contour cannot resolve what is asked: too many points, or a response that does not come to rest."""


class Contour(NamedTuple):
    """Where transforms are sampled: `points` (even) steps of `step` [s] make the window, `damping` [1/s] is c."""

    step: float
    points: int
    damping: float


def contour_of(step: float, window: float) -> Contour:
    """Return the contour for a step and at least a window.

    Parameters
    ----------
    step : float
        Time between two points [s].
    window : float
        Least time that all points span; half of it can be used [s].

    Returns
    -------
    Contour
        The contour, with a number of points that the FFT is fast for [-].

    Raises
    ------
    UnresolvedError
        If it would need more than MOST_POINTS points.
    """
    wanted = math.ceil(window / step - 1e-9)
    if wanted > MOST_POINTS:
        raise UnresolvedError(f"{wanted} points of {step:.3g} s in {window:.3g} s; at most {MOST_POINTS} are taken")
    points = _smooth(wanted)
    return Contour(step, points, -math.log(WRAPPED) / (step * points))


def _smooth(wanted: int) -> int:
    """Return an even number from `wanted` on, at most a quarter more, that is made of factors 2, 3 and 5."""
    candidates = (odd << max(1, math.ceil(math.log2(max(1.0, wanted / odd)))) for odd in (1, 3, 5, 9, 15, 25, 27))
    return min(number for number in candidates if number >= wanted)


def chosen_contour(edge: float, shape: Shape, settling: float, *, interval: float | None = None) -> Contour:
    """Return a contour that resolves an edge and spans twice the time until responses have settled.

    Parameters
    ----------
    edge : float
        Full duration of the edge [s].
    shape : str
        "raised cosine" or "linear ramp" [-].
    settling : float
        Time until every response asked for is within SETTLED of its final value, see `settling_time` [s].
    interval : float, optional
        Unit interval that the step must divide [s].

    Returns
    -------
    Contour
        The contour [-].

    Raises
    ------
    UnresolvedError
        If it would need more than MOST_POINTS points.

    Notes
    -----
    The step is at most 1/5 of a raised cosine, 1/16 of a linear ramp (STEPS_PER_EDGE).
    """
    step = edge / STEPS_PER_EDGE[shape]
    if interval is not None:
        step = interval / math.ceil(interval / step - 1e-9)
    return contour_of(step, 2.0 * settling * LATE / (LATE - 1))


def settling_time(delay: float, edge: float, slowest: float) -> float:
    """Return when a response is within SETTLED of its final value: delay + edge + slowest ln(1 / SETTLED).

    Parameters
    ----------
    delay : float
        Longest delay of any path [s].
    edge : float
        Full duration of the edge [s].
    slowest : float
        Slowest time constant, or an estimate of it [s].

    Returns
    -------
    float
        Time from the beginning of the edge [s].
    """
    return delay + edge - slowest * math.log(SETTLED)


def halved(contour: Contour) -> Contour:
    """Return the contour with half the step and the same window; its lower half are the same frequencies.

    Parameters
    ----------
    contour : Contour
        The contour [-].

    Returns
    -------
    Contour
        The finer one [-].

    Raises
    ------
    UnresolvedError
        If it would need more than MOST_POINTS points.
    """
    if 2 * contour.points > MOST_POINTS:
        raise UnresolvedError(f"{2 * contour.points} points; at most {MOST_POINTS} are taken")
    return Contour(contour.step / 2.0, 2 * contour.points, contour.damping)


def frequencies(contour: Contour) -> Complexes:
    """Return the complex frequencies at which transforms are wanted.

    Parameters
    ----------
    contour : Contour
        The contour [-].

    Returns
    -------
    array, shape (points / 2 + 1,)
        s = c + j w, w from 0 to the Nyquist frequency [rad/s].
    """
    lowest = 2.0 * math.pi / (contour.points * contour.step)
    return np.asarray(contour.damping + 1j * lowest * np.arange(contour.points // 2 + 1), dtype=np.complex128)


def times(contour: Contour) -> Floats:
    """Return the times of what `inverted` gives.

    Parameters
    ----------
    contour : Contour
        The contour [-].

    Returns
    -------
    array, shape (points / 2,)
        Times from zero to the middle of the window [s].
    """
    return np.asarray(contour.step * np.arange(contour.points // 2), dtype=np.float64)


def inverted(contour: Contour, spectrum: Complexes, final: Floats | float) -> Floats:
    """Return signals in time from their transforms.

    Parameters
    ----------
    contour : Contour
        The contour [-].
    spectrum : array, shape (..., points / 2 + 1)
        Transforms at `frequencies(contour)` [V s].
    final : array, shape (...), or float
        Where each signal comes to rest: its DC value for an edge, 0 for a slope [V].

    Returns
    -------
    array, shape (..., points / 2)
        The signals at `times(contour)` [V].

    Notes
    -----
    f(t) + sum_k f(t + k W) exp(-k c W) = exp(c t) / step * irfft(F), W the window; f(t + k W) is `final`.

    Errors stand at corners that the step does not resolve, and there alone; `halving_error` measures them.
    """
    damped = np.fft.irfft(spectrum, n=contour.points, axis=-1)[..., : contour.points // 2]
    signal: Floats = damped * (np.exp(contour.damping * times(contour)) / contour.step)
    wrapped = math.exp(-contour.damping * contour.step * contour.points)
    signal -= np.asarray(final)[..., None] * (wrapped / (1.0 - wrapped))
    return signal


def unrest(signal: Floats, final: Floats | float) -> float:
    """Return how far signals are from their final values near the end, relative to the largest of these.

    Parameters
    ----------
    signal : array, shape (..., points / 2)
        Signals from `inverted` [V].
    final : array, shape (...), or float
        Their final values [V].

    Returns
    -------
    float
        Largest difference over the last sixteenth of the time [-].
    """
    late = signal[..., -max(1, signal.shape[-1] // LATE) :] - np.asarray(final)[..., None]
    largest = float(np.abs(final).max(initial=0.0)) or float(np.abs(signal).max(initial=0.0))
    return float(np.abs(late).max(initial=0.0)) / largest if largest > 0 else 0.0


def resolved(respond: Response, contour: Contour, final: Floats | float) -> tuple[Contour, Floats]:
    """Return signals on the first contour, from the given one on by doubling the window, on which they come to rest.

    Parameters
    ----------
    respond : callable
        Gives the transforms for a contour, shape (..., points / 2 + 1) [V s].
    contour : Contour
        Where to begin [-].
    final : array, shape (...), or float
        Where each signal comes to rest [V].

    Returns
    -------
    tuple of Contour and array
        The contour, and the signals on it [V].

    Raises
    ------
    UnresolvedError
        If they do not come to rest within MOST_POINTS points, or not at `final`.
    """
    while True:
        signal = inverted(contour, respond(contour), final)
        left = unrest(signal, final)
        if left <= SETTLED:
            return contour, signal
        window = contour.points * contour.step
        if 2 * contour.points > MOST_POINTS:
            raise UnresolvedError(f"{left:.2g} of the final value is left after {window / 2:.3g} s")
        contour = contour_of(contour.step, 2.0 * window)


def halving_error(respond: Response, contour: Contour, final: Floats | float) -> float:
    """Return the error of signals, measured by halving the step.

    Parameters
    ----------
    respond : callable
        Gives the transforms for a contour, shape (..., points / 2 + 1) [V s].
    contour : Contour
        The contour [-].
    final : array, shape (...), or float
        Where each signal comes to rest [V].

    Returns
    -------
    float
        Twice the largest change at any common time [V].

    Raises
    ------
    UnresolvedError
        If the finer contour would need more than MOST_POINTS points.

    Notes
    -----
    At the corners of a ramp the error falls with the step, so that the change is half of it; at those of a raised
    cosine it falls faster, and the figure is one and a half to two times the error.
    """
    finer = halved(contour)
    spectrum = respond(finer)
    coarse = inverted(contour, spectrum[..., : contour.points // 2 + 1], final)
    return 2.0 * float(np.abs(inverted(finer, spectrum, final)[..., ::2] - coarse).max())


def edge_transform(s: Complexes, duration: float, shape: Shape) -> Complexes:
    """Return the transform of an edge from 0 to 1 that begins at zero time; it has a pole at s = 0.

    Parameters
    ----------
    s : array
        Complex frequencies, not zero [rad/s].
    duration : float
        Full duration of the edge [s].
    shape : str
        "raised cosine" or "linear ramp" [-].

    Returns
    -------
    array
        Transform [s].
    """
    return slope_transform(s, duration, shape) / s


def slope_transform(s: Complexes, duration: float, shape: Shape) -> Complexes:
    """Return the transform of the slope of an edge from 0 to 1: that of the edge without its pole, 1 at s = 0.

    Parameters
    ----------
    s : array
        Complex frequencies with an imaginary part of zero or more [rad/s].
    duration : float
        Full duration T of the edge [s].
    shape : str
        "raised cosine" or "linear ramp" [-].

    Returns
    -------
    array
        Transform [-].

    Notes
    -----
    Raised cosine (1 - cos(pi t / T)) / 2: (1 + exp(-s T)) / (2 (1 + (s T / pi)^2)). Linear ramp:
    (1 - exp(-s T)) / (s T). Both quotients are of the form (1 - exp(-x)) / x, with x = s T - j pi for the first, and
    are taken as such, so that nothing is lost near x = 0.
    """
    if shape == "linear ramp":
        return _averaged(s * duration)
    turned = s * duration - 1j * math.pi
    return _averaged(turned) * (math.pi**2 / 2.0) / (turned + 2j * math.pi)


def _averaged(x: Complexes) -> Complexes:
    """Return (1 - exp(-x)) / x, 1 at x = 0."""
    return np.divide(-np.expm1(-x), x, out=np.ones_like(x), where=x != 0)
