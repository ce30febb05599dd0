"""Kill the real command again and again: `python -m tests.killing [--times 200] [--seed 1] [--keep FOLDER]`."""

import argparse
import sys
import tempfile
from pathlib import Path

from tests.killing.campaign import Campaign, Told
from tests.killing.process import can_trace


def show(told: Told) -> None:
    """Print how far it is."""
    if told.kills % 10 == 0:
        print(f"{told.kills} kills, {sum(told.in_call.values())} of them inside a system call", flush=True)


def table(told: Told) -> str:
    """Return what came of it, as a person reads it."""
    lines = [
        f"kills                                  {told.kills}",
        f"  before the first tick                {told.before_ready}",
        f"  at a random instant                  {told.at_random}",
        f"    of these, no chosen call came        {told.in_vain}",
        f"  where a system call was entered      {sum(told.in_call.values())}",
        *(f"    {call:<10} {name:<28} {count:>4}" for (call, name), count in sorted(told.in_call.items())),
        f"requests typed                         {told.typed}",
        f"  acknowledged                         {told.acknowledged}",
        f"  refused                              {told.refused}",
        f"rows they left                         {told.rows}",
        f"torn ends seen                         {told.torn}",
        f"seconds                                {told.seconds:.0f}",
        f"wrong                                  {len(told.wrong)}",
        *(f"  {line}" for line in told.wrong),
    ]
    return "\n".join(lines)


def run() -> int:
    """Read the options, run the campaign, print the table; return 1 where anything was wrong."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--times", type=int, default=200)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--keep", type=Path, help="an empty folder in which the files stay")
    chosen = options.parse_args()
    if not can_trace():
        print("NO KILL HITS INSIDE A SYSTEM CALL: strace is not here, or may not trace (apt-get install strace)")
    with tempfile.TemporaryDirectory() as folder:
        told = Campaign(chosen.keep or Path(folder) / "chamber", chosen.seed).run(chosen.times, show)
    print(table(told))
    return 1 if told.wrong else 0


if __name__ == "__main__":
    sys.exit(run())
