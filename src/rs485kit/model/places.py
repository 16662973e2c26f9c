"""Places: earths, barriers, nodes, segments, and what holds for the whole site."""

import math
from typing import Literal, TypeAlias

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.barriers import Barrier, Circuit, Protector, protectors_tuple
from rs485kit.model.base import (
    TAP_SUFFIX,
    Viewed,
    is_flag,
    is_flag_or_none,
    is_name,
    is_name_or_none,
    matching,
    named,
    one_of,
    optional_instance_of,
    tuple_of,
    whole_within,
    within,
    zero_or_within,
)
from rs485kit.model.bonds import CommonLink, EarthBond, ShieldBond, earth_bonds_tuple
from rs485kit.model.parts import Bias, Cable, Termination, Transceiver, biases_tuple, terminations_tuple
from rs485kit.model.power import Accessory, FeedConductors, FeedLoad, FeedSource, accessories_tuple
from rs485kit.model.timing import FRAME, Exchange, TimingProfile, exchanges_tuple
from rs485kit.units import MinTypMax

Direction: TypeAlias = Literal["program", "one-shot", "data"]
_category = one_of(1, 2, 3, 4, None)


@attrs.frozen(kw_only=True, field_transformer=named)
class Earth(Viewed):
    """A local earth, by its potential against the site's reference earth.

    Parameters
    ----------
    name : str
        Name of the earth [-].
    potential : MinTypMax or None
        DC potential; None: unknown [V].
    mains_potential : float or None
        Mains-frequency potential, RMS; None: unknown [V].
    mains_phase : float or None
        Phase of the mains-frequency potential; None: unknown [rad].
    resistance : MinTypMax or None
        Resistance between whatever is bonded to it and its potential; None: unknown [ohm].
    crest_factor : float
        Peak of the mains-frequency potential over its RMS value; the square root of 2 is a sine [-].
    fault_potential : float or None
        Mains-frequency potential while a fault to earth lasts there, RMS; None: not declared [V].
    lightning_current : float or None
        Peak of the lightning current that may flow into it; None: not declared [A].
    """

    name: str = attrs.field(validator=is_name)
    potential: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_volts_spread, validator=within(-1e4, 1e4)
    )
    mains_potential: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 1e4)
    )
    mains_phase: float | None = attrs.field(
        default=None, converter=units.optional_radians, validator=within(-7, 7)
    )
    resistance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_ohms_spread, validator=zero_or_within(1e-4, 1e6)
    )
    crest_factor: float = attrs.field(default=math.sqrt(2.0), converter=units.ratio, validator=within(1, 10))
    fault_potential: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 1e5)
    )
    lightning_current: float | None = attrs.field(
        default=None, converter=units.optional_amperes, validator=within(0, 3e5)
    )


@attrs.frozen(kw_only=True, field_transformer=named)
class Environment(Viewed):
    """What holds for the whole site unless a circuit says otherwise; None is unknown.

    Parameters
    ----------
    temperature : MinTypMax or None
        Ambient temperature [K].
    altitude : float or None
        Altitude above sea level [m].
    pollution_degree : int or None
        Pollution degree, 1 to 4 [-].
    overvoltage_category : int or None
        Overvoltage category, 1 to 4 [-].
    system_voltage_rms : float or None
        Line-to-neutral voltage of the mains at the site, RMS [V].
    mains_frequency : float or None
        Frequency of the mains; None: 50 Hz is taken, and the answer says so [Hz].
    bus_touchable : bool or None
        Whether somebody can touch the conductors of the bus or what is joined to them; None: it is taken so, and the
        answer says so [-].
    burst_voltage_peak : float or None
        Open-circuit voltage of the fast transients (IEC 61000-4-4) that the bus has to work through, peak; None: none
        is asked for [V].
    surge_voltage_peak : float or None
        Open-circuit voltage of the surges to earth (IEC 61000-4-5) that it has to survive, peak; None: none is asked
        for [V].
    """

    temperature: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_kelvins_spread, validator=within(173, 473)
    )
    altitude: float | None = attrs.field(
        default=None, converter=units.optional_metres, validator=within(-500, 20000)
    )
    pollution_degree: int | None = attrs.field(default=None, validator=_category)
    overvoltage_category: int | None = attrs.field(default=None, validator=_category)
    system_voltage_rms: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(1, 1e5)
    )
    mains_frequency: float | None = attrs.field(
        default=None, converter=units.optional_hertz, validator=within(10, 1000)
    )
    bus_touchable: bool | None = attrs.field(default=None, validator=is_flag_or_none)
    burst_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 1e5)
    )
    surge_voltage_peak: float | None = attrs.field(
        default=None, converter=units.optional_volts, validator=within(0, 1e6)
    )


