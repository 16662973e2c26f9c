"""What clock error a start-stop receiver stands, by the forms that its makers publish.

Every form counts from the edge of the start bit, which is found to within one clock of the receiver, to the sample that
is taken last. They differ in what they call the last bit, in how many samples decide and in which clock counts as the
middle; none of them has room for edges that the line has moved.
"""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, refuse, whole, within


def receive_margin(
    oversampling: Numbers, character_bits: Numbers, *, clock_error: Numbers = 0.0, clock_duty: Numbers = 0.5
) -> FloatOrArray:
    """Margin of a receiver that takes one sample in the middle of each bit.

    Parameters
    ----------
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    character_bits : float or array
        Bits of a character, start and stop bit counted in [-]
    clock_error : float or array
        Size of the relative difference between the clocks of both ends [-]
    clock_duty : float or array
        Share of a clock for which it is high [-]

    Returns
    -------
    float or array
        Margin as a share of a bit; below zero where the last bit is missed [-]

    Raises
    ------
    InputError
        If a value is outside its range: clock errors up to a half, duties of 0 to 1.

    Notes
    -----
    M = (0.5 - 1/(2 N)) - (L - 0.5) F - abs(D - 0.5) (1 + F) / N. The form is printed with the absolute value of it all,
    which would make a margin of a bit that is missed; the sign is kept here.

    References
    ----------
    Hardware manuals of the SH7206 and the H8S/2319, serial communication interface, receive margin, equations 1 and 2:
    checks ``uart-receive-margin-*``.

    Examples
    --------
    >>> from rs485kit.formulas import receive_margin
    >>> receive_margin(16, 10)
    0.46875
    """
    oversampling, character_bits, clock_error, clock_duty = arguments(
        "receive_margin",
        door.oversampling(oversampling),
        door.character_bits(character_bits),
        door.clock_error("clock_error", clock_error),
        within("clock_duty", clock_duty, "-", 0.0, 1.0, cure="50 % is 0.5"),
    )
    ideal = 0.5 - 0.5 / oversampling
    uneven = np.abs(clock_duty - 0.5) * (1.0 + clock_error) / oversampling
    return answer(ideal - (character_bits - 0.5) * clock_error - uneven)


def clock_error_limit(
    oversampling: Numbers, character_bits: Numbers, *, clock_duty: Numbers = 0.5, reserve: Numbers = 0.0
) -> FloatOrArray:
    """Difference between the clocks of both ends that uses up a receiver's margin.

    Parameters
    ----------
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    character_bits : float or array
        Bits of a character, start and stop bit counted in [-]
    clock_duty : float or array
        Share of a clock for which it is high [-]
    reserve : float or array
        Margin to keep in hand, as a share of a bit, up to 0.3 [-]

    Returns
    -------
    float or array
        Size of the relative difference, both ends together [-]

    Raises
    ------
    InputError
        If a value is outside its range, or the reserve is all there is.

    Notes
    -----
    The F at which `receive_margin` is the reserve. The manual asks designers to keep 20 to 30 % of a bit.

    References
    ----------
    As `receive_margin`: checks ``uart-max-clock-error-frame-*``.

    Examples
    --------
    >>> from rs485kit.formulas import clock_error_limit
    >>> round(clock_error_limit(16, 10), 6), round(clock_error_limit(16, 10, reserve=0.2), 6)
    (0.049342, 0.028289)
    """
    oversampling, character_bits, clock_duty, reserve = arguments(
        "clock_error_limit",
        door.oversampling(oversampling),
        door.character_bits(character_bits),
        within("clock_duty", clock_duty, "-", 0.0, 1.0, cure="50 % is 0.5"),
        within("reserve", reserve, "-", 0.0, 0.3, cure="20 % of a bit is 0.2"),
    )
    uneven = np.abs(clock_duty - 0.5) / oversampling
    left = 0.5 - 0.5 / oversampling - uneven - reserve
    refuse("clock_error_limit", "reserve", left < 0.0, reserve, "-", "less than the margin without clock error")
    return answer(left / (character_bits - 0.5 + uneven))


