"""Resistors by themselves: side by side, at the edge of their tolerance, the current and the heat they take."""

import numpy as np

from rs485kit.formulas._arguments import (
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    positive,
    within,
)


def parallel_resistance(first: Numbers, second: Numbers) -> FloatOrArray:
    """Resistance of two resistors side by side.

    Parameters
    ----------
    first : float or array
        One resistor [ohm]
    second : float or array
        The other [ohm]

    Returns
    -------
    float or array
        Resistance of both in parallel [ohm]

    Raises
    ------
    InputError
        If a resistance is not a positive number.

    Notes
    -----
    1/R = 1/R1 + 1/R2.

    References
    ----------
    Ohm's law. Figures: checks bias-two-places-500-and-620-at-5v, tia422-ten-receivers.

    Examples
    --------
    >>> from rs485kit.formulas import parallel_resistance
    >>> round(parallel_resistance(500.0, 620.0), 3)
    276.786
    """
    first, second = arguments("parallel_resistance", positive("first", first, "ohm"), positive("second", second, "ohm"))
    return answer(1.0 / (1.0 / first + 1.0 / second))


def equal_parallel_resistance(resistance: Numbers, count: Numbers) -> FloatOrArray:
    """Resistance of several equal resistors side by side.

    Parameters
    ----------
    resistance : float or array
        Each of them [ohm]
    count : float or array
        How many there are [-]

    Returns
    -------
    float or array
        Resistance of all in parallel [ohm]

    Raises
    ------
    InputError
        If the resistance or the count is not a positive number.

    Notes
    -----
    R = R1 / n. Two terminators load a driver with half of one; a third, left in by oversight, brings 120 ohm
    terminators to 40 ohm, below the 54 ohm at which drivers are tested.

    References
    ----------
    Ohm's law. Figures: checks termination-pairs, termination-third-terminator, bias-bacnet-local-47k.

    Examples
    --------
    >>> from rs485kit.formulas import equal_parallel_resistance
    >>> equal_parallel_resistance(120.0, 2)
    60.0
    """
    resistance, count = arguments(
        "equal_parallel_resistance", positive("resistance", resistance, "ohm"), positive("count", count, "-")
    )
    return answer(resistance / count)


def lowest_resistance(resistance: Numbers, tolerance: Numbers) -> FloatOrArray:
    """Lowest resistance that a tolerance allows.

    Parameters
    ----------
    resistance : float or array
        Nominal resistance [ohm]
    tolerance : float or array
        Largest relative deviation, 0.1 for 10 % [-]

    Returns
    -------
    float or array
        Nominal resistance less the tolerance [ohm]

    Raises
    ------
    InputError
        If the resistance is not positive or the tolerance is outside 0..0.99.

    Notes
    -----
    R (1 - t). One account of the 54 ohm test load is two 120 ohm terminators less 10 %; another is 60 ohm with 32
    unit loads, which gives 51.7 or 55.6 ohm. Treat 54 ohm as a test value without a story.

    References
    ----------
    Check tia485-54-ohm-as-60-less-10-percent.

    Examples
    --------
    >>> from rs485kit.formulas import lowest_resistance
    >>> lowest_resistance(60.0, 0.1)
    54.0
    """
    resistance, tolerance = arguments(
        "lowest_resistance",
        positive("resistance", resistance, "ohm"),
        within("tolerance", tolerance, "-", 0.0, 0.99, cure="10 % is 0.1"),
    )
    return answer(resistance * (1.0 - tolerance))


def load_current(voltage: Numbers, resistance: Numbers) -> FloatOrArray:
    """Current through a resistive load.

    Parameters
    ----------
    voltage : float or array
        Voltage across it [V]
    resistance : float or array
        The load [ohm]

    Returns
    -------
    float or array
        Current, with the sign of the voltage [A]

    Raises
    ------
    InputError
        If the voltage is not finite or the resistance is not positive.

    Notes
    -----
    I = V / R.

    References
    ----------
    Ohm's law. Figures: checks termination-dc-current, cm-ground-check-10k.

    Examples
    --------
    >>> from rs485kit.formulas import load_current
    >>> load_current(1.5, 60.0)
    0.025
    """
    voltage, resistance = arguments(
        "load_current", number("voltage", voltage, "V"), positive("resistance", resistance, "ohm")
    )
    return answer(voltage / resistance)


def resistor_power(voltage: Numbers, resistance: Numbers) -> FloatOrArray:
    """Heat in a resistor under a voltage.

    Parameters
    ----------
    voltage : float or array
        Voltage across it, RMS if it alternates [V]
    resistance : float or array
        The resistor [ohm]

    Returns
    -------
    float or array
        Power [W]

    Raises
    ------
    InputError
        If the voltage is not finite or the resistance is not positive.

    Notes
    -----
    P = V^2 / R.

    References
    ----------
    Ohm's law. Figures: check termination-power.

    Examples
    --------
    >>> from rs485kit.formulas import resistor_power
    >>> round(resistor_power(1.5, 120.0) * 1e3, 6)
    18.75
    """
    voltage, resistance = arguments(
        "resistor_power", number("voltage", voltage, "V"), positive("resistance", resistance, "ohm")
    )
    return answer(voltage**2 / resistance)


def current_power(current: Numbers, resistance: Numbers) -> FloatOrArray:
    """Heat in a resistor that carries a current.

    Parameters
    ----------
    current : float or array
        Current through it, RMS if it alternates [A]
    resistance : float or array
        The resistor [ohm]

    Returns
    -------
    float or array
        Power [W]

    Raises
    ------
    InputError
        If the current is not finite or the resistance is not positive.

    Notes
    -----
    P = I^2 R.

    References
    ----------
    Ohm's law. Figures: checks cm-reference-100-ohm, cm-shield-bonded-both-ends, power-isolated-static-split.

    Examples
    --------
    >>> from rs485kit.formulas import current_power
    >>> round(current_power(0.035, 100.0) * 1e3, 6)
    122.5
    """
    current, resistance = arguments(
        "current_power", number("current", current, "A"), positive("resistance", resistance, "ohm")
    )
    return answer(current**2 * resistance)


def rated_current(rated_power: Numbers, resistance: Numbers) -> FloatOrArray:
    """Current at which a resistor reaches its rated power.

    Parameters
    ----------
    rated_power : float or array
        Power that it may turn to heat [W]
    resistance : float or array
        The resistor [ohm]

    Returns
    -------
    float or array
        Current, RMS if it alternates [A]

    Raises
    ------
    InputError
        If the power is negative or the resistance is not positive.

    Notes
    -----
    I = sqrt(P / R).

    References
    ----------
    Ohm's law. Figures: check ground-resistor-limit.

    Examples
    --------
    >>> from rs485kit.formulas import rated_current
    >>> round(rated_current(0.5, 100.0) * 1e3, 4)
    70.7107
    """
    rated_power, resistance = arguments(
        "rated_current", not_negative("rated_power", rated_power, "W"), positive("resistance", resistance, "ohm")
    )
    return answer(np.sqrt(rated_power / resistance))
