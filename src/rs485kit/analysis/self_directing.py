"""Drivers that enable themselves: where bias has to make the marks, and at which rates and capacitances it can."""

import math
from typing import Literal, TypeAlias

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.bit_budget import USUAL_CLOCK_TOLERANCE, frame_of, sampling_of
from rs485kit.analysis.idle import idle_levels
from rs485kit.analysis.idle_tail import IdleTails, idle_tails
from rs485kit.analysis.results import Array, Missing, PerNode, read_only, unit
from rs485kit.analysis.signal_lines import signal_lines
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.model.base import Viewed
from rs485kit.network.signals import SignalNetwork

Control: TypeAlias = Literal["one-shot", "data"]


@attrs.frozen(kw_only=True)
class SelfDirection(Viewed):
    """What one driver that enables itself leaves to the bias.

    Parameters
    ----------
    node : str
        Name of the node [-].
    control : str
        "one-shot" or "data" [-].
    receiver : str
        The receiver at which the marks that it leaves are worst; empty where none is known [-].
    level : float
        Lowest nominal level of a mark that it leaves, which is an idle level [V].
    margin : float
        The smaller of nominal and matched idle level there, less the threshold [V].
    pull_time : float
        Longest time from the end of a space, or of what is driven of a mark, until every receiver reads mark; infinite:
        some never do [s].
    lowest_rate : float
        Data rate from which on it holds the pair throughout a character; infinite for one that is enabled by data, 0
        where nothing is ever left [bit/s].
    largest_rate : float
        Data rate up to which its marks are read in time, where they are left to the bias; infinite where it holds them
        [bit/s].
    capacitance : float
        Capacitance between the lines: cable and nodes [F].
    largest_capacitance : float
        The same at which the marks would be read just in time at the data rate of the link; infinite where nothing is
        left to the bias, or where the marks are read throughout [F].
    """

    node: str
    control: Control
    receiver: str
    level: float = attrs.field(metadata=unit("V"))
    margin: float = attrs.field(metadata=unit("V"))
    pull_time: float = attrs.field(metadata=unit("s"))
    lowest_rate: float = attrs.field(metadata=unit("bit/s"))
    largest_rate: float = attrs.field(metadata=unit("bit/s"))
    capacitance: float = attrs.field(metadata=unit("F"))
    largest_capacitance: float = attrs.field(metadata=unit("F"))


