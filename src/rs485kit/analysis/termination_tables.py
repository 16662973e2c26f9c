"""What `terminations` returns: ends, what is fitted across the pair, loads of drivers, heat in resistors."""

import math

import attrs

from rs485kit.analysis.results import Array, Missing, PerNode, Rebuilt, read_only, unit
from rs485kit.model.base import Viewed

LIMITS = ("lower", "nominal", "upper")
PEAK = ("nominal", "upper")


@attrs.frozen(kw_only=True)
class Limits:
    """A figure with its limits.

    Parameters
    ----------
    lower, upper : float
        Limits over all tolerances; NaN where one that they need is not stated [unit of the figure].
    nominal : float
        With every figure nominal [unit of the figure].
    """

    lower: float
    nominal: float
    upper: float

    dimensioned_parts = LIMITS


@attrs.frozen(kw_only=True, eq=False)
class LimitsOfAll(Rebuilt):
    """A figure of every row, with its limits.

    Parameters
    ----------
    lower, upper : array
        Limits over all tolerances; NaN where one that they need is not stated [unit of the figure].
    nominal : array
        With every figure nominal [unit of the figure].
    """

    lower: Array = attrs.field(converter=read_only)
    nominal: Array = attrs.field(converter=read_only)
    upper: Array = attrs.field(converter=read_only)

    dimensioned_parts = LIMITS


@attrs.frozen(kw_only=True)
class Peak:
    """The largest value of a figure over the states of the bus.

    Parameters
    ----------
    nominal : float
        With every figure nominal [unit of the figure].
    upper : float
        What it cannot pass; NaN where a limit that it needs is not stated [unit of the figure].
    """

    nominal: float
    upper: float

    dimensioned_parts = PEAK


@attrs.frozen(kw_only=True, eq=False)
class PeakOfAll(Rebuilt):
    """The largest value of a figure of every row over the states of the bus.

    Parameters
    ----------
    nominal : array
        With every figure nominal [unit of the figure].
    upper : array
        What it cannot pass; NaN where a limit that it needs is not stated [unit of the figure].
    """

    nominal: Array = attrs.field(converter=read_only)
    upper: Array = attrs.field(converter=read_only)

    dimensioned_parts = PEAK


def _limits(figures: LimitsOfAll, index: int) -> Limits:
    return Limits(**{part: float(getattr(figures, part)[index]) for part in LIMITS})


def _peak(figures: PeakOfAll, index: int) -> Peak:
    return Peak(**{part: float(getattr(figures, part)[index]) for part in PEAK})


@attrs.frozen(kw_only=True)
class FittedPlace(Viewed):
    """What one node carries across the pair.

    Parameters
    ----------
    node : str
        Name of the node [-].
    kind : str
        What is engaged there, such as "resistive" or "active + bias"; "none" if nothing is [-].
    engaged : int
        How many terminators are engaged [-].
    disengaged : int
        How many terminators are fitted but not engaged [-].
    place : str
        "end", "mid-line" or "stub" [-].
    stub : float
        Length of the stub that ties the node to its line [m].
    resistance : Limits
        Everything engaged across the pair, for an edge; infinite where nothing is [ohm].
    characteristic_impedance : Limits
        Impedance of the cable there [ohm].
    reflection : Limits
        Share of a wave that the place sends back [-].
    time_constant : Limits
        The least R C of its RC terminators; NaN where there is none [s].
    delay : Limits
        One-way delay to the place farthest away, for an RC terminator; NaN where there is none [s].
    """

    node: str
    kind: str
    engaged: int
    disengaged: int
    place: str
    stub: float = attrs.field(metadata=unit("m"))
    resistance: Limits = attrs.field(metadata=unit("ohm"))
    characteristic_impedance: Limits = attrs.field(metadata=unit("ohm"))
    reflection: Limits = attrs.field(metadata=unit(""))
    time_constant: Limits = attrs.field(metadata=unit("s"))
    delay: Limits = attrs.field(metadata=unit("s"))


