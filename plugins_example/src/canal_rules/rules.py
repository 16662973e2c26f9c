"""Three rules that the district asks of every bus beyond what physics and standards do."""

from collections.abc import Iterable

import attrs

import rs485kit as rk
from canal_rules.register import SURGE_WITHSTAND

OUTDOOR = ("gate-", "gauge-")
"""How the names of nodes begin that stand outdoors, by the district's own numbering."""


@rk.rule(
    "canal.outdoor-unprotected",
    title="An outdoor node is not isolated, or not of the surge class asked for",
    basis="house",
    source="district wiring rules, sheet 3",
    parameters=[rk.parameter("least", "2 kV", unit="V", meaning="surge that an outdoor node must have withstood")],
    reserve=0.0,
    safety=True,
)
def outdoor_unprotected(analyses: rk.Analyses, *, least: float) -> Iterable[rk.Finding]:
    """An outdoor node is not isolated, or its surge test is missing or too low.

    What it checks
    --------------
    Every device whose name begins with "gate-" or "gauge-": that it has a galvanic barrier, and that the register of
    surge tests has its transceiver with at least the voltage asked for.

    Why it matters
    --------------
    Gates and gauges stand on earths of their own, hundreds of metres apart, and under open sky.

    Limit and source
    ----------------
    2 kV between line and earth, or what the policy sets: district wiring rules, sheet 3.

    When to waive
    -------------
    For a device in a building, until its name is corrected.
    """
    for node in analyses.bus.nodes:
        if node.transceiver is None or not node.name.startswith(OUTDOOR):
            continue
        where = rk.Place.node(node.name)
        withstood = SURGE_WITHSTAND.get(node.transceiver.name)
        if node.barrier is None:
            yield rk.Finding(
                verdict="fail", where=where, message="an outdoor node without a galvanic barrier",
                remedy="fit an isolated transceiver and an isolated supply",
            )  # fmt: skip
        elif withstood is None:
            yield rk.unknown(
                where, f'the register has no surge test of "{node.transceiver.name}"',
                missing=(f"surge test of {node.transceiver.name}",),
                remedy="have the part tested in the district's housing, or use a part of the register",
            )  # fmt: skip
        else:
            yield rk.at_least(
                where, "surge withstood", measured=withstood, limit=least, unit="V",
                remedy="use a part of a higher surge class",
            )  # fmt: skip


@attrs.frozen
class Stub:
    """A device that hangs off the trunk: its name, and the length of cable from there to the trunk [m]."""

    node: str
    length: float


@rk.as_analysis()
def stubs(analyses: rk.Analyses) -> tuple[Stub, ...]:
    """Return every device that stands at the end of a branch; the trunk is the way between the two farthest places."""
    bus = analyses.bus
    trunk = bus.path(*bus.ends) if len(bus.ends) == 2 else bus.ends
    hanging = (node.name for node in bus.nodes if node.transceiver is not None and node.name not in trunk)
    return tuple(Stub(name, min(bus.distance(name, place) for place in trunk)) for name in hanging)


@rk.rule(
    "canal.stub-too-long",
    title="A stub is longer than the district allows",
    basis="house",
    source="district wiring rules, sheet 4",
    parameters=[rk.parameter("longest", "3 m", unit="m", meaning="longest stub allowed")],
    reserve=0.0,
)
def stub_too_long(analyses: rk.Analyses, *, longest: float) -> Iterable[rk.Finding]:
    """A device hangs off the trunk by more cable than the district allows.

    What it checks
    --------------
    The length of cable between the trunk, which is the way between the two places farthest apart, and each device that
    is not on it.

    Why it matters
    --------------
    Stubs reflect. Whether one does harm depends on edge and rate; the district wants stubs so short that nobody has to
    work it out when a faster part is fitted.

    Limit and source
    ----------------
    3 m, or what the policy sets: district wiring rules, sheet 4.

    When to waive
    -------------
    Where the trunk cannot be led past the device, after the signal there has been looked at.
    """
    for stub in stubs(analyses):
        yield rk.at_most(
            rk.Place.node(stub.node), "stub", measured=stub.length, limit=longest, unit="m",
            remedy="lead the trunk to the device and back, or move the tap",
        )  # fmt: skip


@rk.rule(
    "canal.room-too-small",
    title="No room for next season's nodes",
    basis="house",
    source="district planning note, yearly",
    parameters=[rk.parameter("wanted", 4, unit="", meaning="nodes to be added next season")],
    reserve=0.0,
)
def room_too_small(analyses: rk.Analyses, *, wanted: float) -> Iterable[rk.Finding]:
    """There is not enough room for the nodes that are to be added next season.

    What it checks
    --------------
    How many more receivers of the heaviest kind fitted the 32 unit loads of the standard leave room for.

    Why it matters
    --------------
    A section is opened once a year. One that is full then needs a repeater, which has to be ordered in spring.

    Limit and source
    ----------------
    4 nodes, or what the policy sets: the district's planning note of the year.

    When to waive
    -------------
    For a section that is never to be extended.
    """
    loads = rk.analysis.unit_loads(analyses)
    yield rk.at_least(
        rk.Place.bus(), "room for more nodes",
        measured=None if loads.spare_nodes is None else float(loads.spare_nodes),
        limit=wanted, unit="", remedy="use transceivers of a smaller unit load, or plan a repeater",
        missing=("unit loads of every transceiver",),
    )  # fmt: skip


RULES = (outdoor_unprotected, stub_too_long, room_too_small)
