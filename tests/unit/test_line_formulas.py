"""The line formulas: what the complex ones refuse and take, bounds of validity, and identities between them.

Real formulas stand in the tables of test_formulas and are tried there like all others.
"""

import cmath
import math
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from line_arguments import CHOICES, COMPLEX, PASSIVE, PRIMARY, REAL, TRUNK
from rs485kit import formulas as f
from rs485kit.errors import InputError

ARGUMENTS = [(name, argument) for name, arguments in COMPLEX.items() for argument in arguments]
WRONG_TYPES = ["120 ohm", True, Fraction(1, 2), pint.Quantity("1 ohm"), [1.0, "2"], np.array([True]), object()]


def may_be_complex(name, argument):
    return argument in PASSIVE or (argument == "characteristic_impedance" and name != "characteristic_impedance")


def called(name, **changes):
    return getattr(f, name)(**{**REAL, **COMPLEX}[name] | changes)


def refusal(name, **changes):
    with pytest.raises(InputError) as caught:
        called(name, **changes)
    return caught.value


def about(low, high):
    return st.floats(low, high, allow_nan=False)


class TestComplexRefused:
    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_not_finite(self, name, argument):
        for value in (math.nan, math.inf, -math.inf, 1e40, np.float64("nan")):
            (problem,) = refusal(name, **{argument: value}).problems
            assert problem.place == f"{name}.{argument}"
            assert problem.wanted

    @pytest.mark.parametrize(("name", "argument"), [pair for pair in ARGUMENTS if may_be_complex(*pair)])
    def test_a_complex_number_that_is_not_finite(self, name, argument):
        for value in (complex(1.0, math.nan), complex(math.nan, 1.0), complex(1.0, math.inf), complex(math.inf, 0.0)):
            (problem,) = refusal(name, **{argument: value}).problems
            assert problem.place == f"{name}.{argument}"

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_negative(self, name, argument):
        (problem,) = refusal(name, **{argument: -1.0}).problems
        assert problem.place == f"{name}.{argument}"
        assert problem.given.startswith("-1")

    @pytest.mark.parametrize(("name", "argument"), [pair for pair in ARGUMENTS if may_be_complex(*pair)])
    def test_a_negative_real_part(self, name, argument):
        (problem,) = refusal(name, **{argument: -1.0 + 100j}).problems
        assert problem.place == f"{name}.{argument}"
        assert "-1+100j" in problem.given
        assert "real part of 0 or more" in problem.wanted

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_wrong_type(self, name, argument):
        strange = [*WRONG_TYPES, *([] if may_be_complex(name, argument) else [1 + 0j, np.array([1j])])]
        for value in strange:
            (problem,) = refusal(name, **{argument: value}).problems
            assert problem.place == f"{name}.{argument}"
            assert f"of type {type(value).__name__}" in problem.given

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_none_where_it_means_nothing(self, name, argument):
        if argument == "load_impedance":
            called(name, **{argument: None})
        else:
            refusal(name, **{argument: None})

    def test_a_bad_element_is_pointed_at(self):
        impedances = np.array([[100.0, 1j], [-5.0 + 1j, 3.0]])
        (problem,) = refusal("complex_reflection_coefficient", impedance=impedances).problems
        assert problem.place == "complex_reflection_coefficient.impedance[1, 0]"

    def test_everything_wrong_is_named_at_once(self):
        error = refusal("input_impedance", length=-1.0, propagation_constant="fast", characteristic_impedance=0.0)
        places = [problem.place for problem in error.problems]
        names = ["characteristic_impedance", "propagation_constant", "length"]
        assert places == [f"input_impedance.{name}" for name in names]

    @settings(max_examples=500)
    @given(st.sampled_from(sorted(COMPLEX)), st.data())
    def test_any_numbers_at_all_are_computed_or_refused(self, name, data):
        real = st.floats() | st.floats(-100.0, 100.0) | st.floats(0.0, 1e3)
        both = real | st.complex_numbers() | st.builds(complex, st.floats(0.0, 100.0), st.floats(-100.0, 100.0))
        arguments = {
            argument: data.draw(both if may_be_complex(name, argument) else real, label=argument)
            for argument in COMPLEX[name]
        }
        try:
            assert cmath.isfinite(called(name, **arguments))
        except InputError as error:
            assert all(problem.place.startswith(name) for problem in error.problems)


