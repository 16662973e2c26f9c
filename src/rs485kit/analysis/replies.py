"""Turnaround: from the last stop bit of one sender to the first start bit of the next, and who still drives then."""

import math

import attrs
import numpy as np
from typing_extensions import override

from rs485kit.analysis.results import Array, Missing, PerNode, read_only, unit
from rs485kit.analysis.turn_parts import (
    Lacks,
    Span,
    answers,
    driving_after,
    flight,
    polled,
    receiving_delay,
    released_after,
    sending_delay,
    span_of,
)
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model.base import Viewed
from rs485kit.model.timing import bits_of

HALF = 0.5
_DELAYS = (
    "a delay of a part that is not stated counts for nothing in nominal times and for nothing at the least; where it "
    "would have to be bounded from above the time is not known"
)


@attrs.frozen(kw_only=True)
class TurnaroundAt(Viewed):
    """The two turns between the controller and one device.

    Parameters
    ----------
    node : str
        Name of the device [-].
    flight : float
        Delay of the cable to it, one way [s].
    reply_gap, reply_gap_nominal : float
        Shortest and nominal time, at the device, from the controller's driver having let go to its own driver driving;
        negative: both drive [s].
    needed_reply_delay : float
        Shortest reply delay with which that never gets negative [s].
    request_gap, request_gap_nominal : float
        The same at the controller, from the device's driver having let go to the next request [s].
    needed_request_gap : float
        Shortest wait of the controller after a reply with which that never gets negative [s].
    earliest_reply, latest_reply : float
        When the reply begins at the controller's data input, after the end of the request as it sends it [s].
    needed_timeout : float
        When the first character of the latest reply has been logged: the shortest time-out that waits for it [s].
    start_lost : float
        How much of its first start bit the device's driver loses at the most, since it is not yet enabled [s].
    end_lost : float
        How much of its last stop bit its driver cuts off at the most, since it has let go; more than the stop bits: of
        the bits before [s].
    reply_overlap_bits, request_overlap_bits : float
        For how many bit times both drive at the most, at either turn; 0: never [-].
    """

    node: str
    flight: float = attrs.field(metadata=unit("s"))
    reply_gap: float = attrs.field(metadata=unit("s"))
    reply_gap_nominal: float = attrs.field(metadata=unit("s"))
    needed_reply_delay: float = attrs.field(metadata=unit("s"))
    request_gap: float = attrs.field(metadata=unit("s"))
    request_gap_nominal: float = attrs.field(metadata=unit("s"))
    needed_request_gap: float = attrs.field(metadata=unit("s"))
    earliest_reply: float = attrs.field(metadata=unit("s"))
    latest_reply: float = attrs.field(metadata=unit("s"))
    needed_timeout: float = attrs.field(metadata=unit("s"))
    start_lost: float = attrs.field(metadata=unit("s"))
    end_lost: float = attrs.field(metadata=unit("s"))
    reply_overlap_bits: float
    request_overlap_bits: float


_DERIVED = ("node", "reply_overlap_bits", "request_overlap_bits")
_FIGURES = tuple(field.name for field in attrs.fields(TurnaroundAt) if field.name not in _DERIVED)


