"""The file of a small canal that tests of bus files read, change and spoil."""

import io
import pickle
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rs485kit.errors import InputError
from rs485kit.files import load_bus
from rs485kit.model import (
    Bus,
)

EXAMPLES = sorted((Path(__file__).parents[1] / "docs" / "examples").glob("*.toml"))

CANAL = """
format = 1
[bus]
name = "upper reach"
earths = [ { name = "pump-house" }, { name = "bank", potential = "3 V", resistance = "12 ohm" } ]
nodes = [
  { name = "pump-house", at = "0 m", use = "controller", earth = "pump-house" },
  { name = "gate-01", at = "180 m", use = "gate", stub = "0.4 m", earth = "bank" },
  { name = "gate-02", at = "225 m", use = "gate", stub = "0.4 m", earth = "bank" },
  { name = "gate-03", at = "390 m", use = "gate", earth = "bank", terminations = "end" },
  { name = "gauge-04", use = "gate", earth = "bank", transceiver = "slow" },
]
segments = [
  { start = "gate-02.tap", end = "gauge-04", length = "60 m" },
]
link = { data_rate = "115.2 kbit/s", frame = "8N1", controller = "pump-house" }
environment = { temperature = { min = "-25 degC", max = "45 degC" }, altitude = "120 m" }
[bus.policy]
settings = { "canal.stub-too-long" = { longest = "2 m" } }
waivers = [ { rule = "canal.stub-too-long", nodes = ["gauge-04"], reason = "rock", until = 2027-03-31 } ]
[defaults.segment]
cable = "trunk"
reference_conductor = true
[parts.transceivers.slow]
unit_load = 0.125
[parts.transceivers.quick]
like = "slow"
driver_edge_time = "10 ns"
[parts.cables.trunk]
like = "generic.24-awg-120-ohm"
conductor_resistance = "84.2 ohm/km"
[parts.terminations.end]
resistance = "120 ohm +/- 1 %"
[parts.barriers.gate]
isolator = "generic.basic-2500-v"
supply = "generic.half-watt"
[parts.nodes.gate]
transceiver = "quick"
barrier = "gate"
common = { resistance = "0 ohm", bonded = false }
[parts.nodes.controller]
like = "gate"
terminations = "end"
biases = { pull_up = "510 ohm +/- 1 %", pull_down = "510 ohm +/- 1 %", supply = "5 V" }
"""

# no file of a megabyte may keep anyone waiting; this only tells a hang from an answer
PATIENCE = 30.0


def load(text: str | bytes) -> Bus:
    return load_bus(io.StringIO(text) if isinstance(text, str) else io.BytesIO(text))


def refused(read: Callable[[], object]) -> InputError:
    """Return the error of a call that must refuse its input without delay and without another exception."""
    start = time.monotonic()
    with pytest.raises(InputError) as caught:
        read()
    assert time.monotonic() - start < PATIENCE
    error = caught.value
    assert error.problems
    assert str(pickle.loads(pickle.dumps(error))) == str(error)
    return error


def refused_text(text: str | bytes) -> InputError:
    return refused(lambda: load(text))


def changed(*pairs: tuple[str, str]) -> str:
    """Return the file of the canal with some text changed."""
    text = CANAL
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def only(error: InputError, place: str, *said: str) -> None:
    """Hold an error to one problem, its place, and what its text says."""
    assert [problem.place for problem in error.problems] == [place], str(error)
    for words in said:
        assert words in str(error)


def mapping_of(text: str = CANAL) -> dict[str, Any]:
    return tomllib.loads(text)
