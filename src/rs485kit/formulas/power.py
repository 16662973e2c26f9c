"""Supply current and power: transceivers, isolated supplies, drivers against each other, fed nodes."""

import numpy as np

from rs485kit.formulas._arguments import (
    SMALLEST,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    positive,
    refuse,
    within,
)
from rs485kit.formulas.limits import SHORT_CIRCUIT_CURRENT

TURNS_RESERVE = 1.031
"""Factor that a supply's application section puts on the turns ratio [-]."""


def total_power(voltages: Numbers, currents: Numbers) -> FloatOrArray:
    """Power of several pins or rails together.

    Parameters
    ----------
    voltages : float or array
        Voltages, one for each pin on the last axis [V]
    currents : float or array
        Currents into the same pins [A]

    Returns
    -------
    float or array
        Sum over the last axis [W]

    Raises
    ------
    InputError
        If a value is not finite or the shapes do not go together.

    Notes
    -----
    P = sum V I. In a receiver most of it may be the bus inputs at the end of the common-mode range and the output pin.

    References
    ----------
    Definition of power. Figure: check power-isolated-budget.

    Examples
    --------
    >>> from rs485kit.formulas import total_power
    >>> round(total_power([3.3, 12.0, 11.5, 3.0], [0.65e-3, 0.24e-3, 0.2289e-3, 8.0e-3]) * 1e3, 3)
    31.657
    """
    voltages, currents = arguments("total_power", number("voltages", voltages, "V"), number("currents", currents, "A"))
    return answer(np.atleast_1d(voltages * currents).sum(axis=-1))


def part_power(supply: Numbers, supply_current: Numbers, load_power: Numbers) -> FloatOrArray:
    """Heat in a part that passes some of its supply power to a load.

    Parameters
    ----------
    supply : float or array
        Supply voltage of the part [V]
    supply_current : float or array
        Its supply current with the load connected [A]
    load_power : float or array
        Power in the load [W]

    Returns
    -------
    float or array
        Power left in the part [W]

    Raises
    ------
    InputError
        If a value is negative, the supply is 0, or the load takes more than the supply gives.

    Notes
    -----
    P = Vs Is - PL.

    References
    ----------
    Check power-isolated-static-split.

    Examples
    --------
    >>> from rs485kit.formulas import current_power, part_power
    >>> round(part_power(5.0, 0.074, current_power(0.0695, 54.0)) * 1e3, 3)
    109.166
    """
    supply, supply_current, load_power = arguments(
        "part_power",
        positive("supply", supply, "V"),
        not_negative("supply_current", supply_current, "A"),
        not_negative("load_power", load_power, "W"),
    )
    drawn = supply * supply_current
    wanted = "no more than supply times supply current"
    refuse("part_power", "load_power", load_power > drawn, load_power, "W", wanted)
    return answer(drawn - load_power)


def average_current(talking: Numbers, listening: Numbers, talking_share: Numbers) -> FloatOrArray:
    """Mean supply current of a node that talks part of the time.

    Parameters
    ----------
    talking : float or array
        Supply current while its driver is on [A]
    listening : float or array
        Supply current while its driver is off [A]
    talking_share : float or array
        Share of the time in which it talks, 0 to 1 [-]

    Returns
    -------
    float or array
        Mean current [A]

    Raises
    ------
    InputError
        If a current is negative or the share is outside 0..1.

    Notes
    -----
    I = s It + (1 - s) Il. For heat and energy; a supply has to bear the talking current all the same.

    References
    ----------
    Check power-isolated-average-polled.

    Examples
    --------
    >>> from rs485kit.formulas import average_current
    >>> round(average_current(0.113, 0.0028, 1 / 32) * 1e3, 5)
    6.24375
    """
    talking, listening, talking_share = arguments(
        "average_current",
        not_negative("talking", talking, "A"),
        not_negative("listening", listening, "A"),
        within("talking_share", talking_share, "-", 0.0, 1.0),
    )
    return answer(talking_share * talking + (1.0 - talking_share) * listening)


def input_power(output_power: Numbers, efficiency: Numbers) -> FloatOrArray:
    """Power that a supply takes in for what it gives out.

    Parameters
    ----------
    output_power : float or array
        Power given out [W]
    efficiency : float or array
        Output over input, up to 1 [-]

    Returns
    -------
    float or array
        Power taken in [W]

    Raises
    ------
    InputError
        If the power is negative or the efficiency is outside 0.01..1.

    Notes
    -----
    P = Po / eta. The efficiency of a small isolated supply falls at light load, where this answer is too low.

    References
    ----------
    Check power-isolated-budget, with an efficiency assumed for the example.

    Examples
    --------
    >>> from rs485kit.formulas import input_power
    >>> round(input_power(0.588148, 0.7) * 1e3, 2)
    840.21
    """
    output_power, efficiency = arguments(
        "input_power",
        not_negative("output_power", output_power, "W"),
        within("efficiency", efficiency, "-", 0.01, 1.0, cure="70 % is 0.7"),
    )
    return answer(output_power / efficiency)


