"""Topic F, number of nodes: C16, C17; and the loads of C38.

The count alone decides nothing: unit loads do, and without bias no count has a defined idle level.
"""

import attrs
import pytest
from case_meter import pair_resistance
from case_parts import (
    AWG24,
    END,
    PLAIN,
    SIMPLE,
    at_one_place,
    at_rate,
    device,
    exactly,
    findings,
    idle_millivolts,
    legs,
    part,
    printed,
    verdict,
    verdicts,
)

import rs485kit as rk

UNDEFINED = "idle.level-undefined"
LOADS = "loading.unit-loads-exceeded"


# --- C16: full duplex, dies with the third slave, bias cures the fourth (electronics.stackexchange.com q/315078) --


def c16(slaves: int, *, bias: float | None = None, ends: bool = True, transceiver: rk.Transceiver = SIMPLE) -> rk.Bus:
    """The pair on which the slaves answer: the master only listens to it [read], one supply and common ground [read].

    Slaves of 1 unit load that only drive this pair [assumed]; 120 ohm at both ends or none, 5 V [assumed].
    """
    end = END if ends else None
    common = rk.CommonLink(resistance="0 ohm")
    nodes = [
        rk.Node(
            name="master", transceiver=transceiver, drives=False, terminations=end, common=common,
            biases=legs(bias) if bias else None,
        )
    ]  # fmt: skip
    nodes += [device(n, transceiver, receives=False, common=common) for n in range(1, slaves)]
    nodes.append(device(slaves, transceiver, receives=False, common=common, terminations=end))
    return at_one_place(nodes, reference_conductor=True, name="C16")


COUNTS = (1, 2, 3, 4, 20, 30)


@pytest.mark.parametrize("slaves", COUNTS)
@pytest.mark.parametrize("ends", [True, False], ids=["terminated", "open"])
def test_c16_without_bias_idle_is_undefined_for_any_count(slaves, ends):
    """Two slaves that work are luck: the nominal level is 0 V."""
    bus = c16(slaves, ends=ends, transceiver=PLAIN)
    assert verdicts(bus, UNDEFINED) == {"master": "fail"}
    assert rk.analysis.idle_levels(bus).at("master").voltage.nominal == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("slaves", COUNTS)
def test_c16_leakage_may_put_a_terminated_pair_on_either_side(slaves):
    """With 3 slaves the idle levels swap side [read]: the bounds span 0 V at every count."""
    voltage = rk.analysis.idle_levels(c16(slaves, transceiver=PLAIN)).at("master").voltage
    assert voltage.lower == pytest.approx(-voltage.upper, rel=1e-6)
    assert voltage.upper == pytest.approx((slaves + 1) * 16e-3, rel=0.35)


@pytest.mark.parametrize("slaves", COUNTS)
def test_c16_leakage_may_put_an_open_pair_anywhere(slaves):
    """Inputs that draw nothing are inside the border from -7 V to +12 V: on lines that nothing else joins, 19 V apart."""
    voltage = rk.analysis.idle_levels(c16(slaves, ends=False, transceiver=PLAIN)).at("master").voltage
    assert (voltage.lower, voltage.upper) == (pytest.approx(-19.0, abs=0.01), pytest.approx(19.0, abs=0.01))
    assert (voltage.attained_lower, voltage.attained_upper) == (pytest.approx(-8.0, abs=0.01), pytest.approx(8.0, abs=0.01))


def test_c16_what_leakage_may_do_grows_with_the_count():
    """Terminated, each unit load adds about 16 mV either way: from the twelfth on they could fake a level."""
    buses = [c16(slaves, transceiver=PLAIN) for slaves in (1, 2, 3, 4, 12)]
    reach = [rk.analysis.idle_levels(bus).at("master").voltage.upper for bus in buses]
    assert reach == sorted(reach)
    assert reach[0] == printed(0.032, last=0.001)
    assert reach[-1] > 0.2 * 0.9


