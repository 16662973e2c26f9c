"""The idle network of a bus: unknowns numbered for the solvers, branches, sources, and who owns them.

Conductors at a place: noninverting line, inverting line, the reference conductor and the shield where a segment carries
one, and the common of a device wherever it is not wired to the reference conductor or to an earth without resistance.
"""

from collections.abc import Iterable
from typing import TypeAlias

import attrs
import numpy as np
from numpy.typing import NDArray

from rs485kit.errors import MissingDataError
from rs485kit.model import Bus, Earth, Node
from rs485kit.network.branches import (
    EXACT_ONE,
    EXACT_ZERO,
    Branch,
    Notes,
    Rails,
    Span,
    Terminals,
    conductance_of,
    exactly,
    has_rail_down,
    node_branches,
    note_wire,
    segment_branches,
    span_of,
)
from rs485kit.solvers.nodal import Branches, Layout, datum_unknowns, network_layout
from rs485kit.units import MinTypMax

Floats: TypeAlias = NDArray[np.float64]
Indices: TypeAlias = NDArray[np.intp]

REFERENCE_TEMPERATURE = 293.15
# what a bond stated at 0 ohm is taken at [S]
BOND = exactly(1e3)
# IEC 60028 annealed copper, from memory
COPPER_TEMPERATURE_COEFFICIENT = 0.00393
IN_SERIES = ("line", "reference", "shield", "common", "bond", "earth")


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
    conductance_lower, conductance_upper : array, shape (branches,)
        Limits of the conductances; NaN where one is not stated [S].
    emf, emf_lower, emf_upper : array, shape (branches,)
        Open-circuit voltage from start to end of each branch, and its limits [V].
    kinds, owners : tuple of str
        What each branch is, and whose [-].
    fixed : array of int
        Unknowns of given potential: the site's reference earth, earths without resistance, and one datum for
        each part that nothing ties to those [-].
    held : int
        How many of them, the first ones, are no datum [-].
    given, given_lower, given_upper : array
        Their potentials, and the limits of those [V].
    terminals : array, shape (nodes, 3)
        Unknowns of each node's own noninverting line, inverting line and common [-].
    conductors : array, shape (nodes, 4)
        Unknowns of the bus's two lines, its reference conductor and its shield at each node; -1: none [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    unstated : tuple of str
        Limits that bounds would need and the bus does not state [-].
    """

    nodes: tuple[str, ...]
    layout: Layout
    branches: Branches
    conductance_lower: Floats
    conductance_upper: Floats
    emf: Floats
    emf_lower: Floats
    emf_upper: Floats
    kinds: tuple[str, ...]
    owners: tuple[str, ...]
    fixed: Indices
    held: int
    given: Floats
    given_lower: Floats
    given_upper: Floats
    terminals: Indices
    conductors: Indices
    assumed: tuple[str, ...]
    unstated: tuple[str, ...]

    def branches_of(self, kind: str) -> Indices:
        """Return the branches of one kind."""
        return np.array([index for index, each in enumerate(self.kinds) if each == kind], dtype=np.intp)

    @property
    def in_series(self) -> NDArray[np.bool_]:
        """Which branches lie along the way of a current: cable, links of commons and earths."""
        return np.array([kind in IN_SERIES for kind in self.kinds], dtype=np.bool_)

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
    An earth is its potential behind its resistance. A reference conductor or shield that is not stated is absent.
    Copper is taken at the site's nominal temperature, R = R20 (1 + 0.00393 (T - 20 degC)). A bond stated at 0 ohm is
    taken at 1 mohm.

    References
    ----------
    12 kohm: B&B Electronics, RS-422/485 Application Note, appendix A. The coefficient of copper is from memory.
    """
    notes = Notes()
    unknowns = _Unknowns(bus)
    branches: list[Branch] = []
    warming = warming_of(bus, notes)
    for segment in bus.segments:
        start, end = unknowns.conductors(segment.start), unknowns.conductors(segment.end)
        branches += segment_branches(segment, start, end, warming, notes)
    for node in bus.nodes:
        branches += node_branches(node, unknowns.terminals(node), rails, notes)
        branches += _common_link(node, unknowns, notes)
        branches += _bonds(node, unknowns, notes)
    fixed, given = _earths(bus, unknowns, branches, notes)
    if notes.missing:
        raise MissingDataError("levels", notes.missing)
    return _network(bus, unknowns, branches, fixed, given, notes)


def warming_of(bus: Bus, notes: Notes) -> Span:
    """Return the ratio of the resistance of copper at the site's temperature to that at 20 degC."""
    temperature = bus.environment.temperature if bus.environment is not None else None
    if temperature is None or temperature.nominal is None:
        notes.assume("copper is taken at 20 degC, as no temperature is stated", "whole site")
        return EXACT_ONE
    degrees = span_of(temperature, "environment.temperature", notes)
    return Span(*(1.0 + COPPER_TEMPERATURE_COEFFICIENT * (each - REFERENCE_TEMPERATURE) for each in degrees))


