"""Rules on the solved ground network: common mode, loop currents, barriers, leakage, faults."""

import math
from collections.abc import Iterable, Iterator

from rs485kit import analysis
from rs485kit.analysis.barrier_parts import Element, elements_of, is_passive, least
from rs485kit.analysis.grounding_faults import GroundFault
from rs485kit.analysis.grounding_tables import BarrierVoltage
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.model import Barrier, Bus
from rs485kit.network.galvanic import Island, islands_of
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.ground_structure import (
    KEEP_EARTHS,
    isolated,
    lacking_of_loop,
    loop_current,
    reference_unstated,
    states_grounds,
)
from rs485kit.rules.structure import lone_places

STANDARD = "EIA-485, as printed in B&B Electronics, RS-422/485 Application Note, appendix A"
RANGE_SCALE = 7.0
REMEDY = "isolate the nodes and join their commons by a reference conductor that is bonded at one place"
UNSTATED = ("limits of figures, which the levels of drivers and at rest lack too",)


def _reasons(missing: tuple[tuple[str, str], ...], names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(what for name, what in missing if name in names))


@rule(
    "ground.common-mode-exceeded",
    title="A line leaves the range over which a receiver works",
    basis="standard",
    source=STANDARD,
    safety=True,
)
def common_mode_exceeded(analyses: Analyses) -> Iterable[Finding]:
    """A line of a receiver stands beyond the common-mode range.

    What it checks
    --------------
    For every receiver both lines against its own common, with nobody driving and with every driver at mark and at
    space, mains-frequency peaks on top. The proved limits over all tolerances are held against the range too.

    Why it matters
    --------------
    Beyond the range a receiver reads anything, and its clamps conduct the difference of the earths.

    Limit and source
    ----------------
    The part's own range or, where it states none, -7 V .. +12 V: EIA-485, as printed in B&B Electronics, RS-422/485
    Application Note, appendix A. Where no metal defines the voltage it is unknown, never passed by number.

    When to waive
    -------------
    Never.
    """
    bus = analyses.bus
    if not states_grounds(bus) or not any(node.listens for node in bus.nodes):
        return
    rows = analysis.common_mode(analyses).receivers
    lone = lone_places(bus)
    dark = tuple(row.node for row in rows if math.isnan(row.margin) and row.node not in lone)
    if dark:
        missing = _reasons(rows.missing, dark) or ("figures of drivers",)
        text = f"what the lines of {listed(dark, 3)} stand at against their commons cannot be told"
        yield unknown(Place.bus(), f"{text} for want of {listed(missing, 2)}", missing=missing, remedy=_cure(missing))
    for row in rows:
        if row.node in dark or row.node in lone:
            continue
        told = f", {figure(row.mains, 'V')} RMS of it at mains frequency" if row.mains >= 1e-3 else ""
        yield at_most(
            Place.node(row.node), "highest voltage of a line against the common", measured=row.highest_nominal,
            bound=row.highest, limit=row.limit_highest, unit="V", scale=RANGE_SCALE,
            message=f"a line goes up to {figure(row.highest_nominal, 'V')} while {row.driver_highest or 'nobody'} "
            f"drives{told}; {_over_all(row.highest)}; the range ends at {figure(row.limit_highest, 'V')}",
            remedy=REMEDY, missing=UNSTATED,
        )  # fmt: skip
        yield at_least(
            Place.node(row.node), "lowest voltage of a line against the common", measured=row.lowest_nominal,
            bound=row.lowest, limit=row.limit_lowest, unit="V", scale=RANGE_SCALE,
            message=f"a line goes down to {figure(row.lowest_nominal, 'V')} while {row.driver_lowest or 'nobody'} "
            f"drives{told}; {_over_all(row.lowest)}; the range ends at {figure(row.limit_lowest, 'V')}",
            remedy=REMEDY, missing=UNSTATED,
        )  # fmt: skip


def _cure(missing: tuple[str, ...]) -> str:
    """Return what to do where metal does not define a voltage; "" where stating a figure will do."""
    return REMEDY if any("way of metal" in each for each in missing) else ""


def _over_all(bound: float) -> str:
    if math.isnan(bound):
        return "its limit over all tolerances is not known"
    return f"{figure(bound, 'V')} over all tolerances"


