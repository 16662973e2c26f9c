"""A feed over the cable as the text of a netlist, written from the model's own words, apart from the library's solvers.

A device of constant power is a source of the current P v / max(v, minimum)^2: below its minimum it is a resistor, so
that past collapse the simulator finds a resting place too, with the device below its minimum. A feeding point takes
nothing back: one that would is left out (`without`), and what the simulator then says of its terminals, and of the
terminals of all while none is left out, shows whether that was right. Nets: x the plus, y the minus of node k, e an earth.
"""

from collections.abc import Iterator

from rs485kit import Bus, MinTypMax, Node

COPPER = 0.00393
TWENTY_CELSIUS = 293.15


def _figure(figure: MinTypMax | None) -> float:
    assert figure is not None and figure.typ is not None, "a feed for the oracle states every figure"
    return figure.typ


def feed_netlist(bus: Bus, without: tuple[str, ...] = ()) -> str:
    """Return the text: it prints d0, d1, ... between plus and minus of fed devices, then of feeding points, and l0,
    l1, ..., their minus; feeding points in `without` give nothing.
    """
    number = {node.name: k for k, node in enumerate(bus.nodes)}
    lines = [f"* {bus.name}", *_elements(bus, number, without)]
    # from no load down, where a feed that was switched on comes from
    lines += [f".nodeset v(x{k})={_highest(bus)!r} v(y{k})=0" for k in number.values()]
    lines += [".options reltol=1e-12 abstol=1e-15 vntol=1e-12 gmin=1e-15 itl1=5000", ".control", "set numdgt=15", "op"]
    for k, name in enumerate((*fed(bus), *feeding(bus))):
        at = number[name]
        lines += [f"let d{k} = v(x{at})-v(y{at})", f"print d{k}", f"let l{k} = v(y{at})", f"print l{k}"]
    return "\n".join([*lines, "quit", ".endc", ".end", ""])


def _highest(bus: Bus) -> float:
    return max(_figure(node.feed_source.voltage) for node in bus.nodes if node.feed_source is not None)


def fed(bus: Bus) -> tuple[str, ...]:
    """Return the fed devices."""
    return tuple(node.name for node in bus.nodes if node.feed is not None)


def feeding(bus: Bus) -> tuple[str, ...]:
    """Return the feeding points."""
    return tuple(node.name for node in bus.nodes if node.feed_source is not None)


def _elements(bus: Bus, number: dict[str, int], without: tuple[str, ...]) -> Iterator[str]:
    climate = bus.environment.temperature if bus.environment is not None else None
    hot = 1.0 if climate is None else 1.0 + COPPER * (_figure(climate) - TWENTY_CELSIUS)
    for index, segment in enumerate(bus.segments):
        feed, cable = segment.feed, segment.cable
        assert feed is not None and cable is not None
        a, b = number[segment.start], number[segment.end]
        ohms = _figure(feed.conductor_resistance or cable.conductor_resistance) * segment.length * hot / feed.wires
        back = _figure(cable.reference_resistance) * segment.length * hot if feed.common_return else ohms
        yield f"Rx{index} x{a} x{b} {ohms!r}"
        yield f"Ry{index} y{a} y{b} {back!r}"
    earthed = False
    for k, earth in enumerate(bus.earths):
        yield f"Ve{k} s{k} 0 {_figure(earth.potential)!r}"
        yield f"Re{k} s{k} e{k} {_figure(earth.resistance)!r}"
    earths = {earth.name: k for k, earth in enumerate(bus.earths)}
    for k, node in enumerate(bus.nodes):
        if node.feed_source is not None and node.feed_source.bonded:
            earthed = True
            yield f"Vb{k} y{k} e{earths[str(node.earth)]} 0"
        elif node.common is not None and node.common.bonded:
            yield f"Rb{k} y{k} e{earths[str(node.earth)]} {_figure(node.common.resistance)!r}"
        yield from _device(node, k, gives=node.name not in without)
    if not earthed:
        source = min(node.name for node in bus.nodes if node.feed_source is not None)
        yield f"Vdatum y{number[source]} 0 0"


def _device(node: Node, k: int, *, gives: bool) -> Iterator[str]:
    source, feed = node.feed_source, node.feed
    if source is not None and gives:
        volts, ohms = _figure(source.voltage), _figure(source.resistance)
        yield f"V{k} {f'i{k}' if ohms else f'x{k}'} y{k} {volts!r}"
        if ohms:
            yield f"Ri{k} i{k} x{k} {ohms!r}"
    if feed is None:
        return
    if feed.power is not None:
        across = f"v(x{k},y{k})"
        yield f"BP{k} x{k} y{k} I={_figure(feed.power)!r}*{across}/(max({across},{feed.minimum_voltage!r})*max({across},{feed.minimum_voltage!r}))"
    elif feed.current is not None:
        yield f"IC{k} x{k} y{k} {_figure(feed.current)!r}"
    else:
        yield f"RL{k} x{k} y{k} {_figure(feed.resistance)!r}"
