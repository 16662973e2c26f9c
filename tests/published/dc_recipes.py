"""Which formula serves which check of dc.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
and named limits alone; the factors 1e3, 1e-3 and the like only move between SI units and the unit of a key. `hold` is
for inputs that a limit of ours already states: it fails if the two ever part. STATED lists what has no recipe, and why.
"""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from rs485kit import formulas as f
from rs485kit.formulas import limits
from rs485kit.units import si

Figures = dict[str, Any]
KILO, MILLI, MICRO, NANO = 1e3, 1e-3, 1e-6, 1e-9

_PART = "a figure of one part's datasheet, which no formula gives"
_CABLE = "printed data of a cable or demands on one; a formula takes such figures and does not give them"
_TABLE = "a printed table or point of length against rate that follows no equation"

STATED: dict[str, str] = {
    "tia422-limits": "limits of another standard, for contrast; nothing here uses them",
    "failsafe-receiver-threshold": _PART,
    "polarity-modbus-names": "a convention of names; the library names lines by what they do and uses no letters",
    "termination-ac-modbus": "values and ratings of parts that a guide shows; termination-ac-modbus-time computes with them",
    "cable-belden-9841": _CABLE,
    "cable-profibus-a": _CABLE,
    "cable-bacnet-mstp": _CABLE,
    "length-profibus-a": _TABLE,
    "length-profibus-b": _TABLE,
    "length-rs422-three-points": _TABLE,
    "length-eia422-curve-basis": "the premises of a drawn curve whose ordinates were not seen",
    "power-isolated-icc2-5v": _PART,
    "power-isolated-icc2-3v3": _PART,
    "cm-extended-part": _PART,
}

# Inputs that must not change the figure, which is what their check is about.
WITHOUT_EFFECT: dict[str, set[str]] = {"bias-rdm-562-133-32-ul": {"source_v"}}

RECIPES: dict[str, Callable[[Mapping[str, Any]], Figures]] = {}
Recipe = Callable[[Mapping[str, Any]], Figures]


def serves(*checks: str) -> Callable[[Recipe], Recipe]:
    """Enter a recipe under the ids of the checks that it serves."""

    def enter(recipe: Recipe) -> Recipe:
        for check in checks:
            assert check not in RECIPES, f"two recipes for {check}"
            RECIPES[check] = recipe
        return recipe

    return enter


def hold(given: Any, limit: Any) -> None:
    assert np.array_equal(given, limit), f"the check is put for {given}, the library states {limit}"


# Limits of EIA-485


@serves("tia485-driver-loaded")
def driver_loaded(given):
    hold(given["load_ohm"], limits.TEST_LOAD)
    return {"vod_min_v": limits.LOADED_VOLTAGE_MINIMUM, "vod_max_v": limits.LOADED_VOLTAGE_MAXIMUM}


@serves("tia485-driver-open")
def driver_open(given):
    hold(given["load"], "open")
    return {"vod_min_v": limits.OPEN_VOLTAGE_MINIMUM, "vod_max_v": limits.OPEN_VOLTAGE_MAXIMUM}


@serves("tia485-driver-short")
def driver_short(given):
    hold([given["v_low_v"], given["v_high_v"]], [limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM])
    return {"i_short_max_ma": limits.SHORT_CIRCUIT_CURRENT * KILO}


@serves("tia485-driver-rise-fraction")
def rise_fraction(given):
    hold([given["load_ohm"], given["load_pf"] * 1e-12], [limits.TEST_LOAD, limits.TEST_CAPACITANCE])
    return {"rise_max_of_unit_interval": limits.RISE_FRACTION}


@serves("tia485-driver-rise-times")
def rise_times(given):
    return {"rise_max_ns": f.longest_rise_time(given["rate_bps"]) / NANO}


@serves("tia485-driver-offset")
def driver_offset(given):
    hold(given["load_ohm"], limits.TEST_LOAD)
    return {"voc_min_v": limits.OFFSET_MINIMUM, "voc_max_v": limits.OFFSET_MAXIMUM}


@serves("tia485-driver-balance")
def driver_balance(given):
    hold(2 * given["r_each_half_ohm"], limits.TEST_LOAD)
    difference = limits.STATE_DIFFERENCE
    return {"delta_vod_max_v": difference, "delta_voc_max_v": difference, "voc_max_v": limits.OFFSET_MAXIMUM}


