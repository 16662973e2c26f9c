"""From a bus to a network: what it refuses, what it assumes, and each element against a circuit solved by hand."""

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
    Environment,
    IsolatedSupply,
    MinTypMax,
    Node,
    Segment,
    Termination,
    Transceiver,
    daisy_chain,
)
from rs485kit.errors import MissingDataError
from rs485kit.network import Network, idle_network
from rs485kit.network.assembly import rail_variants
from rs485kit.solvers.nodal import potentials

ALGEBRA = 1e-9
PAIR = Cable(name="pair", conductor_resistance="0.1 ohm/m", reference_resistance="0.05 ohm/m")
FULL = Transceiver(name="full load", unit_load=1.0)
NOTHING = Transceiver(name="draws nothing", unit_load=0.0)
WIRED = CommonLink(resistance="0 ohm")


def volts(network: Network) -> dict[str, np.ndarray]:
    """Return the potentials of each node's noninverting line, inverting line and common."""
    emf, given = network.emf[:, None], network.given[:, None]
    solved = potentials(network.layout, network.branches, network.injected(emf), network.fixed, given)[:, 0]
    return dict(zip(network.nodes, solved[network.terminals], strict=True))


def difference(bus: Bus, name: str, rails: str = "open") -> float:
    own = volts(idle_network(bus, rails=rails))[name]
    return float(own[0] - own[1])


def alone(*earths: Earth, environment: Environment | None = None, **fields: object) -> Bus:
    """Return a bus of one node."""
    return Bus(nodes=Node(name="gate-1", **fields), earths=earths, environment=environment)


def near(value: float):
    return pytest.approx(value, rel=ALGEBRA, abs=ALGEBRA)


# --- figures that the bus does not state ----------------------------------------------------------------


def test_every_missing_figure_is_named_at_once():
    only_max = (None, None, "150 ohm")
    unknown = Transceiver(name="nothing known")
    high = Transceiver(name="12 V part", unit_load=1.0, supply_voltage="12 V")
    nodes = [
        Node(name="no-load", transceiver=unknown),
        Node(name="high", transceiver=high),
        Node(name="bias", biases=(Bias(pull_up=only_max, pull_down="510 ohm", supply="5 V"), Bias(pull_up="1 kohm"))),
        Node(name="end", terminations=Termination(resistance=only_max), common=CommonLink(resistance=only_max)),
        Node(name="active", terminations=Termination(resistance="220 ohm", pull_down=only_max)),
        Node(name="bonded", transceiver=FULL, earth="bank"),
    ]
    cables = [
        None,
        Cable(name="bare"),
        attrs.evolve(PAIR, conductor_resistance=(None, None, 1.0)),
        PAIR,
        attrs.evolve(PAIR, reference_resistance=None),
    ]
    bank = Earth(name="bank", potential=(None, None, 3.0), resistance=(1.0, None, None))
    bare = daisy_chain(nodes, spacing="10 m", cable=cables, earths=[bank])
    segments = [attrs.evolve(each, reference_conductor=each.start in ("end", "active")) for each in bare.segments]
    bus = attrs.evolve(bare, segments=segments)
    with pytest.raises(MissingDataError) as caught:
        idle_network(bus)
    half = "(its typical value, or both limits)"
    assert sorted(caught.value.missing) == sorted(
        [
            'segments["no-load" - "high"].cable',
            'cable "bare" conductor_resistance',
            f'cable "{PAIR.name}" conductor_resistance {half}',
            f'cable "{PAIR.name}" reference_resistance',
            'nodes["no-load"].transceiver.unit_load',
            'nodes["high"].transceiver.input_reference (half of a 12 V supply is above 2.6 V)',
            f'nodes["bias"].biases[0].pull_up {half}',
            'nodes["bias"].biases[1].supply (or the node\'s own supply)',
            f'nodes["end"].terminations[0].resistance {half}',
            f'nodes["end"].common.resistance {half}',
            f'nodes["active"].terminations[0].pull_down {half}',
            f'earths["bank"].potential {half}',
            f'earths["bank"].resistance {half}',
        ]
    )  # fmt: skip
    assert 'the bus does not state segments["no-load" - "high"].cable, ' in str(caught.value)


def test_figure_that_several_elements_lack_is_named_once():
    end = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm")
    legs = tuple(Bias(pull_up="510 ohm", reversed=turned) for turned in (False, True))
    with pytest.raises(MissingDataError) as caught:
        idle_network(alone(terminations=end, biases=legs))
    own = "supply (or the node's own supply)"
    assert caught.value.missing == (
        f'nodes["gate-1"].biases[0].{own}',
        f'nodes["gate-1"].biases[1].{own}',
        f'nodes["gate-1"].terminations[0].{own}',
    )


