"""Hypothesis strategies for the objects of the model, shared by the property tests.

Every strategy gives valid objects. By default fields may be anything that the classes take, unknown figures included;
with `complete=True` every figure that an analysis reads is stated and lies where practice has it.
"""

import datetime
import itertools
from typing import Any

import attrs
from hypothesis import reject
from hypothesis import strategies as st

from rs485kit.errors import InputError
from rs485kit.model import (
    Barrier,
    Bias,
    Bus,
    Cable,
    Circuit,
    CommonLink,
    Earth,
    Environment,
    IsolatedSupply,
    Isolator,
    Link,
    Node,
    Policy,
    Protector,
    Segment,
    Termination,
    Transceiver,
    Waiver,
)
from rs485kit.model.base import TAP_SUFFIX
from rs485kit.units import MinTypMax

SHAPES = ("chain", "stubs", "star", "ring", "separate")
_PUNCTUATION = "\"'\\.[]{}#=,:;-_ µΩ°é漢ß🌊"
_INSULATION = ("functional", "basic", "reinforced")

# the fields that the strategies vary, by class; a test holds it against the model
VARIED: dict[type, set[str]] = {}


# --- names and figures -----------------------------------------------------------------------------------


def names(*, odd: bool = True, longest: int = 20) -> st.SearchStrategy[str]:
    """Names; odd ones hold quotes, dots, brackets and letters of any script."""
    if not odd:
        return st.from_regex(r"[a-z]{1,6}-[0-9]{1,3}", fullmatch=True)
    alphabet = st.one_of(st.sampled_from(_PUNCTUATION), st.characters(codec="utf-8", categories=("L", "N", "P", "S")))
    text = st.text(alphabet, min_size=1, max_size=longest).map(str.strip)
    return text.filter(lambda name: bool(name) and name.isprintable() and not name.endswith(TAP_SUFFIX))


def figures(low: float, high: float) -> st.SearchStrategy[float]:
    """SI floats of a range, its ends and round values included."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


def spreads(low: float, high: float, *, bounded: bool = False) -> st.SearchStrategy[MinTypMax]:
    """Least, typical and largest value: exact, whole, or, unless `bounded`, with members that are unknown."""
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


def _or_none(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), strategy)


def _valid(kind: type, **fields: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Objects of a class, without the combinations of fields that it refuses."""
    VARIED.setdefault(kind, set()).update(fields)

    def build(values: dict[str, Any]) -> Any:
        try:
            return kind(**values)
        except InputError:
            return reject()

    return st.fixed_dictionaries(fields).map(build)


# --- parts -----------------------------------------------------------------------------------------------


def transceivers(*, complete: bool = False) -> st.SearchStrategy[Transceiver]:
    """Transceivers."""
    if complete:
        return _valid(
            Transceiver,
            name=names(odd=False),
            unit_load=st.sampled_from([0.125, 0.25, 0.5, 1.0]),
            supply_voltage=spreads(4.5, 5.5, bounded=True),
            receiver_upper_threshold=spreads(-0.01, 0.2, bounded=True),
            receiver_lower_threshold=spreads(-0.2, -0.02, bounded=True),
            driver_open_voltage=spreads(3.0, 5.0, bounded=True),
            driver_loaded_voltage=spreads(1.5, 2.9, bounded=True),
            driver_edge_time=spreads(1e-8, 1e-6, bounded=True),
            max_data_rate=figures(2.5e5, 2e7),
        )
    return _valid(
        Transceiver,
        name=names(),
        unit_load=_or_none(figures(0, 32)),
        supply_voltage=_or_none(spreads(1, 40)),
        input_reference=_or_none(figures(0, 2.6)),
        input_mismatch=_or_none(figures(0, 1)),
        receiver_upper_threshold=_or_none(spreads(-1, 1)),
        receiver_lower_threshold=_or_none(spreads(-1, 1)),
        driver_open_voltage=_or_none(spreads(0, 15)),
        driver_loaded_voltage=_or_none(spreads(0, 15)),
        driver_offset_voltage=_or_none(spreads(-10, 10)),
        driver_least_load=_or_none(figures(1, 1e4)),
        driver_current=_or_none(figures(1e-4, 1)),
        driver_edge_time=_or_none(spreads(1e-11, 1e-3)),
        mark_driven=st.booleans(),
        max_data_rate=_or_none(figures(1, 1e9)),
    )


