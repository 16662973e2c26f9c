"""Access to a bus that several stations share: tokens, priorities, and bits that are read back."""

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, refuse, whole, within
from rs485kit.formulas.limits import MSTP_NO_TOKEN_TIME, MSTP_SLOT_TIME


def token_pass_time(
    token_octets: Numbers, data_rate: Numbers, delay: Numbers, *, character_bits: Numbers = 10.0
) -> FloatOrArray:
    """Time in which a token goes from one master to the next.

    Parameters
    ----------
    token_octets : float or array
        Octets of the frame that is the token [-]
    data_rate : float or array
        Data rate [bit/s]
    delay : float or array
        Time from the end of the token to what the next master sends [s]
    character_bits : float or array
        Bits of an octet on the line [-]

    Returns
    -------
    float or array
        Time [s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    n L / rate + d. For MS/TP the token has 8 octets and the delay is between 40 bit times and 15 ms; times the number
    of masters it is the rotation of an idle bus.

    References
    ----------
    ANSI/ASHRAE 135, clause 9, as transcribed in public implementations: check mstp-token-pass-38400.

    Examples
    --------
    >>> from rs485kit.formulas import token_pass_time
    >>> round(token_pass_time(8, 38400, 40 / 38400) * 1e3, 4)
    3.125
    """
    token_octets, data_rate, delay, character_bits = arguments(
        "token_pass_time",
        whole("token_octets", token_octets, 1, 4096),
        door.data_rate(data_rate),
        not_negative("delay", delay, "s"),
        door.character_bits(character_bits),
    )
    return answer(token_octets * character_bits / data_rate + delay)


def token_generation_time(station: Numbers) -> FloatOrArray:
    """Silence after which a station of MS/TP may make a token, at the earliest.

    Parameters
    ----------
    station : float or array
        Address of the station, 0 to 127 [-]

    Returns
    -------
    float or array
        Silence; its window is open for one slot of 10 ms [s]

    Raises
    ------
    InputError
        If the address is not whole or outside its range.

    Notes
    -----
    500 ms + 10 ms times the address.

    References
    ----------
    ANSI/ASHRAE 135, clause 9, as transcribed in public implementations: checks ``mstp-token-generation-*``.

    Examples
    --------
    >>> from rs485kit.formulas import token_generation_time
    >>> round(token_generation_time(5) * 1e3, 6)
    550.0
    """
    (station,) = arguments("token_generation_time", whole("station", station, 0, 127))
    return answer(MSTP_NO_TOKEN_TIME + MSTP_SLOT_TIME * station)


def stepped_access_time(
    data_rate: Numbers, position: Numbers, *, first_bits: Numbers = 10.0, step_bits: Numbers = 2.0
) -> FloatOrArray:
    """Silence after which a station may send where each waits some bits longer than the one before it.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    position : float or array
        Steps that the station waits beyond the first silence [-]
    first_bits : float or array
        Bit times that all wait [-]
    step_bits : float or array
        Bit times of one step [-]

    Returns
    -------
    float or array
        Silence from the end of the last stop bit [s]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    (f + s p) / rate. J1708 has 10 and 2 bits, positions 1 to 8 being its priorities; a virtual token of P-NET has 40
    and 10 bits from position 0.

    References
    ----------
    TMC RP 1201, network parameters: checks j1708-access-time, j1708-idle-without-stop-detection. P-NET, virtual token
    passing: checks ``pnet-*``.

    Examples
    --------
    >>> from rs485kit.formulas import stepped_access_time
    >>> round(stepped_access_time(9600, 8) * 1e3, 4)
    2.7083
    """
    data_rate, position, first_bits, step_bits = arguments(
        "stepped_access_time",
        door.data_rate(data_rate),
        whole("position", position, 0, 1000),
        door.bits("first_bits", first_bits),
        door.bits("step_bits", step_bits),
    )
    return answer((first_bits + step_bits * position) / data_rate)


def arbitration_length(
    data_rate: Numbers, velocity: Numbers, loop_delay: Numbers, *, sample_point: Numbers = 0.5
) -> FloatOrArray:
    """Longest bus on which every bit can be read back from the far end within itself.

    Parameters
    ----------
    data_rate : float or array
        Data rate [bit/s]
    velocity : float or array
        Velocity of a wave on the cable [m/s]
    loop_delay : float or array
        Delay of a driver and a receiver, barriers counted in [s]
    sample_point : float or array
        Place of the sample in the bit, as a share of it [-]

    Returns
    -------
    float or array
        Length of the cable [m]

    Raises
    ------
    InputError
        If a value is outside its range, or the loops alone take longer than the sample waits.

    Notes
    -----
    (s / rate - 2 d) v / 2: the bit goes out, is answered within its own time, and comes back.

    References
    ----------
    Arithmetic: checks ``bitwise-arbitration-length-*``.

    Examples
    --------
    >>> from rs485kit.formulas import arbitration_length
    >>> round(arbitration_length(1e6, 2e8, 225e-9, sample_point=0.75), 6)
    30.0
    """
    data_rate, velocity, loop_delay, sample_point = arguments(
        "arbitration_length",
        door.data_rate(data_rate),
        door.velocity(velocity),
        not_negative("loop_delay", loop_delay, "s"),
        within("sample_point", sample_point, "-", 0.0, 1.0, cure="three quarters are 0.75"),
    )
    left = sample_point / data_rate - 2.0 * loop_delay
    refuse("arbitration_length", "loop_delay", left < 0.0, loop_delay, "s", "half of what the sample waits at most")
    return answer(0.5 * left * velocity)
