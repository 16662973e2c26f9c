"""Docstrings against signatures, for the packages listed below, and their examples run.

What is wanted of a public function: a summary line, the sections in the order of SECTIONS and all of them, parameters
under the names and in the order of the signature, a bracketed unit of UNITS at the end of every parameter's and every
return's description, and an example that gives what it says. A published check that the references cite is there.
"""

import doctest
import functools
import importlib
import inspect
import pkgutil
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

# Add a package here and every public function in it is held to the same.
PACKAGES = ["rs485kit.formulas"]

SECTIONS = ["Parameters", "Returns", "Raises", "Notes", "References", "Examples"]
UNITS = {
    *("-", "V", "A", "W", "ohm", "S", "F", "H", "s", "Hz", "m", "m^2", "m/s", "K", "dB", "rad"),
    *("ohm/m", "F/m", "H/m", "S/m", "dB/m", "1/m", "s/m", "ohm*m", "1/K", "bit/s", "m*bit/s", "V/s"),
    "Pa",
    *("C", "J", "A/s", "1/V", "K/W", "W/K"),
}
UNIT = re.compile(r"\[([^\[\]]+)\]$")
CHECK = r"[a-z0-9]+(?:-[a-z0-9]+)+"
CITED = re.compile(rf"\bchecks?\s+({CHECK}(?:(?:,|\s+and)\s+{CHECK})*)|\b(table-[a-z0-9-]+)")


def modules(package: str) -> Iterator[ModuleType]:
    """Yield the public modules of a package, and the package itself."""
    root = importlib.import_module(package)
    yield root
    for found in pkgutil.walk_packages(root.__path__, f"{package}."):
        if not found.name.rpartition(".")[2].startswith("_"):
            yield importlib.import_module(found.name)


def public_functions(package: str) -> list[Callable[..., Any]]:
    """Return the public functions that the modules of a package define themselves."""
    return [
        value
        for module in modules(package)
        for name, value in vars(module).items()
        if not name.startswith("_")
        and inspect.isfunction(inspect.unwrap(value) if callable(value) else value)
        and value.__module__ == module.__name__
    ]


FUNCTIONS = [
    pytest.param(function, id=f"{function.__module__.rpartition('.')[2]}.{function.__name__}")
    for package in PACKAGES
    for function in public_functions(package)
]
MODULES = [pytest.param(module, id=module.__name__) for package in PACKAGES for module in modules(package)]


def sections(docstring: str) -> dict[str, list[str]]:
    """Split a numpydoc docstring at its underlined headings; the summary stands under the empty name."""
    lines = inspect.cleandoc(docstring).splitlines()
    parts: dict[str, list[str]] = {"": []}
    current = ""
    for number, line in enumerate(lines):
        below = lines[number + 1] if number + 1 < len(lines) else ""
        if line and set(below) == {"-"} and len(below) == len(line):
            assert line not in parts, f"the section {line} stands twice"
            current = line
            parts[current] = []
        elif not (set(line) == {"-"} and number and lines[number - 1] == current):
            parts[current].append(line)
    return parts


def entries(lines: list[str]) -> list[tuple[str, str]]:
    """Return (heading, description) for each entry of a Parameters or Returns section."""
    found: list[tuple[str, str]] = []
    for line in filter(str.strip, lines):
        if line.startswith(" "):
            heading, description = found[-1]
            found[-1] = heading, f"{description} {line.strip()}".strip()
        else:
            found.append((line, ""))
    return found


def faults(function: Callable[..., Any]) -> list[str]:
    """Return what is wrong with the docstring of a function, one line each."""
    if not function.__doc__:
        return ["no docstring"]
    parts = sections(function.__doc__)
    wrong = []
    summary = [line for line in parts[""] if line]
    if len(summary) != 1 or not summary[0].endswith("."):
        wrong.append(f"the summary is not one line that ends in a full stop: {summary}")
    if [name for name in parts if name] != SECTIONS:
        wrong.append(f"the sections are {[name for name in parts if name]}, wanted {SECTIONS}")
    parameters = entries(parts.get("Parameters", []))
    names, wanted = (
        [heading.partition(" : ")[0] for heading, _ in parameters],
        list(inspect.signature(function).parameters),
    )
    if names != wanted:
        wrong.append(f"the docstring names {names}, the signature {wanted}")
    wrong += [f"{heading}: no type" for heading, _ in parameters if not heading.partition(" : ")[2]]
    for heading, description in parameters + entries(parts.get("Returns", [])):
        unit = UNIT.search(description)
        if unit is None or unit.group(1) not in UNITS:
            wrong.append(f"{heading}: the description does not end in a known unit in brackets: {description!r}")
    wrong += [f"the section {name} is empty" for name, lines in parts.items() if name and not "".join(lines).strip()]
    return wrong