@attrs.frozen(kw_only=True, eq=False)
class SelfDirections(PerNode[SelfDirection]):
    """What the drivers that enable themselves leave to the bias.

    Parameters
    ----------
    nodes : tuple of str
        Nodes with such a driver, in bus order [-].
    control : tuple of str
        "one-shot" or "data" [-].
    receivers : tuple of str
        Where the marks that each leaves are worst [-].
    level : array
        Lowest nominal level of a mark that it leaves [V].
    level_margin : array
        The smaller of nominal and matched idle level there, less the threshold [V].
    pull_time : array
        Longest time until every receiver reads mark [s].
    lowest_rate, largest_rate : array
        Data rates from which on it holds the pair throughout a character, and up to which marks are read in time
        [bit/s].
    capacitance : float
        Capacitance between the lines [F].
    largest_capacitance : array
        Capacitance at which marks would be read just in time [F].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    control: tuple[Control, ...]
    receivers: tuple[str, ...]
    level: Array = attrs.field(converter=read_only, metadata=unit("V"))
    level_margin: Array = attrs.field(converter=read_only, metadata=unit("V"))
    pull_time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    lowest_rate: Array = attrs.field(converter=read_only, metadata=unit("bit/s"))
    largest_rate: Array = attrs.field(converter=read_only, metadata=unit("bit/s"))
    capacitance: float = attrs.field(metadata=unit("F"))
    largest_capacitance: Array = attrs.field(converter=read_only, metadata=unit("F"))
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @override
    def _row(self, index: int) -> SelfDirection:
        names = ("level", "pull_time", "lowest_rate", "largest_rate", "largest_capacitance")
        figures = {name: float(getattr(self, name)[index]) for name in names}
        return SelfDirection(
            node=self.nodes[index], control=self.control[index], receiver=self.receivers[index],
            margin=self._margin(index), capacitance=self.capacitance, **figures,
        )  # fmt: skip

    @override
    def _margin(self, index: int) -> float:
        return float(self.level_margin[index])


def control_of(node: Node) -> Control | None:
    """Return how a node's driver enables itself, None where something else does.

    Parameters
    ----------
    node : Node
        The node [-].

    Returns
    -------
    str or None
        "one-shot", "data" or None [-].
    """
    if node.transceiver is None or not node.drives or not node.powered:
        return None
    if not node.transceiver.mark_driven or node.direction == "data":
        return "data"
    return "one-shot" if node.direction == "one-shot" else None


@as_analysis()
def self_direction(analyses: Analyses) -> SelfDirections:
    """Return what drivers that enable themselves leave to the bias, and up to which rate and capacitance it can do it.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    SelfDirections
        Rows per node whose driver is enabled by a one-shot or by its data [V, s, bit/s].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.
    SolveError
        If nothing discharges the pair, or it does not come to rest.

    Notes
    -----
    *Data.* The driver is on for every space. A mark begins with what it still drives of it (`mark_drive_time`) or, if
    that is nothing, with the pair let go at space; then bias and terminators alone make the level, which is the idle
    level, and they make it in the time of the idle tail. A mark that comes late by the tail t is read in time up to
    the rate

        (early - drift) / t,

    early being the first sample as a share of a bit and drift what the clocks take at the stop bit (1 % each where
    nothing is stated). The tail grows with the capacitance between the lines, and so the largest capacitance is to the
    present one as the time that there is to the tail. The flight to a receiver counts as part of the tail.

    *One-shot.* The driver stays on for a time from the beginning of each space. Over a character of n bits it holds
    throughout if that time is n bits or more: a character of marks alone has no space but the start bit. Below that
    rate it lets go inside characters, at mark, and the level falls to the idle level.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns", receiver_upper_threshold="200 mV", mark_driven=False,
    ...                       mark_drive_time="0 s", driver_disable_time="100 ns")
    >>> bias = rk.Bias(pull_up="4.7 kohm", pull_down="4.7 kohm", supply="5 V")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name="head", transceiver=part, biases=bias), rk.Node(name="tail", transceiver=part)]
    >>> bus = rk.daisy_chain(nodes, spacing="300 m", cable=pair, link=rk.Link(data_rate="9.6 kbit/s"))
    >>> round(rk.analysis.self_direction(bus).at("head").largest_rate, -2)
    3800.0
    """
    bus = analyses.bus
    nodes = [node for node in bus.nodes if control_of(node) is not None]
    missing: list[tuple[str, str]] = []
    if not nodes:
        nothing = np.empty(0)
        return SelfDirections(
            nodes=(), control=(), receivers=(), level=nothing, level_margin=nothing, pull_time=nothing,
            lowest_rate=nothing, largest_rate=nothing, capacitance=math.nan, largest_capacitance=nothing,
        )  # fmt: skip
    tails, levels = idle_tails(analyses), idle_levels(analyses)
    margins = dict(zip(levels.nodes, levels.margin.tolist(), strict=True))
    allowed = _allowed(bus, tails)
    total = capacitance_of(signal_lines(analyses, leaning=True).network)
    rate = None if bus.link is None else bus.link.data_rate
    rows, receivers = [], []
    for node in nodes:
        row = tails.drivers.index(node.name)
        heard = [column for column, name in enumerate(tails.receivers) if name != node.name]
        pull = _pull_times(node, tails, row, missing)
        worst = min(heard, key=lambda column: (margins[tails.receivers[column]], tails.receivers[column]), default=None)
        name = "" if worst is None else tails.receivers[worst]
        receivers.append(name)
        lowest = _lowest_rate(bus, node, missing)
        slowest = max((float(pull[column]) for column in heard), default=math.nan)
        unknown = any(math.isnan(pull[column]) for column in heard)
        slowest = math.nan if unknown else slowest
        largest = math.nan if math.isnan(slowest) else math.inf
        capacity = math.inf
        for column in heard:
            if pull[column] > 0:
                largest = min(largest, float(allowed[column] / pull[column]))
                there_is = math.nan if rate is None else float(allowed[column] / rate)
                capacity = min(capacity, total * there_is / float(pull[column]))
        if control_of(node) == "one-shot" and rate is not None and rate >= lowest:
            largest, capacity = math.inf, math.inf
        level = math.nan if worst is None else float(levels.voltage.nominal[levels.nodes.index(name)])
        rows.append((level, margins.get(name, math.nan), slowest, lowest, largest, math.nan if unknown else capacity))
    level, margin, slowest_pull, low, high, most = np.array(rows, dtype=np.float64).T
    own = {node.name for node in nodes}
    missing += [lack for lack in tails.missing if lack[0] in own or lack[0] in receivers]
    return SelfDirections(
        nodes=tuple(node.name for node in nodes), control=tuple(control_of(node) or "data" for node in nodes),
        receivers=tuple(receivers), level=level, level_margin=margin, pull_time=slowest_pull, lowest_rate=low,
        largest_rate=high, capacitance=total, largest_capacitance=most, missing=tuple(dict.fromkeys(missing)),
        assumed=tails.assumed,
    )  # fmt: skip


def _pull_times(node: Node, tails: IdleTails, row: int, missing: list[tuple[str, str]]) -> Array:
    """Return the time from when a driver lets go, of a mark or the space before it, until each receiver reads mark."""
    part = node.transceiver
    assert part is not None
    if control_of(node) == "one-shot":
        return np.asarray(tails.from_mark[row])
    driven = part.mark_drive_time
    if driven is None or driven.min is None:
        missing.append((node.name, "transceiver.mark_drive_time (its min)"))
        return np.full(len(tails.receivers), np.nan)
    if driven.min > 0.0:
        return np.asarray(tails.from_mark[row])
    off = part.driver_disable_time
    if off is None or off.max is None:
        missing.append((node.name, "transceiver.driver_disable_time (its max)"))
        return np.full(len(tails.receivers), np.nan)
    return np.asarray(tails.from_space[row] + off.max)


def _allowed(bus: Bus, tails: IdleTails) -> Array:
    """Return the share of a bit by which a mark may begin late at each receiver."""
    listeners = [bus.node(name) for name in tails.receivers]
    last = (frame_of(bus).bits if bus.link is not None else 10) - 1
    errors = [USUAL_CLOCK_TOLERANCE if node.clock_tolerance is None else node.clock_tolerance for node in bus.nodes]
    slowest = 1.0 / (1.0 - max(errors))
    own = np.array([USUAL_CLOCK_TOLERANCE if n.clock_tolerance is None else n.clock_tolerance for n in listeners])
    early = sampling_of(listeners, {}).early
    return np.maximum((last + early) / (1.0 + own) - last * slowest, 0.0)


def _lowest_rate(bus: Bus, node: Node, missing: list[tuple[str, str]]) -> float:
    """Return the data rate from which on a driver holds the pair throughout a character."""
    if control_of(node) == "data":
        return math.inf
    hold = node.one_shot_hold
    if hold is None or hold.min is None:
        missing.append((node.name, "one_shot_hold (its min)"))
        return math.nan
    frame = frame_of(bus) if bus.link is not None else None
    bits = 10 if frame is None else frame.bits - 1 + frame.stops
    return math.inf if hold.min == 0 else bits / hold.min


def capacitance_of(network: SignalNetwork) -> float:
    """Return the capacitance between the lines of a bus: of its cable and of what stands at its nodes.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].

    Returns
    -------
    float
        Capacitance, without that of RC terminators [F].
    """
    cable = sum(
        network.models[kind].capacitance * length
        for kind, length in zip(network.graph.kind.tolist(), network.graph.length.tolist(), strict=True)
    )
    nodes = sum(network.loads[kind].capacitance for kind in network.graph.load.tolist() if kind >= 0)
    return float(cable + nodes)
