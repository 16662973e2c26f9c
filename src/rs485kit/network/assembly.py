"""The idle network of a bus: unknowns numbered for the solvers, branches, sources, and who owns them.

Conductors at a place: noninverting line, inverting line, the reference conductor where a segment carries one, and
the common of a device wherever it is not wired to the reference conductor or to an earth without resistance.
"""

from collections.abc import Iterable
from typing import Any, TypeAlias

import attrs
import numpy as np
from numpy.typing import NDArray

from rs485kit.errors import MissingDataError
from rs485kit.model import Bus, Earth, Node
from rs485kit.network.branches import (
    Branch,
    Rails,
    Terminals,
    Unstated,
    has_rail_down,
    node_branches,
    nominal,
    segment_branches,
)
from rs485kit.solvers.nodal import Branches, Layout, datum_unknowns, network_layout

Floats: TypeAlias = NDArray[np.float64]
Indices: TypeAlias = NDArray[np.intp]

REFERENCE_TEMPERATURE = 293.15
# IEC 60028 annealed copper, from memory
COPPER_TEMPERATURE_COEFFICIENT = 0.00393


@attrs.frozen(kw_only=True, eq=False)
class Network:
    """Arrays of a bus for the solvers.

    Parameters
    ----------
    nodes : tuple of str
        Names of the vertices, in bus order [-].
    layout : Layout
        Shape of the network [-].
    branches : Branches
        Conductances between unknowns [S].
    emf : array, shape (branches,)
        Open-circuit voltage from start to end of each branch [V].
    kinds, owners : tuple of str
        What each branch is, and whose [-].
    fixed : array of int
        Unknowns of given potential: the site's reference earth, earths without resistance, and one datum for
        each part that nothing ties to those [-].
    given : array
        Their potentials [V].
    terminals : array, shape (nodes, 3)
        Unknowns of each node's own noninverting line, inverting line and common [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    layout: Layout
    branches: Branches
    emf: Floats
    kinds: tuple[str, ...]
    owners: tuple[str, ...]
    fixed: Indices
    given: Floats
    terminals: Indices
    assumed: tuple[str, ...]

    def branches_of(self, kind: str) -> Indices:
        """Return the branches of one kind."""
        return np.array([index for index, each in enumerate(self.kinds) if each == kind], dtype=np.intp)

    def injected(self, emf: Floats) -> Floats:
        """Return the currents that EMFs in the branches feed into the unknowns.

        Parameters
        ----------
        emf : array, shape (branches, k)
            EMF of each branch, for k sets of sources [V].

        Returns
        -------
        array, shape (unknowns, k)
            Currents [A].
        """
        current = self.branches.conductance[:, None] * emf
        result = np.zeros((self.layout.size, emf.shape[1]))
        np.add.at(result, self.branches.start, current)
        np.subtract.at(result, self.branches.end, current)
        return result


class _Assumptions:
    """Collects what was assumed, by sentence, with the names of the places."""

    def __init__(self) -> None:
        self._places: dict[str, list[str]] = {}

    def add(self, sentence: str, place: str) -> None:
        places = self._places.setdefault(sentence, [])
        if place not in places:
            places.append(place)

    def texts(self) -> tuple[str, ...]:
        result = []
        for sentence, places in self._places.items():
            shown = ", ".join(places[:4]) + (f" and {len(places) - 4} more" if len(places) > 4 else "")
            result.append(f"{sentence} ({shown})")
        return tuple(sorted(result))


def rail_variants(bus: Bus) -> tuple[Rails, ...]:
    """Return the ways in which supplies that are down are to be tried: one where none is down."""
    return ("open", "low") if any(has_rail_down(node) for node in bus.nodes) else ("open",)


def idle_network(bus: Bus, *, rails: Rails = "open") -> Network:
    """Return the network of a bus on which nobody drives, at nominal values.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    rails : str
        "open" or "low": how bias supplies that are down are taken [-].

    Returns
    -------
    Network
        The arrays [-].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every answer depends on; all of them are named.

    Notes
    -----
    A receiver input is 12 kohm per unit load from each line to the input reference, against the node's own common.
    An earth is its potential behind its resistance. A reference conductor that is not stated is absent. Copper is
    taken at the site's nominal temperature, R = R20 (1 + 0.00393 (T - 20 degC)).

    References
    ----------
    12 kohm: B&B Electronics, RS-422/485 Application Note, appendix A. The coefficient of copper is from memory.
    """
    assumptions = _Assumptions()
    unknowns = _Unknowns(bus)
    missing: list[str] = []
    branches: list[Branch] = []

    def collect(stamps: Iterable[Branch]) -> None:
        try:
            branches.extend(stamps)
        except Unstated as error:
            missing.append(str(error))

    warming = _warming(bus, assumptions)
    for segment in bus.segments:
        start, end = unknowns.conductors(segment.start), unknowns.conductors(segment.end)
        collect(segment_branches(segment, start, end, warming))
    for node in bus.nodes:
        collect(node_branches(node, unknowns.terminals(node), rails, assumptions.add))
        collect(_common_link(node, unknowns))
    fixed, given = _earths(bus, unknowns, branches, missing, assumptions)
    if missing:
        raise MissingDataError("idle network", tuple(dict.fromkeys(missing)))
    return _network(bus, unknowns, branches, fixed, given, assumptions.texts())


def _warming(bus: Bus, assumptions: _Assumptions) -> float:
    temperature = bus.environment.temperature if bus.environment is not None else None
    if temperature is None or temperature.nominal is None:
        assumptions.add("copper is taken at 20 degC, as no temperature is stated", "whole site")
        return 1.0
    return 1.0 + COPPER_TEMPERATURE_COEFFICIENT * (temperature.nominal - REFERENCE_TEMPERATURE)


class _Unknowns:
    """Numbers the unknowns: `width` for each vertex, then the site's reference earth, then the local earths."""

    def __init__(self, bus: Bus) -> None:
        self.vertex = {node.name: index for index, node in enumerate(bus.nodes)}
        self.earths = [earth.name for earth in bus.earths]
        carried = {name for s in bus.segments if s.reference_conductor for name in (s.start, s.end)}
        self._columns: dict[str, tuple[str | int, str | int]] = {}
        widths = [2]
        for node in bus.nodes:
            reference, common, width = _columns(node, node.name in carried)
            self._columns[node.name] = (reference, common)
            widths.append(width)
        self.width = max(widths)
        self.site = len(bus.nodes) * self.width

    def earth(self, name: str) -> int:
        return self.site + 1 + self.earths.index(name)

    def _number(self, node: str, column: str | int) -> int:
        if isinstance(column, str):
            return self.earth(column)
        return -1 if column < 0 else self.vertex[node] * self.width + column

    def conductors(self, node: str) -> tuple[int, int, int]:
        """Unknowns of the two lines of the bus and of the reference conductor (-1: none) at a vertex."""
        first = self.vertex[node] * self.width
        return first, first + 1, self._number(node, self._columns[node][0])

    def terminals(self, node: Node) -> Terminals:
        """Unknowns of a node's own terminals."""
        first, second, _ = self.conductors(node.name)
        common = self._number(node.name, self._columns[node.name][1])
        return Terminals(second, first, common) if node.lines_swapped else Terminals(first, second, common)


