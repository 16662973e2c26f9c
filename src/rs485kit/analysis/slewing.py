"""Transients: slew against what data paths bear, the current through every barrier and where it returns, surges."""

import math
from collections.abc import Iterator

import attrs
import numpy as np
from typing_extensions import override

from rs485kit import formulas
from rs485kit.analysis.barrier_parts import BarrierFigures, barrier_figures
from rs485kit.analysis.grounding_tables import Listed
from rs485kit.analysis.results import Array, Missing, unit
from rs485kit.formulas.immunity_levels import BURST_RISE_TIME
from rs485kit.memo import Analyses, as_analysis
from rs485kit.model import Bus, Node
from rs485kit.model.base import Viewed
from rs485kit.network.assembly import Network, idle_network
from rs485kit.network.galvanic import Island, islands_of
from rs485kit.solvers.nodal import potentials


@attrs.frozen(kw_only=True)
class BarrierTransient(Viewed):
    """What transients do at one barrier.

    Parameters
    ----------
    node : str
        Name of the node [-].
    slew : float
        Fastest change across it that is described: of its circuit, or of the bursts that the bus has to work through;
        0 where none is [V/s].
    slew_cause : str
        "circuit" or "burst"; "" is none [-].
    estimated : bool
        Whether that slew is an upper estimate: a burst's whole open-circuit voltage across the barrier [-].
    communicates : float
        Slew through which every data path still communicates; NaN: not stated [V/s].
    holds : float
        Slew through which every data path holds its state; NaN: not stated [V/s].
    capacitance : float
        All that is across the barrier; NaN: not stated [F].
    current : float
        Displacement current at that slew, peak [A].
    supply_share : float
        Share of it that the supply carries [-].
    returns : str
        Earth to which the current returns by metal from the bus side; "" is none: it charges the bus [-].
    reference_rise : float
        How far the common of this node rises while the currents of all barriers flow at once, by the resistance of the
        reference conductor and the bond; NaN where nothing returns them [V].
    surge : float
        Greatest surge that it has to survive: of the line, or the rise of its earth by lightning; 0: none is declared,
        NaN: not known [V].
    surge_cause : str
        "surge", or "lightning at" and the name of the earth; "" is none [-].
    surge_rating : float
        Least surge voltage of what bridges it; NaN: not stated [V].
    """

    node: str
    slew: float = attrs.field(metadata=unit("V/s"))
    slew_cause: str
    estimated: bool
    communicates: float = attrs.field(metadata=unit("V/s"))
    holds: float = attrs.field(metadata=unit("V/s"))
    capacitance: float = attrs.field(metadata=unit("F"))
    current: float = attrs.field(metadata=unit("A"))
    supply_share: float
    returns: str
    reference_rise: float = attrs.field(metadata=unit("V"))
    surge: float = attrs.field(metadata=unit("V"))
    surge_cause: str
    surge_rating: float = attrs.field(metadata=unit("V"))


@attrs.frozen(kw_only=True)
class ProtectorSurge(Viewed):
    """The prospective surge current of one protector.

    Parameters
    ----------
    node : str
        Name of the node [-].
    protector : str
        Name of the part [-].
    ends : str
        Between what it stands [-].
    current : float
        Prospective current of the declared surge, all of it through this one [A].
    rated : float
        What one element takes; NaN: not stated [A].
    """

    node: str
    protector: str
    ends: str
    current: float = attrs.field(metadata=unit("A"))
    rated: float = attrs.field(metadata=unit("A"))


@attrs.frozen(kw_only=True, eq=False)
class TransientTable(Listed[BarrierTransient]):
    """What transients do at every barrier and protector.

    Parameters
    ----------
    rows : tuple of BarrierTransient
        The barriers, in bus order [-].
    protectors : tuple of ProtectorSurge
        The protectors of nodes, where a surge is declared [-].
    total_current : float
        Displacement currents of all barriers at once, peak [A].
    missing : tuple
        Rows that lack a figure, with its name [-].
    """

    rows: tuple[BarrierTransient, ...]
    protectors: tuple[ProtectorSurge, ...] = ()
    total_current: float = attrs.field(default=0.0, metadata=unit("A"))
    missing: Missing = ()

    @override
    def _magnitude(self, row: BarrierTransient) -> float:
        return row.slew / row.communicates if row.slew else 0.0


