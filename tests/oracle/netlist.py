"""A bus as resistors and voltage sources, and as the text of a netlist for a general circuit simulator.

Written from the model's own words, on purpose without the library's network and solvers: every leg goes to a rail,
every rail is a source, every wire without resistance is a source of 0 V. What the library folds into conductances
with an EMF stands here as it would on a bench.

Nets, by the number k of a node or earth: p and n lines, r reference conductor, h shield, c the node's own common, s its
supply, q what its receiver inputs pull to, e an earth. "0" is the site's reference earth.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from rs485kit import Bus, Earth, MinTypMax, Node, Segment

GROUND = "0"
COPPER = 0.00393
TWENTY_CELSIUS = 293.15
DATUM_RESISTANCE = 1e9
LEAST_BOND = 1e-3


class Resistor(NamedTuple):
    """A resistance between two nets [ohm]."""

    start: str
    end: str
    ohms: float


class Source(NamedTuple):
    """A voltage of one net above another [V]."""

    plus: str
    minus: str
    volts: float


class Inputs(NamedTuple):
    """How receiver inputs are taken: resistance of one unit load [ohm], and voltages that replace the nominal [V]."""

    unit_load_ohms: float = 12e3
    pull_to: Mapping[str, float] = {}


NOMINAL_INPUTS = Inputs()


class Circuit(NamedTuple):
    """A bus in elements, with the nets of every node's own terminals: noninverting, inverting, common."""

    resistors: tuple[Resistor, ...]
    sources: tuple[Source, ...]
    terminals: dict[str, tuple[str, str, str]]

    @property
    def nets(self) -> list[str]:
        """Every net that an element touches, ground left out."""
        found = {net: None for element in (*self.resistors, *self.sources) for net in element[:2]}
        return [net for net in found if net != GROUND]

    @property
    def largest_source(self) -> float:
        """Magnitude of the largest source, at least 1 V."""
        return max([1.0, *(abs(source.volts) for source in self.sources)])

    def islands(self) -> list[str]:
        """One net of every part that nothing joins to ground."""
        parent: dict[str, str] = {GROUND: GROUND}

        def find(net: str) -> str:
            while parent.setdefault(net, net) != net:
                net = parent[net]
            return net

        for element in (*self.resistors, *self.sources):
            parent[find(element[0])] = find(element[1])
        first: dict[str, str] = {}
        for net in self.nets:
            first.setdefault(find(net), net)
        return [net for part, net in first.items() if part != find(GROUND)]


def circuit(bus: Bus, *, rails: str, inputs: Inputs = NOMINAL_INPUTS) -> Circuit:
    """Return an idle bus in elements; `rails` says whether supplies that are down are "open" or "low"."""
    elements = list(_elements(bus, rails, inputs))
    number = {node.name: k for k, node in enumerate(bus.nodes)}
    return Circuit(
        tuple(element for element in elements if isinstance(element, Resistor)),
        tuple(element for element in elements if isinstance(element, Source)),
        {node.name: (*_lines(node, number[node.name]), f"c{number[node.name]}") for node in bus.nodes},
    )


def _lines(node: Node, k: int) -> tuple[str, str]:
    return (f"n{k}", f"p{k}") if node.lines_swapped else (f"p{k}", f"n{k}")


def _figure(figure: MinTypMax | None) -> float:
    """Return the typical value, or the middle of the limits."""
    assert figure is not None, "a bus for the oracle states every figure"
    if figure.typ is not None:
        return figure.typ
    assert figure.min is not None and figure.max is not None
    return (figure.min + figure.max) / 2


