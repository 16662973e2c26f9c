"""Edits of a bus that must not change what a rule finds, or must not make it look better."""

import functools
import random
from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple, TypeAlias

import attrs

from rs485kit.model import (
    Accessory,
    Bias,
    Bridge,
    Bus,
    Cable,
    Circuit,
    CommonLink,
    Earth,
    EarthBond,
    Environment,
    FeedConductors,
    FeedLoad,
    FeedSource,
    IsolatedSupply,
    Isolator,
    Link,
    Node,
    Policy,
    Protector,
    RatedTime,
    Segment,
    ShieldBond,
    Termination,
    TimingProfile,
    Transceiver,
)
from rs485kit.model.barriers import Barrier
from rs485kit.tables import forms
from rs485kit.units import MinTypMax

Change: TypeAlias = Callable[[Any], Any]

SEED = 485

# fields that may be None and where None does not say "unknown", with what it says instead
NOT_UNKNOWN: Mapping[tuple[type, str], str] = {
    (Transceiver, "input_reference"): "half the bus-side supply, or 0 V without one",
    (Transceiver, "driver_offset_voltage"): "anywhere from -1 V to +3 V, as the standard allows",
    (Transceiver, "driver_least_load"): "54 ohm, the test load of the standard",
    (Transceiver, "driver_short_circuit_current"): "what the levels of the driver imply",
    (Transceiver, "receiver_hysteresis"): "none",
    (Transceiver, "driver_current"): "the part states no rating, and there is none to be held against",
    (Transceiver, "capacitance"): "what is usual, which the report says",
    (Protector, "capacitance"): "none, which the report says",
    (Node, "capacitance"): "none beside that of its parts",
    (Node, "middle_sample"): "the middle of the bit",
    (Cable, "capacitance"): "what impedance and velocity imply",
    (Transceiver, "driver_fall_time"): "as long as the rising edge",
    (Transceiver, "line_voltage_lowest"): "-7 V, which the standard asks for",
    (Transceiver, "line_voltage_highest"): "+12 V, which the standard asks for",
    (Transceiver, "common_mode_lowest"): "-7 V, which the standard asks for",
    (Transceiver, "common_mode_highest"): "+12 V, which the standard asks for",
    (Environment, "mains_frequency"): "50 Hz, which the report says",
    (Link, "longest_cycle"): "nobody asks for one",
    (Link, "profile"): "no protocol is named",
    (RatedTime, "up_to"): "it holds for every data rate",
    (TimingProfile, "lowest_rate"): "the protocol states none",
    (TimingProfile, "highest_rate"): "the protocol states none",
    (TimingProfile, "longest_frame"): "the protocol states none",
    (Earth, "fault_potential"): "no fault is declared there, and none is tried",
    (Circuit, "slew"): "no fast change is declared there",
    (Isolator, "transient_immunity_static"): "that at which it communicates, which includes it",
    (EarthBond, "capacitance"): "the bond conducts",
    (ShieldBond, "capacitance"): "the bond conducts",
    (Cable, "conductor_diameter"): "that of solid copper of the stated resistance",
    (Cable, "shield_resistance"): "the cable may have no shield",
    (Transceiver, "short_circuit_current"): "250 mA, which the standard allows",
    (Accessory, "current"): "it draws by another law",
    (Accessory, "power"): "it draws by another law",
    (Accessory, "resistance"): "it draws by another law",
    (FeedLoad, "talking_power"): "none",
    (FeedLoad, "restart_voltage"): "the voltage at which it stops",
    (FeedLoad, "inrush_current"): "nothing limits it",
    (FeedSource, "resistance"): "0 ohm, which the report says",
    (FeedSource, "fuse"): "there is none",
    (FeedSource, "inrush_current"): "no rating is stated, and there is none to be held against",
    (FeedConductors, "conductor_resistance"): "that of the signal pair, which the report says",
    (Barrier, "input_voltage"): "anywhere in what its supply is rated for",
    (IsolatedSupply, "output_current"): "the rated power over the output voltage",
    (IsolatedSupply, "regulated"): "its output has the limits that are stated",
    (IsolatedSupply, "setting_accuracy"): "set exactly, which the report says",
    (IsolatedSupply, "load_regulation"): "its output has the limits that are stated",
    (IsolatedSupply, "line_regulation"): "its output has the limits that are stated",
    (IsolatedSupply, "minimum_load"): "none is stated, and there is none to be held against",
    (IsolatedSupply, "ripple"): "none is stated",
    (IsolatedSupply, "no_load_current"): "the loss at the least stated power",
    (Termination, "capacitance"): "no capacitor is fitted",
    (Termination, "pull_up"): "the leg is not fitted",
    (Termination, "pull_down"): "the leg is not fitted",
    (Termination, "supply"): "the bus-side supply of the node",
    (Termination, "power"): "no rating is stated, and there is none to be held against",
    (Bias, "pull_up"): "the leg is not fitted",
    (Bias, "pull_down"): "the leg is not fitted",
    (Bias, "supply"): "the bus-side supply of the node",
    (Bias, "power"): "no rating is stated, and there is none to be held against",
    (CommonLink, "power"): "no rating is stated, and there is none to be held against",
    (Circuit, "impulse_voltage_peak"): "that of the mains that feeds it",
    (Environment, "bus_touchable"): "it is taken as touchable, which the report says",
    (Environment, "burst_voltage_peak"): "no bursts are asked for",
    (Environment, "surge_voltage_peak"): "no surges are asked for",
    (Earth, "lightning_current"): "no lightning is declared there, and none is tried",
    (Bridge, "insulation"): "what its distances make of it",
    (Bridge, "capacitance"): "none for a board or a connector",
    (CommonLink, "bonded"): "bonded without a barrier, and not bonded with one",
}
# objects of which None says "unknown"; of the others it says that there is none
UNKNOWN_OBJECTS = ((Bus, "link"), (Bus, "environment"), (Node, "circuit"), (Segment, "cable"), (Barrier, "isolator"))
# where one is not stated another is taken, so that only together they are unknown
SUPPLIES = (
    (Bias, "supply"), (Termination, "supply"), (Transceiver, "supply_voltage"), (IsolatedSupply, "output_voltage")
)  # fmt: skip


