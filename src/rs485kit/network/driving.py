"""Drivers on the network: what each is guaranteed to put on the pair, and every receiver's level from it."""

import math
from typing import NamedTuple

import attrs
import numpy as np

from rs485kit.model import Node, Transceiver
from rs485kit.network.assembly import Floats, Indices, Network
from rs485kit.network.border import (
    HIGH,
    HIGHEST,
    Inputs,
    Limits,
    Read,
    Widening,
    covers,
    excess,
    held_responses,
    input_pairs,
    nominal_sources,
    outside_border,
    read_inputs,
    widened,
)
from rs485kit.solvers.bounds import Interval
from rs485kit.solvers.enclosure import (
    Box,
    Corner,
    Driving,
    Enclosed,
    Middle,
    Pairs,
    Port,
    Responses,
    Workspace,
    driven_responses,
    enclosed_for_each,
    least_at_corners,
    least_corners,
    magnitudes,
    passive_responses,
    solved_middle,
)
from rs485kit.solvers.nodal import Branches, datum_unknowns, joined_parts
from rs485kit.units import MinTypMax

TEST_LOAD = 54.0
# conductance of a tie between lines and a common that only a driver joins [S]
TIE = 1e-8
DRIVEN_OVERSHOOT = 0.25
# how far beyond a driver's own potentials the lines are foreseen to go [V]
FORESIGHT = 0.1
# corners are solved where they decide: as many as keep this many unknowns, worst pairs first
MOST_UNKNOWNS_AT_CORNERS = 100_000
LOWEST_OFFSET, HIGHEST_OFFSET = -1.0, 3.0


class Driver(NamedTuple):
    """What a driver puts on its terminals; NaN where its part does not state it.

    Nominally a source behind a resistance through the typical points, open and into 54 ohm; in bounds a differential
    voltage anywhere from the loaded minimum to the open maximum.
    """

    vertex: int
    source: float
    resistance: float
    lower: float
    upper: float
    offset: tuple[float, float, float]


def driver_of(node: Node, vertex: int) -> Driver:
    """Return what the driver of a node puts on the pair.

    Parameters
    ----------
    node : Node
        A node with a transceiver [-].
    vertex : int
        Its vertex [-].

    Returns
    -------
    Driver
        Source, resistance and limits [V, ohm].
    """
    part = node.transceiver
    assert part is not None
    open_voltage, loaded = _member(part.driver_open_voltage, "nominal"), _member(part.driver_loaded_voltage, "nominal")
    resistance = TEST_LOAD * (open_voltage / loaded - 1.0) if loaded else math.nan
    return Driver(
        vertex,
        open_voltage,
        resistance if resistance >= 0 else math.nan,
        _member(part.driver_loaded_voltage, "min"),
        _member(part.driver_open_voltage, "max"),
        _offset(part),
    )


def _member(figure: MinTypMax | None, name: str) -> float:
    value = None if figure is None else getattr(figure, name)
    return math.nan if value is None else float(value)


def _offset(part: Transceiver) -> tuple[float, float, float]:
    """Return nominal offset and its limits; what is not stated is what the standard allows, its middle nominal."""
    figure = part.driver_offset_voltage
    if figure is None:
        return (LOWEST_OFFSET + HIGHEST_OFFSET) / 2, LOWEST_OFFSET, HIGHEST_OFFSET
    nominal = figure.nominal
    lower = LOWEST_OFFSET if figure.min is None else figure.min
    upper = HIGHEST_OFFSET if figure.max is None else figure.max
    return ((lower + upper) / 2 if nominal is None else nominal), lower, upper


