"""Timing profiles and exchanges: what they refuse, what they carry, and the limits that they are held against."""

import tomllib
from pathlib import Path

import attrs
import pytest

import rs485kit as rk
from rs485kit.errors import InputError
from rs485kit.formulas import profibus_idle_bits, rtu_character_gap, rtu_frame_gap

LIMITS = {
    check["id"]: check
    for check in tomllib.loads(
        (Path(__file__).parents[1] / "published" / "timing.toml").read_text(encoding="utf-8")
    )["check"]
}
RATES = (1200.0, 9600.0, 19200.0, 38400.0, 115200.0)


def profile(name: str) -> rk.TimingProfile:
    return rk.catalogue.timing_profile(f"generic.{name}")


def bit_times(name: str, field: str, rate: float, frame: str = "8E1") -> float:
    found = profile(name).duration(field, rate, frame)
    assert found is not None
    return found * rate


# --- refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([{"time": "1 ms"}, {"bits": 3}], "no limit, no limit"),
        ([{"up_to": "9.6 kbit/s", "bits": 3}, {"up_to": "4.8 kbit/s", "bits": 3}], "9600 bit/s, 4800 bit/s"),
        ([{"bits": 3}, {"up_to": "4.8 kbit/s", "bits": 3}], "no limit, 4800 bit/s"),
    ],
)
def test_steps_out_of_order_are_refused(steps, said):
    with pytest.raises(InputError, match="rising up_to") as caught:
        rk.TimingProfile(name="odd", frame_gap=steps)
    assert said in str(caught.value)


@pytest.mark.parametrize("change", [{"bits": -1}, {"time": "-1 ms"}, {"characters": float("nan")}, {"up_to": "1 bit/s"}])
def test_times_out_of_range_are_refused(change):
    with pytest.raises(InputError, match="RatedTime"):
        rk.RatedTime(**change)


def test_frames_and_rates_that_are_none_are_refused():
    with pytest.raises(InputError, match="8N1"):
        rk.TimingProfile(name="odd", frames="8N3")
    with pytest.raises(InputError, match="at least the lowest rate"):
        rk.TimingProfile(name="odd", lowest_rate="19.2 kbit/s", highest_rate="9.6 kbit/s")


@pytest.mark.parametrize("name", ["gap", "frames", "name", None, 3])
def test_a_time_that_there_is_not_is_refused(name):
    with pytest.raises(InputError, match="one of preamble"):
        profile("plain").duration(name, 9600.0, "8N1")


@pytest.mark.parametrize(
    "change",
    [{"request_characters": 0}, {"reply_characters": -1}, {"times": 0}, {"request_characters": None}, {"devices": ("a", "a")}],
)
def test_exchanges_that_ask_nothing_are_refused(change):
    with pytest.raises(InputError, match="Exchange"):
        rk.Exchange(**{"request_characters": 8, "reply_characters": 5, **change})


def test_an_exchange_with_a_node_that_is_not_there_is_refused():
    link = rk.Link(exchanges=rk.Exchange(devices="gat", request_characters=8, reply_characters=5))
    with pytest.raises(InputError, match=r'Bus\.link\.exchanges\[0\]\.devices: given "gat".*did you mean gate'):
        rk.Bus(nodes=[rk.Node(name="gate"), rk.Node(name="weir")], segments=[rk.Segment(start="gate", end="weir", length=1)],
               link=link)  # fmt: skip


# --- what the profiles carry ---------------------------------------------------------------------------------


def test_a_profile_states_no_time_above_its_last_step():
    assert profile("profibus-dp").duration("reply_timeout", 13e6, "8E1") is None
    assert profile("plain").duration("frame_gap", 9600.0, "8N1") is None


@pytest.mark.parametrize("rate", RATES)
def test_modbus_silences_are_those_of_the_closed_forms(rate):
    rtu = profile("modbus-rtu")
    assert rtu.duration("longest_character_gap", rate, "8E1") == pytest.approx(rtu_character_gap(rate), rel=1e-12)
    for field in ("frame_gap", "least_reply_delay", "request_gap"):
        assert rtu.duration(field, rate, "8E1") == pytest.approx(rtu_frame_gap(rate), rel=1e-12)


def test_modbus_limits_are_the_published_ones():
    waits = LIMITS["modbus-response-timeout-typical"]["expected"]
    assert 1e3 * profile("modbus-rtu").duration("reply_timeout", 9600.0, "8E1") == waits["response_timeout_min_ms"]
    assert 1e3 * profile("modbus-rtu").duration("broadcast_gap", 9600.0, "8E1") == waits["turnaround_min_ms"]
    text = LIMITS["modbus-ascii-intercharacter-limit"]["expected"]
    assert profile("modbus-ascii").duration("longest_character_gap", 9600.0, "7E1") == text["limit_s"]
    sizes = LIMITS["modbus-frame-sizes"]["expected"]
    assert profile("modbus-rtu").longest_frame == sizes["rtu_max_bytes"]
    assert profile("modbus-ascii").longest_frame == sizes["ascii_max_chars"]


