"""Which formula serves which check of isolation.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
alone. STATED lists what has no recipe, and why.
"""

import isolation_earths
import isolation_parts
from recipe_tools import Recipes

STATED: dict[str, str] = {
    "viowm-viorm-mismatch": "a printed pair that no law ties: neither figure follows from the other",
    "viotm-not-sqrt2-viso": "two printed ratings of one part, whose quotient is no law",
    "withstand-over-working-ratio": "two printed ratings of one part, whose quotient is no law",
    "rod-array-26": "the share is what a handbook measured of its own array",
    "supply-current-slow-part-draws-more": "two printed currents; a part brings its own points",
}
# a limit that is far off, and a network that does not change there with frequency
WITHOUT_EFFECT: dict[str, set[str]] = {
    "leakage-ycap-1nf-10-nodes": {"limit_ma"},
    "touch-network-impedance-dc": {"frequency_hz"},
    "touch-network-impedance-1mhz": {"frequency_hz"},
}

RECIPES = Recipes()
for _room in (isolation_parts, isolation_earths):
    RECIPES.add(_room.RECIPES)
