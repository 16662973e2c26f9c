"""The budget of a bit: what clocks, samples, skews and barriers take of it, before and after the line."""

import math
from typing import NamedTuple

import numpy as np

from rs485kit.analysis.results import Array
from rs485kit.errors import listed
from rs485kit.model import Bus, Node
from rs485kit.solvers.crossings import Placed

USUAL_CLOCK_TOLERANCE = 0.01
"""What a node that states no clock tolerance is taken to keep: a sender's limit in the Modbus serial line guide [-]."""
USUAL_OVERSAMPLING = 16
"""Clocks in a bit of a receiver that states none [-]."""
ALLOWANCE = 0.1
"""What a skew that is not stated is taken to be, as a share of the shortest bit that a part is rated for [-]."""
_CLOCK = "a clock tolerance that is not stated is taken as 1 %, the limit of a sender in MODBUS over Serial Line V1.02"
_SAMPLES = "samples of a bit that are not stated are taken as three of 16 clocks round its middle, which all must agree"
_SKEW = (
    "a skew that is not stated is taken as a tenth of the shortest bit that the transceiver is rated for, or of this "
    "bus where it states no rating or where a barrier states no channels"
)


class Ends(NamedTuple):
    """What one end of every path takes of a bit, by node; a figure that is not stated is as it is assumed.

    `skew` is that of the transceiver, `distortion` and `jitter` those of the barrier [s]; `clock` is the error of the
    clock [-]. `stated_*` are the same with nothing where nothing is stated.
    """

    skew: Array
    distortion: Array
    jitter: Array
    clock: Array
    stated_skew: Array
    stated_distortion: Array
    stated_clock: Array


class Sampling(NamedTuple):
    """When a bit is first and last sampled, as a share of it after its beginning as the start edge says, by receiver.

    The start edge is seen by the next clock, so that each sample comes up to one clock late.
    """

    early: Array
    late: Array


class Frame(NamedTuple):
    """A character on the line: sampled bits from the start bit to the first stop bit, and stop bits."""

    bits: int
    stops: int


class Margins(NamedTuple):
    """Margins and tolerances of paths, shape (drivers, receivers).

    `slow` is left where the sender is slower than the receiver, so that bits come late, `fast` where it is faster [-].
    The tolerances are the shares by which it may be, everything else counted. `slow_need` and `fast_need` are what the
    line took on either side [s].
    """

    slow: Array
    fast: Array
    slow_tolerance: Array
    fast_tolerance: Array
    slow_need: Array
    fast_need: Array


def frame_of(bus: Bus) -> Frame:
    """Return the character of a bus; `Link` has 8N1 where nothing is said.

    Parameters
    ----------
    bus : Bus
        A bus with a link [-].

    Returns
    -------
    Frame
        The character [-].
    """
    assert bus.link is not None
    frame = bus.link.frame
    return Frame(1 + int(frame[0]) + (frame[1] != "N") + 1, int(frame[2]))


def ends_of(nodes: list[Node], interval: float, *, sending: bool, notes: dict[str, None]) -> Ends:
    """Return what one end of every path takes of a bit.

    Parameters
    ----------
    nodes : list of Node
        The nodes that drive, or those that listen [-].
    interval : float
        Unit interval [s].
    sending : bool
        Whether it is the driver's end [-].
    notes : dict
        Takes what was assumed [-].

    Returns
    -------
    Ends
        By node [s, -].
    """
    rows = []
    for node in nodes:
        part = node.transceiver
        assert part is not None
        shortest = interval if part.max_data_rate is None else 1.0 / part.max_data_rate
        skew = part.driver_skew if sending else part.receiver_skew
        distortion, jitter = _through_barrier(node, "transmit" if sending else "receive")
        if skew is None or distortion is None:
            notes[_SKEW] = None
        if node.clock_tolerance is None:
            notes[_CLOCK] = None
        rows.append((
            ALLOWANCE * shortest if skew is None else skew,
            ALLOWANCE * interval if distortion is None else distortion,
            jitter,
            USUAL_CLOCK_TOLERANCE if node.clock_tolerance is None else node.clock_tolerance,
            skew or 0.0, distortion or 0.0, node.clock_tolerance or 0.0,
        ))  # fmt: skip
    return Ends(*np.array(rows, dtype=np.float64).reshape(-1, len(Ends._fields)).T)


