"""Unit loads and idle levels: what they refuse, closed forms and published figures, and what every result promises."""

import json
import math
import pickle

import attrs
import numpy as np
import pytest

from rs485kit import (
    Barrier,
    Bias,
    Bus,
    Cable,
    CommonLink,
    Earth,
    Node,
    Protector,
    Termination,
    Transceiver,
    analysis,
    daisy_chain,
)
from rs485kit.errors import MissingDataError, UnknownNameError

ALGEBRA = 1e-9
# what a proved limit may lie beyond the extreme itself, for rounding
PROVED = 1e-6
FULL = Transceiver(name="full load", unit_load=1.0, receiver_upper_threshold="200 mV")
EIGHTH = attrs.evolve(FULL, name="eighth load", unit_load=0.125)
PAIR = Cable(name="24 AWG pair", conductor_resistance="84.2 ohm/km")
SHORT = Cable(name="nearly nothing", conductor_resistance="1 mohm/m")
END = Termination(resistance="120 ohm")
BIAS = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")


def near(value: float):
    return pytest.approx(value, rel=ALGEBRA, abs=ALGEBRA)


def two_ends(**of_head: object) -> Bus:
    nodes = [
        Node(**{"name": "head", "transceiver": EIGHTH, "terminations": END, "biases": BIAS, **of_head}),
        Node(name="tail", transceiver=EIGHTH, terminations=END),
    ]
    return daisy_chain(nodes, spacing="1.2 km", cable=PAIR)


def at_one_place(count: int, part: Transceiver, terminators: tuple[float, float], biases: tuple[Bias, ...]) -> Bus:
    """Return a bus so short that its cable does not matter: 0.1 mohm from node to node."""
    ends = {0: Termination(resistance=terminators[0]), count - 1: Termination(resistance=terminators[1])}
    nodes = [
        Node(name=f"gate-{k}", transceiver=part, terminations=ends.get(k), biases=biases if k == 0 else None)
        for k in range(count)
    ]
    return daisy_chain(nodes, spacing="0.1 m", cable=SHORT)


# --- idle levels: what is refused -----------------------------------------------------------------------


def test_missing_figures_are_all_named():
    nodes = [Node(name="a", transceiver=Transceiver(name="unknown")), Node(name="b", biases=Bias(pull_up="510 ohm"))]
    with pytest.raises(MissingDataError) as caught:
        analysis.idle_levels(daisy_chain(nodes, spacing="1 m"))
    assert caught.value.missing == (
        'segments["a" - "b"].cable',
        'nodes["a"].transceiver.unit_load',
        'nodes["b"].biases[0].supply (or the node\'s own supply)',
    )


def between_earths(volts: float) -> Bus:
    """Return two nodes on earths apart: the lines stand half way between the two, and 2.5 V above that."""
    earths = [
        Earth(name="east", potential=volts, resistance="1 ohm"),
        Earth(name="west", potential="0 V", resistance="1 ohm"),
    ]
    nodes = [Node(name="gate-1", transceiver=FULL, earth="east"), Node(name="gate-2", transceiver=FULL, earth="west")]
    return daisy_chain(nodes, spacing="10 m", cable=PAIR, earths=earths)


@pytest.mark.parametrize("volts", [18.9, -18.9])
def test_lines_inside_the_border_of_a_unit_load_are_solved(volts):
    assert analysis.idle_levels(between_earths(volts)).at("gate-1").voltage.nominal == near(0.0)


@pytest.mark.parametrize(("volts", "seen"), [(20.0, "-7.5 V"), (-20.0, "12.5 V")])
def test_lines_beyond_the_border_of_a_unit_load_are_refused(volts, seen):
    with pytest.raises(MissingDataError) as caught:
        analysis.idle_levels(between_earths(volts))
    assert caught.value.missing == tuple(f'input current of "gate-{k}" beyond -7 V .. +12 V' for k in (1, 2))
    assert (
        f'the lines of "gate-1" (and those of 1 more nodes) stand at {seen} and {seen} against its own common, beyond -7 V .. +12 V'
        in str(caught.value)
    )


