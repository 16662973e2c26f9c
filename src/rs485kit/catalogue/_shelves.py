"""Parts of other namespaces: the TOML file that an installed plugin names, found and read without running its code."""

import functools
import importlib.util
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TypeAlias

from rs485kit import discovery
from rs485kit.catalogue._entries import KINDS, NAMESPACE, Entries, entries_from_tables, parsed
from rs485kit.discovery import Claim, Flaw
from rs485kit.errors import InputError, Problem, Rs485kitError, shown

Shelf: TypeAlias = Mapping[str, Entries]

LARGEST_FILE = 1_000_000
_RESERVED = frozenset({NAMESPACE, "rs485kit"})
_VALUE = re.compile(r"(?P<package>[A-Za-z_]\w*):(?P<file>\w+\.toml)", re.ASCII)
_WANTED = "a top-level package and a TOML file in its folder, as in canal_rules:parts.toml"


def namespaces() -> tuple[str, ...]:
    """Return the namespaces of parts that installed plugins own, sorted."""
    return tuple(sorted(discovery.owners(discovery.PARTS, _RESERVED).claims))


def owner(namespace: str) -> Claim | None:
    """Return the claim that owns a namespace of parts, or None where nobody does."""
    return discovery.owners(discovery.PARTS, _RESERVED).claims.get(namespace)


def shelf(namespace: str) -> Shelf:
    """Return the parts of a plugin's namespace by kind and full name; none where nobody owns the namespace.

    Raises
    ------
    InputError
        If the plugin that owns it, or claims it, brings no part data that can be taken, with the reasons.
    """
    found = discovery.owners(discovery.PARTS, _RESERVED)
    claim = found.claims.get(namespace)
    if claim is not None:
        return _read(claim)
    refused = [flaw for flaw in found.flaws if flaw.name == namespace]
    if refused:
        raise InputError(Problem(f'parts of "{namespace}"', "claims that are refused", "one owner", refused[0].cause))
    return {}


def sound_shelves() -> dict[str, Shelf]:
    """Return the parts of every plugin whose data can be taken, by namespace."""
    result = {}
    for namespace in namespaces():
        try:
            result[namespace] = shelf(namespace)
        except Rs485kitError:
            continue  # `flaws` says why; who asks for one of its parts by name is told at once
    return result


def flaws() -> tuple[Flaw, ...]:
    """Return what is wrong with the installed part data: claims that are refused, and data that does not validate."""
    found = discovery.owners(discovery.PARTS, _RESERVED)
    result = list(found.flaws)
    for name, claim in found.claims.items():
        try:
            _read(claim)
        except Rs485kitError as error:
            result.append(Flaw(name, claim.package, claim.version, str(error)))
    return tuple(result)


def _read(claim: Claim) -> Shelf:
    path = _file(claim)
    try:
        state = path.stat()
    except OSError as error:
        raise _unusable(claim, f"{path.name}, which cannot be read ({error.strerror})", _WANTED) from None
    read = _content(claim, path, state.st_size, state.st_mtime_ns)
    if isinstance(read, InputError):
        raise InputError(*read.problems, source=read.source)
    return read


@functools.lru_cache(maxsize=256)
def _content(claim: Claim, path: Path, size: int, modified: int) -> Shelf | InputError:
    """Read a file once for each of its states, so that part data under work needs no new process."""
    try:
        if size > LARGEST_FILE:
            raise _unusable(claim, f"{path.name} of {size} bytes", f"a file of at most {LARGEST_FILE} bytes")
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, ValueError) as error:
            raise _unusable(claim, f"{path.name}, which cannot be read ({error})", "a text file in UTF-8") from None
        return _shelf(claim.name, text, source=f"{claim.package} {claim.version}, {path.name}")
    except InputError as error:
        return error


def _shelf(namespace: str, text: str, *, source: str) -> Shelf:
    """Read the parts of every kind from one text.

    Raises
    ------
    InputError
        With everything that is wrong; a file is taken whole or not at all.
    """
    document = parsed(text, source=source)
    result: dict[str, Entries] = {}
    problems: list[Problem] = []
    for group, tables in document.items():
        if group not in KINDS or not isinstance(tables, Mapping):
            wanted = f"tables of parts by kind: {', '.join(KINDS)}"
            problems.append(Problem(group, shown(tables), wanted, "as in [transceivers.outdoor-gate]"))
            continue
        try:
            result[group] = entries_from_tables(tables, KINDS[group], namespace=namespace, source=source)
        except InputError as error:
            problems += [problem.under(group) for problem in error.problems]
    problems += _doubled(result)
    if problems:
        raise InputError(*problems, source=source)
    return result


def _doubled(shelf: Shelf) -> list[Problem]:
    """Return a problem for every name that parts of two kinds bear."""
    kinds: dict[str, list[str]] = {}
    for group, entries in shelf.items():
        for name in entries:
            kinds.setdefault(name, []).append(group)
    wanted = "a name for one part only"
    return [Problem(name, f"a part of {' and of '.join(of)}", wanted) for name, of in kinds.items() if len(of) > 1]


def _file(claim: Claim) -> Path:
    """Return the file that a claim names; the package is looked for, never imported.

    Raises
    ------
    InputError
        If the claim names none, or the package is not a folder.
    """
    match = _VALUE.fullmatch(claim.value)
    if match is None:
        raise _unusable(claim, f'the value "{claim.value}"', _WANTED)
    package = match["package"]
    try:
        spec = importlib.util.find_spec(package)
    except Exception as error:
        raise _unusable(claim, f"{package}, which cannot be looked for ({error})", _WANTED) from None
    if spec is None:
        cure = "install it again; where it was installed with pip install -e, its folder may have moved"
        raise _unusable(claim, f"{package}, which is not installed", _WANTED, cure)
    folders = [Path(each) for each in spec.submodule_search_locations or ()]
    if not folders:
        raise _unusable(claim, f"{package}, which is a single module", _WANTED)
    for folder in folders:
        if (folder / match["file"]).is_file():
            return folder / match["file"]
    if not any(folder.is_dir() for folder in folders):
        cure = "install the package unpacked, as pip does"
        raise _unusable(claim, f"{package}, which lies inside an archive", "a package in a folder", cure)
    raise _unusable(claim, f"{package}, which has no file {match['file']}", _WANTED, "add it to the wheel")


def _unusable(claim: Claim, given: str, wanted: str, cure: str = "") -> InputError:
    place = f'entry point "{claim.name}" of {discovery.PARTS}'
    return InputError(Problem(place, given, wanted, cure), source=f"{claim.package} {claim.version}")
