"""Rules on devices that are fed over spare conductors of the cable."""

import math
from collections.abc import Iterable, Iterator, Sequence

from rs485kit import analysis
from rs485kit.analysis import FeedLevels
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Segment
from rs485kit.network.feed import feeds
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown

SHOWN = 4


def listed(names: Sequence[str]) -> str:
    """Return some names as a person reads them.

    Parameters
    ----------
    names : sequence of str
        The names [-].

    Returns
    -------
    str
        The text [-].
    """
    return ", ".join(names[:SHOWN]) + (f" and {len(names) - SHOWN} more" if len(names) > SHOWN else "")


@rule("feed.voltage-too-low", title="A device that is fed over the cable has too little voltage", basis="physics")
def voltage_too_low(analyses: Analyses) -> Iterable[Finding]:
    """A device that the spare conductors of the cable feed has less than the voltage at which it works.

    What it checks
    --------------
    The voltage between plus and minus of every fed device with all others drawing what they draw, each talking in turn,
    over all tolerances, against its `minimum_voltage`.

    Why it matters
    --------------
    Behind a switching converter a device draws more current the less voltage it has. So the last devices of a long line
    do not fade: past a point there is no voltage at which all can be fed, and some of them drop out and come back in
    turn. A meter on the bench, or a model that holds the current constant, does not show it.

    Limit and source
    ----------------
    The device's own figure, with the reserve of the rule. It follows from the circuit: one load at the end of a line
    of the loop resistance R can be fed with V^2 / 4 R at the most.

    When to waive
    -------------
    When the voltage at the last devices has been measured while everybody draws what they ever draw.
    """
    if not feeds(analyses.bus):
        return
    devices = analysis.feed_levels(analyses).devices
    if len(devices) and all(math.isnan(each) for each in devices.minimum_voltage):
        what = "whether fed devices have enough voltage is not known: no device states its minimum"
        yield unknown(Place.bus(), what, missing=("feed.minimum_voltage",))
        return
    for row in devices:
        where = Place.node(row.node)
        if math.isnan(row.minimum_voltage):
            what = f"whether {row.node} has enough voltage is not known, as its minimum is not stated"
            yield unknown(where, what, missing=("feed.minimum_voltage",))
        elif math.isnan(row.voltage.nominal):
            yield unknown(where, f"the voltage at {row.node} is not known", missing=_reasons(devices, row.node))
        elif not row.running:
            yield Finding(
                verdict="fail",
                where=where,
                quantity="voltage of a fed device",
                unit="V",
                message=f"{row.node} cannot run together with the others: there is no voltage at which all of them do",
                remedy="more wires in parallel, a higher feeding voltage, a second feeding point, or less load",
            )
        else:
            yield at_least(
                where,
                "voltage of a fed device",
                measured=row.voltage.nominal,
                bound=row.voltage.lower,
                limit=row.minimum_voltage,
                unit="V",
                remedy="more wires in parallel, a higher feeding voltage, a second feeding point, or less load",
                missing=analysis.feed_levels(analyses).unstated,
            )
            yield from _restart(row)


def _reasons(table: analysis.FedDevices, name: str) -> tuple[str, ...]:
    return tuple(field for node, field in table.missing if node == name)


def _restart(row: analysis.FedDevice) -> Iterable[Finding]:
    if row.restart_voltage > row.minimum_voltage and row.voltage.nominal < row.restart_voltage:
        yield at_least(
            Place.node(row.node),
            "voltage of a fed device, to start again",
            measured=row.voltage.nominal,
            bound=row.voltage.lower,
            limit=row.restart_voltage,
            unit="V",
            advisory=True,
            message=(
                f"{row.node} runs at {figure(row.voltage.nominal, 'V')}, and would need "
                f"{figure(row.restart_voltage, 'V')} to start again after a dip"
            ),
            remedy="switch the feed off and on so that inputs start one after another, or raise the voltage there",
        )


