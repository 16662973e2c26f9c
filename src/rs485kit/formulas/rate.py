"""Rules of thumb that tie length, delay and data rate together."""

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, positive, within
from rs485kit.formulas.limits import MODBUS_TAP_LENGTH, RISE_FRACTION


def bit_time(data_rate: Numbers) -> FloatOrArray:
    """Duration of one bit.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]

    Returns
    -------
    float or array
        Duration of one bit [s]

    Raises
    ------
    InputError
        If the data rate is not a positive number.

    Notes
    -----
    t = 1 / rate.

    References
    ----------
    Definition; RS-422 and RS-485 Applications Ebook, chapter 2, for 2000 ft at 9600 bit/s.

    Examples
    --------
    >>> from rs485kit.formulas import bit_time
    >>> round(bit_time(9600) * 1e6, 3)
    104.167
    """
    (data_rate,) = arguments("bit_time", positive("data_rate", data_rate, "bit/s"))
    return answer(1.0 / data_rate)


def bit_share(duration: Numbers, data_rate: Numbers) -> FloatOrArray:
    """Share of a bit that a duration takes.

    Parameters
    ----------
    duration : float or array
        Delay, edge or time constant [s]
    data_rate : float or array
        Data rate [bit/s]

    Returns
    -------
    float or array
        Duration over the bit [-]

    Raises
    ------
    InputError
        If the duration is negative or the data rate is not positive.

    Notes
    -----
    t * rate.

    References
    ----------
    Definition. Figure: check termination-ac-modbus-time.

    Examples
    --------
    >>> from rs485kit.formulas import bit_share
    >>> round(bit_share(120e-9, 19200), 6)
    0.002304
    """
    duration, data_rate = arguments(
        "bit_share", not_negative("duration", duration, "s"), positive("data_rate", data_rate, "bit/s")
    )
    return answer(duration * data_rate)


def longest_rise_time(data_rate: Numbers, *, fraction: Numbers = RISE_FRACTION) -> FloatOrArray:
    """Longest rise or fall of a driver for a data rate.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    fraction : float or array
        Share of the bit that the edge may take, up to 1 [-]

    Returns
    -------
    float or array
        Rise or fall, 10 to 90 % into 54 ohm and 50 pF [s]

    Raises
    ------
    InputError
        If the data rate is not positive or the fraction is outside 0..1.

    Notes
    -----
    t = 0.30 / rate. A later note words the limit as a third of the bit; the stricter 0.30 is the default here.

    References
    ----------
    RS-422/485 Application Note, Appendix A: checks tia485-driver-rise-fraction, tia485-driver-rise-times.

    Examples
    --------
    >>> from rs485kit.formulas import longest_rise_time
    >>> round(longest_rise_time(115200) * 1e9, 2)
    2604.17
    """
    data_rate, fraction = arguments(
        "longest_rise_time",
        positive("data_rate", data_rate, "bit/s"),
        within("fraction", fraction, "-", 0.0, 1.0, cure="30 % is 0.3"),
    )
    return answer(fraction / data_rate)


def propagation_velocity(velocity_factor: Numbers) -> FloatOrArray:
    """Velocity of a wave on a cable.

    Parameters
    ----------
    velocity_factor : float or array
        Velocity as a share of that of light in vacuum, 0.1 to 1 [-]

    Returns
    -------
    float or array
        Velocity [m/s]

    Raises
    ------
    InputError
        If the factor is outside 0.1..1.

    Notes
    -----
    v = k c.

    References
    ----------
    Definition; RS-422 and RS-485 Applications Ebook, chapter 2, for 2000 ft at 9600 bit/s.

    Examples
    --------
    >>> from rs485kit.formulas import propagation_velocity
    >>> round(propagation_velocity(0.66))
    197863022
    """
    (velocity_factor,) = arguments(
        "propagation_velocity", within("velocity_factor", velocity_factor, "-", 0.1, 1.0, cure="66 % is 0.66")
    )
    return answer(velocity_factor * door.SPEED_OF_LIGHT)


def line_delay(length: Numbers, velocity: Numbers) -> FloatOrArray:
    """One-way delay of a line.

    Parameters
    ----------
    length : float or array
        Length of the cable [m]
    velocity : float or array
        Velocity of a wave on it [m/s]

    Returns
    -------
    float or array
        Delay from one end to the other [s]

    Raises
    ------
    InputError
        If the length is negative, or the velocity is outside a tenth of that of light to that of light.

    Notes
    -----
    t = l / v, of the fast part of an edge. On a lossy pair the rest of the edge arrives later.

    References
    ----------
    Definition. Figure: check termination-ac-rule-4-tau.

    Examples
    --------
    >>> from rs485kit.formulas import line_delay
    >>> round(line_delay(100.0, 2e8) * 1e9, 6)
    500.0
    """
    length, velocity = arguments("line_delay", *door.run(length, velocity))
    return answer(length / velocity)