def _through_barrier(node: Node, purpose: str) -> tuple[float | None, float]:
    """Return distortion, None where it is not stated, and jitter of a node's barrier in one direction."""
    if node.barrier is None:
        return 0.0, 0.0
    channels = () if node.barrier.isolator is None else node.barrier.isolator.channels
    stated = [each.pulse_distortion for each in channels if each.purpose == purpose]
    jitter = max((each.jitter or 0.0 for each in channels if each.purpose == purpose), default=0.0)
    if not stated or None in stated:
        return None, jitter
    return max(each for each in stated if each is not None), jitter


def lacking(node: Node, *, sending: bool) -> tuple[str, ...]:
    """Return the figures of one end that its node does not state.

    Parameters
    ----------
    node : Node
        The node [-].
    sending : bool
        Whether it is the driver's end [-].

    Returns
    -------
    tuple of str
        Names of fields [-].
    """
    part = node.transceiver
    assert part is not None
    purpose = "transmit" if sending else "receive"
    names = {
        "clock_tolerance": node.clock_tolerance,
        "transceiver.driver_skew" if sending else "transceiver.receiver_skew":
            part.driver_skew if sending else part.receiver_skew,
        f'barrier.isolator.channels (pulse_distortion, "{purpose}")': _through_barrier(node, purpose)[0],
    }  # fmt: skip
    if not sending:
        names["oversampling"] = node.oversampling
    return tuple(name for name, value in names.items() if value is None)


def sampling_of(nodes: list[Node], notes: dict[str, None]) -> Sampling:
    """Return when receivers sample a bit.

    Parameters
    ----------
    nodes : list of Node
        The nodes that listen [-].
    notes : dict
        Takes what was assumed [-].

    Returns
    -------
    Sampling
        By receiver [-].

    Notes
    -----
    Clock k of a bit, the first being the one that finds the start bit, comes between k - 1 and k clocks after the edge.
    One sample in the middle of N clocks is at clock N / 2 or the next, and where neither is stated both are reckoned
    with; three samples are at the clock beyond the middle and at its neighbours. All three are held to the bit, as the
    published tables of receivers do, although two decide.
    """
    early, late = [], []
    for node in nodes:
        if node.oversampling is None or node.samples is None:
            notes[_SAMPLES] = None
        clocks = USUAL_OVERSAMPLING if node.oversampling is None else node.oversampling
        middle = node.middle_sample
        beside = 0 if node.samples == 1 else 1
        first = last = clocks // 2 + 1 if middle is None else middle
        if middle is None and beside == 0:
            first = clocks // 2
        early.append(max(first - beside - 1, 0) / clocks)
        late.append((last + beside) / clocks)
    return Sampling(np.array(early), np.array(late))


def placed_of(nodes: list[Node], missing: list[tuple[str, str]]) -> Placed:
    """Return where the thresholds of receivers may lie.

    Parameters
    ----------
    nodes : list of Node
        The nodes that listen [-].
    missing : list
        Takes rows and fields that are not stated [-].

    Returns
    -------
    Placed
        By receiver; NaN where not stated [V].

    Notes
    -----
    Each threshold lies anywhere inside its own limits; where a part states only the outer ones, inside both.
    """
    rows = []
    for node in nodes:
        part = node.transceiver
        assert part is not None
        upper, lower = part.receiver_upper_threshold, part.receiver_lower_threshold
        highest = math.nan if upper is None or upper.max is None else upper.max
        lowest = math.nan if lower is None or lower.min is None else lower.min
        if math.isnan(highest):
            missing.append((node.name, "transceiver.receiver_upper_threshold (its max)"))
        if math.isnan(lowest):
            missing.append((node.name, "transceiver.receiver_lower_threshold (its min)"))
        hysteresis = part.receiver_hysteresis
        rows.append((
            lowest if upper is None or upper.min is None else upper.min,
            highest,
            lowest,
            highest if lower is None or lower.max is None else min(lower.max, highest),
            0.0 if hysteresis is None or hysteresis.min is None else hysteresis.min,
        ))  # fmt: skip
    return Placed(*np.array(rows, dtype=np.float64).reshape(-1, len(Placed._fields)).T)


