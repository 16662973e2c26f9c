"""The room for authors of parts, of tests of a house's own, and of properties: check_part, assert_passes, strategies."""

import pickle
import subprocess
import sys

import pytest
from hypothesis import HealthCheck, given, settings

import rs485kit as rk
from plugin_rules import BIAS, END, PART, canal
from rs485kit import catalogue, testing
from rs485kit.errors import InputError, NotPassedError, UnknownNameError
from rs485kit.model import Policy
from rs485kit.tables import forms
from rs485kit.testing import ConformanceError, MissingExtraError, assert_passes, check_part
from rs485kit.testing.edits import NOT_UNKNOWN
from rs485kit.units import MinTypMax

GOOD = canal()
BARE = canal(cable=None)


def says(found, *parts):
    """Hold problems to one sentence at least that has all the parts."""
    assert any(all(part in each for part in parts) for each in found), found


# --- parts -------------------------------------------------------------------------------------------


def part_problems(part, **more):
    with pytest.raises(ConformanceError) as caught:
        check_part(part, **more)
    return caught.value.problems


BUILT_IN = [
    name for kind in ("transceivers", "cables", "isolators", "isolated_supplies") for name in catalogue.names(kind)
]


@pytest.mark.parametrize("name", BUILT_IN)
def test_every_built_in_part_conforms(name):
    check_part(name)


@pytest.mark.parametrize("part", [END, BIAS, rk.Protector(name="diode", ends="line-common"), PART])
def test_parts_of_a_bus_file_conform(part):
    check_part(part)


@pytest.mark.parametrize("given", [None, 3.0, rk.Node(name="weir"), rk.Cable, GOOD])
def test_what_is_no_part_is_refused(given):
    with pytest.raises(InputError, match=r"check_part: given .*, wanted one of Transceiver, Cable, Isolator"):
        check_part(given)


def test_a_part_that_is_not_there_is_told_with_near_names():
    with pytest.raises(UnknownNameError, match=r'no part "generic\.24-awg-120-omh".*generic\.24-awg-120-ohm'):
        check_part("generic.24-awg-120-omh")


def test_needs_are_fields_and_stated():
    with pytest.raises(
        InputError, match=r"check_part needs: given 'unit_laod', wanted a field of Transceiver.*unit_load"
    ):
        check_part(PART, needs="unit_laod")
    check_part(PART, needs=("unit_load", "supply_voltage"))
    says(part_problems(PART, needs=["max_data_rate"]), "max_data_rate is not stated; take it from the datasheet")


def spoiled(part, **fields):
    """A copy of a part that holds what its class would have refused."""
    copy = pickle.loads(pickle.dumps(part))
    for name, value in fields.items():
        object.__setattr__(copy, name, value)
    return copy


def test_figures_out_of_order_are_told():
    spread = MinTypMax(min=1.0, typ=2.0, max=3.0)
    object.__setattr__(spread, "min", 4.0)
    says(part_problems(spoiled(PART, driver_open_voltage=spread)), "driver_open_voltage is 4 / 2 / 3; state finite")


CABLE = {"name": "pair", "characteristic_impedance": "120 ohm", "velocity_factor": 0.66}
ISOLATED = {"name": "optical", "withstand_voltage_rms": "2500 V"}


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (rk.Cable(**CABLE, capacitance="60 pF/m"), "capacitance is 60 pF/m, but 120 ohm and a velocity factor of 0.66 make 42.12"),
        (rk.Cable(**CABLE, capacitance="37 pF/m"), "C = 1/(Z v c); find which of the three is wrong"),
        (
            rk.Transceiver(name="part", driver_open_voltage="2 V", driver_loaded_voltage="3 V"),
            "driver_loaded_voltage (typ 3 V) is above driver_open_voltage (typ 2 V); a load takes from the output",
        ),
        (
            rk.Transceiver(
                name="part", receiver_upper_threshold=(None, "0 V", "0.2 V"), receiver_lower_threshold=("-0.2 V", "0.1 V", None)
            ),
            "receiver_lower_threshold (typ 0.1 V) is above receiver_upper_threshold (typ 0 V)",
        ),
        (rk.Isolator(**ISOLATED, working_voltage_rms="3 kV"), "(2500 V) is below working_voltage_rms (3000 V)"),
        (rk.Isolator(**ISOLATED, working_voltage_peak="4 kV"), "3536 V peak) is below working_voltage_peak (4000 V)"),
        (
            rk.IsolatedSupply(**ISOLATED, working_voltage_rms="400 V", working_voltage_peak="300 V"),
            "working_voltage_peak (300 V) is below working_voltage_rms (400 V)",
        ),
    ],
)  # fmt: skip
def test_figures_that_contradict_one_another_are_told(part, words):
    found = part_problems(part)
    says(found, words)
    assert len([each for each in found if words in each]) == 1


@pytest.mark.parametrize(
    "part",
    [
        rk.Cable(**CABLE, capacitance="46 pF/m"),
        rk.Cable(
            name="pair", characteristic_impedance=(None, None, "120 ohm"), velocity_factor=0.66, capacitance="90 pF/m"
        ),
        rk.Isolator(**ISOLATED, working_voltage_rms="400 V", working_voltage_peak="566 V"),
        rk.Transceiver(
            name="part", driver_open_voltage=(None, None, "5 V"), driver_loaded_voltage=("1.5 V", None, None)
        ),
    ],
)
def test_figures_that_agree_or_cannot_be_compared_conform(part):
    check_part(part)


class Unequal(rk.Cable):
    """A cable that equals no copy of itself."""

    __eq__ = object.__eq__
    __hash__ = object.__hash__


