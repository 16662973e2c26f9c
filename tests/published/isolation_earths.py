"""Recipes of isolation.toml: currents through barriers, floating references, common mode, earths, induction, touch."""

import math

import numpy as np
from recipe_tools import KILO, MICRO, MILLI, NANO, PICO, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import induction, stated
from rs485kit.formulas.immunity_levels import SURGE_IMPEDANCES
from rs485kit.formulas.limits import COMMON_MODE_MAXIMUM, COMMON_MODE_MINIMUM

RECIPES = Recipes()
COUPLINGS = {2: "line to line", 12: "line to earth", 42: "signal line", 40: "telecom line"}


# Currents through barriers


@RECIPES.serves("cm-current-6p8pf-100", "cm-current-1pf-100", "cm-current-3p5pf-100")
def displacement(given):
    current = f.displacement_current(given["capacitance_pf"] * PICO, given["slew_kv_per_us"] * 1e9)
    return {"current_ma": current * KILO}


@RECIPES.serves("cm-current-node-41pf-25")
def displacement_of_a_node(given):
    slew = given["slew_kv_per_us"] * 1e9
    parts = [f.displacement_current(given[key] * PICO, slew) for key in ("isolator_pf", "converter_pf")]
    return {"current_ma": sum(parts) * KILO, "converter_share": parts[1] / sum(parts)}


@RECIPES.serves("eft-slew-250v", "eft-slew-1kv")
def slew(given):
    return {"slew_kv_per_us": f.slew_rate(given["peak_kv"] * KILO, given["rise_ns"] * NANO) / 1e9}


@RECIPES.serves("eft-slew-1kv-10-90")
def slew_of_a_part(given):
    rate = f.slew_rate(given["peak_kv"] * KILO, given["rise_ns"] * NANO, covered_share=0.8)
    return {"slew_kv_per_us": rate / 1e9}


@RECIPES.serves("eft-burst-count")
def bursts(given):
    rates = np.array([given["rate1_khz"], given["rate2_khz"]]) * KILO
    lasting = f.burst_duration(rates, pulses=given["pulses"]) * KILO
    return {"duration1_ms": lasting[0], "duration2_ms": lasting[1]}


@RECIPES.serves(
    "surge-current-4kv-42ohm", "surge-current-6kv-40ohm", "surge-current-1kv-42ohm", "surge-current-2kv-42ohm",
    "surge-current-1kv-2ohm", "surge-current-2kv-12ohm",
)  # fmt: skip
def surge_current(given):
    coupling = COUPLINGS.get(given["impedance_ohm"], "line to line")
    hold(given["impedance_ohm"], SURGE_IMPEDANCES[coupling])
    return {"current_a": f.surge_current(given["open_circuit_kv"] * KILO, coupling)}


def _leakage(given):
    farads = given["capacitance_pf"] * PICO if "capacitance_pf" in given else given["capacitance_nf"] * NANO
    return f.leakage_current(given["rms_v"], farads, given["frequency_hz"], nodes=given.get("nodes", 1))


@RECIPES.serves("leakage-40pf-230v-50hz", "leakage-32-nodes-41pf", "leakage-ycap-1nf")
def leakage(given):
    return {"current_ua": _leakage(given) / MICRO}


@RECIPES.serves("leakage-ycap-1nf-10-nodes")
def leakage_of_ten(given):
    current = _leakage(given)
    return {"current_ma": current * KILO, "ok": bool(current <= given["limit_ma"] * MILLI)}


@RECIPES.serves("charge-limit-45uc")
def charge(given):
    hold(given["charge_uc"] / 1e6, stated.ACCESSIBLE_CHARGE.value)
    return {"capacitance_nf": f.largest_capacitance(given["charge_uc"] * MICRO, given["voltage_kv"] * KILO) / NANO}


# A reference that floats


@RECIPES.serves("bleed-1meg-230v")
def bleed(given):
    ohms = given["resistance_mohm"] * 1e6
    return {
        "current_ma": f.load_current(given["rms_v"], ohms) * KILO,
        "power_mw": f.resistor_power(given["rms_v"], ohms) * KILO,
    }


@RECIPES.serves("bleed-parallel-10")
def bleeds(given):
    return {"resistance_kohm": f.equal_parallel_resistance(given["resistance_mohm"] * 1e6, given["nodes"]) / KILO}


@RECIPES.serves("bleed-rc-discharge")
def bleed_time(given):
    """The time in which a voltage falls to its 1/e-th part is the time constant."""
    farads = given["nodes"] * given["capacitance_pf"] * PICO
    return {"tau_ms": f.discharge_time(given["resistance_mohm"] * 1e6, farads, math.e, 1.0) * KILO}


@RECIPES.serves("floating-divider")
def floating(given):
    farads = given["c_source_pf"] * PICO, given["c_earth_pf"] * PICO
    return {"reference_rms_v": f.floating_voltage(given["source_rms_v"], *farads)}


# Common mode and reference conductor


@RECIPES.serves("vcm-budget-high")
def budget_high(given):
    highest = f.highest_common_mode(given["driver_offset_v"], given["gpd_v"], noise=given["noise_v"])
    hold(highest, COMMON_MODE_MAXIMUM)
    return {"vcm_v": highest}


@RECIPES.serves("vcm-budget-low")
def budget_low(given):
    lowest = f.lowest_common_mode(given["driver_offset_v"], abs(given["gpd_v"]), noise=abs(given["noise_v"]))
    hold(lowest, COMMON_MODE_MINIMUM)
    return {"vcm_v": lowest}


