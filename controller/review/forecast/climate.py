"""The climate that a batch has had, in steps of ten minutes, for whatever is to be reckoned along it.

Where the chamber has logged, its log counts. Where the batch was elsewhere, the wanted climate of that stage counts;
where rows are missing, the last ones before.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

from controller.core.plan import Stage
from controller.review.batch import BatchRecord
from controller.review.stages import Span, spans_of

STEP_S: Final = 600.0
USUAL_TEMP_C: Final = 13.0
USUAL_RH_PCT: Final = 78.0
"""Of a stage that asks for neither; common practice, no source."""


class Air(NamedTuple):
    """Hold the air during one step that ends at `time_s`, and the stage the batch was in."""

    time_s: float
    temp_c: float
    rh_pct: float
    kind: str
    logged: bool


def place_at(record: BatchRecord, spans: Sequence[Span], time_s: float) -> int:
    """Return the place in the profile of the stage of an instant; after the end of one, that of the next."""
    last = len(record.card.profile.stages) - 1
    place = 0
    for span in spans:
        if span.began_s <= time_s:
            over = span.ended_s is not None and span.ended_s < time_s
            place = min(span.place + 1, last) if over else span.place
    return place


def wanted_of(stage: Stage) -> tuple[float, float]:
    """Return the temperature and humidity that a stage asks for."""
    temp_c = USUAL_TEMP_C if stage.air_temp_c is None else stage.air_temp_c
    return temp_c, USUAL_RH_PCT if stage.rh_pct is None else stage.rh_pct


def air_since(record: BatchRecord, from_s: float, to_s: float) -> list[Air]:
    """Return the air from one instant to another, in steps; the last one may end a little after."""
    steps = max(int((to_s - from_s) / STEP_S + 0.999_999), 0)
    sums = _sums(record, from_s, steps)
    spans = spans_of(record)
    found: list[Air] = []
    last: tuple[float | None, float | None, str] = (None, None, "")
    for step in range(steps):
        ends_s = from_s + (step + 1) * STEP_S
        stage = record.card.profile.stages[place_at(record, spans, ends_s - 0.5 * STEP_S)]
        temp_sum, temps, rh_sum, rhs = sums[step]
        here = stage.where == "chamber"
        known = last if here and last[2] == stage.name else (None, None, "")
        temp_c = temp_sum / temps if temps and here else known[0]
        rh_pct = rh_sum / rhs if rhs and here else known[1]
        wanted_c, wanted_pct = wanted_of(stage)
        last = (temp_c, rh_pct, stage.name)
        found.append(
            Air(
                ends_s,
                wanted_c if temp_c is None else temp_c,
                wanted_pct if rh_pct is None else rh_pct,
                stage.kind,
                bool(temps) and here,
            )
        )
    return found


def _sums(record: BatchRecord, from_s: float, steps: int) -> list[list[float]]:
    """Return of each step [sum of temperatures, their number, sum of humidities, their number]."""
    sums = [[0.0, 0.0, 0.0, 0.0] for _ in range(steps)]
    rows = (row for frame in record.log.frames() for row in frame.select("time_s", "air_temp_c", "rh_pct").iter_rows())
    for time_s, air_temp_c, rh_pct in rows:
        step = int((time_s - from_s - 1e-6) // STEP_S)
        if not 0 <= step < steps:
            continue
        cell = sums[step]
        if air_temp_c is not None:
            cell[0] += air_temp_c
            cell[1] += 1.0
        if rh_pct is not None:
            cell[2] += rh_pct
            cell[3] += 1.0
    return sums
