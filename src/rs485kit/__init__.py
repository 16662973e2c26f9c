"""The front door of rs485kit: names, each with the room it lives in, loaded on first use."""

from typing import TYPE_CHECKING

from rs485kit.errors import (
    InputError,
    MissingDataError,
    NotPassedError,
    OutsideRangeError,
    Problem,
    Rs485kitError,
    RuleError,
    SolveError,
    UnknownNameError,
)

__version__ = "0.1.0"

_ROOMS = {
    "MinTypMax": "units",
    "Accessory": "model",
    "Attenuation": "model",
    "Barrier": "model",
    "Bias": "model",
    "Bridge": "model",
    "Bus": "model",
    "Cable": "model",
    "Channel": "model",
    "Circuit": "model",
    "CommonLink": "model",
    "DeratingPoint": "model",
    "Earth": "model",
    "EfficiencyPoint": "model",
    "EarthBond": "model",
    "Environment": "model",
    "Exchange": "model",
    "FeedConductors": "model",
    "FeedLoad": "model",
    "FeedSource": "model",
    "IsolatedSupply": "model",
    "Isolator": "model",
    "LifePoint": "model",
    "Link": "model",
    "Node": "model",
    "OutputRating": "model",
    "Policy": "model",
    "Protector": "model",
    "RatedTime": "model",
    "Segment": "model",
    "SupplyCurrent": "model",
    "ShieldBond": "model",
    "Termination": "model",
    "TimingProfile": "model",
    "Transceiver": "model",
    "Waiver": "model",
    "daisy_chain": "model",
    "Analyses": "memo",
    "as_analysis": "memo",
    "Finding": "rules",
    "Place": "rules",
    "Rule": "rules",
    "rule": "rules",
    "parameter": "rules",
    "at_least": "rules",
    "at_most": "rules",
    "unknown": "rules",
    "Plugin": "plugins",
    "explain": "plugins",
    "check": "checking",
    "Report": "report",
    "bus_from_mapping": "files",
    "bus_to_mapping": "files",
    "load_bus": "files",
    "save_bus": "files",
    "analysis": "analysis",
    "catalogue": "catalogue",
    "files": "files",
    "formulas": "formulas",
    "testing": "testing",
}

if TYPE_CHECKING:
    from rs485kit import analysis as analysis
    from rs485kit import catalogue as catalogue
    from rs485kit import files as files
    from rs485kit import formulas as formulas
    from rs485kit import testing as testing
    from rs485kit.checking import check as check
    from rs485kit.files import bus_from_mapping as bus_from_mapping
    from rs485kit.files import bus_to_mapping as bus_to_mapping
    from rs485kit.files import load_bus as load_bus
    from rs485kit.files import save_bus as save_bus
    from rs485kit.memo import Analyses as Analyses
    from rs485kit.memo import as_analysis as as_analysis
    from rs485kit.model import Accessory as Accessory
    from rs485kit.model import Attenuation as Attenuation
    from rs485kit.model import Barrier as Barrier
    from rs485kit.model import Bias as Bias
    from rs485kit.model import Bridge as Bridge
    from rs485kit.model import Bus as Bus
    from rs485kit.model import Cable as Cable
    from rs485kit.model import Channel as Channel
    from rs485kit.model import Circuit as Circuit
    from rs485kit.model import CommonLink as CommonLink
    from rs485kit.model import DeratingPoint as DeratingPoint
    from rs485kit.model import Earth as Earth
    from rs485kit.model import EarthBond as EarthBond
    from rs485kit.model import EfficiencyPoint as EfficiencyPoint
    from rs485kit.model import Environment as Environment
    from rs485kit.model import Exchange as Exchange
    from rs485kit.model import FeedConductors as FeedConductors
    from rs485kit.model import FeedLoad as FeedLoad
    from rs485kit.model import FeedSource as FeedSource
    from rs485kit.model import IsolatedSupply as IsolatedSupply
    from rs485kit.model import Isolator as Isolator
    from rs485kit.model import LifePoint as LifePoint
    from rs485kit.model import Link as Link
    from rs485kit.model import Node as Node
    from rs485kit.model import OutputRating as OutputRating
    from rs485kit.model import Policy as Policy
    from rs485kit.model import Protector as Protector
    from rs485kit.model import RatedTime as RatedTime
    from rs485kit.model import Segment as Segment
    from rs485kit.model import ShieldBond as ShieldBond
    from rs485kit.model import SupplyCurrent as SupplyCurrent
    from rs485kit.model import Termination as Termination
    from rs485kit.model import TimingProfile as TimingProfile
    from rs485kit.model import Transceiver as Transceiver
    from rs485kit.model import Waiver as Waiver
    from rs485kit.model import daisy_chain as daisy_chain
    from rs485kit.plugins import Plugin as Plugin
    from rs485kit.plugins import explain as explain
    from rs485kit.report import Report as Report
    from rs485kit.rules import Finding as Finding
    from rs485kit.rules import Place as Place
    from rs485kit.rules import Rule as Rule
    from rs485kit.rules import at_least as at_least
    from rs485kit.rules import at_most as at_most
    from rs485kit.rules import parameter as parameter
    from rs485kit.rules import rule as rule
    from rs485kit.rules import unknown as unknown
    from rs485kit.units import MinTypMax as MinTypMax
else:

    def __getattr__(name):
        """Load the room of a name on first use."""
        from importlib import import_module

        room = _ROOMS.get(name)
        if room is None:
            raise AttributeError(f"module 'rs485kit' has no attribute {name!r}")
        module = import_module(f"rs485kit.{room}")
        value = module if room == name else getattr(module, name)
        globals()[name] = value
        return value

    def __dir__():
        """Return every public name, loaded or not."""
        return sorted(set(globals()) | set(_ROOMS))


__all__ = [
    "InputError",
    "MissingDataError",
    "NotPassedError",
    "OutsideRangeError",
    "Problem",
    "Rs485kitError",
    "RuleError",
    "SolveError",
    "UnknownNameError",
    *_ROOMS,
]