class Guarded(rk.Cable):
    """A cable that is not to be copied."""

    def __reduce_ex__(self, protocol):
        raise TypeError("not to be copied")


def test_a_part_that_does_not_equal_its_copy_is_told():
    found = part_problems(Unequal(name="pair"))
    says(found, "after a change of nothing by attrs.evolve it is another part, or has another hash")
    says(found, "from a table it comes back as another part")


def test_a_part_that_cannot_travel_is_told():
    says(part_problems(Guarded(name="pair")), "a pickle raises TypeError: not to be copied")


def test_a_part_that_no_file_can_hold_is_told():
    found = part_problems(spoiled(rk.Cable(name="pair"), name="a\nb"))
    says(found, "in a table it is refused (InputError")
    says(found, "in the file of a bus it is refused")


def test_a_part_that_a_check_cannot_use_is_told():
    found = part_problems(spoiled(PART, unit_load="one"))
    says(found, "a check of a bus with it ")


def test_sources_of_a_named_part_are_held(monkeypatch):
    name, shelf = "generic.24-awg-120-ohm", "cables"
    given = catalogue.sources(shelf, name)
    monkeypatch.setattr(
        catalogue, "sources", lambda *_: {**given, "capacitance": "", "velocity_factor": "memory: a book"}
    )
    monkeypatch.setattr(catalogue, "about", lambda _: " ")
    found = part_problems(name, needs="velocity_factor")
    says(found, "nothing says what it is; write in its data about")
    says(found, "capacitance has no source; name the document in sources, or mark it")
    says(found, "velocity_factor is from memory (memory: a book), and nothing may rest on it")
    assert len(found) == 3


# --- a report that must pass -----------------------------------------------------------------------------


def test_a_report_that_passes_passes():
    report = rk.check(GOOD, policy=Policy(select="structure"))
    assert report.passed
    assert_passes(report)


def test_a_report_that_does_not_pass_is_told_in_short():
    @rk.rule("site.broken", title="Broken", basis="house")
    def broken(analyses):
        return [1 / 0]

    waived = rk.Waiver(rule="structure.figures-missing", segments=[("gate-1", "weir")], reason="dug up in spring")
    report = rk.check(BARE, rules=[broken], policy=Policy(select=["site", "structure"], waivers=waived))
    with pytest.raises(NotPassedError) as caught:
        assert_passes(report)
    lines = str(caught.value).splitlines()
    assert lines[0] == f"canal: {report.verdict}"
    assert lines[1].startswith("  site.broken did not run: ZeroDivisionError: division by zero (test_testing_parts.py, line ")
    assert lines[2:] == ["  unknown: structure.figures-missing at segment pump-house - gate-1: not stated: cable"]
    assert isinstance(caught.value, AssertionError)


@pytest.mark.parametrize("given", [None, True, GOOD, "Passed"])
def test_what_is_no_report_is_refused(given):
    with pytest.raises(InputError, match=r"assert_passes: given .*, wanted a Report"):
        assert_passes(given)


# --- strategies ------------------------------------------------------------------------------------------

quick = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.parametrize(
    "name", ["transceivers", "cables", "isolators", "isolated_supplies", "protectors", "terminations", "biases"]
)
def test_complete_parts_conform_and_state_everything(name):
    @quick
    @given(part=getattr(testing, name)(complete=True))
    def hold(part):
        stated = {field for field in forms(type(part)) if (type(part), field) not in NOT_UNKNOWN}
        check_part(part, needs=sorted(stated - {"name"}))

    hold()


def test_complete_buses_lack_nothing_that_the_checks_need():
    @quick
    @given(bus=testing.buses(complete=True, least_nodes=2))
    def hold(bus):
        report = rk.check(bus, policy=Policy(select=["structure.figures-missing", "structure.nobody-to-hear"]))
        assert report.passed, report.to_text()

    hold()


def test_buses_keep_to_shapes_and_numbers():
    @quick
    @given(bus=testing.buses(shapes=("ring",), least_nodes=2, most_nodes=2))
    def ring(bus):
        assert len(bus.nodes) == len(bus.segments) == 3

    @quick
    @given(bus=testing.buses(shapes=("chain",), least_nodes=4, most_nodes=4))
    def chain(bus):
        assert (len(bus.nodes), len(bus.segments)) == (4, 3)

    ring()
    chain()


def test_checks_work_without_hypothesis_and_strategies_name_the_extra():
    code = (
        "import sys; sys.modules['hypothesis'] = None\n"
        "from rs485kit import testing\n"
        "testing.check_part('generic.category-5')\n"
        "try:\n    testing.buses\nexcept testing.MissingExtraError as error:\n    print(error)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    wanted = 'rs485kit.testing.buses needs hypothesis, which is not installed: pip install "rs485kit[test]"'
    assert run.stdout.strip() == wanted


def test_checks_do_not_load_hypothesis():
    code = "import sys, rs485kit.testing; print('hypothesis' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


def test_the_missing_extra_is_an_import_error_that_survives_a_pickle():
    error = MissingExtraError("rs485kit.testing.buses", "hypothesis", "test")
    assert isinstance(error, ImportError)
    back = pickle.loads(pickle.dumps(error))
    assert (type(back), str(back)) == (MissingExtraError, str(error))


def test_every_public_name_is_there():
    assert set(testing.__all__) <= set(dir(testing))
    assert all(getattr(testing, name) is not None for name in testing.__all__)
    with pytest.raises(AttributeError, match="no_such_strategy"):
        testing.no_such_strategy  # noqa: B018
