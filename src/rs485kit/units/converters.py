"""One named converter per unit and form: type checkers read only these."""

from collections.abc import Callable
from typing import Any

from rs485kit.units.reading import Given, GivenSpread, MinTypMax, si, spread


def metres(given: Given) -> float:
    """Read a length [m]."""
    return si(given, "m")


def optional_metres(given: Given | None) -> float | None:
    """Read a length or None [m]."""
    return None if given is None else si(given, "m")


def optional_seconds(given: Given | None) -> float | None:
    """Read a time or None [s]."""
    return None if given is None else si(given, "s")


def seconds(given: Given) -> float:
    """Read a time [s]."""
    return si(given, "s")


def optional_volts(given: Given | None) -> float | None:
    """Read a voltage or None [V]."""
    return None if given is None else si(given, "V")


def ratio(given: Given) -> float:
    """Read a ratio [-]."""
    return si(given, "")


def optional_ratio(given: Given | None) -> float | None:
    """Read a ratio or None [-]."""
    return None if given is None else si(given, "")


def volts(given: Given) -> float:
    """Read a voltage [V]."""
    return si(given, "V")


def amperes(given: Given) -> float:
    """Read a current [A]."""
    return si(given, "A")


def watts(given: Given) -> float:
    """Read a power [W]."""
    return si(given, "W")


def kelvins(given: Given) -> float:
    """Read a temperature [K]; text may say degC."""
    return si(given, "K")


def optional_kelvins(given: Given | None) -> float | None:
    """Read a temperature or None [K]; text may say degC."""
    return None if given is None else si(given, "K")


def optional_kelvins_per_watt(given: Given | None) -> float | None:
    """Read a thermal resistance or None [K/W]."""
    return None if given is None else si(given, "K/W")


def bits_per_second(given: Given) -> float:
    """Read a data rate [bit/s]."""
    return si(given, "bit/s")


def optional_farads(given: Given | None) -> float | None:
    """Read a capacitance or None [F]."""
    return None if given is None else si(given, "F")


def optional_amperes(given: Given | None) -> float | None:
    """Read a current or None [A]."""
    return None if given is None else si(given, "A")


def optional_ohms(given: Given | None) -> float | None:
    """Read a resistance or None [ohm]."""
    return None if given is None else si(given, "ohm")


def hertz(given: Given) -> float:
    """Read a frequency [Hz]."""
    return si(given, "Hz")


def optional_hertz(given: Given | None) -> float | None:
    """Read a frequency or None [Hz]."""
    return None if given is None else si(given, "Hz")


def decibels_per_metre(given: Given) -> float:
    """Read a loss per length [dB/m]."""
    return si(given, "dB/m")


def optional_watts(given: Given | None) -> float | None:
    """Read a power or None [W]."""
    return None if given is None else si(given, "W")


def optional_radians(given: Given | None) -> float | None:
    """Read an angle or None [rad]."""
    return None if given is None else si(given, "rad")


def optional_bits_per_second(given: Given | None) -> float | None:
    """Read a data rate or None [bit/s]."""
    return None if given is None else si(given, "bit/s")


def optional_volts_per_second(given: Given | None) -> float | None:
    """Read a slew rate or None [V/s]."""
    return None if given is None else si(given, "V/s")


def amperes_spread(given: GivenSpread) -> MinTypMax:
    """Read a current with its limits [A]."""
    return spread(given, "A")


def optional_amperes_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a current with its limits, or None [A]."""
    return None if given is None else spread(given, "A")


def optional_watts_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a power with its limits, or None [W]."""
    return None if given is None else spread(given, "W")


def volts_spread(given: GivenSpread) -> MinTypMax:
    """Read a voltage with its limits [V]."""
    return spread(given, "V")


def ratio_spread(given: GivenSpread) -> MinTypMax:
    """Read a ratio with its limits [-]."""
    return spread(given, "")


def ohms_spread(given: GivenSpread) -> MinTypMax:
    """Read a resistance with its limits [ohm]."""
    return spread(given, "ohm")


def optional_ohms_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a resistance with its limits, or None [ohm]."""
    return None if given is None else spread(given, "ohm")


def optional_ohms_per_metre_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a resistance per length with its limits, or None [ohm/m]."""
    return None if given is None else spread(given, "ohm/m")


def optional_volts_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a voltage with its limits, or None [V]."""
    return None if given is None else spread(given, "V")


def optional_seconds_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a time with its limits, or None [s]."""
    return None if given is None else spread(given, "s")


def optional_farads_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a capacitance with its limits, or None [F]."""
    return None if given is None else spread(given, "F")


def optional_farads_per_metre_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a capacitance per length with its limits, or None [F/m]."""
    return None if given is None else spread(given, "F/m")


def optional_ratio_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a ratio with its limits, or None [-]."""
    return None if given is None else spread(given, "")


def optional_kelvins_spread(given: GivenSpread | None) -> MinTypMax | None:
    """Read a temperature with its limits, or None [K]; text may say degC."""
    return None if given is None else spread(given, "K")


UNITS_OF: dict[Callable[[Any], Any], str] = {
    metres: "m", optional_metres: "m", optional_volts: "V", seconds: "s", optional_seconds: "s", optional_ratio: "",
    optional_amperes: "A", optional_amperes_spread: "A", optional_ohms: "ohm", optional_watts: "W",
    optional_radians: "rad", optional_bits_per_second: "bit/s",
    optional_volts_per_second: "V/s", ohms_spread: "ohm", optional_ohms_spread: "ohm",
    optional_ohms_per_metre_spread: "ohm/m", optional_volts_spread: "V", optional_seconds_spread: "s",
    optional_farads_spread: "F", optional_farads_per_metre_spread: "F/m", optional_ratio_spread: "",
    optional_kelvins_spread: "K", hertz: "Hz", optional_hertz: "Hz", decibels_per_metre: "dB/m",
    volts: "V", ratio: "", amperes: "A", watts: "W", kelvins: "K", optional_kelvins: "K",
    optional_kelvins_per_watt: "K/W", bits_per_second: "bit/s", optional_farads: "F", amperes_spread: "A",
    optional_watts_spread: "W", volts_spread: "V", ratio_spread: "",
}  # fmt: skip