@as_analysis()
def transient_immunity(analyses: Analyses) -> TransientTable:
    """Return what fast changes and surges between the two sides do at every barrier.

    Parameters
    ----------
    analyses : Bus or Analyses
        The bus [-].

    Returns
    -------
    TransientTable
        Slew, displacement current, rise of the reference and surge of every barrier [V/s, A, V].

    Raises
    ------
    MissingDataError
        If the bus does not state a figure that the network of the reference depends on.

    Notes
    -----
    I = C dV/dt through all that bridges a barrier, most of it through the supply. It returns through the reference
    conductor and the bond of the section, and all barriers at once raise the reference by the resistances on the way;
    what inductance adds is left out, so the rise is a lower estimate for pulses of nanoseconds. A section without a
    bond returns nothing: the currents charge the bus as a whole.

    A burst (IEC 61000-4-4) has a voltage and a rise time of 5 ns and no coupling to a barrier of its own: the whole
    voltage across it is an upper estimate. A figure at which a part communicates and one at which it only holds its
    state differ, and neither is taken for the other.

    A surge is the declared one, or I R of the lightning current into the earth of the field side or into one to which
    the bus side is bonded; where both sides stand on that earth alone they rise together. Through a protector
    flows at the most V over the 42 ohm of generator and coupling to a signal line.

    References
    ----------
    IEC 61000-4-4 and 61000-4-5: levels, rise time and impedances as papers and design notes print them; ground
    potential rise: Ohm's law, see `formulas.ground_potential_rise`.

    Examples
    --------
    >>> import rs485kit as rk
    >>> barrier = rk.Barrier(
    ...     isolator=rk.Isolator(name="data", capacitance="1 pF", transient_immunity="50 kV/us"),
    ...     supply=rk.IsolatedSupply(name="module", capacitance="40 pF"),
    ... )
    >>> drive = rk.Circuit(hazard="hazardous", slew="25 kV/us")
    >>> bus = rk.Bus(nodes=rk.Node(name="gate", barrier=barrier, circuit=drive))
    >>> row = rk.analysis.transient_immunity(bus).at("gate")
    >>> print(f"{row.current:.3f} A, {100 * row.supply_share:.1f} % of it through the supply")
    1.025 A, 97.6 % of it through the supply
    """
    bus = analyses.bus
    missing: list[tuple[str, str]] = []
    nodes = [node for node in bus.nodes if node.barrier is not None]
    islands = islands_of(bus)
    rows = [_row(bus, node, islands, missing) for node in nodes]
    currents = {row.node: row.current for row in rows}
    rises = _rises(bus, islands, currents)
    back = _returns(islands)
    rows = [
        attrs.evolve(row, returns=back.get(row.node, ""), reference_rise=rises.get(row.node, math.nan)) for row in rows
    ]
    return TransientTable(
        rows=tuple(rows), protectors=tuple(_protectors(bus)), total_current=sum(currents.values()),
        missing=tuple(missing),
    )  # fmt: skip


def _row(
    bus: Bus, node: Node, islands: tuple[Island, ...], missing: list[tuple[str, str]]
) -> BarrierTransient:
    assert node.barrier is not None
    figures = barrier_figures(node.barrier)
    slew, cause, estimated = _slew(bus, node)
    capacitance, share = figures.capacitance, figures.supply_share
    if slew:
        missing += [
            (node.name, f"barrier.{place}.{name}") for name, place in figures.missing
            if name in ("transient_immunity", "transient_immunity_static", "capacitance")
        ]  # fmt: skip
    surge, from_where = _surge(bus, node, islands, missing)
    if surge and math.isnan(figures.surge_voltage_peak):
        missing += [
            (node.name, f"barrier.{place}.{name}") for name, place in figures.missing if name == "surge_voltage_peak"
        ]  # fmt: skip
    return BarrierTransient(
        node=node.name, slew=slew, slew_cause=cause, estimated=estimated, communicates=figures.transient_immunity,
        holds=_holds(figures), capacitance=capacitance, current=slew * capacitance if slew else 0.0, supply_share=share,
        returns="", reference_rise=math.nan, surge=surge, surge_cause=from_where,
        surge_rating=figures.surge_voltage_peak,
    )  # fmt: skip