def _elements(bus: Bus, rails: str, inputs: Inputs) -> Iterator[Resistor | Source]:
    number = {node.name: k for k, node in enumerate(bus.nodes)}
    earths = {earth.name: k for k, earth in enumerate(bus.earths)}
    climate = bus.environment.temperature if bus.environment is not None else None
    hot = 1.0 if climate is None else 1.0 + COPPER * (_figure(climate) - TWENTY_CELSIUS)
    with_reference = set()
    for segment in bus.segments:
        yield from _cable(segment, number[segment.start], number[segment.end], hot)
        if segment.reference_conductor:
            with_reference |= {segment.start, segment.end}
    for k, earth in enumerate(bus.earths):
        yield from _earth(earth, k)
    for node in bus.nodes:
        k = number[node.name]
        yield from _terminators(node, k, rails)
        yield from _biases(node, k, rails)
        yield from _receiver(node, k, inputs)
        if node.common is not None and node.name in with_reference:
            yield _wire(f"c{k}", f"r{k}", _figure(node.common.resistance))
        if _is_bonded(node):
            yield _wire(f"c{k}", f"e{earths[str(node.earth)]}", 0.0)
        for bond in node.bonds:
            if bond.capacitance is None:
                yield Resistor(f"c{k}", f"e{earths[bond.earth]}", _figure(bond.resistance) or LEAST_BOND)
        way = node.shield_bond
        if way is not None and way.capacitance is None:
            yield Resistor(shield_net(bus, node), shield_end(bus, node), _figure(way.resistance) or LEAST_BOND)


def shield_net(bus: Bus, node: Node) -> str:
    """Return the net of the shield at a node: that of the reference conductor where they are one."""
    k = [each.name for each in bus.nodes].index(node.name)
    one = any(each.reference_is_shield and node.name in (each.start, each.end) for each in bus.segments)
    return f"r{k}" if one else f"h{k}"


def shield_end(bus: Bus, node: Node) -> str:
    """Return the net to which the shield is bonded at a node."""
    assert node.shield_bond is not None
    k = [each.name for each in bus.nodes].index(node.name)
    if node.shield_bond.to == "common":
        return f"c{k}"
    if node.shield_bond.to == "reference":
        return f"r{k}"
    earth = node.shield_bond.earth or node.earth
    return f"e{[each.name for each in bus.earths].index(str(earth))}"


def _wire(start: str, end: str, ohms: float) -> Resistor | Source:
    return Resistor(start, end, ohms) if ohms else Source(start, end, 0.0)


def _cable(segment: Segment, a: int, b: int, hot: float) -> Iterator[Resistor]:
    assert segment.cable is not None
    ohms = _figure(segment.cable.conductor_resistance) * segment.length * hot
    yield Resistor(f"p{a}", f"p{b}", ohms)
    yield Resistor(f"n{a}", f"n{b}", ohms)
    if segment.reference_conductor:
        each = segment.cable.shield_resistance if segment.reference_is_shield else segment.cable.reference_resistance
        yield Resistor(f"r{a}", f"r{b}", _figure(each) * segment.length * hot)
    if segment.shield and not segment.reference_is_shield and segment.shield_joined == "both":
        yield Resistor(f"h{a}", f"h{b}", _figure(segment.cable.shield_resistance) * segment.length * hot)


def _earth(earth: Earth, k: int) -> Iterator[Resistor | Source]:
    volts = 0.0 if earth.potential is None else _figure(earth.potential)
    ohms = 0.0 if earth.resistance is None else _figure(earth.resistance)
    if ohms == 0:
        yield Source(f"e{k}", GROUND, volts)
    else:
        yield Source(f"em{k}", GROUND, volts)
        yield Resistor(f"em{k}", f"e{k}", ohms)


def _is_bonded(node: Node) -> bool:
    if node.earth is None:
        return False
    if node.common is not None and node.common.bonded is not None:
        return node.common.bonded
    return node.barrier is None


def _own_supply(node: Node) -> MinTypMax | None:
    if node.barrier is not None and node.barrier.supply is not None:
        return node.barrier.supply.output_voltage
    return node.transceiver.supply_voltage if node.transceiver is not None else None


def _rail(net: str, common: str, on: bool, supply: MinTypMax | None, rails: str) -> Iterator[Source]:
    """Give the source of a rail; nothing for a rail that is down and open."""
    if on:
        yield Source(net, common, _figure(supply))
    elif rails == "low":
        yield Source(net, common, 0.0)


