"""The other side of an isolated check: a process that loads plugins and runs their rules, one order at a time.

Orders come as pickles from the parent, whose code is trusted; answers go back as one line of JSON each, with the number
of the order. A thread reads the orders: where they end, the parent is gone, and the process ends with all that it has
started, whatever a rule is doing.
"""

import json
import os
import pickle
import queue
import signal
import sys
import threading
from typing import IO, Any

from rs485kit.discovery import Claim
from rs485kit.errors import InputError, Problem
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Policy
from rs485kit.plugins import messages
from rs485kit.plugins.causes import cause
from rs485kit.plugins.loading import load
from rs485kit.rules.definition import Rule
from rs485kit.rules.running import outcome

Rules = dict[str, Rule]


def main() -> None:
    """Answer orders until there are no more."""
    own, (stream, answers) = os.getpid(), _streams()
    orders: queue.SimpleQueue[tuple[int, Any]] = queue.SimpleQueue()
    threading.Thread(target=_read, args=(stream, orders), daemon=True).start()
    number, (bus, policy) = orders.get()
    subject, rules = _Subject(bus), Rules()
    answer: dict[str, Any] = {"ready": True}
    while True:
        if os.getpid() != own:
            os._exit(0)  # a copy of this process that a plugin made has nothing to say to the parent
        _say(answers, {"order": number, **answer})
        number, (what, which) = orders.get()
        answer = _loaded(which, policy, rules) if what == "load" else _run(which, rules, subject, policy)


class _Subject:
    """The bus in question with the results so far, and a second copy that no rule gets to see."""

    def __init__(self, bus: Bus) -> None:
        self.analyses = Analyses(bus)
        self._kept: Bus = pickle.loads(pickle.dumps(bus))

    def changed(self) -> bool:
        """Return whether a rule has changed the bus."""
        try:
            return bool(self.analyses.bus != self._kept)
        except Exception:
            # a field now holds what cannot be compared
            return True


def _read(stream: IO[bytes], orders: "queue.SimpleQueue[tuple[int, Any]]") -> None:
    """Put orders into a queue; where there are no more, end this process and what it has started."""
    try:
        while True:
            orders.put(pickle.load(stream))
    finally:
        if hasattr(os, "killpg"):
            os.killpg(os.getpgrp(), signal.SIGKILL)
        os._exit(0)


def _streams() -> tuple[IO[bytes], IO[str]]:
    """Return private streams to and from the parent; what a plugin prints goes to standard error."""
    orders, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "w", encoding="ascii")
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(2, 1)
    return orders, answers


def _say(answers: IO[str], message: dict[str, Any]) -> None:
    sys.stdout.flush()
    answers.write(json.dumps(message) + "\n")
    answers.flush()


def _loaded(claim: Claim, policy: Policy, rules: Rules) -> dict[str, Any]:
    """Load a plugin, and read the settings that the policy has for its rules."""
    loaded = load(claim)
    problems: list[Problem] = []
    for rule in loaded.rules:
        rules[rule.name] = rule
        try:
            rule.values(policy.settings_of(rule.name))
        except InputError as error:
            problems += error.problems
    return {
        "rules": [rule.name for rule in loaded.rules],
        "errors": [messages.from_error(error) for error in loaded.errors],
        "problems": [messages.from_problem(problem) for problem in problems],
    }


def _run(name: str, rules: Rules, subject: _Subject, policy: Policy) -> dict[str, Any]:
    if name not in rules:
        return {"cause": "the plugin, loaded anew after the process had to be stopped, does not bring it any more"}
    answer: dict[str, Any]
    try:
        findings = outcome(rules[name], subject.analyses, policy.settings_of(name))
        answer = {
            "findings": [messages.from_finding(found) for found in findings],
            "assumed": list(subject.analyses.assumed),
        }
    except BaseException as error:
        # whatever a rule raises: the parent says so in the report, and this process goes on with the next
        answer = {"cause": cause(error)}
    return answer | {"changed": subject.changed()}
