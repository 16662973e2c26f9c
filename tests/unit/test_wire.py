"""Internal impedance of wires: Bessel quotient against exact arithmetic, published resistances, limits, passivity."""

from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rs485kit.solvers.wire import (
    COPPER_RESISTIVITY,
    MAGNETIC_CONSTANT,
    bessel_quotient,
    compact_impedance,
    internal_impedance,
    outline_skin_time,
    proximity_factor,
    skin_impedance,
    solid_skin_time,
)

AWG24_RADIUS = 0.2553e-3
# table pic-24awg-primary-constants: 24 gauge telephone pair at 21 degC, Hz, ohm/km, mH/km
PIC_FREQUENCY = np.array([1.0, 1e3, 1e4, 1e5, 1e6, 2e6, 5e6])
PIC_RESISTANCE = np.array([172.24, 172.28, 172.70, 191.63, 463.59, 643.14, 999.41]) * 1e-3
PIC_INDUCTANCE = np.array([0.6129, 0.6125, 0.6099, 0.5807, 0.5062, 0.4862, 0.4675]) * 1e-6


def exact_quotient(product: complex, digits: int = 250) -> complex:
    """Return sum w^k / (k! (k+1)!) over sum w^k / k!^2 in decimal arithmetic."""
    with localcontext() as context:
        context.prec = digits
        real, imaginary = Decimal(product.real), Decimal(product.imag)
        term, zero, one = (Decimal(1), Decimal(0)), [Decimal(0), Decimal(0)], [Decimal(0), Decimal(0)]
        k = 0
        while term != (0, 0) and (k < 10 or abs(term[0]) + abs(term[1]) > Decimal(10) ** (-60)):
            for part in (0, 1):
                zero[part] += term[part]
                one[part] += term[part] / (k + 1)
            k += 1
            square = Decimal(k) * k
            term = (
                (term[0] * real - term[1] * imaginary) / square,
                (term[0] * imaginary + term[1] * real) / square,
            )
        size = zero[0] ** 2 + zero[1] ** 2
        return complex(
            float((one[0] * zero[0] + one[1] * zero[1]) / size), float((one[1] * zero[0] - one[0] * zero[1]) / size)
        )


def slope(quotient: np.ndarray, product: np.ndarray) -> np.ndarray:
    """Return |u dg/du|, from r' = 1 - r/u - r^2 with r = u g / 2."""
    return np.abs(2.0 - 2.0 * quotient - 2.0 * product * quotient**2)


# --- the Bessel quotient --------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [0.0, 1e-6, 0.1, 1.0, 3.0, 8.0, 20.0, 24.99, 25.01, 40.0, 90.0, 200.0])
@pytest.mark.parametrize("angle", [0.0, 0.3, np.pi / 4, -np.pi / 4, 1.2, -1.5, 1.57, np.pi / 2])
def test_quotient_against_exact_arithmetic(size, angle):
    product = np.array([(size * np.exp(1j * angle)) ** 2 / 4.0])
    found, wanted = bessel_quotient(product), exact_quotient(complex(product[0]))
    # an argument is given to half a rounding, which near a pole moves the quotient by slope times that
    assert abs(found[0] - wanted) <= 5e-15 * max(abs(wanted), slope(np.array([wanted]), product)[0])


def test_quotient_against_scipy():
    special = pytest.importorskip("scipy.special")
    generator = np.random.default_rng(485)
    size = 10.0 ** generator.uniform(-4.0, 4.0, 20000)
    for widest, tolerance in ((np.pi / 4, 1e-14), (np.pi / 2, 1e-12)):
        u = size * np.exp(1j * generator.uniform(-widest, widest, size.size))
        wanted = 2.0 * special.ive(1, u) / special.ive(0, u) / u
        difference = np.abs(bessel_quotient(u * u / 4.0) - wanted)
        assert (difference <= tolerance * np.maximum(np.abs(wanted), slope(wanted, u * u / 4.0))).all()


