"""Characters on a line and back: the bits that are sent, and the bytes that a receiver logs of what it sees."""

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rs485kit.errors import InputError, Problem, shown
from rs485kit.formulas._arguments import Numbers

FRAME = "[5-9][NEOMS][12]"
MOST_CHARACTERS = 10_000
MOST_SAMPLES = 10_000_000
LEAST_SAMPLES_PER_BIT = 4.0
Levels = npt.NDArray[np.bool_]


class ReceivedByte(NamedTuple):
    """A byte as a receiver logs it: `value`, when its start edge came [bits], and what was wrong with it."""

    value: int
    start: float
    framing_error: bool
    parity_error: bool


class _Frame(NamedTuple):
    data: int
    parity: str
    stops: int


def sent_bits(values: Sequence[int], *, frame: str = "8N1") -> tuple[bool, ...]:
    """Levels of characters that are sent one right after the other, a mark being true.

    Parameters
    ----------
    values : sequence of int
        The characters [-]
    frame : str
        Data bits, parity and stop bits of a character [-]

    Returns
    -------
    tuple of bool
        One level per bit [-]

    Raises
    ------
    InputError
        If a value does not fit the data bits, or the frame is none.

    Notes
    -----
    A start bit, which is a space; data bits, lowest first; parity, if any; stop bits, which are marks.

    References
    ----------
    MODBUS over Serial Line V1.02, 2.5.1.

    Examples
    --------
    >>> from rs485kit.formulas import sent_bits
    >>> "".join("1" if bit else "0" for bit in sent_bits([0x15], frame="8E1"))
    '01010100011'
    """
    form = _frame("sent_bits", frame)
    if isinstance(values, str) or not isinstance(values, Sequence | np.ndarray) or len(values) > MOST_CHARACTERS:
        wanted = f"a sequence of at most {MOST_CHARACTERS} characters"
        raise InputError(Problem("sent_bits.values", shown(values), wanted))
    bits: list[bool] = []
    for value in values:
        whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
        if not whole or not 0 <= value < 2**form.data:
            raise InputError(Problem("sent_bits.values", shown(value), f"whole numbers from 0 to {2**form.data - 1}"))
        data = [bool(int(value) >> place & 1) for place in range(form.data)]
        bits += [False, *data, *_parity(data, form.parity), *[True] * form.stops]
    return tuple(bits)


def read_levels(voltage: Numbers, *, upper: float, lower: float, initial: bool = True) -> Levels:
    """What a comparator with two thresholds makes of a voltage, a mark being true.

    Parameters
    ----------
    voltage : array
        Differential voltage over time [V]
    upper : float
        It reads mark from above this one on [V]
    lower : float
        It reads space from below this one on [V]
    initial : bool
        What it reads before the first sample [-]

    Returns
    -------
    array of bool
        What it reads at every sample [-]

    Raises
    ------
    InputError
        If the voltage is no flat array of finite numbers, or the upper threshold is below the lower one.

    Notes
    -----
    Between the two thresholds it keeps what it read before.

    References
    ----------
    Common practice of data sheets of receivers with hysteresis.

    Examples
    --------
    >>> from rs485kit.formulas import read_levels
    >>> read_levels([2.0, 0.1, -0.1, -2.0, 0.1], upper=0.05, lower=-0.15).tolist()
    [True, True, True, False, True]
    """
    try:
        values = np.asarray(voltage, dtype=np.float64)
    except (TypeError, ValueError):
        values = np.full(1, np.nan)
    if values.ndim != 1 or not len(values) or len(values) > MOST_SAMPLES or not np.isfinite(values).all():
        wanted = f"a flat array of 1 to {MOST_SAMPLES} voltages"
        raise InputError(Problem("read_levels.voltage", shown(voltage), wanted))
    for name, value in (("upper", upper), ("lower", lower)):
        if not isinstance(value, int | float) or not np.isfinite(value):
            raise InputError(Problem(f"read_levels.{name}", shown(value), "a voltage"))
    if upper < lower:
        raise InputError(Problem("read_levels.upper", f"{upper:g} V", f"at least the lower threshold, {lower:g} V"))
    clear = np.where(values > upper, 1, np.where(values < lower, 0, -1))
    place = np.where(clear >= 0, np.arange(len(values)), -1)
    np.maximum.accumulate(place, out=place)
    return np.where(place < 0, initial, clear[np.maximum(place, 0)] == 1).astype(np.bool_)


