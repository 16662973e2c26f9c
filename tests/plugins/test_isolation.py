"""What cannot be contained in process: imports and rules that never come back, or end the process."""

import subprocess
import sys
import time

import pytest

import rs485kit as rk
from plugin_packages import FAILS, PASSES, healthy, install, plugin, rule, run_in, wheel
from rs485kit.errors import InputError
from rs485kit.rules import built_in

LOOP = "while True:\n        try:\n            import time\n            while True: time.sleep(0.01)\n        except BaseException: pass"
LEAVES = "import os; os._exit(5)"
STOPPED = "had not come back after 2 s, and was stopped"


@pytest.fixture(scope="module")
def wild(tmp_path_factory):
    """An environment with plugins that hang or end the process at every step, between sound ones."""
    folder = tmp_path_factory.mktemp("scratch")
    rules = {
        "wild.a-sound": PASSES,
        "wild.b-loops": LOOP,
        "wild.c-fails": FAILS,
        "wild.d-leaves": LEAVES,
        "wild.e-kills": "import os, signal; os.kill(os.getpid(), signal.SIGTERM)",
        "wild.f-closes": "import os; os.closerange(3, 64)\n    " + PASSES,
        "wild.g-reads": "input()",
        "wild.h-sound": PASSES,
    }
    functions = ", ".join(name.replace(".", "_").replace("-", "_") for name in rules)
    source = plugin(*(rule(name, body) for name, body in rules.items()), names=functions)
    wheels = [
        wheel(folder, "a-hang", {"a_hang.py": "import time\nwhile True: time.sleep(0.01)\n"}, rules={"a-hang": "a_hang:plugin"}),
        wheel(folder, "b-exit", {"b_exit.py": "import os\nos._exit(0)\n"}, rules={"b-exit": "b_exit:plugin"}),
        wheel(folder, "wild", {"wild.py": source}, rules={"wild": "wild:plugin"}),
        wheel(folder, "z-sound", {"z_sound.py": healthy("z-sound")}, rules={"z-sound": "z_sound:plugin"}),
    ]
    return install(folder / "site", *wheels)


def test_each_culprit_is_ended_and_the_check_goes_on_behind_it(wild, reach, canal):
    reach(wild)
    start = time.monotonic()
    report = rk.check(canal, isolate=True, time_limit="2 s")
    assert time.monotonic() - start < 60
    causes = {error.name: error.cause for error in report.plugin_errors}
    assert causes["a-hang"] == f"it cannot be loaded: its import {STOPPED}"
    assert causes["b-exit"] == "it cannot be loaded: its import ended the process (exit status 0)"
    assert causes["wild.b-loops"] == f"it {STOPPED}"
    assert causes["wild.d-leaves"] == "it ended the process (exit status 5)"
    assert causes["wild.e-kills"] == "it ended the process (signal 15)"
    assert causes["wild.f-closes"].startswith("it ended the process")
    assert causes["wild.g-reads"].startswith("EOFError")
    assert set(causes) == {"a-hang", "b-exit", "wild.b-loops", "wild.d-leaves", "wild.e-kills", "wild.f-closes", "wild.g-reads"}
    assert {"wild.a-sound", "wild.c-fails", "wild.h-sound", "z-sound.sound"} <= set(report.rules)
    assert {each.name for each in built_in()} <= set(report.rules)
    assert [found.rule for found in report.fails if found.rule.startswith("wild")] == ["wild.c-fails"]
    assert not {name for name in sys.modules if name in ("wild", "a_hang", "b_exit", "z_sound")}
    assert report.exit_status == 1


@pytest.fixture(scope="module")
def tame(tmp_path_factory):
    """An environment with a plugin that has a parameter, an analysis of its own, and something to say everywhere."""
    folder = tmp_path_factory.mktemp("scratch")
    source = '''
import attrs
import rs485kit as rk

@attrs.frozen
class Depths:
    values: tuple
    assumed: tuple = ("every gate is 2 m deep",)

@rk.as_analysis()
def depths(analyses):
    return Depths(tuple(2.0 for node in analyses.bus.nodes))

@rk.rule("tame.too-deep", title="Too deep", basis="house", source="district book, 4", safety=True,
         parameters=[rk.parameter("most", "1.5 m", unit="m", meaning="deepest gate")])
def too_deep(analyses, *, most):
    """A gate is too deep."""
    for node, depth in zip(analyses.bus.nodes, depths(analyses).values):
        yield rk.at_most(rk.Place.node(node.name), "depth", measured=depth, limit=most, unit="m", remedy="fill it")
    yield rk.at_most(rk.Place.bus(), "depth", measured=float("nan"), limit=1.0, unit="m", missing=("gauge",))
    yield rk.Finding(verdict="marginal", where=rk.Place.path("gate-1", "gauge"), message="\\ud800 odd \\x07 text")

plugin = rk.Plugin(api=1, rules=too_deep)
'''
    return install(folder / "site", wheel(folder, "tame", {"tame.py": source}, version="2.1", rules={"tame": "tame:plugin"}))


