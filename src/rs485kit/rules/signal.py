"""Rules on signals in time: eyes, loss, overshoot. All share one solve of the worst-case eyes, at nominal figures."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple, TypeAlias

import attrs
import numpy as np
from numpy.typing import NDArray

from rs485kit import analysis
from rs485kit.analysis import WorstEyes
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Node
from rs485kit.network.signals import drives
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.structure import parts_of

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Path: TypeAlias = tuple[int, int]

THRESHOLD_SCALE = 0.2
LOWEST_LINE, HIGHEST_LINE = -7.0, 12.0
USUAL_OFFSET = 1.0
LINE_SCALE = 7.0
# figures nearer to one another are equal, and the name decides which place is told
EQUAL = 1e-9
LEFT_TO_BIAS = (
    "a driver that leaves mark to the bias is not looked at in time: state the other figures, judge it by its idle "
    "level, and waive this for it"
)


class Seen(NamedTuple):
    """The worst-case eyes of a bus, and which of its drivers and receivers cable joins, shape (drivers, receivers)."""

    eyes: WorstEyes
    joined: Flags

    def values(self, figures: Floats) -> Floats:
        """Return figures of the paths that cable joins; NaN of others."""
        return np.where(self.joined, figures, np.nan)

    def lacking(self, *, thresholds: bool) -> dict[str, tuple[str, ...]]:
        """Return what drivers, and receivers if their thresholds matter, do not state, by node."""
        names = {self.eyes.drivers[row] for row in np.flatnonzero(self.joined.any(axis=1))}
        names |= {self.eyes.receivers[column] for column in np.flatnonzero(self.joined.any(axis=0))}
        result: dict[str, tuple[str, ...]] = {}
        for name, field in self.eyes.missing:
            if name in names and (thresholds or not field.startswith("transceiver.receiver_")):
                result[name] = (*result.get(name, ()), field)
        return result

    def least_by_driver(self, figures: Floats) -> Iterator[Path]:
        """Give for every driver the receiver with the least figure, of equal ones the first by name."""
        rank = _rank(self.eyes.receivers)
        for row, values in enumerate(self.values(figures)):
            known = np.flatnonzero(~np.isnan(values))
            if len(known):
                alike = known[_near(values[known], values[known].min())]
                yield row, int(alike[rank[alike].argmin()])

    def largest(self, figures: Floats) -> Path | None:
        """Return the path with the largest figure, of equal ones the first by name; None where none is known."""
        values = self.values(figures)
        rows, columns = np.nonzero(~np.isnan(values))
        if not len(rows):
            return None
        some = values[rows, columns]
        alike = _near(some, some.max())
        rows, columns = rows[alike], columns[alike]
        first = np.lexsort((_rank(self.eyes.receivers)[columns], _rank(self.eyes.drivers)[rows]))[0]
        return int(rows[first]), int(columns[first])

    def place(self, path: Path) -> Place:
        """Return the place of a path."""
        return Place.path(self.eyes.drivers[path[0]], self.eyes.receivers[path[1]])

    def named(self, path: Path) -> str:
        """Return a path in words."""
        return f"{self.eyes.drivers[path[0]]} at {self.eyes.receivers[path[1]]}"


def _near(values: Floats, extreme: float) -> Flags:
    return np.asarray(np.abs(values - extreme) <= EQUAL * np.abs(values).max())


def _rank(names: tuple[str, ...]) -> NDArray[np.intp]:
    order = sorted(range(len(names)), key=names.__getitem__)
    rank = np.empty(len(names), dtype=np.intp)
    rank[order] = np.arange(len(names))
    return rank


def seen_by(analyses: Analyses) -> Seen | None:
    """Return the eyes of a bus, or None where no driver is joined by cable to another node that listens."""
    joined = _joined(analyses.bus)
    return None if joined is None else Seen(analysis.worst_eyes(analyses), joined)


def has_traffic(bus: Bus) -> bool:
    """Return whether some node drives and another one can hear it by cable."""
    return _joined(bus) is not None


def _joined(bus: Bus) -> Flags | None:
    part = {name: index for index, names in enumerate(parts_of(bus)) for name in names}
    driving = [node.name for node in bus.nodes if drives(node)]
    listening = [node.name for node in bus.nodes if node.listens]
    rows, columns = (np.array([part[name] for name in names], dtype=np.intp) for names in (driving, listening))
    # of two nodes in one part another one hears the first; a node alone hears only itself
    sizes = np.bincount([part[name] for name in {*driving, *listening}], minlength=len(part))
    joined = (rows[:, None] == columns) & (sizes[rows] > 1)[:, None]
    return joined if joined.any() else None


def not_told(what: str, lacking: dict[str, tuple[str, ...]]) -> Finding:
    """Return the one unknown of a rule for which some nodes do not state enough."""
    missing = tuple(f"{name}: {field}" for name, fields in lacking.items() for field in fields)
    text = f"{what} cannot be told for want of {listed(missing, 3)}"
    return unknown(Place.bus(), text, missing=missing, remedy=_remedy(lacking))


def _remedy(lacking: dict[str, tuple[str, ...]]) -> str:
    left = any("mark_driven" in field for fields in lacking.values() for field in fields)
    return LEFT_TO_BIAS if left else ""


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
    node capacitances, terminators and the driver's edge, all at nominal figures. Every node whose figures are missing
    is named here; the other rules on signals name them in one line each.

    Why it matters
    --------------
    What earlier bits have left on the line adds to the bit that is read. An eye that is closed is read wrong for some
    data and right for other, which looks like a fault of the program.

    Limit and source
    ----------------
    0 V beyond the receiver's thresholds, or what a policy sets; the standard's are +-200 mV: EIA-485, as printed in
    B&B Electronics, RS-422/485 Application Note, appendix A. Nominal figures decide. There is no proved bound:
    tolerances are looked at with `worst_eyes(bus, corner="adverse")`, which is to be asked for.

    When to waive
    -------------
    When the protocol cannot send the sequence that `rs485kit.analysis.worst_sequence` names.
    """
    seen = seen_by(analyses)
    if seen is None:
        return
    lacking = seen.lacking(thresholds=True)
    if lacking and np.isnan(seen.values(seen.eyes.height)).all():
        yield not_told("eyes", lacking)
        return
    for name, fields in lacking.items():
        text = f"eyes from or at {name} cannot be told for want of {listed(fields, 3)}"
        yield unknown(Place.node(name), text, missing=fields, remedy=_remedy({name: fields}))
    for path in seen.least_by_driver(seen.eyes.height):
        yield _height(analyses.bus, seen, path, least)


