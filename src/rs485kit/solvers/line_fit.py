"""A line from what a datasheet states: the model whose own figures, internal inductance included, are those stated.

At the stated frequency the line has Z = |Z| exp(j (pi/2 - zeta)) along it and Y = |Y| exp(j (pi/2 - delta)) across,
delta being the loss angle of the dielectric. With a = atan(alpha / beta) = (zeta + delta) / 2

    |Z0|^2 = |Z| / |Y|,    beta = |Z0| |Y| cos a,    Re Z = |Z| sin(2 a - delta),

and Re Z is known from the wire. So any two of impedance, velocity and capacitance leave one equation for a,

    sin(2 a - delta) = q (cos a)^n,

with n = 0 where impedance and capacitance are given, 1 for impedance and velocity, 2 for velocity and capacitance.
Its left side rises and its right side falls between delta/2 and pi/4 + delta/2, where Im Z vanishes: one root or none.
"""

import itertools
import math
from typing import NamedTuple

import numpy as np

from rs485kit.solvers.elimination import Floats
from rs485kit.solvers.line_model import SPEED_OF_LIGHT, LineModel, propagation
from rs485kit.solvers.wire import (
    COPPER_RESISTIVITY,
    outline_skin_time,
    proximity_factor,
    skin_impedance,
    solid_skin_time,
)

NEPER = 20.0 / math.log(10.0)

# where attenuation may push the two figures that it decides: centres 1.09 diameters apart; soft PVC at 1 MHz
PROXIMITY_RANGE = (1.0, 2.5)
LOSS_TANGENT_RANGE = (0.0, 0.2)

_BISECTIONS = 60
_MOST_STEPS = 60
_SETTLED = 1e-12
_DIFFERENCE = 1e-6
_CLOSE = 1e-9


class UnfittableError(ValueError):
    """What a datasheet states is too little for a line, or contradicts itself.

    Parameters
    ----------
    why : str
        What is wrong, and what would help [-].
    missing : tuple of str
        Figures that are not stated [-].
    """

    def __init__(self, why: str, missing: tuple[str, ...] = ()) -> None:
        super().__init__(why, missing)
        self.why = why
        self.missing = missing

    def __str__(self) -> str:
        return self.why


class Datasheet(NamedTuple):
    """What is stated of a pair; None where nothing is.

    - `conductor_resistance`: direct-current resistance of one conductor at 20 degC; None: that of solid copper of the
      given radius [ohm/m].
    - `characteristic_impedance`: magnitude of the characteristic impedance at the frequency [ohm].
    - `velocity_factor`: phase velocity at the frequency over that of light [-].
    - `capacitance`: between the conductors at the frequency [F/m].
    - `frequency`: where these three hold [Hz].
    - `conductor_radius`: radius of the outline of one conductor; None: that of solid copper of the given resistance
      [m].
    - `proximity`: proximity factor; None: from attenuation, else from the spacing that the inductance implies [-].
    - `loss_tangent`: of the dielectric; None: from attenuation, else 0 [-].
    - `attenuation`: frequency and attenuation of each point that is stated [Hz and dB/m].
    """

    conductor_resistance: float | None = None
    characteristic_impedance: float | None = None
    velocity_factor: float | None = None
    capacitance: float | None = None
    frequency: float = 1e6
    conductor_radius: float | None = None
    proximity: float | None = None
    loss_tangent: float | None = None
    attenuation: tuple[tuple[float, float], ...] = ()


class Comparison(NamedTuple):
    """A figure that was given, and the same figure of the fitted line."""

    name: str
    frequency: float
    given: float
    found: float

    @property
    def difference(self) -> float:
        """Found less given, in the unit of the figure."""
        return self.found - self.given

    @property
    def relative(self) -> float:
        """Found over given, less 1."""
        return self.found / self.given - 1.0


