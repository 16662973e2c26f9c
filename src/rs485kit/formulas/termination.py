"""Terminators at DC: what stands across the pair with them, and what they reflect."""

from rs485kit.formulas._arguments import (
    Argument,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    optional_resistance,
    positive,
    refuse,
)


def biased_termination(termination: Numbers, pull_up: Numbers, pull_down: Numbers) -> FloatOrArray:
    """Impedance that a terminator with bias legs beside it puts at the end of a line.

    Parameters
    ----------
    termination : float or array
        The terminator across the pair [ohm]
    pull_up : float or array
        Resistor from one line to the rail [ohm]
    pull_down : float or array
        Resistor from the other line to the common [ohm]

    Returns
    -------
    float or array
        Differential resistance of that end [ohm]

    Raises
    ------
    InputError
        If a resistance is not a positive number.

    Notes
    -----
    1/R = 1/RT + 1/(Ru + Rd): for the signal the rail and the common are one point, so the two legs are in series
    across the pair.

    References
    ----------
    PROFIBUS terminator 390/220/390 and others: checks profibus-terminator-ohm, termination-with-bias-114,
    bias-rdm-3v3-390-150.

    Examples
    --------
    >>> from rs485kit.formulas import biased_termination
    >>> round(biased_termination(220.0, 390.0, 390.0), 4)
    171.6
    """
    termination, pull_up, pull_down = arguments(
        "biased_termination",
        positive("termination", termination, "ohm"),
        positive("pull_up", pull_up, "ohm"),
        positive("pull_down", pull_down, "ohm"),
    )
    return answer(1.0 / (1.0 / termination + 1.0 / (pull_up + pull_down)))


def loaded_termination(
    termination: Numbers, *, pair_load: Numbers | None = None, line_load: Numbers | None = None
) -> FloatOrArray:
    """Differential load of the terminators together with the inputs of the nodes.

    Parameters
    ----------
    termination : float or array
        All terminators of the pair in parallel [ohm]
    pair_load : float, array or None
        Node inputs drawn as one resistor across the pair; None if they are not drawn so [ohm]
    line_load : float, array or None
        Node inputs drawn as one resistor from each line to a common source; None if not drawn so [ohm]

    Returns
    -------
    float or array
        Differential resistance of everything [ohm]

    Raises
    ------
    InputError
        If a resistance is neither a positive number nor, where allowed, None.

    Notes
    -----
    1/R = 1/RT + 1/Rp + 1/(2 Rl). The two drawings of the same unit loads are both in print and differ by a factor of
    two: 32 unit loads are 375 ohm, and 375 ohm across the pair is not 375 ohm from each line, which is 750 ohm
    across. A unit load is defined per line, so `line_load` is the drawing that follows the definition.

    References
    ----------
    Check tia485-60-ohm-with-32-ul-two-ways.

    Examples
    --------
    >>> from rs485kit.formulas import loaded_termination
    >>> round(loaded_termination(60.0, pair_load=375.0), 4), round(loaded_termination(60.0, line_load=375.0), 4)
    (51.7241, 55.5556)
    """
    termination, pair_load, line_load = arguments(
        "loaded_termination",
        positive("termination", termination, "ohm"),
        optional_resistance("pair_load", pair_load),
        optional_resistance("line_load", line_load),
    )
    return answer(1.0 / (1.0 / termination + 1.0 / pair_load + 0.5 / line_load))


def compensated_termination(characteristic_impedance: Numbers, shunt: Numbers) -> FloatOrArray:
    """Terminator that matches the line together with whatever else stands across the pair at that end.

    Parameters
    ----------
    characteristic_impedance : float or array
        Characteristic impedance of the line [ohm]
    shunt : float or array
        Everything else across the pair at that end, both bias legs in series or the inputs of receivers [ohm]

    Returns
    -------
    float or array
        Terminator to fit [ohm]

    Raises
    ------
    InputError
        If a value is not positive, or the shunt alone is no more than the characteristic impedance.

    Notes
    -----
    1/RT = 1/Z0 - 1/Rs. With equal bias legs RB this is RT = 2 RB Z0 / (2 RB - Z0).

    References
    ----------
    Network algebra. Figures: checks termination-spc-133, termination-corrected-for-receivers.

    Examples
    --------
    >>> from rs485kit.formulas import compensated_termination
    >>> round(compensated_termination(120.0, 2 * 620.0), 3)
    132.857
    """
    characteristic_impedance, shunt = arguments(
        "compensated_termination",
        positive("characteristic_impedance", characteristic_impedance, "ohm"),
        positive("shunt", shunt, "ohm"),
    )
    refuse(
        "compensated_termination",
        "shunt",
        shunt <= characteristic_impedance,
        shunt,
        "ohm",
        "more than the characteristic impedance",
        cure="the shunt alone already loads this end below the line's impedance: raise it",
    )
    return answer(characteristic_impedance * shunt / (shunt - characteristic_impedance))


def reflection_coefficient(resistance: Numbers, characteristic_impedance: Numbers) -> FloatOrArray:
    """Share of a wave that a resistor at the end of a line sends back.

    Parameters
    ----------
    resistance : float or array
        Resistance that ends the line [ohm]
    characteristic_impedance : float or array
        Characteristic impedance of the line [ohm]

    Returns
    -------
    float or array
        Reflected over incident voltage, -1 to 1 [-]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    (R - Z0) / (R + Z0), for a lossless line with a real impedance. On a lossy line at low frequency the impedance is
    complex, and the share may then pass 1.

    References
    ----------
    Transmission line theory. Figures: checks termination-reflection-ends, termination-profibus-mismatch.

    Examples
    --------
    >>> from rs485kit.formulas import reflection_coefficient
    >>> round(reflection_coefficient(171.6, 150.0), 6)
    0.067164
    """
    resistance, characteristic_impedance = arguments(
        "reflection_coefficient", *_on_line(resistance, characteristic_impedance)
    )
    return answer((resistance - characteristic_impedance) / (resistance + characteristic_impedance))


def midline_reflection_coefficient(resistance: Numbers, characteristic_impedance: Numbers) -> FloatOrArray:
    """Share of a wave that a resistor across the middle of a line sends back.

    Parameters
    ----------
    resistance : float or array
        Resistance across the pair, with the line going on behind it [ohm]
    characteristic_impedance : float or array
        Characteristic impedance of the line on both sides [ohm]

    Returns
    -------
    float or array
        Reflected over incident voltage, -1 to 0 [-]

    Raises
    ------
    InputError
        If a value is not a positive number.

    Notes
    -----
    -Z0 / (2 R + Z0): the wave meets R in parallel with the rest of the line. A third terminator in the middle sends
    a third of every edge back.

    References
    ----------
    Transmission line theory. Figure: check termination-reflection-midline.

    Examples
    --------
    >>> from rs485kit.formulas import midline_reflection_coefficient
    >>> round(midline_reflection_coefficient(12000.0, 120.0), 8)
    -0.00497512
    """
    resistance, characteristic_impedance = arguments(
        "midline_reflection_coefficient", *_on_line(resistance, characteristic_impedance)
    )
    return answer(-characteristic_impedance / (2.0 * resistance + characteristic_impedance))


def _on_line(resistance: Numbers, characteristic_impedance: Numbers) -> tuple[Argument, Argument]:
    return (
        positive("resistance", resistance, "ohm"),
        positive("characteristic_impedance", characteristic_impedance, "ohm"),
    )
