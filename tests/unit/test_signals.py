"""Signals in time: what is refused, what has to hold at rest and on the way, and what every result promises."""

import itertools
import math
import pickle

import attrs
import numpy as np
import pytest

from canal_signals import BIAS, END, LINK, PAIR, PART, canal, near, node, with_figures
from rs485kit import Analyses, Bus, Cable, Link, Segment, Termination, analysis, daisy_chain
from rs485kit.errors import InputError, MissingDataError, SolveError, UnknownNameError
from rs485kit.formulas import bounced_voltage, propagation_velocity
from rs485kit.network import responses

AT_REST = 1e-6
# half a cosine from end to end over its time from 10 to 90 %
FULL_COSINE = math.pi / (math.pi - 2.0 * math.acos(0.8))


# --- what is refused, and what is missing -----------------------------------------------------------------


def test_figures_that_every_answer_needs_are_all_named():
    cable = Cable(name="unknown", velocity_factor=0.66)
    nodes = [
        node("weir", transceiver=attrs.evolve(PART, unit_load=None)),
        node("gate", terminations=Termination(resistance=(None, None, "130 ohm"))),
    ]
    bus = Bus(nodes=[*nodes, node("lock")], segments=[
        Segment(start="weir", end="gate", length=10, cable=cable), Segment(start="gate", end="lock", length=10),
    ], link=LINK)  # fmt: skip
    for ask in (analysis.worst_eyes, lambda subject: analysis.waveforms(subject, "weir")):
        with pytest.raises(MissingDataError) as caught:
            ask(bus)
        assert caught.value.missing == (
            'cable "unknown" conductor_resistance',
            'cable "unknown" characteristic_impedance',
            'cable "unknown" capacitance',
            'segments["gate" - "lock"].cable',
            'nodes["weir"].transceiver.unit_load',
            'nodes["gate"].terminations[0].resistance (its typical value, or both limits)',
        )


@pytest.mark.parametrize("link", [None, Link()])
def test_without_a_data_rate_there_are_edges_and_no_eyes(link):
    bus = canal(rate=link)
    seen = analysis.waveforms(bus, "gate")
    assert (math.isnan(seen.interval), seen.samples) == (True, 0)
    with pytest.raises(InputError, match=r"Bus\.link\.data_rate: given nothing, wanted a data rate"):
        seen.pattern([True, False])
    for ask in (
        analysis.worst_eyes, analysis.slowest_edge, lambda each: analysis.worst_sequence(each, "gate", "gauge"),
        lambda each: analysis.eye(each, "gate", "gauge"),
    ):  # fmt: skip
        with pytest.raises(MissingDataError) as caught:
            ask(bus)
        assert caught.value.missing == ("link.data_rate",)


def test_names_that_do_not_drive_or_listen_are_told_with_those_that_do():
    bus = canal(head={"drives": False}, tail={"receives": False})
    with pytest.raises(UnknownNameError, match=r'there is no driver "gat"; did you mean "gate"\?; .*gauge, gate'):
        analysis.waveforms(bus, "gat")
    with pytest.raises(UnknownNameError, match=r'there is no driver "pump-house"; .*drivers are .*gauge, gate'):
        analysis.worst_sequence(bus, "pump-house", "gauge")
    with pytest.raises(UnknownNameError, match=r'there is no receiver "gate"; .*receivers are .*pump-house, gauge'):
        analysis.eye(bus, "gauge", "gate")
    with pytest.raises(UnknownNameError):
        analysis.worst_eyes(bus).between("gate", "gate")


