"""The catalogue: look-up, what its data must say of itself, and the physics that its figures must obey."""

import math
import pickle
import re
from concurrent.futures import ThreadPoolExecutor

import attrs
import pytest

from rs485kit import catalogue
from rs485kit.catalogue._entries import KINDS, entries, entries_from_tables, parsed
from rs485kit.errors import InputError, UnknownNameError
from rs485kit.model import Bus, Cable, IsolatedSupply, Isolator, Protector, TimingProfile, Transceiver
from rs485kit.model.base import units_of
from rs485kit.tables import object_from_table
from rs485kit.units import MinTypMax, spread

LIGHT = 299_792_458.0
LOOK_UPS = {
    "transceivers": catalogue.transceiver,
    "cables": catalogue.cable,
    "isolators": catalogue.isolator,
    "isolated_supplies": catalogue.isolated_supply,
    "protectors": catalogue.protector,
    "timing_profiles": catalogue.timing_profile,
}
PARTS = [(kind, name) for kind in KINDS for name in catalogue.names(kind)]
CABLES = catalogue.names("cables")

# The documents and standards that a figure may be taken from: a new one is a decision, made here.
DOCUMENTS = (
    "EIA-485 limit, as printed in RS-422/485 Application Note (1997), Appendix A",
    "EIA-485 unit load, as defined in application note SLLA166",
    "datasheet SLLS101D, ",
    "datasheet SLLS612C, ",
    "datasheet SLOS580H, ",
    "datasheet SLUSF11C, ",
    "datasheet SNVSBO5B, ",
    "white paper Propagation Delay and Delay Skew, ",
    "TIA-568 category 5, ",
    "EN 50170, RS-485 cable type A",
    "ANSI/ASHRAE 135 (2004), ",
    "ANSI/ASHRAE 135, clause 9, as transcribed in two open implementations of MS/TP, ",
    "ANSI E1.11, as quoted in a support table and an analyser's guide",
    "ANSI E1.20, pages 9 to 11, as transcribed in an open library for DMX and RDM",
    "MODBUS over serial line V1.02, ",
    "PROFIBUS manual, time ratios and estimation formula",
)
LITERATURE_NUMBERS = {"SLLA166", "SLLS101D", "SLLS612C", "SLOS580H", "SLUSF11C", "SNVSBO5B"}


# --- names that nothing bears ---------------------------------------------------------------------------


def test_misspelt_name_is_answered_with_the_near_ones():
    with pytest.raises(UnknownNameError) as caught:
        catalogue.transceiver("generic.eight-load-250-kbit")
    assert caught.value.near[0] == "generic.eighth-load-250-kbit"
    assert 'there is no transceiver "generic.eight-load-250-kbit"; did you mean "generic.eighth-load-250-kbit"' in str(
        caught.value
    )


def test_name_without_namespace_is_told_how_parts_are_named():
    with pytest.raises(UnknownNameError) as caught:
        catalogue.cable("24-awg-120-ohm")
    assert caught.value.near[0] == "generic.24-awg-120-ohm"
    assert 'built-in parts are named "generic.<name>"' in str(caught.value)


@pytest.mark.parametrize("name", ["Generic.24-AWG-120-ohm", "canal.24-awg-120-ohm", "generic.spare.24-awg-120-ohm"])
def test_other_namespaces_and_capitals_are_no_match_but_are_near(name):
    with pytest.raises(UnknownNameError) as caught:
        catalogue.cable(name)
    assert "generic.24-awg-120-ohm" in caught.value.near


def test_foreign_namespace_is_told_which_one_is_known():
    with pytest.raises(UnknownNameError, match=r'no installed plugin brings parts of "canal"; .* known here are generic$'):
        catalogue.isolator("canal.outdoor-gate")


def test_name_of_another_kind_is_told_where_it_belongs():
    with pytest.raises(UnknownNameError, match=r"use rs485kit\.catalogue\.isolated_supply$"):
        catalogue.isolator("generic.half-watt")
    with pytest.raises(UnknownNameError, match=r"use rs485kit\.catalogue\.cable$"):
        catalogue.sources("transceivers", "generic.category-5")


