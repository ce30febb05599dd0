"""Recompute the figures of a review from arrays by numpy, in other words than the program's: loops and masks."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.helpers.long_logs import CLOSINGS, SOUR_H, WARM_H, Array, LongLog
from tests.helpers.recorded import WALL_S

HOUR_S = 3600.0
POWER_W, GIVEN_ML_PER_H = 60.0, 150.0
"""Heater and humidifier of the chamber in `recorded`."""
AIR_ERROR_K = 0.5
ROUNDED = {"air_temp_c.mean": 5.1e-4, "rh_pct.mean": 5.1e-3}
"""Half of the last decimal that is told."""


def compare(log: LongLog, told: dict[str, Any]) -> int:
    """Assert that each figure is the one that numpy finds; return how many were compared."""
    hung_s = WALL_S + WARM_H * HOUR_S
    assert told["rows"] == len(log.time_s)
    assert told["gaps"] == _gaps(log)
    stages = {stage["name"]: stage for stage in told["stages"] if stage["rows"]}
    assert set(stages) == set(np.unique(log.stage))
    count = 2
    for name, stage in stages.items():
        inside = log.stage == name
        expected = _stage(log, inside, max(hung_s, log.time_s[inside][0] - log.every_s) if name != "warm" else WALL_S)
        for key, value in expected.items():
            assert _found(stage, key) == pytest.approx(value, abs=ROUNDED.get(key, 1e-9)), (name, key)
            count += 1
    end_s = WALL_S + SOUR_H * HOUR_S
    for key, add_k in (("", 0.0), ("guarded_", AIR_ERROR_K)):
        air_c = log.columns["air_temp_c"] + add_k
        fahrenheit, celsius, highest_c = degree_hours(log.time_s, air_c, hung_s, end_s, 2.0 * log.every_s)
        assert told["ferment"][f"{key}degree_hours_f"] == pytest.approx(fahrenheit, abs=0.051)
        assert told["ferment"][f"{key}degree_hours_c"] == pytest.approx(celsius, abs=0.051)
        count += 2
        if not key:
            assert told["ferment"]["highest_air_temp_c"] == pytest.approx(highest_c, abs=1e-9)
            count += 1
    return count


def _found(stage: dict[str, Any], key: str) -> Any:  # noqa: ANN401 - a figure
    found: Any = stage
    for part in key.split("."):
        found = found[part]
    return found


def _stage(log: LongLog, inside: NDArray[np.bool_], from_s: float) -> dict[str, Any]:
    """Return what a stage's figures must be; within counts from the first arrival behind `from_s`."""
    column = {name: values[inside] for name, values in log.columns.items()}
    time_s = log.time_s[inside]
    counted = time_s > from_s
    near = np.abs(column["air_temp_c"] - column["air_temp_set_c"]) <= 0.5 + 1e-9
    arrived = int(np.flatnonzero(counted & near)[0])
    off = column["rh_pct"][arrived:] - column["rh_set_pct"][arrived:]
    first = int(np.flatnonzero(inside)[0])
    closings = {name.split("_")[0]: _closings(log, name, first, first + int(inside.sum())) for name in CLOSINGS}
    air, rh = (
        _fluctuation(time_s[arrived:], column[f"{low}"][arrived:], column[f"{high}"][arrived:], log.every_s)
        for low, high in (("air_temp_min_c", "air_temp_max_c"), ("rh_min_pct", "rh_max_pct"))
    )
    hours = log.every_s / HOUR_S
    return {
        "rows": int(inside.sum()),
        "arrived": _text(time_s[arrived]),
        "air_temp_c.mean": column["air_temp_c"].mean(),
        "air_temp_c.min": column["air_temp_min_c"].min(),
        "air_temp_c.max": column["air_temp_max_c"].max(),
        "air_temp_c.within_pct": round(100.0 * near[arrived:].mean(), 2),
        "rh_pct.mean": column["rh_pct"].mean(),
        "rh_pct.min": column["rh_min_pct"].min(),
        "rh_pct.max": column["rh_max_pct"].max(),
        "rh_pct.within_pct": round(100.0 * (np.abs(off) <= 4.0 + 1e-9).mean(), 2),
        "rh_pct.at_least_pct": round(100.0 * (off >= -4.0 - 1e-9).mean(), 2),
        "rows_counted": len(off),
        **{f"switches.{role}": count for role, count in closings.items()},
        "fluctuation.intervals": len(air),
        "fluctuation.air_temp_k.median": round(float(np.median(air)), 3) if len(air) else None,
        "fluctuation.air_temp_k.largest": round(float(np.max(air)), 3) if len(air) else None,
        "fluctuation.rh_pct.median": round(float(np.median(rh)), 2) if len(rh) else None,
        "fluctuation.rh_pct.largest": round(float(np.max(rh)), 2) if len(rh) else None,
        "duty_pct.heater": round(float(column["heater_pct"].mean()), 2),
        "energy_kwh.heater": round(float(column["heater_pct"].sum()) / 100.0 * hours * POWER_W / 1000.0, 3),
        "water_l": round(float(column["humidifier_pct"].sum()) / 100.0 * hours * GIVEN_ML_PER_H / 1000.0, 3),
    }  # fmt: skip


