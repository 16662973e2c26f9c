"""Loading: how many unit loads hang on the pair."""

import math
from typing import NamedTuple

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerNode, read_only, unit
from rs485kit.formulas import limits
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Node
from rs485kit.model.base import Viewed
from rs485kit.network.branches import Notes, legs_of


@attrs.frozen(kw_only=True)
class UnitLoad(Viewed):
    """Unit loads of one node.

    Parameters
    ----------
    node : str
        Name of the node [-].
    receiver : float
        Unit loads of its receiver inputs, as its datasheet states them; 0 for a passive place [-].
    custom : float
        Unit loads of the more loaded line with every leg counted as 12 kohm / R [-].
    strict : float
        Unit loads of the more loaded line by the border of the standard; infinite where an element pulls a line
        beyond what any number of unit loads may [-].
    """

    node: str
    receiver: float = attrs.field(metadata=unit(""))
    custom: float = attrs.field(metadata=unit(""))
    strict: float = attrs.field(metadata=unit(""))


@attrs.frozen(kw_only=True, eq=False)
class UnitLoads(PerNode[UnitLoad]):
    """Unit loads of a bus: rows per node, and totals.

    Parameters
    ----------
    nodes : tuple of str
        The nodes, in bus order [-].
    receiver : array
        Unit loads of each node's receiver inputs [-].
    custom, strict : array, shape (n, 2)
        Unit loads of each node on the noninverting and the inverting line, under either way of counting [-].
    limit : float
        What a standard driver is made for [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    """

    nodes: tuple[str, ...]
    receiver: Array = attrs.field(converter=read_only, metadata=unit(""))
    custom: Array = attrs.field(converter=read_only, metadata=unit(""))
    strict: Array = attrs.field(converter=read_only, metadata=unit(""))
    limit: float = attrs.field(default=limits.UNIT_LOADS, metadata=unit(""))
    missing: Missing = ()

    @override
    def _row(self, index: int) -> UnitLoad:
        return UnitLoad(
            node=self.nodes[index],
            receiver=float(self.receiver[index]),
            custom=float(self.custom[index].max()),
            strict=float(self.strict[index].max()),
        )

    @override
    def _margin(self, index: int) -> float:
        return -float(self.custom[index].max())

    @property
    def total(self) -> float:
        """Unit loads of all receiver inputs, which the standard limits; NaN where one is not stated [-]."""
        return float(self.receiver.sum())

    @property
    def total_custom(self) -> float:
        """Unit loads of the more loaded line with bias, active terminators and protectors, as 12 kohm / R [-]."""
        return float(self.custom.sum(axis=0).max())

    @property
    def total_strict(self) -> float:
        """The same by the border of the standard: the sum of what each node takes at its own worst voltage [-]."""
        return float(self.strict.sum(axis=0).max())

    @property
    def spare_nodes(self) -> int | None:
        """How many nodes of the heaviest kind fitted still fit under the limit; None where it cannot be said [-]."""
        return self._spare(self.total)

    @property
    def spare_nodes_custom(self) -> int | None:
        """The same with bias, active terminators and protectors counted as 12 kohm / R [-]."""
        return self._spare(self.total_custom)

    def _spare(self, total: float) -> int | None:
        heaviest = float(self.receiver.max())
        if math.isnan(total) or math.isnan(heaviest) or heaviest <= 0:
            return None
        # a billionth of a node is rounding, not room
        return max(0, math.floor((self.limit - total) / heaviest + 1e-9))


class _Line(NamedTuple):
    """Everything but the receiver on one line, as one current: conductance * V - pull."""

    conductance: float
    pull: float


