"""Recipes of line.toml: copper at DC and at frequency, and two wires side by side."""

import numpy as np
from recipe_tools import KILO, MICRO, MILLI, NANO, PICO, Recipes, hold

from rs485kit import formulas as f
from rs485kit.units import si

RECIPES = Recipes()
MIL, FOOT = si("0.001 ft", "m") / 12.0, si("1 ft", "m")


# Gauges


@RECIPES.serves("awg-copper-listed", "awg-copper-formula")
def gauges(given):
    return {
        "diameter_mm": f.gauge_diameter(given["awg"]) / MILLI,
        "r_ohm_per_km": f.gauge_resistance(given["awg"]) * KILO,
    }


@RECIPES.serves("awg24-resistance")
def one_gauge(given):
    return {"r_ohm_per_km": f.gauge_resistance(given["awg"], temperature=given["temperature_c"] + 273.15) * KILO}


@RECIPES.serves("awg24-loop-1200m")
def loop(given):
    return {"loop_ohm": f.loop_resistance(given["r_conductor_ohm_per_km"] / KILO, given["length_m"])}


@RECIPES.serves("telephone-pair-resistance")
def plant_resistance(given):
    return {"loop_r_ohm_per_km": f.loop_resistance(f.gauge_resistance(given["awg"]), KILO)}


@RECIPES.serves("telephone-pair-capacitance")
def plant_capacitance(given):
    return {"c_nf_per_km": np.asarray([si(f"{each!r} pF/ft", "F/m") for each in given["c_pf_per_ft"]]) / NANO * KILO}


# Skin effect


@RECIPES.serves(
    "skin-depth-copper-60hz-listed",
    "skin-depth-copper-1000hz-listed",
    "skin-depth-copper-20000hz-listed",
    "skin-depth-copper-200000hz-listed",
)
def listed_depth(given):
    return {"skin_depth_m": f.skin_depth(given["frequency_hz"], resistivity=given["resistivity_ohm_m"])}


@RECIPES.serves("skin-depth-copper")
def depth(given):
    return {"skin_depth_m": f.skin_depth(given["frequency_hz"])}


@RECIPES.serves(*(f"round-wire-ratio-x{x}" for x in (1, 2, 4, 8)), "round-wire-exact", "round-wire-listed")
def round_wire(given):
    return {"r_ac_over_r_dc": f.skin_effect_factor(2.0 * np.asarray(given["radius_over_skin_depth"]), 1.0)}


@RECIPES.serves("round-wire-thin-shell")
def ring(given):
    return {"r_ac_over_r_dc": f.ring_skin_effect_factor(2.0 * np.asarray(given["radius_over_skin_depth"]), 1.0)}


@RECIPES.serves("round-wire-low-frequency-series")
def series(given):
    wire = 2.0 * given["radius_over_skin_depth"], 1.0
    return {"r_ac_over_r_dc": f.skin_effect_factor(*wire), "series": f.quartic_skin_effect_factor(*wire)}


@RECIPES.serves("awg24-pair-internal-impedance")
def internal(given):
    diameter, frequency = 2.0 * given["wire_radius_mm"] * MILLI, np.asarray(given["frequency_hz"])
    resistivity = given["resistivity_ohm_m"]
    inside = 2.0 * f.internal_impedance(diameter, frequency, resistivity=resistivity)
    return {
        "r_loop_ohm_per_km": inside.real * KILO,
        "l_internal_loop_nh_per_m": inside.imag / (2.0 * np.pi * frequency) / NANO,
        "ratio_to_dc": f.skin_effect_factor(diameter, f.skin_depth(frequency, resistivity=resistivity)),
    }


@RECIPES.serves(*(f"proximity-factor-s{x}" for x in ("1p2", "1p5625", "2p0", "3p0")))
def proximity(given):
    return {"r_factor": f.proximity_factor(1.0, given["spacing_over_diameter"])}


@RECIPES.serves("proximity-seen-in-pic-cable")
def left_out(given):
    alone = 2.0 * f.internal_impedance(2.0 * given["wire_radius_mm"] * MILLI, given["frequency_hz"]).real * KILO
    return {"ratio": np.asarray(given["r_cable_ohm_per_km"]) / alone}


# Two wires


def _two_wires(diameter, spacing, permittivity):
    return {
        "c_pf_per_m": f.two_wire_capacitance(diameter, spacing, permittivity=permittivity) / PICO,
        "l_uh_per_m": f.two_wire_inductance(diameter, spacing) / MICRO,
        "z0_ohm": f.two_wire_impedance(diameter, spacing, permittivity=permittivity),
    }


@RECIPES.serves("two-wire-exact")
def two_wires(given):
    return _two_wires(2.0 * given["radius_mil"] * MIL, given["spacing_mil"] * MIL, given["eps_r"])


@RECIPES.serves("two-wire-exact-computed")
def two_wires_in_metres(given):
    return _two_wires(2.0 * given["radius_m"], given["spacing_m"], given["eps_r"])


@RECIPES.serves("two-wire-approx")
def wires_far_apart(given):
    wires = 2.0 * given["radius_mil"] * MIL, given["spacing_mil"] * MIL
    return {
        "c_pf_per_m": f.wide_two_wire_capacitance(*wires, permittivity=given["eps_r"]) / PICO,
        "l_uh_per_m": f.wide_two_wire_inductance(*wires) / MICRO,
    }


@RECIPES.serves("twisted-pair-untwisted-eps")
def insulated_pair(given):
    effective = f.untwisted_permittivity(given["eps_r"])
    hold(f.untwisted_permittivity(given["eps_r"], weight=0.25), effective)
    wires = given["conductor_mm"] * MILLI, given["insulation_mm"] * MILLI
    return {"eps_eff": effective, "z0_ohm": f.two_wire_impedance(*wires, permittivity=effective)}


@RECIPES.serves("neets-line-impedance")
def measured_section(given):
    length = given["section_ft"] * FOOT
    constants = given["l_section_h"] / length, given["c_section_f"] / length
    return {
        "z0_ohm": f.lossless_impedance(*constants),
        "velocity_ft_per_s": f.lossless_velocity(*constants) / FOOT,
    }