def _holds(figures: BarrierFigures) -> float:
    """Return the slew at which every data path holds its state; what communicates holds it too."""
    if math.isnan(figures.transient_immunity_static):
        return figures.transient_immunity
    return figures.transient_immunity_static


def _slew(bus: Bus, node: Node) -> tuple[float, str, bool]:
    site = bus.environment
    of_circuit = 0.0 if node.circuit is None or node.circuit.slew is None else node.circuit.slew
    burst = 0.0 if site is None or not site.burst_voltage_peak else site.burst_voltage_peak
    of_burst = float(formulas.slew_rate(burst, BURST_RISE_TIME)) if burst else 0.0
    if of_circuit == of_burst == 0.0:
        return 0.0, "", False
    return (of_burst, "burst", True) if of_burst > of_circuit else (of_circuit, "circuit", False)


def _surge(
    bus: Bus, node: Node, islands: tuple[Island, ...], missing: list[tuple[str, str]]
) -> tuple[float, str]:
    site = bus.environment
    found = 0.0 if site is None or not site.surge_voltage_peak else site.surge_voltage_peak
    cause = "surge" if found else ""
    bonded = {name for island in islands if node.name in island.nodes for name in island.earths}
    for earth in bus.earths:
        # what stands on one earth on both sides rises together
        sides = (earth.name == node.earth, bonded == {earth.name}, earth.name in bonded)
        if not earth.lightning_current or not (sides[0] or sides[2]) or (sides[0] and sides[1]):
            continue
        at = f"lightning at {earth.name}"
        ohms = None if earth.resistance is None else earth.resistance.max
        if ohms is None:
            missing.append((node.name, f'earths["{earth.name}"].resistance (its max)'))
            return math.nan, at
        rise = float(formulas.ground_potential_rise(earth.lightning_current, ohms)) if ohms else 0.0
        if rise > found:
            found, cause = rise, at
    return found, cause


def _protectors(bus: Bus) -> Iterator[ProtectorSurge]:
    site = bus.environment
    if site is None or not site.surge_voltage_peak:
        return
    current = float(formulas.surge_current(site.surge_voltage_peak, "signal line"))
    for node in bus.nodes:
        for part in node.protectors:
            rated = math.nan if part.surge_current is None else part.surge_current
            yield ProtectorSurge(node=node.name, protector=part.name, ends=part.ends, current=current, rated=rated)


def _returns(islands: tuple[Island, ...]) -> dict[str, str]:
    """Return the first earth to which metal leads from the bus side of each node."""
    return {name: island.earths[0] for island in islands if island.earths for name in island.nodes}


def _rises(bus: Bus, islands: tuple[Island, ...], currents: dict[str, float]) -> dict[str, float]:
    """Return how far the commons rise while the currents of all barriers flow into them at once."""
    referenced = {name for island in islands if island.referenced for name in island.nodes}
    told = {name: each for name, each in currents.items() if name in referenced}
    if not any(told.values()):
        return {}
    if any(math.isnan(each) for each in told.values()):
        return {}
    network = idle_network(bus)
    injected = np.zeros((network.layout.size, 1))
    place = {node.name: index for index, node in enumerate(bus.nodes)}
    for name, current in told.items():
        injected[network.terminals[place[name], 2], 0] += current
    solved = _grounded(network, injected)
    return {name: float(solved[network.terminals[place[name], 2]]) for name in told}


def _grounded(network: Network, injected: Array) -> Array:
    """Return the potentials with every earth and source at nothing."""
    given = np.zeros((len(network.fixed), 1))
    return potentials(network.layout, network.branches, injected, network.fixed, given)[:, 0]
