"""Hypothesis strategies for places, judgement, nodes and buses; `strategies` says what `complete` means."""

import datetime
import itertools
from typing import Any, Literal, TypeAlias

import attrs
from hypothesis import strategies as st

from rs485kit.model import (
    Barrier,
    Bus,
    Cable,
    Circuit,
    CommonLink,
    Earth,
    EarthBond,
    Environment,
    Link,
    Node,
    Policy,
    Segment,
    ShieldBond,
    Transceiver,
    Waiver,
)
from rs485kit.model.base import TAP_SUFFIX
from rs485kit.testing.power_strategies import accessories, feed_conductors, feed_loads, feed_sources
from rs485kit.testing.strategies import (
    barriers,
    biases,
    cables,
    figures,
    made,
    names,
    or_none,
    protectors,
    spreads,
    terminations,
    transceivers,
)
from rs485kit.testing.timing_strategies import exchanges, timing_profiles

Shape: TypeAlias = Literal["chain", "stubs", "star", "ring", "separate"]

SHAPES: tuple[Shape, ...] = ("chain", "stubs", "star", "ring", "separate")
_RATES = (9600.0, 38400.0, 115200.0, 250000.0)
_LEAST_OF_RING = 3


# --- places ----------------------------------------------------------------------------------------------


def commons(*, complete: bool = False) -> st.SearchStrategy[CommonLink]:
    """Return a strategy for links of a node's common to the reference conductor.

    Parameters
    ----------
    complete : bool
        Whether the resistance is usual, and the bond left to how the node is built [-].

    Returns
    -------
    SearchStrategy of CommonLink
        The strategy [-].
    """
    if complete:
        return made(CommonLink, resistance=spreads(1, 200, bounded=True), power=figures(0.25, 2))
    power = or_none(figures(1e-3, 1e3))
    return made(CommonLink, resistance=spreads(0, 1e6), bonded=or_none(st.booleans()), power=power)


def earth_bonds(*, earth_names: tuple[str, ...] = ("bank",)) -> st.SearchStrategy[EarthBond]:
    """Return a strategy for further ways from a node's common to an earth.

    Parameters
    ----------
    earth_names : tuple of str
        Earths to which they may go [-].

    Returns
    -------
    SearchStrategy of EarthBond
        The strategy [-].
    """
    return made(
        EarthBond,
        name=names(),
        earth=st.sampled_from(earth_names),
        resistance=spreads(0, 1e9),
        capacitance=or_none(spreads(1e-13, 1e-3)),
    )


def shield_bonds(*, earth_names: tuple[str, ...] = ()) -> st.SearchStrategy[ShieldBond]:
    """Return a strategy for bonds of a shield.

    Parameters
    ----------
    earth_names : tuple of str
        Earths that they may name [-].

    Returns
    -------
    SearchStrategy of ShieldBond
        The strategy [-].
    """
    figures_of = {"resistance": spreads(0, 1e9), "capacitance": or_none(spreads(1e-13, 1e-3))}
    elsewhere = made(ShieldBond, to=st.sampled_from(["reference", "common"]), **figures_of)
    earthed = made(ShieldBond, to=st.just("earth"), earth=st.sampled_from([*earth_names, None]), **figures_of)
    return st.one_of(elsewhere, earthed)


def circuits(*, complete: bool = False) -> st.SearchStrategy[Circuit]:
    """Return a strategy for what stands on the field side of a node.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Circuit
        The strategy [-].
    """
    if complete:
        return made(
            Circuit,
            hazard=st.sampled_from(["hazardous", "touchable"]),
            working_voltage_rms=figures(0, 300),
            working_voltage_peak=figures(425, 600),
            system_voltage_rms=figures(100, 300),
            overvoltage_category=st.integers(1, 4),
            impulse_voltage_peak=figures(500, 6000),
            slew=figures(1e6, 1e10),
        )
    return made(
        Circuit,
        hazard=or_none(st.sampled_from(["hazardous", "touchable"])),
        working_voltage_rms=or_none(figures(0, 7e4)),
        working_voltage_peak=or_none(figures(7e4, 1e5)),
        system_voltage_rms=or_none(figures(1, 1e5)),
        overvoltage_category=or_none(st.integers(1, 4)),
        impulse_voltage_peak=or_none(figures(1, 1e6)),
        slew=or_none(figures(0, 1e13)),
    )


