"""Terminations: where lines end, what stands across the pair, loads of drivers, heat in resistors."""

import math
import pickle

import attrs
import numpy as np
import pytest

from rs485kit import (
    Analyses,
    Bias,
    Bus,
    Cable,
    CommonLink,
    Earth,
    Node,
    Segment,
    Termination,
    Transceiver,
    analysis,
    daisy_chain,
    formulas,
)
from rs485kit.errors import InputError, UnknownNameError
from rs485kit.network import idle_network
from rs485kit.solvers.nodal import potentials

ALGEBRA = 1e-9
C = 299_792_458.0

# draws nothing, so that the closed forms hold to the last digit
METER = Transceiver(
    name="draws nothing", unit_load=0.0, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV",
)  # fmt: skip
FULL = attrs.evolve(METER, name="full load", unit_load=1.0)
PAIR = Cable(
    name="24 AWG pair", conductor_resistance="84.22 ohm/km", characteristic_impedance="120 ohm", velocity_factor=0.66
)
HUNDRED = attrs.evolve(PAIR, name="100 ohm pair", characteristic_impedance="100 ohm")
END = Termination(resistance="120 ohm")
BIAS = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
ACTIVE = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm", supply="5 V")


def near(value):
    return pytest.approx(value, rel=ALGEBRA, abs=ALGEBRA)


def chain(*nodes, spacing="600 m", cable=PAIR, **fields):
    """A chain of nodes given as mappings, named head, second, third and so on."""
    names = ("head", "second", "third", "fourth", "fifth")
    made = [Node(**{"name": name, "transceiver": METER, **node}) for name, node in zip(names, nodes, strict=False)]
    return daisy_chain(made, spacing=spacing, cable=cable, **fields)


def ended(*middle, transceiver=METER, **fields):
    """A chain with a terminator at either end."""
    end = {"terminations": END, "transceiver": transceiver}
    return chain(end, *middle, end, **fields)


def graph(lengths, *, fitted=None, cable=PAIR):
    """A bus of segments given as "a-b": length."""
    pairs = [(*key.split("-"), length) for key, length in lengths.items()]
    names = dict.fromkeys(name for start, end, _ in pairs for name in (start, end))
    nodes = [
        Node(name=name, transceiver=None if name.endswith(".tap") else METER, terminations=(fitted or {}).get(name))
        for name in names
    ]
    return Bus(nodes=nodes, segments=[Segment(start=a, end=b, length=m, cable=cable) for a, b, m in pairs])


# --- what is refused, and what is missing ----------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [lambda power: Termination(resistance=120, power=power), lambda power: Bias(pull_up=510, power=power)])
@pytest.mark.parametrize(("given", "words"), [("0 W", "at least 0.001"), ("250 V", "W"), ("-1 W", "power"), (math.nan, "power")])
def test_rating_of_a_resistor_is_a_power(kind, given, words):
    with pytest.raises(InputError, match=words):
        kind(given)
    assert kind("250 mW").power == 0.25
    assert kind(None).power is None


@pytest.mark.parametrize("table", ["fitted", "driver_load", "resistors"])
def test_row_that_is_not_there_is_answered_with_near_names(table):
    found = getattr(analysis.terminations(ended()), table)
    with pytest.raises(UnknownNameError) as caught:
        found.at("haed")
    assert caught.value.near == ("head",)


def test_tables_without_rows():
    found = analysis.terminations(Bus(nodes=Node(name="tap")))
    assert (len(found.fitted), len(found.driver_load), len(found.resistors)) == (0, 0, 0)
    assert found.ends == ("tap",)
    assert found.length.tolist() == [0.0]
    with pytest.raises(UnknownNameError, match="no row"):
        _ = found.fitted.worst


def test_unstated_impedance_leaves_the_reflection_unknown_and_is_named():
    found = analysis.terminations(ended(cable=attrs.evolve(PAIR, characteristic_impedance=None))).fitted
    assert np.isnan(found.reflection.nominal).all()
    assert found.missing[0] == ("head", 'cable "24 AWG pair" characteristic_impedance')
    assert found.resistance.nominal.tolist() == near([120.0, 120.0])


