"""A user's script, for type checkers: it is checked with mypy --strict and never run."""

import datetime
from collections.abc import Iterator
from typing import assert_type

import attrs
import pint

import rs485kit as rk

registry = pint.UnitRegistry()  # type: ignore[var-annotated]

# figures as text, bare SI numbers, quantities, tuples, mappings and MinTypMax
part = rk.Transceiver(
    name="eighth load",
    unit_load=0.125,
    supply_voltage=("4.5 V", "5 V", "5.5 V"),
    receiver_upper_threshold=(None, None, "200 mV"),
    receiver_lower_threshold=rk.MinTypMax(min=-0.2),
    driver_edge_time={"min": "250 ns", "max": 1.2e-6},
    max_data_rate="250 kbit/s",
)
cable = rk.Cable(name="pair", conductor_resistance="84.2 ohm/km", velocity_factor="66 %")
end = rk.Termination(resistance="120 ohm +/- 1 %")
failsafe = rk.Bias(pull_up=510, pull_down=registry.Quantity(510, "ohm"), supply="5 V")
earth = rk.Earth(name="bank", potential={"min": "-1 V", "max": "2 V"}, mains_potential="2 V")
assert_type(part.unit_load, float | None)
assert_type(end.resistance, rk.MinTypMax)
assert_type(end.resistance.nominal, float | None)

# one object or several
head = rk.Node(name="pump-house", transceiver=part, terminations=end, biases=failsafe, earth="bank")
tail = rk.Node(name="weir", transceiver=part, terminations=[end], common=rk.CommonLink(resistance="0 ohm"))
assert_type(tail.terminations, tuple[rk.Termination, ...])

bus = rk.daisy_chain(
    [head, tail],
    spacing=registry.Quantity(400, "foot"),
    cable=cable,
    stub={"weir": "2 m"},
    reference_conductor=True,
    earths=[earth],
    link=rk.Link(data_rate="38.4 kbit/s", frame="8E1", controller="pump-house"),
    environment=rk.Environment(temperature=("-25 degC", "10 degC", "45 degC"), altitude="120 m"),
)
assert_type(bus, rk.Bus)
assert_type(bus.ends, tuple[str, ...])
longer = bus.with_node(attrs.evolve(head, name="gate"), on=("pump-house", "weir.tap"), at="20 m", stub=1.5)
shorter = longer.without_node("gate").replace_segment(attrs.evolve(bus.segment("weir.tap", "weir"), length="3 m"))

# analyses take a bus or its Analyses
levels = rk.analysis.idle_levels(bus)
analyses = rk.Analyses(bus)
again = rk.analysis.idle_levels(analyses)
for row in levels:
    assert_type(row.voltage.nominal, float)
worst: str = levels.worst.node
lowest: float = float(levels.voltage.matched_lower.min())
loads = rk.analysis.unit_loads(analyses)
assert_type(loads.total, float)
assert_type(loads.spare_nodes, int | None)
driven = rk.analysis.driven_levels(analyses)
assert_type(driven.between("pump-house", "weir").mark.lower, float)
weakest: str = driven.worst.receiver
assert_type(rk.formulas.loop_resistance(0.0842, 1200.0), rk.formulas.FloatOrArray)


# an analysis of one's own
@rk.as_analysis()
def segment_count(analyses: rk.Analyses, *, shortest: float = 0.0) -> int:
    """Count the segments of at least a length."""
    return sum(segment.length >= shortest for segment in analyses.bus.segments)


assert_type(segment_count(bus, shortest=1.0), int)
assert_type(segment_count(analyses), int)


# rules of one's own
@rk.rule(
    "site.level-low",
    title="An idle level below what the house asks for",
    basis="house",
    parameters=[rk.parameter("least", "250 mV", unit="V", meaning="least idle level")],
)
def level_low(analyses: rk.Analyses, *, least: float) -> Iterator[rk.Finding]:
    """Hold every receiver against the house's own limit."""
    for row in rk.analysis.idle_levels(analyses):
        where = rk.Place.node(row.node)
        yield rk.at_least(where, "idle voltage", measured=row.voltage.nominal, limit=least, unit="V")


assert_type(level_low, rk.Rule)

policy = rk.Policy(
    skip="structure.ring",
    settings={"site.level-low": {"least": "300 mV", "reserve": 0.2}},
    waivers=rk.Waiver(rule="idle.level-undefined", nodes="weir", reason="renewed in spring", until="2031-03-31"),
)
report = rk.check(analyses, rules=[level_low], policy=policy, today=datetime.date(2031, 1, 1))
assert_type(report.passed, bool)
assert_type(report.worst(3), tuple[rk.Finding, ...])
report.raise_if_not_passed()
text: str = report.to_text() + report.to_markdown() + report.to_html() + report.to_json()

# parts and files
isolator = rk.catalogue.isolator("generic.basic-2500-v")
assert_type(isolator, rk.Isolator)
barrier = rk.Barrier(isolator=isolator, supply=rk.catalogue.isolated_supply("generic.half-watt"))
loaded = rk.load_bus("canal.toml")
rk.save_bus(loaded, "copy.toml")
assert_type(rk.bus_from_mapping(rk.bus_to_mapping(loaded)), rk.Bus)

try:
    rk.Segment(start="weir", end="lock", length="50 pF")
except rk.InputError as error:
    places: list[str] = [problem.place for problem in error.problems]
