"""Insulation coordination: what every barrier before a hazardous circuit has to bear, and whether its parts do."""

import itertools
import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple, TypeAlias

from rs485kit import formulas
from rs485kit.analysis.barrier_parts import GRADES, Element, elements_of, grade_of, is_passive
from rs485kit.analysis.coordination_tables import (
    SI_UNITS,
    BarrierInsulation,
    InsulationCheck,
    InsulationPath,
    InsulationTable,
    Requirement,
    all_of,
    status_of,
)
from rs485kit.analysis.voltage_kinds import InsulationVoltage, VoltageKind
from rs485kit.errors import InputError
from rs485kit.formulas.insulation import Grade
from rs485kit.formulas.insulation_tables import CLEARANCES, CREEPAGES, IMPULSE_VOLTAGES, TEMPORARY_OVERVOLTAGES
from rs485kit.formulas.lifetime_demands import LIFETIME_DEMANDS
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Barrier, Bus, Environment, Node
from rs485kit.model.barriers import LifePoint

EDITION = IMPULSE_VOLTAGES.edition
# reinforced insulation is laid out for 160 % of a lasting peak; recalled, as the table of it is
REINFORCED_STEADY = 1.6
LIFE_STANDARDS = {"reinforced": "IEC 60747-17", "basic": "VDE V 0884-11"}
NOT_CHECKED = (
    "heating, flammability and single faults of the parts themselves",
    "requirements of the product standard that go beyond IEC 60664-1",
    "solid insulation beyond the ratings that its maker states",
)


@as_analysis()
def insulation(analyses: Analyses) -> InsulationTable:
    """Return what is required of every barrier before a hazardous circuit, and which of it is met.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    InsulationTable
        Requirements of each thing that bridges a barrier, and the paths to what can be touched [-].

    Raises
    ------
    InputError
        If what is given is no bus. What the tables do not hold is not checked, and says why.

    Notes
    -----
    Coordination by IEC 60664-1:2007, from the mains that feeds the field side (line-to-neutral voltage, overvoltage
    category) or a stated impulse: rated impulse, raised to the preferred series and one step more for reinforced
    insulation; clearance for it at the altitude of the site, or for the lasting peak if that needs more; creepage for
    the working voltage RMS or the rationalised voltage of the mains, the pollution degree and the material, never less
    than the clearance; the temporary overvoltage of up to 5 s against the withstand voltage for 60 s; the working
    voltage, RMS against RMS and peak against peak, against the part's own continuous figure. Everything that bridges a
    barrier is held to all of it, so that the weakest decides. A board and a connector are not as good as the part on
    them: where they are not described, clearance and creepage are not checked.

    Required is reinforced insulation where the bus can be touched, which is assumed unless `bus_touchable` says no,
    else basic. On a path over the bus to a circuit that can be touched, one barrier has to be reinforced, or both have
    to meet all of basic by themselves. Ratings in series are never added.

    A demand that rests on a figure from memory is shown and not checked. Where a part states points of its line of
    life, its life at 1.2 times the working voltage is the shortest of three laws through the two points nearest to it.

    References
    ----------
    IEC 60664-1:2007, as catalogues of terminals and connectors print it; IEC 60747-17 for life, from a data sheet. The
    standards were not seen.

    Examples
    --------
    >>> import rs485kit as rk
    >>> mains = rk.Circuit(hazard="hazardous", working_voltage_rms="230 V", system_voltage_rms="230 V",
    ...                    overvoltage_category=3)
    >>> barrier = rk.Barrier(isolator=rk.catalogue.isolator("generic.basic-2500-v"))
    >>> gate = rk.Node(name="gate", barrier=barrier, circuit=mains)
    >>> site = rk.Environment(pollution_degree=2, altitude="100 m")
    >>> row = rk.analysis.insulation(rk.Bus(nodes=gate, environment=site)).at("gate")
    >>> row.required, row.status
    ('reinforced', 'not met')
    >>> [(check.demand, check.rating) for check in row.checks if check.requirement == "withstand voltage RMS for 60 s"]
    [(2860.0, 2500.0), (2860.0, nan)]
    """
    bus = analyses.bus
    site = bus.environment or Environment()
    touchable = site.bus_touchable is not False
    assumed = ("the conductors of the bus can be touched",) if site.bus_touchable is None else ()
    behind = {node.name: node.circuit and node.circuit.hazard for node in bus.nodes}
    hazardous = [node for node in bus.nodes if node.barrier is not None and behind[node.name] == "hazardous"]
    required: Grade = "reinforced" if touchable else "basic"
    return InsulationTable(
        rows=tuple(_row(node, site, required) for node in hazardous),
        paths=tuple(path for node in hazardous for path in _paths(bus, node, site, touchable=touchable)),
        undescribed=tuple(name for name in bus.barriers if behind[name] is None),
        unguarded=tuple(node.name for node in bus.nodes if node.barrier is None and behind[node.name] == "hazardous"),
        fed=tuple(node.name for node in hazardous if node.feed is not None),
        harmless=tuple(name for name in bus.barriers if behind[name] == "touchable"),
        assumed=assumed if hazardous else (),
        not_checked=NOT_CHECKED if hazardous else (),
    )


