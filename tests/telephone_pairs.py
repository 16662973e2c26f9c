"""Telephone and data pairs by the parametric forms in which standards publish them, and causal lines fitted to them.

Two forms. The *power form* gives R, L, G and C as four separate functions of frequency; since R and L are fitted apart
from each other it is not causal: good for alternating currents and impedances, not for signals in time. The *reference
form* gives Z and Y as functions of s; resistance and internal inductance come from one expression.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from rs485kit.solvers.elimination import Floats
from rs485kit.solvers.line_fit import Datasheet, LineFit, fitted_line
from rs485kit.solvers.line_model import SPEED_OF_LIGHT, Propagation
from rs485kit.solvers.wire import Complexes

# the rounded constants with which the coefficients of the reference form were made
_ROUND_SPEED_OF_LIGHT = 3e8
_ROUND_MAGNETIC_CONSTANT = 4e-7 * np.pi
_KILOMETRE = 1e3


class PowerForm(NamedTuple):
    """Coefficients of the power form, per kilometre of loop as they are printed; frequencies in Hz.

    - `r0c`: resistance at low frequency [ohm/km].
    - `ac`: rise of the fourth power of the resistance with the square of frequency [ohm^4/(km^4 Hz^2)].
    - `l0`, `linf`: inductance at low and at high frequency [H/km].
    - `fm`, `b`: middle of the fall of the inductance, and its exponent [Hz and -].
    - `cinf`, `c0`, `ce`: capacitance at high frequency, what is added at 1 Hz, and the exponent with which that falls
      [F/km and -].
    - `g0`, `ge`: conductance at 1 Hz, and the exponent with which it rises [S/km and -].
    """

    r0c: float
    ac: float
    l0: float
    linf: float
    fm: float
    b: float
    cinf: float
    c0: float
    ce: float
    g0: float
    ge: float


class ReferenceForm(NamedTuple):
    """Coefficients of the reference form, per metre.

    - `z0inf`: characteristic impedance at high frequency [ohm].
    - `nvf`: velocity factor at high frequency [-].
    - `rs0`: resistance of the loop at direct current [ohm/m].
    - `ql`, `qh`, `qx`, `qy`: shape of the rise of resistance and the fall of inductance [-].
    - `phi`: loss angle of the dielectric [rad].
    - `fd`: frequency above which the dielectric loses [Hz].
    - `qc`: share of the capacitance that is constant [-].
    """

    z0inf: float
    nvf: float
    rs0: float
    ql: float
    qh: float
    qx: float
    qy: float
    phi: float
    fd: float
    qc: float


POWER_FORMS = {
    "ansi-26awg-0.4mm": PowerForm(
        286.17578, 0.1476962, 675.36888e-6, 488.95186e-6, 806338.63, 0.92930728, 49e-9, 0.0, 0.0, 43e-9, 0.70
    ),
    "ansi-24awg-0.5mm": PowerForm(
        174.55888, 0.053073481, 617.29593e-6, 478.97099e-6, 553760.0, 1.1529766, 50e-9, 0.0, 0.0, 234.87476e-15, 1.38
    ),
    "bt-dwug-0.5mm": PowerForm(179.0, 0.03589, 695e-6, 585e-6, 1e6, 1.2, 55e-9, 1e-9, 0.1, 0.5e-9, 1.033),
    "pe-0.32mm": PowerForm(409.0, 0.3822, 607.5e-6, 500e-6, 609.0e3, 5.269, 40e-9, 0.0, 0.0, 0.0, 1.0),
    "pe-0.40mm": PowerForm(280.0, 0.0969, 587.3e-6, 426e-6, 745.9e3, 1.385, 50e-9, 0.0, 0.0, 0.0, 1.0),
    "pe-0.50mm": PowerForm(179.2, 0.0561, 674.6e-6, 532.7e-6, 664.7e3, 1.195, 50e-9, 0.0, 0.0, 0.0, 1.0),
    "pe-0.63mm": PowerForm(113.0, 0.0257, 699.4e-6, 477.2e-6, 265.8e3, 1.0956, 45e-9, 0.0, 0.0, 0.0, 1.0),
    "pe-0.90mm": PowerForm(55.1, 0.0094, 750.9e-6, 520.5e-6, 123.8e3, 0.9604, 40e-9, 0.0, 0.0, 0.0, 1.0),
}
"""Pairs in the power form of ITU-T G.996.1, ANSI T1.417 and ETSI, by name with the diameter of a conductor.

