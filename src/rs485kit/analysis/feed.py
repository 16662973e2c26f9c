"""Feed levels: whether devices that are fed over spare conductors of the cable still start, and what the feed costs."""

import math
from typing import NamedTuple

import numpy as np

from rs485kit.analysis.feed_tables import FedDevices, FeedGrounds, FeedingPoints, FeedLevels, FeedSpans
from rs485kit.analysis.results import Array, Missing
from rs485kit.analysis.supply import powers_from_feed
from rs485kit.analysis.termination_tables import Limits, LimitsOfAll
from rs485kit.errors import MissingDataError
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus
from rs485kit.network.branches import Notes
from rs485kit.network.feed import FeedNetwork, all_connected, feed_network, minus_shifts
from rs485kit.network.feed_limits import FeedBounds, feed_bounds, heaviest_talker
from rs485kit.network.feed_loads import FeedLoads, feed_loads
from rs485kit.solvers.feed import highest_solution, load_factor, port_form, unknowns_at
from rs485kit.solvers.feed_sources import Rest, rest

NO_ANSWER = "an answer: feeding points push current into one another, or a current would raise a voltage"


@as_analysis()
def feed_levels(analyses: Analyses) -> FeedLevels:
    """Return the voltage at every device that is fed over the cable, and the currents that it takes, with limits.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    FeedLevels
        Tables of devices, conductors, feeding points and places of the minus [V, A].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.

    Notes
    -----
    A device that draws a constant power P at the voltage v takes P / v, and n of them have up to 2^n solutions. The
    feed that was switched on with empty inputs rests at the highest. Seen from the devices, v = e - R i(v) with
    R >= 0; the highest solution is the limit of v -> e - R i(v) from the no-load voltages down, found with Newton's
    steps that are proved to stay above it. A step from which no Newton's step leads down, or a voltage below a device's
    minimum, proves that not all of them run; then the one that falls short most is taken off and the rest solved again.
    Every device is also solved while it talks, one at a time.

    Limits: on a tree with one feeding point every voltage falls with every resistance and load, so the corners of all
    tolerances are the limits. With rings, several feeding points or several earths they come from an interval fixed
    point, and are NaN where that proves nothing. A device that may stop widens the limits of all others.

    A feeding point takes nothing back. Inputs charge from empty; nothing is said of how converters start meanwhile.

    References
    ----------
    Highest fixed point of a rising map: Tarski, 1955. Matrices with a non-negative inverse: Fiedler and Ptak, 1962.

    Examples
    --------
    >>> import rs485kit as rk
    >>> wire = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km")
    >>> nodes = [rk.Node(name="pump-house", feed_source=rk.FeedSource(voltage="24 V")),
    ...          rk.Node(name="gate", feed=rk.FeedLoad(power="2 W", minimum_voltage="9 V"))]
    >>> bus = rk.daisy_chain(nodes, spacing="400 m", cable=wire, feed=rk.FeedConductors())
    >>> levels = rk.analysis.feed_levels(bus)
    >>> round(levels.devices.at("gate").voltage.nominal, 3), round(levels.load_factor.nominal, 3)
    (15.046, 1.069)
    """
    bus = analyses.bus
    network = feed_network(bus)
    notes = Notes()
    devices = tuple(bus.node(name) for name in network.devices)
    supplied, lacking = powers_from_feed(analyses)
    loads = feed_loads(devices, supplied, notes)
    missing = (*network.missing, *notes.missing, *lacking)
    if missing:
        raise MissingDataError("feed_levels", missing)
    unstated = (*network.unstated, *notes.unstated)
    nominal = rest(network.circuit("nominal"), network.at, loads.at("nominal"), loads.talking("nominal"))
    bounds = feed_bounds(network, loads, known=not unstated)
    inputs = _at_switching_on(network, loads, known=not unstated)
    factor, first = _load_factor(network, loads, nominal, bounds)
    return FeedLevels(
        devices=_devices(network, loads, nominal, bounds, inputs),
        spans=_spans(bus, network, nominal, bounds),
        sources=_sources(bus, network, nominal, bounds, inputs),
        grounds=_grounds(bus, network, nominal, bounds),
        load_factor=factor,
        first_to_stop=first,
        assumed=(*network.assumed, *notes.assumed),
        unstated=unstated,
    )


