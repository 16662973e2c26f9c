"""Unit loads: the border of one, what a resistor counts as, and how many nodes are left."""

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
from rs485kit.formulas.limits import (
    COMMON_MODE_MAXIMUM,
    COMMON_MODE_MINIMUM,
    UNIT_LOAD_NEGATIVE_REFERENCE,
    UNIT_LOAD_POSITIVE_REFERENCE,
    UNIT_LOAD_RESISTANCE,
    UNIT_LOAD_SLOPE,
    UNIT_LOADS,
)

# A count such as 31.8 / 0.1 must not lose a node to the last bit of a division.
_ROUNDING = 1e-9


def highest_input_current(voltage: Numbers, *, unit_loads: Numbers = 1.0) -> FloatOrArray:
    """Most current that one line may push into inputs of a given unit load.

    Parameters
    ----------
    voltage : float or array
        Voltage of the line against the receiver's common [V]
    unit_loads : float or array
        Unit loads on that line [-]

    Returns
    -------
    float or array
        Upper border of the input current, positive into the inputs [A]

    Raises
    ------
    InputError
        If the voltage is outside -7..+12 V, where the border is not defined, or the unit loads are negative.

    Notes
    -----
    I = n max(0, (V + 3 V) / 15 kohm), per line.

    References
    ----------
    SLLA166, The Unit Load; SNLS096C, Unit Load: checks tia485-unit-load-corners, tia485-unit-load-model.

    Examples
    --------
    >>> from rs485kit.formulas import highest_input_current
    >>> highest_input_current(12.0)
    0.001
    """
    voltage, unit_loads = arguments("highest_input_current", *_on_border(voltage, unit_loads))
    return answer(unit_loads * np.maximum(0.0, (voltage - UNIT_LOAD_POSITIVE_REFERENCE) / UNIT_LOAD_SLOPE))


def lowest_input_current(voltage: Numbers, *, unit_loads: Numbers = 1.0) -> FloatOrArray:
    """Most negative current that one line may draw from inputs of a given unit load.

    Parameters
    ----------
    voltage : float or array
        Voltage of the line against the receiver's common [V]
    unit_loads : float or array
        Unit loads on that line [-]

    Returns
    -------
    float or array
        Lower border of the input current, positive into the inputs [A]

    Raises
    ------
    InputError
        If the voltage is outside -7..+12 V, where the border is not defined, or the unit loads are negative.

    Notes
    -----
    I = n min(0, (V - 5 V) / 15 kohm), per line.

    References
    ----------
    SLLA166, The Unit Load; SNLS096C, Unit Load: checks tia485-unit-load-corners, tia485-unit-load-model.

    Examples
    --------
    >>> from rs485kit.formulas import lowest_input_current
    >>> lowest_input_current(-7.0)
    -0.0008
    """
    voltage, unit_loads = arguments("lowest_input_current", *_on_border(voltage, unit_loads))
    return answer(unit_loads * np.minimum(0.0, (voltage - UNIT_LOAD_NEGATIVE_REFERENCE) / UNIT_LOAD_SLOPE))


def resistor_unit_loads(resistance: Numbers, rail_voltage: Numbers) -> FloatOrArray:
    """Unit loads of a resistor from one line to a rail, by the border.

    Parameters
    ----------
    resistance : float or array
        Bias leg or other resistor from the line [ohm]
    rail_voltage : float or array
        Where its other end stands, against the receivers' common [V]

    Returns
    -------
    float or array
        Worst ratio of its current to that of one unit load over -7..+12 V [-]

    Raises
    ------
    InputError
        If the resistance is not positive, or the rail is outside -3..+5 V: beyond that the resistor drives current
        where one unit load may have none, and no count of unit loads covers it.

    Notes
    -----
    The ratio rises towards the ends of the span, so the worst is the larger of its values there:

    max(15 kohm (12 V - Vr) / (R 15 V), 15 kohm (Vr + 7 V) / (R 12 V)).

    A pull-down to 0 V is 12 kohm / R; a pull-up to 5 V is 15 kohm / R, a quarter more than the custom of
    `resistor_unit_loads_by_custom` gives.

    References
    ----------
    Definition: SLLA166. Figures: checks ul-pulldown-strict, ul-pullup-strict, ul-modbus-650-against-4.

    Examples
    --------
    >>> from rs485kit.formulas import resistor_unit_loads
    >>> resistor_unit_loads(600.0, 0.0), resistor_unit_loads(600.0, 5.0)
    (20.0, 25.0)
    """
    low, high = UNIT_LOAD_POSITIVE_REFERENCE, UNIT_LOAD_NEGATIVE_REFERENCE
    resistance, rail_voltage = arguments(
        "resistor_unit_loads",
        positive("resistance", resistance, "ohm"),
        within("rail_voltage", rail_voltage, "V", low, high, cure="count it by current, no unit load covers it"),
    )
    pulling_down = (COMMON_MODE_MAXIMUM - rail_voltage) / (COMMON_MODE_MAXIMUM - low)
    pulling_up = (rail_voltage - COMMON_MODE_MINIMUM) / (high - COMMON_MODE_MINIMUM)
    return answer(UNIT_LOAD_SLOPE / resistance * np.maximum(pulling_down, pulling_up))


