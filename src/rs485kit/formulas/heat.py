"""Heat in parts: junction temperature, derating, and the power limit that keeps a barrier whole after a fault."""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    within,
)

SAFETY_TEMPERATURE = 423.15
"""Highest temperature of a part at which its insulation is rated to last after a fault, 150 degC [K]."""

_KELVIN = "it is in kelvin: 85 degC is 358.15"


def junction_temperature(ambient: Numbers, thermal_resistance: Numbers, power: Numbers) -> FloatOrArray:
    """Temperature of a part's junction.

    Parameters
    ----------
    ambient : float or array
        Temperature of the air round the part [K]
    thermal_resistance : float or array
        Thermal resistance from junction to air [K/W]
    power : float or array
        Heat in the part itself [W]

    Returns
    -------
    float or array
        Temperature of the junction [K]

    Raises
    ------
    InputError
        If the ambient is outside 200..500 K, the thermal resistance is not positive or the power is negative.

    Notes
    -----
    Tj = Ta + Rth P. A printed thermal resistance is that of a test board in still air, and of one part alone. Power
    that leaves into the bus load is not heat of the part: take it off first (`part_power`).

    References
    ----------
    Definition of thermal resistance. Figure: check junction-transceiver-54ohm.

    Examples
    --------
    >>> from rs485kit.formulas import junction_temperature
    >>> round(junction_temperature(358.15, 68.5, 0.449259) - 273.15, 2)
    115.77
    """
    ambient, thermal_resistance, power = arguments(
        "junction_temperature",
        _temperature("ambient", ambient),
        positive("thermal_resistance", thermal_resistance, "K/W"),
        not_negative("power", power, "W"),
    )
    return answer(ambient + thermal_resistance * power)


def safety_limit_power(
    ambient: Numbers, thermal_resistance: Numbers, *, highest_temperature: Numbers = SAFETY_TEMPERATURE
) -> FloatOrArray:
    """Power at which a faulty part reaches the temperature that its insulation still stands.

    Parameters
    ----------
    ambient : float or array
        Temperature of the air round the part [K]
    thermal_resistance : float or array
        Thermal resistance from junction to air [K/W]
    highest_temperature : float or array
        Temperature that may be reached [K]

    Returns
    -------
    float or array
        Power; 0 from that temperature on [W]

    Raises
    ------
    InputError
        If a temperature is outside 200..500 K or the thermal resistance is not positive.

    Notes
    -----
    (Tmax - Ta) / Rth. It protects the barrier after a fault and is no operating rating. Data sheets print it for
    25 degC: 1135 mW there are 590 mW at 85 degC.

    References
    ----------
    Data sheets of isolators: checks safety-limit-110p1-5p5 and its neighbours, safety-limit-derated-85c.

    Examples
    --------
    >>> from rs485kit.formulas import safety_limit_power
    >>> round(safety_limit_power(298.15, 110.1), 4)
    1.1353
    """
    ambient, thermal_resistance, highest_temperature = arguments(
        "safety_limit_power",
        _temperature("ambient", ambient),
        positive("thermal_resistance", thermal_resistance, "K/W"),
        _temperature("highest_temperature", highest_temperature),
    )
    return answer(np.maximum(highest_temperature - ambient, 0.0) / thermal_resistance)


