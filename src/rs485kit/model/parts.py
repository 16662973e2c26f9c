"""Parts: what a catalogue holds and a node or segment is made of. Data, no physics."""

from collections.abc import Iterable
from typing import Literal, TypeAlias

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import Viewed, is_flag, is_label, is_name, named, one_of, tuple_from, tuple_of, within
from rs485kit.model.power import SupplyCurrent, supply_currents_tuple
from rs485kit.units import MinTypMax

EdgeShape: TypeAlias = Literal["raised cosine", "linear ramp"]


@attrs.frozen(kw_only=True, field_transformer=named)
class Transceiver(Viewed):
    """A driver and receiver as its datasheet guarantees it.

    The thresholds are the limits between which the real threshold may lie: a receiver surely reads mark above
    the largest `receiver_upper_threshold` and surely reads space below the least `receiver_lower_threshold`.
    A receiver with built-in failsafe has an upper threshold below zero.

    Parameters
    ----------
    name : str
        Name of the part [-].
    unit_load : float or None
        Load of one receiver input in unit loads; None: unknown [-].
    supply_voltage : MinTypMax or None
        Bus-side supply; None: unknown [V].
    input_reference : float or None
        Voltage against the node's bus-side common to which an open receiver input pulls; None: half the
        bus-side supply while powered, 0 V otherwise [V].
    input_mismatch : float or None
        Largest difference between the conductances of the two inputs of one receiver, as a share; None: unknown, so
        that each input is read by itself [-].
    receiver_upper_threshold : MinTypMax or None
        Differential voltage above which mark is read [V].
    receiver_lower_threshold : MinTypMax or None
        Differential voltage below which space is read [V].
    driver_open_voltage : MinTypMax or None
        Differential output magnitude without load [V].
    driver_loaded_voltage : MinTypMax or None
        Differential output magnitude into 54 ohm [V].
    driver_offset_voltage : MinTypMax or None
        Mean of the two outputs against the common while driving; None: anywhere from -1 V to +3 V, as the standard
        allows [V].
    driver_least_load : float or None
        Least load down to which `driver_loaded_voltage` holds; None: 54 ohm [ohm].
    driver_current : float or None
        Largest output current that the part is rated for in use; None: not stated [A].
    driver_edge_time : MinTypMax or None
        Time from 10 to 90 % of an edge into 54 ohm and 50 pF; of a rising one if `driver_fall_time` is stated [s].
    driver_fall_time : MinTypMax or None
        The same of the falling edge; None: as the rising one [s].
    driver_edge_shape : str
        "raised cosine" or "linear ramp" [-].
    driver_short_circuit_current : MinTypMax or None
        Largest current that the driver's outputs carry into a short or into another driver; None: what its two levels
        imply [A].
    driver_delay : MinTypMax or None
        Delay from the data input to the crossing of the two lines; None: unknown [s].
    driver_skew : float or None
        Largest difference between the delays of a rising and a falling edge through the driver; None: unknown [s].
    driver_enable_time : MinTypMax or None
        Time from the enable signal until the pair is driven; None: unknown [s].
    driver_disable_time : MinTypMax or None
        Time from the end of the enable signal until the pair is let go; None: unknown [s].
    mark_driven : bool
        Whether the driver holds mark; false for one with automatic direction that drives space and leaves mark to the
        bias of the bus [-].
    mark_drive_time : MinTypMax or None
        Where it does not hold mark: the time for which it drives mark after a space all the same, before it leaves it
        to the bias; 0: not at all; None: unknown [s].
    receiver_delay : MinTypMax or None
        Delay from the pair to the receiver's output; None: unknown [s].
    receiver_skew : float or None
        Largest difference between the delays of a rising and a falling edge through the receiver, at edges that are
        fast against it; None: unknown [s].
    receiver_hysteresis : MinTypMax or None
        Upper less lower threshold of one receiver; None: none is guaranteed [V].
    max_data_rate : float or None
        Highest data rate that the part is rated for [bit/s].
    capacitance : MinTypMax or None
        Capacitance between its two bus pins while it does not drive; None: 20 pF is assumed, and the answer says so
        [F].
    line_voltage_lowest, line_voltage_highest : float or None
        Absolute ratings of a bus pin against the common; None: -7 V and +12 V, which the standard asks for [V].
    supply_currents : tuple of SupplyCurrent
        Supply current with its driver on, at some data rates and loads; none: unknown [-].
    quiescent_current : MinTypMax or None
        Supply current with its driver off; None: unknown [A].
    short_circuit_current : float or None
        Largest current of a shorted output; None: 250 mA, which the standard allows [A].
    thermal_resistance : float or None
        From the junction to the ambient, as mounted; None: unknown [K/W].
    max_junction_temperature : float or None
        Highest temperature of the junction in use; None: unknown [K].
    common_mode_lowest, common_mode_highest : float or None
        Range of either line against the common over which it receives; None: -7 V and +12 V of the standard [V].
    """

    name: str = attrs.field(validator=is_name)
    unit_load: float | None = attrs.field(default=None, converter=units.optional_ratio, validator=within(0, 32))
    supply_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(1, 40)
    )
    input_reference: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 2.6)
    )
    input_mismatch: float | None = attrs.field(
        default=None, converter=units.optional_ratio, validator=within(0, 0.9)
    )
    receiver_upper_threshold: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(-1, 1)
    )
    receiver_lower_threshold: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(-1, 1)
    )
    driver_open_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(0, 15)
    )
    driver_loaded_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(0, 15)
    )
    driver_offset_voltage: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(-10, 10)
    )
    driver_least_load: float | None = attrs.field(
        default=None, converter=units.optional_ohms, validator=within(1, 1e4)
    )
    driver_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-4, 1)
    )
    driver_edge_time: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(1e-11, 1e-3)
    )
    driver_fall_time: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(1e-11, 1e-3)
    )
    driver_edge_shape: EdgeShape = attrs.field(
        default="raised cosine", validator=one_of("raised cosine", "linear ramp")
    )
    driver_short_circuit_current: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_amperes_spread, validator=within(1e-3, 1)
    )
    driver_delay: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 1e-3)
    )
    driver_skew: float | None = attrs.field(
        default=None, converter=units.optional_seconds, validator=within(0, 1e-3)
    )
    driver_enable_time: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 1e-2)
    )
    driver_disable_time: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 1e-2)
    )
    mark_driven: bool = attrs.field(default=True, validator=is_flag)
    mark_drive_time: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 1)
    )
    receiver_delay: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 1e-3)
    )
    receiver_skew: float | None = attrs.field(
        default=None, converter=units.optional_seconds, validator=within(0, 1e-3)
    )
    receiver_hysteresis: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(0, 1)
    )
    max_data_rate: float | None = attrs.field(
        default=None, converter=units.optional_bits_per_second, validator=within(1, 1e9)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(0, 1e-8)
    )
    line_voltage_lowest: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(-100, 0)
    )
    line_voltage_highest: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 100)
    )
    supply_currents: tuple[SupplyCurrent, ...] = attrs.field(
        default=(), converter=supply_currents_tuple, validator=tuple_of(SupplyCurrent)
    )
    quiescent_current: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_amperes_spread, validator=within(0, 1)
    )
    short_circuit_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(1e-3, 2)
    )
    thermal_resistance: float | None = attrs.field(
        default=None, converter=units.optional_kelvins_per_watt, validator=within(0.1, 1e4)
    )
    max_junction_temperature: float | None = attrs.field(
        default=None, converter=units.optional_kelvins, validator=within(323, 523)
    )
    common_mode_lowest: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(-100, 0)
    )
    common_mode_highest: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 100)
    )

    def __attrs_post_init__(self) -> None:
        """Refuse thresholds that overlap the wrong way round."""
        upper, lower = self.receiver_upper_threshold, self.receiver_lower_threshold
        if upper is None or lower is None or upper.max is None or lower.min is None:
            return
        if lower.min > upper.max:
            raise InputError(
                Problem(
                    f'Transceiver "{self.name}".receiver_lower_threshold', f"{lower.min:g} V",
                    f"at most the upper threshold, {upper.max:g} V",
                )
            )  # fmt: skip


