"""The report says what the review says, names its sources by their sums, and takes nothing from a file for its own."""

import datetime as dt
import re
import subprocess
from collections.abc import Callable
from math import isclose
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from controller.cli.local import in_local_words
from controller.core.sheet import Sheet
from controller.records.batch_folder import BatchCard, encode_card, read_card
from controller.review.figures import review
from controller.review.release import release
from controller.review.report import report
from tests.helpers.batch_logs import Log
from tests.helpers.pages import drawings, every, parsed, rows_of, words_of
from tests.helpers.recorded import NAME, WALL_S
from tests.helpers.sheets import sheet_of
from tests.review.test_release import COOKED, cooked

MADE_S = WALL_S + 40 * 86_400.0
EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


def a_batch(air_c: float = 24.0, ferment_h: float = 40.0, ph: float = 4.8, dry_h: float = 240.0) -> Log:
    """Tell of a raw sausage in rows of ten minutes: hung, fermented to this pH, dried and weighed."""
    end_h = ferment_h + dry_h
    log = (
        Log(every_s=600.0)
        .event(0.0, "hang")
        .minutes(0.0, ferment_h, air_c, stage="ferment", set_c=air_c, every_min=10.0, heater_pct="40.00")
        .event(0.0, "stage", "hang")
        .event(ferment_h, "stage", "until")
        .event(ferment_h + 0.1, "stage", "until")
        .minutes(ferment_h + 0.2, end_h, 13.0, stage="dry", set_c=13.0, every_min=10.0, heater_pct="5.00")
    )
    for name, grams in (("A", 400.0), ("B", 420.0)):
        for at_h, lost in ((0.1, 0.0), (ferment_h + 60.0, 0.08), (ferment_h + 120.0, 0.14), (end_h - 1.0, 0.21)):
            log.reading(
                at_h, "weight", round(grams * (1.0 - lost)), piece=name, instrument="scale", unit="g", actor="Ann"
            )
    log.reading(10.0, "ph", 5.6, instrument="meter 1", actor="Ann", unit="pH")
    return log.reading(ferment_h - 0.5, "ph", ph, instrument="meter 1", actor="Ann", unit="pH")


def made(folder: Path, out: Path | None = None) -> str:
    return report(folder, made_s=MADE_S, version="1.2.3", say=in_local_words, out=out)


def written(
    tmp_path: Path, log: Log, sheet: Sheet | None = None, change: Callable[[BatchCard], BatchCard] | None = None
) -> Path:
    folder = log.write(tmp_path / "batches" / NAME, sheet=sheet)
    if change is not None:
        (folder / "recipe.toml").write_bytes(encode_card(change(read_card(folder))))
    return folder


def in_chamber(**changes: Any) -> Callable[[BatchCard], BatchCard]:  # noqa: ANN401 - fields of a chamber file
    return lambda card: replace(card, chamber=replace(card.chamber, **changes))


def test_the_five_figures_are_those_of_the_review_and_the_plan(tmp_path: Path) -> None:
    sheet = sheet_of()
    folder = written(tmp_path, a_batch(), sheet)
    figures, rows = review(folder), {row[0]: row for row in rows_of(parsed(made(folder)), "The five figures")}
    ferment = figures["ferment"]
    assert f"lowest {figures['ph']['lowest']:.2f}" in rows["pH"][1]
    assert f"{ferment['hours_to_ph_5_3']:.1f} h after hanging" in rows["pH"][1]
    us = rows["Degree-hours, US"]
    assert us[1].startswith(f"{ferment['degree_hours_f']:.0f} °F·h; {ferment['guarded']['degree_hours_f']:.0f} with")
    assert us[2] == f"at most {ferment['limit_f']:.0f} °F·h"
    assert us[3].startswith(f"{ferment['guarded']['limit_f'] - ferment['guarded']['degree_hours_f']:.0f} °F·h")
    assert us[4] == "within the limit"
    canada = rows["Degree-hours, Canada"]
    assert canada[1].startswith(f"{ferment['degree_hours_c']:.0f} °C·h")
    assert "24.0 °C" in rows["Highest temperature"][1]
    assert isclose(float(rows["Weight loss"][1].split()[0]), figures["weight_loss_pct"], abs_tol=0.06)
    assert f"{sheet.formula.nitrite_ppm_us:.1f} ppm" in rows["Ingoing nitrite"][1]
    limit = next(one for one in sheet.formula.limits if one.rule in rows["Ingoing nitrite"][2] and one.kind == "max")
    assert limit.value_ppm is not None
    assert rows["Ingoing nitrite"][3] == f"{limit.limit_ppm - limit.value_ppm:.1f} ppm"


