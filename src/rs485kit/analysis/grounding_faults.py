"""Faults of the ground network, one at a time: what loses its reference, where the lines and barriers go then."""

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple, TypeAlias

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.grounding import crest_factor, lacking_of_earths
from rs485kit.analysis.grounding_bonds import nearest_to
from rs485kit.analysis.grounding_tables import Listed
from rs485kit.analysis.results import Array, Missing, unit
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.model.base import Viewed
from rs485kit.network.assembly import BOND, Network, earths_used, field_sides, idle_network
from rs485kit.network.driving import Driver
from rs485kit.network.galvanic import Bond, Island, islands_of
from rs485kit.network.loads import drivers_of
from rs485kit.network.mains import Mains, earth_unknown, mains_of
from rs485kit.solvers.nodal import Branches, Phasors, potentials

FaultKind: TypeAlias = Literal["reference open", "bond open", "barrier shorted", "earth fault", "mains on field side"]


@attrs.frozen(kw_only=True)
class GroundFault(Viewed):
    """One fault of the ground network.

    Parameters
    ----------
    kind : str
        "reference open", "bond open", "barrier shorted", "earth fault" or "mains on field side" [-].
    place : tuple of str
        The two nodes of a span; node and earth of a bond; the node of a barrier; the earth [-].
    lost : tuple of str
        Nodes whose commons no metal joins to an earth then, but did before [-].
    receiver : str
        The receiver whose lines go farthest; "" where nothing can be told [-].
    line_lowest, line_highest : float
        Upper estimate of where its lines go against its common, peaks included [V].
    barrier : str
        The node whose barrier bears most [-].
    barrier_mains : float
        Mains-frequency voltage across that, RMS [V].
    current : float
        Current through what is shorted, direct current and mains RMS together [A].
    """

    kind: FaultKind
    place: tuple[str, ...]
    lost: tuple[str, ...] = ()
    receiver: str = ""
    line_lowest: float = attrs.field(default=math.nan, metadata=unit("V"))
    line_highest: float = attrs.field(default=math.nan, metadata=unit("V"))
    barrier: str = ""
    barrier_mains: float = attrs.field(default=math.nan, metadata=unit("V"))
    current: float = attrs.field(default=math.nan, metadata=unit("A"))


@attrs.frozen(kw_only=True, eq=False)
class GroundFaults(Listed[GroundFault]):
    """Faults of the ground network, one at a time.

    Parameters
    ----------
    rows : tuple of GroundFault
        The faults [-].
    missing : tuple
        What is not stated, by node or earth [-].
    """

    rows: tuple[GroundFault, ...]
    missing: Missing = ()

    @override
    def _magnitude(self, row: GroundFault) -> float:
        return row.line_highest - row.line_lowest


@as_analysis()
def ground_faults(analyses: Analyses) -> GroundFaults:
    """Return what every single fault of the ground network does.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    GroundFaults
        A row for every span of the reference conductor that opens, every bond that opens, every barrier that is
        shorted, every barrier with every earth that has a declared `fault_potential`, and every field side that mains
        may reach [V, A].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that the network depends on.

    Notes
    -----
    The network is solved anew for each fault with nobody driving, which gives the potentials of the commons. While node
    d drives, the lines follow its common, so that at receiver r they reach at the most V_d - V_r plus offset and half
    of the open voltage of that driver: an upper estimate, the load of the pair left out. Bonds that nodes without a
    barrier make are not opened, nor any protective earth. Where the fault takes the last metal way to an earth, nothing
    is defined any more; the nodes are named in `lost`.

    References
    ----------
    Nodal analysis; the set of faults is this library's.
    """
    bus = analyses.bus
    network = idle_network(bus)
    before = islands_of(bus)
    lacking = lacking_of_earths(bus)
    solved = None if lacking or not all(each.referenced for each in before if each.nodes) else _ready(bus, network)
    rows = [
        *_opened(bus, network, before, solved),
        *_shorted(bus, network, solved),
        *_risen(bus, solved),
        *_reached(bus, solved),
    ]
    return GroundFaults(rows=tuple(rows), missing=tuple(("whole site", each) for each in lacking))


