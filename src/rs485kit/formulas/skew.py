"""Edges that are moved against one another: skews, their share of a bit, and thresholds off centre under slow edges.

The start edge of a character is a falling one and is the reference of every bit after it. A delay that rising and
falling edges share is therefore free, and a difference counts once, in full, on one side.
"""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import (
    Argument,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    positive,
    refuse,
    within,
)


def straight_sum(parts: Numbers) -> FloatOrArray:
    """Sum of skews, or of clock errors, that may all have one sign.

    Parameters
    ----------
    parts : array
        Sizes of the parts, along the last axis [-]

    Returns
    -------
    float or array
        Their sum, in their own unit [-]

    Raises
    ------
    InputError
        If a part is negative.

    Notes
    -----
    Fixed skews of a chain add straight: nothing makes them cancel.

    References
    ----------
    RM0351, 36.5.5, for the errors that a receiver's tolerance has to cover: checks uart-tolerance-must-cover,
    skew-chain-linear-and-rss.

    Examples
    --------
    >>> from rs485kit.formulas import straight_sum
    >>> straight_sum([2.0, 5.0, 13.0, 2.0])
    22.0
    """
    (parts,) = arguments("straight_sum", not_negative("parts", parts, "-"))
    return answer(np.atleast_1d(parts).sum(axis=-1))


def root_sum_of_squares(parts: Numbers) -> FloatOrArray:
    """Sum of parts that are random and independent.

    Parameters
    ----------
    parts : array
        Sizes of the parts, all of one kind, along the last axis [-]

    Returns
    -------
    float or array
        Root of the sum of their squares, in their own unit [-]

    Raises
    ------
    InputError
        If a part is negative.

    Notes
    -----
    It fits noise and jitter of independent sources. It is no bound of fixed skews, which `straight_sum` gives.

    References
    ----------
    Arithmetic: check skew-chain-linear-and-rss.

    Examples
    --------
    >>> from rs485kit.formulas import root_sum_of_squares
    >>> round(root_sum_of_squares([2.0, 5.0, 13.0, 2.0]), 4)
    14.2127
    """
    (parts,) = arguments("root_sum_of_squares", not_negative("parts", parts, "-"))
    return answer(np.sqrt((np.atleast_1d(parts) ** 2).sum(axis=-1)))


def pulse_width_distortion(rising_delay: Numbers, falling_delay: Numbers) -> FloatOrArray:
    """Size of the difference between the delays of rising and falling edges.

    Parameters
    ----------
    rising_delay : float or array
        Delay of an edge from space to mark [s]
    falling_delay : float or array
        Delay of an edge from mark to space [s]

    Returns
    -------
    float or array
        By how much a pulse grows or shrinks [s]

    Raises
    ------
    InputError
        If a delay is negative.

    Notes
    -----
    abs(tr - tf). A mark is shorter by tr - tf than it was sent, a space longer by as much.

    References
    ----------
    Definition: checks uart-common-delay-cancels, ``opto-pwd-*``.

    Examples
    --------
    >>> from rs485kit.formulas import pulse_width_distortion
    >>> round(pulse_width_distortion(150e-9, 50e-9) * 1e9, 6)
    100.0
    """
    rising, falling = arguments("pulse_width_distortion", *_delays(rising_delay, falling_delay))
    return answer(np.abs(rising - falling))


def mark_width(data_rate: Numbers, rising_delay: Numbers, falling_delay: Numbers) -> FloatOrArray:
    """Width of a lone mark bit after edges of unequal delay.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    rising_delay : float or array
        Delay of an edge from space to mark [s]
    falling_delay : float or array
        Delay of an edge from mark to space [s]

    Returns
    -------
    float or array
        Width; below zero where the edges have passed each other and nothing is left [s]

    Raises
    ------
    InputError
        If a delay is negative or the rate is not positive.

    Notes
    -----
    T - (tr - tf). A lone space has T + (tr - tf).

    References
    ----------
    Arithmetic: check uart-asymmetry-one-sided.

    Examples
    --------
    >>> from rs485kit.formulas import mark_width
    >>> round(mark_width(1e6, 150e-9, 50e-9) * 1e9, 6)
    900.0
    """
    rate, rising, falling = arguments(
        "mark_width", door.data_rate(data_rate), *_delays(rising_delay, falling_delay)
    )
    return answer(1.0 / rate - (rising - falling))


def margin_before_sample(data_rate: Numbers, first_edge_delay: Numbers, start_edge_delay: Numbers) -> FloatOrArray:
    """Time from the edge that begins a bit to its middle, as a share of a bit.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    first_edge_delay : float or array
        Delay of the edge that begins the bit [s]
    start_edge_delay : float or array
        Delay of the start edge, from which the middle is counted [s]

    Returns
    -------
    float or array
        Share of a bit; half a bit where both edges have one delay [-]

    Raises
    ------
    InputError
        If a delay is negative or the rate is not positive.

    Notes
    -----
    0.5 - (t1 - t0) / T, for equal clocks. The start edge is a falling one; the edge before a mark rises.

    References
    ----------
    Arithmetic: check uart-asymmetry-one-sided.

    Examples
    --------
    >>> from rs485kit.formulas import margin_before_sample
    >>> round(margin_before_sample(1e6, 150e-9, 50e-9), 6)
    0.4
    """
    rate, edge, start = arguments(
        "margin_before_sample",
        door.data_rate(data_rate),
        not_negative("first_edge_delay", first_edge_delay, "s"),
        not_negative("start_edge_delay", start_edge_delay, "s"),
    )
    return answer(0.5 - (edge - start) * rate)


