"""What holds for the closed forms on barriers, earths, heat and life at any arguments.

Each argument moves its answer one way only, or is listed as one that does not. So the answers at two corners of a box
of arguments are those of the whole box, and a wider box never narrows them. Units change nothing: a formula without a
constant of its own gives the same quantity in any system of units, by the units that its docstring states.
"""

import inspect
import re

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from isolation_arguments import CHOSEN, ISOLATION
from rs485kit import formulas as f
from rs485kit.errors import InputError

ROUNDING = 1e-12

# Which way an answer goes as an argument rises: + up, - down, 0 either way.
WAYS = {
    "added_load": {"least_load": "+", "load": "-"},
    "bled_voltage": {
        "source_voltage_rms": "+", "source_capacitance": "+", "earth_capacitance": "-", "resistance": "+",
        "frequency": "+",
    },
    "burst_duration": {"repetition_rate": "-", "pulses": "+"},
    "burst_voltage": {"level": "+"},
    "conversion_efficiency": {
        "input_voltage": "-", "input_current": "-", "output_voltage": "+", "output_current": "+",
    },
    "conversion_loss": {"output_power": "+", "efficiency": "-"},
    "demanded_life": {},
    "demanded_life_voltage": {"working_voltage_rms": "+"},
    "derated_power": {"rated_power": "+", "rated_temperature": "+", "derating_slope": "-", "ambient": "-"},
    "discharge_current": {"level": "+"},
    "discharge_time": {"resistance": "+", "capacitance": "+", "initial_voltage": "+", "left_voltage": "-"},
    "discharge_voltage": {"level": "+"},
    "displacement_current": {"capacitance": "+", "slew": "+"},
    # a steeper line is lower above the known point and higher below it
    "exponential_life": {"voltage": "-", "reference_voltage": "+", "reference_life": "+", "life_slope": "0"},
    "exponential_life_slope": {"first_voltage": "-", "first_life": "-", "second_voltage": "+", "second_life": "+"},
    "fault_earth_voltage": {"voltage_rms": "+", "line_resistance": "-", "earth_resistance": "+"},
    "floating_voltage": {"source_voltage_rms": "+", "source_capacitance": "+", "earth_capacitance": "-"},
    "ground_potential_rise": {"current": "+", "earth_resistance": "+"},
    "induced_voltage": {"mutual_inductance": "+", "current_slope": "+"},
    "induced_voltage_rms": {"mutual_inductance": "+", "current_rms": "+", "frequency": "+"},
    "junction_temperature": {"ambient": "+", "thermal_resistance": "+", "power": "+"},
    "largest_capacitance": {"charge": "+", "voltage_peak": "-"},
    # least where the two resistors together have the wire's own resistance
    "largest_ground_difference": {"rated_power": "+", "node_resistance": "0", "wire_resistance": "+"},
    "lead_voltage": {"length": "+", "current_slope": "+", "lead_inductance": "+"},
    "leakage_current": {"voltage_rms": "+", "capacitance": "+", "frequency": "+", "nodes": "+"},
    "least_surge_rating": {"impulse_voltage_peak": "+"},
    # 1 at the two points, more on either side of each
    "life_model_spread": {
        "voltage": "0", "first_voltage": "0", "first_life": "-", "second_voltage": "0", "second_life": "+",
    },
    "mutual_rod_resistance": {"resistivity": "+", "length": "-", "distance": "-"},
    "partial_discharge_test": {"working_voltage_peak": "+"},
    "partial_discharge_time": {},
    "power_law_exponent": {"first_voltage": "-", "first_life": "-", "second_voltage": "+", "second_life": "+"},
    "power_law_life": {"voltage": "-", "reference_voltage": "+", "reference_life": "+", "exponent": "0"},
    "production_withstand": {"withstand_voltage_rms": "+"},
    "rated_current": {"rated_power": "+", "resistance": "-"},
    "reciprocal_life": {"voltage": "-", "reference_voltage": "+", "reference_life": "+", "reciprocal_slope": "0"},
    "reciprocal_life_slope": {"first_voltage": "-", "first_life": "-", "second_voltage": "+", "second_life": "+"},
    "rectangle_mutual_inductance": {"length": "+", "near_distance": "-", "far_distance": "+"},
    # a longer rod reaches farther, unless it is stout and close by
    "rod_potential_share": {"length": "0", "diameter": "+", "distance": "-"},
    "rod_resistance": {"resistivity": "+", "length": "-", "diameter": "-"},
    "rod_row_resistance": {"resistivity": "+", "length": "-", "diameter": "-", "spacing": "-", "rods": "-"},
    "rod_step_voltage": {"current": "+", "resistivity": "+", "length": "-", "diameter": "-", "pace": "+"},
    "safety_limit_current": {"ambient": "-", "thermal_resistance": "-", "supply": "-", "highest_temperature": "+"},
    "safety_limit_power": {"ambient": "-", "thermal_resistance": "-", "highest_temperature": "+"},
    "sine_peak": {"voltage_rms": "+"},
    "slew_rate": {"voltage_peak": "+", "rise_time": "-", "covered_share": "+"},
    "small_loop_mutual_inductance": {"area": "+", "distance": "-"},
    "spreading_voltage": {"current": "+", "resistivity": "+", "distance": "-"},
    "stored_charge": {"capacitance": "+", "voltage_peak": "+"},
    "straight_wire_inductance": {"length": "+", "diameter": "-"},
    "surge_current": {"voltage_peak": "+"},
    "surge_test": {"surge_voltage_peak": "+"},
    "surge_voltage": {"level": "+"},
    "symmetric_surge_voltage": {"installation_class": "+"},
    # a higher energy lengthens life in the cold and shortens it in the heat
    "temperature_life_ratio": {"activation_energy": "0", "temperature": "-", "reference_temperature": "+"},
    "touch_current": {"voltage_rms": "+", "capacitance": "+", "frequency": "+"},
    "touch_filter_ratio": {"frequency": "-"},
    # an input below nominal lowers the output the more, the higher the ratio
    "unregulated_output": {
        "nominal_voltage": "+", "setting": "+", "load_change": "+", "input_change": "+", "line_ratio": "0",
    },
    # the current rises with frequency and its weight falls
    "weighted_touch_current": {"voltage_rms": "+", "capacitance": "+", "frequency": "0"},
    "zero_power_temperature": {"rated_power": "+", "rated_temperature": "+", "derating_slope": "-"},
}  # fmt: skip
NUMERIC = sorted(name for name, ways in WAYS.items() if ways)
ONE_WAY = [(name, argument) for name in NUMERIC for argument, way in WAYS[name].items() if way != "0"]
EITHER_WAY = [(name, argument) for name in NUMERIC for argument, way in WAYS[name].items() if way == "0"]

