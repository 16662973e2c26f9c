"""Marks of the published figures, and the way for the recipes to import one another."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "memory: a recalled figure: compared and reported (skipped where it differs), but it decides nothing"
    )
