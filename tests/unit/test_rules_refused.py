"""What authors of rules may get wrong in a rule, a parameter or a figure: each is refused, with the cure."""

import pytest

import rs485kit as rk
from rs485kit.errors import InputError, RuleError


@pytest.mark.parametrize("unit", ["mV", "kohm", "ohm/km", "kbit/s", "us", "V/us", "%", "deg", "ft", "min", "dB/km"])
def test_a_parameter_in_a_unit_that_is_not_si_is_refused(unit):
    with pytest.raises(InputError, match="without a prefix or factor"):
        rk.parameter("most", 1.0, unit=unit, meaning="most")
    with pytest.raises(InputError, match="without a prefix or factor"):
        rk.parameter("most", f"3 {unit}", unit=unit, meaning="most")


@pytest.mark.parametrize("unit", ["furlong", "volts", "V per m", "1/s", " ", None, 3, "V^9"])
def test_a_parameter_in_a_unit_that_is_not_known_is_refused(unit):
    for default in (1.0, "1 V", "1 furlong"):
        with pytest.raises(InputError, match=r"parameter most\.unit"):
            rk.parameter("most", default, unit=unit, meaning="most")


@pytest.mark.parametrize("unit", ["", "V", "ohm", "ohm/m", "F/m", "bit/s", "Hz", "K", "rad", "dB/m", "V/s", "m^2"])
def test_a_parameter_in_si_is_taken(unit):
    assert rk.parameter("most", 2.0, unit=unit, meaning="most").default == 2.0


@pytest.mark.parametrize(
    "wrong", [{"reserve": 2}, {"reserve": -0.1}, {"reserve": float("nan")}, {"reserve": "10 %"}, {"reserve": True},
              {"source": 3}, {"source": None}, {"safety": "no"}, {"safety": 1}, {"parameters": [1]}]
)  # fmt: skip
def test_a_rule_that_is_made_badly_is_refused_by_name(wrong):
    with pytest.raises(RuleError, match=r'rule "site\.bad"'):

        @rk.rule("site.bad", title="Bad", basis="house", **wrong)
        def bad(analyses):
            """Bad."""


@pytest.mark.parametrize("build", [rk.at_least, rk.at_most])
@pytest.mark.parametrize("field", ["measured", "limit", "bound", "scale"])
@pytest.mark.parametrize("figure", ["3 V", rk.MinTypMax(typ=3.0), b"3", True, [1.0, 2.0], object(), 1j])
def test_a_figure_that_is_no_number_is_refused_by_name(build, field, figure):
    given = {"measured": 1.0, "limit": 1.0, field: figure}
    with pytest.raises(RuleError, match=f"{field} of depth is .*no number"):
        build(rk.Place.bus(), "depth", unit="m", **given)


def test_one_text_is_one_name_of_what_is_missing():
    assert rk.MissingDataError("depths", "gauge.zero").missing == ("gauge.zero",)
    found = rk.at_most(rk.Place.bus(), "depth", measured=None, limit=1.0, unit="m", missing="gauge.zero")
    assert found.missing == ("gauge.zero",)
    assert found.message == "depth is not known: gauge.zero"


@pytest.mark.parametrize("measured", [0.5, 0.95, 2.0])
def test_what_is_decided_names_nothing_missing(measured):
    found = rk.at_most(rk.Place.bus(), "depth", measured=measured, limit=1.0, unit="m", missing="gauge.zero")
    assert found.verdict != "unknown"
    assert found.missing == ()