def margin_after_sample(data_rate: Numbers, last_edge_delay: Numbers, start_edge_delay: Numbers) -> FloatOrArray:
    """Time from the middle of a bit to the edge that ends it, as a share of a bit.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    last_edge_delay : float or array
        Delay of the edge that ends the bit [s]
    start_edge_delay : float or array
        Delay of the start edge, from which the middle is counted [s]

    Returns
    -------
    float or array
        Share of a bit; half a bit where both edges have one delay [-]

    Raises
    ------
    InputError
        If a delay is negative or the rate is not positive.

    Notes
    -----
    0.5 + (t2 - t0) / T, for equal clocks. The edge after a mark falls like the start edge: that side keeps its half
    bit.

    References
    ----------
    Arithmetic: check uart-asymmetry-one-sided.

    Examples
    --------
    >>> from rs485kit.formulas import margin_after_sample
    >>> margin_after_sample(1e6, 50e-9, 50e-9)
    0.5
    """
    rate, edge, start = arguments(
        "margin_after_sample",
        door.data_rate(data_rate),
        not_negative("last_edge_delay", last_edge_delay, "s"),
        not_negative("start_edge_delay", start_edge_delay, "s"),
    )
    return answer(0.5 + (edge - start) * rate)


def threshold_distortion(
    upper_threshold: Numbers, lower_threshold: Numbers, amplitude: Numbers, rise_time: Numbers
) -> FloatOrArray:
    """Delay of rising against falling edges that a receiver makes whose thresholds are off centre.

    Parameters
    ----------
    upper_threshold : float or array
        Differential voltage at which the output goes to mark [V]
    lower_threshold : float or array
        Differential voltage at which the output goes to space [V]
    amplitude : float or array
        Level at the receiver, which swings from minus to plus that [V]
    rise_time : float or array
        Rise and fall at the receiver, 10 to 90 % [s]

    Returns
    -------
    float or array
        Rising less falling delay; below zero: marks get longer [s]

    Raises
    ------
    InputError
        If a threshold lies beyond the amplitude, or the amplitude or the edge is not positive.

    Notes
    -----
    (Vu + Vl) / (2 V) t / 0.8 for straight edges. Thresholds that lie evenly about zero make none, whatever their
    distance.

    References
    ----------
    Arithmetic: checks ``receiver-threshold-pwd-*``.

    Examples
    --------
    >>> from rs485kit.formulas import threshold_distortion
    >>> round(threshold_distortion(-0.125, -0.125, 1.5, 1e-6) * 1e9, 3)
    -104.167
    """
    upper, lower, amplitude, rise = arguments(
        "threshold_distortion",
        number("upper_threshold", upper_threshold, "V"),
        number("lower_threshold", lower_threshold, "V"),
        positive("amplitude", amplitude, "V"),
        positive("rise_time", rise_time, "s"),
    )
    wanted = "a threshold that the level passes"
    refuse("threshold_distortion", "upper_threshold", np.abs(upper) >= amplitude, upper, "V", wanted)
    refuse("threshold_distortion", "lower_threshold", np.abs(lower) >= amplitude, lower, "V", wanted)
    return answer((upper + lower) / (2.0 * amplitude) * (rise / 0.8))


def rate_for_skew(skew: Numbers, share: Numbers) -> FloatOrArray:
    """Highest rate at which a skew stays within a share of the bit.

    Parameters
    ----------
    skew : float or array
        Skew, distortion or edge [s]
    share : float or array
        Share of a bit that it may take [-]

    Returns
    -------
    float or array
        Data rate [bit/s]

    Raises
    ------
    InputError
        If the skew is not positive or the share is outside 1e-6..1.

    Notes
    -----
    s / t. Makers of couplers call 20 to 30 % of the shortest pulse usually tolerable for distortion; PROFIBUS asks for
    10 %.

    References
    ----------
    Data sheets of the HCPL-7710 and HCPL-0720, propagation delay, pulse-width distortion and skew: checks
    opto-pwd-tolerable, ``rate-for-skew-*``.

    Examples
    --------
    >>> from rs485kit.formulas import rate_for_skew
    >>> round(rate_for_skew(8e-9, 0.2))
    25000000
    """
    skew, share = arguments(
        "rate_for_skew",
        positive("skew", skew, "s"),
        within("share", share, "-", 1e-6, 1.0, cure="10 % is 0.1"),
    )
    return answer(share / skew)


def least_pulse(channel_skew: Numbers) -> FloatOrArray:
    """Shortest pulse that keeps its place between channels with a skew of delays.

    Parameters
    ----------
    channel_skew : float or array
        Largest difference between the delays of any two channels [s]

    Returns
    -------
    float or array
        Width of the pulse [s]

    Raises
    ------
    InputError
        If the skew is negative.

    Notes
    -----
    Twice the skew. It matters where data and enable cross a barrier in parallel channels.

    References
    ----------
    As `rate_for_skew`: check channel-skew-minimum-pulse.

    Examples
    --------
    >>> from rs485kit.formulas import least_pulse
    >>> round(least_pulse(16e-9) * 1e9, 6)
    32.0
    """
    (channel_skew,) = arguments("least_pulse", not_negative("channel_skew", channel_skew, "s"))
    return answer(2.0 * channel_skew)


def _delays(rising_delay: object, falling_delay: object) -> tuple[Argument, Argument]:
    return not_negative("rising_delay", rising_delay, "s"), not_negative("falling_delay", falling_delay, "s")