def test_unknown_row_is_answered_with_near_names():
    idle = analysis.idle_levels(two_ends())
    with pytest.raises(UnknownNameError) as caught:
        idle.at("heed")
    assert caught.value.near == ("head",)
    assert str(caught.value) == 'there is no row "heed"; did you mean "head"?; the rows are the nodes head, tail'


def test_table_without_rows_has_no_worst():
    bus = daisy_chain([Node(name="a"), Node(name="b")], spacing="1 m", cable=PAIR)
    idle = analysis.idle_levels(bus)
    assert (len(idle), list(idle), idle.to_records()) == (0, [], [])
    with pytest.raises(UnknownNameError, match="the table has no row"):
        _ = idle.worst


def test_unstated_threshold_leaves_the_margin_unknown_and_is_named():
    blind = attrs.evolve(EIGHTH, receiver_upper_threshold=None)
    half_known = attrs.evolve(EIGHTH, receiver_upper_threshold=(None, "-50 mV", None))
    nodes = [
        Node(name="a", transceiver=blind),
        Node(name="b", transceiver=half_known),
        Node(name="c", transceiver=EIGHTH),
    ]
    idle = analysis.idle_levels(daisy_chain(nodes, spacing="1 m", cable=PAIR))
    field = "transceiver.receiver_upper_threshold (its max)"
    assert idle.missing == (("a", field), ("b", field))
    assert [math.isnan(row.margin) for row in idle] == [True, True, False]
    assert math.isnan(idle.worst.margin)
    record = idle.to_records()[0]
    assert record["threshold_V"] is None
    assert record["margin_V"] is None


# --- idle levels: figures -------------------------------------------------------------------------------


def test_far_end_of_a_long_bus_sees_less_than_the_head():
    idle = analysis.idle_levels(two_ends())
    assert idle.at("head").voltage.nominal == pytest.approx(0.39454, abs=5e-6)
    assert idle.at("tail").voltage.nominal == pytest.approx(0.14694, abs=5e-6)
    assert idle.worst.node == "tail"
    assert idle.worst.margin == near(min(idle.worst.voltage.nominal, idle.worst.voltage.matched_lower) - 0.2)


def pair_of(ohms: float) -> tuple[Bias, ...]:
    return (Bias(pull_up=ohms, pull_down=ohms, supply="5 V"),)


@pytest.mark.parametrize(
    ("count", "unit_load", "terminators", "biases", "nominal", "matched"),
    [
        (32, 1.0, (133.0, 120.0), pair_of(562.0), 0.246, 0.250),
        (32, 1.0, (120.0, 120.0), pair_of(510.0), 0.258, 0.262),
        (7, 1.0, (120.0, 120.0), pair_of(680.0), 0.208, 0.208),
        (32, 0.125, (120.0, 120.0), (), 0.0, 0.0),
    ],
    ids=["562/133/120", "510 pair", "680 pair, 7 nodes", "no bias"],
)
def test_published_networks_by_the_first_two_readings(count, unit_load, terminators, biases, nominal, matched):
    """On a pair whose lines are alike a common voltage w cannot become a difference, so both matched limits are one."""
    part = attrs.evolve(FULL, unit_load=unit_load)
    idle = analysis.idle_levels(at_one_place(count, part, terminators, biases))
    across = sum(1 / each for each in terminators)
    for reading, resistance, figure in (("nominal", 12e3, nominal), ("matched_lower", 15e3, matched)):
        bias = 1 / (2 * 510.0) if not biases else 1 / (2 * biases[0].pull_up.typ)
        source = 5.0 * bias if biases else 0.0
        lumped = source / ((bias if biases else 0.0) + across + count * unit_load / (2 * resistance))
        found = getattr(idle.voltage, reading)
        assert found == pytest.approx(lumped, rel=0, abs=2e-5)
        assert found == pytest.approx(figure, rel=0, abs=5e-4)
    proved = idle.voltage.matched_upper - idle.voltage.matched_lower
    attained = idle.voltage.matched_attained_upper - idle.voltage.matched_attained_lower
    assert np.abs(attained).max() <= 5 * ALGEBRA
    assert proved.min() >= 0.0
    assert proved.max() <= PROVED


