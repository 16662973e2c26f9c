"""Terminations: ends of the lines, what is fitted across the pair and where, and what it means to the drivers."""

import math

from rs485kit.analysis.driver_load import driver_loads, electric
from rs485kit.analysis.resistor_heat import resistor_heats
from rs485kit.analysis.termination_tables import FittedPlaces, LimitsOfAll, Terminations
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node, Segment, Termination
from rs485kit.network.branches import EXACT_ZERO, UNKNOWN, Notes, Span, conductance_of, legs_of, span_of
from rs485kit.network.lines import Lines, delay_along, lines_of, way_to_farthest


@as_analysis()
def terminations(analyses: Analyses) -> Terminations:
    """Return where the lines end, what is fitted across the pair, the load of every driver, and heat in every resistor.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    Terminations
        `ends` by name; the tables `fitted`, `driver_load` and `resistors` [-].

    Notes
    -----
    *Ends.* The trunk is the way between the two places farthest apart by cable. A branch from it of at most 20 m is a
    stub; a longer one is a line of its own, whose farthest place is an end too. So a star has as many ends as it has
    runs of more than 20 m, and a ring has none. A terminator on the tap of an end's own drop stands at that end.

    *Reflection* of a place where k segments of lines of impedance Z meet and R stands across the pair:
    ((2 - k) R - Z) / (k R + Z), which is (R - Z) / (R + Z) at an end and -Z / (2 R + Z) in mid-line; on a stub R is
    taken as standing where the stub leaves its line. R is what an edge meets: all engaged terminators of the node in
    parallel, the capacitor of an RC terminator closed, rails and commons one point. Lossless lines, real impedance.

    *Load* of a driver: the resistance between its two terminals with every source still, RC terminators open. It falls
    when any conductance rises, so its limits are exact; inputs are 12 kohm per unit load nominally and at the least
    load, 15 kohm at the greatest. *Current*: nominally (V_open + V_idle) / (R_driver + R_load), against the idle
    voltage at the driver. It cannot pass (largest V_open + largest V_idle) / (least R_load). It is the current through
    the pair: what a difference of earths, or the inputs of receivers at the ends of the common-mode range, add in one
    line is not in it.

    *Heat*: V^2 / R. `nominal` is the largest over the idle state and mark and space of every driver. `upper`, for a
    resistor across the pair: the largest open voltage of any driver, and where that driver is elsewhere the difference
    of the idle voltages at the two places, over the least R; what tolerances of the two lines turn from common mode
    into differential voltage is left out. For a leg to a rail or common: the line anywhere from -7 V to +12 V against
    the node's common. An RC terminator's resistor is held to have the whole voltage, as at an edge.

    References
    ----------
    20 m for a stub: MODBUS over Serial Line V1.02, section 3.4.3. 54 ohm: EIA-485, as printed in B&B Electronics,
    RS-422/485 Application Note, appendix A. Reflections: transmission line theory.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.22 ohm/km", characteristic_impedance="100 ohm")
    >>> end = rk.Termination(resistance="120 ohm")
    >>> nodes = [rk.Node(name=name, transceiver=part, terminations=end) for name in ("head", "tail")]
    >>> found = rk.analysis.terminations(rk.daisy_chain(nodes, spacing="1.2 km", cable=pair))
    >>> found.ends, round(found.fitted.at("head").reflection.nominal, 4)
    (('head', 'tail'), 0.0909)
    >>> round(found.driver_load.at("head").resistance.nominal, 2)
    87.43
    """
    bus = analyses.bus
    lines = lines_of(bus)
    fitted = _fitted(bus, lines)
    served = {lines.end_near(name) for name, engaged in zip(fitted.nodes, fitted.engaged, strict=True) if engaged}
    missing: list[tuple[str, str]] = []
    ways = [way_to_farthest(bus, name) for name in lines.ends]
    notes = [Notes() for _ in ways]
    delays = [delay_along(way, note) for way, note in zip(ways, notes, strict=True)]
    for name, note in zip(lines.ends, notes, strict=True):
        missing += [(name, figure) for figure in note.missing]
    given = electric(bus)
    return Terminations(
        ends=lines.ends,
        terminated=tuple(name for name in lines.ends if name in served),
        length=[sum(segment.length for segment in way) for way in ways],
        delay=_limits(delays),
        fitted=fitted,
        driver_load=driver_loads(given),
        resistors=resistor_heats(given),
        missing=tuple(missing),
        unstated=tuple(dict.fromkeys(figure for note in notes for figure in note.unstated)),
        assumed=given.networks[0].assumed if given.networks else (),
    )


def _limits(spans: list[Span]) -> LimitsOfAll:
    return LimitsOfAll(
        lower=[each.lower for each in spans],
        nominal=[each.nominal for each in spans],
        upper=[each.upper for each in spans],
    )