def earths(*, complete: bool = False, name: str | None = None) -> st.SearchStrategy[Earth]:
    """Return a strategy for local earths; complete ones stay within the range that receivers must bear.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].
    name : str or None
        Name of all of them; None: any [-].

    Returns
    -------
    SearchStrategy of Earth
        The strategy [-].
    """
    called = names(odd=not complete) if name is None else st.just(name)
    if complete:
        return made(
            Earth,
            name=called,
            potential=spreads(-3, 3, bounded=True),
            mains_potential=figures(0, 3),
            mains_phase=figures(-3, 3),
            resistance=spreads(0.1, 50, bounded=True),
            fault_potential=figures(0, 100),
            lightning_current=figures(0, 1e4),
        )
    return made(
        Earth,
        name=called,
        potential=or_none(spreads(-1e4, 1e4)),
        mains_potential=or_none(figures(0, 1e4)),
        mains_phase=or_none(figures(-7, 7)),
        resistance=or_none(spreads(0, 1e6)),
        crest_factor=figures(1, 10),
        fault_potential=or_none(figures(0, 1e5)),
        lightning_current=or_none(figures(0, 3e5)),
    )


def environments(*, complete: bool = False) -> st.SearchStrategy[Environment]:
    """Return a strategy for what holds for a site.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Environment
        The strategy [-].
    """
    if complete:
        return made(
            Environment,
            temperature=spreads(248, 333, bounded=True),
            altitude=figures(0, 2000),
            pollution_degree=st.integers(1, 4),
            overvoltage_category=st.integers(1, 4),
            system_voltage_rms=figures(100, 300),
            mains_frequency=st.sampled_from([50.0, 60.0]),
            bus_touchable=st.booleans(),
            burst_voltage_peak=figures(0, 2000),
            surge_voltage_peak=figures(0, 4000),
        )
    return made(
        Environment,
        temperature=or_none(spreads(173, 473)),
        altitude=or_none(figures(-500, 20000)),
        pollution_degree=or_none(st.integers(1, 4)),
        overvoltage_category=or_none(st.integers(1, 4)),
        system_voltage_rms=or_none(figures(1, 1e5)),
        mains_frequency=or_none(figures(10, 1000)),
        bus_touchable=or_none(st.booleans()),
        burst_voltage_peak=or_none(figures(0, 1e5)),
        surge_voltage_peak=or_none(figures(0, 1e6)),
    )


def links(*, node_names: tuple[str, ...] = (), complete: bool = False) -> st.SearchStrategy[Link]:
    """Return a strategy for how characters travel on the pair.

    Parameters
    ----------
    node_names : tuple of str
        Nodes one of which may poll [-].
    complete : bool
        Whether a usual data rate is stated, and a controller where there are nodes [-].

    Returns
    -------
    SearchStrategy of Link
        The strategy [-].
    """
    if complete:
        controller = st.sampled_from(node_names) if node_names else st.none()
        return made(Link, data_rate=st.sampled_from(_RATES), controller=controller)
    return made(
        Link,
        data_rate=or_none(figures(45, 1e9)),
        frame=st.sampled_from(["8N1", "8E1", "7O2"]),
        controller=st.sampled_from([*node_names, None]),
        profile=or_none(timing_profiles()),
        exchanges=st.lists(exchanges(node_names=node_names), max_size=2),
        request_gap=or_none(spreads(0, 100)),
        reply_timeout=or_none(figures(1e-6, 1e3)),
        retries=or_none(st.integers(0, 100)),
        longest_cycle=or_none(figures(1e-5, 1e6)),
    )


def segments(
    start: str, end: str, *, cable: st.SearchStrategy[Cable | None] | None = None, complete: bool = False
) -> st.SearchStrategy[Segment]:
    """Return a strategy for segments between two places.

    Parameters
    ----------
    start : str
        Name of the place at one end [-].
    end : str
        Name of the place at the other end [-].
    cable : SearchStrategy or None
        Cables; None: any, or none where segments need not be complete [-].
    complete : bool
        Whether the length is usual and a reference conductor runs along [-].

    Returns
    -------
    SearchStrategy of Segment
        The strategy [-].
    """
    run = cable if cable is not None else cables(complete=True) if complete else or_none(cables())
    common = {"start": st.just(start), "end": st.just(end), "cable": run}
    if complete:
        return made(
            Segment, **common, length=figures(1, 300), reference_conductor=st.just(True), shield=st.just(False)
        )
    joined = st.sampled_from(["both", "start", "end", "neither"])
    plain = made(
        Segment,
        **common,
        length=figures(1e-3, 1e5),
        reference_conductor=or_none(st.booleans()),
        shield=or_none(st.booleans()),
        shield_joined=joined,
        feed=or_none(feed_conductors()),
    )
    one_conductor = made(
        Segment,
        **common,
        length=figures(1e-3, 1e5),
        reference_conductor=st.just(True),
        reference_is_shield=st.just(True),
        shield=st.just(True),
        shield_joined=joined,
    )
    return st.one_of(plain, one_conductor)


