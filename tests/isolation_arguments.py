"""One set of good arguments for every formula on barriers, earths and insulation; tests hold the tables complete."""

ROD = {"resistivity": 100.0, "length": 3.0, "diameter": 16e-3}
POINTS = {"first_voltage": 5000.0, "first_life": 60.0, "second_voltage": 1272.0, "second_life": 9.5e8}
REFERENCE = {"voltage": 1060.0, "reference_voltage": 1272.0, "reference_life": 9.5e8}
COUPLED = {"voltage_rms": 230.0, "capacitance": 1e-9, "frequency": 50.0}
DIVIDER = {"source_voltage_rms": 230.0, "source_capacitance": 40e-12, "earth_capacitance": 400e-12}
THERMAL = {"ambient": 298.15, "thermal_resistance": 110.1}
DERATING = {"rated_power": 0.471, "rated_temperature": 343.15, "derating_slope": 5.88e-3}

ISOLATION = {
    "added_load": {"least_load": 20e-3, "load": 2.8e-3},
    "bled_voltage": {**DIVIDER, "resistance": 1e6, "frequency": 50.0},
    "burst_duration": {"repetition_rate": 5e3, "pulses": 75.0},
    "burst_voltage": {"level": 3.0},
    "conversion_efficiency": {"input_voltage": 5.0, "input_current": 0.26, "output_voltage": 5.0, "output_current": 0.2},
    "conversion_loss": {"output_power": 0.8, "efficiency": 0.78},
    "demanded_life": {},
    "demanded_life_voltage": {"working_voltage_rms": 400.0},
    "derated_power": {**DERATING, "ambient": 358.15},
    "discharge_current": {"level": 3.0},
    "discharge_time": {"resistance": 1e6, "capacitance": 1e-9, "initial_voltage": 230.0, "left_voltage": 42.4},
    "discharge_voltage": {"level": 3.0},
    "displacement_current": {"capacitance": 41e-12, "slew": 25e9},
    "exponential_life": {**REFERENCE, "life_slope": 4.4e-3},
    "exponential_life_slope": POINTS,
    "fault_earth_voltage": {"voltage_rms": 230.0, "line_resistance": 0.5, "earth_resistance": 0.6},
    "floating_voltage": DIVIDER,
    "ground_potential_rise": {"current": 20e3, "earth_resistance": 3.06},
    "induced_voltage": {"mutual_inductance": 2.2e-6, "current_slope": 1e9},
    "induced_voltage_rms": {"mutual_inductance": 2.2e-6, "current_rms": 100.0, "frequency": 50.0},
    "junction_temperature": {"ambient": 358.15, "thermal_resistance": 68.5, "power": 0.45},
    "largest_capacitance": {"charge": 45e-6, "voltage_peak": 3e3},
    "largest_ground_difference": {"rated_power": 0.5, "node_resistance": 100.0, "wire_resistance": 20.0},
    "lead_voltage": {"length": 1.3, "current_slope": 1e9, "lead_inductance": 1e-6},
    "leakage_current": {**COUPLED, "nodes": 10.0},
    "least_surge_rating": {"impulse_voltage_peak": 9e3},
    "life_model_spread": {"voltage": 1060.0, **POINTS},
    "mutual_rod_resistance": {"resistivity": 100.0, "length": 3.0, "distance": 6.0},
    "partial_discharge_test": {"working_voltage_peak": 1202.0},
    "partial_discharge_time": {},
    "power_law_exponent": POINTS,
    "power_law_life": {**REFERENCE, "exponent": 12.0},
    "production_withstand": {"withstand_voltage_rms": 2500.0},
    "rated_current": {"rated_power": 0.5, "resistance": 100.0},
    "reciprocal_life": {**REFERENCE, "reciprocal_slope": 28e3},
    "reciprocal_life_slope": POINTS,
    "rectangle_mutual_inductance": {"length": 10.0, "near_distance": 1.0, "far_distance": 3.0},
    "rod_potential_share": {"length": 3.0, "diameter": 16e-3, "distance": 2.0},
    "rod_resistance": ROD,
    "rod_row_resistance": {**ROD, "spacing": 6.0, "rods": 4.0},
    "rod_step_voltage": {"current": 20e3, **ROD, "pace": 0.9},
    "safety_limit_current": {**THERMAL, "supply": 5.5, "highest_temperature": 423.15},
    "safety_limit_power": {**THERMAL, "highest_temperature": 423.15},
    "sine_peak": {"voltage_rms": 2500.0},
    "slew_rate": {"voltage_peak": 1e3, "rise_time": 5e-9, "covered_share": 0.8},
    "small_loop_mutual_inductance": {"area": 0.8, "distance": 50.0},
    "spreading_voltage": {"current": 30e3, "resistivity": 100.0, "distance": 10.0},
    "stored_charge": {"capacitance": 15e-9, "voltage_peak": 3e3},
    "straight_wire_inductance": {"length": 0.6, "diameter": 4e-3},
    "surge_current": {"voltage_peak": 4e3},
    "surge_test": {"surge_voltage_peak": 11e3},
    "surge_voltage": {"level": 3.0},
    "symmetric_surge_voltage": {"installation_class": 3.0},
    "temperature_life_ratio": {"activation_energy": 1.1e-19, "temperature": 358.15, "reference_temperature": 398.15},
    "touch_current": COUPLED,
    "touch_filter_ratio": {"frequency": 1e3},
    "unregulated_output": {
        "nominal_voltage": 5.0,
        "setting": -0.03,
        "load_change": -0.1,
        "input_change": -0.1,
        "line_ratio": 1.2,
    },
    "weighted_touch_current": COUPLED,
    "zero_power_temperature": DERATING,
}

_REINFORCED = {"standard": "IEC 60747-17", "insulation": "reinforced"}
# One good value of every named choice that has no default.
CHOSEN = {
    "burst_voltage": {"port": "signal"},
    "demanded_life": _REINFORCED,
    "demanded_life_voltage": _REINFORCED,
    "discharge_current": {"moment": "30 ns"},
    "discharge_voltage": {"way": "contact"},
    "least_surge_rating": {"insulation": "reinforced"},
    "partial_discharge_test": {**_REINFORCED, "stage": "production"},
    "partial_discharge_time": {**_REINFORCED, "stage": "production"},
    "surge_current": {"coupling": "signal line"},
    "surge_test": _REINFORCED,
}
