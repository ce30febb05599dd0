"""The computer itself: decisions that come late, its supply, its processor, its disk, and the watchdog that reset it.

None of this is asked of the chamber, so these rules speak also while nothing hangs.
"""

from collections.abc import Mapping
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.memory import OutputMemory
from controller.core.values import Role
from controller.core.watch.memory import MachineWatch
from controller.core.watch.seen import Seen

HOUR_S: Final = 3600.0
LASTS_S: Final = 60.0
"""A supply that stays weak counts once more every minute."""
COOLER_K: Final = 5.0
ROOM_AGAIN: Final = 1.1
"""So much more room than the limit ends the alarm, so that a disk at the limit raises one and not twenty."""


def watch_machine(watch: MachineWatch, seen: Seen) -> tuple[MachineWatch, list[Condition]]:
    """Raise C1 for a late decision, C3 for a reset, C6 to C8 for the disk, C9 for the supply, C10 for the processor."""
    health, limits, found = seen.health, seen.chamber.thresholds, list[Condition]()
    if seen.dt_s > limits.ticks_late * seen.chamber.tick_s and seen.since_start_s > seen.dt_s:
        every_s = seen.chamber.tick_s
        limit = f"limit {limits.ticks_late * every_s:g} s"
        found.append(
            Condition(
                "C1", f"A decision came {seen.dt_s:.0f} s after the last, {limit}; one comes every {every_s:g} s."
            )
        )
    if health.reset_by_watchdog and not watch.reset_told:
        watch = replace(watch, reset_told=True)
        found.append(Condition("C3", "The computer hung, and its own watchdog reset it."))
    if health.low_voltage or watch.low:
        watch = _supply(watch, seen, found)
    processor_c, free_mb, share = health.processor_c, health.disk_free_mb, health.disk_free_share
    if processor_c is not None and (watch.hot or processor_c > limits.processor_c):
        watch = _processor(watch, processor_c, seen, found)
    if health.disk_read_only:
        found.append(Condition("C7", "The disk can only be read: the kernel says so of its file system.", level=1))
    if free_mb is not None:
        share = 1.0 if share is None else share
        if watch.filling or free_mb < limits.disk_free_mb or share < limits.disk_free_share:
            watch = _disk(watch, free_mb, share, seen, found)
    if seen.trouble:
        found += [
            Condition(trouble.row, trouble.text, priority=trouble.priority, level=trouble.level, did=trouble.did)
            for trouble in {trouble.row: trouble for trouble in reversed(seen.trouble)}.values()
        ]
    return watch, found


def _supply(watch: MachineWatch, seen: Seen, found: list[Condition]) -> MachineWatch:
    """Count how often in an hour the supply was too weak: each time it becomes so, and each minute in which it is."""
    now_s, per_h = seen.now_s, seen.chamber.thresholds.supply_per_h
    if not seen.health.low_voltage:
        return replace(watch, low=False)
    times_s = watch.low_times_s
    if not watch.low or now_s - times_s[-1] >= LASTS_S:
        times_s = (*(at_s for at_s in times_s if now_s - at_s < HOUR_S), now_s)
    often = len(times_s) > per_h
    count = f", {len(times_s)} times in an hour, limit {per_h}" if often else ""
    text = f"The kernel says that the computer's supply is too weak{count}: sensors, relays and card may suffer."
    found.append(Condition("C9", text, priority="2" if often else "3", level=int(often)))
    return replace(watch, low=True, low_times_s=times_s, low_since_s=watch.low_since_s if watch.low else now_s)


def not_switched_on(watch: MachineWatch, seen: Seen) -> frozenset[Role]:
    """Return the outputs that stay off while the supply has just become too weak: none may change but to off."""
    if seen.now_s - watch.low_since_s >= seen.chamber.thresholds.supply_calm_s:
        return frozenset()
    return _that_are_off(seen.outputs, seen.now_s)


def _that_are_off(outputs: Mapping[Role, OutputMemory], now_s: float) -> frozenset[Role]:
    return frozenset(role for role, output in outputs.items() if output.on_until_s <= now_s)


def _processor(watch: MachineWatch, processor_c: float, seen: Seen, found: list[Condition]) -> MachineWatch:
    limit_c = seen.chamber.thresholds.processor_c
    hot = processor_c > (limit_c - COOLER_K if watch.hot else limit_c)
    if hot:
        found.append(Condition("C10", f"The processor is at {processor_c:.0f} °C, limit {limit_c:g} °C."))
    return watch if hot == watch.hot else replace(watch, hot=hot)


def _disk(watch: MachineWatch, free_mb: float, share: float, seen: Seen, found: list[Condition]) -> MachineWatch:
    limits, ease = seen.chamber.thresholds, ROOM_AGAIN if watch.filling else 1.0
    filling = free_mb < limits.disk_free_mb * ease or share < limits.disk_free_share * ease
    if filling:
        free = f"{free_mb:.0f} MB free ({100.0 * share:.1f} %)"
        limit = f"limit {limits.disk_free_mb:g} MB and {100.0 * limits.disk_free_share:g} %"
        text = f"The disk is nearly full: {free}, {limit}."
        found.append(Condition("C6", text, priority="3", did="Nothing is deleted by itself."))
    return watch if filling == watch.filling else replace(watch, filling=filling)
