"""Rules on what terminators and bias networks ask of drivers, and of their own resistors."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.memo import Analyses
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.termination import figures_of_row, not_stated


@rule(
    "termination.driver-overloaded",
    title="A driver is loaded beyond what its levels are guaranteed for",
    basis="common practice",
    reserve=0.0,
)
def driver_overloaded(analyses: Analyses) -> Iterable[Finding]:
    """A driver is loaded with less resistance than its levels are guaranteed for, or gives more than it is rated for.

    What it checks
    --------------
    The resistance that the whole network shows to each driver, cable, terminators, bias networks and receivers
    included, against the least load of its part, or 54 ohm; and the current through the pair against the part's rating,
    where the part states one.

    Why it matters
    --------------
    A datasheet guarantees the output into 54 ohm. Below that nobody says what a driver gives, and its own heat grows.
    Cable helps: 120 ohm at both ends of 1.2 km of 24 AWG are 87 ohm, not 60.

    Limit and source
    ----------------
    54 ohm is the test load of EIA-485, as printed in application notes, and no limit of a bus: two terminators, one
    bias network of 510 ohm and 32 unit loads at one place are 52.7 ohm. So less is marginal, by common practice. What a
    part states itself (`driver_least_load`, `driver_current`) is a limit, and missing it is a failure.

    When to waive
    -------------
    When the levels at that load have been measured over temperature and supply.
    """
    loads = analysis.terminations(analyses).driver_load
    if len(loads) and all(math.isnan(load) for load in loads.resistance.nominal):
        what = f"the load of the drivers is not known: {not_stated(loads.unstated)}"
        yield unknown(Place.bus(), what, missing=loads.unstated)
        return
    for row in loads:
        part = analyses.bus.node(row.node).transceiver
        own = part is not None and part.driver_least_load is not None
        limit = row.driver_least_load
        yield at_least(
            Place.node(row.node),
            "load of the driver",
            measured=row.resistance.nominal,
            bound=row.resistance.lower,
            limit=limit,
            unit="ohm",
            advisory=not own,
            message=(
                f"the bus shows {figure(row.resistance.nominal, 'ohm')} to the driver, "
                f"{figure(row.resistance.lower, 'ohm')} at the least; its levels are "
                f"{'stated' if own else 'guaranteed'} down to {figure(limit, 'ohm')}"
            ),
            remedy="take away terminators and bias networks that are too many, or use a driver stated for this load",
            missing=loads.unstated,
        )
        if not math.isnan(row.driver_current):
            yield at_most(
                Place.node(row.node),
                "output current through the pair",
                measured=row.current.nominal,
                bound=row.current.upper,
                limit=row.driver_current,
                unit="A",
                message=(
                    f"the driver gives {figure(row.current.nominal, 'A')} through the pair, at most "
                    f"{figure(row.current.upper, 'A')}; its part is rated for {figure(row.driver_current, 'A')}"
                ),
                remedy="take away terminators and bias networks that are too many, or use a stronger driver",
                missing=figures_of_row(loads.missing, row.node) or loads.unstated,
            )


@rule("termination.resistor-too-hot", title="A resistor may be hotter than it is rated for", basis="physics")
def resistor_too_hot(analyses: Analyses) -> Iterable[Finding]:
    """A resistor of a terminator or bias network may turn more power into heat than it is rated for.

    What it checks
    --------------
    Heat in every resistor whose rating (`power`) is stated: nominally the largest over the idle bus and every driver
    driving mark and space; at the most, for a terminator, with the largest open voltage of any driver across it and,
    for a leg, with its line at either end of the common-mode range.

    Why it matters
    --------------
    120 ohm at 5 V are 208 mW, 510 ohm between a rail of 5 V and a line at -7 V are 282 mW: more than small resistors
    stand. A terminator that burns open leaves the line unterminated and says nothing.

    Limit and source
    ----------------
    The rating, at the temperature where the resistor sits: P = V^2 / R. Resistors whose rating is not stated are not
    judged, and the analysis `terminations` shows their heat; a rating that is stated and a heat that is not known is
    unknown.

    When to waive
    -------------
    When commons are joined so well that the lines never come near the ends of the common-mode range.
    """
    heats = analysis.terminations(analyses).resistors
    for row in heats:
        if math.isnan(row.power):
            continue
        leg = row.resistor.endswith(("pull_up", "pull_down"))
        state = "with its line anywhere from -7 V to +12 V" if leg else "at the highest open voltage"
        yield at_most(
            Place.node(row.node),
            f"heat in {row.resistor}",
            measured=row.heat.nominal,
            bound=row.heat.upper,
            limit=row.power,
            unit="W",
            message=(
                f"{row.resistor}, {figure(row.resistance.nominal, 'ohm')}: {figure(row.heat.nominal, 'W')} nominally, "
                f"at most {figure(row.heat.upper, 'W')} {state}; rated for {figure(row.power, 'W')}"
            ),
            remedy="use a resistor of higher rating, or several that share the power",
            missing=(*(f"{node}: {field}" for node, field in heats.missing), *heats.unstated),
        )


RULES: tuple[Rule, ...] = (driver_overloaded, resistor_too_hot)
