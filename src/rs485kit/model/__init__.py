"""The typed core: immutable objects that say what a bus is. No physics."""

from rs485kit.model.bus import Bus
from rs485kit.model.chain import daisy_chain
from rs485kit.model.judgement import Policy, Waiver
from rs485kit.model.parts import Attenuation, Bias, Cable, IsolatedSupply, Isolator, Protector, Termination, Transceiver
from rs485kit.model.places import Barrier, Circuit, CommonLink, Earth, Environment, Link, Node, Segment

__all__ = [
    "Attenuation",
    "Barrier",
    "Bias",
    "Bus",
    "Cable",
    "Circuit",
    "CommonLink",
    "Earth",
    "Environment",
    "IsolatedSupply",
    "Isolator",
    "Link",
    "Node",
    "Policy",
    "Protector",
    "Segment",
    "Termination",
    "Transceiver",
    "Waiver",
    "daisy_chain",
]
