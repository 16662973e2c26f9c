"""What component standards demand of a part's line of life: so many years at more than the working voltage.

Only the first row was read. The others are recalled; they are data with their mark, and no pass may rest on them.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from rs485kit.errors import InputError, Problem
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, positive, refuse_choice
from rs485kit.formulas.component_tests import ComponentInsulation, ComponentStandard
from rs485kit.formulas.lifetime import YEAR
from rs485kit.formulas.stated import Known


class LifetimeDemand(NamedTuple):
    """Share of parts that may have failed, life before margins [s], factors on life and voltage, mark and source."""

    failure_share: float
    base_life: float
    life_factor: float
    voltage_factor: float
    known: Known
    source: str


LIFETIME_DEMANDS: Final[Mapping[tuple[str, str], LifetimeDemand]] = MappingProxyType(
    {
        ("IEC 60747-17", "reinforced"): LifetimeDemand(
            1e-6, 20.0 * YEAR, 1.5, 1.2, "read", "ZHCSK04C, insulation lifetime"
        ),
        ("VDE V 0884-11", "reinforced"): LifetimeDemand(
            1e-6, 20.0 * YEAR, 1.875, 1.2, "memory", "VDE V 0884-11, recalled"
        ),
        ("VDE V 0884-11", "basic"): LifetimeDemand(1e-3, 20.0 * YEAR, 1.3, 1.2, "memory", "VDE V 0884-11, recalled"),
    }
)


def demanded_life(standard: ComponentStandard, insulation: ComponentInsulation) -> float:
    """Life that a part's line of life must still show at the raised voltage.

    Parameters
    ----------
    standard : str
        "IEC 60747-17" or "VDE V 0884-11" [-]
    insulation : str
        "basic" or "reinforced" [-]

    Returns
    -------
    float
        Life [s]

    Raises
    ------
    InputError
        If no figure is known for the two together.

    Notes
    -----
    20 years times 1.5 for reinforced insulation under IEC 60747-17, with one failure in a million. From memory: 1.875
    under VDE V 0884-11, and 1.3 for basic insulation with one in a thousand; `LIFETIME_DEMANDS` has the mark.

    References
    ----------
    ZHCSK04C, insulation lifetime: checks lifetime-reinforced-margin, lifetime-reinforced-0884-11,
    lifetime-basic-0884-11.

    Examples
    --------
    >>> from rs485kit.formulas import demanded_life
    >>> from rs485kit.formulas.lifetime import YEAR
    >>> demanded_life("IEC 60747-17", "reinforced") / YEAR
    30.0
    """
    demand = _demand("demanded_life", standard, insulation)
    return demand.base_life * demand.life_factor


def demanded_life_voltage(
    working_voltage_rms: Numbers, standard: ComponentStandard, insulation: ComponentInsulation
) -> FloatOrArray:
    """Voltage at which a part's line of life must show the demanded life.

    Parameters
    ----------
    working_voltage_rms : float or array
        Working voltage for which it is rated, RMS [V]
    standard : str
        "IEC 60747-17" or "VDE V 0884-11" [-]
    insulation : str
        "basic" or "reinforced" [-]

    Returns
    -------
    float or array
        Voltage, RMS [V]

    Raises
    ------
    InputError
        If the voltage is not positive or no figure is known for the two together.

    Notes
    -----
    1.2 times the working voltage.

    References
    ----------
    ZHCSK04C, insulation lifetime: check lifetime-reinforced-margin.

    Examples
    --------
    >>> from rs485kit.formulas import demanded_life_voltage
    >>> demanded_life_voltage(400.0, "IEC 60747-17", "reinforced")
    480.0
    """
    demand = _demand("demanded_life_voltage", standard, insulation)
    (working_voltage_rms,) = arguments(
        "demanded_life_voltage", positive("working_voltage_rms", working_voltage_rms, "V")
    )
    return answer(demand.voltage_factor * working_voltage_rms)


def _demand(function: str, standard: str, insulation: str) -> LifetimeDemand:
    refuse_choice(function, "standard", standard, tuple(dict.fromkeys(name for name, _ in LIFETIME_DEMANDS)))
    refuse_choice(function, "insulation", insulation, tuple(dict.fromkeys(name for _, name in LIFETIME_DEMANDS)))
    if (standard, insulation) not in LIFETIME_DEMANDS:
        known = "; ".join(", ".join(row) for row in LIFETIME_DEMANDS)
        raise InputError(
            Problem(f"{function}.standard", f"{standard}, {insulation}", f"one of: {known}", "consult the standard")
        )
    return LIFETIME_DEMANDS[standard, insulation]