@pytest.mark.parametrize(
    ("fields", "missing"),
    [
        ({"driver_edge_time": None}, "transceiver.driver_edge_time"),
        ({"driver_open_voltage": None}, "transceiver.driver_open_voltage (its typical value)"),
        (
            {"driver_loaded_voltage": None},
            "transceiver.driver_loaded_voltage (its typical value, at most the open voltage)",
        ),
        (
            {"mark_driven": False},
            "transceiver.mark_driven (mark is left to the bias, so that the pair is not driven throughout)",
        ),
    ],
)
def test_a_driver_that_does_not_state_what_is_needed_has_no_row_and_the_others_have(fields, missing):
    bus = with_figures(canal(), "gauge", **fields)
    eyes = analysis.worst_eyes(bus)
    assert eyes.missing == (("gauge", missing),)
    assert np.isnan(eyes.height[1]).all()
    assert np.isfinite(eyes.height[[0, 2]]).all()
    with pytest.raises(MissingDataError) as caught:
        analysis.waveforms(bus, "gauge")
    assert caught.value.missing == (f'nodes["gauge"].{missing}',)


def test_a_receiver_without_thresholds_has_waveforms_and_no_eye():
    bus = with_figures(canal(), "gate", receiver_lower_threshold=(None, "-50 mV", None))
    eyes = analysis.worst_eyes(bus)
    assert eyes.missing == (("gate", "transceiver.receiver_lower_threshold (its min)"),)
    assert np.isnan(eyes.height[:, 2]).all()
    assert np.isfinite(eyes.height[:, :2]).all()
    assert np.isfinite(eyes.settling).all()
    assert analysis.waveforms(bus, "gauge").mark[2] > 1.0
    with pytest.raises(MissingDataError, match="thresholds of gate"):
        analysis.worst_sequence(bus, "gauge", "gate")
    assert math.isnan(analysis.eye(bus, "gauge", "gate").lower_threshold)


@pytest.mark.parametrize(
    ("bits", "words"),
    [
        (3, "given 3, wanted a sequence of truth values"), ([], "given 0 bits, wanted 1 to 4096"),
        ([True] * 4097, "given 4097 bits"), ([0, 2], "wanted truth values"), ("01", "wanted truth values"),
        ([math.nan], "wanted truth values"), (np.eye(2), "wanted truth values"),
    ],
)  # fmt: skip
def test_strange_bits_are_refused(bits, words):
    with pytest.raises(InputError, match=words):
        analysis.waveforms(canal(), "gate").pattern(bits)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"bits": 15}, "bits: given 15, wanted a whole number from 16"),
        ({"bits": 64.0}, r"bits: given 64\.0"), ({"bits": True}, "bits: given True"),
        ({"seed": -1}, "seed: given -1"), ({"seed": "x"}, "seed: given 'x'"),
        ({"jitter": -1e-9}, "jitter: given"), ({"jitter": math.nan}, "jitter: given nan"),
        ({"jitter": 2e-7}, "a time from 0 to a tenth of a bit, 1e-07 s"), ({"jitter": "1 ns"}, "jitter: given '1 ns'"),
    ],
)  # fmt: skip
def test_strange_eyes_are_refused(given, words):
    with pytest.raises(InputError, match=words):
        analysis.eye(canal(), "gate", "gauge", **given)


@pytest.mark.parametrize(
    "given", [{"least_height": -0.1}, {"least_height": 11}, {"least_width": 1.1}, {"least_width": True},
              {"least_width": math.nan}, {"least_height": "1 V"}],
)  # fmt: skip
def test_strange_demands_on_an_edge_are_refused(given):
    with pytest.raises(InputError, match=rf"{next(iter(given))}: given .*, wanted a number from 0 to"):
        analysis.slowest_edge(canal(), **given)


def test_a_corner_is_nominal_or_adverse():
    with pytest.raises(InputError, match='corner: given \'worst\', wanted "nominal" or "adverse"'):
        analysis.worst_eyes(canal(), corner="worst")


@pytest.mark.parametrize(
    "bus",
    [
        with_figures(canal(5000.0, rate=None), "gauge", driver_edge_time="50 ps"),
        canal(rate=None, tail={"terminations": Termination(resistance="120 ohm", capacitance="100 uF")}),
    ],
    ids=["a fast edge over a long line", "a terminator that takes long to charge"],
)
def test_what_cannot_be_resolved_is_refused_with_a_cure(bus):
    with pytest.raises(SolveError, match=r"signals in time: the responses cannot be resolved: .*; state a slower edge"):
        analysis.waveforms(bus, "gauge")


