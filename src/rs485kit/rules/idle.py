"""Rules on the idle bus."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.analysis import IdleLevel
from rs485kit.errors import OutsideRangeError
from rs485kit.memo import Analyses
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown
from rs485kit.rules.structure import lone_places

THRESHOLD_SCALE = 0.2
# the lumped formula is quoted where it is off by more than this share of the solved level
LUMPED_SHARE = 0.05
ADVERSE, BY_ITSELF = "at the adverse common mode", "if every receiver input pulls its own way"
TOO_WIDE = "a proved bound: the tolerances are too wide for one"


@rule(
    "idle.level-undefined",
    title="A receiver sees no defined level while nobody drives",
    basis="standard",
    source="EIA-485 receiver limits of +-200 mV, or the part's own threshold; B&B Electronics, RS-422/485 "
    "Application Note, appendix A",
)
def level_undefined(analyses: Analyses) -> Iterable[Finding]:
    """A receiver sees less than its upper threshold while nobody drives.

    What it checks
    --------------
    The idle differential voltage of every receiver, solved over the whole network with its cable, against the largest
    upper threshold of that receiver, in three readings: at nominal values; over all tolerances with the adverse common
    mode inside the unit-load border; and over all tolerances with every receiver input pulling by itself.

    Why it matters
    --------------
    Between two messages nobody drives the pair. A receiver that is not held above its threshold may read a start bit
    that nobody sent: an extra 00 before a reply, a lost first byte, calls that nobody made. The better a bus is
    terminated, the smaller is the level that bias can give it, and cable resistance takes more of it from the receivers
    far away, which a lumped formula does not show.

    Limit and source
    ----------------
    At least the part's largest upper threshold: +200 mV for a plain receiver (EIA-485), below zero for one with
    built-in failsafe. The level fails if it misses nominally or at the adverse common mode. It is marginal if only the
    reading with every input by itself misses, since no real part behaves as badly as that allows: 32 inputs of one unit
    load would undo any bias in use. The reserve of a tenth is this library's.

    When to waive
    -------------
    When the protocol keeps a driver on at all times, or the receiver's input is masked between messages.
    """
    try:
        levels = analysis.idle_levels(analyses)
    except OutsideRangeError as error:
        yield from _outside(error)
        return
    lone = lone_places(analyses.bus)
    for row in levels:
        if row.node in lone:
            continue
        where, voltage = Place.node(row.node), row.voltage
        if math.isnan(row.threshold):
            seen = figure(voltage.nominal, "V")
            yield unknown(
                where,
                f"the idle voltage is {seen}, but the receiver's upper threshold is not stated",
                missing=("transceiver.receiver_upper_threshold (its max)",),
                remedy="take it from the datasheet: +200 mV for a plain receiver, below zero with built-in failsafe",
            )
            continue
        known = not math.isnan(voltage.matched_lower)
        yield at_least(
            where,
            "idle voltage",
            measured=min(voltage.nominal, voltage.matched_lower) if known else voltage.nominal,
            bound=voltage.lower if known else math.nan,
            limit=row.threshold,
            scale=THRESHOLD_SCALE,
            unit="V",
            message=_message(row, levels.lumped),
            remedy=_remedy(voltage.nominal),
            missing=() if not math.isnan(voltage.lower) else levels.unstated or (TOO_WIDE,),
        )


def _outside(error: OutsideRangeError) -> Iterable[Finding]:
    """Give a failure for every node whose lines stand beyond the range in which any receiver is guaranteed."""
    for name, (first, second) in zip(error.nodes, error.volts, strict=True):
        yield Finding(
            verdict="fail",
            where=Place.node(name),
            message=(
                f"while nobody drives its lines stand at {first:.4g} V and {second:.4g} V against its own common: "
                "beyond -7 V .. +12 V no receiver is guaranteed, and it may be destroyed"
            ),
            remedy="isolate the node, join the commons by a reference conductor, or correct the earth potentials",
        )


def _message(row: IdleLevel, lumped: float) -> str:
    """Say the level in each reading, which of them misses, and what the lumped formula says where it differs."""
    voltage = row.voltage
    text = f"idle voltage {1e3 * voltage.nominal:.4g} mV"
    readings = [("nominally", voltage.nominal)]
    for value, name in ((voltage.matched_lower, ADVERSE), (voltage.lower, BY_ITSELF)):
        if not math.isnan(value) and round(1e3 * value, 1) < round(1e3 * readings[-1][1], 1):
            text += f", {1e3 * value:.4g} mV {name}"
            readings.append((name, value))
    text += f"; mark is sure only above {1e3 * row.threshold:.4g} mV"
    missing = [name for name, value in readings if value < row.threshold]
    if missing and len(readings) > 1:
        text += f", which it misses {missing[0]}"
    if lumped * voltage.nominal > 0 and abs(lumped - voltage.nominal) > LUMPED_SHARE * abs(voltage.nominal):
        text += f"; the lumped formula, which leaves out the cable, says {1e3 * lumped:.4g} mV"
    return text


def _remedy(nominal: float) -> str:
    if nominal < -1e-3:
        return "the pair idles the wrong way round: check lines and bias for exchanged polarity before anything else"
    return (
        "bias the bus from one place, the nearer to the middle of the cable the better, through a lower resistance, or "
        "use receivers with built-in failsafe"
    )


@rule(
    "idle.bias-in-several-places",
    title="More than one bias network is fitted",
    basis="standard",
    source="MODBUS over Serial Line V1.02, section 3.4.6: polarisation at one place only",
    reserve=0.0,
)
def bias_in_several_places(analyses: Analyses) -> Iterable[Finding]:
    """More than one node carries a bias network that is engaged.

    What it checks
    --------------
    How many nodes carry an engaged bias network; a network on a node without supply counts, since it still loads.

    Why it matters
    --------------
    Several networks load every driver, and two of opposite polarity cancel. With supplies on different earths
    they carry a current over the pair. More bias is not safer: it takes from the driven levels what it gives to
    the idle level.

    Limit and source
    ----------------
    One: MODBUS over Serial Line V1.02, section 3.4.6. Other practice allows two; an excess is marginal.

    When to waive
    -------------
    When the networks are weak ones, meant to be many, or the protocol's own standard allows more than one.
    """
    biased = [node.name for node in analyses.bus.nodes if any(bias.engaged for bias in node.biases)]
    if not biased:
        return
    yield at_most(
        Place.bus(),
        "nodes with a bias network",
        measured=float(len(biased)),
        limit=1.0,
        unit="",
        advisory=True,
        message=f"{len(biased)} node{'' if len(biased) == 1 else 's'} with a bias network: {', '.join(biased)}",
        remedy="keep the one nearest to the middle of the bus, and disengage the others",
    )


RULES: tuple[Rule, ...] = (level_undefined, bias_in_several_places)
