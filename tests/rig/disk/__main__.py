"""Judge the records on disks that lose their power, and on disks that fail: `python -m tests.rig.disk`.

--states COUNT [--seed N]: states that a power cut may leave, each mounted, begun on and judged (as root).
--replay FILE --state NUMBER: one of them again, as a failing one is printed; FILE is the recording that was kept.
--planted NAME|all: with a fault planted into the records, which must be found.
--failures: tell a day once for each call to the disk and each error that it can come back with.
--failure NUMBER:ERROR[:lasting]: one of them again, as a failing one is printed.
"""

import argparse
import errno
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import gettempdir

from tests.rig.disk import recovery
from tests.rig.disk.crashes import MANNERS, Kept, kept_in
from tests.rig.disk.failing import LASTS_S, SHORT, Failure
from tests.rig.disk.failures import Tried, failures, try_all, try_failure, undisturbed
from tests.rig.disk.mounting import OPTIONS, new_image, why_not
from tests.rig.disk.planted import PLANTED, planted

ERRORS = ("ENOSPC", "EIO", "EROFS", "SHORT")


def show(number: int, tried: Tried, new: Sequence[str]) -> None:
    """Print how far it is, and what is wrong as soon as it is found."""
    for line in new:
        print(line, flush=True)
    if number % 250 == 0:
        print(f"{number} tried, {len(tried.wrong)} wrong", flush=True)


def failure_of(text: str) -> Failure:
    """Read a failure as `--failure` takes it."""
    number, name, *lasting = text.split(":")
    error = SHORT if name == "SHORT" else int(getattr(errno, name))
    return Failure(int(number), error, LASTS_S if lasting else 0.0)


def table(tried: Tried, seconds: float) -> str:
    """Return what came of all failures, as a person reads it."""
    kinds = sorted(tried.calls, key=lambda kind: -tried.calls[kind])
    lines = [f"{'call':<22}{'in the day':>11}" + "".join(f"{name:>8}" for name in ERRORS)]
    for kind in kinds:
        cells = (tried.tried[kind, name] or "" for name in ERRORS)
        lines.append(f"{kind:<22}{tried.calls[kind]:>11}" + "".join(f"{cell:>8}" for cell in cells))
    each = (sum(count for (_, error), count in tried.tried.items() if error == name) for name in ERRORS)
    lines.append(f"{'all':<22}{sum(tried.calls.values()):>11}" + "".join(f"{count:>8}" for count in each))
    lasting = ", ".join(f"{name} {count}" for name, count in sorted(tried.lasting.items()))
    lines += [
        f"failed once                                   {sum(tried.tried.values())}",
        f"failed for ten minutes from that call on      {sum(tried.lasting.values())} ({lasting})",
        f"  with a start refused and gone right later   {tried.starts_refused}",
        f"  with a typist told that nothing was posted  {tried.typing_refused}",
        f"  with a stop that said what it could not save {tried.said_lost}",
        f"seconds                                       {seconds:.0f}",
        f"lost, doubled, half, unmarked or ended        {len(tried.wrong)}",
        *(f"  {line}" for line in tried.wrong[:40]),
    ]
    return "\n".join(lines)


def run_failures(options: argparse.Namespace) -> int:
    """Try the failures that were asked for; return 1 where anything was wrong."""
    plain, began_s = undisturbed(), time.monotonic()
    if options.failure:
        told = try_failure(failure_of(options.failure), plain)
        print("\n".join(told.wrong) or "nothing wrong")
        return 1 if told.wrong else 0
    chosen = list(failures(plain, options.every, 10 * options.every))
    print(f"{len(plain.calls)} calls in the day, {len(chosen)} failures to be tried", flush=True)
    tried = try_all(plain, chosen, show)
    print(table(tried, time.monotonic() - began_s))
    return 1 if tried.wrong else 0


