"""What a rule plugin is: the object that its entry point names."""

from collections.abc import Iterable

import attrs

from rs485kit.errors import InputError, Problem, shown
from rs485kit.rules.definition import Rule

API = 1
"""Version of the interface between the library and rule plugins."""


def rules_tuple(given: Rule | Iterable[Rule]) -> tuple[Rule, ...]:
    """Read none, one or several rules [-]."""
    if isinstance(given, Rule):
        return (given,)
    try:
        return tuple(given)
    except TypeError:
        raise InputError(Problem("Plugin.rules", shown(given), "rules, each made with @rs485kit.rule(...)")) from None


@attrs.frozen(kw_only=True, eq=False)
class Plugin:
    """Rules of one distribution, for the entry point of the group "rs485kit.rules" whose name is their prefix.

    Parameters
    ----------
    api : int
        Version of the interface that the plugin was written for; this library has 1 [-].
    rules : tuple of Rule
        Its rules, all named under the prefix; a plugin of another version is refused before they are looked at [-].
    """

    api: int = attrs.field()
    rules: tuple[Rule, ...] = attrs.field(converter=rules_tuple)

    @api.validator
    def _is_version(self, attribute: "attrs.Attribute[int]", value: object) -> None:
        if not isinstance(value, int) or isinstance(value, bool):
            raise InputError(Problem("Plugin.api", shown(value), f"a version number; this library has {API}"))
