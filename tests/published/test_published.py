"""Every published figure against the library: one runner for all data files of this folder.

NAME.toml holds the checks, NAME_recipes.py says what computes them: RECIPES, from the id of a check to a function of
its inputs that gives the expected keys, and STATED, from the id of a check that nothing computes to the reason. A check
in neither or in both fails, and so does an entry of a table that no check bears. WITHOUT_EFFECT names the inputs that
must not change the figure; any other input that a recipe ignores fails.

A check whose `known` is memory carries the mark `memory` (select with -m memory). It runs like the others, but decides
nothing: if it agrees it passes, and if it does not it is skipped with both figures in the reason. A recipe that breaks
on the way fails in any case.
"""

import importlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from rs485kit.errors import InputError

HERE = Path(__file__).parent
KEYS = {"id", "about", "inputs", "expected", "tolerance", "source", "known"}
KNOWN = {"read", "derived", "memory"}


@dataclass(frozen=True)
class Check:
    """One [[check]] of a data file, with the recipes that belong to the file."""

    id: str
    data: dict[str, Any]
    recipes: ModuleType

    @property
    def is_memory(self) -> bool:
        return self.data.get("known") == "memory"


def _files() -> dict[str, list[Check]]:
    found = {}
    for file in sorted(HERE.glob("*.toml")):
        recipes = importlib.import_module(f"{file.stem}_recipes")
        with file.open("rb") as stream:
            checks = tomllib.load(stream)["check"]
        found[file.name] = [Check(str(check.get("id", "")), check, recipes) for check in checks]
    return found


FILES = _files()
CHECKS = [
    pytest.param(check, id=check.id, marks=[pytest.mark.memory] if check.is_memory else [])
    for checks in FILES.values()
    for check in checks
]
COMPUTED = [item for item in CHECKS if item.id in item.values[0].recipes.RECIPES]


def differences(computed: dict[str, Any], expected: dict[str, Any], tolerance: dict[str, Any]) -> list[str]:
    """Return one line for each expected key that is absent or beyond the tolerance."""
    lines = []
    for key, wanted in expected.items():
        if key not in computed:
            lines.append(f"{key}: not computed")
            continue
        got, want = np.asarray(computed[key], dtype=float), np.asarray(wanted, dtype=float)
        allowed = tolerance.get("abs", 0.0) + tolerance.get("rel", 0.0) * np.abs(want)
        if got.shape != want.shape or not (np.abs(got - want) <= allowed).all():
            lines.append(f"{key}: computed {got.tolist()}, published {wanted}")
    return lines


@pytest.mark.parametrize(
    ("name", "number", "of_memory"),
    [
        ("dc.toml", 129, 8), ("line.toml", 164, 3), ("insulation.toml", 89, 11), ("isolation.toml", 133, 8),
        ("timing.toml", 220, 3),
    ],
)
def test_the_figures_are_there(name, number, of_memory):
    assert len(FILES[name]) == number
    assert sum(check.is_memory for check in FILES[name]) == of_memory


@pytest.mark.parametrize("checks", FILES.values(), ids=FILES.keys())
def test_ids_are_unique(checks):
    ids = [check.id for check in checks]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("checks", FILES.values(), ids=FILES.keys())
def test_recipes_and_reasons_belong_to_a_check(checks):
    ids = {check.id for check in checks}
    recipes = checks[0].recipes
    assert set(recipes.RECIPES) <= ids
    assert set(recipes.STATED) <= ids
    assert all(reason.strip() for reason in recipes.STATED.values())


@pytest.mark.parametrize("check", CHECKS)
def test_check_is_complete(check):
    assert set(check.data) == KEYS
    assert check.data["source"].strip()
    assert check.data["about"].strip()
    assert check.data["known"] in KNOWN
    assert check.data["expected"]
    tolerance = check.data["tolerance"]
    assert set(tolerance) in ({"rel", "why"}, {"abs", "why"})
    assert tolerance["why"].strip()


@pytest.mark.parametrize("check", CHECKS)
def test_check_is_computed_or_stated(check):
    is_computed, is_stated = check.id in check.recipes.RECIPES, check.id in check.recipes.STATED
    assert is_computed or is_stated, f"{check.id} has neither a recipe nor a reason"
    assert not (is_computed and is_stated), f"{check.id} has a recipe and a reason"


@pytest.mark.parametrize("check", COMPUTED)
def test_published_figure(check):
    computed = check.recipes.RECIPES[check.id](check.data["inputs"])
    lines = differences(computed, check.data["expected"], check.data["tolerance"])
    if lines and check.is_memory:
        pytest.skip(f"memory figure: computed {computed}, recalled {check.data['expected']}")
    assert not lines, f"{check.data['source']}\n" + "\n".join(lines)


def _altered(value: Any) -> Any:
    if isinstance(value, str):
        return f"not {value}"
    if isinstance(value, list):
        return [_altered(item) for item in value]
    return value + 1 if isinstance(value, int) else value * 1.25 + 0.01


@pytest.mark.parametrize("check", COMPUTED)
def test_no_input_is_ignored(check):
    recipe, inputs = check.recipes.RECIPES[check.id], check.data["inputs"]
    ignored = set()
    for key, value in inputs.items():
        try:
            computed = recipe({**inputs, key: _altered(value)})
        except (AssertionError, InputError):
            continue
        if not differences(computed, check.data["expected"], check.data["tolerance"]):
            ignored.add(key)
    assert ignored == check.recipes.WITHOUT_EFFECT.get(check.id, set())


@pytest.mark.parametrize(("name", "checks"), FILES.items(), ids=FILES.keys())
def test_the_page_tells_what_the_checks_are(name, checks):
    file = HERE.parents[1] / "docs" / "reference" / f"published-{name.removesuffix('.toml')}.rst"
    page = " ".join(file.read_text(encoding="utf-8").split())
    stated, memory = checks[0].recipes.STATED, [check.id for check in checks if check.is_memory]
    assert f"Of {len(checks)} checks, {len(checks) - len(stated)} are computed" in page
    assert f"and {len(stated)} are stated figures" in page
    assert not [check for check in [*stated, *memory] if f"``{check}``" not in page]


class TestTheRunnerCanFail:
    """The comparison itself, on figures that are wrong on purpose."""

    def test_a_figure_beyond_the_tolerance(self):
        assert differences({"x_v": 1.02}, {"x_v": 1.0}, {"rel": 0.01})

    def test_a_figure_within_the_tolerance(self):
        assert not differences({"x_v": [1.0, 2.01]}, {"x_v": [1.0, 2.0]}, {"rel": 0.01})

    def test_an_exact_figure_one_bit_away(self):
        assert differences({"x_v": np.nextafter(1.0, 2.0)}, {"x_v": 1.0}, {"abs": 0.0})

    def test_not_a_number(self):
        assert differences({"x_v": float("nan")}, {"x_v": 1.0}, {"rel": 1.0})

    def test_a_key_that_nothing_computes(self):
        assert differences({}, {"x_v": 1.0}, {"rel": 0.01}) == ["x_v: not computed"]

    def test_a_shorter_list(self):
        assert differences({"x_v": [1.0]}, {"x_v": [1.0, 1.0]}, {"rel": 0.01})

    def test_a_number_for_a_list(self):
        assert differences({"x_v": 1.0}, {"x_v": [1.0, 1.0]}, {"rel": 0.01})