@serves("tia485-receiver-threshold")
def receiver_threshold(given):
    hold([given["vcm_min_v"], given["vcm_max_v"]], [limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM])
    threshold = limits.RECEIVER_THRESHOLD
    return {"vth_max_v": threshold, "vth_min_v": -threshold, "input_ohm_min": limits.UNIT_LOAD_RESISTANCE}


@serves("tia485-unit-load-corners")
def unit_load_corners(given):
    lowest, positive_foot, negative_foot, highest = given["v_v"]
    currents = [
        f.lowest_input_current(lowest),
        f.highest_input_current(positive_foot),
        f.lowest_input_current(negative_foot),
        f.highest_input_current(highest),
    ]
    return {"i_ma": np.array(currents) * KILO}


@serves("tia485-unit-load-model")
def unit_load_model(given):
    hold(given["r_ohm"], limits.UNIT_LOAD_SLOPE)
    hold(given["v_pos_ref_v"], limits.UNIT_LOAD_POSITIVE_REFERENCE)
    hold(given["v_neg_ref_v"], limits.UNIT_LOAD_NEGATIVE_REFERENCE)
    return {
        "i_at_12v_ma": f.highest_input_current(12.0) * KILO,
        "i_at_minus7v_ma": f.lowest_input_current(-7.0) * KILO,
    }


@serves("tia485-unit-load-at-zero")
def unit_load_at_zero(given):
    return {
        "i_upper_ma": f.highest_input_current(given["v_v"]) * KILO,
        "i_lower_ma": f.lowest_input_current(given["v_v"]) * KILO,
    }


@serves("tia485-bus-32-ul-ohm")
def bus_load(given):
    hold(given["unit_load_ohm"], limits.UNIT_LOAD_RESISTANCE)
    return {"bus_load_ohm": f.input_resistance(given["unit_loads"])}


@serves("tia485-cm-test-load")
def common_mode_test(given):
    hold(given["between_ohm"], limits.COMMON_MODE_TEST_TERMINATION)
    hold(given["each_to_source_ohm"], limits.COMMON_MODE_TEST_LINE_LOAD)
    hold(
        [given["source_min_v"], given["source_max_v"]],
        [limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM],
    )
    return {"vod_min_v": limits.LOADED_VOLTAGE_MINIMUM, "vod_max_v": limits.LOADED_VOLTAGE_MAXIMUM}


@serves("tia485-cm-test-currents")
def common_mode_test_currents(given):
    circuit = given["between_ohm"], given["each_to_source_ohm"], given["source_v"]
    return {
        "ia_out_ma": f.line_output_current(given["va_v"], given["vb_v"], *circuit) * KILO,
        "ib_out_ma": f.line_output_current(given["vb_v"], given["va_v"], *circuit) * KILO,
    }


@serves("tia485-54-ohm-as-60-less-10-percent")
def test_load_as_terminators(given):
    both = f.equal_parallel_resistance(given["terminator_ohm"], given["terminators"])
    return {"load_ohm": f.lowest_resistance(both, given["derate"])}


@serves("tia485-60-ohm-with-32-ul-two-ways")
def both_drawings(given):
    both = given["terminators_ohm"]
    return {
        "load_across_pair_model_ohm": f.loaded_termination(both, pair_load=given["across_pair_ohm"]),
        "load_per_line_model_ohm": f.loaded_termination(both, line_load=given["line_to_ground_each_ohm"]),
    }


@serves("tia422-ten-receivers")
def ten_receivers(given):
    receivers = f.equal_parallel_resistance(given["input_ohm"], given["receivers"])
    return {"receivers_ohm": receivers, "load_ohm": f.parallel_resistance(receivers, given["terminator_ohm"])}


# Failsafe bias


def terminators(given):
    return f.equal_parallel_resistance(given["terminator_ohm"], given["terminators"])


def both_ends(given):
    return f.parallel_resistance(given["terminator_near_ohm"], given["terminator_far_ohm"])


def equal_legs(supply, bias, **loads):
    return f.idle_voltage(supply, bias, bias, **loads)


