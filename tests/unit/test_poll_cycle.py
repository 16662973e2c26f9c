"""Poll cycle: refusals, published cycles, dead devices, packets that nobody answers, other data rates."""

import math

import attrs
import pytest

import rs485kit as rk
from rs485kit.errors import MissingDataError
from rs485kit.formulas import dmx_packet_time

PART = rk.Transceiver(name="part", unit_load=0.125)
PAIR = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km")
RTU = rk.catalogue.timing_profile("generic.modbus-rtu")
LINK = rk.Link(
    data_rate="9.6 kbit/s", frame="8E1", controller="head", profile=RTU, retries=0, reply_timeout="1 s",
    exchanges=rk.Exchange(request_characters=8, reply_characters=25),
)  # fmt: skip


def bus_of(
    devices: int = 32, *, link: rk.Link = LINK, dead: tuple[int, ...] = (), cable: rk.Cable = PAIR, **changes
) -> rk.Bus:
    nodes = [rk.Node(name="head", transceiver=PART)]
    nodes += [
        rk.Node(name=f"gate-{index}", transceiver=PART, **{"reply_delay": "30 ms", **changes}, powered=index not in dead)
        for index in range(devices)
    ]
    return rk.daisy_chain(nodes, spacing="10 m", cable=cable, link=link)


@pytest.mark.parametrize(
    ("change", "field"), [({"exchanges": ()}, "link.exchanges"), ({"controller": None}, "link.controller"), ({"data_rate": None}, "link.data_rate")]
)
def test_without_what_is_asked_there_is_no_cycle(change, field):
    with pytest.raises(MissingDataError) as caught:
        rk.analysis.poll_cycle(bus_of(2, link=attrs.evolve(LINK, **change)))
    assert field in caught.value.missing


def test_published_cycle_of_32_devices():
    """Check modbus-poll-cycle-32-slaves-9600: 71.823 ms each, 2298.333 ms in all."""
    cycle = rk.analysis.poll_cycle(bus_of())
    assert 1e3 * cycle.at("gate-0").nominal == pytest.approx(71.8229167, rel=1e-8)
    assert 1e3 * cycle.cycle_nominal == pytest.approx(2298.33333, rel=1e-8)
    assert cycle.utilisation == pytest.approx(32 * 33 * 11 / 9600 / 2.29833333, rel=1e-8)


def test_published_cycle_with_one_dead_device():
    """Check modbus-poll-cycle-one-dead-slave: 3235.677 ms, known beforehand as found."""
    assert 1e3 * rk.analysis.poll_cycle(bus_of()).at("gate-5").cycle_without == pytest.approx(3235.67708, rel=1e-8)
    assert 1e3 * rk.analysis.poll_cycle(bus_of(dead=(5,))).cycle_nominal == pytest.approx(3235.67708, rel=1e-8)


def test_retries_repeat_request_and_timeout():
    once, thrice = (rk.analysis.poll_cycle(bus_of(2, link=attrs.evolve(LINK, retries=count))) for count in (0, 2))
    assert thrice.at("gate-0").dead == pytest.approx(3.0 * once.at("gate-0").dead, rel=1e-12)


def test_packets_that_nobody_answers_are_those_of_the_closed_form():
    link = rk.Link(
        data_rate="250 kbit/s", frame="8N2", controller="head", profile=rk.catalogue.timing_profile("generic.dmx512"),
        exchanges=rk.Exchange(request_characters=513, reply_characters=0),
    )  # fmt: skip
    cycle = rk.analysis.poll_cycle(bus_of(3, link=link, reply_delay=None))
    assert cycle.nodes == ()
    assert cycle.cycle_longest == cycle.broadcast_time == pytest.approx(dmx_packet_time(512), rel=1e-12)


def test_exchanges_of_one_device_add_up_and_others_are_not_asked():
    exchanges = [
        rk.Exchange(devices="gate-1", request_characters=8, reply_characters=25, times=2),
        rk.Exchange(devices=("gate-1", "gate-0"), request_characters=8, reply_characters=25),
    ]
    cycle = rk.analysis.poll_cycle(bus_of(3, link=attrs.evolve(LINK, exchanges=exchanges)))
    assert cycle.nodes == ("gate-0", "gate-1")
    assert cycle.requests == (1, 3)
    assert cycle.at("gate-1").longest == pytest.approx(3.0 * cycle.at("gate-0").longest, rel=1e-12)


