"""Handover: what the pair does between one driver that lets go and the next one that takes it."""

import difflib
import math
from collections.abc import Iterable
from typing import Literal, NamedTuple, TypeAlias

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.bit_budget import sampling_of
from rs485kit.analysis.results import Array, Missing, PerNode, read_only, unit
from rs485kit.analysis.signal_lines import SignalLines, signal_lines, stated
from rs485kit.errors import InputError, MissingDataError, Problem, SolveError, UnknownNameError, listed, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus
from rs485kit.model.base import Viewed
from rs485kit.network.responses import duration, propagated
from rs485kit.network.signals import Source
from rs485kit.network.switching import Resting, columns, port_impedances, resting, tail_contour
from rs485kit.solvers.laplace import Contour, UnresolvedError, contour_of, frequencies, inverted, times
from rs485kit.solvers.line_graph import Complexes, Floats
from rs485kit.solvers.port_stepping import LimitedPort, circle, limited_currents, points, port_kernel, refuse
from rs485kit.solvers.switching import (
    ENABLING,
    RELEASING,
    Before,
    Currents,
    Ports,
    Sent,
    Switch,
    closed_after,
    closed_before,
    switched,
    transformed,
)

LevelName: TypeAlias = Literal["mark", "space"]
LONGEST_GAP = 1.0
"""Longest gap or overlap that is looked at [s]."""
MOST_BITS = 64
# points over the window; half of them are seen
POINTS = 8192
# steps in a unit interval at least, where bits are sent
STEPS_PER_BIT = 32
# steps that currents at a limit are followed in, at the most
MOST_STEPS = 4096


@attrs.frozen(kw_only=True)
class HandoverAt(Viewed):
    """What one receiver sees of a handover.

    Parameters
    ----------
    node : str
        Name of the receiver [-].
    lowest, highest : float
        Lowest and highest level from the first event on, until the second driver sends a space [V].
    false_space : float
        Longest time in it in which the receiver may read space, though nobody sends one [s].
    shortest_start : float
        Shortest space that the receiver may take for a start bit; NaN without a data rate [s].
    may_start : bool
        Whether the one is as long as the other [-].
    """

    node: str
    lowest: float = attrs.field(metadata=unit("V"))
    highest: float = attrs.field(metadata=unit("V"))
    false_space: float = attrs.field(metadata=unit("s"))
    shortest_start: float = attrs.field(metadata=unit("s"))
    may_start: bool


@attrs.frozen(kw_only=True, eq=False)
class Handover(PerNode[HandoverAt]):
    """What all receivers see of a handover between two drivers, and what the drivers bear.

    Parameters
    ----------
    nodes : tuple of str
        Nodes that listen, in bus order [-].
    releasing : str
        Node that lets go [-].
    enabling : str
        Node that takes the pair [-].
    gap : float
        Time from the beginning of the release to that of the enabling; negative: both drive for so long [s].
    release, enable : float
        When the release and the enabling begin, after the first of them [s].
    time : array, shape (n,)
        Time after the first event [s].
    voltage : array, shape (receivers, n)
        Differential voltages at the receivers' own terminals [V].
    lowest, highest : array
        Lowest and highest level until the second driver sends a space [V].
    false_space : array
        Longest time in which a receiver may read space though nobody sends one [s].
    shortest_start : array
        Shortest space that a receiver may take for a start bit [s].
    releasing_current, enabling_current : float
        Largest magnitude of the drivers' currents while both drive; NaN without an overlap [A].
    releasing_heat, enabling_heat : float
        Heat in their output resistances while both drive; NaN without an overlap [J].
    limited : bool
        Whether a driver reached its short-circuit current, so that time was stepped through [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    releasing: str
    enabling: str
    gap: float = attrs.field(metadata=unit("s"))
    release: float = attrs.field(metadata=unit("s"))
    enable: float = attrs.field(metadata=unit("s"))
    time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    voltage: Array = attrs.field(converter=read_only, metadata=unit("V"))
    lowest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    highest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    false_space: Array = attrs.field(converter=read_only, metadata=unit("s"))
    shortest_start: Array = attrs.field(converter=read_only, metadata=unit("s"))
    releasing_current: float = attrs.field(metadata=unit("A"))
    enabling_current: float = attrs.field(metadata=unit("A"))
    releasing_heat: float = attrs.field(metadata=unit("J"))
    enabling_heat: float = attrs.field(metadata=unit("J"))
    limited: bool
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @override
    def _row(self, index: int) -> HandoverAt:
        false_space, shortest = float(self.false_space[index]), float(self.shortest_start[index])
        return HandoverAt(
            node=self.nodes[index], lowest=float(self.lowest[index]), highest=float(self.highest[index]),
            false_space=false_space, shortest_start=shortest, may_start=false_space >= shortest,
        )  # fmt: skip

    @override
    def _margin(self, index: int) -> float:
        return -float(self.false_space[index])


class _Asked(NamedTuple):
    """The two drivers, where they are, and what they do when."""

    sources: tuple[Source, Source]
    level: float
    gap: float
    bits: tuple[bool, ...]
    interval: float


class _Solved(NamedTuple):
    """Changes of the drivers' currents, and what both carry and see while both drive."""

    currents: Currents
    flowing: Floats
    across: Floats
    limited: bool


