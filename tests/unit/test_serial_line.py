"""Characters on a line and back: bad input first."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rs485kit import InputError
from rs485kit.formulas import byte_faults, faulty_bytes, read_levels, received_bytes, sent_bits, stray_byte_pulse

FRAMES = st.builds("{}{}{}".format, st.integers(5, 9), st.sampled_from("NEOMS"), st.integers(1, 2))


@pytest.mark.parametrize("frame", ["", "8N", "4N1", "8X1", "8N3", "8n1", 8, None, "8N1 "])
def test_a_frame_that_is_none_is_refused(frame):
    with pytest.raises(InputError, match="frame"):
        sent_bits([0], frame=frame)
    with pytest.raises(InputError, match="frame"):
        stray_byte_pulse(0, frame=frame)


@pytest.mark.parametrize("values", ["ab", 7, None, [256], [-1], [1.0], [True], [None], range(20000)])
def test_characters_that_do_not_fit_are_refused(values):
    with pytest.raises(InputError, match=r"sent_bits\.values"):
        sent_bits(values)


@pytest.mark.parametrize(
    ("voltage", "limits", "named"),
    [
        ([], {}, "voltage"), ([[1.0]], {}, "voltage"), ([np.nan], {}, "voltage"), ("1 V", {}, "voltage"),
        ([1.0], {"upper": np.nan}, "upper"), ([1.0], {"lower": None}, "lower"), ([1.0], {"upper": -1.0}, "upper"),
    ],
)  # fmt: skip
def test_voltages_and_thresholds_that_are_none_are_refused(voltage, limits, named):
    with pytest.raises(InputError, match=rf"read_levels\.{named}"):
        read_levels(voltage, **{"upper": 0.2, "lower": -0.2, **limits})


@pytest.mark.parametrize("levels", [[], [1, 0], [[True]], np.ones(4)])
def test_levels_that_are_none_are_refused(levels):
    with pytest.raises(InputError, match=r"received_bytes\.levels"):
        received_bytes(levels, samples_per_bit=16)


@pytest.mark.parametrize("samples", [0, 3.9, -16, np.nan, "16", None])
def test_too_few_samples_in_a_bit_are_refused(samples):
    with pytest.raises(InputError, match="samples_per_bit"):
        received_bytes([True], samples_per_bit=samples)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ({"fault": "broken"}, "fault"), ({"fault": None}, "fault"), ({"duration": -1.0}, "duration"),
        ({"duration": np.nan}, "duration"), ({"duration": 1e3}, "duration"), ({"duration": True}, "duration"),
    ],
)  # fmt: skip
def test_faults_that_are_none_are_refused(arguments, named):
    with pytest.raises(InputError, match=rf"faulty_bytes\.{named}"):
        faulty_bytes([0], **{"fault": "none", **arguments})


def test_more_logged_bytes_than_anybody_compares_are_refused():
    with pytest.raises(InputError, match=r"byte_faults\.logged"):
        byte_faults([0], [0] * 65)


@given(frame=FRAMES, values=st.lists(st.integers(0, 31), min_size=1, max_size=12), samples=st.integers(4, 40))
def test_what_is_sent_is_received(frame, values, samples):
    levels = np.repeat([True, *sent_bits(values, frame=frame)], samples)
    found = received_bytes(levels, samples_per_bit=samples, frame=frame)
    assert [byte.value for byte in found] == values
    assert not any(byte.framing_error or byte.parity_error for byte in found)


@given(values=st.lists(st.integers(0, 255), min_size=1, max_size=4))
def test_what_arrives_unchanged_needs_no_fault(values):
    assert byte_faults(values, values)[0].fault == "none"


@pytest.mark.parametrize("fault", ["mark held", "space held", "idle low", "stray space", "pair reversed"])
@pytest.mark.parametrize("duration", [1.0, 6.0, 9.0, 13.0])
def test_a_fault_is_found_again_from_what_it_made(fault, duration):
    made = faulty_bytes([0x15, 0x04, 0xC3], fault, duration=duration)
    logged = [byte.value for byte in made if not byte.framing_error]
    found = byte_faults([0x15, 0x04, 0xC3], logged)
    lasting = fault != "pair reversed"
    assert any(each.fault == fault and (not lasting or each.shortest <= duration <= each.longest) for each in found)


def test_a_wrong_parity_is_told():
    bits = list(sent_bits([0x15], frame="8E1"))
    bits[9] = not bits[9]
    found = received_bytes(np.repeat([True, *bits], 16), samples_per_bit=16, frame="8E1")
    assert [(byte.value, byte.parity_error) for byte in found] == [(0x15, True)]


def test_a_comparator_keeps_what_it_read_between_its_thresholds():
    assert read_levels([0.0, 0.3, 0.0, -0.3, 0.0], upper=0.2, lower=-0.2, initial=False).tolist() == [
        False, True, True, False, False
    ]  # fmt: skip
