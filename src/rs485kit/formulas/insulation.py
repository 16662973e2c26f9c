"""Insulation coordination: which voltages insulation has to bear, by IEC 60664-1.

Figures, not verdicts: whether insulation is good enough is decided by the standard of the product in its current
edition, tests, local codes and licensed practice. RMS and peak are different kinds of figures and never exchanged.
"""

from typing import Literal, TypeAlias

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    refuse_choice,
    whole,
    within,
)
from rs485kit.formulas.insulation_tables import (
    IMPULSE_VOLTAGES,
    MEASUREMENT_IMPULSES,
    PREFERRED_IMPULSES,
    RATIONALISED_VOLTAGES,
    TEMPORARY_OVERVOLTAGES,
    Table,
)

Grade: TypeAlias = Literal["functional", "basic", "supplementary", "reinforced"]
"""Grades of insulation; supplementary is the second of two that make double insulation, and has basic's demands."""
OvervoltageDuration: TypeAlias = Literal["short", "long"]
"""How long a temporary overvoltage lasts: up to 5 s, or longer."""
Neutral: TypeAlias = Literal["earthed", "unearthed"]
"""How the neutral of a three-phase system stands to earth."""

GRADES = ("functional", "basic", "supplementary", "reinforced")
_SERIES = tuple(entry.value for entry in PREFERRED_IMPULSES)
_CONSULT = "beyond the table: consult the standard"


def line_to_neutral_voltage(line_to_line_voltage_rms: Numbers) -> FloatOrArray:
    """Line-to-neutral voltage of a three-phase system.

    Parameters
    ----------
    line_to_line_voltage_rms : float or array
        Voltage between two lines, RMS [V]

    Returns
    -------
    float or array
        Voltage between a line and the neutral, RMS [V]

    Raises
    ------
    InputError
        If the voltage is negative.

    Notes
    -----
    V / sqrt(3). It is this voltage, and not that between lines, that goes into `rated_impulse_voltage`, if the neutral
    is earthed; a system that is not earthed goes in with its voltage between lines.

    References
    ----------
    Geometry of three equal phases: check impulse-uses-line-to-neutral.

    Examples
    --------
    >>> from rs485kit.formulas import line_to_neutral_voltage
    >>> round(line_to_neutral_voltage(400.0), 1)
    230.9
    """
    (line_to_line_voltage_rms,) = arguments(
        "line_to_neutral_voltage", not_negative("line_to_line_voltage_rms", line_to_line_voltage_rms, "V")
    )
    return answer(line_to_line_voltage_rms / np.sqrt(3.0))


def rated_impulse_voltage(system_voltage_rms: Numbers, overvoltage_category: Numbers) -> FloatOrArray:
    """Impulse voltage that insulation has to stand in a mains of a voltage and an overvoltage category.

    Parameters
    ----------
    system_voltage_rms : float or array
        Line-to-neutral voltage, RMS, or DC; up to 1000 V [V]
    overvoltage_category : float or array
        1 to 4 [-]

    Returns
    -------
    float or array
        Rated impulse voltage, 1.2/50 us, peak [V]

    Raises
    ------
    InputError
        If the voltage is not positive or above 1000 V, or the category none of the four.

    Notes
    -----
    A table without values between its rows: 230 V counts as 300 V. Line-to-neutral, not line-to-line: 400 V between
    lines with an earthed neutral are 230 V here. The demand of basic insulation; see `required_impulse_voltage`.

    References
    ----------
    IEC 60664-1 table F.1, as a catalogue of terminal blocks prints it: checks table-impulse-1 to -4, impulse-230v-ovc3.

    Examples
    --------
    >>> from rs485kit.formulas import rated_impulse_voltage
    >>> rated_impulse_voltage(230.0, 3)
    4000.0
    """
    return _by_row("rated_impulse_voltage", IMPULSE_VOLTAGES, system_voltage_rms, "overvoltage_category",
                   overvoltage_category, 1)  # fmt: skip


def measurement_impulse_voltage(system_voltage_rms: Numbers, measurement_category: Numbers) -> FloatOrArray:
    """Impulse voltage that a measuring input has to stand by its measurement category.

    Parameters
    ----------
    system_voltage_rms : float or array
        Line-to-neutral voltage, RMS; up to 1000 V [V]
    measurement_category : float or array
        2 to 4 [-]

    Returns
    -------
    float or array
        Impulse withstand voltage, peak [V]

    Raises
    ------
    InputError
        If the voltage is not positive or above 1000 V, or the category none of the three.

    Notes
    -----
    For inputs of meters. A measurement category is no overvoltage category: the table has no category 1 and no rows
    below 300 V.

    References
    ----------
    IEC 61010, as a maker of meters sums it up: checks table-measurement-2 to -4, measurement-category-differs-from-ovc.

    Examples
    --------
    >>> from rs485kit.formulas import measurement_impulse_voltage
    >>> measurement_impulse_voltage(300.0, 3)
    4000.0
    """
    return _by_row("measurement_impulse_voltage", MEASUREMENT_IMPULSES, system_voltage_rms, "measurement_category",
                   measurement_category, 2)  # fmt: skip


