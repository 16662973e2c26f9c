"""Supply budgets: what is unknown by name, the currents added by hand, rating, efficiency, heat, accessories."""

import math
import pickle

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rs485kit as rk
from rs485kit.errors import InputError

PAIR = rk.Cable(name="24 AWG", conductor_resistance="84.2 ohm/km")
END = rk.Termination(resistance="120 ohm")


def points(*rows):
    return [rk.SupplyCurrent(data_rate=rate, load=load, current=current) for rate, load, current in rows]


# typical and largest currents at 5 V of a published family: unloaded, into 54 ohm, into 54 ohm at 500 kbit/s
PUBLISHED = points(
    (0, None, (None, "4.5 mA", "6.6 mA")), (0, "54 ohm", (None, "74 mA", "88 mA")),
    (500e3, "54 ohm", (None, "113 mA", "160 mA")),
)  # fmt: skip
PART = rk.Transceiver(
    name="part", unit_load=0.125, supply_voltage=("4.5 V", "5 V", "5.5 V"), supply_currents=PUBLISHED,
    quiescent_current=(None, "2.8 mA", "4.5 mA"), driver_open_voltage=("1.5 V", "4.3 V", "6 V"),
    driver_loaded_voltage=("1.5 V", "2.3 V", "5 V"), thermal_resistance="100 K/W", max_junction_temperature="150 degC",
)  # fmt: skip
SUPPLY = rk.IsolatedSupply(
    name="one watt", output_voltage=("4.75 V", "5 V", "5.25 V"), output_power="1 W",
    input_voltage=("4.5 V", "5 V", "5.5 V"), no_load_current="30 mA",
    efficiency=[rk.EfficiencyPoint(output_power="1 W", efficiency=(0.7, 0.75, 0.78))],
    thermal_resistance="60 K/W", max_case_temperature="100 degC", minimum_load="20 mA", ripple="50 mV",
    capacitive_load="220 uF",
)  # fmt: skip
WALL = rk.Barrier(
    isolator=rk.Isolator(name="isolator", supply_current=("1 mA", "2 mA", "3 mA")), supply=SUPPLY,
    input_voltage=("4.75 V", "5 V", "5.25 V"), load_capacitance="22 uF",
)  # fmt: skip
CLIMATE = rk.Environment(temperature=("-25 degC", "10 degC", "45 degC"))


def bus(barrier=WALL, part=PART, rate="500 kbit/s", ends=(END, END), **figures):
    nodes = [
        rk.Node(name=name, transceiver=part, barrier=barrier, terminations=end, **figures)
        for name, end in zip(("head", "tail"), ends, strict=True)
    ]
    link = None if rate is None else rk.Link(data_rate=rate)
    return rk.daisy_chain(nodes, spacing="100 m", cable=PAIR, link=link, environment=CLIMATE)


def row(made, **keywords):
    return rk.analysis.supply_budgets(made, **keywords).barriers.at("head")


def lacking(made):
    return " ".join(field for node, field in rk.analysis.supply_budgets(made).barriers.missing if node == "head")


# --- what is not known ----------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan, True, "half"])
def test_a_share_that_is_none_is_refused(share):
    with pytest.raises(InputError, match="share from 0 to 1"):
        rk.analysis.supply_budgets(bus(), talking_share=share)


def test_a_part_without_supply_current_is_unknown_by_name():
    made = bus(part=attrs.evolve(PART, supply_currents=()))
    assert math.isnan(row(made).talking.nominal)
    assert not math.isnan(row(made).listening.nominal)
    assert 'nodes["head"].transceiver.supply_currents' in lacking(made)


def test_a_rate_beyond_the_stated_ones_is_not_extrapolated():
    made = bus(rate="600 kbit/s")
    assert math.isnan(row(made).talking.nominal)
    assert "600000 bit/s, which the stated rates do not enclose" in lacking(made)


def test_without_a_rate_nothing_is_guessed():
    made = bus(part=attrs.evolve(PART, supply_currents=PUBLISHED[1:]), rate=None)
    assert math.isnan(row(made).talking.nominal)
    assert "link.data_rate" in lacking(made)


