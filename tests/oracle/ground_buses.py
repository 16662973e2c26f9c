"""Buses on several earths for the simulator: every kind of bond, barrier and shield once."""

from collections.abc import Callable

import attrs

from rs485kit import (
    Barrier,
    Bias,
    Bus,
    Cable,
    CommonLink,
    Earth,
    EarthBond,
    IsolatedSupply,
    Isolator,
    Node,
    Segment,
    ShieldBond,
    Termination,
    Transceiver,
    daisy_chain,
)

PAIR = Cable(
    name="24 AWG pair", conductor_resistance="84.2 ohm/km", reference_resistance="84.2 ohm/km",
    shield_resistance="12 ohm/km",
)
SCREENED = Cable(
    name="screened pair", conductor_resistance="84.2 ohm/km", reference_resistance="84.2 ohm/km",
    shield_resistance="12 ohm/km", earth_capacitance="100 pF/m",
)
PART = Transceiver(
    name="eighth load", unit_load=0.125, supply_voltage="5 V", driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
)
FULL = Transceiver(
    name="full load", unit_load=1.0, supply_voltage="5 V", driver_open_voltage="3.3 V", driver_loaded_voltage="2 V",
    driver_offset_voltage="1.8 V",
)
END = Termination(resistance="120 ohm")
BIAS = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
SMALL = Barrier(
    isolator=Isolator(name="data", capacitance="1 pF"), supply=IsolatedSupply(name="5 V", output_voltage="5 V", capacitance="40 pF")
)
LARGE = Barrier(
    isolator=Isolator(name="data", capacitance="2 pF"), supply=IsolatedSupply(name="5 V", output_voltage="5 V", capacitance="400 pF")
)
WIRE = CommonLink(resistance="0 ohm")
HUNDRED = CommonLink(resistance="100 ohm")
EARTHS = (
    Earth(name="weir", potential="0 V", mains_potential="1 V", mains_phase="0 deg", resistance="2 ohm"),
    Earth(name="lock", potential="1.9 V", mains_potential="2.5 V", mains_phase="120 deg", resistance="7 ohm"),
    Earth(name="village", potential="-2.3 V", mains_potential="4 V", mains_phase="240 deg", resistance="11 ohm"),
)


def _chain(nodes: list[Node], *, cable: Cable = PAIR, reference: bool = True, name: str) -> Bus:
    return daisy_chain(
        nodes, spacing="350 m", cable=cable, reference_conductor=reference, earths=EARTHS, name=name
    )


def two_earths_without_barrier() -> Bus:
    """Two nodes on two earths, nothing but the pair between them."""
    nodes = [
        Node(name="head", transceiver=FULL, terminations=END, biases=BIAS, earth="weir"),
        Node(name="tail", transceiver=FULL, terminations=END, earth="village"),
    ]
    return _chain(nodes, reference=False, name="two earths without barrier")


def two_earths_with_barrier() -> Bus:
    """The far node isolated, its common on the reference conductor, which is bonded at the head."""
    nodes = [
        Node(name="head", transceiver=PART, terminations=END, biases=BIAS, earth="weir", common=WIRE),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", common=WIRE, barrier=SMALL),
    ]
    return _chain(nodes, name="two earths with barrier")


def hundred_ohm_links() -> Bus:
    """Three nodes without barriers on three earths at three phases, each common over 100 ohm."""
    nodes = [
        Node(name="head", transceiver=FULL, terminations=END, biases=BIAS, earth="weir", common=HUNDRED),
        Node(name="middle", transceiver=PART, earth="lock", common=HUNDRED),
        Node(name="tail", transceiver=FULL, terminations=END, earth="village", common=HUNDRED, lines_swapped=True),
    ]
    return _chain(nodes, name="100 ohm links")


def shield_bonded_at_both_ends() -> Bus:
    """A shield that joins two earths, beside the pair of nodes without barriers."""
    nodes = [
        Node(name="head", transceiver=PART, terminations=END, earth="weir", shield_bond=ShieldBond()),
        Node(name="middle", transceiver=PART, earth="lock"),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", shield_bond=ShieldBond(resistance="0.5 ohm")),
    ]
    return _screened(_chain(nodes, reference=False, name="shield bonded at both ends"))


