"""The command line: exit statuses, what goes where, and that nothing ends in a traceback."""

import io
import json
import os
import stat
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import pytest

import rs485kit as rk
from rs485kit import catalogue, rules
from rs485kit.__main__ import main

DEVICE = """
[parts.transceivers.device]
like = "generic.eighth-load-250-kbit"
"""
BUS = """format = 1

[bus]
name = "reach 4, Schütz"
earths = [{{ name = "yard" }}]
nodes = [
  {{ name = "head", at = 0, earth = "yard", transceiver = "device", terminations = "end", biases = {{ pull_up = "{bias} ohm", pull_down = "{bias} ohm", supply = "5 V" }} }},
  {{ name = "tail", at = "100 m", earth = "yard", transceiver = "device", terminations = "end" }},
]
link = {{ data_rate = "38.4 kbit/s" }}

[defaults.segment]
cable = "generic.24-awg-120-ohm"

[parts.terminations.end]
resistance = "120 ohm"
"""
GOOD = BUS.format(bias=500) + DEVICE
BAD = BUS.format(bias=2000) + DEVICE
VAGUE = BUS.format(bias=500) + '[parts.transceivers.device]\nname = "unknown"\n'
IDLE = "idle.level-undefined"


@pytest.fixture
def file(tmp_path):
    """A function that writes text to a file and returns its path as text."""

    def write(text, name="bus.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


@pytest.fixture
def run(capsys):
    """A function that runs the command line and returns status, output and error output."""

    def call(*arguments):
        status = main(arguments)
        captured = capsys.readouterr()
        assert "Traceback" not in captured.err
        return status, captured.out, captured.err

    return call


def in_a_process(*arguments, **fields):
    """The command line in a process of its own."""
    command = [sys.executable, "-m", "rs485kit", *arguments]
    return subprocess.run(command, check=False, capture_output=True, timeout=60, **fields)


# --- wrong usage and wrong input: status 2 ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [(), ("chek",), ("check",), ("check", "a", "b"), ("check", "a", "--format", "pdf"), ("explain",), ("rules", "x"), ("-x",)],
)
def test_wrong_usage(run, arguments):
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert "usage: python -m rs485kit" in err
    assert err.splitlines()[-1] == "exit status 2: wrong usage"


def test_a_file_that_is_not_there(run, tmp_path):
    status, out, err = run("check", str(tmp_path / "gone.toml"))
    assert (status, out) == (2, "")
    assert "gone.toml" in err
    assert err.splitlines()[-1] == "exit status 2: wrong input"


def test_a_directory(run, tmp_path):
    status, _, err = run("check", str(tmp_path))
    assert status == 2
    assert str(tmp_path) in err


@pytest.mark.parametrize("text", ["", "format = 1", "format = 1\n[bus", "\0", "format = 2\n[bus]\n", "[" * 9999])
def test_text_that_is_no_bus(run, file, text):
    status, out, err = run("check", file(text))
    assert (status, out) == (2, "")
    assert "bus.toml: " in err


def test_every_problem_of_a_file_is_shown(run, file):
    status, _, err = run("check", file(GOOD.replace("pull_up", "pul_up").replace('"100 m"', '"100 kg"')))
    assert status == 2
    assert "pul_up" in err
    assert "100 kg" in err


@pytest.mark.parametrize("option", ["--select", "--skip"])
def test_a_pattern_that_no_rule_bears(run, file, option):
    status, out, err = run("check", file(GOOD), option, "idel")
    assert (status, out) == (2, "")
    assert f"policy.{option[2:]}" in err
    assert 'did you mean "idle"?' in err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("skp = 'idle'", ['policy.skp (line 1)', 'did you mean "skip"?']),
        ("skip = 'idle'\n\n[[waivers]]\nrule = 'x'\n", ["policy.waivers[0].reason (line 3)"]),
        ("[settings.'idle.level-undefined']\nreserve = '5 V'", ["reserve", "5 V"]),
        ("skip = ", ["TOML"]),
        ("a" + ".a" * 5000 + " = 1", ["house.toml"]),
    ],
)
def test_a_policy_file_that_is_none(run, file, text, words):
    status, out, err = run("check", file(GOOD), "--policy", file(text, "house.toml"))
    assert (status, out) == (2, "")
    assert all(word in err for word in words)


def test_a_policy_file_that_is_not_there(run, file):
    status, _, err = run("check", file(GOOD), "--policy", "/nowhere/house.toml")
    assert status == 2
    assert "/nowhere/house.toml" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("explain", "idle.level"), f'there is no rule "idle.level"; did you mean "{IDLE}"'),
        (("parts", "generic.24-awg"), 'there is no part "generic.24-awg"; did you mean "generic.24-awg-120-ohm"'),
    ],
)
def test_a_name_that_nothing_bears(run, arguments, words):
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert words in err