def test_matched_limits_part_where_the_lines_are_not_alike():
    # 5 V over 1 kohm on one line alone; the other has nothing but its input, behind the terminator
    lone = Node(name="gate-1", transceiver=FULL, biases=Bias(pull_up="1 kohm", supply="5 V"), terminations=END)
    idle = analysis.idle_levels(Bus(nodes=lone)).at("gate-1").voltage

    def difference(pulls_to: float) -> float:
        # one loop of current through the terminator into the inverting input
        matrix = [[1 / 1e3 + 1 / 120 + 1 / 15e3, -1 / 120], [-1 / 120, 1 / 120 + 1 / 15e3]]
        line = np.linalg.solve(matrix, [5 / 1e3 + pulls_to / 15e3, pulls_to / 15e3])
        return float(line[0] - line[1])

    assert idle.matched_attained_lower == near(difference(5.0))
    assert idle.matched_attained_upper == near(difference(-3.0))
    assert difference(5.0) - PROVED <= idle.matched_lower <= difference(5.0) + ALGEBRA
    assert difference(-3.0) - ALGEBRA <= idle.matched_upper <= difference(-3.0) + PROVED
    assert idle.matched_lower < idle.nominal < idle.matched_upper


@pytest.mark.parametrize(("supply", "nodes"), [("7 V", 1), ("7 V", 10), ("12 V", 10)])
def test_input_beyond_the_border_may_draw_nothing(supply, nodes):
    """A lone weak pull-up lifts the lines to its own supply if no input draws current, and there is no difference."""
    chain = daisy_chain(
        [
            Node(
                name=f"gate-{k}",
                transceiver=FULL,
                earth="bank",
                biases=Bias(pull_up="47 kohm", supply=supply) if k == 0 else None,
                terminations=Termination(resistance="1 kohm") if k == nodes - 1 else None,
            )
            for k in range(nodes)
        ],
        spacing="1 m",
        cable=PAIR,
        earths=[Earth(name="bank", potential="0 V", resistance="0 ohm")],
    )
    idle = analysis.idle_levels(chain)
    assert (idle.voltage.matched_lower <= ALGEBRA).all()
    assert (idle.voltage.matched_lower >= -PROVED).all()


def test_line_on_which_nothing_but_inputs_stand_goes_where_they_pull_it():
    """Its reference follows it one to one, so that rounding alone must not take the two on for ever."""
    down = Bias(pull_up="680 ohm", pull_down="680 ohm", supply="5 V", supply_on=False)
    nodes = [Node(name=name, transceiver=FULL, biases=down) for name in ("a", "b")]
    idle = analysis.idle_levels(daisy_chain(nodes, spacing="100 m", cable=PAIR)).voltage
    # with the supply open: the noninverting line where the inputs pull it, the other divided down by its leg
    share = 1 - 680 / (15e3 + 680)
    assert idle.matched_lower == pytest.approx(-3 * share, abs=PROVED)
    assert idle.matched_upper == pytest.approx(5 * share, abs=PROVED)


@pytest.mark.parametrize("volts", [0.5, 4.0])
def test_lines_that_float_between_two_earths_come_to_rest(volts):
    nodes = [
        Node(name="a", transceiver=FULL, earth="weir"),
        Node(name="b", transceiver=FULL, earth="lock", biases=Bias(pull_down="680 ohm")),
    ]
    earths = [Earth(name="weir", potential=volts), Earth(name="lock", potential="0 V")]
    idle = analysis.idle_levels(daisy_chain(nodes, spacing="1 mm", cable=PAIR, earths=earths))
    inverting = (2.5 + 2.5 + volts) / (2 + 12e3 / 680)
    assert idle.voltage.nominal == pytest.approx(2.5 + volts / 2 - inverting, abs=1e-6)
    known = ~np.isnan(idle.voltage.matched_lower)
    assert known.all() or idle.unstated
    assert (idle.voltage.matched_lower[known] <= idle.voltage.nominal[known]).all()


