"""Formulas on barriers, earths, heat and life: what they refuse, and what they give against integrals and networks.

What holds for every formula is in test_formulas, published figures are in tests/published, and what holds for all
arguments in tests/property. Here integrals are done by scipy, networks by their nodal equations and discharges in time.
"""

import math

import numpy as np
import pytest

from isolation_arguments import CHOSEN, ISOLATION
from rs485kit import formulas as f
from rs485kit.errors import InputError
from rs485kit.formulas.lifetime import YEAR
from rs485kit.formulas.stated import ACCESSIBLE_LIMITS, TOUCH_NETWORK

MU = 4e-7 * math.pi
FOOT = 0.3048


def of_scipy(room, name):
    """Return a function of scipy; a test that needs it is skipped without it."""
    return lambda *given, **named: getattr(pytest.importorskip(f"scipy.{room}"), name)(*given, **named)


quad, dblquad, solve_ivp = (of_scipy("integrate", name) for name in ("quad", "dblquad", "solve_ivp"))
brentq = of_scipy("optimize", "brentq")


def called(name, **changes):
    return getattr(f, name)(**{**CHOSEN.get(name, {}), **ISOLATION[name], **changes})


def refusal(name, **changes):
    with pytest.raises(InputError) as caught:
        called(name, **changes)
    return caught.value


class TestRefused:
    @pytest.mark.parametrize(
        ("name", "changes", "argument"),
        [
            ("bled_voltage", {"frequency": 0.0}, "frequency"),
            ("burst_voltage", {"level": 5}, "level"),
            ("burst_voltage", {"level": 2.5}, "level"),
            ("conversion_efficiency", {"output_current": 0.27}, "output_current"),
            ("conversion_loss", {"efficiency": 78.0}, "efficiency"),
            ("derated_power", {"ambient": 85.0}, "ambient"),
            ("discharge_current", {"level": 0}, "level"),
            ("discharge_time", {"left_voltage": 231.0}, "left_voltage"),
            ("discharge_voltage", {"level": 5}, "level"),
            ("exponential_life", {"voltage": 1e-3, "reference_voltage": 1e9}, "voltage"),
            ("exponential_life_slope", {"second_voltage": 5000.0}, "second_voltage"),
            ("fault_earth_voltage", {"line_resistance": 0.0, "earth_resistance": 0.0}, "line_resistance"),
            ("floating_voltage", {"source_capacitance": 0.0, "earth_capacitance": 0.0}, "source_capacitance"),
            ("junction_temperature", {"ambient": 85.0}, "ambient"),
            ("leakage_current", {"frequency": 0.0}, "frequency"),
            ("leakage_current", {"nodes": 2.5}, "nodes"),
            ("mutual_rod_resistance", {"distance": 1e7}, "distance"),
            ("power_law_exponent", {"second_life": 1.0}, "second_life"),
            ("power_law_life", {"voltage": 1e-3, "exponent": 100.0}, "voltage"),
            ("rectangle_mutual_inductance", {"far_distance": 0.5}, "far_distance"),
            ("rod_potential_share", {"distance": 7e-3}, "distance"),
            ("rod_resistance", {"diameter": 16.0}, "diameter"),
            ("rod_resistance", {"diameter": 2e-6}, "diameter"),
            ("rod_row_resistance", {"rods": 201}, "rods"),
            ("rod_row_resistance", {"rods": 1.5}, "rods"),
            ("rod_row_resistance", {"spacing": 30e-3}, "spacing"),
            ("rod_step_voltage", {"pace": 7e-3}, "pace"),
            ("safety_limit_power", {"ambient": 25.0}, "ambient"),
            ("safety_limit_current", {"highest_temperature": 150.0}, "highest_temperature"),
            ("slew_rate", {"covered_share": 80.0}, "covered_share"),
            ("small_loop_mutual_inductance", {"distance": 0.8}, "distance"),
            ("straight_wire_inductance", {"length": 19e-3}, "length"),
            ("surge_test", {"surge_voltage_peak": 9e3}, "surge_voltage_peak"),
            ("surge_voltage", {"level": 4.2}, "level"),
            ("symmetric_surge_voltage", {"installation_class": 6}, "installation_class"),
            ("temperature_life_ratio", {"activation_energy": 0.7}, "activation_energy"),
            ("temperature_life_ratio", {"temperature": 85.0}, "temperature"),
            ("touch_current", {"capacitance": 20.0}, "capacitance"),
            ("unregulated_output", {"input_change": -0.9}, "input_change"),
            ("unregulated_output", {"line_ratio": 4.0}, "line_ratio"),
            ("unregulated_output", {"setting": -3.0}, "setting"),
        ],
    )
    def test_outside_the_range_of_validity(self, name, changes, argument):
        (problem,) = refusal(name, **changes).problems
        assert problem.place == f"{name}.{argument}"
        assert problem.wanted

    @pytest.mark.parametrize(("name", "choice"), [(name, choice) for name, row in CHOSEN.items() for choice in row])
    def test_a_choice_that_there_is_not(self, name, choice):
        for value in ("", "Basic", None, 1, ["basic"], ("basic",), {}, np.array(["basic", "power"])):
            (problem,) = refusal(name, **{choice: value}).problems
            assert problem.place == f"{name}.{choice}"
            assert "one of" in problem.wanted

    @pytest.mark.parametrize(
        ("name", "row"),
        [
            ("demanded_life", {"standard": "IEC 60747-17", "insulation": "basic"}),
            ("demanded_life_voltage", {"standard": "IEC 60747-17", "insulation": "basic"}),
            ("partial_discharge_test", {"standard": "VDE V 0884-11", "insulation": "reinforced"}),
            ("partial_discharge_test", {"standard": "IEC 60747-5-5", "stage": "after safety test"}),
            ("partial_discharge_time", {"standard": "IEC 60747-5-2", "stage": "after safety test"}),
            ("surge_test", {"standard": "VDE V 0884-10", "insulation": "basic"}),
        ],
    )
    def test_a_row_that_no_source_states_has_no_figure(self, name, row):
        (problem,) = refusal(name, **row).problems
        assert problem.place == f"{name}.standard"
        assert problem.cure == "consult the standard"