def test_name_near_to_nothing_is_told_what_lists_the_names():
    with pytest.raises(UnknownNameError, match=r"rs485kit\.catalogue\.names lists"):
        catalogue.cable("generic.zzzz")


def test_there_is_no_protector_yet_and_the_look_up_says_so():
    assert catalogue.names("protectors") == ()
    with pytest.raises(UnknownNameError) as caught:
        catalogue.protector("generic.gas-tube")
    assert str(caught.value) == (
        'there is no protector "generic.gas-tube"; the catalogue holds no part of that kind: state your own'
    )


@pytest.mark.parametrize("name", [None, 24, b"generic.category-5", ["generic.category-5"], "x" * 101])
@pytest.mark.parametrize(
    "look_up", [catalogue.cable, catalogue.about, lambda name: catalogue.sources("cables", name)]
)
def test_what_is_no_name_is_an_input_error(look_up, name):
    with pytest.raises(InputError, match=r"name: given .* wanted a name of at most 100 characters"):
        look_up(name)


@pytest.mark.parametrize("name", ["", ".", "generic.", "..", "generic.category-5 ", "generic.category-5\n"])
def test_nearly_a_name_is_unknown(name):
    with pytest.raises(UnknownNameError):
        catalogue.cable(name)
    with pytest.raises(UnknownNameError):
        catalogue.about(name)


def test_about_offers_near_names_of_every_kind():
    with pytest.raises(UnknownNameError) as caught:
        catalogue.about("generic.half-wat")
    assert caught.value.near[0] == "generic.half-watt"
    assert str(caught.value).startswith('there is no part "generic.half-wat"')


def test_unknown_kind_is_answered_with_the_near_one():
    with pytest.raises(UnknownNameError) as caught:
        catalogue.names("transceiver")
    assert caught.value.near[0] == "transceivers"
    assert "the kinds are transceivers, cables, isolators, isolated_supplies, protectors, timing_profiles" in str(caught.value)


@pytest.mark.parametrize("kind", [Cable, None, 3, ["cables"]])
def test_kind_that_is_no_text_is_an_input_error(kind):
    with pytest.raises(InputError, match=r"kind: given .* wanted one of the names transceivers"):
        catalogue.names(kind)


@pytest.mark.parametrize("kind", [Bus, int, "cables", None, []])
@pytest.mark.parametrize("look_up", [catalogue.part, catalogue.table])
def test_class_without_parts_is_an_input_error(look_up, kind):
    with pytest.raises(InputError, match=r"kind: given .* wanted one of the classes Transceiver, Cable"):
        look_up(kind, "generic.category-5")


def test_error_survives_a_pickle():
    with pytest.raises(UnknownNameError) as caught:
        catalogue.cable("generic.categry-5")
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


# --- data that does not say what it must ----------------------------------------------------------------

GOOD = """
[thin]
about = "A thin cable."
conductor_resistance = { min = "80 ohm/km", max = "90 ohm/km" }
velocity_factor = 0.66
[thin.sources]
conductor_resistance = "common practice"
velocity_factor = "memory: recalled"
"""


def canal_cables(text):
    """Cables of the namespace canal, read from a text."""
    tables = parsed(text, source="canal.toml")
    return entries_from_tables(tables, Cable, namespace="canal", source="canal.toml")


def problems_of(text):
    with pytest.raises(InputError) as caught:
        canal_cables(text)
    assert caught.value.source == "canal.toml"
    return {problem.place: str(problem) for problem in caught.value.problems}


def test_data_of_another_namespace_is_read_by_the_same_function():
    read = canal_cables(GOOD)
    assert list(read) == ["canal.thin"]
    assert read["canal.thin"].part == Cable(
        name="canal.thin", conductor_resistance=("80 ohm/km", None, "90 ohm/km"), velocity_factor=0.66
    )


@pytest.mark.parametrize("text", ["[thin", "a = 1\na = 2", "a = " + "[" * 5000, "a = " + "1" * 5000])
def test_text_that_does_not_parse_is_an_input_error(text):
    assert "wanted TOML" in problems_of(text)[""]


