"""Figures of standards, handbooks and pages as data: what each is, how it is known, and from where.

The mark beside a figure goes wherever the figure goes: `read` was seen in the source named, `derived` follows from
figures that were seen, `memory` was recalled without a source at hand and never decides that something passes. The
standards themselves were not seen; the sources are texts that print from them. Which limit holds for an
installation is decided by the standard of the product in its current edition, local codes and licensed practice.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal, NamedTuple, TypeAlias

Known: TypeAlias = Literal["read", "derived", "memory"]


class StatedFigure(NamedTuple):
    """A figure in SI units, with the way in which it is known and its source."""

    value: float
    known: Known
    source: str


class Soil(NamedTuple):
    """Resistivity of a kind of soil: lowest, typical and highest, in ohm metres."""

    lowest: float
    typical: float
    highest: float


class LightningStroke(NamedTuple):
    """Largest first positive stroke of a protection level, 10/350 us: ampere, coulomb, joule per ohm."""

    current: float
    charge: float
    energy: float


def _figures(known: Known, source: str, values: Mapping[str, float]) -> Mapping[str, StatedFigure]:
    return MappingProxyType({name: StatedFigure(value, known, source) for name, value in values.items()})


# Touch current. IEC 60990 gives the measuring network and no limits; these are limits of product standards [A].
_ITE = "IEC 60950:1999, table 5A, as quoted in a product-safety mailing list"
_AUDIO = "IEC 60065, as printed in service manuals of receivers"
TOUCH_CURRENT_LIMITS: Final = MappingProxyType(
    {
        **_figures(
            "read",
            _ITE,
            {
                "IEC 60950, not connected to protective earth, RMS": 0.25e-3,
                "IEC 60950, hand-held and earthed, RMS": 0.75e-3,
                "IEC 60950, other earthed equipment, RMS": 3.5e-3,
            },
        ),
        **_figures("read", _AUDIO, {"IEC 60065, AC, peak": 0.7e-3, "IEC 60065, DC": 2.0e-3}),
    }
)

# Accessible parts in a dry place, IEC 61010-1 clause 6.3, by edition and condition: voltages [V], currents [A].
_RECALLED = "IEC 61010-1 clause 6.3, recalled"
_SUPPORT = f"{_RECALLED}; one instrument manual rates accessible parts at 33 V RMS and 46.7 V peak"
ACCESSIBLE_LIMITS: Final[Mapping[tuple[int, str], Mapping[str, StatedFigure]]] = MappingProxyType(
    {
        (edition, condition): _figures(
            "memory",
            _SUPPORT if (edition, condition) == (2, "normal") else _RECALLED,
            dict(zip(("voltage RMS", "voltage peak", "voltage DC"), voltages, strict=True))
            | dict(zip(("current RMS", "current peak", "current DC"), currents, strict=True)),
        )
        for edition, condition, voltages, currents in (
            (2, "normal", (33.0, 46.7, 70.0), (0.5e-3, 0.7e-3, 2e-3)),
            (2, "single fault", (55.0, 78.0, 140.0), (3.5e-3, 5e-3, 15e-3)),
            (3, "normal", (30.0, 42.4, 60.0), (0.5e-3, 0.7e-3, 2e-3)),
            (3, "single fault", (50.0, 70.0, 120.0), (3.5e-3, 5e-3, 15e-3)),
        )
    }
)
# Charge of a part that is touched [C].
ACCESSIBLE_CHARGE: Final = StatedFigure(45e-6, "read", "IEC 61010-1 clause 6.3, as quoted in a mailing list")

# The network of IEC 60990 for touch current weighted for perception and reaction. The series resistor is partly
# garbled in the print.
_NETWORK = "IEC 60065 annex D, as printed in a service manual of a receiver"
TOUCH_NETWORK: Final = _figures(
    "read",
    _NETWORK,
    {
        "series resistance": 1500.0,
        "series capacitance": 0.22e-6,
        "body resistance": 500.0,
        "filter resistance": 10e3,
        "filter capacitance": 22e-9,
    },
)

# Soil, from one page on ground resistance [ohm*m]; the ranges of other tables differ by as much again.
SOILS: Final = MappingProxyType(
    {
        "boggy ground": Soil(2.0, 30.0, 50.0),
        "adobe clay": Soil(2.0, 40.0, 200.0),
        "silt, sand-clay, humus": Soil(20.0, 100.0, 260.0),
        "sand, moist": Soil(50.0, 200.0, 3000.0),
        "gravel, moist": Soil(50.0, 1000.0, 3000.0),
        "stony and rocky": Soil(100.0, 2000.0, 8000.0),
    }
)

# Lightning protection levels of IEC 62305-1, as a maker's guide of 2014 prints them.
LIGHTNING: Final = MappingProxyType(
    {
        "I": LightningStroke(200e3, 100.0, 10e6),
        "II": LightningStroke(150e3, 75.0, 5.6e6),
        "III": LightningStroke(100e3, 50.0, 2.5e6),
        "IV": LightningStroke(100e3, 50.0, 2.5e6),
    }
)
