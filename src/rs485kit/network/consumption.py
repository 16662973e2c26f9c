"""What a node's bus side draws: its transceiver by rate and load, bias from its rail, isolator, accessories."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from rs485kit.model import Accessory, Node, SupplyCurrent, Transceiver
from rs485kit.network.branches import Leg, Notes, Span
from rs485kit.network.driving import Driver
from rs485kit.units import MinTypMax

# the range over which receivers have to work: where a line may stand against a node's common
LOWEST_LINE = -7.0
SHORT_CIRCUIT_CURRENT = 0.25


class PairLoad(NamedTuple):
    """What a driver has to feed: resistance of the bus [ohm], current through the pair, and what opposes it [A].

    `opposing` is the largest current that the idle voltage of the bus adds to what a resistance would take.
    """

    resistance: Span
    current: float
    opposing: float


def plus(*figures: Span) -> Span:
    """Return the sum of figures with limits."""
    return Span(*(sum(each) for each in zip(*figures, strict=True)))


def consumption_of(figure: MinTypMax | None, place: str, notes: Notes) -> Span:
    """Return a current that something draws; of one whose least value is not stated that is 0."""
    if figure is None:
        return notes.miss(place)
    if figure.nominal is None:
        return notes.miss(f"{place} (its typical value, or both limits)")
    upper = notes.lack(place, "max") if figure.max is None else figure.max
    return Span(figure.nominal, 0.0 if figure.min is None else figure.min, upper)


class _Point(NamedTuple):
    """Supply current at one load and the rate in use; the load in ohm, infinite for none."""

    load: float
    current: Span


def _points(part: Transceiver, rate: float | None, place: str, notes: Notes) -> list[_Point]:
    """Return the supply current at each stated load, at the rate in use: between stated rates, never beyond."""
    groups: dict[float, list[SupplyCurrent]] = {}
    for each in part.supply_currents:
        groups.setdefault(math.inf if each.load is None else each.load, []).append(each)
    points = []
    for load, group in sorted(groups.items()):
        rows = sorted(group, key=lambda each: each.data_rate)
        if rate is not None and not rows[0].data_rate <= rate <= rows[-1].data_rate:
            continue
        if rate is None and len(rows) > 1:
            continue
        points.append(_Point(load, _between(rows, rate, place, notes)))
    return points


def _between(rows: list[SupplyCurrent], rate: float | None, place: str, notes: Notes) -> Span:
    spans = [consumption_of(row.current, f"{place}.supply_currents", notes) for row in rows]
    if rate is None or len(rows) == 1:
        return spans[0]
    after = next(index for index, row in enumerate(rows) if row.data_rate >= rate)
    if rows[after].data_rate == rate:
        return spans[after]
    low, high = rows[after - 1].data_rate, rows[after].data_rate
    share = (rate - low) / (high - low)
    return Span(*((1 - share) * a + share * b for a, b in zip(spans[after - 1], spans[after], strict=True)))


def talking_current(
    part: Transceiver, driver: Driver, pair: PairLoad, rate: float | None, place: str, notes: Notes
) -> Span:
    """Return the supply current of a transceiver with its driver on.

    Parameters
    ----------
    part : Transceiver
        The transceiver [-].
    driver : Driver
        Its driver [V, ohm].
    pair : PairLoad
        What it has to feed [ohm, A].
    rate : float or None
        The data rate; None: not stated, so that only a part with one rate can be told [bit/s].
    place : str
        Where it stands, for what is missing [-].
    notes : Notes
        Where that is noted [-].

    Returns
    -------
    Span
        Nominal and limits [A].

    Notes
    -----
    Nominal: at the stated load nearest to the bus, with the current E / (R + load) that the driver's own levels put
    into that load taken off and the one into the bus put on; so what the part itself takes is held to depend on the
    rate alone. Upper: the largest stated current at the lightest load that is no lighter than the bus can be, as more
    resistance draws no more current, and what the idle voltage of the bus adds; a bus heavier than every stated load
    adds the open voltage over the difference of conductances.
    """
    if not part.supply_currents:
        return notes.miss(f"{place}.supply_currents")
    points = _points(part, rate, place, notes)
    if not points:
        if rate is None:
            return notes.miss("link.data_rate")
        return notes.miss(f"{place}.supply_currents at {rate:g} bit/s, which the stated rates do not enclose")
    return Span(_nominal(points, driver, pair), _lowest(points, pair), _highest(points, driver, pair))


def _nominal(points: list[_Point], driver: Driver, pair: PairLoad) -> float:
    nearest = min(points, key=lambda each: abs(1.0 / each.load - 1.0 / pair.resistance.nominal))
    if nearest.load == pair.resistance.nominal and pair.opposing == 0.0:
        return nearest.current.nominal
    own = nearest.current.nominal - (0.0 if math.isinf(nearest.load) else _into(driver, nearest.load))
    return max(own, 0.0) + pair.current


def _into(driver: Driver, load: float) -> float:
    return driver.source / (driver.resistance + load)


def _highest(points: list[_Point], driver: Driver, pair: PairLoad) -> float:
    least = pair.resistance.lower
    if math.isnan(least):
        return math.nan
    heavier = [each for each in points if each.load <= least]
    if heavier:
        return heavier[-1].current.upper + pair.opposing
    if least <= 0.0:
        return math.nan
    beyond = driver.upper * (1.0 / least - 1.0 / points[0].load)
    return points[0].current.upper + beyond + pair.opposing


def _lowest(points: list[_Point], pair: PairLoad) -> float:
    lighter = [each for each in points if each.load >= pair.resistance.upper]
    return lighter[0].current.lower if lighter else 0.0


def own_current(part: Transceiver, driver: Driver, rate: float | None, place: str, notes: Notes) -> Span:
    """Return what a transceiver with its driver on takes for itself, the current into the pair left out.

    Parameters
    ----------
    part, driver, rate, place, notes
        As for `talking_current` [-].

    Returns
    -------
    Span
        Nominal and limits; the upper is that at the lightest stated load [A].
    """
    points = _points(part, rate, place, notes)
    if not points:
        return Span(math.nan, 0.0, math.nan)
    lightest = points[-1]
    into = 0.0 if math.isinf(lightest.load) else _into(driver, lightest.load)
    return Span(max(lightest.current.nominal - into, 0.0), 0.0, lightest.current.upper)


def leg_current(legs: Sequence[Leg], nominal: float, notes: Notes) -> Span:
    """Return what pull-ups draw from their rail.

    Parameters
    ----------
    legs : sequence of Leg
        Bias legs of one node [-].
    nominal : float
        The largest nominal current of all together over the states of the bus [A].
    notes : Notes
        Where limits that are not stated are noted [-].

    Returns
    -------
    Span
        Nominal and limits; at the most with the lines at -7 V, the end of the range over which receivers work [A].
    """
    most = 0.0
    for leg in legs:
        if leg.up and leg.on:
            rail = leg.pulls_to(notes)
            least = notes.lack(leg.place, "min") if leg.resistance.min is None else leg.resistance.min
            most += (rail.upper - LOWEST_LINE) / least if least != 0.0 else math.inf
    return Span(nominal, 0.0, most)


def accessory_current(each: Accessory, voltage: Span, place: str, notes: Notes) -> Span:
    """Return what an accessory draws while it draws, at the output of its supply.

    Parameters
    ----------
    each : Accessory
        The accessory [-].
    voltage : Span
        Voltage of the rail [V].
    place : str
        Where it stands, for what is missing [-].
    notes : Notes
        Where that is noted [-].

    Returns
    -------
    Span
        Nominal and limits [A].
    """
    if each.current is not None:
        return consumption_of(each.current, f"{place}.current", notes)
    if each.power is not None:
        power = consumption_of(each.power, f"{place}.power", notes)
        return Span(power.nominal / voltage.nominal, power.lower / voltage.upper, power.upper / voltage.lower)
    resistance = each.resistance
    assert resistance is not None
    if resistance.nominal is None:
        return notes.miss(f"{place}.resistance (its typical value, or both limits)")
    least = notes.lack(f"{place}.resistance", "min") if resistance.min is None else resistance.min
    most = math.inf if resistance.max is None else resistance.max
    return Span(voltage.nominal / resistance.nominal, voltage.lower / most, voltage.upper / least)


def short_circuit(node: Node, driver: Driver, own: Span) -> Span:
    """Return the supply current into a shorted pair, or against another driver that holds the opposite.

    Parameters
    ----------
    node : Node
        A node with a transceiver [-].
    driver : Driver
        Its driver [V, ohm].
    own : Span
        What the transceiver takes for itself [A].

    Returns
    -------
    Span
        Nominally E / R, at the most the current limit of the part, or the 250 mA that the standard allows [A].
    """
    part = node.transceiver
    assert part is not None
    limit = SHORT_CIRCUIT_CURRENT if part.short_circuit_current is None else part.short_circuit_current
    into = limit if driver.resistance == 0.0 else min(driver.source / driver.resistance, limit)
    return plus(own, Span(into, 0.0, limit))


