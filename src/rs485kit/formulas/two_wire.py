"""Two round wires side by side: inductance, capacitance and impedance from the geometry."""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    positive,
    refuse,
    within,
)
from rs485kit.formulas._line_arguments import MAGNETIC_CONSTANT, SPEED_OF_LIGHT

_ELECTRIC_CONSTANT = 1.0 / (MAGNETIC_CONSTANT * SPEED_OF_LIGHT**2)


def two_wire_inductance(diameter: Numbers, spacing: Numbers) -> FloatOrArray:
    """External inductance of two parallel round wires, exact.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductors [m]
    spacing : float or array
        From the centre of one wire to that of the other [m]

    Returns
    -------
    float or array
        Inductance of the pair without that inside the wires [H/m]

    Raises
    ------
    InputError
        If a value is not a positive number, or the wires touch.

    Notes
    -----
    L = mu0 / pi * acosh(s / d).

    References
    ----------
    Field theory. Figures: checks two-wire-exact, two-wire-exact-computed.

    Examples
    --------
    >>> from rs485kit.formulas import two_wire_inductance
    >>> round(two_wire_inductance(0.8128e-3, 1.27e-3) * 1e9, 2)
    406.54
    """
    diameter, spacing, _ = _apart("two_wire_inductance", diameter, spacing)
    return answer(MAGNETIC_CONSTANT / np.pi * _arccosh(diameter, spacing))


def two_wire_capacitance(diameter: Numbers, spacing: Numbers, *, permittivity: Numbers = 1.0) -> FloatOrArray:
    """Capacitance between two parallel round wires, exact.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductors [m]
    spacing : float or array
        From the centre of one wire to that of the other [m]
    permittivity : float or array
        Relative permittivity of what fills the space around them [-]

    Returns
    -------
    float or array
        Capacitance of the pair [F/m]

    Raises
    ------
    InputError
        If a value is not a positive number, the wires touch, or the permittivity is outside 1..100.

    Notes
    -----
    C = pi eps0 er / acosh(s / d). The wires of a pair lie close: at s / d = 1.6 the common ln(2 s / d) is 11 % low.

    References
    ----------
    Field theory. Figures: checks two-wire-exact, two-wire-exact-computed.

    Examples
    --------
    >>> from rs485kit.formulas import two_wire_capacitance
    >>> round(two_wire_capacitance(0.8128e-3, 1.27e-3) * 1e12, 3)
    27.369
    """
    diameter, spacing, permittivity = _apart("two_wire_capacitance", diameter, spacing, permittivity)
    return answer(np.pi * _ELECTRIC_CONSTANT * permittivity / _arccosh(diameter, spacing))


def two_wire_impedance(diameter: Numbers, spacing: Numbers, *, permittivity: Numbers = 1.0) -> FloatOrArray:
    """Characteristic impedance of two parallel round wires without loss.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductors [m]
    spacing : float or array
        From the centre of one wire to that of the other [m]
    permittivity : float or array
        Relative permittivity that the wave meets, see `untwisted_permittivity` [-]

    Returns
    -------
    float or array
        Characteristic impedance at high frequency [ohm]

    Raises
    ------
    InputError
        If a value is not a positive number, the wires touch, or the permittivity is outside 1..100.

    Notes
    -----
    Z0 = mu0 c / (pi sqrt(er)) * acosh(s / d).

    References
    ----------
    Field theory. Figures: checks two-wire-exact, twisted-pair-untwisted-eps.

    Examples
    --------
    >>> from rs485kit.formulas import two_wire_impedance
    >>> round(two_wire_impedance(0.511e-3, 0.9e-3, permittivity=1.315), 1)
    122.0
    """
    diameter, spacing, permittivity = _apart("two_wire_impedance", diameter, spacing, permittivity)
    return answer(MAGNETIC_CONSTANT * SPEED_OF_LIGHT / np.pi * _arccosh(diameter, spacing) / np.sqrt(permittivity))