def received_bytes(
    levels: Sequence[bool] | Levels, *, samples_per_bit: float, frame: str = "8N1"
) -> tuple[ReceivedByte, ...]:
    """Bytes that a receiver of asynchronous characters logs of the levels that it sees.

    Parameters
    ----------
    levels : sequence or array of bool
        Levels at equal steps of time, a mark being true; the line is at mark before the first and after the last [-]
    samples_per_bit : float
        Steps in a bit of the receiver, 4 or more, and not necessarily whole [-]
    frame : str
        Data bits, parity and stop bits of a character [-]

    Returns
    -------
    tuple of ReceivedByte
        What it logs, in the order of time [-]

    Raises
    ------
    InputError
        If the levels are none, the steps in a bit are too few, or the frame is none.

    Notes
    -----
    A fall from mark to space starts a character, unless the line is at mark again in the middle of the start bit.
    Every bit is read in its middle. The first stop bit decides on a framing error; the receiver then waits for the
    next fall, from the middle of that stop bit on, half a bit before the character has ended. A space that goes on has
    to end first.

    References
    ----------
    Microchip UART documentation, stop bit selection: the first stop bit is checked in its middle.

    Examples
    --------
    >>> import numpy as np
    >>> from rs485kit.formulas import received_bytes, sent_bits
    >>> levels = np.repeat([True, *sent_bits([0x15, 0x04], frame="8E1")], 16)
    >>> [f"{byte.value:02x}" for byte in received_bytes(levels, samples_per_bit=16, frame="8E1")]
    ['15', '04']
    """
    form = _frame("received_bytes", frame)
    seen = np.asarray(levels)
    if seen.ndim != 1 or not len(seen) or len(seen) > MOST_SAMPLES or seen.dtype != np.bool_:
        wanted = f"a flat sequence of 1 to {MOST_SAMPLES} truth values"
        raise InputError(Problem("received_bytes.levels", shown(levels), wanted, "compare a voltage with read_levels"))
    if not isinstance(samples_per_bit, int | float) or not LEAST_SAMPLES_PER_BIT <= samples_per_bit <= MOST_SAMPLES:
        wanted = f"a number from {LEAST_SAMPLES_PER_BIT:g} on"
        raise InputError(Problem("received_bytes.samples_per_bit", shown(samples_per_bit), wanted))
    before = np.concatenate(([True], seen[:-1]))
    falls = np.flatnonzero(before & ~seen)
    found: list[ReceivedByte] = []
    now = 0.0
    while True:
        following = falls[falls >= now]
        if not len(following):
            return tuple(found)
        start = int(following[0])

        def bit(number: int, start: int = start) -> bool:
            place = int(start + (number + 0.5) * samples_per_bit)
            return bool(seen[place]) if place < len(seen) else True

        if bit(0):
            now = start + 0.5 * samples_per_bit
            continue
        data = [bit(1 + place) for place in range(form.data)]
        parity = _parity(data, form.parity)
        stop = 1 + form.data + len(parity)
        value = sum(level << place for place, level in enumerate(data))
        wrong = [bit(1 + form.data)] != parity if parity else False
        found.append(ReceivedByte(value, start / samples_per_bit, not bit(stop), wrong))
        now = start + (stop + 0.5) * samples_per_bit


def stray_byte_pulse(value: int, *, frame: str = "8N1") -> tuple[float, float]:
    """Shortest and longest lone space that a receiver logs as one byte without an error of framing.

    Parameters
    ----------
    value : int
        The byte [-]
    frame : str
        Data bits, parity and stop bits of a character [-]

    Returns
    -------
    tuple of two float
        Durations in bits; NaN where no lone space reads so [-]

    Raises
    ------
    InputError
        If the value does not fit the data bits, or the frame is none.

    Notes
    -----
    A space of n and a half bits is over before the middle of the next bit: the start bit and the first n data bits are
    spaces, all others marks. A parity bit that does not agree is an error which many receivers do not log.

    References
    ----------
    Derived; common practice of reading logs of stray bytes.

    Examples
    --------
    >>> from rs485kit.formulas import stray_byte_pulse
    >>> stray_byte_pulse(0xFF), stray_byte_pulse(0x00)
    ((0.5, 1.5), (8.5, 9.5))
    """
    form = _frame("stray_byte_pulse", frame)
    whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
    if not whole or not 0 <= value < 2**form.data:
        wanted = f"a whole number from 0 to {2**form.data - 1}"
        raise InputError(Problem("stray_byte_pulse.value", shown(value), wanted))
    ones = 2**form.data - 1
    for zeros in range(form.data + 1):
        if int(value) == (ones << zeros) & ones:
            longest = zeros + 1.5
            # all data bits are spaces: a parity bit may be one as well, and the stop bit must not
            if zeros == form.data and form.parity != "N":
                longest += 1.0
            return zeros + 0.5, longest
    return float("nan"), float("nan")


def _frame(function: str, frame: object) -> _Frame:
    if not isinstance(frame, str) or re.fullmatch(FRAME, frame, re.ASCII) is None:
        raise InputError(Problem(f"{function}.frame", shown(frame), 'data bits, parity and stop bits, such as "8N1"'))
    return _Frame(int(frame[0]), frame[1], int(frame[2]))


def _parity(data: Sequence[bool], kind: str) -> list[bool]:
    """Return the parity bit of data bits, none where there is none."""
    odd = sum(data) % 2 == 1
    return {"N": [], "E": [odd], "O": [not odd], "M": [True], "S": [False]}[kind]