def test_unstated_cable_leaves_everything_unknown_but_the_ends():
    bus = ended(cable=None)
    found = analysis.terminations(bus)
    assert found.ends == ("head", "second")
    assert ("head", 'segments["head" - "second"].cable') in found.fitted.missing
    assert ("head", 'segments["head" - "second"].cable') in found.missing
    assert np.isnan(found.driver_load.resistance.nominal).all()
    assert 'segments["head" - "second"].cable' in found.driver_load.unstated
    assert np.isnan(found.resistors.heat.nominal).all()


def test_terminator_on_a_node_without_cable():
    found = analysis.terminations(Bus(nodes=Node(name="alone", transceiver=METER, terminations=END))).fitted.at("alone")
    assert found.place == "end"
    assert math.isnan(found.reflection.nominal)


def test_impedance_without_limits_leaves_those_of_the_reflection_unknown():
    found = analysis.terminations(ended(cable=attrs.evolve(PAIR, characteristic_impedance=(None, 100, None)))).fitted
    row = found.at("head")
    assert row.reflection.nominal == near(1 / 11)
    assert math.isnan(row.reflection.lower)
    assert any("characteristic_impedance (its m" in each for each in found.unstated)


def test_unstated_velocity_leaves_the_delay_unknown_and_is_named():
    found = analysis.terminations(chain({}, {}, cable=attrs.evolve(PAIR, velocity_factor=None)))
    assert np.isnan(found.delay.nominal).all()
    assert found.missing == (
        ("head", 'cable "24 AWG pair" velocity_factor'),
        ("second", 'cable "24 AWG pair" velocity_factor'),
    )
    assert found.length.tolist() == [600.0, 600.0]


def test_unstated_driver_leaves_current_and_heat_unknown_but_not_the_load():
    silent = attrs.evolve(METER, driver_open_voltage=None)
    found = analysis.terminations(ended({"transceiver": silent}))
    assert found.driver_load.at("second").resistance.nominal == near(1 / (2 / (120 + 2 * 0.08422 * 600)))
    assert math.isnan(found.driver_load.at("second").current.nominal)
    assert not math.isnan(found.driver_load.at("head").current.nominal)
    assert ("second", "transceiver.driver_open_voltage (its max)") in found.driver_load.missing
    assert np.isnan(found.resistors.heat.nominal).all()
    assert ("second", "transceiver.driver_open_voltage (its typical value)") in found.resistors.missing


# --- ends, lines and stubs -------------------------------------------------------------------------------------------


def test_ends_of_a_trunk_are_those_of_the_bus_and_stubs_are_none():
    nodes = [Node(name=f"gate-{n}", transceiver=METER) for n in range(5)]
    bus = daisy_chain(nodes, spacing="100 m", stub="3 m", cable=PAIR)
    found = analysis.terminations(bus)
    assert found.ends == bus.ends == ("gate-0", "gate-4")
    assert found.length.tolist() == [406.0, 406.0]
    assert found.delay.nominal.tolist() == near([406.0 / (0.66 * C)] * 2)


@pytest.mark.parametrize(
    ("lengths", "ends"),
    [
        # a star has as many ends as long runs, and a short run is a stub
        ({"hub-a": 100, "hub-b": 100, "hub-c": 100}, ("a", "b", "c")),
        ({"hub-a": 100, "hub-b": 100, "hub-c": 20}, ("a", "b")),
        ({"hub-a": 100, "hub-b": 100, "hub-c": 20.001}, ("a", "b", "c")),
        # what hangs on a long branch is judged by its own length
        ({"a-t": 300, "t-b": 300, "t-u": 59, "u-c": 1, "u-d": 0.9}, ("a", "b", "c")),
        ({"a-t": 300, "t-b": 300, "t-u": 59, "u-c": 1, "u-d": 21}, ("a", "b", "d")),
        ({"a-t": 300, "t-b": 300, "t-u": 59, "u-c": 30, "u-d": 31}, ("a", "b", "c", "d")),
        # a ring has none, a tail of a ring has one
        ({"a-b": 100, "b-c": 100, "c-a": 100}, ()),
        ({"a-b": 100, "b-c": 100, "c-a": 100, "c-d": 5}, ()),
        ({"a-b": 100, "b-c": 100, "c-a": 100, "c-d": 50}, ("d",)),
        # two parts, each with ends of its own
        ({"a-b": 100, "c-d": 50}, ("a", "b", "c", "d")),
        ({"a-b": 5}, ("a", "b")),
    ],
)
def test_ends_of_any_shape(lengths, ends):
    assert set(analysis.terminations(graph(lengths)).ends) == set(ends)


