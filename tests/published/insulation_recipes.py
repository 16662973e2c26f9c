"""Which formula serves which check of insulation.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
alone. STATED lists what has no recipe, and why.
"""

import numpy as np
from recipe_tools import KILO, MILLI, Recipes

from rs485kit import formulas as f
from rs485kit.formulas.insulation_tables import DIRECT_IMPULSE_VOLTAGES

STATED: dict[str, str] = {
    "clearance-reinforced-nonpreferred-3kv": "160 % of an impulse that is not of the preferred series is recalled, and "
    "lets a higher impulse ask for less; the library raises to the next step first and comes to 5.5 mm",
    "creepage-230v-row": "what one gets without interpolation, which the table allows",
}

# A step of a table does not move with a little more; from 1.5 kV up the degree does not count; an altitude below 2000 m does
# not; the clearance decides instead of the creepage, or a third of it instead of the degree.
_STEPS, _DEGREE = {"line_to_neutral_rms_v"}, {"pollution_degree"}
_LINES = {"line_to_line_rms_v"}
WITHOUT_EFFECT: dict[str, set[str]] = {
    "table-clearance-1-recalled": _DEGREE,
    "table-clearance-2-recalled": _DEGREE,
    "table-clearance-3-recalled": _DEGREE,
    "table-grooves": {"clearance_mm"},
    "impulse-230v-ovc3": _STEPS,
    "impulse-230v-ovc2": _STEPS,
    "impulse-120v-ovc2": _STEPS,
    "impulse-24v-ovc1": _STEPS,
    "impulse-24v-ovc2": _STEPS,
    "impulse-24v-ovc3": _STEPS,
    "impulse-400v-ovc3": _STEPS,
    "impulse-uses-line-to-neutral": _STEPS,
    "clearance-interpolated-4k8": _DEGREE,
    "clearance-reinforced-300v-ovc2": _DEGREE,
    "clearance-reinforced-300v-ovc3": _DEGREE,
    "clearance-reinforced-1000v-ovc2": _DEGREE,
    "clearance-reinforced-150v-ovc2": _DEGREE,
    "clearance-reinforced-600v-ovc3": _DEGREE,
    "clearance-reinforced-600v-ovc4": _DEGREE,
    "clearance-reinforced-not-double": _DEGREE,
    "altitude-factor-1000m": {"altitude_m"},
    "creepage-not-less-than-clearance": _DEGREE | {"working_rms_v"},
    "creepage-ignores-altitude": {"altitude_m", "clearance_after_altitude_mm"},
    "rationalised-230-400-earthed": _LINES,
    "rationalised-400-unearthed": _LINES,
    "groove-width-narrow-clearance": _DEGREE,
}

RECIPES = Recipes()


@RECIPES.serves(
    "table-impulse-1", "table-impulse-2", "table-impulse-3", "table-impulse-4", "impulse-230v-ovc3",
    "impulse-230v-ovc2", "impulse-120v-ovc2", "impulse-24v-ovc1", "impulse-24v-ovc2", "impulse-24v-ovc3",
    "impulse-400v-ovc3", "impulse-1000v-ovc2", "impulse-1000v-ovc4",
)  # fmt: skip
def rated_impulse(inputs):
    return {"impulse_peak_v": f.rated_impulse_voltage(inputs["line_to_neutral_rms_v"], inputs["overvoltage_category"])}


@RECIPES.serves("impulse-uses-line-to-neutral")
def line_to_neutral(inputs):
    computed = f.line_to_neutral_voltage(inputs["line_to_line_rms_v"])
    assert abs(computed - inputs["line_to_neutral_rms_v"]) < 1.0
    return rated_impulse(inputs)


@RECIPES.serves("table-impulse-dc-1", "table-impulse-dc-2", "table-impulse-dc-3", "table-impulse-dc-4")
def direct_impulse(inputs):
    table = DIRECT_IMPULSE_VOLTAGES
    assert str(inputs["overvoltage_category"]) in table.columns
    values = dict(zip(table.rows, table.values(str(inputs["overvoltage_category"])), strict=True))
    assert set(inputs["supply_dc_v"]) <= set(values)
    return {"impulse_peak_v": [values[each] for each in inputs["supply_dc_v"]]}


@RECIPES.serves("table-preferred-impulses")
def preferred(inputs):
    steps = np.asarray(f.required_impulse_voltage(inputs["impulse_v"], "basic"))
    reinforced = f.required_impulse_voltage(inputs["impulse_v"][:-1], "reinforced")
    assert np.array_equal(reinforced, steps[1:])
    return {"step_v": steps}