class TestBarrierCurrent:
    def test_an_edge_carries_the_charge_of_its_level_whatever_the_slope(self):
        for rise in (5e-9, 1e-6):
            current = f.displacement_current(41e-12, f.slew_rate(1e3, rise))
            assert current * rise == pytest.approx(f.stored_charge(41e-12, 1e3), rel=1e-12)

    @pytest.mark.parametrize(
        ("edge", "steepest", "expected"),
        [
            (lambda time: (1.0 - math.cos(math.pi * time)) / 2.0, math.pi / 2.0, 0.93),
            (lambda time: 1.0 - math.exp(-10.0 * time), 10.0, 2.2),
        ],
        ids=["raised cosine", "exponential"],
    )
    def test_an_edge_is_as_much_steeper_than_its_mean_as_the_docstring_says(self, edge, steepest, expected):
        start, end = (brentq(lambda time, level=level: edge(time) - level, 0.0, 1.0) for level in (0.1, 0.9))
        assert steepest / f.slew_rate(1.0, end - start) == pytest.approx(expected, abs=0.005)

    def test_leakage_is_the_current_of_an_integrated_charge(self):
        volts, farads, hertz = 230.0, 1e-9, 50.0
        mean = quad(lambda t: abs(math.cos(2 * math.pi * hertz * t)), 0.0, 1.0 / hertz, limit=200)[0] * hertz
        moved = 4.0 * f.stored_charge(farads, f.sine_peak(volts)) * hertz
        peak = math.sqrt(2.0) * f.leakage_current(volts, farads, hertz)
        assert peak * mean == pytest.approx(moved, rel=1e-9)

    def test_the_largest_capacitance_holds_the_charge(self):
        assert f.stored_charge(f.largest_capacitance(45e-6, 325.0), 325.0) == pytest.approx(45e-6, rel=1e-12)


