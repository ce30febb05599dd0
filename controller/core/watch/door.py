"""A door that stands open.

That it was opened is told at once and calls nobody; it calls when it is forgotten. While the meat is being hung an open
lid is no fault: then it calls only after the longer time.

For a while after it was shut nothing can be told from the air. A loose contact, or air that looks like an open door
over and over, would let that while never end: after two hours without one such while of peace, what is told of the
door excuses nothing any more, until there is one.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.cause import RESTLESS
from controller.core.plant.lasting import spoken
from controller.core.thresholds import Thresholds
from controller.core.values import Event
from controller.core.watch.memory import DoorWatch
from controller.core.watch.seen import Seen

BACK_SHARE: Final = 1.5
BACK_MORE: Final = 0.1
"""How much more heat than before brings the air back. Common practice, no source."""


def watch_door(watch: DoorWatch, seen: Seen) -> tuple[DoorWatch, tuple[Condition, ...]]:
    """Raise P1 when the door has been open for ten minutes, and louder after thirty; warn of one without peace."""
    now_s, limits = seen.now_s, seen.chamber.thresholds
    hanging = seen.settling or (seen.kind == "warm-up" and seen.hung_for_s is None)
    has_peace = now_s - watch.shut_s >= limits.door_settles_s
    if watch.busy_s is not None and watch.since_s is None and has_peace:
        watch = replace(watch, busy_s=None)
    if not seen.opened:
        if watch.since_s is not None:
            watch = replace(watch, since_s=None, shut_s=now_s)
        return watch, _restless(watch, seen, hanging=hanging)
    if watch.since_s is None:
        watch = replace(watch, since_s=now_s, busy_s=now_s if watch.busy_s is None else watch.busy_s)
        return watch, _restless(watch, seen, hanging=hanging)
    open_s = now_s - watch.since_s
    if open_s < limits.door_s:
        return watch, _restless(watch, seen, hanging=hanging)
    watch = watch if watch.busy_s is None else replace(watch, busy_s=None)
    long = open_s >= limits.door_long_s
    if hanging and not long:
        return watch, ()
    text = f"The door has been open for {spoken(open_s)} (limit {limits.door_s / 60:.0f} min)."
    return watch, (Condition("P1", text, priority="1" if long else "", level=int(long)),)


def _restless(watch: DoorWatch, seen: Seen, *, hanging: bool) -> tuple[Condition, ...]:
    """Warn that the door is told to open over and over; not while the meat is being hung."""
    limits = seen.chamber.thresholds
    if hanging or not _is_restless(watch, seen.now_s, limits):
        return ()
    by_contact = "door" in seen.chamber.channels
    text = (
        f"The door {'is' if by_contact else 'seems to be'} opened over and over: for "
        f"{spoken(seen.now_s - (watch.busy_s or 0.0))} it was never shut for {spoken(limits.door_settles_s)} (limit "
        f"{spoken(_busy_s(limits))})."
    )
    first = "Is somebody at it? Else look at its contact, magnet and cable." if by_contact else "Is it shut, and tight?"
    did = "Nothing is switched off. What is told of the door excuses the air no more."
    return (Condition("P1", text, priority="3", about=RESTLESS, warns=True, first=first, did=did),)


def _is_restless(watch: DoorWatch, now_s: float, limits: Thresholds) -> bool:
    """Say whether the door has been opened again and again for so long that it is believed no more."""
    if watch.busy_s is None or now_s - watch.busy_s < _busy_s(limits):
        return False
    return (now_s if watch.since_s is None else watch.since_s) - watch.shut_s < limits.door_settles_s


def _busy_s(limits: Thresholds) -> float:
    """Return how long it may be so: never so short that one opening could do it."""
    return max(limits.door_busy_s, 2.0 * limits.door_settles_s, 2.0 * limits.door_s)


def is_resting(watch: DoorWatch, now_s: float, limits: Thresholds) -> bool:
    """Say whether the door was shut so short a time ago that the air still tells of it."""
    return now_s - watch.shut_s < limits.door_settles_s and not _is_restless(watch, now_s, limits)


def excuses(watch: DoorWatch, now_s: float, limits: Thresholds, *, is_open: bool) -> bool:
    """Say whether nothing can be told from how the air changes, for the door is open, or was just shut."""
    return (is_open and not _is_restless(watch, now_s, limits)) or is_resting(watch, now_s, limits)


def after_door(watch: DoorWatch, now_s: float, limits: Thresholds, held: float) -> float:
    """Return the most heat (0..1) after the door was shut, by what held the air before; 1 where it was not open lately.

    The air comes back by itself from warm walls and meat within minutes. A lamp at full power meanwhile stores more
    heat than it takes, and the air would run a kelvin over.
    """
    return BACK_SHARE * held + BACK_MORE if is_resting(watch, now_s, limits) else 1.0


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