@attrs.frozen(kw_only=True, field_transformer=named)
class Node(Viewed):
    """A device, or with `transceiver=None` a passive place, on the bus.

    Parameters
    ----------
    name : str
        Name, unique on the bus [-].
    transceiver : Transceiver or None
        Its driver and receiver; None: a passive place [-].
    drives : bool
        Whether it ever drives the pair [-].
    receives : bool
        Whether it listens [-].
    terminations : tuple of Termination
        None, one or several terminators across the pair [-].
    biases : tuple of Bias
        None, one or several bias networks [-].
    common : CommonLink or None
        How its bus-side common reaches the reference conductor; None: it does not [-].
    earth : str or None
        Name of its local earth: that of its bus side without a barrier, that of its field side with one [-].
    barrier : Barrier or None
        Its galvanic barrier; None: not isolated [-].
    circuit : Circuit or None
        What stands on its field side; None: unknown [-].
    protectors : tuple of Protector
        Surge parts on its terminals [-].
    lines_swapped : bool
        Whether the pair is connected the wrong way round [-].
    powered : bool
        Whether it has supply [-].
    capacitance : MinTypMax or None
        Capacitance between the lines beside that of transceiver and protectors: board, connector; None: none [F].
    clock_tolerance : float or None
        Largest error of the clock that makes its bits and samples those of others, either way, divider included;
        None: unknown [-].
    oversampling : int or None
        Clocks in a bit from which its receiver times its samples; None: unknown [-].
    samples : int or None
        Samples that it takes of each bit: 1, or 3 of which two decide; None: unknown [-].
    middle_sample : int or None
        The clock of a bit at which the only or the middle one of them is taken, the clock that finds the start bit
        being its first; None: the middle of the bit [-].
    direction : str or None
        What holds its driver enabled: "program" (the program or the UART, from before the first start bit until after
        the last stop bit), "one-shot" (a time from the beginning of each space on) or "data" (every space by itself);
        None: unknown [-].
    enable_lead : MinTypMax or None
        With "program": time from the enable signal to the first start bit, both as it sends them; None: unknown [s].
    release_hold : MinTypMax or None
        With "program": time from the end of the last stop bit to the end of the enable signal, both as it sends them;
        below zero: let go too early; None: unknown [s].
    one_shot_hold : MinTypMax or None
        With "one-shot": time that the driver stays enabled from the beginning of the last space on; None: unknown [s].
    hears_itself : bool or None
        Whether its receiver stays on while it drives; None: unknown [-].
    reply_delay : MinTypMax or None
        Time from the end of the last stop bit of a request, as it receives it, to the beginning of its reply, as it
        sends that; None: unknown [s].
    accessories : tuple of Accessory
        What else its bus-side supply feeds [-].
    feed : FeedLoad or None
        What it draws from the feed conductors of its cable; None: nothing [-].
    feed_source : FeedSource or None
        The supply that it gives to the feed conductors; None: none [-].
    bonds : tuple of EarthBond
        Further ways from its bus-side common to earths [-].
    shield_bond : ShieldBond or None
        How the shield is bonded at its place; None: it is not [-].
    switches_power : bool
        Whether it is known to switch power fast: a drive, a converter, a contactor [-].
    """

    name: str = attrs.field(validator=is_name)
    transceiver: Transceiver | None = attrs.field(default=None, validator=optional_instance_of(Transceiver))
    drives: bool = attrs.field(default=True, validator=is_flag)
    receives: bool = attrs.field(default=True, validator=is_flag)
    terminations: tuple[Termination, ...] = attrs.field(
        default=(), converter=terminations_tuple, validator=tuple_of(Termination)
    )
    biases: tuple[Bias, ...] = attrs.field(default=(), converter=biases_tuple, validator=tuple_of(Bias))
    common: CommonLink | None = attrs.field(default=None, validator=optional_instance_of(CommonLink))
    earth: str | None = attrs.field(default=None, validator=is_name_or_none)
    barrier: Barrier | None = attrs.field(default=None, validator=optional_instance_of(Barrier))
    circuit: Circuit | None = attrs.field(default=None, validator=optional_instance_of(Circuit))
    protectors: tuple[Protector, ...] = attrs.field(
        default=(), converter=protectors_tuple, validator=tuple_of(Protector)
    )
    lines_swapped: bool = attrs.field(default=False, validator=is_flag)
    powered: bool = attrs.field(default=True, validator=is_flag)
    capacitance: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_farads_spread, validator=within(0, 1e-7)
    )
    clock_tolerance: float | None = attrs.field(
        default=None, converter=units.optional_ratio, validator=within(0, 0.2)
    )
    oversampling: int | None = attrs.field(default=None, validator=whole_within(3, 256))
    samples: int | None = attrs.field(default=None, validator=one_of(1, 3, None))
    middle_sample: int | None = attrs.field(default=None, validator=whole_within(1, 256))
    direction: Direction | None = attrs.field(default=None, validator=one_of("program", "one-shot", "data", None))
    enable_lead: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 10)
    )
    release_hold: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(-1, 10)
    )
    one_shot_hold: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 10)
    )
    hears_itself: bool | None = attrs.field(default=None, validator=is_flag_or_none)
    reply_delay: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 100)
    )
    accessories: tuple[Accessory, ...] = attrs.field(
        default=(), converter=accessories_tuple, validator=tuple_of(Accessory)
    )
    feed: FeedLoad | None = attrs.field(default=None, validator=optional_instance_of(FeedLoad))
    feed_source: FeedSource | None = attrs.field(default=None, validator=optional_instance_of(FeedSource))
    bonds: tuple[EarthBond, ...] = attrs.field(
        default=(), converter=earth_bonds_tuple, validator=tuple_of(EarthBond)
    )
    shield_bond: ShieldBond | None = attrs.field(default=None, validator=optional_instance_of(ShieldBond))
    switches_power: bool = attrs.field(default=False, validator=is_flag)

    def __attrs_post_init__(self) -> None:
        """Refuse a device under a name that is reserved for the passive places on a trunk, and samples beyond a bit."""
        clocks, middle, half = self.oversampling, self.middle_sample, 0 if self.samples == 1 else 1
        if clocks is not None and middle is not None and not half < middle <= clocks - half:
            raise InputError(
                Problem(
                    f'Node "{self.name}".middle_sample', str(middle),
                    f"a clock of the bit round which its samples stay inside, {1 + half} to {clocks - half}",
                )
            )  # fmt: skip
        if self.transceiver is not None and self.name.endswith(TAP_SUFFIX):
            raise InputError(
                Problem(
                    f'Node "{self.name}".name', f'"{self.name}" for a node with a transceiver',
                    f'a name that does not end in "{TAP_SUFFIX}"', "that ending is kept for passive places",
                )
            )  # fmt: skip

    @property
    def listens(self) -> bool:
        """Whether it has a receiver that is in use."""
        return self.transceiver is not None and self.receives

    @property
    def bonded(self) -> bool:
        """Whether its bus-side common is bonded to its local earth."""
        if self.earth is None:
            return False
        if self.common is not None and self.common.bonded is not None:
            return self.common.bonded
        return self.barrier is None

    @property
    def supply_voltage(self) -> MinTypMax | None:
        """Its bus-side supply: that of its isolated supply, else that its transceiver is rated for [V]."""
        if self.barrier is not None and self.barrier.supply is not None:
            return self.barrier.supply.output_voltage
        return None if self.transceiver is None else self.transceiver.supply_voltage


