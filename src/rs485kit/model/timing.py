"""How a bus spends its time: the silences and time-outs of a protocol, and what its controller asks whom."""

import itertools
import math
import re
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

import attrs

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import (
    Viewed,
    are_names,
    is_name,
    named,
    refused,
    shown,
    tuple_from,
    tuple_of,
    whole_within,
    within,
)

TIMES = (
    "preamble", "longest_character_gap", "frame_gap", "least_reply_delay", "longest_reply_delay", "longest_release",
    "request_gap", "broadcast_gap", "reply_timeout",
)  # fmt: skip
"""Times that a profile may state."""
FRAME = "[5-9][NEOMS][12]"
"""Data bits, parity and stop bits of a character."""


@attrs.frozen(kw_only=True, field_transformer=named)
class RatedTime(Viewed):
    """A time that a protocol states in bits, in characters or in seconds, up to a data rate.

    Parameters
    ----------
    up_to : float or None
        Highest data rate for which it holds; None: however high [bit/s].
    bits : float
        Bit times [-].
    characters : float
        Character times [-].
    time : float
        Time [s].
    """

    up_to: float | None = attrs.field(
        default=None, converter=units.optional_bits_per_second, validator=within(45, 1e9)
    )
    bits: float = attrs.field(default=0.0, converter=units.ratio, validator=within(0, 1e6))
    characters: float = attrs.field(default=0.0, converter=units.ratio, validator=within(0, 1e6))
    time: float = attrs.field(default=0.0, converter=units.seconds, validator=within(0, 1e4))


GivenTimes: TypeAlias = RatedTime | Mapping[str, Any] | Iterable[RatedTime | Mapping[str, Any]] | None


def rated_times_tuple(given: GivenTimes) -> tuple[RatedTime, ...]:
    """Read a time that may differ by data rate, in full or as a table of the fields of each step [-]."""
    items = (given,) if isinstance(given, Mapping) else tuple_from(given, RatedTime)
    return tuple(RatedTime(**item) if isinstance(item, Mapping) else item for item in items)


def _are_steps(instance: object, attribute: "attrs.Attribute[tuple[RatedTime, ...]]", value: object) -> None:
    """Refuse what are no times in order of the data rates up to which they hold."""
    tuple_of(RatedTime)(instance, attribute, value)
    assert isinstance(value, tuple)
    rates = [math.inf if step.up_to is None else step.up_to for step in value]
    if any(later <= earlier for earlier, later in itertools.pairwise(rates)):
        given = ", ".join("no limit" if math.isinf(rate) else f"{rate:g} bit/s" for rate in rates)
        raise refused(instance, attribute, given, "times of rising up_to, at most the last of them without one")


def _are_frames(instance: object, attribute: "attrs.Attribute[tuple[str, ...]]", value: tuple[object, ...]) -> None:
    for item in value:
        if not isinstance(item, str) or re.fullmatch(FRAME, item, re.ASCII) is None:
            raise refused(instance, attribute, item, 'data bits, parity and stop bits, such as "8N1"')


def frames_tuple(given: str | Iterable[str] | None) -> tuple[str, ...]:
    """Read forms of characters [-]."""
    return (given,) if isinstance(given, str) else () if given is None else tuple(given)



