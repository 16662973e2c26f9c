"""Life of insulation under voltage: three models through measured points, and how far they part company.

Tests are made at high voltage and last from seconds to months; working life is decades at a fraction of that voltage.
Which law joins the two is not settled: for silicon dioxide one long study at low field favours the exponential, others
the reciprocal model or a power law. Through the same two points they differ by factors. Use these formulas to see how
wide the answer is (`life_model_spread`), and take the working voltage from the part's own data.
"""

from typing import Final

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    positive,
    refuse,
    within,
)

BOLTZMANN: Final = 1.380649e-23
"""Exact by definition [J/K]."""
YEAR: Final = 365.25 * 86400.0
"""A year in seconds [s]."""

_LIFE_LOGARITHM = float(np.log(1e60))


def power_law_exponent(
    first_voltage: Numbers, first_life: Numbers, second_voltage: Numbers, second_life: Numbers
) -> FloatOrArray:
    """Exponent of the inverse power law through two points of life.

    Parameters
    ----------
    first_voltage : float or array
        One voltage [V]
    first_life : float or array
        Life at that voltage [s]
    second_voltage : float or array
        Another voltage, of the same kind [V]
    second_life : float or array
        Life at that voltage [s]

    Returns
    -------
    float or array
        n of life ~ V^-n [-]

    Raises
    ------
    InputError
        If a value is not positive, the voltages are equal, or life is longer at the higher voltage.

    Notes
    -----
    n = ln(L2 / L1) / ln(V1 / V2). RMS with RMS, or peak with peak.

    References
    ----------
    Inverse power law: check lifetime-two-point-power-law.

    Examples
    --------
    >>> from rs485kit.formulas import power_law_exponent
    >>> from rs485kit.formulas.lifetime import YEAR
    >>> round(power_law_exponent(5000.0, 60.0, 1272.0, 30 * YEAR), 3)
    12.108
    """
    points = _two_points("power_law_exponent", first_voltage, first_life, second_voltage, second_life)
    return answer(_exponent(*points))


def power_law_life(
    voltage: Numbers, reference_voltage: Numbers, reference_life: Numbers, exponent: Numbers
) -> FloatOrArray:
    """Life at a voltage by the inverse power law.

    Parameters
    ----------
    voltage : float or array
        Voltage [V]
    reference_voltage : float or array
        Voltage at which the life is known, of the same kind [V]
    reference_life : float or array
        Life at that voltage [s]
    exponent : float or array
        n of life ~ V^-n, 0 to 100 [-]

    Returns
    -------
    float or array
        Life [s]

    Raises
    ------
    InputError
        If a value is not positive, the exponent is outside 0..100 or the life above 1e60 s.

    Notes
    -----
    L = L1 (V1 / V)^n. Beyond the points from which n comes, the answer is a guess: the exponential model through the
    same points may give a third of it.

    References
    ----------
    Inverse power law: checks lifetime-power-law-ratio, lifetime-two-point-power-law.

    Examples
    --------
    >>> from rs485kit.formulas import power_law_life
    >>> round(power_law_life(1000.0, 1200.0, 30.0, 9.0), 2)
    154.79
    """
    function = "power_law_life"
    voltage, reference_voltage, reference_life, exponent = arguments(
        function,
        positive("voltage", voltage, "V"),
        positive("reference_voltage", reference_voltage, "V"),
        positive("reference_life", reference_life, "s"),
        within("exponent", exponent, "-", 0.0, 100.0),
    )
    return answer(_life(function, voltage, reference_life, exponent * np.log(reference_voltage / voltage)))


