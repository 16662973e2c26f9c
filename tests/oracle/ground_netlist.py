"""A bus with its earths, shields, bonds and capacitances as text for the simulator, at rest and at mains frequency.

It stands on netlist.py: resistors and direct sources are those, earths bear a phasor too, and capacitors come on top. One
driver may be on: two sources about its offset, each behind half of its resistance.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from oracle.netlist import GROUND, Circuit, Resistor, Source, circuit, shield_end, shield_net
from rs485kit import Bus, MinTypMax, Node


class Capacitor(NamedTuple):
    """A capacitance with a resistance in series between two nets [F, ohm]."""

    start: str
    end: str
    farads: float
    ohms: float


def _typical(figure: MinTypMax | None) -> float:
    assert figure is not None
    assert figure.typ is not None
    return figure.typ


def capacitors(bus: Bus) -> Iterator[Capacitor]:
    """Give what lies across barriers, in bonds, and along cables."""
    number = {node.name: k for k, node in enumerate(bus.nodes)}
    earth = {each.name: f"e{k}" for k, each in enumerate(bus.earths)}
    for node in bus.nodes:
        k = number[node.name]
        for part in () if node.barrier is None else (node.barrier.isolator, node.barrier.supply):
            if part is not None and part.capacitance is not None and node.earth is not None:
                yield Capacitor(f"c{k}", earth[node.earth], _typical(part.capacitance), 0.0)
        for bond in node.bonds:
            if bond.capacitance is not None:
                yield Capacitor(f"c{k}", earth[bond.earth], _typical(bond.capacitance), _typical(bond.resistance))
        way = node.shield_bond
        if way is not None and way.capacitance is not None:
            yield Capacitor(shield_net(bus, node), shield_end(bus, node), _typical(way.capacitance), _typical(way.resistance))
    for segment in bus.segments:
        assert segment.cable is not None
        if segment.cable.earth_capacitance is None:
            continue
        nets = "pnr" if segment.reference_conductor and not segment.reference_is_shield else "pn"
        share = _typical(segment.cable.earth_capacitance) * segment.length / 2 / len(nets)
        for name in (segment.start, segment.end):
            k, own = number[name], bus.node(name).earth
            end = f"h{k}" if segment.shield else GROUND if own is None else earth[own]
            for net in nets:
                yield Capacitor(f"{net}{k}", end, share, 0.0)


def _driver(node: Node, k: int, mark: bool) -> tuple[list[Resistor], list[Source]]:
    part = node.transceiver
    assert part is not None
    loaded, unloaded = _typical(part.driver_loaded_voltage), _typical(part.driver_open_voltage)
    half = 54.0 * (unloaded / loaded - 1.0) / 2
    offset = 1.0 if part.driver_offset_voltage is None else _typical(part.driver_offset_voltage)
    swing = (unloaded if mark else -unloaded) / 2
    first, second = ("n", "p") if node.lines_swapped else ("p", "n")
    return (
        [Resistor(f"dp{k}", f"{first}{k}", half), Resistor(f"dn{k}", f"{second}{k}", half)],
        [Source(f"dp{k}", f"c{k}", offset + swing), Source(f"dn{k}", f"c{k}", offset - swing)],
    )


def ground_circuit(bus: Bus, driver: str = "", *, mark: bool = True) -> Circuit:
    """Return the elements of a bus, with one driver on if one is named."""
    elements = circuit(bus, rails="open")
    if not driver:
        return elements
    k = [node.name for node in bus.nodes].index(driver)
    resistors, sources = _driver(bus.nodes[k], k, mark)
    return elements._replace(
        resistors=(*elements.resistors, *resistors), sources=(*elements.sources, *sources)
    )


def ground_netlist(bus: Bus, elements: Circuit, probes: tuple[tuple[str, str], ...]) -> tuple[str, str]:
    """Return two texts for the simulator, at rest and at 50 Hz; l0, l1, ... are the voltages between two nets each."""
    phasors = {
        f"e{k}" if not _behind(each.resistance) else f"em{k}": (each.mains_potential or 0.0, each.mains_phase or 0.0)
        for k, each in enumerate(bus.earths)
    }
    lines = [f"* {bus.name}"]
    lines += [f"R{k} {each.start} {each.end} {each.ohms!r}" for k, each in enumerate(elements.resistors)]
    for k, each in enumerate(elements.sources):
        size, phase = phasors.get(each.plus, (0.0, 0.0)) if each.minus == GROUND else (0.0, 0.0)
        lines.append(f"V{k} {each.plus} {each.minus} DC {each.volts!r} AC {size!r} {math.degrees(phase)!r}")
    for k, each in enumerate(capacitors(bus)):
        middle = f"x{k}" if each.ohms else each.end
        lines.append(f"C{k} {each.start} {middle} {each.farads!r}")
        if each.ohms:
            lines.append(f"RC{k} {middle} {each.end} {each.ohms!r}")
    lines += [f"Rdatum{k} {net} 0 1e13" for k, net in enumerate(_islands_with_capacitors(bus, elements))]
    options = ".options reltol=1e-9 abstol=1e-18 vntol=1e-14 gmin=1e-20"
    head = [*lines, options, ".control", "set numdgt=15"]
    rest, mains = [*head, "op"], [*head, "ac lin 1 50 50"]
    for k, (plus, minus) in enumerate(probes):
        less = "" if minus == GROUND else f"-v({minus})"
        rest += [f"let l{k} = v({plus}){less}", f"print l{k}"]
        mains += [f"let l{k} = mag(v({plus}){less})", f"print l{k}"]
    tail = ["quit", ".endc", ".end", ""]
    return "\n".join([*rest, *tail]), "\n".join([*mains, *tail])


def _behind(resistance: MinTypMax | None) -> bool:
    return resistance is not None and bool(resistance.typ)


def _islands_with_capacitors(bus: Bus, elements: Circuit) -> list[str]:
    """One net of every part that no resistance joins to ground: the simulator wants a way for direct current."""
    more = [Resistor(each.end, f"x{k}", 1.0) for k, each in enumerate(capacitors(bus)) if each.ohms]
    ends = [Resistor(net, net, 1.0) for each in capacitors(bus) for net in (each.start, each.end) if net != GROUND]
    return elements._replace(resistors=(*elements.resistors, *more, *ends)).islands()
