"""Recipes of timing.toml: characters, samples, clocks, thresholds, edges and skews."""

from recipe_tools import MICRO, MILLI, NANO, Recipes, hold

from rs485kit import formulas as f

RECIPES = Recipes()
PER_CENT = 100.0


# Samples and clocks


@RECIPES.serves(
    "uart-receive-margin-ideal-16x", "uart-receive-margin-8n1-2pct", "uart-receive-margin-8e1-2pct",
    "uart-receive-margin-8e1-1pct-duty60",
)  # fmt: skip
def receive_margin(given):
    margin = f.receive_margin(
        given["oversampling_n"], given.get("frame_bits", 10),
        clock_error=given["clock_error_ratio"], clock_duty=given["clock_duty_ratio"],
    )  # fmt: skip
    return {"margin_pct": PER_CENT * margin}


@RECIPES.serves(*(f"uart-max-clock-error-frame-{bits}" for bits in (9, 10, 11, 12)))
def clock_error(given):
    def limit(reserve):
        duty = given["clock_duty_ratio"]
        return PER_CENT * f.clock_error_limit(
            given["oversampling_n"], given["frame_bits"], clock_duty=duty, reserve=reserve
        )

    return {"max_error_pct": limit(0.0), "max_error_keep20_pct": limit(0.2), "max_error_keep30_pct": limit(0.3)}


@RECIPES.serves("uart-drift-limits-160-clocks")
def drift_limits(given):
    def limit(clocks):
        frame, count = given["frame_bits"], given["oversampling_n"]
        return PER_CENT * f.usable_clock_tolerance(clocks, frame, oversampling=count)

    return {"late_limit_pct": limit(given["late_clocks"]), "early_limit_pct": limit(given["early_clocks"])}


@RECIPES.serves(*(f"uart-slow-data-tolerance-{form}" for form in ("8bit-1stop", "9bit-1stop", "9bit-2stop")))
def slow_data(given):
    bits = given["data_bits"] + given["stop_bits"]
    hold([given["receiver_rt_clocks"], given["sender_rt_clocks"]], [16 * bits + 10, 16 * bits + 3])
    return {"tolerance_pct": PER_CENT * f.slow_data_tolerance(given["data_bits"], stop_bits=given["stop_bits"])}


@RECIPES.serves(*(f"uart-fast-data-tolerance-{form}" for form in ("8bit-1stop", "9bit-1stop")))
def fast_data(given):
    bits = given["data_bits"] + given["stop_bits"]
    hold([given["receiver_rt_clocks"], given["sender_rt_clocks"]], [16 * bits + 10, 16 * (bits + 1)])
    return {"tolerance_pct": PER_CENT * f.fast_data_tolerance(given["data_bits"], stop_bits=given["stop_bits"])}


@RECIPES.serves("uart-rslow-rfast-16x", "uart-rslow-rfast-8x")
def rate_ratios(given):
    bits, count = given["data_plus_parity_bits"], given["samples_per_bit"]
    slowest = f.slowest_rate_ratio(bits, oversampling=count, first_sample=given["first_vote_sample"])
    fastest = f.fastest_rate_ratio(bits, oversampling=count, middle_sample=given["middle_vote_sample"])
    return {"rslow_pct": PER_CENT * slowest, "rfast_pct": PER_CENT * fastest}


@RECIPES.serves(*(f"uart-tolerance-table-{form}" for form in ("16x-3sample", "16x-1sample", "8x-3sample", "8x-1sample")))
def tolerance_table(given):
    clocks, count = given["usable_clocks"], given["oversampling_n"]
    return {"tolerance_pct": PER_CENT * f.usable_clock_tolerance(clocks, given["frame_bits"], oversampling=count)}


@RECIPES.serves("uart-tolerance-must-cover")
def must_cover(given):
    return {"sum_pct": f.straight_sum(list(given.values()))}


@RECIPES.serves("uart-optimistic-half-bit-over-8")
def optimistic(given):
    bits = given["data_bits"]
    return {
        "rule_of_thumb_pct": PER_CENT * f.half_bit_clock_error(bits),
        "with_9p5_bits_and_16x_pct": PER_CENT * f.clock_error_limit(16, f.character_length(bits)),
    }


@RECIPES.serves(
    *(f"uart-window-budget-{part}-window-{bits}bit" for part in ("half", "three-quarter") for bits in (10, 11))
)
def window(given):
    limit = f.windowed_clock_error_limit(
        given["usable_window_ratio"], oversampling=given["oversampling_n"], character_bits=given["frame_bits"]
    )
    return {"max_mismatch_pct": PER_CENT * limit}


@RECIPES.serves(*(f"uart-sample-drift-{form}" for form in ("10bit-2pct", "11bit-2pct", "10bit-5pct", "12bit-1pct")))
def sample_drift(given):
    return {"drift_bit": f.sampling_drift(given["frame_bits"], given["clock_mismatch_ratio"])}


