"""What must hold of unit loads and idle levels of any bus, each in the form in which it is true."""

import attrs
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dc_strategies import (
    ALGEBRA,
    SUPPLIES,
    dc_buses,
    devices,
    largest_source,
    levels,
    ohms,
    solved,
    with_every,
)
from rs485kit import Barrier, Bias, Bus, Cable, Earth, Node, Protector, Termination, Transceiver, analysis, daisy_chain
from rs485kit.errors import MissingDataError
from rs485kit.network import Network, idle_network
from rs485kit.solvers.nodal import potentials
from rs485kit.testing import figures

CABLE = Cable(name="cable", conductor_resistance=0.1, reference_resistance=0.1)
PART = Transceiver(name="part", unit_load=1.0, receiver_upper_threshold=0.2)
PROPERTY = settings(max_examples=200, deadline=None, derandomize=True)
RAILS = st.sampled_from(["open", "low"])


def assert_same(before: dict[str, float], after: dict[str, float], bus: Bus) -> None:
    """Hold the levels of the nodes before against those after, to 1e-9 of the largest source."""
    for name, volts in before.items():
        assert after[name] == pytest.approx(volts, rel=0, abs=ALGEBRA * largest_source(bus)), name


# --- unit loads -----------------------------------------------------------------------------------------


@st.composite
def loading_nodes(draw: st.DrawFn) -> list[Node]:
    """Devices with protectors on their lines, some figures unknown."""
    unknown = attrs.evolve(PART, unit_load=None)
    clamp = Protector(name="clamp", ends="line-common", standoff="12 V", leakage="1 mA")
    clamps = st.sampled_from([(), (clamp,), (clamp, clamp), (attrs.evolve(clamp, leakage=None),)])
    found = []
    for k in range(draw(st.integers(2, 5))):
        node = draw(devices(f"gate-{k}"))
        receiver = draw(st.sampled_from([node.transceiver, node.transceiver, unknown]))
        found.append(attrs.evolve(node, transceiver=receiver, protectors=draw(clamps), earth=None))
    return found


@PROPERTY
@given(devices_=loading_nodes())
def test_one_node_more_never_lowers_the_unit_load(devices_):
    before, after = analysis.unit_loads(Bus(nodes=devices_[:-1])), analysis.unit_loads(Bus(nodes=devices_))
    for total in ("total", "total_custom", "total_strict"):
        least, most = getattr(before, total), getattr(after, total)
        # what is not known stays unknown
        assert np.isnan(most) or most >= least * (1 - ALGEBRA)
        assert np.isnan(most) >= np.isnan(least)


@PROPERTY
@given(bus=dc_buses(least=2), guest=devices("guest"), data=st.data())
def test_one_node_more_loads_the_bus_alike_wherever_it_goes(bus, guest, data):
    span = data.draw(st.sampled_from(bus.segments))
    at = span.length / 2
    assume(at > 1e-3)
    places = [
        bus.with_node(guest, to=span.start, length="1 m"),
        bus.with_node(guest, on=(span.start, span.end), at=at),
        bus.with_node(guest, on=(span.end, span.start), at=at, stub="2 m"),
    ]
    totals = [analysis.unit_loads(each).total_strict for each in places]
    assert totals[0] >= analysis.unit_loads(bus).total_strict * (1 - ALGEBRA)
    assert totals == pytest.approx([totals[0]] * 3, rel=ALGEBRA)


# --- what a description may leave open ------------------------------------------------------------------


@PROPERTY
@given(bus=dc_buses(), rails=RAILS, data=st.data())
def test_order_and_direction_change_nothing(bus, rails, data):
    turned = [
        attrs.evolve(each, start=each.end, end=each.start) if data.draw(st.booleans()) else each
        for each in bus.segments
    ]
    other = attrs.evolve(
        bus,
        nodes=data.draw(st.permutations(bus.nodes)),
        segments=data.draw(st.permutations(turned)),
        earths=data.draw(st.permutations(bus.earths)),
    )
    assert_same(levels(bus, rails), levels(other, rails), bus)