class _Ready(NamedTuple):
    """The network before any fault, as what potentials are taken from."""

    bus: Bus
    network: Network
    mains: Mains
    commons: np.ndarray
    receivers: np.ndarray
    drivers: tuple[Driver, ...]
    isolated: np.ndarray
    crest: float


class _Stand(NamedTuple):
    """Potentials of all unknowns: direct, shape (unknowns,), and responses to the earths, shape (unknowns, k)."""

    direct: Array
    response: Phasors


def _ready(bus: Bus, network: Network) -> _Ready:
    nodes = bus.nodes
    return _Ready(
        bus=bus,
        network=network,
        mains=mains_of(bus, network),
        commons=network.terminals[:, 2],
        receivers=np.array([index for index, node in enumerate(nodes) if node.listens], dtype=np.intp),
        drivers=drivers_of(bus),
        isolated=np.array(
            [index for index, node in enumerate(nodes) if node.barrier is not None and node.earth is not None],
            dtype=np.intp,
        ),
        crest=crest_factor(bus),
    )


class _Change(NamedTuple):
    """A conductance that is put between two unknowns, with an EMF; negative to take one away."""

    start: int
    end: int
    conductance: float
    emf: float
    earth: str


def _stands(ready: _Ready, changes: list[_Change]) -> list[_Stand]:
    """Return the potentials with each change made, all solved together."""
    network = ready.network
    if not changes:
        return []
    rest, count = network.branches, len(changes)
    start = np.concatenate((rest.start, np.array([each.start for each in changes], dtype=np.intp)))
    end = np.concatenate((rest.end, np.array([each.end for each in changes], dtype=np.intp)))
    conductance = np.concatenate(
        (np.repeat(rest.conductance[:, None], count, axis=1), np.diag([each.conductance for each in changes]))
    )
    earths = [earth.name for earth in ready.bus.earths]
    injected = np.zeros((network.layout.size, count, 1 + len(earths)))
    emf = np.concatenate((network.emf, [each.emf for each in changes]))
    current = conductance * emf[:, None]
    np.add.at(injected[:, :, 0], start, current)
    np.subtract.at(injected[:, :, 0], end, current)
    given = np.zeros((len(network.fixed), count, 1 + len(earths)))
    given[:, :, 0] = network.given[:, None]
    behind = {network.owners[index]: int(index) for index in network.branches_of("earth")}
    for column, name in enumerate(earths):
        if name in behind:
            own = rest.conductance[behind[name]]
            injected[rest.start[behind[name]], :, 1 + column] += own
            injected[rest.end[behind[name]], :, 1 + column] -= own
        else:
            given[network.fixed == earth_unknown(ready.bus, network, name), :, 1 + column] = 1.0
    for row, each in enumerate(changes):
        if each.earth:
            column = 1 + earths.index(each.earth)
            injected[each.start, row, column] += each.conductance
            injected[each.end, row, column] -= each.conductance
    found = potentials(network.layout, Branches(start, end, conductance), injected, network.fixed, given)
    return [_Stand(found[:, row, 0], found[:, row, 1:].astype(np.complex128)) for row in range(count)]


class _Lines(NamedTuple):
    receiver: str
    lowest: float
    highest: float


def _lines(ready: _Ready, stand: _Stand, more: np.ndarray | None = None) -> _Lines:
    """Return the receiver whose lines go farthest, by the commons; `more` is what each earth adds."""
    if not len(ready.receivers) or not ready.drivers:
        return _Lines("", math.nan, math.nan)
    vertices = np.array([driver.vertex for driver in ready.drivers], dtype=np.intp)
    driving, hearing = ready.commons[vertices], ready.commons[ready.receivers]
    apart = stand.direct[driving][:, None] - stand.direct[hearing]
    response = stand.response[driving][:, None] - stand.response[hearing]
    peak = ready.crest * ready.mains.magnitude(response)
    if more is not None:
        peak = peak + ready.crest * np.abs(response) @ more
    half = np.array([driver.source / 2 for driver in ready.drivers])[:, None]
    offset = np.array([driver.offset[0] for driver in ready.drivers])[:, None]
    high, low = apart + peak + offset + half, apart - peak + offset - half
    if np.isnan(high).any():
        return _Lines("", math.nan, math.nan)
    reach = np.maximum(high.max(axis=0), -low.min(axis=0))
    worst = int(reach.argmax())
    return _Lines(
        ready.bus.nodes[ready.receivers[worst]].name, float(low[:, worst].min()), float(high[:, worst].max())
    )


