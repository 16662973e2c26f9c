"""The load of every driver: the resistance that the bus shows to it, and the current that it gives."""

import math
from typing import NamedTuple

import numpy as np

from rs485kit.analysis.results import Missing
from rs485kit.analysis.termination_tables import DriverLoads, LimitsOfAll, PeakOfAll
from rs485kit.errors import MissingDataError
from rs485kit.formulas.limits import TEST_LOAD
from rs485kit.model import Bus
from rs485kit.network import Network, idle_network
from rs485kit.network.assembly import rail_variants
from rs485kit.network.driving import Driver
from rs485kit.network.loads import drivers_of, idle_limits, line_pairs, load_of_drivers, nominal_states
from rs485kit.solvers.bounds import Interval


class Electric(NamedTuple):
    """A bus as far as it is stated: its network for each way in which supplies that are down may stand, or none.

    `lacking` names what the bus does not state, without which there is no network, `unstated` the limits that bounds
    lack. `idle` holds proved limits of the idle voltage of the bus at each node.
    """

    bus: Bus
    networks: tuple[Network, ...]
    drivers: tuple[Driver, ...]
    idle: Interval
    lacking: tuple[str, ...]
    unstated: tuple[str, ...]


def electric(bus: Bus) -> Electric:
    """Return the network of a bus as far as it is stated.

    Parameters
    ----------
    bus : Bus
        The bus [-].

    Returns
    -------
    Electric
        The network, the drivers, and what is lacking [-].
    """
    drivers = drivers_of(bus)
    try:
        networks = tuple(idle_network(bus, rails=rails) for rails in rail_variants(bus))
    except MissingDataError as error:
        unknown = np.full(len(bus.nodes), math.nan)
        return Electric(bus, (), drivers, Interval(unknown, unknown), error.missing, ())
    idle, outside = idle_limits(networks, bus.nodes)
    beyond = tuple(f'input current of "{name}" beyond -7 V .. +12 V' for name in outside)
    return Electric(bus, networks, drivers, idle, (), (*networks[0].unstated, *beyond))


def driver_loads(given: Electric) -> DriverLoads:
    """Return what every driver has to drive.

    Parameters
    ----------
    given : Electric
        The network [-].

    Returns
    -------
    DriverLoads
        Rows per driver [ohm, A].
    """
    nodes = [given.bus.nodes[driver.vertex] for driver in given.drivers]
    resistance = _loads(given)
    current = _currents(given, resistance)
    parts = [node.transceiver for node in nodes if node.transceiver is not None]
    return DriverLoads(
        nodes=tuple(node.name for node in nodes),
        resistance=resistance,
        driver_least_load=[part.driver_least_load or TEST_LOAD for part in parts],
        current=current,
        driver_current=[math.nan if part.driver_current is None else part.driver_current for part in parts],
        missing=undriven(given),
        unstated=given.lacking + given.unstated,
    )


def _loads(given: Electric) -> LimitsOfAll:
    """Return the load of each driver; nominally the heaviest that supplies that are down may make of it."""
    if not given.networks or not given.drivers:
        nothing = np.full(len(given.drivers), math.nan)
        return LimitsOfAll(lower=nothing, nominal=nothing, upper=nothing)
    found = [load_of_drivers(network, given.bus.nodes, given.drivers) for network in given.networks]
    return LimitsOfAll(
        lower=np.min([each.lower for each in found], axis=0),
        nominal=np.min([each.nominal for each in found], axis=0),
        upper=np.max([each.upper for each in found], axis=0),
    )


def _currents(given: Electric, load: LimitsOfAll) -> PeakOfAll:
    """Return the nominal output current of each driver against the idle voltage, and what it cannot pass."""
    vertices = [driver.vertex for driver in given.drivers]
    if not given.networks or not vertices:
        return PeakOfAll(nominal=load.nominal, upper=load.nominal)
    across: list[int | None] = [None] * len(vertices)
    states = [nominal_states(network, line_pairs(network, vertices, across), ()) for network in given.networks]
    standing = np.max([np.abs(each[0]) for each in states], axis=0)
    highest = np.maximum(np.abs(given.idle.lower), np.abs(given.idle.upper))[vertices]
    source, resistance, upper = np.array([(each.source, each.resistance, each.upper) for each in given.drivers]).T
    return PeakOfAll(nominal=(source + standing) / (resistance + load.nominal), upper=(upper + highest) / load.lower)


def undriven(given: Electric) -> Missing:
    """Return the figures of drivers that are not stated.

    Parameters
    ----------
    given : Electric
        The network and its drivers [-].

    Returns
    -------
    tuple
        Names of nodes with what their transceivers lack [-].
    """
    missing = []
    for driver in given.drivers:
        name = given.bus.nodes[driver.vertex].name
        if math.isnan(driver.source):
            missing.append((name, "transceiver.driver_open_voltage (its typical value)"))
        elif math.isnan(driver.resistance):
            missing.append((name, "transceiver.driver_loaded_voltage (its typical value, at most the open voltage)"))
        if math.isnan(driver.upper):
            missing.append((name, "transceiver.driver_open_voltage (its max)"))
    return tuple(missing)