@pytest.mark.parametrize(
    ("loads", "bias", "millivolts", "seen"),
    [
        (21, 560.0, 242, ("pass", "marginal")),
        (31, 560.0, 237, ("pass", "marginal")),
        (21, 680.0, 201, ("marginal",)),
        (31, 680.0, 197, ("fail",)),
    ],
)
def test_c16_terminated_with_bias(loads, bias, millivolts, seen):
    """With 60 ohm: 560 ohm gives 242 mV for 21 loads and 237 for 31; 680 gives 201 and 197, which fails [derived]."""
    bus = c16(loads - 1, bias=bias)
    assert rk.analysis.unit_loads(bus).total == exactly(loads)
    assert idle_millivolts(bus) == printed(millivolts)
    assert verdict(bus, UNDEFINED) in seen


def test_c16_largest_bias_for_31_loads():
    """668 ohm [derived]."""
    assert rk.formulas.largest_bias(5.0, 0.2, termination=60.0, line_load=12e3 / 31.0) == printed(668)
    assert verdict(c16(30, bias=667.0), UNDEFINED) != "fail"
    assert verdict(c16(30, bias=669.0), UNDEFINED) == "fail"


@pytest.mark.parametrize(("loads", "volts"), [(5, 1.69), (21, 0.54), (31, 0.38)])
@pytest.mark.parametrize("transceiver", [SIMPLE, PLAIN], ids=["inputs to 0 V", "to half the supply"])
def test_c16_open_pair_with_weak_pulls(loads, volts, transceiver):
    """4.7 kohm without terminators: 1.69 V at 5 nodes, 0.54 V at 21, 0.38 V at 31 [derived]."""
    bus = c16(loads - 1, bias=4.7e3, ends=False, transceiver=transceiver)
    assert idle_millivolts(bus) == printed(1e3 * volts, last=10.0)


def test_c16_open_pair_passes_nominally_and_says_what_unequal_inputs_could_do():
    """0.38 V is nominal; 31 inputs that each lie anywhere in their border could turn it round: told, not hidden."""
    bus = c16(30, bias=4.7e3, ends=False, transceiver=PLAIN)
    voltage = rk.analysis.idle_levels(bus).at("master").voltage
    assert voltage.lower < 0.0 < voltage.matched_lower
    assert verdict(bus, UNDEFINED) != "fail"


# --- C17: more than 100 devices, no terminators, works (industrialmonitordirect.com, device limit article) ---


def c17(unit_load: float, *, devices: int = 99) -> rk.Bus:
    """More than 100 devices allowed [read], here 100; no terminators [read]; 19200 bit/s, 800 m [assumed].

    Receivers with built-in failsafe [assumed: it works without bias]; the unit load is not said and must be asked.
    """
    transceiver = part(unit_load, receiver_upper_threshold="-50 mV")
    nodes = [rk.Node(name="controller", transceiver=transceiver)]
    nodes += [device(number, transceiver) for number in range(1, devices + 1)]
    link = rk.Link(data_rate="19.2 kbit/s", controller="controller")
    return rk.daisy_chain(nodes, spacing=800.0 / devices, cable=AWG24, link=link, name="C17")


@pytest.mark.parametrize(
    ("unit_load", "loads", "seen"),
    [(1.0, 100.0, "fail"), (0.25, 25.0, "pass"), (0.125, 12.5, "pass"), (0.1, 10.0, "pass")],
)
def test_c17_hundred_nodes_are_a_hundred_loads_or_ten(unit_load, loads, seen):
    """100 / 25 / 12.5 / 10 loads at 1, 1/4, 1/8, 1/10 [derived]: fine from a quarter down."""
    bus = c17(unit_load)
    assert rk.analysis.unit_loads(bus).total == exactly(loads)
    assert verdicts(bus, LOADS) == {"bus": seen}


