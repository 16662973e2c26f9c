"""The law of names: every public name is in the glossary with its unit, and no module hides a name of its parent."""

import csv
import importlib
import inspect
import pkgutil
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import attrs
import pytest

import rs485kit
from rs485kit import analysis, catalogue, errors, files, formulas, model, rules, testing
from rs485kit.report import summary

DOCS = Path(__file__).parents[2] / "docs"
GLOSSARY = DOCS / "reference" / "glossary"
UNIT = re.compile(r"\[([^\[\]]+)\]\.?$")
LINE_LETTERS = {"a", "b", "ab", "ba"}
# names of two places in the methods of a bus, as in "from a to b"; no lines
PLACES = {"a", "b"}
DOCUMENTED = {
    "rs485kit": rs485kit,
    "rs485kit.analysis": analysis,
    "rs485kit.catalogue": catalogue,
    "rs485kit.files": files,
    "rs485kit.formulas": formulas,
    "rs485kit.testing": testing,
}
# what the interface offers for annotations alone
TYPES = {
    *("FloatOrArray", "Numbers", "ComplexOrArray", "ComplexNumbers"),
    *("SupplyState", "CableType", "TelephonePair", "ReferencePair"),
    *("FieldKind", "VoltageKind", "Grade", "MaterialGroup", "Neutral", "OvervoltageDuration"),
    *("BurstPort", "DischargeWay", "DischargeMoment", "SurgeCoupling"),
    *("ComponentStandard", "ComponentInsulation", "DischargeStage"),
}


