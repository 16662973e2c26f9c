"""Copper conductors at DC: gauge, area, resistance and temperature."""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    whole,
    within,
)

RESISTIVITY = 1.7241e-8
"""Annealed copper of 100 % IACS at 20 degC [ohm*m]."""
TEMPERATURE_COEFFICIENT = 0.00393
"""Relative rise of that resistivity per kelvin, referred to 20 degC [1/K]; from memory."""
REFERENCE_TEMPERATURE = 293.15
"""The 20 degC to which tables of copper are referred [K]."""
GAUGE_MINIMUM, GAUGE_MAXIMUM = -3, 40
COLDEST, HOTTEST = 173.15, 473.15
_IN_KELVIN = "temperatures are in kelvin: 20 degC is 293.15"


def gauge_diameter(gauge: Numbers) -> FloatOrArray:
    """Diameter of a solid conductor of an American wire gauge.

    Parameters
    ----------
    gauge : float or array
        Gauge number, whole; 0 is 1/0 and -3 is 4/0 [-]

    Returns
    -------
    float or array
        Diameter of the bare conductor [m]

    Raises
    ------
    InputError
        If the gauge is not a whole number from -3 to 40.

    Notes
    -----
    d = 0.127 mm * 92^((36 - n) / 39). The law is for solid wire; a stranded conductor of the same gauge has a
    larger outline and, as cables are sold, up to some 7 % less resistance.

    References
    ----------
    ASTM B258, the rule of diameters. Printed resistances that follow it: checks awg-18-resistance and on.

    Examples
    --------
    >>> from rs485kit.formulas import gauge_diameter
    >>> round(gauge_diameter(24) * 1e3, 4)
    0.5106
    """
    (gauge,) = arguments("gauge_diameter", _gauge(gauge))
    return answer(0.127e-3 * 92.0 ** ((36.0 - gauge) / 39.0))


def wire_area(diameter: Numbers) -> FloatOrArray:
    """Cross-section of a round solid conductor.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductor [m]

    Returns
    -------
    float or array
        Area of its cross-section [m^2]

    Raises
    ------
    InputError
        If the diameter is not a positive number.

    Notes
    -----
    A = pi d^2 / 4. A core of 0.64 mm has 0.322 mm2: where a cable guide asks for 0.64 mm and for more than
    0.34 mm2 in one breath, the two do not agree.

    References
    ----------
    Geometry of the circle. The two limits: check cable-profibus-a-core.

    Examples
    --------
    >>> from rs485kit.formulas import wire_area
    >>> round(wire_area(0.64e-3) * 1e6, 6)
    0.321699
    """
    (diameter,) = arguments("wire_area", positive("diameter", diameter, "m"))
    return answer(np.pi * diameter**2 / 4.0)


def copper_resistance(area: Numbers, *, temperature: Numbers = REFERENCE_TEMPERATURE) -> FloatOrArray:
    """Resistance per metre of one copper conductor of a given cross-section.

    Parameters
    ----------
    area : float or array
        Area of the conductor's cross-section [m^2]
    temperature : float or array
        Temperature of the copper [K]

    Returns
    -------
    float or array
        Resistance of one conductor per length [ohm/m]

    Raises
    ------
    InputError
        If the area is not positive, or the temperature is outside -100..+200 degC.

    Notes
    -----
    R' = rho / A * (1 + a (T - 293.15 K)), rho = 1.7241e-8 ohm m, a = 0.00393 / K. The coefficient is from memory.
    DC only: skin effect is not in it.

    References
    ----------
    Resistivity of 100 % IACS copper, 17.241 ohm mm2/km: checks awg-21-resistance, cable-profibus-a-core.

    Examples
    --------
    >>> from rs485kit.formulas import copper_resistance
    >>> round(2 * 1000 * copper_resistance(0.34e-6), 3)
    101.418
    """
    area, temperature = arguments("copper_resistance", positive("area", area, "m^2"), _temperature(temperature))
    return answer(RESISTIVITY / area * (1.0 + TEMPERATURE_COEFFICIENT * (temperature - REFERENCE_TEMPERATURE)))


def gauge_resistance(gauge: Numbers, *, temperature: Numbers = REFERENCE_TEMPERATURE) -> FloatOrArray:
    """Resistance per metre of one solid copper conductor of an American wire gauge.

    Parameters
    ----------
    gauge : float or array
        Gauge number, whole; 0 is 1/0 and -3 is 4/0 [-]
    temperature : float or array
        Temperature of the copper [K]

    Returns
    -------
    float or array
        Resistance of one conductor per length [ohm/m]

    Raises
    ------
    InputError
        If the gauge is not a whole number from -3 to 40, or the temperature is outside -100..+200 degC.

    Notes
    -----
    R' = 4 rho / (pi d^2) * (1 + a (T - 293.15 K)) with the diameter d of the gauge. Printed tables agree within
    0.2 % for AWG 18 to 28. A stranded AWG 24 data pair is printed with 78.7 ohm/km, 7 % under the solid 84.2.

    References
    ----------
    ASTM B258 and 17.241 ohm mm2/km, against a printed table: checks awg-18-resistance to awg-28-resistance.

    Examples
    --------
    >>> from rs485kit.formulas import gauge_resistance
    >>> round(gauge_resistance(24) * 1e3, 2)
    84.21
    """
    gauge, temperature = arguments("gauge_resistance", _gauge(gauge), _temperature(temperature))
    return copper_resistance(wire_area(gauge_diameter(gauge)), temperature=temperature)


