"""Terminators of a resistor and a capacitor in series: time constant, least capacitor, heat."""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    positive,
)


def time_constant(resistance: Numbers, capacitance: Numbers) -> FloatOrArray:
    """Time constant of a resistor and a capacitor in series.

    Parameters
    ----------
    resistance : float or array
        The resistor of the terminator [ohm]
    capacitance : float or array
        The capacitor of the terminator [F]

    Returns
    -------
    float or array
        Time constant [s]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    tau = R C.

    References
    ----------
    Check termination-ac-modbus-time.

    Examples
    --------
    >>> from rs485kit.formulas import time_constant
    >>> round(time_constant(120.0, 1e-9) * 1e9, 6)
    120.0
    """
    resistance, capacitance = arguments("time_constant", *_series(resistance, capacitance))
    return answer(resistance * capacitance)


def corner_frequency(resistance: Numbers, capacitance: Numbers) -> FloatOrArray:
    """Frequency above which a series RC terminator works as its resistor.

    Parameters
    ----------
    resistance : float or array
        The resistor of the terminator [ohm]
    capacitance : float or array
        The capacitor of the terminator [F]

    Returns
    -------
    float or array
        Frequency at which the two have equal impedance [Hz]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    f = 1 / (2 pi R C).

    References
    ----------
    Check termination-ac-modbus-time.

    Examples
    --------
    >>> from rs485kit.formulas import corner_frequency
    >>> round(corner_frequency(120.0, 1e-9) / 1e3, 2)
    1326.29
    """
    resistance, capacitance = arguments("corner_frequency", *_series(resistance, capacitance))
    return answer(1.0 / (2.0 * np.pi * resistance * capacitance))


def least_capacitance(resistance: Numbers, delay: Numbers, *, delays: Numbers = 4.0) -> FloatOrArray:
    """Least capacitor of a series RC terminator by the rule of several line delays.

    Parameters
    ----------
    resistance : float or array
        The resistor of the terminator [ohm]
    delay : float or array
        One-way delay of the line [s]
    delays : float or array
        How many one-way delays the time constant has to outlast [-]

    Returns
    -------
    float or array
        Least capacitance [F]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    C = n t / R. A rule of thumb from backplanes, n = 4. Over 100 m it asks for 16.7 nF: the 1 nF that a field
    protocol's guide fits matches only the fast part of an edge there, not the line.

    References
    ----------
    SCBA015A, Figure 8 (d): check termination-ac-rule-4-tau.

    Examples
    --------
    >>> from rs485kit.formulas import least_capacitance
    >>> round(least_capacitance(120.0, 500e-9) * 1e9, 4)
    16.6667
    """
    resistance, delay, delays = arguments(
        "least_capacitance",
        positive("resistance", resistance, "ohm"),
        positive("delay", delay, "s"),
        positive("delays", delays, "-"),
    )
    return answer(delays * delay / resistance)


def switching_power(capacitance: Numbers, swing: Numbers, transition_rate: Numbers) -> FloatOrArray:
    """Heat that the edges of the signal make in a series RC terminator.

    Parameters
    ----------
    capacitance : float or array
        The capacitor of the terminator [F]
    swing : float or array
        Step of the differential voltage from one state to the other [V]
    transition_rate : float or array
        Transitions per second; the bit rate for alternating bits [Hz]

    Returns
    -------
    float or array
        Mean power in the resistor [W]

    Raises
    ------
    InputError
        If the capacitance is not positive, the swing is not finite, or the rate is negative.

    Notes
    -----
    P = C dV^2 f / 2: each transition burns half C dV^2, whatever the resistor. It holds while the capacitor settles
    between transitions, that is while R C is short against the bit.

    References
    ----------
    Energy of a capacitor. Figure: check termination-ac-power.

    Examples
    --------
    >>> from rs485kit.formulas import switching_power
    >>> round(switching_power(1e-9, 3.0, 115200.0) * 1e3, 4)
    0.5184
    """
    capacitance, swing, transition_rate = arguments(
        "switching_power",
        positive("capacitance", capacitance, "F"),
        number("swing", swing, "V"),
        not_negative("transition_rate", transition_rate, "Hz"),
    )
    return answer(0.5 * capacitance * swing**2 * transition_rate)


def _series(resistance: Numbers, capacitance: Numbers) -> tuple[Argument, Argument]:
    return positive("resistance", resistance, "ohm"), positive("capacitance", capacitance, "F")