@serves("bias-bb-32-nodes-no-termination")
def unterminated_nodes(given):
    load = f.equal_parallel_resistance(given["node_ohm"], given["nodes"])
    bias = f.largest_bias(given["vcc_v"], given["v_idle_min_v"], pair_load=load)
    current = f.bias_current(given["vcc_v"], bias, bias, pair_load=load)
    return {
        "load_ohm": load,
        "current_ma": current * KILO,
        "total_ohm": given["vcc_v"] / current,
        "bias_sum_ohm": 2 * bias,
    }


@serves("bias-bb-10-nodes-terminated")
def biased_nodes(given):
    bias = f.equal_parallel_resistance(given["bias_each_node_ohm"], given["nodes"])
    nodes = f.equal_parallel_resistance(given["node_ohm"], given["nodes"])
    loads = {"termination": terminators(given), "pair_load": nodes}
    return {
        "current_ma": f.bias_current(given["vcc_v"], bias, bias, **loads) * KILO,
        "v_idle_v": equal_legs(given["vcc_v"], bias, **loads),
    }


@serves("bias-bb-10-nodes-unterminated")
def biased_nodes_unterminated(given):
    bias = f.equal_parallel_resistance(given["bias_each_node_ohm"], given["nodes"])
    nodes = f.equal_parallel_resistance(given["node_ohm"], given["nodes"])
    current = f.bias_current(given["vcc_v"], bias, bias, pair_load=nodes)
    return {
        "total_ohm": given["vcc_v"] / current,
        "current_ma": current * KILO,
        "v_idle_v": equal_legs(given["vcc_v"], bias, pair_load=nodes),
    }


@serves("bias-two-places-500-and-620", "bias-two-places-500-and-620-at-5v")
def two_places(given):
    bias = f.parallel_resistance(given["bias_pair_1_ohm"], given["bias_pair_2_ohm"])
    return {"bias_each_ohm": bias, "v_idle_v": equal_legs(given["vcc_v"], bias, termination=terminators(given))}


@serves("bias-rdm-3v3-390-150", "bias-rdm-3v3-396-141", "bias-rdm-562-133-no-load")
def trimmed_end(given):
    bias = given["bias_ohm"]
    return {
        "v_idle_v": equal_legs(given["vcc_v"], bias, termination=both_ends(given)),
        "near_end_ohm": f.biased_termination(given["terminator_near_ohm"], bias, bias),
    }


@serves("bias-rdm-562-133-32-ul")
def trimmed_end_with_nodes(given):
    loads = {"line_load": given["each_line_to_source_ohm"], "line_source": given["source_v"]}
    return {"v_idle_v": equal_legs(given["vcc_v"], given["bias_ohm"], termination=both_ends(given), **loads)}


@serves("bias-rdm-limits")
def rdm_limits(given):
    hold(given["nominal_ohm"], limits.RDM_TERMINATION)
    return {
        "v_idle_min_v": limits.RDM_IDLE_MINIMUM,
        "termination_tolerance": limits.RDM_TERMINATION_TOLERANCE,
    }


@serves("bias-rdm-510")
def rdm_legs(given):
    supply, bias, both = given["vcc_v"], given["bias_ohm"], terminators(given)
    return {
        "v_idle_v": equal_legs(supply, bias, termination=both),
        "current_ma": f.bias_current(supply, bias, bias, termination=both) * KILO,
        "bias_max_for_245mv_ohm": f.largest_bias(supply, limits.RDM_IDLE_MINIMUM, termination=both),
    }


@serves(
    "bias-bacnet-510",
    "bias-modbus-450-650-lt-150",
    "bias-modbus-450-650-lt-120",
    "bias-270-82",
    "bias-1k-pair-fails",
    "bias-4k7-pair-fails",
)
def one_network(given):
    return {"v_idle_v": equal_legs(given["vcc_v"], given["bias_ohm"], termination=terminators(given))}


@serves("bias-bacnet-two-sets")
def two_sets(given):
    bias = f.equal_parallel_resistance(given["bias_ohm"], given["sets"])
    return {"v_idle_v": equal_legs(given["vcc_v"], bias, termination=terminators(given))}


