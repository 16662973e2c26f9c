"""Figures for people: SI values as text with four significant digits and a prefix where the unit takes one."""

import math

DIGITS = 4
_PREFIXES = {-12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_PREFIXED = frozenset(
    {"V", "A", "ohm", "S", "W", "F", "H", "J", "C", "Hz", "bit/s", "Bd", "s", "m", "F/m", "H/m", "ohm/m", "V/s"}
)
_HIGHEST = {"s": 0, "m": 3}
_NOISE = 1e-15
"""Below a thousandth of the smallest prefix a figure is what rounding has left of zero."""
_NO_FIGURE = "not known"


def figure(value: float | None, unit: str, *, digits: int = DIGITS) -> str:
    """Return an SI value as a person reads it.

    Parameters
    ----------
    value : float or None
        The value; None or NaN is "not known" [`unit`].
    unit : str
        SI unit, "" for a bare number; units of which prefixes are not usual are written without [-].
    digits : int
        Significant digits at the most [-].

    Returns
    -------
    str
        The text, such as "146.7 mV" [-].

    Examples
    --------
    >>> figure(0.14672, "V")
    '146.7 mV'
    >>> figure(115200.0, "bit/s")
    '115.2 kbit/s'
    >>> figure(32.0, "")
    '32'
    """
    if value is None or math.isnan(value):
        return _NO_FIGURE
    if math.isinf(value):
        return f"{'-' if value < 0 else ''}infinite{_spaced(unit)}"
    if unit == "V/s":
        return f"{_plain(value / 1e9, digits)} kV/us"
    if unit in _PREFIXED and abs(value) < _NOISE:
        value = 0.0
    exponent = min(_exponent(value, digits), _HIGHEST.get(unit, max(_PREFIXES))) if unit in _PREFIXED else 0
    return f"{_plain(value / 10.0**exponent, digits)}{_spaced(_PREFIXES[exponent] + unit)}"


def share(value: float | None) -> str:
    """Return a share as per cent.

    Parameters
    ----------
    value : float or None
        The share; None or NaN is "not known" [-].

    Returns
    -------
    str
        The text, such as "-27 %" [-].

    Examples
    --------
    >>> share(-0.266)
    '-26.6 %'
    """
    if value is None or math.isnan(value):
        return _NO_FIGURE
    return f"{figure(100.0 * value, '', digits=3)} %"


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""


def _exponent(value: float, digits: int) -> int:
    """Return the power of a thousand that leaves one to three digits before the point, after rounding."""
    if value == 0.0:
        return 0
    rounded = float(f"{value:.{digits - 1}e}")
    exponent = 3 * (math.floor(math.log10(abs(rounded))) // 3)
    return min(max(exponent, min(_PREFIXES)), max(_PREFIXES))


def _plain(value: float, digits: int) -> str:
    """Return a number without an exponent where it can be read without, whole numbers never cut short."""
    if value == 0.0:
        return "0"
    if 1e-4 <= abs(value) < 1e9:
        decimals = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
        text = f"{value:.{decimals}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return f"{value:.{digits}g}"
