"""A pair as a line: impedance and admittance, branches of the roots, passivity, causality, temperature."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rs485kit.solvers.line_fit import attenuation
from rs485kit.solvers.line_model import (
    SPEED_OF_LIGHT,
    LineModel,
    heated,
    propagation,
    series_impedance,
    shunt_admittance,
)
from rs485kit.solvers.wire import solid_skin_time
from telephone_pairs import (
    POWER_FORMS,
    REFERENCE_FORMS,
    PrimaryConstants,
    causal_fit,
    primary_constants,
    reference_admittance,
    reference_impedance,
    secondary_constants,
)

PAIR = LineModel(0.1684, 546e-9, 42.2e-12, skin_time=1.1876e-6, proximity=1.14, loss_tangent=0.002)
PLAIN = LineModel(0.17, 600e-9, 50e-12)
PROPERTY = settings(max_examples=300, deadline=None, derandomize=True)


@st.composite
def lines(draw: st.DrawFn) -> LineModel:
    def between(low: float, high: float) -> float:
        return draw(st.floats(low, high))

    return LineModel(
        resistance=10.0 ** between(-3.0, 1.0),
        inductance=10.0 ** between(-7.5, -5.5),
        capacitance=10.0 ** between(-11.5, -9.5),
        skin_time=draw(st.sampled_from([0.0, 1e-8, 1.2e-6, 1e-4])),
        proximity=between(1.0, 2.5),
        loss_tangent=draw(st.sampled_from([0.0, 1e-4, 0.01, 0.2])),
    )


@st.composite
def frequencies(draw: st.DrawFn) -> np.ndarray:
    """Return one complex frequency of the right half plane, its border included."""
    return np.array([10.0 ** draw(st.floats(0.0, 11.0)) * np.exp(1j * draw(st.floats(-np.pi / 2, np.pi / 2)))])


def inverted(
    transform: Callable[[np.ndarray], np.ndarray], window: float, points: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return times and signal from a Laplace transform, on a contour shifted by 20.7 over the window."""
    damping = -np.log(1e-9) / window
    s = damping + 2j * np.pi / window * np.arange(points // 2 + 1)
    time = np.arange(points) * (window / points)
    half = points // 2
    signal = np.exp(damping * time) * np.fft.irfft(transform(s), n=points) * points / window
    return time[:half], signal[:half]


def smooth_step(s: np.ndarray, duration: float) -> np.ndarray:
    """Return the transform of a step from 0 to 1 in twice the duration from t = 0 on: half a cosine, averaged."""
    rate = np.pi / duration
    cosine = (1.0 + np.exp(-s * duration)) * rate**2 / (2.0 * s * (s**2 + rate**2))
    return cosine * (1.0 - np.exp(-s * duration)) / (s * duration)


# --- values ---------------------------------------------------------------------------------------------


def test_lossless_line():
    gamma, z0 = propagation(LineModel(0.0, 600e-9, 60e-12), 1j * 2 * np.pi * np.array([1e3, 1e6]))
    assert gamma.real == pytest.approx([0.0, 0.0], abs=1e-12)
    assert gamma.imag == pytest.approx(2 * np.pi * np.array([1e3, 1e6]) * 6e-9, rel=1e-12)
    assert z0.real == pytest.approx([100.0, 100.0], rel=1e-12)


def test_plain_line_against_its_formula():
    """With constant R, L, C the line is that of any text: gamma^2 = Z Y, Z0^2 = Z / Y."""
    s = np.array([1e3 + 2e5j, 3e6j, 40.0])
    gamma, z0 = propagation(PLAIN, s)
    along, across = 0.17 + 600e-9 * s, 50e-12 * s
    assert gamma**2 == pytest.approx(along * across, rel=1e-12)
    assert z0**2 == pytest.approx(along / across, rel=1e-12)


def test_textbook_line_at_1_khz():
    """Check loop-line-1khz-exact, per km: R 25 ohm, L 5 mH, G 80 uS, C 40 nF."""
    constants = PrimaryConstants(*(np.array([each]) for each in (25e-3, 5e-6, 80e-9, 40e-12)))
    gamma, z0 = secondary_constants(constants, np.array([1e3]))
    assert gamma[0] * 1e3 == pytest.approx(0.0484447217 + 0.0907886259j, rel=1e-6)
    assert z0[0] == pytest.approx(383.714059 - 70.6154449j, rel=1e-6)


def test_low_frequency_is_a_resistance_and_a_capacitance():
    """Below the corner the line is an RC line: |Z0| of check termination-mismatch has 45 degrees."""
    gamma, z0 = propagation(PAIR, 2j * np.pi * np.array([100.0]))
    assert np.angle(z0[0]) == pytest.approx(-np.pi / 4, abs=0.01)
    assert gamma[0].real == pytest.approx(np.sqrt(np.pi * 100.0 * PAIR.resistance * PAIR.capacitance), rel=0.02)


def test_direct_current():
    assert series_impedance(PAIR, 0.0) == PAIR.resistance
    assert shunt_admittance(PAIR, 0.0) == 0.0


@pytest.mark.parametrize("tangent", [1e-4, 0.002, 0.05, 0.2])
def test_loss_tangent_is_the_same_at_every_frequency(tangent):
    omega = 2.0 * np.pi * np.logspace(1, 9, 9)
    y = shunt_admittance(PAIR._replace(loss_tangent=tangent), 1j * omega)
    assert y.real / y.imag == pytest.approx(tangent, rel=1e-9)
    assert y.imag[5] / omega[5] == pytest.approx(PAIR.capacitance, rel=1e-12)
    slope = 10.0 ** (-2.0 * np.arctan(tangent) / np.pi)
    assert (y.imag / omega)[1:] / (y.imag / omega)[:-1] == pytest.approx(slope, rel=1e-9)


def test_dielectric_obeys_kramers_and_kronig():
    """The fall of the capacitance between two frequencies is 2/pi times the integral of G/(w C) over ln w."""
    omega = np.exp(np.linspace(np.log(1e3), np.log(1e9), 20001))
    y = shunt_admittance(PAIR._replace(loss_tangent=0.01), 1j * omega)
    fall = np.log(np.abs(y[0] / omega[0]) / np.abs(y[-1] / omega[-1]))
    integral = 2.0 / np.pi * np.trapezoid(np.arctan2(y.real, y.imag), np.log(omega))
    assert fall == pytest.approx(integral, rel=1e-9)


def test_heat_raises_resistance_and_its_root_at_high_frequency():
    hot = heated(PAIR, 1.16)
    assert series_impedance(hot, 0.0).real == pytest.approx(1.16 * PAIR.resistance, rel=1e-12)
    s = 2j * np.pi * 1e11
    assert series_impedance(hot, s).real / series_impedance(PAIR, s).real == pytest.approx(np.sqrt(1.16), rel=1e-3)
    assert heated(heated(PAIR, 2.0), 0.5) == PAIR


def test_shapes_are_kept():
    s = np.array([[1e3j, 1e6j], [1e9, 5.0 + 2j]])
    for found in (*propagation(PAIR, s), series_impedance(PAIR, s), shunt_admittance(PAIR, s)):
        assert found.shape == s.shape
        assert found.dtype == np.complex128


# --- over the right half plane ---------------------------------------------------------------------------


@PROPERTY
@given(line=lines(), s=frequencies())
def test_line_is_passive(line, s):
    z, y = series_impedance(line, s), shunt_admittance(line, s)
    assert z.real >= -1e-12 * np.abs(z)
    assert y.real >= -1e-12 * np.abs(y)


@PROPERTY
@given(line=lines(), s=frequencies())
def test_branches_decay(line, s):
    gamma, z0 = propagation(line, s)
    assert gamma.real >= -1e-12 * np.abs(gamma)
    assert z0.real >= -1e-12 * np.abs(z0)
    assert gamma * z0 == pytest.approx(series_impedance(line, s), rel=1e-12)
    assert gamma / z0 == pytest.approx(shunt_admittance(line, s), rel=1e-12)


@PROPERTY
@given(line=lines(), s=frequencies())
def test_real_signals_stay_real(line, s):
    above, below = propagation(line, s), propagation(line, np.conj(s))
    assert np.conj(above.constant) == pytest.approx(below.constant, rel=1e-13)
    assert np.conj(above.impedance) == pytest.approx(below.impedance, rel=1e-13)


@PROPERTY
@given(line=lines(), low=st.floats(2.0, 8.0), step=st.floats(0.0, 1.0))
def test_attenuation_never_falls_with_frequency(line, low, step):
    first, second = attenuation(line, np.array([10.0**low, 10.0 ** (low + step)]))
    assert second >= first * (1.0 - 1e-9)


# --- causality ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("length", [10.0, 100.0, 1000.0])
def test_nothing_arrives_before_the_front(length):
    """A matched line: the step response is 0 to 1e-6 up to the delay at high frequency."""
    line = PAIR._replace(loss_tangent=0.0)
    delay = length * np.sqrt(line.inductance * line.capacitance)
    assert delay > length / SPEED_OF_LIGHT
    edge = delay / 20.0

    def transform(s: np.ndarray) -> np.ndarray:
        return smooth_step(s, edge) * np.exp(-propagation(line, s).constant * length)

    time, signal = inverted(transform, 40.0 * delay, 2**14)
    assert np.abs(signal[time <= delay]).max() < 1e-6
    assert signal[time > 1.5 * delay].min() > 0.3
    assert np.diff(signal).min() > -1e-6


def test_nothing_arrives_before_the_front_with_a_lossy_dielectric():
    """Its capacitance falls slowly for ever; what comes ahead of a front reckoned at 100 GHz is below 1e-6."""
    line = PAIR._replace(loss_tangent=0.01)
    high = 1j * 2.0 * np.pi * 1e11
    delay = 100.0 * float(np.sqrt(line.inductance * (shunt_admittance(line, high) / high).real))

    def transform(s: np.ndarray) -> np.ndarray:
        return smooth_step(s, delay / 20.0) * np.exp(-propagation(line, s).constant * 100.0)

    time, signal = inverted(transform, 40.0 * delay, 2**14)
    assert np.abs(signal[time <= delay]).max() < 1e-6


AFTER_ARRIVAL = np.array([0.2e-6, 0.5e-6, 1e-6, 2e-6, 5e-6, 20e-6])


@pytest.mark.parametrize(
    ("skin_time", "volts"),
    [
        (
            solid_skin_time(0.168399557 / 2.0),
            [0.121070252, 0.298128015, 0.414920801, 0.478227643, 0.516137829, 0.542830582],
        ),
        (0.0, [0.435668617, 0.44273898, 0.453648093, 0.472515549, 0.510822097, 0.542736223]),
    ],
    ids=["skin effect", "constant resistance"],
)
def test_skin_effect_leaves_a_tail(skin_time, volts):
    """Checks step-skin-line-1200m and step-constant-r-line-1200m: 2 V in a 10 ns ramp, 120 ohm at both ends."""
    length, delay, z = 1200.0, 1200.0 / (0.66 * SPEED_OF_LIGHT), 120.0
    line = LineModel(0.168399557, z * delay / length, delay / length / z, skin_time=skin_time)

    def transform(s: np.ndarray) -> np.ndarray:
        gamma, z0 = propagation(line, s)
        wave, reflection = np.exp(-gamma * length), (z - z0) / (z + z0)
        ramp = 2.0 * (1.0 - np.exp(-s * 10e-9)) / (s * s * 10e-9)
        return ramp * z0 / (z0 + z) * wave * (1.0 + reflection) / (1.0 - (reflection * wave) ** 2)

    time, signal = inverted(transform, 100e-6, 2**17)
    assert np.interp(delay + AFTER_ARRIVAL, time, signal) == pytest.approx(volts, rel=5e-5)


# --- pairs by their published forms -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "frequency", "resistance", "inductance", "z0", "loss"),
    [
        ("ansi-24awg-0.5mm", 1e5, 195.447018, 600.416797, abs(112.988758 - 27.5273344j), 7.51335981),
        ("ansi-24awg-0.5mm", 1e7, 1517.88331, 483.722158, abs(98.389804 - 2.43852063j), 67.4586866),
        ("ansi-26awg-0.4mm", 1e6, 626.850691, 572.86886, abs(108.542135 - 9.25981236j), 25.4048951),
        ("pe-0.32mm", 1e6, 800.284483, 507.342312, 114.355386, 30.6242015),
        ("pe-0.40mm", 1e5, 290.43722, 577.904742, 121.657723, 10.9872655),
        ("pe-0.50mm", 1e6, 488.898132, 586.67172, 108.794233, 19.5587638),
        ("pe-0.63mm", 1e6, 401.023593, 519.360852, 107.83402, 16.1811967),
        ("pe-0.90mm", 1e6, 311.450029, 547.810873, 117.265609, 11.5463373),
    ],
)
def test_power_form(name, frequency, resistance, inductance, z0, loss):
    """Checks ansi-24awg-rlgc-100khz to pe-0p90mm, per km."""
    constants = primary_constants(POWER_FORMS[name], frequency)
    found = secondary_constants(constants, frequency)
    assert constants.resistance * 1e3 == pytest.approx(resistance, rel=1e-6)
    assert constants.inductance * 1e9 == pytest.approx(inductance, rel=1e-6)
    assert abs(found.impedance) == pytest.approx(z0, rel=1e-6)
    assert found.constant.real * 20e3 / np.log(10.0) == pytest.approx(loss, rel=1e-6)


