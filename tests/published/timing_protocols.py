"""Recipes of timing.toml: Modbus, MS/TP, the lighting buses and PROFIBUS DP."""

import numpy as np
from recipe_tools import MICRO, MILLI, NANO, Recipes, hold

from rs485kit import formulas as f

RECIPES = Recipes()
RTU_BITS, ASCII_BITS = 11, 10
# what the source of the poll cycle takes for the bus of which one device is dead
POLL = {"request": 8, "reply": 25, "reply_delay": 30e-3}


# Modbus over serial line


@RECIPES.serves("modbus-rtu-character-bits")
def rtu_bits(given):
    return {
        "bits_with_parity": f.character_length(given["data_bits"], parity_bits=1),
        "bits_no_parity_two_stop": f.character_length(given["data_bits"], stop_bits=2),
    }


@RECIPES.serves("modbus-ascii-character-bits")
def ascii_bits(given):
    return {"bits_per_character": f.character_length(given["data_bits"], parity_bits=1)}


@RECIPES.serves("modbus-ascii-7n2-length")
def two_stop_bits(given):
    return {"bits_per_character": f.character_length(given["data_bits"], stop_bits=given["stop_bits"])}


@RECIPES.serves(*(f"modbus-gaps-{rate}" for rate in (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)))
def silences(given):
    rate, bits = given["baud_bps"], given["character_bits"]
    return {
        "t_char_us": f.frame_time(1, rate, character_bits=bits) / MICRO,
        "t1_5_us": f.rtu_character_gap(rate, character_bits=bits) / MICRO,
        "t3_5_us": f.rtu_frame_gap(rate, character_bits=bits) / MICRO,
    }


@RECIPES.serves(*(f"modbus-character-time-published-{rate}" for rate in (115200, 38400, 19200, 9600)))
def character_times(given):
    rate = given["baud_bps"]
    return {
        "t_char_11_ms": f.frame_time(1, rate, character_bits=11) / MILLI,
        "t_char_10_ms": f.frame_time(1, rate, character_bits=10) / MILLI,
    }


@RECIPES.serves("modbus-wrong-10-bit-gap-9600")
def wrong_gap(given):
    rate = given["baud_bps"]
    return {
        "t3_5_10bit_ms": f.rtu_frame_gap(rate, character_bits=10) / MILLI,
        "t3_5_11bit_ms": f.rtu_frame_gap(rate) / MILLI,
    }


@RECIPES.serves("modbus-fixed-gaps-equivalent-rate")
def equivalent_rate(given):
    bits = given["character_bits"]
    rate = f.silence_rate(1.5, given["t1_5_us"] * MICRO, character_bits=bits)
    np.testing.assert_allclose(f.silence_rate(3.5, given["t3_5_us"] * MICRO, character_bits=bits), rate, rtol=1e-12)
    return {
        "equivalent_baud_bps": rate,
        "t3_5_at_19200_us": f.rtu_frame_gap(19200, character_bits=bits) / MICRO,
        "t3_5_scaled_at_38400_us": f.frame_time(3.5, 38400, character_bits=bits) / MICRO,
    }


@RECIPES.serves("modbus-frame-sizes")
def frame_sizes(given):
    count = given["data_bytes_max"]
    return {"rtu_max_bytes": f.rtu_frame_characters(count), "ascii_max_chars": f.ascii_frame_characters(count)}


@RECIPES.serves(*(f"modbus-frame-length-data-{count}" for count in (0, 1, 4, 252)))
def frame_lengths(given):
    count = given["data_bytes"]
    return {"rtu_bytes": f.rtu_frame_characters(count), "ascii_chars": f.ascii_frame_characters(count)}


@RECIPES.serves("modbus-request-ascii-vs-rtu-bits")
def request_bits(given):
    text, binary = f.ascii_frame_characters(given["data_bytes"]), f.rtu_frame_characters(given["data_bytes"])
    return {
        "ascii_chars": text,
        "ascii_bits": text * f.character_length(7, parity_bits=1),
        "rtu_bytes": binary,
        "rtu_bits_11": binary * f.character_length(8, parity_bits=1),
        "rtu_bits_as_published_10": binary * f.character_length(8),
    }


