"""What bridges a barrier, part by part, and what the barrier as a whole comes to: the weakest, the sum, the slowest."""

import math
from collections.abc import Iterable
from typing import TypeAlias

import attrs

from rs485kit.analysis.results import Missing, Rebuilt, unit
from rs485kit.errors import InputError, Problem
from rs485kit.model import Barrier, Bridge, Channel, IsolatedSupply, Isolator
from rs485kit.model.base import Viewed, shown

BridgingPart: TypeAlias = Isolator | IsolatedSupply | Bridge
GRADES = ("functional", "basic", "reinforced")
PURPOSES = ("transmit", "receive", "enable")
PASSIVE = ("board", "connector")


@attrs.frozen
class Element:
    """One thing that bridges a barrier, and where it stands there; None: not described."""

    place: str
    part: BridgingPart | None


def is_passive(element: Element) -> bool:
    """Return whether an element is a board or a connector, which its distances alone rate."""
    return isinstance(element.part, Bridge) and element.part.kind in PASSIVE


def elements_of(barrier: Barrier) -> tuple[Element, ...]:
    """Return what bridges a barrier; a part that is not stated is an element that is not described."""
    found = [Element("isolator", barrier.isolator), Element("supply", barrier.supply)]
    found += [Element(f"others[{index}]", other) for index, other in enumerate(barrier.others)]
    found += [Element(f'bridges["{bridge.name}"]', bridge) for bridge in barrier.bridges]
    return tuple(found)


@attrs.frozen(kw_only=True)
class ChannelFigures(Viewed):
    """What all data paths of one purpose through a barrier come to.

    Parameters
    ----------
    purpose : str
        "transmit", "receive" or "enable" [-].
    delay : float
        Longest propagation delay; NaN: not stated [s].
    delay_spread : float
        Longest less shortest delay of one channel, over tolerances; NaN: not stated [s].
    pulse_distortion : float
        Largest difference between the delays of a rising and a falling edge; NaN: not stated [s].
    """

    purpose: str
    delay: float = attrs.field(metadata=unit("s"))
    delay_spread: float = attrs.field(metadata=unit("s"))
    pulse_distortion: float = attrs.field(metadata=unit("s"))


@attrs.frozen(kw_only=True, eq=False)
class BarrierFigures(Rebuilt):
    """A barrier as a whole: ratings of its weakest element, capacitances added, delays by purpose.

    Parameters
    ----------
    insulation : str
        Grade of its weakest element; empty: not known [-].
    withstand_voltage_rms : float
        Least withstand voltage for 60 s, RMS; NaN: not known [V].
    working_voltage_rms : float
        Least continuous working voltage, RMS; NaN: not known [V].
    working_voltage_peak : float
        Least continuous working voltage, peak; NaN: not known [V].
    impulse_voltage_peak : float
        Least impulse voltage; NaN: not known [V].
    surge_voltage_peak : float
        Least surge voltage; NaN: not known [V].
    clearance : float
        Least distance through air; NaN: not known [m].
    creepage : float
        Least distance along a surface; NaN: not known [m].
    transient_immunity : float
        Least slew through which every data path still communicates; NaN: not known [V/s].
    transient_immunity_static : float
        Least slew through which every data path holds its state; NaN: not known [V/s].
    capacitance : float
        Sum of the capacitances across it, nominal; NaN: not known [F].
    supply_share : float
        Share of the supply in that sum; NaN: not known [-].
    channels : tuple of ChannelFigures
        Its data paths by purpose [-].
    channel_skew : float
        Latest less earliest of the delays of transmit and enable, over tolerances: what one may lead the other by; NaN:
        not known, or only one of them is stated [s].
    missing : tuple
        Figures that are not known, with the elements that do not state them [-].
    """

    insulation: str
    withstand_voltage_rms: float = attrs.field(metadata=unit("V"))
    working_voltage_rms: float = attrs.field(metadata=unit("V"))
    working_voltage_peak: float = attrs.field(metadata=unit("V"))
    impulse_voltage_peak: float = attrs.field(metadata=unit("V"))
    surge_voltage_peak: float = attrs.field(metadata=unit("V"))
    clearance: float = attrs.field(metadata=unit("m"))
    creepage: float = attrs.field(metadata=unit("m"))
    transient_immunity: float = attrs.field(metadata=unit("V/s"))
    transient_immunity_static: float = attrs.field(metadata=unit("V/s"))
    capacitance: float = attrs.field(metadata=unit("F"))
    supply_share: float
    channels: tuple[ChannelFigures, ...]
    channel_skew: float = attrs.field(metadata=unit("s"))
    missing: Missing = ()


