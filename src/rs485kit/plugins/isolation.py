"""Plugins in a child process: what cannot be contained in process is ended at a time limit, and the rest goes on.

The child is this interpreter with `rs485kit.plugins.child` and two pipes, so that a script of the user needs no main
guard. It is no sandbox: a plugin may do in it whatever the user may do.
"""

import contextlib
import json
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from types import TracebackType
from typing import IO, Any

import attrs

from rs485kit import units
from rs485kit.discovery import Claim
from rs485kit.errors import InputError, Problem
from rs485kit.model import Bus, Policy
from rs485kit.plugins import messages
from rs485kit.report.summary import PluginError
from rs485kit.rules.finding import Finding

TIME_LIMIT = 10.0
"""Longest time for the import of one plugin, and for one rule, where the caller names none [s]."""
CHANGED = "it changed the bus, which no rule may: its findings are not taken, and the rules after it got the old bus"
_START_LIMIT = 60.0
_BOOT = (
    "import json, sys; sys.path[:] = json.loads(sys.argv.pop()); from rs485kit.plugins.child import main; main()"
)


class StoppedError(Exception):
    """The child process did not answer an order; its text says why."""


@attrs.frozen
class Names:
    """What a plugin in the child brings.

    Parameters
    ----------
    rules : tuple of str
        Names of the rules that were taken [-].
    errors : tuple of PluginError
        What was refused [-].
    problems : tuple of Problem
        What is wrong with the settings that the policy has for them [-].
    """

    rules: tuple[str, ...]
    errors: tuple[PluginError, ...]
    problems: tuple[Problem, ...]


def seconds(time_limit: str | float | None) -> float:
    """Return a time limit in seconds.

    Parameters
    ----------
    time_limit : str, float or None
        Text with a unit, or seconds; None: `TIME_LIMIT` [s].

    Returns
    -------
    float
        The limit [s].

    Raises
    ------
    InputError
        If it is none, or not between a hundredth of a second and a day.
    """
    if time_limit is None:
        return TIME_LIMIT
    try:
        value = units.si(time_limit, "s")
    except InputError as error:
        raise InputError(*(problem.under("time_limit") for problem in error.problems)) from None
    if not 0.01 <= value <= 86400.0:
        raise InputError(Problem("time_limit", f"{value:g} s", "a time from 0.01 s to 86400 s"))
    return value


class Isolated:
    """Plugins of one check in a child process, which is started on first use and anew after it was stopped.

    Parameters
    ----------
    bus : Bus
        The bus [-].
    policy : Policy
        The policy in force [-].
    time_limit : float
        Longest time for one import, and for one rule with the analyses that it asks for [s].
    """

    def __init__(self, bus: Bus, policy: Policy, time_limit: float) -> None:
        if not sys.executable:
            given = "a process that names no Python interpreter"
            raise InputError(Problem("isolate", given, "sys.executable set to one", "or check without isolation"))
        self._subject = (bus, policy)
        self._limit = time_limit
        self._child: _Child | None = None
        self._loaded: set[Claim] = set()

    def __enter__(self) -> "Isolated":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def load(self, claim: Claim) -> Names:
        """Load a plugin in the child.

        Raises
        ------
        StoppedError
            If its import does not come back, or ends the process.
        """
        answer = self._ask(("load", claim), "its import")
        with self._readable():
            names = Names(
                rules=tuple(map(str, answer["rules"])),
                errors=tuple(messages.to_error(each) for each in answer["errors"]),
                problems=tuple(messages.to_problem(each) for each in answer["problems"]),
            )
        self._loaded.add(claim)
        return names

    def run(self, claim: Claim, rule: str) -> tuple[list[Finding], tuple[str, ...]]:
        """Run a rule in the child; return its findings, and what the analyses there have assumed so far.

        Raises
        ------
        StoppedError
            If it raises, does not come back, ends the process, changes the bus, or answers for another rule.
        """
        if claim not in self._loaded:
            self.load(claim)  # the child is a new one
        answer = self._ask(("run", rule), "it")
        if answer.get("changed"):
            self._end()  # the rules after it get the bus as it was
            raise StoppedError(CHANGED)
        if "cause" in answer:
            raise StoppedError(str(answer["cause"]))
        with self._readable():
            findings = [messages.to_finding(each) for each in answer["findings"]]
            assumed = tuple(map(str, answer["assumed"]))
        strange = [found.rule for found in findings if found.rule != rule]
        if strange:
            self._end()
            raise StoppedError(f'it gave a finding of the rule "{strange[0]}"')
        return findings, assumed

    @contextlib.contextmanager
    def _readable(self) -> Iterator[None]:
        """Refuse an answer that is not of the form that the child gives, and the child with it."""
        try:
            yield
        except Exception as error:
            self._end()
            raise StoppedError(f"what came back from it cannot be read ({type(error).__name__})") from None

    def _ask(self, order: tuple[Any, ...], what: str) -> dict[str, Any]:
        if self._child is None:
            try:
                self._child = _Child()
            except OSError as error:
                raise StoppedError(f"{sys.executable} cannot be started ({error.strerror})") from None
            self._send(self._subject, _START_LIMIT, "the child process for plugins")
        return self._send(order, self._limit, what)

    def _send(self, order: tuple[Any, ...], limit: float, what: str) -> dict[str, Any]:
        assert self._child is not None
        try:
            return self._child.answer(order, limit)
        except queue.Empty:
            why = f"{what} had not come back after {limit:g} s, and was stopped"
        except _EndedError as error:
            why = f"{what} ended the process ({error})"
        self._end()
        raise StoppedError(why)

    def _end(self) -> None:
        if self._child is not None:
            self._child.kill()
            self._child = None
            self._loaded = set()


