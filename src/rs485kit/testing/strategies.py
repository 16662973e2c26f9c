"""Hypothesis strategies for names, figures and parts.

Every strategy gives valid objects. By default a field may be anything that its class takes, unknown included; with
`complete=True` every figure is stated, lies where practice has it, and contradicts no other.
"""

import math
from typing import Any

import attrs
import numpy as np
from hypothesis import reject
from hypothesis import strategies as st

from rs485kit.errors import InputError
from rs485kit.formulas import propagation_velocity
from rs485kit.model import (
    Attenuation,
    Barrier,
    Bias,
    Bridge,
    Cable,
    Channel,
    DeratingPoint,
    EfficiencyPoint,
    IsolatedSupply,
    Isolator,
    LifePoint,
    OutputRating,
    Protector,
    SupplyCurrent,
    Termination,
    Transceiver,
)
from rs485kit.model.base import TAP_SUFFIX
from rs485kit.solvers.line_fit import Datasheet, UnfittableError, attenuation, fitted_line
from rs485kit.units import MinTypMax

PUNCTUATION = "\"'\\.[]{}#=,:;-_ µΩ°é漢ß🌊"
EDGE_SHAPES = ("raised cosine", "linear ramp")
INSULATION = ("functional", "basic", "reinforced")
MATERIAL_GROUPS = ("I", "II", "IIIa", "IIIb")


# --- names and figures -----------------------------------------------------------------------------------


def names(*, odd: bool = True, longest: int = 20) -> st.SearchStrategy[str]:
    """Return a strategy for names.

    Parameters
    ----------
    odd : bool
        Whether they may hold quotes, dots, brackets and letters of any script; otherwise they are like "gate-12" [-].
    longest : int
        Most characters of an odd one [-].

    Returns
    -------
    SearchStrategy of str
        The strategy [-].
    """
    if not odd:
        return st.from_regex(r"[a-z]{1,6}-[0-9]{1,3}", fullmatch=True)
    alphabet = st.one_of(st.sampled_from(PUNCTUATION), st.characters(codec="utf-8", categories=("L", "N", "P", "S")))
    text = st.text(alphabet, min_size=1, max_size=longest).map(str.strip)
    return text.filter(lambda name: bool(name) and name.isprintable() and not name.endswith(TAP_SUFFIX))


def figures(low: float, high: float) -> st.SearchStrategy[float]:
    """Return a strategy for SI figures of a range, its ends and round values included.

    Parameters
    ----------
    low : float
        Least value [SI unit of the field].
    high : float
        Largest value [SI unit of the field].

    Returns
    -------
    SearchStrategy of float
        The strategy [-].
    """
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


def spreads(low: float, high: float, *, bounded: bool = False) -> st.SearchStrategy[MinTypMax]:
    """Return a strategy for figures with least, typical and largest value: exact, whole, or with members unknown.

    Parameters
    ----------
    low : float
        Least value of any member [SI unit of the field].
    high : float
        Largest value of any member [SI unit of the field].
    bounded : bool
        Whether every member is stated [-].

    Returns
    -------
    SearchStrategy of MinTypMax
        The strategy [-].
    """
    exact = figures(low, high).map(lambda value: MinTypMax(min=value, typ=value, max=value))
    three = st.tuples(*[figures(low, high)] * 3).map(sorted)
    whole = three.map(lambda each: MinTypMax(min=each[0], typ=each[1], max=each[2]))
    if bounded:
        return st.one_of(exact, whole)
    members = st.sampled_from([("min",), ("typ",), ("max",), ("min", "max"), ("min", "typ"), ("typ", "max")])
    some = st.tuples(whole, members).map(
        lambda each: MinTypMax(**{name: getattr(each[0], name) for name in each[1]})
    )  # fmt: skip
    return st.one_of(exact, whole, some)


