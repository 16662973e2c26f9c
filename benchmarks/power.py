"""What feeds and supply budgets cost: seconds on this machine, and ratios to a fixed numpy kernel.

    python benchmarks/power.py

Every figure is the median of some runs in one process; the ratios to the kernel hold on other machines too. Nothing
here is a test.
"""

import platform
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import attrs
import numpy as np

import rs485kit as rk

DEMO = Path(__file__).parents[1] / "docs" / "examples" / "canal_corrected.toml"
VARIANTS = 1000
SEED = 485


def chain(count: int, *, tolerances: bool) -> rk.Bus:
    """Return fed devices on one chain of 1.2 km, each of which talks for itself."""
    loose = " +/- 5 %" if tolerances else ""
    cable = rk.Cable(name="trunk", conductor_resistance="84.2 ohm/km" + loose)
    load = rk.FeedLoad(power="10 mW" + loose, talking_power="150 mW" + loose, minimum_voltage="12 V")
    source = rk.FeedSource(voltage="48 V" + loose, resistance="0.5 ohm" + loose)
    nodes = [rk.Node(name="head", feed_source=source)]
    nodes += [rk.Node(name=f"gate-{index:03d}", feed=load) for index in range(count)]
    return rk.daisy_chain(nodes, spacing=1200.0 / count, cable=cable, feed=rk.FeedConductors(wires=4))


def variants(bus: rk.Bus, count: int) -> list[rk.Bus]:
    """Return the bus with the lengths of its spans and the powers of its fed devices drawn anew."""
    rng = np.random.default_rng(SEED)
    made = []
    for _ in range(count):
        segments = [attrs.evolve(each, length=each.length * rng.uniform(0.8, 1.2)) for each in bus.segments]
        nodes = [
            node if node.feed is None
            else attrs.evolve(node, feed=attrs.evolve(node.feed, power=float(rng.uniform(0.4, 1.2))))
            for node in bus.nodes
        ]  # fmt: skip
        made.append(attrs.evolve(bus, nodes=nodes, segments=segments))
    return made


def kernel() -> None:
    """Do a fixed piece of numpy work: an inverse, a product and a sum of magnitudes."""
    rng = np.random.default_rng(0)
    matrix = rng.normal(size=(500, 500)) + 500.0 * np.eye(500)
    np.abs(np.linalg.inv(matrix) @ matrix).sum()


def median(action: Callable[[], object], runs: int) -> float:
    """Return the median time of an action, after one run that warms up."""
    action()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print a table."""
    print(f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}")
    unit = median(kernel, 9)
    print(f"{'numpy kernel':58} {unit * 1e3:9.1f} ms      1.0 x")
    demo = rk.load_bus(DEMO)
    some = variants(demo, VARIANTS)
    rows: list[tuple[str, Callable[[], object], int]] = [
        (f"feed_levels, {count} devices on one chain, {'tolerances' if loose else 'exact'}",
         lambda count=count, loose=loose: rk.analysis.feed_levels(chain(count, tolerances=loose)), 3)
        for count in (32, 256) for loose in (False, True)
    ]  # fmt: skip
    rows += [
        (f"feed_levels, {VARIANTS} variants of the canal", lambda: [rk.analysis.feed_levels(each) for each in some], 1),
        ("supply_budgets of the canal", lambda: rk.analysis.supply_budgets(demo), 3),
    ]
    for name, action, runs in rows:
        spent = median(action, runs)
        print(f"{name:58} {spent * 1e3:9.1f} ms {spent / unit:8.1f} x")


if __name__ == "__main__":
    main()
