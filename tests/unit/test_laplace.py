"""Inverse Laplace transforms of edges against closed forms in time: RC charging, bounces on lossless lines."""

import math

import numpy as np
import pytest

from line_circuits import Circuit, Load, at_rest, pair_of, transfers
from rs485kit.solvers import laplace
from rs485kit.solvers.laplace import (
    FULL_DURATION,
    MOST_POINTS,
    SETTLED,
    STEPS_PER_EDGE,
    WRAPPED,
    Contour,
    UnresolvedError,
    chosen_contour,
    contour_of,
    edge_transform,
    frequencies,
    halved,
    halving_error,
    inverted,
    resolved,
    settling_time,
    slope_transform,
    times,
    unrest,
)

SHAPES = ["raised cosine", "linear ramp"]
EDGE = 100e-9
LINE = pair_of(120, 2e8)


def edge_in_time(t: np.ndarray, duration: float, shape: str) -> np.ndarray:
    share = np.clip(t / duration, 0.0, 1.0)
    return share if shape == "linear ramp" else (1 - np.cos(math.pi * share)) / 2


def charging(t: np.ndarray, duration: float, shape: str, tau: float) -> np.ndarray:
    """Return the voltage of a capacitor behind a resistor that an edge charges, from its differential equation."""
    inside = np.clip(t, 0.0, duration)
    if shape == "linear ramp":
        rising = (inside - tau * -np.expm1(-inside / tau)) / duration
    else:
        w = math.pi / duration
        moving = (np.cos(w * inside) + w * tau * np.sin(w * inside) - np.exp(-inside / tau)) / (1 + (w * tau) ** 2)
        rising = (-np.expm1(-inside / tau) - moving) / 2
    return 1 - (1 - rising) * np.exp(-np.maximum(t - duration, 0.0) / tau)


def bounces(t: np.ndarray, duration: float, shape: str, near: float, far: float, delay: float) -> np.ndarray:
    """Return the far voltage of a lossless line by its bounce diagram: sum over every pass of the wave."""
    impedance = 120.0
    at_near, at_far = (near - impedance) / (near + impedance), (far - impedance) / (far + impedance)
    wave = impedance / (near + impedance) * (1 + at_far)
    total = np.zeros_like(t)
    for k in range(math.ceil(t[-1] / (2 * delay)) + 1):
        total += wave * (at_near * at_far) ** k * edge_in_time(t - (2 * k + 1) * delay, duration, shape)
    return total


# --- bad cases ------------------------------------------------------------------------------------------


def test_too_many_points_are_refused():
    with pytest.raises(UnresolvedError, match=f"at most {MOST_POINTS}"):
        chosen_contour(10e-9, "linear ramp", 1.0)
    with pytest.raises(UnresolvedError, match=f"at most {MOST_POINTS}"):
        halved(Contour(1e-9, MOST_POINTS, 1e3))


def test_response_that_never_settles_is_refused(monkeypatch):
    monkeypatch.setattr(laplace, "MOST_POINTS", 2**12)

    def ringing(contour: Contour) -> np.ndarray:
        s = frequencies(contour)
        return edge_transform(s, EDGE, "raised cosine") * 1e14 / (s**2 + 1e14)

    with pytest.raises(UnresolvedError, match="of the final value is left after"):
        resolved(ringing, chosen_contour(EDGE, "raised cosine", 1e-6), 1.0)


def test_response_that_settles_elsewhere_is_refused(monkeypatch):
    monkeypatch.setattr(laplace, "MOST_POINTS", 2**12)
    with pytest.raises(UnresolvedError, match=r"0\.1 of the final value"):
        resolved(lambda c: 0.9 * edge_transform(frequencies(c), EDGE, "raised cosine"), contour_of(1e-8, 1e-6), 1.0)


# --- contours -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("wanted", [1, 2, 3, 5, 97, 1025, 2049, 3000, 4097, 4609, 5000, 5121, 6145, 8191])
def test_points_are_even_enough_and_fast(wanted):
    points = contour_of(1.0, float(wanted)).points
    assert points >= wanted
    assert points % 2 == 0
    assert points <= max(4, 1.25 * wanted)
    odd = points
    while odd % 2 == 0:
        odd //= 2
    assert odd in (1, 3, 5, 9, 15, 25, 27)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("interval", [None, 2e-6, 8.68e-6, 104.2e-6, 0.9e-7])
