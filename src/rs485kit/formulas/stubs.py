"""Stubs: the rules of thumb for their length, each under its own name, and what a stub does by theory.

The rules disagree by up to a factor of 5 for the same edge. Whoever quotes one says which.
"""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, within
from rs485kit.formulas._numerics import loaded_angle


def critical_length(rise_time: Numbers, velocity: Numbers) -> FloatOrArray:
    """Length over which the round trip takes as long as the edge.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver [s]
    velocity : float or array
        Velocity of a wave on the line [m/s]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If the rise time is not positive, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    l = t v / 2.

    References
    ----------
    Glossary of the ECSS (European space standards), propagation time. Figure: check stub-third-of-critical.

    Examples
    --------
    >>> from rs485kit.formulas import critical_length
    >>> round(critical_length(50e-9, 2e8), 6)
    5.0
    """
    rise_time, velocity = arguments("critical_length", *door.edge(rise_time, velocity))
    return answer(0.5 * rise_time * velocity)


def stub_length_by_third_of_critical(rise_time: Numbers, velocity: Numbers) -> FloatOrArray:
    """Longest stub by the rule of a third of the critical length.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver [s]
    velocity : float or array
        Velocity of a wave on the stub [m/s]

    Returns
    -------
    float or array
        Length of the stub [m]

    Raises
    ------
    InputError
        If the rise time is not positive, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    l = t v / 6: the round trip takes a third of the edge. A rule of thumb.

    References
    ----------
    Glossary of the ECSS, which cites CANopen. Figures: checks stub-third-of-critical, stub-length-rules.

    Examples
    --------
    >>> from rs485kit.formulas import stub_length_by_third_of_critical
    >>> round(stub_length_by_third_of_critical(50e-9, 2e8), 4)
    1.6667
    """
    rise_time, velocity = arguments("stub_length_by_third_of_critical", *door.edge(rise_time, velocity))
    return answer(rise_time * velocity / 6.0)


def stub_length_by_one_way_tenth(rise_time: Numbers, velocity: Numbers) -> FloatOrArray:
    """Longest stub by the rule of a tenth of the edge for the way out.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver, 10 to 90 % [s]
    velocity : float or array
        Velocity of a wave on the stub [m/s]

    Returns
    -------
    float or array
        Length of the stub [m]

    Raises
    ------
    InputError
        If the rise time is not positive, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    l = 0.1 t v: the one-way delay takes a tenth of the edge. A rule of thumb; its formula is recalled, and a printed
    length of about 5 m for 210 ns agrees with it.

    References
    ----------
    Texas Instruments E2E thread 889880. Figures: checks stub-tenth-210ns, stub-length-rules, stub-tenth-100ns and on.

    Examples
    --------
    >>> from rs485kit.formulas import propagation_velocity, stub_length_by_one_way_tenth
    >>> round(stub_length_by_one_way_tenth(210e-9, propagation_velocity(0.78)), 3)
    4.911
    """
    rise_time, velocity = arguments("stub_length_by_one_way_tenth", *door.edge(rise_time, velocity))
    return answer(0.1 * rise_time * velocity)


def stub_length_by_round_trip_tenth(rise_time: Numbers, velocity: Numbers) -> FloatOrArray:
    """Longest stub by the rule of a tenth of the edge for the way there and back.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver, 10 to 90 % [s]
    velocity : float or array
        Velocity of a wave on the stub [m/s]

    Returns
    -------
    float or array
        Length of the stub [m]

    Raises
    ------
    InputError
        If the rise time is not positive, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    l = 0.05 t v: half of `stub_length_by_one_way_tenth`. The same maker prints both, this one in prose. The strictest
    of the rules.

    References
    ----------
    Stub clause of Texas Instruments SLLSF20 and SLLSF21. Figures: check stub-length-rules.

    Examples
    --------
    >>> from rs485kit.formulas import stub_length_by_round_trip_tenth
    >>> round(stub_length_by_round_trip_tenth(100e-9, 2e8), 6)
    1.0
    """
    rise_time, velocity = arguments("stub_length_by_round_trip_tenth", *door.edge(rise_time, velocity))
    return answer(0.05 * rise_time * velocity)


