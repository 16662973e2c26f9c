"""Analyses: one module per question, each a pure function of a bus."""

from rs485kit.analysis.drive import DrivenLevel, DrivenLevels, driven_levels
from rs485kit.analysis.idle import IdleLevel, IdleLevels, idle_levels
from rs485kit.analysis.loading import UnitLoad, UnitLoads, unit_loads
from rs485kit.analysis.termination import terminations
from rs485kit.analysis.termination_tables import (
    DriverLoad,
    DriverLoads,
    FittedPlace,
    FittedPlaces,
    ResistorHeat,
    ResistorHeats,
    Terminations,
)

__all__ = [
    "DrivenLevel",
    "DrivenLevels",
    "DriverLoad",
    "DriverLoads",
    "FittedPlace",
    "FittedPlaces",
    "IdleLevel",
    "IdleLevels",
    "ResistorHeat",
    "ResistorHeats",
    "Terminations",
    "UnitLoad",
    "UnitLoads",
    "driven_levels",
    "idle_levels",
    "terminations",
    "unit_loads",
]