def tied_to_drivers(network: Network, drivers: tuple[Driver, ...]) -> Network:
    """Return the network with a very weak tie wherever nothing joins a driver's lines to its common but the driver.

    Parameters
    ----------
    network : Network
        The undriven network [-].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    Network
        The network, the same where no tie is needed [-].

    Notes
    -----
    Receivers that draw nothing leave the lines without any relation to the common; a driver brings one. The tie is the
    only way round for a current, so that beside the driver's own legs it changes a level by a millionth at the most.
    """
    ends = network.branches.start, network.branches.end
    live = network.branches.conductance > 0
    part = joined_parts(network.layout.size, ends[0][live], ends[1][live])
    own = network.terminals[[driver.vertex for driver in drivers]].reshape(-1, 3)
    loose = own[part[own[:, 0]] != part[own[:, 2]]]
    loose = np.concatenate((loose[:, (0, 2)], own[part[own[:, 1]] != part[own[:, 2]]][:, (1, 2)]))
    if not len(loose):
        return network
    weak, nothing = np.full(len(loose), TIE), np.zeros(len(loose))

    def longer(values: Floats, more: Floats) -> Floats:
        return np.concatenate((values, more))

    start, end = np.concatenate((ends[0], loose[:, 0])), np.concatenate((ends[1], loose[:, 1]))
    branches = Branches(start, end, longer(network.branches.conductance, weak))
    fixed, held = network.fixed[: network.held], network.held
    datum = datum_unknowns(network.layout, branches, fixed)
    more = np.zeros(len(datum))
    return attrs.evolve(
        network,
        branches=branches,
        conductance_lower=longer(network.conductance_lower, weak),
        conductance_upper=longer(network.conductance_upper, weak),
        emf=longer(network.emf, nothing),
        emf_lower=longer(network.emf_lower, nothing),
        emf_upper=longer(network.emf_upper, nothing),
        kinds=network.kinds + ("tie",) * len(loose),
        owners=network.owners + ("",) * len(loose),
        fixed=np.concatenate((fixed, datum)),
        given=longer(network.given[:held], more),
        given_lower=longer(network.given_lower[:held], more),
        given_upper=longer(network.given_upper[:held], more),
    )


class Levels(NamedTuple):
    """Levels of all receivers from all drivers, arrays of shape (drivers, receivers); NaN where unknown."""

    lower: Floats
    nominal: Floats
    upper: Floats
    attained_lower: Floats
    attained_upper: Floats


def _port(network: Network, vertex: int, resistance: float) -> Port:
    first, second, common = (int(unknown) for unknown in network.terminals[vertex])
    return Port((first, second), common, resistance)


def port_loads(network: Network, box: Box, drivers: tuple[Driver, ...]) -> Interval:
    """Return the resistance that the bus shows to each driver, between its least and its greatest.

    Parameters
    ----------
    network : Network
        The network [-].
    box : Box
        Its intervals [S].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    Interval
        Exact limits, shape (drivers,) [ohm].

    Notes
    -----
    The resistance between two terminals of a network of resistors falls when any conductance rises (Rayleigh), so
    its limits are those with all conductances at their upper and at their lower limits.
    """
    own = network.terminals[[driver.vertex for driver in drivers]]

    def across(conductance: Floats) -> Floats:
        impedance = solved_middle(box._replace(lower=conductance, upper=conductance)).impedance
        first, second = own[:, 0], own[:, 1]
        return np.asarray(impedance[first, first] + impedance[second, second] - 2.0 * impedance[first, second])

    return Interval(across(box.upper), across(box.lower))


def nominal_levels(network: Network, pairs: Pairs, drivers: tuple[Driver, ...]) -> tuple[Floats, Floats]:
    """Return nominal mark and space of all receivers from all drivers.

    Parameters
    ----------
    network : Network
        The network [-].
    pairs : Pairs
        The receivers' terminals [-].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    tuple of array, shape (drivers, receivers)
        Mark and space [V].
    """
    conductance = network.branches.conductance
    ends = network.branches.start, network.branches.end
    middle = solved_middle(Box(network.layout, *ends, conductance, conductance, network.fixed, network.in_series))
    sources = nominal_sources(network)
    passive = passive_responses(middle, sources, pairs)
    levels = np.full((2, len(drivers), len(pairs.plus)), np.nan)
    work = Workspace()
    for row, driver in enumerate(drivers):
        if math.isnan(driver.source) or math.isnan(driver.resistance):
            continue
        port = _port(network, driver.vertex, driver.resistance / 2)
        outputs = driven_responses(middle, sources, passive, pairs, port, work=work).outputs
        for state, sign in enumerate((1.0, -1.0)):
            levels[state, row] = np.concatenate((sources.lower, (sign * driver.source, driver.offset[0]))) @ outputs
    return levels[0], levels[1]


class Driven(NamedTuple):
    """A bus over its box, ready for drivers.

    Among `pairs` the receivers come first, then every input against its common, then the lines of each loaded node
    whose common stands `alone`, then each line against its common at the nodes that draw nothing, which are `bare`.
    """

    network: Network
    inputs: Inputs
    middle: Middle
    read: Read
    receivers: int
    alone: Indices
    bare: Indices
    pairs: Pairs
    passive: Responses

    @property
    def lines(self) -> tuple[Indices, Indices]:
        """Nodes of the network, and where in `pairs` their two lines against their commons stand, shape (nodes, 2)."""
        first = self.receivers + 2 * np.arange(len(self.inputs.vertices))
        last = self.receivers + len(self.read.reference) + len(self.alone) + 2 * np.arange(len(self.bare))
        rows = np.concatenate((first, last))
        return np.concatenate((self.inputs.vertices, self.bare)), np.stack((rows, rows + 1), axis=1)


