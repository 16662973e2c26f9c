"""Corners, worst sequences and traces of one path, and how a line is used."""

import math

import attrs
import numpy as np
import pytest

from canal_signals import END, PAIR, PART, canal, near, node, with_figures
from rs485kit import Analyses, Bus, Link, Termination, analysis, daisy_chain
from rs485kit.errors import MissingDataError
from rs485kit.formulas import propagation_velocity
from rs485kit.units import MinTypMax

# --- corners, sequences, traces -----------------------------------------------------------------------------


def test_the_adverse_corner_is_never_better_and_says_what_it_took():
    bus = canal(400.0, cable=attrs.evolve(
        PAIR, conductor_resistance="84.2 ohm/km +/- 10 %", characteristic_impedance="120 ohm +/- 10 %",
        velocity_factor=(0.65, 0.66, 0.7),
    ), tail={"terminations": Termination(resistance="120 ohm +/- 5 %")})  # fmt: skip
    wide = MinTypMax(min=50e-9, typ=100e-9, max=300e-9)
    for name in ("pump-house", "gauge", "gate"):
        bus = with_figures(
            bus, name, driver_edge_time=wide, capacitance=(5e-12, 20e-12, 35e-12), driver_loaded_voltage=(1.5, 2.2, 5.0)
        )
    shared = Analyses(bus)
    nominal, adverse = analysis.worst_eyes(shared), analysis.worst_eyes(shared, corner="adverse")
    assert nominal.corner == "nominal"
    assert adverse.corner.startswith("adverse, as found by a search: ")
    assert "conductor_resistance max" in adverse.corner
    assert "drive min" in adverse.corner
    assert adverse.height.min() < nominal.height.min() - 0.1


@pytest.mark.parametrize(
    "bus",
    [
        canal(), canal(head={"terminations": ()}),
        # 30 ohm, where the guaranteed level, which holds down to 54 ohm, is above the solved one
        canal(2.0, rate=Link(data_rate=9600), head={"terminations": (END, END)}, tail={"terminations": (END, END)}),
    ],
    ids=["ended", "open", "four terminators"],
)  # fmt: skip
def test_the_adverse_corner_of_exact_figures_is_no_better_either(bus):
    assert analysis.worst_eyes(bus, corner="adverse").height.min() <= analysis.worst_eyes(bus).height.min()


def test_the_sequence_is_what_it_says():
    bus = canal(600.0, rate=Link(data_rate="2 Mbit/s"))
    row = analysis.worst_eyes(bus).between("gate", "pump-house")
    found = analysis.worst_sequence(bus, "gate", "pump-house")
    assert (found.driver, found.receiver, found.phase) == ("gate", "pump-house", near(row.phase))
    assert found.mark_bits[found.mark_judged]
    assert not found.space_bits[found.space_judged]
    assert found.mark_level - 0.2 == near(row.mark_margin, 1e-6)
    assert -0.2 - found.space_level == near(row.space_margin, 1e-6)


def test_traces_are_folded_from_random_bits_and_lie_outside_the_worst_case():
    bus = canal(600.0, rate=Link(data_rate="2 Mbit/s"))
    row = analysis.worst_eyes(bus).between("gate", "pump-house")
    traces = analysis.eye(bus, "gate", "pump-house", bits=400, seed=7)
    assert traces.time[-1] == near(2.0 * traces.interval)
    assert traces.traces.shape[1] == len(traces.time)
    assert traces.traces.shape[0] > 300
    assert (traces.upper_threshold, traces.lower_threshold, traces.delay) == (0.2, -0.2, row.phase)
    again = analysis.eye(bus, "gate", "pump-house", bits=400, seed=7)
    assert (again.traces == traces.traces).all()
    assert (analysis.eye(bus, "gate", "pump-house", bits=400, seed=8).traces[:300] != traces.traces[:300]).any()
    within = traces.delay % traces.interval
    seen = traces.traces[:, round(within / traces.time[1])]
    marks, spaces = seen[seen > 0.0], seen[seen < 0.0]
    assert marks.min() >= row.mark_margin + 0.2 - 1e-9
    assert spaces.max() <= -0.2 - row.space_margin + 1e-9
    assert min(len(marks), len(spaces)) > 100