@pytest.mark.parametrize(
    "fields",
    [
        {"terminations": Termination(resistance=(None, None, 150.0), engaged=False)},
        {"terminations": Termination(resistance=(None, None, 150.0), capacitance="10 nF")},
        {"biases": Bias(pull_up="510 ohm", engaged=False)},
        {"biases": Bias(pull_up="510 ohm", supply_on=False)},
        {"common": CommonLink(resistance=(None, None, 100.0))},
        {"transceiver": NOTHING, "powered": False},
        {"transceiver": attrs.evolve(NOTHING, supply_voltage="12 V")},
    ],
    ids=[
        "unplugged",
        "blocks DC",
        "bias unplugged",
        "rail down",
        "no reference conductor",
        "unpowered",
        "draws nothing",
    ],
)
def test_figure_that_plays_no_part_is_not_asked_for(fields):
    for rails in ("open", "low"):
        assert idle_network(alone(**fields), rails=rails).nodes == ("gate-1",)


def test_earth_that_nothing_is_bonded_to_is_not_asked_for():
    bank = Earth(name="bank", potential=(None, None, 3.0), resistance=(None, None, 1.0))
    node = Node(name="gate-1", transceiver=FULL, earth="bank", barrier=Barrier())
    assert idle_network(Bus(nodes=node, earths=bank)).nodes == ("gate-1",)


# --- what is assumed ------------------------------------------------------------------------------------


def test_assumptions_are_stated_with_their_places():
    nodes = [Node(name=f"gate-{k}", transceiver=FULL, earth="bank") for k in range(6)]
    assumed = idle_network(daisy_chain(nodes, spacing="1 m", cable=PAIR, earths=[Earth(name="bank")])).assumed
    where = "where no bus-side supply is stated"
    assert assumed == (
        "conductor_resistance stated as one value is taken as exact (pair)",
        "copper is taken at 20 degC, as no temperature is stated (whole site)",
        "earths without a stated potential are taken at 0 V (bank)",
        "earths without a stated resistance are taken at 0 ohm (bank)",
        f"receiver inputs pull to 2.5 V, half of 5 V, {where} (gate-0, gate-1, gate-2, gate-3 and 2 more)",
    )


def test_bus_that_states_everything_assumes_nothing():
    part = Transceiver(name="part", unit_load=1.0, supply_voltage="3.3 V")
    bank = Earth(name="bank", potential=(0.9, 1.0, 1.1), resistance="2 ohm +/- 10 %")
    warm = Environment(temperature=("15 degC", "20 degC", "25 degC"))
    bus = alone(bank, transceiver=part, earth="bank", environment=warm)
    assert idle_network(bus).assumed == ()


@pytest.mark.parametrize(
    "given", ["0 ohm", (0, None, 0), (0, 0, 100), MinTypMax(typ=0.0)], ids=["exact", "limits", "triple", "typical"]
)
@pytest.mark.parametrize("of", ["common", "earth"])
def test_resistance_of_nominally_zero_is_a_wire_however_it_is_written(of, given):
    link = CommonLink(resistance=given if of == "common" else "0 ohm")
    bank = Earth(name="bank", potential="1 V", resistance=given if of == "earth" else "0 ohm")
    nodes = [Node(name="gate-1", transceiver=FULL, common=link, earth="bank"), Node(name="gate-2", common=WIRED)]
    bus = daisy_chain(nodes, spacing="10 m", cable=PAIR, reference_conductor=True, earths=[bank])
    own = volts(idle_network(bus))
    assert own["gate-1"][2] == near(1.0)
    assert own["gate-2"][2] == near(1.0)


# --- pair, terminators, bias ----------------------------------------------------------------------------


def biased(**fields: object) -> Node:
    return Node(name="head", biases=Bias(pull_up="500 ohm", pull_down="300 ohm", supply="5 V"), **fields)


def test_bias_and_terminator_divide_the_supply():
    assert difference(Bus(nodes=biased(terminations=Termination(resistance="200 ohm"))), "head") == near(1.0)


@pytest.mark.parametrize(
    ("temperature", "factor"), [(None, 1.0), ("20 degC", 1.0), ("60 degC", 1.1572), ("-20 degC", 0.8428)]
)
def test_both_conductors_of_the_pair_count_at_their_temperature(temperature, factor):
    tail = Node(name="tail", terminations=Termination(resistance="200 ohm"))
    climate = None if temperature is None else Environment(temperature=temperature)
    bus = daisy_chain([biased(), tail], spacing="1 km", cable=PAIR, environment=climate)
    assert difference(bus, "tail") == near(5.0 * 200 / (1000 + 200 * factor))