def ready_for_drivers(network: Network, inputs: Inputs, middle: Middle, pairs: Pairs) -> Driven:
    """Return a bus over its box with every input read by itself, ready for drivers.

    Parameters
    ----------
    network : Network
        The network [-].
    inputs : Inputs
        Its receiver inputs [-].
    middle : Middle
        Its box, solved in the middle [-].
    pairs : Pairs
        The receivers' terminals [-].

    Returns
    -------
    Driven
        What every driver needs [-].
    """
    read = read_inputs(network, inputs, middle, "independent")
    against = input_pairs(network, inputs)
    alone = np.flatnonzero(inputs.alone & ~inputs.pinned)
    own = network.terminals[inputs.vertices[alone]]
    bare = np.setdiff1d(np.arange(len(network.nodes)), inputs.vertices)
    lines = network.terminals[bare]
    joint = Pairs(
        np.concatenate((pairs.plus, against.plus, own[:, 0], lines[:, :2].ravel())),
        np.concatenate((pairs.minus, against.minus, own[:, 1], np.repeat(lines[:, 2], 2))),
    )
    passive = held_responses(middle, read.narrow, joint)
    return Driven(network, inputs, middle, read, len(pairs.plus), alone, bare, joint, passive)


class _States(NamedTuple):
    """One driver at each of its extremes: limits of all sources, and what is enclosed."""

    lower: Floats
    upper: Floats
    enclosed: tuple[Enclosed, ...]
    outside: tuple[str, ...]


def _states(driven: Driven, driver: Driver, work: Workspace) -> _States:
    """Return one driver at its extremes, the inputs' references widened as far as the driven lines reach.

    For any conductances an output is linear in the driver's voltage, so that its extremes lie at those of the
    voltage; taken one by one, the branch voltages of a strong driver do not loosen the bounds of a weak one.
    """
    port = _port(driven.network, driver.vertex, 0.0)
    sources, half = driven.read.narrow, driven.middle.half
    responses = driven_responses(driven.middle, sources, driven.passive, driven.pairs, port, work=work)
    size = magnitudes(responses, half, work)
    pinned, alone, slack = _held_by(driven, driver)
    reference = driven.read.reference
    lower, upper = _foreseen(*_limits(driven.read, driver), driver, reference, pinned, slack)
    outside: tuple[str, ...] = ()
    # a driver holds the lines: what the references add is little, and one generous step mostly covers it
    widening = Widening(overshoot=DRIVEN_OVERSHOOT)
    while True:
        found = enclosed_for_each(responses, size, half, lower, upper)
        seen = [_inputs_seen(driven, each) for each in found if each.outer is not None]
        if len(seen) < len(found):
            break
        wider = []
        for low, high, each, about in zip(lower, upper, seen, found, strict=True):
            farther = np.where(alone, excess(_apart(driven, about)), slack)
            wider.append(widened(low, high, reference, each, pinned, farther))
        wanted = np.stack([each[0] for each in wider]), np.stack([each[1] for each in wider])
        if covers((lower, upper), wanted):
            named = (outside_border(each, pinned, driven.inputs, driven.network) for each in seen)
            outside = tuple(dict.fromkeys(name for names in named for name in names))
            break
        lower, upper = widening.farther((lower, upper), wanted)
    return _States(lower, upper, found, outside)


def _foreseen(
    lower: Floats, upper: Floats, driver: Driver, reference: Indices, pinned: np.ndarray, slack: Floats
) -> Limits:
    """Return limits with references as far as lines at the driver's own potentials would take them.

    Any range that covers what the lines reach is a right one; this one mostly does, and spares the search for it.
    """
    everywhere = np.ones(len(reference))
    rows = []
    for low, high, voltage in zip(lower, upper, lower[:, -2], strict=True):
        reach = abs(voltage) / 2 + FORESIGHT
        seen = Interval((driver.offset[1] - reach) * everywhere, (driver.offset[2] + reach) * everywhere)
        rows.append(widened(low, high, reference, seen, pinned, slack))
    return np.stack([each[0] for each in rows]), np.stack([each[1] for each in rows])


def _inputs_seen(driven: Driven, found: Enclosed) -> Interval:
    assert found.outer is not None
    inputs = slice(driven.receivers, driven.receivers + len(driven.read.reference))
    return Interval(found.outer.lower[inputs], found.outer.upper[inputs])


