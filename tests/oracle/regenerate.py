"""Makes golden/idle.json anew: python tests/oracle/regenerate.py, with the simulator on the path.

For every bus of buses.py, and for either way of taking supplies that are down (one where none is), the simulator's
operating point is stored: the voltage across each transceiver's own lines, and of its noninverting line against its own common where
something ties that down. The hash says to which netlist it belongs. `datum_effect` is the largest change of any of
them when the resistor that gives each floating island its datum is a thousand times smaller.
"""

import hashlib
import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from oracle import simulator
from oracle.buses import BUSES
from oracle.netlist import DATUM_RESISTANCE, circuit, netlist
from rs485kit import Bus

GOLDEN = Path(__file__).parent / "golden" / "idle.json"


def listening(bus: Bus) -> tuple[str, ...]:
    """Return the nodes whose voltages are stored."""
    return tuple(node.name for node in bus.nodes if node.transceiver is not None)


def text_of(bus: Bus, rails: str, *, datum_ohms: float = DATUM_RESISTANCE) -> str:
    """Return the netlist of a bus."""
    return netlist(bus.name, circuit(bus, rails=rails), listening(bus), datum_ohms=datum_ohms)


def variants(bus: Bus) -> tuple[str, ...]:
    """Return how supplies that are down are to be taken: one way where none is."""
    return ("open",) if text_of(bus, "open") == text_of(bus, "low") else ("open", "low")


def digest(text: str) -> str:
    """Return the hash by which a stored result names its netlist."""
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def simulated(bus: Bus, rails: str) -> dict[str, Any]:
    """Return what the simulator says of a bus, as it is stored."""
    text = text_of(bus, rails)
    found = simulator.operating_point(text)
    again = simulator.operating_point(text_of(bus, rails, datum_ohms=DATUM_RESISTANCE / 1e3))
    names = listening(bus)
    return {
        "sha256": digest(text),
        "datum_effect": max(abs(found[name] - again[name]) for name in found),
        "difference": {name: found[f"d{k}"] for k, name in enumerate(names)},
        "line": {name: found[f"l{k}"] for k, name in enumerate(names) if f"l{k}" in found},
    }


def main() -> None:
    """Write the file."""
    content = {
        "about": "operating points of idle buses [V]",
        "made_by": "python tests/oracle/regenerate.py",
        "simulator": simulator.version(),
        "buses": {
            name: {
                "largest_source": circuit(build(), rails="open").largest_source,
                "rails": {rails: simulated(build(), rails) for rails in variants(build())},
            }
            for name, build in BUSES.items()
        },
    }
    GOLDEN.write_text(json.dumps(content, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
