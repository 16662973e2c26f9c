"""PROFIBUS DP in time: idle times, slot times, message cycles and the handbooks' estimate of a bus cycle.

Times in bits are times of the rate in use; the handbooks give their defaults by rate in bits.
"""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import Argument, FloatOrArray, Numbers, answer, arguments, not_negative, whole, within
from rs485kit.formulas.limits import PROFIBUS_SLOT_RESERVE_BITS, PROFIBUS_SYNCHRONISATION_BITS


def profibus_idle_bits(quiet_bits: Numbers, setup_bits: Numbers, station_delay_bits: Numbers) -> FloatOrArray:
    """Idle time that a master of PROFIBUS keeps before it sends again.

    Parameters
    ----------
    quiet_bits : float or array
        Quiet time of the drivers, TQUI [-]
    setup_bits : float or array
        Set-up time, TSET [-]
    station_delay_bits : float or array
        Delay of a station that counts: the least after an answer, the largest after a request without one [-]

    Returns
    -------
    float or array
        Idle time in bits: TID1 with the least delay of a station, TID2 with the largest [-]

    Raises
    ------
    InputError
        If a value is negative or out of range.

    Notes
    -----
    max(TQUI + 2 TSET + 2 + TSYN, TSDR), TSYN = 33.

    References
    ----------
    Horner APG, PROFIBUS modules, formula 3: checks profibus-idle-times*.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_idle_bits
    >>> profibus_idle_bits(9, 16, 11), profibus_idle_bits(9, 16, 800)
    (76.0, 800.0)
    """
    quiet, setup, delay = arguments(
        "profibus_idle_bits",
        door.bits("quiet_bits", quiet_bits),
        door.bits("setup_bits", setup_bits),
        door.bits("station_delay_bits", station_delay_bits),
    )
    return answer(np.maximum(quiet + 2.0 * setup + 2.0 + PROFIBUS_SYNCHRONISATION_BITS, delay))


def profibus_least_slot_bits(station_delay_bits: Numbers, *, cable_bits: Numbers = 0.0) -> FloatOrArray:
    """Shortest slot time, in which a master of PROFIBUS waits for the first bit of an answer.

    Parameters
    ----------
    station_delay_bits : float or array
        Largest delay of a station, max TSDR [-]
    cable_bits : float or array
        One-way delay of the longest path, repeaters counted in, which counts twice [-]

    Returns
    -------
    float or array
        Slot time in bits [-]

    Raises
    ------
    InputError
        If a value is negative or out of range.

    Notes
    -----
    TSDR + 15 + 2 TTD: 15 bits by the ranges that a manual prints, the path there and back on top of it.

    References
    ----------
    ELPRO 105U-G user manual, page 91: check profibus-parameter-bounds.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_least_slot_bits
    >>> profibus_least_slot_bits(800)
    815.0
    """
    delay, cable = arguments(
        "profibus_least_slot_bits",
        door.bits("station_delay_bits", station_delay_bits),
        door.bits("cable_bits", cable_bits),
    )
    return answer(delay + PROFIBUS_SLOT_RESERVE_BITS + 2.0 * cable)


def profibus_message_bits(
    bytes_out: Numbers,
    bytes_in: Numbers,
    station_delay_bits: Numbers,
    idle_bits: Numbers,
    *,
    cable_bits: Numbers = 0.0,
) -> FloatOrArray:
    """Bits of one message cycle of PROFIBUS: request, delay of the station, answer, idle time and the cable twice.

    Parameters
    ----------
    bytes_out : float or array
        Bytes of data in the request [-]
    bytes_in : float or array
        Bytes of data in the answer [-]
    station_delay_bits : float or array
        Delay of the station, TSDR [-]
    idle_bits : float or array
        Idle time of the master, TID [-]
    cable_bits : float or array
        One-way delay of the path [-]

    Returns
    -------
    float or array
        Message cycle in bits [-]

    Raises
    ------
    InputError
        If a value is outside its range: up to 246 bytes of data.

    Notes
    -----
    TS + TSDR + TA + TID + 2 TTD, the frames having 9 octets round their data and 11 bits to an octet.

    References
    ----------
    EN 50170, part 9, equation 21, as quoted; frame of variable length by the PROFIBUS manual: check
    profibus-message-cycle-12m.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_message_bits
    >>> profibus_message_bits(2, 2, 11, 76, cable_bits=6)
    341.0
    """
    bytes_out, bytes_in, delay, idle, cable = arguments(
        "profibus_message_bits",
        whole("bytes_out", bytes_out, 0, 246),
        whole("bytes_in", bytes_in, 0, 246),
        door.bits("station_delay_bits", station_delay_bits),
        door.bits("idle_bits", idle_bits),
        door.bits("cable_bits", cable_bits),
    )
    return answer(11.0 * (18.0 + bytes_out + bytes_in) + delay + idle + 2.0 * cable)


