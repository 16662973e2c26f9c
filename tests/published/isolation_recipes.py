"""Which formula serves which check of isolation.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
alone. STATED lists what has no recipe, and why.
"""

import isolation_earths
import isolation_parts
import isolation_tables
from recipe_tools import Recipes

_PARTS = "figures of parts; what follows from them stands in checks of its own"

STATED: dict[str, str] = {
    "viowm-viorm-mismatch": "a printed pair that no law ties: neither figure follows from the other",
    "viotm-not-sqrt2-viso": "two printed ratings of one part, whose quotient is no law",
    "withstand-over-working-ratio": "two printed ratings of one part, whose quotient is no law",
    "supply-current-slow-part-draws-more": "two printed currents; a part brings its own points",
    "table-isolator-ratings": _PARTS,
    "table-barrier-capacitance": _PARTS,
    "table-isolated-transceiver-supply-current": _PARTS,
}
# a limit that is far off, and a network that does not change there with frequency
WITHOUT_EFFECT: dict[str, set[str]] = {
    "leakage-ycap-1nf-10-nodes": {"limit_ma"},
    "touch-network-impedance-dc": {"frequency_hz"},
    "touch-network-impedance-1mhz": {"frequency_hz"},
}

RECIPES = Recipes()
for _room in (isolation_parts, isolation_earths, isolation_tables):
    RECIPES.add(_room.RECIPES)
