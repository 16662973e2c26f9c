"""Barriers: the parts across which a node is isolated, what bridges them, and what stands behind them."""

from collections.abc import Iterable
from typing import Literal, TypeAlias

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import (
    Viewed,
    is_flag_or_none,
    is_name,
    named,
    one_of,
    optional_instance_of,
    tuple_from,
    tuple_of,
    within,
)
from rs485kit.model.power import (
    DeratingPoint,
    EfficiencyPoint,
    OutputRating,
    derating_tuple,
    efficiency_tuple,
    output_ratings_tuple,
)
from rs485kit.units import MinTypMax

Insulation: TypeAlias = Literal["functional", "basic", "reinforced"]
_insulation = one_of("functional", "basic", "reinforced", None)
MaterialGroup: TypeAlias = Literal["I", "II", "IIIa", "IIIb"]
_category = one_of(1, 2, 3, 4, None)
_material_group = one_of("I", "II", "IIIa", "IIIb", None)


@attrs.frozen(kw_only=True, field_transformer=named)
class LifePoint(Viewed):
    """One point of the line of life that a part states for its insulation.

    Parameters
    ----------
    voltage_rms : float
        Voltage that stands across it without a break, RMS [V].
    life : float
        Life at that voltage, at the share of failures that the standard of the part asks for [s].
    """

    voltage_rms: float = attrs.field(converter=units.volts, validator=within(10, 1e5))
    life: float = attrs.field(converter=units.seconds, validator=within(1e-3, 1e15))


def life_points_tuple(given: LifePoint | Iterable[LifePoint] | None) -> tuple[LifePoint, ...]:
    """Read points of a line of life [-]."""
    return tuple_from(given, LifePoint)


@attrs.frozen(kw_only=True, field_transformer=named)
class Channel(Viewed):
    """One data path through a barrier, as a barrier of several parts has them.

    Parameters
    ----------
    purpose : str
        "transmit" (data towards the bus), "receive" (data from the bus) or "enable" (driver enable) [-].
    delay : MinTypMax or None
        Propagation delay; None: unknown [s].
    pulse_distortion : float or None
        Largest difference between the delays of a rising and a falling edge; None: unknown [s].
    jitter : float or None
        Largest jitter, peak to peak; None: unknown [s].
    skew : float or None
        Largest difference of delay between two channels of one part; None: unknown [s].
    """

    purpose: Literal["transmit", "receive", "enable"] = attrs.field(validator=one_of("transmit", "receive", "enable"))
    delay: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(1e-11, 1e-3)
    )
    pulse_distortion: float | None = attrs.field(
        default=None, converter=units.optional_seconds, validator=within(0, 1e-3)
    )
    jitter: float | None = attrs.field(default=None, converter=units.optional_seconds, validator=within(0, 1e-3))
    skew: float | None = attrs.field(default=None, converter=units.optional_seconds, validator=within(0, 1e-3))


def channels_tuple(given: Channel | Iterable[Channel] | None) -> tuple[Channel, ...]:
    """Read data channels [-]."""
    return tuple_from(given, Channel)


@attrs.frozen(kw_only=True, field_transformer=named)
class Isolator(Viewed):
    """The data path of a galvanic barrier.

    A withstand voltage for 60 s is never a working voltage; RMS and peak figures are never exchanged.

    Parameters
    ----------
    name : str
        Name of the part [-].
    insulation : str or None
        "functional", "basic" or "reinforced"; None: unknown [-].
    withstand_voltage_rms : float or None
        Withstand voltage for 60 s, RMS [V].
    working_voltage_rms : float or None
        Continuous working voltage, RMS [V].
    working_voltage_peak : float or None
        Continuous working voltage, peak [V].
    transient_immunity : float or None
        Common-mode slew rate through which the part still communicates [V/s].
    transient_immunity_static : float or None
        Common-mode slew rate through which its outputs only hold their state [V/s].
    capacitance : MinTypMax or None
        Capacitance across the barrier [F].
    impulse_voltage_peak : float or None
        Impulse voltage of 1.2/50 us that it stands, peak; no surge rating [V].
    surge_voltage_peak : float or None
        Surge voltage that its insulation is rated for, peak; no impulse voltage in air [V].
    clearance : float or None
        Least distance through air from one side to the other [m].
    creepage : float or None
        Least distance along its surface from one side to the other [m].
    material_group : str or None
        Material group of that surface, "I", "II", "IIIa" or "IIIb" [-].
    life_points : tuple of LifePoint
        Points of its line of life; none: not stated [-].
    channels : tuple of Channel
        Its data paths; none: not stated [-].
    supply_current : MinTypMax or None
        Supply current of its bus side at the data rate in use; None: unknown [A].
    """

    name: str = attrs.field(validator=is_name)
    insulation: Insulation | None = attrs.field(default=None, validator=_insulation)
    withstand_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    working_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    working_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    transient_immunity: float | None = attrs.field(
        default=None, converter=units.optional_volts_per_second, validator=within(1e6, 1e13)
    )
    transient_immunity_static: float | None = attrs.field(
        default=None, converter=units.optional_volts_per_second, validator=within(1e6, 1e13)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-15, 1e-6)
    )
    impulse_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e6)
    )
    surge_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e6)
    )
    clearance: float | None = attrs.field(default=None, converter=units.optional_metres, validator=within(1e-6, 1))
    creepage: float | None = attrs.field(default=None, converter=units.optional_metres, validator=within(1e-6, 1))
    material_group: MaterialGroup | None = attrs.field(default=None, validator=_material_group)
    life_points: tuple[LifePoint, ...] = attrs.field(
        default=(), converter=life_points_tuple, validator=tuple_of(LifePoint)
    )
    channels: tuple[Channel, ...] = attrs.field(default=(), converter=channels_tuple, validator=tuple_of(Channel))
    supply_current: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_amperes_spread, validator=within(0, 1)
    )


