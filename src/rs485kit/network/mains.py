"""The network at mains frequency: earths as sources, capacitances across barriers and along cables, phasors out."""

import cmath
import math
from collections.abc import Iterator
from typing import NamedTuple

import attrs
import numpy as np

from rs485kit.model import Bus, Earth, IsolatedSupply, Isolator, Node, Segment
from rs485kit.network.assembly import Floats, Indices, Network
from rs485kit.network.branches import Notes
from rs485kit.network.driving import Driver
from rs485kit.solvers.enclosure import Pairs
from rs485kit.solvers.nodal import Branches, Phasors, datum_unknowns, phasor_potentials
from rs485kit.units import MinTypMax

USUAL_FREQUENCY = 50.0


class Admittance(NamedTuple):
    """What a capacitance puts between two unknowns."""

    kind: str
    owner: str
    start: int
    end: int
    value: complex


@attrs.frozen(kw_only=True, eq=False)
class Mains:
    """A bus at mains frequency with nobody driving.

    Parameters
    ----------
    frequency : float
        Frequency [Hz].
    sources : tuple of str
        The earths of the bus [-].
    phasors : array of complex, shape (k,)
        Their potentials; 0 V and phase 0 where none is stated [V].
    phased : bool
        Whether every phase is stated, or one earth at most has a potential [-].
    response : array of complex, shape (unknowns, k)
        Potential of each unknown for 1 V of each source [-].
    capacitive : tuple of Admittance
        The capacitances, as admittances [S].
    admittances : Branches
        All branches, those of the network at rest first [S].
    fixed : array of int
        Unknowns of given potential [-].
    missing : tuple of str
        Capacitances that the bus does not state [-].
    """

    frequency: float
    sources: tuple[str, ...]
    phasors: Phasors
    phased: bool
    response: Phasors
    capacitive: tuple[Admittance, ...]
    admittances: Branches
    fixed: Indices
    missing: tuple[str, ...]

    def rms(self, pairs: Pairs) -> Floats:
        """Return the voltages of pairs of unknowns.

        Parameters
        ----------
        pairs : Pairs
            The pairs [-].

        Returns
        -------
        array, shape (pairs,)
            RMS values; where a phase is not stated, at the worst phases [V].
        """
        return self.magnitude(self.response[pairs.plus] - self.response[pairs.minus])

    def magnitude(self, response: Phasors) -> Floats:
        """Return what responses to the sources come to.

        Parameters
        ----------
        response : array of complex, shape (..., k)
            Responses to 1 V of each source [-].

        Returns
        -------
        array, shape (...)
            RMS values; where a phase is not stated, at the worst phases [V].

        Notes
        -----
        |sum H_k E_k| with the phases; without them sum |H_k| |E_k|, which some choice of phases attains.
        """
        if self.phased:
            return np.abs(response @ self.phasors)
        return np.abs(response) @ np.abs(self.phasors)


def mains_of(bus: Bus, network: Network) -> Mains:
    """Return a bus at mains frequency with nobody driving.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    network : Network
        Its network at rest [-].

    Returns
    -------
    Mains
        Responses to the potentials of the earths [-].

    Notes
    -----
    Nodal analysis with admittances: conductors and resistors as at rest, j w C for what each barrier's parts have
    across them, for capacitive bonds (with their resistance in series), and for the cable's own capacitance to its
    shield or, without one, to the earth of the place, half at each end of a segment. Earths are sources; supplies and
    drivers are none. The inductance of conductors is left out: at 50 Hz 1 km of wire has some 0.5 ohm beside its
    20 ohm or more.
    Supplies that are down are taken open.
    """
    notes = Notes()
    environment = bus.environment
    frequency = None if environment is None else environment.mains_frequency
    omega = 2.0 * math.pi * (USUAL_FREQUENCY if frequency is None else frequency)
    capacitive = tuple(_capacitances(bus, network, omega, notes))
    rest = network.branches
    admittances = Branches(
        np.concatenate((rest.start, np.array([each.start for each in capacitive], dtype=np.intp))),
        np.concatenate((rest.end, np.array([each.end for each in capacitive], dtype=np.intp))),
        np.concatenate((rest.conductance.astype(np.complex128), [each.value for each in capacitive])),
    )
    held = network.fixed[: network.held]
    fixed = np.concatenate((held, datum_unknowns(network.layout, admittances, held)))
    live = [earth for earth in bus.earths if earth.mains_potential]
    return Mains(
        frequency=omega / (2.0 * math.pi),
        sources=tuple(earth.name for earth in bus.earths),
        phasors=np.array([_phasor(earth) for earth in bus.earths], dtype=np.complex128),
        phased=len(live) < 2 or all(earth.mains_phase is not None for earth in live),
        response=_responses(bus, network, admittances, fixed),
        capacitive=capacitive,
        admittances=admittances,
        fixed=fixed,
        missing=notes.missing,
    )


