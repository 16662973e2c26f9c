"""Text, numbers and Quantities in, SI floats inside, Quantities out: what is refused first."""

import decimal
import fractions
import math
import pickle
import subprocess
import sys
from typing import Any

import numpy as np
import pint
import pytest

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model import Cable, Earth, Environment, Segment, Termination
from rs485kit.units import MinTypMax, si, spread, text_of


def said(given: object, unit: str) -> str:
    """Return what is said when a figure is refused."""
    with pytest.raises(InputError) as caught:
        si(given, unit)
    assert isinstance(caught.value, ValueError)
    return str(caught.value)


# --- bad figures -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "given",
    [
        "9**9**9 m", "m**9**9**9", "1,5 m", "1 000 m", "1_000 m", "1'000 m", "１２ m", "١٢ m", "nan m", "inf m", "-nan m",
        "12", "12m", "12  m", " 12 m", "12 m ", "12\tm", "12\n m", "12\u00a0m", "m", "", " ", "12 M", "12 metres", "12 meter",
        "0x10 m", "1.2.3 m", "--1 m", "1e m", "1e+ m", "1e1.5 m", "1e9999 m", "12 m^4", "12 m^-1", "12 m^", "12 m**2",
        "12 (m)", "12 m m", "12 m/s/", "12 /m", "12 m*m*m*m*m", "12 m\0", "12 m; import os", "12 m +/- 1", "12 m +/-1 %",
        "12 m + 1 %", "9" * 64 + " m", "12 " + "k" * 30 + "m", "12 ℃", "12 Ω m", "\u202e12 m",
    ],
)  # fmt: skip
def test_text_that_is_no_length_is_refused_with_an_example(given: str) -> None:
    text = said(given, "m")
    assert '"1.2 km"' in text
    assert repr(given)[:70] in text


@pytest.mark.parametrize(
    ("given", "unit", "cure"),
    [
        ("1,5 m", "m", 'use "." as the decimal sign'),
        ("1 000 m", "m", "write the digits together"),
        ("12", "m", "name the unit"),
        ("12m", "m", "put one space"),
        ("2**3 m", "m", "expressions are not evaluated"),
        ("12 feet", "m", "is written ft"),
        ("1" * 70, "m", "at most 64 characters"),
        ("12 ohm", "m", "not convertible to m"),
        ("9600 Hz", "bit/s", "not convertible to bit/s"),
        ("9600 rpm", "bit/s", "a data rate is stated in bit/s"),
        ("9600 Bq", "bit/s", "a data rate is stated in bit/s"),
        ("9600 1/s", "bit/s", "convertible to bit/s"),
        ("1e999 m", "m", "out of the range of floating point"),
        ("1e-999 m", "m", "out of the range of floating point"),
        ("12 m +/- 1 %", "m", "without a tolerance"),
        ("12 V", "", "a bare ratio"),
        ("20 degC/s", "K", "not known"),
    ],
)
def test_the_cure_fits_the_fault(given: str, unit: str, cure: str) -> None:
    assert cure in said(given, unit)


@pytest.mark.parametrize(
    "given",
    [
        float("nan"), float("inf"), -math.inf, np.float64("nan"), 10**400, -(10**400), True, False, None, [], {},
        (1,), b"12 m", 1j, object(), decimal.Decimal("12"), np.array([1.0]),
    ],
)  # fmt: skip
def test_what_is_no_finite_number_is_refused(given: object) -> None:
    assert '"1.2 km"' in said(given, "m")


def test_an_object_without_a_text_is_refused_all_the_same() -> None:
    assert "a value of type int" in said(16**5000, "m")

    class Mute:
        def __repr__(self) -> str:
            raise RuntimeError("no text")

    assert "a value of type Mute" in said(Mute(), "m")


