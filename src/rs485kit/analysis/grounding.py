"""Common mode: what every receiver's lines stand at against its common, and where the currents between earths flow."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rs485kit.analysis.drive import settled_drivers
from rs485kit.analysis.grounding_bonds import bond_currents, branch_current
from rs485kit.analysis.grounding_tables import (
    BarrierVoltage,
    BarrierVoltages,
    CommonMode,
    LinkHeat,
    LinkHeats,
    ReceiversCommonMode,
    SpanCurrent,
    SpanCurrents,
)
from rs485kit.analysis.idle import settled_idle
from rs485kit.analysis.results import Array
from rs485kit.errors import OutsideRangeError
from rs485kit.formulas.limits import COMMON_MODE_MAXIMUM, COMMON_MODE_MINIMUM
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.network.assembly import Indices, Network, earths_used, field_sides, idle_network, rail_variants
from rs485kit.network.branches import Notes
from rs485kit.network.driving import Driver
from rs485kit.network.galvanic import Island, islands_of
from rs485kit.network.loads import drivers_of, nominal_states
from rs485kit.network.mains import Mains, barrier_capacitance, driven_magnitudes, mains_of
from rs485kit.solvers.enclosure import Pairs
from rs485kit.solvers.nodal import potentials
from rs485kit.units import MinTypMax


@as_analysis()
def common_mode(analyses: Analyses) -> CommonMode:
    """Return what every receiver's lines stand at against its own common, and where the currents between earths go.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    CommonMode
        Tables of receivers, spans, bonds, links of commons and barriers [V, A, W].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that every row depends on.

    Notes
    -----
    Direct current: Kirchhoff's current law for all conductors with the earths as sources, with nobody driving and with
    every driver at mark and at space. Mains frequency: the same with phasors, see the page on grounds. Each line counts
    by itself: with 11.5 V as the mean and 2 V across, one line stands at 12.5 V. A direct and an alternating voltage
    add up by their peaks; the crest factor is the greatest of the earths'.

    A voltage is told only where metal defines it: the commons of the receiver and of all who drive or bias the pair are
    on one island, or each of their islands is bonded to an earth. Elsewhere it would be a number made of receiver
    inputs or of stray capacitances, and the row is NaN, with the reason in `missing`.

    Limits: of direct current those of `idle_levels` and `driven_levels`; of mains frequency the greatest difference
    between two earths that the bus touches, which no network of resistors exceeds, or the nominal one if it is more.

    References
    ----------
    Range of -7 V .. +12 V: EIA-485, as printed in B&B Electronics, RS-422/485 Application Note, appendix A.

    Examples
    --------
    >>> import rs485kit as rk
    >>> part = rk.Transceiver(name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V")
    >>> pair = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km", reference_resistance="84.2 ohm/km")
    >>> earths = [rk.Earth(name="pump-house", potential="0 V", mains_potential="0 V", resistance="2 ohm"),
    ...           rk.Earth(name="bank", potential="7 V", mains_potential="0 V", resistance="8 ohm")]
    >>> link = rk.CommonLink(resistance="100 ohm")
    >>> nodes = [rk.Node(name=each.name, transceiver=part, earth=each.name, common=link) for each in earths]
    >>> bus = rk.daisy_chain(nodes, spacing="1.2 km", cable=pair, reference_conductor=True, earths=earths)
    >>> round(rk.analysis.common_mode(bus).spans.between("bank", "pump-house").reference, 4)
    -0.0225
    """
    bus = analyses.bus
    islands = islands_of(bus)
    networks = [idle_network(bus, rails=rails) for rails in rail_variants(bus)]
    network = networks[0]
    drivers = drivers_of(bus)
    mains = mains_of(bus, network)
    rest = potentials(
        network.layout, network.branches, network.injected(network.emf[:, None]), network.fixed,
        network.given[:, None],
    )[:, 0]  # fmt: skip
    defined = _defined(bus, islands)
    frequency = () if bus.environment and bus.environment.mains_frequency else ("the mains is taken at 50 Hz",)
    return CommonMode(
        receivers=_receivers(analyses, networks, mains, drivers, defined),
        spans=_spans(bus, network, mains, rest),
        bonds=bond_currents(bus, network, mains, rest, islands),
        links=_links(bus, network, mains, rest),
        barriers=_barriers(analyses, network, mains, rest, islands),
        islands=islands,
        assumed=(*network.assumed, *frequency),
        unstated=network.unstated,
    )


class _Defined(NamedTuple):
    """Why the lines of a node cannot be told, by node; and what lacks of the earths for all of them."""

    reasons: dict[str, str]
    lacking: tuple[str, ...]


def island_by_node(islands: tuple[Island, ...]) -> dict[str, int]:
    """Return the number of the island on which each node's common is."""
    return {name: index for index, island in enumerate(islands) for name in island.nodes}


def _defined(bus: Bus, islands: tuple[Island, ...]) -> _Defined:
    number = island_by_node(islands)
    part = _parts(bus)
    active: dict[int, set[int]] = {}
    for node in bus.nodes:
        if (node.transceiver is not None and node.drives and node.powered) or node.biases:
            active.setdefault(part[node.name], set()).add(number[node.name])
    reasons = {}
    for node in bus.nodes:
        if not node.listens:
            continue
        involved = active.get(part[node.name], set()) | {number[node.name]}
        loose = [index for index in involved if not islands[index].referenced]
        if len(involved) > 1 and loose:
            reasons[node.name] = "a way of metal from every common to the others or to an earth"
    return _Defined(reasons, lacking_of_earths(bus))


def _parts(bus: Bus) -> dict[str, int]:
    """Return which places the pair joins, by number."""
    part = {node.name: index for index, node in enumerate(bus.nodes)}
    around: dict[str, list[str]] = {node.name: [] for node in bus.nodes}
    for segment in bus.segments:
        around[segment.start].append(segment.end)
        around[segment.end].append(segment.start)
    seen: set[str] = set()
    for node in bus.nodes:
        queue = [] if node.name in seen else [node.name]
        for name in queue:
            if name not in seen:
                seen.add(name)
                part[name] = part[node.name]
                queue += around[name]
    return part


def lacking_of_earths(bus: Bus) -> tuple[str, ...]:
    """Return what is not stated of the earths that the bus touches, where it touches more than one."""
    used = earths_used(bus)
    earths = [earth for earth in bus.earths if earth.name in used]
    if len(earths) < 2:
        return ()
    fields = ("potential", "mains_potential")
    return tuple(
        f'earths["{earth.name}"].{name}' for earth in earths for name in fields if getattr(earth, name) is None
    )


def crest_factor(bus: Bus) -> float:
    """Return the greatest crest factor of the earths that have a mains-frequency potential."""
    return max([earth.crest_factor for earth in bus.earths if earth.mains_potential], default=math.sqrt(2.0))


def _greatest_difference(bus: Bus) -> float:
    """Return the greatest mains-frequency difference of two earths that the bus touches, RMS [V]."""
    used = [earth for earth in bus.earths if earth.name in earths_used(bus)]
    greatest = 0.0
    for index, first in enumerate(used):
        for second in used[index + 1 :]:
            a, b = first.mains_potential or 0.0, second.mains_potential or 0.0
            phases = first.mains_phase, second.mains_phase
            if phases[0] is None or phases[1] is None:
                greatest = max(greatest, a + b)
            else:
                apart = phases[0] - phases[1]
                greatest = max(greatest, math.sqrt(max(0.0, a * a + b * b - 2.0 * a * b * math.cos(apart))))
    return greatest


def _receivers(
    analyses: Analyses, networks: list[Network], mains: Mains, drivers: tuple[Driver, ...], defined: _Defined
) -> ReceiversCommonMode:
    bus = analyses.bus
    rows = np.array([index for index, node in enumerate(bus.nodes) if node.listens], dtype=np.intp)
    own = networks[0].terminals[rows]
    pairs = Pairs(own[:, :2].ravel(), np.repeat(own[:, 2], 2))
    if not len(rows):
        return _no_receivers()
    shape = (-1, len(rows), 2)
    direct = np.concatenate([nominal_states(network, pairs, drivers).reshape(shape) for network in networks])
    alternating = driven_magnitudes(networks[0], mains, pairs, drivers).reshape(shape)
    states = np.concatenate(([0], 1 + np.arange(len(drivers)), 1 + np.arange(len(drivers))))
    peaks = crest_factor(bus) * np.concatenate([alternating[states]] * len(networks))
    high, low, mean = (direct + peaks).max(axis=2), (direct - peaks).min(axis=2), direct.mean(axis=2)
    lower, upper = _proved(analyses, rows, len(drivers))
    peak = crest_factor(bus) * np.fmax(alternating.max(axis=(0, 2)), _greatest_difference(bus))
    missing: list[tuple[str, str]] = []
    known = np.ones(len(rows), dtype=np.bool_)
    for index, row in enumerate(rows):
        name = bus.nodes[row].name
        reason = (defined.reasons[name],) if name in defined.reasons else defined.lacking
        missing += [(name, each) for each in reason]
        known[index] = not reason
    missing += [
        (bus.nodes[driver.vertex].name, "transceiver.driver_open_voltage and driver_loaded_voltage (typical values)")
        for driver in drivers
        if math.isnan(driver.source + driver.resistance)
    ]
    names = ["", *(bus.nodes[driver.vertex].name for driver in drivers)]

    def where_known(values: Array) -> Array:
        return np.where(known, values, np.nan)

    return ReceiversCommonMode(
        nodes=tuple(bus.nodes[row].name for row in rows),
        lowest_nominal=where_known(low.min(axis=0)),
        highest_nominal=where_known(high.max(axis=0)),
        lowest=where_known(lower - peak),
        highest=where_known(upper + peak),
        mean_lowest=where_known(mean.min(axis=0)),
        mean_highest=where_known(mean.max(axis=0)),
        mains=where_known(alternating.max(axis=(0, 2))),
        driver_lowest=_callers(names, states, low.argmin(axis=0), known),
        driver_highest=_callers(names, states, high.argmax(axis=0), known),
        limit_lowest=[_limit(bus.nodes[row], "common_mode_lowest", COMMON_MODE_MINIMUM) for row in rows],
        limit_highest=[_limit(bus.nodes[row], "common_mode_highest", COMMON_MODE_MAXIMUM) for row in rows],
        missing=tuple(missing),
    )


def _no_receivers() -> ReceiversCommonMode:
    none = np.zeros(0)
    return ReceiversCommonMode(
        nodes=(), lowest_nominal=none, highest_nominal=none, lowest=none, highest=none, mean_lowest=none,
        mean_highest=none, mains=none, driver_lowest=(), driver_highest=(), limit_lowest=none, limit_highest=none,
    )  # fmt: skip


def _callers(names: list[str], states: Indices, found: Indices, known: NDArray[np.bool_]) -> tuple[str, ...]:
    """Return who drives in the states that were found."""
    return tuple(names[states[each % len(states)]] if told else "" for each, told in zip(found, known, strict=True))


def _limit(node: Node, field: str, standard: float) -> float:
    stated = getattr(node.transceiver, field)
    return standard if stated is None else float(stated)


def _proved(analyses: Analyses, rows: Indices, drivers: int) -> tuple[Array, Array]:
    """Return proved limits of the lines against the commons, direct current alone."""
    try:
        idle = settled_idle(analyses)
    except OutsideRangeError:
        unknown = np.full(len(rows), np.nan)
        return unknown, unknown
    lower, upper = idle.lines_lower[rows].min(axis=1), idle.lines_upper[rows].max(axis=1)
    if drivers:
        driven = settled_drivers(analyses)
        lower = np.minimum(lower, driven.lines_lower[rows].min(axis=1))
        upper = np.maximum(upper, driven.lines_upper[rows].max(axis=1))
    return lower, upper


def _spans(bus: Bus, network: Network, mains: Mains, rest: Array) -> SpanCurrents:
    where = {
        (network.owners[index], kind): index
        for kind in ("reference", "shield")
        for index in network.branches_of(kind)
    }

    def currents(owner: str, kind: str) -> tuple[float, float]:
        if (owner, kind) not in where:
            return 0.0, 0.0
        return branch_current(network, mains, rest, where[owner, kind])

    rows = []
    for segment in bus.segments:
        owner = f"{segment.start} - {segment.end}"
        reference, shield = currents(owner, "reference"), currents(owner, "shield")
        rows.append(
            SpanCurrent(
                start=segment.start, end=segment.end, reference=reference[0], reference_mains=reference[1],
                shield=shield[0], shield_mains=shield[1],
            )
        )  # fmt: skip
    return SpanCurrents(rows=tuple(rows))


def _links(bus: Bus, network: Network, mains: Mains, rest: Array) -> LinkHeats:
    rows = []
    for index in network.branches_of("common"):
        node = bus.node(network.owners[index])
        assert node.common is not None
        direct, alternating = branch_current(network, mains, rest, int(index))
        heat = (direct**2 + alternating**2) / float(network.branches.conductance[index])
        power = math.nan if node.common.power is None else node.common.power
        rows.append(LinkHeat(node=node.name, current=direct, mains=alternating, heat=heat, power=power))
    return LinkHeats(rows=tuple(rows))


def _barriers(
    analyses: Analyses, network: Network, mains: Mains, rest: Array, islands: tuple[Island, ...]
) -> BarrierVoltages:
    bus = analyses.bus
    missing: list[tuple[str, str]] = []
    rows = []
    number, field = island_by_node(islands), field_sides(bus, network)
    cable = not any(each.cable is not None and each.cable.earth_capacitance is None for each in bus.segments)
    for index, node in enumerate(bus.nodes):
        if node.barrier is None:
            continue
        notes = Notes()
        farads = barrier_capacitance(node, notes)
        capacitance = math.nan if notes.missing else farads
        if node.earth is None:
            missing.append((node.name, "earth (that of its field side)"))
            rows.append(_undescribed(node, capacitance, _leakage(node, capacitance, math.nan, mains.frequency)))
            continue
        island = islands[number[node.name]] if node.name in number else None
        lower, upper, lacking = _limits(analyses, node, index, island)
        missing += [(node.name, each) for each in lacking]
        referenced = island is not None and island.referenced
        common = network.terminals[index, 2]
        loaded = field[index] != network.layout.vertices * network.layout.width
        # an earth that nothing touches stands at its own potential
        unloaded = np.array([1.0 if each.name == node.earth else 0.0 for each in bus.earths])
        response = mains.response[common] - (mains.response[field[index]] if loaded else unloaded)
        alternating = float(mains.magnitude(response))
        estimate = alternating if not mains.missing and cable else math.nan
        held = 0.0 if loaded else _potential(bus, node.earth)
        voltage = float(rest[common] - rest[field[index]]) - held if referenced and not lacking else math.nan
        whole = alternating if referenced and not lacking else math.nan
        rows.append(
            BarrierVoltage(
                node=node.name, earth=node.earth, voltage=voltage, lower=lower, upper=upper, mains=whole,
                peak=max(abs(lower), abs(upper)) + crest_factor(bus) * whole,
                mains_estimate=whole if referenced else estimate, capacitance=capacitance,
                leakage=_leakage(
                    node, capacitance + _bridging(node), whole if referenced else estimate, mains.frequency
                ),
            )
        )  # fmt: skip
    return BarrierVoltages(rows=tuple(rows), missing=tuple(missing))


def _undescribed(node: Node, capacitance: float, leakage: float) -> BarrierVoltage:
    nan = math.nan
    return BarrierVoltage(
        node=node.name, earth="", voltage=nan, lower=nan, upper=nan, mains=nan, peak=nan, mains_estimate=nan,
        capacitance=capacitance, leakage=leakage,
    )  # fmt: skip


def _potential(bus: Bus, earth: str) -> float:
    figure = bus.earth(earth).potential
    return math.nan if figure is None or figure.nominal is None else figure.nominal


def _bridging(node: Node) -> float:
    """Return the capacitances that lead from a node's bus side to its own earth, which bridge its barrier [F]."""
    own = [bond.capacitance for bond in node.bonds if bond.earth == node.earth and bond.capacitance is not None]
    return float(sum(math.nan if each.nominal is None else each.nominal for each in own))


def _leakage(node: Node, capacitance: float, alternating: float, frequency: float) -> float:
    """Return the current through a barrier's capacitance, of the greater of two voltages across it [A]."""
    circuit = node.circuit
    if circuit is None or (circuit.working_voltage_rms is None and circuit.hazard != "touchable"):
        return math.nan
    working = circuit.working_voltage_rms or math.nan
    return float(2.0 * math.pi * frequency * capacitance * np.fmax(alternating, working))


def _limits(
    analyses: Analyses, node: Node, index: int, island: Island | None
) -> tuple[float, float, tuple[str, ...]]:
    """Return limits of the direct voltage across a barrier, and what lacks for its voltages."""
    bus = analyses.bus
    assert node.earth is not None
    own = bus.earth(node.earth)
    bonded = () if island is None else island.earths
    if island is None or not island.referenced:
        # through the inputs of receivers it leaks to wherever the others stand
        part = _parts(bus)
        reach = {each.earth for each in bus.nodes if part[each.name] == part[node.name]}
        spans = [_span(bus.earth(name).potential) for name in reach if name is not None]
        mine = _span(own.potential)
        lower = min((low for low, _ in spans), default=math.nan) - mine[1]
        upper = max((high for _, high in spans), default=math.nan) - mine[0]
        known = not any(math.isnan(low + high) for low, high in spans)
        reason = ("a way of metal from its bus side to an earth",)
        return (lower, upper, reason) if known else (math.nan, math.nan, reason)
    if bonded == (node.earth,):
        # the same earth on both sides: what is not stated of it cancels
        lacking: tuple[str, ...] = ()
    else:
        concerned = [bus.earth(name) for name in dict.fromkeys((*bonded, node.earth))]
        fields = ("potential", "mains_potential")
        lacking = tuple(f'earths["{e.name}"].{name}' for e in concerned for name in fields if getattr(e, name) is None)
    try:
        settled = settled_idle(analyses)
    except OutsideRangeError:
        return math.nan, math.nan, lacking
    lower, upper = float(settled.commons_lower[index]), float(settled.commons_upper[index])
    if node.earth not in earths_used(bus):
        low, high = _span(own.potential)
        lower, upper = lower - high, upper - low
    return (math.nan, math.nan, lacking) if lacking else (lower, upper, lacking)


def _span(figure: MinTypMax | None) -> tuple[float, float]:
    """Return the limits of a figure; NaN where one is not stated."""
    if figure is None or figure.min is None or figure.max is None:
        return math.nan, math.nan
    return figure.min, figure.max
