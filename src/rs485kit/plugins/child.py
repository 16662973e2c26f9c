"""The other side of an isolated check: a process that loads plugins and runs their rules, one order at a time.

Orders come as pickles from the parent, whose code is trusted; answers go back as one line of JSON each. The process
ends when the orders do.
"""

import json
import os
import pickle
import sys
from typing import IO, Any

from rs485kit.discovery import Claim
from rs485kit.errors import InputError, Problem
from rs485kit.memo import Analyses
from rs485kit.model import Policy
from rs485kit.plugins import messages
from rs485kit.plugins.causes import cause
from rs485kit.plugins.loading import load
from rs485kit.rules.definition import Rule
from rs485kit.rules.running import outcome

Rules = dict[str, Rule]


def main() -> None:
    """Answer orders until there are no more."""
    orders, answers = _streams()
    bus, policy = pickle.load(orders)
    analyses, rules = Analyses(bus), Rules()
    _say(answers, {"ready": True})
    while True:
        try:
            order = pickle.load(orders)
        except EOFError:
            return
        if order[0] == "load":
            _say(answers, _loaded(order[1], policy, rules))
        else:
            _say(answers, _run(order[1], rules, analyses, policy))


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


def _run(name: str, rules: Rules, analyses: Analyses, policy: Policy) -> dict[str, Any]:
    if name not in rules:
        return {"cause": "the plugin, loaded anew after the process had to be stopped, does not bring it any more"}
    try:
        findings = outcome(rules[name], analyses, policy.settings_of(name))
        return {
            "findings": [messages.from_finding(found) for found in findings],
            "assumed": list(analyses.assumed),
        }
    except BaseException as error:
        # whatever a rule raises: the parent says so in the report, and this process goes on with the next
        return {"cause": cause(error)}