@attrs.frozen(kw_only=True, field_transformer=named)
class Attenuation(Viewed):
    """What a cable loses at one frequency, as its datasheet states it.

    Parameters
    ----------
    frequency : float
        Frequency [Hz].
    loss : float
        Loss per length of the pair, ended in its own impedance, at 20 degC [dB/m].
    """

    frequency: float = attrs.field(converter=units.hertz, validator=within(10, 1e9))
    loss: float = attrs.field(converter=units.decibels_per_metre, validator=within(1e-6, 10))


def attenuations_tuple(given: Attenuation | Iterable[Attenuation] | None) -> tuple[Attenuation, ...]:
    """Read losses [-]."""
    return tuple_from(given, Attenuation)


@attrs.frozen(kw_only=True, field_transformer=named)
class Cable(Viewed):
    """A cable with one signal pair, and perhaps a reference conductor and a shield.

    Resistances are of one conductor at 20 degC, per metre.

    Parameters
    ----------
    name : str
        Name of the cable [-].
    conductor_resistance : MinTypMax or None
        Resistance of one conductor of the pair at 20 degC [ohm/m].
    reference_resistance : MinTypMax or None
        Resistance of the reference conductor at 20 degC [ohm/m].
    shield_resistance : MinTypMax or None
        Resistance of the shield at 20 degC [ohm/m].
    characteristic_impedance : MinTypMax or None
        Characteristic impedance of the pair [ohm].
    velocity_factor : MinTypMax or None
        Speed of propagation as a share of the speed of light [-].
    capacitance : MinTypMax or None
        Capacitance between the conductors of the pair [F/m].
    impedance_frequency : float
        Frequency at which impedance, velocity and capacitance hold [Hz].
    attenuation : tuple of Attenuation
        Loss of the pair at some frequencies; none: from the resistance alone [-].
    conductor_diameter : float or None
        Diameter of the outline of one conductor of the pair; None: that of solid copper of its resistance [m].
    earth_capacitance : MinTypMax or None
        Capacitance of all its conductors together to its shield or, without one, to earth [F/m].
    """

    name: str = attrs.field(validator=is_name)
    conductor_resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_per_metre_spread, validator=within(1e-3, 10)
    )
    reference_resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_per_metre_spread, validator=within(1e-3, 10)
    )
    shield_resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_per_metre_spread, validator=within(1e-3, 10)
    )
    characteristic_impedance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(20, 500)
    )
    velocity_factor: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ratio_spread, validator=within(0.1, 1)
    )
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_per_metre_spread, validator=within(1e-12, 1e-9)
    )
    impedance_frequency: float = attrs.field(default=1e6, converter=units.hertz, validator=within(1e3, 1e9))
    attenuation: tuple[Attenuation, ...] = attrs.field(
        default=(), converter=attenuations_tuple, validator=tuple_of(Attenuation)
    )
    conductor_diameter: float | None = attrs.field(
        default=None, converter=units.optional_metres, validator=within(1e-5, 1e-2)
    )
    earth_capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_per_metre_spread, validator=within(1e-12, 1e-8)
    )