def _closings(log: LongLog, name: str, first: int, behind: int) -> int:
    """Return how far a counter of a log that never fell has gone, and one for what was on in the log's first row."""
    counter = log.columns[name]
    if first:
        return int(counter[behind - 1] - counter[first - 1])
    was_on = log.columns[name.replace("closings", "pct")][0] > 0.0 and counter[0] > 0.0
    return int(counter[behind - 1] - counter[0]) + int(was_on)


def _text(time_s: float) -> str:
    return str(np.datetime64(int(time_s), "s")) + "Z"


def _fluctuation(time_s: Array, low: Array, high: Array, every_s: float) -> list[float]:
    """Return highest less lowest of each whole half hour from the first row on."""
    found, rows = [], round(1800.0 / every_s)
    begins = np.searchsorted(time_s, np.arange(time_s[0], time_s[-1] + 1.0, 1800.0))
    for first, behind in zip(begins, [*begins[1:], len(time_s)], strict=True):
        if behind - first == rows:
            found.append(float(high[first:behind].max() - low[first:behind].min()))
    return found


def degree_hours(time_s: Array, air_c: Array, begin_s: float, end_s: float, gap_s: float) -> tuple[float, float, float]:
    """Return °F·h, °C·h and the highest minute of a log whose clock never went back, way by way."""
    fahrenheit = celsius = 0.0
    highest_c = -np.inf
    last = int(np.searchsorted(time_s, end_s))
    for place in range(max(int(np.searchsorted(time_s, begin_s, side="right")), 1), min(last, len(time_s) - 1) + 1):
        from_s, to_s = time_s[place - 1], time_s[place]
        a, b = air_c[place - 1], air_c[place]
        if to_s - from_s > gap_s:
            a = b = max(a, b)
        cut = np.clip([begin_s, end_s], from_s, to_s)
        if cut[1] <= cut[0]:
            continue
        ends = np.interp(cut, [from_s, to_s], [a, b])
        hours = (cut[1] - cut[0]) / HOUR_S
        a_c, b_c = (float(end_c) for end_c in ends)
        fahrenheit += _above(a_c * 1.8 + 32.0 - 60.0, b_c * 1.8 + 32.0 - 60.0, hours)
        celsius += _above(a_c - 15.6, b_c - 15.6, hours)
        highest_c = max(highest_c, b)
    return fahrenheit, celsius, float(highest_c)


def _above(a: float, b: float, hours: float) -> float:
    """Return the area above zero of a straight line, in its two triangles."""
    if a <= 0.0 and b <= 0.0:
        return 0.0
    if a >= 0.0 and b >= 0.0:
        return (a + b) / 2.0 * hours
    share = max(a, b) / (max(a, b) - min(a, b))
    return max(a, b) / 2.0 * share * hours


def _gaps(log: LongLog) -> list[dict[str, Any]]:
    apart = np.diff(log.time_s)
    return [
        {"from": _text(log.time_s[place]), "to": _text(log.time_s[place + 1]), "hours": round(apart[place] / HOUR_S, 3)}
        for place in np.flatnonzero(apart > 2.0 * log.every_s)
    ]
