"""The typed core: what its objects refuse first, then how they behave and how a bus is edited."""

import datetime
import math
import pickle
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any

import attrs
import pytest

from rs485kit import model, units
from rs485kit.errors import InputError, UnknownNameError
from rs485kit.model import (
    Barrier,
    Bias,
    Bus,
    Cable,
    Circuit,
    CommonLink,
    Earth,
    Environment,
    IsolatedSupply,
    Isolator,
    Link,
    Node,
    Policy,
    Protector,
    Segment,
    Termination,
    Transceiver,
    Waiver,
    daisy_chain,
)
from rs485kit.units import MinTypMax

PAIR = Cable(name="pair", conductor_resistance="84.2 ohm/km")
OTHER = Cable(name="other pair")
CLASSES = [kind for name in model.__all__ if isinstance(kind := getattr(model, name), type)]


def passive(*names: str) -> list[Node]:
    return [Node(name=name) for name in names]


def canal() -> Bus:
    """A trunk of 300 m with the gauge on a stub of 2 m."""
    return daisy_chain(
        passive("pump-house", "gauge", "gate"), positions=[0, 100, 300], cable=PAIR, stub={"gauge": "2 m"},
        reference_conductor=True,
    )  # fmt: skip


def said(make: Any, *arguments: Any, **fields: Any) -> str:
    """Return what is said when an object or an edit is refused."""
    with pytest.raises(InputError) as caught:
        make(*arguments, **fields)
    assert isinstance(caught.value, ValueError)
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)
    return str(caught.value)


# --- bad objects -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["", " x", "x ", "a\nb", "a\0b", "a\u202eb", "\ud800", "x" * 101, 5, None, b"x", ["x"]]
)
def test_a_name_is_printable_text(name: Any) -> None:
    assert "Node.name: given" in said(Node, name=name)
    assert "Earth.name: given" in said(Earth, name=name)
    if name:
        assert "Termination.name" in said(Termination, resistance=120, name=name)


@pytest.mark.parametrize(
    ("kind", "field", "value", "bound"),
    [
        (Transceiver, "unit_load", -0.1, "at least 0"), (Transceiver, "unit_load", 33, "at most 32"),
        (Transceiver, "driver_edge_time", 10, "at most 0.001 s"), (Transceiver, "max_data_rate", 0, "at least 1"),
        (Transceiver, "input_reference", 3, "at most 2.6 V"), (Cable, "capacitance", 50, "at most 1e-09 F/m"),
        (Cable, "conductor_resistance", 84.2, "at most 10 ohm/m"), (Cable, "velocity_factor", "120 %", "at most 1"),
        (Cable, "velocity_factor", (0.05, 0.6, 0.7), "at least 0.1"), (Isolator, "transient_immunity", 25, "at least 1e+06"),
        (IsolatedSupply, "output_power", 0, "at least 0.001"), (Earth, "potential", "20 kV", "at most 10000 V"),
        (Earth, "mains_phase", 120, "at most 7 rad"), (Earth, "resistance", -1, "at least 0"),
    ],
)  # fmt: skip
def test_an_implausible_figure_names_object_field_value_bound_and_cure(
    kind: type, field: str, value: Any, bound: str
) -> None:
    text = said(kind, name="part", **{field: value})
    assert text.startswith(f'{kind.__name__} "part".{field}: given ')
    assert bound in text
    assert "read as SI" in text or field in ("unit_load", "velocity_factor")


