"""What hangs on a driver's terminals, and what stands across the resistors of a bus, idle and driven."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from rs485kit.model import Bus, Node
from rs485kit.network.assembly import Floats, Indices, Network
from rs485kit.network.border import Bounded, border_box, bounded_outputs, inputs_of, read_inputs
from rs485kit.network.driving import Driver, driver_of, nominal_levels, tied_to_drivers
from rs485kit.solvers.bounds import Interval
from rs485kit.solvers.enclosure import Pairs, solved_middle
from rs485kit.solvers.nodal import Branches, joined_parts, potentials


class Load(NamedTuple):
    """Resistance that a bus shows to drivers, arrays of shape (drivers,); NaN where a limit is not stated."""

    lower: Floats
    nominal: Floats
    upper: Floats


def drivers_of(bus: Bus) -> tuple[Driver, ...]:
    """Return the drivers of a bus: those of nodes with supply that ever drive.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    tuple of Driver
        The drivers, in bus order [-].
    """
    return tuple(driver_of(node, index) for index, node in enumerate(bus.nodes) if _drives(node))


def _drives(node: Node) -> bool:
    return node.transceiver is not None and node.drives and node.powered


def load_of_drivers(network: Network, nodes: tuple[Node, ...], drivers: tuple[Driver, ...]) -> Load:
    """Return the resistance that the bus shows to each driver.

    Parameters
    ----------
    network : Network
        The network [-].
    nodes : tuple of Node
        The nodes of its bus [-].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    Load
        Nominal value and exact limits; infinite where nothing joins the two lines [ohm].

    Notes
    -----
    The resistance between two terminals of a network of resistors falls when any conductance rises (Rayleigh), so its
    limits are those with all conductances at their upper and at their lower limits. Receiver inputs are 12 kohm per
    unit load nominally; their limits are 15 kohm, the slope of the border, and 12 kohm.
    """
    inputs = inputs_of(network, nodes)
    box, custom = border_box(network, inputs, "independent"), network.branches.conductance
    upper = box.upper.copy()
    upper[inputs.branches] = np.maximum(upper[inputs.branches], custom[inputs.branches])
    corners = Branches(box.start, box.end, np.stack((upper, custom, box.lower), axis=1))
    own = network.terminals[[driver.vertex for driver in drivers], :2]
    each = np.arange(len(drivers))
    injected = np.zeros((network.layout.size, 3, len(drivers)))
    injected[own[:, 0], :, each] = 1.0
    injected[own[:, 1], :, each] = -1.0
    nothing = np.zeros((len(network.fixed), 3, len(drivers)))
    potential = potentials(network.layout, corners, injected, network.fixed, nothing)
    across = potential[own[:, 0], :, each] - potential[own[:, 1], :, each]
    part = joined_parts(network.layout.size, box.start[custom > 0], box.end[custom > 0])[own]
    across[part[:, 0] != part[:, 1]] = np.inf
    return Load(*across.T)


def idle_limits(networks: Sequence[Network], nodes: tuple[Node, ...]) -> tuple[Interval, tuple[str, ...]]:
    """Return proved limits of the idle voltage across the pair at every place, and where the border may say nothing.

    Parameters
    ----------
    networks : sequence of Network
        The network, for each way in which supplies that are down may stand [-].
    nodes : tuple of Node
        The nodes of the bus [-].

    Returns
    -------
    tuple
        Limits of noninverting minus inverting line of the bus, shape (nodes,), and names of nodes; NaN where nothing is
        proved [V].
    """
    unknown = np.full(len(nodes), np.nan)
    found: list[Bounded] = []
    outside: list[str] = []
    for network in networks:
        if network.unstated:
            return Interval(unknown, unknown), ()
        inputs = inputs_of(network, nodes)
        middle = solved_middle(border_box(network, inputs, "independent"))
        read = read_inputs(network, inputs, middle, "independent")
        outside += read.outside
        own = network.terminals[:, :2]
        found.append(bounded_outputs(middle, read, Pairs(own.min(axis=1), own.max(axis=1))))
    if outside:
        return Interval(unknown, unknown), tuple(dict.fromkeys(outside))
    lower, upper = np.min([each.lower for each in found], axis=0), np.max([each.upper for each in found], axis=0)
    return Interval(lower, upper), ()


def nominal_states(network: Network, pairs: Pairs, drivers: tuple[Driver, ...]) -> Floats:
    """Return nominal voltages of pairs of terminals in every state of the bus.

    Parameters
    ----------
    network : Network
        The network [-].
    pairs : Pairs
        The pairs; the second of each may be a common that stands at a given potential [-].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    array, shape (1 + 2 drivers, pairs)
        Idle, then mark from each driver, then space; NaN where a driver is not stated [V].
    """
    injected = network.injected(network.emf[:, None])
    given = network.given[:, None]
    potential = potentials(network.layout, network.branches, injected, network.fixed, given)[:, 0]
    idle = (potential[pairs.plus] - potential[pairs.minus])[None]
    if not drivers:
        return idle
    mark, space = nominal_levels(tied_to_drivers(network, drivers), pairs, drivers)
    held = np.zeros(network.layout.size)
    held[network.fixed] = network.given
    shift = held[pairs.plus] - held[pairs.minus]
    return np.concatenate((idle, mark + shift, space + shift))


def line_pairs(network: Network, vertices: Sequence[int], lines: Sequence[int | None]) -> Pairs:
    """Return the pair of a node's own terminals for each resistor: line against common, or line against line.

    Parameters
    ----------
    network : Network
        The network [-].
    vertices : sequence of int
        The node of each resistor [-].
    lines : sequence of int or None
        The line on which a leg stands (0: noninverting); None: the resistor stands across the pair [-].

    Returns
    -------
    Pairs
        The pairs [-].
    """
    own: Indices = network.terminals[list(vertices)]
    plus = [row[line or 0] for row, line in zip(own, lines, strict=True)]
    minus = [row[1 if line is None else 2] for row, line in zip(own, lines, strict=True)]
    return Pairs(np.array(plus, dtype=np.intp), np.array(minus, dtype=np.intp))
