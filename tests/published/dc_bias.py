"""Recipes of dc.toml: failsafe bias."""

from recipe_tools import KILO, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import limits

RECIPES = Recipes()


def terminators(given):
    return f.equal_parallel_resistance(given["terminator_ohm"], given["terminators"])


def both_ends(given):
    return f.parallel_resistance(given["terminator_near_ohm"], given["terminator_far_ohm"])


def equal_legs(supply, bias, **loads):
    return f.idle_voltage(supply, bias, bias, **loads)


@RECIPES.serves("bias-bb-32-nodes-no-termination")
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


@RECIPES.serves("bias-bb-10-nodes-terminated")
def biased_nodes(given):
    bias = f.equal_parallel_resistance(given["bias_each_node_ohm"], given["nodes"])
    nodes = f.equal_parallel_resistance(given["node_ohm"], given["nodes"])
    loads = {"termination": terminators(given), "pair_load": nodes}
    return {
        "current_ma": f.bias_current(given["vcc_v"], bias, bias, **loads) * KILO,
        "v_idle_v": equal_legs(given["vcc_v"], bias, **loads),
    }


@RECIPES.serves("bias-bb-10-nodes-unterminated")
def biased_nodes_unterminated(given):
    bias = f.equal_parallel_resistance(given["bias_each_node_ohm"], given["nodes"])
    nodes = f.equal_parallel_resistance(given["node_ohm"], given["nodes"])
    current = f.bias_current(given["vcc_v"], bias, bias, pair_load=nodes)
    return {
        "total_ohm": given["vcc_v"] / current,
        "current_ma": current * KILO,
        "v_idle_v": equal_legs(given["vcc_v"], bias, pair_load=nodes),
    }


@RECIPES.serves("bias-two-places-500-and-620", "bias-two-places-500-and-620-at-5v")
def two_places(given):
    bias = f.parallel_resistance(given["bias_pair_1_ohm"], given["bias_pair_2_ohm"])
    return {"bias_each_ohm": bias, "v_idle_v": equal_legs(given["vcc_v"], bias, termination=terminators(given))}


@RECIPES.serves("bias-rdm-3v3-390-150", "bias-rdm-3v3-396-141", "bias-rdm-562-133-no-load")
def trimmed_end(given):
    bias = given["bias_ohm"]
    return {
        "v_idle_v": equal_legs(given["vcc_v"], bias, termination=both_ends(given)),
        "near_end_ohm": f.biased_termination(given["terminator_near_ohm"], bias, bias),
    }


@RECIPES.serves("bias-rdm-562-133-32-ul")
def trimmed_end_with_nodes(given):
    loads = {"line_load": given["each_line_to_source_ohm"], "line_source": given["source_v"]}
    return {"v_idle_v": equal_legs(given["vcc_v"], given["bias_ohm"], termination=both_ends(given), **loads)}


@RECIPES.serves("bias-rdm-limits")
def rdm_limits(given):
    hold(given["nominal_ohm"], limits.RDM_TERMINATION)
    return {
        "v_idle_min_v": limits.RDM_IDLE_MINIMUM,
        "termination_tolerance": limits.RDM_TERMINATION_TOLERANCE,
    }


@RECIPES.serves("bias-rdm-510")
def rdm_legs(given):
    supply, bias, both = given["vcc_v"], given["bias_ohm"], terminators(given)
    return {
        "v_idle_v": equal_legs(supply, bias, termination=both),
        "current_ma": f.bias_current(supply, bias, bias, termination=both) * KILO,
        "bias_max_for_245mv_ohm": f.largest_bias(supply, limits.RDM_IDLE_MINIMUM, termination=both),
    }


@RECIPES.serves(
    "bias-bacnet-510",
    "bias-modbus-450-650-lt-150",
    "bias-modbus-450-650-lt-120",
    "bias-270-82",
    "bias-1k-pair-fails",
    "bias-4k7-pair-fails",
)
def one_network(given):
    return {"v_idle_v": equal_legs(given["vcc_v"], given["bias_ohm"], termination=terminators(given))}


@RECIPES.serves("bias-bacnet-two-sets")
def two_sets(given):
    bias = f.equal_parallel_resistance(given["bias_ohm"], given["sets"])
    return {"v_idle_v": equal_legs(given["vcc_v"], bias, termination=terminators(given))}


@RECIPES.serves("bias-bacnet-local-47k")
def local_bias(given):
    bias = f.equal_parallel_resistance(given["local_bias_ohm"], given["nodes"])
    return {"bias_each_ohm": bias, "v_idle_v": equal_legs(given["vcc_v"], bias, termination=terminators(given))}


@RECIPES.serves("bias-modbus-range")
def modbus_range(given):
    hold(given["supply_v"], limits.MODBUS_BIAS_SUPPLY)
    return {
        "bias_min_ohm": limits.MODBUS_BIAS_MINIMUM,
        "bias_max_ohm": limits.MODBUS_BIAS_MAXIMUM,
        "devices_removed": limits.MODBUS_DEVICES_GIVEN_UP,
    }


