"""Bonds: how commons and shields reach the reference conductor and the earths."""

from collections.abc import Iterable
from typing import Literal

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import (
    Viewed,
    is_flag_or_none,
    is_label,
    is_name,
    is_name_or_none,
    named,
    one_of,
    tuple_from,
    within,
    zero_or_within,
)
from rs485kit.units import MinTypMax

WIRE = MinTypMax(min=0.0, typ=0.0, max=0.0)


@attrs.frozen(kw_only=True, field_transformer=named)
class CommonLink(Viewed):
    """How a node's bus-side common reaches the reference conductor, and whether it is bonded to its earth.

    Parameters
    ----------
    resistance : MinTypMax
        Resistance between the common and the reference conductor [ohm].
    bonded : bool or None
        Whether the common is bonded to the node's earth. None: as the node is built, which is bonded without
        a barrier and not bonded with one [-].
    power : float or None
        Power that this resistor is rated for, at the temperature where it sits; None: not stated [W].
    """

    resistance: MinTypMax = attrs.field(converter=units.ohms_spread, validator=zero_or_within(1e-4, 1e6))
    bonded: bool | None = attrs.field(default=None, validator=is_flag_or_none)
    power: float | None = attrs.field(default=None, converter=units.optional_watts, validator=within(1e-3, 1e3))


@attrs.frozen(kw_only=True, field_transformer=named)
class EarthBond(Viewed):
    """A further way from a node's bus-side common to an earth: a cable's screen, an adapter, an earthed supply minus.

    With a capacitance it carries no direct current.

    Parameters
    ----------
    name : str
        What makes it, such as "adapter of the service laptop" [-].
    earth : str
        Name of the earth [-].
    resistance : MinTypMax
        Resistance of the way [ohm].
    capacitance : MinTypMax or None
        Capacitance in series with it; None: it conducts [F].
    """

    name: str = attrs.field(default="", validator=is_label)
    earth: str = attrs.field(validator=is_name)
    resistance: MinTypMax = attrs.field(
        default=WIRE, converter=units.ohms_spread, validator=zero_or_within(1e-4, 1e9)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-13, 1e-3)
    )


@attrs.frozen(kw_only=True, field_transformer=named)
class ShieldBond(Viewed):
    """How the shield is bonded at a place. With a capacitance the bond carries no direct current.

    Parameters
    ----------
    to : str
        "earth", "reference" (the reference conductor there) or "common" (the bus-side common of the node there) [-].
    earth : str or None
        Name of the earth; None: that of the node there [-].
    resistance : MinTypMax
        Resistance of the bond [ohm].
    capacitance : MinTypMax or None
        Capacitance in series with it; None: it conducts [F].
    """

    to: Literal["earth", "reference", "common"] = attrs.field(
        default="earth", validator=one_of("earth", "reference", "common")
    )
    earth: str | None = attrs.field(default=None, validator=is_name_or_none)
    resistance: MinTypMax = attrs.field(
        default=WIRE, converter=units.ohms_spread, validator=zero_or_within(1e-4, 1e9)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-13, 1e-3)
    )

    def __attrs_post_init__(self) -> None:
        """Refuse an earth for a bond that goes elsewhere."""
        if self.earth is not None and self.to != "earth":
            raise InputError(
                Problem("ShieldBond.earth", f'"{self.earth}" with to = "{self.to}"', 'an earth only with to = "earth"')
            )


def earth_bonds_tuple(given: EarthBond | Iterable[EarthBond] | None) -> tuple[EarthBond, ...]:
    """Read none, one or several further bonds [-]."""
    return tuple_from(given, EarthBond)
