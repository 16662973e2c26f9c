"""Random buses against a dense matrix of the whole circuit, read from the bus apart from the library's network."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dc_strategies import ALGEBRA, dc_buses, largest_source, levels
from oracle import dense, netlist
from oracle.netlist import Circuit, Inputs, circuit
from rs485kit import Bus, analysis
from rs485kit.errors import MissingDataError
from rs485kit.network.assembly import rail_variants
from rs485kit.testing import figures

PROPERTY = settings(max_examples=200, deadline=None, derandomize=True)
RAILS = st.sampled_from(["open", "low"])
# what rounding may put between a limit and the extreme itself: most on short spans without a terminator
PROVED = 1e-4


def touched(elements: Circuit) -> list[str]:
    """Return the nodes on whose lines some element stands."""
    nets = set(elements.nets)
    return [name for name, own in elements.terminals.items() if {*own[:2]} <= nets]


@PROPERTY
@given(bus=dc_buses(most=8), rails=RAILS)
def test_nominal_levels_are_those_of_a_dense_matrix(bus, rails):
    elements = circuit(bus, rails=rails)
    names = touched(elements)
    assume(names)
    expected = dense.differences(elements, names)[:, 0]
    found = levels(bus, rails)
    np.testing.assert_allclose([found[name] for name in names], expected, rtol=0, atol=ALGEBRA * largest_source(bus))


def receivers(bus: Bus) -> list[str]:
    return [node.name for node in bus.nodes if node.transceiver is not None]


def pulled(bus: Bus, rails: str, pulls: list[dict[str, float]]) -> tuple[np.ndarray, np.ndarray]:
    """Return differences and lines against commons of the receivers, for sets of voltages to which inputs pull."""
    elements = circuit(bus, rails=rails, inputs=Inputs(unit_load_ohms=15e3))
    net = {f"q{k}": node.name for k, node in enumerate(bus.nodes)}
    volts = [[each.get(net.get(source.plus, ""), source.volts) for source in elements.sources] for each in pulls]
    names = receivers(bus)
    return dense.differences(elements, names, volts), dense.against_common(elements, names, volts)


def idle_or_nothing(bus: Bus) -> analysis.IdleLevels | None:
    """Return the idle levels, or nothing where a line stands, or may stand, outside what a unit load says."""
    try:
        idle = analysis.idle_levels(bus)
    except MissingDataError as error:
        assert all("beyond -7 V .. +12 V" in each for each in error.missing)
        return None
    if np.isnan(idle.voltage.matched_lower).any():
        assert idle.unstated
        return None
    return idle


@PROPERTY
@given(bus=dc_buses(most=5))
def test_matched_reading_is_the_extreme_of_all_corners(bus):
    """Where no line leaves -3 V .. +5 V at any corner, as the inputs there pull by 15 kohm to one voltage each."""
    names = receivers(bus)
    assume(names)
    pulls = [
        {name: 5.0 if corner >> k & 1 else -3.0 for k, name in enumerate(names)} for corner in range(2 ** len(names))
    ]
    found = [pulled(bus, rails, pulls) for rails in rail_variants(bus)]
    lowest = np.min([differences.min(axis=1) for differences, _ in found], axis=0)
    highest = np.max([differences.max(axis=1) for differences, _ in found], axis=0)
    idle = idle_or_nothing(bus)
    assume(idle is not None)
    np.testing.assert_allclose(idle.voltage.matched_attained_lower, lowest, rtol=0, atol=PROVED)
    np.testing.assert_allclose(idle.voltage.matched_attained_upper, highest, rtol=0, atol=PROVED)
    assert (idle.voltage.matched_lower <= lowest + ALGEBRA * largest_source(bus)).all()
    assert (idle.voltage.matched_upper >= highest - ALGEBRA * largest_source(bus)).all()
    # a line on which nothing but inputs stand reaches the very ends, and from there on its limits are only outer ones
    if all(lines.min() > -2.999 and lines.max() < 4.999 for _, lines in found):
        np.testing.assert_allclose(idle.voltage.matched_lower, lowest, rtol=0, atol=PROVED)
        np.testing.assert_allclose(idle.voltage.matched_upper, highest, rtol=0, atol=PROVED)


@PROPERTY
@given(bus=dc_buses(most=5), data=st.data())
def test_no_choice_inside_the_border_leaves_the_matched_limits(bus, data):
    """Beyond -3 V .. +5 V an input may pull to any voltage between there and its own lines."""
    names = receivers(bus)
    assume(names)
    idle = idle_or_nothing(bus)
    assume(idle is not None)
    rails = data.draw(st.sampled_from(rail_variants(bus)))
    pulls = {name: data.draw(st.one_of(st.sampled_from([-3.0, 5.0]), figures(-3, 5))) for name in names}
    for _ in range(100):
        differences, lines = pulled(bus, rails, [pulls])
        within = ALGEBRA * largest_source(bus)
        assert (differences[:, 0] >= idle.voltage.matched_lower - within).all()
        assert (differences[:, 0] <= idle.voltage.matched_upper + within).all()
        # an input that pulls to an end of the border goes with its farther line, which needs no more current
        beyond = dict(zip(names, zip(lines.min(axis=(1, 2)), lines.max(axis=(1, 2)), strict=True), strict=True))
        moved = {
            name: min(max(high, 5.0), 12.0)
            if pulls[name] >= 5.0
            else max(min(low, -3.0), -7.0)
            if pulls[name] <= -3.0
            else pulls[name]
            for name, (low, high) in beyond.items()
        }
        if max(abs(moved[name] - pulls[name]) for name in names) < ALGEBRA:
            break
        pulls = moved


@pytest.mark.parametrize("module", [dense, netlist])
def test_the_oracle_shares_no_code_with_what_it_is_to_prove(module):
    for value in vars(module).values():
        origin = getattr(value, "__module__", None) or ""
        assert not origin.startswith(("rs485kit.network", "rs485kit.solvers", "rs485kit.analysis")), value
