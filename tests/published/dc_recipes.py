"""Which formula serves which check of dc.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
and named limits alone; the factors 1e3, 1e-3 and the like only move between SI units and the unit of a key. `hold` is
for inputs that a limit of ours already states: it fails if the two ever part. STATED lists what has no recipe, and why.
"""

import dc_bias
import dc_limits
import dc_line
import dc_power
from recipe_tools import Recipes

_PART = "a figure of one part's datasheet, which no formula gives"
_CABLE = "printed data of a cable or demands on one; a formula takes such figures and does not give them"
_TABLE = "a printed table or point of length against rate that follows no equation"

STATED: dict[str, str] = {
    "tia422-limits": "limits of another standard, for contrast; nothing here uses them",
    "failsafe-receiver-threshold": _PART,
    "polarity-modbus-names": "a convention of names; the library names lines by what they do and uses no letters",
    "termination-ac-modbus": "values and ratings of parts that a guide shows; termination-ac-modbus-time computes with them",
    "cable-belden-9841": _CABLE,
    "cable-profibus-a": _CABLE,
    "cable-bacnet-mstp": _CABLE,
    "length-profibus-a": _TABLE,
    "length-profibus-b": _TABLE,
    "length-rs422-three-points": _TABLE,
    "length-eia422-curve-basis": "the premises of a drawn curve whose ordinates were not seen",
    "power-isolated-icc2-5v": _PART,
    "power-isolated-icc2-3v3": _PART,
    "cm-extended-part": _PART,
}

# Inputs that must not change the figure, which is what their check is about.
WITHOUT_EFFECT: dict[str, set[str]] = {"bias-rdm-562-133-32-ul": {"source_v"}}

RECIPES = Recipes()
for part in (dc_limits, dc_bias, dc_line, dc_power):
    RECIPES.add(part.RECIPES)
