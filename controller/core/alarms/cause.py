"""First-out: one cause, one alarm. What merely follows from an alarm is no alarm of its own.

The fault table names for each row those that it silences. Four things are never silenced, whatever stands there: what
another batch or another sensor has; humidity that an alarm of the thermometer cannot explain, and the other way round;
what locks the heat, by an alarm that takes less away; and what is more urgent than its cause.
"""

from collections.abc import Iterable
from typing import Final

from controller.core.alarms.condition import Condition
from controller.core.alarms.memory import Alarm
from controller.core.fault_table import ROWS, Row
from controller.core.values import WITNESSES

HUMIDITY: Final = frozenset({"A5", "A6", "S10", "S11", "P7", "P8"})
"""Rows of humidity, as causes and as consequences."""
CLIMATE: Final = frozenset({"P2", "P4"})
"""Rows of temperature or of humidity: their condition says about which."""
OF_HUMIDITY: Final = frozenset({"rh", "rh_2"})
OF_WITNESSES: Final = frozenset({"S9"})
"""What a broken witness brings about: it disagrees with the thermometer that leads."""
RESTLESS: Final = "restless"
"""What the alarm of a door that opens over and over is about: it explains nothing, for it is believed no more."""
LEADS: Final = frozenset({"", "air_temp"})
AFTERWARDS: Final = frozenset({"S7", "S9", "A3", "A7", "A8", "P2", "P4", "P6"})
"""What still follows from a cause that is gone and not cleared: the air cools without heat, and a probe that was put
back shows something else for a while. Not that it is too hot, which no locked heat explains."""


def _ranked() -> dict[str, int]:
    """Return for each row how long the longest chain of consequences is; it must have an end."""

    def depth(row: Row, above: tuple[str, ...]) -> int:
        if row.id in above:
            raise ValueError(f"{row.id} silences itself, by way of {', '.join(above)}")
        return 1 + max((depth(ROWS[name], (*above, row.id)) for name in row.silences), default=0)

    return {row.id: depth(row, ()) for row in ROWS.values()}


RANK: Final = _ranked()
"""Causes have a higher one than what follows from them."""


def causes_first(conditions: Iterable[Condition]) -> list[Condition]:
    """Return the conditions of one tick so that what others follow from comes before them."""
    return sorted(conditions, key=lambda condition: -RANK[condition.row])


def explains(cause: Alarm, row: str, batch: str, about: str, priority: str, *, locks: bool) -> bool:
    """Say whether this alarm is the cause of another one, so that the other need not call.

    Args:
        cause: an alarm that is active.
        row: of the other.
        batch: of the other.
        about: which sensor or output the other concerns.
        priority: of the other.
        locks: whether the other one locks the heat.
    """
    table = ROWS[cause.row]
    if row not in table.silences or (batch and cause.batch and batch != cause.batch):
        return False
    if locks and not (cause.latched and cause.locks and set(ROWS[row].off) <= set(table.off)):
        return False
    if priority < cause.priority or cause.about == RESTLESS:
        return False
    is_of_humidity = row in HUMIDITY or (row in CLIMATE and about in OF_HUMIDITY)
    if cause.row.startswith("S") and cause.about not in LEADS:
        return row in OF_WITNESSES if cause.about in WITNESSES else cause.about in OF_HUMIDITY and is_of_humidity
    return is_of_humidity or cause.row not in HUMIDITY


def cause_of(alarms: Iterable[Alarm], condition: Condition) -> Alarm | None:
    """Return the alarm that a condition follows from: one that is active, or goes on locking the heat; else None."""
    row = ROWS[condition.row]
    priority = condition.priority or row.priority
    locks = (row.locks_heat or condition.latches) and condition.locks and not condition.warns
    for alarm in alarms:
        if stands(alarm, condition.row, condition.level) and explains(
            alarm, condition.row, condition.batch, condition.about, priority, locks=locks
        ):
            return alarm
    return None


def stands(cause: Alarm, row: str, level: int = 0) -> bool:
    """Say whether a cause is there still for what follows from it; `level` is that of what follows."""
    locked = cause.latched and cause.locks and row in AFTERWARDS
    return cause.active or (locked and not (row == "P6" and level > 0))  # No locked heat lets meat freeze.
