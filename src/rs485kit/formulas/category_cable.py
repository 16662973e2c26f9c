"""Cables of structured cabling: the limits of attenuation and delay that a category stands for.

A limit is what a cable of the category may have at most, not what a given cable has.
"""

import numpy as np

from rs485kit.formulas._arguments import Argument, Array, FloatOrArray, Numbers, answer, arguments, whole, within

_MEGAHERTZ = 1e6
_PER_METRE = 0.01
_CONNECTION_DELAY = 2.5e-9


def category_3_attenuation(frequency: Numbers) -> FloatOrArray:
    """Largest attenuation of a cable of category 3.

    Parameters
    ----------
    frequency : float or array
        Frequency, 64 kHz to 16 MHz [Hz]

    Returns
    -------
    float or array
        Loss at 20 degC [dB/m]

    Raises
    ------
    InputError
        If the frequency is outside the range.

    Notes
    -----
    2.320 sqrt(f) + 0.238 f in dB per 100 m, f in MHz. The formula is recalled; it gives all nine printed limits after
    rounding.

    References
    ----------
    Limits of TIA-568-C as printed in a reference on LAN wiring, table 15.2. Figures: checks
    tia568-insertion-loss-cat3, tia568-cat3-1p0mhz and on.

    Examples
    --------
    >>> from rs485kit.formulas import category_3_attenuation
    >>> round(100 * category_3_attenuation(1e6), 2)
    2.56
    """
    (frequency,) = arguments("category_3_attenuation", _frequency(frequency, 16.0))
    megahertz = frequency / _MEGAHERTZ
    return answer(_PER_METRE * (2.320 * np.sqrt(megahertz) + 0.238 * megahertz))


def category_5e_attenuation(frequency: Numbers) -> FloatOrArray:
    """Largest attenuation of a cable of category 5e.

    Parameters
    ----------
    frequency : float or array
        Frequency, 64 kHz to 100 MHz [Hz]

    Returns
    -------
    float or array
        Loss at 20 degC [dB/m]

    Raises
    ------
    InputError
        If the frequency is outside the range.

    Notes
    -----
    1.967 sqrt(f) + 0.023 f + 0.050 / sqrt(f) in dB per 100 m, f in MHz.

    References
    ----------
    Formula: a public source text that draws the limits of TIA. Limits: TIA-568-C as printed in a reference on LAN
    wiring, table 15.2. Figures: checks tia568-insertion-loss-cat5e, tia568-cat5e-1p0mhz and on.

    Examples
    --------
    >>> from rs485kit.formulas import category_5e_attenuation
    >>> round(100 * category_5e_attenuation(1e6), 2)
    2.04
    """
    (frequency,) = arguments("category_5e_attenuation", _frequency(frequency, 100.0))
    root = np.sqrt(frequency / _MEGAHERTZ)
    return answer(_PER_METRE * (1.967 * root + 0.023 * root**2 + 0.050 / root))


def category_5e_attenuation_factor(temperature: Numbers) -> FloatOrArray:
    """Factor by which the attenuation of category 5e may be larger in a warm cable.

    Parameters
    ----------
    temperature : float or array
        Temperature of the cable, 20 to 60 degC [K]

    Returns
    -------
    float or array
        Attenuation over that at 20 degC [-]

    Raises
    ------
    InputError
        If the temperature is outside 293.15..333.15 K.

    Notes
    -----
    1 + 0.004 (T - 293.15 K).

    References
    ----------
    TIA-568-C as printed in a reference on LAN wiring. Figure: check tia568-temperature.

    Examples
    --------
    >>> from rs485kit.formulas import category_5e_attenuation_factor
    >>> round(category_5e_attenuation_factor(313.15), 4)
    1.08
    """
    (temperature,) = arguments(
        "category_5e_attenuation_factor",
        within("temperature", temperature, "K", 293.15, 333.15, cure="temperatures are in kelvin: 20 degC is 293.15"),
    )
    return answer(1.0 + 0.004 * (temperature - 293.15))


def category_5e_delay(frequency: Numbers) -> FloatOrArray:
    """Largest delay per metre of a cable of category 5e.

    Parameters
    ----------
    frequency : float or array
        Frequency, 1 to 200 MHz [Hz]

    Returns
    -------
    float or array
        Delay of the phase per length [s/m]

    Raises
    ------
    InputError
        If the frequency is outside the range.

    Notes
    -----
    534 + 36 / sqrt(f) in ns per 100 m, f in MHz. The formula is recalled; ten printed limits of links follow from it.

    References
    ----------
    Training slides on TSB-67 and TSB-95. Figures: checks cat5e-cable-delay-limit, class-d-delay.

    Examples
    --------
    >>> from rs485kit.formulas import category_5e_delay
    >>> round(category_5e_delay(10e6) * 1e9, 3)
    5.454
    """
    (frequency,) = arguments("category_5e_delay", _delay_frequency(frequency))
    return answer(_delay(frequency))


def class_d_delay(length: Numbers, frequency: Numbers, connections: Numbers) -> FloatOrArray:
    """Largest delay of a link of category 5e cable with its connections.

    Parameters
    ----------
    length : float or array
        Length of the cable [m]
    frequency : float or array
        Frequency, 1 to 200 MHz [Hz]
    connections : float or array
        Connections in the link: 4 in a full channel, 2 in a basic link [-]

    Returns
    -------
    float or array
        Delay from end to end [s]

    Raises
    ------
    InputError
        If the length is outside 0..100 m, the frequency outside the range, or the connections are not a whole number
        from 0 to 100.

    Notes
    -----
    The delay of the cable and 2.5 ns for each connection.

    References
    ----------
    Training slides on TSB-67 and TSB-95. Figures: check class-d-delay.

    Examples
    --------
    >>> from rs485kit.formulas import class_d_delay
    >>> round(class_d_delay(100.0, 1e6, 4) * 1e9, 3)
    580.0
    """
    length, frequency, connections = arguments(
        "class_d_delay",
        within("length", length, "m", 0.0, 100.0),
        _delay_frequency(frequency),
        whole("connections", connections, 0, 100),
    )
    return answer(_delay(frequency) * length + _CONNECTION_DELAY * connections)


def _delay(frequency: Array) -> Array:
    return np.asarray(1e-9 * _PER_METRE * (534.0 + 36.0 / np.sqrt(frequency / _MEGAHERTZ)))


def _frequency(value: Numbers, highest: float) -> Argument:
    bounds = 0.064 * _MEGAHERTZ, highest * _MEGAHERTZ
    return within("frequency", value, "Hz", *bounds, cure="it is in hertz: 1 MHz is 1e6")


def _delay_frequency(value: Numbers) -> Argument:
    return within("frequency", value, "Hz", 1e6, 200e6, cure="it is in hertz: 1 MHz is 1e6")
