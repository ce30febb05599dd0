"""Alarms in a maker's words: one line each beside everything else, or a page of their own."""

from collections.abc import Iterable, Iterator
from typing import Final

from controller.cli.local import in_local_words
from controller.cli.say import PRIORITY_WORDS, fold, show_time
from controller.records.alarm_status import AlarmStatus
from controller.settings.units import Units

INDENT: Final = "    "


def urgency(alarm: AlarmStatus) -> tuple[bool, bool, str, float]:
    """Return what alarms are sorted by: what is there before what is over, the urgent first, the newest of these."""
    return not alarm.active, bool(alarm.suppressed_by), alarm.priority, -alarm.since_wall_s


def is_urgent(alarm: AlarmStatus) -> bool:
    """Say whether somebody has to act now: what is over, or can wait, stands below."""
    return alarm.active and alarm.priority == "1" and not alarm.suppressed_by


def describe_alarm(alarm: AlarmStatus, timezone: str, units: Units) -> str:
    """Return one alarm in a paragraph, for a page on which other things stand."""
    notes = "; ".join(_notes(alarm, timezone))
    said = " ".join(part for _, part in _parts(alarm))
    head = f"{alarm.id}  {show_time(alarm.since_wall_s, timezone)}"
    head += f"  {_urgency_words(alarm, timezone)}" if alarm.active else ""
    return f"{head}{f' [{notes}]' if notes else ''}: {in_local_words(said, timezone, units)}"


def tell_alarm(alarm: AlarmStatus, timezone: str, units: Units) -> Iterator[str]:
    """Yield the lines of one alarm on the page of alarms: what, what was done, what to do first, how it stands."""
    about = f", batch {alarm.batch}" if alarm.batch else ""
    since = f"{'since' if alarm.active else 'began'} {show_time(alarm.since_wall_s, timezone)}"
    urgency_words = _urgency_words(alarm, timezone) if alarm.active else "over"
    yield from fold(f"{alarm.id}  {urgency_words}; {since}{about}", INDENT, "")
    for name, part in _parts(alarm):
        yield from fold(f"{name}{in_local_words(part, timezone, units)}", INDENT * 2 if name else INDENT, INDENT)
    if alarm.hides:
        titles = ", ".join(dict.fromkeys(follower.title for follower in alarm.hides))
        yield from fold(f"Because of it, and no alarm of its own: {titles}.", INDENT * 2, INDENT)
    for note in _notes(alarm, timezone):
        yield from fold(f"{note[0].upper()}{note[1:]}.", INDENT * 2, INDENT)
    if alarm.active and not alarm.seen and not alarm.suppressed_by:
        yield from fold(f"Say that you know of it: hangroom seen {alarm.id}", INDENT * 2, INDENT)


def _parts(alarm: AlarmStatus) -> Iterator[tuple[str, str]]:
    """Yield what is said of it, with the name of each part; of what is over nothing as if it were so now."""
    what = alarm.what or alarm.text
    yield "", what if alarm.active else f"It was: {what}"
    if alarm.active and alarm.did:
        yield "Done: ", alarm.did
    if (alarm.active or alarm.latched) and alarm.first:
        yield "First: ", alarm.first


def tell_flood(first: str, alarms: Iterable[AlarmStatus]) -> Iterator[str]:
    """Yield one line that names the first of many alarms; the others may be its consequences."""
    if first:
        title = next((f" ({alarm.title})" for alarm in alarms if alarm.id == first), "")
        yield from fold(f"Many alarms at once. The first was {first}{title}: look at that one first.", INDENT, "")


def _urgency_words(alarm: AlarmStatus, timezone: str) -> str:
    words = PRIORITY_WORDS.get(alarm.priority, f"priority {alarm.priority}")
    if alarm.by_wall_s is None:
        return words
    by = _clock(alarm.by_wall_s, alarm.since_wall_s, timezone)
    return f"{words}, OVERDUE since {by}" if alarm.overdue else f"{words}, by {by}"


def _clock(wall_s: float, near_s: float, timezone: str) -> str:
    """Return an instant beside another one; the date only where it is another day."""
    day, clock = show_time(wall_s, timezone).split(" ")
    return clock if show_time(near_s, timezone).startswith(day) else f"{day} {clock}"


def _notes(alarm: AlarmStatus, timezone: str) -> list[str]:
    """Return how an alarm stands, beside that it is there."""
    notes = []
    if alarm.suppressed_by:
        notes.append(f"follows from {alarm.suppressed_by} and does not call")
    if alarm.quiet_until_wall_s is not None:
        notes.append(
            f"quiet until {_clock(alarm.quiet_until_wall_s, alarm.since_wall_s, timezone)}, then it calls again"
        )
    if not alarm.active:
        over = f"over; hangroom seen {alarm.id} takes it off"
        notes.append(f"over, but locked until you clear it: hangroom clear {alarm.id}" if alarm.latched else over)
    elif alarm.unproved:
        notes.append("from before the restart, not looked at again yet")
    if alarm.seen:
        notes.append("seen")
    return notes
