"""Cables as lines: the model of a pair, fitted to what its part states."""

from typing import NamedTuple

from rs485kit.errors import SolveError
from rs485kit.model import Cable
from rs485kit.network.branches import Notes
from rs485kit.solvers.line_fit import PROXIMITY_RANGE, Datasheet, LineFit, UnfittableError, fitted_line, missing_figures
from rs485kit.solvers.line_model import LineModel, heated
from rs485kit.units import MinTypMax

# three figures that should agree by C = 1 / (Z0 v) and differ by more are told
LARGEST_DISAGREEMENT = 0.05
_SECONDARY = ("characteristic_impedance", "velocity_factor", "capacitance")


class Pick(NamedTuple):
    """Which member of each figure is taken: "min", "nominal" or "max"."""

    conductor_resistance: str = "nominal"
    characteristic_impedance: str = "nominal"
    velocity_factor: str = "nominal"
    termination: str = "nominal"
    capacitance: str = "nominal"
    edge: str = "nominal"
    drive: str = "nominal"


NOMINAL = Pick()


def picked(figure: MinTypMax | None, member: str) -> float | None:
    """Return one member of a figure; where a limit is not stated, its nominal value."""
    if figure is None:
        return None
    value: float | None = getattr(figure, member)
    return figure.nominal if value is None else value


def line_of(cable: Cable, warming: float, notes: Notes, pick: Pick = NOMINAL) -> LineModel | None:
    """Return the line that a cable is.

    Parameters
    ----------
    cable : Cable
        The cable [-].
    warming : float
        Ratio of resistance to that at 20 degC [-].
    notes : Notes
        Takes the figures that are not stated [-].
    pick : Pick
        Which members of the figures are taken [-].

    Returns
    -------
    LineModel or None
        The line at temperature; None where too little is stated [any].

    Raises
    ------
    SolveError
        If no line has the figures that are stated.
    """
    fit = fit_of(cable, notes, pick)
    return None if fit is None else heated(fit.model, warming)


def fit_of(cable: Cable, notes: Notes, pick: Pick = NOMINAL) -> LineFit | None:
    """Return the line fitted to a cable at 20 degC, with its misfits; None where too little is stated.

    Parameters
    ----------
    cable : Cable
        The cable [-].
    notes : Notes
        Takes the figures that are not stated, and what was assumed [-].
    pick : Pick
        Which members of the figures are taken [-].

    Returns
    -------
    LineFit or None
        The fit [any].

    Raises
    ------
    SolveError
        If no line has the figures that are stated.
    """
    sheet = _datasheet(cable, pick)
    missing = missing_figures(sheet)
    for field in missing:
        notes.miss(f'cable "{cable.name}" {field}')
    if missing:
        return None
    fit = _fitted(cable, sheet, notes)
    if fit.disagreement is not None and abs(fit.disagreement) > LARGEST_DISAGREEMENT:
        share = f"{100 * fit.disagreement:+.0f} %"
        notes.assume(f"impedance, velocity and capacitance differ by {share}, each met by a third of it", cable.name)
    if not cable.attenuation:
        notes.assume("loss of the pair follows from its resistance, as no attenuation is stated", cable.name)
    return fit


def _datasheet(cable: Cable, pick: Pick) -> Datasheet:
    figures = {name: picked(getattr(cable, name), getattr(pick, name, "nominal")) for name in _SECONDARY}
    if pick != NOMINAL and figures["characteristic_impedance"] and figures["velocity_factor"]:
        figures["capacitance"] = None  # the limits of all three do not go together
    return Datasheet(
        conductor_resistance=picked(cable.conductor_resistance, pick.conductor_resistance),
        frequency=cable.impedance_frequency,
        conductor_radius=None if cable.conductor_diameter is None else cable.conductor_diameter / 2.0,
        attenuation=tuple((each.frequency, each.loss) for each in cable.attenuation),
        **figures,
    )


def _fitted(cable: Cable, sheet: Datasheet, notes: Notes) -> LineFit:
    try:
        return fitted_line(sheet)
    except UnfittableError as first:
        try:
            # wires so close that they would touch are those of a screened pair, whose screen takes part of the field
            fit = fitted_line(sheet._replace(proximity=PROXIMITY_RANGE[1], attenuation=()))
        except UnfittableError:
            cure = "check its resistance, impedance, velocity factor and capacitance against one another"
            raise SolveError(f'cable "{cable.name}" as a line', first.why, cure) from None
    notes.assume("a pair too close for its impedance is taken as screened, with the largest proximity loss", cable.name)
    return fit
