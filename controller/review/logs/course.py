"""Thin a climate log to a course for drawing: one point for a stretch of rows, gaps as points without values."""

from functools import partial
from math import inf
from pathlib import Path
from typing import Final

import polars as pl
from msgspec import Struct

from controller.errors import UsageError
from controller.records.batch_folder import read_card
from controller.review.logs.damage import Unread
from controller.review.logs.lines import FIGURES
from controller.review.logs.log import Log
from controller.review.logs.runs import COMPLETE
from controller.review.logs.scan import NO_HINTS, climate_files, scan
from controller.review.logs.spreadsheet import Hints

LOWEST: Final = frozenset({"air_temp_min_c", "rh_min_pct"})
HIGHEST: Final = frozenset({"air_temp_max_c", "rh_max_pct"})
LATEST: Final = frozenset({"air_temp_set_c", "rh_set_pct"})
USUAL_ROW_S: Final = 60.0
COLUMNS: Final = ("time_s", "stage", *FIGURES)
Values = tuple[float | None, ...]


class Course(Struct, frozen=True):
    """Hold a thinned course; all fields are equally long, None where nothing is known.

    A bucket is a whole number of rows; its point stands at its end. Means are of its rows, lowest and highest the
    lowest and highest of them, wanted values and stage those of its last row. Where rows are missing for at least a
    bucket, there is one point without values, so that a line breaks there. Copies of rows that a restore left are left
    out, as everywhere in a review, and so is what is wanted of a complete batch: it waits to be taken out, and its
    figures are over.
    """

    time_s: tuple[float, ...]  # Seconds since 1970 UTC.
    stage: tuple[str | None, ...]
    air_temp_c: Values
    air_temp_min_c: Values
    air_temp_max_c: Values
    air_temp_set_c: Values
    rh_pct: Values
    rh_min_pct: Values
    rh_max_pct: Values
    rh_set_pct: Values
    core_temp_c: Values
    heater_pct: Values
    humidifier_pct: Values
    cooler_pct: Values
    dehumidifier_pct: Values
    fan_pct: Values
    bucket_s: float = 0.0  # The length of a bucket.


def course(folder_or_log: Path, most: int = 1200, hints: Hints = NO_HINTS) -> Course:
    """Return the course of a batch folder, or of one climate file.

    Args:
        folder_or_log: a folder with climate files, or one such file.
        most: the most points, without those of the gaps; at least 2.
        hints: what a person says about the times of a climate file that a spreadsheet has saved again.

    Raises:
        NoInputError: a folder without a batch card.
        DataError: a file cannot be read at all.
    """
    if most < 2:  # noqa: PLR2004 - a line has two ends
        raise UsageError(f"most={most}: a course needs at least 2 points")
    is_folder = folder_or_log.is_dir()
    paths = climate_files(folder_or_log) if is_folder else [folder_or_log]
    every_s = read_card(folder_or_log).chamber.limits.log_every_s if is_folder else None
    every_s = _usual_s(paths, hints) if every_s is None else every_s
    return course_of(Log(paths, every_s, read=partial(scan, hints=hints)), most)


def course_of(log: Log, most: int) -> Course:
    """Return the course of a log, of at most so many points without those of the gaps."""
    every_s = log.every_s
    first_s, last_s = _ends(log)
    rows_a_point = max(1, -int(-(last_s - first_s + every_s) // (every_s * most)))
    bucket_s = every_s * rows_a_point
    begin_s = first_s - every_s
    parts = [_thinned(frame, begin_s, bucket_s) for frame in log.frames()]
    if not parts:
        return Course(**dict.fromkeys(COLUMNS, ()), bucket_s=0.0)
    points = _gaps_shown(_merged(pl.concat(parts)))
    values = {name: tuple(points[name].to_list()) for name in COLUMNS[1:]}
    time_s = tuple(begin_s + bucket_s * (place + 1) for place in points["bucket"])
    return Course(time_s=time_s, bucket_s=bucket_s, **values)


def _usual_s(paths: list[Path], hints: Hints) -> float:
    """Return how far rows are usually apart."""
    for frame in scan(paths, Unread(), hints=hints):
        apart = frame["time_s"].diff().median()
        if isinstance(apart, float) and apart > 0.0:
            return apart
    return USUAL_ROW_S


def _ends(log: Log) -> tuple[float, float]:
    """Return the earliest and the latest time of a log."""
    first_s, last_s = inf, -inf
    for frame in log.frames():
        low, high = frame["time_s"].min(), frame["time_s"].max()
        if isinstance(low, float) and isinstance(high, float):
            first_s, last_s = min(first_s, low), max(last_s, high)
    return (first_s, last_s) if first_s <= last_s else (0.0, 0.0)


def _thinned(frame: pl.DataFrame, begin_s: float, bucket_s: float) -> pl.DataFrame:
    """Return sums, counts and extremes of each bucket in one frame; a row belongs to the bucket in which it ends."""
    place = ((pl.col("time_s") - begin_s) / bucket_s - 1e-9).floor().cast(pl.Int64)
    parts = [pl.col("stage").last()]
    for name in FIGURES:
        column = pl.col(name)
        if name in LOWEST:
            parts.append(column.min())
        elif name in HIGHEST:
            parts.append(column.max())
        elif name in LATEST:
            parts.append(pl.when(pl.col("state").ne_missing(COMPLETE)).then(column).last())
        else:
            parts += [column.sum(), column.count().alias(f"{name}_n")]
    return frame.group_by(place.alias("bucket"), maintain_order=True).agg(parts)


def _merged(parts: pl.DataFrame) -> pl.DataFrame:
    """Join the buckets that lie in two frames, and turn sums into means."""
    sums = [name for name in FIGURES if name not in LOWEST | HIGHEST | LATEST]
    whole = parts.group_by("bucket", maintain_order=True).agg(
        pl.col("stage", *LATEST).last(),
        pl.col(*LOWEST).min(),
        pl.col(*HIGHEST).max(),
        pl.col(*sums, *(f"{name}_n" for name in sums)).sum(),
    )
    means = [pl.when(pl.col(f"{name}_n") > 0).then(pl.col(name) / pl.col(f"{name}_n")).alias(name) for name in sums]
    return whole.with_columns(means).select("bucket", "stage", *FIGURES).sort("bucket")


def _gaps_shown(points: pl.DataFrame) -> pl.DataFrame:
    """Add a point without values wherever a bucket is missing."""
    after = points["bucket"] + 1
    missing = after.filter(~after.is_in(points["bucket"].implode()))
    holes = pl.DataFrame({"bucket": missing.head(max(len(missing) - 1, 0))})  # Behind the last one nothing is missing.
    return pl.concat([points, holes], how="diagonal").sort("bucket")
