"""How a line is used: what the nodes on it make of its impedance, and how slow an edge may be."""

import itertools
import math

import attrs
import numpy as np

from rs485kit.analysis.results import Missing, Rebuilt, unit
from rs485kit.analysis.signal_lines import SignalLines, signal_lines
from rs485kit.analysis.worst_case import WorstEyes, eyes_of, unit_interval, worst_eyes
from rs485kit.errors import InputError, MissingDataError, Problem, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Cable, Segment
from rs485kit.network.branches import Notes
from rs485kit.network.cable_lines import picked
from rs485kit.network.signals import SignalNetwork, signal_network
from rs485kit.solvers.line_graph import NO_LOAD
from rs485kit.solvers.line_model import SPEED_OF_LIGHT
from rs485kit.units import MinTypMax

_HALVINGS = 14


@attrs.frozen(kw_only=True, eq=False)
class LineLoading(Rebuilt):
    """What the nodes on the trunk make of it, on the average over its length.

    Parameters
    ----------
    ends : tuple of str
        The two places farthest apart, between which the trunk runs [-].
    length : float
        Length of the trunk [m].
    capacitance : float
        Of all nodes and stubs on it, which is spread over its length [F].
    impedance : float
        Characteristic impedance of the cable, by lengths where there are several [ohm].
    loaded_impedance : float
        Of the trunk with its nodes: the terminator that fits, at its ends as well as in its middle [ohm].
    velocity_factor : float
        Of the cable [-].
    loaded_velocity_factor : float
        Of the trunk with its nodes [-].
    missing : tuple
        Places and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    ends: tuple[str, ...]
    length: float = attrs.field(metadata=unit("m"))
    capacitance: float = attrs.field(metadata=unit("F"))
    impedance: float = attrs.field(metadata=unit("ohm"))
    loaded_impedance: float = attrs.field(metadata=unit("ohm"))
    velocity_factor: float
    loaded_velocity_factor: float
    missing: Missing = ()
    assumed: tuple[str, ...] = ()


@attrs.frozen(kw_only=True, eq=False)
class SlowestEdge(Rebuilt):
    """The slowest edge with which every receiver that was looked at still has its eye.

    Parameters
    ----------
    edge : float
        Time from 10 to 90 %; NaN if no edge is fast enough [s].
    least_height : float
        Height that was asked for [V].
    least_width : float
        Width that was asked for, as a share of a unit interval [-].
    drivers : tuple of str
        Drivers that were looked at: the outermost two and the one with the worst eye [-].
    fitted : float
        Slowest typical edge that is fitted [s].
    """

    edge: float = attrs.field(metadata=unit("s"))
    least_height: float = attrs.field(metadata=unit("V"))
    least_width: float
    drivers: tuple[str, ...]
    fitted: float = attrs.field(metadata=unit("s"))


@as_analysis()
def line_loading(analyses: Analyses) -> LineLoading:
    """Return what the nodes on a trunk make of its impedance and velocity.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    LineLoading
        Impedance and velocity with and without nodes [ohm, -].

    Raises
    ------
    MissingDataError
        If a cable of the trunk does not state impedance and velocity, or a node its unit load.

    Notes
    -----
    Capacitances much closer together than an edge is long act as if they were spread over the cable:
    Z = Z0 / sqrt(1 + C / (C' l)), v likewise, C' = 1 / (Z0 v0). Stubs count with the capacitance of their cable and of
    what hangs on them. It is an average: nodes in bunches lower the impedance there by more.

    References
    ----------
    Derived; the same form stands in handbooks on loaded lines. See `rs485kit.formulas.loaded_impedance`.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, capacitance="10 pF")
    >>> pair = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="100 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name=f"gauge-{n}", transceiver=part) for n in range(130)]
    >>> loading = rk.analysis.line_loading(rk.daisy_chain(nodes, spacing="0.5 m", cable=pair))
    >>> round(loading.loaded_impedance, 1)
    84.6
    """
    bus = analyses.bus
    trunk = bus.path(*bus.ends) if len(bus.ends) == 2 else ()
    spans = [bus.segment(a, b) for a, b in itertools.pairwise(trunk)]
    notes = Notes()
    lines = [_own(segment, notes) for segment in spans]
    if notes.missing or not spans:
        raise MissingDataError("line loading", notes.missing or ("two places that cable joins",))
    network = signal_network(bus)
    length = sum(segment.length for segment in spans)
    own = sum(segment.length * c for segment, (_, c) in zip(spans, lines, strict=True))
    inductance = sum(segment.length * each for segment, (each, _) in zip(spans, lines, strict=True))
    extra = _hanging(bus, network, {frozenset((s.start, s.end)) for s in spans})
    impedance, loaded = math.sqrt(inductance / own), math.sqrt(inductance / (own + extra))
    speed, slowed = length / math.sqrt(inductance * own), length / math.sqrt(inductance * (own + extra))
    return LineLoading(
        ends=bus.ends, length=length, capacitance=extra, impedance=impedance, loaded_impedance=loaded,
        velocity_factor=speed / SPEED_OF_LIGHT, loaded_velocity_factor=slowed / SPEED_OF_LIGHT,
        assumed=network.assumed,
    )  # fmt: skip


def _own(segment: Segment, notes: Notes) -> tuple[float, float]:
    """Return inductance and capacitance per metre of a span, from impedance and velocity [H/m, F/m]."""
    if segment.cable is None:
        notes.miss(f'segments["{segment.start}" - "{segment.end}"].cable')
        return math.nan, math.nan
    impedance = _figure(segment.cable, "characteristic_impedance", notes)
    speed = _figure(segment.cable, "velocity_factor", notes) * SPEED_OF_LIGHT
    return impedance / speed, 1.0 / (impedance * speed)


def _figure(cable: Cable, field: str, notes: Notes) -> float:
    figure: MinTypMax | None = getattr(cable, field)
    value = picked(figure, "nominal")
    if value is None:
        notes.miss(f'cable "{cable.name}" {field}')
        return math.nan
    return value


def _hanging(bus: Bus, network: SignalNetwork, trunk: set[frozenset[str]]) -> float:
    """Return the capacitance of every node, and of the cable that is not of the trunk."""
    total = sum(network.loads[kind].capacitance for kind in network.graph.load if kind != NO_LOAD)
    for number, segment in enumerate(bus.segments):
        if frozenset((segment.start, segment.end)) not in trunk:
            total += segment.length * network.models[network.graph.kind[number]].capacitance
    return float(total)


@as_analysis()
def slowest_edge(analyses: Analyses, *, least_height: float = 0.0, least_width: float = 0.5) -> SlowestEdge:
    """Return how slow edges may be at the data rate of the link.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    least_height : float
        Least height of an eye [V].
    least_width : float
        Least width of an eye, as a share of a unit interval [-].

    Returns
    -------
    SlowestEdge
        The time from 10 to 90 %, the same for every driver [s].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that the answer depends on.
    InputError
        If a height or width is out of range.

    Notes
    -----
    Found by bisection on the worst-case eyes of three drivers, between a twentieth of a bit and two bits, to 1 %. An
    eye need not shrink evenly with slower edges, so that a somewhat slower one may pass too. Slower edges are kinder to
    stubs and missing terminators and radiate less.
    """
    for name, value, most in (("least_height", least_height, 10.0), ("least_width", least_width, 1.0)):
        if not isinstance(value, int | float) or isinstance(value, bool) or not 0 <= value <= most:
            raise InputError(Problem(name, shown(value), f"a number from 0 to {most:g}"))
    interval = unit_interval(analyses.bus)
    lines = signal_lines(analyses)
    if not lines.sources or not lines.receivers:
        raise MissingDataError("slowest edge", ("drivers and receivers that state what is needed",))
    chosen = _three(lines, worst_eyes(analyses))

    def open_at(edge: float) -> bool:
        sources = tuple(lines.sources[row]._replace(rise=edge, fall=edge) for row in chosen)
        some = attrs.evolve(
            lines, drivers=tuple(lines.drivers[lines.rows[row]] for row in chosen), sources=sources,
            rows=tuple(range(len(chosen))), middle=lines.middle[chosen], swing=lines.swing[chosen],
        )  # fmt: skip
        eyes = eyes_of(analyses, some, interval, "")
        known = ~np.isnan(eyes.height)
        height, width = eyes.height[known], eyes.width[known]
        return bool(known.any() and height.min() >= least_height and width.min() >= least_width)

    low, high = interval / 20.0, 2.0 * interval
    edge = math.nan
    if open_at(low):
        for _ in range(_HALVINGS):
            middle = math.sqrt(low * high)
            low, high = (middle, high) if open_at(middle) else (low, middle)
        edge = low
    return SlowestEdge(
        edge=edge, least_height=float(least_height), least_width=float(least_width),
        drivers=tuple(lines.drivers[lines.rows[row]] for row in chosen),
        fitted=max(max(source.rise, source.fall) for source in lines.sources),
    )  # fmt: skip


def _three(lines: SignalLines, eyes: WorstEyes) -> list[int]:
    heights = np.where(np.isnan(eyes.height), np.inf, eyes.height)[list(lines.rows)].min(axis=1)
    return sorted({0, len(lines.sources) - 1, int(heights.argmin())})
