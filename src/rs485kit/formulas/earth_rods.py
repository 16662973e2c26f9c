"""Ground rods and the potentials around them: resistance, several rods, what a current raises and where.

Soil is uniform and the current slow here. Real soil has layers and seasons, and a lightning current of microseconds
meets inductance and ionised soil, so these figures are estimates of a size. Earthing and lightning protection are
licensed work: local codes decide.
"""

from typing import Any

import numpy as np

from rs485kit.formulas._arguments import (
    SMALLEST,
    Argument,
    Array,
    FloatOrArray,
    Numbers,
    answer,
    arguments,
    not_negative,
    positive,
    refuse,
    whole,
    within,
)

MOST_RODS = 200
"""Most rods of a row that are solved together [-]."""


def rod_resistance(resistivity: Numbers, length: Numbers, diameter: Numbers) -> FloatOrArray:
    """Resistance of one ground rod against far earth.

    Parameters
    ----------
    resistivity : float or array
        Resistivity of the soil [ohm*m]
    length : float or array
        Length of rod in the ground [m]
    diameter : float or array
        Diameter of the rod [m]

    Returns
    -------
    float or array
        Resistance [ohm]

    Raises
    ------
    InputError
        If a value is not positive or the rod is not at least twice as long as it is thick.

    Notes
    -----
    R = rho / (2 pi L) (ln(8 L / d) - 1). The mean potential of a rod that gives off the same current everywhere;
    nomographs in handbooks agree within 10 %.

    References
    ----------
    Published note on the resistance of single rods; MIL-HDBK-419A, volume 2, section 1.2.2.2: checks rod-10ft-0p75in,
    rod-20ft-0p625in and their neighbours.

    Examples
    --------
    >>> from rs485kit.formulas import rod_resistance
    >>> round(rod_resistance(100.0, 3.0, 16e-3), 4)
    33.4927
    """
    function = "rod_resistance"
    resistivity, length, diameter = arguments(function, *_rod(resistivity, length, diameter))
    _refuse_stout(function, length, diameter)
    return answer(_own(resistivity, length, diameter))


def mutual_rod_resistance(resistivity: Numbers, length: Numbers, distance: Numbers) -> FloatOrArray:
    """Mean potential that a current into one rod puts on another of the same length, per ampere.

    Parameters
    ----------
    resistivity : float or array
        Resistivity of the soil [ohm*m]
    length : float or array
        Length of either rod in the ground [m]
    distance : float or array
        From axis to axis [m]

    Returns
    -------
    float or array
        Mutual resistance [ohm]

    Raises
    ------
    InputError
        If a value is not positive or the distance is outside 1e-6..1e6 lengths.

    Notes
    -----
    rho / (2 pi L) (arsinh(2 L / s) + s / (2 L) - sqrt(1 + (s / (2 L))^2)): the field of a uniform line source and its
    image, averaged over the other rod. At the distance of a thin rod's own radius it is the rod's own resistance; far
    away it is rho / (2 pi s).

    References
    ----------
    Derived from the potential of a line source; the same integral gives the resistance of one rod.

    Examples
    --------
    >>> from rs485kit.formulas import mutual_rod_resistance
    >>> round(mutual_rod_resistance(100.0, 3.048, 6.096), 4)
    2.4393
    """
    function = "mutual_rod_resistance"
    resistivity, length, distance = arguments(
        function,
        positive("resistivity", resistivity, "ohm*m"),
        positive("length", length, "m"),
        positive("distance", distance, "m"),
    )
    ratio = distance / length
    is_outside = (ratio < 1e-6) | (ratio > 1e6)
    refuse(function, "distance", is_outside, distance, "m", "1e-6 to 1e6 times the length of the rods")
    return answer(_mutual(resistivity, length, distance))