@as_analysis(keep=False)
def handover(
    analyses: Analyses,
    releasing: str,
    enabling: str,
    *,
    gap: float = 0.0,
    level: LevelName = "mark",
    bits: tuple[bool, ...] = (True,),
) -> Handover:
    """Return what receivers see while one driver lets go of the pair and another one takes it.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    releasing : str
        Name of the node that lets go [-].
    enabling : str
        Name of the node that takes the pair [-].
    gap : float
        Time from the beginning of the release to that of the enabling, each at its own terminals; negative: both
        drive for so long [s].
    level : str
        "mark" or "space": what the first driver holds when it lets go, having held it until the pair was at rest [-].
    bits : tuple of bool
        What the second driver sends from when it is enabled, mark being true; its last level stays [-].

    Returns
    -------
    Handover
        Records, rows per receiver, and what the drivers bear [V, A, J].

    Raises
    ------
    UnknownNameError
        If a name is not that of a node that drives.
    MissingDataError
        If the bus does not state a figure that the answer depends on.
    InputError
        If both names are one, or an argument is out of range.
    SolveError
        If nothing discharges the pair, or it does not come to rest.

    Notes
    -----
    Opening a driver forces its current from what it is to nothing; closing one brings an EMF that goes from the voltage
    which it finds to its own, behind its resistance. Both happen over the duration of the driver's edge. Each is a
    source on a linear network, so that the events are composed exactly, with loss, skin effect and every reflection;
    bias acts throughout. Where a driver's part states a short-circuit current and it would carry more, its current is
    held there, and the two drivers' currents are stepped through time.

    A receiver may read space wherever the level is below the highest threshold that it may have, less the stated
    hysteresis. What counts as a start bit is a space that reaches its first sample.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns", receiver_upper_threshold="200 mV")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name=name, transceiver=part, terminations=end) for name in ("head", "tail")]
    >>> bus = rk.daisy_chain(nodes, spacing="600 m", cable=pair, link=rk.Link(data_rate="9.6 kbit/s"))
    >>> found = rk.analysis.handover(bus, "head", "tail", gap=100e-6)
    >>> found.at("head").may_start, round(1e6 * found.at("head").false_space)
    (True, 100)
    """
    lines = signal_lines(analyses, leaning=True)
    asked = _asked(analyses.bus, lines, releasing, enabling, gap, level, bits)
    bus, network = analyses.bus, lines.network
    pair = np.array([source.vertex for source in asked.sources], dtype=np.intp)
    at_rest = resting(bus, network, pair)
    contour = _contour(lines, asked, at_rest)
    own, received = columns(propagated(network, frequencies(contour)), (int(pair[0]), int(pair[1])), lines.places)
    ports = Ports(own, at_rest.resistance[:, pair])
    solved, before = _events(bus, lines, asked, contour, ports, at_rest)
    turned = np.array([-1.0 if bus.node(name).lines_swapped else 1.0 for name in lines.receivers])
    rested = at_rest.idle[lines.places] + before.current * at_rest.resistance[RELEASING, lines.places]
    final = np.einsum("p,pr->r", solved.currents.final, at_rest.resistance[:, lines.places])
    spectra = received[RELEASING] * solved.currents.transform[RELEASING]
    spectra += received[ENABLING] * solved.currents.transform[ENABLING]
    voltage = (rested[:, None] + inverted(contour, spectra, final)) * turned[:, None]
    release, enable = max(0.0, -gap), max(0.0, gap)
    seen, missing = _seen(bus, lines, asked, contour, voltage, enable)
    heat = _heat(asked, contour, solved, before, release)
    return Handover(
        nodes=lines.receivers, releasing=releasing, enabling=enabling, gap=gap, release=release, enable=enable,
        time=times(contour), voltage=voltage, missing=missing, assumed=lines.assumed, limited=solved.limited,
        lowest=seen[0], highest=seen[1], false_space=seen[2], shortest_start=seen[3],
        releasing_current=heat[0][RELEASING], enabling_current=heat[0][ENABLING],
        releasing_heat=heat[1][RELEASING], enabling_heat=heat[1][ENABLING],
    )  # fmt: skip


