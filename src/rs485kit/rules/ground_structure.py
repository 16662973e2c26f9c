"""Rules on the ground graph: commons, reference conductor, shields, and where they reach earth."""

import functools
import math
from collections.abc import Callable, Iterable, Iterator

from rs485kit import analysis
from rs485kit.analysis.grounding import lacking_of_earths
from rs485kit.errors import MissingDataError, listed
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Node
from rs485kit.network.galvanic import Bond, Island, islands_of
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, unknown
from rs485kit.rules.structure import lone_places, parts_of

KEEP_EARTHS = (
    "never by removing, opening or weakening a protective earth; earthing is done under local codes by those licensed "
    "to do it"
)


def states_grounds(bus: Bus) -> bool:
    """Return whether a bus says anything of earths, commons, a reference conductor or shields."""
    nodes = any(
        node.earth or node.common or node.barrier or node.bonds or node.shield_bond for node in bus.nodes
    )
    return nodes or any(each.reference_conductor is not None or each.shield is not None for each in bus.segments)


def reference_unstated(bus: Bus) -> Finding | None:
    """Return the unknown for a bus that joins commons to a reference conductor and does not say where that runs."""
    joined = {node.name for node in bus.nodes if node.common is not None}
    dark = any(each.reference_conductor is None and joined & {each.start, each.end} for each in bus.segments)
    if not dark:
        return None
    return _reference_dark()


def _reference_dark() -> Finding:
    text = "where a reference conductor runs is not stated"
    return unknown(Place.bus(), text, missing=("segments.reference_conductor",))


def shield_unstated(bus: Bus) -> Finding | None:
    """Return the unknown for a bus with bonds of a shield that does not say where a shield runs."""
    bonded = {node.name for node in bus.nodes if node.shield_bond is not None}
    joint = any(each.reference_is_shield for each in bus.segments)
    dark = [each for each in bus.segments if each.shield is None]
    if not dark or not (joint or any(bonded & {each.start, each.end} for each in dark)):
        return None
    text = "where a shield runs is not stated, though it is bonded or serves as reference conductor"
    return unknown(Place.bus(), text, missing=("segments.shield",))


def isolated(bus: Bus, island: Island) -> list[str]:
    """Return the nodes of an island that have a barrier."""
    return [name for name in island.nodes if bus.node(name).barrier is not None]


def _ways(bonds: Iterable[Bond]) -> str:
    return listed(tuple(sorted(f"{bond.node} to {bond.earth} ({bond.cause})" for bond in bonds)), 4)


@rule(
    "ground.common-not-joined",
    title="The common of a node is joined to nothing that defines what its receiver bears",
    basis="physics",
    safety=True,
)
def common_not_joined(analyses: Analyses) -> Iterable[Finding]:
    """The common of a node floats against those of the others.

    What it checks
    --------------
    Whether the commons of all nodes on a pair hang together by metal, or each of their islands is bonded to an earth.
    Metal is a conductor, or a stated resistance up to 1 kohm; receiver inputs, bias legs and capacitors are none.

    Why it matters
    --------------
    A pair of wires defines the difference between two lines and nothing else. A node whose common floats drifts to
    wherever leakage and stray capacitance take it, until a receiver input or a barrier conducts. A circuit of receiver
    inputs has a solution, so that a check by number would pass it.

    Limit and source
    ----------------
    Every common on the reference conductor, or bonded. It follows from the circuit; that all commons share a reference
    wire is the rule of the trade.

    When to waive
    -------------
    Never.
    """
    bus = analyses.bus
    if not states_grounds(bus):
        text = "what receivers bear is unknown: nothing is stated of earths, commons, barriers, reference conductor"
        missing = ("earth, common and barrier of the nodes", "reference_conductor of the segments")
        yield unknown(Place.bus(), text, missing=missing)
        return
    island_of = {name: island for island in islands_of(bus) for name in island.nodes}
    lone = lone_places(bus)
    for part in parts_of(bus):
        here = [bus.node(name) for name in part if bus.node(name).transceiver is not None and name not in lone]
        islands = {id(island_of[node.name]): island_of[node.name] for node in here}
        for node in here:
            island = island_of[node.name]
            if len(islands) == 1 or island.referenced:
                what = "one conductor joins all commons" if len(islands) == 1 else "its common is bonded to an earth"
                yield Finding(verdict="pass", where=Place.node(node.name), message=what)
            else:
                yield _floats(bus, node, island)


