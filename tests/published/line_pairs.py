"""Recipes of line.toml: published pairs, structured cabling, and lossy lines of textbooks."""

import math

import numpy as np
from recipe_tools import KILO, MICRO, NANO, PICO, Recipes

from rs485kit import formulas as f
from rs485kit.formulas import reference_pair, telephone_pair
from rs485kit.units import si

RECIPES = Recipes()
NEPER = 20.0 / math.log(10.0)
MEGA = 1e6


def per_metre(given):
    """Return the primary constants of a check that has them per km."""
    keys = {"r_ohm_per_km": 1.0, "l_uh_per_km": MICRO, "g_us_per_km": MICRO, "c_nf_per_km": NANO}
    return [np.asarray(given[key]) * scale / KILO for key, scale in keys.items()]


def secondary(frequency, constants):
    """Return what follows from primary constants at a frequency, per km, under the keys of the checks."""
    impedance = np.asarray(f.characteristic_impedance(frequency, *constants))
    constant = np.asarray(f.propagation_constant(frequency, *constants))
    return {
        "z0_re_ohm": impedance.real,
        "z0_im_ohm": impedance.imag,
        "z0_abs_ohm": np.abs(impedance),
        "alpha_db_per_km": f.attenuation(frequency, *constants) * KILO,
        "beta_rad_per_km": constant.imag * KILO,
        "phase_delay_us_per_km": f.phase_delay(frequency, *constants) / MICRO * KILO,
    }


def modelled(pair, frequency):
    """Return the primary constants of a telephone pair."""
    return [
        f.telephone_pair_resistance(frequency, pair=pair),
        f.telephone_pair_inductance(frequency, pair=pair),
        f.telephone_pair_conductance(frequency, pair=pair),
        f.telephone_pair_capacitance(frequency, pair=pair),
    ]


# Published models


@RECIPES.serves("bt-model-coefficients")
def telephone_coefficients(given):
    keys = {
        "r0c_ohm_per_km": "resistance",
        "ac_ohm4_per_km4_hz2": "resistance_rise",
        "l0_h_per_km": "inductance",
        "linf_h_per_km": "inductance_high",
        "fm_hz": "inductance_frequency",
        "b": "inductance_exponent",
        "cinf_f_per_km": "capacitance",
        "c0_f_per_km": "capacitance_fall",
        "ce": "capacitance_exponent",
        "g0_s_per_km": "conductance",
        "ge": "conductance_exponent",
    }
    return _coefficients(telephone_pair.COEFFICIENTS, given["pair"], keys)


@RECIPES.serves("gfast-model-coefficients")
def reference_coefficients(given):
    keys = {
        "z0inf_ohm": "impedance",
        "nvf": "velocity_factor",
        "rs0_ohm_per_m": "resistance",
        **{key: key for key in ("ql", "qh", "qx", "qy", "qc")},
        "phi_rad": "phi",
        "fd_hz": "dielectric_frequency",
    }
    return _coefficients(reference_pair.COEFFICIENTS, given["pair"], keys)


def _coefficients(coefficients, pairs, keys):
    assert set(pairs) == set(coefficients)
    return {key: [getattr(coefficients[pair], name) for pair in pairs] for key, name in keys.items()}


@RECIPES.serves(
    *("ansi-24awg-secondary", "ansi-26awg-secondary", "bt-dwug-1mhz"),
    *(f"ansi-{gauge}awg-rlgc-{frequency}khz" for gauge in (24, 26) for frequency in (100, 1000, 10000)),
    *(f"pe-0p{diameter}mm" for diameter in (32, 40, 50, 63, 90)),
)
def telephone_model(given):
    frequency = given["frequency_hz"]
    resistance, inductance, conductance, capacitance = constants = modelled(given["pair"], frequency)
    return {
        "r_ohm_per_km": resistance * KILO,
        "l_uh_per_km": inductance / MICRO * KILO,
        "g_us_per_km": conductance / MICRO * KILO,
        "c_nf_per_km": np.broadcast_to(capacitance, np.shape(resistance)) / NANO * KILO,
        **secondary(frequency, constants),
    }


@RECIPES.serves("pic-24awg-secondary")
def printed_constants(given):
    return secondary(given["frequency_hz"], per_metre(given))


