"""Topic K, handover: bytes that receivers log in C29, C33 and C34, and the one-shots of C30."""

import attrs
import numpy as np
import pytest
from case_parts import END, exactly, printed

import rs485kit as rk
from rs485kit.formulas import received_bytes, sent_bits, stray_byte_pulse

SAMPLES = 64
KILO, MICRO, MILLI = 1e3, 1e-6, 1e-3


def logged(levels: np.ndarray, frame: str = "8N1") -> list[str]:
    """Return what a receiver logs, byte for byte."""
    return [f"{byte.value:02x}" for byte in received_bytes(levels, samples_per_bit=SAMPLES, frame=frame)]


def pulse(bits: float) -> np.ndarray:
    """Return a pair that is low for some bits, and at mark before and after."""
    return np.concatenate((np.ones(SAMPLES, bool), np.zeros(round(bits * SAMPLES), bool), np.ones(20 * SAMPLES, bool)))


# --- C29: a controller that lets go late into the reply (repo esphome_modbus_bridge #23)

REPLY = (0x15, 0x04, 0x02, 0x00, 0x01, 0x48, 0xF3)


def c29(held: float) -> np.ndarray:
    """The reply 15 04 02 00 01 48 f3 at 9600 8E1 [read], its first bits held at mark by the controller.

    That the holder wins with mark is [assumed]; it reproduces the bytes.
    """
    seen = np.repeat((True, *sent_bits(REPLY, frame="8E1")), SAMPLES)
    seen[: SAMPLES + round(held * SAMPLES)] = True
    return seen


def test_c29_undisturbed():
    assert logged(c29(0.0), "8E1") == ["15", "04", "02", "00", "01", "48", "f3"]


@pytest.mark.parametrize("held", [0.55, 1.0, 1.5, 2.0, 2.45])
def test_c29_bytes_as_logged(held):
    """c5 30 00 01 48 f3 [read] for 0.5 to 2.5 bits into the reply [derived], 52 to 260 us."""
    assert logged(c29(held), "8E1") == ["c5", "30", "00", "01", "48", "f3"]


@pytest.mark.parametrize("held", [2.55, 3.5, 4.45])
def test_c29_bytes_of_a_longer_hold(held):
    """31 30 ... for 2.5 to 4.5 bits [derived]."""
    assert logged(c29(held), "8E1")[:2] == ["31", "30"]


def test_c29_bytes_of_a_hold_of_nearly_a_character():
    """04 02 ... from 8.5 bits on [derived]."""
    assert logged(c29(8.55), "8E1")[:2] == ["04", "02"]


def test_c29_back_from_the_bytes():
    """The bytes as logged have one explanation: mark held for 0.5 to 2.5 bits [derived]."""
    found = rk.formulas.byte_faults(REPLY, (0xC5, 0x30, 0x00, 0x01, 0x48, 0xF3), frame="8E1")
    assert {each.fault for each in found} == {"mark held"}
    assert (found[0].shortest, found[-1].longest) == pytest.approx((0.5, 2.5), abs=1 / 16)


def test_c29_hold_in_bits():
    """1.26 to 1.35 ms are 12.1 to 13.0 bits at 9600 bit/s, and a character of 11 bits is 1.146 ms [derived]."""
    assert printed(12.1, last=0.1) == 1.26 * MILLI * 9600
    assert printed(13.0, last=0.1) == 1.35 * MILLI * 9600
    assert len(sent_bits((0x15,), frame="8E1")) / 9600 / MILLI == printed(1.146, last=0.001)


# --- C30: a converter held by a one-shot (manualshive.com manual 3081236 page 9)

# data rate [bit/s], timing resistor [kohm], nominal time [ms]: first and last of the table [read]
C30 = {1200: (820, 8.33), 115200: (8.2, 0.0868)}
CAPACITOR = 10e-9
FITTED = 100e3


def c30(rate: float, hold: float) -> rk.Bus:
    """A bus with such a converter at a data rate; all else [assumed]."""
    part = rk.Transceiver(
        name="part", unit_load=0.125, input_reference=0.0, driver_open_voltage=3.5, driver_loaded_voltage=2.2,
        driver_edge_time="500 ns", receiver_upper_threshold=0.2, receiver_lower_threshold=-0.2,
    )  # fmt: skip
    pair = rk.Cable(
        name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm", velocity_factor=0.66
    )
    bias = rk.Bias(pull_up="560 ohm", pull_down="560 ohm", supply="5 V")
    nodes = [
        rk.Node(name="converter", transceiver=part, terminations=END, biases=bias, direction="one-shot", one_shot_hold=hold),
        rk.Node(name="device", transceiver=part, terminations=END),
    ]
    return rk.daisy_chain(nodes, spacing="100 m", cable=pair, link=rk.Link(data_rate=rate), name="C30")


