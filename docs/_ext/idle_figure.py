"""The directive ``idle-figure``: idle levels along the trunk of buses in files, drawn while the page is built.

Each line of its content is ``label: path``. Beside the solved levels stand the threshold of the receivers and, dotted,
the level of the same parts at one point, which is what a lumped formula gives.
"""

from collections.abc import Callable, Iterable
from html import escape
from pathlib import Path
from typing import Any, ClassVar, NamedTuple, TypeAlias

from docutils import nodes
from docutils.parsers.rst import directives
from sphinx.application import Sphinx
from sphinx.errors import ExtensionError
from sphinx.util.docutils import SphinxDirective

import rs485kit as rk

WIDTH, HEIGHT = 760, 340
LEFT, RIGHT, BOTTOM = 62, 20, 46
LINE_OF_LEGEND = 18
COLOURS = ("#b4491f", "#2b6a8a", "#4c7a34")

Scale: TypeAlias = Callable[[float], float]


class Curve(NamedTuple):
    """Idle levels of one bus: place along the cable in metres and level in millivolts, and the lumped level.

    `trunk` are the receivers between the two ends of the bus and on stubs there, `beside` those on branches.
    """

    label: str
    trunk: list[tuple[float, float]]
    beside: list[tuple[float, float]]
    lumped: float
    threshold: float


def curve(label: str, bus: rk.Bus) -> Curve:
    """Return the idle levels of a bus by distance from its first node."""
    levels = rk.analysis.idle_levels(bus)
    start = bus.nodes[0].name
    path = set(bus.path(*bus.ends))
    points = []
    for row in levels:
        # a device on a stub has the level of its tap, as good as exactly
        place = row.node if f"{row.node}.tap" not in path else f"{row.node}.tap"
        points.append((place in path, bus.distance(start, place), 1e3 * row.voltage.nominal))
    trunk, beside = (sorted((x, y) for on_trunk, x, y in points if on_trunk == wanted) for wanted in (True, False))
    return Curve(label, trunk, beside, 1e3 * levels.lumped, 1e3 * max(row.threshold for row in levels))


def drawing(curves: list[Curve]) -> str:
    """Return the curves as SVG text."""
    points = [point for each in curves for point in (*each.trunk, *each.beside)]
    farthest = max(x for x, _ in points)
    values = [0.0, *(y for _, y in points), *(y for each in curves for y in (each.lumped, each.threshold))]
    low, high = 100.0 * (min(values) // 100.0), 100.0 * (max(values) // 100.0 + 1.0)
    top = 8 + LINE_OF_LEGEND * len(curves)

    def across(x: float) -> float:
        return LEFT + x / farthest * (WIDTH - LEFT - RIGHT)

    def down(y: float) -> float:
        return top + (high - y) / (high - low) * (HEIGHT - top - BOTTOM)

    parts = list(_grid(farthest, (low, high), across, down))
    threshold = max(each.threshold for each in curves)
    parts.append(_level(down(threshold), "#555", "7 4"))
    parts.append(_text(LEFT + 6, down(threshold) + 15, f"threshold {threshold:.0f} mV", "#555", "start"))
    for index, each in enumerate(curves):
        colour = COLOURS[index % len(COLOURS)]
        line = " ".join(f"{across(x):.1f},{down(y):.1f}" for x, y in each.trunk)
        parts.append(_level(down(each.lumped), colour, "2 4"))
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="1.6"/>')
        for x, y in each.trunk:
            parts.append(f'<circle cx="{across(x):.1f}" cy="{down(y):.1f}" r="2.4" fill="{colour}"/>')
        for x, y in each.beside:
            place = f'cx="{across(x):.1f}" cy="{down(y):.1f}" r="3"'
            parts.append(f'<circle {place} fill="white" stroke="{colour}" stroke-width="1.4"/>')
        label = f"{each.label} (dotted: at one point, {each.lumped:.0f} mV)"
        parts.append(_text(LEFT, LINE_OF_LEGEND * (index + 1) - 4, label, colour, "start"))
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'font-family="sans-serif" font-size="12.5">{"".join(parts)}</svg>'
    )


def _grid(farthest: float, span: tuple[float, float], across: Scale, down: Scale) -> Iterable[str]:
    low, high = span
    step = 100 if high - low <= 800 else 200
    for y in range(int(low), int(high) + 1, step):
        yield _level(down(y), "#e4e4e4", "")
        yield _text(LEFT - 6, down(y) + 4, str(y), "#333", "end")
    for x in range(0, int(farthest) + 1, 200):
        yield _text(across(x), HEIGHT - BOTTOM + 17, str(x), "#333", "middle")
    yield _text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 8, "metres of cable from the first node", "#333", "middle")
    middle = (down(low) + down(high)) / 2
    yield f'<g transform="rotate(-90 14 {middle:.1f})">{_text(14, middle, "idle level in mV", "#333", "middle")}</g>'


def _level(y: float, colour: str, dashes: str) -> str:
    ends = f'x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"'
    return f'<line {ends} stroke="{colour}" stroke-dasharray="{dashes}"/>'


def _text(x: float, y: float, text: str, colour: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}">{escape(text)}</text>'


class IdleFigure(SphinxDirective):
    """Draws the buses named in its content; other builders than HTML show the caption alone."""

    has_content = True
    option_spec: ClassVar[dict[str, Any]] = {"caption": directives.unchanged_required}

    def run(self) -> list[nodes.Node]:
        curves = []
        for line in self.content:
            label, _, name = line.rpartition(": ")
            path = Path(self.env.srcdir) / name.strip()
            if not label or not path.is_file():
                raise ExtensionError(f"idle-figure: {line!r} is not `label: path of a bus file below docs`")
            self.env.note_dependency(str(path))
            curves.append(curve(label, rk.load_bus(path)))
        figure = nodes.figure(classes=["level"])
        figure += nodes.raw("", drawing(curves), format="html")
        figure += nodes.caption("", self.options.get("caption", ""))
        return [figure]


def setup(app: Sphinx) -> dict[str, Any]:
    """Make the directive known to Sphinx."""
    app.add_directive("idle-figure", IdleFigure)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
