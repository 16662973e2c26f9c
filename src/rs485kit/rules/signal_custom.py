"""Rules of custom on signals in time, each quoted beside the solved eyes, which decide."""

from collections.abc import Iterable, Iterator

import numpy as np

from rs485kit import analysis, formulas
from rs485kit.analysis import SlowestEdge
from rs485kit.errors import MissingDataError
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Cable, Segment
from rs485kit.network.cable_lines import picked
from rs485kit.network.lines import lines_of, way_to_farthest
from rs485kit.network.signals import drives
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.figures import share as per_cent
from rs485kit.rules.finding import Finding, Place, at_most, unknown
from rs485kit.rules.signal import Flags, Seen, has_traffic, not_told, seen_by
from rs485kit.rules.structure import parts_of

LEAST_WIDTH = 0.5
ROUND_TRIPS = 3.0
DECIDE = "the solved eyes decide"


def _bad(seen: Seen) -> Flags:
    """Return which paths are known to have an eye that is closed or narrower than half a bit."""
    height, width = seen.values(seen.eyes.height), seen.values(seen.eyes.width)
    return np.asarray((height < 0) | (width < LEAST_WIDTH))


def _eyes_in_words(seen: Seen) -> tuple[bool | None, str]:
    """Return whether every eye is open half a bit, and which says so; None where one that could decide is not known.

    One eye that is known to be bad decides, whatever else is not known.
    """
    width = seen.values(seen.eyes.width)
    bad = _bad(seen)
    # of eyes that are bad the narrowest is told, else the narrowest of all
    path = seen.largest(np.where(bad, -width, np.nan) if bad.any() else -width)
    narrowest = "" if path is None else f"{per_cent(float(width[path]))} of a bit"
    if bad.any() and path is not None:
        closed = float(width[path]) == 0.0
        return False, f"the eye of {seen.named(path)} is {'closed' if closed else f'open for {narrowest} only'}"
    if seen.lacking(thresholds=True) or path is None:
        return None, ""
    return True, f"every eye is open for {narrowest} or more"


def _beside(
    where: Place,
    quantity: str,
    measured: float,
    limit: float,
    unit: str,
    *,
    custom: str,
    because: str,
    remedy: str,
    seen: Seen,
) -> Finding:
    """Return the finding on a custom: where it is exceeded, the solved eyes decide."""
    text = f"{quantity} {figure(measured, unit)}; {custom} allows {figure(limit, unit)}"
    if measured <= limit:
        return at_most(where, quantity, measured=measured, limit=limit, unit=unit, scale=1.0, message=text)
    is_open, eyes = _eyes_in_words(seen)
    if is_open is None:
        missing = tuple(f"{name}: {each}" for name, some in seen.lacking(thresholds=True).items() for each in some)
        return unknown(where, f"{text}, and the eyes that would decide are not all known", missing=missing)
    if is_open:
        message = f"{text}, but {eyes}: {DECIDE}, {because}"
        return _all_the_same(where, message, quantity, measured, unit)
    return at_most(
        where, quantity, measured=measured, limit=limit, unit=unit, scale=1.0, advisory=True,
        message=f"{text}, and {eyes}: {DECIDE}, {because}", remedy=remedy,
    )  # fmt: skip


def _all_the_same(where: Place, message: str, quantity: str, measured: float, unit: str) -> Finding:
    """Return a pass beyond a limit that does not decide; it stands in the message, and no reserve is kept of it."""
    return Finding(verdict="pass", where=where, message=message, quantity=quantity, unit=unit, measured=measured)


