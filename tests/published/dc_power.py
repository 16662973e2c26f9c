"""Recipes of dc.toml: supply current and power, common mode and ground difference."""

from recipe_tools import KILO, MILLI, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import limits

RECIPES = Recipes()


# Supply current and power


@RECIPES.serves("power-bus-current-hvd3082")
def driver_at_the_limit(given):
    level = given["vod_v"], given["terminators_ohm"]
    each = given["unit_load_ma"] * MILLI
    hold(each, limits.UNIT_LOAD_CURRENT)
    return {
        "ul_ma": f.highest_input_current(12.0, unit_loads=given["unit_loads"]) * KILO,
        "termination_ma": f.load_current(*level) * KILO,
        "sum_ma": f.bus_current(*level, unit_loads=given["unit_loads"], unit_load_current=each) * KILO,
    }


@RECIPES.serves("power-isolated-static-split")
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


@RECIPES.serves("power-isolated-budget")
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


@RECIPES.serves("power-isolated-average-polled")
def polled(given):
    talking, listening = given["icc_talking_ma"] * MILLI, given["icc_listening_ma"] * MILLI
    return {"average_ma": f.average_current(talking, listening, given["duty"]) * KILO}


@RECIPES.serves("power-receiver-hvd1476")
def receiver_heat(given):
    voltages = [given[key] for key in ("vcc_v", "va_v", "vb_v", "vr_v")]
    currents = [given[key] * MILLI for key in ("icc_ma", "ia_ma", "ib_ma", "ir_ma")]
    return {"power_mw": f.total_power(voltages, currents) * KILO}


@RECIPES.serves("power-isolated-turns-ratio")
def turns_ratio(given):
    keys = ("vo_v", "vf_v", "vdo_v", "vin_min_v", "rds_ohm", "id_a")
    return {"turns_ratio_min": f.least_turns_ratio(*(given[key] for key in keys))}


@RECIPES.serves("power-contention")
def contention(given):
    hold(given["i_limit_ma"] * MILLI, limits.SHORT_CIRCUIT_CURRENT)
    return {"power_mw": f.contention_power(given["vcc_v"]) * KILO}


@RECIPES.serves("power-remote-supply-drop")
def fed_node(given):
    wire = f.wire_resistance(given["conductor_ohm_per_km"] / KILO, given["length_km"] * KILO)
    return {"rs_ohm": wire, "vl_v": f.remote_supply_voltage(given["vs_v"], wire, given["il_ma"] * MILLI)}


# Common mode and ground difference


@RECIPES.serves("cm-definition")
def common_mode(given):
    parts = given["voc_v"], given["gpd_v"]
    return {
        "vcm_max_v": f.highest_common_mode(*parts, noise=given["noise_v"]),
        "vcm_min_v": f.lowest_common_mode(*parts, noise=given["noise_v"]),
    }


@RECIPES.serves("cm-range-from-supply")
def common_mode_range(given):
    return {
        "vcm_max_v": f.highest_common_mode(given["vcc_v"], given["gpd_v"]),
        "vcm_min_v": f.lowest_common_mode(0.0, given["gpd_v"]),
    }


@RECIPES.serves("cm-noise-headroom")
def noise_headroom(given):
    hold([given["voc_min_v"], given["voc_max_v"]], [limits.OFFSET_MINIMUM, limits.OFFSET_MAXIMUM])
    return {
        "headroom_upper_v": f.upper_noise_headroom(given["voc_max_v"], given["gpd_v"]),
        "headroom_lower_v": f.lower_noise_headroom(given["voc_min_v"], given["gpd_v"]),
    }


@RECIPES.serves("cm-reference-100-ohm")
def short_reference_wire(given):
    current = f.reference_current(given["gpd_v"], 0.0, node_resistance=given["r_each_ohm"])
    return {"current_ma": current * KILO, "power_each_mw": f.current_power(current, given["r_each_ohm"]) * KILO}


@RECIPES.serves("cm-reference-100-ohm-long")
def long_reference_wire(given):
    wire, each = given["wire_ohm"], given["r_each_ohm"]
    return {
        "current_ma": f.reference_current(given["gpd_v"], wire, node_resistance=each) * KILO,
        "residual_v": f.ground_difference_left(given["gpd_v"], wire, each),
    }


@RECIPES.serves("cm-shield-bonded-both-ends")
def bonded_shield(given):
    shield = f.wire_resistance(given["shield_ohm_per_km"] / KILO, given["length_km"] * KILO)
    current = f.reference_current(given["gpd_v"], shield)
    return {"shield_ohm": shield, "current_a": current, "power_w": f.current_power(current, shield)}


@RECIPES.serves("cm-ground-check-10k")
def ground_check(given):
    hold([given["r_ohm"], given["v_max_v"]], [limits.GROUND_CHECK_RESISTANCE, limits.GROUND_CHECK_VOLTAGE])
    return {"current_max_ma": f.load_current(given["v_max_v"], given["r_ohm"]) * KILO}
