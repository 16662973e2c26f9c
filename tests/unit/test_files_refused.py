"""Bus files: hostile and wrong ones are refused, with file, place, value and what is allowed."""

import datetime
import io
import tomllib
from pathlib import Path
from typing import Any

import pytest

from canal_files import (
    CANAL,
    changed,
    load,
    mapping_of,
    only,
    refused,
    refused_text,
)
from rs485kit.files import bus_from_mapping, load_bus
from rs485kit.files.judgement import load_policy

# --- what is no readable file ----------------------------------------------------------------------------


def test_what_cannot_be_opened_is_named(tmp_path: Path) -> None:
    missing = tmp_path / "no such.toml"
    for path in (missing, str(missing), tmp_path, missing / "deeper", "", "a\0b", "x" * 5000):
        error = refused(lambda path=path: load_bus(path))
        assert error.source == str(path)
        assert "cannot be read" in str(error)


@pytest.mark.parametrize("source", [None, 5, 1.5, ["bus.toml"], {"format": 1}, object()])
def test_what_is_neither_path_nor_stream_is_refused(source: Any) -> None:
    only(refused(lambda: load_bus(source)), "", "the path of a file, or an open stream")


def test_a_stream_that_gives_no_text_is_refused() -> None:
    class Numbers:
        name = "numbers"

        def read(self, size: int) -> int:
            return 7

    only(refused(lambda: load_bus(Numbers())), "", "a stream of text or bytes", "numbers")  # type: ignore[arg-type]


def test_a_file_larger_than_allowed_is_refused_before_it_is_read_whole() -> None:
    class Endless(io.RawIOBase):
        read_so_far = 0

        def read(self, size: int = -1) -> bytes:
            assert size >= 0
            self.read_so_far += size
            return b"#" * size

    stream = Endless()
    only(refused(lambda: load_bus(stream)), "", "more than 1000000 bytes")
    assert stream.read_so_far < 1_100_000


def test_a_file_of_ten_megabytes_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"# nothing\n" * 1_000_000)
    error = refused(lambda: load_bus(path))
    assert error.source == str(path)
    only(error, "", "more than 1000000 bytes", "at most 1000000 bytes")


@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"])
def test_a_byte_order_mark_is_refused(mark: bytes) -> None:
    only(refused_text(mark + CANAL.encode()), "", "byte-order mark", "line 1")
    only(refused_text("\ufeff" + CANAL), "", "byte-order mark")


def test_text_in_another_code_is_refused_with_line_and_column() -> None:
    content = changed(("upper reach", "obere Strömung")).encode("latin-1")
    only(refused_text(content), "", "line 4", "0xf6", "number 18 of the line", "UTF-8")


def test_a_text_stream_in_the_wrong_code_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bus.toml"
    path.write_bytes(b"name = '\xff'")
    with path.open(encoding="utf-8") as stream:
        only(refused(lambda: load_bus(stream)), "", "not UTF-8")
    with path.open(encoding="utf-8", errors="surrogateescape") as stream:
        only(refused(lambda: load_bus(stream)), "", "UTF-8")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (CANAL + "x = " + "[" * 1900 + "]" * 1899, "more than 16 brackets"),
        (CANAL + "x = " + "[\n" * 100_000, "more than 16 brackets"),
        (CANAL + "x = " + "{a=" * 900 + "1" + "}" * 900, "more than 16 brackets"),
        (CANAL + ".".join("a" * 20_000) + " = 1", "at most 4000"),
        (CANAL + ".".join("a" * 1_900) + " = 1", "a dotted key of more than 8 parts"),
        (CANAL + "[" + ".".join("a" * 1_900) + "]", "a dotted key of more than 8 parts"),
        (CANAL + "x = { " + " . ".join(['"a"'] * 9) + " = 1 }", "a dotted key of more than 8 parts"),
        (CANAL + "x = " + "9" * 5000, "at most 4000"),
        (CANAL + "#" + " " * 5000, "at most 4000"),
        (CANAL + 'x = "' + '\\"' * 1900 + "\n" + ('\\"' * 1900 + "\n") * 200, "no TOML"),
        (CANAL + '"""' * 1300, "no TOML"),
        (CANAL + "x = '''" + "''\n" * 200_000, "no TOML"),
        (CANAL + 'x = """' + "\\\n" * 300_000, "no TOML"),
        (CANAL + "x = \0", "no TOML"),
        (CANAL + "x = '\0'", "no TOML"),
        (CANAL + "# \0", "no TOML"),
        (CANAL + "x = 1\ry = 2", "no TOML"),
        (CANAL + "x = 1 2", "no TOML"),
        (CANAL + "x = 2027-02-30", "no TOML"),
        (CANAL + 'x = "\\ud800"', "no TOML"),
        (CANAL + "[bus]", "no TOML"),
        (CANAL + "]" * 3000, "no TOML"),
        ("\0" * 1000, "no TOML"),
        ("{}", "no TOML"),
        ("<bus/>", "no TOML"),
    ],
)  # fmt: skip
def test_what_would_break_or_stall_the_parser_is_refused(text: str, said: str) -> None:
    error = refused_text(text)
    only(error, "", said, "stream: ")
    assert error.problems[0].line is not None
    assert error.problems[0].line <= text.count("\n") + 1


