"""What all recipes share: scales, the table that they are entered in, and the check of inputs against our limits."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

KILO, MILLI, MICRO, NANO, PICO = 1e3, 1e-3, 1e-6, 1e-9, 1e-12

Recipe = Callable[[Mapping[str, Any]], dict[str, Any]]


class Recipes(dict[str, Recipe]):
    """Recipes by the id of the check that they serve; an id can be entered once."""

    def serves(self, *checks: str) -> Callable[[Recipe], Recipe]:
        """Enter the function below under the ids of the checks that it serves."""

        def enter(recipe: Recipe) -> Recipe:
            self.add(dict.fromkeys(checks, recipe))
            return recipe

        return enter

    def add(self, recipes: Mapping[str, Recipe]) -> None:
        twice = self.keys() & recipes.keys()
        assert not twice, f"two recipes for {sorted(twice)}"
        self.update(recipes)


def hold(given: Any, limit: Any) -> None:
    """Fail if a check is put for another figure than the one that the library states."""
    assert np.array_equal(given, limit), f"the check is put for {given}, the library states {limit}"
