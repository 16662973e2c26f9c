"""Which formula serves which check of timing.toml.

A recipe takes the inputs of its check as they are printed and gives the expected keys back, through public functions
alone. STATED lists what has no recipe, and why.
"""

import timing_protocols
import timing_samples
import timing_turns
from recipe_tools import Recipes

_LIMITS = "limits that a standard or its guide sets, quoted; nothing computes them"
_RATINGS = "ratings of one part; a part brings its own"

STATED: dict[str, str] = {
    "uart-recommended-error-16x": "what a maker recommends to each end, about half of what its equations leave",
    "uart-recommended-error-8x": "what a maker recommends to each end, about half of what its equations leave",
    "uart-bit-width-window": _RATINGS,
    "modbus-baud-accuracy": _LIMITS,
    "modbus-response-timeout-typical": _LIMITS,
    "modbus-ascii-intercharacter-limit": _LIMITS,
    "modbus-adapter-silent-lengths": "silences of one adapter, which follow no rule: longer than the protocol's, then shorter",
    "mstp-constants-bit-times": _LIMITS,
    "mstp-constants-ms": _LIMITS,
    "mstp-tusage-timeout-ceiling": _LIMITS,
    "mstp-counts": _LIMITS,
    "mstp-open-source-default-reply-timeout": "a default of one program against the standard's limit",
    "dmx-limits-e111": _LIMITS,
    "rdm-responder-window": _LIMITS,
    "rdm-controller-timing": _LIMITS,
    "rdm-break-mark": _LIMITS,
    "rdm-lost-response-erratum": "a slip of print: no law ties what was printed to what was meant",
    "rdm-inline-turnaround": _LIMITS,
    "profibus-default-parameters": _LIMITS,
    "profibus-response-times-published": "two straight lines that one maker fitted to its own devices",
    "isolated-field-bus-driver-times": _RATINGS,
    "isolated-receiver-times": _RATINGS,
    "five-megabit-enable-disable": _RATINGS,
    "twelve-megabit-driver-times": _RATINGS,
    "slow-receiver-times": _RATINGS,
    "opto-50mbd-limits": _RATINGS,
    "sd-one-shot-second-table": "holds of one converter, chosen by its maker and by no law of its data rates",
    "driver-release-rule-example": _RATINGS,
    "encoder-link-compensated": _RATINGS,
    "rise-time-30pct-rule": _LIMITS,
    "rs422-edge-limit-at-load": _LIMITS,
    "j1708-physical": _LIMITS,
    "osdp-timing": _LIMITS,
    "rs485-contention-not-visible": "recalled thresholds beside a symmetry argument; nothing rests on it",
    "multi-master-echo-default": "a property of a kind of part, no figure",
    "shutdown-enable-penalty": "recalled orders of magnitude; a part brings its own",
}
# what cancels or counts for nothing there: the cable in a safe reply delay, any edge under even thresholds, a limit that
# is far off, and inputs below the digits that the source prints
WITHOUT_EFFECT: dict[str, set[str]] = {
    "receiver-threshold-pwd-symmetric-hysteresis": {"swing_peak_v", "rise_10_90_ns"},
    "receiver-threshold-pwd-vs-inline-limit": {"limit_ns"},
    "uart-common-delay-cancels": {"baud_bps"},
    "modbus-converter-hold-conflict": {"baud_bps"},
    "dmx-full-packet-1990": {"mark_after_break_us"},
    "dmx-retimed-packet": {"mark_after_break_us"},
    "profibus-idle-times": {"min_tsdr_bits"},
    "profibus-idle-times-exported-1500k": {"min_tsdr_bits"},
    "turnaround-min-reply-delay": {"cable_m"},
}

RECIPES = Recipes()
for _room in (timing_samples, timing_protocols, timing_turns):
    RECIPES.add(_room.RECIPES)