@serves("bias-bacnet-local-47k")
def local_bias(given):
    bias = f.equal_parallel_resistance(given["local_bias_ohm"], given["nodes"])
    return {"bias_each_ohm": bias, "v_idle_v": equal_legs(given["vcc_v"], bias, termination=terminators(given))}


@serves("bias-modbus-range")
def modbus_range(given):
    hold(given["supply_v"], limits.MODBUS_BIAS_SUPPLY)
    return {
        "bias_min_ohm": limits.MODBUS_BIAS_MINIMUM,
        "bias_max_ohm": limits.MODBUS_BIAS_MAXIMUM,
        "devices_removed": limits.MODBUS_DEVICES_GIVEN_UP,
    }


@serves("bias-modbus-650-ac-terminated")
def modbus_without_dc_load(given):
    nodes = f.input_resistance(given["unit_loads"], unit_load_resistance=given["unit_load_ohm"])
    return {
        "v_idle_across_pair_model_v": equal_legs(given["vcc_v"], given["bias_ohm"], pair_load=nodes),
        "v_idle_per_line_model_v": equal_legs(given["vcc_v"], given["bias_ohm"], line_load=nodes),
    }


@serves("bias-ti-formula-528")
def matched_end(given):
    supply, impedance, nodes = given["vcc_min_v"], given["z0_ohm"], given["each_line_to_ground_ohm"]
    bias = f.matched_bias(supply, given["v_idle_v"], impedance, line_load=nodes)
    both = f.parallel_resistance(f.near_termination(impedance, bias, bias), impedance)
    return {"bias_ohm": bias, "v_idle_check_v": equal_legs(supply, bias, termination=both, line_load=nodes)}


@serves("bias-ti-formula-rt2")
def matched_end_terminator(given):
    return {"terminator_near_ohm": f.near_termination(given["z0_ohm"], given["bias_ohm"], given["bias_ohm"])}


@serves("bias-renesas-as-quoted")
def plus_one_rule(given):
    nodes = f.input_resistance(limits.UNIT_LOADS)
    bias = f.plus_one_bias(given["vcc_v"], given["v_idle_target_v"], given["z0_ohm"], line_load=nodes)
    return {"bias_ohm": bias, "terminator_near_ohm": f.near_termination(given["z0_ohm"], bias, bias)}


@serves("bias-renesas-as-quoted-result")
def plus_one_result(given):
    supply, bias, both = given["vcc_v"], given["bias_ohm"], both_ends(given)
    nodes = given["each_line_to_ground_ohm"]
    return {
        "v_idle_unloaded_v": equal_legs(supply, bias, termination=both),
        "v_idle_32_ul_v": equal_legs(supply, bias, termination=both, line_load=nodes),
    }


@serves("bias-0p036-is-4-over-z0-plus-1-over-375")
def matched_conductance(given):
    nodes = given["each_line_to_ground_ohm"]
    return {"constant_per_ohm": f.matched_bias_conductance(given["z0_ohm"], line_load=nodes)}


@serves("bias-st-500-130", "bias-spc-620-130")
def one_or_two_terminators(given):
    supply, bias, near = given["vcc_v"], given["bias_ohm"], given["terminator_near_ohm"]
    return {
        "v_idle_one_terminator_v": equal_legs(supply, bias, termination=near),
        "v_idle_two_terminators_v": equal_legs(supply, bias, termination=both_ends(given)),
        "near_end_ohm": f.biased_termination(near, bias, bias),
    }


@serves("termination-spc-133")
def trimmed_terminator(given):
    return {"terminator_near_ohm": f.near_termination(given["z_ohm"], given["bias_ohm"], given["bias_ohm"])}


@serves("bias-max-for-200mv")
def largest_legs(given):
    both = given["terminators_ohm"]
    bias = f.largest_bias(given["vcc_v"], given["v_idle_v"], termination=both)
    return {"bias_max_ohm": bias, "current_ma": f.bias_current(given["vcc_v"], bias, bias, termination=both) * KILO}


@serves("profibus-terminator-ohm")
def active_terminator(given):
    return {"effective_ohm": f.biased_termination(given["across_ohm"], given["up_ohm"], given["down_ohm"])}


def active_pair(given, far_supply):
    network = given["vp_v"], given["up_ohm"], given["across_ohm"], given["down_ohm"]
    return {"v_idle_v": f.active_idle_voltage(*network, far_supply=far_supply)}