@pytest.mark.parametrize("target", ["nowhere/report.txt", "."])
def test_an_output_that_cannot_be_written(run, file, tmp_path, target):
    status, out, err = run("check", file(GOOD), "--output", str(tmp_path / target))
    assert (status, out) == (2, "")
    assert "--output: given" in err


def test_a_closed_standard_stream(run, file, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    assert run("check", "-")[0] == 2
    monkeypatch.setattr(sys, "stdout", None)
    assert main(["rules"]) == 2
    monkeypatch.setattr(sys, "stderr", None)
    assert main(["rules"]) == 2


# --- the other statuses ----------------------------------------------------------------------------------------------


def test_a_bus_that_passes(run, file):
    status, out, err = run("check", file(GOOD))
    assert (status, err) == (0, "")
    assert "Passed: no checked requirement failed" in out
    assert "reach 4, Schütz" in out


def test_a_bus_that_fails(run, file):
    status, out, err = run("check", file(BAD))
    assert status == 1
    assert "Not passed: 1 checked requirement failed" in out
    assert err.startswith("exit status 1: 1 checked requirement failed")
    assert err.count("\n") == 1


def test_a_bus_that_cannot_be_judged(run, file):
    status, _, err = run("check", file(VAGUE))
    assert status == 3
    assert err.startswith("exit status 3: no checked requirement failed, but ")


def test_no_rule_that_ran(run, file):
    status, _, err = run("check", file(GOOD), "--select", "idle", "--skip", "idle")
    assert status == 3
    assert err == "exit status 3: no rule ran, so that nothing was checked\n"


def test_an_internal_error_is_kept_in_a_file(run, file, tmp_path, monkeypatch):
    def fault(*arguments, **fields):
        raise RuntimeError("a fault")

    monkeypatch.setattr("rs485kit.checking.check", fault)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    status, out, err = run("check", file(GOOD))
    assert (status, out) == (4, "")
    assert err.startswith("exit status 4: an internal error, RuntimeError; its traceback was written to ")
    kept = Path(err.strip().rpartition(" ")[2]).read_text(encoding="utf-8")
    assert "RuntimeError: a fault" in kept
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    assert "its traceback could not be written" in run("check", file(GOOD))[2]


def test_an_interrupt_is_quiet(run, file, monkeypatch):
    def interrupt(*arguments, **fields):
        raise KeyboardInterrupt

    monkeypatch.setattr("rs485kit.checking.check", interrupt)
    assert run("check", file(GOOD)) == (130, "", "")


# --- check: in and out -----------------------------------------------------------------------------------------------


def test_standard_input(run, file, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(GOOD.encode())))
    status, out, _ = run("check", "-")
    assert (status, out) == run("check", file(GOOD))[:2]


def test_the_four_forms(run, file):
    path = file(BAD)
    assert run("check", path, "--format", "text")[1] == run("check", path)[1]
    assert run("check", path, "--format", "markdown")[1].startswith("# RS-485 bus check")
    assert run("check", path, "--format", "html")[1].startswith("<!DOCTYPE html>")
    loaded = json.loads(run("check", path, "--format", "json")[1])
    assert (loaded["report"], loaded["bus"], loaded["exit_status"]) == (1, "reach 4, Schütz", 1)


def test_select_and_skip_may_be_repeated(run, file):
    def ran(*options):
        return json.loads(run("check", file(GOOD), "--format", "json", *options)[1])["rules"]

    every = [rule.name for rule in rules.built_in()]
    assert ran() == every
    assert ran("--select", IDLE, "--select", "structure") == [n for n in every if n == IDLE or n.startswith("structure.")]
    assert ran("--skip", "idle", "--skip", "loading") == [n for n in every if not n.startswith(("idle.", "loading."))]


def test_a_policy_file_and_options_over_it(run, file):
    house = file(
        'select = ["idle", "structure"]\nskip = "structure.ring"\n'
        "[[waivers]]\nrule = 'idle.level-undefined'\nreason = 'a trial'\nnodes = ['head', 'tail']\n",
        "house.toml",
    )
    status, out, _ = run("check", file(BAD), "--policy", house, "--format", "json")
    loaded = json.loads(out)
    assert status == 0
    assert loaded["verdict"].startswith("Passed: no checked requirement failed without a waiver; ")
    assert loaded["policy"]["waivers"][0]["reason"] == "a trial"
    assert "structure.ring" not in loaded["rules"]
    assert not any(name.startswith("loading") for name in loaded["rules"])
    chosen = json.loads(run("check", file(BAD), "--policy", house, "--select", "loading", "--format", "json")[1])
    assert {name.split(".")[0] for name in chosen["rules"]} == {"loading"}


