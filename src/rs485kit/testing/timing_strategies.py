"""Hypothesis strategies for timing profiles and for what a controller asks; `strategies` says what `complete` means."""

import math

from hypothesis import strategies as st

from rs485kit.model import Exchange, RatedTime, TimingProfile
from rs485kit.testing.strategies import figures, made, names, or_none

_FRAMES = ("8N1", "8E1", "7O2")


def rated_times() -> st.SearchStrategy[RatedTime]:
    """Return a strategy for times in bits, characters or seconds, up to a data rate.

    Returns
    -------
    SearchStrategy of RatedTime
        The strategy [-].
    """
    return made(
        RatedTime,
        up_to=or_none(figures(45, 1e9)),
        bits=figures(0, 1e6),
        characters=figures(0, 1e6),
        time=figures(0, 1e4),
    )


def _steps() -> st.SearchStrategy[tuple[RatedTime, ...]]:
    def ordered(steps: list[RatedTime]) -> tuple[RatedTime, ...]:
        by_rate = {math.inf if step.up_to is None else step.up_to: step for step in steps}
        return tuple(by_rate[rate] for rate in sorted(by_rate))

    return st.lists(rated_times(), max_size=2).map(ordered)


def timing_profiles() -> st.SearchStrategy[TimingProfile]:
    """Return a strategy for timing profiles.

    Returns
    -------
    SearchStrategy of TimingProfile
        The strategy [-].
    """
    return made(
        TimingProfile,
        name=names(),
        frames=st.lists(st.sampled_from(_FRAMES), max_size=2, unique=True),
        lowest_rate=or_none(figures(45, 1e4)),
        highest_rate=or_none(figures(1e4, 1e9)),
        longest_frame=or_none(st.integers(1, 65536)),
        preamble=_steps(),
        longest_character_gap=_steps(),
        frame_gap=_steps(),
        least_reply_delay=_steps(),
        longest_reply_delay=_steps(),
        longest_release=_steps(),
        request_gap=_steps(),
        broadcast_gap=_steps(),
        reply_timeout=_steps(),
    )


def exchanges(*, node_names: tuple[str, ...] = ()) -> st.SearchStrategy[Exchange]:
    """Return a strategy for what a controller asks.

    Parameters
    ----------
    node_names : tuple of str
        Nodes that it may ask [-].

    Returns
    -------
    SearchStrategy of Exchange
        The strategy [-].
    """
    asked = st.lists(st.sampled_from(node_names), max_size=2, unique=True) if node_names else st.just([])
    return made(
        Exchange,
        devices=asked,
        request_characters=st.integers(1, 300),
        reply_characters=st.integers(0, 300),
        times=st.integers(1, 3),
    )
