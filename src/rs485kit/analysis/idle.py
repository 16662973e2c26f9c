"""Idle levels: what every receiver sees while nobody drives."""

import math
from typing import NamedTuple

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerNode, Rebuilt, read_only, unit
from rs485kit.errors import OutsideRangeError
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.model.base import Viewed
from rs485kit.network import Network, idle_network
from rs485kit.network.assembly import Indices, field_sides, rail_variants
from rs485kit.network.border import (
    HIGHEST,
    LOWEST,
    Bounded,
    Inputs,
    ReadingName,
    border_box,
    bounded_outputs,
    inputs_of,
    outer_outputs,
    read_inputs,
)
from rs485kit.solvers.bounds import Interval
from rs485kit.solvers.enclosure import Pairs, solved_middle
from rs485kit.solvers.nodal import potentials

IDLE_PARTS = (
    "lower", "nominal", "upper", "attained_lower", "attained_upper",
    "matched_lower", "matched_upper", "matched_attained_lower", "matched_attained_upper",
)  # fmt: skip


@attrs.frozen(kw_only=True)
class IdleVoltage:
    """Idle voltage of one receiver.

    Parameters
    ----------
    lower, upper : float
        Proved limits over all tolerances, each input pulling anywhere inside the unit-load border [V].
    nominal : float
        With every figure nominal and every input pulling to its own input reference [V].
    attained_lower, attained_upper : float
        The worst that some choice inside the tolerances was found to give [V].
    matched_lower, matched_upper : float
        Proved limits over all tolerances, both inputs of a receiver pulling to one voltage inside the border [V].
    matched_attained_lower, matched_attained_upper : float
        The worst that was found under that reading [V].
    """

    lower: float
    nominal: float
    upper: float
    attained_lower: float
    attained_upper: float
    matched_lower: float
    matched_upper: float
    matched_attained_lower: float
    matched_attained_upper: float

    dimensioned_parts = IDLE_PARTS


@attrs.frozen(kw_only=True, eq=False)
class IdleVoltages(Rebuilt):
    """Idle voltages of all receivers; the parts are those of `IdleVoltage`.

    Parameters
    ----------
    lower, upper : array
        Proved limits over all tolerances, each input pulling anywhere inside the unit-load border [V].
    nominal : array
        With every figure nominal and every input pulling to its own input reference [V].
    attained_lower, attained_upper : array
        The worst that some choice inside the tolerances was found to give [V].
    matched_lower, matched_upper : array
        Proved limits over all tolerances, both inputs of a receiver pulling to one voltage inside the border [V].
    matched_attained_lower, matched_attained_upper : array
        The worst that was found under that reading [V].
    """

    lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    nominal: Array = attrs.field(converter=read_only, metadata=unit("V"))
    upper: Array = attrs.field(converter=read_only, metadata=unit("V"))
    attained_lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    attained_upper: Array = attrs.field(converter=read_only, metadata=unit("V"))
    matched_lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    matched_upper: Array = attrs.field(converter=read_only, metadata=unit("V"))
    matched_attained_lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    matched_attained_upper: Array = attrs.field(converter=read_only, metadata=unit("V"))

    dimensioned_parts = IDLE_PARTS


