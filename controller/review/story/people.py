"""What people noted, and what they decided."""

from collections.abc import Sequence
from typing import Any, Final

from controller.records.csv_text import time_text
from controller.review.batch import EventRow, ReadingRow
from controller.review.story.corrected import THE_PROGRAM

DECISIONS: Final = frozenset({"start", "hang", "set", "confirm", "state", "stage", "cool", "end", "refused"})
"""Kinds of the diary's lines that a person's will is behind, where a person stands in them."""
AGAIN_S: Final = 60.0
LOOKS: Final = frozenset({"look", "firmness", "smell"})


def once(events: Sequence[EventRow]) -> list[EventRow]:
    """Return the diary without what a killed program, started anew, told of a person a second time."""
    said: dict[tuple[str, ...], float] = {}
    kept = []
    for event in events:
        what = event[1:]
        is_again = event.actor != THE_PROGRAM and 0.0 <= event.time_s - said.get(what, -AGAIN_S * 2.0) <= AGAIN_S
        if not is_again:
            kept.append(event)
            said[what] = event.time_s
    return kept


def notes(events: Sequence[EventRow], readings: Sequence[ReadingRow]) -> list[dict[str, Any]]:
    """Return what people wrote, by its time: notes, and how the meat looked, felt and smelled."""
    written = [(event.time_s, event.id or "note", event.text, event.actor) for event in events if event.kind == "note"]
    written += [(row.time_s, _of(row), _with_remark(row), row.actor) for row in readings if row.kind in LOOKS]
    return [
        {"time": time_text(at_s), "about": about, "text": text, "actor": actor}
        for at_s, about, text, actor in sorted(written)
    ]


def _of(row: ReadingRow) -> str:
    return f"{row.kind} of {row.piece}" if row.piece else row.kind


def _with_remark(row: ReadingRow) -> str:
    return f"{row.text} ({row.note})" if row.note else row.text


def decisions(events: Sequence[EventRow]) -> list[dict[str, Any]]:
    """Return what people decided, and what the program did not take of it (kind `refused`)."""
    return [
        {"time": time_text(event.time_s), "kind": event.kind, "text": event.text, "actor": event.actor}
        for event in events
        if event.kind in DECISIONS and event.actor and event.actor != THE_PROGRAM
    ]
