"""What the tests of plugins share: a scratch environment on the search path, and a small bus."""

import sys

import pytest

import rs485kit as rk
from rs485kit import discovery

PART = rk.Transceiver(name="eighth load", unit_load=0.125, receiver_upper_threshold="200 mV")


@pytest.fixture
def canal():
    """A bus of two gates and a gauge, about which the library itself has something to say."""
    nodes = [rk.Node(name=name, transceiver=PART) for name in ("gate-1", "gate-2", "gauge")]
    return rk.daisy_chain(nodes, spacing="100 m", name="canal", earths=rk.Earth(name="sluice"))


@pytest.fixture
def reach(monkeypatch):
    """Return a function that puts a scratch environment on the search path, and takes it off after the test."""
    monkeypatch.delenv(discovery.SWITCH, raising=False)
    before = set(sys.modules)

    def put(folder):
        monkeypatch.syspath_prepend(str(folder))

    yield put
    for name in set(sys.modules) - before:
        if getattr(sys.modules[name], "__file__", None) and "scratch" in str(sys.modules[name].__file__):
            del sys.modules[name]