def show_state(found: recovery.Found, new: Sequence[str]) -> None:
    """Print how far it is, and what is wrong as soon as it is found."""
    for line in new:
        print(line[:400], flush=True)
    count = sum(found.states.values())
    if count % 50 == 0:
        print(f"{count} states, {len(found.wrong)} wrong", flush=True)


def table_of_states(found: recovery.Found, seconds: float) -> str:
    """Return what came of all states, as a person reads it."""
    lines = [f"{'unflushed writes':<44}" + "".join(f"{options:>18}" for options in OPTIONS)]
    lines.extend(
        f"  {manner:<42}" + "".join(f"{found.states[options, manner]:>18}" for options in OPTIONS) for manner in MANNERS
    )
    lines += [
        f"states in all                               {sum(found.states.values())}",
        f"  begun on by `hangroom run` as well         {found.by_command}",
        f"states of a beginning that was cut too      {found.of_beginnings}",
        f"promised rows looked for                    {found.promised_rows}",
        f"promised whole files looked for             {found.promised_wholes}",
        f"posted requests looked for                  {found.posted}",
        f"answered only after the cut                 {found.answered_afterwards}",
        f"states with a torn line at an end           {found.torn_ends}",
        f"states with zero bytes at an end            {found.zero_ends}",
        f"states with the memory's older copy only    {found.copy_taken}",
        f"seconds                                     {seconds:.0f}",
        f"lost, doubled, half or unreadable           {len(found.wrong)}",
    ]
    return "\n".join(lines)


def recorded(mount: str, count: int, seed: int) -> Kept:
    """Tell the day on a disk that is mounted so, and return its recording."""
    return Kept(mount, seed, count, recovery.record(new_image(), mount, seed))


def run_states(options: argparse.Namespace) -> int:
    """Judge so many states, half of them of each way to mount; return 1 where anything was wrong."""
    found, began_s = recovery.Found(), time.monotonic()
    if options.replay:
        recovery.try_states(kept_in(Path(options.replay)), found, show_state, options.state)
    for mount in () if options.replay else OPTIONS:
        place = str(Path(gettempdir()) / f"hangroom-{mount}-{options.seed}.recording")
        recovery.try_states(
            recorded(mount, -(-options.states // len(OPTIONS)), options.seed), found, show_state, place=place
        )
    print(table_of_states(found, time.monotonic() - began_s))
    return 1 if found.wrong else 0


def run_planted(options: argparse.Namespace) -> int:
    """Plant one fault after the other and look for it; return 1 where one was not found."""
    missed = []
    for name in PLANTED if options.planted == "all" else [options.planted]:
        found = recovery.Found()
        first: list[str] = []

        def keep(found: recovery.Found, new: Sequence[str], first: list[str] = first) -> None:
            if new and not first:
                first.append(f"{sum(found.states.values())} states: {new[0][:200]}")

        for mount in OPTIONS:
            with planted(name):
                recovery.try_states(recorded(mount, options.states or 60, options.seed), found, keep)
        print(f"{name:<32}{'found after ' + first[0] if first else 'NOT FOUND'}", flush=True)
        missed += [] if first else [name]
    return 1 if missed else 0


def run() -> int:
    """Read the options and do what they say."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--states", type=int, default=0, help="how many states a power cut may leave")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--state", type=int, help="this one only")
    options.add_argument("--replay", help="the recording of a day that was kept")
    options.add_argument("--planted", choices=("all", *PLANTED))
    options.add_argument("--failures", action="store_true", help="fail each call of the records in turn")
    options.add_argument("--failure", help="fail this one only")
    options.add_argument("--every", type=int, default=1, help="take each n-th call only")
    chosen = options.parse_args()
    if chosen.failures or chosen.failure:
        return run_failures(chosen)
    if not chosen.states and not chosen.planted and not chosen.replay:
        options.print_help()
        return 64
    reason = why_not()
    if reason:
        print(f"NO STATE OF A DISK WAS JUDGED: {reason}")
        return 69
    return run_planted(chosen) if chosen.planted else run_states(chosen)


if __name__ == "__main__":
    sys.exit(run())