# Where an argument that goes either way is seen to turn: other arguments, or itself, set to one of several values.
TURNS = {
    "exponential_life": {"voltage": [500.0, 5000.0]},
    "largest_ground_difference": {"wire_resistance": [0.0, 2000.0]},
    "life_model_spread": {"voltage": [400.0, 2000.0, 2500.0, 3000.0, 8000.0]},
    "power_law_life": {"voltage": [500.0, 5000.0]},
    "reciprocal_life": {"voltage": [500.0, 5000.0]},
    "rod_potential_share": {"diameter": [16e-3, 0.41 * 3.0], "distance": [0.3 * 3.0]},
    "temperature_life_ratio": {"temperature": [350.0, 420.0]},
    "unregulated_output": {"input_change": [-0.1, 0.1]},
    "weighted_touch_current": {"frequency": [50.0, 1e6], "capacitance": [1e-9, 1e-6]},
}

# Room for arguments that together must not give too much.
BASES = {**ISOLATION, "conversion_efficiency": {**ISOLATION["conversion_efficiency"], "output_current": 0.02}}
WHOLE = {"level": 4, "installation_class": 5, "rods": 12, "nodes": 200, "pulses": 200}
KELVIN = {"ambient", "highest_temperature", "rated_temperature", "temperature", "reference_temperature"}
SHARES = {"setting", "load_change", "input_change", "covered_share", "efficiency"}
SEEDS = st.integers(0, 2**32 - 1)


def answered(name, arguments):
    return getattr(f, name)(**CHOSEN.get(name, {}), **arguments)


def drawn(name, rng):
    """Return arguments round the good ones."""
    values = {}
    for argument, good in BASES[name].items():
        if argument in WHOLE:
            values[argument] = float(rng.integers(1, WHOLE[argument] + 1))
        elif argument in SHARES:
            values[argument] = good + rng.uniform(-0.05, 0.05)
        else:
            decades = 0.01 if argument in KELVIN else 0.2
            values[argument] = good * 10.0 ** rng.uniform(-decades, decades)
    return values


def raised(argument, value, rng):
    """Return a higher value of an argument."""
    if argument in WHOLE:
        return value + float(rng.integers(0, WHOLE[argument] - int(value) + 1))
    if argument in SHARES:
        return value + rng.uniform(0.0, 0.05)
    return value * rng.uniform(1.0, 1.02 if argument in KELVIN else 1.5)


def attempt(name, arguments):
    """Return the answer, or drop the example if the formula refuses it."""
    try:
        return answered(name, arguments)
    except InputError:
        assume(False)


def test_every_formula_and_argument_has_its_way():
    assert {name: set(ways) for name, ways in WAYS.items()} == {
        name: set(arguments) for name, arguments in ISOLATION.items()
    }


