"""From a bus to arrays for the solvers: unknowns, branches and sources of its conductors."""

from rs485kit.network.assembly import Network, idle_network

__all__ = ["Network", "idle_network"]
