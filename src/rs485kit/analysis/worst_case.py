"""Worst-case eyes: how far every receiver's eye is open over every bit sequence, from every driver."""

import math
from typing import Any, Literal, TypeAlias

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerPath, read_only, unit
from rs485kit.analysis.signal_lines import SignalLines, replaced_edges, signal_lines
from rs485kit.errors import InputError, MissingDataError, Problem, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus
from rs485kit.model.base import Viewed
from rs485kit.network.cable_lines import NOMINAL, Pick
from rs485kit.network.responses import (
    duration,
    edges,
    error_of_step,
    looked_at,
    propagated,
    timing,
    transfers,
)
from rs485kit.network.signals import Source
from rs485kit.solvers.laplace import Contour, frequencies
from rs485kit.solvers.line_graph import Floats
from rs485kit.solvers.trellis import worst_eyes as opened

CornerName: TypeAlias = Literal["nominal", "adverse"]
SETTLED_SHARE = 0.1
"""A response has settled when it stays within this share of the swing from its final value [-]."""
UNREACHED = 1e-9
"""A receiver that gets less of a driver's EMF is not joined to it by cable [-]."""
DECIBELS = 20.0


@attrs.frozen(kw_only=True)
class WorstEye(Viewed):
    """The worst-case eye of one receiver from one driver.

    Parameters
    ----------
    driver : str
        Name of the node that drives [-].
    receiver : str
        Name of the node that listens [-].
    height : float
        The lesser of the two margins at the best phase; negative: the eye is closed [V].
    mark_margin : float
        Lowest mark less upper threshold at that phase, over every bit sequence [V].
    space_margin : float
        Lower threshold less highest space at that phase, over every bit sequence [V].
    width : float
        Share of a unit interval round that phase in which both margins are positive [-].
    phase : float
        That phase, from the beginning of the bit at the driver [s].
    overshoot : float
        How far a single edge goes beyond its final level [V].
    settling : float
        Time from the beginning of an edge at the driver until the receiver stays within a tenth of the swing [s].
    loss : float
        Loss on the way at half the data rate, 20 log10 of driver's over receiver's voltage [dB].
    """

    driver: str
    receiver: str
    height: float = attrs.field(metadata=unit("V"))
    mark_margin: float = attrs.field(metadata=unit("V"))
    space_margin: float = attrs.field(metadata=unit("V"))
    width: float
    phase: float = attrs.field(metadata=unit("s"))
    overshoot: float = attrs.field(metadata=unit("V"))
    settling: float = attrs.field(metadata=unit("s"))
    loss: float