@PROPERTY
@given(data=st.data())
def test_units_of_the_input_change_nothing(data):
    def decimals(low: int, high: int) -> int:
        return data.draw(st.integers(low, high))

    length, leg, end, volts, earth = (
        decimals(1, 2000),
        decimals(200, 5000),
        decimals(60, 500),
        decimals(1, 12000),
        decimals(-3000, 3000),
    )
    per_metre, share = decimals(10, 300), decimals(1, 1000)
    units = data.draw(st.integers(0, 2))
    bus_of = [
        {"length": float(length), "leg": float(leg), "end": float(end), "volts": volts / 1000, "earth": earth / 1000,
         "per_metre": per_metre / 1000, "share": share / 1000, "reference": volts / 12000 * 2.5},
        {"length": f"{length / 1000} km", "leg": f"{leg / 1000} kohm", "end": f"{end} ohm", "volts": f"{volts} mV",
         "earth": f"{earth} mV", "per_metre": f"{per_metre} ohm/km", "share": f"{share / 10} %",
         "reference": f"{volts / 12000 * 2.5 * 1000} mV"},
        {"length": f"{length * 100} cm", "leg": f"{leg / 1e6} Mohm", "end": f"{end * 1000} mohm", "volts": f"{volts / 1000} V",
         "earth": f"{earth / 1e6} kV", "per_metre": f"{per_metre} mohm/m", "share": share / 1000,
         "reference": f"{volts / 12000 * 2.5} V"},
    ]  # fmt: skip

    def built(text: dict[str, object]) -> Bus:
        part = Transceiver(name="part", unit_load=text["share"], input_reference=text["reference"])
        cable = Cable(name="cable", conductor_resistance=text["per_metre"])
        bias = Bias(pull_up=text["leg"], pull_down=text["leg"], supply=text["volts"])
        devices_ = [
            Node(name="a", transceiver=part, biases=bias, earth="one"),
            Node(name="b", transceiver=part, terminations=Termination(resistance=text["end"]), earth="two"),
        ]
        earths = [Earth(name="one", potential=text["earth"]), Earth(name="two", potential="0 V", resistance="1 ohm")]
        return daisy_chain(devices_, spacing=text["length"], cable=cable, earths=earths)

    assert_same(levels(built(bus_of[0])), levels(built(bus_of[units])), built(bus_of[0]))


@PROPERTY
@given(bus=dc_buses(least=2), rails=RAILS, share=figures(0.001, 0.999), data=st.data())
def test_passive_place_on_a_span_changes_nothing(bus, rails, share, data):
    span = data.draw(st.sampled_from(bus.segments))
    at = share * span.length
    assume(1e-3 < at < span.length - 1e-3)
    cut = bus.with_node(Node(name="joint"), on=(span.start, span.end), at=at)
    assert_same(levels(bus, rails), levels(cut, rails), bus)


@PROPERTY
@given(bus=dc_buses(least=2), rails=RAILS, data=st.data())
def test_stub_to_a_place_where_nothing_is_changes_nothing(bus, rails, data):
    place = data.draw(st.sampled_from(bus.nodes)).name
    assert_same(
        levels(bus, rails), levels(bus.with_node(Node(name="spare"), to=place, length="7 m", cable=CABLE), rails), bus
    )


# --- laws of the network --------------------------------------------------------------------------------


@PROPERTY
@given(bus=dc_buses(), rails=RAILS)
def test_currents_sum_to_zero_wherever_no_potential_is_given(bus, rails):
    network = idle_network(bus, rails=rails)
    start, end, conductance = network.branches
    volts = solved(network)
    current = conductance * (volts[start] - volts[end] - network.emf)
    balance, through = np.zeros(network.layout.size), np.zeros(network.layout.size)
    for unknown, sign in ((start, 1.0), (end, -1.0)):
        np.add.at(balance, unknown, sign * current)
        np.add.at(through, unknown, conductance)
    # an island needs no given potential, only a datum, and no current flows there either
    earthed = {network.layout.vertices * network.layout.width + k for k in range(network.layout.border)}
    free = [unknown for unknown in range(network.layout.size) if unknown not in earthed or unknown not in network.fixed]
    rounding = 16 * np.finfo(float).eps * through[free] * (1.0 + np.abs(volts).max())
    assert (np.abs(balance[free]) <= ALGEBRA * np.abs(current).max(initial=0.0) + rounding).all()


