"""A pair as a line: impedance along it and admittance across it per metre, as functions of the complex frequency."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from rs485kit.solvers.wire import Complexes, skin_impedance

SPEED_OF_LIGHT = 299_792_458.0


class LineModel(NamedTuple):
    """A uniform pair in its difference mode, told by seven figures, all of the loop, that is of both conductors.

    - `resistance`: direct-current resistance of the loop [ohm/m].
    - `inductance`: external inductance of the loop in the limit of high frequency [H/m].
    - `capacitance`: capacitance between the conductors at the reference frequency [F/m].
    - `skin_time`: skin time of the conductors, mu0 / (4 pi R) with R of one solid conductor; 0 for no skin effect
      [s].
    - `proximity`: factor by which the neighbour raises resistance and internal inductance at high frequency, at least
      1 [-].
    - `loss_tangent`: of the dielectric, the same at every frequency [-].
    - `reference_frequency`: where the capacitance is stated [Hz].
    """

    resistance: float
    inductance: float
    capacitance: float
    skin_time: float = 0.0
    proximity: float = 1.0
    loss_tangent: float = 0.0
    reference_frequency: float = 1e6


class Propagation(NamedTuple):
    """Propagation constant and characteristic impedance of a line.

    - `constant`: gamma = alpha + j beta, its real part never negative [1/m].
    - `impedance`: characteristic impedance, its real part never negative [ohm].
    """

    constant: Complexes
    impedance: Complexes


def heated(model: LineModel, factor: float) -> LineModel:
    """Return the line at another temperature of its conductors.

    Parameters
    ----------
    model : LineModel
        The line at 20 degC [any].
    factor : float
        Resistance at the temperature over that at 20 degC, 1 + 0.00393 (T - 20 degC) for copper [-].

    Returns
    -------
    LineModel
        The line with that resistance; its skin time falls by the same factor [any].

    Notes
    -----
    The resistivity rises by the factor: resistance in proportion, loss at high frequency by its square root. The
    dielectric and the geometry are left alone.
    """
    return model._replace(resistance=model.resistance * factor, skin_time=model.skin_time / factor)


def series_impedance(model: LineModel, s: ArrayLike) -> Complexes:
    """Return the impedance along the line per metre.

    Parameters
    ----------
    model : LineModel
        The line [any].
    s : array of complex
        Complex frequency [1/s].

    Returns
    -------
    array of complex
        Z(s) = s L + R (1/g + (proximity - 1) s tau g), see `wire.skin_impedance`; R at s = 0 [ohm/m].
    """
    s = np.asarray(s, dtype=np.complex128)
    impedance = skin_impedance(s, model.resistance, model.skin_time, proximity=model.proximity)
    impedance += model.inductance * s
    return impedance


def shunt_admittance(model: LineModel, s: ArrayLike) -> Complexes:
    """Return the admittance across the line per metre.

    Parameters
    ----------
    model : LineModel
        The line [any].
    s : array of complex
        Complex frequency, not on the negative real axis [1/s].

    Returns
    -------
    array of complex
        Y(s); 0 at s = 0 [S/m].

    Notes
    -----
    A constant loss tangent with a constant capacitance would answer before it is asked: loss and stored energy hang
    together. What has one loss tangent at every frequency and is causal is a power of s,

        Y(s) = s C (s / w0)^(-x) / cos(delta),    x = 2 delta / pi,    tan(delta) = loss tangent,

    since (j)^(1 - x) = exp(j (pi/2 - delta)). At w0 = 2 pi times the reference frequency C is the capacitance. For
    Re s >= 0 the angle of Y stays within +-(pi/2 - delta), so the line is passive. The capacitance falls by
    1 - 10^(-x) a decade: 0.15 % for a loss tangent of 1e-3, 1.5 % for 1e-2. It grows without limit towards s = 0, where
    the admittance still vanishes; there is no leakage.

    References
    ----------
    The reference cable model of ITU-T G.9701 has the same power (1 + s/wd)^(-2 phi/pi) with a corner wd at 1 Hz.
    """
    s = np.asarray(s, dtype=np.complex128)
    if model.loss_tangent == 0.0:
        return np.asarray(model.capacitance * s)
    angle = np.arctan(model.loss_tangent)
    power = 2.0 * angle / np.pi
    scale = model.capacitance / np.cos(angle) * (2.0 * np.pi * model.reference_frequency) ** power
    return np.asarray(scale * s ** (1.0 - power))


def propagation(model: LineModel, s: ArrayLike) -> Propagation:
    """Return propagation constant and characteristic impedance of a line.

    Parameters
    ----------
    model : LineModel
        The line [any].
    s : array of complex
        Complex frequency with Re s >= 0, not 0: a line with resistance has no finite impedance there [1/s].

    Returns
    -------
    Propagation
        gamma [1/m] and characteristic impedance [ohm]; exp(-gamma l) is what a length l leaves of a wave [any].

    Notes
    -----
    gamma = sqrt(Z) sqrt(Y) and Z0 = sqrt(Z) / sqrt(Y). With Z and Y in the right half plane each root lies within
    45 degrees of the positive axis, so that gamma and Z0 come out in the right half plane: the branch that decays. The
    root of a product or quotient has no such guarantee.
    """
    along, across = np.sqrt(series_impedance(model, s)), np.sqrt(shunt_admittance(model, s))
    return Propagation(np.multiply(along, across), np.divide(along, across))
