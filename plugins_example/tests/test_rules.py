"""Every rule of the district: held to what rs485kit relies on, and to what the district means by it."""

from pathlib import Path

import attrs
import pytest
from canal_rules import plugin
from canal_rules.rules import RULES, outdoor_unprotected, room_too_small, stub_too_long, stubs
from hypothesis import given
from hypothesis import strategies as st

import rs485kit as rk
from rs485kit.testing import assert_passes, check_rule

EXAMPLES = Path(__file__).parents[1] / "examples"
GATE = rk.catalogue.transceiver("canal.outdoor-gate")
DITCH = rk.catalogue.cable("canal.ditch")
BARRIER = rk.Barrier(isolator=rk.catalogue.isolator("canal.outdoor"))


def section(*, part=GATE, barrier=BARRIER, stub="0.4 m", gates=3):
    """A pump house and some gates, of which the second hangs on a stub."""
    nodes = [rk.Node(name="pump-house", transceiver=GATE)]
    nodes += [rk.Node(name=f"gate-{number}", transceiver=part, barrier=barrier) for number in range(1, gates + 1)]
    return rk.daisy_chain(nodes, spacing="100 m", cable=DITCH, stub={"gate-1": stub}, name="section")


UNTESTED = attrs.evolve(GATE, name="a part nobody has tested")
HEAVY = attrs.evolve(GATE, unit_load=8.0)
UNSTATED = attrs.evolve(GATE, unit_load=None)


@pytest.mark.parametrize(
    ("rule", "fires", "passes", "lacks"),
    [
        (outdoor_unprotected, section(barrier=None), section(), section(part=UNTESTED)),
        (stub_too_long, section(stub="3.5 m"), section(), ()),
        (room_too_small, section(part=HEAVY), section(), section(part=UNSTATED)),
    ],
    ids=[rule.name for rule in RULES],
)
def test_rule(rule, fires, passes, lacks):
    check_rule(rule, fires=fires, passes=passes, lacks=lacks)


def test_every_rule_is_in_the_plugin():
    assert plugin.rules == RULES


def test_the_surge_class_can_be_set():
    (found,) = outdoor_unprotected(rk.Analyses(section(gates=1)), settings={"least": "6 kV"})
    assert (found.verdict, found.measured, found.limit) == ("fail", 4000.0, 6000.0)


@given(length=st.floats(0.01, 50.0))
def test_a_stub_is_as_long_as_its_cable(length):
    (stub,) = stubs(section(stub=length))
    assert (stub.node, stub.length) == ("gate-1", pytest.approx(length))


@pytest.mark.parametrize("gates", [1, 5, 60])
def test_a_node_more_is_room_for_one_less(gates):
    def room(count):
        return room_too_small(rk.Analyses(section(gates=count)))[0].measured

    assert room(gates) - room(gates + 1) == 1


def test_the_example_passes_under_the_policy_of_the_district():
    from datetime import date

    policy = rk.files.load_policy(EXAMPLES / "district_policy.toml")
    bus = rk.load_bus(EXAMPLES / "section_5.toml")
    assert_passes(rk.check(bus, policy=policy, today=date(2027, 1, 15)))
    assert not rk.check(bus, policy=policy, today=date(2027, 4, 1)).passed
