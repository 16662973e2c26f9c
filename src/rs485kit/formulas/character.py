"""Characters and frames of start-stop transmission: their bits, their times and the silences between them."""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import (
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    refuse,
    whole,
)


def character_length(data_bits: Numbers, *, parity_bits: Numbers = 0.0, stop_bits: Numbers = 1.0) -> FloatOrArray:
    """Bits that one character takes on the line.

    Parameters
    ----------
    data_bits : float or array
        Data bits [-]
    parity_bits : float or array
        Parity bits: 0 or 1 [-]
    stop_bits : float or array
        Stop bits: 1 or 2 [-]

    Returns
    -------
    float or array
        Bits, the start bit counted in [-]

    Raises
    ------
    InputError
        If a number is not whole or outside its range.

    Notes
    -----
    1 + d + p + s. A manual that counts nine bits for 8N1 has forgotten one.

    References
    ----------
    MODBUS over Serial Line, V1.02, 2.5.1 and 2.5.2: checks modbus-rtu-character-bits, modbus-ascii-character-bits.

    Examples
    --------
    >>> from rs485kit.formulas import character_length
    >>> character_length(8, parity_bits=1), character_length(8, stop_bits=2), character_length(7, parity_bits=1)
    (11.0, 11.0, 10.0)
    """
    data_bits, parity_bits, stop_bits = arguments(
        "character_length",
        door.data_bits(data_bits),
        whole("parity_bits", parity_bits, 0, 1),
        whole("stop_bits", stop_bits, 1, 2),
    )
    return answer(door.START_BITS + data_bits + parity_bits + stop_bits)


def frame_time(characters: Numbers, data_rate: Numbers, *, character_bits: Numbers = 10.0) -> FloatOrArray:
    """Time that so many characters take, sent without gaps, and as well a silence of so many character times.

    Parameters
    ----------
    characters : float or array
        Characters, which need not be a whole number [-]
    data_rate : float or array
        Data rate [bit/s]
    character_bits : float or array
        Bits of a character, start and stop bits counted in [-]

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
    n L / rate.

    References
    ----------
    Definition. Figures: checks ``modbus-character-time-published-*``, ``osdp-gap-*``, sd-one-shot-character-times.

    Examples
    --------
    >>> from rs485kit.formulas import frame_time
    >>> round(frame_time(1, 9600, character_bits=11) * 1e3, 4)
    1.1458
    """
    characters, data_rate, character_bits = arguments(
        "frame_time",
        door.characters("characters", characters),
        door.data_rate(data_rate),
        door.character_bits(character_bits),
    )
    return answer(characters * character_bits / data_rate)


def silence_rate(characters: Numbers, silence: Numbers, *, character_bits: Numbers = 11.0) -> FloatOrArray:
    """Rate at which a silence lasts for so many characters.

    Parameters
    ----------
    characters : float or array
        Characters [-]
    silence : float or array
        Silence [s]
    character_bits : float or array
        Bits of a character, start and stop bits counted in [-]

    Returns
    -------
    float or array
        Data rate [bit/s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    n L / t. The two fixed silences of Modbus RTU belong to one rate, 22000 bit/s, which is none of the usual ones: so
    its silences step down at 19200 bit/s and are too long for faster rates.

    References
    ----------
    Remark in a public implementation of the protocol in Ada: check modbus-fixed-gaps-equivalent-rate.

    Examples
    --------
    >>> from rs485kit.formulas import silence_rate
    >>> round(silence_rate(1.5, 750e-6)), round(silence_rate(3.5, 1750e-6))
    (22000, 22000)
    """
    characters, silence, character_bits = arguments(
        "silence_rate",
        door.characters("characters", characters),
        positive("silence", silence, "s"),
        door.character_bits(character_bits),
    )
    return answer(characters * character_bits / silence)


