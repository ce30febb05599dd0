"""A door that stands open.

That it was opened is told at once and calls nobody; it calls when it is forgotten. While the meat is being hung an open
lid is no fault: then it calls only after the longer time.
"""

from typing import Final

from controller.core.alarms import Condition
from controller.core.plant.lasting import spoken
from controller.core.values import Event
from controller.core.watch.memory import DoorWatch
from controller.core.watch.seen import Seen

BACK_SHARE: Final = 1.5
BACK_MORE: Final = 0.1
"""How much more heat than before brings the air back. Common practice, no source."""


def watch_door(watch: DoorWatch, seen: Seen) -> tuple[DoorWatch, tuple[Condition, ...]]:
    """Raise P1 when the door has been open for ten minutes, and louder after thirty."""
    now_s, limits = seen.now_s, seen.chamber.thresholds
    if not seen.known.door_open:
        return (watch if watch.since_s is None else DoorWatch(None, now_s)), ()
    if watch.since_s is None:
        return DoorWatch(now_s, watch.shut_s), ()
    open_s = now_s - watch.since_s
    long, hanging = open_s >= limits.door_long_s, seen.settling or (seen.kind == "warm-up" and seen.hung_for_s is None)
    if open_s < limits.door_s or (hanging and not long):
        return watch, ()
    text = f"The door has been open for {spoken(open_s)} (limit {limits.door_s / 60:.0f} min)."
    return watch, (Condition("P1", text, priority="1" if long else "", level=int(long)),)


def is_resting(watch: DoorWatch, now_s: float, settles_s: float) -> bool:
    """Say whether the door was shut so short a time ago that the air still tells of it."""
    return now_s - watch.shut_s < settles_s


def after_door(watch: DoorWatch, now_s: float, settles_s: float, held: float) -> float:
    """Return the most heat (0..1) after the door was shut, by what held the air before; 1 where it was not open lately.

    The air comes back by itself from warm walls and meat within minutes. A lamp at full power meanwhile stores more
    heat than it takes, and the air would run a kelvin over.
    """
    return BACK_SHARE * held + BACK_MORE if is_resting(watch, now_s, settles_s) else 1.0


def door_events(before: DoorWatch, after: DoorWatch, now_s: float, *, by_contact: bool) -> tuple[Event, ...]:
    """Return what is told at once: that the door was opened, or shut again; where no contact says so, that it seems.

    Without a contact the air settles minutes after, whether the door is shut or not.
    """
    is_ = "is" if by_contact else "seems to be"
    if before.since_s is None and after.since_s is not None:
        return (Event("door", f"The door {is_} open.", id="P1", priority="E"),)
    if before.since_s is not None and after.since_s is None:
        text = f"The door is shut after {spoken(now_s - before.since_s)}."
        if not by_contact:
            text = "The air has settled since the door seemed to be open; whether it is shut, only a look tells."
        return (Event("door", text, id="P1", priority="E"),)
    return ()
