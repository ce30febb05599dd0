"""Small questions that are asked of one alarm, or of one condition."""

from typing import Final

from controller.core.alarms.condition import Condition
from controller.core.alarms.memory import Alarm
from controller.core.fault_table import ROWS
from controller.core.values import Event

KEPT: Final = 100
"""So many alarms are remembered; the oldest that need nobody any more go first."""


def how_bad(condition: Condition) -> tuple[bool, int, int, bool]:
    """Return what conditions of one cause are compared by; the worst is the highest."""
    priority = condition.priority or ROWS[condition.row].priority
    return not condition.warns, -ord(priority[0]), condition.level, not condition.unsure


def latches(condition: Condition) -> bool:
    """Say whether the alarm of a condition stays until a person clears it."""
    return (ROWS[condition.row].latches or condition.latches) and not condition.warns


def locks(condition: Condition) -> bool:
    """Say whether the alarm of a condition locks the heat while it is latched."""
    row = ROWS[condition.row]
    return (row.locks_heat or condition.latches) and condition.locks and not condition.warns


def off_delay_s(condition: Condition) -> float:
    """Return for how long a cause must have been gone before it is over."""
    return ROWS[condition.row].off_delay_s if condition.off_delay_s is None else condition.off_delay_s


def quietly(alarm: Alarm) -> str:
    """Say why an alarm that is there again does not call."""
    said = "a person has quieted it" if alarm.quiet_until_s is not None else f"it follows from {alarm.follows}"
    return f"{ROWS[alarm.row].title}: there again; {said}."


def stays(alarm: Alarm) -> bool:
    """Say whether an alarm stays on the list: somebody has to do with it, or it is quiet and may come back."""
    return alarm.needed or alarm.quiet_until_s is not None


def bounded(alarms: tuple[Alarm, ...]) -> tuple[Alarm, ...]:
    """Return the alarms without the oldest of too many that need nobody any more."""
    spare = len(alarms) - KEPT
    if spare <= 0:
        return alarms
    over = {alarm.id for alarm in [alarm for alarm in alarms if not alarm.active and not alarm.latched][:spare]}
    return tuple(alarm for alarm in alarms if alarm.id not in over)


def event_of(kind: str, alarm: Alarm, text: str, actor: str = "hangroom") -> Event:
    """Return the event that tells of an alarm."""
    return Event(kind, text, alarm.id, alarm.priority, actor, alarm.batch)