@pytest.mark.parametrize(
    ("given", "unit"),
    [
        ([1, 2], "ohm"), ([1, 2, 3, 4], "ohm"), ((None, None, None), "ohm"), ((3, 2, 1), "ohm"), ((1, "2 m", 3), "ohm"),
        ((1, 2, math.nan), "ohm"), ((1, 2, 10**400), "ohm"), ({}, "ohm"), ({"minimum": 1}, "ohm"), ({"min": None}, "ohm"),
        ({5: 1}, "ohm"), ("120 ohm +/- -1 %", "ohm"), ("120 ohm +/- nan %", "ohm"), ("25 degC +/- 1 %", "K"),
        ("1e300 ohm +/- 1e99 %", "ohm"), (True, "ohm"), (None, "ohm"),
    ],
)  # fmt: skip
def test_limits_that_are_none_are_refused(given: object, unit: str) -> None:
    with pytest.raises(InputError):
        spread(given, unit)


@pytest.mark.parametrize("value", [math.nan, math.inf, 10**400, "1 V", True, [1]])
def test_a_member_of_a_triple_is_a_finite_number(value: Any) -> None:
    with pytest.raises(InputError, match=r"MinTypMax\.typ"):
        MinTypMax(typ=value)


def test_a_triple_holds_at_least_one_figure_in_order() -> None:
    with pytest.raises(InputError, match="at least one of min, typ and max"):
        MinTypMax()
    for members in ({"min": 2, "typ": 1}, {"min": 2, "max": 1}, {"typ": 2, "max": 1}):
        with pytest.raises(InputError, match="min <= typ <= max"):
            MinTypMax(**members)


def test_quantities_of_a_wrong_kind_are_refused() -> None:
    registry: Any = pint.UnitRegistry()
    for given in (registry.Quantity(1, "second"), registry.Quantity(5), registry.Quantity([1.0, 2.0], "meter"),
                  registry.Quantity(math.nan, "meter"), registry.Quantity(math.nan, "fathom"), registry.Quantity(1, "Pa")):  # fmt: skip
        with pytest.raises(InputError):
            si(given, "m")
    for given in (registry.Quantity(9600, "hertz"), registry.Quantity(9600, "rpm"), registry.Quantity(9600, "Bq"),
                  registry.Quantity(9600, "1/second")):  # fmt: skip
        with pytest.raises(InputError):
            si(given, "bit/s")


# --- good figures ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1.2 km", "m", 1200.0), ("1 ft", "m", 0.3048), ("1 mi", "m", 1609.344), ("100 ns", "s", 1e-7),
        ("84.2 ohm/km", "ohm/m", 0.0842), ("42 pF/m", "F/m", 42e-12), ("115.2 kbit/s", "bit/s", 115200.0),
        ("9600 Bd", "bit/s", 9600.0), ("25 degC", "K", 298.15), ("-40 °C", "K", 233.15), ("300 K", "K", 300.0),
        ("66 %", "", 0.66), ("25 kV/us", "V/s", 25e9), ("25 kV/µs", "V/s", 25e9), ("25 kV/μs", "V/s", 25e9),
        ("120 Ω", "ohm", 120.0), ("1.5 kΩ", "ohm", 1500.0), ("180 deg", "rad", math.pi), ("90 °", "rad", math.pi / 2),
        ("5 mA", "A", 0.005), ("0.5 W", "W", 0.5), ("2 min", "s", 120.0), (".5 m", "m", 0.5), ("5. m", "m", 5.0),
        ("+5 m", "m", 5.0), ("-5e-3 V", "V", -0.005), ("1E3 m", "m", 1000.0), ("50 Hz", "Hz", 50.0), ("1 V/A", "ohm", 1.0),
        ("2 m^2/m", "m", 2.0), ("2 m²/m", "m", 2.0), ("1 J/s", "W", 1.0),
    ],
)  # fmt: skip
def test_text_reads_to_the_very_float(text: str, unit: str, value: float) -> None:
    assert si(text, unit) == value


def test_one_decimal_of_ohm_per_kilometre_is_the_literal_in_si() -> None:
    for tenths in range(1, 3000):
        assert si(f"{tenths / 10} ohm/km", "ohm/m") == float(f"{tenths}e-4")