def test_receiver_input_is_12_kohm_per_unit_load_to_its_reference():
    part = Transceiver(name="part", unit_load=2.0, input_reference="1 V")
    bus = alone(
        transceiver=part, biases=Bias(pull_up="6 kohm", supply="5 V"), terminations=Termination(resistance="6 kohm")
    )
    own = volts(idle_network(bus))["gate-1"]
    # 6 kohm to 1 V on either line: the inverting one behind the terminator
    line = (5.0 / 6 + 1.0 / 6 + 1.0 / 12) / (1 / 6 + 1 / 6 + 1 / 12)
    assert own[0] - own[2] == near(line)
    assert own[1] - own[2] == near((line + 1.0) / 2)


@pytest.mark.parametrize(
    ("fields", "reference"),
    [
        ({}, 2.5),
        ({"transceiver": attrs.evolve(FULL, supply_voltage="3.3 V")}, 1.65),
        ({"transceiver": attrs.evolve(FULL, supply_voltage="3.3 V", input_reference="2 V")}, 2.0),
        ({"barrier": Barrier(supply=IsolatedSupply(name="supply", output_voltage="4 V"))}, 2.0),
        ({"powered": False}, 0.0),
        ({"powered": False, "transceiver": attrs.evolve(FULL, input_reference="2 V")}, 0.0),
    ],
    ids=["nothing stated", "own supply", "stated", "isolated supply", "unpowered", "unpowered though stated"],
)
def test_input_reference_is_half_the_bus_side_supply_unless_stated(fields, reference):
    own = volts(idle_network(alone(**{"transceiver": FULL, **fields})))["gate-1"]
    assert own[0] - own[2] == near(reference)
    assert own[1] - own[2] == near(reference)


def test_active_terminator_is_three_resistors():
    part = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm", supply="5 V")
    assert difference(alone(terminations=part), "gate-1") == near(5.0 * 220 / 1000)


def test_what_blocks_dc_or_is_unplugged_is_no_branch():
    some = (
        Termination(resistance="120 ohm", capacitance="10 nF"),
        Termination(resistance="120 ohm", engaged=False),
        Termination(resistance="120 ohm"),
    )
    network = idle_network(alone(terminations=some, biases=Bias(pull_up="510 ohm", engaged=False)))
    assert network.kinds == ("termination",)
    assert network.owners == ("gate-1",)


def test_reversed_legs_and_swapped_lines_each_turn_the_sign():
    end = Termination(resistance="200 ohm")
    bias = Bias(pull_up="500 ohm", pull_down="300 ohm", supply="5 V")
    turned = attrs.evolve(bias, reversed=True)
    tail = Node(name="tail", transceiver=NOTHING)
    for swapped in (False, True):
        head = Node(name="head", terminations=end, biases=bias, lines_swapped=swapped)
        bus = daisy_chain([head, tail], spacing="1 m", cable=PAIR)
        assert difference(bus, "head") == near(1.0)
        assert difference(bus, "tail") == near(-1.0 if swapped else 1.0)
        other = bus.replace_node(attrs.evolve(head, biases=turned))
        assert difference(other, "head") == near(-1.0)
        assert difference(other, "tail") == near(1.0 if swapped else -1.0)


# --- supplies that are down -----------------------------------------------------------------------------


def test_variants_are_tried_only_where_some_pull_up_hangs_on_a_supply_that_is_down():
    pull_down = Bias(pull_down="510 ohm", supply_on=False)
    pull_up = Bias(pull_up="510 ohm", supply_on=False)
    assert rail_variants(alone(biases=pull_down)) == ("open",)
    assert rail_variants(alone(biases=attrs.evolve(pull_up, engaged=False))) == ("open",)
    assert rail_variants(alone(biases=pull_up)) == ("open", "low")
    assert rail_variants(alone(biases=attrs.evolve(pull_up, supply_on=True), powered=False)) == ("open", "low")


@pytest.mark.parametrize(
    ("rails", "expected"), [("open", 5 * 250 / (500 + 250 + 200)), ("low", 5 * 250 / (500 + 250 + 200 / 3))]
)
def test_supply_that_is_down_is_open_or_at_the_common(rails, expected):
    up = Bias(pull_up="500 ohm", pull_down="200 ohm", supply="5 V")
    # at the common, its 100 ohm stand beside the 200 ohm of the inverting line
    down = Bias(pull_up="100 ohm", reversed=True, supply_on=False)
    bus = alone(biases=(up, down), terminations=Termination(resistance="250 ohm"))
    assert difference(bus, "gate-1", rails) == near(expected)


