"""The formulas: what they refuse, what they take, and identities between them."""

import inspect
import math
import pickle
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from insulation_arguments import CHOSEN_INSULATION, INSULATION, INSULATION_CHOICES
from isolation_arguments import CHOSEN, ISOLATION
from line_arguments import CHOICES, COMPLEX, REAL
from rs485kit import formulas as f
from rs485kit.errors import InputError
from timing_arguments import TIMING

# One set of good arguments for every function, all arguments spelled out; a test holds the table complete.
GOOD = {
    "active_idle_voltage": {"supply": 5.0, "pull_up": 390.0, "across": 220.0, "pull_down": 390.0},
    "average_current": {"talking": 0.113, "listening": 0.0028, "talking_share": 0.03},
    "bias_current": {"supply": 5.0, "pull_up": 510.0, "pull_down": 510.0, "termination": 60.0, "pair_load": 375.0},
    "bias_power": {"line_voltage": 12.0, "bias": 510.0, "rail_voltage": 5.0},
    "biased_termination": {"termination": 120.0, "pull_up": 510.0, "pull_down": 520.0},
    "bit_share": {"duration": 1e-6, "data_rate": 9600.0},
    "bit_time": {"data_rate": 9600.0},
    "bus_current": {"voltage": 1.5, "termination": 60.0, "unit_loads": 32.0, "unit_load_current": 1e-3},
    "compensated_termination": {"characteristic_impedance": 120.0, "shunt": 1020.0},
    "contention_power": {"supply": 5.0, "current": 0.25},
    "copper_resistance": {"area": 0.2e-6, "temperature": 313.15},
    "corner_frequency": {"resistance": 120.0, "capacitance": 1e-9},
    "current_power": {"current": 0.035, "resistance": 100.0},
    "driver_load": {"near_termination": 120.0, "far_termination": 120.0, "loop_resistance": 200.0},
    "equal_parallel_resistance": {"resistance": 120.0, "count": 2.0},
    "far_voltage": {"near_voltage": 1.5, "termination": 120.0, "loop_resistance": 200.0},
    "gauge_diameter": {"gauge": 24.0},
    "gauge_resistance": {"gauge": 24.0, "temperature": 313.15},
    "ground_difference_left": {"ground_difference": 7.0, "wire_resistance": 101.0, "node_resistance": 100.0},
    "half_level_length": {"termination": 120.0, "conductor_resistance": 0.084, "conductors": 2.0},
    "highest_common_mode": {"offset": 2.5, "ground_difference": 7.0, "noise": 1.0},
    "highest_input_current": {"voltage": 11.0, "unit_loads": 0.125},
    "idle_voltage": {
        "supply": 5.0,
        "pull_up": 510.0,
        "pull_down": 600.0,
        "termination": 60.0,
        "pair_load": 2e3,
        "line_load": 375.0,
        "line_source": 2.0,
    },
    "input_power": {"output_power": 0.5, "efficiency": 0.7},
    "input_resistance": {"unit_loads": 32.0, "unit_load_resistance": 12e3},
    "largest_bias": {"supply": 5.0, "idle_voltage": 0.25, "termination": 60.0, "pair_load": 2e3, "line_load": 375.0},
    "largest_loop_resistance": {"near_voltage": 1.5, "least_voltage": 0.2, "termination": 120.0},
    "least_capacitance": {"resistance": 120.0, "delay": 5e-7, "delays": 4.0},
    "least_turns_ratio": {
        "output": 5.175,
        "diode_drop": 0.2,
        "regulator_drop": 0.2,
        "least_input": 3.234,
        "switch_resistance": 3.0,
        "switch_current": 0.15,
        "reserve": 1.031,
    },
    "length_by_product": {"data_rate": 1e5, "product": 1e8},
    "level_loss": {"termination": 120.0, "loop_resistance": 200.0},
    "level_ratio": {"termination": 120.0, "loop_resistance": 200.0},
    "line_delay": {"length": 1200.0, "velocity": 2e8},
    "line_output_current": {
        "line_voltage": 3.0,
        "other_voltage": 1.5,
        "termination": 60.0,
        "line_load": 375.0,
        "source_voltage": 12.0,
    },
    "load_current": {"voltage": 1.5, "resistance": 60.0},
    "loaded_termination": {"termination": 60.0, "pair_load": 2e3, "line_load": 375.0},
    "longest_length": {"near_voltage": 1.5, "least_voltage": 0.2, "termination": 120.0, "conductor_resistance": 0.084},
    "longest_rise_time": {"data_rate": 9600.0, "fraction": 0.3},
    "loop_resistance": {"conductor_resistance": 0.084, "length": 1200.0},
    "lower_noise_headroom": {"offset": -1.0, "ground_difference": 7.0, "limit": -7.0},
    "lowest_common_mode": {"offset": 2.5, "ground_difference": 7.0, "noise": 1.0},
    "lowest_input_current": {"voltage": -6.0, "unit_loads": 0.125},
    "lowest_resistance": {"resistance": 60.0, "tolerance": 0.1},
    "matched_bias": {
        "supply": 4.75,
        "idle_voltage": 0.25,
        "characteristic_impedance": 120.0,
        "pair_load": 2e3,
        "line_load": 375.0,
    },
    "matched_bias_conductance": {"characteristic_impedance": 120.0, "pair_load": 2e3, "line_load": 375.0},
    "midline_reflection_coefficient": {"resistance": 120.0, "characteristic_impedance": 120.0},
    "near_termination": {"characteristic_impedance": 120.0, "pull_up": 510.0, "pull_down": 520.0},
    "node_count": {"unit_load": 0.125, "taken": 20.0, "limit": 32.0},
    "parallel_resistance": {"first": 500.0, "second": 620.0},
    "part_power": {"supply": 5.0, "supply_current": 0.074, "load_power": 0.26},
    "plus_one_bias": {
        "supply": 3.3,
        "idle_voltage": 0.3,
        "characteristic_impedance": 120.0,
        "pair_load": 2e3,
        "line_load": 375.0,
    },
    "propagation_velocity": {"velocity_factor": 0.66},
    "reference_current": {"ground_difference": 7.0, "wire_resistance": 101.0, "node_resistance": 100.0},
    "reflection_coefficient": {"resistance": 100.0, "characteristic_impedance": 120.0},
    "remote_supply_voltage": {"supply": 5.0, "wire_resistance": 8.4, "current": 0.06},
    "resistance_at_temperature": {"reference_resistance": 0.084, "temperature": 333.15, "coefficient": 0.00393},
    "resistor_power": {"voltage": 1.5, "resistance": 120.0},
    "resistor_unit_loads": {"resistance": 600.0, "rail_voltage": 3.3},
    "resistor_unit_loads_by_custom": {"resistance": 528.0, "unit_load_resistance": 12e3},
    "settling_time": {"length": 600.0, "velocity": 2e8, "round_trips": 3.0},
    "spare_unit_loads": {"taken": 20.0, "limit": 32.0},
    "switching_power": {"capacitance": 1e-9, "swing": 3.0, "transition_rate": 115200.0},
    "tap_stub_length": {"ports": 4.0, "shared_length": 40.0},
    "time_constant": {"resistance": 120.0, "capacitance": 1e-9},
    "total_power": {"voltages": 5.0, "currents": 0.1},
    "unterminated_length": {"data_rate": 115200.0, "velocity": 2e8, "round_trips": 3.0, "share": 0.5},
    "upper_noise_headroom": {"offset": 3.0, "ground_difference": 7.0, "limit": 12.0},
    "wire_area": {"diameter": 0.5e-3},
    "wire_resistance": {"conductor_resistance": 0.011, "length": 1200.0},
    **REAL,
    **INSULATION,
    **ISOLATION,
    **TIMING,
}
# formulas that answer with a word
IN_WORDS = {"material_group"}
# Arguments that have a sign, wherever they stand or in one function; every other one must refuse -1.
SIGNED = {
    *("voltage", "near_voltage", "line_voltage", "other_voltage", "rail_voltage", "source_voltage", "line_source"),
    *("offset", "swing", "voltages", "currents", "gauge"),
    "altitude",
    *("setting", "load_change", "input_change"),
}
SIGNED_IN = {
    ("reference_current", "ground_difference"),
    ("ground_difference_left", "ground_difference"),
    ("upper_noise_headroom", "limit"),
    ("lower_noise_headroom", "limit"),
    ("current_power", "current"),
    *(("contention_voltage", name) for name in ("first_voltage", "second_voltage")),
    *(("threshold_distortion", name) for name in ("upper_threshold", "lower_threshold")),
}
UNSIGNED_IN = {
    *(("largest_loop_resistance", "near_voltage"), ("longest_length", "near_voltage")),
    *((name, "voltage") for name in ("power_law_life", "exponential_life", "reciprocal_life", "life_model_spread")),
}
# Formulas of bytes and levels in time, whose arguments are sequences with a meaning of their own.
OF_BYTES = {"byte_faults", "faulty_bytes", "read_levels", "received_bytes", "sent_bits", "stray_byte_pulse"}
SUMS = {"total_power", "straight_sum", "root_sum_of_squares"}
"""Formulas that add along the last axis of what they are given."""
ARGUMENTS = [(name, argument) for name, arguments in GOOD.items() for argument in arguments]
UNSIGNED = [pair for pair in ARGUMENTS if (pair[1] not in SIGNED or pair in UNSIGNED_IN) and pair not in SIGNED_IN]
WRONG_TYPES = [
    "120 ohm",
    b"1",
    "",
    True,
    np.True_,
    1 + 0j,
    Fraction(1, 2),
    10**400,
    pint.Quantity("1 ohm"),
    [1.0, "2"],
    [1.0, True],
    [[1.0], [1.0, 2.0]],
    {"min": 1.0},
    np.array([True]),
    np.array(["1"]),
    np.array([1.0, None]),
    np.array([1j]),
    np.ma.masked_array([1.0, 2.0], mask=[False, True]),
    object(),
]