class _Demands(NamedTuple):
    """What a hazardous circuit asks of a barrier; None is unknown, with what is missing for it."""

    working_rms: float | None
    working_peak: float | None
    system: float | None
    impulse: float | None
    pollution: int | None
    altitude: float | None
    missing: dict[str, str]


def demands_of(node: Node, site: Environment) -> _Demands:
    """Return what the circuit behind a node's barrier asks of it."""
    circuit = node.circuit
    assert circuit is not None
    # nothing hazardous has a working voltage of nothing
    working_rms, working_peak = circuit.working_voltage_rms or None, circuit.working_voltage_peak or None
    place = f'nodes["{node.name}"].circuit'
    system = circuit.system_voltage_rms or site.system_voltage_rms
    category = circuit.overvoltage_category or site.overvoltage_category
    impulse = circuit.impulse_voltage_peak
    missing: dict[str, str] = {}
    if impulse is None:
        if system is None:
            missing["impulse"] = f"{place}.system_voltage_rms"
        elif category is None:
            missing["impulse"] = f"{place}.overvoltage_category"
        else:
            try:
                impulse = float(formulas.rated_impulse_voltage(system, category))
            except InputError as error:
                missing["impulse"] = f"a table that holds it ({error.problems[0].given})"
    given = {
        "working_rms": (working_rms, f"{place}.working_voltage_rms"),
        "working_peak": (working_peak, f"{place}.working_voltage_peak"),
        "system": (system, f"{place}.system_voltage_rms"),
        "pollution": (site.pollution_degree, "environment.pollution_degree"),
        "altitude": (site.altitude, "environment.altitude"),
    }
    missing |= {name: where for name, (value, where) in given.items() if value is None}
    return _Demands(
        working_rms, working_peak, system, impulse, site.pollution_degree,
        site.altitude, missing,
    )  # fmt: skip


def _row(node: Node, site: Environment, required: Grade) -> BarrierInsulation:
    assert node.barrier is not None
    demands = demands_of(node, site)
    checks = tuple(checks_of(node.name, node.barrier, demands, required))
    statuses = [check.status for check in checks if not _without_life(check)]
    return BarrierInsulation(
        node=node.name, required=required, reached=reached_by(node.name, node.barrier, demands),
        status=all_of(statuses), checks=checks,
    )  # fmt: skip


def _without_life(check: InsulationCheck) -> bool:
    """Return whether it is the life of a part that states none, which the working voltage of its maker stands for."""
    unstated = any(each.endswith(".life_points") for each in check.missing)
    return check.requirement == "life" and check.status == "not checked" and unstated


def reached_by(name: str, barrier: Barrier, demands: _Demands) -> str:
    """Return the highest grade of which every requirement is met."""
    grades: tuple[Grade, ...] = ("reinforced", "basic")
    for grade in grades:
        checks = [each for each in checks_of(name, barrier, demands, grade) if not _without_life(each)]
        if all_of([each.status for each in checks]) == "met":
            return grade
    return ""


