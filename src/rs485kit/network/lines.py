"""The lines of a bus: the trunk, branches too long for a stub, the ends of both, and the stubs that hang on them."""

import heapq
from typing import NamedTuple, TypeAlias

from rs485kit.model import Bus, Segment
from rs485kit.model.base import TAP_SUFFIX
from rs485kit.network.branches import Notes, Span, span_of

# MODBUS over Serial Line V1.02, section 3.4.3: a derivation is never longer
LONGEST_STUB = 20.0
LIGHT_SPEED = 299_792_458.0

_Around: TypeAlias = dict[str, list[tuple[str, Segment]]]
_Before: TypeAlias = dict[str, tuple[str, Segment]]


class Lines(NamedTuple):
    """The lines of a bus.

    `ends` names the places at which a line ends, in bus order. `along` has for each place on a line the segments of
    lines that meet there, `stub` for every place its length of cable from the nearest line, 0 on one, and `root` the
    place on that line from which its stub leaves.
    """

    ends: tuple[str, ...]
    along: dict[str, tuple[Segment, ...]]
    stub: dict[str, float]
    root: dict[str, str]

    def end_near(self, name: str) -> str:
        """Return the end at which a place stands: the end itself, or the tap of its own drop; "" if at none."""
        if name in self.ends:
            return name
        leaf = name.removesuffix(TAP_SUFFIX)
        drop = self.along[leaf] if leaf != name and leaf in self.ends else ()
        at_tap = any(name in (each.start, each.end) and each.length <= LONGEST_STUB for each in drop)
        return leaf if at_tap else ""

    def spans_at(self, name: str) -> tuple[Segment, ...]:
        """Return the segments of lines that meet where a place is tied to its line, without the drop of an end."""
        root = self.root[name]
        leaf = self.end_near(root)
        return tuple(each for each in self.along[root] if leaf in ("", root) or leaf not in (each.start, each.end))


def lines_of(bus: Bus) -> Lines:
    """Return the lines of a bus.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    Lines
        Its lines [-].

    Notes
    -----
    Each part of the bus that cable joins has a trunk: the way between its two places farthest apart or, where cable
    closes a ring, the ring. What hangs on a line by at most 20 m of cable is a stub. A branch that goes farther is a
    line of its own as far as its farthest place, which is an end; what hangs on it is judged again in the same way. So
    a star has as many ends as runs of more than 20 m, and at least two; a ring has none.
    """
    around = _around(bus)
    ringed = _ringed(around)
    terminated = frozenset(node.name for node in bus.nodes if any(each.engaged for each in node.terminations))
    lines = Lines((), {}, {}, {})
    ends: set[str] = set()
    for node in bus.nodes:
        if node.name not in lines.root:
            reached = _reached(around, node.name)[0]
            trunk = {name: [(n, s) for n, s in around[name] if n in ringed] for name in reached if name in ringed}
            closed = bool(trunk)
            ends |= _grown(around, trunk or _trunk(around, min(reached), terminated), lines, closed=closed)
    return lines._replace(ends=tuple(node.name for node in bus.nodes if node.name in ends))


def _around(bus: Bus) -> _Around:
    """Return the neighbours of every place, each with the segment between."""
    around: _Around = {node.name: [] for node in bus.nodes}
    for segment in bus.segments:
        around[segment.start].append((segment.end, segment))
        around[segment.end].append((segment.start, segment))
    return around


def _ringed(around: _Around) -> set[str]:
    """Return the places on rings and on the ways between rings: what is left when leaves are taken off in turn."""
    degree = {name: len(neighbours) for name, neighbours in around.items()}
    leaves = [name for name, count in degree.items() if count < 2]
    left = set(around) - set(leaves)
    while leaves:
        for neighbour, _ in around[leaves.pop()]:
            degree[neighbour] -= 1
            if neighbour in left and degree[neighbour] < 2:
                left.remove(neighbour)
                leaves.append(neighbour)
    return left


def _reached(around: _Around, start: str) -> tuple[dict[str, float], _Before]:
    """Return the places that cable joins to one, with the shortest length to each and what comes before it."""
    length, before = {start: 0.0}, {}
    queue, done = [(0.0, start)], set()
    while queue:
        so_far, name = heapq.heappop(queue)
        if name in done:
            continue
        done.add(name)
        for neighbour, segment in around[name]:
            reach = so_far + segment.length
            if reach < length.get(neighbour, float("inf")):
                length[neighbour], before[neighbour] = reach, (name, segment)
                heapq.heappush(queue, (reach, neighbour))
    return length, before