def called(name, **changes):
    chosen = {**CHOSEN, **CHOSEN_INSULATION}.get(name, {})
    return getattr(f, name)(**{**chosen, **GOOD[name], **changes})


def refusal(name, **changes):
    with pytest.raises(InputError) as caught:
        called(name, **changes)
    return caught.value


def may_be_none(name, argument):
    return inspect.signature(getattr(f, name)).parameters[argument].default is None


class TestRefused:
    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_not_finite(self, name, argument):
        for value in (math.nan, math.inf, -math.inf, 1e40, np.float64("nan")):
            (problem,) = refusal(name, **{argument: value}).problems
            assert problem.place == f"{name}.{argument}"
            assert f"{value:.9g}" in problem.given
            assert problem.wanted

    @pytest.mark.parametrize(("name", "argument"), UNSIGNED)
    def test_negative(self, name, argument):
        (problem,) = refusal(name, **{argument: -1.0}).problems
        assert problem.place == f"{name}.{argument}"
        assert problem.given.startswith("-1 ")

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_wrong_type(self, name, argument):
        for value in WRONG_TYPES:
            (problem,) = refusal(name, **{argument: value}).problems
            assert problem.place == f"{name}.{argument}"
            assert f"of type {type(value).__name__}" in problem.given
            assert "plain number" in problem.cure

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_none_where_it_means_nothing(self, name, argument):
        if may_be_none(name, argument):
            called(name, **{argument: None})
        else:
            refusal(name, **{argument: None})

    def test_a_bad_element_is_pointed_at(self):
        (problem,) = refusal("loop_resistance", length=np.array([[1.0, 2.0], [3.0, -4.0]])).problems
        assert problem.place == "loop_resistance.length[1, 1]"
        assert problem.given == "-4 m"

    @settings(max_examples=1000)
    @given(st.sampled_from(sorted(GOOD)), st.data())
    def test_any_numbers_at_all_are_computed_or_refused(self, name, data):
        # Warnings are errors here, so an overflow or a division by zero inside would show as one.
        extremes = st.floats() | st.floats(-100.0, 100.0) | st.integers()
        arguments = {argument: data.draw(extremes, label=argument) for argument in GOOD[name]}
        try:
            assert math.isfinite(called(name, **arguments))
        except InputError as error:
            assert all(problem.place.startswith(name) for problem in error.problems)

    def test_everything_wrong_is_named_at_once(self):
        error = refusal("idle_voltage", supply="5 V", pull_up=-1.0, line_source=math.nan)
        places = [problem.place for problem in error.problems]
        assert places == ["idle_voltage.supply", "idle_voltage.pull_up", "idle_voltage.line_source"]
        assert all(place in str(error) for place in places)

    def test_shapes_that_do_not_go_together(self):
        error = refusal("loop_resistance", conductor_resistance=np.ones(2), length=np.ones(3))
        assert "conductor_resistance (2,), length (3,)" in str(error)

    def test_an_error_survives_a_pickle(self):
        error = refusal("bit_time", data_rate=0.0)
        assert pickle.loads(pickle.dumps(error)).problems == error.problems

    def test_a_value_error_to_its_caller(self):
        assert isinstance(refusal("bit_time", data_rate=0.0), ValueError)

    @pytest.mark.parametrize(
        ("name", "changes", "argument"),
        [
            ("gauge_diameter", {"gauge": 24.5}, "gauge"),
            ("gauge_diameter", {"gauge": 41}, "gauge"),
            ("gauge_resistance", {"temperature": 60.0}, "temperature"),
            ("copper_resistance", {"temperature": 20.0}, "temperature"),
            ("half_level_length", {"conductors": 3}, "conductors"),
            ("line_delay", {"velocity": 0.66}, "velocity"),
            ("line_delay", {"velocity": 3.1e8}, "velocity"),
            ("propagation_velocity", {"velocity_factor": 66.0}, "velocity_factor"),
            ("highest_input_current", {"voltage": 12.1}, "voltage"),
            ("lowest_input_current", {"voltage": -7.1}, "voltage"),
            ("resistor_unit_loads", {"rail_voltage": 5.25}, "rail_voltage"),
            ("resistor_unit_loads", {"rail_voltage": -5.0}, "rail_voltage"),
            ("largest_bias", {"idle_voltage": 5.0}, "idle_voltage"),
            ("matched_bias", {"idle_voltage": 4.75}, "idle_voltage"),
            ("matched_bias", {"idle_voltage": 4.7}, "idle_voltage"),
            ("plus_one_bias", {"idle_voltage": 3.3}, "idle_voltage"),
            ("near_termination", {"pull_up": 60.0, "pull_down": 60.0}, "pull_up"),
            ("compensated_termination", {"shunt": 120.0}, "shunt"),
            ("longest_length", {"least_voltage": 1.6}, "least_voltage"),
            ("largest_loop_resistance", {"least_voltage": 1.6}, "least_voltage"),
            ("reference_current", {"wire_resistance": 0.0, "node_resistance": 0.0}, "wire_resistance"),
            ("ground_difference_left", {"wire_resistance": 0.0, "node_resistance": 0.0}, "wire_resistance"),
            ("part_power", {"load_power": 0.4}, "load_power"),
            ("input_power", {"efficiency": 70.0}, "efficiency"),
            ("average_current", {"talking_share": 1.1}, "talking_share"),
            ("remote_supply_voltage", {"current": 0.3}, "current"),
            ("least_turns_ratio", {"switch_current": 1.1}, "least_input"),
            ("lowest_resistance", {"tolerance": 10.0}, "tolerance"),
            ("longest_rise_time", {"fraction": 30.0}, "fraction"),
        ],
    )
    def test_outside_the_range_of_validity(self, name, changes, argument):
        (problem,) = refusal(name, **changes).problems
        assert problem.place == f"{name}.{argument}"

    def test_a_condition_between_arrays_points_at_the_first_miss(self):
        (problem,) = refusal("largest_bias", idle_voltage=np.array([0.2, 6.0, 7.0])).problems
        assert problem.place == "largest_bias.idle_voltage[1]"
        assert problem.given == "6 V"

    def test_a_bias_that_nothing_loads(self):
        (problem,) = refusal("largest_bias", termination=None, pair_load=None, line_load=None).problems
        assert "without a load" in problem.cure

    @pytest.mark.parametrize("state", ["off", "ON", "", None, 1, np.array(["on", "low"])])
    def test_a_supply_state_that_there_is_not(self, state):
        error = refusal("active_idle_voltage", far_supply=state)
        assert "'on', 'open', 'low'" in str(error)


