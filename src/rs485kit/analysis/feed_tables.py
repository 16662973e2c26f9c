"""What `feed_levels` returns: fed devices, conductors, feeding points, and how far the minus is lifted."""

import difflib
from collections.abc import Iterator

import attrs
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerNode, Rebuilt, read_only, record_of, unit
from rs485kit.analysis.termination_tables import Limits, LimitsOfAll
from rs485kit.errors import UnknownNameError
from rs485kit.model.base import Viewed


def limits_at(figures: LimitsOfAll, index: int) -> Limits:
    """Return one row of figures with limits.

    Parameters
    ----------
    figures : LimitsOfAll
        The figures [unit of the figure].
    index : int
        Number of the row [-].

    Returns
    -------
    Limits
        The row [unit of the figure].
    """
    return Limits(
        lower=float(figures.lower[index]), nominal=float(figures.nominal[index]), upper=float(figures.upper[index])
    )


@attrs.frozen(kw_only=True)
class FedDevice(Viewed):
    """One device that the feed conductors supply.

    Parameters
    ----------
    node : str
        Name of the node [-].
    voltage : Limits
        Voltage between its plus and minus; nominal is the least over whoever talks [V].
    current : Limits
        Current that it draws; nominal at its nominal voltage [A].
    minimum_voltage : float
        Voltage below which it stops; NaN if unknown [V].
    restart_voltage : float
        Voltage from which it starts again; NaN if unknown [V].
    starting_voltage : float
        Least voltage while all that limit their inrush draw it at once; NaN where none does [V].
    running : bool
        Whether it runs, with every figure nominal [-].
    surely_running : bool
        Whether it is proved to run over all tolerances and whoever talks [-].
    margin : float
        What is nominally left to its minimum [V].
    """

    node: str
    voltage: Limits = attrs.field(metadata=unit("V"))
    current: Limits = attrs.field(metadata=unit("A"))
    minimum_voltage: float = attrs.field(metadata=unit("V"))
    restart_voltage: float = attrs.field(metadata=unit("V"))
    starting_voltage: float = attrs.field(metadata=unit("V"))
    running: bool
    surely_running: bool
    margin: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class FedDevices(PerNode[FedDevice]):
    """The devices that the feed conductors supply.

    Parameters
    ----------
    nodes : tuple of str
        The devices, in bus order [-].
    voltage : LimitsOfAll
        Voltage between plus and minus of each; nominal is the least over whoever talks [V].
    current : LimitsOfAll
        Current that each draws [A].
    minimum_voltage, restart_voltage, starting_voltage : array
        See `FedDevice` [V].
    running, surely_running : tuple of bool
        Whether each runs nominally, and whether that is proved over all tolerances [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    """

    nodes: tuple[str, ...]
    voltage: LimitsOfAll = attrs.field(metadata=unit("V"))
    current: LimitsOfAll = attrs.field(metadata=unit("A"))
    minimum_voltage: Array = attrs.field(converter=read_only, metadata=unit("V"))
    restart_voltage: Array = attrs.field(converter=read_only, metadata=unit("V"))
    starting_voltage: Array = attrs.field(converter=read_only, metadata=unit("V"))
    running: tuple[bool, ...]
    surely_running: tuple[bool, ...]
    missing: Missing = ()

    @override
    def _margin(self, index: int) -> float:
        return float(self.voltage.nominal[index] - self.minimum_voltage[index])

    @override
    def _row(self, index: int) -> FedDevice:
        return FedDevice(
            node=self.nodes[index],
            voltage=limits_at(self.voltage, index),
            current=limits_at(self.current, index),
            minimum_voltage=float(self.minimum_voltage[index]),
            restart_voltage=float(self.restart_voltage[index]),
            starting_voltage=float(self.starting_voltage[index]),
            running=self.running[index],
            surely_running=self.surely_running[index],
            margin=self._margin(index),
        )