class Edit(NamedTuple):
    """A bus that came of an edit, and the edit in words that fit before "the bus"."""

    words: str
    bus: Bus


# --- the same bus, written in another way ----------------------------------------------------------------


def reordered(bus: Bus) -> Iterator[Edit]:
    """Give the bus with everything listed in other orders, and with its segments turned."""
    yield Edit("with nodes, segments and earths listed in reverse", _listed(bus, lambda items: items[::-1]))
    dice = random.Random(SEED)
    yield Edit(
        "with nodes, segments and earths shuffled", _listed(bus, lambda items: tuple(dice.sample(items, len(items))))
    )
    yield Edit("with every segment turned end for end", attrs.evolve(bus, segments=tuple(map(_turned, bus.segments))))


def _listed(bus: Bus, order: Callable[[tuple[Any, ...]], tuple[Any, ...]]) -> Bus:
    return attrs.evolve(bus, nodes=order(bus.nodes), segments=order(bus.segments), earths=order(bus.earths))


def _turned(segment: Segment) -> Segment:
    turned = attrs.evolve(segment, start=segment.end, end=segment.start)
    if segment.shield_joined == "start":
        return attrs.evolve(turned, shield_joined="end")
    return attrs.evolve(turned, shield_joined="start") if segment.shield_joined == "end" else turned


# --- the same bus, with less known of it -----------------------------------------------------------------