class TestTaken:
    def test_the_table_of_good_arguments_is_complete(self):
        functions = {name for name in f.__all__ if inspect.isfunction(getattr(f, name))}
        assert set(GOOD) | set(COMPLEX) | IN_WORDS == functions - OF_BYTES
        assert functions >= OF_BYTES
        for name, arguments in {**GOOD, **COMPLEX}.items():
            wanted = set(inspect.signature(getattr(f, name)).parameters) - CHOICES - INSULATION_CHOICES
            assert set(arguments) == wanted

    @pytest.mark.parametrize("name", GOOD)
    def test_numbers_give_a_plain_float(self, name):
        result = called(name)
        assert type(result) is float
        assert math.isfinite(result)

    @pytest.mark.parametrize(("name", "argument"), [pair for pair in ARGUMENTS if pair[0] not in SUMS])
    def test_an_array_gives_an_array_of_its_shape(self, name, argument):
        value = GOOD[name][argument]
        result = called(name, **{argument: np.full((2, 3), value)})
        assert isinstance(result, np.ndarray)
        assert result.shape == (2, 3)
        assert result.dtype == np.float64
        np.testing.assert_allclose(result, called(name), rtol=1e-12)

    @pytest.mark.parametrize(("name", "argument"), [pair for pair in ARGUMENTS if pair[0] not in SUMS])
    def test_an_empty_array_gives_an_empty_one(self, name, argument):
        assert called(name, **{argument: np.array([])}).shape == (0,)

    @pytest.mark.parametrize("value", [5, np.int64(5), np.float32(5), np.array(5.0), np.longdouble(5)])
    def test_any_plain_number_will_do(self, value):
        assert f.load_current(value, 2) == 2.5

    @pytest.mark.parametrize("value", [[5, 10], (5.0, 10.0), np.array([5, 10]), np.array([5, 10], dtype=np.uint8)])
    def test_any_flat_sequence_or_array_will_do(self, value):
        assert f.load_current(value, 2).tolist() == [2.5, 5.0]

    def test_arguments_broadcast(self):
        currents = f.load_current(np.array([[1.0], [2.0]]), np.array([1.0, 2.0, 4.0]))
        assert currents.tolist() == [[1.0, 0.5, 0.25], [2.0, 1.0, 0.5]]

    def test_the_argument_is_left_alone(self):
        lengths = np.array([100.0, 200.0])
        result = f.wire_resistance(1.0, lengths)
        result[0] = -1.0
        assert lengths.tolist() == [100.0, 200.0]

    def test_powers_of_several_pins_are_added_along_the_last_axis(self):
        powers = f.total_power(np.array([[5.0, 3.0], [1.0, 1.0]]), np.array([0.1, 0.2]))
        assert powers == pytest.approx([1.1, 0.3], rel=1e-12)

    @pytest.mark.parametrize("name", GOOD)
    def test_what_has_a_default_is_named(self, name):
        for parameter in inspect.signature(getattr(f, name)).parameters.values():
            has_default = parameter.default is not inspect.Parameter.empty
            assert has_default == (parameter.kind is inspect.Parameter.KEYWORD_ONLY)