@RECIPES.serves("model-against-table-24awg-alpha")
def model_against_table(given):
    frequency = given["frequency_hz"]
    model = f.attenuation(frequency, *modelled(given["pair"], frequency))
    return {"alpha_model_over_table": model / f.attenuation(frequency, *per_metre(given))}


@RECIPES.serves(*(f"gfast-{pair}" for pair in ("cat5-24awg", "b05a-0p5mm", "t05u-0p5mm", "t05b-0p5mm", "t05h-0p5mm")))
def gfast(given):
    frequency, pair = np.asarray(given["frequency_hz"]), given["pair"]
    series = f.reference_pair_impedance(frequency, pair=pair)
    shunt = f.reference_pair_admittance(frequency, pair=pair)
    turning = 2.0 * np.pi * frequency
    constants = series.real, series.imag / turning, shunt.real, shunt.imag / turning
    impedance = f.characteristic_impedance(frequency, *constants)
    constant = f.propagation_constant(frequency, *constants)
    return {
        "zs_re_ohm_per_m": series.real,
        "zs_im_ohm_per_m": series.imag,
        "z0_re_ohm": impedance.real,
        "z0_im_ohm": impedance.imag,
        "alpha_db_per_100m": constant.real * NEPER * 100.0,
        "phase_delay_ns_per_m": constant.imag / turning / NANO,
    }


# The RC line, and resistors on a real pair


@RECIPES.serves("bt-telephone-pair-loss-1600hz", "rc-line-1600hz-0p5mm", "rc-line-1600hz-0p5mm-formula")
def rc_line(given):
    line = np.asarray(given["r_ohm_per_km"]) / KILO, given["c_nf_per_km"] * NANO / KILO
    return {"alpha_db_per_km": f.rc_line_attenuation(given["frequency_hz"], *line) * KILO}


@RECIPES.serves("bt-telephone-pair-rc")
def rc_line_at_two_frequencies(given):
    line = np.asarray(given["r_ohm_per_km"]) / KILO, given["c_nf_per_km"] * NANO / KILO
    return {f"alpha_{hz}hz_db_per_km": f.rc_line_attenuation(hz, *line) * KILO for hz in (800, 1600)}


@RECIPES.serves("termination-mismatch-against-frequency")
def mismatch(given):
    impedance = f.characteristic_impedance(given["frequency_hz"], *per_metre(given))
    return {
        "rho_120": np.abs(f.complex_reflection_coefficient(given["r_term_a_ohm"], impedance)),
        "rho_100": np.abs(f.complex_reflection_coefficient(given["r_term_b_ohm"], impedance)),
    }


# Structured cabling


ATTENUATIONS = {"3": f.category_3_attenuation, "5e": f.category_5e_attenuation}


def _limit(category, megahertz):
    return {"loss_db_per_100m": ATTENUATIONS[category](np.asarray(megahertz) * MEGA) * 100.0}


@RECIPES.serves("tia568-insertion-loss-cat3", "tia568-insertion-loss-cat3-formula")
def category_3(given):
    return _limit("3", given["frequency_mhz"])


@RECIPES.serves("tia568-insertion-loss-cat5e", "tia568-insertion-loss-cat5e-formula")
def category_5e(given):
    return _limit("5e", given["frequency_mhz"])


@RECIPES.serves(
    *(f"tia568-cat3-{frequency}mhz" for frequency in ("1p0", "10p0", "16p0")),
    *(f"tia568-cat5e-{frequency}mhz" for frequency in ("1p0", "10p0", "31p25", "100p0")),
)
def category(given):
    assert given["category"] in ATTENUATIONS
    return _limit(given["category"], given["frequency_mhz"])


@RECIPES.serves("tia568-temperature")
def warm_cable(given):
    return {"factor": f.category_5e_attenuation_factor(given["temperature_c"] + 273.15)}


@RECIPES.serves("class-d-delay", "class-d-delay-formula")
def link_delays(given):
    frequency = np.asarray(given["frequency_mhz"]) * MEGA
    channel, link = (
        f.class_d_delay(given[f"{kind}_m"], frequency, given[f"{kind}_connections"]) / NANO
        for kind in ("channel", "link")
    )
    return {
        "channel_listed_ns": channel,
        "link_listed_ns": link,
        "channel_formula_ns": channel,
        "link_formula_ns": link,
    }


