"""Stamps: what each element of a bus puts between two unknowns."""

import math
import re
from collections.abc import Iterator
from typing import Literal, NamedTuple, TypeAlias

from rs485kit.model import Node, Segment
from rs485kit.units import MinTypMax

Rails: TypeAlias = Literal["open", "low"]

UNIT_LOAD_RESISTANCE = 12e3
HALF_OF_FIVE_VOLTS = 2.5
HIGHEST_INPUT_REFERENCE = 2.6
# what a protector leaks at the least, as a share of the most: as good as nothing, and the network stays in one piece
LEAST_LEAK = 1e-6


class Span(NamedTuple):
    """A value with its limits; a limit that is not stated is NaN."""

    nominal: float
    lower: float
    upper: float


EXACT_ZERO = Span(0.0, 0.0, 0.0)
EXACT_ONE = Span(1.0, 1.0, 1.0)
UNKNOWN = Span(math.nan, math.nan, math.nan)


def exactly(value: float) -> Span:
    """Return a value whose limits are itself."""
    return Span(value, value, value)


class Branch(NamedTuple):
    """A conductance with an EMF: the current from start to end is conductance * (V_start - V_end - emf)."""

    kind: str
    owner: str
    start: int
    end: int
    conductance: Span
    emf: Span


class Notes:
    """Collects, with their places, what was assumed, which figures are missing and which limits are not stated."""

    def __init__(self) -> None:
        self._assumed: dict[str, list[str]] = {}
        self._missing: dict[str, None] = {}
        self._unstated: list[str] = []

    def assume(self, sentence: str, place: str) -> None:
        """Note an assumption made at a place."""
        places = self._assumed.setdefault(sentence, [])
        if place not in places:
            places.append(place)

    def miss(self, place: str) -> Span:
        """Note a figure without which there is no answer, and return NaN in its stead."""
        self._missing[place] = None
        return UNKNOWN

    def lack(self, place: str, column: str) -> float:
        """Note a limit that a bound would need, and return NaN in its stead."""
        text = f"{place} (its {column})"
        if text not in self._unstated:
            self._unstated.append(text)
        return math.nan

    @property
    def assumed(self) -> tuple[str, ...]:
        """What was assumed, one sentence each, with some of the places."""
        result = []
        for sentence, places in self._assumed.items():
            shown = ", ".join(places[:4]) + (f" and {len(places) - 4} more" if len(places) > 4 else "")
            result.append(f"{sentence} ({shown})")
        return tuple(sorted(result))

    @property
    def missing(self) -> tuple[str, ...]:
        """The figures without which there is no answer, each once."""
        return tuple(self._missing)

    @property
    def unstated(self) -> tuple[str, ...]:
        """The limits that are not stated, by place."""
        return tuple(self._unstated)


def span_of(figure: MinTypMax | None, place: str, notes: Notes) -> Span:
    """Return a figure with its limits; without a nominal value it is missing."""
    if figure is None:
        return notes.miss(place)
    if figure.nominal is None:
        return notes.miss(f"{place} (its typical value, or both limits)")
    if figure.exact and figure.nominal != 0.0:
        head, _, tail = place.rpartition('"')
        field = re.split("[. ]", tail.split(" (")[0])[-1]
        notes.assume(f"{field} stated as one value is taken as exact", head.partition('"')[2] or "whole site")
    lower = notes.lack(place, "min") if figure.min is None else figure.min
    upper = notes.lack(place, "max") if figure.max is None else figure.max
    return Span(figure.nominal, lower, upper)


def conductance_of(figure: MinTypMax | None, place: str, notes: Notes, scale: Span = EXACT_ONE) -> Span:
    """Return the conductance of a resistance times a positive factor, both with their limits."""
    resistance = span_of(figure, place, notes)
    if resistance.lower == 0.0:
        least = notes.lack(place, "least value above 0 ohm, or exactly 0 ohm")
        resistance = resistance._replace(lower=least)
    return Span(
        1.0 / (resistance.nominal * scale.nominal),
        1.0 / (resistance.upper * scale.upper),
        1.0 / (resistance.lower * scale.lower),
    )


def note_wire(resistance: MinTypMax, place: str, notes: Notes) -> None:
    """Note that a resistance taken as a wire, at its nominal 0 ohm, is not stated to be one at the most."""
    if resistance.max is None or resistance.max > 0:
        notes.lack(place, "limits, both above 0 ohm or both 0 ohm")


class Terminals(NamedTuple):
    """Unknowns of a node's own terminals: its lines after `lines_swapped`, and its bus-side common."""

    noninverting: int
    inverting: int
    common: int