def exponential_life_slope(
    first_voltage: Numbers, first_life: Numbers, second_voltage: Numbers, second_life: Numbers
) -> FloatOrArray:
    """Slope of the exponential model (E model) through two points of life.

    Parameters
    ----------
    first_voltage : float or array
        One voltage [V]
    first_life : float or array
        Life at that voltage [s]
    second_voltage : float or array
        Another voltage, of the same kind [V]
    second_life : float or array
        Life at that voltage [s]

    Returns
    -------
    float or array
        b of ln(life) = a - b V [1/V]

    Raises
    ------
    InputError
        If a value is not positive, the voltages are equal, or life is longer at the higher voltage.

    Notes
    -----
    b = ln(L2 / L1) / (V1 - V2).

    References
    ----------
    Thermochemical model: check lifetime-two-point-exponential.

    Examples
    --------
    >>> from rs485kit.formulas import exponential_life_slope
    >>> from rs485kit.formulas.lifetime import YEAR
    >>> round(exponential_life_slope(5000.0, 60.0, 1272.0, 30 * YEAR), 8)
    0.00444586
    """
    points = _two_points("exponential_life_slope", first_voltage, first_life, second_voltage, second_life)
    return answer(_slope(*points))


def exponential_life(
    voltage: Numbers, reference_voltage: Numbers, reference_life: Numbers, life_slope: Numbers
) -> FloatOrArray:
    """Life at a voltage by the exponential model (E model).

    Parameters
    ----------
    voltage : float or array
        Voltage [V]
    reference_voltage : float or array
        Voltage at which the life is known, of the same kind [V]
    reference_life : float or array
        Life at that voltage [s]
    life_slope : float or array
        b of ln(life) = a - b V [1/V]

    Returns
    -------
    float or array
        Life [s]

    Raises
    ------
    InputError
        If the reference voltage or life is not positive, another value is negative or the life above 1e60 s.

    Notes
    -----
    L = L1 exp(-b (V - V1)). The lowest of the three models below both of its points, the highest between them.

    References
    ----------
    Thermochemical model, favoured at low field by a study of three years (IEDM 1998): check
    lifetime-two-point-exponential.

    Examples
    --------
    >>> from rs485kit.formulas import exponential_life
    >>> round(exponential_life(1060.0, 1272.0, 30.0, 0.00444586), 2)
    76.99
    """
    function = "exponential_life"
    voltage, reference_voltage, reference_life, life_slope = arguments(
        function,
        positive("voltage", voltage, "V"),
        positive("reference_voltage", reference_voltage, "V"),
        positive("reference_life", reference_life, "s"),
        within("life_slope", life_slope, "1/V", 0.0, 1e6),
    )
    return answer(_life(function, voltage, reference_life, life_slope * (reference_voltage - voltage)))


def reciprocal_life_slope(
    first_voltage: Numbers, first_life: Numbers, second_voltage: Numbers, second_life: Numbers
) -> FloatOrArray:
    """Slope of the reciprocal model (1/E model) through two points of life.

    Parameters
    ----------
    first_voltage : float or array
        One voltage [V]
    first_life : float or array
        Life at that voltage [s]
    second_voltage : float or array
        Another voltage, of the same kind [V]
    second_life : float or array
        Life at that voltage [s]

    Returns
    -------
    float or array
        c of ln(life) = a + c / V [V]

    Raises
    ------
    InputError
        If a value is not positive, the voltages are equal, or life is longer at the higher voltage.

    Notes
    -----
    c = ln(L2 / L1) / (1 / V2 - 1 / V1).

    References
    ----------
    Model of injected charge, favoured in Fowler-Nordheim conduction by a study of 2009 (IEEE Transactions on Electron
    Devices); no published figure with its constants was found.

    Examples
    --------
    >>> from rs485kit.formulas import reciprocal_life_slope
    >>> from rs485kit.formulas.lifetime import YEAR
    >>> round(reciprocal_life_slope(5000.0, 60.0, 1272.0, 30 * YEAR), 1)
    28275.7
    """
    points = _two_points("reciprocal_life_slope", first_voltage, first_life, second_voltage, second_life)
    return answer(_reciprocal(*points))


