"""Rules on signals in time: what each finds, passes and leaves open, and what they share."""

import attrs
import numpy as np
import pytest

from canal_signals import BIAS, LINK, PAIR, PART, canal, near, node, with_figures
from rs485kit import Analyses, Bus, Link, Node, Policy, analysis, check, daisy_chain
from rs485kit.analysis import WorstEyes, worst_case
from rs485kit.errors import InputError, RuleError
from rs485kit.rules import RESERVED_PREFIXES, rule
from rs485kit.rules.scope import NOT_CHECKED
from signal_findings import (
    ALWAYS,
    EDGE,
    LOADED,
    LOSS,
    LOW,
    NAMES,
    NARROW,
    OVERSHOOT,
    PRODUCT,
    RING,
    RULES,
    SETTLE,
    STAR,
    STUB,
    at,
    found,
    on_all,
    stubbed,
    tree,
    unknowns,
    verdicts,
    with_node,
)

# --- bad input, and what all of them share ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "settings"),
    [
        (LOW, {"least": "0.2 ohm"}),
        (LOW, {"lowest": "0.2 V"}),
        (LOW, {"reserve": 2}),
        (NARROW, {"least": "0.5 V"}),
        (LOSS, {"most": True}),
        (OVERSHOOT, {"most": 12}),
        (STUB, {"share": "0.1 m"}),
        (PRODUCT, {"most": "100 m"}),
        (SETTLE, {"bit_share": None}),
        (EDGE, {"most": "1 us"}),
        (LOADED, {"most": [0.2]}),
    ],
)
def test_wrong_setting_is_named(name, settings):
    with pytest.raises(InputError, match=rf'olicy\.settings\["{name}"\].*{next(iter(settings))}'):
        check(canal(), policy=Policy(settings={name: settings}))


@pytest.mark.parametrize(("name", "key"), [(PRODUCT, "most"), (STUB, "share"), (SETTLE, "bit_share"), (EDGE, "most")])
@pytest.mark.parametrize("value", [0.0, -1.0])
def test_setting_that_nothing_meets_is_no_error(name, key, value):
    bus = stubbed(3.0) if name != SETTLE else STAR
    report = check(bus, policy=Policy(select=name, settings={name: {key: value}}))
    assert not report.plugin_errors
    assert report.findings


def test_prefix_is_reserved():
    assert "signal" in RESERVED_PREFIXES
    with pytest.raises(RuleError, match="reserved for the library"):
        check(canal(), rules=[rule("signal.mine", title="Mine", basis="house")(lambda analyses: [])])


def test_rules_are_nine_and_each_names_what_it_rests_on():
    assert set(RULES) == {*ALWAYS, STUB, SETTLE, LOADED}
    assert {name: each.basis for name, each in RULES.items()} == {
        LOW: "standard", NARROW: "house", LOSS: "standard", OVERSHOOT: "standard", STUB: "common practice",
        PRODUCT: "common practice", SETTLE: "common practice", EDGE: "house", LOADED: "physics",
    }  # fmt: skip


@pytest.mark.parametrize("name", sorted(RULES))
def test_bus_without_traffic_is_not_judged(name):
    alone = Node(name="alone", transceiver=PART)
    deaf = [node("head", receives=False), node("tail", receives=False)]
    for bus in (
        Bus(nodes=Node(name="tap")),
        Bus(nodes=alone),
        Bus(nodes=[node("head"), node("tail")], link=LINK),
        daisy_chain([alone, Node(name="other")], spacing="1 m", cable=PAIR),
        daisy_chain(deaf, spacing="1 m", cable=PAIR),
        daisy_chain([node("head", drives=False), node("tail", powered=False)], spacing="1 m", cable=PAIR),
    ):
        report = check(bus, policy=Policy(select=name))
        assert not report.plugin_errors
        assert report.not_applicable == (name,)


def test_all_rules_share_one_solve(monkeypatch):
    solved = []

    def counted(*arguments):
        solved.append(arguments)
        return original(*arguments)

    original = worst_case.eyes_of
    monkeypatch.setattr(worst_case, "eyes_of", counted)
    analyses = Analyses(canal())
    for each in RULES.values():
        each(analyses)
    assert len(solved) == 1
    assert sum(isinstance(result, WorstEyes) for result in analyses.results) == 1


