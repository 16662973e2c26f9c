"""House rules and stock parts of a drainage district, as a plugin of rs485kit."""

import rs485kit as rk
from canal_rules.rules import RULES

plugin = rk.Plugin(api=1, rules=RULES)