@pytest.mark.parametrize(
    ("log", "words"),
    [
        (a_batch(), "within the limit"),
        (a_batch(air_c=38.0, ferment_h=60.0), "OVER the limit"),
        (a_batch(ph=5.5), "open"),
        (a_batch(air_c=24.0, ferment_h=40.0, ph=5.28), "within as measured; open with the errors added"),
    ],
    ids=["within", "over", "no pH yet", "within the meter's error"],
)
def test_the_degree_hours_stand_as_the_review_has_them(tmp_path: Path, log: Log, words: str) -> None:
    rows = {row[0]: row for row in rows_of(parsed(made(written(tmp_path, log))), "The five figures")}
    assert rows["Degree-hours, US"][4] == words


def test_each_ph_stands_at_its_degree_hours_and_the_one_that_ends_the_count_at_those_of_the_review(
    tmp_path: Path,
) -> None:
    folder = written(tmp_path, a_batch())
    first, last = rows_of(parsed(made(folder)), "The pH readings")
    # (75.2 °F - 60 °F) times the hours since hanging; 24 °C is 75.2 °F.
    assert isclose(float(first[2]), 15.2 * 10.0, abs_tol=1.0)
    assert isclose(float(last[2]), review(folder)["ferment"]["degree_hours_f"], abs_tol=0.5)
    assert isclose(float(last[3]), review(folder)["ferment"]["degree_hours_c"], abs_tol=0.5)


def test_a_correction_stands_with_old_and_new_value_and_who_made_it(tmp_path: Path) -> None:
    log = a_batch().reading(200.0, "weight", 999.0, piece="A", instrument="scale", unit="g", actor="Ann")
    wrong = log.readings[-1]["id"]
    log.reading(200.0, "weight", 333.0, piece="A", instrument="scale", unit="g", actor="Ben", replaces=wrong,
                entered_at="2026-01-14T09:00:00Z")  # fmt: skip
    page = parsed(made(written(tmp_path, log)))
    (row,) = rows_of(page, "Corrections")
    assert row[:6] == ["2026-01-14 09:00", "weight of A", "999 g", "333 g", "Ann", "Ben"]
    assert ["Pauses", "none"] in rows_of(page, "Deviations")
    assert ["Corrections", "1 reading was corrected"] in rows_of(page, "Deviations")
    assert [words_of(each) for each in every(page, "del")] == ["999.0 g", "999 g"]


def test_an_alarm_stands_with_what_was_done_and_marks_the_time_axis(tmp_path: Path) -> None:
    log = (
        a_batch()
        .event(50.0, "alarm", "P4-1", "2")
        .event(51.5, "seen", "P4-1", "2")
        .event(53.0, "returned", "P4-1", "2")
    )
    page = parsed(made(written(tmp_path, log)))
    (row,) = rows_of(page, "Alarms")
    assert row[:3] == ["P4-1", "2", "2026-01-07 08:00"]
    assert row[4] == "3.0"
    assert "seen by Ann after 1.5 h" in row[5]
    climate = next(drawings(page, "wide"))
    assert "P4-1" in words_of(climate)