def _text_and_binary(given):
    rate, count = given["baud_bps"], given["data_bytes"]
    text = f.frame_time(f.ascii_frame_characters(count), rate, character_bits=ASCII_BITS)
    binary = f.frame_time(f.rtu_frame_characters(count), rate, character_bits=RTU_BITS)
    return text / MILLI, binary / MILLI, (binary + f.rtu_frame_gap(rate)) / MILLI


@RECIPES.serves("modbus-ascii-faster-short-115200")
def short_frames(given):
    return dict(zip(("ascii_ms", "rtu_frame_ms", "rtu_with_gap_ms"), _text_and_binary(given), strict=True))


@RECIPES.serves("modbus-longest-frame-115200")
def long_frames(given):
    text, _, binary = _text_and_binary(given)
    return {"ascii_ms": text, "rtu_with_gap_ms": binary}


@RECIPES.serves("modbus-transaction-9600-published", "modbus-transaction-9600-corrected")
def transaction(given):
    rate, request, reply = given["baud_bps"], given["request_bytes"], given["reply_bytes"]
    one, gap = f.frame_time(1, rate, character_bits=RTU_BITS), f.rtu_frame_gap(rate)
    return {
        "request_ms": request * one / MILLI,
        "gap_ms": gap / MILLI,
        "reply_ms": reply * one / MILLI,
        "total_ms": f.poll_time(request, reply, one, reply_delay=gap) / MILLI,
    }


@RECIPES.serves("modbus-controller-reply-times")
def reply_times(given):
    time = f.frame_time(given["reply_chars"], given["baud_bps"], character_bits=given["character_bits"])
    return {"reply_ms": time / MILLI}


@RECIPES.serves("modbus-controller-request-times-slip")
def request_times(given):
    eight, eleven = (
        f.frame_time(count, given["baud_bps"], character_bits=given["character_bits"]) / MILLI for count in (8.5, 11.5)
    )
    return {"published_request_ms": eight, "from_8p5_chars_ms": eight, "from_11p5_chars_ms": eleven}


@RECIPES.serves("modbus-poll-cycle-32-slaves-9600")
def poll_cycle(given):
    rate = given["baud_bps"]
    one = f.poll_time(
        given["request_bytes"], given["reply_bytes"], f.frame_time(1, rate, character_bits=RTU_BITS),
        reply_delay=given["slave_delay_ms"] * MILLI, silence=f.rtu_frame_gap(rate),
    )  # fmt: skip
    return {"transaction_ms": one / MILLI, "cycle_ms": given["slaves"] * one / MILLI}


@RECIPES.serves("modbus-poll-cycle-one-dead-slave")
def dead_device(given):
    rate, dead = given["baud_bps"], given["dead_slaves"]
    character = f.frame_time(1, rate, character_bits=RTU_BITS)
    alive = f.poll_time(character_time=character, silence=f.rtu_frame_gap(rate), **POLL)
    silent = f.poll_time(POLL["request"], 0, character, reply_delay=given["response_timeout_ms"] * MILLI)
    return {"cycle_ms": ((given["slaves"] - dead) * alive + dead * silent) / MILLI}


@RECIPES.serves("modbus-converter-hold-conflict")
def hold_conflict(given):
    rate = given["baud_bps"]
    reply, held = (f.frame_time(given[key], rate, character_bits=RTU_BITS) for key in ("reply_delay_chars", "hold_chars"))
    return {"margin_us": (reply - held) / MICRO}


@RECIPES.serves("modbus-converter-hold-38400")
def hold_of_fixed_gap(given):
    held = f.frame_time(given["hold_chars"], given["baud_bps"], character_bits=RTU_BITS)
    return {"margin_us": given["t3_5_us"] - held / MICRO}


@RECIPES.serves("modbus-integer-ms-rounding-9600")
def rounded_gap(given):
    exact = f.rtu_frame_gap(given["baud_bps"])
    return {"exact_ms": exact / MILLI, "rounded_ms": f.ticked_time(exact, MILLI) / MILLI}


@RECIPES.serves("modbus-8n1-nine-bit-slip")
def nine_bits(given):
    rate = given["baud_bps"]
    return {
        "printed_ms": f.frame_time(1, rate, character_bits=f.character_length(8) - 1) / MILLI,
        "true_ms": f.frame_time(1, rate, character_bits=f.character_length(8)) / MILLI,
    }


