"""Rules on the driven bus."""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from rs485kit import analysis
from rs485kit.analysis import DrivenLevels
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.model import Node
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import NOTHING, Finding, Place, at_least, unknown
from rs485kit.rules.structure import lone_places, parts_of

THRESHOLD_SCALE = 0.2
STATES = ("mark", "space")


class _Worst(NamedTuple):
    """The worst of one driver's levels: which state at which receiver, and how it is judged."""

    state: int
    receiver: int
    known: bool


@rule(
    "driving.level-too-low",
    title="A receiver does not surely read what a driver sends",
    basis="standard",
    source="EIA-485 driver levels of 1.5 V into 54 ohm and receiver limits of +-200 mV, or the parts' own figures; B&B "
    "Electronics, RS-422/485 Application Note, appendix A",
)
def level_too_low(analyses: Analyses) -> Iterable[Finding]:
    """A receiver sees less than it needs of what a driver sends, mark or space.

    What it checks
    --------------
    The settled level of every receiver from every driver, solved over the whole network: mark against the receiver's
    largest upper threshold, space against its least lower threshold. For each driver it reports the worst receiver.

    Why it matters
    --------------
    Cable takes its share of every level: over 1.2 km of 24 AWG two thirds are gone. Bias towards mark takes from every
    space what it gives to the idle level. A driver that is heard next door may not be understood at the far end.

    Limit and source
    ----------------
    The part's own thresholds, +200 mV and -200 mV for a plain receiver (EIA-485). A failure is a nominal level that
    misses them; marginal is a proved level that does, over all tolerances and from the loaded minimum of the driver, or
    less than the reserve of a tenth, which is this library's. A driver loaded with less than its guarantee holds for
    has no proved level: unknown.

    When to waive
    -------------
    When a driver is never meant for that receiver, such as a device that only answers a controller near by.
    """
    nodes = analyses.bus.nodes
    senders = [node for node in nodes if node.transceiver is not None and node.drives and node.powered]
    if not senders or not any(node.listens for node in nodes):
        return
    if not any(_states_levels(node) for node in senders):
        missing = ("transceiver.driver_open_voltage", "transceiver.driver_loaded_voltage")
        yield unknown(
            Place.bus(),
            "whether drivers reach the receivers cannot be told: no driver states its output voltages",
            missing=missing,
            remedy="take the driver's differential output voltages, open and into 54 ohm, from each datasheet",
        )
        return
    levels = analysis.driven_levels(analyses)
    measured = np.stack((levels.mark.nominal, -levels.space.nominal), axis=1)
    proved = np.stack((levels.mark.lower, -levels.space.upper), axis=1)
    limit = np.stack((levels.upper_threshold, -levels.lower_threshold))
    part = {name: index for index, names in enumerate(parts_of(analyses.bus)) for name in names}
    lone = lone_places(analyses.bus)
    for index, driver in enumerate(levels.drivers):
        heard = np.array([part[name] == part[driver] for name in levels.receivers])
        if driver in lone or not heard.any():
            continue
        seen, bound = (np.where(heard, each[index], np.inf) for each in (measured, proved))
        yield _judged(levels, index, _worst(seen, bound, limit), measured[index], proved[index], limit)


def _states_levels(node: Node) -> bool:
    part = node.transceiver
    return part is not None and (part.driver_open_voltage is not None or part.driver_loaded_voltage is not None)


def _worst(measured: np.ndarray, proved: np.ndarray, limit: np.ndarray) -> _Worst:
    """Return the worst of one driver's levels, arrays of shape (states, receivers).

    A nominal level that misses comes before one that is not known, and that before one that is met; among equals the
    one with the least headroom.
    """
    scale = np.where(np.abs(limit) < NOTHING, THRESHOLD_SCALE, np.abs(limit))
    with np.errstate(over="ignore"):
        nominal, bound = (measured - limit) / scale, (proved - limit) / scale
    unsure = np.isnan(nominal + bound)
    if (nominal < 0).any():
        chosen, known = int(np.nanargmin(nominal)), True
    elif unsure.any():
        chosen, known = int(unsure.argmax()), False
    else:
        chosen, known = int(np.minimum(nominal, bound).argmin()), True
    state, receiver = np.unravel_index(chosen, nominal.shape)
    return _Worst(int(state), int(receiver), known)


def _judged(
    levels: DrivenLevels, index: int, worst: _Worst, measured: np.ndarray, proved: np.ndarray, limit: np.ndarray
) -> Finding:
    """Return the finding on the worst of one driver's levels."""
    driver, receiver, at = levels.drivers[index], levels.receivers[worst.receiver], (worst.state, worst.receiver)
    state, sign = STATES[worst.state], 1.0 if worst.state == 0 else -1.0
    nominal, bound, threshold = (float(each[at]) for each in (measured, proved, limit))
    missing = () if worst.known and not np.isnan(bound) else _missing(levels, driver, receiver)
    if not worst.known:
        seen = f"{state} of {driver} at {receiver} {figure(sign * nominal, 'V')} nominally"
        what = f"{seen}, but whether it is read for sure cannot be told for want of {listed(missing, 3)}"
        return unknown(Place.path(driver, receiver), what, missing=missing)
    side = "above" if worst.state == 0 else "below"
    guaranteed = "" if np.isnan(bound) else f", {figure(sign * bound, 'V')} guaranteed"
    return at_least(
        Place.path(driver, receiver),
        "driven mark" if worst.state == 0 else "driven space, its sign changed",
        measured=nominal,
        bound=bound,
        limit=threshold,
        unit="V",
        scale=THRESHOLD_SCALE,
        message=(
            f"{state} of {driver} at {receiver} {figure(sign * nominal, 'V')} nominally{guaranteed}; it is read for "
            f"sure {side} {figure(sign * threshold, 'V')}"
        ),
        remedy=_remedy(nominal),
        missing=missing,
    )


def _missing(levels: DrivenLevels, driver: str, receiver: str) -> tuple[str, ...]:
    own = [f"{node}: {field}" for node, field in levels.missing if node in (driver, receiver)]
    return tuple(dict.fromkeys((*own, *levels.unstated))) or ("a proved bound: the tolerances are too wide for one",)


def _remedy(nominal: float) -> str:
    if nominal < 0:
        return "the level arrives the wrong way round: check the polarity of the lines at both nodes before all else"
    return (
        "use thicker cable or a shorter way, fewer terminators, no more bias than the idle level needs, or a driver "
        "with a larger guaranteed output"
    )


RULES: tuple[Rule, ...] = (level_too_low,)
