"""Buses on a canal for the tests of signals in time: a pump house and a gate at the ends, a gauge half way."""

from types import MappingProxyType

import attrs
import pytest

from rs485kit import Bias, Bus, Cable, Link, Node, Termination, Transceiver, daisy_chain

ALGEBRA = 1e-9
PART = Transceiver(
    name="part", unit_load=0.125, supply_voltage="5 V", driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    driver_edge_time="100 ns", receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV",
    capacitance="20 pF",
)  # fmt: skip
PAIR = Cable(
    name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm", velocity_factor=0.66
)  # fmt: skip
END = Termination(resistance="120 ohm")
BIAS = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
LINK = Link(data_rate="1 Mbit/s")


def near(value: float, most: float = ALGEBRA):
    return pytest.approx(value, rel=most, abs=most)


def node(name: str, **fields: object) -> Node:
    return Node(**{"name": name, "transceiver": PART, **fields})


def canal(length: float = 150.0, *, rate: Link | None = LINK, head=MappingProxyType({}), tail=MappingProxyType({}), cable=PAIR) -> Bus:
    """Return a pump house at one end and a gate at the other, both terminated, and a gauge half way."""
    nodes = [
        node("pump-house", **{"terminations": END, **head}), node("gauge"), node("gate", **{"terminations": END, **tail}),
    ]  # fmt: skip
    return daisy_chain(nodes, spacing=length / 2.0, cable=cable, link=rate)


def with_figures(bus: Bus, name: str, **fields: object) -> Bus:
    """Return the bus with other fields of one node's transceiver."""
    place = bus.node(name)
    return bus.replace_node(attrs.evolve(place, transceiver=attrs.evolve(place.transceiver, **fields)))
