"""What `supply_budgets` returns: what each barrier's supply gives and has left, and how hot transceivers get."""

import math
from typing import Any

import attrs
from typing_extensions import override

from rs485kit.analysis.feed_tables import limits_at
from rs485kit.analysis.results import Array, Missing, PerNode, Rebuilt, read_only, unit
from rs485kit.analysis.termination_tables import Limits, LimitsOfAll
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import Viewed

# so much of one device may be missing from rounding
ROUNDING = 1e-9


@attrs.frozen(kw_only=True)
class SupplyBudget(Viewed):
    """What the isolated supply of one barrier has to give, may give, and has left.

    Parameters
    ----------
    node : str
        Name of the node [-].
    output_voltage : Limits
        Its output over load, input and setting [V].
    listening, talking : Limits
        What everything on it draws with the driver off and on [A].
    shorted : Limits
        The same with the pair shorted, or another driver that holds the opposite [A].
    rating : Limits
        What it is rated for; lower at the highest ambient temperature and the lowest input [A].
    surplus : Limits
        Rating less `talking`: what is left for accessories [A].
    input_listening, input_talking : Limits
        What it takes from the field side [W].
    input_current : Limits
        The same as current while talking, at the voltage that feeds it [A].
    heat : Limits
        What it turns into heat, over the share of the time that its node talks [W].
    case_temperature : Limits
        Temperature of its case over the ambient's range [K].
    highest_ambient : float
        Ambient temperature up to which its case keeps within its limit, with the most heat [K].
    minimum_load : float
        Output current below which its figures do not hold; NaN if not stated [A].
    ripple : float
        Ripple of its output, peak to peak; NaN if not stated [V].
    load_capacitance : float
        Largest capacitance on its output; NaN if unknown [F].
    capacitive_load : float
        Largest capacitance with which it starts; NaN if not stated [F].
    margin : float
        What is nominally left [A].
    """

    node: str
    output_voltage: Limits = attrs.field(metadata=unit("V"))
    listening: Limits = attrs.field(metadata=unit("A"))
    talking: Limits = attrs.field(metadata=unit("A"))
    shorted: Limits = attrs.field(metadata=unit("A"))
    rating: Limits = attrs.field(metadata=unit("A"))
    surplus: Limits = attrs.field(metadata=unit("A"))
    input_listening: Limits = attrs.field(metadata=unit("W"))
    input_talking: Limits = attrs.field(metadata=unit("W"))
    input_current: Limits = attrs.field(metadata=unit("A"))
    heat: Limits = attrs.field(metadata=unit("W"))
    case_temperature: Limits = attrs.field(metadata=unit("K"))
    highest_ambient: float = attrs.field(metadata=unit("K"))
    minimum_load: float = attrs.field(metadata=unit("A"))
    ripple: float = attrs.field(metadata=unit("V"))
    load_capacitance: float = attrs.field(metadata=unit("F"))
    capacitive_load: float = attrs.field(metadata=unit("F"))
    margin: float = attrs.field(metadata=unit("A"))

    def spare(self, current: float) -> int | None:
        """Return how many more devices of a current the supply surely carries, talking, over all tolerances.

        Parameters
        ----------
        current : float
            Current of one, such as an indicator's [A].

        Returns
        -------
        int or None
            How many; None if a figure that it needs is not stated [-].

        Raises
        ------
        InputError
            If the current is not positive.
        """
        if isinstance(current, bool) or not isinstance(current, int | float) or not 0 < current < math.inf:
            raise InputError(Problem("SupplyBudget.spare current", f"{current!r}", "a current above 0 in A", "0.01"))
        if math.isnan(self.surplus.lower):
            return None
        return max(0, math.floor(self.surplus.lower / current + ROUNDING))


LIMITED = (
    "output_voltage", "listening", "talking", "shorted", "rating", "surplus", "input_listening", "input_talking",
    "input_current", "heat", "case_temperature",
)  # fmt: skip
SINGLE = ("highest_ambient", "minimum_load", "ripple", "load_capacitance", "capacitive_load")


