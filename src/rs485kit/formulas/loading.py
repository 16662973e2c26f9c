"""A trunk that nodes load with their capacitance at even distances: as a smooth line, and exactly with its stop band.

All formulas take nodes that are alike and evenly spaced along the whole line. Bunched nodes reflect as a group.
"""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    refuse,
    within,
)
from rs485kit.formulas._numerics import loaded_angle


def loaded_impedance(
    characteristic_impedance: Numbers, velocity: Numbers, spacing: Numbers, capacitance: Numbers
) -> FloatOrArray:
    """Characteristic impedance of an evenly loaded trunk, which is also the terminator that fits it.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the bare line [ohm]
    velocity : float or array
        Velocity of a wave on the bare line [m/s]
    spacing : float or array
        From node to node [m]
    capacitance : float or array
        Capacitance of each node, its stub included [F]

    Returns
    -------
    float or array
        Characteristic impedance, far below the stop band [ohm]

    Raises
    ------
    InputError
        If a value is outside the range of lines and nodes.

    Notes
    -----
    Z0 / sqrt(1 + C Z0 v / d): the loads spread evenly over the capacitance 1 / (Z0 v) of the line.

    References
    ----------
    Transmission line theory. Figures: checks loaded-line-1 and on, loaded-line-62ohm.

    Examples
    --------
    >>> from rs485kit.formulas import loaded_impedance
    >>> round(loaded_impedance(120.0, 2e8, 1.0, 20e-12), 2)
    98.64
    """
    line, velocity, spacing, capacitance = arguments(
        "loaded_impedance", *_trunk(characteristic_impedance, velocity, spacing, capacitance)
    )
    return answer(line / np.sqrt(1.0 + capacitance * line * velocity / spacing))


def loaded_delay(
    characteristic_impedance: Numbers, velocity: Numbers, spacing: Numbers, capacitance: Numbers
) -> FloatOrArray:
    """Delay per metre of an evenly loaded trunk.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the bare line [ohm]
    velocity : float or array
        Velocity of a wave on the bare line [m/s]
    spacing : float or array
        From node to node [m]
    capacitance : float or array
        Capacitance of each node, its stub included [F]

    Returns
    -------
    float or array
        Delay per length, far below the stop band [s/m]

    Raises
    ------
    InputError
        If a value is outside the range of lines and nodes.

    Notes
    -----
    sqrt(1 + C Z0 v / d) / v.

    References
    ----------
    Transmission line theory. Figures: checks loaded-line-1 and on.

    Examples
    --------
    >>> from rs485kit.formulas import loaded_delay
    >>> round(loaded_delay(120.0, 2e8, 1.0, 20e-12) * 1e9, 3)
    6.083
    """
    line, velocity, spacing, capacitance = arguments(
        "loaded_delay", *_trunk(characteristic_impedance, velocity, spacing, capacitance)
    )
    return answer(np.sqrt(1.0 + capacitance * line * velocity / spacing) / velocity)


def least_load_spacing(
    capacitance: Numbers, shunt_capacitance: Numbers, *, impedance_share: Numbers = 0.4
) -> FloatOrArray:
    """Least distance between nodes that keeps a share of the bare line's impedance.

    Parameters
    ----------
    capacitance : float or array
        Capacitance of each node, its stub included [F]
    shunt_capacitance : float or array
        Capacitance of the bare line per length [F/m]
    impedance_share : float or array
        Loaded over bare impedance, above 0 and below 1 [-]

    Returns
    -------
    float or array
        From node to node [m]

    Raises
    ------
    InputError
        If a value is outside the range of lines and nodes, or the share outside 0.001..0.999.

    Notes
    -----
    d = C / (C' (1 / s^2 - 1)): C / (5.25 C') for s = 0.4. That makers print the factor of 5.25 is recalled.

    References
    ----------
    Algebra of `loaded_impedance`. Figures: check loading-spacing-rule, which is marked memory.

    Examples
    --------
    >>> from rs485kit.formulas import least_load_spacing
    >>> round(least_load_spacing(50e-12, 41.667e-12), 4)
    0.2286
    """
    capacitance, shunt_capacitance, impedance_share = arguments(
        "least_load_spacing",
        door.node_capacitance(capacitance),
        door.shunt_capacitance(shunt_capacitance),
        within("impedance_share", impedance_share, "-", 0.001, 0.999),
    )
    return answer(capacitance / (shunt_capacitance * (1.0 / impedance_share**2 - 1.0)))


def stop_band_edge(
    characteristic_impedance: Numbers, velocity: Numbers, spacing: Numbers, capacitance: Numbers
) -> FloatOrArray:
    """Frequency at which an evenly loaded trunk stops to carry waves.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the bare line [ohm]
    velocity : float or array
        Velocity of a wave on the bare line [m/s]
    spacing : float or array
        From node to node [m]
    capacitance : float or array
        Capacitance of each node, its stub included [F]

    Returns
    -------
    float or array
        Lower edge of the first stop band [Hz]

    Raises
    ------
    InputError
        If a value is outside the range of lines and nodes.

    Notes
    -----
    The lowest f with tan(pi f d / v) = 1 / (pi f C Z0): half a wave, its loads counted in, from node to node.

    References
    ----------
    Theory of periodic two-ports. Figures: check loaded-line-cutoff.

    Examples
    --------
    >>> from rs485kit.formulas import stop_band_edge
    >>> round(stop_band_edge(120.0, 2e8, 10.0, 50e-12) / 1e6, 3)
    8.937
    """
    given = arguments("stop_band_edge", *_trunk(characteristic_impedance, velocity, spacing, capacitance))
    return answer(_edge(*given))