@attrs.frozen(kw_only=True, eq=False)
class WorstEyes(PerPath[WorstEye]):
    """Worst-case eyes of all receivers from all drivers; arrays of shape (drivers, receivers).

    A receiver that no cable joins to a driver has NaN in that driver's row.

    Parameters
    ----------
    drivers, receivers : tuple of str
        Nodes that drive and nodes that listen, in bus order [-].
    height : array
        The lesser of the two margins at the best phase [V].
    mark_margin, space_margin : array
        Lowest mark less upper threshold and lower threshold less highest space, at that phase [V].
    width : array
        Share of a unit interval in which both margins are positive [-].
    phase : array
        The best phase, from the beginning of the bit at the driver [s].
    overshoot : array
        How far a single edge goes beyond its final level [V].
    settling : array
        Time from the beginning of an edge until the receiver stays within a tenth of the swing [s].
    loss : array
        Loss on the way at half the data rate [dB].
    mark, space : array
        Levels at rest [V].
    interval : float
        Unit interval [s].
    samples : int
        Samples in a unit interval [-].
    edge : float
        Full duration of the fastest edge that was solved throughout; faster ones were looked at over a short time
        only, for overshoot and settling [s].
    window : float
        Time over which responses were followed [s].
    error : float
        Error of the responses to one of the outermost drivers, measured by halving the step; infinite where the halved
        step would need too many points [V].
    corner : str
        "nominal", or "adverse" with the members that a search chose [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    height: Array = attrs.field(converter=read_only, metadata=unit("V"))
    mark_margin: Array = attrs.field(converter=read_only, metadata=unit("V"))
    space_margin: Array = attrs.field(converter=read_only, metadata=unit("V"))
    width: Array = attrs.field(converter=read_only)
    phase: Array = attrs.field(converter=read_only, metadata=unit("s"))
    overshoot: Array = attrs.field(converter=read_only, metadata=unit("V"))
    settling: Array = attrs.field(converter=read_only, metadata=unit("s"))
    loss: Array = attrs.field(converter=read_only)
    mark: Array = attrs.field(converter=read_only, metadata=unit("V"))
    space: Array = attrs.field(converter=read_only, metadata=unit("V"))
    interval: float = attrs.field(metadata=unit("s"))
    samples: int
    edge: float = attrs.field(metadata=unit("s"))
    window: float = attrs.field(metadata=unit("s"))
    error: float = attrs.field(metadata=unit("V"))
    corner: str
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @property
    def margin(self) -> Array:
        """Height of each eye [V]."""
        return self.height

    @override
    def _row(self, driver: int, receiver: int) -> WorstEye:
        at = (driver, receiver)
        figures = {name: float(getattr(self, name)[at]) for name in _FIGURES}
        return WorstEye(driver=self.drivers[driver], receiver=self.receivers[receiver], **figures)


_FIGURES = ("height", "mark_margin", "space_margin", "width", "phase", "overshoot", "settling", "loss")


@as_analysis()
def worst_eyes(analyses: Analyses, *, corner: CornerName = "nominal") -> WorstEyes:
    """Return how far every receiver's eye is open over every bit sequence, from every driver.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    corner : str
        "nominal": every figure nominal; "adverse": the worst corner of the tolerances that a search found, which is no
        bound [-].

    Returns
    -------
    WorstEyes
        Rows per driver and receiver, the driver hearing itself included [V].

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
    The responses of `waveforms` to a rising and a falling edge, and a walk over two states (present bit mark or space)
    in which a transition adds the response since then: its extremes over all walks are the lowest mark and the highest
    space over every bit sequence, at every phase. A mark counts above the largest upper threshold, a space below the
    least lower one. Exact for linear receivers and one driver that does not pause; the first bit after the driver is
    enabled, crosstalk and the receiver's own bandwidth are not in it.

    The adverse corner is found one figure at a time: each of cable resistance, impedance, velocity, capacitances,
    terminators, edges and driver level goes to the limit that lowers the lowest eye, twice round. A driver at
    its limit has the level that its part guarantees into 54 ohm at its own terminals, behind its nominal resistance.
    Levels that bias adds stay nominal.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns", receiver_upper_threshold="200 mV",
    ...                       receiver_lower_threshold="-200 mV")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name="head", transceiver=part, terminations=end),
    ...          rk.Node(name="tail", transceiver=part, terminations=end)]
    >>> bus = rk.daisy_chain(nodes, spacing="1.2 km", cable=pair, link=rk.Link(data_rate="115.2 kbit/s"))
    >>> round(rk.analysis.worst_eyes(bus).between("head", "tail").height, 2)
    0.75
    """
    if corner not in ("nominal", "adverse"):
        raise InputError(Problem("corner", shown(corner), '"nominal" or "adverse"'))
    interval = unit_interval(analyses.bus)
    if corner == "nominal":
        return eyes_of(analyses, signal_lines(analyses), interval, "nominal")
    pick = adverse_pick(analyses, interval)
    members = zip(pick._fields, pick, strict=True)
    chosen = ", ".join(f"{name} {member}" for name, member in members if member != "nominal") or "nothing"
    lines = signal_lines(analyses, pick=pick)
    return eyes_of(analyses, lines, interval, f"adverse, as found by a search: {chosen}")


def unit_interval(bus: Bus) -> float:
    """Return the duration of a bit.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    float
        The unit interval [s].

    Raises
    ------
    MissingDataError
        If no data rate is stated.
    """
    if bus.link is None or bus.link.data_rate is None:
        raise MissingDataError("eyes", ("link.data_rate",))
    return 1.0 / bus.link.data_rate


def adverse_pick(analyses: Analyses, interval: float) -> Pick:
    """Return the corner that a search one figure at a time finds: each goes where the lowest eye is lowest.

    Parameters
    ----------
    analyses : Analyses
        The bus [-].
    interval : float
        Unit interval [s].

    Returns
    -------
    Pick
        Which members of the figures make it [-].
    """

    def lowest(pick: Pick) -> float:
        lines = signal_lines(analyses, pick=pick)
        heights = eyes_of(analyses, lines, interval, "").height
        return float(np.nanmin(heights, initial=math.inf))

    best, least = NOMINAL, lowest(NOMINAL)
    if _drivers_state_limits(analyses) and (height := lowest(Pick(drive="min"))) < least:
        best, least = Pick(drive="min"), height
    for _ in range(2):
        before = best
        for name in Pick._fields:
            if name == "drive":
                continue
            for member in ("min", "max"):
                if getattr(best, name) == member:
                    continue
                tried = best._replace(**{name: member})
                height = lowest(tried)
                if height < least:
                    best, least = tried, height
        if best == before:
            break
    return best


def _drivers_state_limits(analyses: Analyses) -> bool:
    """Return whether the loaded minimum is stated of every driver: else the nominal source stays."""
    return all(not math.isnan(source.emf) for source in signal_lines(analyses, pick=Pick(drive="min")).sources)


def eyes_of(analyses: Analyses, lines: SignalLines, interval: float, corner: str) -> WorstEyes:
    """Return the eyes of a bus for one choice of its figures.

    Parameters
    ----------
    analyses : Analyses
        The bus [-].
    lines : SignalLines
        Its lines [-].
    interval : float
        Unit interval [s].
    corner : str
        What the choice is called [-].

    Returns
    -------
    WorstEyes
        The eyes [V].
    """
    shape = (len(lines.drivers), len(lines.receivers))
    missing = list(lines.missing)
    upper, lower = _thresholds(analyses.bus, lines, missing)
    figures = {name: np.full(shape, np.nan) for name in (*_FIGURES, "mark", "space")}
    assumed: tuple[str, ...] = ()
    facts: dict[str, Any] = {"samples": 0, "edge": math.nan, "window": math.nan, "error": math.nan}
    if lines.sources and lines.receivers:
        places, rows = lines.places, list(lines.rows)
        outer = outermost(analyses.bus, lines)
        contour, samples = timing(lines.network, lines.sources, places, interval, outer)
        solved = _every_eye(lines, contour, samples, interval, upper, lower)
        for name, values in solved.items():
            figures[name][rows] = values
        _look_closer(lines, contour, figures, rows)
        figures["loss"][rows] = _losses(lines, 0.5 / interval)
        for values in figures.values():
            values[rows] = np.where(lines.gain > UNREACHED, values[rows], np.nan)
        first = outer[0]
        assumed = replaced_edges(lines, contour.step)
        facts = {
            "samples": samples,
            "edge": min(duration(min(each.rise, each.fall), each, contour.step) for each in lines.sources),
            "window": contour.step * contour.points / 2.0,
            "error": _error(lines, first, contour),
        }
    every: dict[str, Any] = {**figures, **facts}
    return WorstEyes(
        drivers=lines.drivers, receivers=lines.receivers, interval=interval, corner=corner,
        missing=tuple(dict.fromkeys(missing)), assumed=(*lines.assumed, *assumed), **every,
    )  # fmt: skip


def outermost(bus: Bus, lines: SignalLines) -> tuple[Source, ...]:
    """Return the drivers nearest to the two places farthest apart, whatever the order of nodes.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    lines : SignalLines
        Its lines, with a source at least [-].

    Returns
    -------
    tuple of Source
        One or two drivers, or all where nothing joins them [-].
    """
    named = [(lines.network.nodes[source.vertex], source) for source in lines.sources]
    if not bus.segments:
        # nothing joins them: each is by itself
        return tuple(source for _, source in sorted(named, key=lambda each: each[0]))
    nearest = [min(named, key=lambda each: (round(bus.distance(end, each[0]), 9), each[0])) for end in sorted(bus.ends)]
    return tuple(dict(nearest).values())


def _error(lines: SignalLines, source: Source, contour: Contour) -> float:
    gain = lines.gain[lines.sources.index(source)]
    return 2.0 * abs(source.emf) * error_of_step(lines.network, source, lines.places, contour, gain)


def _every_eye(
    lines: SignalLines, contour: Contour, samples: int, interval: float, upper: Array, lower: Array
) -> dict[str, Floats]:
    """Return eyes, overshoot and settling of all receivers from all sources, from one sweep."""
    names = ("height", "mark_margin", "space_margin", "width", "phase", "overshoot", "settling")
    result = {name: np.full(lines.swing.shape, np.nan) for name in names}
    result["mark"], result["space"] = lines.middle + lines.swing / 2.0, lines.middle - lines.swing / 2.0
    ready = propagated(lines.network, frequencies(contour))
    gains = lines.gain
    for row, source in enumerate(lines.sources):
        # records are of 1 V of EMF: levels and thresholds are brought to that, which spares a pass over the records
        volts, sign, gain = 2.0 * abs(source.emf), np.sign(lines.swing[row]), gains[row]
        for some, up, down in edges(ready, source, contour, lines.places, gain):
            rise, fall = _turned(up, sign[some]), None if down is None else _turned(down, sign[some])
            mark, space = (result[name][row, some] / volts for name in ("mark", "space"))
            eye = opened(rise, fall, mark, space, upper[some] / volts, lower[some] / volts, samples)
            for name in ("height", "mark_margin", "space_margin"):
                result[name][row, some] = getattr(eye, name) * volts
            result["width"][row, some], result["phase"][row, some] = eye.width, eye.sample * contour.step
            overshoot, result["settling"][row, some] = _rings(up, down, gain[some], contour.step)
            result["overshoot"][row, some] = overshoot * volts
    for name in ("height", "mark_margin", "space_margin", "width", "phase"):
        result[name][:, np.isnan(upper) | np.isnan(lower)] = np.nan
    return result


def _turned(response: Floats, sign: Floats) -> Floats:
    """Return responses with the sign that swapped lines give them."""
    return response if (sign > 0).all() else response * sign[:, None]


def _rings(rise: Floats, fall: Floats | None, final: Floats, step: float) -> tuple[Floats, Floats]:
    """Return how far responses overshoot their final values, and when they stay within a tenth of them."""
    overshoot, settling = np.zeros(len(rise)), np.zeros(len(rise))
    for response in (rise,) if fall is None else (rise, fall):
        beyond = response - final[:, None]
        overshoot = np.maximum(overshoot, beyond.max(axis=1))
        away = np.abs(beyond, out=beyond) > SETTLED_SHARE * final[:, None]
        last = response.shape[1] - np.argmax(away[:, ::-1], axis=1)
        settling = np.maximum(settling, np.where(away.any(axis=1), last, 0) * step)
    return np.maximum(overshoot, 0.0), settling


def _look_closer(lines: SignalLines, contour: Contour, figures: dict[str, Floats], rows: list[int]) -> None:
    """Raise overshoot and settling to what a short record with the true edges shows, where the first step is coarse."""
    closer = looked_at(lines.sources, contour.step)
    if closer is None:
        return
    ready, gains = propagated(lines.network, frequencies(closer)), lines.gain
    for number, (row, source) in enumerate(zip(rows, lines.sources, strict=True)):
        gain, volts = gains[number], 2.0 * abs(source.emf)
        for some, up, down in edges(ready, source, closer, lines.places, gain):
            overshoot, _ = _rings(up, down, gain[some], closer.step)
            figures["overshoot"][row, some] = np.maximum(figures["overshoot"][row, some], overshoot * volts)


def _losses(lines: SignalLines, frequency: float) -> Floats:
    """Return the loss from each driver's terminals to each receiver's at one frequency [dB]."""
    received, own = transfers(lines.network, lines.sources, lines.places, 2j * math.pi * frequency)
    with np.errstate(divide="ignore"):
        return np.asarray(DECIBELS * (np.log10(np.abs(own))[:, None] - np.log10(np.abs(received))))


def _thresholds(bus: Bus, lines: SignalLines, missing: list[tuple[str, str]]) -> tuple[Array, Array]:
    upper, lower = np.empty((2, len(lines.receivers)))
    for index, name in enumerate(lines.receivers):
        part = bus.node(name).transceiver
        assert part is not None
        limits = (part.receiver_upper_threshold, "max"), (part.receiver_lower_threshold, "min")
        for target, (figure, member), field in zip(
            (upper, lower), limits, ("receiver_upper_threshold", "receiver_lower_threshold"), strict=True
        ):
            value = None if figure is None else getattr(figure, member)
            target[index] = math.nan if value is None else value
            if value is None:
                missing.append((name, f"transceiver.{field} (its {member})"))
    return upper, lower

