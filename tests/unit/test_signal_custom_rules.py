"""Rules of custom on signals in time: the solved eyes decide, and what custom says is told beside them."""

import attrs
import numpy as np
import pytest

from canal_signals import END, LINK, PAIR, PART, canal, near, with_figures
from rs485kit import Cable, Link, Node, Termination, analysis, daisy_chain
from rs485kit.rules import signal_custom
from rs485kit.testing import check_rule
from signal_findings import (
    EDGE,
    LOADED,
    LOW,
    NARROW,
    PRODUCT,
    RING,
    RULES,
    SETTLE,
    STAR,
    STUB,
    at,
    bus_that_fires,
    found,
    on_all,
    stubbed,
    tree,
    unknowns,
    verdicts,
    with_node,
)


def test_short_stub_passes_by_custom():
    (kept,) = found(STUB, stubbed(1.0))
    assert (kept.verdict, kept.where.names, kept.measured) == ("pass", ("gauge",), 1.0)
    # 100 ns at 0.66 c: a tenth one way
    assert kept.limit == pytest.approx(0.1 * 100e-9 * 0.66 * 299_792_458.0)
    assert "customs range from 989.3 mm to 4.947 m" in kept.message


def test_long_stub_passes_where_the_solved_eyes_are_open_and_says_so():
    bus = stubbed(10.0)
    (kept,) = found(STUB, bus)
    assert (kept.verdict, kept.measured, kept.limit, kept.sense) == ("pass", 10.0, None, None)
    assert "allows 1.979 m" in kept.message
    narrowest = 100.0 * float(analysis.worst_eyes(bus).width.min())
    assert f"every eye is open for {narrowest:.3g} % of a bit or more" in kept.message
    assert "the solved eyes decide" in kept.message


def test_long_stub_is_marginal_and_no_failure_where_an_eye_is_bad():
    bus = stubbed(15.0, rate="6 Mbit/s")
    eyes = analysis.worst_eyes(bus)
    assert eyes.width.min() < 0.5
    (told,) = found(STUB, bus)
    assert told.verdict == "marginal"
    row, column = np.unravel_index(int(eyes.width.argmin()), eyes.width.shape)
    closed = {
        f"the eye of {eyes.drivers[r]} at {eyes.receivers[c]} is"
        for r, c in np.argwhere(eyes.width == eyes.width[row, column])
    }
    assert any(each in told.message for each in closed)


def test_stub_is_unknown_where_the_eyes_that_decide_are():
    (told,) = found(STUB, with_figures(stubbed(10.0), "gauge", receiver_upper_threshold=None))
    assert told.verdict == "unknown"
    assert told.missing == ("gauge: transceiver.receiver_upper_threshold (its max)",)


def test_stub_is_unknown_where_a_driver_may_be_faster():
    (told,) = found(STUB, with_figures(stubbed(1.0), "head", driver_edge_time=None))
    assert told.verdict == "unknown"
    assert told.missing == ("head: transceiver.driver_edge_time",)


def test_falling_edge_counts_where_it_is_the_faster():
    (told,) = found(STUB, with_figures(stubbed(1.0), "tail", driver_fall_time="10 ns"))
    assert "allows 197.9 mm" in told.message
    assert "an edge of 10 ns" in told.message


def test_edges_of_a_part_that_never_drives_do_not_count():
    bus = with_node(with_figures(stubbed(1.0), "tail", driver_edge_time="10 ns"), "tail", drives=False)
    (told,) = found(STUB, bus)
    assert "an edge of 100 ns" in told.message


def test_stub_without_a_device_is_a_stub_too_but_its_splices_are_not():
    spans = ("head", "tap", 50.0), ("tap", "tail", 50.0), ("tap", "splice", 2.0), ("splice", "loose", 3.0)
    bus = tree(*spans, bare=("tap", "splice", "loose"), ended=("head", "tail"))
    (told,) = found(STUB, bus)
    assert (told.where.names, told.measured) == (("loose",), 5.0)


def test_bus_without_stubs_or_with_long_branches_is_not_asked_about_stubs():
    assert not found(STUB, canal())
    assert not found(STUB, STAR)
    assert not found(STUB, canal(rate=None))


def test_velocity_of_a_stub_may_follow_from_impedance_and_capacitance():
    cable = attrs.evolve(PAIR, velocity_factor=None, capacitance="42 pF/m")
    (told,) = found(STUB, stubbed(1.0, cable=cable))
    assert told.limit == pytest.approx(0.1 * 100e-9 / (120.0 * 42e-12))


# --- signal.length-times-rate ----------------------------------------------------------------------------------------


def test_product_within_custom_passes():
    (kept,) = found(PRODUCT, canal(100.0))
    assert (kept.verdict, kept.measured) == ("pass", near(100.0))
    assert kept.limit == near(100.0)