def test_what_is_left_out_is_said():
    told = " ".join(NOT_CHECKED)
    for left_out in ("crosstalk", "first bit", "speed of receivers", "common mode"):
        assert left_out in told
    assert "eye openings" not in told


# --- what is missing -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ALWAYS)
@pytest.mark.parametrize(
    ("bus", "missing"),
    [
        (canal(rate=None), "link.data_rate"),
        (canal(rate=Link()), "link.data_rate"),
        (canal(cable=attrs.evolve(PAIR, characteristic_impedance=None)), 'cable "pair" characteristic_impedance'),
        (canal(cable=attrs.evolve(PAIR, velocity_factor=None)), 'cable "pair" velocity_factor'),
        (canal(cable=None), 'segments["pump-house" - "gauge"].cable'),
        (on_all(canal(), driver_edge_time=None), "pump-house: transceiver.driver_edge_time"),
        (on_all(canal(), driver_loaded_voltage=None), "driver_loaded_voltage"),
        (on_all(canal(), unit_load=None), 'nodes["pump-house"].transceiver.unit_load'),
    ],
)
def test_missing_figure_gives_one_unknown_that_names_it(name, bus, missing):
    (unknown,) = unknowns(name, bus)
    assert unknown.where.kind == "bus"
    assert any(missing in each for each in unknown.missing)
    assert unknown.remedy or missing in unknown.message


def test_eye_rule_names_every_node_and_the_others_say_it_once():
    bus = with_figures(with_figures(canal(), "gauge", driver_edge_time=None), "gate", driver_open_voltage=None)
    assert {place: each for place, each in verdicts(LOW, bus).items() if each == "unknown"} == {
        "gauge": "unknown", "gate": "unknown"
    }  # fmt: skip
    for name in (NARROW, LOSS, OVERSHOOT, EDGE):
        (unknown,) = unknowns(name, bus)
        assert [each.partition(":")[0] for each in unknown.missing] == ["gauge", "gate"]


@pytest.mark.parametrize("field", ["receiver_upper_threshold", "receiver_lower_threshold"])
def test_threshold_matters_to_eyes_alone(field):
    bus = with_figures(canal(), "gauge", **{field: None})
    assert verdicts(LOW, bus)["gauge"] == "unknown"
    assert verdicts(NARROW, bus)["bus"] == "unknown"
    for name in (LOSS, OVERSHOOT, EDGE):
        assert set(verdicts(name, bus).values()) == {"pass"}


def test_what_is_known_is_judged_beside_what_is_not():
    """A bad eye stays one when the edges of another driver are no longer stated."""
    bus = attrs.evolve(canal(), link=Link(data_rate="20 Mbit/s"))
    bad = {place: verdict for place, verdict in verdicts(LOW, bus).items() if not place.startswith("gauge")}
    assert set(bad.values()) == {"fail"}
    less = with_figures(bus, "gauge", driver_edge_time=None)
    assert verdicts(LOW, less) == {**bad, "gauge": "unknown"}
    assert verdicts(PRODUCT, less) == {"bus": "marginal"}


def test_driver_that_leaves_mark_to_the_bias_is_unknown_and_told_why():
    bus = with_figures(canal(head={"biases": BIAS}), "gauge", mark_driven=False)
    for name, place in ((LOW, "gauge"), (NARROW, "bus"), (LOSS, "bus"), (OVERSHOOT, "bus"), (EDGE, "bus")):
        unknown = at(name, bus)[place]
        assert unknown.verdict == "unknown"
        assert "mark is left to the bias" in unknown.message
        assert "judge it by its idle level" in unknown.remedy
    assert "gauge gate" not in verdicts(LOW, bus)
    assert verdicts(LOW, bus)["gate pump-house"] == "pass"


