"""When a batch was paused or waited by itself, as the diary tells it: from when to when, and why."""

from collections.abc import Sequence
from typing import Any, Final

from controller.records.csv_text import time_text
from controller.review.batch import EventRow

HOUR_S: Final = 3600.0
PAUSED: Final = "Paused"
WAITS: Final = "Waits"
GOES_ON: Final = ("Goes on", "Resumed")
"""How the diary's lines of kind `state` begin."""


def pauses_of(events: Sequence[EventRow], end_s: float) -> list[dict[str, Any]]:
    """Return each pause; `waits_for` is "person", or "itself" where the batch goes on without one.

    One that waited by itself and came to wait for a person is two. One that is not over lasts to the end of the record.

    Args:
        events: the diary.
        end_s: until when anything is known of the batch.
    """
    found: list[dict[str, Any]] = []
    since: EventRow | None = None
    for event in events:
        begins = event.kind == "state" and event.text.startswith((PAUSED, WAITS))
        ends = event.kind == "end" or (event.kind == "state" and event.text.startswith(GOES_ON))
        if since is not None and (begins or ends):
            found.append(_pause(since, event.time_s, is_open=False))
            since = None
        if begins:
            since = event
    return found if since is None else [*found, _pause(since, end_s, is_open=True)]


def _pause(since: EventRow, until_s: float, *, is_open: bool) -> dict[str, Any]:
    return {
        "from": time_text(since.time_s),
        "until": None if is_open else time_text(until_s),
        "hours": round(max(until_s - since.time_s, 0.0) / HOUR_S, 3),
        "waits_for": "person" if since.text.startswith(PAUSED) else "itself",
        "actor": since.actor,
        "text": since.text,
    }