def checks_of(name: str, barrier: Barrier, demands: _Demands, grade: Grade) -> Iterator[InsulationCheck]:
    """Give every requirement on everything that bridges a barrier."""
    elements = elements_of(barrier)
    for element in elements:
        yield from _of_element(name, element, demands, grade)
    described = {each.kind for each in barrier.bridges}
    for kind in ("board", "connector"):
        if kind not in described:
            blank = Element(f'bridges (a Bridge of kind "{kind}", with its distances)', None)
            for requirement, distance in DISTANCES:
                yield _held(name, blank, requirement, grade, distance(demands, grade, blank))


def _of_element(name: str, element: Element, demands: _Demands, grade: Grade) -> Iterator[InsulationCheck]:
    if not is_passive(element) or grade_of(element):
        stated = grade_of(element)
        enough = bool(stated) and GRADES.index(stated) >= GRADES.index(grade)
        where = f'nodes["{name}"].barrier.{element.place}'
        yield InsulationCheck(
            node=name, element=element.place, requirement="grade", grade=grade, demand=math.nan, rating=math.nan,
            si_unit="", status="met" if enough else "not met" if stated else "not checked", edition=EDITION,
            missing=() if stated else (f"{where}.insulation",),
        )  # fmt: skip
    for requirement, demand in DEMANDS:
        rates = requirement in ("clearance", "creepage") or _stated(element, requirement) is not None
        if is_passive(element) and not rates:
            continue
        yield _held(name, element, requirement, grade, demand(demands, grade, element))
    if not is_passive(element):
        yield _life(name, element, demands, grade)


class _Figure(NamedTuple):
    """A demand; NaN where it is not known, with what is missing; whether a figure from memory decides it; its kind."""

    value: float
    missing: tuple[str, ...] = ()
    recalled: bool = False
    kind: VoltageKind | None = None


_RATINGS = {
    "working voltage RMS": "working_voltage_rms",
    "working voltage peak": "working_voltage_peak",
    "withstand voltage RMS for 60 s": "withstand_voltage_rms",
    "impulse voltage peak": "impulse_voltage_peak",
    "clearance": "clearance",
    "creepage": "creepage",
}


KINDS: dict[str, VoltageKind] = {
    "working_voltage_rms": "working RMS",
    "working_voltage_peak": "working peak",
    "withstand_voltage_rms": "60 s RMS",
    "impulse_voltage_peak": "impulse peak",
}


def _stated(element: Element, requirement: Requirement) -> float | None:
    return None if element.part is None else getattr(element.part, _RATINGS[requirement])


def _held(name: str, element: Element, requirement: Requirement, grade: str, figure: _Figure) -> InsulationCheck:
    stated = _stated(element, requirement)
    rating = math.nan if stated is None else stated
    lacking = list(figure.missing)
    if stated is None:
        lacking.append(f'nodes["{name}"].barrier.{element.place}.{_RATINGS[requirement]}')
    kind = KINDS.get(_RATINGS[requirement])
    if kind is not None and figure.kind is not None:
        # refuses a demand of another kind
        InsulationVoltage(rating, kind).bears(InsulationVoltage(figure.value, figure.kind))
    return InsulationCheck(
        node=name, element=element.place, requirement=requirement, grade=grade, demand=figure.value, rating=rating,
        si_unit=SI_UNITS[requirement], status=status_of(figure.value, rating, recalled=figure.recalled),
        edition=EDITION, recalled=figure.recalled, missing=tuple(lacking),
    )  # fmt: skip


def _or_missing(value: float | None, demands: _Demands, *names: str) -> _Figure:
    lacking = tuple(demands.missing[name] for name in names if name in demands.missing)
    return _Figure(math.nan, lacking) if lacking or value is None else _Figure(value)


def _working_rms(demands: _Demands, grade: Grade, element: Element) -> _Figure:
    return _or_missing(demands.working_rms, demands, "working_rms")._replace(kind="working RMS")


def _working_peak(demands: _Demands, grade: Grade, element: Element) -> _Figure:
    return _or_missing(demands.working_peak, demands, "working_peak")._replace(kind="working peak")


def _temporary(demands: _Demands, grade: Grade, element: Element) -> _Figure:
    if demands.system is None:
        return _or_missing(None, demands, "system")
    mark = TEMPORARY_OVERVOLTAGES["short"].known
    found = _looked_up(formulas.temporary_overvoltage, demands.system, "short", grade, recalled=mark == "memory")
    return found._replace(kind="60 s RMS")


