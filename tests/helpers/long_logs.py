"""Make long batch folders quickly: invented air by numpy, day files by Polars, and the same figures by brute force."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from controller.records.climate_log import COLUMNS
from tests.helpers.batch_logs import Log
from tests.helpers.recorded import WALL_S

DAY_S = 86_400
WARM_H, FERMENT_H, SOUR_H = 2.0, 60.0, 40.0
"""Stages and the pH of the invented batch, in hours; the rest is drying."""
CLOSINGS = ("heater_closings", "humidifier_closings")
Array = NDArray[np.float64]


@dataclass
class LongLog:
    """Hold the columns of a long log as arrays, as they stand in its files."""

    folder: Path
    every_s: int
    time_s: Array
    stage: NDArray[np.str_]
    columns: dict[str, Array]


def write_long(folder: Path, days: int, every_s: int = 10, seed: int = 1, *, keep: bool = True) -> LongLog | None:
    """Write a batch folder of so many days, and return what stands in it.

    Args:
        folder: is made.
        days: from the invented morning on.
        every_s: the length of a row.
        seed: of the invented air.
        keep: whether the columns are returned; ten years of them do not fit everywhere.
    """
    log = Log(every_s=float(every_s)).event(0.0, "start").event(WARM_H, "hang").event(WARM_H, "stage", "hang")
    log.event(FERMENT_H, "stage", "until").reading(20.0, "ph", 5.6).reading(SOUR_H, "ph", 5.1)
    log.write(folder)
    kept = []
    for day in range(days):
        frame = _day(day, every_s, seed)
        text = frame.with_columns(
            pl.from_epoch(pl.col("time"), time_unit="s").dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            pl.col(pl.Float64).round(3),
        )
        name = text["time"][0][:10]
        text.select(COLUMNS).write_csv(folder / f"climate-{name}.csv", line_terminator="\r\n")
        if keep:
            kept.append(frame)
    if not keep:
        return None
    whole = pl.concat(kept)
    numbers = [name for name, kind in whole.schema.items() if kind in {pl.Float64, pl.Int64} and name != "time"]
    columns = {name: whole[name].cast(pl.Float64).to_numpy() for name in numbers}
    return LongLog(folder, every_s, whole["time"].cast(pl.Float64).to_numpy(), whole["stage"].to_numpy(), columns)


def _day(day: int, every_s: int, seed: int) -> pl.DataFrame:
    """Return one UTC day of rows; the first one begins with the invented morning, and every 50th lacks an hour."""
    draw = np.random.default_rng(seed + day)
    midnight = (int(WALL_S) // DAY_S + day) * DAY_S
    time = np.arange(midnight + every_s, midnight + DAY_S + 1, every_s) - every_s
    time = time[time > WALL_S]
    if day % 50 == 49:
        time = time[(time < midnight + 36_000) | (time >= midnight + 39_600)]
    hours = (time - WALL_S) / 3600.0
    wanted = np.select([hours <= WARM_H, hours <= FERMENT_H], [24.0, 24.0], 13.0)
    stage = np.select([hours <= WARM_H, hours <= FERMENT_H], ["warm", "ferment"], "dry")
    settled = 1.0 - np.exp(-hours / 0.4)
    air = np.round(wanted * settled + 10.0 * (1.0 - settled) + 0.25 * draw.standard_normal(len(time)), 3)
    rh = np.round(np.clip(80.0 + 2.5 * draw.standard_normal(len(time)), 0.0, 99.0), 2)
    count = np.floor(hours * 3600.0 / 300.0).astype(np.int64)
    figures: dict[str, Any] = {
        "time": time, "stage": stage, "state": np.full(len(time), "running"), "air_temp_c": air,
        "air_temp_min_c": np.round(air - 0.05, 3), "air_temp_max_c": np.round(air + 0.05, 3), "air_temp_set_c": wanted,
        "rh_pct": rh, "rh_min_pct": np.round(rh - 0.5, 2), "rh_max_pct": np.round(rh + 0.5, 2),
        "rh_set_pct": np.full(len(time), 80.0), "core_temp_c": np.round(air - 0.4, 3),
        "ambient_temp_c": np.round(air - 4.0, 3), "heater_pct": np.round(draw.uniform(0.0, 60.0, len(time)), 2),
        "humidifier_pct": np.round(draw.uniform(0.0, 8.0, len(time)), 2),
        "heater_closings": count, "humidifier_closings": count // 3,
    }  # fmt: skip
    frame = pl.DataFrame({name: pl.Series(values) for name, values in figures.items()})
    empty = [name for name in COLUMNS if name not in frame.columns]
    return frame.with_columns(pl.lit(None, pl.String).alias(name) for name in empty)
