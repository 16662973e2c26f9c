"""Recipes of line.toml: rate, length, jitter, waves in time, and a tap under a sine."""

import numpy as np
from line_waves import (
    crossing_jitter,
    driven,
    node_impedance,
    parallel,
    pseudorandom_bits,
    reached,
    skin_constants,
    uniform,
)
from recipe_tools import KILO, MILLI, NANO, PICO, Recipes

from rs485kit import formulas as f

RECIPES = Recipes()
NEPER = 20.0 / np.log(10.0)


# Rate and length


@RECIPES.serves("rise-time-share-of-bit")
def rate_of_an_edge(given):
    return {"rate_bps": f.highest_rate(np.asarray(given["rise_ns"]) * NANO)}


@RECIPES.serves("tia422-loss-consistency")
def loss_over_length(given):
    loop = f.loop_resistance(0.5 * given["loop_r_ohm_per_km"] / KILO, given["length_m"])
    return {"loss": 1.0 - f.level_ratio(given["r_load_ohm"], loop)}


@RECIPES.serves("half-voltage-length")
def half_voltage(given):
    load, conductor = given["r_load_ohm"], 0.5 * given["loop_r_ohm_per_km"] / KILO
    return {
        "length_m": f.half_level_length(load, conductor),
        "loss_db_at_1200m": f.level_loss(load, f.loop_resistance(conductor, given["cable_m"])),
    }


@RECIPES.serves("rate-length-product")
def constant_product(given):
    return {"length_m": f.length_by_product(given["rate_bps"])}


@RECIPES.serves("jitter-length-20mbps")
def length_for_jitter(given):
    point = given["first_length_m"], given["first_jitter_percent"] / 100.0
    return {"length_m": f.jitter_length(*point, given["jitter_percent"] / 100.0)}


@RECIPES.serves("jitter-length-scaling")
def jitter_power(given):
    low, high = given["first_jitter_percent"] / 100.0, given["second_jitter_percent"] / 100.0
    return {"exponent": f.jitter_exponent(given["first_length_m"], low, given["second_length_m"], high)}


# Edges in closed form


@RECIPES.serves("skin-effect-erfc-law")
def skin_effect_law(given):
    low, half, high = f.skin_effect_delay(given["shares"], 1.0)
    return {"t10_tau": low, "t50_tau": half, "t90_tau": high, "rise_10_90_over_t50": (high - low) / half}


@RECIPES.serves("skin-effect-tau")
def skin_effect_scale(given):
    scale = f.skin_effect_time(given["k_np_per_m_sqrt_hz"] * NEPER, 1.0, given["length_m"])
    return {"tau_ns": scale / NANO, "t50_ns": f.skin_effect_delay(0.5, scale) / NANO}


@RECIPES.serves("distributed-rc-open-end")
def open_rc_line(given):
    low, half, high = f.open_rc_line_delay(given["shares"], 1.0, 1.0)
    return {"t10_rc": low, "t50_rc": half, "t90_rc": high, "rise_10_90_rc": high - low}


# One line in time


def _constants(given):
    return [given[key] for key in ("r_ohm_per_m", "l_h_per_m", "g_s_per_m", "c_f_per_m")]


def _ends(given):
    return {"source": given["r_source_ohm"], "load": given["r_load_ohm"]}


@RECIPES.serves("step-rlc-100m", "step-rlgc-100m")
def constant_line(given):
    def transfer(frequency):
        return uniform(frequency, *_constants(given), length=given["length_m"], **_ends(given))

    times, ramp = np.asarray(given["t_ns"]) * NANO, given["ramp_ns"] * NANO
    return {"v_load_v": given["v_source_v"] * driven(transfer, times, ramp, period=40e-6, highest=5e9)}


@RECIPES.serves("ac-rlc-100m")
def constant_line_under_a_sine(given):
    frequency = np.asarray(given["frequency_hz"])
    far = given["v_source_v"] * uniform(frequency, *_constants(given), length=given["length_m"], **_ends(given))
    return {"v_re_v": far.real, "v_im_v": far.imag}


def _skin_transfer(given, length):
    pair = (
        given["z_external_ohm"],
        f.propagation_velocity(given["velocity_factor"]),
        2.0 * given["wire_radius_mm"] * MILLI,
        given["resistivity_ohm_m"],
    )

    def transfer(frequency):
        return uniform(frequency, *skin_constants(frequency, *pair), length=length, **_ends(given))

    return transfer


def _window(given):
    """Return how long a period has to be, and how far its harmonics count: short lines are fast."""
    short = given["length_m"] < 500.0
    return {"period": 40e-6, "highest": 3e9} if short else {"period": 200e-6, "highest": 0.3e9}


def _arrival(given):
    return f.line_delay(given["length_m"], f.propagation_velocity(given["velocity_factor"]))


