"""Recipes of line.toml: reflections, stubs, spurs and trunks that nodes load."""

import numpy as np
from recipe_tools import KILO, MICRO, NANO, PICO, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import limits
from rs485kit.units import si

RECIPES = Recipes()
FOOT = si("1 ft", "m")


def speed(given):
    """Return the velocity of a check that prints a delay per metre."""
    return 1.0 / (given["delay_ns_per_m"] * NANO)


# Bounce diagrams


def _driven_line(given):
    return given["v_source_v"], given["r_source_ohm"], given["z0_ohm"]


@RECIPES.serves("lattice-60v-100-50-25")
def middle(given):
    waves, load = np.arange(5), given["r_load_ohm"]
    delay, place = given["transit_ns"], given["position_fraction"]
    return {
        "t_from_ns": f.wave_arrival(waves, delay, place),
        "v_mid_v": f.bounced_voltage(*_driven_line(given), waves + 1, load_resistance=load),
    }


@RECIPES.serves("lattice-60v-100-50-25-exact")
def middle_and_end(given):
    load = given["r_load_ohm"]
    return {
        "v_mid_v": f.bounced_voltage(*_driven_line(given), np.arange(1, 6), load_resistance=load),
        "v_final_v": f.settled_voltage(given["v_source_v"], given["r_source_ohm"], load_resistance=load),
    }


@RECIPES.serves("lattice-12v-50-100-200")
def waves(given):
    line, load = given["z0_ohm"], given["r_load_ohm"]
    heights = f.reflected_wave(*_driven_line(given), np.arange(4), load_resistance=load)
    hold(f.launched_voltage(*_driven_line(given)), heights[0])
    return {
        "waves_v": heights,
        "rho_source": f.reflection_coefficient(given["r_source_ohm"], line),
        "rho_load": f.reflection_coefficient(load, line),
    }


@RECIPES.serves("lattice-12v-final")
def far_end(given):
    load = given["r_load_ohm"]
    return {
        "v_load_v": f.bounced_voltage(*_driven_line(given), [2, 4, 6], load_resistance=load),
        "v_final_v": f.settled_voltage(given["v_source_v"], given["r_source_ohm"], load_resistance=load),
    }


@RECIPES.serves("lattice-120v-30-90", "lattice-120v-30-10")
def far_end_of_five(given):
    pairs = 2 * np.arange(1, 6)
    return {"v_load_v": f.bounced_voltage(*_driven_line(given), pairs, load_resistance=given["r_load_ohm"])}


@RECIPES.serves("two-mismatches-tdr")
def two_echoes(given):
    first, second = given["z_first_ohm"], given["z_second_ohm"]
    return {
        "echo1_v": given["incident_v"] * f.reflection_coefficient(second, first),
        "echo2_v": given["incident_v"] * f.second_echo(first, second, given["r_load_ohm"]),
    }


@RECIPES.serves("tdr-50-75-open")
def trace_of_an_open_line(given):
    source, line = given["z_source_ohm"], given["z0_ohm"]
    # a source of 2 V sends 1 V into a line of its own impedance
    zero, first, second = f.bounced_voltage(2.0, source, line, np.array([1, 3, 5])) - 1.0
    return {
        "rho_after_0t": zero,
        "rho_after_2t": first,
        "rho_after_4t": second,
        "rho_final": f.settled_voltage(2.0, source) - 1.0,
    }


@RECIPES.serves("open-end-with-matched-source")
def open_end(given):
    return {
        "v_start_v": f.launched_voltage(*_driven_line(given)),
        "v_open_end_v": f.bounced_voltage(*_driven_line(given), 2),
    }


# Junctions and capacitors


@RECIPES.serves("tee-equal-lines")
def tee(given):
    return {
        "reflection": f.junction_reflection_coefficient(given["lines"]),
        "transmission": f.junction_transmission_coefficient(given["lines"]),
    }


@RECIPES.serves("mixed-cable-joints")
def joints(given):
    return {"rho": f.reflection_coefficient(given["z_to_ohm"], given["z_from_ohm"])}


@RECIPES.serves("shunt-capacitor-on-line", "shunt-capacitor-on-line-large")
def shunt_capacitor(given):
    node = given["z0_ohm"], given["c_pf"] * PICO
    return {
        "tau_ns": f.shunt_capacitor_time(*node) / NANO,
        "peak_reflection": f.shunt_capacitor_reflection(*node, given["ramp_ns"] * NANO),
    }


# Stubs


@RECIPES.serves("stub-third-of-critical")
def third_of_critical(given):
    edge = given["transition_ns"] * NANO, speed(given)
    return {"critical_m": f.critical_length(*edge), "stub_max_m": f.stub_length_by_third_of_critical(*edge)}


@RECIPES.serves("stub-tenth-210ns", "stub-tenth-100ns", "stub-tenth-250ns", "stub-tenth-500ns")
def tenth(given):
    velocity = f.propagation_velocity(given["velocity_factor"])
    length = f.stub_length_by_one_way_tenth(given["rise_10_90_ns"] * NANO, velocity)
    return {"stub_max_m": length, "stub_max_ft": length / FOOT}


@RECIPES.serves("stub-length-rules")
def stub_rules(given):
    edges = np.asarray(given["rise_ns"]) * NANO, speed(given)
    return {
        "oneway_tenth_m": f.stub_length_by_one_way_tenth(*edges),
        "roundtrip_tenth_m": f.stub_length_by_round_trip_tenth(*edges),
        "oneway_quarter_m": f.stub_length_by_one_way_quarter(*edges),
        "third_critical_m": f.stub_length_by_third_of_critical(*edges),
    }


