"""Buses for the simulator: each brings elements into play that the others leave out."""

from collections.abc import Callable

from rs485kit import (
    Barrier,
    Bias,
    Bus,
    Cable,
    CommonLink,
    Earth,
    Environment,
    IsolatedSupply,
    MinTypMax,
    Node,
    Segment,
    Termination,
    Transceiver,
    daisy_chain,
)

PAIR = Cable(name="24 AWG pair", conductor_resistance="84.2 ohm/km", reference_resistance="84.2 ohm/km")
THIN = Cable(name="26 AWG pair", conductor_resistance="133.9 ohm/km", reference_resistance="133.9 ohm/km")
THICK = Cable(
    name="18 AWG pair",
    conductor_resistance=("19 ohm/km", "20.9 ohm/km", "23 ohm/km"),
    reference_resistance=("8 ohm/km", None, "12 ohm/km"),
)
FULL = Transceiver(name="full load", unit_load=1.0, supply_voltage="5 V")
EIGHTH = Transceiver(name="eighth load", unit_load=0.125, supply_voltage="5 V")
LOW_VOLTAGE = Transceiver(name="low voltage", unit_load=0.25, supply_voltage="3.3 V")
HIGH_VOLTAGE = Transceiver(name="wide supply", unit_load=0.5, supply_voltage="12 V", input_reference="1.7 V")
END = Termination(resistance="120 ohm")
BIAS = Bias(pull_up="510 ohm", pull_down="510 ohm", supply="5 V")
LINK = CommonLink(resistance="100 ohm")
ISOLATED = Barrier(supply=IsolatedSupply(name="isolated 5 V", output_voltage=("4.9 V", "5.05 V", "5.2 V")))


def two_ends() -> Bus:
    """1.2 km between two eighth loads, biased at the head alone."""
    nodes = [
        Node(name="head", transceiver=EIGHTH, terminations=END, biases=BIAS),
        Node(name="tail", transceiver=EIGHTH, terminations=END),
    ]
    return daisy_chain(nodes, spacing="1.2 km", cable=PAIR, name="two ends")


def earths_with_reference() -> Bus:
    """Three earths apart by volts, two commons bonded to them, joined by a reference conductor, on a hot day."""
    earths = [
        Earth(name="weir", potential="0 V", resistance="2 ohm"),
        Earth(name="lock", potential="1.9 V", resistance="7 ohm"),
        Earth(name="pump house", potential="-2.3 V", resistance="11 ohm"),
    ]
    nodes = [
        Node(name="control", transceiver=FULL, terminations=END, biases=BIAS, common=LINK, earth="weir"),
        Node(name="gate-1", transceiver=EIGHTH, common=LINK, earth="lock", barrier=ISOLATED),
        Node(name="gate-2", transceiver=LOW_VOLTAGE, common=LINK, earth="lock"),
        Node(name="gauge-1", transceiver=EIGHTH, common=LINK),
        Node(name="gauge-2", transceiver=HIGH_VOLTAGE, common=CommonLink(resistance="0 ohm")),
        Node(name="pump", transceiver=FULL, terminations=END, common=LINK, earth="pump house"),
    ]
    return daisy_chain(
        nodes, spacing=["310 m", "95 m", "420 m", "12 m", "260 m"], cable=PAIR, reference_conductor=True,
        earths=earths, environment=Environment(temperature="45 degC"), name="earths with reference",
    )  # fmt: skip


def earths_without_reference() -> Bus:
    """Commons bonded to earths 6 V apart and nothing but the pair between them."""
    earths = [Earth(name="east", potential="3 V", resistance="4 ohm"), Earth(name="west", potential="-3 V")]
    nodes = [
        Node(name="gate-1", transceiver=FULL, earth="east", terminations=END),
        Node(name="gate-2", transceiver=FULL, earth="west", biases=BIAS),
        Node(name="gate-3", transceiver=LOW_VOLTAGE, earth="east"),
        Node(name="gate-4", transceiver=FULL, earth="west", terminations=END),
    ]
    return daisy_chain(nodes, spacing="230 m", cable=THIN, earths=earths, name="earths without reference")


def opposed_biases() -> Bus:
    """A hidden bias in each of three devices, one of them fitted the wrong way round, one fitted twice."""
    weak = Bias(pull_up="1.2 kohm", pull_down="1 kohm", supply="5 V")
    nodes = [
        Node(name="control", transceiver=FULL, biases=(BIAS, weak), terminations=END),
        Node(name="gate-1", transceiver=FULL, biases=Bias(pull_up="680 ohm", pull_down="680 ohm", reversed=True)),
        Node(name="gate-2", transceiver=LOW_VOLTAGE, biases=Bias(pull_up="4.7 kohm", pull_down="4.7 kohm")),
        Node(name="gate-3", transceiver=FULL, terminations=END),
    ]
    return daisy_chain(nodes, spacing="140 m", cable=PAIR, name="opposed biases")


