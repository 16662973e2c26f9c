"""What fed devices draw, as arrays with limits."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from rs485kit.model import Node
from rs485kit.network.assembly import Floats
from rs485kit.network.branches import EXACT_ZERO, Notes, Span, span_of
from rs485kit.network.feed import Corner
from rs485kit.solvers.feed import Loads


class Drawn(NamedTuple):
    """Power that an isolated supply takes from the feed, and what it takes more while its node talks [W]."""

    listening: Span
    more: Span


class FeedLoads(NamedTuple):
    """What devices draw: rows nominal, lower, upper; and of each its least voltages, NaN where not stated.

    `more` is what each draws more while it talks. `inrush` limits the charging of an input, NaN where nothing does.
    """

    power: Floats
    current: Floats
    conductance: Floats
    more: Floats
    minimum: Floats
    restart: Floats
    capacitance: Floats
    inrush: Floats

    def at(self, corner: Corner) -> Loads:
        """Return the loads nominal, at their heaviest (adverse) or at their lightest (benign)."""
        row = {"nominal": 0, "adverse": 2, "benign": 1}[corner]
        return Loads(self.power[row], self.current[row], self.conductance[row], np.nan_to_num(self.minimum))

    def talking(self, corner: Corner) -> Floats:
        """Return what each draws more while it talks."""
        return np.asarray(self.more[{"nominal": 0, "adverse": 2, "benign": 1}[corner]])


def feed_loads(nodes: tuple[Node, ...], supplied: Mapping[str, Drawn], notes: Notes) -> FeedLoads:
    """Return what fed devices draw.

    Parameters
    ----------
    nodes : tuple of Node
        The devices [-].
    supplied : mapping
        What the isolated supplies of devices draw that state no law of their own, by node [W].
    notes : Notes
        Where what is missing and assumed is noted [-].

    Returns
    -------
    FeedLoads
        The loads; figures without which there is no answer are noted as missing [W, A, S].
    """
    rows = [_row(node, supplied, notes) for node in nodes]

    def column(index: int) -> Floats:
        return np.array([row[index] for row in rows], dtype=np.float64).reshape(-1, 3).T.copy()

    def single(name: str) -> Floats:
        figures = [getattr(node.feed, name) for node in nodes]
        return np.array([np.nan if each is None else each for each in figures])

    minimum, restart = single("minimum_voltage"), single("restart_voltage")
    return FeedLoads(
        column(0), column(1), column(2), column(3), minimum, np.where(np.isnan(restart), minimum, restart), column(4),
        single("inrush_current"),
    )  # fmt: skip


def _row(node: Node, supplied: Mapping[str, Drawn], notes: Notes) -> tuple[Span, Span, Span, Span, Span]:
    feed = node.feed
    assert feed is not None
    place = f'nodes["{node.name}"].feed'
    power, current, conductance, more = EXACT_ZERO, EXACT_ZERO, EXACT_ZERO, EXACT_ZERO
    if not node.powered:
        return power, current, conductance, more, EXACT_ZERO
    if feed.power is not None:
        power = span_of(feed.power, f"{place}.power", notes)
    elif feed.current is not None:
        current = span_of(feed.current, f"{place}.current", notes)
    elif feed.resistance is not None:
        resistance = span_of(feed.resistance, f"{place}.resistance", notes)
        conductance = Span(1 / resistance.nominal, 1 / resistance.upper, 1 / resistance.lower)
    elif node.name in supplied:
        power, more = supplied[node.name]
    else:
        notes.miss(f"{place}.power (or current, or resistance, or what its isolated supply draws)")
    if feed.talking_power is not None:
        more = span_of(feed.talking_power, f"{place}.talking_power", notes)
    charge = Span(np.nan, np.nan, np.nan)
    if feed.capacitance is not None:
        charge = span_of(feed.capacitance, f"{place}.capacitance", notes)
    return power, current, conductance, more, charge
