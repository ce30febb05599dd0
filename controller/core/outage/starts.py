"""Starts that followed no stop: a program that crashes (C2), and a supply that comes and goes (C14).

A start in a new boot of the machine is a cut of the power, or a computer that hung: no crash of the program. Both are
told by clocks that no step of the wall can touch. Between two boots whose distance nobody knows the least is taken.
"""

from collections.abc import Iterable, Sequence
from typing import Final

from controller.core.alarms import Condition
from controller.core.memory import Memory
from controller.core.outage.away import Starts
from controller.core.plan import Chamber
from controller.core.values import FAILS, Trouble

CRASHES: Final = 3
CRASH_WINDOW_S: Final = 600.0
HOUR_S: Final = 3600.0
BURST_S: Final = 60.0
BURST: Final = 3
"""So many times within this that the supply was too weak are a burst, as of mains that flicker; a single one is none
(C9). Common practice, no source."""


def starts_now(kept: Memory, now_s: float, gap_s: float | None, *, same_boot: bool) -> Starts:
    """Return the starts of late, with this one.

    Args:
        kept: what the last checkpoint held.
        now_s: the monotonic clock.
        gap_s: for how long the program was away; None where nobody knows.
        same_boot: whether the machine has not been restarted since.
    """
    older_s = max(kept.last_s - kept.started_s, 0.0) + (gap_s or 0.0)
    boots = tuple(ago_s + older_s for ago_s in kept.starts.boots_ago_s if ago_s + older_s <= HOUR_S)
    # Another boot has another clock: what lay so long before the last tick lies so long before it still. A program that
    # crashed and could not start for minutes has not run well meanwhile: they make no crash any older.
    later_s = now_s - kept.last_s - (0.0 if same_boot else gap_s or 0.0)
    instants = (at_s + later_s for at_s in kept.starts.crashes_s)
    crashes = tuple(at_s for at_s in instants if now_s - at_s <= CRASH_WINDOW_S)
    if kept.ended_cleanly:
        return Starts(boots, crashes)
    # A start that could not be written down for a while may have hidden others before it from this one too.
    return Starts(boots, (*crashes, now_s), kept.starts.untold) if same_boot else Starts((*boots, 0.0), crashes)


def uncounted(memory: Memory, trouble: Iterable[Trouble], now_s: float) -> str:
    """Return the row by which heat waits since this start could not be written down; empty where it need not.

    A program that crashes again and again before a disk that takes nothing begins each time with the same memory, and
    nobody counts. So one that began after a crash gives no heat there before it has outlived the time in which crashes
    are counted; a disk that takes something meanwhile knows of this start only, and not of those before it. Nor does
    one that seems to be the first of its boot: where the disk has taken nothing since, each of them seems so.
    """
    starts = memory.starts
    is_first_of_boot = starts.boots_ago_s[-1:] == (0.0,)
    if not (starts.crashes_s or is_first_of_boot) or now_s - memory.started_s > CRASH_WINDOW_S:
        return ""
    return next((one.row for one in trouble if one.level >= FAILS), memory.starts.untold)


def watch_starts(memory: Memory, chamber: Chamber, now_s: float) -> list[Condition]:
    """Raise C2 while the program has crashed too often lately, C14 while the supply has not been quiet for long."""
    starts, low_times_s = memory.starts, memory.watch.machine.low_times_s
    if not starts.crashes_s and not starts.boots_ago_s and not low_times_s:
        return []
    found = []
    crashes = sum(1 for at_s in starts.crashes_s if now_s - at_s <= CRASH_WINDOW_S)
    if crashes >= CRASHES:
        minutes = CRASH_WINDOW_S / 60.0
        found.append(Condition("C2", f"{crashes} ends of the program without a stop in {minutes:.0f} min."))
    limits, since_s = chamber.thresholds, now_s - memory.started_s
    boots = sum(1 for ago_s in starts.boots_ago_s if ago_s + since_s <= HOUR_S)
    if boots > limits.boots_per_h and since_s < limits.supply_quiet_s:
        text = f"The computer has started {boots} times in an hour without having been stopped"
        found.append(Condition("C14", f"{text}, limit {limits.boots_per_h}."))
    elif low_times_s and now_s - low_times_s[-1] < limits.supply_quiet_s:
        bursts = _bursts([at_s for at_s in low_times_s if now_s - at_s <= HOUR_S])
        if bursts > limits.boots_per_h:
            text = f"The computer's supply was too weak in {bursts} bursts in an hour, limit {limits.boots_per_h}."
            found.append(Condition("C14", text))
    return found


def _bursts(times_s: Sequence[float]) -> int:
    """Return how many bursts there are among these instants, oldest first; none counts in two of them."""
    bursts = place = 0
    while place + BURST <= len(times_s):
        if times_s[place + BURST - 1] - times_s[place] <= BURST_S:
            bursts, place = bursts + 1, place + BURST
        else:
            place += 1
    return bursts
