"""Cables by the published models of telephone pairs, and the lines that are made of them."""

import numpy as np
import pytest

from rs485kit import catalogue
from rs485kit.errors import UnknownNameError
from rs485kit.network.branches import Notes
from rs485kit.network.cable_lines import fit_of
from rs485kit.solvers.line_fit import attenuation
from telephone_pairs import POWER_FORMS, REFERENCE_FORMS, primary_constants, secondary_constants

PAIRS = {**POWER_FORMS, **REFERENCE_FORMS}


@pytest.mark.parametrize("name", ["", "ansi-24awg", None, 3])
def test_a_pair_that_is_not_known_is_answered_with_those_that_are(name):
    with pytest.raises(UnknownNameError, match=r"the pairs are ansi-24awg-0\.5mm, "):
        catalogue.telephone_cable(name)


@pytest.mark.parametrize("name", sorted(PAIRS))
def test_a_cable_has_the_figures_of_its_model(name):
    """Against a second implementation of the models, which shares no code with the formulas."""
    cable = catalogue.telephone_cable(name)
    frequency = np.array([each.frequency for each in cable.attenuation])
    constant, _ = secondary_constants(primary_constants(PAIRS[name], frequency), frequency)
    assert [each.loss for each in cable.attenuation] == pytest.approx(20.0 / np.log(10.0) * constant.real, rel=1e-6)
    at = np.array([1e6])
    there, impedance = secondary_constants(primary_constants(PAIRS[name], at), at)
    assert cable.characteristic_impedance.typ == pytest.approx(float(abs(impedance[0])), rel=1e-6)
    assert cable.velocity_factor.typ == pytest.approx(2e6 * np.pi / float(there.imag[0]) / 299792458.0, rel=1e-6)


@pytest.mark.parametrize("name", sorted(PAIRS))
def test_the_line_made_of_it_loses_what_the_page_says(name):
    cable = catalogue.telephone_cable(name)
    fit = fit_of(cable, Notes())
    frequency = np.array([each.frequency for each in cable.attenuation])
    stated = np.array([each.loss for each in cable.attenuation])
    assert np.abs(attenuation(fit.model, frequency) / stated - 1.0).max() < 0.07