class TestComplexTaken:
    @pytest.mark.parametrize("name", COMPLEX)
    def test_numbers_give_a_plain_complex(self, name):
        assert type(called(name)) is complex

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_an_array_gives_an_array_of_its_shape(self, name, argument):
        result = called(name, **{argument: np.full((2, 3), COMPLEX[name][argument])})
        assert result.shape == (2, 3)
        assert result.dtype == np.complex128
        np.testing.assert_allclose(result, called(name), rtol=1e-12)

    @pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
    def test_an_empty_array_gives_an_empty_one(self, name, argument):
        assert called(name, **{argument: np.array([])}).shape == (0,)

    def test_a_list_of_impedances(self):
        result = f.complex_reflection_coefficient([120, 0.5j, 3 + 1j], 120.0)
        assert result[0] == 0.0
        assert abs(result[1]) == pytest.approx(1.0, rel=1e-12)


class TestRangesOfValidity:
    @pytest.mark.parametrize(
        ("name", "changes", "argument"),
        [
            ("attenuation", {"frequency": 0.0}, "frequency"),
            ("attenuation", {"series_resistance": 84e3}, "series_resistance"),
            ("bounced_voltage", {"waves": 1.5}, "waves"),
            ("category_3_attenuation", {"frequency": 20e6}, "frequency"),
            ("category_3_attenuation", {"frequency": 16.0}, "frequency"),
            ("category_5e_attenuation", {"frequency": 101e6}, "frequency"),
            ("category_5e_attenuation_factor", {"temperature": 40.0}, "temperature"),
            ("category_5e_delay", {"frequency": 1e5}, "frequency"),
            ("class_d_delay", {"length": 101.0}, "length"),
            ("class_d_delay", {"connections": 2.5}, "connections"),
            ("complex_reflection_coefficient", {"impedance": -100j, "characteristic_impedance": 100j}, "impedance"),
            ("critical_length", {"velocity": 0.66}, "velocity"),
            ("end_voltage_ratio", {"load_impedance": -100j, "characteristic_impedance": 100j}, "load_impedance"),
            (
                "end_voltage_ratio",
                {"load_impedance": None, "propagation_constant": 0.5j * np.pi, "length": 1.0},
                "length",
            ),
            ("input_impedance", {"load_impedance": None, "length": 0.0}, "length"),
            ("internal_impedance", {"diameter": 5.0}, "diameter"),
            ("jitter_exponent", {"second_length": 75.0}, "second_length"),
            ("jitter_length", {"jitter_budget": 20.0}, "jitter_budget"),
            ("junction_reflection_coefficient", {"lines": 1}, "lines"),
            ("junction_transmission_coefficient", {"lines": 2.5}, "lines"),
            ("least_load_spacing", {"impedance_share": 1.0}, "impedance_share"),
            ("loaded_impedance", {"capacitance": 20.0}, "capacitance"),
            ("open_rc_line_delay", {"settled_share": 1.0}, "settled_share"),
            ("periodic_delay", {"frequency": 70e6}, "frequency"),
            ("periodic_impedance", {"frequency": 70e6}, "frequency"),
            ("profibus_segment_length", {"data_rate": 12.1e6}, "data_rate"),
            ("proximity_factor", {"spacing": 0.5e-3}, "spacing"),
            ("quartic_skin_effect_factor", {"diameter": 1.3e-3}, "diameter"),
            ("reference_pair_impedance", {"frequency": 100.0}, "frequency"),
            ("ring_skin_effect_factor", {"diameter": 0.1e-3}, "diameter"),
            ("skin_effect_delay", {"settled_share": 90.0}, "settled_share"),
            ("telephone_pair_resistance", {"frequency": 31e6}, "frequency"),
            ("two_wire_capacitance", {"spacing": 0.4e-3}, "spacing"),
            ("two_wire_impedance", {"permittivity": 0.9}, "permittivity"),
            ("wave_arrival", {"position": 1.1}, "position"),
            ("wide_two_wire_inductance", {"spacing": 0.5e-3}, "spacing"),
        ],
    )
    def test_outside(self, name, changes, argument):
        (problem,) = refusal(name, **changes).problems
        assert problem.place == f"{name}.{argument}"

    def test_a_frequency_in_the_stop_band_is_pointed_at(self):
        (problem,) = refusal("periodic_delay", frequency=np.array([1e6, 80e6, 90e6])).problems
        assert problem.place == "periodic_delay.frequency[1]"
        assert "stop_band_edge" in problem.cure

    @pytest.mark.parametrize(
        ("name", "argument"),
        [
            *(
                (f"telephone_pair_{what}", "pair")
                for what in ("resistance", "inductance", "conductance", "capacitance")
            ),
            *((f"reference_pair_{what}", "pair") for what in ("impedance", "admittance")),
            ("profibus_segment_length", "cable_type"),
        ],
    )
    def test_a_choice_that_there_is_not(self, name, argument):
        assert argument in CHOICES
        for value in ("c", "", None, 1, ["A"], "cat7"):
            (problem,) = refusal(name, **{argument: value}).problems
            assert problem.place == f"{name}.{argument}"
            assert "one of '" in problem.wanted