def glossary() -> dict[str, set[str]]:
    """Return the units of each term."""
    terms: dict[str, set[str]] = defaultdict(set)
    for path in sorted(GLOSSARY.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                terms[row["term"]].add(row["unit"].strip("[]"))
    return terms


TERMS = glossary()


def public(module: ModuleType) -> list[Any]:
    return [getattr(module, name) for name in module.__all__ if not inspect.ismodule(getattr(module, name))]


def objects() -> dict[str, Any]:
    """Return every public class and function by its full name, the classes of results and reports included."""
    modules = (rs485kit, analysis, catalogue, files, formulas, model, rules, testing)
    found = [each for module in modules for each in public(module)]
    found += classes_of(errors)
    for module in (summary, *submodules(analysis)):
        found += [each for each in classes_of(module) if attrs.has(each)]
    return {
        f"{each.__module__}.{each.__qualname__}": each
        for each in found
        if inspect.isclass(each) or inspect.isfunction(each)
    }


def classes_of(module: ModuleType) -> list[type]:
    """Return the public classes that a module defines."""
    return [
        value
        for name, value in vars(module).items()
        if not name.startswith("_") and inspect.isclass(value) and value.__module__ == module.__name__
    ]


def submodules(package: ModuleType) -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        yield importlib.import_module(found.name)


def parameters(function: Any) -> list[str]:
    """Return the names of the parameters of a function, or of `__init__` where a class has one of its own."""
    if inspect.isclass(function):
        function = vars(function).get("__init__", lambda: None)
    return [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]


def names_of(thing: Any) -> dict[str, str | None]:
    """Return the names that a class or function shows to its user, with the unit where the object tells it."""
    if not inspect.isclass(thing):
        return dict.fromkeys(parameters(thing))
    names: dict[str, str | None] = {}
    if attrs.has(thing):
        names.update({each.name: each.metadata.get("unit") for each in attrs.fields(thing) if each.init})
    else:
        names.update(dict.fromkeys(parameters(thing)))
    for name, member in vars(thing).items():
        if name.startswith("_"):
            continue
        if isinstance(member, property):
            names[name] = None
        elif inspect.isfunction(member) or isinstance(member, classmethod | staticmethod):
            function = member if inspect.isfunction(member) else member.__func__
            names.update({each: names.get(each) for each in parameters(function)})
    return names


OBJECTS = objects()


def test_there_are_names_to_hold_against_the_glossary():
    assert len(TERMS) > 200
    assert {"rs485kit.model.bus.Bus", "rs485kit.formulas.bias.idle_voltage"} <= set(OBJECTS)
    assert "resistance" in names_of(model.Termination)
    assert names_of(model.Termination)["resistance"] == "ohm"


@pytest.mark.parametrize("name", OBJECTS)
def test_names_and_their_units_are_in_the_glossary(name):
    wanted = names_of(OBJECTS[name])
    absent = sorted(name for name in wanted if name not in TERMS)
    assert not absent, "not in docs/reference/glossary"
    strange = {each: unit for each, unit in wanted.items() if unit is not None and (unit or "-") not in TERMS[each]}
    assert not strange, "in the glossary with another unit"


@pytest.mark.parametrize(
    "name", [name for name, each in OBJECTS.items() if each.__module__.startswith("rs485kit.formulas")]
)
def test_units_of_formulas_are_in_the_glossary(name):
    function = OBJECTS[name]
    wanted = names_of(function)
    text = inspect.cleandoc(function.__doc__).partition("Returns\n")[0]
    described = re.findall(r"^(\w+) : .*\n((?: {4}.*\n?)+)", text, re.MULTILINE)
    units = {each: UNIT.search(" ".join(lines.split())).group(1) for each, lines in described}
    assert set(units) == set(wanted)
    assert not {each: unit for each, unit in units.items() if unit not in TERMS[each]}


def test_the_glossary_has_no_name_that_nothing_bears():
    borne = {each for thing in OBJECTS.values() for each in names_of(thing)} | {"q"}
    idle = sorted(name for name in TERMS if name not in borne)
    assert not idle


@pytest.mark.parametrize("path", sorted(GLOSSARY.glob("*.csv")), ids=lambda path: path.stem)
def test_rows_of_the_glossary_are_complete_and_sorted(path):
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert rows
    assert all(row[column].strip() for row in rows for column in ("term", "unit", "meaning", "source"))
    keys = [(row["term"], row["unit"].strip("[]")) for row in rows]
    assert keys == sorted(set(keys))


@pytest.mark.parametrize("name", OBJECTS)
def test_no_line_is_named_by_a_letter(name):
    words = {each: set(each.lower().split("_")) for each in (*names_of(OBJECTS[name]), name.rpartition(".")[2])}
    assert not {each for each, parts in words.items() if parts & LINE_LETTERS and each not in PLACES}


def test_no_module_bears_a_public_name_of_its_parent():
    """A later import of such a module would put itself in the place of the function or class."""
    hidden = []
    for package in (rs485kit, *(module for module in submodules(rs485kit) if hasattr(module, "__path__"))):
        inside = {found.name for found in pkgutil.iter_modules(package.__path__)}
        names = inside & set(getattr(package, "__all__", ()))
        hidden += [f"{package.__name__}.{name}" for name in names if not inspect.ismodule(getattr(package, name))]
    assert not hidden


@pytest.mark.parametrize("module", DOCUMENTED)
def test_every_public_name_is_on_a_page_of_the_interface(module):
    text = "\n".join(path.read_text(encoding="utf-8") for path in sorted((DOCS / "reference").glob("api*.rst")))
    places = set()
    for line in text.splitlines():
        if match := re.match(r"\.\. (?:currentmodule|module|automodule):: (\S+)", line):
            current = match[1]
        elif match := re.match(r"\.\. auto(?:class|function|exception):: (\S+)", line):
            places.add(f"{current}.{match[1]}")
    names = [name for name in DOCUMENTED[module].__all__ if not inspect.ismodule(getattr(DOCUMENTED[module], name))]
    listed_elsewhere = {name for name in names if f"rs485kit.{name}" in places}
    assert not [name for name in names if f"{module}.{name}" not in places and name not in listed_elsewhere | TYPES]