@attrs.frozen(kw_only=True, eq=False)
class Turnarounds(PerNode[TurnaroundAt]):
    """The two turns between the controller and every device, in bus order.

    Parameters
    ----------
    controller : str
        Name of the node that polls [-].
    interval : float
        Unit interval [s].
    nodes : tuple of str
        Devices: nodes that drive and listen but the controller [-].
    flight, reply_gap, reply_gap_nominal, needed_reply_delay, request_gap, request_gap_nominal : array
        As in the rows [s].
    needed_request_gap, earliest_reply, latest_reply, needed_timeout, start_lost, end_lost : array
        As in the rows [s].
    missing : tuple
        Rows and fields that the bus does not state [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    controller: str
    interval: float = attrs.field(metadata=unit("s"))
    nodes: tuple[str, ...]
    flight: Array = attrs.field(converter=read_only, metadata=unit("s"))
    reply_gap: Array = attrs.field(converter=read_only, metadata=unit("s"))
    reply_gap_nominal: Array = attrs.field(converter=read_only, metadata=unit("s"))
    needed_reply_delay: Array = attrs.field(converter=read_only, metadata=unit("s"))
    request_gap: Array = attrs.field(converter=read_only, metadata=unit("s"))
    request_gap_nominal: Array = attrs.field(converter=read_only, metadata=unit("s"))
    needed_request_gap: Array = attrs.field(converter=read_only, metadata=unit("s"))
    earliest_reply: Array = attrs.field(converter=read_only, metadata=unit("s"))
    latest_reply: Array = attrs.field(converter=read_only, metadata=unit("s"))
    needed_timeout: Array = attrs.field(converter=read_only, metadata=unit("s"))
    start_lost: Array = attrs.field(converter=read_only, metadata=unit("s"))
    end_lost: Array = attrs.field(converter=read_only, metadata=unit("s"))
    missing: Missing = ()
    assumed: tuple[str, ...] = ()

    @override
    def _row(self, index: int) -> TurnaroundAt:
        figures = {name: float(getattr(self, name)[index]) for name in _FIGURES}
        reply, request = (
            math.nan if math.isnan(figures[name]) else max(0.0, -figures[name] / self.interval)
            for name in ("reply_gap", "request_gap")
        )
        return TurnaroundAt(
            node=self.nodes[index], reply_overlap_bits=reply, request_overlap_bits=request, **figures
        )  # fmt: skip

    @override
    def _margin(self, index: int) -> float:
        gaps = (float(self.reply_gap[index]), float(self.request_gap[index]))
        return math.nan if any(map(math.isnan, gaps)) else min(gaps)


@as_analysis()
def turnaround(analyses: Analyses) -> Turnarounds:
    """Return who still drives when the next one begins: from request to reply, and from reply to the next request.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    Turnarounds
        Rows per device that drives and listens [s].

    Raises
    ------
    MissingDataError
        If the bus states no data rate or no controller.

    Notes
    -----
    From the end of the last stop bit as the controller sends it. Its driver has let go, at its own terminals, after
    R = hold + enable path of its barrier + disable time, and at the device a flight F later. The device has the end of
    the request after D = transmit path and driver of the controller + F + receiver and receive path of the device, and
    drives after D + reply delay - lead of its enable signal + enable path of its barrier + enable time. The gap at the
    device is the difference: the flight cancels, and nowhere else is the gap shorter. At the controller it is longer by
    2 F. The same holds from reply to request with the parts exchanged and the controller's own wait for the reply
    delay. In the arrival of the reply the flight counts twice.

    A one-shot holds from the beginning of the last space on, which is at the latest the bit before the stop bits; a
    driver that the data direct lets go after its last space.

    Delays are bounded by their least and largest values; flights are at nominal velocity and cancel where they matter.

    References
    ----------
    Arithmetic; the closed forms are `rs485kit.formulas.least_reply_delay` and `answer_arrival_time`.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_delay="40 ns", receiver_delay="100 ns",
    ...                       driver_enable_time="80 ns", driver_disable_time="80 ns")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm",
    ...                 velocity_factor=0.66)
    >>> nodes = [rk.Node(name=name, transceiver=part, direction="program", release_hold="1 ms", enable_lead="0 s",
    ...                  reply_delay="500 us") for name in ("head", "gate")]
    >>> link = rk.Link(data_rate="9.6 kbit/s", controller="head", request_gap="2 ms")
    >>> bus = rk.daisy_chain(nodes, spacing="600 m", cable=pair, link=link)
    >>> row = rk.analysis.turnaround(bus).at("gate")
    >>> round(1e6 * row.reply_gap, 2), round(1e6 * row.needed_reply_delay, 2), round(1e6 * row.request_gap, 2)
    (-499.86, 999.86, 1000.14)
    """
    bus = analyses.bus
    link, controller, rate = polled(bus, "turnaround")
    interval, bits, stops = 1.0 / rate, bits_of(link.frame), int(link.frame[2])
    devices = [node for node in bus.nodes if answers(node) and node is not controller]
    lacks: Lacks = []
    wait = span_of(link.request_gap, ("link", "request_gap"), lacks)
    own_sending, own_receiving = sending_delay(controller, lacks), receiving_delay(controller, lacks)
    own_release = released_after(controller, interval, stops, bits, lacks)
    own_driving = driving_after(controller, lacks)
    logged = (bits - stops + HALF) * interval
    rows = []
    for device in devices:
        delay = span_of(device.reply_delay, (device.name, "reply_delay"), lacks)
        sending, receiving = sending_delay(device, lacks), receiving_delay(device, lacks)
        release = released_after(device, interval, stops, bits, lacks)
        driving = driving_after(device, lacks)
        far = flight(bus, controller.name, device.name, lacks)
        reply = own_sending.plus(receiving).plus(driving).less(own_release)
        request = sending.plus(own_receiving).plus(own_driving).less(release)
        arrival = own_sending.plus(receiving).plus(delay).plus(sending).plus(own_receiving).moved(2.0 * far)
        rows.append(
            (
                far, reply.plus(delay).shortest, reply.plus(delay).nominal, _needed(reply),
                request.plus(wait).shortest, request.plus(wait).nominal, _needed(request),
                arrival.shortest, arrival.longest, arrival.longest + logged,
                _lost(driving.less(sending)), _lost(sending.less(release)),
            )
        )  # fmt: skip
    columns = np.array(rows, dtype=np.float64).reshape(-1, len(_FIGURES)).T
    return Turnarounds(
        controller=controller.name, interval=interval, nodes=tuple(node.name for node in devices),
        missing=tuple(dict.fromkeys(lacks)), assumed=(_DELAYS,),
        **dict(zip(_FIGURES, columns, strict=True)),
    )  # fmt: skip


def _needed(gap_without_delay: Span) -> float:
    """Return the delay with which a gap is never negative."""
    shortest = gap_without_delay.shortest
    return shortest if math.isnan(shortest) else max(0.0, -shortest)


def _lost(late: Span) -> float:
    """Return by how much something comes late at the most, nothing where it is early."""
    return late.longest if math.isnan(late.longest) else max(0.0, late.longest)
