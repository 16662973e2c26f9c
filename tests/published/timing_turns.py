"""Recipes of timing.toml: turnaround, holds, cables, echoes and shared access."""

from recipe_tools import MICRO, MILLI, NANO, Recipes

from rs485kit import formulas as f

RECIPES = Recipes()


def _delay(given):
    """Return the delay of the cable of a check, one way [s]."""
    return f.line_delay(given["cable_m"], 1.0 / (given["delay_ns_per_m"] * NANO))


# Drivers that direct themselves


@RECIPES.serves("sd-one-shot-character-times")
def hold_times(given):
    time = f.frame_time(1, given["baud_bps"], character_bits=given["character_bits"])
    return {"hold_ms": time / MILLI}


@RECIPES.serves("sd-one-shot-rc")
def one_shots(given):
    resistances = [1e3 * each for each in given["resistor_kohm"]]
    held = f.one_shot_hold(resistances, given["capacitor_uf"] * MICRO)
    # what the product is for: one character of ten bits, which it meets within 8 %
    assert (abs(held * given["baud_bps"] / 10.0 - 1.0) < 0.085).all()
    return {"rc_ms": held / MILLI}


@RECIPES.serves("sd-one-shot-printed-rate-slip")
def printed_rate(given):
    bits = given["character_bits"]
    return {
        "printed_hold_ms": f.frame_time(1, given["printed_baud_bps"], character_bits=bits) / MILLI,
        "hold_57600_ms": f.frame_time(1, 57600, character_bits=bits) / MILLI,
        "rc_ms": f.one_shot_hold(1e3 * given["resistor_kohm"], given["capacitor_uf"] * MICRO) / MILLI,
    }


@RECIPES.serves("sd-one-shot-vs-11-bit-character")
def run_of_marks(given):
    rate = given["baud_bps"]
    run = given["mark_bits_after_start"] * f.bit_time(rate)
    margin = given["rc_ms"] * MILLI - run
    return {"mark_run_ms": run / MILLI, "margin_ms": margin / MILLI, "margin_bits": margin * rate}


@RECIPES.serves("auto-direction-hold-bits")
def held_bits(given):
    return {"hold_bits": f.bit_share([each * MICRO for each in given["hold_us"]], given["baud_bps"])}


@RECIPES.serves("auto-direction-passive-share")
def passive_share(given):
    return {"passive_share": f.passive_mark_share(given["baud_bps"], given["hold_us"] * MICRO)}


@RECIPES.serves("bias-recovery-time-constant")
def recovery(given):
    source = f.parallel_resistance(given["termination_parallel_ohm"], 2.0 * given["bias_each_ohm"])
    tau = f.time_constant(source, given["bus_capacitance_nf"] * NANO)
    return {"source_ohm": source, "tau_ns": tau / NANO, "rise_10_90_ns": f.single_pole_rise_time(tau) / NANO}


@RECIPES.serves("bias-recovery-unterminated")
def slow_recovery(given):
    source = 2.0 * given["bias_each_ohm"]
    tau = f.time_constant(source, given["bus_capacitance_nf"] * NANO)
    return {"source_ohm": source, "tau_us": tau / MICRO, "rise_10_90_us": f.single_pole_rise_time(tau) / MICRO}


# Turnaround and cable


@RECIPES.serves("turnaround-min-reply-delay")
def least_reply(given):
    parts = (given[f"{name}_ns"] * NANO for name in ("disable", "driver", "receiver", "enable"))
    least = f.least_reply_delay(given["hold_us"] * MICRO, *parts)
    return {"min_reply_us": [least / MICRO for _ in given["cable_m"]]}


@RECIPES.serves("turnaround-earliest-answer-at-master")
def earliest_answer(given):
    delay, driver, receiver = _delay(given), given["driver_ns"] * NANO, given["receiver_ns"] * NANO
    answer = f.answer_arrival_time(delay, given["reply_delay_us"] * MICRO, driver, receiver)
    return {"round_trip_us": 2.0 * delay / MICRO, "answer_us": answer / MICRO}


@RECIPES.serves("cable-delay-vs-velocity")
def delay_per_metre(given):
    return {"delay_ns_per_m": f.line_delay(1.0, f.propagation_velocity(given["velocity_factor"])) / NANO}


@RECIPES.serves("cable-delay-per-foot")
def delay_per_foot(given):
    return {"delay_ns_per_m": f.line_delay(1.0, 0.3048 / (given["delay_ns_per_ft"] * NANO)) / NANO}