@serves("profibus-idle-two-terminators")
def active_both_on(given):
    hold(given["terminators"], 2)
    return active_pair(given, "on")


@serves("profibus-idle-one-powered")
def active_one_open(given):
    return active_pair(given, "open")


@serves("profibus-idle-one-supply-at-zero")
def active_one_low(given):
    return active_pair(given, "low")


@serves("bias-not-uniform-on-long-cable")
def long_cable(given):
    hold(given["terminators"], 2)
    one = given["terminator_ohm"]
    loop = f.loop_resistance(given["conductor_ohm_per_km"] / KILO, given["length_km"] * KILO)
    near = equal_legs(given["vcc_v"], given["bias_ohm"], termination=f.driver_load(one, one, loop))
    return {"loop_ohm": loop, "v_near_v": near, "v_far_v": f.far_voltage(near, one, loop)}


@serves("bias-resistor-power-at-cm-limits")
def bias_heat(given):
    hold(given["line_v"], [limits.COMMON_MODE_MAXIMUM, limits.COMMON_MODE_MINIMUM])
    return {"power_mw": f.bias_power(given["line_v"], given["bias_ohm"], [0.0, given["pullup_v"]]) * KILO}


# Unit loads


@serves("ul-slla272-96-nodes")
def nodes_beside_bias(given):
    return {"nodes_max": f.node_count(given["node_ul"], taken=given["bias_ul"], limit=given["bus_ul"])}


@serves("ul-fractions")
def nodes_without_bias(given):
    hold(given["bus_ul"], limits.UNIT_LOADS)
    return {"nodes_max": f.node_count(given["node_ul"])}


@serves("ul-eighth-ohm")
def eighth(given):
    hold(given["unit_load_ohm"], limits.UNIT_LOAD_RESISTANCE)
    return {"input_ohm": f.input_resistance(given["node_ul"]), "nodes_max": f.node_count(given["node_ul"])}


@serves("ul-pulldown-strict")
def pull_down(given):
    return {"ul": f.resistor_unit_loads(given["r_ohm"], 0.0)}


@serves("ul-pullup-strict")
def pull_up(given):
    return {"ul": f.resistor_unit_loads(given["r_ohm"], given["pullup_v"])}


@serves("ul-20-means-600-ohm")
def leg_of_twenty(given):
    return {"bias_ohm": f.input_resistance(given["bias_ul"], unit_load_resistance=given["unit_load_ohm"])}


@serves("ul-n-max-with-bias")
def nodes_beside_legs(given):
    return {"nodes_max": f.node_count(given["node_ul"], taken=f.resistor_unit_loads_by_custom(given["bias_ohm"]))}


@serves("ul-n-max-negative")
def nothing_left(given):
    return {"ul_left": f.spare_unit_loads(f.resistor_unit_loads_by_custom(given["bias_ohm"]))}


@serves("ul-profibus-terminators")
def active_terminator_loads(given):
    legs = f.equal_parallel_resistance(given["r_each_ohm"], given["terminators"])
    return {"ul": f.resistor_unit_loads(legs, 0.0)}


@serves("ul-modbus-650-against-4")
def modbus_legs(given):
    return {
        "ul_pulldown": f.resistor_unit_loads(given["bias_ohm"], 0.0),
        "ul_pullup": f.resistor_unit_loads(given["bias_ohm"], limits.MODBUS_BIAS_SUPPLY),
    }


# Terminators


@serves("termination-pairs")
def pairs(given):
    return {"load_ohm": f.equal_parallel_resistance(given["terminator_ohm"], 2)}


@serves("termination-dc-current")
def terminator_current(given):
    return {"current_ma": f.load_current(given["vod_v"], given["load_ohm"]) * KILO}


@serves("termination-power")
def terminator_heat(given):
    return {
        "power_mw": f.resistor_power(given["v_v"], given["r_ohm"]) * KILO,
        "power_modbus_mw": f.resistor_power(given["v_modbus_v"], given["r_modbus_ohm"]) * KILO,
    }


@serves("termination-reflection-ends")
def reflection(given):
    return {"gamma": f.reflection_coefficient(given["r_ohm"], given["z0_ohm"])}