# MS/TP

TURNAROUND, POSTDRIVE, GAP, ABORT = 40, 15, 20, 60


@RECIPES.serves(*(f"mstp-tturnaround-{rate}" for rate in (9600, 19200, 38400, 57600, 76800, 115200)))
def bit_counts(given):
    bit = f.bit_time(given["baud_bps"]) / MILLI
    return {
        "tturnaround_min_ms": TURNAROUND * bit,
        "tpostdrive_max_ms": POSTDRIVE * bit,
        "tframe_gap_max_ms": GAP * bit,
        "tframe_abort_min_ms": ABORT * bit,
    }


@RECIPES.serves("mstp-tturnaround-published")
def printed_turnaround(given):
    return {"tturnaround_ms": TURNAROUND * f.bit_time(given["baud_bps"]) / MILLI}


@RECIPES.serves("mstp-release-guard")
def release_guard(given):
    bits = given["tturnaround_bits"] - given["tpostdrive_bits"]
    return {"guard_bits": bits, "guard_us": bits * f.bit_time(given["baud_bps"]) / MICRO}


@RECIPES.serves("mstp-token-pass-38400")
def token_pass(given):
    octets, rate, masters = given["token_octets"], given["baud_bps"], given["masters"]
    fastest = f.token_pass_time(octets, rate, TURNAROUND * f.bit_time(rate)) / MILLI
    slowest = f.token_pass_time(octets, rate, 15 * MILLI) / MILLI
    return {
        "token_ms": f.frame_time(octets, rate) / MILLI,
        "fastest_pass_ms": fastest,
        "fastest_rotation_ms": masters * fastest,
        "slowest_pass_ms": slowest,
        "slowest_rotation_ms": masters * slowest,
    }


@RECIPES.serves(*(f"mstp-token-generation-slot-{station}" for station in (0, 5, 127)))
def token_generation(given):
    earliest = f.token_generation_time(given["station"]) / MILLI
    return {"earliest_ms": earliest, "latest_ms": earliest + 10.0}


@RECIPES.serves(*(f"mstp-longest-classic-frame-{rate}" for rate in (9600, 38400, 76800)))
def longest_frame(given):
    time = f.frame_time(given["octets"], given["baud_bps"], character_bits=given["character_bits"])
    return {"frame_ms": time / MILLI}


@RECIPES.serves("mstp-reply-window")
def reply_window(given):
    return {"slack_ms": given["treply_timeout_ms"] - given["treply_delay_ms"]}


# DMX512 and RDM


@RECIPES.serves("dmx-slot-time")
def slot_time(given):
    rate = given["baud_bps"]
    slot = f.frame_time(1, rate, character_bits=given["slot_bits"])
    return {"bit_us": f.bit_time(rate) / MICRO, "slot_us": slot / MICRO}


@RECIPES.serves(
    "dmx-full-packet-1990", "dmx-short-packet-1990", "dmx-full-packet-e111", "dmx-24-slot-packet-equals-minimum"
)
def packets(given):
    time = f.dmx_packet_time(
        given["data_slots"], break_time=given["break_us"] * MICRO, mark_after_break=given["mark_after_break_us"] * MICRO
    )
    return {"packet_us": time / MICRO, "refresh_hz": 1.0 / time}


@RECIPES.serves("dmx-retimed-packet")
def retimed_packet(given):
    time = f.dmx_packet_time(
        given["data_slots"], break_time=given["break_us"] * MICRO,
        mark_after_break=given["mark_after_break_us"] * MICRO, slot_gap=given["interslot_us"] * MICRO,
        mark_before_break=given["mark_before_break_us"] * MICRO,
    )  # fmt: skip
    return {"packet_ms": time / MILLI}


@RECIPES.serves("dmx-rate-window")
def rate_window(given):
    low, high = given["baud_min_bps"], given["baud_max_bps"]
    return {
        "bit_max_us": f.bit_time(low) / MICRO,
        "bit_min_us": f.bit_time(high) / MICRO,
        "tolerance_pct": 100.0 * (high - low) / (high + low),
    }