@attrs.frozen(kw_only=True, field_transformer=named)
class IsolatedSupply(Viewed):
    """The power path of a galvanic barrier.

    An output with `line_regulation` and `load_regulation` is not regulated: its limits follow from those, the setting
    accuracy and the input voltage, and only the typical `output_voltage` counts.

    Parameters
    ----------
    name : str
        Name of the part [-].
    output_voltage : MinTypMax or None
        Bus-side output voltage [V].
    output_power : float or None
        Rated output power [W].
    output_current : float or None
        Rated output current; None: the power over the typical output voltage [A].
    output_ratings : tuple of OutputRating
        Rated output current by input voltage, where it depends on that; none: it does not [-].
    derating : tuple of DeratingPoint
        Share of the rating by ambient temperature; none: not stated [-].
    input_voltage : MinTypMax or None
        Rated input voltage: least, nominal and largest; None: unknown [V].
    efficiency : tuple of EfficiencyPoint
        Efficiency at some output powers; none: unknown [-].
    no_load_current : MinTypMax or None
        Input current without load at the nominal input voltage; None: the loss of the least stated power is taken [A].
    regulated : bool or None
        Whether the output is regulated; None: its output has the limits that are stated [-].
    setting_accuracy : float or None
        Share by which the output may be set wrong, either way; None: none, and the answer says so [-].
    load_regulation : float or None
        Share by which the output falls at rated load and rises at the least; None: the limits of `output_voltage` hold
        it [-].
    line_regulation : float or None
        Share by which the output moves over the share by which the input does; None: the limits of `output_voltage`
        hold it [-].
    minimum_load : float or None
        Output current below which its figures do not hold; None: not stated [A].
    ripple : float or None
        Ripple of the output, peak to peak; None: not stated [V].
    capacitive_load : float or None
        Largest capacitance at its output with which it starts; None: not stated [F].
    thermal_resistance : float or None
        From its case to the ambient; None: unknown [K/W].
    max_case_temperature : float or None
        Highest temperature of its case in use; None: unknown [K].
    insulation : str or None
        "functional", "basic" or "reinforced"; None: unknown [-].
    withstand_voltage_rms : float or None
        Withstand voltage for 60 s, RMS [V].
    working_voltage_rms : float or None
        Continuous working voltage, RMS [V].
    working_voltage_peak : float or None
        Continuous working voltage, peak [V].
    capacitance : MinTypMax or None
        Capacitance across the barrier [F].
    impulse_voltage_peak : float or None
        Impulse voltage of 1.2/50 us that it stands, peak; no surge rating [V].
    surge_voltage_peak : float or None
        Surge voltage that its insulation is rated for, peak; no impulse voltage in air [V].
    clearance : float or None
        Least distance through air from one side to the other [m].
    creepage : float or None
        Least distance along its surface from one side to the other [m].
    material_group : str or None
        Material group of that surface, "I", "II", "IIIa" or "IIIb" [-].
    life_points : tuple of LifePoint
        Points of its line of life; none: not stated [-].
    """

    name: str = attrs.field(validator=is_name)
    output_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(1, 60)
    )
    output_power: float | None = attrs.field(
        default=None, converter=units.optional_watts, validator=within(1e-3, 1e3)
    )
    output_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-4, 100)
    )
    output_ratings: tuple[OutputRating, ...] = attrs.field(
        default=(), converter=output_ratings_tuple, validator=tuple_of(OutputRating)
    )
    derating: tuple[DeratingPoint, ...] = attrs.field(
        default=(), converter=derating_tuple, validator=tuple_of(DeratingPoint)
    )
    input_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(1, 400)
    )
    efficiency: tuple[EfficiencyPoint, ...] = attrs.field(
        default=(), converter=efficiency_tuple, validator=tuple_of(EfficiencyPoint)
    )
    no_load_current: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_amperes_spread, validator=within(0, 10)
    )
    regulated: bool | None = attrs.field(default=None, validator=is_flag_or_none)
    setting_accuracy: float | None = attrs.field(
        default=None, converter=units.optional_ratio, validator=within(0, 0.5)
    )
    load_regulation: float | None = attrs.field(
        default=None, converter=units.optional_ratio, validator=within(0, 0.5)
    )
    line_regulation: float | None = attrs.field(
        default=None, converter=units.optional_ratio, validator=within(0, 3)
    )
    minimum_load: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(0, 100)
    )
    ripple: float | None = attrs.field(default=None, converter=units.optional_volts, validator=within(0, 10))
    capacitive_load: float | None = attrs.field(
        default=None, converter=units.optional_farads, validator=within(0, 1)
    )
    thermal_resistance: float | None = attrs.field(
        default=None, converter=units.optional_kelvins_per_watt, validator=within(0.1, 1e4)
    )
    max_case_temperature: float | None = attrs.field(
        default=None, converter=units.optional_kelvins, validator=within(323, 523)
    )
    insulation: Insulation | None = attrs.field(default=None, validator=_insulation)
    withstand_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    working_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    working_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-15, 1e-6)
    )
    impulse_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e6)
    )
    surge_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e6)
    )
    clearance: float | None = attrs.field(default=None, converter=units.optional_metres, validator=within(1e-6, 1))
    creepage: float | None = attrs.field(default=None, converter=units.optional_metres, validator=within(1e-6, 1))
    material_group: MaterialGroup | None = attrs.field(default=None, validator=_material_group)
    life_points: tuple[LifePoint, ...] = attrs.field(
        default=(), converter=life_points_tuple, validator=tuple_of(LifePoint)
    )


