"""Common mode: how offset, ground difference and noise add up, and what a ground difference drives."""

import numpy as np

from rs485kit.formulas._arguments import (
    SMALLEST,
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
)
from rs485kit.formulas.limits import COMMON_MODE_MAXIMUM, COMMON_MODE_MINIMUM


def highest_common_mode(offset: Numbers, ground_difference: Numbers, *, noise: Numbers = 0.0) -> FloatOrArray:
    """Highest common-mode voltage at a receiver.

    Parameters
    ----------
    offset : float or array
        Offset of the driver's outputs against its own common [V]
    ground_difference : float or array
        Peak magnitude of the difference between the two commons [V]
    noise : float or array
        Peak magnitude of what couples into both lines [V]

    Returns
    -------
    float or array
        Worst case upwards, against the receiver's common [V]

    Raises
    ------
    InputError
        If the offset is not finite or a magnitude is negative.

    Notes
    -----
    Vcm = Voc + |Vg| + |Vn|. The mean of the two lines: with 2 V between them one line stands 1 V higher, and it is
    the line that has to stay inside -7..+12 V.

    References
    ----------
    Definition as a tutorial on transceivers prints it, slide 8: checks cm-definition, cm-range-from-supply.

    Examples
    --------
    >>> from rs485kit.formulas import highest_common_mode
    >>> highest_common_mode(2.5, 7.0, noise=2.5)
    12.0
    """
    offset, ground_difference, noise = arguments("highest_common_mode", *_parts(offset, ground_difference, noise))
    return answer(offset + ground_difference + noise)


def lowest_common_mode(offset: Numbers, ground_difference: Numbers, *, noise: Numbers = 0.0) -> FloatOrArray:
    """Lowest common-mode voltage at a receiver.

    Parameters
    ----------
    offset : float or array
        Offset of the driver's outputs against its own common [V]
    ground_difference : float or array
        Peak magnitude of the difference between the two commons [V]
    noise : float or array
        Peak magnitude of what couples into both lines [V]

    Returns
    -------
    float or array
        Worst case downwards, against the receiver's common [V]

    Raises
    ------
    InputError
        If the offset is not finite or a magnitude is negative.

    Notes
    -----
    Vcm = Voc - |Vg| - |Vn|.

    References
    ----------
    Definition as a tutorial on transceivers prints it, slide 8: checks cm-definition, cm-range-from-supply.

    Examples
    --------
    >>> from rs485kit.formulas import lowest_common_mode
    >>> lowest_common_mode(2.5, 7.0, noise=2.5)
    -7.0
    """
    offset, ground_difference, noise = arguments("lowest_common_mode", *_parts(offset, ground_difference, noise))
    return answer(offset - ground_difference - noise)


def upper_noise_headroom(
    offset: Numbers, ground_difference: Numbers, *, limit: Numbers = COMMON_MODE_MAXIMUM
) -> FloatOrArray:
    """Noise that may still come on top before the upper end of the common-mode range.

    Parameters
    ----------
    offset : float or array
        Highest offset of the driver's outputs [V]
    ground_difference : float or array
        Peak magnitude of the difference between the two commons [V]
    limit : float or array
        Upper end of the range [V]

    Returns
    -------
    float or array
        What is left; negative if the range is already left [V]

    Raises
    ------
    InputError
        If a voltage is not finite or the ground difference is negative.

    Notes
    -----
    Vmax - Voc - |Vg|.

    References
    ----------
    RS-422/485 Application Note, Appendix A, for the limits: check cm-noise-headroom.

    Examples
    --------
    >>> from rs485kit.formulas import limits, upper_noise_headroom
    >>> upper_noise_headroom(limits.OFFSET_MAXIMUM, 7.0)
    2.0
    """
    offset, ground_difference, limit = arguments("upper_noise_headroom", *_window(offset, ground_difference, limit))
    return answer(limit - offset - ground_difference)


def lower_noise_headroom(
    offset: Numbers, ground_difference: Numbers, *, limit: Numbers = COMMON_MODE_MINIMUM
) -> FloatOrArray:
    """Noise that may still come on top before the lower end of the common-mode range.

    Parameters
    ----------
    offset : float or array
        Lowest offset of the driver's outputs [V]
    ground_difference : float or array
        Peak magnitude of the difference between the two commons [V]
    limit : float or array
        Lower end of the range [V]

    Returns
    -------
    float or array
        What is left; negative if the range is already left [V]

    Raises
    ------
    InputError
        If a voltage is not finite or the ground difference is negative.

    Notes
    -----
    Voc - |Vg| - Vmin. With the lowest offset allowed, -1 V, a ground difference of 7 V is already 1 V too much.

    References
    ----------
    RS-422/485 Application Note, Appendix A, for the limits: check cm-noise-headroom.

    Examples
    --------
    >>> from rs485kit.formulas import limits, lower_noise_headroom
    >>> lower_noise_headroom(limits.OFFSET_MINIMUM, 7.0)
    -1.0
    """
    offset, ground_difference, limit = arguments("lower_noise_headroom", *_window(offset, ground_difference, limit))
    return answer(offset - ground_difference - limit)