def test_jitter_moves_edges_and_not_levels():
    bus = canal()
    still = analysis.eye(bus, "gate", "gauge", bits=64)
    shaken = analysis.eye(bus, "gate", "gauge", bits=64, jitter=20e-9)
    apart = np.abs(shaken.traces - still.traces)
    assert apart.max() > 0.2
    assert np.median(apart) < 1e-2
    assert shaken.traces.max() == pytest.approx(still.traces.max(), abs=0.02)


# --- how a line is used -------------------------------------------------------------------------------------


def test_130_nodes_at_half_a_metre_make_80_ohm_of_100():
    """Published with 52 pF/m of cable and 15 pF of every node: about 80 ohm and 0.8 of the speed [case C38]."""
    part = attrs.evolve(PART, capacitance="15 pF")
    factor = 1.0 / (100.0 * 52e-12) / 299792458.0
    cable = attrs.evolve(PAIR, characteristic_impedance="100 ohm", velocity_factor=factor)
    nodes = [node(f"gauge-{number}", transceiver=part) for number in range(130)]
    loading = analysis.line_loading(daisy_chain(nodes, spacing="0.5 m", cable=cable))
    assert loading.length == near(64.5)
    assert loading.capacitance == near(130 * 15e-12)
    assert loading.impedance == near(100.0)
    assert loading.loaded_impedance == pytest.approx(80.0, abs=0.5)
    assert loading.loaded_velocity_factor / loading.velocity_factor == pytest.approx(0.8, abs=0.005)
    assert (loading.missing, set(loading.ends)) == ((), {"gauge-0", "gauge-129"})


def test_stubs_load_with_their_cable_and_what_hangs_on_it():
    bus = daisy_chain(list(canal().nodes), spacing=75.0, cable=PAIR, stub={"gauge": 2.0})
    bare = analysis.line_loading(canal()).capacitance
    per_metre = 1.0 / (120.0 * propagation_velocity(0.66))
    assert analysis.line_loading(bus).capacitance - bare == pytest.approx(2.0 * per_metre, rel=0.05)
    boarded = canal().replace_node(node("gauge", capacitance="40 pF"))
    assert analysis.line_loading(boarded).capacitance - bare == near(40e-12)


def test_line_loading_names_what_it_lacks():
    bus = canal(cable=attrs.evolve(PAIR, velocity_factor=None, capacitance="40 pF/m"))
    with pytest.raises(MissingDataError) as caught:
        analysis.line_loading(bus)
    assert caught.value.missing == ('cable "pair" velocity_factor',)
    with pytest.raises(MissingDataError, match="two places that cable joins"):
        analysis.line_loading(Bus(nodes=node("gate")))


@pytest.mark.parametrize("demand", [{}, {"least_height": 0.8, "least_width": 0.6}])
def test_the_slowest_edge_passes_and_one_well_beyond_fails(demand):
    bus = canal(300.0)
    found = analysis.slowest_edge(bus, **demand)
    assert 100e-9 < found.edge < 2e-6
    assert found.fitted == near(100e-9)
    assert set(found.drivers) <= {"pump-house", "gauge", "gate"}

    def good(edge: float) -> bool:
        slower = bus
        for name in ("pump-house", "gauge", "gate"):
            slower = with_figures(slower, name, driver_edge_time=edge)
        eyes = analysis.worst_eyes(slower)
        return eyes.height.min() >= found.least_height and eyes.width.min() >= found.least_width

    assert good(0.995 * found.edge)
    assert not good(1.3 * found.edge)


def test_no_edge_is_slow_enough_where_no_edge_will_do():
    far = canal(1200.0, rate=Link(data_rate="10 Mbit/s"))
    assert math.isnan(analysis.slowest_edge(far).edge)
