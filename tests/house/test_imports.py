"""What an import of the library loads, and that the front door's two lists of names agree."""

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

import rs485kit

HEAVY = {"numpy", "attr", "attrs", "pint", "importlib.metadata", "scipy", "tomllib"}
SOURCE = Path(rs485kit.__file__).read_text(encoding="utf-8")


def loaded_by(statement: str) -> set[str]:
    """Return the modules that a statement adds to a fresh interpreter, warnings being errors."""
    code = f"import sys; before = set(sys.modules); {statement}; import json; print(json.dumps(sorted(set(sys.modules) - before)))"
    run = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    return set(json.loads(run.stdout))


def twin_names() -> set[str]:
    """Return the names that the front door imports for type checkers alone."""
    blocks = [
        node
        for node in ast.parse(SOURCE).body
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    ]
    assert len(blocks) == 1
    imports = [node for node in blocks[0].body if isinstance(node, ast.ImportFrom)]
    assert len(imports) == len(blocks[0].body), "the twin holds something else than imports"
    return {name.asname or name.name for node in imports for name in node.names}


def twin_rooms() -> dict[str, str]:
    """Return the module that the twin imports each name from, below the package."""
    rooms = {}
    for node in ast.walk(ast.parse(SOURCE)):
        if isinstance(node, ast.ImportFrom) and node.module and node.module != "typing":
            for name in node.names:
                below = node.module.removeprefix("rs485kit").removeprefix(".")
                rooms[name.name] = below or name.name
    return rooms


def test_import_loads_the_errors_and_nothing_else():
    loaded = loaded_by("import rs485kit")
    assert {name for name in loaded if name.partition(".")[0] == "rs485kit"} == {"rs485kit", "rs485kit.errors"}
    assert not loaded & HEAVY


def test_the_list_of_modules_can_fail():
    assert loaded_by("import rs485kit; rs485kit.Bus") & HEAVY


def test_errors_import_nothing():
    code = "import sys; sys.modules.pop('rs485kit', None); import rs485kit.errors; print('numpy' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


def test_rooms_and_their_twin_list_the_same_names():
    assert set(rs485kit._ROOMS) == twin_names()


def test_rooms_and_their_twin_name_the_same_rooms():
    rooms = twin_rooms()
    assert {name: rooms[name] for name in rs485kit._ROOMS} == rs485kit._ROOMS


@pytest.mark.parametrize("name", rs485kit.__all__)
def test_every_public_name_resolves(name):
    assert hasattr(rs485kit, name)


def test_public_names_are_listed_once_and_shown():
    assert len(rs485kit.__all__) == len(set(rs485kit.__all__))
    assert set(rs485kit.__all__) <= set(dir(rs485kit))


def test_a_name_that_is_not_there():
    with pytest.raises(AttributeError, match="no_such_name"):
        rs485kit.no_such_name  # noqa: B018