# --- idle levels: bias ----------------------------------------------------------------------------------


def level(*biases: Bias, **fields: object):
    node = Node(**{"name": "gate-1", "transceiver": EIGHTH, "terminations": END, "biases": biases, **fields})
    return analysis.idle_levels(Bus(nodes=node)).at("gate-1").voltage


def test_reversed_bias_turns_the_sign():
    right, turned = level(BIAS), level(attrs.evolve(BIAS, reversed=True))
    assert turned.nominal == near(-right.nominal)
    assert turned.matched_lower == pytest.approx(-right.matched_upper, abs=PROVED)


def test_two_sets_opposed_cancel_and_two_alike_do_not():
    assert level(BIAS, attrs.evolve(BIAS, reversed=True)).nominal == near(0.0)
    assert level(BIAS, BIAS).nominal > 1.8 * level(BIAS).nominal


def test_swapped_lines_turn_the_sign_at_their_own_node_alone():
    bus = two_ends()
    before = analysis.idle_levels(bus).voltage.nominal
    swapped = bus.replace_node(attrs.evolve(bus.node("tail"), lines_swapped=True))
    after = analysis.idle_levels(swapped).voltage.nominal
    assert after == pytest.approx([before[0], -before[1]], abs=ALGEBRA)


@pytest.mark.parametrize(
    "fields",
    [{"biases": attrs.evolve(BIAS, supply_on=False)}, {"powered": False}],
    ids=["its supply is off", "its node is unpowered"],
)
def test_bias_that_is_down_is_tried_open_and_at_the_common_and_the_worse_counts(fields):
    other = Node(name="gate-2", transceiver=FULL, biases=BIAS, terminations=END, common=CommonLink(resistance="0 ohm"))
    down = Node(**{"name": "gate-1", "transceiver": FULL, "biases": BIAS, "common": other.common, **fields})
    cable = attrs.evolve(SHORT, reference_resistance="1 mohm/m")
    bus = daisy_chain([down, other], spacing="0.1 m", cable=cable, reference_conductor=True)
    found = analysis.idle_levels(bus).at("gate-1").voltage
    pull_up_low = (Bias(pull_up="510 ohm", supply="0 V"), Bias(pull_down="510 ohm"))
    either = [
        analysis.idle_levels(bus.replace_node(attrs.evolve(down, biases=legs))).at("gate-1").voltage
        for legs in (pull_up_low, Bias(pull_down="510 ohm"))
    ]
    assert found.nominal == near(min(each.nominal for each in either))
    assert found.matched_lower == pytest.approx(min(each.matched_lower for each in either), abs=PROVED)
    assert found.matched_upper == pytest.approx(max(each.matched_upper for each in either), abs=PROVED)


def test_device_that_only_drives_has_no_row():
    bus = two_ends(receives=False)
    assert analysis.idle_levels(bus).nodes == ("tail",)


def test_floating_device_that_draws_nothing_is_no_reason_to_refuse():
    """Its common stands nowhere, and no current says how its lines stand against it."""
    earth = Earth(name="bank", potential="40 V", resistance="1 ohm")
    nodes = [
        Node(name="a", transceiver=FULL, earth="bank", biases=BIAS),
        Node(name="b", transceiver=FULL, earth="bank"),
    ]
    bus = daisy_chain(nodes, spacing="10 m", cable=PAIR, earths=[earth])
    guest = Node(name="guest", transceiver=attrs.evolve(FULL, unit_load=0.0), barrier=Barrier())
    before = analysis.idle_levels(bus).voltage.nominal
    after = analysis.idle_levels(bus.with_node(guest, to="b", length="1 m")).voltage.nominal
    assert after == pytest.approx([*before, before[1]], abs=40 * ALGEBRA)


