"""Heat in every resistor of terminators and bias networks, over the idle and the driven states of the bus."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from rs485kit.analysis.driver_load import Electric, undriven
from rs485kit.analysis.results import Array
from rs485kit.analysis.termination_tables import LimitsOfAll, PeakOfAll, ResistorHeats
from rs485kit.model import Node
from rs485kit.network.branches import EXACT_ZERO, Leg, Notes, Span, legs_of, span_of
from rs485kit.network.loads import line_pairs, nominal_states
from rs485kit.units import MinTypMax

# the range over which receivers have to work: where a line may stand against a node's common
LOWEST_LINE, HIGHEST_LINE = -7.0, 12.0


class _Resistor(NamedTuple):
    """A resistor across the pair (`leg` None), or a leg, of the node with that index."""

    vertex: int
    name: str
    resistance: MinTypMax
    leg: Leg | None
    power: float


def _resistors(nodes: Sequence[Node]) -> Iterator[_Resistor]:
    """Give the resistors of terminators and bias networks that are engaged, node by node."""
    for vertex, node in enumerate(nodes):
        ratings = {f"terminations[{index}]": each.power for index, each in enumerate(node.terminations)}
        ratings |= {f"biases[{index}]": each.power for index, each in enumerate(node.biases)}
        power = {name: math.nan if rating is None else rating for name, rating in ratings.items()}
        for index, each in enumerate(node.terminations):
            if each.engaged:
                place = f"terminations[{index}]"
                yield _Resistor(vertex, f"{place}.resistance", each.resistance, None, power[place])
        for leg in legs_of(node):
            name = leg.place.removeprefix(f'nodes["{node.name}"].')
            yield _Resistor(vertex, name, leg.resistance, leg, power[name.rpartition(".")[0]])


def resistor_heats(given: Electric) -> ResistorHeats:
    """Return the heat in every resistor across the pair.

    Parameters
    ----------
    given : Electric
        The network [-].

    Returns
    -------
    ResistorHeats
        Rows per resistor [W].
    """
    nodes, notes = given.bus.nodes, Notes()
    resistors = list(_resistors(nodes))
    places = [f'nodes["{nodes[each.vertex].name}"].{each.name}' for each in resistors]
    spans = [span_of(each.resistance, place, notes) for each, place in zip(resistors, places, strict=True)]
    rails = [EXACT_ZERO if each.leg is None else each.leg.pulls_to(notes) for each in resistors]
    lower, nominal, upper = np.array([(each.lower, each.nominal, each.upper) for each in spans]).reshape(-1, 3).T
    across_pair = _highest_across_pair(given)
    highest = np.array(
        [
            across_pair[each.vertex] if each.leg is None else max(HIGHEST_LINE - rail.lower, rail.upper - LOWEST_LINE)
            for each, rail in zip(resistors, rails, strict=True)
        ]
    )
    return ResistorHeats(
        nodes=tuple(nodes[each.vertex].name for each in resistors),
        resistor=tuple(each.name for each in resistors),
        resistance=LimitsOfAll(lower=lower, nominal=nominal, upper=upper),
        heat=PeakOfAll(nominal=_nominal_voltages(given, resistors, rails) ** 2 / nominal, upper=highest**2 / lower),
        power=[each.power for each in resistors],
        missing=undriven(given) if resistors else (),
        unstated=tuple(dict.fromkeys((*given.lacking, *given.unstated, *notes.missing, *notes.unstated))),
    )


def _nominal_voltages(given: Electric, resistors: list[_Resistor], rails: list[Span]) -> Array:
    """Return the largest nominal voltage across each resistor over all states; a rail that is down is at the common."""
    if not given.networks or not resistors:
        return np.full(len(resistors), math.nan)
    network = given.networks[-1]
    lines = [None if each.leg is None else each.leg.line for each in resistors]
    pairs = line_pairs(network, [each.vertex for each in resistors], lines)
    states = nominal_states(network, pairs, given.drivers) - np.array([rail.nominal for rail in rails])
    return np.asarray(np.abs(states).max(axis=0))


def _highest_across_pair(given: Electric) -> Array:
    """Return what the voltage across the pair cannot pass at each node.

    By superposition it is the idle voltage there plus T (V - idle voltage at the driver), V being the driver's. On a
    pair of two lines alike T is in 0 .. 1, since the difference between them obeys a network of resistors of its own.
    """
    lower, upper = given.idle
    highest = np.maximum(np.abs(lower), np.abs(upper))
    for driver in given.drivers:
        own = driver.vertex
        beyond = np.maximum(upper - lower[own], upper[own] - lower)
        beyond[own] = 0.0
        highest = np.maximum(highest, driver.upper + beyond)
    return highest
