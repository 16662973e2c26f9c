"""A barrier as a whole: the weakest element, capacitances added, delays by purpose."""

import math

import attrs
import pytest

import rs485kit as rk
from rs485kit.errors import InputError

DATA = rk.Isolator(
    name="data", insulation="reinforced", withstand_voltage_rms=5000, working_voltage_rms=1000,
    working_voltage_peak=1414, impulse_voltage_peak=8000, surge_voltage_peak=10e3, clearance=8e-3, creepage=8e-3,
    transient_immunity=50e9, transient_immunity_static=100e9, capacitance=1e-12,
    channels=[
        rk.Channel(purpose="transmit", delay={"min": 10e-9, "max": 20e-9}, pulse_distortion=3e-9),
        rk.Channel(purpose="enable", delay={"min": 15e-9, "max": 40e-9}, pulse_distortion=5e-9),
    ],
)  # fmt: skip
SUPPLY = rk.IsolatedSupply(
    name="module", insulation="basic", withstand_voltage_rms=3000, working_voltage_rms=300, working_voltage_peak=424,
    impulse_voltage_peak=4000, surge_voltage_peak=5e3, clearance=3e-3, creepage=4e-3, capacitance=40e-12,
)  # fmt: skip
BARRIER = rk.Barrier(isolator=DATA, supply=SUPPLY)
BOARD = rk.Bridge(name="slot", kind="board", clearance=2.5e-3, creepage=6e-3, material_group="IIIa")
OPTO = attrs.evolve(DATA, name="opto", transient_immunity=10e9, channels=(), capacitance=0.8e-12)


def test_the_weakest_decides_and_capacitances_add():
    whole = rk.analysis.barrier_figures(attrs.evolve(BARRIER, others=OPTO, bridges=BOARD))
    assert whole.insulation == "basic"
    assert (whole.withstand_voltage_rms, whole.working_voltage_rms, whole.working_voltage_peak) == (3000, 300, 424)
    assert (whole.impulse_voltage_peak, whole.surge_voltage_peak) == (4000, 5000)
    assert (whole.clearance, whole.creepage) == (2.5e-3, 4e-3)
    assert (whole.transient_immunity, whole.transient_immunity_static) == (10e9, 100e9)
    assert whole.capacitance == pytest.approx(41.8e-12)
    assert not whole.missing


def test_the_supply_carries_40_of_41_pf():
    assert rk.analysis.barrier_figures(BARRIER).supply_share == pytest.approx(40 / 41)


def test_what_transmit_and_enable_may_lead_one_another_by():
    whole = rk.analysis.barrier_figures(BARRIER)
    assert whole.channel_skew == pytest.approx(30e-9)
    assert [(each.purpose, each.delay) for each in whole.channels] == [("transmit", 20e-9), ("enable", 40e-9)]


@pytest.mark.parametrize("field", ["withstand_voltage_rms", "working_voltage_rms", "working_voltage_peak",
                                   "impulse_voltage_peak", "surge_voltage_peak", "clearance", "creepage"])  # fmt: skip
@pytest.mark.parametrize("place", ["isolator", "supply"])
def test_a_rating_that_one_part_does_not_state_is_not_known_of_the_whole(place, field):
    less = attrs.evolve(BARRIER, **{place: attrs.evolve(getattr(BARRIER, place), **{field: None})})
    whole = rk.analysis.barrier_figures(less)
    assert math.isnan(getattr(whole, field))
    assert (field, place) in whole.missing


@pytest.mark.parametrize("place", ["isolator", "supply"])
def test_a_part_that_is_not_described_leaves_everything_open(place):
    whole = rk.analysis.barrier_figures(attrs.evolve(BARRIER, **{place: None}))
    assert whole.insulation == ""
    assert math.isnan(whole.working_voltage_rms)
    assert math.isnan(whole.clearance)
    assert math.isnan(whole.capacitance)


def test_a_capacitor_is_no_board():
    whole = rk.analysis.barrier_figures(attrs.evolve(BARRIER, bridges=rk.Bridge(name="Y", kind="capacitor")))
    assert whole.insulation == ""
    assert math.isnan(whole.capacitance)
    assert math.isnan(whole.working_voltage_rms)


def test_an_element_more_never_makes_a_rating_better():
    alone, more = (rk.analysis.barrier_figures(each) for each in (BARRIER, attrs.evolve(BARRIER, bridges=BOARD)))
    for name in ("withstand_voltage_rms", "clearance", "creepage", "impulse_voltage_peak"):
        assert getattr(more, name) <= getattr(alone, name)


def test_two_side_by_side():
    both = rk.analysis.compare_barriers(BARRIER, attrs.evolve(BARRIER, supply=None))
    rows = {row["quantity"]: row for row in both.to_records()}
    assert rows["clearance"]["second"] is None
    assert rows["clearance"]["better"] == ""
    strong = attrs.evolve(BARRIER, supply=attrs.evolve(SUPPLY, insulation="reinforced", capacitance=60e-12))
    rows = {row["quantity"]: row for row in rk.analysis.compare_barriers(BARRIER, strong).to_records()}
    assert (rows["insulation"]["better"], rows["capacitance"]["better"]) == ("second", "first")


@pytest.mark.parametrize("given", [None, "outdoor", DATA])
def test_what_is_no_barrier(given):
    with pytest.raises(InputError, match="a Barrier"):
        rk.analysis.barrier_figures(given)
