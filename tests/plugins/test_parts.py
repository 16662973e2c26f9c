"""Parts of installed plugins: found and read without running their code, refused with the reason."""

import shutil
import subprocess
import sys
import zipfile

import pytest

import rs485kit as rk
from plugin_packages import install, run_in, wheel
from rs485kit import catalogue, discovery
from rs485kit.errors import InputError, UnknownNameError

EXPLODES = "raise RuntimeError('the package was imported')\n"
PARTS = """
[transceivers.outdoor-gate]
about = "A slow transceiver for gates outdoors."
unit_load = 0.125
receiver_upper_threshold = { max = "-50 mV" }
[transceivers.outdoor-gate.sources]
unit_load = "common practice"
receiver_upper_threshold = "district book, sheet 4"

[cables.ditch]
about = "A cable to lay in a ditch."
conductor_resistance = "84.2 ohm/km"
sources = { conductor_resistance = "district book, sheet 5" }
"""
BUS = """
format = 1
[bus]
nodes = [ { name = "pump-house", at = "0 m", transceiver = "canal.outdoor-gate" },
          { name = "gate-1", at = "100 m", transceiver = "canal.outdoor-gate" } ]
[defaults.segment]
cable = "trunk"
[parts.cables.trunk]
like = "canal.ditch"
capacitance = "50 pF/m"
"""


def parts_wheel(folder, text, *, name="canal-parts", namespace="canal", module="canal_parts", value=None, files=None):
    content = {f"{module}/__init__.py": EXPLODES, f"{module}/parts.toml": text, **(files or {})}
    return wheel(folder, name, content, parts={namespace: value or f"{module}:parts.toml"})


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scratch")
    return install(folder / "site", parts_wheel(folder, PARTS))


def test_parts_are_found_by_name_and_no_code_of_the_package_runs(sound, reach):
    reach(sound)
    part = catalogue.transceiver("canal.outdoor-gate")
    assert (part.name, part.unit_load, part.receiver_upper_threshold.max) == ("canal.outdoor-gate", 0.125, -0.05)
    assert catalogue.about("canal.ditch") == "A cable to lay in a ditch."
    assert catalogue.sources("cables", "canal.ditch") == {"conductor_resistance": "district book, sheet 5"}
    assert catalogue.names("transceivers")[-1] == "canal.outdoor-gate"
    assert catalogue.table(rk.Cable, "canal.ditch") == {"conductor_resistance": "84.2 ohm/km"}
    assert "canal_parts" not in sys.modules


def test_parts_serve_a_file_and_the_report_names_who_brought_them(sound, reach, tmp_path):
    reach(sound)
    (tmp_path / "canal.toml").write_text(BUS, encoding="utf-8")
    bus = rk.load_bus(tmp_path / "canal.toml")
    assert bus.segments[0].cable.conductor_resistance.typ == pytest.approx(0.0842)
    assert bus.node("gate-1").transceiver == catalogue.transceiver("canal.outdoor-gate")
    report = rk.check(bus)
    assert [(use.name, use.package, use.version, use.rules) for use in report.plugins] == [("canal", "canal-parts", "1.0", ())]
    assert 'canal-parts 1.0: parts under "canal."' in report.to_text()
    rk.save_bus(bus, tmp_path / "written.toml")
    assert rk.load_bus(tmp_path / "written.toml") == bus


def test_without_the_plugin_the_file_is_refused_and_the_reason_given(sound, reach, tmp_path, monkeypatch):
    (tmp_path / "canal.toml").write_text(BUS, encoding="utf-8")
    with pytest.raises(InputError, match='no installed plugin brings parts of "canal"'):
        rk.load_bus(tmp_path / "canal.toml")
    reach(sound)
    monkeypatch.setenv(discovery.SWITCH, "1")
    with pytest.raises(InputError, match="switched off by the environment variable RS485KIT_NO_PLUGINS"):
        rk.load_bus(tmp_path / "canal.toml")
    with pytest.raises(UnknownNameError, match="switched off"):
        catalogue.cable("canal.ditch")


def test_a_part_that_is_not_there_is_answered_with_near_ones(sound, reach):
    reach(sound)
    with pytest.raises(UnknownNameError, match=r'did you mean "canal\.outdoor-gate"'):
        catalogue.transceiver("canal.outdor-gate")
    with pytest.raises(UnknownNameError, match=r"use rs485kit\.catalogue\.cable$"):
        catalogue.transceiver("canal.ditch")


WRONG = {
    "no-toml": ("[transceivers", "wanted TOML"),
    "other-kind": ("[gates.one]\nabout = 'x'\n", "gates: given"),
    "no-source": ("[cables.x]\nabout = 'x'\nconductor_resistance = '80 ohm/km'\n", "cables.x.sources.conductor_resistance"),
    "no-about": ("[cables.x]\n", "cables.x.about"),
    "bad-figure": ("[cables.x]\nabout = 'x'\nconductor_resistance = '80 km'\nsources = { conductor_resistance = 'book' }\n", "80 km"),
    "bad-name": ("[cables.Thick_One]\nabout = 'x'\n", "lower-case words joined by hyphens"),
    "strange-field": ("[cables.x]\nabout = 'x'\ncolour = 'red'\nsources = { colour = 'book' }\n", "colour"),
    "doubled": ("[cables.x]\nabout = 'x'\n[isolators.x]\nabout = 'x'\n", "a part of cables and of isolators"),
    "doubled-table": ("[cables.x]\nabout = 'x'\n[cables.x]\nabout = 'x'\n", "wanted TOML"),
    "too-large": ("# " + "x" * 1_000_000, "wanted a file of at most 1000000 bytes"),
}