class TestSkinEffect:
    @given(about(1.0, 1e4))
    def test_resistance_of_a_thick_wire_by_its_asymptote(self, radius):
        assume(radius > 5.0)
        expected = radius / 2.0 + 0.25 + 3.0 / (32.0 * radius)
        # what the asymptote leaves out begins with 1 / r^2, and is less than 0.02 of that
        found = f.skin_effect_factor(2.0 * radius, 1.0)
        assert found == pytest.approx(expected, rel=1e-9, abs=0.02 / radius**2)

    @given(about(1e-6, 1.0))
    def test_resistance_of_a_thin_wire_by_its_series(self, radius):
        factor = f.skin_effect_factor(2.0 * radius, 1.0)
        assert factor == pytest.approx(f.quartic_skin_effect_factor(2.0 * radius, 1.0), rel=4e-4)

    def test_the_two_series_of_the_wire_meet(self):
        below, above = f.skin_effect_factor(2.0 * np.array([17.0, 17.0 + 1e-9]), 1.0)
        assert above == pytest.approx(below, rel=1e-9)

    @given(about(1e-5, 5e-3), about(1.0, 1e9))
    def test_a_wire_loses_inductance_and_gains_resistance_with_frequency(self, diameter, frequency):
        low, high = f.internal_impedance(diameter, np.array([frequency, 2.0 * frequency]))
        assert low.real <= high.real * (1 + 1e-12)
        assert low.imag / frequency >= high.imag / (2.0 * frequency) * (1 - 1e-12)
        direct = f.copper_resistance(f.wire_area(diameter))
        assert low.real == pytest.approx(direct * f.skin_effect_factor(diameter, f.skin_depth(frequency)), rel=1e-9)

    def test_internal_inductance_at_dc(self):
        inside = f.internal_impedance(0.5e-3, 1.0).imag / (2.0 * math.pi)
        assert inside == pytest.approx(50e-9, rel=1e-6)

    @given(about(1e-4, 1e-2), about(1.01, 1e4))
    def test_two_wires_in_air_carry_waves_at_the_velocity_of_light(self, diameter, share):
        wires = diameter, share * diameter
        line = f.two_wire_inductance(*wires), f.two_wire_capacitance(*wires)
        assert f.lossless_velocity(*line) == pytest.approx(299792458.0, rel=1e-9)
        assert f.two_wire_impedance(*wires) == pytest.approx(f.lossless_impedance(*line), rel=1e-9)

    @given(about(1e-4, 1e-2), about(20.0, 1e4))
    def test_wires_far_apart_by_the_logarithm(self, diameter, share):
        wires = diameter, share * diameter
        assert f.wide_two_wire_inductance(*wires) == pytest.approx(f.two_wire_inductance(*wires), rel=1e-3)