@pytest.mark.parametrize("given", [12, 12.0, np.float32(12), np.int64(12), fractions.Fraction(12)])
def test_a_bare_number_is_si(given: Any) -> None:
    value = si(given, "m")
    assert value == 12.0
    assert type(value) is float


def test_limits_are_read_from_every_form() -> None:
    assert spread("120 ohm +/- 1 %", "ohm") == MinTypMax(min=118.8, typ=120, max=121.2)
    assert spread("120 ohm ± 1 %", "ohm") == spread((118.8, "120 ohm", "0.1212 kohm"), "ohm")
    assert spread("-5 V +/- 10 %", "V") == MinTypMax(min=-5.5, typ=-5, max=-4.5)
    assert spread("120 ohm", "ohm") == MinTypMax(min=120, typ=120, max=120) == spread(120, "ohm")
    assert spread({"typ": "3.5 V"}, "V") == spread((None, "3.5 V", None), "V") == MinTypMax(typ=3.5)
    assert spread([None, None, 3], "V") == MinTypMax(max=3)
    assert spread(MinTypMax(typ=1), "V") == MinTypMax(typ=1)


def test_the_nominal_is_the_typical_or_the_middle() -> None:
    assert MinTypMax(min=1, typ=1.2, max=3).nominal == 1.2
    assert MinTypMax(min=1, max=3).nominal == 2.0
    assert MinTypMax(min=1).nominal is None
    assert MinTypMax(min=1e308, max=1.5e308).nominal == 1.25e308
    assert MinTypMax(min=2, typ=2, max=2).exact
    assert not MinTypMax(min=2, max=2).exact
    assert not MinTypMax(typ=2).exact


def test_a_triple_is_a_value() -> None:
    one = MinTypMax(min=1, typ=2, max=np.float64(3))
    assert one == MinTypMax(min=1.0, typ=2.0, max=3.0)
    assert hash(one) == hash(MinTypMax(min=1.0, typ=2.0, max=3.0))
    assert pickle.loads(pickle.dumps(one)) == one
    assert str(MinTypMax(typ=2)) == "? / 2 / ?"
    with pytest.raises(AttributeError):
        one.min = 0  # type: ignore[misc]


# --- Quantities ------------------------------------------------------------------------------------------


def test_quantities_of_any_registry_are_read_exactly() -> None:
    registry: Any = pint.UnitRegistry()
    other: Any = pint.UnitRegistry()
    assert si(registry.Quantity(84.2, "ohm/km"), "ohm/m") == 0.0842
    assert si(other.Quantity(100, "ns"), "s") == 1e-7
    assert si(registry.Quantity(115.2, "kbit/s"), "bit/s") == 115200.0
    assert si(registry.Quantity(9600, "baud"), "bit/s") == 9600.0
    assert si(registry.Quantity(1, "fathom"), "m") == pytest.approx(1.8288, rel=1e-5)
    assert si(registry.Quantity(25, "degC"), "K") == pytest.approx(298.15, rel=1e-12)
    assert si(registry.Quantity(66, "percent"), "") == 0.66
    assert si(registry.Quantity(0.66), "") == 0.66
    assert spread((registry.Quantity(1, "V"), None, "3 V"), "V") == MinTypMax(min=1, max=3)
    assert Segment(start="weir", end="lock", length=registry.Quantity(100, "foot")).length == 30.48


def test_the_view_gives_quantities_of_the_application_registry() -> None:
    segment = Segment(start="weir", end="lock", length="100 ft")
    assert segment.q.length.to("ft").magnitude == pytest.approx(100)
    before: Any = pint.get_application_registry()  # type: ignore[no-untyped-call]
    own: Any = pint.UnitRegistry()
    own.define("chain_length = 20.1168 * meter")
    pint.set_application_registry(own)
    try:
        length = segment.q.length
        assert length.to("chain_length").magnitude == pytest.approx(30.48 / 20.1168)
        assert (length + own.Quantity(1, "m")).magnitude == pytest.approx(31.48)
    finally:
        pint.set_application_registry(getattr(before, "_registry", before))