def test_a_cable_that_no_line_can_be_is_refused_by_name():
    cable = attrs.evolve(PAIR, name="thin", conductor_resistance="8 ohm/m", impedance_frequency="10 kHz")
    with pytest.raises(SolveError, match='cable "thin" as a line'):
        analysis.worst_eyes(canal(cable=cable))


def test_nobody_drives_or_nobody_listens():
    silent = analysis.worst_eyes(canal(head={"drives": False}, tail={"drives": False}).replace_node(
        node("gauge", drives=False)))  # fmt: skip
    assert (silent.drivers, len(silent), silent.height.shape) == ((), 0, (0, 3))
    with pytest.raises(UnknownNameError, match="nobody drives"):
        _ = silent.worst
    deaf = canal(head={"receives": False}, tail={"receives": False}).replace_node(node("gauge", receives=False))
    assert analysis.worst_eyes(deaf).height.shape == (3, 0)
    for bus in (deaf, canal(head={"drives": False}, tail={"drives": False}).replace_node(node("gauge", drives=False))):
        with pytest.raises(MissingDataError):
            analysis.slowest_edge(bus)


# --- levels at rest ---------------------------------------------------------------------------------------

ACTIVE = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm", supply="5 V")
AT_REST_BUSES = {
    "plain": canal(1200.0),
    "bias": canal(1200.0, head={"biases": BIAS}),
    "active terminator": canal(1200.0, head={"terminations": ACTIVE}),
    "RC terminator": canal(300.0, tail={"terminations": Termination(resistance="120 ohm", capacitance="1 nF")}),
    "swapped": canal(1200.0, tail={"lines_swapped": True}),
    "full loads": with_figures(canal(1200.0), "gauge", unit_load=8.0),
}


@pytest.mark.parametrize("bus", AT_REST_BUSES.values(), ids=AT_REST_BUSES)
@pytest.mark.parametrize("driver", ["pump-house", "gauge", "gate"])
def test_final_levels_are_those_of_the_nodal_network(bus, driver):
    driven = analysis.driven_levels(bus)
    seen = analysis.waveforms(bus, driver)
    swing = np.abs(seen.mark - seen.space)
    for index, receiver in enumerate(seen.receivers):
        row = driven.between(driver, receiver)
        assert seen.mark[index] == near(row.mark.nominal, AT_REST)
        assert seen.space[index] == near(row.space.nominal, AT_REST)
        assert np.abs(seen.rise[index, -50:] - seen.mark[index]).max() < 1e-4 * swing[index]
        assert np.abs(seen.fall[index, -50:] - seen.space[index]).max() < 1e-4 * swing[index]
    assert np.abs(seen.rise[:, 0] - seen.space).max() < 1e-3 * swing.max()
    eyes = analysis.worst_eyes(bus)
    assert eyes.mark[eyes.drivers.index(driver)] == near(seen.mark)


def swings(bus: Bus) -> np.ndarray:
    eyes = analysis.worst_eyes(bus)
    return eyes.mark - eyes.space


def test_receivers_bias_and_active_terminators_load_the_pair_as_resistors_across_it():
    """24 kohm per unit load, the two legs of a bias in series, and both of an active terminator across its resistor."""

    def loaded(ohms: float) -> Bus:
        return with_figures(canal(), "gauge", unit_load=0.0).replace_node(
            node("gauge", transceiver=attrs.evolve(PART, unit_load=0.0), terminations=Termination(resistance=ohms))
        )

    bare = with_figures(canal(), "gauge", unit_load=0.0)
    assert swings(with_figures(bare, "gauge", unit_load=8.0)) == near(swings(loaded(3000.0)))
    biased = bare.replace_node(attrs.evolve(bare.node("gauge"), biases=BIAS))
    assert swings(biased) == near(swings(loaded(1020.0)))
    active = bare.replace_node(attrs.evolve(bare.node("gauge"), terminations=ACTIVE))
    assert swings(active) == near(swings(loaded(1.0 / (1.0 / 220.0 + 1.0 / 780.0))))