def segment_branches(
    segment: Segment,
    start: tuple[int, int, int, int],
    end: tuple[int, int, int, int],
    warming: Span,
    notes: Notes,
) -> Iterator[Branch]:
    """Give the conductors of a segment: the pair, and the reference conductor and the shield if it has them.

    `start` and `end` hold the unknowns of noninverting line, inverting line, reference conductor and shield (-1: none);
    `warming` is the ratio of resistance to that at 20 degC. A shield that is not joined at both ends carries nothing.
    """
    scale = Span(*(segment.length * factor for factor in warming))
    owner = f"{segment.start} - {segment.end}"
    if segment.cable is None:
        notes.miss(f'segments["{segment.start}" - "{segment.end}"].cable')
        return
    place = f'cable "{segment.cable.name}"'
    conductance = conductance_of(segment.cable.conductor_resistance, f"{place} conductor_resistance", notes, scale)
    for line in (0, 1):
        yield Branch("line", owner, start[line], end[line], conductance, EXACT_ZERO)
    through = segment.shield_joined == "both"
    if segment.reference_conductor and (through or not segment.reference_is_shield) and start[2] != end[2]:
        field = "shield_resistance" if segment.reference_is_shield else "reference_resistance"
        conductance = conductance_of(getattr(segment.cable, field), f"{place} {field}", notes, scale)
        yield Branch("reference", owner, start[2], end[2], conductance, EXACT_ZERO)
    if segment.shield and through and not segment.reference_is_shield and start[3] != end[3]:
        conductance = conductance_of(segment.cable.shield_resistance, f"{place} shield_resistance", notes, scale)
        yield Branch("shield", owner, start[3], end[3], conductance, EXACT_ZERO)


def node_branches(node: Node, at: Terminals, rails: Rails, notes: Notes) -> Iterator[Branch]:
    """Give the elements of a node that stand on its lines: terminators, bias legs and receiver inputs.

    `rails` says how a supply that is down is taken: open, or at the common.
    """
    for index, termination in enumerate(node.terminations):
        if termination.engaged and termination.capacitance is None:
            place = f'nodes["{node.name}"].terminations[{index}]'
            conductance = conductance_of(termination.resistance, f"{place}.resistance", notes)
            yield Branch("termination", node.name, at.noninverting, at.inverting, conductance, EXACT_ZERO)
    yield from _leg_branches(node, at, rails, notes)
    yield from _leaks(node, at, notes)
    if node.transceiver is not None:
        yield from _inputs(node, at, notes)


def _leaks(node: Node, at: Terminals, notes: Notes) -> Iterator[Branch]:
    """Give what protectors on the lines leak: from nothing to the stated current, as a resistor would."""
    ways = {
        "line-line": ((at.noninverting, at.inverting),),
        "line-common": ((at.noninverting, at.common), (at.inverting, at.common)),
    }
    for protector in node.protectors:
        for start, end in ways.get(protector.ends, ()):
            if protector.leakage is None or protector.standoff is None:
                notes.assume("protectors without a stated leakage and standoff are taken not to leak", node.name)
                continue
            most = protector.leakage / protector.standoff
            yield Branch("protector", node.name, start, end, Span(most, LEAST_LEAK * most, most), EXACT_ZERO)


def _inputs(node: Node, at: Terminals, notes: Notes) -> Iterator[Branch]:
    transceiver = node.transceiver
    assert transceiver is not None
    place = f'nodes["{node.name}"].transceiver'
    if transceiver.unit_load == 0:
        return
    if transceiver.unit_load is None:
        conductance = notes.miss(f"{place}.unit_load")
    else:
        conductance = exactly(transceiver.unit_load / UNIT_LOAD_RESISTANCE)
    reference = _input_reference(node, place, notes)
    for line in (at.noninverting, at.inverting):
        yield Branch("input", node.name, line, at.common, conductance, reference)


def _input_reference(node: Node, place: str, notes: Notes) -> Span:
    assert node.transceiver is not None
    if not node.powered:
        return EXACT_ZERO
    if node.transceiver.input_reference is not None:
        return exactly(node.transceiver.input_reference)
    supply = node.supply_voltage
    if supply is None or supply.nominal is None:
        notes.assume("receiver inputs pull to 2.5 V, half of 5 V, where no bus-side supply is stated", node.name)
        return exactly(HALF_OF_FIVE_VOLTS)
    if supply.nominal / 2 > HIGHEST_INPUT_REFERENCE:
        # half of such a supply would put the nominal input outside the unit-load border
        return notes.miss(f"{place}.input_reference (half of a {supply.nominal:g} V supply is above 2.6 V)")
    return exactly(supply.nominal / 2)


