"""The directive ``eye-figure``: folded traces of one path of a bus in a file, with its worst-case opening.

Its argument is the path of the file; options name driver, receiver and data rate. Traces of random bits are thin and
grey; the worst marks and spaces over every sequence are the heavy lines, thresholds are dashed and labelled.
"""

from html import escape
from pathlib import Path
from typing import Any, ClassVar

import attrs
import numpy as np
from docutils import nodes
from docutils.parsers.rst import directives
from sphinx.application import Sphinx
from sphinx.errors import ExtensionError
from sphinx.util.docutils import SphinxDirective

import rs485kit as rk

WIDTH, HEIGHT = 760, 330
LEFT, RIGHT, TOP, BOTTOM = 62, 150, 14, 46
MARK, SPACE = "#b4491f", "#2b6a8a"
BITS, SEED, MOST_TRACES = 160, 3, 120


def drawing(bus: rk.Bus, driver: str, receiver: str) -> str:
    """Return the eye of a path as SVG text."""
    analyses = rk.Analyses(bus)
    eye = rk.analysis.eye(analyses, driver, receiver, bits=BITS, seed=SEED)
    worst = rk.analysis.worst_eyes(analyses).between(driver, receiver)
    times = 1e6 * eye.time
    low, high = 1.1 * float(eye.traces.min()), 1.1 * float(eye.traces.max())

    def across(x: float) -> float:
        return LEFT + x / times[-1] * (WIDTH - LEFT - RIGHT)

    def down(y: float) -> float:
        return TOP + (high - y) / (high - low) * (HEIGHT - TOP - BOTTOM)

    parts = []
    for volts in np.arange(np.ceil(2.0 * low), np.floor(2.0 * high) + 1.0) / 2.0:
        parts += [_line(down(volts), "#e4e4e4", ""), _text(LEFT - 6, down(volts) + 4, f"{volts:g}", "#333", "end")]
    ticks = np.linspace(0.0, times[-1], 5)
    parts += [_text(across(x), HEIGHT - BOTTOM + 17, f"{x:.2f}", "#333", "middle") for x in ticks]
    below = "microseconds; bits begin at 0 at the driver"
    parts.append(_text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 8, below, "#333", "middle"))
    middle = (TOP + HEIGHT - BOTTOM) / 2
    parts.append(f'<g transform="rotate(-90 14 {middle:.1f})">{_text(14, middle, "volts", "#333", "middle")}</g>')
    for trace in eye.traces[:MOST_TRACES]:
        points = " ".join(f"{across(x):.1f},{down(y):.1f}" for x, y in zip(times, trace, strict=True))
        parts.append(f'<polyline points="{points}" fill="none" stroke="#8a8a8a" stroke-width="0.5" opacity="0.6"/>')
    for name, volts, anchor in (("upper", eye.upper_threshold, -5), ("lower", eye.lower_threshold, 14)):
        parts.append(_line(down(volts), "#333", "6 4"))
        label = f"{name} threshold {1e3 * volts:.0f} mV"
        parts.append(_text(WIDTH - RIGHT + 6, down(volts) + anchor, label, "#333", "start"))
    at = across((1e6 * worst.phase) % (times[-1] / 2.0) + times[-1] / 2.0 * (worst.phase * 1e6 < times[-1] / 4.0))
    mark, space = eye.upper_threshold + worst.mark_margin, eye.lower_threshold - worst.space_margin
    upright = f'x1="{at:.1f}" x2="{at:.1f}" y1="{down(mark):.1f}" y2="{down(space):.1f}"'
    parts.append(f'<line {upright} stroke="#111" stroke-width="2"/>')
    for volts, colour, label in ((mark, MARK, "lowest mark"), (space, SPACE, "highest space")):
        parts.append(
            f'<line x1="{at - 26:.1f}" x2="{at + 26:.1f}" y1="{down(volts):.1f}" y2="{down(volts):.1f}" '
            f'stroke="{colour}" stroke-width="3"/>'
        )
        parts.append(_text(at + 30, down(volts) + 4, f"{label} {volts:.2f} V", colour, "start"))
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'font-family="sans-serif" font-size="12.5">{"".join(parts)}</svg>'
    )


def _line(y: float, colour: str, dashes: str) -> str:
    ends = f'x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"'
    return f'<line {ends} stroke="{colour}" stroke-dasharray="{dashes}"/>'


def _text(x: float, y: float, text: str, colour: str, anchor: str) -> str:
    halo = 'stroke="white" stroke-width="3" paint-order="stroke"'
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}" {halo}>{escape(text)}</text>'


class EyeFigure(SphinxDirective):
    """Draws the eye of one path; other builders than HTML show the caption alone."""

    required_arguments = 1
    option_spec: ClassVar[dict[str, Any]] = {
        "driver": directives.unchanged_required,
        "receiver": directives.unchanged_required,
        "data-rate": directives.unchanged_required,
        "caption": directives.unchanged_required,
    }

    def run(self) -> list[nodes.Node]:
        path = Path(self.env.srcdir) / self.arguments[0]
        if not path.is_file():
            raise ExtensionError(f"eye-figure: {self.arguments[0]!r} is no bus file below docs")
        self.env.note_dependency(str(path))
        bus = rk.load_bus(path)
        if "data-rate" in self.options:
            assert bus.link is not None
            bus = attrs.evolve(bus, link=attrs.evolve(bus.link, data_rate=self.options["data-rate"]))
        figure = nodes.figure(classes=["level"])
        figure += nodes.raw("", drawing(bus, self.options["driver"], self.options["receiver"]), format="html")
        figure += nodes.caption("", self.options.get("caption", ""))
        return [figure]


def setup(app: Sphinx) -> dict[str, Any]:
    """Make the directive known to Sphinx."""
    app.add_directive("eye-figure", EyeFigure)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
