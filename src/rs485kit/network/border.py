"""The network read by the border of the unit load: intervals of conductances and sources for the bounds.

Two readings. *Matched*: both inputs of a receiver pull to one voltage anywhere inside the border. *Independent*: each
input pulls to a voltage of its own; a part that states `input_mismatch` is read as matched with that much difference
between the conductances of its inputs.
"""

from typing import Literal, NamedTuple, TypeAlias

import attrs
import numpy as np

from rs485kit.model import Node
from rs485kit.network.assembly import Floats, Indices, Network
from rs485kit.network.reach import SETTLED, references_reach
from rs485kit.solvers.bounds import Interval, Sources, extremes
from rs485kit.solvers.enclosure import (
    Box,
    Middle,
    Pairs,
    Responses,
    enclosed,
    least_at_corners,
    least_corners,
    passive_responses,
)
from rs485kit.solvers.nodal import joined_parts

ReadingName: TypeAlias = Literal["matched", "independent"]

LOWEST, HIGHEST = -7.0, 12.0
LOW, HIGH = -3.0, 5.0
BORDER_OVER_CUSTOM = 12.0 / 15.0
# after so many steps a reference that still must reach farther is taken to the end of the border
WIDENINGS = 20
# lines at the very end of the border are not beyond it [V]
ROUNDING = 1e-5
# references are taken this share of their last step beyond what is wanted, so that they settle
OVERSHOOT = 1e-3


@attrs.frozen(kw_only=True, eq=False)
class Inputs:
    """Receiver inputs of a network, two for each loaded node.

    Parameters
    ----------
    branches : array, shape (2 n,)
        Branches of the inputs, noninverting and inverting in turn [-].
    vertices : array, shape (n,)
        Their nodes [-].
    mismatch : array, shape (n,)
        Stated difference between the two; NaN where none is stated [-].
    pinned : array of bool, shape (n,)
        Whether something other than inputs ties the node's common to its lines [-].
    alone : array of bool, shape (n,)
        Whether the node's common is joined to nothing but its own inputs [-].
    joint : array, shape (n,)
        One unknown for all commons that something other than inputs ties together [-].
    lines : array, shape (n, 2)
        For each of the node's two lines, one unknown of all that something other than inputs joins to it [-].
    """

    branches: Indices
    vertices: Indices
    mismatch: Floats
    pinned: np.ndarray
    alone: np.ndarray
    joint: Indices
    lines: Indices

    @property
    def tied(self) -> np.ndarray:
        """Whether something other than inputs joins the node's two lines."""
        return np.asarray(self.lines[:, 0] == self.lines[:, 1])


def inputs_of(network: Network, nodes: tuple[Node, ...]) -> Inputs:
    """Return the receiver inputs of a network.

    Parameters
    ----------
    network : Network
        The network [-].
    nodes : tuple of Node
        The nodes of its bus [-].

    Returns
    -------
    Inputs
        The inputs [-].
    """
    branches = network.branches_of("input")
    place = {name: index for index, name in enumerate(network.nodes)}
    vertices = np.array([place[network.owners[index]] for index in branches[::2]], dtype=np.intp)
    stated = [nodes[vertex].transceiver for vertex in vertices]
    mismatch = [np.nan if part is None or part.input_mismatch is None else part.input_mismatch for part in stated]
    others = np.ones(len(network.kinds), dtype=np.bool_)
    others[branches] = False
    others &= network.branches.conductance > 0
    # what stands at a given potential, such as an earth without resistance, is tied to all else that does
    given = network.fixed[network.fixed >= network.layout.vertices * network.layout.width]
    part = joined_parts(
        network.layout.size,
        np.concatenate((network.branches.start[others], given[:-1])),
        np.concatenate((network.branches.end[others], given[1:])),
    )
    own = network.terminals[vertices]
    common = part[own[:, 2]]
    shared = np.bincount(common, minlength=network.layout.size)[common] > 1
    return Inputs(
        branches=branches,
        vertices=vertices,
        mismatch=np.array(mismatch),
        pinned=(common == part[own[:, 0]]) | (common == part[own[:, 1]]),
        alone=~shared,
        joint=common,
        lines=part[own[:, :2]],
    )


