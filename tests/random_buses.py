"""Small buses with tolerances on everything, drawn by a seeded generator."""

import numpy as np

from rs485kit.model import Barrier, Bias, Bus, Cable, CommonLink, Earth, Node, Termination, Transceiver, daisy_chain


def random_bus(rng: np.random.Generator, *, apart: float) -> Bus:
    """Return a chain of two to six nodes with tolerances on everything, its earths up to `apart` volts apart."""
    count = int(rng.integers(2, 7))
    spread = rng.uniform(0.01, 0.2)
    cable = Cable(
        name="pair",
        conductor_resistance=tuple(0.084 * np.array([1 - spread, 1, 1 + spread])),
        reference_resistance=tuple(0.06 * np.array([1 - spread, 1, 1 + spread])),
    )
    part = Transceiver(
        name="part",
        unit_load=float(rng.choice([0.125, 0.25, 1.0])),
        supply_voltage="5 V",
        driver_open_voltage=("1.5 V", "3.5 V", "5 V"),
        driver_loaded_voltage=("1.5 V", "2.5 V", "5 V"),
        driver_least_load="10 ohm",
        driver_offset_voltage=("1.5 V", "2.5 V", "3 V"),
        receiver_upper_threshold="200 mV",
        receiver_lower_threshold="-200 mV",
    )
    earths = [
        Earth(name="pump", potential="0 V", resistance="1 ohm +/- 20 %"),
        Earth(name="bank", potential=tuple(sorted(rng.uniform(-apart, apart, 3))), resistance="5 ohm +/- 20 %"),
    ]
    joined = bool(rng.random() < 0.7)
    nodes = []
    for index in range(count):
        isolated = rng.random() < 0.6
        bias = None
        if rng.random() < 0.4 or index == 0:
            high = float(rng.uniform(300, 2000))
            bias = Bias(pull_up=_within(high, 0.05), pull_down=_within(high, 0.05), supply="5 V +/- 5 %")
        nodes.append(
            Node(
                name=f"gate-{index}",
                transceiver=part,
                terminations=Termination(resistance="120 ohm +/- 5 %") if index in (0, count - 1) else None,
                biases=bias,
                common=CommonLink(resistance="0 ohm" if rng.random() < 0.5 else "100 ohm +/- 5 %") if joined else None,
                earth=str(rng.choice(["pump", "bank"])) if not isolated or index == 0 else None,
                barrier=Barrier() if isolated and index else None,
            )
        )
    return daisy_chain(
        nodes, spacing=list(rng.uniform(5, 400, count - 1)), cable=cable, reference_conductor=joined, earths=earths
    )


def _within(value: float, share: float) -> tuple[float, float, float]:
    return value * (1 - share), value, value * (1 + share)