def _height(bus: Bus, seen: Seen, path: Path, least: float) -> Finding:
    eyes, part = seen.eyes, bus.node(seen.eyes.receivers[path[1]]).transceiver
    assert part is not None and part.receiver_upper_threshold is not None and part.receiver_lower_threshold is not None
    upper, lower = part.receiver_upper_threshold.max, part.receiver_lower_threshold.min
    assert upper is not None and lower is not None
    mark, space = upper + float(eyes.mark_margin[path]), lower - float(eyes.space_margin[path])
    remedy = "lower the data rate, shorten stubs, terminate both ends, or use thicker cable"
    if eyes.mark[path] < eyes.space[path]:
        remedy = "the signal arrives the wrong way round: check the polarity of the lines at both nodes before all else"
    return at_least(
        seen.place(path),
        "height of the worst-case eye",
        measured=float(eyes.height[path]),
        limit=least,
        unit="V",
        scale=THRESHOLD_SCALE,
        message=(
            f"over every bit sequence of {seen.named(path)} the lowest mark is {figure(mark, 'V')}, read above "
            f"{figure(upper, 'V')}, and the highest space {figure(space, 'V')}, read below {figure(lower, 'V')}, "
            f"{figure(float(eyes.phase[path]), 's')} after a bit begins at the driver, all nominally; "
            "rs485kit.analysis.worst_sequence shows the bits"
        ),
        remedy=remedy,
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
    seen = seen_by(analyses)
    if seen is None:
        return
    if lacking := seen.lacking(thresholds=True):
        yield not_told("the width of every eye", lacking)
    for path in seen.least_by_driver(seen.eyes.width):
        width = float(seen.eyes.width[path])
        state = "closed" if width == 0.0 else f"open for {share(width)} of a bit"
        time = "" if width == 0.0 else f" ({figure(width * seen.eyes.interval, 's')})"
        yield at_least(
            seen.place(path),
            "width of the worst-case eye",
            measured=width,
            limit=least,
            unit="",
            scale=1.0,
            message=f"over every bit sequence the eye of {seen.named(path)} is {state}{time}, nominally",
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
    alternating bits. It is a property of the cable, so that only the path with the largest is told.

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
    seen = seen_by(analyses)
    if seen is None:
        return
    if lacking := seen.lacking(thresholds=False):
        yield not_told("the loss of every path", lacking)
    path = seen.largest(seen.eyes.loss)
    if path is None:
        return
    worst = float(seen.eyes.loss[path])
    rate = figure(0.5 / seen.eyes.interval, "Hz")
    lost = f"lose {worst:.3g} dB, {share(1 - 10 ** (-worst / 20))} of the voltage, on the way"
    yield at_most(
        seen.place(path),
        "loss at half the data rate",
        measured=worst,
        limit=most,
        unit="dB",
        scale=1.0,
        advisory=True,
        message=f"alternating bits of {seen.named(path)}, {rate}, {lost}",
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
    """The ringing of an edge takes one of the lines beyond the ratings of a transceiver's pins.

    What it checks
    --------------
    For every transceiver, the driving one included, the highest and the lowest voltage of either line, from every
    driver: the driver's offset voltage plus and minus half of the level and its overshoot. Where the offset is not
    stated, 1 V, the middle of the -1 V to +3 V that the standard allows. Difference mode only, of a single edge: the
    two lines are taken to move by equal halves.

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
    bus = analyses.bus
    deaf = {node.name for node in bus.nodes if node.transceiver is not None and not node.receives}
    seen = seen_by(analyses)
    if seen is None:
        return
    if deaf:
        # pins of a part that never listens are stressed too; listening changes nothing on the line
        nodes = [attrs.evolve(node, receives=True) if node.name in deaf else node for node in bus.nodes]
        seen = seen_by(Analyses(attrs.evolve(bus, nodes=nodes)))
        assert seen is not None
    if lacking := seen.lacking(thresholds=False):
        yield not_told("the overshoot of every edge", lacking)
    eyes = seen.eyes
    offset = np.array([_offset(bus.node(name)) for name in eyes.drivers])
    told = np.where(np.isnan(offset), USUAL_OFFSET, offset)[:, None]
    reach = seen.values((np.maximum(np.abs(eyes.mark), np.abs(eyes.space)) + eyes.overshoot) / 2.0)
    for column in np.flatnonzero(~np.isnan(reach).all(axis=0)).tolist():
        part = bus.node(eyes.receivers[column]).transceiver
        assert part is not None
        for sign, rating in ((1.0, part.line_voltage_highest), (-1.0, part.line_voltage_lowest)):
            volts = (sign * told + reach)[:, column]
            row = int(np.nanargmax(volts))
            taken = " taken" if np.isnan(offset[row]) else ""
            cause = f"with overshoot of {eyes.drivers[row]}, {figure(float(told[row, 0]), 'V')} of offset{taken}"
            yield _beyond(eyes.receivers[column], sign * float(volts[row]), rating, cause, highest=sign > 0)


def _offset(node: Node) -> float:
    part = node.transceiver
    stated = None if part is None else part.driver_offset_voltage
    return np.nan if stated is None or stated.nominal is None else stated.nominal


def _beyond(name: str, volts: float, rating: float | None, cause: str, *, highest: bool) -> Finding:
    standard = HIGHEST_LINE if highest else LOWEST_LINE
    limit, whose = (standard, "the standard's range") if rating is None else (rating, "its absolute rating")
    judge, word = (at_most, "up") if highest else (at_least, "down")
    return judge(
        Place.node(name),
        f"{'highest' if highest else 'lowest'} voltage of a line",
        measured=volts,
        limit=limit,
        unit="V",
        scale=LINE_SCALE,
        message=f"a line goes {word} to {figure(volts, 'V')} {cause}; {whose} ends at {figure(limit, 'V')}",
        remedy="terminate the end that sends the edge back, use slower edges, or clamp the lines",
    )


RULES: tuple[Rule, ...] = (eye_too_low, eye_too_narrow, loss_too_high, overshoot_too_high)
