"""The district's register of surge tests: what no datasheet says of a part in the district's own housing.

The figures are invented for this example.
"""

SURGE_WITHSTAND = {
    "canal.outdoor-gate": 4000.0,
    "canal.indoor-desk": 500.0,
}
"""Surge that a node with this transceiver has withstood between line and earth, by name of the part [V]."""
