"""A bus as lines and loads for signals in time: difference mode only, receivers and everything else linear.

A place is a vertex and a segment a line. Across the pair stand terminators, receiver inputs, the legs of bias networks
and active terminators, and capacitances. For signals a rail is at the common, by the supply's capacitors.
"""

import math
from typing import NamedTuple

import attrs
import numpy as np

from rs485kit.errors import MissingDataError
from rs485kit.model import Bus, Cable, Node
from rs485kit.network.assembly import warming_of
from rs485kit.network.branches import UNIT_LOAD_RESISTANCE, Leg, Notes, legs_of
from rs485kit.network.cable_lines import NOMINAL, Pick, line_of, picked
from rs485kit.network.driving import driver_of
from rs485kit.solvers.laplace import Shape
from rs485kit.solvers.line_graph import NO_LOAD, Complexes, LineGraph, Media
from rs485kit.solvers.line_model import LineModel, propagation

# between the two pins of a transceiver that states nothing; common practice
USUAL_CAPACITANCE = 20e-12
# stands at a place that neither cable nor anything else touches, which would have no voltage at all [S]
LEAST_LOAD = 1e-9


class Load(NamedTuple):
    """What stands across the pair at a place: a conductance [S], a capacitance [F], and RC terminators (R, C)."""

    conductance: float
    capacitance: float
    series: tuple[tuple[float, float], ...]


class Source(NamedTuple):
    """A driver: its vertex, its EMF for mark, the resistance behind it, and its edges from 10 to 90 %.

    What is not stated is NaN. A driver whose lines are swapped has a negative EMF.
    """

    vertex: int
    emf: float
    resistance: float
    rise: float
    fall: float
    shape: Shape


