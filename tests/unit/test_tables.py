"""One object <-> plain dict: every problem of a table at once, each with its place, and tables that read back."""

import datetime
import pickle
from typing import Any

import attrs
import pytest

from rs485kit import model
from rs485kit.errors import InputError, Problem, UnknownNameError
from rs485kit.model import (
    Barrier,
    Bias,
    Bus,
    Cable,
    CommonLink,
    Earth,
    Environment,
    Isolator,
    Link,
    Node,
    Policy,
    Protector,
    Segment,
    Termination,
    Transceiver,
    Waiver,
)
from rs485kit.tables import digest, fields_from_table, forms, object_from_table, offer, table_from_object
from rs485kit.units import MinTypMax

CLASSES = [kind for name in model.__all__ if isinstance(kind := getattr(model, name), type)]
GATE = {"name": "gate-07"}


def refused(kind: type, table: object, **arguments: Any) -> list[Problem]:
    """Return the problems for which a table is refused."""
    with pytest.raises(InputError) as caught:
        object_from_table(kind, table, place="here", **arguments)
    assert pickle.loads(pickle.dumps(caught.value)).problems == caught.value.problems
    return list(caught.value.problems)


def place_and_text(kind: type, table: object) -> tuple[str, str]:
    problems = refused(kind, table)
    assert len(problems) == 1, problems
    return problems[0].place, str(problems[0])


# --- bad tables ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("table", [None, 5, "end", [], [("name", "x")], 1.5, True])
def test_what_is_no_table_is_refused(table: object) -> None:
    place, text = place_and_text(Cable, table)
    assert place == "here"
    assert "a table with the fields of a Cable" in text


def test_every_problem_of_a_table_is_told_at_once() -> None:
    table = {
        "unitload": 1,
        "unit_load": "nothing",
        "supply_voltage": {"minimum": "4.5 V"},
        "receiver_upper_threshold": "9 V",
        "driver_edge_time": ["1 ns", "2 ns", "3 ns"],
    }
    places = {problem.place: str(problem) for problem in refused(Transceiver, table)}
    assert set(places) == {
        "here.name", "here.unitload", "here.unit_load", "here.supply_voltage", "here.receiver_upper_threshold",
        "here.driver_edge_time",
    }  # fmt: skip
    assert 'did you mean "unit_load"?' in places["here.unitload"]
    assert "the field is required" in places["here.name"]
    assert "not minimum" in places["here.supply_voltage"]
    assert "at most 1 V" in places["here.receiver_upper_threshold"]
    assert "a table of min, typ and max" in places["here.driver_edge_time"]


@pytest.mark.parametrize(
    ("key", "place"), [("a b", 'here["a b"]'), (5, 'here["5"]'), ("", 'here[""]')]
)
def test_unknown_keys_of_any_form_have_a_place(key: Any, place: str) -> None:
    assert refused(Node, {**GATE, key: 1})[0].place == place


def test_a_flood_of_unknown_keys_is_told_in_few_words() -> None:
    problems = refused(Node, {**GATE, **{f"key{number}": 1 for number in range(50_000)}})
    assert len(problems) == 21
    assert "49980 unknown keys more" in str(problems[-1])


def test_a_very_long_unknown_key_is_cut() -> None:
    assert len(refused(Node, {**GATE, "k-" * 5000 + "!": 1})[0].place) < 200


