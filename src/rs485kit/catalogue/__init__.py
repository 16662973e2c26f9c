"""Parts as data, generic ones and those of installed plugins: every figure with its source.

A generic part is a class of its trade ("an eighth of a unit load, slow edges"), never a maker's. Its name is
"generic.<name>"; a plugin's is "<its namespace>.<name>". `names` lists them, `about` says what one is, and `sources`
where each figure comes from. The parts of a plugin are read from its data; none of its code runs.
A source is a named document, or one of three marks: "common practice" (usual in the trade, no document),
"derived: ..." (worked out, from what it says), "memory: ..." (recalled, and so never what a pass rests on).
"""

import copy
import difflib
from collections.abc import Iterator
from typing import TypeVar

from rs485kit import discovery
from rs485kit.catalogue import _shelves
from rs485kit.catalogue._entries import KINDS, NAMESPACE, Entries, Entry, entries
from rs485kit.catalogue._telephone import telephone_cable
from rs485kit.errors import InputError, Problem, UnknownNameError, listed, shown
from rs485kit.model import Cable, IsolatedSupply, Isolator, Protector, TimingProfile, Transceiver
from rs485kit.model.base import LONGEST_NAME

__all__ = [
    "about", "cable", "isolated_supply", "isolator", "names", "part", "protector", "sources", "table",
    "telephone_cable", "timing_profile", "transceiver",
]  # fmt: skip

_T = TypeVar("_T")
_SINGULAR = {
    "transceivers": "transceiver",
    "cables": "cable",
    "isolators": "isolator",
    "isolated_supplies": "isolated supply",
    "protectors": "protector",
    "timing_profiles": "timing profile",
}
_MOST_NEAR = 3


def transceiver(name: str) -> Transceiver:
    """Transceiver of a name.

    Parameters
    ----------
    name : str
        Full name, such as "generic.eighth-load-250-kbit" [-].

    Returns
    -------
    Transceiver
        The frozen part [-].

    Raises
    ------
    UnknownNameError
        If no transceiver bears the name; near names are offered.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> catalogue.transceiver("generic.eighth-load-250-kbit").unit_load
    0.125
    """
    return part(Transceiver, name)


def cable(name: str) -> Cable:
    """Cable of a name.

    Parameters
    ----------
    name : str
        Full name, such as "generic.24-awg-120-ohm" [-].

    Returns
    -------
    Cable
        The frozen part [-].

    Raises
    ------
    UnknownNameError
        If no cable bears the name; near names are offered.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> catalogue.cable("generic.24-awg-120-ohm").conductor_resistance.typ
    0.0842
    """
    return part(Cable, name)


def isolator(name: str) -> Isolator:
    """Isolator of a name.

    Parameters
    ----------
    name : str
        Full name, such as "generic.basic-2500-v" [-].

    Returns
    -------
    Isolator
        The frozen part [-].

    Raises
    ------
    UnknownNameError
        If no isolator bears the name; near names are offered.

    Notes
    -----
    The name holds the withstand voltage for 60 s, which is a test and never a working voltage.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> catalogue.isolator("generic.basic-2500-v").working_voltage_peak
    560.0
    """
    return part(Isolator, name)


def isolated_supply(name: str) -> IsolatedSupply:
    """Isolated supply of a name.

    Parameters
    ----------
    name : str
        Full name, such as "generic.half-watt" [-].

    Returns
    -------
    IsolatedSupply
        The frozen part [-].

    Raises
    ------
    UnknownNameError
        If no isolated supply bears the name; near names are offered.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> catalogue.isolated_supply("generic.half-watt").output_power
    0.5
    """
    return part(IsolatedSupply, name)


def protector(name: str) -> Protector:
    """Protector of a name; the library comes with none.

    Parameters
    ----------
    name : str
        Full name [-].

    Returns
    -------
    Protector
        The frozen part [-].

    Raises
    ------
    UnknownNameError
        If no protector bears the name.
    """
    return part(Protector, name)


def timing_profile(name: str) -> TimingProfile:
    """Timing profile of a name: the silences and time-outs of an open protocol.

    Parameters
    ----------
    name : str
        Full name, such as "generic.modbus-rtu" [-].

    Returns
    -------
    TimingProfile
        The frozen part [-].

    Raises
    ------
    UnknownNameError
        If no timing profile bears the name; near names are offered.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> round(catalogue.timing_profile("generic.modbus-rtu").duration("frame_gap", 9600.0, "8E1") * 1e3, 3)
    4.01
    """
    return part(TimingProfile, name)


def part(kind: type[_T], name: str) -> _T:
    """Part of a class and a name.

    Parameters
    ----------
    kind : type
        Transceiver, Cable, Isolator, IsolatedSupply, Protector or TimingProfile [-].
    name : str
        Full name [-].

    Returns
    -------
    object of that class
        The frozen part [-].

    Raises
    ------
    InputError
        If the catalogue holds no parts of that class.
    UnknownNameError
        If no part of that class bears the name; near names are offered.

    Examples
    --------
    >>> import rs485kit as rk
    >>> from rs485kit import catalogue
    >>> catalogue.part(rk.Isolator, "generic.reinforced-5000-v").insulation
    'reinforced'
    """
    found: _T = _entry(_kind_of(kind), name).part
    return found


def table(kind: type, name: str) -> dict[str, object]:
    """Fields of a part as its data writes them, to derive another part from.

    Parameters
    ----------
    kind : type
        Transceiver, Cable, Isolator, IsolatedSupply, Protector or TimingProfile [-].
    name : str
        Full name [-].

    Returns
    -------
    dict
        The fields without `name`, a copy that is the caller's own: text with units, numbers, and tables of min, typ
        and max [-].

    Raises
    ------
    InputError
        If the catalogue holds no parts of that class.
    UnknownNameError
        If no part of that class bears the name; near names are offered.

    Examples
    --------
    >>> import rs485kit as rk
    >>> from rs485kit import catalogue
    >>> fields = catalogue.table(rk.Cable, "generic.field-bus-type-a")
    >>> rk.Cable(name="canal cable", **{**fields, "reference_resistance": "20 ohm/km"}).reference_resistance.typ
    0.02
    """
    return copy.deepcopy(dict(_entry(_kind_of(kind), name).fields))


