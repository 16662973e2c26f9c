"""The bus: one electrical section of one pair, as a graph of nodes and segments, and its edits."""

import difflib
import functools
import heapq
from collections.abc import Iterable, Iterator
from typing import Any, Literal, TypeVar

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem, UnknownNameError
from rs485kit.model.barriers import Barrier
from rs485kit.model.base import TAP_SUFFIX, is_label, optional_instance_of, refused, shown, tuple_from, tuple_of
from rs485kit.model.judgement import Policy
from rs485kit.model.parts import Cable
from rs485kit.model.places import Earth, Environment, Link, Node, Segment
from rs485kit.units import Given

_T = TypeVar("_T")

# near names are sought for this many dangling references, among this many names: more would take minutes
_OFFERS = 20
_MOST_COMPARED = 2000


def nodes_tuple(given: Node | Iterable[Node]) -> tuple[Node, ...]:
    """Read nodes [-]."""
    return tuple_from(given, Node)


def segments_tuple(given: Segment | Iterable[Segment] | None) -> tuple[Segment, ...]:
    """Read segments [-]."""
    return tuple_from(given, Segment)


def earths_tuple(given: Earth | Iterable[Earth] | None) -> tuple[Earth, ...]:
    """Read earths [-]."""
    return tuple_from(given, Earth)


