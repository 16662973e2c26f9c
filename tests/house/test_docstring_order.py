"""Docstrings of every room but the closed forms, which are held to more: sections in order, names as in the signature.

A section that a function has no use for is left out; what stands there stands in the order of SECTIONS, describes every
parameter of the signature under its name and in its order, and ends each description in its unit in brackets. Two
parameters that share a description share a heading. What a package lists in `__all__` has to describe its parameters.
"""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import attrs
import pytest

import rs485kit

SECTIONS = ["Parameters", "Returns", "Raises", "Notes", "References", "Examples"]
HELD_ELSEWHERE = "rs485kit.formulas"
UNIT = re.compile(r"\[[^\[\]]+\]\.?$")
HEADING = re.compile(r"^(?P<title>\S.*)\n(?P<line>-{3,})$", re.MULTILINE)
RULES = "rs485kit.rules."


def modules() -> Iterator[Any]:
    yield rs485kit
    for found in pkgutil.walk_packages(rs485kit.__path__, "rs485kit."):
        if not found.name.startswith(HELD_ELSEWHERE) and not found.name.endswith("__main__"):
            yield importlib.import_module(found.name)


def members(cls: type) -> Iterator[tuple[str, Callable[..., Any]]]:
    for name, member in vars(cls).items():
        function = member.__func__ if isinstance(member, classmethod | staticmethod) else member
        if not name.startswith("_") and inspect.isfunction(function):
            yield f"{cls.__name__}.{name}", function


def subjects() -> dict[str, Any]:
    """Return every public function, class and method of the library by name."""
    found: dict[str, Any] = {}
    for module in modules():
        for name, value in vars(module).items():
            if name.startswith("_") or getattr(value, "__module__", "") != module.__name__:
                continue
            if inspect.isclass(value):
                found[f"{module.__name__}.{name}"] = value
                found.update((f"{module.__name__}.{each}", function) for each, function in members(value))
            elif inspect.isfunction(value):
                found[f"{module.__name__}.{name}"] = value
    return found


def exported() -> set[str]:
    """Return the full names of what packages list in `__all__`."""
    names = set()
    for module in modules():
        for name in getattr(module, "__all__", ()):
            value = getattr(module, name)
            if hasattr(value, "__qualname__"):
                names.add(f"{value.__module__}.{value.__qualname__}")
    return names


def sections(docstring: str) -> dict[str, str]:
    """Split a docstring at its underlined headings; what stands before them is under the empty name."""
    text = inspect.cleandoc(docstring)
    heads = [head for head in HEADING.finditer(text) if len(head["line"]) == len(head["title"])]
    starts = [0, *(head.end() for head in heads)]
    ends = [*(head.start() for head in heads), len(text)]
    titles = ["", *(head["title"] for head in heads)]
    return {title: text[start:end].strip("\n") for title, start, end in zip(titles, starts, ends, strict=True)}


def entries(section: str) -> list[tuple[str, str]]:
    """Return heading and description of each entry of a section."""
    found = re.findall(r"^(\S.*)\n?((?:^ +.*\n?|^\n)*)", section + "\n", re.MULTILINE)
    return [(heading, " ".join(lines.split())) for heading, lines in found]


def wanted_names(subject: Any) -> list[str]:
    """Return the names that a docstring has to describe, in order."""
    if inspect.isclass(subject):
        if attrs.has(subject):
            return [field.name for field in attrs.fields(subject) if field.init]
        subject = vars(subject).get("__init__", lambda: None)
    return [name for name in inspect.signature(subject).parameters if name not in ("self", "cls")]


def faults(subject: Any) -> list[str]:
    """Return what is wrong with a docstring, one line each."""
    parts = sections(subject.__doc__ or "")
    titles = [title for title in parts if title]
    wrong = [] if parts[""].split("\n\n")[0].rstrip().endswith(".") else ["the summary is no sentence"]
    if titles != sorted(titles, key=lambda title: SECTIONS.index(title) if title in SECTIONS else -1):
        wrong.append(f"the sections stand in the order {titles}")
    wrong += [f"there is no section called {title}" for title in titles if title not in SECTIONS]
    described = entries(parts.get("Parameters", ""))
    if "Parameters" in parts:
        names = [name for heading, _ in described for name in heading.partition(" : ")[0].split(", ")]
        named = wanted_names(subject)
        same_order = names == named or (inspect.isclass(subject) and sorted(names) == sorted(named))
        if not same_order:
            wrong.append(f"the docstring names {names}, the signature {named}")
    for heading, description in described + entries(parts.get("Returns", "")):
        if not UNIT.search(description) and "by the engine" not in description:
            wrong.append(f"{heading}: the description does not end in a unit in brackets: {description!r}")
    return wrong


SUBJECTS = {
    name: each
    for name, each in subjects().items()
    # a rule's docstring has headings of its own, see test_rules
    if not (name.startswith(RULES) and isinstance(each, rs485kit.Rule))
}
EXPORTED = exported()


def test_subjects_are_found():
    assert {"rs485kit.model.bus.Bus.with_node", "rs485kit.checking.check", "rs485kit.analysis.idle.idle_levels"} <= set(
        SUBJECTS
    )


@pytest.mark.parametrize("name", SUBJECTS)
def test_docstring(name):
    assert SUBJECTS[name].__doc__
    assert not faults(SUBJECTS[name])


@pytest.mark.parametrize("name", sorted(EXPORTED & set(SUBJECTS)))
def test_what_is_exported_describes_its_parameters(name):
    assert not wanted_names(SUBJECTS[name]) or "Parameters" in sections(SUBJECTS[name].__doc__)


def _good(length, width, *, depth=1.0):
    """Return the volume of a box.

    Parameters
    ----------
    length, width : float
        Two of its edges [m].
    depth : float
        The third,
        which is 1 m by default [m].

    Returns
    -------
    float
        The volume [m^3].

    Notes
    -----
    V = a b c.
    """


class TestTheCheckCanFail:
    """The checker itself, on one good docstring and on copies with one fault each."""

    def test_the_good_one(self):
        assert not faults(_good)

    @pytest.mark.parametrize(
        ("old", "new", "complaint"),
        [
            ("length, width", "width, length", "the signature"),
            ("depth : float", "deepness : float", "the signature"),
            ("The volume [m^3].", "The volume.", "unit in brackets"),
            ("by default [m].", "by default.", "unit in brackets"),
            ("Notes\n    -----", "Remarks\n    -------", "no section called"),
            ("of a box.", "of a box", "no sentence"),
        ],
    )
    def test_one_fault(self, old, new, complaint):
        def copy(length, width, *, depth=1.0):
            return length, width, depth

        assert old in _good.__doc__
        copy.__doc__ = _good.__doc__.replace(old, new)
        assert any(complaint in fault for fault in faults(copy))

    def test_sections_out_of_order(self):
        def copy():
            return None

        copy.__doc__ = "Do nothing.\n\nNotes\n-----\nNone.\n\nReturns\n-------\nNone\n    Nothing [-].\n"
        assert any("order" in fault for fault in faults(copy))