def lacking(bus: Bus) -> Iterator[Edit]:
    """Give the bus without each figure or object of which None says "unknown", taken from all places at once."""
    for kind, name in sorted(_stated(bus), key=lambda each: (each[0].__name__, each[1])):
        less = mapped(bus, functools.partial(_without, kind=kind, name=name))
        if less != bus:
            yield Edit(f"without any {kind.__name__}.{name}", less)
    dark = mapped(bus, _without_supplies)
    if dark != bus:
        yield Edit("without any supply voltage", dark)


def typical_only(bus: Bus) -> Edit:
    """Return the bus with only the typical value of every figure that states one."""
    return Edit("with typical values alone", mapped(bus, lambda thing: _spreads(thing, _typical)))


def limits_only(bus: Bus) -> Edit:
    """Return the bus with only the limits of every figure that states one."""
    return Edit("with limits and no typical values", mapped(bus, lambda thing: _spreads(thing, _limits)))


def _stated(bus: Bus) -> set[tuple[type, str]]:
    """Return the fields of which None would say "unknown" and that something on the bus states."""
    return {
        (type(thing), name)
        for thing in objects(bus)
        for name in _unknowable(type(thing))
        if getattr(thing, name) is not None
    }


def _unknowable(kind: type) -> Iterator[str]:
    for name, form in forms(kind).items():
        plain = form.what in ("figure", "spread", "whole", "choice", "flag")
        if (form.optional and plain and (kind, name) not in NOT_UNKNOWN) or (kind, name) in UNKNOWN_OBJECTS:
            yield name


def _without(thing: Any, *, kind: Any, name: str) -> Any:
    if type(thing) is not kind or getattr(thing, name) is None:
        return thing
    if kind is Segment and name == "reference_conductor" and thing.feed is not None and thing.feed.common_return:
        # a feed that returns over it says that there is one
        return thing
    if kind is FeedLoad and name == "minimum_voltage":
        thing = attrs.evolve(thing, restart_voltage=None)
    if isinstance(thing, Node) and thing.transceiver is None:
        # a circuit at a place without a transceiver is the sign by which a forgotten one is found
        return thing
    return attrs.evolve(thing, **{name: None})


def _without_supplies(thing: Any) -> Any:
    for kind, name in SUPPLIES:
        thing = _without(thing, kind=kind, name=name)
    return thing


def _spreads(thing: Any, change: Callable[[MinTypMax], MinTypMax]) -> Any:
    values = {field.name: getattr(thing, field.name) for field in attrs.fields(type(thing)) if field.init}
    changed = {name: change(value) for name, value in values.items() if isinstance(value, MinTypMax)}
    return attrs.evolve(thing, **changed) if changed else thing


def _typical(spread: MinTypMax) -> MinTypMax:
    return spread if spread.typ is None else MinTypMax(typ=spread.typ)


def _limits(spread: MinTypMax) -> MinTypMax:
    return spread if spread.min is None and spread.max is None else MinTypMax(min=spread.min, max=spread.max)


# --- walking over a bus ----------------------------------------------------------------------------------


def objects(thing: Any) -> Iterator[Any]:
    """Give an object of the model and all that it holds, its policy left out."""
    if not _is_object(thing):
        return
    yield thing
    for field in attrs.fields(type(thing)):
        value = getattr(thing, field.name)
        for each in value if isinstance(value, tuple) else (value,):
            yield from objects(each)


def mapped(thing: Any, change: Change) -> Any:
    """Return an object of the model with a change made to all that it holds, and to itself at last."""
    if not _is_object(thing):
        return thing
    fields = {}
    for field in attrs.fields(type(thing)):
        value = getattr(thing, field.name)
        if isinstance(value, tuple):
            fields[field.name] = tuple(mapped(each, change) for each in value)
        elif _is_object(value):
            fields[field.name] = mapped(value, change)
    return change(attrs.evolve(thing, **fields))


def _is_object(thing: object) -> bool:
    return attrs.has(type(thing)) and not isinstance(thing, MinTypMax | Policy)
