"""Rules on signals in time: eyes, loss, overshoot, settling."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from rs485kit import analysis
from rs485kit.analysis import WorstEyes
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.model import Node
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.structure import lone_places, parts_of

THRESHOLD_SCALE = 0.2
LOWEST_LINE, HIGHEST_LINE = -7.0, 12.0
USUAL_OFFSET = 1.0
NOMINAL_ONLY = "nominal figures; the adverse corner is rs485kit.analysis.worst_eyes(bus, corner='adverse')"


def has_traffic(analyses: Analyses) -> bool:
    """Return whether some node drives and another one can hear it by cable."""
    bus = analyses.bus
    drivers = {node.name for node in bus.nodes if node.transceiver is not None and node.drives and node.powered}
    heard = {node.name for node in bus.nodes if node.listens} - lone_places(bus)
    return any(name != other for name in drivers - lone_places(bus) for other in heard)


class _Seen(NamedTuple):
    """One driver's row of a table, as far as cable joins it to receivers."""

    driver: str
    row: int
    heard: np.ndarray


def _rows(analyses: Analyses, eyes: WorstEyes) -> Iterator[_Seen]:
    part = {name: index for index, names in enumerate(parts_of(analyses.bus)) for name in names}
    lone = lone_places(analyses.bus)
    for row, driver in enumerate(eyes.drivers):
        heard = np.array([part[name] == part[driver] for name in eyes.receivers])
        if driver not in lone and heard.any():
            yield _Seen(driver, row, heard)


def _lacking(eyes: WorstEyes, *names: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"{node}: {field}" for node, field in eyes.missing if node in names))


def _unknown_rows(analyses: Analyses, eyes: WorstEyes, what: str) -> Iterator[Finding]:
    """Give an unknown for every node that does not state what its eyes need."""
    for name in dict.fromkeys(node for node, _ in eyes.missing):
        missing = _lacking(eyes, name)
        text = f"{what} from or at {name} cannot be told for want of {listed(missing, 3)}"
        yield unknown(Place.node(name), text, missing=missing)


def _worst(values: np.ndarray, seen: _Seen) -> int | None:
    """Return the receiver with the least value of one driver, or None where none is known."""
    known = np.where(seen.heard & ~np.isnan(values), values, np.inf)
    index = int(known.argmin())
    return index if np.isfinite(known[index]) else None


@rule(
    "signal.eye-too-low",
    title="An eye is not open far enough beyond the receiver's thresholds",
    basis="standard",
    source="EIA-485 receiver limits of +-200 mV, or the part's own threshold; B&B Electronics, RS-422/485 Application "
    "Note, appendix A",
    parameters=[parameter("least", "0 V", unit="V", meaning="least height beyond the thresholds")],
)
def eye_too_low(analyses: Analyses, *, least: float) -> Iterable[Finding]:
    """Some bit sequence brings a mark or a space too near to a threshold, or beyond it, at every sampling time.

    What it checks
    --------------
    For every driver the receiver with the lowest eye: how far the lowest mark lies above its upper threshold and the
    highest space below its lower one, over every bit sequence, at the best time. The lines are solved with loss, stubs,
    node capacitances, terminators and the driver's edge, all at nominal figures.

    Why it matters
    --------------
    What earlier bits have left on the line adds to the bit that is read. An eye that is closed is read wrong for some
    data and right for other, which looks like a fault of the program.

    Limit and source
    ----------------
    0 V beyond the receiver's thresholds, or what a policy sets; the standard's are +-200 mV: EIA-485, as printed in
    B&B Electronics, RS-422/485 Application Note, appendix A. There is no proved bound: tolerances are looked at with
    `worst_eyes(bus, corner="adverse")`.

    When to waive
    -------------
    When the protocol cannot send the sequence that `rs485kit.analysis.worst_sequence` names.
    """
    if not has_traffic(analyses):
        return
    eyes = analysis.worst_eyes(analyses)
    yield from _unknown_rows(analyses, eyes, "eyes")
    for seen in _rows(analyses, eyes):
        receiver = _worst(eyes.height[seen.row], seen)
        if receiver is None:
            continue
        at = (seen.row, receiver)
        phase = figure(float(eyes.phase[at]), "s")
        yield at_least(
            Place.path(seen.driver, eyes.receivers[receiver]),
            "height of the worst-case eye",
            measured=float(eyes.height[at]),
            limit=least,
            unit="V",
            scale=THRESHOLD_SCALE,
            message=(
                f"over every bit sequence the lowest mark is {figure(float(eyes.mark_margin[at]), 'V')} above its "
                f"threshold and the highest space {figure(float(eyes.space_margin[at]), 'V')} below its own, {phase} "
                f"after a bit begins at the driver; {NOMINAL_ONLY}"
            ),
            remedy="lower the data rate, shorten stubs, terminate both ends, or use thicker cable; worst_sequence in "
            "rs485kit.analysis names the bits",
        )


