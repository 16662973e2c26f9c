"""Makes golden/handovers.json anew, with the simulator on the path.

    python tests/oracle/regenerate_handovers.py

For every case of handover_netlist.py the least and the greatest voltage at the receivers within one switching time of each
of LOOKS times is stored. The hash says to which netlist they belong. Whether the simulator's steps matter is asked by the live
test, which takes twice as long ones: the height of a spike of an abrupt switch depends on them, what is compared does not.
"""

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from oracle import simulator
from oracle.handover_netlist import CASES, LOOKS, REST, STEPS, SWITCHING, Handover, netlist
from oracle.line_simulator import waveforms
from oracle.regenerate_lines import digest

GOLDEN = Path(__file__).parent / "golden" / "handovers.json"


def said(title: str, case: Handover, *, steps: int = STEPS) -> np.ndarray:
    """Return the least and the greatest voltages that the simulator says, shape (2, receivers, LOOKS)."""
    seen, volts = waveforms(netlist(title, case, steps=steps), len(case.receivers))
    result = np.empty((2, len(case.receivers), LOOKS))
    for look in range(LOOKS):
        ends = REST + look * case.duration / LOOKS + np.array([-SWITCHING, SWITCHING])
        near = volts[:, slice(*np.searchsorted(seen, ends))]
        edges = np.array([np.interp(ends, seen, row) for row in volts])
        together = np.concatenate((near, edges), axis=1)
        result[:, :, look] = together.min(axis=1), together.max(axis=1)
    return result


def main() -> None:
    """Write the file."""
    cases: dict[str, Any] = {}
    for title, case in CASES.items():
        found = said(title, case, steps=2 * STEPS)
        cases[title] = {
            "sha256": digest(netlist(title, case)),
            "lowest": [[float(f"{value:.4f}") for value in row] for row in found[0]],
            "highest": [[float(f"{value:.4f}") for value in row] for row in found[1]],
        }
    content = {
        "about": "handovers between two drivers: least and greatest voltages at receivers about each time [V]",
        "made_by": "python tests/oracle/regenerate_handovers.py",
        "simulator": simulator.version(),
        "cases": cases,
    }
    GOLDEN.write_text(json.dumps(content, separators=(",", ":")).replace("],", "],\n") + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
