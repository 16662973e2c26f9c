"""What runs in the other process: it has to be importable there, so it stands in a module of its own."""

import rs485kit as rk


@rk.rule("site.gate-missing", title="The bus has no gate", basis="house")
def gate_missing(analyses):
    """No node is a gate."""
    gates = sum(node.name.startswith("gate") for node in analyses.bus.nodes)
    yield rk.at_least(rk.Place.bus(), "gates", measured=float(gates), limit=1.0, unit="")


def raised(error):
    raise error


def asked(analyses, name):
    return analyses.bus.node(name)


def report_with(bus, given):
    return rk.check(bus, rules=[given])
