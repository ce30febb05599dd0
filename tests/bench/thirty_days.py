"""Measure a 30-day batch at a 5 s tick on the old fridge: `python -m tests.bench.thirty_days [DAYS]`.

Prints ticks, climate rows, seconds, and microseconds per tick: as a whole (not instrumented), by ring (a second run
in which each port is timed, so a little slower), and beside them the bare modelled world that runs alone in the same
process. The ratio is what to compare between machines; the goal is 518,400 ticks in under 60 s.
"""

import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

from controller import app, daemon
from controller.app import simulated
from controller.settings.chamber_file import find_chamber
from controller.settings.profile_file import find_profile
from controller.simulator.world import World
from tests.helpers.shipped_chambers import shipped_chamber

BEGIN_WALL_S = 1_767_592_800.0  # 2026-01-05T06:00:00Z
SPENT: dict[str, float] = defaultdict(float)


def batch(days: float) -> app.Summary:
    """Run a mild batch, which dries in the fridge for longer than that."""
    with tempfile.TemporaryDirectory() as folder:
        simulation = app.Simulation(
            profile=find_profile("mild"),
            chamber=find_chamber("old-fridge"),
            out=Path(folder),
            begin_wall_s=BEGIN_WALL_S,
            days=days,
            diameter_mm=80.0,
        )
        return app.simulate(simulation, lambda _progress: None)


def timed(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    """Return the function with its time added up under this name."""

    def wrapper(*args: Any, **kwargs: Any) -> Any:
        began = time.perf_counter()
        try:
            return function(*args, **kwargs)
        finally:
            SPENT[name] += time.perf_counter() - began

    return wrapper


def instrument() -> None:
    """Time every ring at its port."""
    original = daemon.Ports

    def ports(clock: Any, sensors: Any, relays: Any, keeper: Any, *others: Any) -> daemon.Ports:
        clock.sleep_until = timed("simulator: world", clock.sleep_until)
        sensors.newest = timed("simulator: sensors", sensors.newest)
        relays.apply = timed("simulator: relays", relays.apply)
        keeper.keep = timed("records", keeper.keep)
        return original(clock, sensors, relays, keeper, *others)

    daemon.step = timed("core", daemon.step)  # type: ignore[attr-defined]
    simulated.Ports = ports  # type: ignore[assignment,attr-defined]


def bare(days: float) -> float:
    """Return the seconds that the world alone needs for so many days, asked every 5 s."""
    world = World(shipped_chamber("old-fridge"), begin_wall_s=BEGIN_WALL_S)
    began, now_s = time.perf_counter(), 0.0
    while now_s < days * 86_400.0:
        now_s += 5.0
        world.run_to(now_s)
        world.sensors.newest()
    return time.perf_counter() - began


def main() -> None:
    """Run and print."""
    days = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    summary = batch(days)
    per_tick = summary.real_s / summary.ticks * 1e6
    print(f"{summary.ticks:,} ticks, {summary.rows:,} climate rows, state {summary.state}")
    print(f"whole run      {summary.real_s:6.1f} s  {per_tick:6.1f} µs per tick")
    alone = bare(days / 10.0) * 10.0 / summary.ticks * 1e6
    print(f"bare world     {'':8}  {alone:6.1f} µs per tick; the run needs {per_tick / alone:.1f} times as long")
    instrument()
    part = batch(days / 10.0)
    for name, seconds in sorted(SPENT.items(), key=lambda item: -item[1]):
        print(f"  {name:20} {seconds / part.ticks * 1e6:6.1f} µs per tick")


if __name__ == "__main__":
    main()