@pytest.mark.parametrize(("name", "argument"), ONE_WAY)
@settings(deadline=None, max_examples=25)
@given(seed=SEEDS)
def test_an_argument_moves_the_answer_one_way(name, argument, seed):
    rng = np.random.default_rng(seed)
    low = drawn(name, rng)
    high = {**low, argument: raised(argument, low[argument], rng)}
    before, after = attempt(name, low), attempt(name, high)
    first, second = (before, after) if WAYS[name][argument] == "+" else (after, before)
    assert first <= second + ROUNDING * abs(second)


@pytest.mark.parametrize(("name", "argument"), EITHER_WAY)
def test_an_argument_that_goes_either_way_does(name, argument):
    """The list of exceptions is no longer than it has to be."""
    rng = np.random.default_rng(1)
    directions = set()
    for _ in range(2000):
        low = drawn(name, rng) | {key: rng.choice(values) for key, values in TURNS[name].items()}
        high = {**low, argument: raised(argument, low[argument], rng)}
        try:
            before, after = answered(name, low), answered(name, high)
        except InputError:
            continue
        if abs(after - before) > 1e-9 * before:
            directions.add("rises" if after > before else "falls")
    assert directions == {"rises", "falls"}


def corners(name, low, high):
    """Return the least and the greatest answer in a box of arguments that move it one way."""
    least = {argument: (low if way != "-" else high)[argument] for argument, way in WAYS[name].items()}
    greatest = {argument: (high if way != "-" else low)[argument] for argument, way in WAYS[name].items()}
    return attempt(name, least), attempt(name, greatest)


@pytest.mark.parametrize("name", NUMERIC)
@settings(deadline=None, max_examples=25)
@given(seed=SEEDS)
def test_a_wider_box_never_narrows_the_answer(name, seed):
    rng = np.random.default_rng(seed)
    box = [drawn(name, rng)]
    for _ in range(3):
        box.append({argument: raised(argument, value, rng) for argument, value in box[-1].items()})
    for argument, way in WAYS[name].items():
        if way == "0":
            for each in box:
                each[argument] = box[0][argument]
    outer, inner = corners(name, box[0], box[3]), corners(name, box[1], box[2])
    inside = {
        argument: float(rng.choice([box[1][argument], box[2][argument]]))
        if argument in WHOLE
        else rng.uniform(box[1][argument], box[2][argument])
        for argument in box[0]
    }
    answer = attempt(name, inside)
    room = ROUNDING * max(abs(outer[0]), abs(outer[1]))
    assert outer[0] - room <= inner[0] <= answer + room
    assert answer - room <= inner[1] <= outer[1] + room


# Powers of volt, ampere, second, metre and kelvin in a unit.
POWERS = {
    "-": (0, 0, 0, 0, 0), "V": (1, 0, 0, 0, 0), "A": (0, 1, 0, 0, 0), "W": (1, 1, 0, 0, 0), "J": (1, 1, 1, 0, 0),
    "C": (0, 1, 1, 0, 0), "ohm": (1, -1, 0, 0, 0), "F": (-1, 1, 1, 0, 0), "H": (1, -1, 1, 0, 0), "s": (0, 0, 1, 0, 0),
    "Hz": (0, 0, -1, 0, 0), "m": (0, 0, 0, 1, 0), "m^2": (0, 0, 0, 2, 0), "K": (0, 0, 0, 0, 1), "V/s": (1, 0, -1, 0, 0),
    "A/s": (0, 1, -1, 0, 0), "1/V": (-1, 0, 0, 0, 0), "H/m": (1, -1, 1, -1, 0), "ohm*m": (1, -1, 0, 1, 0),
    "K/W": (-1, -1, 0, 0, 1), "W/K": (1, 1, 0, 0, -1),
}  # fmt: skip
# What carries a figure with a unit inside: a constant of nature, a network, a table or a floor.
WITH_A_CONSTANT = {
    *("rectangle_mutual_inductance", "small_loop_mutual_inductance", "straight_wire_inductance"),
    *("temperature_life_ratio", "touch_current", "touch_filter_ratio", "weighted_touch_current"),
    *("burst_voltage", "discharge_voltage", "discharge_current", "surge_voltage", "symmetric_surge_voltage"),
    *("surge_current", "surge_test", "least_surge_rating"),
}
FREE = [name for name in NUMERIC if name not in WITH_A_CONSTANT]


def units(name):
    """Return the unit of every argument, and of the answer last, as the docstring states them."""
    text = inspect.cleandoc(getattr(f, name).__doc__)
    parts = re.split(r"\n(?:Parameters|Returns|Raises)\n-+\n", text)
    found = {}
    for part in parts[1:3]:
        for heading, description in re.findall(r"^(\S.*)\n((?: +.*\n?)+)", part, re.MULTILINE):
            found[heading.partition(" : ")[0]] = re.search(r"\[([^\[\]]+)\]\s*$", description).group(1)
    return found


