"""Failsafe bias the other way round: the legs for a wanted idle level, and the terminator that goes with them."""

from rs485kit.errors import InputError, Problem
from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    loads,
    optional_resistance,
    positive,
    refuse,
)


def largest_bias(
    supply: Numbers,
    idle_voltage: Numbers,
    *,
    termination: Numbers | None = None,
    pair_load: Numbers | None = None,
    line_load: Numbers | None = None,
) -> FloatOrArray:
    """Largest equal bias legs that hold a wanted idle level on given terminators.

    Parameters
    ----------
    supply : float or array
        Rail of the pull-up against the common of the pull-down [V]
    idle_voltage : float or array
        Idle level wanted [V]
    termination : float, array or None
        All terminators of the pair in parallel; None if there is none [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]
    line_load : float, array or None
        Node inputs drawn as one resistor from each line to a common source; None if not drawn so [ohm]

    Returns
    -------
    float or array
        Each of the two legs [ohm]

    Raises
    ------
    InputError
        If a value is not positive, the idle level wanted is not below the supply, or nothing loads the pair.

    Notes
    -----
    RB = (Vs / V - 1) / (1/Rl + 2/R), R of all that is across the pair in parallel. Both legs equal, so that the
    source of the line loads drops out.

    References
    ----------
    Nodal analysis. Figures: checks bias-max-for-200mv, bias-rdm-510.

    Examples
    --------
    >>> from rs485kit.formulas import largest_bias, limits
    >>> round(largest_bias(5.0, limits.RECEIVER_THRESHOLD, termination=60.0), 6)
    720.0
    >>> round(largest_bias(5.0, limits.RDM_IDLE_MINIMUM, termination=60.0), 3)
    582.245
    """
    function = "largest_bias"
    supply, idle_voltage, *resistances = arguments(
        function, *_target(supply, idle_voltage), *loads(termination, pair_load, line_load)
    )
    _refuse_level(function, supply, idle_voltage)
    if termination is None and pair_load is None and line_load is None:
        cure = "state termination, pair_load or line_load: without a load any bias holds the level"
        raise InputError(Problem(function, "no load at all", "at least one load of the pair [ohm]", cure))
    across, of_line = 1.0 / resistances[0] + 1.0 / resistances[1], 1.0 / resistances[2]
    return answer((supply / idle_voltage - 1.0) / (of_line + 2.0 * across))


def matched_bias_conductance(
    characteristic_impedance: Numbers, *, pair_load: Numbers | None = None, line_load: Numbers | None = None
) -> FloatOrArray:
    """Conductance that the legs of a matched, biased end work against.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line, and its far terminator [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]
    line_load : float, array or None
        Node inputs drawn as one resistor from each line to a common source; None if not drawn so [ohm]

    Returns
    -------
    float or array
        Conductance, 0.036 S for 120 ohm and 32 unit loads [S]

    Raises
    ------
    InputError
        If a resistance is not positive.

    Notes
    -----
    G = 4/Z0 + 1/Rl + 2/Rp. Some application notes print the number 0.036 without saying what it is made of.

    References
    ----------
    Check bias-0p036-is-4-over-z0-plus-1-over-375.

    Examples
    --------
    >>> from rs485kit.formulas import matched_bias_conductance
    >>> round(matched_bias_conductance(120.0, line_load=375.0), 9)
    0.036
    """
    characteristic_impedance, pair_load, line_load = arguments(
        "matched_bias_conductance", *_matched(characteristic_impedance, pair_load, line_load)
    )
    return answer(_matched_conductance(characteristic_impedance, pair_load, line_load))


def matched_bias(
    supply: Numbers,
    idle_voltage: Numbers,
    characteristic_impedance: Numbers,
    *,
    pair_load: Numbers | None = None,
    line_load: Numbers | None = None,
) -> FloatOrArray:
    """Equal bias legs for a wanted idle level if the terminator beside them is trimmed to keep the match.

    Parameters
    ----------
    supply : float or array
        Rail of the pull-up against the common of the pull-down [V]
    idle_voltage : float or array
        Idle level wanted [V]
    characteristic_impedance : float or array
        Characteristic impedance of the line, and its far terminator [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]
    line_load : float, array or None
        Node inputs drawn as one resistor from each line to a common source; None if not drawn so [ohm]

    Returns
    -------
    float or array
        Each of the two legs [ohm]

    Raises
    ------
    InputError
        If a value is not positive, the idle level wanted is not below the supply, or it asks for legs so small that
        they alone load the end below the characteristic impedance.

    Notes
    -----
    RB = Vs / (V (4/Z0 + 1/Rl + 2/Rp)). The terminator that goes with it is `near_termination`. It is the general
    relation of `idle_voltage` with 1/R = 2/Z0 - 1/(2 RB).

    References
    ----------
    SLYT324 and SLLA272, failsafe sections, from memory; the relation itself follows from nodal analysis.

    Examples
    --------
    >>> from rs485kit.formulas import matched_bias
    >>> round(matched_bias(4.75, 0.25, 120.0, line_load=375.0), 2)
    527.78
    """
    function = "matched_bias"
    supply, idle_voltage, characteristic_impedance, pair_load, line_load = arguments(
        function,
        *_target(supply, idle_voltage),
        *_matched(characteristic_impedance, pair_load, line_load),
    )
    _refuse_level(function, supply, idle_voltage)
    bias = supply / (idle_voltage * _matched_conductance(characteristic_impedance, pair_load, line_load))
    wanted = "an idle level that leaves both legs together above the characteristic impedance"
    cure = "ask for less, or raise the supply"
    refuse(function, "idle_voltage", 2.0 * bias <= characteristic_impedance, idle_voltage, "V", wanted, cure=cure)
    return answer(bias)