LINES = st.fixed_dictionaries(
    {
        "frequency": about(1.0, 1e9),
        "series_resistance": about(0.0, 100.0),
        "series_inductance": about(1e-8, 1e-3),
        "shunt_conductance": about(0.0, 0.1),
        "shunt_capacitance": about(1e-12, 1e-9),
    }
)


class TestLossyLine:
    @given(LINES)
    def test_propagation_constant_and_impedance_give_the_primary_constants_back(self, line):
        constant, impedance = f.propagation_constant(**line), f.characteristic_impedance(**line)
        turning = 2.0 * math.pi * line["frequency"]
        series = line["series_resistance"] + 1j * turning * line["series_inductance"]
        shunt = line["shunt_conductance"] + 1j * turning * line["shunt_capacitance"]
        assert constant * impedance == pytest.approx(series, rel=1e-9)
        assert constant / impedance == pytest.approx(shunt, rel=1e-9)
        assert constant.real >= 0.0 < constant.imag
        assert impedance.real >= abs(impedance.imag) * (1 - 1e-12)

    @given(LINES)
    def test_delay_velocity_and_attenuation_are_parts_of_the_constant(self, line):
        constant, turning = f.propagation_constant(**line), 2.0 * math.pi * line["frequency"]
        assert f.phase_delay(**line) * turning == pytest.approx(constant.imag, rel=1e-12)
        assert f.phase_velocity(**line) * f.phase_delay(**line) == pytest.approx(1.0, rel=1e-12)
        assert f.attenuation(**line) == pytest.approx(20.0 / math.log(10.0) * constant.real, rel=1e-12, abs=1e-300)

    @given(about(1e6, 1e9), about(1e-9, 1e-3))
    def test_a_small_loss_keeps_its_digits(self, frequency, resistance):
        line = {**PRIMARY, "frequency": frequency, "series_resistance": resistance, "shunt_conductance": 0.0}
        impedance = f.lossless_impedance(line["series_inductance"], line["shunt_capacitance"])
        assert f.attenuation(**line) == pytest.approx(f.conductor_attenuation(resistance, impedance), rel=1e-6)

    def test_no_loss_without_resistance_and_conductance(self):
        line = {**PRIMARY, "series_resistance": 0.0, "shunt_conductance": 0.0}
        assert f.attenuation(**line) == 0.0
        velocity = f.lossless_velocity(line["series_inductance"], line["shunt_capacitance"])
        assert f.phase_velocity(**line) == pytest.approx(velocity, rel=1e-12)

    @given(about(1.0, 200.0), about(0.1, 1.0))
    def test_the_rc_line_is_the_low_end(self, frequency, resistance):
        line = {"series_resistance": resistance, "shunt_capacitance": 50e-12}
        expected = f.rc_line_attenuation(frequency, **line)
        full = f.attenuation(frequency, **line, series_inductance=600e-9, shunt_conductance=0.0)
        assert full == pytest.approx(expected, rel=1e-2)

    @given(about(0.01, 10.0), about(1e-6, 1e-3), about(1e3, 1e9))
    def test_a_distortionless_line_at_any_frequency(self, resistance, conductance, frequency):
        impedance = f.distortionless_impedance(resistance, conductance)
        line = frequency, resistance, 500e-9, conductance, 500e-9 / impedance**2
        assert f.attenuation(*line) == pytest.approx(f.distortionless_attenuation(resistance, conductance), rel=1e-9)
        assert f.characteristic_impedance(*line) == pytest.approx(impedance, rel=1e-9)

    @given(about(50.0, 200.0), about(0.2, 1.0))
    def test_lossless_figures_imply_one_another(self, impedance, factor):
        line = impedance, f.propagation_velocity(factor)
        constants = f.lossless_inductance(*line), f.lossless_capacitance(*line)
        assert f.lossless_impedance(*constants) == pytest.approx(impedance, rel=1e-9)
        assert f.lossless_velocity(*constants) == pytest.approx(line[1], rel=1e-9)
        assert f.line_length(f.line_delay(100.0, line[1]), line[1]) == pytest.approx(100.0, rel=1e-9)