def test_bias_moves_the_middle_from_the_space_margin_to_the_mark_margin():
    """Both eyes are as high as their sum is halved: what the mark gains the space loses, and a little to its load."""
    plain = canal().replace_node(node("gauge", terminations=Termination(resistance="1020 ohm")))
    biased = canal().replace_node(node("gauge", biases=BIAS))
    before, after = analysis.worst_eyes(plain), analysis.worst_eyes(biased)
    middle = (after.mark + after.space) / 2.0
    assert (middle > 0.05).all()
    assert after.mark_margin + after.space_margin == near(before.mark_margin + before.space_margin, 1e-6)
    assert after.mark_margin - before.mark_margin == pytest.approx(middle, abs=1e-3)
    assert after.height == near(np.minimum(after.mark_margin, after.space_margin))


def test_an_rc_terminator_is_none_at_rest_and_one_for_edges():
    """Beyond the final level, and after 2.2 us, when the first wave is past and 100 nF have hardly begun to charge."""
    sizes = {"tiny": "1 pF", "small": "10 nF", "large": "100 nF"}
    buses = {
        name: canal(300.0, tail={"terminations": Termination(resistance="120 ohm", capacitance=text)})
        for name, text in sizes.items()
    }
    buses |= {"bare": canal(300.0, tail={"terminations": ()}), "ended": canal(300.0)}
    for name in sizes:
        assert swings(buses[name]) == near(swings(buses["bare"]), AT_REST)
    over = {name: analysis.worst_eyes(bus).between("pump-house", "gate").overshoot for name, bus in buses.items()}
    assert over["tiny"] == pytest.approx(over["bare"], abs=1e-2)
    assert over["large"] < over["small"] < 0.5 * over["bare"]
    first = {}
    for name in ("large", "ended"):
        seen = analysis.waveforms(buses[name], "pump-house")
        first[name] = float(np.interp(2.2e-6, seen.time, seen.rise[2] - seen.space[2]))
    assert first["large"] == pytest.approx(first["ended"], rel=0.05)


# --- swapped lines, shapes ----------------------------------------------------------------------------------


def test_swapped_lines_at_one_end_close_the_eye_and_at_both_change_nothing():
    plain = analysis.worst_eyes(canal())
    driver = analysis.worst_eyes(canal(head={"lines_swapped": True}))
    receiver = analysis.worst_eyes(canal(tail={"lines_swapped": True}))
    both = analysis.worst_eyes(canal(head={"lines_swapped": True}, tail={"lines_swapped": True}))
    for eyes in (driver, receiver):
        row = eyes.between("pump-house", "gate")
        assert row.mark_margin < -0.2
        assert row.space_margin < -0.2
        assert row.width == 0.0
        assert eyes.mark[0, 2] < 0.0 < eyes.space[0, 2]
    assert driver.height[0, 0] == near(plain.height[0, 0])
    assert receiver.height[2, 2] == near(plain.height[2, 2])
    assert both.height[np.ix_([0, 2], [0, 2])] == near(plain.height[np.ix_([0, 2], [0, 2])])
    assert both.height[0, 1] < 0.0
    for name in ("overshoot", "settling", "loss"):
        assert getattr(driver, name) == near(getattr(plain, name))


def test_parts_that_no_cable_joins_do_not_hear_one_another():
    one, other = canal(), canal(240.0)
    renamed = [attrs.evolve(each, name=f"far-{each.name}") for each in other.nodes]
    spans = [attrs.evolve(each, start=f"far-{each.start}", end=f"far-{each.end}") for each in other.segments]
    eyes = analysis.worst_eyes(Bus(nodes=[*one.nodes, *renamed], segments=[*one.segments, *spans], link=LINK))
    assert np.isnan(eyes.height[:3, 3:]).all()
    assert np.isnan(eyes.height[3:, :3]).all()
    assert eyes.height[:3, :3] == pytest.approx(analysis.worst_eyes(one).height, abs=1e-3)
    assert eyes.height[3:, 3:] == pytest.approx(analysis.worst_eyes(other).height, abs=1e-3)