def test_power_form_with_falling_capacitance():
    """Check bt-dwug-1mhz."""
    constants = primary_constants(POWER_FORMS["bt-dwug-0.5mm"], 1e6)
    assert constants.capacitance * 1e12 == pytest.approx(55.2511886, rel=1e-6)
    assert constants.conductance * 1e9 == pytest.approx(788.805635, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "z0", "loss", "delay"),
    [
        ("cat5-24awg", 104.925881 - 7.21668703j, 1.95087631, 5.12442498),
        ("b05a-0.5mm", 112.946551 - 6.95262719j, 1.79018479, 5.08033365),
        ("t05u-0.5mm", 134.419999 - 7.74089609j, 1.55886324, 4.81230493),
        ("t05b-0.5mm", 139.553263 - 7.31514431j, 1.48870398, 5.20340812),
        ("t05h-0.5mm", 107.816658 - 7.37473289j, 2.03577274, 5.22152485),
    ],
)
def test_reference_form(name, z0, loss, delay):
    """Checks gfast-cat5-24awg to gfast-t05h-0p5mm at 1 MHz: ohm, dB per 100 m, ns/m."""
    found = secondary_constants(primary_constants(REFERENCE_FORMS[name], 1e6), 1e6)
    assert complex(found.impedance) == pytest.approx(z0, rel=1e-5)
    assert found.constant.real * 2e3 / np.log(10.0) == pytest.approx(loss, rel=1e-5)
    assert found.constant.imag / (2e6 * np.pi) * 1e9 == pytest.approx(delay, rel=1e-5)


