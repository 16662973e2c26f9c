"""Reports: what was found, in order, as objects, text, Markdown, JSON and HTML."""

from rs485kit.report.summary import PluginError, PluginUse, Report

__all__ = ["PluginError", "PluginUse", "Report"]