@attrs.frozen(kw_only=True, field_transformer=named)
class Bridge(Viewed):
    """Something else that bridges a barrier beside the parts that make it: the board below, a connector, a capacitor.

    A resistor across a barrier is a way to an earth: see `EarthBond`.

    Parameters
    ----------
    name : str
        What it is [-].
    kind : str
        "board", "connector" or "capacitor" [-].
    insulation : str or None
        "functional", "basic" or "reinforced"; None: what its distances make of a board or a connector, and not known of
        a capacitor [-].
    withstand_voltage_rms : float or None
        Withstand voltage for 60 s, RMS [V].
    working_voltage_rms : float or None
        Continuous working voltage, RMS [V].
    working_voltage_peak : float or None
        Continuous working voltage, peak [V].
    capacitance : MinTypMax or None
        Capacitance across the barrier; None: none for a board or a connector, unknown for a capacitor [F].
    impulse_voltage_peak : float or None
        Impulse voltage of 1.2/50 us that it stands, peak; no surge rating [V].
    surge_voltage_peak : float or None
        Surge voltage that its insulation is rated for, peak; no impulse voltage in air [V].
    clearance : float or None
        Least distance through air from one side to the other [m].
    creepage : float or None
        Least distance along its surface from one side to the other [m].
    material_group : str or None
        Material group of that surface, "I", "II", "IIIa" or "IIIb" [-].
    """

    name: str = attrs.field(validator=is_name)
    kind: Literal["board", "connector", "capacitor"] = attrs.field(validator=one_of("board", "connector", "capacitor"))
    insulation: Insulation | None = attrs.field(default=None, validator=_insulation)
    withstand_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    working_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    working_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e5)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-15, 1e-6)
    )
    impulse_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e6)
    )
    surge_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(10, 1e6)
    )
    clearance: float | None = attrs.field(default=None, converter=units.optional_metres, validator=within(1e-6, 1))
    creepage: float | None = attrs.field(default=None, converter=units.optional_metres, validator=within(1e-6, 1))
    material_group: MaterialGroup | None = attrs.field(default=None, validator=_material_group)


def isolators_tuple(given: Isolator | Iterable[Isolator] | None) -> tuple[Isolator, ...]:
    """Read none, one or several isolators [-]."""
    return tuple_from(given, Isolator)


