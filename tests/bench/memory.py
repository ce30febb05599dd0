"""How much memory the daemon's process takes: `python -m tests.bench.memory [SECONDS]`.

It is the real command on a machine without GPIO and sensors (`tests.killing.launcher`) that decides once a second, with
the sensors of the insulated box. Told is the proportional set size, which counts shared pages by their share, and how
much of it is anonymous, so its own (proc_pid_smaps(5), smaps_rollup); then what the libraries cost while they are
loaded, each without those that it loads itself.
"""

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tests.killing.chamber import ChamberOnDisk
from tests.killing.process import Daemon

FIELDS: Final = ("Rss", "Pss", "Anonymous", "Pss_File")
TRACER: Final = """
import importlib._bootstrap as loading, json, sys
def kib():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * 4
load, own, inner = loading._load_unlocked, {}, []
def traced(spec):
    before = kib()
    inner.append(0)
    try:
        return load(spec)
    finally:
        grown = kib() - before
        own[spec.name] = grown - inner.pop()
        if inner:
            inner[-1] += grown
loading._load_unlocked = traced
import controller.cli
sys.argv = ["hangroom", "run", "--chamber", "/nowhere.toml"]
controller.cli.main(sys.argv[1:])
import controller.app.real
import controller.hardware.chores, controller.hardware.machine, controller.hardware.pins, controller.hardware.relays
import controller.hardware.sensors, controller.hardware.single, controller.hardware.supervisor
print(json.dumps(own))
"""
MOST: Final = 12


def seen(pid: int) -> dict[str, float]:
    """Return the figures of a process, in MiB."""
    lines = (line.split() for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()[1:])
    sizes = {words[0].rstrip(":"): int(words[1]) / 1024 for words in lines}
    return {name: sizes.get(name, 0.0) for name in FIELDS}


def loaded() -> Iterator[tuple[str, int]]:
    """Yield what each package takes while it is loaded, in KiB, the largest first; of the project each ring."""
    import json

    said = subprocess.run([sys.executable, "-c", TRACER], capture_output=True, text=True, check=True).stdout
    sums: dict[str, int] = {}
    for name, kib in json.loads(said.splitlines()[-1]).items():
        parts = name.split(".")
        package = ".".join(parts[:2]) if parts[0] == "controller" else parts[0]
        sums[package] = sums.get(package, 0) + kib
    yield from sorted(sums.items(), key=lambda one: -one[1])


def after(seconds: float) -> dict[str, float]:
    """Return the figures of the daemon so long after its first decision."""
    with tempfile.TemporaryDirectory() as folder:
        daemon = Daemon(ChamberOnDisk(Path(folder) / "chamber"))
        try:
            if not daemon.wait_ready():
                sys.exit(daemon.said.read_text())
            time.sleep(seconds)
            return seen(daemon.pid)
        finally:
            daemon.stop()


if __name__ == "__main__":
    lasts_s = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    figures = after(lasts_s)
    print(
        f"{lasts_s:g} s after the first decision: "
        + ", ".join(f"{name} {mib:.1f} MiB" for name, mib in figures.items())
    )
    for package, kib in list(loaded())[:MOST]:
        print(f"  {package:<24}{kib / 1024:6.1f} MiB")