def _barrier(ready: _Ready, stand: _Stand) -> tuple[str, float]:
    """Return the barrier that bears most at mains frequency, and what it bears, RMS [V]."""
    if not len(ready.isolated):
        return "", math.nan
    size = _across(ready, stand)
    worst = int(size.argmax())
    return ready.bus.nodes[ready.isolated[worst]].name, float(size[worst])


def _across(ready: _Ready, stand: _Stand, more: np.ndarray | None = None) -> Array:
    """Return what every barrier bears at mains frequency, RMS [V]; `more` is what each earth adds."""
    names = [earth.name for earth in ready.bus.earths]
    site = ready.network.layout.vertices * ready.network.layout.width
    field = field_sides(ready.bus, ready.network)[ready.isolated]
    own = stand.response[field]
    for row, index in enumerate(ready.isolated):
        if field[row] == site:
            own[row] = 0.0
            own[row, names.index(str(ready.bus.nodes[index].earth))] = 1.0
    response = stand.response[ready.commons[ready.isolated]] - own
    size = ready.mains.magnitude(response)
    return size if more is None else size + np.abs(response) @ more


def _row(kind: FaultKind, place: tuple[str, ...], ready: _Ready, stand: _Stand) -> GroundFault:
    lines, barrier = _lines(ready, stand), _barrier(ready, stand)
    return GroundFault(
        kind=kind, place=place, receiver=lines.receiver, line_lowest=lines.lowest, line_highest=lines.highest,
        barrier=barrier[0], barrier_mains=barrier[1],
    )  # fmt: skip


def _lost(before: tuple[Island, ...], after: tuple[Island, ...]) -> tuple[str, ...]:
    had = {name for island in before if island.referenced for name in island.nodes}
    return tuple(name for island in after if not island.referenced for name in island.nodes if name in had)


def _cut(before: tuple[Island, ...], after: tuple[Island, ...]) -> bool:
    """Return whether something floats that did not: a stretch of conductor without a node too."""
    return sum(not each.referenced for each in after) > sum(not each.referenced for each in before)


def _opened(
    bus: Bus, network: Network, before: tuple[Island, ...], ready: _Ready | None
) -> Iterator[GroundFault]:
    """Give every span of the reference conductor that opens, and every bond that was made on purpose or by accident."""
    where = {network.owners[index]: int(index) for index in network.branches_of("reference")}
    held: list[tuple[FaultKind, tuple[str, ...], _Change]] = []
    for segment in bus.segments:
        place: tuple[str, ...] = (segment.start, segment.end)
        if not segment.reference_conductor:
            continue
        after = islands_of(bus, without=frozenset({(segment.start, segment.end)}))
        lost = _lost(before, after)
        index = where.get(f"{segment.start} - {segment.end}")
        if _cut(before, after) or ready is None or index is None:
            yield GroundFault(kind="reference open", place=place, lost=lost)
        else:
            held.append(("reference open", place, _without(network, index)))
    for way in (way for island in before for way in island.bonds if not way.by_nature):
        after = islands_of(bus, without=frozenset({(way.node, way.earth, way.cause)}))
        lost = _lost(before, after)
        branch = None if ready is None else _branch_of(bus, network, way)
        if _cut(before, after) or branch is None:
            yield GroundFault(kind="bond open", place=(way.node, way.earth), lost=lost)
        else:
            held.append(("bond open", (way.node, way.earth), _without(network, branch)))
    if ready is not None:
        stands = _stands(ready, [change for _, _, change in held])
        for (kind, place, _), stand in zip(held, stands, strict=True):
            yield _row(kind, place, ready, stand)


def _without(network: Network, index: int) -> _Change:
    rest = network.branches
    return _Change(int(rest.start[index]), int(rest.end[index]), -float(rest.conductance[index]), 0.0, "")


