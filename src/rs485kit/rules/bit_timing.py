"""Rules on the time of a bit: what is left of it at its last sample, ratings of parts, a node that hears itself."""

from collections.abc import Iterable, Iterator

import numpy as np

from rs485kit import analysis
from rs485kit.analysis import BitTiming, BitTimings
from rs485kit.errors import MissingDataError, listed
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Node
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.signal import has_traffic
from rs485kit.rules.structure import parts_of

HALF_BIT = 0.5
# a lesser tolerance of a clock is one of a crystal, to which nobody changes for a better one
CRYSTAL = 0.002
_NODE_FIGURES = ("clock_tolerance", "oversampling", "samples", "middle_sample")
_PART_FIGURES = ("driver_skew", "receiver_skew")


def _is_described(bus: Bus) -> bool:
    """Return whether any node states a figure of the time of a bit."""
    return any(
        any(getattr(node, name) is not None for name in _NODE_FIGURES)
        or (node.transceiver is not None and any(getattr(node.transceiver, name) is not None for name in _PART_FIGURES))
        for node in bus.nodes
    )


def talk(bus: Bus, driver: str, receiver: str) -> bool:
    """Return whether one node has to understand another one: where a controller is stated, only it and a device do."""
    controller = None if bus.link is None else bus.link.controller
    return controller is None or controller in (driver, receiver)


def _heard(bus: Bus, timings: BitTimings) -> Iterator[tuple[int, list[int]]]:
    """Give for every driver the receivers that have to understand it and that cable joins to it, by name."""
    part = {name: index for index, names in enumerate(parts_of(bus)) for name in names}
    columns = sorted(range(len(timings.receivers)), key=timings.receivers.__getitem__)
    for row, driver in enumerate(timings.drivers):
        heard = [
            column for column in columns
            if timings.receivers[column] != driver and part[timings.receivers[column]] == part[driver]
            and talk(bus, driver, timings.receivers[column])
        ]  # fmt: skip
        if heard:
            yield row, heard


def _least(values: np.ndarray, row: int, columns: list[int]) -> int | None:
    """Return the column with the least figure that is known, of equal ones the first."""
    known = [column for column in columns if not np.isnan(values[row, column])]
    return min(known, key=lambda column: round(float(values[row, column]), 9)) if known else None


@rule(
    "timing.bit-margin-too-small",
    title="Too little of a bit is left at its last sample",
    basis="physics",
    source="Budget of an asynchronous character: Atmel ATmega640 data sheet 2549A, asynchronous operational range; ST "
    "RM0351, 36.5.5",
    parameters=[parameter("least", 0.0, unit="", meaning="least margin, as a share of a bit")],
)
def bit_margin_too_small(analyses: Analyses, *, least: float) -> Iterable[Finding]:
    """Clocks, skews, barriers and the shifts of edges on the line take more of a bit than there is.

    What it checks
    --------------
    For every driver the receiver with the least margin at the last sampled bit of a character; where the bus states its
    controller, only between it and devices. What counts: clock errors of both ends, samples, skews, pulse distortion
    and jitter of barriers in both directions, and by how much the solved line shifts edges against the start edge, with
    both thresholds of the receiver placed anywhere inside their limits.

    Why it matters
    --------------
    What is over-drawn shows as a character in ten or in a thousand that is read wrong, with some data and at some
    temperatures, on levels that every meter finds sound.

    Limit and source
    ----------------
    0 of a bit, or what a policy sets; the last sample must fall into its own bit. With what is not stated taken as
    nothing, a margin below the limit is a failure; otherwise a figure that is not stated makes the answer unknown. Of a
    bus that states none of clocks, samples and skews only such failures are told. Lines are at nominal figures.

    When to waive
    -------------
    When clocks are trimmed to the sender's, as some controllers do with the first edges of a frame.
    """
    if not has_traffic(analyses.bus):
        return
    bus, timings = analyses.bus, analysis.bit_timing(analyses)
    sending = {node for node, field in timings.unstated if "receiv" not in field and field != "oversampling"}
    listening = {node for node, field in timings.unstated if "driver" not in field and '"transmit"' not in field}
    blank = False
    for row, heard in _heard(bus, timings):
        short = _least(timings.stated_margin, row, heard)
        if short is not None and timings.stated_margin[row, short] < least:
            yield _margin(bus, timings.between(timings.drivers[row], timings.receivers[short]), least, stated=True)
            continue
        complete = [column for column in heard if timings.receivers[column] not in listening]
        if timings.drivers[row] in sending:
            complete = []
        blank = blank or len(complete) < len(heard) or bool(np.isnan(timings.margin[row, heard]).any())
        worst = _least(timings.margin, row, complete)
        if worst is not None:
            yield _margin(bus, timings.between(timings.drivers[row], timings.receivers[worst]), least, stated=False)
    if blank and _is_described(bus):
        missing = tuple(sorted({f"{node}: {field}" for node, field in (*timings.unstated, *timings.missing)}))
        text = f"what is left of a bit cannot be told of every path for want of {listed(missing, 3)}"
        yield unknown(Place.bus(), text, missing=missing)


def _margin(bus: Bus, path: BitTiming, least: float, *, stated: bool) -> Finding:
    margin = path.stated_margin if stated else path.margin
    taken = listed(tuple(f"{name} {share(value)}" for name, value in path.consumers[:4]), 4)
    side = "slower" if path.slow_margin <= path.fast_margin else "faster"
    tolerance = path.slow_tolerance if side == "slower" else path.fast_tolerance
    text = (
        f"{share(margin)} of a bit is left at the last sample where the sender's clock is the {side} one, which may be "
        f"so by {100 * tolerance:.2f} %; of the 50 % of a bit go to: {taken}; lines at nominal figures"
    )
    if stated and path.stated_margin > path.margin:
        text += "; what is not stated counts as nothing in the margin"
    return at_least(
        Place.path(path.driver, path.receiver), "margin of a bit", measured=margin, limit=least, unit="",
        scale=HALF_BIT, message=text, remedy=_remedy(bus, path),
    )  # fmt: skip


