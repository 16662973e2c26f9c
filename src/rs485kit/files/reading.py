"""TOML -> Bus: what may be read, checked before the parser sees it, and errors with the lines they stand on.

Python's parser takes seconds for one long dotted key, overflows its stack on nested brackets and refuses very long
integers with an error of another type. So size, line length, key length and nesting are bounded beforehand.
"""

import codecs
import os
import re
import tomllib
from pathlib import Path
from typing import IO, Any, NamedTuple, TypeAlias

from rs485kit.errors import InputError, Problem, shown
from rs485kit.files.lines import lines_of
from rs485kit.files.mapping import bus_from_mapping
from rs485kit.model import Bus

Source: TypeAlias = str | os.PathLike[str] | IO[bytes] | IO[str]

MOST_BYTES = 1_000_000
MOST_IN_LINE = 4000
MOST_KEY_PARTS = 8
MOST_NESTED = 16

# what brackets and dots may not be sought in comes first; a string that is not closed ends with its line or the text
_TOKEN = re.compile(
    r'''(?P<text>"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*+(?:"{3,5})?|\'\'\'(?:[^']|'{1,2}(?!'))*+(?:'{3,5})?'''
    r"""|"(?:[^"\\\n]|\\.)*+"?|'[^'\n]*+'?)|(?P<comment>\#[^\n]*+)"""
    r"""|(?P<open>[\[{])|(?P<close>[\]}])|(?P<dot>\.)|(?P<end>[\n=,])"""
)


def load_bus(path_or_stream: Source) -> Bus:
    """Return the bus that a TOML file describes.

    Parameters
    ----------
    path_or_stream : str, path-like, or stream
        Path of the file, or a binary or text stream [-].

    Returns
    -------
    Bus
        The bus [-].

    Raises
    ------
    InputError
        If the file cannot be read, is no UTF-8, is too large or too deeply nested, is no TOML, or does not describe
        a bus; with every problem of the last kind, each with its place and, where it can be told, its line.
    """
    document = read_document(path_or_stream)
    try:
        return bus_from_mapping(document.tables)
    except InputError as error:
        raise located(error, document) from None


class Document(NamedTuple):
    """A TOML text that the parser took: the name of its source, the text, and what the parser made of it."""

    name: str
    text: str
    tables: dict[str, object]


def read_document(path_or_stream: Source) -> Document:
    """Return what a TOML file holds, once its size, lines, keys and nesting are known to be harmless.

    Parameters
    ----------
    path_or_stream : str, path-like, or stream
        Path of the file, or a binary or text stream [-].

    Returns
    -------
    Document
        Name, text and tables [-].

    Raises
    ------
    InputError
        If the file cannot be read, is no UTF-8, is too large or too deeply nested, or is no TOML.
    """
    name, content = _content(path_or_stream)
    try:
        text = _decoded(content)
        _refuse_excess(text)
        return Document(name, text, _parsed(text))
    except InputError as error:
        raise InputError(*error.problems, source=name) from None


def located(error: InputError, document: Document, *, within: str = "") -> InputError:
    """Return an error about the tables of a document with its source, and with lines where they can be told.

    Parameters
    ----------
    error : InputError
        What was found wrong, by places in the tables [-].
    document : Document
        Where it was found [-].
    within : str
        What to put before every place [-].

    Returns
    -------
    InputError
        The same problems, in the order of their lines [-].
    """
    lines = lines_of(document.text, document.tables)
    problems = [Problem(p.place, p.given, p.wanted, p.cure, lines.of(p.place)) for p in error.problems]
    problems.sort(key=lambda problem: problem.line or 0)
    return InputError(*(p.under(within) if within else p for p in problems), source=document.name)


# --- getting the content ---------------------------------------------------------------------------------


def _content(source: Any) -> tuple[str, bytes]:
    """Return the name of a source and what is in it."""
    if isinstance(source, str | os.PathLike):
        name = os.fsdecode(source)
        try:
            with Path(name).open("rb") as stream:
                return name, _read(stream, name)
        except (OSError, ValueError) as error:
            raise _unreadable(name, error) from None
    if not callable(getattr(source, "read", None)):
        raise InputError(Problem("", shown(source), "the path of a file, or an open stream"))
    label = getattr(source, "name", None)
    name = label if isinstance(label, str) else "stream"
    try:
        return name, _read(source, name)
    except (OSError, ValueError) as error:
        raise _unreadable(name, error) from None


def _read(stream: Any, name: str) -> bytes:
    """Read a stream to its end, but hardly more than is allowed."""
    content = bytearray()
    while len(content) <= MOST_BYTES:
        chunk = stream.read(MOST_BYTES + 1 - len(content))
        if not isinstance(chunk, str | bytes):
            raise InputError(
                Problem("", f"a stream that reads {shown(chunk)}", "a stream of text or bytes"), source=name
            )
        if not chunk:
            return bytes(content)
        content += chunk.encode("utf-8", "surrogatepass") if isinstance(chunk, str) else chunk
    given = f"more than {MOST_BYTES} bytes"
    raise InputError(Problem("", given, f"a file of at most {MOST_BYTES} bytes"), source=name)


def _unreadable(name: str, error: Exception) -> InputError:
    if isinstance(error, InputError):
        return error
    if isinstance(error, UnicodeDecodeError):
        return InputError(
            Problem("", "bytes that are not UTF-8", "text in UTF-8", "save the file as UTF-8"), source=name
        )
    why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return InputError(Problem("", f"a file that cannot be read ({why})", "the path of a TOML file"), source=name)


# --- what the parser may not see -------------------------------------------------------------------------


def _decoded(content: bytes) -> str:
    marks = (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    if content.startswith(marks):
        raise InputError(
            Problem("", "a byte-order mark", "UTF-8 without one", "save the file as plain UTF-8", line=1)
        )  # fmt: skip
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        line = before.count(b"\n") + 1
        column = error.start - (before.rfind(b"\n") + 1) + 1
        given = f"the byte 0x{content[error.start]:02x} as number {column} of the line"
        raise InputError(Problem("", given, "text in UTF-8", "save the file as UTF-8", line)) from None
    return text.replace("\r\n", "\n")


def _refuse_excess(text: str) -> None:
    """Refuse lines, dotted keys and nesting that would keep the parser busy or break it."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > MOST_IN_LINE:
            given = f"{len(line)} characters in one line"
            raise InputError(Problem("", given, f"at most {MOST_IN_LINE}", "break the line within a list", number))
    depth = dots = 0
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        if kind == "dot":
            dots += 1
        elif kind != "text":
            dots = 0
        if kind == "open":
            depth += 1
        elif kind == "close":
            depth = max(depth - 1, 0)
        if dots >= MOST_KEY_PARTS or depth > MOST_NESTED:
            number = text.count("\n", 0, token.start()) + 1
            if depth > MOST_NESTED:
                raise InputError(Problem("", f"more than {MOST_NESTED} brackets in one another", "fewer", line=number))
            given = f"a dotted key of more than {MOST_KEY_PARTS} parts"
            raise InputError(Problem("", given, f"at most {MOST_KEY_PARTS}", line=number))


def _parsed(text: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        said = str(error)
        match = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", said)
        why = said[: match.start()] if match else said
        line = int(match[1]) if match and match[1] else (text.count("\n") + 1 if match else None)
        raise InputError(Problem("", "text that is no TOML", "TOML 1.0", _sentence(why), line)) from None


def _sentence(text: str) -> str:
    return f"the parser says: {text[:1].lower()}{text[1:200]}"