def _fitted(bus: Bus, lines: Lines) -> FittedPlaces:
    """Return what the nodes with terminators or bias networks carry across the pair."""
    nodes = [node for node in bus.nodes if node.terminations or node.biases]
    notes = [Notes() for _ in nodes]
    across = [_across(node, note) for node, note in zip(nodes, notes, strict=True)]
    seen = [_reflection(lines, node, each, note) for node, each, note in zip(nodes, across, notes, strict=True)]
    rc = [_rc(bus, node, note) for node, note in zip(nodes, notes, strict=True)]
    engaged = [sum(each.engaged for each in node.terminations) for node in nodes]
    return FittedPlaces(
        nodes=tuple(node.name for node in nodes),
        kind=tuple(_kind(node) for node in nodes),
        engaged=tuple(engaged),
        disengaged=tuple(len(node.terminations) - count for node, count in zip(nodes, engaged, strict=True)),
        place=tuple(_place(lines, node.name) for node in nodes),
        stub=[lines.stub[node.name] for node in nodes],
        resistance=_limits([_inverse(each) for each in across]),
        characteristic_impedance=_limits([each[0] for each in seen]),
        reflection=_limits([each[1] for each in seen]),
        time_constant=_limits([each[0] for each in rc]),
        delay=_limits([each[1] for each in rc]),
        missing=tuple((node.name, what) for node, note in zip(nodes, notes, strict=True) for what in note.missing),
        unstated=tuple(dict.fromkeys(figure for note in notes for figure in note.unstated)),
    )


def _place(lines: Lines, name: str) -> str:
    if lines.stub[name] > 0:
        return "stub"
    return "end" if lines.end_near(name) else "mid-line"


def _kind(node: Node) -> str:
    """Return in words what is engaged at a node."""
    kinds = [_kind_of(each) for each in node.terminations if each.engaged]
    kinds += ["bias" for each in node.biases if each.engaged]
    return " + ".join(kinds) or "none"


def _kind_of(each: Termination) -> str:
    if each.capacitance is not None:
        return "RC"
    return "resistive" if each.pull_up is None and each.pull_down is None else "active"


def _across(node: Node, notes: Notes) -> Span:
    """Return the conductance across the pair that an edge meets at a node: rails and common are one point to it.

    Legs to that point from one line and from the other are in series.
    """
    total, lines = EXACT_ZERO, [EXACT_ZERO, EXACT_ZERO]
    for index, each in enumerate(node.terminations):
        if each.engaged:
            place = f'nodes["{node.name}"].terminations[{index}].resistance'
            total = _sum(total, conductance_of(each.resistance, place, notes))
    for leg in legs_of(node):
        lines[leg.line] = _sum(lines[leg.line], leg.conductance(notes))
    return _sum(total, Span(*(_in_series(first, second) for first, second in zip(*lines, strict=True))))


def _sum(first: Span, second: Span) -> Span:
    return Span(*(a + b for a, b in zip(first, second, strict=True)))


def _in_series(first: float, second: float) -> float:
    return first * second / (first + second) if first or second else 0.0


def _inverse(conductance: Span) -> Span:
    turned = (conductance.nominal, conductance.upper, conductance.lower)
    return Span(*(1.0 / each if each else math.inf for each in turned))


def _reflection(lines: Lines, node: Node, across: Span, notes: Notes) -> tuple[Span, Span]:
    """Return the impedance of the line at a place, and what the place sends back, from the side where that is most."""
    spans = lines.spans_at(node.name)
    if not spans:
        notes.miss("segments (no cable meets the place)")
        return UNKNOWN, UNKNOWN
    impedances = [_impedance(segment, notes) for segment in spans]
    if all(segment.cable == spans[0].cable for segment in spans):
        return impedances[0], _sent_back(impedances[0], across, len(spans))
    sides = []
    for index, own in enumerate(impedances):
        beyond = across
        for other in impedances[:index] + impedances[index + 1 :]:
            beyond = _sum(beyond, Span(1.0 / other.nominal, 1.0 / other.upper, 1.0 / other.lower))
        sides.append((own, _sent_back(own, beyond, 1)))
    return max(sides, key=lambda side: (math.isnan(side[1].nominal), abs(side[1].nominal)))


def _impedance(segment: Segment, notes: Notes) -> Span:
    if segment.cable is None:
        return notes.miss(f'segments["{segment.start}" - "{segment.end}"].cable')
    place = f'cable "{segment.cable.name}" characteristic_impedance'
    return span_of(segment.cable.characteristic_impedance, place, notes)


def _sent_back(impedance: Span, across: Span, count: int) -> Span:
    """Return the reflection where `count` lines of one impedance meet; it falls as impedance and conductance rise."""
    loaded = [z * g for z, g in zip(impedance, across, strict=True)]
    nominal, upper, lower = ((2 - count - each) / (count + each) for each in loaded)
    return Span(nominal, lower, upper)


def _rc(bus: Bus, node: Node, notes: Notes) -> tuple[Span, Span]:
    """Return the least R C of a node's RC terminators, and the one-way delay to the place farthest from it."""
    constants = []
    for index, each in enumerate(node.terminations):
        if each.engaged and each.capacitance is not None:
            place = f'nodes["{node.name}"].terminations[{index}]'
            resistance = span_of(each.resistance, f"{place}.resistance", notes)
            capacitance = span_of(each.capacitance, f"{place}.capacitance", notes)
            constants.append(Span(*(r * c for r, c in zip(resistance, capacitance, strict=True))))
    if not constants:
        return UNKNOWN, UNKNOWN
    least = Span(*(min(members) for members in zip(*constants, strict=True)))
    return least, delay_along(way_to_farthest(bus, node.name), notes)