@RECIPES.serves("ground-resistor-current")
def ground_resistors(given):
    hold(given["count"], 2)
    current = f.reference_current(given["gpd_v"], 0.0, node_resistance=given["resistor_ohm"])
    return {"current_ma": current * KILO, "power_each_mw": f.current_power(current, given["resistor_ohm"]) * KILO}


@RECIPES.serves("ground-resistor-limit")
def ground_resistor_limit(given):
    hold(given["count"], 2)
    return {
        "current_ma": f.rated_current(given["rating_w"], given["resistor_ohm"]) * KILO,
        "gpd_v": f.largest_ground_difference(given["rating_w"], given["resistor_ohm"]),
    }


@RECIPES.serves("ground-check-10k")
def ground_check(given):
    return {"current_ua": f.load_current(given["limit_v"], given["resistor_kohm"] * KILO) / MICRO}


# Earths


def _rod(given):
    return given["resistivity_ohm_m"], given["length_m"], given["diameter_mm"] * MILLI


@RECIPES.serves("rod-3m-16mm-100ohmm", "rod-10ft-0p75in", "rod-20ft-0p625in", "rod-10ft-1in-10ohmm")
def rod(given):
    return {"resistance_ohm": f.rod_resistance(*_rod(given))}


@RECIPES.serves("rod-array-26")
def rods(given):
    row = f.rod_row_resistance(*_rod(given), given["spacing_m"], given["rods"])
    return {"share": row / f.rod_resistance(*_rod(given)), "resistance_ohm": row}


@RECIPES.serves("rod-influence-10ft")
def rod_share(given):
    return {"fraction": f.rod_potential_share(given["length_m"], given["diameter_mm"] * MILLI, given["distance_m"])}


@RECIPES.serves("rod-step-voltage-20ka")
def step(given):
    volts = f.rod_step_voltage(given["current_ka"] * KILO, *_rod(given), given["pace_m"])
    return {"step_kv": volts / KILO}


@RECIPES.serves("rod-gpr-20ka")
def rise(given):
    return {"potential_kv": f.ground_potential_rise(given["current_ka"] * KILO, given["resistance_ohm"]) / KILO}


@RECIPES.serves("gpr-two-buildings")
def two_buildings(given):
    stroke = given["current_ka"] * KILO, given["resistivity_ohm_m"]
    first, second = (f.spreading_voltage(*stroke, given[key]) / KILO for key in ("r1_m", "r2_m"))
    return {"v1_kv": first, "v2_kv": second, "difference_kv": first - second}


@RECIPES.serves("gpd-copper-drop")
def copper_drop(given):
    ohms = f.copper_resistance(given["area_mm2"] * MICRO) * given["length_m"]
    return {"resistance_ohm": ohms, "drop_v": f.ground_potential_rise(given["current_a"], ohms)}


@RECIPES.serves("gpd-tn-fault-half")
def fault(given):
    volts = f.fault_earth_voltage(given["line_rms_v"], given["line_ohm"], given["earth_ohm"])
    return {"earth_rise_rms_v": volts}


# Induction


@RECIPES.serves("wire-inductance-drop")
def leads(given):
    hold(given["inductance_uh_per_m"] * MICRO, induction.LEAD_INDUCTANCE)
    dropped = f.lead_voltage(given["lead1_m"] + given["lead2_m"], given["didt_ka_per_us"] * 1e9)
    return {"total_kv": given["protection_kv"] + dropped / KILO}


@RECIPES.serves("loop-emf-small-loop")
def small_loop(given):
    mutual = f.small_loop_mutual_inductance(math.pi * given["diameter_m"] ** 2 / 4.0, given["distance_m"])
    return {"emf_v": f.induced_voltage(mutual, given["current_a"] / (given["fall_us"] * MICRO))}


def _rectangle(given):
    return f.rectangle_mutual_inductance(given["length_m"], given["near_m"], given["far_m"])


@RECIPES.serves("loop-emf-rectangular-lightning")
def rectangle(given):
    mutual = _rectangle(given)
    return {"mutual_uh": mutual / MICRO, "emf_kv": f.induced_voltage(mutual, given["didt_ka_per_us"] * 1e9) / KILO}


@RECIPES.serves("loop-emf-rectangular-50hz")
def hum(given):
    volts = f.induced_voltage_rms(_rectangle(given), given["current_rms_a"], given["frequency_hz"])
    return {"emf_rms_mv": volts * KILO}


# Touch current


def _body():
    return stated.TOUCH_NETWORK["body resistance"].value


@RECIPES.serves("touch-u2-ac", "touch-u1-hf")
def touch_peak(given):
    hold(given["body_ohm"], _body())
    volts = given["u2_peak_v"] if "u2_peak_v" in given else given["u1_peak_v"]
    return {"current_peak_ma": f.load_current(volts, _body()) * KILO}


@RECIPES.serves("touch-u1-dc")
def touch_direct(given):
    hold(given["body_ohm"], _body())
    return {"current_ma": f.load_current(given["u1_v"], _body()) * KILO}


@RECIPES.serves("touch-34v-50k")
def touch_through(given):
    peak = f.load_current(given["peak_v"], given["resistance_kohm"] * KILO)
    return {"current_peak_ma": peak * KILO, "current_rms_ma": peak / f.sine_peak(1.0) * KILO}


@RECIPES.serves("touch-network-impedance-dc", "touch-network-impedance-1mhz")
def touch_impedance(given):
    return {"impedance_ohm": abs(f.touch_network_impedance(given["frequency_hz"]))}


@RECIPES.serves("touch-network-weighting-1khz")
def touch_weight(given):
    return {"ratio": f.touch_filter_ratio(given["frequency_hz"])}
