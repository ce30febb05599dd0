"""How long the switching-off takes from its start to its end: the last piece of the heat after a killed daemon.

`python -m tests.bench.relays_off [TIMES]`. It runs the installed command with a note of eight relays on a chip that is
not here, so everything is in the figure but the eight claims (16 µs each, measured in a guest) and the chip itself.
"""

import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

NOTE: Final = {"chip": "no-such-chip", "lines": [{"role": "heater", "pin": 17 + one, "off": 0} for one in range(8)]}
UNAVAILABLE: Final = 69


def command() -> list[str]:
    """Return the installed command, as the service manager runs it."""
    return [sys.executable, str(Path(sys.executable).with_name("hangroom-relays-off"))]


def timed(run_dir: Path) -> tuple[float, float, float]:
    """Run it once; return seconds on the clock, seconds of processor time, and MB of memory at most."""
    begun_s = time.perf_counter()
    child = os.posix_spawn(
        sys.executable,
        [*command(), "--run-dir", str(run_dir)],
        {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
        file_actions=[(os.POSIX_SPAWN_OPEN, 2, os.devnull, os.O_WRONLY, 0)],
    )
    _, status, used = os.wait4(child, 0)
    lasted_s = time.perf_counter() - begun_s
    code = os.waitstatus_to_exitcode(status)
    if code != UNAVAILABLE:
        sys.exit(f"{' '.join(command())}: ended with {code}, not with {UNAVAILABLE} for a chip that is not there")
    return lasted_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def measure(times: int) -> list[tuple[float, float, float]]:
    """Return the figures of so many runs."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "relays.json").write_text(json.dumps(NOTE))
        return [timed(Path(folder)) for _ in range(times)]


if __name__ == "__main__":
    runs = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
    for name, values in (("on the clock", [run[0] for run in runs]), ("processor", [run[1] for run in runs])):
        print(f"{name:<14}{statistics.median(values):.3f} s median, {max(values):.3f} s worst of {len(values)}")
    print(f"{'memory':<14}{max(run[2] for run in runs):.1f} MB at most")