class TestSections:
    SECTION = {"characteristic_impedance": 110.0 - 27j, "propagation_constant": 1e-3 + 3.5e-3j}

    @given(about(0.0, 2000.0), about(0.0, 2000.0), about(1.0, 1e5), about(-1e4, 1e4))
    def test_two_sections_are_one(self, first, second, resistance, reactance):
        load = complex(resistance, reactance)
        between = f.input_impedance(**self.SECTION, length=second, load_impedance=load)
        whole = f.input_impedance(**self.SECTION, length=first + second, load_impedance=load)
        assert f.input_impedance(**self.SECTION, length=first, load_impedance=between) == pytest.approx(whole, rel=1e-7)
        parts = f.end_voltage_ratio(**self.SECTION, length=first, load_impedance=between) * f.end_voltage_ratio(
            **self.SECTION, length=second, load_impedance=load
        )
        whole = f.end_voltage_ratio(**self.SECTION, length=first + second, load_impedance=load)
        assert parts == pytest.approx(whole, rel=1e-7)

    @given(about(0.1, 1e6))
    def test_a_matched_line_is_its_impedance(self, length):
        line = self.SECTION["characteristic_impedance"]
        assert f.input_impedance(**self.SECTION, length=length, load_impedance=line) == pytest.approx(line, rel=1e-9)

    def test_an_open_end_is_a_very_large_load(self):
        large = f.input_impedance(**self.SECTION, length=100.0, load_impedance=1e15)
        assert f.input_impedance(**self.SECTION, length=100.0) == pytest.approx(large, rel=1e-9)

    @given(about(0.05, 1.4), about(0.05, 1.4))
    def test_stubs_without_loss_can_be_joined(self, first, second):
        end = f.input_impedance(120.0, 1j, first)
        assert f.input_impedance(120.0, 1j, second, load_impedance=end).imag == pytest.approx(
            -120.0 / math.tan(first + second), rel=1e-6, abs=1e-6
        )

    @given(about(0.5, 20.0), st.just(0.0) | about(1e-14, 1e-10))
    def test_a_stub_is_a_short_at_its_notch(self, length, capacitance):
        frequency = f.stub_notch_frequency(length, 2e8, 120.0, capacitance=capacitance)
        turning = 2.0 * math.pi * frequency
        load = complex(0.0, -1.0 / (turning * capacitance)) if capacitance else None
        presented = f.input_impedance(120.0, 1j * turning / 2e8, length, load_impedance=load)
        assert abs(presented) < 1e-3

    @given(about(1e-3, 1e3))
    def test_a_real_end_reflects_alike_by_both_formulas(self, resistance):
        expected = f.reflection_coefficient(resistance, 120.0)
        assert f.complex_reflection_coefficient(resistance, 120.0) == pytest.approx(expected, rel=1e-9, abs=1e-12)


ENDS = {"source_resistance": about(0.0, 1e4), "load_resistance": st.none() | about(1.0, 1e5)}