@pytest.mark.parametrize("rate", [9600.0, 38400.0, 115200.0])
def test_ms_tp_limits_are_the_published_ones(rate):
    bits, times = (LIMITS[f"mstp-constants-{form}"]["expected"] for form in ("bit-times", "ms"))
    name = "bacnet-ms-tp"
    assert bit_times(name, "longest_character_gap", rate) == pytest.approx(bits["tframe_gap_max_bits"])
    assert bit_times(name, "longest_release", rate) == pytest.approx(bits["tpostdrive_max_bits"])
    for field in ("frame_gap", "least_reply_delay", "request_gap"):
        assert bit_times(name, field, rate) == pytest.approx(bits["tturnaround_min_bits"])
    assert 1e3 * profile(name).duration("longest_reply_delay", rate, "8N1") == times["treply_delay_max_ms"]
    assert 1e3 * profile(name).duration("reply_timeout", rate, "8N1") == times["treply_timeout_min_ms"]


def test_lighting_limits_are_the_published_ones():
    packet, window = LIMITS["dmx-limits-e111"]["expected"], LIMITS["dmx-rate-window"]["inputs"]
    head = 1e6 * profile("dmx512").duration("preamble", 250e3, "8N2")
    assert head == pytest.approx(packet["break_min_us"] + packet["mark_after_break_min_us"])
    for name in ("dmx512", "rdm"):
        assert [profile(name).lowest_rate, profile(name).highest_rate] == [window["baud_min_bps"], window["baud_max_bps"]]
    reply, controller, head = (
        LIMITS[f"rdm-{form}"]["expected"] for form in ("responder-window", "controller-timing", "break-mark")
    )
    expected = {
        "preamble": head["break_min_us"] + head["mark_after_break_min_us"],
        "longest_character_gap": reply["interslot_max_us"],
        "least_reply_delay": reply["response_min_us"],
        "longest_reply_delay": reply["response_max_us"],
        "request_gap": controller["request_to_request_min_us"],
        "reply_timeout": controller["response_wait_max_us"],
    }
    for field, microseconds in expected.items():
        assert 1e6 * profile("rdm").duration(field, 250e3, "8N2") == pytest.approx(microseconds)


def test_profibus_limits_are_the_published_ones():
    given, limits = (LIMITS["profibus-default-parameters"][key] for key in ("inputs", "expected"))
    for index, rate in enumerate(given["baud_bps"]):
        quiet, setup, least, most, slot = (
            limits[name][index] for name in ("tqui_bits", "tset_bits", "min_tsdr_bits", "max_tsdr_bits", "tsl_bits")
        )
        assert bit_times("profibus-dp", "least_reply_delay", rate) == pytest.approx(least)
        assert bit_times("profibus-dp", "longest_reply_delay", rate) == pytest.approx(most)
        assert bit_times("profibus-dp", "reply_timeout", rate) == pytest.approx(slot)
        assert bit_times("profibus-dp", "request_gap", rate) == pytest.approx(profibus_idle_bits(quiet, setup, least))
        assert bit_times("profibus-dp", "broadcast_gap", rate) == pytest.approx(profibus_idle_bits(quiet, setup, most))


def test_no_profile_rests_on_memory():
    for name in rk.catalogue.names("timing_profiles"):
        assert not [each for each in rk.catalogue.sources("timing_profiles", name).values() if "memory" in each]


def test_a_profile_can_be_derived_and_travels_through_a_file():
    own = attrs.evolve(profile("modbus-rtu"), name="canal", reply_timeout=rk.RatedTime(time="60 ms"))
    bus = rk.daisy_chain(
        [rk.Node(name="gate"), rk.Node(name="weir")], spacing="1 m", cable=None, link=rk.Link(profile=own)
    )  # fmt: skip
    assert rk.bus_from_mapping(rk.bus_to_mapping(bus)) == bus
    mapping = {"format": 1, "bus": {
        "nodes": [{"name": "gate", "at": "0 m"}, {"name": "weir", "at": "1 m"}],
        "link": {"profile": {"like": "generic.modbus-rtu", "name": "canal", "reply_timeout": {"time": "60 ms"}}},
    }}  # fmt: skip
    assert rk.bus_from_mapping(mapping).link.profile == own
