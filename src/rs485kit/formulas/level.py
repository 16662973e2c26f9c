"""Levels at DC: what a driver carries, what is left at the far end, and how long the pair may be for it."""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    positive,
    refuse,
    whole,
)
from rs485kit.formulas.limits import UNIT_LOAD_CURRENT


def level_ratio(termination: Numbers, loop_resistance: Numbers) -> FloatOrArray:
    """Share of a voltage that is left behind the resistance of the pair.

    Parameters
    ----------
    termination : float or array
        Terminator at the far end [ohm]
    loop_resistance : float or array
        Resistance of both conductors in series [ohm]

    Returns
    -------
    float or array
        Far over near voltage [-]

    Raises
    ------
    InputError
        If the termination is not positive or the loop resistance is negative.

    Notes
    -----
    RT / (RT + RL). One load at the far end and none between; inputs along the way lower it a little.

    References
    ----------
    Voltage divider. Figures: checks drop-1200m-awg24, drop-1000m-awg26-modbus.

    Examples
    --------
    >>> from rs485kit.formulas import level_ratio
    >>> round(level_ratio(120.0, 202.128), 6)
    0.372523
    """
    termination, loop_resistance = arguments("level_ratio", *_ended_loop(termination, loop_resistance))
    return answer(termination / (termination + loop_resistance))


def level_loss(termination: Numbers, loop_resistance: Numbers) -> FloatOrArray:
    """Loss of a voltage behind the resistance of the pair.

    Parameters
    ----------
    termination : float or array
        Terminator at the far end [ohm]
    loop_resistance : float or array
        Resistance of both conductors in series [ohm]

    Returns
    -------
    float or array
        Loss, positive [dB]

    Raises
    ------
    InputError
        If the termination is not positive or the loop resistance is negative.

    Notes
    -----
    20 log10((RT + RL) / RT), of a voltage, at DC.

    References
    ----------
    Voltage divider. Figure: check drop-1200m-awg24.

    Examples
    --------
    >>> from rs485kit.formulas import level_loss
    >>> round(level_loss(120.0, 202.128), 5)
    8.57694
    """
    termination, loop_resistance = arguments("level_loss", *_ended_loop(termination, loop_resistance))
    return answer(20.0 * np.log10((termination + loop_resistance) / termination))


def far_voltage(near_voltage: Numbers, termination: Numbers, loop_resistance: Numbers) -> FloatOrArray:
    """Voltage at the far end of a pair.

    Parameters
    ----------
    near_voltage : float or array
        Differential voltage at the near end [V]
    termination : float or array
        Terminator at the far end [ohm]
    loop_resistance : float or array
        Resistance of both conductors in series [ohm]

    Returns
    -------
    float or array
        Differential voltage at the far end [V]

    Raises
    ------
    InputError
        If the voltage is not finite, the termination is not positive, or the loop resistance is negative.

    Notes
    -----
    V RT / (RT + RL). It serves a driven level and an idle level alike.

    References
    ----------
    Voltage divider. Figures: checks drop-4000ft-15-mohm, bias-not-uniform-on-long-cable.

    Examples
    --------
    >>> from rs485kit.formulas import far_voltage
    >>> far_voltage(1.5, 120.0, 120.0)
    0.75
    """
    near_voltage, termination, loop_resistance = arguments(
        "far_voltage", number("near_voltage", near_voltage, "V"), *_ended_loop(termination, loop_resistance)
    )
    return answer(near_voltage * termination / (termination + loop_resistance))


def driver_load(near_termination: Numbers, far_termination: Numbers, loop_resistance: Numbers) -> FloatOrArray:
    """Load that a driver sees at one end of a terminated pair.

    Parameters
    ----------
    near_termination : float or array
        Terminator at the driver's own end [ohm]
    far_termination : float or array
        Terminator at the other end [ohm]
    loop_resistance : float or array
        Resistance of both conductors in series [ohm]

    Returns
    -------
    float or array
        Differential load [ohm]

    Raises
    ------
    InputError
        If a termination is not positive or the loop resistance is negative.

    Notes
    -----
    1/R = 1/Rn + 1/(RL + Rf). A long pair is an easier load than the 60 ohm of its two terminators.

    References
    ----------
    Ohm's law. Figure: check drop-driver-load-long-cable.

    Examples
    --------
    >>> from rs485kit.formulas import driver_load
    >>> round(driver_load(120.0, 120.0, 202.128), 4)
    87.4302
    """
    near_termination, far_termination, loop_resistance = arguments(
        "driver_load",
        positive("near_termination", near_termination, "ohm"),
        positive("far_termination", far_termination, "ohm"),
        not_negative("loop_resistance", loop_resistance, "ohm"),
    )
    return answer(1.0 / (1.0 / near_termination + 1.0 / (loop_resistance + far_termination)))