def least_turns_ratio(
    output: Numbers,
    diode_drop: Numbers,
    regulator_drop: Numbers,
    least_input: Numbers,
    switch_resistance: Numbers,
    switch_current: Numbers,
    *,
    reserve: Numbers = TURNS_RESERVE,
) -> FloatOrArray:
    """Least turns ratio of the transformer of a push-pull isolated supply.

    Parameters
    ----------
    output : float or array
        Regulated output, the highest it may be [V]
    diode_drop : float or array
        Forward drop of a rectifier [V]
    regulator_drop : float or array
        Drop-out of the regulator behind it [V]
    least_input : float or array
        Lowest input of the supply [V]
    switch_resistance : float or array
        On-resistance of a primary switch [ohm]
    switch_current : float or array
        Current through that switch [A]
    reserve : float or array
        Factor on top [-]

    Returns
    -------
    float or array
        Secondary over primary turns [-]

    Raises
    ------
    InputError
        If a voltage, resistance or current is negative, the input or reserve is not positive, or the switch drops the
        whole input.

    Notes
    -----
    n = k (Vf + Vdo + Vo) / (Vin - R I), k = 1.031.

    References
    ----------
    SLLSEA0F, Recommended Transformers, equations 8 and 9: check power-isolated-turns-ratio.

    Examples
    --------
    >>> from rs485kit.formulas import least_turns_ratio
    >>> round(least_turns_ratio(5.175, 0.2, 0.2, 3.234, 3.0, 0.15), 5)
    2.06459
    """
    function = "least_turns_ratio"
    output, diode_drop, regulator_drop, least_input, switch_resistance, switch_current, reserve = arguments(
        function,
        positive("output", output, "V"),
        not_negative("diode_drop", diode_drop, "V"),
        not_negative("regulator_drop", regulator_drop, "V"),
        positive("least_input", least_input, "V"),
        not_negative("switch_resistance", switch_resistance, "ohm"),
        not_negative("switch_current", switch_current, "A"),
        positive("reserve", reserve, "-"),
    )
    primary = least_input - switch_resistance * switch_current
    wanted = "more than the switch drops"
    refuse(function, "least_input", primary < SMALLEST, least_input, "V", wanted, cure="the switch takes it all")
    return answer(reserve * (diode_drop + regulator_drop + output) / primary)


def contention_power(supply: Numbers, *, current: Numbers = SHORT_CIRCUIT_CURRENT) -> FloatOrArray:
    """Most heat in two drivers that work against each other.

    Parameters
    ----------
    supply : float or array
        Supply voltage of the driver that gives the current [V]
    current : float or array
        Current at which a driver limits [A]

    Returns
    -------
    float or array
        Power in the two parts together [W]

    Raises
    ------
    InputError
        If the supply is not positive or the current is negative.

    Notes
    -----
    P = Vs I, all of it in the two parts, with the cable's resistance left out. Parts under such a load get hot enough
    to burn a finger before they switch themselves off.

    References
    ----------
    Limit of EIA-485, RS-422/485 Application Note, Appendix A: check power-contention.

    Examples
    --------
    >>> from rs485kit.formulas import contention_power
    >>> contention_power(5.0)
    1.25
    """
    supply, current = arguments(
        "contention_power", positive("supply", supply, "V"), not_negative("current", current, "A")
    )
    return answer(supply * current)


def remote_supply_voltage(supply: Numbers, wire_resistance: Numbers, current: Numbers) -> FloatOrArray:
    """Voltage at a node that is fed over two wires of the cable.

    Parameters
    ----------
    supply : float or array
        Voltage at the feeding end [V]
    wire_resistance : float or array
        Resistance of one of the two feed wires from end to end [ohm]
    current : float or array
        Current that the node draws [A]

    Returns
    -------
    float or array
        Voltage at the node [V]

    Raises
    ------
    InputError
        If the supply is not positive, another value is negative, or the wires drop more than the supply.

    Notes
    -----
    V = Vs - 2 R I, for a current that does not change with the voltage. A node with a switching supply draws more as
    its voltage falls and may have no steady state at all where this answer still looks fair.

    References
    ----------
    SLLS550C, Supply Source Impedance: check power-remote-supply-drop.

    Examples
    --------
    >>> from rs485kit.formulas import remote_supply_voltage
    >>> round(remote_supply_voltage(5.0, 8.422, 0.060), 5)
    3.98936
    """
    function = "remote_supply_voltage"
    supply, wire_resistance, current = arguments(
        function,
        positive("supply", supply, "V"),
        not_negative("wire_resistance", wire_resistance, "ohm"),
        not_negative("current", current, "A"),
    )
    left = supply - 2.0 * wire_resistance * current
    wanted = "a current that leaves some of the supply"
    refuse(function, "current", left < 0.0, current, "A", wanted, cure="the wires drop more than the supply gives")
    return answer(left)
