"""Two senders on one pair, in closed form: holds, replies, echoes, and the level while both drive."""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import (
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    optional_resistance,
    positive,
    whole,
    within,
)


def least_reply_delay(
    hold: Numbers, disable_time: Numbers, driver_delay: Numbers, receiver_delay: Numbers, enable_time: Numbers
) -> FloatOrArray:
    """Shortest reply delay with which the answer's driver comes on after the request's has gone.

    Parameters
    ----------
    hold : float or array
        Time that the sender of the request keeps its driver on after its last stop bit [s]
    disable_time : float or array
        Largest delay from its enable signal to a released pair [s]
    driver_delay : float or array
        Least delay from its data to the pair [s]
    receiver_delay : float or array
        Least delay from the pair to the data of the device that answers [s]
    enable_time : float or array
        Least delay from the enable signal of that device to a driven pair [s]

    Returns
    -------
    float or array
        Delay from the end of the request to the enabling of the answer; below zero where none is needed [s]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    h + td - tp - tr - te. Request and release run down the same cable, so its delay cancels: where it comes in is the
    time-out of the sender, and there twice. A device that counts from its receiver's report needs half a bit more
    (`early_report_time`).

    References
    ----------
    Arithmetic: check turnaround-min-reply-delay.

    Examples
    --------
    >>> from rs485kit.formulas import least_reply_delay
    >>> round(least_reply_delay(1e-3, 80e-9, 40e-9, 100e-9, 80e-9) * 1e6, 2)
    999.86
    """
    hold, disable_time, driver_delay, receiver_delay, enable_time = arguments(
        "least_reply_delay",
        not_negative("hold", hold, "s"),
        not_negative("disable_time", disable_time, "s"),
        not_negative("driver_delay", driver_delay, "s"),
        not_negative("receiver_delay", receiver_delay, "s"),
        not_negative("enable_time", enable_time, "s"),
    )
    return answer(hold + disable_time - driver_delay - receiver_delay - enable_time)


def answer_arrival_time(
    cable_delay: Numbers, reply_delay: Numbers, driver_delay: Numbers, receiver_delay: Numbers
) -> FloatOrArray:
    """Time from the end of a request, as it is sent, to the beginning of its answer, as it is received.

    Parameters
    ----------
    cable_delay : float or array
        One-way delay of the cable between the two [s]
    reply_delay : float or array
        Time from the end of the request, as received, to the answer, as sent [s]
    driver_delay : float or array
        Delay from data to pair, the same at both [s]
    receiver_delay : float or array
        Delay from pair to data, the same at both [s]

    Returns
    -------
    float or array
        Time that a time-out has to outlast [s]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    2 t + d + 2 (tp + tr): here the cable counts, there and back.

    References
    ----------
    Arithmetic: check turnaround-earliest-answer-at-master.

    Examples
    --------
    >>> from rs485kit.formulas import answer_arrival_time
    >>> round(answer_arrival_time(6e-6, 1750e-6, 40e-9, 100e-9) * 1e6, 2)
    1762.28
    """
    cable_delay, reply_delay, driver_delay, receiver_delay = arguments(
        "answer_arrival_time",
        not_negative("cable_delay", cable_delay, "s"),
        not_negative("reply_delay", reply_delay, "s"),
        not_negative("driver_delay", driver_delay, "s"),
        not_negative("receiver_delay", receiver_delay, "s"),
    )
    return answer(2.0 * cable_delay + reply_delay + 2.0 * (driver_delay + receiver_delay))


def echo_time(data_rate: Numbers, loop_delay: Numbers, *, character_bits: Numbers = 10.0) -> FloatOrArray:
    """Time from the start edge of a character, as sent, to its own receiver's report of it.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    loop_delay : float or array
        Delay through driver and receiver and the barrier both ways [s]
    character_bits : float or array
        Bits of the character up to the stop bit that is checked [-]

    Returns
    -------
    float or array
        Time [s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    (L - 0.5) / rate + d. A collision at the far end comes back a round trip of the cable later, and only if the other
    driver wins at the near end.

    References
    ----------
    Arithmetic: checks ``echo-verify-latency-*``.

    Examples
    --------
    >>> from rs485kit.formulas import echo_time
    >>> round(echo_time(9600, 400e-9) * 1e6, 3)
    989.983
    """
    data_rate, loop_delay, character_bits = arguments(
        "echo_time",
        door.data_rate(data_rate),
        not_negative("loop_delay", loop_delay, "s"),
        door.character_bits(character_bits),
    )
    return answer((character_bits - 0.5) / data_rate + loop_delay)


def one_shot_hold(resistance: Numbers, capacitance: Numbers, *, factor: Numbers = 1.0) -> FloatOrArray:
    """Time for which a retriggerable one-shot keeps a driver on.

    Parameters
    ----------
    resistance : float or array
        Its timing resistor [ohm]
    capacitance : float or array
        Its timing capacitor [F]
    factor : float or array
        Factor of the circuit: 1 in the converters whose tables were read [-]

    Returns
    -------
    float or array
        Hold from the last trigger on [s]

    Raises
    ------
    InputError
        If a value is not positive.

    Notes
    -----
    k R C, a time and not a number of bits: right at one rate. Two makers' tables want one character of ten bits, and
    R C meets it within 8 %.

    References
    ----------
    Converter manual of the 485DSS, table 3: checks ``sd-one-shot-*``.

    Examples
    --------
    >>> from rs485kit.formulas import one_shot_hold
    >>> round(one_shot_hold(100e3, 10e-9) * 1e3, 6)
    1.0
    """
    resistance, capacitance, factor = arguments(
        "one_shot_hold",
        positive("resistance", resistance, "ohm"),
        positive("capacitance", capacitance, "F"),
        positive("factor", factor, "-"),
    )
    return answer(factor * resistance * capacitance)