class Leg(NamedTuple):
    """A resistor from one of a node's own lines (0: noninverting) to a rail or, a pull-down, to its common."""

    kind: str
    line: int
    resistance: MinTypMax
    place: str
    up: bool
    supply: MinTypMax | None
    supply_place: str
    on: bool
    rail: str

    def conductance(self, notes: Notes) -> Span:
        """Return its conductance [S]."""
        return conductance_of(self.resistance, self.place, notes)

    def pulls_to(self, notes: Notes) -> Span:
        """Return the voltage against the common to which it pulls; a supply that is down counts as the common [V]."""
        return span_of(self.supply, self.supply_place, notes) if self.up and self.on else EXACT_ZERO


def legs_of(node: Node) -> list[Leg]:
    """Return the legs of a node's bias networks and active terminators, as far as they are engaged."""
    legs: list[Leg] = []
    for index, bias in enumerate(node.biases):
        if bias.engaged:
            place = f'nodes["{node.name}"].biases[{index}]'
            upper = 1 if bias.reversed else 0
            own = bias.supply is not None or not bias.supply_on
            legs += _pair(node, "bias", upper, (bias.pull_up, bias.pull_down), bias.supply, bias.supply_on, place, own)
    for index, each in enumerate(node.terminations):
        if each.engaged:
            place = f'nodes["{node.name}"].terminations[{index}]'
            own = each.supply is not None
            legs += _pair(node, "termination", 0, (each.pull_up, each.pull_down), each.supply, True, place, own)
    return legs


def _pair(
    node: Node,
    kind: str,
    upper: int,
    pulls: tuple[MinTypMax | None, MinTypMax | None],
    supply: MinTypMax | None,
    supply_on: bool,
    place: str,
    own_rail: bool,
) -> list[Leg]:
    """Return a pull-up and a pull-down; what hangs on the node's own supply shares one rail."""
    legs = []
    for name, line, resistance in (("pull_up", upper, pulls[0]), ("pull_down", 1 - upper, pulls[1])):
        if resistance is not None:
            legs.append(
                Leg(
                    kind=kind, line=line, resistance=resistance, place=f"{place}.{name}", up=name == "pull_up",
                    supply=supply or node.supply_voltage, supply_place=f"{place}.supply (or the node's own supply)",
                    on=node.powered and supply_on, rail=place if own_rail else "own",
                )
            )  # fmt: skip
    return legs


def _leg_branches(node: Node, at: Terminals, rails: Rails, notes: Notes) -> Iterator[Branch]:
    """Give the legs of a node: to its common behind an EMF, or joined at an open rail."""
    lines = (at.noninverting, at.inverting)
    joined: dict[str, list[Leg]] = {}
    for leg in legs_of(node):
        if leg.up and not leg.on and rails == "open":
            joined.setdefault(leg.rail, []).append(leg)
        else:
            yield Branch(leg.kind, node.name, lines[leg.line], at.common, leg.conductance(notes), leg.pulls_to(notes))
    for legs in joined.values():
        yield from _star(node, legs, lines, notes)


def _star(node: Node, legs: list[Leg], lines: tuple[int, int], notes: Notes) -> Iterator[Branch]:
    """Give what legs on an open rail put between the lines: g_i g_j / sum(g) for each pair on different lines.

    The expression rises in g_i and g_j and falls in every other, which gives its limits; those of one pair and
    another are not independent, so their box is the larger.
    """
    conductances = [leg.conductance(notes) for leg in legs]
    for i, first in enumerate(legs):
        for j in range(i + 1, len(legs)):
            if first.line != legs[j].line:
                others = [each for k, each in enumerate(conductances) if k not in (i, j)]
                a, b = conductances[i], conductances[j]
                value = Span(
                    _series(a.nominal, b.nominal, sum(each.nominal for each in others)),
                    _series(a.lower, b.lower, sum(each.upper for each in others)),
                    _series(a.upper, b.upper, sum(each.lower for each in others)),
                )
                yield Branch(first.kind, node.name, lines[first.line], lines[legs[j].line], value, EXACT_ZERO)


def _series(first: float, second: float, others: float) -> float:
    return first * second / (first + second + others)


def has_rail_down(node: Node) -> bool:
    """Return whether some pull-up of a node hangs on a supply that is down."""
    return any(leg.up and not leg.on for leg in legs_of(node))