@pytest.mark.parametrize("where", ["note", "piece", "actor", "instrument", "value", "title", "batch", "stage", "alarm"])
def test_nothing_of_a_file_becomes_part_of_the_page(tmp_path: Path, where: str) -> None:
    log = a_batch()
    said: dict[str, str] = {where: EVIL} if where in {"note", "piece", "actor", "instrument"} else {}
    log.reading(20.0, "look", EVIL if where == "value" else "dry", **said)
    if where in said:
        log.reading(21.0, "ph", 5.4, **said).reading(22.0, "weight", 390.0, **said).reading(
            90.0, "weight", 380.0, **said
        )
    if where == "alarm":
        log.event(30.0, "alarm", EVIL, "1")

    def change(card: BatchCard) -> BatchCard:
        if where == "title":
            return replace(card, profile=replace(card.profile, title=EVIL))
        if where == "batch":
            return replace(card, batch=replace(card.batch, id=EVIL))
        stages = (*card.profile.stages[:3], replace(card.profile.stages[3], note=EVIL, name=EVIL))
        return replace(card, profile=replace(card.profile, stages=stages)) if where == "stage" else card

    if where == "stage":
        for row in log.climate:
            row["stage"] = EVIL if row["stage"] == "dry" else row["stage"]
    page = parsed(made(written(tmp_path, log, change=change)))
    assert not every(page, "script")
    assert not every(page, "img")
    assert all(not name.lower().startswith("on") for element in page.iter() for name in element.attrib)
    assert "alert(1)" in words_of(page), "it is told as the text it is"


def test_the_sums_are_those_of_the_files(tmp_path: Path) -> None:
    folder = written(tmp_path, a_batch())
    (folder / "report.html").write_text("an older one")
    (folder / "forecasts.csv").write_bytes(b"time\r\n")
    (tmp_path / "instruments.csv").write_bytes(b"id,time\r\n")
    told = {row[0]: row[1:] for row in rows_of(parsed(made(folder)), "The files")}
    assert set(told) == {*(path.name for path in folder.iterdir() if path.suffix != ".html"), "../../instruments.csv"}
    for name, (size, total) in told.items():
        path = folder / name
        said = subprocess.run(["sha256sum", str(path)], capture_output=True, text=True, check=True).stdout
        assert said.split()[0] == total
        assert size == str(path.stat().st_size)


def test_times_are_local_for_people_and_utc_in_the_data(tmp_path: Path) -> None:
    page = parsed(made(written(tmp_path, a_batch(), change=in_chamber(timezone="America/New_York"))))
    times = every(page, "time")
    assert len(times) > 20
    for time in times:
        utc = time.get("datetime") or ""
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", utc)
        local = dt.datetime.fromisoformat(utc).astimezone(ZoneInfo("America/New_York"))
        assert words_of(time) == local.strftime("%Y-%m-%d %H:%M")


def test_a_chamber_in_fahrenheit_gets_its_page_in_fahrenheit(tmp_path: Path) -> None:
    page = parsed(made(written(tmp_path, a_batch(), change=in_chamber(units="F"))))
    (ferment,) = [row for row in rows_of(page, "The climate of each stage") if row[0] == "ferment"]
    assert ferment[2:4] == ["75.2", "75.2 to 75.2"]
    visible = re.sub(r"10 to 54\.4 °C|\d+ °C·h", "", words_of(page))
    assert not re.search(r"\d °C\b(?!·)", visible)


def test_a_gap_is_seen_as_a_gap(tmp_path: Path) -> None:
    log = a_batch()
    log.climate = [row for row in log.climate if not "2026-01-08T00:00:00Z" < row["time"] <= "2026-01-09T12:00:00Z"]
    folder = written(tmp_path, log)
    page = parsed(made(folder))
    (gap,) = review(folder)["gaps"]
    assert f"for {gap['hours']:.1f} h" in dict(rows_of(page, "Deviations"))["Gaps in the climate record"]
    for paper in ("wide", "narrow"):
        climate = next(drawings(page, paper))
        hatched = [box for box in every(climate, "rect") if "-gap" in (box.get("fill") or "") and box.get("x") != "0"]
        assert len(hatched) == 2, "one in each plot"
        left = float(hatched[0].get("x") or "nan")
        right = left + float(hatched[0].get("width") or "nan")
        mean = [line for line in every(climate, "polyline") if line.get("stroke-width") == "1.4"]
        runs = [[float(point.split(",")[0]) for point in (line.get("points") or "").split()] for line in mean]
        assert len(runs) >= 4, "the line of each plot is broken"
        crossing = [run for run in runs if min(run) < left - 2 and max(run) > right + 2]
        assert crossing == []