@attrs.frozen(kw_only=True, eq=False)
class BarrierComparison(Rebuilt):
    """Two barriers side by side.

    Parameters
    ----------
    first, second : BarrierFigures
        The two [-].
    """

    first: BarrierFigures
    second: BarrierFigures

    def to_records(self) -> list[dict[str, object]]:
        """Return one record for each figure: its name, unit, both values, and which is better where that is plain."""
        records: list[dict[str, object]] = []
        for field in attrs.fields(BarrierFigures):
            if field.name in ("channels", "missing", "supply_share"):
                continue
            values = getattr(self.first, field.name), getattr(self.second, field.name)
            records.append(_record(field.name, field.metadata.get("unit", ""), values))
        for purpose in PURPOSES:
            rows = [_of(purpose, each) for each in (self.first, self.second)]
            if any(rows):
                for name in ("delay", "pulse_distortion"):
                    both = tuple(math.nan if row is None else float(getattr(row, name)) for row in rows)
                    records.append(_record(f"{purpose} {name}", "s", both))
        return records


def _of(purpose: str, figures: BarrierFigures) -> ChannelFigures | None:
    return next((each for each in figures.channels if each.purpose == purpose), None)


_LESS_IS_BETTER = ("capacitance", "delay", "pulse_distortion", "channel_skew")


def _record(name: str, si: str, values: tuple[object, ...]) -> dict[str, object]:
    ranks: list[float] = []
    for value in values:
        if isinstance(value, str):
            ranks.append(float(GRADES.index(value)) if value in GRADES else math.nan)
        else:
            assert isinstance(value, float)
            ranks.append(value)
    better = ""
    if not any(map(math.isnan, ranks)) and ranks[0] != ranks[1]:
        less = name.rpartition(" ")[2] in _LESS_IS_BETTER
        better = "first" if (ranks[0] < ranks[1]) == less else "second"
    shown_values = [None if isinstance(value, float) and math.isnan(value) else value or None for value in values]
    return {"quantity": name, "unit": si, "first": shown_values[0], "second": shown_values[1], "better": better}


def compare_barriers(first: Barrier, second: Barrier) -> BarrierComparison:
    """Set two barriers side by side, each as a whole.

    Parameters
    ----------
    first, second : Barrier
        The two, such as one of several parts and an integrated one [-].

    Returns
    -------
    BarrierComparison
        What each comes to [-].

    Raises
    ------
    InputError
        If one of them is no Barrier.

    Notes
    -----
    See `barrier_figures`. A better figure is no better barrier: each is held against the demands of its place, see
    `insulation` and `transient_immunity`.

    References
    ----------
    Elements in parallel: the weakest decides, and capacitances add.

    Examples
    --------
    >>> import rs485kit as rk
    >>> isolator = rk.catalogue.isolator("generic.reinforced-5000-v")
    >>> module, integrated = (rk.catalogue.isolated_supply(f"generic.{name}") for name in ("one-watt", "two-watt"))
    >>> both = rk.analysis.compare_barriers(rk.Barrier(isolator=isolator, supply=module),
    ...                                     rk.Barrier(isolator=isolator, supply=integrated))
    >>> both.first.insulation, both.second.insulation
    ('functional', 'reinforced')
    """
    return BarrierComparison(first=barrier_figures(first), second=barrier_figures(second))


def barrier_figures(barrier: Barrier) -> BarrierFigures:
    """Return what a barrier as a whole comes to.

    Parameters
    ----------
    barrier : Barrier
        The barrier [-].

    Returns
    -------
    BarrierFigures
        Ratings, capacitance and delays [V, m, V/s, F, s].

    Raises
    ------
    InputError
        If it is no Barrier.

    Notes
    -----
    All elements bridge the same barrier, so that each rating is the least of them, and one that a part does not state
    is not known for the whole. A board or a connector counts for what it states: without a working voltage of its own
    it is rated by its distances alone. Capacitances add. Of several channels of a purpose the worst counts.

    References
    ----------
    Elements in parallel. That a supply carries 40 of 41 pF: capacitances of data sheets, see the page on insulation.

    Examples
    --------
    >>> import rs485kit as rk
    >>> barrier = rk.Barrier(isolator=rk.Isolator(name="data", capacitance="1 pF", withstand_voltage_rms="5 kV"),
    ...                      supply=rk.IsolatedSupply(name="module", capacitance="40 pF", withstand_voltage_rms="1 kV"))
    >>> figures = rk.analysis.barrier_figures(barrier)
    >>> figures.withstand_voltage_rms, round(figures.supply_share, 3)
    (1000.0, 0.976)
    """
    if not isinstance(barrier, Barrier):
        raise InputError(Problem("barrier_figures", shown(barrier), "a Barrier"))
    elements = elements_of(barrier)
    missing: list[tuple[str, str]] = []
    ratings = {name: least(elements, name, missing) for name in RATINGS}
    grades = [(each, grade_of(each)) for each in elements]
    missing += [("insulation", each.place) for each, grade in grades if grade == "" and not is_passive(each)]
    known = [grade for each, grade in grades if grade or not is_passive(each)]
    total, supply = capacitance_of(elements, missing)
    channels = tuple(_channels(purpose, elements) for purpose in PURPOSES if _of_purpose(purpose, elements))
    return BarrierFigures(
        insulation=min(known, key=GRADES.index) if known and all(known) else "",
        **ratings,
        capacitance=total,
        supply_share=supply / total if total else math.nan,
        channels=channels,
        channel_skew=_skew(elements),
        missing=tuple(missing),
    )