def usable_clock_tolerance(
    usable_clocks: Numbers, character_bits: Numbers, *, oversampling: Numbers = 16.0
) -> FloatOrArray:
    """Clock error by the clocks that may be lost or gained over a whole character.

    Parameters
    ----------
    usable_clocks : float or array
        Clocks by which the last sample may be early or late [-]
    character_bits : float or array
        Bits of a character, start and stop bit counted in [-]
    oversampling : float or array
        Clocks of the receiver in a bit [-]

    Returns
    -------
    float or array
        Size of the relative difference, both ends together [-]

    Raises
    ------
    InputError
        If a value is outside its range, or more clocks are usable than half a bit has.

    Notes
    -----
    F = n / (N L). The clocks are 7.5 and 7 of 16 in one maker's drawing, late and early; 7 of 16 and 3 of 8 with one
    sample, 6 of 16 and 2 of 8 with three in another's table, which this form reproduces and does not print.

    References
    ----------
    H8S/2138 technical questions and answers, receive margins: check uart-drift-limits-160-clocks. RM0351, table 194:
    checks ``uart-tolerance-table-*``.

    Examples
    --------
    >>> from rs485kit.formulas import usable_clock_tolerance
    >>> usable_clock_tolerance(6, 10)
    0.0375
    """
    usable_clocks, character_bits, oversampling = arguments(
        "usable_clock_tolerance",
        within("usable_clocks", usable_clocks, "-", 0.0, 512.0),
        door.character_bits(character_bits),
        door.oversampling(oversampling),
    )
    beyond = usable_clocks > 0.5 * oversampling
    refuse("usable_clock_tolerance", "usable_clocks", beyond, usable_clocks, "-", "at most half of those in a bit")
    return answer(usable_clocks / (oversampling * character_bits))


def slow_data_tolerance(data_bits: Numbers, *, stop_bits: Numbers = 1.0) -> FloatOrArray:
    """How much slower than the receiver a sender may be where samples 8, 9 and 10 of 16 decide.

    Parameters
    ----------
    data_bits : float or array
        Bits between start and stop bits, parity counted in [-]
    stop_bits : float or array
        Stop bits, each of which is checked: 1 or 2 [-]

    Returns
    -------
    float or array
        Relative difference, both ends together [-]

    Raises
    ------
    InputError
        If a number is not whole or outside its range.

    Notes
    -----
    By the receiver's clock the last deciding sample comes 16 (d + s) + 10 clocks after the start edge, the tenth of the
    last stop bit. The slowest sender is only three of its own clocks into that bit then, so that samples 8, 9 and 10
    just see it: F = 7 / (16 (d + s) + 10).

    References
    ----------
    Serial communication interface of the MC9S08SU16, reference manual 22.5.5, and of its kin: checks
    ``uart-slow-data-tolerance-*``.

    Examples
    --------
    >>> from rs485kit.formulas import slow_data_tolerance
    >>> round(slow_data_tolerance(8), 6)
    0.045455
    """
    receiver = _receiver_clocks("slow_data_tolerance", data_bits, stop_bits)
    return answer(7.0 / receiver)


def fast_data_tolerance(data_bits: Numbers, *, stop_bits: Numbers = 1.0) -> FloatOrArray:
    """How much faster than the receiver a sender may be where samples 8, 9 and 10 of 16 decide.

    Parameters
    ----------
    data_bits : float or array
        Bits between start and stop bits, parity counted in [-]
    stop_bits : float or array
        Stop bits, each of which is checked: 1 or 2 [-]

    Returns
    -------
    float or array
        Relative difference, both ends together [-]

    Raises
    ------
    InputError
        If a number is not whole or outside its range.

    Notes
    -----
    The fastest sender's last stop bit ends, 16 (d + s + 1) of its clocks after the start edge, when the receiver takes
    its tenth sample of it: F = 6 / (16 (d + s) + 10). The window is not symmetric: fast is the tighter side.

    References
    ----------
    As `slow_data_tolerance`: checks ``uart-fast-data-tolerance-*``.

    Examples
    --------
    >>> from rs485kit.formulas import fast_data_tolerance
    >>> round(fast_data_tolerance(8), 6)
    0.038961
    """
    receiver = _receiver_clocks("fast_data_tolerance", data_bits, stop_bits)
    return answer(6.0 / receiver)


