"""Poll cycle: how long the controller takes to ask every device, and what one that does not answer costs."""

import math
from typing import NamedTuple

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerNode, read_only, unit
from rs485kit.analysis.turn_parts import Lacks, Span, answers, flight, polled, span_of
from rs485kit.errors import MissingDataError
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Exchange, Link
from rs485kit.model.base import Viewed
from rs485kit.model.timing import bits_of

STANDARD_RATES = (
    1200.0, 2400.0, 4800.0, 9600.0, 19200.0, 38400.0, 57600.0, 76800.0, 115200.0, 250e3, 500e3, 1e6, 1.5e6, 3e6, 6e6,
    12e6,
)  # fmt: skip
"""Data rates at which a cycle is worked out beside that of the bus [bit/s]."""
_GAPLESS = "characters of a frame follow one another without a gap"
_SHORT = "delays of parts are left out of the cycle, and so is that of a cable without a stated velocity"


@attrs.frozen(kw_only=True)
class PollAt(Viewed):
    """What one device takes of a cycle.

    Parameters
    ----------
    node : str
        Name of the device [-].
    requests : int
        How often it is asked in a cycle [-].
    request_time, reply_time : float
        Time of the frames to it and from it [s].
    shortest, nominal, longest : float
        Time from its first request to the request to the next device, with shortest to longest reply delay and wait
        [s].
    dead : float
        The same if it never answers: every request, repeated as often as the controller does, each with its time-out
        [s].
    cycle_without : float
        Longest cycle of the whole bus if this device alone never answers [s].
    """

    node: str
    requests: int
    request_time: float = attrs.field(metadata=unit("s"))
    reply_time: float = attrs.field(metadata=unit("s"))
    shortest: float = attrs.field(metadata=unit("s"))
    nominal: float = attrs.field(metadata=unit("s"))
    longest: float = attrs.field(metadata=unit("s"))
    dead: float = attrs.field(metadata=unit("s"))
    cycle_without: float = attrs.field(metadata=unit("s"))


@attrs.frozen(kw_only=True)
class PollRate(Viewed):
    """The cycle at another data rate, with the same delays of devices.

    Parameters
    ----------
    data_rate : float
        Data rate [bit/s].
    cycle : float
        Nominal cycle [s].
    utilisation : float
        Share of it in which characters travel [-].
    """

    data_rate: float = attrs.field(metadata=unit("bit/s"))
    cycle: float = attrs.field(metadata=unit("s"))
    utilisation: float


_FIGURES = ("request_time", "reply_time", "shortest", "nominal", "longest", "dead", "cycle_without")


