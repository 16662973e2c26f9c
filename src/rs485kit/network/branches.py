"""Stamps: what each element of a bus puts between two unknowns."""

from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple, TypeAlias

from rs485kit.model import Node, Segment
from rs485kit.units import MinTypMax

Rails: TypeAlias = Literal["open", "low"]

UNIT_LOAD_RESISTANCE = 12e3
HALF_OF_FIVE_VOLTS = 2.5
HIGHEST_INPUT_REFERENCE = 2.6


class Branch(NamedTuple):
    """A conductance with an EMF: the current from start to end is conductance * (V_start - V_end - emf)."""

    kind: str
    owner: str
    start: int
    end: int
    conductance: float
    emf: float


class Unstated(Exception):  # noqa: N818
    """A figure that the bus does not state; caught where the network is put together."""


def nominal(figure: MinTypMax | None, place: str) -> float:
    """Return the nominal value of a figure, or raise Unstated with its place."""
    if figure is None:
        raise Unstated(place)
    if figure.nominal is None:
        raise Unstated(f"{place} (its typical value, or both limits)")
    return figure.nominal


class Terminals(NamedTuple):
    """Unknowns of a node's own terminals: its lines after `lines_swapped`, and its bus-side common."""

    noninverting: int
    inverting: int
    common: int


def segment_branches(
    segment: Segment, start: tuple[int, int, int], end: tuple[int, int, int], warming: float
) -> Iterator[Branch]:
    """Give the conductors of a segment: the pair, and the reference conductor if it has one.

    `start` and `end` hold the unknowns of noninverting line, inverting line and reference conductor (-1: none);
    `warming` is the ratio of resistance to that at 20 degC.
    """
    place = f'segments["{segment.start}" - "{segment.end}"].cable'
    owner = f"{segment.start} - {segment.end}"
    if segment.cable is None:
        raise Unstated(place)
    per_metre = nominal(segment.cable.conductor_resistance, f"{place}.conductor_resistance")
    conductance = 1.0 / (per_metre * segment.length * warming)
    for line in (0, 1):
        yield Branch("line", owner, start[line], end[line], conductance, 0.0)
    if segment.reference_conductor and start[2] != end[2]:
        per_metre = nominal(segment.cable.reference_resistance, f"{place}.reference_resistance")
        yield Branch("reference", owner, start[2], end[2], 1.0 / (per_metre * segment.length * warming), 0.0)


def node_branches(node: Node, at: Terminals, rails: Rails, assume: Callable[[str, str], None]) -> Iterator[Branch]:
    """Give the elements of a node that stand on its lines: terminators, bias legs and receiver inputs.

    `rails` says how a supply that is down is taken: open, or at the common. `assume` is told what was assumed.
    """
    for index, termination in enumerate(node.terminations):
        if termination.engaged and termination.capacitance is None:
            place = f'nodes["{node.name}"].terminations[{index}]'
            resistance = nominal(termination.resistance, f"{place}.resistance")
            yield Branch("termination", node.name, at.noninverting, at.inverting, 1.0 / resistance, 0.0)
    yield from _leg_branches(node, at, rails)
    if node.transceiver is not None:
        yield from _inputs(node, at, assume)


def _inputs(node: Node, at: Terminals, assume: Callable[[str, str], None]) -> Iterator[Branch]:
    transceiver = node.transceiver
    assert transceiver is not None
    place = f'nodes["{node.name}"].transceiver'
    if transceiver.unit_load is None:
        raise Unstated(f"{place}.unit_load")
    reference = _input_reference(node, place, assume)
    for line in (at.noninverting, at.inverting):
        conductance = transceiver.unit_load / UNIT_LOAD_RESISTANCE
        yield Branch("input", node.name, line, at.common, conductance, reference)


def _input_reference(node: Node, place: str, assume: Callable[[str, str], None]) -> float:
    assert node.transceiver is not None
    if not node.powered:
        return 0.0
    if node.transceiver.input_reference is not None:
        return node.transceiver.input_reference
    supply = node.supply_voltage
    if supply is None or supply.nominal is None:
        assume("receiver inputs pull to 2.5 V, half of 5 V, where no bus-side supply is stated", node.name)
        return HALF_OF_FIVE_VOLTS
    if supply.nominal / 2 > HIGHEST_INPUT_REFERENCE:
        # half of such a supply would put the nominal input outside the unit-load border
        raise Unstated(f"{place}.input_reference (half of a {supply.nominal:g} V supply is above 2.6 V)")
    return supply.nominal / 2


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

    @property
    def conductance(self) -> float:
        """Nominal conductance [S]."""
        return 1.0 / nominal(self.resistance, self.place)

    @property
    def pulls_to(self) -> float:
        """Voltage against the common to which it pulls; a supply that is down counts as the common [V]."""
        return nominal(self.supply, self.supply_place) if self.up and self.on else 0.0


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


def _leg_branches(node: Node, at: Terminals, rails: Rails) -> Iterator[Branch]:
    """Give the legs of a node: to its common behind an EMF, or joined at an open rail."""
    lines = (at.noninverting, at.inverting)
    joined: dict[str, list[Leg]] = {}
    for leg in legs_of(node):
        if leg.up and not leg.on and rails == "open":
            joined.setdefault(leg.rail, []).append(leg)
        else:
            yield Branch(leg.kind, node.name, lines[leg.line], at.common, leg.conductance, leg.pulls_to)
    for legs in joined.values():
        yield from _star(node, legs, lines)


def _star(node: Node, legs: list[Leg], lines: tuple[int, int]) -> Iterator[Branch]:
    """Give what legs on an open rail put between the lines: g_i g_j / sum(g) for each pair on different lines."""
    total = sum(leg.conductance for leg in legs)
    for index, first in enumerate(legs):
        for second in legs[index + 1 :]:
            if first.line != second.line:
                conductance = first.conductance * second.conductance / total
                yield Branch(first.kind, node.name, lines[first.line], lines[second.line], conductance, 0.0)


def has_rail_down(node: Node) -> bool:
    """Return whether some pull-up of a node hangs on a supply that is down."""
    return any(leg.up and not leg.on for leg in legs_of(node))