@RECIPES.serves("cat5e-cable-delay-limit")
def cable_delay(given):
    return {"delay_ns_per_100m": f.category_5e_delay(np.asarray(given["frequency_mhz"]) * MEGA) / NANO * 100.0}


# Lossy lines of textbooks


def _lossy(frequency, constants, length, unit):
    constant = np.asarray(f.propagation_constant(frequency, *constants))
    impedance = np.asarray(f.characteristic_impedance(frequency, *constants))
    return {
        f"alpha_np_per_{unit}": constant.real * length,
        f"beta_rad_per_{unit}": constant.imag * length,
        "z0_re_ohm": impedance.real,
        "z0_im_ohm": impedance.imag,
        "z0_abs_ohm": np.abs(impedance),
    }


def _constants(given, unit, length):
    return [given[f"{key}_per_{unit}"] / length for key in ("r_ohm", "l_h", "g_s", "c_f")]


@RECIPES.serves("lossy-500mhz", "lossy-500mhz-exact", "lossy-6mhz", "telephone-line-1khz")
def lossy(given):
    frequency, constants = given["frequency_hz"], _constants(given, "m", 1.0)
    return {
        **_lossy(frequency, constants, 1.0, "m"),
        "phase_velocity_m_per_s": f.phase_velocity(frequency, *constants),
    }


@RECIPES.serves("loop-line-1khz", "loop-line-1khz-exact")
def lossy_per_km(given):
    return _lossy(given["frequency_hz"], _constants(given, "km", KILO), KILO, "km")


@RECIPES.serves("open-wire-1khz")
def lossy_per_mile(given):
    mile = si("5280 ft", "m")
    return _lossy(given["frequency_hz"], _constants(given, "mile", mile), mile, "mile")


@RECIPES.serves("lossy-500mrad")
def lossy_by_angular_frequency(given):
    frequency, constants = given["omega_rad_per_s"] / (2.0 * math.pi), _constants(given, "m", 1.0)
    return {
        **_lossy(frequency, constants, 1.0, "m"),
        "distance_to_10_percent_m": 20.0 / f.attenuation(frequency, *constants),
        "distance_90_deg_m": 0.25 / frequency / f.phase_delay(frequency, *constants),
    }


@RECIPES.serves("lossless-500mhz")
def lossless(given):
    constants = given["l_h_per_m"], given["c_f_per_m"]
    turning = 2.0 * math.pi * given["frequency_hz"]
    return {"z0_ohm": f.lossless_impedance(*constants), "beta_rad_per_m": turning / f.lossless_velocity(*constants)}


@RECIPES.serves("distortionless-line")
def distortionless(given):
    constants = given["r_ohm_per_m"], given["g_s_per_m"]
    return {
        "alpha_np_per_m": f.distortionless_attenuation(*constants) / NEPER,
        "z0_ohm": f.distortionless_impedance(*constants),
    }


# Cables


@RECIPES.serves("nvp-length-example")
def length_from_delay(given):
    velocity = f.propagation_velocity(given["velocity_factor"])
    return {"length_m": f.line_length(given["delay_ns"] * NANO, velocity)}


@RECIPES.serves("velocity-factor-by-insulation")
def delays_of_insulations(given):
    slow, fast = (f.propagation_velocity(given[key]) for key in ("v_min", "v_max"))
    return {
        "delay_max_ns_per_m": f.line_delay(1.0, slow) / NANO,
        "delay_min_ns_per_m": f.line_delay(1.0, fast) / NANO,
    }


@RECIPES.serves(*(f"line-lc-{line}" for line in ("v66-z120", "v78-z120", "v66-z100", "v78-z150")))
def implied(given):
    line = given["z0_ohm"], f.propagation_velocity(given["velocity_factor"])
    return {
        "delay_ns_per_m": f.line_delay(1.0, line[1]) / NANO,
        "c_pf_per_m": f.lossless_capacitance(*line) / PICO,
        "l_nh_per_m": f.lossless_inductance(*line) / NANO,
    }


@RECIPES.serves("mbp-type-a-loss-floor")
def loss_of_copper(given):
    return {
        "alpha_db_per_km": f.conductor_attenuation(given["loop_r_ohm_per_km"] / KILO, given["z0_ohm"]) * KILO,
    }
