"""Devices fed over long conductors: the highest solution of a network with constant-power loads, or a proof of none.

A device that draws a constant power P at the voltage v draws P / v. Seen from the devices the conductors are the port
form v = e - R i(v), with no-load voltages e and the drops R[k, j] at device k for a current at device j. Where R has no
negative entry, F(v) = e - R i(v) rises with v in every component, and:

- From e down, v -> F(v) falls to the highest fixed point, or below zero if there is none (Tarski). Every iterate is
  an upper bound of every fixed point.
- f(v) = v - F(v) is convex in every component. Let J = I - R diag(P / v^2), its derivative, at an upper bound v with
  f(v) >= 0. If J has a non-negative inverse, v - J^-1 f(v) is an upper bound again, and lower: for a fixed point w,
  0 = f(w) >= f(v) + J (w - v), hence w <= v - J^-1 f(v). So Newton's steps stay above the highest solution.
- At the highest fixed point w the spectral radius of R diag(P / w^2) is at most 1: otherwise a step up along its
  Perron vector u gives F(w + t u) >= w + t u for a small t, and Tarski a fixed point above w. It rises as v falls. So
  an upper bound v at which it is 1 or more, that is where J has no non-negative inverse, proves that there is none.
- J has no positive entry off its diagonal; such a matrix has a non-negative inverse if and only if x = J^-1 1 exists
  and is positive (Fiedler and Ptak, 1962), so that one more right-hand side tells.
- An upper bound below the least voltage at which a device works proves that it does not work while all the others do.

The highest fixed point falls when e falls, or when R, P or a constant current rises (F falls with them).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rs485kit.solvers.elimination import Floats, Indices
from rs485kit.solvers.nodal import joined_parts

Flags = NDArray[np.bool_]

SETTLED = 1e-12
# rounding may leave this share of the largest transfer resistance below zero
ROUNDING = 1e-9
MOST_STEPS = 100
# at the very edge of collapse the falling of a device takes many plain steps
MOST_PLAIN_STEPS = 2000
MOST_CHORD_STEPS = 60


class Ports(NamedTuple):
    """What conductors and feeding points are to the devices: no-load voltages [V], and drops for currents [ohm]."""

    open_voltage: Floats
    resistance: Floats


class Loads(NamedTuple):
    """What the devices draw, each (n,): constant power [W], constant current [A], conductance [S], and their minimum.

    `minimum` is the voltage below which a device stops; 0 where that is not known [V].
    """

    power: Floats
    current: Floats
    conductance: Floats
    minimum: Floats

    def at(self, voltage: Floats) -> Floats:
        """Return the currents of constant power and constant current at some voltages [A]."""
        return np.divide(self.power, voltage, out=np.zeros_like(voltage), where=self.power > 0) + self.current

    def kept(self, on: Flags) -> "Loads":
        """Return the loads without those of devices that are off; these have no minimum."""
        return Loads(*(np.where(on, figure, 0.0) for figure in self))

    def times(self, factor: float) -> "Loads":
        """Return loads that all draw so many times as much."""
        return Loads(self.power * factor, self.current * factor, self.conductance * factor, self.minimum)


class Solution(NamedTuple):
    """The highest solution; or without one an upper bound of all, and the device that falls short most."""

    voltage: Floats
    exists: bool
    fallen: int


class Settled(NamedTuple):
    """Where a feed comes to rest: voltages [V], and which devices run."""

    voltage: Floats
    running: Flags


def monotone(ports: Ports) -> bool:
    """Return whether no current raises the voltage of a device: what all the proofs rest upon."""
    resistance = ports.resistance
    return not resistance.size or bool(resistance.min() >= -ROUNDING * max(float(resistance.max()), 0.0))


def loaded(ports: Ports, conductance: Floats) -> Ports:
    """Return ports with conductances across the devices folded in.

    Parameters
    ----------
    ports : Ports
        The ports [V, ohm].
    conductance : array, shape (n,)
        Conductance across each device [S].

    Returns
    -------
    Ports
        v = e - R (i + G v) solved for v: (1 + R G)^-1 e and (1 + R G)^-1 R [V, ohm].
    """
    if not conductance.any():
        return ports
    system = np.eye(len(conductance)) + ports.resistance * conductance[None, :]
    solved = np.linalg.solve(system, np.column_stack((ports.open_voltage, ports.resistance)))
    return Ports(np.asarray(solved[:, 0]), np.asarray(solved[:, 1:]))


def highest_solution(ports: Ports, loads: Loads, start: Floats | None = None, *, locate: bool = True) -> Solution:
    """Return the highest solution of a feed with every device on, or a proof that there is none.

    Parameters
    ----------
    ports : Ports
        The conductors as the devices see them, `monotone` [V, ohm].
    loads : Loads
        What the devices draw [-].
    start : array, shape (n,) or None
        An upper bound of every solution with F(start) <= start, such as the solution of lighter loads; None: the
        no-load voltages [V].
    locate : bool
        Whether to tell which device falls first where there is no solution, which may take long at the edge [-].

    Returns
    -------
    Solution
        Voltages; where `exists` is false `fallen` is the device that falls short most [V].
    """
    folded = loaded(ports, loads.conductance)
    voltage = folded.open_voltage.copy() if start is None else np.minimum(start, folded.open_voltage)
    if not len(voltage):
        return Solution(voltage, True, -1)
    scale = max(float(folded.open_voltage.max()), 1e-300)
    for _ in range(MOST_STEPS):
        if _short(voltage, loads):
            return Solution(voltage, False, _shortest(voltage, loads))
        residual = voltage - folded.open_voltage + folded.resistance @ loads.at(voltage)
        jacobian = np.eye(len(voltage)) - folded.resistance * _slope(loads.power, voltage)[None, :]
        step = _step(jacobian, residual)
        if step is None:
            return Solution(voltage, False, _fallen(folded, loads, voltage) if locate else -1)
        voltage = voltage - step
        if float(np.abs(step).max()) <= SETTLED * scale:
            break
    short = _short(voltage, loads)
    return Solution(voltage, not short, _shortest(voltage, loads) if short else -1)


def _slope(power: Floats, voltage: Floats) -> Floats:
    """Return P / v^2, by how much a device draws more as its voltage falls."""
    return np.divide(power, voltage**2, out=np.zeros_like(voltage), where=power > 0)


def _step(jacobian: Floats, residual: Floats) -> Floats | None:
    """Return Newton's step, or None where the Jacobian has no non-negative inverse."""
    try:
        both = np.linalg.solve(jacobian, np.column_stack((residual, np.ones(len(residual)))))
    except np.linalg.LinAlgError:
        return None
    if not np.isfinite(both).all() or (both[:, 1] <= 0.0).any():
        return None
    return np.asarray(both[:, 0])


