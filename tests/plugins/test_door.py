"""What a stranger's rule or package may try: each is told, none shifts an answer, ends the host or passes unseen."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import rs485kit as rk
from plugin_packages import FAILS, HEAD, PASSES, healthy, install, plugin, rule, run_in, wheel
from rs485kit import discovery
from rs485kit.plugins.causes import cause
from rs485kit.rules.finding import LONGEST_IN_REPORT

FORK = "import os; os.fork()\n    "
CHANGES = 'object.__setattr__(analyses.bus, "nodes", 7)\n    '


def put(folder, name, prefix, source, **points):
    """Install one package with rules under a prefix; return the scratch folder."""
    module = name.replace("-", "_")
    given = points or {"rules": {prefix: f"{module}:plugin"}}
    return install(folder / "scratch", wheel(folder, name, {f"{module}.py": source}, **given))


def rules(prefix, **bodies):
    """Source of a plugin with a rule for each body."""
    sources = [rule(f"{prefix}.{name}", body) for name, body in bodies.items()]
    return plugin(*sources, names=", ".join(f"{prefix}_{name}" for name in bodies))


def test_a_rule_that_forks_shifts_no_answer(tmp_path, reach, canal):
    bodies = {"a": FORK + FAILS, "b": PASSES, "c": FORK + FORK + PASSES, "d": FAILS, "e": FORK + "raise SystemExit", "f": PASSES}
    reach(put(tmp_path, "forks", "forks", rules("forks", **bodies)))
    report = rk.check(canal, isolate=True, policy=rk.Policy(select="forks"), time_limit=20)
    assert {found.rule: found.verdict for found in report.findings} == {
        "forks.a": "fail", "forks.b": "pass", "forks.c": "pass", "forks.d": "fail", "forks.f": "pass"
    }  # fmt: skip
    assert [error.name for error in report.plugin_errors] == ["forks.e"]


def test_an_isolated_rule_that_changes_the_bus_is_named_and_spoils_nothing(tmp_path, reach, canal):
    reach(put(tmp_path, "meddles", "meddles", rules("meddles", a=CHANGES + PASSES, b="len(analyses.bus.nodes)\n    " + PASSES)))
    report = rk.check(canal, isolate=True, policy=rk.Policy(select="meddles"), time_limit=20)
    assert [(each.name, "changed the bus" in each.cause) for each in report.plugin_errors] == [("meddles.a", True)]
    assert report.rules == ("meddles.b",)
    assert not report.passed


def test_a_bus_that_can_no_longer_be_told_is_a_changed_bus(tmp_path, reach, canal):
    reach(put(tmp_path, "breaks", "breaks", rules("breaks", a=CHANGES + PASSES)))
    report = rk.check(canal, policy=rk.Policy(select="breaks"))
    assert any("the bus was changed" in error.cause for error in report.plugin_errors)
    assert report.described.startswith("3 devices")


@pytest.mark.parametrize("policy", [rk.Policy(require="weir-one"), rk.Policy(require="weir-one", select="structure")])
def test_a_required_plugin_whose_prefix_is_claimed_twice_does_not_pass(tmp_path, reach, canal, policy):
    made = [wheel(tmp_path, f"weir-{n}", {f"weir_{n}.py": healthy("weir")}, rules={"weir": f"weir_{n}:plugin"}) for n in ("one", "two")]
    reach(install(tmp_path / "scratch", *made))
    report = rk.check(canal, policy=policy)
    assert {error.package for error in report.plugin_errors} >= {"weir-one"}
    assert not report.passed


@pytest.mark.parametrize("prefix", ["idle", "site", "LOUD"])
def test_a_required_plugin_with_a_prefix_that_is_refused_does_not_pass(tmp_path, reach, canal, prefix):
    reach(put(tmp_path, "greedy", prefix, healthy("greedy")))
    report = rk.check(canal, policy=rk.Policy(require="greedy", select="structure"))
    assert {error.package for error in report.plugin_errors} == {"greedy"}


@pytest.mark.parametrize("group", ["rs485kit.rule", "rs485kit.Rules", "rs485-kit.rules", "rs485kit_rules", "rs458kit.rules"])
def test_a_group_of_entry_points_that_is_mistyped_is_told(tmp_path, reach, canal, group, monkeypatch):
    monkeypatch.setattr(discovery, "RULES", group)
    made = wheel(tmp_path, "typing", {"typing_x.py": healthy("typing")}, rules={"typing": "typing_x:plugin"})
    monkeypatch.undo()
    monkeypatch.delenv(discovery.SWITCH, raising=False)
    reach(install(tmp_path / "scratch", made))
    monkeypatch.syspath_prepend(str(tmp_path / "scratch"))
    report = rk.check(canal, policy=rk.Policy(select="structure"))
    assert [error.package for error in report.plugin_errors] == ["typing"]
    assert f'"{group}" is read by nobody' in report.plugin_errors[0].cause


ODD = '''
class Text(str):
    def __len__(self): raise SystemExit(0)
    def __format__(self, spec): raise SystemExit(0)
    def __getitem__(self, key): raise SystemExit(0)
    def isprintable(self): raise SystemExit(0)
    def split(self, *a): raise SystemExit(0)
    def encode(self, *a): raise SystemExit(0)
class Leaves(Exception):
    def __str__(self): raise SystemExit(0)
class Odd(Exception):
    def __str__(self): return Text("odd")
'''


@pytest.mark.parametrize("more", [[], ["--isolate"]])
@pytest.mark.parametrize(
    "body", ["raise Leaves", "raise Odd", 'yield rk.unknown(rk.Place.bus(), Text("odd"))', "yield rk.unknown(rk.Place.bus(), Leaves())"]
)
def test_the_text_of_a_plugin_ends_no_host(tmp_path, body, more):
    site = put(tmp_path, "odd", "odd", plugin(rule("odd.odd", body), names="odd_odd", head=HEAD + ODD))
    done = run_in(site, "check", "docs/examples/canal_corrected.toml", "--select", "odd", "--format", "json", *more)
    assert done.returncode == 3
    assert "odd" in json.dumps(json.loads(done.stdout))


def test_a_cause_is_told_of_any_exception():
    class Kind(type):
        @property
        def __name__(cls):
            raise SystemExit(0)

    class Laid(Exception, metaclass=Kind):  # noqa: N818
        __traceback__ = property(lambda self: 1 / 0)

    assert cause(Laid("x")) == "Laid: x"


def test_a_pattern_with_wildcards_and_a_plugin_that_does_not_load_is_no_wrong_input(tmp_path, reach, canal):
    reach(put(tmp_path, "broken", "broken", "raise ValueError('no')\n"))
    for pattern in ("brok*", "broken.*", "*.deep", "br?ken.x", "broken.x"):
        report = rk.check(canal, policy=rk.Policy(select=["structure", pattern], skip=["brok*.x"]))
        assert [error.name for error in report.plugin_errors] == ["broken"]


def test_the_child_imports_nothing_from_the_working_directory(tmp_path, reach, canal, monkeypatch):
    reach(put(tmp_path, "sound", "sound", healthy("sound")))
    (tmp_path / "json.py").write_text("raise SystemExit('taken from the working directory')\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    report = rk.check(canal, isolate=True, policy=rk.Policy(select="sound"))
    assert report.plugin_errors == ()


def test_the_child_ends_with_its_host(tmp_path):
    mark = tmp_path / "pid"
    body = f"import os, time; open({str(mark)!r}, 'w').write(str(os.getpid()))\n    while True: time.sleep(0.01)"
    site = put(tmp_path, "loops", "loops", rules("loops", a=body))
    script = f"import sys; sys.path.insert(0, {str(site)!r})\nimport rs485kit as rk\nrk.check(rk.Bus(nodes=[rk.Node(name='a')]), isolate=True, time_limit=60)"
    host = subprocess.Popen([sys.executable, "-c", script])
    end = time.monotonic() + 60
    while not (mark.exists() and mark.read_text()) and time.monotonic() < end:
        time.sleep(0.05)
    child = int(mark.read_text())
    host.send_signal(signal.SIGTERM)
    host.wait(timeout=10)
    while _lives(child) and time.monotonic() < end:
        time.sleep(0.05)
    assert not _lives(child)


def _lives(process):
    try:
        state = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def test_a_module_that_is_gone_although_its_distribution_is_installed_is_explained(tmp_path, reach, canal):
    reach(put(tmp_path, "gone", "gone", healthy("gone"), rules={"gone": "gone_elsewhere:plugin"}))
    (error,) = rk.check(canal, policy=rk.Policy(select=["gone", "structure"])).plugin_errors
    assert "install it again" in error.cause


@pytest.mark.parametrize("isolate", [False, True])
def test_a_long_text_is_cut_with_a_note(tmp_path, reach, canal, isolate):
    reach(put(tmp_path, "long", "long", rules("long", a='yield rk.unknown(rk.Place.bus(), "x" * 10_000_000, missing="y" * 5000)')))
    (found,) = rk.check(canal, isolate=isolate, policy=rk.Policy(select="long")).findings
    assert len(found.message) < LONGEST_IN_REPORT + 100
    assert "10000000 characters in all" in found.message
    assert len(found.missing) == 1
    assert len(found.missing[0]) < LONGEST_IN_REPORT + 100


@pytest.mark.parametrize("body", ['yield rk.unknown(rk.Place.bus(), "x", missing="zero")', "raise ValueError"])
def test_a_waiver_is_not_to_be_removed_while_its_rule_cannot_judge(tmp_path, reach, canal, body):
    reach(put(tmp_path, "weir", "weir", rules("weir", a=body)))
    waiver = rk.Waiver(rule="weir.a", nodes="gauge", reason="dry")
    report = rk.check(canal, policy=rk.Policy(select="weir", waivers=waiver))
    (found,) = [each for each in report.findings if each.rule == "waiver.matches-nothing"]
    assert "keep the waiver" in found.remedy
    assert "remove" not in found.remedy
