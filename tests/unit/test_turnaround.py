"""Turnaround: refusals, closed forms, brute force over all corners, self-directing drivers, what is not stated."""

import itertools
import math

import attrs
import numpy as np
import pytest

import rs485kit as rk
from rs485kit.errors import MissingDataError
from rs485kit.formulas import answer_arrival_time, least_reply_delay, line_delay, propagation_velocity

PAIR = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm", velocity_factor=0.66)
PART = rk.Transceiver(
    name="part", unit_load=0.125, driver_delay=("20 ns", "40 ns", "70 ns"), receiver_delay=("30 ns", "60 ns", "100 ns"),
    driver_enable_time=("40 ns", "80 ns", "2 us"), driver_disable_time=("30 ns", "60 ns", "900 ns"),
)  # fmt: skip
CHANNELS = [
    rk.Channel(purpose="transmit", delay=("10 ns", "15 ns", "25 ns")),
    rk.Channel(purpose="receive", delay=("12 ns", "16 ns", "30 ns")),
    rk.Channel(purpose="enable", delay=("50 ns", "80 ns", "120 ns")),
]
SHIELD = rk.Barrier(isolator=rk.Isolator(name="isolator", channels=CHANNELS))
LINK = rk.Link(data_rate="9.6 kbit/s", controller="head", request_gap=("1 ms", "2 ms", "3 ms"))
NODE = rk.Node(
    name="node", transceiver=PART, direction="program", enable_lead=("0 us", "5 us", "8 us"),
    release_hold=("10 us", "60 us", "90 us"), reply_delay=("100 us", "200 us", "900 us"), barrier=SHIELD,
)  # fmt: skip


def bus_of(*, link: rk.Link = LINK, spacing: str = "600 m", head: dict | None = None, **device) -> rk.Bus:
    nodes = [attrs.evolve(NODE, name="head", **(head or {})), attrs.evolve(NODE, name="gate", **device)]
    return rk.daisy_chain(nodes, spacing=spacing, cable=PAIR, link=link)


def row_of(**changes):
    return rk.analysis.turnaround(bus_of(**changes)).at("gate")


# --- refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("link", "field"),
    [(None, "link.data_rate"), (attrs.evolve(LINK, data_rate=None), "link.data_rate"),
     (attrs.evolve(LINK, controller=None), "link.controller")],
)  # fmt: skip
def test_without_rate_or_controller_there_is_no_turn(link, field):
    with pytest.raises(MissingDataError) as caught:
        rk.analysis.turnaround(bus_of(link=link))
    assert field in caught.value.missing


def test_a_controller_that_does_not_drive_is_refused():
    with pytest.raises(MissingDataError, match="to drive and to listen"):
        rk.analysis.turnaround(bus_of(head={"drives": False}))


# --- figures -------------------------------------------------------------------------------------------------


def test_the_needed_delay_is_that_of_the_closed_form():
    part = rk.Transceiver(
        name="exact", unit_load=0.125, driver_delay="40 ns", receiver_delay="100 ns", driver_enable_time="80 ns",
        driver_disable_time="80 ns",
    )  # fmt: skip
    exact = {"transceiver": part, "barrier": None, "release_hold": "1 ms", "enable_lead": "0 s", "reply_delay": "1.75 ms"}
    for metres in (1.0, 600.0):
        row = row_of(head=exact, spacing=f"{metres} m", **exact)
        assert row.needed_reply_delay == pytest.approx(least_reply_delay(1e-3, 80e-9, 40e-9, 100e-9, 80e-9), rel=1e-12)
        flight = line_delay(metres, propagation_velocity(0.66))
        assert row.flight == pytest.approx(flight, rel=1e-12)
        assert row.earliest_reply == pytest.approx(answer_arrival_time(flight, 1.75e-3, 40e-9, 100e-9), rel=1e-12)


def test_gaps_are_the_least_of_all_corners():
    """Every figure at its least and its largest value, events in order of time: nothing else is computed alike."""

    def ends(figure):
        return (figure.min, figure.max)

    def delay(purpose):
        return ends(next(each.delay for each in CHANNELS if each.purpose == purpose))

    spreads = [
        ends(NODE.release_hold), delay("enable"), ends(PART.driver_disable_time), delay("transmit"), ends(PART.driver_delay),
        ends(PART.receiver_delay), delay("receive"), ends(NODE.reply_delay), ends(NODE.enable_lead),
        ends(PART.driver_enable_time), delay("enable"),
    ]  # fmt: skip
    least, latest, flight = math.inf, 0.0, line_delay(600.0, propagation_velocity(0.66))
    for hold, off, disable, send, drive, receive, take, reply, lead, enable, on in itertools.product(*spreads):
        released_there = hold + off + disable + flight
        heard = send + drive + flight + receive + take
        driving = heard + reply - lead + enable + on
        least = min(least, driving - released_there)
    row = row_of()
    assert row.reply_gap == pytest.approx(least, rel=1e-9)
    sends, hears = (
        sum(each[1] for each in pair)
        for pair in ((delay("transmit"), ends(PART.driver_delay)), (ends(PART.receiver_delay), delay("receive")))
    )
    latest = 2.0 * (sends + hears + flight) + NODE.reply_delay.max
    assert row.latest_reply == pytest.approx(latest, rel=1e-12)
    assert row.needed_timeout == pytest.approx(latest + 9.5 / 9600.0, rel=1e-12)


