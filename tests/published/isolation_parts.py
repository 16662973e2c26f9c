"""Recipes of isolation.toml: tests and life of components, heat, isolated supplies."""

from recipe_tools import KILO, MILLI, Recipes, hold

from rs485kit import formulas as f
from rs485kit.formulas import component_tests as tests

RECIPES = Recipes()
YEAR = 365.25 * 86400.0
ZERO = 273.15
# where a multiplier is printed, which row of which standard has it
STAGES = {
    1.2: ("VDE V 0884-11", "basic", "after environment"),
    1.5: ("VDE V 0884-11", "basic", "production"),
    1.6: ("VDE V 0884-10", "reinforced", "after environment"),
    1.875: ("VDE V 0884-10", "reinforced", "production"),
}
SURGES = {1.3: ("VDE V 0884-11", "basic"), 1.6: ("VDE V 0884-11", "reinforced")}


# Tests of components


@RECIPES.serves("rms-peak-2500", "viotm-sqrt2-3000")
def peak(given):
    return {"peak_v": f.sine_peak(given["rms_v"])}


@RECIPES.serves(*(f"viowm-to-viorm-{volts}" for volts in (850, 560, 1500, 450, 500, 424)))
def working_peak(given):
    return {"viorm_peak_v": f.sine_peak(given["viowm_rms_v"])}


@RECIPES.serves("ul1577-production-2500", "ul1577-production-5700")
def production(given):
    return {"test_rms_v": f.production_withstand(given["viso_rms_v"]), "time_s": tests.UL_PRODUCTION_TIME}


@RECIPES.serves("ul1577-type-test")
def type_test(given):
    every = f.production_withstand(given["viso_rms_v"]) / tests.UL_PRODUCTION_FACTOR
    return {"test_rms_v": every, "time_s": tests.UL_TYPE_TIME, "samples_min": tests.UL_TYPE_SAMPLES}


@RECIPES.serves(
    "pd-test-566-x1p2", "pd-test-566-x1p6", "pd-test-566-x1p875", "pd-test-1230-x1p875", "pd-test-1230-x1p6",
    "pd-test-2121-x1p875", "pd-test-2828-x1p6", "pd-test-1202-x1p5", "pd-test-630-x1p5", "pd-test-630-x1p875",
    "pd-printed-inconsistency",
)  # fmt: skip
def partial_discharge(given):
    assert given["multiplier"] in STAGES
    return {"test_peak_v": f.partial_discharge_test(given["viorm_peak_v"], *STAGES[given["multiplier"]])}


@RECIPES.serves("pd-factor-product-basic", "pd-factor-product-reinforced")
def factors(given):
    insulation = "reinforced" if "f3" in given else "basic"
    hold([given["f1"], given["f2"]], [tests.BASIC_FACTOR, tests.HYSTERESIS_FACTOR])
    hold(given.get("f3", tests.REINFORCED_FACTOR), tests.REINFORCED_FACTOR)
    return {"multiplier": f.partial_discharge_test(1.0, "IEC 60747-17", insulation, "production")}


@RECIPES.serves("surge-test-5000-x1p3", "surge-test-6000-x1p3", "surge-test-6250-x1p6", "surge-test-8000-x1p6")
def surge(given):
    assert given["factor"] in SURGES
    return {"test_peak_v": f.surge_test(given["viosm_peak_v"], *SURGES[given["factor"]])}


@RECIPES.serves("surge-60747-17-floor", "surge-60747-17-basic")
def surge_rating(given):
    return {"viosm_peak_v": f.least_surge_rating(given["vimp_peak_v"], given["insulation"])}


# Life


@RECIPES.serves("lifetime-reinforced-margin")
def demand(given):
    row = ("IEC 60747-17", "reinforced")
    volts = f.demanded_life_voltage(given["viowm_rms_v"], *row)
    return {"line_voltage_rms_v": volts, "line_life_years": f.demanded_life(*row) / YEAR}


@RECIPES.serves("lifetime-reinforced-0884-11")
def old_reinforced(given):
    return _required(given, "reinforced")


@RECIPES.serves("lifetime-basic-0884-11")
def old_basic(given):
    return _required(given, "basic")


def _required(given, insulation):
    hold(given["base_years"], 20)
    return {"required_years": f.demanded_life("VDE V 0884-11", insulation) / YEAR}


@RECIPES.serves("lifetime-power-law-ratio")
def power_law(given):
    life = f.power_law_life(given["v2_v"], given["v1_v"], given["life_years"] * YEAR, given["exponent"])
    return {"life_years": life / YEAR}


