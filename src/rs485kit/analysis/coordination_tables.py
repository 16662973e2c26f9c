"""What insulation comes to: requirements of every barrier, and paths from hazardous circuits to what can be touched."""

import math
from collections.abc import Iterator
from typing import Any, Literal, TypeAlias

import attrs

from rs485kit.analysis.results import Rebuilt, record_of
from rs485kit.errors import UnknownNameError
from rs485kit.model.base import Viewed

Status: TypeAlias = Literal["met", "not met", "not checked"]
Requirement: TypeAlias = Literal[
    "grade", "working voltage RMS", "working voltage peak", "withstand voltage RMS for 60 s", "impulse voltage peak",
    "clearance", "creepage", "life",
]  # fmt: skip
REQUIREMENTS: tuple[Requirement, ...] = (
    "grade", "working voltage RMS", "working voltage peak", "withstand voltage RMS for 60 s", "impulse voltage peak",
    "clearance", "creepage", "life",
)  # fmt: skip
SI_UNITS: dict[str, str] = {
    "grade": "", "working voltage RMS": "V", "working voltage peak": "V", "withstand voltage RMS for 60 s": "V",
    "impulse voltage peak": "V", "clearance": "m", "creepage": "m", "life": "s",
}  # fmt: skip


@attrs.frozen(kw_only=True)
class InsulationCheck(Viewed):
    """One requirement on one thing that bridges a barrier.

    Parameters
    ----------
    node : str
        Node of the barrier [-].
    element : str
        What bridges it: "isolator", "supply", "others[0]", 'bridges["board"]' and so on [-].
    requirement : str
        What is required: "grade", "working voltage RMS", "working voltage peak", "withstand voltage RMS for 60 s",
        "impulse voltage peak", "clearance", "creepage" or "life" [-].
    grade : str
        Grade of insulation for which it is required: "basic" or "reinforced" [-].
    demand : float
        What is asked for, in the SI unit of `si_unit`; NaN for a grade, and where it is not known [any].
    rating : float
        What the element states; NaN for a grade, and where it is not stated [any].
    si_unit : str
        Unit of both, "" for a grade [-].
    status : str
        "met", "not met" or "not checked" [-].
    edition : str
        The document, with its edition, that asks for it [-].
    recalled : bool
        Whether a figure from memory decides the demand; it is then shown, and not checked [-].
    missing : tuple of str
        What is not stated [-].
    """

    node: str
    element: str
    requirement: Requirement
    grade: str
    demand: float
    rating: float
    si_unit: str
    status: Status
    edition: str
    recalled: bool = False
    missing: tuple[str, ...] = ()


@attrs.frozen(kw_only=True)
class BarrierInsulation(Viewed):
    """One barrier before a hazardous circuit, against what is required of it.

    Parameters
    ----------
    node : str
        Name of the node [-].
    required : str
        Grade that is required: "reinforced" where the bus can be touched, else "basic" [-].
    reached : str
        Highest grade of which every requirement is met; "" is none [-].
    status : str
        "met", "not met" or "not checked" [-].
    checks : tuple of InsulationCheck
        All requirements of the required grade [-].
    """

    node: str
    required: str
    reached: str
    status: Status
    checks: tuple[InsulationCheck, ...]


@attrs.frozen(kw_only=True)
class InsulationPath(Viewed):
    """A way from a hazardous circuit over the bus to something that can be touched.

    Parameters
    ----------
    node : str
        Node with the hazardous circuit [-].
    touched : str
        Node whose circuit can be touched; "" is the bus itself [-].
    barriers : tuple of str
        Nodes whose barriers stand in the way [-].
    reached : str
        "reinforced", "two basic", or the highest grade of one of them; "" is none [-].
    status : str
        "met", "not met" or "not checked" [-].
    """

    node: str
    touched: str
    barriers: tuple[str, ...]
    reached: str
    status: Status


@attrs.frozen(kw_only=True, eq=False)
class InsulationTable(Rebuilt):
    """What is required of the insulation of a bus, and which of it is met.

    Parameters
    ----------
    rows : tuple of BarrierInsulation
        Barriers before hazardous circuits, in bus order [-].
    paths : tuple of InsulationPath
        Ways from hazardous circuits to what can be touched [-].
    undescribed : tuple of str
        Nodes with a barrier of which it is not stated what stands behind it [-].
    unguarded : tuple of str
        Nodes with a hazardous circuit and no barrier [-].
    fed : tuple of str
        Nodes with a hazardous circuit that feed conductors of the cable reach on its side of the barrier [-].
    harmless : tuple of str
        Nodes with a barrier before a circuit that can be touched, of which nothing is required here [-].
    assumed : tuple of str
        What was taken for given where the bus says nothing [-].
    not_checked : tuple of str
        What no requirement here looks at [-].
    """

    rows: tuple[BarrierInsulation, ...]
    paths: tuple[InsulationPath, ...]
    undescribed: tuple[str, ...] = ()
    unguarded: tuple[str, ...] = ()
    fed: tuple[str, ...] = ()
    harmless: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    not_checked: tuple[str, ...] = ()

    def __len__(self) -> int:
        """Return how many barriers stand before hazardous circuits."""
        return len(self.rows)

    def __iter__(self) -> Iterator[BarrierInsulation]:
        """Iterate over them."""
        return iter(self.rows)

    def at(self, node: str) -> BarrierInsulation:
        """Return the row of a node.

        Parameters
        ----------
        node : str
            Name of the node [-].

        Returns
        -------
        BarrierInsulation
            Its row [-].

        Raises
        ------
        UnknownNameError
            If no barrier of that node stands before a hazardous circuit.
        """
        for row in self.rows:
            if row.node == node:
                return row
        near = tuple(row.node for row in self.rows)[:3]
        raise UnknownNameError("row", str(node), near, "it has no barrier before a hazardous circuit")

    def checks(self, requirement: Requirement) -> tuple[InsulationCheck, ...]:
        """Return all checks of one requirement.

        Parameters
        ----------
        requirement : str
            One of those of `InsulationCheck` [-].

        Returns
        -------
        tuple of InsulationCheck
            In bus order [-].
        """
        return tuple(check for row in self.rows for check in row.checks if check.requirement == requirement)

    def to_records(self) -> list[dict[str, Any]]:
        """Return one flat record for each check."""
        return [record_of(check) for row in self.rows for check in row.checks]


def status_of(demand: float, rating: float, *, recalled: bool = False) -> Status:
    """Return whether a rating covers a demand of its kind; nothing is checked by a figure from memory."""
    if recalled or math.isnan(demand) or math.isnan(rating):
        return "not checked"
    return "met" if rating >= demand * (1.0 - 1e-12) else "not met"


def all_of(statuses: list[Status]) -> Status:
    """Return "met" if all are, "not met" if one is not, else "not checked"."""
    if "not met" in statuses:
        return "not met"
    return "not checked" if "not checked" in statuses or not statuses else "met"