def _columns(node: Node, carried: bool) -> tuple[str | int, str | int, int]:
    """Return where the reference conductor and the common of a vertex stand, and how many columns it needs.

    A name is that of an earth to which it is wired without resistance; -1 is none.
    """
    wired = node.common is not None and node.common.resistance.nominal == 0 and carried
    earth = node.earth if node.bonded else None
    reference: str | int = -1
    width = 2
    if carried:
        if wired and earth is not None:
            reference = earth
        else:
            reference, width = width, width + 1
    if earth is not None:
        return reference, earth, width
    if wired:
        return reference, reference, width
    return reference, width, width + 1


def _common_link(node: Node, unknowns: _Unknowns) -> Iterable[Branch]:
    """Give the resistance between a node's common and the reference conductor, where there is one."""
    reference, common = unknowns.conductors(node.name)[2], unknowns.terminals(node).common
    if node.common is not None and reference >= 0 and reference != common:
        resistance = nominal(node.common.resistance, f'nodes["{node.name}"].common.resistance')
        yield Branch("common", node.name, common, reference, 1.0 / resistance, 0.0)


def _earths(
    bus: Bus, unknowns: _Unknowns, branches: list[Branch], missing: list[str], assumptions: _Assumptions
) -> tuple[list[int], list[float]]:
    """Return the potentials that are given, and add the earths that stand behind a resistance."""
    fixed, given = [unknowns.site], [0.0]
    used = {node.earth for node in bus.nodes if node.bonded}
    for earth in bus.earths:
        try:
            potential, resistance = _earth_figures(earth, earth.name in used, assumptions)
        except Unstated as error:
            missing.append(str(error))
            continue
        unknown = unknowns.earth(earth.name)
        if resistance == 0:
            fixed.append(unknown)
            given.append(potential)
        else:
            branches.append(Branch("earth", earth.name, unknown, unknowns.site, 1.0 / resistance, potential))
    return fixed, given


def _earth_figures(earth: Earth, used: bool, assumptions: _Assumptions) -> tuple[float, float]:
    potential, resistance = 0.0, 0.0
    if earth.potential is not None:
        potential = nominal(earth.potential, f'earths["{earth.name}"].potential')
    elif used:
        assumptions.add("earths without a stated potential are taken at 0 V", earth.name)
    if earth.resistance is not None:
        resistance = nominal(earth.resistance, f'earths["{earth.name}"].resistance')
    elif used:
        assumptions.add("earths without a stated resistance are taken at 0 ohm", earth.name)
    return potential, resistance


def _network(
    bus: Bus, unknowns: _Unknowns, stamps: list[Branch], fixed: list[int], given: list[float], assumed: tuple[str, ...]
) -> Network:
    edges = [(unknowns.vertex[s.start], unknowns.vertex[s.end]) for s in bus.segments]
    layout = network_layout(
        len(bus.nodes), unknowns.width, 1 + len(bus.earths), np.array(edges, dtype=np.intp).reshape(-1, 2)
    )
    branches = Branches(_array(stamps, "start", np.intp), _array(stamps, "end", np.intp), _array(stamps, "conductance"))
    held = np.array(fixed, dtype=np.intp)
    datum = datum_unknowns(layout, branches, held)
    return Network(
        nodes=tuple(node.name for node in bus.nodes),
        layout=layout,
        branches=branches,
        emf=_array(stamps, "emf"),
        kinds=tuple(stamp.kind for stamp in stamps),
        owners=tuple(stamp.owner for stamp in stamps),
        fixed=np.concatenate((held, datum)),
        given=np.concatenate((np.array(given), np.zeros(len(datum)))),
        terminals=np.array([unknowns.terminals(node) for node in bus.nodes], dtype=np.intp),
        assumed=assumed,
    )


def _array(stamps: list[Branch], field: str, kind: type = np.float64) -> NDArray[Any]:
    return np.array([getattr(stamp, field) for stamp in stamps], dtype=kind)