def about(low, high):
    return st.floats(low, high, allow_nan=False)


RESISTANCE = about(50.0, 5e4)
LOAD = st.none() | about(40.0, 5e4)


class TestIdentities:
    @given(about(2.0, 30.0), RESISTANCE, RESISTANCE, LOAD, LOAD, LOAD, about(-7.0, 12.0))
    def test_idle_voltage_against_the_nodal_equations(self, supply, up, down, across, pair, line, source):
        through = sum(1 / load for load in (across, pair) if load)
        to_source = 1 / line if line else 0.0
        matrix = np.array([[1 / up + to_source + through, -through], [-through, 1 / down + to_source + through]])
        upper, lower = np.linalg.solve(matrix, [supply / up + to_source * source, to_source * source])
        loads = {"termination": across, "pair_load": pair, "line_load": line, "line_source": source}
        assert f.idle_voltage(supply, up, down, **loads) == pytest.approx(upper - lower, rel=1e-9, abs=1e-9)

    @given(about(2.0, 30.0), about(0.01, 0.99), LOAD, LOAD, LOAD, about(-7.0, 12.0))
    def test_the_largest_bias_gives_the_wanted_level(self, supply, share, across, pair, line, source):
        assume(across or pair or line)
        loads = {"termination": across, "pair_load": pair, "line_load": line}
        bias = f.largest_bias(supply, share * supply, **loads)
        level = f.idle_voltage(supply, bias, bias, **loads, line_source=source)
        assert level == pytest.approx(share * supply, rel=1e-9)

    @given(about(2.0, 30.0), about(0.005, 0.2), about(80.0, 200.0), LOAD, LOAD)
    def test_the_matched_bias_gives_the_wanted_level_and_keeps_the_match(self, supply, share, impedance, pair, line):
        loads = {"pair_load": pair, "line_load": line}
        try:
            bias = f.matched_bias(supply, share * supply, impedance, **loads)
        except InputError:
            assume(False)
        near = f.near_termination(impedance, bias, bias)
        both = f.parallel_resistance(near, impedance)
        assert f.idle_voltage(supply, bias, bias, termination=both, **loads) == pytest.approx(share * supply, rel=1e-9)
        assert f.biased_termination(near, bias, bias) == pytest.approx(impedance, rel=1e-9)
        assert f.reflection_coefficient(f.biased_termination(near, bias, bias), impedance) == pytest.approx(0, abs=1e-9)

    @given(about(2.0, 30.0), RESISTANCE, RESISTANCE, LOAD, LOAD)
    def test_bias_current_times_the_load_is_the_idle_voltage(self, supply, up, down, across, pair):
        assume(across or pair)
        load = 1 / sum(1 / value for value in (across, pair) if value)
        loads = {"termination": across, "pair_load": pair}
        expected = f.idle_voltage(supply, up, down, **loads)
        assert f.bias_current(supply, up, down, **loads) * load == pytest.approx(expected, rel=1e-9)

    @given(about(2.0, 30.0), RESISTANCE, about(50.0, 1000.0))
    def test_two_loads_of_a_line_equal_one_of_twice_that_across(self, supply, bias, load):
        per_line = f.idle_voltage(supply, bias, bias, line_load=load)
        assert f.idle_voltage(supply, bias, bias, pair_load=2 * load) == pytest.approx(per_line, rel=1e-9)

    @given(about(2.0, 30.0), RESISTANCE, RESISTANCE, RESISTANCE)
    def test_an_active_pair_loses_level_with_its_far_supply(self, supply, up, across, down):
        on, opened, low = (
            f.active_idle_voltage(supply, up, across, down, far_supply=state) for state in ("on", "open", "low")
        )
        assert on == pytest.approx(2 * low, rel=1e-9)
        assert low <= opened * (1 + 1e-12) <= on * (1 + 2e-12)

    def test_without_any_load_the_idle_level_is_the_supply(self):
        assert f.idle_voltage(5.0, 510.0, 620.0) == pytest.approx(5.0, rel=1e-12)
        assert f.bias_current(5.0, 510.0, 620.0) == 0.0

    @given(about(80.0, 200.0), about(250.0, 1e5))
    def test_a_compensated_end_is_matched(self, impedance, shunt):
        end = f.parallel_resistance(f.compensated_termination(impedance, shunt), shunt)
        assert end == pytest.approx(impedance, rel=1e-9)

    @given(RESISTANCE, about(50.0, 200.0))
    def test_a_resistor_in_the_middle_ends_the_line_with_the_rest_beside_it(self, resistance, impedance):
        end = f.parallel_resistance(resistance, impedance)
        expected = f.midline_reflection_coefficient(resistance, impedance)
        assert f.reflection_coefficient(end, impedance) == pytest.approx(expected, rel=1e-9)

    @given(about(0.5, 12.0), about(0.1, 1.0), RESISTANCE, about(0.01, 0.5))
    def test_the_longest_length_leaves_the_wanted_level(self, near, share, termination, conductor):
        length = f.longest_length(near, share * near, termination, conductor)
        loop = f.loop_resistance(conductor, length)
        assert f.far_voltage(near, termination, loop) == pytest.approx(share * near, rel=1e-9)

    @given(RESISTANCE, about(0.01, 0.5))
    def test_half_the_level_is_left_at_the_half_level_length(self, termination, conductor):
        loop = f.loop_resistance(conductor, f.half_level_length(termination, conductor))
        assert f.level_ratio(termination, loop) == pytest.approx(0.5, rel=1e-9)
        assert f.level_loss(termination, loop) == pytest.approx(20 * math.log10(2), rel=1e-9)

    @given(about(-7.0, 12.0), about(0.0, 64.0))
    def test_the_border_of_a_unit_load_encloses_zero(self, voltage, unit_loads):
        low = f.lowest_input_current(voltage, unit_loads=unit_loads)
        high = f.highest_input_current(voltage, unit_loads=unit_loads)
        assert low <= 0.0 <= high

    @given(about(100.0, 1e5), about(-3.0, 5.0), about(-7.0, 12.0))
    def test_a_resistor_stays_inside_the_border_of_its_unit_loads(self, resistance, rail, voltage):
        count = f.resistor_unit_loads(resistance, rail) * (1 + 1e-9)
        current = (voltage - rail) / resistance
        slack = 1e-12
        assert current <= f.highest_input_current(voltage, unit_loads=count) + slack
        assert current >= f.lowest_input_current(voltage, unit_loads=count) - slack

    @given(about(100.0, 1e5), about(-3.0, 5.0))
    def test_a_resistor_touches_the_border_of_its_unit_loads(self, resistance, rail):
        count = f.resistor_unit_loads(resistance, rail) * (1 - 1e-6)
        above = (12.0 - rail) / resistance > f.highest_input_current(12.0, unit_loads=count)
        below = (-7.0 - rail) / resistance < f.lowest_input_current(-7.0, unit_loads=count)
        assert above or below

    @given(st.integers(1, 400), st.sampled_from([0.05, 0.1, 0.125, 0.2, 0.25, 0.3, 0.5, 0.7, 1.0]))
    def test_node_count_undoes_adding_up(self, nodes, unit_load):
        taken_by_all = math.fsum([unit_load] * nodes)
        assert f.node_count(unit_load, limit=taken_by_all) == nodes
        assert f.node_count(unit_load, limit=taken_by_all * (1 - 1e-6)) == nodes - 1

    def test_no_node_fits_where_the_bias_takes_everything(self):
        assert f.node_count(0.125, taken=43.0) == 0.0
        assert f.spare_unit_loads(43.0) == -11.0

    @given(about(-7.0, 12.0), about(0.0, 20.0), about(0.0, 5.0))
    def test_headroom_is_what_noise_may_add(self, offset, ground, noise):
        highest = f.highest_common_mode(offset, ground, noise=noise)
        lowest = f.lowest_common_mode(offset, ground, noise=noise)
        assert f.upper_noise_headroom(offset, ground) - noise == pytest.approx(12.0 - highest, abs=1e-9)
        assert f.lower_noise_headroom(offset, ground) - noise == pytest.approx(lowest + 7.0, abs=1e-9)

    @given(st.integers(-3, 34))
    def test_six_gauges_halve_the_diameter(self, gauge):
        # 92^(6/39) is 2.0050, from which the rule of thumb comes.
        assert f.gauge_diameter(gauge) / f.gauge_diameter(gauge + 6) == pytest.approx(2.005, abs=1e-4)

    @given(st.integers(10, 30), about(233.15, 373.15))
    def test_a_gauge_at_a_temperature_by_two_ways(self, gauge, temperature):
        expected = f.resistance_at_temperature(f.gauge_resistance(gauge), temperature)
        assert f.gauge_resistance(gauge, temperature=temperature) == pytest.approx(expected, rel=1e-9)

    @given(about(0.0, 2000.0), about(0.2, 1.0))
    def test_one_round_trip_is_twice_the_delay(self, length, factor):
        line = length, f.propagation_velocity(factor)
        assert f.settling_time(*line, round_trips=1) == pytest.approx(2 * f.line_delay(*line), rel=1e-9)

    @given(about(1200.0, 1e7), about(0.2, 1.0))
    def test_an_unterminated_line_settles_in_its_share_of_the_bit(self, rate, factor):
        velocity = f.propagation_velocity(factor)
        settled = f.settling_time(f.unterminated_length(rate, velocity), velocity)
        assert f.bit_share(settled, rate) == pytest.approx(0.5, rel=1e-9)

    @given(about(-30.0, 30.0), about(0.0, 100.0), about(1.0, 1000.0))
    def test_a_ground_loop_divides_its_voltage(self, difference, wire, node):
        current = f.reference_current(difference, wire, node_resistance=node)
        left = f.ground_difference_left(difference, wire, node)
        assert left + 2 * node * current == pytest.approx(difference, rel=1e-9, abs=1e-12)

    @given(about(-7.0, 12.0), about(-7.0, 12.0), RESISTANCE, RESISTANCE)
    def test_what_runs_across_the_pair_leaves_one_output_and_enters_the_other(self, one, other, across, line):
        both = f.line_output_current(one, other, across, line, 0.0) + f.line_output_current(
            other, one, across, line, 0.0
        )
        assert both == pytest.approx((one + other) / line, rel=1e-9, abs=1e-12)

    def test_bus_current_is_the_load_and_the_unit_loads(self):
        assert f.bus_current(-1.5, 60.0, unit_loads=32) == pytest.approx(0.057, rel=1e-12)
