"""Marks of the published figures."""

import pytest


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "memory: a recalled figure: compared and reported (skipped where it differs), but it decides nothing"
    )