def profibus_cycle_time(devices: Numbers, data_bytes: Numbers, data_rate: Numbers) -> FloatOrArray:
    """Bus cycle of PROFIBUS DP by a handbook's estimate.

    Parameters
    ----------
    devices : float or array
        Devices that are polled [-]
    data_bytes : float or array
        Bytes of data of all of them, in and out [-]
    data_rate : float or array
        Data rate [bit/s]

    Returns
    -------
    float or array
        Cycle, within 10 % [s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    (380 + 300 d + 11 b) / rate + 75 us.

    References
    ----------
    PROFIBUS manual, estimation formula: checks profibus-cycle-estimate-20-slaves, profibus-512-bits-32-stations.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_cycle_time
    >>> round(profibus_cycle_time(20, 80, 1.5e6) * 1e6)
    4915
    """
    devices, data_bytes, data_rate = arguments(
        "profibus_cycle_time", *_load(devices, data_bytes), door.data_rate(data_rate)
    )
    return answer(_cycle_bits(devices, data_bytes) / data_rate + _CYCLE_REST)


def profibus_rate_for_cycle(devices: Numbers, data_bytes: Numbers, cycle_time: Numbers) -> FloatOrArray:
    """Lowest rate for a bus cycle of PROFIBUS DP by the same estimate.

    Parameters
    ----------
    devices : float or array
        Devices that are polled [-]
    data_bytes : float or array
        Bytes of data of all of them, in and out [-]
    cycle_time : float or array
        Cycle that is wanted, above 75 us [s]

    Returns
    -------
    float or array
        Data rate [bit/s]

    Raises
    ------
    InputError
        If a value is outside its range, or the cycle is not above 75 us.

    Notes
    -----
    (380 + 300 d + 11 b) / (T - 75 us).

    References
    ----------
    As `profibus_cycle_time`: check profibus-minimum-rate-for-1ms.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_rate_for_cycle
    >>> round(profibus_rate_for_cycle(4, 46, 1e-3))
    2255135
    """
    devices, data_bytes, cycle_time = arguments(
        "profibus_rate_for_cycle",
        *_load(devices, data_bytes),
        within("cycle_time", cycle_time, "s", 76e-6, 1e6),
    )
    return answer(_cycle_bits(devices, data_bytes) / (cycle_time - _CYCLE_REST))


def profibus_ring_slot_bits(modules: Numbers, length: Numbers) -> FloatOrArray:
    """Slot time of an optical ring of PROFIBUS at 1.5 Mbit/s.

    Parameters
    ----------
    modules : float or array
        Optical modules in the ring [-]
    length : float or array
        Fibre of the ring [m]

    Returns
    -------
    float or array
        Slot time in bits [-]

    Raises
    ------
    InputError
        If a value is negative or out of range.

    Notes
    -----
    351 + 24 m + 30 bits per km. 7.5 bits of each 30 are the fibre once; repeaters and modules delay by bits, cables by
    time.

    References
    ----------
    PROFIBUS network manual of 04/2009, 3.3.4: check profibus-slot-time-optical-ring.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_ring_slot_bits
    >>> profibus_ring_slot_bits(20, 20e3)
    1431.0
    """
    modules, length = arguments(
        "profibus_ring_slot_bits", whole("modules", modules, 0, 126), not_negative("length", length, "m")
    )
    return answer(351.0 + 24.0 * modules + 30e-3 * length)


_CYCLE_REST = 75e-6


def _load(devices: object, data_bytes: object) -> tuple[Argument, Argument]:
    return whole("devices", devices, 0, 126), whole("data_bytes", data_bytes, 0, 10**6)


def _cycle_bits(devices: Numbers, data_bytes: Numbers) -> FloatOrArray:
    return answer(380.0 + 300.0 * np.asarray(devices) + 11.0 * np.asarray(data_bytes))