@rule("feed.near-collapse", title="A little more load would bring the feed down", basis="physics")
def near_collapse(analyses: Analyses) -> Iterable[Finding]:
    """The feed of devices over the cable bears little more than what they draw now, or not even that.

    What it checks
    --------------
    By what factor all loads, with the device talking that weighs most, may grow before the first device stops.

    Why it matters
    --------------
    Voltages fall slowly until close to the point of collapse and then at once, so a voltage that looks sound says
    little. Ageing contacts, a warm day or one more device take the rest.

    Limit and source
    ----------------
    A factor of 1, with the reserve of the rule, by which the loads may grow. It follows from the circuit.

    When to waive
    -------------
    When the loads stated are already the largest that can occur and the bus will not grow.
    """
    bus = analyses.bus
    if not any(node.feed is not None for node in bus.nodes):
        return
    levels = analysis.feed_levels(analyses)
    factor, first = levels.load_factor, levels.first_to_stop
    missing = levels.unstated or ("a limit of it: rings, several feeding points or resistive loads let none be proved",)
    yield at_least(
        Place.node(first) if first else Place.bus(),
        "growth of the loads that the feed bears",
        measured=factor.nominal,
        bound=factor.lower if levels.unstated or not math.isnan(factor.lower) else None,
        limit=1.0,
        unit="",
        message=(
            f"what all draw may grow to {figure(factor.nominal, '', digits=3)} times"
            + ("" if math.isnan(factor.lower) else f", {figure(factor.lower, '', digits=3)} times over all tolerances")
            + (f", before {first} stops" if first else "")
        ),
        remedy="more wires in parallel, a higher feeding voltage, or a second feeding point",
        missing=missing,
    )


def _without_answer(levels: FeedLevels) -> Finding | None:
    """Return the one unknown for all currents of a feed that has no answer, of which another rule says why."""
    if not any(math.isnan(row.current.nominal) for row in levels.sources):
        return None
    text = "the feed has no answer, so that no current of it can be told"
    remedy = "look at feed.voltage-too-low first"
    return unknown(Place.bus(), text, missing=levels.unstated or ("a feed that does not collapse",), remedy=remedy)


@rule("feed.conductor-overloaded", title="A feed conductor carries more current than it may", basis="physics",
      safety=True)  # fmt: skip
def conductor_overloaded(analyses: Analyses) -> Iterable[Finding]:
    """The wires of a segment that feed devices carry more current than they are rated for.

    What it checks
    --------------
    The largest current of plus and minus of every segment whose `current_rating` is stated, over all tolerances and
    whoever talks, against that rating times the wires in parallel.

    Why it matters
    --------------
    Wires of a signal cable are thin and lie in a bundle. Constant-power devices draw more as the voltage falls, so a
    feed that sags heats its cable.

    Limit and source
    ----------------
    The rating that is stated for the cable as it is laid. Local wiring codes and licensed practice decide what it is.

    When to waive
    -------------
    Never without a rating for the way in which this cable is laid.
    """
    if not any(segment.feed is not None for segment in analyses.bus.segments):
        return
    levels = analysis.feed_levels(analyses)
    unrated = [f"{row.start} - {row.end}" for row in levels.spans if math.isnan(row.current_rating)]
    if unrated:
        what = f"what the feed conductors of {listed(unrated)} may carry is not stated"
        yield unknown(Place.bus(), what, missing=("segments.feed.current_rating",))
    if collapsed := _without_answer(levels):
        yield collapsed
        return
    for row in levels.spans:
        if math.isnan(row.current_rating):
            continue
        yield at_most(
            Place.segment(row.start, row.end),
            "current of the feed conductors",
            measured=row.current.nominal,
            bound=row.current.upper,
            limit=row.current_rating,
            unit="A",
            remedy="use more wires in parallel or a thicker cable, or feed from a second point",
            missing=levels.unstated or ("an answer: the feeding points have none",),
        )


