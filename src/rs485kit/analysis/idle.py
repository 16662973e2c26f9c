"""Idle levels: what every receiver sees while nobody drives."""

import math
from typing import TypeAlias

import attrs
import numpy as np
from numpy.typing import NDArray

from rs485kit.analysis.results import Array, Missing, PerNode, Rebuilt, read_only, unit
from rs485kit.errors import MissingDataError
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Node
from rs485kit.network import Network, idle_network
from rs485kit.network.assembly import rail_variants
from rs485kit.solvers.nodal import potentials

Indices: TypeAlias = NDArray[np.intp]

LOWEST, HIGHEST = -7.0, 12.0
MATCHED_LOW, MATCHED_HIGH = -3.0, 5.0
BORDER_OVER_CUSTOM = 12.0 / 15.0
SETTLED = 1e-9


@attrs.frozen(kw_only=True)
class IdleVoltage:
    """Idle voltage of one receiver.

    Parameters
    ----------
    nominal : float
        With every input pulling to its own input reference [V].
    matched_lower, matched_upper : float
        Least and largest with both inputs of each receiver pulling to one and the same voltage anywhere inside
        the unit-load border [V].
    """

    nominal: float
    matched_lower: float
    matched_upper: float

    dimensioned_parts = ("nominal", "matched_lower", "matched_upper")


@attrs.frozen(kw_only=True, eq=False)
class IdleVoltages(Rebuilt):
    """Idle voltages of all receivers.

    Parameters
    ----------
    nominal : array
        With every input pulling to its own input reference [V].
    matched_lower, matched_upper : array
        Least and largest with both inputs of each receiver pulling to one and the same voltage anywhere inside
        the unit-load border [V].
    """

    nominal: Array = attrs.field(converter=read_only, metadata=unit("V"))
    matched_lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    matched_upper: Array = attrs.field(converter=read_only, metadata=unit("V"))

    dimensioned_parts = IdleVoltage.dimensioned_parts


@attrs.frozen(kw_only=True)
class IdleLevel:
    """Idle level of one receiver.

    Parameters
    ----------
    node : str
        Name of the node [-].
    voltage : IdleVoltage
        Differential voltage at its own terminals [V].
    threshold : float
        Voltage above which it surely reads mark [V].
    margin : float
        The smaller of nominal and matched voltage, less the threshold [V].
    """

    node: str
    voltage: IdleVoltage = attrs.field(metadata=unit("V"))
    threshold: float = attrs.field(metadata=unit("V"))
    margin: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class IdleLevels(PerNode[IdleLevel]):
    """Idle levels of the nodes that receive.

    Parameters
    ----------
    nodes : tuple of str
        The receivers, in bus order [-].
    voltage : IdleVoltages
        Differential voltage at their own terminals [V].
    threshold : array
        Voltage above which each surely reads mark [V].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    voltage: IdleVoltages = attrs.field(metadata=unit("V"))
    threshold: Array = attrs.field(converter=read_only, metadata=unit("V"))
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @property
    def margin(self) -> Array:
        """The smaller of nominal and matched voltage, less the threshold [V]."""
        return read_only(np.minimum(self.voltage.nominal, self.voltage.matched_lower) - self.threshold)

    def _margin(self, index: int) -> float:
        return float(self.margin[index])

    def _row(self, index: int) -> IdleLevel:
        parts = {part: float(getattr(self.voltage, part)[index]) for part in IdleVoltage.dimensioned_parts}
        return IdleLevel(
            node=self.nodes[index],
            voltage=IdleVoltage(**parts),
            threshold=float(self.threshold[index]),
            margin=self._margin(index),
        )


@as_analysis()
def idle_levels(analyses: Analyses) -> IdleLevels:
    """Return the idle level of every receiver, solved over the whole network.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    IdleLevels
        Rows per receiver [V].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.

    Notes
    -----
    Kirchhoff's current law for the conductors of the bus with every driver off. *Nominal*: a receiver input is
    12 kohm per unit load to its input reference. *Matched*: it is 15 kohm per unit load to a voltage w, the same
    for both inputs of a receiver, anywhere in -3 V .. +5 V against its own common, and as far beyond as its lines
    stand; by linearity the extremes are V0 + sum(min or max of s_i w_i) with the response s_i to each w_i. It is
    the adverse common mode. Outside -7 V .. +12 V the border says nothing, and no row is known.

    All other figures are nominal; a driver that is off loads the pair only by its unit load. A bias supply that
    is down is tried open and at its common; the worse counts.

    References
    ----------
    Border of a unit load: Texas Instruments SLLA166, equivalent circuit of 15 kohm to -3 V and +5 V.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="eighth load", unit_load=0.125, receiver_upper_threshold="200 mV")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> bias = rk.Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km")
    >>> nodes = [rk.Node(name="head", transceiver=part, terminations=end, biases=bias),
    ...          rk.Node(name="tail", transceiver=part, terminations=end)]
    >>> idle = rk.analysis.idle_levels(rk.daisy_chain(nodes, spacing="1.2 km", cable=pair))
    >>> round(idle.at("tail").voltage.nominal, 4)
    0.1469
    """
    bus = analyses.bus
    variants = [_solved(idle_network(bus, rails=rails), bus.nodes) for rails in rail_variants(bus)]
    receivers = [index for index, node in enumerate(bus.nodes) if node.listens]
    nominal = np.min([variant.nominal[receivers] for variant in variants], axis=0)
    lower = np.min([variant.lower[receivers] for variant in variants], axis=0)
    upper = np.max([variant.upper[receivers] for variant in variants], axis=0)
    nodes = [bus.nodes[index] for index in receivers]
    thresholds = [_threshold(node) for node in nodes]
    missing = [
        (node.name, "transceiver.receiver_upper_threshold (its max)")
        for node, threshold in zip(nodes, thresholds, strict=True)
        if math.isnan(threshold)
    ]
    return IdleLevels(
        nodes=tuple(node.name for node in nodes),
        voltage=IdleVoltages(nominal=nominal, matched_lower=lower, matched_upper=upper),
        threshold=thresholds,
        missing=tuple(missing),
        assumed=variants[0].assumed,
    )


def _threshold(node: Node) -> float:
    figure = node.transceiver.receiver_upper_threshold if node.transceiver is not None else None
    return math.nan if figure is None or figure.max is None else figure.max


@attrs.frozen(kw_only=True, eq=False)
class _Solved:
    """Differential voltage at every node's own terminals, under the two readings."""

    nominal: Array
    lower: Array
    upper: Array
    assumed: tuple[str, ...]


