"""Feeds over the cable for the oracle: one load to rings and two feeding points, at the edge of collapse and past it."""

import itertools
from collections.abc import Callable

import rs485kit as rk

WIRE = rk.Cable(name="24 AWG", conductor_resistance=84.2e-3, reference_resistance=60e-3)
FEED = rk.FeedConductors()
SUPPLY = 24.0
RUN = 400.0
# what one load at the end of RUN can draw at the most: V^2 / 4 R
EDGE = SUPPLY**2 / (4.0 * 2.0 * RUN * 84.2e-3)


def gate(name: str, **law: object) -> rk.Node:
    """Return a fed device that stops at 3 V."""
    return rk.Node(name=name, feed=rk.FeedLoad(minimum_voltage=3.0, **law))


def point(name: str, volts: float = SUPPLY, ohms: float | None = 0.5, **figures: object) -> rk.Node:
    """Return a feeding point."""
    return rk.Node(name=name, feed_source=rk.FeedSource(voltage=volts, resistance=ohms, **figures))


def one(watts: float) -> rk.Bus:
    """Return one load at the end of a line, from a source without resistance."""
    nodes = [point("head", ohms=0.0), gate("tail", power=watts)]
    return rk.daisy_chain(nodes, spacing=RUN, cable=WIRE, feed=FEED, name=f"one load of {watts:g} W")


def chain(count: int, **law: object) -> rk.Bus:
    """Return equal devices on one line."""
    nodes = [point("head"), *(gate(f"gate-{k}", **law) for k in range(count))]
    return rk.daisy_chain(nodes, spacing=50.0, cable=WIRE, feed=FEED, name=f"chain of {count}")


def mixed() -> rk.Bus:
    """Return a line with one device of each law, wires in parallel, and a warm climate."""
    nodes = [point("head"), gate("a", power=1.5), gate("b", current=0.05), gate("c", resistance=400.0)]
    climate = rk.Environment(temperature=318.15)
    return rk.daisy_chain(
        nodes, spacing=[120.0, 80.0, 200.0], cable=WIRE, feed=rk.FeedConductors(wires=2), environment=climate, name="mixed"
    )


def star() -> rk.Bus:
    """Return four runs from one place."""
    nodes = [point("hub"), *(gate(f"run-{k}", power=0.4 + 0.1 * k) for k in range(4))]
    spans = [
        rk.Segment(start="hub", end=f"run-{k}", length=100.0 + 60.0 * k, cable=WIRE, feed=FEED) for k in range(4)
    ]
    return rk.Bus(name="star", nodes=nodes, segments=spans)


def ring() -> rk.Bus:
    """Return a ring, opened nowhere."""
    names = [f"gate-{k}" for k in range(5)]
    nodes = [point("head"), *(gate(name, power=1.1) for name in names)]
    around = ["head", *names, "head"]
    spans = [
        rk.Segment(start=a, end=b, length=90.0, cable=WIRE, feed=FEED)
        for a, b in itertools.pairwise(around)
    ]
    return rk.Bus(name="ring", nodes=nodes, segments=spans)


def from_both_ends(far: float, watts: float) -> rk.Bus:
    """Return a line that is fed at both ends."""
    nodes = [point("head"), *(gate(f"gate-{k}", power=watts) for k in range(6)), point("tail", far, 2.0)]
    return rk.daisy_chain(nodes, spacing=80.0, cable=WIRE, feed=FEED, name=f"fed at both ends, {far:g} V")


def bonded(bank: float) -> rk.Bus:
    """Return a line whose minus is the reference conductor, bonded to one earth at its head and another at its end."""
    nodes = [
        rk.Node(name="head", earth="house", feed_source=rk.FeedSource(voltage=SUPPLY, resistance=0.5, bonded=True)),
        *(gate(f"gate-{k}", power=0.9) for k in range(4)),
        rk.Node(
            name="far", earth="bank", common=rk.CommonLink(resistance=10.0, bonded=True),
            feed=rk.FeedLoad(power=0.9, minimum_voltage=3.0),
        ),
    ]
    earths = [rk.Earth(name="house", potential=0.0, resistance=2.0), rk.Earth(name="bank", potential=bank, resistance=8.0)]
    return rk.daisy_chain(
        nodes, spacing=70.0, cable=WIRE, reference_conductor=True, feed=rk.FeedConductors(common_return=True),
        earths=earths, name=f"common return, earths {bank:g} V apart",
    )


FEEDS: dict[str, Callable[[], rk.Bus]] = {
    "half of what one line carries": lambda: one(0.5 * EDGE),
    "within 1 % of collapse": lambda: one(0.995 * EDGE),
    "past collapse": lambda: one(1.02 * EDGE),
    "chain of constant power": lambda: chain(12, power=0.2),
    "chain of constant current": lambda: chain(12, current=0.02),
    "chain of resistors": lambda: chain(12, resistance=700.0),
    "mixed": mixed,
    "star": star,
    "ring": ring,
    "both ends": lambda: from_both_ends(23.0, 1.0),
    "far end gives nothing": lambda: from_both_ends(12.0, 0.3),
    "common return": lambda: bonded(1.5),
    "common return, earths alike": lambda: bonded(0.0),
    "long chain": lambda: chain(60, power=0.008),
}
PAST = "past collapse"
# the feeding points that give nothing
SILENT = {"far end gives nothing": ("tail",)}
