"""What was corrected, with old and new value, and who typed what."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from controller.records.csv_text import time_text
from controller.review.batch import EventRow, ReadingRow

THE_PROGRAM: Final = "hangroom"
HOUR_S: Final = 3600.0


def corrections(readings: Sequence[ReadingRow]) -> list[dict[str, Any]]:
    """Return each correction in the order in which it was typed; `old` is None where the entry it names is not there.

    Args:
        readings: all of them, also those that were replaced.
    """
    by_name = {(row.id, row.kind, row.piece): row for row in readings}
    found = []
    for row in readings:
        if not row.replaces:
            continue
        old = by_name.get((row.replaces, row.kind, row.piece))
        found.append(
            {
                "id": row.id,
                "replaces": row.replaces,
                "kind": row.kind,
                "piece": row.piece,
                "unit": row.unit,
                "old": None if old is None else _value(old),
                "new": _value(row),
                "old_time": None if old is None else time_text(old.time_s),
                "new_time": time_text(row.time_s),
                "entered": _entered(row),
                "old_actor": None if old is None else old.actor,
                "actor": row.actor,
                "note": row.note,
            }
        )
    return found


def _value(row: ReadingRow) -> float | str:
    return row.text if row.value is None else row.value


def _entered(row: ReadingRow) -> str | None:
    return None if row.entered_s is None else time_text(row.entered_s)


def entered_by(readings: Sequence[ReadingRow], events: Sequence[EventRow]) -> list[dict[str, Any]]:
    """Return for each person how many readings of each kind they typed, and what else the diary has of them.

    One weighing of several pieces is one entry for each piece. `latest_after_h` is the longest time between measuring
    and typing.
    """
    people: dict[str, dict[str, Counter[str]]] = {}
    late_h: dict[str, float] = {}

    def of(actor: str) -> dict[str, Counter[str]]:
        return people.setdefault(actor, {"readings": Counter(), "diary": Counter()})

    for row in readings:
        of(row.actor)["readings"][row.kind] += 1
        if row.entered_s is not None:
            late_h[row.actor] = max(late_h.get(row.actor, 0.0), (row.entered_s - row.time_s) / HOUR_S)
    for event in events:
        if event.actor and event.actor != THE_PROGRAM:
            of(event.actor)["diary"][event.kind] += 1
    return [
        {
            "actor": actor,
            "readings": dict(sorted(counted["readings"].items())),
            "diary": dict(sorted(counted["diary"].items())),
            "latest_after_h": round(late_h[actor], 3) if actor in late_h else None,
        }
        for actor, counted in sorted(people.items())
    ]