@pytest.mark.parametrize(
    ("lengths", "where", "place", "stub"),
    [
        ({"a-t": 300, "t-b": 300}, "a", "end", 0.0),
        ({"a-t": 300, "t-b": 300}, "t", "mid-line", 0.0),
        ({"a-t": 300, "t-b": 300, "t-s": 3}, "s", "stub", 3.0),
        ({"a-t": 300, "t-b": 300, "t-s": 3, "s-u": 4}, "u", "stub", 7.0),
        ({"a-t": 300, "t-b": 300, "t-c": 60}, "c", "end", 0.0),
        ({"a-b": 100, "b-c": 100, "c-a": 100}, "a", "mid-line", 0.0),
        # the box at the end of the trunk, from which the last device hangs
        ({"a-b.tap": 300, "b.tap-b": 2}, "b.tap", "end", 0.0),
        ({"a-b.tap": 300, "b.tap-b": 25}, "b.tap", "mid-line", 0.0),
        ({"a-t": 300, "t-b": 2}, "t", "mid-line", 0.0),
    ],
)
def test_place_of_a_terminator(lengths, where, place, stub):
    found = analysis.terminations(graph(lengths, fitted={where: END}))
    row = found.fitted.at(where)
    assert (row.place, row.stub) == (place, stub)
    assert bool(found.terminated) == (place == "end")


def test_bias_alone_terminates_nothing_and_neither_does_what_is_not_engaged():
    off = attrs.evolve(END, engaged=False)
    found = analysis.terminations(chain({"biases": BIAS}, {"terminations": off}))
    assert found.terminated == ()
    assert [row.kind for row in found.fitted] == ["bias", "none"]
    assert (found.fitted.at("second").engaged, found.fitted.at("second").disengaged) == (0, 1)
    assert found.fitted.at("second").resistance.nominal == math.inf
    assert found.fitted.at("second").reflection.nominal == near(1.0)
    assert len(found.resistors) == 2


# --- reflections, by published figures and closed forms --------------------------------------------------------------


def test_120_ohm_on_100_ohm_reflect_a_eleventh():
    assert analysis.terminations(ended(cable=HUNDRED)).fitted.at("head").reflection.nominal == near(0.0909090909090909)


def test_third_terminator_in_mid_line_reflects_a_third():
    found = analysis.terminations(ended({"terminations": END})).fitted
    assert found.at("second").reflection.nominal == near(-1 / 3)
    assert found.at("head").reflection.nominal == near(0.0)
    assert found.worst.node == "second"


def test_two_terminators_at_one_end_reflect_a_third():
    row = analysis.terminations(chain({"terminations": (END, END)}, {})).fitted.at("head")
    assert (row.kind, row.engaged) == ("resistive + resistive", 2)
    assert row.resistance.nominal == near(60.0)
    assert row.reflection.nominal == near(-1 / 3)


def test_terminator_on_a_stub_is_seen_where_the_stub_leaves():
    bus = graph({"a-t": 300, "t-b": 300, "t-s": 3}, fitted={"s": END})
    assert analysis.terminations(bus).fitted.at("s").reflection.nominal == near(-1 / 3)


def test_active_terminator_is_171_6_ohm():
    """The terminator of 390, 220 and 390 ohm: 171.6 ohm, which reflects 6.7 % on a cable of 150 ohm."""
    row = analysis.terminations(ended(cable=attrs.evolve(PAIR, characteristic_impedance="150 ohm"))).fitted.at("head")
    assert row.kind == "resistive"
    bus = chain({"terminations": ACTIVE}, {"terminations": ACTIVE}, cable=attrs.evolve(PAIR, characteristic_impedance="150 ohm"))
    row = analysis.terminations(bus).fitted.at("head")
    assert row.kind == "active"
    assert row.resistance.nominal == near(171.6)
    assert row.reflection.nominal == pytest.approx(0.067164, abs=5e-7)