def _farthest(
    around: _Around, start: str, preferred: frozenset[str] = frozenset()
) -> tuple[list[str], list[Segment]]:
    """Return the places and the segments on the way from one place to that farthest from it.

    Among equals a preferred place wins, then the name, so that the order of nodes decides nothing.
    """
    length, before = _reached(around, start)
    farthest = max(length, key=lambda name: (round(length[name], 9), name in preferred, name))
    places, segments = [farthest], []
    while places[-1] != start:
        previous, segment = before[places[-1]]
        places.append(previous)
        segments.append(segment)
    return places[::-1], segments[::-1]


def _trunk(around: _Around, start: str, preferred: frozenset[str]) -> _Around:
    """Return the way between the two places farthest apart of a part without rings."""
    places, segments = _farthest(around, _farthest(around, start, preferred)[0][-1], preferred)
    trunk: _Around = {name: [] for name in places}
    for first, second, segment in zip(places, places[1:], segments, strict=False):
        trunk[first].append((second, segment))
        trunk[second].append((first, segment))
    return trunk


def _grown(around: _Around, trunk: _Around, lines: Lines, *, closed: bool) -> set[str]:
    """Put a trunk and everything that hangs on it into `lines`, and return the ends.

    Branches are followed outwards from the trunk, then their depths back, then each is called a line or a stub.
    """
    order: list[tuple[str, str, Segment]] = []
    known, queue = set(trunk), list(trunk)
    for name in queue:
        for neighbour, segment in around[name]:
            if neighbour not in known:
                known.add(neighbour)
                queue.append(neighbour)
                order.append((name, neighbour, segment))
    depth: dict[str, float] = dict.fromkeys(known, 0.0)
    deepest: dict[str, str] = {}
    for inner, outer, segment in reversed(order):
        if depth[outer] + segment.length > depth[inner]:
            depth[inner], deepest[inner] = depth[outer] + segment.length, outer
    for name, neighbours in trunk.items():
        lines.along[name] = tuple(segment for _, segment in neighbours)
        lines.stub[name], lines.root[name] = 0.0, name
    ends = set() if closed else {name for name, neighbours in trunk.items() if len(neighbours) < 2}
    for inner, outer, segment in order:
        carried_on = inner not in trunk and deepest[inner] == outer
        if inner in lines.along and (carried_on or depth[outer] + segment.length > LONGEST_STUB):
            lines.along[inner] += (segment,)
            lines.along[outer] = (segment,)
            lines.stub[outer], lines.root[outer] = 0.0, outer
            ends |= set() if outer in deepest else {outer}
        else:
            lines.stub[outer] = lines.stub[inner] + segment.length
            lines.root[outer] = lines.root[inner]
    return ends


def way_to_farthest(bus: Bus, name: str) -> tuple[Segment, ...]:
    """Return the segments on the way from a place to that farthest from it by cable.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    name : str
        Name of a node [-].

    Returns
    -------
    tuple of Segment
        The segments in order; empty if no cable leaves the place [-].
    """
    return tuple(_farthest(_around(bus), name)[1])


def delay_along(way: tuple[Segment, ...], notes: Notes) -> Span:
    """Return how long a wave takes along segments.

    Parameters
    ----------
    way : tuple of Segment
        The segments [-].
    notes : Notes
        Takes the figures that are not stated [-].

    Returns
    -------
    Span
        The delay; NaN where a velocity factor is not stated [s].
    """
    total = Span(0.0, 0.0, 0.0)
    for segment in way:
        if segment.cable is None:
            factor = notes.miss(f'segments["{segment.start}" - "{segment.end}"].cable')
        else:
            factor = span_of(segment.cable.velocity_factor, f'cable "{segment.cable.name}" velocity_factor', notes)
        fastest = segment.length / LIGHT_SPEED
        total = Span(
            total.nominal + fastest / factor.nominal,
            total.lower + fastest / factor.upper,
            total.upper + fastest / factor.lower,
        )
    return total