class TestFloatingReference:
    def test_a_bleed_against_the_nodal_equation(self):
        volts, source, earth, ohms, hertz = 230.0, 40e-12, 400e-12, 1e6, 50.0
        admittance = 2j * math.pi * hertz
        node = admittance * source * volts / (admittance * (source + earth) + 1.0 / ohms)
        assert f.bled_voltage(volts, source, earth, ohms, hertz) == pytest.approx(abs(node), rel=1e-12)

    def test_a_bleed_that_hardly_conducts_leaves_the_divider(self):
        divider = ISOLATION["floating_voltage"]
        bled = f.bled_voltage(**divider, resistance=1e15, frequency=50.0)
        assert bled == pytest.approx(f.floating_voltage(**divider), rel=1e-6)

    def test_a_discharge_in_time(self):
        ohms, farads = 1e6, 1.3e-9
        lasting = f.discharge_time(ohms, farads, 230.0, 42.4)
        solved = solve_ivp(lambda _, volts: -volts / (ohms * farads), (0.0, lasting), [230.0], rtol=1e-10, atol=1e-10)
        assert solved.y[0, -1] == pytest.approx(42.4, rel=1e-7)

    def test_nothing_to_discharge_takes_no_time(self):
        assert f.discharge_time(1e6, 1e-9, 230.0, 230.0) == 0.0


class TestTouching:
    @staticmethod
    def network(hertz, *, filtered):
        """Return current into the network and voltage behind the filter at 1 V, by nodal equations."""
        values = {name: figure.value for name, figure in TOUCH_NETWORK.items()}
        turning = 2j * math.pi * hertz
        series = 1.0 / values["series resistance"] + turning * values["series capacitance"]
        into = 1.0 / values["filter resistance"] if filtered else 0.0
        across = turning * values["filter capacitance"]
        matrix = np.array([[series + 1.0 / values["body resistance"] + into, -into], [-into, into + across + 1e-15]])
        body, behind = np.linalg.solve(matrix, [series, 0.0])
        return series * (1.0 - body), body, behind

    @pytest.mark.parametrize("hertz", [50.0, 1e3, 20e3, 1e6])
    def test_the_network_without_its_filter(self, hertz):
        current, _, _ = self.network(hertz, filtered=False)
        assert f.touch_network_impedance(hertz) == pytest.approx(1.0 / current, rel=1e-9)

    @pytest.mark.parametrize("hertz", [1.0, 50.0, 1e3, 5e3, 20e3, 1e6])
    def test_the_filter_changes_as_little_as_the_docstring_says(self, hertz):
        current, body, behind = self.network(hertz, filtered=True)
        assert abs(f.touch_network_impedance(hertz) * current) == pytest.approx(1.0, abs=0.05)
        assert abs(behind / body) == pytest.approx(f.touch_filter_ratio(hertz), rel=1e-6)

    def test_a_current_through_a_capacitance_and_a_person(self):
        volts, farads, hertz = 230.0, 10e-9, 1e3
        whole = 1.0 / (2j * math.pi * hertz * farads) + f.touch_network_impedance(hertz)
        assert f.touch_current(volts, farads, hertz) == pytest.approx(volts / abs(whole), rel=1e-12)

    def test_a_large_capacitance_leaves_the_person_alone_in_the_circuit(self):
        assert f.touch_current(230.0, 1e-3, 5e3) == pytest.approx(230.0 / abs(f.touch_network_impedance(5e3)), rel=1e-4)

    def test_weighting_hardly_counts_at_mains_frequency(self):
        for hertz in (50.0, 60.0):
            ratio = f.weighted_touch_current(230.0, 1e-9, hertz) / f.touch_current(230.0, 1e-9, hertz)
            assert 0.996 < ratio < 1.0

    def test_limits_recalled_are_marked_so(self):
        assert {figure.known for row in ACCESSIBLE_LIMITS.values() for figure in row.values()} == {"memory"}


