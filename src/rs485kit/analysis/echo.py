"""Loop-back: how long after it has sent a bit a node hears it itself, through its own barrier both ways."""

import math
from typing import NamedTuple

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.bit_budget import frame_of, sampling_of
from rs485kit.analysis.bit_time import BitTimings, bit_timing
from rs485kit.analysis.results import Array, Missing, PerNode, read_only, unit
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Node
from rs485kit.model.base import Viewed
from rs485kit.solvers.laplace import FULL_DURATION
from rs485kit.units import MinTypMax

HALF = 0.5


class _Delay(NamedTuple):
    """A delay by its least, nominal and largest value; NaN where it is not stated [s]."""

    least: float
    nominal: float
    most: float


@attrs.frozen(kw_only=True)
class LoopBack(Viewed):
    """How a node hears itself.

    Parameters
    ----------
    node : str
        Name of the node [-].
    earliest, nominal, latest : float
        Delay from its data output through barrier, driver, line, receiver and barrier to its data input [s].
    share : float
        The latest as a share of a bit [-].
    echo : float
        Time from the beginning of a character at its data output until its receiver has logged it, at the latest [s].
    margin : float
        What is left of a bit where each is compared as it is sent: first sample less latest delay, in unit intervals
        [-].
    """

    node: str
    earliest: float = attrs.field(metadata=unit("s"))
    nominal: float = attrs.field(metadata=unit("s"))
    latest: float = attrs.field(metadata=unit("s"))
    share: float
    echo: float = attrs.field(metadata=unit("s"))
    margin: float


@attrs.frozen(kw_only=True, eq=False)
class LoopBacks(PerNode[LoopBack]):
    """How the nodes that drive and listen hear themselves.

    Parameters
    ----------
    nodes : tuple of str
        Nodes whose receiver may be on while they drive, in bus order [-].
    earliest, nominal, latest : array
        Delay from data output to data input [s].
    share : array
        The latest as a share of a bit [-].
    echo : array
        Time until a character has been logged again, at the latest [s].
    bit_margin : array
        What is left of a bit where each is compared as it is sent, in unit intervals [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    earliest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    nominal: Array = attrs.field(converter=read_only, metadata=unit("s"))
    latest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    share: Array = attrs.field(converter=read_only)
    echo: Array = attrs.field(converter=read_only, metadata=unit("s"))
    bit_margin: Array = attrs.field(converter=read_only)
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @override
    def _row(self, index: int) -> LoopBack:
        names = ("earliest", "nominal", "latest", "share", "echo")
        figures = {name: float(getattr(self, name)[index]) for name in names}
        return LoopBack(node=self.nodes[index], margin=float(self.bit_margin[index]), **figures)

    @override
    def _margin(self, index: int) -> float:
        return float(self.bit_margin[index])


@as_analysis()
def loop_back(analyses: Analyses) -> LoopBacks:
    """Return how long after it has sent a bit each node hears it itself.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    LoopBacks
        Rows per node that drives and listens, but for those whose receiver is off while they drive [s].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on, the data rate among them.
    SolveError
        If the lines cannot be resolved.

    Notes
    -----
    The delays of the barrier towards the bus, the driver, the receiver and the barrier from the bus, and what the line
    at the driver's own terminals adds or takes by its edges and the receiver's thresholds (`bit_timing`, of the
    driver hearing itself). A character comes back whole (frame - 1/2) bits and this delay after its beginning, when its
    stop bit is sampled. Who compares bit by bit has until the first sample of that same bit.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="100 ns", receiver_upper_threshold="200 mV",
    ...                       receiver_lower_threshold="-200 mV", driver_delay="150 ns", receiver_delay="100 ns")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name=name, transceiver=part, terminations=end) for name in ("head", "tail")]
    >>> bus = rk.daisy_chain(nodes, spacing="600 m", cable=pair, link=rk.Link(data_rate="1 Mbit/s"))
    >>> round(1e9 * rk.analysis.loop_back(bus).at("head").nominal)
    257
    """
    timings = bit_timing(analyses)
    bus = analyses.bus
    names = [name for name in timings.drivers if name in timings.receivers and bus.node(name).hears_itself is not False]
    nodes = [bus.node(name) for name in names]
    early = sampling_of(nodes, {}).early
    missing: list[tuple[str, str]] = []
    rows = []
    for node in nodes:
        own = _through(node, missing)
        line = _at_own_terminals(node, timings)
        both = (first + second for first, second in zip(own, line, strict=True))
        rows.append(tuple(each if math.isnan(each) else max(0.0, each) for each in both))
    least, nominal, most = np.array(rows, dtype=np.float64).reshape(-1, 3).T
    sampled = frame_of(bus).bits - HALF
    missing += [lack for lack in timings.missing if lack[0] in names]
    return LoopBacks(
        nodes=tuple(names), earliest=least, nominal=nominal, latest=most, share=most / timings.interval,
        echo=sampled * timings.interval + most, bit_margin=early - most / timings.interval,
        missing=tuple(dict.fromkeys(missing)), assumed=timings.assumed,
    )  # fmt: skip


def _through(node: Node, missing: list[tuple[str, str]]) -> _Delay:
    """Return the delays of a node's parts in a row."""
    part = node.transceiver
    assert part is not None
    total = [0.0, 0.0, 0.0]
    delays: list[tuple[MinTypMax | None, str]] = [
        (part.driver_delay, "transceiver.driver_delay"), (part.receiver_delay, "transceiver.receiver_delay")
    ]  # fmt: skip
    if node.barrier is not None:
        channels = () if node.barrier.isolator is None else node.barrier.isolator.channels
        for purpose in ("transmit", "receive"):
            own = next((each.delay for each in channels if each.purpose == purpose), None)
            delays.append((own, f'barrier.isolator.channels (delay, "{purpose}")'))
    for figure, field in delays:
        members = (math.nan,) * 3 if figure is None else (figure.min, figure.nominal, figure.max)
        for index, (value, name) in enumerate(zip(members, ("its min", "its typical value", "its max"), strict=True)):
            total[index] += math.nan if value is None else value
            if value is None:
                missing.append((node.name, f"{field} ({name})"))
        if figure is None:
            missing.append((node.name, field))
    return _Delay(*total)


def _at_own_terminals(node: Node, timings: BitTimings) -> _Delay:
    """Return by how much edges at the driver's own terminals are earlier or later than the middle of what it sends."""
    part = node.transceiver
    assert part is not None
    row, column = timings.drivers.index(node.name), timings.receivers.index(node.name)
    edge = part.driver_edge_time
    length = math.nan if edge is None or edge.nominal is None else edge.nominal
    half = length * FULL_DURATION[part.driver_edge_shape] / 2.0
    early = min(timings.rise_earliest[row, column], timings.fall_earliest[row, column])
    late = max(timings.rise_latest[row, column], timings.fall_latest[row, column])
    return _Delay(float(early) - half, float(early + late) / 2.0 - half, float(late) - half)
