"""Tables of insulation coordination as data: every entry with how it is known and where it was printed.

`read` was seen in the source named, `memory` was recalled without one and never decides that something passes. The
standards themselves were not seen; the sources are texts of makers that print from them, most of them from IEC
60664-1:2007. Edition 2020 moved some of these tables and its new content was not seen. Whoever designs insulation
needs the current edition, the standard of the product and a competent person. Lengths in metres, voltages in volts.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final, Literal, NamedTuple, TypeAlias

Known: TypeAlias = Literal["read", "memory"]
MaterialGroup: TypeAlias = Literal["I", "II", "IIIa", "IIIb"]
"""Material groups by comparative tracking index."""

MILLIMETRE = 1e-3
KILOVOLT = 1e3


class Entry(NamedTuple):
    """One figure of a table, how it is known, and the text that prints it."""

    value: float
    known: Known
    source: str


class Table(NamedTuple):
    """A table of a standard: the rows go up, and every column has one entry for each of them."""

    title: str
    edition: str
    rows: tuple[float, ...]
    columns: Mapping[str, tuple[Entry, ...]]

    def values(self, column: str) -> tuple[float, ...]:
        """Return the figures of a column."""
        return tuple(entry.value for entry in self.columns[column])

    def known(self, column: str, at: float) -> Known:
        """Return how the figures of a column around a row are known: by memory if one of the two neighbours is."""
        above = next((index for index, row in enumerate(self.rows) if at <= row), len(self.rows) - 1)
        below = above if self.rows[above] <= at or above == 0 else above - 1
        marks = {self.columns[column][index].known for index in (below, above)}
        return "memory" if "memory" in marks else "read"


def _column(
    values: Sequence[float], source: str, *, scale: float = 1.0, recalled: Sequence[int] = ()
) -> tuple[Entry, ...]:
    return tuple(
        Entry(round(value * scale, 12), "memory", _RECALLED)
        if index in recalled
        else Entry(round(value * scale, 12), "read", source)
        for index, value in enumerate(values)
    )


_RECALLED = "recalled, no source seen"
_EDITION = "IEC 60664-1:2007"
_TERMINALS = "catalogue of terminal blocks, technical appendix p. 610, extracts of IEC 60664-1"
_RAIL = "catalogue of rail-mounted terminal blocks, 2015, p. 594, extract of DIN EN 60664-1 table F.4"
_SECTION = "technical section of a maker of terminals, extracts of DIN EN 60664-1 tables F.2 and A.2"

IMPULSE_VOLTAGES: Final = Table(
    "rated impulse voltage by line-to-neutral voltage and overvoltage category, table F.1",
    f"{_EDITION}, the same rows in 2002",
    (50.0, 100.0, 150.0, 300.0, 600.0, 1000.0),
    MappingProxyType(
        {
            "1": _column((330, 500, 800, 1500, 2500, 4000), _TERMINALS),
            "2": _column((500, 800, 1500, 2500, 4000, 6000), _TERMINALS),
            "3": _column((800, 1500, 2500, 4000, 6000, 8000), _TERMINALS),
            "4": _column((1500, 2500, 4000, 6000, 8000, 12000), _TERMINALS),
        }
    ),
)
"""No value between two rows: the next higher row counts [V peak by V RMS]."""

DIRECT_IMPULSE_VOLTAGES: Final = Table(
    "rated impulse voltage of DC supplies of 1250 V and 1500 V, believed added to table F.1",
    "IEC 60664-1:2020",
    (1250.0, 1500.0),
    MappingProxyType(
        {
            "1": _column((4000, 6000), _RECALLED, recalled=range(2)),
            "2": _column((6000, 8000), _RECALLED, recalled=range(2)),
            "3": _column((8000, 10000), _RECALLED, recalled=range(2)),
            "4": _column((12000, 15000), _RECALLED, recalled=range(2)),
        }
    ),
)
"""From memory: shown for those who look for them, used by no function [V peak by V DC]."""

PREFERRED_IMPULSES: Final = _column((330, 500, 800, 1500, 2500, 4000, 6000, 8000, 12000), _TERMINALS)
"""Preferred series of rated impulse voltages [V peak]."""

_KILOVOLTS = (
    0.33, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0,
    40.0, 50.0, 60.0, 80.0, 100.0,
)  # fmt: skip
_ABOVE_A = (1.5, 2.0, 3.0, 4.0, 5.5, 8.0, 11.0, 14.0, 18.0, 25.0, 33.0, 40.0, 60.0, 75.0, 90.0, 130.0, 170.0)
_ABOVE_B = (1.2, 1.5, 2.0, 3.0, 3.5, 4.5, 5.5, 8.0, 10.0, 12.5, 17.0, 22.0, 27.0, 35.0, 45.0)
_RECALLED_A = range(20, 24)

CLEARANCES: Final = Table(
    "clearance up to 2000 m by impulse voltage, inhomogeneous field (case A), table F.2",
    _EDITION,
    tuple(round(KILOVOLT * each, 6) for each in _KILOVOLTS),
    MappingProxyType(
        {
            "1": _column(
                (0.01, 0.02, 0.04, 0.06, 0.1, 0.15, 0.25, 0.5, 1.0, *_ABOVE_A), _TERMINALS,
                scale=MILLIMETRE, recalled=_RECALLED_A,
            ),
            "2": _column(
                (*[0.2] * 6, 0.25, 0.5, 1.0, *_ABOVE_A), _TERMINALS, scale=MILLIMETRE, recalled=_RECALLED_A
            ),
            "3": _column((*[0.8] * 8, 1.0, *_ABOVE_A), _TERMINALS, scale=MILLIMETRE, recalled=_RECALLED_A),
        }
    ),
)  # fmt: skip
"""Columns by pollution degree; intermediate values may be interpolated [m by V peak]."""

HOMOGENEOUS_CLEARANCES: Final = Table(
    "clearance up to 2000 m by impulse voltage, homogeneous field (case B), table F.2",
    _EDITION,
    CLEARANCES.rows,
    MappingProxyType(
        {
            "1": _column(
                (0.01, 0.02, 0.04, 0.06, 0.1, 0.15, 0.2, 0.3, 0.45, 0.6, 0.8, *_ABOVE_B), _SECTION, scale=MILLIMETRE
            ),
            "2": _column((*[0.2] * 7, 0.3, 0.45, 0.6, 0.8, *_ABOVE_B), _SECTION, scale=MILLIMETRE),
            "3": _column((*[0.8] * 11, *_ABOVE_B), _SECTION, scale=MILLIMETRE),
        }
    ),
)
"""Needs an impulse test as proof, so that no check of this library takes it [m by V peak]."""

LEAST_CLEARANCE_4: Final = Entry(1.6e-3, "read", "technical rules of a railway, air distances by impulse voltage")
"""Pollution degree 4: as degree 3, but not less than this [m]."""

STEADY_CLEARANCES: Final = Table(
    "clearance up to 2000 m by the peak of a steady, temporary or recurring voltage, inhomogeneous field, table F.7a",
    _EDITION,
    (
        40.0, 60.0, 100.0, 120.0, 150.0, 200.0, 250.0, 330.0, 400.0, 500.0, 600.0, 800.0, 1e3, 1.2e3, 1.5e3, 2e3, 2.5e3,
        3e3, 4e3, 5e3, 6e3, 8e3, 10e3, 12e3, 15e3, 20e3, 25e3, 30e3, 40e3, 50e3,
    ),
    MappingProxyType(
        {
            "clearance": _column(
                (
                    0.001, 0.002, 0.003, 0.004, 0.005, 0.006, 0.008, 0.01, 0.02, 0.04, 0.06, 0.13, 0.26, 0.42, 0.76,
                    1.27, 1.8, 2.4, 3.8, 5.7, 7.9, 11.0, 15.2, 19.0, 25.0, 34.0, 44.0, 55.0, 77.0, 100.0,
                ),
                _RECALLED, scale=MILLIMETRE, recalled=range(30),
            )
        }
    ),
)  # fmt: skip
"""From memory as a whole: where it asks for more than the impulse, the answer is not known [m by V peak]."""

ALTITUDE_FACTORS: Final = Table(
    "factor on clearances by altitude, table A.2",
    _EDITION,
    (2e3, 3e3, 4e3, 5e3, 6e3, 7e3, 8e3, 9e3, 10e3, 15e3, 20e3),
    MappingProxyType(
        {
            "factor": _column((1.0, 1.14, 1.29, 1.48, 1.7, 1.95, 2.25, 2.62, 3.02, 6.67, 14.5), _SECTION),
            "pressure": _column(
                (80.0, 70.0, 62.0, 54.0, 47.0, 41.0, 35.5, 30.5, 26.5, 12.0, 5.5), _SECTION,
                scale=1e3, recalled=range(11),
            ),
        }
    ),
)
"""Each factor is 80 kPa over the pressure, to the printed rounding; some pressures are recalled [- and Pa by m]."""

_CREEPAGE_ROWS = (
    10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 320.0, 400.0, 500.0,
    630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0,
)  # fmt: skip
_LOW_2 = (0.4, 0.42, 0.45, 0.48, 0.5, 0.53)
_LOW_3 = (1.0, 1.05, 1.1, 1.2, 1.25, 1.3)

_CREEPAGES = {
    "1 I": (
        0.08, 0.09, 0.1, 0.11, 0.125, 0.14, 0.16, 0.18, 0.2, 0.22, 0.25, 0.28, 0.32, 0.42, 0.56, 0.75, 1.0, 1.3, 1.8,
        2.4, 3.2, 4.2, 5.6, 7.5,
    ),
    "2 I": (
        *_LOW_2, 0.56, 0.6, 0.63, 0.67, 0.71, 0.75, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0
    ),
    "2 II": (
        *_LOW_2, 0.8, 0.85, 0.9, 0.95, 1.0, 1.05, 1.1, 1.4, 1.8, 2.2, 2.8, 3.6, 4.5, 5.6, 7.1, 9.0, 11.0, 14.0
    ),
    "2 III": (
        *_LOW_2, 1.1, 1.2, 1.25, 1.3, 1.4, 1.5, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0
    ),
    "3 I": (
        *_LOW_3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0
    ),
    "3 II": (
        *_LOW_3, 1.6, 1.7, 1.8, 1.9, 2.0, 2.1, 2.2, 2.8, 3.6, 4.5, 5.6, 7.1, 9.0, 11.0, 14.0, 18.0, 22.0, 28.0
    ),
    "3 III": (
        *_LOW_3, 1.8, 1.9, 2.0, 2.1, 2.2, 2.4, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0
    ),
}  # fmt: skip
_CREEPAGES |= {"1 II": _CREEPAGES["1 I"], "1 III": _CREEPAGES["1 I"]}

CREEPAGES: Final = Table(
    "creepage distance of basic insulation by working voltage RMS, table F.4",
    _EDITION,
    _CREEPAGE_ROWS,
    MappingProxyType({name: _column(values, _RAIL, scale=MILLIMETRE) for name, values in _CREEPAGES.items()}),
)
"""Columns by pollution degree and material group; intermediate values may be interpolated [m by V RMS]."""

LIMIT_OF_GROUP_3B: Final = Entry(630.0, "memory", _RECALLED)
"""At pollution degree 3 group IIIb is not recommended above this working voltage [V RMS]."""

PRINTED_CREEPAGES: Final = Table(
    "creepage distance on printed wiring by working voltage RMS, table F.4",
    _EDITION,
    _CREEPAGE_ROWS[:21],
    MappingProxyType(
        {
            "1": _column(
                (*[0.025] * 8, 0.04, 0.063, 0.1, 0.16, 0.25, 0.4, 0.56, 0.75, 1.0, 1.3, 1.8, 2.4, 3.2), _RAIL,
                scale=MILLIMETRE,
            ),
            "2": _column(
                (*[0.04] * 8, 0.063, 0.1, 0.16, 0.25, 0.4, 0.63, 1.0, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0), _RAIL,
                scale=MILLIMETRE,
            ),
        }
    ),
)  # fmt: skip
"""Columns by pollution degree, of all groups at degree 1 and of all but IIIb at degree 2 [m by V RMS]."""

MATERIAL_GROUPS: Final[tuple[tuple[MaterialGroup, Entry], ...]] = (
    ("I", Entry(600.0, "read", _SECTION)),
    ("II", Entry(400.0, "read", _SECTION)),
    ("IIIa", Entry(175.0, "read", _SECTION)),
    ("IIIb", Entry(100.0, "read", _SECTION)),
)
"""Material groups with the least comparative tracking index of each (IEC 60112) [V]."""

_HEAVY = "catalogue of heavy-duty connectors, technical data A.26"
GROOVE_WIDTHS: Final = _column((0.25, 1.0, 1.5, 2.5), _HEAVY, scale=MILLIMETRE)
"""Least width of a groove that counts in a creepage path, by pollution degree 1 to 4 [m]."""

TEMPORARY_OVERVOLTAGES: Final[Mapping[str, Entry]] = MappingProxyType(
    {
        "short": Entry(
            1200.0, "read",
            "SBASAB3, example of an unearthed system of 1000 V; CIRED 2001, round table on the earthing of neutrals",
        ),
        "long": Entry(250.0, "memory", _RECALLED),
    }
)  # fmt: skip
"""What comes on top of the line-to-neutral voltage for up to 5 s, and for longer [V RMS]."""

_NOTES = "IEC 62368-1 clause 5.4.2, as a page that shares notes prints it; which table it is was recalled"
HIGH_FREQUENCY_CLEARANCES: Final = Table(
    "clearance of circuits above 30 kHz by peak voltage, pollution degree 2, table 11",
    "IEC 62368-1",
    (600.0, 800.0, 1000.0, 1200.0, 1400.0, 1600.0, 1800.0, 2000.0),
    MappingProxyType(
        {
            "basic": _column((0.07, 0.22, 0.6, 1.68, 2.82, 4.8, 8.04, 13.2), _NOTES, scale=MILLIMETRE),
            "reinforced": _column((0.14, 0.44, 1.2, 3.36, 5.64, 9.6, 16.08, 26.4), _NOTES, scale=MILLIMETRE),
        }
    ),
)
"""Times 0.8 at pollution degree 1 and 1.4 at degree 3; intermediate values may be interpolated [m by V peak]."""

_THREE_PHASE = "catalogue of terminals 2012/2013 p. 530, extract of table 3b"
RATIONALISED_VOLTAGES: Final = Table(
    "rationalised voltages of three-phase systems for creepage by the highest nominal voltage of a row, table F.3b",
    _EDITION,
    (60.0, 127.0, 150.0, 208.0, 240.0, 300.0, 415.0, 440.0, 500.0, 575.0, 600.0, 690.0, 830.0, 960.0, 1000.0),
    MappingProxyType(
        {
            "line to line": _column(
                (63, 125, 160, 200, 250, 320, 400, 500, 500, 630, 630, 630, 800, 1000, 1000), _THREE_PHASE
            ),
            "earthed": _column(
                (32, 80, 0, 125, 160, 0, 250, 250, 320, 400, 0, 400, 500, 630, 0), _THREE_PHASE, recalled=(0, 1)
            ),
            "unearthed": _column(
                (63, 125, 160, 200, 250, 320, 400, 500, 500, 630, 630, 630, 800, 1000, 1000), _THREE_PHASE
            ),
        }
    ),
)
"""Line to line, and line to earth with the neutral earthed or not; 0 where the standard has none [V by V RMS]."""

_METERS = "summary of the impulse withstand voltages of IEC 61010 by a maker of meters"
MEASUREMENT_IMPULSES: Final = Table(
    "impulse withstand voltage by measurement category and line-to-neutral voltage",
    "IEC 61010, the edition that the summary is of is not said",
    (300.0, 600.0, 1000.0),
    MappingProxyType(
        {
            "2": _column((2500, 4000, 6000), _METERS),
            "3": _column((4000, 6000, 8000), _METERS),
            "4": _column((6000, 8000, 12000), _METERS),
        }
    ),
)
"""A measurement category is no overvoltage category, though their figures are alike [V peak by V RMS]."""
