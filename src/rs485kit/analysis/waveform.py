"""Waveforms: what every receiver sees of one driver's edges, and of any bit pattern."""

import difflib
import math
from collections.abc import Iterable

import attrs
import numpy as np

from rs485kit.analysis.results import Array, Rebuilt, read_only, unit
from rs485kit.analysis.signal_lines import SignalLines, replaced_edges, signal_lines, stated
from rs485kit.errors import InputError, Problem, UnknownNameError, listed, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.network.responses import duration, edges, error_of_step, propagated, timing
from rs485kit.solvers.laplace import frequencies, times

MOST_BITS = 4096


@attrs.frozen(kw_only=True, eq=False)
class Pattern(Rebuilt):
    """What receivers see of a bit pattern.

    Parameters
    ----------
    receivers : tuple of str
        Nodes that listen, in bus order [-].
    time : array, shape (n,)
        Time from the beginning of the first bit at the driver [s].
    voltage : array, shape (receivers, n)
        Differential voltages at the receivers' own terminals [V].
    """

    receivers: tuple[str, ...]
    time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    voltage: Array = attrs.field(converter=read_only, metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class Waveforms(Rebuilt):
    """Responses of all receivers to the edges of one driver.

    Parameters
    ----------
    driver : str
        Node that drives [-].
    receivers : tuple of str
        Nodes that listen, in bus order [-].
    time : array, shape (n,)
        Time from the beginning of the edge at the driver [s].
    rise : array, shape (receivers, n)
        From space at rest to mark, the pair having been at rest before [V].
    fall : array, shape (receivers, n)
        From mark at rest to space [V].
    mark, space : array, shape (receivers,)
        Levels at rest [V].
    interval : float
        Unit interval; NaN where no data rate is stated [s].
    samples : int
        Samples in a unit interval; 0 where no data rate is stated [-].
    edge : float
        Full duration of the rising edge that was solved; longer than the driver's where the step cannot resolve that
        [s].
    error : float
        Error of the records, measured by halving the step [V].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    driver: str
    receivers: tuple[str, ...]
    time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    rise: Array = attrs.field(converter=read_only, metadata=unit("V"))
    fall: Array = attrs.field(converter=read_only, metadata=unit("V"))
    mark: Array = attrs.field(converter=read_only, metadata=unit("V"))
    space: Array = attrs.field(converter=read_only, metadata=unit("V"))
    interval: float = attrs.field(metadata=unit("s"))
    samples: int
    edge: float = attrs.field(metadata=unit("s"))
    error: float = attrs.field(metadata=unit("V"))
    assumed: tuple[str, ...] = ()

    def pattern(self, bits: Iterable[bool]) -> Pattern:
        """Return what the receivers see of a bit pattern at the data rate of the link.

        Parameters
        ----------
        bits : iterable of bool
            The bits, mark being true; before the first the pair rests at its level [-].

        Returns
        -------
        Pattern
            Voltages over the pattern and until the last edge has come to rest [V].

        Raises
        ------
        InputError
            If no data rate is stated, or the bits are none, too many, or no truth values.

        Notes
        -----
        Superposition of the edges: exact for linear receivers and a driver that does not pause.
        """
        word = _read_bits(bits)
        if not self.samples:
            raise InputError(Problem("Bus.link.data_rate", "nothing", "a data rate", "without it bits have no length"))
        length = self.rise.shape[1]
        total = len(word) * self.samples + length
        voltage = np.empty((len(self.receivers), total))
        voltage[:] = np.where(word[0], self.mark, self.space)[:, None]
        up, down = self.rise - self.space[:, None], self.fall - self.mark[:, None]
        for place in np.flatnonzero(np.diff(word.astype(np.int8))) + 1:
            response, rest = (up, self.mark - self.space) if word[place] else (down, self.space - self.mark)
            first = int(place) * self.samples
            voltage[:, first : first + length] += response
            voltage[:, first + length :] += rest[:, None]
        step = self.time[1] - self.time[0]
        return Pattern(receivers=self.receivers, time=step * np.arange(total), voltage=voltage)


@as_analysis(keep=False)
def waveforms(analyses: Analyses, driver: str) -> Waveforms:
    """Return what every receiver sees of one driver's edges.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    driver : str
        Name of the node that drives [-].

    Returns
    -------
    Waveforms
        Records until every receiver has come to rest [V].

    Raises
    ------
    UnknownNameError
        If no node of that name drives.
    MissingDataError
        If the bus does not state a figure that the answer depends on.
    SolveError
        If the lines cannot be resolved, or no line has the figures that a cable states.

    Notes
    -----
    Difference mode: every segment is a lossy line with skin, proximity and dielectric loss, every place a linear load.
    The driver is an EMF behind its resistance whose edge has the shape and duration that its part states. The lines
    are solved at complex frequencies and turned into time by a numerical inverse Laplace transform; bias adds the
    middle between mark and space. With a data rate, the step is at least 1/64 of a unit interval: a faster edge is
    replaced by the fastest that this resolves, and `edge` says so.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name="head", transceiver=part, terminations=end),
    ...          rk.Node(name="tail", transceiver=part, terminations=end)]
    >>> seen = rk.analysis.waveforms(rk.daisy_chain(nodes, spacing="1.2 km", cable=pair), "head")
    >>> tail = seen.receivers.index("tail")
    >>> round(float(seen.mark[tail]), 3)
    0.955
    """
    lines = signal_lines(analyses)
    if driver not in lines.drivers:
        near = tuple(difflib.get_close_matches(str(driver), lines.drivers, n=3))
        raise UnknownNameError("driver", str(driver), near, f"the drivers are {listed(lines.drivers, 8) or 'none'}")
    row = stated(lines, driver)
    source, places = lines.sources[row], lines.places
    rate = analyses.bus.link.data_rate if analyses.bus.link is not None else None
    interval = None if rate is None else 1.0 / rate
    contour, samples = timing(lines.network, lines.sources, places, interval, (source,))
    final = lines.gain[row]
    rise = np.empty((len(places), contour.points // 2))
    fall = np.empty_like(rise)
    ready = propagated(lines.network, frequencies(contour))
    for some, up, down in edges(ready, source, contour, places, final):
        rise[some] = up
        fall[some] = up if down is None else down
    mark, space, volts = _levels(lines, row)
    return Waveforms(
        driver=driver,
        receivers=lines.receivers,
        time=times(contour),
        rise=space[:, None] + volts[:, None] * rise,
        fall=mark[:, None] - volts[:, None] * fall,
        mark=mark,
        space=space,
        interval=math.nan if interval is None else interval,
        samples=samples,
        edge=duration(source.rise, source, contour.step),
        error=2.0 * abs(source.emf) * error_of_step(lines.network, source, places, contour, final),
        assumed=(*lines.assumed, *replaced_edges(lines, contour.step)),
    )


def _levels(lines: SignalLines, row: int) -> tuple[Array, Array, Array]:
    """Return mark and space at rest, and the volts by which a response of 1 V of EMF is scaled, with their sign."""
    swing, middle = lines.swing[row], lines.middle[row]
    volts = 2.0 * abs(lines.sources[row].emf) * np.where(swing < 0, -1.0, 1.0)
    return middle + swing / 2.0, middle - swing / 2.0, volts


def _read_bits(given: Iterable[bool]) -> np.ndarray:
    try:
        bits = list(given)
    except TypeError:
        raise InputError(Problem("bits", shown(given), "a sequence of truth values, mark being true")) from None
    if not bits or len(bits) > MOST_BITS:
        raise InputError(Problem("bits", f"{len(bits)} bits", f"1 to {MOST_BITS}"))
    if any(np.ndim(bit) or bit not in (0, 1) for bit in bits):
        raise InputError(Problem("bits", shown(bits), "truth values, mark being true"))
    return np.array(bits, dtype=np.bool_)
