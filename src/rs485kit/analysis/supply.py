"""Supply budgets: what every isolated supply has to give and has left, and how hot the parts get."""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from rs485kit.analysis.results import Missing
from rs485kit.analysis.supply_tables import (
    LIMITED,
    SINGLE,
    BarrierSupplies,
    SupplyBudgets,
    TransceiverHeats,
)
from rs485kit.analysis.termination import terminations
from rs485kit.analysis.termination_tables import LimitsOfAll
from rs485kit.errors import InputError, MissingDataError, Problem
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.network import idle_network
from rs485kit.network.branches import EXACT_ZERO, Leg, Notes, Span, legs_of
from rs485kit.network.consumption import (
    PairLoad,
    accessory_current,
    consumption_of,
    leg_current,
    own_current,
    plus,
    short_circuit,
    talking_current,
)
from rs485kit.network.driving import Driver
from rs485kit.network.feed_loads import Drawn
from rs485kit.network.loads import drivers_of, line_pairs, nominal_states
from rs485kit.network.supply import feeding_voltage, output_voltage, rating, taken_in

UNTOLD = Span(math.nan, math.nan, math.nan)


@as_analysis()
def supply_budgets(analyses: Analyses, *, talking_share: float = 1.0) -> SupplyBudgets:
    """Return what every isolated supply has to give and has left, and how hot supplies and transceivers get.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    talking_share : float
        Share of the time that each node talks, for heat; a supply has to bear the current of talking all the same [-].

    Returns
    -------
    SupplyBudgets
        The tables `barriers` and `transceivers` [A, W, K].

    Raises
    ------
    InputError
        If the share is not from 0 to 1.

    Notes
    -----
    On each isolated supply hang the transceiver, the pull-ups of bias networks and active terminators at its node, the
    bus side of the isolator and the accessories. The transceiver's current while it talks follows from its own stated
    points, between its stated data rates and never beyond, and from the load that the whole bus shows to its driver:
    nominally what the part takes for itself at the nearest stated load, and E / (R + load) into the bus. At the most it
    is what the part states at a load no lighter than the bus can be. Pull-ups at the most: with their line at -7 V.
    What a part does not state as its least consumption counts as 0 in a lower limit.

    Rating: of the next lower stated input voltage, times the derating at the ambient temperature. Surplus: rating less
    what is drawn while talking, the adverse limits against each other. Input power: output power and the loss, see
    `IsolatedSupply.efficiency`. Temperatures: ambient and thermal resistance times heat, at steady state; a shorted
    driver may shut itself down first. Heat of a transceiver: what it takes in less what goes into the bus.

    Every figure that cannot be told is NaN, and `missing` names why.

    References
    ----------
    Junction temperature from dissipation and thermal resistance: common practice of datasheets. 250 mA for a short:
    EIA-485, as printed in B&B Electronics, RS-422/485 Application Note, appendix A.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(
    ...     name="part", unit_load=0.125, driver_open_voltage=("1.5 V", "4.3 V", "6 V"),
    ...     driver_loaded_voltage=("1.5 V", "2.3 V", "5 V"), quiescent_current=(None, "2.8 mA", "4.5 mA"),
    ...     supply_currents=[rk.SupplyCurrent(data_rate="0 bit/s", load="54 ohm", current=(None, "74 mA", "88 mA")),
    ...                      rk.SupplyCurrent(data_rate="500 kbit/s", load="54 ohm",
    ...                                       current=(None, "113 mA", "160 mA"))])
    >>> supply = rk.IsolatedSupply(name="one watt", output_voltage="5 V", output_power="1 W")
    >>> wall = rk.Barrier(isolator=rk.Isolator(name="part", supply_current="2 mA"), supply=supply)
    >>> end = rk.Termination(resistance="120 ohm")
    >>> nodes = [rk.Node(name=name, transceiver=part, barrier=wall, terminations=end) for name in ("head", "tail")]
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km")
    >>> bus = rk.daisy_chain(nodes, spacing="100 m", cable=pair, link=rk.Link(data_rate="500 kbit/s"))
    >>> row = rk.analysis.supply_budgets(bus).barriers.at("head")
    >>> round(row.talking.nominal, 4), round(row.surplus.lower, 4), row.spare(0.01)
    (0.1112, 0.0379, 3)
    """
    if isinstance(talking_share, bool) or not isinstance(talking_share, int | float) or not 0 <= talking_share <= 1:
        raise InputError(Problem("supply_budgets talking_share", f"{talking_share!r}", "a share from 0 to 1"))
    bus = analyses.bus
    ambient = _ambient(bus)
    notes = Notes()
    states = _states(analyses)
    barriers = [
        _barrier(bus, node, states, ambient, talking_share, notes)
        for node in bus.nodes
        if node.barrier is not None and node.barrier.supply is not None
    ]
    supplies: dict[str, Any] = {name: _column([row.limited[name] for row in barriers]) for name in LIMITED}
    supplies |= {name: [row.single[name] for row in barriers] for name in SINGLE}
    hot = [_hot(node, states, ambient, talking_share, notes) for node in bus.nodes if node.name in states.drivers]
    return SupplyBudgets(
        barriers=BarrierSupplies(
            nodes=tuple(row.node for row in barriers),
            missing=tuple(each for row in barriers for each in row.missing),
            **supplies,
        ),
        transceivers=TransceiverHeats(
            nodes=tuple(row.node for row in hot),
            missing=tuple(each for row in hot for each in row.missing),
            max_junction_temperature=[row.single["max_junction_temperature"] for row in hot],
            highest_ambient=[row.single["highest_ambient"] for row in hot],
            **{
                name: _column([row.limited[name] for row in hot])
                for name in ("supply_current", "heat", "junction_temperature", "shorted_temperature")
            },
        ),
        assumed=notes.assumed,
    )