def test_legs_beside_a_terminator_are_in_parallel():
    """120 ohm with a pair of 1.15 kohm: 114.05 ohm."""
    legs = Bias(pull_up="1.15 kohm", pull_down="1.15 kohm", supply="5 V")
    row = analysis.terminations(chain({"terminations": END, "biases": legs}, {})).fitted.at("head")
    assert row.kind == "resistive + bias"
    assert row.resistance.nominal == pytest.approx(114.05, abs=5e-3)
    assert row.resistance.nominal == near(formulas.biased_termination(120.0, 1150.0, 1150.0))


def test_leg_on_one_line_alone_closes_nothing():
    row = analysis.terminations(chain({"terminations": END, "biases": Bias(pull_up="510 ohm", supply="5 V")}, {})).fitted.at("head")
    assert row.resistance.nominal == near(120.0)


def test_hub_of_seven_runs_reflects_five_sevenths():
    """A star of seven equal runs sends -0.71 of an edge back at its hub; a terminator there adds to it."""
    lengths = {f"hub-r{n}": 100 for n in range(7)}
    bus = graph(lengths, fitted={"hub": Termination(resistance="1 Mohm")})
    assert analysis.terminations(bus).fitted.at("hub").reflection.nominal == pytest.approx(-5 / 7, abs=1e-3)


def test_where_cables_differ_the_worse_side_is_told():
    bus = Bus(
        nodes=[Node(name="a", transceiver=METER), Node(name="t", transceiver=METER, terminations=END), Node(name="b", transceiver=METER)],
        segments=[Segment(start="a", end="t", length=100, cable=PAIR), Segment(start="t", end="b", length=100, cable=HUNDRED)],
    )  # fmt: skip
    behind = 1 / (1 / 120 + 1 / 100)
    row = analysis.terminations(bus).fitted.at("t")
    assert row.reflection.nominal == near(formulas.reflection_coefficient(behind, 120.0))
    assert row.characteristic_impedance.nominal == 120.0


def test_limits_of_a_reflection_are_those_of_its_corners():
    cable = attrs.evolve(PAIR, characteristic_impedance=("108 ohm", "120 ohm", "132 ohm"))
    found = analysis.terminations(ended({"terminations": attrs.evolve(END, resistance="120 ohm +/- 5 %")}, cable=cable)).fitted
    row = found.at("second")
    corners = [formulas.midline_reflection_coefficient(r, z) for r in (114.0, 126.0) for z in (108.0, 132.0)]
    assert (row.reflection.lower, row.reflection.upper) == (near(min(corners)), near(max(corners)))
    assert (row.resistance.lower, row.resistance.upper) == (near(114.0), near(126.0))


def test_swapped_node_keeps_its_terminator():
    found = analysis.terminations(ended({"lines_swapped": True, "terminations": END, "biases": BIAS}))
    assert found.fitted.at("second").resistance.nominal == near(formulas.biased_termination(120.0, 510.0, 510.0))


# --- RC terminators --------------------------------------------------------------------------------------------------

RC = Termination(resistance="120 ohm", capacitance="1 nF +/- 10 %")


def test_rc_terminator_is_closed_for_an_edge_and_open_for_a_level():
    found = analysis.terminations(chain({"terminations": END}, {"terminations": RC}, spacing="100 m"))
    row = found.fitted.at("second")
    assert row.kind == "RC"
    assert row.resistance.nominal == near(120.0)
    assert (row.time_constant.lower, row.time_constant.nominal, row.time_constant.upper) == near((108e-9, 120e-9, 132e-9))
    assert row.delay.nominal == near(100.0 / (0.66 * C))
    assert math.isnan(found.fitted.at("head").time_constant.nominal)
    assert found.driver_load.at("head").resistance.nominal == near(120.0)
    assert found.terminated == ("head", "second")


def test_of_two_rc_terminators_the_faster_counts():
    row = analysis.terminations(chain({"terminations": (RC, attrs.evolve(RC, capacitance="10 nF"))}, {})).fitted.at("head")
    assert row.time_constant.nominal == near(120e-9)


