"""Show that a campaign finds bugs: `python -m tests.campaigns.planted [--seeds N] [--only WORDS]`.

Each bug of `mutants` is planted in a process of its own, and seeds are run until the campaign fails.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Final

import msgspec
from msgspec import Struct
from msgspec.structs import replace
from rich.console import Console
from rich.table import Table

from tests.campaigns.mutants import MUTANTS, Mutant, plant

FEW: Final = 12
"""So many seeds are looked at before the shares are judged (held, passed, heated)."""
OFTEN: Final = 10.0
"""So much more often are drawn the kinds of faults that a bug needs, where it names some."""


class Found(Struct, frozen=True):
    """Hold how a bug was found: after how many seeds, and by which rule."""

    name: str
    seeds: int
    by: str
    cpu_s: float = 0.0

    @property
    def is_found(self) -> bool:
        """Say whether it was."""
        return bool(self.by)


def hunt(mutant: Mutant, seeds: int) -> Found:
    """Plant a bug into this process, and run seeds until the campaign fails."""
    plant(mutant)
    from tests.campaigns.draw import Case
    from tests.campaigns.kinds import KINDS
    from tests.campaigns.report import Totals
    from tests.campaigns.result import run

    KINDS.update({name: replace(KINDS[name], weight=OFTEN * KINDS[name].weight) for name in mutant.often})
    began_s = time.process_time()
    totals = Totals()
    for seed in range(seeds):
        result = run(Case(seed=seed, days=mutant.days))
        totals.add(result)
        rules = sorted(result.rules.keys() & set(mutant.by))
        if rules:
            return Found(mutant.name, seed + 1, f"{', '.join(rules)} ({result.line})", time.process_time() - began_s)
        shares = totals.shares() if seed + 1 >= FEW and "shares" in mutant.by else []
        if shares:
            return Found(mutant.name, seed + 1, "; ".join(shares), time.process_time() - began_s)
    return Found(mutant.name, seeds, "", time.process_time() - began_s)


def hunt_apart(mutant: Mutant, seeds: int) -> Found:
    """Hunt a bug in a fresh process."""
    command = [sys.executable, "-m", "tests.campaigns.planted", "--one", mutant.name, "--seeds", str(seeds)]
    done = subprocess.run(command, capture_output=True, check=False)
    try:
        return msgspec.json.decode(done.stdout, type=Found)
    except msgspec.DecodeError:
        return Found(mutant.name, 0, "", 0.0 if not done.stderr else -1.0)


def main(argv: Sequence[str] | None = None) -> int:
    """Hunt all bugs; return 0 where each was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.planted", description="Plant bugs and find them.")
    parser.add_argument("--seeds", type=int, default=60, help="how many at most for each bug (60)")
    parser.add_argument("--only", default="", metavar="WORDS", help="only bugs whose name has these words")
    parser.add_argument("--one", default="", help=argparse.SUPPRESS)
    asked = parser.parse_args(argv)
    if asked.one:
        mutant = next(mutant for mutant in MUTANTS if mutant.name == asked.one)
        sys.stdout.buffer.write(msgspec.json.encode(hunt(mutant, asked.seeds)))
        return 0
    console = Console(width=None if sys.stdout.isatty() else 150)
    chosen = [mutant for mutant in MUTANTS if asked.only in mutant.name]
    table = Table(title="Planted bugs")
    for name in ("bug", "found after", "by"):
        table.add_column(name)
    missed = 0
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        for done in as_completed([pool.submit(hunt_apart, mutant, asked.seeds) for mutant in chosen]):
            found = done.result()
            missed += not found.is_found
            after = f"{found.seeds} seeds" if found.is_found else f"NOT in {found.seeds} seeds"
            table.add_row(found.name, after, found.by)
            console.print(f"{found.name}: {after}, {found.cpu_s:.0f} s: {found.by}", highlight=False, markup=False)
    console.print(table)
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
