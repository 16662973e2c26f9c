"""Bus -> plain mapping, and mapping -> TOML: nodes, taps and segments in full, parts by name.

Every part is written in full, a catalogue's too, so that a file says the same under any version of the library.
"""

import datetime
import os
import re
import secrets
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import attrs

from rs485kit.errors import InputError, Problem, shown
from rs485kit.files.mapping import FORMAT
from rs485kit.files.parts import KINDS
from rs485kit.files.reading import MOST_BYTES, MOST_IN_LINE
from rs485kit.model import Bus
from rs485kit.tables import forms, table_from_object

_GROUP_OF = {kind: group for group, kind in KINDS.items()}
_UNNAMED = {"terminations": "termination", "biases": "bias", "barriers": "barrier"}
_LONGEST_ROW = MOST_IN_LINE - 200  # leaves room for the key and the brackets around it
_ESCAPED = re.compile(r'["\\\x00-\x1f\x7f]')
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t"}


def bus_to_mapping(bus: Bus) -> dict[str, Any]:
    """Return a bus as plain tables that `bus_from_mapping` reads back to an equal bus.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    dict
        Tables, lists, text, numbers and dates; dimensioned figures are text with a unit [-].

    Raises
    ------
    InputError
        If it is no bus.
    """
    if not isinstance(bus, Bus):
        raise InputError(Problem("", shown(bus), "a Bus"))
    names = _part_names(bus)
    mapping: dict[str, Any] = {"format": FORMAT, "bus": table_from_object(bus, refer=names.get)}
    for group, kind in KINDS.items():
        parts = {key: _part_table(kind, part, key, names) for part, key in names.items() if type(part) is kind}
        if parts:
            mapping.setdefault("parts", {})[group] = parts
    return mapping


def save_bus(bus: Bus, path: str | os.PathLike[str]) -> None:
    """Write a bus as TOML; an old file of that name stays whole until the new one is complete.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    path : str or path-like
        Path of the file [-].

    Raises
    ------
    InputError
        If it is no bus, if the file would be larger than `load_bus` reads, or if it cannot be written.
    """
    content = "".join(f"{line}\n" for line in _document(bus_to_mapping(bus))).encode()
    if not isinstance(path, str | os.PathLike):
        raise InputError(Problem("", shown(path), "the path of a file"))
    name = os.fsdecode(path)
    if len(content) > MOST_BYTES:
        given = f"a bus that fills {len(content)} bytes"
        raise InputError(Problem("", given, f"one whose file has at most {MOST_BYTES} bytes"), source=name)
    try:
        _replace(Path(name).resolve(), content)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(
            Problem("", f"a file that cannot be written ({why})", "a path to write to"), source=name
        ) from None


def _replace(path: Path, content: bytes) -> None:
    """Write beside the file, then put the new one in its place in one step."""
    beside = path.with_name(f".{secrets.token_hex(8)}.tmp")
    try:
        with beside.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        if path.exists():
            shutil.copymode(path, beside)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


# --- parts by name ---------------------------------------------------------------------------------------


def _part_names(bus: Bus) -> dict[object, str]:
    """Return the name in the file of every part that has a name of its own or is used more than once."""
    names: dict[object, str] = {}
    taken: set[tuple[str, str]] = set()
    last_number: Counter[tuple[str, str]] = Counter()
    for part, count in Counter(_held(bus)).items():
        own = getattr(part, "name", "")
        if not own and count == 1:
            continue
        group = _GROUP_OF[type(part)]
        # a dot would make it the name of a catalogue's part
        base = own.replace(".", "-") or _UNNAMED[group]
        key = base
        while (group, key) in taken:
            last_number[group, base] += 1
            key = f"{base}-{last_number[group, base] + 1}"
        taken.add((group, key))
        names[part] = key
    return names


def _held(thing: object) -> Iterator[object]:
    """Yield every part in an object, each as often as it is used."""
    kind: Any = type(thing)
    for field in attrs.fields(kind):
        value = getattr(thing, field.name)
        for item in value if isinstance(value, tuple) else (value,):
            if type(item) in _GROUP_OF:
                yield item
            if attrs.has(type(item)):
                yield from _held(item)


def _part_table(kind: type, part: object, key: str, names: dict[object, str]) -> dict[str, object]:
    """Return the table of a part; its name is written only where it is not the key."""
    fields = table_from_object(part, refer=names.get)
    own = fields.pop("name", "")
    return fields if own == key or "name" not in forms(kind) else {"name": own, **fields}


# --- TOML ------------------------------------------------------------------------------------------------


def _document(mapping: dict[str, Any]) -> Iterator[str]:
    yield f"format = {mapping['format']}"
    bus = dict(mapping["bus"])
    policy = bus.pop("policy", None)
    yield from _table("bus", bus)
    if policy is not None:
        settings = policy.pop("settings", {})
        yield from _table("bus.policy", policy)
        for rule, values in settings.items():
            yield from _table(f"bus.policy.settings.{_key(rule)}", values)
    for group, parts in mapping.get("parts", {}).items():
        for name, fields in parts.items():
            yield from _table(f"parts.{group}.{_key(name)}", fields)


def _table(header: str, fields: dict[str, Any]) -> Iterator[str]:
    yield ""
    yield f"[{header}]"
    for key, value in fields.items():
        if isinstance(value, list) and any(isinstance(item, dict) for item in value):
            yield f"{_key(key)} = ["
            for item in value:
                yield f"  {_row(item)},"
            yield "]"
        else:
            yield f"{_key(key)} = {_row(value)}"


def _row(value: object) -> str:
    """Return a value in one line, or with its lists broken where the line would be too long to be read back."""
    line = _inline(value)
    return line if len(line) <= _LONGEST_ROW else _inline(value, join=",\n    ")


def _inline(value: object, *, join: str = ", ") -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return _text(value)
        case int() | float():
            return repr(value)
        case datetime.date():
            return value.isoformat()
        case list():
            return "[" + join.join(_inline(item) for item in value) + "]"
        case dict():
            pairs = ", ".join(f"{_key(key)} = {_inline(item, join=join)}" for key, item in value.items())
            return f"{{ {pairs} }}" if pairs else "{}"
        case _:
            raise TypeError(f"no TOML for {shown(value)}")


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _text(key)


def _text(text: str) -> str:
    return '"' + _ESCAPED.sub(lambda match: _ESCAPES.get(match[0], f"\\u{ord(match[0]):04x}"), text) + '"'