# --- loads of drivers ------------------------------------------------------------------------------------------------


def test_long_pair_is_an_easier_load_than_its_terminators():
    """1200 m of 24 AWG with 120 ohm at both ends: 87.43 ohm."""
    row = analysis.terminations(ended(spacing="1.2 km")).driver_load.at("head")
    assert row.resistance.nominal == near(formulas.driver_load(120.0, 120.0, 2 * 0.08422 * 1200))
    assert row.resistance.nominal == pytest.approx(87.43, abs=5e-3)
    assert row.resistance.lower == near(row.resistance.nominal) == near(row.resistance.upper)
    assert row.driver_least_load == 54.0
    assert math.isnan(row.driver_current)


def test_two_terminators_one_bias_and_32_unit_loads_are_52_7_ohm():
    """52.67 ohm by the custom of 12 kohm, which is nominal and the least; at 15 kohm per unit load it is 53.4."""
    nodes = [{"terminations": END, "biases": BIAS, "transceiver": FULL}, {"terminations": END}]
    thirty_two = attrs.evolve(FULL, unit_load=31.0)
    nodes[1]["transceiver"] = thirty_two
    row = analysis.terminations(chain(*nodes, spacing="1 mm", cable=PAIR)).driver_load.at("head")
    assert row.resistance.nominal == pytest.approx(1 / (1 / 60 + 1 / 1020 + 1 / 750), rel=1e-4)
    assert row.resistance.lower == near(row.resistance.nominal)
    assert row.resistance.upper == pytest.approx(1 / (1 / 60 + 1 / 1020 + 1 / 937.5), rel=1e-4)


def test_limits_of_a_load_are_those_of_all_resistances_together():
    end = attrs.evolve(END, resistance="120 ohm +/- 1 %")
    cable = attrs.evolve(PAIR, conductor_resistance=("75.8 ohm/km", "84.2 ohm/km", "92.6 ohm/km"))
    row = analysis.terminations(chain({"terminations": end}, {"terminations": end}, spacing="1.2 km", cable=cable)).driver_load.at("head")
    assert row.resistance.lower == near(formulas.driver_load(118.8, 118.8, 2 * 0.0758 * 1200))
    assert row.resistance.upper == near(formulas.driver_load(121.2, 121.2, 2 * 0.0926 * 1200))


def test_bare_pair_is_no_load():
    row = analysis.terminations(chain({}, {})).driver_load.at("head")
    assert row.resistance.nominal == row.resistance.lower == row.resistance.upper == math.inf
    assert (row.current.nominal, row.current.upper) == (0.0, 0.0)


def test_current_is_against_the_idle_voltage():
    bus = chain({"terminations": END, "biases": BIAS}, {"terminations": END})
    row = analysis.terminations(bus).driver_load.at("head")
    inner = 54.0 * (3.5 / 2.2 - 1.0)
    idle = analysis.idle_levels(bus).at("head").voltage
    assert row.current.nominal == near((3.5 + idle.nominal) / (inner + row.resistance.nominal))
    assert row.current.upper == near((3.5 + idle.upper) / row.resistance.lower)


def test_supply_that_is_down_is_taken_as_the_heavier_load():
    bus = chain({"terminations": END, "biases": attrs.evolve(BIAS, supply_on=False)}, {"transceiver": FULL})
    row = analysis.terminations(bus).driver_load.at("second")
    assert row.resistance.lower <= row.resistance.nominal <= row.resistance.upper


@pytest.mark.parametrize("fields", [{"drives": False}, {"powered": False}, {"transceiver": None}])
def test_nodes_that_do_not_drive_have_no_row(fields):
    assert analysis.terminations(ended(fields)).driver_load.nodes == ("head", "third")


# --- active terminators, whose supply may be down --------------------------------------------------------------------


def active_ends(**of_tail):
    joined = {"common": CommonLink(resistance="0 ohm")}
    far = {"terminations": attrs.evolve(ACTIVE, supply=None), "transceiver": attrs.evolve(METER, supply_voltage="5 V")}
    wire = Cable(name="wire", conductor_resistance="1 mohm/m", reference_resistance="1 mohm/m")
    ends = [{"terminations": ACTIVE, **joined}, {**far, **joined, **of_tail}]
    return chain(*ends, spacing="1 mm", cable=wire, reference_conductor=True)