def names(kind: str) -> tuple[str, ...]:
    """Full names of the parts of one kind: the generic ones in the order of the catalogue, then plugins' by namespace.

    Parameters
    ----------
    kind : str
        "transceivers", "cables", "isolators", "isolated_supplies", "protectors" or "timing_profiles" [-].

    Returns
    -------
    tuple of str
        The names [-].

    Raises
    ------
    UnknownNameError
        If there is no such kind; near names are offered.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> catalogue.names("isolators")
    ('generic.functional-1000-v', 'generic.basic-2500-v', 'generic.reinforced-5000-v')
    """
    shelves = _shelves.sound_shelves().values()
    known = _known_kind(kind)
    return (*entries(known), *(name for shelf in shelves for name in shelf.get(known, ())))


def about(name: str) -> str:
    """What a part is and what to mind, in plain words.

    Parameters
    ----------
    name : str
        Full name of a part of any kind [-].

    Returns
    -------
    str
        One or a few sentences [-].

    Raises
    ------
    UnknownNameError
        If no part bears the name; near names are offered.
    """
    for kind in _kinds_with(name):
        return _shelf_of(kind, name)[name].about
    raise _unknown("part", name, [full for kind in KINDS for full in names(kind)])


def sources(kind: str, name: str) -> dict[str, str]:
    """Where the figures of a part come from.

    Parameters
    ----------
    kind : str
        "transceivers", "cables", "isolators", "isolated_supplies", "protectors" or "timing_profiles" [-].
    name : str
        Full name [-].

    Returns
    -------
    dict
        For each field a document or a mark; where least, typical and largest value differ in source, each is named,
        as in "min, max: ...; typ: ..." [-].

    Raises
    ------
    UnknownNameError
        If there is no such kind, or no part of it bears the name; near names are offered.

    Examples
    --------
    >>> from rs485kit import catalogue
    >>> catalogue.sources("isolators", "generic.basic-2500-v")["transient_immunity"]
    'common practice'
    """
    return dict(_entry(_known_kind(kind), name).sources)


def _entry(kind: str, name: str) -> Entry:
    _refuse_no_name(name)
    shelf = _shelf_of(kind, name)
    if name in shelf:
        return shelf[name]
    raise _unknown(_SINGULAR[kind], name, list(names(kind)))


def _shelf_of(kind: str, name: str) -> Entries:
    """Return the parts of a kind among which a name would be; those of a plugin are read only when they are asked for.

    Raises
    ------
    InputError
        If the plugin that owns the namespace brings no part data that can be taken.
    """
    namespace, dot, _ = name.partition(".")
    if namespace == NAMESPACE or not dot:
        return entries(kind)
    return _shelves.shelf(namespace).get(kind, {})


def _kind_of(kind: type) -> str:
    for name, cls in KINDS.items():
        if cls is kind:
            return name
    given = kind.__name__ if isinstance(kind, type) else shown(kind)
    raise InputError(Problem("kind", given, "one of the classes " + ", ".join(cls.__name__ for cls in KINDS.values())))


def _known_kind(kind: str) -> str:
    if not isinstance(kind, str):
        raise InputError(Problem("kind", shown(kind), f"one of the names {', '.join(KINDS)}"))
    if kind not in KINDS:
        near = difflib.get_close_matches(kind[:LONGEST_NAME], KINDS, n=_MOST_NEAR)
        raise UnknownNameError("kind of part", kind[:LONGEST_NAME], tuple(near), f"the kinds are {', '.join(KINDS)}")
    return kind


def _kinds_with(name: str) -> Iterator[str]:
    _refuse_no_name(name)
    return (kind for kind in KINDS if name in _shelf_of(kind, name))


def _refuse_no_name(name: object) -> None:
    if not isinstance(name, str) or len(name) > LONGEST_NAME:
        wanted = f'a name of at most {LONGEST_NAME} characters, such as "{NAMESPACE}.24-awg-120-ohm"'
        raise InputError(Problem("name", shown(name), wanted))


def _unknown(kind: str, name: str, known: list[str]) -> UnknownNameError:
    """Return the error for a name that nothing bears; near names are sought by what follows the dot."""
    by_short_name = {full.partition(".")[2]: full for full in known}
    short_name = name.rpartition(".")[2].lower()
    near = [by_short_name[found] for found in difflib.get_close_matches(short_name, by_short_name, n=_MOST_NEAR)]
    return UnknownNameError(kind, name, tuple(near), _hint(name, known, bool(near)))


def _hint(name: str, known: list[str], has_near: bool) -> str:
    for kind in _kinds_with(name):
        return f"that name is a part of another kind: use rs485kit.catalogue.{_SINGULAR[kind].replace(' ', '_')}"
    namespace, dot, _ = name.partition(".")
    if dot and namespace not in (NAMESPACE, *_shelves.namespaces()):
        return discovery.switched_off() or (
            f'no installed plugin brings parts of "{namespace}"; the namespaces known here are '
            f"{listed((NAMESPACE, *_shelves.namespaces()), _MOST_NEAR)}"
        )
    if not known:
        return "the catalogue holds no part of that kind: state your own"
    if not dot:
        return f'built-in parts are named "{NAMESPACE}.<name>"'
    return "" if has_near else "rs485kit.catalogue.names lists what there is"
