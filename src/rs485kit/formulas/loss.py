"""Attenuation in the regimes where one term rules: RC line, conductor loss, distortionless line."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, positive


def rc_line_attenuation(frequency: Numbers, series_resistance: Numbers, shunt_capacitance: Numbers) -> FloatOrArray:
    """Attenuation of a line at frequencies where its inductance does not count.

    Parameters
    ----------
    frequency : float or array
        Frequency, so low that 2 pi f L is small against the resistance [Hz]
    series_resistance : float or array
        Resistance of the pair per length [ohm/m]
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
    8.686 sqrt(pi f R C). Below some 50 kHz a thin pair is an RC line.

    References
    ----------
    Transmission line theory. Figures: checks rc-line-1600hz-0p5mm, bt-telephone-pair-loss-1600hz.

    Examples
    --------
    >>> from rs485kit.formulas import rc_line_attenuation
    >>> round(1e3 * rc_line_attenuation(1600.0, 0.168, 50e-12), 3)
    1.785
    """
    frequency, series_resistance, shunt_capacitance = arguments(
        "rc_line_attenuation",
        door.frequency(frequency),
        door.series_resistance(series_resistance),
        door.shunt_capacitance(shunt_capacitance),
    )
    return answer(door.NEPER * np.sqrt(np.pi * frequency * series_resistance * shunt_capacitance))


def conductor_attenuation(series_resistance: Numbers, characteristic_impedance: Numbers) -> FloatOrArray:
    """Attenuation that the resistance of the conductors alone makes at high frequency.

    Parameters
    ----------
    series_resistance : float or array
        Resistance of the pair per length, both conductors [ohm/m]
    characteristic_impedance : float or array
        Characteristic impedance of the line at high frequency [ohm]

    Returns
    -------
    float or array
        Loss of a travelling wave per length [dB/m]

    Raises
    ------
    InputError
        If the resistance is outside 0..10 kohm/m or the impedance outside 0.1..1e5 ohm.

    Notes
    -----
    8.686 R / (2 Z0), for 2 pi f L large against R. With the resistance at DC it is a floor that the skin effect and
    the insulation only add to.

    References
    ----------
    Transmission line theory. Figure: check mbp-type-a-loss-floor.

    Examples
    --------
    >>> from rs485kit.formulas import conductor_attenuation
    >>> round(1e3 * conductor_attenuation(0.044, 100.0), 3)
    1.911
    """
    series_resistance, characteristic_impedance = arguments(
        "conductor_attenuation",
        door.series_resistance(series_resistance),
        door.impedance("characteristic_impedance", characteristic_impedance),
    )
    return answer(door.NEPER * series_resistance / (2.0 * characteristic_impedance))


def distortionless_attenuation(series_resistance: Numbers, shunt_conductance: Numbers) -> FloatOrArray:
    """Attenuation of a line that keeps the form of a signal.

    Parameters
    ----------
    series_resistance : float or array
        Resistance of the pair per length [ohm/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]

    Returns
    -------
    float or array
        Loss of a travelling wave per length, the same at any frequency [dB/m]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    8.686 sqrt(R G), where R / L = G / C. No real pair is such a line: its conductance is far too small.

    References
    ----------
    Transmission line theory. Figure: check distortionless-line.

    Examples
    --------
    >>> from rs485kit.formulas import distortionless_attenuation
    >>> round(distortionless_attenuation(2.0, 2e-4), 5)
    0.17372
    """
    series_resistance, shunt_conductance = arguments(
        "distortionless_attenuation",
        positive("series_resistance", series_resistance, "ohm/m"),
        positive("shunt_conductance", shunt_conductance, "S/m"),
    )
    return answer(door.NEPER * np.sqrt(series_resistance * shunt_conductance))


def distortionless_impedance(series_resistance: Numbers, shunt_conductance: Numbers) -> FloatOrArray:
    """Characteristic impedance of a line that keeps the form of a signal.

    Parameters
    ----------
    series_resistance : float or array
        Resistance of the pair per length [ohm/m]
    shunt_conductance : float or array
        Conductance between the conductors per length [S/m]

    Returns
    -------
    float or array
        Characteristic impedance, real and the same at any frequency [ohm]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    Z0 = sqrt(R / G) = sqrt(L / C). At DC any line with conductance has the first of the two.

    References
    ----------
    Transmission line theory. Figure: check distortionless-line.

    Examples
    --------
    >>> from rs485kit.formulas import distortionless_impedance
    >>> round(distortionless_impedance(2.0, 2e-4), 9)
    100.0
    """
    series_resistance, shunt_conductance = arguments(
        "distortionless_impedance",
        positive("series_resistance", series_resistance, "ohm/m"),
        positive("shunt_conductance", shunt_conductance, "S/m"),
    )
    return answer(np.sqrt(series_resistance / shunt_conductance))
