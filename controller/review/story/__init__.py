"""Tell the story of a batch beside its climate: what was meant, what was measured, and what people did about it.

Everything here comes from the batch card, the diary, the readings, the checks and the kept forecasts; not from climate
rows. The keys of `story_of` stand beside those of the contract in `review --json`.
"""

from collections.abc import Sequence
from typing import Any

from controller.review.batch import BatchRecord, ReadingRow
from controller.review.stages import Span
from controller.review.story.answered import alarm_history
from controller.review.story.breaks import breaks_of
from controller.review.story.checked import checks_around
from controller.review.story.corrected import corrections, entered_by
from controller.review.story.measured import ph_course, spread_pct, weight_course
from controller.review.story.pauses import pauses_of
from controller.review.story.people import decisions, notes, once
from controller.review.story.planned import planned_stages
from controller.review.story.scored import scored

__all__ = ["story_of"]


def story_of(
    record: BatchRecord, spans: Sequence[Span], readings: Sequence[ReadingRow], hung_s: float | None
) -> dict[str, Any]:
    """Return the story of a batch, in keys of its own: times RFC 3339 in UTC, hours after hanging, grams, per cent.

    Args:
        record: the record of the batch.
        spans: the stages it has been in.
        readings: those that stand.
        hung_s: when the meat was hung; None where nobody has said so.
    """
    began_s, end_s = _bounds_s(record, spans)
    events = once(record.events)
    weights = weight_course(readings, hung_s)
    forecasts = scored(record.folder, readings, end_s)
    return {
        "meat_kg": record.card.batch.meat_kg,
        "diameter_mm": record.card.batch.diameter_mm,
        "planned": planned_stages(record, spans, forecasts.told),
        "ph_course": ph_course(readings, hung_s),
        "weight_course": weights,
        "pieces_apart_pct": spread_pct(weights),
        "alarm_history": alarm_history(events, end_s),
        "pauses": pauses_of(events, end_s),
        "breaks": breaks_of(events),
        "corrections": corrections(record.readings),
        "entered_by": entered_by(record.readings, events),
        "checks": checks_around(record.folder, began_s, end_s),
        "forecasts": forecasts.figures,
        "notes": notes(events, record.readings),
        "decisions": decisions(events),
    }


def _bounds_s(record: BatchRecord, spans: Sequence[Span]) -> tuple[float, float]:
    """Return from when to when anything is known of the batch."""
    times = [event.time_s for event in record.events]
    times += [reading.time_s for reading in record.readings]
    times += [at_s for span in spans for at_s in (span.began_s, span.last_s)]
    return min(times, default=0.0), max(times, default=0.0)
