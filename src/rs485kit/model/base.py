"""What every object of the model shares: naming errors by class and field, plausible ranges, and the view `.q`."""

import re
import unicodedata
from collections.abc import Callable, Iterable
from typing import Any, TypeAlias, TypeGuard

import attrs

from rs485kit.errors import InputError, Problem
from rs485kit.errors import shown as shown
from rs485kit.units import UNITS_OF, MinTypMax, Quantities

Validator: TypeAlias = Callable[[Any, "attrs.Attribute[Any]", Any], None]

LONGEST_NAME = 100
LONGEST_TEXT = 1000
TAP_SUFFIX = ".tap"


def named(cls: type, fields: list["attrs.Attribute[Any]"]) -> list["attrs.Attribute[Any]"]:
    """Wrap the unit converters of a class so that their errors name class and field; note the unit."""
    result = []
    for field in fields:
        converter = field.converter
        unit = UNITS_OF.get(converter) if callable(converter) else None
        if unit is None:
            result.append(field)
            continue
        place = f"{cls.__name__}.{field.name}"
        wrapped = _placed(converter, place)
        result.append(field.evolve(converter=wrapped, metadata={**field.metadata, "unit": unit}))
    return result


def _placed(converter: Callable[[Any], Any], place: str) -> Callable[[Any], Any]:
    def convert(given: Any) -> Any:
        try:
            return converter(given)
        except InputError as error:
            raise InputError(*(p.under(place) for p in error.problems)) from None

    return convert


def units_of(cls: type) -> dict[str, str]:
    """Return the fields of a class that carry a unit, with the unit."""
    return {f.name: f.metadata["unit"] for f in attrs.fields(cls) if "unit" in f.metadata}


class Viewed:
    """Gives a class the view `.q`, in which every dimensioned field is a Quantity."""

    __slots__ = ()

    @property
    def q(self) -> Quantities:
        """The dimensioned fields as Quantities of pint's application registry."""
        return Quantities(self, units_of(type(self)))


def _place(instance: Any, attribute: "attrs.Attribute[Any]") -> str:
    name = getattr(instance, "name", "")
    label = f' "{name}"' if isinstance(name, str) and name and attribute.name != "name" else ""
    return f"{type(instance).__name__}{label}.{attribute.name}"


def refused(instance: Any, attribute: "attrs.Attribute[Any]", value: object, wanted: str, cure: str = "") -> InputError:
    """Return the error for a field that holds what it may not."""
    return InputError(Problem(_place(instance, attribute), shown(value), wanted, cure))


def within(low: float, high: float, *, above: bool = False) -> Validator:
    """Return a validator for the plausible range of an SI figure, or of each member of a MinTypMax.

    Parameters
    ----------
    low : float
        Least value allowed [the field's unit].
    high : float
        Largest value allowed [the field's unit].
    above : bool
        Whether the least value itself is refused [-].

    Returns
    -------
    Validator
        For `attrs.field(validator=...)` [-].
    """

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        members = (value.min, value.typ, value.max) if isinstance(value, MinTypMax) else (value,)
        unit = attribute.metadata.get("unit", "")
        for member in members:
            if member is None or (low < member <= high) or (not above and member == low):
                continue
            border = f"more than {low:g}" if above else f"at least {low:g}"
            raise refused(
                instance, attribute, member, f"{border} and at most {high:g}{' ' if unit else ''}{unit}",
                "check the figure and its unit; a bare number is read as SI" if unit else "",
            )  # fmt: skip

    return validate


def zero_or_within(low: float, high: float) -> Validator:
    """Return a validator for a resistance of which each member is exactly 0 or in a plausible range.

    Parameters
    ----------
    low : float
        Least value above 0 allowed [the field's unit].
    high : float
        Largest value allowed [the field's unit].

    Returns
    -------
    Validator
        For `attrs.field(validator=...)` [-].
    """
    validate_range = within(low, high)

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        if value is None:
            return
        for member in (value.min, value.typ, value.max):
            if member != 0:
                validate_range(instance, attribute, member)

    return validate


def is_name(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse what is no usable name."""
    if not isinstance(value, str) or not value or len(value) > LONGEST_NAME or value != value.strip():
        wanted = f"a name of 1 to {LONGEST_NAME} characters without spaces at its ends"
        raise refused(instance, attribute, value, wanted)
    if not value.isprintable():
        raise refused(instance, attribute, value, "a name of printable characters")


def are_names(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse a sequence in which something is no usable name."""
    for item in value:
        is_name(instance, attribute, item)


def is_text(value: object) -> TypeGuard[str]:
    """Return whether a value is text that a file can hold: no control character but line end and tab."""
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        return False
    return all(character in "\n\t" or unicodedata.category(character) not in ("Cc", "Cs") for character in value)


def is_label(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse what is neither empty nor a usable name."""
    if value != "":
        is_name(instance, attribute, value)


def is_name_or_none(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse what is neither None nor a usable name."""
    if value is not None:
        is_name(instance, attribute, value)


def is_flag(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse what is not a bool."""
    if not isinstance(value, bool):
        raise refused(instance, attribute, value, "true or false")


def is_flag_or_none(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse what is neither a bool nor None (unknown)."""
    if value is not None:
        is_flag(instance, attribute, value)


def one_of(*choices: object) -> Validator:
    """Return a validator for a field that takes one of a few values; None is one only if it is listed."""

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        if isinstance(value, bool) or value not in choices:
            raise refused(instance, attribute, value, "one of " + ", ".join(map(repr, choices)))

    return validate


def whole_within(low: int, high: int) -> Validator:
    """Return a validator for a whole number of a range, or None (unknown)."""

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        if value is not None and (not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high):
            raise refused(instance, attribute, value, f"a whole number from {low} to {high}")

    return validate


def matching(pattern: str, wanted: str) -> Validator:
    """Return a validator for text that must match a pattern as a whole."""

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        if not isinstance(value, str) or re.fullmatch(pattern, value, re.ASCII) is None:
            raise refused(instance, attribute, value, wanted)

    return validate


def instance_of(kind: type) -> Validator:
    """Return a validator for a field that holds an object of one class."""

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        if not isinstance(value, kind):
            raise refused(instance, attribute, value, f"a {kind.__name__}")

    return validate


def optional_instance_of(kind: type) -> Validator:
    """Return a validator for a field that holds an object of one class or None (absent)."""
    validate_object = instance_of(kind)

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        if value is not None:
            validate_object(instance, attribute, value)

    return validate


def tuple_of(kind: type) -> Validator:
    """Return a validator for a field that holds a tuple of objects of one class."""

    def validate(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
        for item in value:
            if not isinstance(item, kind):
                raise refused(instance, attribute, item, f"{kind.__name__} objects")

    return validate


def tuple_from(given: Any, kind: type) -> tuple[Any, ...]:
    """Return None as an empty tuple, one object as a tuple of one, any other iterable as a tuple."""
    if given is None:
        return ()
    if isinstance(given, kind):
        return (given,)
    if isinstance(given, Iterable) and not isinstance(given, str | bytes | dict):
        return tuple(given)
    raise InputError(Problem("", shown(given), f"one {kind.__name__} object or a sequence of them"))
