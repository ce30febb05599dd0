"""The rows of a batch's diary: what happened, and who did it."""

from typing import Final

from controller.core.values import Event
from controller.records.csv_text import row_of, time_text

COLUMNS: Final = ("time", "kind", "id", "priority", "text", "actor")
HEADER: Final = row_of(COLUMNS)
FILE: Final = "events.csv"
WHAT: Final = tuple(range(1, len(COLUMNS)))
"""The columns that say what happened; the first says when."""
LATE: Final = " (written late)"
CLOCK: Final = " (clock not set)"
"""Ends the text of an event that the disk did not take when it happened, or whose time nobody could believe then: the
columns are those of every reader."""


def event_row(event: Event, wall_s: float, *, late: bool = False, clock_set: bool = True) -> bytes:
    """Return the row of one event; its time is that of what happened, also where it is written late."""
    text = f"{event.text}{'' if clock_set else CLOCK}{LATE if late else ''}"
    return row_of((time_text(wall_s), event.kind, event.id, event.priority, text, event.actor))
