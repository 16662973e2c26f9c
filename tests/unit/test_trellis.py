"""Worst-case eyes against every bit sequence tried one by one, and against waveforms made by adding up edges."""

import itertools

import numpy as np
import pytest

from rs485kit.solvers.trellis import Levels, eye_opening, worst_eyes, worst_levels, worst_sequence

ALGEBRA = 1e-9
PER_BIT = 4


def edge_response(generator: np.random.Generator, bits: int, swing: float) -> np.ndarray:
    """Return a response with delay, ringing and a tail that has not quite settled at the end of the record."""
    t = np.arange(bits * PER_BIT) / PER_BIT - generator.uniform(0, 1.5)
    ringing = np.exp(-t / generator.uniform(0.5, 2.5)) * np.cos(t * generator.uniform(1, 6))
    return np.where(t > 0, swing * (1 - ringing), 0.0)


def level_of(bits: np.ndarray, rise: np.ndarray, fall: np.ndarray, mark: float, space: float, phase: int) -> np.ndarray:
    """Return what is seen `phase` samples after the last bit began; bits in rows, the oldest in the first column."""
    level = np.where(bits[:, 0], mark, space)
    for place in range(1, bits.shape[1]):
        since = phase + (bits.shape[1] - 1 - place) * PER_BIT
        level = level + rise[since] * (bits[:, place] & ~bits[:, place - 1])
        level = level - fall[since] * (~bits[:, place] & bits[:, place - 1])
    return level


def every_word(length: int) -> np.ndarray:
    return np.array(list(itertools.product([False, True], repeat=length)))


def brute_force(rise: np.ndarray, fall: np.ndarray, mark: float, space: float) -> Levels:
    lags = len(rise) // PER_BIT
    words = every_word(lags + 1)
    lowest, highest = np.empty((2, lags * PER_BIT))
    for phase in range(PER_BIT):
        levels = level_of(words, rise, fall, mark, space, phase)
        for lag in range(lags):
            judged = words[:, lags - lag]
            lowest[phase + lag * PER_BIT] = levels[judged].min()
            highest[phase + lag * PER_BIT] = levels[~judged].max()
    return Levels(lowest, highest)


CASES = [(seed, mark, space) for seed in range(4) for mark, space in [(1.2, -0.9), (0.4, 0.1), (-0.7, 0.8)]]


def responses(seed: int, bits: int, swing: float) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    return edge_response(generator, bits, swing), edge_response(generator, bits, swing)


@pytest.mark.parametrize(("seed", "mark", "space"), [*CASES[:2], CASES[5]])
def test_unequal_edges_agree_with_all_8192_sequences(seed, mark, space):
    rise, fall = responses(seed, 12, mark - space)
    expected = brute_force(rise, fall, mark, space)
    found = worst_levels(rise, fall, mark, space, PER_BIT)
    np.testing.assert_allclose(found.lowest_mark, expected.lowest_mark, rtol=0, atol=ALGEBRA)
    np.testing.assert_allclose(found.highest_space, expected.highest_space, rtol=0, atol=ALGEBRA)


@pytest.mark.parametrize(("seed", "mark", "space"), CASES)
@pytest.mark.parametrize("equal", [False, True])
def test_all_sequences_of_a_short_record(seed, mark, space, equal):
    rise, fall = responses(seed, 6, mark - space)
    expected = brute_force(rise, rise if equal else fall, mark, space)
    found = worst_levels(rise, None if equal else fall, mark, space, PER_BIT)
    np.testing.assert_allclose(found.lowest_mark, expected.lowest_mark, rtol=0, atol=ALGEBRA)
    np.testing.assert_allclose(found.highest_space, expected.highest_space, rtol=0, atol=ALGEBRA)


@pytest.mark.parametrize(("seed", "mark", "space"), CASES)
@pytest.mark.parametrize("equal", [False, True])
def test_sequence_that_is_named_attains_the_level(seed, mark, space, equal):
    rise, fall = responses(seed, 9, mark - space)
    given = None if equal else fall
    levels = worst_levels(rise, given, mark, space, PER_BIT)
    for sample in range(len(rise)):
        for judged, extreme in (("mark", levels.lowest_mark), ("space", levels.highest_space)):
            word = worst_sequence(rise, given, mark, space, PER_BIT, sample, judged=judged)
            assert word.bits[word.judged] == (judged == "mark")
            assert word.judged == 9 - sample // PER_BIT
            seen = level_of(word.bits[None], rise, rise if equal else fall, mark, space, sample % PER_BIT)[0]
            assert seen == pytest.approx(extreme[sample], rel=0, abs=1e-6)
            assert word.level == pytest.approx(extreme[sample], rel=0, abs=ALGEBRA)


def test_equal_edges_are_the_sum_of_magnitudes_of_the_pulse_response():
    mark, space = 1.5, -1.5
    rise, _ = responses(3, 10, mark - space)
    pulse = rise - np.concatenate((np.zeros(PER_BIT), rise[:-PER_BIT]))
    behind = 3.0 - rise[-PER_BIT:]
    found = worst_levels(rise, None, mark, space, PER_BIT)
    for sample in range(len(rise)):
        others = np.abs(pulse[sample % PER_BIT :: PER_BIT]).sum() - abs(pulse[sample]) + abs(behind[sample % PER_BIT])
        # half a swing to either side of zero: the judged pulse against the sum of all others
        assert found.lowest_mark[sample] == pytest.approx((pulse[sample] - others) / 2, abs=ALGEBRA)
        assert found.highest_space[sample] == pytest.approx(-(pulse[sample] - others) / 2, abs=ALGEBRA)


