"""Rules of custom on signals in time, each quoted beside the solved eye, which decides."""

from collections.abc import Iterable

import numpy as np

from rs485kit import analysis, formulas
from rs485kit.analysis import WorstEyes
from rs485kit.errors import MissingDataError
from rs485kit.memo import Analyses
from rs485kit.model import Cable
from rs485kit.network.lines import lines_of, way_to_farthest
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Place, at_most, unknown
from rs485kit.rules.signal import has_traffic

LEAST_WIDTH = 0.5
SOLVED = "the solved eye decides"


def _is_open(eyes: WorstEyes) -> bool | None:
    """Return whether every eye is open half a bit wide; None where one is not known."""
    known = ~np.isnan(eyes.height)
    if eyes.missing or not known.any():
        return None
    return bool((eyes.height[known] >= 0).all() and (eyes.width[known] >= LEAST_WIDTH).all())


def _beside(
    where: Place,
    quantity: str,
    measured: float,
    limit: float,
    unit: str,
    *,
    custom: str,
    remedy: str,
    is_open: bool | None,
) -> Finding:
    """Return the finding on a custom: where it is exceeded and the eye is open, the eye decides."""
    values = f"{quantity} {figure(measured, unit)}; {custom} allows {figure(limit, unit)}"
    if measured <= limit:
        message = f"{values}"
        return at_most(where, quantity, measured=measured, limit=limit, unit=unit, message=message, remedy=remedy)
    if is_open is None:
        return unknown(where, f"{values}, and the eye that would decide is not known", remedy=remedy)
    if is_open:
        message = f"{values}, but every eye is open half a bit or more over every bit sequence: {SOLVED}"
        return Finding(
            verdict="pass", where=where, message=message, quantity=quantity, unit=unit, measured=measured, limit=limit
        )
    message = f"{values}, and an eye is closed or narrower than half a bit: {SOLVED}"
    return at_most(
        where, quantity, measured=measured, limit=limit, unit=unit, advisory=True, message=message, remedy=remedy
    )


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
    The length of cable from each node to its line, against the length whose one-way delay is a tenth of the fastest
    edge on the bus; and, where it is longer, the solved worst-case eyes of the bus: what a stub sends back, others see.

    Why it matters
    --------------
    A stub sends part of every edge back into the line. How much harm that does depends on edge, rate, load and place,
    which no rule of thumb knows: for one edge the usual ones differ by five (a tenth of the edge for the way there and
    back, a tenth one way, a third of the critical length, a quarter one way).

    Limit and source
    ----------------
    A tenth of the edge, one way: common practice. It is quoted beside the solved eye, which decides: half a bit wide
    and open is a pass, whatever the length.

    When to waive
    -------------
    Where the node cannot be reached otherwise and its eye has been looked at with the adverse corner.
    """
    if not has_traffic(analyses):
        return
    bus = analyses.bus
    lines = lines_of(bus)
    stubs = {node.name: lines.stub[node.name] for node in bus.nodes if node.transceiver and lines.stub[node.name] > 0}
    if not stubs:
        return
    eyes = analysis.worst_eyes(analyses)
    edge = _fastest_edge(analyses)
    for name, length in stubs.items():
        speed = min(_velocity(segment.cable) for segment in bus.segments if name in (segment.start, segment.end))
        limit = float(10.0 * share * formulas.stub_length_by_one_way_tenth(edge, speed))
        yield _beside(
            Place.node(name), "stub", length, limit, "m",
            custom=f"custom for an edge of {figure(edge, 's')} (one-way delay within {share:g} of it)",
            remedy="lead the line past the device, move the tap, or use slower edges", is_open=_is_open(eyes),
        )  # fmt: skip


def _fastest_edge(analyses: Analyses) -> float:
    edges = [
        node.transceiver.driver_edge_time.nominal
        for node in analyses.bus.nodes
        if node.transceiver is not None and node.drives and node.transceiver.driver_edge_time is not None
    ]
    known = [edge for edge in edges if edge is not None]
    if not known:
        raise MissingDataError("the fastest edge", ("transceiver.driver_edge_time",))
    return min(known)


def _velocity(cable: Cable | None) -> float:
    factor = None if cable is None or cable.velocity_factor is None else cable.velocity_factor.nominal
    if factor is None:
        name = "segment.cable" if cable is None else f'cable "{cable.name}" velocity_factor'
        raise MissingDataError("the velocity on a line", (name,))
    return float(formulas.propagation_velocity(factor))


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
    1e8 m bit/s: common practice; documents also print figures that make 1.2e8. It is quoted beside the solved eye,
    which decides.

    When to waive
    -------------
    When the adverse corner of the eyes has been looked at.
    """
    bus = analyses.bus
    if not has_traffic(analyses) or len(bus.ends) < 2:
        return
    eyes = analysis.worst_eyes(analyses)
    length = sum(segment.length for segment in way_to_farthest(bus, bus.ends[0]))
    rate = 1.0 / eyes.interval
    yield _beside(
        Place.bus(), "length", length, float(formulas.length_by_product(rate, product=most)), "m",
        custom=f"custom at {figure(rate, 'bit/s')} ({most:g} m bit/s)",
        remedy="lower the data rate, or split the bus by a repeater", is_open=_is_open(eyes),
    )  # fmt: skip


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
    On a bus that has an end without a terminator, the longest time from an edge at a driver until a receiver stays
    within a tenth of the swing; and, where that is beyond half a bit, the eye of that path.

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
    if not has_traffic(analyses):
        return
    ended = {node.name for node in bus.nodes if any(each.engaged for each in node.terminations)}
    lines = lines_of(bus)
    bare = [name for name in lines.ends if not any(lines.end_near(each) == name for each in ended)]
    if not bare:
        return
    eyes = analysis.worst_eyes(analyses)
    settling = np.where(np.isnan(eyes.settling), -np.inf, eyes.settling)
    if not settling.size or not np.isfinite(settling.max()):
        yield unknown(Place.bus(), "settling cannot be told", missing=_named(eyes))
        return
    driver, receiver = np.unravel_index(int(settling.argmax()), settling.shape)
    at = (int(driver), int(receiver))
    way = way_to_farthest(bus, bare[0])
    trips = 3.0 * sum(2.0 * segment.length / _velocity(segment.cable) for segment in way)
    is_open = bool(eyes.height[at] >= 0 and eyes.width[at] >= LEAST_WIDTH)
    yield _beside(
        Place.path(eyes.drivers[at[0]], eyes.receivers[at[1]]), "settling", float(settling[at]),
        bit_share * eyes.interval, "s",
        custom=f"three round trips take {figure(trips, 's')}, and {bit_share:g} of a bit",
        remedy="terminate both ends, or lower the data rate", is_open=is_open,
    )  # fmt: skip


