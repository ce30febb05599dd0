"""Put the rows of a scan in order: copies of a restore left out, steps of the clock told, time that only grows.

A stretch of rows that stands in the file a second time, letter for letter and with its times, is a copy, as a restored
backup leaves one: it is left out and told. But where nothing that was measured changes around it, such rows may as well
be new ones of a clock that was set back, and they count as time that has passed: an upper bound of the degree-hours.
"""

from collections.abc import Iterator
from typing import Any, Final

import polars as pl
from msgspec import Struct, field

from controller.review.logs.scan import SCHEMA, Schema

GAP_ROWS: Final = 2.0
"""Rows that lie further apart than so many of them leave a gap."""
KEPT_ROWS: Final = 200_000
"""So many rows are kept for the search for copies: four and a half months of minutes, three weeks of 10 s."""
MEASURED: Final = [name for name in SCHEMA if name not in {"time_s", "stage", "state"}]


class Copy(Struct, frozen=True):
    """Hold a stretch of rows that were left out because they stand earlier in the record: seconds since 1970 UTC."""

    from_s: float
    to_s: float
    rows: int


class StepBack(Struct, frozen=True):
    """Hold where the clock went back: the last row before it, and the first one after."""

    from_s: float
    to_s: float


class Disorder(Struct):
    """Gather what was out of order."""

    copies: list[Copy] = field(default_factory=list)
    steps: list[StepBack] = field(default_factory=list)


def in_order(
    frames: Iterator[pl.DataFrame], every_s: float, found: Disorder, schema: Schema = SCHEMA
) -> Iterator[pl.DataFrame]:
    """Yield frames without copies, with the column `grown_s`: time that only grows.

    Where the clock on the wall went back, one row's time is taken to have passed.

    Args:
        frames: as `scan` gives them.
        every_s: the length of a row.
        found: takes what was out of order.
        schema: the columns of the frames.
    """
    kept = pl.DataFrame(schema=dict(schema))
    last_s: float | None = None
    offset_s = 0.0
    for frame in frames:
        whole = frame
        is_back = _goes_back(whole["time_s"], last_s)
        if is_back:
            whole = _without_copies(kept, whole, every_s, found)
            if not whole.height:
                continue
        kept = pl.concat([kept, whole]).tail(KEPT_ROWS)
        times = whole["time_s"]
        if is_back and _goes_back(times, last_s):
            steps = times.diff() if last_s is None else (times - times.shift(1, fill_value=last_s))
            back = (steps <= 0.0).fill_null(value=False)
            lost = pl.select(pl.when(back).then(every_s - steps).otherwise(0.0)).to_series().cum_sum()
            for place in back.arg_true():
                from_s = times[place - 1] if place else last_s
                found.steps.append(StepBack(float(from_s or 0.0), float(times[place])))
            grown = times + offset_s + lost
            offset_s += float(lost[-1])
        else:
            grown = times + offset_s
        last_s = float(times[-1])
        yield whole.with_columns(grown.alias("grown_s"))


def _goes_back(times: pl.Series, last_s: float | None) -> bool:
    """Say whether a time is not later than the one before it."""
    if last_s is not None and times[0] <= last_s:
        return True
    return bool((times.diff() <= 0.0).any())


def _without_copies(kept: pl.DataFrame, frame: pl.DataFrame, every_s: float, found: Disorder) -> pl.DataFrame:
    """Return a frame without the stretches of rows that stand earlier in it or in what was kept."""
    both = pl.concat([kept, frame])
    again = ~both.select(pl.struct(pl.all()).is_first_distinct()).to_series()
    stretches = _stretches(again[kept.height :])
    copied = pl.zeros(frame.height, dtype=pl.Boolean, eager=True)
    for first, behind in stretches:
        times = frame["time_s"][first:behind]
        from_s, to_s = float(_number(times.min())), float(_number(times.max()))
        if _tells(both, from_s - GAP_ROWS * every_s, to_s + GAP_ROWS * every_s):
            found.copies.append(Copy(from_s, to_s, behind - first))
            copied = copied.scatter(pl.int_range(first, behind, eager=True), values=True)
    return frame.filter(~copied)


def _number(value: Any) -> float:  # noqa: ANN401 - Polars says of an extreme only that it is a value
    return float(value)


def _stretches(marks: pl.Series) -> list[tuple[int, int]]:
    """Return where marks follow each other: first, and behind the last."""
    found: list[tuple[int, int]] = []
    for place in marks.arg_true():
        if found and found[-1][1] == place:
            found[-1] = (found[-1][0], place + 1)
        else:
            found.append((place, place + 1))
    return found


def _tells(rows: pl.DataFrame, from_s: float, to_s: float) -> bool:
    """Say whether anything that was measured changes in this time; else rows may be alike without being copies."""
    around = rows.filter(pl.col("time_s").is_between(from_s, to_s))
    return bool(around.select(pl.struct(MEASURED).n_unique()).item() > 1)