def _phasor(earth: Earth) -> complex:
    return cmath.rect(earth.mains_potential or 0.0, earth.mains_phase or 0.0)


def earth_unknown(bus: Bus, network: Network, name: str) -> int:
    """Return the unknown of an earth.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    network : Network
        Its network [-].
    name : str
        Name of the earth [-].

    Returns
    -------
    int
        The unknown [-].
    """
    first = network.layout.vertices * network.layout.width + 1
    return first + [earth.name for earth in bus.earths].index(name)


def _responses(bus: Bus, network: Network, admittances: Branches, fixed: Indices) -> Phasors:
    """Return potentials for 1 V of each earth, behind its resistance where it has one."""
    injected = np.zeros((network.layout.size, len(bus.earths)), dtype=np.complex128)
    given = np.zeros((len(fixed), len(bus.earths)), dtype=np.complex128)
    behind = {network.owners[index]: index for index in network.branches_of("earth")}
    for column, earth in enumerate(bus.earths):
        unknown = earth_unknown(bus, network, earth.name)
        if earth.name in behind:
            index = behind[earth.name]
            conductance = network.branches.conductance[index]
            injected[network.branches.start[index], column] += conductance
            injected[network.branches.end[index], column] -= conductance
        else:
            given[fixed == unknown, column] = 1.0
    return phasor_potentials(network.layout, admittances, injected, fixed, given)


def _capacitances(bus: Bus, network: Network, omega: float, notes: Notes) -> Iterator[Admittance]:
    place = {node.name: index for index, node in enumerate(bus.nodes)}

    def earth(name: str | None) -> int:
        site = network.layout.vertices * network.layout.width
        return site if name is None else earth_unknown(bus, network, name)

    for node in bus.nodes:
        common, shield = network.terminals[place[node.name], 2], network.conductors[place[node.name], 3]
        farads = barrier_capacitance(node, notes)
        if node.barrier is not None and node.earth is not None and farads > 0:
            yield Admittance("barrier", node.name, int(common), earth(node.earth), 1j * omega * farads)
        for bond in node.bonds:
            if bond.capacitance is not None:
                value = _series(bond.resistance, bond.capacitance, omega)
                yield Admittance("bond", node.name, int(common), earth(bond.earth), value)
        way = node.shield_bond
        if way is not None and way.capacitance is not None and shield >= 0:
            ends = {"common": int(common), "reference": int(network.conductors[place[node.name], 2])}
            end = ends.get(way.to, earth(way.earth or node.earth))
            if end >= 0:
                yield Admittance("bond", node.name, int(shield), end, _series(way.resistance, way.capacitance, omega))
    for segment in bus.segments:
        for name in (segment.start, segment.end):
            row = network.conductors[place[name]]
            yield from _along(segment, name, row, earth(bus.node(name).earth), omega)


def _along(segment: Segment, name: str, row: Indices, earth: int, omega: float) -> Iterator[Admittance]:
    """Give half of a segment's capacitance to its shield or to earth, equally from each of its conductors."""
    figure = None if segment.cable is None else segment.cable.earth_capacitance
    if figure is None:
        return
    half = 0.5 * segment.length * _farads(figure)
    conductors = [int(row[0]), int(row[1])]
    if segment.reference_conductor and not segment.reference_is_shield and row[2] >= 0:
        conductors.append(int(row[2]))
    end = int(row[3]) if segment.shield else earth
    owner = f"{segment.start} - {segment.end}"
    for each in conductors:
        if end >= 0 and end != each:
            yield Admittance("cable", owner, each, end, 1j * omega * half / len(conductors))


def _series(resistance: MinTypMax, capacitance: MinTypMax, omega: float) -> complex:
    return 1.0 / complex(resistance.nominal or 0.0, -1.0 / (omega * _farads(capacitance)))