@pytest.mark.parametrize(
    ("old", "new", "place", "says"),
    [
        ('about = "A thin cable."', "", "thin.about", "wanted what the part is"),
        ('"A thin cable."', '" "', "thin.about", "wanted what the part is"),
        ('"A thin cable."', '"A thin cable."\nname = "x"', "thin.name", "the table's own name"),
        ('velocity_factor = "memory: recalled"', "", "thin.sources.velocity_factor", "given None"),
        ('velocity_factor = "memory: recalled"', 'velocity_factor = ""', "thin.sources.velocity_factor", "''"),
        ("velocity_factor = 0.66", "", "thin.sources.velocity_factor", "no source without a figure"),
        (
            'conductor_resistance = "common practice"',
            'conductor_resistance.min = "common practice"',
            "thin.sources.conductor_resistance",
            "one for all or one each for min, max",
        ),
        (
            'velocity_factor = "memory: recalled"',
            'velocity_factor.typ = "memory: recalled"',
            "thin.sources.velocity_factor",
            "wanted a document",
        ),
    ],
)
def test_each_thing_that_is_wrong_is_named_with_its_place(old, new, place, says):
    assert old in GOOD
    assert says in problems_of(GOOD.replace(old, new))[place]


def test_part_that_is_no_table_is_refused():
    assert "wanted a table of one part" in problems_of("thin = 3")["thin"]


@pytest.mark.parametrize("short_name", ["Thin one", "thin-", "thin.er", "", "x" * 100])
def test_bad_short_name_is_refused(short_name):
    found = problems_of(GOOD.replace("[thin", f'["{short_name}"'))
    assert any("lower-case words" in text or "characters" in text for text in found.values())


def test_sources_that_are_no_table_are_refused():
    text = GOOD.partition("[thin.sources]")[0] + 'sources = "common practice"'
    assert "wanted a table" in problems_of(text)["thin.sources"]


def test_field_that_the_class_refuses_is_named_by_part_and_field():
    found = problems_of(GOOD.replace("0.66", "66"))
    assert any("thin" in place and "velocity_factor" in place for place in found)


def test_field_that_the_class_does_not_have_is_refused():
    found = problems_of(GOOD.replace("velocity_factor", "velocity"))
    assert any("velocity" in text for text in found.values())


def test_problems_of_all_parts_are_shown_together():
    found = problems_of(GOOD.replace("0.66", "66") + GOOD.replace("thin", "thick").replace("about", "abut"))
    assert any(place.startswith("thin") for place in found)
    assert any(place.startswith("thick") for place in found)


# --- look-up --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_every_part_loads_by_every_door(kind, name):
    found = LOOK_UPS[kind](name)
    assert type(found) is KINDS[kind]
    assert found.name == name
    assert found == catalogue.part(KINDS[kind], name)
    assert catalogue.about(name).endswith(".")


def test_the_promised_parts_are_there():
    promised = {
        "transceivers": [
            "one-unit-load", "eighth-load-250-kbit", "eighth-load-20-mbit", "eighth-load-3v3-20-mbit",
            "full-failsafe-250-kbit", "full-failsafe-20-mbit",
        ],
        "cables": ["24-awg-120-ohm", "22-awg-120-ohm", "18-awg-120-ohm", "category-5", "field-bus-type-a"],
        "isolators": ["functional-1000-v", "basic-2500-v", "reinforced-5000-v"],
        "isolated_supplies": ["half-watt", "one-watt", "one-watt-unregulated", "two-watt"],
        "timing_profiles": ["plain", "modbus-rtu", "modbus-ascii", "bacnet-ms-tp", "dmx512", "rdm", "profibus-dp"],
    }  # fmt: skip
    for kind, short_names in promised.items():
        assert catalogue.names(kind) == tuple(f"generic.{name}" for name in short_names)