def reciprocal_life(
    voltage: Numbers, reference_voltage: Numbers, reference_life: Numbers, reciprocal_slope: Numbers
) -> FloatOrArray:
    """Life at a voltage by the reciprocal model (1/E model).

    Parameters
    ----------
    voltage : float or array
        Voltage [V]
    reference_voltage : float or array
        Voltage at which the life is known, of the same kind [V]
    reference_life : float or array
        Life at that voltage [s]
    reciprocal_slope : float or array
        c of ln(life) = a + c / V [V]

    Returns
    -------
    float or array
        Life [s]

    Raises
    ------
    InputError
        If the reference voltage or life is not positive, another value is negative or the life above 1e60 s.

    Notes
    -----
    L = L1 exp(c (1 / V - 1 / V1)). Without bound as the voltage goes to zero: the most optimistic of the three below
    both of its points.

    References
    ----------
    As `reciprocal_life_slope`.

    Examples
    --------
    >>> from rs485kit.formulas import reciprocal_life
    >>> round(reciprocal_life(1060.0, 1272.0, 30.0, 28275.8))
    2558
    """
    function = "reciprocal_life"
    voltage, reference_voltage, reference_life, reciprocal_slope = arguments(
        function,
        positive("voltage", voltage, "V"),
        positive("reference_voltage", reference_voltage, "V"),
        positive("reference_life", reference_life, "s"),
        within("reciprocal_slope", reciprocal_slope, "V", 0.0, 1e12),
    )
    exponent = reciprocal_slope * (1.0 / voltage - 1.0 / reference_voltage)
    return answer(_life(function, voltage, reference_life, exponent))


def life_model_spread(
    voltage: Numbers,
    first_voltage: Numbers,
    first_life: Numbers,
    second_voltage: Numbers,
    second_life: Numbers,
) -> FloatOrArray:
    """How far three models through the same two points differ at a voltage.

    Parameters
    ----------
    voltage : float or array
        Voltage [V]
    first_voltage : float or array
        One voltage of known life, of the same kind [V]
    first_life : float or array
        Life at that voltage [s]
    second_voltage : float or array
        Another voltage [V]
    second_life : float or array
        Life at that voltage [s]

    Returns
    -------
    float or array
        Longest over shortest life of the power law, the exponential and the reciprocal model [-]

    Raises
    ------
    InputError
        If a value is not positive, the voltages are equal, life is longer at the higher voltage, or the spread is
        above 1e60.

    Notes
    -----
    1 at both points and more everywhere else. A life that is quoted beyond the points without its spread promises more
    than the points hold.

    References
    ----------
    Arithmetic on the three models; the first two are those of lifetime-two-point-power-law and
    lifetime-two-point-exponential.

    Examples
    --------
    >>> from rs485kit.formulas import life_model_spread
    >>> from rs485kit.formulas.lifetime import YEAR
    >>> round(life_model_spread(1060.0, 5000.0, 60.0, 1272.0, 30 * YEAR), 1)
    33.2
    """
    function = "life_model_spread"
    (voltage,) = arguments(function, positive("voltage", voltage, "V"))
    points = _two_points(function, first_voltage, first_life, second_voltage, second_life)
    low = points[2]
    logarithms = [
        _exponent(*points) * np.log(low / voltage),
        _slope(*points) * (low - voltage),
        _reciprocal(*points) * (1.0 / voltage - 1.0 / low),
    ]
    spread = np.max(np.broadcast_arrays(*logarithms), axis=0) - np.min(np.broadcast_arrays(*logarithms), axis=0)
    return answer(_life(function, voltage, np.asarray(1.0), spread))


