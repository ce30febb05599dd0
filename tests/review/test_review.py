"""A review says what the folder shows: every figure beside the same one counted another way."""

import csv
import json
import math
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.errors import NoInputError
from controller.review.batch import read_batch
from controller.review.figures import review
from controller.review.page import page
from tests.helpers.batch_logs import HOUR_S, Log, text_of
from tests.helpers.recorded import NAME, PROFILE, WALL_S

EXAMPLES = Path(__file__).parents[1] / "data" / "degree_hours_examples.csv"


def examples() -> list[dict[str, str]]:
    """Return the worked examples of both authorities; the rows name their sources."""
    lines = [line for line in EXAMPLES.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def celsius(value: float, unit: str) -> float:
    return (value - 32.0) / 1.8 if unit == "F" else value


def ferment_of(tmp_path: Path, log: Log) -> dict[str, Any]:
    figures: dict[str, Any] = review(log.write(tmp_path / "b"))["ferment"]
    return figures


@pytest.mark.parametrize("row", examples(), ids=lambda row: row["id"])
def test_the_worked_examples_come_out_of_logs_as_they_were_published(tmp_path: Path, row: dict[str, str]) -> None:
    log, hours = Log().event(0.0, "hang"), 0.0
    for step in row["steps"].split(";"):
        degrees, lasts_h = step.removesuffix("h").split(" x ")
        log.minutes(hours, hours + float(lasts_h), celsius(float(degrees), row["unit"]))
        hours += float(lasts_h)
    ferment = ferment_of(tmp_path, log.reading(hours, "ph", 5.3))
    unit = row["unit"].lower()
    assert ferment[f"degree_hours_{unit}"] == pytest.approx(float(row["total_degree_hours"]), abs=0.5)
    assert ferment[f"limit_{unit}"] == float(row["limit"])
    assert ferment["hours_to_ph_5_3"] == float(row["hours_to_ph_5_3"])
    assert celsius(float(row["highest_temp"]), row["unit"]) == pytest.approx(ferment["highest_air_temp_c"], abs=6e-4)
    verdict = ferment["verdict_us" if unit == "f" else "verdict_canada"]
    assert verdict == ("within" if row["result"] == "pass" else "over")


def by_hand(log: Log, from_h: float, to_h: float, base_c: float) -> float:
    """Return the degree-hours in °C·h by trapezoids of one second between the rows."""
    points = [((i + 1) / 60.0, float(row["air_temp_c"])) for i, row in enumerate(log.climate)]
    total = 0.0
    for (at_h, a_c), (next_h, b_c) in pairwise(points):
        for second in range(60):
            middle = (second + 0.5) / 60.0
            if from_h < at_h + middle * (next_h - at_h) < to_h:
                total += max(0.0, a_c + (b_c - a_c) * middle - base_c) / HOUR_S
    return total


def test_a_wavy_ferment_equals_the_sum_by_seconds(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 8.0, lambda hours: round(16.0 + 12.0 * math.sin(hours * 1.7), 3))
    log.event(1.0, "hang").reading(6.5, "ph", 5.29)
    ferment = ferment_of(tmp_path, log)
    assert ferment["degree_hours_c"] == pytest.approx(by_hand(log, 1.0, 6.5, 15.6), abs=0.06)
    assert ferment["degree_hours_f"] == pytest.approx(1.8 * by_hand(log, 1.0, 6.5, 28.0 / 1.8), abs=0.06)
    waves = [float(row["air_temp_c"]) for row in log.climate[60:390]]
    assert ferment["highest_air_temp_c"] == max(waves)


def test_counting_begins_at_hanging_and_ends_at_the_first_reading_at_5_3(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 2.0, 45.0, stage="warm").minutes(2.0, 20.0, 25.6).event(2.0, "hang")
    log.reading(6.0, "ph", 5.6).reading(12.0, "ph", 5.3).reading(14.0, "ph", 5.1)
    ferment = ferment_of(tmp_path, log)
    # The line from the last warm minute (45 °C) to the first of the ferment is the only thing above 10 degrees.
    assert ferment["degree_hours_c"] == pytest.approx(10.0 * 10.0 + 0.5 * 19.4 / 60.0, abs=0.05)
    assert (ferment["hours_to_ph_5_3"], ferment["verdict"], ferment["counted_from"]) == (10.0, "within", "hang")


def test_without_hanging_counting_begins_with_the_first_row_of_the_ferment(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 2.0, 25.6, stage="warm").minutes(2.0, 12.0, 25.6).reading(7.0, "ph", 5.2)
    ferment = ferment_of(tmp_path, log)
    assert (ferment["degree_hours_c"], ferment["counted_from"]) == (50.0, "first row")


def test_without_a_low_ph_the_verdict_is_open_until_the_limit_is_passed(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 60.0, 26.0)
    assert ferment_of(tmp_path, log)["verdict"] == "open"
    assert ferment_of(tmp_path, log.minutes(60.0, 70.0, 26.0))["verdict"] == "over"


def test_strips_end_no_counting(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 9.0, 25.0).reading(5.0, "ph", 5.0, instrument="strips 2")
    figures = review(log.write(tmp_path / "b"))
    assert (figures["ferment"]["verdict"], figures["ph"]["first"]) == ("open", None)


def test_a_gap_counts_with_its_warmer_neighbour_and_is_listed(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 5.0, 20.6).minutes(8.0, 10.0, 30.6).reading(10.0, "ph", 5.3)
    figures = review(log.write(tmp_path / "b"))
    gap_h = 3.0 + 1.0 / 60.0
    assert figures["gaps"] == [{"from": text_of(5.0), "to": text_of(8.0 + 1.0 / 60.0), "hours": round(gap_h, 3)}]
    expected = 5.0 * 5.0 + gap_h * 15.0 + (2.0 - 1.0 / 60.0) * 15.0
    assert figures["ferment"]["degree_hours_c"] == pytest.approx(expected, abs=0.05)


def test_minutes_without_a_good_temperature_count_like_a_gap_but_are_none(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 5.0, 20.6).minutes(5.0, 8.0, None).minutes(8.0, 10.0, 30.6)
    figures = review(log.reading(10.0, "ph", 5.3).write(tmp_path / "b"))
    assert figures["gaps"] == []
    assert figures["ferment"]["degree_hours_c"] == pytest.approx(25.0 + 5.0 * 15.0, abs=0.1)


def test_a_clock_that_went_back_counts_no_time_twice_and_none_less_than_once(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 5.0, 25.6).minutes(4.0, 9.0, 25.6)
    assert ferment_of(tmp_path, log)["degree_hours_c"] == pytest.approx(10.0 * 10.0, abs=0.06)


def test_the_guarded_figures_add_the_thermometers_error(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 60.0, 26.3).reading(60.0, "ph", 5.3)
    ferment = ferment_of(tmp_path, log)
    assert (ferment["degree_hours_c"], ferment["verdict"]) == (642.0, "within")
    assert (ferment["guarded"]["degree_hours_c"], ferment["guarded"]["verdict"]) == (672.0, "over")


def test_the_guarded_keys_stand_beside_and_the_verdict_of_the_contract_stays(tmp_path: Path) -> None:
    """FSIS Cooking Guideline (2021), Monitoring, Calibration, and Recordkeeping: a limit is set by the accuracy."""
    log = Log().event(0.0, "hang").minutes(0.0, 50.0, 26.3).reading(40.0, "ph", 5.3).reading(50.0, "ph", 5.25)
    ferment = ferment_of(tmp_path, log)
    assert (ferment["verdict"], ferment["hours_to_ph_5_3"], ferment["degree_hours_c"]) == ("within", 40.0, 428.0)
    assert (ferment["guarded_verdict"], ferment["hours_to_ph_5_3_guarded"]) == ("within", 50.0)
    assert ferment["guarded_degree_hours_c"] == pytest.approx(50.0 * (26.3 + 0.5 - 15.6), abs=0.06)
    assert (ferment["guarded_limit_c"], ferment["guarded_limit_f"]) == (665.0, 1200.0)
    assert ferment["rule"] == "both"
    left_pct = 100.0 * (1.0 - 50.0 * 11.2 / 665.0)
    us_left_pct = 100.0 * (1.0 - 50.0 * (26.8 * 1.8 + 32.0 - 60.0) / 1200.0)
    assert ferment["margin"]["left_pct"] == pytest.approx(min(left_pct, us_left_pct), abs=0.1)
    assert not ferment["margin"]["small"]


def test_the_guarded_verdict_is_open_where_the_meter_may_be_wrong(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 40.0, 26.3).reading(40.0, "ph", 5.26)
    ferment = ferment_of(tmp_path, log)
    assert (ferment["verdict"], ferment["guarded_verdict"]) == ("within", "open")
    assert ferment["hours_to_ph_5_3_guarded"] is None


def test_a_limit_by_the_highest_with_the_error_added_may_be_that_of_the_next_band(tmp_path: Path) -> None:
    ferment = ferment_of(tmp_path, Log().event(0.0, "hang").minutes(0.0, 10.0, 32.6).reading(10.0, "ph", 5.0))
    assert (ferment["limit_c"], ferment["guarded_limit_c"]) == (665.0, 555.0)
    assert (ferment["limit_f"], ferment["guarded_limit_f"]) == (1000.0, 1000.0)


def test_within_is_counted_from_the_first_arrival_after_hanging(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.0, 36.0, set_c=36.0).event(1.0, "hang")
    log.minutes(1.0, 3.0, 30.0, set_c=36.0)  # Cold meat: left out.
    log.minutes(3.0, 3.5, 35.5, set_c=36.0).minutes(3.5, 4.0, 36.501, set_c=36.0, rh_pct=80.9)
    (stage,) = review(log.write(tmp_path / "b"))["stages"]
    assert stage["arrived"] == text_of(3.0 + 1.0 / 60.0)
    assert (stage["rows"], stage["rows_counted"]) == (240, 60)
    assert stage["air_temp_c"]["within_pct"] == 50.0
    assert (stage["rh_pct"]["within_pct"], stage["rh_pct"]["at_least_pct"]) == (50.0, 50.0)
    assert (stage["air_temp_c"]["min"], stage["air_temp_c"]["max"]) == (30.0, 36.501)
    assert stage["air_temp_c"]["mean"] == pytest.approx((36.0 + 2 * 30.0 + 0.5 * 35.5 + 0.5 * 36.501) / 4.0, abs=1e-3)


def test_a_stage_that_never_got_there_has_no_share(tmp_path: Path) -> None:
    (stage,) = review(Log().minutes(0.0, 1.0, 30.0, set_c=36.0).write(tmp_path / "b"))["stages"]
    assert (stage["air_temp_c"]["within_pct"], stage["arrived"], stage["rows_counted"]) == (None, None, 0)


def whole_batch() -> Log:
    """Return a batch through all its stages, one of them elsewhere, that is complete and taken out."""
    log = Log().event(0.0, "start").event(0.5, "hang").event(0.5, "stage", "hang")
    log.minutes(0.0, 0.5, 36.0, stage="warm", heater_closings="10", humidifier_closings="0")
    log.minutes(0.5, 30.0, 36.0, heater_closings="50", humidifier_closings="7")
    log.event(30.0, "stage", "until").event(34.0, "stage", "until").event(300.0, "stage", "until")
    log.minutes(34.0, 300.0, 13.0, stage="dry", every_min=2.0, heater_closings="3", humidifier_closings="9")
    log.minutes(300.0, 301.0, 13.0, stage="", state="complete").event(301.0, "end", "complete")
    log.event(5.0, "alarm", "A2-1", "1").event(6.0, "alarm", "P1-1", "2").event(7.0, "returned", "P1-1", "2")
    log.event(8.0, "alarm", "P1-2", "2")
    log.reading(0.5, "weight", 400, piece="A").reading(0.5, "weight", 500, piece="B")
    log.reading(200.0, "weight", 300, piece="A").reading(200.0, "weight", 400, piece="B")
    log.reading(12.0, "ph", 5.4).reading(24.0, "ph", 4.8).reading(29.0, "ph", "4.85")
    return log


def test_stages_are_bounded_by_their_rows_and_those_elsewhere_by_the_diary(tmp_path: Path) -> None:
    figures = review(whole_batch().write(tmp_path / "b"))
    stages = {stage["name"]: stage for stage in figures["stages"]}
    assert list(stages) == ["warm", "ferment", "smoke", "dry"]
    assert [stages[name]["by"] for name in stages] == ["hang", "until", "until", "until"]
    bounds = {name: (stage["began"], stage["ended"]) for name, stage in stages.items()}
    assert bounds["warm"] == (text_of(0.0), text_of(0.5))
    assert bounds["ferment"] == (text_of(0.5), text_of(30.0))
    assert bounds["smoke"] == (text_of(30.0), text_of(34.0))
    assert bounds["dry"][1] == text_of(300.0)
    assert (stages["smoke"]["hours"], stages["smoke"]["where"]) == (4.0, "elsewhere")
    assert stages["ferment"]["switches"] == {"heater": 40, "humidifier": 7}
    assert stages["dry"]["switches"] == {"heater": 3, "humidifier": 2}  # The heater's counter began anew.


@pytest.mark.parametrize(
    ("duty_pct", "counter", "closings"),
    [
        ("99.00", "1", 1),  # On since the first minute: its counter stands at 1.
        ("99.00", "14", 1),  # The same, in a chamber that led batches before.
        ("0.00", "14", 0),
        ("", "14", 0),
        ("10.00", "0", 0),  # Nothing can have been switched on.
    ],
    ids=["first batch", "later batch", "off", "duty unknown", "counter at nothing"],
)
def test_a_lamp_that_was_on_in_the_first_row_was_switched_on_once(
    tmp_path: Path, duty_pct: str, counter: str, closings: int
) -> None:
    log = Log().minutes(0.0, 1.0, 30.0, stage="warm", heater_pct=duty_pct, heater_closings=counter)
    log.minutes(1.0, 2.0, 30.0, heater_pct=duty_pct, heater_closings=counter)
    warm, ferment = review(log.write(tmp_path / "b"))["stages"]
    assert (warm["switches"], ferment["switches"]) == ({"heater": closings}, {"heater": 0})


def test_a_whole_batch_has_every_key_of_the_contract_and_is_json(tmp_path: Path) -> None:
    figures = json.loads(json.dumps(review(whole_batch().write(tmp_path / "b")), allow_nan=False))
    # The design, section 4.
    contract = ["batch", "profile", "state", "stages", "ferment", "ph", "weight_loss_pct", "alarms", "gaps"]
    assert list(figures)[: len(contract)] == contract
    for stage in figures["stages"]:
        assert list(stage)[:8] == ["name", "kind", "began", "ended", "hours", "air_temp_c", "rh_pct", "switches"]
        assert list(stage["air_temp_c"]) == ["mean", "min", "max", "within_pct"]
    assert list(figures["ferment"])[:7] == (
        ["degree_hours_f", "limit_f", "degree_hours_c", "limit_c", "highest_air_temp_c", "hours_to_ph_5_3", "verdict"]
    )
    assert (figures["batch"], figures["profile"], figures["state"]) == (NAME, "bench", "complete")
    assert figures["ph"] == {"first": 5.4, "last": 4.85, "lowest": 4.8}
    assert figures["weight_loss_pct"] == 20.0  # B, the slower one.
    assert (figures["alarms"]["total"], figures["alarms"]["by_priority"]) == (3, {"1": 1, "2": 2})
    assert figures["gaps"] == []  # The smoke was elsewhere.


def test_a_batch_that_still_runs_has_an_open_stage(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 2.0, 36.0, stage="warm").event(2.0, "stage", "hang").minutes(2.0, 5.0, 36.0, state="held")
    figures = review(log.write(tmp_path / "b"))
    assert figures["state"] == "held"
    assert [(stage["ended"], stage["hours"]) for stage in figures["stages"]] == [(text_of(2.0), 2.0), (None, 3.0)]


def test_a_batch_that_is_elsewhere_now_has_an_open_stage_without_rows(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 2.0, 36.0, stage="warm").event(2.0, "stage", "hang").minutes(2.0, 5.0, 36.0)
    figures = review(log.event(5.0, "stage", "until").event(9.0, "note").write(tmp_path / "b"))
    last = figures["stages"][-1]
    assert (last["name"], last["began"], last["ended"], last["hours"]) == ("smoke", text_of(5.0), None, 4.0)
    assert last["air_temp_c"] == {"mean": None, "min": None, "max": None, "within_pct": None}


def test_a_batch_given_up_elsewhere_takes_its_state_from_the_diary(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 2.0, 36.0).event(9.0, "end", "aborted")
    assert review(log.write(tmp_path / "b"))["state"] == "aborted"


def test_corrections_replace_what_they_name_also_one_piece_of_several(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.0, 25.0).event(0.0, "hang")
    log.reading(0.1, "ph", 4.9, id="p1").reading(0.1, "ph", 5.9, id="p2", replaces="p1")
    log.reading(0.5, "ph", 5.7, id="p3", replaces="p2")  # A correction of a correction.
    log.reading(0.1, "weight", 400, piece="A", id="w1").reading(0.1, "weight", 50, piece="B", id="w1")
    log.reading(0.2, "weight", 500, piece="B", id="w2", replaces="w1")
    log.reading(0.9, "weight", 200, piece="A").reading(0.9, "weight", 400, piece="B")
    figures = review(log.write(tmp_path / "b"))
    assert figures["ph"] == {"first": 5.7, "last": 5.7, "lowest": 5.7}
    assert figures["ferment"]["verdict"] == "open"
    assert figures["weight_loss_pct"] == 20.0


def test_readings_count_by_the_time_they_were_taken_not_typed(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 30.0, 25.0).event(0.0, "hang").reading(20.0, "ph", 5.2).reading(10.0, "ph", 5.3)
    figures = review(log.write(tmp_path / "b"))
    assert figures["ph"]["first"] == 5.3
    assert figures["ferment"]["hours_to_ph_5_3"] == 10.0


def test_damaged_lines_are_skipped_and_counted(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.0, 25.0).reading(0.5, "ph", 5.6).reading(0.6, "ph", "wet").event(0.0, "hang")
    folder = log.write(tmp_path / "b")
    path = folder / "climate-2026-01-05.csv"
    lines = path.read_bytes().split(b"\r\n")
    lines[3] = lines[3][:30]
    lines[5] = b"\0" * 40
    lines[7] = lines[7].replace(b"25.000", b"2x.000")
    lines[9] = lines[9].replace(b"Z,", b",", 1)  # A time without its zone.
    path.write_bytes(b"\r\n".join(lines)[:-60])  # And a torn end.
    figures = review(folder)
    assert (figures["rows"], figures["damaged_rows"]) == (60 - 5, 6)
    assert figures["ph"]["first"] == 5.6


def test_what_is_damaged_or_missing_stands_on_top_of_the_page(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 1.0, 25.0).minutes(3.0, 4.0, 25.0).reading(0.5, "ph", 5.6).event(0.0, "hang")
    folder = log.write(tmp_path / "b")
    assert page(folder)[2:4] == ["RECORD: the climate of 2.0 h is missing, in 1 gap.", ""]
    path = folder / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b",5.6,", b",wet,"))
    assert page(folder)[2] == "RECORD: 1 row of readings.csv cannot be read and is left out."
    path.unlink()
    assert review(folder)["damage"][0] == "readings.csv is not there: nothing that was measured is known"
    for climate in folder.glob("climate-*.csv"):
        climate.unlink()
    assert "no row of climate-YYYY-MM-DD.csv is there: no climate is known" in review(folder)["damage"]
    assert page(Log().minutes(0.0, 1.0, 25.0).event(0.0, "start").write(tmp_path / "whole"))[2] == ""


