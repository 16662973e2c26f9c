"""What takes and gives power: supply currents, accessories, ratings of isolated supplies, and feeds over the cable."""

from collections.abc import Iterable
from typing import Any

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import Viewed, is_flag, is_name, named, refused, tuple_from, within
from rs485kit.units import MinTypMax

MOST_WIRES = 100
_laws = ("power", "current", "resistance")


def is_wire_count(instance: Any, attribute: "attrs.Attribute[Any]", value: Any) -> None:
    """Refuse what is no number of wires."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_WIRES:
        raise refused(instance, attribute, value, f"a whole number from 1 to {MOST_WIRES}")


@attrs.frozen(kw_only=True, field_transformer=named)
class SupplyCurrent(Viewed):
    """Supply current of a transceiver with its driver on, at one data rate and load.

    Parameters
    ----------
    data_rate : float
        Data rate at which it holds; 0 is a level that stands [bit/s].
    load : float or None
        Resistance across the pair at which it holds; None: no load [ohm].
    current : MinTypMax
        Supply current, that into the load included [A].
    """

    data_rate: float = attrs.field(converter=units.bits_per_second, validator=within(0, 1e9))
    load: float | None = attrs.field(default=None, converter=units.optional_ohms, validator=within(1, 1e6))
    current: MinTypMax = attrs.field(converter=units.amperes_spread, validator=within(0, 10))


def supply_currents_tuple(given: SupplyCurrent | Iterable[SupplyCurrent] | None) -> tuple[SupplyCurrent, ...]:
    """Read supply currents [-]."""
    return tuple_from(given, SupplyCurrent)


@attrs.frozen(kw_only=True, field_transformer=named)
class EfficiencyPoint(Viewed):
    """Efficiency of an isolated supply at one output power.

    Parameters
    ----------
    output_power : float
        Output power [W].
    efficiency : MinTypMax
        Output power over input power [-].
    """

    output_power: float = attrs.field(converter=units.watts, validator=within(1e-4, 1e3))
    efficiency: MinTypMax = attrs.field(converter=units.ratio_spread, validator=within(0.01, 1))


def efficiency_tuple(given: EfficiencyPoint | Iterable[EfficiencyPoint] | None) -> tuple[EfficiencyPoint, ...]:
    """Read efficiencies [-]."""
    return tuple_from(given, EfficiencyPoint)


@attrs.frozen(kw_only=True, field_transformer=named)
class DeratingPoint(Viewed):
    """Share of its rating that an isolated supply may give at one ambient temperature.

    Parameters
    ----------
    temperature : float
        Ambient temperature [K].
    share : float
        Share of the rated output [-].
    """

    temperature: float = attrs.field(converter=units.kelvins, validator=within(173, 523))
    share: float = attrs.field(converter=units.ratio, validator=within(0, 1))


def derating_tuple(given: DeratingPoint | Iterable[DeratingPoint] | None) -> tuple[DeratingPoint, ...]:
    """Read points of a derating curve [-]."""
    return tuple_from(given, DeratingPoint)


@attrs.frozen(kw_only=True, field_transformer=named)
class OutputRating(Viewed):
    """Output current for which an isolated supply is rated from one input voltage on.

    Parameters
    ----------
    input_voltage : float
        Input voltage [V].
    output_current : float
        Rated output current at that input voltage [A].
    """

    input_voltage: float = attrs.field(converter=units.volts, validator=within(1, 400))
    output_current: float = attrs.field(converter=units.amperes, validator=within(1e-4, 100))


def output_ratings_tuple(given: OutputRating | Iterable[OutputRating] | None) -> tuple[OutputRating, ...]:
    """Read ratings of an output [-]."""
    return tuple_from(given, OutputRating)


def _one_law(thing: Any, *, needed: bool) -> None:
    """Refuse an object that states how much it draws in two ways, or in none where one is needed."""
    stated = [name for name in _laws if getattr(thing, name) is not None]
    if len(stated) > 1 or (needed and not stated):
        label = f'{type(thing).__name__} "{thing.name}"' if needed else type(thing).__name__
        wanted = "one of power, current and resistance" + ("" if needed else ", or none of them")
        raise InputError(Problem(label, " and ".join(stated) or "none of them", wanted))


@attrs.frozen(kw_only=True, field_transformer=named)
class Accessory(Viewed):
    """Something else that a node's bus-side supply feeds: an indicator, a pull-up, a small sensor.

    Parameters
    ----------
    name : str
        Name [-].
    current : MinTypMax or None
        Current, if it draws the same at any voltage [A].
    power : MinTypMax or None
        Power, if it draws the same at any voltage [W].
    resistance : MinTypMax or None
        Resistance, if it is one [ohm].
    duty : float
        Share of the time in which it draws; a supply has to bear it all the same, the mean and the heat count it [-].
    """

    name: str = attrs.field(validator=is_name)
    current: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_amperes_spread, validator=within(0, 100)
    )
    power: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_watts_spread, validator=within(0, 1e3)
    )
    resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(0.1, 1e8)
    )
    duty: float = attrs.field(default=1.0, converter=units.ratio, validator=within(0, 1))

    def __attrs_post_init__(self) -> None:
        """Refuse one that does not say in one way what it draws."""
        _one_law(self, needed=True)


def accessories_tuple(given: Accessory | Iterable[Accessory] | None) -> tuple[Accessory, ...]:
    """Read accessories [-]."""
    return tuple_from(given, Accessory)


@attrs.frozen(kw_only=True, field_transformer=named)
class FeedLoad(Viewed):
    """What a node draws from the feed conductors of its cable.

    It draws a constant power, as anything behind a switching converter does, a constant current, as behind a linear
    regulator, or the current of a resistance. If it states none of them, its isolated supply is what the feed
    supplies, and the power is that of `supply_budgets`.

    Parameters
    ----------
    power : MinTypMax or None
        Power while its driver is off [W].
    current : MinTypMax or None
        Current while its driver is off [A].
    resistance : MinTypMax or None
        Resistance of its input [ohm].
    talking_power : MinTypMax or None
        Power that it draws more while its driver is on; None: none [W].
    minimum_voltage : float or None
        Voltage below which it stops; None: unknown [V].
    restart_voltage : float or None
        Voltage from which it starts again; None: as `minimum_voltage` [V].
    capacitance : MinTypMax or None
        Capacitance of its input; None: unknown [F].
    inrush_current : float or None
        Largest current with which it charges its capacitance, where something limits it; None: nothing does [A].
    """

    power: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_watts_spread, validator=within(0, 1e4)
    )
    current: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_amperes_spread, validator=within(0, 100)
    )
    resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(0.1, 1e8)
    )
    talking_power: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_watts_spread, validator=within(0, 1e4)
    )
    minimum_voltage: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0.1, 400)
    )
    restart_voltage: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0.1, 400)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(0, 1)
    )
    inrush_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-4, 1e4)
    )

    def __attrs_post_init__(self) -> None:
        """Refuse two laws, and a restart below the voltage at which it stops."""
        _one_law(self, needed=False)
        if self.restart_voltage is None:
            return
        if self.minimum_voltage is None or self.restart_voltage < self.minimum_voltage:
            stops = "not stated" if self.minimum_voltage is None else f"{self.minimum_voltage:g} V"
            raise InputError(
                Problem(
                    "FeedLoad.restart_voltage", f"{self.restart_voltage:g} V",
                    f"at least the minimum_voltage, which is {stops}",
                )
            )  # fmt: skip


@attrs.frozen(kw_only=True, field_transformer=named)
class FeedSource(Viewed):
    """A feeding point: a supply at a node that gives power to the feed conductors. It takes none back.

    Parameters
    ----------
    voltage : MinTypMax
        Voltage without load [V].
    resistance : MinTypMax or None
        Inner resistance, that of its leads included; None: none is assumed, and the answer says so [ohm].
    current_limit : float or None
        Current at which it limits; None: unknown [A].
    inrush_current : float or None
        Largest current that it bears for a moment when it is switched on; None: not stated [A].
    fuse : float or None
        Rated current of the fuse or breaker behind it; None: no fuse is stated [A].
    bonded : bool
        Whether its minus is bonded to the earth of its node [-].
    """

    voltage: MinTypMax = attrs.field(converter=units.volts_spread, validator=within(1, 400))
    resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(0, 1e4)
    )
    current_limit: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-3, 1e3)
    )
    inrush_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-3, 1e4)
    )
    fuse: float | None = attrs.field(default=None, converter=units.optional_amperes, validator=within(1e-3, 1e3))
    bonded: bool = attrs.field(default=False, validator=is_flag)


@attrs.frozen(kw_only=True, field_transformer=named)
class FeedConductors(Viewed):
    """The feed conductors of a segment: spare wires of its cable, in parallel, for plus and for minus.

    Parameters
    ----------
    wires : int
        Wires in parallel for plus, and as many for minus [-].
    conductor_resistance : MinTypMax or None
        Resistance of one wire at 20 degC; None: that of a conductor of the signal pair of its cable [ohm/m].
    current_rating : float or None
        Largest current of one wire in use; None: not stated [A].
    common_return : bool
        Whether the reference conductor is the minus too, as one conductor that carries both currents [-].
    """

    wires: int = attrs.field(default=1, validator=is_wire_count)
    conductor_resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_per_metre_spread, validator=within(1e-4, 10)
    )
    current_rating: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-3, 1e3)
    )
    common_return: bool = attrs.field(default=False, validator=is_flag)