def temperature_life_ratio(
    activation_energy: Numbers, temperature: Numbers, reference_temperature: Numbers
) -> FloatOrArray:
    """Life at one temperature over life at another, by the law of Arrhenius.

    Parameters
    ----------
    activation_energy : float or array
        Activation energy; 1 eV is 1.602e-19 J [J]
    temperature : float or array
        Temperature of the insulation [K]
    reference_temperature : float or array
        Temperature at which life is known [K]

    Returns
    -------
    float or array
        Ratio of the lives; above 1 for the lower temperature [-]

    Raises
    ------
    InputError
        If the energy is outside 0..1e-18 J or a temperature outside 200..600 K.

    Notes
    -----
    exp(Ea / k (1 / T - 1 / T1)). The activation energy belongs to one mechanism of one material; none has a default.

    References
    ----------
    Arrhenius: check lifetime-arrhenius-factor, with an energy chosen for illustration.

    Examples
    --------
    >>> from rs485kit.formulas import temperature_life_ratio
    >>> round(temperature_life_ratio(0.7 * 1.602176634e-19, 358.15, 398.15), 3)
    9.763
    """
    kelvin = "it is in kelvin: 85 degC is 358.15"
    activation_energy, temperature, reference_temperature = arguments(
        "temperature_life_ratio",
        within("activation_energy", activation_energy, "J", 0.0, 1e-18, cure="it is in joule: 0.7 eV is 1.12e-19"),
        within("temperature", temperature, "K", 200.0, 600.0, cure=kelvin),
        within("reference_temperature", reference_temperature, "K", 200.0, 600.0, cure=kelvin),
    )
    return answer(np.exp(activation_energy / BOLTZMANN * (1.0 / temperature - 1.0 / reference_temperature)))


def _two_points(
    function: str, first_voltage: Numbers, first_life: Numbers, second_voltage: Numbers, second_life: Numbers
) -> tuple[Array, Array, Array, Array]:
    """Return voltage and life of the point at the higher voltage, then of the other."""
    first_voltage, first_life, second_voltage, second_life = arguments(
        function,
        _of_a_point("first_voltage", first_voltage, "V"),
        _of_a_point("first_life", first_life, "s"),
        _of_a_point("second_voltage", second_voltage, "V"),
        _of_a_point("second_life", second_life, "s"),
    )
    close = np.abs(first_voltage - second_voltage) <= 1e-9 * first_voltage
    refuse(function, "second_voltage", close, second_voltage, "V", "another voltage than the first")
    is_longer = (second_life - first_life) * (second_voltage - first_voltage) > 0.0
    refuse(function, "second_life", is_longer, second_life, "s", "a shorter life at the higher voltage")
    is_first = first_voltage > second_voltage
    return (
        np.where(is_first, first_voltage, second_voltage),
        np.where(is_first, first_life, second_life),
        np.where(is_first, second_voltage, first_voltage),
        np.where(is_first, second_life, first_life),
    )


def _of_a_point(name: str, value: object, unit: str) -> Argument:
    return within(name, value, unit, 1e-9, 1e15)


def _exponent(high_voltage: Array, high_life: Array, low_voltage: Array, low_life: Array) -> Array:
    return np.asarray(np.log(low_life / high_life) / np.log(high_voltage / low_voltage))


def _slope(high_voltage: Array, high_life: Array, low_voltage: Array, low_life: Array) -> Array:
    return np.asarray(np.log(low_life / high_life) / (high_voltage - low_voltage))


def _reciprocal(high_voltage: Array, high_life: Array, low_voltage: Array, low_life: Array) -> Array:
    return np.asarray(np.log(low_life / high_life) / (1.0 / low_voltage - 1.0 / high_voltage))


def _life(function: str, voltage: Array, reference_life: Array, exponent: Array) -> Array:
    # Refused before it overflows; a life too short for a float is 0.
    logarithm = exponent + np.log(reference_life)
    is_beyond = logarithm > _LIFE_LOGARITHM
    wanted = "a voltage at which the answer stays below 1e60"
    refuse(function, "voltage", is_beyond, voltage, "V", wanted, cure="no model holds that far from its points")
    return np.asarray(np.exp(logarithm))