@rule(
    "signal.stub-too-long",
    title="A stub is longer than custom allows, and an eye suffers",
    basis="common practice",
    parameters=[parameter("share", 0.1, unit="", meaning="share of the edge that the stub's one-way delay may take")],
    reserve=0.0,
)
def stub_too_long(analyses: Analyses, *, share: float) -> Iterable[Finding]:
    """A stub is longer than the rule of thumb for the fastest edge, and an eye of the bus is not open enough.

    What it checks
    --------------
    The length of cable from each device, and from each end left open, to its line, against the length whose one-way
    delay is a tenth of the fastest edge on the bus; and, where it is longer, all solved worst-case eyes of the bus:
    what a stub sends back, others see. A branch of more than 20 m is a line of its own and no stub.

    Why it matters
    --------------
    A stub sends part of every edge back into the line. How much harm that does depends on edge, rate, load and place,
    which no rule of thumb knows: for one edge the usual ones differ by five (a tenth of the edge for the way there and
    back, a tenth one way, a third of the critical length, a quarter one way).

    Limit and source
    ----------------
    A tenth of the edge, one way: common practice. It is quoted beside the solved eyes, which decide: with all of them
    half a bit wide and open it is a pass, whatever the length. An eye that is bad may be so for another reason than
    this stub; the rules on eyes name it.

    When to waive
    -------------
    Where the node cannot be reached otherwise and its eye has been looked at with the adverse corner.
    """
    bus = analyses.bus
    lengths = dict(_stubs(bus)) if has_traffic(bus) else {}
    if not lengths:
        return
    seen = seen_by(analyses)
    assert seen is not None
    edge, unstated = _fastest_edge(bus)
    for name, length in lengths.items():
        around = (segment for segment in bus.segments if name in (segment.start, segment.end))
        speed = min(_velocity(segment.cable) for segment in around)
        limit = float(10.0 * share * formulas.stub_length_by_one_way_tenth(edge, speed))
        if length <= limit and unstated:
            missing = tuple(f"{driver}: transceiver.driver_edge_time" for driver in unstated)
            text = (
                f"stub {figure(length, 'm')}, short enough for an edge of {figure(edge, 's')}, but others may be faster"
            )
            yield unknown(Place.node(name), text, missing=missing)
            continue
        strictest = figure(float(formulas.stub_length_by_round_trip_tenth(edge, speed)), "m")
        laxest = figure(float(formulas.stub_length_by_one_way_quarter(edge, speed)), "m")
        yield _beside(
            Place.node(name), "stub", length, limit, "m",
            custom=(
                f"a one-way delay within {per_cent(share)} of an edge of {figure(edge, 's')} (customs range from "
                f"{strictest} to {laxest})"
            ),
            because="since custom knows neither rate nor load", seen=seen,
            remedy="lead the line past the device, move the tap, or use slower edges",
        )  # fmt: skip


def _stubs(bus: Bus) -> Iterator[tuple[str, float]]:
    """Give devices and open ends off the lines, with their length of cable from the line."""
    lines = lines_of(bus)
    for node in bus.nodes:
        is_end = node.transceiver is not None or len(bus.neighbours(node.name)) == 1
        if is_end and lines.stub[node.name] > 0:
            yield node.name, lines.stub[node.name]


def _fastest_edge(bus: Bus) -> tuple[float, tuple[str, ...]]:
    """Return the fastest edge that a driver states, rising or falling, and the drivers that state none."""
    edges, unstated = [], []
    for node in bus.nodes:
        if not drives(node) or node.transceiver is None:
            continue
        rise = picked(node.transceiver.driver_edge_time, "nominal")
        fall = picked(node.transceiver.driver_fall_time, "nominal")
        if rise is None:
            unstated.append(node.name)
        edges += [each for each in (rise, fall) if each is not None]
    if not edges:
        raise MissingDataError("the fastest edge", tuple(f"{name}: transceiver.driver_edge_time" for name in unstated))
    return min(edges), tuple(unstated)


def _velocity(cable: Cable | None) -> float:
    """Return the velocity on a cable, from its factor or, as the lines do, from impedance and capacitance."""
    if cable is None:
        raise MissingDataError("the velocity on a line", ("segment.cable",))
    factor = picked(cable.velocity_factor, "nominal")
    if factor is not None:
        return float(formulas.propagation_velocity(factor))
    impedance = picked(cable.characteristic_impedance, "nominal")
    capacitance = picked(cable.capacitance, "nominal")
    if impedance is None or capacitance is None:
        raise MissingDataError("the velocity on a line", (f'cable "{cable.name}" velocity_factor',))
    return 1.0 / (impedance * capacitance)


