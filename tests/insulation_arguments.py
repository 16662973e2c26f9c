"""One set of good arguments for every formula of insulation coordination; tests hold the tables complete."""

INSULATION = {
    "altitude_factor": {"altitude": 4200.0},
    "altitude_factor_at_pressure": {"pressure": 54e3},
    "creepage": {"working_voltage_rms": 230.0, "pollution_degree": 2.0, "clearance": 1e-3},
    "groove_width": {"pollution_degree": 2.0, "clearance": 1.5e-3},
    "high_frequency_clearance": {"voltage_peak": 1100.0, "pollution_degree": 3.0},
    "impulse_clearance": {"impulse_voltage_peak": 4e3, "pollution_degree": 2.0, "altitude": 120.0},
    "line_to_neutral_voltage": {"line_to_line_voltage_rms": 400.0},
    "measurement_impulse_voltage": {"system_voltage_rms": 230.0, "measurement_category": 3.0},
    "printed_creepage": {"working_voltage_rms": 400.0, "pollution_degree": 2.0, "clearance": 1e-3},
    "rated_impulse_voltage": {"system_voltage_rms": 230.0, "overvoltage_category": 3.0},
    "rationalised_voltage": {"line_to_line_voltage_rms": 400.0},
    "required_impulse_voltage": {"impulse_voltage_peak": 4e3},
    "steady_clearance": {"voltage_peak": 325.0, "altitude": 120.0},
    "temporary_overvoltage": {"system_voltage_rms": 230.0},
}

# One good value of every named choice that has no default.
CHOSEN_INSULATION = {
    "creepage": {"material_group": "IIIa", "insulation": "reinforced"},
    "high_frequency_clearance": {"insulation": "reinforced"},
    "printed_creepage": {"insulation": "basic"},
    "required_impulse_voltage": {"insulation": "reinforced"},
    "temporary_overvoltage": {"overvoltage_duration": "short", "insulation": "basic"},
}
INSULATION_CHOICES = {"material_group", "insulation", "overvoltage_duration", "field", "neutral"}
