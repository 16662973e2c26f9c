"""A plain mapping -> Bus: rows of nodes and segments, the trunk that follows from `at`, templates and defaults.

- Nodes with `at` (their chainage) form the trunk in rising order; a span joins each to the next. A node with `stub`
  hangs on the passive place "<name>.tap" of the trunk; without `stub`, or with zero, it sits on the trunk itself.
- Nodes without `at` are joined by rows of segments, or stand alone.
- A row of segments with `length` is a branch. One without `length` changes other fields of the span or stub between
  its two ends, which are places: "<name>.tap" where the node is on a stub. So a trunk of several kinds is written.
- Spans, stubs and branches all take the fields under [defaults.segment]; what a row states itself wins.
- The bus has the nodes in the order of the rows, then the taps; the spans in the order of the trunk, then the stubs,
  then the branches.
"""

import itertools
import re
from collections.abc import Mapping
from typing import Any, NamedTuple, TypeVar

from rs485kit import units
from rs485kit.errors import InputError, Problem, shown
from rs485kit.files.parts import Parts
from rs485kit.model import Bus, Earth, Node, Segment
from rs485kit.model.base import LONGEST_NAME, TAP_SUFFIX
from rs485kit.tables import fields_from_table, item_place, object_from_table, unknown_key

FORMAT = 1
TOP = ("format", "bus", "defaults", "parts")
LISTS = ("nodes", "segments", "earths")
PLACING = ("at", "stub", "use")
OWN_OF_SEGMENT = ("start", "end", "length")

_T = TypeVar("_T")


def bus_from_mapping(mapping: Mapping[str, object], *, source: str = "") -> Bus:
    """Return the bus that a mapping describes.

    Parameters
    ----------
    mapping : mapping
        Plain tables, lists, text, numbers and dates (ISO text will do), with `format = 1` [-].
    source : str
        Where it came from, for errors [-].

    Returns
    -------
    Bus
        The bus [-].

    Raises
    ------
    InputError
        With every problem of the mapping, each with its place by names.

    Examples
    --------
    >>> from rs485kit.files import bus_from_mapping
    >>> rows = [{"name": "weir", "at": "0 m"}, {"name": "lock", "at": "60 m"}]
    >>> bus = bus_from_mapping({"format": 1, "bus": {"nodes": rows}})
    >>> bus.segment("weir", "lock").length
    60.0
    """
    if not isinstance(mapping, Mapping):
        raise InputError(Problem("", shown(mapping), "a mapping with the keys format and bus"), source=source)
    version = mapping.get("format")
    if type(version) is not int or version != FORMAT:
        given = shown(version) if "format" in mapping else "nothing"
        cure = f"put format = {FORMAT} on the first line"
        raise InputError(Problem("format", given, f"{FORMAT}, the format that this library reads", cure), source=source)
    reader = _Reader(mapping)
    bus = reader.bus()
    if bus is None or reader.problems:
        raise InputError(*dict.fromkeys(reader.problems), source=source)
    return bus


class _Row(NamedTuple):
    """A row of nodes: its node, where it stands in the mapping, and on the trunk."""

    node: Node
    place: str
    at: float | None
    stub: float

    @property
    def trunk_name(self) -> str:
        return self.node.name + TAP_SUFFIX if self.stub else self.node.name


class _Span(NamedTuple):
    """A segment that follows from `at` or `stub`, before its other fields are read."""

    start: str
    end: str
    length: float
    place: str
    given: str

    @property
    def ends(self) -> frozenset[str]:
        return frozenset((self.start, self.end))