def plus_one_bias(
    supply: Numbers,
    idle_voltage: Numbers,
    characteristic_impedance: Numbers,
    *,
    pair_load: Numbers | None = None,
    line_load: Numbers | None = None,
) -> FloatOrArray:
    """Equal bias legs by a rule in circulation that misses its own target.

    Parameters
    ----------
    supply : float or array
        Rail of the pull-up against the common of the pull-down [V]
    idle_voltage : float or array
        Idle level that the rule aims at [V]
    characteristic_impedance : float or array
        Characteristic impedance of the line, and its far terminator [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]
    line_load : float, array or None
        Node inputs drawn as one resistor from each line to a common source; None if not drawn so [ohm]

    Returns
    -------
    float or array
        Each of the two legs by that rule [ohm]

    Raises
    ------
    InputError
        If a value is not positive or the idle level is not below the supply.

    Notes
    -----
    RB = (Vs / V + 1) / (4/Z0 + 1/Rl + 2/Rp). The "+ 1" has no counterpart in the network: aiming at 300 mV from
    3.3 V it gives 275 mV. Here to recognise a design that was made by it; `matched_bias` is the one to design by.

    References
    ----------
    TB509 as quoted second hand; what its parts really give is among the published-figure checks.

    Examples
    --------
    >>> from rs485kit.formulas import plus_one_bias
    >>> round(plus_one_bias(3.3, 0.3, 120.0, line_load=375.0), 2)
    333.33
    """
    function = "plus_one_bias"
    supply, idle_voltage, characteristic_impedance, pair_load, line_load = arguments(
        function,
        *_target(supply, idle_voltage),
        *_matched(characteristic_impedance, pair_load, line_load),
    )
    _refuse_level(function, supply, idle_voltage)
    return answer((supply / idle_voltage + 1.0) / _matched_conductance(characteristic_impedance, pair_load, line_load))


def near_termination(characteristic_impedance: Numbers, pull_up: Numbers, pull_down: Numbers) -> FloatOrArray:
    """Terminator beside the bias legs that keeps that end matched to the line.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line [ohm]
    pull_up : float or array
        Resistor from one line to the rail [ohm]
    pull_down : float or array
        Resistor from the other line to the common [ohm]

    Returns
    -------
    float or array
        Terminator to fit beside the legs [ohm]

    Raises
    ------
    InputError
        If a value is not positive, or the two legs together are no more than the characteristic impedance.

    Notes
    -----
    1/RT = 1/Z0 - 1/(Ru + Rd); see `compensated_termination`.

    References
    ----------
    Network algebra. Figure: check termination-spc-133.

    Examples
    --------
    >>> from rs485kit.formulas import near_termination
    >>> round(near_termination(120.0, 527.7777778, 527.7777778), 3)
    135.392
    """
    function = "near_termination"
    characteristic_impedance, pull_up, pull_down = arguments(
        function,
        positive("characteristic_impedance", characteristic_impedance, "ohm"),
        positive("pull_up", pull_up, "ohm"),
        positive("pull_down", pull_down, "ohm"),
    )
    legs = pull_up + pull_down
    wanted = "two legs that together are above the characteristic impedance"
    refuse(function, "pull_up", legs <= characteristic_impedance, pull_up, "ohm", wanted, cure="raise the legs")
    return answer(characteristic_impedance * legs / (legs - characteristic_impedance))


def _target(supply: Numbers, idle_voltage: Numbers) -> tuple[Argument, Argument]:
    return positive("supply", supply, "V"), positive("idle_voltage", idle_voltage, "V")


def _matched(
    characteristic_impedance: Numbers, pair_load: Numbers | None, line_load: Numbers | None
) -> tuple[Argument, Argument, Argument]:
    return (
        positive("characteristic_impedance", characteristic_impedance, "ohm"),
        optional_resistance("pair_load", pair_load),
        optional_resistance("line_load", line_load),
    )


def _matched_conductance(characteristic_impedance: Array, pair_load: Array, line_load: Array) -> Array:
    return 4.0 / characteristic_impedance + 1.0 / line_load + 2.0 / pair_load


def _refuse_level(function: str, supply: Array, idle_voltage: Array) -> None:
    cure = "a divider cannot give more than its supply"
    refuse(function, "idle_voltage", idle_voltage >= supply, idle_voltage, "V", "less than the supply", cure=cure)