@pytest.mark.parametrize(
    ("kind", "fields", "place"),
    [
        (Node, {"name": "weir", "transceiver": "generic.x"}, 'Node "weir".transceiver'),
        (Node, {"name": "weir", "transceiver": Transceiver}, 'Node "weir".transceiver'),
        (Node, {"name": "weir", "drives": 1}, 'Node "weir".drives'),
        (Node, {"name": "weir", "powered": None}, 'Node "weir".powered'),
        (Node, {"name": "weir", "terminations": [5]}, 'Node "weir".terminations'),
        (Node, {"name": "weir", "earth": 5}, 'Node "weir".earth'),
        (Node, {"name": "weir", "earth": Earth(name="bank")}, 'Node "weir".earth'),
        (Node, {"name": "weir", "barrier": Isolator(name="part")}, 'Node "weir".barrier'),
        (Node, {"name": "weir", "common": 100}, 'Node "weir".common'),
        (Node, {"name": "weir.tap", "transceiver": Transceiver(name="part")}, 'Node "weir.tap".name'),
        (CommonLink, {"resistance": 100, "bonded": "yes"}, "CommonLink.bonded"),
        (Isolator, {"name": "part", "insulation": "double"}, 'Isolator "part".insulation'),
        (Circuit, {"hazard": "safe"}, "Circuit.hazard"),
        (Circuit, {"overvoltage_category": 5}, "Circuit.overvoltage_category"),
        (Circuit, {"overvoltage_category": True}, "Circuit.overvoltage_category"),
        (Environment, {"pollution_degree": 16**5000}, "Environment.pollution_degree"),
        (Environment, {"temperature": 25}, "Environment.temperature"),
        (Protector, {"name": "arrester", "ends": "line"}, 'Protector "arrester".ends'),
        (Bias, {}, "Bias"),
        (Termination, {"resistance": 120, "supply": 5}, "Termination.supply"),
        (Termination, {"resistance": 120, "capacitance": "1 nF", "pull_up": 390}, "Termination"),
        (Transceiver, {"name": "part", "receiver_upper_threshold": "0 V", "receiver_lower_threshold": "0.1 V"},
         'Transceiver "part".receiver_lower_threshold'),
        (Segment, {"start": "weir", "end": "weir", "length": 1}, "Segment.end"),
        (Segment, {"start": "weir", "end": "lock", "length": 0}, "Segment.length"),
        (Segment, {"start": "weir", "end": "lock", "length": "1,5 m"}, "Segment.length"),
        (Segment, {"start": "weir", "end": "lock", "length": None}, "Segment.length"),
        (Segment, {"start": "weir", "end": "lock", "length": 1, "cable": "pair"}, "Segment.cable"),
        (Link, {"frame": "8N"}, "Link.frame"),
        (Link, {"frame": "８N1"}, "Link.frame"),
        (Link, {"data_rate": "9600 Hz"}, "Link.data_rate"),
        (Policy, {"select": [5]}, "Policy.select"),
        (Policy, {"select": 5}, ""),
        (Policy, {"waivers": [5]}, "Policy.waivers"),
        (Policy, {"waivers": 5}, ""),
        (Policy, {"settings": 5}, "Policy.settings"),
        (Policy, {"settings": [5]}, "Policy.settings"),
        (Policy, {"settings": {"loading": 5}}, 'Policy.settings["loading"]'),
        (Policy, {"settings": {5: {"reserve": 1}}}, "Policy.settings"),
        (Policy, {"settings": {"loading": {"reserve": math.inf}}}, 'Policy.settings["loading"].reserve'),
        (Policy, {"settings": {"loading": {"reserve": 10**400}}}, 'Policy.settings["loading"].reserve'),
        (Policy, {"settings": {"loading": {"reserve": None}}}, 'Policy.settings["loading"].reserve'),
        (Policy, {"settings": {"loading": {"reserve": "\ud800"}}}, 'Policy.settings["loading"].reserve'),
        (Policy, {"settings": (("a", (("x", 1),)), ("a", (("y", 2),)))}, "Policy.settings"),
        (Waiver, {"rule": "loading", "reason": "why"}, 'Waiver of "loading"'),
        (Waiver, {"rule": "loading", "reason": " ", "bus": True}, "Waiver.reason"),
        (Waiver, {"rule": "loading", "reason": "\ud800", "bus": True}, "Waiver.reason"),
        (Waiver, {"rule": "loading", "reason": "x" * 1001, "bus": True}, "Waiver.reason"),
        (Waiver, {"rule": "loading", "reason": "why", "nodes": [""]}, "Waiver.nodes"),
        (Waiver, {"rule": "loading", "reason": "why", "nodes": 5}, ""),
        (Waiver, {"rule": "loading", "reason": "why", "segments": ["ab"]}, ""),
        (Waiver, {"rule": "loading", "reason": "why", "segments": [("a", "b", "c")]}, ""),
        (Waiver, {"rule": "loading", "reason": "why", "segments": 5}, ""),
        (Waiver, {"rule": "loading", "reason": "why", "bus": True, "until": "31.3.2027"}, "Waiver.until"),
        (Waiver, {"rule": "loading", "reason": "why", "bus": True, "until": datetime.datetime(2027, 3, 31)}, "Waiver.until"),
    ],
)  # fmt: skip
def test_a_wrong_field_is_refused_by_name(kind: type, fields: dict[str, Any], place: str) -> None:
    text = said(kind, **fields)
    assert text.startswith(f"{place}: given " if place else "given ")