class _Reader:
    """Reads one mapping and gathers every problem on the way."""

    def __init__(self, mapping: Mapping[str, object]) -> None:
        self.problems: list[Problem] = []
        self._refuse_unknown(mapping, "", TOP)
        self._parts = Parts(mapping.get("parts", {}))
        self.problems += self._parts.problems
        self._table = self._mapping(mapping.get("bus"), "bus")
        self._defaults = self._segment_defaults(mapping.get("defaults", {}))

    def bus(self) -> Bus | None:
        """Return the bus; where something is wrong, one with stand-ins, which shows what else is wrong, or None."""
        rest = {key: value for key, value in self._table.items() if key not in LISTS}
        values: dict[str, Any] = self._fields(Bus, rest, "bus", also=LISTS)
        earths = [self._object(Earth, item, place) or _stand_in(Earth, item) for item, place in self._items("earths")]
        rows = [self._row(item, place) for item, place in self._items("nodes")]
        known = [row for row in rows if row is not None]
        if not known:
            if not self._table.get("nodes", ()) and "bus" not in {problem.place for problem in self.problems}:
                self.problems.append(Problem("bus.nodes", "none", "a list of tables, one a node"))
            return None
        segments, places = self._segments(known)
        try:
            return Bus(
                nodes=(*(row.node for row in known), *(Node(name=row.trunk_name) for row in known if row.stub)),
                segments=segments, earths=[earth for earth in earths if earth is not None], **values,
            )  # fmt: skip
        except InputError as error:
            self.problems += [_in_file(problem, places) for problem in error.problems]
            return None

    # --- tables in general ---------------------------------------------------------------------------------

    def _refuse_unknown(self, table: Mapping[str, object], place: str, known: tuple[str, ...]) -> None:
        self.problems += [unknown_key(place, key, known) for key in table if key not in known]

    def _mapping(self, given: object, place: str) -> Mapping[str, object]:
        if isinstance(given, Mapping):
            return given
        self.problems.append(Problem(place, "nothing" if given is None else shown(given), "a table"))
        return {}

    def _items(self, key: str) -> list[tuple[object, str]]:
        """Return the rows of a list of the bus, each with its place."""
        given = self._table.get(key, ())
        place = f"bus.{key}"
        if not isinstance(given, list | tuple):
            self.problems.append(Problem(place, shown(given), "a list of tables"))
            return []
        return [(item, item_place(place, index, item)) for index, item in enumerate(given)]

    def _fields(self, kind: type, table: object, place: str, *, also: tuple[str, ...] = ()) -> dict[str, object]:
        parts = self._parts
        reading = fields_from_table(
            kind, table, place=place, resolve=parts.resolve, expand=parts.expand, also=also
        )  # fmt: skip
        self.problems += reading.problems
        return reading.values

    def _object(self, kind: type[_T], table: object, place: str, *, also: tuple[str, ...] = ()) -> _T | None:
        parts = self._parts
        try:
            return object_from_table(
                kind, table, place=place, resolve=parts.resolve, expand=parts.expand, also=also
            )  # fmt: skip
        except InputError as error:
            self.problems += error.problems
            return None

    # --- nodes ---------------------------------------------------------------------------------------------

    def _row(self, item: object, place: str) -> _Row | None:
        """Return a row of nodes with what it says about the trunk; a stand-in keeps its name known."""
        if not isinstance(item, Mapping):
            self._object(Node, item, place)
            return None
        base: Mapping[str, object] = {}
        if "use" in item:
            try:
                base = self._parts.template(item["use"], f"{place}.use")
            except InputError as error:
                self.problems += error.problems
        node = self._object(Node, {**base, **item}, place, also=PLACING) or _stand_in(Node, item)
        at = self._metres(item, "at", place)
        stub = self._metres(item, "stub", place)
        if stub is None and item.get("stub") is not None:
            stub = 1.0  # a stand-in, so that references to the tap are not faulted too
        if node is None:
            return None
        if stub is not None and item.get("at") is None:
            wanted = "`at` beside it, the place of its tap along the trunk"
            self.problems.append(Problem(f"{place}.stub", shown(item["stub"]), wanted, "or a row of segments instead"))
        if stub and (node.name.endswith(TAP_SUFFIX) or len(node.name + TAP_SUFFIX) > LONGEST_NAME):
            wanted = f'a name that stays within {LONGEST_NAME} characters and is no tap when "{TAP_SUFFIX}" is added'
            self.problems.append(Problem(f"{place}.stub", f'a stub on "{node.name}"', wanted))
            stub = None
        return _Row(node, place, at, stub or 0.0)

    def _metres(self, item: Mapping[str, object], key: str, place: str) -> float | None:
        given = item.get(key)
        if given is None:
            return None
        try:
            return units.si(given, "m")
        except InputError as error:
            self.problems += [problem.under(f"{place}.{key}") for problem in error.problems]
            return None

    # --- segments ------------------------------------------------------------------------------------------

    def _segment_defaults(self, given: object) -> dict[str, object]:
        table = self._mapping(given, "defaults")
        self._refuse_unknown(table, "defaults", ("segment",))
        fields = self._mapping(table.get("segment", {}), "defaults.segment")
        for key in OWN_OF_SEGMENT:
            if key in fields:
                given = shown(fields[key])
                wanted = "only what spans, stubs and branches have in common"
                self.problems.append(Problem(f"defaults.segment.{key}", given, wanted))
        return self._fields(Segment, fields, "defaults.segment")

    def _segments(self, rows: list[_Row]) -> tuple[list[Segment], list[str]]:
        """Return spans, stubs and branches, and where each stands in the mapping."""
        spans = {span.ends: span for span in (*self._trunk(rows), *_stubs(rows)) if len(span.ends) == 2}
        changes: dict[frozenset[str], tuple[Mapping[str, object], str]] = {}
        branches: list[tuple[Mapping[str, object], str]] = []
        for item, place in self._items("segments"):
            if not isinstance(item, Mapping):
                self._object(Segment, item, place)
                continue
            start, end = item.get("start"), item.get("end")
            ends = frozenset((start, end)) if isinstance(start, str) and isinstance(end, str) else frozenset()
            if ends not in spans:
                branches.append((item, place))
            elif item.get("length") is not None:
                cure = "leave the length out to change other fields of it"
                wanted = "no length, for it follows from `at` and `stub`"
                self.problems.append(Problem(f"{place}.length", shown(item["length"]), wanted, cure))
            elif ends in changes:
                self.problems.append(Problem(place, "a second row for one span", f"one; see {changes[ends][1]}"))
            else:
                changes[ends] = (item, place)
        built = [(self._span(span, *changes.get(ends, ({}, ""))), span.place) for ends, span in spans.items()]
        built += [(self._branch(item, place, spans), place) for item, place in branches]
        good = [(segment, place) for segment, place in built if segment is not None]
        return [segment for segment, _ in good], [place for _, place in good]

    def _trunk(self, rows: list[_Row]) -> list[_Span]:
        """Return the spans between the places of the trunk, in rising order of their chainage."""
        placed = [(row.at, row) for row in rows if row.at is not None]
        placed.sort(key=lambda each: each[0])
        spans = []
        for (before, first), (after, second) in itertools.pairwise(placed):
            if after == before:
                given = f'{after:g} m, the place of "{first.node.name}"'
                cure = f'or leave it out and add a segment from "{first.trunk_name}"'
                self.problems.append(Problem(f"{second.place}.at", given, "a place of its own on the trunk", cure))
                continue
            given = f'{after - before:g} m beyond "{first.node.name}"'
            spans.append(_Span(first.trunk_name, second.trunk_name, after - before, f"{second.place}.at", given))
        return spans

    def _span(self, span: _Span, change: Mapping[str, object], place: str) -> Segment | None:
        """Return a segment that follows from `at` or `stub`, with the fields that a row of segments changes."""
        try:
            Segment(start=span.start, end=span.end, length=span.length)
        except InputError as error:
            self.problems += [Problem(span.place, span.given, problem.wanted) for problem in error.problems]
            return None
        own = {"start": span.start, "end": span.end, **self._defaults, **change, "length": span.length}
        return self._object(Segment, own, place or span.place)

    def _branch(self, item: Mapping[str, object], place: str, spans: Mapping[frozenset[str], _Span]) -> Segment | None:
        if item.get("length") is not None:
            return self._object(Segment, {**self._defaults, **item}, place)
        self._fields(Segment, item, place)
        start, end = item.get("start"), item.get("end")
        near = []
        if isinstance(start, str) and isinstance(end, str):
            meant = itertools.product((start, start + TAP_SUFFIX), (end, end + TAP_SUFFIX))
            near = [spans[ends] for ends in map(frozenset, meant) if ends in spans]
        cure = "only a row for a span of the trunk, or for a stub, goes without"
        if near:
            cure = f'if the span is meant, its ends are "{near[0].start}" and "{near[0].end}"'
        self.problems.append(Problem(f"{place}.length", "nothing", units.wanted("m"), cure))
        return None


def _stubs(rows: list[_Row]) -> list[_Span]:
    return [
        _Span(row.trunk_name, row.node.name, row.stub, f"{row.place}.stub", f"{row.stub:g} m")
        for row in rows
        if row.stub
    ]


def _stand_in(kind: type[_T], item: object) -> _T | None:
    """Return an object that has only the name of a faulty row, so that references to it are not faulted too."""
    try:
        return kind(name=item["name"]) if isinstance(item, Mapping) and "name" in item else None  # type: ignore[call-arg]
    except InputError:
        return None


def _in_file(problem: Problem, places: list[str]) -> Problem:
    """Return a problem that the bus found, at the place of the mapping that caused it."""
    place = problem.place.removeprefix("Bus.")
    match = re.match(r"segments\[(\d+)\]", place)
    where = f"bus.{place}" if match is None else places[int(match[1])] + place[match.end() :]
    return Problem(where, problem.given, problem.wanted, problem.cure)
