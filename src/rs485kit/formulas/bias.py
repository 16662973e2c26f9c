"""Failsafe bias as one lumped network: idle level, current, active terminators, heat.

Idle voltages are those of the pulled-up line less the pulled-down line, whatever letters a part prints at its pins.
"Lumped" leaves the cable's resistance out: on a long pair the level at the far end is lower (see `far_voltage`).
"""

from typing import Literal, TypeAlias, get_args

from rs485kit.formulas._arguments import (
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    loads,
    number,
    optional_resistance,
    positive,
    refuse_choice,
)

SupplyState: TypeAlias = Literal["on", "open", "low"]
"""How the supply of an active terminator stands: on, its pin open, or its pin held at the common."""


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
    Nodal analysis. Figures: checks bias-rdm-510, bias-rdm-562-133-32-ul, bias-modbus-450-650-lt-150 and others.

    Examples
    --------
    >>> from rs485kit.formulas import idle_voltage
    >>> round(idle_voltage(5.0, 510.0, 510.0, termination=60.0), 6)
    0.277778
    >>> round(idle_voltage(5.0, 510.0, 510.0, termination=60.0, line_load=375.0), 4)
    0.2583
    """
    supply, pull_up, pull_down, termination, pair_load, line_load, line_source = arguments(
        "idle_voltage",
        *_legs(supply, pull_up, pull_down),
        *loads(termination, pair_load, line_load),
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
    Ohm's law. Figures: checks bias-rdm-510, bias-max-for-200mv.

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


def active_idle_voltage(
    supply: Numbers, pull_up: Numbers, across: Numbers, pull_down: Numbers, *, far_supply: SupplyState = "on"
) -> FloatOrArray:
    """Idle level between two equal active terminators, of which one may have lost its supply.

    Parameters
    ----------
    supply : float or array
        Rail of a terminator against its common [V]
    pull_up : float or array
        Resistor of each terminator from one line to its rail [ohm]
    across : float or array
        Resistor of each terminator across the pair [ohm]
    pull_down : float or array
        Resistor of each terminator from the other line to its common [ohm]
    far_supply : {"on", "open", "low"}
        The far terminator's supply: on, its pin open, or its pin held at the common [-]

    Returns
    -------
    float or array
        Pulled-up line less pulled-down line [V]

    Raises
    ------
    InputError
        If the supply or a resistance is not positive, or the state is none of the three.

    Notes
    -----
    The network of `idle_voltage` with both terminators in parallel. Open: the far pull-up hangs loose while the far
    pull-down stays. Low: the far pull-up becomes a second pull-down of its line, so that the pair of pull-ups works
    as half the supply. At signal frequencies an open pin may still be tied to the common by its bypass capacitor.

    References
    ----------
    PROFIBUS terminator 390/220/390; nodal analysis: checks profibus-idle-two-terminators,
    profibus-idle-one-powered, profibus-idle-one-supply-at-zero.

    Examples
    --------
    >>> from rs485kit.formulas import active_idle_voltage
    >>> [round(active_idle_voltage(5.0, 390.0, 220.0, 390.0, far_supply=s), 3) for s in ("on", "open", "low")]
    [1.1, 0.791, 0.55]
    """
    refuse_choice("active_idle_voltage", "far_supply", far_supply, get_args(SupplyState))
    supply, pull_up, across, pull_down = arguments(
        "active_idle_voltage",
        positive("supply", supply, "V"),
        positive("pull_up", pull_up, "ohm"),
        positive("across", across, "ohm"),
        positive("pull_down", pull_down, "ohm"),
    )
    up = 1.0 / pull_up if far_supply == "open" else 2.0 / pull_up
    source = 0.5 * supply if far_supply == "low" else supply
    return answer(_idle(source, up, 2.0 / pull_down, 2.0 / across, 0.0, 0.0))


def bias_power(line_voltage: Numbers, bias: Numbers, rail_voltage: Numbers) -> FloatOrArray:
    """Heat in one bias leg.

    Parameters
    ----------
    line_voltage : float or array
        Voltage of its line [V]
    bias : float or array
        The leg [ohm]
    rail_voltage : float or array
        Voltage of its other end, against the same common [V]

    Returns
    -------
    float or array
        Power in the leg [W]

    Raises
    ------
    InputError
        If a voltage is not finite or the resistance is not positive.

    Notes
    -----
    P = (V - Vr)^2 / R. At the ends of the common-mode range, +12 V for a pull-down and -7 V for a pull-up to 5 V, a
    510 ohm leg takes more than a quarter-watt part may.

    References
    ----------
    Ohm's law. Figure: check bias-resistor-power-at-cm-limits.

    Examples
    --------
    >>> from rs485kit.formulas import bias_power
    >>> round(bias_power(12.0, 510.0, 0.0) * 1e3, 3)
    282.353
    """
    line_voltage, bias, rail_voltage = arguments(
        "bias_power",
        number("line_voltage", line_voltage, "V"),
        positive("bias", bias, "ohm"),
        number("rail_voltage", rail_voltage, "V"),
    )
    return answer((line_voltage - rail_voltage) ** 2 / bias)


def _legs(supply: Numbers, pull_up: Numbers, pull_down: Numbers) -> tuple[Argument, Argument, Argument]:
    return (
        positive("supply", supply, "V"),
        positive("pull_up", pull_up, "ohm"),
        positive("pull_down", pull_down, "ohm"),
    )


def _idle(
    supply: Array, up: Array, down: Array, across: Array, line: Array | float, line_source: Array | float
) -> Array:
    """Solve the two nodes; all but the first and last argument are conductances."""
    driven = up * (down + line) * supply + line * (down - up) * line_source
    return driven / ((up + line) * (down + line) + across * (up + down + 2.0 * line))
