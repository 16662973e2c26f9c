"""Drivers that let go and take over the pair: what a bus shows to them, and on which contour that comes to rest."""

import math
from typing import NamedTuple

import numpy as np

from rs485kit.errors import SolveError
from rs485kit.model import Bus
from rs485kit.network.assembly import Floats, Indices, idle_network, rail_variants
from rs485kit.network.responses import AT_REST, Propagated, duration, propagated
from rs485kit.network.signals import SignalNetwork, Source
from rs485kit.solvers.laplace import (
    MOST_POINTS,
    SETTLED,
    STEPS_PER_EDGE,
    Contour,
    UnresolvedError,
    contour_of,
    edge_transform,
    frequencies,
    inverted,
    unrest,
)
from rs485kit.solvers.line_graph import Complexes
from rs485kit.solvers.line_nodal import transfer_impedances
from rs485kit.solvers.nodal import potentials

# a pair on which nothing below this joins the lines keeps its charge for longer than anybody waits [ohm]
MOST_RESISTANCE = 1e7
# points over the window of a tail, half of which are seen: what a tail has to show is long against an edge
TAIL_POINTS = 2048
# frequencies that are solved together where only two places are looked at
TOGETHER = 1024
# the longest window that is tried [s]
LONGEST_WINDOW = 10.0


class Resting(NamedTuple):
    """A bus with every driver off, at rest: resistances from places to all vertices [ohm], and voltages [V].

    `resistance` has shape (places, vertices). `idle` is the voltage of the pair at every vertex as the lines run there,
    whatever is swapped at a node.
    """

    resistance: Floats
    idle: Floats


def resting(bus: Bus, network: SignalNetwork, places: Indices) -> Resting:
    """Return the undriven bus at rest.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    network : SignalNetwork
        Its lines and loads [any].
    places : array of int
        Vertices at which drivers let go or take over [-].

    Returns
    -------
    Resting
        Resistances and idle voltages [ohm, V].

    Raises
    ------
    SolveError
        If nothing joins the two lines of the pair, so that they would keep any charge.
    """
    media = network.media(np.array([AT_REST], dtype=np.complex128))
    resistance = transfer_impedances(network.graph, media, places)[:, :, 0].real
    largest = float(np.abs(resistance).max(initial=0.0))
    if largest > MOST_RESISTANCE:
        cure = "state the unit loads of receivers, a terminator or a bias network"
        raise SolveError("what a released pair does", "nothing discharges the pair", cure)
    return Resting(resistance, idle_differences(bus))


def idle_differences(bus: Bus) -> Floats:
    """Return the nominal idle voltage of the pair at every vertex, as the lines run there.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    array, shape (vertices,)
        Voltages; the lower where a supply that is down may stand in two ways [V].
    """
    turned = np.array([-1.0 if node.lines_swapped else 1.0 for node in bus.nodes])
    found = []
    for rails in rail_variants(bus):
        network = idle_network(bus, rails=rails)
        injected = network.injected(network.emf[:, None])
        given = network.given[:, None]
        own = potentials(network.layout, network.branches, injected, network.fixed, given)[:, 0][network.terminals]
        found.append((own[:, 0] - own[:, 1]) * turned)
    return np.asarray(np.min(found, axis=0))


def tail_contour(
    network: SignalNetwork, sources: tuple[Source, ...], watched: tuple[Source, ...], at_rest: Floats, *,
    points: int = TAIL_POINTS, least: float = 0.0,
) -> Contour:
    """Return a contour on which the pair comes to rest after a driver has let go.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    sources : tuple of Source
        Drivers whose edges are stated [-].
    watched : tuple of Source
        Drivers of which it is seen that the pair comes to rest [-].
    at_rest : array, shape (watched, vertices)
        Resistances from them to all vertices [ohm].
    points : int
        Points over the window, fewer where the step that resolves the edges needs no more [-].
    least : float
        Time that half the window must hold at least [s].

    Returns
    -------
    Contour
        The contour [-].

    Raises
    ------
    SolveError
        If the pair does not come to rest within LONGEST_WINDOW.

    Notes
    -----
    A window of a fixed number of points is doubled until the response to a current is within 1e-4 of its final value
    over the last sixteenth of its first half. Its step may be longer than one that resolves the edges: what is switched
    then takes five steps, a few thousandths of the time that is looked at.
    """
    finest = min(
        duration(min(each.rise, each.fall), each, 0.0) / STEPS_PER_EDGE[each.shape] for each in sources
    )
    delay = sum(
        length * math.sqrt(network.models[kind].inductance * network.models[kind].capacitance)
        for kind, length in zip(network.graph.kind, network.graph.length, strict=True)
    )
    every = np.arange(network.graph.vertices, dtype=np.intp)
    window = 2.0 * max(4.0 * delay + 32.0 * finest, least)
    while window <= LONGEST_WINDOW:
        contour = _contour(finest, window, points)
        ready = propagated(network, frequencies(contour))
        left = 0.0
        for source, resistances in zip(watched, at_rest, strict=True):
            switch = duration(source.rise, source, contour.step)
            current = edge_transform(ready.s, switch, source.shape)
            for some, spectra in ready.impedances(source.vertex, current, every):
                left = max(left, unrest(inverted(contour, spectra, resistances[some]), resistances[some]))
        if left <= SETTLED:
            return contour
        window *= 2.0
    cure = "fit bias or terminators, so that the pair comes to rest"
    raise SolveError("what a released pair does", f"it has not come to rest after {LONGEST_WINDOW / 2:g} s", cure)


def _contour(finest: float, window: float, points: int) -> Contour:
    step = max(finest, window / points)
    if window / step > MOST_POINTS:
        raise UnresolvedError(f"more than {MOST_POINTS} points")
    return contour_of(step, window)


def columns(ready: Propagated, places: tuple[int, int], receivers: Indices) -> tuple[Complexes, Complexes]:
    """Return the transfer impedances from two places to each other and to receivers.

    Parameters
    ----------
    ready : Propagated
        The bus at the contour's frequencies [-].
    places : tuple of two int
        Vertices of the two drivers [-].
    receivers : array of int
        Vertices, each once [-].

    Returns
    -------
    tuple of arrays, shapes (2, 2, f) and (2, receivers, f)
        Transfer impedances [ohm].
    """
    one = np.ones(len(ready.s), dtype=np.complex128)
    wanted = np.unique(np.concatenate((receivers, np.array(places, dtype=np.intp))))
    every = np.empty((2, len(wanted), len(ready.s)), dtype=np.complex128)
    for row, vertex in enumerate(places):
        for some, spectra in ready.impedances(vertex, one, wanted):
            every[row, some] = spectra
    at = [int(np.searchsorted(wanted, vertex)) for vertex in places]
    own = every[:, at]
    # reciprocity holds to rounding; the mean makes it hold exactly
    own[0, 1] = own[1, 0] = (own[0, 1] + own[1, 0]) / 2.0
    return own, every[:, np.searchsorted(wanted, receivers)]


def port_impedances(network: SignalNetwork, s: Complexes, places: tuple[int, int]) -> Complexes:
    """Return the impedances between two places, some frequencies at a time.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    s : array
        Complex frequencies [rad/s].
    places : tuple of two int
        Vertices of the two drivers [-].

    Returns
    -------
    array, shape (2, 2, f)
        Impedances [ohm].
    """
    none = np.empty(0, dtype=np.intp)
    parts = [
        columns(propagated(network, s[first : first + TOGETHER]), places, none)[0]
        for first in range(0, len(s), TOGETHER)
    ]
    return np.concatenate(parts, axis=-1)