def border_box(network: Network, inputs: Inputs, reading: ReadingName) -> Box:
    """Return the network with its intervals, every input at 15 kohm per unit load.

    Parameters
    ----------
    network : Network
        The network [-].
    inputs : Inputs
        Its receiver inputs [-].
    reading : str
        "matched" or "independent"; a stated mismatch lightens inputs in the latter [-].

    Returns
    -------
    Box
        The intervals; NaN where a limit is not stated [S].
    """
    lower, upper = network.conductance_lower.copy(), network.conductance_upper.copy()
    spread = np.repeat(np.nan_to_num(inputs.mismatch), 2) if reading == "independent" else 0.0
    lower[inputs.branches] *= BORDER_OVER_CUSTOM * (1.0 - spread)
    upper[inputs.branches] *= BORDER_OVER_CUSTOM
    ends = network.branches.start, network.branches.end
    return Box(network.layout, *ends, lower, upper, network.fixed, network.in_series)


class _Entries(NamedTuple):
    branch: list[int]
    source: list[int]
    sign: list[float]
    lower: list[float]
    upper: list[float]


def _fixed_sources(network: Network, entries: _Entries) -> tuple[list[int], list[int]]:
    """Add supplies, earths and given potentials as sources; return unknowns that stand at one, and which."""
    live = (network.emf_lower != 0.0) | (network.emf_upper != 0.0)
    for branch in np.flatnonzero(live):
        if network.kinds[branch] != "input":
            _add(entries, [(int(branch), 1.0)], network.emf_lower[branch], network.emf_upper[branch])
    return _held_sources(network, entries, network.given_lower, network.given_upper)


def _held_sources(
    network: Network, entries: _Entries, lower: Floats, upper: Floats
) -> tuple[list[int], list[int]]:
    held, held_source = [], []
    for unknown, low, high in zip(network.fixed, lower, upper, strict=True):
        if low != 0.0 or high != 0.0:
            touching = [(int(b), -1.0) for b in np.flatnonzero(network.branches.start == unknown)]
            touching += [(int(b), 1.0) for b in np.flatnonzero(network.branches.end == unknown)]
            held.append(int(unknown))
            held_source.append(len(entries.lower))
            _add(entries, touching, low, high)
    return held, held_source


def _add(entries: _Entries, touching: list[tuple[int, float]], lower: float, upper: float) -> None:
    for branch, sign in touching:
        entries.branch.append(branch)
        entries.source.append(len(entries.lower))
        entries.sign.append(sign)
    entries.lower.append(float(lower))
    entries.upper.append(float(upper))


def border_sources(network: Network, inputs: Inputs, reading: ReadingName) -> tuple[Sources, Indices]:
    """Return every source under a reading, the references of the inputs at -3 V .. +5 V.

    Parameters
    ----------
    network : Network
        The network [-].
    inputs : Inputs
        Its receiver inputs [-].
    reading : str
        "matched" or "independent" [-].

    Returns
    -------
    tuple
        The sources, and for each input the source that is its reference [V].
    """
    entries = _Entries([], [], [], [], [])
    held, held_source = _fixed_sources(network, entries)
    reference = np.empty(len(inputs.branches), dtype=np.intp)
    for index in range(len(inputs.vertices)):
        first, second = inputs.branches[2 * index : 2 * index + 2].tolist()
        together = reading == "matched" or not np.isnan(inputs.mismatch[index])
        groups = [[first, second]] if together else [[first], [second]]
        reference[2 * index] = len(entries.lower)
        reference[2 * index + 1] = len(entries.lower) + len(groups) - 1
        for group in groups:
            _add(entries, [(branch, 1.0) for branch in group], LOW, HIGH)
    sources = _sources(entries, held, held_source)
    return sources, reference


def nominal_sources(network: Network) -> Sources:
    """Return every source at its nominal value, inputs pulling to their own input references.

    Parameters
    ----------
    network : Network
        The network [-].

    Returns
    -------
    Sources
        The sources, each exact [V].
    """
    entries = _Entries([], [], [], [], [])
    for branch in np.flatnonzero(network.emf):
        _add(entries, [(int(branch), 1.0)], network.emf[branch], network.emf[branch])
    held, held_source = _held_sources(network, entries, network.given, network.given)
    return _sources(entries, held, held_source)