def test_a_damaged_folder_gives_a_page_that_says_so(tmp_path: Path) -> None:
    folder = written(tmp_path, a_batch())
    day = folder / "climate-2026-01-07.csv"
    data = day.read_bytes()
    day.write_bytes(data[:900] + b"\0" * 300 + data[1200:-20])
    (folder / "events.csv").unlink()
    page = parsed(made(folder))
    said = dict(rows_of(page, "Deviations"))["Record damaged or missing"]
    figures = review(folder)
    assert figures["damaged_rows"] > 1
    assert all(sentence in said for sentence in figures["damage"])
    assert "events.csv is not there" in said
    assert "Meat hung" in words_of(page)


def test_a_folder_with_nothing_but_its_card_gives_a_page(tmp_path: Path) -> None:
    folder = written(tmp_path, Log())
    for path in folder.glob("*.csv"):
        path.unlink()
    page = parsed(made(folder))
    rows = {row[0]: row for row in rows_of(page, "The five figures")}
    assert rows["pH"][4] == "not measured"
    assert rows["Degree-hours"][4] == "not measured"
    assert rows["Weight loss"][4] == "not measured"


def test_a_batch_that_goes_on_says_so_and_what_is_forecast_of_it(tmp_path: Path) -> None:
    page = parsed(made(written(tmp_path, a_batch())))
    assert "made while the batch was going on" in words_of(page)
    assert "head -c BYTES FILE" in words_of(page)
    (drying,) = [each for each in drawings(page, "wide") if words_of(each).startswith("Weight loss")]
    assert re.search(r"Forecast, made afterwards .*: 35 % (between|on) 2026-", words_of(drying))
    over = a_batch()
    over.event(280.5, "end", "complete")
    done = parsed(made(written(tmp_path / "2", over)))
    assert "going on" not in words_of(done)
    assert "head -c" not in words_of(done)


def test_the_forecasts_that_were_told_are_drawn_before_any_other(tmp_path: Path) -> None:
    folder = written(tmp_path, a_batch())
    head = "time,kind,target,unit,basis,readings,q10,q25,q50,q75,q90,p_never,measure_next,text\r\n"
    days = ",".join(f"2026-02-{day:02d}T00:00:00Z" for day in (1, 2, 3, 4, 5))
    line = f"2026-01-12T00:00:00Z,weight_loss,35,%,readings,3,{days},0.000,,words\r\n"
    (folder / "forecasts.csv").write_bytes((head + line).encode())
    said = words_of(parsed(made(folder)))
    assert "Forecast, told at 2026-01-12 00:00: 35 % between 2026-02-01 and 2026-02-05 (80 %)." in said
    assert "made afterwards" not in said


@pytest.mark.parametrize("paper", ["wide", "narrow"])
@pytest.mark.parametrize("grams", [258, 260, 263], ids=["above the bar", "on it", "below it"])
def test_the_name_of_a_piece_stands_clear_of_the_forecasts_bar(tmp_path: Path, grams: int, paper: str) -> None:
    log = a_batch().reading(279.5, "weight", grams, piece="A", instrument="scale", unit="g", actor="Ann")
    folder = written(tmp_path, log)
    head = "time,kind,target,unit,basis,readings,q10,q25,q50,q75,q90,p_never,measure_next,text\r\n"
    days = ",".join(f"2026-01-{day}T00:00:00Z" for day in (15, 16, 17, 18, 19))
    line = f"2026-01-12T00:00:00Z,weight_loss,35,%,readings,3,{days},0.000,,words\r\n"
    (folder / "forecasts.csv").write_bytes((head + line).encode())
    (drying,) = [each for each in drawings(parsed(made(folder)), paper) if words_of(each).startswith("Weight loss")]
    (bar,) = [each for each in every(drying, "polyline") if each.get("stroke-width") == "4"]
    (from_x, bar_y), (to_x, _) = [[float(part) for part in at.split(",")] for at in (bar.get("points") or "").split()]
    (name,) = [each for each in every(drying, "text") if words_of(each) == "A" and each.get("font-weight") == "bold"]
    x, foot, size = (float(name.get(key) or "nan") for key in ("x", "y", "font-size"))
    assert from_x < x < to_x
    assert foot < bar_y - 2.0 or foot - 0.75 * size > bar_y + 2.0  # A capital is about 0.72 of its size high.