def test_no_sequence_is_worst_where_no_cable_joins_the_two():
    bus = Bus(nodes=[node("gate", terminations=END), node("lock", terminations=END)], link=LINK)
    assert math.isnan(analysis.worst_eyes(bus).between("gate", "lock").height)
    assert analysis.worst_eyes(bus).between("gate", "gate").height > 1.0
    with pytest.raises(MissingDataError, match="cable between gate and lock"):
        analysis.worst_sequence(bus, "gate", "lock")


def ring() -> Bus:
    nodes = [node("gate", terminations=END), node("east"), node("lock", terminations=END), node("west")]
    names = ["gate", "east", "lock", "west", "gate"]
    spans = [Segment(start=a, end=b, length=60, cable=PAIR) for a, b in itertools.pairwise(names)]
    return Bus(nodes=nodes, segments=spans, link=LINK)


def test_a_ring_is_solved_alike_with_its_loop_cut_and_densely(monkeypatch):
    cut = analysis.worst_eyes(ring())
    assert cut.height[0, 1] == near(cut.height[0, 3])
    chain = Bus(nodes=ring().nodes[:3], segments=ring().segments[:2], link=LINK)
    assert cut.overshoot[0, 2] > 0.3 > 0.05 > analysis.worst_eyes(chain).overshoot[0, 2]
    monkeypatch.setattr(responses, "MOST_BYTES_OF_RINGS", 0)
    assert analysis.worst_eyes(ring()).height == near(cut.height)


def test_a_bus_of_one_node_hears_itself():
    bus = Bus(nodes=node("gate", terminations=END), link=LINK)
    eyes = analysis.worst_eyes(bus)
    row = eyes.between("gate", "gate")
    level = analysis.driven_levels(bus).between("gate", "gate").mark.nominal
    assert row.height == pytest.approx(level - 0.2, abs=1e-3)
    assert (row.overshoot, row.loss) == (pytest.approx(0.0, abs=eyes.error), near(0.0))
    assert row.width > 0.9


def test_a_stub_of_a_millimetre_is_none_and_a_long_one_is_seen():
    nodes = list(canal().nodes)
    fast = Link(data_rate="5 Mbit/s")
    heights = {}
    for length in ("0 m", "1 mm", "20 m"):
        bus = daisy_chain(nodes, spacing=75.0, cable=PAIR, link=fast, stub={"gauge": length})
        heights[length] = analysis.worst_eyes(bus).height
    assert heights["0 m"] == near(analysis.worst_eyes(canal(rate=fast)).height)
    assert heights["1 mm"] == pytest.approx(heights["0 m"], abs=2e-4)
    assert heights["20 m"].min() < 0.0 < 1.0 < heights["0 m"].min()


# --- edges on the way ---------------------------------------------------------------------------------------

NOTHING_LOST = Cable(
    name="nearly without loss", conductor_resistance="1 mohm/m", characteristic_impedance="120 ohm", velocity_factor=0.66
)  # fmt: skip


@pytest.mark.parametrize("load", [30.0, 120.0, 1e4])
def test_steps_on_a_line_without_loss_are_those_of_a_bounce_diagram(load):
    length, inner = 10.0, 33.0
    part = attrs.evolve(
        PART, unit_load=0.0, capacitance=0.0, driver_edge_time="1 ns", driver_loaded_voltage=3.5 * 54 / (54 + inner)
    )  # fmt: skip
    nodes = [node("gate", transceiver=part), node("lock", transceiver=part, terminations=Termination(resistance=load))]
    seen = analysis.waveforms(daisy_chain(nodes, spacing=length, cable=NOTHING_LOST), "gate")
    trip = length / propagation_velocity(0.66)
    for row, first in ((0, 1), (1, 2)):
        for waves in range(first, first + 8, 2):
            expected = bounced_voltage(7.0, inner, 120.0, waves, load_resistance=load)
            found = np.interp(trip * waves, seen.time, seen.rise[row] - seen.space[row])
            assert found == pytest.approx(expected, abs=0.05), (row, waves)