def _asked(
    bus: Bus, lines: SignalLines, releasing: str, enabling: str, gap: float, level: str, bits: Iterable[bool]
) -> _Asked:
    for name in (releasing, enabling):
        if name not in lines.drivers:
            near = tuple(difflib.get_close_matches(str(name), lines.drivers, n=3))
            raise UnknownNameError("driver", str(name), near, f"the drivers are {listed(lines.drivers, 8) or 'none'}")
    problems = []
    if releasing == enabling:
        problems.append(Problem("enabling", shown(enabling), "another node than the one that lets go"))
    if not isinstance(gap, int | float) or isinstance(gap, bool) or not abs(gap) <= LONGEST_GAP:
        problems.append(Problem("gap", shown(gap), f"a time from {-LONGEST_GAP:g} s to {LONGEST_GAP:g} s"))
    if level not in ("mark", "space"):
        problems.append(Problem("level", shown(level), '"mark" or "space"'))
    if not isinstance(bits, tuple) or not 1 <= len(bits) <= MOST_BITS or any(bit not in (0, 1) for bit in bits):
        problems.append(Problem("bits", shown(bits), f"a tuple of 1 to {MOST_BITS} truth values, mark being true"))
    if problems:
        raise InputError(*problems)
    word = tuple(bool(bit) for bit in bits)
    rate = None if bus.link is None else bus.link.data_rate
    if rate is None and any(bit != word[0] for bit in word):
        raise MissingDataError("a handover with bits", ("link.data_rate",))
    first, second = (lines.sources[stated(lines, name)] for name in (releasing, enabling))
    held = first.emf if level == "mark" else -first.emf
    return _Asked((first, second), held, float(gap), word, math.nan if rate is None else 1.0 / rate)


def _contour(lines: SignalLines, asked: _Asked, at_rest: Resting) -> Contour:
    """Return a contour on which everything comes to rest after the last event."""
    busy = abs(asked.gap) + (len(asked.bits) * asked.interval if len(asked.bits) > 1 else 0.0)
    coarse = tail_contour(lines.network, asked.sources, asked.sources, at_rest.resistance)
    window = coarse.step * coarse.points + 2.0 * busy
    step = min(coarse.step, window / POINTS)
    if len(asked.bits) > 1:
        step = min(step, asked.interval / STEPS_PER_BIT)
    try:
        return contour_of(step, window)
    except UnresolvedError as error:
        cure = "ask for fewer bits or a shorter gap"
        raise SolveError("a handover", f"it cannot be resolved: {error}", cure) from None


def _switches(asked: _Asked, contour: Contour) -> tuple[Switch, Switch]:
    first, second = (
        Switch(source.resistance, at, duration(source.rise, source, contour.step), source.shape)
        for source, at in zip(asked.sources, (max(0.0, -asked.gap), max(0.0, asked.gap)), strict=True)
    )
    return first, second