def test_a_largest_current_that_is_not_stated_leaves_no_upper_limit():
    typical = [attrs.evolve(each, current=each.current.typ) for each in PUBLISHED]
    loose = [attrs.evolve(each, current=(None, each.current.typ, None)) for each in PUBLISHED]
    assert not math.isnan(row(bus(part=attrs.evolve(PART, supply_currents=typical))).talking.upper)
    made = bus(part=attrs.evolve(PART, supply_currents=loose))
    assert math.isnan(row(made).talking.upper)
    assert math.isnan(row(made).surplus.lower)
    assert row(made).spare(0.01) is None


def test_no_efficiency_no_input_power():
    made = bus(barrier=attrs.evolve(WALL, supply=attrs.evolve(SUPPLY, efficiency=())))
    assert math.isnan(row(made).input_talking.nominal)
    assert "efficiency" in lacking(made)
    assert not math.isnan(row(made).surplus.lower)


def test_no_isolator_no_budget():
    assert "barrier.isolator" in lacking(bus(barrier=attrs.evolve(WALL, isolator=None)))


@pytest.mark.parametrize("current", [0.0, -1.0, math.nan, math.inf, True, "10 mA"])
def test_an_accessory_of_no_current_is_refused(current):
    with pytest.raises(InputError, match="a current above 0"):
        row(bus()).spare(current)


def test_a_bus_without_barriers_has_no_rows():
    budgets = rk.analysis.supply_budgets(bus(barrier=None))
    assert len(budgets.barriers) == 0
    assert len(budgets.transceivers) == 2


# --- currents -------------------------------------------------------------------------------------------


def load(made):
    return rk.analysis.terminations(made).driver_load.at("head").resistance.nominal


def test_talking_current_is_that_of_the_stated_load_moved_to_the_bus():
    made = bus()
    inner = 54.0 * (4.3 / 2.3 - 1.0)
    own = 0.113 - 4.3 / (inner + 54.0)
    assert row(made).talking.nominal == pytest.approx(own + 4.3 / (inner + load(made)) + 2e-3, rel=1e-9)
    # the bus is no heavier than 54 ohm, so that the largest stated current holds where no input pulls against the driver
    weightless = bus(part=attrs.evolve(PART, unit_load=0))
    assert row(weightless).talking.upper == pytest.approx(0.160 + 3e-3, rel=1e-9)
    assert row(made).listening.nominal == pytest.approx(2.8e-3 + 2e-3, rel=1e-9)


def test_between_rates_straight_lines():
    made = bus(rate="250 kbit/s", part=attrs.evolve(PART, unit_load=0, supply_currents=PUBLISHED[1:]))
    assert row(made).talking.upper == pytest.approx((0.088 + 0.160) / 2 + 3e-3, rel=1e-9)


def test_at_the_stated_load_the_stated_current_itself():
    """One resistor that makes the bus 54 ohm, no cable to speak of, no bias: the datasheet's own condition."""
    part = attrs.evolve(PART, unit_load=0, supply_currents=PUBLISHED)
    made = bus(part=part, ends=(rk.Termination(resistance="54 ohm"), None))
    assert load(made) == pytest.approx(54.0, rel=1e-12)
    assert row(made).talking.nominal == pytest.approx(0.113 + 2e-3, rel=1e-12)


def test_a_slow_part_may_draw_more_at_its_top_rate_than_a_fast_one():
    """Published: 113 mA at 500 kbit/s of the slow part, 97 mA at 12 Mbit/s of the fast one."""
    fast = points((0, "54 ohm", (None, "74 mA", "88 mA")), (12e6, "54 ohm", (None, "97 mA", "122 mA")))
    quick = row(bus(part=attrs.evolve(PART, supply_currents=fast), rate="12 Mbit/s"))
    assert quick.talking.nominal < row(bus()).talking.nominal