def _points(given):
    return given["v1_rms_v"], given["t1_s"], given["v2_rms_v"], given["t2_years"] * YEAR


@RECIPES.serves("lifetime-two-point-power-law")
def two_points(given):
    exponent = f.power_law_exponent(*_points(given))
    life = f.power_law_life(given["v_rms_v"], given["v2_rms_v"], given["t2_years"] * YEAR, exponent)
    return {"exponent": exponent, "life_years": life / YEAR}


@RECIPES.serves("lifetime-two-point-exponential")
def two_points_exponential(given):
    slope = f.exponential_life_slope(*_points(given))
    life = f.exponential_life(given["v_rms_v"], given["v2_rms_v"], given["t2_years"] * YEAR, slope)
    return {"slope_per_v": slope, "life_years": life / YEAR}


@RECIPES.serves("lifetime-arrhenius-factor")
def arrhenius(given):
    energy = given["ea_ev"] * 1.602176634e-19
    return {"life_ratio": f.temperature_life_ratio(energy, given["t1_c"] + ZERO, given["t2_c"] + ZERO)}


# Heat


@RECIPES.serves(*(f"safety-limit-{part}-{supply}" for part in ("110p1", "94p0", "68p5") for supply in ("5p5", "3p6")))
def safety_limits(given):
    where = (given["ambient_c"] + ZERO, given["rth_ja_c_per_w"])
    highest = given["junction_max_c"] + ZERO
    return {
        "ps_mw": f.safety_limit_power(*where, highest_temperature=highest) * KILO,
        "is_ma": f.safety_limit_current(*where, given["supply_v"], highest_temperature=highest) * KILO,
    }


@RECIPES.serves("safety-limit-derated-85c")
def safety_derated(given):
    highest = given["junction_max_c"] + ZERO
    power = f.safety_limit_power(given["ambient_c"] + ZERO, given["rth_ja_c_per_w"], highest_temperature=highest)
    return {"ps_mw": power * KILO}


@RECIPES.serves("derating-so8")
def derating(given):
    rated = (given["p70_mw"] * MILLI, 70.0 + ZERO, given["slope_mw_per_c"] * MILLI)
    return {
        "power_mw": f.derated_power(*rated, given["ambient_c"] + ZERO) * KILO,
        "zero_power_c": f.zero_power_temperature(*rated) - ZERO,
    }


@RECIPES.serves("junction-transceiver-54ohm")
def junction(given):
    load = f.resistor_power(given["vod_v"], given["load_ohm"])
    heat = f.part_power(given["supply_v"], given["current_ma"] * MILLI, load)
    junction_k = f.junction_temperature(given["ambient_c"] + ZERO, given["rth_ja_c_per_w"], heat)
    return {"dissipation_mw": heat * KILO, "junction_c": junction_k - ZERO}


# Isolated supplies


@RECIPES.serves(*(f"dcdc-efficiency-module-{each}" for each in ("a-5v", "a-12v", "b-3v3", "b-5v", "b-12v", "c-5v")))
def efficiency(given):
    share = f.conversion_efficiency(
        given["vin_v"], given["iin_ma"] * MILLI, given["vout_v"], given["iout_ma"] * MILLI
    )
    return {"efficiency_pct": share * 100.0}


@RECIPES.serves("dcdc-dissipation")
def loss(given):
    lost = f.conversion_loss(given["pout_w"], given["efficiency"])
    return {"pin_w": given["pout_w"] + lost, "loss_w": lost}


@RECIPES.serves("dcdc-line-regulation", "dcdc-worst-case-low")
def unregulated(given):
    parts = {"setting": "set_pct", "load_change": "load_pct", "input_change": "input_change_pct"}
    shares = {name: given[key] / 100.0 for name, key in parts.items() if key in given}
    return {"vout_v": f.unregulated_output(given["nominal_v"], line_ratio=given["line_ratio"], **shares)}


@RECIPES.serves("dcdc-idle-32-nodes")
def idle(given):
    return {"power_w": given["nodes"] * f.total_power([given["vin_v"]], [given["iin_noload_ma"] * MILLI])}


@RECIPES.serves("dcdc-min-load")
def least_load(given):
    added = f.added_load(given["min_load_ma"] * MILLI, given["load_ma"] * MILLI)
    return {"ok": bool(added == 0.0), "added_ma": added * KILO}