def _column(spans: Sequence[Span]) -> LimitsOfAll:
    nominal, lower, upper = np.array(spans, dtype=np.float64).reshape(-1, 3).T
    return LimitsOfAll(lower=lower, nominal=nominal, upper=upper)


def _ambient(bus: Bus) -> Span:
    temperature = bus.environment.temperature if bus.environment is not None else None
    if temperature is None:
        return UNTOLD
    members = (temperature.nominal, temperature.min, temperature.max)
    return Span(*(math.nan if each is None else each for each in members))


class _States(NamedTuple):
    """What the bus asks of its drivers, by node, the nominal current of each node's pull-ups, and the data rate."""

    drivers: dict[str, Driver]
    loads: dict[str, PairLoad]
    legs: dict[str, float]
    rate: float | None
    lacking: tuple[str, ...]


def _states(analyses: Analyses) -> _States:
    bus = analyses.bus
    drivers = drivers_of(bus)
    found = terminations(analyses).driver_load
    loads: dict[str, PairLoad] = {}
    for row in found:
        load = Span(row.resistance.nominal, row.resistance.lower, row.resistance.upper)
        opposing = row.current.upper - _open_voltage(drivers, bus, row.node) / row.resistance.lower
        loads[row.node] = PairLoad(load, row.current.nominal, max(opposing, 0.0))
    rate = bus.link.data_rate if bus.link is not None else None
    return _States(
        {bus.nodes[each.vertex].name: each for each in drivers}, loads, _legs(bus, drivers), rate, found.unstated
    )


def _open_voltage(drivers: Sequence[Driver], bus: Bus, name: str) -> float:
    """Return the greatest open voltage of the driver of a node."""
    return next(each.upper for each in drivers if bus.nodes[each.vertex].name == name)


def _legs(bus: Bus, drivers: tuple[Driver, ...]) -> dict[str, float]:
    """Return the largest nominal current of each node's pull-ups over the states of the bus [A]."""
    notes = Notes()
    legs = [(index, leg) for index, node in enumerate(bus.nodes) for leg in legs_of(node) if leg.up and leg.on]
    if not legs:
        return {}
    try:
        network = idle_network(bus)
    except MissingDataError:
        return {bus.nodes[index].name: math.nan for index, _ in legs}
    pairs = line_pairs(network, [index for index, _ in legs], [leg.line for _, leg in legs])
    rails = np.array([leg.pulls_to(notes).nominal for _, leg in legs])
    resistance = np.array([leg.resistance.nominal or math.nan for _, leg in legs])
    current = np.maximum((rails - nominal_states(network, pairs, drivers)) / resistance, 0.0)
    owners = np.array([index for index, _ in legs])
    return {
        bus.nodes[index].name: float(current[:, owners == index].sum(axis=1).max()) for index in set(owners.tolist())
    }


class _Row(NamedTuple):
    node: str
    limited: dict[str, Span]
    single: dict[str, float]
    missing: Missing


