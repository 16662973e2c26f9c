"""Analyses: one module per question, each a pure function of a bus."""

from rs485kit.analysis.barrier_parts import (
    BarrierComparison,
    BarrierFigures,
    ChannelFigures,
    barrier_figures,
    compare_barriers,
)
from rs485kit.analysis.bit_time import BitTiming, BitTimings, bit_timing
from rs485kit.analysis.coordination import insulation
from rs485kit.analysis.coordination_tables import (
    BarrierInsulation,
    InsulationCheck,
    InsulationPath,
    InsulationTable,
)
from rs485kit.analysis.drive import DrivenLevel, DrivenLevels, driven_levels
from rs485kit.analysis.echo import LoopBack, LoopBacks, loop_back
from rs485kit.analysis.feed import feed_levels
from rs485kit.analysis.feed_tables import (
    FedDevice,
    FedDevices,
    FeedGround,
    FeedGrounds,
    FeedingPoint,
    FeedingPoints,
    FeedLevels,
    FeedSpan,
    FeedSpans,
)
from rs485kit.analysis.grounding import common_mode
from rs485kit.analysis.grounding_faults import GroundFault, GroundFaults, ground_faults
from rs485kit.analysis.grounding_tables import (
    BarrierVoltage,
    BarrierVoltages,
    BondCurrent,
    BondCurrents,
    CommonMode,
    LinkHeat,
    LinkHeats,
    ReceiverCommonMode,
    ReceiversCommonMode,
    SpanCurrent,
    SpanCurrents,
)
from rs485kit.analysis.handing_over import Handover, HandoverAt, handover
from rs485kit.analysis.idle import IdleLevel, IdleLevels, idle_levels
from rs485kit.analysis.idle_tail import IdleTail, IdleTails, idle_tails
from rs485kit.analysis.line_use import LineLoading, SlowestEdge, line_loading, slowest_edge
from rs485kit.analysis.loading import UnitLoad, UnitLoads, unit_loads
from rs485kit.analysis.one_path import Eye, WorstSequence, eye, worst_sequence
from rs485kit.analysis.polling import PollAt, PollCycle, PollRate, poll_cycle
from rs485kit.analysis.rate_scan import DataRate, DataRates, data_rates
from rs485kit.analysis.replies import TurnaroundAt, Turnarounds, turnaround
from rs485kit.analysis.self_directing import SelfDirection, SelfDirections, self_direction
from rs485kit.analysis.slewing import BarrierTransient, ProtectorSurge, TransientTable, transient_immunity
from rs485kit.analysis.supply import supply_budgets
from rs485kit.analysis.supply_tables import (
    BarrierSupplies,
    SupplyBudget,
    SupplyBudgets,
    TransceiverHeat,
    TransceiverHeats,
)
from rs485kit.analysis.termination import terminations
from rs485kit.analysis.termination_tables import (
    DriverLoad,
    DriverLoads,
    FittedPlace,
    FittedPlaces,
    ResistorHeat,
    ResistorHeats,
    Terminations,
)
from rs485kit.analysis.voltage_kinds import InsulationVoltage, VoltageKind
from rs485kit.analysis.waveform import Pattern, Waveforms, waveforms
from rs485kit.analysis.worst_case import WorstEye, WorstEyes, worst_eyes
from rs485kit.network.galvanic import Bond, Island

__all__ = [
    "BarrierComparison",
    "BarrierFigures",
    "BarrierInsulation",
    "BarrierSupplies",
    "BarrierTransient",
    "BarrierVoltage",
    "BarrierVoltages",
    "BitTiming",
    "BitTimings",
    "Bond",
    "BondCurrent",
    "BondCurrents",
    "ChannelFigures",
    "CommonMode",
    "DataRate",
    "DataRates",
    "DrivenLevel",
    "DrivenLevels",
    "DriverLoad",
    "DriverLoads",
    "Eye",
    "FedDevice",
    "FedDevices",
    "FeedGround",
    "FeedGrounds",
    "FeedLevels",
    "FeedSpan",
    "FeedSpans",
    "FeedingPoint",
    "FeedingPoints",
    "FittedPlace",
    "FittedPlaces",
    "GroundFault",
    "GroundFaults",
    "Handover",
    "HandoverAt",
    "IdleLevel",
    "IdleLevels",
    "IdleTail",
    "IdleTails",
    "InsulationCheck",
    "InsulationPath",
    "InsulationTable",
    "InsulationVoltage",
    "Island",
    "LineLoading",
    "LinkHeat",
    "LinkHeats",
    "LoopBack",
    "LoopBacks",
    "Pattern",
    "PollAt",
    "PollCycle",
    "PollRate",
    "ProtectorSurge",
    "ReceiverCommonMode",
    "ReceiversCommonMode",
    "ResistorHeat",
    "ResistorHeats",
    "SelfDirection",
    "SelfDirections",
    "SlowestEdge",
    "SpanCurrent",
    "SpanCurrents",
    "SupplyBudget",
    "SupplyBudgets",
    "Terminations",
    "TransceiverHeat",
    "TransceiverHeats",
    "TransientTable",
    "TurnaroundAt",
    "Turnarounds",
    "UnitLoad",
    "UnitLoads",
    "VoltageKind",
    "Waveforms",
    "WorstEye",
    "WorstEyes",
    "WorstSequence",
    "barrier_figures",
    "bit_timing",
    "common_mode",
    "compare_barriers",
    "data_rates",
    "driven_levels",
    "eye",
    "feed_levels",
    "ground_faults",
    "handover",
    "idle_levels",
    "idle_tails",
    "insulation",
    "line_loading",
    "loop_back",
    "poll_cycle",
    "self_direction",
    "slowest_edge",
    "supply_budgets",
    "terminations",
    "transient_immunity",
    "turnaround",
    "unit_loads",
    "waveforms",
    "worst_eyes",
    "worst_sequence",
]
