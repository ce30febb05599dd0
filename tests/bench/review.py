"""Measure the review of long logs beside Polars alone; run: python -m tests.bench.review [--years 10] [--keep DIR].

In one run, each three times in turn and equally warm, the best of each:
- a year of rows of 10 s reviewed completely, beside Polars alone that reads the same files in a stream and takes one
  mean of each column that has one (the time is one of them; also without it, when Polars need not read times at all);
- every figure of that review equal to those of `hangroom review --json`, and to a recomputation by numpy;
- the most memory of `hangroom review --json` over ten years, by the kernel's own count (ru_maxrss of the child);
- a month of minutes from the command line.
The data are invented and lie under /tmp while it runs.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl

from controller.review.figures import review
from tests.helpers.brute_force import compare
from tests.helpers.long_logs import write_long

ROUNDS = 3
HANGROOM = Path(sys.executable).with_name("hangroom")
YEAR_DAYS, MONTH_DAYS = 365, 30
STARTER = """
import os, subprocess, sys, time
began_s = time.perf_counter()
child = subprocess.Popen(sys.argv[1:])
_, status, used = os.wait4(child.pid, 0)
print(time.perf_counter() - began_s, used.ru_utime + used.ru_stime, used.ru_maxrss, file=sys.stderr)
sys.exit(0 if os.waitstatus_to_exitcode(status) in (0, 65) else 1)
"""
GOAL_RATIO, GOAL_MIB, GOAL_MONTH_S = 2.0, 500.0, 1.0


def means(folder: Path, *, with_time: bool) -> pl.DataFrame:
    """Return one mean of each column, by Polars alone, in a stream."""
    columns = [pl.col(pl.Float64, pl.Int64).mean()]
    if with_time:
        columns.append(pl.col("time").str.to_datetime("%Y-%m-%dT%H:%M:%SZ").mean())
    return pl.scan_csv(folder / "climate-*.csv").select(columns).collect(engine="streaming")


def timed(work: Callable[[], Any]) -> tuple[float, float, Any]:
    """Return the seconds on the wall, those of the processors, and what came out."""
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    made = work()
    return time.perf_counter() - wall_s, time.process_time() - cpu_s, made


def in_a_child(folder: Path) -> tuple[float, float, float, dict[str, Any]]:
    """Return the seconds, those of the processors, the most memory in MiB, and the figures of `review --json`.

    A process of its own starts it: what a child has copied of a large parent before it runs counts as its memory.
    """
    line = [sys.executable, "-c", STARTER, str(HANGROOM), "review", str(folder), "--json"]
    done = subprocess.run(line, capture_output=True, check=True, text=True)
    took_s, cpu_s, most_kib = done.stderr.split()[-3:]
    return float(took_s), float(cpu_s), float(most_kib) / 1024.0, json.loads(done.stdout)


def a_year(folder: Path) -> bool:
    """Measure a year; return whether the goal was met."""
    log = write_long(folder, YEAR_DAYS)
    if log is None:
        raise SystemExit("the log was not kept")
    best: dict[str, tuple[float, float]] = {}
    figures: dict[str, Any] = {}
    works: dict[str, Callable[[], Any]] = {
        "alone": lambda: means(folder, with_time=True),
        "without time": lambda: means(folder, with_time=False),
        "review": lambda: review(folder),
    }
    for _ in range(ROUNDS + 1):  # The first round warms all up alike.
        for name, work in works.items():
            wall_s, cpu_s, made = timed(work)
            if name == "review":
                figures = made
            old = best.get(name, (float("inf"), float("inf")))
            best[name] = (min(old[0], wall_s), min(old[1], cpu_s))
    _, _, mib, told = in_a_child(folder)
    assert json.loads(json.dumps(figures)) == told, "the timed review and review --json differ"
    checked = compare(log, told)
    size = sum(path.stat().st_size for path in folder.glob("climate-*.csv")) / 1e6
    print(f"a year: {told['rows']:,} rows, {size:.0f} MB, load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    for name, (wall_s, cpu_s) in best.items():
        print(f"  {name:13} {wall_s:6.2f} s on the wall, {cpu_s:6.2f} s of the processors")
    ratio = best["review"][0] / best["alone"][0]
    for name in ("alone", "without time"):
        wall, cpu = (best["review"][place] / best[name][place] for place in (0, 1))
        print(f"  review beside Polars {name}: {wall:.2f} on the wall, {cpu:.2f} of the processors")
    print(f"  {checked} figures equal to numpy by brute force; all equal to review --json; child {mib:.0f} MiB")
    return ratio <= GOAL_RATIO


def years(folder: Path, count: int) -> bool:
    """Measure the memory of many years; return whether the goal was met."""
    write_long(folder, count * YEAR_DAYS, keep=False)
    took_s, _, mib, told = in_a_child(folder)
    print(f"{count} years: {told['rows']:,} rows in {took_s:.0f} s, {mib:.0f} MiB at most")
    return mib < GOAL_MIB


def a_month(folder: Path) -> bool:
    """Measure a month of minutes from the command line; return whether the goal was met."""
    write_long(folder, MONTH_DAYS, every_s=60, keep=False)
    runs = [in_a_child(folder)[:2] for _ in range(5)]
    took_s, cpu_s = min(run[0] for run in runs), min(run[1] for run in runs)
    print(f"a month of minutes from the command line: {took_s:.2f} s, {cpu_s:.2f} s of the processors")
    return took_s < GOAL_MONTH_S


def main() -> None:
    """Measure all, say what was met, and take the data away."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--years", type=int, default=10, help="of the run for memory; 0 leaves it out")
    parser.add_argument("--keep", type=Path, help="where the data stay; else they are deleted")
    asked = parser.parse_args()
    base = asked.keep or Path(tempfile.mkdtemp(prefix="hangroom-bench-"))
    try:
        met = {"month": a_month(base / "month"), "year": a_year(base / "year")}
        if asked.years:
            met[f"{asked.years} years"] = years(base / "years", asked.years)
    finally:
        if asked.keep is None:
            shutil.rmtree(base)
    for name, is_met in met.items():
        print(f"{name}: {'met' if is_met else 'NOT met'}")


if __name__ == "__main__":
    main()
