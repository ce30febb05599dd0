"""Count degree-hours along a climate log that comes frame by frame.

The temperature between two rows is the straight line between them. Where rows are missing, or without a good
temperature, for more than two rows' time, one temperature is taken for the whole gap, an upper bound: the highest of
its two neighbours, and of what the meat can have been before it (`warmest`).
"""

from collections.abc import Iterator, Sequence
from typing import Any, Final

import polars as pl
from msgspec import Struct

from controller.food.degree_hours import CANADA, US, Rule
from controller.review.logs.order import GAP_ROWS
from controller.review.logs.warmest import Warmest

HOUR_S: Final = 3600.0
COLD_C: Final = min((US.base - 32.0) / 1.8, CANADA.base)
"""Below it neither rule counts."""
POINT: Final = {"time_s": pl.Float64, "grown_s": pl.Float64, "air_temp_c": pl.Float64}
Point = tuple[float, float, float]
"""One row: time, time that only grows, temperature."""


def points_of(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of a frame with a good temperature."""
    points = frame.select(*POINT)
    return points.drop_nulls("air_temp_c") if points["air_temp_c"].null_count() else points


class Counted(Struct, frozen=True):
    """Hold the totals of both rules, each in its own unit, and the highest minute mean."""

    fahrenheit: float = 0.0
    celsius: float = 0.0
    highest_c: float | None = None


class Counting:
    """Count from an instant on, to another one or to the last row."""

    def __init__(
        self,
        begin_s: float,
        end_s: float | None,
        every_s: float,
        *,
        adds_k: Sequence[float] = (0.0,),
        bounded: Sequence[tuple[float, float]] = (),
    ) -> None:
        """Begin with nothing.

        Args:
            begin_s: when the meat was hung, by the clock on the wall.
            end_s: when the count ends; None: with the last row.
            every_s: the length of a row.
            adds_k: what is added to every temperature; for each of them there is a total.
            bounded: gaps that no row shows, for the clock stood still in them: when they were over, and their seconds.
        """
        self.begin_s, self.end_s = begin_s, end_s
        self._gap_s = GAP_ROWS * every_s
        self._adds_k = tuple(dict.fromkeys(adds_k))
        self._waiting = sorted(bounded)
        self._added_s = 0.0
        self._before: Point | None = None
        self._warmest = Warmest()
        self._begin_grown: float | None = None
        self._is_over = False
        self._totals = [Counted() for _ in self._adds_k]

    def feed(self, points: pl.DataFrame) -> None:
        """Take the next rows with a good temperature, of the columns of `POINT`."""
        if self._is_over or not points.height:
            return
        points = self._lengthened(points)
        if self._begin_grown is None:
            first = _first(points["time_s"] > self.begin_s)
            if first is None:
                self._before = _point(points, -1)
                return
            time_s, grown_s, temp_c = _point(points, first)
            self._begin_grown = grown_s - (time_s - self.begin_s)
            if first:
                self._before = _point(points, first - 1)
            elif self._before is None:
                self._before = (self.begin_s, self._begin_grown, temp_c)
            points = points[first:]
        end_grown = float("inf")
        last = None if self.end_s is None else _first(points["time_s"] >= self.end_s)
        if last is not None and self.end_s is not None:
            points = points[: last + 1]
            time_s, grown_s, _ = _point(points, -1)
            end_grown = grown_s - (time_s - self.end_s)
            self._is_over = True
        self._warmest.feed(points)
        if not self._is_over and self._is_cold(points):
            self._totals = [_seen(total, points["air_temp_c"], add_k) for total, add_k in self._each()]
        else:
            self._totals = self._summed(self._ways(points, end_grown))
        self._before = _point(points, -1)

    def _each(self) -> Iterator[tuple[Counted, float]]:
        return zip(self._totals, self._adds_k, strict=True)

    def _is_cold(self, points: pl.DataFrame) -> bool:
        """Say whether nothing of these rows counts, as in nearly all of a drying: then only the highest is kept.

        In a gap the air may have been warmer than any row.
        """
        if self._before is None or self._totals[0].highest_c is None:
            return False
        highest: Any = points["air_temp_c"].max()
        if max(self._before[2], highest) + max(self._adds_k) >= COLD_C:
            return False
        longest: Any = points["grown_s"].diff().max()
        return bool(max(points["grown_s"][0] - self._before[1], longest or 0.0) <= self._gap_s)

    def total(self, add_k: float = 0.0) -> Counted:
        """Return what has been counted with this added; where rows end early, the last temperature holds to the end."""
        place = self._adds_k.index(add_k)
        before = self._before
        if before is None or self.end_s is None or self._is_over:
            return self._totals[place]
        from_s = self.begin_s if self._begin_grown is None else before[0]
        if self.end_s <= from_s:
            return self._totals[place]
        hours = (self.end_s - from_s) / HOUR_S
        held = pl.DataFrame({"hours": [hours], **dict.fromkeys(("a_c", "b_c", "at_c"), before[2])})
        return self._summed(held)[place]

    def _lengthened(self, points: pl.DataFrame) -> pl.DataFrame:
        """Return the points with the gaps in their growing time that no row shows."""
        grown = points["grown_s"] + self._added_s
        while self._waiting:
            at_s, lasts_s = self._waiting[0]
            place = _first(points["time_s"] >= at_s)
            if place is None:
                break
            self._waiting.pop(0)
            self._added_s += lasts_s
            grown = (
                grown
                + pl.select(pl.when(pl.int_range(points.height) >= place).then(lasts_s).otherwise(0.0)).to_series()
            )
        return points.with_columns(grown.alias("grown_s"))

    def _ways(self, points: pl.DataFrame, end_grown: float) -> pl.DataFrame:
        """Return the ways from row to row within the count: hours, temperature from and to, highest minute mean."""
        rows = pl.concat([pl.DataFrame([self._before], schema=POINT, orient="row"), points.select(*POINT)])
        grown, temp_c = pl.col("grown_s"), pl.col("air_temp_c")
        was_s, was_c = grown.shift(1), temp_c.shift(1)
        lasts_s = grown - was_s
        plain = rows.select(((lasts_s > 0.0) & (lasts_s <= self._gap_s)).all()).item()
        begin, end = self._before, rows.row(-1)
        if plain and self._begin_grown is not None and begin and self._begin_grown <= begin[1] and end[1] <= end_grown:
            ways = rows.select((lasts_s / HOUR_S).alias("hours"), was_c.alias("a_c"), temp_c.alias("b_c"))
            return ways[1:].with_columns(pl.col("b_c").alias("at_c"))
        from_s, to_s = was_s.clip(lower_bound=self._begin_grown), grown.clip(upper_bound=end_grown)
        is_gap, slope = lasts_s > self._gap_s, (temp_c - was_c) / lasts_s
        meat_c = self._warmest.along(rows["grown_s"]).shift(1)
        highest_c = pl.max_horizontal(was_c, temp_c, meat_c)

        def unless_gap(value: pl.Expr) -> pl.Expr:
            return pl.when(is_gap).then(highest_c).otherwise(value)

        return rows.select(
            ((to_s - from_s) / HOUR_S).alias("hours"),
            unless_gap(was_c + slope * (from_s - was_s)).alias("a_c"),
            unless_gap(was_c + slope * (to_s - was_s)).alias("b_c"),
            unless_gap(temp_c).alias("at_c"),
            lasts_s.alias("lasts_s"),
        ).filter((pl.col("hours") > 0.0) & (pl.col("lasts_s") > 0.0))

    def _summed(self, ways: pl.DataFrame) -> list[Counted]:
        """Return the totals with these ways."""
        if not ways.height:
            return self._totals
        a_c, b_c = pl.col("a_c"), pl.col("b_c")
        sums = ways.select(
            pl.col("at_c").max(),
            *(
                _above(rule, a_c + add_k, b_c + add_k).sum().alias(f"{rule.unit} {place}")
                for place, add_k in enumerate(self._adds_k)
                for rule in (US, CANADA)
            ),
        ).row(0, named=True)
        found = []
        for place, (so_far, add_k) in enumerate(self._each()):
            highest_c = sums["at_c"] + add_k
            found.append(
                Counted(
                    so_far.fahrenheit + sums[f"F {place}"],
                    so_far.celsius + sums[f"C {place}"],
                    highest_c if so_far.highest_c is None else max(so_far.highest_c, highest_c),
                )
            )
        return found


def _seen(total: Counted, temps_c: pl.Series, add_k: float) -> Counted:
    highest: Any = temps_c.max()
    return Counted(
        total.fahrenheit,
        total.celsius,
        highest + add_k if total.highest_c is None else max(total.highest_c, highest + add_k),
    )


def _above(rule: Rule, a_c: pl.Expr, b_c: pl.Expr) -> pl.Expr:
    """Return `food.degree_hours.accumulate_between` for many ways at once."""
    a, b = (((t * 1.8 + 32.0) if rule.unit == "F" else t) - rule.base for t in (a_c, b_c))
    low, high, hours = pl.min_horizontal(a, b), pl.max_horizontal(a, b), pl.col("hours")
    crossing = 0.5 * high * hours * high / (high - low)
    return pl.when(high <= 0.0).then(0.0).when(low >= 0.0).then(0.5 * (low + high) * hours).otherwise(crossing)


def _first(marks: pl.Series) -> int | None:
    """Return the first place that is marked."""
    place = marks.arg_max()
    return place if place is not None and marks[place] else None


def _point(points: pl.DataFrame, place: int) -> Point:
    time_s, grown_s, temp_c = points.select(*POINT).row(place)
    return float(time_s), float(grown_s), float(temp_c)