def test_figures_missing_asks_for_what_signals_need():
    def lacking(bus):
        report = check(bus, policy=Policy(select="structure.figures-missing"))
        return {each for found in report.unknowns for each in found.missing}

    assert not lacking(canal())
    assert lacking(canal(rate=None)) == {"link.data_rate"}
    assert lacking(on_all(canal(), driver_edge_time=None)) == {"transceiver.driver_edge_time"}
    assert lacking(on_all(canal(), receiver_lower_threshold=None)) == {"transceiver.receiver_lower_threshold (its min)"}
    bare = attrs.evolve(PAIR, characteristic_impedance=None, velocity_factor=None)
    assert lacking(canal(cable=bare)) == {'cable "pair" characteristic_impedance', 'cable "pair" velocity_factor'}
    assert not lacking(canal(cable=attrs.evolve(PAIR, velocity_factor=None, capacitance="42 pF/m")))
    listening = attrs.evolve(canal(rate=None), nodes=[attrs.evolve(each, drives=False) for each in canal().nodes])
    assert not lacking(listening)


# --- signal.eye-too-low ----------------------------------------------------------------------------------------------


def test_lowest_eye_of_each_driver_is_told_with_its_levels():
    bus = canal()
    eyes = analysis.worst_eyes(bus)
    told = found(LOW, bus)
    assert [each.where.names[0] for each in told] == list(NAMES)
    for row, each in enumerate(told):
        assert each.verdict == "pass"
        assert each.measured == near(float(eyes.height[row].min()))
        assert (each.limit, each.scale, each.unit) == (0.0, 0.2, "V")
        assert each.bound is None
    first = told[0]
    assert "lowest mark is 1.913 V, read above 200 mV" in first.message
    assert "highest space -1.913 V, read below -200 mV" in first.message
    assert "nominally" in first.message
    assert "worst_sequence" in first.message


def test_closed_eye_fails_and_reserve_makes_it_marginal():
    bus = canal()
    lowest = min(each.measured for each in found(LOW, bus))
    assert set(verdicts(LOW, attrs.evolve(bus, link=Link(data_rate="20 Mbit/s"))).values()) == {"fail"}
    assert verdicts(LOW, bus, least=1.001 * lowest)["gate pump-house"] == "fail"
    assert verdicts(LOW, bus, least=0.95 * lowest)["gate pump-house"] == "marginal"


def test_swapped_lines_are_told_as_such():
    bus = with_node(canal(), "gauge", lines_swapped=True)
    told = at(LOW, bus)
    wrong = {place for place, each in told.items() if each.verdict == "fail"}
    assert wrong == {"pump-house gauge", "gate gauge", next(place for place in told if place.startswith("gauge "))}
    assert all("polarity" in told[place].remedy for place in wrong)
    assert "lowest mark is -2.1" in told["gate gauge"].message
    assert all("is closed" in at(NARROW, bus)[place].message for place in wrong)
    both = attrs.evolve(bus, nodes=[attrs.evolve(each, lines_swapped=True) for each in bus.nodes])
    assert set(verdicts(LOW, both).values()) == {"pass"}


@pytest.mark.parametrize("bus", [RING, STAR], ids=["ring", "star"])
def test_rings_and_stars_are_solved_like_any_bus(bus):
    eyes = analysis.worst_eyes(bus)
    told = found(LOW, bus)
    assert [each.measured for each in told] == [near(float(low)) for low in eyes.height.min(axis=1)]
    assert set(verdicts(NARROW, bus).values()) == {"pass"}


def test_of_equal_eyes_the_first_by_name_is_told_in_whatever_order_they_are_listed():
    turned = attrs.evolve(RING, nodes=RING.nodes[::-1], segments=RING.segments[::-1])
    for name in ALWAYS:
        assert {str(each.where) for each in found(name, RING)} == {str(each.where) for each in found(name, turned)}
    assert set(at(LOW, RING)) == {"a b", "b a", "c a"}


def test_parts_that_no_cable_joins_are_judged_each_by_itself():
    bus = tree(("a", "b", 20.0), ("p", "q", 40.0))
    assert {place.replace(" ", "") for place in at(LOW, bus)} <= {"aa", "ab", "ba", "bb", "pp", "pq", "qp", "qq"}
    lone = attrs.evolve(bus, nodes=[*bus.nodes, node("lone", transceiver=attrs.evolve(PART, driver_edge_time=None))])
    assert set(verdicts(LOW, lone)) == set(verdicts(LOW, bus))


# --- signal.eye-too-narrow -------------------------------------------------------------------------------------------


