"""Topics M and N, power over the cable: C38 (the feed of 130 nodes), C39, C40, C42.

A regulator that is linear draws the current of what it feeds, whatever its input; a converter draws a power.
"""

import math

import pytest
from case_parts import AWG24, MILLI, exactly

import rs485kit as rk

LOW = "feed.voltage-too-low"


def source(volts: float, ohms: float = 0.0, **figures: object) -> rk.Node:
    return rk.Node(name="source", feed_source=rk.FeedSource(voltage=volts, resistance=ohms, **figures))


def fed(number: int, **law: object) -> rk.Node:
    return rk.Node(name=f"device-{number}", feed=rk.FeedLoad(**law))


def verdict_of(bus: rk.Bus, rule: str) -> str:
    return rk.check(bus, policy=rk.Policy(select=(rule,))).findings[0].verdict


# --- C38: 130 nodes fed at 9 V (itecnotes.com, power and RS-485 in shielded CAT5 cable) ------------------------------


def c38(milliamperes: float, wires: int = 3, *, least: float | None = 5.5, **last: object) -> rk.Bus:
    """130 devices [read] 0.5 m apart [read] on 9 V [read], three wires each way [read] of 24 AWG, 5 V regulators [read].

    3 to 10 mA each [assumed], 22 uF at each input [read].
    """
    law = {"current": milliamperes * MILLI, "capacitance": 22e-6, "minimum_voltage": least}
    nodes = [source(9.0), *(fed(k, **law) for k in range(1, 130)), fed(130, **{**law, **last})]
    feed = rk.FeedConductors(wires=wires)
    return rk.daisy_chain(nodes, spacing="0.5 m", cable=AWG24, feed=feed, name="C38")


def last_of(bus: rk.Bus) -> float:
    return rk.analysis.feed_levels(bus).devices.at("device-130").voltage.nominal


@pytest.mark.parametrize(("milliamperes", "wires", "left"), [(3.0, 3, 8.29), (10.0, 3, 6.63), (10.0, 1, 1.9)])
def test_c38_voltage_at_the_end(milliamperes, wires, left):
    """The derived figures spread the current evenly, I R / 2; 130 steps give (1 + 1/130) times the drop."""
    loop = 65.0 * 2 * 84.2e-3 / wires
    drop = 0.5 * 130 * milliamperes * MILLI * loop
    assert 9.0 - drop == pytest.approx(left, abs=0.02)
    assert 9.0 - last_of(c38(milliamperes, wires, least=None)) == exactly(drop * (1 + 1 / 130))


def test_c38_current_and_charge_of_the_source():
    row = rk.analysis.feed_levels(c38(3.0)).sources.at("source")
    assert row.current.nominal == exactly(0.39)
    assert row.charge == pytest.approx(25.7e-3, abs=0.05e-3)


def test_c38_a_driver_at_the_far_end():
    """60 mA more through 3.65 ohm [derived]."""
    more = last_of(c38(3.0)) - last_of(c38(3.0, current=63.0 * MILLI))
    assert more == pytest.approx(0.22, abs=0.005)


def test_c38_common_of_the_last_is_half_of_the_drop_above_the_first():
    levels = rk.analysis.feed_levels(c38(10.0))
    assert levels.grounds.at("device-130").shift.nominal == exactly((9.0 - last_of(c38(10.0))) / 2)


def test_c38_three_wires_do_and_one_does_not():
    assert verdict_of(c38(3.0), LOW) == "pass"
    assert verdict_of(c38(10.0, 3), LOW) == "pass"
    assert verdict_of(c38(10.0, 1), LOW) == "fail"


# --- C39: a loose pin as ground (repository infinitesp, issue 39) ----------------------------------------------------


def c39(milliamperes: float, ohms: float) -> rk.Bus:
    """5 V [read] over a good plus and a bad minus; the module sees 1.8 V [read] and wants 4.5 V [assumed]."""
    cable = rk.Cable(name="ribbon", conductor_resistance=1e-3, reference_resistance=10.0)
    nodes = [source(5.0), fed(1, current=milliamperes * MILLI, minimum_voltage=4.5)]
    feed = rk.FeedConductors(wires=100, common_return=True)
    return rk.daisy_chain(nodes, spacing=ohms / 10.0, cable=cable, reference_conductor=True, feed=feed, name="C39")


@pytest.mark.parametrize(("milliamperes", "ohms"), [(1.0, 3200.0), (5.0, 640.0), (10.0, 320.0)])
def test_c39_what_the_module_sees_and_where_its_ground_is(milliamperes, ohms):
    """3.2 V are lost in the return [derived], and are a shift of the module's ground as well."""
    bus = c39(milliamperes, ohms)
    assert verdict_of(bus, LOW) == "fail"
    # one that draws this current whatever it sees
    levels = rk.analysis.feed_levels(bus.replace_node(fed(1, current=milliamperes * MILLI)))
    assert levels.grounds.at("device-1").shift.nominal == exactly(3.2)
    assert levels.devices.at("device-1").voltage.nominal == pytest.approx(1.8, abs=5e-3)