@attrs.frozen(kw_only=True, field_transformer=named)
class TimingProfile(Viewed):
    """The times of a protocol; one that is not stated is one that the protocol leaves to others.

    Parameters
    ----------
    name : str
        Name of the profile [-].
    frames : tuple of str
        Forms of characters that the protocol has, such as "8E1"; none: any [-].
    lowest_rate : float or None
        Lowest data rate of the protocol; None: not stated [bit/s].
    highest_rate : float or None
        Highest data rate of the protocol; None: not stated [bit/s].
    longest_frame : int or None
        Characters of its longest frame; None: not stated [-].
    preamble : tuple of RatedTime
        Time before the first character of a frame in which the driver holds the pair: a break and the mark after it
        [-].
    longest_character_gap : tuple of RatedTime
        Longest silence inside a frame [-].
    frame_gap : tuple of RatedTime
        Shortest silence that tells two frames apart [-].
    least_reply_delay : tuple of RatedTime
        Shortest time from the end of a request to the beginning of its reply, at the device [-].
    longest_reply_delay : tuple of RatedTime
        Longest time from the end of a request to the beginning of its reply, at the device [-].
    longest_release : tuple of RatedTime
        Longest time from the end of a frame until its sender has let the pair go [-].
    request_gap : tuple of RatedTime
        Shortest time from the end of a reply to the beginning of the next request, at the controller [-].
    broadcast_gap : tuple of RatedTime
        Shortest time from the end of a request that nobody answers to the beginning of the next one [-].
    reply_timeout : tuple of RatedTime
        Time from the end of a request until the controller gives its reply up; the shortest one allowed [-].
    """

    name: str = attrs.field(validator=is_name)
    frames: tuple[str, ...] = attrs.field(default=(), converter=frames_tuple, validator=_are_frames)
    lowest_rate: float | None = attrs.field(
        default=None, converter=units.optional_bits_per_second, validator=within(45, 1e9)
    )
    highest_rate: float | None = attrs.field(
        default=None, converter=units.optional_bits_per_second, validator=within(45, 1e9)
    )
    longest_frame: int | None = attrs.field(default=None, validator=whole_within(1, 65536))
    preamble: tuple[RatedTime, ...] = attrs.field(default=(), converter=rated_times_tuple, validator=_are_steps)
    longest_character_gap: tuple[RatedTime, ...] = attrs.field(
        default=(), converter=rated_times_tuple, validator=_are_steps
    )
    frame_gap: tuple[RatedTime, ...] = attrs.field(default=(), converter=rated_times_tuple, validator=_are_steps)
    least_reply_delay: tuple[RatedTime, ...] = attrs.field(
        default=(), converter=rated_times_tuple, validator=_are_steps
    )
    longest_reply_delay: tuple[RatedTime, ...] = attrs.field(
        default=(), converter=rated_times_tuple, validator=_are_steps
    )
    longest_release: tuple[RatedTime, ...] = attrs.field(
        default=(), converter=rated_times_tuple, validator=_are_steps
    )
    request_gap: tuple[RatedTime, ...] = attrs.field(default=(), converter=rated_times_tuple, validator=_are_steps)
    broadcast_gap: tuple[RatedTime, ...] = attrs.field(default=(), converter=rated_times_tuple, validator=_are_steps)
    reply_timeout: tuple[RatedTime, ...] = attrs.field(default=(), converter=rated_times_tuple, validator=_are_steps)

    def __attrs_post_init__(self) -> None:
        """Refuse data rates of which the highest is below the lowest."""
        low, high = self.lowest_rate, self.highest_rate
        if low is not None and high is not None and high < low:
            place = f'TimingProfile "{self.name}".highest_rate'
            raise InputError(Problem(place, f"{high:g} bit/s", f"at least the lowest rate, {low:g} bit/s"))

    def duration(self, name: str, data_rate: float, frame: str) -> float | None:
        """Return one of its times at a data rate.

        Parameters
        ----------
        name : str
            Name of the field, such as "frame_gap" [-].
        data_rate : float
            Data rate [bit/s].
        frame : str
            Form of the characters, such as "8N1" [-].

        Returns
        -------
        float or None
            The time; None: the protocol states none for that rate [s].

        Raises
        ------
        InputError
            If it has no time of that name.
        """
        if name not in TIMES:
            raise InputError(Problem("TimingProfile.duration", shown(name), "one of " + ", ".join(TIMES)))
        for step in getattr(self, name):
            if step.up_to is None or data_rate <= step.up_to:
                return float((step.bits + step.characters * bits_of(frame)) / data_rate + step.time)
        return None


def bits_of(frame: str) -> int:
    """Return the bits of a character, start and stop bits counted in."""
    return 1 + int(frame[0]) + (frame[1] != "N") + int(frame[2])


@attrs.frozen(kw_only=True, field_transformer=named)
class Exchange(Viewed):
    """What the controller asks in every cycle: a request, and the reply to it.

    Parameters
    ----------
    devices : tuple of str
        Nodes that are asked one after another; none: every node that drives and listens but the controller [-].
    request_characters : int
        Characters of the request, the whole frame [-].
    reply_characters : int
        Characters of the reply, the whole frame; 0: nobody replies, so that it is sent once and not to each [-].
    times : int
        How often it is asked in a cycle [-].
    """

    devices: tuple[str, ...] = attrs.field(default=(), converter=frames_tuple, validator=are_names)
    request_characters: int = attrs.field(validator=whole_within(1, 65536))
    reply_characters: int = attrs.field(validator=whole_within(0, 65536))
    times: int = attrs.field(default=1, validator=whole_within(1, 1000))

    def __attrs_post_init__(self) -> None:
        """Refuse numbers of characters that are None, and a device that is named twice."""
        for name in ("request_characters", "reply_characters", "times"):
            if getattr(self, name) is None:
                raise InputError(Problem(f"Exchange.{name}", "None", "a whole number of characters"))
        if len(set(self.devices)) < len(self.devices):
            raise InputError(Problem("Exchange.devices", "a name twice", "each once", "use times to ask more often"))


def exchanges_tuple(given: Exchange | Iterable[Exchange] | None) -> tuple[Exchange, ...]:
    """Read what the controller asks [-]."""
    return tuple_from(given, Exchange)