@attrs.frozen(kw_only=True, eq=False)
class SignalNetwork:
    """Lines and loads of a bus.

    Parameters
    ----------
    nodes : tuple of str
        Names of the vertices, in bus order [-].
    graph : LineGraph
        Which lines join them, and the kind of load at each [-].
    models : tuple of LineModel
        The kinds of line [any].
    loads : tuple of Load
        The kinds of load [S, F].
    sources : tuple of Source
        Drivers, in bus order [V, ohm, s].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    nodes: tuple[str, ...]
    graph: LineGraph
    models: tuple[LineModel, ...]
    loads: tuple[Load, ...]
    sources: tuple[Source, ...]
    assumed: tuple[str, ...]

    def media(self, s: Complexes) -> Media:
        """Return what lines and loads are made of at complex frequencies.

        Parameters
        ----------
        s : array
            Complex frequencies [rad/s].

        Returns
        -------
        Media
            By kind of line and of load [1/m, ohm, S].
        """
        lines = [propagation(model, s) for model in self.models]
        shape = (0, len(s))
        return Media(
            np.array([line.constant for line in lines], dtype=np.complex128).reshape(-1, len(s)),
            np.array([line.impedance for line in lines], dtype=np.complex128).reshape(-1, len(s)),
            np.array([_admittance(load, s) for load in self.loads]) if self.loads else np.empty(shape, np.complex128),
        )


def _admittance(load: Load, s: Complexes) -> Complexes:
    total = load.conductance + s * load.capacitance
    for resistance, capacitance in load.series:
        total = total + s * capacitance / (1.0 + s * resistance * capacitance)
    return total


def signal_network(bus: Bus, pick: Pick = NOMINAL) -> SignalNetwork:
    """Return the lines and loads of a bus.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    pick : Pick
        Which members of the figures are taken [-].

    Returns
    -------
    SignalNetwork
        Lines and loads [any].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every answer depends on; all of them are named.
    SolveError
        If no line has the figures that a cable states.
    """
    notes = Notes()
    warming = warming_of(bus, notes).nominal
    fitted: dict[Cable, LineModel | None] = {}
    models: dict[LineModel, int] = {}
    kinds = []
    for segment in bus.segments:
        if segment.cable is None:
            notes.miss(f'segments["{segment.start}" - "{segment.end}"].cable')
            continue
        if segment.cable not in fitted:
            fitted[segment.cable] = line_of(segment.cable, warming, notes, pick)
        model = fitted[segment.cable]
        if model is not None:
            kinds.append(models.setdefault(model, len(models)))
    loads: dict[Load, int] = {}
    joined = {name for segment in bus.segments for name in (segment.start, segment.end)}
    at = [_load_kind(_load(node, pick, notes), loads, alone=node.name not in joined) for node in bus.nodes]
    if notes.missing:
        raise MissingDataError("signals", notes.missing)
    place = {node.name: index for index, node in enumerate(bus.nodes)}
    edges = np.array([(place[each.start], place[each.end]) for each in bus.segments], dtype=np.intp)
    lengths = np.array([each.length for each in bus.segments], dtype=np.float64)
    arrays = edges.reshape(-1, 2), np.array(kinds, dtype=np.intp), lengths, np.array(at, dtype=np.intp)
    for array in arrays:
        array.setflags(write=False)
    graph = LineGraph(len(bus.nodes), *arrays)
    sources = [_source(node, index, pick) for index, node in enumerate(bus.nodes) if drives(node)]
    return SignalNetwork(
        nodes=tuple(place), graph=graph, models=tuple(models), loads=tuple(loads),
        sources=tuple(sources), assumed=notes.assumed,
    )  # fmt: skip


def drives(node: Node) -> bool:
    """Return whether a node puts levels on the pair at times."""
    return node.transceiver is not None and node.drives and node.powered


def _load_kind(load: Load, known: dict[Load, int], *, alone: bool) -> int:
    if load == Load(0.0, 0.0, ()):
        if not alone:
            return NO_LOAD
        load = Load(LEAST_LOAD, 0.0, ())
    return known.setdefault(load, len(known))


def _load(node: Node, pick: Pick, notes: Notes) -> Load:
    """Return what stands across the pair at a node.

    A leg R from one line to the common is 1 / (4 R) across the pair for two lines that move by equal and opposite
    halves; a capacitance likewise.
    """
    capacitance, leakage = _protection(node, pick)
    capacitance += _own_capacitance(node, pick, notes)
    conductance = leakage + sum(_leg(leg, notes) for leg in legs_of(node))
    series = []
    for index, termination in enumerate(node.terminations):
        if not termination.engaged:
            continue
        place = f'nodes["{node.name}"].terminations[{index}]'
        resistance = picked(termination.resistance, pick.termination)
        if resistance is None:
            notes.miss(f"{place}.resistance (its typical value, or both limits)")
        elif termination.capacitance is None:
            conductance += 1.0 / resistance
        else:
            size = picked(termination.capacitance, pick.termination)
            if size is None:
                notes.miss(f"{place}.capacitance (its typical value, or both limits)")
            else:
                series.append((resistance, size))
    if node.transceiver is not None and node.transceiver.unit_load is None:
        notes.miss(f'nodes["{node.name}"].transceiver.unit_load')
    elif node.transceiver is not None and node.transceiver.unit_load is not None:
        conductance += node.transceiver.unit_load / (2.0 * UNIT_LOAD_RESISTANCE)
    return Load(conductance, capacitance, tuple(sorted(series)))


def _leg(leg: Leg, notes: Notes) -> float:
    if leg.resistance.nominal is None:
        notes.miss(f"{leg.place} (its typical value, or both limits)")
        return 0.0
    return 0.25 / leg.resistance.nominal


def _protection(node: Node, pick: Pick) -> tuple[float, float]:
    """Return capacitance and leakage conductance of protectors across the pair."""
    capacitance = leakage = 0.0
    for protector in node.protectors:
        share = {"line-line": 1.0, "line-common": 0.5}.get(protector.ends, 0.0)
        capacitance += share * (picked(protector.capacitance, pick.capacitance) or 0.0)
        if protector.leakage is not None and protector.standoff is not None:
            leakage += share * protector.leakage / protector.standoff
    return capacitance, leakage


def _own_capacitance(node: Node, pick: Pick, notes: Notes) -> float:
    total = picked(node.capacitance, pick.capacitance) or 0.0
    part = node.transceiver
    if part is None:
        return total
    own = picked(part.capacitance, pick.capacitance)
    if own is None:
        usual = f"{USUAL_CAPACITANCE * 1e12:g} pF, which is common practice"
        notes.assume(f"transceivers without a stated capacitance have {usual}", part.name)
        own = USUAL_CAPACITANCE
    for protector in node.protectors:
        if protector.capacitance is None and protector.ends != "common-earth":
            notes.assume("protectors without a stated capacitance are taken to have none", node.name)
    return total + own


def _source(node: Node, vertex: int, pick: Pick) -> Source:
    """Return the driver of a node: its typical points or, where the pick says so, the level that is guaranteed."""
    part = node.transceiver
    assert part is not None
    driver = driver_of(node, vertex)
    # the guaranteed minimum is a level at the terminals: who asks for it turns it into an EMF
    emf = driver.lower if pick.drive == "min" else driver.source
    resistance = driver.resistance
    rise = picked(part.driver_edge_time, pick.edge) or math.nan
    fall = picked(part.driver_fall_time, pick.edge) or rise
    sign = -1.0 if node.lines_swapped else 1.0
    return Source(vertex, sign * emf, resistance, rise, fall, part.driver_edge_shape)
