"""Recipes of dc.toml: limits of EIA-485, and unit loads."""

import numpy as np
from recipe_tools import KILO, NANO, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import limits

RECIPES = Recipes()


# Limits of EIA-485


@RECIPES.serves("tia485-driver-loaded")
def driver_loaded(given):
    hold(given["load_ohm"], limits.TEST_LOAD)
    return {"vod_min_v": limits.LOADED_VOLTAGE_MINIMUM, "vod_max_v": limits.LOADED_VOLTAGE_MAXIMUM}


@RECIPES.serves("tia485-driver-open")
def driver_open(given):
    hold(given["load"], "open")
    return {"vod_min_v": limits.OPEN_VOLTAGE_MINIMUM, "vod_max_v": limits.OPEN_VOLTAGE_MAXIMUM}


@RECIPES.serves("tia485-driver-short")
def driver_short(given):
    hold([given["v_low_v"], given["v_high_v"]], [limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM])
    return {"i_short_max_ma": limits.SHORT_CIRCUIT_CURRENT * KILO}


@RECIPES.serves("tia485-driver-rise-fraction")
def rise_fraction(given):
    hold([given["load_ohm"], given["load_pf"] * 1e-12], [limits.TEST_LOAD, limits.TEST_CAPACITANCE])
    return {"rise_max_of_unit_interval": limits.RISE_FRACTION}


@RECIPES.serves("tia485-driver-rise-times")
def rise_times(given):
    return {"rise_max_ns": f.longest_rise_time(given["rate_bps"]) / NANO}


@RECIPES.serves("tia485-driver-offset")
def driver_offset(given):
    hold(given["load_ohm"], limits.TEST_LOAD)
    return {"voc_min_v": limits.OFFSET_MINIMUM, "voc_max_v": limits.OFFSET_MAXIMUM}


@RECIPES.serves("tia485-driver-balance")
def driver_balance(given):
    hold(2 * given["r_each_half_ohm"], limits.TEST_LOAD)
    difference = limits.STATE_DIFFERENCE
    return {"delta_vod_max_v": difference, "delta_voc_max_v": difference, "voc_max_v": limits.OFFSET_MAXIMUM}


@RECIPES.serves("tia485-receiver-threshold")
def receiver_threshold(given):
    hold([given["vcm_min_v"], given["vcm_max_v"]], [limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM])
    threshold = limits.RECEIVER_THRESHOLD
    return {"vth_max_v": threshold, "vth_min_v": -threshold, "input_ohm_min": limits.UNIT_LOAD_RESISTANCE}


@RECIPES.serves("tia485-unit-load-corners")
def unit_load_corners(given):
    lowest, positive_foot, negative_foot, highest = given["v_v"]
    currents = [
        f.lowest_input_current(lowest),
        f.highest_input_current(positive_foot),
        f.lowest_input_current(negative_foot),
        f.highest_input_current(highest),
    ]
    return {"i_ma": np.array(currents) * KILO}


@RECIPES.serves("tia485-unit-load-model")
def unit_load_model(given):
    hold(given["r_ohm"], limits.UNIT_LOAD_SLOPE)
    hold(given["v_pos_ref_v"], limits.UNIT_LOAD_POSITIVE_REFERENCE)
    hold(given["v_neg_ref_v"], limits.UNIT_LOAD_NEGATIVE_REFERENCE)
    return {
        "i_at_12v_ma": f.highest_input_current(12.0) * KILO,
        "i_at_minus7v_ma": f.lowest_input_current(-7.0) * KILO,
    }


@RECIPES.serves("tia485-unit-load-at-zero")
def unit_load_at_zero(given):
    return {
        "i_upper_ma": f.highest_input_current(given["v_v"]) * KILO,
        "i_lower_ma": f.lowest_input_current(given["v_v"]) * KILO,
    }


@RECIPES.serves("tia485-bus-32-ul-ohm")
def bus_load(given):
    hold(given["unit_load_ohm"], limits.UNIT_LOAD_RESISTANCE)
    return {"bus_load_ohm": f.input_resistance(given["unit_loads"])}