@pytest.mark.parametrize("name", WRONG)
def test_part_data_that_does_not_validate_is_refused_whole(name, tmp_path, reach, canal):
    text, cause = WRONG[name]
    if name not in ("no-toml", "doubled-table"):
        text += PARTS
    reach(install(tmp_path / "scratch", parts_wheel(tmp_path, text)))
    report = rk.check(canal)
    (error,) = report.plugin_errors
    assert (error.name, error.package) == ("canal", "canal-parts")
    assert cause in error.cause
    assert not report.passed
    assert catalogue.names("transceivers")[-1].startswith("generic.")
    assert catalogue.transceiver("generic.eighth-load-250-kbit")
    with pytest.raises(InputError, match="canal-parts 1"):
        catalogue.transceiver("canal.outdoor-gate")


@pytest.mark.parametrize(
    ("value", "cause"),
    [
        ("canal_parts:none.toml", "which has no file none.toml"),
        ("no_such_package:parts.toml", "which is not installed"),
        ("canal_parts.sub:parts.toml", "wanted a top-level package"),
        ("canal_parts:data/parts.toml", "wanted a top-level package"),
        ("canal_parts:parts.yaml", "wanted a top-level package"),
        ("canal_parts", "wanted a top-level package"),
        ("lone:parts.toml", "which is a single module"),
    ],
)
def test_an_entry_point_that_names_no_file_is_refused(value, cause, tmp_path, reach, canal):
    made = parts_wheel(tmp_path, PARTS, value=value, files={"lone.py": EXPLODES})
    reach(install(tmp_path / "scratch", made))
    (error,) = rk.check(canal).plugin_errors
    assert cause in error.cause


@pytest.mark.parametrize("namespace", ["generic", "rs485kit", "Canal"])
def test_a_namespace_that_cannot_be_owned_is_refused(namespace, tmp_path, reach, canal):
    reach(install(tmp_path / "scratch", parts_wheel(tmp_path, PARTS, namespace=namespace)))
    (error,) = rk.check(canal).plugin_errors
    assert error.name == namespace
    assert catalogue.transceiver("generic.eighth-load-250-kbit").unit_load == 0.125


def test_two_that_claim_one_namespace_are_both_refused(tmp_path, reach, canal):
    wheels = [parts_wheel(tmp_path, PARTS, name=f"{each}-parts", module=f"{each}_parts") for each in ("east", "west")]
    reach(install(tmp_path / "scratch", *wheels))
    assert {error.package for error in rk.check(canal).plugin_errors} == {"east-parts", "west-parts"}
    with pytest.raises(InputError, match=r"claimed 2 times, by east-parts 1\.0 and west-parts 1\.0"):
        catalogue.cable("canal.ditch")


def test_a_package_inside_an_archive_is_refused_clearly(tmp_path, reach, canal, monkeypatch):
    site = install(tmp_path / "scratch", parts_wheel(tmp_path, PARTS))
    with zipfile.ZipFile(tmp_path / "scratch.zip", "w") as archive:
        for path in sorted(site.rglob("*")):
            archive.write(path, path.relative_to(site))
    shutil.rmtree(site)
    reach(tmp_path / "scratch.zip")
    (error,) = rk.check(canal).plugin_errors
    assert "which lies inside an archive" in error.cause
    assert "install the package unpacked" in error.cause


@pytest.mark.parametrize("hook", [False, True])
def test_an_editable_install_is_found_by_path_file_and_by_finder(hook, tmp_path):
    """Both ways in which build tools make an install editable: a path file, and a finder registered by one."""
    site = install(tmp_path / "site", parts_wheel(tmp_path, PARTS))
    source = tmp_path / "source"
    source.mkdir()
    shutil.move(site / "canal_parts", source / "canal_parts")
    if hook:
        (site / "canal_finder.py").write_text(
            "import importlib.machinery, importlib.util, sys\n"
            "class Finder:\n"
            "    @classmethod\n"
            "    def find_spec(cls, name, path=None, target=None):\n"
            f"        place = {str(source / 'canal_parts')!r}\n"
            "        if name == 'canal_parts':\n"
            "            return importlib.util.spec_from_file_location(name, place + '/__init__.py')\n"
            "sys.meta_path.append(Finder)\n",
            encoding="utf-8",
        )
        (site / "canal.pth").write_text("import canal_finder\n", encoding="utf-8")
    else:
        (site / "canal.pth").write_text(f"{source}\n", encoding="utf-8")
    code = (
        f"import site; site.addsitedir({str(site)!r})\n"
        "import sys\nfrom rs485kit import catalogue\n"
        "print(catalogue.cable('canal.ditch').name, 'canal_parts' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout == "canal.ditch False\n", done.stderr


def test_part_data_under_work_is_read_again_when_it_has_changed(tmp_path, reach):
    site = install(tmp_path / "scratch", parts_wheel(tmp_path, PARTS))
    reach(site)
    assert catalogue.transceiver("canal.outdoor-gate").unit_load == 0.125
    (site / "canal_parts" / "parts.toml").write_text(PARTS.replace("0.125", "0.25 "), encoding="utf-8")
    assert catalogue.transceiver("canal.outdoor-gate").unit_load == 0.25


def test_the_command_line_lists_parts_of_plugins(sound, tmp_path):
    done = run_in(sound, "parts")
    assert (done.returncode, "canal.outdoor-gate" in done.stdout) == (0, True)
    assert "district book, sheet 4" in run_in(sound, "parts", "canal.outdoor-gate").stdout
    assert run_in(sound, "parts", "canal.outdoor-gate", "--no-plugins").returncode == 2
    bad = install(tmp_path / "site", parts_wheel(tmp_path, "[transceivers"))
    done = run_in(bad, "parts")
    assert (done.returncode, "generic.category-5" in done.stdout) == (3, True)
    assert "canal (canal-parts 1.0)" in done.stderr