def cables(*, complete: bool = False) -> st.SearchStrategy[Cable]:
    """Cables."""
    if complete:
        return _valid(
            Cable,
            name=names(odd=False),
            conductor_resistance=spreads(0.01, 0.3, bounded=True),
            reference_resistance=spreads(0.01, 0.3, bounded=True),
            shield_resistance=spreads(0.005, 0.1, bounded=True),
            characteristic_impedance=spreads(100, 130, bounded=True),
            velocity_factor=spreads(0.6, 0.8, bounded=True),
            capacitance=spreads(3e-11, 6e-11, bounded=True),
        )
    return _valid(
        Cable,
        name=names(),
        conductor_resistance=_or_none(spreads(1e-6, 10)),
        reference_resistance=_or_none(spreads(1e-6, 10)),
        shield_resistance=_or_none(spreads(1e-6, 10)),
        characteristic_impedance=_or_none(spreads(20, 500)),
        velocity_factor=_or_none(spreads(0.1, 1)),
        capacitance=_or_none(spreads(1e-12, 1e-9)),
    )


def isolators() -> st.SearchStrategy[Isolator]:
    """Isolators."""
    return _valid(
        Isolator,
        name=names(),
        insulation=_or_none(st.sampled_from(_INSULATION)),
        withstand_voltage_rms=_or_none(figures(10, 1e5)),
        working_voltage_rms=_or_none(figures(10, 1e5)),
        working_voltage_peak=_or_none(figures(10, 1e5)),
        transient_immunity=_or_none(figures(1e6, 1e13)),
        capacitance=_or_none(spreads(1e-15, 1e-6)),
    )


def isolated_supplies() -> st.SearchStrategy[IsolatedSupply]:
    """Isolated supplies."""
    return _valid(
        IsolatedSupply,
        name=names(),
        output_voltage=_or_none(spreads(1, 60)),
        output_power=_or_none(figures(1e-3, 1e3)),
        insulation=_or_none(st.sampled_from(_INSULATION)),
        withstand_voltage_rms=_or_none(figures(10, 1e5)),
        working_voltage_rms=_or_none(figures(10, 1e5)),
        working_voltage_peak=_or_none(figures(10, 1e5)),
        capacitance=_or_none(spreads(1e-15, 1e-6)),
    )


def protectors() -> st.SearchStrategy[Protector]:
    """Protectors."""
    return _valid(
        Protector,
        name=names(),
        ends=st.sampled_from(["line-line", "line-common", "common-earth"]),
        standoff=_or_none(figures(0.1, 1e5)),
        leakage=_or_none(figures(0, 1)),
    )


def terminations(*, complete: bool = False) -> st.SearchStrategy[Termination]:
    """Terminators; complete ones are resistive and engaged."""
    if complete:
        return _valid(Termination, resistance=spreads(100, 150, bounded=True))
    return _valid(
        Termination,
        name=st.one_of(st.just(""), names()),
        resistance=spreads(1, 1e6),
        capacitance=_or_none(spreads(1e-12, 1e-3)),
        pull_up=_or_none(spreads(1, 1e8)),
        pull_down=_or_none(spreads(1, 1e8)),
        supply=_or_none(spreads(0, 60)),
        power=_or_none(figures(1e-3, 1e3)),
        engaged=st.booleans(),
    )


def biases(*, complete: bool = False) -> st.SearchStrategy[Bias]:
    """Bias networks; complete ones have both legs, the right way round, on a supply that is up."""
    if complete:
        leg = spreads(390, 1500, bounded=True)
        return _valid(Bias, pull_up=leg, pull_down=leg, supply=spreads(4.5, 5.5, bounded=True))
    return _valid(
        Bias,
        name=st.one_of(st.just(""), names()),
        pull_up=_or_none(spreads(1, 1e8)),
        pull_down=_or_none(spreads(1, 1e8)),
        supply=_or_none(spreads(0, 60)),
        supply_on=st.booleans(),
        power=_or_none(figures(1e-3, 1e3)),
        reversed=st.booleans(),
        engaged=st.booleans(),
    )


def barriers() -> st.SearchStrategy[Barrier]:
    """Barriers."""
    return _valid(Barrier, isolator=_or_none(isolators()), supply=_or_none(isolated_supplies()))


# --- places and judgement --------------------------------------------------------------------------------


def commons(*, complete: bool = False) -> st.SearchStrategy[CommonLink]:
    """Links of a node's common to the reference conductor."""
    if complete:
        return _valid(CommonLink, resistance=spreads(0, 200, bounded=True))
    return _valid(CommonLink, resistance=spreads(0, 1e6), bonded=_or_none(st.booleans()))


