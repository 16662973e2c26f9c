"""Every stock part is what rs485kit relies on."""

import pytest

import rs485kit as rk
from rs485kit import catalogue
from rs485kit.testing import check_part

PARTS = [
    name
    for kind in ("transceivers", "cables", "isolators", "isolated_supplies", "protectors")
    for name in catalogue.names(kind)
    if name.startswith("canal.")
]


def test_the_parts_are_installed():
    assert PARTS == ["canal.outdoor-gate", "canal.ditch", "canal.outdoor"]


@pytest.mark.parametrize("name", PARTS)
def test_part(name):
    check_part(name)


def test_a_gate_states_what_every_rule_asks_for():
    needs = ("unit_load", "receiver_upper_threshold", "driver_loaded_voltage", "driver_edge_time")
    check_part("canal.outdoor-gate", needs=needs)
    assert catalogue.part(rk.Transceiver, "canal.outdoor-gate").unit_load == 0.125