class TestRods:
    RHO, LENGTH, RADIUS = 100.0, 3.0, 8e-3

    def potential(self, depth, distance):
        """Return the potential of a uniform line of 1 A and of its image, by a numerical integral."""

        def line(at):
            return 1.0 / math.hypot(depth - at, distance)

        total = quad(line, -self.LENGTH, self.LENGTH, points=[depth, -depth], limit=400)[0]
        return self.RHO / (4.0 * math.pi * self.LENGTH) * total

    def test_one_rod_is_the_mean_potential_on_its_surface(self):
        mean = quad(lambda z: self.potential(z, self.RADIUS), 0.0, self.LENGTH, limit=200)[0] / self.LENGTH
        assert f.rod_resistance(self.RHO, self.LENGTH, 2.0 * self.RADIUS) == pytest.approx(mean, rel=1e-3)

    @pytest.mark.parametrize("distance", [0.5, 3.0, 20.0])
    def test_two_rods_share_the_mean_potential_on_the_other(self, distance):
        mean = quad(lambda z: self.potential(z, distance), 0.0, self.LENGTH)[0] / self.LENGTH
        assert f.mutual_rod_resistance(self.RHO, self.LENGTH, distance) == pytest.approx(mean, rel=1e-8)

    def test_far_away_a_rod_is_a_point(self):
        point = f.spreading_voltage(1.0, self.RHO, 3e3)
        assert f.mutual_rod_resistance(self.RHO, self.LENGTH, 3e3) == pytest.approx(point, rel=1e-6)

    @pytest.mark.parametrize("distance", [0.1, 1.0, 30.0])
    def test_the_surface_beside_a_rod(self, distance):
        rod = self.LENGTH, 2.0 * self.RADIUS
        surface = self.potential(0.0, distance) / f.rod_resistance(self.RHO, *rod)
        assert f.rod_potential_share(*rod, distance) == pytest.approx(surface, rel=1e-8)

    def test_two_rods_in_parallel(self):
        own = f.rod_resistance(self.RHO, self.LENGTH, 2.0 * self.RADIUS)
        mutual = f.mutual_rod_resistance(self.RHO, self.LENGTH, 6.0)
        pair = f.rod_row_resistance(self.RHO, self.LENGTH, 2.0 * self.RADIUS, 6.0, 2)
        assert pair == pytest.approx((own + mutual) / 2.0, rel=1e-12)

    def test_the_outer_of_three_rods_give_off_more(self):
        own = f.rod_resistance(self.RHO, self.LENGTH, 2.0 * self.RADIUS)
        near, far = f.mutual_rod_resistance(self.RHO, self.LENGTH, [6.0, 12.0])
        outer, inner = np.linalg.solve([[own + far, near], [2.0 * near, own]], [1.0, 1.0])
        row = f.rod_row_resistance(self.RHO, self.LENGTH, 2.0 * self.RADIUS, 6.0, 3)
        assert row == pytest.approx(1.0 / (2.0 * outer + inner), rel=1e-12)
        assert outer > inner

    def test_a_row_is_close_to_the_handbook_s_perimeter(self):
        """26 rods, 20 ft apart, round 100 by 160 ft: the curve for rows is read for them at 5.5 % of one rod."""
        steps = np.arange(26) * 20.0
        along, up, back = steps <= 160.0, (steps > 160.0) & (steps <= 260.0), (steps > 260.0) & (steps <= 420.0)
        x = np.select([along, up, back], [steps, 160.0, 420.0 - steps], 0.0) * FOOT
        y = np.select([along, up, back], [0.0, steps - 160.0, 100.0], 520.0 - steps) * FOOT
        apart = np.hypot(x[:, None] - x, y[:, None] - y)
        rod = 100.0, 10.0 * FOOT, 0.75 * FOOT / 12.0
        own = f.rod_resistance(*rod)
        matrix = np.diag(np.full(26, own))
        matrix[apart > 0.0] = f.mutual_rod_resistance(*rod[:2], apart[apart > 0.0])
        ring = 1.0 / np.linalg.solve(matrix, np.ones(26)).sum()
        row = f.rod_row_resistance(*rod, 20.0 * FOOT, 26)
        assert row / own == pytest.approx(0.055, rel=0.02)
        assert row < ring < 1.2 * row

    def test_steps_and_surroundings_make_up_the_rise(self):
        rod = self.LENGTH, 2.0 * self.RADIUS
        left = f.rod_potential_share(*rod, 0.9)
        rise = f.ground_potential_rise(20e3, f.rod_resistance(self.RHO, *rod))
        assert f.rod_step_voltage(20e3, self.RHO, *rod, 0.9) == pytest.approx(rise * (1.0 - left), rel=1e-12)

    def test_without_an_earth_conductor_a_fault_raises_nothing(self):
        assert f.fault_earth_voltage(230.0, 0.5, 0.0) == 0.0
        assert f.fault_earth_voltage(230.0, 0.0, 0.5) == 230.0