@pytest.mark.parametrize(
    ("fields", "said_too"),
    [
        ({"nodes": []}, "at least one node"),
        ({"nodes": 5}, "one Node object or a sequence of them"),
        ({"nodes": ["weir"]}, "Node objects"),
        ({"nodes": passive("weir", "weir")}, 'Bus.nodes["weir"]: given the name twice'),
        ({"nodes": passive("weir"), "earths": [Earth(name="bank")] * 2}, 'Bus.earths["bank"]: given the name twice'),
        ({"nodes": [Node(name="weir", earth="bnk")], "earths": [Earth(name="bank")]}, "did you mean bank?"),
        ({"nodes": passive("weir"), "link": Link(controller="wier")}, "Bus.link.controller"),
        ({"nodes": passive("weir"), "segments": [Segment(start="weir", end="lock", length=1)]}, "Bus.segments[0].end"),
        ({"nodes": passive("a", "b"), "segments": [Segment(start="a", end="b", length=1), Segment(start="b", end="a", length=2)]},
         'a second segment between "b" and "a"'),
        ({"nodes": passive("weir"), "link": "8N1"}, "Bus.link"),
    ],
)  # fmt: skip
def test_a_bus_refuses_what_does_not_hang_together(fields: dict[str, Any], said_too: str) -> None:
    assert said_too in said(Bus, **fields)


def test_a_bus_tells_all_that_dangles_at_once() -> None:
    segments = [Segment(start="x", end="y", length=1), Segment(start="weir", end="z", length=1)]
    text = said(Bus, nodes=[Node(name="weir", earth="bank")], segments=segments, link=Link(controller="q"))
    assert text.startswith("5 problems\n")


@pytest.mark.parametrize(
    ("arguments", "said_too"),
    [
        ({}, "spacing or positions"),
        ({"spacing": 1, "positions": [0, 1, 2]}, "spacing or positions"),
        ({"spacing": [1]}, "exactly 2"),
        ({"spacing": [1, 2, 3]}, "exactly 2"),
        ({"spacing": "1,5 m"}, "daisy_chain spacing"),
        ({"spacing": [1, "x"]}, "daisy_chain spacing"),
        ({"spacing": 0}, "Segment.length"),
        ({"positions": [0, 1]}, "3, one per node"),
        ({"positions": [0, 1, 1]}, '"c" not beyond'),
        ({"positions": [0, 2, 1]}, '"c" not beyond'),
        ({"positions": 5}, "3, one per node"),
        ({"positions": "012"}, "3, one per node"),
        ({"positions": [0, 1, math.nan]}, "daisy_chain positions"),
        ({"spacing": 1, "cable": [PAIR]}, "exactly 2"),
        ({"spacing": 1, "cable": "pair"}, "Segment.cable"),
        ({"spacing": 1, "stub": [1]}, "exactly 3"),
        ({"spacing": 1, "stub": {"d": 1}}, '"d"'),
        ({"spacing": 1, "stub": "1,5 m"}, "daisy_chain stub"),
        ({"spacing": 1, "stub": -1}, "Segment.length"),
    ],
)
def test_a_chain_refuses_what_does_not_fit(arguments: dict[str, Any], said_too: str) -> None:
    assert said_too in said(daisy_chain, passive("a", "b", "c"), **arguments)


@pytest.mark.parametrize("nodes", [5, None, [5], ["a", "b"], "ab", [Node(name="a"), None]])
def test_a_chain_is_made_of_nodes(nodes: Any) -> None:
    assert "daisy_chain nodes" in said(daisy_chain, nodes, spacing=1)