Source: coefficients as public simulators of subscriber lines carry them (table bt-model-coefficients); the standards
themselves were not seen, and that the PE rows are those of ETSI TS 101 388 is from memory. Copies differ in small
ways: l0 of 24 AWG is also found as 617.29539 uH/km, C of 26 AWG also as 50 nF/km. The PE rows state no conductance.
The inductance of pe-0.32mm falls almost as a step (b = 5.269): not to be used outside 10 kHz to 2 MHz.
"""

REFERENCE_FORMS = {
    "cat5-24awg": ReferenceForm(98.0, 0.690464, 0.1659, 2.15, 0.85945, 0.5, 0.722636, 0.000973846, 1.0, 0.0),
    "b05a-0.5mm": ReferenceForm(105.0694, 0.6976, 0.1871, 1.5315, 0.7415, 1.0, 0.0, -0.2356, 1.0, 1.0016),
    "t05u-0.5mm": ReferenceForm(125.636455, 0.729623, 0.18, 1.66605, 0.74, 0.848761, 1.207166, 0.001762056, 1.0, 0.0),
    "t05b-0.5mm": ReferenceForm(
        132.348256, 0.675449, 0.1705, 1.789725, 0.725776, 0.799306, 1.030832, 5.222e-06, 1.0, 0.0
    ),
    "t05h-0.5mm": ReferenceForm(98.369783, 0.681182, 0.1708, 1.7, 0.65, 0.777307, 1.5, 0.00302393, 1.0, 0.0),
}
"""Pairs in the reference form of ITU-T G.9701, by name with gauge or diameter.

Source: coefficients as a public channel model carries them that cites drafts of ITU-T G.9701 (table
gfast-model-coefficients); the row t05h also in an ITU compendium.
"""


class PrimaryConstants(NamedTuple):
    """Resistance, inductance, conductance and capacitance of the loop per metre at some frequencies.

    - `resistance`: r [ohm/m].
    - `inductance`: l [H/m].
    - `conductance`: g [S/m].
    - `capacitance`: c [F/m].
    """

    resistance: Floats
    inductance: Floats
    conductance: Floats
    capacitance: Floats


def primary_constants(pair: PowerForm | ReferenceForm, frequency: ArrayLike) -> PrimaryConstants:
    """Return resistance, inductance, conductance and capacitance of a pair.

    Parameters
    ----------
    pair : PowerForm or ReferenceForm
        Coefficients, such as POWER_FORMS["ansi-24awg-0.5mm"] [any].
    frequency : array
        Where, above 0 [Hz].

    Returns
    -------
    PrimaryConstants
        The four constants per metre [any].

    Notes
    -----
    Power form, f in Hz: R = (r0c^4 + ac f^2)^(1/4), L = (l0 + linf (f/fm)^b) / (1 + (f/fm)^b),
    C = cinf + c0 f^(-ce), G = g0 f^ge. Reference form: real and imaginary parts of `reference_impedance` and
    `reference_admittance`.

    References
    ----------
    ITU-T G.996.1 and G.9701, by way of the sources of POWER_FORMS and REFERENCE_FORMS.
    """
    f = np.asarray(frequency, dtype=np.float64)
    if isinstance(pair, ReferenceForm):
        omega = 2.0 * np.pi * f
        along, across = reference_impedance(pair, 1j * omega), reference_admittance(pair, 1j * omega)
        return PrimaryConstants(along.real, along.imag / omega, across.real, across.imag / omega)
    share = (f / pair.fm) ** pair.b
    return PrimaryConstants(
        np.asarray((pair.r0c**4 + pair.ac * f**2) ** 0.25 / _KILOMETRE),
        np.asarray((pair.l0 + pair.linf * share) / (1.0 + share) / _KILOMETRE),
        np.asarray(pair.g0 * f**pair.ge / _KILOMETRE),
        np.asarray((pair.cinf + pair.c0 * f**-pair.ce) / _KILOMETRE),
    )


def reference_impedance(pair: ReferenceForm, s: ArrayLike) -> Complexes:
    """Return the impedance along a pair per metre by the reference form.

    Parameters
    ----------
    pair : ReferenceForm
        Coefficients [any].
    s : array of complex
        Complex frequency with Re s >= 0 [1/s].

    Returns
    -------
    array of complex
        The impedance [ohm/m].

    Notes
    -----
    Z = s Ls + rs0 (1 - qs qx + sqrt(qs^2 qx^2 + 2 u (qs^2 + u qy) / (qs^2/qx + u qy))), u = s / ws,
    Ls = z0inf / (nvf c), qs = 1 / (qh^2 ql), ws = 4 pi qh^2 rs0 / mu0, with c = 3e8 m/s and mu0 = 4e-7 pi H/m as in
    the source.
    """
    s = np.asarray(s, dtype=np.complex128)
    inductance = pair.z0inf / (pair.nvf * _ROUND_SPEED_OF_LIGHT)
    qs = 1.0 / (pair.qh**2 * pair.ql)
    u = s * (_ROUND_MAGNETIC_CONSTANT / (4.0 * np.pi * pair.qh**2 * pair.rs0))
    rise = 2.0 * u * (qs**2 + u * pair.qy) / (qs**2 / pair.qx + u * pair.qy)
    inside = 1.0 - qs * pair.qx + np.sqrt(qs**2 * pair.qx**2 + rise)
    return np.asarray(s * inductance + pair.rs0 * inside)


def reference_admittance(pair: ReferenceForm, s: ArrayLike) -> Complexes:
    """Return the admittance across a pair per metre by the reference form.

    Parameters
    ----------
    pair : ReferenceForm
        Coefficients [any].
    s : array of complex
        Complex frequency with Re s >= 0 [1/s].

    Returns
    -------
    array of complex
        The admittance [S/m].

    Notes
    -----
    Y = s C ((1 - qc) (1 + s/wd)^(-2 phi/pi) + qc), C = 1 / (nvf c z0inf), wd = 2 pi fd.
    """
    s = np.asarray(s, dtype=np.complex128)
    capacitance = 1.0 / (pair.nvf * _ROUND_SPEED_OF_LIGHT * pair.z0inf)
    falling = (1.0 + s / (2.0 * np.pi * pair.fd)) ** (-2.0 * pair.phi / np.pi)
    return np.asarray(s * capacitance * ((1.0 - pair.qc) * falling + pair.qc))


def secondary_constants(constants: PrimaryConstants, frequency: ArrayLike) -> Propagation:
    """Return propagation constant and characteristic impedance from the four primary constants.

    Parameters
    ----------
    constants : PrimaryConstants
        R, L, G and C per metre [any].
    frequency : array
        The frequencies at which they hold [Hz].

    Returns
    -------
    Propagation
        gamma [1/m] and characteristic impedance [ohm] on the branches that decay [any].
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64)
    along = np.sqrt(constants.resistance + 1j * omega * constants.inductance)
    across = np.sqrt(constants.conductance + 1j * omega * constants.capacitance)
    return Propagation(np.multiply(along, across), np.divide(along, across))


