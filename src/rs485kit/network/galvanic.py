"""The ground graph: which commons, reference conductors and shields hang together by metal, and where to earth.

Only metal counts: conductors, and stated resistances up to 1 kohm. Receiver inputs, bias legs and what leaks are not
ways to an earth, although a circuit of them would have a solution; capacitances are none for direct current.
"""

from collections.abc import Iterator
from typing import NamedTuple

import attrs

from rs485kit.model import Bus, Node
from rs485kit.network.assembly import conductors_carried
from rs485kit.units import MinTypMax

METAL = 1e3
"""Greatest resistance of a bond: a house figure without source [ohm]."""

# a conductor at a place: "common", "reference" or "shield", and the name of the node
Point = tuple[str, str]


@attrs.frozen(kw_only=True)
class Bond:
    """A way from an island to an earth.

    Parameters
    ----------
    node : str
        Name of the node at which it is [-].
    earth : str
        Name of the earth [-].
    conductor : str
        What it earths: "common" or "shield" [-].
    cause : str
        What makes it: "bond", "no barrier", "shield bond", or the name of a further bond [-].
    resistance : float
        Its nominal resistance; infinite where it is not stated [ohm].
    capacitive : bool
        Whether a capacitor stands in it [-].
    """

    node: str
    earth: str
    conductor: str
    cause: str
    resistance: float
    capacitive: bool

    @property
    def metallic(self) -> bool:
        """Whether it counts as a bond."""
        return not self.capacitive and self.resistance <= METAL

    @property
    def by_nature(self) -> bool:
        """Whether it is there because the node has no barrier."""
        return self.cause == "no barrier"


@attrs.frozen(kw_only=True)
class Island:
    """Conductors that hang together by metal.

    Parameters
    ----------
    nodes : tuple of str
        Nodes whose bus-side commons are on it, in bus order [-].
    reference : tuple of str
        Places of its reference conductor [-].
    shield : tuple of str
        Places of its shields [-].
    ways : tuple of Bond
        Its ways to earths, bonds and others [-].
    """

    nodes: tuple[str, ...]
    reference: tuple[str, ...]
    shield: tuple[str, ...]
    ways: tuple[Bond, ...]

    @property
    def bonds(self) -> tuple[Bond, ...]:
        """Its metallic bonds."""
        return tuple(way for way in self.ways if way.metallic)

    @property
    def earths(self) -> tuple[str, ...]:
        """The earths to which it is bonded, each once."""
        return tuple(dict.fromkeys(bond.earth for bond in self.bonds))

    @property
    def referenced(self) -> bool:
        """Whether metal joins it to an earth."""
        return bool(self.bonds)


class _Joined:
    """Points that are joined step by step."""

    def __init__(self) -> None:
        self._above: dict[Point, Point] = {}

    def root(self, point: Point) -> Point:
        self._above.setdefault(point, point)
        while self._above[point] != point:
            self._above[point] = self._above[self._above[point]]
            point = self._above[point]
        return point

    def join(self, first: Point, second: Point) -> None:
        a, b = self.root(first), self.root(second)
        self._above[max(a, b)] = min(a, b)

    def points(self) -> list[Point]:
        return list(self._above)


class _Conductors(NamedTuple):
    reference: frozenset[str]
    joint: frozenset[str]
    shield: frozenset[str]