@pytest.mark.parametrize(
    ("kind", "table", "place", "said"),
    [
        (Node, {"name": 5}, "here.name", "wanted text"),
        (Node, {"name": None}, "here.name", "wanted text"),
        (Node, {**GATE, "drives": 1}, "here.drives", "true or false"),
        (Node, {**GATE, "drives": "yes"}, "here.drives", "true or false"),
        (Node, {**GATE, "drives": None}, "here.drives", "true or false"),
        (Node, {**GATE, "earth": ["bank"]}, "here.earth", "wanted text"),
        (Node, {**GATE, "terminations": 5}, "here.terminations", "a list of tables"),
        (Node, {**GATE, "terminations": None}, "here.terminations", "a list of tables"),
        (Node, {**GATE, "terminations": [5]}, "here.terminations[0]", "a table with the fields of a Termination"),
        (Node, {**GATE, "terminations": "end"}, "here.terminations", "a table with the fields of a Termination"),
        (Node, {**GATE, "transceiver": "generic.x"}, "here.transceiver", "a table with the fields of a Transceiver"),
        (Node, {**GATE, "transceiver": [{}]}, "here.transceiver", "a table with the fields of a Transceiver"),
        (Node, {**GATE, "common": {"resistance": {}}}, "here.common.resistance", "at least one of min, typ and max"),
        (Node, {**GATE, "common": {}}, "here.common.resistance", "the field is required"),
        (Node, {**GATE, "protectors": [{"name": "arrester", "ends": "line"}]},
         'here.protectors["arrester"].ends', '"line-line"'),
        (Node, {**GATE, "barrier": {"isolator": {"name": "part", "insulation": "basicc"}}},
         "here.barrier.isolator.insulation", 'did you mean "basic"?'),
        (Environment, {"pollution_degree": "2"}, "here.pollution_degree", "a whole number"),
        (Environment, {"pollution_degree": 2.5}, "here.pollution_degree", "a whole number"),
        (Environment, {"pollution_degree": True}, "here.pollution_degree", "a whole number"),
        (Environment, {"pollution_degree": 7}, "here.pollution_degree", "one of 1, 2, 3, 4"),
        (Environment, {"pollution_degree": 16**5000}, "here.pollution_degree", "one of 1, 2, 3, 4"),
        (Environment, {"altitude": {"min": 1}}, "here.altitude", '"1.2 km"'),
        (Environment, {"altitude": True}, "here.altitude", '"1.2 km"'),
        (Environment, {"altitude": 16**5000}, "here.altitude", '"1.2 km"'),
        (Environment, {"altitude": datetime.date(2027, 3, 31)}, "here.altitude", '"1.2 km"'),
        (Link, {"data_rate": "9600 Hz"}, "here.data_rate", "not convertible to bit/s"),
        (Link, {"data_rate": "9600 rpm"}, "here.data_rate", "a data rate is stated in bit/s"),
        (Link, {"frame": "8N3"}, "here.frame", '"8N1"'),
        (Policy, {"select": 5}, "here.select", "a list of names"),
        (Policy, {"select": [5]}, "here.select[0]", "a name"),
        (Policy, {"select": {"a": 1}}, "here.select", "a list of names"),
        (Policy, {"settings": []}, "here.settings", "a table of parameters by rule"),
        (Policy, {"settings": {"loading": 5}}, 'here.settings["loading"]', "a table of parameters"),
        (Policy, {"settings": {"loading": {"reserve": [1]}}}, 'here.settings["loading"].reserve', "text with a unit"),
        (Policy, {"settings": {"loading": {"reserve": float("nan")}}}, 'here.settings["loading"].reserve', "finite"),
        (Policy, {"waivers": [{"rule": "loading", "reason": "why"}]}, "here.waivers[0]", "bus = true"),
        (Policy, {"waivers": [{"rule": "a", "reason": "b", "bus": True, "until": "31.3.2027"}]},
         "here.waivers[0].until", "2027-03-31"),
        (Policy, {"waivers": [{"rule": "a", "reason": "b", "bus": True, "until": 20270331}]},
         "here.waivers[0].until", "2027-03-31"),
        (Policy, {"waivers": [{"rule": "a", "reason": "b", "bus": True, "until": datetime.datetime(2027, 3, 31, 8)}]},
         "here.waivers[0].until", "without a time"),
        (Waiver, {"rule": "a", "reason": "b", "segments": [["x"]]}, "here.segments", "a pair of names"),
        (Waiver, {"rule": "a", "reason": "b", "segments": "ab"}, "here.segments", "a list of pairs of names"),
        (Waiver, {"rule": "a", "reason": "b", "segments": ["ab"]}, "here.segments", "a pair of names"),
    ],
)  # fmt: skip
def test_wrong_values_are_refused_at_their_place(kind: type, table: object, place: str, said: str) -> None:
    found, text = place_and_text(kind, table)
    assert found == place
    assert said in text


@pytest.mark.parametrize(
    ("kind", "table", "place"),
    [
        (Transceiver, {"name": 'a ".b', "receiver_upper_threshold": "0 V", "receiver_lower_threshold": "0.5 V"},
         "here.receiver_lower_threshold"),
        (Termination, {"resistance": "120 ohm", "supply": "5 V"}, "here.supply"),
        (Termination, {"resistance": "120 ohm", "capacitance": "1 nF", "pull_up": "390 ohm"}, "here"),
        (Bias, {}, "here"),
        (Segment, {"start": "weir", "end": "weir", "length": "3 m"}, "here.end"),
        (Bus, {"nodes": [{"name": "weir", "earth": "bank"}]}, 'here.nodes["weir"].earth'),
    ],
)  # fmt: skip
def test_what_a_class_refuses_as_a_whole_has_the_place_of_the_table(kind: type, table: object, place: str) -> None:
    assert place_and_text(kind, table)[0] == place


