"""The usual shape of a bus: a trunk along which devices sit, some of them on stubs."""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeAlias

from rs485kit import units
from rs485kit.errors import InputError, Problem
from rs485kit.model.base import TAP_SUFFIX, shown
from rs485kit.model.bus import Bus
from rs485kit.model.judgement import Policy
from rs485kit.model.parts import Cable
from rs485kit.model.places import Earth, Environment, Link, Node, Segment
from rs485kit.model.power import FeedConductors
from rs485kit.units import Given, HasUnits

Stubs: TypeAlias = Given | Sequence[Given | None] | Mapping[str, Given] | None


def daisy_chain(
    nodes: Iterable[Node],
    *,
    spacing: Given | Sequence[Given] | None = None,
    positions: Sequence[Given] | None = None,
    cable: Cable | Sequence[Cable | None] | None = None,
    stub: Stubs = None,
    stub_cable: Cable | None = None,
    reference_conductor: bool | None = None,
    feed: FeedConductors | None = None,
    shield: bool | None = None,
    reference_is_shield: bool = False,
    name: str = "",
    earths: Iterable[Earth] = (),
    link: Link | None = None,
    environment: Environment | None = None,
    policy: Policy | None = None,
) -> Bus:
    """Return a bus whose nodes follow one another along a trunk.

    Parameters
    ----------
    nodes : iterable of Node
        The n nodes, in order along the trunk [-].
    spacing : str, float, Quantity or sequence of n - 1
        Length of every span, or of each [m].
    positions : sequence of n
        Chainage of every node along the trunk, rising; instead of `spacing` [m].
    cable : Cable or sequence of n - 1
        Cable of every span, or of each [-].
    stub : str, float, Quantity, sequence of n, mapping or None
        Length of every stub, of each, or by name of node; None or zero puts the node on the trunk. A node on
        a stub gets the passive node "<name>.tap" on the trunk [m].
    stub_cable : Cable or None
        Cable of the stubs; None: that of the span beside [-].
    reference_conductor : bool or None
        Whether a reference conductor runs along everywhere; None: unknown [-].
    feed : FeedConductors or None
        Conductors that feed devices, everywhere, stubs included; None: none [-].
    shield : bool or None
        Whether a shield runs along everywhere; None: unknown [-].
    reference_is_shield : bool
        Whether that shield is the reference conductor [-].
    name : str
        Name of the bus [-].
    earths : iterable of Earth
        The local earths [-].
    link : Link or None
        Data rate and character frame [-].
    environment : Environment or None
        What holds for the whole site [-].
    policy : Policy or None
        Judgement that comes with the bus [-].

    Returns
    -------
    Bus
        The bus [-].

    Raises
    ------
    InputError
        If a sequence has the wrong length, positions do not rise, or a figure is wrong.
    """
    devices = _devices(nodes)
    spans = _spans(devices, spacing, positions)
    cables = _each("cable", cable, len(devices) - 1)
    stubs = _stub_lengths(devices, stub)
    places = [node.name + TAP_SUFFIX if length else node.name for node, length in zip(devices, stubs, strict=True)]
    taps = [Node(name=place) for place, length in zip(places, stubs, strict=True) if length]
    conductors: dict[str, Any] = {
        "reference_conductor": reference_conductor, "shield": shield, "reference_is_shield": reference_is_shield,
        "feed": feed,
    }  # fmt: skip
    segments = [
        Segment(start=a, end=b, length=length, cable=each, **conductors)
        for a, b, length, each in zip(places[:-1], places[1:], spans, cables, strict=True)
    ]
    for index, (node, length) in enumerate(zip(devices, stubs, strict=True)):
        if length:
            beside = cables[min(index, len(cables) - 1)] if cables else None
            segments.append(
                Segment(
                    start=places[index], end=node.name, length=length, cable=stub_cable or beside, **conductors,
                )
            )  # fmt: skip
    return Bus(
        name=name, nodes=(*devices, *taps), segments=tuple(segments), earths=earths, link=link,
        environment=environment, policy=policy,
    )  # fmt: skip


def _devices(nodes: Iterable[Node]) -> tuple[Node, ...]:
    devices: tuple[Any, ...] = tuple(nodes) if isinstance(nodes, Iterable) else (nodes,)
    for device in devices:
        if not isinstance(device, Node):
            raise InputError(Problem("daisy_chain nodes", shown(device), "Node objects"))
    return devices


def _spans(
    devices: tuple[Node, ...], spacing: Given | Sequence[Given] | None, positions: Sequence[Given] | None
) -> list[float]:
    if (spacing is None) == (positions is None):
        raise InputError(Problem("daisy_chain", "both or neither", "spacing or positions"))
    if spacing is not None:
        return [_metres("spacing", each) for each in _each("spacing", spacing, len(devices) - 1)]
    assert positions is not None
    if isinstance(positions, str) or not isinstance(positions, Sequence) or len(positions) != len(devices):
        raise InputError(Problem("daisy_chain positions", shown(positions), f"{len(devices)}, one per node"))
    places = [_metres("positions", each) for each in positions]
    lengths = [after - before for before, after in itertools.pairwise(places)]
    for node, length in zip(devices[1:], lengths, strict=True):
        if length <= 0:
            given = f'"{node.name}" not beyond the node before it'
            raise InputError(Problem("daisy_chain positions", given, "positions that rise along the trunk"))
    return lengths


def _stub_lengths(devices: tuple[Node, ...], stub: Stubs) -> list[float]:
    if isinstance(stub, Mapping):
        names = {node.name for node in devices}
        unknown = [name for name in stub if name not in names]
        if unknown:
            raise InputError(Problem("daisy_chain stub", f'"{unknown[0]}"', "names of nodes of the chain"))
        each: Sequence[Given | None] = [stub.get(node.name) for node in devices]
    else:
        each = _each("stub", stub, len(devices))
    return [0.0 if length is None else _metres("stub", length) for length in each]


def _each(field: str, given: object, count: int) -> list[Any]:
    """Return one value `count` times, or a sequence that must have that length."""
    if isinstance(given, Sequence) and not isinstance(given, str) and not isinstance(given, HasUnits):
        if len(given) != count:
            raise InputError(
                Problem(f"daisy_chain {field}", f"{len(given)} values", f"one value, or exactly {count}")
            )
        return list(given)
    return [given] * max(count, 0)


def _metres(field: str, given: Given) -> float:
    try:
        return units.metres(given)
    except InputError as error:
        raise InputError(*(problem.under(f"daisy_chain {field}") for problem in error.problems)) from None
