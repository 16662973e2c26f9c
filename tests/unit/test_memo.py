"""Analyses: what is computed once, what is kept, what many threads may do with it."""

import gc
import pickle
import threading
import traceback
import weakref
from concurrent.futures import ThreadPoolExecutor

import pytest

from rs485kit import Analyses, Bias, Bus, Cable, Node, Transceiver, analysis, as_analysis, daisy_chain
from rs485kit.errors import InputError, MissingDataError

PART = Transceiver(name="part", unit_load=1.0)
PAIR = Cable(name="pair", conductor_resistance="84.2 ohm/km")
BUS = daisy_chain(
    [Node(name="a", transceiver=PART, biases=Bias(pull_up="510 ohm", supply="5 V")), Node(name="b", transceiver=PART)],
    spacing="10 m",
    cable=PAIR,
)
INCOMPLETE = daisy_chain([Node(name="a"), Node(name="b")], spacing="10 m")


class Counted:
    """An analysis that counts how often it runs, and one that always fails."""

    def __init__(self) -> None:
        self.runs: list[tuple[object, ...]] = []
        runs = self.runs

        @as_analysis()
        def counted(analyses: Analyses, factor: float = 1.0, *, names: tuple[str, ...] = ()) -> float:
            """Return a figure of the bus."""
            runs.append((factor, names))
            return factor * len(analyses.bus.nodes)

        @as_analysis()
        def failing(analyses: Analyses) -> float:
            """Fail."""
            runs.append(("failing",))
            raise MissingDataError("failing", ("everything",))

        @as_analysis(keep=False)
        def afresh(analyses: Analyses) -> float:
            """Return a figure that is not kept."""
            runs.append(("afresh",))
            return float(len(analyses.bus.nodes))

        self.counted, self.failing, self.afresh = counted, failing, afresh


# --- bad input ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("given", [None, 3, "bus", [BUS]])
def test_only_a_bus_or_its_analyses_are_taken(given):
    for call in (Analyses, analysis.idle_levels, analysis.unit_loads):
        with pytest.raises(InputError, match="wanted a Bus"):
            call(given)


def test_arguments_are_held_against_the_signature():
    counted = Counted().counted
    with pytest.raises(TypeError, match="unexpected keyword argument 'facor'"):
        counted(BUS, facor=2.0)
    with pytest.raises(TypeError, match="too many positional arguments"):
        counted(BUS, 1.0, 2.0)


def test_argument_that_cannot_be_told_from_others_is_refused():
    with pytest.raises(InputError, match=r"counted: .*hashable arguments"):
        Counted().counted(Analyses(BUS), names=["a"])


# --- sharing --------------------------------------------------------------------------------------------


def test_result_is_computed_once_and_shared():
    shared = Analyses(BUS)
    first = analysis.idle_levels(shared)
    assert analysis.idle_levels(shared) is first
    assert analysis.unit_loads(shared) is not first
    # what an analysis makes of others is kept too
    assert [each for each in shared.results if each is first or each is analysis.unit_loads(shared)] == [
        first,
        analysis.unit_loads(shared),
    ]
    assert shared.bus is BUS


def test_bus_is_solved_afresh_each_time():
    assert analysis.idle_levels(BUS) is not analysis.idle_levels(BUS)


def test_arguments_tell_results_apart_however_they_are_written():
    each, shared = Counted(), Analyses(BUS)
    assert each.counted(shared) == each.counted(shared, 1.0) == each.counted(shared, factor=1.0, names=()) == 2.0
    assert each.counted(shared, 2.0) == 4.0
    assert each.counted(shared, names=("a",)) == 2.0
    assert each.runs == [(1.0, ()), (2.0, ()), (1.0, ("a",))]


def test_what_is_not_kept_is_computed_again():
    each, shared = Counted(), Analyses(BUS)
    assert each.afresh(shared) == each.afresh(shared) == 2.0
    assert len(each.runs) == 2
    assert shared.results == ()


def test_analysis_may_call_another_that_is_then_shared():
    each, shared = Counted(), Analyses(BUS)

    @as_analysis()
    def doubled(analyses: Analyses) -> float:
        return 2 * each.counted(analyses)

    assert doubled(shared) == 4.0
    assert each.counted(shared) == 2.0
    assert shared.results == (2.0, 4.0)
    assert len(each.runs) == 1


def test_decorated_function_keeps_its_name_and_words():
    assert analysis.idle_levels.__name__ == "idle_levels"
    assert "idle level of every receiver" in analysis.idle_levels.__doc__


# --- errors ---------------------------------------------------------------------------------------------


def test_error_is_kept_and_raised_again_without_a_second_run():
    each, shared = Counted(), Analyses(BUS)
    for _ in range(3):
        with pytest.raises(MissingDataError, match="the bus does not state everything"):
            each.failing(shared)
    assert each.runs == [("failing",)]
    assert shared.results == ()


def test_error_that_is_raised_again_does_not_gather_frames():
    shared = Analyses(INCOMPLETE)
    lengths = []
    for _ in range(5):
        with pytest.raises(MissingDataError) as caught:
            analysis.idle_levels(shared)
        lengths.append(len(traceback.extract_tb(caught.value.__traceback__)))
    assert len(set(lengths)) == 1


def test_error_of_another_kind_is_not_kept():
    runs = []

    @as_analysis()
    def broken(analyses: Analyses) -> None:
        runs.append(1)
        raise ZeroDivisionError

    shared = Analyses(BUS)
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            broken(shared)
    assert len(runs) == 2


# --- threads and processes ------------------------------------------------------------------------------


def test_many_threads_share_one_run_of_each_analysis():
    each, shared, start = Counted(), Analyses(BUS), threading.Barrier(16)

    def work(index: int) -> tuple[float, object, str]:
        start.wait()
        try:
            each.failing(shared)
        except MissingDataError as error:
            said = str(error)
        return each.counted(shared, float(index % 4)), analysis.idle_levels(shared), said

    with ThreadPoolExecutor(16) as pool:
        found = list(pool.map(work, range(16)))
    assert [value for value, _, _ in found] == [2.0 * (index % 4) for index in range(16)]
    assert len({id(idle) for _, idle, _ in found}) == 1
    assert {said for _, _, said in found} == {"failing cannot be told: the bus does not state everything"}
    assert sorted(each.runs, key=str) == sorted([("failing",), *((float(k), ()) for k in range(4))], key=str)


def test_pickle_takes_the_bus_and_leaves_the_results():
    shared = Analyses(BUS)
    before = analysis.idle_levels(shared)
    again = pickle.loads(pickle.dumps(shared))
    assert again.bus == BUS
    assert again.results == ()
    assert (analysis.idle_levels(again).voltage.nominal == before.voltage.nominal).all()


def test_results_go_with_their_analyses():
    shared = Analyses(Bus(nodes=Node(name="a", transceiver=PART)))
    result = weakref.ref(analysis.idle_levels(shared).voltage.nominal)
    assert result() is not None
    del shared
    gc.collect()
    assert result() is None
