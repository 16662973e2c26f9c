"""Currents into the earths, bond by bond."""

import math
from collections.abc import Iterator

import numpy as np

from rs485kit.analysis.grounding_tables import BondCurrent, BondCurrents
from rs485kit.analysis.results import Array
from rs485kit.model import Bus, Node
from rs485kit.network.assembly import Network
from rs485kit.network.galvanic import Bond, Island
from rs485kit.network.mains import Mains, earth_unknown


def branch_current(network: Network, mains: Mains, rest: Array, index: int) -> tuple[float, float]:
    """Return the direct current of a branch from start to end, and its mains-frequency current, RMS [A]."""
    start, end = network.branches.start[index], network.branches.end[index]
    conductance = network.branches.conductance[index]
    direct = conductance * (rest[start] - rest[end] - network.emf[index])
    return float(direct), float(conductance * mains.magnitude(mains.response[start] - mains.response[end]))


def bond_currents(
    bus: Bus, network: Network, mains: Mains, rest: Array, islands: tuple[Island, ...]
) -> BondCurrents:
    """Return the current through every bond, nominal, with nobody driving.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    network : Network
        Its network at rest [-].
    mains : Mains
        The same at mains frequency [-].
    rest : array, shape (unknowns,)
        Its potentials at rest [V].
    islands : tuple of Island
        What hangs together by metal [-].

    Returns
    -------
    BondCurrents
        A row for every way to an earth, in bus order [A].
    """
    currents = _Currents(bus, network, mains, rest)
    rows = []
    order = {node.name: index for index, node in enumerate(bus.nodes)}
    ways = sorted((way for island in islands for way in island.ways), key=lambda way: order[way.node])
    loops = {way for island in islands if len(island.earths) > 1 for way in island.ways}
    for way in ways:
        current, alternating = currents.of(way)
        if way in loops and way.resistance == 0 and bus.earth(way.earth).resistance is None:
            # nothing that is stated limits it
            current = alternating = math.nan
        rows.append(
            BondCurrent(
                node=way.node, earth=way.earth, conductor=way.conductor, cause=way.cause, current=current,
                mains=alternating,
            )
        )  # fmt: skip
    return BondCurrents(rows=tuple(rows))


def nearest_to(network: Network, branches: list[int], resistance: float) -> int:
    """Return that of several branches between the same two points whose resistance is that of a bond."""
    return min(branches, key=lambda index: abs(1.0 / float(network.branches.conductance[index]) - resistance))


class _Currents:
    """Finds the current through a bond: that of its branch or, for a wire, what else flows to its point."""

    def __init__(self, bus: Bus, network: Network, mains: Mains, rest: Array) -> None:
        self._bus, self._network, self._mains, self._rest = bus, network, mains, rest
        self._branches: dict[str, list[int]] = {}
        for index in network.branches_of("bond"):
            self._branches.setdefault(network.owners[index], []).append(int(index))

    def of(self, way: Bond) -> tuple[float, float]:
        """Return direct current, and mains-frequency current RMS, into the earth [A]."""
        node = self._bus.node(way.node)
        if way.capacitive:
            return 0.0, self._through_capacitor(way)
        earth = earth_unknown(self._bus, self._network, way.earth)
        there = [
            index for index in self._branches.get(way.node, [])
            if self._network.branches.end[index] == earth and self._starts_at(index, node, way)
        ]  # fmt: skip
        if not there:
            return self._into(node, earth)
        return branch_current(self._network, self._mains, self._rest, nearest_to(self._network, there, way.resistance))

    def _starts_at(self, index: int, node: Node, way: Bond) -> bool:
        row = [each.name for each in self._bus.nodes].index(node.name)
        start = self._network.branches.start[index]
        own = self._network.terminals[row, 2] if way.conductor == "common" else self._network.conductors[row, 3]
        return bool(start == own)

    def _through_capacitor(self, way: Bond) -> float:
        earth = earth_unknown(self._bus, self._network, way.earth)
        for each in self._mains.capacitive:
            if each.kind == "bond" and each.owner == way.node and each.end == earth:
                response = self._mains.response[each.start] - self._mains.response[each.end]
                return abs(each.value) * float(self._mains.magnitude(response))
        return math.nan

    def _into(self, node: Node, earth: int) -> tuple[float, float]:
        """Return what flows to a node's common that is wired to its earth, from all that stands on it."""
        direct, response = 0.0, np.zeros(len(self._mains.sources), dtype=np.complex128)
        for index in self._touching(node):
            start, end = self._network.branches.start[index], self._network.branches.end[index]
            sign = float(end == earth) - float(start == earth)
            conductance = self._network.branches.conductance[index]
            volts = self._rest[start] - self._rest[end] - self._network.emf[index]
            direct += sign * conductance * volts
            response = response + sign * conductance * (self._mains.response[start] - self._mains.response[end])
        for each in self._mains.capacitive:
            if each.owner == node.name:
                sign = float(each.end == earth) - float(each.start == earth)
                across = self._mains.response[each.start] - self._mains.response[each.end]
                response = response + sign * each.value * across
        return float(direct), float(self._mains.magnitude(response))

    def _touching(self, node: Node) -> Iterator[int]:
        """Give the branches that stand on a node's common, and the conductors that leave its place."""
        spans = {
            f"{each.start} - {each.end}": each for each in self._bus.segments if node.name in (each.start, each.end)
        }
        row = [each.name for each in self._bus.nodes].index(node.name)
        common = self._network.terminals[row, 2]
        for index, (kind, owner) in enumerate(zip(self._network.kinds, self._network.owners, strict=True)):
            if kind in ("reference", "shield") and owner in spans:
                first = spans[owner].start == node.name
                here = self._network.branches.start[index] if first else self._network.branches.end[index]
                if here == common:
                    yield index
            elif owner == node.name and kind not in ("reference", "shield", "line", "earth"):
                yield index