def test_an_isolated_report_is_the_same_as_one_in_process(tame, reach, canal):
    reach(tame)
    policy = rk.Policy(settings={"tame.too-deep": {"most": "1.9 m"}}, waivers=rk.Waiver(rule="tame.too-deep", nodes="gauge", reason="dry"))
    inside, outside = (rk.check(canal, policy=policy, isolate=isolate) for isolate in (False, True))
    assert inside.to_json() == outside.to_json()
    assert inside.findings == outside.findings
    assert "every gate is 2 m deep" in outside.assumptions
    assert sum(found.rule == "tame.too-deep" for found in outside.findings) == 5
    assert "a value of 1.9 m" not in outside.to_text()


@pytest.mark.parametrize("isolate", [False, True])
def test_a_wrong_setting_of_a_plugin_is_wrong_input(tame, reach, canal, isolate):
    reach(tame)
    with pytest.raises(InputError, match=r'policy\.settings\["tame\.too-deep"\]\.most: given .*1 s'):
        rk.check(canal, policy=rk.Policy(settings={"tame.too-deep": {"most": "1 s"}}), isolate=isolate)
    with pytest.raises(InputError, match=r'policy\.settings: given "tame\.too-deap".*did you mean "tame\.too-deep"'):
        rk.check(canal, policy=rk.Policy(settings={"tame.too-deap": {"most": "1 m"}}), isolate=isolate)


@pytest.mark.parametrize("limit", [0, -1, float("nan"), "1 m", "soon", 1e9, True])
def test_what_is_no_time_limit_is_refused(canal, limit):
    with pytest.raises(InputError, match="time_limit"):
        rk.check(canal, isolate=True, time_limit=limit)


def test_a_time_limit_without_isolation_is_refused(canal):
    with pytest.raises(InputError, match="none without isolate=True"):
        rk.check(canal, time_limit=5)


def test_isolation_needs_an_interpreter(canal, monkeypatch):
    monkeypatch.setattr(sys, "executable", "")
    with pytest.raises(InputError, match=r"sys\.executable"):
        rk.check(canal, isolate=True)


def test_an_interpreter_that_cannot_start_is_told(tame, reach, canal, monkeypatch):
    reach(tame)
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    report = rk.check(canal, isolate=True)
    assert "cannot be started" in report.plugin_errors[0].cause
    monkeypatch.setattr(sys, "executable", "/bin/false")
    report = rk.check(canal, isolate=True)
    assert "ended the process" in report.plugin_errors[0].cause


def test_a_script_needs_no_main_guard(tame, tmp_path):
    script = tmp_path / "script.py"
    script.write_text(
        f"import sys; sys.path.insert(0, {str(tame)!r})\n"
        "import rs485kit as rk\n"
        "print('once')\n"
        "bus = rk.Bus(nodes=[rk.Node(name='gate-1'), rk.Node(name='gauge')])\n"
        "print(rk.check(bus, isolate=True, policy=rk.Policy(select='tame')).rules)\n",
        encoding="utf-8",
    )
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["once", "('tame.too-deep',)"]


def test_the_command_line_isolates(wild):
    done = run_in(wild, "check", "docs/examples/canal_corrected.toml", "--select", "wild", "--isolate", "--time-limit", "2")
    assert done.returncode == 1
    assert "wild.b-loops (wild 1.0): it had not come back after 2 s" in " ".join(done.stdout.split())
    assert run_in(wild, "check", "docs/examples/canal_corrected.toml", "--time-limit", "2").returncode == 2


def test_nothing_is_started_where_no_plugin_is_installed(canal, monkeypatch):
    monkeypatch.setattr(subprocess, "Popen", None)
    assert rk.check(canal, isolate=True).plugin_errors == ()
