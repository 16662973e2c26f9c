"""Makes wheels of small plugins and installs them with pip, so that the tests meet what a user's machine has."""

import base64
import hashlib
import os
import subprocess
import sys
import zipfile
from pathlib import Path

from rs485kit import discovery

HEAD = "import rs485kit as rk\n"


def rule(name, body, *, extra=""):
    """Source of a rule under a name, whose function has a body."""
    function = name.replace(".", "_").replace("-", "_")
    return f'''
@rk.rule("{name}", title="A fault", basis="house"{extra})
def {function}(analyses):
    """A fault."""
    {body}
'''


PASSES = 'yield rk.Finding(verdict="pass", where=rk.Place.bus(), message="all is well")'
FAILS = 'yield rk.Finding(verdict="fail", where=rk.Place.bus(), message="a fault", remedy="mend it")'


def plugin(*rules, names="", api=1, head=HEAD):
    """Source of a module with rules; `names` says which functions the plugin holds."""
    return f"{head}{''.join(rules)}\nplugin = rk.Plugin(api={api}, rules=[{names}])\n"


def healthy(prefix, body=PASSES):
    """Source of a plugin with one sound rule, "<prefix>.sound"."""
    return plugin(rule(f"{prefix}.sound", body), names=f"{prefix.replace('-', '_')}_sound")


def wheel(folder, name, files, *, version="1.0", rules=None, parts=None):
    """Write a wheel of pure Python: files by path, entry points by name for either group."""
    stem = f"{name.replace('-', '_')}-{version}"
    info = f"{stem}.dist-info"
    lines = []
    for group, points in ((discovery.RULES, rules), (discovery.PARTS, parts)):
        if points:
            lines += [f"[{group}]", *(f"{key} = {value}" for key, value in points.items())]
    content = {
        **files,
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: tests\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
        f"{info}/entry_points.txt": "\n".join(lines) + "\n",
    }
    record = [f"{path},{_digest(text)},{len(text.encode())}" for path, text in content.items()]
    content[f"{info}/RECORD"] = "\n".join([*record, f"{info}/RECORD,,"]) + "\n"
    path = Path(folder) / f"{stem}-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as archive:
        for each, text in content.items():
            archive.writestr(each, text)
    return path


def _digest(text):
    digest = hashlib.sha256(text.encode()).digest()
    return "sha256=" + base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


def install(folder, *wheels):
    """Install wheels into a folder of their own with pip; return the folder, to be put on the search path."""
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--no-index", "--no-deps", "--no-compile"]
    command += ["--disable-pip-version-check", "--target", str(folder), *map(str, wheels)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder


def run_in(folder, *arguments, env=None):
    """Run the command line with a scratch environment on the search path."""
    path = os.pathsep.join([str(folder), *filter(None, sys.path)])
    command = [sys.executable, "-m", "rs485kit", *arguments]
    environment = {**os.environ, "PYTHONPATH": path, **(env or {})}
    return subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