@RECIPES.serves("long-line-criteria")
def long_lines(given):
    edge = given["rise_ns"] * NANO, speed(given)
    half = f.long_line_length(*edge)
    hold(f.long_line_length(*edge, delay_share=0.5), half)
    return {
        "tsb89a_half_m": half,
        "quarter_m": f.long_line_length(*edge, delay_share=1 / 4),
        "sixth_m": f.long_line_length(*edge, delay_share=1 / 6),
        "eighth_m": f.long_line_length(*edge, delay_share=1 / 8),
    }


@RECIPES.serves("termination-needed-2000ft")
def settling(given):
    line = given["length_ft"] * FOOT, f.propagation_velocity(given["velocity_factor"])
    return {
        "round_trip_us": f.settling_time(*line, round_trips=1) / MICRO,
        "three_round_trips_us": f.settling_time(*line) / MICRO,
        "bit_us": f.bit_time(given["rate_bps"]) / MICRO,
    }


@RECIPES.serves("modbus-taps")
def modbus_taps(given):
    return {"single_tap_m": limits.MODBUS_STUB_LENGTH, "per_tap_m": f.tap_stub_length(given["taps"])}


@RECIPES.serves("stub-resonance")
def notch(given):
    capacitance = np.asarray(given["node_c_pf"]) * PICO
    stub = given["stub_m"], speed(given), given["z0_ohm"]
    return {"notch_hz": f.stub_notch_frequency(*stub, capacitance=capacitance)}


@RECIPES.serves("stub-as-capacitor")
def short_stub(given):
    pair, node = given["c_pf_per_m"] * PICO, given["node_c_pf"] * PICO
    return {"c_total_pf": f.stub_capacitance(given["stub_m"], pair, capacitance=node) / PICO}


# PROFIBUS


@RECIPES.serves("profibus-dp-length")
def segments(given):
    rates = np.asarray(given["rate_kbit_s"]) * KILO
    return {
        "type_a_m": f.profibus_segment_length(rates),
        "type_b_m": f.profibus_segment_length(rates, cable_type="B"),
    }


@RECIPES.serves("profibus-dp-spurs")
def spur_budget(given):
    return {"spur_c_nf": f.profibus_spur_capacitance(np.asarray(given["rate_kbit_s"]) * KILO) / NANO}


@RECIPES.serves("profibus-dp-spur-lengths")
def spur_lengths(given):
    budget = f.profibus_spur_capacitance(np.asarray(given["rate_kbit_s"]) * KILO)
    return {"spur_total_m": f.spur_length(budget, given["c_pf_per_m"] * PICO)}


@RECIPES.serves("profibus-spur-1500k")
def spur_length(given):
    return {"spur_total_m": f.spur_length(given["spur_c_nf"] * NANO, given["c_pf_per_m"] * PICO)}


@RECIPES.serves("profibus-spur-example")
def spur_example(given):
    devices = given["devices_on_tees"] + given["other_devices"]
    total = f.spur_total(given["tee_nodes"], given["spur_m"], devices, device_length=given["device_equivalent_m"])
    return {"total_m": total, "allowed": total <= given["limit_m"]}


@RECIPES.serves("profibus-terminator")
def active_terminator(given):
    across, legs = given["r_diff_ohm"], (given["r_pullup_ohm"], given["r_pulldown_ohm"])
    return {
        "r_ac_ohm": f.biased_termination(across, *legs),
        "idle_v": f.idle_voltage(given["supply_v"], *legs, termination=across),
    }


# Loaded trunks


@RECIPES.serves("loaded-line-62ohm")
def short_loaded_line(given):
    # the length does not matter: a line of 0.2 m has this delay at half the velocity of light
    length = 0.2
    velocity = length / (given["delay_ns"] * NANO)
    pair = f.lossless_capacitance(given["z0_ohm"], velocity)
    return {
        "line_c_pf": f.stub_capacitance(length, pair) / PICO,
        "z_loaded_ohm": f.loaded_impedance(given["z0_ohm"], velocity, length, given["load_c_pf"] * PICO),
    }


def _trunk(given):
    return given["z0_ohm"], speed(given), given["spacing_m"], np.asarray(given["node_c_pf"]) * PICO


@RECIPES.serves(*(f"loaded-line-{number}" for number in (1, 2, 3, 4)))
def loaded_line(given):
    return {
        "z_loaded_ohm": f.loaded_impedance(*_trunk(given)),
        "delay_ns_per_m": f.loaded_delay(*_trunk(given)) / NANO,
    }


@RECIPES.serves("loading-spacing-rule")
def spacing_rule(given):
    node, pair, share = given["node_c_pf"] * PICO, given["c0_pf_per_m"] * PICO, given["impedance_share"]
    spacing = f.least_load_spacing(node, pair, impedance_share=share)
    return {"factor": node / (pair * spacing), "spacing_min_m": spacing}


@RECIPES.serves("loaded-line-exact")
def periodic_line(given):
    return {
        "z_ohm": f.periodic_impedance(given["frequency_hz"], *_trunk(given)),
        "phase_delay_ns_per_m": f.periodic_delay(given["frequency_hz"], *_trunk(given)) / NANO,
    }


@RECIPES.serves("loaded-line-cutoff")
def cutoff(given):
    return {"cutoff_hz": f.stop_band_edge(*_trunk(given))}
