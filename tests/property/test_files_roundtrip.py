"""What is written reads back equal, and what only looks different reads as the same bus."""

import datetime
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import attrs
import jsonschema
from hypothesis import given, settings
from hypothesis import strategies as st
from property_strategies import buses, figures, names, nodes, policies, spreads

from rs485kit import files
from rs485kit.files import bus_from_mapping, bus_to_mapping, load_bus, save_bus
from rs485kit.model import Bus, Cable, Earth, Node, Segment, Termination
from rs485kit.tables import digest, object_from_table, table_from_object
from rs485kit.units import MinTypMax, si, spread, text_of

UNITS = ("m", "s", "V", "A", "ohm", "ohm/m", "bit/s", "F", "F/m", "W", "K", "rad", "V/s", "Hz", "")
SCHEMA = jsonschema.Draft202012Validator(files.schema())


def plain(value: Any) -> Any:
    """Return a mapping with its dates as ISO text, as JSON wants it."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


@given(bus=buses())
@settings(max_examples=150)
def test_a_bus_written_to_a_file_reads_back_equal(bus: Bus, tmp_path_factory: Any) -> None:
    path = tmp_path_factory.mktemp("files") / "bus.toml"
    save_bus(bus, path)
    again = load_bus(path)
    assert again == bus
    assert digest(again) == digest(bus)
    before = path.read_bytes()
    save_bus(again, path)
    assert path.read_bytes() == before