def _short(voltage: Floats, loads: Loads) -> bool:
    """Return whether some device lies below its minimum, or one that draws below 0 V."""
    draws = (loads.power > 0) | (loads.current > 0)
    short = (loads.minimum > 0) & (voltage < loads.minimum * (1.0 - SETTLED))
    return bool((short | (draws & (voltage <= 0.0))).any())


def _shortest(voltage: Floats, loads: Loads) -> int:
    """Return the device that has least of what it needs; among those without a minimum, least voltage."""
    draws = (loads.power > 0) | (loads.current > 0) | (loads.conductance > 0)
    known = draws & (loads.minimum > 0)
    if known.any():
        share = np.where(known, voltage / np.where(known, loads.minimum, 1.0), np.inf)
        if float(share.min()) < 1.0 or bool(known[draws].all()):
            return int(share.argmin())
    return int(np.where(draws, voltage, np.inf).argmin())


def _fallen(ports: Ports, loads: Loads, voltage: Floats) -> int:
    """Return the device that falls first when the plain iteration goes on from an upper bound without a solution."""
    for _ in range(MOST_PLAIN_STEPS):
        if _short(voltage, loads):
            break
        voltage = np.minimum(voltage, ports.open_voltage - ports.resistance @ loads.at(voltage))
    return _shortest(voltage, loads)


def settled(ports: Ports, loads: Loads, on: Flags | None = None) -> Settled:
    """Return where a feed comes to rest after it was switched on with every device off.

    Parameters
    ----------
    ports : Ports
        The conductors as the devices see them [V, ohm].
    loads : Loads
        What the devices draw [-].
    on : array of bool, shape (n,) or None
        Devices that may run; None: all [-].

    Returns
    -------
    Settled
        Voltages and which devices run [V].

    Notes
    -----
    While there is no solution, or one that leaves a device below its minimum, the device that falls short most is
    taken off and the rest solved again. Which device goes is not decided by the circuit alone: others may come off
    first. That all of them cannot run is proved.
    """
    running = (np.ones(len(loads.power), dtype=np.bool_) if on is None else on.copy()) & (ports.open_voltage > 0.0)
    while True:
        found = highest_solution(ports, loads.kept(running))
        if found.exists:
            return Settled(found.voltage, running)
        running[found.fallen] = False