@RECIPES.serves(
    "table-clearance-1", "table-clearance-2", "table-clearance-3", "table-clearance-1-recalled",
    "table-clearance-2-recalled", "table-clearance-3-recalled", "clearance-pd4-2k5", "clearance-interpolated-4k8",
)  # fmt: skip
def clearance(inputs):
    impulse = KILO * np.asarray(inputs["impulse_kv"], dtype=float)
    altitude = 2000.0
    distance = f.impulse_clearance(impulse, inputs["pollution_degree"], altitude=altitude)
    return {"clearance_mm": np.asarray(distance) / MILLI}


@RECIPES.serves("table-homogeneous-1", "table-homogeneous-2", "table-homogeneous-3")
def homogeneous(inputs):
    impulse = KILO * np.asarray(inputs["impulse_kv"], dtype=float)
    distance = f.impulse_clearance(impulse, inputs["pollution_degree"], field="homogeneous")
    return {"clearance_mm": np.asarray(distance) / MILLI}


@RECIPES.serves("table-steady-clearance")
def steady(inputs):
    return {"clearance_mm": np.asarray(f.steady_clearance(KILO * np.asarray(inputs["peak_kv"]))) / MILLI}


@RECIPES.serves("table-high-frequency-basic", "clearance-high-frequency-1000v-pd3")
def high_frequency(inputs):
    distance = f.high_frequency_clearance(inputs["peak_v"], inputs["pollution_degree"], "basic")
    return {"clearance_mm": np.asarray(distance) / MILLI}


@RECIPES.serves("table-high-frequency-reinforced")
def high_frequency_reinforced(inputs):
    distance = f.high_frequency_clearance(inputs["peak_v"], inputs["pollution_degree"], "reinforced")
    return {"clearance_mm": np.asarray(distance) / MILLI}


@RECIPES.serves(
    "clearance-reinforced-300v-ovc2", "clearance-reinforced-300v-ovc3", "clearance-reinforced-1000v-ovc2",
    "clearance-reinforced-150v-ovc2", "clearance-reinforced-600v-ovc3", "clearance-reinforced-600v-ovc4",
)  # fmt: skip
def reinforced(inputs):
    rated = f.rated_impulse_voltage(inputs["line_to_neutral_rms_v"], inputs["overvoltage_category"])
    impulse = f.required_impulse_voltage(rated, "reinforced")
    return {"clearance_mm": f.impulse_clearance(impulse, inputs["pollution_degree"]) / MILLI}


@RECIPES.serves("clearance-reinforced-not-double")
def not_double(inputs):
    impulse = f.required_impulse_voltage(KILO * inputs["impulse_kv"], "reinforced")
    return {"clearance_mm": f.impulse_clearance(impulse, inputs["pollution_degree"]) / MILLI}


@RECIPES.serves("table-altitude", "altitude-factor-1000m")
def altitude(inputs):
    return {"factor": f.altitude_factor(inputs["altitude_m"])}


@RECIPES.serves("table-altitude-pressure")
def pressure(inputs):
    return {"factor": f.altitude_factor_at_pressure(KILO * np.asarray(inputs["pressure_kpa"]))}


@RECIPES.serves("altitude-factor-from-pressure")
def reference_pressure(inputs):
    assert f.altitude_factor_at_pressure(KILO * inputs["reference_kpa"]) == 1.0
    assert f.altitude_factor_at_pressure(KILO * inputs["reference_kpa"] * 0.99) > 1.0
    return {"factor": f.altitude_factor_at_pressure(KILO * inputs["pressure_kpa"])}


@RECIPES.serves("altitude-reinforced-4000m-8mm-package", "altitude-reinforced-5000m-8mm-package")
def package_at_altitude(inputs):
    least = inputs["base_clearance_mm"] * f.altitude_factor(inputs["altitude_m"])
    assert inputs["package_clearance_mm"] == 8.0
    return {"clearance_mm": least, "ok": inputs["package_clearance_mm"] >= least}


def _group(inputs):
    groups = {"I": "I", "II": "II", "III": "IIIa"}
    assert inputs["material_group"] in groups
    return groups[inputs["material_group"]]


@RECIPES.serves(
    *(f"table-creepage-{degree}-{group}" for degree in (1, 2, 3) for group in ("i", "ii", "iii")),
    "creepage-230v-interpolated",
)
def creepage(inputs):
    distance = f.creepage(inputs["working_rms_v"], inputs["pollution_degree"], _group(inputs), "basic")
    return {"creepage_mm": np.asarray(distance) / MILLI}


@RECIPES.serves("creepage-reinforced-240v")
def creepage_of_mains(inputs):
    voltage = f.rationalised_voltage(inputs["working_rms_v"])
    distance = f.creepage(voltage, inputs["pollution_degree"], _group(inputs), "reinforced")
    return {"creepage_mm": distance / MILLI}


