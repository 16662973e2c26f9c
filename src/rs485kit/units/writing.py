"""Figures as text that reads back to the same float, and as Quantities of the application registry."""

import functools
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import pint

from rs485kit.units.reading import MinTypMax, si

# the units in which a figure is written, with the power of ten of each, largest first
_WRITTEN = {
    "m": (("m", 0),), "s": (("s", 0), ("ms", -3), ("us", -6), ("ns", -9), ("ps", -12)), "rad": (("rad", 0),),
    "V": (("kV", 3), ("V", 0), ("mV", -3)), "A": (("A", 0), ("mA", -3), ("uA", -6)),
    "ohm": (("Mohm", 6), ("kohm", 3), ("ohm", 0), ("mohm", -3)), "ohm/m": (("ohm/m", 0), ("ohm/km", -3)),
    "F": (("uF", -6), ("nF", -9), ("pF", -12)), "F/m": (("nF/m", -9), ("pF/m", -12)),
    "W": (("kW", 3), ("W", 0), ("mW", -3)), "V/s": (("kV/us", 9), ("V/us", 6), ("V/s", 0)),
    "bit/s": (("Mbit/s", 6), ("kbit/s", 3), ("bit/s", 0)), "Hz": (("MHz", 6), ("kHz", 3), ("Hz", 0)),
}  # fmt: skip
_LONGEST_WRITTEN = 32
_KELVIN_OFFSET = Decimal("273.15")


@functools.lru_cache(4096)
def text_of(value: float, unit: str) -> str | float:
    """Return an SI float as text that reads back to the same float; a ratio stays a bare number.

    Parameters
    ----------
    value : float
        The figure [`unit`].
    unit : str
        The SI unit, "" for a ratio [-].

    Returns
    -------
    str or float
        The text, such as "120 ohm" or "250 ns" [-].
    """
    if not unit:
        return value
    number = Decimal(repr(float(value)))
    if unit == "K":
        text = f"{(number - _KELVIN_OFFSET).normalize():f} degC"
    else:
        choices = _WRITTEN.get(unit, ((unit, 0),))
        name, power = next((each for each in choices if number.adjusted() >= each[1]), choices[-1])
        shifted = number.scaleb(-power) if number else number
        text = f"{shifted.normalize():f} {name if number else unit}"
    # a figure far from every unit of the list would be a long row of digits
    return text if len(text) <= _LONGEST_WRITTEN and si(text, unit) == value else f"{value!r} {unit}"


class Quantities:
    """The view `.q`: attributes that carry a unit, as Quantities of pint's application registry."""

    __slots__ = ("_of", "_units")

    def __init__(self, of: object, units: Mapping[str, str]) -> None:
        self._of = of
        self._units = units

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        if name not in self._units:
            known = ", ".join(sorted(self._units)) or "none"
            raise AttributeError(f"{type(self._of).__name__}.q has no {name!r}; with a unit are: {known}")
        return _as_quantity(getattr(self._of, name), self._units[name])

    def __dir__(self) -> list[str]:
        return sorted(self._units)


def _as_quantity(value: Any, unit: str) -> Any:
    if value is None:
        return None
    members = dict.fromkeys(getattr(value, "dimensioned_parts", ()), unit)
    if isinstance(value, MinTypMax):
        members = {"min": unit, "typ": unit, "max": unit, "nominal": unit}
    if members:
        return Quantities(value, members)
    # asked at each use, so that the view follows a registry that a user makes the application registry
    registry: Any = pint.get_application_registry()  # type: ignore[no-untyped-call]
    return registry.Quantity(value, unit)
