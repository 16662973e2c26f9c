"""What common mode comes to: tables of receivers, spans, bonds, links of commons and barriers."""

import difflib
import math
from collections.abc import Iterator
from typing import Any, Generic, TypeVar

import attrs
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerNode, Rebuilt, read_only, record_of, unit
from rs485kit.errors import UnknownNameError
from rs485kit.model.base import Viewed
from rs485kit.network.galvanic import Island

Row = TypeVar("Row")


@attrs.frozen(kw_only=True)
class ReceiverCommonMode(Viewed):
    """What the lines of one receiver stand at against its own common, over idle and every driver's mark and space.

    Parameters
    ----------
    node : str
        Name of the node [-].
    lowest_nominal, highest_nominal : float
        Least and greatest nominal voltage of either line, mains-frequency peaks included [V].
    lowest, highest : float
        Proved limits of the same over all tolerances; NaN where one is not stated [V].
    mean_lowest, mean_highest : float
        Least and greatest nominal mean of the two lines, direct current alone [V].
    mains : float
        Greatest mains-frequency voltage of either line, RMS [V].
    driver_lowest, driver_highest : str
        Who drives at the least and the greatest; "" is nobody [-].
    limit_lowest, limit_highest : float
        Range over which the part receives [V].
    margin : float
        What is nominally left to the nearer end of the range [V].
    """

    node: str
    lowest_nominal: float = attrs.field(metadata=unit("V"))
    highest_nominal: float = attrs.field(metadata=unit("V"))
    lowest: float = attrs.field(metadata=unit("V"))
    highest: float = attrs.field(metadata=unit("V"))
    mean_lowest: float = attrs.field(metadata=unit("V"))
    mean_highest: float = attrs.field(metadata=unit("V"))
    mains: float = attrs.field(metadata=unit("V"))
    driver_lowest: str
    driver_highest: str
    limit_lowest: float = attrs.field(metadata=unit("V"))
    limit_highest: float = attrs.field(metadata=unit("V"))
    margin: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True, eq=False)
class ReceiversCommonMode(PerNode[ReceiverCommonMode]):
    """What the lines of all receivers stand at against their own commons; the columns are those of the row.

    Parameters
    ----------
    nodes : tuple of str
        The receivers, in bus order [-].
    lowest_nominal, highest_nominal, lowest, highest, mean_lowest, mean_highest, mains : array
        See `ReceiverCommonMode` [V].
    driver_lowest, driver_highest : tuple of str
        Who drives at the least and the greatest; "" is nobody [-].
    limit_lowest, limit_highest : array
        Range over which each part receives [V].
    missing : tuple
        Rows that cannot be told, with the reason [-].
    """

    nodes: tuple[str, ...]
    lowest_nominal: Array = attrs.field(converter=read_only, metadata=unit("V"))
    highest_nominal: Array = attrs.field(converter=read_only, metadata=unit("V"))
    lowest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    highest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    mean_lowest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    mean_highest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    mains: Array = attrs.field(converter=read_only, metadata=unit("V"))
    driver_lowest: tuple[str, ...]
    driver_highest: tuple[str, ...]
    limit_lowest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    limit_highest: Array = attrs.field(converter=read_only, metadata=unit("V"))
    missing: Missing = ()

    @override
    def _margin(self, index: int) -> float:
        low = float(self.lowest_nominal[index] - self.limit_lowest[index])
        high = float(self.limit_highest[index] - self.highest_nominal[index])
        return math.nan if math.isnan(low + high) else min(low, high)

    @override
    def _row(self, index: int) -> ReceiverCommonMode:
        values: dict[str, Any] = {"node": self.nodes[index], "margin": self._margin(index)}
        for field in attrs.fields(ReceiverCommonMode):
            if field.name not in values:
                value = getattr(self, field.name)[index]
                values[field.name] = value if isinstance(value, str) else float(value)
        return ReceiverCommonMode(**values)