def test_pull_ups_draw_from_the_supply_at_their_node():
    bias = rk.Bias(pull_up="510 ohm", pull_down="510 ohm")
    with_it, without = (row(bus(biases=each)) for each in (bias, None))
    assert with_it.listening.nominal - without.listening.nominal > 5.0 / 1100
    assert with_it.listening.upper - without.listening.upper == pytest.approx((5.25 + 7.0) / 510, rel=1e-9)


def test_accessories_of_every_law():
    extra = [rk.Accessory(name="lamp", current="10 mA"), rk.Accessory(name="sensor", power="50 mW"),
             rk.Accessory(name="pull-up", resistance="1 kohm")]  # fmt: skip
    more = row(bus(accessories=extra)).listening.nominal - row(bus()).listening.nominal
    assert more == pytest.approx(0.010 + 0.05 / 5.0 + 5.0 / 1000.0, rel=1e-9)
    upper = row(bus(accessories=extra)).listening.upper - row(bus()).listening.upper
    assert upper == pytest.approx(0.010 + 0.05 / 4.75 + 5.25 / 1000.0, rel=1e-9)


def test_a_shorted_pair():
    inner = 54.0 * (4.3 / 2.3 - 1.0)
    static = row(bus(rate="0.5 kbit/s", part=attrs.evolve(PART, supply_currents=PUBLISHED[1:])))
    assert static.shorted.upper > 0.25
    limited = attrs.evolve(PART, short_circuit_current="60 mA")
    assert row(bus(part=limited)).shorted.upper < static.shorted.upper
    assert row(bus()).shorted.nominal > 4.3 / inner


def test_how_many_indicators_with_and_without_the_terminators():
    """More load on the pair leaves less for indicators: the whole answer follows the solved bus."""
    fitted, bare = row(bus()), row(bus(ends=(None, None)))
    assert bare.surplus.nominal > fitted.surplus.nominal + 0.02
    for each in (fitted, bare):
        count = each.spare(0.005)
        assert count * 0.005 <= each.surplus.lower + 1e-12 < (count + 1) * 0.005


# --- rating, input, heat --------------------------------------------------------------------------------


def test_rating_is_derated_by_the_highest_temperature_and_the_lowest_input():
    derating = [rk.DeratingPoint(temperature="25 degC", share=1.0), rk.DeratingPoint(temperature="65 degC", share=0.5)]
    ratings = [rk.OutputRating(input_voltage="4.5 V", output_current="150 mA"),
               rk.OutputRating(input_voltage="5 V", output_current="200 mA")]  # fmt: skip
    supply = attrs.evolve(SUPPLY, derating=derating, output_ratings=ratings)
    found = row(bus(barrier=attrs.evolve(WALL, supply=supply))).rating
    assert found.lower == pytest.approx(0.75 * 0.150, rel=1e-9)
    assert found.nominal == pytest.approx(0.200, rel=1e-9)


def test_past_the_last_point_of_the_derating_nothing_is_told():
    supply = attrs.evolve(SUPPLY, derating=[rk.DeratingPoint(temperature="40 degC", share=1.0)])
    made = bus(barrier=attrs.evolve(WALL, supply=supply))
    assert math.isnan(row(made).rating.lower)
    assert "share at 45 degC" in lacking(made)


def test_unregulated_output_over_load_setting_and_input():
    """Published worst case: 3 %, 10 % and 1.2 times 10 % of a low input leave 3.84 V of 5 V."""
    supply = attrs.evolve(SUPPLY, output_voltage="5 V", regulated=False, setting_accuracy=0.03, load_regulation=0.1,
                          line_regulation=1.2)  # fmt: skip
    wall = attrs.evolve(WALL, supply=supply, input_voltage=("4.5 V", "5 V", "5.5 V"))
    found = row(bus(barrier=wall)).output_voltage
    assert found.lower == pytest.approx(3.8412, abs=1e-4)
    assert found.upper == pytest.approx(5.0 * 1.03 * 1.1 * 1.12, rel=1e-9)
    assert rk.formulas.remote_supply_voltage(5.0, 0.0, 0.1) == found.nominal


