"""One object <-> plain dict, for every class of the model, read off its fields and their types.

A dimensioned figure is text with a unit (or a bare SI number), a triple is a table of min, typ and max, an object
is a table, and a tuple of objects is a list of tables. All that is wrong with a table is reported at once, each
problem with its place. An InputError without problems says that the cause has been reported elsewhere.
"""

import datetime
import difflib
import functools
import hashlib
import json
import re
import types
import typing
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Literal, NamedTuple, TypeAlias, TypeVar

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem, UnknownNameError, shown
from rs485kit.model.judgement import Settings
from rs485kit.units import MinTypMax

T = TypeVar("T")

# called with the class wanted, the text given and its place, where an object is given by name
Resolver: TypeAlias = Callable[[type, str, str], object]
# called with the class wanted, a table in place of an object and its place; returns the table to be read
Expander: TypeAlias = Callable[[type, Mapping[str, object], str], Mapping[str, object]]
# called with an object that another holds; returns the name to write in its place, or None to write it in full
Referrer: TypeAlias = Callable[[object], str | None]

What: TypeAlias = Literal[
    "figure", "spread", "object", "objects", "names", "pairs", "settings", "choice", "text", "flag", "whole", "day"
]

_MOST_UNKNOWN = 20
_LONGEST_COMPARED = 100
_MOST_COMPARED = 2000


@attrs.frozen
class Form:
    """What a field holds: the kind of value, its class or choices, its unit, and whether it may be None or left out."""

    what: What
    optional: bool = False
    required: bool = False
    kind: type = object
    choices: tuple[str, ...] = ()
    unit: str = ""


class Reading(NamedTuple):
    """What came of the fields of a table: good values, problems, and the fields that have no value."""

    values: dict[str, object]
    problems: list[Problem]
    failed: set[str]


@functools.lru_cache(64)
def forms(kind: Any) -> dict[str, Form]:
    """Return what each field of a class holds, in order.

    Parameters
    ----------
    kind : type
        A class of the model [-].

    Returns
    -------
    dict of str to Form
        By name of field [-].

    Raises
    ------
    TypeError
        If a field has a type that no table can hold.
    """
    hints = typing.get_type_hints(kind)
    return {field.name: _form(hints[field.name], field) for field in attrs.fields(kind) if field.init}


def _form(hint: Any, field: "attrs.Attribute[Any]") -> Form:
    members = typing.get_args(hint) if typing.get_origin(hint) in (typing.Union, types.UnionType) else (hint,)
    optional = type(None) in members
    plain = [member for member in members if member is not type(None)]
    form = _plain_form(plain[0], field.metadata.get("unit")) if len(plain) == 1 else None
    if form is None:
        raise TypeError(f"no table can hold a field of type {hint}")
    return attrs.evolve(form, optional=optional, required=field.default is attrs.NOTHING)


def _plain_form(hint: Any, unit: str | None) -> Form | None:
    if hint is MinTypMax or hint is float:
        return None if unit is None else Form("spread" if hint is MinTypMax else "figure", unit=unit)
    if typing.get_origin(hint) is Literal:
        return Form("choice", choices=typing.get_args(hint))
    if hint == Settings:
        return Form("settings")
    if typing.get_origin(hint) is tuple:
        return _tuple_form(typing.get_args(hint))
    if isinstance(hint, type) and attrs.has(hint):
        return Form("object", kind=hint)
    simple: dict[Any, What] = {str: "text", bool: "flag", int: "whole", datetime.date: "day"}
    return Form(simple[hint]) if hint in simple else None


def _tuple_form(members: tuple[Any, ...]) -> Form | None:
    if len(members) != 2 or members[1] is not Ellipsis:
        return None
    if isinstance(members[0], type) and attrs.has(members[0]):
        return Form("objects", kind=members[0])
    if members[0] is str:
        return Form("names")
    return Form("pairs") if members[0] == tuple[str, str] else None


# --- places and near names -------------------------------------------------------------------------------


