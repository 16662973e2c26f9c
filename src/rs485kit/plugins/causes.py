"""Why something of a plugin did not run, as one line for a report."""

import traceback
from pathlib import Path

LONGEST = 500
_OWN = Path(__file__).parents[1]


def cause(error: BaseException) -> str:
    """Return an exception as its kind, its text and the line of the plugin where it arose.

    Parameters
    ----------
    error : BaseException
        The exception, whose text may itself be broken [-].

    Returns
    -------
    str
        The line [-].
    """
    try:
        text = str(error)
    except Exception:
        text = "(its text cannot be told)"
    if len(text) > LONGEST:
        text = f"{text[:LONGEST]}..."
    kind = type(error).__name__
    return f"{kind}: {text}{_where(error)}" if text else f"{kind}{_where(error)}"


def _where(error: BaseException) -> str:
    """Return the last line outside the library and the import system, by the name of its file alone."""
    frames = [
        (Path(frame.filename), frame.lineno)
        for frame in traceback.extract_tb(error.__traceback__)
        if not frame.filename.startswith("<") and not Path(frame.filename).is_relative_to(_OWN)
    ]
    if not frames:
        return ""
    file, line = frames[-1]
    return f" ({file.name}, line {line})"
