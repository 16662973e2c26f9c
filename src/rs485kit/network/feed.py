"""The feed of a bus as arrays: plus and minus of every fed place, feeding points, ties of the minus to earths."""

from collections.abc import Iterator
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from rs485kit.model import Bus, Node, Segment
from rs485kit.network.assembly import Floats, Indices, warming_of
from rs485kit.network.branches import EXACT_ZERO, Notes, Span, conductance_of, span_of
from rs485kit.solvers.feed import Circuit, Solved, inverted
from rs485kit.solvers.nodal import joined_parts
from rs485kit.units import MinTypMax

Corner: TypeAlias = Literal["nominal", "adverse", "benign"]
# place in a Span of conductances and EMFs at each corner: an adverse one has least conductance and least EMF
_MEMBER = {"nominal": 0, "adverse": 1, "benign": 2}


class FeedNetwork(NamedTuple):
    """The feed of a bus.

    `places` are the nodes that feed conductors, feeding points or fed devices touch; place k has the unknowns 2 k
    (plus) and 2 k + 1 (minus). Branches stand in pairs, plus and minus of a segment. `devices` and `feeding` are
    places. `simple`: without rings, one feeding point and at most one earth to each connected part.
    """

    places: tuple[str, ...]
    devices: tuple[str, ...]
    feeding: tuple[str, ...]
    segments: tuple[tuple[str, str], ...]
    at: Indices
    source_at: Indices
    size: int
    start: Indices
    end: Indices
    conductance: Floats
    plus: Indices
    minus: Indices
    emf: Floats
    inner: Floats
    parts: Indices
    simple: bool
    missing: tuple[str, ...]
    unstated: tuple[str, ...]
    assumed: tuple[str, ...]

    def circuit(self, corner: Corner) -> Circuit:
        """Return the network with all figures nominal, or all at the end that lowers or raises voltages."""
        member = _MEMBER[corner]
        inner = self.inner[(0, 2, 1)[member]]
        sources = len(self.feeding)
        return Circuit(
            self.size, self.start, self.end, self.conductance[member], self.plus, self.minus, self.emf[member], inner,
            sources,
        )  # fmt: skip


class _Emf(NamedTuple):
    plus: int
    minus: int
    emf: Span
    inner: Span


def feeds(bus: Bus) -> bool:
    """Return whether anything on a bus has to do with a feed over the cable."""
    return any(node.feed or node.feed_source for node in bus.nodes) or any(each.feed for each in bus.segments)


def feed_network(bus: Bus) -> FeedNetwork:
    """Return the feed of a bus as arrays.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    FeedNetwork
        The arrays; figures without which there is no answer are named in `missing` [-].

    Notes
    -----
    A feed conductor is so many wires in parallel, each of the stated resistance per metre at 20 degC, or that of the
    signal pair, at the site's temperature. A common return is the reference conductor alone. The minus touches earth
    where a feeding point is bonded, and, where it is the reference conductor, at every node whose common is bonded.
    """
    notes = Notes()
    runs = [segment for segment in bus.segments if segment.feed is not None]
    touched = {name for segment in runs for name in (segment.start, segment.end)}
    nodes = [node for node in bus.nodes if node.name in touched or node.feed or node.feed_source]
    index = {node.name: 2 * place for place, node in enumerate(nodes)}
    devices = [node for node in nodes if node.feed is not None]
    feeding = [node for node in nodes if node.feed_source is not None]
    warming = warming_of(bus, notes) if runs else EXACT_ZERO
    wires = [each for segment in runs for each in _wires(segment, index, warming, notes)]
    emfs = [_source(node, index[node.name], notes) for node in feeding]
    earths = list(_earths(bus, nodes, index, runs, notes))
    emfs += earths
    size = 2 * len(nodes) + len({each.plus for each in earths if each.minus < 0})
    start, end = (np.array([wire[k] for wire in wires], dtype=np.intp) for k in (0, 1))
    plus, minus = (np.array([each[k] for each in emfs], dtype=np.intp) for k in (0, 1))
    places = np.array([index[node.name] for node in devices], dtype=np.intp)
    source_at = np.array([index[node.name] for node in feeding], dtype=np.intp)
    parts = _parts(size, start, end, plus, minus)
    return FeedNetwork(
        places=tuple(node.name for node in nodes),
        devices=tuple(node.name for node in devices),
        feeding=tuple(node.name for node in feeding),
        segments=tuple((segment.start, segment.end) for segment in runs),
        at=np.stack((places, places + 1), axis=1),
        source_at=source_at,
        size=size,
        start=start,
        end=end,
        conductance=_columns([wire[2] for wire in wires]),
        plus=plus,
        minus=minus,
        emf=_columns([each.emf for each in emfs]),
        inner=_columns([each.inner for each in emfs]),
        parts=parts,
        simple=_simple(len(nodes), index, runs, parts, source_at, earths),
        missing=notes.missing,
        unstated=notes.unstated,
        assumed=notes.assumed,
    )


