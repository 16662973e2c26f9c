"""Rules on transients: slew against data paths, surges against barriers and protectors."""

import math
from collections.abc import Iterable, Iterator

from rs485kit import analysis
from rs485kit.analysis.slewing import BarrierTransient
from rs485kit.errors import listed
from rs485kit.memo import Analyses
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.figures import figure
from rs485kit.rules.finding import Finding, Place, at_least, unknown

PARTS = "common-mode transient immunity, as the makers of isolators state it for their parts"


def _of_slew(analyses: Analyses, name: str, what: str, field: str, remedy: str) -> Iterator[Finding]:
    rows = [row for row in analysis.transient_immunity(analyses).rows if row.slew > 0.0]
    moved = {row.node for row in rows}
    blank = tuple(
        name for name in analyses.bus.barriers if name not in moved and analyses.bus.node(name).circuit is None
    )
    if blank:
        missing = tuple(f'nodes["{name}"].circuit' for name in blank)
        text = f"what moves behind the barriers of {listed(blank, 3)} is not stated"
        yield unknown(Place.bus(), text, missing=missing)
    dark = tuple(row.node for row in rows if math.isnan(getattr(row, name)))
    if dark:
        missing = tuple(f'nodes["{node}"].barrier.isolator.{field}' for node in dark)
        yield unknown(Place.bus(), f"whether the barriers of {listed(dark, 3)} {what} is not stated", missing=missing)
    for row in rows:
        if row.node in dark:
            continue
        rating = getattr(row, name)
        if row.estimated and rating < row.slew:
            yield _estimate(row, rating, what, remedy)
            continue
        yield at_least(
            Place.barrier(row.node), f"slew through which data paths {what}", measured=rating, limit=row.slew,
            unit="V/s", remedy=remedy,
            message=f"data paths {what} up to {figure(rating, 'V/s')}; "
            f"{'a burst' if row.estimated else 'the circuit behind the barrier'} changes by "
            f"{figure(row.slew, 'V/s')}" + (" at the most" if row.estimated else ""),
        )  # fmt: skip


def _estimate(row: BarrierTransient, rating: float, what: str, remedy: str) -> Finding:
    """Return the unknown for an upper estimate that a part does not meet: how much of it arrives is not known."""
    text = (
        f"a burst is up to {figure(row.slew, 'V/s')} if all of it stands across the barrier, more than the "
        f"{figure(rating, 'V/s')} at which data paths {what}; how much of it does is not known"
    )
    return unknown(Place.barrier(row.node), text, missing=("how bursts couple into this barrier",), remedy=remedy)


@rule("transient.data-disturbed", title="A transient disturbs the data across a barrier", basis="physics", source=PARTS)
def data_disturbed(analyses: Analyses) -> Iterable[Finding]:
    """The two sides of a barrier move against each other faster than its data paths communicate through.

    What it checks
    --------------
    The slew of the circuit behind each barrier (`circuit.slew`) and that of the bursts the bus has to work through
    (`environment.burst_voltage_peak` within 5 ns) against the slew at which every data path still communicates.

    Why it matters
    --------------
    Drives and converters move their circuits by tens of kilovolts in a microsecond. A barrier that holds its state
    through that does not thereby pass a frame through it.

    Limit and source
    ----------------
    The figure of the parts, for communicating. A burst by its level is an upper estimate: meeting it passes, missing it
    is unknown. IEC 61000-4-4, as papers print its rise time.

    When to waive
    -------------
    When frames are repeated and the pulses are rare.
    """
    remedy = "use isolators that communicate through more, or shield and filter what drives the transient"
    yield from _of_slew(analyses, "communicates", "communicate", "transient_immunity", remedy)


@rule("transient.state-upset", title="A transient upsets the state of a barrier", basis="physics", source=PARTS)
def state_upset(analyses: Analyses) -> Iterable[Finding]:
    """The two sides of a barrier move against each other faster than its data paths hold their state through.

    What it checks
    --------------
    The same slews against that at which the data paths hold their state: the static figure where the parts state it,
    else that for communicating, which includes it.

    Why it matters
    --------------
    A disturbed bit is repeated. A driver enable that latches the wrong way holds the bus for everybody, until somebody
    switches it off and on.

    Limit and source
    ----------------
    The figure of the parts, for holding their state.

    When to waive
    -------------
    When a watchdog switches the driver off.
    """
    remedy = "use isolators that hold their state through more, or shield and filter what drives the transient"
    yield from _of_slew(analyses, "holds", "hold their state", "transient_immunity_static", remedy)


