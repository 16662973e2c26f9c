"""What every result shares: frozen, read-only, compared by identity, rebuilt through its constructor by pickle."""

import difflib
import math
from collections.abc import Callable, Iterator
from typing import Any, Generic, TypeAlias, TypeVar

import attrs
import numpy as np
from numpy.typing import ArrayLike, NDArray

from rs485kit.errors import UnknownNameError
from rs485kit.model.base import Viewed

Array: TypeAlias = NDArray[np.float64]
Row = TypeVar("Row")
Missing: TypeAlias = tuple[tuple[str, str], ...]


def read_only(given: ArrayLike) -> Array:
    """Return an array of floats that nobody can write to."""
    array = np.array(given, dtype=np.float64)
    array.setflags(write=False)
    return array


def unit(name: str) -> dict[str, str]:
    """Return the metadata of a field that carries a unit."""
    return {"unit": name}


def _rebuilt(kind: Callable[..., Any], fields: dict[str, Any]) -> Any:
    return kind(**fields)


class Rebuilt(Viewed):
    """Pickles through the constructor: an array that comes out of a pickle as such could be written to."""

    __slots__ = ()

    def __reduce__(self) -> tuple[Callable[..., Any], tuple[Any, ...]]:
        kind: Any = type(self)
        fields = {field.name: getattr(self, field.name) for field in attrs.fields(kind)}
        return _rebuilt, (type(self), fields)


def plain(value: float) -> float | None:
    """Return a number as a record holds it: None where it is not known."""
    return None if math.isnan(value) else float(value)


def record_of(row: Any) -> dict[str, Any]:
    """Return a row as a flat record whose keys carry the units."""
    record: dict[str, Any] = {}
    for field in attrs.fields(type(row)):
        value = getattr(row, field.name)
        mark = f"_{field.metadata['unit']}" if field.metadata.get("unit") else ""
        parts = getattr(value, "dimensioned_parts", None)
        if parts is not None:
            record |= {f"{field.name}_{part}{mark}": plain(getattr(value, part)) for part in parts}
        elif isinstance(value, float):
            record[f"{field.name}{mark}"] = plain(value)
        else:
            record[field.name] = value
    return record


class PerNode(Rebuilt, Generic[Row]):
    """A table with one row per node, in bus order."""

    __slots__ = ()

    nodes: tuple[str, ...]
    missing: Missing

    def _row(self, index: int) -> Row:
        raise NotImplementedError

    def _margin(self, index: int) -> float:
        raise NotImplementedError

    def __len__(self) -> int:
        return len(self.nodes)

    def __iter__(self) -> Iterator[Row]:
        return (self._row(index) for index in range(len(self.nodes)))

    def at(self, node: str) -> Row:
        """Return the row of a node.

        Parameters
        ----------
        node : str
            Name of the node [-].

        Returns
        -------
        row
            The row [-].

        Raises
        ------
        UnknownNameError
            If the table has no such row; near names are offered.
        """
        if node not in self.nodes:
            near = tuple(difflib.get_close_matches(str(node), self.nodes, n=3))
            raise UnknownNameError("row", str(node), near, f"the rows are the nodes {_listed(self.nodes)}")
        return self._row(self.nodes.index(node))

    @property
    def worst(self) -> Row:
        """The row with the smallest margin; a row that is not known counts as worst.

        Raises
        ------
        UnknownNameError
            If the table has no row.
        """
        if not self.nodes:
            raise UnknownNameError("row", "worst", (), "the table has no row")
        margins = [self._margin(index) for index in range(len(self.nodes))]
        return self._row(min(range(len(margins)), key=lambda i: (not math.isnan(margins[i]), margins[i])))

    def to_records(self) -> list[dict[str, Any]]:
        """Return the rows as flat records whose keys carry the units."""
        return [record_of(row) for row in self]


class PerPath(Rebuilt, Generic[Row]):
    """A table with one row per driver and receiver, both in bus order; the diagonal is a driver hearing itself."""

    __slots__ = ()

    drivers: tuple[str, ...]
    receivers: tuple[str, ...]
    missing: Missing

    def _row(self, driver: int, receiver: int) -> Row:
        raise NotImplementedError

    @property
    def margin(self) -> Array:
        """Margin of each row, shape (drivers, receivers)."""
        raise NotImplementedError

    def __len__(self) -> int:
        return len(self.drivers) * len(self.receivers)

    def __iter__(self) -> Iterator[Row]:
        pairs = ((d, r) for d in range(len(self.drivers)) for r in range(len(self.receivers)))
        return (self._row(driver, receiver) for driver, receiver in pairs)

    def between(self, driver: str, receiver: str) -> Row:
        """Return the row of a driver and a receiver.

        Parameters
        ----------
        driver : str
            Name of the node that drives [-].
        receiver : str
            Name of the node that listens [-].

        Returns
        -------
        row
            The row [-].

        Raises
        ------
        UnknownNameError
            If one does not drive or the other does not listen; near names are offered.
        """
        for kind, name, names in (("driver", driver, self.drivers), ("receiver", receiver, self.receivers)):
            if name not in names:
                near = tuple(difflib.get_close_matches(str(name), names, n=3))
                raise UnknownNameError(kind, str(name), near, f"the {kind}s are {_listed(names)}")
        return self._row(self.drivers.index(driver), self.receivers.index(receiver))

    @property
    def worst(self) -> Row:
        """The row with the smallest margin; a row that is not known counts as worst.

        Raises
        ------
        UnknownNameError
            If the table has no row.
        """
        if not len(self):
            raise UnknownNameError("row", "worst", (), "nobody drives, or nobody listens")
        margin = np.where(np.isnan(self.margin), -np.inf, self.margin)
        driver, receiver = np.unravel_index(int(margin.argmin()), margin.shape)
        return self._row(int(driver), int(receiver))

    def to_records(self) -> list[dict[str, Any]]:
        """Return the rows as flat records whose keys carry the units."""
        return [record_of(row) for row in self]


def _listed(names: tuple[str, ...]) -> str:
    shown = ", ".join(names[:6])
    return f"{shown} and {len(names) - 6} more" if len(names) > 6 else shown or "none"
