"""What the cases share: parts and places, how a printed figure is compared, and marks for rooms that are to come."""

from collections.abc import Iterable

import pytest

import rs485kit as rk
from rs485kit.errors import UnknownNameError

MILLI = 1e-3
FOOT = 0.3048

# 0.1 mohm from node to node: all at one place, as the arithmetic of the sources has it
WIRE = rk.Cable(name="next to nothing", conductor_resistance="1 mohm/m", reference_resistance="1 mohm/m")
AWG22 = rk.Cable(name="22 AWG", conductor_resistance="53.0 ohm/km", reference_resistance="53.0 ohm/km")
AWG24 = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", reference_resistance="84.2 ohm/km")
END = rk.Termination(resistance="120 ohm")
TEST_LOAD = 54.0


def part(unit_load: float = 1.0, *, inner: float = 33.0, open_voltage: float = 3.5, **figures: object) -> rk.Transceiver:
    """Return a plain +-200 mV transceiver; its driver is a source of `open_voltage` behind `inner` ohm."""
    driver = {"driver_open_voltage": open_voltage, "driver_loaded_voltage": open_voltage * TEST_LOAD / (TEST_LOAD + inner)}
    limits = {"receiver_upper_threshold": "200 mV", "receiver_lower_threshold": "-200 mV"}
    return rk.Transceiver(**{"name": f"{unit_load:g} unit loads", "unit_load": unit_load, **driver, **limits, **figures})


# the model of the sources' arithmetic: 12 kohm per unit load from each line to 0 V; or no input current at all
SIMPLE = part(input_reference="0 V")
WEIGHTLESS = part(0.0)
# what the library takes where nothing is said: the same, to half of the supply
PLAIN = part()


def legs(ohms: float, volts: float = 5.0, **figures: object) -> rk.Bias:
    """Return a bias network of two equal legs."""
    return rk.Bias(**{"pull_up": ohms, "pull_down": ohms, "supply": volts, **figures})


def across(ohms: float) -> rk.Termination:
    """Return a resistor across the pair."""
    return rk.Termination(resistance=ohms)


def at_one_place(nodes: Iterable[rk.Node], **figures: object) -> rk.Bus:
    """Return a bus whose cable does not matter."""
    return rk.daisy_chain(nodes, **{"spacing": "0.1 m", "cable": WIRE, **figures})


def crowd(count: int, transceiver: rk.Transceiver, *, first: int = 1) -> list[rk.Node]:
    """Return devices of one kind: "device-1", "device-2" and so on."""
    return [rk.Node(name=f"device-{number}", transceiver=transceiver) for number in range(first, first + count)]


def printed(figure: float, *, last: float = 1.0) -> object:
    """Return what equals a figure as the source prints it: to half of the step of its last digit."""
    return pytest.approx(figure, abs=0.5001 * last, rel=0.0)


def exactly(figure: float) -> object:
    """Return what equals a figure of closed algebra."""
    return pytest.approx(figure, rel=1e-6, abs=1e-9)


def idle_millivolts(bus: rk.Bus, node: str, **figures: object) -> float:
    """Return the nominal idle voltage of a receiver [mV]."""
    return rk.analysis.idle_levels(bus, **figures).at(node).voltage.nominal / MILLI


def verdicts(bus: rk.Bus, rule: str) -> dict[str, str]:
    """Return the verdicts of one rule by the names of their places; it must have run and had something to judge."""
    report = rk.check(bus)
    assert not report.plugin_errors
    found = {" - ".join(each.where.names) or "bus": each.verdict for each in report.findings if each.rule == rule}
    if rule not in report.rules:
        raise UnknownNameError("rule", rule, (), "no built-in rule of that name ran")
    return found


def finding(bus: rk.Bus, rule: str, where: str = "") -> rk.Finding:
    """Return the one finding of a rule, or its one finding at a place."""
    report = rk.check(bus)
    if rule not in report.rules:
        raise UnknownNameError("rule", rule, (), "no built-in rule of that name ran")
    (found,) = (each for each in report.findings if each.rule == rule and (not where or where in each.where.names))
    return found


def waits_for(room: str) -> pytest.MarkDecorator:
    """Return the mark of a test that an analysis or a rule still to come will answer."""
    lacking = (AttributeError, UnknownNameError)
    return pytest.mark.xfail(strict=True, raises=lacking, reason=f"waits for the room {room}")


def lacks(what: str) -> pytest.MarkDecorator:
    """Return the mark of a test that the description of a bus cannot answer yet."""
    return pytest.mark.xfail(strict=True, reason=f"missing: {what}")