def test_c17_unit_load_that_is_not_stated_is_asked_for():
    unstated = attrs.evolve(c17(0.25).node("device-7").transceiver, unit_load=None)
    bus = c17(0.25).replace_node(device(7, unstated))
    (found,) = findings(bus, LOADS)
    assert found.verdict == "unknown"
    assert found.missing == ("device-7: transceiver.unit_load",)


@pytest.mark.parametrize(("unit_load", "ohms"), [(1.0, 240.0), (0.125, 1.92e3)])
def test_c17_ohmmeter_between_the_lines(unit_load, ohms):
    """240 ohm for 100 full loads, 1.9 kohm at 1/8 [derived, all at one place].

    Over 800 m of 24 AWG the copper between the devices adds to what the controller's end shows.
    """
    nodes = [device(number, part(unit_load)) for number in range(1, 101)]
    assert pair_resistance(at_one_place(nodes), "device-1") == pytest.approx(ohms, rel=1e-4)
    assert pair_resistance(c17(unit_load), "controller") > ohms


@pytest.mark.parametrize(
    ("data_rate", "metres"), [(19200, 853), (38400, 427), (57600, 286), (76800, 213), (115200, 143)]
)
def test_c17_table_of_lengths_is_three_round_trips_within_half_a_bit(data_rate, metres):
    """Lengths without terminators [read]; the rule of thumb at 0.66 c gives each to 1 % [derived]."""
    velocity = rk.formulas.propagation_velocity(0.66)
    assert rk.formulas.unterminated_length(data_rate, velocity) == pytest.approx(metres, rel=0.01)


def test_c17_works():
    """A negative control: with failsafe receivers nothing on the pair is at fault."""
    assert rk.check(at_rate(c17(0.25), 19200.0), policy=rk.Policy(select=("loading", "idle", "structure"))).passed


def test_c17_no_terminators_are_no_failure():
    """800 m at 19200 bit/s are within the maker's 853 m [read]; at 38400 they are not, and that is told."""
    assert {each.verdict for each in findings(c17(0.25), "termination.")} == {"pass"}
    fast = attrs.evolve(c17(0.25), link=rk.Link(data_rate="38.4 kbit/s"))
    assert verdict(fast, "termination.end-unterminated") == "marginal"


@pytest.mark.parametrize(
    ("data_rate", "metres"), [(19200, 853), (38400, 427), (57600, 286), (76800, 213), (115200, 143)]
)
def test_c17_table_of_lengths_is_safe_by_more_than_two(data_rate, metres):
    """Solved, every edge has come to rest within half a bit, as the table wants, and the eye is whole at twice the rate.

    At ten times the rate it is narrow or shut. So the maker's table is right and careful: a driver of 33 ohm leaves
    0.57 of the ringing a round trip, 18 % after three, and an eye needs only what lies beyond its thresholds.
    Ten devices with edges of 100 ns stand for the hundred, which would blur the ringing [assumed].
    """
    bus = c17(0.25, devices=9)
    segments = [attrs.evolve(each, length=metres / 9) for each in bus.segments]
    eyes = {
        times: rk.analysis.worst_eyes(at_rate(attrs.evolve(bus, segments=segments), times * data_rate))
        for times in (1, 2, 10)
    }
    assert eyes[1].settling.max() < 0.5 / data_rate
    assert min(eyes[1].width.min(), eyes[2].width.min()) > 0.95
    assert eyes[10].width.min() < 0.35


def test_c17_hundred_open_nodes_are_heard_at_19200():
    eyes = rk.analysis.worst_eyes(at_rate(c17(0.25), 19200.0))
    assert eyes.height.min() > 2.0
    assert eyes.width.min() > 0.95


# --- C38: 130 isolated nodes (itecnotes.com, power and RS-485 in shielded CAT5 cable) -------------------------------


