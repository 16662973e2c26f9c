"""Text, Quantities and bare numbers in; SI floats out."""

import difflib
import functools
import math
import numbers
import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Any, Protocol, TypeAlias, runtime_checkable

import attrs
import pint
from pint.util import UnitsContainer

from rs485kit.errors import InputError, Problem, shown


@runtime_checkable
class HasUnits(Protocol):
    """What a Quantity of any registry offers."""

    def m_as(self, units: str) -> Any:
        """Return the magnitude in the units named."""


Given: TypeAlias = str | float | HasUnits


@attrs.frozen
class MinTypMax:
    """A figure as a datasheet states it: least, typical and largest value, each an SI float or None.

    None means that the datasheet does not say. Text is read by the field into which the triple goes.

    Parameters
    ----------
    min : float or None
        Least value [SI unit of the field].
    typ : float or None
        Typical value [SI unit of the field].
    max : float or None
        Largest value [SI unit of the field].
    """

    min: float | None = attrs.field(default=None, kw_only=True)
    typ: float | None = attrs.field(default=None, kw_only=True)
    max: float | None = attrs.field(default=None, kw_only=True)

    def __attrs_post_init__(self) -> None:
        """Refuse an empty triple, a member that is no finite number, and members out of order."""
        known = []
        for name in ("min", "typ", "max"):
            value = getattr(self, name)
            if value is None:
                continue
            number = _float(value) if _is_number(value) else math.nan
            if not math.isfinite(number):
                raise InputError(Problem(f"MinTypMax.{name}", shown(value), "a finite number in SI units, or None"))
            object.__setattr__(self, name, number)
            known.append(number)
        if not known:
            raise InputError(Problem("MinTypMax", "no figure", "at least one of min, typ and max"))
        if known != sorted(known):
            raise InputError(Problem("MinTypMax", str(self), "min <= typ <= max"))

    def __str__(self) -> str:
        return " / ".join("?" if value is None else f"{value:.6g}" for value in (self.min, self.typ, self.max))

    @property
    def nominal(self) -> float | None:
        """The typical value; where none is stated, the middle of the two limits; else None (unknown)."""
        if self.typ is not None:
            return self.typ
        if self.min is not None and self.max is not None:
            return self.min + (self.max - self.min) / 2
        return None

    @property
    def exact(self) -> bool:
        """Whether the three members are one value."""
        return self.min is not None and self.min == self.typ == self.max


Triple: TypeAlias = tuple[Given | None, Given | None, Given | None]
GivenSpread: TypeAlias = Given | Triple | MinTypMax | Mapping[str, Given]

# --- the private table -----------------------------------------------------------------------------------

_PREFIXES = {
    "G": ("giga", "1000000000"), "M": ("mega", "1000000"), "k": ("kilo", "1000"), "c": ("centi", "1/100"),
    "m": ("milli", "1/1000"), "u": ("micro", "1/1000000"), "n": ("nano", "1/1000000000"),
    "p": ("pico", "1/1000000000000"),
}  # fmt: skip
# name in pint's words, symbol, definition, prefixes that may stand before it
_UNITS = (
    ("meter", "m", "[length]", "kcmun"),
    ("second", "s", "[time]", "munp"),
    ("volt", "V", "[voltage]", "kmu"),
    ("ampere", "A", "[current]", "kmun"),
    ("bit", "bit", "[information]", "kM"),
    ("kelvin", "K", "[temperature]", ""),
    ("radian", "rad", "[angle]", ""),
    ("ohm", "ohm", "volt / ampere", "GMkm"),
    ("siemens", "S", "ampere / volt", "mun"),
    ("watt", "W", "volt * ampere", "km"),
    ("farad", "F", "ampere * second / volt", "unp"),
    ("henry", "H", "volt * second / ampere", "mun"),
    ("joule", "J", "volt * ampere * second", "mu"),
    ("coulomb", "C", "ampere * second", "mun"),
    ("hertz", "Hz", "1 / second", "GMk"),
    ("baud", "Bd", "bit / second", "kM"),
    ("minute", "min", "60 * second", ""),
    ("hour", "h", "3600 * second", ""),
    ("inch", "in", "0.0254 * meter", ""),
    ("foot", "ft", "0.3048 * meter", ""),
    ("mile", "mi", "1609.344 * meter", ""),
    ("degree", "deg", "{} * radian / 180".format("3.14159265358979323846"), ""),
    ("percent", "%", "1/100", ""),
    ("decibel", "dB", "[level]", ""),
)

