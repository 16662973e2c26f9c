"""Internal impedance of round wires: skin effect and, for two wires side by side, proximity effect.

Everything is a function of the complex frequency s, so that one expression serves alternating currents (s = j w) and
inverse Laplace transforms. A wire of direct-current resistance R per metre is described by R and its skin time

    tau = mu0 a^2 / (4 rho) = mu0 / (4 pi R)    for a solid round wire,

for which u = m a = a sqrt(s mu0 / rho) = 2 sqrt(s tau). All that is needed of Bessel functions is

    g(s tau) = 2 I1(u) / (u I0(u)),    g(0) = 1,

an even function of u and therefore a single-valued one of s.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Complexes: TypeAlias = NDArray[np.complex128]

# CODATA 2018, H/m
MAGNETIC_CONSTANT = 1.25663706212e-6
# annealed copper at 20 degC, 17.241 ohm mm2/km, the figure of IACS
COPPER_RESISTIVITY = 1.7241e-8

# |u| up to which the continued fraction is used, and how many of its steps reach rounding there
_LARGE = 25.0
_STEPS = 48
# from this Re u on, exp(-2 u) is below rounding
_ONE_WAVE = 18.5
_TERMS = 18


def _ratio_series(terms: int) -> tuple[float, ...]:
    """Return c with I1(u)/I0(u) = sum c_k u^-k, from the equation r' = 1 - r/u - r^2 of the ratio."""
    series = [1.0]
    for k in range(1, terms):
        products = sum(series[i] * series[k - i] for i in range(1, k))
        series.append(0.5 * ((k - 2) * series[k - 1] - products))
    return tuple(series)


def _hankel_series(order: int, terms: int) -> tuple[float, ...]:
    """Return a with I(u) ~ exp(u) / sqrt(2 pi u) * sum (-1)^k a_k u^-k."""
    series = [1.0]
    for k in range(1, terms):
        series.append(series[-1] * (4.0 * order**2 - (2.0 * k - 1.0) ** 2) / (8.0 * k))
    return tuple(series)


_RATIO = _ratio_series(_TERMS)
_HANKEL = (_hankel_series(0, _TERMS), _hankel_series(1, _TERMS))


def bessel_quotient(product: ArrayLike) -> Complexes:
    """Return g = 2 I1(u) / (u I0(u)) with u = 2 sqrt(product).

    Parameters
    ----------
    product : array of complex
        Complex frequency times skin time, s tau; any complex number [-].

    Returns
    -------
    array of complex
        The quotient; 1 at 0 and near 1 / sqrt(product) where that is large [-].

    Notes
    -----
    Up to |u| = 25 the continued fraction of Gauss from its end,

        g = 1 / (1 + (w/2) / (1 + (w/6) / (1 + ... (w/(k (k+1))) ...))),    w = product,

    which needs no square root; beyond, the asymptotic series of the ratio, and where Re u is small (near the negative
    real axis of s, where g has poles and zeros) those of both functions with both exponentials.

    Accuracy for Re u >= 0 and |u| up to 10 000: within 2e-15 of the larger of |g| and |u dg/du|, as good as u itself
    is given. For Re s >= 0 that is 2e-15 of g; near the negative real axis of s, where g has poles, it is not.

    References
    ----------
    Handbook of Mathematical Functions (Abramowitz, Stegun), 9.1.73 and 9.7.1, from memory.
    """
    w = np.asarray(product, dtype=np.complex128)
    small = np.abs(w) <= _LARGE**2 / 4.0
    if small.all():
        return _by_fraction(w)
    if not small.any():
        return _by_series(w)
    result = np.empty_like(w)
    result[small] = _by_fraction(w[small])
    result[~small] = _by_series(w[~small])
    return result


def _by_fraction(w: Complexes) -> Complexes:
    value = np.ones_like(w)
    for k in range(_STEPS, 0, -1):
        np.divide(w, value, out=value)
        value *= 1.0 / (k * (k + 1.0))
        value += 1.0
    return np.asarray(1.0 / value)


def _by_series(w: Complexes) -> Complexes:
    u: Complexes = np.sqrt(4.0 * w)
    inverse: Complexes = np.reciprocal(u)
    ratio = _polynomial(_RATIO, inverse)
    both = u.real < _ONE_WAVE
    if both.any():
        ratio[both] = _by_two_waves(u[both], inverse[both])
    return 2.0 * ratio * inverse