def rod_row_resistance(
    resistivity: Numbers, length: Numbers, diameter: Numbers, spacing: Numbers, rods: Numbers
) -> FloatOrArray:
    """Resistance of equal rods in a straight row, joined above the ground.

    Parameters
    ----------
    resistivity : float or array
        Resistivity of the soil [ohm*m]
    length : float or array
        Length of each rod in the ground [m]
    diameter : float or array
        Diameter of a rod [m]
    spacing : float or array
        From rod to rod, no less than two diameters [m]
    rods : float or array
        How many, 1 to 200 [-]

    Returns
    -------
    float or array
        Resistance of the row against far earth [ohm]

    Raises
    ------
    InputError
        If a value is not positive, the rods are stout or closer than two diameters, or their number is not whole.

    Notes
    -----
    All rods are at one potential; their currents follow from own and mutual resistances (`rod_resistance`,
    `mutual_rod_resistance`), the outer rods giving off more. Conductors between the rods are left out. Twice as many
    rods never halve the resistance.

    References
    ----------
    Derived. MIL-HDBK-419A, volume 2, section 1.2.2.2, reads about 5.5 % of one rod for 26 rods two lengths apart from a
    curve for rows and perimeters of large sites, where this gives 5.57 %: check rod-array-26.

    Examples
    --------
    >>> from rs485kit.formulas import rod_row_resistance
    >>> round(rod_row_resistance(100.0, 3.048, 19.05e-3, 6.096, 26), 3)
    1.79
    """
    function = "rod_row_resistance"
    resistivity, length, diameter, spacing, rods = arguments(
        function,
        *_rod(resistivity, length, diameter),
        positive("spacing", spacing, "m"),
        whole("rods", rods, 1, MOST_RODS),
    )
    _refuse_stout(function, length, diameter)
    refuse(function, "spacing", spacing < 2.0 * diameter, spacing, "m", "no less than two diameters of a rod")
    wanted = "no more than 1e6 times the length of the rods"
    refuse(function, "spacing", spacing > 1e6 * length, spacing, "m", wanted)
    shares = np.vectorize(_row_share, otypes=[float])(diameter / length, spacing / length, rods)
    return answer(resistivity / length * shares)


def rod_potential_share(length: Numbers, diameter: Numbers, distance: Numbers) -> FloatOrArray:
    """Share of a rod's potential that the surface still has at a distance.

    Parameters
    ----------
    length : float or array
        Length of rod in the ground [m]
    diameter : float or array
        Diameter of the rod [m]
    distance : float or array
        From the axis along the surface, no less than the radius [m]

    Returns
    -------
    float or array
        Potential there over that of the rod, both against far earth [-]

    Raises
    ------
    InputError
        If a value is not positive, the rod is stout or the place is inside it.

    Notes
    -----
    arsinh(L / x) / (ln(8 L / d) - 1). One length away, 15 % are left: rods closer than two lengths share the same
    soil. Near the rod itself the line source is not at one potential, and the share, which may not pass 1, is cut
    there.

    References
    ----------
    MIL-HDBK-419A, volume 1, section 2, equation 2-20: check rod-influence-10ft.

    Examples
    --------
    >>> from rs485kit.formulas import rod_potential_share
    >>> round(rod_potential_share(3.048, 25.4e-3, 3.048), 4)
    0.1502
    """
    function = "rod_potential_share"
    length, diameter, distance = arguments(
        function,
        positive("length", length, "m"),
        positive("diameter", diameter, "m"),
        positive("distance", distance, "m"),
    )
    _refuse_stout(function, length, diameter)
    refuse(function, "distance", distance < 0.5 * diameter, distance, "m", "no less than the radius of the rod")
    return answer(_share(length, diameter, distance))