def test_step_resolves_the_edge_and_divides_the_interval(shape, interval):
    settling = settling_time(6e-6, EDGE, 2e-6)
    contour = chosen_contour(EDGE, shape, settling, interval=interval)
    assert contour.step <= EDGE / STEPS_PER_EDGE[shape] * (1 + 1e-12)
    assert contour.step * contour.points >= 2 * settling * (1 - 1e-12)
    if interval is not None:
        assert interval / contour.step == pytest.approx(round(interval / contour.step), abs=1e-9)


def test_settling_time_leaves_what_it_says():
    assert math.exp(-(settling_time(0.0, 0.0, 3e-6)) / 3e-6) == pytest.approx(SETTLED)
    assert settling_time(6e-6, 1e-7, 0.0) == pytest.approx(6.1e-6)


def test_finer_contour_begins_with_the_same_frequencies():
    contour = contour_of(1e-8, 1e-5)
    finer = halved(contour)
    np.testing.assert_allclose(frequencies(finer)[: contour.points // 2 + 1], frequencies(contour), rtol=1e-14)
    np.testing.assert_allclose(times(finer)[::2], times(contour), rtol=1e-14)


# --- edges ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", SHAPES)
def test_full_duration_from_the_time_between_10_and_90_percent(shape):
    t = np.linspace(0, FULL_DURATION[shape], 2_000_001)
    level = edge_in_time(t, FULL_DURATION[shape], shape)
    assert np.interp(0.9, level, t) - np.interp(0.1, level, t) == pytest.approx(1.0, abs=1e-6)


def test_full_durations_are_those_of_the_trade():
    assert FULL_DURATION["linear ramp"] == 1.25
    assert FULL_DURATION["raised cosine"] == pytest.approx(1.694, abs=5e-4)


@pytest.mark.parametrize("shape", SHAPES)
def test_transforms_are_the_integrals_they_stand_for(shape):
    s = np.array([1e3 + 0j, 2e6 + 3e7j, 1e5 + 1j * math.pi / EDGE, 1j * math.pi / EDGE, 4e6j, 1e7 + 2e8j])
    t = (np.arange(200_000) + 0.5) * (EDGE / 200_000)
    slope = np.full_like(t, 1 / EDGE) if shape == "linear ramp" else math.pi / (2 * EDGE) * np.sin(math.pi * t / EDGE)
    expected = np.array([(slope * np.exp(-each * t)).sum() * EDGE / 200_000 for each in s])
    np.testing.assert_allclose(slope_transform(s, EDGE, shape), expected, rtol=0, atol=1e-8)
    np.testing.assert_allclose(edge_transform(s, EDGE, shape) * s, expected, rtol=0, atol=1e-8)


@pytest.mark.parametrize("shape", SHAPES)
def test_slope_of_an_edge_has_no_pole(shape):
    assert slope_transform(np.array([0j]), EDGE, shape)[0] == pytest.approx(1.0, abs=1e-15)


# --- closed forms in time -------------------------------------------------------------------------------


@pytest.mark.parametrize(("tau", "share"), [(20e-9, 1.0), (300e-9, 0.3), (5e-6, 0.03)])
@pytest.mark.parametrize(("shape", "allowed"), [("raised cosine", 8e-4), ("linear ramp", 2e-3)])
def test_capacitor_charges_as_its_equation_says(shape, allowed, tau, share):
    first = chosen_contour(EDGE, shape, settling_time(0.0, EDGE, tau))
    contour, found = resolved(
        lambda c: edge_transform(frequencies(c), EDGE, shape) / (1 + frequencies(c) * tau), first, 1.0
    )
    assert contour.points <= (first.points if tau > EDGE else 2.2 * first.points)
    np.testing.assert_allclose(found, charging(times(contour), EDGE, shape, tau), rtol=0, atol=share * allowed)
    assert unrest(found, 1.0) <= SETTLED


@pytest.mark.parametrize("far", [30.0, 120.0, 1e4])
@pytest.mark.parametrize("near", [20.0, 120.0, 400.0])
def test_bounces_on_a_mismatched_lossless_line(near, far):
    circuit = Circuit([(0, 1, LINE, 100.0)], {1: Load(conductance=1 / far)})
    final = far / (near + far)
    contour, found = resolved(
        lambda c: (
            transfers(circuit, frequencies(c), 0, near)[1] * edge_transform(frequencies(c), EDGE, "raised cosine")
        ),
        contour_of(EDGE / 20, 10e-6),
        final,
    )
    expected = bounces(times(contour), EDGE, "raised cosine", near, far, 0.5e-6)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1.5e-4 * final)


@pytest.mark.parametrize(("shape", "allowed"), [("raised cosine", 2e-3), ("linear ramp", 7e-3)])
def test_longest_step_keeps_a_matched_edge(shape, allowed):
    circuit = Circuit([(0, 1, LINE, 100.0)], {1: Load(conductance=1 / 120)})
    contour = chosen_contour(EDGE, shape, 2e-6)
    spectrum = transfers(circuit, frequencies(contour), 0, 120.0)[1] * edge_transform(frequencies(contour), EDGE, shape)
    expected = edge_in_time(times(contour) - 0.5e-6, EDGE, shape) / 2
    np.testing.assert_allclose(inverted(contour, spectrum, 0.5), expected, rtol=0, atol=allowed / 2)


@pytest.mark.parametrize("shape", SHAPES)
def test_halving_the_step_measures_the_error(shape):
    circuit = Circuit([(0, 1, LINE, 100.0)], {1: Load(conductance=1 / 300)})
    contour = chosen_contour(EDGE, shape, 9e-6)

    def respond(at: Contour) -> np.ndarray:
        return transfers(circuit, frequencies(at), 0, 50.0)[1] * edge_transform(frequencies(at), EDGE, shape)

    final = 300 / 350
    expected = bounces(times(contour), EDGE, shape, 50.0, 300.0, 0.5e-6)
    error = np.abs(inverted(contour, respond(contour), final) - expected).max()
    assert 0.95 * error <= halving_error(respond, contour, final) <= 2.5 * error


def test_what_wraps_round_is_taken_off():
    contour = contour_of(EDGE / 21, 1e-5)
    spectrum = edge_transform(frequencies(contour), EDGE, "raised cosine")
    np.testing.assert_allclose(inverted(contour, spectrum, 0.0)[-100:] - 1.0, WRAPPED, rtol=0.01)
    np.testing.assert_allclose(inverted(contour, spectrum, 1.0)[-100:], 1.0, rtol=0, atol=0.05 * WRAPPED)


def test_slope_gives_the_pulse_whose_sum_is_the_edge():
    circuit = Circuit([(0, 1, pair_of(120, 2e8, 0.17), 300.0)], {1: Load(conductance=1 / 100)})
    contour = contour_of(EDGE / 20, 40e-6)
    s = frequencies(contour)
    transfer = transfers(circuit, s, 0, 60.0)[1]
    final = at_rest(circuit, 0, 60.0)[1]
    edge = inverted(contour, transfer * edge_transform(s, EDGE, "raised cosine"), final)
    pulse = inverted(contour, transfer * slope_transform(s, EDGE, "raised cosine"), 0.0)
    summed = np.cumsum((pulse[1:] + pulse[:-1]) / 2) * contour.step
    np.testing.assert_allclose(summed, edge[1:], rtol=0, atol=2e-3 * final)
    assert unrest(pulse, 0.0) <= SETTLED
    assert unrest(np.zeros(8), 0.0) == 0.0


def test_window_is_doubled_until_the_slowest_part_has_settled():
    taus = np.array([1e-7, 4e-6])

    def respond(at: Contour) -> np.ndarray:
        s = frequencies(at)
        return edge_transform(s, EDGE, "raised cosine") / (1 + s * taus[:, None])

    first = chosen_contour(EDGE, "raised cosine", 1e-6)
    contour, found = resolved(respond, first, np.ones(2))
    assert contour.step == first.step
    assert 16 * first.points <= contour.points <= 64 * first.points
    for signal, tau in zip(found, taus, strict=True):
        np.testing.assert_allclose(signal, charging(times(contour), EDGE, "raised cosine", tau), rtol=0, atol=1e-3)