def test_problems_inside_a_list_are_all_told_by_name_or_index() -> None:
    table = {"nodes": [{"name": "weir", "drives": 1}, {"drives": 2}, {"name": "lock", "powered": 3}]}
    assert [problem.place for problem in refused(Bus, table)] == [
        'here.nodes["weir"].drives', "here.nodes[1].drives", "here.nodes[1].name", 'here.nodes["lock"].powered',
    ]  # fmt: skip


def test_a_name_that_the_resolver_does_not_find_is_a_problem_with_near_names() -> None:
    def resolve(kind: type, name: str, place: str) -> object:
        raise UnknownNameError("transceiver", name, ("generic.slow",))

    problem = refused(Node, {**GATE, "transceiver": "generic.slo"}, resolve=resolve)[0]
    assert problem.place == "here.transceiver"
    assert 'did you mean "generic.slow"?' in str(problem)


def test_an_error_without_problems_fails_the_object_silently() -> None:
    def resolve(kind: type, name: str, place: str) -> object:
        raise InputError()

    assert refused(Node, {**GATE, "transceiver": "broken"}, resolve=resolve) == []
    assert len(refused(Node, {**GATE, "transceiver": "broken", "drives": 1}, resolve=resolve)) == 1


def test_a_resolver_that_gives_the_wrong_kind_is_caught() -> None:
    problems = refused(Node, {**GATE, "transceiver": "end"}, resolve=lambda *_: Termination(resistance=120))
    assert problems[0].place == "here.transceiver"


def test_near_names_are_not_sought_for_long_names_or_among_thousands() -> None:
    assert offer("gate" * 100, ["gate"]) == ""
    assert offer("gate-1", [f"gate-{number}" for number in range(5000)]) == ""
    assert offer(5, ["gate"]) == ""
    assert offer("gat", ["gate"]) == 'did you mean "gate"?'


@attrs.frozen
class _Unwritable:
    inner: dict[str, int]


@attrs.frozen
class _Bare:
    length: float


@pytest.mark.parametrize("kind", [_Unwritable, _Bare])
def test_a_class_that_no_table_can_hold_is_told_to_its_author(kind: type) -> None:
    with pytest.raises(TypeError, match="no table can hold"):
        forms(kind)


# --- good tables -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", CLASSES)
def test_every_field_of_the_model_has_a_form(kind: type) -> None:
    assert list(forms(kind)) == [field.name for field in attrs.fields(kind)]
    for name, form in forms(kind).items():
        default = getattr(attrs.fields(kind), name).default
        # a table leaves out what has its default, and cannot say None in another way
        assert not form.optional or default is None or form.required


def test_a_figure_is_text_a_number_or_a_table_of_limits() -> None:
    by_text = object_from_table(CommonLink, {"resistance": "0.1 kohm"}, place="")
    by_number = object_from_table(CommonLink, {"resistance": 100}, place="")
    by_limits = object_from_table(CommonLink, {"resistance": {"min": 100, "typ": "100 ohm", "max": 1e2}}, place="")
    assert by_text == by_number == by_limits
    typical = object_from_table(CommonLink, {"resistance": {"typ": "100 ohm", "max": None}}, place="")
    assert typical.resistance == MinTypMax(typ=100)


def test_parts_of_a_node_are_one_or_several() -> None:
    end = {"resistance": "120 ohm"}
    one = object_from_table(Node, {**GATE, "terminations": end}, place="")
    listed = object_from_table(Node, {**GATE, "terminations": [end]}, place="")
    assert one == listed == Node(name="gate-07", terminations=Termination(resistance=120))
    assert object_from_table(Policy, {"select": "loading"}, place="") == Policy(select=["loading"])


def test_objects_in_a_table_pass_as_they_are() -> None:
    end = Termination(resistance=120)
    assert object_from_table(Node, {**GATE, "terminations": [end]}, place="").terminations[0] is end


