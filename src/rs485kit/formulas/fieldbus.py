"""PROFIBUS DP on RS-485: lengths of segments and budgets of spurs, as manuals print them.

Tables, not physics: a rate between two of the table gets the figures of the next faster one, and a rate beyond the
fastest is refused. The letters name cable types of this bus; the same letters mean other cables elsewhere.
"""

from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    refuse_choice,
    within,
)

CableType: TypeAlias = Literal["A", "B"]
"""Types of cable of EN 50170: A with 135 to 165 ohm, B with 100 to 130 ohm."""

_RATES = np.array([9.6e3, 19.2e3, 93.75e3, 187.5e3, 500e3, 1.5e6, 3e6, 6e6, 12e6])
_LENGTHS = {
    "A": np.array([1200.0, 1200.0, 1200.0, 1000.0, 400.0, 200.0, 100.0, 100.0, 100.0]),
    "B": np.array([1200.0, 1200.0, 1200.0, 600.0, 200.0, 0.0, 0.0, 0.0, 0.0]),
}
_SPURS = np.array([15e-9, 15e-9, 3e-9, 1e-9, 0.6e-9, 0.2e-9, 0.0, 0.0, 0.0])


def profibus_segment_length(data_rate: Numbers, *, cable_type: CableType = "A") -> FloatOrArray:
    """Longest segment of PROFIBUS DP.

    Parameters
    ----------
    data_rate : float or array
        Data rate, up to 12 Mbit/s [bit/s]
    cable_type : str
        "A" or "B" [-]

    Returns
    -------
    float or array
        Length of the cable; 0 where the type is not allowed [m]

    Raises
    ------
    InputError
        If the data rate is outside 1 bit/s..12 Mbit/s or the type is neither of the two.

    Notes
    -----
    1200 m up to 93.75 kbit/s, then falling. For type B at 1500 kbit/s an older text gives 70 m and one manual
    200 m; the later "not allowed" stands here.

    References
    ----------
    ABB PFEA113 and RPBA-01 manuals. Figures: check profibus-dp-length.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_segment_length
    >>> profibus_segment_length(500e3), profibus_segment_length(500e3, cable_type="B")
    (400.0, 200.0)
    """
    refuse_choice("profibus_segment_length", "cable_type", cable_type, tuple(_LENGTHS))
    return answer(_LENGTHS[cable_type][_row("profibus_segment_length", data_rate)])


def profibus_spur_capacitance(data_rate: Numbers) -> FloatOrArray:
    """Capacitance that all spurs of a segment of PROFIBUS DP may have together.

    Parameters
    ----------
    data_rate : float or array
        Data rate, up to 12 Mbit/s [bit/s]

    Returns
    -------
    float or array
        Capacitance; 0 above 1500 kbit/s, where no spurs are allowed [F]

    Raises
    ------
    InputError
        If the data rate is outside 1 bit/s..12 Mbit/s.

    Notes
    -----
    15 nF up to 19.2 kbit/s, 0.2 nF at 1500 kbit/s. The printed table begins at 19.2 kbit/s; slower rates get its
    figure.

    References
    ----------
    Manual of Bronkhorst for PROFIBUS DP, table 5. Figures: check profibus-dp-spurs.

    Examples
    --------
    >>> from rs485kit.formulas import profibus_spur_capacitance
    >>> round(profibus_spur_capacitance(187.5e3) * 1e9, 6)
    1.0
    """
    return answer(_SPURS[_row("profibus_spur_capacitance", data_rate)])


def spur_length(spur_capacitance: Numbers, shunt_capacitance: Numbers) -> FloatOrArray:
    """Length of spurs that a budget of capacitance allows.

    Parameters
    ----------
    spur_capacitance : float or array
        Capacitance that all spurs of a segment may have together [F]
    shunt_capacitance : float or array
        Capacitance of their cable per length [F/m]

    Returns
    -------
    float or array
        Length of all spurs together [m]

    Raises
    ------
    InputError
        If the budget is negative or the capacitance of the cable is outside the range of lines.

    Notes
    -----
    l = C / C'. At 30 pF/m the PROFIBUS budget of 0.2 nF at 1500 kbit/s is 6.7 m.

    References
    ----------
    Definition. Figures: checks profibus-spur-1500k, profibus-dp-spurs.

    Examples
    --------
    >>> from rs485kit.formulas import spur_length
    >>> round(spur_length(0.2e-9, 30e-12), 2)
    6.67
    """
    spur_capacitance, shunt_capacitance = arguments(
        "spur_length",
        not_negative("spur_capacitance", spur_capacitance, "F"),
        door.shunt_capacitance(shunt_capacitance),
    )
    return answer(spur_capacitance / shunt_capacitance)


def spur_total(
    stubs: Numbers, stub_length: Numbers, devices: Numbers, *, device_length: Numbers = 0.05
) -> FloatOrArray:
    """Length of spurs that a segment uses up, its devices counted in.

    Parameters
    ----------
    stubs : float or array
        Stubs of the segment [-]
    stub_length : float or array
        Length of each [m]
    devices : float or array
        Devices of the segment, those on stubs included [-]
    device_length : float or array
        Length of spur that a device counts as [m]

    Returns
    -------
    float or array
        Length to hold against `spur_length` [m]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    n l + m ld. A device counts as 5 cm by one maker's manual, which is 1.5 pF at 30 pF/m.

    References
    ----------
    Manual of Bronkhorst for PROFIBUS DP, worked example. Figure: check profibus-spur-example.

    Examples
    --------
    >>> from rs485kit.formulas import spur_total
    >>> round(spur_total(19, 0.25, 51), 6)
    7.3
    """
    stubs, stub_length, devices, device_length = arguments(
        "spur_total",
        not_negative("stubs", stubs, "-"),
        not_negative("stub_length", stub_length, "m"),
        not_negative("devices", devices, "-"),
        not_negative("device_length", device_length, "m"),
    )
    return answer(stubs * stub_length + devices * device_length)


def _row(function: str, data_rate: Numbers) -> npt.NDArray[np.intp]:
    (data_rate,) = arguments(function, within("data_rate", data_rate, "bit/s", 1.0, float(_RATES[-1])))
    return np.asarray(np.searchsorted(_RATES, data_rate), dtype=np.intp)