def wide_two_wire_inductance(diameter: Numbers, spacing: Numbers) -> FloatOrArray:
    """External inductance of two round wires that lie far apart.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductors [m]
    spacing : float or array
        From the centre of one wire to that of the other [m]

    Returns
    -------
    float or array
        Inductance of the pair without that inside the wires [H/m]

    Raises
    ------
    InputError
        If a value is not a positive number, or the wires touch.

    Notes
    -----
    L = mu0 / pi * ln(2 s / d). Made for open wires: 12 % high at s / d = 1.6, where the wires of a twisted pair lie.

    References
    ----------
    Field theory. Figure: check two-wire-approx.

    Examples
    --------
    >>> from rs485kit.formulas import wide_two_wire_inductance
    >>> round(wide_two_wire_inductance(0.8128e-3, 1.27e-3) * 1e9, 1)
    455.8
    """
    diameter, spacing, _ = _apart("wide_two_wire_inductance", diameter, spacing)
    return answer(MAGNETIC_CONSTANT / np.pi * np.log(2.0 * spacing / diameter))


def wide_two_wire_capacitance(diameter: Numbers, spacing: Numbers, *, permittivity: Numbers = 1.0) -> FloatOrArray:
    """Capacitance between two round wires that lie far apart.

    Parameters
    ----------
    diameter : float or array
        Diameter of the bare conductors [m]
    spacing : float or array
        From the centre of one wire to that of the other [m]
    permittivity : float or array
        Relative permittivity of what fills the space around them [-]

    Returns
    -------
    float or array
        Capacitance of the pair [F/m]

    Raises
    ------
    InputError
        If a value is not a positive number, the wires touch, or the permittivity is outside 1..100.

    Notes
    -----
    C = pi eps0 er / ln(2 s / d). Made for open wires: 11 % low at s / d = 1.6, where the wires of a twisted pair lie.

    References
    ----------
    Field theory. Figure: check two-wire-approx.

    Examples
    --------
    >>> from rs485kit.formulas import wide_two_wire_capacitance
    >>> round(wide_two_wire_capacitance(0.8128e-3, 1.27e-3) * 1e12, 2)
    24.41
    """
    diameter, spacing, permittivity = _apart("wide_two_wire_capacitance", diameter, spacing, permittivity)
    return answer(np.pi * _ELECTRIC_CONSTANT * permittivity / np.log(2.0 * spacing / diameter))


def untwisted_permittivity(permittivity: Numbers, *, weight: Numbers = 0.25) -> FloatOrArray:
    """Permittivity that a wave meets on two insulated wires in air.

    Parameters
    ----------
    permittivity : float or array
        Relative permittivity of the insulation [-]
    weight : float or array
        Share of the insulation in the field, 0 to 1 [-]

    Returns
    -------
    float or array
        Effective relative permittivity [-]

    Raises
    ------
    InputError
        If the permittivity is outside 1..100 or the weight outside 0..1.

    Notes
    -----
    1 + w (er - 1), w = 0.25 for two wires that touch by their insulation and are not twisted. With twist the weight
    grows; the fit that programs carry for it takes an angle whose unit they disagree on, so it is not offered.

    References
    ----------
    Source text of two open circuit programs. Figure: check twisted-pair-untwisted-eps.

    Examples
    --------
    >>> from rs485kit.formulas import untwisted_permittivity
    >>> round(untwisted_permittivity(2.26), 3)
    1.315
    """
    permittivity, weight = arguments(
        "untwisted_permittivity", _permittivity(permittivity), within("weight", weight, "-", 0.0, 1.0)
    )
    return answer(1.0 + weight * (permittivity - 1.0))


def _apart(function: str, diameter: Numbers, spacing: Numbers, permittivity: Numbers = 1.0) -> list[Array]:
    diameter, spacing, permittivity = arguments(
        function,
        positive("diameter", diameter, "m"),
        positive("spacing", spacing, "m"),
        _permittivity(permittivity),
    )
    refuse(function, "spacing", spacing <= diameter, spacing, "m", "more than the diameter")
    return [diameter, spacing, permittivity]


def _arccosh(diameter: Array, spacing: Array) -> Array:
    # acosh(1 + e) by log1p, so that wires that nearly touch keep their digits
    beyond = (spacing - diameter) / diameter
    return np.asarray(np.log1p(beyond + np.sqrt(beyond * (beyond + 2.0))))


def _permittivity(value: Numbers) -> Argument:
    return within("permittivity", value, "-", 1.0, 100.0)
