"""Analyses: one module per question, each a pure function of a bus."""

from rs485kit.analysis.idle import IdleLevel, IdleLevels, idle_levels
from rs485kit.analysis.loading import UnitLoad, UnitLoads, unit_loads

__all__ = ["IdleLevel", "IdleLevels", "UnitLoad", "UnitLoads", "idle_levels", "unit_loads"]
