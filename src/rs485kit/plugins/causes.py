"""Why something of a plugin did not run, as one line for a report."""

import traceback
from pathlib import Path

from rs485kit.errors import plain

LONGEST = 500
_OWN = Path(__file__).parents[1]


def cause(error: BaseException) -> str:
    """Return an exception as its kind, its text and the line of the plugin where it arose.

    Parameters
    ----------
    error : BaseException
        The exception, whose text, type and traceback may themselves be broken, and may raise what they like [-].

    Returns
    -------
    str
        The line [-].
    """
    try:
        text = plain(str(error))
    except KeyboardInterrupt:
        raise
    except BaseException:
        # SystemExit too: the text of an exception must not end the process that reports it
        text = "(its text cannot be told)"
    if len(text) > LONGEST:
        text = f"{text[:LONGEST]}..."
    kind, where = _kind(error), _where(error)
    return f"{kind}: {text}{where}" if text else f"{kind}{where}"


def _kind(error: BaseException) -> str:
    """Return the name of a type past its metaclass, which may answer for it."""
    name: str = type.__dict__["__name__"].__get__(type(error))
    return plain(name)


def _where(error: BaseException) -> str:
    """Return the last line outside the library and the import system, by the name of its file alone."""
    # from the base type: a class may have laid an attribute of its own over it
    frames = [
        (Path(frame.filename), frame.lineno)
        for frame in traceback.extract_tb(BaseException.__dict__["__traceback__"].__get__(error))
        if not frame.filename.startswith("<") and not Path(frame.filename).is_relative_to(_OWN)
    ]
    if not frames:
        return ""
    file, line = frames[-1]
    return f" ({file.name}, line {line})"
