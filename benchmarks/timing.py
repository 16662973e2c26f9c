"""What the time of a bit, idle tails and a handover cost: ratios to `worst_eyes` and to `waveforms`.

    python benchmarks/timing.py

Every figure is the least of some runs on one core. Nothing here is a test.
"""

import os
import platform
import sys
import time
from collections.abc import Callable

import numpy as np

import rs485kit as rk

RUNS = 3
LENGTH = 1200.0


def bus(count: int) -> rk.Bus:
    """Return a biased, terminated bus of 1.2 km with equal spans."""
    part = rk.Transceiver(
        name="part", unit_load=0.125, driver_open_voltage="3.5 V", driver_loaded_voltage="2.2 V",
        driver_edge_time="800 ns", receiver_upper_threshold="200 mV", receiver_lower_threshold="-200 mV",
        driver_skew="100 ns", receiver_skew="60 ns", capacitance="20 pF",
    )  # fmt: skip
    pair = rk.Cable(
        name="pair", conductor_resistance="84.2 ohm/km", characteristic_impedance="120 ohm", velocity_factor=0.66
    )
    end, bias = rk.Termination(resistance="120 ohm"), rk.Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
    nodes = [
        rk.Node(
            name=f"node-{k}", transceiver=part, terminations=end if k in (0, count - 1) else None,
            biases=bias if k == 0 else None, clock_tolerance=0.002, oversampling=16, samples=3,
        )
        for k in range(count)
    ]  # fmt: skip
    return rk.daisy_chain(nodes, spacing=LENGTH / (count - 1), cable=pair, link=rk.Link(data_rate="115.2 kbit/s"))


def least(call: Callable[[], object]) -> float:
    """Return the least time of some calls [s]."""
    found = []
    for _ in range(RUNS):
        begin = time.perf_counter()
        call()
        found.append(time.perf_counter() - begin)
    return min(found)


def main() -> None:
    """Print the ratios."""
    print(f"Python {platform.python_version()}, numpy {np.__version__}, {os.cpu_count()} cores, {sys.platform}")
    for count in (64, 256):
        some = bus(count)
        eyes = least(lambda some=some: rk.analysis.worst_eyes(some))
        timing = least(lambda some=some: rk.analysis.bit_timing(some))
        tails = least(lambda some=some: rk.analysis.idle_tails(some))
        print(f"{count} nodes: worst_eyes {eyes:.2f} s")
        print(f"  bit_timing of all paths  {timing / eyes:.2f} x worst_eyes (wanted: below 3)")
        print(f"  idle_tails of all pairs  {tails / eyes:.2f} x worst_eyes (wanted: below 2)")
    some = bus(64)
    shown = least(lambda: rk.analysis.waveforms(some, "node-0"))
    handed = least(lambda: rk.analysis.handover(some, "node-0", "node-63", gap=20e-6))
    print(f"one handover on 64 nodes   {handed / shown:.2f} x waveforms of one driver, {shown:.3f} s (wanted: up to 5)")


if __name__ == "__main__":
    main()