@pytest.mark.parametrize("name", ["wier", "", 5, None, ["weir"], "x" * 10_000])
def test_what_is_not_on_the_bus_is_named_with_near_names(name: Any) -> None:
    bus = Bus(nodes=passive("weir"), earths=[Earth(name="bank")])
    for look_up in (bus.node, bus.earth, bus.neighbours, bus.without_node):
        with pytest.raises(UnknownNameError) as caught:
            look_up(name)
        assert isinstance(caught.value, LookupError)
        assert caught.value.name == str(name)
        assert pickle.loads(pickle.dumps(caught.value)).name == str(name)
    for two in (bus.segment, bus.path, bus.distance):
        with pytest.raises(UnknownNameError):
            two("weir", name)
        with pytest.raises(UnknownNameError):
            two(name, "weir")
    with pytest.raises(UnknownNameError, match='did you mean "weir"'):
        bus.node("wier")


@pytest.mark.parametrize(
    ("arguments", "said_too"),
    [
        ({}, "on=(a, b) with at=..., or to=... with length=..."),
        ({"on": ("pump-house", "gauge.tap")}, "with at"),
        ({"at": 3}, "with at"),
        ({"to": "gate"}, "with length"),
        ({"length": 3}, "with length"),
        ({"on": ("pump-house", "gauge.tap"), "at": 3, "to": "gate", "length": 3}, "or to="),
        ({"on": ("pump-house", "gauge.tap"), "at": 0}, "less than 100 m"),
        ({"on": ("pump-house", "gauge.tap"), "at": 100}, "less than 100 m"),
        ({"on": ("pump-house", "gauge.tap"), "at": "3"}, "Bus.with_node at"),
        ({"on": ("pump-house", "gauge.tap"), "at": 3, "stub": "x"}, "Bus.with_node stub"),
        ({"on": ("pump-house",), "at": 3}, "two neighbouring places"),
        ({"on": "ab", "at": 3}, "two neighbouring places"),
        ({"to": "gate", "length": 3, "stub": 3}, "a stub on a span"),
        ({"to": "gate", "length": "x"}, "Bus.with_node length"),
        ({"to": "gate", "length": 0}, "Segment.length"),
        ({"to": "gate", "length": 1, "cable": "pair"}, "Segment.cable"),
    ],
)
def test_a_new_node_goes_on_a_span_or_a_branch(arguments: dict[str, Any], said_too: str) -> None:
    assert said_too in said(canal().with_node, Node(name="new"), **arguments)


def test_edits_refuse_what_is_no_object_or_would_break_the_bus() -> None:
    bus = canal()
    for edit in (bus.replace_node, bus.replace_segment, lambda what: bus.with_node(what, to="gate", length=1)):
        assert "given 5" in said(edit, 5)
    assert "the name twice" in said(bus.with_node, Node(name="gauge"), to="gate", length=1)
    assert "joins 3 segments" in said(bus.without_node, "gauge.tap")
    assert "at least one node" in said(Bus(nodes=passive("weir")).without_node, "weir")
    with pytest.raises(UnknownNameError):
        bus.replace_node(Node(name="new"))
    with pytest.raises(UnknownNameError):
        bus.replace_segment(Segment(start="pump-house", end="gate", length=1))
    with pytest.raises(UnknownNameError, match=r'"pump-house" is joined to gauge\.tap'):
        bus.with_node(Node(name="new"), on=("pump-house", "gate"), at=1)


def test_spans_of_different_kinds_are_not_joined() -> None:
    bus = daisy_chain(passive("a", "b", "c"), spacing=1, cable=[PAIR, OTHER])
    assert "two spans of different kinds" in said(bus.without_node, "b")


# --- objects ---------------------------------------------------------------------------------------------


def one_of_each() -> list[Any]:
    end = Termination(resistance="120 ohm +/- 1 %")
    barrier = Barrier(isolator=Isolator(name="part"), supply=IsolatedSupply(name="brick"))
    policy = Policy(
        select="loading",
        settings={"a": {"x": 1}},
        waivers=Waiver(rule="a", reason="b", nodes="weir", until="2027-03-31"),
    )
    bus = attrs.evolve(canal(), policy=policy, link=Link(data_rate="9600 bit/s"), environment=Environment(altitude=10))
    return [
        end, barrier, policy, bus, *bus.nodes, *bus.segments, PAIR, Bias(pull_up=510), Earth(name="bank", potential="3 V"),
        Circuit(hazard="touchable"), CommonLink(resistance=100), Protector(name="arrester", ends="line-line"),
        Transceiver(name="part", unit_load=0.125), MinTypMax(typ=3), policy.waivers[0],
    ]  # fmt: skip