def test_the_line_of_a_slip_of_syntax_is_told() -> None:
    only(refused_text(changed(('name = "upper reach"', "name = upper reach"))), "", "line 4", "no TOML")


@pytest.mark.parametrize(
    "written",
    [
        '"{}"',
        r'"\"{}\\"',
        "'{}'",
        '"""\n{}"" \\""""""',
        "'''{}'''''",
        "'nothing' # {} '''",
        '"nothing" # {} """',
    ],
)
def test_brackets_dots_and_quotes_in_strings_and_comments_count_for_nothing(written: str) -> None:
    inside = "[{" * 40 + "a.b.c.d.e.f.g.h.i.j " * 20
    line = f"reason = {written.format(inside)}"
    head = "format = 1\nbus.nodes = [{ name = 'weir' }]\n[[bus.policy.waivers]]\nrule = 'a'\nbus = true\n"
    policy = load(head + line).policy
    assert policy is not None
    assert policy.waivers[0].reason == tomllib.loads(line)["reason"]
    text = f"{head}{line}\nuntil = 5"
    lines = {problem.place: problem.line for problem in refused_text(text).problems}
    assert lines == {"bus.policy.waivers[0].until": text.count("\n") + 1}


# --- what is no bus --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "given"),
    [
        ("", "nothing"), ("# only a comment", "nothing"), ("[bus]\nname = 'x'", "nothing"), ("format = 2", "2"),
        ("format = 0", "0"), ("format = 1.0", "1.0"), ("format = true", "True"), ("format = '1'", "'1'"),
        ("format = nan", "nan"), ("format = [1]", "[1]"), ("format = 0x" + "f" * 3900, "a value of type int"),
        ("format = " + "9" * 3900, "999999"), ("format = 2027-03-31", "date"),
    ],
)  # fmt: skip
def test_a_file_of_another_format_is_refused(text: str, given: str) -> None:
    only(refused_text(text), "format", given, "format = 1")


@pytest.mark.parametrize("mapping", [None, 5, "format = 1", [], [("format", 1)]])
def test_what_is_no_mapping_is_refused(mapping: Any) -> None:
    only(refused(lambda: bus_from_mapping(mapping, source="the register")), "", "the register", "a mapping")


@pytest.mark.parametrize("key", ["bus", "defaults", "parts"])
@pytest.mark.parametrize("value", [5, "x", [], [1], 1.5, datetime.date(2027, 3, 31), True])
def test_a_value_in_place_of_a_table_is_refused(key: str, value: object) -> None:
    error = refused(lambda: bus_from_mapping({**mapping_of(), key: value}))
    assert key in {problem.place for problem in error.problems}


@pytest.mark.parametrize("key", ["earths", "nodes", "segments"])
@pytest.mark.parametrize("value", [5, "gate", {}, {"name": "weir"}, None, True, [5], ["weir"], [[]], [None]])
def test_a_value_in_place_of_a_list_of_tables_is_refused(key: str, value: object) -> None:
    mapping = mapping_of()
    mapping["bus"][key] = value
    error = refused(lambda: bus_from_mapping(mapping))
    assert any(problem.place.startswith(f"bus.{key}") for problem in error.problems)


