"""Rules on bias networks: which way they pull, and what is left when one of them loses its supply."""

import math
from collections.abc import Iterable

from rs485kit import analysis
from rs485kit.analysis import IdleLevels
from rs485kit.memo import Analyses
from rs485kit.model import Bus, Node
from rs485kit.network.branches import legs_of
from rs485kit.rules.definition import Rule, rule
from rs485kit.rules.finding import Finding, Place, unknown

SHOWN = 4
# a bus may have a weak network at every node: so many of the strongest are tried, each is a solve of its own
MOST_TRIED = 4


def _listed(names: list[str]) -> str:
    return ", ".join(names[:SHOWN]) + (f" and {len(names) - SHOWN} more" if len(names) > SHOWN else "")


@rule("idle.bias-reversed", title="A bias network pulls the pair towards space", basis="physics")
def bias_reversed(analyses: Analyses) -> Iterable[Finding]:
    """A bias network pulls the wrong way round, alone or against another one.

    What it checks
    --------------
    Which way each bias network and active terminator that is engaged pulls the pair, its legs (`reversed`) and the
    lines of its node (`lines_swapped`) taken together, against the way round in which most receivers are connected.

    Why it matters
    --------------
    A network that pulls towards space holds every receiver in a start bit that never ends. Two of opposite sense
    cancel: a second one hung on crossed does not repair the first, it leaves the pair at nothing. The names of the
    lines are used in both senses, so that this is among the commonest faults.

    Limit and source
    ----------------
    Every network pulls towards mark. It follows from the circuit.

    When to waive
    -------------
    Never; turn the network or its node round.
    """
    bus = analyses.bus
    senses = {node.name: _senses(node) for node in bus.nodes if _senses(node)}
    if not senses:
        return
    right = _way_round(bus)
    wrong = [name for name, each in senses.items() if -right in each]
    others = [name for name, each in senses.items() if right in each]
    if not wrong:
        what = f"every bias network pulls towards mark: {_listed(list(senses))}"
        yield Finding(verdict="pass", where=Place.bus(), message=what)
    for name in wrong:
        if others:
            what = f"bias sets at node {name} and node {_listed(others)} oppose: that at {name} pulls towards space"
        else:
            what = f"the bias set at node {name} is the wrong way round: it pulls towards space"
        remedy = "turn the legs round, or the lines at that node if they are exchanged; do not add a second network"
        yield Finding(verdict="fail", where=Place.node(name), message=what, remedy=remedy)


def _senses(node: Node) -> set[int]:
    """Return which ways the networks of a node pull the pair: 1 towards mark on a bus whose lines are not exchanged."""
    turn = -1 if node.lines_swapped else 1
    return {turn * (1 if leg.up == (leg.line == 0) else -1) for leg in legs_of(node)}


def _way_round(bus: Bus) -> int:
    """Return 1 if at least half of the receivers are connected without exchange of lines, else -1."""
    receivers = [node for node in bus.nodes if node.listens]
    return 1 if 2 * sum(node.lines_swapped for node in receivers) <= len(receivers) else -1


@rule("idle.bias-supply-lost", title="The idle level of others hangs on the supply of one node", basis="house")
def bias_supply_lost(analyses: Analyses) -> Iterable[Finding]:
    """Of several biased nodes one loses its supply, and receivers elsewhere lose their defined level.

    What it checks
    --------------
    The idle level of every receiver with each biased node without supply in turn, or each of the four strongest where
    there are more: receivers elsewhere that are defined before, nominally and at the adverse common mode, and not
    after.

    Why it matters
    --------------
    A network without supply no longer lifts the pair and still loads it. Where several nodes bias the bus, people rely
    on one another's supply without knowing; one device switched off then makes others fail, and not itself.

    Limit and source
    ----------------
    No receiver elsewhere is lost: this library's own demand. A miss is marginal. A bus that one node biases always
    depends on that node: that is said, and passes.

    When to waive
    -------------
    When all biased nodes hang on one supply, so that none is lost alone.
    """
    sources = _sources(analyses.bus)
    if not sources:
        return
    levels = analysis.idle_levels(analyses)
    before = _defined(levels)
    tried = sources[:MOST_TRIED]
    lost = {name: _lost(analyses, before, name) for name in tried}
    if len(sources) == 1:
        what = f"only {sources[0]} biases the bus: without its supply {_count(len(lost[sources[0]]))}"
        yield Finding(verdict="pass", where=Place.node(sources[0]), message=what)
        return
    for name in tried:
        if lost[name]:
            yield Finding(
                verdict="marginal",
                where=Place.node(name),
                message=f"without the supply of {name} {_count(len(lost[name]))}: {_listed(lost[name])}",
                remedy="bias the bus from one node that is powered whenever the bus is in use",
            )
    untold = [row.node for row in levels if math.isnan(row.margin)]
    undefined = [node for node in levels.nodes if node not in before and node not in untold]
    if untold:
        what = f"whether the level at {_listed(untold)} is defined is not known, nor whether it can be lost"
        yield unknown(Place.bus(), what, missing=("transceiver.receiver_upper_threshold (its max)",))
    if undefined:
        # what is undefined already cannot be lost, and is no better for it
        yield Finding(
            verdict="marginal",
            where=Place.bus(),
            message=f"even with every supply on the level is not defined at {_listed(undefined)}",
            remedy="see idle.level-undefined, and ask again when it is met",
        )
    if not undefined and not untold and not any(lost.values()):
        what = f"no receiver loses its level when one of {_listed(tried)} loses its supply"
        yield Finding(verdict="pass", where=Place.bus(), message=what)


def _count(lost: int) -> str:
    if lost == 0:
        return "no other receiver loses a defined level"
    return f"{lost} other receiver{' loses its' if lost == 1 else 's lose their'} defined level"


def _sources(bus: Bus) -> list[str]:
    """Return the nodes that pull the pair up from a supply, those that push the largest current first."""
    strength: dict[str, float] = {}
    for node in bus.nodes:
        for leg in legs_of(node):
            if leg.up and leg.on:
                volts = leg.supply.nominal if leg.supply is not None else None
                current = (volts or 0.0) / (leg.resistance.nominal or float("inf"))
                strength[node.name] = strength.get(node.name, 0.0) + current
    return sorted(strength, key=lambda name: (-strength[name], name))


def _defined(levels: IdleLevels) -> set[str]:
    """Return the receivers whose level is defined, nominally and, as far as it is known, at the adverse common mode."""
    return {row.node for row in levels if row.margin >= 0}


def _lost(analyses: Analyses, before: set[str], name: str) -> list[str]:
    after = analysis.idle_levels(analyses, unpowered=(name,))
    left = _defined(after)
    return [node for node in after.nodes if node in before and node not in left and node != name]


RULES: tuple[Rule, ...] = (bias_reversed, bias_supply_lost)
