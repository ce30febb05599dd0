"""The time without the program, as the diary tells it: why, and how long, where anybody knows."""

from collections.abc import Sequence
from typing import Any, Final

from controller.core.outage.back import BOUNDED, KNOWN, NEVER, UNKNOWN
from controller.records.csv_text import time_text
from controller.review.batch import EventRow

NEWS: Final = "The program was not running"
REASONS: Final = (
    ("the power had failed", "power cut, or the computer hung"),
    ("it had been stopped", "the program was stopped"),
    ("it had ended without a stop", "the program ended by itself"),
)
LENGTHS: Final = {UNKNOWN: "not known yet", NEVER: "never known", KNOWN: "told later by a clock"}


def breaks_of(events: Sequence[EventRow]) -> list[dict[str, Any]]:
    """Return each time the program was not running: when it was back, why, what is known of the length, the words.

    `length` is empty where the diary's own words have it. What is told later of the same break is put beside it.
    """
    found: list[dict[str, Any]] = []
    for event in events:
        if event.kind != "gap":
            continue
        if found and not event.text.startswith(NEWS):
            found[-1]["later"].append(event.text)
            found[-1]["length"] = _length(event) or found[-1]["length"]
            continue
        why = next((said for words, said in REASONS if words in event.text), "not told")
        found.append(
            {"back": time_text(event.time_s), "why": why, "length": _length(event), "text": event.text, "later": []}
        )
    return found


def _length(event: EventRow) -> str:
    word, _, seconds = event.id.partition(":")
    if word == BOUNDED and seconds.isascii() and seconds.isdigit():
        return f"at most {float(seconds) / 3600.0:.1f} h, by the cooling"
    return LENGTHS.get(event.id, "")