@attrs.frozen(kw_only=True, eq=False)
class FittedPlaces(PerNode[FittedPlace]):
    """What is fitted across the pair: the nodes that carry a terminator or a bias network.

    Parameters
    ----------
    nodes : tuple of str
        The nodes, in bus order [-].
    kind : tuple of str
        What is engaged at each, such as "resistive" or "active + bias"; "none" if nothing is [-].
    engaged, disengaged : tuple of int
        How many terminators of each are engaged, and how many are not [-].
    place : tuple of str
        "end", "mid-line" or "stub" [-].
    stub : array
        Length of the stub that ties each to its line [m].
    resistance : LimitsOfAll
        Everything engaged across the pair, for an edge; infinite where nothing is [ohm].
    characteristic_impedance : LimitsOfAll
        Impedance of the cable there [ohm].
    reflection : LimitsOfAll
        Share of a wave that each place sends back [-].
    time_constant : LimitsOfAll
        The least R C of its RC terminators; NaN where there is none [s].
    delay : LimitsOfAll
        One-way delay to the place farthest away, for an RC terminator; NaN where there is none [s].
    missing : tuple
        Rows and fields that the bus does not state [-].
    unstated : tuple of str
        Limits that the limits here would need [-].
    """

    nodes: tuple[str, ...]
    kind: tuple[str, ...]
    engaged: tuple[int, ...]
    disengaged: tuple[int, ...]
    place: tuple[str, ...]
    stub: Array = attrs.field(converter=read_only, metadata=unit("m"))
    resistance: LimitsOfAll = attrs.field(metadata=unit("ohm"))
    characteristic_impedance: LimitsOfAll = attrs.field(metadata=unit("ohm"))
    reflection: LimitsOfAll = attrs.field(metadata=unit(""))
    time_constant: LimitsOfAll = attrs.field(metadata=unit("s"))
    delay: LimitsOfAll = attrs.field(metadata=unit("s"))
    missing: Missing = ()
    unstated: tuple[str, ...] = ()

    def _margin(self, index: int) -> float:
        return -abs(float(self.reflection.nominal[index]))

    def _row(self, index: int) -> FittedPlace:
        return FittedPlace(
            node=self.nodes[index],
            kind=self.kind[index],
            engaged=self.engaged[index],
            disengaged=self.disengaged[index],
            place=self.place[index],
            stub=float(self.stub[index]),
            resistance=_limits(self.resistance, index),
            characteristic_impedance=_limits(self.characteristic_impedance, index),
            reflection=_limits(self.reflection, index),
            time_constant=_limits(self.time_constant, index),
            delay=_limits(self.delay, index),
        )


@attrs.frozen(kw_only=True)
class DriverLoad(Viewed):
    """What one driver has to drive.

    Parameters
    ----------
    node : str
        Name of the node [-].
    resistance : Limits
        Resistance that the bus shows to its terminals [ohm].
    driver_least_load : float
        Least load down to which its levels hold: its part's, or 54 ohm [ohm].
    current : Peak
        Output current, through the pair [A].
    driver_current : float
        Largest output current that its part is rated for; NaN: not stated [A].
    """

    node: str
    resistance: Limits = attrs.field(metadata=unit("ohm"))
    driver_least_load: float = attrs.field(metadata=unit("ohm"))
    current: Peak = attrs.field(metadata=unit("A"))
    driver_current: float = attrs.field(metadata=unit("A"))


@attrs.frozen(kw_only=True, eq=False)
class DriverLoads(PerNode[DriverLoad]):
    """What every driver has to drive.

    Parameters
    ----------
    nodes : tuple of str
        The nodes that drive, in bus order [-].
    resistance : LimitsOfAll
        Resistance that the bus shows to their terminals [ohm].
    driver_least_load : array
        Least load down to which their levels hold: their part's, or 54 ohm [ohm].
    current : PeakOfAll
        Output current, through the pair [A].
    driver_current : array
        Largest output current that their part is rated for; NaN: not stated [A].
    missing : tuple
        Rows and fields that the bus does not state [-].
    unstated : tuple of str
        Figures without which no row has a value, and limits that the limits here would need [-].
    """

    nodes: tuple[str, ...]
    resistance: LimitsOfAll = attrs.field(metadata=unit("ohm"))
    driver_least_load: Array = attrs.field(converter=read_only, metadata=unit("ohm"))
    current: PeakOfAll = attrs.field(metadata=unit("A"))
    driver_current: Array = attrs.field(converter=read_only, metadata=unit("A"))
    missing: Missing = ()
    unstated: tuple[str, ...] = ()

    def _margin(self, index: int) -> float:
        return float((self.resistance.nominal - self.driver_least_load)[index])

    def _row(self, index: int) -> DriverLoad:
        return DriverLoad(
            node=self.nodes[index],
            resistance=_limits(self.resistance, index),
            driver_least_load=float(self.driver_least_load[index]),
            current=_peak(self.current, index),
            driver_current=float(self.driver_current[index]),
        )