class _Draws(NamedTuple):
    """What the bus side of a node draws [A]."""

    listening: Span
    talking: Span
    shorted: Span
    mean: Span


def _draws(bus: Bus, node: Node, states: _States, voltage: Span, share: float, notes: Notes) -> _Draws:
    place = f'nodes["{node.name}"]'
    legs: list[Leg] = legs_of(node) if node.powered else []
    always = [leg_current(legs, states.legs.get(node.name, 0.0), notes)]
    isolator = node.barrier.isolator if node.barrier is not None else None
    if isolator is None:
        always.append(notes.miss(f"{place}.barrier.isolator"))
    else:
        always.append(consumption_of(isolator.supply_current, f"{place}.barrier.isolator.supply_current", notes))
    extra = [
        accessory_current(each, voltage, f'{place}.accessories["{each.name}"]', notes) for each in node.accessories
    ]
    duties = [each.duty for each in node.accessories]
    mean = [Span(*(duty * part for part in each)) for duty, each in zip(duties, extra, strict=True)]
    off = on = short = EXACT_ZERO
    part = node.transceiver
    if part is not None:
        off = consumption_of(part.quiescent_current, f"{place}.transceiver.quiescent_current", notes)
        on, short = off, off
        if node.name in states.drivers:
            on = _talking(node, states, notes)
            driver = states.drivers[node.name]
            own = own_current(part, driver, states.rate, f"{place}.transceiver", notes)
            short = short_circuit(node, driver, own)
    rest = plus(*always)
    return _Draws(
        plus(off, rest, *extra),
        plus(on, rest, *extra),
        plus(short, rest, *extra),
        plus(Span(*((1 - share) * a + share * b for a, b in zip(off, on, strict=True))), rest, *mean),
    )


def _talking(node: Node, states: _States, notes: Notes) -> Span:
    part, place = node.transceiver, f'nodes["{node.name}"].transceiver'
    assert part is not None
    pair = states.loads[node.name]
    found = talking_current(part, states.drivers[node.name], pair, states.rate, place, notes)
    for each in states.lacking if math.isnan(found.upper) or math.isnan(found.nominal) else ():
        notes.miss(each)
    return found


def _power(voltage: Span, current: Span) -> Span:
    """Return the power at an output, the limits of both against each other, which is more than they can be at once."""
    return Span(*(a * b for a, b in zip(voltage, current, strict=True)))


def _warmed(ambient: Span, resistance: float | None, heat: Span) -> Span:
    return UNTOLD if resistance is None else Span(*(a + resistance * b for a, b in zip(ambient, heat, strict=True)))


def _barrier(bus: Bus, node: Node, states: _States, ambient: Span, share: float, assumed: Notes) -> _Row:
    barrier = node.barrier
    assert barrier is not None and barrier.supply is not None
    supply, place, notes = barrier.supply, f'nodes["{node.name}"].barrier', Notes()
    voltage = output_voltage(barrier, place, notes)
    draws = _draws(bus, node, states, voltage, share, notes)
    rated = rating(barrier, ambient, place, notes)
    surplus = Span(
        rated.nominal - draws.talking.nominal, rated.lower - draws.talking.upper, rated.upper - draws.talking.lower
    )
    wanted = (*notes.missing, *notes.unstated)
    further = Notes()
    listening = taken_in(barrier, _power(voltage, draws.listening), place, further)
    talking = taken_in(barrier, _power(voltage, draws.talking), place, further)
    mean = taken_in(barrier, _power(voltage, draws.mean), place, further)
    fed = feeding_voltage(barrier)
    case = _warmed(ambient, supply.thermal_resistance, mean.heat)
    limit = supply.max_case_temperature
    highest = math.nan
    if limit is not None and supply.thermal_resistance is not None:
        highest = limit - supply.thermal_resistance * mean.heat.upper
    capacitance = barrier.load_capacitance
    for sentence in (*notes.assumed, *further.assumed):
        assumed.assume(sentence.partition(" (")[0], node.name)
    limited = {
        "output_voltage": voltage, "listening": draws.listening, "talking": draws.talking, "shorted": draws.shorted,
        "rating": rated, "surplus": surplus, "input_listening": listening.power, "input_talking": talking.power,
        "input_current": Span(
            talking.power.nominal / fed.nominal, talking.power.lower / fed.upper, talking.power.upper / fed.lower
        ),
        "heat": mean.heat, "case_temperature": case,
    }  # fmt: skip
    single = {
        "highest_ambient": highest,
        "minimum_load": _known(supply.minimum_load),
        "ripple": _known(supply.ripple),
        "load_capacitance": _known(None if capacitance is None else capacitance.max),
        "capacitive_load": _known(supply.capacitive_load),
    }
    missing = tuple((node.name, each) for each in dict.fromkeys((*wanted, *further.missing, *further.unstated)))
    return _Row(node.name, limited, single, missing)