# --- unit loads -----------------------------------------------------------------------------------------


def loads_of(**fields: object):
    return analysis.unit_loads(Bus(nodes=Node(name="gate-1", **fields))).at("gate-1")


def test_unstated_unit_load_is_named_and_leaves_the_total_unknown():
    nodes = [Node(name="a", transceiver=Transceiver(name="unknown")), Node(name="b", transceiver=FULL)]
    loads = analysis.unit_loads(daisy_chain(nodes, spacing="1 m"))
    assert loads.missing == (("a", "transceiver.unit_load"),)
    assert math.isnan(loads.total)
    assert loads.spare_nodes is None
    assert loads.at("b").receiver == 1.0
    assert loads.to_records()[0] == {"node": "a", "receiver": None, "custom": None, "strict": None}


@pytest.mark.parametrize(
    ("bias", "custom_known"),
    [
        (Bias(pull_up="510 ohm"), True),
        (Bias(pull_up=(None, None, "510 ohm"), supply="5 V"), False),
        (Bias(pull_up="510 ohm", supply=(None, None, "5 V")), True),
    ],
    ids=["supply", "resistance", "typical supply"],
)
def test_unstated_leg_is_named_and_leaves_unknown_what_it_decides(bias, custom_known):
    loads = analysis.unit_loads(Bus(nodes=Node(name="gate-1", transceiver=FULL, biases=bias)))
    assert [row for row, _ in loads.missing] == ["gate-1"]
    assert math.isnan(loads.at("gate-1").strict)
    assert math.isnan(loads.at("gate-1").custom) != custom_known
    assert loads.total == 1.0


@pytest.mark.parametrize("protector", [{"standoff": "12 V"}, {"leakage": "5 uA"}], ids=["leakage", "standoff"])
def test_unstated_leakage_of_a_protector_is_named(protector):
    part = Protector(name="clamp", ends="line-common", **protector)
    loads = analysis.unit_loads(Bus(nodes=Node(name="gate-1", transceiver=FULL, protectors=part)))
    assert loads.missing == (("gate-1", 'protector "clamp" standoff and leakage'),)
    assert math.isnan(loads.total_custom)


@pytest.mark.parametrize(
    ("bias", "ratio"),
    [
        ({"pull_down": "1.2 kohm"}, 12000 / 1200),
        ({"pull_up": "1.5 kohm", "supply": "5 V"}, 15000 / 1500),
        ({"pull_up": "1 kohm", "supply": "0 V"}, 12000 / 1000),
        # at +12 V it takes 9 mA/kohm against 1 mA, at -7 V it gives 10 mA/kohm against 0.8 mA
        ({"pull_up": "1 kohm", "supply": "3 V"}, 12.5),
        ({"pull_up": "1 kohm", "supply": "5.01 V"}, math.inf),
        ({"pull_up": "100 Mohm", "supply": "5.01 V"}, math.inf),
        ({"pull_up": "1.5 kohm", "supply": "24 V", "supply_on": False}, 12000 / 1500),
        ({"pull_up": "1 kohm", "supply": "24 V", "engaged": False}, 0.0),
    ],
)
def test_border_ratio_of_a_leg(bias, ratio):
    assert loads_of(biases=Bias(**bias)).strict == near(ratio)
    assert loads_of(transceiver=FULL, biases=Bias(**bias)).strict == near(1.0 + ratio)


def test_border_ratio_is_the_largest_over_all_voltages():
    legs = (Bias(pull_up="2.2 kohm", supply="4.1 V"), Bias(pull_down="5.6 kohm", reversed=True))
    conductance, pull = 1 / 2200 + 1 / 5600, 4.1 / 2200
    volts = np.linspace(-7.0, 12.0, 190_001)
    current = conductance * volts - pull
    upper, lower = np.maximum(0.0, (volts + 3) / 15e3), np.minimum(0.0, (volts - 5) / 15e3)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.where(current > 0, current / upper, np.where(current < 0, current / lower, 0.0))
    assert loads_of(biases=legs).strict == pytest.approx(float(needed.max()), rel=ALGEBRA)


