"""The form of a bus file as a JSON Schema, generated from the classes of the model.

The schema knows keys, types and the form of figures; plausible ranges, dimensions and references between rows are
known only to `bus_from_mapping`.
"""

import inspect
import re
from typing import Any, TypeAlias

from rs485kit.files.mapping import FORMAT, LISTS, OWN_OF_SEGMENT
from rs485kit.files.parts import GROUPS, KINDS, LIKE, TEMPLATES
from rs485kit.model import Bus, Earth, Node, Segment
from rs485kit.model.base import LONGEST_NAME, LONGEST_TEXT
from rs485kit.tables import Form, forms
from rs485kit.units import example_of

Schema: TypeAlias = dict[str, Any]

_NUMBER = r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?"
_UNIT = r"[A-Za-z%\u00b5\u03bc\u03a9\u2126\u00b0\u00b2\u00b3^23*/]{1,64}"
_FIGURE = f"^{_NUMBER} {_UNIT}$"
_SPREAD = rf"^{_NUMBER} {_UNIT}( (\+/-|\u00b1) {_NUMBER} %)?$"
_NULL: Schema = {"type": "null"}
_NAME: Schema = {"type": "string", "minLength": 1, "maxLength": LONGEST_NAME}
_PLACING: dict[str, Schema] = {
    "at": {
        "$ref": "#/$defs/figure%20m",
        "description": "Place along the trunk; nodes that have one form the trunk [m].",
    },
    "stub": {
        "$ref": "#/$defs/figure%20m",
        "description": 'Length from the trunk, where the passive "<name>.tap" is [m].',
    },
    "use": {**_NAME, "description": "Template under [parts.nodes]; what the row states itself wins."},
}


def schema() -> Schema:
    """Return the JSON Schema (draft 2020-12) of the mapping that `bus_from_mapping` reads.

    Returns
    -------
    dict
        The schema, of plain tables, lists, text and numbers [-].

    Examples
    --------
    >>> from rs485kit.files import schema
    >>> schema()["required"]
    ['format', 'bus']
    """
    defs: dict[str, Schema] = {}
    row = _table(defs, Node, extra=_PLACING, required=("name",))
    row["dependentRequired"] = {"stub": ["at"]}
    lists = {"nodes": row, "segments": _table(defs, Segment, required=("start", "end")), "earths": _table(defs, Earth)}
    described = _descriptions(Bus)
    bus = _table(defs, Bus, without=LISTS)
    for name in LISTS:
        bus["properties"][name] = {"type": "array", "items": lists[name], **described[name]}
    bus["required"] = ["nodes"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "bus file",
        "description": _first_line(Bus),
        "type": "object",
        "properties": {
            "format": {"const": FORMAT, "description": "Version of the form of the file."},
            "bus": bus,
            "defaults": _closed({"segment": _table(defs, Segment, without=OWN_OF_SEGMENT)}),
            "parts": _closed({group: _group(defs, group, kind) for group, kind in GROUPS.items()}),
        },
        "required": ["format", "bus"],
        "additionalProperties": False,
        "$defs": defs,
    }


def _closed(properties: dict[str, Schema]) -> Schema:
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _group(defs: dict[str, Schema], group: str, kind: type) -> Schema:
    """Return the schema of the parts of one kind, by name."""
    if group == TEMPLATES:
        part = _table(defs, kind, without=("name",), extra={LIKE: _like(kind)}, required=())
    else:
        needed = tuple(name for name, form in forms(kind).items() if form.required and name != "name")
        part = _derivable(defs, kind, needed)
    names = {"pattern": r"^[^.]+$", "maxLength": LONGEST_NAME}
    return {"type": "object", "propertyNames": names, "additionalProperties": part}


def _derivable(defs: dict[str, Schema], kind: type, needed: tuple[str, ...]) -> Schema:
    """Return the schema of a part's table, which either is like another part or states what is needed."""
    table = _table(defs, kind, extra={LIKE: _like(kind)}, required=())
    if needed:
        table["anyOf"] = [{"required": [LIKE]}, {"required": list(needed)}]
    return table


def _like(kind: type) -> Schema:
    return {**_NAME, "description": f"Another {kind.__name__} whose fields it takes over; its own win."}