def _known(figure: float | None) -> float:
    return math.nan if figure is None else figure


def _hot(node: Node, states: _States, ambient: Span, share: float, assumed: Notes) -> _Row:
    part, place, notes = node.transceiver, f'nodes["{node.name}"]', Notes()
    assert part is not None
    voltage = _rail(node, place, notes)
    on = _talking(node, states, notes)
    off = consumption_of(part.quiescent_current, f"{place}.transceiver.quiescent_current", notes)
    driver, pair = states.drivers[node.name], states.loads[node.name]
    # the least that leaves: the loaded minimum over the lightest load, the most: all that the pair can take
    given = Span(
        (driver.source - driver.resistance * pair.current) * pair.current,
        driver.upper**2 / pair.resistance.lower if pair.resistance.lower else math.nan,
        driver.lower**2 / pair.resistance.upper if math.isfinite(pair.resistance.upper) else 0.0,
    )
    talking = Span(*(max(volts * amps - out, 0.0) for volts, amps, out in zip(voltage, on, given, strict=True)))
    resting = _power(voltage, off)
    heat = Span(*((1 - share) * a + share * b for a, b in zip(resting, talking, strict=True)))
    own = own_current(part, driver, states.rate, f"{place}.transceiver", Notes())
    shorted = _power(voltage, short_circuit(node, driver, own))
    if part.thermal_resistance is None:
        notes.miss(f"{place}.transceiver.thermal_resistance")
    if math.isnan(ambient.upper):
        notes.miss("environment.temperature (its max)")
    limit, resistance = part.max_junction_temperature, part.thermal_resistance
    highest = math.nan
    if limit is not None and resistance is not None:
        highest = limit - resistance * heat.upper
    limited = {
        "supply_current": on,
        "heat": heat,
        "junction_temperature": _warmed(ambient, resistance, heat),
        "shorted_temperature": _warmed(ambient, resistance, shorted),
    }
    single = {"max_junction_temperature": _known(limit), "highest_ambient": highest}
    for sentence in notes.assumed:
        assumed.assume(sentence.partition(" (")[0], node.name)
    return _Row(node.name, limited, single, tuple((node.name, each) for each in (*notes.missing, *notes.unstated)))


def _rail(node: Node, place: str, notes: Notes) -> Span:
    """Return the bus-side supply of a transceiver [V]."""
    if node.barrier is not None and node.barrier.supply is not None:
        return output_voltage(node.barrier, f"{place}.barrier", notes)
    figure = node.supply_voltage
    if figure is None or figure.nominal is None:
        return notes.miss(f"{place}.transceiver.supply_voltage")
    return Span(figure.nominal, _known(figure.min), _known(figure.max))


def powers_from_feed(analyses: Analyses) -> tuple[dict[str, Drawn], tuple[str, ...]]:
    """Return what isolated supplies take from the feed whose nodes state no law of their own, and what is lacking.

    Parameters
    ----------
    analyses : Analyses
        The bus [-].

    Returns
    -------
    tuple
        Powers by node, and the figures that the others lack [W].
    """
    laws = ("power", "current", "resistance")
    wanted = [
        node
        for node in analyses.bus.nodes
        if node.feed is not None and node.powered and all(getattr(node.feed, law) is None for law in laws)
    ]
    found: dict[str, Drawn] = {}
    lacking: list[str] = []
    for node in wanted:
        if node.barrier is None or node.barrier.supply is None:
            continue
        table = supply_budgets(analyses).barriers
        row = table.at(node.name)
        quiet, talking = row.input_listening, row.input_talking
        if math.isnan(quiet.nominal) or math.isnan(talking.nominal):
            lacking += [field for name, field in table.missing if name == node.name]
            continue
        more = Span(
            talking.nominal - quiet.nominal, max(talking.lower - quiet.lower, 0.0), talking.upper - quiet.upper
        )
        found[node.name] = Drawn(Span(quiet.nominal, quiet.lower, quiet.upper), more)
    return found, tuple(dict.fromkeys(lacking))
