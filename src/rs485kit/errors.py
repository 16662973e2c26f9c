"""The few error types of the library, each also of the built-in type that a caller expects.

Every error carries its data as attributes, builds its text from them, and survives a pickle (a process pool
sends errors back that way). This module imports nothing.
"""


def plain(text: str) -> str:
    """Return text as a str and no subclass of it, whose methods a stranger may have written."""
    return text if type(text) is str else str.__str__(text)


def shown(value: object) -> str:
    """Return a value as text short enough for an error message."""
    try:
        text = plain(repr(value))
    except KeyboardInterrupt:
        raise
    except BaseException:
        # an integer of thousands of digits has no text, and a foreign object may have none or end the process
        return f"a value of type {type(value).__name__}"
    return text if len(text) <= 80 else text[:77] + "..."


def listed(names: tuple[str, ...], most: int) -> str:
    """Return names joined by commas, so many at the most, with the number of the others.

    Parameters
    ----------
    names : tuple of str
        The names [-].
    most : int
        How many are named [-].

    Returns
    -------
    str
        The text [-].
    """
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


class Rs485kitError(Exception):
    """Base of every error that the library raises on purpose."""


class Problem:
    """One thing that is wrong with an input: where, what was given, what was wanted, and the cure.

    Parameters
    ----------
    place : str
        Where it stands, by names; empty for the input as a whole [-].
    given : str
        What was given [-].
    wanted : str
        What it should have been [-].
    cure : str
        What to do about it [-].
    line : int or None
        Line of the file [-].
    """

    __slots__ = ("cure", "given", "line", "place", "wanted")

    def __init__(self, place: str, given: str, wanted: str, cure: str = "", line: int | None = None) -> None:
        self.place = place
        self.given = given
        self.wanted = wanted
        self.cure = cure
        self.line = line

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Problem) and self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def __repr__(self) -> str:
        return f"Problem({self!s})"

    def __reduce__(self) -> tuple[type["Problem"], tuple[object, ...]]:
        return Problem, (self.place, self.given, self.wanted, self.cure, self.line)

    def __str__(self) -> str:
        line = "" if self.line is None else f"line {self.line}"
        where = f"{self.place} ({line})" if self.place and line else self.place or line
        text = f"{where}: " if where else ""
        text += f"given {self.given}, wanted {self.wanted}"
        return f"{text}; {self.cure}" if self.cure else text

    def _key(self) -> tuple[object, ...]:
        return (self.place, self.given, self.wanted, self.cure, self.line)

    def under(self, prefix: str) -> "Problem":
        """Return the same problem seen from one level further out."""
        joint = "" if not self.place or self.place.startswith("[") else "."
        return Problem(f"{prefix}{joint}{self.place}", self.given, self.wanted, self.cure, self.line)


class InputError(Rs485kitError, ValueError):
    """An input is wrong; `problems` holds every one that was found, each with its place.

    Parameters
    ----------
    problems : Problem
        What is wrong [-].
    source : str
        Name of the file, if it is one [-].
    """

    def __init__(self, *problems: Problem, source: str = "") -> None:
        super().__init__(*problems)
        self.problems = problems
        self.source = source

    def __str__(self) -> str:
        head = f"{self.source}: " if self.source else ""
        if len(self.problems) == 1:
            return f"{head}{self.problems[0]}"
        lines = "\n".join(f"  {problem}" for problem in self.problems)
        return f"{head}{len(self.problems)} problems\n{lines}"

    def __reduce__(self) -> tuple[object, ...]:
        return _rebuilt_input_error, (type(self), self.problems, self.source)


def _rebuilt_input_error(kind: type[InputError], problems: tuple[Problem, ...], source: str) -> InputError:
    return kind(*problems, source=source)


