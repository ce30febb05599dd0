"""The rows of a batch's diary: what happened, and who did it."""

from typing import Final

from controller.core.values import Event
from controller.records.csv_text import row_of, time_text

COLUMNS: Final = ("time", "kind", "id", "priority", "text", "actor")
HEADER: Final = row_of(COLUMNS)
FILE: Final = "events.csv"
LATE: Final = " (written late)"
"""Ends the text of an event that the disk did not take when it happened: the columns are those of every reader."""


def event_row(event: Event, wall_s: float, *, late: bool = False) -> bytes:
    """Return the row of one event; its time is that of what happened, also where it is written late."""
    text = f"{event.text}{LATE}" if late else event.text
    return row_of((time_text(wall_s), event.kind, event.id, event.priority, text, event.actor))