def _sources(entries: _Entries, held: list[int], held_source: list[int]) -> Sources:
    return Sources(
        np.array(entries.branch, dtype=np.intp),
        np.array(entries.source, dtype=np.intp),
        np.array(entries.sign, dtype=np.float64),
        np.array(entries.lower, dtype=np.float64),
        np.array(entries.upper, dtype=np.float64),
        np.array(held, dtype=np.intp),
        np.array(held_source, dtype=np.intp),
    )


class Read(NamedTuple):
    """The sources under one reading of the inputs.

    `wide` has every reference as far as it may reach; `narrow` inside -3 V .. +5 V, and what that attains is surely
    attained. `reference` is the source of each input; `slack` by how much the references of commons that nothing
    ties to the lines reach farther. `outside` names nodes whose lines may leave -7 V .. +12 V, where the border says
    nothing.
    """

    wide: Sources
    narrow: Sources
    reference: Indices
    slack: Floats
    outside: tuple[str, ...]


def read_inputs(network: Network, inputs: Inputs, middle: Middle, reading: ReadingName) -> Read:
    """Return the sources of the undriven network under one reading of the inputs.

    Parameters
    ----------
    network : Network
        The network [-].
    inputs : Inputs
        Its receiver inputs [-].
    middle : Middle
        Its box, solved in the middle [-].
    reading : str
        "matched" or "independent" [-].

    Returns
    -------
    Read
        The sources [V].

    Notes
    -----
    Beyond -3 V .. +5 V a current of zero is still inside the border, so the reference of an input reaches as far as
    its voltage may. Where something other than inputs ties a common to its lines the two are widened in turn until
    they agree. Where nothing does, the commons may be shifted against the lines without any current changing. For the
    common of a single node -3 V .. +5 V is then enough as long as its lines differ by no more than the 8 V between the
    two, and beyond that half of what is more; for the joint common of several nodes what lines differ along the bus and
    commons among each other comes on top. Lines that nothing joins at all may stand anywhere. In any case -7 V .. +12 V
    is enough for every state of which the border says something.
    """
    narrow, reference = border_sources(network, inputs, reading)
    against = held_responses(middle, narrow, input_pairs(network, inputs))
    lower, upper = narrow.lower, narrow.upper
    slack = np.zeros(len(inputs.vertices))
    widening = Widening()
    while True:
        found = enclosed(against, middle.half, lower, upper)
        seen = found.outer
        if seen is None:
            break
        slack = _slack(network, inputs, middle, narrow._replace(lower=lower, upper=upper))
        wanted = widened(lower, upper, reference, seen, inputs.pinned, slack)
        if covers((lower, upper), wanted):
            break
        nearer = lower, upper
        if not widening.creeps:
            beyond = seen.upper - found.middle.upper
            pinned = np.repeat(inputs.pinned, 2)
            reached = references_reach(against.outputs, beyond, lower, upper, reference, pinned, (LOWEST, HIGHEST))
            nearer = np.minimum(reached[0], lower), np.maximum(reached[1], upper)
        lower, upper = widening.farther(nearer, widened(*nearer, reference, seen, inputs.pinned, slack))
    outside = () if seen is None else outside_border(seen, inputs.pinned, inputs, network)
    return Read(narrow._replace(lower=lower, upper=upper), narrow, reference, slack, outside)


def input_pairs(network: Network, inputs: Inputs) -> Pairs:
    """Return every input's line and common as a pair."""
    own = network.terminals[inputs.vertices]
    return Pairs(own[:, :2].ravel(), np.repeat(own[:, 2], 2))


def widened(
    lower: Floats, upper: Floats, reference: Indices, seen: Interval, pinned: np.ndarray, slack: Floats
) -> tuple[Floats, Floats]:
    """Return limits of the sources with the inputs' references as far as their voltages reach.

    Parameters
    ----------
    lower, upper : array, shape (s,)
        Limits so far [V].
    reference : array of int, shape (2 n,)
        The source of each input [-].
    seen : Interval, shape (2 n,)
        Bounds of the inputs' voltages against their commons [V].
    pinned : array of bool, shape (n,)
        Whether something other than inputs ties the common to the lines [-].
    slack : array, shape (n,)
        How much farther references of the others reach [V].

    Returns
    -------
    tuple of array, shape (s,)
        The wider limits [V].
    """
    held, farther = np.repeat(pinned, 2), np.repeat(slack, 2)
    low = np.where(held, np.clip(seen.lower, LOWEST, LOW), np.maximum(LOW - farther, LOWEST))
    high = np.where(held, np.clip(seen.upper, HIGH, HIGHEST), np.minimum(HIGH + farther, HIGHEST))
    lower, upper = lower.copy(), upper.copy()
    np.minimum.at(lower, reference, low)
    np.maximum.at(upper, reference, high)
    return lower, upper


