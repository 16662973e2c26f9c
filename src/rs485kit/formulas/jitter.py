"""Rate and jitter: rules that published figures imply, and the jitter of one time constant."""

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    refuse,
    within,
)
from rs485kit.formulas.limits import RISE_FRACTION

_LN_9 = float(np.log(9.0))


def highest_rate(rise_time: Numbers, *, fraction: Numbers = RISE_FRACTION) -> FloatOrArray:
    """Highest data rate that an edge leaves room for.

    Parameters
    ----------
    rise_time : float or array
        Rise or fall of the driver, 10 to 90 % [s]
    fraction : float or array
        Share of the bit that the edge may take, up to 1 [-]

    Returns
    -------
    float or array
        Data rate [bit/s]

    Raises
    ------
    InputError
        If the rise time is not positive or the fraction is outside 1e-6..1.

    Notes
    -----
    0.30 / t, the inverse of `longest_rise_time`.

    References
    ----------
    Intersil tutorial on high-speed RS-485, slide 7. Figures: check rise-time-share-of-bit.

    Examples
    --------
    >>> from rs485kit.formulas import highest_rate
    >>> round(highest_rate(30e-9))
    10000000
    """
    rise_time, fraction = arguments(
        "highest_rate",
        positive("rise_time", rise_time, "s"),
        within("fraction", fraction, "-", 1e-6, 1.0, cure="30 % is 0.3"),
    )
    return answer(fraction / rise_time)


def jitter_exponent(
    first_length: Numbers, first_jitter: Numbers, second_length: Numbers, second_jitter: Numbers
) -> FloatOrArray:
    """Power of the length with which jitter grows between two published points.

    Parameters
    ----------
    first_length : float or array
        Length of one point [m]
    first_jitter : float or array
        Jitter there, as a share of the bit [-]
    second_length : float or array
        Length of the other point, at the same rate [m]
    second_jitter : float or array
        Jitter there [-]

    Returns
    -------
    float or array
        Exponent [-]

    Raises
    ------
    InputError
        If a length is not positive, a jitter is outside 1e-6..1, or the lengths differ by less than 0.1 %.

    Notes
    -----
    ln(j2 / j1) / ln(l2 / l1). The skin effect alone would give nearly 2.

    References
    ----------
    Algebra. Figure: check jitter-length-scaling.

    Examples
    --------
    >>> from rs485kit.formulas import jitter_exponent
    >>> round(jitter_exponent(75.0, 0.05, 137.0, 0.20), 2)
    2.3
    """
    first_length, first_jitter, second_length, second_jitter = arguments(
        "jitter_exponent",
        positive("first_length", first_length, "m"),
        _jitter("first_jitter", first_jitter),
        positive("second_length", second_length, "m"),
        _jitter("second_jitter", second_jitter),
    )
    stretch = np.log(second_length / first_length)
    refuse(
        "jitter_exponent",
        "second_length",
        np.abs(stretch) < 1e-3,
        second_length,
        "m",
        "another length than the first",
    )
    return answer(np.log(second_jitter / first_jitter) / stretch)


def jitter_length(
    first_length: Numbers, first_jitter: Numbers, jitter_budget: Numbers, *, exponent: Numbers = 2.3
) -> FloatOrArray:
    """Length for a budget of jitter, from one published point at the same rate.

    Parameters
    ----------
    first_length : float or array
        Length of the point [m]
    first_jitter : float or array
        Jitter there, as a share of the bit [-]
    jitter_budget : float or array
        Jitter that is allowed, as a share of the bit [-]
    exponent : float or array
        Power of the length with which jitter grows, 0.5 to 10 [-]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If the length is outside 1 mm..1000 km, a jitter outside 1e-6..1, or the exponent outside 0.5..10.

    Notes
    -----
    l (b / j)^(1 / n). An interpolation between two points of one tutorial, for 24 AWG and 20 Mbit/s; nothing is known
    of it elsewhere.

    References
    ----------
    Intersil tutorial on high-speed RS-485, slide 9. Figures: check jitter-length-20mbps.

    Examples
    --------
    >>> from rs485kit.formulas import jitter_length
    >>> round(jitter_length(75.0, 0.05, 0.20))
    137
    """
    first_length, first_jitter, jitter_budget, exponent = arguments(
        "jitter_length",
        within("first_length", first_length, "m", 1e-3, 1e6),
        _jitter("first_jitter", first_jitter),
        _jitter("jitter_budget", jitter_budget),
        within("exponent", exponent, "-", 0.5, 10.0),
    )
    return answer(first_length * (jitter_budget / first_jitter) ** (1.0 / exponent))


def single_pole_rise_time(time_constant: Numbers) -> FloatOrArray:
    """Rise of a level that settles with one time constant.

    Parameters
    ----------
    time_constant : float or array
        Time constant [s]

    Returns
    -------
    float or array
        Rise, 10 to 90 % [s]

    Raises
    ------
    InputError
        If the time constant is negative.

    Notes
    -----
    tau ln 9.

    References
    ----------
    Algebra: checks ``bias-recovery-*``.

    Examples
    --------
    >>> from rs485kit.formulas import single_pole_rise_time
    >>> round(single_pole_rise_time(1e-6) * 1e6, 6)
    2.197225
    """
    (time_constant,) = arguments("single_pole_rise_time", not_negative("time_constant", time_constant, "s"))
    return answer(time_constant * _LN_9)


def single_pole_jitter(rise_time: Numbers, data_rate: Numbers) -> FloatOrArray:
    """How much earlier a level passes zero after a lone bit than after a long run, behind one time constant.

    Parameters
    ----------
    rise_time : float or array
        Rise, 10 to 90 % [s]
    data_rate : float or array
        Data rate [bit/s]

    Returns
    -------
    float or array
        Spread of the crossings, peak to peak [s]

    Raises
    ------
    InputError
        If a value is not positive, or the rise takes more than ten bits.

    Notes
    -----
    -tau ln(1 - exp(-T / tau)) with tau = t / ln 9. A pair with skin effect has longer tails and does worse at slow
    rates.

    References
    ----------
    Algebra: checks ``data-dependent-jitter-*``.

    Examples
    --------
    >>> from rs485kit.formulas import single_pole_jitter
    >>> round(single_pole_jitter(1e-6, 1e6) * 1e6, 6)
    0.053605
    """
    rise_time, data_rate = arguments(
        "single_pole_jitter", positive("rise_time", rise_time, "s"), positive("data_rate", data_rate, "bit/s")
    )
    taken = rise_time * data_rate
    refuse("single_pole_jitter", "rise_time", taken > 10.0, rise_time, "s", "at most ten bits of the rate")
    # Beyond 300 time constants in a bit the spread is zero to any digit, and the exponent would be out of range.
    decay = np.exp(-np.minimum(_LN_9 / taken, 300.0))
    return answer(-rise_time / _LN_9 * np.log1p(-decay))


def _jitter(name: str, value: Numbers) -> Argument:
    return within(name, value, "-", 1e-6, 1.0, cure="5 % is 0.05")