@RECIPES.serves("tia485-cm-test-load")
def common_mode_test(given):
    hold(given["between_ohm"], limits.COMMON_MODE_TEST_TERMINATION)
    hold(given["each_to_source_ohm"], limits.COMMON_MODE_TEST_LINE_LOAD)
    hold(
        [given["source_min_v"], given["source_max_v"]],
        [limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM],
    )
    return {"vod_min_v": limits.LOADED_VOLTAGE_MINIMUM, "vod_max_v": limits.LOADED_VOLTAGE_MAXIMUM}


@RECIPES.serves("tia485-cm-test-currents")
def common_mode_test_currents(given):
    circuit = given["between_ohm"], given["each_to_source_ohm"], given["source_v"]
    return {
        "ia_out_ma": f.line_output_current(given["va_v"], given["vb_v"], *circuit) * KILO,
        "ib_out_ma": f.line_output_current(given["vb_v"], given["va_v"], *circuit) * KILO,
    }


@RECIPES.serves("tia485-54-ohm-as-60-less-10-percent")
def test_load_as_terminators(given):
    both = f.equal_parallel_resistance(given["terminator_ohm"], given["terminators"])
    return {"load_ohm": f.lowest_resistance(both, given["derate"])}


@RECIPES.serves("tia485-60-ohm-with-32-ul-two-ways")
def both_drawings(given):
    both = given["terminators_ohm"]
    return {
        "load_across_pair_model_ohm": f.loaded_termination(both, pair_load=given["across_pair_ohm"]),
        "load_per_line_model_ohm": f.loaded_termination(both, line_load=given["line_to_ground_each_ohm"]),
    }


@RECIPES.serves("tia422-ten-receivers")
def ten_receivers(given):
    receivers = f.equal_parallel_resistance(given["input_ohm"], given["receivers"])
    return {"receivers_ohm": receivers, "load_ohm": f.parallel_resistance(receivers, given["terminator_ohm"])}


# Unit loads


@RECIPES.serves("ul-slla272-96-nodes")
def nodes_beside_bias(given):
    return {"nodes_max": f.node_count(given["node_ul"], taken=given["bias_ul"], limit=given["bus_ul"])}


@RECIPES.serves("ul-fractions")
def nodes_without_bias(given):
    hold(given["bus_ul"], limits.UNIT_LOADS)
    return {"nodes_max": f.node_count(given["node_ul"])}


@RECIPES.serves("ul-eighth-ohm")
def eighth(given):
    hold(given["unit_load_ohm"], limits.UNIT_LOAD_RESISTANCE)
    return {"input_ohm": f.input_resistance(given["node_ul"]), "nodes_max": f.node_count(given["node_ul"])}


@RECIPES.serves("ul-pulldown-strict")
def pull_down(given):
    return {"ul": f.resistor_unit_loads(given["r_ohm"], 0.0)}


@RECIPES.serves("ul-pullup-strict")
def pull_up(given):
    return {"ul": f.resistor_unit_loads(given["r_ohm"], given["pullup_v"])}


@RECIPES.serves("ul-20-means-600-ohm")
def leg_of_twenty(given):
    return {"bias_ohm": f.input_resistance(given["bias_ul"], unit_load_resistance=given["unit_load_ohm"])}


@RECIPES.serves("ul-n-max-with-bias")
def nodes_beside_legs(given):
    return {"nodes_max": f.node_count(given["node_ul"], taken=f.resistor_unit_loads_by_custom(given["bias_ohm"]))}


@RECIPES.serves("ul-n-max-negative")
def nothing_left(given):
    return {"ul_left": f.spare_unit_loads(f.resistor_unit_loads_by_custom(given["bias_ohm"]))}


@RECIPES.serves("ul-profibus-terminators")
def active_terminator_loads(given):
    legs = f.equal_parallel_resistance(given["r_each_ohm"], given["terminators"])
    return {"ul": f.resistor_unit_loads(legs, 0.0)}


@RECIPES.serves("ul-modbus-650-against-4")
def modbus_legs(given):
    return {
        "ul_pulldown": f.resistor_unit_loads(given["bias_ohm"], 0.0),
        "ul_pullup": f.resistor_unit_loads(given["bias_ohm"], limits.MODBUS_BIAS_SUPPLY),
    }