def stub_length_by_one_way_quarter(rise_time: Numbers, velocity: Numbers) -> FloatOrArray:
    """Longest stub by the rule of a quarter of the edge for the way out.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver [s]
    velocity : float or array
        Velocity of a wave on the stub [m/s]

    Returns
    -------
    float or array
        Length of the stub [m]

    Raises
    ------
    InputError
        If the rise time is not positive, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    l = t v / 4: the round trip takes half of the edge. The loosest of the rules, the far end of a range from a
    quarter to a tenth.

    References
    ----------
    Intersil tutorial on high-speed RS-485, slide 7. Figures: check stub-length-rules.

    Examples
    --------
    >>> from rs485kit.formulas import stub_length_by_one_way_quarter
    >>> round(stub_length_by_one_way_quarter(100e-9, 2e8), 6)
    5.0
    """
    rise_time, velocity = arguments("stub_length_by_one_way_quarter", *door.edge(rise_time, velocity))
    return answer(0.25 * rise_time * velocity)


def long_line_length(rise_time: Numbers, velocity: Numbers, *, delay_share: Numbers = 0.5) -> FloatOrArray:
    """Length from which a cable counts as a line that has to be terminated.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver [s]
    velocity : float or array
        Velocity of a wave on the line [m/s]
    delay_share : float or array
        One-way delay over the edge at which it counts as long, up to 1 [-]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If the rise time is not positive, the velocity is outside a tenth of that of light to that of light, or the
        share is outside 1e-6..1.

    Notes
    -----
    l = s t v. Sources take a half, a quarter, a sixth or an eighth; the default of a half is the guideline's.

    References
    ----------
    TSB-89-A, as quoted in a book on serial ports. Figures: check long-line-criteria.

    Examples
    --------
    >>> from rs485kit.formulas import long_line_length
    >>> round(long_line_length(100e-9, 2e8), 6)
    10.0
    """
    rise_time, velocity, delay_share = arguments(
        "long_line_length", *door.edge(rise_time, velocity), within("delay_share", delay_share, "-", 1e-6, 1.0)
    )
    return answer(delay_share * rise_time * velocity)


def stub_notch_frequency(
    length: Numbers, velocity: Numbers, characteristic_impedance: Numbers, *, capacitance: Numbers = 0.0
) -> FloatOrArray:
    """Lowest frequency at which a stub shorts the trunk.

    Parameters
    ----------
    length : float or array
        Length of the stub [m]
    velocity : float or array
        Velocity of a wave on it [m/s]
    characteristic_impedance : float or array
        Characteristic impedance of the stub [ohm]
    capacitance : float or array
        Capacitance of the node at its end [F]

    Returns
    -------
    float or array
        Frequency [Hz]

    Raises
    ------
    InputError
        If the length is outside 1 mm..1000 km, the velocity outside a tenth of that of light to that of light, the
        impedance outside 0.1..1e5 ohm, or the capacitance outside 0..1 uF.

    Notes
    -----
    The lowest f with tan(2 pi f l / v) = 1 / (2 pi f C Z0), which is a quarter wave, v / (4 l), without a capacitor.
    The node pulls it down: 50 pF on 5 m by a fifth.

    References
    ----------
    Transmission line theory. Figures: check stub-resonance.

    Examples
    --------
    >>> from rs485kit.formulas import stub_notch_frequency
    >>> round(stub_notch_frequency(5.0, 2e8, 120.0, capacitance=50e-12) / 1e6, 3)
    8.111
    """
    length, velocity, characteristic_impedance, capacitance = arguments(
        "stub_notch_frequency",
        door.span("length", length),
        door.velocity(velocity),
        door.impedance("characteristic_impedance", characteristic_impedance),
        door.node_capacitance(capacitance),
    )
    own = length / (velocity * characteristic_impedance)
    angle = loaded_angle(own, capacitance)
    return answer(angle * velocity / (2.0 * np.pi * length))


def stub_capacitance(length: Numbers, shunt_capacitance: Numbers, *, capacitance: Numbers = 0.0) -> FloatOrArray:
    """Capacitance that a short stub puts on the trunk.

    Parameters
    ----------
    length : float or array
        Length of the stub [m]
    shunt_capacitance : float or array
        Capacitance of the pair per length [F/m]
    capacitance : float or array
        Capacitance of the node at its end [F]

    Returns
    -------
    float or array
        Capacitance of both [F]

    Raises
    ------
    InputError
        If a value is outside the range of lines.

    Notes
    -----
    C' l + C, well below the notch of `stub_notch_frequency`.

    References
    ----------
    Transmission line theory. Figure: check stub-as-capacitor.

    Examples
    --------
    >>> from rs485kit.formulas import stub_capacitance
    >>> round(stub_capacitance(0.3, 41.667e-12, capacitance=10e-12) * 1e12, 1)
    22.5
    """
    length, shunt_capacitance, capacitance = arguments(
        "stub_capacitance",
        within("length", length, "m", 0.0, 1e6),
        door.shunt_capacitance(shunt_capacitance),
        door.node_capacitance(capacitance),
    )
    return answer(shunt_capacitance * length + capacitance)