@attrs.frozen(kw_only=True)
class Bus:
    """One electrical section of one pair: any graph of nodes and segments; its shape is for rules to judge.

    Parameters
    ----------
    nodes : tuple of Node
        The nodes, with unique names [-].
    segments : tuple of Segment
        The cables between them [-].
    earths : tuple of Earth
        The local earths that nodes refer to [-].
    name : str
        Name of the bus [-].
    link : Link or None
        Data rate and character frame; None: unknown [-].
    environment : Environment or None
        What holds for the whole site; None: unknown [-].
    policy : Policy or None
        Judgement that comes with the bus [-].
    """

    name: str = attrs.field(default="", validator=is_label)
    nodes: tuple[Node, ...] = attrs.field(converter=nodes_tuple, validator=tuple_of(Node))
    segments: tuple[Segment, ...] = attrs.field(
        default=(), converter=segments_tuple, validator=tuple_of(Segment)
    )
    earths: tuple[Earth, ...] = attrs.field(default=(), converter=earths_tuple, validator=tuple_of(Earth))
    link: Link | None = attrs.field(default=None, validator=optional_instance_of(Link))
    environment: Environment | None = attrs.field(default=None, validator=optional_instance_of(Environment))
    policy: Policy | None = attrs.field(default=None, validator=optional_instance_of(Policy))

    @nodes.validator
    def _some(self, attribute: "attrs.Attribute[Any]", value: tuple[Node, ...]) -> None:
        tuple_of(Node)(self, attribute, value)
        if not value:
            raise refused(self, attribute, value, "at least one node")

    def __attrs_post_init__(self) -> None:
        """Refuse doubled names and references to what is not there, all of them together."""
        problems = [*_doubled("nodes", self.nodes), *_doubled("earths", self.earths)]
        nodes = {node.name: None for node in self.nodes}
        earths = {earth.name: None for earth in self.earths}
        references = [
            (f"segments[{index}].{end}", getattr(segment, end), nodes, "node")
            for index, segment in enumerate(self.segments)
            for end in ("start", "end")
        ]
        references += [(place, name, earths, "earth") for node in self.nodes for place, name in _earths_of(node)]
        if self.link is not None and self.link.controller is not None:
            references.append(("link.controller", self.link.controller, nodes, "node"))
        for index, exchange in enumerate(() if self.link is None else self.link.exchanges):
            references += [(f"link.exchanges[{index}].devices", name, nodes, "node") for name in exchange.devices]
        dangling = [reference for reference in references if reference[1] not in reference[2]]
        problems += [_dangling(*reference, offer=index < _OFFERS) for index, reference in enumerate(dangling)]
        problems += _parallel(self.segments)
        if problems:
            raise InputError(*(problem.under("Bus") for problem in problems))

    # --- look-up -------------------------------------------------------------------------------------------

    @functools.cached_property
    def _nodes_by_name(self) -> dict[str, Node]:
        return {node.name: node for node in self.nodes}

    @functools.cached_property
    def _neighbours(self) -> dict[str, list[tuple[str, Segment]]]:
        result: dict[str, list[tuple[str, Segment]]] = {node.name: [] for node in self.nodes}
        for segment in self.segments:
            result[segment.start].append((segment.end, segment))
            result[segment.end].append((segment.start, segment))
        return result

    @property
    def barriers(self) -> dict[str, Barrier]:
        """The barriers, by the name of their node."""
        return {node.name: node.barrier for node in self.nodes if node.barrier is not None}

    def node(self, name: str) -> Node:
        """Return the node of that name.

        Parameters
        ----------
        name : str
            Name of a node [-].

        Returns
        -------
        Node
            The node [-].

        Raises
        ------
        UnknownNameError
            If there is none; near names are offered.
        """
        return _found("node", name, self._nodes_by_name)

    def earth(self, name: str) -> Earth:
        """Return the earth of that name.

        Parameters
        ----------
        name : str
            Name of an earth [-].

        Returns
        -------
        Earth
            The earth [-].

        Raises
        ------
        UnknownNameError
            If there is none; near names are offered.
        """
        return _found("earth", name, {earth.name: earth for earth in self.earths})

    def segment(self, a: str, b: str) -> Segment:
        """Return the segment between two neighbouring nodes, whichever way round.

        Parameters
        ----------
        a, b : str
            Names of the two nodes [-].

        Returns
        -------
        Segment
            The segment [-].

        Raises
        ------
        UnknownNameError
            If a node is unknown or the two are not neighbours.
        """
        self.node(a)
        self.node(b)
        for neighbour, segment in self._neighbours[a]:
            if neighbour == b:
                return segment
        near = tuple(neighbour for neighbour, _ in self._neighbours[a])[:4]
        raise UnknownNameError("segment", f"{a} - {b}", (), f'"{a}" is joined to {", ".join(near) or "nothing"}')

    def neighbours(self, name: str) -> tuple[str, ...]:
        """Return the names of the nodes that segments join to a node.

        Parameters
        ----------
        name : str
            Name of a node [-].

        Returns
        -------
        tuple of str
            Names, in the order of the segments [-].

        Raises
        ------
        UnknownNameError
            If there is no such node.
        """
        self.node(name)
        return tuple(neighbour for neighbour, _ in self._neighbours[name])

    # --- paths ---------------------------------------------------------------------------------------------

    def path(self, a: str, b: str) -> tuple[str, ...]:
        """Return the names along the shortest way of cable from one node to another.

        Parameters
        ----------
        a, b : str
            Names of the two nodes [-].

        Returns
        -------
        tuple of str
            Names from `a` to `b`, both included; empty if no cable joins them [-].

        Raises
        ------
        UnknownNameError
            If there is no such node.
        """
        self.node(b)
        _, before = self._distances(a)
        if b not in before:
            return ()
        names = [b]
        while names[-1] != a:
            names.append(before[names[-1]])
        return tuple(reversed(names))

    def distance(self, a: str, b: str) -> float:
        """Return the length of cable from one node to another.

        Parameters
        ----------
        a, b : str
            Names of the two nodes [-].

        Returns
        -------
        float
            The length along the shortest way; infinite if no cable joins them [m].

        Raises
        ------
        UnknownNameError
            If there is no such node.
        """
        self.node(b)
        return self._distances(a)[0].get(b, float("inf"))

    @property
    def ends(self) -> tuple[str, ...]:
        """Names of the two places farthest apart by cable, in bus order; fewer if there are fewer places.

        On a tree they are exact. On a graph with loops they are the last two of a double search.
        """
        first = self._farthest(self.nodes[0].name)
        second = self._farthest(first)
        order = [node.name for node in self.nodes]
        return tuple(sorted({first, second}, key=order.index))

    def _farthest(self, name: str) -> str:
        length, _ = self._distances(name)
        return max(length, key=lambda other: length[other])

    def _distances(self, start: str) -> tuple[dict[str, float], dict[str, str]]:
        """Shortest lengths from one node to all that it reaches, and the node before each (Dijkstra)."""
        self.node(start)
        length, before = {start: 0.0}, {start: start}
        queue = [(0.0, start)]
        done: set[str] = set()
        while queue:
            so_far, name = heapq.heappop(queue)
            if name in done:
                continue
            done.add(name)
            for neighbour, segment in self._neighbours[name]:
                reach = so_far + segment.length
                if reach < length.get(neighbour, float("inf")):
                    length[neighbour], before[neighbour] = reach, name
                    heapq.heappush(queue, (reach, neighbour))
        return length, before

    # --- edits ---------------------------------------------------------------------------------------------

    def replace_node(self, node: Node) -> "Bus":
        """Return the bus with the node of the same name replaced.

        Parameters
        ----------
        node : Node
            What `attrs.evolve` made of it [-].

        Returns
        -------
        Bus
            The new bus [-].

        Raises
        ------
        UnknownNameError
            If there is no node of that name.
        """
        _is("Bus.replace_node", node, Node)
        self.node(node.name)
        return attrs.evolve(self, nodes=tuple(node if old.name == node.name else old for old in self.nodes))

    def replace_segment(self, segment: Segment) -> "Bus":
        """Return the bus with the segment between the same two nodes replaced.

        Parameters
        ----------
        segment : Segment
            What `attrs.evolve` made of it [-].

        Returns
        -------
        Bus
            The new bus [-].

        Raises
        ------
        UnknownNameError
            If no segment joins those two nodes.
        """
        _is("Bus.replace_segment", segment, Segment)
        old = self.segment(segment.start, segment.end)
        return attrs.evolve(self, segments=tuple(segment if each is old else each for each in self.segments))

    def with_node(
        self,
        node: Node,
        *,
        on: tuple[str, str] | None = None,
        at: Given | None = None,
        stub: Given | None = None,
        to: str | None = None,
        length: Given | None = None,
        cable: Cable | None = None,
    ) -> "Bus":
        """Return the bus with one node more, on a span or on a branch of its own.

        Parameters
        ----------
        node : Node
            The new node [-].
        on : (str, str) or None
            The span to split, by its two ends; goes with `at` [-].
        at : str, float or Quantity
            Distance of the new place from the first of the two ends [m].
        stub : str, float, Quantity or None
            Length of a stub from the span to the node; None or zero: the node sits on the span [m].
        to : str or None
            The node from which a new branch goes; goes with `length` [-].
        length : str, float or Quantity
            Length of the branch [m].
        cable : Cable or None
            Cable of the stub or branch; None: as that of the span, or of a segment at `to` [-].

        Returns
        -------
        Bus
            The new bus [-].

        Raises
        ------
        InputError
            If it is not one of the two ways, or a length does not fit.
        UnknownNameError
            If a place is unknown.
        """
        _is("Bus.with_node", node, Node)
        if (on is None) == (to is None) or (on is None) != (at is None) or (to is None) != (length is None):
            raise InputError(
                Problem(
                    "Bus.with_node", f"on={on!r}, at={at!r}, to={to!r}, length={length!r}",
                    "on=(a, b) with at=..., or to=... with length=...",
                )
            )  # fmt: skip
        if on is not None and at is not None:
            if isinstance(on, str) or len(on) != 2:
                raise InputError(Problem("Bus.with_node on", shown(on), "the names of two neighbouring places"))
            return self._on_span(node, on, _length("Bus.with_node at", at), stub, cable)
        if stub is not None:
            raise InputError(Problem("Bus.with_node stub", repr(stub), "a stub on a span (on=, at=)"))
        assert to is not None
        assert length is not None
        self.node(to)
        like = self._neighbours[to][0][1] if self._neighbours[to] else None
        branch = Segment(
            start=to,
            end=node.name,
            length=_length("Bus.with_node length", length),
            cable=cable or (like.cable if like else None),
            reference_conductor=like.reference_conductor if like else None,
            feed=like.feed if like else None,
            reference_is_shield=like.reference_is_shield if like else False,
            shield=like.shield if like else None,
        )
        return attrs.evolve(self, nodes=(*self.nodes, node), segments=(*self.segments, branch))

    def _on_span(
        self, node: Node, on: tuple[str, str], at: float, stub: Given | None, cable: Cable | None
    ) -> "Bus":
        span = self.segment(*on)
        if not 0 < at < span.length:
            raise InputError(
                Problem("Bus.with_node at", f"{at:g} m", f"more than 0 and less than {span.length:g} m, the span")
            )
        stub_length = 0.0 if stub is None else _length("Bus.with_node stub", stub)
        place = node.name + TAP_SUFFIX if stub_length else node.name
        added: list[Node] = [Node(name=place), node] if stub_length else [node]
        first = at if span.start == on[0] else span.length - at
        parts = [
            attrs.evolve(span, end=place, length=first, shield_joined=_joins(span.joined_at(span.start), True)),
            attrs.evolve(
                span, start=place, length=span.length - first, shield_joined=_joins(True, span.joined_at(span.end))
            ),
        ]
        if stub_length:
            drop = attrs.evolve(
                span, start=place, end=node.name, length=stub_length, cable=cable or span.cable, shield_joined="both"
            )
            parts.append(drop)
        index = self.segments.index(span)
        segments = (*self.segments[:index], *parts, *self.segments[index + 1 :])
        return attrs.evolve(self, nodes=(*self.nodes, *added), segments=segments)

    def without_node(self, name: str) -> "Bus":
        """Return the bus without a node: its stub goes with it, and the spans on both sides are joined.

        Parameters
        ----------
        name : str
            Name of the node [-].

        Returns
        -------
        Bus
            The new bus [-].

        Raises
        ------
        InputError
            If the bus would fall in two, or the spans to be joined are of different kinds.
        UnknownNameError
            If there is no such node.
        """
        self.node(name)
        around = self._neighbours[name]
        place = f'Bus.without_node("{name}")'
        if len(around) > 2:
            raise InputError(
                Problem(
                    place, f"a node that joins {len(around)} segments", "a node with one or two segments",
                    "put a passive node in its place with replace_node(Node(name=...))",
                )
            )  # fmt: skip
        nodes = tuple(node for node in self.nodes if node.name != name)
        segments = tuple(each for each in self.segments if name not in (each.start, each.end))
        if len(around) == 2:
            index = self.segments.index(around[0][1])
            joined = _joined(place, name, around)
            segments = (*segments[:index], joined, *segments[index:])
        result = attrs.evolve(self, nodes=nodes, segments=segments)
        tap = name + TAP_SUFFIX
        if around and around[0][0] == tap and len(result._neighbours[tap]) <= 2:
            return result.without_node(tap)
        return result


