"""Feed spoiled files to every reader: `python -m tests.fuzz [--inputs 50000] [--seed 1] [--target NAME ...]`.

`--replay TARGET:SEED:NUMBER` feeds one input again and shows it; `--save FOLDER` writes it there.
"""

import argparse
import resource
import sys
import tempfile
import traceback
from pathlib import Path

from tests.fuzz.harness import Find, Hung, Target, Told, feed, made_by, run, spoken, within
from tests.fuzz.invented import require_nothing_comes_out
from tests.fuzz.targets import TARGETS

MEMORY_BYTES = 6_000_000_000
"""An input that makes a reader want more than this is a find, and no trouble for the machine."""


class Shown:
    """Print how far the run is, and each find as it comes."""

    def __init__(self) -> None:
        """Begin with none."""
        self._finds = 0

    def __call__(self, told: Told) -> None:
        """Print what is new."""
        print(f"{told.inputs.total()} inputs, {len(told.finds)} faults", flush=True)
        for find in list(told.finds.values())[self._finds :]:
            print("\n".join(lines_of(find)), flush=True)
        self._finds = len(told.finds)


def lines_of(find: Find) -> list[str]:
    """Return what was found, and how it is fed again."""
    head = f"  {find.target}: {find.what} at {find.where}, {find.times} times"
    return [head, f"    {spoken(find.text)}", f"    {find.replay}"]


def table(told: Told) -> str:
    """Return what came of it, as a person reads it."""
    lines = [f"{'reader':<16}{'inputs':>8}{'accepted':>10}{'slowest':>10}{'took':>8}"]
    for name, count in told.inputs.items():
        slowest, took = told.slowest_s.get(name, 0.0), told.seconds.get(name, 0.0)
        lines.append(f"{name:<16}{count:>8}{told.accepted[name]:>10}{slowest:>8.2f} s{took:>6.0f} s")
    lines.append(f"{'all':<16}{told.inputs.total():>8}{told.accepted.total():>10}")
    lines.append(f"{len(told.finds)} faults found")
    finds = sorted(told.finds.values(), key=lambda one: (one.target, one.where))
    return "\n".join([*lines, *(line for find in finds for line in lines_of(find))])


def replay(words: str, folder: Path) -> int:
    """Feed one input again, and show it and what comes of it."""
    name, seed, number = words.split(":")
    target = next(kind for kind in TARGETS if kind.name == name)()
    target.prepare(folder)
    made = made_by(target, int(seed), int(number))
    print(spoken(repr(made))[:20_000])
    with within(60.0):
        print("accepted" if feed(target, made) else "refused in words")
    return 0


def main() -> int:
    """Read the options and run; return 1 where a fault was found."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--inputs", type=int, default=50_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--invented", type=int, default=200, help="files that hypothesis invents for each reader")
    options.add_argument("--target", action="append", choices=[kind.name for kind in TARGETS])
    options.add_argument("--replay", metavar="TARGET:SEED:NUMBER")
    chosen = options.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:  # noqa: S108
        if chosen.replay:
            return replay(chosen.replay, Path(folder))
        targets = [kind() for kind in TARGETS if not chosen.target or kind.name in chosen.target]
        told = run(targets, chosen.inputs, chosen.seed, Path(folder), Shown())
        found = invent(targets, chosen.invented, chosen.seed)
    print(table(told))
    print(f"{chosen.invented * len(targets)} files that hypothesis invented: {found} readers let something out")
    return 1 if told.finds or found else 0


def invent(targets: list[Target], examples: int, seed: int) -> int:
    """Feed so many invented files to each reader; print what comes out, and return of how many readers it did."""
    found = 0
    for target in targets:
        try:
            require_nothing_comes_out(target, examples, seed)
        except (Exception, Hung):  # noqa: BLE001 - whatever comes out is the find
            found += 1
            print(
                f"{target.name}, a file that hypothesis invented:\n{spoken(traceback.format_exc())[-3000:]}", flush=True
            )
    return found


if __name__ == "__main__":
    sys.exit(main())
