"""Driven levels: what every receiver sees from every driver."""

import math
from collections.abc import Callable
from typing import NamedTuple

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.idle import IdleVoltages, idle_levels, least_and_most
from rs485kit.analysis.results import Array, Missing, PerPath, Rebuilt, read_only, unit
from rs485kit.formulas.limits import TEST_LOAD
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.model.base import Viewed
from rs485kit.network import Network, idle_network
from rs485kit.network.assembly import Indices, rail_variants
from rs485kit.network.border import border_box, inputs_of
from rs485kit.network.branches import Rails
from rs485kit.network.driving import (
    Driver,
    Levels,
    bounded_levels,
    driver_of,
    nominal_levels,
    port_loads,
    ready_for_drivers,
    tied_to_drivers,
)
from rs485kit.solvers.bounds import Interval
from rs485kit.solvers.enclosure import Pairs, solved_middle
from rs485kit.units import MinTypMax

# a load of 54 ohm made of exact figures is 54 ohm
ROUNDING = 1e-9
LEVEL_PARTS = ("lower", "nominal", "upper", "attained_lower", "attained_upper")


@attrs.frozen(kw_only=True)
class DrivenVoltage:
    """Differential voltage of one receiver from one driver in one state.

    Parameters
    ----------
    lower, upper : float
        Proved limits over all tolerances [V].
    nominal : float
        With every figure nominal [V].
    attained_lower, attained_upper : float
        The worst that some choice inside the tolerances was found to give [V].
    """

    lower: float
    nominal: float
    upper: float
    attained_lower: float
    attained_upper: float

    dimensioned_parts = LEVEL_PARTS


@attrs.frozen(kw_only=True, eq=False)
class DrivenVoltages(Rebuilt):
    """Differential voltages of all receivers from all drivers in one state; arrays of shape (drivers, receivers).

    Parameters
    ----------
    lower, upper : array
        Proved limits over all tolerances [V].
    nominal : array
        With every figure nominal [V].
    attained_lower, attained_upper : array
        The worst that some choice inside the tolerances was found to give [V].
    """

    lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    nominal: Array = attrs.field(converter=read_only, metadata=unit("V"))
    upper: Array = attrs.field(converter=read_only, metadata=unit("V"))
    attained_lower: Array = attrs.field(converter=read_only, metadata=unit("V"))
    attained_upper: Array = attrs.field(converter=read_only, metadata=unit("V"))

    dimensioned_parts = LEVEL_PARTS


