"""Review one batch: the one object of the outside contract. Keys may be added, never renamed."""

from pathlib import Path
from typing import Any, Final

from controller.review.alarms import alarm_figures
from controller.review.batch import BatchRecord, ReadingRow, read_batch
from controller.review.cut import is_covered, last_told_s
from controller.review.damage import damage_of, gaps_of, order_figures, unread_figures
from controller.review.ferment import DegreeHours, guarded_figures, judged, limits
from controller.review.logs.heat import Counted
from controller.review.question import ROWS_LACK, hung_at_s, soured_s, survey_of
from controller.review.readings import measured_ph, standing, weight_loss_pct
from controller.review.stages import Span, spans_of, stage_figures
from controller.review.story import story_of
from controller.review.untold import untold_gaps
from controller.settings.chamber_file import plan_of

HOUR_S: Final = 3600.0


def review(folder: Path) -> dict[str, Any]:
    """Return the figures of a batch as plain values for JSON: hours, °C, %RH, per cent, RFC 3339 times.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged.
    """
    return review_of(read_batch(folder))


def review_of(record: BatchRecord) -> dict[str, Any]:
    """Return the figures of what was read."""
    readings = standing(record.readings)
    hung_s = hung_at_s(record)
    spans = spans_of(record)
    loss_pct = weight_loss_pct(readings)
    ph = measured_ph(readings)
    return {
        "batch": record.card.batch.id,
        "profile": record.card.profile.name,
        "state": _state(record),
        "stages": [stage_figures(record, span, hung_s) for span in spans],
        "ferment": _ferment(record, spans, hung_s, readings),
        "ph": {
            "first": ph[0][1] if ph else None,
            "last": ph[-1][1] if ph else None,
            "lowest": min((value for _, value in ph), default=None),
        },
        "weight_loss_pct": None if loss_pct is None else round(loss_pct, 2),
        "alarms": alarm_figures(record),
        "gaps": gaps_of(record),
        "title": record.card.profile.title,
        "rows": record.climate.rows,
        "damaged_rows": record.damaged_rows,
        "damage": list(damage_of(record)),
        "unread": unread_figures(record.log.unread, record.unread),
        **order_figures(record.log.disorder),
        "timezone": record.card.chamber.timezone,
        **story_of(record, spans, readings, hung_s),
    }


def _state(record: BatchRecord) -> str:
    """Return the state of the last row; the diary's end of the batch where it is later than that."""
    last = record.climate.last
    end = next((event for event in reversed(record.events) if event.kind == "end"), None)
    if end is not None and end.id and (last is None or end.time_s > last.time_s):
        return end.id
    return "running" if last is None else last.state


def _ferment(
    record: BatchRecord, spans: list[Span], hung_s: float | None, readings: list[ReadingRow]
) -> dict[str, Any]:
    stages = record.card.profile.stages
    ferment = next((span for span in spans if stages[span.place].kind == "ferment"), None)
    begin_s = hung_s if hung_s is not None else ferment.began_s if ferment is not None and ferment.run else None
    plan, over_s = plan_of(record.card.chamber), None if ferment is None else ferment.ended_s
    end_s = None if begin_s is None else soured_s(readings, begin_s, over_s, 0.0)
    guarded_end_s = None if begin_s is None or end_s is None else soured_s(readings, begin_s, over_s, plan.ph_error)
    is_missing = hung_s is not None and not is_covered(record, hung_s, _until_s(record, over_s, guarded_end_s, hung_s))
    ends_s = (ROWS_LACK, ROWS_LACK) if is_missing else (end_s, guarded_end_s)
    used, guarded = _counted(record, begin_s, *ends_s)
    begin_s = begin_s or 0.0
    guarded_h = None if guarded_end_s is None else (guarded_end_s - begin_s) / HOUR_S
    is_known = end_s is not None and not is_missing
    limit_f, limit_c = limits(used.highest_c)
    guarded_f, guarded_c = limits(guarded.highest_c)
    return {
        "degree_hours_f": round(used.fahrenheit, 1),
        "limit_f": limit_f,
        "degree_hours_c": round(used.celsius, 1),
        "limit_c": limit_c,
        "highest_air_temp_c": None if used.highest_c is None else round(used.highest_c, 3),
        "hours_to_ph_5_3": None if end_s is None else round((end_s - begin_s) / HOUR_S, 3),
        "verdict": _verdict(used, reached=is_known),
        "verdict_us": _rule_verdict(used.rules_within[0], reached=is_known),
        "verdict_canada": _rule_verdict(used.rules_within[1], reached=is_known),
        "counted_from": "hang" if hung_s is not None else None if used.highest_c is None else "first row",
        "guarded": {
            "sensor_error_k": plan.air_error_k,
            "ph_error": plan.ph_error,
            "degree_hours_f": round(guarded.fahrenheit, 1),
            "limit_f": guarded_f,
            "degree_hours_c": round(guarded.celsius, 1),
            "limit_c": guarded_c,
            "verdict": _verdict(guarded, reached=guarded_end_s is not None and not is_missing),
        },
        **guarded_figures(
            guarded,
            plan.degree_hours_rule,
            guarded_h,
            untold_gaps(record, begin_s, guarded_end_s),
            is_missing=is_missing,
        ),
        "climate_missing": is_missing,
    }


def _counted(
    record: BatchRecord, begin_s: float | None, end_s: float | None, guarded_end_s: float | None
) -> tuple[DegreeHours, DegreeHours]:
    """Return the degree-hours to each end, without and with the instruments' errors."""
    climate = record.climate
    if begin_s is not None and climate.rows and climate.begin_s != begin_s:
        climate = survey_of(record, begin_s)  # The ferment did not begin with the first row of that name.
    counts = climate.counts if begin_s is not None else {}
    used, guarded = (counts.get(key) for key in ((False, end_s), (True, guarded_end_s)))
    add_k = plan_of(record.card.chamber).air_error_k
    return judged(used.total() if used else Counted()), judged(guarded.total(add_k) if guarded else Counted())


def _until_s(record: BatchRecord, over_s: float | None, soured_s: float | None, hung_s: float) -> float:
    """Return until when the count needs rows: to the pH that ends it, else to where the diary ends the ferment."""
    if soured_s is not None:
        return soured_s
    told_s = [at_s for at_s in (over_s, last_told_s(record)) if at_s is not None]
    return min(told_s, default=hung_s)


def _rule_verdict(within: bool, *, reached: bool) -> str:  # noqa: FBT001 - one of two answers
    return "over" if not within else "within" if reached else "open"


def _verdict(used: DegreeHours, *, reached: bool) -> str:
    """Return the stricter of both rules' answers; open until a pH at or below 5.3 was measured, or where rows lack."""
    return _rule_verdict(all(used.rules_within), reached=reached)
