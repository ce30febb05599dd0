"""A course for drawing: every row is in it, extremes survive, and a gap stays a gap."""

from pathlib import Path

import pytest

from controller.errors import UsageError
from controller.review.logs.course import course
from tests.helpers.batch_logs import HOUR_S, Log
from tests.helpers.recorded import WALL_S


def test_a_short_log_is_drawn_row_by_row(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.0, lambda hours: 20.0 + hours, set_c=21.0, heater_pct="12.50")
    drawn = course(log.write(tmp_path / "b"))
    assert drawn.time_s == tuple(WALL_S + 60.0 * minute for minute in range(1, 61))
    assert drawn.air_temp_c == tuple(float(row["air_temp_c"]) for row in log.climate)
    assert set(drawn.heater_pct) == {12.5}
    assert (set(drawn.cooler_pct), set(drawn.stage), drawn.bucket_s) == ({None}, {"ferment"}, 60.0)


def test_buckets_keep_means_and_extremes(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 10.0, 20.0).minutes(10.0, 20.0, 22.0)
    log.climate[30]["air_temp_max_c"] = "31.000"
    drawn = course(log.write(tmp_path / "b"), most=2)
    assert (drawn.air_temp_c, drawn.air_temp_max_c, drawn.air_temp_min_c) == ((20.0, 22.0), (31.0, 22.0), (20.0, 22.0))
    assert drawn.time_s == (WALL_S + 10.0 * HOUR_S, WALL_S + 20.0 * HOUR_S)


def test_a_day_without_rows_is_one_point_without_values(tmp_path: Path) -> None:
    drawn = course(Log().minutes(0.0, 24.0, 20.0).minutes(48.0, 72.0, 22.0).write(tmp_path / "b"), most=72)
    assert len(drawn.time_s) == 24 + 1 + 24
    assert [value for value in drawn.air_temp_c if value is None] == [None]
    assert drawn.time_s[24] == WALL_S + 25.0 * HOUR_S
    assert all(len(values) == 49 for values in (drawn.stage, drawn.rh_pct, drawn.fan_pct))


def test_rows_without_a_value_leave_a_hole_as_well(tmp_path: Path) -> None:
    drawn = course(Log().minutes(0.0, 1.0, 20.0).minutes(1.0, 2.0, None).write(tmp_path / "b"), most=4)
    assert drawn.air_temp_c == (20.0, 20.0, None, None)
    assert drawn.rh_pct == (85.0,) * 4


def test_rows_that_a_restore_left_a_second_time_weigh_once(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 2.0, lambda hours: 20.0 + hours)
    once = course(log.write(tmp_path / "once"), most=2)
    log.climate += log.climate[80:110]  # The warmer half of the second hour, letter for letter.
    assert course(log.write(tmp_path / "twice"), most=2) == once


def test_what_is_wanted_of_a_complete_batch_is_not_drawn(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.0, 13.0, stage="dry", set_c=13.0)
    log.minutes(1.0, 2.0, 12.0, stage="", state="complete", set_c=2.0)
    drawn = course(log.write(tmp_path / "b"), most=4)
    assert (drawn.air_temp_set_c, drawn.rh_set_pct) == ((13.0, 13.0, None, None), (85.0, 85.0, None, None))
    assert drawn.air_temp_c == (13.0, 13.0, 12.0, 12.0)


def test_one_file_is_drawn_by_itself(tmp_path: Path) -> None:
    folder = Log(every_s=10.0).minutes(0.0, 0.5, 20.0, every_min=1.0 / 6.0).write(tmp_path / "b")
    drawn = course(next(folder.glob("climate-*.csv")))
    assert (len(drawn.time_s), drawn.bucket_s) == (180, 10.0)


def test_a_folder_without_rows_gives_an_empty_course(tmp_path: Path) -> None:
    assert course(Log().write(tmp_path / "b")).time_s == ()


def test_a_course_of_less_than_two_points_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="most=1"):
        course(Log().write(tmp_path / "b"), most=1)
