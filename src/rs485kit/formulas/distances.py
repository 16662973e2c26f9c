"""Insulation coordination: distances through air and along surfaces, by IEC 60664-1.

A clearance comes from peaks and is corrected for altitude; a creepage distance comes from a lasting RMS voltage, is not
corrected for altitude, and is never less than the clearance. Figures, not verdicts: the standard of the product in its
current edition, local codes and licensed practice decide.
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
    positive,
    refuse,
    refuse_choice,
    whole,
    within,
)
from rs485kit.formulas.insulation import GRADES, Grade
from rs485kit.formulas.insulation_tables import (
    ALTITUDE_FACTORS,
    CLEARANCES,
    CREEPAGES,
    GROOVE_WIDTHS,
    HIGH_FREQUENCY_CLEARANCES,
    HOMOGENEOUS_CLEARANCES,
    LEAST_CLEARANCE_4,
    LIMIT_OF_GROUP_3B,
    MATERIAL_GROUPS,
    PRINTED_CREEPAGES,
    STEADY_CLEARANCES,
    MaterialGroup,
    Table,
)

FieldKind: TypeAlias = Literal["inhomogeneous", "homogeneous"]
"""Electric field in a clearance: case A, which is to be taken, and case B, which needs an impulse test as proof."""

REFERENCE_PRESSURE = 80e3
"""Air pressure at 2000 m, to which the tables of clearances belong [Pa]."""
_GROUPS = tuple(name for name, _ in MATERIAL_GROUPS)
_CONSULT = "beyond the table: consult the standard"
_NO_ROW = "there is no creepage distance for pollution degree 4: keep the pollution off, by an enclosure for example"


def material_group(tracking_index: float) -> MaterialGroup:
    """Material group of an insulating material.

    Parameters
    ----------
    tracking_index : float
        Comparative tracking index, IEC 60112, at least 100 V [V]

    Returns
    -------
    str
        "I", "II", "IIIa" or "IIIb" [-]

    Raises
    ------
    InputError
        If the index is below 100 V, where there is no group, or above 1000 V.

    Notes
    -----
    I from 600 V, II from 400 V, IIIa from 175 V, IIIb from 100 V.

    References
    ----------
    Technical section of a maker of terminals, bands of tracking resistance.

    Examples
    --------
    >>> from rs485kit.formulas import material_group
    >>> material_group(600.0), material_group(599.0)
    ('I', 'II')
    """
    (index,) = arguments("material_group", within("tracking_index", tracking_index, "V", 100.0, 1000.0))
    return next(name for name, least in MATERIAL_GROUPS if float(index) >= least.value)


def altitude_factor(altitude: Numbers) -> FloatOrArray:
    """Factor on a clearance for the thinner air of an altitude.

    Parameters
    ----------
    altitude : float or array
        Altitude, up to 20 km [m]

    Returns
    -------
    float or array
        Factor; 1 up to 2000 m [-]

    Raises
    ------
    InputError
        If the altitude is below -500 m or above 20 km.

    Notes
    -----
    The row of the next higher altitude of the table; whether the standard lets one interpolate was not seen. Clearances
    alone: a creepage distance changes only where the clearance comes to exceed it. Nothing is taken off below 2000 m.

    References
    ----------
    IEC 60664-1:2007 table A.2, as a maker of terminals prints it: checks table-altitude, altitude-factor-1000m.

    Examples
    --------
    >>> from rs485kit.formulas import altitude_factor
    >>> altitude_factor([120.0, 4000.0, 4001.0]).tolist()
    [1.0, 1.29, 1.48]
    """
    (altitude,) = arguments("altitude_factor", _altitude(altitude))
    return answer(_factor(altitude))


def altitude_factor_at_pressure(pressure: Numbers) -> FloatOrArray:
    """Factor on a clearance for an air pressure.

    Parameters
    ----------
    pressure : float or array
        Lowest air pressure in service, 1 to 110 kPa [Pa]

    Returns
    -------
    float or array
        Factor; 1 from 80 kPa on [-]

    Raises
    ------
    InputError
        If the pressure is outside 1..110 kPa.

    Notes
    -----
    80 kPa / p, which gives all eleven factors of the table to their printed rounding.

    References
    ----------
    IEC 60664-1:2007 table A.2: check altitude-factor-from-pressure.

    Examples
    --------
    >>> from rs485kit.formulas import altitude_factor_at_pressure
    >>> round(altitude_factor_at_pressure(54e3), 2)
    1.48
    """
    (pressure,) = arguments(
        "altitude_factor_at_pressure", within("pressure", pressure, "Pa", 1e3, 110e3, cure="it is in pascal")
    )
    return answer(np.maximum(REFERENCE_PRESSURE / pressure, 1.0))


def impulse_clearance(
    impulse_voltage_peak: Numbers,
    pollution_degree: Numbers,
    *,
    altitude: Numbers = 0.0,
    field: FieldKind = "inhomogeneous",
) -> FloatOrArray:
    """Clearance that stands an impulse voltage.

    Parameters
    ----------
    impulse_voltage_peak : float or array
        Impulse to be stood, peak, up to 100 kV: of reinforced insulation that of `required_impulse_voltage` [V]
    pollution_degree : float or array
        1 to 4 [-]
    altitude : float or array
        Altitude, up to 20 km [m]
    field : str
        "inhomogeneous" or "homogeneous" [-]

    Returns
    -------
    float or array
        Least distance through air [m]

    Raises
    ------
    InputError
        If the impulse is negative or above 100 kV, the altitude outside -500 m..20 km, or the degree or the field none
        of those there are.

    Notes
    -----
    A table up to 2000 m, interpolated as it allows, times `altitude_factor`. Pollution degree 4 counts as 3, but not
    less than 1.6 mm. The rows of 30 to 60 kV are recalled. A homogeneous field needs an impulse test as proof.

    References
    ----------
    IEC 60664-1 table F.2, as catalogues of terminals print it: checks table-clearance-1 to -3 and
    table-homogeneous-1 to -3, clearance-interpolated-4k8, clearance-pd4-2k5, altitude-reinforced-5000m-8mm-package.

    Examples
    --------
    >>> from rs485kit.formulas import impulse_clearance, required_impulse_voltage
    >>> impulse = required_impulse_voltage(4000.0, "reinforced")
    >>> round(1e3 * impulse_clearance(impulse, 2, altitude=5000.0), 2)
    8.14
    """
    function = "impulse_clearance"
    table = CLEARANCES if field == "inhomogeneous" else HOMOGENEOUS_CLEARANCES
    refuse_choice(function, "field", field, ("inhomogeneous", "homogeneous"))
    impulse, degree, altitude = arguments(
        function,
        within("impulse_voltage_peak", impulse_voltage_peak, "V", 0.0, table.rows[-1], cure=_CONSULT),
        whole("pollution_degree", pollution_degree, 1, 4),
        _altitude(altitude),
    )
    by_degree = [np.interp(impulse, table.rows, table.values(str(each))) for each in (1, 2, 3)]
    by_degree.append(np.maximum(by_degree[2], LEAST_CLEARANCE_4.value))
    return answer(np.choose(degree.astype(int) - 1, by_degree) * _factor(altitude))


def steady_clearance(voltage_peak: Numbers, *, altitude: Numbers = 0.0) -> FloatOrArray:
    """Clearance that stands a steady, temporary or recurring voltage: from memory.

    Parameters
    ----------
    voltage_peak : float or array
        Highest peak of the voltage, up to 50 kV [V]
    altitude : float or array
        Altitude, up to 20 km [m]

    Returns
    -------
    float or array
        Least distance through air [m]

    Raises
    ------
    InputError
        If the voltage is negative or above 50 kV, or the altitude outside -500 m..20 km.

    Notes
    -----
    The larger of this and `impulse_clearance` counts. No source was seen: where it is the larger one, nothing may pass
    by it. A frequency above 30 kHz needs more, see `high_frequency_clearance`.

    References
    ----------
    IEC 60664-1:2007 table F.7a, recalled: check table-steady-clearance.

    Examples
    --------
    >>> from rs485kit.formulas import steady_clearance
    >>> round(1e3 * steady_clearance(1414.0), 3)
    0.663
    """
    voltage, altitude = arguments(
        "steady_clearance",
        within("voltage_peak", voltage_peak, "V", 0.0, STEADY_CLEARANCES.rows[-1], cure=_CONSULT),
        _altitude(altitude),
    )
    rows = np.interp(voltage, STEADY_CLEARANCES.rows, STEADY_CLEARANCES.values("clearance"))
    return answer(rows * _factor(altitude))


def high_frequency_clearance(
    voltage_peak: Numbers, pollution_degree: Numbers, insulation: Grade
) -> FloatOrArray:
    """Clearance in circuits of more than 30 kHz, such as inside an isolated supply.

    Parameters
    ----------
    voltage_peak : float or array
        Highest peak, up to 2000 V [V]
    pollution_degree : float or array
        1 to 3 [-]
    insulation : str
        "functional", "basic", "supplementary" or "reinforced" [-]

    Returns
    -------
    float or array
        Least distance through air [m]

    Raises
    ------
    InputError
        If the voltage is negative or above 2000 V, or the degree or the grade none of those there are.

    Notes
    -----
    A table of pollution degree 2, interpolated as it allows; times 0.8 at degree 1 and 1.4 at degree 3. Below 600 V the
    row of 600 V.

    References
    ----------
    IEC 62368-1 clause 5.4.2, as a page that shares notes prints it: checks table-high-frequency-basic and -reinforced,
    clearance-high-frequency-1000v-pd3.

    Examples
    --------
    >>> from rs485kit.formulas import high_frequency_clearance
    >>> round(1e3 * high_frequency_clearance(1000.0, 3, "basic"), 2)
    0.84
    """
    function = "high_frequency_clearance"
    refuse_choice(function, "insulation", insulation, GRADES)
    table = HIGH_FREQUENCY_CLEARANCES
    voltage, degree = arguments(
        function,
        within("voltage_peak", voltage_peak, "V", 0.0, table.rows[-1], cure=_CONSULT),
        whole("pollution_degree", pollution_degree, 1, 3),
    )
    values = table.values("reinforced" if insulation == "reinforced" else "basic")
    return answer(np.interp(voltage, table.rows, values) * np.take([0.8, 1.0, 1.4], degree.astype(int) - 1))


def creepage(
    working_voltage_rms: Numbers,
    pollution_degree: Numbers,
    material_group: MaterialGroup,
    insulation: Grade,
    *,
    clearance: Numbers = 0.0,
) -> FloatOrArray:
    """Creepage distance along a surface.

    Parameters
    ----------
    working_voltage_rms : float or array
        Lasting voltage, RMS or DC, up to 2000 V [V]
    pollution_degree : float or array
        1 to 3 [-]
    material_group : str
        "I", "II", "IIIa" or "IIIb" [-]
    insulation : str
        "functional", "basic", "supplementary" or "reinforced" [-]
    clearance : float or array
        Clearance that the same insulation needs, corrected for altitude [m]

    Returns
    -------
    float or array
        Least distance along the surface, never less than the clearance [m]

    Raises
    ------
    InputError
        If the voltage is negative or above 2000 V, the clearance negative, or a choice none of those there are; for
        pollution degree 4, which has no row; for group IIIb above 630 V at degree 3, which is recalled as not
        recommended.

    Notes
    -----
    A table, interpolated as it allows; twice the table for reinforced insulation. Neither impulses nor peaks nor the
    altitude come into it, but for the clearance below which it may not be. Ribs and grooves are left out.

    References
    ----------
    IEC 60664-1 table F.4, as a catalogue of rail-mounted terminal blocks prints it: checks table-creepage-2-iii and its
    neighbours, creepage-230v-interpolated, creepage-not-less-than-clearance, creepage-ignores-altitude.

    Examples
    --------
    >>> from rs485kit.formulas import creepage
    >>> round(1e3 * creepage(250.0, 2, "IIIa", "reinforced"), 2)
    5.0
    """
    function = "creepage"
    refuse_choice(function, "material_group", material_group, _GROUPS)
    refuse_choice(function, "insulation", insulation, GRADES)
    working, degree, least = arguments(
        function,
        within("working_voltage_rms", working_voltage_rms, "V", 0.0, CREEPAGES.rows[-1], cure=_CONSULT),
        whole("pollution_degree", pollution_degree, 1, 3, cure=_NO_ROW),
        not_negative("clearance", clearance, "m"),
    )
    if material_group == "IIIb":
        tracks = (working > LIMIT_OF_GROUP_3B.value) & (degree == 3)
        refuse(function, "working_voltage_rms", tracks, working, "V", "630 V at most with group IIIb at degree 3",
               cure="take a material of another group")  # fmt: skip
    group = material_group.rstrip("ab")
    rows = _by_degree(CREEPAGES, working, degree, [f"{each} {group}" for each in (1, 2, 3)])
    return answer(np.maximum(_doubled(insulation) * rows, least))


def printed_creepage(
    working_voltage_rms: Numbers, pollution_degree: Numbers, insulation: Grade, *, clearance: Numbers = 0.0
) -> FloatOrArray:
    """Creepage distance on printed wiring.

    Parameters
    ----------
    working_voltage_rms : float or array
        Lasting voltage, RMS or DC, up to 1000 V [V]
    pollution_degree : float or array
        1 or 2 [-]
    insulation : str
        "functional", "basic", "supplementary" or "reinforced" [-]
    clearance : float or array
        Clearance that the same insulation needs, corrected for altitude [m]

    Returns
    -------
    float or array
        Least distance along the board, never less than the clearance [m]

    Raises
    ------
    InputError
        If the voltage is negative or above 1000 V, the clearance negative, or the degree or the grade none of those
        there are.

    Notes
    -----
    A table for boards of any material group at degree 1, and of any but IIIb at degree 2; interpolated as it allows,
    and doubled for reinforced insulation. The rules of this library do not use it and hold boards against `creepage`,
    which asks for as much or more.

    References
    ----------
    IEC 60664-1 table F.4, as a catalogue of rail-mounted terminal blocks prints it: checks table-printed-1 and -2,
    creepage-printed-wiring-400v.

    Examples
    --------
    >>> from rs485kit.formulas import printed_creepage
    >>> round(1e3 * printed_creepage(400.0, 2, "basic"), 2)
    2.0
    """
    function = "printed_creepage"
    refuse_choice(function, "insulation", insulation, GRADES)
    working, degree, least = arguments(
        function,
        within("working_voltage_rms", working_voltage_rms, "V", 0.0, PRINTED_CREEPAGES.rows[-1], cure=_CONSULT),
        whole("pollution_degree", pollution_degree, 1, 2, cure="at a higher degree the general table holds"),
        not_negative("clearance", clearance, "m"),
    )
    rows = _by_degree(PRINTED_CREEPAGES, working, degree, ["1", "2"])
    return answer(np.maximum(_doubled(insulation) * rows, least))


def groove_width(pollution_degree: Numbers, clearance: Numbers) -> FloatOrArray:
    """Least width of a groove that a creepage path follows; a narrower one is bridged.

    Parameters
    ----------
    pollution_degree : float or array
        1 to 4 [-]
    clearance : float or array
        Clearance that goes with the path [m]

    Returns
    -------
    float or array
        Width [m]

    Raises
    ------
    InputError
        If the degree is none of the four or the clearance is not positive.

    Notes
    -----
    0.25, 1.0, 1.5 or 2.5 mm; with a clearance below 3 mm a third of it is enough where that is less.

    References
    ----------
    IEC 60664-1, as a catalogue of connectors prints it: checks table-grooves, groove-width-narrow-clearance.

    Examples
    --------
    >>> from rs485kit.formulas import groove_width
    >>> round(1e3 * groove_width(2, 1.5e-3), 3)
    0.5
    """
    degree, clearance = arguments(
        "groove_width", whole("pollution_degree", pollution_degree, 1, 4), positive("clearance", clearance, "m")
    )
    width = np.take([entry.value for entry in GROOVE_WIDTHS], degree.astype(int) - 1)
    return answer(np.where(clearance < 3e-3, np.minimum(width, clearance / 3.0), width))


def _altitude(altitude: object) -> Argument:
    return within("altitude", altitude, "m", -500.0, ALTITUDE_FACTORS.rows[-1], cure=_CONSULT)


def _factor(altitude: Array) -> Array:
    rows, factors = ALTITUDE_FACTORS.rows, ALTITUDE_FACTORS.values("factor")
    return np.asarray(np.take(factors, np.searchsorted(rows, altitude)))


def _doubled(insulation: Grade) -> float:
    return 2.0 if insulation == "reinforced" else 1.0


def _by_degree(table: Table, at: Array, degree: Array, columns: list[str]) -> Array:
    return np.asarray(
        np.choose(degree.astype(int) - 1, [np.interp(at, table.rows, table.values(each)) for each in columns])
    )
