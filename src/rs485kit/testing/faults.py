"""The error of a plugin's rule or part that is not of the form that the library relies on."""

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
