"""The parts of a file: derived from one another or from a catalogue's, each read once and called for by name."""

from collections.abc import Callable, Mapping
from typing import NoReturn, TypeVar

from rs485kit import catalogue
from rs485kit.errors import InputError, Problem, UnknownNameError, shown
from rs485kit.model import (
    Barrier,
    Bias,
    Cable,
    IsolatedSupply,
    Isolator,
    Node,
    Protector,
    Termination,
    TimingProfile,
    Transceiver,
)
from rs485kit.model.base import LONGEST_NAME
from rs485kit.tables import (
    field_place,
    fields_from_table,
    forms,
    named_place,
    object_from_table,
    offer,
    unknown_key,
    unknown_name,
)

# the order in which they are read and written: what a part holds comes before it
KINDS: Mapping[str, type] = {
    "transceivers": Transceiver,
    "cables": Cable,
    "isolators": Isolator,
    "isolated_supplies": IsolatedSupply,
    "protectors": Protector,
    "timing_profiles": TimingProfile,
    "terminations": Termination,
    "biases": Bias,
    "barriers": Barrier,
}
CATALOGUE_KINDS = (Transceiver, Cable, Isolator, IsolatedSupply, Protector, TimingProfile)
TEMPLATES = "nodes"
GROUPS: Mapping[str, type] = {**KINDS, TEMPLATES: Node}
LIKE = "like"
_GROUP_OF = {kind: group for group, kind in GROUPS.items()}
_MOST_STEPS = 16
_CHANGED = ", changed"
_T = TypeVar("_T")


