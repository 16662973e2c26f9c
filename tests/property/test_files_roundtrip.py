"""What is written reads back equal, and what only looks different reads as the same bus."""

import datetime
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import attrs
import jsonschema
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from property_strategies import (
    VARIED,
    barriers,
    biases,
    buses,
    cables,
    circuits,
    earths,
    environments,
    figures,
    names,
    nodes,
    policies,
    protectors,
    terminations,
    transceivers,
)
from rs485kit import files, model
from rs485kit.files import bus_from_mapping, bus_to_mapping, load_bus, save_bus
from rs485kit.model import Bus, Node, Termination, daisy_chain
from rs485kit.tables import digest, object_from_table, table_from_object
from rs485kit.units import si, spread, text_of

UNITS = ("m", "s", "V", "A", "ohm", "ohm/m", "bit/s", "F", "F/m", "W", "K", "rad", "V/s", "Hz", "")
SCHEMA = jsonschema.Draft202012Validator(files.schema())

quick = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
many = settings(max_examples=300, deadline=None)


def plain(value: Any) -> Any:
    """Return a mapping with its dates as ISO text, as JSON wants it."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("buses")


def test_the_strategies_vary_every_field_of_the_model() -> None:
    @quick
    @given(bus=buses())
    def draw_some(bus: Bus) -> None:
        assert bus.nodes

    draw_some()
    classes = [kind for name in model.__all__ if isinstance(kind := getattr(model, name), type) and kind is not Bus]
    left_out = {kind.__name__: {field.name for field in attrs.fields(kind)} - VARIED[kind] for kind in classes}
    assert not {name: fields for name, fields in left_out.items() if fields}


@quick
@given(bus=buses())
def test_a_bus_written_to_a_file_reads_back_equal(bus: Bus, folder: Path) -> None:
    path = folder / "bus.toml"
    save_bus(bus, path)
    again = load_bus(path)
    assert again == bus
    assert digest(again) == digest(bus)
    before = path.read_bytes()
    save_bus(again, path)
    assert path.read_bytes() == before


@quick
@given(bus=buses())
def test_a_bus_sent_as_json_reads_back_equal_and_fits_the_schema(bus: Bus) -> None:
    mapping = json.loads(json.dumps(plain(bus_to_mapping(bus))))
    assert bus_from_mapping(mapping) == bus
    SCHEMA.validate(mapping)


@many
@given(
    thing=st.one_of(
        transceivers(), cables(), protectors(), terminations(), biases(), barriers(), circuits(), earths(),
        environments(), policies(), nodes(),
    )
)  # fmt: skip
def test_every_object_reads_back_equal_from_its_table(thing: Any) -> None:
    table = table_from_object(thing)
    assert object_from_table(type(thing), table, place="here") == thing
    assert object_from_table(type(thing), json.loads(json.dumps(plain(table))), place="here") == thing


@quick
@given(one=nodes(), other=nodes())
def test_digests_are_equal_just_where_objects_are(one: Node, other: Node) -> None:
    again = object_from_table(Node, table_from_object(one), place="here")
    assert digest(again) == digest(one)
    assert (digest(one) == digest(other)) == (one == other)


@many
@given(value=st.floats(allow_nan=False, allow_infinity=False), unit=st.sampled_from(UNITS))
def test_a_figure_written_as_text_reads_back_to_the_same_float(value: float, unit: str) -> None:
    text = text_of(value, unit)
    assert si(text, unit) == value
    assert isinstance(text, str) == bool(unit)


@many
@given(
    digits=st.integers(1, 9999), point=st.integers(-4, 2), tolerance=st.integers(0, 999).map(lambda each: each / 10)
)  # fmt: skip
def test_limits_read_from_a_tolerance_survive_a_table_to_the_bit(digits: int, point: int, tolerance: float) -> None:
    number = Decimal(digits).scaleb(point)
    given_limits = spread(f"{number:f} kohm +/- {tolerance} %", "ohm")
    assume(given_limits.min is not None and given_limits.min >= 1 and given_limits.max <= 1e6)
    table = {"resistance": f"{number:f} kohm +/- {tolerance} %"}
    part = object_from_table(Termination, table, place="here")
    again = object_from_table(type(part), table_from_object(part), place="here")
    assert (again.resistance.min, again.resistance.typ, again.resistance.max) == (
        given_limits.min, given_limits.typ, given_limits.max,
    )  # fmt: skip


@many
@given(metres=st.integers(1, 10**8).map(lambda each: Decimal(each) / 1000))
def test_the_unit_of_a_length_changes_nothing(metres: Decimal) -> None:
    texts = [f"{metres:f} m", f"{metres / 1000:f} km", f"{metres * 100:f} cm", f"{metres * 1000:f} mm", float(metres)]
    rows = [{"name": "weir"}, {"name": "lock"}]
    found = {
        bus_from_mapping({"format": 1, "bus": {
            "nodes": rows, "segments": [{"start": "weir", "end": "lock", "length": text}],
        }})
        for text in texts
    }  # fmt: skip
    assert len(found) == 1


@st.composite
def trunks(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Rows of nodes along a trunk, in the order of their places."""
    called = draw(st.lists(names(), min_size=1, max_size=6, unique=True))
    gaps = [draw(figures(1, 500)) for _ in called]
    rows: list[dict[str, Any]] = []
    at = draw(figures(-100, 100))
    for name, gap in zip(called, gaps, strict=True):
        rows.append({"name": name, "at": at})
        stub = draw(st.one_of(st.none(), st.just(0), figures(0.01, 10)))
        if stub is not None:
            rows[-1]["stub"] = stub
        at += gap
    return rows


@quick
@given(rows=trunks(), data=st.data())
def test_the_order_of_rows_along_a_trunk_changes_only_the_order_of_nodes(
    rows: list[dict[str, Any]], data: st.DataObject
) -> None:
    bus = bus_from_mapping({"format": 1, "bus": {"nodes": rows}})
    shuffled = bus_from_mapping({"format": 1, "bus": {"nodes": data.draw(st.permutations(rows))}})
    assert {node.name: node for node in shuffled.nodes} == {node.name: node for node in bus.nodes}
    assert set(shuffled.segments) == set(bus.segments)


@quick
@given(rows=trunks())
def test_rows_with_places_are_the_chain_with_those_positions(rows: list[dict[str, Any]]) -> None:
    chain = daisy_chain(
        [Node(name=row["name"]) for row in rows],
        positions=[row["at"] for row in rows],
        stub=[row.get("stub") for row in rows],
    )
    assert bus_from_mapping({"format": 1, "bus": {"nodes": rows}}) == chain