@pytest.mark.parametrize("thing", one_of_each(), ids=lambda thing: type(thing).__name__)
def test_objects_are_values(thing: Any) -> None:
    again = attrs.evolve(thing)
    assert again == thing
    assert hash(again) == hash(thing)
    sent = pickle.loads(pickle.dumps(thing))
    assert sent == thing
    assert hash(sent) == hash(thing)
    for name in (attrs.fields(type(thing))[0].name, "something_new"):
        with pytest.raises((attrs.exceptions.FrozenInstanceError, AttributeError)):
            setattr(thing, name, None)


def test_equal_content_of_different_classes_is_not_equal() -> None:
    assert Circuit() != Environment()
    assert Bias(pull_up=510) != Termination(resistance=510)


@pytest.mark.parametrize("kind", CLASSES)
def test_fields_are_given_by_name_and_converted_on_evolve(kind: type) -> None:
    assert all(field.kw_only for field in attrs.fields(kind))
    with pytest.raises(TypeError):
        kind("weir")
    with pytest.raises(TypeError):
        kind(name="weir", something_new=1)


def test_evolve_reads_text_again() -> None:
    segment = attrs.evolve(canal().segment("pump-house", "gauge.tap"), length="0.2 km")
    assert segment.length == 200.0
    assert "Segment.length" in said(attrs.evolve, segment, length="0,2 km")


def test_a_single_object_stands_for_a_tuple_of_one() -> None:
    end = Termination(resistance=120)
    assert Node(name="weir", terminations=end).terminations == (end,)
    assert Node(name="weir", terminations=[end, end]).terminations == (end, end)
    assert Node(name="weir", terminations=None).terminations == ()
    assert Bus(nodes=Node(name="weir")).nodes == (Node(name="weir"),)
    assert Node(name="weir", terminations=(each for each in [end])).terminations == (end,)


def test_a_bus_that_has_been_asked_still_pickles_and_evolves() -> None:
    bus = canal()
    assert bus.distance("gauge", "gate") == 202.0
    for again in (pickle.loads(pickle.dumps(bus)), attrs.evolve(bus)):
        assert again == bus
        assert again.distance("gauge", "gate") == 202.0
    longer = bus.replace_segment(attrs.evolve(bus.segment("gauge", "gauge.tap"), length=3))
    assert longer.distance("gauge", "gate") == 203.0
    assert bus.distance("gauge", "gate") == 202.0


def test_objects_and_errors_pass_through_a_process_pool() -> None:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        assert pool.submit(attrs.evolve, canal()).result(60) == canal()
        assert pool.submit(Bus.distance, canal(), "gauge", "gate").result(60) == 202.0
        with pytest.raises(InputError, match=r"given '1,5 m'"):
            pool.submit(units.si, "1,5 m", "m").result(60)
        with pytest.raises(UnknownNameError, match='did you mean "gate"'):
            pool.submit(Bus.node, canal(), "gat").result(60)


def test_a_common_is_bonded_as_the_node_is_built_unless_it_says_otherwise() -> None:
    barrier = Barrier()
    link = CommonLink(resistance=0)
    assert Node(name="n", earth="bank").bonded
    assert Node(name="n", earth="bank", common=link).bonded
    assert not Node(name="n", earth="bank", barrier=barrier).bonded
    assert not Node(name="n", earth="bank", common=attrs.evolve(link, bonded=False)).bonded
    assert Node(name="n", earth="bank", barrier=barrier, common=attrs.evolve(link, bonded=True)).bonded
    assert not Node(name="n", common=attrs.evolve(link, bonded=True)).bonded


def test_the_supply_of_a_node_is_that_of_its_barrier_or_its_transceiver() -> None:
    part = Transceiver(name="part", supply_voltage="5 V")
    brick = IsolatedSupply(name="brick", output_voltage="3.3 V")
    assert Node(name="n").supply_voltage is None
    assert Node(name="n", transceiver=part).supply_voltage == part.supply_voltage
    assert Node(name="n", transceiver=part, barrier=Barrier(supply=brick)).supply_voltage == brick.output_voltage