def test_custom_counts_every_leg_alike():
    loads = loads_of(transceiver=EIGHTH, biases=(BIAS, Bias(pull_down="1 kohm", reversed=True)))
    assert loads.custom == near(0.125 + 12000 / 510 + 12)
    assert loads.receiver == 0.125


def test_terminators_with_legs_count_and_those_without_do_not():
    active = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm", supply="5 V")
    nodes = [Node(name=name, transceiver=FULL, terminations=(active, END)) for name in ("head", "tail")]
    loads = analysis.unit_loads(daisy_chain(nodes, spacing="1 m"))
    assert loads.total_custom - loads.total == pytest.approx(61.5, abs=0.05)
    assert loads.total_strict - loads.total == near(2 * 15000 / 390)
    assert loads_of(terminations=END).custom == 0.0


def test_swapped_node_loads_the_other_line():
    node = Node(name="gate-1", biases=Bias(pull_down="1 kohm"))
    loads = analysis.unit_loads(Bus(nodes=node))
    turned = analysis.unit_loads(Bus(nodes=attrs.evolve(node, lines_swapped=True)))
    np.testing.assert_allclose(loads.custom, [[0.0, 12.0]], rtol=0, atol=ALGEBRA)
    np.testing.assert_allclose(turned.custom, [[12.0, 0.0]], rtol=0, atol=ALGEBRA)


def test_total_is_of_the_more_loaded_line_of_the_bus():
    nodes = [
        Node(name="a", transceiver=FULL, biases=Bias(pull_down="1 kohm")),
        Node(name="b", transceiver=FULL, biases=Bias(pull_down="1 kohm", reversed=True)),
        Node(name="c", transceiver=FULL, biases=Bias(pull_down="2 kohm")),
    ]
    loads = analysis.unit_loads(daisy_chain(nodes, spacing="1 m"))
    assert loads.total == 3.0
    assert loads.total_custom == near(3.0 + 12.0 + 6.0)
    assert loads.worst.node == "a"


def test_protector_counts_by_its_leakage_if_it_stands_between_line_and_common():
    def clamp(ends: str) -> Protector:
        return Protector(name="clamp", ends=ends, standoff="12 V", leakage="100 uA")

    loads = loads_of(transceiver=FULL, protectors=clamp("line-common"))
    assert loads.custom == near(1.0 + 12e3 * 100e-6 / 12)
    assert loads.strict == near(1.0 + 12e3 * 100e-6 / 12)
    for ends in ("line-line", "common-earth"):
        assert loads_of(transceiver=FULL, protectors=clamp(ends)).custom == 1.0


@pytest.mark.parametrize(
    ("loads", "spare"),
    [
        ([1.0] * 30, 2),
        ([1.0] * 32, 0),
        ([1.0] * 40, 0),
        ([0.125] * 24, 232),
        ([0.1] * 20, 300),
        ([0.3, 1.0], 30),
        ([0.0], None),
    ],
)
def test_spare_nodes_are_counted_by_the_heaviest(loads, spare):
    nodes = [Node(name=f"gate-{k}", transceiver=attrs.evolve(FULL, unit_load=each)) for k, each in enumerate(loads)]
    result = analysis.unit_loads(daisy_chain(nodes, spacing="1 m"))
    assert result.total == near(sum(loads))
    assert result.limit == 32.0
    assert result.spare_nodes == spare


def test_bias_takes_the_place_of_nodes_by_the_custom_count():
    nodes = [Node(name=f"gate-{k}", transceiver=EIGHTH, biases=BIAS if k == 0 else None) for k in range(8)]
    loads = analysis.unit_loads(daisy_chain(nodes, spacing="1 m"))
    assert loads.spare_nodes == 248
    assert loads.spare_nodes_custom == math.floor((32 - 1 - 12000 / 510) / 0.125)


