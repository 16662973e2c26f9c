"""One length of lossy line under a sine: what its near end presents, and what arrives at its far end.

Any tree of lines is these two functions and resistors in parallel: from the leaves inwards the impedances, from the
driver outwards the voltages.
"""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    Argument,
    ComplexArray,
    ComplexNumbers,
    ComplexOrArray,
    Numbers,
    complex_answer,
    complex_arguments,
    passive,
    refuse,
    within,
)

_RESONANCE = "there the line resonates without loss: give it a resistance, or move the frequency"


def input_impedance(
    characteristic_impedance: ComplexNumbers,
    propagation_constant: ComplexNumbers,
    length: Numbers,
    *,
    load_impedance: ComplexNumbers | None = None,
) -> ComplexOrArray:
    """Impedance at the near end of a line with a load at its far end.

    Parameters
    ----------
    characteristic_impedance : complex or array
        Characteristic impedance of the line at that frequency [ohm]
    propagation_constant : complex or array
        Propagation constant of the line at that frequency [1/m]
    length : float or array
        Length of the line [m]
    load_impedance : complex, array or None
        What stands across the far end; None if it is open [ohm]

    Returns
    -------
    complex or array
        Impedance that a trunk sees in a stub, or a driver in a line [ohm]

    Raises
    ------
    InputError
        If an impedance is not that of passive matter, the length is outside 0..1000 km, or the impedance has no bound.

    Notes
    -----
    Z0 (1 + r e) / (1 - r e), e = exp(-2 gamma l), r the reflection coefficient of the load. In this form nothing
    overflows on a long line.

    References
    ----------
    Transmission line theory. Figures: check ac-one-tap.

    Examples
    --------
    >>> from rs485kit.formulas import input_impedance
    >>> z = input_impedance(120.0, 0.314j, 2.0)
    >>> z.real, round(z.imag, 1)
    (0.0, -165.3)
    """
    load, line, constant, run = _given(
        "input_impedance", load_impedance, characteristic_impedance, propagation_constant, length
    )
    back = _reflection("input_impedance", load, line) * np.exp(-2.0 * constant * run.real)
    refuse(
        "input_impedance",
        "length",
        np.abs(1.0 - back) < 1e-12,
        run.real,
        "m",
        "a length that presents a bounded impedance",
        cure="an open end of no length, or half a wave away, is no load: leave it out",
    )
    impedance = line * (1.0 + back) / (1.0 - back)
    # rounding must not make a line without loss a source
    return complex_answer(np.maximum(impedance.real, 0.0) + 1j * impedance.imag)


def end_voltage_ratio(
    characteristic_impedance: ComplexNumbers,
    propagation_constant: ComplexNumbers,
    length: Numbers,
    *,
    load_impedance: ComplexNumbers | None = None,
) -> ComplexOrArray:
    """Voltage at the far end of a line over that at its near end.

    Parameters
    ----------
    characteristic_impedance : complex or array
        Characteristic impedance of the line at that frequency [ohm]
    propagation_constant : complex or array
        Propagation constant of the line at that frequency [1/m]
    length : float or array
        Length of the line [m]
    load_impedance : complex, array or None
        What stands across the far end; None if it is open [ohm]

    Returns
    -------
    complex or array
        Far over near voltage, above 1 where an open stub resonates [-]

    Raises
    ------
    InputError
        If an impedance is not that of passive matter, the length is outside 0..1000 km, or the ratio has no bound.

    Notes
    -----
    exp(-gamma l) (1 + r) / (1 + r exp(-2 gamma l)), r the reflection coefficient of the load.

    References
    ----------
    Transmission line theory. Figures: checks ac-rlc-100m, ac-one-tap.

    Examples
    --------
    >>> from rs485kit.formulas import end_voltage_ratio
    >>> ratio = end_voltage_ratio(120.0, 0.002 + 0.03j, 100.0, load_impedance=120.0)
    >>> round(abs(ratio), 4)
    0.8187
    """
    load, line, constant, run = _given(
        "end_voltage_ratio", load_impedance, characteristic_impedance, propagation_constant, length
    )
    reflection = _reflection("end_voltage_ratio", load, line)
    there = np.exp(-constant * run.real)
    divisor = 1.0 + reflection * there * there
    refuse(
        "end_voltage_ratio",
        "length",
        np.abs(divisor) < 1e-12,
        run.real,
        "m",
        "a length over which the ratio is bounded",
        cure=_RESONANCE,
    )
    return complex_answer(there * (1.0 + reflection) / divisor)


def _given(
    function: str,
    load: ComplexNumbers | None,
    line: ComplexNumbers,
    constant: ComplexNumbers,
    length: Numbers,
) -> list[ComplexArray]:
    given: list[Argument] = [
        passive("load_impedance", load, "ohm", optional=True),
        door.lossy_impedance(line),
        passive("propagation_constant", constant, "1/m", smallest=0.0),
        within("length", length, "m", 0.0, 1e6),
    ]
    return complex_arguments(function, *given)


def _reflection(function: str, load: ComplexArray, line: ComplexArray) -> ComplexArray:
    # over the load, so that an open end, which is infinite, gives 1
    share = line / np.where(np.isinf(load), 1.0, load)
    share = np.where(np.isinf(load), 0.0, share)
    refuse(
        function,
        "load_impedance",
        np.abs(1.0 + share) < 1e-9,
        load,
        "ohm",
        "not the opposite of the characteristic impedance",
        cure="the impedance of a line with loss has a real part",
    )
    return np.asarray((1.0 - share) / (1.0 + share))