@RECIPES.serves("uart-divider-error-115200-16mhz")
def divider_errors(given):
    clock, rate = given["clock_hz"], given["baud_bps"]
    hold(f.nearest_divider(clock, rate), given["divider_16x"])
    hold(f.nearest_divider(clock, rate, oversampling=8), given["divider_8x"])
    return {
        "error_16x_pct": PER_CENT * f.divider_rate_error(clock, rate, given["divider_16x"]),
        "error_8x_pct": PER_CENT * f.divider_rate_error(clock, rate, given["divider_8x"], oversampling=8),
    }


@RECIPES.serves("uart-divider-exact-250k-16mhz")
def exact_divider(given):
    error = f.divider_rate_error(given["clock_hz"], given["baud_bps"], given["divider_16x"])
    return {"error_pct": PER_CENT * error}


@RECIPES.serves("uart-divider-921600-48mhz")
def whole_divider(given):
    rate = given["baud_bps"]
    error = f.divider_rate_error(given["clock_hz"], rate, given["divider"], oversampling=1)
    return {"actual_bps": rate * (1.0 + error), "error_pct": PER_CENT * error}


@RECIPES.serves(
    *(f"uart-clock-budget-after-asymmetry-{form}" for form in ("115200-1us", "250k-400ns", "9600-10us", "1m-100ns"))
)
def asymmetry(given):
    moved, rate = given["pulse_width_distortion_ns"] * NANO, given["baud_bps"]
    limit = f.distorted_clock_error_limit(
        rate, moved, oversampling=given["oversampling_n"], character_bits=given["frame_bits"]
    )
    return {"max_mismatch_pct": PER_CENT * limit, "distortion_bit": f.bit_share(moved, rate)}


@RECIPES.serves("ui-budget-sampling-receiver")
def reserve(given):
    mismatch = given["clock_mismatch_pct"] / PER_CENT
    return {"left_ui": f.sampling_reserve(given["oversampling_n"], given["frame_bits"], mismatch)}


# Edges and thresholds


@RECIPES.serves("uart-common-delay-cancels")
def common_delay(given):
    rising, falling, rate = given["t_plh_ns"] * NANO, given["t_phl_ns"] * NANO, given["baud_bps"]
    hold(f.margin_before_sample(rate, rising, falling), 0.5)
    loss = 1.0 - f.mark_width(rate, rising, falling) * rate
    assert abs(loss - f.bit_share(f.pulse_width_distortion(rising, falling), rate)) < 1e-12
    return {"margin_loss_bit": loss, "latency_ns": falling / NANO}


@RECIPES.serves("uart-asymmetry-one-sided")
def one_sided(given):
    rising, falling, rate = given["t_plh_ns"] * NANO, given["t_phl_ns"] * NANO, given["baud_bps"]
    mark = f.mark_width(rate, rising, falling)
    return {
        "left_margin_mark_bit": f.margin_before_sample(rate, rising, falling),
        "right_margin_mark_bit": f.margin_after_sample(rate, falling, falling),
        "mark_width_ns": mark / NANO,
        "space_width_ns": (2.0 * f.bit_time(rate) - mark) / NANO,
    }


def _moved(given):
    return f.threshold_distortion(
        given["threshold_rising_v"], given["threshold_falling_v"], given["swing_peak_v"], given["rise_10_90_ns"] * NANO
    )


@RECIPES.serves(
    *(
        f"receiver-threshold-pwd-{form}"
        for form in ("1us-edges", "fast-edges", "symmetric-hysteresis", "worst-legacy-200mv")
    )
)
def thresholds(given):
    return {"t_plh_minus_t_phl_ns": _moved(given) / NANO}


@RECIPES.serves("receiver-threshold-pwd-vs-inline-limit")
def against_inline_limit(given):
    distortion = abs(_moved(given)) / NANO
    return {"distortion_ns": distortion, "within_limit": distortion <= given["limit_ns"]}


@RECIPES.serves(*(f"rise-time-rate-{time}ns" for time in (10, 20, 30, 100, 300, 900)))
def rate_of_edge(given):
    return {"rate_max_kbps": f.highest_rate(given["transition_ns"] * NANO) / 1e3}


@RECIPES.serves("rise-time-rule-lvds-example")
def rate_of_fast_edge(given):
    rate = f.highest_rate(given["transition_ps"] * 1e-12)
    return {"unit_interval_ps": f.bit_time(rate) * 1e12, "rate_mbps": rate / 1e6}


@RECIPES.serves("rise-time-rule-matches-part")
def rate_of_part(given):
    return {"rate_mbps": f.highest_rate(given["transition_ns"] * NANO) / 1e6}


@RECIPES.serves("rise-time-5-to-10-rule")
def share_of_edge(given):
    rate = given["rate_mbps"] * 1e6
    return {"bit_ns": f.bit_time(rate) / NANO, "rise_share": f.bit_share(given["rise_ns"] * NANO, rate)}