class TestBounce:
    @given(**ENDS, count=st.integers(0, 12))
    def test_the_closed_sum_is_the_sum_of_the_waves(self, source_resistance, load_resistance, count):
        line, load = (5.0, source_resistance, 120.0), {"load_resistance": load_resistance}
        waves = [f.reflected_wave(*line, number, **load) for number in range(count)]
        assert f.bounced_voltage(*line, count, **load) == pytest.approx(math.fsum(waves), rel=1e-9, abs=1e-9)

    @given(about(10.0, 1e3), about(10.0, 1e3))
    def test_it_settles_to_the_divider(self, source_resistance, load_resistance):
        last = f.bounced_voltage(5.0, source_resistance, 120.0, 2000, load_resistance=load_resistance)
        settled = f.settled_voltage(5.0, source_resistance, load_resistance=load_resistance)
        assert last == pytest.approx(settled, rel=1e-9)

    @given(about(0.0, 1.0), st.integers(0, 20))
    def test_waves_pass_a_place_one_after_another(self, position, number):
        times = f.wave_arrival(np.array([number, number + 1]), 5e-9, position)
        assert times[0] <= times[1]

    def test_a_source_without_resistance_on_an_open_line_never_settles(self):
        assert f.bounced_voltage(1.0, 0.0, 100.0, [2, 4, 6]).tolist() == [2.0, 0.0, 2.0]

    def test_an_echo_through_no_joint_is_that_of_the_end(self):
        assert f.second_echo(120.0, 120.0, 60.0) == f.reflection_coefficient(60.0, 120.0)

    @given(st.integers(2, 100))
    def test_what_goes_on_is_one_and_what_comes_back(self, lines):
        back, on = f.junction_reflection_coefficient(lines), f.junction_transmission_coefficient(lines)
        assert on == pytest.approx(1.0 + back, rel=1e-12)
        assert back**2 + (lines - 1) * on**2 == pytest.approx(1.0, rel=1e-12)

    def test_a_tap_is_a_resistor_of_its_impedance_in_the_middle(self):
        expected = f.midline_reflection_coefficient(120.0, 120.0)
        assert f.junction_reflection_coefficient(3) == pytest.approx(expected, rel=1e-12)

    @given(about(1e-12, 1e-9), about(1e-10, 1e-6))
    def test_a_capacitor_sends_back_less_than_a_short(self, capacitance, rise_time):
        peak = f.shunt_capacitor_reflection(120.0, capacitance, rise_time)
        assert -1.0 <= peak < 0.0
        assert peak >= -f.shunt_capacitor_time(120.0, capacitance) / rise_time * (1 + 1e-12)


class TestStubRules:
    @given(about(1e-9, 1e-5), about(0.2, 1.0))
    def test_the_rules_from_strict_to_loose(self, rise_time, factor):
        edge = rise_time, f.propagation_velocity(factor)
        lengths = [
            f.stub_length_by_round_trip_tenth(*edge),
            f.stub_length_by_one_way_tenth(*edge),
            f.stub_length_by_third_of_critical(*edge),
            f.stub_length_by_one_way_quarter(*edge),
            f.critical_length(*edge),
        ]
        assert [length / lengths[0] for length in lengths] == pytest.approx([1.0, 2.0, 10.0 / 3.0, 5.0, 10.0], rel=1e-9)
        assert f.long_line_length(*edge) == pytest.approx(f.critical_length(*edge), rel=1e-12)

    def test_a_rate_between_two_gets_the_figures_of_the_faster(self):
        assert f.profibus_segment_length([93.75e3, 100e3, 187.5e3]).tolist() == [1200.0, 1000.0, 1000.0]
        assert f.profibus_spur_capacitance([1200.0, 1.5e6, 1.6e6]).tolist() == [15e-9, 0.2e-9, 0.0]

    @given(about(1e-9, 1e-3))
    def test_highest_rate_undoes_longest_rise_time(self, rise_time):
        assert f.longest_rise_time(f.highest_rate(rise_time)) == pytest.approx(rise_time, rel=1e-9)