@PROPERTY
@given(bus=dc_buses(), rails=RAILS)
def test_sources_act_each_by_itself_and_add_up(bus, rails):
    kinds = ("supply", "earth", "reference")
    alone = [levels(with_every(bus, **{kind: float(kind == each) for kind in kinds}), rails) for each in kinds]
    total = {node.name: sum(each[node.name] for each in alone) for node in bus.nodes}
    assert_same(levels(bus, rails), total, bus)


@PROPERTY
@given(bus=dc_buses(), rails=RAILS, factor=figures(0, 1))
def test_levels_grow_with_their_sources(bus, rails, factor):
    less = levels(with_every(bus, supply=factor, earth=factor, reference=factor), rails)
    assert_same({name: factor * volts for name, volts in levels(bus, rails).items()}, less, bus)


def transfer_impedances(network: Network) -> np.ndarray:
    """Return the voltage across each node's lines for 1 A from one line to the other of each node [ohm]."""
    count = len(network.nodes)
    injected = np.zeros((network.layout.size, count))
    injected[network.terminals[:, 0], np.arange(count)] += 1.0
    injected[network.terminals[:, 1], np.arange(count)] -= 1.0
    volts = potentials(network.layout, network.branches, injected, network.fixed, np.zeros((len(network.fixed), count)))
    return volts[network.terminals[:, 0]] - volts[network.terminals[:, 1]]


@PROPERTY
@given(bus=dc_buses(least=2), rails=RAILS)
def test_transfer_impedance_is_the_same_both_ways(bus, rails):
    network = idle_network(bus, rails=rails)
    # without a path between its lines there is no impedance to speak of
    assume(_lines_are_joined(network))
    impedance = transfer_impedances(network)
    np.testing.assert_allclose(impedance, impedance.T, rtol=0, atol=ALGEBRA * np.abs(impedance).max())
    assert (np.diagonal(impedance) >= 0.0).all()


def _lines_are_joined(network: Network) -> bool:
    part = list(range(network.layout.size))
    for a, b in zip(network.branches.start.tolist(), network.branches.end.tolist(), strict=True):
        old, new = part[b], part[a]
        part = [new if each == old else each for each in part]
    return all(part[plus] == part[minus] for plus, minus, _ in network.terminals.tolist())


@PROPERTY
@given(bus=dc_buses(), rails=RAILS, volts=figures(-1000, 1000))
def test_raising_every_earth_alike_changes_nothing(bus, rails, volts):
    earths = [attrs.evolve(each, potential=each.potential.typ + volts) for each in bus.earths]
    raised = attrs.evolve(bus, earths=earths)
    assert_same(levels(bus, rails), levels(raised, rails), raised)


@PROPERTY
@given(bus=dc_buses(), rails=RAILS, data=st.data())
def test_isolated_node_that_draws_nothing_changes_no_other_level(bus, rails, data):
    place = data.draw(st.sampled_from(bus.nodes)).name
    part = Transceiver(name="draws nothing", unit_load=0.0, receiver_upper_threshold=0.2)
    guest = Node(name="guest", transceiver=part, barrier=Barrier(), earth=data.draw(st.sampled_from([None, "weir"])))
    more = bus.with_node(guest, to=place, length="1 m", cable=CABLE)
    assert_same(levels(bus, rails), levels(more, rails), bus)
    try:
        before = analysis.idle_levels(bus)
    except MissingDataError:
        return
    after = analysis.idle_levels(more)
    assert_same(
        dict(zip(before.nodes, before.voltage.nominal, strict=True)),
        dict(zip(after.nodes, after.voltage.nominal, strict=True)),
        bus,
    )


# --- one more terminator --------------------------------------------------------------------------------


@PROPERTY
@given(bus=dc_buses(), rails=RAILS, resistance=ohms(30, 1e5), data=st.data())
def test_terminator_never_raises_the_magnitude_at_its_own_place(bus, rails, resistance, data):
    place = data.draw(st.sampled_from(bus.nodes))
    more = bus.replace_node(attrs.evolve(place, terminations=(*place.terminations, Termination(resistance=resistance))))
    before, after = levels(bus, rails)[place.name], levels(more, rails)[place.name]
    assert abs(after) <= abs(before) + ALGEBRA * largest_source(bus)
    assert before * after >= -ALGEBRA * largest_source(bus)


