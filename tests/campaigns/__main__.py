"""Run a campaign: `python -m tests.campaigns --seeds N [--days D] [--first SEED] [--replay LINE]`."""

import argparse
import multiprocessing
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from tests.campaigns.draw import Case
from tests.campaigns.report import Totals, show, tell
from tests.campaigns.result import Result, run
from tests.campaigns.shrink import shrink

SHOWN: int = 10
"""So many failing seeds are shrunk and told in full."""


def main() -> int:
    """Run what is asked for; return 0 where nothing is wrong."""
    asked = _arguments()
    console = Console(width=None if sys.stdout.isatty() else 160)
    if asked.replay:
        result = run(Case.of(asked.replay))
        tell(result, console) if result.violations else console.print(f"{result.line}: nothing is wrong")
        console.print(result.counts, result.states_s, f"{result.cpu_s:.1f} s", result.came_back)
        return int(bool(result.violations))
    began_s = time.monotonic()
    totals = Totals()
    for file in asked.add:
        totals.join(Totals.read(Path(file)))
    cases = [Case(seed=seed, days=asked.days) for seed in range(asked.first, asked.first + asked.seeds)]
    with _bar(console, len(cases)) as step:
        for result in _results(cases, asked.jobs):
            totals.add(result)
            step(len(totals.failing))
            if result.violations and len(totals.failing) <= SHOWN:
                tell(result, console)
    for result in totals.failing[:SHOWN] if asked.shrink else ():
        case = shrink(Case.of(result.line), partial(_fails, rules=frozenset(result.rules)))
        console.print("SHRUNK", highlight=False)
        tell(run(case), console)
    show(totals, console, time.monotonic() - began_s)
    if asked.out:
        totals.write(Path(asked.out))
    problems = totals.problems()
    for problem in problems:
        console.print(f"FAILED: {problem}", highlight=False)
    return int(bool(problems))


def _fails(case: Case, rules: frozenset[str]) -> bool:
    return bool(rules & run(case).rules.keys())


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns", description="Run seeded campaigns of faults.")
    parser.add_argument("--seeds", type=int, default=20, help="how many (20)")
    parser.add_argument("--days", type=float, default=3.0, help="how many days of chamber time each (3)")
    parser.add_argument("--first", type=int, default=0, metavar="SEED", help="the first one (0)")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="how many at once (one for each core)")
    parser.add_argument("--replay", default="", metavar="LINE", help="run one again, as it was printed")
    parser.add_argument(
        "--no-shrink", dest="shrink", action="store_false", help="leave failing lists as long as they are"
    )
    parser.add_argument("--add", nargs="*", default=[], metavar="FILE", help="count in what other runs wrote by --out")
    parser.add_argument("--out", default="", metavar="FILE", help="write the totals as JSON")
    return parser.parse_args()


def _results(cases: list[Case], jobs: int) -> Iterator[Result]:
    if min(jobs, len(cases)) <= 1:
        yield from map(run, cases)
        return
    with multiprocessing.get_context("fork").Pool(jobs, maxtasksperchild=20) as pool:
        yield from pool.imap_unordered(run, cases)


@contextmanager
def _bar(console: Console, total: int) -> Iterator[Callable[[int], None]]:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("seeds", total=total)

        def step(failing: int) -> None:
            progress.update(task, advance=1, description=f"seeds ({failing} failing)" if failing else "seeds")

        yield step


if __name__ == "__main__":
    sys.exit(main())
