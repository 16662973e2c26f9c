"""What no rule of this version looks at: a report says it before its verdict."""

NOT_CHECKED = (
    "signals in time at any but nominal figures; crosstalk, the first bit of a driver, the speed of receivers",
    "signals in common mode, and difference mode that turns into it",
    "transients and surges beyond the parts' own ratings: how they couple, what protectors let through",
    "timing: levels while two drivers overlap, synchronous and multiple-of-baud codings, programs beyond their delays",
    "power: heat in resistors without a stated rating, fuses beyond their rated current, how converters start together",
    "thermal, flammability, single-fault and product-standard requirements of any part",
)

CAUTION = (
    "This report says which requirements were checked and which were met; it does not say that an installation is "
    "safe. Mains, lightning and faults can put dangerous voltages on field wiring. Local codes, the product standards "
    "and licensed practice decide."
)