@attrs.frozen(kw_only=True)
class FeedSpan(Viewed):
    """The feed conductors of one segment.

    Parameters
    ----------
    start, end : str
        Names of the nodes at its ends [-].
    current : Limits
        Largest current of plus or minus, its wires together, over whoever talks [A].
    current_rating : float
        What its wires may carry together; NaN if not stated [A].
    heat : float
        What plus and minus turn into heat, with every figure nominal [W].
    """

    start: str
    end: str
    current: Limits = attrs.field(metadata=unit("A"))
    current_rating: float = attrs.field(metadata=unit("A"))
    heat: float = attrs.field(metadata=unit("W"))


@attrs.frozen(kw_only=True, eq=False)
class FeedSpans(Rebuilt):
    """The segments that carry feed conductors.

    Parameters
    ----------
    ends : tuple of (str, str)
        Start and end of each [-].
    current : LimitsOfAll
        Largest current of plus or minus of each, its wires together [A].
    current_rating : array
        What the wires of each may carry together; NaN if not stated [A].
    heat : array
        What plus and minus of each turn into heat, nominally [W].
    """

    ends: tuple[tuple[str, str], ...]
    current: LimitsOfAll = attrs.field(metadata=unit("A"))
    current_rating: Array = attrs.field(converter=read_only, metadata=unit("A"))
    heat: Array = attrs.field(converter=read_only, metadata=unit("W"))

    def __len__(self) -> int:
        return len(self.ends)

    def __iter__(self) -> Iterator[FeedSpan]:
        return (self._row(index) for index in range(len(self)))

    def _row(self, index: int) -> FeedSpan:
        start, end = self.ends[index]
        return FeedSpan(
            start=start, end=end, current=limits_at(self.current, index),
            current_rating=float(self.current_rating[index]), heat=float(self.heat[index]),
        )  # fmt: skip

    def between(self, start: str, end: str) -> FeedSpan:
        """Return the row of a segment; its ends may be named in either order.

        Parameters
        ----------
        start, end : str
            Names of the nodes at its ends [-].

        Returns
        -------
        FeedSpan
            The row [-].

        Raises
        ------
        UnknownNameError
            If no feed conductors join the two; near names are offered.
        """
        for index, ends in enumerate(self.ends):
            if ends in ((start, end), (end, start)):
                return self._row(index)
        names = [f"{first} - {second}" for first, second in self.ends]
        asked = f"{start} - {end}"
        near = tuple(difflib.get_close_matches(asked, names, n=3))
        raise UnknownNameError("segment with feed conductors", asked, near, "a row is a segment with a feed")

    def to_records(self) -> list[dict[str, object]]:
        """Return the rows as flat records whose keys carry the units."""
        return [record_of(row) for row in self]


@attrs.frozen(kw_only=True)
class FeedingPoint(Viewed):
    """One supply that feeds the conductors.

    Parameters
    ----------
    node : str
        Name of the node [-].
    current : Limits
        Current that it gives; nominal is the largest over whoever talks [A].
    current_limit : float
        Current at which it limits; NaN if unknown [A].
    fuse : float
        Rated current of its fuse; NaN if none is stated [A].
    conductor_rating : float
        The least that wires which it feeds may carry; NaN if a segment does not state it [A].
    inrush : float
        What it cannot be asked for more than at switching on; NaN if a device does not state what that needs [A].
    inrush_current : float
        What it bears for a moment; NaN if not stated [A].
    charge : float
        Largest charge that the inputs take at switching on; NaN if one does not state its capacitance [C].
    margin : float
        What is nominally left to its limit [A].
    """

    node: str
    current: Limits = attrs.field(metadata=unit("A"))
    current_limit: float = attrs.field(metadata=unit("A"))
    fuse: float = attrs.field(metadata=unit("A"))
    conductor_rating: float = attrs.field(metadata=unit("A"))
    inrush: float = attrs.field(metadata=unit("A"))
    inrush_current: float = attrs.field(metadata=unit("A"))
    charge: float = attrs.field(metadata=unit("C"))
    margin: float = attrs.field(metadata=unit("A"))