@pytest.mark.parametrize("value", [5, "trunk", ["trunk"], True, 1.5])
@pytest.mark.parametrize("group", ["transceivers", "cables", "terminations", "barriers", "nodes"])
def test_a_value_in_place_of_parts_is_refused(group: str, value: object) -> None:
    mapping = mapping_of()
    mapping["parts"][group] = value
    assert f"parts.{group}" in {problem.place for problem in refused(lambda: bus_from_mapping(mapping)).problems}
    mapping["parts"][group] = {"piece": value}
    only(refused(lambda: bus_from_mapping(mapping_with_part(group, value))), f'parts.{group}["piece"]', "a table")


def mapping_with_part(group: str, value: object) -> dict[str, Any]:
    mapping = mapping_of()
    mapping["parts"].setdefault(group, {})["piece"] = value
    return mapping


@pytest.mark.parametrize("text", ["format = 1", "format = 1\n[bus]", "format = 1\n[bus]\nnodes = []"])
def test_a_bus_without_nodes_is_refused(text: str) -> None:
    assert len(refused_text(text).problems) == 1


HOSTILE_LENGTHS = [
    "9**9**9 m", "m**9**9**9", "3 m**9**9**9", "1,5 m", "1 000 m", "1_000 m", "１２ m", "١٢ m", "nan", "inf", "nan m",
    "-inf m", "1e999 m", "1e-999 m", "1e9999 m", "0x10 m", "12", "12m", "12  m", " 12 m", "12 m ", "12\u00a0m", "12 M", "12 metres",
    "m", "", "--12 m", "1.2.3 m", "12 m\n", "12 ohm", "12 m/s", "12 m*m", "12 m^2", "12 m +/- 1 %", "__import__('os')",
    "1/0 m", "(12) m", "12 m" + "*m" * 40, "9" * 3000 + " m", "\u202e12 m", "12 km/h",
]  # fmt: skip


@pytest.mark.parametrize("given", HOSTILE_LENGTHS)
@pytest.mark.parametrize("key", ["at", "stub", "length"])
def test_a_length_that_is_none_is_refused_at_once(given: str, key: str) -> None:
    mapping = mapping_of()
    row = mapping["bus"]["segments"][0] if key == "length" else mapping["bus"]["nodes"][1]
    row[key] = given
    place = "bus.segments[0].length" if key == "length" else f'bus.nodes["gate-01"].{key}'
    only(refused(lambda: bus_from_mapping(mapping, source="canal")), place, "canal: ", '"1.2 km"')


@pytest.mark.parametrize(
    "given", ["nan", "inf", "-inf", "+nan", "true", "[]", "{}", "[1, 2, 3]", "1e400", "0x" + "f" * 3900, "9" * 3900]
)
def test_a_toml_value_that_is_no_length_is_refused(given: str) -> None:
    error = refused_text(changed(('"60 m"', given)))
    assert [problem.place for problem in error.problems] == ["bus.segments[0].length"]
    assert error.problems[0].line == 14


@pytest.mark.parametrize("given", ["9600 Hz", "9600 rpm", "9600 Bq", "9600 1/s", "9600 bit", "9600 baud", "9600 bps"])
def test_a_data_rate_is_in_bits_per_second(given: str) -> None:
    error = refused_text(changed(("115.2 kbit/s", given)))
    only(error, "bus.link.data_rate", "115.2 kbit/s", given)
    assert error.problems[0].line == 16