@attrs.frozen(kw_only=True, eq=False)
class PollCycle(PerNode[PollAt]):
    """A cycle in which the controller asks every device.

    Parameters
    ----------
    controller : str
        Name of the node that polls [-].
    nodes : tuple of str
        Devices that are asked, in bus order [-].
    requests : tuple of int
        How often each is asked [-].
    request_time, reply_time, shortest, nominal, longest, dead, cycle_without : array
        As in the rows [s].
    broadcast_time : float
        Time of what is sent to nobody in particular, with the wait after it [s].
    cycle_shortest, cycle_nominal, cycle_longest : float
        The whole cycle; devices without supply count as dead [s].
    utilisation : float
        Share of the nominal cycle in which characters travel [-].
    rates : tuple of PollRate
        The same at other data rates [-].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    controller: str
    nodes: tuple[str, ...]
    requests: tuple[int, ...]
    request_time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    reply_time: Array = attrs.field(converter=read_only, metadata=unit("s"))
    shortest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    nominal: Array = attrs.field(converter=read_only, metadata=unit("s"))
    longest: Array = attrs.field(converter=read_only, metadata=unit("s"))
    dead: Array = attrs.field(converter=read_only, metadata=unit("s"))
    cycle_without: Array = attrs.field(converter=read_only, metadata=unit("s"))
    broadcast_time: float = attrs.field(metadata=unit("s"))
    cycle_shortest: float = attrs.field(metadata=unit("s"))
    cycle_nominal: float = attrs.field(metadata=unit("s"))
    cycle_longest: float = attrs.field(metadata=unit("s"))
    utilisation: float
    rates: tuple[PollRate, ...] = ()
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @override
    def _row(self, index: int) -> PollAt:
        figures = {name: float(getattr(self, name)[index]) for name in _FIGURES}
        return PollAt(node=self.nodes[index], requests=self.requests[index], **figures)

    @override
    def _margin(self, index: int) -> float:
        return -float(self.longest[index])


class _Waits(NamedTuple):
    """What the controller keeps at a data rate [s]."""

    preamble: float
    after_reply: Span
    after_broadcast: float
    timeout: float


class _Cycle(NamedTuple):
    """Rows of a cycle, and what it is as a whole."""

    rows: dict[str, list[float]]
    requests: dict[str, int]
    broadcast: float
    whole: Span
    busy: float


@as_analysis()
def poll_cycle(analyses: Analyses) -> PollCycle:
    """Return how long a cycle of requests and replies takes, by device and as a whole.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    PollCycle
        Rows per device, the whole cycle, and what changes with the data rate [s].

    Raises
    ------
    MissingDataError
        If the bus states no data rate, no controller or no exchanges.

    Notes
    -----
    For every request q L / rate + reply delay + r L / rate + cable there and back + wait of the controller, with q and
    r characters of L bits and, where the profile has one, its preamble before each frame. A device that does not
    answer takes (1 + retries)(q L / rate + time-out). A wait, a time-out or a reply delay that the bus does not state
    is that of the profile, if it states one: of the reply delay the longest that it allows.

    Passing of tokens between several masters is no cycle of polls: `rs485kit.formulas.token_pass_time`.

    References
    ----------
    MODBUS over Serial Line V1.02, 2.4.1; the closed form is `rs485kit.formulas.poll_time`.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125)
    >>> pair = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km")
    >>> nodes = [rk.Node(name=name, transceiver=part, reply_delay="30 ms") for name in ("head", "gate", "weir")]
    >>> link = rk.Link(data_rate="9.6 kbit/s", frame="8E1", controller="head", retries=0,
    ...                profile=rk.catalogue.timing_profile("generic.modbus-rtu"),
    ...                exchanges=rk.Exchange(request_characters=8, reply_characters=25))
    >>> cycle = rk.analysis.poll_cycle(rk.daisy_chain(nodes, spacing="100 m", cable=pair, link=link))
    >>> round(1e3 * cycle.cycle_nominal, 2), round(1e3 * cycle.at("gate").cycle_without, 1)
    (143.65, 1081.0)
    """
    bus = analyses.bus
    link, controller, rate = polled(bus, "a poll cycle")
    if not link.exchanges:
        raise MissingDataError("a poll cycle", ("link.exchanges",))
    lacks: Lacks = []
    notes: dict[str, None] = {_GAPLESS: None, _SHORT: None}
    found = _cycle(bus, link, rate, lacks, notes)
    others = []
    for other in STANDARD_RATES:
        low = 0.0 if link.profile is None else link.profile.lowest_rate or 0.0
        high = math.inf if link.profile is None else link.profile.highest_rate or math.inf
        if low <= other <= high:
            there = _cycle(bus, link, other, [], {})
            others.append(
                PollRate(data_rate=other, cycle=there.whole.nominal, utilisation=there.busy / there.whole.nominal)
            )
    names = tuple(found.rows)
    columns = np.array([found.rows[name] for name in names], dtype=np.float64).reshape(-1, len(_FIGURES)).T
    return PollCycle(
        controller=controller.name, nodes=names, requests=tuple(found.requests[name] for name in names),
        broadcast_time=found.broadcast, cycle_shortest=found.whole.shortest, cycle_nominal=found.whole.nominal,
        cycle_longest=found.whole.longest, utilisation=found.busy / found.whole.nominal, rates=tuple(others),
        missing=tuple(dict.fromkeys(lacks)), assumed=tuple(notes), **dict(zip(_FIGURES, columns, strict=True)),
    )  # fmt: skip


def _cycle(bus: Bus, link: Link, rate: float, lacks: Lacks, notes: dict[str, None]) -> _Cycle:
    """Return a cycle at a data rate."""
    waits = _waits(link, rate, lacks, notes)
    character = bits_of(link.frame) / rate
    order = {node.name: index for index, node in enumerate(bus.nodes)}
    spent: dict[str, dict[str, float]] = {}
    requests: dict[str, int] = {}
    broadcast = busy = 0.0
    for exchange in link.exchanges:
        request = waits.preamble + exchange.request_characters * character
        if exchange.reply_characters == 0:
            if not math.isnan(waits.after_broadcast):
                broadcast += exchange.times * (request + waits.after_broadcast)
            else:
                broadcast = math.nan
                lacks.append(("link", "profile.broadcast_gap"))
            busy += exchange.times * request
            continue
        reply = waits.preamble + exchange.reply_characters * character
        for name in _asked(bus, link, exchange):
            row = spent.setdefault(name, dict.fromkeys(_FIGURES, 0.0))
            requests[name] = requests.get(name, 0) + exchange.times
            alive = _delay(bus, link, rate, name, lacks, notes).plus(waits.after_reply).moved(request + reply)
            dead = (1.0 + (math.nan if link.retries is None else link.retries)) * (request + waits.timeout)
            every = (request, reply, *alive, dead)
            for figure, value in zip(_FIGURES[:-1], every, strict=True):
                row[figure] += exchange.times * value
            busy += exchange.times * (request + reply) * bus.node(name).powered
    if spent and link.retries is None:
        lacks.append(("link", "retries"))
    whole = Span(broadcast, broadcast, broadcast)
    for name, row in spent.items():
        alive = Span(row["shortest"], row["nominal"], row["longest"])
        whole = whole.plus(alive if bus.node(name).powered else Span(*[row["dead"]] * 3))
    for name, row in spent.items():
        own = row["longest"] if bus.node(name).powered else row["dead"]
        row["cycle_without"] = whole.longest - own + row["dead"]
    names = sorted(spent, key=order.__getitem__)
    rows = {name: [spent[name][figure] for figure in _FIGURES] for name in names}
    return _Cycle(rows, requests, broadcast, whole, busy)


def _asked(bus: Bus, link: Link, exchange: Exchange) -> tuple[str, ...]:
    """Return whom an exchange asks."""
    if exchange.devices:
        return exchange.devices
    return tuple(node.name for node in bus.nodes if answers(node) and node.name != link.controller)


def _delay(bus: Bus, link: Link, rate: float, name: str, lacks: Lacks, notes: dict[str, None]) -> Span:
    """Return the reply delay of a device, with the cable there and back."""
    node = bus.node(name)
    assert link.controller is not None
    far = flight(bus, link.controller, name, [])
    both = 0.0 if math.isnan(far) else 2.0 * far
    allowed = _of_profile(link, "longest_reply_delay", rate)
    if node.reply_delay is None and not math.isnan(allowed):
        notes["a reply delay that is not stated is taken as the longest that the profile allows"] = None
        return Span(allowed, allowed, allowed).moved(both)
    return span_of(node.reply_delay, (name, "reply_delay"), lacks).moved(both)


def _waits(link: Link, rate: float, lacks: Lacks, notes: dict[str, None]) -> _Waits:
    """Return what the controller keeps, from the bus or else from its profile."""
    after_reply = _of_profile(link, "request_gap", rate)
    if link.request_gap is None and not math.isnan(after_reply):
        notes["a wait of the controller that is not stated is taken as the least of the profile"] = None
        gap = Span(after_reply, after_reply, after_reply)
    else:
        gap = span_of(link.request_gap, ("link", "request_gap"), lacks)
    timeout = link.reply_timeout
    if timeout is None:
        timeout = _of_profile(link, "reply_timeout", rate)
        if math.isnan(timeout):
            lacks.append(("link", "reply_timeout"))
        else:
            notes["a time-out that is not stated is taken as the least of the profile"] = None
    broadcast = _of_profile(link, "broadcast_gap", rate)
    if math.isnan(broadcast) and link.profile is not None and link.profile.preamble:
        # a frame that begins with a break needs no silence before it
        broadcast = 0.0
    preamble = _of_profile(link, "preamble", rate)
    return _Waits(0.0 if math.isnan(preamble) else preamble, gap, broadcast, timeout)


def _of_profile(link: Link, name: str, rate: float) -> float:
    time = None if link.profile is None else link.profile.duration(name, rate, link.frame)
    return math.nan if time is None else time
