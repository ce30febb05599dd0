"""What was done about each alarm: who had seen it and after how long, who quieted or cleared it, and when it was over.

One occurrence has one id, as A3-2. All comes from the diary; what the diary does not tell is None.
"""

from collections.abc import Sequence
from typing import Any, Final

from controller.core.fault_table import ROWS
from controller.records.csv_text import time_text
from controller.review.alarms import CALLS, active_spans, is_open
from controller.review.batch import EventRow

HOUR_S: Final = 3600.0
FOLLOWS_FROM: Final = "follows from "
UNTIL: Final = "quiet until "


def alarm_history(events: Sequence[EventRow], end_s: float) -> list[dict[str, Any]]:
    """Return one object for each occurrence of an alarm, in the order in which they came.

    Args:
        events: the diary.
        end_s: until when anything is known of the batch: what was open then lasted up to it.
    """
    mine: dict[str, list[EventRow]] = {}
    for event in events:
        if event.kind == "alarm" or event.id in mine:
            mine.setdefault(event.id, []).append(event)
    return [_occurrence(name, told, end_s) for name, told in mine.items()]


def _occurrence(name: str, told: Sequence[EventRow], end_s: float) -> dict[str, Any]:
    first = told[0]
    row = ROWS.get(name.rsplit("-", 1)[0])
    spans = active_spans(told, end_s)
    return {
        "id": name,
        "title": name if row is None else row.title,
        "priority": min((event.priority for event in told if event.priority), default=first.priority),
        "raised": time_text(first.time_s),
        "text": first.text,
        "called": sum(event.kind in CALLS for event in told),
        "seen": _did(told, "seen"),
        "quieted": [_by(event, first) for event in told if event.kind == "quiet" and UNTIL in event.text],
        "cleared": _did(told, "cleared"),
        "returned": _returned(told),
        "follows": next((_cause(event.text) for event in told if event.kind == "follows"), None),
        "active_h": round(sum(until_s - since_s for since_s, until_s in spans) / HOUR_S, 3),
        "open": is_open(told),
    }


def _did(told: Sequence[EventRow], kind: str) -> dict[str, Any] | None:
    """Return who did this first, when, and how many hours after it had been raised; None where nobody did."""
    event = next((event for event in told if event.kind == kind), None)
    return None if event is None else _by(event, told[0])


def _by(event: EventRow, first: EventRow) -> dict[str, Any]:
    return {
        "by": event.actor,
        "time": time_text(event.time_s),
        "after_h": round((event.time_s - first.time_s) / HOUR_S, 3),
    }


def _returned(told: Sequence[EventRow]) -> str | None:
    """Return when its cause was gone for the last time; None while it is there."""
    ends = [event for event in told if event.kind == "returned"]
    return time_text(ends[-1].time_s) if ends and not is_open(told) else None


def _cause(text: str) -> str | None:
    """Return the id of the alarm from which this one follows."""
    _, found, rest = text.partition(FOLLOWS_FROM)
    return rest.split()[0].rstrip(".;,") if found and rest.split() else None