def test_the_page_needs_nothing_from_anywhere_and_no_name_stands_twice(tmp_path: Path) -> None:
    text = made(written(tmp_path, a_batch(), sheet_of()))
    page = parsed(text)
    assert not every(page, "script")
    assert not every(page, "link")
    names = [element.get("id") for element in page.iter() if element.get("id")]
    assert len(names) == len(set(names))
    for element in page.iter():
        for key, value in element.attrib.items():
            if key in {"src", "href", "data"} or key.endswith("href"):
                assert value.startswith("#")
                assert value[1:] in names
            if key in {"aria-labelledby", "aria-describedby"}:
                assert set(value.split()) <= set(names)
            assert "url(" not in value or value[5:-1] in names, "a pattern of the same page"
    assert "@import" not in text
    assert "url(" not in "".join(every(page, "style")[0].itertext())


def test_each_picture_has_words_and_a_table_beside_it(tmp_path: Path) -> None:
    page = parsed(made(written(tmp_path, a_batch())))
    titles = []
    for paper in ("wide", "narrow"):
        for drawing in drawings(page, paper):
            assert drawing.get("role") == "img"
            (title,), (desc,) = every(drawing, "title"), every(drawing, "desc")
            assert drawing.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
            assert len(words_of(desc)) > 20
            titles.append(words_of(title))
    assert titles[: len(titles) // 2] == titles[len(titles) // 2 :]
    assert len(titles) == 2 * 4
    for table in every(page, "table"):
        assert every(table, "caption")
        assert {cell.get("scope") for cell in every(table, "th")} == {"col", "row"}


def test_the_core_of_a_cooked_batch_has_a_picture_of_its_own(tmp_path: Path) -> None:
    page = parsed(made(written(tmp_path, cooked([(23.0, 50.0), (23.5, 69.0), (25.5, 20.0)]), change=to_cooked)))
    drawing = next(each for each in drawings(page, "wide") if words_of(each).startswith("Core temperature"))
    assert "hottest 69.0 °C. The profile cooks to 68.0 °C" in words_of(drawing)
    heights = [float(mark.get("cy") or "nan") for mark in every(drawing, "circle")][:3]
    assert heights[1] < heights[0] < heights[2], "warmer is higher"
    assert [row[2] for row in rows_of(page, "The core temperatures")] == ["50.0", "69.0", "20.0"]
    (figure,) = [row for row in rows_of(page, "The five figures") if row[0].startswith("Kill step")]
    assert figure[1].startswith("hottest core 69.0 °C")
    assert figure[4] == {"met": "met", "not met": "NOT MET", "not measured": "not measured"}[verdict_of_kill(tmp_path)]


def to_cooked(card: BatchCard) -> BatchCard:
    return replace(card, profile=COOKED)


def verdict_of_kill(tmp_path: Path) -> str:
    parts = release(tmp_path / "batches" / NAME)["criteria"]
    return str(next(part["verdict"] for part in parts if part["name"] == "lethality"))


def test_no_line_says_that_it_may_be_eaten_and_every_usual_caution_is_there(tmp_path: Path) -> None:
    said = words_of(parsed(made(written(tmp_path, a_batch(), sheet_of()))))
    assert not re.search(r"\b(un)?safe(ly|ty)?\b", said, re.IGNORECASE)
    assert "does not say that the sausage may be eaten" in said
    for word in ("Botulism", "toxin", "Listeria", "Trichinella", "Mould", "Nitrite", "authority", "9 CFR 417.5"):
        assert word in said
    assert said.count("NameSignatureDate") == 2, "room for two people"
    assert "Hangroom 1.2.3" in said
