"""Say how each stage went: bounds from the climate rows, its climate, its switching, and how it ended.

A stage that went on elsewhere has no rows; its bounds are those of the diary. So are those of a stage whose rows are
not all there: an end is never taken from the last row of a file that is cut short.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

from msgspec import Struct

from controller.core.values import Role
from controller.records.csv_text import time_text
from controller.review.batch import BatchRecord, EventRow
from controller.review.cut import CUT_S, cuts_of, last_told_s, stage_ends
from controller.review.logs.lines import ClimateRow
from controller.review.logs.runs import Run, energy_kwh, water_l
from controller.review.logs.steadiness import WITHIN_K, WITHIN_PCT, Shares, Steadiness, fluctuation_figures

__all__ = ["WITHIN_K", "WITHIN_PCT", "Span", "climate_figures", "rows_of", "spans_of", "stage_figures"]

HOUR_S: Final = 3600.0


class Span(Struct, frozen=True):
    """Hold one stage: its place in the profile (-1 where the profile does not have it), its rows, its bounds."""

    place: int
    name: str
    run: Run | None  # Its rows; None where it has none.
    began_s: float
    ended_s: float | None
    last_s: float
    by: str | None
    is_over: bool = False  # Also where nobody knows since when.


def spans_of(record: BatchRecord) -> list[Span]:
    """Return the stages that the batch has been in, in their order."""
    stages = record.card.profile.stages
    ends = stage_ends(record)
    is_cut = bool(cuts_of(record))
    runs = list(record.climate.runs)
    state = record.climate.last.state if record.climate.last else ""
    spans: list[Span] = []
    for place, stage in enumerate(stages):
        end = ends[place] if place < len(ends) else None
        run = next((run for run in runs if run.name == stage.name), None)
        if run is not None:
            runs = runs[runs.index(run) + 1 :]
            over = end is not None or bool(runs) or state in {"complete", "stopped", "aborted"}
            spans.append(_span_of_rows(record, place, run, ends, over=over))
        elif place <= len(ends) and (end is not None or ((stage.where == "elsewhere" or is_cut) and (spans or is_cut))):
            began_s = _began_s(record, spans, ends, place)
            ended_s = None if end is None else end.time_s
            last_s = max(began_s, ended_s or _last_s(record))
            spans.append(Span(place, stage.name, None, began_s, ended_s, last_s, _by(end), is_over=end is not None))
    return spans


def rows_of(record: BatchRecord, span: Span) -> Sequence[ClimateRow]:
    """Return the rows of a stage one by one."""
    return () if span.run is None else record.rows[span.run.first : span.run.behind]


def air_of(record: BatchRecord, span: Span) -> list[tuple[float, float]]:
    """Return (time, °C) of the rows of a stage that have an air temperature; only two columns are gone through."""
    found: list[tuple[float, float]] = []
    if span.run is None:
        return found
    before = 0
    for frame in record.log.frames():
        first, behind = max(span.run.first - before, 0), min(span.run.behind - before, frame.height)
        before += frame.height
        if first < behind:
            found += frame.slice(first, behind - first).select("time_s", "air_temp_c").drop_nulls().rows()
    return found


def _span_of_rows(record: BatchRecord, place: int, run: Run, ends: Sequence[EventRow], *, over: bool) -> Span:
    """Return a stage with rows; where these do not reach to its bounds, the diary has them, or nobody."""
    end = ends[place] if place < len(ends) else None
    began_s, last_s = run.first_s - record.every_s, run.last_s
    told_s = ends[place - 1].time_s if 0 < place <= len(ends) else began_s
    if began_s - told_s > CUT_S:
        began_s = told_s
    next_s = last_s if run.next_s is None else run.next_s
    ended_s: float | None = last_s
    if end is not None and end.time_s - last_s > CUT_S:
        ended_s = end.time_s
    elif end is None and next_s - last_s > CUT_S:
        ended_s = None  # It was over before the next row, and no more is known.
    until_s = last_s if ended_s is None else ended_s
    if not over:
        ended_s, until_s = None, max(last_s, _cut_off_s(record, run.behind))
    return Span(place, run.name, run, began_s, ended_s, until_s, _by(end), is_over=over)


def _cut_off_s(record: BatchRecord, behind: int) -> float:
    """Return until when the diary knows of a stage that goes on and whose rows end too early."""
    told_s = last_told_s(record)
    is_last = behind == record.climate.rows
    return told_s if told_s is not None and is_last and cuts_of(record) else float("-inf")


def _by(end: EventRow | None) -> str | None:
    return None if end is None else end.id or None


def _began_s(record: BatchRecord, spans: Sequence[Span], ends: Sequence[EventRow], place: int) -> float:
    """Return when a stage without rows began: when the one before it ended."""
    if 0 < place <= len(ends):
        return ends[place - 1].time_s
    if spans:
        return spans[-1].last_s
    return record.events[0].time_s if record.events else 0.0


def _last_s(record: BatchRecord) -> float:
    return max(record.climate.last_s or 0.0, record.events[-1].time_s if record.events else 0.0)


def stage_figures(record: BatchRecord, span: Span, hung_s: float | None) -> dict[str, Any]:
    """Return one stage of the review."""
    stage = record.card.profile.stages[span.place]
    outputs = record.card.chamber.output
    power_w = {output.role: output.w for output in outputs if output.w is not None}
    given_ml_per_h = {output.role: output.ml_per_h for output in outputs if output.ml_per_h is not None}
    return {
        "name": span.name,
        "kind": stage.kind,
        "began": time_text(span.began_s),
        "ended": None if span.ended_s is None else time_text(span.ended_s),
        "hours": round(((span.ended_s or span.last_s) - span.began_s) / HOUR_S, 3),
        **climate_figures(span.run, _steady(span, hung_s), power_w, given_ml_per_h),
        "by": span.by,
        "where": stage.where,
        "over": span.is_over,
    }


def climate_figures(
    run: Run | None, steady: Steadiness, power_w: Mapping[Role, float], given_ml_per_h: Mapping[Role, float]
) -> dict[str, Any]:
    """Return what the rows of a stage say as plain values for JSON: °C, %RH, per cent, kWh, litres.

    Args:
        run: its rows; None where it has none.
        steady: how steady its climate was.
        power_w: what each output takes, where that is known.
        given_ml_per_h: what each output gives of water, where it gives any.
    """
    on_h = {} if run is None else run.on_h()
    return {
        "air_temp_c": _air(run, steady.counted),
        "rh_pct": _rh(run, steady.counted),
        "switches": {} if run is None else run.closings,
        "arrived": time_text(steady.arrived_s) if steady.has_aim and steady.arrived_s is not None else None,
        "rows": 0 if run is None else run.rows,
        "rows_counted": steady.counted.rows,
        "fluctuation": fluctuation_figures(steady),
        "duty_pct": {} if run is None else run.duties_pct(),
        "energy_kwh": energy_kwh(on_h, power_w),
        "water_l": water_l(on_h, given_ml_per_h),
    }


def _steady(span: Span, hung_s: float | None) -> Steadiness:
    """Return how steady the climate of a stage was: from hanging on, where the meat was hung in it."""
    if span.run is None:
        return Steadiness(span.began_s, HOUR_S)
    hung = span.run.hung
    return hung if hung and hung_s and span.began_s < hung_s < span.last_s else span.run.steady


def _air(run: Run | None, shares: Shares) -> dict[str, float | None]:
    return {**_spread(run, "air", 3), "within_pct": _share(shares.near, shares.judged)}


def _rh(run: Run | None, shares: Shares) -> dict[str, float | None]:
    return {
        **_spread(run, "rh", 2),
        "within_pct": _share(shares.rh_near, shares.rh_judged),
        "at_least_pct": _share(shares.rh_enough, shares.rh_judged),
    }


def _spread(run: Run | None, name: Literal["air", "rh"], decimals: int) -> dict[str, float | None]:
    return dict.fromkeys(("mean", "min", "max")) if run is None else run.spread(name, decimals)


def _share(hits: int, of: int) -> float | None:
    return round(100.0 * hits / of, 2) if of else None
