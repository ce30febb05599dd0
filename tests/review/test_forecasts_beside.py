"""Forecasts that were told, beside what came: scored by plain loops over invented forecasts and readings."""

import csv
import statistics
from pathlib import Path
from typing import Any

import pytest

from controller.review.figures import review
from controller.review.forecast.told import HEADER, Forecast, row
from controller.review.page import page
from tests.helpers.batch_logs import HOUR_S, Log, text_of
from tests.helpers.recorded import NAME, WALL_S

PH = {10.0: 5.8, 20.0: 5.5, 24.0: 5.2, 30.0: 4.9}
CAME_H = 20.0 + 4.0 * (5.5 - 5.3) / (5.5 - 5.2)
"""5.3 by the straight line between the readings at 20 and 24 h."""


def told(made_h: float, *hours: float, target: float = 5.3, kind: str = "ph", p_never: float = 0.0) -> bytes:
    """Return the row of a forecast with these five instants, or without any."""
    levels = tuple(WALL_S + at_h * HOUR_S for at_h in hours)
    made = Forecast(
        batch=NAME, made_s=WALL_S + made_h * HOUR_S, kind=kind, target=target, basis="readings", readings=2,  # type: ignore[arg-type]
        quantiles_s=levels or None, p_never=p_never,  # type: ignore[arg-type]
    )  # fmt: skip
    return row(made, "UTC")


def batch(tmp_path: Path, *rows: bytes, log: Log | None = None) -> Path:
    log = log or Log().event(0.0, "hang").minutes(0.0, 31.0, 36.0)
    for at_h, ph in PH.items():
        log.reading(at_h, "ph", ph)
    folder = log.write(tmp_path / "b")
    (folder / "forecasts.csv").write_bytes(HEADER + b"".join(rows))
    return folder


def scores(folder: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = review(folder)["forecasts"]["scores"]
    return found


def test_each_forecast_is_inside_early_or_late_and_off_by_so_many_hours(tmp_path: Path) -> None:
    made = {
        2.0: (18.0, 20.0, 25.0, 27.0, 30.0), 6.0: (23.0, 24.0, 26.0, 28.0, 30.0),
        12.0: (15.0, 16.0, 18.0, 19.0, 22.0), 18.0: (21.0, 22.0, 22.5, 23.0, 24.0),
    }  # fmt: skip
    (score,) = scores(batch(tmp_path, *(told(at_h, *levels) for at_h, levels in made.items())))
    inside = sum(levels[0] <= CAME_H <= levels[4] for levels in made.values())
    early = sum(levels[0] > CAME_H for levels in made.values())
    late = sum(levels[4] < CAME_H for levels in made.values())
    assert (score["inside"], score["early"], score["late"]) == (inside, early, late) == (2, 1, 1)
    offs = [CAME_H - levels[2] for levels in made.values()]
    assert score["median_late_h"] == pytest.approx(statistics.median(offs), abs=0.006)
    assert score["mean_off_h"] == pytest.approx(sum(abs(off) for off in offs) / 4.0, abs=0.006)
    assert score["came"] == text_of(CAME_H)
    assert (score["came_after"], score["came_by"]) == (text_of(20.0), text_of(24.0))
    assert [step["made"] for step in score["steps"]] == [text_of(2.0), text_of(6.0), text_of(12.0)]
    assert [step["fate"] for step in score["steps"]] == ["inside", "early", "late"]


def test_what_has_not_come_is_open_until_a_measurement_after_the_range_shows_that_it_is_late(tmp_path: Path) -> None:
    rows = [told(2.0, 20.0, 22.0, 24.0, 26.0, 29.0, target=4.8), told(3.0, 20.0, 22.0, 24.0, 26.0, 33.0, target=4.8)]
    (score,) = scores(batch(tmp_path, *rows))
    assert (score["came"], score["judged"], score["late"], score["open"]) == (
        None,
        1,
        1,
        1,
    )  # 4.9 was measured at 30 h.
    assert score["median_late_h"] is None


def test_a_loss_has_come_when_the_last_piece_that_hangs_has_it(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 31.0, 13.0)
    course = {"A": {0.0: 400.0, 20.0: 340.0, 40.0: 320.0}, "B": {0.0: 500.0, 20.0: 460.0, 40.0: 380.0},
              "C": {0.0: 300.0, 20.0: 297.0}}  # fmt: skip
    for piece, weighed in course.items():
        for at_h, grams in weighed.items():
            log.reading(at_h, "weight", grams, piece=piece, note="out; eaten" if (piece, at_h) == ("C", 20.0) else "")
    rows = [told(1.0, 20.0, 25.0, 30.0, 33.0, 35.0, target=15.0, kind="weight_loss")]
    (score,) = scores(batch(tmp_path, *rows, log=log))
    at_b = 20.0 + 20.0 * (15.0 - 8.0) / (24.0 - 8.0)  # B is the slower one; A had it at 20 h.
    assert (score["came"], score["came_by"], score["inside"]) == (text_of(at_b), text_of(40.0), 1)


def test_doubled_damaged_and_reached_rows_spoil_no_score(tmp_path: Path) -> None:
    good = told(6.0, 18.0, 20.0, 22.0, 23.0, 24.0)
    folder = batch(tmp_path, good, good, told(26.0), good[:70] + b"\r\n", b"\0" * 30 + b"\r\n", good[:40])
    figures = review(folder)["forecasts"]
    assert (figures["kept"], figures["damaged"]) == (2, 3)
    assert (figures["scores"][0]["told"], figures["scores"][0]["inside"]) == (1, 1)
    assert "RECORD: 3 rows of forecasts.csv cannot be read and are left out." in page(folder)


def test_a_batch_without_kept_forecasts_says_so_in_one_line(tmp_path: Path) -> None:
    folder = Log().event(0.0, "hang").minutes(0.0, 1.0, 36.0).write(tmp_path / "b")
    assert review(folder)["forecasts"]["kept"] == 0
    assert sum("Forecasts: none kept" in line for line in page(folder)) == 1


def test_the_first_forecast_is_what_the_stage_was_expected_to_last(tmp_path: Path) -> None:
    rows = [told(4.0, 20.0, 22.0, 27.0, 28.0, 30.0, target=4.8), told(8.0, 20.0, 22.0, 40.0, 41.0, 42.0, target=4.8)]
    folder = batch(tmp_path, *rows)
    planned = {one["name"]: one for one in review(folder)["planned"]}
    assert planned["ferment"]["expected_h"] == pytest.approx(27.0, abs=0.02)
    assert planned["ferment"]["expected_at"] == text_of(4.0)
    assert planned["dry"]["expected_h"] is None
    assert "forecast 27.0 h" in " ".join(" ".join(page(folder)).split())


def test_the_page_tells_what_was_told_so_long_before(tmp_path: Path) -> None:
    folder = batch(tmp_path, told(6.0, 18.0, 20.0, 22.0, 23.0, 25.0), told(16.0, 19.0, 20.0, 21.0, 22.0, 22.3))
    lines = page(folder)
    assert "    1 of 2 held it in the range they told for 8 in 10; it came too late for 1" in lines
    wanted = "5 Jan 12:00 16.7 h 6 Jan 00:00 to 07:00 inside, 40 min late"
    assert any(" ".join(line.split()) == wanted for line in lines)
    with (folder / "forecasts.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == 2