def test_input_power_is_output_over_efficiency():
    full = attrs.evolve(SUPPLY, efficiency=[rk.EfficiencyPoint(output_power="1 mW", efficiency=0.7),
                                            rk.EfficiencyPoint(output_power="2 W", efficiency=0.7)])  # fmt: skip
    found = row(bus(barrier=attrs.evolve(WALL, supply=full)))
    assert found.input_talking.nominal == pytest.approx(5.0 * found.talking.nominal / 0.7, rel=1e-3)
    assert found.input_current.nominal == pytest.approx(found.input_talking.nominal / 5.0, rel=1e-12)
    assert found.input_current.upper == pytest.approx(found.input_talking.upper / 4.75, rel=1e-12)


def test_without_load_the_input_is_that_of_no_load():
    quiet = attrs.evolve(PART, quiescent_current="0 A", unit_load=0)
    wall = attrs.evolve(WALL, isolator=rk.Isolator(name="i", supply_current="0 A"))
    assert row(bus(part=quiet, barrier=wall)).input_listening.nominal == pytest.approx(0.15, rel=1e-9)


def test_beyond_the_largest_stated_power_no_input_is_told():
    weak = attrs.evolve(SUPPLY, efficiency=[rk.EfficiencyPoint(output_power="0.1 W", efficiency=0.7)])
    assert math.isnan(row(bus(barrier=attrs.evolve(WALL, supply=weak))).input_talking.nominal)


def test_heat_warms_the_case():
    found = row(bus())
    assert found.heat.nominal == pytest.approx(found.input_talking.nominal - 5.0 * found.talking.nominal, rel=1e-9)
    assert found.case_temperature.nominal == pytest.approx(283.15 + 60.0 * found.heat.nominal, rel=1e-12)
    assert found.highest_ambient == pytest.approx(373.15 - 60.0 * found.heat.upper, rel=1e-12)


def test_a_node_that_seldom_talks_is_cooler_and_bears_the_same_current():
    seldom = row(bus(), talking_share=1 / 32)
    assert seldom.heat.nominal < row(bus()).heat.nominal
    assert seldom.talking.nominal == row(bus()).talking.nominal


def test_heat_of_a_transceiver_at_the_stated_load():
    """5 V times 113 mA, less what 54 ohm take at 2.3 V."""
    made = bus(part=attrs.evolve(PART, unit_load=0), ends=(rk.Termination(resistance="54 ohm"), None))
    found = rk.analysis.supply_budgets(made).transceivers.at("head")
    assert found.heat.nominal == pytest.approx(5.0 * 0.113 - 2.3**2 / 54.0, rel=1e-9)
    assert found.junction_temperature.nominal == pytest.approx(283.15 + 100.0 * found.heat.nominal, rel=1e-12)
    assert found.heat.lower <= found.heat.nominal <= found.heat.upper


def test_a_result_travels_between_processes():
    found = rk.analysis.supply_budgets(bus())
    assert pickle.loads(pickle.dumps(found)).barriers.at("tail").surplus == found.barriers.at("tail").surplus
    assert "surplus_lower_A" in found.barriers.to_records()[0]


def test_a_node_that_is_fed_draws_what_its_supply_takes():
    made = bus()
    fed = made.replace_node(attrs.evolve(made.node("tail"), feed=rk.FeedLoad(minimum_voltage="4 V")))
    fed = fed.replace_node(attrs.evolve(made.node("head"), feed_source=rk.FeedSource(voltage="5 V")))
    segments = [attrs.evolve(each, length=10.0, feed=rk.FeedConductors(wires=2)) for each in fed.segments]
    fed = attrs.evolve(fed, segments=segments)
    budget = rk.analysis.supply_budgets(fed).barriers.at("tail").input_talking.nominal
    loop = 10.0 * 84.2e-3 * (1 + 0.00393 * -10.0)
    volts = rk.analysis.feed_levels(fed).devices.at("tail").voltage.nominal
    assert volts == pytest.approx((5.0 + math.sqrt(25.0 - 4 * loop * budget)) / 2, rel=1e-9)