def _apart(driven: Driven, found: Enclosed) -> Floats:
    """Return how far apart the lines of each loaded node may be whose common stands alone, 0 for all others."""
    assert found.outer is not None
    first = driven.receivers + len(driven.read.reference)
    lines = slice(first, first + len(driven.alone))
    result = np.zeros(len(driven.inputs.vertices))
    result[driven.alone] = np.maximum(np.abs(found.outer.lower[lines]), np.abs(found.outer.upper[lines]))
    return result


def _held_by(driven: Driven, driver: Driver) -> tuple[np.ndarray, np.ndarray, Floats]:
    """Return which commons are tied to the lines while a driver is on, which are alone, and the slack of all others."""
    inputs = driven.inputs
    here = inputs.vertices == driver.vertex
    pinned = inputs.pinned | np.isin(inputs.joint, inputs.joint[here])
    # the driver joins the two lines on which it stands
    joined = inputs.tied | np.isin(inputs.lines, inputs.lines[here]).all(axis=1)
    alone = ~pinned & inputs.alone & joined
    # by superposition: what the driver adds lies between its two outputs and the potential of what it feeds
    added = max(abs(driver.offset[1]), abs(driver.offset[2])) + driver.upper / 2
    loose = ~pinned & ~inputs.alone & joined
    known = np.where(inputs.tied, driven.read.slack, HIGHEST - HIGH)
    return pinned, alone, np.where(loose, known + added, np.where(joined, 0.0, HIGHEST - HIGH))


def _limits(read: Read, driver: Driver) -> tuple[Floats, Floats]:
    """Return limits of all sources with the driver's differential and offset voltage last, a row for each extreme.

    The rows are the weakest and the strongest mark, the strongest and the weakest space.
    """
    rows = (driver.lower, driver.upper, -driver.upper, -driver.lower)
    lower = [np.concatenate((read.wide.lower, (voltage, driver.offset[1]))) for voltage in rows]
    upper = [np.concatenate((read.wide.upper, (voltage, driver.offset[2]))) for voltage in rows]
    return np.stack(lower), np.stack(upper)


def bounded_levels(
    driven: Driven, drivers: tuple[Driver, ...]
) -> tuple[Levels, Levels, Interval, tuple[str, ...]]:
    """Return proved and attained limits of mark and space of all receivers from all drivers.

    Parameters
    ----------
    driven : Driven
        The bus over its box [-].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    tuple
        Levels of mark and of space, their nominal values left open; limits of each line of each node against its
        common over all drivers, shape (nodes, 2); and the nodes at whose inputs the border may say nothing [V].

    Notes
    -----
    The differential voltage at the driver's own terminals lies between its loaded minimum and its open maximum for
    every load that is not below the one at which the former is guaranteed: the driver is an ideal source anywhere in
    between. Limits are taken about the middle for all pairs, and at their own corners for the worst of them.
    """
    shape = (len(drivers), driven.receivers)
    mark, space = (Levels(*(np.full(shape, np.nan) for _ in Levels._fields)) for _ in (0, 1))
    known = [row for row, each in enumerate(drivers) if not math.isnan(each.lower) and not math.isnan(each.upper)]
    outside: list[str] = []
    work = Workspace()
    found = {row: _outer(driven, drivers[row], work) for row in known}
    for row, each in found.items():
        outside += each.outside
        for levels, states in ((mark, (0, 1)), (space, (2, 3))):
            pair = [each.outer[state] for state in states]
            levels.lower[row] = np.minimum(pair[0].lower, pair[1].lower)
            levels.upper[row] = np.maximum(pair[0].upper, pair[1].upper)
            pair = [each.attained[state] for state in states]
            levels.attained_lower[row] = np.minimum(pair[0].lower, pair[1].lower)
            levels.attained_upper[row] = np.maximum(pair[0].upper, pair[1].upper)
    if len(driven.middle.tolerant):
        _sharpen(driven, drivers, found, mark, space)
    return mark, space, _lines(driven, drivers, found), tuple(dict.fromkeys(outside))


def _lines(driven: Driven, drivers: tuple[Driver, ...], found: dict[int, "_Outer"]) -> Interval:
    """Return limits of each line of each node against its common; a driver that is not known may take them anywhere."""
    shape = len(driven.network.nodes), 2
    lower, upper = np.full(shape, np.nan), np.full(shape, np.nan)
    if found and len(found) == len(drivers):
        vertices, _ = driven.lines
        lower[vertices] = np.min([each.lines.lower for each in found.values()], axis=0)
        upper[vertices] = np.max([each.lines.upper for each in found.values()], axis=0)
    return Interval(lower, upper)


