"""Rules on turns: who still drives when the next one begins, frames that are cut, replies that come too late."""

import math
from collections.abc import Iterable, Iterator

from rs485kit import analysis
from rs485kit.analysis import Turnarounds
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown

_HOLDS = ("release_hold", "one_shot_hold")
# what decides a frame at its ends
_ENDS = (*_HOLDS, "enable_lead", "driver_disable_time", "driver_enable_time", "driver_delay", "delay", "direction")


def _turns(analyses: Analyses, *fields: str) -> Turnarounds | None:
    """Return the turns of a bus that has a controller and states one of some fields of any node, else None."""
    bus = analyses.bus
    if bus.link is not None and bus.link.controller is None:
        return None
    if not any(getattr(node, name) is not None for node in bus.nodes for name in fields):
        return None
    found = analysis.turnaround(analyses)
    return found if found.nodes else None


def _unknown(found: Turnarounds, unknowns: list[str], what: str, words: tuple[str, ...]) -> Iterator[Finding]:
    """Give one unknown for all devices of which something cannot be told."""
    if unknowns:
        among = {*unknowns, found.controller, "link"}
        missing = sorted(
            f"{node}: {field}" for node, field in found.missing
            if (node in among or "velocity" in field) and any(word in field for word in words)
        )  # fmt: skip
        if missing:
            text = f"{what} cannot be told for want of {listed(tuple(missing), 3)}"
            yield unknown(Place.bus(), text, missing=tuple(missing))


def _overlap(gap: float, nominal: float, interval: float, who: str) -> str:
    if gap < 0.0:
        text = f"{who} for up to {figure(-gap, 's')}, {figure(-gap / interval, '', digits=3)} bit times"
        return text + (f"; nominally for {figure(-nominal, 's')}" if nominal < 0.0 else "; nominally they do not")
    return f"between their drivers the pair is free for {figure(gap, 's')} at the least"


@rule("timing.reply-overlaps-request", title="A device answers while the controller still drives", basis="physics")
def reply_overlaps_request(analyses: Analyses) -> Iterable[Finding]:
    """The controller's driver is still on when a device's reply begins.

    What it checks
    --------------
    For every device the time, at its own terminals, from the controller's driver having let go to its own driver
    driving: hold, enable paths of barriers, enable and disable times, delays and reply delay, each at its worse limit.
    The delay of the cable cancels.

    Why it matters
    --------------
    Two drivers that want opposite levels leave hardly any: the first characters of the reply are garbled, with every
    device that is quick and none that is slow. Echoes and time-outs hide it, and it looks like noise.

    Limit and source
    ----------------
    0 s between release and drive; it follows from the circuit. The finding names the reply delay that is needed.

    When to waive
    -------------
    When the protocol begins replies with characters that may be lost.
    """
    found = _turns(analyses, *_HOLDS, "direction")
    if found is None:
        return
    unknowns = []
    for row in found:
        if math.isnan(row.reply_gap) and not row.reply_gap_nominal < 0.0:
            unknowns.append(row.node)
            continue
        needed = "" if math.isnan(row.needed_reply_delay) else f" of {figure(row.needed_reply_delay, 's')} or more"
        yield at_least(
            Place.node(row.node), "gap before the reply", measured=row.reply_gap_nominal, bound=row.reply_gap,
            limit=0.0, unit="s", scale=found.interval,
            message=_overlap(
                row.reply_gap, row.reply_gap_nominal, found.interval, f"it and {found.controller} drive both"
            ),
            remedy=f"let {found.controller} release sooner after its last stop bit, or give {row.node} a reply delay"
            f"{needed}",
        )  # fmt: skip
    yield from _unknown(found, unknowns, "whether replies begin too early", (*_ENDS, "reply_delay"))


@rule("timing.request-overlaps-reply", title="The controller asks on while a device still drives", basis="physics")
def request_overlaps_reply(analyses: Analyses) -> Iterable[Finding]:
    """A device's driver is still on when the controller's next request begins.

    What it checks
    --------------
    For every device the time, at the controller's terminals, from the device's driver having let go to the controller's
    driver driving again, each delay at its worse limit. The delay of the cable cancels.

    Why it matters
    --------------
    The next request is garbled, so that it is another device that seems dead: the one which is asked after the one that
    holds on too long.

    Limit and source
    ----------------
    0 s between release and drive; it follows from the circuit. The finding names the wait that is needed.

    When to waive
    -------------
    When the controller repeats requests and the time that this takes does not matter.
    """
    found = _turns(analyses, *_HOLDS, "direction")
    if found is None:
        return
    unknowns = []
    for row in found:
        if math.isnan(row.request_gap) and not row.request_gap_nominal < 0.0:
            unknowns.append(row.node)
            continue
        needed = "" if math.isnan(row.needed_request_gap) else f" of {figure(row.needed_request_gap, 's')} or more"
        yield at_least(
            Place.node(row.node), "gap before the next request", measured=row.request_gap_nominal,
            bound=row.request_gap, limit=0.0, unit="s", scale=found.interval,
            message=_overlap(
                row.request_gap, row.request_gap_nominal, found.interval, f"it and {found.controller} drive both"
            ),
            remedy=f"let {row.node} release sooner after its last stop bit, or give {found.controller} a wait{needed}",
        )  # fmt: skip
    yield from _unknown(found, unknowns, "whether requests begin too early", (*_ENDS, "request_gap"))


