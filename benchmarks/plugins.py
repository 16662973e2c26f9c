"""What plugins cost: fifty of ten trivial rules each on the demo bus, as ratios to the check without them.

    python benchmarks/plugins.py

Every figure is the least of several runs in a fresh interpreter, since discovery and loading happen once in each.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from plugin_packages import PASSES, install, plugin, rule, wheel  # noqa: E402

PLUGINS, RULES, RUNS = 50, 10, 5
PROBE = """
import json, sys, time
sys.path[:0] = json.loads(sys.argv[1])
import rs485kit as rk
from rs485kit import discovery
bus = rk.load_bus(sys.argv[2])
analyses = rk.Analyses(bus)
start = time.perf_counter()
rk.check(analyses, plugins=False)
solved = time.perf_counter()
rk.check(analyses, plugins=False)
without = time.perf_counter()
claims = len(discovery.installed().claims)
listed = time.perf_counter()
report = rk.check(analyses)
ran = time.perf_counter()
rk.check(analyses)
again = time.perf_counter()
assert report.plugin_errors == ()
print(json.dumps({
    "claims": claims, "rules": len(report.rules), "first check": solved - start, "check without": without - solved,
    "discovery": listed - without, "loading and running": ran - listed, "again": again - ran,
}))
"""


def environment(folder: Path) -> Path:
    """Return a folder with the plugins installed in it."""
    wheels = []
    for number in range(PLUGINS):
        prefix = f"plugin-{number:02}"
        names = [f"{prefix}.rule-{each}" for each in "abcdefghij"[:RULES]]
        functions = ", ".join(name.replace(".", "_").replace("-", "_") for name in names)
        source = plugin(*(rule(name, PASSES) for name in names), names=functions)
        module = prefix.replace("-", "_")
        wheels.append(wheel(folder, prefix, {f"{module}.py": source}, rules={prefix: f"{module}:plugin"}))
    return install(folder / "site", *wheels)


def probed(site: Path) -> dict[str, float]:
    """Return the seconds of one fresh interpreter."""
    command = [sys.executable, "-c", PROBE, json.dumps([str(site)]), str(ROOT / "docs/examples/canal_corrected.toml")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return dict(json.loads(done.stdout))


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        site = environment(Path(folder))
        runs = [probed(site) for _ in range(RUNS)]
    best = {key: min(run[key] for run in runs) for key in runs[0]}
    print(f"{PLUGINS} plugins, {best['claims']:.0f} claims, {best['rules']:.0f} rules; least of {RUNS} runs\n")
    base = best["check without"]
    for key in ("first check", "check without", "discovery", "loading and running", "again"):
        print(f"{key:22}{best[key] * 1e3:9.1f} ms{best[key] / base:9.1f} x the check without")
    added = best["discovery"] + best["loading and running"] - base
    print(f"\nadded by plugins: {added * 1e3:.0f} ms (promised: under 300 ms)")


if __name__ == "__main__":
    main()