def ring() -> Bus:
    """A closed ring of five with a tail, and a reference conductor all the way."""
    nodes = [
        Node(name=f"gate-{k}", transceiver=FULL, common=LINK, terminations=END if k in (0, 3) else None,
             biases=BIAS if k == 1 else None)
        for k in range(5)
    ]  # fmt: skip
    spans = [
        ("gate-0", "gate-1"),
        ("gate-1", "gate-2"),
        ("gate-2", "gate-3"),
        ("gate-3", "gate-4"),
        ("gate-4", "gate-0"),
    ]
    segments = [
        Segment(start=a, end=b, length=f"{70 + 35 * k} m", cable=PAIR, reference_conductor=True)
        for k, (a, b) in enumerate([*spans, ("gate-2", "tail")])
    ]
    tail = Node(name="tail", transceiver=EIGHTH, common=LINK, earth="bank")
    return Bus(name="ring", nodes=(*nodes, tail), segments=segments, earths=Earth(name="bank", potential="0.7 V"))


def star() -> Bus:
    """Six arms of different cable from a passive hub, one of them forked."""
    arms = [("gate-1", 40, PAIR), ("gate-2", 310, THIN), ("gate-3", 85, THICK), ("gauge-1", 640, PAIR),
            ("gauge-2", 12, THIN), ("pump", 205, THICK)]  # fmt: skip
    nodes = [Node(name="hub", terminations=Termination(resistance="220 ohm"))]
    nodes += [Node(name=name, transceiver=FULL, biases=BIAS if name == "pump" else None) for name, _, _ in arms]
    segments = [Segment(start="hub", end=name, length=length, cable=cable) for name, length, cable in arms]
    nodes.append(Node(name="gauge-3", transceiver=EIGHTH, terminations=END))
    segments.append(Segment(start="gauge-3", end="gauge-1", length="33 m", cable=THIN))
    return Bus(name="star", nodes=nodes, segments=segments)


def mixed_cables() -> Bus:
    """Stubs, three kinds of cable, and a reference conductor on the first half of the trunk alone."""
    nodes = [
        Node(name=f"gate-{k}", transceiver=EIGHTH if k % 2 else FULL, common=LINK, terminations=END if k in (0, 5) else None,
             biases=Bias(pull_up="560 ohm", pull_down="560 ohm") if k == 2 else None)
        for k in range(6)
    ]  # fmt: skip
    chain = daisy_chain(
        nodes, positions=["0 m", "120 m", "125 m", "500 m", "900 m", "1.1 km"], cable=[PAIR, PAIR, THIN, THICK, PAIR],
        stub={"gate-1": "3 m", "gate-3": "15 m", "gate-4": "0.5 m"}, reference_conductor=True, name="mixed cables",
    )  # fmt: skip
    bare = {frozenset(("gate-3.tap", "gate-4.tap")), frozenset(("gate-4.tap", "gate-4"))}
    segments = [
        Segment(start=s.start, end=s.end, length=s.length, cable=s.cable,
                reference_conductor=frozenset((s.start, s.end)) not in bare)
        for s in chain.segments
    ]  # fmt: skip
    return Bus(name="mixed cables", nodes=chain.nodes, segments=segments)


def swapped_lines() -> Bus:
    """One node connected the wrong way round, and it carries a bias and an unequal terminator of its own."""
    odd = Termination(resistance="150 ohm", pull_up="1 kohm", pull_down="820 ohm")
    nodes = [
        Node(name="control", transceiver=FULL, terminations=END, biases=BIAS),
        Node(name="gate-1", transceiver=FULL, lines_swapped=True, terminations=odd,
             biases=Bias(pull_up="2.2 kohm", pull_down="1.8 kohm", supply="3.3 V")),
        Node(name="gate-2", transceiver=EIGHTH, lines_swapped=True),
    ]  # fmt: skip
    return daisy_chain(nodes, spacing="330 m", cable=PAIR, name="swapped lines")


