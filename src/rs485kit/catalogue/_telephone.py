"""Cables by the published models of telephone pairs."""

import difflib
import math
from typing import cast, get_args

import numpy as np

from rs485kit import formulas
from rs485kit.errors import UnknownNameError
from rs485kit.formulas.reference_pair import ReferencePair
from rs485kit.formulas.telephone_pair import TelephonePair
from rs485kit.model import Attenuation, Cable

NEPER = 20.0 / math.log(10.0)
FITTED_AT = 1e6
POINTS = (1e3, 1e4, 3e4, 1e5, 3e5, 1e6, 3e6, 1e7)
"""The first is as good as direct current; the others are where attenuation is taken over [Hz]."""


def telephone_cable(pair: TelephonePair | ReferencePair) -> Cable:
    """Cable with the figures of a published model of a telephone pair.

    Parameters
    ----------
    pair : str
        Name of a pair of `rs485kit.formulas.telephone_pair_resistance`, such as "ansi-24awg-0.5mm", or of
        `rs485kit.formulas.reference_pair_impedance`, such as "t05u-0.5mm" [-].

    Returns
    -------
    Cable
        Resistance, impedance and velocity at 1 MHz, and attenuation from 10 kHz to 10 MHz, each as the model has it;
        the cable has no reference conductor [-].

    Raises
    ------
    UnknownNameError
        If no model bears the name; near names are offered.

    Notes
    -----
    The models are forms of R, L, G and C that were fitted apart from one another and are not causal. The line that the
    library makes of the cable is; what it misses of the attenuation is 0.8 % to 6 %, see the page on the cable.

    References
    ----------
    Coefficients: ITU-T G.996.1, ANSI T1.417 and ITU-T G.9701, as public programs carry them; the documents were not
    seen.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> round(catalogue.telephone_cable("ansi-24awg-0.5mm").characteristic_impedance.typ, 1)
    103.1
    """
    frequency = np.array(POINTS)
    omega = 2.0 * math.pi * frequency
    if pair in get_args(TelephonePair):
        figures = (
            formulas.telephone_pair_resistance, formulas.telephone_pair_inductance,
            formulas.telephone_pair_conductance, formulas.telephone_pair_capacitance,
        )  # fmt: skip
        power = cast(TelephonePair, pair)
        resistance, inductance, conductance, capacitance = (np.asarray(each(frequency, pair=power)) for each in figures)
        along, across = resistance + 1j * omega * inductance, conductance + 1j * omega * capacitance
    elif pair in get_args(ReferencePair):
        reference = cast(ReferencePair, pair)
        along = np.asarray(formulas.reference_pair_impedance(frequency, pair=reference))
        across = np.asarray(formulas.reference_pair_admittance(frequency, pair=reference))
    else:
        known = (*get_args(TelephonePair), *get_args(ReferencePair))
        near = tuple(difflib.get_close_matches(str(pair), known, n=3))
        raise UnknownNameError("telephone pair", str(pair), near, f"the pairs are {', '.join(known)}")
    constant, impedance = np.sqrt(along) * np.sqrt(across), np.sqrt(along) / np.sqrt(across)
    at = POINTS.index(FITTED_AT)
    losses = NEPER * constant.real
    return Cable(
        name=f"telephone pair {pair}",
        conductor_resistance=float(along.real[0]) / 2.0,
        characteristic_impedance=float(abs(impedance[at])),
        velocity_factor=float(omega[at] / constant.imag[at] / formulas.propagation_velocity(1.0)),
        impedance_frequency=FITTED_AT,
        attenuation=[
            Attenuation(frequency=each, loss=float(loss))
            for each, loss in zip(POINTS[1:], losses[1:], strict=True)
        ],
    )
