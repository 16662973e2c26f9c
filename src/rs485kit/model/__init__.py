"""The typed core: immutable objects that say what a bus is. No physics."""

from rs485kit.model.barriers import Barrier, Bridge, Channel, Circuit, IsolatedSupply, Isolator, LifePoint, Protector
from rs485kit.model.bonds import CommonLink, EarthBond, ShieldBond
from rs485kit.model.bus import Bus
from rs485kit.model.chain import daisy_chain
from rs485kit.model.judgement import Policy, Waiver
from rs485kit.model.parts import Attenuation, Bias, Cable, Termination, Transceiver
from rs485kit.model.places import Earth, Environment, Link, Node, Segment
from rs485kit.model.timing import Exchange, RatedTime, TimingProfile

__all__ = [
    "Attenuation",
    "Barrier",
    "Bias",
    "Bridge",
    "Bus",
    "Cable",
    "Channel",
    "Circuit",
    "CommonLink",
    "Earth",
    "EarthBond",
    "Environment",
    "Exchange",
    "IsolatedSupply",
    "Isolator",
    "LifePoint",
    "Link",
    "Node",
    "Policy",
    "Protector",
    "RatedTime",
    "Segment",
    "ShieldBond",
    "Termination",
    "TimingProfile",
    "Transceiver",
    "Waiver",
    "daisy_chain",
]
