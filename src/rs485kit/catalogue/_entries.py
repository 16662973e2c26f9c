"""Reads part data: one TOML text holds the parts of one kind, and every figure in it names its source."""

import functools
import re
import tomllib
from collections.abc import Mapping
from importlib import resources
from typing import Any, TypeAlias

import attrs

from rs485kit.errors import InputError, Problem, shown
from rs485kit.model import Cable, IsolatedSupply, Isolator, Protector, TimingProfile, Transceiver
from rs485kit.tables import object_from_table

NAMESPACE = "generic"
KINDS: Mapping[str, type] = {
    "transceivers": Transceiver,
    "cables": Cable,
    "isolators": Isolator,
    "isolated_supplies": IsolatedSupply,
    "protectors": Protector,
    "timing_profiles": TimingProfile,
}
MARKS = ("common practice", "derived: ", "memory: ")

_SHORT_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_MEMBERS = ("min", "typ", "max")


@attrs.frozen(kw_only=True)
class Entry:
    """One part of a catalogue: the object, and what its data says beside it.

    Parameters
    ----------
    part : object
        The frozen object of the model [-].
    about : str
        What the part is and what to mind, in plain words [-].
    fields : Mapping
        The part's fields as the data writes them: text with units, numbers, and min / typ / max tables [-].
    sources : Mapping
        For each field, where its figures come from [-].
    """

    part: Any
    about: str
    fields: Mapping[str, object]
    sources: Mapping[str, str]


Entries: TypeAlias = Mapping[str, Entry]


@functools.cache
def entries(kind: str) -> Entries:
    """Return the generic parts of one kind by full name, in the order of the data; read on first use.

    Two threads that ask at once may both read the data; what they get is equal and is never changed.
    """
    file = resources.files("rs485kit.catalogue") / "data" / f"{kind}.toml"
    tables = parsed(file.read_text(encoding="utf-8"), source=file.name)
    return entries_from_tables(tables, KINDS[kind], namespace=NAMESPACE, source=file.name)


def parsed(text: str, *, source: str) -> Mapping[str, object]:
    """Return the tables of a TOML text.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(Problem("", "text that does not parse", "TOML", str(error)), source=source) from None


def entries_from_tables(tables: Mapping[str, object], kind: type, *, namespace: str, source: str) -> Entries:
    """Read the parts of one kind.

    Parameters
    ----------
    tables : Mapping
        One table per part, with `about`, a table `sources`, and the fields of the kind [-].
    kind : type
        Class of the parts [-].
    namespace : str
        What stands before the dot of their names [-].
    source : str
        Name of the file, for errors [-].

    Returns
    -------
    Mapping
        The entries by full name [-].

    Raises
    ------
    InputError
        With everything that is wrong: a bad name, a part without `about`, a field that the class refuses, a figure
        without a source, a source without a figure.
    """
    result: dict[str, Entry] = {}
    problems: list[Problem] = []
    for short_name, table in tables.items():
        name = f"{namespace}.{short_name}"
        try:
            result[name] = _entry(kind, name, short_name, table)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(*problems, source=source)
    return result


def _entry(kind: type, name: str, key: str, table: object) -> Entry:
    """Read one part; problems are placed by its key in the file, and not by its full name."""
    if not isinstance(table, Mapping):
        raise InputError(Problem(key, shown(table), "a table of one part"))
    fields = {key: value for key, value in table.items() if key not in ("name", "about", "sources")}
    problems = []
    if _SHORT_NAME.fullmatch(key) is None:
        problems.append(Problem(key, shown(key), "lower-case words joined by hyphens"))
    if "name" in table:
        problems.append(Problem(f"{key}.name", shown(table["name"]), "no name", "the table's own name is the part's"))
    about = table.get("about")
    if not _is_text(about):
        problems.append(Problem(f"{key}.about", shown(about), "what the part is, in plain words"))
    sources, wrong = _sources(f"{key}.sources", fields, table.get("sources", {}))
    problems += wrong
    try:
        part: object = object_from_table(kind, {"name": name, **fields}, place=key)
    except InputError as error:
        raise InputError(*problems, *error.problems) from None
    if problems:
        raise InputError(*problems)
    return Entry(part=part, about=str(about), fields=fields, sources=sources)


def _sources(place: str, fields: Mapping[str, object], given: object) -> tuple[dict[str, str], list[Problem]]:
    """Return the source of each field as one text, and what is wrong with them."""
    if not isinstance(given, Mapping):
        return {}, [Problem(place, shown(given), "a table with the source of every field")]
    sources = {}
    problems = [
        Problem(f"{place}.{field}", "a source", "no source without a figure", "state the figure or drop the source")
        for field in given
        if field not in fields
    ]
    for field, figure in fields.items():
        source = given.get(field)
        if _is_text(source):
            sources[field] = str(source)
        elif isinstance(source, Mapping) and _covers(source, figure):
            sources[field] = _joined(source)
        else:
            wanted = f'a document, "{MARKS[0]}", "{MARKS[1]}..." or "{MARKS[2]}..."'
            if isinstance(figure, Mapping):
                wanted += f", one for all or one each for {', '.join(figure)}"
            problems.append(Problem(f"{place}.{field}", shown(source), wanted))
    return sources, problems


def _covers(source: Mapping[str, object], figure: object) -> bool:
    """Whether every member of a figure has a source, and no other."""
    return isinstance(figure, Mapping) and set(source) == set(figure) and all(map(_is_text, source.values()))


def _joined(source: Mapping[str, object]) -> str:
    """Return the sources of the members of one figure as one text, members of one source together."""
    members: dict[str, list[str]] = {}
    for member in _MEMBERS:
        if member in source:
            members.setdefault(str(source[member]), []).append(member)
    if len(members) == 1:
        return next(iter(members))
    return "; ".join(f"{', '.join(names)}: {text}" for text, names in members.items())


def _is_text(given: object) -> bool:
    return isinstance(given, str) and given != "" and given == given.strip()