@attrs.frozen(kw_only=True)
class IdleLevel(Viewed):
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
    lumped : float
        What the textbook formula gives, with all resistors at one place and no cable; NaN where no bias is up [V].
    missing : tuple
        Rows and fields that the bus does not state [-].
    unstated : tuple of str
        Limits without which no bound can be given [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    voltage: IdleVoltages = attrs.field(metadata=unit("V"))
    threshold: Array = attrs.field(converter=read_only, metadata=unit("V"))
    lumped: float = attrs.field(metadata=unit("V"))
    missing: Missing = ()
    unstated: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

    @property
    def margin(self) -> Array:
        """The smaller of nominal and matched voltage, less the threshold [V]."""
        return read_only(np.fmin(self.voltage.nominal, self.voltage.matched_lower) - self.threshold)

    @override
    def _margin(self, index: int) -> float:
        return float(self.margin[index])

    @override
    def _row(self, index: int) -> IdleLevel:
        parts = {part: float(getattr(self.voltage, part)[index]) for part in IDLE_PARTS}
        return IdleLevel(
            node=self.nodes[index],
            voltage=IdleVoltage(**parts),
            threshold=float(self.threshold[index]),
            margin=self._margin(index),
        )


@as_analysis()
def idle_levels(analyses: Analyses, *, unpowered: tuple[str, ...] = ()) -> IdleLevels:
    """Return the idle level of every receiver, solved over the whole network, with proved bounds.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    unpowered : tuple of str
        Names of nodes to be taken without supply, whatever the bus says [-].

    Returns
    -------
    IdleLevels
        Rows per receiver [V].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.
    OutsideRangeError
        If lines stand beyond -7 V .. +12 V against the common of a receiver, even nominally.
    UnknownNameError
        If a name in `unpowered` is not that of a node.

    Notes
    -----
    Kirchhoff's current law for the conductors of the bus with every driver off. *Nominal*: a receiver input is
    12 kohm per unit load to its input reference. *Matched*: it is 15 kohm per unit load to a voltage w, the same for
    both inputs of a receiver, anywhere in -3 V .. +5 V against its own common; it is the adverse common mode.
    `lower` and `upper` let every input pull to a voltage of its own inside the border; a part that states
    `input_mismatch` is read with that much difference between its inputs instead.

    All limits are over the tolerances of all figures, each taken by itself: two spans of one cable may differ within
    its limits. They are proved (see the page on the solver): taken about the middle for every receiver and, where the
    signs of the branch voltages are certain, at the receiver's own corner, which is then the extreme itself. A limit
    that the bus does not state leaves the bounds unknown (NaN) and is named in `unstated`.

    A driver that is off loads the pair only by its unit load. A bias supply that is down is tried open and at its
    common; the worse counts. Outside -7 V .. +12 V the border says nothing, and no bound is known.

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
    >>> round(idle.at("tail").voltage.nominal, 4), round(idle.lumped, 4)
    (0.1469, 0.2776)
    """
    return settled_idle(analyses, unpowered=unpowered).levels


class SettledIdle(NamedTuple):
    """Idle levels, and what stands beside them.

    Limits of each line of each node against its common, shape (nodes, 2), and of each common against the earth of its
    node, or against the site's where nothing touches that earth, shape (nodes,) [V].
    """

    levels: IdleLevels
    lines_lower: Array
    lines_upper: Array
    commons_lower: Array
    commons_upper: Array


@as_analysis()
def settled_idle(analyses: Analyses, *, unpowered: tuple[str, ...] = ()) -> SettledIdle:
    """Return the idle level of every receiver, with what the lines stand at against the commons."""
    bus = _without_supply(analyses.bus, unpowered)
    receivers = np.array([index for index, node in enumerate(bus.nodes) if node.listens], dtype=np.intp)
    networks = [idle_network(bus, rails=rails) for rails in rail_variants(bus)]
    variants = [_solved(network, bus.nodes, receivers, field_sides(bus, network)) for network in networks]
    nodes = [bus.nodes[index] for index in receivers]
    thresholds = [_threshold(node) for node in nodes]
    missing = [
        (node.name, "transceiver.receiver_upper_threshold (its max)")
        for node, threshold in zip(nodes, thresholds, strict=True)
        if math.isnan(threshold)
    ]
    outside = tuple(dict.fromkeys(name for variant in variants for name in variant.outside))
    beyond = tuple(f'input current of "{name}" beyond -7 V .. +12 V' for name in outside)
    levels = IdleLevels(
        nodes=tuple(node.name for node in nodes),
        voltage=_worse(variants),
        threshold=thresholds,
        lumped=min(variant.lumped for variant in variants),
        missing=tuple(missing),
        unstated=(*variants[0].unstated, *beyond),
        assumed=variants[0].assumed,
    )
    ground = [least_and_most([getattr(each, name) for each in variants]) for name in ("lines", "commons")]
    return SettledIdle(levels, *ground[0], *ground[1])


def least_and_most(intervals: list[Interval]) -> tuple[Array, Array]:
    """Return the least lower and the greatest upper limits."""
    lower = np.min([each.lower for each in intervals], axis=0)
    return read_only(lower), read_only(np.max([each.upper for each in intervals], axis=0))


def _without_supply(bus: Bus, unpowered: tuple[str, ...]) -> Bus:
    for name in unpowered:
        bus = bus.replace_node(attrs.evolve(bus.node(name), powered=False))
    return bus


def _threshold(node: Node) -> float:
    figure = node.transceiver.receiver_upper_threshold if node.transceiver is not None else None
    return math.nan if figure is None or figure.max is None else figure.max


@attrs.frozen(kw_only=True, eq=False)
class _Solved:
    """Differential voltage at the receivers' own terminals, under the readings."""

    nominal: Array
    matched: Bounded
    independent: Bounded
    lines: Interval
    commons: Interval
    lumped: float
    outside: tuple[str, ...]
    unstated: tuple[str, ...]
    assumed: tuple[str, ...]


def _worse(variants: list[_Solved]) -> IdleVoltages:
    """Return the worse of the ways in which supplies that are down may stand."""

    def least(values: list[Array]) -> Array:
        return np.asarray(np.min(values, axis=0))

    def most(values: list[Array]) -> Array:
        return np.asarray(np.max(values, axis=0))

    return IdleVoltages(
        lower=least([each.independent.lower for each in variants]),
        nominal=least([each.nominal for each in variants]),
        upper=most([each.independent.upper for each in variants]),
        attained_lower=least([each.independent.attained_lower for each in variants]),
        attained_upper=most([each.independent.attained_upper for each in variants]),
        matched_lower=least([each.matched.lower for each in variants]),
        matched_upper=most([each.matched.upper for each in variants]),
        matched_attained_lower=least([each.matched.attained_lower for each in variants]),
        matched_attained_upper=most([each.matched.attained_upper for each in variants]),
    )


def _solved(network: Network, nodes: tuple[Node, ...], receivers: Indices, field: Indices) -> _Solved:
    emf, given = network.emf[:, None], network.given[:, None]
    injected = network.injected(emf)
    potential = potentials(network.layout, network.branches, injected, network.fixed, given)[:, 0]
    own = potential[network.terminals]
    inputs = inputs_of(network, nodes)
    _refuse_outside(network, own, inputs)
    matched, independent, (lines, commons), outside = _bounds(network, inputs, receivers, field)
    return _Solved(
        nominal=(own[:, 0] - own[:, 1])[receivers],
        matched=matched,
        independent=independent,
        lines=lines,
        commons=commons,
        lumped=_lumped(network),
        outside=outside,
        unstated=network.unstated,
        assumed=network.assumed,
    )


def _refuse_outside(network: Network, own: Array, inputs: Inputs) -> None:
    """Refuse lines at which the border of a unit load says nothing even nominally."""
    against = own[inputs.vertices, :2] - own[inputs.vertices, 2:]
    outside = ((against < LOWEST) | (against > HIGHEST)).any(axis=1)
    if outside.any():
        names = tuple(network.nodes[inputs.vertices[index]] for index in np.flatnonzero(outside))
        volts = tuple((float(first), float(second)) for first, second in against[outside])
        raise OutsideRangeError("idle levels", names, volts)


def _bounds(
    network: Network, inputs: Inputs, receivers: Indices, field: Indices
) -> tuple[Bounded, Bounded, tuple[Interval, Interval], tuple[str, ...]]:
    """Return bounds under both readings, of lines against commons and those against earths, and what is outside."""
    nothing = np.full(len(receivers), math.nan)
    unknown = Bounded(nothing, nothing, nothing, nothing)
    anywhere = np.full((len(network.nodes), 3), math.nan)
    ground = _ground(Interval(anywhere, anywhere))
    if network.unstated:
        return unknown, unknown, ground, ()
    middle = solved_middle(border_box(network, inputs, "matched"))
    own = network.terminals[receivers]
    pairs = Pairs(own[:, 0], own[:, 1])
    result: list[Bounded] = []
    outside: list[str] = []
    readings: tuple[ReadingName, ...] = ("matched", "independent")
    for name in readings:
        if name == "independent" and not np.isnan(inputs.mismatch).all():
            middle = solved_middle(border_box(network, inputs, name))
        read = read_inputs(network, inputs, middle, name)
        result.append(unknown if read.outside else bounded_outputs(middle, read, pairs))
        outside += read.outside
        if name == "independent":
            common = network.terminals[:, 2]
            against = Pairs(network.terminals.ravel(), np.stack((common, common, field), axis=1).ravel())
            seen = outer_outputs(middle, read, against)
            ground = _ground(Interval(seen.lower.reshape(-1, 3), seen.upper.reshape(-1, 3)))
    return result[0], result[1], ground, tuple(dict.fromkeys(outside))


def _ground(seen: Interval) -> tuple[Interval, Interval]:
    """Take lines against commons and commons against earths apart."""
    return Interval(seen.lower[:, :2], seen.upper[:, :2]), Interval(seen.lower[:, 2], seen.upper[:, 2])


def _lumped(network: Network) -> float:
    """Return the textbook idle voltage: all resistors at one place, one common, no cable.

    Two nodes: each line with the conductances of legs and inputs to their rails, the terminators between the two.
    """
    width = network.layout.width
    own = {vertex * width + line: line for vertex in range(network.layout.vertices) for line in (0, 1)}
    matrix, right = np.zeros((2, 2)), np.zeros(2)
    for kind, start, end, conductance, emf in zip(network.kinds, *network.branches, network.emf, strict=True):
        if kind not in ("termination", "bias", "input"):
            continue
        first, second = own.get(int(start)), own.get(int(end))
        if first is None:
            continue
        matrix[first, first] += conductance
        right[first] += conductance * emf
        if second is not None:
            matrix[second, second] += conductance
            matrix[first, second] -= conductance
            matrix[second, first] -= conductance
    if not (matrix.diagonal() > 0).all() or np.linalg.matrix_rank(matrix) < 2:
        return math.nan
    voltage = np.linalg.solve(matrix, right)
    return float(voltage[0] - voltage[1])