def reference_current(
    ground_difference: Numbers, wire_resistance: Numbers, *, node_resistance: Numbers = 0.0
) -> FloatOrArray:
    """Current that a ground difference drives through a reference wire or a shield between two nodes.

    Parameters
    ----------
    ground_difference : float or array
        Difference between the two grounds [V]
    wire_resistance : float or array
        Resistance of the wire or shield from end to end [ohm]
    node_resistance : float or array
        Resistor in series at each of the two nodes; 0 if there is none [ohm]

    Returns
    -------
    float or array
        Current, with the sign of the difference [A]

    Raises
    ------
    InputError
        If the difference is not finite, a resistance is negative, or all of them are 0.

    Notes
    -----
    I = V / (Rw + 2 Rn). The resistance of the earths themselves is left out, so this is the most that can flow while
    the difference stands. Such loops can heat conductors and hurt people who open them: local codes and licensed
    practice decide how grounds may be joined.

    References
    ----------
    Ohm's law. Figures: checks cm-reference-100-ohm, cm-reference-100-ohm-long, cm-shield-bonded-both-ends.

    Examples
    --------
    >>> from rs485kit.formulas import reference_current
    >>> reference_current(7.0, 0.0, node_resistance=100.0)
    0.035
    """
    function = "reference_current"
    ground_difference, wire_resistance, node_resistance = arguments(
        function, *_loop(ground_difference, wire_resistance, node_resistance)
    )
    return answer(ground_difference / _loop_resistance(function, wire_resistance, node_resistance))


def ground_difference_left(
    ground_difference: Numbers, wire_resistance: Numbers, node_resistance: Numbers
) -> FloatOrArray:
    """Difference that a reference wire with a resistor at each node leaves between the two logic grounds.

    Parameters
    ----------
    ground_difference : float or array
        Difference between the two local earths [V]
    wire_resistance : float or array
        Resistance of the wire from end to end [ohm]
    node_resistance : float or array
        Resistor between the wire and the local earth at each of the two nodes [ohm]

    Returns
    -------
    float or array
        Difference between the two ends of the wire [V]

    Raises
    ------
    InputError
        If the difference is not finite, a resistance is negative, or all of them are 0.

    Notes
    -----
    V Rw / (Rw + 2 Rn).

    References
    ----------
    Voltage divider. Figure: check cm-reference-100-ohm-long.

    Examples
    --------
    >>> from rs485kit.formulas import ground_difference_left
    >>> round(ground_difference_left(7.0, 101.064, 100.0), 5)
    2.34983
    """
    function = "ground_difference_left"
    ground_difference, wire_resistance, node_resistance = arguments(
        function, *_loop(ground_difference, wire_resistance, node_resistance)
    )
    return answer(ground_difference * wire_resistance / _loop_resistance(function, wire_resistance, node_resistance))


def largest_ground_difference(
    rated_power: Numbers, node_resistance: Numbers, *, wire_resistance: Numbers = 0.0
) -> FloatOrArray:
    """Ground difference at which the resistors of a reference wire reach their rated power.

    Parameters
    ----------
    rated_power : float or array
        Power that each resistor may turn to heat [W]
    node_resistance : float or array
        Resistor in series at each of the two nodes [ohm]
    wire_resistance : float or array
        Resistance of the wire from end to end [ohm]

    Returns
    -------
    float or array
        Difference between the two grounds, RMS if it alternates [V]

    Raises
    ------
    InputError
        If the power or the wire's resistance is negative or the resistor is not positive.

    Notes
    -----
    sqrt(P / Rn) (Rw + 2 Rn). Two resistors of 100 ohm and half a watt stand 14.1 V. That is more than a receiver
    does, but a fault of the mains is a multiple of it.

    References
    ----------
    Ohm's law; 100 ohm and half a watt as a book on serial ports quotes them from TIA-485-A: check
    ground-resistor-limit.

    Examples
    --------
    >>> from rs485kit.formulas import largest_ground_difference
    >>> round(largest_ground_difference(0.5, 100.0), 4)
    14.1421
    """
    rated_power, node_resistance, wire_resistance = arguments(
        "largest_ground_difference",
        not_negative("rated_power", rated_power, "W"),
        positive("node_resistance", node_resistance, "ohm"),
        not_negative("wire_resistance", wire_resistance, "ohm"),
    )
    return answer(np.sqrt(rated_power / node_resistance) * (wire_resistance + 2.0 * node_resistance))


def _parts(offset: Numbers, ground_difference: Numbers, noise: Numbers) -> tuple[Argument, Argument, Argument]:
    return (
        number("offset", offset, "V"),
        not_negative("ground_difference", ground_difference, "V"),
        not_negative("noise", noise, "V"),
    )


def _window(offset: Numbers, ground_difference: Numbers, limit: Numbers) -> tuple[Argument, Argument, Argument]:
    return (
        number("offset", offset, "V"),
        not_negative("ground_difference", ground_difference, "V"),
        number("limit", limit, "V"),
    )


def _loop(
    ground_difference: Numbers, wire_resistance: Numbers, node_resistance: Numbers
) -> tuple[Argument, Argument, Argument]:
    return (
        number("ground_difference", ground_difference, "V"),
        not_negative("wire_resistance", wire_resistance, "ohm"),
        not_negative("node_resistance", node_resistance, "ohm"),
    )


def _loop_resistance(function: str, wire_resistance: Array, node_resistance: Array) -> Array:
    total = wire_resistance + 2.0 * node_resistance
    cure = "without any resistance the current has no limit: state the wire's own"
    refuse(
        function, "wire_resistance", total < SMALLEST, wire_resistance, "ohm", "some resistance in the loop", cure=cure
    )
    return total