def _screened(bus: Bus, *, one: bool = False) -> Bus:
    segments = [attrs.evolve(each, shield=True, reference_is_shield=one) for each in bus.segments]
    return attrs.evolve(bus, segments=segments)


def shield_as_reference() -> Bus:
    """Isolated nodes whose commons stand on the shield, earthed at one end through a capacitor at the other."""
    nodes = [
        Node(name="head", transceiver=PART, terminations=END, biases=BIAS, earth="weir", common=WIRE, barrier=SMALL,
             shield_bond=ShieldBond()),
        Node(name="middle", transceiver=PART, earth="lock", common=HUNDRED, barrier=LARGE),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", common=WIRE, barrier=SMALL,
             shield_bond=ShieldBond(resistance="10 ohm", capacitance="10 nF")),
    ]  # fmt: skip
    return _screened(_chain(nodes, name="shield as reference"), one=True)


def floating_island() -> Bus:
    """Isolated nodes on one reference conductor that nothing earths, with unequal capacitances across the barriers."""
    nodes = [
        Node(name="head", transceiver=PART, terminations=END, biases=BIAS, earth="weir", common=WIRE, barrier=SMALL),
        Node(name="middle", transceiver=PART, earth="lock", common=WIRE, barrier=LARGE),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", common=WIRE, barrier=SMALL),
    ]
    return _chain(nodes, name="floating island")


def floating_island_in_a_screen() -> Bus:
    """The same in a cable with 100 pF per metre to its shield, which is earthed in the village."""
    nodes = list(floating_island().nodes)
    nodes[2] = attrs.evolve(nodes[2], shield_bond=ShieldBond())
    return _screened(_chain(nodes, cable=SCREENED, name="floating island in a screen"))


def two_wires_only() -> Bus:
    """Isolated nodes with nothing but the pair between them: every common an island of its own."""
    nodes = [
        Node(name="head", transceiver=PART, terminations=END, biases=BIAS, earth="weir", barrier=SMALL),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", barrier=LARGE),
    ]
    return _chain(nodes, reference=False, name="two wires only")


def hidden_bond() -> Bus:
    """An isolated section that a service laptop earths a second time, and a node with a capacitor to its chassis."""
    nodes = [
        Node(name="head", transceiver=PART, terminations=END, biases=BIAS, earth="weir", common=WIRE),
        Node(name="middle", transceiver=PART, earth="lock", common=HUNDRED, barrier=SMALL,
             bonds=EarthBond(name="chassis", earth="lock", capacitance="1 nF", resistance="1 ohm")),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", common=WIRE, barrier=SMALL,
             bonds=EarthBond(name="adapter of the service laptop", earth="village", resistance="0.3 ohm")),
    ]  # fmt: skip
    return _chain(nodes, name="hidden bond")


def ring_of_reference() -> Bus:
    """A ring, so that the reference conductor has two ways, with one node without a barrier on it."""
    nodes = [
        Node(name="head", transceiver=FULL, terminations=END, biases=BIAS, earth="weir", common=WIRE),
        Node(name="middle", transceiver=PART, earth="lock", common=HUNDRED),
        Node(name="tail", transceiver=PART, terminations=END, earth="village", common=WIRE, barrier=SMALL),
    ]
    bus = _chain(nodes, name="ring of reference")
    back = Segment(start="tail", end="head", length="500 m", cable=PAIR, reference_conductor=True)
    return attrs.evolve(bus, segments=(*bus.segments, back))


BUSES: dict[str, Callable[[], Bus]] = {
    build.__name__: build
    for build in (
        two_earths_without_barrier, two_earths_with_barrier, hundred_ohm_links, shield_bonded_at_both_ends,
        shield_as_reference, floating_island, floating_island_in_a_screen, two_wires_only, hidden_bond, ring_of_reference,
    )
}  # fmt: skip
