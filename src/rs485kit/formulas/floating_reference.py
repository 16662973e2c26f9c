"""A bus reference that is tied to no earth: where capacitances put it, what a bleed resistor makes of it."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import (
    SMALLEST,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    refuse,
)


def floating_voltage(
    source_voltage_rms: Numbers, source_capacitance: Numbers, earth_capacitance: Numbers
) -> FloatOrArray:
    """Voltage of a floating reference between a live circuit and earth.

    Parameters
    ----------
    source_voltage_rms : float or array
        Live circuit against earth, RMS [V]
    source_capacitance : float or array
        Capacitance from the live circuit to the reference, over all barriers [F]
    earth_capacitance : float or array
        Capacitance from the reference to earth: cable, barriers of earthed nodes [F]

    Returns
    -------
    float or array
        Reference against earth, RMS [V]

    Raises
    ------
    InputError
        If a value is negative or both capacitances are 0.

    Notes
    -----
    V Cs / (Cs + Ce), without any conductance to earth and at one phase. An estimate, and no limit: the capacitance of
    cable to earth is rarely known, and whatever leaks moves the reference.

    References
    ----------
    Capacitive divider. Figure: check floating-divider.

    Examples
    --------
    >>> from rs485kit.formulas import floating_voltage
    >>> round(floating_voltage(230.0, 40e-12, 400e-12), 4)
    20.9091
    """
    function = "floating_voltage"
    source_voltage_rms, source_capacitance, earth_capacitance = arguments(
        function,
        not_negative("source_voltage_rms", source_voltage_rms, "V"),
        not_negative("source_capacitance", source_capacitance, "F"),
        not_negative("earth_capacitance", earth_capacitance, "F"),
    )
    total = source_capacitance + earth_capacitance
    wanted = "some capacitance on one side at least"
    refuse(function, "source_capacitance", total < SMALLEST, source_capacitance, "F", wanted)
    return answer(source_voltage_rms * source_capacitance / total)


def bled_voltage(
    source_voltage_rms: Numbers,
    source_capacitance: Numbers,
    earth_capacitance: Numbers,
    resistance: Numbers,
    frequency: Numbers,
) -> FloatOrArray:
    """Voltage of a reference that a resistor bleeds to earth.

    Parameters
    ----------
    source_voltage_rms : float or array
        Live circuit against earth, RMS [V]
    source_capacitance : float or array
        Capacitance from the live circuit to the reference, over all barriers [F]
    earth_capacitance : float or array
        Capacitance from the reference to earth [F]
    resistance : float or array
        All bleed resistors in parallel [ohm]
    frequency : float or array
        Frequency of the live circuit [Hz]

    Returns
    -------
    float or array
        Reference against earth, RMS [V]

    Raises
    ------
    InputError
        If a voltage or capacitance is negative, the resistance is not positive or the frequency is outside
        1 mHz..100 GHz.

    Notes
    -----
    V w R Cs / sqrt(1 + (w R (Cs + Ce))^2), w = 2 pi f. Bleeds of all nodes stand in parallel
    (`equal_parallel_resistance`): ten of 1 Mohm leave 100 kohm between the reference and the earths, and each has
    the whole voltage of its barrier across it if that is what stands there (`load_current`, `resistor_power`).

    References
    ----------
    Divider with complex impedances. Figures: checks bleed-1meg-230v, bleed-parallel-10 for the resistors.

    Examples
    --------
    >>> from rs485kit.formulas import bled_voltage
    >>> round(bled_voltage(230.0, 40e-12, 400e-12, 1e6, 50.0), 4)
    2.863
    """
    source_voltage_rms, source_capacitance, earth_capacitance, resistance, frequency = arguments(
        "bled_voltage",
        not_negative("source_voltage_rms", source_voltage_rms, "V"),
        not_negative("source_capacitance", source_capacitance, "F"),
        not_negative("earth_capacitance", earth_capacitance, "F"),
        positive("resistance", resistance, "ohm"),
        door.frequency(frequency),
    )
    turning = 2.0 * np.pi * frequency * resistance
    share = turning * source_capacitance / np.hypot(1.0, turning * (source_capacitance + earth_capacitance))
    return answer(source_voltage_rms * share)


def discharge_time(
    resistance: Numbers, capacitance: Numbers, initial_voltage: Numbers, left_voltage: Numbers
) -> FloatOrArray:
    """Time in which bleed resistors bring a charged reference down.

    Parameters
    ----------
    resistance : float or array
        All bleed resistors in parallel [ohm]
    capacitance : float or array
        Everything that is charged [F]
    initial_voltage : float or array
        Voltage at the beginning [V]
    left_voltage : float or array
        Voltage that may be left, no more than the first [V]

    Returns
    -------
    float or array
        Time [s]

    Raises
    ------
    InputError
        If a value is not positive or more is left than there was.

    Notes
    -----
    t = R C ln(V / V1); after the time constant R C, 37 % are left.

    References
    ----------
    Discharge of a capacitor. Figure: check bleed-rc-discharge.

    Examples
    --------
    >>> from rs485kit.formulas import discharge_time
    >>> round(discharge_time(1e6, 32 * 41e-12, 230.0, 42.4) * 1e3, 4)
    2.2185
    """
    function = "discharge_time"
    resistance, capacitance, initial_voltage, left_voltage = arguments(
        function,
        positive("resistance", resistance, "ohm"),
        positive("capacitance", capacitance, "F"),
        positive("initial_voltage", initial_voltage, "V"),
        positive("left_voltage", left_voltage, "V"),
    )
    wanted = "no more than the voltage at the beginning"
    refuse(function, "left_voltage", left_voltage > initial_voltage, left_voltage, "V", wanted)
    return answer(resistance * capacitance * np.log(initial_voltage / left_voltage))
