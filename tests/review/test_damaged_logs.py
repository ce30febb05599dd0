"""Damaged climate logs, one short story each: what can be read counts, what cannot is told by file, line and reason."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from controller.errors import DataError
from controller.review.batch import read_batch
from controller.review.figures import review
from controller.review.logs import scan as scanning
from controller.review.logs.spreadsheet import Hints
from controller.review.page import page
from tests.helpers.batch_logs import Log, text_of

DAY = "climate-2026-01-05.csv"


def wave(hours: float) -> float:
    return 24.0 + 0.3 * math.sin(7.0 * hours)


def hours_of(every: float = 5.0) -> Log:
    """Return five hours of a ferment whose temperature never stands still."""
    return Log().event(0.0, "hang").minutes(0.0, every, wave, set_c=24.0, heater_pct="10.00", heater_closings="3")


def written(folder: Path) -> Path:
    return hours_of().write(folder) / DAY


def change(path: Path, spoil: Callable[[list[bytes]], None]) -> dict[str, Any]:
    """Change the lines of a file, and return the review of its folder."""
    lines = path.read_bytes().split(b"\n")
    spoil(lines)
    path.write_bytes(b"\n".join(lines))
    return review(path.parent)


def test_a_torn_last_line_is_left_out_and_named(tmp_path: Path) -> None:
    path = written(tmp_path)
    path.write_bytes(path.read_bytes()[:-20])
    told = review(tmp_path)
    assert told["rows"] == 299
    assert told["unread"] == [{"file": DAY, "rows": 1, "lines": "301", "why": "the last line has no end (1)"}]


def test_the_page_names_file_lines_and_reasons(tmp_path: Path) -> None:
    path = written(tmp_path)
    lines = path.read_bytes().split(b"\r\n")
    lines[20] = lines[20][:40]
    path.write_bytes(b"\r\n".join([*lines[:-1], *lines[100:200], b""]))
    text = " ".join(" ".join(page(tmp_path)).split())
    assert f"not read: {DAY}, line 21: 4 fields where the header has 25 (1)" in text
    assert "left out as a copy: 100 rows of" in text


def test_two_lines_torn_into_one_are_one_damaged_line(tmp_path: Path) -> None:
    def tear(lines: list[bytes]) -> None:
        lines[10:12] = [lines[10][:30] + lines[11]]

    told = change(written(tmp_path), tear)
    assert (told["rows"], told["unread"][0]["lines"]) == (298, "11")
    assert "fields where the header has 25" in told["unread"][0]["why"]


def test_as_many_fields_too_few_in_one_line_as_too_many_in_another_hide_neither(tmp_path: Path) -> None:
    def shift(lines: list[bytes]) -> None:
        lines[5], lines[9] = lines[5].replace(b",", b"", 2), lines[9].replace(b",", b",,,", 1)

    told = change(written(tmp_path), shift)
    assert (told["damaged_rows"], told["unread"][0]["lines"]) == (2, "6, 10")


def test_zero_bytes_of_a_power_cut_cost_their_lines(tmp_path: Path) -> None:
    def zero(lines: list[bytes]) -> None:
        lines[50:52] = [b"\0" * 200 + lines[51]]

    told = change(written(tmp_path), zero)
    assert told["unread"] == [{"file": DAY, "rows": 1, "lines": "51", "why": "zero bytes in it (1)"}]


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (b"24.0", b"24,0", "26 fields where the header has 25"),
        (b"running,24.", b"running,nan", "air_temp_c is no figure"),
        (b"running,24.", b"running,2x.", "air_temp_c is no figure"),
        (b",3,", b",3.5,", "heater_closings is no count"),
        (b",10.00,", b",a lot,", "heater_pct is no figure"),
        (b"T06:3", b"T06: ", "time is none, or has no zone"),
        (b":00Z", b":00", "time is none, or has no zone"),
    ],
)
def test_a_field_that_cannot_be_read_is_named(tmp_path: Path, old: bytes, new: bytes, why: str) -> None:
    def spoil(lines: list[bytes]) -> None:
        place = next(place for place, line in enumerate(lines) if place > 30 and old in line)
        lines[place] = lines[place].replace(old, new, 1)

    told = change(written(tmp_path), spoil)
    (unread,) = told["unread"]
    assert (unread["rows"], told["rows"]) == (1, 299)
    assert why in unread["why"]


def test_a_reading_of_a_kind_that_nobody_knows_is_told_and_not_just_left_out(tmp_path: Path) -> None:
    told = review(hours_of().reading(3.0, "ph", 5.6).reading(4.0, "pH", 5.2).write(tmp_path))
    assert told["ph"]["last"] == 5.6
    assert "1 row of readings.csv counts for nothing: of a kind that is not known here ('pH')" in told["damage"]


def test_damage_in_one_file_of_many_leaves_the_figures_of_the_others(tmp_path: Path) -> None:
    whole = review(hours_of(60.0).write(tmp_path / "whole"))
    folder = hours_of(60.0).write(tmp_path / "torn")
    told = change(folder / "climate-2026-01-06.csv", lambda lines: lines.insert(700, b"\xff\xfe,garbage"))
    assert (told["rows"], told["ferment"], told["stages"]) == (whole["rows"], whole["ferment"], whole["stages"])
    assert told["unread"][0]["lines"] == "701"


def test_a_restored_copy_is_left_out_and_changes_no_figure(tmp_path: Path) -> None:
    """A backup of the first three hours was written behind what the card had kept."""
    whole = review(hours_of().write(tmp_path / "whole"))
    path = hours_of().write(tmp_path / "twice") / DAY
    lines = path.read_bytes().split(b"\r\n")
    path.write_bytes(b"\r\n".join([*lines[:200], *lines[1:-1], b""]))
    told = review(path.parent)
    assert (told["ferment"], told["stages"], told["rows"]) == (whole["ferment"], whole["stages"], 300)
    assert told["copies"] == [{"from": text_of(1.0 / 60.0), "to": text_of(199.0 / 60.0), "rows": 199}]
    assert told["clock_steps"] == []
    assert "199 rows of climate stand there a second time, letter for letter, and are left out" in told["damage"]


def test_a_copied_file_beside_the_first_one_counts_once(tmp_path: Path) -> None:
    path = written(tmp_path)
    (tmp_path / "climate-2026-01-05 (1).csv").write_bytes(path.read_bytes())
    told = review(tmp_path)
    assert (told["rows"], told["copies"][0]["rows"]) == (300, 300)


def test_rows_that_only_look_alike_count_as_time_of_a_clock_set_back(tmp_path: Path) -> None:
    """Nothing changes in these rows, so nobody can tell a copy from an hour that came twice: the longer one counts."""
    log = Log().event(0.0, "hang").minutes(0.0, 5.0, 25.6).minutes(4.0, 9.0, 25.6)
    told = review(log.write(tmp_path))
    assert (told["rows"], told["copies"]) == (600, [])
    assert told["clock_steps"] == [{"from": text_of(5.0), "to": text_of(4.0 + 1.0 / 60.0), "hours": -0.983}]
    assert told["ferment"]["degree_hours_c"] == pytest.approx(100.0, abs=0.1)
    assert "the clock went back once, by 1.0 h at most: each row counts as time that has passed" in told["damage"]


def test_an_older_version_with_fewer_columns_and_a_newer_one_with_more_are_one_log(tmp_path: Path) -> None:
    folder = hours_of(60.0).write(tmp_path)
    whole = review(folder)
    first, second, third = sorted(folder.glob("climate-*.csv"))
    old = [b",".join(line.split(b",")[:18]) for line in first.read_bytes().splitlines()]
    first.write_bytes(b"\r\n".join([*old, b""]))
    new = third.read_bytes().splitlines()
    added = [new[0] + b",invented_k", *(line + b",1.5" for line in new[1:])]
    third.write_bytes(b"\r\n".join([*added, b""]))
    told = review(folder)
    assert (told["ferment"], told["rows"], told["unread"]) == (whole["ferment"], whole["rows"], [])
    assert second.exists()


def test_a_missing_day_is_a_gap_and_counts_with_its_warmer_neighbour(tmp_path: Path) -> None:
    folder = hours_of(60.0).write(tmp_path)
    (folder / "climate-2026-01-06.csv").unlink()
    told = review(folder)
    assert [gap["hours"] for gap in told["gaps"]] == [24.017]


def resaved(path: Path, separator: str, form: str) -> None:
    """Save a file as a spreadsheet does: byte order mark, decimal commas, local times without a zone."""
    header, *lines = path.read_text("utf-8").splitlines()
    made = [header.replace(",", separator)]
    for line in lines:
        time, *fields = line.split(",")
        day, clock = time[:10].split("-"), time[11:16]
        moment = form.format(y=day[0], m=day[1], d=day[2], clock=clock)
        made.append(separator.join([moment, *(field.replace(".", ",") for field in fields)]))
    path.write_text("\ufeff" + "\n".join([*made, ""]), "utf-8")


@pytest.mark.parametrize("separator", [";", "\t"])
@pytest.mark.parametrize("form", ["{d}.{m}.{y} {clock}", "{m}/{d}/{y} {clock}", "{y}-{m}-{d} {clock}"])
def test_a_climate_file_that_a_spreadsheet_saved_again_is_read_once_its_times_are_clear(
    tmp_path: Path, separator: str, form: str
) -> None:
    whole = review(hours_of().write(tmp_path / "whole"))
    path = hours_of().write(tmp_path / "resaved") / DAY
    resaved(path, separator, form)
    with pytest.raises(DataError, match=DAY):
        review(path.parent)  # It asks.
    dates: Any = "month-first" if form.startswith("{m}") else "day-first"
    record = read_batch(path.parent, hints=Hints("UTC", dates))
    assert (record.climate.rows, record.damaged) == (300, {})
    again = record.climate.runs[0]
    assert again.spread("air", 3) == {key: whole["stages"][0]["air_temp_c"][key] for key in ("mean", "min", "max")}


def test_a_zone_moves_local_times_to_utc(tmp_path: Path) -> None:
    path = written(tmp_path)
    resaved(path, ";", "{d}.{m}.{y} {clock}")
    record = read_batch(tmp_path, hints=Hints("Europe/Vienna", "day-first"))
    first = read_batch(hours_of().write(tmp_path / "whole"))
    assert first.climate.first_s is not None
    assert record.climate.first_s == first.climate.first_s - 3600.0


@pytest.mark.parametrize(
    ("hints", "asks"),
    [
        (Hints(), "05.01.2026 06:01 is day 5 of month 1, or day 1 of month 5. Which one"),
        (Hints(zone="Europe/Vienna"), "Which one"),
        (Hints(dates="day-first"), "05.01.2026 06:01 has no time zone. Where did this clock stand"),
    ],
)
def test_what_a_spreadsheet_left_open_is_asked(tmp_path: Path, hints: Hints, asks: str) -> None:
    resaved(written(tmp_path), ";", "{d}.{m}.{y} {clock}")
    with pytest.raises(DataError, match=asks.replace(".", r"\.")):
        _ = read_batch(tmp_path, hints=hints).climate


def test_small_pieces_give_the_same_figures_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = hours_of(60.0).write(tmp_path)
    lines = (folder / "climate-2026-01-06.csv").read_bytes().split(b"\n")
    lines[400] = lines[400][:50]
    (folder / "climate-2026-01-06.csv").write_bytes(b"\n".join(lines)[:-9])
    whole = review(folder)
    monkeypatch.setattr(scanning, "PIECE_BYTES", 3000)
    assert review(folder) == whole
    assert whole["unread"][0]["lines"] == "401, 1441"


@pytest.mark.parametrize("size", [1000, 20_000])
def test_the_quick_way_and_the_slow_one_read_the_same_rows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int
) -> None:
    folder = hours_of(30.0).write(tmp_path)
    quick = list(read_batch(folder).rows)
    monkeypatch.setattr(scanning, "PIECE_BYTES", size)
    monkeypatch.setattr(scanning, "_quick", lambda *_: None)
    assert list(read_batch(folder).rows) == quick
