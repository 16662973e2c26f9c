"""Arguments of the timing formulas: rates, characters, frames and clocks as start-stop transmission has them."""

from rs485kit.formulas._arguments import Argument, positive, whole, within
from rs485kit.formulas._line_arguments import velocity as velocity

START_BITS = 1.0
"""Bits at the head of a character that carry nothing [-]."""


def data_rate(value: object) -> Argument:
    """Return a data rate."""
    return positive("data_rate", value, "bit/s")


def character_bits(value: object) -> Argument:
    """Return the bits of a character, start and stop bits counted in."""
    return whole("character_bits", value, 3, 32, cure="start, data, parity and stop bits together: 8N1 has 10")


def data_bits(value: object) -> Argument:
    """Return the data bits of a character."""
    return whole("data_bits", value, 1, 16, cure="without start, parity and stop bits")


def oversampling(value: object) -> Argument:
    """Return the clocks in a bit."""
    return whole("oversampling", value, 3, 1024, cure="clocks of the receiver in one bit: 16 or 8 in most")


def clock_error(name: str, value: object) -> Argument:
    """Return the size of a relative error of a clock."""
    return within(name, value, "-", 0.0, 0.5, cure="2 % is 0.02")


def characters(name: str, value: object) -> Argument:
    """Return a number of characters, which need not be whole."""
    return within(name, value, "-", 0.0, 1e9)


def bits(name: str, value: object) -> Argument:
    """Return a number of bit times, which need not be whole."""
    return within(name, value, "-", 0.0, 1e9)
