"""An isolated supply as figures: its output, its rating where it works, and what it takes in."""

import math
from typing import NamedTuple

from rs485kit.model import Barrier, IsolatedSupply
from rs485kit.network.branches import Notes, Span
from rs485kit.units import MinTypMax


def _span(figure: MinTypMax | None) -> Span:
    members = (None, None, None) if figure is None else (figure.nominal, figure.min, figure.max)
    return Span(*(math.nan if each is None else each for each in members))


def feeding_voltage(barrier: Barrier) -> Span:
    """Return the voltage that feeds the supply of a barrier: what is stated, else all that it is rated for."""
    stated = barrier.input_voltage
    if stated is None and barrier.supply is not None:
        stated = barrier.supply.input_voltage
    return _span(stated)


def output_voltage(barrier: Barrier, place: str, notes: Notes) -> Span:
    """Return the output of the supply of a barrier over load, input and setting.

    Parameters
    ----------
    barrier : Barrier
        A barrier with a supply [-].
    place : str
        Where it stands, for what is missing [-].
    notes : Notes
        Where that is noted [-].

    Returns
    -------
    Span
        Nominal and limits [V].

    Notes
    -----
    A supply with `load_regulation` or `line_regulation` gives V (1 +- s) (1 +- l) (1 + k i), i being what its input
    deviates from nominal, s its setting accuracy (0 where it states none): the parts are taken as independent.
    Any other has the limits of its `output_voltage`.
    """
    supply = barrier.supply
    assert supply is not None
    where = f"{place}.supply"
    if supply.output_voltage is None or supply.output_voltage.nominal is None:
        return notes.miss(f"{where}.output_voltage")
    if supply.load_regulation is None and supply.line_regulation is None:
        found = _span(supply.output_voltage)
        if supply.regulated is False:
            notes.assume("an output that is not regulated is taken inside its stated limits", where)
        return found
    setting = supply.setting_accuracy or 0.0
    if supply.setting_accuracy is None:
        notes.assume("outputs without a stated setting accuracy are taken as set exactly", where)
    load = supply.load_regulation or 0.0
    fed, rated = feeding_voltage(barrier), _span(supply.input_voltage)
    ratio = supply.line_regulation or 0.0
    typical = supply.output_voltage.nominal
    if ratio == 0.0:
        change = Span(0.0, 0.0, 0.0)
    elif math.isnan(rated.nominal):
        change = Span(0.0, notes.lack(f"{where}.input_voltage", "typ"), math.nan)
    else:
        change = Span(*(ratio * (each / rated.nominal - 1.0) for each in fed))
    return Span(
        typical * (1.0 + change.nominal),
        typical * (1.0 - setting) * (1.0 - load) * (1.0 + change.lower),
        typical * (1.0 + setting) * (1.0 + load) * (1.0 + change.upper),
    )


def rating(barrier: Barrier, ambient: Span, place: str, notes: Notes) -> Span:
    """Return the output current for which the supply of a barrier is rated where it works.

    Parameters
    ----------
    barrier : Barrier
        A barrier with a supply [-].
    ambient : Span
        Ambient temperature [K].
    place : str
        Where it stands, for what is missing [-].
    notes : Notes
        Where that is noted [-].

    Returns
    -------
    Span
        Nominal; lower at the highest temperature and lowest input, upper the other way round [A].
    """
    supply = barrier.supply
    assert supply is not None
    where = f"{place}.supply"
    rated = supply.output_current
    if rated is None and supply.output_power is not None and supply.output_voltage is not None:
        volts = supply.output_voltage.nominal
        rated = None if volts is None else supply.output_power / volts
    if rated is None and not supply.output_ratings:
        return notes.miss(f"{where}.output_power")
    full = math.inf if rated is None else rated
    fed = feeding_voltage(barrier)
    by_input = Span(*(_by_input(supply, full, each, where, notes) for each in fed))
    if not supply.derating:
        notes.assume("supplies without a stated derating are taken at their full rating at any temperature", where)
        return Span(by_input.nominal, by_input.lower, by_input.upper)
    if math.isnan(ambient.nominal):
        notes.miss("environment.temperature")
    cold, hot = _derated(supply, ambient.lower), _derated(supply, ambient.upper)
    if math.isnan(hot) and not math.isnan(ambient.upper):
        notes.lack(f"{where}.derating", f"share at {ambient.upper - 273.15:.0f} degC")
    return Span(by_input.nominal * _derated(supply, ambient.nominal), by_input.lower * hot, by_input.upper * cold)