def _floats(bus: Bus, node: Node, island: Island) -> Finding:
    place = Place.node(node.name)
    spans = [each for each in bus.segments if node.name in (each.start, each.end)]
    if node.common is not None and any(each.reference_conductor is None for each in spans):
        text = f"whether a reference conductor joins the common of {node.name} to the others is not stated"
        return unknown(place, text, missing=("segments.reference_conductor",))
    if node.barrier is None and node.earth is None and not node.bonds and len(island.nodes) == 1:
        text = f"{node.name} has no barrier, and what its common stands on is not stated"
        return unknown(place, text, missing=(f'nodes["{node.name}"].earth (or its common)',))
    others = [name for name in island.nodes if name != node.name]
    with_whom = f", together with that of {listed(tuple(others), 3)}" if others else ""
    capacitive = tuple(way.earth for way in island.ways if way.capacitive)
    leak = f"; capacitors tie it to {listed(capacitive, 3)} for alternating current alone" if capacitive else ""
    return Finding(
        verdict="fail",
        where=place,
        message=f"the common of {node.name} floats against those of the others{with_whom}: no metal joins it to them "
        f"or to an earth, so that nothing defines what its receiver and its barrier bear{leak}",
        remedy="run a reference conductor along the bus, join every common to it, and bond it to earth at one place",
    )


@rule(
    "ground.reference-floating",
    title="A reference conductor of isolated nodes is bonded to no earth",
    basis="common practice",
    safety=True,
)
def reference_floating(analyses: Analyses) -> Iterable[Finding]:
    """The reference conductor that joins isolated commons is bonded nowhere.

    What it checks
    --------------
    For every island with a barrier on it whose commons are joined: whether at least one metallic way, up to 1 kohm,
    leads to an earth. A node without a barrier on the island is such a way.

    Why it matters
    --------------
    A section that floats is charged through the capacitances and the insulation of all its barriers. Where a circuit
    behind one of them is at mains, or can be touched, the whole bus may come to stand there.

    Limit and source
    ----------------
    One bond. A failure where some field side is hazardous or can be touched, otherwise marginal; the figure of 1 kohm
    is this library's. Practice differs: some guides show floating sections as valid, others warn of them.

    When to waive
    -------------
    When the product standard of the installation asks for a floating section and its insulation is monitored.
    """
    bus = analyses.bus
    if unstated := reference_unstated(bus):
        yield unstated
        return
    for island in islands_of(bus):
        behind = isolated(bus, island)
        if not behind or len(island.nodes) < 2:
            continue
        place = Place.node(min(island.nodes))
        if island.referenced:
            yield Finding(verdict="pass", where=place, message=f"bonded: {_ways(island.bonds)}")
            continue
        circuits = {name: bus.node(name).circuit for name in behind}
        charged = [name for name, each in circuits.items() if each is not None and each.hazard is not None]
        dark = [name for name, each in circuits.items() if each is None or each.hazard is None]
        text = f"the reference conductor that joins {listed(tuple(sorted(island.nodes)), 3)} is bonded to no earth"
        bleeds = [way for way in island.ways if not way.capacitive]
        if bleeds:
            together = 1.0 / sum(1.0 / way.resistance for way in bleeds)
            text += f"; what leads to earth comes to {figure(together, 'ohm')}, which is no bond"
        if charged:
            text += f", and {listed(tuple(charged), 3)} can charge it"
            yield Finding(verdict="fail", where=place, message=text, remedy=_bond_once())
        elif dark:
            missing = tuple(f'nodes["{name}"].circuit.hazard' for name in dark)
            yield unknown(place, f"{text}; what can charge it is not stated", missing=missing, remedy=_bond_once())
        else:
            yield Finding(verdict="marginal", where=place, message=text, remedy=_bond_once())


def _bond_once() -> str:
    return "bond the reference conductor to one earth, at one place, with a short wire"