def bridges_tuple(given: Bridge | Iterable[Bridge] | None) -> tuple[Bridge, ...]:
    """Read none, one or several further bridges of a barrier [-]."""
    return tuple_from(given, Bridge)


@attrs.frozen(kw_only=True, field_transformer=named)
class Protector(Viewed):
    """A surge or overvoltage part, with the two ends between which it stands.

    Parameters
    ----------
    name : str
        Name of the part [-].
    ends : str
        "line-line", "line-common" (one element on each line) or "common-earth" [-].
    standoff : float or None
        Voltage up to which it only leaks [V].
    leakage : float or None
        Largest current at the standoff voltage [A].
    capacitance : MinTypMax or None
        Capacitance of one element; None: none is assumed, and the answer says so [F].
    surge_current : float or None
        Greatest peak of a surge that one element takes; None: unknown [A].
    """

    name: str = attrs.field(validator=is_name)
    ends: Literal["line-line", "line-common", "common-earth"] = attrs.field(
        validator=one_of("line-line", "line-common", "common-earth")
    )
    standoff: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0.1, 1e5)
    )
    leakage: float | None = attrs.field(default=None, converter=units.optional_amperes, validator=within(0, 1))
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(0, 1e-6)
    )
    surge_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(0.1, 1e6)
    )


def protectors_tuple(given: Protector | Iterable[Protector] | None) -> tuple[Protector, ...]:
    """Read none, one or several protectors [-]."""
    return tuple_from(given, Protector)


@attrs.frozen(kw_only=True, field_transformer=named)
class Circuit(Viewed):
    """What stands on the field side of a node's barrier; None is unknown.

    Parameters
    ----------
    hazard : str or None
        "hazardous" (mains or the like) or "touchable" [-].
    working_voltage_rms : float or None
        Working voltage of the field side against the bus, RMS [V].
    working_voltage_peak : float or None
        Working voltage of the field side against the bus, peak [V].
    system_voltage_rms : float or None
        Line-to-neutral voltage of the mains that feeds it, RMS [V].
    overvoltage_category : int or None
        Overvoltage category, 1 to 4 [-].
    impulse_voltage_peak : float or None
        Greatest impulse that reaches it where that is known otherwise, as behind a supply of its own; None: that of
        its mains [V].
    slew : float or None
        Fastest change of the field side against the bus; None: none is declared [V/s].
    """

    hazard: Literal["hazardous", "touchable"] | None = attrs.field(
        default=None, validator=one_of("hazardous", "touchable", None)
    )
    working_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 1e5)
    )
    working_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 1e5)
    )
    system_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(1, 1e5)
    )
    overvoltage_category: int | None = attrs.field(default=None, validator=_category)
    impulse_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(1, 1e6)
    )
    slew: float | None = attrs.field(
        default=None, converter=units.optional_volts_per_second, validator=within(0, 1e13)
    )

    def __attrs_post_init__(self) -> None:
        """Refuse a peak below the RMS voltage of the same circuit."""
        rms, peak = self.working_voltage_rms, self.working_voltage_peak
        if rms is not None and peak is not None and peak < rms:
            raise InputError(
                Problem(
                    "Circuit.working_voltage_peak", f"{peak:g} V with {rms:g} V RMS", "a peak not below the RMS voltage"
                )
            )


@attrs.frozen(kw_only=True, field_transformer=named)
class Barrier(Viewed):
    """A galvanic barrier between a node's bus side and its field side.

    Parameters
    ----------
    isolator : Isolator or None
        The data path; None: unknown [-].
    supply : IsolatedSupply or None
        The power path; None: unknown [-].
    others : tuple of Isolator
        Further data paths beside the first, such as an optocoupler for the driver enable [-].
    bridges : tuple of Bridge
        What else bridges it: board, connector, capacitors [-].
    input_voltage : MinTypMax or None
        Voltage that feeds the supply from the field side; None: anywhere in what the supply is rated for [V].
    load_capacitance : MinTypMax or None
        Capacitance on the supply's output, everything on the bus side together; None: unknown [F].
    """

    isolator: Isolator | None = attrs.field(default=None, validator=optional_instance_of(Isolator))
    supply: IsolatedSupply | None = attrs.field(default=None, validator=optional_instance_of(IsolatedSupply))
    others: tuple[Isolator, ...] = attrs.field(default=(), converter=isolators_tuple, validator=tuple_of(Isolator))
    bridges: tuple[Bridge, ...] = attrs.field(default=(), converter=bridges_tuple, validator=tuple_of(Bridge))
    input_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(1, 400)
    )
    load_capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(0, 1)
    )