class _Outer(NamedTuple):
    """One driver at each of its extremes: limits of the receivers, of all sources and of the branch voltages."""

    outer: tuple[Interval, ...]
    attained: tuple[Interval, ...]
    lower: Floats
    upper: Floats
    branches: tuple[Interval | None, ...]
    lines: Interval
    outside: tuple[str, ...]


def _outer(driven: Driven, driver: Driver, work: Workspace) -> _Outer:
    """Return limits about the middle for one driver; the responses behind them are not kept, they are large."""
    states = _states(driven, driver, work)
    end = driven.receivers
    nothing = np.full(end, np.nan)
    outer = []
    for each in states.enclosed:
        if each.outer is None or states.outside:
            outer.append(Interval(nothing, nothing))
        else:
            outer.append(Interval(each.outer.lower[:end], each.outer.upper[:end]))
    attained = tuple(Interval(each.middle.lower[:end], each.middle.upper[:end]) for each in states.enclosed)
    branches = tuple(each.branches for each in states.enclosed)
    lines = _lines_seen(driven, states)
    return _Outer(tuple(outer), attained, states.lower, states.upper, branches, lines, states.outside)


def _lines_seen(driven: Driven, states: _States) -> Interval:
    """Return limits of the lines against the commons of their nodes over the extremes of one driver."""
    _, rows = driven.lines
    known = [each.outer for each in states.enclosed if each.outer is not None]
    if len(known) < len(states.enclosed) or states.outside:
        return Interval(np.full(rows.shape, np.nan), np.full(rows.shape, np.nan))
    return Interval(
        np.min([each.lower[rows] for each in known], axis=0), np.max([each.upper[rows] for each in known], axis=0)
    )


def _sharpen(
    driven: Driven, drivers: tuple[Driver, ...], found: dict[int, _Outer], mark: Levels, space: Levels
) -> None:
    """Take the worst pairs at their own corners: least marks and greatest spaces, in place."""
    count = max(1, MOST_UNKNOWNS_AT_CORNERS // driven.middle.box.layout.size)
    for weak, adverse in ((0, mark.lower), (3, -space.upper)):
        order = np.argsort(adverse, axis=None, kind="stable")
        order = order[~np.isnan(adverse.ravel()[order])][:count]
        rows, columns = np.unravel_index(order, adverse.shape)
        for row in np.unique(rows):
            chosen = columns[rows == row]
            states = found[int(row)]
            corner = _at_corners(driven, drivers[row], states, chosen, weak)
            if weak == 0:
                bound = np.minimum(corner.bound, states.outer[1].lower[chosen])
                mark.lower[row, chosen] = np.maximum(mark.lower[row, chosen], bound)
                mark.attained_lower[row, chosen] = np.minimum(mark.attained_lower[row, chosen], corner.attained)
            else:
                bound = np.maximum(-corner.bound, states.outer[2].upper[chosen])
                space.upper[row, chosen] = np.minimum(space.upper[row, chosen], bound)
                space.attained_upper[row, chosen] = np.maximum(space.attained_upper[row, chosen], -corner.attained)


def _at_corners(driven: Driven, driver: Driver, found: _Outer, chosen: Indices, state: int) -> Corner:
    """Return least values of marks, or of spaces with their sign changed, at their corners."""
    pairs, sign = Pairs(driven.pairs.plus[chosen], driven.pairs.minus[chosen]), 1.0
    if state > 1:
        pairs, sign = Pairs(pairs.minus, pairs.plus), -1.0
    port = _port(driven.network, driver.vertex, 0.0)
    sources = driven.read.narrow
    passive = driven.passive._replace(
        outputs=sign * driven.passive.outputs[:, chosen],
        adjoint=sign * driven.passive.adjoint[:, chosen],
        rounding=driven.passive.rounding[chosen],
    )
    responses = driven_responses(driven.middle, sources, passive, pairs, port)
    lower, upper, about = found.lower[state], found.upper[state], found.branches[state]
    assert about is not None
    towards = least_corners(responses, np.arange(len(chosen)), lower, upper)
    reach = Interval(about.lower[:, None], about.upper[:, None])
    driving = Driving((port,) * len(chosen), lower[-2:], upper[-2:])
    wide = sources._replace(lower=lower[:-2], upper=upper[:-2])
    attainable = Interval(sources.lower, sources.upper)
    return least_at_corners(driven.middle, wide, attainable, pairs, towards, reach, driving=driving)
