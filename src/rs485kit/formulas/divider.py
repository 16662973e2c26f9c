"""Data rates that a clock and a whole divider can make."""

import numpy as np

from rs485kit.formulas import _timing_arguments as door
from rs485kit.formulas._arguments import Argument, FloatOrArray, Numbers, answer, arguments, positive, whole


def nearest_divider(clock_frequency: Numbers, data_rate: Numbers, *, oversampling: Numbers = 16.0) -> FloatOrArray:
    """Whole divider whose rate comes nearest to a data rate.

    Parameters
    ----------
    clock_frequency : float or array
        Clock that is divided [Hz]
    data_rate : float or array
        Data rate that is wanted [bit/s]
    oversampling : float or array
        Clocks in a bit after the divider; 1 for a divider that makes bits at once [-]

    Returns
    -------
    float or array
        Divider [-]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    Of the two whole numbers about f / (N rate) the one with the smaller error of the rate, 1 at the least. That is not
    the nearer number: rates go with the reciprocal.

    References
    ----------
    Definition. Figures: checks ``uart-divider-*``.

    Examples
    --------
    >>> from rs485kit.formulas import nearest_divider
    >>> nearest_divider(16e6, 115200), nearest_divider(16e6, 115200, oversampling=8)
    (9.0, 17.0)
    """
    clock, rate, clocks = arguments("nearest_divider", *_clocked(clock_frequency, data_rate, oversampling))
    wanted = clock / (clocks * rate)
    below = np.maximum(np.floor(wanted), 1.0)
    above = below + 1.0
    is_below = np.abs(wanted / below - 1.0) <= np.abs(wanted / above - 1.0)
    return answer(np.where(is_below, below, above))


def divider_rate_error(
    clock_frequency: Numbers, data_rate: Numbers, divider: Numbers, *, oversampling: Numbers = 16.0
) -> FloatOrArray:
    """Error of the rate that a divider makes.

    Parameters
    ----------
    clock_frequency : float or array
        Clock that is divided [Hz]
    data_rate : float or array
        Data rate that is wanted [bit/s]
    divider : float or array
        Whole number by which the clock is divided [-]
    oversampling : float or array
        Clocks in a bit after the divider; 1 for a divider that makes bits at once [-]

    Returns
    -------
    float or array
        Rate over the rate that is wanted, less one; above zero: too fast [-]

    Raises
    ------
    InputError
        If a value is outside its range.

    Notes
    -----
    f / (N n rate) - 1. It comes on top of the tolerance of the clock itself.

    References
    ----------
    Data sheet 2545D of the ATmega48, table 84; RM0440, 36.5.7: checks ``uart-divider-*``.

    Examples
    --------
    >>> from rs485kit.formulas import divider_rate_error
    >>> round(divider_rate_error(16e6, 115200, 9), 4)
    -0.0355
    """
    clock, rate, clocks, divider = arguments(
        "divider_rate_error",
        *_clocked(clock_frequency, data_rate, oversampling),
        whole("divider", divider, 1, 2**32),
    )
    return answer(clock / (clocks * divider * rate) - 1.0)


def _clocked(clock_frequency: object, data_rate: object, oversampling: object) -> tuple[Argument, Argument, Argument]:
    return (
        positive("clock_frequency", clock_frequency, "Hz"),
        door.data_rate(data_rate),
        whole("oversampling", oversampling, 1, 1024, cure="clocks of the receiver in one bit: 16 or 8 in most"),
    )