@attrs.frozen(kw_only=True, eq=False)
class FeedingPoints(PerNode[FeedingPoint]):
    """The supplies that feed the conductors.

    Parameters
    ----------
    nodes : tuple of str
        Their nodes, in bus order [-].
    current : LimitsOfAll
        Current that each gives [A].
    current_limit, fuse, conductor_rating, inrush, inrush_current : array
        See `FeedingPoint` [A].
    charge : array
        See `FeedingPoint` [C].
    missing : tuple
        Rows and fields that the bus does not state [-].
    """

    nodes: tuple[str, ...]
    current: LimitsOfAll = attrs.field(metadata=unit("A"))
    current_limit: Array = attrs.field(converter=read_only, metadata=unit("A"))
    fuse: Array = attrs.field(converter=read_only, metadata=unit("A"))
    conductor_rating: Array = attrs.field(converter=read_only, metadata=unit("A"))
    inrush: Array = attrs.field(converter=read_only, metadata=unit("A"))
    inrush_current: Array = attrs.field(converter=read_only, metadata=unit("A"))
    charge: Array = attrs.field(converter=read_only, metadata=unit("C"))
    missing: Missing = ()

    @override
    def _margin(self, index: int) -> float:
        return float(self.current_limit[index] - self.current.nominal[index])

    @override
    def _row(self, index: int) -> FeedingPoint:
        columns = ("current_limit", "fuse", "conductor_rating", "inrush", "inrush_current", "charge")
        return FeedingPoint(
            node=self.nodes[index], current=limits_at(self.current, index), margin=self._margin(index),
            **{name: float(getattr(self, name)[index]) for name in columns},
        )  # fmt: skip


@attrs.frozen(kw_only=True)
class FeedGround(Viewed):
    """How far the feed lifts the minus at one place.

    Parameters
    ----------
    node : str
        Name of the node [-].
    shift : Limits
        Voltage of the minus there that the feed alone makes, against the earth of the minus, or where it has none
        against the minus of the feeding point of the first name [V].
    common : bool
        Whether the node's bus-side common is that minus: by a common return, or for want of a barrier [-].
    """

    node: str
    shift: Limits = attrs.field(metadata=unit("V"))
    common: bool


@attrs.frozen(kw_only=True, eq=False)
class FeedGrounds(PerNode[FeedGround]):
    """How far the feed lifts the minus at every place that it touches.

    Parameters
    ----------
    nodes : tuple of str
        The places, in bus order [-].
    shift : LimitsOfAll
        Voltage of the minus at each that the feed alone makes [V].
    common : tuple of bool
        Whether the bus-side common of each is that minus [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    """

    nodes: tuple[str, ...]
    shift: LimitsOfAll = attrs.field(metadata=unit("V"))
    common: tuple[bool, ...]
    missing: Missing = ()

    @override
    def _margin(self, index: int) -> float:
        return -abs(float(self.shift.nominal[index]))

    @override
    def _row(self, index: int) -> FeedGround:
        return FeedGround(
            node=self.nodes[index], shift=limits_at(self.shift, index), common=self.common[index]
        )


@attrs.frozen(kw_only=True, eq=False)
class FeedLevels(Rebuilt):
    """What becomes of a feed over the cable.

    Parameters
    ----------
    devices : FedDevices
        The devices [V, A].
    spans : FeedSpans
        The conductors [A, W].
    sources : FeedingPoints
        The feeding points [A].
    grounds : FeedGrounds
        How far the minus is lifted [V].
    load_factor : Limits
        By how much everything that all devices draw, with the heaviest talker, may grow before one stops; below 1 where
        not all of them run. `lower` holds over all tolerances [-].
    first_to_stop : str
        The device that stops when the loads grow past `load_factor`; "" where there is none [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    unstated : tuple of str
        Limits without which no bound can be given [-].
    """

    devices: FedDevices
    spans: FeedSpans
    sources: FeedingPoints
    grounds: FeedGrounds
    load_factor: Limits = attrs.field(metadata=unit(""))
    first_to_stop: str
    assumed: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()

    @property
    def all_running(self) -> bool:
        """Whether every device runs, with every figure nominal."""
        return all(self.devices.running)