@PROPERTY
@given(bus=dc_buses(paired=True, up=True, swaps=False), resistance=ohms(30, 1e5), data=st.data())
def test_terminator_never_raises_a_level_where_all_legs_are_equal(bus, resistance, data):
    """With the level at its own place positive, equal legs at every place, no supply down and no lines swapped."""
    place = data.draw(st.sampled_from(bus.nodes))
    before = levels(bus)
    assume(before[place.name] > 0)
    more = bus.replace_node(attrs.evolve(place, terminations=(*place.terminations, Termination(resistance=resistance))))
    for name, volts in levels(more).items():
        assert volts <= before[name] + ALGEBRA * largest_source(bus)


def split_bias(*terminators: Termination) -> Bus:
    """Return a pull-up at one end and its pull-down at the other of a long thin pair, terminated in the middle."""
    devices_ = [
        Node(name="head", biases=Bias(pull_up="200 ohm", supply="5 V"), earth="site", terminations=terminators),
        Node(name="middle", terminations=Termination(resistance="30 ohm")),
        Node(name="tail", biases=Bias(pull_down="200 ohm"), earth="site"),
    ]
    thin = attrs.evolve(CABLE, conductor_resistance=0.3)
    return daisy_chain(devices_, spacing="500 m", cable=thin, earths=[Earth(name="site")])


def test_terminator_can_raise_a_level_where_legs_are_not_equal():
    """The condition of equal legs is needed: it does if r^2 > T L, r one conductor of a half, T the terminator in the
    middle, L the two legs in series.
    """
    bare, ended = levels(split_bias()), levels(split_bias(Termination(resistance="120 ohm")))
    assert bare["head"] > 0
    assert ended["tail"] > bare["tail"] + 0.01


# --- one more bias --------------------------------------------------------------------------------------


@PROPERTY
@given(bus=dc_buses(paired=True, up=True, swaps=False), leg=ohms(100, 1e5), supply=SUPPLIES, data=st.data())
def test_bias_above_the_level_never_lowers_one_where_all_legs_are_equal(bus, leg, supply, data):
    """Powered, equal legs, right way round, its supply above the level at its place, whatever commons and earths do."""
    place = data.draw(st.sampled_from(bus.nodes))
    before = levels(bus)
    assume(supply > before[place.name])
    bias = Bias(pull_up=leg, pull_down=leg, supply=supply)
    more = bus.replace_node(attrs.evolve(place, biases=(*place.biases, bias)))
    for name, volts in levels(more).items():
        assert volts >= before[name] - ALGEBRA * max(largest_source(bus), supply)


def lone_pull_down(biased: bool) -> Bus:
    """Return a bus with a leg of the wrong line to the common at one end, and perhaps a bias at the other."""
    bias = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V") if biased else None
    devices_ = [
        Node(name="head", biases=bias, terminations=Termination(resistance="120 ohm"), earth="site"),
        Node(name="tail", biases=Bias(pull_down="100 ohm", reversed=True), earth="site"),
    ]
    return daisy_chain(devices_, spacing="1 km", cable=CABLE, earths=[Earth(name="site")])


def test_bias_can_lower_a_level_where_legs_are_not_equal():
    """The condition of equal legs is needed, also on one common potential and below the supply."""
    before, after = levels(lone_pull_down(False)), levels(lone_pull_down(True))
    assert before["tail"] == pytest.approx(0.0, abs=ALGEBRA)
    assert after["tail"] < -0.05


def test_bias_below_the_level_lowers_it():
    """The condition on its supply is needed: a set on 3.3 V on an unterminated bus of 5 V."""
    high = Node(name="high", biases=Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V"))
    bus = Bus(nodes=high)
    low = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="3.3 V")
    more = bus.replace_node(attrs.evolve(high, biases=(*high.biases, low)))
    assert levels(bus)["high"] == pytest.approx(5.0)
    assert levels(more)["high"] == pytest.approx((5.0 + 3.3) / 2)
