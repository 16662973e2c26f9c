"""Idle tails: how long after a driver has let go until every receiver surely reads mark."""

import math
from typing import Any

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.idle import idle_levels
from rs485kit.analysis.results import Array, Missing, PerPath, read_only, unit
from rs485kit.analysis.signal_lines import SignalLines, signal_lines
from rs485kit.analysis.worst_case import UNREACHED, outermost
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus
from rs485kit.model.base import Viewed
from rs485kit.network.responses import duration, propagated
from rs485kit.network.switching import resting, tail_contour
from rs485kit.solvers.laplace import Contour, edge_transform, frequencies, inverted
from rs485kit.solvers.line_graph import Floats


@attrs.frozen(kw_only=True)
class IdleTail(Viewed):
    """How one receiver comes back to mark after one driver has let go.

    Parameters
    ----------
    driver : str
        Name of the node that lets go [-].
    receiver : str
        Name of the node that listens [-].
    from_space : float
        Time from the release, at space, until it surely reads mark; infinite: it never does [s].
    from_mark : float
        The same at mark: 0 where it reads mark throughout [s].
    from_space_adverse : float
        As `from_space`, with the idle level at its matched limit; NaN where no limit is known [s].
    from_mark_adverse : float
        As `from_mark`, with the idle level at its matched limit [s].
    idle : float
        Nominal idle level at the receiver [V].
    threshold : float
        Voltage above which it surely reads mark [V].
    """

    driver: str
    receiver: str
    from_space: float = attrs.field(metadata=unit("s"))
    from_mark: float = attrs.field(metadata=unit("s"))
    from_space_adverse: float = attrs.field(metadata=unit("s"))
    from_mark_adverse: float = attrs.field(metadata=unit("s"))
    idle: float = attrs.field(metadata=unit("V"))
    threshold: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class IdleTails(PerPath[IdleTail]):
    """How all receivers come back to mark after each driver has let go; arrays of shape (drivers, receivers).

    Parameters
    ----------
    drivers, receivers : tuple of str
        Nodes that drive and nodes that listen, in bus order [-].
    from_space, from_mark : array
        Time from the release, at space or at mark, until the receiver surely reads mark; infinite: never [s].
    from_space_adverse, from_mark_adverse : array
        The same with the idle level at its matched limit [s].
    idle : array, shape (receivers,)
        Nominal idle level [V].
    threshold : array, shape (receivers,)
        Voltage above which a receiver surely reads mark [V].
    switching : float
        Time over which a driver was taken to let go [s].
    window : float
        Time over which tails were followed [s].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    from_space: Array = attrs.field(converter=read_only, metadata=unit("s"))
    from_mark: Array = attrs.field(converter=read_only, metadata=unit("s"))
    from_space_adverse: Array = attrs.field(converter=read_only, metadata=unit("s"))
    from_mark_adverse: Array = attrs.field(converter=read_only, metadata=unit("s"))
    idle: Array = attrs.field(converter=read_only, metadata=unit("V"))
    threshold: Array = attrs.field(converter=read_only, metadata=unit("V"))
    switching: float = attrs.field(metadata=unit("s"))
    window: float = attrs.field(metadata=unit("s"))
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @property
    def margin(self) -> Array:
        """Less the longer tail of each path: the longest is the worst [s]."""
        return read_only(-np.fmax(self.from_space, self.from_mark))

    @override
    def _row(self, driver: int, receiver: int) -> IdleTail:
        at = (driver, receiver)
        figures = {name: float(getattr(self, name)[at]) for name in _TIMES}
        return IdleTail(
            driver=self.drivers[driver], receiver=self.receivers[receiver], idle=float(self.idle[receiver]),
            threshold=float(self.threshold[receiver]), **figures,
        )  # fmt: skip


_TIMES = ("from_space", "from_mark", "from_space_adverse", "from_mark_adverse")


@as_analysis()
def idle_tails(analyses: Analyses) -> IdleTails:
    """Return how long after a driver has let go every receiver surely reads mark, for all drivers from one sweep.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    IdleTails
        Rows per driver and receiver [s].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.
    SolveError
        If nothing discharges the pair, or it does not come to rest.

    Notes
    -----
    A driver that lets go a pair at rest takes its current i away: the voltage at a receiver is

        V(t) = V_idle + (V_rest - V_idle) y(t),    y(t) = 1 - z(t) / R,

    z(t) being the response to a step of current in the undriven network, reflections and all, and R where it comes to
    rest. The current goes to nothing over the duration of the driver's edge or, where the tail is so long that its step
    cannot resolve that, over some thousandths of the tail, centred on the edge. A tail ends when the voltage is above
    the threshold for good: the highest that it may be; where the receiver reads mark before, less the stated
    hysteresis.

    Capacitances and lines are nominal. The adverse figures have the idle level at the limit that `idle_levels` proves
    with both inputs of a receiver pulling alike; they are no bound of the time.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns", receiver_upper_threshold="200 mV")
    >>> bias = rk.Bias(pull_up="4.7 kohm", pull_down="4.7 kohm", supply="5 V")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name="head", transceiver=part, biases=bias), rk.Node(name="tail", transceiver=part)]
    >>> tails = rk.analysis.idle_tails(rk.daisy_chain(nodes, spacing="300 m", cable=pair))
    >>> round(1e6 * tails.between("head", "tail").from_space, 1)
    66.8
    """
    bus = analyses.bus
    lines = signal_lines(analyses, leaning=True)
    levels = idle_levels(analyses)
    shape = (len(lines.drivers), len(lines.receivers))
    times = {name: np.full(shape, np.nan) for name in _TIMES}
    missing = [*lines.missing, *levels.missing]
    switching = window = math.nan
    if lines.sources and lines.receivers:
        outer = outermost(bus, lines)
        places = np.array([source.vertex for source in lines.sources], dtype=np.intp)
        at_rest = resting(bus, lines.network, places).resistance
        watched = [lines.sources.index(each) for each in outer]
        contour = tail_contour(lines.network, lines.sources, outer, at_rest[watched])
        matched = np.fmin(levels.voltage.nominal, levels.voltage.matched_lower)
        solved = _tails(bus, lines, contour, at_rest, levels.voltage.nominal, matched)
        for name, values in solved.items():
            times[name][list(lines.rows)] = values
        switching = max(duration(each.rise, each, contour.step) for each in lines.sources)
        window = contour.step * contour.points / 2.0
    for values in times.values():
        values[:, np.isnan(levels.threshold)] = np.nan
    every: dict[str, Any] = dict(times)
    return IdleTails(
        drivers=lines.drivers, receivers=lines.receivers, idle=levels.voltage.nominal, threshold=levels.threshold,
        switching=switching, window=window, missing=tuple(dict.fromkeys(missing)),
        assumed=tuple(dict.fromkeys((*lines.assumed, *levels.assumed))), **every,
    )  # fmt: skip


def _tails(
    bus: Bus, lines: SignalLines, contour: Contour, at_rest: Floats, nominal: Floats, matched: Floats
) -> dict[str, Floats]:
    result = {name: np.full(lines.swing.shape, np.nan) for name in _TIMES}
    ready = propagated(lines.network, frequencies(contour))
    upper, kept = _thresholds(bus, lines)
    for row, source in enumerate(lines.sources):
        switching = duration(source.rise, source, contour.step)
        # a switch that had to be slowed down is centred on the one that it stands for
        early = (switching - duration(source.rise, source, 0.0)) / 2.0
        current = edge_transform(ready.s, switching, source.shape)
        final = at_rest[row][lines.places]
        joined = lines.gain[row] > UNREACHED
        for some, spectra in ready.impedances(source.vertex, current, lines.places):
            left = inverted(contour, spectra, final[some])
            # of one volt before to none after; where nothing arrives, what is asked is not answered
            np.subtract(1.0, left / np.where(joined[some], final[some], 1.0)[:, None], out=left)
            half = lines.swing[row, some] / 2.0
            for start, sign, threshold in (("from_space", -1.0, upper), ("from_mark", 1.0, kept)):
                before = lines.middle[row, some] + sign * half
                for name, idle in ((start, nominal), (f"{start}_adverse", matched)):
                    time = _last(left, before, idle[some], threshold[some]) * contour.step
                    result[name][row, some] = np.where(joined[some], np.maximum(time - early, 0.0), np.nan)
    return result


def _thresholds(bus: Bus, lines: SignalLines) -> tuple[Floats, Floats]:
    """Return the highest thresholds of receivers, and those at which they still keep a mark that they read."""
    rows = []
    for name in lines.receivers:
        part = bus.node(name).transceiver
        assert part is not None
        upper, hysteresis = part.receiver_upper_threshold, part.receiver_hysteresis
        highest = math.nan if upper is None or upper.max is None else upper.max
        rows.append((highest, highest - (0.0 if hysteresis is None or hysteresis.min is None else hysteresis.min)))
    both = np.array(rows, dtype=np.float64).reshape(-1, 2)
    return both[:, 0], both[:, 1]


def _last(left: Floats, before: Floats, idle: Floats, threshold: Floats) -> Floats:
    """Return how many samples go by until levels stay above a threshold; infinite: they never do.

    `left` is what is left of the difference to the idle level, from 1 to 0.
    """
    drop = before - idle
    sign = np.where(drop < 0, 1.0, -1.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        border = (idle - threshold) / np.abs(drop)
    # below the threshold while sign * left is beyond the border
    beyond = left * sign[:, None] - border[:, None]
    count = left.shape[1]
    low = beyond > 0.0
    index = np.where(low.any(axis=1), count - 1 - np.argmax(low[:, ::-1], axis=1), -1)
    rows, following = np.arange(len(left)), np.minimum(index + 1, count - 1)
    here, next_one = beyond[rows, np.maximum(index, 0)], beyond[rows, following]
    crossing = np.isfinite(here) & np.isfinite(next_one) & (here > next_one)
    fall = np.where(crossing, here, 1.0) - np.where(crossing, next_one, 0.0)
    part = np.where(crossing, here, 0.0) / fall
    time = np.where(index < 0, 0.0, index + part)
    time = np.where((index == count - 1) | ~(idle > threshold), np.inf, time)
    return np.where(np.isnan(idle) | np.isnan(threshold), np.nan, time)
