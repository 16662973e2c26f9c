"""The directive ``field-table``: the keys of a table of the bus file, read off the class that it describes."""

import inspect
import re
from collections.abc import Iterator
from typing import Any, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.errors import ExtensionError
from sphinx.util.docutils import SphinxDirective

from rs485kit import model
from rs485kit.tables import Form, forms

_ENTRY = re.compile(r"^(\w+(?:, \w+)*) : .*\n((?: {4}.*\n?)+)", re.MULTILINE)
_PLAIN = {
    "flag": "true or false",
    "text": "text",
    "whole": "whole number",
    "names": "list of names",
    "pairs": "list of pairs of names",
    "day": "day, such as 2031-03-31",
    "settings": "tables of parameters by rule",
}


def taken(form: Form) -> str:
    """Say what a key takes."""
    if form.what in ("figure", "spread"):
        unit = f"figure in {form.unit}" if form.unit else "ratio"
        return unit if form.what == "figure" else f"{unit}, perhaps with limits"
    if form.what == "choice":
        return " or ".join(f'``"{choice}"``' for choice in form.choices)
    if form.what in ("object", "objects"):
        return f"{form.kind.__name__}, or a list of them" if form.what == "objects" else form.kind.__name__
    return _PLAIN[form.what]


def rows(kind: type, without: set[str]) -> Iterator[tuple[str, str, str]]:
    """Give key, what it takes and what it means for every field of a class."""
    meanings: dict[str, str] = {}
    for names, lines in _ENTRY.findall(inspect.cleandoc(kind.__doc__ or "") + "\n"):
        meaning = re.sub(r" \[[^\]]*\]\.?$", "", " ".join(lines.split()))
        meanings.update((name, meaning) for name in names.split(", "))
    for name, form in forms(kind).items():
        if name in without:
            continue
        if name not in meanings:
            raise ExtensionError(f"field-table: the docstring of {kind.__name__} says nothing about {name}")
        need = " *(required)*" if form.required else ""
        yield f"``{name}``{need}", taken(form), f"{meanings[name]}."


class FieldTable(SphinxDirective):
    """Puts a table of the fields of one class of the model in the place of the directive."""

    required_arguments = 1
    option_spec: ClassVar[dict[str, Any]] = {"without": directives.unchanged}

    def run(self) -> list[nodes.Node]:
        name = self.arguments[0]
        if name not in model.__all__:
            raise ExtensionError(f"field-table: rs485kit has no class {name}")
        without = set(self.options.get("without", "").split())
        lines = [".. list-table::", "   :header-rows: 1", "   :widths: 26 26 48", ""]
        for row in (("key", "takes", "meaning"), *rows(getattr(model, name), without)):
            lines += [f"   {'* -' if column == 0 else '  -'} {cell}" for column, cell in enumerate(row)]
        parent = nodes.Element()
        self.state.nested_parse(StringList(lines, source=f"fields of {name}"), 0, parent)
        return parent.children


def setup(app: Sphinx) -> dict[str, Any]:
    """Make the directive known to Sphinx."""
    app.add_directive("field-table", FieldTable)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
