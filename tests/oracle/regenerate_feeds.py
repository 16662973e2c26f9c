"""Makes golden/feeds.json anew: python tests/oracle/regenerate_feeds.py, with the simulator on the path.

For every feed of feeds.py the simulator's operating point is stored: the voltage between plus and minus of every fed
device and feeding point, and of its minus; for those with a feeding point that gives nothing also the terminals of
all feeding points while it is connected like the others. The hash says to which netlist it belongs.
"""

import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from oracle import simulator
from oracle.feed_netlist import fed, feed_netlist, feeding
from oracle.feeds import FEEDS, SILENT
from oracle.regenerate import digest

GOLDEN = Path(__file__).parent / "golden" / "feeds.json"


def simulated(name: str) -> dict[str, Any]:
    """Return what the simulator says of a feed, as it is stored."""
    bus, silent = FEEDS[name](), SILENT.get(name, ())
    text = feed_netlist(bus, silent)
    found = simulator.operating_point(text)
    names = (*fed(bus), *feeding(bus))
    stored = {
        "sha256": digest(text),
        "across": {each: found[f"d{k}"] for k, each in enumerate(names)},
        "minus": {each: found[f"l{k}"] for k, each in enumerate(names)},
    }
    if silent:
        every = simulator.operating_point(feed_netlist(bus))
        stored["all_connected"] = {each: every[f"d{k}"] for k, each in enumerate(names) if each in feeding(bus)}
    return stored


def main() -> None:
    """Write the file."""
    stored = {"simulator": simulator.version(), "feeds": {name: simulated(name) for name in FEEDS}}
    GOLDEN.write_text(json.dumps(stored, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
