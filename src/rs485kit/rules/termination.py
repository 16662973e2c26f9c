"""Rules on terminators: where they stand, how many there are, and whether they match the line."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.analysis import FittedPlace, Terminations
from rs485kit.memo import Analyses
from rs485kit.rules.definition import Rule, parameter, rule
from rs485kit.rules.figures import figure, share
from rs485kit.rules.finding import Finding, Place, at_least, at_most, unknown

OF_TWO_ENDS = 2
SHOWN = 4


def figures_of_row(fields: Iterable[tuple[str, str]], node: str) -> tuple[str, ...]:
    """Return the figures that the row of a node lacks."""
    return tuple(dict.fromkeys(field for row, field in fields if row == node))


def not_stated(missing: tuple[str, ...]) -> str:
    """Say in a message what is not stated, without a long list."""
    more = f" and {len(missing) - SHOWN} more" if len(missing) > SHOWN else ""
    return f"{', '.join(missing[:SHOWN])}{more} {'is' if len(missing) == 1 else 'are'} not stated"


@rule(
    "termination.end-unterminated",
    title="An end of the line carries no terminator, and reflections may outlast half a bit",
    basis="common practice",
    parameters=(
        parameter("round_trips", 3.0, unit="", meaning="round trips after which reflections are held to have died"),
        parameter("bit_share", 0.5, unit="", meaning="share of a bit within which they must have"),
    ),
    reserve=0.0,
)
def end_unterminated(analyses: Analyses, *, round_trips: float, bit_share: float) -> Iterable[Finding]:
    """An end of the line carries no terminator, and by custom the line is too long for its data rate to do without.

    What it checks
    --------------
    Whether a terminator is engaged at each end: at the ends of the trunk, and at the end of every branch of more than
    20 m. An end without one passes if three round trips over the longest way from it fit into half a bit.

    Why it matters
    --------------
    An edge that meets an open end comes back at full size. On a long line at a high rate it may still be on its way
    when a receiver reads the bit. On a short line at a low rate it has died away long before, and a missing terminator
    explains no fault there: what it changes is the impedance of the idle pair, kilohms instead of 120 ohm, and with it
    pick-up and the idle level.

    Limit and source
    ----------------
    Three round trips within half a bit: common practice, printed in device manuals as tables of length against rate.
    It solves no signal, so a miss is marginal, never a failure. With neither terminator nor data rate, length or
    velocity it is unknown.

    When to waive
    -------------
    When the edges have been solved or looked at with an oscilloscope at the receivers, and settle.
    """
    found = analysis.terminations(analyses)
    link = analyses.bus.link
    rate = None if link is None else link.data_rate
    figures = (found.length.tolist(), found.delay.nominal.tolist(), found.delay.upper.tolist())
    ends = [row for row in zip(found.ends, *figures, strict=True) if row[1] > 0]
    if ends and all(row[0] in found.terminated for row in ends):
        names = ", ".join(row[0] for row in ends)
        yield Finding(verdict="pass", where=Place.bus(), message=f"every end of the line is terminated: {names}")
    for name, length, delay, largest in ends:
        if name in found.terminated:
            continue
        missing = (*figures_of_row(found.missing, name), *(() if rate else ("link.data_rate",)))
        where, remedy = Place.node(name), _remedy_of_end(found, name)
        bare = f"{name} is an end of the line and carries no terminator"
        if missing or rate is None:
            what = f"{bare}; whether reflections die away in time cannot be told: {not_stated(missing)}"
            yield unknown(where, what, missing=missing, remedy=remedy)
            continue
        settled, allowed = 2.0 * round_trips * delay, bit_share / rate
        fits = settled <= allowed
        yield at_most(
            where,
            "time in which reflections die away, by custom",
            measured=settled,
            bound=2.0 * round_trips * largest,
            limit=allowed,
            unit="s",
            advisory=True,
            message=(
                f"{bare}: {round_trips:g} round trips over {figure(length, 'm')}, {figure(settled, 's')}, "
                f"{'fit' if fits else 'do not fit'} into {share(bit_share)} of a bit at {figure(rate, 'bit/s')}, "
                f"{figure(allowed, 's')}; {'by custom it needs none' if fits else 'only a solved signal can tell'}"
            ),
            remedy=remedy,
            missing=found.unstated,
        )


def _remedy_of_end(found: Terminations, name: str) -> str:
    fitted = {row.node: row for row in found.fitted}
    if name in fitted and fitted[name].disengaged:
        return f"engage the terminator that is fitted at {name}"
    if sum(found.fitted.engaged) >= OF_TWO_ENDS and len(found.ends) > OF_TWO_ENDS:
        return (
            "a third terminator would load every driver: lead the trunk to this place and back, so that the line has "
            "two ends, or shorten the branch to a stub"
        )
    return f"fit a terminator of the cable's impedance at {name}, or lower the data rate"


@rule(
    "termination.too-many",
    title="More terminators than two, or a terminator away from the ends",
    basis="standard",
    source="MODBUS over Serial Line V1.02, section 3.4.5: two terminators, none on a derivation",
    reserve=0.0,
)
def too_many(analyses: Analyses) -> Iterable[Finding]:
    """More than two terminators are engaged, several at one node, or one away from the ends.

    What it checks
    --------------
    How many terminators are engaged on the bus and at each node, and whether each stands at an end of the line; one on
    a device that was added in the middle, or hidden inside it, is the usual case. Bias networks are not counted.

    Why it matters
    --------------
    Each terminator loads every driver and takes from the idle level. In mid-line it sends a third of every edge back
    to where it came from; on a stub it does the same where the stub leaves the line.

    Limit and source
    ----------------
    Two, at the ends, none on a derivation: MODBUS over Serial Line V1.02, section 3.4.5. An excess is marginal: it
    fails only by the load of a driver or the idle level, which have rules of their own.

    When to waive
    -------------
    When the drivers are guaranteed for the load and the edges have been looked at.
    """
    rows = [row for row in analysis.terminations(analyses).fitted if row.engaged]
    if not rows:
        return
    count = sum(row.engaged for row in rows)
    names = ", ".join(row.node for row in rows)
    yield at_most(
        Place.bus(),
        "terminators engaged",
        measured=float(count),
        limit=float(OF_TWO_ENDS),
        unit="",
        advisory=True,
        message=f"{count} terminator{'' if count == 1 else 's'} engaged: {names}",
        remedy="keep those at the two ends of the line, and disengage the others",
    )
    for row in rows:
        if row.place != "end" or row.engaged > 1:
            remedy = "disengage it: terminators belong at the two ends of the line, one at each"
            yield Finding(verdict="marginal", where=Place.node(row.node), message=_misplaced(row), remedy=remedy)


def _misplaced(row: FittedPlace) -> str:
    what = f"{row.engaged} terminators are" if row.engaged > 1 else "a terminator is"
    where = {"end": "at one end", "mid-line": "in mid-line", "stub": f"on a stub of {figure(row.stub, 'm')}"}[row.place]
    text = f"{what} engaged at {row.node}, {where}: {figure(row.resistance.nominal, 'ohm')} across the pair"
    if math.isnan(row.reflection.nominal):
        return text
    return f"{text} send {share(abs(row.reflection.nominal))} of every edge back"


@rule(
    "termination.mismatched",
    title="A terminator does not match its cable",
    basis="common practice",
    parameters=(parameter("most", 0.2, unit="", meaning="largest share of an edge that an end may send back"),),
    reserve=0.0,
)
def mismatched(analyses: Analyses, *, most: float) -> Iterable[Finding]:
    """A terminator at an end does not match the impedance of its cable.

    What it checks
    --------------
    The reflection of every terminated end, (R - Z) / (R + Z), with everything that stands across the pair there, bias
    legs included, and over the limits of terminator and cable.

    Why it matters
    --------------
    The share that comes back is what the next edge is laid upon. A tenth does no harm; a half is half an open end.

    Limit and source
    ----------------
    A fifth: common practice, a terminator within two thirds and one and a half of the impedance. A terminator of 120
    ohm passes on any cable of 120 +- 30 ohm, as RS-485 allows (14 % at the worst); on a cable of 100 ohm it sends back
    9 %. A miss is marginal.

    When to waive
    -------------
    When the line is short for its data rate, or the edges have been looked at.
    """
    fitted = analysis.terminations(analyses).fitted
    rows = [row for row in fitted if row.engaged and row.place == "end"]
    if rows and all(math.isnan(row.characteristic_impedance.nominal) for row in rows):
        missing = tuple(dict.fromkeys(field for row in rows for field in figures_of_row(fitted.missing, row.node)))
        remedy = "take the characteristic impedance from the cable's datasheet"
        what = f"whether terminators match their cable cannot be told: {not_stated(missing)}"
        yield unknown(Place.bus(), what, missing=missing, remedy=remedy)
        return
    for row in rows:
        seen = row.reflection
        yield at_most(
            Place.node(row.node),
            "reflection of the end",
            measured=abs(seen.nominal),
            bound=math.nan if math.isnan(seen.lower + seen.upper) else max(abs(seen.lower), abs(seen.upper)),
            limit=most,
            unit="",
            advisory=True,
            message=(
                f"{figure(row.resistance.nominal, 'ohm')} at the end of a cable of "
                f"{figure(row.characteristic_impedance.nominal, 'ohm')} send {share(abs(seen.nominal))} of an edge back"
            ),
            remedy="use a terminator of the cable's impedance, bias legs in parallel to it counted",
            missing=figures_of_row(fitted.missing, row.node) or fitted.unstated,
        )


@rule(
    "termination.rc-too-small",
    title="The capacitor of an RC terminator is too small for the line",
    basis="common practice",
    parameters=(parameter("delays", 4.0, unit="", meaning="one-way delays of the line that R C must outlast"),),
    reserve=0.0,
)
def rc_too_small(analyses: Analyses, *, delays: float) -> Iterable[Finding]:
    """The time constant of an RC terminator is short against the delay of the line.

    What it checks
    --------------
    R C of every RC terminator that is engaged against the one-way delay from it to the place farthest away.

    Why it matters
    --------------
    For a steady level an RC terminator is open, which saves power and leaves the idle level to a weaker bias. It
    matches the line only for as long as its capacitor has not charged: too small, and it matches the first part of an
    edge and reflects the rest. 120 ohm and 1 nF, a common fit, are right for a line of 6 m.

    Limit and source
    ----------------
    R C of at least four one-way delays: common practice; Texas Instruments SCBA015A, figure 8d, states it for
    backplanes. A miss is marginal. Where a data rate is stated, the message says what share of a bit R C is: a larger
    one makes levels depend on the bits before.

    When to waive
    -------------
    When the terminator is there only to slow a fast edge, or the edges have been looked at.
    """
    fitted = analysis.terminations(analyses).fitted
    link = analyses.bus.link
    for row in fitted:
        if math.isnan(row.time_constant.nominal) or row.delay.nominal == 0.0:
            continue
        bit = ""
        if link is not None and link.data_rate is not None:
            bit = f"; {share(row.time_constant.nominal * link.data_rate)} of a bit at {figure(link.data_rate, 'bit/s')}"
        ratio = row.time_constant.nominal / row.delay.nominal
        yield at_least(
            Place.node(row.node),
            "R C of the terminator, in one-way delays of the line",
            measured=ratio,
            bound=row.time_constant.lower / row.delay.upper,
            limit=delays,
            unit="",
            advisory=True,
            message=(
                f"R C of {figure(row.time_constant.nominal, 's')} is {figure(ratio, '')} one-way delays of "
                f"{figure(row.delay.nominal, 's')}; a match of the line takes {delays:g}{bit}"
            ),
            remedy="use a larger capacitor, or a terminator without one if the drivers can carry it",
            missing=figures_of_row(fitted.missing, row.node) or fitted.unstated,
        )


RULES: tuple[Rule, ...] = (end_unterminated, too_many, mismatched, rc_too_small)