@rule(
    "feed.fuse-too-large",
    title="A fuse does not protect the wires behind it",
    basis="common practice",
    reserve=0.0,
    safety=True,
)
def fuse_too_large(analyses: Analyses) -> Iterable[Finding]:
    """The fuse of a feeding point is rated for more current than the thinnest wires that it feeds may carry.

    What it checks
    --------------
    The rated current of the fuse, or the current limit of the supply where there is no fuse, against the least rating
    of all segments that hang on it; and where several points feed, the sum of what reaches a segment from one side.

    Why it matters
    --------------
    A short at the far end of a long cable may draw less than the fuse needs to blow, and more than the wires bear.

    Limit and source
    ----------------
    The least stated rating of the wires, by common practice. What a fuse lets through, and how long, is not looked at.
    Local wiring codes and licensed practice decide.

    When to waive
    -------------
    When the thin wires have a fuse of their own where they begin.
    """
    if not feeds(analyses.bus):
        return
    levels = analysis.feed_levels(analyses)
    yield from _together(analyses.bus, levels)
    for row in levels.sources:
        if math.isnan(row.conductor_rating):
            text = f"what the wires that {row.node} feeds may carry is not stated"
            yield unknown(Place.node(row.node), text, missing=("segments.feed.current_rating",))
            continue
        protects = row.current_limit if math.isnan(row.fuse) else row.fuse
        what = "the current limit of the supply" if math.isnan(row.fuse) else "the fuse"
        if math.isnan(protects):
            text = f"neither a fuse nor a current limit is stated at {row.node}"
            yield unknown(Place.node(row.node), text, missing=("feed_source.fuse or feed_source.current_limit",))
            continue
        text = f"{what} at {row.node} is {figure(protects, 'A')}, the thinnest wires bear "
        yield at_most(
            Place.node(row.node),
            "rated current of what protects the wires",
            measured=protects,
            limit=row.conductor_rating,
            unit="A",
            message=text + figure(row.conductor_rating, "A"),
            remedy="use a smaller fuse, or one of its own where the thin wires begin",
        )


def _together(bus: Bus, levels: FeedLevels) -> Iterator[Finding]:
    """Give the segment into whose short several feeding points together drive most beyond its rating."""
    protects = {row.node: row.current_limit if math.isnan(row.fuse) else row.fuse for row in levels.sources}
    if len(protects) < 2 or any(map(math.isnan, protects.values())):
        return
    ways = {(each.start, each.end): each for each in bus.segments if each.feed is not None}
    rows = []
    for span in levels.spans:
        sides = [_reached(ways, end, (span.start, span.end)) for end in (span.start, span.end)]
        most = max(sum(amperes for name, amperes in protects.items() if name in side) for side in sides)
        sources = max(len(protects.keys() & side) for side in sides)
        if sources > 1 and not math.isnan(span.current_rating):
            rows.append((most / span.current_rating, most, span))
    if not rows:
        return
    _, most, span = max(rows, key=lambda row: (row[0], row[2].start, row[2].end))
    yield at_most(
        Place.segment(span.start, span.end), "rated currents of all that feeds into a short behind these wires",
        measured=most, limit=span.current_rating, unit="A",
        remedy="use smaller fuses, or one of its own where the thin wires begin",
    )  # fmt: skip


def _reached(ways: dict[tuple[str, str], Segment], start: str, without: tuple[str, str]) -> set[str]:
    """Return the places that feed conductors join to one, a segment taken away."""
    reached, queue = {start}, [start]
    for name in queue:
        for ends in ways:
            if ends != without and name in ends:
                queue += [each for each in ends if each not in reached]
                reached |= set(ends)
    return reached


@rule("feed.source-overloaded", title="A feeding point has to give more than it can", basis="physics")
def source_overloaded(analyses: Analyses) -> Iterable[Finding]:
    """A supply that feeds the cable has to give more current than it can, in use or at switching on.

    What it checks
    --------------
    The current of every feeding point over all tolerances and whoever talks, against its `current_limit`; and what all
    empty inputs may ask for at the first moment, against its `inrush_current`, where
    that is stated.

    Why it matters
    --------------
    A supply in its current limit lowers its voltage, and constant-power devices then draw more: the feed latches low.
    Inputs that all charge at once do the same at every switching on.

    Limit and source
    ----------------
    The supply's own figures. It follows from the circuit; the first moment is more than what lasts.

    When to waive
    -------------
    When the start has been tried with every device connected, in the cold and in the heat.
    """
    if not feeds(analyses.bus):
        return
    levels = analysis.feed_levels(analyses)
    silent = [row.node for row in levels.sources if math.isnan(row.current_limit)]
    if silent:
        what = f"how much the feeding point at {listed(silent)} can give is not stated"
        yield unknown(Place.bus(), what, missing=("feed_source.current_limit",))
    if collapsed := _without_answer(levels):
        yield collapsed
        return
    for row in levels.sources:
        where = Place.node(row.node)
        if not math.isnan(row.current_limit):
            yield at_most(
                where, "current of a feeding point", measured=row.current.nominal, bound=row.current.upper,
                limit=row.current_limit, unit="A", remedy="use a stronger supply, or a second feeding point",
                missing=levels.unstated or ("an answer: the feeding points have none",),
            )  # fmt: skip
        if not math.isnan(row.inrush_current):
            lacking = tuple(field for node, field in levels.sources.missing if node == row.node)
            yield at_most(
                where, "current at switching on", measured=row.inrush, limit=row.inrush_current, unit="A",
                advisory=True, remedy="limit the inrush of inputs, or switch them on one after another",
                missing=lacking,
            )  # fmt: skip


