"""One driver and one receiver: the bits that make its eye worst, and folded traces for a picture."""

import difflib
import math
from typing import Literal, NamedTuple

import attrs
import numpy as np

from rs485kit.analysis.results import Array, Rebuilt, read_only, unit
from rs485kit.analysis.waveform import Waveforms, waveforms
from rs485kit.analysis.worst_case import worst_eyes
from rs485kit.errors import InputError, MissingDataError, Problem, UnknownNameError, listed, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.solvers.trellis import worst_sequence as worst_word

MOST_BITS = 100_000
INTERVALS = 2
"""Unit intervals that a folded trace spans [-]."""


@attrs.frozen(kw_only=True, eq=False)
class WorstSequence(Rebuilt):
    """The bits that bring one receiver its lowest mark and its highest space at the best phase of its eye.

    Parameters
    ----------
    driver, receiver : str
        The path [-].
    phase : float
        Time after the beginning of the judged bit at the driver at which the levels are seen [s].
    mark_bits : tuple of bool
        Bits, oldest first, that bring the lowest mark; all bits before the first are equal to it [-].
    mark_judged : int
        Place of the judged mark in them [-].
    mark_level : float
        That level [V].
    space_bits : tuple of bool
        Bits that bring the highest space [-].
    space_judged : int
        Place of the judged space in them [-].
    space_level : float
        That level [V].
    """

    driver: str
    receiver: str
    phase: float = attrs.field(metadata=unit("s"))
    mark_bits: tuple[bool, ...]
    mark_judged: int
    mark_level: float = attrs.field(metadata=unit("V"))
    space_bits: tuple[bool, ...]
    space_judged: int
    space_level: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class Eye(Rebuilt):
    """Traces of one receiver folded into two unit intervals.

    Parameters
    ----------
    driver, receiver : str
        The path [-].
    time : array, shape (n,)
        Time of the samples in a trace; bits begin at the driver at 0 and at one interval [s].
    traces : array, shape (k, n)
        Voltages, one row for every bit but the first few [V].
    upper_threshold, lower_threshold : float
        Above the one the receiver surely reads mark, below the other surely space; NaN where not stated [V].
    interval : float
        Unit interval [s].
    delay : float
        Time by which the eye stands later than the bits at the driver [s].
    """

    driver: str
    receiver: str
    time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    traces: Array = attrs.field(converter=read_only, metadata=unit("V"))
    upper_threshold: float = attrs.field(metadata=unit("V"))
    lower_threshold: float = attrs.field(metadata=unit("V"))
    interval: float = attrs.field(metadata=unit("s"))
    delay: float = attrs.field(metadata=unit("s"))


class _Path(NamedTuple):
    """Records of one path, both edges from 0 upwards."""

    seen: Waveforms
    rise: Array
    fall: Array
    mark: float
    space: float


@as_analysis()
def worst_sequence(analyses: Analyses, driver: str, receiver: str) -> WorstSequence:
    """Return the bit sequences that attain the worst-case eye of one path.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    driver : str
        Name of the node that drives [-].
    receiver : str
        Name of the node that listens [-].

    Returns
    -------
    WorstSequence
        Bits and the levels that they bring [V].

    Raises
    ------
    UnknownNameError
        If one does not drive or the other does not listen.
    MissingDataError
        If the bus does not state a figure that the answer depends on.

    Notes
    -----
    The walk behind `worst_eyes` traced back. `Waveforms.pattern` of these bits shows the level at
    `judged * interval + phase`.
    """
    path = _path(analyses, driver, receiver)
    step = path.seen.time[1] - path.seen.time[0]
    phase = worst_eyes(analyses).between(driver, receiver).phase
    if math.isnan(phase):
        joined = math.isfinite(analyses.bus.distance(driver, receiver))
        lacking = f"thresholds of {receiver}" if joined else f"cable between {driver} and {receiver}"
        raise MissingDataError(f"worst sequence of {driver} at {receiver}", (lacking,))
    sample = round(phase / step)
    words = {}
    sides: tuple[Literal["mark", "space"], ...] = ("mark", "space")
    record = (path.rise, path.fall, path.mark, path.space, path.seen.samples, sample)
    for judged in sides:
        words[judged] = worst_word(*record, judged=judged)
    mark, space = words["mark"], words["space"]
    return WorstSequence(
        driver=driver, receiver=receiver, phase=sample * step,
        mark_bits=tuple(map(bool, mark.bits)), mark_judged=mark.judged, mark_level=mark.level,
        space_bits=tuple(map(bool, space.bits)), space_judged=space.judged, space_level=space.level,
    )  # fmt: skip