@pytest.mark.parametrize("name", FREE)
@settings(deadline=None, max_examples=25)
@given(
    seed=SEEDS,
    scales=st.tuples(*(st.floats(0.1, 10.0),) * 4, st.floats(0.97, 1.03)),
)
def test_units_change_nothing(name, seed, scales):
    stated = units(name)
    factors = {key: float(np.prod(np.power(scales, POWERS[unit]))) for key, unit in stated.items()}
    (result,) = set(stated) - set(ISOLATION[name]) - set(CHOSEN.get(name, {}))
    here = drawn(name, np.random.default_rng(seed))
    there = {argument: value * factors[argument] for argument, value in here.items()}
    before, after = attempt(name, here), attempt(name, there)
    assert after == pytest.approx(before * factors[result], rel=1e-9, abs=0.0)


@settings(deadline=None, max_examples=100)
@given(SEEDS, st.integers(1, 30))
def test_a_row_lies_between_its_rods_alone_and_one_rod(seed, rods):
    given_rods = {**drawn("rod_row_resistance", np.random.default_rng(seed)), "rods": rods}
    one = f.rod_resistance(*(given_rods[key] for key in ("resistivity", "length", "diameter")))
    row = attempt("rod_row_resistance", given_rods)
    assert one / rods * (1.0 - ROUNDING) <= row <= one * (1.0 + ROUNDING)


@settings(deadline=None, max_examples=200)
@given(st.floats(1e-3, 1e3), st.floats(1e-13, 1e-6), st.floats(1.0, 1e7))
def test_a_person_never_takes_more_than_the_barrier_lets_through(volts, farads, hertz):
    current = f.touch_current(volts, farads, hertz)
    assert f.weighted_touch_current(volts, farads, hertz) <= current
    assert current <= f.leakage_current(volts, farads, hertz) * (1.0 + ROUNDING)
    assert current <= volts / 500.0 * (1.0 + ROUNDING)


@settings(deadline=None, max_examples=200)
@given(st.floats(1e-3, 1e3), st.floats(1e-13, 1e-7), st.floats(0.0, 1e-7), st.floats(1.0, 1e9), st.floats(1.0, 1e4))
def test_a_bleed_never_raises_a_reference(volts, source, earth, ohms, hertz):
    floating = f.floating_voltage(volts, source, earth)
    assert f.bled_voltage(volts, source, earth, ohms, hertz) <= floating * (1.0 + ROUNDING)
    assert floating <= volts * (1.0 + ROUNDING)


@settings(deadline=None, max_examples=200)
@given(st.floats(100.0, 2e4), st.floats(0.05, 0.9), st.floats(1.0, 1e6), st.floats(1.0, 1e8), st.floats(0.02, 3.0))
def test_below_both_of_its_points_the_exponential_model_promises_least(high, share, life, longer, place):
    low = share * high
    points = high, life, low, life * longer
    volts = place * low
    exponential = f.exponential_life_slope(*points), f.exponential_life
    power = f.power_law_exponent(*points), f.power_law_life
    reciprocal = f.reciprocal_life_slope(*points), f.reciprocal_life
    try:
        lives = [law(volts, low, life * longer, fit) for fit, law in (exponential, power, reciprocal)]
    except InputError:
        assume(False)
    expected = lives if volts <= low or volts >= high else lives[::-1]
    slack = 1e-9
    assert expected[0] <= expected[1] * (1.0 + slack)
    assert expected[1] <= expected[2] * (1.0 + slack)
    assert f.life_model_spread(volts, *points) >= 1.0 - slack


@settings(deadline=None, max_examples=100)
@given(SEEDS, st.floats(0.0, 5e4))
def test_earths_add_up(seed, current):
    """Superposition: what two currents raise together is the sum of what each raises alone."""
    rng = np.random.default_rng(seed)
    other = float(rng.uniform(0.0, 5e4))
    rod = {key: value for key, value in drawn("rod_step_voltage", rng).items() if key != "current"}
    both = f.rod_step_voltage(current + other, **rod)
    assert both == pytest.approx(f.rod_step_voltage(current, **rod) + f.rod_step_voltage(other, **rod), rel=1e-12)


def test_more_nodes_and_more_levels_never_ask_for_less():
    for port in ("power", "signal"):
        assert (np.diff(f.burst_voltage([1, 2, 3, 4], port)) > 0.0).all()
    for coupling in ("line to line", "line to earth", "signal line", "telecom line"):
        assert (np.diff(f.surge_current(f.surge_voltage([1, 2, 3, 4]), coupling)) > 0.0).all()
    assert (np.diff(f.leakage_current(230.0, 41e-12, 50.0, nodes=np.arange(257))) > 0.0).all()