def test_a_name_is_one_part_whatever_its_kind():
    every = [name for _, name in PARTS]
    assert len(set(every)) == len(every)


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_table_gives_the_same_part_again(kind, name):
    fields = catalogue.table(KINDS[kind], name)
    assert not {"name", "about", "sources"} & set(fields)
    again = object_from_table(KINDS[kind], {"name": name, **fields}, place=name)
    assert again == catalogue.part(KINDS[kind], name)


def test_table_and_sources_are_the_callers_own():
    fields = catalogue.table(Cable, "generic.category-5")
    fields["conductor_resistance"]["min"] = "1 ohm/km"
    fields["extra"] = 1
    catalogue.sources("cables", "generic.category-5").clear()
    assert catalogue.table(Cable, "generic.category-5")["conductor_resistance"]["min"] == "75.8 ohm/km"
    assert catalogue.cable("generic.category-5").conductor_resistance.min == pytest.approx(0.0758, rel=1e-9)
    assert catalogue.sources("cables", "generic.category-5")


def test_sources_name_members_that_differ():
    found = catalogue.sources("transceivers", "generic.full-failsafe-20-mbit")
    assert found["max_data_rate"] == "common practice"
    assert found["receiver_upper_threshold"] == (
        "min: derived: not below the least lower threshold; "
        "typ, max: datasheet SLLS612C, receiver electrical characteristics"
    )


def test_many_threads_may_ask_first():
    def ask(_):
        return [catalogue.part(KINDS[kind], name) for kind, name in PARTS]

    entries.cache_clear()
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(ask, range(16)))
    assert all(answer == answers[0] for answer in answers)


# --- what the data says of itself -----------------------------------------------------------------------


def figures(kind, name):
    """Yield field, member ("" for a single value) and source of every figure of a part."""
    fields = catalogue.table(KINDS[kind], name)
    for field, text in catalogue.sources(kind, name).items():
        by_member = {}
        if re.match(r"(min|typ|max)[,:]", text):
            for group in text.split("; "):
                members, _, source = group.partition(": ")
                by_member |= dict.fromkeys(members.split(", "), source)
        value = fields[field]
        for member in value if isinstance(value, dict) else [""]:
            yield field, member, by_member.get(member, text)


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_every_figure_has_a_source_and_every_source_a_figure(kind, name):
    assert set(catalogue.sources(kind, name)) == set(catalogue.table(KINDS[kind], name))
    assert all(source for _, _, source in figures(kind, name))


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_every_source_is_a_known_document_or_a_mark(kind, name):
    for field, member, source in figures(kind, name):
        marked = source == "common practice" or re.match(r"(derived|memory): \w", source)
        assert marked or source.startswith(DOCUMENTS), (name, field, member, source)


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_no_part_is_a_makers(kind, name):
    """Letters run together with digits are a part number, unless they are the literature number of a source."""
    texts = [name, catalogue.about(name), *catalogue.sources(kind, name).values()]
    # the open standard of the lighting buses bears digits in its name
    texts = [re.sub(r"\b(DMX|dmx)512\b", "", text) for text in texts]
    numbers = set(re.findall(r"\b[A-Za-z]{2,}\d{2,}\w*", " ".join(texts)))
    assert numbers <= LITERATURE_NUMBERS
    assert not re.search(r"\b[A-Za-z]{2,}\d", " ".join(texts[:2]))


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_no_figure_is_left_out_without_a_reason(kind, name):
    """A field stays unknown only where `about` or the class of part explains it."""
    found = catalogue.part(KINDS[kind], name)
    unknown = {field.name for field in attrs.fields(KINDS[kind]) if getattr(found, field.name) is None}
    explained = {
        "input_reference": "None is half the supply",
        "input_mismatch": "no standard states one: each input is read by itself",
        "driver_offset_voltage": "None is the whole of what the standard allows",
        "driver_least_load": "None is 54 ohm, the standard's test load",
        "driver_current": "no standard states one",
        "driver_fall_time": "None is as long as the rising edge",
        "line_voltage_lowest": "None is -7 V, which the standard asks for",
        "line_voltage_highest": "None is +12 V, which the standard asks for",
        "common_mode_lowest": "None is -7 V, over which the standard asks a receiver to work",
        "common_mode_highest": "None is +12 V, over which the standard asks a receiver to work",
        "quiescent_current": "parts of one class differ by several times: the part's own figure",
        "short_circuit_current": "None is the 250 mA that the standard allows",
        "thermal_resistance": "hangs on package and board",
        "max_junction_temperature": "the part's own figure",
        "output_current": "None is the rated power over the output voltage",
        "setting_accuracy": "the limits of the output voltage hold it",
        "load_regulation": "the limits of the output voltage hold it",
        "line_regulation": "the limits of the output voltage hold it",
        "minimum_load": "a regulated supply needs none",
        "ripple": "hangs on the capacitors beside it",
        "capacitive_load": "the part's own figure",
        "max_case_temperature": "the part's own figure",
        "earth_capacitance": "hangs on how the cable is laid",
        "conductor_diameter": "None is that of solid copper of the stated resistance",
        **dict.fromkeys(
            ("clearance", "creepage", "material_group", "impulse_voltage_peak", "surge_voltage_peak"),
            "of a package and how it is built in: a generic part has none, and whoever builds with one states it",
        ),
        "transient_immunity_static": "published for few parts",
        "shield_resistance": "no published figure, except for the one shielded pair",
    }
    if name == "generic.field-bus-type-a":
        explained["reference_resistance"] = catalogue.about(name)
    if name == "generic.basic-2500-v":
        explained["working_voltage_rms"] = catalogue.about(name)
    if kind == "transceivers":
        times = ("delay", "skew", "enable_time", "disable_time")
        explained |= {f"driver_{name}": "differs from part to part, so a part brings its own" for name in times}
        explained |= {f"receiver_{name}": "differs from part to part" for name in ("delay", "skew", "hysteresis")}
        explained |= {"driver_short_circuit_current": "None is what the levels imply", "mark_drive_time": "marks are held"}
    if kind == "timing_profiles":
        explained |= dict.fromkeys(("lowest_rate", "highest_rate", "longest_frame"), "what a protocol leaves to others")
    assert unknown <= set(explained)