@rule(
    "feed.common-lifted",
    title="Feed current in the common lifts receivers out of their common-mode range",
    basis="physics",
    source="EIA-485, as printed in B&B Electronics, RS-422/485 Application Note, appendix A: -7 V to +12 V",
    reserve=0.0,
)
def common_lifted(analyses: Analyses) -> Iterable[Finding]:
    """Feed current in the common conductor moves the commons of nodes against each other.

    What it checks
    --------------
    Where the minus of the feed is the bus-side common, by a common return or for want of a barrier: the range of both
    lines of every receiver against its own common as `common_mode` tells it, and how far the feed moves the commons of
    all others against it, over all tolerances.

    Why it matters
    --------------
    Half of what a feed loses on its way is lost in the minus. With 4 V of allowed drop the common of the last device
    stands 2 V above that of the first, before any earth has had its say.

    Limit and source
    ----------------
    The common-mode range of the part, or -7 V to +12 V as EIA-485 asks. Lines lie between what the commons of all who
    touch them make of them, so that the largest difference of shifts bounds what the feed adds.

    When to waive
    -------------
    When receivers have been read against their own commons with everything fed and talking.
    """
    if not feeds(analyses.bus):
        return
    grounds = analysis.feed_levels(analyses).grounds
    if not any(grounds.common):
        return
    nominal, lower, upper = _shifts(analyses)
    for row in analysis.common_mode(analyses).receivers:
        where = Place.node(row.node)
        if math.isnan(row.lowest_nominal) or math.isnan(row.highest_nominal):
            missing = tuple(f for name, f in analysis.common_mode(analyses).receivers.missing if name == row.node)
            yield unknown(where, f"the common mode of {row.node} is not known without the feed", missing=missing)
            continue
        own = nominal[row.node]
        raised, lowered = max(nominal.values()) - own, min(nominal.values()) - own
        # NaN where a limit is not stated, which leaves the finding unknown
        most, least = max(upper.values()) - lower[row.node], min(lower.values()) - upper[row.node]
        unstated = ("limits of the feed or of the common mode",)
        remedy = "give the minus wires of its own, or more of them, or feed isolated devices only"
        yield at_most(
            where, "line against common, with the feed", measured=row.highest_nominal + raised,
            bound=row.highest + most, limit=row.limit_highest, unit="V", remedy=remedy, missing=unstated,
        )  # fmt: skip
        yield at_least(
            where, "line against common, with the feed", measured=row.lowest_nominal + lowered,
            bound=row.lowest + least, limit=row.limit_lowest, unit="V", remedy=remedy, missing=unstated,
        )  # fmt: skip


def _shifts(analyses: Analyses) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    """Return how far the feed moves the common of every device: nominal, and limits.

    A common that is not the minus lies between those that are and one that is not moved at all.
    """
    grounds = analysis.feed_levels(analyses).grounds
    known = {row.node: row.shift for row in grounds if row.common}
    lowest = min((0.0, *(each.lower for each in known.values())), key=lambda each: (not math.isnan(each), each))
    highest = max((0.0, *(each.upper for each in known.values())), key=lambda each: (math.isnan(each), each))
    nominal, lower, upper = {}, {}, {}
    for node in analyses.bus.nodes:
        if node.transceiver is None and not node.biases and node.name not in known:
            continue
        shift = known.get(node.name)
        nominal[node.name] = 0.0 if shift is None else shift.nominal
        lower[node.name] = lowest if shift is None else shift.lower
        upper[node.name] = highest if shift is None else shift.upper
    return nominal, lower, upper


RULES: tuple[Rule, ...] = (
    common_lifted, conductor_overloaded, fuse_too_large, near_collapse, source_overloaded, voltage_too_low,
)  # fmt: skip
