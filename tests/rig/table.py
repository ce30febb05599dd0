"""Measures how long it takes from a cause to the lamp's end, both stamped by the guest kernel's trace."""

import shutil
import statistics
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.rig.guest import Guest
from tests.rig.guest_chamber import Chamber, off_after, safe_off_after
from tests.rig.guest_install import installed, machine, new_disk, share
from tests.rig.scenarios import HEAT_ENDS, Scenario

BURNING: Final = "burning"
PHASE_S: Final = 1.1
"""Each run waits so much longer before its cause than the one before: five runs fall all over a decision's 5 s."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Hold what one run of a scenario gave: seconds until the lamp was off, and until the safe-off drove the line."""

    off_s: float | None
    safe_off_s: float | None
    energised_again: bool


@contextmanager
def chamber_in_guest(words: str = "", *, second_disk: Path | None = None) -> Iterator[Chamber]:
    """Yield a chamber whose guest has booted with the program installed and running."""
    folder = Path(tempfile.mkdtemp(prefix="rig-disk-"))
    disk = new_disk(installed() / "disk.qcow2", folder / "disk.qcow2")
    try:
        with Guest(disk, machine(), share=second_disk or share(), words=words) as guest:
            guest.wait_up()
            chamber = Chamber(guest)
            try:
                yield chamber
            finally:
                chamber.close()
    finally:
        shutil.rmtree(folder)


def begin_ferment(chamber: Chamber) -> Chamber:
    """Start the fast batch as the maker does, and wait until the lamp burns."""
    chamber.wait("the daemon runs", lambda: chamber.show("ActiveState") == "active", within_s=120.0)
    chamber.maker("hangroom start tangy --meat 5kg")
    return chamber.wait_for_heat()


def measure(chamber: Chamber, scenario: Scenario, wait_s: float = 0.0) -> Measured:
    """Go back to the burning lamp, set the cause, and watch."""
    chamber.back_to(BURNING)
    chamber.pass_(wait_s)
    scenario.cause(chamber)
    chamber.pass_(scenario.watch_s)
    trace, until_s = chamber.trace(), chamber.guest.now_s()
    cause_s = trace.at("cause")
    changes = chamber.changes("heater", trace)
    off_s = off_after(changes, cause_s, until_s=until_s)
    again = off_s is not None and any(c.level and c.at_s > cause_s + off_s for c in changes)
    return Measured(off_s, safe_off_after(trace, "heater", int(chamber.active == "low"), cause_s), again)


def rows(chamber: Chamber, runs: int, only: str) -> Iterator[tuple[Scenario, list[Measured]]]:
    """Yield each scenario with its runs."""
    for scenario in HEAT_ENDS:
        if only in scenario.name:
            yield scenario, [measure(chamber, scenario, PHASE_S * run) for run in range(runs)]


def text_of(seconds: list[float | None]) -> str:
    """Return median and worst in seconds; "–" where there is none, "?" where only some runs have one."""
    found = [value for value in seconds if value is not None]
    if not found:
        return f"{'–':>8} {'–':>8}"
    if len(found) < len(seconds):
        return f"{statistics.median(found):8.2f} {'never':>8}"
    return f"{statistics.median(found):8.2f} {max(found):8.2f}"


def table(runs: int, only: str = "") -> Iterator[str]:
    """Yield the table line by line, each as soon as its scenario has been measured."""
    yield f"{'':42} {'lamp off, s':>17} {'safe-off, s':>17}"
    yield f"{f'cause ({runs} runs)':42} {'median':>8} {'worst':>8} {'median':>8} {'worst':>8} {'allowed':>8}"
    with chamber_in_guest() as chamber:
        begin_ferment(chamber).pass_(5.0).keep(BURNING)
        for scenario, measured in rows(chamber, runs, only):
            off, safe = text_of([m.off_s for m in measured]), text_of([m.safe_off_s for m in measured])
            yield f"{scenario.name:42} {off} {safe} {scenario.within_s:8.0f}"
        now_mib, peak_mib = memory_mib(chamber.back_to(BURNING))
        yield f"memory of the service's whole control group: {now_mib:.1f} MiB, at most {peak_mib:.1f} MiB"


def memory_mib(chamber: Chamber) -> tuple[float, float]:
    """Return the memory that the kernel counts for the service, its part of the page cache too: now, and at most."""
    folder = "/sys/fs/cgroup/system.slice/hangroom.service"
    said = chamber.guest.sh(f"cat {folder}/memory.current {folder}/memory.peak").split()
    return int(said[0]) / 2**20, int(said[1]) / 2**20