@pytest.mark.parametrize(
    ("old", "new", "place", "line", "said"),
    [
        ('at = "180 m"', 'att = "180 m"', 'bus.nodes["gate-01"].att', 8, 'did you mean "at"?'),
        ("format = 1", "format = 1\nbuss = 1", "buss", 3, 'did you mean "bus"?'),
        ('name = "upper reach"', 'nam = "upper reach"', "bus.nam", 4, 'did you mean "name"?'),
        ("[defaults.segment]", "[defaults.segments]", "defaults.segments", 21, 'did you mean "segment"?'),
        ("reference_conductor = true", "reference = true", "defaults.segment.reference", 23, "one of start"),
        ("reference_conductor = true", "length = '3 m'", "defaults.segment.length", 23, "in common"),
        ("[parts.transceivers.quick]", "[parts.transceiver.quick]", "parts.transceiver", 26, 'did you mean "transceivers"?'),
        ("unit_load = 0.125", "unit_loads = 0.125", 'parts.transceivers["slow"].unit_loads', 25, 'did you mean "unit_load"?'),
        ("unit_load = 0.125", "unit_load = 40", 'parts.transceivers["slow"].unit_load', 25, "at most 32"),
        ('"84.2 ohm/km"', '"84.2 ohm"', 'parts.cables["trunk"].conductor_resistance', 31, "not convertible"),
        ("generic.24-awg-120-ohm", "generic.24-awg-120", 'parts.cables["trunk"].like', 30, 'did you mean "generic.24-awg-120-ohm'),
        ("generic.24-awg-120-ohm", "canal.trunk", 'parts.cables["trunk"].like', 30, "canal.trunk"),
        ('like = "slow"', 'like = "slo"', 'parts.transceivers["quick"].like', 27, 'did you mean "slow"?'),
        ('like = "slow"', "like = 5", 'parts.transceivers["quick"].like', 27, "the name of a part"),
        ('like = "slow"', "like = ['slow']", 'parts.transceivers["quick"].like', 27, "the name of a part"),
        ("generic.basic-2500-v", "generic.half-watt", 'parts.barriers["gate"].isolator', 35, "another kind"),
        ('like = "gate"', 'like = "generic.gate"', 'parts.nodes["controller"].like', 42, "[parts.nodes]"),
        ('transceiver = "quick"', 'transceiver = "quik"', 'parts.nodes["gate"].transceiver', 38, 'did you mean "quick"?'),
        ('transceiver = "quick"', 'name = "quick"', 'parts.nodes["gate"].name', 38, "the row that uses it"),
        ('transceiver = "quick"', 'at = "3 m"', 'parts.nodes["gate"].at', 38, "an unknown key"),
        ('barrier = "gate"', "barrier = 5", 'parts.nodes["gate"].barrier', 39, "a table with the fields of a Barrier"),
        ('use = "gate", stub', 'use = "gat", stub', 'bus.nodes["gate-01"].use', 8, 'did you mean "gate"?'),
        ('use = "gate", stub', 'use = 5, stub', 'bus.nodes["gate-01"].use', 8, "a template"),
        ('use = "gate", stub', 'use = "generic.gate", stub', 'bus.nodes["gate-01"].use', 8, "[parts.nodes]"),
        ('earth = "bank"', 'earth = "bnak"', 'bus.nodes["gate-01"].earth', 8, "did you mean bank?"),
        ('controller = "pump-house" }', 'controller = "pump-hose" }', "bus.link.controller", 16, "did you mean pump-house"),
        ('start = "gate-02.tap"', 'start = "gate-02.tip"', "bus.segments[0].start", 14, "did you mean gate-02.tap"),
        ('terminations = "end" }', 'terminations = "and" }', 'bus.nodes["gate-03"].terminations', 10, 'did you mean "end"?'),
        ('terminations = "end" }', 'terminations = ["end", "and"] }', 'bus.nodes["gate-03"].terminations[1]', 10, "[parts.terminations]"),
        ('terminations = "end" }', 'terminations = "generic.end" }', 'bus.nodes["gate-03"].terminations', 10, "[parts.terminations]"),
        ('terminations = "end" }', 'terminations = 5 }', 'bus.nodes["gate-03"].terminations', 10, "a list of tables"),
        ('terminations = "end" }', 'common = "end" }', 'bus.nodes["gate-03"].common', 10, "a table with the fields of CommonLink"),
        ('transceiver = "slow"', 'transceiver = { unit_load = 1 }', 'bus.nodes["gauge-04"].transceiver.name', 11, "required"),
        ('transceiver = "slow"', 'transceiver = { like = "slo" }', 'bus.nodes["gauge-04"].transceiver.like', 11, 'did you mean "slow"?'),
        ('transceiver = "slow"', 'transceiver = { like = 5 }', 'bus.nodes["gauge-04"].transceiver.like', 11, "the name of a part"),
        ('transceiver = "slow"', 'transceiver = { like = "slow", unit_loads = 1 }', 'bus.nodes["gauge-04"].transceiver.unit_loads', 11, "unit_load"),
        ('transceiver = "slow"', 'transceiver = ["slow"]', 'bus.nodes["gauge-04"].transceiver', 11, "a Transceiver"),
        ('name = "gauge-04"', 'name = "gate-03"', 'bus.nodes["gate-03"]', None, "the name twice"),
        ('name = "bank"', 'name = "pump-house"', 'bus.earths["pump-house"]', None, "the name twice"),
        ('name = "gauge-04", use', 'name = "gauge-04", stub = "1 m", use', 'bus.nodes["gauge-04"].stub', 11, "`at` beside it"),
        ('name = "gauge-04"', 'name = "gate-09.tap"', 'bus.nodes["gate-09.tap"].name', 11, "kept for passive places"),
        ('at = "225 m"', 'at = "180 m"', 'bus.nodes["gate-02"].at', 9, '180 m, the place of "gate-01"'),
        ('at = "225 m"', 'at = "180.0001 m"', 'bus.nodes["gate-02"].at', 9, 'beyond "gate-01"'),
        ('stub = "0.4 m"', 'stub = "-0.4 m"', 'bus.nodes["gate-01"].stub', 8, "at least 0.001"),
        ('stub = "0.4 m"', 'stub = "400 km"', 'bus.nodes["gate-01"].stub', 8, "at most 100000 m"),
        (', length = "60 m"', "", "bus.segments[0].length", 14, "goes without"),
        ('end = "gauge-04", length', 'end = "gate-02", length', "bus.segments[0].length", 14, "follows from `at` and `stub`"),
        ('end = "gauge-04", length', 'end = 5, length', "bus.segments[0].end", 14, "wanted text"),
        ('length = "60 m"', 'length = "60 m", use = 1', "bus.segments[0].use", 14, "an unknown key"),
        ('resistance = "120 ohm +/- 1 %"', 'resistance = "120 ohm +/- -1 %"', 'parts.terminations["end"].resistance', 33, "not negative"),
        ('resistance = "120 ohm +/- 1 %"', "", 'parts.terminations["end"].resistance', 32, "required"),
        ("until = 2027-03-31", 'until = "soon"', "bus.policy.waivers[0].until", 20, "2027-03-31"),
        ("until = 2027-03-31", "untill = 2027-03-31", "bus.policy.waivers[0].untill", 20, 'did you mean "until"?'),
        ("longest = ", "longest.most = ", 'bus.policy.settings["canal.stub-too-long"].longest', 19, "text with a unit"),
        ("[parts.terminations.end]", '[parts.terminations."the.end"]', 'parts.terminations["the.end"]', 32, "without a dot"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_place_its_line_and_a_cure(
    old: str, new: str, place: str, line: int | None, said: str
) -> None:
    error = refused_text(changed((old, new)))
    problem = next((each for each in error.problems if each.place == place), None)
    assert problem is not None, str(error)
    assert problem.line == line
    assert said in str(problem)


def test_all_errors_of_a_file_are_shown_together_in_the_order_of_their_lines() -> None:
    error = refused_text(
        changed(('stub = "0.4 m"', 'stub = "0,4 m"'), ('earth = "bank", term', 'earth = "bnak", term'), ("8N1", "8N9"),
                ("unit_load = 0.125", "unit_load = 'few'"), ('"84.2 ohm/km"', '"84,2 ohm/km"'))
    )  # fmt: skip
    assert [(problem.place, problem.line) for problem in error.problems] == [
        ('bus.nodes["gate-01"].stub', 8),
        ('bus.nodes["gate-03"].earth', 10),
        ("bus.link.frame", 16),
        ('parts.transceivers["slow"].unit_load', 25),
        ('parts.cables["trunk"].conductor_resistance', 31),
    ]
    assert str(error).startswith("stream: 5 problems\n")


def test_a_faulty_part_is_told_once_however_often_it_is_used() -> None:
    only(refused_text(changed(('"120 ohm +/- 1 %"', '"120 m"'))), 'parts.terminations["end"].resistance')
    only(refused_text(changed(("bonded = false", 'bonded = "no"'))), 'parts.nodes["gate"].common.bonded')


def test_a_faulty_base_does_not_hide_what_is_wrong_with_what_is_like_it() -> None:
    error = refused_text(changed(("unit_load = 0.125", "unit_load = 40"), ('"10 ns"', '"10 m"')))
    assert {problem.place for problem in error.problems} == {
        'parts.transceivers["slow"].unit_load', 'parts.transceivers["quick"].driver_edge_time',
    }  # fmt: skip


def test_a_faulty_row_does_not_make_references_to_it_wrong() -> None:
    error = refused_text(changed(('{ name = "gate-02", at', '{ name = "gate-02", drives = 5, at')))
    only(error, 'bus.nodes["gate-02"].drives')
    only(refused_text(changed(('name = "bank", pot', 'name = "bank", plot = 1, pot'))), 'bus.earths["bank"].plot')


@pytest.mark.parametrize(
    ("links", "shown"),
    [
        ({"a": "a"}, '"a" -> "a"'),
        ({"a": "b", "b": "a"}, '"a" -> "b" -> "a"'),
        ({"x": "c", "c": "b", "b": "a", "a": "c"}, '"a" -> "c" -> "b" -> "a"'),
    ],
)
@pytest.mark.parametrize("group", ["cables", "terminations", "barriers", "nodes"])
def test_parts_like_one_another_in_a_circle_are_refused(group: str, links: dict[str, str], shown: str) -> None:
    mapping = {"format": 1, "bus": {"nodes": [{"name": "weir"}]}}
    mapping["parts"] = {group: {name: {"like": other} for name, other in links.items()}}
    only(refused(lambda: bus_from_mapping(mapping)), f'parts.{group}["a"].like', shown)


def test_a_long_chain_of_likeness_is_refused() -> None:
    parts = {f"c{number}": {"like": f"c{number + 1}"} for number in range(5000)}
    mapping = {"format": 1, "bus": {"nodes": [{"name": "weir"}]}, "parts": {"cables": {**parts, "c5000": {}}}}
    assert "at most 16" in str(refused(lambda: bus_from_mapping(mapping)))


@pytest.mark.parametrize("name", ["", " trunk", "trunk ", "generic.trunk", "x" * 101, 5, None, ("a", "b")])
def test_a_part_bears_a_plain_name(name: Any) -> None:
    mapping = mapping_of()
    mapping["parts"]["cables"][name] = {}
    place = f'parts.cables["{name[:100]}{"..." * (len(name) > 100)}"]' if isinstance(name, str) else "parts.cables"
    only(refused(lambda: bus_from_mapping(mapping)), place, "without a dot")


def test_a_name_too_long_for_its_tap_is_refused() -> None:
    rows = [{"name": "x" * 97, "at": 0, "stub": 1}, {"name": "y" * 96, "at": 9, "stub": 1}]
    error = refused(lambda: bus_from_mapping({"format": 1, "bus": {"nodes": rows}}))
    only(error, f'bus.nodes["{"x" * 97}"].stub', "within 100 characters")


def test_a_tap_has_no_stub_of_its_own() -> None:
    rows = [{"name": "weir.tap", "at": 0, "stub": 1}]
    only(refused(lambda: bus_from_mapping({"format": 1, "bus": {"nodes": rows}})), 'bus.nodes["weir.tap"].stub')


def test_a_stub_and_a_row_for_its_tap_exclude_one_another() -> None:
    rows = [{"name": "weir", "at": 0, "stub": 1}, {"name": "weir.tap"}]
    only(refused(lambda: bus_from_mapping({"format": 1, "bus": {"nodes": rows}})), 'bus.nodes["weir.tap"]', "twice")


def test_two_rows_for_one_span_are_refused() -> None:
    row = '{ start = "pump-house", end = "gate-01.tap", reference_conductor = false },\n'
    error = refused_text(changed(("segments = [\n", "segments = [\n" + row + row)))
    only(error, "bus.segments[1]", "a second row for one span", "bus.segments[0]")


def test_a_span_named_by_devices_instead_of_their_taps_is_explained() -> None:
    row = '{ start = "gate-01", end = "gate-02", reference_conductor = false },\n'
    error = refused_text(changed(("segments = [\n", "segments = [\n" + row)))
    only(error, "bus.segments[0].length", 'its ends are "gate-01.tap" and "gate-02.tap"')


def test_a_line_is_left_out_where_two_rows_share_a_name() -> None:
    text = changed(('name = "gate-02", at', 'name = "gate-01", drives = 5, at'))
    lines = {problem.place: problem.line for problem in refused_text(text).problems}
    assert lines['bus.nodes["gate-01"]'] is None
    assert lines['bus.nodes["gate-01"].drives'] == 9


def test_a_table_that_is_only_implied_lends_its_line_to_no_other_place() -> None:
    text = "format = 1\n[bus.policy]\nselect = 5\n[parts.cables.trunk]\n[foreign.table]\n"
    lines = {problem.place: problem.line for problem in refused_text(text).problems}
    assert lines == {"bus.policy.select": 3, "bus.nodes": None, "foreign": 5}


def test_lines_are_told_in_a_file_of_policy_too() -> None:
    text = "skip = 'idle'\n[settings.loading]\nreserve = [1]\n[[waivers]]\nrule = 'a'\n"
    error = refused(lambda: load_policy(io.StringIO(text)))
    lines = {problem.place: problem.line for problem in error.problems}
    assert lines['policy.settings["loading"].reserve'] == 3
    assert lines["policy.waivers[0].reason"] == 4


def test_lines_are_told_in_every_style_of_toml() -> None:
    text = """# a comment with [brackets] and "quotes"
format = 1
bus.name = '''one
two''' # comment
[[bus.nodes]]
"name" = "weir"
drives = 5
[[bus.nodes]]
name = 'lo\\ck'
[bus.nodes.common]
resistance = "x"
[bus . "link"]
'frame' = "8\\u004e9"
[parts.cables]
"a \\"b\\" c" . velocity_factor = { min = 0.1, # none
typ = 5 }
"""
    text = text.replace(", # none\ntyp", ", typ")
    lines = {problem.place: problem.line for problem in refused_text(text).problems}
    assert lines == {
        "bus.name": 3,
        'bus.nodes["weir"].drives': 7,
        'bus.nodes["lo\\ck"].common.resistance': 11,
        "bus.link.frame": 13,
        'parts.cables["a "b" c"].velocity_factor': 15,
    }


@pytest.mark.parametrize(
    "rows",
    [
        "{name='n@',earth='e@'},", "{name='n@',transceiver='q@'},", "{name='n@',use='q@'},", "{name='n@',stub=1},",
        "{name='n'},", "{nam='n@'},", "{name=1},", "{name='n@',at=1},", "{name='n@',at=@,stub=-1},",
    ],
)  # fmt: skip
def test_a_full_file_of_faulty_rows_is_refused_without_delay(rows: str) -> None:
    count = 300_000 // (len(rows) + 6)
    lines = "\n".join(rows.replace("@", str(number)) for number in range(count))
    refused_text(f"format = 1\nbus.nodes = [\n{lines}\n]")


@pytest.mark.parametrize(
    "line", ["k@ = 1", "[k@]", "[bus.k@]", "[parts.cables.c@]\nlike = 'd@'", "a.b.c.d.e.f.g.h@ = 1"]
)
def test_a_full_file_of_foreign_keys_is_refused_without_delay(line: str) -> None:
    count = 300_000 // (len(line) + 7)
    refused_text("format = 1\n" + "\n".join(line.replace("@", str(number)) for number in range(count)))


def test_a_full_file_of_dangling_segments_is_refused_without_delay() -> None:
    nodes = "\n".join(f"{{name='n{number}'}}," for number in range(15_000))
    segments = "\n".join(f"{{start='m{number}',end='k{number}',length=1}}," for number in range(12_000))
    error = refused_text(f"format = 1\nbus.nodes = [\n{nodes}\n]\nbus.segments = [\n{segments}\n]")
    assert len(error.problems) == 24_000