def _branch_of(bus: Bus, network: Network, way: Bond) -> int | None:
    """Return the branch of a bond; None where it is a wire, which has none."""
    earth = earth_unknown(bus, network, way.earth)
    there = [
        int(index) for index in network.branches_of("bond")
        if network.owners[index] == way.node and network.branches.end[index] == earth
    ]  # fmt: skip
    return nearest_to(network, there, way.resistance) if there else None


def _shorted(bus: Bus, network: Network, ready: _Ready | None) -> Iterator[GroundFault]:
    """Give every barrier that joins its bus side to the earth of its field side."""
    nodes = [(index, node) for index, node in enumerate(bus.nodes) if node.barrier is not None and node.earth]
    if ready is None:
        return
    changes = [_short(bus, network, index, node) for index, node in nodes]
    for (_, node), change, stand in zip(nodes, changes, _stands(ready, changes), strict=True):
        row = _row("barrier shorted", (node.name,), ready, stand)
        across = stand.direct[change.start] - stand.direct[change.end] - change.emf
        response = stand.response[change.start] - stand.response[change.end]
        if change.earth:
            response = response - np.array([float(earth.name == change.earth) for earth in bus.earths])
        current = change.conductance * math.hypot(float(across), float(ready.mains.magnitude(response)))
        limited = bus.earth(str(node.earth)).resistance is not None
        yield attrs.evolve(row, current=current if limited else math.nan)


def _short(bus: Bus, network: Network, index: int, node: Node) -> _Change:
    common, earth = int(network.terminals[index, 2]), bus.earth(str(node.earth))
    if earth.name in earths_used(bus):
        return _Change(common, earth_unknown(bus, network, earth.name), BOND.nominal, 0.0, "")
    site = network.layout.vertices * network.layout.width
    ohms = 0.0 if earth.resistance is None or earth.resistance.nominal is None else earth.resistance.nominal
    potential = 0.0 if earth.potential is None or earth.potential.nominal is None else earth.potential.nominal
    return _Change(common, site, 1.0 / (ohms + 1.0 / BOND.nominal), potential, earth.name)


def _risen(bus: Bus, ready: _Ready | None) -> Iterator[GroundFault]:
    """Give every earth at its declared fault potential, at the worst phase beside the others."""
    for index, earth in enumerate(bus.earths):
        if earth.fault_potential is None or ready is None:
            continue
        stand = _at_rest(ready)
        more = np.array([earth.fault_potential if each == index else 0.0 for each in range(len(bus.earths))])
        lines = _lines(ready, stand, more)
        barriers = [("", math.nan)]
        if len(ready.isolated):
            nodes = [bus.nodes[index].name for index in ready.isolated]
            barriers = list(zip(nodes, map(float, _across(ready, stand, more)), strict=True))
        for barrier in barriers:
            yield GroundFault(
                kind="earth fault", place=(earth.name,), receiver=lines.receiver, line_lowest=lines.lowest,
                line_highest=lines.highest, barrier=barrier[0], barrier_mains=barrier[1],
            )  # fmt: skip


def _at_rest(ready: _Ready) -> _Stand:
    network = ready.network
    direct = potentials(
        network.layout, network.branches, network.injected(network.emf[:, None]), network.fixed,
        network.given[:, None],
    )[:, 0]  # fmt: skip
    return _Stand(direct, ready.mains.response)


def _reached(bus: Bus, ready: _Ready | None) -> Iterator[GroundFault]:
    """Give every field side that mains reaches: its barrier bears the mains on top of the difference of earths."""
    site = None if bus.environment is None else bus.environment.system_voltage_rms
    for node in bus.nodes:
        circuit = node.circuit
        if node.barrier is None or circuit is None or circuit.hazard != "hazardous":
            continue
        volts = circuit.system_voltage_rms or site
        apart = 0.0 if ready is None or node.earth is None else _own_barrier(ready, node)
        yield GroundFault(
            kind="mains on field side", place=(node.name,), barrier=node.name,
            barrier_mains=math.nan if volts is None else volts + apart,
        )  # fmt: skip


def _own_barrier(ready: _Ready, node: Node) -> float:
    alone = ready._replace(isolated=np.array([[each.name for each in ready.bus.nodes].index(node.name)], dtype=np.intp))
    return _barrier(alone, _at_rest(ready))[1]
