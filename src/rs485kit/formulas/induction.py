"""What a current nearby induces in a loop, and what it drops along a straight lead."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, positive, refuse
from rs485kit.formulas._line_arguments import MAGNETIC_CONSTANT

LEAD_INDUCTANCE = 1e-6
"""Inductance of a lead per length, as rules for wiring surge arresters take it [H/m]."""


def rectangle_mutual_inductance(length: Numbers, near_distance: Numbers, far_distance: Numbers) -> FloatOrArray:
    """Mutual inductance of a long straight wire and a rectangular loop in one plane with it.

    Parameters
    ----------
    length : float or array
        Side of the loop along the wire [m]
    near_distance : float or array
        From the wire to the near side [m]
    far_distance : float or array
        From the wire to the far side [m]

    Returns
    -------
    float or array
        Mutual inductance [H]

    Raises
    ------
    InputError
        If a value is not positive or the far side is nearer than the near one.

    Notes
    -----
    M = mu0 l / (2 pi) ln(b / a), for a wire much longer than the loop. The loop of a bus is its pair together with
    whatever closes the circuit: the reference conductor in the same cable (a small area), or the earth (a large one).

    References
    ----------
    Field of a straight wire. Figures: checks loop-emf-rectangular-lightning, loop-emf-rectangular-50hz.

    Examples
    --------
    >>> from rs485kit.formulas import rectangle_mutual_inductance
    >>> round(rectangle_mutual_inductance(10.0, 1.0, 3.0) * 1e6, 5)
    2.19722
    """
    function = "rectangle_mutual_inductance"
    length, near_distance, far_distance = arguments(
        function,
        positive("length", length, "m"),
        positive("near_distance", near_distance, "m"),
        positive("far_distance", far_distance, "m"),
    )
    wanted = "no less than the distance of the near side"
    refuse(function, "far_distance", far_distance < near_distance, far_distance, "m", wanted)
    return answer(MAGNETIC_CONSTANT * length / (2.0 * np.pi) * np.log(far_distance / near_distance))


def small_loop_mutual_inductance(area: Numbers, distance: Numbers) -> FloatOrArray:
    """Mutual inductance of a long straight wire and a loop that is small against its distance.

    Parameters
    ----------
    area : float or array
        Area of the loop, of any shape, in one plane with the wire [m^2]
    distance : float or array
        From the wire to the middle of the loop, no less than the root of the area [m]

    Returns
    -------
    float or array
        Mutual inductance [H]

    Raises
    ------
    InputError
        If a value is not positive or the loop is not small.

    Notes
    -----
    M = mu0 A / (2 pi r), the field at the middle taken for all of the area: 9 % too low for a square whose side is its
    distance, 1 % at three times the distance.

    References
    ----------
    Field of a straight wire. Figure: check loop-emf-small-loop, with 251 V.

    Examples
    --------
    >>> from math import pi
    >>> from rs485kit.formulas import induced_voltage, small_loop_mutual_inductance
    >>> round(induced_voltage(small_loop_mutual_inductance(pi / 4.0, 50.0), 2e6 / 25e-6), 1)
    251.3
    """
    function = "small_loop_mutual_inductance"
    area, distance = arguments(function, positive("area", area, "m^2"), positive("distance", distance, "m"))
    wanted = "no less than the root of the area"
    refuse(function, "distance", distance < np.sqrt(area), distance, "m", wanted, cure="use the rectangle instead")
    return answer(MAGNETIC_CONSTANT * area / (2.0 * np.pi * distance))


def induced_voltage(mutual_inductance: Numbers, current_slope: Numbers) -> FloatOrArray:
    """Voltage that a changing current induces in a loop.

    Parameters
    ----------
    mutual_inductance : float or array
        Mutual inductance of wire and loop [H]
    current_slope : float or array
        Slope of the current in the wire [A/s]

    Returns
    -------
    float or array
        Magnitude of the voltage round the loop [V]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    M dI/dt. It stands wherever the loop is open, as across a barrier. Alone it tends to be high, since the loop's own
    inductance and resistance are left out; together with the rise of the earths it may be low.

    References
    ----------
    Induction. Figures: checks loop-emf-rectangular-lightning, loop-emf-small-loop.

    Examples
    --------
    >>> from rs485kit.formulas import induced_voltage, rectangle_mutual_inductance
    >>> round(induced_voltage(rectangle_mutual_inductance(10.0, 1.0, 3.0), 1e9), 1)
    2197.2
    """
    mutual_inductance, current_slope = arguments(
        "induced_voltage",
        not_negative("mutual_inductance", mutual_inductance, "H"),
        not_negative("current_slope", current_slope, "A/s"),
    )
    return answer(mutual_inductance * current_slope)


def induced_voltage_rms(mutual_inductance: Numbers, current_rms: Numbers, frequency: Numbers) -> FloatOrArray:
    """Voltage that a sine induces in a loop.

    Parameters
    ----------
    mutual_inductance : float or array
        Mutual inductance of wire and loop [H]
    current_rms : float or array
        Current in the wire, RMS [A]
    frequency : float or array
        Frequency [Hz]

    Returns
    -------
    float or array
        Voltage round the loop, RMS [V]

    Raises
    ------
    InputError
        If a value is negative or the frequency is outside 1 mHz..100 GHz.

    Notes
    -----
    2 pi f M I. A power cable that carries its return beside it induces far less than one whose current returns by
    another way.

    References
    ----------
    Induction. Figure: check loop-emf-rectangular-50hz.

    Examples
    --------
    >>> from rs485kit.formulas import induced_voltage_rms
    >>> round(induced_voltage_rms(2.19722e-6, 100.0, 50.0) * 1e3, 3)
    69.028
    """
    mutual_inductance, current_rms, frequency = arguments(
        "induced_voltage_rms",
        not_negative("mutual_inductance", mutual_inductance, "H"),
        not_negative("current_rms", current_rms, "A"),
        door.frequency(frequency),
    )
    return answer(2.0 * np.pi * frequency * mutual_inductance * current_rms)


def straight_wire_inductance(length: Numbers, diameter: Numbers) -> FloatOrArray:
    """Inductance of a straight lead at high frequency.

    Parameters
    ----------
    length : float or array
        Length of the lead, no less than five diameters [m]
    diameter : float or array
        Diameter of the conductor [m]

    Returns
    -------
    float or array
        Inductance [H]

    Raises
    ------
    InputError
        If a value is not positive or the lead is short and thick.

    Notes
    -----
    L = mu0 l / (2 pi) (ln(4 l / d) - 1), without the field inside the conductor, which at DC adds 0.05 uH/m. The series
    in d / l is cut: 5 % too low at five diameters, less than 1 % from 20 on. A lead of 0.6 m and 4 mm has 0.65 uH: the
    rule of 1 uH per metre is that.

    References
    ----------
    Rosa, *The self and mutual inductances of linear conductors*, Bulletin of the Bureau of Standards 4 (1908), from
    memory; tests integrate Neumann's formula.

    Examples
    --------
    >>> from rs485kit.formulas import straight_wire_inductance
    >>> round(straight_wire_inductance(0.6, 4e-3) * 1e6, 4)
    0.6476
    """
    function = "straight_wire_inductance"
    length, diameter = arguments(function, positive("length", length, "m"), positive("diameter", diameter, "m"))
    refuse(function, "length", length < 5.0 * diameter, length, "m", "no less than five diameters")
    return answer(MAGNETIC_CONSTANT * length / (2.0 * np.pi) * (np.log(4.0 * length / diameter) - 1.0))


def lead_voltage(
    length: Numbers, current_slope: Numbers, *, lead_inductance: Numbers = LEAD_INDUCTANCE
) -> FloatOrArray:
    """Voltage along a lead that a surge runs through.

    Parameters
    ----------
    length : float or array
        Length of the lead, both leads of an arrester together [m]
    current_slope : float or array
        Slope of the current [A/s]
    lead_inductance : float or array
        Inductance per length [H/m]

    Returns
    -------
    float or array
        Voltage that comes on top of the protector's own [V]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    L' l dI/dt, 1 kV per metre at 1 kA/us. An arrester of 1.5 kV on leads of 0.6 and 0.7 m lets 2.8 kV through.

    References
    ----------
    A maker's advice on surge protection, after DIN VDE 0100-534: check wire-inductance-drop.

    Examples
    --------
    >>> from rs485kit.formulas import lead_voltage
    >>> round(1.5e3 + lead_voltage(0.6 + 0.7, 1e9), 6)
    2800.0
    """
    length, current_slope, lead_inductance = arguments(
        "lead_voltage",
        not_negative("length", length, "m"),
        not_negative("current_slope", current_slope, "A/s"),
        not_negative("lead_inductance", lead_inductance, "H/m"),
    )
    return answer(lead_inductance * length * current_slope)
