"""Bus files: what the form allows, what is written, and the schema."""

import copy
import datetime
import io
import os
import stat
import tomllib
from pathlib import Path
from typing import Any

import attrs
import jsonschema
import pytest

from canal_files import (
    CANAL,
    EXAMPLES,
    changed,
    load,
    mapping_of,
    only,
    refused,
    refused_text,
)
from rs485kit import catalogue
from rs485kit.files import bus_from_mapping, bus_to_mapping, load_bus, save_bus, schema
from rs485kit.model import (
    Barrier,
    Bias,
    Bus,
    Cable,
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
    daisy_chain,
)
from rs485kit.tables import digest
from rs485kit.units import MinTypMax

# --- what the form allows --------------------------------------------------------------------------------


def test_the_canal_reads_as_it_is_meant() -> None:
    bus = load(CANAL)
    assert [node.name for node in bus.nodes] == [
        "pump-house", "gate-01", "gate-02", "gate-03", "gauge-04", "gate-01.tap", "gate-02.tap",
    ]  # fmt: skip
    trunk = bus.segment("gate-01.tap", "gate-02.tap").cable
    assert trunk is not None
    assert trunk.name == "trunk"
    assert trunk.conductor_resistance == MinTypMax(min=0.0842, typ=0.0842, max=0.0842)
    assert trunk.capacitance == catalogue.cable("generic.24-awg-120-ohm").capacitance
    assert {segment.cable for segment in bus.segments} == {trunk}
    assert {segment.reference_conductor for segment in bus.segments} == {True}
    assert bus.distance("pump-house", "gauge-04") == 285.0
    assert bus.path("gate-01", "gate-03") == ("gate-01", "gate-01.tap", "gate-02.tap", "gate-03")
    gate = bus.node("gate-01")
    assert gate.barrier == Barrier(
        isolator=catalogue.isolator("generic.basic-2500-v"), supply=catalogue.isolated_supply("generic.half-watt")
    )
    assert gate.transceiver == Transceiver(name="quick", unit_load=0.125, driver_edge_time="10 ns")
    assert bus.node("gauge-04").transceiver == Transceiver(name="slow", unit_load=0.125)
    assert bus.node("pump-house").barrier == gate.barrier
    assert bus.node("gate-03").terminations == (Termination(name="end", resistance="120 ohm +/- 1 %"),)
    assert bus.policy is not None
    assert bus.policy.settings_of("canal.stub-too-long") == {"longest": "2 m"}
    assert bus.policy.waivers[0].until == datetime.date(2027, 3, 31)