class _EndedError(Exception):
    """The process is gone; its text says how."""


class _Child:
    """A process and the thread that reads its answers."""

    def __init__(self) -> None:
        path = json.dumps([each for each in sys.path if isinstance(each, str)])
        self._process = subprocess.Popen(
            [sys.executable, *_switches(), "-c", _BOOT, path],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,  # what the plugin starts goes with it
        )
        self._answers: queue.Queue[bytes] = queue.Queue()
        self._number = 0
        self._writer: threading.Thread | None = None
        assert self._process.stdout is not None
        threading.Thread(target=_read, args=(self._process.stdout, self._answers), daemon=True).start()

    def answer(self, order: tuple[Any, ...], limit: float) -> dict[str, Any]:
        """Send an order and return the answer; queue.Empty if there is none in time."""
        assert self._process.stdin is not None
        self._number += 1
        numbered = (self._number, order)
        # a thread, since a pipe that nobody reads would hold this one for ever
        self._writer = threading.Thread(target=_write, args=(self._process.stdin, numbered), daemon=True)
        self._writer.start()
        end = time.monotonic() + limit
        while True:
            line = self._answers.get(timeout=max(end - time.monotonic(), 0.0))
            if not line:
                raise _EndedError(self._how())
            try:
                answer: dict[str, Any] = json.loads(line)
                number = int(answer["order"])
            except (ValueError, TypeError, LookupError):
                raise _EndedError("after an answer that is none") from None
            if number == self._number:
                return answer
            if number > self._number:
                raise _EndedError("after an answer to what was not asked")
            # a second answer to an order before this one: it must not be taken for the answer to this

    def kill(self) -> None:
        """End the process and what it has started."""
        with contextlib.suppress(OSError):
            if hasattr(os, "killpg"):
                os.killpg(self._process.pid, signal.SIGKILL)
            else:
                self._process.kill()
        self._process.wait()
        if self._writer is not None:
            self._writer.join(timeout=1.0)
        if self._process.stdin is not None and not (self._writer and self._writer.is_alive()):
            with contextlib.suppress(OSError):
                self._process.stdin.close()

    def _how(self) -> str:
        try:
            status = self._process.wait(timeout=1.0)
        except subprocess.TimeoutExpired:
            return "it closed its output"
        return f"exit status {status}" if status >= 0 else f"signal {-status}"


def _switches() -> list[str]:
    """Return switches of the interpreter: nothing is imported from the working directory unless the parent would."""
    flags = sys.flags
    switches = {"-I": flags.isolated, "-E": flags.ignore_environment, "-s": flags.no_user_site, "-S": flags.no_site}
    return ["-P", *(switch for switch, on in switches.items() if on)]


def _read(stream: IO[bytes], answers: "queue.Queue[bytes]") -> None:
    with contextlib.suppress(OSError, ValueError), stream:
        for line in stream:
            answers.put(line)
    answers.put(b"")


def _write(stream: IO[bytes], order: tuple[Any, ...]) -> None:
    # the child may be gone: the reading side says so
    with contextlib.suppress(OSError, ValueError):
        pickle.dump(order, stream)
        stream.flush()