def test_many_receivers_are_judged_as_if_alone():
    generator = np.random.default_rng(5)
    swing = generator.uniform(0.5, 2.0, (3, 2))
    rise, fall = (np.array([[edge_response(generator, 7, x) for x in row] for row in swing]) for _ in range(2))
    space = generator.uniform(-1, 0, (3, 2))
    for given in (None, fall):
        levels = worst_levels(rise, given, space + swing, space, PER_BIT)
        eyes = eye_opening(levels, 0.1, np.full((3, 2), -0.1), PER_BIT)
        for member in np.ndindex(3, 2):
            falling = None if given is None else given[member]
            alone = worst_levels(rise[member], falling, space[member] + swing[member], space[member], PER_BIT)
            np.testing.assert_allclose(levels.lowest_mark[member], alone.lowest_mark, rtol=0, atol=ALGEBRA)
            np.testing.assert_allclose(levels.highest_space[member], alone.highest_space, rtol=0, atol=ALGEBRA)
            eye = eye_opening(alone, 0.1, -0.1, PER_BIT)
            for whole, part in zip(eyes, eye, strict=True):
                assert whole[member] == pytest.approx(part, abs=ALGEBRA)


@pytest.mark.parametrize("equal", [False, True])
def test_eyes_in_one_are_those_of_the_levels(equal):
    generator = np.random.default_rng(6)
    swing = generator.uniform(0.8, 3.0, 40)
    rise, fall = (np.array([edge_response(generator, 9, x) for x in swing]) for _ in range(2))
    given = None if equal else fall
    space = generator.uniform(-1.5, -0.4, 40)
    upper, lower = generator.uniform(0, 0.2, 40), generator.uniform(-0.2, 0, 40)
    found = worst_eyes(rise, given, space + swing, space, upper, lower, PER_BIT)
    expected = eye_opening(worst_levels(rise, given, space + swing, space, PER_BIT), upper, lower, PER_BIT)
    assert 0 < (expected.height > 0).sum() < 40
    for mine, theirs in zip(found, expected, strict=True):
        np.testing.assert_allclose(mine, theirs, rtol=0, atol=ALGEBRA)


def test_record_that_is_no_whole_number_of_bits_is_cut_short():
    rise, fall = responses(2, 8, 2.0)
    whole = worst_levels(rise[: 7 * PER_BIT], fall[: 7 * PER_BIT], 1.0, -1.0, PER_BIT)
    part = worst_levels(rise[: 7 * PER_BIT + 3], fall[: 7 * PER_BIT + 3], 1.0, -1.0, PER_BIT)
    np.testing.assert_array_equal(whole.lowest_mark, part.lowest_mark)


# --- eyes -----------------------------------------------------------------------------------------------


def levels_of(opening: list[float], upper: float = 0.2, lower: float = -0.2) -> Levels:
    """Return levels whose opening is given, the marks nearer to their threshold."""
    values = np.array(opening)
    return Levels(upper + values, lower - values - 0.5)


def test_width_is_interpolated_between_samples():
    eye = eye_opening(levels_of([-1, -1, -0.1, 0.3, 0.5, 0.4, -0.4, -1, -1]), 0.2, -0.2, 8)
    assert eye.sample == 4
    assert eye.height == eye.mark_margin == pytest.approx(0.5)
    assert eye.space_margin == pytest.approx(1.0)
    assert eye.width == pytest.approx((0.75 + 2 + 0.5) / 8)


def test_closed_eye_has_no_width_and_a_height_all_the_same():
    eye = eye_opening(levels_of([-1, -0.5, -0.25, -0.5]), 0.2, -0.2, 2)
    assert (eye.sample, eye.width) == (2, 0.0)
    assert eye.height == pytest.approx(-0.25)


def test_only_the_phases_beside_the_best_one_count():
    eye = eye_opening(levels_of([0.2, 0.2, -0.2, 0.6, 0.2, -0.2, 0.4]), 0.2, -0.2, 8)
    assert eye.sample == 3
    assert eye.width == pytest.approx((0.75 + 1 + 0.5) / 8)


def test_eye_ends_with_the_record():
    eye = eye_opening(levels_of([0.3, 0.2, -0.2]), 0.2, -0.2, 4)
    assert eye.width == pytest.approx(1.5 / 4)
    assert eye_opening(levels_of([-0.2, 0.2, 0.3]), 0.2, -0.2, 4).width == pytest.approx(1.5 / 4)


def test_abrupt_edges_open_the_whole_interval_and_no_more():
    rise = np.concatenate((np.zeros(6), np.full(26, 2.0)))
    eye = worst_eyes(rise, None, 1.0, -1.0, 0.2, -0.2, 8)
    assert eye.height == pytest.approx(0.8)
    assert 1 - 1 / 8 <= eye.width <= 1.0
    assert 6 <= eye.sample < 14


def test_no_more_than_one_interval_is_open():
    assert eye_opening(levels_of([-0.01, 1, 1, 1, 1, -0.01]), 0.2, -0.2, 4).width == 1.0


def test_swapped_lines_close_the_eye():
    rise, fall = responses(1, 9, -2.0)
    for given in (None, fall):
        eye = worst_eyes(rise, given, -1.0, 1.0, 0.2, -0.2, PER_BIT)
        assert eye.height < -0.2
        assert eye.width == 0.0


def test_mean_of_unequal_edges_is_too_good():
    t = np.arange(12 * PER_BIT) / PER_BIT
    rise, fall = 2 * (1 - np.exp(-t / 0.2) * np.cos(4 * t)), 2 * (1 - np.exp(-t / 0.6))
    exact = worst_eyes(rise, fall, 1.0, -1.0, 0.0, 0.0, PER_BIT)
    pulse = worst_eyes((rise + fall) / 2, None, 1.0, -1.0, 0.0, 0.0, PER_BIT)
    assert pulse.height > 1.25 * exact.height > 0
