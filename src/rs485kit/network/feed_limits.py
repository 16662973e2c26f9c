"""Limits of a feed over all tolerances: corners where they decide, an interval fixed point elsewhere."""

from typing import NamedTuple

import numpy as np

from rs485kit.network.assembly import Floats
from rs485kit.network.feed import Corner, FeedNetwork, minus_datum, minus_shifts
from rs485kit.network.feed_loads import FeedLoads
from rs485kit.solvers.feed import (
    Flags,
    Loads,
    load_factor,
    loaded,
    lowest_voltages,
    unknowns_at,
)
from rs485kit.solvers.feed_bounds import FeedBox, enclosed_feed
from rs485kit.solvers.feed_sources import Rest, rest


class FeedBounds(NamedTuple):
    """Lower and upper limits, each (2, rows), NaN where nothing is proved.

    Voltage and current of devices, current of conductors (magnitude, of plus and minus the larger) and of feeding
    points, shift of the minus [V, A]. `surely_running` tells which devices run whatever happens.
    """

    voltage: Floats
    current: Floats
    conductor: Floats
    source: Floats
    shift: Floats
    surely_running: Flags
    load_factor: tuple[float, float]


def heaviest_talker(loads: Loads, more: Floats, state: Rest) -> Loads:
    """Return the loads while that device talks which thereby pulls a device lowest.

    Parameters
    ----------
    loads : Loads
        The loads while nobody talks [-].
    more : array, shape (n,)
        What each draws more while it talks [W].
    state : Rest
        The feed with these loads [-].

    Returns
    -------
    Loads
        The loads [-].
    """
    talkers = np.flatnonzero((more > 0) & state.base.running)
    power = loads.power.copy()
    if len(talkers):
        worst = talkers[int(state.voltage[1:].min(axis=1).argmin())]
        power[worst] += more[worst]
    return loads._replace(power=power)


def feed_bounds(network: FeedNetwork, loads: FeedLoads, *, known: bool) -> FeedBounds:
    """Return proved limits of a feed over all tolerances and whoever talks.

    Parameters
    ----------
    network : FeedNetwork
        The conductors [-].
    loads : FeedLoads
        What the devices draw [-].
    known : bool
        Whether every limit that they need is stated [-].

    Returns
    -------
    FeedBounds
        The limits [V, A].

    Notes
    -----
    Trees with one feeding point, one earth at most and no resistive load: F of `solvers.feed` falls with every
    resistance and load and rises with the source, so the voltages of the adverse corner are the least; if all devices
    run there, all run everywhere, and the benign corner has the greatest. There the current of a conductor is the sum
    of those behind it, which rise as voltages fall, so the adverse corner has the greatest of these too. If some device
    stops, others may rise above what the corners show: then from below each device has at least what is left when all
    draw what they would at their minimum, and from above the no-load voltage.
    """
    if not known:
        return _nothing(network)
    # a resistive load draws less as its own wires grow, which lifts those before it: no corner is the least of all
    tree = network.simple and not loads.conductance.any()
    return _of_tree(network, loads) if tree else _of_box(network, loads)


def _nothing(network: FeedNetwork) -> FeedBounds:
    devices, places = len(network.devices), len(network.places)

    def unknown(rows: int) -> Floats:
        return np.full((2, rows), np.nan)

    return FeedBounds(
        unknown(devices), unknown(devices), unknown(len(network.segments)), unknown(len(network.feeding)),
        unknown(places), np.zeros(devices, dtype=np.bool_), (np.nan, np.nan),
    )  # fmt: skip


