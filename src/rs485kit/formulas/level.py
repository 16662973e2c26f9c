"""Levels at DC: what is left at the far end of a pair, and how long it may be for that."""

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


def half_level_length(termination: Numbers, conductor_resistance: Numbers, *, conductors: Numbers = 2) -> FloatOrArray:
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