def test_a_node_listens_with_a_receiver_that_is_in_use() -> None:
    part = Transceiver(name="part")
    assert Node(name="n", transceiver=part).listens
    assert not Node(name="n", transceiver=part, receives=False).listens
    assert not Node(name="n").listens


def test_settings_are_sorted_and_found() -> None:
    policy = Policy(settings={"b": {"y": 1, "x": "2 m"}, "a": {}})
    assert policy == Policy(settings=policy.settings)
    assert policy.settings == (("a", ()), ("b", (("x", "2 m"), ("y", 1))))
    assert policy.settings_of("b") == {"x": "2 m", "y": 1}
    assert policy.settings_of("c") == {}


def test_a_policy_is_laid_over_another() -> None:
    waiver = Waiver(rule="a", reason="r", bus=True)
    base = Policy(select="loading", skip="idle", settings={"a": {"x": 1, "y": 2}}, waivers=waiver)
    over = Policy(skip=["idle", "common"], settings={"a": {"y": 3}, "b": {"z": 4}}, waivers=waiver)
    assert over.over(None) == over
    assert over.over(base) == Policy(
        select="loading", skip=["idle", "common"], settings={"a": {"x": 1, "y": 3}, "b": {"z": 4}}, waivers=waiver
    )
    assert attrs.evolve(over, select="idle").over(base).select == ("idle",)


# --- a bus as a graph ------------------------------------------------------------------------------------


def test_looking_things_up() -> None:
    bus = attrs.evolve(canal(), earths=[Earth(name="bank")])
    assert bus.node("gate").name == "gate"
    assert bus.earth("bank").name == "bank"
    assert bus.segment("gauge", "gauge.tap") is bus.segment("gauge.tap", "gauge")
    assert bus.neighbours("gauge.tap") == ("pump-house", "gate", "gauge")
    assert bus.barriers == {}
    barrier = Barrier()
    assert bus.replace_node(Node(name="gate", barrier=barrier)).barriers == {"gate": barrier}


def test_paths_distances_and_ends() -> None:
    bus = canal()
    assert bus.path("pump-house", "gauge") == ("pump-house", "gauge.tap", "gauge")
    assert bus.path("gate", "gate") == ("gate",)
    assert bus.distance("gate", "gate") == 0.0
    assert bus.distance("pump-house", "gate") == 300.0
    assert bus.ends == ("pump-house", "gate")
    assert Bus(nodes=passive("weir")).ends == ("weir",)
    apart = Bus(nodes=passive("weir", "lock"))
    assert apart.path("weir", "lock") == ()
    assert apart.distance("weir", "lock") == math.inf


def test_a_ring_goes_the_shorter_way() -> None:
    chain = daisy_chain(passive("a", "b", "c", "d"), spacing=[1, 2, 3])
    ring = attrs.evolve(chain, segments=(*chain.segments, Segment(start="d", end="a", length=4)))
    assert ring.path("a", "c") == ("a", "b", "c")
    assert ring.distance("a", "d") == 4.0
    assert ring.path("d", "b") == ("d", "a", "b") or ring.distance("d", "b") == 5.0


def test_the_ends_of_a_trunk_are_its_farthest_places_even_on_a_stub() -> None:
    bus = daisy_chain(passive("a", "b", "c"), spacing=10, stub={"a": 5})
    assert bus.ends == ("a", "c")


# --- chains ----------------------------------------------------------------------------------------------


def test_spacing_and_positions_make_the_same_chain() -> None:
    by_spacing = daisy_chain(passive("a", "b", "c"), spacing=["10 m", 20], cable=PAIR)
    by_position = daisy_chain(passive("a", "b", "c"), positions=[5, "15 m", 35], cable=[PAIR, PAIR])
    assert by_spacing == by_position
    assert [segment.length for segment in by_spacing.segments] == [10.0, 20.0]
    assert daisy_chain(passive("a", "b", "c"), spacing=10) == daisy_chain(passive("a", "b", "c"), spacing=[10, 10])
    assert daisy_chain(passive("a"), spacing=10).segments == ()


