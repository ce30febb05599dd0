"""What a review says of a batch's alarms, reckoned by hand from diaries of a few lines."""

from pathlib import Path

import pytest

from controller.review.figures import review
from controller.review.page import page
from tests.helpers.batch_logs import Log


def figures_of(log: Log, tmp_path: Path) -> dict[str, object]:
    alarms = review(log.write(tmp_path / "b"))["alarms"]
    assert isinstance(alarms, dict)
    return alarms


def begun(hours: float = 48.0) -> Log:
    return Log().event(0.0, "start").minutes(0.0, hours, 36.0, every_min=60.0)


def test_a_batch_without_faults_has_none(tmp_path: Path) -> None:
    assert figures_of(begun(), tmp_path) == {
        "total": 0, "by_priority": {}, "annunciations": 0, "per_day": 0.0, "most_in_10_min": 0, "most_repeats": 0,
        "active_h": 0.0, "longest_active_h": 0.0, "longest_unseen_h": 0.0, "stale": 0, "floods": 0, "chattering": 0,
        "open": [],
    }  # fmt: skip
    assert "\nAlarms: 0\n" in "\n".join(page(tmp_path / "b"))


def test_how_often_they_called_how_long_they_lasted_and_how_long_nobody_saw_them(tmp_path: Path) -> None:
    log = begun()
    log.event(10.0, "alarm", "A3-1", "1").event(10.25, "alarm again", "A3-1", "1").event(10.5, "seen", "A3-1", "1")
    log.event(12.5, "alarm again", "A3-1", "1").event(13.0, "returned", "A3-1", "1")
    log.event(12.0, "alarm", "P10-1", "3").event(14.0, "returned", "P10-1", "3").event(20.0, "seen", "P10-1", "3")
    figures = figures_of(log, tmp_path)
    assert (figures["total"], figures["by_priority"]) == (2, {"1": 1, "3": 1})
    assert (figures["annunciations"], figures["most_repeats"]) == (4, 2)
    assert figures["per_day"] == 2.0
    assert figures["active_h"] == 4.0  # 10:00 to 14:00, an hour of it twice.
    assert (figures["longest_active_h"], figures["longest_unseen_h"]) == (3.0, 8.0)
    assert figures["open"] == []
    text = "\n".join(page(tmp_path / "b"))
    assert "Alarms: 2 (1 of priority 1, 1 of priority 3)\n  they called 4 times (2.0 a day), at most 1 time" in text
    assert max(map(len, text.splitlines())) <= 80


def test_what_came_back_lasted_twice_and_what_is_there_at_the_end_is_named(tmp_path: Path) -> None:
    log = begun(40.0)
    log.event(1.0, "alarm", "S1-1", "1").event(2.0, "returned", "S1-1", "1").event(3.0, "alarm again", "S1-1", "1")
    log.event(4.5, "returned", "S1-1", "1").event(10.0, "alarm", "A4-1", "1")
    figures = figures_of(log, tmp_path)
    assert (figures["active_h"], figures["longest_active_h"]) == (32.5, 30.0)
    assert figures["stale"] == 1
    assert figures["longest_unseen_h"] == 39.0, "nobody ever saw the first one"
    assert figures["open"] == ["A4-1"]
    assert "still there at the end of the record: A4-1" in "\n".join(page(tmp_path / "b"))


def test_what_has_happened_lasts_until_somebody_has_seen_it(tmp_path: Path) -> None:
    log = begun().event(5.0, "alarm", "C16-1", "2").event(8.0, "seen", "C16-1", "2")
    assert figures_of(log, tmp_path)["longest_active_h"] == 3.0


def test_floods_and_fluttering_are_counted(tmp_path: Path) -> None:
    log = begun()
    for number in range(4):
        log.event(1.0 + number / 360.0, "alarm again" if number else "alarm", "P4-1", "2")  # Every ten seconds.
        log.event(1.0 + (number + 0.5) / 360.0, "returned", "P4-1", "2")
    for number in range(7):
        log.event(20.0 + number / 60.0, "alarm", f"P1{number % 3}-{number}", "3")
    log.event(20.1, "flood", "P10-0", "2").event(20.5, "flood", "P10-0", "")
    figures = figures_of(log, tmp_path)
    assert (figures["floods"], figures["chattering"], figures["most_in_10_min"]) == (1, 1, 7)
    text = "\n".join(page(tmp_path / "b"))
    assert "too many at once (more than five in ten minutes): 1 time" in text
    assert "came and went three times in a minute: 1" in text


@pytest.mark.parametrize(("gap_min", "most"), [(9.9, 2), (10.0, 1)])
def test_ten_minutes_are_ten_minutes(tmp_path: Path, gap_min: float, most: int) -> None:
    log = begun().event(5.0, "alarm", "A5-1", "2").event(5.0 + gap_min / 60.0, "alarm", "A5-2", "2")
    assert figures_of(log, tmp_path)["most_in_10_min"] == most
