"""Standard data rates: at which of them every path of a bus has a margin left."""

import math
from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np

from rs485kit.analysis.bit_time import BitTimings, timings_of
from rs485kit.analysis.results import Array, Missing, Rebuilt, read_only, record_of, unit
from rs485kit.analysis.signal_lines import signal_lines
from rs485kit.errors import InputError, MissingDataError, Problem, SolveError, UnknownNameError, shown
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Link
from rs485kit.model.base import Viewed

STANDARD_RATES = (
    1200.0, 2400.0, 4800.0, 9600.0, 19200.0, 31250.0, 38400.0, 57600.0, 76800.0, 93750.0, 115200.0, 187500.0, 230400.0,
    250e3, 460800.0, 500e3, 921600.0, 1e6, 1.5e6, 2e6, 3e6, 6e6, 12e6,
)  # fmt: skip
"""Data rates that serial controllers and field buses offer; common practice [bit/s]."""
LOWEST_RATE, HIGHEST_RATE = 45.0, 1e9


@attrs.frozen(kw_only=True)
class DataRate(Viewed):
    """What is left of a bit at one data rate.

    Parameters
    ----------
    data_rate : float
        The data rate [bit/s].
    margin : float
        Least margin of any path, in unit intervals; NaN where it cannot be told [-].
    driver : str
        Driver of the path with that margin; empty where none is known [-].
    receiver : str
        Its receiver [-].
    rated : bool or None
        Whether every transceiver is rated for it; None: one states no rating [-].
    """

    data_rate: float = attrs.field(metadata=unit("bit/s"))
    margin: float
    driver: str
    receiver: str
    rated: bool | None