@pytest.mark.parametrize("rate", C30)
def test_c30_times_of_the_table_are_one_character(rate):
    """R C is the nominal time within 8 %, which is one character of 10 bits [derived]."""
    kilohm, time = C30[rate]
    assert kilohm * KILO * CAPACITOR == pytest.approx(time * MILLI, rel=0.08)
    assert 10 / rate / MILLI == printed(time, last=0.01 if time > 1 else 0.0001)


def test_c30_left_at_the_resistor_that_was_fitted():
    """1 ms: right at 9600 bit/s but for 4 %; at 1200 bit/s it lets go inside bytes; at 115200 it holds 11.5 characters.

    The 12 characters of the report [derived] are 1.04 ms; 100 kohm and 10 nF are 1.00 ms.
    """
    hold = FITTED * CAPACITOR
    at_rest = rk.analysis.self_direction(c30(1200.0, hold)).at("converter")
    assert at_rest.lowest_rate == exactly(10 / hold)
    assert at_rest.lowest_rate > 1200.0
    assert rk.analysis.self_direction(c30(115200.0, hold)).at("converter").largest_rate == np.inf
    assert printed(12) == 1.04 * MILLI * 115200 / 10
    found = [each for each in rk.check(c30(115200.0, hold)).findings if each.rule == "handover.marks-left-to-bias"]
    assert [each.verdict for each in found] == ["pass"]


# --- C33: a reply that comes too early, behind a stray 00 (repo Modbus-STM32-HAL-FreeRTOS #21)


@pytest.mark.parametrize(("rate", "bits"), [(9600, 1.6), (19200, 3.3), (38400, 6.5), (115200, 19.6)])
def test_c33_gap_in_bits(rate, bits):
    """170 us [read] in bits [derived]."""
    assert 170 * MICRO * rate == printed(bits, last=0.1)


@pytest.mark.parametrize("bits", [8.55, 9.0, 9.45])
def test_c33_stray_00_is_a_pair_low_for_about_nine_bits(bits):
    assert logged(pulse(bits)) == ["00"]


def test_c33_back_from_the_bytes():
    """A stray 00 before the reply: the pair low for 8.5 to 9.5 bits, and at mark again [derived]."""
    found = [each for each in rk.formulas.byte_faults((0x01, 0x03), (0x00, 0x01, 0x03)) if not each.framing_error]
    assert [each.fault for each in found] == ["stray space"]
    assert (found[0].shortest, found[0].longest) == pytest.approx((8.5, 9.5), abs=1 / 16)


# --- C34: one FF after each packet (edaboard.com t/324206)

TABLE = {
    0xFF: 0.5, 0xFE: 1.5, 0xFC: 2.5, 0xF8: 3.5, 0xF0: 4.5, 0xE0: 5.5, 0xC0: 6.5, 0x80: 7.5, 0x00: 8.5,
}  # fmt: skip


@pytest.mark.parametrize("value", TABLE)
def test_c34_table_of_low_pulses_both_ways(value):
    """FF 0.5-1.5, FE -2.5, ... 00 -9.5 bits [derived]: from the byte to the pulse, and from the pulse to the byte."""
    least = TABLE[value]
    assert stray_byte_pulse(value) == (least, least + 1.0)
    for bits in (least + 0.05, least + 0.5, least + 0.95):
        assert logged(pulse(bits)) == [f"{value:02x}"]


def test_c34_ff_at_9600_is_52_to_156_microseconds():
    shortest, longest = stray_byte_pulse(0xFF)
    assert shortest / 9600 / MICRO == printed(52)
    assert longest / 9600 / MICRO == printed(156)


def test_c34_release_of_a_biased_pair_makes_no_such_pulse():
    """The cause is the order of data and enable, not cable or bias [derived]: the pair itself is at mark throughout."""
    bus = c30(9600.0, 1 * MILLI)
    lone = attrs.evolve(bus, nodes=tuple(attrs.evolve(node, direction="program", one_shot_hold=None) for node in bus.nodes))
    tails = rk.analysis.idle_tails(lone)
    assert np.nanmax(tails.from_mark) < 52 * MICRO