def test_active_terminators_with_both_supplies_up():
    """390/220/390 at both ends of a short line: 1.100 V."""
    assert analysis.idle_levels(active_ends()).at("head").voltage.nominal == pytest.approx(1.1, abs=5e-5)


def test_active_terminator_without_supply_is_tried_both_ways():
    """0.791 V with the supply pin of one end open, 0.550 V with it held at 0 V, which is the worse and counts."""
    down = active_ends(powered=False)
    assert analysis.idle_levels(down).at("head").voltage.nominal == pytest.approx(0.550, abs=5e-4)
    for rails, volts in (("open", 0.791), ("low", 0.550)):
        network = idle_network(down, rails=rails)
        injected = network.injected(network.emf[:, None])
        found = potentials(network.layout, network.branches, injected, network.fixed, network.given[:, None])[:, 0]
        first, second, _ = network.terminals[0]
        assert found[first] - found[second] == pytest.approx(volts, abs=5e-4)


def test_active_terminator_without_supply_still_meets_an_edge():
    assert analysis.terminations(active_ends(powered=False)).fitted.at("second").resistance.nominal == near(171.6)


# --- heat ------------------------------------------------------------------------------------------------------------


def test_heat_of_a_bias_leg_at_the_ends_of_the_common_mode_range():
    """510 ohm takes 282 mW if its line sits at -7 V (pull-up) or +12 V (pull-down)."""
    rows = list(analysis.terminations(ended({"biases": attrs.evolve(BIAS, power="0.25 W")})).resistors)
    legs = [row for row in rows if row.node == "second"]
    assert [row.resistor for row in legs] == ["biases[0].pull_up", "biases[0].pull_down"]
    assert [row.heat.upper for row in legs] == near([144.0 / 510.0] * 2)
    assert [row.power for row in legs] == [0.25, 0.25]
    assert legs[0].heat.upper == near(formulas.bias_power(-7.0, 510.0, 5.0))


@pytest.mark.parametrize(("supply_on", "volts"), [(True, 3.0 + 7.0), (False, 12.0)])
def test_rail_that_is_down_is_at_the_common(supply_on, volts):
    bias = Bias(pull_up="1 kohm", pull_down="1 kohm", supply="3 V", supply_on=supply_on)
    rows = {row.resistor: row.heat.upper for row in analysis.terminations(ended({"biases": bias})).resistors}
    assert rows["biases[0].pull_up"] == near(volts**2 / 1e3)
    assert rows["biases[0].pull_down"] == near(12.0**2 / 1e3)


def test_heat_in_a_terminator_is_at_most_that_of_the_open_driver_beside_it():
    """Without bias the driver's own terminal has V_open R / (R + R_driver), which is the most that any place sees."""
    found = analysis.terminations(ended(transceiver=FULL))
    load = found.driver_load.at("head").resistance.nominal
    own = 3.5 * load / (load + 54.0 * (3.5 / 2.2 - 1.0))
    assert found.resistors.at("head").heat.nominal == near(own**2 / 120.0)
    idle = analysis.idle_levels(ended(transceiver=FULL)).at("head").voltage
    assert 3.5**2 / 120.0 <= found.resistors.at("head").heat.upper <= (3.5 + 2 * idle.upper) ** 2 / 120.0 * (1 + ALGEBRA)


def test_heat_nominal_is_that_of_the_solved_levels():
    bus = chain({"terminations": END, "transceiver": FULL}, {"biases": BIAS, "transceiver": FULL}, {"transceiver": FULL})
    levels = analysis.driven_levels(bus)
    heats = analysis.terminations(bus).resistors
    across = max(abs(levels.between(driver, "head").space.nominal) for driver in levels.drivers)
    across = max(across, *(levels.between(driver, "head").mark.nominal for driver in levels.drivers))
    assert heats.at("head").heat.nominal == near(across**2 / 120.0)


