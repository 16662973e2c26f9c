"""The circuit simulator: found on the path, run in a scratch folder, believed by its text alone.

It ends with exit status 0 also when it refused an element or met a singular matrix, so its words decide.
"""

import re
import shutil
import subprocess
import tempfile
from pathlib import Path

NAME = "ngspice"
TROUBLE = re.compile(r"error|warning|singular|failed|not supported|unknown|can't|no such|abort", re.IGNORECASE)
PRINTED = re.compile(r"^([dl]\d+) = (\S+)\s*$", re.MULTILINE)


class SimulatorError(RuntimeError):
    """The simulator did not give what was asked for."""


def is_installed() -> bool:
    """Return whether the simulator is on the path."""
    return shutil.which(NAME) is not None


def version() -> str:
    """Return name and version as the simulator states them."""
    said = subprocess.run([NAME, "--version"], capture_output=True, text=True, check=True).stdout
    found = re.search(rf"{NAME}-(\S+)", said)
    if found is None:
        raise SimulatorError(f"{NAME} states no version")
    return found.group(0)


def operating_point(netlist: str) -> dict[str, float]:
    """Return what a netlist prints, by name; raise SimulatorError for anything but a clean run."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "bus.cir")
        file.write_text(netlist, encoding="ascii")
        run = subprocess.run([NAME, "-b", file.name], cwd=folder, capture_output=True, text=True, timeout=300)
    return understood(netlist, run.stdout, run.stderr, run.returncode)


def understood(netlist: str, output: str, errors: str, status: int) -> dict[str, float]:
    """Return what was printed, by name; raise SimulatorError if the text tells of trouble or lacks something."""
    trouble = [line for line in (*output.splitlines(), *errors.splitlines()) if TROUBLE.search(line)]
    if trouble:
        raise SimulatorError(f"exit status {status}; " + "; ".join(trouble[:5]))
    printed = {name: float(value) for name, value in PRINTED.findall(output)}
    asked = set(re.findall(r"^print (\S+)$", netlist, re.MULTILINE))
    if set(printed) != asked or status != 0:
        raise SimulatorError(f"exit status {status}; not printed: {', '.join(sorted(asked - set(printed)))}")
    return printed