class Parts:
    """What a file defines under [parts], with the catalogues behind it.

    Parameters
    ----------
    groups : mapping
        The table of that name: groups by kind, in each the parts by name [-].
    """

    def __init__(self, groups: object) -> None:
        self.problems: list[Problem] = []
        self._tables: dict[type, dict[str, Mapping[str, object]]] = {kind: {} for kind in GROUPS.values()}
        self._objects: dict[tuple[type, str], object] = {}
        self._broken: set[tuple[type, str]] = set()
        self._take(groups)
        for kind in GROUPS.values():
            for name in self._tables[kind]:
                self._read(kind, name)
        self.problems = list(dict.fromkeys(self.problems))

    # --- what others ask -----------------------------------------------------------------------------------

    def resolve(self, kind: type, name: str, place: str) -> object:
        """Return the part of that name: a dotted name is a catalogue's, a plain one this file's.

        Parameters
        ----------
        kind : type
            Class of the part [-].
        name : str
            Its name [-].
        place : str
            Where it is called for [-].

        Returns
        -------
        object
            The part [-].

        Raises
        ------
        InputError
            If there is none; without problems if there is one whose own problems are known.
        """
        if kind not in _GROUP_OF:
            raise InputError(Problem(place, shown(name), f"a table with the fields of {kind.__name__}"))
        if _is_catalogues(kind, name):
            return _from_catalogue(kind, name, place)
        self._known(kind, name, place)
        self._read(kind, name)
        if (kind, name) in self._broken:
            raise InputError()
        return self._objects[kind, name]

    def expand(self, kind: type, table: Mapping[str, object], place: str) -> Mapping[str, object]:
        """Return a table that stands in place of a part, with what it is `like` laid under it.

        Parameters
        ----------
        kind : type
            Class of the part [-].
        table : mapping
            Its fields, perhaps with `like` [-].
        place : str
            Where it stands [-].

        Returns
        -------
        mapping
            The fields, without `like` [-].

        Raises
        ------
        InputError
            If what it is like is not there or is itself wrong.
        """
        if LIKE not in table or kind not in _GROUP_OF:
            return table
        own = {key: value for key, value in table.items() if key != LIKE}
        base = self._base(kind, table[LIKE], own, place)
        if "name" not in forms(kind) or "name" in own:
            return {**base, **own}
        called = str(getattr(self.resolve(kind, str(table[LIKE]), f"{place}.{LIKE}"), "name", ""))
        if own and called:
            called = called[: LONGEST_NAME - len(_CHANGED)].rstrip() + _CHANGED
        return {"name": called, **base, **own}

    def template(self, name: object, place: str) -> Mapping[str, object]:
        """Return the fields of a node template.

        Parameters
        ----------
        name : str
            Its name under [parts.nodes] [-].
        place : str
            Where it is called for [-].

        Returns
        -------
        mapping
            Values of the fields that the template states [-].

        Raises
        ------
        InputError
            If there is none; without problems if there is one whose own problems are known.
        """
        if not isinstance(name, str):
            raise InputError(Problem(place, shown(name), "the name of a template under [parts.nodes]"))
        self._known(Node, name, place)
        if (Node, name) in self._broken:
            raise InputError()
        node = self._objects[Node, name]
        return {field: getattr(node, field) for field in self._fields(Node, name)}

    # --- taking the tables ---------------------------------------------------------------------------------

    def _take(self, groups: object) -> None:
        if not isinstance(groups, Mapping):
            self.problems.append(Problem("parts", shown(groups), "tables of parts by kind"))
            return
        for group, parts in groups.items():
            place = field_place("parts", group)
            if group not in GROUPS:
                self.problems.append(unknown_key("parts", group, GROUPS))
            elif not isinstance(parts, Mapping):
                self.problems.append(Problem(place, shown(parts), "tables of parts by name"))
            else:
                self._take_group(GROUPS[group], parts, place)

    def _take_group(self, kind: type, parts: Mapping[object, object], place: str) -> None:
        for name, table in parts.items():
            if not isinstance(name, str) or "." in name or name != name.strip() or not 0 < len(name) <= LONGEST_NAME:
                wanted = f"a name of 1 to {LONGEST_NAME} characters without a dot and without spaces at its ends"
                where = named_place(place, name) if isinstance(name, str) else place
                self.problems.append(Problem(where, shown(name), wanted, "a dotted name is a catalogue's"))
                continue
            self._tables[kind][name] = table if isinstance(table, Mapping) else {}
            if not isinstance(table, Mapping):
                self.problems.append(Problem(named_place(place, name), shown(table), "a table"))
                self._broken.add((kind, name))

    # --- reading one part ----------------------------------------------------------------------------------

    def _read(self, kind: type, name: str) -> None:
        """Read one part of the file unless that has been done, and note what is wrong with it."""
        if (kind, name) in self._objects or (kind, name) in self._broken:
            return
        place = _place(kind, name)
        own = {key: value for key, value in self._tables[kind][name].items() if key != LIKE}
        try:
            if kind is Node and "name" in own:
                given = shown(own["name"])
                raise InputError(Problem(f"{place}.name", given, "no name", "the row that uses it has one"))
            chain = self._chain(kind, name)
            for base in reversed(chain[1:]):
                self._read(kind, base)
            if any((kind, base) in self._broken for base in chain[1:]):
                self._own_problems(kind, own, place)
            fields = self._fields(kind, name)
            if "name" in forms(kind):
                fields = {"name": own.get("name", name), **fields}
            self._objects[kind, name] = object_from_table(
                kind, fields, place=place, resolve=self.resolve, expand=self.expand, also=(LIKE,)
            )  # fmt: skip
        except InputError as error:
            self.problems.extend(error.problems)
            self._broken.add((kind, name))

    def _own_problems(self, kind: type, own: Mapping[str, object], place: str) -> NoReturn:
        """Raise what is wrong with the fields a table states itself, its base being wrong already."""
        reading = fields_from_table(kind, own, place=place, resolve=self.resolve, expand=self.expand, also=(LIKE,))
        raise InputError(*reading.problems)

    def _base(self, kind: type, like: object, own: Mapping[str, object], place: str) -> Mapping[str, object]:
        """Return the fields of what a table in place of a part is like."""
        where = f"{place}.{LIKE}"
        if not isinstance(like, str):
            raise InputError(Problem(where, shown(like), "the name of a part"))
        if _is_catalogues(kind, like):
            return _catalogue_fields(kind, like, where)
        self._known(kind, like, where)
        self._read(kind, like)
        if (kind, like) in self._broken:
            self._own_problems(kind, own, place)
        return self._fields(kind, like)

    def _fields(self, kind: type, name: str) -> dict[str, object]:
        """Return the fields of a part of the file over those of all that it is like, without its name."""
        chain = self._chain(kind, name)
        last = self._tables[kind][chain[-1]].get(LIKE)
        fields: dict[str, object] = {}
        if isinstance(last, str):
            fields.update(_catalogue_fields(kind, last, f"{_place(kind, chain[-1])}.{LIKE}"))
        for each in reversed(chain):
            fields.update(self._tables[kind][each])
        return {key: value for key, value in fields.items() if key not in (LIKE, "name")}

    def _chain(self, kind: type, name: str) -> list[str]:
        """Return a part of the file and those of the file that it is like, in turn."""
        chain = [name]
        while True:
            like = self._tables[kind][chain[-1]].get(LIKE)
            place = f"{_place(kind, chain[-1])}.{LIKE}"
            if LIKE not in self._tables[kind][chain[-1]] or _is_catalogues(kind, like):
                return chain
            if not isinstance(like, str):
                raise InputError(Problem(place, shown(like), "the name of a part"))
            if like in chain:
                raise InputError(self._cycle(kind, chain[chain.index(like) :]))
            self._known(kind, like, place)
            chain.append(like)
            if len(chain) > _MOST_STEPS:
                given = f"the last of more than {_MOST_STEPS} steps"
                raise InputError(Problem(place, given, f"parts that are like one another in at most {_MOST_STEPS}"))

    def _cycle(self, kind: type, chain: list[str]) -> Problem:
        """Return the problem of parts that are like one another in a circle, begun at the first by name."""
        start = chain.index(min(chain))
        turned = [*chain[start:], *chain[:start]]
        given = " -> ".join(f'"{name}"' for name in (*turned, turned[0]))
        wanted = "a part that is not like itself"
        return Problem(f"{_place(kind, turned[0])}.{LIKE}", given, wanted, "state the fields in one of them")

    def _known(self, kind: type, name: str, place: str) -> None:
        if name in self._tables[kind]:
            return
        group = _GROUP_OF[kind]
        wanted = f"a name under [parts.{group}]"
        if kind in CATALOGUE_KINDS:
            wanted += ", or a catalogue's, which has a dot"
        raise InputError(Problem(place, shown(name), wanted, offer(name, self._tables[kind])))


def _is_catalogues(kind: type, name: object) -> bool:
    return kind in CATALOGUE_KINDS and isinstance(name, str) and "." in name


def _from_catalogue(kind: type, name: str, place: str) -> object:
    return _asked(catalogue.part, kind, name, place)


def _catalogue_fields(kind: type, name: str, place: str) -> Mapping[str, object]:
    return _asked(catalogue.table, kind, name, place)


def _asked(look_up: Callable[[type, str], _T], kind: type, name: str, place: str) -> _T:
    """Return what a look-up gives; what is wrong with the name, or with a plugin's data, is a problem of the place."""
    try:
        return look_up(kind, name)
    except UnknownNameError as error:
        raise InputError(unknown_name(place, error)) from None
    except InputError as error:
        wanted = "a part of an installed plugin whose part data can be taken"
        raise InputError(Problem(place, shown(name), wanted, str(error))) from None


def _place(kind: type, name: str) -> str:
    return named_place(f"parts.{_GROUP_OF[kind]}", name)
