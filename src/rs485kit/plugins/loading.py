"""The second step: import what an entry point names, and take from it the rules that the plugin may bring.

Whatever goes wrong in a plugin becomes a `PluginError`. What cannot be contained inside one process is an import that
never returns, one that ends the process, and code that changes the library or the interpreter: see
`rs485kit.plugins.isolation`.
"""

import importlib
import re
from collections import Counter

import attrs

from rs485kit.discovery import Claim, Flaw
from rs485kit.errors import InputError, Problem
from rs485kit.plugins.causes import cause
from rs485kit.plugins.definition import API, Plugin
from rs485kit.report.summary import PluginError
from rs485kit.rules.definition import Rule

_VALUE = re.compile(r"(?P<module>\w+(\.\w+)*)\s*:\s*(?P<object>\w+(\.\w+)*)", re.ASCII)

MOVED = (
    "its distribution is installed, but not the module: where that was done with pip install -e, its folder has moved "
    "or its entry points have changed since; install it again"
)


@attrs.frozen
class Loaded:
    """What came of loading a plugin.

    Parameters
    ----------
    rules : tuple of Rule
        The rules that were taken [-].
    errors : tuple of PluginError
        What was refused, and why [-].
    """

    rules: tuple[Rule, ...] = ()
    errors: tuple[PluginError, ...] = ()


def error_of(claim: Claim | Flaw, why: str, *, name: str = "") -> PluginError:
    """Return the entry of a report about a plugin, or about one of its rules, that did not run.

    Parameters
    ----------
    claim : Claim or Flaw
        Who brought it [-].
    why : str
        What went wrong [-].
    name : str
        Name of the rule; empty: the plugin as a whole [-].

    Returns
    -------
    PluginError
        The entry [-].
    """
    return PluginError(name=name or claim.name, package=claim.package, version=claim.version, cause=why)


def load(claim: Claim) -> Loaded:
    """Import a plugin and take its rules; nothing that it does, short of an interrupt, raises.

    Parameters
    ----------
    claim : Claim
        The entry point, whose name is the prefix that the plugin owns [-].

    Returns
    -------
    Loaded
        Its rules, and what was refused [-].
    """
    try:
        plugin = _plugin(claim)
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        # an import may raise what it likes: SystemExit, an outcome of a test tool, an error of its own
        return Loaded(errors=(error_of(claim, f"it cannot be loaded: {cause(error)}"),))
    return _taken(claim, plugin)


def _plugin(claim: Claim) -> Plugin:
    match = _VALUE.fullmatch(claim.value)
    place = f'entry point "{claim.name}"'
    if match is None:
        raise InputError(Problem(place, f'"{claim.value}"', "a module and an object in it, as in canal_rules:plugin"))
    found: object = _imported(match["module"])
    for part in match["object"].split("."):
        if not hasattr(found, part):
            near = [f"{match['module']}:{name}" for name, value in vars(found).items() if isinstance(value, Plugin)]
            cure = f"the module holds {near[0]}" if near else "define it at the top of the module"
            raise InputError(Problem(place, f'"{claim.value}", which does not exist', "an object of a module", cure))
        found = getattr(found, part)
    if not isinstance(found, Plugin):
        given = f"{claim.value}, which is of type {type(found).__name__}"
        raise InputError(Problem(place, given, "an rs485kit.Plugin(api=1, rules=[...])"))
    if found.api != API:
        given = f"a plugin for version {found.api} of the interface"
        raise InputError(Problem(place, given, f"one for version {API}", "install a release of the plugin for it"))
    return found


def _imported(module: str) -> object:
    """Import a module; where it is not there although its distribution is, say what may have happened."""
    try:
        return importlib.import_module(module)
    except ModuleNotFoundError as error:
        if error.name is None or not f"{module}.".startswith(f"{error.name}."):
            raise
        raise ModuleNotFoundError(f"{error}; {MOVED}", name=error.name) from None


def _taken(claim: Claim, plugin: Plugin) -> Loaded:
    """Return the rules that bear names of the plugin's own, each once."""
    rules, errors = [], []
    if not plugin.rules:
        errors.append(error_of(claim, "it brings no rule"))
    if not all(type(each) is Rule for each in plugin.rules):
        strange = next(each for each in plugin.rules if type(each) is not Rule)
        what = f"it brings an object of type {type(strange).__name__}, which is no rule"
        errors.append(error_of(claim, f"{what}; make one with @rs485kit.rule(...)"))
    taken = [each for each in plugin.rules if type(each) is Rule]
    often = Counter(each.name for each in taken)
    for name, rule in {each.name: each for each in taken}.items():
        if name.split(".")[0] != claim.name:
            why = f'its name lies outside "{claim.name}.", which is all that this plugin owns'
            errors.append(error_of(claim, why, name=name))
        elif often[name] > 1:
            errors.append(error_of(claim, f"{often[name]} rules of the plugin bear this name", name=name))
        else:
            rules.append(rule)
    return Loaded(tuple(sorted(rules, key=lambda each: each.name)), tuple(errors))
