"""Move the times of alarms with a clock on the wall that was put right: they are told to people."""

from msgspec.structs import replace

from controller.core.alarms.memory import Alarm


def by_new_clock(alarms: tuple[Alarm, ...], stepped_s: float, began_s: float, until_s: float) -> tuple[Alarm, ...]:
    """Return the alarms with the instants between `began_s` and `until_s` (wall seconds) moved by the step."""
    return tuple(
        replace(
            alarm,
            since_wall_s=alarm.since_wall_s + stepped_s,
            by_wall_s=None if alarm.by_wall_s is None else alarm.by_wall_s + stepped_s,
        )
        if began_s <= alarm.since_wall_s <= until_s
        else alarm
        for alarm in alarms
    )
