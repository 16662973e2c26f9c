"""Feeding points that take nothing back: which of them give, and where the feed then rests.

A supply with a diode or a converter behind it gives current or is cut off. With some of them cut off the network is
linear again, and `feed` solves it; a point that would take current is cut off, one whose terminals stand below its EMF
is put back, until neither is so. A network that returns to a choice it had before has no answer here.
"""

from typing import NamedTuple

import numpy as np

from rs485kit.solvers.elimination import Floats, Indices
from rs485kit.solvers.feed import (
    Circuit,
    Flags,
    Loads,
    Ports,
    Settled,
    Solved,
    inverted,
    monotone,
    port_form,
    settled,
    settled_each,
    unknowns_at,
)

ROUNDING = 1e-9


class Rest(NamedTuple):
    """A feed at rest: its linear part, and the states of base and of each talker in turn, base first.

    `unknowns` holds potentials, then currents out of every EMF, for each state [V, A]; `current` what each device draws
    [A].
    """

    solved: Solved
    ports: Ports
    base: Settled
    voltage: Floats
    running: Flags
    current: Floats
    unknowns: Floats


def drawn(loads: Loads, voltage: Floats, running: Flags) -> Floats:
    """Return what devices draw in some states.

    Parameters
    ----------
    loads : Loads
        What they draw; power of shape (n,) or (states, n) [-].
    voltage : array, shape (states, n)
        Their voltages [V].
    running : array of bool, shape (states, n)
        Which run [-].

    Returns
    -------
    array, shape (states, n)
        Currents [A].
    """
    on = np.where(running, 1.0, 0.0)
    power = np.divide(loads.power * on, voltage, out=np.zeros_like(voltage), where=running & (voltage > 0))
    return np.asarray(power + on * (loads.current + loads.conductance * voltage))


def rest(circuit: Circuit, at: Indices, loads: Loads, more: Floats) -> Rest | None:
    """Return where a feed comes to rest, and where with each device in turn drawing more power.

    Parameters
    ----------
    circuit : Circuit
        The network [-].
    at : array of int, shape (n, 2)
        Unknowns of plus and minus of each device [-].
    loads : Loads
        What the devices draw [-].
    more : array, shape (n,)
        What each draws more while it talks [W].

    Returns
    -------
    Rest or None
        The states; None where the feeding points change without end, or a current would raise a voltage, so that the
        proofs of `feed` do not hold [-].

    Notes
    -----
    Which points give is settled for the base; it is left so for the talkers, unless one would then take current, for
    which None is returned.
    """
    connected = np.ones(len(circuit.emf), dtype=np.bool_)
    tried: set[bytes] = set()
    while connected.tobytes() not in tried:
        tried.add(connected.tobytes())
        solved = inverted(circuit, connected)
        ports = port_form(circuit, solved, at)
        if not monotone(ports):
            return None
        base = settled(ports, loads)
        current = drawn(loads, base.voltage[None], base.running[None])
        unknowns = unknowns_at(circuit, solved, at, current)
        change = _changed(circuit, connected, unknowns[0])
        if change is None:
            return _with_talkers(circuit, at, loads, more, solved, ports, base)
        connected = change
    return None


def _changed(circuit: Circuit, connected: Flags, unknowns: Floats) -> Flags | None:
    """Return the next choice of feeding points, or None where this one stands."""
    count = circuit.sources
    scale = max(float(np.abs(circuit.emf[:count]).max(initial=0.0)), 1.0)
    current = unknowns[circuit.size : circuit.size + count]
    across = unknowns[circuit.plus[:count]] - unknowns[circuit.minus[:count]]
    taking = np.where(connected[:count], current, 0.0)
    after = connected.copy()
    if count and taking.min() < -ROUNDING * max(float(np.abs(current).max()), 1e-3):
        after[int(taking.argmin())] = False
        return after
    short = np.where(connected[:count], -np.inf, circuit.emf[:count] - across)
    if count and short.max() > ROUNDING * scale:
        after[int(short.argmax())] = True
        return after
    return None


def _with_talkers(
    circuit: Circuit, at: Indices, loads: Loads, more: Floats, solved: Solved, ports: Ports, base: Settled
) -> Rest | None:
    voltage, running = settled_each(ports, loads, base, more)
    states = np.flatnonzero((more > 0) & base.running)
    power = np.repeat(loads.power[None], 1 + len(states), axis=0)
    power[1 + np.arange(len(states)), states] += more[states]
    current = drawn(loads._replace(power=power), voltage, running)
    unknowns = unknowns_at(circuit, solved, at, current)
    if any(_changed(circuit, solved.connected, each) is not None for each in unknowns[1:]):
        return None
    return Rest(solved, ports, base, voltage, running, current, unknowns)