def c38(nodes: int = 131) -> rk.Bus:
    """A master and 130 slaves of 1/8 unit load, 0.5 m apart [read]; both ends terminated, 560 ohm of bias [assumed]."""
    eighth = part(0.125)
    places = [device(number, eighth) for number in range(1, nodes + 1)]
    places[0] = attrs.evolve(places[0], terminations=END, biases=legs(560.0))
    places[-1] = attrs.evolve(places[-1], terminations=END)
    return rk.daisy_chain(places, spacing="0.5 m", cable=AWG24, name="C38")


def test_c38_131_nodes_pass_though_131_is_more_than_32():
    """131/8 = 16.4 loads [derived]; there is room for 125 more."""
    loads = rk.analysis.unit_loads(c38())
    assert loads.total == exactly(131 / 8)
    assert verdicts(c38(), LOADS) == {"bus": "pass"}
    assert loads.spare_nodes == 256 - 131


def test_c38_idle_level_holds_along_65_metres():
    """250 mV lumped [derived here]; 11 ohm of loop on the way cost the far end a tenth."""
    idle = rk.analysis.idle_levels(c38())
    assert idle.at("device-131").voltage.nominal < idle.lumped < idle.at("device-1").voltage.nominal
    assert idle.worst.node == "device-131"
    assert idle.worst.margin > 0.03


def test_c38_nodes_make_80_ohm_of_100():
    """15 pF per 0.5 m on 52 pF/m take 100 ohm cable to 80 ohm and 0.8 of its speed [derived]: 120 ohm are 50 % high.

    The eye bears it: at 115200 bit/s and edges of 100 ns terminators of 80 ohm would not even gain, since they load
    the driver by more than the reflections of 120 ohm take.
    """
    cable = attrs.evolve(
        AWG24, characteristic_impedance="100 ohm", velocity_factor=1.0 / (100.0 * 52e-12) / 299792458.0
    )  # fmt: skip
    bus = at_rate(c38(), 115200.0, cable=cable)
    nodes = [attrs.evolve(each, transceiver=attrs.evolve(each.transceiver, capacitance="15 pF")) for each in bus.nodes]
    bus = attrs.evolve(bus, nodes=nodes)
    loading = rk.analysis.line_loading(bus)
    assert loading.loaded_impedance == printed(80.0, last=1.0)
    assert loading.loaded_velocity_factor / loading.velocity_factor == printed(0.8, last=0.01)
    assert 120.0 / loading.loaded_impedance == printed(1.5, last=0.02)
    ends = {ohms: [attrs.evolve(bus.nodes[k], terminations=rk.Termination(resistance=ohms)) for k in (0, -1)]
            for ohms in (80.0, 120.0)}  # fmt: skip
    heights = {}
    for ohms, (first, last) in ends.items():
        eyes = rk.analysis.worst_eyes(bus.replace_node(first).replace_node(last))
        heights[ohms] = eyes.between("device-1", "device-131").height
        assert eyes.height.min() > 0.5
    assert heights[120.0] > heights[80.0]


# --- the kind: any count -----------------------------------------------------------------------------------


@pytest.mark.parametrize("unit_load", [1.0, 0.5, 0.25, 0.125])
def test_limit_is_reached_by_loads_not_by_nodes(unit_load):
    """32 / unit load devices meet the limit without reserve; one more is too many."""
    count = round(32.0 / unit_load)
    for nodes, seen in ((count, "marginal"), (count + 1, "fail")):
        bus = at_one_place([device(number, part(unit_load)) for number in range(nodes)])
        assert verdicts(bus, LOADS) == {"bus": seen}


@pytest.mark.parametrize("count", [1, 5, 31])
def test_idle_level_falls_as_nodes_are_added(count):
    """Vd = (V/R) / (1/R + n/12k + 2/RT), whatever voltage the inputs pull to."""
    for transceiver in (SIMPLE, PLAIN):
        idle = rk.analysis.idle_levels(c16(count, bias=560.0, transceiver=transceiver))
        assert idle.lumped == exactly(5.0 / 560.0 / (1 / 560.0 + (count + 1) / 12e3 + 2 / 60.0))
