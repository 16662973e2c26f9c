"""What holds for the insulation of any barrier: more demand never passes more, unknown never passes, order is nothing."""

import attrs
from hypothesis import given, settings
from hypothesis import strategies as st

import rs485kit as rk
from rs485kit.analysis import insulation
from rs485kit.testing import isolated_supplies, isolators

RANK = {"not met": 0, "not checked": 1, "met": 2}
heights = st.floats(0.0, 6000.0)
volts = st.floats(30.0, 600.0)


def bus_of(barrier: rk.Barrier, *, system: float, height: float, category: int = 2, degree: int = 2) -> rk.Bus:
    circuit = rk.Circuit(
        hazard="hazardous", working_voltage_rms=system, working_voltage_peak=1.414 * system,
        system_voltage_rms=system, overvoltage_category=category,
    )  # fmt: skip
    site = rk.Environment(pollution_degree=degree, altitude=height)
    return rk.Bus(nodes=rk.Node(name="gate", barrier=barrier, circuit=circuit), environment=site)


@st.composite
def barriers(draw: st.DrawFn) -> rk.Barrier:
    bridges = [
        rk.Bridge(name=kind, kind=kind, clearance=draw(st.floats(1e-3, 2e-2)), creepage=draw(st.floats(1e-3, 3e-2)),
                  material_group=draw(st.sampled_from(["I", "II", "IIIa"])))
        for kind in ("board", "connector")
    ]  # fmt: skip
    return rk.Barrier(
        isolator=draw(isolators(complete=True)), supply=draw(isolated_supplies(complete=True)), bridges=bridges
    )


def demands(bus: rk.Bus) -> dict[tuple[str, str], float]:
    return {(each.element, each.requirement): each.demand for each in insulation(bus).at("gate").checks}


@given(barriers(), volts, volts, heights, heights, st.integers(1, 3), st.integers(1, 2))
@settings(deadline=None, max_examples=40)
def test_more_voltage_height_category_or_dirt_never_asks_for_less(barrier, first, more, low, up, category, degree):
    less = bus_of(barrier, system=min(first, more), height=min(low, up), category=category, degree=degree)
    greater = bus_of(barrier, system=max(first, more), height=max(low, up), category=category + 1, degree=degree + 1)
    before, after = demands(less), demands(greater)
    assert all(not after[key] < before[key] * (1.0 - 1e-12) for key in before)
    assert RANK[insulation(greater).at("gate").status] <= RANK[insulation(less).at("gate").status]


@given(barriers(), volts, st.sampled_from(["isolator", "supply"]), st.sampled_from([
    "insulation", "withstand_voltage_rms", "working_voltage_rms", "working_voltage_peak", "impulse_voltage_peak",
    "clearance", "creepage", "material_group",
]))  # fmt: skip
@settings(deadline=None, max_examples=40)
def test_what_is_not_stated_never_passes(barrier, system, element, field):
    part = attrs.evolve(getattr(barrier, element), **{field: None})
    blank = attrs.evolve(barrier, **{element: part})
    bus = bus_of(blank, system=system, height=100.0)
    assert insulation(bus).at("gate").status != "met"
    assert not rk.check(bus, policy=rk.Policy(select="insulation.*")).passed


@given(barriers(), volts)
@settings(deadline=None, max_examples=25)
def test_a_further_part_across_a_barrier_never_helps(barrier, system):
    more = attrs.evolve(barrier, others=rk.Isolator(name="coupler", insulation="basic"))
    first, second = (insulation(bus_of(each, system=system, height=0.0)).at("gate").status for each in (barrier, more))
    assert RANK[second] <= RANK[first]
