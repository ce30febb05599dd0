"""Which batches count for learning, and by whose word or for what reason others do not."""

from collections.abc import Iterable, Sequence
from typing import Final

from controller.review.batch import BatchRecord, ReadingRow
from controller.review.forecast.climate import STEP_S, Air

MOST_MISSING: Final = 0.05
"""Share of a stage's climate that may be on no record: the pace is reckoned along it. Common practice, no source."""
MEASURED: Final = "readings.csv"
DIARY: Final = "events.csv"
HOUR_S: Final = 3600.0


def why_not(record: BatchRecord) -> str:
    """Return why nothing of a batch can count; empty where it may."""
    over = any(event.kind == "end" for event in record.events)
    if not over and not (record.rows and record.rows[-1].state in {"complete", "stopped", "aborted"}):
        return "it is not over"
    for name in (MEASURED, DIARY):
        rows = record.damaged.get(name, 0)
        if rows:
            return f"damaged: {rows} {'row' if rows == 1 else 'rows'} of {name} cannot be read"
    return ""


def missing_h(air: Sequence[Air], record: BatchRecord) -> tuple[float, float]:
    """Return of how many hours in the chamber the climate is missing, and how many there were."""
    stages = record.card.profile.stages
    away = {stage.kind for stage in stages if stage.where == "elsewhere"}
    away -= {stage.kind for stage in stages if stage.where == "chamber"}
    here = [step for step in air if step.kind not in away]
    return sum(not step.logged for step in here) * STEP_S / HOUR_S, len(here) * STEP_S / HOUR_S


def corrected_by(rows: Iterable[ReadingRow]) -> str:
    """Return what is to be said of corrected readings, and by whom; empty where there are none."""
    rows = list(rows)
    if not rows:
        return ""
    names = ", ".join(sorted({row.actor or "nobody named" for row in rows}))
    was = "1 was corrected and does" if len(rows) == 1 else f"{len(rows)} were corrected and do"
    return f"; {was} not count (corrected by {names})"