def test_with_the_needed_delay_the_gap_is_nothing():
    late = row_of(head={"release_hold": "4 ms"})
    assert late.reply_gap < 0.0
    assert late.reply_overlap_bits == pytest.approx(-late.reply_gap * 9600.0)
    assert row_of(head={"release_hold": "4 ms"}, reply_delay=late.needed_reply_delay).reply_gap == pytest.approx(0.0, abs=1e-12)
    slow = row_of(release_hold="9 ms")
    assert slow.request_gap < 0.0
    link = attrs.evolve(LINK, request_gap=slow.needed_request_gap)
    assert row_of(release_hold="9 ms", link=link).request_gap == pytest.approx(0.0, abs=1e-12)


def test_the_cable_cancels_in_gaps_and_doubles_in_arrivals():
    near, far = row_of(spacing="1 m"), row_of(spacing="1200 m")
    assert near.reply_gap == pytest.approx(far.reply_gap, abs=1e-15)
    assert near.request_gap == pytest.approx(far.request_gap, abs=1e-15)
    assert far.earliest_reply - near.earliest_reply == pytest.approx(2.0 * (far.flight - near.flight), rel=1e-9)


def test_a_one_shot_holds_from_the_last_space_on():
    """At 8N1 the last space may be the bit before the stop bit: of a hold of ten bits eight are left after the stop bit."""
    bit = 1.0 / 9600.0
    head = {"direction": "one-shot", "one_shot_hold": 10.0 * bit, "release_hold": None, "enable_lead": None}
    held = CHANNELS[0].delay.max + PART.driver_disable_time.max + 8.0 * bit
    program = {"direction": "program", "release_hold": held - CHANNELS[2].delay.max - PART.driver_disable_time.max}
    assert row_of(head=head).reply_gap == pytest.approx(row_of(head=program).reply_gap, rel=1e-9)


def test_a_driver_that_its_data_direct_is_off_by_the_end_of_the_stop_bit():
    row = row_of(head={"direction": "data", "release_hold": None, "enable_lead": None})
    assert row.reply_gap > row_of().reply_gap
    leaning = attrs.evolve(PART, mark_driven=False, mark_drive_time="1 ms")
    held = row_of(head={"direction": "data", "release_hold": None, "enable_lead": None, "transceiver": leaning})
    assert held.reply_gap == pytest.approx(row.reply_gap - 1e-3, abs=1e-12)


def test_what_is_cut_off_a_frame():
    assert row_of().end_lost == 0.0
    cut = row_of(release_hold="-1 ms")
    assert cut.end_lost == pytest.approx(1e-3 + 95e-9 - 80e-9, rel=1e-6)
    assert row_of(enable_lead="0 s").start_lost == pytest.approx(2e-6 + 120e-9 - 30e-9, rel=1e-9)
    assert row_of(enable_lead="20 us").start_lost == 0.0


# --- what is not stated, and what changes nothing ------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "field"),
    [({"reply_delay": None}, "reply_delay"), ({"enable_lead": None}, "enable_lead"),
     ({"reply_delay": (None, "1 ms", "2 ms")}, "reply_delay (its min)")],
)  # fmt: skip
def test_what_a_gap_hangs_on_and_is_not_stated_is_named(change, field):
    found = rk.analysis.turnaround(bus_of(**change))
    assert math.isnan(found.at("gate").reply_gap)
    assert ("gate", field) in found.missing


def test_a_delay_without_a_least_value_is_nothing_at_the_least():
    part = attrs.evolve(PART, driver_delay=(None, "40 ns", "70 ns"))
    assert row_of(head={"transceiver": part}).reply_gap == pytest.approx(row_of().reply_gap - 20e-9, abs=1e-14)
    unstated = attrs.evolve(PART, driver_disable_time=None)
    assert math.isnan(row_of(head={"transceiver": unstated}).reply_gap)


@pytest.mark.parametrize("seed", range(20))
def test_wider_figures_never_raise_a_gap(seed):
    draw = np.random.default_rng(seed)

    def wider(figure):
        low, high = draw.uniform(0.0, 1.0, 2)
        return rk.MinTypMax(min=figure.min * (1.0 - low), typ=figure.typ, max=figure.max * (1.0 + high))

    part = attrs.evolve(
        PART, **{name: wider(getattr(PART, name)) for name in ("driver_delay", "driver_enable_time", "driver_disable_time")}
    )
    changes = {name: wider(getattr(NODE, name)) for name in ("release_hold", "reply_delay", "enable_lead")}
    wide, narrow = row_of(head={"transceiver": part, **changes}, transceiver=part, **changes), row_of()
    assert wide.reply_gap <= narrow.reply_gap
    assert wide.request_gap <= narrow.request_gap
    assert wide.needed_reply_delay >= narrow.needed_reply_delay
    assert wide.latest_reply >= narrow.latest_reply


def test_the_order_of_nodes_changes_nothing():
    bus = bus_of()
    turned = attrs.evolve(bus, nodes=bus.nodes[::-1], segments=bus.segments[::-1])
    assert rk.analysis.turnaround(turned).at("gate") == rk.analysis.turnaround(bus).at("gate")