@as_analysis()
def unit_loads(analyses: Analyses) -> UnitLoads:
    """Return the unit loads of every node and of the bus.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    UnitLoads
        Rows per node, with totals [-].

    Notes
    -----
    One unit load is a border: the current into an input at V against its own common lies between
    min(0, (V - 5 V) / 15 kohm) and max(0, (V + 3 V) / 15 kohm) for V from -7 V to +12 V. The unit loads of an
    element are the largest ratio of its current to the border over that span. For elements whose current is
    G V - J in all, the ratio is monotone on either side, so the largest is at -7 V or +12 V; it is infinite if
    the element draws current at -3 V or gives it at +5 V, where the border allows none.

    The custom of counting every leg as 12 kohm / R, whatever it pulls to, is given beside it. Published guides
    count one and the same bias network as 4 (a protocol guide), 20 (a design guide) or, by the border, up to 28
    unit loads.

    References
    ----------
    Border: Texas Instruments SLLA166; limit of 32: Texas Instruments SLLA272D, section 9. 12 kohm: B&B
    Electronics, RS-422/485 Application Note, appendix A.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="eighth load", unit_load=0.125)
    >>> nodes = [rk.Node(name=f"gate-{n}", transceiver=part) for n in range(24)]
    >>> loads = rk.analysis.unit_loads(rk.daisy_chain(nodes, spacing="50 m"))
    >>> loads.total, loads.spare_nodes
    (3.0, 232)
    """
    nodes = analyses.bus.nodes
    receiver, custom, strict = np.zeros(len(nodes)), np.zeros((len(nodes), 2)), np.zeros((len(nodes), 2))
    missing: list[tuple[str, str]] = []
    for index, node in enumerate(nodes):
        receiver[index] = _receiver(node, missing)
        for line in (0, 1):
            pulled = _line(node, 1 - line if node.lines_swapped else line, missing)
            custom[index, line] = receiver[index] + limits.UNIT_LOAD_RESISTANCE * pulled.conductance
            strict[index, line] = receiver[index] + border_ratio(pulled)
    return UnitLoads(
        nodes=tuple(node.name for node in nodes),
        receiver=receiver,
        custom=custom,
        strict=strict,
        missing=tuple(dict.fromkeys(missing)),
    )


def _receiver(node: Node, missing: list[tuple[str, str]]) -> float:
    if node.transceiver is None:
        return 0.0
    if node.transceiver.unit_load is None:
        missing.append((node.name, "transceiver.unit_load"))
        return math.nan
    return node.transceiver.unit_load


def _line(node: Node, line: int, missing: list[tuple[str, str]]) -> _Line:
    """Return legs and leaking protectors on one of a node's own lines, as one current; NaN where one is unstated."""
    conductance = pull = 0.0
    for leg in legs_of(node):
        if leg.line == line:
            notes = Notes()
            own = leg.conductance(notes).nominal
            conductance, pull = conductance + own, pull + own * leg.pulls_to(notes).nominal
            missing += [(node.name, figure) for figure in notes.missing]
    for protector in node.protectors:
        if protector.ends == "line-common":
            if protector.leakage is None or not protector.standoff:
                missing.append((node.name, f'protector "{protector.name}" standoff and leakage'))
                conductance = math.nan
            else:
                conductance += protector.leakage / protector.standoff
    return _Line(conductance, pull)


def border_ratio(line: _Line) -> float:
    """Return the unit loads of an element whose current is conductance * V - pull."""

    def current(voltage: float) -> float:
        value = line.conductance * voltage - line.pull
        return 0.0 if abs(value) <= 1e-12 * (abs(line.conductance * voltage) + abs(line.pull)) else value

    if math.isnan(line.conductance + line.pull):
        return math.nan
    low, high = limits.COMMON_MODE_MINIMUM, limits.COMMON_MODE_MAXIMUM
    below, above = limits.UNIT_LOAD_NEGATIVE_REFERENCE, limits.UNIT_LOAD_POSITIVE_REFERENCE
    if current(above) > 0 or current(below) < 0:
        return math.inf
    drawn = current(high) * limits.UNIT_LOAD_SLOPE / (high - above)
    given = -current(low) * limits.UNIT_LOAD_SLOPE / (below - low)
    return max(drawn, given, 0.0)