def _by_two_waves(u: Complexes, inverse: Complexes) -> Complexes:
    """Return I1/I0 where the wave that dies out with u still counts."""
    side = np.where(u.imag >= 0.0, 1j, -1j)
    falling = side * np.exp(-2.0 * u)
    zero, one = (_polynomial(series, np.negative(inverse)) for series in _HANKEL)
    zero_back, one_back = (_polynomial(series, inverse) for series in _HANKEL)
    return np.asarray((one - falling * one_back) / (zero + falling * zero_back))


def _polynomial(series: tuple[float, ...], x: Complexes) -> Complexes:
    value = np.full_like(x, series[-1])
    for coefficient in reversed(series[:-1]):
        value *= x
        value += coefficient
    return value


def solid_skin_time(resistance: float) -> float:
    """Return the skin time of a solid round wire, which its resistance alone decides.

    Parameters
    ----------
    resistance : float
        Direct-current resistance of one wire per metre [ohm/m].

    Returns
    -------
    float
        mu0 / (4 pi R); 1.19 us for 24 AWG [s].

    Notes
    -----
    tau = mu0 a^2 / (4 rho) and R = rho / (pi a^2). Radius over skin depth is sqrt(2 w tau); it is 1 at 1 / (4 pi tau),
    67 kHz for 24 AWG. Heat raises R and lowers tau by the same factor.
    """
    return MAGNETIC_CONSTANT / (4.0 * np.pi * resistance)


def outline_skin_time(resistance: float, radius: float, *, resistivity: float = COPPER_RESISTIVITY) -> float:
    """Return the skin time of a wire whose resistance and outline are both known, such as a stranded one.

    Parameters
    ----------
    resistance : float
        Direct-current resistance of one wire per metre [ohm/m].
    radius : float
        Radius of its outline [m].
    resistivity : float
        Of the metal [ohm*m].

    Returns
    -------
    float
        mu0 rho / (2 pi a R)^2 [s].

    Notes
    -----
    At high frequency the current runs in the outer skin, whatever the direct-current resistance says:
    Z -> sqrt(s mu0 rho) / (2 pi a) = R sqrt(s tau). The same as `solid_skin_time` for a solid wire. The surface of
    strands is rougher than a cylinder; that loss is not in it.
    """
    return MAGNETIC_CONSTANT * resistivity / (2.0 * np.pi * radius * resistance) ** 2


def internal_impedance(s: ArrayLike, radius: float, *, resistivity: float = COPPER_RESISTIVITY) -> Complexes:
    """Return the internal impedance per metre of one solid round wire standing alone.

    Parameters
    ----------
    s : array of complex
        Complex frequency [1/s].
    radius : float
        Radius of the wire [m].
    resistivity : float
        Of the metal [ohm*m].

    Returns
    -------
    array of complex
        The impedance [ohm/m].

    Notes
    -----
    Z = rho m / (2 pi a) * I0(m a) / I1(m a), m = sqrt(s mu0 / rho); R = rho / (pi a^2) at s = 0, internal inductance
    mu0 / (8 pi) there.

    References
    ----------
    The field of a round wire, any text on electrodynamics; checks round-wire-ratio-x1 to x8 for R(w) / R(0).
    """
    resistance = resistivity / (np.pi * radius**2)
    return skin_impedance(s, resistance, MAGNETIC_CONSTANT * radius**2 / (4.0 * resistivity))