def test_legs_on_one_rail_that_is_open_form_a_star():
    legs = (Bias(pull_up="300 ohm"), Bias(pull_up="600 ohm", reversed=True))
    up = Bias(pull_up="500 ohm", pull_down="300 ohm", supply="5 V")
    end = Termination(resistance="300 ohm")
    # 300 and 600 ohm in series beside 300 ohm
    across = 225.0
    off = alone(terminations=end, biases=legs, powered=False)
    driven = daisy_chain([Node(name="head", biases=up), off.nodes[0]], spacing="1 m", cable=PAIR)
    assert difference(driven, "gate-1") == near(5.0 * across / (800.0 + 0.2 + across))


def test_legs_on_rails_of_their_own_do_not_meet_when_open():
    legs = tuple(Bias(pull_up="300 ohm", supply="5 V", reversed=turned) for turned in (False, True))
    assert idle_network(alone(biases=legs, powered=False)).kinds == ()


# --- commons, reference conductor, earths ---------------------------------------------------------------


def test_reference_conductor_carries_the_current_between_earths():
    earths = [
        Earth(name="weir", potential="4 V", resistance="3 ohm"),
        Earth(name="lock", potential="-2 V", resistance="7 ohm"),
    ]
    nodes = [
        Node(name="gate-1", transceiver=FULL, common=WIRED, earth="weir"),
        Node(name="gate-2", transceiver=FULL, common=CommonLink(resistance="45 ohm"), earth="lock"),
    ]
    own = volts(idle_network(daisy_chain(nodes, spacing="100 m", cable=PAIR, reference_conductor=True, earths=earths)))
    current = 6.0 / (3 + 5 + 45 + 7)
    # the pair carries some of it too, through 12 kohm inputs: a part in two thousand
    assert own["gate-1"][2] == pytest.approx(4.0 - 3 * current, rel=2e-3)
    assert own["gate-2"][2] == pytest.approx(-2.0 + 7 * current, rel=2e-3)


def test_common_without_a_way_to_the_reference_floats_at_what_its_inputs_give():
    bank = Earth(name="bank", potential="1 V", resistance="0 ohm")
    nodes = [
        Node(name="gate-1", transceiver=FULL, earth="bank"),
        Node(
            name="gate-2", transceiver=attrs.evolve(FULL, input_reference="1 V"), common=CommonLink(resistance="1 ohm")
        ),
    ]
    own = volts(idle_network(daisy_chain(nodes, spacing="1 m", cable=PAIR, earths=[bank])))
    # no current flows: either pulls its lines to its own reference above its own common
    assert own["gate-1"] == pytest.approx([3.5, 3.5, 1.0], abs=ALGEBRA)
    assert own["gate-2"] == pytest.approx([3.5, 3.5, 2.5], abs=ALGEBRA)


@pytest.mark.parametrize(
    ("fields", "bonded"),
    [
        ({}, True),
        ({"barrier": Barrier()}, False),
        ({"common": CommonLink(resistance="1 kohm")}, True),
        ({"common": CommonLink(resistance="1 kohm", bonded=False)}, False),
        ({"common": CommonLink(resistance="1 kohm", bonded=True), "barrier": Barrier()}, True),
    ],
)
def test_common_stands_on_its_earth_if_it_is_bonded(fields, bonded):
    nodes = [Node(name="gate-1", transceiver=FULL, earth="bank", **fields), Node(name="gate-2", common=WIRED)]
    bus = daisy_chain(
        nodes,
        spacing="1 m",
        cable=PAIR,
        reference_conductor=True,
        earths=[Earth(name="bank", potential="5 V", resistance=0.0)],
    )
    assert (volts(idle_network(bus))["gate-1"][2] == near(5.0)) == bonded


def test_nodes_on_one_earth_share_what_its_resistance_drops():
    bank = Earth(name="bank", potential="0 V", resistance="1 ohm")
    weir = Earth(name="weir", potential="10 V", resistance="0 ohm")
    nodes = [
        Node(name=name, common=WIRED, earth=earth) for name, earth in (("a", "bank"), ("b", "weir"), ("c", "bank"))
    ]
    bus = daisy_chain(nodes, spacing="60 m", cable=PAIR, reference_conductor=True, earths=[bank, weir])
    own = volts(idle_network(bus))
    # 3 ohm of reference conductor from "b" to either side, then 1 ohm for both
    assert own["a"][2] == near(10.0 * 1 / (1.5 + 1))
    assert own["c"][2] == near(own["a"][2])


def test_parts_that_nothing_joins_each_get_a_datum():
    pairs = [Node(name=f"gate-{k}", transceiver=FULL) for k in range(4)]
    segments = [Segment(start=f"gate-{k}", end=f"gate-{k + 1}", length="10 m", cable=PAIR) for k in (0, 2)]
    network = idle_network(Bus(nodes=pairs, segments=segments))
    # the site's earth and one for each half
    assert len(network.fixed) == 3
    for own in volts(network).values():
        assert own[:2] - own[2] == pytest.approx([2.5, 2.5], abs=ALGEBRA)
