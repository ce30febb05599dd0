"""A climate file that is cut short: the diary knows more, and what was not recorded is not known."""

from pathlib import Path

import pytest

from controller.review.figures import review
from controller.review.page import page
from tests.cli.conftest import Typed
from tests.cli.conftest import typed as typed  # noqa: PLC0414 - a fixture
from tests.helpers.batch_logs import Log, text_of

HUNG_H, SOUR_H, OVER_H = 1.5, 20.0, 26.0


def ferment(from_h: float = 0.0, to_h: float = OVER_H) -> Log:
    """Return a ferment at 36 °C, 20 h to 5.3, of which there are rows in this time only."""
    log = Log().event(0.0, "start").event(HUNG_H, "hang").event(HUNG_H, "stage", "hang").event(OVER_H, "stage", "until")
    if from_h < HUNG_H:
        log.minutes(from_h, min(HUNG_H, to_h), 25.0, stage="warm")
    if to_h > HUNG_H:
        log.minutes(max(from_h, HUNG_H), to_h, 36.0)
    return log.reading(10.0, "ph", 5.6).reading(SOUR_H, "ph", 5.2).event(OVER_H + 1.0, "end", "stopped")


def test_with_all_its_rows_it_is_within(tmp_path: Path) -> None:
    figures = review(ferment().write(tmp_path / "b"))
    assert (figures["ferment"]["verdict"], figures["ferment"]["climate_missing"]) == ("within", False)
    assert figures["damage"] == []


@pytest.mark.parametrize("until_h", [0.32, 6.0, 19.0])
def test_a_ferment_whose_rows_end_too_early_is_not_known_and_ends_when_the_diary_says(
    tmp_path: Path, until_h: float
) -> None:
    folder = ferment(to_h=until_h).write(tmp_path / "b")
    figures = review(folder)
    told = figures["ferment"]
    assert told["climate_missing"]
    assert (told["verdict"], told["guarded"]["verdict"], told["guarded_verdict"]) == ("open", "open", "open")
    # Nothing is reckoned behind the last row: 36 °C is 20.4 K above the Canadian base.
    assert told["degree_hours_c"] == pytest.approx(20.4 * max(until_h - HUNG_H, 0.0), abs=0.2)
    bounds = {stage["name"]: (stage["began"], stage["ended"]) for stage in figures["stages"]}
    assert bounds["warm"] == (text_of(0.0), text_of(HUNG_H))
    assert bounds["ferment"] == (text_of(HUNG_H), text_of(OVER_H))
    said = " ".join(" ".join(page(folder)).split())
    assert "NOT KNOWN from this record" in said
    assert "the climate record is missing from 2026-01-0" in said
    assert "events.csv tells of the batch in the chamber until" in said
    assert "nothing to count yet" not in said
    assert "within the limits" not in said


def test_where_the_first_day_is_lost_its_hours_are_not_reckoned_by_the_second(tmp_path: Path) -> None:
    told = review(ferment(from_h=12.0).write(tmp_path / "b"))["ferment"]
    assert (told["climate_missing"], told["verdict"]) == (True, "open")
    assert told["degree_hours_c"] == pytest.approx(20.4 * (OVER_H - 12.0), abs=0.5)


def test_what_the_rows_alone_bring_over_the_limit_is_over(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 40.0, 36.0).event(60.0, "hold").reading(50.0, "ph", 5.2)
    told = review(log.write(tmp_path / "b"))["ferment"]
    assert (told["climate_missing"], told["verdict"]) == (True, "over")  # 40 h x 20.4 K = 816 of 555.


def test_hours_elsewhere_need_no_rows(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 5.0, 36.0, stage="warm").event(5.0, "stage", "until")
    log.minutes(5.0, 12.0, 30.0).reading(11.0, "ph", 5.2).event(12.0, "stage", "until").event(30.0, "note")
    figures = review(log.write(tmp_path / "b"))
    assert figures["damage"] == []
    assert not figures["ferment"]["climate_missing"]


def test_a_review_without_the_climate_ends_with_the_code_of_damaged_data(tmp_path: Path, typed: Typed) -> None:
    whole, cut = (log.write(tmp_path / name) for name, log in (("a", ferment()), ("b", ferment(to_h=0.32))))
    assert typed("review", str(whole))[0] == 0
    assert typed("review", str(cut))[0] == 65
    assert typed("review", str(cut), "--json")[0] == 65
    code, out, _ = typed("release", str(cut))
    assert code == 0
    assert "NOT MEASURED Degree-hours" in out
