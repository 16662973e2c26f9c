"""Rules on polls: profiles that a bus does not keep, silences that are too short, cycles that take too long."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.errors import MissingDataError, listed
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Link
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown


@rule(
    "timing.profile-not-kept",
    title="Data rate, characters or frames are not those of the protocol",
    basis="standard",
    source="the timing profile of the bus, whose sources its catalogue names",
)
def profile_not_kept(analyses: Analyses) -> Iterable[Finding]:
    """The link runs otherwise than the protocol that it names.

    What it checks
    --------------
    The form of characters, the data rate and the lengths of frames against the timing profile of the bus.

    Why it matters
    --------------
    Devices that keep to the protocol expect its characters: 8N1 where it has eleven bits costs a parity check or a stop
    bit, makes silences of 3.5 characters a tenth too short, and is refused by some devices and taken by others.

    Limit and source
    ----------------
    What the profile states; what it does not state is not checked.

    When to waive
    -------------
    When every device on the bus is known to be set the same way.
    """
    link = _link_of(analyses.bus)
    profile = None if link is None else link.profile
    if link is None or profile is None:
        return
    wrong = []
    if profile.frames and link.frame not in profile.frames:
        wrong.append(f"characters are {link.frame}, and {profile.name} has {listed(profile.frames, 4)}")
    if link.data_rate is not None:
        low, high = profile.lowest_rate, profile.highest_rate
        if (low is not None and link.data_rate < low) or (high is not None and link.data_rate > high):
            ends = " to ".join(figure(each, "bit/s") for each in (low, high) if each is not None)
            wrong.append(f"the data rate is {figure(link.data_rate, 'bit/s')}, and {profile.name} has {ends}")
    longest = max(
        (max(each.request_characters, each.reply_characters) for each in link.exchanges), default=0
    )  # fmt: skip
    if profile.longest_frame is not None and longest > profile.longest_frame:
        wrong.append(f"a frame has {longest} characters, and {profile.name} has {profile.longest_frame} at the most")
    if wrong:
        yield Finding(
            verdict="fail", where=Place.bus(), message="; ".join(wrong),
            remedy="set every device to the characters, rate and frames of the protocol, or name the one that is used",
        )  # fmt: skip
        return
    if link.data_rate is None and (profile.lowest_rate is not None or profile.highest_rate is not None):
        text = f"whether the data rate is one of {profile.name} cannot be told for want of link.data_rate"
        yield unknown(Place.bus(), text, missing=("link.data_rate",))
        return
    text = f"characters, data rate and frames are those of {profile.name}"
    yield Finding(verdict="pass", where=Place.bus(), message=text)


@rule(
    "timing.silence-too-short",
    title="A reply or a request begins before the protocol allows it",
    basis="standard",
    source="the timing profile of the bus, whose sources its catalogue names",
    reserve=0.0,
)
def silence_too_short(analyses: Analyses) -> Iterable[Finding]:
    """A device answers, or the controller asks on, before the silence that the protocol asks for.

    What it checks
    --------------
    The shortest reply delay of every device and the shortest wait of the controller against those of the timing
    profile.

    Why it matters
    --------------
    Receivers that find the end of a frame by its silence run two frames into one, and the check sum of neither fits. At
    rates above 19200 bit/s the fixed silences of Modbus RTU take longer than short frames do, and are cut short for it.

    Limit and source
    ----------------
    What the profile states at the data rate of the bus.

    When to waive
    -------------
    When every receiver finds the end of a frame by its length.
    """
    bus = analyses.bus
    link = _link_of(bus)
    if link is None or link.profile is None:
        return
    stated = [
        (Place.node(node.name), "least_reply_delay", "reply delay", node.reply_delay.min)
        for node in bus.nodes
        if node.reply_delay is not None and node.name != link.controller and node.drives and node.listens
    ]
    if link.request_gap is not None:
        stated.append((Place.bus(), "request_gap", "wait of the controller", link.request_gap.min))
    missing = [
        f"{node.name}: reply_delay"
        for node in bus.nodes
        if node.reply_delay is None and node.name != link.controller and node.drives and node.listens
        if link.controller is not None and link.profile.least_reply_delay
    ]
    for where, name, quantity, shortest in stated:
        if link.data_rate is None:
            missing.append("link.data_rate")
            continue
        limit = link.profile.duration(name, link.data_rate, link.frame)
        if limit is None:
            continue
        if shortest is None:
            missing.append(f"{where}: {'reply_delay' if name == 'least_reply_delay' else name} (its min)")
            continue
        yield at_least(
            where, quantity, measured=shortest, limit=limit, unit="s",
            message=f"the {quantity} is {figure(shortest, 's')} at the least; {link.profile.name} asks for "
            f"{figure(limit, 's')} at {figure(link.data_rate, 'bit/s')}",
            remedy=f"set a {quantity} of {figure(limit, 's')} or more",
        )  # fmt: skip
    if missing:
        wanted = tuple(sorted(set(missing)))
        yield unknown(Place.bus(), f"silences cannot be told for want of {listed(wanted, 3)}", missing=wanted)


def _is_cycle(link: Link | None) -> bool:
    return link is not None and bool(link.exchanges) and link.controller is not None


def _link_of(bus: Bus) -> Link | None:
    """Return the link of a bus.

    Raises
    ------
    MissingDataError
        If there is none though devices state when they reply.
    """
    if bus.link is None and any(node.reply_delay is not None for node in bus.nodes):
        raise MissingDataError("what is asked on the bus", ("link",))
    return bus.link


@rule("timing.cycle-too-long", title="Not every device is asked in the time that is called for", basis="house")
def cycle_too_long(analyses: Analyses) -> Iterable[Finding]:
    """A whole cycle of polls takes longer than the bus may take.

    What it checks
    --------------
    The cycle of all requests and replies with silences, reply delays and cable, at its longest, against the longest
    cycle that the bus states; devices without supply count as dead, with retries and time-outs.

    Why it matters
    --------------
    A level that is asked for every five seconds instead of every two is a gate that moves late.

    Limit and source
    ----------------
    `Link.longest_cycle`; without one there is nothing to check.

    When to waive
    -------------
    When the late figures are of no consequence.
    """
    link = _link_of(analyses.bus)
    if link is None or link.longest_cycle is None or not _is_cycle(link):
        return
    cycle = analysis.poll_cycle(analyses)
    if math.isnan(cycle.cycle_longest):
        missing = tuple(sorted(f"{node}: {field}" for node, field in cycle.missing if "retries" not in field))
        missing = missing or tuple(sorted(f"{node}: {field}" for node, field in cycle.missing))
        text = f"how long a cycle takes cannot be told for want of {listed(missing, 3)}"
        yield unknown(Place.bus(), text, missing=missing)
        return
    slowest = cycle.at(max(cycle.nodes, key=lambda name: (cycle.at(name).longest, name))) if cycle.nodes else None
    text = f"a cycle takes up to {figure(cycle.cycle_longest, 's')}; characters travel in "
    text += f"{figure(100.0 * cycle.utilisation, '', digits=3)} % of it"
    if slowest is not None:
        text += f"; {slowest.node} takes the most, {figure(slowest.longest, 's')}"
    yield at_most(
        Place.bus(), "cycle", measured=cycle.cycle_nominal, bound=cycle.cycle_longest, limit=link.longest_cycle,
        unit="s", message=text,
        remedy="ask for more in one request, shorten the reply delays of the slowest devices, raise the data rate "
        "where characters take most of the time, or split the bus",
    )  # fmt: skip


@rule(
    "timing.dead-device-stalls",
    title="One dead device takes most of a cycle",
    basis="common practice",
    parameters=[parameter("growth", 2.0, unit="", meaning="how many times as long a cycle may take with one dead")],
)
def dead_device_stalls(analyses: Analyses, *, growth: float) -> Iterable[Finding]:
    """Retries and time-outs for one device that does not answer stretch the cycle for all.

    What it checks
    --------------
    The cycle with the device dead that costs the most, against the cycle with all alive; if the bus states a longest
    cycle, that is the limit and no custom.

    Why it matters
    --------------
    A second of time-out, three times, for one gauge without supply: the other thirty are asked once in four seconds
    instead of twice in one, and what was a fault of one device becomes one of the site.

    Limit and source
    ----------------
    Twice the cycle, which is common practice, or `Link.longest_cycle`.

    When to waive
    -------------
    When the controller asks a dead device less often than the others.
    """
    link = _link_of(analyses.bus)
    if link is None or not _is_cycle(link):
        return
    cycle = analysis.poll_cycle(analyses)
    known = [row for row in cycle if not math.isnan(row.cycle_without)]
    if not known:
        missing = tuple(sorted(f"{node}: {field}" for node, field in cycle.missing))
        if missing and cycle.nodes:
            text = f"what a dead device costs cannot be told for want of {listed(missing, 3)}"
            yield unknown(Place.bus(), text, missing=missing)
        return
    worst = max(known, key=lambda row: (round(row.cycle_without, 12), row.node))
    limit = growth * cycle.cycle_longest if link.longest_cycle is None else link.longest_cycle
    yield at_most(
        Place.node(worst.node), "cycle with it dead", measured=worst.cycle_without, limit=limit, unit="s",
        advisory=link.longest_cycle is None,
        message=f"with it dead a cycle takes {figure(worst.cycle_without, 's')} instead of "
        f"{figure(cycle.cycle_longest, 's')}: {figure(worst.dead, 's')} go to its requests, retries and time-outs",
        remedy="shorten the time-out to what the slowest reply needs, retry less often, or ask a dead device only "
        "once in many cycles",
    )  # fmt: skip


RULES: tuple[Rule, ...] = (cycle_too_long, dead_device_stalls, profile_not_kept, silence_too_short)
