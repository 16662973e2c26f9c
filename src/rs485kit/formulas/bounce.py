"""Bounce diagrams: a step that runs to and fro between two resistive ends of a line without loss."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    number,
    optional_resistance,
    whole,
    within,
)

_MOST = 10_000


def launched_voltage(
    source_voltage: Numbers, source_resistance: Numbers, characteristic_impedance: Numbers
) -> FloatOrArray:
    """Height of the wave that a source sends into a line.

    Parameters
    ----------
    source_voltage : float or array
        Step of the source's open voltage [V]
    source_resistance : float or array
        Resistance of the source, with what else stands across the near end taken into both [ohm]
    characteristic_impedance : float or array
        Characteristic impedance of the line; half of it for a driver in the middle [ohm]

    Returns
    -------
    float or array
        Height of the first wave [V]

    Raises
    ------
    InputError
        If the voltage is not finite, the resistance negative, or the impedance outside 0.1..1e5 ohm.

    Notes
    -----
    V Z0 / (Rs + Z0). It is what stands on the line until the first echo comes, whatever the far end is.

    References
    ----------
    Transmission line theory. Figures: checks lattice-12v-50-100-200, open-end-with-matched-source.

    Examples
    --------
    >>> from rs485kit.formulas import launched_voltage
    >>> launched_voltage(12.0, 50.0, 100.0)
    8.0
    """
    source_voltage, source_resistance, characteristic_impedance = arguments(
        "launched_voltage", *_source(source_voltage, source_resistance), _line(characteristic_impedance)
    )
    return answer(source_voltage * characteristic_impedance / (source_resistance + characteristic_impedance))


def reflected_wave(
    source_voltage: Numbers,
    source_resistance: Numbers,
    characteristic_impedance: Numbers,
    reflections: Numbers,
    *,
    load_resistance: Numbers | None = None,
) -> FloatOrArray:
    """Height of the wave on a line after a number of reflections.

    Parameters
    ----------
    source_voltage : float or array
        Step of the source's open voltage [V]
    source_resistance : float or array
        Resistance of the source [ohm]
    characteristic_impedance : float or array
        Characteristic impedance of the line [ohm]
    reflections : float or array
        Reflections that the wave has behind it, at the far end first; 0 for the wave that is launched [-]
    load_resistance : float, array or None
        Resistance at the far end; None if it is open [ohm]

    Returns
    -------
    float or array
        Height of that wave alone [V]

    Raises
    ------
    InputError
        If the voltage is not finite, a resistance is outside its range, the impedance is outside 0.1..1e5 ohm, or the
        reflections are not a whole number from 0 to 10000.

    Notes
    -----
    V Z0 / (Rs + Z0) * rL^ceil(n / 2) * rS^floor(n / 2).

    References
    ----------
    Transmission line theory. Figures: check lattice-12v-50-100-200.

    Examples
    --------
    >>> from rs485kit.formulas import reflected_wave
    >>> [round(reflected_wave(12.0, 50.0, 100.0, n, load_resistance=200.0), 4) for n in range(4)]
    [8.0, 2.6667, -0.8889, -0.2963]
    """
    voltage, source, line, load, count = arguments(
        "reflected_wave",
        *_ends(source_voltage, source_resistance, characteristic_impedance, load_resistance),
        whole("reflections", reflections, 0, _MOST),
    )
    near, far = _coefficients(source, line, load)
    first = voltage * line / (source + line)
    return answer(first * far ** np.ceil(count / 2.0) * near ** np.floor(count / 2.0))


def bounced_voltage(
    source_voltage: Numbers,
    source_resistance: Numbers,
    characteristic_impedance: Numbers,
    waves: Numbers,
    *,
    load_resistance: Numbers | None = None,
) -> FloatOrArray:
    """Voltage at a place of a line past which a number of waves have run.

    Parameters
    ----------
    source_voltage : float or array
        Step of the source's open voltage [V]
    source_resistance : float or array
        Resistance of the source [ohm]
    characteristic_impedance : float or array
        Characteristic impedance of the line [ohm]
    waves : float or array
        Waves that have passed, `wave_arrival` says when; at the far end they come in pairs 2, 4, 6, at the source as
        1, 3, 5, since a wave and its echo are there at once [-]
    load_resistance : float, array or None
        Resistance at the far end; None if it is open [ohm]

    Returns
    -------
    float or array
        Voltage between the arrival of that wave and of the next [V]

    Raises
    ------
    InputError
        If the voltage is not finite, a resistance is outside its range, the impedance is outside 0.1..1e5 ohm, or the
        waves are not a whole number from 0 to 10000.

    Notes
    -----
    The sum of the first n waves in closed form: Vf (1 - q^m), and for odd n the next wave q^m V Z0 / (Rs + Z0) on
    top; q = rS rL, m = floor(n / 2), Vf = V RL / (Rs + RL).

    References
    ----------
    Transmission line theory. Figures: checks lattice-60v-100-50-25, lattice-12v-final, lattice-120v-30-90.

    Examples
    --------
    >>> from rs485kit.formulas import bounced_voltage
    >>> [round(bounced_voltage(12.0, 50.0, 100.0, n, load_resistance=200.0), 4) for n in (2, 4, 6)]
    [10.6667, 9.4815, 9.6132]
    """
    voltage, source, line, load, count = arguments(
        "bounced_voltage",
        *_ends(source_voltage, source_resistance, characteristic_impedance, load_resistance),
        whole("waves", waves, 0, _MOST),
    )
    near, far = _coefficients(source, line, load)
    left = (near * far) ** np.floor(count / 2.0)
    first = voltage * line / (source + line)
    return answer(voltage / (1.0 + source / load) * (1.0 - left) + (count % 2.0) * left * first)


def settled_voltage(
    source_voltage: Numbers, source_resistance: Numbers, *, load_resistance: Numbers | None = None
) -> FloatOrArray:
    """Voltage of a line without loss when all reflections have died away.

    Parameters
    ----------
    source_voltage : float or array
        Step of the source's open voltage [V]
    source_resistance : float or array
        Resistance of the source [ohm]
    load_resistance : float, array or None
        Resistance at the far end; None if it is open [ohm]

    Returns
    -------
    float or array
        Final voltage, the same all along the line [V]

    Raises
    ------
    InputError
        If the voltage is not finite or a resistance is outside its range.

    Notes
    -----
    V RL / (Rs + RL): the line itself has no part in it.

    References
    ----------
    Ohm's law. Figures: checks lattice-60v-100-50-25-exact, lattice-12v-final.

    Examples
    --------
    >>> from rs485kit.formulas import settled_voltage
    >>> round(settled_voltage(12.0, 50.0, load_resistance=200.0), 6)
    9.6
    """
    voltage, source, load = arguments(
        "settled_voltage",
        *_source(source_voltage, source_resistance),
        optional_resistance("load_resistance", load_resistance),
    )
    return answer(voltage / (1.0 + source / load))


def wave_arrival(reflections: Numbers, delay: Numbers, position: Numbers) -> FloatOrArray:
    """Time at which a wave passes a place of the line.

    Parameters
    ----------
    reflections : float or array
        Reflections that the wave has behind it; 0 for the wave that is launched [-]
    delay : float or array
        One-way delay of the whole line [s]
    position : float or array
        Place as a share of the length, 0 at the source and 1 at the far end [-]

    Returns
    -------
    float or array
        Time after the step of the source [s]

    Raises
    ------
    InputError
        If the reflections are not a whole number from 0 to 10000, the delay is negative, or the position is outside
        0..1.

    Notes
    -----
    (n + p) T for even n, which runs away from the source; (n + 1 - p) T for odd n, which comes back.

    References
    ----------
    Geometry of the bounce diagram. Figures: check lattice-60v-100-50-25.

    Examples
    --------
    >>> from rs485kit.formulas import wave_arrival
    >>> [round(wave_arrival(n, 5.0, 0.5), 6) for n in range(3)]
    [2.5, 7.5, 12.5]
    """
    reflections, delay, position = arguments(
        "wave_arrival",
        whole("reflections", reflections, 0, _MOST),
        not_negative("delay", delay, "s"),
        within("position", position, "-", 0.0, 1.0),
    )
    last = np.where(reflections % 2.0 == 0.0, position, 1.0 - position)
    return answer((reflections + last) * delay)


def _source(voltage: Numbers, resistance: Numbers) -> tuple[Argument, Argument]:
    return number("source_voltage", voltage, "V"), not_negative("source_resistance", resistance, "ohm")


def _line(impedance: Numbers) -> Argument:
    return door.impedance("characteristic_impedance", impedance)


def _ends(
    voltage: Numbers, source_resistance: Numbers, impedance: Numbers, load_resistance: Numbers | None
) -> tuple[Argument, ...]:
    return (
        *_source(voltage, source_resistance),
        _line(impedance),
        optional_resistance("load_resistance", load_resistance),
    )


def _coefficients(source: Array, line: Array, load: Array) -> tuple[Array, Array]:
    # the far one over the load, so that an open end, which is infinite, gives 1
    return (source - line) / (source + line), (1.0 - line / load) / (1.0 + line / load)