def _remedy(bus: Bus, path: BitTiming) -> str:
    """Return what to do about the largest consumer that somebody can change."""
    largest = next((name for name, _ in path.consumers if name != "sampling"), "")
    if largest == "clocks":
        ends = [bus.node(name) for name in (path.driver, path.receiver)]
        worst = max(ends, key=lambda node: (node.clock_tolerance or 0.0, node.name))
        if worst.clock_tolerance is not None and worst.clock_tolerance > CRYSTAL:
            return (
                f"time {worst.name} by a crystal instead of an oscillator of {100 * worst.clock_tolerance:g} %, or "
                "trim it; a lower data rate does not help against clocks"
            )
        return "use clocks with less error, or a divider that meets the data rate; a lower rate does not help by itself"
    if "barrier" in largest:
        return "use a barrier with less pulse distortion in both directions, or lower the data rate"
    if "skew" in largest:
        return "use transceivers with less skew, or lower the data rate"
    return "lower the data rate, use faster edges, terminate both ends, or use receivers with narrower thresholds"


@rule(
    "timing.rate-above-rating",
    title="A part is used beyond the data rate that it is rated for",
    basis="physics",
    source="data sheet of the part",
    reserve=0.0,
)
def rate_above_rating(analyses: Analyses) -> Iterable[Finding]:
    """The bus runs faster than a transceiver is rated for.

    What it checks
    --------------
    The data rate of the bus against the rating of every transceiver that drives or listens.

    Why it matters
    --------------
    A part with slow edges is made slow: beyond its rating its edges fill the bit, and its delays and skews, which the
    data sheet states for the rated rate, are nobody's promise.

    Limit and source
    ----------------
    The part's own rating, from its data sheet. Parts that state none make the answer unknown.

    When to waive
    -------------
    When its maker has confirmed the rate for this load.
    """
    bus = analyses.bus
    rate = None if bus.link is None else bus.link.data_rate
    silent = []
    for node in bus.nodes:
        part = node.transceiver
        if part is None or not (node.drives or node.receives):
            continue
        if part.max_data_rate is None:
            silent.append(node.name)
            continue
        if rate is None:
            raise MissingDataError("whether parts are rated for the data rate", ("link.data_rate",))
        yield at_most(
            Place.node(node.name), "data rate", measured=rate, limit=part.max_data_rate, unit="bit/s",
            message=f"the bus runs at {figure(rate, 'bit/s')}; the part is rated for "
            f"{figure(part.max_data_rate, 'bit/s')}",
            remedy="lower the data rate, or fit a transceiver that is rated for it",
        )  # fmt: skip
    if silent and rate is not None:
        missing = tuple(f"{name}: transceiver.max_data_rate" for name in sorted(silent))
        text = f"whether every part is rated for the data rate cannot be told for want of {listed(missing, 3)}"
        yield unknown(Place.bus(), text, missing=missing)


@rule("timing.echo-too-late", title="A node hears itself too late to compare bit by bit", basis="physics")
def echo_too_late(analyses: Analyses) -> Iterable[Finding]:
    """What a node sends comes back to it after it has begun to sample the same bit.

    What it checks
    --------------
    For every node that hears itself, or that states the delays of its transceiver and not whether it does: the delay
    through its barrier, driver, line, receiver and barrier, at the latest, against the first sample of a bit.

    Why it matters
    --------------
    A program that compares each bit as it sends it takes a late echo for a collision. One that compares characters has
    to wait for them: the echo of the last one is logged after the driver could have been let go, and is lost if the
    receiver is turned off with it. Neither sees what another node reads at the far end.

    Limit and source
    ----------------
    0 of a bit between latest echo and first sample; it follows from sampling. A miss is marginal, since who compares
    characters has time.

    When to waive
    -------------
    When the program compares characters, or does not compare.
    """
    bus = analyses.bus
    asked = [node.name for node in bus.nodes if node.drives and node.listens and _is_asked(node)]
    if not asked:
        return
    loops = analysis.loop_back(analyses)
    lacking: list[str] = []
    for name in asked:
        if name not in loops.nodes:
            continue
        row = loops.at(name)
        if np.isnan(row.margin):
            lacking += [f"{node}: {field}" for node, field in loops.missing if node == name]
            continue
        yield at_least(
            Place.node(name), "first sample less echo", measured=row.margin, limit=0.0, unit="", scale=HALF_BIT,
            advisory=True,
            message=f"it hears a bit {figure(row.latest, 's')} after sending it at the latest, {share(row.share)} of a "
            f"bit; a whole character is logged {figure(row.echo, 's')} after its beginning",
            remedy="compare characters instead of bits and keep the receiver on until the last one is logged, or use "
            "faster barriers",
        )  # fmt: skip
    if lacking:
        missing = tuple(sorted(set(lacking)))
        yield unknown(Place.bus(), f"echoes cannot be told for want of {listed(missing, 3)}", missing=missing)


def _is_asked(node: Node) -> bool:
    """Return whether a node hears itself or, that not being stated, states the delays of its transceiver."""
    part = node.transceiver
    if node.hears_itself is not None or part is None:
        return bool(node.hears_itself)
    return part.driver_delay is not None and part.receiver_delay is not None


RULES: tuple[Rule, ...] = (bit_margin_too_small, echo_too_late, rate_above_rating)
