"""For authors of rules and parts: checks of what the library relies on."""

from rs485kit.testing.conformance import check_rule
from rs485kit.testing.faults import ConformanceError

__all__ = ["ConformanceError", "check_rule"]