def test_narrowest_eye_of_each_driver_is_told_as_share_and_time():
    bus = canal()
    eyes = analysis.worst_eyes(bus)
    told = found(NARROW, bus)
    assert [each.measured for each in told] == [near(float(low)) for low in eyes.width.min(axis=1)]
    assert "open for 98.4 % of a bit (983.5 ns)" in told[0].message
    assert set(verdicts(NARROW, bus, least=0.99).values()) == {"fail"}
    assert set(verdicts(NARROW, bus, least=0.95).values()) == {"marginal"}


# --- signal.loss-too-high --------------------------------------------------------------------------------------------


def test_largest_loss_is_told_and_is_advice_alone():
    (kept,) = found(LOSS, canal())
    loss = analysis.worst_eyes(canal()).loss
    assert kept.measured == near(float(np.nanmax(loss)))
    assert "500 kHz" in kept.message
    assert "15.6 % of the voltage" in kept.message
    (lost,) = found(LOSS, canal(2000.0))
    assert lost.verdict == "marginal"


def test_limit_of_loss_is_two_thirds_of_the_voltage():
    (most,) = RULES[LOSS].parameters
    assert 1.0 - 10.0 ** (-most.default / 20.0) == pytest.approx(0.66, abs=1e-4)
    assert "66 %" in RULES[LOSS].source


# --- signal.overshoot-too-high ---------------------------------------------------------------------------------------


def lines_of_pins(bus):
    """Lowest and highest line voltage by node."""
    result = {}
    for each in found(OVERSHOOT, bus):
        result.setdefault(each.where.names[0], []).append(each)
    return {name: tuple(sorted(each.measured for each in pair)) for name, pair in result.items()}


def test_pins_stand_at_the_offset_and_half_of_level_and_overshoot():
    bus = tree(("head", "tail", 60.0), ended=("head",))
    eyes = analysis.worst_eyes(bus)
    reach = (np.maximum(np.abs(eyes.mark), np.abs(eyes.space)) + eyes.overshoot).max(axis=0) / 2.0
    for offset, fields in ((1.0, {}), (2.5, {"driver_offset_voltage": ("2 V", "2.5 V", "3 V")})):
        pins = lines_of_pins(on_all(bus, **fields))
        assert pins == {
            name: (near(offset - float(volts)), near(offset + float(volts)))
            for name, volts in zip(eyes.receivers, reach, strict=True)
        }
    told = [each.message for each in found(OVERSHOOT, bus)]
    assert all("1 V of offset taken" in message and "the standard's range ends at" in message for message in told)
    assert not any("taken" in each.message for each in found(OVERSHOOT, on_all(bus, driver_offset_voltage="1 V")))


@pytest.mark.parametrize(
    ("fields", "verdict"),
    [
        ({"line_voltage_highest": 2.0}, "fail"),
        ({"line_voltage_highest": 2.3}, "marginal"),
        ({"line_voltage_highest": 3.0}, "pass"),
        ({"line_voltage_lowest": 0.0}, "fail"),
        ({"line_voltage_lowest": -0.2}, "fail"),
        ({"line_voltage_lowest": -1.0}, "pass"),
    ],
)
def test_rating_of_a_part_stands_before_the_range_of_the_standard(fields, verdict):
    bus = with_figures(canal(), "gauge", **fields)
    side = "highest" if "line_voltage_highest" in fields else "lowest"
    (judged,) = [
        each for each in found(OVERSHOOT, bus) if each.where.names == ("gauge",) and each.quantity.startswith(side)
    ]
    assert judged.verdict == verdict
    assert judged.headroom is not None
    assert "its absolute rating ends at" in judged.message


def test_pins_of_a_part_that_never_listens_are_looked_at_too():
    bus = canal()
    deaf = with_node(with_figures(bus, "gate", line_voltage_highest=1.5), "gate", receives=False)
    assert lines_of_pins(deaf) == lines_of_pins(with_figures(bus, "gate", line_voltage_highest=1.5))
    (broken,) = [each for each in found(OVERSHOOT, deaf) if each.verdict == "fail"]
    assert broken.where.names == ("gate",)
    assert not any("gate" in place.split()[1:] for place in at(LOW, deaf))
