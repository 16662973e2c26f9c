"""Which formula serves which check of line.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
alone. Waves in time are Fourier series over those functions (line_waves.py); the solvers have no part in any figure
here. STATED lists what has no recipe, and why.
"""

import line_copper
import line_pairs
import line_reflections
import line_time
from recipe_tools import Recipes

_CABLE = "printed data of a cable or demands on one; a formula takes such figures and does not give them"
_OTHER_BUS = "figures of another bus or physical layer, shown for contrast; nothing here uses them"

STATED: dict[str, str] = {
    "pic-24awg-primary-constants": "measured constants of a cable; pic-24awg-secondary and others compute with them",
    "bt-telephone-pair-loss-800hz": "lies up to 19 % under the RC line, one row more than the others; capacitance and "
    "inductance of these pairs are not printed",
    "cat5-delay-skew": "a limit of skew that follows from nothing; its delay is that of class-d-delay at 100 MHz",
    "cat5-misc-limits": _CABLE,
    "profibus-dp-cable": _CABLE,
    "profibus-attenuation-budget": _CABLE,
    "iec61158-2-mbp-cable": _OTHER_BUS,
    "can-cable": _OTHER_BUS,
    "can-standard-limits": _OTHER_BUS,
    "can-length-stub": _OTHER_BUS,
    "rs485-cable-asks": _CABLE,
    "bacnet-mstp-cable": _CABLE,
    "modbus-trunk": "a guide that allows the trunk at 19.2 kbit/s where the protocol's own text, from which the limits "
    "here come, is recalled with 9.6",
    "tia422-curve-basis": "the premises of a drawn curve; tia422-loss-consistency computes with them",
    "jitter-budget-quoted": "budgets that two documents choose",
}

# Inputs that must not change the figure: a ramp that is over long before, a conductance that hardly counts, and a source
# without resistance, of which a hundredth of an ohm changes less than the volts that are cut off.
WITHOUT_EFFECT: dict[str, set[str]] = {
    "model-against-table-24awg-alpha": {"g_us_per_km"},
    "lattice-120v-30-90": {"r_source_ohm"},
    "lattice-120v-30-10": {"r_source_ohm"},
    "step-rlc-100m": {"ramp_ns"},
    "step-rlgc-100m": {"ramp_ns"},
    "step-constant-r-line-100m": {"ramp_ns"},
}

RECIPES = Recipes()
for part in (line_copper, line_pairs, line_reflections, line_time):
    RECIPES.add(part.RECIPES)