def islands_of(bus: Bus, *, without: frozenset[Point | tuple[str, str, str]] = frozenset()) -> tuple[Island, ...]:
    """Return the islands of a bus: what hangs together by metal.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    without : frozenset
        What is taken as open: spans of the reference conductor by their two nodes, bonds by node, earth and cause [-].

    Returns
    -------
    tuple of Island
        The islands, in the order of their first nodes in the bus; passive places without conductors are on none [-].
    """
    joined, order = _Joined(), {node.name: index for index, node in enumerate(bus.nodes)}
    reference, joint, screened = conductors_carried(bus)
    carried = _Conductors(reference, joint, screened - joint)
    for name in carried.reference:
        joined.root(("reference", name))
    for name in carried.shield:
        joined.root(_shield(name, carried))
    for segment in bus.segments:
        through = segment.shield_joined == "both"
        ends = segment.start, segment.end
        if segment.reference_conductor and (through or not segment.reference_is_shield) and ends not in without:
            joined.join(("reference", ends[0]), ("reference", ends[1]))
        if segment.shield and through and not segment.reference_is_shield:
            joined.join(_shield(ends[0], carried), _shield(ends[1], carried))
    for node in bus.nodes:
        if node.transceiver is not None or node.biases:
            joined.root(("common", node.name))
        _join_node(node, carried, joined)
    members: dict[Point, list[Point]] = {}
    for point in joined.points():
        members.setdefault(joined.root(point), []).append(point)
    ways: dict[Point, list[Bond]] = {}
    for point, bond in _ways(bus, carried):
        if (bond.node, bond.earth, bond.cause) not in without:
            ways.setdefault(joined.root(point), []).append(bond)

    def places(points: list[Point], kind: str) -> tuple[str, ...]:
        return tuple(sorted((name for each, name in points if each == kind), key=order.__getitem__))

    islands = [
        Island(
            nodes=places(points, "common"), reference=places(points, "reference"), shield=places(points, "shield"),
            ways=tuple(ways.get(root, ())),
        )
        for root, points in members.items()
    ]  # fmt: skip
    return tuple(sorted(islands, key=lambda each: min(order[name] for name in _names(each))))


def _names(island: Island) -> tuple[str, ...]:
    return island.nodes + island.reference + island.shield


def _shield(name: str, carried: _Conductors) -> Point:
    return ("reference" if name in carried.joint else "shield"), name


def _join_node(node: Node, carried: _Conductors, joined: _Joined) -> None:
    """Join a node's common, reference conductor and shield as far as metal does."""
    common, name = ("common", node.name), node.name
    if node.common is not None and name in carried.reference and _ohms(node.common.resistance) <= METAL:
        joined.join(common, ("reference", name))
    bond = node.shield_bond
    if bond is None or bond.capacitance is not None or _ohms(bond.resistance) > METAL:
        return
    if name in carried.shield | carried.joint and bond.to != "earth":
        if bond.to == "common":
            joined.join(common, _shield(name, carried))
        elif name in carried.reference:
            joined.join(("reference", name), _shield(name, carried))


def _ways(bus: Bus, carried: _Conductors) -> Iterator[tuple[Point, Bond]]:
    """Give every way from a conductor to an earth."""
    for node in bus.nodes:
        common = "common", node.name
        if node.bonded and node.earth is not None:
            cause = "no barrier" if node.barrier is None else "bond"
            yield common, _bond(node, node.earth, "common", cause)
        for index, each in enumerate(node.bonds):
            cause = each.name or f"further bond {index + 1}"
            way = _bond(node, each.earth, "common", cause, each.resistance, each.capacitance is not None)
            yield common, way
        bond = node.shield_bond
        earth = None if bond is None else bond.earth or node.earth
        if bond is not None and bond.to == "earth" and earth and node.name in carried.shield | carried.joint:
            capacitive = bond.capacitance is not None
            way = _bond(node, earth, "shield", "shield bond", bond.resistance, capacitive)
            yield _shield(node.name, carried), way


def _bond(
    node: Node, earth: str, conductor: str, cause: str, resistance: MinTypMax | None = None, capacitive: bool = False
) -> Bond:
    ohms = 0.0 if resistance is None else _ohms(resistance)
    return Bond(
        node=node.name, earth=earth, conductor=conductor, cause=cause, resistance=ohms, capacitive=capacitive
    )


def _ohms(resistance: MinTypMax) -> float:
    """Return the nominal resistance or, where none is stated, the limit that is: at 10 ohm at the most metal joins."""
    stated = (resistance.nominal, resistance.max, resistance.min)
    return next((each for each in stated if each is not None), float("inf"))