def _solved(network: Network, nodes: tuple[Node, ...]) -> _Solved:
    potential = _potentials(network, network.emf[:, None], network.given[:, None])[:, 0]
    own = potential[network.terminals]
    nominal = own[:, 0] - own[:, 1]
    loaded = _loaded(network)
    _refuse_outside(network, own, loaded)
    lower, upper = _matched(network, loaded)
    return _Solved(nominal=nominal, lower=lower, upper=upper, assumed=network.assumed)


def _potentials(network: Network, emf: Array, given: Array) -> Array:
    return potentials(network.layout, network.branches, network.injected(emf), network.fixed, given)


def _loaded(network: Network) -> Indices:
    """Return the vertices whose receivers load the pair."""
    inputs = network.branches_of("input")[::2]
    place = {name: index for index, name in enumerate(network.nodes)}
    return np.array([place[network.owners[index]] for index in inputs], dtype=np.intp)


def _refuse_outside(network: Network, own: Array, loaded: Indices) -> None:
    """Refuse lines at which the border of a unit load says nothing."""
    against = own[loaded, :2] - own[loaded, 2:]
    outside = ((against < LOWEST) | (against > HIGHEST)).any(axis=1)
    if outside.any():
        names = [network.nodes[loaded[index]] for index in np.flatnonzero(outside)[:3]]
        volts = against[outside][0]
        raise MissingDataError(
            "idle levels",
            tuple(f'input current of "{name}" beyond -7 V .. +12 V' for name in names),
            f'the lines of "{names[0]}" stand at {volts[0]:.3g} V and {volts[1]:.3g} V against its own common: '
            "join the commons by a reference conductor, isolate the node, or correct the earth potentials",
        )


def _matched(network: Network, loaded: Indices) -> tuple[Array, Array]:
    """Return the least and largest differential voltage over one input reference for each receiver."""
    inputs = network.branches_of("input")
    conductance = network.branches.conductance.copy()
    conductance[inputs] *= BORDER_OVER_CUSTOM
    border = attrs.evolve(network, branches=network.branches._replace(conductance=conductance))
    emf = np.zeros((len(network.emf), 1 + len(loaded)))
    emf[:, 0] = network.emf
    emf[inputs, 0] = 0.0
    columns = 1 + np.arange(len(loaded))
    emf[inputs[::2], columns] = emf[inputs[1::2], columns] = 1.0
    given = np.zeros((len(network.given), emf.shape[1]))
    given[:, 0] = network.given
    own = _potentials(border, emf, given)[network.terminals]
    return _extremes(own[:, 0] - own[:, 1], (own[:, :2] - own[:, 2:])[loaded])


def _extremes(difference: Array, against: Array) -> tuple[Array, Array]:
    """Return the extremes of the differences over the references, widened while some line stands beyond them.

    `difference` and `against` hold a constant column and the response to each reference; `against` is of the two
    lines of each loaded node against its own common.
    """
    low, high = _references(against[..., 0], against[..., 1:])
    response = difference[:, 1:]
    lower = difference[:, 0] + np.minimum(response * low, response * high).sum(axis=1)
    upper = difference[:, 0] + np.maximum(response * low, response * high).sum(axis=1)
    return lower, upper


def _references(constant: Array, response: Array) -> tuple[Array, Array]:
    """Return how far down and up the reference of each loaded node's inputs reaches.

    A current of zero is inside the border at any voltage beyond -3 V .. +5 V, so a reference goes as far as the
    farther of its two lines goes, which the references move in turn. With y = (-low, high), y = max(c + W y) over
    the two lines, W >= 0: Newton's steps from below, which are exact as the right side is convex, kept inside the
    border. Where a step is not positive the matrix has no finite answer, and the border's end is one. A step that is
    cut short there may take others too far, which errs on the wide side.
    """
    count = len(constant)
    with_own, with_other = response.clip(0.0), -response.clip(None, 0.0)
    offset = np.concatenate((-constant, constant))
    weight = np.block([[[with_own, with_other]], [[with_other, with_own]]])
    reach = np.repeat((-MATCHED_LOW, MATCHED_HIGH), count)
    end = np.repeat((-LOWEST, HIGHEST), count)
    while True:
        lines = offset + weight @ reach
        beyond = lines.max(axis=1) - reach
        moving = np.flatnonzero((beyond > SETTLED) & (reach < end))
        if not len(moving):
            return -reach[:count], reach[count:]
        matrix = np.eye(len(moving)) - weight[moving, lines[moving].argmax(axis=1)][:, moving]
        step = _solution_or_nan(matrix, beyond[moving])
        reach[moving] = np.minimum(reach[moving] + step, end[moving]) if (step > 0).all() else end[moving]


def _solution_or_nan(matrix: Array, right: Array) -> Array:
    try:
        solution = np.linalg.solve(matrix, right).astype(np.float64)
    except np.linalg.LinAlgError:
        return np.full(len(right), np.nan)
    return solution
