"""Rules on isolated supplies: what they give, at which voltage, how they start, and how hot parts get."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.analysis import BarrierSupplies, SupplyBudget
from rs485kit.analysis.termination_tables import Limits
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Node
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.feed import listed
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown

CELSIUS = 273.15


def _supplied(bus: Bus) -> list[Node]:
    """Return the nodes with an isolated supply of which something is stated that a budget could be made of."""
    found = [node for node in bus.nodes if node.barrier is not None and node.barrier.supply is not None]
    return [node for node in found if _says_something(node)]


def _says_something(node: Node) -> bool:
    part = node.transceiver
    drawn = part is not None and (part.supply_currents or part.quiescent_current is not None)
    return bool(drawn or node.accessories)


def _lacking(table: BarrierSupplies, name: str) -> tuple[str, ...]:
    return tuple(field for node, field in table.missing if node == name)


@rule("power.supply-overloaded", title="An isolated supply has to give more than it is rated for", basis="physics")
def supply_overloaded(analyses: Analyses) -> Iterable[Finding]:
    """What hangs on the isolated supply of a node draws more than the supply is rated for where it works.

    What it checks
    --------------
    Transceiver with its driver on at the data rate and the solved load of the bus, pull-ups of bias, isolator and
    accessories, at their largest, against the rating at the highest ambient temperature and the lowest input voltage.

    Why it matters
    --------------
    An isolated node lives on a supply of a watt or less. A driver takes ten to forty times what the same part takes
    while it listens, and more the faster it talks; a budget made with the typical current of a listening node fails in
    service, when the supply folds back in the middle of a telegram.

    Limit and source
    ----------------
    The rating of the supply, derated as its datasheet says, with the reserve of the rule. The largest currents count,
    not the typical ones. It follows from adding currents.

    When to waive
    -------------
    When the supply has been loaded with the stated current at the highest ambient temperature.
    """
    supplied = _supplied(analyses.bus)
    if not supplied:
        return
    table = analysis.supply_budgets(analyses).barriers
    untold: dict[str, tuple[str, ...]] = {}
    for node in supplied:
        row = table.at(node.name)
        if math.isnan(row.talking.nominal) or math.isnan(row.rating.nominal):
            untold[node.name] = _lacking(table, node.name)
            continue
        found = _overload(row, _lacking(table, node.name))
        if found.verdict == "unknown":
            untold[node.name] = found.missing
        else:
            yield found
    if untold:
        missing = tuple(dict.fromkeys(each for every in untold.values() for each in every))
        what = f"whether the isolated supply at {listed(list(untold))} is strong enough is not known"
        yield unknown(Place.barrier(next(iter(untold))) if len(untold) == 1 else Place.bus(), what, missing=missing)


def _overload(row: SupplyBudget, missing: tuple[str, ...]) -> Finding:
    # held against the rating where the supply works, so that a bound of the rating is in the limit
    limit = row.rating.nominal if math.isnan(row.rating.lower) else row.rating.lower
    return at_most(
        Place.barrier(row.node),
        "current from the isolated supply",
        measured=row.talking.nominal,
        bound=row.talking.upper,
        limit=limit,
        unit="A",
        message=(
            f"the supply gives {figure(row.talking.nominal, 'A')} while its node talks, "
            f"{figure(row.talking.upper, 'A')} at the most; it is rated for {figure(limit, 'A')} where it works"
        ),
        remedy="use a stronger supply, a lower data rate, fewer accessories, or move the bias to another node",
        missing=missing,
    )


@rule(
    "power.output-outside-supply",
    title="An isolated supply may leave the range of what it feeds",
    basis="physics",
    reserve=0.0,
)
def output_outside_supply(analyses: Analyses) -> Iterable[Finding]:
    """The output of an isolated supply may leave the supply range of the transceiver that it feeds.

    What it checks
    --------------
    The output over setting, load and input, and half the ripple where it is stated, against the `supply_voltage` of the
    transceiver; and the least current against the least load for which the output holds, where that is stated.

    Why it matters
    --------------
    A small converter without regulation falls by a tenth under load, follows its input more than one to one, and rises
    past the ratings of the part when its node only listens. A 5 V module at 10 % low input gives 3.8 V.

    Limit and source
    ----------------
    Range of the transceiver's datasheet and least load of the supply's. It follows from multiplying the deviations.

    When to waive
    -------------
    When a regulator stands between the supply and the transceiver.
    """
    bus = analyses.bus
    untold: list[str] = []
    for node in bus.nodes:
        if node.barrier is None or node.barrier.supply is None or node.transceiver is None:
            continue
        supply, allowed = node.barrier.supply, node.transceiver.supply_voltage
        row = analysis.supply_budgets(analyses).barriers.at(node.name)
        limited = allowed is not None and (allowed.min is not None or allowed.max is not None)
        if allowed is None or not limited or supply.output_voltage is None:
            untold.append(node.name)
            continue
        half = 0.0 if math.isnan(row.ripple) else row.ripple / 2
        where, volts = Place.barrier(node.name), row.output_voltage
        remedy = "use a regulated supply, or a regulator behind it"
        for limit, bound, sense in (
            (allowed.min, volts.lower - half, at_least), (allowed.max, volts.upper + half, at_most)
        ):  # fmt: skip
            if limit is not None and allowed.min != allowed.max:
                yield sense(
                    where, "output of the isolated supply", measured=volts.nominal, bound=bound, limit=limit,
                    unit="V", remedy=remedy, missing=_lacking(analysis.supply_budgets(analyses).barriers, node.name),
                )  # fmt: skip
        if row.minimum_load > 0.0 and row.listening.lower < row.minimum_load:
            yield Finding(
                verdict="marginal",
                where=where,
                quantity="least current from the isolated supply",
                unit="A",
                measured=row.listening.lower,
                limit=row.minimum_load,
                message=(
                    f"while its node listens the supply may give as little as {figure(row.listening.lower, 'A')}; "
                    f"below {figure(row.minimum_load, 'A')} its output is not specified and rises"
                ),
                remedy="add a resistor that draws the difference, or use a regulated supply",
            )
    if untold:
        what = f"whether the isolated supply at {listed(untold)} keeps within what it feeds is not known"
        yield unknown(
            Place.bus(), what,
            missing=("barrier.supply.output_voltage", "transceiver.supply_voltage (its min and max)"),
        )  # fmt: skip


@rule("power.does-not-start", title="An isolated supply may not start into the capacitance on it", basis="physics")
def does_not_start(analyses: Analyses) -> Iterable[Finding]:
    """There is more capacitance on an isolated supply than it starts into.

    What it checks
    --------------
    The `load_capacitance` of each barrier against the `capacitive_load` of its supply, where that is stated.

    Why it matters
    --------------
    Small converters fold back into a short, and an empty capacitor is one: too much of it and the node never starts, or
    only in the cold, or only at the second try.

    Limit and source
    ----------------
    The largest capacitance of the supply's datasheet.

    When to waive
    -------------
    When something limits the charging current.
    """
    untold: dict[str, str] = {}
    for node in analyses.bus.nodes:
        barrier = node.barrier
        if barrier is None or barrier.supply is None:
            continue
        stated, limit = barrier.load_capacitance, barrier.supply.capacitive_load
        if stated is None and limit is None:
            continue
        if stated is None or limit is None:
            untold[node.name] = "barrier.load_capacitance" if stated is None else "barrier.supply.capacitive_load"
            continue
        yield at_most(
            Place.barrier(node.name), "capacitance on the isolated supply",
            measured=stated.nominal, bound=math.nan if stated.max is None else stated.max,
            limit=limit, unit="F", remedy="use less capacitance, or limit its charging",
            missing=(f'nodes["{node.name}"].barrier.load_capacitance (its max)',),
        )  # fmt: skip
    if untold:
        what = f"whether the isolated supply at {listed(list(untold))} starts is not known"
        yield unknown(Place.bus(), what, missing=tuple(dict.fromkeys(untold.values())))


@rule(
    "power.part-too-hot",
    title="A transceiver or an isolated supply gets hotter than it may",
    basis="physics",
    reserve=0.0,
)
def part_too_hot(analyses: Analyses) -> Iterable[Finding]:
    """The junction of a transceiver or the case of an isolated supply gets hotter than it may in use.

    What it checks
    --------------
    Ambient temperature at its highest, and thermal resistance times the heat of a node that talks all the time, for
    parts that state their thermal resistance and their highest temperature; a transceiver into a shorted pair too,
    which is marginal only, as parts protect themselves.

    Why it matters
    --------------
    A cabinet in the sun is 30 K above the air. Two drivers that hold opposite levels turn more than a watt into heat.

    Limit and source
    ----------------
    The part's own highest temperature. It follows from T = ambient + R P.

    When to waive
    -------------
    When the temperature of the part has been measured under these conditions.
    """
    bus = analyses.bus
    if not any(_has_limit(node) for node in bus.nodes):
        return
    budgets = analysis.supply_budgets(analyses)
    untold: list[str] = []
    for row in budgets.transceivers:
        part = bus.node(row.node).transceiver
        if part is None or (part.thermal_resistance is None and part.max_junction_temperature is None):
            continue
        if part.thermal_resistance is None or part.max_junction_temperature is None:
            untold.append(row.node)
            continue
        lacking = tuple(field for node, field in budgets.transceivers.missing if node == row.node)
        yield _temperature(Place.node(row.node), "junction of the transceiver", row.junction_temperature,
                           row.max_junction_temperature, lacking)  # fmt: skip
        if row.shorted_temperature.nominal > row.max_junction_temperature:
            yield Finding(
                verdict="marginal",
                where=Place.node(row.node),
                quantity="junction of the transceiver, pair shorted",
                unit="K",
                measured=row.shorted_temperature.nominal,
                limit=row.max_junction_temperature,
                message=(
                    f"into a shorted pair its junction would go to "
                    f"{row.shorted_temperature.nominal - CELSIUS:.0f} degC, where it has to shut itself down"
                ),
                remedy="use a part with thermal shutdown, and no arrangement in which two drivers fight",
            )
    for supply in budgets.barriers:
        barrier = bus.node(supply.node).barrier
        if barrier is None or barrier.supply is None:
            continue
        resistance, limit = barrier.supply.thermal_resistance, barrier.supply.max_case_temperature
        if resistance is None and limit is None:
            continue
        if resistance is None or limit is None:
            untold.append(supply.node)
            continue
        yield _temperature(
            Place.barrier(supply.node), "case of the isolated supply", supply.case_temperature, limit,
            _lacking(budgets.barriers, supply.node) or ("environment.temperature",),
        )  # fmt: skip
    if untold:
        what = f"how hot parts at {listed(list(dict.fromkeys(untold)))} get is not known"
        yield unknown(Place.bus(), what, missing=("thermal_resistance", "max_junction_temperature"))


def _has_limit(node: Node) -> bool:
    part = node.transceiver
    if part is not None and (part.thermal_resistance is not None or part.max_junction_temperature is not None):
        return True
    supply = node.barrier.supply if node.barrier is not None else None
    return supply is not None and (supply.thermal_resistance is not None or supply.max_case_temperature is not None)


def _temperature(
    where: Place, what: str, found: Limits, limit: float, missing: tuple[str, ...]
) -> Finding:
    return at_most(
        where, what, measured=found.nominal, bound=found.upper, limit=limit, unit="K",
        message=(
            f"the {what} is at {found.nominal - CELSIUS:.0f} degC, at the most at {found.upper - CELSIUS:.0f} degC; "
            f"it may be at {limit - CELSIUS:.0f} degC"
        ),
        remedy="more copper, less heat, or a part for a higher temperature", missing=missing,
    )  # fmt: skip


RULES: tuple[Rule, ...] = (does_not_start, output_outside_supply, part_too_hot, supply_overloaded)