def cited(docstring: str) -> list[str]:
    """Return the ids of published checks that the references of a docstring name."""
    references = "\n".join(sections(docstring).get("References", []))
    return [name for groups in CITED.findall(references) for name in re.findall(CHECK, " ".join(groups))]


@functools.cache
def published() -> frozenset[str]:
    """Return the ids of all published checks."""
    files = (Path(__file__).parents[1] / "published").glob("*.toml")
    checks = [check for file in files for check in tomllib.loads(file.read_text(encoding="utf-8"))["check"]]
    return frozenset(check["id"] for check in checks)


@pytest.mark.parametrize("package", PACKAGES)
def test_functions_are_found(package):
    assert public_functions(package)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_docstring_agrees_with_signature(function):
    assert not faults(function)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_function_has_an_example(function):
    assert any(test.examples for test in doctest.DocTestFinder(recurse=False).find(function))


@pytest.mark.parametrize("function", FUNCTIONS)
def test_cited_checks_are_there(function):
    assert set(cited(function.__doc__)) <= published()


def test_citations_are_found():
    text = "Sum.\n\nReferences\n----------\nA law: checks one-two, three-4\nand table-five; no check of it, table-six-7."
    assert cited(text) == ["one-two", "three-4", "table-five", "table-six-7"]


@pytest.mark.parametrize("module", MODULES)
def test_examples_give_what_they_say(module):
    runner = doctest.DocTestRunner(verbose=False)
    output: list[str] = []
    for test in doctest.DocTestFinder().find(module):
        runner.run(test, out=output.append)
    assert not output, "".join(output)


@pytest.mark.parametrize("package", PACKAGES)
def test_public_names_are_exported(package):
    exported = set(importlib.import_module(package).__all__)
    assert {function.__name__ for function in public_functions(package)} <= exported


def _well_written(supply, *, load=None):
    """Current of a supply.

    Parameters
    ----------
    supply : float
        Voltage [V]
    load : float
        Everything connected,
        in parallel [ohm]

    Returns
    -------
    float
        Current [A]

    Raises
    ------
    InputError
        If the supply is negative.

    Notes
    -----
    I = V / R.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> 5.0 / 100.0
    0.05
    """


class TestTheCheckCanFail:
    """The checker itself, on one good docstring and on copies with one fault each."""

    def test_the_good_one(self):
        assert not faults(_well_written)

    @pytest.mark.parametrize(
        ("old", "new", "complaint"),
        [
            ("load : float", "burden : float", "the signature"),
            ("load : float", "load", "no type"),
            ("Voltage [V]", "Voltage", "known unit"),
            ("Voltage [V]", "Voltage [V] of the rail", "known unit"),
            ("in parallel [ohm]", "in parallel [Ohm]", "known unit"),
            ("Current [A]", "Current", "known unit"),
            ("Raises\n    ------", "Raise\n    -----", "sections"),
            ("Notes\n    -----\n    I = V / R.", "Notes\n    -----", "empty"),
            ("Current of a supply.", "Current of a supply", "full stop"),
        ],
    )
    def test_one_fault(self, old, new, complaint):
        def copy(supply, *, load=None):
            return supply, load

        assert old in _well_written.__doc__
        copy.__doc__ = _well_written.__doc__.replace(old, new)
        assert len(faults(copy)) == 1
        assert complaint in faults(copy)[0]

    def test_sections_out_of_order(self):
        def copy(supply, *, load=None):
            return supply, load

        notes = "Notes\n    -----\n    I = V / R.\n\n    "
        examples = _well_written.__doc__.index("Raises")
        copy.__doc__ = _well_written.__doc__.replace(notes, "")
        copy.__doc__ = copy.__doc__[:examples] + notes + copy.__doc__[examples:]
        assert "sections" in faults(copy)[0]
