"""Judge how well a climate was held: from the first arrival on, by share of rows in band, and by fluctuation.

IEC 60068-3-5:2018 (humidity: 60068-3-6:2018) calls fluctuation the difference, after stabilisation, between the highest
and the lowest value at one point in a stated interval. The interval here is 30 min, the point is the leading sensor,
and stabilised is a stage from the first row on whose mean is within 0.5 K of what was wanted.
"""

from typing import Any, Final

import polars as pl
from msgspec import Struct

WITHIN_K: Final = 0.5
WITHIN_PCT: Final = 4.0
HAIR: Final = 1e-9
"""Keeps a difference of exactly 0.5 K in decimal figures from being more than that in binary ones."""
INTERVAL_S: Final = 1800.0

NEAR: Final = ((pl.col("air_temp_c") - pl.col("air_temp_set_c")).abs() <= WITHIN_K + HAIR).fill_null(value=False)
OFF_PCT: Final = pl.col("rh_pct") - pl.col("rh_set_pct")
WANTED: Final = {"set": "air_temp_set_c", "rh_set": "rh_set_pct"}
SIDES: Final = ("air_temp_min_c", "air_temp_max_c", "rh_min_pct", "rh_max_pct", *WANTED.values())
EXTREMES: Final = ("place", "rows", *(f"{name}_{side}" for name in ("air", "rh", *WANTED) for side in ("low", "high")))
SHARES: Final = (
    (pl.col("air_temp_c") - pl.col("air_temp_set_c")).count().alias("judged"),
    NEAR.sum().alias("near"),
    OFF_PCT.count().alias("rh_judged"),
    (OFF_PCT.abs() <= WITHIN_PCT + HAIR).sum().alias("rh_near"),
    (OFF_PCT >= -WITHIN_PCT - HAIR).sum().alias("rh_enough"),
)


class Shares(Struct):
    """Count rows: in all, judged, and within the band."""

    rows: int = 0
    judged: int = 0
    near: int = 0
    rh_judged: int = 0
    rh_near: int = 0
    rh_enough: int = 0

    def add(self, rows: pl.DataFrame) -> None:
        """Take these rows."""
        judged, near, rh_judged, rh_near, rh_enough = rows.select(SHARES).row(0)
        self.rows += rows.height
        self.judged += judged
        self.near += near
        self.rh_judged += rh_judged
        self.rh_near += rh_near
        self.rh_enough += rh_enough


class Fluctuation(Struct, frozen=True):
    """Hold the median and the largest fluctuation of all whole intervals; None where there is none."""

    intervals: int = 0
    median: float | None = None
    largest: float | None = None


class Steadiness:
    """Follow one stage from an instant on."""

    def __init__(self, from_s: float, every_s: float) -> None:
        """Begin with nothing.

        Args:
            from_s: rows that end later count.
            every_s: the length of a row.
        """
        self.arrived_s: float | None = None
        self.shares = Shares()
        self.aimless = Shares()  # Of a stage in which no temperature was wanted so far.
        self.has_aim = False
        self._from_s = from_s
        self._rows_an_interval = max(round(INTERVAL_S / every_s), 1)
        self._intervals: list[pl.DataFrame] = []

    @property
    def counted(self) -> Shares:
        """Return what the shares are taken of: all rows where nothing was wanted, else those from the arrival on."""
        return self.shares if self.has_aim else self.aimless

    def feed(self, rows: pl.DataFrame) -> None:
        """Take the next rows of the stage."""
        if _lowest(rows["time_s"]) <= self._from_s:
            rows = rows.filter(pl.col("time_s") > self._from_s)
        if not rows.height:
            return
        if not self.has_aim:
            self.has_aim = rows["air_temp_set_c"].count() > 0
            self.aimless.add(rows)
        if self.arrived_s is None:
            near = rows.select(NEAR).to_series()
            first = near.arg_max()
            if first is None or not near[first]:
                return
            self.arrived_s = float(rows["time_s"][first])
            rows = rows[first:]
        self.shares.add(rows)
        self._intervals.append(self._extremes(rows, self.arrived_s))

    def _extremes(self, rows: pl.DataFrame, arrived_s: float) -> pl.DataFrame:
        """Return the extremes of each interval; a row that begins an interval ends just after its beginning."""
        place = ((pl.col("time_s") - arrived_s) / INTERVAL_S + HAIR).floor().cast(pl.Int64).alias("place")
        placed = rows.select(place, *SIDES).rechunk()
        if placed["place"].is_sorted():  # Then Polars need not search for groups.
            placed = placed.with_columns(pl.col("place").set_sorted())
        found = placed.group_by("place").agg(
            pl.len().alias("rows"),
            pl.col("air_temp_min_c").min().alias("air_low"),
            pl.col("air_temp_max_c").max().alias("air_high"),
            pl.col("rh_min_pct").min().alias("rh_low"),
            pl.col("rh_max_pct").max().alias("rh_high"),
            *(
                side
                for name, column in WANTED.items()
                if not _is_one(rows[column])
                for side in (pl.col(column).min().alias(f"{name}_low"), pl.col(column).max().alias(f"{name}_high"))
            ),
        )
        # A value that is wanted all the time need not be looked for in each interval.
        return found.with_columns(
            pl.lit(rows[column][0], pl.Float64).alias(f"{name}_{side}")
            for name, column in WANTED.items()
            if f"{name}_low" not in found.columns
            for side in ("low", "high")
        ).select(EXTREMES)

    def fluctuation(self) -> tuple[Fluctuation, Fluctuation]:
        """Return the fluctuation of air (K) and of humidity (%RH), of whole intervals with one wanted value."""
        if not self._intervals:
            return Fluctuation(), Fluctuation()
        whole = (
            pl.concat(self._intervals)
            .group_by("place")
            .agg(pl.col("rows").sum(), pl.col("^.*_low$").min(), pl.col("^.*_high$").max())
            .filter((pl.col("rows") == self._rows_an_interval) & (self._rows_an_interval > 1))
        )
        return _of(whole, "air", "set"), _of(whole, "rh", "rh_set")


def _is_one(values: pl.Series) -> bool:
    """Say whether all values are the same, or all are missing."""
    missing = values.null_count()
    return missing == len(values) or (missing == 0 and values.min() == values.max())


def _lowest(times: pl.Series) -> float:
    low: Any = times.min()
    return float(low)


def _of(intervals: pl.DataFrame, name: str, wanted: str) -> Fluctuation:
    steady = intervals.filter(pl.col(f"{wanted}_low").eq_missing(pl.col(f"{wanted}_high")))
    apart = steady.select((pl.col(f"{name}_high") - pl.col(f"{name}_low")).alias("apart")).to_series().drop_nulls()
    median: Any = apart.median()
    largest: Any = apart.max()
    return Fluctuation(len(apart), median, largest)


def fluctuation_figures(steady: Steadiness) -> dict[str, Any]:
    """Return the fluctuation as plain values for JSON: K and %RH, the length of the intervals and how many."""
    air, rh = steady.fluctuation()
    return {
        "interval_min": INTERVAL_S / 60.0,
        "intervals": air.intervals,
        "air_temp_k": {"median": _rounded(air.median, 3), "largest": _rounded(air.largest, 3)},
        "rh_intervals": rh.intervals,
        "rh_pct": {"median": _rounded(rh.median, 2), "largest": _rounded(rh.largest, 2)},
    }


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals)