@attrs.frozen(kw_only=True, field_transformer=named)
class Segment(Viewed):
    """A length of cable between two nodes.

    Parameters
    ----------
    start : str
        Name of the node at one end [-].
    end : str
        Name of the node at the other end [-].
    length : float
        Length [m].
    cable : Cable or None
        The cable; None: unknown [-].
    reference_conductor : bool or None
        Whether a reference conductor runs along; None: unknown [-].
    feed : FeedConductors or None
        Conductors that feed devices; None: none [-].
    reference_is_shield : bool
        Whether that reference conductor is the shield, which is then one conductor, not two [-].
    shield : bool or None
        Whether a shield runs along; None: unknown [-].
    shield_joined : str
        At which ends the shield is joined to those of the segments beside and to the bond of the place: "both",
        "start", "end" or "neither" [-].
    """

    start: str = attrs.field(validator=is_name)
    end: str = attrs.field(validator=is_name)
    length: float = attrs.field(converter=units.metres, validator=within(1e-3, 1e5))
    cable: Cable | None = attrs.field(default=None, validator=optional_instance_of(Cable))
    reference_conductor: bool | None = attrs.field(default=None, validator=is_flag_or_none)
    feed: FeedConductors | None = attrs.field(default=None, validator=optional_instance_of(FeedConductors))
    reference_is_shield: bool = attrs.field(default=False, validator=is_flag)
    shield: bool | None = attrs.field(default=None, validator=is_flag_or_none)
    shield_joined: Literal["both", "start", "end", "neither"] = attrs.field(
        default="both", validator=one_of("both", "start", "end", "neither")
    )

    def __attrs_post_init__(self) -> None:
        """Refuse a segment that ends where it starts, and conductors that are one where one is not there."""
        if self.reference_is_shield and False in (self.reference_conductor, self.shield):
            raise InputError(
                Problem(
                    "Segment.reference_is_shield", "true without a shield or without a reference conductor",
                    "reference_conductor and shield not false",
                )
            )  # fmt: skip
        if self.start == self.end:
            raise InputError(Problem("Segment.end", f'"{self.end}", where it starts', "another node"))
        if self.feed is not None and self.feed.common_return and self.reference_conductor is not True:
            raise InputError(
                Problem(
                    "Segment.feed.common_return", "true without a reference conductor", "reference_conductor = true",
                    "or say that the minus has wires of its own",
                )
            )  # fmt: skip

    def joined_at(self, name: str) -> bool:
        """Return whether its shield is joined at a place to those of the segments beside.

        Parameters
        ----------
        name : str
            Name of the node at one of its ends [-].

        Returns
        -------
        bool
            Whether it is [-].
        """
        return self.shield_joined in ("both", "start" if name == self.start else "end")


