"""Whether a part holds to what the library relies on: its figures agree, it travels, and a bus can be made of it."""

import functools
import math
import pickle
from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeAlias

import attrs

from rs485kit import catalogue
from rs485kit.catalogue._entries import KINDS as SHELVES
from rs485kit.checking import check
from rs485kit.errors import InputError, Problem, UnknownNameError
from rs485kit.files import bus_from_mapping, bus_to_mapping
from rs485kit.formulas import propagation_velocity
from rs485kit.model import (
    Barrier,
    Bias,
    Bus,
    Cable,
    IsolatedSupply,
    Isolator,
    Link,
    Node,
    Protector,
    Termination,
    TimingProfile,
    Transceiver,
    daisy_chain,
)
from rs485kit.model.base import shown
from rs485kit.tables import forms, object_from_table, offer, table_from_object
from rs485kit.testing.faults import ConformanceError
from rs485kit.units import MinTypMax

Part: TypeAlias = Transceiver | Cable | Isolator | IsolatedSupply | Protector | Termination | Bias | TimingProfile

# terminators and bias networks are parts of a bus file alone
KINDS = (*SHELVES.values(), Termination, Bias)
MEMORY = "memory:"
# impedance, capacitance and velocity of a cable are measured apart, and printed rounded
OVERDETERMINED = 0.1
MEMBERS = ("min", "typ", "max")


def check_part(part: Part | str, *, needs: str | Iterable[str] = ()) -> None:
    """Hold a part to what the library relies on.

    Its figures are in order and do not contradict one another, the part equals its copy, travels through a pickle, a
    table and a bus file, can be changed by `attrs.evolve`, and a bus can be checked with it. A part that is given by
    name says what it is, and each of its figures has a source.

    Parameters
    ----------
    part : object or str
        A Transceiver, Cable, Isolator, IsolatedSupply, Protector, TimingProfile, Termination or Bias, or the full name
        of a part of the catalogue, of any kind [-].
    needs : str or iterable of str
        Fields that it must state, and not from memory [-].

    Raises
    ------
    ConformanceError
        With every problem that was found.
    InputError
        If what is given is no part, or has no field of such a name.
    UnknownNameError
        If no part bears the name.
    """
    wanted = (needs,) if isinstance(needs, str) else tuple(needs)
    if not isinstance(part, str):
        problems = _problems(part, wanted)
        subject = f'{type(part).__name__} "{part.name}"'
    else:
        subject, problems = f'part "{part}"', []
        for shelf in _shelves(part):
            kind = SHELVES[shelf]
            problems += [*_problems(catalogue.part(kind, part), wanted), *_unsourced(shelf, part, wanted)]
    if problems:
        raise ConformanceError(subject, tuple(problems))


def _shelves(name: str) -> tuple[str, ...]:
    found = tuple(shelf for shelf in SHELVES if name in catalogue.names(shelf))
    if not found:
        known = [each for shelf in SHELVES for each in catalogue.names(shelf)]
        raise UnknownNameError("part", name, (), offer(name, known) or "rs485kit.catalogue.names lists what there is")
    return found


def _problems(part: Any, needs: tuple[str, ...]) -> list[str]:
    if not isinstance(part, KINDS):
        names = ", ".join(kind.__name__ for kind in KINDS)
        raise InputError(Problem("check_part", shown(part), f"one of {names}, or the name of a part"))
    kind: Any = type(part)
    strange = [name for name in needs if name not in forms(kind)]
    if strange:
        cure = offer(strange[0], forms(kind))
        raise InputError(Problem("check_part needs", shown(strange[0]), f"a field of {kind.__name__}", cure))
    lacking = [name for name in needs if getattr(part, name) is None]
    problems = [f"{name} is not stated; take it from the datasheet" for name in lacking]
    for check_of in PART_CHECKS:
        problems += check_of(part)
    return problems


