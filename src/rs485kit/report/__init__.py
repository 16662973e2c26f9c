"""Reports: what was found, in order, as objects, text, Markdown, JSON and HTML."""

from rs485kit.report.summary import PluginError, Report

__all__ = ["PluginError", "Report"]
