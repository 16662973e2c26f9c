"""The typed core: immutable objects that say what a bus is. No physics."""

from rs485kit.model.barriers import Barrier, Bridge, Channel, Circuit, IsolatedSupply, Isolator, LifePoint, Protector
from rs485kit.model.bonds import CommonLink, EarthBond, ShieldBond
from rs485kit.model.bus import Bus
from rs485kit.model.chain import daisy_chain
from rs485kit.model.judgement import Policy, Waiver
from rs485kit.model.parts import Attenuation, Bias, Cable, Termination, Transceiver
from rs485kit.model.places import Earth, Environment, Link, Node, Segment
from rs485kit.model.power import (
    Accessory,
    DeratingPoint,
    EfficiencyPoint,
    FeedConductors,
    FeedLoad,
    FeedSource,
    OutputRating,
    SupplyCurrent,
)
from rs485kit.model.timing import Exchange, RatedTime, TimingProfile

__all__ = [
    "Accessory",
    "Attenuation",
    "Barrier",
    "Bias",
    "Bridge",
    "Bus",
    "Cable",
    "Channel",
    "Circuit",
    "CommonLink",
    "DeratingPoint",
    "Earth",
    "EarthBond",
    "EfficiencyPoint",
    "Environment",
    "Exchange",
    "FeedConductors",
    "FeedLoad",
    "FeedSource",
    "IsolatedSupply",
    "Isolator",
    "LifePoint",
    "Link",
    "Node",
    "OutputRating",
    "Policy",
    "Protector",
    "RatedTime",
    "Segment",
    "ShieldBond",
    "SupplyCurrent",
    "Termination",
    "TimingProfile",
    "Transceiver",
    "Waiver",
    "daisy_chain",
]