@serves("termination-reflection-midline")
def midline_reflection(given):
    return {"gamma": f.midline_reflection_coefficient(given["r_ohm"], given["z0_ohm"])}


@serves("termination-third-terminator")
def third_terminator(given):
    load = terminators(given)
    return {"load_ohm": load, "current_ma": f.load_current(given["vod_v"], load) * KILO}


@serves("termination-profibus-mismatch")
def active_mismatch(given):
    return {"gamma": f.reflection_coefficient(given["effective_ohm"], given["z0_ohm"])}


@serves("termination-corrected-for-receivers")
def corrected_for_receivers(given):
    receivers = f.equal_parallel_resistance(given["receiver_ohm"], given["receivers"])
    return {
        "receivers_ohm": receivers,
        "terminator_ohm": f.compensated_termination(given["z0_ohm"], receivers),
    }


@serves("termination-with-bias-114")
def end_with_bias(given):
    return {"effective_ohm": f.biased_termination(given["terminator_ohm"], given["bias_ohm"], given["bias_ohm"])}


@serves("termination-ac-modbus-time")
def series_rc(given):
    parts = given["r_ohm"], given["c_nf"] * NANO
    constant = f.time_constant(*parts)
    return {
        "tau_ns": constant / NANO,
        "corner_khz": f.corner_frequency(*parts) / KILO,
        "tau_of_bit": f.bit_share(constant, given["rate_bps"]),
    }


@serves("termination-ac-rule-4-tau")
def series_rc_rule(given):
    delay = f.line_delay(given["length_m"], 1 / (given["delay_ns_per_m"] * NANO))
    return {"c_min_nf": f.least_capacitance(given["r_ohm"], delay, delays=given["multiple"]) / NANO}


@serves("termination-ac-power")
def series_rc_heat(given):
    heat = f.switching_power(given["c_nf"] * NANO, given["swing_v"], given["transitions_per_s"])
    return {"power_mw": heat * KILO}


# Conductors and the drop along them


@serves(*(f"awg-{gauge}-resistance" for gauge in (18, 19, 20, 22, 23, 24, 25, 26, 27, 28)))
def printed_gauge(given):
    # The expected figure is the printed one in other units: hold it there, so that a slip in the data shows.
    printed = si(f"{given['printed_ohm_per_100ft'] / 100!r} ohm/ft", "ohm/m") * KILO
    computed = f.gauge_resistance(given["awg"]) * KILO
    assert abs(computed - printed) <= 0.002 * printed
    return {"conductor_ohm_per_km": computed}


@serves("awg-21-resistance")
def gauge_between(given):
    diameter = f.gauge_diameter(given["awg"])
    return {
        "diameter_mm": diameter / MILLI,
        "area_mm2": f.wire_area(diameter) / MILLI**2,
        "conductor_ohm_per_km": f.gauge_resistance(given["awg"]) * KILO,
    }


@serves("awg-diameters")
def diameters(given):
    return {"diameter_mm": f.gauge_diameter(given["awg"]) / MILLI}


@serves("awg-24-at-60c")
def warm_copper(given):
    cold, temperature = given["r20_ohm_per_km"] / KILO, given["t_c"] + 273.15
    warm = f.resistance_at_temperature(cold, temperature, coefficient=given["alpha_per_k"])
    hold(f.resistance_at_temperature(cold, temperature), warm)
    return {"conductor_ohm_per_km": warm * KILO}


@serves("cable-belden-9843-dcr")
def printed_per_thousand_feet(given):
    return {"conductor_ohm_per_km": si(f"{given['printed_ohm_per_1000ft'] / 1000!r} ohm/ft", "ohm/m") * KILO}


@serves("cable-profibus-a-core")
def two_core_limits(given):
    area = f.wire_area(given["core_mm"] * MILLI)
    return {
        "area_of_0p64mm_mm2": area / MILLI**2,
        "loop_0p64mm_ohm_per_km": f.loop_resistance(f.copper_resistance(area), 1000.0),
        "loop_0p34mm2_ohm_per_km": f.loop_resistance(f.copper_resistance(given["core_mm2"] * MILLI**2), 1000.0),
    }


