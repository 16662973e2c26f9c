"""What the cases share: parts and places, how a printed figure is compared, and marks for what is to come."""

from collections.abc import Iterable
from typing import Any

import attrs
import pytest

import rs485kit as rk
from rs485kit.errors import UnknownNameError
from rs485kit.rules import built_in

MILLI = 1e-3
FOOT = 0.3048
TEST_LOAD = 54.0


def cable(name: str, conductor_resistance: float) -> rk.Cable:
    """Return a cable of 120 ohm and 0.66 c [assumed throughout], its reference conductor like one of the pair."""
    return rk.Cable(
        name=name, conductor_resistance=conductor_resistance, reference_resistance=conductor_resistance,
        characteristic_impedance="120 ohm", velocity_factor=0.66,
    )  # fmt: skip


# 0.1 mohm from node to node: all at one place, as the arithmetic of the sources has it
WIRE = cable("next to nothing", 1e-3)
AWG22 = cable("22 AWG", 53.0e-3)
AWG24 = cable("24 AWG", 84.2e-3)
END = rk.Termination(resistance="120 ohm")


def part(
    unit_load: float = 1.0, *, inner: float = 33.0, open_voltage: float = 3.5, **figures: object
) -> rk.Transceiver:
    """Return a plain +-200 mV transceiver whose driver is a source of `open_voltage` behind `inner` ohm."""
    loaded = open_voltage * TEST_LOAD / (TEST_LOAD + inner)
    given: dict[str, Any] = {
        "name": f"{unit_load:g} unit loads", "unit_load": unit_load, "driver_open_voltage": open_voltage,
        "driver_loaded_voltage": loaded, "receiver_upper_threshold": "200 mV", "receiver_lower_threshold": "-200 mV",
    }  # fmt: skip
    return rk.Transceiver(**{**given, **figures})


# the model of the sources' arithmetic: 12 kohm per unit load from each line to 0 V, or no input current at all
SIMPLE = part(input_reference="0 V")
WEIGHTLESS = part(0.0)
# what the library takes where nothing is said: 12 kohm to half of the supply
PLAIN = part()


def at_rate(bus: rk.Bus, rate: float, edge: float = 100e-9, *, cable: rk.Cable | None = None) -> rk.Bus:
    """Return a bus with a data rate, the same edges at every driver [assumed], and if wanted other cable."""
    nodes = [
        node if node.transceiver is None
        else attrs.evolve(node, transceiver=attrs.evolve(node.transceiver, driver_edge_time=edge))
        for node in bus.nodes
    ]  # fmt: skip
    segments = bus.segments if cable is None else [attrs.evolve(each, cable=cable) for each in bus.segments]
    return attrs.evolve(bus, nodes=nodes, segments=segments, link=rk.Link(data_rate=rate))


def legs(ohms: float, volts: float = 5.0, **figures: Any) -> rk.Bias:
    """Return a bias network of two equal legs."""
    return rk.Bias(pull_up=ohms, pull_down=ohms, supply=volts, **figures)


def across(ohms: float) -> rk.Termination:
    """Return a resistor across the pair."""
    return rk.Termination(resistance=ohms)


def at_one_place(nodes: Iterable[rk.Node], **figures: Any) -> rk.Bus:
    """Return a bus whose cable does not matter."""
    return rk.daisy_chain(nodes, spacing="0.1 m", cable=WIRE, **figures)


def device(number: int, transceiver: rk.Transceiver, **figures: Any) -> rk.Node:
    """Return the device of that number: "device-1" and so on."""
    return rk.Node(name=f"device-{number}", transceiver=transceiver, **figures)


def printed(figure: float, *, last: float = 1.0) -> Any:
    """Return what equals a figure as the source prints it: to half of the step of its last digit."""
    return pytest.approx(figure, abs=0.5001 * last, rel=0.0)


def exactly(figure: float) -> Any:
    """Return what equals a figure of closed algebra."""
    return pytest.approx(figure, rel=1e-9, abs=1e-9)


def idle_millivolts(bus: rk.Bus, node: str = "", *, unpowered: tuple[str, ...] = ()) -> float:
    """Return the nominal idle voltage of a receiver, or of the first one [mV]."""
    idle = rk.analysis.idle_levels(bus, unpowered=unpowered)
    return idle.at(node or idle.nodes[0]).voltage.nominal / MILLI


def load_of(bus: rk.Bus, driver: str) -> float:
    """Return the resistance that the bus shows to a driver [ohm]."""
    return rk.analysis.terminations(bus).driver_load.at(driver).resistance.nominal


def findings(bus: rk.Bus, rules: str) -> list[rk.Finding]:
    """Return what one rule finds, or all rules under a prefix that ends in a dot; they must have something to judge."""
    every = [each.name for each in built_in()]
    names = tuple(name for name in every if name == rules or (rules.endswith(".") and name.startswith(rules)))
    if not names:
        raise UnknownNameError("rule", rules)
    report = rk.check(bus, policy=rk.Policy(select=names))
    assert not report.plugin_errors
    assert report.findings
    return list(report.findings)


def verdicts(bus: rk.Bus, rule: str) -> dict[str, str]:
    """Return the verdicts of one rule by the names of their places; for a rule that is content its one pass."""
    return {" -> ".join(each.where.names) or "bus": each.verdict for each in findings(bus, rule)}


def verdict(bus: rk.Bus, rule: str) -> str:
    """Return the worst verdict of one rule."""
    return findings(bus, rule)[0].verdict


def waits_for(room: str) -> pytest.MarkDecorator:
    """Return the mark of a test that an analysis or a rule still to come will answer."""
    lacking = (AttributeError, UnknownNameError)
    return pytest.mark.xfail(strict=True, raises=lacking, reason=f"waits for the room {room}")


def lacks(what: str) -> pytest.MarkDecorator:
    """Return the mark of a test of something that a bus cannot be described with yet, or that no analysis tells."""
    return pytest.mark.xfail(strict=True, reason=f"missing: {what}")