class LineFit(NamedTuple):
    """A fitted line and how far it misses what was given.

    - `model`: the line at 20 degC [any].
    - `radius`: radius of a conductor, given or that of solid copper [m].
    - `figures`: impedance, velocity and capacitance as far as they were given [any].
    - `disagreement`: given capacitance over that which impedance and velocity imply, less 1; None unless all three
      were given [-].
    - `attenuation`: every given point [dB/m].
    - `assumed`: figures of the datasheet that nothing given decided: they come from solid copper, the spacing, or are
      0 [-].
    """

    model: LineModel
    radius: float
    figures: tuple[Comparison, ...]
    disagreement: float | None
    attenuation: tuple[Comparison, ...]
    assumed: tuple[str, ...]


class _Wires(NamedTuple):
    """The loop of two conductors: resistance, skin time, and impedance at the stated frequency by proximity factor."""

    resistance: float
    skin_time: float
    alone: complex
    neighbour: complex

    def impedance(self, proximity: float) -> complex:
        return self.alone + (proximity - 1.0) * self.neighbour


class _Secondary(NamedTuple):
    """Impedance, velocity and capacitance that a line shall have; None where nothing is asked."""

    impedance: float | None
    velocity: float | None
    capacitance: float | None

    def scaled(self, factor: float) -> "_Secondary":
        return _Secondary(*(None if each is None else each * factor for each in self))


def missing_figures(sheet: Datasheet) -> tuple[str, ...]:
    """Return which figures a datasheet would have to state before a line can be fitted to it.

    Parameters
    ----------
    sheet : Datasheet
        What is stated [any].

    Returns
    -------
    tuple of str
        Names of fields of the datasheet; empty if it suffices. Of impedance, velocity and capacitance all that are
        not stated are named when fewer than two are, though one or two of them will do [-].
    """
    missing = ["conductor_resistance"] if sheet.conductor_resistance is None and sheet.conductor_radius is None else []
    secondary = ("characteristic_impedance", "velocity_factor", "capacitance")
    absent = [name for name in secondary if getattr(sheet, name) is None]
    return tuple(missing + (absent if len(absent) > 1 else []))


def fitted_line(sheet: Datasheet) -> LineFit:
    """Return the line that has the figures of a datasheet.

    Parameters
    ----------
    sheet : Datasheet
        Resistance or radius of a conductor and at least two of impedance, velocity and capacitance [any].

    Returns
    -------
    LineFit
        The line, its misfits and what had to be assumed [any].

    Raises
    ------
    UnfittableError
        If too little is stated, a figure is no positive number, or no line has these figures.

    Notes
    -----
    Two of impedance, velocity and capacitance are met exactly at their frequency. Three are over-determined: without
    loss C = 1 / (Z0 v). Then all three are missed by one common factor, for small disagreement the least squares of
    their relative errors, and `figures` tells by how much.

    Attenuation decides proximity factor and loss tangent by least squares of relative errors within PROXIMITY_RANGE and
    LOSS_TANGENT_RANGE, impedance, velocity and capacitance being held meanwhile. Points at one frequency alone decide
    one of them: the proximity factor, unless that is given. Where there is no point the proximity factor is that of two
    parallel wires with the spacing that the external inductance implies, coth(pi L / mu0).

    The misfit of attenuation says how well the form fits, not how well a datasheet does: limits of a standard lie above
    any real cable, and a fit to them makes a cable that loses as much.
    """
    missing = missing_figures(sheet)
    if missing:
        raise UnfittableError(
            f"a line needs conductor_resistance (or conductor_radius) and two of characteristic_impedance, "
            f"velocity_factor and capacitance; not stated: {', '.join(missing)}",
            missing,
        )
    _refuse_impossible(sheet)
    resistance, radius, wires = _conductors(sheet)
    velocity = None if sheet.velocity_factor is None else sheet.velocity_factor * SPEED_OF_LIGHT
    asked = _Secondary(sheet.characteristic_impedance, velocity, sheet.capacitance)
    given = {"conductor_resistance": resistance, "conductor_radius": radius, **sheet._asdict()}
    assumed = [name for name in ("conductor_resistance", "conductor_radius") if getattr(sheet, name) is None]
    unknown = [name for name in ("proximity", "loss_tangent") if given[name] is None]
    decided = unknown[: len({frequency for frequency, _ in sheet.attenuation})]
    assumed += [name for name in unknown if name not in decided]
    if decided:
        model = _by_attenuation(sheet, wires, asked, tuple(decided))
    else:
        model = _line(sheet, wires, asked, sheet.proximity, sheet.loss_tangent or 0.0)
    _refuse_faster_than_light(model)
    return LineFit(
        model,
        radius,
        _figures(sheet, model),
        _disagreement(sheet, wires, asked, model),
        _points(sheet, model),
        tuple(assumed),
    )


