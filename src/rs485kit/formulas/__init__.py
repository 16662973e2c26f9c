"""Closed forms from handbooks, standards and application notes, one function each.

They serve for teaching, for a sum on the back of an envelope, and as a check on the solvers that shares no code with
them. Every function takes plain numbers in SI units, or arrays that broadcast, and gives a float or a float64 array;
the equation and where it comes from stand in its docstring. `limits` names the figures that are stated, not computed.

The answers are figures, not verdicts: an installation that can hurt someone is decided by local codes and licensed
practice.
"""

from rs485kit.formulas import limits
from rs485kit.formulas._arguments import FloatOrArray, Numbers
from rs485kit.formulas.bias import SupplyState, active_idle_voltage, bias_current, bias_power, idle_voltage
from rs485kit.formulas.bias_design import (
    largest_bias,
    matched_bias,
    matched_bias_conductance,
    near_termination,
    plus_one_bias,
)
from rs485kit.formulas.capacitive import corner_frequency, least_capacitance, switching_power, time_constant
from rs485kit.formulas.common_mode import (
    ground_difference_left,
    highest_common_mode,
    lower_noise_headroom,
    lowest_common_mode,
    reference_current,
    upper_noise_headroom,
)
from rs485kit.formulas.copper import (
    copper_resistance,
    gauge_diameter,
    gauge_resistance,
    loop_resistance,
    resistance_at_temperature,
    wire_area,
    wire_resistance,
)
from rs485kit.formulas.driving import bus_current, driver_load, line_output_current
from rs485kit.formulas.level import (
    far_voltage,
    half_level_length,
    largest_loop_resistance,
    level_loss,
    level_ratio,
    longest_length,
)
from rs485kit.formulas.power import (
    average_current,
    contention_power,
    input_power,
    least_turns_ratio,
    part_power,
    remote_supply_voltage,
    total_power,
)
from rs485kit.formulas.rate import (
    bit_share,
    bit_time,
    length_by_product,
    line_delay,
    longest_rise_time,
    propagation_velocity,
    settling_time,
    tap_stub_length,
    unterminated_length,
)
from rs485kit.formulas.resistors import (
    current_power,
    equal_parallel_resistance,
    load_current,
    lowest_resistance,
    parallel_resistance,
    resistor_power,
)
from rs485kit.formulas.termination import (
    biased_termination,
    compensated_termination,
    loaded_termination,
    midline_reflection_coefficient,
    reflection_coefficient,
)
from rs485kit.formulas.unit_load import (
    highest_input_current,
    input_resistance,
    lowest_input_current,
    node_count,
    resistor_unit_loads,
    resistor_unit_loads_by_custom,
    spare_unit_loads,
)

__all__ = [
    "FloatOrArray",
    "Numbers",
    "SupplyState",
    "active_idle_voltage",
    "average_current",
    "bias_current",
    "bias_power",
    "biased_termination",
    "bit_share",
    "bit_time",
    "bus_current",
    "compensated_termination",
    "contention_power",
    "copper_resistance",
    "corner_frequency",
    "current_power",
    "driver_load",
    "equal_parallel_resistance",
    "far_voltage",
    "gauge_diameter",
    "gauge_resistance",
    "ground_difference_left",
    "half_level_length",
    "highest_common_mode",
    "highest_input_current",
    "idle_voltage",
    "input_power",
    "input_resistance",
    "largest_bias",
    "largest_loop_resistance",
    "least_capacitance",
    "least_turns_ratio",
    "length_by_product",
    "level_loss",
    "level_ratio",
    "limits",
    "line_delay",
    "line_output_current",
    "load_current",
    "loaded_termination",
    "longest_length",
    "longest_rise_time",
    "loop_resistance",
    "lower_noise_headroom",
    "lowest_common_mode",
    "lowest_input_current",
    "lowest_resistance",
    "matched_bias",
    "matched_bias_conductance",
    "midline_reflection_coefficient",
    "near_termination",
    "node_count",
    "parallel_resistance",
    "part_power",
    "plus_one_bias",
    "propagation_velocity",
    "reference_current",
    "reflection_coefficient",
    "remote_supply_voltage",
    "resistance_at_temperature",
    "resistor_power",
    "resistor_unit_loads",
    "resistor_unit_loads_by_custom",
    "settling_time",
    "spare_unit_loads",
    "switching_power",
    "tap_stub_length",
    "time_constant",
    "total_power",
    "unterminated_length",
    "upper_noise_headroom",
    "wire_area",
    "wire_resistance",
]
