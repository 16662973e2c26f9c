"""What the DC analyses cost: seconds on this machine, ratios to a 32-node bus and to a fixed numpy kernel, memory.

    python benchmarks/dc.py

Every figure is the median of some runs in one process; the ratios to the kernel hold on other machines too. Nothing
here is a test.
"""

import os
import platform
import resource
import statistics
import time
from collections.abc import Callable

import attrs
import numpy as np

import rs485kit as rk
from rs485kit.network import idle_network
from rs485kit.solvers.nodal import potentials

SIZES = (32, 64, 128, 256)


def chain(count: int) -> rk.Bus:
    """Return an isolated bus of 1.2 km with a reference conductor, tolerances on everything, bonded at one node."""
    part = rk.Transceiver(
        name="eighth load",
        unit_load=0.125,
        supply_voltage="5 V",
        receiver_upper_threshold="200 mV",
        receiver_lower_threshold="-200 mV",
        driver_open_voltage=("1.5 V", "3.5 V", "5 V"),
        driver_loaded_voltage=("1.5 V", "2.2 V", "5 V"),
    )
    cable = rk.Cable(
        name="trunk", conductor_resistance="84.2 ohm/km +/- 5 %", reference_resistance="84.2 ohm/km +/- 5 %"
    )
    end = rk.Termination(resistance="120 ohm +/- 1 %")
    bias = rk.Bias(pull_up="510 ohm +/- 1 %", pull_down="510 ohm +/- 1 %", supply="5 V +/- 5 %")
    nodes = [
        rk.Node(
            name=f"gate-{index:03d}", transceiver=part, barrier=rk.Barrier(), common=rk.CommonLink(resistance="0 ohm"),
            terminations=end if index in (0, count - 1) else None, biases=bias if index == count // 2 else None,
        )
        for index in range(count)
    ]  # fmt: skip
    nodes[0] = attrs.evolve(nodes[0], earth="pump-house", barrier=None)
    earths = [rk.Earth(name="pump-house", potential="0 V", resistance="2 ohm +/- 20 %")]
    return rk.daisy_chain(
        nodes, spacing=1200.0 / (count - 1), cable=cable, reference_conductor=True, earths=earths
    )


def kernel() -> None:
    """Do a fixed piece of numpy work: an inverse, a product and a sum of magnitudes."""
    rng = np.random.default_rng(0)
    matrix = rng.normal(size=(500, 500)) + 500.0 * np.eye(500)
    np.abs(np.linalg.inv(matrix) @ matrix).sum()


def median(work: Callable[[], object], runs: int) -> float:
    """Return the median time of some runs, after one that is not counted [s]."""
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def nominal(bus: rk.Bus) -> None:
    """Solve the nominal idle network."""
    network = idle_network(bus)
    emf, given = network.emf[:, None], network.given[:, None]
    potentials(network.layout, network.branches, network.injected(emf), network.fixed, given)


def main() -> None:
    """Print the table."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}")
    unit = median(kernel, 9)
    print(f"kernel {unit:.3f} s")
    print(f"{'what':34} {'nodes':>5} {'s':>8} {'x kernel':>9} {'x 32 nodes':>10}")
    works: tuple[tuple[str, Callable[[rk.Bus], object], int], ...] = (
        ("nominal idle network, built and solved", nominal, 7),
        ("idle levels, all bounds", rk.analysis.idle_levels, 5),
        ("driven levels, all pairs, all bounds", rk.analysis.driven_levels, 3),
        ("check, all rules", rk.check, 1),
    )
    for name, work, runs in works:
        first = 0.0
        for count in SIZES:
            bus = chain(count)
            seconds = median(lambda work=work, bus=bus: work(bus), runs)
            first = first or seconds
            print(f"{name[:34]:34} {count:5d} {seconds:8.3f} {seconds / unit:9.1f} {seconds / first:10.1f}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of the process {peak:.0f} MB")


if __name__ == "__main__":
    main()
