"""Review a log from elsewhere as if it were the climate of a chamber: one stage, without meat, pH or alarms."""

from pathlib import Path
from typing import Any, Final

from msgspec.structs import replace

from controller.core.values import Role
from controller.errors import DataError, NoInputError
from controller.records.csv_text import time_text
from controller.review.damage import gap_figures, order_figures, unread_figures
from controller.review.logs.column_map import ColumnMap
from controller.review.logs.foreign import STAGE, reader_of
from controller.review.logs.log import Log
from controller.review.logs.scan import Tell
from controller.review.logs.spreadsheet import Hints
from controller.review.logs.survey import Asked, survey
from controller.review.stages import climate_figures

HOUR_S: Final = 3600.0


def review_foreign(path: Path, columns: ColumnMap, hints: Hints, tell: Tell | None = None) -> dict[str, Any]:
    """Return the figures of a CSV from elsewhere, under the names they have in the review of a batch.

    Args:
        path: of the file.
        columns: which column is what.
        hints: what was typed about its times; goes before what the column map says.
        tell: is told of the bytes that have been read.

    Raises:
        NoInputError: there is no such file.
        DataError: it lacks a column, or its times may be read in several ways: the message asks.
    """
    if not path.is_file():
        raise NoInputError(f"{path}: there is no such file")
    said = columns.time
    zone, dates = hints.zone or said.zone, hints.dates or said.dates
    columns = replace(columns, time=replace(said, zone=zone, dates=dates))
    read = reader_of(columns)
    every_s = columns.every_s or _usual_s(Log([path], 1.0, read=read))
    log = Log([path], every_s, read=read, tell=tell)
    found = survey(log.frames(), Asked(every_s, None, None, frozenset(), lambda _begin_s, _first_s: {}))
    if found.first is None or found.last is None:
        raise DataError(f"{path}: no row of it can be read; {unread_text(log)}")
    (run,) = found.runs
    powers: dict[Role, float] = {role: power.w for role, power in columns.power.items() if power.w is not None}
    waters: dict[Role, float] = {role: power.ml_per_h for role, power in columns.power.items() if power.ml_per_h}
    return {
        "log": path.name,
        "timezone": zone or "UTC",
        "every_s": every_s,
        "rows": found.rows,
        "stages": [
            {
                "name": STAGE,
                "began": time_text(found.first.time_s - every_s),
                "ended": time_text(found.last.time_s),
                "hours": round((found.last.time_s - found.first.time_s + every_s) / HOUR_S, 3),
                **climate_figures(run, run.steady, powers, waters),
            }
        ],
        "gaps": [gap_figures(gap) for gap in found.gaps],
        "damaged_rows": sum(log.unread.counts.values()),
        "unread": unread_figures(log.unread),
        **order_figures(log.disorder),
    }


def unread_text(log: Log) -> str:
    """Return what of a log could not be read, in one sentence."""
    told = [f"{item['rows']} lines: {item['why']}" for item in unread_figures(log.unread)]
    return "; ".join(told) or "it has no line below the first one"


def _usual_s(log: Log) -> float:
    """Return how far rows are usually apart: the median of the first frame."""
    first = next(log.frames(), None)
    apart = None if first is None else first["time_s"].diff().median()
    return float(apart) if isinstance(apart, (int, float)) and apart > 0.0 else HOUR_S
