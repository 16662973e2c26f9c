"""What is left for the clocks of a start-stop link when edges are moved too, and how far its samples drift.

Arithmetic on one picture: samples are counted from the start edge, one clock of the receiver is lost in finding it, and
the last sample is that of the (first) stop bit, half a bit before the character's end.
"""

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, refuse, within


def sampling_drift(character_bits: Numbers, clock_error: Numbers) -> FloatOrArray:
    """How far the sample of the last bit drifts, as a share of a bit.

    Parameters
    ----------
    character_bits : float or array
        Bits of a character up to the stop bit that is checked, start and stop bit counted in [-]
    clock_error : float or array
        Size of the relative difference between the clocks of both ends [-]

    Returns
    -------
    float or array
        Drift against the start edge [-]

    Raises
    ------
    InputError
        If the bits are not whole or out of range, or the error is above a half.

    Notes
    -----
    (L - 0.5) F. A second stop bit that is not checked adds idle time and no drift: count it out.

    References
    ----------
    Arithmetic: checks ``uart-sample-drift-*``.

    Examples
    --------
    >>> from rs485kit.formulas import sampling_drift
    >>> round(sampling_drift(10, 0.02), 6)
    0.19
    """
    character_bits, clock_error = arguments(
        "sampling_drift", door.character_bits(character_bits), door.clock_error("clock_error", clock_error)
    )
    return answer((character_bits - 0.5) * clock_error)


def sampling_reserve(oversampling: Numbers, character_bits: Numbers, clock_error: Numbers) -> FloatOrArray:
    """What a receiver leaves of half a bit for jitter and moved edges, as a share of a bit.

    Parameters
    ----------
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    character_bits : float or array
        Bits of a character up to the stop bit that is checked, start and stop bit counted in [-]
    clock_error : float or array
        Size of the relative difference between the clocks of both ends [-]

    Returns
    -------
    float or array
        What is left on each side of the last sample; below zero where nothing is [-]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    0.5 - 1/N - (L - 0.5) F: one whole clock is lost in finding the start edge, where `receive_margin` counts its
    mean of half a clock.

    References
    ----------
    Arithmetic: check ui-budget-sampling-receiver.

    Examples
    --------
    >>> from rs485kit.formulas import sampling_reserve
    >>> round(sampling_reserve(16, 11, 0.01), 6)
    0.3325
    """
    oversampling, character_bits, clock_error = arguments(
        "sampling_reserve",
        door.oversampling(oversampling),
        door.character_bits(character_bits),
        door.clock_error("clock_error", clock_error),
    )
    return answer(0.5 - 1.0 / oversampling - (character_bits - 0.5) * clock_error)


def distorted_clock_error_limit(
    data_rate: Numbers, distortion: Numbers, *, oversampling: Numbers = 16.0, character_bits: Numbers = 10.0
) -> FloatOrArray:
    """Clock error that is left where the line moves rising edges against falling ones.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    distortion : float or array
        Size of the difference between the delays of rising and falling edges [s]
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    character_bits : float or array
        Bits of a character up to the stop bit that is checked, start and stop bit counted in [-]

    Returns
    -------
    float or array
        Size of the relative difference, both ends together; below zero where the edges alone are too much [-]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    (0.5 - 1/N - d / T) / (L - 0.5). The start edge is a falling one and sets the clock, so a delay that both edges
    share costs nothing, and a difference counts in full and on one side: halving it is wrong.

    References
    ----------
    Arithmetic: checks ``uart-clock-budget-after-asymmetry-*``.

    Examples
    --------
    >>> from rs485kit.formulas import distorted_clock_error_limit
    >>> round(distorted_clock_error_limit(115200, 1e-6), 6)
    0.033926
    """
    data_rate, distortion, oversampling, character_bits = arguments(
        "distorted_clock_error_limit",
        door.data_rate(data_rate),
        not_negative("distortion", distortion, "s"),
        door.oversampling(oversampling),
        door.character_bits(character_bits),
    )
    return answer((0.5 - 1.0 / oversampling - distortion * data_rate) / (character_bits - 0.5))


def windowed_clock_error_limit(
    usable_share: Numbers, *, oversampling: Numbers = 16.0, character_bits: Numbers = 10.0
) -> FloatOrArray:
    """Clock error that is left where only the middle of each bit is good.

    Parameters
    ----------
    usable_share : float or array
        Share of a bit round its middle that is good [-]
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    character_bits : float or array
        Bits of a character up to the stop bit that is checked, start and stop bit counted in [-]

    Returns
    -------
    float or array
        Size of the relative difference, both ends together [-]

    Raises
    ------
    InputError
        If a value is outside its range, or half the share has less than one clock.

    Notes
    -----
    (w N / 2 - 1) / (N (L - 0.5)).

    References
    ----------
    Arithmetic: checks ``uart-window-budget-*``.

    Examples
    --------
    >>> from rs485kit.formulas import windowed_clock_error_limit
    >>> round(windowed_clock_error_limit(0.75), 6)
    0.032895
    """
    usable_share, oversampling, character_bits = arguments(
        "windowed_clock_error_limit",
        within("usable_share", usable_share, "-", 0.0, 1.0, cure="three quarters are 0.75"),
        door.oversampling(oversampling),
        door.character_bits(character_bits),
    )
    clocks = 0.5 * usable_share * oversampling - 1.0
    refuse(
        "windowed_clock_error_limit", "usable_share", clocks < 0.0, usable_share, "-",
        "a share that has two clocks at the least",
    )  # fmt: skip
    return answer(clocks / (oversampling * (character_bits - 0.5)))


def half_bit_clock_error(data_bits: Numbers) -> FloatOrArray:
    """Clock error by a popular rule that is too good.

    Parameters
    ----------
    data_bits : float or array
        Data bits of a character [-]

    Returns
    -------
    float or array
        Size of the relative difference, both ends together [-]

    Raises
    ------
    InputError
        If the number is not whole or outside its range.

    Notes
    -----
    Half a bit over the data bits. The rule leaves out the start bit, half the stop bit and the clock in which the start
    edge is found: for eight bits it gives 6.25 %, where `clock_error_limit` gives 4.93 %.

    References
    ----------
    A public discussion of how critical the clocks of serial ports are: check uart-optimistic-half-bit-over-8.

    Examples
    --------
    >>> from rs485kit.formulas import half_bit_clock_error
    >>> half_bit_clock_error(8)
    0.0625
    """
    (data_bits,) = arguments("half_bit_clock_error", door.data_bits(data_bits))
    return answer(0.5 / data_bits)
