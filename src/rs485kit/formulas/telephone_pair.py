"""Telephone pairs by the parametric model of the DSL standards: resistance, inductance, conductance, capacitance.

The standards were not seen, only public programs that carry their coefficients; the copies differ in small digits.
Resistance and inductance are fitted apart from one another, so the model is not causal: use it for sines, not for
the form of an edge.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    refuse_choice,
    within,
)

TelephonePair: TypeAlias = Literal[
    "ansi-24awg-0.5mm",
    "ansi-26awg-0.4mm",
    "bt-dwug-0.5mm",
    "pe-0.32mm",
    "pe-0.40mm",
    "pe-0.50mm",
    "pe-0.63mm",
    "pe-0.90mm",
]
"""Pairs whose coefficients are known; bt-dwug is a British underground pair, pe are pairs insulated with PE."""

_KM = 1e-3


@dataclass(frozen=True, slots=True)
class PairCoefficients:
    """Coefficients of the model, per km of pair and with the frequency in hertz, as they are printed."""

    resistance: float
    resistance_rise: float
    inductance: float
    inductance_high: float
    inductance_frequency: float
    inductance_exponent: float
    capacitance: float
    capacitance_fall: float = 0.0
    capacitance_exponent: float = 0.0
    conductance: float = 0.0
    conductance_exponent: float = 1.0


COEFFICIENTS: dict[TelephonePair, PairCoefficients] = {
    "ansi-24awg-0.5mm": PairCoefficients(
        *(174.55888, 0.053073481, 617.29593e-6, 478.97099e-6, 553.760e3, 1.1529766, 50e-9),
        conductance=234.87476e-15,
        conductance_exponent=1.38,
    ),
    "ansi-26awg-0.4mm": PairCoefficients(
        *(286.17578, 0.14769620, 675.36888e-6, 488.95186e-6, 806.33863e3, 0.92930728, 49e-9),
        conductance=43e-9,
        conductance_exponent=0.70,
    ),
    "bt-dwug-0.5mm": PairCoefficients(
        *(179.0, 0.03589, 695e-6, 585e-6, 1000e3, 1.2, 55e-9, 1e-9, 0.1),
        conductance=0.5e-9,
        conductance_exponent=1.033,
    ),
    "pe-0.32mm": PairCoefficients(409.0, 0.3822, 607.5e-6, 500e-6, 609.0e3, 5.269, 40e-9),
    "pe-0.40mm": PairCoefficients(280.0, 0.0969, 587.3e-6, 426e-6, 745.9e3, 1.385, 50e-9),
    "pe-0.50mm": PairCoefficients(179.2, 0.0561, 674.6e-6, 532.7e-6, 664.7e3, 1.195, 50e-9),
    "pe-0.63mm": PairCoefficients(113.0, 0.0257, 699.4e-6, 477.2e-6, 265.8e3, 1.0956, 45e-9),
    "pe-0.90mm": PairCoefficients(55.1, 0.0094, 750.9e-6, 520.5e-6, 123.8e3, 0.9604, 40e-9),
}


def telephone_pair_resistance(frequency: Numbers, *, pair: TelephonePair = "ansi-24awg-0.5mm") -> FloatOrArray:
    """Resistance of a telephone pair.

    Parameters
    ----------
    frequency : float or array
        Frequency, up to 30 MHz [Hz]
    pair : str
        Which pair, by gauge or diameter [-]

    Returns
    -------
    float or array
        Resistance of the pair per length, both conductors [ohm/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 Hz..30 MHz or the pair is not one of those known.

    Notes
    -----
    (r^4 + a f^2)^(1/4).

    References
    ----------
    Public DSL simulators that carry the model of ITU-T G.996.1 and ANSI T1.417. Figures: checks
    bt-model-coefficients, ansi-24awg-secondary, pe-0p32mm and on.

    Examples
    --------
    >>> from rs485kit.formulas import telephone_pair_resistance
    >>> round(1e3 * telephone_pair_resistance(1e6), 2)
    482.06
    """
    model, frequency = _chosen("telephone_pair_resistance", pair, frequency)
    return answer(_KM * (model.resistance**4 + model.resistance_rise * frequency**2) ** 0.25)


def telephone_pair_inductance(frequency: Numbers, *, pair: TelephonePair = "ansi-24awg-0.5mm") -> FloatOrArray:
    """Inductance of a telephone pair.

    Parameters
    ----------
    frequency : float or array
        Frequency, up to 30 MHz [Hz]
    pair : str
        Which pair, by gauge or diameter [-]

    Returns
    -------
    float or array
        Inductance of the pair per length [H/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 Hz..30 MHz or the pair is not one of those known.

    Notes
    -----
    (l0 + l1 x) / (1 + x), x = (f / fm)^b. For the pair of 0.32 mm b = 5.3 makes it fall almost as a step.

    References
    ----------
    Public DSL simulators that carry the model of ITU-T G.996.1 and ANSI T1.417. Figures: checks
    bt-model-coefficients, ansi-24awg-secondary, pe-0p32mm and on.

    Examples
    --------
    >>> from rs485kit.formulas import telephone_pair_inductance
    >>> round(1e9 * telephone_pair_inductance(1e6), 2)
    525.44
    """
    model, frequency = _chosen("telephone_pair_inductance", pair, frequency)
    ratio = (frequency / model.inductance_frequency) ** model.inductance_exponent
    return answer(_KM * (model.inductance + model.inductance_high * ratio) / (1.0 + ratio))


def telephone_pair_conductance(frequency: Numbers, *, pair: TelephonePair = "ansi-24awg-0.5mm") -> FloatOrArray:
    """Conductance of a telephone pair.

    Parameters
    ----------
    frequency : float or array
        Frequency, up to 30 MHz [Hz]
    pair : str
        Which pair, by gauge or diameter [-]

    Returns
    -------
    float or array
        Conductance between the conductors per length; 0 for the pe pairs, whose source states none [S/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 Hz..30 MHz or the pair is not one of those known.

    Notes
    -----
    g f^n.

    References
    ----------
    Public DSL simulators that carry the model of ITU-T G.996.1 and ANSI T1.417. Figures: checks
    bt-model-coefficients, ansi-24awg-secondary, bt-dwug-1mhz.

    Examples
    --------
    >>> from rs485kit.formulas import telephone_pair_conductance
    >>> round(1e9 * telephone_pair_conductance(1e6), 2)
    44.75
    """
    model, frequency = _chosen("telephone_pair_conductance", pair, frequency)
    return answer(_KM * model.conductance * frequency**model.conductance_exponent)


def telephone_pair_capacitance(frequency: Numbers, *, pair: TelephonePair = "ansi-24awg-0.5mm") -> FloatOrArray:
    """Capacitance of a telephone pair.

    Parameters
    ----------
    frequency : float or array
        Frequency, up to 30 MHz [Hz]
    pair : str
        Which pair, by gauge or diameter [-]

    Returns
    -------
    float or array
        Capacitance of the pair per length [F/m]

    Raises
    ------
    InputError
        If the frequency is outside 1 Hz..30 MHz or the pair is not one of those known.

    Notes
    -----
    c + c0 f^-n; only bt-dwug has the second term. Copies of the 26 AWG row have 49 or 50 nF/km; 49 stands here.

    References
    ----------
    Public DSL simulators that carry the model of ITU-T G.996.1 and ANSI T1.417. Figures: checks
    bt-model-coefficients, bt-dwug-1mhz.

    Examples
    --------
    >>> from rs485kit.formulas import telephone_pair_capacitance
    >>> round(1e12 * telephone_pair_capacitance(1e6, pair="bt-dwug-0.5mm"), 3)
    55.251
    """
    model, frequency = _chosen("telephone_pair_capacitance", pair, frequency)
    return answer(_KM * (model.capacitance + model.capacitance_fall * frequency**-model.capacitance_exponent))


def _chosen(function: str, pair: TelephonePair, frequency: Numbers) -> tuple[PairCoefficients, Array]:
    refuse_choice(function, "pair", pair, tuple(COEFFICIENTS))
    (frequency,) = arguments(function, _frequency(frequency))
    return COEFFICIENTS[pair], frequency


def _frequency(value: Numbers) -> Argument:
    return within("frequency", value, "Hz", 1.0, 30e6, cure="it is in hertz: 1 MHz is 1e6")