def largest_loop_resistance(near_voltage: Numbers, least_voltage: Numbers, termination: Numbers) -> FloatOrArray:
    """Largest resistance of the pair that leaves a wanted level at the far end.

    Parameters
    ----------
    near_voltage : float or array
        Differential voltage at the near end [V]
    least_voltage : float or array
        Voltage that has to be left at the far end [V]
    termination : float or array
        Terminator at the far end [ohm]

    Returns
    -------
    float or array
        Resistance of both conductors in series [ohm]

    Raises
    ------
    InputError
        If a value is not positive, or the far voltage wanted is above the near one.

    Notes
    -----
    RL = RT (Vn / Vf - 1).

    References
    ----------
    Voltage divider. Figure: check drop-max-length-1v5-to-0v2.

    Examples
    --------
    >>> from rs485kit.formulas import largest_loop_resistance
    >>> round(largest_loop_resistance(1.5, 0.2, 120.0), 6)
    780.0
    """
    near_voltage, least_voltage, termination = arguments(
        "largest_loop_resistance", *_wanted_level(near_voltage, least_voltage, termination)
    )
    return answer(_largest_loop("largest_loop_resistance", near_voltage, least_voltage, termination))


def longest_length(
    near_voltage: Numbers, least_voltage: Numbers, termination: Numbers, conductor_resistance: Numbers
) -> FloatOrArray:
    """Longest pair that leaves a wanted level at the far end, by DC alone.

    Parameters
    ----------
    near_voltage : float or array
        Differential voltage at the near end [V]
    least_voltage : float or array
        Voltage that has to be left at the far end [V]
    termination : float or array
        Terminator at the far end [ohm]
    conductor_resistance : float or array
        Resistance of one conductor per length [ohm/m]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If a value is not positive, or the far voltage wanted is above the near one.

    Notes
    -----
    l = RT (Vn / Vf - 1) / (2 R'). For AWG 24 and 200 mV it is over 4.6 km: resistance takes margin, but it is not
    where the customary 1200 m comes from.

    References
    ----------
    Voltage divider. Figure: check drop-max-length-1v5-to-0v2.

    Examples
    --------
    >>> from rs485kit.formulas import longest_length
    >>> round(longest_length(1.5, 0.2, 120.0, 84.22e-3), 2)
    4630.73
    """
    near_voltage, least_voltage, termination, conductor_resistance = arguments(
        "longest_length",
        *_wanted_level(near_voltage, least_voltage, termination),
        positive("conductor_resistance", conductor_resistance, "ohm/m"),
    )
    loop = _largest_loop("longest_length", near_voltage, least_voltage, termination)
    return answer(loop / (2.0 * conductor_resistance))


def half_level_length(
    termination: Numbers, conductor_resistance: Numbers, *, conductors: Numbers = 2
) -> FloatOrArray:
    """Length at which half of the level is left, the -6 dB point at DC.

    Parameters
    ----------
    termination : float or array
        Terminator at the far end [ohm]
    conductor_resistance : float or array
        Resistance of one conductor per length [ohm/m]
    conductors : float or array
        Conductors that the current runs through: 2 for a pair; 1 repeats a count that forgets the return [-]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If a value is not positive, or the conductors are neither 1 nor 2.

    Notes
    -----
    l = RT / (n R'): half is left where the loop is as large as the terminator. AWG 24 and 120 ohm give 712 m; the
    "about 1200 m" of a tutorial slide is near only to the 1425 m of one conductor.

    References
    ----------
    Voltage divider. Figure: check drop-6db-length-awg24.

    Examples
    --------
    >>> from rs485kit.formulas import half_level_length
    >>> round(half_level_length(120.0, 84.22e-3), 2), round(half_level_length(120.0, 84.22e-3, conductors=1), 2)
    (712.42, 1424.84)
    """
    termination, conductor_resistance, conductors = arguments(
        "half_level_length",
        positive("termination", termination, "ohm"),
        positive("conductor_resistance", conductor_resistance, "ohm/m"),
        whole("conductors", conductors, 1, 2),
    )
    return answer(termination / (conductors * conductor_resistance))