def test_the_view_shows_limits_and_what_is_unknown() -> None:
    end = Termination(resistance=(None, 120, 126))
    assert end.q.resistance.typ.to("kohm").magnitude == pytest.approx(0.12)
    assert end.q.resistance.nominal.magnitude == 120
    assert end.q.resistance.min is None
    assert end.q.capacitance is None
    cable = Cable(name="pair", velocity_factor=0.66)
    assert cable.q.velocity_factor.typ.magnitude == 0.66
    assert cable.q.velocity_factor.typ.dimensionless
    assert Earth(name="bank", mains_phase="90 deg").q.mains_phase.to("degree").magnitude == pytest.approx(90)
    assert Environment(temperature="25 degC").q.temperature.typ.to("degC").magnitude == pytest.approx(25)


def test_the_view_names_what_has_a_unit() -> None:
    view = Segment(start="weir", end="lock", length=1).q
    assert dir(view) == ["length"]
    with pytest.raises(AttributeError, match="with a unit are: length"):
        _ = view.cable
    assert not hasattr(view, "_private")


def test_pints_default_registry_is_built_only_by_the_view() -> None:
    code = """
import rs485kit as rk
import pint
segment = rk.Segment(start="a", end="b", length="100 ft")
registry = pint.get_application_registry()
assert type(registry._registry).__name__ == "LazyRegistry", type(registry._registry)
segment.q.length
assert type(registry._registry).__name__ != "LazyRegistry"
"""
    subprocess.run([sys.executable, "-W", "error", "-c", code], check=True, timeout=60)


# --- writing ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (120.0, "ohm", "120 ohm"), (1200.0, "m", "1200 m"), (0.4, "m", "0.4 m"), (1e-7, "s", "100 ns"), (0.0, "V", "0 V"),
        (0.0842, "ohm/m", "84.2 ohm/km"), (115200.0, "bit/s", "115.2 kbit/s"), (25e9, "V/s", "25 kV/us"),
        (-0.2, "V", "-200 mV"), (248.15, "K", "-25 degC"), (42e-12, "F/m", "42 pF/m"), (1e300, "ohm", "1e+300 ohm"),
        (1e-300, "K", "1e-300 K"), (5e-324, "s", "5e-324 s"),
    ],
)  # fmt: skip
def test_a_figure_is_written_as_a_person_would(value: float, unit: str, text: str) -> None:
    assert text_of(value, unit) == text
    assert si(text, unit) == value


def test_a_ratio_is_written_bare() -> None:
    assert text_of(0.66, "") == 0.66


def test_every_converter_names_a_unit_of_the_table() -> None:
    for converter, unit in units.UNITS_OF.items():
        assert converter.__doc__ is not None
        assert f"[{unit or '-'}]" in converter.__doc__ or (unit == "K" and "[K]" in converter.__doc__)
        assert units.example_of(unit)
        assert math.isfinite(si(units.example_of(unit), unit))


def test_problems_read_as_one_sentence() -> None:
    problem = Problem("link.data_rate", "'9600'", "a data rate", "name the unit", 7)
    assert str(problem) == "link.data_rate (line 7): given '9600', wanted a data rate; name the unit"
    assert str(Problem("", "x", "y", line=3)) == "line 3: given x, wanted y"
    assert str(Problem("", "x", "y")) == "given x, wanted y"
    assert problem == pickle.loads(pickle.dumps(problem))
    assert hash(problem) == hash(pickle.loads(pickle.dumps(problem)))
    assert problem.under("bus").place == "bus.link.data_rate"
    assert Problem("[0]", "x", "y").under("bus.nodes").place == "bus.nodes[0]"
    assert Problem("", "x", "y").under("bus").place == "bus"
