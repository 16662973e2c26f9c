"""Feed levels against a circuit simulator, on networks up to the edge of collapse and past it.

The stored results agree with the library to 2e-10 V, at the edge of collapse too; 1e-8 V is asked. What the simulator
says was stored by regenerate_feeds.py; the test marked `oracle` asks it again.
"""

import json
from typing import Any

import pytest

import rs485kit as rk
from oracle import simulator
from oracle.feed_netlist import fed, feed_netlist
from oracle.feeds import FEEDS, PAST, SILENT
from oracle.regenerate import digest
from oracle.regenerate_feeds import GOLDEN, simulated

AGREED = 1e-8
STORED: dict[str, Any] = json.loads(GOLDEN.read_text(encoding="utf-8"))["feeds"]
STANDING = [name for name in FEEDS if name != PAST]


def test_every_feed_is_stored_under_its_own_netlist():
    assert set(STORED) == set(FEEDS)
    for name, build in FEEDS.items():
        assert STORED[name]["sha256"] == digest(feed_netlist(build(), SILENT.get(name, ()))), name


def test_there_are_rings_two_feeding_points_and_loads_of_every_law():
    buses = [build() for build in FEEDS.values()]
    laws = {law for bus in buses for node in bus.nodes if node.feed for law in ("power", "current", "resistance")
            if getattr(node.feed, law) is not None}  # fmt: skip
    assert laws == {"power", "current", "resistance"}
    assert any(len(bus.segments) >= len(bus.nodes) for bus in buses)
    assert any(sum(node.feed_source is not None for node in bus.nodes) == 2 for bus in buses)
    assert len(STANDING) >= 8


@pytest.mark.parametrize("name", STANDING)
def test_voltages_of_devices(name):
    bus = FEEDS[name]()
    devices = rk.analysis.feed_levels(bus).devices
    assert devices.nodes == fed(bus)
    assert all(devices.running)
    for row in devices:
        assert row.voltage.nominal == pytest.approx(STORED[name]["across"][row.node], abs=AGREED, rel=0.0)


@pytest.mark.parametrize("name", [name for name in STANDING if name not in SILENT])
def test_limits_of_exact_figures_are_the_voltage_itself(name):
    """Nothing has a tolerance: limits that are proved another way meet in one point.

    Not where a feeding point gives nothing, since limits hold for whatever it might give.
    """
    for row in rk.analysis.feed_levels(FEEDS[name]()).devices:
        assert row.voltage.lower == pytest.approx(row.voltage.nominal, rel=1e-8)
        assert row.voltage.upper == pytest.approx(row.voltage.nominal, rel=1e-8)


@pytest.mark.parametrize("name", [name for name in STANDING if name != "common return"])
def test_shift_of_the_minus(name):
    """Against the minus of the first feeding point, or where all earths stand alike against them."""
    bus = FEEDS[name]()
    grounds = rk.analysis.feed_levels(bus).grounds
    for node in fed(bus):
        assert grounds.at(node).shift.nominal == pytest.approx(STORED[name]["minus"][node], abs=AGREED, rel=0.0)


@pytest.mark.parametrize("name", SILENT)
def test_a_feeding_point_that_gives_nothing(name):
    bus = FEEDS[name]()
    sources = rk.analysis.feed_levels(bus).sources
    for row in sources:
        figure = bus.node(row.node).feed_source
        assert figure is not None and figure.voltage.typ is not None
        if row.node in SILENT[name]:
            assert row.current.nominal == pytest.approx(0.0, abs=1e-12)
            # connected it would take current, and left out its terminals stand above its own voltage
            assert STORED[name]["all_connected"][row.node] > figure.voltage.typ
            assert STORED[name]["across"][row.node] > figure.voltage.typ
        else:
            assert STORED[name]["across"][row.node] < figure.voltage.typ


def test_past_collapse():
    """The simulator finds the device below its minimum; the library proves that it cannot run, and takes it off."""
    levels = rk.analysis.feed_levels(FEEDS[PAST]())
    row = levels.devices.at("tail")
    assert STORED[PAST]["across"]["tail"] < 3.0
    assert not row.running
    assert not row.surely_running
    assert levels.load_factor.nominal == pytest.approx(1 / 1.02, rel=1e-6)
    assert levels.first_to_stop == "tail"
    assert row.voltage.nominal == pytest.approx(24.0, rel=1e-12)


@pytest.mark.oracle
@pytest.mark.skipif(not simulator.is_installed(), reason=f"{simulator.NAME} is not on the path")
@pytest.mark.parametrize("name", FEEDS)
def test_the_simulator_still_says_so(name):
    live = simulated(name)
    for part in ("across", "minus"):
        assert live[part] == pytest.approx(STORED[name][part], abs=1e-9)