def settled_each(ports: Ports, loads: Loads, base: Settled, more: Floats) -> tuple[Floats, Flags]:
    """Return where a feed comes to rest with each device in turn drawing more power.

    Parameters
    ----------
    ports : Ports
        The conductors as the devices see them [V, ohm].
    loads : Loads
        What the devices draw [-].
    base : Settled
        Where the feed rests with none of them drawing more [V].
    more : array, shape (n,)
        What each draws more; those with 0 have no state of their own [W].

    Returns
    -------
    tuple of array, shape (states, n)
        Voltages, and which devices run; the first state is the base [V].

    Notes
    -----
    All states step down together from the base, an upper bound of each, with its Jacobian: the chord falls short of
    Newton's step, so that every iterate is an upper bound too. A state that does not settle so is solved alone.
    """
    states = np.flatnonzero((more > 0) & base.running)
    voltages, running = [base.voltage[None]], [base.running[None]]
    if not len(states):
        return voltages[0], running[0]
    own = loads.kept(base.running)
    folded = loaded(ports, own.conductance)
    power = np.repeat(own.power[:, None], len(states), axis=1)
    power[states, np.arange(len(states))] += more[states]
    voltage = np.repeat(base.voltage[:, None], len(states), axis=1)
    jacobian = np.eye(len(own.power)) - folded.resistance * _slope(own.power, base.voltage)[None, :]
    inverse = np.linalg.inv(jacobian)
    scale = float(folded.open_voltage.max())
    moving: Floats = np.full(len(states), np.inf)
    for _ in range(MOST_CHORD_STEPS):
        current = np.divide(power, voltage, out=np.zeros_like(power), where=power > 0) + own.current[:, None]
        step = inverse @ (voltage - folded.open_voltage[:, None] + folded.resistance @ current)
        voltage = np.maximum(voltage - step, 1e-3 * scale)
        moving = np.asarray(np.abs(step).max(axis=0))
        if float(moving.max()) <= SETTLED * scale:
            break
    good: Flags = (moving <= SETTLED * scale) & np.all(voltage >= own.minimum[:, None], axis=0)
    for column, device in enumerate(states):
        if good[column]:
            voltages.append(voltage[None, :, column])
            running.append(base.running[None])
        else:
            heavier = own.power.copy()
            heavier[device] += more[device]
            alone = settled(ports, own._replace(power=heavier), base.running)
            voltages.append(alone.voltage[None])
            running.append(alone.running[None])
    return np.concatenate(voltages), np.concatenate(running)


def load_factor(ports: Ports, loads: Loads) -> float:
    """Return by how much every load may grow before some device stops or the feed collapses.

    Parameters
    ----------
    ports : Ports
        The conductors as the devices see them [V, ohm].
    loads : Loads
        What the devices draw; with `minimum` 0 the factor is that of the collapse itself [-].

    Returns
    -------
    float
        Factor on every power, current and conductance; below 1 where not all of them run, infinite where nothing
        draws [-].

    Notes
    -----
    Bisection between a factor with a solution and one without, each proved by `highest_solution`, to 1e-9.
    """
    if not any(float(figure.max(initial=0.0)) > 0.0 for figure in loads[:3]):
        return float("inf")
    if not (ports.open_voltage > 0).all() or _short(ports.open_voltage, loads):
        return 0.0
    low, high, reached = 0.0, 1.0, ports.open_voltage
    while (found := highest_solution(ports, loads.times(high), reached, locate=False)).exists:
        low, high, reached = high, 2.0 * high, found.voltage
        if high > 1e12:
            return float("inf")
    while high - low > 1e-9 * high:
        middle = low + (high - low) / 2
        found = highest_solution(ports, loads.times(middle), reached, locate=False)
        if found.exists:
            low, reached = middle, found.voltage
        else:
            high = middle
    return low


def lowest_voltages(ports: Ports, loads: Loads) -> Floats:
    """Return what no device falls below whichever of them run, each drawing no more than at its minimum.

    Parameters
    ----------
    ports : Ports
        The conductors as the devices see them [V, ohm].
    loads : Loads
        What the devices draw, without conductances [-].

    Returns
    -------
    array, shape (n,)
        Lower bounds; NaN where a device of constant power has no minimum [V].

    Notes
    -----
    A device that runs has at least its minimum, so that it draws at most c(v) = P / max(v, minimum), one that is off
    draws nothing. From v = e - R c(0) up, v -> e - R c(v) rises and stays below every state of the feed.
    """
    if ((loads.power > 0) & (loads.minimum <= 0)).any():
        return np.full(len(loads.power), np.nan)
    voltage = np.zeros(len(loads.power))
    for _ in range(MOST_PLAIN_STEPS):
        current = loads.at(np.maximum(np.maximum(voltage, loads.minimum), 1e-300))
        before, voltage = voltage, ports.open_voltage - ports.resistance @ current
        if float(np.abs(voltage - before).max(initial=0.0)) <= SETTLED * float(ports.open_voltage.max(initial=1.0)):
            break
    return voltage