def passive_mark_share(data_rate: Numbers, drive_time: Numbers) -> FloatOrArray:
    """Share of a lone mark that a self-directing driver leaves to the bias.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    drive_time : float or array
        Time for which it drives a mark [s]

    Returns
    -------
    float or array
        Share of the bit; 0 where the drive outlasts it [-]

    Raises
    ------
    InputError
        If the rate is not positive or the time is negative.

    Notes
    -----
    max(0, 1 - t rate).

    References
    ----------
    Support forum on the THVD1406 and THVD1426, 8 us and 0.8 us: checks ``auto-direction-*``.

    Examples
    --------
    >>> from rs485kit.formulas import passive_mark_share
    >>> round(passive_mark_share(9600, 8e-6), 4)
    0.9232
    """
    data_rate, drive_time = arguments(
        "passive_mark_share", door.data_rate(data_rate), not_negative("drive_time", drive_time, "s")
    )
    return answer(np.maximum(0.0, 1.0 - drive_time * data_rate))


def clocked_link_length(clock_frequency: Numbers, velocity: Numbers, *, share: Numbers = 0.5) -> FloatOrArray:
    """Longest cable of a link that clocks a device's data out and takes them with the same clock.

    Parameters
    ----------
    clock_frequency : float or array
        Clock [Hz]
    velocity : float or array
        Velocity of a wave on the cable [m/s]
    share : float or array
        Share of the clock's period that the round trip may take [-]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    s v / (2 f). With the delay measured and allowed for, a link goes further.

    References
    ----------
    User guide of an encoder module, page 69: checks ``clocked-link-*``.

    Examples
    --------
    >>> from rs485kit.formulas import clocked_link_length
    >>> round(clocked_link_length(333.333e3, 2e8))
    150
    """
    clock_frequency, velocity, share = arguments(
        "clocked_link_length",
        positive("clock_frequency", clock_frequency, "Hz"),
        door.velocity(velocity),
        within("share", share, "-", 1e-6, 1.0),
    )
    return answer(0.5 * share * velocity / clock_frequency)


def contention_voltage(
    first_voltage: Numbers,
    second_voltage: Numbers,
    first_resistance: Numbers,
    second_resistance: Numbers,
    *,
    termination: Numbers | None = None,
) -> FloatOrArray:
    """Level on a short pair that two drivers drive at once.

    Parameters
    ----------
    first_voltage : float or array
        Differential voltage of one driver without load, with its sign [V]
    second_voltage : float or array
        The same of the other [V]
    first_resistance : float or array
        Output resistance of the first [ohm]
    second_resistance : float or array
        Output resistance of the other [ohm]
    termination : float, array or None
        All terminators in parallel; None: none [ohm]

    Returns
    -------
    float or array
        Differential voltage [V]

    Raises
    ------
    InputError
        If a resistance is not positive.

    Notes
    -----
    (V1/R1 + V2/R2) / (1/R1 + 1/R2 + 1/RT). Two equal drivers that want opposite levels leave nothing: neither can
    tell from its own receiver who is right.

    References
    ----------
    Superposition; that real drivers come near to it is recalled: check rs485-contention-not-visible.

    Examples
    --------
    >>> from rs485kit.formulas import contention_voltage
    >>> contention_voltage(3.0, -3.0, 30.0, 30.0, termination=60.0)
    0.0
    """
    first, second, one, other, across = arguments(
        "contention_voltage",
        number("first_voltage", first_voltage, "V"),
        number("second_voltage", second_voltage, "V"),
        positive("first_resistance", first_resistance, "ohm"),
        positive("second_resistance", second_resistance, "ohm"),
        optional_resistance("termination", termination),
    )
    return answer((first / one + second / other) / (1.0 / one + 1.0 / other + 1.0 / across))


def bit_clocked_delay_bits(input_bits: Numbers, output_bits: Numbers, pairs: Numbers) -> FloatOrArray:
    """Delay of links that take bits in with their own clock before they send them on.

    Parameters
    ----------
    input_bits : float or array
        Bits that the sending half of a pair keeps [-]
    output_bits : float or array
        Bits that the receiving half keeps [-]
    pairs : float or array
        Pairs in a row [-]

    Returns
    -------
    float or array
        Delay in bits, however short the links are [-]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    p (i + o). Repeaters and links delay by bits, cables by time.

    References
    ----------
    PROFIBUS manual, appendix on an infrared link, 10.2.2: check profibus-infrared-link-delay.

    Examples
    --------
    >>> from rs485kit.formulas import bit_clocked_delay_bits
    >>> bit_clocked_delay_bits(6, 3, 2)
    18.0
    """
    input_bits, output_bits, pairs = arguments(
        "bit_clocked_delay_bits",
        door.bits("input_bits", input_bits),
        door.bits("output_bits", output_bits),
        whole("pairs", pairs, 0, 1000),
    )
    return answer(pairs * (input_bits + output_bits))