def _limits(nominal: Array, bounds: Array) -> LimitsOfAll:
    return LimitsOfAll(lower=bounds[0], nominal=nominal, upper=bounds[1])


class _Inputs(NamedTuple):
    """At switching on: what feeding points may have to give [A], voltages meanwhile [V], and the charge [C]."""

    current: Array
    voltage: Array
    charge: Array


def _devices(
    network: FeedNetwork, loads: FeedLoads, nominal: Rest | None, bounds: FeedBounds, inputs: _Inputs
) -> FedDevices:
    names = network.devices
    missing: list[tuple[str, str]] = []
    if nominal is None:
        missing += [(name, NO_ANSWER) for name in names]
        voltage = current = np.full(len(names), math.nan)
        running = (False,) * len(names)
    else:
        voltage = nominal.voltage.min(axis=0)
        running = tuple(bool(each) for each in np.ravel(nominal.running.all(axis=0)))
        current = nominal.current.max(axis=0)
    minimum = loads.minimum
    missing += [(name, "feed.minimum_voltage") for name, each in zip(names, minimum, strict=True) if math.isnan(each)]
    return FedDevices(
        nodes=names,
        voltage=_limits(voltage, bounds.voltage),
        current=_limits(current, bounds.current),
        minimum_voltage=minimum,
        restart_voltage=loads.restart,
        starting_voltage=inputs.voltage,
        running=running,
        surely_running=tuple(bool(each) for each in bounds.surely_running),
        missing=tuple(missing),
    )


def _conductors(network: FeedNetwork, state: Rest) -> Array:
    """Return the current of every conductor in every state, plus and minus of a segment in turn [A]."""
    circuit = network.circuit("nominal")
    across = state.unknowns[:, circuit.start] - state.unknowns[:, circuit.end]
    return np.asarray(circuit.conductance * across)


def _spans(bus: Bus, network: FeedNetwork, nominal: Rest | None, bounds: FeedBounds) -> FeedSpans:
    count = len(network.segments)
    current, heat = np.full(count, math.nan), np.full(count, math.nan)
    if nominal is not None and count:
        each = _conductors(network, nominal)
        current = np.abs(each).max(axis=0).reshape(-1, 2).max(axis=1)
        resistance = 1.0 / network.circuit("nominal").conductance
        heat = (each**2 * resistance).max(axis=0).reshape(-1, 2).sum(axis=1)
    return FeedSpans(
        ends=network.segments,
        current=_limits(current, bounds.conductor),
        current_rating=_ratings(bus),
        heat=heat,
    )


def _ratings(bus: Bus) -> Array:
    feeds = [segment.feed for segment in bus.segments if segment.feed is not None]
    rating = [math.nan if each.current_rating is None else each.current_rating * each.wires for each in feeds]
    return np.array(rating, dtype=np.float64)


def _sources(
    bus: Bus, network: FeedNetwork, nominal: Rest | None, bounds: FeedBounds, inputs: _Inputs
) -> FeedingPoints:
    names, size = network.feeding, network.size
    sources = [bus.node(name).feed_source for name in names]
    current = np.full(len(names), math.nan)
    if nominal is not None:
        current = nominal.unknowns[:, size : size + len(names)].max(axis=0)

    def column(name: str) -> Array:
        figures = [getattr(each, name) for each in sources]
        return np.array([math.nan if each is None else each for each in figures], dtype=np.float64)

    first = {name: index for index, name in enumerate(network.places)}
    ratings = _ratings(bus)
    part = [int(network.parts[2 * first[start]]) for start, _ in network.segments]
    weakest = [
        _least([rating for rating, each in zip(ratings, part, strict=True) if each == int(network.parts[at])])
        for at in network.source_at
    ]
    missing: list[tuple[str, str]] = []
    for name, inrush, charge in zip(names, inputs.current, inputs.charge, strict=True):
        if math.isnan(inrush) or math.isnan(charge):
            missing.append((name, "feed.capacitance or feed.inrush_current of every device that it feeds"))
    return FeedingPoints(
        nodes=names,
        current=_limits(current, bounds.source),
        current_limit=column("current_limit"),
        fuse=column("fuse"),
        conductor_rating=weakest,
        inrush=inputs.current,
        inrush_current=column("inrush_current"),
        charge=inputs.charge,
        missing=tuple(missing),
    )


