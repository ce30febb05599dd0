"""What alarms go on taking away although their rule does not speak in this tick."""

from collections.abc import Iterable

from controller.core.alarms.condition import Condition
from controller.core.alarms.memory import Alarm
from controller.core.fault_table import ROWS


def lingering(alarms: Iterable[Alarm], now_s: float) -> list[Condition]:
    """Return the conditions that still take effect: latched ones, and those gone for less than their off-delay.

    A warning takes nothing away, and a sensor on which no heat depends takes no heat.
    """
    found = []
    for alarm in alarms:
        row = ROWS[alarm.row]
        if alarm.warns or (row.locks_heat and not alarm.locks):
            continue
        is_fresh = alarm.active and alarm.gone_s is not None and now_s - alarm.gone_s < alarm.off_delay_s
        if is_fresh or alarm.latched:
            found.append(Condition(row.id, alarm.what, alarm.batch, alarm.priority, alarm.about))
    return found