@attrs.frozen(kw_only=True, field_transformer=named)
class Termination(Viewed):
    """A terminator across the pair: resistive, RC (with `capacitance`), or active (with legs to a supply).

    Parameters
    ----------
    resistance : MinTypMax
        Resistance across the pair [ohm].
    name : str
        Name, if it is a named part [-].
    capacitance : MinTypMax or None
        Series capacitor of an RC terminator; it blocks DC [F].
    pull_up : MinTypMax or None
        Leg from the noninverting line to the supply, of an active terminator [ohm].
    pull_down : MinTypMax or None
        Leg from the inverting line to the node's common, of an active terminator [ohm].
    supply : MinTypMax or None
        Supply of an active terminator against the node's common; None: the node's bus-side supply [V].
    power : float or None
        Power that each of its resistors is rated for, at the temperature where it sits; None: not stated [W].
    engaged : bool
        Whether it is switched or plugged in [-].
    """

    resistance: MinTypMax = attrs.field(converter=units.ohms_spread, validator=within(1, 1e6))
    name: str = attrs.field(default="", validator=is_label)
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(1e-12, 1e-3)
    )
    pull_up: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(1, 1e8)
    )
    pull_down: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(1, 1e8)
    )
    supply: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(0, 60)
    )
    power: float | None = attrs.field(
        default=None, converter=units.optional_watts, validator=within(1e-3, 1e3)
    )
    engaged: bool = attrs.field(default=True, validator=is_flag)

    def __attrs_post_init__(self) -> None:
        """Refuse a mixture of kinds."""
        legs = self.pull_up is not None or self.pull_down is not None
        if self.capacitance is not None and legs:
            raise InputError(
                Problem(
                    "Termination", "a series capacitor and legs to a supply", "one kind of terminator",
                    "describe two terminators on the node",
                )
            )  # fmt: skip
        if self.supply is not None and not legs:
            raise InputError(
                Problem("Termination.supply", "a supply without a leg to it", "a pull_up or pull_down leg too")
            )


@attrs.frozen(kw_only=True, field_transformer=named)
class Bias(Viewed):
    """A failsafe bias network: a leg from one line to a supply and a leg from the other to the node's common.

    Parameters
    ----------
    name : str
        Name, if it is a named part [-].
    pull_up : MinTypMax or None
        Leg between the supply and the noninverting line; None: not fitted [ohm].
    pull_down : MinTypMax or None
        Leg between the inverting line and the node's common; None: not fitted [ohm].
    supply : MinTypMax or None
        Supply voltage against the node's bus-side common; None: the node's bus-side supply [V].
    supply_on : bool
        Whether that supply is up; a supply that is down is tried open and at the common [-].
    power : float or None
        Power that each of its resistors is rated for, at the temperature where it sits; None: not stated [W].
    reversed : bool
        Whether the legs are fitted to the opposite lines [-].
    engaged : bool
        Whether it is switched or plugged in [-].
    """

    name: str = attrs.field(default="", validator=is_label)
    pull_up: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(1, 1e8)
    )
    pull_down: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=within(1, 1e8)
    )
    supply: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(0, 60)
    )
    supply_on: bool = attrs.field(default=True, validator=is_flag)
    power: float | None = attrs.field(
        default=None, converter=units.optional_watts, validator=within(1e-3, 1e3)
    )
    reversed: bool = attrs.field(default=False, validator=is_flag)
    engaged: bool = attrs.field(default=True, validator=is_flag)

    def __attrs_post_init__(self) -> None:
        """Refuse a network without a leg."""
        if self.pull_up is None and self.pull_down is None:
            raise InputError(Problem("Bias", "no leg", "a pull_up, a pull_down, or both"))


def terminations_tuple(given: Termination | Iterable[Termination] | None) -> tuple[Termination, ...]:
    """Read none, one or several terminators [-]."""
    return tuple_from(given, Termination)


def biases_tuple(given: Bias | Iterable[Bias] | None) -> tuple[Bias, ...]:
    """Read none, one or several bias networks [-]."""
    return tuple_from(given, Bias)