# --- judgement -------------------------------------------------------------------------------------------


def waivers() -> st.SearchStrategy[Waiver]:
    """Return a strategy for waivers of rules and places of any name, with reasons of several lines.

    Returns
    -------
    SearchStrategy of Waiver
        The strategy [-].
    """
    reason = st.text(st.one_of(st.sampled_from("\n\t\"\\'"), st.characters(codec="utf-8", exclude_categories=["C"])))
    pairs = st.lists(st.tuples(names(), names()), max_size=2)
    return made(
        Waiver,
        rule=names(),
        reason=reason.filter(lambda text: bool(text.strip())),
        nodes=st.lists(names(), max_size=3),
        barriers=st.lists(names(), max_size=2),
        earths=st.lists(names(), max_size=2),
        segments=pairs,
        paths=pairs,
        bus=st.booleans(),
        until=or_none(st.dates(datetime.date(1900, 1, 1), datetime.date(9999, 12, 31))),
    )


def policies() -> st.SearchStrategy[Policy]:
    """Return a strategy for policies on rules of any name.

    Returns
    -------
    SearchStrategy of Policy
        The strategy [-].
    """
    value = st.one_of(
        st.booleans(), st.integers(-(10**6), 10**6), figures(-1e300, 1e300), names(), st.just("2 m")
    )  # fmt: skip
    settings = st.dictionaries(names(), st.dictionaries(names(), value, max_size=3), max_size=3)
    patterns = st.lists(names(), max_size=3)
    required = st.from_regex(r"[a-z]{1,8}-rules( >= [0-9]{1,2}\.[0-9])?", fullmatch=True)
    return made(
        Policy, select=patterns, skip=patterns, settings=settings, waivers=st.lists(waivers(), max_size=2),
        require=st.lists(required, max_size=2),
    )  # fmt: skip


# --- nodes and buses -------------------------------------------------------------------------------------


@st.composite
def nodes(
    draw: st.DrawFn,
    *,
    name: str | None = None,
    earth_names: tuple[str, ...] = (),
    complete: bool = False,
    transceiver: st.SearchStrategy[Transceiver] | None = None,
    barrier: st.SearchStrategy[Barrier] | None = None,
) -> Node:
    """Return a strategy for nodes; complete ones are devices, some of them isolated.

    Parameters
    ----------
    name : str or None
        Name of all of them; None: any [-].
    earth_names : tuple of str
        Earths that they may stand on [-].
    complete : bool
        Whether every figure is stated and usual [-].
    transceiver : SearchStrategy or None
        Transceivers; None: any [-].
    barrier : SearchStrategy or None
        Barriers; None: any [-].

    Returns
    -------
    SearchStrategy of Node
        The strategy [-].
    """
    called = names(odd=not complete) if name is None else st.just(name)
    part = transceivers(complete=complete) if transceiver is None else transceiver
    shield = or_none(barriers(complete=complete) if barrier is None else barrier)
    earth = st.sampled_from([*earth_names, None])
    if complete:
        device = made(
            Node, name=called, transceiver=part, common=commons(complete=True), earth=earth, barrier=shield,
            circuit=circuits(complete=True), protectors=st.lists(protectors(complete=True), max_size=1),
            capacitance=spreads(0, 1e-10, bounded=True), clock_tolerance=figures(0, 0.01),
            oversampling=st.sampled_from([8, 16]), samples=st.sampled_from([1, 3]), direction=st.just("program"),
            enable_lead=spreads(0, 1e-4, bounded=True), release_hold=spreads(0, 1e-4, bounded=True),
            hears_itself=st.booleans(), reply_delay=spreads(1e-3, 1e-2, bounded=True),
        )  # fmt: skip
    else:
        device = made(
            Node,
            name=called,
            transceiver=or_none(part),
            drives=st.booleans(),
            receives=st.booleans(),
            terminations=st.lists(terminations(), max_size=1),
            biases=st.lists(biases(), max_size=1),
            common=or_none(commons()),
            earth=earth,
            barrier=shield,
            circuit=or_none(circuits()),
            protectors=st.lists(protectors(), max_size=1),
            lines_swapped=st.booleans(),
            powered=st.booleans(),
            capacitance=or_none(spreads(0, 1e-7)),
            clock_tolerance=or_none(figures(0, 0.2)),
            oversampling=or_none(st.integers(3, 256)),
            samples=st.sampled_from([1, 3, None]),
            middle_sample=or_none(st.integers(2, 16)),
            direction=st.sampled_from(["program", "one-shot", "data", None]),
            enable_lead=or_none(spreads(0, 10)),
            release_hold=or_none(spreads(-1, 10)),
            one_shot_hold=or_none(spreads(0, 10)),
            hears_itself=or_none(st.booleans()),
            reply_delay=or_none(spreads(0, 100)),
            accessories=st.lists(accessories(), max_size=1),
            feed=or_none(feed_loads()),
            feed_source=or_none(feed_sources()),
            bonds=st.lists(earth_bonds(earth_names=earth_names), max_size=1) if earth_names else st.just(()),
            shield_bond=or_none(shield_bonds(earth_names=earth_names)),
            switches_power=st.booleans(),
        )
    node: Node = draw(device)
    return node