@RECIPES.serves(*(f"data-dependent-jitter-tr-{rise}ui" for rise in ("0p3", "0p5", "1p0", "1p5")))
def pattern_jitter(given):
    rise = given["rise_10_90_ui"]
    return {"tau_ui": rise / f.single_pole_rise_time(1.0), "jitter_pp_ui": f.single_pole_jitter(rise, 1.0)}


# Skews


@RECIPES.serves("skew-chain-linear-and-rss")
def skew_chain(given):
    skews = [each * NANO for each in given["skews_ns"]]
    total = f.straight_sum(skews)
    return {
        "linear_ns": total / NANO,
        "rss_ns": f.root_sum_of_squares(skews) / NANO,
        "linear_ui": f.bit_share(total, given["baud_bps"]),
    }


@RECIPES.serves(*(f"rate-for-skew-{form}" for form in ("5ns-5pct", "5ns-10pct", "50ns-10pct", "13ns-25pct")))
def rate_for_skew(given):
    return {"rate_max_mbps": f.rate_for_skew(given["skew_ns"] * NANO, given["limit_ui"]) / 1e6}


@RECIPES.serves("isolated-field-bus-skew-share-12m")
def skew_share(given):
    rate = given["baud_bps"]
    return {
        "skew_bit": f.bit_share(given["pulse_skew_ns"] * NANO, rate),
        "enable_bit": f.bit_share(given["enable_ns"] * NANO, rate),
    }


@RECIPES.serves("isolated-field-bus-sticking-output")
def sticking(given):
    return {"stick_bits": f.bit_share(given["stick_max_us"] * MICRO, given["baud_bps"])}


@RECIPES.serves("opto-pwd-tolerable")
def tolerable(given):
    moved = given["pwd_ns"] * NANO
    return {
        "rate_at_20pct_mbps": f.rate_for_skew(moved, given["tolerable_low_ratio"]) / 1e6,
        "rate_at_30pct_mbps": f.rate_for_skew(moved, given["tolerable_high_ratio"]) / 1e6,
    }


@RECIPES.serves("opto-pwd-profibus-10pct")
def share_of_pulse(given):
    return {"pwd_pct": PER_CENT * f.bit_share(given["pwd_ns"] * NANO, 1.0 / (given["pulse_ns"] * NANO))}


@RECIPES.serves("opto-pwd-at-12m")
def share_at_twelve(given):
    rate = given["baud_bps"]
    return {
        "pwd_pct": PER_CENT * f.bit_share(given["pwd_ns"] * NANO, rate),
        "limit_ns": given["limit_pct"] / PER_CENT * f.bit_time(rate) / NANO,
    }


@RECIPES.serves("channel-skew-minimum-pulse")
def least_pulse(given):
    pulse = f.least_pulse(given["skew_ns"] * NANO)
    return {"pulse_min_ns": pulse / NANO, "rate_max_mbps": 1.0 / pulse / 1e6}


@RECIPES.serves("barrier-direction-race")
def direction_race(given):
    loss = given["enable_path_max_ns"] - given["data_path_typ_ns"]
    return {"start_edge_loss_ns": loss, "start_edge_loss_bit": f.bit_share(loss * NANO, given["baud_bps"])}


# Characters


@RECIPES.serves("uart-stop-bit-checked-mid-bit")
def mid_bit(given):
    hold(f.early_report_time(1.0), given["early_bits"])
    return {"early_us": f.early_report_time(given["baud_bps"]) / MICRO}


@RECIPES.serves("uart-two-stop-first-only")
def two_stops(given):
    bits = given["data_bits"]
    slack = f.character_length(bits, stop_bits=given["stop_bits"]) - f.character_length(bits)
    return {"sampled_bits_from_start_edge": f.last_sample_position(bits), "slack_bits": slack}


@RECIPES.serves("uart-fifo-interrupt-release")
def lost_character(given):
    return {"lost_us": f.frame_time(1, given["baud_bps"], character_bits=given["frame_bits"]) / MICRO}


@RECIPES.serves("soc-uart-direction-guard")
def guard(given):
    return {"guard_us": given["guard_bits"] * f.bit_time(given["baud_bps"]) / MICRO}


@RECIPES.serves("kernel-direction-delay-granularity")
def granularity(given):
    return {"delay_bits": f.bit_share(given["delay_ms"] * MILLI, given["baud_bps"])}


@RECIPES.serves("ms-granular-silence-timer")
def ticks(given):
    shortest = f.shortest_counted_time(given["count"], given["tick_ms"] * MILLI)
    longest = f.shortest_counted_time(given["count"] + 1, given["tick_ms"] * MILLI)
    return {"true_min_ms": shortest / MILLI, "true_max_ms": longest / MILLI}
