"""Packets of the lighting buses in time: DMX512, which never stops sending, and RDM in between."""

from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, whole, within
from rs485kit.formulas.limits import DMX_BREAK, DMX_MARK_AFTER_BREAK, DMX_RATE

_SLOT_BITS = 11.0


def dmx_packet_time(
    data_slots: Numbers,
    *,
    break_time: Numbers = DMX_BREAK,
    mark_after_break: Numbers = DMX_MARK_AFTER_BREAK,
    slot_gap: Numbers = 0.0,
    mark_before_break: Numbers = 0.0,
    data_rate: Numbers = DMX_RATE,
) -> FloatOrArray:
    """Time of one packet of DMX512, from break to break.

    Parameters
    ----------
    data_slots : float or array
        Slots after the start code, up to 512 [-]
    break_time : float or array
        Break at its head [s]
    mark_after_break : float or array
        Mark after the break [s]
    slot_gap : float or array
        Mark between two slots [s]
    mark_before_break : float or array
        Mark before the next break [s]
    data_rate : float or array
        Data rate, 245 to 255 kbit/s [bit/s]

    Returns
    -------
    float or array
        Time; its reciprocal is the refresh rate [s]

    Raises
    ------
    InputError
        If the slots are not whole or more than 512, a time is negative, or the rate is outside its limits.

    Notes
    -----
    b + m + (n + 1) 11 / rate + n g + mb: the start code is a slot of its own. 24 slots at the least break and mark make
    exactly the least packet that the standard allows.

    References
    ----------
    E1.11 as a support table and manuals of controllers quote it: checks ``dmx-*-packet-*``, dmx-retimed-packet.

    Examples
    --------
    >>> from rs485kit.formulas import dmx_packet_time
    >>> round(dmx_packet_time(512) * 1e6), round(dmx_packet_time(24) * 1e6)
    (22676, 1204)
    """
    slots, break_time, mark_after_break, slot_gap, mark_before_break, data_rate = arguments(
        "dmx_packet_time",
        whole("data_slots", data_slots, 0, 512),
        not_negative("break_time", break_time, "s"),
        not_negative("mark_after_break", mark_after_break, "s"),
        not_negative("slot_gap", slot_gap, "s"),
        not_negative("mark_before_break", mark_before_break, "s"),
        within("data_rate", data_rate, "bit/s", 245e3, 255e3),
    )
    marks = break_time + mark_after_break + slots * slot_gap + mark_before_break
    return answer(marks + (slots + 1.0) * _SLOT_BITS / data_rate)