@attrs.frozen(kw_only=True, field_transformer=named)
class Link(Viewed):
    """How characters travel on the pair.

    Parameters
    ----------
    data_rate : float or None
        Data rate; None: unknown [bit/s].
    frame : str
        Data bits, parity and stop bits of a character, such as "8N1" [-].
    controller : str or None
        Name of the node that polls; None: none or unknown [-].
    profile : TimingProfile or None
        Silences and time-outs of the protocol; None: no protocol is named [-].
    exchanges : tuple of Exchange
        What the controller asks in every cycle; none: unknown [-].
    request_gap : MinTypMax or None
        Time from the end of the last stop bit of a reply, as the controller receives it, to the beginning of its next
        request, as it sends that; None: unknown [s].
    reply_timeout : float or None
        Time from the end of a request, as the controller sends it, within which the first character of the reply has
        come in, or it is given up; None: unknown [s].
    retries : int or None
        How often a request without a reply is sent again; None: unknown [-].
    longest_cycle : float or None
        Longest time in which every device must have been asked; None: nobody asks for one [s].
    """

    data_rate: float | None = attrs.field(
        default=None, converter=units.optional_bits_per_second, validator=within(45, 1e9)
    )
    frame: str = attrs.field(
        default="8N1", validator=matching(FRAME, 'data bits, parity and stop bits, such as "8N1"')
    )
    controller: str | None = attrs.field(default=None, validator=is_name_or_none)
    profile: TimingProfile | None = attrs.field(default=None, validator=optional_instance_of(TimingProfile))
    exchanges: tuple[Exchange, ...] = attrs.field(
        default=(), converter=exchanges_tuple, validator=tuple_of(Exchange)
    )
    request_gap: MinTypMax | None = attrs.field(
        default=None, converter=units.optional_seconds_spread, validator=within(0, 100)
    )
    reply_timeout: float | None = attrs.field(
        default=None, converter=units.optional_seconds, validator=within(1e-6, 1e3)
    )
    retries: int | None = attrs.field(default=None, validator=whole_within(0, 100))
    longest_cycle: float | None = attrs.field(
        default=None, converter=units.optional_seconds, validator=within(1e-5, 1e6)
    )