def _terminators(node: Node, k: int, rails: str) -> Iterator[Resistor | Source]:
    plus, minus = _lines(node, k)
    for index, each in enumerate(node.terminations):
        if not each.engaged or each.capacitance is not None:
            continue
        yield Resistor(plus, minus, _figure(each.resistance))
        if each.pull_down is not None:
            yield Resistor(minus, f"c{k}", _figure(each.pull_down))
        if each.pull_up is not None:
            net = f"t{k}_{index}" if each.supply is not None else f"s{k}"
            yield Resistor(net, plus, _figure(each.pull_up))
            if each.supply is not None:
                yield from _rail(net, f"c{k}", node.powered, each.supply, rails)
    if any(each.engaged and each.pull_up is not None and each.supply is None for each in node.terminations):
        yield from _rail(f"s{k}", f"c{k}", node.powered, _own_supply(node), rails)


def _biases(node: Node, k: int, rails: str) -> Iterator[Resistor | Source]:
    terminators_use_own = any(
        each.engaged and each.pull_up is not None and each.supply is None for each in node.terminations
    )
    uses_own = False
    for index, bias in enumerate(node.biases):
        if not bias.engaged:
            continue
        plus, minus = _lines(node, k)
        if bias.reversed:
            plus, minus = minus, plus
        if bias.pull_down is not None:
            yield Resistor(minus, f"c{k}", _figure(bias.pull_down))
        if bias.pull_up is None:
            continue
        if bias.supply is None and bias.supply_on:
            uses_own = True
            yield Resistor(f"s{k}", plus, _figure(bias.pull_up))
        else:
            net = f"b{k}_{index}"
            yield Resistor(net, plus, _figure(bias.pull_up))
            supply = bias.supply if bias.supply is not None else _own_supply(node)
            yield from _rail(net, f"c{k}", node.powered and bias.supply_on, supply, rails)
    if uses_own and not terminators_use_own:
        yield from _rail(f"s{k}", f"c{k}", node.powered, _own_supply(node), rails)


def _receiver(node: Node, k: int, inputs: Inputs) -> Iterator[Resistor | Source]:
    if node.transceiver is None or not node.transceiver.unit_load:
        return
    if node.name in inputs.pull_to:
        volts = inputs.pull_to[node.name]
    elif not node.powered:
        volts = 0.0
    elif node.transceiver.input_reference is not None:
        volts = node.transceiver.input_reference
    else:
        supply = _own_supply(node)
        volts = 2.5 if supply is None else _figure(supply) / 2
    yield Source(f"q{k}", f"c{k}", volts)
    for line in (f"p{k}", f"n{k}"):
        yield Resistor(f"q{k}", line, inputs.unit_load_ohms / node.transceiver.unit_load)


def netlist(title: str, elements: Circuit, nodes: tuple[str, ...], *, datum_ohms: float = DATUM_RESISTANCE) -> str:
    """Return the text for the simulator: it prints d0, d1, ... across the lines of the nodes, and l0, l1, ..., their
    noninverting lines against their own commons where an element touches those.
    """
    lines = [f"* {title}"]
    lines += [f"R{k} {each.start} {each.end} {each.ohms!r}" for k, each in enumerate(elements.resistors)]
    lines += [f"V{k} {each.plus} {each.minus} {each.volts!r}" for k, each in enumerate(elements.sources)]
    lines += [f"Rdatum{k} {net} 0 {datum_ohms!r}" for k, net in enumerate(elements.islands())]
    lines += [".options reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-18", ".control", "set numdgt=15", "op"]
    touched = set(elements.nets)
    for k, name in enumerate(nodes):
        plus, minus, common = elements.terminals[name]
        lines += [f"let d{k} = v({plus})-v({minus})", f"print d{k}"]
        if common in touched:
            lines += [f"let l{k} = v({plus})-v({common})", f"print l{k}"]
    return "\n".join([*lines, "quit", ".endc", ".end", ""])
