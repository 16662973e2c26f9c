"""Lossy lines: impedance, propagation constant, attenuation, delay and velocity from the primary constants.

Resistance, inductance, conductance and capacitance of a pair are those of both conductors together, per metre of pair.
"""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    Array,
    ComplexArray,
    ComplexOrArray,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    complex_answer,
)


def propagation_constant(
    frequency: Numbers,
    series_resistance: Numbers,
    series_inductance: Numbers,
    shunt_conductance: Numbers,
    shunt_capacitance: Numbers,
) -> ComplexOrArray:
    """Propagation constant of a lossy line.

    Parameters
    ----------
    frequency : float or array
        Frequency [Hz]
    series_resistance : float or array
        Resistance of the pair per length at that frequency [ohm/m]
    series_inductance : float or array
        Inductance of the pair per length [H/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]

    Returns
    -------
    complex or array
        Attenuation in nepers per metre, and j times the phase in radians per metre [1/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 mHz..100 GHz, or a constant is outside the range of lines.

    Notes
    -----
    gamma = alpha + j beta = sqrt((R + j w L) (G + j w C)). Both parts keep their digits at any ratio of the two.

    References
    ----------
    Transmission line theory. Figures: checks lossy-500mhz, loop-line-1khz-exact, open-wire-1khz and others.

    Examples
    --------
    >>> from rs485kit.formulas import propagation_constant
    >>> gamma = propagation_constant(500e6, 5.0, 0.2e-6, 0.01, 300e-12)
    >>> round(gamma.real, 4), round(gamma.imag, 2)
    (0.2259, 24.33)
    """
    given = arguments(
        "propagation_constant",
        door.frequency(frequency),
        *door.primary_constants(series_resistance, series_inductance, shunt_conductance, shunt_capacitance),
    )
    return complex_answer(_constant(*given))


def characteristic_impedance(
    frequency: Numbers,
    series_resistance: Numbers,
    series_inductance: Numbers,
    shunt_conductance: Numbers,
    shunt_capacitance: Numbers,
) -> ComplexOrArray:
    """Characteristic impedance of a lossy line.

    Parameters
    ----------
    frequency : float or array
        Frequency [Hz]
    series_resistance : float or array
        Resistance of the pair per length at that frequency [ohm/m]
    series_inductance : float or array
        Inductance of the pair per length [H/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]

    Returns
    -------
    complex or array
        Characteristic impedance [ohm]

    Raises
    ------
    InputError
        If the frequency is outside 1 mHz..100 GHz, or a constant is outside the range of lines.

    Notes
    -----
    Z0 = sqrt((R + j w L) / (G + j w C)). A thin pair is far from its nameplate at low rates: 521 - j 510 ohm at
    1 kHz, where a resistor of 120 ohm sends back 79 %.

    References
    ----------
    Transmission line theory. Figures: checks pic-24awg-secondary, telephone-line-1khz and others.

    Examples
    --------
    >>> from rs485kit.formulas import characteristic_impedance
    >>> z = characteristic_impedance(1e3, 0.17228, 612.5e-9, 0.072e-9, 51.57e-12)
    >>> round(z.real), round(z.imag)
    (521, -510)
    """
    frequency, resistance, inductance, conductance, capacitance = arguments(
        "characteristic_impedance",
        door.frequency(frequency),
        *door.primary_constants(series_resistance, series_inductance, shunt_conductance, shunt_capacitance),
    )
    turning = 2.0 * np.pi * frequency
    series, shunt = resistance + 1j * turning * inductance, conductance + 1j * turning * capacitance
    return complex_answer(np.sqrt(series) / np.sqrt(shunt))


