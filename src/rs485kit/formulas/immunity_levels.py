"""Levels of the immunity tests: bursts, electrostatic discharge and surges, with their generators.

A level is what a laboratory applies at a port, not what a site sees, and how much of it reaches a barrier depends on
coupling that is seldom known: figures of a level are upper estimates for that level and no more.
"""

from collections.abc import Mapping
from typing import Final, Literal, TypeAlias

import numpy as np

from rs485kit.formulas._arguments import (
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    refuse_choice,
    whole,
)

BurstPort: TypeAlias = Literal["power", "signal"]
"""Ports of a burst test: mains and supply, or signal and control lines."""
DischargeWay: TypeAlias = Literal["contact", "air"]
"""How an electrostatic discharge is applied."""
DischargeMoment: TypeAlias = Literal["first peak", "30 ns", "60 ns"]
"""When the current of a contact discharge is read."""
SurgeCoupling: TypeAlias = Literal["line to line", "line to earth", "signal line", "telecom line"]
"""How a surge is coupled: to mains (2 or 12 ohm), to an unshielded signal line, or 10/700 us to one wire of a line."""

BURST_RISE_TIME: Final = 5e-9
"""Rise time of one pulse of a burst [s]."""
BURST_PULSES: Final = 75
"""Pulses of a burst [-]."""
BURST_PERIOD: Final = 0.3
"""From one burst to the next [s]."""
SURGE_IMPEDANCES: Final[Mapping[SurgeCoupling, float]] = {
    "line to line": 2.0,
    "line to earth": 12.0,
    "signal line": 42.0,
    "telecom line": 40.0,
}
"""Effective impedance of the surge generator and its coupling network [ohm]; the 12 ohm are partly from memory."""

_BURSTS = {"power": [0.5e3, 1e3, 2e3, 4e3], "signal": [0.25e3, 0.5e3, 1e3, 2e3]}
_DISCHARGES = {"contact": [2e3, 4e3, 6e3, 8e3], "air": [2e3, 4e3, 8e3, 15e3]}
_DISCHARGE_CURRENTS = {
    "first peak": [7.5, 15.0, 22.5, 30.0],
    "30 ns": [4.0, 8.0, 12.0, 16.0],
    "60 ns": [2.0, 4.0, 6.0, 8.0],
}
_SURGES = [0.5e3, 1e3, 2e3, 4e3]
_SYMMETRIC_SURGES = [0.5e3, 1e3, 2e3, 2e3, 4e3]


def burst_voltage(level: Numbers, port: BurstPort) -> FloatOrArray:
    """Open-circuit voltage of a burst test (electrical fast transients).

    Parameters
    ----------
    level : float or array
        Test level, 1 to 4 [-]
    port : str
        "power" or "signal" [-]

    Returns
    -------
    float or array
        Peak [V]

    Raises
    ------
    InputError
        If the level is not a whole number from 1 to 4 or the port is neither of the two.

    Notes
    -----
    A table. Pulses of 5/50 ns, 75 to a burst, a burst each 300 ms. With `slew_rate` 1 kV is 200 kV/us, above the
    transient immunity of many parts, if all of it came to stand across the barrier.

    References
    ----------
    IEC 61000-4-4, as printed by an encyclopedia and a course on burst tests: table-eft-levels.

    Examples
    --------
    >>> from rs485kit.formulas import burst_voltage
    >>> burst_voltage(3, "power"), burst_voltage(3, "signal")
    (2000.0, 1000.0)
    """
    refuse_choice("burst_voltage", "port", port, tuple(_BURSTS))
    return answer(_looked_up("burst_voltage", "level", level, _BURSTS[port]))


def burst_duration(repetition_rate: Numbers, *, pulses: Numbers = BURST_PULSES) -> FloatOrArray:
    """Duration of one burst of pulses.

    Parameters
    ----------
    repetition_rate : float or array
        Pulses per second within the burst, 5 or 100 kHz in the standard [Hz]
    pulses : float or array
        Pulses of the burst [-]

    Returns
    -------
    float or array
        Duration [s]

    Raises
    ------
    InputError
        If the rate or the number of pulses is not positive.

    Notes
    -----
    n / f: 15 ms at 5 kHz. At 9600 bit/s that is 144 bits, so a burst spoils whole frames and a retry after it has the
    rest of the 300 ms to itself.

    References
    ----------
    IEC 61000-4-4, as a tutorial on transceivers prints it: check eft-burst-count.

    Examples
    --------
    >>> from rs485kit.formulas import burst_duration
    >>> burst_duration(5e3), burst_duration(100e3)
    (0.015, 0.00075)
    """
    repetition_rate, pulses = arguments(
        "burst_duration", positive("repetition_rate", repetition_rate, "Hz"), positive("pulses", pulses, "-")
    )
    return answer(pulses / repetition_rate)