def skin_impedance(s: ArrayLike, resistance: float, skin_time: float, *, proximity: float = 1.0) -> Complexes:
    """Return the internal impedance per metre of wires with skin effect and, if two lie side by side, proximity effect.

    Parameters
    ----------
    s : array of complex
        Complex frequency [1/s].
    resistance : float
        Direct-current resistance, of one wire or of the loop [ohm/m].
    skin_time : float
        Skin time of the wires; 0 for a resistance without skin effect [s].
    proximity : float
        Factor by which the neighbour raises resistance and internal inductance at high frequency, at least 1 [-].

    Returns
    -------
    array of complex
        The impedance beyond that of the external inductance at high frequency [ohm/m].

    Notes
    -----
    Z / R = 1/g + k 2 s tau g = (u/2) I0/I1 + k u I1/I0 with k = (proximity - 1) / 2.

    The first term is the wire alone. The second is the current that the neighbour induces: in the field H that the
    neighbour's current makes across it, a wire has the dipole moment -2 pi a^2 H I2(u)/I0(u) per metre, whose back
    action on the pair is -s (mu0/pi) (a/d)^2 I2(u)/I0(u), d being the spacing of the centres. Reckoned from the
    external inductance at high frequency, where the field is pushed out in full, there remains
    s (mu0/pi) (a/d)^2 (1 - I2/I0) = R (a/d)^2 u I1/I0. At high frequency both terms together are R (u/2) (1 + 2 k):
    to first order in (a/d)^2 the exact factor 1/sqrt(1 - (2a/d)^2). Here k is set by that exact factor, so that the
    high-frequency end is exact, while the transition keeps the form of the dipole.

    At s = 0 the second term is 0 and the resistance is R. Both are sums of c s / (s + b) with b, c > 0, the impedances
    of a resistor beside an inductance, so Z is causal and passive for every proximity >= 1. The
    high-frequency limit is R (proximity sqrt(s tau) + 1/4 - (proximity - 1)/4 + ...). Multiplying (1/g - 1) by the
    factor instead would meet the same ends, but shows at 100 kHz half of the rise measured on a 24 AWG telephone pair.

    References
    ----------
    Factor at high frequency: checks proximity-factor-s1p2 and on. The dipole of a cylinder in a field across it is
    textbook matter (S. Butterworth worked it out for coils and parallel wires in the 1920s; from memory). Measured:
    check proximity-seen-in-pic-cable.
    """
    product = np.asarray(s, dtype=np.complex128) * skin_time
    quotient = bessel_quotient(product)
    impedance = 1.0 / quotient
    if proximity != 1.0:
        impedance += (proximity - 1.0) * product * quotient
    return np.asarray(resistance * impedance)


def compact_impedance(s: ArrayLike, resistance: float, skin_time: float, *, proximity: float = 1.0) -> Complexes:
    """Return the same impedance in closed form, without Bessel functions.

    Parameters
    ----------
    s : array of complex
        Complex frequency [1/s].
    resistance : float
        Direct-current resistance, of one wire or of the loop [ohm/m].
    skin_time : float
        Skin time of the wires [s].
    proximity : float
        Factor by which the neighbour raises resistance and internal inductance at high frequency, at least 1 [-].

    Returns
    -------
    array of complex
        The impedance beyond that of the external inductance at high frequency [ohm/m].

    Notes
    -----
    Z / R = sqrt(1 + s tau) + (proximity - 1)/2 * (sqrt(1 + 4 s tau) - 1). With this tau it has the resistance and the
    internal inductance of the exact form at s = 0 and its asymptote at high frequency. It is causal and passive.
    Accuracy: for s = j w the largest deviation from the exact form, relative to its magnitude, is 6.7 % at
    proximity 1, 7.4 % at 1.3 and 11.5 % at 2.5, at a radius of two to three skin depths; for real s 3.8 to 6.8 %.
    """
    product = np.asarray(s, dtype=np.complex128) * skin_time
    impedance = np.sqrt(1.0 + product)
    if proximity != 1.0:
        impedance += (proximity - 1.0) / 2.0 * (np.sqrt(1.0 + 4.0 * product) - 1.0)
    return np.asarray(resistance * impedance)


def proximity_factor(inductance: float) -> float:
    """Return the proximity factor of two equal round wires from their external inductance at high frequency.

    Parameters
    ----------
    inductance : float
        External inductance of the loop per metre, skin depth being small [H/m].

    Returns
    -------
    float
        Factor on resistance and internal inductance at high frequency [-].

    Notes
    -----
    L = mu0/pi acosh(d/2a) and factor = 1/sqrt(1 - (2a/d)^2) give factor = coth(pi L / mu0), without magnetic matter
    and without a shield; a shield lowers L, and the loss in it is then counted as if it were proximity.

    References
    ----------
    Checks two-wire-exact and proximity-factor-s1p2 to s3p0, from which this follows by algebra.
    """
    return float(1.0 / np.tanh(np.pi * inductance / MAGNETIC_CONSTANT))
