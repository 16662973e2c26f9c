"""What closed forms need beside arithmetic: the field in a round wire, the resonance of a loaded line, and a bisection.

Written for the formulas alone, so that they stay independent of the solvers: power series and asymptotic series here,
another method there.
"""

from collections.abc import Callable

import numpy as np

from rs485kit.formulas._arguments import Array, ComplexArray

# Up to here the power series loses at most three digits to cancellation; beyond, exp(-2 x) is under 2e-15.
_BORDER = 17.0
_TERMS = 64
_HALVINGS = 100


def internal_ratio(radius_in_depths: Array) -> ComplexArray:
    """Return internal impedance over DC resistance of a round wire: z I0(z) / (2 I1(z)), z = (1 + j) x.

    Accurate to 1e-12 for any x: power series of both functions up to x = 17, asymptotic series beyond.
    """
    near = (1.0 + 1.0j) * np.minimum(radius_in_depths, _BORDER)
    far = (1.0 + 1.0j) * np.maximum(radius_in_depths, _BORDER)
    return np.where(radius_in_depths <= _BORDER, _near(near), _far(far))


def loaded_angle(own: Array, added: Array) -> Array:
    """Return the angle of a line at its first resonance with a capacitor at its end, pi/2 without one.

    It is the x between 0 and pi/2 with x tan x = own / added, the capacitance of the line over that of the capacitor.
    """
    weight = own / (own + added)

    def excess(x: Array) -> Array:
        return np.asarray((1.0 - weight) * x * np.sin(x) - weight * np.cos(x))

    return bisection(excess, np.zeros_like(weight), np.full_like(weight, np.pi / 2.0))


def bisection(rising: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Return where a rising function passes zero between two bounds, element by element."""
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        is_below = rising(middle) < 0.0
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return np.asarray(0.5 * (low + high))


def _near(z: ComplexArray) -> ComplexArray:
    quarter = 0.25 * z * z
    # I0(z) = sum q^k / k!^2 and 2 I1(z) / z = sum q^k / (k! (k + 1)!), with q = z^2 / 4
    term = np.ones_like(quarter)
    even, odd = term.copy(), term.copy()
    for k in range(1, _TERMS):
        term = term * quarter / k**2
        even = even + term
        odd = odd + term / (k + 1)
    return even / odd


def _far(z: ComplexArray) -> ComplexArray:
    even, odd = _hankel(z, 0.0), _hankel(z, 1.0)
    return 0.5 * z * even / odd


def _hankel(z: ComplexArray, order: float) -> ComplexArray:
    # I_n(z) sqrt(2 pi z) exp(-z) = sum of (-1)^k (4 n^2 - 1) (4 n^2 - 9) ... (4 n^2 - (2 k - 1)^2) / (k! (8 z)^k)
    term = np.ones_like(z)
    total = term.copy()
    for k in range(1, 20):
        term = -term * (4.0 * order**2 - (2 * k - 1) ** 2) / (8.0 * k * z)
        total = total + term
    return total