@RECIPES.serves(
    *(f"cable-round-trip-{form}" for form in ("1200m-9600", "1200m-115200", "100m-12000000", "40m-9600", "300m-250000"))
)
def round_trips(given):
    delay = _delay(given)
    return {
        "one_way_us": delay / MICRO,
        "round_trip_us": 2.0 * delay / MICRO,
        "round_trip_bits": f.bit_share(2.0 * delay, given["baud_bps"]),
    }


@RECIPES.serves("profibus-cable-delay-12m")
def fast_round_trip(given):
    there = f.bit_share(_delay(given), given["baud_bps"])
    return {"one_way_bits": there, "round_trip_bits": 2.0 * there}


@RECIPES.serves("clocked-link-cable-length")
def clocked_lengths(given):
    clocks = [1e3 * each for each in given["clock_khz"]]
    return {
        f"length_{cable}_m": f.clocked_link_length(clocks, given[f"speed_{cable}_m_per_s"]) for cable in ("a", "b", "c")
    }


@RECIPES.serves("clocked-link-uncompensated-150m")
def highest_clock(given):
    # the form is its own inverse in clock and length
    clock = f.clocked_link_length(given["cable_m"], 1.0 / (given["delay_ns_per_m"] * NANO))
    return {"clock_max_khz": clock / 1e3}


# Shared access and echoes


@RECIPES.serves("j1708-access-time")
def priorities(given):
    rate, idle = given["baud_bps"], given["idle_bits"]
    time = f.stepped_access_time(rate, given["priority"], first_bits=idle, step_bits=2)
    return {"access_bits": time * rate, "access_ms": time / MILLI}


@RECIPES.serves("j1708-idle-without-stop-detection")
def idle_highs(given):
    return {"time_ms": given["highs_bits"] * f.bit_time(given["baud_bps"]) / MILLI}


@RECIPES.serves("j1708-recheck-window")
def recheck(given):
    return {"window_us": 0.5 * f.bit_time(given["baud_bps"]) / MICRO}


@RECIPES.serves("j1708-cable-share-of-recheck")
def share_of_recheck(given):
    delay = _delay(given)
    return {"one_way_us": delay / MICRO, "share_of_window": 2.0 * f.bit_share(delay, given["baud_bps"])}


@RECIPES.serves("pnet-virtual-token", "pnet-step-published")
def virtual_token(given):
    rate, step = given["baud_bps"], given["step_bits"]

    def access(position, first):
        return f.stepped_access_time(rate, position, first_bits=first, step_bits=step)

    found = {"step_us": (access(1, 0) - access(0, 0)) / MICRO}
    if "masters" in given:
        first = given["first_bits"]
        found |= {"first_us": access(0, first) / MICRO}
        found |= {"full_round_idle_bits": access(given["masters"] - 1, first) * rate}
    return found


@RECIPES.serves("osdp-gap-9600", "osdp-gap-115200")
def two_characters(given):
    gap = f.frame_time(given["gap_chars"], given["baud_bps"], character_bits=given["character_bits"])
    return {"gap_us": gap / MICRO}


@RECIPES.serves(*(f"bitwise-arbitration-length-{rate}" for rate in ("9600", "125k", "1m")))
def arbitration(given):
    length = f.arbitration_length(
        given["baud_bps"], 1.0 / (given["delay_ns_per_m"] * NANO), given["loop_delay_ns"] * NANO,
        sample_point=given["sample_point_ratio"],
    )  # fmt: skip
    return {"length_max_m": length}


@RECIPES.serves(*(f"echo-verify-latency-{rate}" for rate in (9600, 115200, 1000000)))
def echoes(given):
    time = f.echo_time(given["baud_bps"], given["loop_delay_ns"] * NANO, character_bits=given["frame_bits"])
    return {"latency_us": time / MICRO}


@RECIPES.serves("echo-verify-far-collision")
def far_collision(given):
    hidden = 2.0 * _delay(given)
    return {"hidden_us": hidden / MICRO, "hidden_bits": f.bit_share(hidden, given["baud_bps"])}


@RECIPES.serves("rdm-inline-bit-distortion")
def inline_limit(given):
    limit = 75.0 * NANO
    return {"limit_ns": limit / NANO, "limit_pct": 100.0 * f.bit_share(limit, 1.0 / (given["bit_us"] * MICRO))}