def settling_time(length: Numbers, velocity: Numbers, *, round_trips: Numbers = 3.0) -> FloatOrArray:
    """Time after which the reflections of a line are taken to have died away.

    Parameters
    ----------
    length : float or array
        Length of the cable [m]
    velocity : float or array
        Velocity of a wave on it [m/s]
    round_trips : float or array
        Round trips to wait; 1 gives the round trip itself [-]

    Returns
    -------
    float or array
        Time from the edge on [s]

    Raises
    ------
    InputError
        If the length is negative, the velocity is outside a tenth of that of light to that of light, or the round
        trips are not positive.

    Notes
    -----
    t = 2 n l / v, n = 3 by a rule of thumb. How far reflections have really died away depends on both ends.

    References
    ----------
    RS-422 and RS-485 Applications Ebook, chapter 2, which prints 18.6 us for this line.

    Examples
    --------
    >>> from rs485kit.formulas import propagation_velocity, settling_time
    >>> round(settling_time(2000 * 0.3048, propagation_velocity(0.66)) * 1e6, 2)
    18.49
    """
    length, velocity, round_trips = arguments(
        "settling_time", *door.run(length, velocity), positive("round_trips", round_trips, "-")
    )
    return answer(2.0 * round_trips * length / velocity)


def unterminated_length(
    data_rate: Numbers, velocity: Numbers, *, round_trips: Numbers = 3.0, share: Numbers = 0.5
) -> FloatOrArray:
    """Longest line that a rule of thumb lets go without terminators.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    velocity : float or array
        Velocity of a wave on the line [m/s]
    round_trips : float or array
        Round trips that have to fit in [-]
    share : float or array
        Share of the bit in which they have to fit, up to 1 [-]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If a value is not positive, the velocity is outside a tenth of that of light to that of light, or the share
        is above 1.

    Notes
    -----
    l = s v / (2 n rate). A rule of thumb: whether a line works without terminators also depends on its edges.

    References
    ----------
    A motion controller's manual, page 5-248, whose slower rows break its own rule: check
    length-unterminated-three-round-trips.

    Examples
    --------
    >>> from rs485kit.formulas import unterminated_length
    >>> round(unterminated_length(115200, 0.66 * 0.3048e9) / 0.3048, 1)
    477.4
    """
    data_rate, velocity, round_trips, share = arguments(
        "unterminated_length",
        positive("data_rate", data_rate, "bit/s"),
        door.velocity(velocity),
        positive("round_trips", round_trips, "-"),
        within("share", share, "-", 1e-6, 1.0),
    )
    return answer(share * velocity / (2.0 * round_trips * data_rate))


def length_by_product(data_rate: Numbers, *, product: Numbers = 1e8) -> FloatOrArray:
    """Longest line by the rule of a constant product of length and data rate.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    product : float or array
        Length times rate [m*bit/s]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    l = 1e8 / rate. A rule of thumb, 20 % under the 1200 m at 100 kbit/s that the page which prints it also prints.

    References
    ----------
    A router maker's manual, section 8.5.2.1: check length-rule-1e8.

    Examples
    --------
    >>> from rs485kit.formulas import length_by_product
    >>> length_by_product(1e6)
    100.0
    """
    data_rate, product = arguments(
        "length_by_product", positive("data_rate", data_rate, "bit/s"), positive("product", product, "m*bit/s")
    )
    return answer(product / data_rate)


def tap_stub_length(ports: Numbers, *, shared_length: Numbers = MODBUS_TAP_LENGTH) -> FloatOrArray:
    """Longest stub at each port of a tap with several.

    Parameters
    ----------
    ports : float or array
        Ports of the tap [-]
    shared_length : float or array
        Length that all stubs of the tap share [m]

    Returns
    -------
    float or array
        Length of one stub [m]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    l = 40 m / n, a limit of one open protocol's guide.

    References
    ----------
    MODBUS over Serial Line, V1.02, section 3.4.3: check length-modbus.

    Examples
    --------
    >>> from rs485kit.formulas import tap_stub_length
    >>> tap_stub_length(4)
    10.0
    """
    ports, shared_length = arguments(
        "tap_stub_length", positive("ports", ports, "-"), positive("shared_length", shared_length, "m")
    )
    return answer(shared_length / ports)
