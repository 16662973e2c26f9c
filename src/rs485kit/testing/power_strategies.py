"""Hypothesis strategies for what is fed: accessories, feed conductors, feeding points and what they feed."""

from hypothesis import strategies as st

from rs485kit.model import Accessory, FeedConductors, FeedLoad, FeedSource
from rs485kit.testing.strategies import figures, made, names, or_none, spreads


def accessories() -> st.SearchStrategy[Accessory]:
    """Return a strategy for accessories on a bus-side supply.

    Returns
    -------
    SearchStrategy of Accessory
        The strategy [-].
    """
    duty = figures(0, 1)
    return st.one_of(
        made(Accessory, name=names(), current=spreads(0, 100), duty=duty),
        made(Accessory, name=names(), power=spreads(0, 1e3), duty=duty),
        made(Accessory, name=names(), resistance=spreads(0.1, 1e8), duty=duty),
    )


def feed_conductors() -> st.SearchStrategy[FeedConductors]:
    """Return a strategy for feed conductors of a segment.

    Returns
    -------
    SearchStrategy of FeedConductors
        The strategy [-].
    """
    return made(
        FeedConductors,
        wires=st.integers(1, 4),
        conductor_resistance=or_none(spreads(1e-4, 10)),
        current_rating=or_none(figures(1e-3, 1e3)),
        common_return=st.booleans(),
    )


def feed_loads() -> st.SearchStrategy[FeedLoad]:
    """Return a strategy for what a node draws from the feed conductors.

    Returns
    -------
    SearchStrategy of FeedLoad
        The strategy [-].
    """
    nothing = st.none()
    laws = {"power": spreads(0, 1e4), "current": spreads(0, 100), "resistance": spreads(0.1, 1e8)}
    rest = {
        "talking_power": or_none(spreads(0, 1e4)),
        "capacitance": or_none(spreads(0, 1)),
        "inrush_current": or_none(figures(1e-4, 1e4)),
    }
    kinds = [
        made(
            FeedLoad, **{other: laws[other] if other == law else nothing for other in laws},
            minimum_voltage=figures(0.1, 100), restart_voltage=or_none(figures(100, 400)), **rest,
        )
        for law in (*laws, "")
    ]  # fmt: skip
    unknown = made(FeedLoad, minimum_voltage=nothing, power=or_none(laws["power"]), **rest)
    return st.one_of(*kinds, unknown)


def feed_sources() -> st.SearchStrategy[FeedSource]:
    """Return a strategy for feeding points.

    Returns
    -------
    SearchStrategy of FeedSource
        The strategy [-].
    """
    return made(
        FeedSource,
        voltage=spreads(1, 400),
        resistance=or_none(spreads(0, 1e4)),
        current_limit=or_none(figures(1e-3, 1e3)),
        inrush_current=or_none(figures(1e-3, 1e4)),
        fuse=or_none(figures(1e-3, 1e3)),
        bonded=st.booleans(),
    )
