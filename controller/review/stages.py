"""Say how each stage went: bounds from the climate rows, its climate, its switching, and how it ended.

A stage that went on elsewhere has no rows; its bounds are those of the diary. So are those of a stage whose rows are
not all there: an end is never taken from the last row of a file that is cut short.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Final

from msgspec import Struct

from controller.records.climate_log import SWITCHES
from controller.records.csv_text import time_text
from controller.review.batch import BatchRecord, ClimateRow, EventRow
from controller.review.cut import CUT_S, cuts_of, last_told_s, stage_ends

WITHIN_K: Final = 0.5
WITHIN_PCT: Final = 4.0
HOUR_S: Final = 3600.0


class Span(Struct, frozen=True):
    """Hold one stage: its place in the profile (-1 where the profile does not have it), its rows, its bounds."""

    place: int
    name: str
    rows: Sequence[ClimateRow]
    before: ClimateRow | None  # The row before its first one.
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
    runs = _runs(record)
    state = record.rows[-1].state if record.rows else ""
    spans: list[Span] = []
    for place, stage in enumerate(stages):
        end = ends[place] if place < len(ends) else None
        run = next((run for run in runs if run[0] == stage.name), None)
        if run is not None:
            runs = runs[runs.index(run) + 1 :]
            over = end is not None or bool(runs) or state in {"complete", "stopped", "aborted"}
            spans.append(_span_of_rows(record, place, run, ends, over=over))
        elif place <= len(ends) and (end is not None or ((stage.where == "elsewhere" or is_cut) and (spans or is_cut))):
            began_s = _began_s(record, spans, ends, place)
            ended_s = None if end is None else end.time_s
            last_s = max(began_s, ended_s or _last_s(record))
            spans.append(Span(place, stage.name, (), None, began_s, ended_s, last_s, _by(end), is_over=end is not None))
    return spans


def _runs(record: BatchRecord) -> list[tuple[str, int, int]]:
    """Return the stretches of rows of one stage: (name, first, behind the last). A complete batch is in no stage."""
    runs: list[tuple[str, int, int]] = []
    open_name = None
    for place, row in enumerate(record.rows):
        name = row.stage if row.stage and row.state != "complete" else None
        if name is not None and name == open_name:
            runs[-1] = (name, runs[-1][1], place + 1)
        elif name is not None:
            runs.append((name, place, place + 1))
        open_name = name
    return runs


def _span_of_rows(
    record: BatchRecord, place: int, run: tuple[str, int, int], ends: Sequence[EventRow], *, over: bool
) -> Span:
    """Return a stage with rows; where these do not reach to its bounds, the diary has them, or nobody."""
    name, first, behind = run
    rows = record.rows[first:behind]
    before = record.rows[first - 1] if first else None
    end = ends[place] if place < len(ends) else None
    began_s, last_s = rows[0].time_s - record.every_s, rows[-1].time_s
    told_s = ends[place - 1].time_s if 0 < place <= len(ends) else began_s
    if began_s - told_s > CUT_S:
        began_s = told_s
    next_s = record.rows[behind].time_s if behind < len(record.rows) else last_s
    ended_s: float | None = last_s
    if end is not None and end.time_s - last_s > CUT_S:
        ended_s = end.time_s
    elif end is None and next_s - last_s > CUT_S:
        ended_s = None  # It was over before the next row, and no more is known.
    until_s = last_s if ended_s is None else ended_s
    if not over:
        ended_s, until_s = None, max(last_s, _cut_off_s(record, behind))
    return Span(place, name, rows, before, began_s, ended_s, until_s, _by(end), is_over=over)


def _cut_off_s(record: BatchRecord, behind: int) -> float:
    """Return until when the diary knows of a stage that goes on and whose rows end too early."""
    told_s = last_told_s(record)
    is_last = behind == len(record.rows)
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
    times = [rows[-1].time_s for rows in (record.rows, record.events) if rows]
    return max(times, default=0.0)


def stage_figures(record: BatchRecord, span: Span, hung_s: float | None) -> dict[str, Any]:
    """Return one stage of the review."""
    stage = record.card.profile.stages[span.place]
    counted_from_s = span.began_s
    if hung_s is not None and span.began_s < hung_s < span.last_s:
        counted_from_s = hung_s
    rows = [row for row in span.rows if row.time_s > counted_from_s]
    arrival = next((place for place, row in enumerate(rows) if _is_near(row)), None)
    after = [] if arrival is None else rows[arrival:]
    aimless = not any(row.air_temp_set_c is not None for row in rows)
    after = rows if aimless else after
    return {
        "name": span.name,
        "kind": stage.kind,
        "began": time_text(span.began_s),
        "ended": None if span.ended_s is None else time_text(span.ended_s),
        "hours": round(((span.ended_s or span.last_s) - span.began_s) / HOUR_S, 3),
        "air_temp_c": _air(span.rows, after),
        "rh_pct": _rh(span.rows, after),
        "switches": _closings(span),
        "by": span.by,
        "where": stage.where,
        "over": span.is_over,
        "arrived": None if arrival is None or aimless else time_text(rows[arrival].time_s),
        "rows": len(span.rows),
        "rows_counted": len(after),
    }


def _is_near(row: ClimateRow) -> bool:
    wanted_c, air_c = row.air_temp_set_c, row.air_temp_c
    # The hair keeps a difference of exactly 0.5 K in decimal figures from being more than that in binary ones.
    return wanted_c is not None and air_c is not None and abs(air_c - wanted_c) <= WITHIN_K + 1e-9


def _air(rows: Sequence[ClimateRow], after: Sequence[ClimateRow]) -> dict[str, float | None]:
    judged = [row for row in after if row.air_temp_c is not None and row.air_temp_set_c is not None]
    return {
        "mean": _mean([row.air_temp_c for row in rows], 3),
        "min": min((row.air_temp_min_c for row in rows if row.air_temp_min_c is not None), default=None),
        "max": max((row.air_temp_max_c for row in rows if row.air_temp_max_c is not None), default=None),
        "within_pct": _share([_is_near(row) for row in judged]),
    }


def _rh(rows: Sequence[ClimateRow], after: Sequence[ClimateRow]) -> dict[str, float | None]:
    off = [row.rh_pct - row.rh_set_pct for row in after if row.rh_pct is not None and row.rh_set_pct is not None]
    return {
        "mean": _mean([row.rh_pct for row in rows], 2),
        "min": min((row.rh_min_pct for row in rows if row.rh_min_pct is not None), default=None),
        "max": max((row.rh_max_pct for row in rows if row.rh_max_pct is not None), default=None),
        "within_pct": _share([abs(by) <= WITHIN_PCT + 1e-9 for by in off]),
        "at_least_pct": _share([by >= -WITHIN_PCT - 1e-9 for by in off]),
    }


def _mean(values: Sequence[float | None], decimals: int) -> float | None:
    good = [value for value in values if value is not None]
    return round(sum(good) / len(good), decimals) if good else None


def _share(hits: Sequence[bool]) -> float | None:
    return round(100.0 * sum(hits) / len(hits), 2) if hits else None


def _closings(span: Span) -> dict[str, int]:
    """Count how often each output was switched on. A counter that fell has begun anew."""
    counted: dict[str, int] = {}
    rows = span.rows if span.before is None else (span.before, *span.rows)
    for place, role in enumerate(SWITCHES):
        values = [value for row in rows if (value := row.closings[place]) is not None]
        if values:
            steps = pairwise(values)
            counted[role] = sum(new - old if new >= old else new for old, new in steps)
    return counted
