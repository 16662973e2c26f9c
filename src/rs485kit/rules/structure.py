"""Rules on the shape of the bus, and on what is not stated."""

from collections.abc import Iterable, Iterator

from rs485kit.memo import Analyses
from rs485kit.model import Bus, Cable, Node, Segment
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.finding import Finding, Place, unknown
from rs485kit.units import MinTypMax


def parts_of(bus: Bus) -> list[list[str]]:
    """Return the names of the nodes of each part that cable joins, in order, the largest part first."""
    left = {node.name: None for node in bus.nodes}
    parts = []
    while left:
        part, queue = [], [next(iter(left))]
        del left[queue[0]]
        while queue:
            name = queue.pop()
            part.append(name)
            for neighbour in bus.neighbours(name):
                if neighbour in left:
                    del left[neighbour]
                    queue.append(neighbour)
        parts.append(sorted(part))
    return sorted(parts, key=lambda part: (-len(part), part))


def lone_places(bus: Bus) -> frozenset[str]:
    """Return the nodes that no cable joins to anything, on a bus that has others: only that is worth saying of them."""
    if len(bus.nodes) == 1:
        return frozenset()
    return frozenset(part[0] for part in parts_of(bus) if len(part) == 1)


def _listed(names: list[str]) -> str:
    shown = ", ".join(names[:6])
    return f"{shown} and {len(names) - 6} more" if len(names) > 6 else shown


@rule("structure.disconnected", title="Part of the bus is not joined to the rest by cable", basis="physics")
def disconnected(analyses: Analyses) -> Iterable[Finding]:
    """Part of the bus is not joined to the rest by cable.

    What it checks
    --------------
    Whether every node can be reached from every other along segments.

    Why it matters
    --------------
    Nodes that no cable joins cannot hear one another. In a description it is mostly a segment forgotten.

    Limit and source
    ----------------
    One part. It follows from what a wire is.

    When to waive
    -------------
    Never; describe two sections as two buses.
    """
    parts = parts_of(analyses.bus)
    if len(parts) == 1:
        yield Finding(verdict="pass", where=Place.bus(), message="every node is joined to every other by cable")
    for part in parts[1:]:
        yield Finding(
            verdict="fail",
            where=Place.node(part[0]),
            message=f"no cable joins {_listed(part)} to the rest of the bus",
            remedy="add the missing segment, or describe the part as a bus of its own",
        )


@rule("structure.ring", title="The cable closes a ring", basis="common practice")
def ring(analyses: Analyses) -> Iterable[Finding]:
    """The cable closes a ring.

    What it checks
    --------------
    Whether there are as many segments as a tree of that many places has, part by part. Of each ring the longest segment
    is named.

    Why it matters
    --------------
    A ring has no ends at which to terminate it, every edge arrives twice, and one break goes unnoticed until the
    second. A bus is a line with two ends.

    Limit and source
    ----------------
    No ring: common practice. A ring may settle at a low rate, so it is marginal, not a failure.

    When to waive
    -------------
    When the signals have been solved and settle at the data rate that is used.
    """
    bus = analyses.bus
    extra = len(bus.segments) - (len(bus.nodes) - len(parts_of(bus)))
    if extra == 0:
        yield Finding(verdict="pass", where=Place.bus(), message="the cable closes no ring")
        return
    closing = _closing(bus)
    for segment in closing:
        yield Finding(
            verdict="marginal",
            where=Place.segment(segment.start, segment.end),
            message=f"the segment {segment.start} - {segment.end} closes a ring",
            remedy="open the ring at one place and terminate the two ends that this makes",
        )


def _closing(bus: Bus) -> list[Segment]:
    """Return the segments that join two places already joined by shorter ones: of a ring, its longest segment."""
    part = {node.name: node.name for node in bus.nodes}

    def root(name: str) -> str:
        while part[name] != name:
            name = part[name]
        return name

    closing = []
    for segment in sorted(bus.segments, key=lambda each: (each.length, sorted((each.start, each.end)))):
        a, b = root(segment.start), root(segment.end)
        if a == b:
            closing.append(segment)
        else:
            part[b] = a
    return closing