def test_the_page_is_in_the_chambers_time_and_the_object_in_utc(tmp_path: Path) -> None:
    log = Log().minutes(0.0, 4.0, 25.0).event(0.0, "hang")
    folder = log.write(tmp_path / "b")
    card = folder / "recipe.toml"
    text = card.read_text("utf-8")
    assert 'timezone = "UTC"' in text
    card.write_text(text.replace('timezone = "UTC"', 'timezone = "America/Chicago"'), "utf-8")
    lines = page(folder)
    assert "Times are local (America/Chicago)." in lines[1]
    assert any(line.startswith("  ferment") and " 5 Jan 00:0" in line for line in lines)  # 06:00 UTC is midnight there.
    assert not any("UTC" in line for line in lines)
    assert review(folder)["stages"][0]["began"].startswith("2026-01-05T06:0")
    assert review(folder)["stages"][0]["began"].endswith("Z")


def test_columns_are_found_by_their_names_wherever_they_stand(tmp_path: Path) -> None:
    folder = Log().minutes(0.0, 1.0, 25.0).write(tmp_path / "b")
    path = folder / "climate-2026-01-05.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    columns = ["new_column", *reversed(rows[0])]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows({"new_column": 'with "quotes", commas', **row} for row in rows)
    assert review(folder)["stages"][0]["air_temp_c"]["mean"] == 25.0
    assert review(folder)["damaged_rows"] == 0


