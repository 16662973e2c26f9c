"""Arguments of the line formulas: the ranges within which a line, a wire or an edge of a bus lies."""

from rs485kit.formulas._arguments import Argument, not_negative, passive, positive, within

SPEED_OF_LIGHT = 299_792_458.0
"""In vacuum, exact by definition [m/s]."""
MAGNETIC_CONSTANT = 1.25663706e-6
"""Permeability of vacuum, 4 pi e-7 to within 1e-9 of it [H/m]."""
NEPER = 8.685889638065035
"""Decibels in a neper, 20 / ln 10 [dB]."""

_SLOWEST = 0.1 * SPEED_OF_LIGHT
_NOT_A_FACTOR = "a velocity factor becomes a velocity by propagation_velocity"
_PER_METRE = "per metre of the pair, both conductors: a figure per km is a thousand times that"


def velocity(value: object) -> Argument:
    """Return the velocity of a wave on a line."""
    return within("velocity", value, "m/s", _SLOWEST, SPEED_OF_LIGHT, cure=_NOT_A_FACTOR)


def frequency(value: object) -> Argument:
    """Return a frequency."""
    return within("frequency", value, "Hz", 1e-3, 1e11, cure="it is in hertz: 1 MHz is 1e6")


def impedance(name: str, value: object) -> Argument:
    """Return the impedance of a lossless line."""
    return within(name, value, "ohm", 0.1, 1e5)


def series_resistance(value: object) -> Argument:
    """Return the resistance of a pair per length."""
    return within("series_resistance", value, "ohm/m", 0.0, 1e4, cure=_PER_METRE)


def shunt_capacitance(value: object) -> Argument:
    """Return the capacitance between the conductors of a pair per length."""
    return within("shunt_capacitance", value, "F/m", 1e-15, 1e-6, cure=_PER_METRE)


def primary_constants(
    resistance: object, inductance: object, conductance: object, capacitance: object
) -> list[Argument]:
    """Return the four primary constants of a line."""
    return [
        series_resistance(resistance),
        within("series_inductance", inductance, "H/m", 1e-12, 1.0, cure=_PER_METRE),
        within("shunt_conductance", conductance, "S/m", 0.0, 1e4, cure=_PER_METRE),
        shunt_capacitance(capacitance),
    ]


def node_capacitance(value: object) -> Argument:
    """Return the capacitance of a node across the pair."""
    return within("capacitance", value, "F", 0.0, 1e-6, cure="it is in farad: 20 pF is 20e-12")


def span(name: str, value: object) -> Argument:
    """Return a length of cable that has a delay."""
    return within(name, value, "m", 1e-3, 1e6)


def edge(rise_time: object, wave_velocity: object) -> tuple[Argument, Argument]:
    """Return an edge and the line that it runs along."""
    return positive("rise_time", rise_time, "s"), velocity(wave_velocity)


def run(length: object, wave_velocity: object) -> tuple[Argument, Argument]:
    """Return a length of cable and the velocity of a wave on it."""
    return not_negative("length", length, "m"), velocity(wave_velocity)


def lossy_impedance(value: object) -> Argument:
    """Return the complex characteristic impedance of a lossy line."""
    return passive("characteristic_impedance", value, "ohm", smallest=1e-3)