def _unsourced(shelf: str, name: str, needs: tuple[str, ...]) -> Iterator[str]:
    """Give which figures of a part of the catalogue have no source, and which that are needed are from memory."""
    if not catalogue.about(name).strip():
        yield 'nothing says what it is; write in its data about = "..."'
    sources = catalogue.sources(shelf, name)
    for field in catalogue.table(SHELVES[shelf], name):
        source = sources.get(field, "")
        if not source.strip():
            cure = 'name the document in sources, or mark it "common practice", "derived: ..." or "memory: ..."'
            yield f"{field} has no source; {cure}"
        elif field in needs and MEMORY in source:
            yield f"{field} is from memory ({source}), and nothing may rest on it; take it from a document"


# --- figures ---------------------------------------------------------------------------------------------


def order(part: Part) -> Iterator[str]:
    """Give figures of which least, typical and largest value are out of order or not finite."""
    kind: Any = type(part)
    for name in forms(kind):
        value = getattr(part, name)
        if isinstance(value, MinTypMax):
            members = [each for each in (value.min, value.typ, value.max) if each is not None]
            if not members or not all(map(math.isfinite, members)) or members != sorted(members):
                yield f"{name} is {value}; state finite figures with min <= typ <= max"


def agreement(part: Part) -> Iterator[str]:
    """Give figures that contradict one another."""
    if isinstance(part, Cable):
        yield from _line(part)
    elif isinstance(part, Transceiver):
        yield from _not_above(part, "driver_loaded_voltage", "driver_open_voltage", "a load takes from the output")
        yield from _not_above(
            part, "receiver_lower_threshold", "receiver_upper_threshold", "what is between them is undefined"
        )
    elif isinstance(part, Isolator | IsolatedSupply):
        yield from _insulation(part)


def _line(cable: Cable) -> Iterator[str]:
    figures = (cable.characteristic_impedance, cable.capacitance, cable.velocity_factor)
    impedance, capacitance, factor = (None if each is None else each.nominal for each in figures)
    if impedance is None or capacitance is None or factor is None:
        return
    expected = 1.0 / (impedance * float(propagation_velocity(factor)))
    if abs(capacitance - expected) > OVERDETERMINED * expected:
        yield (
            f"capacitance is {1e12 * capacitance:.4g} pF/m, but {impedance:.4g} ohm and a velocity factor of "
            f"{factor:.4g} make {1e12 * expected:.4g} pF/m, C = 1/(Z v c); find which of the three is wrong"
        )


def _not_above(part: Part, low: str, high: str, why: str) -> Iterator[str]:
    lower, upper = getattr(part, low), getattr(part, high)
    if lower is None or upper is None:
        return
    for member in MEMBERS:
        least, most = getattr(lower, member), getattr(upper, member)
        if least is not None and most is not None and least > most:
            yield f"{low} ({member} {least:g} V) is above {high} ({member} {most:g} V); {why}, so correct one of them"


def _insulation(part: Isolator | IsolatedSupply) -> Iterator[str]:
    withstand, rms, peak = part.withstand_voltage_rms, part.working_voltage_rms, part.working_voltage_peak
    cure = "a withstand voltage is a test of 60 s; look for exchanged figures"
    if withstand is not None and rms is not None and withstand < rms:
        yield f"withstand_voltage_rms ({withstand:g} V) is below working_voltage_rms ({rms:g} V); {cure}"
    if withstand is not None and peak is not None and math.sqrt(2.0) * withstand < peak:
        yield (
            f"withstand_voltage_rms ({withstand:g} V, {math.sqrt(2.0) * withstand:.4g} V peak) is below "
            f"working_voltage_peak ({peak:g} V); {cure}"
        )
    if rms is not None and peak is not None and peak < rms:
        yield f"working_voltage_peak ({peak:g} V) is below working_voltage_rms ({rms:g} V); no peak is: look again"


# --- travel ----------------------------------------------------------------------------------------------