@pytest.mark.parametrize("shape", ["raised cosine", "linear ramp"])
def test_an_edge_into_a_resistor_is_that_of_the_part(shape):
    part = attrs.evolve(
        PART, unit_load=0.0, capacitance=0.0, driver_edge_shape=shape, driver_edge_time="80 ns", driver_fall_time="40 ns"
    )  # fmt: skip
    seen = analysis.waveforms(Bus(nodes=node("gate", transceiver=part, terminations=END)), "gate")
    for record, start, end, wanted in (
        (seen.rise[0], seen.space[0], seen.mark[0], 80e-9), (seen.fall[0], seen.mark[0], seen.space[0], 40e-9),
    ):  # fmt: skip
        share = (record - start) / (end - start)
        tenth, ninth = (np.interp(each, share, seen.time) for each in (0.1, 0.9))
        assert ninth - tenth == pytest.approx(wanted, rel=0.02)
    full = {"raised cosine": FULL_COSINE, "linear ramp": 1.25}
    assert seen.edge == near(80e-9 * full[shape])


@pytest.mark.parametrize("bits", [(1,), (0,), (1, 0), (0, 1, 1, 0, 1, 0, 0, 0, 1), (1, 1, 1, 0)])
def test_a_pattern_is_the_sum_of_its_edges(bits):
    """Reckoned bit by bit from the two edges, at every twentieth sample and after each record has ended."""
    bus = with_figures(canal(head={"biases": BIAS}), "gate", driver_edge_time="60 ns", driver_fall_time="250 ns")
    seen = analysis.waveforms(bus, "gate")
    found = seen.pattern(bits)
    assert found.receivers == seen.receivers
    assert found.time[seen.samples] == near(seen.interval)

    def at(record: np.ndarray, sample: int) -> np.ndarray:
        return record[:, sample] if sample < record.shape[1] else None

    for sample in range(0, len(found.time), 20):
        level = seen.mark if bits[0] else seen.space
        for place, (before, bit) in enumerate(itertools.pairwise(bits), start=1):
            since = sample - place * seen.samples
            if bit == before or since < 0:
                continue
            start, end, record = (seen.space, seen.mark, seen.rise) if bit else (seen.mark, seen.space, seen.fall)
            step = at(record, since)
            level = level + ((end if step is None else step) - start)
        assert found.voltage[:, sample] == near(level)


def test_numpy_bits_are_bits():
    seen = analysis.waveforms(canal(), "gate")
    assert (seen.pattern(np.array([1, 0, 1])).voltage == seen.pattern([True, False, True]).voltage).all()


def test_an_edge_that_the_step_cannot_resolve_is_replaced_and_told():
    fast = with_figures(canal(rate=Link(data_rate="9600 bit/s")), "gate", driver_edge_time="5 ns")
    seen, eyes = analysis.waveforms(fast, "gate"), analysis.worst_eyes(fast)
    step = 1.0 / 9600.0 / 64
    assert seen.samples == eyes.samples == 64
    assert seen.edge == eyes.edge == near(5 * step)
    assert any("edges shorter than" in each and "gate" in each for each in eyes.assumed)
    true = analysis.waveforms(attrs.evolve(fast, link=None), "gate")
    assert true.edge == near(5e-9 * FULL_COSINE)
    slow = with_figures(fast, "gate", driver_edge_time="100 us")
    slow = with_figures(with_figures(slow, "gauge", driver_edge_time="100 us"), "pump-house", driver_edge_time="100 us")
    told = analysis.worst_eyes(slow)
    assert told.edge == near(100e-6 * FULL_COSINE)
    assert not [each for each in told.assumed if "edges shorter" in each]


