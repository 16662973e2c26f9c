"""Responses of receivers to the edges of a driver: which contour resolves them, and their records, a few at a time."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import attrs
import numpy as np

from rs485kit.errors import SolveError
from rs485kit.network.assembly import Floats, Indices
from rs485kit.network.signals import SignalNetwork, Source
from rs485kit.solvers.cut_rings import Rings, put_back, ring_impedances, ring_voltages, spanning
from rs485kit.solvers.laplace import (
    FULL_DURATION,
    LATE,
    MOST_POINTS,
    SETTLED,
    STEPS_PER_EDGE,
    Contour,
    UnresolvedError,
    contour_of,
    edge_transform,
    frequencies,
    halved,
    inverted,
    unrest,
)
from rs485kit.solvers.line_graph import Complexes, LineTree, line_tree
from rs485kit.solvers.line_nodal import nodal_voltages, transfer_impedances
from rs485kit.solvers.sweep import Sweep, driven, received, swept

# samples in a unit interval: no more, so that fast edges at slow rates stay solvable, and no fewer, so that an eye has
# a width
MOST_SAMPLES, LEAST_SAMPLES = 64, 16
# where a network is as good as at rest: far below the lowest frequency at which anything happens on a bus [rad/s]
AT_REST = 1e-3
# what the columns of cut rings may take; a network with more rings is solved densely, driver by driver [bytes]
MOST_BYTES_OF_RINGS = 3e8
# the second look at fast edges takes so many points, from the edge on
LOOK_POINTS = 4096


class Timing(NamedTuple):
    """Samples in a unit interval and the contour; without a data rate `per_bit` is 0."""

    contour: Contour
    per_bit: int


@attrs.frozen(kw_only=True, eq=False)
class Propagated:
    """A bus at the complex frequencies of one contour, ready for any driver.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    s : array
        Complex frequencies [rad/s].
    tree : LineTree or None
        The lines as a tree; None where they close a ring [-].
    sweep : Sweep or None
        What the sweep of a tree gave [S, -].
    rings : Rings or None
        The lines with a few rings cut and put back; None for a tree, and where there are too many [-].
    """

    network: SignalNetwork
    s: Complexes
    tree: LineTree | None
    sweep: Sweep | None
    rings: Rings | None

    def voltages(self, source: Source, emf: Complexes, receivers: Indices) -> Iterator[tuple[Indices, Complexes]]:
        """Give the transforms of the voltages at receivers, a few receivers at a time.

        Parameters
        ----------
        source : Source
            The driver [-].
        emf : array
            Transform of its EMF [V s].
        receivers : array of int
            Vertices, each once [-].

        Returns
        -------
        tuple of arrays
            Places in `receivers`, and transforms in memory that the next piece overwrites [V s].
        """
        if self.tree is not None and self.sweep is not None:
            start = driven(self.sweep, source.vertex, emf, source.resistance)
            yield from received(self.tree, self.sweep, source.vertex, start, receivers)
            return
        if self.rings is not None:
            every = ring_voltages(self.rings, source.vertex, emf, source.resistance)
        else:
            response = transfer_impedances(
                self.network.graph, self.network.media(self.s), np.array([source.vertex], dtype=np.intp)
            )
            every = nodal_voltages(response[0], source.vertex, emf, source.resistance)
        yield np.arange(len(receivers), dtype=np.intp), every[receivers]

    def impedances(self, vertex: int, current: Complexes, receivers: Indices) -> Iterator[tuple[Indices, Complexes]]:
        """Give the transforms of the voltages that a current causes with every driver off, a few receivers at a time.

        Parameters
        ----------
        vertex : int
            Where the current is fed in [-].
        current : array
            Its transform [A s].
        receivers : array of int
            Vertices, each once [-].

        Returns
        -------
        tuple of arrays
            Places in `receivers`, and transforms in memory that the next piece overwrites [V s].
        """
        if self.tree is not None and self.sweep is not None:
            start = current / self.sweep.admittance[vertex]
            yield from received(self.tree, self.sweep, vertex, start, receivers)
            return
        if self.rings is not None:
            every = ring_impedances(self.rings, vertex)
        else:
            places = np.array([vertex], dtype=np.intp)
            every = transfer_impedances(self.network.graph, self.network.media(self.s), places)[0]
        yield np.arange(len(receivers), dtype=np.intp), every[receivers] * current


def propagated(network: SignalNetwork, s: Complexes) -> Propagated:
    """Return a bus at complex frequencies.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    s : array
        Complex frequencies [rad/s].

    Returns
    -------
    Propagated
        Ready for any driver [-].
    """
    graph, media = network.graph, network.media(s)
    tree = line_tree(graph)
    if tree is not None:
        return Propagated(network=network, s=s, tree=tree, sweep=swept(graph, tree, media), rings=None)
    kept, cut = spanning(graph)
    small = 2 * len(cut) * graph.vertices * len(s) * np.complex128().nbytes <= MOST_BYTES_OF_RINGS
    rings = put_back(graph, media, kept, cut) if small else None
    return Propagated(network=network, s=s, tree=None, sweep=None, rings=rings)


def gains(network: SignalNetwork, sources: tuple[Source, ...], receivers: Indices) -> Floats:
    """Return the ratio of every receiver's settled voltage to the EMF of every driver.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    sources : tuple of Source
        Drivers [-].
    receivers : array of int
        Vertices [-].

    Returns
    -------
    array, shape (drivers, receivers)
        Ratios [-].
    """
    return transfers(network, sources, receivers, AT_REST)[0].real


def transfers(
    network: SignalNetwork, sources: tuple[Source, ...], receivers: Indices, s: complex
) -> tuple[Complexes, Complexes]:
    """Return the voltages of all receivers, and of each driver at its own place, per volt of EMF at one frequency.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    sources : tuple of Source
        Drivers [-].
    receivers : array of int
        Vertices [-].
    s : complex
        The frequency [rad/s].

    Returns
    -------
    tuple of arrays, shapes (drivers, receivers) and (drivers,)
        Ratios [-].

    Notes
    -----
    One solution of the nodal form for all drivers, which at a single frequency costs less than a march for each.
    """
    if not sources:
        return np.empty((0, len(receivers)), dtype=np.complex128), np.empty(0, dtype=np.complex128)
    vertices = np.array([source.vertex for source in sources], dtype=np.intp)
    media = network.media(np.array([s], dtype=np.complex128))
    impedance = transfer_impedances(network.graph, media, vertices)[:, :, 0]
    own = impedance[np.arange(len(vertices)), vertices]
    scale = 1.0 / (np.array([source.resistance for source in sources]) + own)
    return impedance[:, receivers] * scale[:, None], own * scale


def duration(edge: float, source: Source, step: float) -> float:
    """Return the full duration of an edge, or of the fastest one that a step resolves.

    Parameters
    ----------
    edge : float
        Time from 10 to 90 % [s].
    source : Source
        The driver, for the shape [-].
    step : float
        The step [s].

    Returns
    -------
    float
        Duration [s].
    """
    return max(edge * FULL_DURATION[source.shape], step * STEPS_PER_EDGE[source.shape])


def step_for(sources: tuple[Source, ...], interval: float | None) -> tuple[float, int]:
    """Return the step that resolves the fastest edge as far as MOST_SAMPLES in a unit interval allow.

    Parameters
    ----------
    sources : tuple of Source
        Drivers whose edges are stated [-].
    interval : float or None
        Unit interval [s].

    Returns
    -------
    tuple of float and int
        Step, and samples in a unit interval (0 without one) [s, -].
    """
    finest = min(
        min(source.rise, source.fall) * FULL_DURATION[source.shape] / STEPS_PER_EDGE[source.shape]
        for source in sources
    )
    if interval is None:
        return finest, 0
    samples = min(max(math.ceil(interval / finest - 1e-9), LEAST_SAMPLES), MOST_SAMPLES)
    return interval / samples, samples


def timing(
    network: SignalNetwork,
    sources: tuple[Source, ...],
    receivers: Indices,
    interval: float | None,
    watched: tuple[Source, ...],
) -> Timing:
    """Return a contour on which the responses of every receiver come to rest.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    sources : tuple of Source
        Drivers whose edges are stated [-].
    receivers : array of int
        Vertices [-].
    interval : float or None
        Unit interval [s].
    watched : tuple of Source
        Drivers of which it is seen that their responses come to rest [-].

    Returns
    -------
    Timing
        Contour and samples in a unit interval [-].

    Raises
    ------
    SolveError
        If they do not come to rest within the largest number of points.

    Notes
    -----
    The step is the same for all drivers. The window begins at three times the delay of all cable, holds the eye that an
    edge opens, and is doubled until the responses to the watched drivers are within 1e-4 of their final values over the
    last sixteenth of its first half.
    """
    step, samples = step_for(sources, interval)
    graph = network.graph
    delays = [
        length * math.sqrt(network.models[kind].inductance * network.models[kind].capacitance)
        for kind, length in zip(graph.kind, graph.length, strict=True)
    ]
    slowest = max(duration(max(each.rise, each.fall), each, step) for each in sources)
    # an eye ends one interval after the edge has come, and only whole intervals of a record are walked through
    whole = 0.0 if interval is None else sum(delays) + slowest + 2.0 * interval
    window = 2.0 * max(3.0 * sum(delays) + 2.0 * slowest + 16 * step, whole) * LATE / (LATE - 1)
    final = gains(network, watched, receivers)
    try:
        contour = contour_of(step, window)
        while (left := _unrest(network, watched, receivers, contour, final)) > SETTLED:
            if 2 * contour.points > MOST_POINTS:
                raise UnresolvedError(f"{left:.2g} of the final value is left after {window / 2:.3g} s")
            window *= 2.0
            contour = contour_of(step, window)
    except UnresolvedError as error:
        cure = "state a slower edge or a lower data rate, or end the line so that it comes to rest"
        raise SolveError("signals in time", f"the responses cannot be resolved: {error}", cure) from None
    return Timing(contour, samples)


def _unrest(
    network: SignalNetwork, sources: tuple[Source, ...], receivers: Indices, contour: Contour, final: Floats
) -> float:
    ready = propagated(network, frequencies(contour))
    left = 0.0
    for row, source in enumerate(sources):
        for some, rise, fall in edges(ready, source, contour, receivers, final[row]):
            for signal in (rise,) if fall is None else (rise, fall):
                left = max(left, unrest(signal, final[row, some]))
    return left


def edges(
    ready: Propagated, source: Source, contour: Contour, receivers: Indices, final: Floats
) -> Iterator[tuple[Indices, Floats, Floats | None]]:
    """Give the responses of receivers to an edge of 1 V of a driver's EMF, rising and falling, a few at a time.

    Parameters
    ----------
    ready : Propagated
        The bus at the contour's frequencies [-].
    source : Source
        The driver [-].
    contour : Contour
        The contour [-].
    receivers : array of int
        Vertices [-].
    final : array, shape (receivers,)
        Where each response comes to rest [-].

    Returns
    -------
    tuple
        Places in `receivers`; responses to a rising edge, both turned upwards; the same to a falling edge, None where
        the two are alike [-].
    """
    rise, fall = (
        edge_transform(ready.s, duration(edge, source, contour.step), source.shape)
        for edge in (source.rise, source.fall)
    )
    alike = source.rise == source.fall
    ratio = None if alike else fall / rise
    for some, spectra in ready.voltages(source, rise, receivers):
        rising = inverted(contour, spectra, final[some])
        yield some, rising, None if ratio is None else inverted(contour, spectra * ratio, final[some])


def looked_at(sources: tuple[Source, ...], step: float) -> Contour | None:
    """Return the contour of a short second look at edges that a step does not resolve; None where it resolves all.

    Parameters
    ----------
    sources : tuple of Source
        Drivers whose edges are stated [-].
    step : float
        The step [s].

    Returns
    -------
    Contour or None
        The contour, of LOOK_POINTS points [-].
    """
    finest, _ = step_for(sources, None)
    return None if finest >= step * (1.0 - 1e-9) else contour_of(finest, LOOK_POINTS * finest)


def error_of_step(
    network: SignalNetwork, source: Source, receivers: Indices, contour: Contour, final: Floats
) -> float:
    """Return the error of the responses to one driver, measured by halving the step.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    source : Source
        The driver [-].
    receivers : array of int
        Vertices [-].
    contour : Contour
        The contour [-].
    final : array, shape (receivers,)
        Where each response comes to rest [-].

    Returns
    -------
    float
        Twice the largest change, as a share of the EMF; infinite where the halved step cannot be taken [-].
    """
    try:
        finer = halved(contour)
    except UnresolvedError:
        return math.inf
    ready = propagated(network, frequencies(finer))
    emf = edge_transform(ready.s, duration(source.rise, source, contour.step), source.shape)
    largest = 0.0
    for some, spectra in ready.voltages(source, emf, receivers):
        fine = inverted(finer, spectra, final[some])[:, ::2]
        coarse = inverted(contour, spectra[:, : contour.points // 2 + 1].copy(), final[some])
        largest = max(largest, float(np.abs(fine - coarse).max(initial=0.0)))
    return 2.0 * largest

