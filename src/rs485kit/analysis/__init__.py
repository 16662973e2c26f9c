"""Analyses: one module per question, each a pure function of a bus."""

from rs485kit.analysis.drive import DrivenLevel, DrivenLevels, driven_levels
from rs485kit.analysis.idle import IdleLevel, IdleLevels, idle_levels
from rs485kit.analysis.loading import UnitLoad, UnitLoads, unit_loads

__all__ = [
    "DrivenLevel",
    "DrivenLevels",
    "IdleLevel",
    "IdleLevels",
    "UnitLoad",
    "UnitLoads",
    "driven_levels",
    "idle_levels",
    "unit_loads",
]