def test_an_empty_batch_has_nothing_to_say_and_no_error(tmp_path: Path) -> None:
    figures = review(Log().write(tmp_path / "b"))
    assert (figures["state"], figures["stages"], figures["gaps"]) == ("running", [], [])
    assert figures["ferment"]["verdict"] == "open"
    assert figures["ferment"]["limit_f"] is None


@pytest.mark.parametrize("make", [False, True], ids=["no folder", "no card"])
def test_what_is_no_batch_folder_is_said_in_a_line(tmp_path: Path, *, make: bool) -> None:
    if make:
        (tmp_path / "b").mkdir()
    with pytest.raises(NoInputError, match=r"/b"):
        review(tmp_path / "b")


def test_a_month_is_reviewed_in_a_second_and_a_half(tmp_path: Path) -> None:
    log = Log().event(0.5, "hang").minutes(0.0, 720.0, 36.0, set_c=36.0)
    folder = log.write(tmp_path / "b")
    began_s = time.process_time()
    figures = review(folder)
    took_s = time.process_time() - began_s
    assert figures["rows"] == 43_200
    assert took_s < 1.5


def test_the_page_fits_80_columns_and_never_calls_anything_safe(tmp_path: Path) -> None:
    folder = whole_batch().write(tmp_path / "b")
    lines = page(folder)
    assert max(len(line) for line in lines) <= 80
    text = "\n".join(lines)
    for words in ("29.5 h", "meat hung", "State: complete", "US ", "pH 5.3 after 23.5 h"):
        assert words in text
    assert "safe" not in text.lower()