@rule(
    "timing.frame-cut-short",
    title="A driver is on for less than its frame",
    basis="physics",
    source="sampling in the middle of the first stop bit: documentation of UART modules, stop bit selection",
    parameters=[parameter("late_share", 0.1, unit="", meaning="share of a bit by which a first start bit may be late")],
)
def frame_cut_short(analyses: Analyses, *, late_share: float) -> Iterable[Finding]:
    """A device's driver comes on after its first start bit has begun, or lets go before its last bit is over.

    What it checks
    --------------
    For every device by how much the enable path, slower than the data path through a barrier, makes its first start bit
    late, and by how much its release cuts its last stop bit short.

    Why it matters
    --------------
    A start bit that begins late shifts every sample of the character. A release on the wrong interrupt cuts off a whole
    character, which shows as a check sum that is always wrong at one rate and never at another.

    Limit and source
    ----------------
    Half of the first stop bit may be lost, since it is sampled in its middle and idle is a mark where bias holds it; a
    tenth of the first start bit, which is common practice.

    When to waive
    -------------
    When the protocol begins its frames with characters that may be lost.
    """
    found = _turns(analyses, "release_hold", "enable_lead", "direction")
    if found is None:
        return
    bus = analyses.bus
    unknowns: list[str] = []
    for row in found:
        node = bus.node(row.node)
        if node.direction in ("one-shot", "data"):
            continue
        if math.isnan(row.end_lost) or math.isnan(row.start_lost):
            unknowns.append(row.node)
            continue
        stops = int(bus.link.frame[2]) if bus.link is not None else 1
        yield at_most(
            Place.node(row.node), "lost of the last stop bit", measured=row.end_lost,
            limit=(stops - 0.5) * found.interval, unit="s",
            message=f"its driver lets go {figure(row.end_lost, 's')} before its last stop bit is over on the pair, "
            f"{share(row.end_lost / found.interval)} of a bit",
            remedy="release when the last bit has left the shift register, not when the last character has entered it",
        )  # fmt: skip
        yield at_most(
            Place.node(row.node), "lost of the first start bit", measured=row.start_lost,
            limit=late_share * found.interval, unit="s",
            message=f"its driver comes on up to {figure(row.start_lost, 's')} after its first start bit has begun, "
            f"{share(row.start_lost / found.interval)} of a bit",
            remedy="enable the driver before the first start bit by at least the difference of both paths",
        )  # fmt: skip
    yield from _unknown(found, unknowns, "whether frames are cut short", _ENDS)


@rule("timing.reply-after-timeout", title="A reply comes after the controller has given it up", basis="physics")
def reply_after_timeout(analyses: Analyses) -> Iterable[Finding]:
    """The first character of a reply may be logged only after the time-out.

    What it checks
    --------------
    For every device when the first character of its latest reply has been logged at the controller, the cable counted
    there and back, against the time-out of the controller or, if it states none, that of the timing profile.

    Why it matters
    --------------
    A late reply runs into the next request, and its data may be taken for the next device's. Time-outs that were set on
    the bench fail when bit-clocked links or a slower data rate are put in.

    Limit and source
    ----------------
    The stated time-out. Programs that time the whole reply need the time of the reply on top.

    When to waive
    -------------
    When the device is known to answer sooner than its data say.
    """
    found = _turns(analyses, "reply_delay", "release_hold", "direction")
    link = analyses.bus.link
    if found is None or link is None:
        return
    limit, whose = link.reply_timeout, "time-out of the controller"
    if limit is None and link.profile is not None and link.data_rate is not None:
        limit, whose = link.profile.duration("reply_timeout", link.data_rate, link.frame), "time-out of the profile"
    if limit is None:
        if link.request_gap is not None or link.exchanges:
            text = "whether replies come in time cannot be told for want of link.reply_timeout"
            yield unknown(Place.bus(), text, missing=("link.reply_timeout",))
        return
    unknowns = []
    for row in found:
        if math.isnan(row.needed_timeout):
            unknowns.append(row.node)
            continue
        yield at_most(
            Place.node(row.node), "first character of the reply", measured=row.needed_timeout, limit=limit, unit="s",
            message=f"the first character of its latest reply is logged {figure(row.needed_timeout, 's')} after the "
            f"end of the request; the {whose} is {figure(limit, 's')}",
            remedy=f"set a time-out of {figure(1.1 * row.needed_timeout, 's')} or more, or have it answer sooner",
        )  # fmt: skip
    words = ("reply_delay", "driver_delay", "receiver_delay", "delay", "velocity_factor")
    yield from _unknown(found, unknowns, "whether replies come in time", words)


RULES: tuple[Rule, ...] = (frame_cut_short, reply_after_timeout, reply_overlaps_request, request_overlaps_reply)
