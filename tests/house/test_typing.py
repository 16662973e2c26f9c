"""What a type checker sees from the user's side, where one is installed."""

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

import rs485kit

EXAMPLE = Path(__file__).parents[1] / "typing" / "user_side.py"


def checked(path: Path, tmp_path: Path) -> subprocess.CompletedProcess[str]:
    """Run mypy in strict mode on a script, against the package that is tested."""
    source = Path(rs485kit.__file__).parents[1]
    command = [
        sys.executable,
        "-m",
        "mypy",
        "--strict",
        "--follow-imports",
        "silent",
        "--config-file",
        "",
        "--cache-dir",
        str(tmp_path / "cache"),
        str(path),
    ]
    environment = {"MYPYPATH": str(source)} if source.name == "src" else {}
    return subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)


with_mypy = pytest.mark.skipif(
    importlib.util.find_spec("mypy") is None,
    reason="mypy is not installed; it comes with the dev extra, and the gate runs it",
)


def test_the_package_says_that_it_is_typed():
    assert (Path(rs485kit.__file__).parent / "py.typed").is_file()


@with_mypy
def test_a_users_script_is_accepted(tmp_path):
    run = checked(EXAMPLE, tmp_path)
    assert run.returncode == 0, run.stdout + run.stderr


@with_mypy
def test_a_wrong_script_is_not(tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text(
        "import rs485kit as rk\nrk.Termination(resistance=[1, 2])\nrk.check('canal.toml')\n", encoding="utf-8"
    )
    run = checked(wrong, tmp_path)
    assert run.returncode == 1, run.stdout + run.stderr
    assert run.stdout.count("error:") == 2