def test_the_cable_counts_there_and_back():
    far = attrs.evolve(PAIR, velocity_factor=0.5)
    near, long = (rk.analysis.poll_cycle(bus_of(1, cable=cable)).cycle_nominal for cable in (PAIR, far))
    assert long - near == pytest.approx(2.0 * 10.0 / (0.5 * 299792458.0), rel=1e-6)


def test_what_the_profile_allows_stands_in_for_what_is_not_stated():
    link = rk.Link(
        data_rate="38.4 kbit/s", controller="head", profile=rk.catalogue.timing_profile("generic.bacnet-ms-tp"), retries=1,
        exchanges=rk.Exchange(request_characters=20, reply_characters=40),
    )  # fmt: skip
    cycle = rk.analysis.poll_cycle(bus_of(1, link=link, reply_delay=None))
    assert cycle.cycle_longest == pytest.approx((60 * 10 + 40) / 38400 + 0.25, rel=1e-12)
    assert cycle.at("gate-0").dead == pytest.approx(2.0 * (200 / 38400 + 0.255), rel=1e-12)
    assert len(cycle.assumed) == 5


@pytest.mark.parametrize(
    ("link", "node", "field"),
    [({"profile": None}, {}, ("link", "request_gap")), ({"retries": None}, {}, ("link", "retries")),
     ({}, {"reply_delay": None}, ("gate-0", "reply_delay")),
     ({"profile": None, "reply_timeout": None}, {}, ("link", "reply_timeout"))],
)  # fmt: skip
def test_what_a_cycle_hangs_on_and_is_not_stated_is_named(link, node, field):
    cycle = rk.analysis.poll_cycle(bus_of(1, link=attrs.evolve(LINK, **link), **node))
    assert field in cycle.missing
    assert math.isnan(cycle.cycle_longest) or math.isnan(cycle.at("gate-0").cycle_without)


def test_fixed_silences_take_over_at_high_rates():
    """Six times the rate is not a sixth of the time, and below one character a frame the silence rules."""
    rates = {row.data_rate: row for row in rk.analysis.poll_cycle(bus_of(reply_delay="0 s")).rates}
    assert rates[9600.0].cycle == pytest.approx(32 * (33 + 3.5) * 11 / 9600, rel=1e-6)
    assert rates[115200.0].cycle == pytest.approx(32 * (33 * 11 / 115200 + 1.75e-3), rel=1e-6)
    assert rates[115200.0].cycle > rates[19200.0].cycle / 6.0
    assert rates[115200.0].utilisation < rates[9600.0].utilisation


def test_short_text_frames_are_faster_than_binary_ones_on_a_fast_bus():
    """Check modbus-ascii-faster-short-115200: eleven characters of text against five bytes and a silence."""
    text = attrs.evolve(
        LINK, data_rate="115.2 kbit/s", frame="7E1", profile=rk.catalogue.timing_profile("generic.modbus-ascii"),
        request_gap="0 s", exchanges=rk.Exchange(request_characters=11, reply_characters=11),
    )  # fmt: skip
    binary = attrs.evolve(
        LINK, data_rate="115.2 kbit/s", exchanges=rk.Exchange(request_characters=5, reply_characters=5)
    )
    cycles = [rk.analysis.poll_cycle(bus_of(1, link=link, reply_delay="1.75 ms")).cycle_nominal for link in (text, binary)]
    assert cycles[0] < cycles[1]


def test_the_order_of_nodes_changes_nothing():
    bus = bus_of(4, dead=(2,))
    turned = attrs.evolve(bus, nodes=bus.nodes[::-1])
    there, back = rk.analysis.poll_cycle(bus), rk.analysis.poll_cycle(turned)
    assert back.cycle_longest == pytest.approx(there.cycle_longest, rel=1e-12)
    assert back.at("gate-1").longest == pytest.approx(there.at("gate-1").longest, rel=1e-12)
