"""Imports point downwards only: the contract in pyproject.toml, and what the lower rooms may know, read off the source."""

import ast
import importlib.util
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import rs485kit

ROOT = Path(__file__).parents[2]
PACKAGE = Path(rs485kit.__file__).parent

# room -> what may be imported of the package, beside the room itself; and what must not be imported from outside
KNOWS = {
    "errors": set(),
    "units": {"errors"},
    "model": {"errors", "units"},
    "solvers": set(),
    "formulas": {"errors", "units"},
    "network": {"errors", "units", "model", "solvers"},
}
FOREIGN = {
    "errors": {"numpy", "attrs", "attr", "pint"},
    "model": {"pint", "numpy"},
    "solvers": {"pint", "attrs", "attr"},
}


def files(room: str) -> list[Path]:
    """Return the source files of a room."""
    folder = PACKAGE / room
    return sorted(folder.rglob("*.py")) if folder.is_dir() else [PACKAGE / f"{room}.py"]


def imported(source: str) -> Iterator[str]:
    """Give the modules that a source text imports, absolute; relative imports are not in use here."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative import"
            module = str(node.module)
            yield from ((f"{module}.{name.name}" for name in node.names) if module == "rs485kit" else (module,))


def strangers(room: str, source: str) -> set[str]:
    """Return what a source text of a room imports and may not."""
    found = set()
    for module in imported(source):
        top, _, rest = module.partition(".")
        own = rest.partition(".")[0]
        if (top == "rs485kit" and own not in KNOWS[room] | {room}) or top in FOREIGN.get(room, set()):
            found.add(module)
    return found


@pytest.mark.parametrize("room", KNOWS)
def test_room_imports_only_what_it_may_know(room):
    assert files(room)
    assert {path.name: strangers(room, path.read_text(encoding="utf-8")) for path in files(room)} == {
        path.name: set() for path in files(room)
    }


def test_pint_is_known_in_one_place():
    knowing = [
        path.relative_to(PACKAGE).as_posix()
        for path in sorted(PACKAGE.rglob("*.py"))
        if any(module.partition(".")[0] == "pint" for module in imported(path.read_text(encoding="utf-8")))
    ]
    assert knowing == ["units/reading.py", "units/writing.py"]


@pytest.mark.parametrize(
    ("room", "source"),
    [
        ("model", "import pint"),
        ("model", "from pint.util import UnitsContainer"),
        ("model", "from rs485kit.rules import Rule"),
        ("model", "from rs485kit import tables"),
        ("model", "def f():\n    import rs485kit.network.assembly"),
        ("solvers", "import attrs"),
        ("solvers", "from rs485kit.model import Bus"),
        ("units", "from rs485kit.model.base import named"),
    ],
)
def test_a_stranger_is_found(room, source):
    assert strangers(room, source)


def test_a_neighbour_is_no_stranger():
    assert not strangers(
        "model", "import re\nimport attrs\nfrom rs485kit.model.base import named\nfrom rs485kit.units import si"
    )


def test_the_contract_of_layers_is_kept():
    if importlib.util.find_spec("importlinter") is None:
        pytest.skip("import-linter is not installed; it comes with the dev extra, and the gate runs it too")
    path = f"import sys; sys.path.insert(0, {str(PACKAGE.parent)!r})"
    code = f"{path}; from importlinter.cli import lint_imports_command; lint_imports_command()"
    run = subprocess.run(
        [sys.executable, "-c", code, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert "1 kept, 0 broken" in run.stdout
