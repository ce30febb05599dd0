"""Follow each stretch of rows of one stage: its bounds, its climate, its switching, what it took of power and water."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any, Final

import polars as pl

from controller.core.values import Role
from controller.records.climate_log import SWITCHES
from controller.review.logs.lines import CLOSINGS, DUTIES
from controller.review.logs.steadiness import Steadiness

COMPLETE: Final = "complete"
SPREADS: Final = (
    pl.col("air_temp_c").sum().alias("air_sum"),
    pl.col("air_temp_c").count().alias("air_rows"),
    pl.col("air_temp_min_c").min().alias("air_low"),
    pl.col("air_temp_max_c").max().alias("air_high"),
    pl.col("rh_pct").sum().alias("rh_sum"),
    pl.col("rh_pct").count().alias("rh_rows"),
    pl.col("rh_min_pct").min().alias("rh_low"),
    pl.col("rh_max_pct").max().alias("rh_high"),
    *(pl.col(name).sum().alias(f"{name}_sum") for name in DUTIES),
    *(pl.col(name).count().alias(f"{name}_rows") for name in DUTIES),
)


class Run:
    """Follow one stretch of rows of one stage."""

    def __init__(
        self, name: str, first: int, frame: pl.DataFrame, before: pl.DataFrame, *, every_s: float, hung_s: float | None
    ) -> None:
        """Begin.

        Args:
            name: of the stage.
            first: the place of its first row in the record.
            frame: its first rows.
            before: the row before it; empty where there is none.
            every_s: the length of a row.
            hung_s: when the meat was hung.
        """
        self.name, self.first, self.rows = name, first, 0
        self.first_s = self.last_s = float(frame["time_s"][0])
        self.next_s: float | None = None  # When the row behind it ended.
        self.steady = Steadiness(self.first_s - every_s, every_s)
        self.hung = None if hung_s is None or hung_s <= self.first_s - every_s else Steadiness(hung_s, every_s)
        self._every_s = every_s
        self._spread: dict[str, Any] = {}
        self._counters: dict[str, int | None] = {
            role: before[name][0] if before.height else None for role, name in zip(SWITCHES, CLOSINGS, strict=True)
        }
        self._closings: dict[str, int] = {role: 0 for role, value in self._counters.items() if value is not None}

    def feed(self, rows: pl.DataFrame) -> None:
        """Take the next rows of this stretch."""
        self.rows += rows.height
        self.last_s = float(rows["time_s"][-1])
        for name, value in rows.select(SPREADS).row(0, named=True).items():
            self._spread[name] = _joined(name, self._spread.get(name), value)
        for role, name, duty in zip(SWITCHES, CLOSINGS, DUTIES, strict=True):
            self._switch(role, rows[name], rows[duty])
        self.steady.feed(rows)
        if self.hung is not None:
            self.hung.feed(rows)

    def _switch(self, role: Role, counter: pl.Series, duty_pct: pl.Series) -> None:
        """Count how often an output was switched on. A counter that fell has begun anew.

        A counter stands at the end of its row, so that where no row before it tells where it began, the closing within
        that row is seen by its duty only: an output that was on in it was switched on once, at least.
        """
        values = counter.drop_nulls()
        if not len(values):
            return
        first, before = int(values[0]), self._counters[role]
        if before is None:
            is_on = (duty_pct.filter(counter.is_not_null())[0] or 0.0) > 0.0
            before = first - 1 if is_on and first else first
        if before <= first and values.is_sorted():
            total: Any = int(values[-1]) - before
        else:
            steps = values - values.shift(1, fill_value=before)
            total = pl.select(pl.when(steps < 0).then(values).otherwise(steps).sum()).item()
        self._closings[role] = self._closings.get(role, 0) + int(total)
        self._counters[role] = int(values[-1])

    @property
    def behind(self) -> int:
        """Return the place behind its last row."""
        return self.first + self.rows

    @property
    def closings(self) -> dict[str, int]:
        """Return how often each output was switched on."""
        return {role: self._closings[role] for role in SWITCHES if role in self._closings}

    def spread(self, name: str, decimals: int) -> dict[str, float | None]:
        """Return mean, lowest and highest of `air` or `rh`."""
        count = self._spread.get(f"{name}_rows")
        mean = round(self._spread[f"{name}_sum"] / count, decimals) if count else None
        return {"mean": mean, "min": self._spread.get(f"{name}_low"), "max": self._spread.get(f"{name}_high")}

    def duties_pct(self) -> dict[str, float]:
        """Return the mean duty of each output that has one."""
        return {
            role: round(self._spread[f"{name}_sum"] / self._spread[f"{name}_rows"], 2)
            for role, name in zip(SWITCHES, DUTIES, strict=True)
            if self._spread.get(f"{name}_rows")
        }

    def on_h(self) -> dict[Role, float]:
        """Return for how many hours each output was on: its duty times the length of each row."""
        return {
            role: self._spread[f"{name}_sum"] / 100.0 * self._every_s / 3600.0
            for role, name in zip(SWITCHES, DUTIES, strict=True)
            if self._spread.get(f"{name}_rows")
        }


def _joined(name: str, old: Any, new: Any) -> Any:  # noqa: ANN401 - figures, or None
    if old is None or new is None:
        return new if old is None else old
    if name.endswith("_low"):
        return min(old, new)
    return max(old, new) if name.endswith("_high") else old + new


class Runs:
    """Cut a record into stretches of rows of one stage. A complete batch is in no stage."""

    def __init__(self, every_s: float, hung_s: float | None) -> None:
        """Begin with none."""
        self.all: list[Run] = []
        self._every_s, self._hung_s = every_s, hung_s
        self._open: Run | None = None
        self._rows = 0
        self._before = pl.DataFrame()

    def feed(self, frame: pl.DataFrame) -> None:
        """Take the next rows of the record."""
        for name, first, behind in _stretches(frame):
            rows = frame[first:behind]
            if self._open is not None and (first or name != self._open.name):
                self._open.next_s = float(rows["time_s"][0])
                self._open = None
            if name is not None and self._open is None:
                before = frame[first - 1 : first] if first else self._before
                self._open = Run(name, self._rows, rows, before, every_s=self._every_s, hung_s=self._hung_s)
                self.all.append(self._open)
            if self._open is not None:
                self._open.feed(rows)
            self._rows += rows.height
        self._before = frame[-1:]


def _stretches(frame: pl.DataFrame) -> Iterator[tuple[str | None, int, int]]:
    """Yield the stretches of rows of one stage: its name, None for no stage, the first row, and behind the last."""
    stage, state = frame["stage"], frame["state"]
    if (stage == stage[0]).all() and (state == state[0]).all():
        yield stage[0] if stage[0] and state[0] != COMPLETE else None, 0, frame.height
        return
    inside = (pl.col("stage") != "") & (pl.col("state") != COMPLETE)
    names = frame.select(pl.when(inside).then(pl.col("stage")).alias("stage")).to_series()
    starts = [0, *(names.ne_missing(names.shift(1))[1:].arg_true() + 1), frame.height]
    for first, behind in pairwise(starts):
        yield names[first], first, behind


def energy_kwh(on_h: Mapping[Role, float], power_w: Mapping[Role, float]) -> dict[str, float]:
    """Return what each output took, where its power is known."""
    return {role: round(hours * power_w[role] / 1000.0, 3) for role, hours in on_h.items() if role in power_w}


def water_l(on_h: Mapping[Role, float], given_ml_per_h: Mapping[Role, float]) -> float | None:
    """Return how much water was given into the air; None where no output tells how much it gives."""
    known = [role for role in on_h if role in given_ml_per_h]
    return round(sum(on_h[role] * given_ml_per_h[role] for role in known) / 1000.0, 3) if known else None
