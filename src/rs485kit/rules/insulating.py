"""Rules on insulation: what every barrier before a hazardous circuit has to bear, and paths to what can be touched."""

import math
from collections.abc import Iterable, Iterator

from rs485kit import analysis
from rs485kit.analysis.coordination_tables import InsulationCheck, InsulationTable, Requirement
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, unknown

EDITION = "IEC 60664-1:2007, as catalogues of terminals and connectors print it; the standard was not seen"
DEFER = "under the product standard and by a person who is competent for insulation"
STRONGER = f"choose parts, board and connector of a higher rating, {DEFER}"


def _worst(checks: list[InsulationCheck]) -> InsulationCheck:
    """Return the check that is nearest to failing or misses by most."""
    return min(checks, key=lambda each: each.rating / each.demand if each.demand else math.inf)


def _held(analyses: Analyses, requirements: tuple[Requirement, ...], remedy: str = STRONGER) -> Iterator[Finding]:
    """Give one finding for each barrier and requirement, and one for all that cannot be checked."""
    table = analysis.insulation(analyses)
    yield from _undescribed(table)
    dark: list[InsulationCheck] = []
    for row in table.rows:
        for requirement in requirements:
            checks = [each for each in row.checks if each.requirement == requirement]
            dark += [each for each in checks if each.status == "not checked"]
            known = [each for each in checks if each.status != "not checked"]
            if not known:
                continue
            worst = _worst(known)
            yield at_least(
                Place.barrier(row.node), f"{requirement}, {worst.element}", measured=worst.rating, limit=worst.demand,
                unit=worst.si_unit, remedy=remedy,
                message=f"{requirement} of the {worst.element}: {figure(worst.rating, worst.si_unit)} for a demand of "
                f"{figure(worst.demand, worst.si_unit)}, {row.required} insulation",
            )  # fmt: skip
    if dark:
        yield _not_checked(dark)


def _undescribed(table: InsulationTable) -> Iterator[Finding]:
    if table.undescribed:
        text = f"what stands behind the barriers of {listed(table.undescribed, 3)} is not stated"
        missing = tuple(f'nodes["{name}"].circuit.hazard' for name in table.undescribed)
        yield unknown(Place.bus(), text, missing=missing)


def _not_checked(dark: list[InsulationCheck]) -> Finding:
    missing = tuple(dict.fromkeys(each for check in dark for each in check.missing))
    nodes = tuple(dict.fromkeys(check.node for check in dark))
    recalled = [check for check in dark if check.recalled]
    what = f"{dark[0].requirement} of what bridges the barriers of {listed(nodes, 3)} was not checked"
    if recalled:
        worst = recalled[0]
        what += (
            f"; a figure from memory asks for {figure(worst.demand, worst.si_unit)} where "
            f"{figure(worst.rating, worst.si_unit)} is stated"
        )
        missing = missing or (f"a figure of {worst.edition} that was seen",)
    return unknown(Place.bus(), what, missing=missing)


