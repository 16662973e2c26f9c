"""Where in a TOML text each value stands, so that an error can name its line.

The text has been parsed already, so it is known to be right; this walk only follows its keys and brackets.
"""

import bisect
import re
import tomllib
from typing import Any, NamedTuple, TypeAlias

from rs485kit.tables import field_place, item_place, named_place

Path: TypeAlias = tuple[str | int, ...]

# where settings by rule stand in a bus file and in a policy file
_SETTINGS: tuple[Path, ...] = (("bus", "policy", "settings"), ("settings",))
_SPACE = re.compile(r"(?:[ \t\n]|#[^\n]*)*+")
_KEY = re.compile(r""""(?:[^"\\\n]|\\.)*+"|'[^'\n]*+'|[A-Za-z0-9_-]+""")
_SCALAR = re.compile(
    r'''"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*+"{3,5}|\'\'\'(?:[^']|'{1,2}(?!'))*+'{3,5}'''
    r"""|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+'|[^\[\]{},#\n]+"""
)


class Lines(NamedTuple):
    """Lines by place as errors name it, None where several values share a place; implied ones apart.

    A table is implied where only what is in it is written, such as `bus` by the header [bus.policy].
    """

    stated: dict[str, int | None]
    implied: dict[str, int | None]

    def of(self, place: str) -> int | None:
        """Return the line of a place, or of the nearest place around it that is stated."""
        if place in self.implied and place not in self.stated:
            return self.implied[place]
        while place and place not in self.stated:
            place = place[: max(place.rfind("."), place.rfind("["), 0)]
        return self.stated.get(place)


def lines_of(text: str, document: dict[str, object]) -> Lines:
    """Return the line of every place of a document.

    Parameters
    ----------
    text : str
        TOML that the parser takes [-].
    document : dict
        What the parser made of it [-].

    Returns
    -------
    Lines
        Lines, counted from 1 [-].
    """
    walk = _Walk(text)
    walk.document()
    return Lines(_by_place(walk.stated, document), _by_place(walk.implied, document))


def _by_place(lines: dict[Path, int], document: dict[str, object]) -> dict[str, int | None]:
    result: dict[str, int | None] = {}
    for path, line in lines.items():
        place = _place(path, document)
        result[place] = None if place in result else line
    return result


def _place(path: Path, document: Any) -> str:
    place = ""
    value = document
    for depth, step in enumerate(path):
        value = value[step]
        if isinstance(step, int):
            place = item_place(place, step, value)
        elif (path[0] == "parts" and depth == 2) or path[:depth] in _SETTINGS:
            place = named_place(place, step)
        else:
            place = field_place(place, step)
    return place


class _Walk:
    """One pass over a text that notes the line of every key and every item of a list."""

    def __init__(self, text: str) -> None:
        self.stated: dict[Path, int] = {}
        self.implied: dict[Path, int] = {}
        self._text = text
        self._position = 0
        self._starts = [0, *(match.end() for match in re.finditer("\n", text))]

    def document(self) -> None:
        """Walk over the whole text."""
        header: Path = ()
        items: dict[Path, int] = {}
        while self._next() != "":
            start = self._position
            if self._next() != "[":
                self._pair(header)
                continue
            brackets = 2 if self._text.startswith("[[", start) else 1
            self._position += brackets
            keys = self._keys()
            self._position += brackets
            header = ()
            for depth, key in enumerate(keys, 1):
                header = (*header, key)
                if brackets == 2 and depth == len(keys):
                    items[header] = items.get(header, -1) + 1
                if header in items:
                    header = (*header, items[header])
            self._note(header, start)

    def _pair(self, above: Path) -> None:
        self._next()
        start = self._position
        path = (*above, *self._keys())
        self._note(path, start)
        self._position += 1  # the equals sign
        self._value(path)

    def _value(self, path: Path) -> None:
        opening = self._next()
        if opening not in ("[", "{"):
            match = _SCALAR.match(self._text, self._position)
            self._position = match.end() if match else len(self._text)
            return
        closing = "]" if opening == "[" else "}"
        self._position += 1
        index = 0
        while self._next() != closing:
            if opening == "[":
                self._note((*path, index), self._position)
                self._value((*path, index))
                index += 1
            else:
                self._pair(path)
            if self._next() == ",":
                self._position += 1
        self._position += 1

    def _keys(self) -> tuple[str, ...]:
        """Move over a dotted key and the space after it, and return its parts."""
        keys = []
        while True:
            self._next()
            match = _KEY.match(self._text, self._position)
            assert match is not None
            keys.append(_key(match[0]))
            self._position = match.end()
            if self._next() != ".":
                return tuple(keys)
            self._position += 1

    def _next(self) -> str:
        """Move over space and comments, and return the character that follows, empty at the end."""
        match = _SPACE.match(self._text, self._position)
        self._position = match.end() if match else self._position
        return self._text[self._position : self._position + 1]

    def _note(self, path: Path, position: int) -> None:
        line = bisect.bisect_right(self._starts, position)
        self.stated.setdefault(path, line)
        for depth in range(1, len(path)):
            self.implied.setdefault(path[:depth], line)


def _key(token: str) -> str:
    if token[0] == "'":
        return token[1:-1]
    if token[0] != '"':
        return token
    # the parser itself knows the escapes
    return str(tomllib.loads(f"key = {token}")["key"])
