"""Modbus over serial line in time: silences, lengths of frames, and what one poll takes."""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, whole
from rs485kit.formulas.limits import MODBUS_CHARACTER_GAP, MODBUS_FRAME_GAP, MODBUS_SCALED_RATE


def rtu_character_gap(data_rate: Numbers, *, character_bits: Numbers = 11.0) -> FloatOrArray:
    """Longest silence inside a frame of Modbus RTU, which the protocol calls t1.5.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    character_bits : float or array
        Bits of a character: 11 in this protocol [-]

    Returns
    -------
    float or array
        Silence beyond which the frame is void [s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    1.5 L / rate up to 19200 bit/s, 750 us above.

    References
    ----------
    MODBUS over Serial Line, V1.02, 2.5.1.1: checks ``modbus-gaps-*``.

    Examples
    --------
    >>> from rs485kit.formulas import rtu_character_gap
    >>> round(rtu_character_gap(9600) * 1e6, 2), round(rtu_character_gap(115200) * 1e6, 2)
    (1718.75, 750.0)
    """
    return _gap("rtu_character_gap", data_rate, character_bits, 1.5, MODBUS_CHARACTER_GAP)


def rtu_frame_gap(data_rate: Numbers, *, character_bits: Numbers = 11.0) -> FloatOrArray:
    """Shortest silence between frames of Modbus RTU, which the protocol calls t3.5.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    character_bits : float or array
        Bits of a character: 11 in this protocol [-]

    Returns
    -------
    float or array
        Silence that parts two frames [s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    3.5 L / rate up to 19200 bit/s, 1.75 ms above. At 38400 bit/s that is 1.75 times the scaled silence, and a short
    frame of a faster bus takes less time than the silence after it.

    References
    ----------
    MODBUS over Serial Line, V1.02, 2.5.1.1: checks ``modbus-gaps-*``.

    Examples
    --------
    >>> from rs485kit.formulas import rtu_frame_gap
    >>> round(rtu_frame_gap(9600) * 1e3, 4), round(rtu_frame_gap(115200) * 1e3, 4)
    (4.0104, 1.75)
    """
    return _gap("rtu_frame_gap", data_rate, character_bits, 3.5, MODBUS_FRAME_GAP)


def rtu_frame_characters(data_bytes: Numbers) -> FloatOrArray:
    """Characters in a frame of Modbus RTU.

    Parameters
    ----------
    data_bytes : float or array
        Bytes of data after the function code, up to 252 [-]

    Returns
    -------
    float or array
        Characters [-]

    Raises
    ------
    InputError
        If the number is not whole or outside its range.

    Notes
    -----
    n + 4: address, function code and two bytes of check.

    References
    ----------
    MODBUS over Serial Line, V1.02, 2.5.1: checks ``modbus-frame-length-data-*``, modbus-frame-sizes.

    Examples
    --------
    >>> from rs485kit.formulas import rtu_frame_characters
    >>> rtu_frame_characters(252)
    256.0
    """
    (data_bytes,) = arguments("rtu_frame_characters", whole("data_bytes", data_bytes, 0, 252))
    return answer(data_bytes + 4.0)


def ascii_frame_characters(data_bytes: Numbers) -> FloatOrArray:
    """Characters in a frame of Modbus ASCII.

    Parameters
    ----------
    data_bytes : float or array
        Bytes of data after the function code, up to 252 [-]

    Returns
    -------
    float or array
        Characters [-]

    Raises
    ------
    InputError
        If the number is not whole or outside its range.

    Notes
    -----
    2 n + 9: a colon, two characters for each byte of address, function, data and check, and two that end the line.

    References
    ----------
    MODBUS over Serial Line, V1.02, 2.5.2.1: checks ``modbus-frame-length-data-*``, modbus-frame-sizes.

    Examples
    --------
    >>> from rs485kit.formulas import ascii_frame_characters
    >>> ascii_frame_characters(252)
    513.0
    """
    (data_bytes,) = arguments("ascii_frame_characters", whole("data_bytes", data_bytes, 0, 252))
    return answer(2.0 * data_bytes + 9.0)


def poll_time(
    request: Numbers, reply: Numbers, character_time: Numbers, *, reply_delay: Numbers = 0.0, silence: Numbers = 0.0
) -> FloatOrArray:
    """Time of one question and its answer, from the first start bit of one request to that of the next.

    Parameters
    ----------
    request : float or array
        Characters of the request [-]
    reply : float or array
        Characters of the reply [-]
    character_time : float or array
        Time of one character [s]
    reply_delay : float or array
        Time from the end of the request to the beginning of the reply [s]
    silence : float or array
        Silence before the next request [s]

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
    (q + r) tc + d + s. An unanswered request takes q tc and the whole time-out; no silence is waited for after that.

    References
    ----------
    Arithmetic: checks ``modbus-transaction-9600-*``, ``modbus-poll-cycle-*``.

    Examples
    --------
    >>> from rs485kit.formulas import frame_time, poll_time, rtu_frame_gap
    >>> character = frame_time(1, 9600, character_bits=11)
    >>> round(poll_time(8, 25, character, reply_delay=30e-3, silence=rtu_frame_gap(9600)) * 1e3, 4)
    71.8229
    """
    request, reply, character_time, reply_delay, silence = arguments(
        "poll_time",
        door.characters("request", request),
        door.characters("reply", reply),
        not_negative("character_time", character_time, "s"),
        not_negative("reply_delay", reply_delay, "s"),
        not_negative("silence", silence, "s"),
    )
    return answer((request + reply) * character_time + reply_delay + silence)


def _gap(function: str, data_rate: Numbers, bits: Numbers, characters: float, fixed: float) -> FloatOrArray:
    data_rate, bits = arguments(function, door.data_rate(data_rate), door.character_bits(bits))
    return answer(np.where(data_rate <= MODBUS_SCALED_RATE, characters * bits / data_rate, fixed))
