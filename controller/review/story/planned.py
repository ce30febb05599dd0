"""What the batch card meant each stage to last, beside what it lasted.

A stage ends on conditions, so most have no planned length but bounds: at least so long, at most so long. Where a
forecast was kept when the stage began, its middle is shown as what was expected.
"""

from collections.abc import Sequence
from typing import Any, Final, Literal

from controller.core.plan import Stage, Until
from controller.records.csv_text import time_text
from controller.review.batch import BatchRecord
from controller.review.stages import Span
from controller.review.story.scored import Told

HOUR_S: Final = 3600.0
Beside = Literal["shorter", "as meant", "longer"]


def planned_stages(record: BatchRecord, spans: Sequence[Span], told: Sequence[Told]) -> list[dict[str, Any]]:
    """Return for each stage of the card what was meant and what came, also for those that the batch has not reached.

    `hours` is the planned length where there is one; `least_h` and `most_h` are its bounds; `expected_h` what the first
    forecast for its end expected; `beside`: shorter, as meant or longer, by the bounds, None while that is open.
    """
    by_place = {span.place: span for span in spans}
    return [_planned(stage, by_place.get(place), told) for place, stage in enumerate(record.card.profile.stages)]


def _planned(stage: Stage, span: Span | None, told: Sequence[Told]) -> dict[str, Any]:
    until = stage.until
    least_h = max(until.hours or 0.0, stage.at_least_h)
    real_h = None if span is None else ((span.ended_s or span.last_s) - span.began_s) / HOUR_S
    first = None if span is None else _first_told(until, span, told)
    expected_h = None
    if span is not None and first is not None and first.quantiles_s is not None:
        expected_h = round((first.quantiles_s[2] - span.began_s) / HOUR_S, 2)
    return {
        "name": stage.name,
        "kind": stage.kind,
        "where": stage.where,
        "air_temp_c": stage.air_temp_c,
        "rh_pct": stage.rh_pct,
        "until": {
            "ph_at_most": until.ph_at_most,
            "hours": until.hours,
            "weight_loss_pct": until.weight_loss_pct,
            "core_temp_c": until.core_temp_c,
            "confirm": until.confirm,
        },
        "hours": least_h if until.hours is not None and not _is_open_ended(until) else None,
        "least_h": least_h or None,
        "most_h": stage.at_most_h,
        "expected_h": expected_h,
        "expected_at": None if first is None else time_text(first.made_s),
        "real_h": None if real_h is None else round(real_h, 3),
        "over": span is not None and span.is_over,
        "beside": None if span is None or real_h is None else _beside(stage, span, least_h, real_h),
    }


def _is_open_ended(until: Until) -> bool:
    """Say whether something else than the hours decides, which nobody can know beforehand."""
    return until.confirm or any(
        wanted is not None for wanted in (until.ph_at_most, until.weight_loss_pct, until.core_temp_c)
    )


def _first_told(until: Until, span: Span, told: Sequence[Told]) -> Told | None:
    """Return the first forecast of what ends this stage, made in it or before it."""
    wanted = {"ph": until.ph_at_most, "weight_loss": until.weight_loss_pct}
    until_s = span.ended_s or span.last_s
    return next(
        (one for one in told if one.quantiles_s and wanted.get(one.kind) == one.target and one.made_s <= until_s), None
    )


def _beside(stage: Stage, span: Span, least_h: float, real_h: float) -> Beside | None:
    if stage.at_most_h is not None and real_h > stage.at_most_h:
        return "longer"
    if not span.is_over:
        return None
    return "shorter" if real_h < least_h else "as meant"
