"""Reflections where a line ends, branches, changes or carries a capacitor."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    Argument,
    ComplexNumbers,
    ComplexOrArray,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    complex_answer,
    complex_arguments,
    passive,
    positive,
    refuse,
    whole,
    within,
)


def complex_reflection_coefficient(
    impedance: ComplexNumbers, characteristic_impedance: ComplexNumbers
) -> ComplexOrArray:
    """Share of a sine that an impedance at the end of a lossy line sends back.

    Parameters
    ----------
    impedance : complex or array
        Impedance that ends the line [ohm]
    characteristic_impedance : complex or array
        Characteristic impedance of the line at that frequency [ohm]

    Returns
    -------
    complex or array
        Reflected over incident voltage; its size may pass 1 on a lossy line [-]

    Raises
    ------
    InputError
        If an impedance has a negative real part or no magnitude, or the two are opposite reactances.

    Notes
    -----
    (Z - Z0) / (Z + Z0). For real impedances it is `reflection_coefficient`.

    References
    ----------
    Transmission line theory. Figures: check termination-mismatch-against-frequency.

    Examples
    --------
    >>> from rs485kit.formulas import complex_reflection_coefficient
    >>> round(abs(complex_reflection_coefficient(120.0, 521.45 - 509.82j)), 3)
    0.792
    """
    impedance, characteristic_impedance = complex_arguments(
        "complex_reflection_coefficient",
        passive("impedance", impedance, "ohm"),
        door.lossy_impedance(characteristic_impedance),
    )
    total = impedance + characteristic_impedance
    refuse(
        "complex_reflection_coefficient",
        "impedance",
        np.abs(total) < 1e-9 * np.abs(impedance),
        impedance,
        "ohm",
        "not the opposite of the characteristic impedance",
        cure="the impedance of a line with loss has a real part",
    )
    return complex_answer((impedance - characteristic_impedance) / total)


def junction_reflection_coefficient(lines: Numbers) -> FloatOrArray:
    """Share of a wave that a junction of equal lines sends back.

    Parameters
    ----------
    lines : float or array
        Lines that meet, the one along which the wave comes included: 3 at a tap, n at the hub of a star [-]

    Returns
    -------
    float or array
        Reflected over incident voltage, 0 to -1 [-]

    Raises
    ------
    InputError
        If the lines are not a whole number from 2 to 10000.

    Notes
    -----
    -(n - 2) / n: the other n - 1 lines are in parallel. For a branch of another impedance see
    `midline_reflection_coefficient`.

    References
    ----------
    Transmission line theory. Figure: check tee-equal-lines.

    Examples
    --------
    >>> from rs485kit.formulas import junction_reflection_coefficient
    >>> round(junction_reflection_coefficient(3), 4)
    -0.3333
    """
    (lines,) = arguments("junction_reflection_coefficient", _lines(lines))
    return answer((2.0 - lines) / lines)


def junction_transmission_coefficient(lines: Numbers) -> FloatOrArray:
    """Share of a wave that goes on into each other line of a junction of equal lines.

    Parameters
    ----------
    lines : float or array
        Lines that meet, the one along which the wave comes included: 3 at a tap, n at the hub of a star [-]

    Returns
    -------
    float or array
        Voltage that goes on over incident voltage, 1 to 0 [-]

    Raises
    ------
    InputError
        If the lines are not a whole number from 2 to 10000.

    Notes
    -----
    2 / n, which is 1 plus the reflection coefficient.

    References
    ----------
    Transmission line theory. Figure: check tee-equal-lines.

    Examples
    --------
    >>> from rs485kit.formulas import junction_transmission_coefficient
    >>> junction_transmission_coefficient(8)
    0.25
    """
    (lines,) = arguments("junction_transmission_coefficient", _lines(lines))
    return answer(2.0 / lines)


def second_echo(first_impedance: Numbers, second_impedance: Numbers, load_resistance: Numbers) -> FloatOrArray:
    """Echo of the end of a line that is seen through the joint of two cables.

    Parameters
    ----------
    first_impedance : float or array
        Characteristic impedance of the near cable, from which the step comes [ohm]
    second_impedance : float or array
        Characteristic impedance of the far cable [ohm]
    load_resistance : float or array
        Resistance at the far end [ohm]

    Returns
    -------
    float or array
        Second echo over the incident step, back in the near cable [-]

    Raises
    ------
    InputError
        If an impedance is outside 0.1..1e5 ohm or the load is not a positive number.

    Notes
    -----
    r2 (1 - r1^2), r1 at the joint and r2 at the end: through the joint there and back. The first echo is r1 itself,
    from `reflection_coefficient`.

    References
    ----------
    Manual of the HP 54753A, page 9-15. Figure: check two-mismatches-tdr.

    Examples
    --------
    >>> from rs485kit.formulas import second_echo
    >>> round(second_echo(50.0, 75.0, 150.0), 6)
    0.32
    """
    first_impedance, second_impedance, load_resistance = arguments(
        "second_echo",
        door.impedance("first_impedance", first_impedance),
        door.impedance("second_impedance", second_impedance),
        positive("load_resistance", load_resistance, "ohm"),
    )
    joint = (second_impedance - first_impedance) / (second_impedance + first_impedance)
    end = (load_resistance - second_impedance) / (load_resistance + second_impedance)
    return answer(end * (1.0 - joint**2))


def shunt_capacitor_time(characteristic_impedance: Numbers, capacitance: Numbers) -> FloatOrArray:
    """Time constant of a capacitor across the middle of a line.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line on both sides [ohm]
    capacitance : float or array
        Capacitance across the pair [F]

    Returns
    -------
    float or array
        Time constant [s]

    Raises
    ------
    InputError
        If the impedance is outside 0.1..1e5 ohm or the capacitance outside 1e-18..1e-6 F.

    Notes
    -----
    tau = Z0 C / 2: the capacitor sees the line to both sides.

    References
    ----------
    Transmission line theory. Figure: check shunt-capacitor-on-line.

    Examples
    --------
    >>> from rs485kit.formulas import shunt_capacitor_time
    >>> round(shunt_capacitor_time(120.0, 10e-12) * 1e9, 6)
    0.6
    """
    characteristic_impedance, capacitance = arguments(
        "shunt_capacitor_time", *_capacitor(characteristic_impedance, capacitance)
    )
    return answer(0.5 * characteristic_impedance * capacitance)


def shunt_capacitor_reflection(
    characteristic_impedance: Numbers, capacitance: Numbers, rise_time: Numbers
) -> FloatOrArray:
    """Peak of what a capacitor across the middle of a line sends back of a ramp.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line on both sides [ohm]
    capacitance : float or array
        Capacitance across the pair: a node, or a short stub [F]
    rise_time : float or array
        Duration of the ramp from 0 to 100 % [s]

    Returns
    -------
    float or array
        Peak of the echo over the step, 0 to -1 [-]

    Raises
    ------
    InputError
        If the impedance is outside 0.1..1e5 ohm, the capacitance outside 1e-18..1e-6 F, or the rise is not positive.

    Notes
    -----
    -(tau / t) (1 - exp(-t / tau)), tau = Z0 C / 2. For slow edges -tau / t: 50 pF send back 3 % of a ramp of 100 ns
    on 120 ohm.

    References
    ----------
    Transmission line theory. Figures: checks shunt-capacitor-on-line, shunt-capacitor-on-line-large.

    Examples
    --------
    >>> from rs485kit.formulas import shunt_capacitor_reflection
    >>> round(shunt_capacitor_reflection(120.0, 50e-12, 5e-9), 4)
    -0.4867
    """
    characteristic_impedance, capacitance, rise_time = arguments(
        "shunt_capacitor_reflection",
        *_capacitor(characteristic_impedance, capacitance),
        positive("rise_time", rise_time, "s"),
    )
    constants = rise_time / (0.5 * characteristic_impedance * capacitance)
    return answer(np.expm1(-constants) / constants)


def _lines(value: Numbers) -> Argument:
    return whole("lines", value, 2, 10_000)


def _capacitor(characteristic_impedance: Numbers, capacitance: Numbers) -> tuple[Argument, Argument]:
    return (
        door.impedance("characteristic_impedance", characteristic_impedance),
        within("capacitance", capacitance, "F", 1e-18, 1e-6, cure="it is in farad: 20 pF is 20e-12"),
    )