@st.composite
def buses(
    draw: st.DrawFn,
    *,
    shapes: tuple[Shape, ...] = SHAPES,
    least_nodes: int = 1,
    most_nodes: int = 5,
    complete: bool = False,
) -> Bus:
    """Return a strategy for buses; complete ones are terminated at two places, biased, and have a data rate.

    Parameters
    ----------
    shapes : tuple of str
        Shapes among which it chooses: "chain" is a trunk, "stubs" a trunk with some nodes on stubs, "star" branches
        from one place, "ring" a closed trunk of three nodes or more, "separate" nodes without any cable [-].
    least_nodes : int
        Fewest devices [-].
    most_nodes : int
        Most devices [-].
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Bus
        The strategy [-].
    """
    shape = draw(st.sampled_from(shapes))
    least = max(least_nodes, _LEAST_OF_RING if shape == "ring" else 1)
    called = draw(st.lists(names(odd=not complete), min_size=least, max_size=max(least, most_nodes), unique=True))
    earth_names = draw(st.lists(names(odd=not complete), max_size=3, unique=True))
    # small pools, so that parts are shared between places
    kinds = st.sampled_from(draw(st.lists(transceivers(complete=complete), min_size=1, max_size=2)))
    shields = st.sampled_from(draw(st.lists(barriers(complete=complete), min_size=1, max_size=2)))
    runs = st.sampled_from(
        [*draw(st.lists(cables(complete=complete), min_size=1, max_size=2)), *([] if complete else [None])]
    )
    devices = [
        draw(nodes(name=each, earth_names=tuple(earth_names), complete=complete, transceiver=kinds, barrier=shields))
        for each in called
    ]
    if complete:
        devices = _ended(draw, devices)
    grounds = [draw(earths(name=each, complete=complete)) for each in earth_names]
    bare = _shaped(draw, shape, devices, grounds, runs, complete=complete)
    site = environments(complete=True) if complete else or_none(environments())
    link = links(node_names=tuple(called), complete=complete)
    link = link if complete else or_none(link)
    return attrs.evolve(
        bare,
        name=draw(st.one_of(st.just(""), names(odd=not complete))),
        link=draw(link),
        environment=draw(site),
        policy=None if complete else draw(or_none(policies())),
    )


def _ended(draw: st.DrawFn, devices: list[Node]) -> list[Node]:
    """Return the nodes with a terminator at the first and the last, and a bias network at the first."""
    first = attrs.evolve(
        devices[0], terminations=draw(terminations(complete=True)), biases=draw(biases(complete=True))
    )  # fmt: skip
    if len(devices) == 1:
        return [first]
    return [first, *devices[1:-1], attrs.evolve(devices[-1], terminations=draw(terminations(complete=True)))]


def _shaped(
    draw: st.DrawFn,
    shape: Shape,
    devices: list[Node],
    grounds: list[Earth],
    runs: st.SearchStrategy[Any],
    *,
    complete: bool,
) -> Bus:
    called = [device.name for device in devices]
    places: list[Node] = []
    pairs: list[tuple[str, str]] = []
    if shape == "star":
        places = [Node(name="hub" + TAP_SUFFIX)]
        pairs = [(places[0].name, name) for name in called]
    elif shape != "separate":
        on_stubs = [name for name in called if shape == "stubs" and draw(st.booleans())]
        places = [Node(name=name + TAP_SUFFIX) for name in on_stubs]
        trunk = [name + TAP_SUFFIX if name in on_stubs else name for name in called]
        pairs = [*itertools.pairwise(trunk), *((name + TAP_SUFFIX, name) for name in on_stubs)]
    if shape == "ring":
        pairs.append((called[-1], called[0]))
    spans = [draw(segments(*pair, cable=runs, complete=complete)) for pair in pairs]
    if complete:
        spans = [_shortened(span) if span.start == span.end + TAP_SUFFIX else span for span in spans]
    return Bus(nodes=[*devices, *places], segments=spans, earths=grounds)


def _shortened(stub: Segment) -> Segment:
    return attrs.evolve(stub, length=stub.length / 100)