@RECIPES.serves("rdm-inline-devices-linear-distortion")
def inline_devices(given):
    total = f.straight_sum([given["per_device_ns"] * NANO] * given["devices"])
    return {"total_ns": total / NANO, "total_pct": 100.0 * f.bit_share(total, 1.0 / (given["bit_us"] * MICRO))}


# PROFIBUS DP


@RECIPES.serves("profibus-bit-times")
def bit_times(given):
    rates = given["baud_bps"]
    return {
        "tbit_ns": f.bit_time(rates) / NANO,
        "tchar_us": f.frame_time(1, rates, character_bits=RTU_BITS) / MICRO,
    }


@RECIPES.serves("profibus-tsyn")
def synchronisation(given):
    return {"tsyn_us": given["tsyn_bits"] * f.bit_time(given["baud_bps"]) / MICRO}


@RECIPES.serves("profibus-idle-times", "profibus-idle-times-exported-1500k")
def exported_idle_times(given):
    quiet, setup = given["tqui_bits"], given["tset_bits"]
    return {
        "tid1_bits": f.profibus_idle_bits(quiet, setup, given["min_tsdr_bits"]),
        "tid2_bits": f.profibus_idle_bits(quiet, setup, given["max_tsdr_bits"]),
    }


@RECIPES.serves("profibus-parameter-bounds")
def parameter_bounds(given):
    return {
        "max_tsdr_lower_bits": f.profibus_idle_bits(given["tqui_bits"], given["tset_bits"], 0),
        "tsl_lower_bits": f.profibus_least_slot_bits(given["max_tsdr_bits"]),
    }


@RECIPES.serves("profibus-cycle-estimate-20-slaves")
def cycle_estimate(given):
    return {"cycle_us": f.profibus_cycle_time(given["slaves"], given["bytes"], given["baud_bps"]) / MICRO}


@RECIPES.serves("profibus-minimum-rate-for-1ms")
def minimum_rate(given):
    devices, count = given["slaves"], given["bytes"]
    return {
        "min_baud_mbps": f.profibus_rate_for_cycle(devices, count, given["cycle_us"] * MICRO) / 1e6,
        "cycle_at_3m_us": f.profibus_cycle_time(devices, count, 3e6) / MICRO,
    }


@RECIPES.serves("profibus-512-bits-32-stations")
def many_stations(given):
    cycle = f.profibus_cycle_time(given["slaves"], given["bytes"], given["baud_bps"]) / MILLI
    return {"published_cycle_ms": cycle, "estimated_cycle_ms": cycle}


@RECIPES.serves("profibus-message-cycle-12m")
def message_cycle(given):
    rate = given["baud_bps"]
    cable = f.bit_share(given["cable_m"] * given["delay_ns_per_m"] * NANO, rate)
    bits = f.profibus_message_bits(
        given["bytes_out"], given["bytes_in"], given["tsdr_bits"], given["tid1_bits"], cable_bits=cable
    )
    return {"cycle_bits": bits, "cycle_us": bits * f.bit_time(rate) / MICRO}


@RECIPES.serves("profibus-cable-delay-bits-per-km")
def cable_bits(given):
    return {"bits_per_km": f.bit_share(f.line_delay(1e3, 2e8), given["baud_bps"])}


@RECIPES.serves("profibus-infrared-link-delay")
def infrared_link(given):
    def delay(pairs):
        return f.bit_clocked_delay_bits(given["receive_bits"], given["send_bits"], pairs)

    return {"per_pair_bits": delay(1), "total_bits": delay(given["pairs"])}


@RECIPES.serves("profibus-slot-time-optical-ring")
def optical_ring(given):
    modules, length = given["modules"], given["ring_km"]
    slot = f.profibus_ring_slot_bits(modules, 1e3 * length)
    hold(given["constant_bits"] + given["per_module_bits"] * modules + given["per_km_bits"] * length, slot)
    return {"slot_time_bits": slot}


@RECIPES.serves("profibus-slot-time-retune-share")
def retuned_slot(given):
    there = f.bit_share(given["cable_m"] * given["delay_ns_per_m"] * NANO, given["baud_bps"])
    slack = given["tsl_bits"] - given["max_tsdr_bits"]
    return {"round_trip_bits": 2.0 * there, "slack_bits": slack, "slack_after_cable_bits": slack - 2.0 * there}