@attrs.frozen(kw_only=True)
class ResistorHeat(Viewed):
    """Heat in one resistor of a terminator or bias network.

    Parameters
    ----------
    node : str
        Name of the node [-].
    resistor : str
        Which one, as the node's description has it, such as "biases[0].pull_up" [-].
    resistance : Limits
        Its resistance [ohm].
    heat : Peak
        Heat in it, the largest over the idle and the driven states [W].
    power : float
        Power that it is rated for; NaN: not stated [W].
    """

    node: str
    resistor: str
    resistance: Limits = attrs.field(metadata=unit("ohm"))
    heat: Peak = attrs.field(metadata=unit("W"))
    power: float = attrs.field(metadata=unit("W"))


@attrs.frozen(kw_only=True, eq=False)
class ResistorHeats(PerNode[ResistorHeat]):
    """Heat in every resistor of the terminators and bias networks that are engaged; several rows of one node may be.

    Parameters
    ----------
    nodes : tuple of str
        The node of each resistor, in bus order [-].
    resistor : tuple of str
        Which one, as the node's description has it, such as "biases[0].pull_up" [-].
    resistance : LimitsOfAll
        Their resistances [ohm].
    heat : PeakOfAll
        Heat in each, the largest over the idle and the driven states [W].
    power : array
        Power that each is rated for; NaN: not stated [W].
    missing : tuple
        Rows and fields that the bus does not state [-].
    unstated : tuple of str
        Figures without which no row has a value, and limits that the limits here would need [-].
    """

    nodes: tuple[str, ...]
    resistor: tuple[str, ...]
    resistance: LimitsOfAll = attrs.field(metadata=unit("ohm"))
    heat: PeakOfAll = attrs.field(metadata=unit("W"))
    power: Array = attrs.field(converter=read_only, metadata=unit("W"))
    missing: Missing = ()
    unstated: tuple[str, ...] = ()

    def at(self, node: str) -> ResistorHeat:
        """Return the row of the hottest resistor of a node.

        Parameters
        ----------
        node : str
            Name of the node [-].

        Returns
        -------
        ResistorHeat
            The row [-].

        Raises
        ------
        UnknownNameError
            If the node has no resistor across the pair; near names are offered.
        """
        super().at(node)
        own = [index for index, name in enumerate(self.nodes) if name == node]
        return self._row(min(own, key=lambda index: (not math.isnan(self._margin(index)), self._margin(index))))

    def _margin(self, index: int) -> float:
        return -float(self.heat.nominal[index])

    def _row(self, index: int) -> ResistorHeat:
        return ResistorHeat(
            node=self.nodes[index],
            resistor=self.resistor[index],
            resistance=_limits(self.resistance, index),
            heat=_peak(self.heat, index),
            power=float(self.power[index]),
        )


@attrs.frozen(kw_only=True, eq=False)
class Terminations(Rebuilt):
    """Ends of the lines, what is fitted across the pair, the load of every driver, and heat in every resistor.

    Parameters
    ----------
    ends : tuple of str
        Places at which a line ends, in bus order [-].
    terminated : tuple of str
        Those of them at which a terminator is engaged [-].
    length : array
        Length of cable from each end to the place farthest from it [m].
    delay : LimitsOfAll
        One-way delay over that length [s].
    fitted : FittedPlaces
        What each node carries across the pair [-].
    driver_load : DriverLoads
        What each driver has to drive [-].
    resistors : ResistorHeats
        Heat in each resistor [-].
    missing : tuple
        Ends and fields that the bus does not state [-].
    unstated : tuple of str
        Limits that the limits of the delay would need [-].
    assumed : tuple of str
        What was assumed where the bus says nothing [-].
    """

    ends: tuple[str, ...]
    terminated: tuple[str, ...]
    length: Array = attrs.field(converter=read_only, metadata=unit("m"))
    delay: LimitsOfAll = attrs.field(metadata=unit("s"))
    fitted: FittedPlaces
    driver_load: DriverLoads
    resistors: ResistorHeats
    missing: Missing = ()
    unstated: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