@RECIPES.serves("step-skin-line-100m", "step-skin-line-1200m")
def skin_line(given):
    arrival, ramp = _arrival(given), given["ramp_ns"] * NANO
    times = arrival + np.asarray(given["t_after_arrival_ns"]) * NANO
    far = driven(_skin_transfer(given, given["length_m"]), times, ramp, **_window(given))
    return {"arrival_ns": arrival / NANO, "v_load_v": given["v_source_v"] * far}


@RECIPES.serves("step-skin-line-100m-times", "step-skin-line-1200m-times")
def skin_line_times(given):
    arrival, ramp = _arrival(given), given["ramp_ns"] * NANO
    transfer, between = _skin_transfer(given, given["length_m"]), (arrival, arrival + 10e-6)
    times = reached(given["shares"], transfer, between, ramp, **_window(given))
    return {"t_after_arrival_ns": (times - arrival) / NANO}


@RECIPES.serves("step-constant-r-line-100m", "step-constant-r-line-1200m")
def line_without_skin_effect(given):
    line = given["z_external_ohm"], f.propagation_velocity(given["velocity_factor"])
    constants = (
        *(given["r_loop_ohm_per_m"], f.lossless_inductance(*line)),
        *(0.0, f.lossless_capacitance(*line)),
    )

    def transfer(frequency):
        return uniform(frequency, *constants, length=given["length_m"], **_ends(given))

    times = _arrival(given) + np.asarray(given["t_after_arrival_ns"]) * NANO
    window = {"period": _window(given)["period"], "highest": 5e9 if given["length_m"] < 500.0 else 1e9}
    return {"v_load_v": given["v_source_v"] * driven(transfer, times, given["ramp_ns"] * NANO, **window)}


@RECIPES.serves("isi-jitter-skin-line")
def jitter_of_a_cable(given):
    bits = pseudorandom_bits()
    jitter = [
        crossing_jitter(_skin_transfer(given, length), rate, bits, given["edge_share"], samples=512)
        for length, rate in zip(given["length_m"], given["rate_bps"], strict=True)
    ]
    return {"jitter_ui": jitter}


# Lines with taps


@RECIPES.serves("step-multidrop-lossless")
def two_taps(given):
    line_impedance, delay = given["z0_ohm"], given["delay_ns_per_m"] * NANO
    constants = 0.0, line_impedance * delay, 0.0, delay / line_impedance
    first, second, last = given["trunk_m"]

    def transfer(frequency):
        line = f.characteristic_impedance(frequency, *constants), f.propagation_constant(frequency, *constants)
        node = node_impedance(frequency, given["node_r_ohm"], given["node_c_pf"] * PICO)
        stub = f.input_impedance(*line, given["stub_m"], load_impedance=node)
        at_second = parallel(stub, f.input_impedance(*line, last, load_impedance=given["r_far_ohm"]))
        at_first = parallel(stub, f.input_impedance(*line, second, load_impedance=at_second))
        near = parallel(given["r_near_ohm"], f.input_impedance(*line, first, load_impedance=at_first))
        at_near = near / (given["r_source_ohm"] + near)
        tap = at_near * f.end_voltage_ratio(*line, first, load_impedance=at_first)
        next_tap = tap * f.end_voltage_ratio(*line, second, load_impedance=at_second)
        along_stub = f.end_voltage_ratio(*line, given["stub_m"], load_impedance=node)
        far = next_tap * f.end_voltage_ratio(*line, last, load_impedance=given["r_far_ohm"])
        return np.stack([tap * along_stub, next_tap * along_stub, far])

    times = np.array([75.0, 130.0, 200.0, 300.0, 600.0]) * NANO
    ramp = given["ramp_ns"] * NANO
    voltages = given["v_source_v"] * driven(transfer, times, ramp, period=16e-6, highest=3e10)
    return {
        "v_node1_at_75ns_v": voltages[0, 0],
        "v_node2_at_130ns_v": voltages[1, 1],
        "v_far_at_200ns_v": voltages[2, 2],
        "v_far_at_300ns_v": voltages[2, 3],
        "v_far_at_600ns_v": voltages[2, 4],
    }


@RECIPES.serves("ac-one-tap")
def one_tap(given):
    frequency, constants = np.asarray(given["frequency_hz"]), _constants(given)
    line = f.characteristic_impedance(frequency, *constants), f.propagation_constant(frequency, *constants)
    first, second = given["trunk_m"]
    node = node_impedance(frequency, given["node_r_ohm"], given["node_c_pf"] * PICO)
    load, source = given["r_load_ohm"], given["r_source_ohm"]
    stub = f.input_impedance(*line, given["stub_m"], load_impedance=node)
    tap = parallel(stub, f.input_impedance(*line, second, load_impedance=load))
    near = f.input_impedance(*line, first, load_impedance=tap)
    ratio = (
        near
        / (source + near)
        * f.end_voltage_ratio(*line, first, load_impedance=tap)
        * f.end_voltage_ratio(*line, second, load_impedance=load)
    )
    return {"ratio_re": ratio.real, "ratio_im": ratio.imag}
