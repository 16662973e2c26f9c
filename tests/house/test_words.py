"""Words that have no place in what is published: unfinished marks, paths of a machine, the names of its package registry.

The patterns are put together here from pieces, so that this file does not hold what it looks for.
"""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDERS = ("src", "docs", "tests", ".ci", "benchmarks")
GENERATED = {"_build", "generated", "__pycache__"}
TEXT = {"", ".py", ".toml", ".rst", ".md", ".csv", ".css", ".json", ".txt", ".cir", ".sh", ".typed", ".svg", ".html"}
POLARITY = "docs/explanation/polarity.rst"


def joined(*pieces: str) -> str:
    return "".join(pieces)


def either(*words: str) -> str:
    return f"(?:{'|'.join(words)})"


MARKS = either(joined("TO", "DO"), joined("FIX", "ME"), joined("XX", "X"), joined("HA", "CK"))
TOPS = either(joined("wo", "rk"), joined("ro", "ot"), joined("ho", "me"), joined("fa", "rm"), joined("tm", "p"))
HOSTS = either(
    joined("index", "-url"), joined("arti", "factory"), joined("pypi", "[.]org"), joined("registry", "[.]npm")
)
WAYS = either(joined("sha", "red/"), joined("sub", r"agents?\b"), joined("LL", r"Ms?\b"), joined("chat", r"bots?\b"))
PATTERNS = {
    "unfinished mark": rf"\b{MARKS}\b",
    "path of a machine": rf"(?<![\w.])/{TOPS}/\w",
    "package registry": HOSTS,
    "way of working": rf"\b{WAYS}",
    "stub": joined("raise NotImplemented", r"Error\(\s*[\"']"),
}


def tracked() -> list[Path]:
    """Return the files under version control, or where there is none the files of a source distribution."""
    run = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if run.returncode == 0 and run.stdout:
        return [ROOT / name for name in run.stdout.split("\0") if name]
    found = [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*")) if path.is_file()]
    return (
        [path for path in found if not GENERATED & set(path.parts)]
        + sorted(ROOT.glob("*.md"))
        + [ROOT / "pyproject.toml"]
    )


FILES = [path for path in tracked() if path.suffix in TEXT and path.is_file()]


def findings(pattern: str, text: str) -> list[str]:
    return [line.strip()[:100] for line in text.splitlines() if re.search(pattern, line)]


def test_there_are_files_to_look_at():
    names = {path.relative_to(ROOT).as_posix() for path in FILES}
    assert {"pyproject.toml", "src/rs485kit/__init__.py"} <= names


@pytest.mark.parametrize("kind", PATTERNS)
def test_no_forbidden_word(kind):
    found = {}
    for path in FILES:
        lines = findings(PATTERNS[kind], path.read_text(encoding="utf-8"))
        if lines:
            found[path.relative_to(ROOT).as_posix()] = lines
    assert not found


def test_lines_are_named_by_letters_on_one_page_alone():
    letters = (
        r"\b(?:line|wire|pin|terminal|input|output)s? [AB]\b|\b[AB] (?:line|wire|pin|terminal)\b|\bV_?AB\b|\bA/B\b"
    )
    pages = [path for path in FILES if path.suffix == ".rst"]
    found = {
        path.relative_to(ROOT).as_posix(): lines
        for path in pages
        if (lines := findings(letters, path.read_text(encoding="utf-8")))
    }
    assert set(found) <= {POLARITY}


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("unfinished mark", joined("# TO", "DO: later")),
        ("path of a machine", joined("open('/wo", "rk/main/x')")),
        ("path of a machine", joined("/t", "mp/x.toml")),
        ("package registry", joined("https://pypi", ".org/simple")),
        ("way of working", joined("see sha", "red/notes")),
        ("stub", joined("raise NotImplemented", "Error('later')")),
    ],
)
def test_a_forbidden_word_is_found(kind, text):
    assert findings(PATTERNS[kind], text)


@pytest.mark.parametrize(
    "text", ["a share of the whole", "the frame /work", "homework/home", "https://example.invalid/work"]
)
def test_an_innocent_word_is_not(text):
    assert not any(findings(pattern, text) for pattern in PATTERNS.values())
