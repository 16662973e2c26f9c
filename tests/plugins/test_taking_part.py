"""Who takes part in a check: switches, policies, requirements, order of installation, exit statuses."""

import itertools
import json
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rs485kit as rk
from plugin_packages import FAILS, PASSES, healthy, install, plugin, rule, run_in, wheel
from rs485kit import discovery
from rs485kit.errors import InputError, UnknownNameError
from rs485kit.rules import built_in

BUILT_IN = tuple(sorted(each.name for each in built_in()))
UNKNOWN = 'yield rk.unknown(rk.Place.bus(), "not told", missing=("depth",))'


@pytest.fixture(scope="module")
def district(tmp_path_factory):
    """An environment with two sound plugins and one that brings parts only."""
    folder = tmp_path_factory.mktemp("scratch")
    parts = '[cables.ditch]\nabout = "A cable."\nconductor_resistance = "84 ohm/km"\nsources = { conductor_resistance = "common practice" }\n'
    return install(
        folder / "site",
        wheel(folder, "Canal_Rules", {"canal_rules.py": healthy("canal")}, version="1.4.2", rules={"canal": "canal_rules:plugin"}),
        wheel(folder, "weir-rules", {"weir_rules.py": healthy("weir")}, version="2.0rc1", rules={"weir": "weir_rules:plugin"}),
        wheel(folder, "ditch-parts", {"ditch_parts/__init__.py": "", "ditch_parts/parts.toml": parts}, parts={"ditch": "ditch_parts:parts.toml"}),
    )


# --- switches --------------------------------------------------------------------------------------------------------


def test_with_plugins_switched_off_every_built_in_rule_still_runs(district, reach, canal, monkeypatch):
    reach(district)
    assert set(rk.check(canal).rules) == {*BUILT_IN, "canal.sound", "weir.sound"}
    for report in (rk.check(canal, plugins=False), _with_switch(monkeypatch, "1", canal)):
        assert report.rules == BUILT_IN
        assert (report.plugins, report.plugin_errors) == ((), ())


def _with_switch(monkeypatch, value, bus):
    monkeypatch.setenv(discovery.SWITCH, value)
    return rk.check(bus)


@pytest.mark.parametrize("value", ["", "0"])
def test_an_empty_switch_switches_nothing(district, reach, canal, monkeypatch, value):
    reach(district)
    assert "canal.sound" in _with_switch(monkeypatch, value, canal).rules


def test_settings_and_skips_for_plugins_that_are_off_do_no_harm_and_a_selection_is_told(canal):
    policy = rk.Policy(settings={"canal.sound": {"reserve": 0}}, skip="weir")
    assert rk.check(canal, policy=policy, plugins=False).rules == BUILT_IN
    report = rk.check(canal, policy=rk.Policy(select=["canal.sound", "structure.ring"]), plugins=False)
    assert report.rules == ("structure.ring",)
    assert [error.cause for error in report.plugin_errors] == ["the policy selects it, but plugins are switched off"]
    assert not report.passed


@pytest.mark.parametrize(
    ("policy", "words"),
    [
        (rk.Policy(select="cannal"), ["policy.select", '"canal"']),
        (rk.Policy(skip="brook.deep"), ["policy.skip", 'no installed plugin owns "brook"']),
        (rk.Policy(settings={"canal.gone": {"reserve": 0}}), ["policy.settings", '"canal.gone"']),
    ],
)
def test_a_name_that_nobody_bears_is_wrong_input(district, reach, canal, policy, words):
    reach(district)
    with pytest.raises(InputError) as caught:
        rk.check(canal, policy=policy)
    assert all(word in str(caught.value) for word in words)


@pytest.mark.parametrize("policy", [rk.Policy(select="idel"), rk.Policy(skip="idle.dept"), rk.Policy(settings={"drivng.x": {}})])
def test_a_slip_in_the_name_of_a_built_in_rule_is_wrong_input_with_plugins_off_too(canal, policy):
    with pytest.raises(InputError):
        rk.check(canal, policy=policy, plugins=False)


def test_a_report_with_no_rule_run_is_not_passed(district, reach, canal):
    reach(district)
    report = rk.check(canal, policy=rk.Policy(skip=["canal", "weir", *sorted({name.split(".")[0] for name in BUILT_IN})]))
    assert (report.rules, report.passed, report.exit_status) == ((), False, 3)