@attrs.frozen(kw_only=True)
class SpanCurrent(Viewed):
    """Currents along a segment's reference conductor and shield, nominal, with nobody driving; positive to its end.

    Parameters
    ----------
    start, end : str
        Names of the nodes at its ends [-].
    reference, reference_mains : float
        Direct current, and mains-frequency current RMS, in the reference conductor; 0 where there is none [A].
    shield, shield_mains : float
        The same in a shield that is a conductor of its own [A].
    """

    start: str
    end: str
    reference: float = attrs.field(metadata=unit("A"))
    reference_mains: float = attrs.field(metadata=unit("A"))
    shield: float = attrs.field(metadata=unit("A"))
    shield_mains: float = attrs.field(metadata=unit("A"))


@attrs.frozen(kw_only=True)
class BondCurrent(Viewed):
    """Current through one bond, nominal, with nobody driving; positive into the earth.

    Parameters
    ----------
    node, earth : str
        Between which it is [-].
    conductor : str
        What it earths: "common" or "shield" [-].
    cause : str
        What makes it: "bond", "no barrier", "shield bond", or the name of a further bond [-].
    current, mains : float
        Direct current, and mains-frequency current RMS; NaN where what limits it is not stated [A].
    """

    node: str
    earth: str
    conductor: str
    cause: str
    current: float = attrs.field(metadata=unit("A"))
    mains: float = attrs.field(metadata=unit("A"))


@attrs.frozen(kw_only=True)
class LinkHeat(Viewed):
    """Current and heat in the resistor between a node's common and the reference conductor, with nobody driving.

    Parameters
    ----------
    node : str
        Name of the node [-].
    current, mains : float
        Direct current, and mains-frequency current RMS [A].
    heat : float
        Heat of both together [W].
    power : float
        What the resistor is rated for; NaN where it is not stated [W].
    """

    node: str
    current: float = attrs.field(metadata=unit("A"))
    mains: float = attrs.field(metadata=unit("A"))
    heat: float = attrs.field(metadata=unit("W"))
    power: float = attrs.field(metadata=unit("W"))


@attrs.frozen(kw_only=True)
class BarrierVoltage(Viewed):
    """Voltage across one barrier by the difference of earths, bus side less field side, with nobody driving.

    Parameters
    ----------
    node : str
        Name of the node [-].
    earth : str
        Name of the earth of its field side; "" is not stated [-].
    voltage, lower, upper : float
        Direct voltage, nominal and its limits. A side that floats has no nominal: its limits are those of what it can
        leak to [V].
    mains : float
        Mains-frequency voltage, RMS; NaN where the bus side floats [V].
    peak : float
        Greatest magnitude of both together, from limits and crest factor [V].
    mains_estimate : float
        Mains-frequency voltage by the capacitances alone where the bus side floats, RMS; NaN where one of them is not
        stated [V].
    capacitance : float
        What is stated across it; NaN where a part's is not [F].
    leakage : float
        Mains-frequency current through that, RMS: of the difference of earths or, where it is more, of the working
        voltage of the circuit [A].
    """

    node: str
    earth: str
    voltage: float = attrs.field(metadata=unit("V"))
    lower: float = attrs.field(metadata=unit("V"))
    upper: float = attrs.field(metadata=unit("V"))
    mains: float = attrs.field(metadata=unit("V"))
    peak: float = attrs.field(metadata=unit("V"))
    mains_estimate: float = attrs.field(metadata=unit("V"))
    capacitance: float = attrs.field(metadata=unit("F"))
    leakage: float = attrs.field(metadata=unit("A"))