def margins_of(
    frame: Frame, sampling: Sampling, clocks: tuple[Array, Array], mark: Array, space: Array, start: Array
) -> Margins:
    """Return what is left of a bit on either side.

    Parameters
    ----------
    frame : Frame
        The character [-].
    sampling : Sampling
        When bits are sampled, by receiver [-].
    clocks : tuple of two arrays, shape (drivers, receivers)
        Errors of the sender's and of the receiver's clock [-].
    mark : array, shape (drivers, receivers)
        By how much a mark may begin too late against the start edge, skews included [unit intervals].
    space : array, shape (drivers, receivers)
        By how much a space may end too early against the start edge, skews included [unit intervals].
    start : array, shape (drivers, receivers)
        By how much two falling edges may be apart [unit intervals].

    Returns
    -------
    Margins
        Margins, tolerances and needs [unit intervals].

    Notes
    -----
    The start edge is the origin of time. Bit j is sampled from (j + early) Tr to (j + late) Tr, Tr the receiver's bit,
    and is on the line from j Ts to (j + 1) Ts, Ts the sender's. Two bits can be the worst on either side: the stop bit,
    a mark, last of all; and the bit before it, which may be a space. A mark begins late by `mark` and ends early
    by `start` (both its end and the start edge fall); a space begins late by `start` and ends early by `space`.
    """
    early, late = sampling.early[None, :], sampling.late[None, :]
    last = frame.bits - 1
    slowest, quickest = 1.0 / (1.0 - clocks[0]), 1.0 / (1.0 + clocks[0])
    short, long = 1.0 / (1.0 + clocks[1]), 1.0 / (1.0 - clocks[1])
    slow_sides = [(last, mark), (last - 1, start)]
    fast_sides = [(last, last + frame.stops, start), (last - 1, last, space)]
    slow = [(bit + early) * short - bit * slowest - need for bit, need in slow_sides]
    fast = [end * quickest - (bit + late) * long - need for bit, end, need in fast_sides]
    slow_rates = [1.0 - bit / np.maximum(bit + early - need, 1e-9) for bit, need in slow_sides]
    fast_rates = [(end - need) / (bit + late) - 1.0 for bit, end, need in fast_sides]
    slow_worst, fast_worst = slow[1] < slow[0], fast[1] < fast[0]
    return Margins(
        slow=np.where(slow_worst, slow[1], slow[0]),
        fast=np.where(fast_worst, fast[1], fast[0]),
        slow_tolerance=np.minimum(*slow_rates),
        fast_tolerance=np.minimum(*fast_rates),
        slow_need=np.where(slow_worst, start, mark),
        fast_need=np.where(fast_worst, space, start),
    )


def assumptions(notes: dict[str, None], nodes: list[Node]) -> tuple[str, ...]:
    """Return what was assumed, with the nodes that left it open.

    Parameters
    ----------
    notes : dict
        What was assumed [-].
    nodes : list of Node
        The nodes that drive or listen [-].

    Returns
    -------
    tuple of str
        Sentences [-].
    """
    silent = {
        _CLOCK: {node.name: None for node in nodes if node.clock_tolerance is None},
        _SAMPLES: {node.name: None for node in nodes if node.oversampling is None or node.samples is None},
    }
    return tuple(f"{text} ({listed(tuple(silent[text]), 4)})" if silent.get(text) else text for text in notes)
