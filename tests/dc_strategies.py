"""Buses for properties of the nominal DC network: every figure exact, every source stated beside its element.

Wilder than the complete buses of rs485kit.testing: lone legs, reversed legs, supplies that are down, active
terminators, swapped lines, unpowered nodes, floating commons, several earths.
"""

import attrs
import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from rs485kit import Barrier, Bias, Bus, Cable, CommonLink, Earth, Node, Segment, Termination, Transceiver
from rs485kit.network import Network, idle_network
from rs485kit.solvers.nodal import potentials
from rs485kit.testing import figures

ALGEBRA = 1e-9
EARTHS = ("weir", "lock", "bank")
SHAPES = ("chain", "comb", "star", "ring")
SUPPLIES = figures(0, 12)


def ohms(low: float, high: float) -> st.SearchStrategy[float]:
    """Resistances, evenly over the decades."""
    return figures(float(np.log10(low)), float(np.log10(high))).map(lambda decade: float(10.0**decade))


@st.composite
def bias_networks(draw: st.DrawFn, *, paired: bool = False, up: bool = False) -> Bias:
    """Bias networks; paired ones have equal legs, those that are `up` have their supply."""
    leg = draw(ohms(100, 1e5))
    other = leg if paired else draw(ohms(100, 1e5))
    fitted = "both" if paired else draw(st.sampled_from(["both", "both", "up", "down"]))
    return Bias(
        pull_up=None if fitted == "down" else leg,
        pull_down=None if fitted == "up" else other,
        supply=draw(SUPPLIES),
        supply_on=up or draw(st.booleans()),
        reversed=draw(st.booleans()),
    )


@st.composite
def terminators(draw: st.DrawFn, *, paired: bool = False) -> Termination:
    """Terminators across the pair, some with legs, some that block DC, some unplugged."""
    resistance = draw(ohms(30, 1e5))
    kind = draw(st.sampled_from(["plain", "plain", "blocking", "unplugged", "active"]))
    if kind == "active":
        leg = draw(ohms(200, 1e4))
        other = leg if paired else draw(ohms(200, 1e4))
        return Termination(resistance=resistance, pull_up=leg, pull_down=other, supply=draw(SUPPLIES))
    return Termination(
        resistance=resistance, capacitance=1e-8 if kind == "blocking" else None, engaged=kind != "unplugged"
    )


@st.composite
def devices(
    draw: st.DrawFn, name: str, *, paired: bool = False, up: bool = False, swaps: bool = True, floating: bool = True
) -> Node:
    """Devices and passive places; `floating` ones may lack a way from their common to the reference conductor."""
    receiver = Transceiver(
        name="part",
        unit_load=draw(st.sampled_from([0.125, 0.25, 1.0, 3.0])),
        input_reference=draw(figures(0, 2.6)),
        receiver_upper_threshold=0.2,
    )
    link = st.builds(
        CommonLink, resistance=st.sampled_from([0.0, 10.0, 100.0]), bonded=st.sampled_from([None, True, False])
    )
    return Node(
        name=name,
        transceiver=draw(st.sampled_from([receiver, receiver, None])),
        terminations=draw(st.lists(terminators(paired=paired), max_size=2)),
        biases=draw(st.lists(bias_networks(paired=paired, up=up), max_size=2)),
        common=draw(st.one_of(st.none(), link) if floating else link),
        earth=draw(st.sampled_from([None, *EARTHS])),
        barrier=draw(st.sampled_from([None, Barrier()])),
        lines_swapped=swaps and draw(st.booleans()),
        powered=up or draw(st.booleans()),
    )


@st.composite
def dc_buses(
    draw: st.DrawFn,
    *,
    least: int = 1,
    most: int = 6,
    paired: bool = False,
    up: bool = False,
    swaps: bool = True,
    floating: bool = True,
    shapes: tuple[str, ...] = SHAPES,
) -> Bus:
    """Radial and ring buses of a few nodes on up to three earths."""
    count = draw(st.integers(least, most))
    kinds = {"paired": paired, "up": up, "swaps": swaps, "floating": floating}
    nodes = [draw(devices(f"gate-{k}", **kinds)) for k in range(count)]
    shape = draw(st.sampled_from(shapes))
    pairs = [(k - 1 if shape == "chain" or shape == "ring" else 0 if shape == "star" else max(0, k - 2), k)
             for k in range(1, count)]  # fmt: skip
    if shape == "ring" and count > 2:
        pairs.append((count - 1, 0))
    cables = [
        Cable(name=f"cable {k}", conductor_resistance=draw(ohms(0.01, 0.3)), reference_resistance=draw(ohms(0.01, 0.3)))
        for k in range(2)
    ]
    segments = [
        Segment(
            start=f"gate-{a}",
            end=f"gate-{b}",
            length=draw(ohms(1, 1000)),
            cable=draw(st.sampled_from(cables)),
            reference_conductor=not floating or draw(st.booleans()),
        )
        for a, b in pairs
    ]
    earths = [
        Earth(name=name, potential=draw(figures(-3, 3)), resistance=draw(st.sampled_from([0.0, 1.0, 50.0])))
        for name in EARTHS
    ]
    return Bus(nodes=nodes, segments=segments, earths=earths)


def solved(network: Network) -> NDArray[np.float64]:
    """Return the potentials of a network's unknowns [V]."""
    emf, given = network.emf[:, None], network.given[:, None]
    return potentials(network.layout, network.branches, network.injected(emf), network.fixed, given)[:, 0]


def levels(bus: Bus, rails: str = "open") -> dict[str, float]:
    """Return the voltage across the own lines of every node, passive places too [V]."""
    network = idle_network(bus, rails=rails)
    own = solved(network)[network.terminals]
    return dict(zip(network.nodes, (own[:, 0] - own[:, 1]).tolist(), strict=True))


def largest_source(bus: Bus) -> float:
    """Return the largest voltage that the bus states, at least 1 V [V]."""
    supplies = [each.supply.typ for node in bus.nodes for each in (*node.biases, *node.terminations) if each.supply]
    return max([1.0, 2.6, *supplies, *(abs(earth.potential.typ) for earth in bus.earths)])


def with_every(bus: Bus, *, supply: float = 1.0, earth: float = 1.0, reference: float = 1.0) -> Bus:
    """Return a bus with its sources scaled by kind."""

    def scaled(part: Bias | Termination) -> Bias | Termination:
        return part if part.supply is None else attrs.evolve(part, supply=supply * part.supply.typ)

    nodes = []
    for node in bus.nodes:
        receiver = node.transceiver
        if receiver is not None:
            receiver = attrs.evolve(receiver, input_reference=reference * receiver.input_reference)
        nodes.append(
            attrs.evolve(
                node,
                transceiver=receiver,
                biases=tuple(map(scaled, node.biases)),
                terminations=tuple(map(scaled, node.terminations)),
            )
        )
    earths = [attrs.evolve(each, potential=earth * each.potential.typ) for each in bus.earths]
    return attrs.evolve(bus, nodes=nodes, earths=earths)