def test_a_ferment_over_its_limit_says_what_to_do(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 80.0, 36.0).reading(80.0, "ph", 5.3)
    text = " ".join(" ".join(page(log.write(tmp_path / "b"))).split())
    assert "OVER the limit: do not taste; hold the batch; a laboratory test and a competent person decide" in text


def test_rows_come_in_the_order_of_the_days(tmp_path: Path) -> None:
    record = read_batch(Log().minutes(0.0, 50.0, 25.0).write(tmp_path / "b"))
    assert len(list(record.folder.glob("climate-*.csv"))) == 3
    assert [row.time_s for row in record.rows] == [WALL_S + 60.0 * n for n in range(1, 3001)]


def test_two_stages_of_the_same_kind_are_kept_apart(tmp_path: Path) -> None:
    stages = (*PROFILE.stages[:2], replace(PROFILE.stages[3], name="dry 1"), replace(PROFILE.stages[3], name="dry 2"))
    log = Log().minutes(0.0, 1.0, 13.0, stage="dry 1").minutes(1.0, 3.0, 13.0, stage="dry 2")
    figures = review(log.write(tmp_path / "b", replace(PROFILE, stages=stages)))
    assert [(stage["name"], stage["hours"]) for stage in figures["stages"]] == [("dry 1", 1.0), ("dry 2", 2.0)]
