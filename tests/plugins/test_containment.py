"""What a plugin may do wrong in process, each as an installed package: the check goes on, says so, and does not pass."""

import json
import sys

import pytest

import rs485kit as rk
from plugin_packages import FAILS, HEAD, PASSES, healthy, install, plugin, rule, run_in, wheel
from rs485kit.rules import built_in

ONLY_CANAL = rk.Policy(select="canal")
BUILT_IN = {each.name for each in built_in()}

# package, prefix, source of its module, and what its entry in the report says
REFUSED = [
    ("import-error", "importing", "import no_such_module_anywhere\n", "ModuleNotFoundError: No module named 'no_such_module_anywhere'"),
    ("syntax-error", "syntax", "def broken(:\n", "SyntaxError"),
    ("raises-odd", "odd", "class Odd(BaseException):\n    def __str__(self):\n        raise ValueError\nraise Odd\n", "Odd: (its text cannot be told)"),
    ("leaves", "leaving", "raise SystemExit(7)\n", "SystemExit: 7"),
    ("wrong-object", "objecting", "plugin = {'rules': []}\n", "type dict, wanted an rs485kit.Plugin"),
    ("no-object", "bare", HEAD, '"no_object:plugin", which does not exist, wanted an object of a module; define it'),
    ("wrong-name", "naming", HEAD + "canal = rk.Plugin(api=1, rules=[])\n", "the module holds wrong_name:canal"),
    ("wrong-api", "future", plugin(api=2), "for version 2 of the interface, wanted one for version 1"),
    ("text-api", "textual", plugin(api="'one'"), "Plugin.api"),
    ("no-rule", "empty", plugin(), "it brings no rule"),
    ("no-sequence", "single", HEAD + "plugin = rk.Plugin(api=1, rules=7)\n", "given 7, wanted rules"),
    ("rubbish-rules", "rubbish", plugin(names="print"), "type builtin_function_or_method, which is no rule"),
    ("bad-rule", "bad", plugin(rule("bad.rule", PASSES, extra=", source=3, parameters=[1]"), names="bad_rule"), "its source is 3"),
]  # fmt: skip
NAMES = [package for package, *_ in REFUSED]


@pytest.fixture(scope="module")
def troubled(tmp_path_factory):
    """An environment with one sound plugin and every kind of unsound one."""
    folder = tmp_path_factory.mktemp("scratch")
    wheels = [wheel(folder, "canal-rules", {"canal_rules.py": healthy("canal")}, rules={"canal": "canal_rules:plugin"})]
    for package, prefix, source, _ in REFUSED:
        module = package.replace("-", "_")
        wheels.append(wheel(folder, package, {f"{module}.py": source}, rules={prefix: f"{module}:plugin"}))
    wheels += [
        wheel(folder, "greedy", {"greedy.py": healthy("idle")}, rules={"idle": "greedy:plugin"}),
        wheel(folder, "caller", {"caller.py": healthy("site")}, rules={"site": "caller:plugin"}),
        wheel(folder, "shouting", {"shouting.py": healthy("loud")}, rules={"LOUD": "shouting:plugin"}),
        wheel(folder, "pathless", {"pathless.py": healthy("pathless")}, rules={"pathless": "pathless plugin"}),
        wheel(folder, "weir-one", {"weir_one.py": healthy("weir")}, rules={"weir": "weir_one:plugin"}),
        wheel(folder, "weir-two", {"weir_two.py": healthy("weir")}, rules={"weir": "weir_two:plugin"}),
        wheel(folder, "garbled", {"garbled.py": healthy("garbled")}, rules={"garbled": "garbled:plugin"}),
        wheel(
            folder,
            "strays",
            {"strays.py": plugin(rule("strays.own", PASSES), rule("canal.stray", FAILS), names="strays_own, canal_stray")},
            rules={"strays": "strays:plugin"},
        ),
        wheel(
            folder,
            "doubles",
            {"doubles.py": plugin(rule("doubles.own", PASSES), names="doubles_own, doubles_own")},
            rules={"doubles": "doubles:plugin"},
        ),
    ]
    site = install(folder / "site", *wheels)
    (site / "garbled-1.0.dist-info" / "entry_points.txt").write_bytes(b"[rs485kit.rules]\n\xff = \xfe\n")
    return site