# --- physics --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "name"), PARTS)
def test_dimensioned_figures_are_in_order_and_have_both_limits(kind, name):
    found = catalogue.part(KINDS[kind], name)
    for field in units_of(KINDS[kind]):
        value = getattr(found, field)
        if isinstance(value, MinTypMax):
            assert value.min is not None and value.max is not None, field
            assert value.min <= value.nominal <= value.max, field
            assert value.min < value.max, field


@pytest.mark.parametrize("name", CABLES)
def test_capacitance_impedance_and_velocity_agree(name):
    found = catalogue.cable(name)
    z, v, c = found.characteristic_impedance, found.velocity_factor, found.capacitance
    assert c.typ * z.typ * v.typ * LIGHT == pytest.approx(1.0, rel=0.005)
    # the ends follow from the ends of the bands, rounded to within 2 %; a standard's own limit may be lower
    assert c.min == pytest.approx(1 / (z.max * v.max * LIGHT), rel=0.02)
    largest = 1 / (z.min * v.min * LIGHT)
    if "derived" in catalogue.sources("cables", name)["capacitance"].rpartition("max: ")[2]:
        assert c.max == pytest.approx(largest, rel=0.02)
    else:
        assert c.typ < c.max < largest


@pytest.mark.parametrize(("name", "gauge"), [("24", 24), ("22", 22), ("18", 18), ("category-5", 24)])
def test_copper_of_a_gauge(name, gauge):
    full = next(cable for cable in CABLES if cable.removeprefix("generic.").startswith(name))
    found = catalogue.cable(full)
    diameter = 0.127e-3 * 92 ** ((36 - gauge) / 39)
    solid = 1.7241e-8 / (math.pi * diameter**2 / 4)
    assert found.conductor_resistance.typ == pytest.approx(solid, rel=0.002)
    assert found.reference_resistance == found.conductor_resistance