@attrs.frozen(kw_only=True, eq=False)
class BarrierSupplies(PerNode[SupplyBudget]):
    """The isolated supplies of all barriers; the columns are those of `SupplyBudget`.

    Parameters
    ----------
    nodes : tuple of str
        The nodes whose barrier has a supply, in bus order [-].
    output_voltage : LimitsOfAll
        See `SupplyBudget` [V].
    listening, talking, shorted, rating, surplus, input_current : LimitsOfAll
        See `SupplyBudget` [A].
    input_listening, input_talking, heat : LimitsOfAll
        See `SupplyBudget` [W].
    case_temperature : LimitsOfAll
        See `SupplyBudget` [K].
    highest_ambient : array
        See `SupplyBudget` [K].
    minimum_load : array
        See `SupplyBudget` [A].
    ripple : array
        See `SupplyBudget` [V].
    load_capacitance, capacitive_load : array
        See `SupplyBudget` [F].
    missing : tuple
        Rows and fields that the bus does not state [-].
    """

    nodes: tuple[str, ...]
    output_voltage: LimitsOfAll = attrs.field(metadata=unit("V"))
    listening: LimitsOfAll = attrs.field(metadata=unit("A"))
    talking: LimitsOfAll = attrs.field(metadata=unit("A"))
    shorted: LimitsOfAll = attrs.field(metadata=unit("A"))
    rating: LimitsOfAll = attrs.field(metadata=unit("A"))
    surplus: LimitsOfAll = attrs.field(metadata=unit("A"))
    input_listening: LimitsOfAll = attrs.field(metadata=unit("W"))
    input_talking: LimitsOfAll = attrs.field(metadata=unit("W"))
    input_current: LimitsOfAll = attrs.field(metadata=unit("A"))
    heat: LimitsOfAll = attrs.field(metadata=unit("W"))
    case_temperature: LimitsOfAll = attrs.field(metadata=unit("K"))
    highest_ambient: Array = attrs.field(converter=read_only, metadata=unit("K"))
    minimum_load: Array = attrs.field(converter=read_only, metadata=unit("A"))
    ripple: Array = attrs.field(converter=read_only, metadata=unit("V"))
    load_capacitance: Array = attrs.field(converter=read_only, metadata=unit("F"))
    capacitive_load: Array = attrs.field(converter=read_only, metadata=unit("F"))
    missing: Missing = ()

    @override
    def _margin(self, index: int) -> float:
        return float(self.surplus.nominal[index])

    @override
    def _row(self, index: int) -> SupplyBudget:
        parts: dict[str, Any] = {name: limits_at(getattr(self, name), index) for name in LIMITED}
        parts |= {name: float(getattr(self, name)[index]) for name in SINGLE}
        return SupplyBudget(node=self.nodes[index], margin=self._margin(index), **parts)


@attrs.frozen(kw_only=True)
class TransceiverHeat(Viewed):
    """What one transceiver draws, and how hot it gets.

    Parameters
    ----------
    node : str
        Name of the node [-].
    supply_current : Limits
        What it draws while it talks [A].
    heat : Limits
        What stays in it as heat, over the share of the time that its node talks [W].
    junction_temperature : Limits
        Temperature of its junction over the ambient's range [K].
    shorted_temperature : Limits
        The same while it drives a short, or another driver that holds the opposite [K].
    max_junction_temperature : float
        Highest temperature of its junction in use; NaN if unknown [K].
    highest_ambient : float
        Ambient temperature up to which its junction keeps within that, with the most heat [K].
    margin : float
        What is nominally left to its highest temperature [K].
    """

    node: str
    supply_current: Limits = attrs.field(metadata=unit("A"))
    heat: Limits = attrs.field(metadata=unit("W"))
    junction_temperature: Limits = attrs.field(metadata=unit("K"))
    shorted_temperature: Limits = attrs.field(metadata=unit("K"))
    max_junction_temperature: float = attrs.field(metadata=unit("K"))
    highest_ambient: float = attrs.field(metadata=unit("K"))
    margin: float = attrs.field(metadata=unit("K"))


@attrs.frozen(kw_only=True, eq=False)
class TransceiverHeats(PerNode[TransceiverHeat]):
    """What the transceivers that drive draw, and how hot they get; the columns are those of `TransceiverHeat`.

    Parameters
    ----------
    nodes : tuple of str
        The nodes that drive, in bus order [-].
    supply_current : LimitsOfAll
        See `TransceiverHeat` [A].
    heat : LimitsOfAll
        See `TransceiverHeat` [W].
    junction_temperature, shorted_temperature : LimitsOfAll
        See `TransceiverHeat` [K].
    max_junction_temperature, highest_ambient : array
        See `TransceiverHeat` [K].
    missing : tuple
        Rows and fields that the bus does not state [-].
    """

    nodes: tuple[str, ...]
    supply_current: LimitsOfAll = attrs.field(metadata=unit("A"))
    heat: LimitsOfAll = attrs.field(metadata=unit("W"))
    junction_temperature: LimitsOfAll = attrs.field(metadata=unit("K"))
    shorted_temperature: LimitsOfAll = attrs.field(metadata=unit("K"))
    max_junction_temperature: Array = attrs.field(converter=read_only, metadata=unit("K"))
    highest_ambient: Array = attrs.field(converter=read_only, metadata=unit("K"))
    missing: Missing = ()

    @override
    def _margin(self, index: int) -> float:
        return float(self.max_junction_temperature[index] - self.junction_temperature.nominal[index])

    @override
    def _row(self, index: int) -> TransceiverHeat:
        names = ("supply_current", "heat", "junction_temperature", "shorted_temperature")
        return TransceiverHeat(
            node=self.nodes[index],
            max_junction_temperature=float(self.max_junction_temperature[index]),
            highest_ambient=float(self.highest_ambient[index]),
            margin=self._margin(index),
            **{name: limits_at(getattr(self, name), index) for name in names},
        )


@attrs.frozen(kw_only=True, eq=False)
class SupplyBudgets(Rebuilt):
    """What crosses the barriers, and how hot it makes the parts.

    Parameters
    ----------
    barriers : BarrierSupplies
        The isolated supplies [A, W, K].
    transceivers : TransceiverHeats
        The transceivers that drive, with a barrier or without [A, W, K].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    barriers: BarrierSupplies
    transceivers: TransceiverHeats
    assumed: tuple[str, ...] = ()
