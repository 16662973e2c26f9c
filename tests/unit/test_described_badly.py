"""What a description leaves out or gets wrong is said as what it is, and never makes a report pass."""

from pathlib import Path

import attrs
import pytest

import rs485kit as rk

CORRECTED = rk.load_bus(Path(__file__).parents[2] / "docs" / "examples" / "canal_corrected.toml")


def test_devices_without_a_transceiver_are_missed():
    bare = attrs.evolve(CORRECTED, nodes=[attrs.evolve(node, transceiver=None) for node in CORRECTED.nodes])
    report = rk.check(bare)
    assert not report.passed
    assert report.exit_status == 3
    assert {"structure.nobody-to-hear", "structure.figures-missing"} <= {found.rule for found in report.unknowns}
    assert report.described.startswith("0 devices")


def test_one_device_without_a_transceiver_is_missed():
    forgotten = attrs.evolve(CORRECTED.node("gate-10"), transceiver=None)
    report = rk.check(CORRECTED.replace_node(forgotten))
    assert [found.where.names for found in report.unknowns] == [("gate-10",)]


def test_a_splice_is_no_device():
    bus = CORRECTED.with_node(rk.Node(name="splice"), on=("gate-01", "gate-02"), at="10 m")
    assert rk.check(bus).passed


def test_a_bus_with_devices_that_hear_one_another_is_one():
    report = rk.check(CORRECTED, policy=rk.Policy(select="structure.nobody-to-hear"))
    assert [found.verdict for found in report.findings] == ["pass"]


def test_lines_beyond_the_common_mode_range_fail():
    earths = [attrs.evolve(earth, potential="60 V" if earth.name == "village" else "0 V") for earth in CORRECTED.earths]
    bonded = [
        attrs.evolve(node, common=rk.CommonLink(resistance="0 ohm", bonded=True)) if node.earth else node
        for node in CORRECTED.nodes
    ]
    report = rk.check(attrs.evolve(CORRECTED, nodes=bonded, earths=earths))
    failed = [found for found in report.fails if found.rule == "idle.level-undefined"]
    assert failed
    assert all("beyond -7 V .. +12 V" in found.message for found in failed)
    assert report.exit_status == 1


def test_of_a_device_that_no_cable_joins_only_that_is_said():
    lone = attrs.evolve(CORRECTED.node("gate-10"), name="gate-x")
    report = rk.check(attrs.evolve(CORRECTED, nodes=(*CORRECTED.nodes, lone)))
    assert [found.rule for found in report.fails] == ["structure.disconnected"]
    assert {found.rule for found in report.at("gate-x")} == {"structure.disconnected"}


@pytest.mark.parametrize("name", ["bps", "kbps", "baud", "ohms", "metres"])
def test_the_right_spelling_of_a_unit_is_told(name):
    with pytest.raises(rk.InputError, match=f"the unit {name} is written"):
        rk.Link(data_rate=f"9600 {name}")


def test_figures_taken_as_exact_are_listed():
    exact = attrs.evolve(CORRECTED.node("gate-11"), biases=rk.Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V"))
    assumptions = rk.check(CORRECTED.replace_node(exact)).assumptions
    assert any(text.startswith("supply stated as one value is taken as exact") for text in assumptions)