class UnknownNameError(Rs485kitError, LookupError):
    """A name that nothing bears; near names are offered.

    Parameters
    ----------
    kind : str
        What was looked for [-].
    name : str
        The name [-].
    near : tuple of str
        Known names that resemble it [-].
    hint : str
        What to try instead [-].
    """

    def __init__(self, kind: str, name: str, near: tuple[str, ...] = (), hint: str = "") -> None:
        super().__init__(kind, name, near, hint)
        self.kind = kind
        self.name = name
        self.near = near
        self.hint = hint

    def __str__(self) -> str:
        text = f'there is no {self.kind} "{self.name}"'
        if self.near:
            text += "; did you mean " + " or ".join(f'"{name}"' for name in self.near) + "?"
        return f"{text}; {self.hint}" if self.hint else text


class MissingDataError(Rs485kitError, ValueError):
    """An analysis cannot run because the bus does not state what it needs.

    Parameters
    ----------
    analysis : str
        Name of the analysis [-].
    missing : str or tuple of str
        What the bus does not state; the attribute is a tuple [-].
    cure : str
        What to do about it [-].
    """

    def __init__(self, analysis: str, missing: str | tuple[str, ...], cure: str = "") -> None:
        names = (missing,) if isinstance(missing, str) else tuple(missing)
        super().__init__(analysis, names, cure)
        self.analysis = analysis
        self.missing = names
        self.cure = cure

    def __str__(self) -> str:
        text = f"{self.analysis} cannot be told: the bus does not state {listed(self.missing, 3)}"
        return f"{text}; {self.cure}" if self.cure else text


class OutsideRangeError(MissingDataError):
    """Lines stand where nothing says what a receiver does: beyond the common-mode range of the standard.

    Parameters
    ----------
    analysis : str
        What was asked [-].
    nodes : tuple of str
        Nodes whose lines stand beyond the range, against their own common [-].
    volts : tuple of (float, float)
        Where the two lines of each stand [V].
    """

    def __init__(self, analysis: str, nodes: tuple[str, ...], volts: tuple[tuple[float, float], ...]) -> None:
        missing = tuple(f'input current of "{name}" beyond -7 V .. +12 V' for name in nodes)
        super().__init__(analysis, missing)
        self.nodes = nodes
        self.volts = volts

    def __str__(self) -> str:
        first, second = self.volts[0]
        others = f" (and those of {len(self.nodes) - 1} more nodes)" if len(self.nodes) > 1 else ""
        return (
            f'{self.analysis}: the lines of "{self.nodes[0]}"{others} stand at {first:.3g} V and {second:.3g} V '
            "against its own common, beyond -7 V .. +12 V, where no receiver is guaranteed and no input current is "
            "stated; isolate the node, join the commons by a reference conductor, or correct the earth potentials"
        )

    def __reduce__(self) -> tuple[object, ...]:
        return OutsideRangeError, (self.analysis, self.nodes, self.volts)


class SolveError(Rs485kitError, ArithmeticError):
    """A network has no usable solution.

    Parameters
    ----------
    what : str
        What could not be solved [-].
    why : str
        Why not [-].
    cure : str
        What to do about it [-].
    """

    def __init__(self, what: str, why: str, cure: str = "") -> None:
        super().__init__(what, why, cure)
        self.what = what
        self.why = why
        self.cure = cure

    def __str__(self) -> str:
        text = f"{self.what}: {self.why}"
        return f"{text}; {self.cure}" if self.cure else text


class RuleError(Rs485kitError, TypeError):
    """A rule, or a finding that a rule gave, is not of the form that the engine takes.

    Parameters
    ----------
    rule : str
        Name of the rule [-].
    why : str
        What is wrong with it [-].
    """

    def __init__(self, rule: str, why: str) -> None:
        super().__init__(rule, why)
        self.rule = rule
        self.why = why

    def __str__(self) -> str:
        return f'rule "{self.rule}": {self.why}'


class NotPassedError(Rs485kitError, AssertionError):
    """A report did not pass.

    Parameters
    ----------
    text : str
        The report's verdict and the findings behind it [-].
    """

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text

    def __str__(self) -> str:
        return self.text