def circuits() -> st.SearchStrategy[Circuit]:
    """What stands on the field side of a node."""
    return _valid(
        Circuit,
        hazard=_or_none(st.sampled_from(["hazardous", "touchable"])),
        working_voltage_rms=_or_none(figures(0, 1e5)),
        working_voltage_peak=_or_none(figures(0, 1e5)),
        system_voltage_rms=_or_none(figures(1, 1e5)),
        overvoltage_category=_or_none(st.integers(1, 4)),
    )


def earths(*, complete: bool = False, name: str | None = None) -> st.SearchStrategy[Earth]:
    """Local earths; the potentials of complete ones stay within the range that receivers must bear."""
    called = names(odd=not complete) if name is None else st.just(name)
    if complete:
        return _valid(
            Earth,
            name=called,
            potential=spreads(-3, 3, bounded=True),
            mains_potential=figures(0, 3),
            mains_phase=figures(-3, 3),
            resistance=spreads(0.1, 50, bounded=True),
        )
    return _valid(
        Earth,
        name=called,
        potential=_or_none(spreads(-1e4, 1e4)),
        mains_potential=_or_none(figures(0, 1e4)),
        mains_phase=_or_none(figures(-7, 7)),
        resistance=_or_none(spreads(0, 1e6)),
    )


def environments() -> st.SearchStrategy[Environment]:
    """What holds for a site."""
    return _valid(
        Environment,
        temperature=_or_none(spreads(173, 473)),
        altitude=_or_none(figures(-500, 20000)),
        pollution_degree=_or_none(st.integers(1, 4)),
        overvoltage_category=_or_none(st.integers(1, 4)),
        system_voltage_rms=_or_none(figures(1, 1e5)),
    )


def waivers() -> st.SearchStrategy[Waiver]:
    """Waivers, with reasons of several lines."""
    reason = st.text(st.one_of(st.sampled_from("\n\t\"\\'"), st.characters(codec="utf-8", exclude_categories=("C",))))
    pairs = st.lists(st.tuples(names(), names()), max_size=2)
    return _valid(
        Waiver,
        rule=names(),
        reason=reason.filter(lambda text: bool(text.strip())),
        nodes=st.lists(names(), max_size=3),
        barriers=st.lists(names(), max_size=2),
        earths=st.lists(names(), max_size=2),
        segments=pairs,
        paths=pairs,
        bus=st.booleans(),
        until=_or_none(st.dates(datetime.date(1900, 1, 1), datetime.date(9999, 12, 31))),
    )


def policies() -> st.SearchStrategy[Policy]:
    """Policies."""
    value = st.one_of(
        st.booleans(), st.integers(-(10**6), 10**6), figures(-1e300, 1e300), names(), st.just("2 m")
    )  # fmt: skip
    settings = st.dictionaries(names(), st.dictionaries(names(), value, max_size=3), max_size=3)
    patterns = st.lists(names(), max_size=3)
    return _valid(
        Policy, select=patterns, skip=patterns, settings=settings, waivers=st.lists(waivers(), max_size=2)
    )  # fmt: skip


# --- nodes and buses -------------------------------------------------------------------------------------


@st.composite
def nodes(
    draw: st.DrawFn,
    *,
    name: str | None = None,
    earth_names: tuple[str, ...] = (),
    complete: bool = False,
    transceiver: st.SearchStrategy[Transceiver] | None = None,
    barrier: st.SearchStrategy[Barrier] | None = None,
) -> Node:
    """Nodes; `earth_names` are those they may stand on."""
    earth = draw(st.sampled_from([*earth_names, None])) if earth_names else None
    called = draw(names(odd=not complete)) if name is None else name
    part = transceivers(complete=complete) if transceiver is None else transceiver
    if complete:
        return Node(
            name=called,
            transceiver=draw(part),
            common=draw(commons(complete=True)),
            earth=earth,
        )
    node: Node = draw(
        _valid(
            Node,
            name=st.just(called),
            transceiver=_or_none(part),
            drives=st.booleans(),
            receives=st.booleans(),
            terminations=st.lists(terminations(), max_size=1),
            biases=st.lists(biases(), max_size=1),
            common=_or_none(commons()),
            earth=st.just(earth),
            barrier=_or_none(barriers() if barrier is None else barrier),
            circuit=_or_none(circuits()),
            protectors=st.lists(protectors(), max_size=1),
            lines_swapped=st.booleans(),
            powered=st.booleans(),
        )
    )
    return node


