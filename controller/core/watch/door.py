"""A door that stands open."""

from controller.core.alarms import Condition
from controller.core.watch.memory import DoorWatch
from controller.core.watch.seen import Seen


def watch_door(watch: DoorWatch, seen: Seen) -> tuple[DoorWatch, list[Condition]]:
    """Raise P1 when the door has been open for ten minutes."""
    if not seen.known.door_open:
        return (watch if watch.since_s is None else DoorWatch()), []
    if watch.since_s is None:
        return DoorWatch(seen.now_s), []
    open_s = seen.now_s - watch.since_s
    if open_s < seen.chamber.thresholds.door_s:
        return watch, []
    return watch, [Condition("P1", f"The door has been open for {open_s / 60:.0f} min.")]
