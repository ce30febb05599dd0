"""The rows of what people measured or saw. A correction is a new row that names the one it replaces."""

from typing import Final

from controller.core.values import Entry
from controller.records.csv_text import row_of, time_text

COLUMNS: Final = (
    "id",
    "time",
    "kind",
    "value",
    "unit",
    "piece",
    "instrument",
    "sample_temp_c",
    "actor",
    "entered_at",
    "replaces",
    "note",
)
HEADER: Final = row_of(COLUMNS)
FILE: Final = "readings.csv"
KEY: Final = tuple(COLUMNS.index(name) for name in ("id", "kind", "piece"))
"""One entry leaves one row of a kind and piece."""


def reading_row(entry: Entry) -> bytes:
    """Return the row of one entry; its value stays as it was typed."""
    return row_of(
        (
            entry.id,
            time_text(entry.at_wall_s),
            entry.kind,
            entry.value,
            entry.unit,
            entry.piece,
            entry.instrument,
            "" if entry.sample_temp_c is None else f"{entry.sample_temp_c:g}",
            entry.actor,
            time_text(entry.entered_wall_s),
            entry.replaces,
            entry.note,
        )
    )