@pytest.fixture
def report(troubled, reach, canal):
    reach(troubled)
    return rk.check(canal)


def causes(report, package):
    return [error.cause for error in report.plugin_errors if error.package == package]


@pytest.mark.parametrize(("package", "cause"), [(package, cause) for package, _, _, cause in REFUSED], ids=NAMES)
def test_a_plugin_that_cannot_be_loaded_is_named_with_its_cause(report, package, cause):
    (found,) = causes(report, package)
    assert cause in found
    (error,) = [each for each in report.plugin_errors if each.package == package]
    assert error.version == "1.0"
    assert f"({package} 1.0)" in str(error)


@pytest.mark.parametrize(
    ("package", "cause"),
    [
        ("greedy", 'the name "idle" is reserved for the library'),
        ("caller", 'the name "site" is reserved for the library'),
        ("shouting", "lower-case words joined by hyphens"),
        ("pathless", "a module and an object in it"),
        ("weir-one", "claimed 2 times, by weir-one 1.0 and weir-two 1.0, and given to none"),
        ("weir-two", "claimed 2 times, by weir-one 1.0 and weir-two 1.0, and given to none"),
    ],
)
def test_a_claim_that_is_refused_is_named_with_its_cause(report, package, cause):
    (found,) = causes(report, package)
    assert cause in found


def test_a_name_outside_the_prefix_is_refused_and_the_rest_of_the_plugin_runs(report):
    assert [(each.name, each.package) for each in report.plugin_errors if each.package == "strays"] == [("canal.stray", "strays")]
    assert 'lies outside "strays."' in causes(report, "strays")[0]
    assert "strays.own" in report.rules


def test_a_name_borne_twice_is_refused(report):
    assert causes(report, "doubles") == ["2 rules of the plugin bear this name"]
    assert "doubles.own" not in report.rules


def test_metadata_that_cannot_be_read_hides_nobody_else(report):
    assert "canal.sound" in report.rules
    (found,) = causes(report, "garbled")
    assert "its metadata cannot be read" in found


def test_every_other_rule_runs_and_the_report_does_not_pass(report):
    assert set(report.rules) >= BUILT_IN
    assert {"canal.sound", "strays.own"} <= set(report.rules)
    assert not report.passed
    assert [(use.name, use.package, use.version, use.rules) for use in report.plugins] == [
        ("canal", "canal-rules", "1.0", ("canal.sound",)),
        ("strays", "strays", "1.0", ("strays.own",)),
    ]


def test_a_report_shows_what_did_not_run_in_every_form(report):
    for text in (report.to_text(), report.to_markdown(), report.to_html()):
        assert "SystemExit: 7" in text
    content = json.loads(report.to_json())
    assert {"name": "leaving", "package": "leaves", "version": "1.0"}.items() <= next(
        each for each in content["plugin_errors"] if each["package"] == "leaves"
    ).items()
    assert content["plugins"][0] == {"name": "canal", "package": "canal-rules", "version": "1.0", "rules": ["canal.sound"]}


def test_a_policy_keeps_troubled_plugins_out_without_loading_them(troubled, reach, canal):
    reach(troubled)
    chosen = rk.check(canal, policy=ONLY_CANAL)
    assert chosen.rules == ("canal.sound",)
    # metadata that cannot be read may be anybody's, so that it is always told
    assert {error.package for error in chosen.plugin_errors} == {"garbled"}
    assert "leaves" not in sys.modules
    assert "import_error" not in sys.modules


def test_an_error_names_the_line_of_the_plugin_but_no_folder(report):
    (found,) = causes(report, "leaves")
    assert found.endswith("(leaves.py, line 1)")
    assert "scratch" not in "".join(error.cause for error in report.plugin_errors)


