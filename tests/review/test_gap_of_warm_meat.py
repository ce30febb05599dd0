"""A gap behind air that had been cooled: the review counts it by the meat, which was warmer than both ends.

The time constant is what the core goes by (`SLOWEST_MEAT_S`): six hours, common practice, no source.
"""

from math import exp
from pathlib import Path
from typing import Any

import pytest

from controller.review.figures import review
from tests.helpers.batch_logs import Log


def reviewed(log: Log, folder: Path) -> dict[str, Any]:
    ferment: dict[str, Any] = review(log.event(0.0, "hang").write(folder))["ferment"]
    return ferment


def celsius_hours(air_c: float, hours: float) -> float:
    return (air_c - 15.6) * hours


def test_it_counts_warmer_than_either_end(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 10.0, 36.0).minutes(10.0, 13.0, 14.0).minutes(19.0, 20.0, 15.0)
    counted = reviewed(log, tmp_path / "b")["degree_hours_c"]
    meat_c = 14.0 + 22.0 * exp(-3.0 / 6.0)
    least = celsius_hours(36.0, 10.0) + celsius_hours(meat_c, 6.0)
    assert least < counted < least + 0.2 * celsius_hours(meat_c, 6.0)  # Never less; rows are looked at by the hour.


def test_long_after_the_cooling_the_ends_bound_it(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 10.0, 36.0).minutes(10.0, 58.0, 14.0).minutes(64.0, 65.0, 16.0)
    counted = reviewed(log, tmp_path / "b")["degree_hours_c"]
    assert counted == pytest.approx(celsius_hours(36.0, 10.0) + celsius_hours(16.0, 6.0 + 1.0), abs=1.0)


@pytest.mark.parametrize("between_c", [14.0, 35.0])
def test_rows_without_a_gap_count_as_they_stand(tmp_path: Path, between_c: float) -> None:
    log = Log().minutes(0.0, 10.0, 36.0).minutes(10.0, 13.0, between_c)
    counted = reviewed(log, tmp_path / "b")["degree_hours_c"]
    assert counted == pytest.approx(celsius_hours(36.0, 10.0) + max(celsius_hours(between_c, 3.0), 0.0), abs=0.5)