RATINGS = (
    "withstand_voltage_rms", "working_voltage_rms", "working_voltage_peak", "impulse_voltage_peak",
    "surge_voltage_peak", "clearance", "creepage", "transient_immunity", "transient_immunity_static",
)  # fmt: skip
OF_DATA = ("transient_immunity", "transient_immunity_static")
OF_DISTANCE = ("clearance", "creepage")


def grade_of(element: Element) -> str:
    """Return the grade that an element states; empty: none."""
    return "" if element.part is None or element.part.insulation is None else element.part.insulation


def rated(element: Element, name: str) -> float | None:
    """Return a rating of an element; None where it has none to state, NaN where it does not state it."""
    if element.part is None:
        return None if name in OF_DATA and element.place == "supply" else math.nan
    if name in OF_DATA and not isinstance(element.part, Isolator):
        return None
    value = getattr(element.part, name)
    if value is None:
        return None if is_passive(element) and name not in OF_DISTANCE else math.nan
    return float(value)


def least(elements: Iterable[Element], name: str, missing: list[tuple[str, str]]) -> float:
    """Return the least of a rating over elements; NaN, and a note, where one does not state it."""
    values = [(each.place, rated(each, name)) for each in elements]
    dark = [(name, place) for place, value in values if value is not None and math.isnan(value)]
    missing += dark
    stated = [value for _, value in values if value is not None]
    return math.nan if dark or not stated else min(stated)


def capacitance_of(elements: Iterable[Element], missing: list[tuple[str, str]]) -> tuple[float, float]:
    """Return the sum of the capacitances, and the part of the supply in it."""
    total, supply = 0.0, 0.0
    for each in elements:
        spread = None if each.part is None else each.part.capacitance
        if spread is None:
            if not is_passive(each):
                missing.append(("capacitance", each.place))
                total = math.nan
            continue
        farads = math.nan if spread.nominal is None else spread.nominal
        total += farads
        supply = farads if each.place == "supply" else supply
    return total, supply


def _of_purpose(purpose: str, elements: Iterable[Element]) -> list[Channel]:
    parts = [each.part for each in elements if isinstance(each.part, Isolator)]
    return [channel for part in parts for channel in part.channels if channel.purpose == purpose]


def _channels(purpose: str, elements: Iterable[Element]) -> ChannelFigures:
    found = _of_purpose(purpose, elements)
    bounds = [_delays(channel) for channel in found]
    distortion = [math.nan if each.pulse_distortion is None else each.pulse_distortion for each in found]
    return ChannelFigures(
        purpose=purpose,
        delay=_worst(high for _, high in bounds),
        delay_spread=_worst(high - low for low, high in bounds),
        pulse_distortion=_worst(distortion),
    )


def _delays(channel: Channel) -> tuple[float, float]:
    """Return the shortest and the longest delay; NaN where it has no limit of that side."""
    if channel.delay is None:
        return math.nan, math.nan
    low, high = channel.delay.min, channel.delay.max
    return (math.nan if low is None else low), (math.nan if high is None else high)


def _worst(values: Iterable[float]) -> float:
    every = list(values)
    return math.nan if any(map(math.isnan, every)) else max(every, default=math.nan)


def _skew(elements: Iterable[Element]) -> float:
    every = list(elements)
    bounds = [[_delays(channel) for channel in _of_purpose(each, every)] for each in ("transmit", "enable")]
    if not all(bounds):
        return math.nan
    data, enable = bounds
    return _worst(
        max(high_a - low_b, high_b - low_a) for low_a, high_a in data for low_b, high_b in enable
    )
