"""Makes golden/ground.json anew: python tests/oracle/regenerate_ground.py, with the simulator on the path.

For every bus of ground_buses.py, with nobody driving and with each driver at mark, the simulator's operating point and its
answer at 50 Hz are stored: both lines against the common of every node, and every common against its earth.
"""

import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from oracle import simulator
from oracle.ground_buses import BUSES
from oracle.ground_netlist import ground_circuit, ground_netlist
from oracle.regenerate import digest
from rs485kit import Bus

GOLDEN = Path(__file__).parent / "golden" / "ground.json"


def probes(bus: Bus) -> tuple[tuple[str, str], ...]:
    """Return the pairs of nets that are stored: for each node both its lines against its common, then that against earth."""
    earth = {each.name: f"e{k}" for k, each in enumerate(bus.earths)}
    pairs: list[tuple[str, str]] = []
    for k, node in enumerate(bus.nodes):
        first, second = ("n", "p") if node.lines_swapped else ("p", "n")
        pairs += [(f"{first}{k}", f"c{k}"), (f"{second}{k}", f"c{k}"), (f"c{k}", earth[str(node.earth)])]
    return tuple(pairs)


def states(bus: Bus) -> tuple[str, ...]:
    """Return who drives in turn; "" is nobody."""
    return ("", *(node.name for node in bus.nodes))


def simulated(bus: Bus, driver: str) -> dict[str, Any]:
    """Return what the simulator says of a bus, as it is stored."""
    texts = ground_netlist(bus, ground_circuit(bus, driver), probes(bus))
    rest, mains = (simulator.operating_point(text) for text in texts)
    count = len(probes(bus))
    return {
        "sha256": [digest(text) for text in texts],
        "rest": [rest[f"l{k}"] for k in range(count)],
        "mains": [mains[f"l{k}"] for k in range(count)],
    }


def main() -> None:
    """Write the file."""
    content = {
        "about": "lines against commons, and commons against earths, at rest and at 50 Hz, RMS [V]",
        "made_by": "python tests/oracle/regenerate_ground.py",
        "simulator": simulator.version(),
        "buses": {
            name: {driver: simulated(build(), driver) for driver in states(build())} for name, build in BUSES.items()
        },
    }
    GOLDEN.write_text(json.dumps(content, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
