"""The example package: installed as it stands, it is found, its rules run, and its own tests pass."""

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from plugin_packages import install, run_in, wheel

EXAMPLE = Path(__file__).parents[2] / "plugins_example"
SOURCE = EXAMPLE / "src" / "canal_rules"


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """The example in a scratch environment, with the entry points that its pyproject.toml names."""
    project = tomllib.loads((EXAMPLE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    points = project["entry-points"]
    folder = tmp_path_factory.mktemp("scratch")
    files = {f"canal_rules/{path.name}": path.read_text(encoding="utf-8") for path in SOURCE.iterdir() if path.is_file()}
    made = wheel(
        folder, project["name"], files, version=project["version"], rules=points["rs485kit.rules"], parts=points["rs485kit.parts"]
    )
    return install(folder / "site", made)


def test_its_own_tests_pass(site):
    path = os.pathsep.join([str(site), *filter(None, sys.path)])
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]
    done = subprocess.run(command, cwd=EXAMPLE, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": path})
    assert done.returncode == 0, done.stdout + done.stderr


def test_it_is_found_and_its_rules_run(site):
    files = [str(EXAMPLE / "examples" / name) for name in ("section_5.toml", "district_policy.toml")]
    done = run_in(site, "check", files[0], "--policy", files[1])
    assert 'canal-rules 1.0: 3 rules under "canal."' in done.stdout
    assert 'canal-rules 1.0: parts under "canal."' in done.stdout
    assert "rock in the way of the trench" in done.stdout
    assert "DID NOT RUN" not in done.stdout


def test_without_it_the_policy_does_not_let_anything_pass():
    done = subprocess.run(
        [sys.executable, "-m", "rs485kit", "check", "docs/examples/canal_corrected.toml", "--require", "canal-rules >= 1.0", "--select", "structure"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 3
    assert "required, but no distribution of that name" in " ".join(done.stdout.split())