class TestLoadedTrunk:
    @given(about(0.1, 20.0), about(0.0, 2e-10))
    def test_exact_and_smooth_agree_far_below_the_stop_band(self, spacing, capacitance):
        trunk = {**TRUNK, "spacing": spacing, "capacitance": capacitance}
        frequency = f.stop_band_edge(**trunk) / 1e4
        assert f.periodic_impedance(frequency, **trunk) == pytest.approx(f.loaded_impedance(**trunk), rel=1e-6)
        assert f.periodic_delay(frequency, **trunk) == pytest.approx(f.loaded_delay(**trunk), rel=1e-6)

    @given(about(0.1, 20.0), about(1e-12, 2e-10))
    def test_half_a_wave_from_node_to_node_at_the_edge(self, spacing, capacitance):
        trunk = {**TRUNK, "spacing": spacing, "capacitance": capacitance}
        edge = f.stop_band_edge(**trunk)
        angle = 2.0 * math.pi * edge * (1 - 1e-8) * spacing * f.periodic_delay(edge * (1 - 1e-8), **trunk)
        assert angle == pytest.approx(math.pi, rel=1e-3)
        assert f.periodic_impedance(edge * (1 - 1e-8), **trunk) < 0.01 * f.loaded_impedance(**trunk)

    @given(about(0.1, 20.0), about(1e-12, 2e-10), about(0.01, 0.9))
    def test_one_section_carries_its_own_impedance(self, spacing, capacitance, share):
        """Half a section, the node and half a section present the impedance that stands at their end."""
        trunk = {**TRUNK, "spacing": spacing, "capacitance": capacitance}
        frequency = share * f.stop_band_edge(**trunk)
        impedance = f.periodic_impedance(frequency, **trunk)
        half = 120.0, 2j * math.pi * frequency / 2e8, spacing / 2.0
        behind = f.input_impedance(*half, load_impedance=impedance)
        node = 1.0 / (1.0 / behind + 2j * math.pi * frequency * capacitance)
        assert f.input_impedance(*half, load_impedance=node) == pytest.approx(impedance, rel=1e-6)

    @given(about(1e-12, 1e-10), about(0.1, 0.9))
    def test_the_least_spacing_leaves_the_wanted_impedance(self, capacitance, share):
        pair = f.lossless_capacitance(120.0, 2e8)
        spacing = f.least_load_spacing(capacitance, pair, impedance_share=share)
        assume(spacing > 1e-3)
        assert f.loaded_impedance(120.0, 2e8, spacing, capacitance) == pytest.approx(share * 120.0, rel=1e-9)


class TestEdges:
    @given(about(0.001, 0.999), about(1e-12, 1e-3))
    def test_skin_effect_delay_against_the_error_function(self, share, scale):
        time = f.skin_effect_delay(share, scale)
        assert math.erfc(math.sqrt(scale / time)) == pytest.approx(share, rel=1e-9)

    @given(about(0.001, 0.998))
    def test_the_open_end_rises(self, share):
        assert f.open_rc_line_delay(share, 1.0, 1.0) < f.open_rc_line_delay(share + 0.001, 1.0, 1.0)

    def test_the_open_end_late_by_one_exponential(self):
        # then 1 - 4/pi exp(-pi^2 t / 4) is all that is left of the series
        expected = math.log(4.0 / math.pi / 0.01) * 4.0 / math.pi**2
        assert f.open_rc_line_delay(0.99, 1.0, 1.0) == pytest.approx(expected, rel=1e-9)

    @given(about(10.0, 1000.0), about(0.01, 0.5), about(0.01, 0.5))
    def test_jitter_length_undoes_the_exponent(self, length, first, second):
        assume(abs(math.log(second / first)) > 0.01)
        other = f.jitter_length(length, first, second)
        assert f.jitter_exponent(length, first, other, second) == pytest.approx(2.3, rel=1e-6)