def discharge_voltage(level: Numbers, way: DischargeWay) -> FloatOrArray:
    """Voltage of a test with electrostatic discharge.

    Parameters
    ----------
    level : float or array
        Test level, 1 to 4 [-]
    way : str
        "contact" or "air" [-]

    Returns
    -------
    float or array
        Voltage to which the generator is charged [V]

    Raises
    ------
    InputError
        If the level is not a whole number from 1 to 4 or the way is neither of the two.

    Notes
    -----
    A table. The network is 150 pF and 330 ohm (from memory).

    References
    ----------
    IEC 61000-4-2, as SLVUBG5A prints it in tables 2-1 and 2-2: table-esd-levels.

    Examples
    --------
    >>> from rs485kit.formulas import discharge_voltage
    >>> discharge_voltage(4, "contact"), discharge_voltage(4, "air")
    (8000.0, 15000.0)
    """
    refuse_choice("discharge_voltage", "way", way, tuple(_DISCHARGES))
    return answer(_looked_up("discharge_voltage", "level", level, _DISCHARGES[way]))


def discharge_current(level: Numbers, moment: DischargeMoment) -> FloatOrArray:
    """Current of a contact discharge into the standard's target.

    Parameters
    ----------
    level : float or array
        Test level, 1 to 4 [-]
    moment : str
        "first peak", "30 ns" or "60 ns" [-]

    Returns
    -------
    float or array
        Current [A]

    Raises
    ------
    InputError
        If the level is not a whole number from 1 to 4 or there is no such moment.

    Notes
    -----
    A table: 3.75, 2 and 1 A per kV.

    References
    ----------
    IEC 61000-4-2, as SLVUBG5A prints it in tables 2-1 and 2-2: table-esd-levels.

    Examples
    --------
    >>> from rs485kit.formulas import discharge_current
    >>> discharge_current(4, "first peak")
    30.0
    """
    refuse_choice("discharge_current", "moment", moment, tuple(_DISCHARGE_CURRENTS))
    return answer(_looked_up("discharge_current", "level", level, _DISCHARGE_CURRENTS[moment]))


def surge_voltage(level: Numbers) -> FloatOrArray:
    """Open-circuit voltage of a surge test.

    Parameters
    ----------
    level : float or array
        Test level, 1 to 4 [-]

    Returns
    -------
    float or array
        Peak of the 1.2/50 us wave [V]

    Raises
    ------
    InputError
        If the level is not a whole number from 1 to 4.

    Notes
    -----
    A table: 0.5, 1, 2 and 4 kV.

    References
    ----------
    IEC 61000-4-5, as a journal for electronics prints it: table-surge-levels.

    Examples
    --------
    >>> from rs485kit.formulas import surge_voltage
    >>> surge_voltage([1, 2, 3, 4]).tolist()
    [500.0, 1000.0, 2000.0, 4000.0]
    """
    return answer(_looked_up("surge_voltage", "level", level, _SURGES))


def surge_current(voltage_peak: Numbers, coupling: SurgeCoupling) -> FloatOrArray:
    """Current of a surge into a short.

    Parameters
    ----------
    voltage_peak : float or array
        Open-circuit voltage [V]
    coupling : str
        "line to line", "line to earth", "signal line" or "telecom line" [-]

    Returns
    -------
    float or array
        Prospective peak [A]

    Raises
    ------
    InputError
        If the voltage is negative or there is no such coupling.

    Notes
    -----
    V / Z with 2, 12, 42 or 40 ohm. The 42 ohm belong to unshielded signal lines alone: against a supply port they
    would make a surge of 12 ohm look three times too small. Balanced pairs are surged to earth, both lines together.

    References
    ----------
    IEC 61000-4-5, as makers of protectors print it: checks surge-current-4kv-42ohm and its neighbours.

    Examples
    --------
    >>> from rs485kit.formulas import surge_current
    >>> round(surge_current(4e3, "signal line"), 1)
    95.2
    """
    refuse_choice("surge_current", "coupling", coupling, tuple(SURGE_IMPEDANCES))
    (voltage_peak,) = arguments("surge_current", not_negative("voltage_peak", voltage_peak, "V"))
    return answer(voltage_peak / SURGE_IMPEDANCES[coupling])


def symmetric_surge_voltage(installation_class: Numbers) -> FloatOrArray:
    """Surge to earth that an installation class asks of a balanced pair without shield: from memory.

    Parameters
    ----------
    installation_class : float or array
        Installation class, 1 to 5 [-]

    Returns
    -------
    float or array
        Peak of the open-circuit voltage [V]

    Raises
    ------
    InputError
        If the class is not a whole number from 1 to 5.

    Notes
    -----
    Memory: the annex was not seen, and no pass may rest on these figures. Classes 3 to 5 are tested with the primary
    protection fitted. Printed figures beside it: 1 kV to earth for data lines in an industrial product's data sheet,
    2 kV to earth in a form for load cells.

    References
    ----------
    IEC 61000-4-5, annex on the choice of test levels, recalled: table-surge-levels-symmetric-signal.

    Examples
    --------
    >>> from rs485kit.formulas import symmetric_surge_voltage
    >>> symmetric_surge_voltage(3)
    2000.0
    """
    return answer(_looked_up("symmetric_surge_voltage", "installation_class", installation_class, _SYMMETRIC_SURGES))


def _looked_up(function: str, name: str, value: Numbers, rows: list[float]) -> Array:
    (number,) = arguments(function, whole(name, value, 1, len(rows)))
    return np.take(np.asarray(rows), number.astype(int) - 1)
