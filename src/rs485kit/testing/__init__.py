"""For authors of rules and parts: checks of what the library relies on, and strategies that make buses.

`check_rule`, `check_part` and `assert_passes` need nothing more than the library. The strategies need hypothesis and
are loaded on first use.
"""

from typing import TYPE_CHECKING

from rs485kit.testing.conformance import check_rule
from rs485kit.testing.faults import ConformanceError, MissingExtraError
from rs485kit.testing.part_conformance import check_part
from rs485kit.testing.passing import assert_passes

_STRATEGIES = {
    "accessories": "power_strategies",
    "attenuations": "strategies",
    "barriers": "strategies",
    "biases": "strategies",
    "bridges": "strategies",
    "buses": "bus_strategies",
    "cables": "strategies",
    "channels": "strategies",
    "circuits": "bus_strategies",
    "commons": "bus_strategies",
    "derating_points": "strategies",
    "earth_bonds": "bus_strategies",
    "earths": "bus_strategies",
    "efficiency_points": "strategies",
    "environments": "bus_strategies",
    "exchanges": "timing_strategies",
    "feed_conductors": "power_strategies",
    "feed_loads": "power_strategies",
    "feed_sources": "power_strategies",
    "figures": "strategies",
    "isolated_supplies": "strategies",
    "isolators": "strategies",
    "life_points": "strategies",
    "links": "bus_strategies",
    "names": "strategies",
    "nodes": "bus_strategies",
    "output_ratings": "strategies",
    "policies": "bus_strategies",
    "protectors": "strategies",
    "rated_times": "timing_strategies",
    "segments": "bus_strategies",
    "shield_bonds": "bus_strategies",
    "spreads": "strategies",
    "supply_currents": "strategies",
    "terminations": "strategies",
    "timing_profiles": "timing_strategies",
    "transceivers": "strategies",
    "waivers": "bus_strategies",
}

if TYPE_CHECKING:
    from rs485kit.testing.bus_strategies import buses as buses
    from rs485kit.testing.bus_strategies import circuits as circuits
    from rs485kit.testing.bus_strategies import commons as commons
    from rs485kit.testing.bus_strategies import earth_bonds as earth_bonds
    from rs485kit.testing.bus_strategies import earths as earths
    from rs485kit.testing.bus_strategies import environments as environments
    from rs485kit.testing.bus_strategies import links as links
    from rs485kit.testing.bus_strategies import nodes as nodes
    from rs485kit.testing.bus_strategies import policies as policies
    from rs485kit.testing.bus_strategies import segments as segments
    from rs485kit.testing.bus_strategies import shield_bonds as shield_bonds
    from rs485kit.testing.bus_strategies import waivers as waivers
    from rs485kit.testing.power_strategies import accessories as accessories
    from rs485kit.testing.power_strategies import feed_conductors as feed_conductors
    from rs485kit.testing.power_strategies import feed_loads as feed_loads
    from rs485kit.testing.power_strategies import feed_sources as feed_sources
    from rs485kit.testing.strategies import attenuations as attenuations
    from rs485kit.testing.strategies import barriers as barriers
    from rs485kit.testing.strategies import biases as biases
    from rs485kit.testing.strategies import bridges as bridges
    from rs485kit.testing.strategies import cables as cables
    from rs485kit.testing.strategies import channels as channels
    from rs485kit.testing.strategies import derating_points as derating_points
    from rs485kit.testing.strategies import efficiency_points as efficiency_points
    from rs485kit.testing.strategies import figures as figures
    from rs485kit.testing.strategies import isolated_supplies as isolated_supplies
    from rs485kit.testing.strategies import isolators as isolators
    from rs485kit.testing.strategies import life_points as life_points
    from rs485kit.testing.strategies import names as names
    from rs485kit.testing.strategies import output_ratings as output_ratings
    from rs485kit.testing.strategies import protectors as protectors
    from rs485kit.testing.strategies import spreads as spreads
    from rs485kit.testing.strategies import supply_currents as supply_currents
    from rs485kit.testing.strategies import terminations as terminations
    from rs485kit.testing.strategies import transceivers as transceivers
    from rs485kit.testing.timing_strategies import exchanges as exchanges
    from rs485kit.testing.timing_strategies import rated_times as rated_times
    from rs485kit.testing.timing_strategies import timing_profiles as timing_profiles
else:

    def __getattr__(name):
        """Load the strategies on first use, and name the extra where hypothesis is not installed."""
        from importlib import import_module

        if name not in _STRATEGIES:
            raise AttributeError(f"module 'rs485kit.testing' has no attribute {name!r}")
        try:
            value = getattr(import_module(f"rs485kit.testing.{_STRATEGIES[name]}"), name)
        except ModuleNotFoundError as error:
            if error.name is None or error.name.partition(".")[0] != "hypothesis":
                raise
            raise MissingExtraError(f"rs485kit.testing.{name}", "hypothesis", "test") from None
        globals()[name] = value
        return value

    def __dir__():
        """Return every public name, loaded or not."""
        return sorted(set(globals()) | set(_STRATEGIES))


__all__ = [
    "ConformanceError",
    "MissingExtraError",
    "assert_passes",
    "check_part",
    "check_rule",
    *_STRATEGIES,
]