def _farads(figure: MinTypMax) -> float:
    """Return the nominal capacitance; where only one limit is stated, that."""
    stated = [each for each in (figure.nominal, figure.max, figure.min) if each is not None]
    return stated[0]


def barrier_capacitance(node: Node, notes: Notes) -> float:
    """Return the capacitance across a node's barrier: that that of all that bridges it.

    Parameters
    ----------
    node : Node
        The node [-].
    notes : Notes
        Takes the capacitances that are not stated [-].

    Returns
    -------
    float
        What is stated of it; 0 without a barrier [F].
    """
    if node.barrier is None:
        return 0.0
    total = 0.0
    parts: tuple[tuple[str, Isolator | IsolatedSupply | None], ...] = (
        ("isolator", node.barrier.isolator), ("supply", node.barrier.supply),
    )  # fmt: skip
    for name, part in parts:
        if part is None or part.capacitance is None:
            notes.miss(f'nodes["{node.name}"].barrier.{name}' + ("" if part is None else ".capacitance"))
        else:
            total += _farads(part.capacitance)
    for index, other in enumerate(node.barrier.others):
        if other.capacitance is None:
            notes.miss(f'nodes["{node.name}"].barrier.others[{index}].capacitance')
        else:
            total += _farads(other.capacitance)
    for bridge in node.barrier.bridges:
        if bridge.capacitance is not None:
            total += _farads(bridge.capacitance)
        elif bridge.kind == "capacitor":
            notes.miss(f'nodes["{node.name}"].barrier.bridges["{bridge.name}"].capacitance')
    return total


def driven_magnitudes(network: Network, mains: Mains, pairs: Pairs, drivers: tuple[Driver, ...]) -> Floats:
    """Return voltages of pairs at mains frequency, with nobody driving and with each driver on.

    Parameters
    ----------
    network : Network
        The network at rest [-].
    mains : Mains
        The same at mains frequency [-].
    pairs : Pairs
        The pairs [-].
    drivers : tuple of Driver
        The drivers [-].

    Returns
    -------
    array, shape (1 + drivers, pairs)
        RMS values, idle first; NaN for a driver whose resistance is not stated [V].

    Notes
    -----
    A driver ties each line to its common by half of its resistance R. With U the two unit currents that flow through
    the ties and Z the impedances of the network without it: V' = V - Z U (R/2 + U^T Z U)^-1 U^T V.

    References
    ----------
    The identity of Sherman, Morrison and Woodbury, textbook matter.
    """
    idle = mains.response[pairs.plus] - mains.response[pairs.minus]
    result = np.full((1 + len(drivers), len(pairs.plus)), np.nan)
    result[0] = mains.magnitude(idle)
    if not drivers:
        return result
    own = network.terminals[[driver.vertex for driver in drivers]]
    ties = Pairs(own[:, :2].ravel(), np.repeat(own[:, 2], 2))
    columns = np.arange(2 * len(drivers))
    injected = np.zeros((network.layout.size, len(columns)), dtype=np.complex128)
    np.add.at(injected, (ties.plus, columns), 1.0)
    np.subtract.at(injected, (ties.minus, columns), 1.0)
    injected[mains.fixed] = 0.0
    nothing = np.zeros((len(mains.fixed), len(columns)), dtype=np.complex128)
    impedance = phasor_potentials(network.layout, mains.admittances, injected, mains.fixed, nothing)
    across = mains.response[ties.plus] - mains.response[ties.minus]
    seen = impedance[pairs.plus] - impedance[pairs.minus]
    own_seen = impedance[ties.plus] - impedance[ties.minus]
    for row, driver in enumerate(drivers):
        if math.isnan(driver.resistance):
            continue
        two = slice(2 * row, 2 * row + 2)
        matrix = own_seen[two, two] + driver.resistance / 2 * np.eye(2)
        result[1 + row] = mains.magnitude(idle - seen[:, two] @ _solution(matrix, across[two]))
    return result


def _solution(matrix: Phasors, right: Phasors) -> Phasors:
    """Solve a small system; where both ties are already wires nothing changes."""
    return np.asarray(np.linalg.lstsq(matrix, right, rcond=1e-12)[0], dtype=np.complex128)