def _least(figures: list[float]) -> float:
    return min(figures) if figures and not any(math.isnan(each) for each in figures) else math.nan


def _grounds(bus: Bus, network: FeedNetwork, nominal: Rest | None, bounds: FeedBounds) -> FeedGrounds:
    shift = np.full(len(network.places), math.nan)
    missing: Missing = tuple((name, NO_ANSWER) for name in network.places) if nominal is None else ()
    if nominal is not None:
        every = minus_shifts(network, network.circuit("nominal"), nominal.solved, nominal.unknowns)
        shift = every[np.abs(every).argmax(axis=0), np.arange(every.shape[1])] if every.size else shift
    shared = {name for each in bus.segments if each.feed and each.feed.common_return for name in (each.start, each.end)}
    nodes = [bus.node(name) for name in network.places]
    return FeedGrounds(
        nodes=network.places,
        shift=_limits(shift, bounds.shift),
        common=tuple(
            (node.name in shared and node.common is not None)
            or (node.barrier is None and node.transceiver is not None and node.feed is not None)
            for node in nodes
        ),
        missing=missing,
    )


def _at_switching_on(network: FeedNetwork, loads: FeedLoads, *, known: bool) -> _Inputs:
    """Return what happens while all inputs charge at once.

    Of most voltage and least resistance: an input that nothing limits is a short, one that limits its inrush draws so
    much. That is the first moment; it falls from there.
    """
    count, sources = len(network.devices), len(network.feeding)
    limited = ~np.isnan(loads.inrush)
    full = loads.capacitance[2]
    shorted = ~limited & ~(full == 0.0)
    stated = known and not bool(np.isnan(full[~limited]).any())
    circuit = network.circuit("benign" if known else "nominal")
    solved = all_connected(circuit)
    ports = port_form(circuit, solved, network.at)
    fixed = np.where(limited, np.nan_to_num(loads.inrush), 0.0)
    current = fixed.copy()
    if shorted.any():
        driving = ports.open_voltage[shorted] - ports.resistance[np.ix_(shorted, limited)] @ fixed[limited]
        within = ports.resistance[np.ix_(shorted, shorted)]
        current[shorted] = _shorted(within, driving)
    given = np.full(sources, np.inf)
    if np.isfinite(current).all():
        given = unknowns_at(circuit, solved, network.at, current[None])[0, network.size : network.size + sources]
    lowest = network.circuit("adverse" if known else "nominal")
    low = port_form(lowest, all_connected(lowest), network.at)
    starting = low.open_voltage - low.resistance @ fixed if limited.any() else np.full(count, math.nan)
    part = network.parts[network.at[:, 0]]
    charge = [float((full * ports.open_voltage)[part == network.parts[at]].sum()) for at in network.source_at]
    return _Inputs(given if stated else np.full(sources, math.nan), starting, np.array(charge))


def _shorted(within: Array, driving: Array) -> Array:
    """Return the currents into inputs that are shorts; infinite where one sits on a source without resistance."""
    if float(np.diag(within).min()) <= 1e-9:
        return np.full(len(driving), np.inf)
    # two at one place share a current whose split does not matter
    return np.asarray(np.maximum(np.linalg.lstsq(within, driving, rcond=1e-12)[0], 0.0))


def _load_factor(
    network: FeedNetwork, loads: FeedLoads, nominal: Rest | None, bounds: FeedBounds
) -> tuple[Limits, str]:
    if nominal is None:
        return Limits(lower=math.nan, nominal=math.nan, upper=math.nan), ""
    typical = heaviest_talker(loads.at("nominal"), loads.talking("nominal"), nominal)
    factor = load_factor(nominal.ports, typical)
    first = ""
    if math.isfinite(factor):
        after = highest_solution(nominal.ports, typical.times(max(factor, 1e-12) * (1.0 + 1e-6)))
        first = "" if after.exists else network.devices[after.fallen]
    lower, upper = bounds.load_factor
    return Limits(lower=lower, nominal=factor, upper=upper), first