def attenuation(model: LineModel, frequency: Floats) -> Floats:
    """Return the attenuation of a line that ends in its own characteristic impedance.

    Parameters
    ----------
    model : LineModel
        The line [any].
    frequency : array
        Where [Hz].

    Returns
    -------
    array
        Attenuation [dB/m].
    """
    constant = propagation(model, 2j * np.pi * np.asarray(frequency, dtype=np.float64)).constant
    return NEPER * constant.real


def _refuse_impossible(sheet: Datasheet) -> None:
    figures = [(name, value) for name, value in sheet._asdict().items() if name != "attenuation"]
    for frequency, loss in sheet.attenuation:
        figures += [("attenuation", frequency), ("attenuation", loss)]
    for name, value in figures:
        if value is None or (name == "loss_tangent" and 0.0 <= value < math.inf):
            continue
        lowest = 1.0 if name == "proximity" else 0.0
        if not lowest <= value < math.inf or value == 0.0:
            wanted = "at least 1" if name == "proximity" else "positive"
            raise UnfittableError(f"{name} is given as {value!r}; it has to be finite and {wanted}")


def _conductors(sheet: Datasheet) -> tuple[float, float, _Wires]:
    """Return resistance and radius of one conductor, and the loop of two."""
    resistance, radius = sheet.conductor_resistance, sheet.conductor_radius
    if resistance is None:
        assert radius is not None
        resistance = COPPER_RESISTIVITY / (math.pi * radius**2)
    if radius is None:
        radius = math.sqrt(COPPER_RESISTIVITY / (math.pi * resistance))
        time = solid_skin_time(resistance)
    else:
        time = outline_skin_time(resistance, radius)
    s = np.array([2j * np.pi * sheet.frequency])
    loop = 2.0 * resistance
    alone, double = (complex(skin_impedance(s, loop, time, proximity=factor)[0]) for factor in (1.0, 2.0))
    return resistance, radius, _Wires(loop, time, alone, double - alone)


def _line(
    sheet: Datasheet, wires: _Wires, asked: _Secondary, proximity: float | None, loss_tangent: float
) -> LineModel:
    """Return the line with these figures, an unknown proximity factor by the spacing that the inductance implies."""
    if proximity is not None:
        return _with_factor(sheet, wires, asked, proximity, loss_tangent)
    # more proximity leaves less external inductance, which implies more proximity: a rising sequence
    factor = PROXIMITY_RANGE[0]
    for _ in range(_MOST_STEPS):
        model = _with_factor(sheet, wires, asked, factor, loss_tangent)
        previous, factor = factor, proximity_factor(model.inductance)
        if factor > PROXIMITY_RANGE[1]:
            raise UnfittableError(
                f"two parallel wires of this resistance would have to touch to make {_told(asked)}; check the figures, "
                "or state points of attenuation, as of a shielded pair, whose shield lowers the inductance"
            )
        if abs(factor - previous) <= _SETTLED:
            break
    return model


def _with_factor(
    sheet: Datasheet, wires: _Wires, asked: _Secondary, proximity: float, loss_tangent: float
) -> LineModel:
    omega = 2.0 * math.pi * sheet.frequency
    inside = wires.impedance(proximity)
    inductance, capacitance = _agreed(omega, inside, asked, math.atan(loss_tangent))
    return LineModel(
        wires.resistance, inductance, capacitance, wires.skin_time, proximity, loss_tangent, sheet.frequency
    )


