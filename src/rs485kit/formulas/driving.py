"""What a driver has to carry: its differential load, and the current of each of its outputs."""

import numpy as np

from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, number, positive
from rs485kit.formulas.limits import UNIT_LOAD_CURRENT


def driver_load(near_termination: Numbers, far_termination: Numbers, loop_resistance: Numbers) -> FloatOrArray:
    """Load that a driver sees at one end of a terminated pair.

    Parameters
    ----------
    near_termination : float or array
        Terminator at the driver's own end [ohm]
    far_termination : float or array
        Terminator at the other end [ohm]
    loop_resistance : float or array
        Resistance of both conductors in series [ohm]

    Returns
    -------
    float or array
        Differential load [ohm]

    Raises
    ------
    InputError
        If a termination is not positive or the loop resistance is negative.

    Notes
    -----
    1/R = 1/Rn + 1/(RL + Rf). A long pair is an easier load than the 60 ohm of its two terminators.

    References
    ----------
    Ohm's law. Figure: check drop-driver-load-long-cable.

    Examples
    --------
    >>> from rs485kit.formulas import driver_load
    >>> round(driver_load(120.0, 120.0, 202.128), 4)
    87.4302
    """
    near_termination, far_termination, loop_resistance = arguments(
        "driver_load",
        positive("near_termination", near_termination, "ohm"),
        positive("far_termination", far_termination, "ohm"),
        not_negative("loop_resistance", loop_resistance, "ohm"),
    )
    return answer(1.0 / (1.0 / near_termination + 1.0 / (loop_resistance + far_termination)))


def line_output_current(
    line_voltage: Numbers, other_voltage: Numbers, termination: Numbers, line_load: Numbers, source_voltage: Numbers
) -> FloatOrArray:
    """Current that one output of a driver gives to the terminators and to a load on its own line.

    Parameters
    ----------
    line_voltage : float or array
        This line against the common [V]
    other_voltage : float or array
        The other line against the common [V]
    termination : float or array
        All terminators of the pair in parallel [ohm]
    line_load : float or array
        Load from this line to a source that all nodes share [ohm]
    source_voltage : float or array
        That source against the common [V]

    Returns
    -------
    float or array
        Current out of the output; negative if it sinks [A]

    Raises
    ------
    InputError
        If a voltage is not finite or a resistance is not positive.

    Notes
    -----
    I = (V - Vo) / RT + (V - Vs) / RL. In the standard's common-mode test the two outputs give very different
    currents, 1 mA and -53 mA at the upper end, so one differential load cannot stand for it.

    References
    ----------
    Test circuit from memory: check tia485-cm-test-currents.

    Examples
    --------
    >>> from rs485kit.formulas import line_output_current
    >>> round(line_output_current(1.5, 3.0, 60.0, 375.0, 12.0) * 1e3, 6)
    -53.0
    """
    line_voltage, other_voltage, termination, line_load, source_voltage = arguments(
        "line_output_current",
        number("line_voltage", line_voltage, "V"),
        number("other_voltage", other_voltage, "V"),
        positive("termination", termination, "ohm"),
        positive("line_load", line_load, "ohm"),
        number("source_voltage", source_voltage, "V"),
    )
    return answer((line_voltage - other_voltage) / termination + (line_voltage - source_voltage) / line_load)


def bus_current(
    voltage: Numbers, termination: Numbers, *, unit_loads: Numbers = 0.0, unit_load_current: Numbers = UNIT_LOAD_CURRENT
) -> FloatOrArray:
    """Most current that a driver has to give to terminators and node inputs.

    Parameters
    ----------
    voltage : float or array
        Differential output voltage [V]
    termination : float or array
        All terminators of the pair in parallel [ohm]
    unit_loads : float or array
        Unit loads of all nodes [-]
    unit_load_current : float or array
        Current of one unit load at the end of the common-mode range [A]

    Returns
    -------
    float or array
        Current of one output [A]

    Raises
    ------
    InputError
        If the voltage is not finite, the termination is not positive, or another value is negative.

    Notes
    -----
    I = |V| / RT + n I1. The second part is there only at the end of the common-mode range; on a bus whose commons
    agree a driver gives little more than the first.

    References
    ----------
    SLLS562G, Power Usage in an RS-485 Transceiver, which calls 57 mA about 60 mA.

    Examples
    --------
    >>> from rs485kit.formulas import bus_current
    >>> round(bus_current(1.5, 60.0, unit_loads=32) * 1e3, 6)
    57.0
    """
    voltage, termination, unit_loads, unit_load_current = arguments(
        "bus_current",
        number("voltage", voltage, "V"),
        positive("termination", termination, "ohm"),
        not_negative("unit_loads", unit_loads, "-"),
        not_negative("unit_load_current", unit_load_current, "A"),
    )
    return answer(np.abs(voltage) / termination + unit_loads * unit_load_current)