@attrs.frozen(kw_only=True)
class DrivenLevel(Viewed):
    """Levels of one receiver from one driver.

    Parameters
    ----------
    driver : str
        Name of the node that drives [-].
    receiver : str
        Name of the node that listens [-].
    mark : DrivenVoltage
        Differential voltage while mark is driven [V].
    space : DrivenVoltage
        Differential voltage while space is driven [V].
    margin : float
        The smaller of least mark less upper threshold and lower threshold less greatest space, proved [V].
    nominal_margin : float
        The same at nominal levels [V].
    """

    driver: str
    receiver: str
    mark: DrivenVoltage = attrs.field(metadata=unit("V"))
    space: DrivenVoltage = attrs.field(metadata=unit("V"))
    margin: float = attrs.field(metadata=unit("V"))
    nominal_margin: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class DrivenLevels(PerPath[DrivenLevel]):
    """Levels of all receivers from all drivers.

    Parameters
    ----------
    drivers, receivers : tuple of str
        Nodes that drive and nodes that listen, in bus order [-].
    mark : DrivenVoltages
        Differential voltages while mark is driven, shape (drivers, receivers) [V].
    space : DrivenVoltages
        Differential voltages while space is driven, shape (drivers, receivers) [V].
    upper_threshold : array, shape (receivers,)
        Voltage above which each surely reads mark [V].
    lower_threshold : array, shape (receivers,)
        Voltage below which each surely reads space [V].
    missing : tuple
        Rows and fields that the bus does not state [-].
    unstated : tuple of str
        Limits without which no bound can be given [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    mark: DrivenVoltages = attrs.field(metadata=unit("V"))
    space: DrivenVoltages = attrs.field(metadata=unit("V"))
    upper_threshold: Array = attrs.field(converter=read_only, metadata=unit("V"))
    lower_threshold: Array = attrs.field(converter=read_only, metadata=unit("V"))
    missing: Missing = ()
    unstated: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

    @property
    def margin(self) -> Array:
        """The smaller of least mark less upper threshold and lower threshold less greatest space, proved [V]."""
        return read_only(self._least(self.mark.lower, self.space.upper))

    @property
    def nominal_margin(self) -> Array:
        """The same at nominal levels [V]."""
        return read_only(self._least(self.mark.nominal, self.space.nominal))

    def _least(self, mark: Array, space: Array) -> Array:
        return np.minimum(mark - self.upper_threshold, self.lower_threshold - space)

    @override
    def _row(self, driver: int, receiver: int) -> DrivenLevel:
        at = (driver, receiver)
        mark, space = (
            DrivenVoltage(**{part: float(getattr(levels, part)[at]) for part in LEVEL_PARTS})
            for levels in (self.mark, self.space)
        )
        upper, lower = float(self.upper_threshold[receiver]), float(self.lower_threshold[receiver])
        return DrivenLevel(
            driver=self.drivers[driver],
            receiver=self.receivers[receiver],
            mark=mark,
            space=space,
            margin=_least(mark.lower - upper, lower - space.upper),
            nominal_margin=_least(mark.nominal - upper, lower - space.nominal),
        )


def _least(first: float, second: float) -> float:
    return math.nan if math.isnan(first + second) else min(first, second)


@as_analysis()
def driven_levels(analyses: Analyses) -> DrivenLevels:
    """Return the levels of every receiver from every driver, mark and space, with proved bounds.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    DrivenLevels
        Rows per driver and receiver, the driver hearing itself included [V].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.

    Notes
    -----
    The settled state: every conductor a resistance, one driver on, all others loading the pair by their unit loads,
    every bias in place. *Nominal*: the driver is a source behind R = 54 ohm (V_open / V_loaded - 1) through its two
    typical points, half of R in each leg, about its offset voltage; receiver inputs are 12 kohm per unit load.

    *Bounds*: for every load that is not below the one at which the loaded minimum is guaranteed, the voltage at the
    driver's own terminals lies between that minimum and the open maximum; the driver is taken as an ideal source
    anywhere in between, receiver inputs pull anywhere inside the unit-load border, all else lies anywhere in its
    tolerance. The limits are proved. A driver whose load may fall below that gives no bounds: they are NaN, and
    `missing` says so.

    A driver that leaves mark to the bias (`mark_driven` false) gives the idle level for its mark.

    References
    ----------
    Levels of a driver, open and into 54 ohm: EIA-485, as printed in B&B Electronics, RS-422/485 Application Note,
    appendix A; offset -1 V .. +3 V, the same.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km")
    >>> nodes = [rk.Node(name="head", transceiver=part, terminations=end),
    ...          rk.Node(name="tail", transceiver=part, terminations=end)]
    >>> levels = rk.analysis.driven_levels(rk.daisy_chain(nodes, spacing="1.2 km", cable=pair))
    >>> round(levels.between("head", "tail").mark.nominal, 3)
    0.955
    """
    return settled_drivers(analyses).levels


class SettledDrivers(NamedTuple):
    """Driven levels, and limits of each line of each node against its common over all drivers, shape (nodes, 2) [V]."""

    levels: DrivenLevels
    lines_lower: Array
    lines_upper: Array


@as_analysis()
def settled_drivers(analyses: Analyses) -> SettledDrivers:
    """Return the levels of every receiver from every driver, with what the lines stand at against the commons."""
    bus = analyses.bus
    drivers = tuple(driver_of(node, index) for index, node in enumerate(bus.nodes) if _drives(node))
    receivers = np.array([index for index, node in enumerate(bus.nodes) if node.listens], dtype=np.intp)
    missing = _missing_drivers(bus.nodes, drivers)
    variants = [_solved(bus, rails, drivers, receivers, missing) for rails in rail_variants(bus)]
    mark, space = _worse([each.mark for each in variants], np.min), _worse([each.space for each in variants], np.max)
    outside = dict.fromkeys(name for each in variants for name in each.outside)
    if leaning := [row for row, each in enumerate(drivers) if not _holds_mark(bus.nodes[each.vertex])]:
        _lean(mark, leaning, idle_levels(analyses).voltage)
    beyond = tuple(f'input current of "{name}" beyond -7 V .. +12 V' for name in outside)
    nodes = [bus.nodes[index] for index in receivers]
    levels = DrivenLevels(
        drivers=tuple(bus.nodes[driver.vertex].name for driver in drivers),
        receivers=tuple(node.name for node in nodes),
        mark=_voltages(mark),
        space=_voltages(space),
        upper_threshold=[_limit(node, "receiver_upper_threshold", "max", missing) for node in nodes],
        lower_threshold=[_limit(node, "receiver_lower_threshold", "min", missing) for node in nodes],
        missing=tuple(dict.fromkeys(missing)),
        unstated=(*variants[0].network.unstated, *beyond),
        assumed=variants[0].network.assumed,
    )
    return SettledDrivers(levels, *least_and_most([each.lines for each in variants]))


class _Solved(NamedTuple):
    """Levels of all receivers from all drivers with supplies that are down taken one way."""

    network: Network
    mark: Levels
    space: Levels
    lines: Interval
    outside: tuple[str, ...]


def _solved(
    bus: Bus, rails: Rails, drivers: tuple[Driver, ...], receivers: Indices, missing: list[tuple[str, str]]
) -> _Solved:
    network = tied_to_drivers(idle_network(bus, rails=rails), drivers)
    own = network.terminals[receivers]
    pairs = Pairs(own[:, 0], own[:, 1])
    inputs = inputs_of(network, bus.nodes)
    mark_nominal, space_nominal = nominal_levels(network, pairs, drivers)
    nothing = Levels(*(np.full((len(drivers), len(receivers)), np.nan) for _ in Levels._fields))
    mark, space = nothing, nothing
    anywhere = np.full((len(bus.nodes), 2), np.nan)
    lines = Interval(anywhere, anywhere)
    outside: tuple[str, ...] = ()
    if not network.unstated and len(drivers) and len(receivers):
        box = border_box(network, inputs, "independent")
        allowed = _within_load(bus.nodes, drivers, port_loads(network, box, drivers)[0], missing)
        driven = ready_for_drivers(network, inputs, solved_middle(box), pairs)
        mark, space, lines, outside = bounded_levels(driven, allowed)
    mark, space = mark._replace(nominal=mark_nominal), space._replace(nominal=space_nominal)
    return _Solved(network, mark, space, lines, outside)


def _worse(levels: list[Levels], nominal: Callable[..., Array]) -> Levels:
    """Return the worse of the ways in which supplies that are down may stand."""
    joint = {
        part: (np.max if part.endswith("upper") else np.min)([getattr(each, part) for each in levels], axis=0)
        for part in LEVEL_PARTS
        if part != "nominal"
    }
    return Levels(nominal=nominal([each.nominal for each in levels], axis=0), **joint)


def _drives(node: Node) -> bool:
    return node.transceiver is not None and node.drives and node.powered


def _holds_mark(node: Node) -> bool:
    return node.transceiver is not None and node.transceiver.mark_driven


def _lean(mark: Levels, rows: list[int], idle: IdleVoltages) -> None:
    """Put the idle level where a driver leaves mark to the bias, in place."""
    for part in LEVEL_PARTS:
        getattr(mark, part)[rows] = getattr(idle, part)


def _voltages(levels: Levels) -> DrivenVoltages:
    return DrivenVoltages(**levels._asdict())


def _limit(node: Node, field: str, member: str, missing: list[tuple[str, str]]) -> float:
    figure: MinTypMax | None = getattr(node.transceiver, field)
    value = None if figure is None else getattr(figure, member)
    if value is None:
        missing.append((node.name, f"transceiver.{field} (its {member})"))
        return math.nan
    return float(value)


def _missing_drivers(nodes: tuple[Node, ...], drivers: tuple[Driver, ...]) -> list[tuple[str, str]]:
    missing = []
    for driver in drivers:
        name = nodes[driver.vertex].name
        if math.isnan(driver.source):
            missing.append((name, "transceiver.driver_open_voltage (its typical value)"))
        elif math.isnan(driver.resistance):
            missing.append((name, "transceiver.driver_loaded_voltage (its typical value, at most the open voltage)"))
        if math.isnan(driver.lower):
            missing.append((name, "transceiver.driver_loaded_voltage (its min)"))
        if math.isnan(driver.upper):
            missing.append((name, "transceiver.driver_open_voltage (its max)"))
    return missing


def _within_load(
    nodes: tuple[Node, ...], drivers: tuple[Driver, ...], least: Array, missing: list[tuple[str, str]]
) -> tuple[Driver, ...]:
    """Return the drivers, those without their lower limit whose load may be below that at which it is guaranteed."""
    allowed = []
    for driver, load in zip(drivers, least, strict=True):
        node = nodes[driver.vertex]
        assert node.transceiver is not None
        guaranteed = node.transceiver.driver_least_load or TEST_LOAD
        if load < guaranteed * (1.0 - ROUNDING):
            why = f"its load may be {load:.4g} ohm, its levels hold to {guaranteed:.4g} ohm"
            missing.append((node.name, f"transceiver.driver_least_load ({why})"))
            driver = driver._replace(lower=math.nan)
        allowed.append(driver)
    return tuple(allowed)
