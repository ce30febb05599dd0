"""Rows that no working program wrote cost themselves and no others, whatever reads the folder."""

from pathlib import Path

import pytest

from controller.core.batch.stages import next_stage
from controller.errors import DataError
from controller.records.batch_folder import read_card
from controller.review.cut import TOLD
from controller.review.figures import review
from controller.review.forecast.folder import outlook
from controller.review.forecast.told import newest
from controller.review.page import page
from controller.review.release import release
from tests.helpers.batch_logs import HOUR_S, Log
from tests.helpers.recorded import WALL_S
from tests.helpers.recorded import batch as started

TIMES = ("9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00Z", "1969-12-31T23:59:59Z", "3026-01-05T06:00:00Z")


def written(folder: Path) -> Path:
    """Write five hours of a ferment."""
    log = Log().event(0.0, "start").event(0.1, "hang").minutes(0.0, 5.0, 26.0)
    return log.reading(1.0, "ph", 5.6).reading(4.0, "ph", 5.2).write(folder)


def add(path: Path, line: str) -> None:
    with path.open("ab") as file:
        file.write(line.encode("utf-8", "surrogatepass") + b"\r\n")


@pytest.mark.parametrize("time", TIMES)
@pytest.mark.parametrize(
    ("name", "rest"),
    [("events.csv", ",hang,,,words,Ann"), ("readings.csv", ",ph,4.0,pH,,meter,,Ann,2026-01-05T06:00:00Z,,")],
)
def test_a_row_of_a_time_that_no_clock_shows_is_damaged(tmp_path: Path, name: str, rest: str, time: str) -> None:
    before = review(written(tmp_path))
    add(tmp_path / name, f"r9,{time}{rest}" if name == "readings.csv" else f"{time}{rest}")
    after = review(tmp_path)
    assert after["damage"] == [f"1 row of {name} cannot be read and is left out"]
    assert (after["ferment"], after["ph"], after["stages"]) == (before["ferment"], before["ph"], before["stages"])
    assert any("cannot be read" in line for line in page(tmp_path))
    assert release(tmp_path)["damage"] == after["damage"]
    assert outlook(tmp_path).nothing == outlook(tmp_path, WALL_S + 5.0 * HOUR_S).nothing


def test_a_line_that_is_too_long_for_one_is_damaged(tmp_path: Path) -> None:
    written(tmp_path)
    add(tmp_path / "events.csv", f'2026-01-05T07:00:00Z,note,,,"{"x" * 200_000}",Ann')
    assert review(tmp_path)["damaged_rows"] == 1


def test_what_a_terminal_would_take_for_a_command_is_not_shown(tmp_path: Path) -> None:
    written(tmp_path)
    row = "r9,2026-01-05T08:00:00Z,ph,5.5,pH,,meter \x1b[2J\u202e,,Ann,2026-01-05T08:00:00Z,,one\u00a0two"
    add(tmp_path / "readings.csv", row)
    shown = str(release(tmp_path)) + str(review(tmp_path))
    assert "\\x1b" not in shown
    assert "\\u202e" not in shown


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('began = "2026-01-05T06:00:00Z"', 'began = "monday"', "Invalid isoformat string: 'monday'"),
        ('began = "2026-01-05T06:00:00Z"', 'began = "2026-01-05T06:00:00"', "began = .*: a time without a zone"),
        ('channel = "air_temp"', 'channel = "core_temp"', "its chamber has no air thermometer"),
        ('timezone = "UTC"', 'timezone = "Mars/Base"', "timezone = Mars/Base: there is no such zone"),
        ("salt_g = 117.0", "salt_g = 1e300", "a figure in it is 1e\\+300"),
        ("salt_g = 117.0", f"salt_g{'.a' * 3000} = 1.0", "a key in it has no end"),
        ("salt_g = 117.0", f"salt_g = {'[' * 5000}", "it holds lists too deep in each other"),
    ],
)
def test_a_card_that_nobody_can_read_a_folder_by_is_told(tmp_path: Path, old: str, new: str, says: str) -> None:
    card = written(tmp_path) / "recipe.toml"
    assert old in card.read_text("utf-8")
    card.write_text(card.read_text("utf-8").replace(old, new), "utf-8")
    with pytest.raises(DataError, match=f"the batch card is damaged: {says}"):
        read_card(tmp_path)


def test_damaged_rows_of_kept_forecasts_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "forecasts.csv"
    path.write_text("time,kind,target,text\r\n", "utf-8")
    add(path, f'2026-01-05T12:00:00Z,ph,4.9,"{"x" * 200_000}"')
    add(path, "2026-01-05T12:00:00Z,ph")
    assert newest(tmp_path) == []
    add(path, "2026-01-05T12:00:00Z,ph,4.9,pH 4.9 expected\x07 Mon")
    assert [told.text for told in newest(tmp_path)] == ["pH 4.9 expected? Mon"]


def test_lines_that_stand_twice_in_the_diary_change_no_figure(tmp_path: Path) -> None:
    """A command that a killed program could not remember is done and told once more, a few seconds later."""
    ends = {0.2: "Stage warm ended: the meat was hung.", 6.0: "Stage ferment ended: its end was reached."}
    story = ((0.0, "start", ""), (0.1, "hang", ""), (0.2, "stage", "hang"), (6.0, "stage", "until"), (9.1, "end", "x"))

    def batch(*more_h: float) -> Log:
        log = Log()
        for at_h, kind, name in story:
            for again_h in (0.0, *more_h):
                log.event(at_h + again_h, kind, name)
                log.events[-1]["text"] = ends.get(at_h, "words")
        log.minutes(0.0, 0.2, 26.0, stage="warm").minutes(0.2, 6.0, 26.0).minutes(8.0, 9.0, 13.0, stage="dry")
        return log.reading(1.0, "ph", 5.6).reading(5.0, "ph", 4.7).reading(8.0, "weight", 400, piece="A")

    once, twice = review(batch().write(tmp_path / "once")), review(batch(3.0 / 3600.0).write(tmp_path / "twice"))
    smoke, again = once["stages"][2], twice["stages"][2]
    assert (smoke["name"], smoke["began"], again["began"]) == ("smoke", "2026-01-05T12:00:00Z", "2026-01-05T12:00:03Z")
    assert next_stage(started(), WALL_S, "until")[1].text.startswith(f"Stage ferment{TOLD}its end was reached")
    assert {**once, "stages": [*once["stages"][:2], again, *once["stages"][3:]]} == twice