def resistance_at_temperature(
    reference_resistance: Numbers, temperature: Numbers, *, coefficient: Numbers = TEMPERATURE_COEFFICIENT
) -> FloatOrArray:
    """Resistance at a temperature of something whose resistance at 20 degC is known.

    Parameters
    ----------
    reference_resistance : float or array
        Resistance at 20 degC, whole or per length; the answer is of the same kind [ohm]
    temperature : float or array
        Temperature of the conductor [K]
    coefficient : float or array
        Relative rise per kelvin, referred to 20 degC [1/K]

    Returns
    -------
    float or array
        Resistance at that temperature [ohm]

    Raises
    ------
    InputError
        If the resistance is not positive, the temperature is outside -100..+200 degC, or the coefficient is outside
        -0.005..+0.005 / K.

    Notes
    -----
    R = R20 (1 + a (T - 293.15 K)). Linear, good to about 1 % for copper between -50 and +150 degC. The default
    coefficient is from memory; it makes a cable at 60 degC 16 % more resistive than its table says.

    References
    ----------
    Check awg-24-at-60c, which is marked memory.

    Examples
    --------
    >>> from rs485kit.formulas import resistance_at_temperature
    >>> round(resistance_at_temperature(84.22e-3, 333.15) * 1e3, 4)
    97.4594
    """
    reference_resistance, temperature, coefficient = arguments(
        "resistance_at_temperature",
        positive("reference_resistance", reference_resistance, "ohm"),
        _temperature(temperature),
        within("coefficient", coefficient, "1/K", -0.005, 0.005),
    )
    return answer(reference_resistance * (1.0 + coefficient * (temperature - REFERENCE_TEMPERATURE)))


def wire_resistance(conductor_resistance: Numbers, length: Numbers) -> FloatOrArray:
    """Resistance of one conductor from end to end.

    Parameters
    ----------
    conductor_resistance : float or array
        Resistance of one conductor, or of a shield, per length [ohm/m]
    length : float or array
        Length of the cable [m]

    Returns
    -------
    float or array
        Resistance of that one conductor [ohm]

    Raises
    ------
    InputError
        If the resistance per length is not positive or the length is negative.

    Notes
    -----
    R = R' l. For a reference wire or a shield; a signal runs through two conductors, see `loop_resistance`.

    References
    ----------
    Ohm's law. Figures: checks cm-shield-bonded-both-ends, power-remote-supply-drop.

    Examples
    --------
    >>> from rs485kit.formulas import wire_resistance
    >>> round(wire_resistance(11.0e-3, 1200.0), 3)
    13.2
    """
    conductor_resistance, length = arguments("wire_resistance", *_run(conductor_resistance, length))
    return answer(conductor_resistance * length)


def loop_resistance(conductor_resistance: Numbers, length: Numbers) -> FloatOrArray:
    """Resistance of a pair there and back.

    Parameters
    ----------
    conductor_resistance : float or array
        Resistance of one conductor per length [ohm/m]
    length : float or array
        Length of the cable [m]

    Returns
    -------
    float or array
        Resistance of both conductors in series [ohm]

    Raises
    ------
    InputError
        If the resistance per length is not positive or the length is negative.

    Notes
    -----
    R = 2 R' l. A tutorial slide that puts the -6 dB point of AWG 24 at about 1200 m has left out the 2.

    References
    ----------
    Ohm's law. Figures: checks drop-1200m-awg24, drop-4000ft-15-mohm.

    Examples
    --------
    >>> from rs485kit.formulas import loop_resistance
    >>> round(loop_resistance(84.22e-3, 1200.0), 3)
    202.128
    """
    conductor_resistance, length = arguments("loop_resistance", *_run(conductor_resistance, length))
    return answer(2.0 * conductor_resistance * length)


def _gauge(value: Numbers) -> Argument:
    return whole("gauge", value, GAUGE_MINIMUM, GAUGE_MAXIMUM, cure="1/0 is 0, 2/0 is -1, 4/0 is -3")


def _temperature(value: Numbers) -> Argument:
    return within("temperature", value, "K", COLDEST, HOTTEST, cure=_IN_KELVIN)


def _run(conductor_resistance: Numbers, length: Numbers) -> tuple[Argument, Argument]:
    return positive("conductor_resistance", conductor_resistance, "ohm/m"), not_negative("length", length, "m")
