"""Barriers: the parts across which a node is isolated, what bridges them, and what stands behind them."""

from collections.abc import Iterable
from typing import Literal, TypeAlias

import attrs

from rs485kit import units
from rs485kit.model.base import (
    Viewed,
    is_name,
    named,
    one_of,
    optional_instance_of,
    tuple_from,
    tuple_of,
    within,
)
from rs485kit.units import MinTypMax

Insulation: TypeAlias = Literal["functional", "basic", "reinforced"]
_insulation = one_of("functional", "basic", "reinforced", None)
_category = one_of(1, 2, 3, 4, None)


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
    capacitance : MinTypMax or None
        Capacitance across the barrier [F].
    channels : tuple of Channel
        Its data paths; none: not stated [-].
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
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-15, 1e-6)
    )
    channels: tuple[Channel, ...] = attrs.field(default=(), converter=channels_tuple, validator=tuple_of(Channel))


@attrs.frozen(kw_only=True, field_transformer=named)
class IsolatedSupply(Viewed):
    """The power path of a galvanic barrier.

    Parameters
    ----------
    name : str
        Name of the part [-].
    output_voltage : MinTypMax or None
        Bus-side output voltage [V].
    output_power : float or None
        Rated output power [W].
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
    """

    name: str = attrs.field(validator=is_name)
    output_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(1, 60)
    )
    output_power: float | None = attrs.field(
        default=None, converter=units.optional_watts, validator=within(1e-3, 1e3)
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


@attrs.frozen(kw_only=True)
class Barrier:
    """A galvanic barrier between a node's bus side and its field side.

    Parameters
    ----------
    isolator : Isolator or None
        The data path; None: unknown [-].
    supply : IsolatedSupply or None
        The power path; None: unknown [-].
    """

    isolator: Isolator | None = attrs.field(default=None, validator=optional_instance_of(Isolator))
    supply: IsolatedSupply | None = attrs.field(default=None, validator=optional_instance_of(IsolatedSupply))