def _joined(place: str, name: str, around: list[tuple[str, Segment]]) -> Segment:
    """Return one segment in place of the two that meet at a node."""
    (start, first), (end, second) = around
    cut = (first.shield or second.shield) and not (first.joined_at(name) and second.joined_at(name))
    if _kind(first) != _kind(second) or cut:
        raise InputError(
            Problem(
                place, "two spans of different kinds", "spans of one cable, to be joined into one",
                f'put a passive node in its place with replace_node(Node(name="{name}"))',
            )
        )  # fmt: skip
    joins = _joins(first.joined_at(start), second.joined_at(end))
    return attrs.evolve(
        first, start=start, end=end, length=first.length + second.length, shield_joined=joins
    )


def _kind(segment: Segment) -> tuple[object, ...]:
    return segment.cable, segment.reference_conductor, segment.reference_is_shield, segment.shield, segment.feed


def _joins(start: bool, end: bool) -> Literal["both", "start", "end", "neither"]:
    if start:
        return "both" if end else "start"
    return "end" if end else "neither"


def _is(place: str, given: object, kind: type) -> None:
    if not isinstance(given, kind):
        raise InputError(Problem(place, shown(given), f"a {kind.__name__}"))


def _length(place: str, given: Given) -> float:
    try:
        return units.metres(given)
    except InputError as error:
        raise InputError(*(problem.under(place) for problem in error.problems)) from None