def held_responses(middle: Middle, sources: Sources, pairs: Pairs) -> Responses:
    """Return the responses of pairs of which either end may stand at the value of a source."""
    responses = passive_responses(middle, sources, pairs)
    outputs = responses.outputs.copy()
    for unknown, source in zip(sources.held, sources.held_source, strict=True):
        outputs[source, pairs.plus == unknown] += 1.0
        outputs[source, pairs.minus == unknown] -= 1.0
    return responses._replace(outputs=outputs)


def _slack(network: Network, inputs: Inputs, middle: Middle, sources: Sources) -> Floats:
    """Return how much farther references reach at nodes whose commons only inputs tie to the lines."""
    loose, own = ~inputs.pinned, network.terminals[inputs.vertices]
    slack = np.zeros(len(loose))
    if not loose.any():
        return slack
    slack[loose & ~inputs.tied] = HIGHEST - HIGH
    alone = np.flatnonzero(loose & inputs.tied & inputs.alone)
    slack[alone] = excess(_largest(middle, sources, Pairs(own[alone, 0], own[alone, 1])))
    joint = np.flatnonzero(loose & inputs.tied & ~inputs.alone)
    if len(joint):
        slack[joint] = _joint_slack(network, middle, sources, own[joint])
    return slack


def excess(difference: Floats) -> Floats:
    """Return half of what lines differ by beyond the 8 V between the two ends of the border's linear part."""
    return np.maximum(0.0, (difference - (HIGH - LOW)) / 2)


def _joint_slack(network: Network, middle: Middle, sources: Sources, own: Indices) -> float:
    """Return what lines differ along the bus and across, and commons among each other."""

    def drops(*kinds: str) -> float:
        along = np.concatenate([network.branches_of(kind) for kind in kinds])
        ends = Pairs(network.branches.start[along], network.branches.end[along])
        return float(_largest(middle, sources, ends).sum())

    across = _largest(middle, sources, Pairs(own[:, 0], own[:, 1])).max()
    given = network.given_upper.max(initial=0.0) - network.given_lower.min(initial=0.0)
    return float(drops("line") + across + drops("reference", "common", "earth") + given)


def _largest(middle: Middle, sources: Sources, pairs: Pairs) -> Floats:
    outer = enclosed(held_responses(middle, sources, pairs), middle.half, sources.lower, sources.upper).outer
    if outer is None:
        return np.full(len(pairs.plus), np.inf)
    return np.maximum(np.abs(outer.lower), np.abs(outer.upper))


Limits: TypeAlias = tuple[Floats, Floats]


def covers(limits: Limits, wanted: Limits) -> bool:
    """Return whether limits reach as far as is wanted, but for rounding."""
    return bool((limits[0] <= wanted[0] + SETTLED).all() and (limits[1] >= wanted[1] - SETTLED).all())


class Widening:
    """Takes limits farther, step by step, to where they cover what is wanted of them.

    The voltage that an input may reach rises with how far its reference reaches, by less than one to one, so that steps
    shrink by about one ratio each: the second step is carried on to where all that follow would lead.
    """

    def __init__(self, overshoot: float = OVERSHOOT) -> None:
        self._overshoot = overshoot
        self._steps = 0
        self._last: Limits | None = None

    @property
    def creeps(self) -> bool:
        """Whether so many steps were taken that the next goes to the end of the border."""
        return self._steps >= WIDENINGS

    def farther(self, limits: Limits, wanted: Limits) -> Limits:
        """Return limits that go a little beyond what is wanted, where it is beyond them."""
        step = limits[0] - wanted[0], wanted[1] - limits[1]
        self._steps += 1
        if self._steps > WIDENINGS:
            return (
                np.where(step[0] > 0, np.minimum(wanted[0], LOWEST), limits[0]),
                np.where(step[1] > 0, np.maximum(wanted[1], HIGHEST), limits[1]),
            )
        low, high = step
        if self._last is not None:
            low, high = (_carried_on(now, then) for now, then in zip(step, self._last, strict=True))
            self._last = None
        else:
            self._last = step
        moved = [(1.0 + self._overshoot) * np.maximum(each, 0.0) for each in (low, high)]
        return (
            np.where(step[0] > 0, np.maximum(limits[0] - moved[0], np.minimum(wanted[0], LOWEST)), limits[0]),
            np.where(step[1] > 0, np.minimum(limits[1] + moved[1], np.maximum(wanted[1], HIGHEST)), limits[1]),
        )