def line_output_current(
    line_voltage: Numbers, other_voltage: Numbers, termination: Numbers, line_load: Numbers, source_voltage: Numbers
) -> FloatOrArray:
    """Current that one output of a driver gives to the terminators and to a load on its own line.

    Parameters
    ----------
    line_voltage : float or array
        This line against the common [V]
    other_voltage : float or array
        The other line against the common [V]
    termination : float or array
        All terminators of the pair in parallel [ohm]
    line_load : float or array
        Load from this line to a source that all nodes share [ohm]
    source_voltage : float or array
        That source against the common [V]

    Returns
    -------
    float or array
        Current out of the output; negative if it sinks [A]

    Raises
    ------
    InputError
        If a voltage is not finite or a resistance is not positive.

    Notes
    -----
    I = (V - Vo) / RT + (V - Vs) / RL. In the standard's common-mode test the two outputs give very different
    currents, 1 mA and -53 mA at the upper end, so one differential load cannot stand for it.

    References
    ----------
    Test circuit from memory: check tia485-cm-test-currents.

    Examples
    --------
    >>> from rs485kit.formulas import line_output_current
    >>> round(line_output_current(1.5, 3.0, 60.0, 375.0, 12.0) * 1e3, 6)
    -53.0
    """
    line_voltage, other_voltage, termination, line_load, source_voltage = arguments(
        "line_output_current",
        number("line_voltage", line_voltage, "V"),
        number("other_voltage", other_voltage, "V"),
        positive("termination", termination, "ohm"),
        positive("line_load", line_load, "ohm"),
        number("source_voltage", source_voltage, "V"),
    )
    return answer((line_voltage - other_voltage) / termination + (line_voltage - source_voltage) / line_load)


def bus_current(
    voltage: Numbers, termination: Numbers, *, unit_loads: Numbers = 0.0, unit_load_current: Numbers = UNIT_LOAD_CURRENT
) -> FloatOrArray:
    """Most current that a driver has to give to terminators and node inputs.

    Parameters
    ----------
    voltage : float or array
        Differential output voltage [V]
    termination : float or array
        All terminators of the pair in parallel [ohm]
    unit_loads : float or array
        Unit loads of all nodes [-]
    unit_load_current : float or array
        Current of one unit load at the end of the common-mode range [A]

    Returns
    -------
    float or array
        Current of one output [A]

    Raises
    ------
    InputError
        If the voltage is not finite, the termination is not positive, or another value is negative.

    Notes
    -----
    I = |V| / RT + n I1. The second part is there only at the end of the common-mode range; on a bus whose commons
    agree a driver gives little more than the first.

    References
    ----------
    SLLS562G, Power Usage in an RS-485 Transceiver: check power-bus-current-hvd3082.

    Examples
    --------
    >>> from rs485kit.formulas import bus_current
    >>> round(bus_current(1.5, 60.0, unit_loads=32) * 1e3, 6)
    57.0
    """
    voltage, termination, unit_loads, unit_load_current = arguments(
        "bus_current",
        number("voltage", voltage, "V"),
        positive("termination", termination, "ohm"),
        not_negative("unit_loads", unit_loads, "-"),
        not_negative("unit_load_current", unit_load_current, "A"),
    )
    return answer(np.abs(voltage) / termination + unit_loads * unit_load_current)


def _ended_loop(termination: Numbers, loop_resistance: Numbers) -> tuple[Argument, Argument]:
    return positive("termination", termination, "ohm"), not_negative("loop_resistance", loop_resistance, "ohm")


def _wanted_level(near_voltage: Numbers, least_voltage: Numbers, termination: Numbers) -> tuple[Argument, ...]:
    return (
        positive("near_voltage", near_voltage, "V"),
        positive("least_voltage", least_voltage, "V"),
        positive("termination", termination, "ohm"),
    )


def _largest_loop(function: str, near_voltage: Array, least_voltage: Array, termination: Array) -> Array:
    wanted = "no more than the near voltage"
    cure = "the near end has less than is wanted at the far end"
    refuse(function, "least_voltage", least_voltage > near_voltage, least_voltage, "V", wanted, cure=cure)
    return termination * (near_voltage / least_voltage - 1.0)