def unpowered_node() -> Bus:
    """Two nodes without supply: one rail that feeds two biases and a terminator, and one rail apart from it."""
    on_own_rail = (
        Bias(pull_up="470 ohm", pull_down="470 ohm"),
        Bias(pull_up="1.5 kohm", pull_down="1.5 kohm", reversed=True),
    )
    active = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm")
    apart = Termination(resistance="180 ohm", pull_up="430 ohm", pull_down="360 ohm", supply="5 V")
    nodes = [
        Node(name="control", transceiver=FULL, biases=BIAS, terminations=END),
        Node(name="gate-1", transceiver=FULL, powered=False, biases=on_own_rail, terminations=active),
        Node(name="gate-2", transceiver=LOW_VOLTAGE),
        Node(name="gate-3", transceiver=EIGHTH, powered=False, terminations=apart,
             biases=Bias(pull_up="1 kohm", reversed=True, supply="5 V")),
    ]  # fmt: skip
    return daisy_chain(nodes, spacing="180 m", cable=THIN, name="unpowered node")


def active_terminators() -> Bus:
    """390/220/390 ohm at both ends, from a node's own supply and from one beside it, isolated nodes between."""
    own = Termination(resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm")
    beside = Termination(
        resistance="220 ohm", pull_up="390 ohm", pull_down="390 ohm", supply=("4.75 V", None, "5.25 V")
    )
    unplugged = Termination(resistance="120 ohm", engaged=False)
    blocked = Termination(resistance="120 ohm", capacitance="10 nF")
    nodes = [
        Node(name="control", transceiver=FULL, common=LINK, barrier=ISOLATED, terminations=own),
        Node(name="gate-1", transceiver=EIGHTH, common=LINK, barrier=ISOLATED, terminations=(unplugged, blocked)),
        Node(name="gate-2", transceiver=HIGH_VOLTAGE, common=LINK, biases=Bias(pull_up="1 kohm", engaged=False)),
        Node(name="pump", common=LINK, terminations=beside),
    ]
    return daisy_chain(nodes, spacing="95 m", cable=THICK, reference_conductor=True, name="active terminators")


def supply_off() -> Bus:
    """Bias supplies that are down beside supplies that are up, on commons bonded to two earths."""
    nodes = [
        Node(name="control", transceiver=FULL, terminations=END, earth="bank", biases=(
            Bias(pull_up="510 ohm", pull_down="510 ohm", supply_on=False),
            Bias(pull_up="1 kohm", pull_down="1 kohm", supply="5 V", supply_on=False, reversed=True),
        )),
        Node(name="gate-1", transceiver=FULL, earth="bank", biases=Bias(pull_up="680 ohm", pull_down="680 ohm")),
        Node(name="gate-2", transceiver=FULL, terminations=END, earth="island",
             biases=Bias(pull_down="3.3 kohm", supply_on=False)),
    ]  # fmt: skip
    earths = [Earth(name="bank", resistance="5 ohm"), Earth(name="island", potential="-1.2 V", resistance="9 ohm")]
    return daisy_chain(nodes, spacing="410 m", cable=PAIR, earths=earths, name="supply off")


def floating_islands() -> Bus:
    """Two stretches of cable that nothing joins, isolated throughout, one of them with commons of their own."""
    nodes = [
        Node(name="gate-1", transceiver=FULL, barrier=ISOLATED, common=LINK, earth="bank", biases=BIAS),
        Node(name="gate-2", transceiver=FULL, barrier=ISOLATED, common=CommonLink(resistance="0 ohm"), terminations=END),
        Node(name="gauge-1", transceiver=EIGHTH, barrier=ISOLATED, biases=BIAS),
        Node(name="gauge-2", transceiver=LOW_VOLTAGE, barrier=Barrier(), terminations=END),
        Node(name="gauge-3", transceiver=EIGHTH, barrier=Barrier(),
             biases=Bias(pull_up="3.9 kohm", pull_down="2.7 kohm", supply="3.3 V")),
    ]  # fmt: skip
    segments = [
        Segment(start="gate-1", end="gate-2", length="700 m", cable=PAIR, reference_conductor=True),
        Segment(start="gauge-1", end="gauge-2", length="250 m", cable=THIN),
        Segment(start="gauge-3", end="gauge-2", length="60 m", cable=THIN),
    ]
    return Bus(name="floating islands", nodes=nodes, segments=segments, earths=Earth(name="bank", potential="40 V"))


def hard_bonds() -> Bus:
    """A reference conductor that carries the current between earths without resistance, wired to it without a resistor."""
    wired = CommonLink(resistance="0 ohm")
    bonded = CommonLink(resistance="0 ohm", bonded=True)
    loose = CommonLink(resistance="10 ohm", bonded=False)
    nodes = [
        Node(name="control", transceiver=FULL, earth="weir", common=wired, terminations=END),
        Node(name="gate-1", transceiver=FULL, earth="weir", common=wired),
        Node(name="gate-2", transceiver=FULL, earth="lock", common=loose,
             biases=Bias(pull_up="390 ohm", pull_down="270 ohm")),
        Node(name="gate-3", transceiver=FULL, earth="lock", barrier=ISOLATED, common=bonded),
        Node(name="gate-4", transceiver=FULL, common=wired, terminations=END),
    ]  # fmt: skip
    earths = [Earth(name="weir", potential="0.4 V"), Earth(name="lock", potential="-1.1 V", resistance="0 ohm")]
    return daisy_chain(nodes, spacing="150 m", cable=PAIR, reference_conductor=True, earths=earths, name="hard bonds")


def lone_legs() -> Bus:
    """A pull-up at one end and its pull-down at the other, with earths between them."""
    nodes = [
        Node(name="head", transceiver=FULL, earth="weir", biases=Bias(pull_up="270 ohm", supply="5 V")),
        Node(name="middle", transceiver=FULL, earth="lock", terminations=Termination(resistance="60 ohm")),
        Node(name="tail", transceiver=FULL, earth="weir", biases=Bias(pull_down="270 ohm")),
    ]
    earths = [Earth(name="weir", resistance="3 ohm"), Earth(name="lock", potential="2.5 V", resistance="8 ohm")]
    return daisy_chain(nodes, spacing="1.3 km", cable=THIN, earths=earths, name="lone legs")


def high_pull_up() -> Bus:
    """A lone pull-up to 9 V, which lifts the lines beyond the 5 V up to which receiver inputs may source current."""
    nodes = [
        Node(name="head", transceiver=FULL, earth="weir", biases=Bias(pull_up="4.7 kohm", supply="9 V")),
        Node(name="middle", transceiver=FULL, earth="lock"),
        Node(name="tail", transceiver=FULL, earth="lock", terminations=Termination(resistance="330 ohm")),
    ]
    earths = [Earth(name="weir", potential="0.5 V", resistance="3 ohm"), Earth(name="lock", resistance="8 ohm")]
    return daisy_chain(nodes, spacing="400 m", cable=PAIR, earths=earths, name="high pull-up")


def mesh() -> Bus:
    """Five places, each joined to every other, which no elimination by leaves and chains can take apart."""
    names = [f"gate-{k}" for k in range(5)]
    nodes = [
        Node(name=name, transceiver=FULL, common=LINK, biases=BIAS if name == "gate-3" else None, terminations=END)
        for name in names
    ]
    segments = [
        Segment(
            start=names[a],
            end=names[b],
            length=50.0 + 17.0 * a + 5.0 * b,
            cable=PAIR,
            reference_conductor=(a + b) % 3 > 0,
        )
        for a in range(5)
        for b in range(a)
    ]
    return Bus(name="mesh", nodes=nodes, segments=segments)


def long_trunk() -> Bus:
    """256 nodes on stubs along 1.2 km, with three hidden biases, a reference conductor and five bonded earths."""
    nodes = [
        Node(
            name=f"gate-{k + 1}",
            transceiver=EIGHTH if k % 3 else LOW_VOLTAGE,
            common=CommonLink(resistance="100 ohm", bonded=k % 50 == 7),
            earth=f"earth-{k % 5}",
            barrier=Barrier(),
            terminations=END if k in (0, 255) else None,
            biases=Bias(pull_up="750 ohm", pull_down="750 ohm", supply="5 V") if k in (3, 120, 255) else None,
        )
        for k in range(256)
    ]
    earths = [
        Earth(name=f"earth-{k}", potential=MinTypMax(typ=volts), resistance=ohms)
        for k, (volts, ohms) in enumerate([(0.0, 1.0), (1.4, 5.0), (-0.9, 12.0), (2.2, 3.0), (-1.7, 20.0)])
    ]
    return daisy_chain(
        nodes,
        spacing=1200.0 / 255,
        cable=PAIR,
        stub="0.3 m",
        reference_conductor=True,
        earths=earths,
        name="long trunk",
    )


BUSES: dict[str, Callable[[], Bus]] = {
    build.__name__: build
    for build in (
        two_ends, earths_with_reference, earths_without_reference, opposed_biases, ring, star, mixed_cables,
        swapped_lines, unpowered_node, active_terminators, supply_off, floating_islands, hard_bonds, lone_legs, high_pull_up,
        mesh, long_trunk,
    )
}  # fmt: skip
