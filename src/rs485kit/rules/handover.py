"""Rules on the time between two drivers: marks that are left to the bias, and what a release does to receivers."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.analysis import SelfDirection
from rs485kit.analysis.bit_budget import sampling_of
from rs485kit.analysis.self_directing import control_of
from rs485kit.errors import MissingDataError, listed
from rs485kit.memo import Analyses
from rs485kit.rules.bit_timing import talk
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.signal import has_traffic

THRESHOLD_SCALE = 0.2
FASTER_PULL = "fit bias with lower resistance, which pulls marks faster and higher, or a driver that holds its marks"


@rule("handover.marks-left-to-bias", title="Bias has to make marks faster or higher than it can", basis="physics")
def marks_left_to_bias(analyses: Analyses) -> Iterable[Finding]:
    """A driver that enables itself leaves marks to the bias, which is too slow or too weak for them.

    What it checks
    --------------
    For every driver that is enabled by its data or by a one-shot: whether the bias brings all receivers to mark in time
    at the data rate of the bus and, where it leaves whole marks to it, whether its level is above their thresholds. A
    one-shot that lasts a character or more holds its marks itself.

    Why it matters
    --------------
    While data flow, such a bus has no more noise margin than an idle one, and every edge to mark is as slow as bias and
    terminators charge the cable. A second terminator, right on any other bus, can end it.

    Limit and source
    ----------------
    The rate at which a mark that comes late is still read at its first sample, and the thresholds of the receivers.
    Both are solved: see `rs485kit.analysis.self_direction`.

    When to waive
    -------------
    When the converter drives marks too, against its description.
    """
    bus = analyses.bus
    rate = None if bus.link is None else bus.link.data_rate
    if not any(control_of(node) for node in bus.nodes):
        return
    if rate is None:
        raise MissingDataError("marks that are left to bias", ("link.data_rate",))
    rows = analysis.self_direction(analyses)
    lacking: list[str] = []
    for index, name in enumerate(rows.nodes):
        row = rows.at(name)
        if row.control == "one-shot" and rate >= row.lowest_rate:
            yield at_least(
                Place.node(name), "data rate", measured=rate, limit=row.lowest_rate, unit="bit/s",
                message=f"its one-shot holds the pair throughout a character from {figure(row.lowest_rate, 'bit/s')} "
                "on",
            )  # fmt: skip
        elif math.isnan(row.largest_rate) or math.isnan(row.margin):
            own = {name, rows.receivers[index]}
            lacking += [f"{node}: {field}" for node, field in rows.missing if node in own]
        else:
            yield _level(row)
            if 0.0 < row.largest_rate < math.inf:
                yield _rate(row, rate)
    if lacking:
        missing = tuple(sorted(set(lacking)))
        yield unknown(Place.bus(), f"marks that are left to bias cannot be told for want of {listed(missing, 3)}",
                      missing=missing)  # fmt: skip


def _level(row: SelfDirection) -> Finding:
    return at_least(
        Place.path(row.node, row.receiver), "mark that is left to the bias, beyond the threshold", measured=row.margin,
        limit=0.0, unit="V", scale=THRESHOLD_SCALE,
        message=f"a mark that the driver does not hold is {figure(row.level, 'V')}, the idle level, and "
        f"{figure(row.margin, 'V')} beyond the threshold",
        remedy=FASTER_PULL,
    )  # fmt: skip


def _rate(row: SelfDirection, rate: float) -> Finding:
    return at_most(
        Place.node(row.node), "data rate", measured=rate, limit=row.largest_rate, unit="bit/s",
        message=f"bias takes {figure(row.pull_time, 's')} to bring every receiver to mark with "
        f"{figure(row.capacitance, 'F')} between the lines, soon enough up to {figure(row.largest_rate, 'bit/s')}",
        remedy=f"{FASTER_PULL}, shorten the cable, or lower the data rate",
    )  # fmt: skip


@rule(
    "handover.release-reads-as-start",
    title="A driver that lets go makes a receiver see a start bit",
    basis="physics",
)
def release_reads_as_start(analyses: Analyses) -> Iterable[Finding]:
    """The pair swings below a threshold for longer than a start bit needs when a driver lets go at mark.

    What it checks
    --------------
    For every driver the receiver that reads space longest after a release at mark, from the solved lines, against the
    time to the first sample of a start bit; where the bus states its controller, only between it and devices. Receivers
    that never surely read mark are left to the rules on the idle level, and so is a bus that nothing discharges.

    Why it matters
    --------------
    A receiver logs a byte that nobody sent, at the very moment when it should listen for a reply; programs then take
    the reply for garbage and drop it.

    Limit and source
    ----------------
    The first sample of the start bit: three of 16 clocks round the middle where the receiver's samples are not stated.

    When to waive
    -------------
    When receivers are off while no frame is due.
    """
    bus = analyses.bus
    if not has_traffic(bus) or not _can_settle(analyses):
        return
    if bus.link is None or bus.link.data_rate is None:
        raise MissingDataError("what a release does to receivers", ("link.data_rate",))
    tails = analysis.idle_tails(analyses)
    soonest = sampling_of([bus.node(name) for name in tails.receivers], {}).early / bus.link.data_rate
    for row, driver in enumerate(tails.drivers):
        found = [
            (float(tails.from_mark[row, column]) / float(soonest[column]), receiver, column)
            for column, receiver in enumerate(tails.receivers)
            if math.isfinite(tails.from_mark[row, column]) and talk(bus, driver, receiver)
        ]
        if not found:
            continue
        worst = max(round(share, 9) for share, _, _ in found)
        _, receiver, column = min(each for each in found if round(each[0], 9) == worst)
        tail = float(tails.from_mark[row, column])
        yield at_most(
            Place.path(driver, receiver), "space after a release at mark", measured=tail, limit=float(soonest[column]),
            unit="s",
            message=f"{figure(tail, 's')} after the release the receiver may still read space; a start bit is taken "
            f"for one after {figure(float(soonest[column]), 's')}",
            remedy="fit stronger bias, terminate both ends, shorten stubs with drivers, or lower the data rate",
        )  # fmt: skip
    if tails.missing:
        missing = tuple(sorted({f"{node}: {field}" for node, field in tails.missing}))
        text = f"what a release does to every receiver cannot be told for want of {listed(missing, 3)}"
        yield unknown(Place.bus(), text, missing=missing)


def _can_settle(analyses: Analyses) -> bool:
    """Return whether some receiver may surely read mark at rest, for all that is stated."""
    levels = analysis.idle_levels(analyses)
    return not bool((levels.voltage.nominal <= levels.threshold).all())


RULES: tuple[Rule, ...] = (marks_left_to_bias, release_reads_as_start)
