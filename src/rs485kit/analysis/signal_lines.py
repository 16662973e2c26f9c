"""What every answer about signals in time rests on: the bus as lines, its drivers, and the levels at rest."""

import math

import attrs
import numpy as np

from rs485kit.analysis.results import Array, Missing, Rebuilt, read_only, unit
from rs485kit.errors import MissingDataError, listed
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.network import idle_network
from rs485kit.network.assembly import Indices
from rs485kit.network.cable_lines import NOMINAL, Pick
from rs485kit.network.driving import driver_of, nominal_levels, tied_to_drivers
from rs485kit.network.responses import AT_REST, duration, gains, transfers
from rs485kit.network.signals import SignalNetwork, Source, drives, signal_network
from rs485kit.solvers.enclosure import Pairs
from rs485kit.solvers.laplace import STEPS_PER_EDGE

MARK_LEFT = "mark is left to the bias, so that the pair is not driven throughout"


@attrs.frozen(kw_only=True, eq=False)
class SignalLines(Rebuilt):
    """Lines, drivers and receivers of a bus, and where the pair comes to rest.

    Parameters
    ----------
    network : SignalNetwork
        Lines and loads [any].
    drivers : tuple of str
        Nodes that drive, in bus order [-].
    receivers : tuple of str
        Nodes that listen, in bus order [-].
    sources : tuple of Source
        The drivers that state what is needed, in bus order [-].
    rows : tuple of int
        Which of `drivers` each source is [-].
    vertices : tuple of int
        Vertices of the receivers [-].
    middle : array, shape (sources, receivers)
        Half way between mark and space at rest, which is what bias adds [V].
    swing : array, shape (sources, receivers)
        Mark less space at rest; negative where lines are swapped at one end [V].
    missing : tuple
        Drivers and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    network: SignalNetwork
    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    sources: tuple[Source, ...]
    rows: tuple[int, ...]
    vertices: tuple[int, ...]
    middle: Array = attrs.field(converter=read_only, metadata=unit("V"))
    swing: Array = attrs.field(converter=read_only, metadata=unit("V"))
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @property
    def places(self) -> Indices:
        """Vertices of the receivers."""
        return np.array(self.vertices, dtype=np.intp)

    @property
    def gain(self) -> Array:
        """Swing per volt of each driver's EMF, shape (sources, receivers), positive [-]."""
        emf = np.array([2.0 * abs(source.emf) for source in self.sources])
        return read_only(np.abs(self.swing) / emf[:, None])


@as_analysis()
def signal_lines(analyses: Analyses, *, pick: Pick = NOMINAL, leaning: bool = False) -> SignalLines:
    """Return the lines of a bus with its drivers and the levels at rest.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    pick : Pick
        Which members of the figures are taken [-].
    leaning : bool
        Whether drivers that leave mark to the bias are among the sources, for what they do when they let go [-].

    Returns
    -------
    SignalLines
        The lines [any].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every answer depends on.
    SolveError
        If no line has the figures that a cable states.

    Notes
    -----
    The swing follows from the lines themselves at rest, so that records end where they should; half way between mark
    and space, which no line changes, is that of the nodal network with all its conductors, bias sources and earths.
    """
    bus = analyses.bus
    network = signal_network(bus, pick)
    driving = [node for node in bus.nodes if drives(node)]
    listening = [index for index, node in enumerate(bus.nodes) if node.listens]
    missing = [
        lack
        for node, source in zip(driving, network.sources, strict=True)
        for lack in _lacking(node, source, leaning=leaning)
    ]
    named = {name for name, _ in missing}
    rows = tuple(row for row, node in enumerate(driving) if node.name not in named)
    sources = tuple(network.sources[row] for row in rows)
    if pick.drive == "min":
        # the level at the driver's own terminals, at rest, is what its part guarantees
        own = transfers(network, sources, np.empty(0, dtype=np.intp), AT_REST)[1].real
        sources = tuple(each._replace(emf=each.emf / ratio) for each, ratio in zip(sources, own.tolist(), strict=True))
    vertices = np.array(listening, dtype=np.intp)
    emf = np.array([2.0 * source.emf for source in sources]).reshape(-1, 1)
    sign = np.array([-1.0 if bus.nodes[index].lines_swapped else 1.0 for index in listening])
    return SignalLines(
        network=network,
        drivers=tuple(node.name for node in driving),
        receivers=tuple(bus.nodes[index].name for index in listening),
        sources=sources,
        rows=rows,
        vertices=tuple(listening),
        middle=_middle(bus, rows, driving, vertices),
        swing=gains(network, sources, vertices) * emf * sign,
        missing=tuple(missing),
        assumed=network.assumed,
    )


def replaced_edges(lines: SignalLines, step: float) -> tuple[str, ...]:
    """Return what is to be said of edges that a step does not resolve.

    Parameters
    ----------
    lines : SignalLines
        The lines [-].
    step : float
        The step [s].

    Returns
    -------
    tuple of str
        One sentence, or none [-].
    """
    slowed = [
        each for each in lines.sources
        if any(duration(edge, each, step) > duration(edge, each, 0.0) for edge in (each.rise, each.fall))
    ]  # fmt: skip
    if not slowed:
        return ()
    names = tuple(lines.network.nodes[each.vertex] for each in slowed)
    least = 1e6 * step * STEPS_PER_EDGE[slowed[0].shape]
    what = f"edges shorter than {least:.3g} us in all are solved as long as that"
    return (f"{what}; only their overshoot is looked at as it is ({listed(names, 4)})",)


def stated(lines: SignalLines, driver: str) -> int:
    """Return the row of a driver among the sources.

    Parameters
    ----------
    lines : SignalLines
        The lines [-].
    driver : str
        Name of a node that drives [-].

    Returns
    -------
    int
        The row [-].

    Raises
    ------
    MissingDataError
        If the driver does not state what is needed.
    """
    row = lines.drivers.index(driver)
    if row not in lines.rows:
        lacking = tuple(f'nodes["{name}"].{field}' for name, field in lines.missing if name == driver)
        raise MissingDataError(f"signals of {driver}", lacking)
    return lines.rows.index(row)


def _lacking(node: Node, source: Source, *, leaning: bool) -> list[tuple[str, str]]:
    part = node.transceiver
    assert part is not None
    lacking = []
    if not part.mark_driven and not leaning:
        lacking.append((node.name, f"transceiver.mark_driven ({MARK_LEFT})"))
    if math.isnan(source.emf):
        lacking.append((node.name, "transceiver.driver_open_voltage (its typical value)"))
    elif math.isnan(source.resistance):
        lacking.append((node.name, "transceiver.driver_loaded_voltage (its typical value, at most the open voltage)"))
    if math.isnan(source.rise):
        lacking.append((node.name, "transceiver.driver_edge_time"))
    return lacking


def _middle(bus: Bus, rows: tuple[int, ...], driving: list[Node], receivers: Indices) -> Array:
    vertex = {node.name: index for index, node in enumerate(bus.nodes)}
    drivers = tuple(driver_of(driving[row], vertex[driving[row].name]) for row in rows)
    if not drivers or not len(receivers):
        return np.zeros((len(drivers), len(receivers)))
    network = tied_to_drivers(idle_network(bus), drivers)
    own = network.terminals[receivers]
    mark, space = nominal_levels(network, Pairs(own[:, 0], own[:, 1]), drivers)
    return np.asarray((mark + space) / 2.0)