class TestInduction:
    @staticmethod
    def flux(near, far, width):
        """Return the flux per ampere of a straight wire through a loop whose width depends on the distance."""
        return MU / (2.0 * math.pi) * quad(lambda r: width(r) / r, near, far)[0]

    def test_a_rectangle(self):
        exact = self.flux(1.0, 3.0, lambda r: 10.0)
        assert f.rectangle_mutual_inductance(10.0, 1.0, 3.0) == pytest.approx(exact, rel=1e-8)

    def test_a_circle_far_away(self):
        exact = self.flux(49.5, 50.5, lambda r: 2.0 * math.sqrt(max(0.25 - (r - 50.0) ** 2, 0.0)))
        assert f.small_loop_mutual_inductance(math.pi / 4.0, 50.0) == pytest.approx(exact, rel=1e-4)

    @pytest.mark.parametrize(("distance", "low"), [(1.0, 0.09), (3.0, 0.01)])
    def test_a_square_is_as_far_off_as_the_docstring_says(self, distance, low):
        exact = f.rectangle_mutual_inductance(1.0, distance - 0.5, distance + 0.5)
        assert 1.0 - f.small_loop_mutual_inductance(1.0, distance) / exact == pytest.approx(low, abs=0.002)

    @pytest.mark.parametrize(("diameters", "low"), [(5.0, 0.05), (20.0, 0.01), (150.0, 0.001)])
    def test_a_straight_lead_by_neumann(self, diameters, low):
        length, radius = diameters * 4e-3, 2e-3
        # both lines in units of the radius; the inner integral has its peak where they pass each other
        double = dblquad(
            lambda other, at: 1.0 / math.hypot(at - other, 1.0), 0.0, length / radius, 0.0, length / radius, epsrel=1e-8
        )[0]
        exact = MU / (4.0 * math.pi) * double * radius
        short_by = 1.0 - f.straight_wire_inductance(length, 2.0 * radius) / exact
        assert 0.0 < short_by < low

    def test_a_sine_against_its_steepest_slope(self):
        peak = f.induced_voltage(2.2e-6, math.sqrt(2.0) * 100.0 * 2.0 * math.pi * 50.0)
        assert f.sine_peak(f.induced_voltage_rms(2.2e-6, 100.0, 50.0)) == pytest.approx(peak, rel=1e-12)


class TestComponents:
    def test_a_reinforced_part_is_tested_with_10_kv_at_the_least(self):
        assert f.surge_test([5e3, 6.25e3, 8e3], "VDE V 0884-11", "reinforced") == pytest.approx([10e3, 10e3, 12.8e3])
        assert f.surge_test([5e3, 8e3], "VDE V 0884-10", "reinforced") == pytest.approx([10e3, 12.8e3])
        assert f.surge_test(5e3, "VDE V 0884-11", "basic") == pytest.approx(6.5e3)

    def test_the_same_rating_is_another_test_in_another_edition(self):
        old = f.surge_test(10e3, "VDE V 0884-11", "reinforced")
        assert old == pytest.approx(1.6 * f.surge_test(10e3, "IEC 60747-17", "reinforced"))

    def test_an_impulse_rating_asks_for_a_surge_rating_that_passes(self):
        rating = f.least_surge_rating(8e3, "reinforced")
        assert rating == pytest.approx(10.4e3)
        assert f.surge_test(rating, "IEC 60747-17", "reinforced") == rating

    def test_a_printed_rating_is_no_product_of_another(self):
        """Parts of 2500 V for a minute carry 560 and 566 V peak for good: no formula leads from one to the other."""
        exported = set(f.__all__)
        assert not {name for name in exported if "working_voltage" in name and "life" not in name}
        assert f.sine_peak(2500.0) > 6.0 * 566.0
        assert f.partial_discharge_test(566.0, "VDE V 0884-10", "reinforced", "production") < f.sine_peak(2500.0)


