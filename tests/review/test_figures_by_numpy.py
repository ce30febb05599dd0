"""Figures of small logs beside numpy by brute force, and the worked degree-hours as logs with irregular rows."""

import csv
import math
import random
from pathlib import Path
from typing import Any

import pytest

from controller.review.figures import review
from tests.helpers.batch_logs import CLIMATE, Log, text_of
from tests.helpers.brute_force import compare
from tests.helpers.long_logs import write_long

EXAMPLES = Path(__file__).parents[1] / "data" / "degree_hours_examples.csv"


def examples() -> list[dict[str, str]]:
    lines = [line for line in EXAMPLES.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def celsius(value: float, unit: str) -> float:
    return (value - 32.0) / 1.8 if unit == "F" else value


def irregular(log: Log, from_h: float, to_h: float, air_c: float, draw: random.Random) -> None:
    """Add rows that end at odd instants, 5 s to two minutes apart; the last one ends with the step."""
    at_h = from_h
    while at_h < to_h:
        at_h = min(at_h + draw.uniform(5.0, 120.0) / 3600.0, to_h)
        row = dict.fromkeys(CLIMATE, "") | {"time": text_of(at_h), "stage": "ferment", "state": "running"}
        log.climate.append(row | dict.fromkeys(("air_temp_c", "air_temp_min_c", "air_temp_max_c"), f"{air_c:.3f}"))


@pytest.mark.parametrize("row", examples(), ids=lambda row: row["id"])
def test_the_worked_examples_come_out_of_rows_at_odd_times(tmp_path: Path, row: dict[str, str]) -> None:
    log, hours, draw = Log().event(0.0, "hang"), 0.0, random.Random(row["id"])
    for step in row["steps"].split(";"):
        degrees, lasts_h = step.removesuffix("h").split(" x ")
        irregular(log, hours, hours + float(lasts_h), celsius(float(degrees), row["unit"]), draw)
        hours += float(lasts_h)
    told = review(log.reading(hours, "ph", 5.3).write(tmp_path / "b"))
    unit = row["unit"].lower()
    # A step of 10 degrees in between takes one row of at most two minutes.
    assert told["ferment"][f"degree_hours_{unit}"] == pytest.approx(float(row["total_degree_hours"]), abs=0.5)
    assert told["ferment"][f"limit_{unit}"] == float(row["limit"])
    assert told["gaps"] == []


@pytest.mark.parametrize(("every_s", "days", "seed"), [(10, 4, 1), (60, 5, 2), (300, 60, 3)])
def test_every_figure_is_the_one_numpy_finds(tmp_path: Path, every_s: int, days: int, seed: int) -> None:
    log = write_long(tmp_path / "b", days, every_s=every_s, seed=seed)
    assert log is not None
    assert compare(log, review(log.folder)) > 50


def stage(tmp_path: Path, log: Log) -> dict[str, Any]:
    (found,) = review(log.write(tmp_path / "b"))["stages"]
    assert isinstance(found, dict)
    return found


def test_fluctuation_is_highest_less_lowest_of_half_an_hour_after_the_first_arrival(tmp_path: Path) -> None:
    """By hand: a wave of 0.3 K and a period of twelve minutes swings by 0.6 K in every half hour."""
    log = Log().minutes(0.0, 1.0, 20.0, set_c=24.0)  # The way there does not count.
    log.minutes(1.0, 7.0, lambda hours: 24.0 + 0.3 * math.sin(2.0 * math.pi * 5.0 * hours), set_c=24.0)
    told = stage(tmp_path, log)["fluctuation"]
    assert (told["interval_min"], told["intervals"]) == (30.0, 12)
    assert told["air_temp_k"]["median"] == pytest.approx(0.6, abs=1e-3)  # Every third row meets a crest or a trough.
    assert told["rh_pct"] == {"median": 0.0, "largest": 0.0}


def test_a_half_hour_in_which_another_temperature_is_wanted_is_no_fluctuation(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.25, 24.0, set_c=24.0).minutes(1.25, 3.0, 20.0, set_c=20.0)
    told = stage(tmp_path, log)["fluctuation"]
    assert (told["intervals"], told["air_temp_k"]["largest"]) == (5, 0.0)  # Of six, one holds the change.


def test_energy_and_water_are_duty_times_what_the_chamber_file_says(tmp_path: Path) -> None:
    """By hand: half of 60 W for 10 h are 0.3 kWh, a tenth of 150 ml/h for 10 h 0.15 l."""
    told = stage(tmp_path, Log().minutes(0.0, 10.0, 24.0, heater_pct="50.00", humidifier_pct="10.00", fan_pct="100.00"))
    assert (told["energy_kwh"], told["water_l"]) == ({"heater": 0.3}, 0.15)  # Nobody told the power of the fan.
    assert told["duty_pct"] == {"heater": 50.0, "humidifier": 10.0, "fan": 100.0}


def test_without_power_or_duty_nothing_is_said_of_energy(tmp_path: Path) -> None:
    told = stage(tmp_path, Log().minutes(0.0, 1.0, 24.0))
    assert (told["energy_kwh"], told["water_l"], told["duty_pct"]) == ({}, None, {})