# --- rules that misbehave while they run -----------------------------------------------------------------------------

RUNNING = {
    "raises": ("yield 1 / 0", "ZeroDivisionError: division by zero (running.py, line "),
    "leaves": ("raise SystemExit(3)", "SystemExit: 3"),
    "returns-rubbish": ("return 7", "which is no sequence of findings"),
    "gives-rubbish": ('yield "fail"', "which is no Finding"),
    "strange-place": ('yield rk.unknown(rk.Place.node("nowhere"), "x")', 'the bus has no "nowhere"'),
    "bad-verdict": ('yield rk.Finding(verdict="good", where=rk.Place.bus(), message="x")', "'good' is no verdict"),
    "endless": (
        'found = rk.Finding(verdict="pass", where=rk.Place.bus(), message="x")\n    while True:\n        yield found',
        "more than 200000 findings",
    ),
    "deep": ("rk.analysis.unit_loads(analyses); yield from running_deep.function(analyses)", "RecursionError"),
}


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    """An environment with a plugin whose rules misbehave, each in a way of its own, and one that does not."""
    folder = tmp_path_factory.mktemp("scratch")
    sources = [rule(f"running.{name}", body) for name, (body, _) in RUNNING.items()]
    sources += [rule("running.sound", PASSES), rule("running.lacks", 'raise rk.MissingDataError("depths", ("gauge.zero",))')]
    names = ", ".join(f"running_{name.replace('-', '_')}" for name in [*RUNNING, "sound", "lacks"])
    made = wheel(folder, "running-rules", {"running.py": plugin(*sources, names=names)}, rules={"running": "running:plugin"})
    return install(folder / "site", made)


@pytest.mark.parametrize("isolate", [False, True])
def test_a_rule_that_misbehaves_is_contained(running, reach, canal, isolate):
    reach(running)
    report = rk.check(canal, isolate=isolate, time_limit=30 if isolate else None)
    found = {error.name: error for error in report.plugin_errors}
    assert set(found) == {f"running.{name}" for name in RUNNING}
    for name, (_, cause) in RUNNING.items():
        assert cause in found[f"running.{name}"].cause
        assert found[f"running.{name}"].package == "running-rules"
    assert {"running.sound", "running.lacks", *BUILT_IN} == set(report.rules)
    assert [(each.verdict, each.missing) for each in report.findings if each.rule == "running.lacks"] == [("unknown", ("gauge.zero",))]
    assert not report.passed


def test_a_rule_that_changes_the_bus_is_found_out(tmp_path, reach, canal):
    body = 'object.__setattr__(analyses.bus, "name", "another")\n    ' + PASSES
    made = wheel(tmp_path, "meddling", {"meddling.py": healthy("meddling", body)}, rules={"meddling": "meddling:plugin"})
    reach(install(tmp_path / "scratch", made))
    report = rk.check(canal)
    (error,) = report.plugin_errors
    assert "the bus was changed while it was judged, by one of meddling" in error.cause
    assert not report.passed
    assert report.digest == rk.check(rk.Bus(**{**_fields(canal), "name": "canal"}), plugins=False).digest


def _fields(bus):
    return {name: getattr(bus, name) for name in ("nodes", "segments", "earths", "link", "environment", "policy")}


def test_what_a_plugin_prints_does_not_stand_in_a_report(tmp_path):
    source = 'print("loaded")\n' + healthy("noisy", f'print("ran")\n    {PASSES}')
    site = install(tmp_path / "site", wheel(tmp_path, "noisy", {"noisy.py": source}, rules={"noisy": "noisy:plugin"}))
    for more in ([], ["--isolate"]):
        done = run_in(site, "check", "docs/examples/canal_corrected.toml", "--select", "noisy", "--format", "json", *more)
        assert json.loads(done.stdout)["rules"] == ["noisy.sound"]
        assert "loaded" in done.stderr
        assert "ran" in done.stderr
        assert done.returncode == 0