def _columns(spans: list[Span]) -> Floats:
    return np.array(spans, dtype=np.float64).reshape(-1, 3).T.copy()


def _wires(segment: Segment, index: dict[str, int], warming: Span, notes: Notes) -> Iterator[tuple[int, int, Span]]:
    """Give plus and minus of a segment."""
    feed, cable = segment.feed, segment.cable
    assert feed is not None
    name = f'segments["{segment.start}" - "{segment.end}"]'
    wire: MinTypMax | None
    if feed.conductor_resistance is not None:
        wire, place = feed.conductor_resistance, f"{name}.feed.conductor_resistance"
    else:
        notes.assume("feed wires without a resistance of their own are taken as those of the signal pair", "whole site")
        wire = None if cable is None else cable.conductor_resistance
        place = f'cable "{cable.name}" conductor_resistance' if cable is not None else f"{name}.cable"
    scale = Span(*(segment.length * factor / feed.wires for factor in warming))
    several = conductance_of(wire, place, notes, scale)
    first, last = index[segment.start], index[segment.end]
    yield first, last, several
    if not feed.common_return:
        yield first + 1, last + 1, several
        return
    field = "shield_resistance" if segment.reference_is_shield else "reference_resistance"
    common = None if cable is None else getattr(cable, field)
    place = f'cable "{cable.name}" {field}' if cable is not None else f"{name}.cable"
    single = Span(*(segment.length * factor for factor in warming))
    yield first + 1, last + 1, conductance_of(common, place, notes, single)


def _source(node: Node, place: int, notes: Notes) -> _Emf:
    source = node.feed_source
    assert source is not None
    where = f'nodes["{node.name}"].feed_source'
    inner = EXACT_ZERO
    if source.resistance is None:
        notes.assume("feeding points without a stated resistance are taken at 0 ohm", node.name)
    else:
        inner = span_of(source.resistance, f"{where}.resistance", notes)
    return _Emf(place, place + 1, span_of(source.voltage, f"{where}.voltage", notes), inner)


