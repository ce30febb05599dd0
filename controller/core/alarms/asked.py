"""What people ask of an alarm: that they have seen it, that it be quiet for a while, that what it locks be released.

Each returns the memory and the event, or says why not, in words for the person.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms.calling import TEST_S
from controller.core.alarms.entries import event_of, stays
from controller.core.alarms.memory import Alarm
from controller.core.alarms.message import clock_utc
from controller.core.fault_table import ROWS
from controller.core.memory import Memory
from controller.core.values import Event

LONGEST_QUIET_S: Final = 8 * 3600.0
LONGEST_QUIET_URGENT_S: Final = 3600.0
"""Quieting always ends: after a night's sleep, or an hour where it is urgent. Common practice, no source."""
OF_LAMP: Final = frozenset({"A1", "A2", "A3", "A10"})
"""What these lock they lock because of lamp, relay or heat."""


class Cannot(Exception):  # noqa: N818 - it is an answer, no error
    """Carry why it cannot be done, in words for the person."""

    def __init__(self, text: str) -> None:
        """Answer with these words."""
        super().__init__(text)
        self.text = text


def _find(memory: Memory, name: str) -> Alarm:
    found = next((alarm for alarm in memory.alarms if alarm.id == name), None)
    if found is None:
        raise Cannot(f"{name}: there is no such alarm now; hangroom alarms lists them")
    return found


def _put(memory: Memory, found: Alarm, after: Alarm | None) -> Memory:
    rest = [after if alarm is found else alarm for alarm in memory.alarms]
    return replace(memory, alarms=tuple(alarm for alarm in rest if alarm is not None))


def see(memory: Memory, name: str, actor: str, now_s: float) -> tuple[Memory, Event]:
    """Acknowledge one alarm: it sounds no longer, and calls again only while its cause lasts. Raises Cannot.

    What only tells that something has happened is over with this; what is over and seen is forgotten.
    """
    found = _find(memory, name)
    row = ROWS[found.row]
    # Two tones of a call that has just begun are cut short; until it calls again is counted from here.
    seen = replace(found, seen=True, called_s=now_s - TEST_S * 2)
    if row.until_seen and found.active:
        seen = replace(seen, active=False, gone_s=now_s)
    return _put(memory, found, seen if stays(seen) else None), event_of("seen", found, f"{row.title}: seen.", actor)


def answered_by_ph(alarms: tuple[Alarm, ...], batch: str) -> tuple[Alarm, ...]:
    """Return the alarms when a pH was typed: who does what H2 asks for has seen it, and it is over with that."""
    return tuple(replace(alarm, seen=True) if alarm.row == "H2" and alarm.batch == batch else alarm for alarm in alarms)


def answered_by_resuming(alarms: tuple[Alarm, ...], batch: str) -> tuple[Alarm, ...]:
    """Return the alarms when a batch was resumed: who does what P11 asks for has seen it, and needs no more calls."""
    return tuple(
        replace(alarm, seen=True) if alarm.row == "P11" and alarm.batch == batch else alarm for alarm in alarms
    )


def quiet(memory: Memory, name: str, for_s: float, actor: str, now_s: float, wall_s: float) -> tuple[Memory, Event]:
    """Let an alarm be quiet for so long; 0 ends it. It takes effect all the same. Raises Cannot.

    Args:
        memory: all that is remembered.
        name: the alarm.
        for_s: seconds; at most eight hours, of priority 1 one hour, and only after it was seen.
        actor: who asks.
        now_s: the monotonic clock, by which it ends.
        wall_s: the clock on the wall, for people.
    """
    found = _find(memory, name)
    title = ROWS[found.row].title
    if for_s == 0.0:
        if found.quiet_until_s is None:
            raise Cannot(f"{name}: is not quiet")
        loud = replace(found, quiet_until_s=None)
        return _put(memory, found, loud if stays(loud) else None), event_of(
            "quiet", found, f"{title}: may call.", actor
        )
    if not found.active:
        how = f"clear {name} releases what it locks" if found.latched else f"seen {name} takes it off the list"
        raise Cannot(f"{name}: is over and need not be quieted; hangroom {how}")
    urgent = found.priority == "1"
    if urgent and not found.seen:
        raise Cannot(f"{name}: asks to be answered now; first say that you know of it: hangroom seen {name}")
    longest_s = LONGEST_QUIET_URGENT_S if urgent else LONGEST_QUIET_S
    if not 0.0 < for_s <= longest_s:  # Also what is no number.
        why = " where it asks to be answered now" if urgent else ""
        raise Cannot(f"{name}: can be quiet for {longest_s / 3600.0:g} h at most{why}; then it calls again")
    until = clock_utc(wall_s + for_s)
    text = f"{title}: quiet until {until}. It takes effect all the same, and calls again then."
    after = replace(found, seen=True, quiet_until_s=now_s + for_s)
    return _put(memory, found, after), event_of("quiet", found, text, actor)


def clear(memory: Memory, name: str, actor: str, *, sure: bool = True) -> tuple[Memory, Event]:
    """Release a latched alarm after its cause has gone. Raises Cannot.

    What locks the heat because of lamp, relay or heat is asked back once: the program sees no lamp. Where it cannot
    tell whether the cause is gone, whoever has looked can.
    """
    found = _find(memory, name)
    if found.active and found.unproved and not sure:
        raise Cannot(
            f"{name}: its cause was there when the program began, and nothing could show since that it is gone: "
            f"{found.what} If you have seen to it: hangroom clear {name} --sure"
        )
    if found.active and not found.unsure and not found.unproved:
        raise Cannot(f"{name}: its cause is still there: {found.text}")
    if not found.latched:
        raise Cannot(f"{name}: is over and locks nothing; hangroom seen {name} takes it off the list")
    if found.locks and found.row in OF_LAMP and not sure:
        unsure = f"Whether its cause is gone cannot be told now: {found.what} " if found.active else ""
        raise Cannot(
            f"{name}: {unsure}First see for yourself that the lamp is dark while the program has it off (hangroom "
            f"status says so); then: hangroom clear {name} --sure"
        )
    return _put(memory, found, None), event_of("cleared", found, f"{ROWS[found.row].title}: cleared.", actor)