def _impulse(demands: _Demands, grade: Grade, element: Element) -> _Figure:
    if demands.impulse is None:
        return _or_missing(None, demands, "impulse")
    return _looked_up(formulas.required_impulse_voltage, demands.impulse, grade)._replace(kind="impulse peak")


def _clearance(demands: _Demands, grade: Grade, element: Element) -> _Figure:
    if demands.impulse is None or demands.pollution is None or demands.altitude is None:
        return _or_missing(None, demands, "impulse", "pollution", "altitude")
    impulse = _impulse(demands, grade, element)
    if math.isnan(impulse.value):
        return impulse
    mark = CLEARANCES.known(str(min(demands.pollution, 3)), impulse.value)
    found = _looked_up(
        formulas.impulse_clearance, impulse.value, demands.pollution, altitude=demands.altitude,
        recalled=mark == "memory",
    )  # fmt: skip
    if demands.working_peak is None:
        return found
    peak = demands.working_peak * (REINFORCED_STEADY if grade == "reinforced" else 1.0)
    steady = _looked_up(formulas.steady_clearance, peak, altitude=demands.altitude, recalled=True)
    return found if steady.value <= found.value else steady


def _creepage(demands: _Demands, grade: Grade, element: Element) -> _Figure:
    clearance = _clearance(demands, grade, element)
    group = None if element.part is None else element.part.material_group
    lacking = list(clearance.missing)
    if demands.working_rms is None:
        lacking.append(demands.missing["working_rms"])
    if group is None:
        lacking.append(f"the material group of {element.place}")
    if lacking or group is None or demands.working_rms is None or demands.pollution is None:
        return _Figure(math.nan, tuple(dict.fromkeys(lacking)))
    lasting = demands.working_rms
    if demands.system is not None:
        # the table of mains stands for the tolerance of the supply: 230 V count as 250 V
        mains = _looked_up(formulas.rationalised_voltage, math.sqrt(3.0) * demands.system, neutral="earthed")
        if math.isnan(mains.value):
            return mains
        lasting = max(lasting, mains.value)
    mark = CREEPAGES.known(f"{min(demands.pollution, 3)} {group.rstrip('ab')}", lasting)
    return _looked_up(
        formulas.creepage, lasting, demands.pollution, group, grade, clearance=clearance.value,
        recalled=mark == "memory" or clearance.recalled,
    )  # fmt: skip


def _looked_up(formula: Callable[..., Any], *given: object, recalled: bool = False, **named: object) -> _Figure:
    """Return what a table asks for; not known, and why, where it holds nothing."""
    try:
        return _Figure(float(formula(*given, **named)), (), recalled)
    except InputError as error:
        problem = error.problems[0]
        return _Figure(math.nan, (f"a row of the table for {problem.given}: wanted is {problem.wanted}",))


def _life(name: str, element: Element, demands: _Demands, grade: Grade) -> InsulationCheck:
    standard = LIFE_STANDARDS[grade]
    points = () if element.part is None else getattr(element.part, "life_points", ())
    where = f'nodes["{name}"].barrier.{element.place}.life_points'
    demand, rating, lacking = formulas.demanded_life(standard, grade), math.nan, [where] if not points else []  # type: ignore[arg-type]
    if demands.working_rms is None:
        lacking.append(demands.missing["working_rms"])
    elif points:
        volts = float(formulas.demanded_life_voltage(demands.working_rms, standard, grade))  # type: ignore[arg-type]
        rating = shortest_life(points, volts)
        if math.isnan(rating):
            lacking.append(f"{where}: a point at {volts:.4g} V or above, or a second one")
    recalled = LIFETIME_DEMANDS[standard, grade].known == "memory"
    return InsulationCheck(
        node=name, element=element.place, requirement="life", grade=grade, demand=demand, rating=rating, si_unit="s",
        status=status_of(demand, rating, recalled=recalled), edition=standard, recalled=recalled,
        missing=tuple(lacking),
    )  # fmt: skip