class _Unknowns:
    """Numbers the unknowns: `width` for each vertex, then the site's reference earth, then the local earths."""

    def __init__(self, bus: Bus) -> None:
        self.vertex = {node.name: index for index, node in enumerate(bus.nodes)}
        self.earths = [earth.name for earth in bus.earths]
        carried, joint, screened = conductors_carried(bus)
        self._columns: dict[str, tuple[str | int, str | int, str | int]] = {}
        widths = [2]
        for node in bus.nodes:
            reference, common, width = _columns(node, node.name in carried)
            shield: str | int = reference if node.name in joint else -1
            if node.name in screened - joint:
                shield, width = width, width + 1
            self._columns[node.name] = (reference, common, shield)
            widths.append(width)
        self.width = max(widths)
        self.site = len(bus.nodes) * self.width

    def earth(self, name: str) -> int:
        return self.site + 1 + self.earths.index(name)

    def _number(self, node: str, column: str | int) -> int:
        if isinstance(column, str):
            return self.earth(column)
        return -1 if column < 0 else self.vertex[node] * self.width + column

    def conductors(self, node: str) -> tuple[int, int, int, int]:
        """Unknowns of the two lines of the bus, of the reference conductor and of the shield (-1: none) at a vertex."""
        first = self.vertex[node] * self.width
        reference, _, shield = self._columns[node]
        return first, first + 1, self._number(node, reference), self._number(node, shield)

    def terminals(self, node: Node) -> Terminals:
        """Unknowns of a node's own terminals."""
        first, second, *_ = self.conductors(node.name)
        common = self._number(node.name, self._columns[node.name][1])
        return Terminals(second, first, common) if node.lines_swapped else Terminals(first, second, common)


def _columns(node: Node, carried: bool) -> tuple[str | int, str | int, int]:
    """Return where the reference conductor and the common of a vertex stand, and how many columns it needs.

    A name is that of an earth to which it is wired without resistance; -1 is none.
    """
    link = node.common.resistance if node.common is not None else None
    wired = link is not None and link.nominal == 0 and carried
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


def _common_link(node: Node, unknowns: _Unknowns, notes: Notes) -> Iterable[Branch]:
    """Give the resistance between a node's common and the reference conductor, where there is one."""
    reference, common = unknowns.conductors(node.name)[2], unknowns.terminals(node).common
    if node.common is None or reference < 0:
        return
    place = f'nodes["{node.name}"].common.resistance'
    if reference == common:
        note_wire(node.common.resistance, place, notes)
    else:
        conductance = conductance_of(node.common.resistance, place, notes)
        yield Branch("common", node.name, common, reference, conductance, EXACT_ZERO)


def _bonds(node: Node, unknowns: _Unknowns, notes: Notes) -> Iterable[Branch]:
    """Give the further ways from a node's common to earths, and the bond of the shield, as far as they conduct."""
    for index, bond in enumerate(node.bonds):
        if bond.capacitance is None:
            place = f'nodes["{node.name}"].bonds[{index}].resistance'
            common, earth = unknowns.terminals(node).common, unknowns.earth(bond.earth)
            if common != earth:
                conductance = _bond_conductance(bond.resistance, place, notes)
                yield Branch("bond", node.name, common, earth, conductance, EXACT_ZERO)
    shield, way = unknowns.conductors(node.name)[3], _shield_bond_end(node, unknowns, notes)
    bond_of_shield = node.shield_bond
    if bond_of_shield is not None and bond_of_shield.capacitance is None and shield >= 0 and way not in (-1, shield):
        place = f'nodes["{node.name}"].shield_bond.resistance'
        conductance = _bond_conductance(bond_of_shield.resistance, place, notes)
        yield Branch("bond", node.name, shield, way, conductance, EXACT_ZERO)


def _bond_conductance(resistance: MinTypMax, place: str, notes: Notes) -> Span:
    if resistance.nominal == 0:
        note_wire(resistance, place, notes)
        return BOND
    return conductance_of(resistance, place, notes)


def _shield_bond_end(node: Node, unknowns: _Unknowns, notes: Notes) -> int:
    """Return the unknown to which the shield is bonded at a node, -1 where it is not, or goes to nothing."""
    if node.shield_bond is None:
        return -1
    if node.shield_bond.to == "earth":
        earth = node.shield_bond.earth or node.earth
        if earth is None:
            notes.miss(f'nodes["{node.name}"].shield_bond.earth (or the node\'s own earth)')
            return -1
        return unknowns.earth(earth)
    if node.shield_bond.to == "common":
        return unknowns.terminals(node).common
    return unknowns.conductors(node.name)[2]