def test_a_stub_is_one_value_one_each_or_by_name() -> None:
    every = daisy_chain(passive("a", "b"), spacing=10, stub="1 m")
    assert every.nodes == (*passive("a", "b"), *passive("a.tap", "b.tap"))
    assert [(each.start, each.end) for each in every.segments] == [("a.tap", "b.tap"), ("a.tap", "a"), ("b.tap", "b")]
    assert every == daisy_chain(passive("a", "b"), spacing=10, stub=[1, 1])
    assert every == daisy_chain(passive("a", "b"), spacing=10, stub={"a": 1, "b": "100 cm"})
    one = daisy_chain(passive("a", "b"), spacing=10, stub=[None, 1])
    assert one == daisy_chain(passive("a", "b"), spacing=10, stub={"b": 1, "a": 0})
    assert [node.name for node in one.nodes] == ["a", "b", "b.tap"]


def test_stubs_take_the_cable_beside_them_or_their_own() -> None:
    bus = daisy_chain(passive("a", "b", "c"), spacing=10, cable=[PAIR, OTHER], stub=1, reference_conductor=True)
    assert [bus.segment(name, f"{name}.tap").cable for name in "abc"] == [PAIR, OTHER, OTHER]
    assert {segment.reference_conductor for segment in bus.segments} == {True}
    own = daisy_chain(passive("a", "b"), spacing=10, cable=PAIR, stub=1, stub_cable=OTHER)
    assert own.segment("a", "a.tap").cable == OTHER


# --- edits -----------------------------------------------------------------------------------------------


def test_a_node_on_a_span_splits_it() -> None:
    bus = canal().with_node(Node(name="new"), on=("gauge.tap", "pump-house"), at="30 m")
    assert bus.path("pump-house", "gauge.tap") == ("pump-house", "new", "gauge.tap")
    assert bus.distance("gauge.tap", "new") == 30.0
    assert bus.distance("pump-house", "gate") == 300.0
    assert bus.segment("pump-house", "new").cable == PAIR
    assert bus.segment("pump-house", "new").reference_conductor is True
    assert bus.without_node("new") == canal()


def test_a_node_on_a_stub_brings_its_tap_and_takes_it_away() -> None:
    bus = canal().with_node(Node(name="new"), on=("gauge.tap", "gate"), at=50, stub="1 m", cable=OTHER)
    assert bus.path("new", "gate") == ("new", "new.tap", "gate")
    assert bus.segment("new", "new.tap").cable == OTHER
    assert bus.segment("new.tap", "gate").cable == PAIR
    assert bus.distance("new.tap", "gate") == 150.0
    assert bus.without_node("new") == canal()
    assert canal().with_node(Node(name="new"), on=("gauge.tap", "gate"), at=50, stub=0).neighbours("new") == (
        "gauge.tap",
        "gate",
    )


def test_a_branch_takes_the_cable_at_its_place_or_its_own() -> None:
    bus = canal().with_node(Node(name="new"), to="gate", length="5 m")
    assert bus.segment("gate", "new") == Segment(
        start="gate", end="new", length=5, cable=PAIR, reference_conductor=True
    )
    assert canal().with_node(Node(name="new"), to="gate", length=5, cable=OTHER).segment("gate", "new").cable == OTHER
    alone = Bus(nodes=passive("weir")).with_node(Node(name="new"), to="weir", length=5)
    assert alone.segment("weir", "new").cable is None
    assert bus.without_node("new") == canal()


def test_a_place_is_taken_out_and_its_spans_joined() -> None:
    bus = canal().without_node("gauge")
    assert bus == daisy_chain(passive("pump-house", "gate"), spacing=300, cable=PAIR, reference_conductor=True)
    assert canal().without_node("gate").path("pump-house", "gauge") == ("pump-house", "gauge.tap", "gauge")
    assert Bus(nodes=passive("weir", "lock")).without_node("lock") == Bus(nodes=passive("weir"))


def test_a_node_and_a_segment_are_replaced_in_their_place() -> None:
    bus = canal()
    ended = bus.replace_node(attrs.evolve(bus.node("gauge"), powered=False))
    assert [node.name for node in ended.nodes] == [node.name for node in bus.nodes]
    assert not ended.node("gauge").powered
    changed = bus.replace_segment(attrs.evolve(bus.segment("gate", "gauge.tap"), cable=OTHER))
    assert changed.segments.index(changed.segment("gate", "gauge.tap")) == 1
    assert changed.segment("gate", "gauge.tap").cable == OTHER
