"""Shared by the tests of rules on signals: what one rule gives on a bus, and trees, stubs, a ring and a star."""

from pathlib import Path

import attrs

from canal_signals import END, PAIR, PART, with_figures
from rs485kit import Analyses, Bus, Link, Node, Policy, Segment, check, load_bus
from rs485kit.rules import built_in

RULES = {each.name: each for each in built_in() if each.name.startswith("signal.")}
LOW, NARROW = "signal.eye-too-low", "signal.eye-too-narrow"
LOSS, OVERSHOOT = "signal.loss-too-high", "signal.overshoot-too-high"
STUB, PRODUCT = "signal.stub-too-long", "signal.length-times-rate"
SETTLE, EDGE, LOADED = "signal.does-not-settle", "signal.edge-faster-than-needed", "signal.impedance-lowered"
# what every bus with traffic is asked, whatever its shape
ALWAYS = (LOW, NARROW, LOSS, OVERSHOOT, PRODUCT, EDGE)
NAMES = ("pump-house", "gauge", "gate")


def found(name, bus, **settings):
    """What one rule gives, as a report has it with all passes."""
    return RULES[name](Analyses(bus), settings=settings)


def at(name, bus, **settings):
    """What one rule gives by the names of its places."""
    return {" ".join(each.where.names) or "bus": each for each in found(name, bus, **settings)}


def verdicts(name, bus, **settings):
    """The verdicts of one rule by the names of its places."""
    return {place: each.verdict for place, each in at(name, bus, **settings).items()}


def unknowns(name, bus):
    """The unknowns that a report has of one rule, missing data that an analysis raises for included."""
    return check(bus, policy=Policy(select=name)).unknowns


def on_all(bus, **fields):
    """The bus with other figures at every transceiver."""
    for each in bus.nodes:
        bus = with_figures(bus, each.name, **fields)
    return bus


def with_node(bus, name, **fields):
    """The bus with other fields of one node."""
    return bus.replace_node(attrs.evolve(bus.node(name), **fields))


def tree(*spans, cable=PAIR, rate="1 Mbit/s", bare=(), ended=(), part=PART):
    """Nodes named by their spans: (one, other, length); of those in `bare` there is no device, in `ended` a terminator."""
    names = dict.fromkeys(name for span in spans for name in span[:2])
    nodes = [
        Node(name=name, transceiver=None if name in bare else part, terminations=END if name in ended else ())
        for name in names
    ]
    segments = [Segment(start=start, end=end, length=length, cable=cable) for start, end, length in spans]
    return Bus(nodes=nodes, segments=segments, link=Link(data_rate=rate))


def stubbed(length, *, rate="1 Mbit/s", **more):
    """A line of 100 m, terminated at both ends, and a stub in its middle."""
    spans = ("head", "tap", 50.0), ("tap", "tail", 50.0), ("tap", "gauge", length)
    return tree(*spans, rate=rate, bare=("tap",), ended=("head", "tail"), **more)


RING = tree(("a", "b", 30.0), ("b", "c", 30.0), ("c", "a", 30.0))
STAR = tree(("hub", "a", 30.0), ("hub", "b", 30.0), ("hub", "c", 30.0))


def bus_that_fires(name):
    """The bus that fires a rule, as its page shows it."""
    return load_bus(Path(__file__).parents[1] / "docs" / "rules" / name / "fires.toml")