@pytest.mark.parametrize("as_what", ["path", "text path", "bytes", "text", "slow stream", "crlf"])
def test_a_bus_is_read_from_paths_and_streams(as_what: str, tmp_path: Path) -> None:
    path = tmp_path / "canal.toml"
    path.write_bytes(CANAL.encode().replace(b"\n", b"\r\n") if as_what == "crlf" else CANAL.encode())

    class Slow(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            return super().read(min(size or 0, 10))

    sources: dict[str, Any] = {
        "path": path, "text path": str(path), "bytes": io.BytesIO(CANAL.encode()), "text": io.StringIO(CANAL),
        "slow stream": Slow(CANAL.encode()), "crlf": path,
    }  # fmt: skip
    assert load_bus(sources[as_what]) == load(CANAL)


def test_rows_out_of_order_make_the_same_trunk() -> None:
    mapping = mapping_of()
    mapping["bus"]["nodes"].reverse()
    bus = bus_from_mapping(mapping)
    assert bus.nodes[0].name == "gauge-04"
    assert set(bus.segments) == set(load(CANAL).segments)


def test_a_row_of_segments_without_length_changes_a_span_or_a_stub() -> None:
    rows = """segments = [
  { end = "pump-house", start = "gate-01.tap", cable = "generic.22-awg-120-ohm" },
  { start = "gate-01.tap", end = "gate-01", cable = { like = "trunk", velocity_factor = 0.7 }, reference_conductor = false },
"""
    bus = load(changed(("segments = [\n", rows)))
    span = bus.segment("pump-house", "gate-01.tap")
    assert (span.start, span.length, span.reference_conductor) == ("gate-01.tap", 180.0, True)
    assert span.cable == catalogue.cable("generic.22-awg-120-ohm")
    stub = bus.segment("gate-01", "gate-01.tap")
    assert stub.length == 0.4
    assert stub.reference_conductor is False
    assert stub.cable is not None
    assert stub.cable.name == "trunk, changed"
    assert stub.cable.velocity_factor == MinTypMax(min=0.7, typ=0.7, max=0.7)
    assert bus.segment("gate-02.tap", "gate-03").cable == load(CANAL).segment("gate-02.tap", "gate-03").cable


def test_a_zero_stub_and_a_place_before_zero_are_on_the_trunk() -> None:
    rows = [{"name": "weir", "at": "-5 m", "stub": "0 m"}, {"name": "lock", "at": 0}]
    bus = bus_from_mapping({"format": 1, "bus": {"nodes": rows}})
    assert bus == daisy_chain([Node(name="weir"), Node(name="lock")], spacing=5)


def test_nodes_without_a_place_may_stand_alone() -> None:
    bus = bus_from_mapping({"format": 1, "bus": {"nodes": [{"name": "weir"}, {"name": "lock"}]}})
    assert bus.segments == ()


def test_a_part_in_place_may_be_like_another() -> None:
    mapping = mapping_of()
    row = mapping["bus"]["nodes"][4]
    row["transceiver"] = {"like": "slow"}
    assert bus_from_mapping(mapping).node("gauge-04").transceiver == Transceiver(name="slow", unit_load=0.125)
    row["transceiver"] = {"like": "generic.eighth-load-250-kbit", "unit_load": 0.25}
    part = bus_from_mapping(mapping).node("gauge-04").transceiver
    generic = catalogue.transceiver("generic.eighth-load-250-kbit")
    assert part == attrs.evolve(generic, name="generic.eighth-load-250-kbit, changed", unit_load=0.25)
    row["transceiver"] = {"like": "generic.eighth-load-250-kbit", "name": "old stock"}
    assert bus_from_mapping(mapping).node("gauge-04").transceiver == attrs.evolve(generic, name="old stock")
    row["barrier"] = {"like": "gate", "supply": "generic.one-watt"}
    barrier = bus_from_mapping(mapping).node("gauge-04").barrier
    assert barrier == Barrier(
        isolator=catalogue.isolator("generic.basic-2500-v"), supply=catalogue.isolated_supply("generic.one-watt")
    )
    row["terminations"] = [{"like": "end", "engaged": False}, {"resistance": "100 ohm"}]
    assert [each.name for each in bus_from_mapping(mapping).node("gauge-04").terminations] == ["end, changed", ""]


def test_the_keys_of_a_row_win_over_its_template() -> None:
    mapping = mapping_of()
    row = mapping["bus"]["nodes"][0]
    row["terminations"] = []
    row["common"] = {"resistance": 5}
    node = bus_from_mapping(mapping).node("pump-house")
    assert node.terminations == ()
    assert node.common is not None
    assert node.common.bonded is None
    assert len(node.biases) == 1


def test_a_part_keeps_a_name_of_its_own_where_it_states_one() -> None:
    mapping = mapping_of()
    mapping["parts"]["cables"]["trunk"]["name"] = "trunk of 1998"
    mapping["parts"]["cables"]["spare"] = {"like": "trunk"}
    mapping["bus"]["segments"][0]["cable"] = "spare"
    bus = bus_from_mapping(mapping)
    names = {segment.cable.name for segment in bus.segments if segment.cable}
    assert names == {"trunk of 1998", "spare"}


def test_dates_are_read_as_iso_text_too() -> None:
    mapping = mapping_of()
    mapping["bus"]["policy"]["waivers"][0]["until"] = "2027-03-31"
    assert bus_from_mapping(mapping) == load(CANAL)


def test_reading_leaves_the_mapping_as_it_was() -> None:
    mapping = mapping_of()
    before = copy.deepcopy(mapping)
    bus_from_mapping(mapping)
    assert mapping == before


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_every_example_reads_and_survives_a_round_trip(path: Path, tmp_path: Path) -> None:
    bus = load_bus(path)
    save_bus(bus, tmp_path / "again.toml")
    assert load_bus(tmp_path / "again.toml") == bus


# --- writing ---------------------------------------------------------------------------------------------


def two(**fields: Any) -> Bus:
    return Bus(nodes=[Node(name="weir", **fields), Node(name="lock", **fields)])


@pytest.mark.parametrize("bus", [None, 5, "bus", {"format": 1}, Node(name="weir")])
def test_only_a_bus_is_written(bus: Any, tmp_path: Path) -> None:
    only(refused(lambda: save_bus(bus, tmp_path / "bus.toml")), "", "a Bus")
    only(refused(lambda: bus_to_mapping(bus)), "", "a Bus")
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("kept")
    for path in (tmp_path, tmp_path / "none" / "bus.toml", tmp_path / "file" / "bus.toml", "a\0b"):
        error = refused(lambda path=path: save_bus(two(), path))
        assert error.source == str(path)
        assert "cannot be written" in str(error)
    only(refused(lambda: save_bus(two(), 5)), "", "the path of a file")  # type: ignore[arg-type]
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_a_bus_too_large_to_be_read_back_is_not_written(tmp_path: Path) -> None:
    bus = Bus(nodes=[Node(name=f"gate-{number}", powered=False) for number in range(40_000)])
    path = tmp_path / "bus.toml"
    path.write_text("kept")
    only(refused(lambda: save_bus(bus, path)), "", "at most 1000000 bytes")
    assert path.read_text() == "kept"


def test_an_old_file_stays_whole_when_writing_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "bus.toml"
    path.write_text("kept")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    assert "No space left" in str(refused(lambda: save_bus(two(), path)))
    assert path.read_text() == "kept"
    assert [each.name for each in tmp_path.iterdir()] == ["bus.toml"]


def test_a_file_that_is_replaced_keeps_its_permissions_and_its_link(tmp_path: Path) -> None:
    path, link = tmp_path / "bus.toml", tmp_path / "link.toml"
    path.write_text("old")
    path.chmod(0o640)
    link.symlink_to(path)
    save_bus(two(), link)
    assert link.is_symlink()
    assert load_bus(path) == two()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_rows_are_written_one_a_line_and_parts_by_name(tmp_path: Path) -> None:
    path = tmp_path / "bus.toml"
    save_bus(load(CANAL), path)
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "format = 1"
    assert '  { name = "gate-01.tap" },' in lines
    assert sum(line.startswith("  { start = ") for line in lines) == 6
    assert "[parts.cables.trunk]" in lines
    assert 'conductor_resistance = "84.2 ohm/km"' in lines
    assert "[parts.isolators.generic-basic-2500-v]" in lines
    assert 'name = "generic.basic-2500-v"' in lines
    assert "[parts.barriers.barrier]" in lines
    assert not any("like" in line or "use =" in line or " at =" in line for line in lines)
    assert load_bus(path) == load(CANAL)


def parts_of(bus: Bus) -> dict[str, Any]:
    found: dict[str, Any] = bus_to_mapping(bus).get("parts", {})
    return found


def test_parts_of_one_name_keep_it_under_keys_of_their_own() -> None:
    segments = [
        Segment(start="weir", end="lock", length=1, cable=Cable(name="pair", velocity_factor=0.6)),
        Segment(start="lock", end="sluice", length=1, cable=Cable(name="pair", velocity_factor=0.7)),
        Segment(start="sluice", end="mouth", length=1, cable=Cable(name="pair-2")),
        Segment(start="mouth", end="gauge", length=1, cable=Cable(name="a.b")),
    ]
    bus = Bus(nodes=[Node(name=name) for name in ("weir", "lock", "sluice", "mouth", "gauge")], segments=segments)
    assert parts_of(bus)["cables"] == {
        "pair": {"velocity_factor": 0.6},
        "pair-2": {"name": "pair", "velocity_factor": 0.7},
        "pair-2-2": {"name": "pair-2"},
        "a-b": {"name": "a.b"},
    }
    assert bus_from_mapping(bus_to_mapping(bus)) == bus


def test_unnamed_parts_stand_in_place_unless_they_are_shared() -> None:
    end, other = Termination(resistance=120), Termination(resistance=100)
    alone = Bus(nodes=[Node(name="weir", terminations=end), Node(name="lock", terminations=other)])
    assert parts_of(alone) == {}
    assert parts_of(two(terminations=[end, other])) == {
        "terminations": {
            "termination": {"name": "", "resistance": "120 ohm"},
            "termination-2": {"name": "", "resistance": "100 ohm"},
        }
    }
    barrier = Barrier(isolator=Isolator(name="part"))
    assert parts_of(two(barrier=barrier)) == {
        "isolators": {"part": {}},
        "barriers": {"barrier": {"isolator": "part"}},
    }
    for bus in (alone, two(terminations=[end, other]), two(barrier=barrier), two(barrier=Barrier())):
        assert bus_from_mapping(bus_to_mapping(bus)) == bus


ODD = [
    "a\"b'c",
    "a\\b",
    "ünï 漢字 🌊",
    "a # b",
    "[x] = {y}",
    "'''",
    '"""',
    "\u200bx".strip("\u200b") + "é",
    "true",
    "1979-05-27",
    "-",
    "x" * 100,
]


@pytest.mark.parametrize("name", ODD)
def test_odd_names_survive(name: str, tmp_path: Path) -> None:
    part = Transceiver(name=name)
    policy = Policy(
        select=[name],
        settings={name: {name: name, "flag": True, "number": -3, "figure": 1e-300}},
        waivers=[
            Waiver(rule=name, reason=f"{name}\n\tsecond line", paths=[(name, name)], until=datetime.date(1, 1, 1))
        ],
    )
    bus = Bus(name=name, nodes=[Node(name=name, transceiver=part)], link=Link(controller=name), policy=policy)
    path = tmp_path / "bus.toml"
    save_bus(bus, path)
    assert load_bus(path) == bus


def test_rows_too_long_for_a_line_are_broken_within_their_lists(tmp_path: Path) -> None:
    ends = [Termination(name=f"{'x' * 95}{number}", resistance=100 + number) for number in range(60)]
    names = [f"{'y' * 90}{number}" for number in range(80)]
    waiver = Waiver(rule="a", reason='"' * 1000, nodes=names, segments=[(name, name) for name in names])
    bus = Bus(
        nodes=[Node(name="weir", terminations=ends, biases=[Bias(pull_up=100 + each) for each in range(90)])],
        policy=Policy(select=names, waivers=waiver),
    )
    path = tmp_path / "bus.toml"
    save_bus(bus, path)
    assert max(map(len, path.read_text(encoding="utf-8").split("\n"))) <= 4000
    assert load_bus(path) == bus


def test_empty_objects_survive() -> None:
    bus = Bus(nodes=[Node(name="weir", barrier=Barrier())], link=Link(), policy=Policy(settings={"a": {}}))
    assert bus_from_mapping(bus_to_mapping(bus)) == bus


def test_the_mapping_holds_plain_values_only() -> None:
    def check(value: object) -> None:
        if isinstance(value, dict):
            for key, item in value.items():
                assert type(key) is str
                check(item)
        elif isinstance(value, list):
            for item in value:
                check(item)
        else:
            assert type(value) in (str, int, float, bool, datetime.date)

    check(bus_to_mapping(load(CANAL)))


def test_a_saved_file_does_not_lean_on_the_catalogue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bus = load(CANAL)
    path = tmp_path / "bus.toml"
    save_bus(bus, path)

    def gone(*_: object) -> object:
        raise AssertionError("the catalogue was asked")

    monkeypatch.setattr(catalogue, "part", gone)
    monkeypatch.setattr(catalogue, "table", gone)
    assert digest(load_bus(path)) == digest(bus)


def test_every_kind_of_part_survives() -> None:
    node = Node(
        name="weir",
        barrier=Barrier(supply=IsolatedSupply(name="brick", output_power="0.5 W")),
        protectors=[Protector(name="arrester", ends="line-common", leakage="1 uA")],
        biases=Bias(name="bias", pull_up="510 ohm +/- 5 %"),
    )
    bus = Bus(nodes=[node])
    assert list(parts_of(bus)) == ["isolated_supplies", "protectors", "biases"]
    assert bus_from_mapping(bus_to_mapping(bus)) == bus


# --- the schema ------------------------------------------------------------------------------------------


def plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


VALIDATOR = jsonschema.Draft202012Validator(schema())


def test_the_schema_is_a_schema_and_describes_itself() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    text = schema()
    assert text["properties"]["bus"]["properties"]["nodes"]["items"]["properties"]["stub"]["description"]
    for name in ("Transceiver", "Barrier", "Policy", "Waiver", "CommonLink"):
        table = text["$defs"][name]
        table = table["anyOf"][1] if "anyOf" in table else table
        missing = [key for key, value in table["properties"].items() if "description" not in value]
        assert missing == [], name


@pytest.mark.parametrize("old", ["", 'transceiver = "slow"', 'transceiver = "quick"', 'name = "upper reach"'])
def test_good_files_fit_the_schema(old: str) -> None:
    VALIDATOR.validate(plain(mapping_of(changed((old, "")) if old == 'name = "upper reach"' else CANAL)))
    VALIDATOR.validate(plain(bus_to_mapping(load(CANAL))))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_the_examples_fit_the_schema(path: Path) -> None:
    VALIDATOR.validate(plain(tomllib.loads(path.read_text(encoding="utf-8"))))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("format = 1", "format = 2"),
        ("format = 1", ""),
        ("format = 1", "format = 1\nbuss = 1"),
        ('at = "180 m"', 'att = "180 m"'),
        ('at = "180 m"', 'at = "1,5 m"'),
        ('at = "180 m"', 'at = "1 000 m"'),
        ('at = "180 m"', 'at = "m**9**9"'),
        ('at = "180 m"', "at = true"),
        ('at = "180 m", ', ""),
        ('length = "60 m"', 'length = "60 m +/- 1 %"'),
        ('"120 ohm +/- 1 %"', '"120 ohm +/- 1"'),
        ('"120 ohm +/- 1 %"', "{}"),
        ('"120 ohm +/- 1 %"', "{ minimum = 3 }"),
        ('resistance = "120 ohm +/- 1 %"', ""),
        ('resistance = "0 ohm"', 'resistances = "0 ohm"'),
        ("bonded = false", 'bonded = "no"'),
        ('start = "gate-02.tap", ', ""),
        ('{ name = "pump-house" }, ', "{ }, "),
        ("[defaults.segment]", "[defaults.segments]"),
        ("reference_conductor = true", "length = '3 m'"),
        ("[parts.transceivers.slow]", "[parts.transceiver.slow]"),
        ("[parts.terminations.end]", '[parts.terminations."the.end"]'),
        ('transceiver = "quick"', 'name = "quick"'),
        ('transceiver = "slow"', "transceiver = { unit_load = 1 }"),
        ('nodes = ["gauge-04"], reason', "nodes = [5], reason"),
        ('reason = "rock", ', ""),
        ("longest = ", "longest.most = "),
    ],
)
def test_files_that_are_refused_do_not_fit_the_schema(old: str, new: str) -> None:
    text = changed((old, new))
    refused_text(text)
    assert not VALIDATOR.is_valid(plain(mapping_of(text)))