def or_none(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return a strategy for None too."""
    return st.one_of(st.none(), strategy)


def made(kind: Any, /, **fields: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return a strategy for objects of a class, without the combinations of fields that it refuses."""

    def build(values: dict[str, Any]) -> Any:
        try:
            return kind(**values)
        except InputError:
            return reject()

    return st.fixed_dictionaries(fields).map(build)


# --- parts -----------------------------------------------------------------------------------------------


def transceivers(*, complete: bool = False) -> st.SearchStrategy[Transceiver]:
    """Return a strategy for transceivers.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Transceiver
        The strategy [-].
    """
    if complete:
        return made(
            Transceiver,
            name=names(odd=False),
            unit_load=st.sampled_from([0.125, 0.25, 0.5, 1.0]),
            supply_voltage=spreads(4.5, 5.5, bounded=True),
            input_reference=figures(0, 2.6),
            input_mismatch=figures(0, 0.2),
            receiver_upper_threshold=spreads(-0.01, 0.2, bounded=True),
            receiver_lower_threshold=spreads(-0.2, -0.02, bounded=True),
            driver_open_voltage=spreads(3.0, 5.0, bounded=True),
            driver_loaded_voltage=spreads(1.5, 2.9, bounded=True),
            driver_offset_voltage=spreads(1.0, 3.0, bounded=True),
            driver_least_load=figures(27, 54),
            driver_current=figures(0.06, 0.25),
            driver_edge_time=spreads(1e-8, 1e-6, bounded=True),
            driver_fall_time=spreads(1e-8, 1e-6, bounded=True),
            driver_edge_shape=st.sampled_from(EDGE_SHAPES),
            driver_short_circuit_current=spreads(0.06, 0.25, bounded=True),
            driver_delay=spreads(1e-8, 1e-6, bounded=True),
            driver_skew=figures(0, 1e-7),
            driver_enable_time=spreads(1e-8, 2e-6, bounded=True),
            driver_disable_time=spreads(1e-8, 2e-6, bounded=True),
            mark_drive_time=spreads(0, 1e-6, bounded=True),
            receiver_delay=spreads(1e-8, 2e-7, bounded=True),
            receiver_skew=figures(0, 5e-8),
            receiver_hysteresis=spreads(0, 0.01, bounded=True),
            capacitance=spreads(5e-12, 3e-11, bounded=True),
            common_mode_lowest=figures(-20, -7),
            common_mode_highest=figures(12, 20),
            line_voltage_lowest=figures(-20, -7),
            line_voltage_highest=figures(12, 20),
            max_data_rate=figures(2.5e5, 2e7),
            supply_currents=st.tuples(spreads(0.03, 0.09, bounded=True), spreads(0.09, 0.12, bounded=True)).map(
                _loaded
            ),
            quiescent_current=spreads(0.0005, 0.005, bounded=True),
            short_circuit_current=figures(0.1, 0.25),
            thermal_resistance=figures(60, 150),
            max_junction_temperature=figures(398, 448),
        )
    return made(
        Transceiver,
        name=names(),
        unit_load=or_none(figures(0, 32)),
        supply_voltage=or_none(spreads(1, 40)),
        input_reference=or_none(figures(0, 2.6)),
        input_mismatch=or_none(figures(0, 0.9)),
        receiver_upper_threshold=or_none(spreads(-1, 1)),
        receiver_lower_threshold=or_none(spreads(-1, 1)),
        driver_open_voltage=or_none(spreads(0, 15)),
        driver_loaded_voltage=or_none(spreads(0, 15)),
        driver_offset_voltage=or_none(spreads(-10, 10)),
        driver_least_load=or_none(figures(1, 1e4)),
        driver_current=or_none(figures(1e-4, 1)),
        driver_edge_time=or_none(spreads(1e-11, 1e-3)),
        driver_fall_time=or_none(spreads(1e-11, 1e-3)),
        driver_edge_shape=st.sampled_from(EDGE_SHAPES),
        driver_short_circuit_current=or_none(spreads(1e-3, 1)),
        driver_delay=or_none(spreads(0, 1e-3)),
        driver_skew=or_none(figures(0, 1e-3)),
        driver_enable_time=or_none(spreads(0, 1e-2)),
        driver_disable_time=or_none(spreads(0, 1e-2)),
        mark_drive_time=or_none(spreads(0, 1)),
        receiver_delay=or_none(spreads(0, 1e-3)),
        receiver_skew=or_none(figures(0, 1e-3)),
        receiver_hysteresis=or_none(spreads(0, 1)),
        capacitance=or_none(spreads(0, 1e-8)),
        common_mode_lowest=or_none(figures(-100, 0)),
        common_mode_highest=or_none(figures(0, 100)),
        line_voltage_lowest=or_none(figures(-100, 0)),
        line_voltage_highest=or_none(figures(0, 100)),
        mark_driven=st.booleans(),
        max_data_rate=or_none(figures(1, 1e9)),
        supply_currents=st.lists(supply_currents(), max_size=2),
        quiescent_current=or_none(spreads(0, 1)),
        short_circuit_current=or_none(figures(1e-3, 2)),
        thermal_resistance=or_none(figures(0.1, 1e4)),
        max_junction_temperature=or_none(figures(323, 523)),
    )


def _loaded(currents: tuple[MinTypMax, MinTypMax]) -> tuple[SupplyCurrent, ...]:
    """Return a level that stands and the highest usual rate, both into 54 ohm."""
    rates = (0.0, 2.5e5)
    return tuple(SupplyCurrent(data_rate=r, load=54.0, current=each) for r, each in zip(rates, currents, strict=True))


def supply_currents() -> st.SearchStrategy[SupplyCurrent]:
    """Return a strategy for the supply current of a driver at one data rate and load.

    Returns
    -------
    SearchStrategy of SupplyCurrent
        The strategy [-].
    """
    return made(SupplyCurrent, data_rate=figures(0, 1e9), load=or_none(figures(1, 1e6)), current=spreads(0, 10))


def efficiency_points() -> st.SearchStrategy[EfficiencyPoint]:
    """Return a strategy for the efficiency of a supply at one output power.

    Returns
    -------
    SearchStrategy of EfficiencyPoint
        The strategy [-].
    """
    return made(EfficiencyPoint, output_power=figures(1e-4, 1e3), efficiency=spreads(0.01, 1))


def derating_points() -> st.SearchStrategy[DeratingPoint]:
    """Return a strategy for points of the derating curve of a supply.

    Returns
    -------
    SearchStrategy of DeratingPoint
        The strategy [-].
    """
    return made(DeratingPoint, temperature=figures(173, 523), share=figures(0, 1))


def output_ratings() -> st.SearchStrategy[OutputRating]:
    """Return a strategy for the rated output current of a supply from one input voltage on.

    Returns
    -------
    SearchStrategy of OutputRating
        The strategy [-].
    """
    return made(OutputRating, input_voltage=figures(1, 400), output_current=figures(1e-4, 100))


def cables(*, complete: bool = False) -> st.SearchStrategy[Cable]:
    """Return a strategy for cables.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual; capacitance, impedance and velocity then agree, and the attenuation
        is that of such a pair [-].

    Returns
    -------
    SearchStrategy of Cable
        The strategy [-].
    """
    if complete:
        bare: st.SearchStrategy[Cable] = made(
            Cable,
            name=names(odd=False),
            conductor_resistance=spreads(0.02, 0.12, bounded=True),
            reference_resistance=spreads(0.01, 0.3, bounded=True),
            shield_resistance=spreads(0.005, 0.1, bounded=True),
            characteristic_impedance=spreads(100, 130, bounded=True),
            velocity_factor=spreads(0.6, 0.8, bounded=True),
            earth_capacitance=spreads(5e-11, 3e-10, bounded=True),
        )
        return st.tuples(bare, st.sampled_from([(), (1e6,), (1e6, 1e7)])).map(lambda each: _consistent(*each))
    return made(
        Cable,
        name=names(),
        conductor_resistance=or_none(spreads(1e-3, 10)),
        reference_resistance=or_none(spreads(1e-3, 10)),
        shield_resistance=or_none(spreads(1e-3, 10)),
        characteristic_impedance=or_none(spreads(20, 500)),
        velocity_factor=or_none(spreads(0.1, 1)),
        capacitance=or_none(spreads(1e-12, 1e-9)),
        impedance_frequency=figures(1e3, 1e9),
        attenuation=st.lists(attenuations(), max_size=2),
        earth_capacitance=or_none(spreads(1e-12, 1e-8)),
        conductor_diameter=or_none(figures(1e-5, 1e-2)),
    )


def _consistent(bare: Cable, frequencies: tuple[float, ...]) -> Cable:
    """Return a cable with the capacitance, conductor and losses that belong to its other figures."""
    impedance, factor, resistance = (
        None if each is None else each.nominal
        for each in (bare.characteristic_impedance, bare.velocity_factor, bare.conductor_resistance)
    )
    assert impedance is not None
    assert factor is not None
    try:
        line = fitted_line(Datasheet(resistance, impedance, factor))
    except UnfittableError:
        return reject()
    losses = attenuation(line.model, np.array(frequencies, dtype=np.float64))
    return attrs.evolve(
        bare,
        capacitance=1.0 / (impedance * float(propagation_velocity(factor))),
        attenuation=[Attenuation(frequency=at, loss=float(each)) for at, each in zip(frequencies, losses, strict=True)],
        conductor_diameter=2.0 * line.radius,
    )


def attenuations() -> st.SearchStrategy[Attenuation]:
    """Return a strategy for what a cable loses at one frequency.

    Returns
    -------
    SearchStrategy of Attenuation
        The strategy [-].
    """
    return made(Attenuation, frequency=figures(10, 1e9), loss=figures(1e-6, 10))


def channels(*, complete: bool = False) -> st.SearchStrategy[Channel]:
    """Return a strategy for data channels of a barrier.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Channel
        The strategy [-].
    """
    purpose = st.sampled_from(("transmit", "receive", "enable"))
    if complete:
        return made(
            Channel,
            purpose=purpose,
            delay=spreads(5e-9, 2e-7, bounded=True),
            pulse_distortion=figures(0, 2e-8),
            jitter=figures(0, 5e-9),
            skew=figures(0, 2e-8),
        )
    return made(
        Channel,
        purpose=purpose,
        delay=or_none(spreads(1e-11, 1e-3)),
        pulse_distortion=or_none(figures(0, 1e-3)),
        jitter=or_none(figures(0, 1e-3)),
        skew=or_none(figures(0, 1e-3)),
    )


def isolators(*, complete: bool = False) -> st.SearchStrategy[Isolator]:
    """Return a strategy for isolators.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Isolator
        The strategy [-].
    """
    if complete:
        return made(
            Isolator,
            name=names(odd=False),
            insulation=st.sampled_from(INSULATION),
            withstand_voltage_rms=figures(1000, 5700),
            working_voltage_rms=figures(100, 400),
            working_voltage_peak=figures(math.sqrt(2.0) * 400, 1000),
            transient_immunity=figures(1e9, 1e11),
            transient_immunity_static=figures(1e11, 2e11),
            capacitance=spreads(1e-13, 5e-12, bounded=True),
            impulse_voltage_peak=figures(2500, 12000),
            surge_voltage_peak=figures(4000, 12000),
            clearance=figures(3e-3, 15e-3),
            creepage=figures(3e-3, 15e-3),
            material_group=st.sampled_from(MATERIAL_GROUPS),
            life_points=st.lists(life_points(complete=True), max_size=2),
            channels=st.lists(channels(complete=True), max_size=3),
            supply_current=spreads(0.001, 0.005, bounded=True),
        )
    return made(
        Isolator,
        name=names(),
        insulation=or_none(st.sampled_from(INSULATION)),
        withstand_voltage_rms=or_none(figures(10, 1e5)),
        working_voltage_rms=or_none(figures(10, 1e5)),
        working_voltage_peak=or_none(figures(10, 1e5)),
        transient_immunity=or_none(figures(1e6, 1e13)),
        transient_immunity_static=or_none(figures(1e6, 1e13)),
        capacitance=or_none(spreads(1e-15, 1e-6)),
        impulse_voltage_peak=or_none(figures(10, 1e6)),
        surge_voltage_peak=or_none(figures(10, 1e6)),
        clearance=or_none(figures(1e-6, 1)),
        creepage=or_none(figures(1e-6, 1)),
        material_group=or_none(st.sampled_from(MATERIAL_GROUPS)),
        life_points=st.lists(life_points(), max_size=2),
        channels=st.lists(channels(), max_size=3),
        supply_current=or_none(spreads(0, 1)),
    )


def isolated_supplies(*, complete: bool = False) -> st.SearchStrategy[IsolatedSupply]:
    """Return a strategy for isolated supplies.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of IsolatedSupply
        The strategy [-].
    """
    if complete:
        return made(
            IsolatedSupply,
            name=names(odd=False),
            output_voltage=spreads(4.5, 5.5, bounded=True),
            output_power=figures(0.25, 2),
            output_current=figures(0.05, 0.4),
            output_ratings=st.just((OutputRating(input_voltage=4.0, output_current=0.2),)),
            derating=figures(358, 398).map(lambda at: [DeratingPoint(temperature=at, share=1.0)]),
            input_voltage=st.just(MinTypMax(min=4.5, typ=5.0, max=5.5)),
            efficiency=figures(0.6, 0.8).map(lambda each: [EfficiencyPoint(output_power=3.0, efficiency=each)]),
            no_load_current=spreads(0.001, 0.03, bounded=True),
            regulated=st.just(True),
            setting_accuracy=figures(0, 0.03),
            load_regulation=figures(0, 0.1),
            line_regulation=figures(0, 1.2),
            minimum_load=st.just(0.0),
            ripple=figures(0, 0.1),
            capacitive_load=figures(1e-5, 1e-3),
            thermal_resistance=figures(10, 100),
            max_case_temperature=figures(358, 378),
            insulation=st.sampled_from(INSULATION),
            withstand_voltage_rms=figures(1000, 5700),
            working_voltage_rms=figures(100, 400),
            working_voltage_peak=figures(math.sqrt(2.0) * 400, 1000),
            capacitance=spreads(1e-12, 1e-10, bounded=True),
            impulse_voltage_peak=figures(2500, 12000),
            surge_voltage_peak=figures(4000, 12000),
            clearance=figures(3e-3, 15e-3),
            creepage=figures(3e-3, 15e-3),
            material_group=st.sampled_from(MATERIAL_GROUPS),
            life_points=st.lists(life_points(complete=True), max_size=2),
        )
    return made(
        IsolatedSupply,
        name=names(),
        output_voltage=or_none(spreads(1, 60)),
        output_power=or_none(figures(1e-3, 1e3)),
        output_current=or_none(figures(1e-4, 100)),
        output_ratings=st.lists(output_ratings(), max_size=2),
        derating=st.lists(derating_points(), max_size=2),
        input_voltage=or_none(spreads(1, 400)),
        efficiency=st.lists(efficiency_points(), max_size=2),
        no_load_current=or_none(spreads(0, 10)),
        regulated=or_none(st.booleans()),
        setting_accuracy=or_none(figures(0, 0.5)),
        load_regulation=or_none(figures(0, 0.5)),
        line_regulation=or_none(figures(0, 3)),
        minimum_load=or_none(figures(0, 100)),
        ripple=or_none(figures(0, 10)),
        capacitive_load=or_none(figures(0, 1)),
        thermal_resistance=or_none(figures(0.1, 1e4)),
        max_case_temperature=or_none(figures(323, 523)),
        insulation=or_none(st.sampled_from(INSULATION)),
        withstand_voltage_rms=or_none(figures(10, 1e5)),
        working_voltage_rms=or_none(figures(10, 1e5)),
        working_voltage_peak=or_none(figures(10, 1e5)),
        capacitance=or_none(spreads(1e-15, 1e-6)),
        impulse_voltage_peak=or_none(figures(10, 1e6)),
        surge_voltage_peak=or_none(figures(10, 1e6)),
        clearance=or_none(figures(1e-6, 1)),
        creepage=or_none(figures(1e-6, 1)),
        material_group=or_none(st.sampled_from(MATERIAL_GROUPS)),
        life_points=st.lists(life_points(), max_size=2),
    )


def life_points(*, complete: bool = False) -> st.SearchStrategy[LifePoint]:
    """Return a strategy for points of a line of life.

    Parameters
    ----------
    complete : bool
        Whether they are usual ones [-].

    Returns
    -------
    SearchStrategy of LifePoint
        The strategy [-].
    """
    if complete:
        return made(LifePoint, voltage_rms=figures(400, 3000), life=figures(1e3, 1e9))
    return made(LifePoint, voltage_rms=figures(10, 1e5), life=figures(1e-3, 1e15))


def bridges(*, complete: bool = False) -> st.SearchStrategy[Bridge]:
    """Return a strategy for what bridges a barrier beside its parts.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Bridge
        The strategy [-].
    """
    kinds = st.sampled_from(["board", "connector", "capacitor"])
    if complete:
        return made(
            Bridge,
            name=names(odd=False),
            kind=kinds,
            insulation=st.sampled_from(INSULATION),
            withstand_voltage_rms=figures(1000, 5700),
            working_voltage_rms=figures(100, 400),
            working_voltage_peak=figures(math.sqrt(2.0) * 400, 1000),
            capacitance=spreads(1e-13, 1e-11, bounded=True),
            impulse_voltage_peak=figures(2500, 12000),
            surge_voltage_peak=figures(4000, 12000),
            clearance=figures(3e-3, 15e-3),
            creepage=figures(3e-3, 15e-3),
            material_group=st.sampled_from(MATERIAL_GROUPS),
        )
    return made(
        Bridge,
        name=names(),
        kind=kinds,
        insulation=or_none(st.sampled_from(INSULATION)),
        withstand_voltage_rms=or_none(figures(10, 1e5)),
        working_voltage_rms=or_none(figures(10, 1e5)),
        working_voltage_peak=or_none(figures(10, 1e5)),
        capacitance=or_none(spreads(1e-15, 1e-6)),
        impulse_voltage_peak=or_none(figures(10, 1e6)),
        surge_voltage_peak=or_none(figures(10, 1e6)),
        clearance=or_none(figures(1e-6, 1)),
        creepage=or_none(figures(1e-6, 1)),
        material_group=or_none(st.sampled_from(MATERIAL_GROUPS)),
    )


def protectors(*, complete: bool = False) -> st.SearchStrategy[Protector]:
    """Return a strategy for surge and overvoltage parts.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Protector
        The strategy [-].
    """
    ends = st.sampled_from(["line-line", "line-common", "common-earth"])
    if complete:
        return made(
            Protector, name=names(odd=False), ends=ends, standoff=figures(12, 15), leakage=figures(0, 1e-5),
            capacitance=spreads(0, 1e-10, bounded=True), surge_current=figures(10, 5000),
        )  # fmt: skip
    return made(
        Protector, name=names(), ends=ends, standoff=or_none(figures(0.1, 1e5)), leakage=or_none(figures(0, 1)),
        capacitance=or_none(spreads(0, 1e-6)), surge_current=or_none(figures(0.1, 1e6)),
    )  # fmt: skip


def terminations(*, complete: bool = False) -> st.SearchStrategy[Termination]:
    """Return a strategy for terminators; complete ones are resistive and engaged.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Termination
        The strategy [-].
    """
    if complete:
        return made(Termination, resistance=spreads(100, 150, bounded=True), power=figures(0.25, 1))
    plain: dict[str, st.SearchStrategy[Any]] = {
        "name": st.one_of(st.just(""), names()),
        "resistance": spreads(1, 1e6),
        "capacitance": or_none(spreads(1e-12, 1e-3)),
        "power": or_none(figures(1e-3, 1e3)),
        "engaged": st.booleans(),
    }
    legs = {name: or_none(spreads(1, 1e8)) for name in ("pull_up", "pull_down")}
    # most active ones with a capacitor are refused, so that those with one come from the first
    return st.one_of(made(Termination, **plain), made(Termination, **plain, **legs, supply=or_none(spreads(0, 60))))


def biases(*, complete: bool = False) -> st.SearchStrategy[Bias]:
    """Return a strategy for bias networks; complete ones have both legs, the right way round, and a supply that is up.

    Parameters
    ----------
    complete : bool
        Whether every figure is stated and usual [-].

    Returns
    -------
    SearchStrategy of Bias
        The strategy [-].
    """
    if complete:
        leg = spreads(390, 1500, bounded=True)
        supply = spreads(4.5, 5.5, bounded=True)
        return made(Bias, pull_up=leg, pull_down=leg, supply=supply, power=figures(0.25, 1))
    return made(
        Bias,
        name=st.one_of(st.just(""), names()),
        pull_up=or_none(spreads(1, 1e8)),
        pull_down=or_none(spreads(1, 1e8)),
        supply=or_none(spreads(0, 60)),
        supply_on=st.booleans(),
        power=or_none(figures(1e-3, 1e3)),
        reversed=st.booleans(),
        engaged=st.booleans(),
    )


def barriers(*, complete: bool = False) -> st.SearchStrategy[Barrier]:
    """Return a strategy for galvanic barriers.

    Parameters
    ----------
    complete : bool
        Whether both its parts are stated, and every figure of them [-].

    Returns
    -------
    SearchStrategy of Barrier
        The strategy [-].
    """
    if complete:
        return made(
            Barrier, isolator=isolators(complete=True), supply=isolated_supplies(complete=True),
            others=st.lists(isolators(complete=True), max_size=1),
            bridges=st.lists(bridges(complete=True), max_size=2),
            input_voltage=spreads(4.75, 5.25, bounded=True), load_capacitance=spreads(1e-6, 1e-5, bounded=True),
        )  # fmt: skip
    return made(
        Barrier, isolator=or_none(isolators()), supply=or_none(isolated_supplies()),
        others=st.lists(isolators(), max_size=1), bridges=st.lists(bridges(), max_size=2),
        input_voltage=or_none(spreads(1, 400)), load_capacitance=or_none(spreads(0, 1)),
    )  # fmt: skip