class TestLife:
    POINTS = (5000.0, 60.0, 1272.0, 30.0 * YEAR)
    MODELS = {
        "power_law": ("power_law_exponent", "power_law_life"),
        "exponential": ("exponential_life_slope", "exponential_life"),
        "reciprocal": ("reciprocal_life_slope", "reciprocal_life"),
    }

    def life(self, model, volts):
        fit, law = (getattr(f, name) for name in self.MODELS[model])
        return law(volts, self.POINTS[2], self.POINTS[3], fit(*self.POINTS))

    @pytest.mark.parametrize("model", MODELS)
    def test_a_model_goes_through_both_of_its_points(self, model):
        assert self.life(model, [5000.0, 1272.0]) == pytest.approx([60.0, 30.0 * YEAR], rel=1e-9)

    @pytest.mark.parametrize("model", MODELS)
    def test_the_order_of_the_points_does_not_matter(self, model):
        fit = getattr(f, self.MODELS[model][0])
        assert fit(*self.POINTS[2:], *self.POINTS[:2]) == pytest.approx(fit(*self.POINTS), rel=1e-12)

    @pytest.mark.parametrize(("volts", "order"), [
        (400.0, ["exponential", "power_law", "reciprocal"]),
        (2500.0, ["reciprocal", "power_law", "exponential"]),
        (7000.0, ["exponential", "power_law", "reciprocal"]),
    ])  # fmt: skip
    def test_models_part_company_away_from_their_points(self, volts, order):
        lives = [self.life(model, volts) for model in order]
        assert lives == sorted(lives)
        spread = f.life_model_spread(volts, *self.POINTS)
        assert spread == pytest.approx(lives[-1] / lives[0], rel=1e-9)
        assert spread > 1.5

    def test_models_agree_at_their_points(self):
        assert f.life_model_spread([5000.0, 1272.0], *self.POINTS) == pytest.approx([1.0, 1.0], rel=1e-9)

    def test_a_ratio_of_temperatures_turns_round(self):
        there = f.temperature_life_ratio(1.1e-19, 358.15, 398.15)
        back = f.temperature_life_ratio(1.1e-19, 398.15, 358.15)
        assert there * back == pytest.approx(1.0, rel=1e-12)
        assert there > 1.0

    def test_too_short_a_life_is_nothing_and_not_an_error(self):
        assert f.power_law_life(1e9, 1.0, 1.0, 100.0) == 0.0


class TestHeat:
    def test_the_limit_of_power_heats_up_to_the_limit_of_temperature(self):
        power = f.safety_limit_power(298.15, 110.1)
        assert f.junction_temperature(298.15, 110.1, power) == pytest.approx(423.15, rel=1e-12)
        assert 5.5 * f.safety_limit_current(298.15, 110.1, 5.5) == pytest.approx(power, rel=1e-12)

    def test_beyond_the_limit_nothing_is_left(self):
        assert f.safety_limit_power([423.15, 450.0], 110.1).tolist() == [0.0, 0.0]
        assert f.safety_limit_current(450.0, 110.1, 5.5) == 0.0

    def test_a_derating_line_is_flat_then_straight_then_zero(self):
        rated = 0.471, 343.15, 5.88e-3
        end = f.zero_power_temperature(*rated)
        line = f.derated_power(*rated, [250.0, 343.15, end, end + 20.0])
        assert line == pytest.approx([0.471, 0.471, 0.0, 0.0], abs=1e-12)
        assert f.derated_power(*rated, (343.15 + end) / 2.0) == pytest.approx(0.471 / 2.0, rel=1e-9)


class TestSupplies:
    def test_what_does_not_come_out_is_heat(self):
        share = f.conversion_efficiency(5.0, 0.26, 5.0, 0.2)
        assert f.conversion_loss(1.0, share) == pytest.approx(5.0 * 0.26 - 1.0, rel=1e-12)

    def test_nothing_comes_out_of_a_supply_without_load(self):
        assert f.conversion_efficiency(5.0, 0.03, 5.0, 0.0) == 0.0

    def test_without_deviations_the_output_is_nominal(self):
        assert f.unregulated_output(5.0) == 5.0

    def test_added_and_drawn_current_reach_the_least_load(self):
        drawn = np.array([0.0, 2.8e-3, 20e-3, 50e-3])
        added = f.added_load(20e-3, drawn)
        assert (drawn + added >= 20e-3 - 1e-18).all()
        assert added[2:].tolist() == [0.0, 0.0]


class TestNodeResistors:
    def test_the_largest_difference_heats_the_resistors_to_their_rating(self):
        volts = f.largest_ground_difference(0.5, 100.0, wire_resistance=20.0)
        current = f.reference_current(volts, 20.0, node_resistance=100.0)
        assert current == pytest.approx(f.rated_current(0.5, 100.0), rel=1e-12)
        assert f.current_power(current, 100.0) == pytest.approx(0.5, rel=1e-12)
