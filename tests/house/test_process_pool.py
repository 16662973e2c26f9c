"""What goes to another process and comes back is the same: objects, results, errors, rules, analyses, reports."""

import copy
import pickle
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import attrs
import numpy as np
import pytest

import rs485kit as rk
from pool_side import asked, gate_missing, raised, report_with
from rs485kit import errors, rules
from rs485kit.errors import Problem


def canal():
    part = rk.Transceiver(name="eighth load", unit_load=0.125, supply_voltage="5 V", receiver_upper_threshold="200 mV")
    end = rk.Termination(resistance="120 ohm +/- 1 %")
    nodes = [
        rk.Node(
            name="pump-house", transceiver=part, terminations=end, biases=rk.Bias(pull_up=510, pull_down=510, supply=5)
        ),
        rk.Node(name="gate", transceiver=part),
        rk.Node(name="weir", transceiver=part, terminations=end),
    ]
    cable = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km")
    return rk.daisy_chain(nodes, spacing="600 m", cable=cable, stub={"gate": "2 m"}, name="canal")


RAISED = [
    errors.InputError(Problem("Node.name", "''", "a name", "give one", 7), Problem("x", "1", "2"), source="canal.toml"),
    errors.UnknownNameError("node", "weri", ("weir",), "look again"),
    errors.MissingDataError("idle levels", ("cable",), "state it"),
    errors.OutsideRangeError("idle levels", ("weir",), ((-7.5, -7.5),)),
    errors.SolveError("idle levels", "the network is singular", "add a terminator"),
    errors.RuleError("site.gate-missing", "it is no rule"),
    errors.NotPassedError("Not passed"),
]


def test_every_error_of_the_library_is_looked_at():
    kinds = {
        value for value in vars(errors).values() if isinstance(value, type) and issubclass(value, errors.Rs485kitError)
    }
    assert {type(error) for error in RAISED} == kinds - {errors.Rs485kitError}


@pytest.fixture(scope="module")
def pool():
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as executor:
        yield executor


def arrays_of(result):
    """Give every array in a result, also those of its tables."""
    for field in attrs.fields(type(result)):
        value = getattr(result, field.name)
        if isinstance(value, np.ndarray):
            yield field.name, value
        elif attrs.has(type(value)):
            yield from ((f"{field.name}.{name}", array) for name, array in arrays_of(value))


@pytest.mark.parametrize("analysis", [rk.analysis.idle_levels, rk.analysis.unit_loads])
def test_results_come_back_equal_and_cannot_be_written(pool, analysis):
    here, there = analysis(canal()), pool.submit(analysis, canal()).result()
    arrays = dict(arrays_of(there))
    assert arrays
    for name, array in arrays_of(here):
        np.testing.assert_array_equal(array, arrays[name])
        assert not array.flags.writeable
    for array in arrays.values():
        assert not array.flags.writeable
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0
    assert there.to_records() == here.to_records()
    assert [row.node for row in there] == [row.node for row in here]


@pytest.mark.parametrize("error", RAISED, ids=lambda error: type(error).__name__)
def test_errors_raised_there_arrive_whole(pool, error):
    with pytest.raises(type(error)) as caught:
        pool.submit(raised, error).result()
    assert str(caught.value) == str(error)
    assert {name: value for name, value in vars(caught.value).items() if name != "__cause__"} == vars(error)


def test_an_error_of_an_analysis_arrives(pool):
    with pytest.raises(rk.UnknownNameError, match="weri"):
        pool.submit(asked, rk.Analyses(canal()), "weri").result()


def test_a_bus_arrives_equal(pool):
    bus = canal()
    back = pool.submit(copy.copy, bus).result()
    assert back == bus
    assert hash(back) == hash(bus)
    assert back.path("pump-house", "gate") == ("pump-house", "gate.tap", "gate")


def test_analyses_travel_with_their_bus_and_solve_there(pool):
    analyses = rk.Analyses(canal())
    here = rk.analysis.idle_levels(analyses)
    there = pool.submit(rk.analysis.idle_levels, analyses).result()
    assert there.to_records() == here.to_records()
    assert pool.submit(copy.copy, analyses).result().bus == analyses.bus


def test_rules_travel_by_name(pool):
    findings = pool.submit(gate_missing, rk.Analyses(canal())).result()
    assert [(found.rule, found.verdict) for found in findings] == [("site.gate-missing", "pass")]


@pytest.mark.parametrize("given", rules.built_in(), ids=lambda given: given.name)
def test_built_in_rules_travel(pool, given):
    assert pool.submit(copy.copy, given).result() is given


def test_a_rule_made_inside_a_function_says_that_it_cannot_travel():
    inner = rk.rule("site.inner", title="Inside", basis="house")(lambda analyses: ())
    with pytest.raises((AttributeError, pickle.PicklingError, rk.RuleError)):
        pickle.loads(pickle.dumps(inner))


def test_reports_arrive_equal(pool):
    here, there = report_with(canal(), gate_missing), pool.submit(report_with, canal(), gate_missing).result()
    assert there.to_json() == here.to_json()
    assert there.findings == here.findings
    assert there.digest == here.digest