@as_analysis(keep=False)
def eye(
    analyses: Analyses, driver: str, receiver: str, *, bits: int = 256, seed: int = 0, jitter: float = 0.0
) -> Eye:
    """Return traces of random bits at one receiver, folded into two unit intervals.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].
    driver : str
        Name of the node that drives [-].
    receiver : str
        Name of the node that listens [-].
    bits : int
        How many bits are sent [-].
    seed : int
        Seed of the random bits and of the jitter [-].
    jitter : float
        Standard deviation of the time of each edge at the driver, normally distributed and cut at three of it [s].

    Returns
    -------
    Eye
        The traces [V].

    Raises
    ------
    UnknownNameError
        If one does not drive or the other does not listen.
    MissingDataError
        If the bus does not state a figure that the answer depends on.
    InputError
        If the number of bits, the seed or the jitter is out of range.

    Notes
    -----
    For pictures. `worst_eyes` is exact over every sequence; no number of random bits is.
    """
    path = _path(analyses, driver, receiver)
    step, samples = path.seen.time[1] - path.seen.time[0], path.seen.samples
    _refuse_strange(bits, seed, jitter, path.seen.interval)
    random = np.random.default_rng(seed)
    word = random.integers(0, 2, bits).astype(np.bool_)
    late = np.clip(random.standard_normal(bits), -3.0, 3.0) * jitter
    voltage = _voltage(path, word, late, step)
    listener = analyses.bus.node(receiver).transceiver
    assert listener is not None
    upper, lower = listener.receiver_upper_threshold, listener.receiver_lower_threshold
    phase = worst_eyes(analyses).between(driver, receiver).phase
    settle = min(len(word) - 1 - INTERVALS, math.ceil(len(path.rise) / samples))
    starts = np.arange(max(1, settle // 2), len(word) - INTERVALS) * samples
    return Eye(
        driver=driver, receiver=receiver, time=step * np.arange(INTERVALS * samples + 1),
        traces=voltage[starts[:, None] + np.arange(INTERVALS * samples + 1)],
        upper_threshold=math.nan if upper is None or upper.max is None else upper.max,
        lower_threshold=math.nan if lower is None or lower.min is None else lower.min,
        interval=path.seen.interval, delay=0.0 if math.isnan(phase) else phase,
    )  # fmt: skip


def _path(analyses: Analyses, driver: str, receiver: str) -> _Path:
    seen = waveforms(analyses, driver)
    if receiver not in seen.receivers:
        near = tuple(difflib.get_close_matches(str(receiver), seen.receivers, n=3))
        hint = f"the receivers are {listed(seen.receivers, 8) or 'none'}"
        raise UnknownNameError("receiver", str(receiver), near, hint)
    if not seen.samples:
        raise MissingDataError("eyes", ("link.data_rate",))
    row = seen.receivers.index(receiver)
    mark, space = float(seen.mark[row]), float(seen.space[row])
    return _Path(seen, seen.rise[row] - space, mark - seen.fall[row], mark, space)


def _refuse_strange(bits: int, seed: int, jitter: float, interval: float) -> None:
    problems = []
    if not isinstance(bits, int) or isinstance(bits, bool) or not 16 <= bits <= MOST_BITS:
        problems.append(Problem("bits", shown(bits), f"a whole number from 16 to {MOST_BITS}"))
    if not isinstance(seed, int) or isinstance(seed, bool) or seed < 0:
        problems.append(Problem("seed", shown(seed), "a whole number from 0"))
    if not isinstance(jitter, int | float) or not 0 <= jitter <= 0.1 * interval:
        problems.append(Problem("jitter", shown(jitter), f"a time from 0 to a tenth of a bit, {0.1 * interval:.3g} s"))
    if problems:
        raise InputError(*problems)


def _voltage(path: _Path, word: np.ndarray, late: Array, step: float) -> Array:
    """Return the voltage over a word whose edges come late by some time each."""
    samples, length = path.seen.samples, len(path.rise)
    swing = path.mark - path.space
    total = len(word) * samples + length
    voltage = np.full(total, path.mark if word[0] else path.space)
    grid = np.arange(length, dtype=np.float64)
    for place in np.flatnonzero(np.diff(word.astype(np.int8))) + 1:
        response, sign = (path.rise, 1.0) if word[place] else (path.fall, -1.0)
        shift = late[place] / step
        first = max(0, int(place) * samples + math.floor(shift))
        moved = response if shift == 0 else np.interp(grid - (shift - math.floor(shift)), grid, response, left=0.0)
        voltage[first : first + length] += sign * moved
        voltage[first + length :] += sign * swing
    return voltage
