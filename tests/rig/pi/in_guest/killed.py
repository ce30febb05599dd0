"""Kill the running daemon while its lamp burns, then do as the service does: see what the pin does meanwhile.

Prints lines of JSON. By the kernel's own trace where it has one of the pin, else by asking the kernel again and again.
"""

import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.rig.pi.in_guest.chamber import LAMP, STATE, Chamber, is_on, pin
from tests.rig.pi.in_guest.daemon import Daemon, hangroom

RUNS = 5
TRACING = Path("/sys/kernel/tracing")
KEPT = Path("/run/kept")
BASE = 512
"""The kernel numbers the pins of the first chip from here (Documentation/driver-api/gpio/legacy.rst, from memory)."""


def wait_until(what: Callable[[], bool], within_s: float = 400.0) -> float:
    """Wait until it is so; say how long that took."""
    began_s = time.monotonic()
    while not what():
        if time.monotonic() - began_s > within_s:
            raise TimeoutError(f"not within {within_s} s; the pin: {pin()}; {hangroom('status')}")
        time.sleep(0.2)  # Asking costs the guest time: there is one clock for all that it runs.
    return time.monotonic() - began_s


def traced_since(at_s: float) -> list[tuple[float, str]]:
    """Return the lines of the kernel's trace of the lamp's pin since an instant: (seconds after it, what)."""
    found = []
    for line in (TRACING / "trace").read_text().splitlines():
        match = re.search(rf" (\d+\.\d+): (gpio_\w+): {BASE + LAMP}\s+(.*)", line)
        if match and float(match[1]) >= at_s:
            found.append((round(float(match[1]) - at_s, 4), f"{match[2]} {match[3]}"))
    return found


def tell(**told: Any) -> None:  # noqa: ANN401 - whatever JSON takes
    """Print one line for the host."""
    print("RIG " + json.dumps(told))  # noqa: T201 - to the host


def safe_off(killed_s: float) -> tuple[float | None, float, int]:
    """Run what the service runs after any end; return when the pin was seen off, how long it took, and its code."""
    began_s = time.clock_gettime(time.CLOCK_MONOTONIC)
    env = os.environ | {"RUNTIME_DIRECTORY": "/run/hangroom"}
    command = subprocess.Popen([sys.executable, "-m", "controller.relays_off"], env=env)
    off_s: float | None = None
    while True:
        over = command.poll() is not None
        if off_s is None and not is_on():
            off_s = round(time.clock_gettime(time.CLOCK_MONOTONIC) - killed_s, 4)
        if over:
            return off_s, round(time.clock_gettime(time.CLOCK_MONOTONIC) - began_s, 3), command.wait()
        time.sleep(0.2)  # Asking costs the guest time: there is one clock for all that it runs.


def main() -> None:
    """Begin a batch, keep its state, and kill five runs that go on with it."""
    (TRACING / "trace_clock").write_text("mono")
    (TRACING / "events/gpio/enable").write_text("1")
    Chamber()
    daemon = Daemon()
    time.sleep(5.0)
    wait_until((STATE / "status.json").exists)
    tell(start=hangroom("start", "tangy", "--meat", "4.5kg", "--sure"))
    tell(lamp_on_after_s=wait_until(is_on))
    tell(stopped=daemon.stop(), pin_after_stop=pin())
    shutil.copytree(STATE, KEPT)
    for number in range(RUNS):
        shutil.rmtree(STATE)
        shutil.copytree(KEPT, STATE)
        daemon = Daemon()
        wait_until(is_on)
        time.sleep(1.0)
        (TRACING / "trace").write_text("")
        killed_s = daemon.kill()
        after = pin()
        seen_s = time.clock_gettime(time.CLOCK_MONOTONIC) - killed_s
        left_alone = ""
        if number == 0:
            time.sleep(10.0)
            left_alone = pin()
            killed_s = time.clock_gettime(time.CLOCK_MONOTONIC)
        off_s, took_s, code = safe_off(killed_s)
        tell(
            run=number,
            after_kill=after,
            looked_after_s=round(seen_s, 4),
            ten_seconds_later=left_alone,
            off_seen_after_s=off_s,
            safe_off_code=code,
            safe_off_took_s=took_s,
            at_the_end=pin(),
            trace=traced_since(killed_s),
        )


if __name__ == "__main__":
    main()
