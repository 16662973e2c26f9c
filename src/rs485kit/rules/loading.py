"""Rules on what hangs on the pair."""

from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.analysis import UnitLoads
from rs485kit.memo import Analyses
from rs485kit.model import Node
from rs485kit.network.branches import legs_of
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.finding import Finding, Place, at_most, unknown


def _named(fields: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(field if field.startswith("nodes[") else f"{node}: {field}" for node, field in fields))


def _spare(spare: int | None, kind: str) -> str:
    if spare is None:
        return ""
    return f"; room for {spare} more node{'' if spare == 1 else 's'} of the heaviest kind fitted, {kind}"


def _receivers_missing(loads: UnitLoads) -> tuple[tuple[str, str], ...]:
    return tuple((node, field) for node, field in loads.missing if field == "transceiver.unit_load")


def _pulls(node: Node) -> bool:
    """Return whether a node loads its lines by more than its receiver."""
    return bool(legs_of(node)) or any(protector.ends == "line-common" for protector in node.protectors)


@rule(
    "loading.unit-loads-exceeded",
    title="More unit loads than a standard driver is made for",
    basis="standard",
    source="EIA-485, as printed in Texas Instruments SLLA272D, section 9: 32 unit loads",
)
def unit_loads_exceeded(analyses: Analyses) -> Iterable[Finding]:
    """More unit loads hang on the pair than a standard driver is made for.

    What it checks
    --------------
    The sum of the unit loads of all receiver inputs, as their datasheets state them, whether they listen or not.

    Why it matters
    --------------
    A driver that meets the standard holds its output levels into two terminators and 32 unit loads. Beyond that
    its levels are not guaranteed. The count of devices decides nothing by itself: 256 devices of one eighth fit,
    33 of one do not.

    Limit and source
    ----------------
    At most 32 unit loads: EIA-485, as printed in Texas Instruments SLLA272D, section 9.

    When to waive
    -------------
    When the driver of every node is guaranteed for the load that is there.
    """
    loads = analysis.unit_loads(analyses)
    unstated = _receivers_missing(loads)
    if unstated:
        yield unknown(
            Place.bus(),
            f"the sum is not known: {len(unstated)} node{'' if len(unstated) == 1 else 's'} without a stated unit load",
            missing=_named(unstated),
            remedy="take unit_load from each transceiver's datasheet; the number of devices alone decides nothing",
        )
        return
    if not any(node.transceiver for node in analyses.bus.nodes):
        return
    yield at_most(
        Place.bus(),
        "unit loads of all receivers",
        measured=loads.total,
        limit=loads.limit,
        unit="",
        message=(
            f"{loads.total:.4g} unit loads of {loads.limit:g}{_spare(loads.spare_nodes, 'receivers counted alone')}"
        ),
        remedy="use transceivers of 1/4 or 1/8 unit load, or split the bus by a repeater",
    )


@rule(
    "loading.bias-crowds-out-nodes",
    title="Bias and nodes together load the pair beyond 32 unit loads",
    basis="standard",
    source="Texas Instruments SLLA272D, section 9, equation 3: bias counts against the 32 unit loads",
)
def bias_crowds_out_nodes(analyses: Analyses) -> Iterable[Finding]:
    """Bias networks, active terminators, protectors and receivers together exceed 32 unit loads.

    What it checks
    --------------
    The unit loads of the more loaded line, every leg of a bias network or active terminator counted as
    12 kohm / R, and every protector by its leakage.

    Why it matters
    --------------
    A leg to a rail loads a driver like receivers do, when the common mode moves. A pair of 600 ohm takes 20 of
    the 32. Guides differ by a factor of several: one protocol guide takes off 4 devices, a design guide 20 unit
    loads, the border of the standard up to 28; that is why an excess here is marginal, not a failure.

    Limit and source
    ----------------
    At most 32 unit loads, bias included: Texas Instruments SLLA272D, section 9, equation 3.

    When to waive
    -------------
    When the drivers' levels have been checked with the bias in place.
    """
    if not any(_pulls(node) for node in analyses.bus.nodes):
        return
    loads = analysis.unit_loads(analyses)
    counted = loads.total_custom
    yield at_most(
        Place.bus(),
        "unit loads with bias, by the 12 kohm custom",
        measured=counted,
        limit=loads.limit,
        unit="",
        advisory=True,
        message=(
            f"with bias, active terminators and protectors {counted:.4g} unit loads of {loads.limit:g} by the 12 kohm "
            f"custom, {loads.total_strict:.4g} by the border of the standard"
            f"{_spare(loads.spare_nodes_custom, 'bias counted')}"
        ),
        remedy="use one bias network for the whole bus, of the largest resistance that still gives the idle level",
        missing=_named(loads.missing),
    )


RULES: tuple[Rule, ...] = (unit_loads_exceeded, bias_crowds_out_nodes)