def shortest_life(points: tuple[LifePoint, ...], volts: float) -> float:
    """Return the life at a voltage that points of a line of life hold out; NaN where they do not say.

    A point at that voltage or above holds its own life out, since life never grows with the voltage. Below both of two
    points it is the shortest of the power law, the exponential and the reciprocal law through them.
    """
    ordered = sorted(points, key=lambda point: point.voltage_rms)
    if any(first.life < second.life for first, second in itertools.pairwise(ordered)):
        # life never grows with the voltage: one of them is wrong
        return math.nan
    above = [point.life for point in ordered if point.voltage_rms >= volts]
    held = max(above, default=math.nan)
    if len(ordered) < 2 or volts > ordered[-1].voltage_rms:
        return held
    first = max((point for point in ordered[:-1] if point.voltage_rms <= volts), default=ordered[0],
                key=lambda point: point.voltage_rms)  # fmt: skip
    second = ordered[ordered.index(first) + 1]
    pair = first.voltage_rms, first.life, second.voltage_rms, second.life
    reference = first.voltage_rms, first.life
    try:
        lives = (
            formulas.power_law_life(volts, *reference, formulas.power_law_exponent(*pair)),
            formulas.exponential_life(volts, *reference, formulas.exponential_life_slope(*pair)),
            formulas.reciprocal_life(volts, *reference, formulas.reciprocal_life_slope(*pair)),
        )
    except InputError:
        return held
    return float(max(min(map(float, lives)), held)) if not math.isnan(held) else float(min(map(float, lives)))


def _paths(bus: Bus, node: Node, site: Environment, *, touchable: bool) -> Iterator[InsulationPath]:
    """Give the ways from the circuit of a node to the bus, if it can be touched, and to circuits that can be."""
    assert node.barrier is not None
    demands = demands_of(node, site)
    if touchable:
        yield _path(node, demands, None)
        return
    for other in bus.nodes:
        hazard = None if other.circuit is None else other.circuit.hazard
        if other is node or hazard == "hazardous":
            continue
        if hazard == "touchable":
            yield _path(node, demands, other)
        elif other.transceiver is not None or other.barrier is not None:
            # what stands there may be touched
            reached = reached_by(node.name, node.barrier, demands)
            yield InsulationPath(
                node=node.name, touched=other.name, reached=reached,
                barriers=(node.name, other.name) if other.barrier is not None else (node.name,),
                status="met" if reached == "reinforced" else "not checked",
            )  # fmt: skip


def _path(node: Node, demands: _Demands, other: Node | None) -> InsulationPath:
    assert node.barrier is not None
    barriers = {node.name: node.barrier}
    if other is not None and other.barrier is not None:
        barriers[other.name] = other.barrier
    met = {name: reached_by(name, barrier, demands) for name, barrier in barriers.items()}
    grades: tuple[Grade, ...] = ("reinforced", "basic")
    hopeless = {
        grade: [
            "not met" in [each.status for each in checks_of(name, barrier, demands, grade)]
            for name, barrier in barriers.items()
        ]
        for grade in grades
    }
    double = len(met) == 2 and all(met.values())
    if "reinforced" in met.values():
        reached = "reinforced"
    elif double:
        reached = "two basic"
    else:
        reached = "basic" if "basic" in met.values() else ""
    # it can still come out if one of them may be reinforced, or both may be basic
    open_still = not all(hopeless["reinforced"]) or (len(barriers) == 2 and not any(hopeless["basic"]))
    enough = reached in ("reinforced", "two basic")
    return InsulationPath(
        node=node.name, touched="" if other is None else other.name, barriers=tuple(barriers), reached=reached,
        status="met" if enough else "not checked" if open_still else "not met",
    )  # fmt: skip


Demand: TypeAlias = Callable[[_Demands, Grade, Element], _Figure]
DISTANCES: tuple[tuple[Requirement, Demand], ...] = (("clearance", _clearance), ("creepage", _creepage))
DEMANDS: tuple[tuple[Requirement, Demand], ...] = (
    ("working voltage RMS", _working_rms),
    ("working voltage peak", _working_peak),
    ("withstand voltage RMS for 60 s", _temporary),
    ("impulse voltage peak", _impulse),
    *DISTANCES,
)