def _carried_on(now: Floats, then: Floats) -> Floats:
    """Return where steps lead that shrink by the ratio of the last two."""
    return np.asarray(now / (1.0 - np.clip(now / np.maximum(then, 1e-300), 0.0, 0.999)))


def outside_border(seen: Interval, pinned: np.ndarray, inputs: Inputs, network: Network) -> tuple[str, ...]:
    """Return the nodes at whose inputs the border may say nothing, as their lines may leave -7 V .. +12 V."""
    beyond = np.repeat(pinned, 2) & ((seen.lower < LOWEST - ROUNDING) | (seen.upper > HIGHEST + ROUNDING))
    vertices = dict.fromkeys(inputs.vertices[index // 2] for index in np.flatnonzero(beyond))
    return tuple(network.nodes[vertex] for vertex in vertices)


# corners are solved where they decide: as many as keep this many unknowns, worst outputs first
MOST_UNKNOWNS_AT_CORNERS = 20_000


class Bounded(NamedTuple):
    """Outputs with proved and attained limits; NaN where nothing is proved."""

    lower: Floats
    upper: Floats
    attained_lower: Floats
    attained_upper: Floats


def bounded_outputs(middle: Middle, read: Read, pairs: Pairs) -> Bounded:
    """Return proved and attained limits of outputs of the undriven network.

    Parameters
    ----------
    middle : Middle
        The network's box, solved in the middle [-].
    read : Read
        Its sources under one reading [V].
    pairs : Pairs
        The outputs [-].

    Returns
    -------
    Bounded
        The limits [V].
    """
    lower, attained_lower = _least(middle, read, pairs)
    upper, attained_upper = _least(middle, read, Pairs(pairs.minus, pairs.plus))
    return Bounded(lower, -upper, attained_lower, -attained_upper)


def outer_outputs(middle: Middle, read: Read, pairs: Pairs) -> Interval:
    """Return proved limits of outputs of the undriven network, about the middle alone.

    Parameters
    ----------
    middle : Middle
        The network's box, solved in the middle [-].
    read : Read
        Its sources under one reading [V].
    pairs : Pairs
        The outputs; either end may stand at the value of a source [-].

    Returns
    -------
    Interval
        The limits; NaN where nothing is proved [V].
    """
    found = enclosed(held_responses(middle, read.wide, pairs), middle.half, read.wide.lower, read.wide.upper).outer
    unknown = np.full(len(pairs.plus), np.nan)
    return Interval(unknown, unknown) if found is None or read.outside else found


def _least(middle: Middle, read: Read, pairs: Pairs) -> tuple[Floats, Floats]:
    """Return proved and attained least values: about the middle for all, at their own corners for the worst."""
    responses = passive_responses(middle, read.wide, pairs)
    about = enclosed(responses, middle.half, read.wide.lower, read.wide.upper)
    attained = about.middle.lower
    if read.wide is not read.narrow:
        attained = extremes(responses.outputs, read.narrow.lower, read.narrow.upper).lower
    if about.outer is None or about.branches is None:
        return np.full(len(pairs.plus), np.nan), attained
    least = about.outer.lower.copy()
    attained = attained.copy()
    if not len(middle.tolerant):
        return least, attained
    count = max(1, MOST_UNKNOWNS_AT_CORNERS // middle.box.layout.size)
    worst = np.argsort(least, kind="stable")[:count]
    reach = Interval(about.branches.lower[:, None], about.branches.upper[:, None])
    chosen = Pairs(pairs.plus[worst], pairs.minus[worst])
    towards = least_corners(responses, worst, read.wide.lower, read.wide.upper)
    attainable = Interval(read.narrow.lower, read.narrow.upper)
    corner = least_at_corners(middle, read.wide, attainable, chosen, towards, reach)
    least[worst] = np.maximum(least[worst], corner.bound)
    attained[worst] = np.minimum(attained[worst], corner.attained)
    return least, attained