def _named(eyes: WorstEyes) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"{node}: {field}" for node, field in eyes.missing))


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
    if not has_traffic(analyses):
        return
    eyes = analysis.worst_eyes(analyses)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = eyes.overshoot / np.abs(eyes.mark - eyes.space)
    known = np.where(np.isnan(ratio), -np.inf, ratio)
    if not known.size or not np.isfinite(known.max()):
        yield unknown(Place.bus(), "overshoot cannot be told", missing=_named(eyes))
        return
    driver, receiver = np.unravel_index(int(known.argmax()), known.shape)
    largest = float(known[driver, receiver])
    advice = ""
    if largest > most:
        slowest = analysis.slowest_edge(analyses, least_width=LEAST_WIDTH)
        fitted = figure(slowest.fitted, "s")
        advice = f"; edges of {fitted} are fitted, and no slower one would keep half a bit"
        if slowest.edge > slowest.fitted:
            advice = f"; edges of {fitted} are fitted, and up to {figure(slowest.edge, 's')} would keep half a bit open"
    yield at_most(
        Place.path(eyes.drivers[int(driver)], eyes.receivers[int(receiver)]),
        "overshoot as a share of the swing",
        measured=largest,
        limit=most,
        unit="",
        advisory=True,
        message=f"an edge overshoots by {share(largest)} of the swing{advice}",
        remedy="use a slew-limited transceiver or its slow mode, shorten stubs, or terminate the open end",
    )


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
    The resistance of each engaged resistive terminator against the impedance of the trunk with the capacitance of all
    nodes and stubs spread over its length.

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
    bus = analyses.bus
    fitted = {}
    for node in bus.nodes:
        resistive = [each.resistance.nominal for each in node.terminations if each.engaged and each.capacitance is None]
        known = [each for each in resistive if each is not None]
        if known and len(known) == len(resistive):
            fitted[node.name] = 1.0 / sum(1.0 / each for each in known)
    if not fitted or len(bus.ends) < 2:
        return
    loading = analysis.line_loading(analyses)
    loaded = loading.loaded_impedance
    for name, resistance in fitted.items():
        reflection = abs(resistance - loaded) / (resistance + loaded)
        yield at_most(
            Place.node(name),
            "reflection at the terminator",
            measured=reflection,
            limit=most,
            unit="",
            advisory=True,
            message=(
                f"{figure(resistance, 'ohm')} on a line of {figure(loaded, 'ohm')} with its nodes "
                f"({figure(loading.impedance, 'ohm')} without) send back {share(reflection)}"
            ),
            remedy="use the loaded impedance as terminator, space the nodes farther apart, or shorten stubs",
        )


RULES: tuple[Rule, ...] = (
    stub_too_long, length_times_rate, does_not_settle, edge_faster_than_needed, impedance_lowered
)  # fmt: skip
