"""Failsafe bias as one lumped network: the idle level, the legs for a wanted level, active terminators, heat.

Idle voltages are those of the pulled-up line less the pulled-down line, whatever letters a part prints at its pins.
"Lumped" leaves the cable's resistance out: on a long pair the level at the far end is lower (see `far_voltage`).
"""

from typing import Literal, TypeAlias

import numpy as np

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    number,
    optional_resistance,
    positive,
    refuse,
    refuse_choice,
)

SupplyState: TypeAlias = Literal["on", "open", "low"]
"""How the supply of an active terminator stands: on, its pin open, or its pin held at the common."""
_SUPPLY_STATES = ("on", "open", "low")


def idle_voltage(
    supply: Numbers,
    pull_up: Numbers,
    pull_down: Numbers,
    *,
    termination: Numbers | None = None,
    pair_load: Numbers | None = None,
    line_load: Numbers | None = None,
    line_source: Numbers = 0.0,
) -> FloatOrArray:
    """Idle level of a pair with one bias network, lumped.

    Parameters
    ----------
    supply : float or array
        Rail of the pull-up against the common of the pull-down [V]
    pull_up : float or array
        Resistor from one line to the rail [ohm]
    pull_down : float or array
        Resistor from the other line to the common [ohm]
    termination : float, array or None
        All terminators of the pair in parallel; None if there is none [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]
    line_load : float, array or None
        Node inputs drawn as one resistor from each line to a common source; None if not drawn so [ohm]
    line_source : float or array
        That source against the common of the pull-down [V]

    Returns
    -------
    float or array
        Pulled-up line less pulled-down line [V]

    Raises
    ------
    InputError
        If the supply or a resistance is not positive, or the source is not finite.

    Notes
    -----
    With conductances Gu, Gd of the legs, Gl of the load of each line and G of all that is across the pair:

    V = (Gu (Gd + Gl) Vs + Gl (Gd - Gu) Vl) / ((Gu + Gl) (Gd + Gl) + G (Gu + Gd + 2 Gl)).

    With equal legs RB the source drops out, and Vs / V = 1 + RB (1/Rl + 2/R). The drawing of the node inputs is the
    caller's choice, as both are in print: across the pair 32 unit loads take twice what they take from line to
    common. Several bias networks on one rail are first put in parallel.

    References
    ----------
    Nodal analysis. Figures: checks bias-rdm-510, bias-rdm-562-133-32-ul, bias-bb-10-nodes-terminated and others.

    Examples
    --------
    >>> from rs485kit.formulas import idle_voltage
    >>> round(idle_voltage(5.0, 510.0, 510.0, termination=60.0), 6)
    0.277778
    >>> round(idle_voltage(5.0, 510.0, 510.0, termination=60.0, line_load=375.0), 4)
    0.2582
    """
    supply, pull_up, pull_down, termination, pair_load, line_load, line_source = arguments(
        "idle_voltage",
        *_legs(supply, pull_up, pull_down),
        *_loads(termination, pair_load, line_load),
        number("line_source", line_source, "V"),
    )
    across = 1.0 / termination + 1.0 / pair_load
    return answer(_idle(supply, 1.0 / pull_up, 1.0 / pull_down, across, 1.0 / line_load, line_source))


def bias_current(
    supply: Numbers,
    pull_up: Numbers,
    pull_down: Numbers,
    *,
    termination: Numbers | None = None,
    pair_load: Numbers | None = None,
) -> FloatOrArray:
    """Current through a bias network that is loaded across the pair only.

    Parameters
    ----------
    supply : float or array
        Rail of the pull-up against the common of the pull-down [V]
    pull_up : float or array
        Resistor from one line to the rail [ohm]
    pull_down : float or array
        Resistor from the other line to the common [ohm]
    termination : float, array or None
        All terminators of the pair in parallel; None if there is none [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]

    Returns
    -------
    float or array
        Current from the rail; 0 if nothing is across the pair [A]

    Raises
    ------
    InputError
        If the supply or a resistance is not positive.

    Notes
    -----
    I = Vs / (Ru + R + Rd), R of all that is across the pair in parallel.

    References
    ----------
    Ohm's law. Figures: checks bias-rdm-510, bias-bb-32-nodes-no-termination.

    Examples
    --------
    >>> from rs485kit.formulas import bias_current
    >>> round(bias_current(5.0, 510.0, 510.0, termination=60.0) * 1e3, 5)
    4.62963
    """
    supply, pull_up, pull_down, termination, pair_load = arguments(
        "bias_current",
        *_legs(supply, pull_up, pull_down),
        optional_resistance("termination", termination),
        optional_resistance("pair_load", pair_load),
    )
    across = 1.0 / termination + 1.0 / pair_load
    return answer(supply * across / ((pull_up + pull_down) * across + 1.0))


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
    Nodal analysis. Figures: checks bias-max-for-200mv, bias-rdm-510, bias-bb-32-nodes-no-termination.

    Examples
    --------
    >>> from rs485kit.formulas import largest_bias, limits
    >>> round(largest_bias(5.0, limits.RECEIVER_THRESHOLD, termination=60.0), 6)
    720.0
    >>> round(largest_bias(5.0, limits.RDM_IDLE_MINIMUM, termination=60.0), 3)
    582.245
    """
    function = "largest_bias"
    supply, idle_voltage, *loads = arguments(
        function, *_target(supply, idle_voltage), *_loads(termination, pair_load, line_load)
    )
    _refuse_level(function, supply, idle_voltage)
    if termination is None and pair_load is None and line_load is None:
        cure = "state termination, pair_load or line_load: without a load any bias holds the level"
        raise InputError(Problem(function, "no load at all", "at least one load of the pair [ohm]", cure))
    across, of_line = 1.0 / loads[0] + 1.0 / loads[1], 1.0 / loads[2]
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
    SLYT324 and SLLA272, failsafe sections, from memory, verified by nodal analysis: check bias-ti-formula-528.

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
    TB509 as quoted second hand: checks bias-renesas-as-quoted, bias-renesas-as-quoted-result.

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