@serves("drop-4000ft-15-mohm")
def drop_over_feet(given):
    conductor = si(f"{given['conductor_mohm_per_ft'] / 1000!r} ohm/ft", "ohm/m")
    loop = f.loop_resistance(conductor, si(f"{given['length_ft']!r} ft", "m"))
    return {"loop_ohm": loop, "v_far_v": f.far_voltage(given["vod_v"], given["terminator_ohm"], loop)}


@serves("drop-1200m-awg24", "drop-1000m-awg26-modbus")
def drop_over_length(given):
    loop = f.loop_resistance(given["conductor_ohm_per_km"] / KILO, given["length_km"] * KILO)
    return {
        "loop_ohm": loop,
        "ratio": f.level_ratio(given["terminator_ohm"], loop),
        "loss_db": f.level_loss(given["terminator_ohm"], loop),
    }


@serves("drop-6db-length-awg24")
def half_level(given):
    line = given["terminator_ohm"], given["conductor_ohm_per_km"] / KILO
    return {
        "length_loop_m": f.half_level_length(*line),
        "length_single_conductor_m": f.half_level_length(*line, conductors=1),
    }


@serves("drop-max-length-1v5-to-0v2")
def longest_by_dc(given):
    level = given["vod_v"], given["v_far_v"], given["terminator_ohm"]
    return {
        "loop_max_ohm": f.largest_loop_resistance(*level),
        "length_max_m": f.longest_length(*level, given["conductor_ohm_per_km"] / KILO),
    }


@serves("drop-driver-load-long-cable")
def load_of_long_cable(given):
    one = given["terminator_ohm"]
    return {"driver_load_ohm": f.driver_load(one, one, given["loop_ohm"])}


# Length and data rate


@serves("length-modbus")
def modbus_lengths(given):
    hold([given["rate_bps"], given["awg"]], [limits.MODBUS_TRUNK_RATE, limits.MODBUS_TRUNK_GAUGE])
    return {
        "trunk_max_m": limits.MODBUS_TRUNK_LENGTH,
        "stub_max_m": limits.MODBUS_STUB_LENGTH,
        "tap_stub_max_m": f.tap_stub_length(given["tap_ports"]),
    }


@serves("length-rule-1e8")
def constant_product(given):
    return {"length_max_m": f.length_by_product(given["rate_bps"], product=given["product_m_bps"])}


@serves("length-unterminated-three-round-trips")
def without_terminators(given):
    foot = si("1 ft", "m")
    velocity = given["velocity_ft_per_ns"] * foot / NANO
    length = f.unterminated_length(given["rate_bps"], velocity, round_trips=given["round_trips"])
    return {"length_max_ft": length / foot}


@serves("length-bb-2000ft-settling")
def settling(given):
    line = si(f"{given['length_ft']!r} ft", "m"), f.propagation_velocity(given["velocity_of_c"])
    return {
        "round_trip_us": f.settling_time(*line, round_trips=1) / MICRO,
        "settle_us": f.settling_time(*line, round_trips=given["round_trips"]) / MICRO,
        "bit_us": f.bit_time(given["rate_bps"]) / MICRO,
    }


# Supply current and power


@serves("power-bus-current-hvd3082")
def driver_at_the_limit(given):
    level = given["vod_v"], given["terminators_ohm"]
    each = given["unit_load_ma"] * MILLI
    hold(each, limits.UNIT_LOAD_CURRENT)
    return {
        "ul_ma": f.highest_input_current(12.0, unit_loads=given["unit_loads"]) * KILO,
        "termination_ma": f.load_current(*level) * KILO,
        "sum_ma": f.bus_current(*level, unit_loads=given["unit_loads"], unit_load_current=each) * KILO,
    }


@serves("power-isolated-static-split")
def static_split(given):
    supply, drawn = given["vcc_v"], given["icc_loaded_ma"] * MILLI
    current = drawn - given["icc_unloaded_ma"] * MILLI
    heat = f.current_power(current, given["load_ohm"])
    return {
        "load_ma": current * KILO,
        "vod_v": heat / current,
        "load_mw": heat * KILO,
        "part_mw": f.part_power(supply, drawn, heat) * KILO,
    }


