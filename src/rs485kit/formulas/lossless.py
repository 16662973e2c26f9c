"""Lines without loss: impedance, velocity, inductance and capacitance from one another, and length from delay."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, positive


def lossless_impedance(series_inductance: Numbers, shunt_capacitance: Numbers) -> FloatOrArray:
    """Characteristic impedance of a line without loss.

    Parameters
    ----------
    series_inductance : float or array
        Inductance of the pair, of any length if the capacitance is of the same [H/m]
    shunt_capacitance : float or array
        Capacitance of the pair [F/m]

    Returns
    -------
    float or array
        Characteristic impedance [ohm]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    Z0 = sqrt(L / C).

    References
    ----------
    Transmission line theory. Figures: checks neets-line-impedance, lossless-500mhz.

    Examples
    --------
    >>> from rs485kit.formulas import lossless_impedance
    >>> round(lossless_impedance(606.48e-9, 42.117e-12), 2)
    120.0
    """
    series_inductance, shunt_capacitance = arguments(
        "lossless_impedance",
        positive("series_inductance", series_inductance, "H/m"),
        positive("shunt_capacitance", shunt_capacitance, "F/m"),
    )
    return answer(np.sqrt(series_inductance / shunt_capacitance))


def lossless_velocity(series_inductance: Numbers, shunt_capacitance: Numbers) -> FloatOrArray:
    """Velocity of a wave on a line without loss.

    Parameters
    ----------
    series_inductance : float or array
        Inductance of the pair per length [H/m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]

    Returns
    -------
    float or array
        Velocity; above that of light the two figures do not belong together [m/s]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    v = 1 / sqrt(L C).

    References
    ----------
    Transmission line theory. Figure: check neets-line-impedance.

    Examples
    --------
    >>> from rs485kit.formulas import lossless_velocity
    >>> round(lossless_velocity(600e-9, 50e-12) / 1e6, 2)
    182.57
    """
    series_inductance, shunt_capacitance = arguments(
        "lossless_velocity",
        positive("series_inductance", series_inductance, "H/m"),
        positive("shunt_capacitance", shunt_capacitance, "F/m"),
    )
    return answer(1.0 / np.sqrt(series_inductance * shunt_capacitance))


def lossless_inductance(characteristic_impedance: Numbers, velocity: Numbers) -> FloatOrArray:
    """Inductance per metre that impedance and velocity imply.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line at high frequency [ohm]
    velocity : float or array
        Velocity of a wave on it [m/s]

    Returns
    -------
    float or array
        Inductance of the pair outside its wires [H/m]

    Raises
    ------
    InputError
        If the impedance is outside 0.1..1e5 ohm, or the velocity outside a tenth of that of light to that of light.

    Notes
    -----
    L = Z0 / v.

    References
    ----------
    Transmission line theory. Figures: checks line-lc-v66-z120 and on.

    Examples
    --------
    >>> from rs485kit.formulas import lossless_inductance, propagation_velocity
    >>> round(lossless_inductance(120.0, propagation_velocity(0.66)) * 1e9, 2)
    606.48
    """
    characteristic_impedance, velocity = arguments(
        "lossless_inductance",
        door.impedance("characteristic_impedance", characteristic_impedance),
        door.velocity(velocity),
    )
    return answer(characteristic_impedance / velocity)


def lossless_capacitance(characteristic_impedance: Numbers, velocity: Numbers) -> FloatOrArray:
    """Capacitance per metre that impedance and velocity imply.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line at high frequency [ohm]
    velocity : float or array
        Velocity of a wave on it [m/s]

    Returns
    -------
    float or array
        Capacitance of the pair [F/m]

    Raises
    ------
    InputError
        If the impedance is outside 0.1..1e5 ohm, or the velocity outside a tenth of that of light to that of light.

    Notes
    -----
    C = 1 / (Z0 v). A datasheet whose impedance, velocity and capacitance differ from this by more than some per cent
    contradicts itself.

    References
    ----------
    Transmission line theory. Figures: checks line-lc-v66-z120 and on.

    Examples
    --------
    >>> from rs485kit.formulas import lossless_capacitance, propagation_velocity
    >>> round(lossless_capacitance(120.0, propagation_velocity(0.66)) * 1e12, 3)
    42.117
    """
    characteristic_impedance, velocity = arguments(
        "lossless_capacitance",
        door.impedance("characteristic_impedance", characteristic_impedance),
        door.velocity(velocity),
    )
    return answer(1.0 / (characteristic_impedance * velocity))


def line_length(delay: Numbers, velocity: Numbers) -> FloatOrArray:
    """Length of a line whose one-way delay was measured.

    Parameters
    ----------
    delay : float or array
        One-way delay of the line; half of what a reflectometer shows for the far end [s]
    velocity : float or array
        Velocity of a wave on it [m/s]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If the delay is negative, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    l = t v.

    References
    ----------
    Definition. Figure: check nvp-length-example.

    Examples
    --------
    >>> from rs485kit.formulas import line_length, propagation_velocity
    >>> round(line_length(435e-9, propagation_velocity(0.69)), 2)
    89.98
    """
    delay, velocity = arguments("line_length", not_negative("delay", delay, "s"), door.velocity(velocity))
    return answer(delay * velocity)