def required_impulse_voltage(impulse_voltage_peak: Numbers, insulation: Grade) -> FloatOrArray:
    """Impulse voltage for which a grade of insulation is laid out.

    Parameters
    ----------
    impulse_voltage_peak : float or array
        Rated impulse voltage, or an impulse that is known otherwise, peak [V]
    insulation : str
        "functional", "basic", "supplementary" or "reinforced" [-]

    Returns
    -------
    float or array
        Impulse voltage of the preferred series, peak [V]

    Raises
    ------
    InputError
        If the impulse is negative or the series ends below what is asked for, or if there is no such grade.

    Notes
    -----
    Raised to the next preferred value 330, 500, 800, 1500, 2500, 4000, 6000, 8000, 12000 V; for reinforced insulation
    then one step more. Not the clearance is doubled: 4 kV asks for 3.0 mm, 6 kV for 5.5 mm and not for 6.0. A rule of
    160 % for impulses that are not of the series is recalled from the standard. It is not followed here, since with it
    an impulse of 3.9 kV would ask for 5.8 mm and one of 4 kV for 5.5 mm.

    References
    ----------
    IEC 60664-1, as SBASAB3 works it out for 1000 V: checks clearance-reinforced-1000v-ovc2 and its neighbours.

    Examples
    --------
    >>> from rs485kit.formulas import required_impulse_voltage
    >>> required_impulse_voltage(4000.0, "basic"), required_impulse_voltage(4000.0, "reinforced")
    (4000.0, 6000.0)
    """
    function = "required_impulse_voltage"
    refuse_choice(function, "insulation", insulation, GRADES)
    step = 1 if insulation == "reinforced" else 0
    (impulse,) = arguments(
        function, within("impulse_voltage_peak", impulse_voltage_peak, "V", 0.0, _SERIES[-1 - step], cure=_CONSULT)
    )
    return answer(np.take(np.asarray(_SERIES), np.searchsorted(_SERIES, impulse) + step))


def temporary_overvoltage(
    system_voltage_rms: Numbers, overvoltage_duration: OvervoltageDuration, insulation: Grade
) -> FloatOrArray:
    """Overvoltage between a mains and earth while a fault in the network that feeds it lasts.

    Parameters
    ----------
    system_voltage_rms : float or array
        Line-to-neutral voltage, RMS [V]
    overvoltage_duration : str
        "short" for up to 5 s, "long" for more [-]
    insulation : str
        "functional", "basic", "supplementary" or "reinforced" [-]

    Returns
    -------
    float or array
        Voltage that the insulation has to stand, RMS [V]

    Raises
    ------
    InputError
        If the voltage is not positive or above 1000 V, or a choice is none of those there are.

    Notes
    -----
    V + 1200 V for up to 5 s, V + 250 V for longer (the latter from memory); twice the whole for reinforced insulation.
    It is held against the withstand voltage for 60 s, RMS against RMS.

    References
    ----------
    SBASAB3, example of an unearthed system; CIRED 2001, round table on neutral earthing: checks tov-short-230v,
    tov-short-1000v, tov-long-230v.

    Examples
    --------
    >>> from rs485kit.formulas import temporary_overvoltage
    >>> temporary_overvoltage(230.0, "short", "basic"), temporary_overvoltage(230.0, "short", "reinforced")
    (1430.0, 2860.0)
    """
    function = "temporary_overvoltage"
    refuse_choice(function, "overvoltage_duration", overvoltage_duration, tuple(TEMPORARY_OVERVOLTAGES))
    refuse_choice(function, "insulation", insulation, GRADES)
    (system,) = arguments(function, _mains("system_voltage_rms", system_voltage_rms, 1000.0))
    factor = 2.0 if insulation == "reinforced" else 1.0
    return answer(factor * (system + TEMPORARY_OVERVOLTAGES[overvoltage_duration].value))


def rationalised_voltage(line_to_line_voltage_rms: Numbers, *, neutral: Neutral = "unearthed") -> FloatOrArray:
    """Voltage between line and earth of a three-phase system by which creepage is chosen.

    Parameters
    ----------
    line_to_line_voltage_rms : float or array
        Nominal voltage between lines, RMS; up to 1000 V, or 960 V with an earthed neutral [V]
    neutral : str
        "earthed" or "unearthed" [-]

    Returns
    -------
    float or array
        Voltage for `creepage`, RMS [V]

    Raises
    ------
    InputError
        If the voltage is not positive or beyond the table, or the neutral is neither of the two.

    Notes
    -----
    A table of nominal systems; between two of them the higher one counts. The default is the safe one. The two lowest
    rows with an earthed neutral are recalled.

    References
    ----------
    IEC 60664-1 table F.3b, as a catalogue of terminals prints it: checks rationalised-230-400-earthed,
    rationalised-400-unearthed, table-rationalised-earthed.

    Examples
    --------
    >>> from rs485kit.formulas import rationalised_voltage
    >>> rationalised_voltage(400.0, neutral="earthed"), rationalised_voltage(400.0)
    (250.0, 400.0)
    """
    function = "rationalised_voltage"
    refuse_choice(function, "neutral", neutral, ("earthed", "unearthed"))
    values = RATIONALISED_VOLTAGES.values(neutral)
    there = [(row, value) for row, value in zip(RATIONALISED_VOLTAGES.rows, values, strict=True) if value]
    rows = np.array([row for row, _ in there])
    (voltage,) = arguments(function, _mains("line_to_line_voltage_rms", line_to_line_voltage_rms, float(rows[-1])))
    return answer(np.take(np.array([value for _, value in there]), np.searchsorted(rows, voltage)))


def _mains(name: str, value: object, highest: float) -> Argument:
    return within(name, value, "V", 1e-9, highest, cure=_CONSULT)


def _by_row(
    function: str, table: Table, system_voltage_rms: Numbers, name: str, category: Numbers, lowest: int
) -> FloatOrArray:
    """Return the entry of the next row that is not below the voltage."""
    system, number = arguments(
        function,
        _mains("system_voltage_rms", system_voltage_rms, table.rows[-1]),
        whole(name, category, lowest, 4),
    )
    columns: Array = np.array([table.values(str(each)) for each in range(lowest, 5)])
    return answer(columns[number.astype(int) - lowest, np.searchsorted(table.rows, system)])