def attenuation(
    frequency: Numbers,
    series_resistance: Numbers,
    series_inductance: Numbers,
    shunt_conductance: Numbers,
    shunt_capacitance: Numbers,
) -> FloatOrArray:
    """Attenuation of a lossy line.

    Parameters
    ----------
    frequency : float or array
        Frequency [Hz]
    series_resistance : float or array
        Resistance of the pair per length at that frequency [ohm/m]
    series_inductance : float or array
        Inductance of the pair per length [H/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]

    Returns
    -------
    float or array
        Loss of a travelling wave per length [dB/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 mHz..100 GHz, or a constant is outside the range of lines.

    Notes
    -----
    20 lg(e) Re(gamma), 8.686 dB to the neper. Of a wave alone: what a mismatched end loses comes on top.

    References
    ----------
    Transmission line theory. Figures: checks ansi-24awg-secondary, pic-24awg-secondary and others.

    Examples
    --------
    >>> from rs485kit.formulas import attenuation
    >>> round(1e3 * attenuation(1e6, 0.46359, 506.2e-9, 29.111e-9, 51.57e-12), 2)
    20.28
    """
    given = arguments(
        "attenuation",
        door.frequency(frequency),
        *door.primary_constants(series_resistance, series_inductance, shunt_conductance, shunt_capacitance),
    )
    return answer(door.NEPER * _constant(*given).real)


def phase_delay(
    frequency: Numbers,
    series_resistance: Numbers,
    series_inductance: Numbers,
    shunt_conductance: Numbers,
    shunt_capacitance: Numbers,
) -> FloatOrArray:
    """Delay of a sine per metre of a lossy line.

    Parameters
    ----------
    frequency : float or array
        Frequency [Hz]
    series_resistance : float or array
        Resistance of the pair per length at that frequency [ohm/m]
    series_inductance : float or array
        Inductance of the pair per length [H/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]

    Returns
    -------
    float or array
        Delay of the phase per length [s/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 mHz..100 GHz, or a constant is outside the range of lines.

    Notes
    -----
    Im(gamma) / (2 pi f). The first sign of an edge arrives with the delay at high frequency; its slow parts lag.

    References
    ----------
    Transmission line theory. Figures: checks ansi-24awg-secondary, pic-24awg-secondary.

    Examples
    --------
    >>> from rs485kit.formulas import phase_delay
    >>> round(1e9 * phase_delay(1e6, 0.46359, 506.2e-9, 29.111e-9, 51.57e-12), 3)
    5.123
    """
    given = arguments(
        "phase_delay",
        door.frequency(frequency),
        *door.primary_constants(series_resistance, series_inductance, shunt_conductance, shunt_capacitance),
    )
    return answer(_constant(*given).imag / (2.0 * np.pi * given[0]))


def phase_velocity(
    frequency: Numbers,
    series_resistance: Numbers,
    series_inductance: Numbers,
    shunt_conductance: Numbers,
    shunt_capacitance: Numbers,
) -> FloatOrArray:
    """Velocity of the phase of a sine on a lossy line.

    Parameters
    ----------
    frequency : float or array
        Frequency [Hz]
    series_resistance : float or array
        Resistance of the pair per length at that frequency [ohm/m]
    series_inductance : float or array
        Inductance of the pair per length [H/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]

    Returns
    -------
    float or array
        Velocity [m/s]

    Raises
    ------
    InputError
        If the frequency is outside 1 mHz..100 GHz, or a constant is outside the range of lines.

    Notes
    -----
    2 pi f / Im(gamma). At low frequency it is far below what a datasheet states.

    References
    ----------
    Transmission line theory. Figure: check telephone-line-1khz.

    Examples
    --------
    >>> from rs485kit.formulas import phase_velocity
    >>> round(phase_velocity(1e3, 0.03, 0.1e-3, 0.0, 20e-9))
    706905
    """
    given = arguments(
        "phase_velocity",
        door.frequency(frequency),
        *door.primary_constants(series_resistance, series_inductance, shunt_conductance, shunt_capacitance),
    )
    return answer(2.0 * np.pi * given[0] / _constant(*given).imag)


def _constant(
    frequency: Array, resistance: Array, inductance: Array, conductance: Array, capacitance: Array
) -> ComplexArray:
    # gamma^2 = p + j q. The larger part of the root comes from a sum without cancellation, the smaller one from q.
    reactance, susceptance = 2.0 * np.pi * frequency * inductance, 2.0 * np.pi * frequency * capacitance
    real = resistance * conductance - reactance * susceptance
    imaginary = resistance * susceptance + reactance * conductance
    size = np.hypot(resistance, reactance) * np.hypot(conductance, susceptance)
    larger = np.sqrt(0.5 * (size + np.abs(real)))
    smaller = 0.5 * imaginary / larger
    return np.asarray(np.where(real > 0.0, larger + 1j * smaller, smaller + 1j * larger))