@serves("power-isolated-budget")
def isolated_budget(given):
    supply, bias, part = given["vcc_v"], given["bias_ohm"], given["icc_ma"] * MILLI
    legs = f.bias_current(supply, bias, bias, termination=given["terminators_ohm"])
    output = f.total_power(supply, [part, legs])
    return {
        "bias_ma": legs * KILO,
        "sum_ma": output / supply * KILO,
        "output_mw": output * KILO,
        "input_mw": f.input_power(output, given["efficiency"]) * KILO,
    }


@serves("power-isolated-average-polled")
def polled(given):
    talking, listening = given["icc_talking_ma"] * MILLI, given["icc_listening_ma"] * MILLI
    return {"average_ma": f.average_current(talking, listening, given["duty"]) * KILO}


@serves("power-receiver-hvd1476")
def receiver_heat(given):
    voltages = [given[key] for key in ("vcc_v", "va_v", "vb_v", "vr_v")]
    currents = [given[key] * MILLI for key in ("icc_ma", "ia_ma", "ib_ma", "ir_ma")]
    return {"power_mw": f.total_power(voltages, currents) * KILO}


@serves("power-isolated-turns-ratio")
def turns_ratio(given):
    keys = ("vo_v", "vf_v", "vdo_v", "vin_min_v", "rds_ohm", "id_a")
    return {"turns_ratio_min": f.least_turns_ratio(*(given[key] for key in keys))}


@serves("power-contention")
def contention(given):
    hold(given["i_limit_ma"] * MILLI, limits.SHORT_CIRCUIT_CURRENT)
    return {"power_mw": f.contention_power(given["vcc_v"]) * KILO}


@serves("power-remote-supply-drop")
def fed_node(given):
    wire = f.wire_resistance(given["conductor_ohm_per_km"] / KILO, given["length_km"] * KILO)
    return {"rs_ohm": wire, "vl_v": f.remote_supply_voltage(given["vs_v"], wire, given["il_ma"] * MILLI)}


# Common mode and ground difference


@serves("cm-definition")
def common_mode(given):
    parts = given["voc_v"], given["gpd_v"]
    return {
        "vcm_max_v": f.highest_common_mode(*parts, noise=given["noise_v"]),
        "vcm_min_v": f.lowest_common_mode(*parts, noise=given["noise_v"]),
    }


@serves("cm-range-from-supply")
def common_mode_range(given):
    return {
        "vcm_max_v": f.highest_common_mode(given["vcc_v"], given["gpd_v"]),
        "vcm_min_v": f.lowest_common_mode(0.0, given["gpd_v"]),
    }


@serves("cm-noise-headroom")
def noise_headroom(given):
    hold([given["voc_min_v"], given["voc_max_v"]], [limits.OFFSET_MINIMUM, limits.OFFSET_MAXIMUM])
    return {
        "headroom_upper_v": f.upper_noise_headroom(given["voc_max_v"], given["gpd_v"]),
        "headroom_lower_v": f.lower_noise_headroom(given["voc_min_v"], given["gpd_v"]),
    }


@serves("cm-reference-100-ohm")
def short_reference_wire(given):
    current = f.reference_current(given["gpd_v"], 0.0, node_resistance=given["r_each_ohm"])
    return {"current_ma": current * KILO, "power_each_mw": f.current_power(current, given["r_each_ohm"]) * KILO}


@serves("cm-reference-100-ohm-long")
def long_reference_wire(given):
    wire, each = given["wire_ohm"], given["r_each_ohm"]
    return {
        "current_ma": f.reference_current(given["gpd_v"], wire, node_resistance=each) * KILO,
        "residual_v": f.ground_difference_left(given["gpd_v"], wire, each),
    }


@serves("cm-shield-bonded-both-ends")
def bonded_shield(given):
    shield = f.wire_resistance(given["shield_ohm_per_km"] / KILO, given["length_km"] * KILO)
    current = f.reference_current(given["gpd_v"], shield)
    return {"shield_ohm": shield, "current_a": current, "power_w": f.current_power(current, shield)}


@serves("cm-ground-check-10k")
def ground_check(given):
    hold([given["r_ohm"], given["v_max_v"]], [limits.GROUND_CHECK_RESISTANCE, limits.GROUND_CHECK_VOLTAGE])
    return {"current_max_ma": f.load_current(given["v_max_v"], given["r_ohm"]) * KILO}