@pytest.mark.parametrize(
    ("patterns", "loaded"),
    [
        ({"select": "canal"}, {"canal_rules"}),
        ({"select": "canal.sound"}, {"canal_rules"}),
        ({"select": "c*"}, {"canal_rules"}),
        ({"select": "*.sound"}, {"canal_rules", "weir_rules"}),
        ({"select": "idle"}, set()),
        ({"skip": "canal"}, {"weir_rules"}),
        ({"skip": "canal.*"}, {"weir_rules"}),
        ({"skip": "canal.sound"}, {"canal_rules", "weir_rules"}),
    ],
)
def test_only_plugins_whose_rules_may_be_wanted_are_loaded(district, reach, canal, patterns, loaded):
    reach(district)
    for name in ("canal_rules", "weir_rules"):
        sys.modules.pop(name, None)
    rk.check(canal, policy=rk.Policy(**patterns))
    assert {name for name in ("canal_rules", "weir_rules") if name in sys.modules} == loaded


def test_discovery_loads_nothing(district, reach):
    reach(district)
    sys.modules.pop("canal_rules", None)
    assert [claim.package for claim in discovery.installed().claims if claim.group == discovery.RULES] == ["Canal_Rules", "weir-rules"]
    assert "canal_rules" not in sys.modules


# --- requirements ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["canal-rules", "canal_rules>=1.4", "CANAL.RULES >= 1.4.2, <2", "weir-rules >= 2.0rc1", "ditch-parts"])
def test_a_requirement_that_is_met(district, reach, canal, text):
    reach(district)
    assert rk.check(canal, policy=rk.Policy(require=text)).plugin_errors == ()


@pytest.mark.parametrize(
    ("text", "more", "cause"),
    [
        ("brook-rules", {}, "no distribution of that name"),
        ("canal-rules >= 1.10", {}, "version 1.4.2 is installed"),
        ("weir-rules >= 2.0", {}, "version 2.0rc1 is installed"),
        ("ditch-parts > 1", {}, "version 1.0 is installed"),
        ("canal-rules", {"skip": "canal"}, 'the policy leaves out every rule under "canal."'),
        ("canal-rules", {"skip": "canal.sound"}, 'the policy leaves out every rule under "canal."'),
        ("canal-rules", {"select": "idle"}, 'the policy leaves out every rule under "canal."'),
    ],
)
def test_a_requirement_that_is_not_met_is_told_and_the_report_does_not_pass(district, reach, canal, text, more, cause):
    reach(district)
    report = rk.check(canal, policy=rk.Policy(require=text, **more))
    (error,) = report.plugin_errors
    assert error.name == text
    assert cause in error.cause
    assert not report.passed
    assert f"require: {text}" in report.to_text()


def test_a_requirement_with_plugins_off(district, reach, canal):
    reach(district)
    (error,) = rk.check(canal, policy=rk.Policy(require="canal-rules"), plugins=False).plugin_errors
    assert error.cause == "required, but plugins are switched off"


@pytest.mark.parametrize("text", ["", "canal rules", ">= 1", "canal-rules[x]", "canal-rules @ file:///x", "canal-rules; python_version > '3'", "canal-rules >= one"])
def test_what_is_no_requirement_is_wrong_input(text):
    with pytest.raises(InputError, match=r"[Rr]equire"):
        rk.Policy(require=text)


def test_requirements_add_up_and_stand_in_files(tmp_path, canal):
    over = rk.Policy(require="weir-rules").over(rk.Policy(require=["canal-rules >= 1", "weir-rules"]))
    assert over.require == ("canal-rules >= 1", "weir-rules")
    bus = rk.Bus(name="canal", nodes=canal.nodes, segments=canal.segments, earths=canal.earths, policy=over)
    rk.save_bus(bus, tmp_path / "canal.toml")
    assert rk.load_bus(tmp_path / "canal.toml") == bus
    assert json.loads(rk.check(bus).to_json())["policy"]["require"] == ["canal-rules >= 1", "weir-rules"]


# --- order of installation -------------------------------------------------------------------------------------------


def test_the_order_of_installation_changes_nothing(tmp_path, canal):
    prefixes = ("brook", "canal", "weir")
    places = []
    for prefix in prefixes:
        body = PASSES if prefix == "canal" else FAILS
        made = wheel(tmp_path, f"{prefix}-rules", {f"{prefix}_rules.py": healthy(prefix, body)}, rules={prefix: f"{prefix}_rules:plugin"})
        places.append(str(install(tmp_path / prefix, made)))
    places.append(str(install(tmp_path / "second", wheel(tmp_path, "other", {"other.py": ""}, rules={"brook": "other:plugin"}))))
    script = (
        "import sys, json; sys.path[:0] = json.loads(sys.argv[1])\n"
        "import rs485kit as rk, datetime\n"
        "bus = rk.load_bus('docs/examples/canal_corrected.toml')\n"
        "print(rk.check(bus, policy=rk.Policy(select=['brook', 'canal', 'weir']), today=datetime.date(2027, 1, 1)).to_json())\n"
    )
    reports = {
        subprocess.run([sys.executable, "-c", script, json.dumps(order)], capture_output=True, text=True, check=True).stdout
        for order in list(itertools.permutations(places))[::5]
    }
    assert len(reports) == 1
    content = json.loads(reports.pop())
    assert content["rules"] == ["canal.sound", "weir.sound"]
    assert {error["package"] for error in content["plugin_errors"]} == {"brook-rules", "other"}


