"""Recipes of dc.toml: terminators, conductors, length and data rate."""

from recipe_tools import KILO, MICRO, MILLI, NANO, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import limits
from rs485kit.units import si

RECIPES = Recipes()


# Terminators


@RECIPES.serves("termination-pairs")
def pairs(given):
    return {"load_ohm": f.equal_parallel_resistance(given["terminator_ohm"], 2)}


@RECIPES.serves("termination-dc-current")
def terminator_current(given):
    return {"current_ma": f.load_current(given["vod_v"], given["load_ohm"]) * KILO}


@RECIPES.serves("termination-power")
def terminator_heat(given):
    return {
        "power_mw": f.resistor_power(given["v_v"], given["r_ohm"]) * KILO,
        "power_modbus_mw": f.resistor_power(given["v_modbus_v"], given["r_modbus_ohm"]) * KILO,
    }


@RECIPES.serves("termination-reflection-ends")
def reflection(given):
    return {"gamma": f.reflection_coefficient(given["r_ohm"], given["z0_ohm"])}


@RECIPES.serves("termination-reflection-midline")
def midline_reflection(given):
    return {"gamma": f.midline_reflection_coefficient(given["r_ohm"], given["z0_ohm"])}


@RECIPES.serves("termination-third-terminator")
def third_terminator(given):
    load = f.equal_parallel_resistance(given["terminator_ohm"], given["terminators"])
    return {"load_ohm": load, "current_ma": f.load_current(given["vod_v"], load) * KILO}


@RECIPES.serves("termination-profibus-mismatch")
def active_mismatch(given):
    return {"gamma": f.reflection_coefficient(given["effective_ohm"], given["z0_ohm"])}


@RECIPES.serves("termination-corrected-for-receivers")
def corrected_for_receivers(given):
    receivers = f.equal_parallel_resistance(given["receiver_ohm"], given["receivers"])
    return {
        "receivers_ohm": receivers,
        "terminator_ohm": f.compensated_termination(given["z0_ohm"], receivers),
    }


@RECIPES.serves("termination-with-bias-114")
def end_with_bias(given):
    return {"effective_ohm": f.biased_termination(given["terminator_ohm"], given["bias_ohm"], given["bias_ohm"])}


@RECIPES.serves("termination-ac-modbus-time")
def series_rc(given):
    parts = given["r_ohm"], given["c_nf"] * NANO
    constant = f.time_constant(*parts)
    return {
        "tau_ns": constant / NANO,
        "corner_khz": f.corner_frequency(*parts) / KILO,
        "tau_of_bit": f.bit_share(constant, given["rate_bps"]),
    }


@RECIPES.serves("termination-ac-rule-4-tau")
def series_rc_rule(given):
    delay = f.line_delay(given["length_m"], 1 / (given["delay_ns_per_m"] * NANO))
    return {"c_min_nf": f.least_capacitance(given["r_ohm"], delay, delays=given["multiple"]) / NANO}


@RECIPES.serves("termination-ac-power")
def series_rc_heat(given):
    heat = f.switching_power(given["c_nf"] * NANO, given["swing_v"], given["transitions_per_s"])
    return {"power_mw": heat * KILO}


# Conductors and the drop along them


@RECIPES.serves(*(f"awg-{gauge}-resistance" for gauge in (18, 19, 20, 22, 23, 24, 25, 26, 27, 28)))
def printed_gauge(given):
    # The expected figure is the printed one in other units: hold it there, so that a slip in the data shows.
    printed = si(f"{given['printed_ohm_per_100ft'] / 100!r} ohm/ft", "ohm/m") * KILO
    computed = f.gauge_resistance(given["awg"]) * KILO
    assert abs(computed - printed) <= 0.002 * printed
    return {"conductor_ohm_per_km": computed}


@RECIPES.serves("awg-21-resistance")
def gauge_between(given):
    diameter = f.gauge_diameter(given["awg"])
    return {
        "diameter_mm": diameter / MILLI,
        "area_mm2": f.wire_area(diameter) / MILLI**2,
        "conductor_ohm_per_km": f.gauge_resistance(given["awg"]) * KILO,
    }


@RECIPES.serves("awg-diameters")
def diameters(given):
    return {"diameter_mm": f.gauge_diameter(given["awg"]) / MILLI}