def rod_step_voltage(
    current: Numbers, resistivity: Numbers, length: Numbers, diameter: Numbers, pace: Numbers
) -> FloatOrArray:
    """Voltage between a rod and the surface one pace away.

    Parameters
    ----------
    current : float or array
        Current into the rod [A]
    resistivity : float or array
        Resistivity of the soil [ohm*m]
    length : float or array
        Length of rod in the ground [m]
    diameter : float or array
        Diameter of the rod [m]
    pace : float or array
        Distance from the axis, no less than the radius [m]

    Returns
    -------
    float or array
        Voltage over the first pace, the worst one [V]

    Raises
    ------
    InputError
        If the current is negative, another value is not positive, the rod is stout or the pace ends inside it.

    Notes
    -----
    I R (1 - share), of `rod_resistance` and `rod_potential_share`. Such voltages kill: keep away from earth rods in a
    thunderstorm, and leave earthing to those who are licensed for it.

    References
    ----------
    MIL-HDBK-419A, volume 1, section 2, example, 41.4 kV: check rod-step-voltage-20ka.

    Examples
    --------
    >>> from rs485kit.formulas import rod_step_voltage
    >>> round(rod_step_voltage(20e3, 10.0, 3.048, 25.4e-3, 0.9144) / 1e3, 2)
    41.23
    """
    function = "rod_step_voltage"
    current, resistivity, length, diameter, pace = arguments(
        function,
        not_negative("current", current, "A"),
        *_rod(resistivity, length, diameter),
        positive("pace", pace, "m"),
    )
    _refuse_stout(function, length, diameter)
    refuse(function, "pace", pace < 0.5 * diameter, pace, "m", "no less than the radius of the rod")
    left = 1.0 - _share(length, diameter, pace)
    return answer(current * _own(resistivity, length, diameter) * left)


def ground_potential_rise(current: Numbers, earth_resistance: Numbers) -> FloatOrArray:
    """Rise of a local earth against far earth while a current runs into it.

    Parameters
    ----------
    current : float or array
        Current into the ground [A]
    earth_resistance : float or array
        Resistance of the local earth [ohm]

    Returns
    -------
    float or array
        Potential of everything bonded to that earth [V]

    Raises
    ------
    InputError
        If a value is negative.

    Notes
    -----
    V = I R. Between this earth and one that the current does not reach, a bus sees all of it, and no clearance of a
    transceiver stands the tens of kilovolts of a direct stroke. For lightning the resistance is that of slow current.

    References
    ----------
    Ohm's law. Figures: checks rod-gpr-20ka, gpd-copper-drop.

    Examples
    --------
    >>> from rs485kit.formulas import ground_potential_rise
    >>> round(ground_potential_rise(20e3, 3.06349) / 1e3, 2)
    61.27
    """
    current, earth_resistance = arguments(
        "ground_potential_rise",
        not_negative("current", current, "A"),
        not_negative("earth_resistance", earth_resistance, "ohm"),
    )
    return answer(current * earth_resistance)


def spreading_voltage(current: Numbers, resistivity: Numbers, distance: Numbers) -> FloatOrArray:
    """Potential of the surface at a distance from where a current enters the ground.

    Parameters
    ----------
    current : float or array
        Current into the ground [A]
    resistivity : float or array
        Resistivity of the soil [ohm*m]
    distance : float or array
        From the point of entry [m]

    Returns
    -------
    float or array
        Potential against far earth [V]

    Raises
    ------
    InputError
        If the current is negative or another value is not positive.

    Notes
    -----
    V = rho I / (2 pi r): the current spreads in half of space, far from the rod against its length. The difference
    between two places is what a cable between their earths has to stand. Static: with the fast current of lightning
    in well-conducting soil it is off (Atmosphere 2016, 7(9), 115).

    References
    ----------
    Field of a point source. Figures: check gpr-two-buildings.

    Examples
    --------
    >>> from rs485kit.formulas import spreading_voltage
    >>> near, far = spreading_voltage(30e3, 100.0, [10.0, 60.0])
    >>> round(float(near - far) / 1e3, 2)
    39.79
    """
    current, resistivity, distance = arguments(
        "spreading_voltage",
        not_negative("current", current, "A"),
        positive("resistivity", resistivity, "ohm*m"),
        positive("distance", distance, "m"),
    )
    return answer(resistivity * current / (2.0 * np.pi * distance))