def test_quotient_keeps_shape_and_takes_a_number():
    w = np.array([[0.0, 1.0 + 1.0j, 400.0j], [300.0, 1e-9j, -900.0 + 1.0j]])
    whole = bessel_quotient(w)
    assert whole.shape == w.shape
    single = [[complex(bessel_quotient(each)) for each in row] for row in w]
    assert np.allclose(whole, single, rtol=1e-14, atol=0.0)
    assert bessel_quotient(0.0) == 1.0


# --- a wire alone ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "wanted"),
    [(1.0, 1.02049239), (2.0, 1.26464291), (3.0, 1.76813165), (4.0, 2.27380107), (8.0, 4.26157026), (0.5, 1.00130073)],
)
def test_resistance_of_a_round_wire(ratio, wanted):
    """Checks round-wire-ratio-x1 to x8: resistance over that at direct current by radius over skin depth."""
    z = skin_impedance(1j * ratio**2 / 2.0, 1.0, 1.0)
    assert z.real == pytest.approx(wanted, rel=1e-8)


def test_resistance_at_large_radius_over_skin_depth():
    x = np.array([30.0, 100.0, 1000.0])
    found = skin_impedance(0.5j * x**2, 1.0, 1.0).real
    assert found == pytest.approx(x / 2 + 0.25 + 3 / (32 * x), rel=1e-6)


@pytest.mark.parametrize(
    ("frequency", "resistance", "inductance"),
    [
        (1e3, 168.400339, 99.999768),
        (1e5, 175.935321, 97.7694097),
        (1e6, 371.509278, 50.9802068),
        (1e7, 1072.01853, 16.3488608),
        (5e7, 2342.77035, 7.31951505),
    ],
)
def test_two_wires_of_24_awg(frequency, resistance, inductance):
    """Table awg24-pair-internal-impedance: loop of two isolated wires, ohm/km and nH/m."""
    omega = 2.0 * np.pi * frequency
    z = 2.0 * internal_impedance(1j * omega, AWG24_RADIUS)
    assert z.real * 1e3 == pytest.approx(resistance, rel=1e-6)
    assert z.imag / omega * 1e9 == pytest.approx(inductance, rel=1e-6)


def test_radius_over_skin_depth_is_the_root_of_twice_omega_tau():
    """Table skin-depth-copper: 66.0848 um at 1 MHz."""
    time = solid_skin_time(COPPER_RESISTIVITY / (np.pi * AWG24_RADIUS**2))
    assert AWG24_RADIUS / np.sqrt(2.0 * 2e6 * np.pi * time) == pytest.approx(66.0847662e-6, rel=1e-8)


def test_outline_of_a_solid_wire_gives_its_skin_time():
    resistance = COPPER_RESISTIVITY / (np.pi * AWG24_RADIUS**2)
    assert outline_skin_time(resistance, AWG24_RADIUS) == pytest.approx(solid_skin_time(resistance), rel=1e-12)


def test_outline_of_a_strand_sets_the_loss_at_high_frequency():
    """A strand with 30 % more resistance than a solid wire of its outline has the same skin at high frequency."""
    solid = COPPER_RESISTIVITY / (np.pi * AWG24_RADIUS**2)
    s = 2j * np.pi * 1e10
    found = skin_impedance(s, 1.3 * solid, outline_skin_time(1.3 * solid, AWG24_RADIUS))
    assert found.real == pytest.approx(internal_impedance(s, AWG24_RADIUS).real, rel=5e-3)


def test_no_skin_time_is_a_plain_resistance():
    s = 2j * np.pi * np.array([0.0, 1e3, 1e9])
    assert np.array_equal(skin_impedance(s, 0.17, 0.0, proximity=1.3), np.full(3, 0.17 + 0j))


# --- two wires ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [1.2, 1.5625, 2.0, 3.0])
def test_proximity_factor_is_met_at_high_frequency(ratio):
    """Checks proximity-factor-s1p2 to s3p0: 1/sqrt(1 - (d/s)^2), from the inductance acosh(s/d) of that spacing."""
    factor = proximity_factor(MAGNETIC_CONSTANT / np.pi * np.arccosh(ratio))
    assert factor == pytest.approx(1.0 / np.sqrt(1.0 - ratio**-2.0), rel=1e-12)
    alone, pair = (skin_impedance(1e14j, 0.168, 1.19e-6, proximity=each) for each in (1.0, factor))
    assert pair.real / alone.real == pytest.approx(factor, rel=1e-3)
    assert pair.imag / alone.imag == pytest.approx(factor, rel=1e-3)