_OTHER_SPELLINGS = {
    "bps": "bit/s", "kbps": "kbit/s", "Mbps": "Mbit/s", "baud": "Bd", "bd": "Bd", "Baud": "Bd",
    "R": "ohm", "Ohm": "ohm", "ohms": "ohm", "Ohms": "ohm", "volt": "V", "volts": "V",
    "metre": "m", "meter": "m", "metres": "m", "meters": "m", "feet": "ft",
}  # fmt: skip
_SYMBOLS: dict[str, str] = {}  # "km" -> "kilometer"


def _defined(name: str, definition: str) -> str:
    """Return one definition in pint's own form, fractions written as products."""
    return f"{name} = {definition}"


@functools.lru_cache(1)
def _registry() -> pint.UnitRegistry[Any]:
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Fraction)
    for name, _, definition, prefixes in _UNITS:
        registry.define(_defined(name, definition))
        for prefix in prefixes:
            word, scale = _PREFIXES[prefix]
            registry.define(_defined(f"{word}{name}", f"{scale} * {name}"))
    return registry


for _name, _symbol, _, _prefixes in _UNITS:
    _SYMBOLS[_symbol] = _name
    for _prefix in _prefixes:
        _SYMBOLS[_prefix + _symbol] = _PREFIXES[_prefix][0] + _name
_NAMES = frozenset(_SYMBOLS.values())

# how each SI unit is named to a person, an example of it, and what is often given in its place
_EXAMPLES = {
    "m": "1.2 km", "s": "100 ns", "V": "5 V", "A": "60 mA", "ohm": "120 ohm", "ohm/m": "84.2 ohm/km",
    "bit/s": "115.2 kbit/s", "F": "50 pF", "F/m": "42 pF/m", "W": "0.5 W", "K": "25 degC", "rad": "120 deg",
    "": "66 %", "V/s": "25 kV/us", "K/W": "110 K/W", "Hz": "50 Hz", "dB/m": "20 dB/km",
}  # fmt: skip

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_TERM = r"[A-Za-z%]{1,12}(?:\^[23])?"
_VALUE = re.compile(rf"({_NUMBER}) ({_TERM}(?:[*/]{_TERM}){{0,3}})(?: \+/- ({_NUMBER}) %)?")
_UNIT = re.compile(rf"{_TERM}(?:[*/]{_TERM}){{0,3}}")
_LONGEST = 64
_SPELLINGS = (("°C", "degC"), ("°", "deg"), ("µ", "u"), ("\u03bc", "u"), ("Ω", "ohm"), ("\u2126", "ohm"),
              ("±", "+/-"), ("²", "^2"), ("³", "^3"))  # fmt: skip


def _container(unit: str) -> UnitsContainer:
    """Return a unit text of the right form as powers of named units; an unknown name is a LookupError."""
    powers: dict[str, int] = {}
    sign = 1
    for term in re.split(r"([*/])", unit) if unit else ():
        if term in "*/":
            sign = 1 if term == "*" else -1
            continue
        symbol, _, power = term.partition("^")
        name = _SYMBOLS[symbol]
        powers[name] = powers.get(name, 0) + sign * int(power or 1)
    return UnitsContainer(powers)


@functools.lru_cache(512)
def _factor(unit: UnitsContainer, wanted: str) -> Fraction | None:
    """Return the exact factor from a unit to the SI unit wanted, or None if they differ in dimension."""
    registry = _registry()
    try:
        return Fraction(registry.convert(Fraction(1), unit, _container(wanted)))
    except pint.DimensionalityError:
        return None


def example_of(unit: str) -> str:
    """Return a figure of that unit as a person writes it, empty if none is known."""
    return _EXAMPLES.get(unit, "")


def wanted(unit: str) -> str:
    """Say what a figure of that unit takes, for an error."""
    example = example_of(unit)
    form = f'a number, one space and a unit convertible to {unit or "a bare ratio"}'
    form += f', such as "{example}"' if example else ""
    return f"{form}, or a bare number in {unit}" if unit else f"{form}, or a bare number"


def _refused(given: object, unit: str, cure: str = "") -> InputError:
    return InputError(Problem("", shown(given), wanted(unit), cure))


