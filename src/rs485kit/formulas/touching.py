"""Current through a person who touches a bus, by the measuring network of IEC 60990.

The network stands for a body: 1500 ohm with 0.22 uF across it, in series with 500 ohm. The filter behind the 500 ohm
(10 kohm and 22 nF) weighs the current as people feel it, ever less with frequency. Whatever can hurt someone is
decided by the standard of the product, local codes and licensed practice; limits that are printed stand in `stated`.
"""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    ComplexArray,
    ComplexOrArray,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    complex_answer,
    not_negative,
    within,
)
from rs485kit.formulas.stated import TOUCH_NETWORK

_SERIES = TOUCH_NETWORK["series resistance"].value
_ACROSS = TOUCH_NETWORK["series capacitance"].value
_BODY = TOUCH_NETWORK["body resistance"].value
_FILTER_TIME = TOUCH_NETWORK["filter resistance"].value * TOUCH_NETWORK["filter capacitance"].value


def touch_network_impedance(frequency: Numbers) -> ComplexOrArray:
    """Impedance of the network that stands for a person.

    Parameters
    ----------
    frequency : float or array
        Frequency, 0 for DC [Hz]

    Returns
    -------
    complex or array
        Impedance, from 2000 ohm at DC to 500 ohm [ohm]

    Raises
    ------
    InputError
        If the frequency is outside 0..100 GHz.

    Notes
    -----
    Z = Rs / (1 + j w Rs Cs) + Rb. The filter is taken as unloaded and as no load, which is within 5 % of the whole
    above some kilohertz and exact at DC.

    References
    ----------
    IEC 60990, network for perception and reaction: checks touch-network-impedance-dc, touch-network-impedance-1mhz.

    Examples
    --------
    >>> from rs485kit.formulas import touch_network_impedance
    >>> round(abs(touch_network_impedance(0.0)), 6), round(abs(touch_network_impedance(50.0)), 3)
    (2000.0, 1990.006)
    """
    (frequency,) = arguments("touch_network_impedance", _frequency(frequency))
    return complex_answer(_impedance(frequency))


def touch_filter_ratio(frequency: Numbers) -> FloatOrArray:
    """Weight that the filter of the network gives to a frequency.

    Parameters
    ----------
    frequency : float or array
        Frequency, 0 for DC [Hz]

    Returns
    -------
    float or array
        Voltage behind the filter over voltage across the 500 ohm [-]

    Raises
    ------
    InputError
        If the frequency is outside 0..100 GHz.

    Notes
    -----
    1 / sqrt(1 + (w R C)^2), R = 10 kohm and C = 22 nF, not loaded by the meter.

    References
    ----------
    IEC 60990, network for perception and reaction: check touch-network-weighting-1khz.

    Examples
    --------
    >>> from rs485kit.formulas import touch_filter_ratio
    >>> round(touch_filter_ratio(1e3), 6)
    0.586134
    """
    (frequency,) = arguments("touch_filter_ratio", _frequency(frequency))
    return answer(_weight(frequency))


def touch_current(voltage_rms: Numbers, capacitance: Numbers, frequency: Numbers) -> FloatOrArray:
    """Current through a person between earth and a circuit that a capacitance couples to the mains.

    Parameters
    ----------
    voltage_rms : float or array
        Live circuit against earth, RMS [V]
    capacitance : float or array
        Capacitance from the live circuit to what is touched, over all nodes [F]
    frequency : float or array
        Frequency [Hz]

    Returns
    -------
    float or array
        Current through the 500 ohm of the network, not weighted, RMS [A]

    Raises
    ------
    InputError
        If a value is negative, the capacitance is above 1 mF or the frequency above 100 GHz.

    Notes
    -----
    I = V / |1 / (j w C) + Z|, with Z of `touch_network_impedance`. Capacitance of what is touched to earth is left out:
    it only takes current away from the person.

    References
    ----------
    IEC 60990, network for perception and reaction; arithmetic.

    Examples
    --------
    >>> from rs485kit.formulas import touch_current
    >>> round(touch_current(230.0, 32 * 41e-12, 50.0) * 1e6, 4)
    94.7947
    """
    voltage_rms, capacitance, frequency = arguments("touch_current", *_coupled(voltage_rms, capacitance, frequency))
    return answer(_current(voltage_rms, capacitance, frequency))


def weighted_touch_current(voltage_rms: Numbers, capacitance: Numbers, frequency: Numbers) -> FloatOrArray:
    """The same current as a meter with the filter of the network shows it.

    Parameters
    ----------
    voltage_rms : float or array
        Live circuit against earth, RMS [V]
    capacitance : float or array
        Capacitance from the live circuit to what is touched, over all nodes [F]
    frequency : float or array
        Frequency [Hz]

    Returns
    -------
    float or array
        Voltage behind the filter over 500 ohm, RMS [A]

    Raises
    ------
    InputError
        If a value is negative, the capacitance is above 1 mF or the frequency above 100 GHz.

    Notes
    -----
    `touch_current` times `touch_filter_ratio`. At mains frequency they are the same within 0.4 %.

    References
    ----------
    IEC 60990, network for perception and reaction; arithmetic.

    Examples
    --------
    >>> from rs485kit.formulas import weighted_touch_current
    >>> round(weighted_touch_current(230.0, 10e-9, 1e3) * 1e3, 4)
    8.16
    """
    voltage_rms, capacitance, frequency = arguments(
        "weighted_touch_current", *_coupled(voltage_rms, capacitance, frequency)
    )
    return answer(_current(voltage_rms, capacitance, frequency) * _weight(frequency))


def _frequency(value: object) -> Argument:
    return within("frequency", value, "Hz", 0.0, 1e11, cure="it is in hertz: 1 MHz is 1e6")


def _coupled(voltage_rms: object, capacitance: object, frequency: object) -> tuple[Argument, Argument, Argument]:
    return (
        not_negative("voltage_rms", voltage_rms, "V"),
        within("capacitance", capacitance, "F", 0.0, 1e-3, cure="it is in farad: 20 pF is 20e-12"),
        _frequency(frequency),
    )


def _impedance(frequency: Array) -> ComplexArray:
    return np.asarray(_SERIES / (1.0 + 2j * np.pi * frequency * _SERIES * _ACROSS) + _BODY)


def _weight(frequency: Array) -> Array:
    return np.asarray(1.0 / np.hypot(1.0, 2.0 * np.pi * frequency * _FILTER_TIME))


def _current(voltage: Array, capacitance: Array, frequency: Array) -> Array:
    coupling = 2j * np.pi * frequency * capacitance
    return np.abs(voltage * coupling / (1.0 + coupling * _impedance(frequency)))