def _agreed(omega: float, inside: complex, asked: _Secondary, angle: float) -> tuple[float, float]:
    """Return external inductance and capacitance; of three figures all are missed by one common factor."""
    if None in asked:
        return _exact(omega, inside, asked, angle)
    assert asked.capacitance is not None
    factor = 1.0
    for _ in range(_MOST_STEPS):
        scaled = asked.scaled(factor)
        inductance, capacitance = _exact(omega, inside, scaled._replace(capacitance=None), angle)
        # without loss the implied capacitance falls by the square of the factor, the given one rises with it
        previous, factor = factor, (capacitance * factor**2 / asked.capacitance) ** (1.0 / 3.0)
        if abs(factor / previous - 1.0) <= _SETTLED:
            break
    return inductance, capacitance


def _exact(omega: float, inside: complex, asked: _Secondary, angle: float) -> tuple[float, float]:
    """Return external inductance and capacitance from two figures."""
    impedance, velocity, capacitance = asked
    admittance = None if capacitance is None else omega * capacitance / math.cos(angle)
    beta = None if velocity is None else omega / velocity
    if impedance is not None and admittance is not None:
        half = _half_angle(inside.real / (impedance**2 * admittance), 0, angle, asked)
    elif impedance is not None and beta is not None:
        half = _half_angle(inside.real / (impedance * beta), 1, angle, asked)
        admittance = beta / (impedance * math.cos(half))
    else:
        assert beta is not None and admittance is not None
        half = _half_angle(inside.real * admittance / beta**2, 2, angle, asked)
        impedance = beta / (admittance * math.cos(half))
    reactance = impedance**2 * admittance * math.cos(2.0 * half - angle)
    if reactance <= inside.imag:
        raise UnfittableError(
            f"no inductance is left outside the conductors: {_told(asked)} mean a reactance of {reactance:.3g} ohm/m, "
            f"and inside the conductors alone there is {inside.imag:.3g} ohm/m; check resistance, impedance, frequency"
        )
    return (reactance - inside.imag) / omega, admittance * math.cos(angle) / omega


def _half_angle(quotient: float, power: int, angle: float, asked: _Secondary) -> float:
    """Return the root of sin(2 a - angle) = quotient (cos a)^power, by bisection."""

    def excess(half: float) -> float:
        return math.sin(2.0 * half - angle) - quotient * math.cos(half) ** power

    low, high = angle / 2.0, math.pi / 4.0 + angle / 2.0
    if excess(high) <= 0.0:
        raise UnfittableError(
            f"the conductors have more resistance at the frequency than a line with {_told(asked)} can have; check "
            "resistance and frequency, or state the figures at a higher frequency"
        )
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if excess(middle) > 0.0 else (middle, high)
    return (low + high) / 2.0


def _told(asked: _Secondary) -> str:
    impedance, velocity, capacitance = asked
    parts = [] if impedance is None else [f"{impedance:.4g} ohm"]
    parts += [] if velocity is None else [f"{velocity / SPEED_OF_LIGHT:.4g} of the speed of light"]
    parts += [] if capacitance is None else [f"{capacitance * 1e12:.4g} pF/m"]
    return " and ".join(parts)


def _refuse_faster_than_light(model: LineModel) -> None:
    velocity = 1.0 / math.sqrt(model.inductance * model.capacitance)
    if velocity > SPEED_OF_LIGHT:
        raise UnfittableError(
            f"waves on this line would run at {velocity / SPEED_OF_LIGHT:.3g} of the speed of light at high frequency; "
            "check impedance, velocity and capacitance, which for a pair satisfy C = 1 / (Z0 v)"
        )