def _cure(text: str, unit: str) -> str:
    """Say what is wrong with text that is not of the form."""
    if len(text) > _LONGEST:
        return f"text of at most {_LONGEST} characters is read"
    if re.search(r"[0-9],[0-9]", text):
        return 'use "." as the decimal sign and no thousands separator'
    if re.search(r"[0-9][ _'][0-9]", text):
        return "write the digits together, without a separator"
    if re.fullmatch(_NUMBER, text):
        return "name the unit, or give a bare number without quotes"
    if re.search(r"\+/-|[\u00b1]", text):
        return 'write a tolerance behind the unit as "+/- 1 %"'
    if re.fullmatch(rf"{_NUMBER}[A-Za-z%].*", text):
        return "put one space between number and unit"
    return "expressions are not evaluated" if re.search(r"\*\*|[()]", text) else ""


def _foreign(symbols: list[str], unit: str) -> str:
    """Say what is wrong with unit names that the table does not hold."""
    unknown = [symbol for symbol in symbols if symbol not in _SYMBOLS]
    if not unknown:
        return f"the unit wanted, {unit}, is not known itself"
    if unknown[0] in _OTHER_SPELLINGS:
        return f"the unit {unknown[0]} is written {_OTHER_SPELLINGS[unknown[0]]}"
    near = difflib.get_close_matches(unknown[0], list(_SYMBOLS), n=2, cutoff=0.6)
    offer = f"; did you mean {' or '.join(near)}?" if near else ""
    rate = "; a data rate is stated in bit/s" if unit == "bit/s" else ""
    return f"the unit {unknown[0]} is not known{offer}{rate}"


def _parse(text: str, unit: str) -> tuple[Fraction, Fraction]:
    """Return the value of a text in the SI unit and its half-width, both exact."""
    plain = text
    for spelling, ascii_form in _SPELLINGS:
        plain = plain.replace(spelling, ascii_form)
    match = _VALUE.fullmatch(plain) if len(text) <= _LONGEST else None
    if match is None:
        raise _refused(text, unit, _cure(text, unit))
    number, name, half = match.groups()
    share = Fraction(half) / 100 if half else Fraction(0)
    if share < 0:
        raise _refused(text, unit, "a tolerance is not negative")
    if unit == "K" and name == "degC":
        if half:
            raise _refused(text, unit, "a temperature takes no tolerance in per cent; give min, typ and max")
        return Fraction(number) + Fraction("273.15"), Fraction(0)
    try:
        factor = _factor(_container(name), unit)
    except LookupError:
        raise _refused(text, unit, _foreign(re.findall(r"[A-Za-z%]+", name), unit)) from None
    if factor is None:
        raise _refused(text, unit, f"{name} is not convertible to {unit or 'a bare ratio'}")
    value = Fraction(number) * factor
    return value, abs(value) * share


def _floated(value: Fraction, given: object, unit: str) -> float:
    try:
        result = float(value)
    except OverflowError:
        result = math.inf
    if math.isinf(result) or (result == 0.0 and value != 0):
        raise _refused(given, unit, "the figure is out of the range of floating point")
    return result


def _is_number(given: object) -> bool:
    return isinstance(given, numbers.Real) and not isinstance(given, bool)


def _float(given: Any) -> float:
    """Return a number as a float; one too large for a float is infinite."""
    try:
        return float(given)
    except OverflowError:
        return math.inf


def _plain(given: Any, unit: str) -> float:
    value = _float(given)
    if not math.isfinite(value):
        raise _refused(given, unit, "the figure must be finite")
    return value


def _quantity(given: HasUnits, unit: str) -> float:
    """Return a Quantity of any registry in the SI unit: by our own table where it holds the unit."""
    magnitude: Any = getattr(given, "magnitude", None)
    items = dict(getattr(given, "unit_items", dict)())
    if not _is_number(magnitude):
        raise _refused(given, unit, "the magnitude must be one number")
    _plain(magnitude, unit)
    if items and all(name in _NAMES and power == int(power) for name, power in items.items()):
        factor = _factor(UnitsContainer({name: int(power) for name, power in items.items()}), unit)
        if factor is None:
            raise _refused(given, unit, f"its unit is not convertible to {unit or 'a bare ratio'}")
        return _floated(Fraction(repr(float(magnitude))) * factor, given, unit)
    if "bit" in unit or unit == "Hz":
        raise _refused(given, unit, "give it in bit/s" if "bit" in unit else "give it in Hz")
    try:
        value = float(given.m_as(unit or "dimensionless"))
    except Exception as error:
        # any registry may raise its own kind of error here
        raise _refused(given, unit, str(error)) from None
    return _plain(value, unit)