@RECIPES.serves("creepage-reinforced-1000v-group-i")
def creepage_reinforced(inputs):
    least = f.creepage(inputs["working_rms_v"], inputs["pollution_degree"], _group(inputs), "reinforced") / MILLI
    assert inputs["package_creepage_mm"] == 8.0
    return {"creepage_mm": least, "ok": inputs["package_creepage_mm"] >= least}


@RECIPES.serves(*(f"creepage-max-voltage-8mm-reinforced-{group}" for group in ("i", "ii", "iii")))
def highest_row(inputs):
    rows = [250.0, 320.0, 400.0, 500.0, 630.0, 800.0, 1000.0]
    asked = f.creepage(rows, inputs["pollution_degree"], _group(inputs), "reinforced")
    allowed = [row for row, each in zip(rows, asked, strict=True) if each <= inputs["creepage_mm"] * MILLI]
    return {"working_rms_v": max(allowed)}


@RECIPES.serves("creepage-not-less-than-clearance")
def not_below_clearance(inputs):
    least = f.impulse_clearance(KILO * inputs["impulse_kv"], inputs["pollution_degree"])
    distance = f.creepage(
        inputs["working_rms_v"], inputs["pollution_degree"], _group(inputs), "basic", clearance=least
    )
    return {"creepage_mm": distance / MILLI}


@RECIPES.serves("creepage-ignores-altitude")
def without_altitude(inputs):
    least = 0.5 * f.altitude_factor(inputs["altitude_m"])
    distance = f.creepage(
        inputs["working_rms_v"], inputs["pollution_degree"], _group(inputs), "basic",
        clearance=max(least, inputs["clearance_after_altitude_mm"]) * MILLI,
    )  # fmt: skip
    return {"creepage_mm": distance / MILLI}


@RECIPES.serves("table-printed-1", "table-printed-2", "creepage-printed-wiring-400v")
def printed(inputs):
    distance = f.printed_creepage(inputs["working_rms_v"], inputs["pollution_degree"], "basic")
    return {"creepage_mm": np.asarray(distance) / MILLI}


@RECIPES.serves("table-grooves", "groove-width-narrow-clearance")
def grooves(inputs):
    width = f.groove_width(inputs["pollution_degree"], inputs["clearance_mm"] * MILLI)
    return {"width_mm": np.asarray(width) / MILLI}


@RECIPES.serves("tov-short-230v", "tov-short-300v", "tov-short-600v", "tov-short-1000v")
def short_overvoltage(inputs):
    basic, double = (f.temporary_overvoltage(inputs["nominal_rms_v"], "short", each) for each in ("basic", "reinforced"))
    return {"basic_rms_v": basic, "reinforced_rms_v": double, "reinforced_peak_v": 2.0**0.5 * double}


@RECIPES.serves("tov-long-230v")
def long_overvoltage(inputs):
    basic, double = (f.temporary_overvoltage(inputs["nominal_rms_v"], "long", each) for each in ("basic", "reinforced"))
    return {"basic_rms_v": basic, "reinforced_rms_v": double}


@RECIPES.serves(
    "package-4mm-300v-ovc3-basic", "package-4mm-300v-ovc4-basic", "package-8mm-600v-ovc4-basic",
    "package-8mm-600v-ovc4-reinforced",
)  # fmt: skip
def package(inputs):
    rated = f.rated_impulse_voltage(inputs["line_to_neutral_rms_v"], inputs["overvoltage_category"])
    least = f.impulse_clearance(f.required_impulse_voltage(rated, inputs["insulation"]), 2) / MILLI
    assert inputs["package_clearance_mm"] in (4.0, 8.0)
    return {"required_mm": least, "ok": inputs["package_clearance_mm"] >= least - 1e-12}


@RECIPES.serves(
    "table-rationalised-earthed", "table-rationalised-earthed-recalled", "table-rationalised-unearthed",
    "rationalised-230-400-earthed", "rationalised-400-unearthed",
)  # fmt: skip
def rationalised(inputs):
    return {"rationalised_v": f.rationalised_voltage(inputs["line_to_line_rms_v"], neutral=inputs["neutral"])}


@RECIPES.serves("table-measurement-2", "table-measurement-3", "table-measurement-4")
def measurement(inputs):
    return {"impulse_peak_v": f.measurement_impulse_voltage(inputs["line_to_neutral_v"], inputs["category"])}


@RECIPES.serves("measurement-category-differs-from-ovc")
def measurement_and_overvoltage(inputs):
    assert inputs["category"] in ("I", "II", "III", "IV")
    category = {"I": 1, "II": 2, "III": 3, "IV": 4}[inputs["category"]]
    voltage = inputs["line_to_neutral_v"]
    assert f.measurement_impulse_voltage(voltage, category) == f.rated_impulse_voltage(voltage, category)
    return {"impulse_peak_v": f.measurement_impulse_voltage(voltage, category)}