def periodic_impedance(
    frequency: Numbers, characteristic_impedance: Numbers, velocity: Numbers, spacing: Numbers, capacitance: Numbers
) -> FloatOrArray:
    """Characteristic impedance of an evenly loaded trunk midway between two nodes, exact.

    Parameters
    ----------
    frequency : float or array
        Frequency, below the stop band [Hz]
    characteristic_impedance : float or array
        Characteristic impedance of the bare line [ohm]
    velocity : float or array
        Velocity of a wave on the bare line [m/s]
    spacing : float or array
        From node to node [m]
    capacitance : float or array
        Capacitance of each node, its stub included [F]

    Returns
    -------
    float or array
        Characteristic impedance; it falls to 0 at the edge of the stop band [ohm]

    Raises
    ------
    InputError
        If a value is outside the range of lines and nodes, or the frequency is not below the first stop band.

    Notes
    -----
    Z0 sqrt(tan(b/2) (2 - y tan(b/2)) / (2 tan(b/2) + y)), b = 2 pi f d / v, y = 2 pi f C Z0, for a line without
    loss: half a section, the node, half a section.

    References
    ----------
    Theory of periodic two-ports. Figures: check loaded-line-exact.

    Examples
    --------
    >>> from rs485kit.formulas import periodic_impedance
    >>> round(periodic_impedance(30e6, 120.0, 2e8, 1.0, 20e-12), 2)
    93.93
    """
    frequency, line, velocity, spacing, capacitance = arguments(
        "periodic_impedance",
        door.frequency(frequency),
        *_trunk(characteristic_impedance, velocity, spacing, capacitance),
    )
    _refuse_stop_band("periodic_impedance", frequency, line, velocity, spacing, capacitance)
    tangent = np.tan(np.pi * frequency * spacing / velocity)
    node = 2.0 * np.pi * frequency * capacitance * line
    return answer(line * np.sqrt(tangent * (2.0 - node * tangent) / (2.0 * tangent + node)))


def periodic_delay(
    frequency: Numbers, characteristic_impedance: Numbers, velocity: Numbers, spacing: Numbers, capacitance: Numbers
) -> FloatOrArray:
    """Delay of a sine per metre of an evenly loaded trunk, exact.

    Parameters
    ----------
    frequency : float or array
        Frequency, below the stop band [Hz]
    characteristic_impedance : float or array
        Characteristic impedance of the bare line [ohm]
    velocity : float or array
        Velocity of a wave on the bare line [m/s]
    spacing : float or array
        From node to node [m]
    capacitance : float or array
        Capacitance of each node, its stub included [F]

    Returns
    -------
    float or array
        Delay of the phase per length [s/m]

    Raises
    ------
    InputError
        If a value is outside the range of lines and nodes, or the frequency is not below the first stop band.

    Notes
    -----
    theta / (2 pi f d), cos(theta) = cos(b) - y/2 sin(b), b = 2 pi f d / v, y = 2 pi f C Z0, for a line without loss.

    References
    ----------
    Theory of periodic two-ports. Figures: check loaded-line-exact.

    Examples
    --------
    >>> from rs485kit.formulas import periodic_delay
    >>> round(periodic_delay(30e6, 120.0, 2e8, 1.0, 20e-12) * 1e9, 4)
    6.1224
    """
    frequency, line, velocity, spacing, capacitance = arguments(
        "periodic_delay",
        door.frequency(frequency),
        *_trunk(characteristic_impedance, velocity, spacing, capacitance),
    )
    _refuse_stop_band("periodic_delay", frequency, line, velocity, spacing, capacitance)
    half = np.pi * frequency * spacing / velocity
    node = 2.0 * np.pi * frequency * capacitance * line
    # sin^2(theta / 2), which keeps its digits where cos(theta) is nearly 1
    square = np.sin(half) * (np.sin(half) + 0.5 * node * np.cos(half))
    angle = 2.0 * np.arcsin(np.sqrt(np.minimum(square, 1.0)))
    return answer(angle / (2.0 * np.pi * frequency * spacing))


def _trunk(
    characteristic_impedance: Numbers, velocity: Numbers, spacing: Numbers, capacitance: Numbers
) -> tuple[Argument, ...]:
    return (
        door.impedance("characteristic_impedance", characteristic_impedance),
        door.velocity(velocity),
        door.span("spacing", spacing),
        door.node_capacitance(capacitance),
    )


def _edge(line: Array, velocity: Array, spacing: Array, capacitance: Array) -> Array:
    return loaded_angle(spacing / (velocity * line), capacitance) * velocity / (np.pi * spacing)


def _refuse_stop_band(
    function: str, frequency: Array, line: Array, velocity: Array, spacing: Array, capacitance: Array
) -> None:
    edge = _edge(line, velocity, spacing, capacitance)
    refuse(
        function,
        "frequency",
        frequency > edge * (1.0 - 1e-9),
        frequency,
        "Hz",
        "a frequency below the first stop band",
        cure="stop_band_edge says where it begins",
    )
