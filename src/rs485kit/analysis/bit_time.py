"""Bit timing: what is left of a bit at its last sample, from every driver to every receiver."""

from typing import Any

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.bit_budget import (
    Ends,
    Sampling,
    assumptions,
    ends_of,
    frame_of,
    lacking,
    margins_of,
    placed_of,
    sampling_of,
)
from rs485kit.analysis.results import Array, Missing, PerPath, read_only, unit
from rs485kit.analysis.signal_lines import SignalLines, replaced_edges, signal_lines
from rs485kit.analysis.worst_case import UNREACHED, CornerName, adverse_pick, outermost, unit_interval
from rs485kit.errors import InputError, Problem, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus
from rs485kit.model.base import Viewed
from rs485kit.network.cable_lines import NOMINAL
from rs485kit.network.responses import edges, propagated, timing
from rs485kit.solvers.crossings import Placed, reach, worst_shifts
from rs485kit.solvers.laplace import Contour, frequencies
from rs485kit.solvers.line_graph import Floats
from rs485kit.solvers.trellis import worst_levels_near

HALF = 0.5
# shares of a bit below this are what rounding has left of none
NOTHING = 1e-9
_SHIFTS = ("mark_shift", "space_shift", "start_shift", "rise_earliest", "rise_latest", "fall_earliest", "fall_latest")
_BUDGET = (
    "slow_margin", "fast_margin", "slow_tolerance", "fast_tolerance", "slow_clock", "fast_clock", "stated_margin"
)  # fmt: skip


@attrs.frozen(kw_only=True)
class BitTiming(Viewed):
    """What is left of a bit at one receiver from one driver.

    Parameters
    ----------
    driver : str
        Name of the node that drives [-].
    receiver : str
        Name of the node that listens [-].
    margin : float
        The lesser of the two margins, in unit intervals; negative: some characters are read wrong [-].
    slow_margin : float
        What is left where the sender's clock is the slower one, so that bits come late [-].
    fast_margin : float
        What is left where it is the faster one, so that bits end early [-].
    slow_tolerance, fast_tolerance : float
        Share by which the sender may be slower or faster than the receiver, everything but the clocks counted [-].
    slow_clock, fast_clock : float
        The same, less what the two clocks may take by their tolerances [-].
    stated_margin : float
        The margin with nothing in place of clocks, skews and distortions that are not stated [-].
    mark_shift : float
        By how much a mark may begin too late against the start edge, at the worst thresholds [s].
    space_shift : float
        By how much a space may end too early against the start edge, at the worst thresholds [s].
    start_shift : float
        By how much two falling edges may be apart against what was sent [s].
    rise_earliest, rise_latest : float
        When rising edges cross the receiver's threshold, after the edge began at the driver [s].
    fall_earliest, fall_latest : float
        The same of falling edges [s].
    consumers : tuple
        What takes how much of half a bit on the worse side, largest first; the rest is the margin [-].
    """

    driver: str
    receiver: str
    margin: float
    slow_margin: float
    fast_margin: float
    slow_tolerance: float
    fast_tolerance: float
    slow_clock: float
    fast_clock: float
    stated_margin: float
    mark_shift: float = attrs.field(metadata=unit("s"))
    space_shift: float = attrs.field(metadata=unit("s"))
    start_shift: float = attrs.field(metadata=unit("s"))
    rise_earliest: float = attrs.field(metadata=unit("s"))
    rise_latest: float = attrs.field(metadata=unit("s"))
    fall_earliest: float = attrs.field(metadata=unit("s"))
    fall_latest: float = attrs.field(metadata=unit("s"))
    consumers: tuple[tuple[str, float], ...]