def test_the_second_look_at_a_fast_edge_finds_the_ringing_of_a_stub():
    """A stub that the replaced edge passes over is seen in the overshoot, as it is at a rate that resolves it."""
    nodes = [node(each.name, terminations=each.terminations, transceiver=attrs.evolve(PART, driver_edge_time="10 ns"))
             for each in canal().nodes]  # fmt: skip
    at = {
        rate: daisy_chain(nodes, spacing=75.0, cable=PAIR, stub={"gauge": 3.0}, link=Link(data_rate=rate))
        for rate in (19200.0, 4e6)
    }
    slow, fast = (analysis.worst_eyes(bus).between("gate", "gauge").overshoot for bus in at.values())
    assert fast > 0.05
    assert slow == pytest.approx(fast, rel=0.1)


@pytest.mark.parametrize("shape", ["raised cosine", "linear ramp"])
@pytest.mark.parametrize("rate", [1200.0, 9600.0, 115200.0])
@pytest.mark.parametrize("length", [2.0, 150.0, 250.0, 400.0])
def test_an_eye_at_a_slow_rate_is_nearly_a_bit_wide(length, rate, shape):
    """Whatever the delay, and though the responses come to rest within the first bit."""
    bus = canal(length, rate=Link(data_rate=rate))
    for name in ("pump-house", "gauge", "gate"):
        bus = with_figures(bus, name, driver_edge_shape=shape)
    assert analysis.worst_eyes(bus).width.min() > 0.96


@pytest.mark.parametrize("shape", ["raised cosine", "linear ramp"])
def test_the_measured_error_is_small(shape):
    bus = canal(300.0)
    for name in ("pump-house", "gauge", "gate"):
        bus = with_figures(bus, name, driver_edge_shape=shape)
    for error in (analysis.waveforms(bus, "gauge").error, analysis.worst_eyes(bus).error):
        assert 0.0 < error < 0.005 * 7.0


# --- what every result promises -----------------------------------------------------------------------------

RESULTS = {
    "waveforms": lambda bus: analysis.waveforms(bus, "gate"),
    "pattern": lambda bus: analysis.waveforms(bus, "gate").pattern([True, False]),
    "worst_eyes": analysis.worst_eyes,
    "worst_sequence": lambda bus: analysis.worst_sequence(bus, "gate", "gauge"),
    "eye": lambda bus: analysis.eye(bus, "gate", "gauge", bits=32),
    "slowest_edge": analysis.slowest_edge,
    "line_loading": analysis.line_loading,
}


@pytest.mark.parametrize("ask", RESULTS.values(), ids=RESULTS)
def test_results_are_frozen_read_only_and_survive_a_pickle(ask):
    result = ask(canal())
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        result.anything = 1
    again = pickle.loads(pickle.dumps(result))
    assert type(again) is type(result)
    for field in attrs.fields(type(result)):
        value, other = getattr(result, field.name), getattr(again, field.name)
        if isinstance(value, np.ndarray):
            assert np.array_equal(value, other, equal_nan=True)
            assert not value.flags.writeable
            assert not other.flags.writeable
        else:
            assert value == other or (value != value and other != other)


def test_rows_and_records_are_those_of_the_arrays():
    eyes = analysis.worst_eyes(canal())
    assert len(eyes) == len(list(eyes)) == 9
    row = eyes.between("gate", "gauge")
    assert row.height == eyes.height[2, 1] == min(row.mark_margin, row.space_margin)
    assert eyes.worst.height == eyes.height.min()
    assert eyes.to_records()[7]["height_V"] == row.height
    assert row.q.height.to("mV").magnitude == near(1e3 * row.height)


def test_one_solve_serves_rules_and_reader():
    shared = Analyses(canal())
    assert analysis.worst_eyes(shared) is analysis.worst_eyes(shared)
    assert analysis.waveforms(shared, "gate") is not analysis.waveforms(shared, "gate")


def test_what_is_assumed_is_said():
    bus = with_figures(canal(), "gate", capacitance=None)
    told = " / ".join(analysis.worst_eyes(bus).assumed)
    assert "transceivers without a stated capacitance have 20 pF" in told
    assert "loss of the pair follows from its resistance" in told
    assert "20 degC" in told
    assert analysis.worst_eyes(bus).height == near(analysis.worst_eyes(canal()).height)
