"""The errors of this room: what does not conform, and an extra that is not installed."""

from rs485kit.errors import Rs485kitError


class ConformanceError(Rs485kitError, AssertionError):
    """A rule or a part does not hold to what the library relies on; every problem that was found is listed.

    Parameters
    ----------
    subject : str
        What was looked at [-].
    problems : tuple of str
        A sentence for each problem: where, what was seen, and the cure [-].
    """

    def __init__(self, subject: str, problems: tuple[str, ...]) -> None:
        super().__init__(subject, problems)
        self.subject = subject
        self.problems = problems

    def __str__(self) -> str:
        count = len(self.problems)
        lines = "\n".join(f"  {number}. {problem}" for number, problem in enumerate(self.problems, 1))
        return f"{self.subject}: {count} problem{'' if count == 1 else 's'}\n{lines}"


class MissingExtraError(Rs485kitError, ImportError):
    """A name of the library needs a package that is not installed and that comes with an extra.

    Parameters
    ----------
    wanted : str
        Full name of what was asked for [-].
    package : str
        Package that is not installed [-].
    extra : str
        Extra of rs485kit that brings it [-].
    """

    def __init__(self, wanted: str, package: str, extra: str) -> None:
        super().__init__(wanted, package, extra)
        self.wanted = wanted
        self.package = package
        self.extra = extra

    def __str__(self) -> str:
        return f'{self.wanted} needs {self.package}, which is not installed: pip install "rs485kit[{self.extra}]"'