def _earths(
    bus: Bus, nodes: list[Node], index: dict[str, int], runs: list[Segment], notes: Notes
) -> Iterator[_Emf]:
    """Give the earths that the minus is bonded to, then the ties to them."""
    shared = {name for each in runs if each.feed and each.feed.common_return for name in (each.start, each.end)}
    ties: list[tuple[Node, Span]] = []
    for node in nodes:
        if node.feed_source is not None and node.feed_source.bonded:
            if node.earth is None:
                notes.miss(f'nodes["{node.name}"].earth')
            else:
                ties.append((node, EXACT_ZERO))
        elif node.name in shared and node.bonded and node.common is not None:
            place = f'nodes["{node.name}"].common.resistance'
            ties.append((node, span_of(node.common.resistance, place, notes)))
    used = list(dict.fromkeys(node.earth for node, _ in ties if node.earth is not None))
    unknown = {name: 2 * len(nodes) + k for k, name in enumerate(used)}
    for name in used:
        earth = bus.earth(name)
        where = f'earths["{name}"]'
        potential, resistance = EXACT_ZERO, EXACT_ZERO
        if earth.potential is None:
            notes.assume("earths without a stated potential are taken at 0 V", name)
        else:
            potential = span_of(earth.potential, f"{where}.potential", notes)
        if earth.resistance is None:
            notes.assume("earths without a stated resistance are taken at 0 ohm", name)
        else:
            resistance = span_of(earth.resistance, f"{where}.resistance", notes)
        yield _Emf(unknown[name], -1, potential, resistance)
    for node, link in ties:
        assert node.earth is not None
        yield _Emf(index[node.name] + 1, unknown[node.earth], EXACT_ZERO, link)


def _parts(size: int, start: Indices, end: Indices, plus: Indices, minus: Indices) -> Indices:
    """Return for each unknown the part that it belongs to, the site's earth left out."""
    inside = minus >= 0
    return joined_parts(size, np.concatenate((start, plus[inside])), np.concatenate((end, minus[inside])))


def _simple(
    count: int, index: dict[str, int], runs: list[Segment], parts: Indices, source_at: Indices, earths: list[_Emf]
) -> bool:
    """Return whether the currents of the devices alone decide that of every conductor."""
    first = np.array([index[each.start] // 2 for each in runs], dtype=np.intp)
    last = np.array([index[each.end] // 2 for each in runs], dtype=np.intp)
    radial = len(runs) == count - len(set(joined_parts(count, first, last).tolist()))
    sources = parts[source_at].tolist()
    # ties to one and the same earth join parts, and so make it one part with two feeding points
    ties = [parts[each.plus] for each in earths if each.minus >= 0]
    return radial and len(set(sources)) == len(sources) and len(set(ties)) == len(ties)


def all_connected(circuit: Circuit) -> Solved:
    """Return the linear answer of a circuit with every feeding point giving."""
    return inverted(circuit, np.ones(len(circuit.emf), dtype=np.bool_))


def minus_shifts(network: FeedNetwork, circuit: Circuit, solved: Solved, unknowns: Floats) -> Floats:
    """Return how far the feed alone lifts the minus at every place.

    Parameters
    ----------
    network : FeedNetwork
        The feed [-].
    circuit : Circuit
        It at some corner [-].
    solved : Solved
        The linear answer of that [-].
    unknowns : array, shape (states, unknowns)
        Its potentials in some states [V].

    Returns
    -------
    array, shape (states, places)
        Potential of the minus less what the earths alone make of it; where the minus has no earth, against the minus
        of the feeding point of the first name [V].
    """
    earths = np.zeros(circuit.size + len(circuit.emf))
    earths[circuit.size + circuit.sources :] = circuit.emf[circuit.sources :]
    minus = 2 * np.arange(len(network.places)) + 1
    own = (unknowns - solved.inverse @ earths)[:, minus]
    datum = minus_datum(network)
    against = np.where(datum >= 0, own[:, datum], 0.0)
    return np.asarray(own - against)


def minus_datum(network: FeedNetwork) -> Indices:
    """Return for each place the place whose minus its own is told against, or -1 for the site's earth."""
    grounded = {int(network.parts[plus]) for plus, minus in zip(network.plus, network.minus, strict=True) if minus < 0}
    order = sorted(range(len(network.feeding)), key=lambda index: network.feeding[index])
    first: dict[int, int] = {}
    for index in order:
        first.setdefault(int(network.parts[network.source_at[index]]), int(network.source_at[index]) // 2)
    own = [int(network.parts[2 * place + 1]) for place in range(len(network.places))]
    datum = [-1 if part in grounded else first.get(part, place) for place, part in enumerate(own)]
    return np.array(datum, dtype=np.intp)