def test_none_stands_for_what_is_absent_or_unknown() -> None:
    table = {**GATE, "transceiver": None, "earth": None, "common": None}
    assert object_from_table(Node, table, place="") == Node(name="gate-07")


def test_names_and_tables_in_place_of_objects_go_through_the_callers_hooks() -> None:
    seen: list[tuple[str, str, str]] = []
    part = Isolator(name="part")

    def resolve(kind: type, name: str, place: str) -> object:
        seen.append((kind.__name__, name, place))
        return part

    node = object_from_table(
        Node, {**GATE, "barrier": {"like": "other", "isolator": "part"}}, place="here", resolve=resolve,
        expand=lambda kind, table, place: {key: value for key, value in table.items() if key != "like"},
    )  # fmt: skip
    assert node.barrier == Barrier(isolator=part)
    assert seen == [("Isolator", "part", "here.barrier.isolator")]


def test_an_incomplete_table_gives_the_fields_it_states() -> None:
    reading = fields_from_table(Segment, {"length": "3 m", "cable": 5, "use": 1}, place="here", also=("use",))
    assert reading.values == {"length": 3.0}
    assert reading.failed == {"cable"}
    assert [problem.place for problem in reading.problems] == ["here.cable"]


def test_a_table_holds_only_what_differs_from_the_default() -> None:
    assert table_from_object(Node(name="weir")) == {"name": "weir"}
    assert table_from_object(Link()) == {}
    assert table_from_object(Node(name="weir", powered=False)) == {"name": "weir", "powered": False}


def test_figures_are_written_with_their_unit_and_ratios_bare() -> None:
    cable = Cable(
        name="pair", conductor_resistance="84.2 ohm/km", velocity_factor=0.66, capacitance=(None, "42 pF/m", None)
    )
    assert table_from_object(cable) == {
        "name": "pair",
        "conductor_resistance": "84.2 ohm/km",
        "velocity_factor": 0.66,
        "capacitance": {"typ": "42 pF/m"},
    }
    end = Termination(resistance="120 ohm +/- 1 %")
    assert table_from_object(end) == {"resistance": {"min": "118.8 ohm", "typ": "120 ohm", "max": "121.2 ohm"}}


def test_dates_stay_dates_and_settings_become_tables() -> None:
    day = datetime.date(2027, 3, 31)
    waiver = Waiver(rule="canal.stub", reason="rock", paths=[("a", "b")], until=day)
    policy = Policy(settings={"canal.stub": {"longest": "2 m", "strict": True}}, waivers=waiver)
    assert table_from_object(policy) == {
        "settings": {"canal.stub": {"longest": "2 m", "strict": True}},
        "waivers": [{"rule": "canal.stub", "reason": "rock", "paths": [["a", "b"]], "until": day}],
    }


def test_an_inner_object_is_written_by_the_name_that_the_caller_gives_it() -> None:
    end = Termination(resistance=120)
    node = Node(name="weir", terminations=[end, Termination(resistance=100)])
    table = table_from_object(node, refer={end: "end"}.get)
    assert table["terminations"] == ["end", {"resistance": "100 ohm"}]


# --- digests ---------------------------------------------------------------------------------------------


def test_a_digest_is_that_of_the_content() -> None:
    bus = Bus(nodes=[Node(name="weir"), Node(name="lock")])
    again = Bus(nodes=[Node(name="weir"), Node(name="lock", powered=True)])
    assert digest(bus) == digest(again)
    assert len(digest(bus)) == 64
    assert int(digest(bus), 16) >= 0
    assert digest(bus) != digest(Bus(nodes=[Node(name="lock"), Node(name="weir")]))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Earth(name="bank", potential=0.0), Earth(name="bank", potential=-0.0)),
        (Policy(settings={"a": {"b": 1}}), Policy(settings={"a": {"b": 1.0}})),
        (Policy(settings={"a": {"b": 1}}), Policy(settings={"a": {"b": True}})),
        (Policy(settings={"a": {"b": 1, "c": 2}}), Policy(settings={"a": {"c": 2, "b": 1}})),
        (Environment(pollution_degree=2), Environment(pollution_degree=2.0)),
        (Protector(name="arrester", ends="line-line", standoff="0.01 kV"),
         Protector(name="arrester", ends="line-line", standoff=10)),
    ],
)  # fmt: skip
def test_equal_objects_have_one_digest(one: object, other: object) -> None:
    assert one == other
    assert digest(one) == digest(other)
