"""Step responses in closed form: an ideal line with skin effect, and an open RC line."""

import math

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
    positive,
    within,
)
from rs485kit.formulas._numerics import bisection

_EARLIEST, _LATEST = 1e-3, 0.999
_complementary = np.frompyfunc(math.erfc, 1, 1)


def skin_effect_time(attenuation: Numbers, frequency: Numbers, length: Numbers) -> FloatOrArray:
    """Time scale of the slow tail that the skin effect puts on an edge.

    Parameters
    ----------
    attenuation : float or array
        Attenuation of the line at the frequency, all of it from the skin effect [dB/m]
    frequency : float or array
        Frequency, so high that the skin depth is small against the wires [Hz]
    length : float or array
        Length of the cable [m]

    Returns
    -------
    float or array
        Time scale, see `skin_effect_delay` [s]

    Raises
    ------
    InputError
        If the attenuation is outside 0..1e4 dB/m, the frequency outside 1 mHz..100 GHz, or the length outside
        0..1000 km.

    Notes
    -----
    tau = (alpha l)^2 / (4 pi f) with alpha in nepers, for an attenuation that grows as sqrt(f). It grows as the
    square of the length.

    References
    ----------
    Inverse Laplace transform of exp(-k l sqrt(s / pi)). Figure: check skin-effect-tau.

    Examples
    --------
    >>> from rs485kit.formulas import skin_effect_time
    >>> round(skin_effect_time(0.01177, 1e6, 100.0) * 1e9, 2)
    1.46
    """
    attenuation, frequency, length = arguments(
        "skin_effect_time",
        within("attenuation", attenuation, "dB/m", 0.0, 1e4, cure="a figure per 100 m is a hundred times that"),
        door.frequency(frequency),
        within("length", length, "m", 0.0, 1e6),
    )
    return answer((attenuation / door.NEPER * length) ** 2 / (4.0 * np.pi * frequency))


def skin_effect_delay(settled_share: Numbers, time_scale: Numbers) -> FloatOrArray:
    """Time after the first arrival at which an edge behind a line with skin effect has risen to a share.

    Parameters
    ----------
    settled_share : float or array
        Share of the final value, 0.001 to 0.999 [-]
    time_scale : float or array
        Time scale of the line, from `skin_effect_time` [s]

    Returns
    -------
    float or array
        Time after the first arrival of a step [s]

    Raises
    ------
    InputError
        If the share is outside 0.001..0.999 or the time scale is negative.

    Notes
    -----
    The step response is erfc(sqrt(tau / t)). It has a long tail: half is reached after 4.4 tau, nine tenths after
    127 tau. The conductors have to be thick against the skin depth all the time, so the far tail of a thin pair,
    which ends at its DC level, is not in it.

    References
    ----------
    Laplace pair of exp(-a sqrt(s)) / s. Figures: checks skin-effect-erfc-law, skin-effect-tau.

    Examples
    --------
    >>> from rs485kit.formulas import skin_effect_delay
    >>> round(skin_effect_delay(0.5, 1.0), 4), round(skin_effect_delay(0.9, 1.0), 2)
    (4.3962, 126.66)
    """
    settled_share, time_scale = arguments(
        "skin_effect_delay", _share(settled_share), not_negative("time_scale", time_scale, "s")
    )

    def excess(root: Array) -> Array:
        return settled_share - np.asarray(_complementary(root), dtype=np.float64)

    # erfc falls from 1 to 2e-17 between 0 and 6
    root = bisection(excess, np.zeros_like(settled_share), np.full_like(settled_share, 6.0))
    return answer(time_scale / root**2)


def open_rc_line_delay(settled_share: Numbers, resistance: Numbers, capacitance: Numbers) -> FloatOrArray:
    """Time at which the open end of an RC line has risen to a share of a step.

    Parameters
    ----------
    settled_share : float or array
        Share of the final value, 0.001 to 0.999 [-]
    resistance : float or array
        Resistance of the whole line, both conductors [ohm]
    capacitance : float or array
        Capacitance of the whole line [F]

    Returns
    -------
    float or array
        Time after a step of a source without resistance [s]

    Raises
    ------
    InputError
        If the share is outside 0.001..0.999, or a value is not a positive number.

    Notes
    -----
    The t of 1 - 4/pi sum (-1)^k / (2 k + 1) exp(-((2 k + 1) pi / 2)^2 t / (R C)). A lumped R and C would take 0.69
    R C to a half; the line takes 0.38.

    References
    ----------
    Series solution of the diffusion equation. Figures: check distributed-rc-open-end.

    Examples
    --------
    >>> from rs485kit.formulas import open_rc_line_delay
    >>> round(open_rc_line_delay(0.5, 200.0, 50e-9) * 1e6, 3)
    3.787
    """
    settled_share, resistance, capacitance = arguments(
        "open_rc_line_delay",
        _share(settled_share),
        positive("resistance", resistance, "ohm"),
        positive("capacitance", capacitance, "F"),
    )
    odd = 2.0 * np.arange(50) + 1.0
    weights = 4.0 / np.pi * (-1.0) ** np.arange(50) / odd

    def excess(time: Array) -> Array:
        left = np.exp(-((odd * np.pi / 2.0) ** 2) * time[..., np.newaxis]) @ weights
        return np.asarray(1.0 - left - settled_share)

    # within these bounds, in units of R C, the open end rises from 1e-5 to 1 - 2e-5
    time = bisection(excess, np.full_like(settled_share, 0.02), np.full_like(settled_share, 4.5))
    return answer(time * resistance * capacitance)


def _share(value: Numbers) -> Argument:
    return within("settled_share", value, "-", _EARLIEST, _LATEST, cure="90 % is 0.9")