@attrs.frozen(kw_only=True, eq=False)
class DataRates(Rebuilt):
    """What is left of a bit at some data rates, one row each.

    Parameters
    ----------
    data_rate : array
        The data rates [bit/s].
    margin : array
        Least margin of any path at each, in unit intervals; NaN where it cannot be told [-].
    drivers, receivers : tuple of str
        The path with that margin; empty where none is known [-].
    rated : tuple of bool or None
        Whether every transceiver is rated for it; None: one states no rating [-].
    missing : tuple
        Rows and fields that the bus does not state, and rates that could not be solved [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    data_rate: Array = attrs.field(converter=read_only, metadata=unit("bit/s"))
    margin: Array = attrs.field(converter=read_only)
    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    rated: tuple[bool | None, ...]
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @property
    def passing(self) -> tuple[float, ...]:
        """The data rates at which every path has a margin and no part is beyond its rating [bit/s]."""
        rows = zip(self.data_rate.tolist(), self.margin.tolist(), self.rated, strict=True)
        return tuple(rate for rate, margin, rated in rows if margin > 0 and rated is not False)

    def __len__(self) -> int:
        return len(self.data_rate)

    def __iter__(self) -> Iterator[DataRate]:
        return (self._row(index) for index in range(len(self)))

    def at(self, data_rate: float) -> DataRate:
        """Return the row of a data rate.

        Parameters
        ----------
        data_rate : float
            The data rate [bit/s].

        Returns
        -------
        DataRate
            The row [-].

        Raises
        ------
        UnknownNameError
            If it was not looked at.
        """
        rates = self.data_rate.tolist()
        if data_rate not in rates:
            listed = ", ".join(f"{rate:g}" for rate in rates)
            raise UnknownNameError("data rate", str(data_rate), (), f"the rows are {listed}")
        return self._row(rates.index(data_rate))

    def to_records(self) -> list[dict[str, Any]]:
        """Return the rows as flat records whose keys carry the units."""
        return [record_of(row) for row in self]

    def _row(self, index: int) -> DataRate:
        return DataRate(
            data_rate=float(self.data_rate[index]), margin=float(self.margin[index]), driver=self.drivers[index],
            receiver=self.receivers[index], rated=self.rated[index],
        )  # fmt: skip


@as_analysis()
def data_rates(analyses: Analyses, *, rates: tuple[float, ...] = STANDARD_RATES) -> DataRates:
    """Return at which data rates every path of a bus has a margin left of the bit.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus; whether it states a data rate does not matter [-].
    rates : tuple of float
        Data rates to look at [bit/s].

    Returns
    -------
    DataRates
        A row per data rate [-].

    Raises
    ------
    MissingDataError
        If nobody hears anybody, or the bus does not state a figure that every path depends on.
    InputError
        If the rates are none, or out of range.

    Notes
    -----
    `bit_timing` at each of them, all of the bus else unchanged. The answer is a set and not a highest rate: reflections
    meet the samples at one rate and miss them at a higher one. What is assumed as a share of a bit (skews that nobody
    states) is assumed of the bit at that rate. A path from a node to itself is not looked at.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
    ...                       driver_edge_time="20 ns", receiver_upper_threshold="200 mV",
    ...                       receiver_lower_threshold="-200 mV", driver_skew="5 ns", receiver_skew="5 ns")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> ends = [rk.Node(name=name, transceiver=part, terminations=rk.Termination(resistance="120 ohm"))
    ...         for name in ("head", "tail")]
    >>> found = rk.analysis.data_rates(rk.daisy_chain(ends, spacing="600 m", cable=pair), rates=(115200.0, 12e6))
    >>> found.passing
    (115200.0,)
    """
    _refuse_strange(rates)
    lines = signal_lines(analyses)
    bus = analyses.bus
    if not any(driver != receiver for driver in lines.drivers for receiver in lines.receivers):
        raise MissingDataError("data rates", ("a node that drives and another one that listens",))
    ratings = _ratings(bus)
    rows: list[tuple[float, str, str]] = []
    missing: dict[tuple[str, str], None] = {}
    assumed: dict[str, None] = {}
    for rate in rates:
        link = Link(data_rate=rate) if bus.link is None else attrs.evolve(bus.link, data_rate=rate)
        try:
            found = timings_of(attrs.evolve(bus, link=link), (lines,), 1.0 / rate, "nominal")
        except SolveError as error:
            missing[f"{rate:g} bit/s", str(error)] = None
            rows.append((math.nan, "", ""))
            continue
        missing |= dict.fromkeys(found.missing)
        assumed |= dict.fromkeys(found.assumed)
        rows.append(_worst(found))
    rated = tuple(_is_rated(ratings, rate) for rate in rates)
    return DataRates(
        data_rate=rates, margin=[margin for margin, _, _ in rows], drivers=tuple(row[1] for row in rows),
        receivers=tuple(row[2] for row in rows), rated=rated, missing=tuple(missing), assumed=tuple(assumed),
    )  # fmt: skip


def _ratings(bus: Bus) -> tuple[float | None, ...]:
    return tuple(
        node.transceiver.max_data_rate
        for node in bus.nodes
        if node.transceiver is not None and (node.drives or node.receives)
    )


def _is_rated(ratings: tuple[float | None, ...], rate: float) -> bool | None:
    """Return whether all parts are rated for a data rate; None where one that states no rating decides."""
    if any(each is not None and rate > each for each in ratings):
        return False
    return None if None in ratings else True


def _worst(found: BitTimings) -> tuple[float, str, str]:
    """Return the least margin of any path between two nodes, NaN where one is not known though cable joins it."""
    apart = np.array([[driver != receiver for receiver in found.receivers] for driver in found.drivers])
    known = apart & ~np.isnan(found.margin)
    if not known.any():
        return math.nan, "", ""
    values = np.where(known, found.margin, np.inf)
    driver, receiver = np.unravel_index(int(values.argmin()), values.shape)
    return float(values[driver, receiver]), found.drivers[int(driver)], found.receivers[int(receiver)]


def _refuse_strange(rates: tuple[float, ...]) -> None:
    if not isinstance(rates, tuple) or not rates:
        raise InputError(Problem("rates", shown(rates), "a tuple of data rates in bit/s"))
    for rate in rates:
        number = isinstance(rate, int | float) and not isinstance(rate, bool)
        if not number or not LOWEST_RATE <= rate <= HIGHEST_RATE:
            wanted = f"data rates from {LOWEST_RATE:g} to {HIGHEST_RATE:g} bit/s"
            raise InputError(Problem("rates", shown(rate), wanted))