def _found(kind: str, name: str, among: dict[str, _T]) -> _T:
    if isinstance(name, str) and name in among:
        return among[name]
    raise UnknownNameError(kind, str(name), tuple(difflib.get_close_matches(str(name), among, n=3)))


def _doubled(field: str, items: tuple[Node, ...] | tuple[Earth, ...]) -> list[Problem]:
    seen: set[str] = set()
    problems = []
    for item in items:
        if item.name in seen:
            problems.append(Problem(f'{field}["{item.name}"]', "the name twice", "names that are unique"))
        seen.add(item.name)
    return problems


def _earths_of(node: Node) -> Iterator[tuple[str, str]]:
    """Give the places at which a node names an earth, with the names."""
    place = f'nodes["{node.name}"]'
    if node.earth is not None:
        yield f"{place}.earth", node.earth
    for index, bond in enumerate(node.bonds):
        yield f"{place}.bonds[{index}].earth", bond.earth
    if node.shield_bond is not None and node.shield_bond.earth is not None:
        yield f"{place}.shield_bond.earth", node.shield_bond.earth


def _dangling(place: str, name: str, known: dict[str, None], kind: str, *, offer: bool) -> Problem:
    near = difflib.get_close_matches(name, known, n=2) if offer and len(known) <= _MOST_COMPARED else []
    cure = f"did you mean {' or '.join(near)}?" if near else f"add the {kind}, or correct the name"
    return Problem(place, f'"{name}"', f"the name of {'an' if kind == 'earth' else 'a'} {kind} of the bus", cure)


def _parallel(segments: tuple[Segment, ...]) -> list[Problem]:
    """Two segments between the same two nodes could not be told apart by name."""
    seen: set[frozenset[str]] = set()
    problems = []
    for index, segment in enumerate(segments):
        ends = frozenset((segment.start, segment.end))
        if ends in seen:
            cure = "put a passive node on one of them"
            given = f'a second segment between "{segment.start}" and "{segment.end}"'
            problems.append(Problem(f"segments[{index}]", given, "one segment between two nodes", cure))
        seen.add(ends)
    return problems
