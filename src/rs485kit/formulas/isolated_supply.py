"""Small isolated supplies: efficiency from printed currents, worst-case output without regulation, least load."""

import numpy as np

from rs485kit.formulas._arguments import (
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    refuse,
    within,
)


def conversion_efficiency(
    input_voltage: Numbers, input_current: Numbers, output_voltage: Numbers, output_current: Numbers
) -> FloatOrArray:
    """Efficiency of a supply from the voltages and currents that are printed for it.

    Parameters
    ----------
    input_voltage : float or array
        Input [V]
    input_current : float or array
        Current into it at that output [A]
    output_voltage : float or array
        Output [V]
    output_current : float or array
        Current out of it [A]

    Returns
    -------
    float or array
        Output over input power, up to 1 [-]

    Raises
    ------
    InputError
        If a value is negative, the input power is 0 or more comes out than goes in.

    Notes
    -----
    Vo Io / (Vi Ii). Currents in catalogues are rounded for whole families, so the result may differ by a few per cent
    from the efficiency printed beside them.

    References
    ----------
    Data sheets of one-watt modules: checks dcdc-efficiency-module-a-5v and its neighbours.

    Examples
    --------
    >>> from rs485kit.formulas import conversion_efficiency
    >>> round(conversion_efficiency(5.0, 0.26, 5.0, 0.2), 4)
    0.7692
    """
    function = "conversion_efficiency"
    input_voltage, input_current, output_voltage, output_current = arguments(
        function,
        positive("input_voltage", input_voltage, "V"),
        positive("input_current", input_current, "A"),
        not_negative("output_voltage", output_voltage, "V"),
        not_negative("output_current", output_current, "A"),
    )
    given, taken = output_voltage * output_current, input_voltage * input_current
    refuse(function, "output_current", given > taken, output_current, "A", "no more power out than in")
    return answer(given / taken)


def conversion_loss(output_power: Numbers, efficiency: Numbers) -> FloatOrArray:
    """Heat in a supply that gives out a power.

    Parameters
    ----------
    output_power : float or array
        Power given out [W]
    efficiency : float or array
        Output over input, up to 1 [-]

    Returns
    -------
    float or array
        Power left in the supply [W]

    Raises
    ------
    InputError
        If the power is negative or the efficiency is outside 0.01..1.

    Notes
    -----
    Po (1 / eta - 1), at the load for which the efficiency holds. Without load a module still takes its no-load current:
    32 of them with 30 mA at 5 V are 4.8 W.

    References
    ----------
    Definition of efficiency. Figures: checks dcdc-dissipation, dcdc-idle-32-nodes.

    Examples
    --------
    >>> from rs485kit.formulas import conversion_loss
    >>> round(conversion_loss(0.8, 0.78), 6)
    0.225641
    """
    output_power, efficiency = arguments(
        "conversion_loss",
        not_negative("output_power", output_power, "W"),
        within("efficiency", efficiency, "-", 0.01, 1.0, cure="70 % is 0.7"),
    )
    return answer(output_power * (1.0 / efficiency - 1.0))


def unregulated_output(
    nominal_voltage: Numbers,
    *,
    setting: Numbers = 0.0,
    load_change: Numbers = 0.0,
    input_change: Numbers = 0.0,
    line_ratio: Numbers = 1.0,
) -> FloatOrArray:
    """Output of a supply without regulation at one corner of its tolerances.

    Parameters
    ----------
    nominal_voltage : float or array
        Output at nominal input and full load [V]
    setting : float or array
        Relative deviation of the setting, with its sign [-]
    load_change : float or array
        Relative change of the output by the load, with its sign [-]
    input_change : float or array
        Relative deviation of the input from nominal, with its sign [-]
    line_ratio : float or array
        Relative change of the output over that of the input, 0 to 3 [-]

    Returns
    -------
    float or array
        Output [V]

    Raises
    ------
    InputError
        If the voltage is not positive, a deviation is outside -0.9..1, the ratio is outside 0..3, or nothing is left.

    Notes
    -----
    V (1 + s) (1 + l) (1 + k i). The parts come from one data sheet's rows and are taken as independent. A 5 V module of
    3 %, 10 % and 1.2 per cent per per cent gives 3.84 V from an input that is 10 % low, below what a transceiver needs.

    References
    ----------
    Data sheets of one-watt modules: checks dcdc-line-regulation, dcdc-worst-case-low.

    Examples
    --------
    >>> from rs485kit.formulas import unregulated_output
    >>> round(unregulated_output(5.0, setting=-0.03, load_change=-0.1, input_change=-0.1, line_ratio=1.2), 4)
    3.8412
    """
    function = "unregulated_output"
    per_cent = "10 % is 0.1"
    nominal_voltage, setting, load_change, input_change, line_ratio = arguments(
        function,
        positive("nominal_voltage", nominal_voltage, "V"),
        within("setting", setting, "-", -0.9, 1.0, cure=per_cent),
        within("load_change", load_change, "-", -0.9, 1.0, cure=per_cent),
        within("input_change", input_change, "-", -0.9, 1.0, cure=per_cent),
        within("line_ratio", line_ratio, "-", 0.0, 3.0),
    )
    by_input = 1.0 + line_ratio * input_change
    wanted = "a deviation that leaves some output"
    refuse(function, "input_change", by_input <= 0.0, input_change, "-", wanted)
    return answer(nominal_voltage * (1.0 + setting) * (1.0 + load_change) * by_input)


def added_load(least_load: Numbers, load: Numbers) -> FloatOrArray:
    """Current that a resistor has to add so that a supply has its least load.

    Parameters
    ----------
    least_load : float or array
        Load current below which the output is not specified [A]
    load : float or array
        Current that is drawn already, at the least [A]

    Returns
    -------
    float or array
        Current to add; 0 if the load is enough [A]

    Raises
    ------
    InputError
        If a current is negative.

    Notes
    -----
    A transceiver that listens draws a few milliamperes, and a module that wants a tenth of its rating rises without
    limit in its data sheet.

    References
    ----------
    Data sheets of a module and a transceiver: check dcdc-min-load.

    Examples
    --------
    >>> from rs485kit.formulas import added_load
    >>> round(added_load(20e-3, 2.8e-3) * 1e3, 6)
    17.2
    """
    least_load, load = arguments(
        "added_load", not_negative("least_load", least_load, "A"), not_negative("load", load, "A")
    )
    return answer(np.maximum(least_load - load, 0.0))
