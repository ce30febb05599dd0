"""A batch that the model ran, with a cut of the power: its review beside the files, read anew with plain loops."""

import csv
import datetime as dt
from pathlib import Path
from statistics import fmean

import pytest

from controller.app import Simulation, simulate
from controller.review.figures import review
from controller.review.page import page
from controller.settings.profile_file import find_profile
from tests.helpers.chamber_story import BEGIN_WALL_S
from tests.helpers.shipped_chambers import deciding_seldom


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a day and a half of tangy, still in its ferment. Takes some seconds."""
    out = tmp_path_factory.mktemp("review")
    simulation = Simulation(
        profile=find_profile("tangy"), chamber=deciding_seldom("old-fridge", out), out=out, begin_wall_s=BEGIN_WALL_S,
        days=1.1, faults=("power-cut@10h/25m",),
    )  # fmt: skip
    return Path(simulate(simulation, lambda _progress: None).folder)


def rows(folder: Path, pattern: str) -> list[dict[str, str]]:
    found = []
    for path in sorted(folder.glob(pattern)):
        with path.open(encoding="utf-8", newline="") as file:
            found += list(csv.DictReader(file))
    return found


def instant(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def test_the_courses_are_the_readings_by_the_hours_after_hanging(folder: Path) -> None:
    figures = review(folder)
    hung = next(instant(row["time"]) for row in rows(folder, "events.csv") if row["kind"] == "hang")
    measured = [
        ((instant(row["time"]) - hung).total_seconds() / 3600.0, float(row["value"]))
        for row in rows(folder, "readings.csv")
        if row["kind"] == "ph"
    ]
    assert len(measured) >= 5
    for (hours, value), shown in zip(sorted(measured), figures["ph_course"], strict=True):
        assert (shown["hours"], shown["ph"]) == (pytest.approx(hours, abs=6e-4), value)
    first = {row["piece"]: float(row["value"]) for row in rows(folder, "readings.csv") if row["kind"] == "weight"}
    assert {row["piece"]: row["grams"] for row in figures["weight_course"]} == first


def test_the_stage_that_runs_is_as_long_as_its_rows_and_beside_what_was_meant(folder: Path) -> None:
    planned = {one["name"]: one for one in review(folder)["planned"]}
    inside = [row for row in rows(folder, "climate-*.csv") if row["stage"] == "ferment"]
    real_h = (instant(inside[-1]["time"]) - instant(inside[0]["time"])).total_seconds() / 3600.0
    assert planned["ferment"]["real_h"] == pytest.approx(real_h, abs=1.5 / 60.0)
    assert (planned["ferment"]["most_h"], planned["ferment"]["beside"], planned["ferment"]["over"]) == (
        48.0,
        None,
        False,
    )
    assert planned["dry"]["real_h"] is None


def test_the_cut_of_the_power_is_told_and_what_was_done_about_its_alarm(folder: Path) -> None:
    figures = review(folder)
    (away,) = figures["breaks"]
    assert away["why"] == "power cut, or the computer hung"
    (gap,) = figures["gaps"]
    assert gap["hours"] == pytest.approx(25.0 / 60.0, abs=0.05)
    diary = [row for row in rows(folder, "events.csv") if row["id"] == "C16-1"]
    raised = next(instant(row["time"]) for row in diary if row["kind"] == "alarm")
    seen = next(row for row in diary if row["kind"] == "seen")
    (alarm,) = figures["alarm_history"]
    assert alarm["seen"]["by"] == seen["actor"]
    assert alarm["seen"]["after_h"] == pytest.approx(
        (instant(seen["time"]) - raised).total_seconds() / 3600.0, abs=6e-4
    )


def test_the_page_tells_it_in_80_columns(folder: Path) -> None:
    lines = page(folder)
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    mean_c = fmean(float(row["air_temp_c"]) for row in rows(folder, "climate-*.csv") if row["stage"] == "ferment")
    climate = next(line for line in text[text.index("\nClimate") :].splitlines() if line.startswith("  ferment"))
    assert climate.split()[2] == f"{mean_c:.1f}"
    assert "State: running." in text
    assert "C16-1" in text
    assert "the power failed or the computer hung 1 time" in text
    assert "Forecasts: none kept" in text