def resistor_unit_loads_by_custom(
    resistance: Numbers, *, unit_load_resistance: Numbers = UNIT_LOAD_RESISTANCE
) -> FloatOrArray:
    """Unit loads of a bias leg by the custom of 12 kohm for one.

    Parameters
    ----------
    resistance : float or array
        Bias leg from a line [ohm]
    unit_load_resistance : float or array
        Resistance that counts as one unit load [ohm]

    Returns
    -------
    float or array
        Unit loads by that count [-]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    12 kohm / R. It equals the border's own count for a pull-down to 0 V, and is a fifth too low for a pull-up to 5 V.

    References
    ----------
    SLLA272D, section 9, whose 20 unit loads are then a 600 ohm leg: checks ul-n-max-with-bias, ul-n-max-negative.

    Examples
    --------
    >>> from rs485kit.formulas import resistor_unit_loads_by_custom
    >>> round(resistor_unit_loads_by_custom(528.0), 4)
    22.7273
    """
    resistance, unit_load_resistance = arguments(
        "resistor_unit_loads_by_custom",
        positive("resistance", resistance, "ohm"),
        positive("unit_load_resistance", unit_load_resistance, "ohm"),
    )
    return answer(unit_load_resistance / resistance)


def input_resistance(unit_loads: Numbers, *, unit_load_resistance: Numbers = UNIT_LOAD_RESISTANCE) -> FloatOrArray:
    """Resistance that stands for a number of unit loads.

    Parameters
    ----------
    unit_loads : float or array
        Unit loads of one node, of a bias leg, or of all nodes together [-]
    unit_load_resistance : float or array
        Resistance that counts as one unit load [ohm]

    Returns
    -------
    float or array
        Resistance, per line by definition [ohm]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    R = 12 kohm / n. This says how much, not where it is drawn. Pass it on as `line_load` to follow the definition, or
    as `pair_load` to repeat a calculation that draws it across the pair.

    References
    ----------
    RS-422/485 Application Note, chapter 2, Example 2, and others: checks tia485-bus-32-ul-ohm, ul-eighth-ohm.

    Examples
    --------
    >>> from rs485kit.formulas import input_resistance
    >>> input_resistance(32), input_resistance(0.125)
    (375.0, 96000.0)
    """
    unit_loads, unit_load_resistance = arguments(
        "input_resistance",
        positive("unit_loads", unit_loads, "-"),
        positive("unit_load_resistance", unit_load_resistance, "ohm"),
    )
    return answer(unit_load_resistance / unit_loads)


def spare_unit_loads(taken: Numbers, *, limit: Numbers = UNIT_LOADS) -> FloatOrArray:
    """Unit loads that are left for nodes.

    Parameters
    ----------
    taken : float or array
        Unit loads that bias legs and nodes already take [-]
    limit : float or array
        Unit loads that a driver has to carry [-]

    Returns
    -------
    float or array
        What is left; negative if the bias alone is too much [-]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    limit - taken. Below 375 ohm a bias leg takes all 32. PROFIBUS terminators take 61.5 on the pulled-down line, so
    that network lies outside this account.

    References
    ----------
    SLLA272D, section 9: checks ul-n-max-negative, ul-profibus-terminators.

    Examples
    --------
    >>> from rs485kit.formulas import spare_unit_loads
    >>> spare_unit_loads(20.0)
    12.0
    """
    taken, limit = arguments("spare_unit_loads", not_negative("taken", taken, "-"), not_negative("limit", limit, "-"))
    return answer(limit - taken)


def node_count(unit_load: Numbers, *, taken: Numbers = 0.0, limit: Numbers = UNIT_LOADS) -> FloatOrArray:
    """Most nodes of one kind that the unit loads allow.

    Parameters
    ----------
    unit_load : float or array
        Unit load of one node [-]
    taken : float or array
        Unit loads that bias legs and other nodes already take [-]
    limit : float or array
        Unit loads that a driver has to carry [-]

    Returns
    -------
    float or array
        Whole number of nodes, 0 if nothing is left [-]

    Raises
    ------
    InputError
        If the unit load is not positive or another value is negative.

    Notes
    -----
    floor((limit - taken) / unit load). A quotient that misses a whole number by less than 1e-9 of itself counts as
    that number.

    References
    ----------
    SLLA272D, section 9, Equation 3: checks ul-slla272-96-nodes, ul-fractions, ul-n-max-with-bias.

    Examples
    --------
    >>> from rs485kit.formulas import node_count
    >>> node_count(0.125, taken=20.0)
    96.0
    """
    unit_load, taken, limit = arguments(
        "node_count",
        positive("unit_load", unit_load, "-"),
        not_negative("taken", taken, "-"),
        not_negative("limit", limit, "-"),
    )
    left = np.maximum(0.0, limit - taken)
    return answer(np.floor(left / unit_load * (1.0 + _ROUNDING)))


def _on_border(voltage: Numbers, unit_loads: Numbers) -> tuple[Argument, Argument]:
    cure = "a line beyond -7..+12 V has no defined input current"
    return (
        within("voltage", voltage, "V", COMMON_MODE_MINIMUM, COMMON_MODE_MAXIMUM, cure=cure),
        not_negative("unit_loads", unit_loads, "-"),
    )
