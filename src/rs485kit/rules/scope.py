"""What no rule of this version looks at: a report says it before its verdict."""

NOT_CHECKED = (
    "driven levels: whether every driver reaches every receiver with enough voltage, within its load and current",
    "tolerances: idle levels are judged at nominal values with the adverse common mode, not yet over all tolerances",
    "termination: which ends are terminated, reflections, and heat in resistors",
    "signals in time: edges, stubs, reflections, eye openings",
    "common mode and grounds: earth differences at receivers and barriers, bonds, loops, shields",
    "insulation: withstand, working voltage, clearance, creepage, altitude, transients, surges",
    "timing: bit timing, turnaround, collisions, poll cycle",
    "power: isolated supplies, devices fed over the cable, heat",
    "thermal, flammability, single-fault and product-standard requirements of any part",
)

CAUTION = (
    "This report says which requirements were checked and which were met; it does not say that an installation is safe. "
    "Mains, lightning and faults can put dangerous voltages on field wiring. Local codes, the product standards and "
    "licensed practice decide."
)