@RECIPES.serves("awg-24-at-60c")
def warm_copper(given):
    cold, temperature = given["r20_ohm_per_km"] / KILO, given["t_c"] + 273.15
    warm = f.resistance_at_temperature(cold, temperature, coefficient=given["alpha_per_k"])
    hold(f.resistance_at_temperature(cold, temperature), warm)
    return {"conductor_ohm_per_km": warm * KILO}


@RECIPES.serves("cable-belden-9843-dcr")
def printed_per_thousand_feet(given):
    return {"conductor_ohm_per_km": si(f"{given['printed_ohm_per_1000ft'] / 1000!r} ohm/ft", "ohm/m") * KILO}


@RECIPES.serves("cable-profibus-a-core")
def two_core_limits(given):
    area = f.wire_area(given["core_mm"] * MILLI)
    return {
        "area_of_0p64mm_mm2": area / MILLI**2,
        "loop_0p64mm_ohm_per_km": f.loop_resistance(f.copper_resistance(area), 1000.0),
        "loop_0p34mm2_ohm_per_km": f.loop_resistance(f.copper_resistance(given["core_mm2"] * MILLI**2), 1000.0),
    }


@RECIPES.serves("drop-4000ft-15-mohm")
def drop_over_feet(given):
    conductor = si(f"{given['conductor_mohm_per_ft'] / 1000!r} ohm/ft", "ohm/m")
    loop = f.loop_resistance(conductor, si(f"{given['length_ft']!r} ft", "m"))
    return {"loop_ohm": loop, "v_far_v": f.far_voltage(given["vod_v"], given["terminator_ohm"], loop)}


@RECIPES.serves("drop-1200m-awg24", "drop-1000m-awg26-modbus")
def drop_over_length(given):
    loop = f.loop_resistance(given["conductor_ohm_per_km"] / KILO, given["length_km"] * KILO)
    return {
        "loop_ohm": loop,
        "ratio": f.level_ratio(given["terminator_ohm"], loop),
        "loss_db": f.level_loss(given["terminator_ohm"], loop),
    }


@RECIPES.serves("drop-6db-length-awg24")
def half_level(given):
    line = given["terminator_ohm"], given["conductor_ohm_per_km"] / KILO
    return {
        "length_loop_m": f.half_level_length(*line),
        "length_single_conductor_m": f.half_level_length(*line, conductors=1),
    }


@RECIPES.serves("drop-max-length-1v5-to-0v2")
def longest_by_dc(given):
    level = given["vod_v"], given["v_far_v"], given["terminator_ohm"]
    return {
        "loop_max_ohm": f.largest_loop_resistance(*level),
        "length_max_m": f.longest_length(*level, given["conductor_ohm_per_km"] / KILO),
    }


@RECIPES.serves("drop-driver-load-long-cable")
def load_of_long_cable(given):
    one = given["terminator_ohm"]
    return {"driver_load_ohm": f.driver_load(one, one, given["loop_ohm"])}


# Length and data rate


@RECIPES.serves("length-modbus")
def modbus_lengths(given):
    hold([given["rate_bps"], given["awg"]], [limits.MODBUS_TRUNK_RATE, limits.MODBUS_TRUNK_GAUGE])
    return {
        "trunk_max_m": limits.MODBUS_TRUNK_LENGTH,
        "stub_max_m": limits.MODBUS_STUB_LENGTH,
        "tap_stub_max_m": f.tap_stub_length(given["tap_ports"]),
    }


@RECIPES.serves("length-rule-1e8")
def constant_product(given):
    return {"length_max_m": f.length_by_product(given["rate_bps"], product=given["product_m_bps"])}


@RECIPES.serves("length-unterminated-three-round-trips")
def without_terminators(given):
    foot = si("1 ft", "m")
    velocity = given["velocity_ft_per_ns"] * foot / NANO
    length = f.unterminated_length(given["rate_bps"], velocity, round_trips=given["round_trips"])
    return {"length_max_ft": length / foot}


@RECIPES.serves("length-bb-2000ft-settling")
def settling(given):
    line = si(f"{given['length_ft']!r} ft", "m"), f.propagation_velocity(given["velocity_of_c"])
    return {
        "round_trip_us": f.settling_time(*line, round_trips=1) / MICRO,
        "settle_us": f.settling_time(*line, round_trips=given["round_trips"]) / MICRO,
        "bit_us": f.bit_time(given["rate_bps"]) / MICRO,
    }