@st.composite
def buses(
    draw: st.DrawFn,
    *,
    shapes: tuple[str, ...] = SHAPES,
    least_nodes: int = 1,
    most_nodes: int = 5,
    complete: bool = False,
) -> Bus:
    """Buses of one of some shapes; complete ones are terminated at both ends, biased, and have a data rate.

    "chain" is a trunk, "stubs" a trunk with some nodes on stubs, "star" branches from one place, "ring" a closed
    trunk, "separate" nodes without any cable.
    """
    shape = draw(st.sampled_from(shapes))
    called = draw(
        st.lists(names(odd=not complete), min_size=max(least_nodes, 3 if shape == "ring" else 1), max_size=most_nodes,
                 unique=True)
    )  # fmt: skip
    earth_names = draw(st.lists(names(odd=not complete), max_size=3, unique=True))
    # small pools, so that parts are shared between places
    kinds = st.sampled_from(draw(st.lists(transceivers(complete=complete), min_size=1, max_size=2)))
    shields = st.sampled_from(draw(st.lists(barriers(), min_size=1, max_size=2)))
    runs = st.sampled_from(
        [*draw(st.lists(cables(complete=complete), min_size=1, max_size=2)), *([] if complete else [None])]
    )
    devices = [
        draw(nodes(name=each, earth_names=tuple(earth_names), complete=complete, transceiver=kinds, barrier=shields))
        for each in called
    ]
    if complete:
        devices = _ended(draw, devices)
    grounds = [draw(earths(name=each, complete=complete)) for each in earth_names]
    bare = _shaped(draw, shape, devices, grounds, runs, complete=complete)
    return attrs.evolve(
        bare,
        name=draw(st.one_of(st.just(""), names(odd=not complete))),
        link=_link(draw, called, complete=complete),
        environment=draw(_or_none(environments())),
        policy=None if complete else draw(_or_none(policies())),
    )


def _ended(draw: st.DrawFn, devices: list[Node]) -> list[Node]:
    """Return the nodes with a terminator at both ends and a bias network at the first."""
    first = attrs.evolve(
        devices[0], terminations=draw(terminations(complete=True)), biases=draw(biases(complete=True))
    )  # fmt: skip
    if len(devices) == 1:
        return [first]
    return [first, *devices[1:-1], attrs.evolve(devices[-1], terminations=draw(terminations(complete=True)))]


def _link(draw: st.DrawFn, called: list[str], *, complete: bool) -> Link | None:
    if complete:
        return Link(data_rate=draw(st.sampled_from([9600.0, 38400.0, 115200.0, 250000.0])), controller=called[0])
    link = _valid(
        Link,
        data_rate=_or_none(figures(1, 1e9)),
        frame=st.sampled_from(["8N1", "8E1", "7O2"]),
        controller=_or_none(st.sampled_from(called)),
    )
    drawn: Link | None = draw(_or_none(link))
    return drawn


def segments(
    start: str, end: str, *, cable: st.SearchStrategy[Any], complete: bool = False
) -> st.SearchStrategy[Segment]:
    """Segments between two places."""
    return _valid(
        Segment,
        start=st.just(start),
        end=st.just(end),
        length=figures(1, 300) if complete else figures(1e-3, 1e5),
        cable=cable,
        reference_conductor=st.just(True) if complete else _or_none(st.booleans()),
    )


def _shaped(
    draw: st.DrawFn,
    shape: str,
    devices: list[Node],
    grounds: list[Earth],
    runs: st.SearchStrategy[Any],
    *,
    complete: bool,
) -> Bus:
    called = [device.name for device in devices]
    places: list[Node] = []
    pairs: list[tuple[str, str]] = []
    if shape == "star":
        places = [Node(name="hub" + TAP_SUFFIX)]
        pairs = [(places[0].name, name) for name in called]
    elif shape != "separate":
        on_stubs = [name for name in called if shape == "stubs" and draw(st.booleans())]
        places = [Node(name=name + TAP_SUFFIX) for name in on_stubs]
        trunk = [name + TAP_SUFFIX if name in on_stubs else name for name in called]
        pairs = [*itertools.pairwise(trunk), *((name + TAP_SUFFIX, name) for name in on_stubs)]
    if shape == "ring":
        pairs.append((called[-1], called[0]))
    spans = [draw(segments(*pair, cable=runs, complete=complete)) for pair in pairs]
    if complete:
        stubs = {place.name for place in places if shape == "stubs"}
        spans = [
            attrs.evolve(span, length=span.length / 100) if span.start in stubs and span.end + TAP_SUFFIX == span.start else span
            for span in spans
        ]  # fmt: skip
    return Bus(nodes=[*devices, *places], segments=spans, earths=grounds)
