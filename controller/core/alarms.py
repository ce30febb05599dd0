"""Alarms after IEC 62682: raised once for one cause, acknowledged by a person, latched where the fault table says so.

An alarm is something a person must do something about. What needs nobody is an event. One occurrence has one name,
its row and a count, as `A3-2`.
"""

from collections.abc import Iterable, Mapping
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.core.fault_table import ROWS
from controller.core.memory import Alarm
from controller.core.values import Event

KEPT: Final = 100
"""So many alarms are remembered; the oldest that need nobody any more go first."""


class Condition(Struct, frozen=True):
    """Hold what is wrong in this tick: the row, the batch it concerns, what was measured against which limit."""

    row: str
    text: str
    batch: str = ""
    priority: str = ""  # Empty: as the table says.
    about: str = ""  # Which sensor, where several can fail by the same row.
    level: int = 0  # How far it has gone; when it rises, the alarm calls again with the new words.
    locks: bool = True  # False: no heat depends on what failed, whatever the table says.
    warns: bool = False  # A mere warning: it takes nothing away and does not latch, whatever the table says.
    did: str = ""  # What the program did, where the table's words do not fit.


def settle(
    alarms: tuple[Alarm, ...], counts: Mapping[str, int], conditions: Iterable[Condition], wall_s: float
) -> tuple[tuple[Alarm, ...], dict[str, int], tuple[Event, ...]]:
    """Return the alarms after this tick, the counts of each row, and the events that tell what changed."""
    wrong = {(condition.row, condition.batch, condition.about): condition for condition in conditions}
    if not wrong and not alarms:
        return alarms, dict(counts), ()
    after: list[Alarm] = []
    events: list[Event] = []
    new_counts = dict(counts)
    for alarm in alarms:
        still = wrong.pop((alarm.row, alarm.batch, alarm.about), None)
        if still is not None:
            renewed = _renewed(alarm, still)
            if renewed.level > alarm.level or not alarm.active:
                events.append(_event("alarm", renewed, renewed.text))
            after.append(renewed)
            continue
        if alarm.active:
            gone = "The cause is gone; it stays until it is cleared." if alarm.latched else "Over by itself."
            events.append(_event("returned", alarm, f"{ROWS[alarm.row].title}: {gone}"))
        kept = replace(alarm, active=False)
        if kept.latched or not kept.seen:
            after.append(kept)
    for condition in wrong.values():
        row = ROWS[condition.row]
        number = new_counts.get(row.id, 0) + 1
        new_counts[row.id] = number
        alarm = Alarm(
            id=f"{row.id}-{number}",
            row=row.id,
            priority=condition.priority or row.priority,
            text=f"{condition.text} {row.first}",
            since_wall_s=wall_s,
            batch=condition.batch,
            about=condition.about,
            level=condition.level,
            latched=row.latches and not condition.warns,
            locks=row.locks_heat and condition.locks and not condition.warns,
        )
        after.append(alarm)
        events.append(_event("alarm", alarm, alarm.text))
    return _bounded(after), new_counts, tuple(events)


def _renewed(alarm: Alarm, condition: Condition) -> Alarm:
    """Return an alarm whose condition is there (again), with what is wrong now in its words.

    It calls again where it got worse, and where it had been over: what comes again is news to the person who has seen
    it end. While it lasts the words are kept up to date in silence.
    """
    row = ROWS[alarm.row]
    text = alarm.text if condition.text == alarm.text else f"{condition.text} {row.first}"
    calls_again = condition.level > alarm.level or not alarm.active
    return replace(
        alarm,
        active=True,
        seen=alarm.seen and not calls_again,
        level=condition.level,
        priority=condition.priority or row.priority,
        text=text,
    )


def _bounded(alarms: list[Alarm]) -> tuple[Alarm, ...]:
    spare = len(alarms) - KEPT
    if spare > 0:
        over = [alarm for alarm in alarms if not alarm.active and not alarm.latched][:spare]
        return tuple(alarm for alarm in alarms if alarm not in over)
    return tuple(alarms)


def _event(kind: str, alarm: Alarm, text: str, actor: str = "hangroom") -> Event:
    return Event(kind, text, alarm.id, alarm.priority, actor, alarm.batch)


def acknowledge(alarms: tuple[Alarm, ...], name: str, actor: str) -> tuple[tuple[Alarm, ...], Event | None]:
    """Mark one alarm as seen; None where there is no such alarm. An alarm that is over and seen is forgotten."""
    found = next((alarm for alarm in alarms if alarm.id == name), None)
    if found is None:
        return alarms, None
    seen = replace(found, seen=True)
    rest = tuple(
        seen if alarm is found else alarm for alarm in alarms if alarm is not found or seen.active or seen.latched
    )
    return rest, _event("seen", found, f"{ROWS[found.row].title}: seen.", actor)


def clear(alarms: tuple[Alarm, ...], name: str, actor: str) -> tuple[tuple[Alarm, ...], Event | None, str]:
    """Release a latched alarm after its cause has gone; else return why not, in words for the person."""
    found = next((alarm for alarm in alarms if alarm.id == name), None)
    if found is None:
        return alarms, None, f"{name}: there is no such alarm now; `hangroom alarms` lists them"
    if found.active:
        return alarms, None, f"{name}: its cause is still there: {found.text}"
    if not found.latched:
        return alarms, None, f"{name}: is over and locks nothing; `hangroom seen {name}` takes it off the list"
    rest = tuple(alarm for alarm in alarms if alarm is not found)
    return rest, _event("cleared", found, f"{ROWS[found.row].title}: cleared.", actor), ""


def calls(alarms: Iterable[Alarm]) -> bool:
    """Say whether the sounder has to call: an alarm of the first priority that nobody has seen yet."""
    return any(alarm.priority == "1" and not alarm.seen for alarm in alarms)