@rule(
    "signal.length-times-rate",
    title="Length times data rate is beyond custom, and an eye suffers",
    basis="common practice",
    parameters=[parameter("most", 1e8, unit="", meaning="largest product, in metres times bits per second")],
    reserve=0.0,
)
def length_times_rate(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """Length times data rate is beyond the custom of 100 million, and an eye is not open enough.

    What it checks
    --------------
    The way between the two places farthest apart times the data rate and, where it is more than custom allows, every
    solved eye.

    Why it matters
    --------------
    The product stands for a cable whose loss grows with the rate. It knows neither the gauge nor the receiver.

    Limit and source
    ----------------
    1e8 m bit/s: common practice; documents also print figures that make 1.2e8. It is quoted beside the solved eyes,
    which decide.

    When to waive
    -------------
    When the adverse corner of the eyes has been looked at.
    """
    seen = seen_by(analyses)
    if seen is None:
        return
    length = sum(segment.length for segment in _longest_way(analyses.bus))
    rate = figure(1.0 / seen.eyes.interval, "bit/s")
    yield _beside(
        Place.bus(), "length", length, most * seen.eyes.interval, "m",
        custom=f"custom at {rate} ({most / 1e6:g} million m bit/s)",
        because="since custom knows neither gauge nor edges", seen=seen,
        remedy="lower the data rate, or split the bus by a repeater",
    )  # fmt: skip


def _longest_way(bus: Bus) -> tuple[Segment, ...]:
    """Return the segments between the two places farthest apart, of all parts that cable joins."""
    ways = [way_to_farthest(bus, _last(part[0], way_to_farthest(bus, part[0]))) for part in parts_of(bus)]
    return max(ways, key=lambda way: sum(segment.length for segment in way))


def _last(place: str, way: tuple[Segment, ...]) -> str:
    for segment in way:
        place = segment.end if segment.start == place else segment.start
    return place


@rule(
    "signal.does-not-settle",
    title="An unterminated line has not settled by the middle of a bit, and an eye suffers",
    basis="common practice",
    parameters=[parameter("bit_share", 0.5, unit="", meaning="share of a bit within which the line should settle")],
    reserve=0.0,
)
def does_not_settle(analyses: Analyses, *, bit_share: float) -> Iterable[Finding]:
    """A line with an end that is not terminated still rings in the middle of a bit, and an eye is not open enough.

    What it checks
    --------------
    On a bus that has an end without a terminator, or a ring without any, the time from an edge at a driver until a
    receiver stays within a tenth of the swing; and, where that is beyond half a bit, the eye of that path.

    Why it matters
    --------------
    An open end sends every edge back. At a low rate that has died out before the bit is read, and the bus is sound.

    Limit and source
    ----------------
    Half a bit: common practice, which reckons with three round trips over the longest way. It is quoted beside the
    solved settling; the solved eye decides.

    When to waive
    -------------
    When the eye keeps its reserve at the adverse corner.
    """
    bus = analyses.bus
    if not has_traffic(bus) or not _unterminated(bus):
        return
    seen = seen_by(analyses)
    assert seen is not None
    eyes, limit = seen.eyes, bit_share * seen.eyes.interval
    late = seen.values(eyes.settling) > limit
    bad, unsure = late & _bad(seen), late & np.isnan(eyes.height)
    path = seen.largest(np.where(bad, eyes.settling, np.nan) if bad.any() else eyes.settling)
    lacking = seen.lacking(thresholds=bool(unsure.any()))
    if path is None or (lacking and not bad.any()):
        yield not_told("whether every path settles", lacking)
        return
    trips = ROUND_TRIPS * sum(2.0 * segment.length / _velocity(segment.cable) for segment in _longest_way(bus))
    settling, width = float(eyes.settling[path]), float(eyes.width[path])
    values = (
        f"the line settles {figure(settling, 's')} after an edge of {seen.named(path)}; {per_cent(bit_share)} of a bit "
        f"is {figure(limit, 's')}, and three round trips, which custom reckons with, {figure(trips, 's')}"
    )
    if late[path] and not bad[path]:
        message = f"{values}; every path that settles late has its eye open for half a bit or more, which decides"
        yield _all_the_same(seen.place(path), message, "settling", settling, "s")
        return
    opening = "closed" if width == 0.0 else f"open for {per_cent(width)} of a bit only"
    yield at_most(
        seen.place(path), "settling", measured=settling, limit=limit, unit="s", scale=1.0, advisory=True,
        message=f"{values}; its eye is {opening}" if bad[path] else values,
        remedy="terminate both ends, or lower the data rate",
    )  # fmt: skip


def _unterminated(bus: Bus) -> bool:
    """Return whether an end of a line, or a ring as a whole, has no terminator."""
    ended = [node.name for node in bus.nodes if any(each.engaged for each in node.terminations)]
    lines = lines_of(bus)
    near = {lines.end_near(name) for name in ended}
    return any(end not in near for end in lines.ends) if lines.ends else not ended


@rule(
    "signal.edge-faster-than-needed",
    title="Edges ring, and slower ones would do",
    basis="house",
    parameters=[parameter("most", 0.2, unit="", meaning="largest overshoot, as a share of the swing")],
    reserve=0.0,
)
def edge_faster_than_needed(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """Edges overshoot by more than a fifth of the swing; the slowest edge that still meets the rate is named.

    What it checks
    --------------
    The largest overshoot of any receiver from any driver as a share of its swing and, where that is too much, how slow
    edges may be before an eye is narrower than half a bit.

    Why it matters
    --------------
    What rings is the edge, not the rate. A slew-limited transceiver, or its slow mode, is the cheapest cure for stubs
    and missing terminators, and radiates less.

    Limit and source
    ----------------
    A fifth of the swing: a figure of this library; a miss is marginal.

    When to waive
    -------------
    When the overshoot is within the ratings and the eye keeps its reserve.
    """
    seen = seen_by(analyses)
    if seen is None:
        return
    if lacking := seen.lacking(thresholds=False):
        yield not_told("the overshoot of every edge", lacking)
    swing = np.abs(seen.eyes.mark - seen.eyes.space)
    ratio = seen.eyes.overshoot / np.where(swing > 0, swing, np.nan)
    path = seen.largest(ratio)
    if path is None:
        return
    largest = float(ratio[path])
    slower = _slower(analysis.slowest_edge(analyses, least_width=LEAST_WIDTH)) if largest > most else ""
    yield at_most(
        seen.place(path),
        "overshoot as a share of the swing",
        measured=largest,
        limit=most,
        unit="",
        scale=1.0,
        advisory=True,
        message=f"an edge of {seen.named(path)} overshoots by {per_cent(largest)} of the swing{slower}",
        remedy="use a slew-limited transceiver or its slow mode, shorten stubs, or terminate the open end",
    )


def _slower(slowest: SlowestEdge) -> str:
    fitted = f"; edges of {figure(slowest.fitted, 's')} are fitted"
    if np.isnan(slowest.edge):
        return f"{fitted}, and no edge would keep every eye open for half a bit"
    if slowest.edge > slowest.fitted:
        return f"{fitted}, and up to {figure(slowest.edge, 's')} would keep every eye open for half a bit"
    return f"{fitted}, and no slower one would keep every eye open for half a bit"


@rule(
    "signal.impedance-lowered",
    title="Nodes lower the line's impedance below what its terminators fit",
    basis="physics",
    parameters=[parameter("most", 0.2, unit="", meaning="largest reflection at a terminator, as a share of the wave")],
    reserve=0.0,
)
def impedance_lowered(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """Closely spaced nodes lower the line's impedance so far that a terminator for the bare cable reflects.

    What it checks
    --------------
    The resistance of the terminators at each end of a line, without RC terminators, against the impedance of the trunk
    with the capacitance of all nodes and stubs spread over its length. One that fits the bare cable no better is left
    to `termination.mismatched`.

    Why it matters
    --------------
    130 nodes half a metre apart make some 80 ohm of a cable of 100 ohm. The terminator that fits is the loaded
    impedance, in the middle of the bus as well as at its ends.

    Limit and source
    ----------------
    A fifth of the wave sent back, as for any terminator: Z = Z0 / sqrt(1 + C / (C' l)) follows from the equations of
    the line. It is an average over the trunk, and a miss is marginal.

    When to waive
    -------------
    When the eye keeps its reserve.
    """
    bus, fitted = analyses.bus, _fitted(analyses.bus)
    if not fitted:
        return
    if sum(len(part) > 1 for part in parts_of(bus)) > 1:
        text = "the impedance with nodes cannot be told of a bus in several parts"
        yield unknown(Place.bus(), text, missing=("one trunk",), remedy="describe each part as a bus of its own")
        return
    loading = analysis.line_loading(analyses)
    loaded, bare = loading.loaded_impedance, loading.impedance
    for name, conductance in fitted.items():
        resistance = 1.0 / conductance
        reflection, before = (abs(resistance - each) / (resistance + each) for each in (loaded, bare))
        values = (
            f"{figure(resistance, 'ohm')} on a line of {figure(loaded, 'ohm')} with its nodes ({figure(bare, 'ohm')} "
            f"without) send back {per_cent(reflection)}"
        )
        if reflection > most and reflection <= before:
            message = f"{values}, and {per_cent(before)} without nodes: they are not the cause"
            yield _all_the_same(Place.node(name), message, "reflection at the terminator", reflection, "")
            continue
        yield at_most(
            Place.node(name),
            "reflection at the terminator",
            measured=reflection,
            limit=most,
            unit="",
            scale=1.0,
            advisory=True,
            message=values,
            remedy=(
                f"terminate with the loaded impedance, {figure(loaded, 'ohm', digits=2)}, which fits in the middle of "
                "the bus as well as at its ends; or space the nodes farther apart, or shorten stubs"
            ),
        )


def _fitted(bus: Bus) -> dict[str, float]:
    """Return the conductance of the resistive terminators at each end of a line; those not stated count as none."""
    lines = lines_of(bus)
    fitted: dict[str, float] = {}
    for node in bus.nodes:
        if not lines.end_near(node.name):
            continue
        engaged = [each for each in node.terminations if each.engaged and each.capacitance is None]
        if engaged:
            known = (picked(each.resistance, "nominal") for each in engaged)
            fitted[node.name] = sum(1.0 / each for each in known if each is not None)
    return fitted


RULES: tuple[Rule, ...] = (
    stub_too_long, length_times_rate, does_not_settle, edge_faster_than_needed, impedance_lowered
)  # fmt: skip