def field_place(place: str, key: object) -> str:
    """Return the place of a field: `place.key`, the key in brackets and quotes where it is no plain word."""
    text = key if isinstance(key, str) else shown(key)
    if re.fullmatch(r"[A-Za-z_][A-Za-z0-9_-]*", text):
        return f"{place}.{text}" if place else text
    return named_place(place, text)


def named_place(place: str, name: str) -> str:
    """Return the place of a named item: `place["name"]`."""
    return f'{place}["{name if len(name) <= _LONGEST_COMPARED else name[:_LONGEST_COMPARED] + "..."}"]'


def item_place(place: str, index: int, item: object) -> str:
    """Return the place of an item of a list: by its name if it has one, else by its index."""
    name = item.get("name") if isinstance(item, Mapping) else getattr(item, "name", None)
    return named_place(place, name) if isinstance(name, str) and name else f"{place}[{index}]"


def offer(name: object, known: Iterable[str]) -> str:
    """Return the question whether a near name was meant, or no text."""
    names = list(known)
    if not isinstance(name, str) or len(name) > _LONGEST_COMPARED or len(names) > _MOST_COMPARED:
        return ""
    near = difflib.get_close_matches(name, names, n=2)
    return "did you mean " + " or ".join(f'"{each}"' for each in near) + "?" if near else ""


def unknown_key(place: str, key: object, allowed: Iterable[str]) -> Problem:
    """Return the problem of a key that a table may not have."""
    return Problem(field_place(place, key), "an unknown key", "one of " + ", ".join(allowed), offer(key, allowed))


def unknown_name(place: str, error: UnknownNameError) -> Problem:
    """Return the problem of a name that nothing bears."""
    near = "did you mean " + " or ".join(f'"{name}"' for name in error.near) + "?" if error.near else error.hint
    return Problem(place, shown(error.name), f"the name of a {error.kind}", near)


# --- reading ---------------------------------------------------------------------------------------------


def object_from_table(
    kind: type[T],
    table: object,
    *,
    place: str,
    resolve: Resolver | None = None,
    expand: Expander | None = None,
    also: tuple[str, ...] = (),
) -> T:
    """Return the object that a table describes.

    Parameters
    ----------
    kind : type
        Class of the object [-].
    table : mapping
        Its fields by name; what is left out has the default of the class [-].
    place : str
        Where the table stands, for errors [-].
    resolve : callable or None
        Finds an object that is given by name; None: names are refused [-].
    expand : callable or None
        Makes the table to be read from one that stands in place of an inner object; None: as it is [-].
    also : tuple of str
        Keys that are no fields but that the caller has read [-].

    Returns
    -------
    object
        The object [-].

    Raises
    ------
    InputError
        With every problem of the table, each with its place.
    """
    reading = fields_from_table(kind, table, place=place, resolve=resolve, expand=expand, also=also)
    problems = reading.problems
    if isinstance(table, Mapping):
        problems += _missing(kind, table, place)
    if problems or reading.failed:
        raise InputError(*problems)
    try:
        return kind(**reading.values)
    except InputError as error:
        name = reading.values.get("name", "")
        raise InputError(*(_relocated(p, f'{kind.__name__} "{name}"', kind, place) for p in error.problems)) from None


def fields_from_table(
    kind: type,
    table: object,
    *,
    place: str,
    resolve: Resolver | None = None,
    expand: Expander | None = None,
    also: tuple[str, ...] = (),
) -> Reading:
    """Return the fields that a table states, for a table that need not be complete.

    Parameters
    ----------
    kind : type
        Class whose fields they are [-].
    table : mapping
        Fields by name [-].
    place : str
        Where the table stands, for errors [-].
    resolve : callable or None
        As in `object_from_table` [-].
    expand : callable or None
        As in `object_from_table` [-].
    also : tuple of str
        As in `object_from_table` [-].

    Returns
    -------
    Reading
        Values, problems, and the names of the fields that could not be read [-].
    """
    if not isinstance(table, Mapping):
        return Reading({}, [Problem(place, shown(table), f"a table with the fields of {_a(kind)}")], {""})
    known = forms(kind)
    reading = Reading({}, [], set())
    allowed = (*known, *also)
    unknown = [key for key in table if key not in allowed]
    for key in unknown[:_MOST_UNKNOWN]:
        reading.problems.append(unknown_key(place, key, allowed))
    if len(unknown) > _MOST_UNKNOWN:
        given = f"{len(unknown) - _MOST_UNKNOWN} unknown keys more"
        reading.problems.append(Problem(place, given, f"the fields of {_a(kind)}"))
    for field in attrs.fields(kind):
        if field.name not in known or field.name not in table:
            continue
        where = field_place(place, field.name)
        try:
            inner = _read(known[field.name], table[field.name], where, resolve, expand)
            reading.values[field.name] = _admitted(kind, field, inner, where)
        except InputError as error:
            reading.problems.extend(error.problems)
            reading.failed.add(field.name)
    return reading


