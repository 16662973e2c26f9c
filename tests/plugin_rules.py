"""Rules of a plugin as an author would write them, importable by name, and a canal on which they are tried."""

import math

import rs485kit as rk

PART = rk.Transceiver(
    name="one load", unit_load=1.0, supply_voltage="5 V", receiver_upper_threshold="200 mV",
    receiver_lower_threshold="-200 mV", driver_open_voltage=("1.5 V", "3.5 V", "5 V"),
    driver_loaded_voltage=("1.5 V", "2.2 V", "5 V"), driver_edge_time="100 ns",
)  # fmt: skip
BIAS = rk.Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
END = rk.Termination(resistance="120 ohm")


def canal(copper=("75 ohm/km", "84.2 ohm/km", "92.6 ohm/km"), **fields):
    """Three places on two spans, with everything stated."""
    nodes = [
        rk.Node(name="pump-house", transceiver=PART, terminations=END, biases=BIAS, earth="bank"),
        rk.Node(name="gate-1", transceiver=PART, earth="lock"),
        rk.Node(name="weir", transceiver=PART, terminations=END),
    ]
    cable = rk.Cable(
        name="pair", conductor_resistance=copper, reference_resistance="84 ohm/km", characteristic_impedance="120 ohm",
        velocity_factor=0.66,
    )  # fmt: skip
    earths = [rk.Earth(name="bank", potential="0 V"), rk.Earth(name="lock", potential="1 V")]
    given = {"cable": cable, "earths": earths, "link": rk.Link(data_rate="9600 bit/s"), "name": "canal", **fields}
    return rk.daisy_chain(nodes, spacing=["300 m", "200 m"], **given)


@rk.rule(
    "canal.cable-too-thin",
    title="A cable of more resistance than the district lays",
    basis="house",
    parameters=[rk.parameter("most", "100 ohm/km", unit="ohm/m", meaning="largest resistance of one conductor")],
    reserve=0.0,
)
def cable_too_thin(analyses, *, most):
    """A cable has more resistance than the district lays.

    What it checks
    --------------
    The resistance of one conductor of every segment, per metre.

    Why it matters
    --------------
    Copper takes from every level.

    Limit and source
    ----------------
    100 ohm/km: the district's own.

    When to waive
    -------------
    Where a section is to be renewed.
    """
    for segment in analyses.bus.segments:
        where = rk.Place.segment(segment.start, segment.end)
        copper = None if segment.cable is None else segment.cable.conductor_resistance
        if copper is None:
            yield rk.unknown(where, "the copper is not stated", missing=("cable.conductor_resistance",))
            continue
        yield rk.at_most(
            where,
            "resistance of one conductor",
            measured=copper.nominal,
            bound=math.nan if copper.max is None else copper.max,
            limit=most,
            unit="ohm/m",
            remedy="lay a thicker cable",
            missing=("cable.conductor_resistance (its typ and max)",),
        )


def _no_gate(analyses):
    """No node is a gate."""
    yield rk.Finding(verdict="pass", where=rk.Place.bus(), message="nothing is asked")


# under another name than its function, so that a pickle finds the function and no rule
gate_missing = rk.rule("canal.gate-missing", title="The bus has no gate", basis="house")(_no_gate)
