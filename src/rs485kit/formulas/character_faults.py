"""Bytes that a receiver logs of characters under a physical fault, and back: faults that explain logged bytes."""

import itertools
from collections.abc import Sequence
from typing import Literal, NamedTuple, TypeAlias, get_args

import numpy as np

from rs485kit.errors import InputError, Problem, shown
from rs485kit.formulas.serial_line import ReceivedByte, received_bytes, sent_bits

Fault: TypeAlias = Literal["none", "pair reversed", "mark held", "space held", "idle low", "stray space"]
FAULTS: tuple[Fault, ...] = get_args(Fault)
LASTING: tuple[Fault, ...] = ("mark held", "space held", "idle low", "stray space")
SAMPLES = 16
MOST_BITS = 100.0
LONGEST_SEARCH = 24.0
MOST_LOGGED = 64


class ByteFault(NamedTuple):
    """A fault that explains what was logged, its shortest and longest duration [bits], and whether bytes have errors.

    `framing_error` is whether some of the bytes that were logged have no stop bit, which a receiver may tell.
    """

    fault: Fault
    shortest: float
    longest: float
    framing_error: bool


def faulty_bytes(
    values: Sequence[int], fault: Fault, *, duration: float = 0.0, frame: str = "8N1"
) -> tuple[ReceivedByte, ...]:
    """Bytes that a receiver logs of characters under a physical fault.

    Parameters
    ----------
    values : sequence of int
        The characters that were sent [-]
    fault : str
        "none"; "pair reversed"; "mark held" or "space held" (another driver lets go too late and wins so long with that
        level); "idle low" (nobody holds the pair, and it is low until the characters begin); "stray space" (the same,
        but at mark again for two bits before they begin) [-]
    duration : float
        How long the fault lasts, in bits; no matter for the first two [-]
    frame : str
        Data bits, parity and stop bits of a character [-]

    Returns
    -------
    tuple of ReceivedByte
        What is logged, in the order of time [-]

    Raises
    ------
    InputError
        If an argument is none of these.

    Notes
    -----
    The driver that lets go late is taken to win with the level that it holds. What a receiver with a reversed pair sees
    before and after the characters is space.

    References
    ----------
    Derived; common practice of reading logs of stray bytes.

    Examples
    --------
    >>> from rs485kit.formulas import faulty_bytes
    >>> reply = [0x15, 0x04, 0x02, 0x00, 0x01, 0x48, 0xF3]
    >>> " ".join(f"{byte.value:02x}" for byte in faulty_bytes(reply, "mark held", duration=1.5, frame="8E1"))
    'c5 30 00 01 48 f3'
    """
    if fault not in FAULTS:
        raise InputError(Problem("faulty_bytes.fault", shown(fault), "one of " + ", ".join(FAULTS)))
    if isinstance(duration, bool) or not isinstance(duration, int | float) or not 0.0 <= duration <= MOST_BITS:
        raise InputError(Problem("faulty_bytes.duration", shown(duration), f"from 0 to {MOST_BITS:g} bits"))
    return _logged(sent_bits(values, frame=frame), fault, round(duration * SAMPLES), frame)


def byte_faults(values: Sequence[int], logged: Sequence[int], *, frame: str = "8N1") -> tuple[ByteFault, ...]:
    """Physical faults that explain the bytes that a receiver has logged.

    Parameters
    ----------
    values : sequence of int
        The characters that were sent [-]
    logged : sequence of int
        The bytes that were logged, at most 64 [-]
    frame : str
        Data bits, parity and stop bits of a character [-]

    Returns
    -------
    tuple of ByteFault
        Faults with their shortest and longest durations, a row for each range; none: no single fault explains it [-]

    Raises
    ------
    InputError
        If the characters do not fit the frame, or too many are given.

    Notes
    -----
    `faulty_bytes` for every fault and for every duration up to 24 bits in steps of a sixteenth, which is what durations
    are known to. A receiver may log bytes without a stop bit or drop them: both are tried. Errors of parity are not
    looked at.

    References
    ----------
    Derived; common practice of reading logs of stray bytes.

    Examples
    --------
    >>> from rs485kit.formulas import byte_faults
    >>> for found in byte_faults([0x41, 0x42], [0x00, 0x41, 0x42]):
    ...     print(found.fault, found.shortest, found.longest, found.framing_error)
    stray space 8.5625 9.5 False
    stray space 9.5625 24.0 True
    """
    bits = sent_bits(values, frame=frame)
    for name, given in (("values", values), ("logged", logged)):
        if len(given) > MOST_LOGGED:
            raise InputError(Problem(f"byte_faults.{name}", f"{len(given)} bytes", f"at most {MOST_LOGGED}"))
    sent_bits(logged, frame=frame)
    wanted = [int(value) for value in logged]
    rows: list[ByteFault] = []
    for fault in FAULTS:
        steps = range(1, round(LONGEST_SEARCH * SAMPLES) + 1) if fault in LASTING else range(1)
        kinds = [_explains(_logged(bits, fault, step, frame), wanted) for step in steps]
        for has_error, group in itertools.groupby(zip(kinds, steps, strict=True), key=lambda pair: pair[0]):
            if has_error is not None:
                found = [step for _, step in group]
                rows.append(ByteFault(fault, found[0] / SAMPLES, found[-1] / SAMPLES, has_error))
    return tuple(rows)


def _explains(found: tuple[ReceivedByte, ...], wanted: list[int]) -> bool | None:
    """Return whether bytes that are those wanted have errors of framing; None where they are not those."""
    if [byte.value for byte in found] == wanted:
        return any(byte.framing_error for byte in found)
    sound = [byte.value for byte in found if not byte.framing_error]
    return False if sound == wanted else None


def _logged(bits: tuple[bool, ...], fault: Fault, steps: int, frame: str) -> tuple[ReceivedByte, ...]:
    body = np.repeat(np.array(bits, dtype=np.bool_), SAMPLES)
    rest, low = np.ones(2 * SAMPLES, dtype=np.bool_), np.zeros(steps, dtype=np.bool_)
    if fault == "pair reversed":
        seen = ~np.concatenate((rest, body, rest))
    elif fault == "idle low":
        seen = np.concatenate((rest, low, body))
    elif fault == "stray space":
        # it may be longer than a character, whose stop bit then comes before the pair is at mark
        seen = np.concatenate((rest, low, rest, body))
    else:
        if fault in ("mark held", "space held"):
            body[:steps] = fault == "mark held"
        seen = np.concatenate((rest, body))
    return received_bytes(seen, samples_per_bit=SAMPLES, frame=frame)