def test_product_beyond_custom_is_left_to_the_solved_eyes():
    (kept,) = found(PRODUCT, canal(150.0))
    assert (kept.verdict, kept.sense) == ("pass", None)
    assert "the solved eyes decide" in kept.message
    (told,) = found(PRODUCT, attrs.evolve(canal(150.0), link=Link(data_rate="20 Mbit/s")))
    assert told.verdict == "marginal"
    assert found(PRODUCT, canal(150.0), most=2e8)[0].sense == "at most"


def test_longest_of_several_parts_counts_in_whatever_order_they_are_listed():
    short_first = tree(("p", "q", 5.0), ("r", "s", 900.0))
    long_first = tree(("r", "s", 900.0), ("p", "q", 5.0))
    assert [found(PRODUCT, bus)[0].measured for bus in (short_first, long_first)] == [900.0, 900.0]


# --- signal.does-not-settle ------------------------------------------------------------------------------------------


def open_ended(rate, length=60.0):
    return tree(("head", "gauge", length / 2.0), ("gauge", "tail", length / 2.0), rate=rate)


def test_open_line_that_settles_passes_with_both_figures():
    (kept,) = found(SETTLE, open_ended("9600 bit/s"))
    assert kept.verdict == "pass"
    assert kept.measured == near(float(analysis.worst_eyes(open_ended("9600 bit/s")).settling.max()))
    assert kept.limit == pytest.approx(0.5 / 9600.0)
    trips = 6.0 * 60.0 / (0.66 * 299_792_458.0)
    assert f"three round trips, which custom reckons with, {1e6 * trips:.4g} us" in kept.message


def test_line_that_settles_late_with_open_eyes_passes_and_says_so():
    (kept,) = found(SETTLE, STAR)
    assert (kept.verdict, kept.limit, kept.sense) == ("pass", None, None)
    assert kept.measured > 0.5e-6
    assert "50 % of a bit is 500 ns" in kept.message
    assert "has its eye open for half a bit or more, which decides" in kept.message


def test_line_that_does_not_settle_is_marginal_at_a_path_whose_eye_is_bad():
    bus = open_ended("3 Mbit/s")
    (told,) = found(SETTLE, bus)
    assert told.verdict == "marginal"
    seen = analysis.worst_eyes(bus).between(*told.where.names)
    assert seen.settling > 0.5 / 3e6
    assert seen.height < 0 or seen.width < 0.5


def test_bad_path_is_found_behind_a_slower_one_whose_eye_is_open(monkeypatch):
    bus = open_ended("3 Mbit/s")
    eyes = analysis.worst_eyes(bus)
    settling, height, width = (np.array(each) for each in (eyes.settling, eyes.height, eyes.width))
    height[:], width[:], settling[:] = 1.0, 0.9, 0.4 * eyes.interval
    settling[0, 2], settling[0, 1] = 5.0 * eyes.interval, 2.0 * eyes.interval
    width[0, 1] = 0.3
    made = attrs.evolve(eyes, settling=settling, height=height, width=width)
    monkeypatch.setattr(analysis, "worst_eyes", lambda analyses: made)
    (told,) = found(SETTLE, bus)
    assert (told.verdict, told.where.names) == ("marginal", ("head", "gauge"))


def test_settling_is_unknown_only_where_the_eye_that_decides_is():
    late = with_figures(STAR, "a", receiver_upper_threshold=None)
    assert verdicts(SETTLE, late) == {"bus": "unknown"}
    slow = with_figures(open_ended("9600 bit/s"), "tail", receiver_upper_threshold=None)
    assert set(verdicts(SETTLE, slow).values()) == {"pass"}
    silent = with_figures(open_ended("9600 bit/s"), "tail", driver_edge_time=None)
    assert verdicts(SETTLE, silent) == {"bus": "unknown"}
    assert unknowns(SETTLE, attrs.evolve(STAR, link=None))[0].missing == ("link.data_rate",)


def test_terminated_lines_are_not_asked_and_rings_are_while_they_have_no_terminator():
    assert not found(SETTLE, canal())
    assert not found(SETTLE, canal(rate=None))
    assert len(found(SETTLE, RING)) == 1
    assert not found(SETTLE, with_node(RING, "a", terminations=END))
    assert found(SETTLE, canal(tail={"terminations": attrs.evolve(END, engaged=False)}))


# --- signal.edge-faster-than-needed ----------------------------------------------------------------------------------


def test_slower_edges_are_looked_for_only_where_something_overshoots(monkeypatch):
    def asked(*arguments, **more):
        raise AssertionError("slower edges were looked for")

    monkeypatch.setattr(analysis, "slowest_edge", asked)
    (kept,) = found(EDGE, canal())
    assert kept.verdict == "pass"
    with pytest.raises(AssertionError):
        found(EDGE, RING)