@RECIPES.serves("bias-modbus-650-ac-terminated")
def modbus_without_dc_load(given):
    nodes = f.input_resistance(given["unit_loads"], unit_load_resistance=given["unit_load_ohm"])
    return {
        "v_idle_across_pair_model_v": equal_legs(given["vcc_v"], given["bias_ohm"], pair_load=nodes),
        "v_idle_per_line_model_v": equal_legs(given["vcc_v"], given["bias_ohm"], line_load=nodes),
    }


@RECIPES.serves("bias-ti-formula-528")
def matched_end(given):
    supply, impedance, nodes = given["vcc_min_v"], given["z0_ohm"], given["each_line_to_ground_ohm"]
    bias = f.matched_bias(supply, given["v_idle_v"], impedance, line_load=nodes)
    both = f.parallel_resistance(f.near_termination(impedance, bias, bias), impedance)
    return {"bias_ohm": bias, "v_idle_check_v": equal_legs(supply, bias, termination=both, line_load=nodes)}


@RECIPES.serves("bias-ti-formula-rt2")
def matched_end_terminator(given):
    return {"terminator_near_ohm": f.near_termination(given["z0_ohm"], given["bias_ohm"], given["bias_ohm"])}


@RECIPES.serves("bias-renesas-as-quoted")
def plus_one_rule(given):
    nodes = f.input_resistance(limits.UNIT_LOADS)
    bias = f.plus_one_bias(given["vcc_v"], given["v_idle_target_v"], given["z0_ohm"], line_load=nodes)
    return {"bias_ohm": bias, "terminator_near_ohm": f.near_termination(given["z0_ohm"], bias, bias)}


@RECIPES.serves("bias-renesas-as-quoted-result")
def plus_one_result(given):
    supply, bias, both = given["vcc_v"], given["bias_ohm"], both_ends(given)
    nodes = given["each_line_to_ground_ohm"]
    return {
        "v_idle_unloaded_v": equal_legs(supply, bias, termination=both),
        "v_idle_32_ul_v": equal_legs(supply, bias, termination=both, line_load=nodes),
    }


@RECIPES.serves("bias-0p036-is-4-over-z0-plus-1-over-375")
def matched_conductance(given):
    nodes = given["each_line_to_ground_ohm"]
    return {"constant_per_ohm": f.matched_bias_conductance(given["z0_ohm"], line_load=nodes)}


@RECIPES.serves("bias-st-500-130", "bias-spc-620-130")
def one_or_two_terminators(given):
    supply, bias, near = given["vcc_v"], given["bias_ohm"], given["terminator_near_ohm"]
    return {
        "v_idle_one_terminator_v": equal_legs(supply, bias, termination=near),
        "v_idle_two_terminators_v": equal_legs(supply, bias, termination=both_ends(given)),
        "near_end_ohm": f.biased_termination(near, bias, bias),
    }


@RECIPES.serves("termination-spc-133")
def trimmed_terminator(given):
    return {"terminator_near_ohm": f.near_termination(given["z_ohm"], given["bias_ohm"], given["bias_ohm"])}


@RECIPES.serves("bias-max-for-200mv")
def largest_legs(given):
    both = given["terminators_ohm"]
    bias = f.largest_bias(given["vcc_v"], given["v_idle_v"], termination=both)
    return {"bias_max_ohm": bias, "current_ma": f.bias_current(given["vcc_v"], bias, bias, termination=both) * KILO}


@RECIPES.serves("profibus-terminator-ohm")
def active_terminator(given):
    return {"effective_ohm": f.biased_termination(given["across_ohm"], given["up_ohm"], given["down_ohm"])}


def active_pair(given, far_supply):
    network = given["vp_v"], given["up_ohm"], given["across_ohm"], given["down_ohm"]
    return {"v_idle_v": f.active_idle_voltage(*network, far_supply=far_supply)}


@RECIPES.serves("profibus-idle-two-terminators")
def active_both_on(given):
    hold(given["terminators"], 2)
    return active_pair(given, "on")


@RECIPES.serves("profibus-idle-one-powered")
def active_one_open(given):
    return active_pair(given, "open")


@RECIPES.serves("profibus-idle-one-supply-at-zero")
def active_one_low(given):
    return active_pair(given, "low")


@RECIPES.serves("bias-not-uniform-on-long-cable")
def long_cable(given):
    hold(given["terminators"], 2)
    one = given["terminator_ohm"]
    loop = f.loop_resistance(given["conductor_ohm_per_km"] / KILO, given["length_km"] * KILO)
    near = equal_legs(given["vcc_v"], given["bias_ohm"], termination=f.driver_load(one, one, loop))
    return {"loop_ohm": loop, "v_near_v": near, "v_far_v": f.far_voltage(near, one, loop)}


@RECIPES.serves("bias-resistor-power-at-cm-limits")
def bias_heat(given):
    hold(given["line_v"], [limits.COMMON_MODE_MAXIMUM, limits.COMMON_MODE_MINIMUM])
    return {"power_mw": f.bias_power(given["line_v"], given["bias_ohm"], [0.0, given["pullup_v"]]) * KILO}