def test_output_is_written_whole_in_utf_8(run, file, tmp_path):
    target = tmp_path / "report.txt"
    status, out, err = run("check", file(BAD), "--output", str(target))
    assert (status, out) == (1, "")
    assert err.startswith("exit status 1: ")
    assert target.read_text(encoding="utf-8") == run("check", file(BAD))[1]
    assert sorted(each.name for each in tmp_path.iterdir()) == ["bus.toml", "report.txt"]


def test_output_keeps_the_mode_of_a_file_and_takes_the_usual_one_for_a_new(run, file, tmp_path):
    target = tmp_path / "report.txt"
    usual = tmp_path / "usual"
    usual.touch()
    run("check", file(GOOD), "--output", str(target))
    assert target.stat().st_mode == usual.stat().st_mode
    target.chmod(0o640)
    run("check", file(GOOD), "--output", str(target))
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_output_that_fails_leaves_the_old_file(run, file, tmp_path, monkeypatch):
    target = tmp_path / "report.txt"
    target.write_text("old")

    def full(self, other):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    status, _, err = run("check", file(GOOD), "--output", str(target))
    assert status == 2
    assert "No space left on device" in err
    assert target.read_text() == "old"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["bus.toml", "report.txt"]


def test_output_follows_a_link(run, file, tmp_path):
    target = tmp_path / "report.txt"
    target.write_text("old")
    link = tmp_path / "link"
    link.symlink_to(target)
    run("check", file(GOOD), "--output", str(link))
    assert link.is_symlink()
    assert "Passed" in target.read_text(encoding="utf-8")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_output_to_a_pipe_does_not_replace_it(run, file, tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    status, _, _ = run("check", file(GOOD), "--output", str(pipe))
    reader.join(timeout=10)
    assert status == 0
    assert b"Passed" in got[0]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


# --- the other commands ----------------------------------------------------------------------------------------------


def test_help_and_version(run):
    status, out, err = run("--help")
    assert (status, err) == (0, "")
    assert "exit status: 0 passed" in out
    assert run("check", "--help")[0] == 0
    assert run("--version") == (0, f"rs485kit {rk.__version__}\n", "")


def test_rules_lists_names_and_titles(run):
    status, out, _ = run("rules")
    assert status == 0
    lines = out.splitlines()
    assert len(lines) == len(rules.built_in())
    for line, rule in zip(lines, rules.built_in(), strict=True):
        assert line.split(maxsplit=1) == [rule.name, rule.title]


def test_explain(run):
    assert run("explain", IDLE) == (0, rk.explain(IDLE), "")


def test_parts_lists_every_part_with_what_it_is(run):
    status, out, _ = run("parts")
    text = " ".join(out.split())
    assert status == 0
    for kind in ("transceivers", "cables", "isolators", "isolated_supplies"):
        for name in catalogue.names(kind):
            assert f"{name}: {' '.join(catalogue.about(name).split())}" in text


def test_a_part_is_shown_with_figures_and_their_sources(run):
    name = "generic.24-awg-120-ohm"
    status, out, _ = run("parts", name)
    text = " ".join(out.split())
    assert status == 0
    assert "min 75.8 ohm/km, typ 84.2 ohm/km, max 92.6 ohm/km" in text
    for field, source in catalogue.sources("cables", name).items():
        assert f"{field} = " in text
        assert f"source: {' '.join(source.split())}" in text


# --- in a process of its own -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "status"), [(GOOD, 0), (BAD, 1), ("nonsense", 2), (VAGUE, 3)])
def test_the_exit_status_reaches_the_shell(file, text, status):
    done = in_a_process("check", file(text))
    assert done.returncode == status
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("form", "name"),
    [("text", b"Sch?tz"), ("markdown", b"Sch?tz"), ("html", b"Sch&#252;tz"), ("json", b"Sch\\u00fctz")],
)
def test_an_output_that_cannot_hold_every_character(form, name):
    environment = {**os.environ, "LC_ALL": "C", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    done = in_a_process("check", "-", "--format", form, input=GOOD.encode(), env=environment)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.isascii()
    assert name in done.stdout


def test_a_reader_that_leaves_is_no_error(file):
    command = [sys.executable, "-m", "rs485kit", "check", file(BAD)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdout.close()
    error = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 1
    assert error.startswith(b"exit status 1: ")
    assert error.count(b"\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full here")
def test_an_output_that_is_full(file):
    with Path("/dev/full").open("wb") as full:
        command = [sys.executable, "-m", "rs485kit", "check", file(GOOD)]
        done = subprocess.run(command, check=False, stdout=full, stderr=subprocess.PIPE, timeout=60)
    assert done.returncode == 2
    assert b"standard output" in done.stderr
    assert b"Traceback" not in done.stderr
    assert b"Exception ignored" not in done.stderr
