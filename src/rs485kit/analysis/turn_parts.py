"""What turns and polls are made of: delays of a node's parts, holds of its driver, flights along the cable."""

import itertools
import math
from typing import NamedTuple

from rs485kit.errors import MissingDataError
from rs485kit.formulas import propagation_velocity
from rs485kit.model import Bus, Link, Node
from rs485kit.units import MinTypMax

Lacks = list[tuple[str, str]]


class Span(NamedTuple):
    """A time by its shortest, nominal and longest value; NaN where nothing is known of it [s]."""

    shortest: float
    nominal: float
    longest: float

    def plus(self, other: "Span") -> "Span":
        """Return the sum of two times."""
        return Span(*(first + second for first, second in zip(self, other, strict=True)))

    def less(self, other: "Span") -> "Span":
        """Return the difference of two times, which is shortest where the other is longest."""
        return Span(self.shortest - other.longest, self.nominal - other.nominal, self.longest - other.shortest)

    def moved(self, by: float) -> "Span":
        """Return the time with a constant added to it."""
        return Span(*(each + by for each in self))


NOTHING = Span(0.0, 0.0, 0.0)


def span_of(figure: MinTypMax | None, place: tuple[str, str], lacks: Lacks, *, is_delay: bool = False) -> Span:
    """Return a stated time; what is missing of it is NaN and named.

    Parameters
    ----------
    figure : MinTypMax or None
        The time [s].
    place : tuple of str
        Node and field, for what is missing [-].
    lacks : list
        Takes what is missing [-].
    is_delay : bool
        Whether it is a delay of a part, which is nothing at the least and counts for nothing in a nominal sum where
        it is not stated [-].

    Returns
    -------
    Span
        The time [s].
    """
    if figure is None:
        lacks.append(place)
        return Span(0.0, 0.0, math.nan) if is_delay else Span(math.nan, math.nan, math.nan)
    node, field = place
    shortest = 0.0 if figure.min is None and is_delay else figure.min
    for value, name in ((shortest, "its min"), (figure.max, "its max")):
        if value is None:
            lacks.append((node, f"{field} ({name})"))
    return Span(*(math.nan if each is None else each for each in (shortest, figure.nominal, figure.max)))


def channel(node: Node, purpose: str, lacks: Lacks) -> Span:
    """Return the delay of a data path through a node's barrier; nothing without a barrier."""
    if node.barrier is None:
        return NOTHING
    channels = () if node.barrier.isolator is None else node.barrier.isolator.channels
    delay = next((each.delay for each in channels if each.purpose == purpose), None)
    return span_of(delay, (node.name, f'barrier.isolator.channels (delay, "{purpose}")'), lacks, is_delay=True)


def sending_delay(node: Node, lacks: Lacks) -> Span:
    """Return the delay from a node's data output to the pair at its terminals."""
    assert node.transceiver is not None
    place = (node.name, "transceiver.driver_delay")
    return channel(node, "transmit", lacks).plus(
        span_of(node.transceiver.driver_delay, place, lacks, is_delay=True)
    )  # fmt: skip


def receiving_delay(node: Node, lacks: Lacks) -> Span:
    """Return the delay from the pair at a node's terminals to its data input."""
    assert node.transceiver is not None
    place = (node.name, "transceiver.receiver_delay")
    return channel(node, "receive", lacks).plus(
        span_of(node.transceiver.receiver_delay, place, lacks, is_delay=True)
    )  # fmt: skip


def released_after(node: Node, interval: float, stops: int, bits: int, lacks: Lacks) -> Span:
    """Return when a node's driver has let the pair go, after the end of its last stop bit as it sends it.

    Parameters
    ----------
    node : Node
        The node [-].
    interval : float
        Unit interval [s].
    stops : int
        Stop bits of a character [-].
    bits : int
        Bits of a character, start and stop bits counted in [-].
    lacks : list
        Takes what is missing [-].

    Returns
    -------
    Span
        The time; negative: before the stop bit is over [s].
    """
    part = node.transceiver
    assert part is not None
    disabling = span_of(
        part.driver_disable_time, (node.name, "transceiver.driver_disable_time"), lacks, is_delay=True
    )
    if node.direction == "one-shot":
        held = span_of(node.one_shot_hold, (node.name, "one_shot_hold"), lacks)
        # the last space begins with the start bit at the earliest, with the last bit before the stop bits at the latest
        held = Span(
            held.shortest - bits * interval, held.nominal - (stops + 1) * interval,
            held.longest - (stops + 1) * interval,
        )  # fmt: skip
        return held.plus(channel(node, "transmit", lacks)).plus(disabling)
    if node.direction == "data":
        driven = NOTHING
        if not part.mark_driven:
            driven = span_of(part.mark_drive_time, (node.name, "transceiver.mark_drive_time"), lacks)
        driven = Span(
            driven.shortest - bits * interval, driven.nominal - stops * interval, driven.longest - stops * interval
        )  # fmt: skip
        return driven.plus(channel(node, "transmit", lacks)).plus(disabling)
    held = span_of(node.release_hold, (node.name, "release_hold"), lacks)
    if node.direction is None and node.release_hold is None:
        lacks.append((node.name, "direction"))
    return held.plus(channel(node, "enable", lacks)).plus(disabling)


def driving_after(node: Node, lacks: Lacks) -> Span:
    """Return when a node's driver has taken the pair, after the beginning of its first start bit as it sends it."""
    part = node.transceiver
    assert part is not None
    enabling = span_of(part.driver_enable_time, (node.name, "transceiver.driver_enable_time"), lacks, is_delay=True)
    if node.direction in ("one-shot", "data"):
        return channel(node, "transmit", lacks).plus(enabling)
    lead = span_of(node.enable_lead, (node.name, "enable_lead"), lacks)
    if node.direction is None and node.enable_lead is None:
        lacks.append((node.name, "direction"))
    return channel(node, "enable", lacks).plus(enabling).less(lead)


def flight(bus: Bus, first: str, second: str, lacks: Lacks) -> float:
    """Return the delay of the cable between two nodes, one way, at nominal velocity; NaN where it is not known."""
    places = bus.path(first, second)
    total = 0.0
    for start, end in itertools.pairwise(places):
        segment = bus.segment(start, end)
        factor = None if segment.cable is None else segment.cable.velocity_factor
        if factor is None or factor.nominal is None:
            lacks.append((f"{segment.start} - {segment.end}", "cable.velocity_factor"))
            total = math.nan
        else:
            total += segment.length / float(propagation_velocity(factor.nominal))
    return total


def polled(bus: Bus, what: str) -> tuple[Link, Node, float]:
    """Return the link of a bus, its controller and its data rate.

    Raises
    ------
    MissingDataError
        If the bus states no data rate or no controller that drives and listens.
    """
    link = bus.link
    lacking = []
    if link is None or link.data_rate is None:
        lacking.append("link.data_rate")
    controller = None if link is None or link.controller is None else bus.node(link.controller)
    if controller is None:
        lacking.append("link.controller")
    elif not answers(controller):
        lacking.append(f'nodes["{controller.name}"].transceiver, to drive and to listen')
    if lacking:
        raise MissingDataError(what, tuple(lacking))
    assert link is not None
    assert link.data_rate is not None
    assert controller is not None
    return link, controller, link.data_rate


def answers(node: Node) -> bool:
    """Return whether a node can be asked and can answer."""
    return node.drives and node.listens