def _sent(asked: _Asked, contour: Contour, begin: float) -> Sent:
    source = asked.sources[1]
    levels = [source.emf if bit else -source.emf for bit in asked.bits]
    changes = []
    for place in range(1, len(levels)):
        if levels[place] != levels[place - 1]:
            edge = source.rise if asked.bits[place] else source.fall
            at = begin + place * asked.interval
            changes.append((at, levels[place] - levels[place - 1], duration(edge, source, contour.step)))
    return Sent(levels[0], tuple(changes))


def _events(
    bus: Bus, lines: SignalLines, asked: _Asked, contour: Contour, ports: Ports, at_rest: Resting
) -> tuple[_Solved, Before]:
    """Return the currents of both drivers over the events."""
    first, second = (source.vertex for source in asked.sources)
    release, enable = _switches(asked, contour)
    sent = _sent(asked, contour, enable.at)
    current = (asked.level - at_rest.idle[first]) / (release.resistance + ports.resting[RELEASING, RELEASING])
    voltages = at_rest.idle[[first, second]] + current * ports.resting[RELEASING]
    before = Before(float(current), (float(voltages[0]), float(voltages[1])))
    if asked.gap < 0:
        together, apart = closed_before(contour, ports, before, release, enable, sent)
    else:
        together = apart = closed_after(contour, ports, before, release, enable, sent)
    flowing, across = _flows(contour, ports, before, apart)
    limits = [_short_circuit(bus, lines.network.nodes[vertex]) for vertex in (first, second)]
    if any(not math.isnan(limit) and np.abs(row).max() > limit for limit, row in zip(limits, flowing, strict=True)):
        stepped = _stepped(lines, asked, contour, ports, before, (release, enable), sent, limits, together, apart)
        return _Solved(stepped, *_flows(contour, ports, before, stepped), limited=True), before
    return _Solved(apart, flowing, across, limited=False), before


def _flows(contour: Contour, ports: Ports, before: Before, currents: Currents) -> tuple[Floats, Floats]:
    """Return the currents of both drivers and the voltages at their terminals."""
    flowing = inverted(contour, currents.transform, currents.final)
    flowing[RELEASING] += before.current
    spectra: Complexes = np.einsum("pqf,qf->pf", ports.impedance, currents.transform)
    across = inverted(contour, spectra, ports.resting @ currents.final)
    return flowing, across + np.array(before.voltage)[:, None]


def _short_circuit(bus: Bus, name: str) -> float:
    part = bus.node(name).transceiver
    figure = None if part is None else part.driver_short_circuit_current
    return math.nan if figure is None or figure.nominal is None else figure.nominal


def _stepped(
    lines: SignalLines,
    asked: _Asked,
    contour: Contour,
    ports: Ports,
    before: Before,
    switches: tuple[Switch, Switch],
    sent: Sent,
    limits: list[float],
    together: Currents,
    apart: Currents,
) -> Currents:
    """Return the currents with those that a part limits held at its limit, stepped through time."""
    release, enable = switches
    seen = times(contour)
    stride = max(1, math.ceil(len(seen) / MOST_STEPS))
    count, step = len(seen[::stride]), contour.step * stride
    vertices = (asked.sources[0].vertex, asked.sources[1].vertex)
    refuse(port_impedances(lines.network, circle(step, count), vertices))
    kernel = port_kernel(port_impedances(lines.network, points(step, count), vertices), step, count)
    nothing, one = np.zeros(count), np.ones(count)
    found = np.full(len(seen), before.voltage[ENABLING])
    if asked.gap >= 0:
        over = ports.impedance[ENABLING, RELEASING] * apart.transform[RELEASING]
        found = found + inverted(contour, over, ports.resting[ENABLING, RELEASING] * float(apart.final[RELEASING]))
    emf = found + (sent.first - found) * switched(contour, enable)
    for at, change, edge in sent.changes:
        emf = emf + change * switched(contour, enable._replace(at=at, duration=edge))
    bounds = [math.inf if math.isnan(limit) else limit for limit in limits]
    second = LimitedPort(emf[::stride], one, nothing, enable.resistance, bounds[1], 0.0, before.voltage[ENABLING])
    holding = LimitedPort(
        np.full(count, asked.level), one, nothing, release.resistance, bounds[0], before.current,
        before.voltage[RELEASING],
    )  # fmt: skip
    letting = 1.0 - switched(contour, release)[::stride]
    carried = limited_currents(kernel, holding, second)[RELEASING] if asked.gap < 0 else before.current * one
    last = holding._replace(gate=nothing, forced=carried * letting)
    both = limited_currents(kernel, last, second)
    transform = np.empty_like(apart.transform)
    for row, switch in ((RELEASING, release), (ENABLING, enable)):
        change = np.interp(seen, seen[::stride], both[row]) - (before.current if row == RELEASING else 0.0)
        transform[row] = transformed(contour, change, float(apart.final[row]), switch)
    return Currents(transform, apart.final)