def fault_earth_voltage(voltage_rms: Numbers, line_resistance: Numbers, earth_resistance: Numbers) -> FloatOrArray:
    """Rise of the protective conductor during a fault from line to earth, until it is cleared.

    Parameters
    ----------
    voltage_rms : float or array
        Line against neutral, RMS [V]
    line_resistance : float or array
        Resistance of the line conductor up to the fault [ohm]
    earth_resistance : float or array
        Resistance of the protective conductor back to the source [ohm]

    Returns
    -------
    float or array
        Faulty equipment against the source's earth, RMS [V]

    Raises
    ------
    InputError
        If a value is negative or both resistances are 0.

    Notes
    -----
    V Re / (Rl + Re) in a network where the protective conductor returns to the source's neutral: half of the mains
    with equal conductors. Every cable to another earth sees it until the protective device opens.

    References
    ----------
    Voltage divider. Figure: check gpd-tn-fault-half.

    Examples
    --------
    >>> from rs485kit.formulas import fault_earth_voltage
    >>> fault_earth_voltage(230.0, 0.5, 0.5)
    115.0
    """
    function = "fault_earth_voltage"
    voltage_rms, line_resistance, earth_resistance = arguments(
        function,
        not_negative("voltage_rms", voltage_rms, "V"),
        within("line_resistance", line_resistance, "ohm", 0.0, 1e9),
        within("earth_resistance", earth_resistance, "ohm", 0.0, 1e9),
    )
    total = line_resistance + earth_resistance
    refuse(function, "line_resistance", total < SMALLEST, line_resistance, "ohm", "some resistance in the loop")
    return answer(voltage_rms * earth_resistance / total)


def _rod(resistivity: Numbers, length: Numbers, diameter: Numbers) -> tuple[Argument, Argument, Argument]:
    return (
        positive("resistivity", resistivity, "ohm*m"),
        positive("length", length, "m"),
        positive("diameter", diameter, "m"),
    )


def _refuse_stout(function: str, length: Array, diameter: Array) -> None:
    cure = "both are in metres: 16 mm is 16e-3"
    wanted = "1e-6 to 0.5 times the length of the rod"
    is_outside = (diameter > 0.5 * length) | (diameter < 1e-6 * length)
    refuse(function, "diameter", is_outside, diameter, "m", wanted, cure=cure)


def _own(resistivity: Array, length: Array, diameter: Array) -> Array:
    return np.asarray(resistivity / (2.0 * np.pi * length) * (np.log(8.0 * length / diameter) - 1.0))


def _mutual(resistivity: Array | float, length: Array | float, distance: Array) -> Array:
    half = distance / (2.0 * length)
    # half - sqrt(1 + half^2), without losing its digits for rods far apart
    rest = -1.0 / (half + np.hypot(1.0, half))
    return np.asarray(resistivity / (2.0 * np.pi * length) * (np.arcsinh(1.0 / half) + rest))


def _share(length: Array, diameter: Array, distance: Array) -> Array:
    return np.minimum(np.arcsinh(length / distance) / (np.log(8.0 * length / diameter) - 1.0), 1.0)


def _row_share(diameter: float, spacing: float, rods: float) -> Any:
    """Return the resistance of a row of rods of 1 m in soil of 1 ohm m."""
    places = spacing * np.arange(int(rods))
    distances = np.abs(places[:, None] - places)
    np.fill_diagonal(distances, 1.0)
    matrix = _mutual(1.0, 1.0, distances)
    np.fill_diagonal(matrix, _own(np.asarray(1.0), np.asarray(1.0), np.asarray(diameter)))
    return 1.0 / np.linalg.solve(matrix, np.ones(len(places))).sum()
