"""Bounds where only receiver inputs tie a common to the lines: no legal state lies outside them.

Inputs that draw nothing are inside the border of a unit load at any voltage from -7 V to +12 V, so the states in which a
floating receiver draws nothing must be inside the bounds too.
"""

import pytest

import rs485kit as rk

HEAVY = rk.Transceiver(
    name="heavy", unit_load=32, supply_voltage="5 V", receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV"
)
PAIR = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km")


@pytest.mark.parametrize("swapped", [False, True])
def test_floating_receiver_may_draw_nothing_from_a_level_above_8_v(swapped):
    bias = rk.Bias(pull_up="510 ohm", pull_down="510 ohm", supply="12 V")
    nodes = [rk.Node(name="head", biases=bias), rk.Node(name="tail", transceiver=HEAVY, lines_swapped=swapped)]
    voltage = rk.analysis.idle_levels(rk.daisy_chain(nodes, spacing="10 m", cable=PAIR)).at("tail").voltage
    assert (voltage.lower <= -12.0) if swapped else (voltage.upper >= 12.0)


def test_floating_receiver_may_draw_nothing_from_a_strong_driver():
    strong = rk.Transceiver(
        name="strong", unit_load=0.125, supply_voltage="5 V", driver_open_voltage=("3 V", "5 V", "10 V"),
        driver_loaded_voltage=("1.5 V", "3 V", "10 V"),
    )  # fmt: skip
    nodes = [rk.Node(name="head", transceiver=strong), rk.Node(name="tail", transceiver=HEAVY, drives=False)]
    levels = rk.analysis.driven_levels(rk.daisy_chain(nodes, spacing="1 km", cable=PAIR))
    assert levels.between("head", "tail").mark.upper >= 10.0
    assert levels.between("head", "tail").space.lower <= -10.0


def test_lines_that_nothing_joins_may_stand_anywhere_inside_the_border():
    voltage = rk.analysis.idle_levels(rk.Bus(nodes=rk.Node(name="gauge", transceiver=HEAVY))).at("gauge").voltage
    assert (voltage.lower, voltage.upper) == (pytest.approx(-19.0, abs=1e-6), pytest.approx(19.0, abs=1e-6))
    assert (voltage.attained_lower, voltage.attained_upper) == (pytest.approx(-8.0), pytest.approx(8.0))


@pytest.mark.parametrize("ends", ["line-line", "line-common"])
def test_a_leak_that_alone_joins_the_lines_is_solved(ends):
    light = rk.Transceiver(name="light", unit_load=0, supply_voltage="5 V")
    leak = rk.Protector(name="leak", ends=ends, standoff="5 V", leakage="1 uA")
    nodes = [rk.Node(name="head", transceiver=light, protectors=leak), rk.Node(name="tail", transceiver=light)]
    bus = rk.daisy_chain(nodes, spacing="100 m", cable=PAIR)
    assert rk.analysis.idle_levels(bus).voltage.nominal == pytest.approx(0.0, abs=1e-9)
    assert not rk.check(bus).plugin_errors


def test_stated_mismatch_stays_inside_the_independent_reading():
    end = rk.Termination(resistance="120 ohm")
    bias = rk.Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")

    def voltage(mismatch):
        part = rk.Transceiver(name="part", unit_load=1, supply_voltage="5 V", input_mismatch=mismatch)
        nodes = [rk.Node(name="head", transceiver=part, terminations=end, biases=bias)]
        nodes += [rk.Node(name=f"gate-{index}", transceiver=part) for index in range(3)]
        return rk.analysis.idle_levels(rk.daisy_chain(nodes, spacing="50 m", cable=PAIR)).at("gate-2").voltage

    apart, alike, unequal = voltage(None), voltage(0.0), voltage(0.3)
    assert apart.lower < unequal.lower < alike.lower
    assert apart.matched_lower == pytest.approx(unequal.matched_lower, abs=1e-9)