# --- invariants -----------------------------------------------------------------------------------------

quick = settings(max_examples=25, deadline=None)
LAWS = st.sampled_from(["current", "power"])


@quick
@given(st.lists(st.tuples(LAWS, st.floats(0.001, 0.05)), max_size=4), LAWS, st.floats(0.0001, 0.05))
def test_an_accessory_never_raises_the_surplus(laws, law, figure):
    extra = [rk.Accessory(name=f"a{k}", **{name: value}) for k, (name, value) in enumerate(laws)]
    before, after = (row(bus(accessories=each)).surplus for each in (extra, [*extra, rk.Accessory(name="z", **{law: figure})]))
    for part in ("lower", "nominal", "upper"):
        assert getattr(after, part) <= getattr(before, part) + 1e-15


@quick
@given(st.floats(60.0, 500.0))
def test_a_further_resistor_across_the_pair_never_raises_the_surplus(ohms):
    """Inputs weigh nothing here: their border lets the idle bus push by microamperes more at a lighter load."""
    part = attrs.evolve(PART, unit_load=0)
    more = [(END, rk.Termination(resistance=ohms)), END]
    after, before = (row(bus(part=part, ends=each)).surplus for each in (more, (END, END)))
    assert after.nominal <= before.nominal + 1e-12
    assert after.lower <= before.lower + 1e-12


@quick
@given(st.floats(0.0, 0.2), st.floats(0.0, 0.2))
def test_widening_a_current_never_narrows_a_limit(width, more):
    def made(share):
        rows = points((0, "54 ohm", (0.07 * (1 - share), 0.07, 0.07 * (1 + share))),
                      (500e3, "54 ohm", (0.1 * (1 - share), 0.1, 0.1 * (1 + share))))  # fmt: skip
        return row(bus(part=attrs.evolve(PART, supply_currents=rows)))

    narrow, wide = made(width), made(width + more)
    for name in ("talking", "surplus", "input_talking", "heat", "case_temperature"):
        first, second = getattr(narrow, name), getattr(wide, name)
        assert second.lower <= first.lower + 1e-12
        assert second.upper >= first.upper - 1e-12


# --- published table, every row through the whole analysis -----------------------------------------------

ROWS = {5.0: {"unloaded": (4.5, 6.6), "static": (74, 88), "500k": (113, 160), "12M": (97, 122), "50M": (134, 162),
              "off": (2.8, 4.5)},
        3.3: {"unloaded": (4.0, 6.1), "static": (48, 58), "500k": (63, 95), "12M": (56, 75), "50M": (84, 103),
              "off": (2.6, 4.3)}}  # fmt: skip
RATES = {"unloaded": 0.0, "static": 0.0, "500k": 500e3, "12M": 12e6, "50M": 50e6}


@pytest.mark.parametrize("volts", ROWS)
@pytest.mark.parametrize("name", RATES)
def test_published_currents_of_an_isolated_family(volts, name):
    """Texas Instruments SLLSF22H, supply current of side 2, typical and largest, checks power-isolated-icc2."""
    figures = {key: (None, typ * 1e-3, most * 1e-3) for key, (typ, most) in ROWS[volts].items()}
    load = None if name == "unloaded" else 54.0
    part = attrs.evolve(
        PART, unit_load=0, supply_currents=points((RATES[name], load, figures[name])),
        quiescent_current=figures["off"],
    )  # fmt: skip
    wall = attrs.evolve(WALL, isolator=rk.Isolator(name="none", supply_current="0 A"))
    ends = (None if load is None else rk.Termination(resistance=load), None)
    made = bus(barrier=wall, part=part, ends=ends, rate=max(RATES[name], 1.0) if RATES[name] else None)
    found = row(made)
    assert found.talking.nominal == pytest.approx(figures[name][1], rel=1e-9)
    assert found.talking.upper == pytest.approx(figures[name][2], rel=1e-9)
    assert found.listening.nominal == pytest.approx(figures["off"][1], rel=1e-9)
