"""Waveforms from the circuit simulator: run in a scratch folder, believed by its text and its file alone."""

import subprocess
import tempfile
from pathlib import Path

import numpy as np

from oracle.simulator import NAME, TROUBLE, SimulatorError

LONGEST_RUN = 1800


def waveforms(netlist: str, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the times, and `count` waveforms, that a netlist writes; raise SimulatorError for anything but a clean run."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "bus.cir")
        file.write_text(netlist, encoding="ascii")
        run = subprocess.run([NAME, "-b", file.name], cwd=folder, capture_output=True, text=True, timeout=LONGEST_RUN)
        trouble = [line for line in (*run.stdout.splitlines(), *run.stderr.splitlines()) if TROUBLE.search(line)]
        written = Path(folder, "waveforms.txt")
        if trouble or run.returncode != 0 or not written.is_file():
            raise SimulatorError(f"exit status {run.returncode}; " + "; ".join(trouble[:5]))
        # every waveform is written with its own column of times
        table = np.loadtxt(written, ndmin=2)
    if table.shape[1] != 2 * count or not np.isfinite(table).all():
        raise SimulatorError(f"{table.shape[1]} columns, wanted {2 * count}")
    return table[:, 0], table[:, 1::2].T