def _by_input(supply: IsolatedSupply, full: float, voltage: float, where: str, notes: Notes) -> float:
    """Return the rating at one input voltage: that of the next stated voltage below."""
    if not supply.output_ratings:
        return full
    if math.isnan(voltage):
        return notes.lack(f"{where}.input_voltage", "min, typ and max")
    below = [each for each in supply.output_ratings if each.input_voltage <= voltage]
    if not below:
        return 0.0
    return min(full, max(below, key=lambda each: each.input_voltage).output_current)


def _derated(supply: IsolatedSupply, temperature: float) -> float:
    """Return the share of the rating at a temperature: straight lines between points, unknown past the last above 0."""
    points = sorted(supply.derating, key=lambda each: each.temperature)
    if math.isnan(temperature):
        return math.nan
    if temperature <= points[0].temperature:
        return points[0].share
    if temperature > points[-1].temperature:
        return 0.0 if points[-1].share == 0.0 else math.nan
    after = next(index for index, each in enumerate(points) if each.temperature >= temperature)
    low, high = points[after - 1], points[after]
    if high.temperature == low.temperature:
        return min(low.share, high.share)
    return low.share + (high.share - low.share) * (temperature - low.temperature) / (high.temperature - low.temperature)


class Input(NamedTuple):
    """What a supply takes in at some output, with limits [W]."""

    power: Span
    heat: Span


def taken_in(barrier: Barrier, output: Span, place: str, notes: Notes) -> Input:
    """Return the input power and the heat of the supply of a barrier.

    Parameters
    ----------
    barrier : Barrier
        A barrier with a supply [-].
    output : Span
        Output power [W].
    place : str
        Where it stands, for what is missing [-].
    notes : Notes
        Where that is noted [-].

    Returns
    -------
    Input
        Input power and heat, NaN where the efficiency there is not stated [W].

    Notes
    -----
    The loss P (1 / efficiency - 1) is a straight line between the stated powers, and down to that without load, which
    is the input voltage times `no_load_current`. Without that the loss at the least stated power is held below it for
    the upper limit and nominally, which is more than it can be, and 0 for the lower. Beyond the largest stated power
    nothing is told.
    """
    supply = barrier.supply
    assert supply is not None
    where = f"{place}.supply"
    if not supply.efficiency:
        notes.miss(f"{where}.efficiency")
        unknown = Span(math.nan, math.nan, math.nan)
        return Input(unknown, unknown)
    volts = feeding_voltage(barrier)
    idle = _span(supply.no_load_current)
    if supply.no_load_current is not None and supply.no_load_current.min is None:
        idle = idle._replace(lower=0.0)
    at_rest = Span(*(a * b for a, b in zip(idle, volts, strict=True)))
    losses = []
    for point in supply.efficiency:
        worst, best = point.efficiency.min, point.efficiency.max
        typical, power = point.efficiency.nominal, point.output_power
        losses.append((power, Span(
            math.nan if typical is None else power * (1.0 / typical - 1.0),
            0.0 if best is None else power * (1.0 / best - 1.0),
            notes.lack(f"{where}.efficiency", "min") if worst is None else power * (1.0 / worst - 1.0),
        )))  # fmt: skip
    losses.sort(key=lambda each: each[0])
    heat = Span(
        _loss(losses, output.nominal, at_rest.nominal, 0),
        _loss(losses, output.lower, at_rest.lower, 1),
        _loss(losses, output.upper, at_rest.upper, 2),
    )
    return Input(Span(*(a + b for a, b in zip(output, heat, strict=True))), heat)


def _loss(losses: list[tuple[float, Span]], power: float, at_rest: float, member: int) -> float:
    """Return one member of the loss at an output power."""
    points = [(each, span[member]) for each, span in losses]
    if math.isnan(power) or power > points[-1][0] * (1 + 1e-9):
        return math.nan
    if power <= points[0][0]:
        if math.isnan(at_rest):
            return 0.0 if member == 1 else points[0][1]
        points.insert(0, (0.0, at_rest))
    after = next((index for index, each in enumerate(points) if each[0] >= power), len(points) - 1)
    if after == 0:
        return points[0][1]
    (low, first), (high, second) = points[after - 1], points[after]
    return second if high == low else first + (second - first) * (power - low) / (high - low)