def safety_limit_current(
    ambient: Numbers,
    thermal_resistance: Numbers,
    supply: Numbers,
    *,
    highest_temperature: Numbers = SAFETY_TEMPERATURE,
) -> FloatOrArray:
    """Current to which a supply has to be limited so that a faulty part keeps its insulation.

    Parameters
    ----------
    ambient : float or array
        Temperature of the air round the part [K]
    thermal_resistance : float or array
        Thermal resistance from junction to air [K/W]
    supply : float or array
        Highest supply voltage [V]
    highest_temperature : float or array
        Temperature that may be reached [K]

    Returns
    -------
    float or array
        Current; 0 from that temperature on [A]

    Raises
    ------
    InputError
        If a temperature is outside 200..500 K or another value is not positive.

    Notes
    -----
    (Tmax - Ta) / (Rth V), with all of V I in the part.

    References
    ----------
    Data sheets of isolators: checks safety-limit-110p1-5p5 and its neighbours.

    Examples
    --------
    >>> from rs485kit.formulas import safety_limit_current
    >>> round(safety_limit_current(298.15, 110.1, 5.5) * 1e3, 1)
    206.4
    """
    ambient, thermal_resistance, supply, highest_temperature = arguments(
        "safety_limit_current",
        _temperature("ambient", ambient),
        positive("thermal_resistance", thermal_resistance, "K/W"),
        positive("supply", supply, "V"),
        _temperature("highest_temperature", highest_temperature),
    )
    return answer(np.maximum(highest_temperature - ambient, 0.0) / thermal_resistance / supply)


def derated_power(
    rated_power: Numbers, rated_temperature: Numbers, derating_slope: Numbers, ambient: Numbers
) -> FloatOrArray:
    """Power that a package may still turn to heat at a higher ambient.

    Parameters
    ----------
    rated_power : float or array
        Power up to the temperature at which derating begins [W]
    rated_temperature : float or array
        Temperature at which derating begins [K]
    derating_slope : float or array
        Power lost per kelvin above it [W/K]
    ambient : float or array
        Temperature of the air [K]

    Returns
    -------
    float or array
        Power; 0 where the line has reached it [W]

    Raises
    ------
    InputError
        If a temperature is outside 200..500 K, the slope is not positive or the power is negative.

    Notes
    -----
    P - s (Ta - T0) above T0, P below.

    References
    ----------
    Absolute maximum ratings of a transceiver: check derating-so8.

    Examples
    --------
    >>> from rs485kit.formulas import derated_power
    >>> round(derated_power(0.471, 343.15, 5.88e-3, 358.15), 4)
    0.3828
    """
    rated_power, rated_temperature, derating_slope, ambient = arguments(
        "derated_power",
        not_negative("rated_power", rated_power, "W"),
        _temperature("rated_temperature", rated_temperature),
        positive("derating_slope", derating_slope, "W/K"),
        _temperature("ambient", ambient),
    )
    above = np.maximum(ambient - rated_temperature, 0.0)
    return answer(np.maximum(rated_power - derating_slope * above, 0.0))


def zero_power_temperature(rated_power: Numbers, rated_temperature: Numbers, derating_slope: Numbers) -> FloatOrArray:
    """Ambient at which a derated package may give off no more heat.

    Parameters
    ----------
    rated_power : float or array
        Power up to the temperature at which derating begins [W]
    rated_temperature : float or array
        Temperature at which derating begins [K]
    derating_slope : float or array
        Power lost per kelvin above it [W/K]

    Returns
    -------
    float or array
        Temperature, which is the highest of the junction [K]

    Raises
    ------
    InputError
        If the temperature is outside 200..500 K, the slope is not positive or the power is negative.

    Notes
    -----
    T0 + P / s. A line that does not end near the part's highest junction temperature has been misread.

    References
    ----------
    Absolute maximum ratings of a transceiver: check derating-so8.

    Examples
    --------
    >>> from rs485kit.formulas import zero_power_temperature
    >>> round(zero_power_temperature(0.471, 343.15, 5.88e-3) - 273.15, 2)
    150.1
    """
    rated_power, rated_temperature, derating_slope = arguments(
        "zero_power_temperature",
        not_negative("rated_power", rated_power, "W"),
        _temperature("rated_temperature", rated_temperature),
        positive("derating_slope", derating_slope, "W/K"),
    )
    return answer(rated_temperature + rated_power / derating_slope)


def _temperature(name: str, value: object) -> Argument:
    return within(name, value, "K", 200.0, 500.0, cure=_KELVIN)