def slowest_rate_ratio(
    data_bits: Numbers, *, oversampling: Numbers = 16.0, first_sample: Numbers = 8.0
) -> FloatOrArray:
    """Slowest sender against the receiver's rate where three samples decide, as a ratio of rates.

    Parameters
    ----------
    data_bits : float or array
        Bits between start and stop bits, parity counted in [-]
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    first_sample : float or array
        The clock of a bit at which the first deciding sample is taken: 8 of 16, 4 of 8 [-]

    Returns
    -------
    float or array
        Rate of the sender over that of the receiver [-]

    Raises
    ------
    InputError
        If a number is not whole or outside its range, or the sample lies beyond the bit.

    Notes
    -----
    R = (D + 1) S / (S - 1 + D S + SF).

    References
    ----------
    Data sheet 2549A of the ATmega640, asynchronous operational range: checks ``uart-rslow-rfast-*``.

    Examples
    --------
    >>> from rs485kit.formulas import slowest_rate_ratio
    >>> round(slowest_rate_ratio(8), 6)
    0.953642
    """
    data_bits, oversampling, first_sample = arguments(
        "slowest_rate_ratio",
        door.data_bits(data_bits),
        door.oversampling(oversampling),
        whole("first_sample", first_sample, 1, 1024),
    )
    refuse(
        "slowest_rate_ratio", "first_sample", first_sample > oversampling, first_sample, "-", "a clock of the bit"
    )  # fmt: skip
    slowest = (data_bits + 1.0) * oversampling / (oversampling - 1.0 + data_bits * oversampling + first_sample)
    return answer(slowest)


def fastest_rate_ratio(
    data_bits: Numbers, *, oversampling: Numbers = 16.0, middle_sample: Numbers = 9.0
) -> FloatOrArray:
    """Fastest sender against the receiver's rate where three samples decide, as a ratio of rates.

    Parameters
    ----------
    data_bits : float or array
        Bits between start and stop bits, parity counted in [-]
    oversampling : float or array
        Clocks of the receiver in a bit [-]
    middle_sample : float or array
        The clock of a bit at which the middle deciding sample is taken: 9 of 16, 5 of 8 [-]

    Returns
    -------
    float or array
        Rate of the sender over that of the receiver [-]

    Raises
    ------
    InputError
        If a number is not whole or outside its range, or the sample lies beyond the bit.

    Notes
    -----
    R = (D + 2) S / ((D + 1) S + SM). The makers' advice per end is about half of what is left on either side.

    References
    ----------
    As `slowest_rate_ratio`.

    Examples
    --------
    >>> from rs485kit.formulas import fastest_rate_ratio
    >>> round(fastest_rate_ratio(8), 6)
    1.045752
    """
    data_bits, oversampling, middle_sample = arguments(
        "fastest_rate_ratio",
        door.data_bits(data_bits),
        door.oversampling(oversampling),
        whole("middle_sample", middle_sample, 1, 1024),
    )
    refuse(
        "fastest_rate_ratio", "middle_sample", middle_sample > oversampling, middle_sample, "-", "a clock of the bit"
    )  # fmt: skip
    return answer((data_bits + 2.0) * oversampling / ((data_bits + 1.0) * oversampling + middle_sample))


def _receiver_clocks(function: str, data_bits: Numbers, stop_bits: Numbers) -> FloatOrArray:
    """Return the receiver's clocks from the start edge to the last deciding sample of the last stop bit."""
    data_bits, stop_bits = arguments(
        function, door.data_bits(data_bits), whole("stop_bits", stop_bits, 1, 2, cure="one or two")
    )
    return answer(16.0 * (data_bits + stop_bits) + 10.0)