def _by_attenuation(sheet: Datasheet, wires: _Wires, asked: _Secondary, decided: tuple[str, ...]) -> LineModel:
    """Return the line whose decided figures come nearest to the attenuation: Gauss's method within bounds."""
    frequencies, losses = (np.array(column) for column in zip(*sheet.attenuation, strict=True))
    ranges = np.array([{"proximity": PROXIMITY_RANGE, "loss_tangent": LOSS_TANGENT_RANGE}[name] for name in decided])
    fixed = {"proximity": sheet.proximity, "loss_tangent": sheet.loss_tangent or 0.0}

    def line(values: Floats) -> LineModel:
        chosen = fixed | dict(zip(decided, values.tolist(), strict=True))
        factor, tangent = chosen["proximity"], chosen["loss_tangent"]
        assert tangent is not None
        return _line(sheet, wires, asked, factor, tangent)

    def errors(values: Floats) -> Floats:
        try:
            return np.asarray(attenuation(line(values), frequencies) / losses - 1.0)
        except UnfittableError:
            return np.full(len(losses), math.inf)

    values = ranges[:, 0].copy()
    line(values)  # what cannot be fitted without proximity and loss cannot be with them: refused here
    misses = errors(values)
    for _ in range(_MOST_STEPS):
        slopes = np.stack(
            [(errors(values + step) - misses) / _DIFFERENCE for step in _DIFFERENCE * np.eye(len(values))]
        )
        if not np.isfinite(slopes).all():
            break  # at the border of what can be fitted
        wanted = _bounded_least_squares(slopes.T, slopes.T @ values - misses, ranges)
        step, share = wanted - values, 1.0
        while share > _DIFFERENCE and np.sum(errors(values + share * step) ** 2) > np.sum(misses**2):
            share /= 2.0
        if share <= _DIFFERENCE or np.abs(step).max() <= _CLOSE:
            break
        values = values + share * step
        misses = errors(values)
    return line(values)


def _bounded_least_squares(matrix: Floats, right: Floats, ranges: Floats) -> Floats:
    """Return the least squares solution of one or two unknowns in a box: every set of active bounds is tried."""
    best, least = ranges[:, 0], math.inf
    for state in itertools.product((None, 0, 1), repeat=len(ranges)):
        free = np.array([each is None for each in state])
        values = np.array([0.0 if each is None else ranges[row, each] for row, each in enumerate(state)])
        if free.any():
            values[free] = np.linalg.lstsq(matrix[:, free], right - matrix @ values, rcond=None)[0]
        if (values < ranges[:, 0]).any() or (values > ranges[:, 1]).any():
            continue
        square = float(np.sum((matrix @ values - right) ** 2))
        if square < least:
            best, least = values, square
    return best


def _figures(sheet: Datasheet, model: LineModel) -> tuple[Comparison, ...]:
    """Return impedance, velocity and capacitance as they are with the line, where they were given."""
    omega = 2.0 * math.pi * sheet.frequency
    constant, impedance = propagation(model, np.array([1j * omega]))
    found = {
        "characteristic_impedance": float(np.abs(impedance[0])),
        "velocity_factor": omega / float(constant[0].imag) / SPEED_OF_LIGHT,
        "capacitance": model.capacitance,
    }
    given = sheet._asdict()
    return tuple(
        Comparison(name, sheet.frequency, given[name], value)
        for name, value in found.items()
        if given[name] is not None
    )


def _disagreement(sheet: Datasheet, wires: _Wires, asked: _Secondary, model: LineModel) -> float | None:
    if asked.impedance is None or asked.velocity is None or asked.capacitance is None:
        return None
    implied = _with_factor(sheet, wires, asked._replace(capacitance=None), model.proximity, model.loss_tangent)
    return asked.capacitance / implied.capacitance - 1.0


def _points(sheet: Datasheet, model: LineModel) -> tuple[Comparison, ...]:
    if not sheet.attenuation:
        return ()
    found = attenuation(model, np.array([frequency for frequency, _ in sheet.attenuation]))
    return tuple(
        Comparison("attenuation", frequency, loss, each)
        for (frequency, loss), each in zip(sheet.attenuation, found.tolist(), strict=True)
    )