def causal_fit(pair: PowerForm | ReferenceForm, frequency: ArrayLike, *, fitted_at: float = 1e6) -> LineFit:
    """Return a causal line for signals in time that comes near a pair given by coefficients.

    Parameters
    ----------
    pair : PowerForm or ReferenceForm
        Coefficients [any].
    frequency : array
        Frequencies at which the attenuation shall be met, at least two [Hz].
    fitted_at : float
        Frequency at which magnitude of impedance and velocity are met exactly [Hz].

    Returns
    -------
    LineFit
        The line, with its misfit of the attenuation at every frequency [any].

    Raises
    ------
    UnfittableError
        If no line has impedance and velocity of the pair at that frequency.

    Notes
    -----
    Resistance at direct current is taken over; impedance and velocity are met at one frequency; proximity factor and
    loss tangent are fitted to the attenuation. With two to four points a decade from 10 kHz to 10 MHz and 1 MHz the
    largest misfit of the attenuation is 0.8 % for t05u and t05b, 1.4 % for the 24 and 26 AWG pairs, bt-dwug and
    pe-0.50mm, 2 to 3 % for b05a and the other PE pairs, 4 % for t05h, 6 % for cat5. Magnitude of impedance and delay
    follow within 2.5 %, those of pe-0.32mm within 7 %.
    """
    frequencies = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    constant, _ = secondary_constants(primary_constants(pair, frequencies), frequencies)
    losses = 20.0 / np.log(10.0) * constant.real
    at = np.array([fitted_at])
    there, impedance = secondary_constants(primary_constants(pair, at), at)
    resistance = pair.rs0 if isinstance(pair, ReferenceForm) else pair.r0c / _KILOMETRE
    return fitted_line(
        Datasheet(
            conductor_resistance=resistance / 2.0,
            characteristic_impedance=float(np.abs(impedance[0])),
            velocity_factor=2.0 * np.pi * fitted_at / float(there.imag[0]) / SPEED_OF_LIGHT,
            frequency=fitted_at,
            attenuation=tuple(zip(frequencies.tolist(), losses.tolist(), strict=True)),
        )
    )