def test_ringing_edge_is_marginal_and_the_slowest_that_would_do_is_named():
    (told,) = found(EDGE, RING)
    eyes = analysis.worst_eyes(RING)
    assert told.verdict == "marginal"
    assert told.measured == near(float((eyes.overshoot / np.abs(eyes.mark - eyes.space)).max()))
    slowest = analysis.slowest_edge(RING)
    assert slowest.edge > slowest.fitted
    assert (
        f"edges of 100 ns are fitted, and up to {1e6 * slowest.edge:.4g} us would keep every eye open" in told.message
    )
    assert set(verdicts(EDGE, RING, most=0.5).values()) == {"pass"}


@pytest.mark.parametrize(
    ("edge", "words"),
    [(np.nan, "no edge would keep"), (50e-9, "no slower one would keep"), (1e-6, "up to 1 us would keep")],
)
def test_advice_fits_what_was_found(monkeypatch, edge, words):
    answer = attrs.evolve(analysis.slowest_edge(RING), edge=edge)
    monkeypatch.setattr(analysis, "slowest_edge", lambda analyses, **more: answer)
    (told,) = found(EDGE, RING)
    assert words in told.message


# --- signal.impedance-lowered ----------------------------------------------------------------------------------------


def crowded(capacitance, **more):
    """Twenty-one devices a metre apart on a terminated line."""
    part = attrs.evolve(PART, capacitance=capacitance)
    ends = {0: END, 20: END}
    nodes = [Node(name=f"gauge-{n:02}", transceiver=part, terminations=ends.get(n, ())) for n in range(21)]
    return daisy_chain(nodes, spacing="1 m", cable=PAIR, link=LINK, **more)


def test_terminator_is_held_against_the_line_with_its_nodes():
    assert set(verdicts(LOADED, crowded("10 pF")).values()) == {"pass"}
    bus = crowded("100 pF")
    told = at(LOADED, bus)
    assert {place: each.verdict for place, each in told.items()} == {"gauge-00": "marginal", "gauge-20": "marginal"}
    loaded = analysis.line_loading(bus).loaded_impedance
    assert told["gauge-00"].measured == near((120.0 - loaded) / (120.0 + loaded))
    assert "in the middle of the bus as well as at its ends" in told["gauge-00"].remedy
    fitting = attrs.evolve(
        bus,
        nodes=[
            attrs.evolve(each, terminations=Termination(resistance=loaded)) if each.terminations else each
            for each in bus.nodes
        ],
    )
    assert set(verdicts(LOADED, fitting).values()) == {"pass"}


def test_terminator_that_does_not_fit_the_bare_cable_is_not_put_down_to_the_nodes():
    told = at(LOADED, canal(head={"terminations": Termination(resistance="60 ohm")}))["pump-house"]
    assert (told.verdict, told.limit, told.sense) == ("pass", None, None)
    assert told.measured > 0.2
    assert "they are not the cause" in told.message


def test_impedance_is_not_asked_where_nothing_resistive_stands_at_an_end():
    rc = Termination(resistance="120 ohm", capacitance="1 nF")
    assert not found(LOADED, tree(("a", "b", 50.0)))
    assert not found(LOADED, canal(head={"terminations": rc}, tail={"terminations": rc}))
    assert not found(LOADED, with_node(RING, "a", terminations=END))
    assert not found(LOADED, with_node(tree(("a", "b", 50.0), ("b", "c", 50.0)), "b", terminations=END))


def test_impedance_is_unknown_where_figures_are():
    assert unknowns(LOADED, canal(cable=attrs.evolve(PAIR, characteristic_impedance=None)))
    assert unknowns(LOADED, on_all(canal(), unit_load=None))
    least = Termination(resistance=("118 ohm", None, None))
    assert unknowns(LOADED, canal(head={"terminations": least}, tail={"terminations": ()}))
    parts = tree(("a", "b", 20.0), ("p", "q", 40.0), ended=("a",))
    assert "several parts" in unknowns(LOADED, parts)[0].message


MISFIT = canal(head={"terminations": Termination(resistance="60 ohm")})


@pytest.mark.parametrize(
    ("name", "bus"), [(STUB, stubbed(10.0)), (PRODUCT, canal(150.0)), (SETTLE, STAR), (SETTLE, RING), (LOADED, MISFIT)]
)
def test_rule_conforms_where_it_passes_beyond_a_limit_that_does_not_decide(name, bus):
    assert any(each.sense is None for each in found(name, bus))
    check_rule(RULES[name], fires=bus_that_fires(name), passes=bus)


# --- beside one another ----------------------------------------------------------------------------------------------


def test_half_a_bit_is_one_figure():
    (least,) = RULES[NARROW].parameters
    assert least.default == signal_custom.LEAST_WIDTH


def test_cable_by_impedance_and_capacitance_is_judged_like_one_by_velocity():
    capacitance = 1.0 / (120.0 * 0.66 * 299_792_458.0)
    other = Cable(
        name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm", capacitance=capacitance
    )  # fmt: skip
    same = attrs.evolve(STAR, segments=[attrs.evolve(segment, cable=other) for segment in STAR.segments])
    for name in (LOW, NARROW, SETTLE, PRODUCT):
        assert list(verdicts(name, same).values()) == list(verdicts(name, STAR).values())