@rule(
    "insulation.grade-too-low",
    title="A barrier before a hazardous circuit is of too low a grade",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def grade_too_low(analyses: Analyses) -> Iterable[Finding]:
    """What bridges a barrier before a hazardous circuit is not made as the insulation that is required.

    What it checks
    --------------
    For every node with a barrier and a hazardous circuit behind it the grade of everything that bridges the barrier:
    data isolators, isolated supply, capacitors; and every hazardous circuit without a barrier. Required is reinforced
    insulation where the bus can be touched, which is assumed unless `environment.bus_touchable` says no, else basic.

    Why it matters
    --------------
    Basic insulation protects as long as it is whole. Where somebody can touch the bus, one fault must not put mains on
    it. A supply of functional insulation beside a reinforced isolator makes the whole barrier functional.

    Limit and source
    ----------------
    The grade that the parts state. IEC 60664-1:2007, as catalogues print it; the product standard may ask for more.

    When to waive
    -------------
    When the product standard of the device allows it, and a competent person has said so.
    """
    table = analysis.insulation(analyses)
    grades = [each for row in table.rows for each in row.checks if each.requirement == "grade"]
    dark = [each for each in grades if each.status == "not checked"]
    yield from _undescribed(table)
    for name in table.unguarded:
        yield Finding(
            verdict="fail",
            where=Place.node(name),
            message=f"no barrier parts the hazardous circuit of {name} from the bus",
            remedy=f"put a barrier of reinforced insulation between that circuit and the bus, {DEFER}",
        )
    if dark:
        yield _not_checked(dark)
    for row in table.rows:
        checks = [each for each in row.checks if each.requirement == "grade" and each.status != "not checked"]
        low = tuple(each.element for each in checks if each.status == "not met")
        if low:
            yield Finding(
                verdict="fail",
                where=Place.barrier(row.node),
                message=f"{listed(low, 3)} {'is' if len(low) == 1 else 'are'} less than {row.required} insulation, "
                "which a hazardous circuit asks for where "
                + ("the bus can be touched" if row.required == "reinforced" else "the bus cannot be touched"),
                remedy=f"use parts of {row.required} insulation for all that bridges the barrier, {DEFER}",
            )
        elif checks:
            what = f"{len(checks)} parts across the barrier are {row.required}"
            yield Finding(verdict="pass", where=Place.barrier(row.node), message=what)
    if table.harmless and not table.rows and not table.undescribed:
        what = f"no hazardous circuit is described behind the barriers of {listed(table.harmless, 3)}"
        yield Finding(verdict="pass", where=Place.bus(), message=what)


@rule(
    "insulation.working-voltage-exceeded",
    title="A circuit puts more across a barrier than its parts bear for good",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def working_voltage_exceeded(analyses: Analyses) -> Iterable[Finding]:
    """The working voltage of a hazardous circuit is above that of what bridges the barrier.

    What it checks
    --------------
    The working voltage that the circuit states, RMS against the RMS and peak against the peak rating of every part
    across the barrier. The difference of earths is another rule's (`ground.barrier-overstressed`).

    Why it matters
    --------------
    Insulation ages under voltage. A part that withstands 2500 V RMS for a minute may be made for 560 V peak for good.

    Limit and source
    ----------------
    The continuous working voltages that the parts state. A withstand voltage for 60 s is never taken for one, and RMS
    and peak are never converted into each other.

    When to waive
    -------------
    Never.
    """
    yield from _held(analyses, ("working voltage RMS", "working voltage peak"))


@rule(
    "insulation.withstand-too-low",
    title="A barrier does not withstand the temporary overvoltage of its mains",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def withstand_too_low(analyses: Analyses) -> Iterable[Finding]:
    """A fault in the network that feeds the field side is more than the barrier withstands.

    What it checks
    --------------
    The line-to-neutral voltage of the mains plus 1200 V RMS, twice that for reinforced insulation, against the
    withstand voltage for 60 s, RMS, of every part across the barrier.

    Why it matters
    --------------
    While a fault in a medium-voltage network lasts, the whole low-voltage mains stands higher against earth, for up to
    five seconds.

    Limit and source
    ----------------
    IEC 60664-1:2007, temporary overvoltages of up to 5 s, as printed in application notes of makers.

    When to waive
    -------------
    When the mains is known to be fed by a transformer of its own whose faults cannot reach it.
    """
    yield from _held(analyses, ("withstand voltage RMS for 60 s",))


@rule(
    "insulation.impulse-too-low",
    title="A barrier does not stand the impulses of its mains",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def impulse_too_low(analyses: Analyses) -> Iterable[Finding]:
    """The rated impulse of the mains is above the impulse voltage of what bridges the barrier.

    What it checks
    --------------
    The rated impulse voltage for the line-to-neutral voltage and the overvoltage category, raised to the preferred
    series and one step more for reinforced insulation, against the impulse voltage of every part.

    Why it matters
    --------------
    Switching and distant lightning put impulses of kilovolts on every mains. A surge rating, taken under oil, is not
    the impulse voltage of the part in air.

    Limit and source
    ----------------
    IEC 60664-1:2007 table F.1, as a catalogue of terminal blocks prints it. Line-to-neutral, not line-to-line.

    When to waive
    -------------
    When impulses are limited before the circuit: better to state `circuit.impulse_voltage_peak`.
    """
    yield from _held(analyses, ("impulse voltage peak",))


@rule(
    "insulation.clearance-too-small",
    title="A distance through air across a barrier is too small",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def clearance_too_small(analyses: Analyses) -> Iterable[Finding]:
    """Something across a barrier has less clearance than its impulses ask for.

    What it checks
    --------------
    The clearance for the required impulse voltage and the pollution degree, times the factor of the altitude, against
    that of every part, of the board and of the connector. A board or connector that is not described is not checked,
    and never taken to be as good as the part on it.

    Why it matters
    --------------
    Thin air breaks down at less. A package of 8 mm is reinforced insulation at 300 V and category III up to 2000 m, and
    is not at 5000 m, where 8.14 mm are needed.

    Limit and source
    ----------------
    IEC 60664-1:2007 tables F.2 and A.2, as makers print them.

    When to waive
    -------------
    When an impulse test of the product has shown it.
    """
    yield from _held(analyses, ("clearance",))


@rule(
    "insulation.creepage-too-small",
    title="A distance along a surface across a barrier is too small",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def creepage_too_small(analyses: Analyses) -> Iterable[Finding]:
    """Something across a barrier has less creepage distance than its working voltage asks for.

    What it checks
    --------------
    The creepage distance for the working voltage RMS, the pollution degree and the material group, twice the table for
    reinforced insulation and never less than the clearance, against that of every part, board and connector.

    Why it matters
    --------------
    Dirt and dew on a surface carry small currents that burn a track into it. Outdoor cabinets on a canal are dirtier
    than a bench.

    Limit and source
    ----------------
    IEC 60664-1:2007 table F.4, as a catalogue prints it. The altitude does not come into it, but by the clearance.
    Pollution degree 4 has no row and is not checked.

    When to waive
    -------------
    When the surface is coated or moulded and the product standard lets that count.
    """
    yield from _held(analyses, ("creepage",))


@rule(
    "insulation.life-too-short",
    title="Insulation does not last at its working voltage",
    basis="standard",
    source="IEC 60747-17, life of insulation, as a data sheet words it; the standard was not seen",
    safety=True,
    reserve=0.0,
)
def life_too_short(analyses: Analyses) -> Iterable[Finding]:
    """The line of life that a part states does not reach what is asked for.

    What it checks
    --------------
    For parts that state points of their line of life (`life_points`): the life at 1.2 times the working voltage RMS,
    the shortest of three laws through the two nearest points, against the life that the standard asks for. Parts that
    state none are not judged here: their working voltage is their maker's word for it.

    Why it matters
    --------------
    Two points one minute and some years apart can be joined by laws that differ by a factor of four at the working
    voltage.

    Limit and source
    ----------------
    30 years for reinforced insulation: IEC 60747-17, as a data sheet words it. The 26 years for basic are from memory,
    shown, and decide nothing.

    When to waive
    -------------
    When the device is in service for a known shorter time.
    """
    table = analysis.insulation(analyses)
    yield from _undescribed(table)
    stated = [
        check for row in table.rows for check in row.checks
        if check.requirement == "life" and not any("life_points" in each and ":" not in each for each in check.missing)
    ]  # fmt: skip
    dark = [check for check in stated if check.status == "not checked"]
    if dark:
        yield _not_checked(dark)
    for check in stated:
        if check.status != "not checked":
            yield at_least(
                Place.barrier(check.node), f"life, {check.element}", measured=check.rating, limit=check.demand,
                unit="s", remedy="use parts of a higher working voltage",
                message=f"the {check.element} lasts {_years(check.rating)} at 1.2 times the working voltage; "
                f"{_years(check.demand)} are asked for",
            )  # fmt: skip


def _years(seconds: float) -> str:
    return f"{seconds / 31557600.0:.3g} years"


@rule(
    "insulation.path-unprotected",
    title="A path from a hazardous circuit to what can be touched is not protected twice",
    basis="standard",
    source=EDITION,
    safety=True,
    reserve=0.0,
)
def path_unprotected(analyses: Analyses) -> Iterable[Finding]:
    """From a hazardous circuit a way over the bus leads to something that can be touched.

    What it checks
    --------------
    For every hazardous circuit the way to the bus, where that can be touched, or else over the bus to every circuit
    that can be touched: one barrier has to meet all that is required of reinforced insulation, or both barriers all
    that is required of basic by themselves.

    Why it matters
    --------------
    The bus joins all devices. When the barrier of one fails, its mains is at the barriers of all others, and at every
    terminal that somebody works on.

    Limit and source
    ----------------
    Double or reinforced insulation. Withstand and working voltages of barriers in series are never added.

    When to waive
    -------------
    When protection against electric shock is by other means than insulation, by a competent person's word.
    """
    table = analysis.insulation(analyses)
    yield from _undescribed(table)
    if table.fed:
        text = (
            f"feed conductors of the cable reach the field side of {listed(table.fed, 3)}, which has a hazardous "
            "circuit; what insulates them from it is not described"
        )
        yield unknown(
            Place.bus(), text, missing=("the insulation between the feed and the hazardous circuit",),
            remedy=f"feed circuits that can be touched alone, or have that insulation judged {DEFER}",
        )  # fmt: skip
    paths = table.paths
    dark = tuple(dict.fromkeys(path.node for path in paths if path.status == "not checked"))
    if dark:
        text = f"whether the ways from the circuits of {listed(dark, 3)} are protected twice was not checked"
        missing = (f"what the checks of `analysis.insulation` name as missing for {listed(dark, 3)}",)
        yield unknown(Place.bus(), text, missing=missing)
    for path in paths:
        if path.status == "not checked":
            continue
        to = f"the circuit of {path.touched}" if path.touched else "the conductors of the bus"
        yield Finding(
            verdict="pass" if path.status == "met" else "fail",
            where=Place.barrier(path.node),
            message=f"from the hazardous circuit of {path.node} to {to}: "
            + (f"{path.reached} insulation" if path.reached else "no insulation that meets all requirements"),
            remedy=f"make one of the barriers reinforced, {DEFER}" if path.status != "met" else "",
        )


RULES: tuple[Rule, ...] = (
    clearance_too_small, creepage_too_small, grade_too_low, impulse_too_low, life_too_short, path_unprotected,
    withstand_too_low, working_voltage_exceeded,
)  # fmt: skip