@rule(
    "ground.bonded-twice",
    title="A section with isolated nodes is bonded to more than one earth",
    basis="physics",
    safety=True,
)
def bonded_twice(analyses: Analyses) -> Iterable[Finding]:
    """The reference conductor of a section with isolated nodes reaches two different earths.

    What it checks
    --------------
    For every island with a barrier on it the earths to which metal, up to 1 kohm, joins it: bonds made on purpose,
    nodes without a barrier, bonds of its shield, and further bonds such as the earthed adapter of a laptop.

    Why it matters
    --------------
    Two bonds make the reference conductor part of the earthing of the site: the difference between the two earths
    drives a current along it, which grows with every fault to earth, and the isolation of the nodes in between is worth
    nothing.

    Limit and source
    ----------------
    Not more than one earth. It follows from the circuit; the current of the loop is solved.

    When to waive
    -------------
    Never.
    """
    bus = analyses.bus
    if unstated := reference_unstated(bus):
        yield unstated
        return
    for island in islands_of(bus):
        if not isolated(bus, island) or not island.bonds:
            continue
        place = Place.node(min(bond.node for bond in island.bonds))
        if len(island.earths) == 1:
            yield Finding(verdict="pass", where=place, message=f"one earth: {_ways(island.bonds)}")
            continue
        current = loop_current(analyses, island)
        told = (
            "no resistance that is stated limits the current of the loop" if math.isnan(current)
            else f"up to {figure(current, 'A')} flow round the loop"
        )  # fmt: skip
        yield Finding(
            verdict="fail",
            where=place,
            message=f"the section of {listed(tuple(sorted(island.nodes)), 3)} is bonded to {len(island.earths)} "
            f"earths: {_ways(island.bonds)}; {told}",
            remedy=f"keep one bond and isolate what makes the others, {KEEP_EARTHS}",
            quantity="current of the loop",
            unit="A",
            measured=current,
        )


def loop_current(analyses: Analyses, island: Island) -> float:
    """Return the greatest current through a bond of an island, direct and mains RMS together; NaN where unknown [A]."""
    if lacking_of_earths(analyses.bus):
        return math.nan
    try:
        bonds = analysis.common_mode(analyses).bonds
    except MissingDataError:
        return math.nan
    nodes = {(bond.node, bond.earth, bond.cause) for bond in island.bonds}
    sizes = [math.hypot(row.current, row.mains) for row in bonds if (row.node, row.earth, row.cause) in nodes]
    return math.nan if any(math.isnan(size) for size in sizes) else max(sizes, default=math.nan)


def lacking_of_loop(bus: Bus, island: Island) -> tuple[str, ...]:
    """Return what is not stated that the current between the earths of an island hangs on."""
    fields = ("potential", "mains_potential", "resistance")
    return tuple(
        f'earths["{name}"].{field}' for name in island.earths for field in fields
        if getattr(bus.earth(name), field) is None
    ) or ("figures of the network",)  # fmt: skip


@rule(
    "ground.hidden-bond",
    title="Something besides the planned bond joins an isolated node's bus side to earth",
    basis="physics",
    safety=True,
)
def hidden_bond(analyses: Analyses) -> Iterable[Finding]:
    """The bus side of an isolated node is earthed by something else.

    What it checks
    --------------
    Every further bond (`bonds`) by metal, up to 1 kohm, on the bus side of a node with a barrier.

    Why it matters
    --------------
    A laptop without isolation, the earthed minus of a 24 V supply or a grounded screen on the bus side bridges the
    barrier, whatever it is rated for. The node then is not isolated, and the section may be bonded twice.

    Limit and source
    ----------------
    None. It follows from the circuit.

    When to waive
    -------------
    When that bond is the one bond of the section and is meant to be: better to describe it with `common.bonded`.
    """
    bus = analyses.bus
    found = False
    for island in islands_of(bus):
        for bond in island.bonds:
            node = bus.node(bond.node)
            further = bond.cause not in ("bond", "no barrier", "shield bond")
            if not further or node.barrier is None:
                continue
            found = True
            bridged = bond.earth == node.earth
            alone = len(island.bonds) == 1
            what = (
                f"{bond.cause} joins the bus side of {node.name} to the earth {bond.earth}"
                + (", on which its own field side stands: its barrier is bridged" if bridged else "")
                + ("; it is the only bond of the section" if alone else "")
            )
            yield Finding(
                verdict="marginal" if alone and not bridged else "fail",
                where=Place.node(node.name),
                message=what,
                remedy=f"isolate it, as with an isolated adapter or supply, {KEEP_EARTHS}",
            )
    if not found and bus.barriers:
        what = "no further bond is stated on the bus side of a barrier"
        yield Finding(verdict="pass", where=Place.bus(), message=what)


