"""What the text of a rule and of its findings must hold: headings, sentences, figures and places that exist."""

from collections.abc import Callable, Iterator

from rs485kit import units
from rs485kit.errors import InputError, listed
from rs485kit.model import Bus
from rs485kit.rules import Finding, Parameter, Place, Rule
from rs485kit.rules.explanation import sections

HEADINGS = ("What it checks", "Why it matters", "Limit and source", "When to waive")
SHOWN = 3


# --- the rule --------------------------------------------------------------------------------------------


def undocumented(rule: Rule) -> Iterator[str]:
    """Give what the documentation of a rule lacks."""
    parts = sections(rule.documentation)
    if not parts[0][1]:
        yield "its documentation says nothing before its first heading; begin the docstring with the fault in one line"
    titles = [title for title, _ in parts[1:]]
    if titles != list(HEADINGS):
        yield (
            f"its documentation has the headings {', '.join(titles) or 'none'}; give its function a docstring with "
            f"{', '.join(HEADINGS)}, in this order, each underlined with as many hyphens as it has characters"
        )
    for title, text in parts[1:]:
        if title in HEADINGS and not text:
            yield f'there is no text under the heading "{title}" of its documentation; write some'


def unlabelled(rule: Rule) -> Iterator[str]:
    """Give what is wrong with the title and source of a rule, and with what it says of its parameters."""
    if not _one_line(rule.title):
        yield f"its title is {rule.title!r}; write the fault in one line without blanks at its ends"
    if rule.source and not _one_line(rule.source):
        yield f"its source is {rule.source!r}; name the document in one line, or leave the source out"
    for each in rule.parameters:
        yield from _parameter(rule, each)


def _parameter(rule: Rule, each: Parameter) -> Iterator[str]:
    if not _one_line(each.meaning):
        yield f"its parameter {each.name} has the meaning {each.meaning!r}; say in one line what it is"
    try:
        read = each.value(each.default, rule.name)
    except InputError as error:
        yield f"the default of its parameter {each.name} is refused; {error}"
        return
    if read != each.default:
        yield f"the default of its parameter {each.name}, {each.default!r}, is read as {read!r}; make it a float"


# --- its findings ----------------------------------------------------------------------------------------


def ill_formed(findings: tuple[Finding, ...], bus: Bus) -> Iterator[str]:
    """Give what is wrong with the form of findings, one sentence for each fault with the places that have it."""
    for fault, cure in _FAULTS:
        places = tuple(dict.fromkeys(str(found.where) for found in findings if fault(found, bus)))
        if places:
            yield f"the finding at {listed(places, SHOWN)} {cure}"


def _one_line(text: str) -> bool:
    return bool(text) and text == text.strip() and len(text.splitlines()) == 1


def _bad_message(found: Finding, _: Bus) -> bool:
    return not _one_line(found.message)


def _no_remedy(found: Finding, _: Bus) -> bool:
    return found.verdict != "pass" and not found.remedy


def _bad_remedy(found: Finding, _: Bus) -> bool:
    return bool(found.remedy) and not _one_line(found.remedy)


def _nowhere(found: Finding, bus: Bus) -> bool:
    return not exists(found.where, bus)


def exists(where: Place, bus: Bus) -> bool:
    """Return whether a place is on a bus."""
    if where.kind == "segment":
        return any({each.start, each.end} == set(where.names) for each in bus.segments)
    if where.kind == "barrier":
        return where.names[0] in bus.barriers
    known = {each.name for each in (bus.earths if where.kind == "earth" else bus.nodes)}
    return set(where.names) <= known


def _figures(found: Finding) -> bool:
    return any(each is not None for each in (found.measured, found.bound, found.limit))


def _unnamed_figure(found: Finding, _: Bus) -> bool:
    return _figures(found) and not found.quantity


def _strange_unit(found: Finding, _: Bus) -> bool:
    return _figures(found) and _si_of(found.unit) != found.unit


def _no_sense(found: Finding, _: Bus) -> bool:
    return found.limit is not None and found.measured is not None and found.sense is None


def _no_scale(found: Finding, _: Bus) -> bool:
    return found.sense is not None and found.limit == 0 and not found.scale


_FAULTS: tuple[tuple[Callable[[Finding, Bus], bool], str], ...] = (
    (_bad_message, "has a message that is not one line, or has blanks at its ends; write one sentence"),
    (_no_remedy, "has no remedy; say in it what to do"),
    (_bad_remedy, "has a remedy that is not one line, or has blanks at its ends; write one sentence"),
    (_nowhere, "is at a place that the bus does not have; name what is on the bus"),
    (_unnamed_figure, "has figures and no quantity; name what was measured"),
    (_strange_unit, 'has figures in a unit that is not SI; give them in SI, and a bare number with the unit ""'),
    (_no_sense, "has a limit but no sense, so that the reserve cannot be kept; build it with at_least or at_most"),
    (_no_scale, "has a limit of 0 and no scale, so that it cannot be put in order; give at_least or at_most a scale"),
)


# --- units -----------------------------------------------------------------------------------------------


def _si_of(unit: str) -> str | None:
    """Return the SI unit of the library that measures the same as a unit, the unit itself if none does."""
    for known in sorted({*units.UNITS_OF.values()}):
        try:
            return unit if units.si(f"1 {unit}".strip() if unit else 1.0, known) == 1.0 else known
        except InputError:
            continue
    return unit if _is_unit(unit) else None


def _is_unit(unit: str) -> bool:
    try:
        return units.si(f"1 {unit}", unit) == 1.0
    except (InputError, LookupError):
        return False