def test_heat_of_a_pair_on_which_nothing_else_draws_is_alike_at_both_ends():
    """Receivers that draw nothing leave the lines without any tie to the commons but the driver's own."""
    rows = list(analysis.terminations(ended()).resistors)
    load = 1.0 / (1 / 120.0 + 1 / (2 * 0.08422 * 600.0 + 120.0))
    own = 3.5 * load / (load + 54.0 * (3.5 / 2.2 - 1.0))
    assert [row.heat.nominal for row in rows] == pytest.approx([own**2 / 120.0] * 2, rel=1e-5)


def test_heat_covers_every_proved_level():
    """The bound of the voltage across a terminator is not below any driven level that is proved."""
    part = attrs.evolve(FULL, driver_open_voltage=("1.5 V", "3.5 V", "6 V"), driver_loaded_voltage=("1.5 V", "2.2 V", "5 V"))
    end = attrs.evolve(END, resistance="120 ohm +/- 5 %")
    bias = Bias(pull_up="510 ohm +/- 5 %", pull_down="510 ohm +/- 5 %", supply="5 V +/- 5 %")
    bus = chain({"terminations": end, "transceiver": part}, {"biases": bias, "transceiver": part}, {"terminations": end, "transceiver": part})
    levels, heats = analysis.driven_levels(bus), analysis.terminations(bus).resistors
    for node in ("head", "third"):
        column = levels.receivers.index(node)
        highest = max(np.abs(each[:, column]).max() for each in (levels.mark.upper, levels.mark.lower, levels.space.upper, levels.space.lower))
        assert heats.at(node).heat.upper * 114.0 >= highest**2 * (1 - 1e-6)


def test_legs_on_a_bonded_common_are_against_that_common():
    """A node on an earth of 4 V: its pull-down sees its line against its own common, not against the site."""
    here = {"biases": BIAS, "earth": "bank", "common": CommonLink(resistance="0 ohm")}
    bus = chain({**here, "transceiver": None, "terminations": END}, {"transceiver": None}, earths=[Earth(name="bank", potential="4 V", resistance="0 ohm")])
    rows = {row.resistor: row.heat.nominal for row in analysis.terminations(bus).resistors}
    current = 5.0 / (510.0 + 510.0 + 120.0)
    assert rows["biases[0].pull_down"] == near(current**2 * 510.0)
    assert rows["biases[0].pull_up"] == near(current**2 * 510.0)
    assert rows["terminations[0].resistance"] == near(current**2 * 120.0)


def test_hottest_resistor_of_a_node_is_its_row():
    found = analysis.terminations(ended({"biases": Bias(pull_up="510 ohm", pull_down="1 kohm", supply="5 V")})).resistors
    rows = [row for row in found if row.node == "second"]
    assert found.at("second").resistor == max(rows, key=lambda row: row.heat.nominal).resistor


# --- what every result promises --------------------------------------------------------------------------------------


def test_result_is_frozen_read_only_and_survives_a_pickle():
    found = analysis.terminations(ended({"biases": BIAS}))
    again = pickle.loads(pickle.dumps(found))
    np.testing.assert_array_equal(found.fitted.reflection.nominal, again.fitted.reflection.nominal)
    for array in (found.length, found.fitted.stub, again.driver_load.resistance.lower, again.resistors.heat.upper):
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0.0
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        found.ends = ()


def test_records_are_flat_and_carry_their_units():
    found = analysis.terminations(ended({"biases": BIAS}))
    assert found.fitted.to_records()[0]["resistance_nominal_ohm"] == near(120.0)
    assert found.fitted.to_records()[0]["time_constant_nominal_s"] is None
    assert found.driver_load.to_records()[0]["driver_current_A"] is None
    assert {"heat_nominal_W", "heat_upper_W", "power_W", "resistor"} <= set(found.resistors.to_records()[0])


def test_view_gives_quantities():
    row = analysis.terminations(ended()).driver_load.at("head")
    assert row.q.resistance.nominal.to("kohm").magnitude == near(row.resistance.nominal / 1e3)
    assert row.q.current.upper.to("mA").magnitude == near(row.current.upper * 1e3)


def test_one_solve_serves_several_questions():
    analyses = Analyses(ended())
    assert analysis.terminations(analyses) is analysis.terminations(analyses)


def test_assumptions_of_the_network_are_named():
    assert any("20 degC" in each for each in analysis.terminations(ended()).assumed)