def _missing(kind: type, table: Mapping[str, object], place: str) -> list[Problem]:
    return [
        Problem(field_place(place, name), "nothing", _wanted(form), "the field is required")
        for name, form in forms(kind).items()
        if form.required and name not in table
    ]


def _admitted(kind: type, field: "attrs.Attribute[Any]", value: object, place: str) -> object:
    """Pass one value through the converter and the validator of its field, before there is an object."""
    stand_in: Any = object.__new__(kind)
    try:
        if callable(field.converter):
            value = field.converter(value)
        if field.validator is not None:
            field.validator(stand_in, field, value)
    except InputError as error:
        prefix = f"{kind.__name__}.{field.name}"
        raise InputError(*(_relocated(p, prefix, kind, place) for p in error.problems)) from None
    return value


def _relocated(problem: Problem, prefix: str, kind: type, place: str) -> Problem:
    """Return a problem that a class named by itself, under the place of the table."""
    head = prefix if problem.place.startswith(prefix) else kind.__name__
    rest = problem.place.removeprefix(head)
    where = place + rest if rest.startswith((".", "[")) else place
    return Problem(where, problem.given, problem.wanted, problem.cure)


def _read(form: Form, given: object, place: str, resolve: Resolver | None, expand: Expander | None) -> object:
    """Return a value that the converter and validator of its field may see."""
    if given is None and form.optional:
        return None
    if form.what == "object":
        return _read_object(form.kind, given, place, resolve, expand)
    if form.what == "objects":
        if isinstance(given, str | Mapping | form.kind):
            return (_read_object(form.kind, given, place, resolve, expand),)
        return _collected(
            given, place, lambda item, where: _read_object(form.kind, item, where, resolve, expand), _wanted(form)
        )  # fmt: skip
    if form.what == "names":
        return (given,) if isinstance(given, str) else _collected(given, place, _read_name, _wanted(form))
    if not _right_type(form, given):
        raise InputError(Problem(place, shown(given), _wanted(form), _choice_offer(form, given)))
    return given


def _collected(items: object, place: str, read: Callable[[object, str], object], wanted: str) -> tuple[object, ...]:
    """Read every item of a list and gather what is wrong with all of them."""
    if not isinstance(items, list | tuple):
        raise InputError(Problem(place, shown(items), wanted))
    problems: list[Problem] = []
    values = []
    failed = False
    for index, item in enumerate(items):
        try:
            values.append(read(item, item_place(place, index, item)))
        except InputError as error:
            failed = True
            problems.extend(error.problems)
    if failed:
        raise InputError(*problems)
    return tuple(values)


def _read_object(kind: type, given: object, place: str, resolve: Resolver | None, expand: Expander | None) -> object:
    if isinstance(given, kind):
        return given
    if isinstance(given, str) and resolve is not None:
        try:
            return resolve(kind, given, place)
        except UnknownNameError as error:
            raise InputError(unknown_name(place, error)) from None
    if isinstance(given, Mapping):
        return object_from_table(
            kind, given if expand is None else expand(kind, given, place), place=place, resolve=resolve, expand=expand
        )  # fmt: skip
    by_name = " or the name of one" if resolve is not None else ""
    raise InputError(Problem(place, shown(given), f"a table with the fields of {_a(kind)}{by_name}"))


def _read_name(given: object, place: str) -> object:
    if not isinstance(given, str):
        raise InputError(Problem(place, shown(given), "a name"))
    return given