def test_copper_of_the_field_bus_cable():
    resistance = catalogue.cable("generic.field-bus-type-a").conductor_resistance
    assert resistance.typ == pytest.approx(1.7241e-8 / (math.pi * 0.32e-3**2), rel=0.001)
    assert resistance.min == pytest.approx(1.7241e-8 / 0.34e-6, rel=0.001)
    assert resistance.max == pytest.approx(0.110 / 2, rel=1e-9)


def test_impedance_and_velocity_of_the_field_bus_cable():
    found = catalogue.cable("generic.field-bus-type-a")
    z, v = found.characteristic_impedance, found.velocity_factor
    assert z.typ == (z.min + z.max) / 2
    assert v.min == pytest.approx(1 / (z.typ * found.capacitance.max * LIGHT), rel=0.005)


def test_shield_is_at_worst_a_drain_wire():
    found = catalogue.cable("generic.24-awg-120-ohm")
    assert found.shield_resistance.max == found.conductor_resistance.max


def test_velocity_limit_of_structured_cabling_is_its_delay_limit():
    assert catalogue.cable("generic.category-5").velocity_factor.min == pytest.approx(
        100 / 538e-9 / LIGHT, rel=0.001
    )


@pytest.mark.parametrize("name", catalogue.names("transceivers"))
def test_transceivers_keep_the_limits_of_the_standard(name):
    found = catalogue.transceiver(name)
    assert found.unit_load <= 1
    assert found.driver_loaded_voltage.min >= 1.5 and found.driver_loaded_voltage.max <= 5.0
    assert found.driver_open_voltage.min >= 1.5 and found.driver_open_voltage.max <= 6.0
    assert found.receiver_upper_threshold.max <= 0.2 and found.receiver_lower_threshold.min >= -0.2
    assert found.driver_edge_time.max == pytest.approx(0.30 / found.max_data_rate, rel=1e-9)


@pytest.mark.parametrize("name", catalogue.names("transceivers"))
def test_a_driver_sags_under_load_and_its_receiver_has_hysteresis(name):
    found = catalogue.transceiver(name)
    assert found.driver_open_voltage.typ > found.driver_loaded_voltage.typ
    assert found.driver_open_voltage.typ <= found.supply_voltage.typ
    assert found.driver_open_voltage.max >= found.driver_loaded_voltage.max
    assert found.receiver_upper_threshold.min == found.receiver_lower_threshold.min
    assert found.receiver_lower_threshold.max == found.receiver_upper_threshold.max
    if found.receiver_upper_threshold.typ is not None:
        assert found.receiver_upper_threshold.typ > found.receiver_lower_threshold.typ


def test_an_output_of_the_low_supply_does_not_exceed_it():
    found = catalogue.transceiver("generic.eighth-load-3v3-20-mbit")
    assert found.driver_open_voltage.max == found.driver_loaded_voltage.max == found.supply_voltage.max


def test_full_failsafe_means_a_threshold_below_zero_and_nothing_else_does():
    for name in catalogue.names("transceivers"):
        assert (catalogue.transceiver(name).receiver_upper_threshold.max < 0) == ("full-failsafe" in name)


@pytest.mark.parametrize("name", catalogue.names("transceivers"))
def test_names_of_transceivers_say_what_they_are(name):
    found = catalogue.transceiver(name)
    rate = re.search(r"(\d+)-(kbit|mbit)$", name)
    if rate:
        assert found.max_data_rate == float(rate[1]) * {"kbit": 1e3, "mbit": 1e6}[rate[2]]
    assert found.unit_load == (1 if "one-unit" in name else 0.125)


def barriers():
    for kind in ("isolators", "isolated_supplies"):
        for name in catalogue.names(kind):
            yield catalogue.part(KINDS[kind], name)


def test_working_voltage_is_below_the_withstand_voltage_and_the_kinds_agree():
    for found in barriers():
        assert found.working_voltage_rms is not None or found.working_voltage_peak is not None
        if found.working_voltage_rms is not None:
            assert found.working_voltage_rms < found.withstand_voltage_rms
        if found.working_voltage_peak is not None:
            assert found.working_voltage_peak < math.sqrt(2) * found.withstand_voltage_rms
        if found.working_voltage_rms is not None and found.working_voltage_peak is not None:
            assert found.working_voltage_peak == pytest.approx(math.sqrt(2) * found.working_voltage_rms, rel=0.002)


