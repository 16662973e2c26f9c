"""Makes golden/lines.json anew, with the simulator on the path and scikit-rf installed beside the library.

    python tests/oracle/regenerate_lines.py

For every case of line_networks.py two things are stored: SAMPLES points of each waveform at the receivers from the
circuit simulator, on its raster, and their frequency responses from scikit-rf. The hash says to which netlist it belongs.
`step_effect` is the largest change of any of the points when the simulator's longest step is halved.
"""

import hashlib
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from oracle import simulator
from oracle.line_networks import CASES, LONGEST_STEP, RASTER, Case, netlist
from oracle.line_simulator import waveforms

GOLDEN = Path(__file__).parent / "golden" / "lines.json"
SAMPLES = 60
HERTZ = [1e3, 2e4, 1e5, 5e5, 1e6, 3e6, 7e6, 2.3e7]


def digest(text: str) -> str:
    """Return the hash by which a stored result names its netlist."""
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def samples(case: Case) -> np.ndarray:
    """Return which points of the raster are stored: closer together in the first third, where the edges are."""
    last = round(case.duration / RASTER) - 1
    return np.unique(np.round(last * np.linspace(0.02, 1.0, SAMPLES) ** 1.6).astype(int))


def simulated(title: str, case: Case) -> dict[str, Any]:
    """Return what the simulator says of a case, as it is stored."""
    found, finer = (
        waveforms(netlist(title, case, longest_step=step), len(case.receivers))[1][:, samples(case)]
        for step in (LONGEST_STEP, LONGEST_STEP / 2)
    )
    return {
        "sha256": digest(netlist(title, case)),
        "step_effect": float(f"{np.abs(finer - found).max():.2e}"),
        "volts": {str(v): [float(f"{x:.7f}") for x in row] for v, row in zip(case.receivers, finer, strict=True)},
    }


def main() -> None:
    """Write the file."""
    import skrf

    from oracle.cascade import responses

    cases = {}
    for title, build in CASES.items():
        case = build()
        answer = responses(case, np.array(HERTZ))
        cases[title] = {
            **simulated(title, case),
            "response": {
                str(v): [[x.real, x.imag] for x in row] for v, row in zip(case.receivers, answer, strict=True)
            },
        }
    content = {
        "about": "waveforms [V] and frequency responses [-] at receivers of a driver of 1 V",
        "made_by": "python tests/oracle/regenerate_lines.py",
        "simulator": simulator.version(),
        "frequency_domain": f"scikit-rf {skrf.__version__}",
        "cases": cases,
    }
    GOLDEN.write_text(json.dumps(content, separators=(",", ":")).replace("],", "],\n") + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