# --- C40: a call bus fed along (easymanua.ls, manual 713317, page 8) -------------------------------------------------


def c40(
    mohms: float, amperes: float, count: int, length: float = 100.0, *, least: float | None = 8.0
) -> rk.Bus:
    """12 V [read], a base must see 8 V [read]; `count` bases evenly along share the current [assumed]."""
    cable = rk.Cable(name="feed", conductor_resistance=mohms * MILLI)
    nodes = [source(12.0), *(fed(k, current=amperes / count, minimum_voltage=least) for k in range(1, count + 1))]
    return rk.daisy_chain(nodes, spacing=length / count, cable=cable, feed=rk.FeedConductors(), name="C40")


@pytest.mark.parametrize(
    ("mohms", "at_the_end", "spread"), [(84.2, 0.24, 0.47), (34.5, 0.58, 1.16), (17.25, 1.16, 2.32)]
)  # fmt: skip
def test_c40_what_100_m_can_feed(mohms, at_the_end, spread):
    for amperes, count in ((at_the_end, 1), (spread, 200)):
        found = rk.analysis.feed_levels(c40(mohms, amperes, count, least=None)).devices
        assert found.at(f"device-{count}").voltage.nominal == pytest.approx(8.0, abs=0.05)
        twice = rk.analysis.feed_levels(c40(mohms, amperes / 2, count, 200.0, least=None)).devices
        assert twice.at(f"device-{count}").voltage.nominal == pytest.approx(8.0, abs=0.05)


def test_c40_the_far_ground_stands_two_volts_above_the_near_one():
    levels = rk.analysis.feed_levels(c40(84.2, 0.2375, 1))
    assert levels.grounds.at("device-1").shift.nominal == pytest.approx(2.0, abs=0.01)


def test_c40_a_tenth_more_fails():
    assert verdict_of(c40(84.2, 0.24 * 1.1, 1), LOW) == "fail"
    assert verdict_of(c40(84.2, 0.24 * 0.7, 1), LOW) == "pass"


# --- C42: an isolated node as its feed drops (mikrocontroller.net, attachment 677150) --------------------------------

MEASURED = ((5.03, 31.7), (3.32, 47.8), (2.52, 78.9), (2.13, 116.0))
IDLE = 5.03 * 31.7 * MILLI


def c42(loop: float, count: int = 1, **law: object) -> rk.Bus:
    """`count` nodes of 159 mW [derived] at the end of a loop of 24 AWG on 5 V."""
    drawn = law or {"power": IDLE * count}
    nodes = [source(5.0), fed(1, minimum_voltage=0.5, **drawn)]
    length = loop / (2 * 84.2e-3)
    return rk.daisy_chain(nodes, spacing=length, cable=AWG24, feed=rk.FeedConductors(), name="C42")


def test_c42_draws_more_current_as_its_feed_drops():
    """159, 159, 199 and 247 mW [derived]: constant power at first, worse below 3 V."""
    powers = [volts * milliamperes for volts, milliamperes in MEASURED]
    assert powers == pytest.approx([159, 159, 199, 247], abs=0.6)
    near, far = (rk.analysis.feed_levels(c42(loop)).devices.at("device-1").current.nominal for loop in (1.0, 35.0))
    assert far > 1.3 * near


@pytest.mark.parametrize(("count", "loop", "metres"), [(1, 39.0, 233.0), (4, 9.8, 58.0), (8, 4.9, 29.0)])
def test_c42_collapse(count, loop, metres):
    """V^2 / (4 n P) is the last loop [derived]."""
    edge = 25.0 / (4 * count * IDLE)
    assert edge == pytest.approx(loop, abs=0.4)
    assert edge / (2 * 84.2e-3) == pytest.approx(metres, abs=1.0)
    assert rk.analysis.feed_levels(c42(edge * (1 - 1e-6), count)).all_running
    assert not rk.analysis.feed_levels(c42(edge * (1 + 1e-6), count)).all_running
    assert verdict_of(c42(edge * 1.01, count), LOW) == "fail"
    assert verdict_of(c42(edge * 0.97, count), "feed.near-collapse") == "marginal"


def test_c42_a_fixed_current_misses_the_collapse():
    """31.7 mA through 39 ohm leave 3.76 V [derived], where there is nothing left of a constant power."""
    steady = rk.analysis.feed_levels(c42(39.0, current=31.7 * MILLI))
    assert steady.devices.at("device-1").voltage.nominal == pytest.approx(3.76, abs=0.005)
    assert math.isclose(rk.analysis.feed_levels(c42(39.0)).load_factor.nominal, 25.0 / (4 * 39.0 * IDLE), rel_tol=1e-6)