class Listed(Rebuilt, Generic[Row]):
    """A table of rows that are objects."""

    __slots__ = ()

    rows: tuple[Row, ...]

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)

    def _magnitude(self, row: Row) -> float:
        raise NotImplementedError

    @property
    def worst(self) -> Row:
        """The row with the greatest figure; one that is not known counts as worst.

        Raises
        ------
        UnknownNameError
            If the table has no row.
        """
        if not self.rows:
            raise UnknownNameError("row", "worst", (), "the table has no row")
        sizes = [self._magnitude(row) for row in self.rows]
        return self.rows[max(range(len(sizes)), key=lambda i: (math.isnan(sizes[i]), sizes[i]))]

    def at(self, node: str) -> Row:
        """Return the row of a node.

        Parameters
        ----------
        node : str
            Name of the node [-].

        Returns
        -------
        row
            The first row of it [-].

        Raises
        ------
        UnknownNameError
            If the table has no such row; near names are offered.
        """
        names = tuple(getattr(row, "node", "") for row in self.rows)
        if node not in names:
            near = tuple(difflib.get_close_matches(str(node), names, n=3))
            raise UnknownNameError("row", str(node), near, "the rows are of other nodes")
        return self.rows[names.index(node)]

    def to_records(self) -> list[dict[str, Any]]:
        """Return the rows as flat records whose keys carry the units."""
        return [record_of(row) for row in self.rows]


@attrs.frozen(kw_only=True, eq=False)
class SpanCurrents(Listed[SpanCurrent]):
    """Currents along the segments, in bus order.

    Parameters
    ----------
    rows : tuple of SpanCurrent
        The rows [-].
    """

    rows: tuple[SpanCurrent, ...]

    @override
    def _magnitude(self, row: SpanCurrent) -> float:
        return max(math.hypot(row.reference, row.reference_mains), math.hypot(row.shield, row.shield_mains))

    def between(self, a: str, b: str) -> SpanCurrent:
        """Return the row of a segment.

        Parameters
        ----------
        a, b : str
            Names of the nodes at its ends, in either order [-].

        Returns
        -------
        SpanCurrent
            The row [-].

        Raises
        ------
        UnknownNameError
            If no segment runs between the two.
        """
        for row in self.rows:
            if {row.start, row.end} == {a, b}:
                return row
        raise UnknownNameError("segment", f"{a} - {b}", (), "no segment runs between the two")


@attrs.frozen(kw_only=True, eq=False)
class BondCurrents(Listed[BondCurrent]):
    """Currents through the bonds.

    Parameters
    ----------
    rows : tuple of BondCurrent
        The rows, in bus order [-].
    """

    rows: tuple[BondCurrent, ...]

    @override
    def _magnitude(self, row: BondCurrent) -> float:
        return math.hypot(row.current, row.mains)


@attrs.frozen(kw_only=True, eq=False)
class LinkHeats(Listed[LinkHeat]):
    """Currents and heat in the resistors between commons and the reference conductor.

    Parameters
    ----------
    rows : tuple of LinkHeat
        The rows, in bus order [-].
    """

    rows: tuple[LinkHeat, ...]

    @override
    def _magnitude(self, row: LinkHeat) -> float:
        return row.heat


@attrs.frozen(kw_only=True, eq=False)
class BarrierVoltages(Listed[BarrierVoltage]):
    """Voltages across the barriers.

    Parameters
    ----------
    rows : tuple of BarrierVoltage
        The rows, in bus order [-].
    missing : tuple
        Rows that cannot be told, with the reason [-].
    """

    rows: tuple[BarrierVoltage, ...]
    missing: Missing = ()

    @override
    def _magnitude(self, row: BarrierVoltage) -> float:
        return row.peak


@attrs.frozen(kw_only=True, eq=False)
class CommonMode(Rebuilt):
    """Where every volt between two earths goes.

    Parameters
    ----------
    receivers : ReceiversCommonMode
        Lines against commons [-].
    spans : SpanCurrents
        Currents along reference conductor and shield [-].
    bonds : BondCurrents
        Currents into the earths [-].
    links : LinkHeats
        Resistors between commons and reference conductor [-].
    barriers : BarrierVoltages
        Voltages across barriers [-].
    islands : tuple of Island
        What hangs together by metal [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    unstated : tuple of str
        Limits without which no bound can be given [-].
    """

    receivers: ReceiversCommonMode
    spans: SpanCurrents
    bonds: BondCurrents
    links: LinkHeats
    barriers: BarrierVoltages
    islands: tuple[Island, ...]
    assumed: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()