@rule(
    "ground.loop-current",
    title="Nodes without barriers on different earths make a loop",
    basis="house",
    safety=True,
    parameters=[parameter("most", "100 mA", unit="A", meaning="largest current through a bond, direct and mains RMS")],
)
def loop_current_too_high(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """The reference conductor joins the earths of nodes without barriers.

    What it checks
    --------------
    For every island of nodes without a barrier that metal joins to two or more earths: the greatest current through a
    bond, and the heat in every resistor between a common and the reference conductor that states its power.

    Why it matters
    --------------
    Such a loop carries whatever the earths differ by, now and in a fault. Resistors of some 100 ohm at each node keep
    the current small; a bare wire does not. The voltages may all be inside the range of the receivers meanwhile.

    Limit and source
    ----------------
    100 mA, or what a policy sets: a figure of this library. The power is that which the resistor states.

    When to waive
    -------------
    When conductors, terminals and connectors of the loop are rated for the current of a fault.
    """
    bus = analyses.bus
    if dark := reference_unstated(bus):
        if not bus.barriers:
            yield dark
        return
    for island in islands_of(bus):
        if not island.nodes or isolated(bus, island) or len(island.earths) < 2:
            continue
        current = loop_current(analyses, island)
        yield at_most(
            Place.node(min(island.nodes)),
            "current of the loop between earths",
            measured=current, bound=current if _exact(bus, island) else math.nan, limit=most, unit="A",
            message=f"metal joins the earths {_few(island.earths)} through {_few(island.nodes)}: up to "
            f"{figure(current, 'A')} flow through a bond",
            remedy=f"put 100 ohm between each common and the reference conductor, or isolate the nodes, {KEEP_EARTHS}",
            missing=lacking_of_loop(bus, island),
        )  # fmt: skip
        yield from _heats(analyses, island)


def _exact(bus: Bus, island: Island) -> bool:
    """Return whether the potentials and resistances of the earths that an island joins have one value each."""
    figures = [each for name in island.earths for each in (bus.earth(name).potential, bus.earth(name).resistance)]
    return all(each is not None and each.exact for each in figures)


def _few(names: tuple[str, ...]) -> str:
    return listed(tuple(sorted(names)), 4)


def _heats(analyses: Analyses, island: Island) -> Iterator[Finding]:
    for row in analysis.common_mode(analyses).links:
        if row.node in island.nodes and not math.isnan(row.power):
            yield at_most(
                Place.node(row.node), "heat in the resistor of the common", measured=row.heat, limit=row.power,
                bound=row.heat if _exact(analyses.bus, island) else math.nan, unit="W",
                remedy="use a larger resistor, or isolate the node", missing=lacking_of_loop(analyses.bus, island),
            )  # fmt: skip


@rule(
    "ground.barrier-overstressed",
    title="The difference of earths at a barrier is beyond its working voltage",
    basis="standard",
    source="IEC 60664-1, working voltage of insulation, as the makers of isolators state it for their parts",
    safety=True,
)
def barrier_overstressed(analyses: Analyses) -> Iterable[Finding]:
    """A barrier bears more than it is made for all the time.

    What it checks
    --------------
    The solved voltage between the bus side of each barrier and the earth of its field side: mains frequency RMS against
    the working voltage RMS, and the peak of both together against the working voltage peak, of everything that bridges
    the barrier. What the field circuit itself puts across the barrier is another rule's.

    Why it matters
    --------------
    Isolation does not remove the difference of earths, it moves it from the receiver to the barrier. A withstand
    voltage for 60 s says nothing of what insulation bears for years.

    Limit and source
    ----------------
    The working voltages that the parts state. RMS is held against RMS and peak against peak, and none is converted.
    Where no metal defines the voltage it is unknown.

    When to waive
    -------------
    Never.
    """
    bus = analyses.bus
    if not bus.barriers:
        return
    table = analysis.common_mode(analyses).barriers
    dark = tuple(row.node for row in table if math.isnan(row.peak) or math.isnan(row.mains))
    if dark:
        missing = _reasons(table.missing, dark) or ("limits of the potentials of the earths",)
        text = f"what the barriers of {listed(dark, 3)} bear cannot be told for want of {listed(missing, 2)}"
        yield unknown(Place.bus(), text, missing=missing, remedy=_cure(missing))
    unrated: list[str] = []
    for row in table:
        if row.node in dark:
            continue
        for element in elements_of(bus.barriers[row.node]):
            if is_passive(element) and element.part is not None and element.part.working_voltage_peak is None:
                continue
            found = list(_held(row.node, element, row.mains, row.peak))
            # a peak rating covers all that stands there, an RMS rating says nothing of direct voltage
            if not any(each.quantity.endswith("peak") for each in found):
                unrated.append(f'nodes["{row.node}"].barrier.{element.place}.working_voltage_peak')
            yield from found
    if unrated:
        text = f"the peak working voltage of {len(unrated)} parts across barriers is not stated"
        yield unknown(Place.bus(), text, missing=tuple(unrated))


def _held(node: str, element: Element, mains: float, peak: float) -> Iterator[Finding]:
    name, part = element.place, element.part
    if part is None:
        return
    remedy = "choose parts whose working voltage is above the difference of the earths, or bring the earths together"
    if part.working_voltage_rms is not None:
        yield at_most(
            Place.barrier(node), f"difference of earths across the {name}, RMS", measured=mains,
            limit=part.working_voltage_rms, unit="V", remedy=remedy,
        )  # fmt: skip
    if part.working_voltage_peak is not None:
        yield at_most(
            Place.barrier(node), f"difference of earths across the {name}, peak", measured=peak,
            limit=part.working_voltage_peak, unit="V", remedy=remedy,
        )  # fmt: skip


@rule(
    "ground.leakage-adds-up",
    title="Leakage of all barriers together can be felt on the reference conductor",
    basis="standard",
    source="IEC 60950-1, touch current of 0.25 mA for parts not earthed, as quoted in a public text; the standard was "
    "not seen",
    safety=True,
    parameters=[parameter("most", "0.25 mA", unit="A", meaning="largest current of all barriers of a section, RMS")],
)
def leakage_adds_up(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """The capacitances of many barriers add up on one reference conductor.

    What it checks
    --------------
    For every section with barriers the sum of the mains-frequency currents through them: of the working voltage of the
    circuit behind each, or the difference of earths where that is more.

    Why it matters
    --------------
    One barrier leaks next to nothing; ten supplies of 1 nF at 230 V leak 0.72 mA, which flows to earth through the one
    bond of the section, and through whoever touches it while that is open. The converters carry it, not the isolators
    of the data.

    Limit and source
    ----------------
    0.25 mA: IEC 60950-1 as quoted in a public text. Other product standards have other figures; a policy sets them.

    When to waive
    -------------
    When nobody can touch the reference conductor and its bond is supervised.
    """
    bus = analyses.bus
    if not bus.barriers:
        return
    if unstated := reference_unstated(bus):
        yield unstated
        return
    rows = {row.node: row for row in analysis.common_mode(analyses).barriers}
    for island in islands_of(bus):
        behind = [name for name in island.nodes if name in rows]
        if not behind:
            continue
        dark = tuple(name for name in behind if math.isnan(rows[name].leakage))
        total = sum(rows[name].leakage for name in behind if name not in dark)
        place = Place.node(min(behind))
        if dark and total <= most:
            if len(island.nodes) == 1 and not island.referenced:
                continue
            missing = tuple(each for name in dark for each in _lacking_of_leakage(bus, name, rows[name]))
            text = f"what leaks through the barriers of {listed(dark, 3)} cannot be told"
            yield unknown(place, text, missing=missing)
            continue
        yield at_most(
            place, "leakage of all barriers of the section", measured=total, limit=most, unit="A",
            bound=sum(rows[name].leakage * _most_over_nominal(bus.barriers[name]) for name in behind),
            missing="the greatest capacitance of every part across the barriers",
            message=f"{len(behind)} barriers leak {figure(total, 'A')} together into one reference conductor",
            remedy="use converters of less capacitance, supervise the bond, or divide the section",
        )  # fmt: skip


def _most_over_nominal(barrier: Barrier) -> float:
    """Return the greatest capacitance of a barrier over its nominal one; NaN where a part states no greatest."""
    stated = [each.part.capacitance for each in elements_of(barrier) if each.part is not None]
    spreads = [each for each in stated if each is not None]
    nominal = sum(math.nan if each.nominal is None else each.nominal for each in spreads)
    most = sum(math.nan if each.max is None else each.max for each in spreads)
    return most / nominal if nominal else 1.0


def _lacking_of_leakage(bus: Bus, name: str, row: BarrierVoltage) -> Iterator[str]:
    circuit = bus.node(name).circuit
    if math.isnan(row.capacitance):
        yield f'nodes["{name}"].barrier (capacitance of its parts)'
    if circuit is None or (circuit.working_voltage_rms is None and circuit.hazard != "touchable"):
        yield f'nodes["{name}"].circuit (working_voltage_rms, or hazard = "touchable")'
    elif math.isnan(row.mains_estimate):
        yield f'nodes["{name}"].earth, and the mains_potential of the earths'


@rule(
    "ground.fault-endangers",
    title="One fault of an earth or of a barrier takes lines or barriers beyond their limits",
    basis="physics",
    safety=True,
)
def fault_endangers(analyses: Analyses) -> Iterable[Finding]:
    """A single fault of the ground network is not borne.

    What it checks
    --------------
    Every fault by itself: a span of the reference conductor or a bond that opens while others are left, an earth at its
    declared fault potential. Where the lines of a receiver go, and what the worst barrier bears. A barrier that breaks
    down is told by `ground_faults` and not judged here: it is what the barrier was there for.

    Why it matters
    --------------
    A ground network that is right as built may be one fault away from destroying every transceiver on it.

    Limit and source
    ----------------
    The range of the receivers; the 60 s withstand voltage RMS of the weaker part of a barrier while an earth is at its
    fault potential. Lines beyond the range are marginal, as it takes a fault; a barrier beyond its withstand is a
    failure. The estimate is on the high side.

    When to waive
    -------------
    When a protective device clears the fault before harm is done.
    """
    bus = analyses.bus
    if not states_grounds(bus):
        return
    if dark := reference_unstated(bus):
        yield dark
        return
    faults = analysis.ground_faults(analyses).rows
    ranges = {row.node: (row.limit_lowest, row.limit_highest) for row in analysis.common_mode(analyses).receivers}
    seen = [row for row in faults if row.receiver and row.kind != "barrier shorted"]
    low = min(seen, key=lambda row: row.line_lowest - ranges[row.receiver][0], default=None)
    if low is not None:
        yield at_least(
            Place.node(low.receiver), "lowest voltage of a line with one fault", measured=low.line_lowest,
            limit=ranges[low.receiver][0], unit="V", scale=RANGE_SCALE, advisory=True,
            message=f"with one fault ({low.kind}: {listed(low.place, 2)}) a line goes down to "
            f"{figure(low.line_lowest, 'V')} at the most",
            remedy="clamp the lines, or bring the earths together",
        )  # fmt: skip
    worst = max(seen, key=lambda row: row.line_highest - ranges[row.receiver][1], default=None)
    if worst is not None:
        yield at_most(
            Place.node(worst.receiver), "highest voltage of a line with one fault", measured=worst.line_highest,
            limit=ranges[worst.receiver][1], unit="V", scale=RANGE_SCALE, advisory=True,
            message=f"with one fault ({worst.kind}: {listed(worst.place, 2)}) a line goes up to "
            f"{figure(worst.line_highest, 'V')} at the most",
            remedy="clamp the lines, or bring the earths together",
        )  # fmt: skip
    declared = [earth.name for earth in bus.earths if earth.fault_potential is not None]
    risen = [row for row in faults if row.kind == "earth fault"]
    if declared and (bus.barriers or any(node.listens for node in bus.nodes)) and not risen:
        text = f"what a fault at {listed(tuple(declared), 3)} does cannot be told"
        missing = tuple(each for _, each in analysis.ground_faults(analyses).missing)
        yield unknown(Place.bus(), text, missing=missing or ("a bond of every section to an earth",), remedy=REMEDY)
    if risen and not any(row.receiver for row in risen) and any(node.listens for node in bus.nodes):
        text = f"where lines go with a fault at {listed(tuple(declared), 3)} cannot be told"
        yield unknown(Place.bus(), text, missing=("typical levels of every driver",))
    for row in risen:
        if row.barrier:
            yield _withstood(bus, row)


def _withstood(bus: Bus, row: GroundFault) -> Finding:
    """Hold the voltage across a barrier in a fault to earth against the weakest of what bridges it."""
    missing: list[tuple[str, str]] = []
    rating = least(elements_of(bus.barriers[row.barrier]), "withstand_voltage_rms", missing)
    if math.isnan(rating):
        where = tuple(f'nodes["{row.barrier}"].barrier.{place}.withstand_voltage_rms' for _, place in missing)
        return unknown(
            Place.barrier(row.barrier), f"whether it bears a fault at {row.place[0]} cannot be told", missing=where
        )
    return at_most(
        Place.barrier(row.barrier), "voltage across a barrier with a fault to earth, RMS",
        measured=row.barrier_mains, limit=rating, unit="V",
        message=f"with the earth {row.place[0]} at its fault potential {figure(row.barrier_mains, 'V')} stand "
        f"across the barrier; its weakest part withstands {figure(rating, 'V')} for 60 s",
        remedy="choose parts of higher withstand voltage",
    )  # fmt: skip


RULES: tuple[Rule, ...] = (
    barrier_overstressed, common_mode_exceeded, fault_endangers, leakage_adds_up, loop_current_too_high,
)  # fmt: skip