@attrs.frozen(kw_only=True, eq=False)
class BitTimings(PerPath[BitTiming]):
    """What is left of a bit at all receivers from all drivers; arrays of shape (drivers, receivers).

    A receiver that no cable joins to a driver has NaN in that driver's row. On the diagonal, a driver hearing itself,
    both clocks are one.

    Parameters
    ----------
    drivers, receivers : tuple of str
        Nodes that drive and nodes that listen, in bus order [-].
    slow_margin, fast_margin : array
        What is left where the sender's clock is the slower or the faster one, in unit intervals [-].
    slow_tolerance, fast_tolerance : array
        Share by which the sender may be slower or faster, everything but the clocks counted [-].
    slow_clock, fast_clock : array
        The same, less what the two clocks may take [-].
    stated_margin : array
        The margin with nothing in place of what is not stated [-].
    mark_shift, space_shift, start_shift : array
        How late marks begin, how early spaces end, and how far falling edges are apart [s].
    rise_earliest, rise_latest : array
        When rising edges cross the receiver's threshold, after the edge began at the driver [s].
    fall_earliest, fall_latest : array
        The same of falling edges [s].
    transmit_share, receive_share : array
        Skew, distortion and jitter of each driver's end and of each receiver's end: shape (drivers, 3) and
        (receivers, 3), in unit intervals [-].
    clock_share : array
        What the clocks take on the worse side, in unit intervals [-].
    sampling_share : array
        What the sampling takes on the worse side, in unit intervals [-].
    line_share : array
        What the line takes on the worse side, in unit intervals [-].
    interval : float
        Unit interval [s].
    frame : str
        Data bits, parity and stop bits [-].
    corner : str
        "nominal", or "adverse" with the members that a search chose [-].
    unstated : tuple
        Nodes and figures in whose place something was assumed [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    slow_margin: Array = attrs.field(converter=read_only)
    fast_margin: Array = attrs.field(converter=read_only)
    slow_tolerance: Array = attrs.field(converter=read_only)
    fast_tolerance: Array = attrs.field(converter=read_only)
    slow_clock: Array = attrs.field(converter=read_only)
    fast_clock: Array = attrs.field(converter=read_only)
    stated_margin: Array = attrs.field(converter=read_only)
    mark_shift: Array = attrs.field(converter=read_only, metadata=unit("s"))
    space_shift: Array = attrs.field(converter=read_only, metadata=unit("s"))
    start_shift: Array = attrs.field(converter=read_only, metadata=unit("s"))
    rise_earliest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    rise_latest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    fall_earliest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    fall_latest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    transmit_share: Array = attrs.field(converter=read_only)
    receive_share: Array = attrs.field(converter=read_only)
    clock_share: Array = attrs.field(converter=read_only)
    sampling_share: Array = attrs.field(converter=read_only)
    line_share: Array = attrs.field(converter=read_only)
    interval: float = attrs.field(metadata=unit("s"))
    frame: str
    corner: str
    unstated: Missing = ()
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @property
    def margin(self) -> Array:
        """The lesser of the two margins of each path, in unit intervals."""
        return read_only(np.minimum(self.slow_margin, self.fast_margin))

    @override
    def _row(self, driver: int, receiver: int) -> BitTiming:
        at = (driver, receiver)
        figures = {name: float(getattr(self, name)[at]) for name in (*_SHIFTS, *_BUDGET)}
        sent, heard = self.transmit_share[driver], self.receive_share[receiver]
        consumers = {
            "line and thresholds": float(self.line_share[at]),
            "clocks": float(self.clock_share[at]),
            "sampling": float(self.sampling_share[at]),
            "skew of the driver": float(sent[0]),
            "skew of the receiver": float(heard[0]),
            "distortion of the driver's barrier": float(sent[1]),
            "distortion of the receiver's barrier": float(heard[1]),
            "jitter of the barriers": float(sent[2] + heard[2]),
        }
        ranked = sorted(consumers.items(), key=lambda each: (-each[1], each[0]))
        return BitTiming(
            driver=self.drivers[driver], receiver=self.receivers[receiver], margin=float(self.margin[at]),
            consumers=tuple((name, value) for name, value in ranked if abs(value) > NOTHING), **figures,
        )  # fmt: skip


@as_analysis()
def bit_timing(analyses: Analyses, *, corner: CornerName = "nominal") -> BitTimings:
    """Return what is left of a bit at its last sample, over every bit sequence, from every driver to every receiver.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    corner : str
        "nominal": lines and edges at nominal figures; "adverse": the worst of that and of the corner of the tolerances
        that `worst_eyes` finds by a search, with its slowest and its fastest edges too; no bound of the line [-].

    Returns
    -------
    BitTimings
        Rows per driver and receiver, the driver hearing itself included [unit intervals].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.
    SolveError
        If the lines cannot be resolved, or no line has the figures that a cable states.
    InputError
        If the corner is none.

    Notes
    -----
    Asynchronous characters: the start edge is the origin of time for every bit of a character. Synchronous codes,
    and codes in which a level lasts other than whole bits, are out of scope.

    *Line.* The lowest mark and the highest space over every bit sequence (`worst_eyes`), at every phase, give the
    latest rising and the earliest falling edge at a threshold. Both thresholds lie anywhere inside their limits with
    the stated hysteresis between them, the same for all edges: both at the top make a mark begin late against the
    start edge, which falls; both at the bottom make a space end early. A delay that all edges share is free; what
    rising and falling edges differ by counts once, in full.

    *Parts.* Skews of driver and receiver and pulse distortions of both barriers add in full, either way; jitter counts
    peak to peak.

    *Sampling and clocks.* Sample k of N clocks is up to one clock late. The stop bit is sampled last, a mark; the bit
    before it may be either. The sender's bits are as long and the receiver's as short as their tolerances allow on the
    slow side, and the reverse on the fast side. All three samples of three must fall into the bit.

    Margins are bounds over bit sequences, thresholds, skews and clocks, at the one choice of cables, terminators and
    edges that `corner` names; between two samples of a record the levels are taken as straight. A mark or space that
    no phase reads takes a whole bit.

    References
    ----------
    Usable part of a bit and drift over the frame: Atmel ATmega640 data sheet 2549A, asynchronous operational range;
    Freescale MC9S08SU16 reference manual, 22.5.5. What the tolerance must cover: ST RM0351, 36.5.5.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns", receiver_upper_threshold="200 mV",
    ...                       receiver_lower_threshold="-200 mV", driver_skew="20 ns", receiver_skew="20 ns")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> clock = {"clock_tolerance": 0.01, "oversampling": 16, "samples": 3}
    >>> nodes = [rk.Node(name="head", transceiver=part, terminations=end, **clock),
    ...          rk.Node(name="tail", transceiver=part, terminations=end, **clock)]
    >>> bus = rk.daisy_chain(nodes, spacing="1.2 km", cable=pair, link=rk.Link(data_rate="115.2 kbit/s"))
    >>> path = rk.analysis.bit_timing(bus).between("head", "tail")
    >>> round(path.margin, 2), path.consumers[0][0]
    (0.17, 'clocks')
    """
    if corner not in ("nominal", "adverse"):
        raise InputError(Problem("corner", shown(corner), '"nominal" or "adverse"'))
    interval = unit_interval(analyses.bus)
    if corner == "nominal":
        return timings_of(analyses.bus, (signal_lines(analyses),), interval, "nominal")
    pick = adverse_pick(analyses, interval)
    picks = dict.fromkeys((NOMINAL, pick, pick._replace(edge="min"), pick._replace(edge="max")))
    chosen = ", ".join(f"{name} {each}" for name, each in zip(pick._fields, pick, strict=True) if each != "nominal")
    told = f"adverse: the worst of nominal figures and of {chosen or 'nothing else'}, with all limits of edges"
    return timings_of(analyses.bus, tuple(signal_lines(analyses, pick=each) for each in picks), interval, told)


def timings_of(bus: Bus, choices: tuple[SignalLines, ...], interval: float, corner: str) -> BitTimings:
    """Return the bit timing of a bus, the worst of some choices of its lines.

    Parameters
    ----------
    bus : Bus
        The bus, which has a data rate [-].
    choices : tuple of SignalLines
        Its lines, once for every choice of their figures [-].
    interval : float
        Unit interval [s].
    corner : str
        What the choices are called [-].

    Returns
    -------
    BitTimings
        What is left of a bit [unit intervals].
    """
    assert bus.link is not None
    lines = choices[0]
    missing, notes = list(lines.missing), dict[str, None]()
    senders, listeners = ([bus.node(name) for name in names] for names in (lines.drivers, lines.receivers))
    placed = placed_of(listeners, missing)
    sent = ends_of(senders, interval, sending=True, notes=notes)
    heard = ends_of(listeners, interval, sending=False, notes=notes)
    sampling = sampling_of(listeners, notes)
    solved = [_every_shift(bus, each, placed, interval) for each in choices]
    slowed = tuple(dict.fromkeys(text for _, texts in solved for text in texts))
    shifts = {
        name: (np.minimum if name.endswith("earliest") else np.maximum).reduce([found[name] for found, _ in solved])
        for name in _SHIFTS
    }
    open_ends = [(node.name, name) for node in senders for name in lacking(node, sending=True)]
    open_ends += [(node.name, name) for node in listeners for name in lacking(node, sending=False)]
    return BitTimings(
        drivers=lines.drivers, receivers=lines.receivers, interval=interval, frame=bus.link.frame, corner=corner,
        transmit_share=_ends_share(sent, interval), receive_share=_ends_share(heard, interval),
        unstated=tuple(dict.fromkeys(open_ends)), missing=tuple(dict.fromkeys(missing)),
        assumed=(*lines.assumed, *slowed, *assumptions(notes, [*senders, *listeners])),
        **shifts, **_budget(bus, lines, shifts, sent, heard, sampling, interval),
    )  # fmt: skip


def _ends_share(ends: Ends, interval: float) -> Array:
    return np.stack((ends.skew, ends.distortion, ends.jitter), axis=1) / interval


def _budget(
    bus: Bus,
    lines: SignalLines,
    shifts: dict[str, Floats],
    sent: Ends,
    heard: Ends,
    sampling: Sampling,
    interval: float,
) -> dict[str, Any]:
    """Return margins, tolerances and what took them."""
    frame = frame_of(bus)
    itself = np.array([[driver == receiver for receiver in lines.receivers] for driver in lines.drivers])
    itself = itself.reshape(len(lines.drivers), len(lines.receivers))
    mark, space, start = (shifts[name] / interval for name in ("mark_shift", "space_shift", "start_shift"))

    def both(first: Array, second: Array) -> Array:
        return np.asarray(first[:, None] + second[None, :])

    def clocks(first: Array, second: Array) -> tuple[Array, Array]:
        pair = np.broadcast_arrays(first[:, None], second[None, :])
        return np.where(itself, 0.0, pair[0]), np.where(itself, 0.0, pair[1])

    jitter = both(sent.jitter, heard.jitter) / interval
    parts = (both(sent.skew, heard.skew) + both(sent.distortion, heard.distortion)) / interval + jitter
    errors = clocks(sent.clock, heard.clock)
    found = margins_of(frame, sampling, errors, mark + parts, space + parts, start + jitter)
    known = both(sent.stated_skew, heard.stated_skew) + both(sent.stated_distortion, heard.stated_distortion)
    stated = margins_of(
        frame, sampling, clocks(sent.stated_clock, heard.stated_clock), mark + known / interval + jitter,
        space + known / interval + jitter, start + jitter,
    )  # fmt: skip
    ratio = (1.0 + errors[0]) / (1.0 - errors[1]), (1.0 - errors[0]) / (1.0 + errors[1])
    slower = found.slow <= found.fast
    # what samples take is what a lone bit without any other fault would be short of its half
    sampling_share = np.where(slower, HALF - sampling.early[None, :], sampling.late[None, :] - HALF)
    need = np.where(slower, found.slow_need, found.fast_need)
    of_parts = np.where(need == np.where(slower, mark, space) + parts, parts, jitter)
    worse = np.minimum(found.slow, found.fast)
    return {
        "slow_margin": found.slow, "fast_margin": found.fast,
        "slow_tolerance": found.slow_tolerance, "fast_tolerance": found.fast_tolerance,
        "slow_clock": found.slow_tolerance - (1.0 - ratio[1]), "fast_clock": found.fast_tolerance - (ratio[0] - 1.0),
        "stated_margin": np.minimum(stated.slow, stated.fast),
        "line_share": need - of_parts, "sampling_share": sampling_share + 0.0 * need,
        "clock_share": HALF - worse - sampling_share - need,
    }  # fmt: skip


def _every_shift(
    bus: Bus, lines: SignalLines, placed: Placed, interval: float
) -> tuple[dict[str, Floats], tuple[str, ...]]:
    """Return the shifts of edges on all paths, and what is to be said of edges that were slowed down."""
    shifts = {name: np.full((len(lines.drivers), len(lines.receivers)), np.nan) for name in _SHIFTS}
    if not lines.sources or not lines.receivers:
        return shifts, ()
    contour, samples = timing(lines.network, lines.sources, lines.places, interval, outermost(bus, lines))
    solved = _solved(lines, contour, samples, placed)
    unreached = lines.gain <= UNREACHED
    blank = unreached | np.isnan(placed.upper_high + placed.lower_low)[None, :]
    for name, values in solved.items():
        whole = samples if name.endswith("shift") else np.nan
        values = np.where(np.isnan(values), whole, values) * contour.step
        shifts[name][list(lines.rows)] = np.where(blank, np.nan, values)
    return shifts, replaced_edges(lines, contour.step)


def _solved(lines: SignalLines, contour: Contour, samples: int, placed: Placed) -> dict[str, Floats]:
    result = {name: np.full(lines.swing.shape, np.nan) for name in _SHIFTS}
    ready, gains = propagated(lines.network, frequencies(contour)), lines.gain
    for row, source in enumerate(lines.sources):
        # records are of 1 V of EMF: levels and thresholds are brought to that, which spares a pass over the records
        volts, sign, gain = 2.0 * abs(source.emf), np.sign(lines.swing[row]), gains[row]
        mark, space = ((lines.middle[row] + half * lines.swing[row]) / volts for half in (0.5, -0.5))
        for some, up, down in edges(ready, source, contour, lines.places, gain):
            turn = sign[some, None]
            rise, fall = up * turn if (turn < 0).any() else up, None if down is None else down * turn
            here = Placed(*(each[some] / volts for each in placed))
            near = worst_levels_near(
                rise, fall, mark[some], space[some], here.upper_high, here.lower_low, samples, reach(samples)
            )
            found = worst_shifts(near, here, samples)
            values = (found.mark, found.space, found.start, *found.rising, *found.falling)
            for name, value in zip(_SHIFTS, values, strict=True):
                result[name][row, some] = value
    return result
