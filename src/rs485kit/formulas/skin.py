"""Copper at frequency: skin depth, AC resistance and internal impedance of a round wire, proximity of its neighbour."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    Argument,
    ComplexOrArray,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    complex_answer,
    positive,
    refuse,
    within,
)
from rs485kit.formulas._numerics import internal_ratio
from rs485kit.formulas.copper import RESISTIVITY


def skin_depth(frequency: Numbers, *, resistivity: Numbers = RESISTIVITY) -> FloatOrArray:
    """Depth at which the current in a thick conductor has fallen to 1/e.

    Parameters
    ----------
    frequency : float or array
        Frequency [Hz]
    resistivity : float or array
        Resistivity of the conductor; that of annealed copper at 20 degC unless given [ohm*m]

    Returns
    -------
    float or array
        Skin depth [m]

    Raises
    ------
    InputError
        If the frequency is outside 1 mHz..100 GHz or the resistivity outside 1e-9..1e-3 ohm m.

    Notes
    -----
    delta = sqrt(rho / (pi f mu0)), for a conductor that is not magnetic.

    References
    ----------
    Field theory. Figures: checks skin-depth-copper, skin-depth-copper-60hz-listed and on.

    Examples
    --------
    >>> from rs485kit.formulas import skin_depth
    >>> round(skin_depth(1e6) * 1e6, 3)
    66.085
    """
    frequency, resistivity = arguments("skin_depth", door.frequency(frequency), _resistivity(resistivity))
    return answer(np.sqrt(resistivity / (np.pi * frequency * door.MAGNETIC_CONSTANT)))


def skin_effect_factor(diameter: Numbers, depth: Numbers) -> FloatOrArray:
    """Factor by which the skin effect raises the resistance of a round wire, exact.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductor [m]
    depth : float or array
        Skin depth in it [m]

    Returns
    -------
    float or array
        AC over DC resistance, 1 or more [-]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    Re[z I0(z) / (2 I1(z))], z = (1 + j) x, x = d / (2 delta). For one wire far from any other: see
    `proximity_factor`. From x = 4 on it is x/2 + 1/4 + 3/(32 x) within 0.02 %.

    References
    ----------
    Modified Bessel functions. Figures: checks round-wire-ratio-x1 and on, round-wire-exact. A table found in print is
    2.5 % low at x = 8.

    Examples
    --------
    >>> from rs485kit.formulas import skin_depth, skin_effect_factor
    >>> round(skin_effect_factor(0.5106e-3, skin_depth(1e6)), 4)
    2.2061
    """
    diameter, depth = arguments("skin_effect_factor", *_wire(diameter, depth))
    return answer(internal_ratio(0.5 * diameter / depth).real)


def quartic_skin_effect_factor(diameter: Numbers, depth: Numbers) -> FloatOrArray:
    """Factor by which the skin effect raises the resistance of a thin wire, first term of the series.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductor [m]
    depth : float or array
        Skin depth in it, half the diameter or more [m]

    Returns
    -------
    float or array
        AC over DC resistance [-]

    Raises
    ------
    InputError
        If a value is not a positive number, or the radius is more than the skin depth.

    Notes
    -----
    1 + x^4 / 48, x = d / (2 delta). Within 0.04 % up to x = 1, the end of its range here.

    References
    ----------
    Series of `skin_effect_factor`. Figure: check round-wire-low-frequency-series.

    Examples
    --------
    >>> from rs485kit.formulas import quartic_skin_effect_factor
    >>> round(quartic_skin_effect_factor(0.5e-3, 0.5e-3), 6)
    1.001302
    """
    diameter, depth = arguments("quartic_skin_effect_factor", *_wire(diameter, depth))
    refuse(
        "quartic_skin_effect_factor",
        "diameter",
        diameter > 2.0 * depth,
        diameter,
        "m",
        "at most twice the skin depth",
        cure="skin_effect_factor holds for any diameter",
    )
    return answer(1.0 + (0.5 * diameter / depth) ** 4 / 48.0)


def ring_skin_effect_factor(diameter: Numbers, depth: Numbers) -> FloatOrArray:
    """Factor by which the skin effect raises the resistance of a thick wire, by the picture of a ring.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductor [m]
    depth : float or array
        Skin depth in it, half the diameter or less [m]

    Returns
    -------
    float or array
        AC over DC resistance [-]

    Raises
    ------
    InputError
        If a value is not a positive number, or the radius is less than the skin depth.

    Notes
    -----
    x^2 / (2 x - 1), x = d / (2 delta): all current in a ring as thick as the skin depth. A picture, not a limit: 2 %
    low at x = 1, 5 % high at x = 2, within 0.6 % from x = 4 on.

    References
    ----------
    An archived mailing list of 2005. Figures: check round-wire-thin-shell.

    Examples
    --------
    >>> from rs485kit.formulas import ring_skin_effect_factor
    >>> round(ring_skin_effect_factor(0.8, 0.1), 4)
    2.2857
    """
    diameter, depth = arguments("ring_skin_effect_factor", *_wire(diameter, depth))
    refuse(
        "ring_skin_effect_factor",
        "diameter",
        diameter < 2.0 * depth,
        diameter,
        "m",
        "at least twice the skin depth",
        cure="skin_effect_factor holds for any diameter",
    )
    radius = 0.5 * diameter / depth
    return answer(radius**2 / (2.0 * radius - 1.0))


def internal_impedance(diameter: Numbers, frequency: Numbers, *, resistivity: Numbers = RESISTIVITY) -> ComplexOrArray:
    """Resistance and internal reactance of one round wire per length.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductor [m]
    frequency : float or array
        Frequency [Hz]
    resistivity : float or array
        Resistivity of the conductor; that of annealed copper at 20 degC unless given [ohm*m]

    Returns
    -------
    complex or array
        Internal impedance of one conductor, half of what a pair has [ohm/m]

    Raises
    ------
    InputError
        If the diameter is outside 1 um..1 m, the frequency outside 1 mHz..100 GHz, or the resistivity outside
        1e-9..1e-3 ohm m.

    Notes
    -----
    rho m / (2 pi a) * I0(m a) / I1(m a), m = sqrt(j w mu0 / rho), a = d / 2, for a wire that is not magnetic and far
    from any other. The inductance in it falls from 50 nH/m at DC, which is 100 nH/m in a pair.

    References
    ----------
    Modified Bessel functions. Figures: check awg24-pair-internal-impedance.

    Examples
    --------
    >>> from rs485kit.formulas import internal_impedance
    >>> one = internal_impedance(0.5106e-3, 1e6)
    >>> round(2e3 * one.real, 1), round(2e3 * one.imag, 1)
    (371.5, 320.3)
    """
    diameter, frequency, resistivity = arguments(
        "internal_impedance",
        within("diameter", diameter, "m", 1e-6, 1.0, cure="it is in metres: 0.5 mm is 0.5e-3"),
        door.frequency(frequency),
        _resistivity(resistivity),
    )
    depth = np.sqrt(resistivity / (np.pi * frequency * door.MAGNETIC_CONSTANT))
    direct = 4.0 * resistivity / (np.pi * diameter**2)
    return complex_answer(direct * internal_ratio(0.5 * diameter / depth))


def proximity_factor(diameter: Numbers, spacing: Numbers) -> FloatOrArray:
    """Factor by which the other wire of a pair raises its resistance at high frequency.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductors [m]
    spacing : float or array
        From the centre of one wire to that of the other [m]

    Returns
    -------
    float or array
        Resistance over that of two wires far apart [-]

    Raises
    ------
    InputError
        If a value is not a positive number, or the wires touch.

    Notes
    -----
    1 / sqrt(1 - (d / s)^2), while the skin depth is small against the diameter; at DC there is no such factor. In a
    measured 24 gauge pair it is seen growing to 1.25 at 1 MHz.

    References
    ----------
    An archived newsgroup thread on two-wire lines. Figures: checks proximity-factor-s1p2 and on,
    proximity-seen-in-pic-cable.

    Examples
    --------
    >>> from rs485kit.formulas import proximity_factor
    >>> round(proximity_factor(0.5e-3, 1.0e-3), 4)
    1.1547
    """
    diameter, spacing = arguments(
        "proximity_factor", positive("diameter", diameter, "m"), positive("spacing", spacing, "m")
    )
    refuse("proximity_factor", "spacing", spacing <= diameter, spacing, "m", "more than the diameter")
    share = diameter / spacing
    return answer(1.0 / np.sqrt((1.0 - share) * (1.0 + share)))


def _wire(diameter: Numbers, depth: Numbers) -> tuple[Argument, Argument]:
    return positive("diameter", diameter, "m"), positive("depth", depth, "m")


def _resistivity(value: Numbers) -> Argument:
    return within("resistivity", value, "ohm*m", 1e-9, 1e-3)