def test_proximity_leaves_the_direct_current_resistance():
    assert skin_impedance(0.0, 0.168, 1.19e-6, proximity=2.0) == 0.168
    assert skin_impedance(2j * np.pi, 0.168, 1.19e-6, proximity=2.0).real == pytest.approx(0.168, rel=1e-9)


def test_first_order_in_the_spacing_is_the_dipole():
    """Far apart the second term is what the transverse field of the neighbour does, reckoned from full exclusion."""
    special = pytest.importorskip("scipy.special")
    ratio, s, time, resistance = 30.0, 2j * np.pi * np.logspace(3, 7, 9), 1.19e-6, 0.168
    factor = 1.0 / np.sqrt(1.0 - ratio**-2.0)
    u = 2.0 * np.sqrt(s * time)
    excluded = 1.0 - special.ive(2, u) / special.ive(0, u)
    # u^2 = s mu0 a^2 / rho and a loop of two wires has R = 2 rho / (pi a^2), hence s mu0 / pi = R u^2 / 2
    wanted = resistance * u**2 / 2.0 * (0.5 / ratio) ** 2 * excluded
    found = skin_impedance(s, resistance, time, proximity=factor) - skin_impedance(s, resistance, time)
    assert np.abs(found / wanted - 1.0).max() < 2.0 / ratio**2


def test_measured_telephone_pair():
    """Check proximity-seen-in-pic-cable: one factor meets the measured resistance at every frequency within 0.5 %."""
    loop = PIC_RESISTANCE[0]
    omega = 2.0 * np.pi * PIC_FREQUENCY
    z = skin_impedance(1j * omega, loop, solid_skin_time(loop / 2.0), proximity=1.31)
    assert z.real == pytest.approx(PIC_RESISTANCE, rel=5e-3)
    outside = PIC_INDUCTANCE[-1] - z.imag[-1] / omega[-1]
    assert outside + z.imag / omega == pytest.approx(PIC_INDUCTANCE, rel=0.025)
    # neither a wire alone nor the factor on the whole skin term does
    alone = skin_impedance(1j * omega, loop, solid_skin_time(loop / 2.0))
    assert np.abs(alone.real / PIC_RESISTANCE - 1.0).max() > 0.2
    multiplied = loop + 1.31 * (alone - loop)
    assert np.abs(multiplied.real / PIC_RESISTANCE - 1.0).max() > 0.05


@pytest.mark.parametrize(("proximity", "worst"), [(1.0, 0.0671), (1.3, 0.0740), (2.5, 0.1150)])
def test_compact_form(proximity, worst):
    """The compact form has the same ends; its largest deviation lies near a radius of two to three skin depths."""
    product = 1j * np.logspace(-6, 8, 1401)
    exact = skin_impedance(product, 1.0, 1.0, proximity=proximity)
    compact = compact_impedance(product, 1.0, 1.0, proximity=proximity)
    deviation = np.abs(compact / exact - 1.0)
    assert deviation.max() == pytest.approx(worst, abs=1e-4)
    assert deviation[[0, -1]].max() < 1e-4
    assert compact.imag[0] / exact.imag[0] == pytest.approx(1.0, rel=1e-5)


# --- passivity ------------------------------------------------------------------------------------------


@settings(max_examples=200, deadline=None, derandomize=True)
@given(exponent=st.floats(-9.0, 9.0), angle=st.floats(-np.pi / 2, np.pi / 2), proximity=st.floats(1.0, 2.5))
def test_wires_are_passive(exponent, angle, proximity):
    product = 10.0**exponent * np.exp(1j * angle)
    for form in (skin_impedance, compact_impedance):
        z = complex(form(product, 1.0, 1.0, proximity=proximity))
        assert z.real >= 1.0 - 1e-12
        # the impedance of resistances beside inductances: never capacitive
        assert z.imag * product.imag >= -1e-12 * abs(z) * abs(product)