def _right_type(form: Form, given: object) -> bool:
    match form.what:
        case "figure":
            return not isinstance(given, list | tuple | Mapping)
        case "spread":
            return not isinstance(given, list | tuple)
        case "choice":
            return given in form.choices
        case "text":
            return isinstance(given, str)
        case "flag":
            return isinstance(given, bool)
        case "whole":
            return isinstance(given, int) and not isinstance(given, bool)
        case "settings":
            return isinstance(given, Mapping)
        case "pairs":
            return isinstance(given, list | tuple)
        case _:
            return isinstance(given, datetime.date | str)


def _wanted(form: Form) -> str:
    """Say what a field takes, for an error."""
    match form.what:
        case "figure" | "spread":
            # the unit room words it, so that a file and a constructor say the same
            text = units.wanted(form.unit)
            return text + ", or a table of min, typ and max" if form.what == "spread" else text
        case "choice":
            return "one of " + ", ".join(f'"{choice}"' for choice in form.choices)
        case "object":
            return f"a table with the fields of {_a(form.kind)}"
        case "objects":
            return f"a list of tables with the fields of {_a(form.kind)}"
        case "settings":
            return "a table of parameters by rule"
        case "pairs":
            return "a list of pairs of names"
        case "day":
            return "a day such as 2027-03-31"
        case "names":
            return "a list of names"
        case "flag":
            return "true or false"
        case "whole":
            return "a whole number"
        case _:
            return "text"


def _choice_offer(form: Form, given: object) -> str:
    return offer(given, form.choices) if form.what == "choice" else ""


def _a(kind: type) -> str:
    return f"{'an' if kind.__name__[0] in 'AEIOU' else 'a'} {kind.__name__}"


# --- writing ---------------------------------------------------------------------------------------------


def table_from_object(thing: object, *, refer: Referrer | None = None) -> dict[str, object]:
    """Return an object as a plain dict that reads back to an equal object.

    Parameters
    ----------
    thing : object
        An object of the model [-].
    refer : callable or None
        Says under which name an inner object is to be written; None: all are written in full [-].

    Returns
    -------
    dict
        The fields that differ from their default, dimensioned figures as text [-].
    """
    table: dict[str, object] = {}
    kind: Any = type(thing)
    for field in attrs.fields(kind):
        value = getattr(thing, field.name)
        if field.init and (field.default is attrs.NOTHING or value != field.default):
            table[field.name] = _written(forms(kind)[field.name], value, refer)
    return table


def _written(form: Form, value: Any, refer: Referrer | None) -> object:
    if value is None:
        return None
    match form.what:
        case "figure":
            return _figure(value, form.unit)
        case "spread" if value.exact:
            return _figure(value.typ, form.unit)
        case "spread":
            members = {"min": value.min, "typ": value.typ, "max": value.max}
            return {name: _figure(member, form.unit) for name, member in members.items() if member is not None}
        case "object":
            return _inner(value, refer)
        case "objects":
            return [_inner(item, refer) for item in value]
        case "names":
            return list(value)
        case "pairs":
            return [list(pair) for pair in value]
        case "settings":
            return {rule: dict(values) for rule, values in value}
        case "whole":
            return int(value)
        case _:
            return value


def _figure(value: float, unit: str) -> str | float:
    # minus zero equals zero, and equal objects have equal tables
    return units.text_of(value + 0.0, unit)


def _inner(thing: object, refer: Referrer | None) -> object:
    name = refer(thing) if refer is not None else None
    return table_from_object(thing, refer=refer) if name is None else name


def digest(thing: object) -> str:
    """Return the SHA-256 of an object's table, equal for equal objects.

    Parameters
    ----------
    thing : object
        An object of the model, such as a bus [-].

    Returns
    -------
    str
        64 hexadecimal digits, of which the first 16 are enough to show [-].
    """
    text = json.dumps(_canonical(table_from_object(thing)), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _canonical(value: object) -> object:
    """Return a table in which equal values have one form: 1, 1.0 and true are equal to Python."""
    if isinstance(value, dict):
        return {key: _canonical(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_canonical(item) for item in value]
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, bool | int | float) and value == int(value):
        return int(value)
    return value
