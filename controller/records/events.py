"""The rows of a batch's diary: what happened, and who did it."""

from typing import Final

from controller.core.values import Event
from controller.records.csv_text import row_of, time_text

COLUMNS: Final = ("time", "kind", "id", "priority", "text", "actor")
HEADER: Final = row_of(COLUMNS)
FILE: Final = "events.csv"


def event_row(event: Event, wall_s: float) -> bytes:
    """Return the row of one event."""
    return row_of((time_text(wall_s), event.kind, event.id, event.priority, event.text, event.actor))