@rule(
    "signal.eye-too-narrow",
    title="An eye is open for too small a part of a bit",
    basis="house",
    parameters=[parameter("least", 0.5, unit="", meaning="least width, as a share of a bit")],
)
def eye_too_narrow(analyses: Analyses, *, least: float) -> Iterable[Finding]:
    """The time within a bit at which every bit sequence is read right is too short.

    What it checks
    --------------
    For every driver the receiver with the narrowest eye: the share of a bit round the best time in which the worst mark
    and the worst space are both beyond the thresholds, at nominal figures.

    Why it matters
    --------------
    A receiver samples once, some time after an edge that may itself come late, by a clock that is not the sender's.

    Limit and source
    ----------------
    Half a bit, or what a policy sets. It is a figure of this library and stands in no standard: what is left over
    serves clocks, barriers and the sampling of the character.

    When to waive
    -------------
    When a budget of the bit, with clocks and delays of both devices, has been made and holds.
    """
    if not has_traffic(analyses):
        return
    eyes = analysis.worst_eyes(analyses)
    yield from _unknown_rows(analyses, eyes, "the width of eyes")
    for seen in _rows(analyses, eyes):
        receiver = _worst(eyes.width[seen.row], seen)
        if receiver is None:
            continue
        width = float(eyes.width[seen.row, receiver])
        yield at_least(
            Place.path(seen.driver, eyes.receivers[receiver]),
            "width of the worst-case eye",
            measured=width,
            limit=least,
            unit="",
            message=f"the eye is open for {share(width)} of a bit over every bit sequence; {NOMINAL_ONLY}",
            remedy="lower the data rate, use faster edges if they are slow, shorten stubs and terminate if they ring",
        )