def _of_tree(network: FeedNetwork, loads: FeedLoads) -> FeedBounds:
    adverse, benign = network.circuit("adverse"), network.circuit("benign")
    low = rest(adverse, network.at, loads.at("adverse"), loads.talking("adverse"))
    # the least load is one of nobody talking
    high = rest(benign, network.at, loads.at("benign"), np.zeros(len(network.devices)))
    if low is None or high is None:
        return _nothing(network)
    factors = (
        load_factor(low.ports, heaviest_talker(loads.at("adverse"), loads.talking("adverse"), low)),
        load_factor(high.ports, loads.at("benign")),
    )
    if low.running.all():
        lowest, most, least = low.voltage.min(axis=0), low.current, high.current
        voltage = np.stack((lowest, high.voltage[0]))
        current = np.stack((_least_current(loads, voltage), _most_current(loads, voltage)))
        raised = minus_shifts(network, adverse, low.solved, low.unknowns).max(axis=0, initial=-np.inf)
        resting = minus_shifts(network, benign, high.solved, high.unknowns)[0]
        surely = np.ones(len(lowest), dtype=np.bool_)
    else:
        heaviest = loads.at("adverse")
        heaviest = heaviest._replace(power=heaviest.power + loads.talking("adverse"))
        own = heaviest._replace(conductance=np.zeros(len(heaviest.power)))
        voltage = np.stack((lowest_voltages(loaded(low.ports, heaviest.conductance), own), high.ports.open_voltage))
        voltage[0] = np.maximum(voltage[0], np.where(np.isnan(voltage[0]), np.nan, 0.0))
        surely = (voltage[0] >= loads.minimum) & (voltage[0] > 0)
        current = np.stack((_least_current(loads, voltage) * surely, _most_current(loads, voltage)))
        if not np.isfinite(current).all():
            # a device whose minimum is not stated may draw any current before it stops
            return _nothing(network)._replace(voltage=voltage, surely_running=surely, load_factor=factors)
        most, least = current[1][None], current[0][None]
        raised = minus_shifts(network, adverse, low.solved, unknowns_at(adverse, low.solved, network.at, most))[0]
        resting = minus_shifts(network, benign, high.solved, unknowns_at(benign, high.solved, network.at, least))[0]
    unknowns_low = unknowns_at(adverse, low.solved, network.at, most)
    unknowns_high = unknowns_at(benign, high.solved, network.at, least)
    size, sources = network.size, len(network.feeding)
    return FeedBounds(
        voltage,
        current,
        np.stack((_conductors(network, "benign", unknowns_high).min(axis=0),
                  _conductors(network, "adverse", unknowns_low).max(axis=0))),
        np.stack((unknowns_high[:, size : size + sources].min(axis=0),
                  unknowns_low[:, size : size + sources].max(axis=0))),
        np.stack((resting, raised)),
        surely,
        factors,
    )  # fmt: skip


def _conductors(network: FeedNetwork, corner: Corner, unknowns: Floats) -> Floats:
    """Return the larger current of plus and minus of every segment in every state."""
    circuit = network.circuit(corner)
    each = np.abs(circuit.conductance * (unknowns[:, circuit.start] - unknowns[:, circuit.end]))
    return np.asarray(each.reshape(len(unknowns), -1, 2).max(axis=2))


def _least_current(loads: FeedLoads, voltage: Floats) -> Floats:
    """Return what each draws at the least while it runs and does not talk."""
    draws = (loads.power[1] > 0) & (voltage[1] > 0)
    power = np.divide(loads.power[1], voltage[1], out=np.zeros_like(voltage[1]), where=draws)
    return np.asarray(power + loads.current[1] + loads.conductance[1] * voltage[0])


def _most_current(loads: FeedLoads, voltage: Floats) -> Floats:
    """Return what each draws at the most, talking or not."""
    running = np.fmax(voltage[0], loads.minimum)
    power = loads.power[2] + loads.more[2]
    of_power = np.divide(power, running, out=np.where(power > 0, np.inf, 0.0), where=(power > 0) & (running > 0))
    return np.asarray(of_power + loads.current[2] + loads.conductance[2] * voltage[1])


def _of_box(network: FeedNetwork, loads: FeedLoads) -> FeedBounds:
    """Return what an interval fixed point proves; a shift only where no earth has a voltage of its own."""
    lower, upper = network.circuit("adverse"), network.circuit("benign")
    box = FeedBox(lower, upper, network.at, loads.at("benign"), loads.at("adverse"), loads.talking("adverse"))
    places, datum = len(network.places), minus_datum(network)
    outputs = np.zeros((places, network.size))
    outputs[np.arange(places), 2 * np.arange(places) + 1] = 1.0
    told = datum >= 0
    outputs[np.flatnonzero(told), 2 * datum[told] + 1] -= 1.0
    found = enclosed_feed(box, outputs)
    if found is None:
        return _nothing(network)
    quiet = not np.any(lower.emf[lower.sources :]) and not np.any(upper.emf[upper.sources :])
    pairs = found.conductor.reshape(2, -1, 2)
    magnitude = np.where((pairs[0] <= 0) & (pairs[1] >= 0), 0.0, np.abs(pairs).min(axis=0)), np.abs(pairs).max(axis=0)
    return FeedBounds(
        found.voltage,
        found.current,
        np.stack([np.asarray(each.max(axis=1)) for each in magnitude]),
        found.emf[:, : lower.sources],
        found.outputs if quiet else np.full_like(found.outputs, np.nan),
        found.surely_running,
        found.load_factor,
    )