def copies(part: Part) -> Iterator[str]:
    """Give whether the part is another after a change of nothing or a pickle."""
    ways: tuple[tuple[str, Callable[[], object]], ...] = (
        ("a change of nothing by attrs.evolve", lambda: attrs.evolve(part)),
        ("a pickle", lambda: pickle.loads(pickle.dumps(part))),
    )
    for words, make in ways:
        try:
            copy = make()
            same = copy == part and hash(copy) == hash(part)
        except Exception as error:
            yield f"{words} raises {_told(error)}; use the classes of rs485kit as they are"
            continue
        if not same:
            yield f"after {words} it is another part, or has another hash; use the classes of rs485kit as they are"


def tables(part: Part) -> Iterator[str]:
    """Give whether the part cannot be written as a table and read back, by itself or in the file of a bus."""
    bus = bus_with(part)
    ways: tuple[tuple[str, object, Callable[[], object]], ...] = (
        ("a table", part, lambda: object_from_table(type(part), table_from_object(part), place="part")),
        ("the file of a bus", bus, lambda: bus_from_mapping(bus_to_mapping(bus))),
    )
    for words, given, travel in ways:
        try:
            back = travel()
        except Exception as error:
            yield f"in {words} it is refused ({_told(error)}); give every field what its class takes"
            continue
        if back != given:
            yield f"from {words} it comes back as another part; give every field what its class takes"


def use(part: Part) -> Iterator[str]:
    """Give what goes wrong when a bus with the part is checked."""
    try:
        report = check(bus_with(part), plugins=False)
    except Exception as error:
        yield f"a check of a bus with it raises {_told(error)}; give every field what its class takes"
        return
    for stopped in report.plugin_errors:
        yield f"a check of a bus with it stops {stopped.name} ({stopped.cause}); give every field what its class takes"


def _told(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"


# --- a bus to try it on ----------------------------------------------------------------------------------


def bus_with(part: Part) -> Bus:
    """Return a small bus, complete in itself, with a part in its place.

    Parameters
    ----------
    part : object
        The part [-].

    Returns
    -------
    Bus
        A pump house and a gate on 100 m of cable [-].
    """
    end = Termination(resistance=120.0)
    bias = Bias(pull_up=560.0, pull_down=560.0, supply=5.0)
    head = Node(name="pump-house", transceiver=_transceiver(), terminations=end, biases=bias)
    gate = Node(name="gate", transceiver=_transceiver(), terminations=end)
    cable = part if isinstance(part, Cable) else _cable()
    link = Link(data_rate=9600.0, profile=part if isinstance(part, TimingProfile) else None)
    match part:
        case Transceiver():
            head, gate = (attrs.evolve(node, transceiver=part) for node in (head, gate))
        case Isolator():
            gate = attrs.evolve(gate, barrier=Barrier(isolator=part))
        case IsolatedSupply():
            gate = attrs.evolve(gate, barrier=Barrier(supply=part))
        case Protector():
            gate = attrs.evolve(gate, protectors=part)
        case Termination():
            gate = attrs.evolve(gate, terminations=part)
        case Bias():
            head = attrs.evolve(head, biases=part)
    return daisy_chain(
        [head, gate], spacing=100.0, cable=cable, link=link, name="a pump house and a gate"
    )  # fmt: skip


@functools.cache
def _transceiver() -> Transceiver:
    return Transceiver(
        name="plain", unit_load=1.0, supply_voltage=5.0, receiver_upper_threshold=0.2, receiver_lower_threshold=-0.2,
        driver_open_voltage=MinTypMax(min=1.5, typ=3.5, max=5.0),
        driver_loaded_voltage=MinTypMax(min=1.5, typ=2.0, max=5.0),
    )  # fmt: skip


@functools.cache
def _cable() -> Cable:
    return Cable(
        name="pair", conductor_resistance=0.0842, characteristic_impedance=120.0, velocity_factor=0.66
    )  # fmt: skip


PART_CHECKS: tuple[Callable[[Any], Iterator[str]], ...] = (order, agreement, copies, tables, use)