def test_passive_places_load_nothing():
    loads = analysis.unit_loads(daisy_chain([Node(name="a", transceiver=FULL)], spacing=[], stub="1 m"))
    assert loads.nodes == ("a", "a.tap")
    assert (loads.at("a.tap").receiver, loads.at("a.tap").strict) == (0.0, 0.0)


# --- what every result promises -------------------------------------------------------------------------

ANALYSES = [analysis.idle_levels, analysis.unit_loads]


def arrays_of(result: object) -> list[np.ndarray]:
    found = []
    for field in attrs.fields(type(result)):
        value = getattr(result, field.name)
        found += [value] if isinstance(value, np.ndarray) else arrays_of(value) if attrs.has(type(value)) else []
    return found


@pytest.mark.parametrize("function", ANALYSES)
def test_arrays_are_read_only_also_after_a_pickle(function):
    result = function(two_ends())
    again = pickle.loads(pickle.dumps(result))
    assert type(again) is type(result)
    assert arrays_of(result)
    for before, after in zip(arrays_of(result), arrays_of(again), strict=True):
        np.testing.assert_array_equal(before, after)
        for array in (before, after):
            assert array.dtype == np.float64
            with pytest.raises(ValueError, match="read-only"):
                array[...] = 0.0
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        result.nodes = ()


def test_derived_array_is_read_only():
    with pytest.raises(ValueError, match="read-only"):
        analysis.idle_levels(two_ends()).margin[0] = 1.0


@pytest.mark.parametrize("function", ANALYSES)
def test_results_are_told_apart_by_identity(function):
    bus = two_ends()
    first, second = function(bus), function(bus)
    assert first != second
    assert first == first
    assert len({first, second}) == 2


@pytest.mark.parametrize("function", ANALYSES)
def test_rows_come_in_bus_order_and_are_those_of_the_table(function):
    result = function(two_ends())
    assert [row.node for row in result] == list(result.nodes) == ["head", "tail"]
    assert [result.at(name) for name in result.nodes] == list(result)
    assert result.worst in list(result)


def test_rows_have_the_attributes_of_their_table():
    idle = analysis.idle_levels(two_ends())
    for index, row in enumerate(idle):
        assert row.threshold == idle.threshold[index]
        assert row.margin == idle.margin[index]
        for part in idle.voltage.dimensioned_parts:
            assert getattr(row.voltage, part) == getattr(idle.voltage, part)[index]


def test_records_are_flat_and_carry_their_units():
    record = analysis.idle_levels(two_ends()).to_records()[1]
    assert record["node"] == "tail"
    assert record["voltage_nominal_V"] == pytest.approx(0.14694, abs=5e-6)
    assert {"voltage_matched_lower_V", "voltage_matched_upper_V", "threshold_V", "margin_V"} <= set(record)
    assert json.loads(json.dumps(record)) == record
    assert analysis.unit_loads(two_ends()).to_records()[1] == {
        "node": "tail", "receiver": 0.125, "custom": 0.125, "strict": 0.125,
    }  # fmt: skip


def test_view_gives_quantities():
    idle, loads = analysis.idle_levels(two_ends()), analysis.unit_loads(two_ends())
    assert idle.q.threshold.to("millivolt").magnitude == pytest.approx([200.0, 200.0])
    assert idle.q.voltage.nominal.units == idle.q.threshold.units
    assert idle.at("tail").q.voltage.nominal.to("mV").magnitude == pytest.approx(146.94, abs=5e-3)
    assert idle.at("tail").q.margin.to("V").magnitude == pytest.approx(idle.at("tail").margin)
    assert loads.q.custom.dimensionless
    assert loads.at("tail").q.receiver.magnitude == 0.125
    with pytest.raises(AttributeError, match="has no 'current'; with a unit are:"):
        _ = idle.q.current
