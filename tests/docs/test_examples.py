"""Every example that a reader may copy runs: those of the pages as doctests, those of the README as scripts."""

import doctest
import re
from pathlib import Path

import pint
import pytest

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
README = ROOT / "README.md"
PAGES = [
    path
    for path in sorted(DOCS.rglob("*.rst"))
    if not {"_build", "generated"} & set(path.parts) and ">>>" in path.read_text(encoding="utf-8")
]
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
FENCE = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks() -> list[str]:
    """Return the Python blocks of the README."""
    return FENCE.findall(README.read_text(encoding="utf-8")) if README.is_file() else []


@pytest.fixture(autouse=True)
def at_the_top(monkeypatch):
    """Run in the top folder, as the pages say, and leave pint's application registry as it was."""
    monkeypatch.chdir(ROOT)
    registry = pint.get_application_registry().get()
    yield
    pint.set_application_registry(registry)


def failures(path: Path, text: str) -> str:
    """Return what the doctests of a page print where they go wrong."""
    test = doctest.DocTestParser().get_doctest(text, {"__name__": "__main__"}, path.name, str(path), 0)
    assert test.examples
    output: list[str] = []
    doctest.DocTestRunner(optionflags=FLAGS, verbose=False).run(test, out=output.append)
    return "".join(output)


def test_there_are_pages_with_examples():
    assert {"tutorial/first_bus.rst", "howto/write_a_rule.rst", "explanation/idle.rst"} <= {
        path.relative_to(DOCS).as_posix() for path in PAGES
    }


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.relative_to(DOCS).as_posix())
def test_page(path):
    assert not failures(path, path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", sorted((DOCS / "examples").glob("*.toml")), ids=lambda path: path.stem)
def test_example_file_is_read_and_checked(path):
    import rs485kit as rk

    report = rk.check(rk.load_bus(path))
    assert report.findings
    assert not report.plugin_errors


@pytest.mark.skipif(not README.is_file(), reason="there is no README beside the tests")
def test_readme_has_examples():
    assert blocks()


@pytest.mark.parametrize("index", range(len(blocks())))
def test_readme_block(index, capsys):
    exec(compile(blocks()[index], f"README.md, block {index + 1}", "exec"), {"__name__": "__main__"})
    capsys.readouterr()


def test_a_wrong_example_is_found():
    assert "Expected" in failures(DOCS / "none.rst", ">>> 1 + 1\n3\n")


def test_a_right_example_is_not():
    assert not failures(DOCS / "none.rst", ">>> print('a   b')\na b\n>>> print(12345)\n12...\n")