# --- waivers ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def as_found():
    """The analyses of the demo bus, shared by many checks."""
    return rk.Analyses(rk.load_bus("docs/examples/canal_as_found.toml"))


@given(data=st.data())
@settings(deadline=None, max_examples=40)
def test_waiving_one_finding_changes_no_other(as_found, data):
    analyses = as_found
    before = rk.check(analyses, plugins=False)
    chosen = data.draw(st.sampled_from([found for found in before.findings if found.verdict != "pass"]))
    after = rk.check(analyses, plugins=False, policy=rk.Policy(waivers=_waiver_of(chosen)))
    unwaived = [found for found in after.findings if not found.waived]
    assert sorted(map(repr, unwaived)) == sorted(repr(found) for found in before.findings if found != chosen)
    (waived,) = [found for found in after.findings if found.waived]
    assert (waived.rule, waived.where, waived.verdict) == (chosen.rule, chosen.where, chosen.verdict)


def _waiver_of(found):
    kinds = {"node": "nodes", "barrier": "barriers", "earth": "earths", "segment": "segments", "path": "paths"}
    if found.where.kind == "bus":
        return rk.Waiver(rule=found.rule, reason="known", bus=True)
    names = found.where.names if len(found.where.names) == 1 else [found.where.names]
    return rk.Waiver(rule=found.rule, reason="known", **{kinds[found.where.kind]: names})


# --- exit statuses ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory):
    """An environment with a plugin for every outcome."""
    folder = tmp_path_factory.mktemp("scratch")
    wheels = []
    for prefix, body in {"passing": PASSES, "failing": FAILS, "asking": UNKNOWN, "silent": "yield from ()", "raising": "yield 1 / 0"}.items():
        source = plugin(rule(f"{prefix}.rule", body), names=f"{prefix}_rule")
        wheels.append(wheel(folder, f"{prefix}-rules", {f"{prefix}_rules.py": source}, rules={prefix: f"{prefix}_rules:plugin"}))
    return install(folder / "site", *wheels)


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (["--select", "passing"], 0),
        (["--select", "failing"], 1),
        (["--select", "failing", "--select", "raising"], 1),
        (["--select", "flailing.ruel"], 2),
        (["--select", "passing", "--require", "not a requirement"], 2),
        (["--select", "asking"], 3),
        (["--select", "silent"], 3),
        (["--select", "raising"], 3),
        (["--select", "passing", "--require", "brook-rules"], 3),
        (["--select", "passing", "--no-plugins"], 3),
        (["--select", "passing", "--skip", "passing"], 3),
    ],
)
def test_each_exit_status(outcomes, arguments, status):
    done = run_in(outcomes, "check", "docs/examples/canal_corrected.toml", *arguments)
    assert done.returncode == status, done.stdout + done.stderr
    assert (f"exit status {status}" in done.stderr) == bool(status)


# --- what there is to choose from ------------------------------------------------------------------------------------


def test_rules_and_explanations_of_plugins(district, reach):
    reach(district)
    assert "A fault" in rk.explain("canal.sound")
    with pytest.raises(UnknownNameError, match=r'did you mean "canal\.sound"'):
        rk.explain("canal.sond")
    with pytest.raises(UnknownNameError):
        rk.explain("canal.sound", plugins=False)
    listed = run_in(district, "rules").stdout
    assert "canal.sound" in listed
    assert "canal.sound" not in run_in(district, "rules", "--no-plugins").stdout
    assert run_in(district, "explain", "weir.sound").stdout.startswith("weir.sound\nA fault\n")


def test_a_plugin_that_does_not_load_is_told_where_its_rules_are_listed_or_explained(tmp_path):
    site = install(tmp_path / "site", wheel(tmp_path, "bad-rules", {"bad_rules.py": "1/0\n"}, rules={"bad": "bad_rules:plugin"}))
    done = run_in(site, "rules")
    assert done.returncode == 3
    assert "structure.ring" in done.stdout
    assert "ZeroDivisionError" in done.stderr
    done = run_in(site, "explain", "bad.rule")
    assert done.returncode == 2
    assert "ZeroDivisionError" in done.stderr


def test_a_rule_of_the_caller_is_explained():
    @rk.rule("site.mine", title="Mine", basis="house")
    def mine(analyses):
        """It is mine."""
        return []

    assert "It is mine." in rk.explain(mine)
