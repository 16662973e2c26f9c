"""What a voltage drives through the capacitance of a barrier: edges, mains, and the charge that stays."""

import numpy as np

from rs485kit.formulas import _line_arguments as door
from rs485kit.formulas._arguments import FloatOrArray, Numbers, answer, arguments, not_negative, positive, whole, within


def slew_rate(voltage_peak: Numbers, rise_time: Numbers, *, covered_share: Numbers = 1.0) -> FloatOrArray:
    """Slope of a common-mode edge of known level and rise time.

    Parameters
    ----------
    voltage_peak : float or array
        Level that the edge reaches [V]
    rise_time : float or array
        Rise time of the edge [s]
    covered_share : float or array
        Share of the level that is passed in the rise time: 1 for the whole, 0.8 for a rise time from 10 to 90 % [-]

    Returns
    -------
    float or array
        Slope [V/s]

    Raises
    ------
    InputError
        If the level is negative, the rise time is not positive or the share is outside 0.01..1.

    Notes
    -----
    s V / t. Bursts are printed as V / t, 200 kV/us per kV for 5 ns. Their 5 ns are a rise time from 10 to 90 %, over
    which the mean slope is 0.8 V / t; but no edge is a ramp, and the steepest point of one may lie above either: a
    raised cosine has 0.93 V / t, an exponential 2.2 V / t. The default is the printed figure, the higher of the two.
    A part's transient immunity is held against this slope and not against the number of a test level.

    References
    ----------
    A published note on fast transients against transient immunity: checks eft-slew-250v, eft-slew-1kv,
    eft-slew-1kv-10-90.

    Examples
    --------
    >>> from rs485kit.formulas import slew_rate
    >>> round(slew_rate(1e3, 5e-9) / 1e9, 3), round(slew_rate(1e3, 5e-9, covered_share=0.8) / 1e9, 3)
    (200.0, 160.0)
    """
    voltage_peak, rise_time, covered_share = arguments(
        "slew_rate",
        not_negative("voltage_peak", voltage_peak, "V"),
        positive("rise_time", rise_time, "s"),
        within("covered_share", covered_share, "-", 0.01, 1.0, cure="10 to 90 % is 0.8"),
    )
    return answer(covered_share * voltage_peak / rise_time)


def displacement_current(capacitance: Numbers, slew: Numbers) -> FloatOrArray:
    """Current through the capacitance of a barrier while the voltage across it changes.

    Parameters
    ----------
    capacitance : float or array
        Capacitance of everything that bridges the barrier, added up [F]
    slew : float or array
        Slope of the voltage across it [V/s]

    Returns
    -------
    float or array
        Current while the slope lasts [A]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    I = C dV/dt. All of it returns through the reference conductor or an earth. An isolated supply of 40 pF beside a
    data isolator of 1 pF carries 40 parts of 41.

    References
    ----------
    Definition of capacitance. Figures: checks cm-current-6p8pf-100, cm-current-node-41pf-25 and their neighbours.

    Examples
    --------
    >>> from rs485kit.formulas import displacement_current
    >>> round(displacement_current(41e-12, 25e9), 6)
    1.025
    """
    capacitance, slew = arguments(
        "displacement_current", not_negative("capacitance", capacitance, "F"), not_negative("slew", slew, "V/s")
    )
    return answer(capacitance * slew)


def leakage_current(
    voltage_rms: Numbers, capacitance: Numbers, frequency: Numbers, *, nodes: Numbers = 1
) -> FloatOrArray:
    """Current that the mains drives through the barrier capacitance of several nodes into one reference.

    Parameters
    ----------
    voltage_rms : float or array
        Sine across every barrier, RMS [V]
    capacitance : float or array
        Capacitance across the barrier of one node [F]
    frequency : float or array
        Frequency of the sine [Hz]
    nodes : float or array
        How many such nodes share the reference [-]

    Returns
    -------
    float or array
        Current of all of them together, RMS [A]

    Raises
    ------
    InputError
        If a value is negative, the frequency is outside 1 mHz..100 GHz or the number of nodes is not whole.

    Notes
    -----
    I = n 2 pi f C V, the nodes at one phase; at several phases it is less. What one node leaks is no hazard and the
    sum of many may be: ten capacitors of 1 nF pass 0.72 mA at 230 V and 50 Hz. Limits of touch current stand in
    `stated`; which of them holds is decided by the standard of the product, local codes and licensed practice.

    References
    ----------
    Reactance of a capacitor. Figures: checks leakage-40pf-230v-50hz, leakage-32-nodes-41pf, leakage-ycap-1nf-10-nodes.

    Examples
    --------
    >>> from rs485kit.formulas import leakage_current
    >>> round(leakage_current(230.0, 1e-9, 50.0, nodes=10) * 1e3, 6)
    0.722566
    """
    voltage_rms, capacitance, frequency, nodes = arguments(
        "leakage_current",
        not_negative("voltage_rms", voltage_rms, "V"),
        not_negative("capacitance", capacitance, "F"),
        door.frequency(frequency),
        whole("nodes", nodes, 0, 1_000_000),
    )
    return answer(nodes * 2.0 * np.pi * frequency * capacitance * voltage_rms)


def stored_charge(capacitance: Numbers, voltage_peak: Numbers) -> FloatOrArray:
    """Charge that a capacitance holds at a voltage.

    Parameters
    ----------
    capacitance : float or array
        Capacitance [F]
    voltage_peak : float or array
        Highest voltage across it [V]

    Returns
    -------
    float or array
        Charge [C]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    Q = C V: what somebody who touches the charged side takes at once.

    References
    ----------
    Definition of capacitance. Figure: check charge-limit-45uc.

    Examples
    --------
    >>> from rs485kit.formulas import stored_charge
    >>> round(stored_charge(15e-9, 3e3) * 1e6, 6)
    45.0
    """
    capacitance, voltage_peak = arguments(
        "stored_charge",
        not_negative("capacitance", capacitance, "F"),
        not_negative("voltage_peak", voltage_peak, "V"),
    )
    return answer(capacitance * voltage_peak)


def largest_capacitance(charge: Numbers, voltage_peak: Numbers) -> FloatOrArray:
    """Largest capacitance that stays within a limit of charge.

    Parameters
    ----------
    charge : float or array
        Charge that is allowed [C]
    voltage_peak : float or array
        Highest voltage to which it may be charged [V]

    Returns
    -------
    float or array
        Capacitance of everything that is charged, added up over all nodes [F]

    Raises
    ------
    InputError
        If the charge is negative or the voltage is not positive.

    Notes
    -----
    C = Q / V.

    References
    ----------
    Definition of capacitance. Figure: check charge-limit-45uc.

    Examples
    --------
    >>> from rs485kit.formulas import largest_capacitance
    >>> round(largest_capacitance(45e-6, 3e3) * 1e9, 6)
    15.0
    """
    charge, voltage_peak = arguments(
        "largest_capacitance", not_negative("charge", charge, "C"), positive("voltage_peak", voltage_peak, "V")
    )
    return answer(charge / voltage_peak)
