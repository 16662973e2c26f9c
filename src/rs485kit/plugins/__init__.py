"""Rule plugins: what one is, how it is loaded, what becomes of one that misbehaves."""

from rs485kit.plugins.definition import API, Plugin
from rs485kit.plugins.explaining import explain

__all__ = ["API", "Plugin", "explain"]