@functools.lru_cache(512)
def _scale(unit: str) -> Fraction:
    """Return how many of its SI unit a unit is; an unknown name is a LookupError."""
    factor: Any = _registry().get_root_units(_container(unit))[0]
    return Fraction(factor)


def refuse_scaled(unit: object) -> None:
    """Refuse what is no SI unit of the library: an unknown one, or one with a prefix or factor, such as mV or ft.

    Parameters
    ----------
    unit : str
        The unit, "" for a ratio [-].

    Raises
    ------
    InputError
        If a figure of that unit would not be an SI float.
    """
    form = 'an SI unit such as "V", "ohm" or "ohm/m", or "" for a ratio'
    if not isinstance(unit, str) or (unit and _UNIT.fullmatch(unit) is None):
        raise InputError(Problem("unit", shown(unit), form))
    try:
        factor = _scale(unit)
    except LookupError:
        raise InputError(Problem("unit", shown(unit), form, _foreign(re.findall(r"[A-Za-z%]+", unit), unit))) from None
    if factor != 1:
        cure = f'the rule gets SI floats; text such as "3 {unit}" may still be given'
        raise InputError(Problem("unit", shown(unit), f"{form}, without a prefix or factor", cure))


def si(given: object, unit: str) -> float:
    """Return what was given as an SI float.

    Parameters
    ----------
    given : str, float or Quantity
        Text of the form ``NUMBER UNIT``, a bare number, which is SI, or a Quantity of any registry [`unit`].
    unit : str
        The SI unit, "" for a ratio [-].

    Returns
    -------
    float
        The value [`unit`].

    Raises
    ------
    InputError
        If it is not of that form, not of that dimension, or not finite.
    """
    if isinstance(given, str):
        value, half = _parse(given, unit)
        if half:
            raise _refused(given, unit, "this field takes one value, without a tolerance")
        return _floated(value, given, unit)
    if _is_number(given):
        return _plain(given, unit)
    if isinstance(given, HasUnits):
        return _quantity(given, unit)
    raise _refused(given, unit)


def spread(given: object, unit: str) -> MinTypMax:
    """Return what was given as a least, typical and largest SI value.

    Parameters
    ----------
    given : str, float, Quantity, tuple, mapping or MinTypMax
        One exact value, text with a tolerance ("120 ohm +/- 1 %"), or (min, typ, max) with None for what the
        datasheet does not say; a mapping has the keys min, typ and max [`unit`].
    unit : str
        The SI unit, "" for a ratio [-].

    Returns
    -------
    MinTypMax
        The values [`unit`].

    Raises
    ------
    InputError
        If a member is not of the form or the dimension wanted, or the members are out of order.
    """
    if isinstance(given, MinTypMax):
        return given
    if isinstance(given, str):
        value, half = _parse(given, unit)
        low, typical, high = (_floated(v, given, unit) for v in (value - half, value, value + half))
        return MinTypMax(min=low, typ=typical, max=high)
    members = _members(given, unit)
    if members is None:
        value_si = si(given, unit)
        return MinTypMax(min=value_si, typ=value_si, max=value_si)
    values = [None if member is None else si(member, unit) for member in members]
    try:
        return MinTypMax(min=values[0], typ=values[1], max=values[2])
    except InputError as error:
        problem = error.problems[0]
        raise InputError(Problem("", shown(given), problem.wanted)) from None


def _members(given: object, unit: str) -> tuple[object, object, object] | None:
    if isinstance(given, Mapping):
        foreign = sorted(set(map(str, given)) - {"min", "typ", "max"})
        if foreign:
            raise _refused(given, unit, f"the keys are min, typ and max, not {foreign[0]}")
        return given.get("min"), given.get("typ"), given.get("max")
    if isinstance(given, tuple | list):
        if len(given) != 3:
            raise _refused(given, unit, "a triple is (min, typ, max)")
        return given[0], given[1], given[2]
    return None