@rule(
    "signal.loss-too-high",
    title="The cable takes too much of the signal at half the data rate",
    basis="standard",
    source="TIA-422-B, annex: at most 66 % of the voltage lost, as quoted in a public question-and-answer thread",
    parameters=[parameter("most", 9.37, unit="", meaning="largest loss at half the data rate, in dB")],
    reserve=0.0,
)
def loss_too_high(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """A pattern of alternating bits loses too much on the way to the farthest receiver.

    What it checks
    --------------
    The loss from each driver's terminals to each receiver's at half the data rate, which is the fundamental of
    alternating bits; only the largest is told.

    Why it matters
    --------------
    It is the figure behind the curves of length against data rate. It says nothing of reflections; the eye does.

    Limit and source
    ----------------
    66 % of the voltage, 9.37 dB: TIA-422-B, as quoted; its own curve adds that an edge may take half a bit. The
    document was not seen. Exceeding it is marginal: the solved eye decides.

    When to waive
    -------------
    When the eye keeps its reserve.
    """
    if not has_traffic(analyses):
        return
    eyes = analysis.worst_eyes(analyses)
    yield from _unknown_rows(analyses, eyes, "the loss")
    loss = np.where(np.isnan(eyes.loss), -np.inf, eyes.loss)
    if not loss.size or not np.isfinite(loss.max()):
        return
    driver, receiver = np.unravel_index(int(loss.argmax()), loss.shape)
    worst = float(loss[driver, receiver])
    yield at_most(
        Place.path(eyes.drivers[int(driver)], eyes.receivers[int(receiver)]),
        "loss at half the data rate",
        measured=worst,
        limit=most,
        unit="dB",
        advisory=True,
        message=f"alternating bits lose {worst:.3g} dB ({share(1 - 10 ** (-worst / 20))} of the voltage) on the way",
        remedy="use thicker cable or a lower data rate, unless the eye keeps its reserve",
    )


@rule(
    "signal.overshoot-too-high",
    title="Ringing takes a line beyond what a bus pin withstands",
    basis="standard",
    source="EIA-485 common-mode range of -7 V to +12 V, or the part's absolute ratings; B&B Electronics, RS-422/485 "
    "Application Note, appendix A",
)
def overshoot_too_high(analyses: Analyses) -> Iterable[Finding]:
    """The ringing of an edge takes one of the lines beyond the ratings of a receiver's pins.

    What it checks
    --------------
    For every node that listens the highest and the lowest voltage of either line, from every driver: the driver's
    offset voltage plus and minus half of the level and its overshoot. Where the offset is not stated, 1 V, the middle
    of what the standard allows.

    Why it matters
    --------------
    An unterminated end doubles an edge. Beyond its ratings a part is not guaranteed to survive, and clamps conduct.

    Limit and source
    ----------------
    The part's absolute ratings of a pin or, where they are not stated, -7 V and +12 V, within which every part that
    meets the standard works: EIA-485, as printed in B&B Electronics, RS-422/485 Application Note, appendix A. Ground
    differences come on top and are not in this figure.

    When to waive
    -------------
    When protectors at that node clamp below the ratings.
    """
    if not has_traffic(analyses):
        return
    eyes = analysis.worst_eyes(analyses)
    yield from _unknown_rows(analyses, eyes, "overshoot")
    bus = analyses.bus
    offset = np.array([_offset(bus.node(name)) for name in eyes.drivers])[:, None]
    reach = (np.maximum(np.abs(eyes.mark), np.abs(eyes.space)) + eyes.overshoot) / 2.0
    lone = lone_places(bus)
    for column, name in enumerate(eyes.receivers):
        if name in lone or np.isnan(reach[:, column]).all():
            continue
        part = bus.node(name).transceiver
        assert part is not None
        yield _beyond(name, float(np.nanmax((offset + reach)[:, column])), part.line_voltage_highest, highest=True)
        yield _beyond(name, float(np.nanmin((offset - reach)[:, column])), part.line_voltage_lowest, highest=False)


def _offset(node: Node) -> float:
    part = node.transceiver
    figure_of = None if part is None else part.driver_offset_voltage
    return USUAL_OFFSET if figure_of is None or figure_of.nominal is None else figure_of.nominal


def _beyond(name: str, volts: float, rating: float | None, *, highest: bool) -> Finding:
    standard = HIGHEST_LINE if highest else LOWEST_LINE
    limit, whose = (standard, "the standard's range") if rating is None else (rating, "its absolute rating")
    judge, word = (at_most, "up") if highest else (at_least, "down")
    return judge(
        Place.node(name),
        f"{'highest' if highest else 'lowest'} voltage of a line",
        measured=volts,
        limit=limit,
        unit="V",
        message=f"a line goes {word} to {figure(volts, 'V')} with overshoot; {whose} ends at {figure(limit, 'V')}",
        remedy="terminate the end that sends the edge back, use slower edges, or clamp the lines",
    )


RULES: tuple[Rule, ...] = (eye_too_low, eye_too_narrow, loss_too_high, overshoot_too_high)