@pytest.mark.parametrize("kind", ["isolators", "isolated_supplies"])
def test_better_insulation_withstands_more(kind):
    withstood = {"functional": set(), "basic": set(), "reinforced": set()}
    for name in catalogue.names(kind):
        found = catalogue.part(KINDS[kind], name)
        withstood[found.insulation].add(found.withstand_voltage_rms)
    assert max(withstood["functional"]) < min(withstood["basic"])
    assert max(withstood["basic"]) < min(withstood["reinforced"])


def test_better_isolators_work_at_more_and_communicate_through_more():
    functional, basic, reinforced = map(catalogue.isolator, catalogue.names("isolators"))
    assert functional.working_voltage_peak < basic.working_voltage_peak < reinforced.working_voltage_peak
    assert functional.transient_immunity < basic.transient_immunity < reinforced.transient_immunity


@pytest.mark.parametrize("name", catalogue.names("isolators"))
def test_names_of_isolators_say_what_they_are(name):
    insulation, voltage, _ = name.removeprefix("generic.").rsplit("-", 2)
    assert catalogue.isolator(name).insulation == insulation
    assert catalogue.isolator(name).withstand_voltage_rms == float(voltage)


def test_published_pair_of_the_basic_isolator():
    """2500 V RMS for 60 s goes with 560 V peak for good, in one datasheet that states no RMS working voltage."""
    found = catalogue.isolator("generic.basic-2500-v")
    assert (found.withstand_voltage_rms, found.working_voltage_peak, found.working_voltage_rms) == (2500.0, 560.0, None)


@pytest.mark.parametrize(
    ("name", "watts"), [("half-watt", 0.5), ("one-watt", 1.0), ("one-watt-unregulated", 1.0), ("two-watt", 2.0)]
)
def test_supplies_have_the_power_of_their_name_and_the_isolator_is_the_smaller_capacitance(name, watts):
    found = catalogue.isolated_supply(f"generic.{name}")
    assert found.output_power == watts
    assert found.output_voltage.typ == 5.0
    assert found.capacitance.typ > catalogue.isolator("generic.reinforced-5000-v").capacitance.typ


def test_regulated_supplies_stay_within_the_supply_of_a_transceiver_and_the_other_does_not():
    supply = catalogue.transceiver("generic.eighth-load-250-kbit").supply_voltage
    for name in catalogue.names("isolated_supplies"):
        output = catalogue.isolated_supply(name).output_voltage
        assert (supply.min <= output.min and output.max <= supply.max) == ("unregulated" not in name)


def test_band_of_the_unregulated_supply_is_the_product_of_its_tolerances():
    output = catalogue.isolated_supply("generic.one-watt-unregulated").output_voltage
    assert output.min == pytest.approx(5 * 0.97 * 0.90 * (1 - 1.2 * 0.05), rel=0.001)
    assert output.max == pytest.approx(5 * 1.03 * 1.10 * (1 + 1.2 * 0.05), rel=0.001)
    # what the band promises must hold for every corner, so it is rounded outwards
    assert output.min <= 5 * 0.97 * 0.90 * 0.94 and output.max >= 5 * 1.03 * 1.10 * 1.06


def test_withstand_voltage_of_the_half_watt_supply_is_the_sine_of_its_test():
    assert catalogue.isolated_supply("generic.half-watt").withstand_voltage_rms == pytest.approx(
        4243 / math.sqrt(2), rel=0.001
    )


def test_parts_are_of_the_model_and_compare_by_value():
    assert {type(catalogue.part(KINDS[kind], name)) for kind, name in PARTS} == {
        Transceiver, Cable, Isolator, IsolatedSupply, TimingProfile,
    }  # fmt: skip
    assert KINDS["protectors"] is Protector
    assert catalogue.cable("generic.22-awg-120-ohm").conductor_resistance == spread(
        ("47.7 ohm/km", "53.0 ohm/km", "58.3 ohm/km"), "ohm/m"
    )