def _table(
    defs: dict[str, Schema],
    kind: type,
    *,
    without: tuple[str, ...] = (),
    extra: dict[str, Schema] | None = None,
    required: tuple[str, ...] | None = None,
) -> Schema:
    """Return the schema of a table with the fields of a class."""
    described = _descriptions(kind)
    fields = {name: form for name, form in forms(kind).items() if name not in without}
    table = _closed({name: {**_field(defs, form), **described.get(name, {})} for name, form in fields.items()})
    table["properties"].update(extra or {})
    table["description"] = _first_line(kind)
    needed = [name for name, form in fields.items() if form.required] if required is None else list(required)
    if needed:
        table["required"] = needed
    return table


def _field(defs: dict[str, Schema], form: Form) -> Schema:
    plain = _plain(defs, form)
    return {"anyOf": [plain, _NULL]} if form.optional else plain


def _plain(defs: dict[str, Schema], form: Form) -> Schema:
    match form.what:
        case "figure" | "spread":
            return _figure(defs, form)
        case "object":
            return _object(defs, form.kind)
        case "objects":
            item = _object(defs, form.kind)
            return {"anyOf": [item, {"type": "array", "items": item}]}
        case "names":
            return {"anyOf": [_NAME, {"type": "array", "items": _NAME}]}
        case "pairs":
            return {"type": "array", "items": {"type": "array", "items": _NAME, "minItems": 2, "maxItems": 2}}
        case "settings":
            value = {"type": ["string", "number", "boolean"]}
            return {"type": "object", "additionalProperties": {"type": "object", "additionalProperties": value}}
        case "choice":
            return {"enum": list(form.choices)}
        case "flag":
            return {"type": "boolean"}
        case "whole":
            return {"type": "integer"}
        case "day":
            return {"type": "string", "format": "date", "pattern": r"^[0-9]{4}-?[0-9]{2}-?[0-9]{2}$"}
        case _:
            return {"type": "string", "maxLength": LONGEST_TEXT}


def _figure(defs: dict[str, Schema], form: Form) -> Schema:
    """Return a reference to the schema of figures of one unit, alone or with limits."""
    example = example_of(form.unit)
    meaning = f"text with a unit, or a bare number in {form.unit}" if form.unit else "a bare number, or text in %"
    one = f"figure {form.unit or 'ratio'}"
    text = {"type": "string", "pattern": _FIGURE, "maxLength": 64}
    defs.setdefault(one, {"anyOf": [text, {"type": "number"}], "description": meaning, "examples": [example]})
    if form.what == "figure":
        return _reference(one)
    several = f"limits {form.unit or 'ratio'}"
    members = {name: {"anyOf": [_reference(one), _NULL]} for name in ("min", "typ", "max")}
    choices = [{**text, "pattern": _SPREAD}, {"type": "number"}, {**_closed(members), "minProperties": 1}]
    meaning += ', perhaps with a tolerance ("+/- 1 %"), or a table of least, typical and largest value'
    defs.setdefault(several, {"anyOf": choices, "description": meaning, "examples": [example]})
    return _reference(several)


def _object(defs: dict[str, Schema], kind: type) -> Schema:
    """Return a reference to the schema of an object in its place: a table, and for a part also a name."""
    name = kind.__name__
    if name not in defs:
        defs[name] = {}
        if kind in KINDS.values():
            needed = tuple(name for name, form in forms(kind).items() if form.required)
            defs[name] = {"anyOf": [_NAME, _derivable(defs, kind, needed)]}
        else:
            defs[name] = _table(defs, kind)
    return _reference(name)


def _reference(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name.replace('/', '~1').replace(' ', '%20')}"}


def _first_line(kind: type) -> str:
    return inspect.cleandoc(kind.__doc__ or kind.__name__).splitlines()[0]


def _descriptions(kind: type) -> dict[str, Schema]:
    """Return what the docstring of a class says of each field, as a part of its schema."""
    text = inspect.cleandoc(kind.__doc__ or "")
    result: dict[str, Schema] = {}
    for names, lines in re.findall(r"^(\w+(?:, \w+)*) : .*\n((?: {4}.*\n?)+)", text, re.MULTILINE):
        description = " ".join(lines.split())
        result.update((name, {"description": description}) for name in names.split(", "))
    return result
