"""Recipes of isolation.toml: the tables, entry by entry."""

import numpy as np
from recipe_tools import KILO, MILLI, Recipes

from rs485kit import formulas as f
from rs485kit.formulas import component_tests as tests
from rs485kit.formulas import immunity_levels, stated
from rs485kit.formulas.lifetime import YEAR
from rs485kit.formulas.lifetime_demands import LIFETIME_DEMANDS
from rs485kit.units import si

RECIPES = Recipes()
FACTORS = {
    "F1": tests.BASIC_FACTOR,
    "F2": tests.HYSTERESIS_FACTOR,
    "F3": tests.REINFORCED_FACTOR,
    "F4": tests.SUPPLY_FACTOR,
}


def entries(table, names):
    """Return the rows of a table of the library, every one of which has to be asked for and no other."""
    assert set(names) == set(table)
    return [table[name] for name in names]


# Levels of tests


@RECIPES.serves("table-eft-levels")
def burst_levels(given):
    return {f"{port}_port_kv": f.burst_voltage(given["level"], port) / KILO for port in ("power", "signal")}


@RECIPES.serves("table-eft-timing")
def burst_timing(given):
    rate = np.asarray(given["repetition_khz"]) * KILO
    return {
        "burst_ms": f.burst_duration(rate, pulses=given["pulses_per_burst"]) / MILLI,
        "burst_period_ms": immunity_levels.BURST_PERIOD / MILLI,
    }


@RECIPES.serves("table-esd-levels")
def discharges(given):
    moments = {"first_peak_a": "first peak", "current_30ns_a": "30 ns", "current_60ns_a": "60 ns"}
    return {
        **{f"{way}_kv": f.discharge_voltage(given["level"], way) / KILO for way in ("contact", "air")},
        **{key: f.discharge_current(given["level"], moment) for key, moment in moments.items()},
    }


@RECIPES.serves("table-surge-levels")
def surges(given):
    volts = f.surge_voltage(given["level"])
    couplings = {"2ohm": "line to line", "12ohm": "line to earth", "42ohm": "signal line"}
    currents = {f"current_{key}_a": f.surge_current(volts, coupling) for key, coupling in couplings.items()}
    return {"open_circuit_kv": volts / KILO, **currents}


@RECIPES.serves("table-surge-levels-symmetric-signal")
def surges_by_class(given):
    return {"line_to_earth_kv": f.symmetric_surge_voltage(given["installation_class"]) / KILO}


@RECIPES.serves("table-surge-impedances", "table-surge-impedance-to-earth")
def surge_impedances(given):
    return {"impedance_ohm": [1.0 / f.surge_current(1.0, coupling) for coupling in given["coupling"]]}


# Tests and life of components


def _multiples(given, stage):
    rows = zip(given["standard"], given["insulation"], strict=True)
    return [f.partial_discharge_test(1.0, *row, stage) for row in rows]


def _times(given, stage):
    rows = zip(given["standard"], given["insulation"], strict=True)
    return [f.partial_discharge_time(*row, stage) for row in rows]


@RECIPES.serves("table-partial-discharge-multipliers-components")
def multipliers(given):
    return {
        "after_environment": _multiples(given, "after environment"),
        "production": _multiples(given, "production"),
        "method_a_time_s": _times(given, "after environment"),
        "method_b_time_s": _times(given, "production"),
    }


@RECIPES.serves("table-partial-discharge-after-safety-test")
def multipliers_after_safety_test(given):
    return {"after_safety_test": _multiples(given, "after safety test")}


@RECIPES.serves("table-partial-discharge-factors")
def factors(given):
    return {"value": entries(FACTORS, given["symbol"])}


@RECIPES.serves(*(f"table-lifetime-demand-{each}" for each in ("reinforced", "reinforced-older", "basic-older")))
def demands(given):
    row = given["standard"], given["insulation"]
    life, volts = f.demanded_life(*row), f.demanded_life_voltage(1.0, *row)
    demand = LIFETIME_DEMANDS[row]
    return {
        "failure_ppm": demand.failure_share * 1e6,
        "base_life_years": demand.base_life / YEAR,
        "life_factor": life / demand.base_life,
        "voltage_factor": volts,
    }


# Earths


@RECIPES.serves("table-step-voltage-ratio")
def steps(given):
    foot, inch = si("1 ft", "m"), si("1 ft", "m") / 12.0
    rod = np.asarray(given["rod_length_ft"]) * foot, given["diameter_inch"] * inch
    step = f.rod_step_voltage(1.0, 1.0, *rod, given["pace_ft"] * foot)
    return {"ratio": step / f.rod_resistance(1.0, *rod)}


@RECIPES.serves("table-lightning-protection-levels")
def lightning(given):
    rows = entries(stated.LIGHTNING, given["level"])
    return {
        "peak_ka": [row.current / KILO for row in rows],
        "charge_c": [row.charge for row in rows],
        "specific_energy_mj_per_ohm": [row.energy / 1e6 for row in rows],
    }


@RECIPES.serves("table-soil-resistivity")
def soils(given):
    rows = entries(stated.SOILS, given["soil"])
    return {
        "min_ohm_m": [row.lowest for row in rows],
        "typical_ohm_m": [row.typical for row in rows],
        "max_ohm_m": [row.highest for row in rows],
    }


# People


@RECIPES.serves("table-touch-current-limits")
def touch_limits(given):
    return {"limit_ma": [each.value / MILLI for each in entries(stated.TOUCH_CURRENT_LIMITS, given["part"])]}


@RECIPES.serves("table-touch-network")
def touch_network(given):
    return {"value": [each.value for each in entries(stated.TOUCH_NETWORK, given["element"])]}


@RECIPES.serves("table-accessible-limits")
def accessible(given):
    names = list(zip(given["edition"], given["condition"], strict=True))
    rows = entries(stated.ACCESSIBLE_LIMITS, names)
    kinds = {"ac_rms": "RMS", "ac_peak": "peak", "dc": "DC"}
    return {
        **{f"{key}_v": [row[f"voltage {kind}"].value for row in rows] for key, kind in kinds.items()},
        **{f"current_{key}_ma": [row[f"current {kind}"].value / MILLI for row in rows] for key, kind in kinds.items()},
    }