def _earths(bus: Bus, unknowns: _Unknowns, branches: list[Branch], notes: Notes) -> tuple[list[int], list[Span]]:
    """Return the potentials that are given, and add the earths that stand behind a resistance."""
    fixed, given = [unknowns.site], [EXACT_ZERO]
    used = earths_used(bus)
    for earth in bus.earths:
        unknown = unknowns.earth(earth.name)
        if earth.name not in used:
            # nothing on the bus touches it
            fixed.append(unknown)
            given.append(EXACT_ZERO)
            continue
        potential = _earth_potential(earth, notes)
        place = f'earths["{earth.name}"].resistance'
        if earth.resistance is None:
            notes.assume("earths without a stated resistance are taken at 0 ohm", earth.name)
        elif earth.resistance.nominal == 0:
            note_wire(earth.resistance, place, notes)
        else:
            conductance = conductance_of(earth.resistance, place, notes)
            branches.append(Branch("earth", earth.name, unknown, unknowns.site, conductance, potential))
            continue
        fixed.append(unknown)
        given.append(potential)
    return fixed, given


def earths_used(bus: Bus) -> frozenset[str]:
    """Return the earths to which some common or shield is joined by a resistance or a wire.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    frozenset of str
        Their names [-].
    """
    names = {node.earth for node in bus.nodes if node.bonded}
    names |= {bond.earth for node in bus.nodes for bond in node.bonds if bond.capacitance is None}
    for node in bus.nodes:
        bond = node.shield_bond
        if bond is not None and bond.to == "earth" and bond.capacitance is None:
            names.add(bond.earth or node.earth)
    return frozenset(name for name in names if name is not None)


def field_sides(bus: Bus, network: "Network") -> Indices:
    """Return the unknown of each node's local earth, or the site's where nothing on the bus touches it.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    network : Network
        Its network [-].

    Returns
    -------
    array of int, shape (nodes,)
        The unknowns [-].
    """
    site = network.layout.vertices * network.layout.width
    used = earths_used(bus)
    number = {earth.name: site + 1 + index for index, earth in enumerate(bus.earths) if earth.name in used}
    return np.array([number.get(node.earth or "", site) for node in bus.nodes], dtype=np.intp)


def conductors_carried(bus: Bus) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """Return the places at which there is a reference conductor, where it is the shield, and where there is a shield.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    tuple of frozenset of str
        Names of nodes [-].
    """
    ends = [(segment, name) for segment in bus.segments for name in (segment.start, segment.end)]
    shared = [(each, name) for each, name in ends if each.reference_is_shield and each.reference_conductor]
    joint = {name for each, name in shared if each.joined_at(name)}
    plain = {name for each, name in ends if each.reference_conductor and not each.reference_is_shield}
    screened = {name for each, name in ends if each.shield and each.joined_at(name)}
    return frozenset(plain | joint), frozenset(joint), frozenset(screened)


def _earth_potential(earth: Earth, notes: Notes) -> Span:
    if earth.potential is None:
        notes.assume("earths without a stated potential are taken at 0 V", earth.name)
        return EXACT_ZERO
    return span_of(earth.potential, f'earths["{earth.name}"].potential', notes)


def _network(
    bus: Bus, unknowns: _Unknowns, stamps: list[Branch], fixed: list[int], given: list[Span], notes: Notes
) -> Network:
    edges = [(unknowns.vertex[s.start], unknowns.vertex[s.end]) for s in bus.segments]
    layout = network_layout(
        len(bus.nodes), unknowns.width, 1 + len(bus.earths), np.array(edges, dtype=np.intp).reshape(-1, 2)
    )
    start = np.array([stamp.start for stamp in stamps], dtype=np.intp)
    end = np.array([stamp.end for stamp in stamps], dtype=np.intp)
    conductance = _columns_of([stamp.conductance for stamp in stamps])
    emf = _columns_of([stamp.emf for stamp in stamps])
    branches = Branches(start, end, conductance[0])
    held = np.array(fixed, dtype=np.intp)
    datum = datum_unknowns(layout, branches, held)
    potentials = np.concatenate((_columns_of(given), np.zeros((3, len(datum)))), axis=1)
    return Network(
        nodes=tuple(node.name for node in bus.nodes),
        layout=layout,
        branches=branches,
        conductance_lower=conductance[1],
        conductance_upper=conductance[2],
        emf=emf[0],
        emf_lower=emf[1],
        emf_upper=emf[2],
        kinds=tuple(stamp.kind for stamp in stamps),
        owners=tuple(stamp.owner for stamp in stamps),
        fixed=np.concatenate((held, datum)),
        held=len(held),
        given=potentials[0],
        given_lower=potentials[1],
        given_upper=potentials[2],
        terminals=np.array([unknowns.terminals(node) for node in bus.nodes], dtype=np.intp),
        conductors=np.array([unknowns.conductors(node.name) for node in bus.nodes], dtype=np.intp),
        assumed=notes.assumed,
        unstated=notes.unstated,
    )


def _columns_of(spans: list[Span]) -> Floats:
    """Return nominal values, lower and upper limits as three rows."""
    return np.array(spans, dtype=np.float64).reshape(-1, 3).T.copy()