@rule(
    "ground.shield-bonded-twice",
    title="A shield is bonded to more than one earth",
    basis="common practice",
    parameters=[parameter("most", "100 mA", unit="A", meaning="current along the shield beyond which it is a failure")],
)
def shield_bonded_twice(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """A shield joins two earths.

    What it checks
    --------------
    Every shield that hangs together: the earths to which metal joins it.

    Why it matters
    --------------
    A difference between the earths drives a current along the shield beside the pair, which heats it and couples hum
    and noise into what it should protect. Where a site has one well-meshed earth, bonding at both ends keeps high
    frequencies out; on separate earths one bond does, the others through capacitors.

    Limit and source
    ----------------
    One earth: common practice. It is marginal, and a failure where the solved current is above 100 mA, or what a policy
    sets: a figure of this library.

    When to waive
    -------------
    When the earths are one mesh, or the current is known and the shield made for it.
    """
    yield from _shields(analyses, functools.partial(_twice, most=most))


@rule(
    "ground.shield-not-bonded",
    title="A shield is bonded to no earth",
    basis="common practice",
)
def shield_not_bonded(analyses: Analyses) -> Iterable[Finding]:
    """A shield floats.

    What it checks
    --------------
    Every shield that hangs together: whether metal or a capacitor leads from it to an earth. Where the shield is the
    reference conductor of the bus it has to be metal.

    Why it matters
    --------------
    A shield that floats carries the noise of whatever it runs past to both ends of the pair. One that serves as
    reference and is not earthed takes every common with it: the voltages on it stay inside what a receiver may bear,
    and still no frame comes through.

    Limit and source
    ----------------
    One bond: common practice. A shield as reference without an earth is a failure, any other marginal.

    When to waive
    -------------
    When the maker of the devices asks for it.
    """
    yield from _shields(analyses, _floating)
    for segment in analyses.bus.segments:
        if segment.shield and segment.shield_joined == "neither":
            yield Finding(
                verdict="marginal",
                where=Place.segment(segment.start, segment.end),
                message=f"the shield between {segment.start} and {segment.end} is joined to nothing at either end",
                remedy="join it to the shields beside, or bond it at one end",
            )


@rule(
    "ground.shield-is-reference",
    title="The shield serves as the reference conductor",
    basis="common practice",
)
def shield_is_reference(analyses: Analyses) -> Iterable[Finding]:
    """The shield carries the currents between the commons.

    What it checks
    --------------
    Whether some segment has its shield as reference conductor.

    Why it matters
    --------------
    What couples into the shield then stands between the commons, and the current that the commons exchange flows round
    the pair that it should protect.

    Limit and source
    ----------------
    A conductor of its own: common practice, as makers of devices print it. It is marginal.

    When to waive
    -------------
    When no further conductor can be had, the shield is earthed and the run is quiet.
    """
    bus = analyses.bus
    one = [segment for segment in bus.segments if segment.reference_is_shield]
    if (unstated := reference_unstated(bus)) and not one:
        yield unstated
        return
    if one:
        yield Finding(
            verdict="marginal",
            where=Place.bus(),
            message=f"the shield is the reference conductor along {len(one)} of {len(bus.segments)} segments",
            remedy="use a further wire of the cable as reference conductor and the shield as shield",
        )
    elif any(segment.reference_conductor for segment in bus.segments):
        yield Finding(verdict="pass", where=Place.bus(), message="the reference conductor is no shield")


def _shields(analyses: Analyses, judge: Callable[[Analyses, Island, bool], Finding]) -> Iterator[Finding]:
    bus = analyses.bus
    if unstated := shield_unstated(bus):
        yield unstated
        return
    if any(each.reference_is_shield and each.reference_conductor is None for each in bus.segments):
        yield _reference_dark()
        return
    joint = {name for each in bus.segments if each.reference_is_shield for name in (each.start, each.end)}
    for island in islands_of(bus):
        as_reference = bool(joint & set(island.reference))
        if island.shield or as_reference:
            yield judge(analyses, island, as_reference)


def _twice(analyses: Analyses, island: Island, as_reference: bool, *, most: float) -> Finding:
    bus = analyses.bus
    first = min(island.shield or island.reference)
    place = Place.node(first)
    bonds = [bond for bond in island.bonds if bond.conductor == "shield"] or list(island.bonds)
    earths = tuple(dict.fromkeys(bond.earth for bond in island.bonds))
    if len(earths) < 2:
        return Finding(verdict="pass", where=place, message=f"bonded: {_ways(bonds)}" if bonds else "not bonded twice")
    current = loop_current(analyses, island)
    what = "the shield, which is the reference conductor," if as_reference else "the shield"
    text = f"{what} at {first} joins the earths {listed(earths, 4)}: {_ways(island.bonds)}"
    remedy = "bond it at one end, and elsewhere through capacitors if high frequencies call for it"
    if math.isnan(current):
        return unknown(place, f"{text}; its current is not known", missing=lacking_of_loop(bus, island), remedy=remedy)
    return Finding(
        verdict="fail" if current > most else "marginal",
        where=place,
        message=f"{text}; up to {figure(current, 'A')} flow along it",
        remedy=remedy,
        quantity="current along the shield",
        unit="A",
        measured=current,
    )


def _floating(_: Analyses, island: Island, as_reference: bool) -> Finding:
    first = min(island.shield or island.reference)
    place = Place.node(first)
    capacitive = [way for way in island.ways if way.capacitive]
    if island.referenced or (capacitive and not as_reference):
        return Finding(verdict="pass", where=place, message=f"bonded: {_ways(island.bonds or capacitive)}")
    what = "the shield is the reference conductor and is" if as_reference else f"the shield at {first} is"
    return Finding(
        verdict="fail" if as_reference else "marginal",
        where=place,
        message=f"{what} bonded to no earth" + (", only through capacitors" if capacitive else ""),
        remedy="bond it to one earth" + (", and better give the bus a reference conductor of its own" * as_reference),
    )


@rule(
    "ground.noisy-common",
    title="A node without a barrier shares its common with circuits that switch power",
    basis="common practice",
)
def noisy_common(analyses: Analyses) -> Iterable[Finding]:
    """Power is switched on the common of the bus, and no barrier stands between.

    What it checks
    --------------
    Nodes without a barrier that switch power (`switches_power`), and what else has its common on the same island or the
    same earth without a barrier.

    Why it matters
    --------------
    Drives and converters push their switching currents through the common of their supply. What they leave there is
    common-mode noise at every receiver that shares it: the bus runs while they stand and fails as soon as they run.
    Terminators and bias cannot help. No number is told, since the coupling is not described.

    Limit and source
    ----------------
    None on a shared common: common practice, without source.

    When to waive
    -------------
    When the bus has been tried with all of them running at full load.
    """
    bus = analyses.bus
    noisy = [node for node in bus.nodes if node.barrier is None and node.switches_power]
    if not any(node.switches_power for node in bus.nodes):
        return
    shared: dict[str, list[str]] = {}
    for node in noisy:
        for other in bus.nodes:
            quiet = other.transceiver is not None and other.barrier is None and other not in noisy
            if quiet and _shares(bus, node, other):
                shared.setdefault(other.name, []).append(node.name)
    if not shared:
        what = "no quiet node shares its common with one that switches"
        yield Finding(verdict="pass", where=Place.bus(), message=what)
    for name, sources in shared.items():
        yield Finding(
            verdict="marginal",
            where=Place.node(name),
            message=f"{name} has no barrier and shares its common with {listed(tuple(sources), 5)}, where power is "
            "switched",
            remedy="put a barrier between that node and the bus, and keep the pair away from the power cables",
        )


def _shares(bus: Bus, first: Node, second: Node) -> bool:
    if first.earth is not None and first.earth == second.earth:
        return True
    return any(first.name in island.nodes and second.name in island.nodes for island in islands_of(bus))


RULES: tuple[Rule, ...] = (
    bonded_twice, common_not_joined, hidden_bond, noisy_common, reference_floating, shield_bonded_twice,
    shield_is_reference, shield_not_bonded,
)  # fmt: skip