@rule(
    "transient.surge-breaks-barrier",
    title="A surge is more than a barrier is rated for",
    basis="standard",
    source="IEC 61000-4-5, surges to earth; IEC 60747-17, surge rating of isolators, as makers state it",
    safety=True,
    reserve=0.0,
)
def surge_breaks_barrier(analyses: Analyses) -> Iterable[Finding]:
    """A surge to earth, or an earth that lightning raises, stands across a barrier.

    What it checks
    --------------
    The declared surge (`environment.surge_voltage_peak`) and the rise of the field side's earth by its declared
    lightning current, I R, against the surge voltage of everything that bridges the barrier.

    Why it matters
    --------------
    On a long cable between buildings the barrier is where the two earths meet. 30 kA into 5 ohm are 150 kV, which no
    isolator stands: then only bonding and protectors help.

    Limit and source
    ----------------
    The surge voltages of the parts. It is an upper estimate for a surge: protectors and the impedance of the line take
    their share. A barrier that passes passes without them.

    When to waive
    -------------
    When protectors that a competent person has chosen limit the voltage below the rating.
    """
    bus = analyses.bus
    rows = [row for row in analysis.transient_immunity(analyses).rows if row.surge != 0.0]
    afloat = tuple(name for name in bus.barriers if bus.node(name).earth is None)
    if afloat and any(earth.lightning_current for earth in bus.earths):
        missing = tuple(f'nodes["{name}"].earth' for name in afloat)
        text = f"on which earth the field sides of {listed(afloat, 3)} stand is not stated"
        yield unknown(Place.bus(), text, missing=missing)
    dark = tuple(row.node for row in rows if math.isnan(row.surge) or math.isnan(row.surge_rating))
    if dark:
        every = analysis.transient_immunity(analyses).missing
        missing = tuple(f'nodes["{node}"].{what}' for node, what in every if node in dark and "capacit" not in what)
        text = f"whether the barriers of {listed(dark, 3)} stand a surge is not stated"
        yield unknown(Place.bus(), text, missing=missing or ("surge_voltage_peak of the parts",))
    for row in rows:
        if row.node not in dark:
            yield at_least(
                Place.barrier(row.node), "surge voltage of the barrier", measured=row.surge_rating, limit=row.surge,
                unit="V", remedy="bond the earths and fit protectors, chosen by a competent person under local codes",
                message=f"{row.surge_cause}: up to {figure(row.surge, 'V')} across a barrier of "
                f"{figure(row.surge_rating, 'V')}",
            )  # fmt: skip


@rule(
    "transient.protector-overloaded",
    title="A surge drives more through a protector than it takes",
    basis="standard",
    source="IEC 61000-4-5, impedance of generator and coupling to signal lines, as a design note prints it",
    reserve=0.0,
)
def protector_overloaded(analyses: Analyses) -> Iterable[Finding]:
    """The prospective current of a surge is above the surge current of a protector.

    What it checks
    --------------
    The declared surge over the 42 ohm of generator and coupling network, all of it through one protector, against what
    one element of it takes.

    Why it matters
    --------------
    A protector that dies short takes the bus with it; one that dies open leaves the next surge to the transceiver.

    Limit and source
    ----------------
    The surge current that the part states. IEC 61000-4-5, 42 ohm for signal lines, as a design note prints it.

    When to waive
    -------------
    When series resistors or a stage in front take their share.
    """
    rows = analysis.transient_immunity(analyses).protectors
    if analyses.bus.environment is None and any(node.protectors for node in analyses.bus.nodes):
        text = "which surges the protectors have to take is not stated"
        yield unknown(Place.bus(), text, missing=("environment.surge_voltage_peak",))
    dark = tuple(dict.fromkeys(row.protector for row in rows if math.isnan(row.rated)))
    if dark:
        missing = tuple(f'the surge_current of protector "{name}"' for name in dark)
        yield unknown(Place.bus(), f"what {listed(dark, 3)} take in a surge is not stated", missing=missing)
    for row in rows:
        if not math.isnan(row.rated):
            yield at_least(
                Place.node(row.node), f"surge current of {row.protector}", measured=row.rated, limit=row.current,
                unit="A", remedy="use a larger protector, or series resistors that a surge does not kill",
            )  # fmt: skip


RULES: tuple[Rule, ...] = (data_disturbed, protector_overloaded, state_upset, surge_breaks_barrier)