def _heat(
    asked: _Asked, contour: Contour, solved: _Solved, before: Before, release: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the largest currents and the heat in both drivers while both drive."""
    if asked.gap >= 0:
        return (math.nan, math.nan), (math.nan, math.nan)
    seen = times(contour)
    both = seen <= release
    if not both.any():
        return (0.0, 0.0), (0.0, 0.0)
    largest, heat = [], []
    _, enable = _switches(asked, contour)
    sent = _sent(asked, contour, enable.at)
    own = before.voltage[ENABLING] + (sent.first - before.voltage[ENABLING]) * switched(contour, enable)
    for at, change, edge in sent.changes:
        own = own + change * switched(contour, enable._replace(at=at, duration=edge))
    for row, emf in ((RELEASING, np.full(len(seen), asked.level)), (ENABLING, own)):
        largest.append(float(np.abs(solved.flowing[row, both]).max()))
        lost = (emf - solved.across[row]) * solved.flowing[row]
        heat.append(float(lost[both].sum() * contour.step))
    return (largest[0], largest[1]), (heat[0], heat[1])


def _seen(
    bus: Bus, lines: SignalLines, asked: _Asked, contour: Contour, voltage: Floats, enable: float
) -> tuple[tuple[Floats, Floats, Floats, Floats], Missing]:
    """Return what each receiver sees before a space is sent: levels, false spaces, and what may start a character."""
    seen = times(contour)
    until = next((place for place, bit in enumerate(asked.bits) if not bit), None)
    kept = seen <= (math.inf if until is None else enable + until * (asked.interval if until else 0.0))
    early = sampling_of([bus.node(name) for name in lines.receivers], {}).early
    false_space, missing = np.full(len(lines.receivers), math.nan), []
    for index, name in enumerate(lines.receivers):
        part = bus.node(name).transceiver
        assert part is not None
        upper, hysteresis = part.receiver_upper_threshold, part.receiver_hysteresis
        if upper is None or upper.max is None:
            missing.append((name, "transceiver.receiver_upper_threshold (its max)"))
            continue
        border = upper.max - (0.0 if hysteresis is None or hysteresis.min is None else hysteresis.min)
        false_space[index] = _longest_below(voltage[index, kept], border) * contour.step
    levels = voltage[:, kept]
    return (levels.min(axis=1), levels.max(axis=1), false_space, early * asked.interval), tuple(missing)


def _longest_below(level: Floats, border: float) -> float:
    """Return the longest run of samples below a border, its ends by straight lines."""
    below = np.concatenate(([False], level < border, [False]))
    change = np.flatnonzero(np.diff(below.astype(np.int8)))
    longest = 0.0
    for first, last in change.reshape(-1, 2):
        # from the sample before to the sample behind, each as far as the border
        head = (level[first - 1] - border) / (level[first - 1] - level[first]) if first else 1.0
        tail = (border - level[last - 1]) / (level[last] - level[last - 1]) if last < len(level) else 0.0
        longest = max(longest, last - first - head + tail)
    return longest