class Circuit(NamedTuple):
    """Conductors, feeding points and earth ties: unknowns 0 to size - 1, and -1 the site's reference earth.

    Branches have a conductance [S]. Each EMF stands between two unknowns, `plus` above `minus`, behind an inner
    resistance that may be 0 [V, ohm]. The first `sources` of them are feeding points, which take no current back; the
    others tie the minus to earths.
    """

    size: int
    start: Indices
    end: Indices
    conductance: Floats
    plus: Indices
    minus: Indices
    emf: Floats
    inner: Floats
    sources: int


class Solved(NamedTuple):
    """The linear answer of a circuit: its inverse, and which EMFs are connected."""

    inverse: Floats
    connected: Flags


def inverted(circuit: Circuit, connected: Flags) -> Solved:
    """Return the inverse of the network's equations with some EMFs connected.

    Parameters
    ----------
    circuit : Circuit
        The network [-].
    connected : array of bool
        Which EMFs are connected [-].

    Returns
    -------
    Solved
        For unknowns (potentials, then currents out of the plus of the EMFs) and right-hand sides (injected currents,
        then EMFs) [-].

    Notes
    -----
    Kirchhoff's current law at every unknown, and v_plus - v_minus + r i = e for every EMF. Each part that nothing ties
    to an earth has one of its unknowns at 0 V: a conductance to earth there carries no current.
    """
    size, count = circuit.size, len(circuit.emf)
    matrix = np.zeros((size + count, size + count))
    diagonal = np.arange(size + count)
    np.add.at(matrix, (circuit.start, circuit.start), circuit.conductance)
    np.add.at(matrix, (circuit.end, circuit.end), circuit.conductance)
    np.subtract.at(matrix, (circuit.start, circuit.end), circuit.conductance)
    np.subtract.at(matrix, (circuit.end, circuit.start), circuit.conductance)
    for each in np.flatnonzero(connected):
        row = size + each
        for unknown, sign in ((circuit.plus[each], 1.0), (circuit.minus[each], -1.0)):
            if unknown >= 0:
                matrix[unknown, row] -= sign
                matrix[row, unknown] += sign
        matrix[row, row] = circuit.inner[each]
    off = size + np.flatnonzero(~connected)
    matrix[off, off] = 1.0
    ends = np.where(circuit.minus[connected] < 0, size, circuit.minus[connected])
    first = np.concatenate((circuit.start, circuit.plus[connected]))
    second = np.concatenate((circuit.end, ends))
    part = joined_parts(size + 1, first, second)
    loose = np.flatnonzero((part[:size] == diagonal[:size]) & (part[:size] != part[size]))
    matrix[loose, loose] += 1.0
    return Solved(np.asarray(np.linalg.inv(matrix)), connected)


def port_form(circuit: Circuit, solved: Solved, at: Indices) -> Ports:
    """Return the circuit as its devices see it.

    Parameters
    ----------
    circuit : Circuit
        The network [-].
    solved : Solved
        Its inverse [-].
    at : array of int, shape (n, 2)
        Unknowns of plus and minus of each device [-].

    Returns
    -------
    Ports
        No-load voltages, and drops for currents [V, ohm].
    """
    rows = solved.inverse[at[:, 0]] - solved.inverse[at[:, 1]]
    emf = np.where(solved.connected, circuit.emf, 0.0)
    return Ports(rows[:, circuit.size :] @ emf, rows[:, at[:, 0]] - rows[:, at[:, 1]])


def unknowns_at(circuit: Circuit, solved: Solved, at: Indices, currents: Floats) -> Floats:
    """Return potentials and currents of EMFs for currents that the devices draw.

    Parameters
    ----------
    circuit : Circuit
        The network [-].
    solved : Solved
        Its inverse [-].
    at : array of int, shape (n, 2)
        Unknowns of plus and minus of each device [-].
    currents : array, shape (states, n)
        What the devices draw [A].

    Returns
    -------
    array, shape (states, size + EMFs)
        Potentials, then currents out of the plus of every EMF [V, A].
    """
    right = np.zeros((circuit.size + len(circuit.emf), len(currents)))
    np.subtract.at(right, at[:, 0], currents.T)
    np.add.at(right, at[:, 1], currents.T)
    right[circuit.size :] = np.where(solved.connected, circuit.emf, 0.0)[:, None]
    return np.asarray((solved.inverse @ right).T)
