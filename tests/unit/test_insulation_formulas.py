"""Insulation coordination: the errors of naive checkers as tests that must not pass, marks of tables, and properties."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rs485kit import formulas as f
from rs485kit.errors import InputError
from rs485kit.formulas import insulation_tables as tables

MM = 1e-3
GROUPS = ("I", "II", "IIIa", "IIIb")
TABLES = [each for each in vars(tables).values() if isinstance(each, tables.Table)]


def chain(system, category, insulation, altitude, degree=2):
    """Clearance from the mains voltage on, as an analysis of a bus takes it."""
    impulse = f.required_impulse_voltage(f.rated_impulse_voltage(system, category), insulation)
    return f.impulse_clearance(impulse, degree, altitude=altitude)


class TestNaiveErrors:
    """Each of these was seen in checkers; the wrong figure stands beside the right one."""

    def test_clearance_doubled_instead_of_the_next_impulse_step(self):
        basic = chain(300.0, 3, "basic", 0.0)
        assert chain(300.0, 3, "reinforced", 0.0) == pytest.approx(5.5 * MM)
        assert 2 * basic == pytest.approx(6.0 * MM)

    def test_line_to_line_for_line_to_neutral(self):
        assert f.rated_impulse_voltage(f.line_to_neutral_voltage(400.0), 3) == 4000.0
        assert f.rated_impulse_voltage(400.0, 3) == 6000.0

    def test_altitude_applied_to_creepage(self):
        low, high = (
            f.creepage(250.0, 2, "IIIa", "basic", clearance=0.5 * MM * f.altitude_factor(altitude))
            for altitude in (0.0, 5000.0)
        )
        assert low == high == pytest.approx(2.5 * MM)

    def test_altitude_below_2000_m(self):
        assert f.altitude_factor([-400.0, 0.0, 1500.0, 2000.0]).tolist() == [1.0] * 4

    def test_creepage_below_clearance(self):
        clearance = f.impulse_clearance(4000.0, 2)
        assert f.creepage(50.0, 2, "IIIa", "basic") == pytest.approx(1.2 * MM)
        assert f.creepage(50.0, 2, "IIIa", "basic", clearance=clearance) == pytest.approx(3.0 * MM)

    def test_creepage_from_a_peak(self):
        rms, peak = 400.0, 400.0 * math.sqrt(2.0)
        assert f.creepage(rms, 2, "I", "basic") < f.creepage(peak, 2, "I", "basic")
        assert f.creepage(rms, 2, "I", "basic") == pytest.approx(2.0 * MM)

    def test_8_mm_called_reinforced_at_300_v_category_3_at_5000_m(self):
        assert chain(300.0, 3, "reinforced", 5000.0) == pytest.approx(8.14 * MM)
        assert chain(300.0, 3, "reinforced", 4000.0) == pytest.approx(7.095 * MM)

    def test_categories_1_to_4_at_600_v_of_an_8_mm_part_read_as_a_reinforced_claim(self):
        assert chain(600.0, 4, "basic", 0.0) == pytest.approx(8.0 * MM)
        assert chain(600.0, 4, "reinforced", 0.0) == pytest.approx(14.0 * MM)

    def test_impulse_interpolated(self):
        assert f.rated_impulse_voltage(151.0, 2) == 2500.0

    def test_an_impulse_between_two_steps_is_raised_before_the_step_of_reinforced(self):
        assert f.required_impulse_voltage(2600.0, "reinforced") == 6000.0
        assert f.required_impulse_voltage(2600.0, "basic") == 4000.0

    def test_a_groove_that_is_wide_enough_for_a_small_clearance_alone(self):
        assert f.groove_width(3, 1.5 * MM) == pytest.approx(0.5 * MM)
        assert f.groove_width(3, 3.0 * MM) == pytest.approx(1.5 * MM)
        # a third of a clearance is no help where it is more than the table asks for
        assert f.groove_width(1, 2.9 * MM) == pytest.approx(0.25 * MM)


class TestRefused:
    @pytest.mark.parametrize("function", [f.creepage])
    def test_no_creepage_at_pollution_degree_4(self, function):
        with pytest.raises(InputError, match="degree 4"):
            function(230.0, 4, "I", "basic")

    def test_group_3b_above_630_v_at_degree_3(self):
        assert f.creepage(630.0, 3, "IIIb", "basic") == pytest.approx(10.0 * MM)
        assert f.creepage(800.0, 2, "IIIb", "basic") == pytest.approx(8.0 * MM)
        with pytest.raises(InputError, match="630 V"):
            f.creepage(631.0, 3, "IIIb", "basic")

    def test_the_series_ends(self):
        assert f.required_impulse_voltage(12000.0, "basic") == 12000.0
        with pytest.raises(InputError, match="consult"):
            f.required_impulse_voltage(8001.0, "reinforced")

    @pytest.mark.parametrize("voltage", [0.0, -230.0, 1000.1, math.nan, "230 V", None])
    def test_a_mains_voltage_that_is_none(self, voltage):
        with pytest.raises(InputError):
            f.rated_impulse_voltage(voltage, 3)

    @pytest.mark.parametrize("category", [0, 5, 2.5, "III", None])
    def test_a_category_that_there_is_not(self, category):
        with pytest.raises(InputError):
            f.rated_impulse_voltage(230.0, category)

    @pytest.mark.parametrize("grade", ["double", "Reinforced", None, 2])
    def test_a_grade_that_there_is_not(self, grade):
        for refused in (
            lambda: f.required_impulse_voltage(4000.0, grade),
            lambda: f.creepage(230.0, 2, "I", grade),
            lambda: f.temporary_overvoltage(230.0, "short", grade),
            lambda: f.high_frequency_clearance(700.0, 2, grade),
        ):
            with pytest.raises(InputError, match="insulation"):
                refused()

    @pytest.mark.parametrize("group", ["III", "IV", "i", None, 1])
    def test_a_material_group_that_there_is_not(self, group):
        with pytest.raises(InputError, match="material_group"):
            f.creepage(230.0, 2, group, "basic")

    @pytest.mark.parametrize("index", [99.0, 1001.0, math.nan, "600", None])
    def test_a_tracking_index_without_a_group(self, index):
        with pytest.raises(InputError, match="tracking_index"):
            f.material_group(index)


@pytest.mark.parametrize(("index", "group"), [(600, "I"), (599, "II"), (400, "II"), (399, "IIIa"), (175, "IIIa"),
                                              (174, "IIIb"), (100, "IIIb")])  # fmt: skip
def test_material_group(index, group):
    assert f.material_group(index) == group


class TestMarks:
    @pytest.mark.parametrize("table", TABLES, ids=lambda table: table.title)
    def test_every_entry_has_a_value_a_mark_and_a_source(self, table):
        assert list(table.rows) == sorted(set(table.rows))
        for column in table.columns.values():
            assert len(column) == len(table.rows)
            assert all(entry.known in ("read", "memory") and entry.source for entry in column)
            assert all(entry.source.startswith("recalled") == (entry.known == "memory") for entry in column)

    @pytest.mark.parametrize(
        ("impulse", "mark"), [(100.0, "read"), (25e3, "read"), (25.1e3, "memory"), (30e3, "memory"), (79e3, "memory"),
                              (80e3, "read"), (90e3, "read")],
    )  # fmt: skip
    def test_the_mark_of_an_interpolated_value_is_that_of_the_worse_neighbour(self, impulse, mark):
        assert tables.CLEARANCES.known("2", impulse) == mark


# --- what must hold everywhere -----------------------------------------------------------------------------

SYSTEM = st.floats(1.0, 1000.0)
ALTITUDE = st.floats(-500.0, 20e3)
GRADE = st.sampled_from(("functional", "basic", "supplementary", "reinforced"))


@given(SYSTEM, SYSTEM, st.integers(1, 4), st.integers(1, 4), ALTITUDE, ALTITUDE, GRADE, st.integers(1, 4))
def test_more_voltage_category_or_altitude_never_needs_less(v1, v2, c1, c2, a1, a2, grade, degree):
    low, high = (min(v1, v2), min(c1, c2), min(a1, a2)), (max(v1, v2), max(c1, c2), max(a1, a2))
    try:
        more = chain(high[0], high[1], grade, high[2], degree)
    except InputError:
        return
    assert chain(low[0], low[1], grade, low[2], degree) <= more


@given(st.floats(0.0, 8000.0), st.floats(0.0, 8000.0), GRADE)
def test_more_impulse_never_needs_less_at_any_impulse(first, second, grade):
    low, high = sorted((first, second))
    assert f.required_impulse_voltage(low, grade) <= f.required_impulse_voltage(high, grade)
    assert f.required_impulse_voltage(low, "reinforced") > f.required_impulse_voltage(low, "basic") >= low


@given(st.floats(0.0, 630.0), st.floats(0.0, 630.0), st.integers(1, 3), st.sampled_from(GROUPS), GRADE)
def test_creepage_grows_with_voltage_degree_and_group(first, second, degree, group, grade):
    low, high = sorted((first, second))
    asked = f.creepage(high, degree, group, grade)
    assert f.creepage(low, degree, group, grade) <= asked
    assert f.creepage(high, max(degree - 1, 1), group, grade) <= asked
    assert f.creepage(high, degree, "I", grade) <= asked
    assert f.creepage(high, degree, group, "reinforced") == pytest.approx(2 * f.creepage(high, degree, group, "basic"))


@given(st.floats(0.0, 1000.0), st.integers(1, 2))
def test_printed_wiring_never_asks_for_more_than_the_general_table(voltage, degree):
    for group in GROUPS:
        assert f.printed_creepage(voltage, degree, "basic") <= f.creepage(voltage, degree, group, "basic") + 1e-15


@given(st.floats(0.0, 100e3), st.integers(1, 3), ALTITUDE)
def test_a_homogeneous_field_never_asks_for_more(impulse, degree, altitude):
    inhomogeneous = f.impulse_clearance(impulse, degree, altitude=altitude)
    assert f.impulse_clearance(impulse, degree, altitude=altitude, field="homogeneous") <= inhomogeneous


@given(st.floats(2000.0, 10e3))
def test_the_altitude_factor_is_never_below_the_barometric_one(altitude):
    """International standard atmosphere to 11 km; 80 kPa is some 1950 m there, so a little less than it at 2000 m."""
    pressure = 101325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.25588
    assert f.altitude_factor(altitude) >= 0.98 * 79495.0 / pressure