def last_sample_position(data_bits: Numbers, *, parity_bits: Numbers = 0.0) -> FloatOrArray:
    """Bit times from the start edge to the sample that a receiver takes last.

    Parameters
    ----------
    data_bits : float or array
        Data bits [-]
    parity_bits : float or array
        Parity bits: 0 or 1 [-]

    Returns
    -------
    float or array
        Bit times to the middle of the first stop bit [-]

    Raises
    ------
    InputError
        If a number is not whole or outside its range.

    Notes
    -----
    1 + d + p + 0.5. A second stop bit need not be looked at: it is slack between characters and no tolerance of clocks.

    References
    ----------
    Documentation of UART modules, stop bit selection: check uart-two-stop-first-only.

    Examples
    --------
    >>> from rs485kit.formulas import last_sample_position
    >>> last_sample_position(8)
    9.5
    """
    data_bits, parity_bits = arguments(
        "last_sample_position", door.data_bits(data_bits), whole("parity_bits", parity_bits, 0, 1)
    )
    return answer(door.START_BITS + data_bits + parity_bits + 0.5)


def early_report_time(data_rate: Numbers, *, stop_bits: Numbers = 1.0) -> FloatOrArray:
    """How long before a byte ends on the line a receiver reports it.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    stop_bits : float or array
        Stop bits that are sent: 1 or 2 [-]

    Returns
    -------
    float or array
        Time from the report to the end of the last stop bit [s]

    Raises
    ------
    InputError
        If the rate is not positive, or the stop bits are neither 1 nor 2.

    Notes
    -----
    (s - 0.5) / rate: the receiver is done in the middle of the first stop bit. A reply that is timed from its report
    comes that much sooner than the program thinks.

    References
    ----------
    As `last_sample_position`: check uart-stop-bit-checked-mid-bit.

    Examples
    --------
    >>> from rs485kit.formulas import early_report_time
    >>> round(early_report_time(9600) * 1e6, 2)
    52.08
    """
    data_rate, stop_bits = arguments(
        "early_report_time", door.data_rate(data_rate), whole("stop_bits", stop_bits, 1, 2)
    )
    return answer((stop_bits - 0.5) / data_rate)


def ticked_time(duration: Numbers, tick: Numbers) -> FloatOrArray:
    """Time that a timer of whole ticks waits where it may not wait less than asked for.

    Parameters
    ----------
    duration : float or array
        Time that is asked for [s]
    tick : float or array
        Tick of the timer [s]

    Returns
    -------
    float or array
        Whole ticks, rounded up [s]

    Raises
    ------
    InputError
        If the duration is negative, the tick is not positive, or there are more than 1e12 ticks.

    Notes
    -----
    ceil(t / k) k, with a hair of a tick allowed for rounding. A timer that starts between two ticks waits up to one
    tick less than it counts: `shortest_counted_time`.

    References
    ----------
    Source of a public serial bus library, delay between frames: check modbus-integer-ms-rounding-9600.

    Examples
    --------
    >>> from rs485kit.formulas import ticked_time
    >>> round(ticked_time(4.0104e-3, 1e-3) * 1e3, 6)
    5.0
    """
    duration, tick = arguments(
        "ticked_time", not_negative("duration", duration, "s"), positive("tick", tick, "s")
    )
    ticks = duration / tick
    refuse("ticked_time", "tick", ticks > 1e12, tick, "s", "a tick that is not out of all proportion")
    return answer(np.ceil(ticks - 1e-9) * tick)


def shortest_counted_time(count: Numbers, tick: Numbers) -> FloatOrArray:
    """Shortest true time for which a timer of whole ticks shows a count.

    Parameters
    ----------
    count : float or array
        Ticks that the timer shows [-]
    tick : float or array
        Tick of the timer [s]

    Returns
    -------
    float or array
        True time, one tick less than shown [s]

    Raises
    ------
    InputError
        If the count is no whole number above zero or the tick is not positive.

    Notes
    -----
    (n - 1) k: a silence of n ticks may have begun just before the first. The longest is n k.

    References
    ----------
    Remark on the silence timer in public implementations of MS/TP: check ms-granular-silence-timer.

    Examples
    --------
    >>> from rs485kit.formulas import shortest_counted_time
    >>> round(shortest_counted_time(4, 5e-3) * 1e3, 6)
    15.0
    """
    count, tick = arguments(
        "shortest_counted_time", whole("count", count, 1, 2**31), positive("tick", tick, "s")
    )
    return answer((count - 1.0) * tick)