@rule("structure.figures-missing", title="A figure that the checks need is not stated", basis="physics")
def figures_missing(analyses: Analyses) -> Iterable[Finding]:
    """A figure that the checks need is not stated.

    What it checks
    --------------
    Whether every device states its unit load, receiver thresholds, driver voltages and edges, every bias network its
    supply, and every segment a cable with the resistance of its conductors and two of impedance, velocity factor and
    capacitance; whether a bus with traffic states its data rate; and whether a place that is described like a device
    has a transceiver at all.

    Why it matters
    --------------
    What is not stated is not assumed: the checks that need it say `unknown`, and a report with an unknown is not
    passed. This rule says where to look.

    Limit and source
    ----------------
    Nothing missing. It follows from the equations that the checks solve.

    When to waive
    -------------
    When the figure cannot be had and the checks that need it are waived too.
    """
    found = False
    link = analyses.bus.link
    if any(node.drives for node in analyses.bus.nodes if node.transceiver) and (link is None or link.data_rate is None):
        found = True
        yield unknown(Place.bus(), "not stated: link.data_rate", missing=("link.data_rate",))
    for node in analyses.bus.nodes:
        lacking = tuple(_lacking_of_node(node))
        if lacking:
            found = True
            yield unknown(Place.node(node.name), f"not stated: {', '.join(lacking)}", missing=lacking)
    for segment in analyses.bus.segments:
        lacking = tuple(_lacking_of_segment(segment))
        if lacking:
            found = True
            place = Place.segment(segment.start, segment.end)
            yield unknown(place, f"not stated: {', '.join(lacking)}", missing=lacking)
    if not found:
        what = "data rate, unit loads, thresholds, drivers, bias supplies and cables are stated"
        yield Finding(verdict="pass", where=Place.bus(), message=what)


def _lacking_of_node(node: Node) -> Iterator[str]:
    part = node.transceiver
    if part is None and any((node.earth, node.barrier, node.common, node.circuit, node.protectors)):
        yield "transceiver (a place with an earth, barrier, common, circuit or protector is taken for a device)"
    if part is not None and node.drives:
        for field in ("driver_open_voltage", "driver_loaded_voltage", "driver_edge_time"):
            if getattr(part, field) is None:
                yield f"transceiver.{field}"
    if part is not None:
        if part.unit_load is None:
            yield "transceiver.unit_load"
        if node.receives and (part.receiver_upper_threshold is None or part.receiver_upper_threshold.max is None):
            yield "transceiver.receiver_upper_threshold (its max)"
        if node.receives and (part.receiver_lower_threshold is None or part.receiver_lower_threshold.min is None):
            yield "transceiver.receiver_lower_threshold (its min)"
    for index, bias in enumerate(node.biases):
        supply = bias.supply or node.supply_voltage
        powered = bias.engaged and bias.supply_on and node.powered and bias.pull_up is not None
        if powered and (supply is None or supply.nominal is None):
            yield f"biases[{index}].supply"


def _lacking_of_segment(segment: Segment) -> Iterator[str]:
    cable = segment.cable
    if cable is None:
        yield "cable"
        return
    if cable.conductor_resistance is None or cable.conductor_resistance.nominal is None:
        yield f'cable "{cable.name}" conductor_resistance'
    absent = [name for name in ("characteristic_impedance", "velocity_factor", "capacitance") if _unstated(cable, name)]
    # any two of the three make a line, so that with one stated either of the others will do
    if len(absent) > 1:
        yield from (f'cable "{cable.name}" {name}' for name in absent[:2])
    if segment.reference_conductor and (
        cable.reference_resistance is None or cable.reference_resistance.nominal is None
    ):
        yield f'cable "{cable.name}" reference_resistance'


def _unstated(cable: Cable, name: str) -> bool:
    figure: MinTypMax | None = getattr(cable, name)
    return figure is None or figure.nominal is None


@rule("structure.nobody-to-hear", title="The bus has no device that drives, or none that listens", basis="physics")
def nobody_to_hear(analyses: Analyses) -> Iterable[Finding]:
    """The bus has no device that drives, or none that listens.

    What it checks
    --------------
    Whether at least one node has a transceiver that drives, and another one that receives.

    Why it matters
    --------------
    Without devices nothing else can be judged, and every other check would pass for want of something to judge. In a
    file it is mostly a template that rows forgot to name.

    Limit and source
    ----------------
    One of each, on different nodes. It follows from what a bus is for.

    When to waive
    -------------
    When a bare cable is described on purpose.
    """
    driving = {node.name for node in analyses.bus.nodes if node.transceiver is not None and node.drives}
    listening = {node.name for node in analyses.bus.nodes if node.listens}
    if driving and listening and len(driving | listening) > 1:
        what = f"{len(driving)} nodes drive and {len(listening)} listen"
        yield Finding(verdict="pass", where=Place.bus(), message=what)
        return
    yield unknown(
        Place.bus(),
        f"{len(driving)} nodes drive and {len(listening)} listen: there is no traffic to be judged",
        missing=("a transceiver at the nodes that are devices",),
        remedy='give every device a transceiver; in a file, a row names its template by use = "..."',
    )


RULES: tuple[Rule, ...] = (disconnected, ring, figures_missing, nobody_to_hear)