@pytest.mark.parametrize("name", ["cat5-24awg", "t05u-0.5mm", "t05b-0.5mm", "t05h-0.5mm"])
def test_reference_form_is_passive(name):
    size, angle = np.meshgrid(np.logspace(1, 10, 60), np.linspace(-np.pi / 2, np.pi / 2, 31))
    s = size * np.exp(1j * angle)
    z, y = reference_impedance(REFERENCE_FORMS[name], s), reference_admittance(REFERENCE_FORMS[name], s)
    assert (z.real >= -1e-12 * np.abs(z)).all()
    assert (y.real >= -1e-12 * np.abs(y)).all()


def ahead(constant: np.ndarray, frequency: np.ndarray, front: float, length: float) -> float:
    """Return the largest signal ahead of the front over the peak, of a pulse of 0.2 us, by a plain inverse FFT."""
    omega, width = 2.0 * np.pi * frequency, 0.2e-6
    points = 2 * (len(frequency) - 1)
    time = np.arange(points) / (points * frequency[1])
    pulse = np.where(time < width, np.sin(np.pi * time / width) ** 4, 0.0)
    signal = np.fft.irfft(np.fft.rfft(pulse) * np.exp(-constant * length), n=points)
    assert omega[0] == 0.0
    return float(np.abs(signal[time < front]).max() / signal.max())


def test_power_form_is_not_causal_and_its_fit_is():
    pair, length = POWER_FORMS["ansi-24awg-0.5mm"], 300.0
    frequency = np.arange(2**15 + 1) * 2e3
    constant = np.zeros(len(frequency), dtype=np.complex128)
    constant[1:] = secondary_constants(primary_constants(pair, frequency[1:]), frequency[1:]).constant
    line = causal_fit(pair, np.logspace(4, 7, 7)).model
    fitted = np.zeros_like(constant)
    fitted[1:] = propagation(line._replace(loss_tangent=0.0), 2j * np.pi * frequency[1:]).constant
    front = length * np.sqrt(line.inductance * line.capacitance)
    assert ahead(fitted, frequency, front, length) < 2e-5
    assert ahead(constant, frequency, 0.98 * front, length) > 1e-3
