"""The release sheet says what was measured beside what is asked, and of nothing more than was measured."""

import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.cli.pages.release_page import tell_release
from controller.core.plan import Stage, Until
from controller.errors import NoInputError
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Meat, formulate
from controller.food.bowl.weighing import Wanted
from controller.food.germs.chilling import RAPID
from controller.records.batch_folder import read_card
from controller.review.figures import review
from controller.review.release import release
from tests.helpers.batch_logs import Log
from tests.helpers.recorded import PROFILE
from tests.helpers.sheets import ALL, BEEF, PORK, sheet_of

COOKED = replace(
    PROFILE,
    style="cooked",
    cure="1",
    stages=(
        *PROFILE.stages[:3],
        Stage(name="cook", kind="cook", where="elsewhere", until=Until(core_temp_c=68.0, confirm=True)),
        Stage(name="chill", kind="chill", where="elsewhere", until=Until(confirm=True)),
        Stage(name="dry", kind="dry", until=Until(weight_loss_pct=20.0), air_temp_c=13.0, rh_pct=78.0),
    ),
)
DAY_H = 24.0


def raw(
    ph: float = 4.8, air_c: float = 24.0, ferment_h: float = 40.0, dry_days: float = 5.0, dry_c: float = 13.0
) -> Log:
    """Tell of a raw sausage: hung, fermented to this pH, dried in rows of ten minutes."""
    end_h = ferment_h + DAY_H * dry_days
    return (
        Log(every_s=600.0)
        .event(0.0, "hang")
        .minutes(0.0, ferment_h, air_c, stage="ferment", set_c=air_c, every_min=10.0)
        .event(ferment_h, "stage", "until")
        .event(ferment_h, "stage", "until")
        .event(ferment_h + 0.1, "stage", "until")
        .minutes(ferment_h + 0.2, end_h, dry_c, stage="dry", set_c=dry_c, every_min=10.0)
        .reading(0.1, "weight", 400, piece="A", instrument="scale")
        .reading(0.1, "weight", 420, piece="B", instrument="scale")
        .reading(ferment_h - 0.5, "ph", ph, instrument="meter 1")
        .reading(ferment_h - 0.4, "ph", ph, instrument="meter 1", note="sample: sausage")
    )


def cooked(core: list[tuple[float, float]], ph: float = 4.8) -> Log:
    """Tell of a sausage that was cooked and chilled elsewhere: (hours after hanging, °C) of its core."""
    log = (
        Log(every_s=120.0)
        .event(0.0, "hang")
        .minutes(0.0, 20.0, 36.0, stage="ferment", set_c=36.0, every_min=2.0)
        .event(0.0, "stage", "hang")
    )
    log.reading(19.5, "ph", ph, instrument="meter 1").reading(19.6, "ph", ph, note="sample: sausage")
    for at_h in (20.0, 22.0, 25.0, 32.0):
        log.event(at_h, "stage", "until")
    for at_h, temp_c in core:
        log.reading(at_h, "core_temp", temp_c, instrument="probe")
    return log.minutes(32.0, 40.0, 13.0, stage="dry", set_c=13.0, every_min=2.0)


def sheet(tmp_path: Path, log: Log, **given: Any) -> dict[str, Any]:  # noqa: ANN401 - profile and plan
    return release(log.write(tmp_path / "b", **given))


def part(made: dict[str, Any], name: str) -> dict[str, Any]:
    [found] = [each for each in made["criteria"] if each["name"] == name]
    return dict(found)


def line(made: dict[str, Any], name: str, what: str) -> dict[str, Any]:
    [found] = [each for each in part(made, name)["lines"] if each["what"].startswith(what)]
    return dict(found)


def verdicts(made: dict[str, Any]) -> dict[str, str]:
    return {each["name"]: each["verdict"] for each in made["criteria"]}


# What was measured, and what was not.


def test_of_an_empty_folder_nothing_is_measured_and_nothing_is_met(tmp_path: Path) -> None:
    made = sheet(tmp_path, Log())
    assert set(verdicts(made).values()) == {"not measured"}
    assert made["counts"] == {"met": 0, "not met": 0, "not measured": 6}
    assert all(each["found"] is None or "not" in each["found"] for p in made["criteria"] for each in p["lines"])


def test_the_ph_counts_with_the_meters_error_and_apart_from_a_real_sausage(tmp_path: Path) -> None:
    made = sheet(tmp_path, raw(ph=5.2))
    assert verdicts(made)["ph"] == "met"
    assert line(made, "ph", "pH after")["found"].startswith("5.20 + 0.05, meter 1, 2026-01-06 21:30")
    assert line(made, "ph", "pH of a real")["found"].endswith("2026-01-06 21:36")
    assert sheet(tmp_path, raw(ph=5.28))["criteria"][0]["verdict"] == "not met"  # 5.28 + 0.05 is 5.33.


def test_without_a_ph_of_a_real_sausage_the_ph_is_not_measured(tmp_path: Path) -> None:
    log = raw()
    log.readings.pop()
    made = sheet(tmp_path, log)
    assert line(made, "ph", "pH after")["verdict"] == "met"
    assert line(made, "ph", "pH of a real")["verdict"] == "not measured"
    assert verdicts(made)["ph"] == "not measured"


def test_a_sausages_ph_of_weeks_later_is_none_of_the_ferment(tmp_path: Path) -> None:
    log = raw()
    log.readings.pop()
    log.reading(150.0, "ph", 5.0, instrument="meter 1", note="sample: sausage")
    assert line(sheet(tmp_path, log), "ph", "pH of a real")["verdict"] == "not measured"
    risen = raw().reading(150.0, "ph", 5.4, instrument="meter 1", note="sample: sausage")
    assert line(sheet(tmp_path, risen), "ph", "pH of a real")["verdict"] == "met"


def test_strips_prove_nothing(tmp_path: Path) -> None:
    log = raw()
    log.readings = [row | ({"instrument": "strips"} if row["kind"] == "ph" else {}) for row in log.readings]
    made = sheet(tmp_path, log)
    assert verdicts(made)["ph"] == "not measured"
    assert "2 by strips: noted, and counted for nothing." in part(made, "ph")["notes"]


def test_the_meters_last_check_stands_beside_its_reading(tmp_path: Path) -> None:
    log = raw()
    assert line(sheet(tmp_path, log), "ph", "check")["verdict"] == "not measured"
    log.event(38.0, "check")
    log.events[-1]["text"] = (
        "meter 1: slope 98.1 % of the Nernst slope at 20 °C: good. A reading may be off by 0.03 pH."
    )
    checked = line(sheet(tmp_path, log), "ph", "check")
    assert checked["verdict"] == "met"
    assert "2026-01-06 20:00" in checked["found"]
    assert "98.1 %" in checked["found"]


def test_a_ph_that_rose_while_ripening_is_no_fault(tmp_path: Path) -> None:
    log = raw(ph=4.8).reading(150.0, "ph", 5.45, instrument="meter 1")
    made = sheet(tmp_path, log)
    assert line(made, "ph", "pH after")["verdict"] == "met"
    assert any(note.startswith("Last reading of all: 5.45") for note in part(made, "ph")["notes"])
    assert any("rises again" in note for note in part(made, "ph")["notes"])


def test_degree_hours_are_those_of_the_review_plain_and_guarded(tmp_path: Path) -> None:
    folder = raw(ph=5.2).write(tmp_path / "b")
    made, ferment = release(folder), review(folder)["ferment"]
    assert line(made, "degree-hours", "US, as measured")["found"] == f"{ferment['degree_hours_f']:.0f} °F·h"
    assert line(made, "degree-hours", "Canada, as measured")["found"] == f"{ferment['degree_hours_c']:.0f} °C·h"
    guarded = line(made, "degree-hours", "US, with")
    assert guarded["found"] == f"{ferment['guarded_degree_hours_f']:.0f} °F·h"
    assert guarded["confirm"]
    assert verdicts(made)["degree-hours"] == "met"


def test_over_the_limit_the_batch_is_to_be_held_and_a_laboratory_is_named(tmp_path: Path) -> None:
    made = sheet(tmp_path, raw(air_c=30.0, ferment_h=70.0))  # 14.4 K for 69.5 h is 1001 °C·h of 665.
    assert verdicts(made)["degree-hours"] == "not met"
    assert any("do not taste; hold the batch" in note for note in part(made, "degree-hours")["notes"])
    assert any("E. coli O157:H7" in each["what"] for each in made["decides"] if each["who"] == "a laboratory")


def test_a_ferment_that_still_runs_leaves_them_open(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 10.0, 24.0).reading(9.0, "ph", 5.7)
    made = sheet(tmp_path, log)
    assert made["state"] == "running"
    assert verdicts(made)["degree-hours"] == "not measured"
    assert "so far" in line(made, "degree-hours", "US, as")["found"]
    assert verdicts(made)["ph"] == "not met"


def test_only_the_rule_in_force_is_set_out(tmp_path: Path) -> None:
    folder = raw().write(tmp_path / "b")
    card = (folder / "recipe.toml").read_text("utf-8")
    (folder / "recipe.toml").write_text(card.replace('degree_hours_rule = "both"', 'degree_hours_rule = "canada"'))
    made = release(folder)
    assert {each["what"].split(",")[0] for each in part(made, "degree-hours")["lines"]} == {"Canada"}
    assert made["authority"] == "canada"


def test_the_slowest_piece_counts_and_one_that_left_is_told(tmp_path: Path) -> None:
    log = raw().reading(150.0, "weight", 240, piece="A", note="out").reading(160.0, "weight", 273, piece="B")
    made = sheet(tmp_path, log)
    assert verdicts(made)["weight-loss"] == "met"
    assert line(made, "weight-loss", "weight loss")["found"] == "35.0 %, B, the slowest of 2"
    assert part(made, "weight-loss")["notes"] == ["By piece: A: 40.0 %, out 2026-01-11 12:00; B: 35.0 %."]
    log.readings[-1]["value"] = "274"
    assert verdicts(sheet(tmp_path, log))["weight-loss"] == "not met"


def test_a_piece_that_hangs_still_and_was_not_weighed_again_leaves_the_loss_open(tmp_path: Path) -> None:
    log = raw().reading(160.0, "weight", 240, piece="A")
    made = sheet(tmp_path, log)
    assert verdicts(made)["weight-loss"] == "not measured"
    found = line(made, "weight-loss", "weight loss")["found"]
    assert found == "40.0 %, A, the slowest of 1; B not weighed since 2026-01-05 06:06"
    log.reading(161.0, "weight", 420, piece="B", note="out")  # It fell down: taken out, its last weight is repeated.
    made = sheet(tmp_path, log)
    assert verdicts(made)["weight-loss"] == "met"
    assert part(made, "weight-loss")["notes"] == ["By piece: A: 40.0 %; B: out 2026-01-11 23:00, not weighed."]
    short = raw().reading(160.0, "weight", 300, piece="A")  # One that is known to be short is enough.
    assert verdicts(sheet(tmp_path, short))["weight-loss"] == "not met"


def test_an_estimate_stands_apart_and_meets_nothing(tmp_path: Path) -> None:
    log = raw().reading(160.0, "weight", 220, piece="A").reading(160.0, "weight", 231, piece="B")
    made = sheet(tmp_path, log)
    water = part(made, "water-activity")
    assert water["verdict"] == "not measured"
    assert "Estimates meet no criterion" in water["estimates"][0]
    assert not any("Estimated" in (each["found"] or "") for each in water["lines"])


def test_a_measured_water_activity_is_set_beside_the_makers_authority(tmp_path: Path) -> None:
    log = raw(ph=4.95).reading(160.0, "water_activity", 0.935, instrument="laboratory")
    eu = sheet(tmp_path, log, sheet=sheet_of(authority="eu"))
    assert verdicts(eu)["water-activity"] == "met"  # pH 5.0 and aw 0.94.
    assert {each["source"].split(",")[0] for each in part(eu, "water-activity")["lines"]} == {
        "",
        "Regulation (EC) 2073/2005",
    }
    canada = sheet(tmp_path, log, sheet=sheet_of(authority="canada"))
    assert verdicts(canada)["water-activity"] == "not met"  # None of pH 4.6, aw 0.85, or 5.3 with 0.90.
    assert line(canada, "water-activity", "salt")["verdict"] == "met"
    us = sheet(tmp_path, log, sheet=sheet_of())
    assert verdicts(us)["water-activity"] == "not measured"  # FSIS goes by moisture to protein, which nobody measured.
    beside = [each for each in part(us, "water-activity")["lines"] if each["what"].startswith("meat product")]
    assert [(each["verdict"], each["counts"]) for each in beside] == [("met", False), ("not met", False)]  # Leistner.
    assert "Class after Leistner and Roedel: shelf stable." in part(us, "water-activity")["notes"]


def test_of_several_measured_pieces_the_wettest_counts(tmp_path: Path) -> None:
    log = raw(ph=5.1).reading(160.0, "water_activity", 0.97).reading(161.0, "water_activity", 0.90)
    made = sheet(tmp_path, log, sheet=sheet_of(authority="eu"))
    assert line(made, "water-activity", "water activity")["found"].startswith("0.970")
    assert verdicts(made)["water-activity"] == "not met"


def test_a_piece_that_was_measured_again_counts_by_its_newest(tmp_path: Path) -> None:
    log = (
        raw(ph=5.1).reading(160.0, "water_activity", 0.95, piece="A").reading(400.0, "water_activity", 0.90, piece="A")
    )
    log.reading(400.0, "water_activity", 0.915, piece="B")
    made = sheet(tmp_path, log, sheet=sheet_of(authority="eu"))
    assert line(made, "water-activity", "water activity")["found"].startswith("0.915")
    assert verdicts(made)["water-activity"] == "met"


def test_what_canada_asks_first_and_was_not_met_wins_over_what_was_not_measured(tmp_path: Path) -> None:
    late = raw(ph=4.5, air_c=30.0, ferment_h=70.0)  # Over the degree-hours, and no water activity.
    made = sheet(tmp_path, late, sheet=sheet_of(authority="canada"))
    assert verdicts(made)["water-activity"] == "not met"


def test_a_corrected_reading_counts_and_what_it_replaced_does_not(tmp_path: Path) -> None:
    log = raw().reading(160.0, "water_activity", 0.97, instrument="laboratory")
    log.reading(160.0, "water_activity", 0.90, instrument="laboratory", replaces=log.readings[-1]["id"])
    made = sheet(tmp_path, log, sheet=sheet_of(authority="eu"))
    assert line(made, "water-activity", "water activity")["found"].startswith("0.900")


# Heat and cold.

GOOD_COOK = [(22.5, 40.0), (23.0, 58.0), (23.5, 66.0), (24.0, 69.0), (24.3, 69.0)]
GOOD_CHILL = [(25.0, 50.0), (25.4, 26.0), (27.0, 12.0), (29.0, 4.0)]


def test_a_cook_is_reckoned_from_the_typed_core_with_and_without_the_probes_error(tmp_path: Path) -> None:
    made = sheet(tmp_path, cooked(GOOD_COOK + GOOD_CHILL), profile=COOKED)
    assert verdicts(made)["lethality"] == "met"
    assert line(made, "lethality", "cook, as measured")["found"] == "at least 6.5 log, hottest 69.0 °C"
    assert line(made, "lethality", "come-up")["found"].startswith("the degree-hours of the ferment were met")
    assert any("54.4 °C" in note for note in part(made, "lethality")["notes"])


def test_a_cook_on_the_edge_of_a_row_is_not_met_once_the_probes_error_is_taken_off(tmp_path: Path) -> None:
    edge = [(23.0, 60.0), (23.0 + 12.5 / 60.0, 60.0)]  # 140 °F for 12.5 of 12 min.
    made = sheet(tmp_path, cooked(edge), profile=COOKED)
    assert line(made, "lethality", "cook, as measured")["verdict"] == "met"
    assert line(made, "lethality", "cook, with 0.5 K")["verdict"] == "not met"
    assert verdicts(made)["lethality"] == "not met"


def test_of_several_pieces_the_coldest_counts(tmp_path: Path) -> None:
    log = cooked(GOOD_COOK)
    for row in log.readings:
        row["piece"] = "A" if row["kind"] == "core_temp" else row["piece"]
    log.reading(24.0, "core_temp", 55.0, piece="B").reading(24.3, "core_temp", 56.0, piece="B")
    made = sheet(tmp_path, log, profile=COOKED)
    assert ", B, hottest 56.0 °C" in line(made, "lethality", "cook, as")["found"]
    assert verdicts(made)["lethality"] == "not met"


def test_a_gap_in_the_fixed_probes_log_kills_nothing(tmp_path: Path) -> None:
    here = tuple(
        replace(stage, where="chamber") if stage.kind in {"cook", "chill"} else stage for stage in COOKED.stages
    )
    log = Log().event(0.0, "hang").minutes(0.0, 1.0, 36.0, core_temp_c="20.000")
    for at_h in (0.0, 1.0, 2.0):
        log.event(at_h, "stage", "until")
    log.minutes(2.0, 2.05, 62.0, stage="cook", core_temp_c="57.300")
    log.minutes(5.0, 5.05, 62.0, stage="cook", core_temp_c="57.300")
    made = sheet(tmp_path, log, profile=replace(COOKED, stages=here))
    assert line(made, "lethality", "cook, as")["verdict"] == "not measured"
    assert line(made, "lethality", "cook, as")["found"].endswith("3 h without a record")


def test_a_hold_of_days_is_not_shown_by_two_readings_or_by_the_ends_of_a_log(tmp_path: Path) -> None:
    hold = Stage(name="hold", kind="cook", where="elsewhere", until=Until(confirm=True))
    plan = sheet_of(PORK, BEEF, kill_step="90f-4.6-55mm-hold-6d")

    def verdict(log: Log, stage: Stage) -> str:
        log.event(166.0, "stage", "until")
        profile = replace(PROFILE, stages=(PROFILE.stages[1], stage, PROFILE.stages[3]))
        made = sheet(tmp_path, log, profile=profile, sheet=plan)
        return str(line(made, "lethality", "heat or hold, with 0.5 K")["verdict"])

    def fermented() -> Log:
        log = Log(every_s=300.0).event(0.0, "hang").minutes(0.0, 20.0, 33.0, every_min=5.0)
        return log.event(20.0, "stage", "until").reading(19.6, "ph", 4.5, note="sample: sausage")

    typed, often = fermented(), fermented()
    typed.reading(20.5, "smoker_temp", 33.0).reading(165.5, "smoker_temp", 33.0)
    assert verdict(typed, hold) == "not measured"
    for count in range(15):
        often.reading(20.5 + 10.5 * count, "smoker_temp", 33.0)
    assert verdict(often, hold) == "met"
    here = replace(hold, where="chamber", air_temp_c=33.0, rh_pct=85.0)
    cut = fermented().minutes(20.0, 26.0, 33.0, stage="hold", every_min=5.0)
    cut.minutes(160.0, 166.0, 33.0, stage="hold", every_min=5.0)
    assert verdict(cut, here) == "not measured"
    whole = fermented().minutes(20.0, 165.0, 33.0, stage="hold", every_min=5.0)
    assert verdict(whole, here) == "met"


def test_a_cook_after_a_drying_does_not_meet_the_table_for_moist_meat(tmp_path: Path) -> None:
    dry = Stage(name="dry", kind="dry", until=Until(weight_loss_pct=20.0), air_temp_c=13.0, rh_pct=78.0)
    profile = replace(COOKED, stages=(PROFILE.stages[1], dry, COOKED.stages[3]))
    log = Log(every_s=600.0).event(0.0, "hang").minutes(0.0, 20.0, 36.0, every_min=10.0)
    log.event(20.0, "stage", "until").minutes(20.0, 200.0, 13.0, stage="dry", every_min=10.0)
    log.event(200.0, "stage", "until").event(205.0, "stage", "until")
    log.reading(203.0, "core_temp", 71.0).reading(203.2, "core_temp", 71.0)
    made = sheet(tmp_path, log, profile=profile)
    assert verdicts(made)["lethality"] == "not met"
    assert line(made, "lethality", "not dried before")["found"] == "dry came before cook"


def test_a_core_that_is_still_too_cool_after_six_hours_has_not_come_up(tmp_path: Path) -> None:
    slow = [(20.0, 8.0), (22.0, 30.0), (24.0, 45.0), (26.0, 50.0), (29.0, 52.0)]
    made = sheet(tmp_path, cooked(slow, ph=5.6), profile=COOKED)  # The degree-hours are open.
    assert line(made, "lethality", "come-up")["verdict"] == "not met"
    assert line(made, "lethality", "come-up")["found"] == "9 h so far, and still below"


def test_a_piece_that_was_read_in_the_chill_alone_tells_nothing_of_the_cook(tmp_path: Path) -> None:
    log = cooked([])
    for at_h, temp_c in GOOD_COOK:
        log.reading(at_h, "core_temp", temp_c, piece="A")
    for at_h, temp_c in GOOD_CHILL[1:]:
        log.reading(at_h, "core_temp", temp_c, piece="B")
    made = sheet(tmp_path, log, profile=COOKED)
    assert verdicts(made)["lethality"] == "met"
    *windows, unread = part(made, "chill")["lines"]
    assert [each["verdict"] for each in windows] == ["met"] * 3  # From the last reading of the cook on.
    assert all(each["what"].endswith(", B") for each in windows)
    assert (unread["what"], unread["verdict"]) == ("chill, rapid, A", "not measured")  # As the answers to them say.
    log.readings = [row for row in log.readings if row["piece"] != "A"]
    assert line(sheet(tmp_path, log, profile=COOKED), "lethality", "cook, as")["verdict"] == "not measured"
    for at_h, temp_c in GOOD_COOK:
        log.reading(at_h, "core_temp", temp_c, piece="A")
    log.reading(24.9, "weight", 250, piece="A", note="out")
    assert verdicts(sheet(tmp_path, log, profile=COOKED))["chill"] == "met"


def test_a_hot_piece_that_was_read_once_in_the_chill_does_not_drop_out(tmp_path: Path) -> None:
    log = cooked([])
    for at_h, temp_c in GOOD_COOK + GOOD_CHILL:
        log.reading(at_h, "core_temp", temp_c, piece="A")
    log.reading(28.0, "core_temp", 60.0, piece="B")
    assert verdicts(sheet(tmp_path, log, profile=COOKED))["chill"] == "not measured"
    log.reading(31.5, "core_temp", 40.0, piece="B")
    log.reading(36.0, "core_temp", 30.0, piece="B")
    assert verdicts(sheet(tmp_path, log, profile=COOKED))["chill"] == "not met"


def test_a_chill_whose_first_reading_is_cool_already_is_not_measured(tmp_path: Path) -> None:
    made = sheet(tmp_path, cooked([(26.0, 32.0), (26.4, 26.0), (27.0, 12.0), (29.0, 4.0)]), profile=COOKED)
    assert verdicts(made)["chill"] == "not measured"


def test_a_fixed_probe_counts_minute_by_minute_where_the_cook_is_in_the_chamber(tmp_path: Path) -> None:
    here = tuple(
        replace(stage, where="chamber") if stage.kind in {"cook", "chill"} else stage for stage in COOKED.stages
    )
    log = Log().event(0.0, "hang").minutes(0.0, 1.0, 36.0, core_temp_c="20.000")
    for at_h in (0.0, 1.0, 2.0):
        log.event(at_h, "stage", "until")
    log.minutes(2.0, 3.0, 62.0, stage="cook", core_temp_c="57.222")  # 135 °F: 36 min for 6.5 log.
    made = sheet(tmp_path, log, profile=replace(COOKED, stages=here))
    assert line(made, "lethality", "cook, as")["found"] == "at least 6.5 log, the fixed probe, hottest 57.2 °C"
    elsewhere = sheet(tmp_path, log, profile=COOKED)  # The probe hung in an empty chamber meanwhile.
    assert line(elsewhere, "lethality", "cook, as")["verdict"] == "not measured"


def test_without_a_cook_nothing_is_said_of_its_come_up(tmp_path: Path) -> None:
    made = sheet(tmp_path, raw(), sheet=sheet_of())
    assert line(made, "lethality", "come-up")["verdict"] == "not measured"


def test_poultry_asks_for_seven(tmp_path: Path) -> None:
    plan = sheet_of(PORK, Meat("thigh", "poultry", 1.0, 8.0))
    made = sheet(tmp_path, cooked(GOOD_COOK), profile=COOKED, sheet=plan)
    assert line(made, "lethality", "cook, as")["wanted"].startswith("7 log of Salmonella")


def test_a_chill_is_judged_by_its_windows(tmp_path: Path) -> None:
    made = sheet(tmp_path, cooked(GOOD_COOK + GOOD_CHILL), profile=COOKED)
    assert verdicts(made)["chill"] == "met"
    assert all(each["confirm"] for each in part(made, "chill")["lines"])
    assert len(part(made, "chill")["lines"]) == len(RAPID.windows) + 1
    slow = [*GOOD_COOK, (30.0, 40.0), (35.0, 20.0)]
    assert verdicts(sheet(tmp_path, cooked(slow), profile=COOKED))["chill"] == "not met"
    assert verdicts(sheet(tmp_path, cooked(GOOD_COOK), profile=COOKED))["chill"] == "not measured"


def test_a_combined_process_is_judged_condition_by_condition(tmp_path: Path) -> None:
    plan = sheet_of(PORK, BEEF, kill_step="90f-4.6-55mm-heat")
    log = cooked([], ph=4.5)
    for count in range(17):  # An hour at 111 °F, then 126 °F, read every half hour.
        temp_c = 43.9 if count < 3 else 52.3
        log.reading(22.0 + 0.5 * count, "smoker_temp", temp_c, instrument="probe")
    made = sheet(tmp_path, log, profile=COOKED, sheet=plan)
    found = {
        (each["what"], each["wanted"][:13]): each["verdict"]
        for each in part(made, "lethality")["lines"]
        if each["counts"]
    }
    assert set(found.values()) == {"met"}
    assert {what for what, _ in found} == {
        "ferment",
        "pH after the ferment",
        "casing",
        "heat or hold",
        "heat or hold, with 0.5 K of error taken off",
    }
    log.readings = [row for row in log.readings if row["kind"] != "smoker_temp"]
    assert verdicts(sheet(tmp_path, log, profile=COOKED, sheet=plan))["lethality"] == "not measured"


def test_what_drying_did_to_e_coli_is_an_estimate_only(tmp_path: Path) -> None:
    made = sheet(tmp_path, raw(dry_days=20.0), sheet=sheet_of(BEEF))
    lethality = part(made, "lethality")
    assert lethality["verdict"] == "not measured"
    assert re.search(r"E\. coli less by about 1\.\d log", lethality["estimates"][0])  # 20 days at 13 °C: 1.65.
    assert any("Drying alone is no kill step" in note for note in lethality["notes"])


# Trichinae and the cure.


def test_frost_is_judged_by_what_the_maker_wrote(tmp_path: Path) -> None:
    frozen = Meat("shoulder", "pork", 4.0, 25.0, "frozen 20 days at -15C, 10 cm thick")
    made = sheet(tmp_path, raw(), sheet=sheet_of(frozen))
    assert verdicts(made)["trichinae"] == "met"
    assert "the maker wrote: frozen 20 days at -15C" in part(made, "trichinae")["lines"][0]["found"]
    unknown = Meat("shoulder", "pork", 4.0, 25.0, "frozen 20 days at -15C")
    assert verdicts(sheet(tmp_path, raw(), sheet=sheet_of(unknown)))["trichinae"] == "not measured"
    named = sheet(tmp_path, raw(), sheet=sheet_of(unknown, trichinae="freeze-5f-20d"))
    assert verdicts(named)["trichinae"] == "met"
    assert "as the option says" in part(named, "trichinae")["lines"][0]["found"]
    short = Meat("shoulder", "pork", 4.0, 25.0, "frozen 12 days at -15C")
    assert verdicts(sheet(tmp_path, raw(), sheet=sheet_of(short)))["trichinae"] == "not met"
    assert verdicts(sheet(tmp_path, raw(), sheet=sheet_of(PORK)))["trichinae"] == "not measured"


def test_a_drying_room_is_judged_by_the_days_that_were_warm_enough(tmp_path: Path) -> None:
    plan = sheet_of(PORK, trichinae="method-6")
    log = raw(dry_days=22.0, dry_c=13.0)  # 55.4 °F; 55 mm: 18 days, 5 % off, 19 % on.
    made = sheet(tmp_path, log, sheet=plan)
    assert line(made, "trichinae", "drying room")["verdict"] == "met"
    assert line(made, "trichinae", "drying room")["wanted"].startswith("21 d at 50 °F")
    assert line(made, "trichinae", "salt")["found"] == "2.77 %"  # 2.8 % of the meat, and 12 g of water for each kg.
    cold = sheet(tmp_path, raw(dry_days=22.0, dry_c=9.0), sheet=plan)
    assert line(cold, "trichinae", "drying room")["verdict"] == "not met"
    assert verdicts(made)["trichinae"] == "not measured"  # The grind is on no record.


def test_each_pork_is_judged_by_itself(tmp_path: Path) -> None:
    frozen = Meat("shoulder", "pork", 3.0, 25.0, "frozen 20 days at -15C, 10 cm thick")
    fresh = Meat("belly", "pork", 1.0, 45.0)
    made = sheet(tmp_path, raw(), sheet=sheet_of(frozen, fresh))
    assert verdicts(made)["trichinae"] == "not measured"
    assert line(made, "trichinae", "shoulder: trichinae")["verdict"] == "met"
    assert line(made, "trichinae", "belly: option")["verdict"] == "not measured"
    named = sheet(tmp_path, raw(), sheet=sheet_of(frozen, fresh, trichinae="freeze-5f-20d"))
    assert line(named, "trichinae", "belly: trichinae")["verdict"] == "not measured"


def test_a_cook_answers_for_the_game_beside_frozen_pork(tmp_path: Path) -> None:
    plan = sheet_of(
        Meat("shoulder", "pork", 3.0, 25.0, "frozen 20 days at -15C"), Meat("haunch", "game", 1.0, 5.0),
        trichinae="freeze-5f-20d",
    )  # fmt: skip
    made = sheet(tmp_path, cooked(GOOD_COOK), profile=COOKED, sheet=plan)
    assert verdicts(made)["trichinae"] == "met"
    assert line(made, "trichinae", "shoulder: trichinae: freezing")["verdict"] == "met"
    assert line(made, "trichinae", "trichinae: heating, with 0.5 K")["verdict"] == "met"
    assert verdicts(sheet(tmp_path, raw(), sheet=plan))["trichinae"] == "not met"


def test_days_in_the_fridge_between_two_dryings_are_no_days_in_the_drying_room(tmp_path: Path) -> None:
    stages = (
        PROFILE.stages[1],
        replace(PROFILE.stages[3], name="dry-1"),
        Stage(name="equalise", kind="equalise", where="elsewhere", until=Until(confirm=True)),
        replace(PROFILE.stages[3], name="dry-2"),
    )
    back_h = 40.0 + DAY_H * 26.0
    log = Log(every_s=600.0).event(0.0, "hang").minutes(0.0, 40.0, 24.0, every_min=10.0)
    log.event(40.0, "stage", "until").minutes(40.1, 40.0 + DAY_H * 6.0, 13.0, stage="dry-1", every_min=10.0)
    log.event(40.1 + DAY_H * 6.0, "stage", "until").event(back_h, "stage", "confirm")
    log.minutes(back_h, back_h + DAY_H * 2.0, 13.0, stage="dry-2", every_min=10.0)
    made = sheet(
        tmp_path, log, profile=replace(PROFILE, stages=stages), sheet=sheet_of(trichinae="method-6")
    )  # fmt: skip
    room = line(made, "trichinae", "drying room")
    assert room["verdict"] == "not measured"  # 8 of 21 days; what the fridge had is on no record.
    assert room["found"].startswith("8 d at or above it; 20 d without a record")
    assert any(
        "Of 20 d since the drying began nothing is on record" in note for note in part(made, "trichinae")["notes"]
    )


def test_weeks_without_a_row_or_without_a_good_temperature_count_for_nothing(tmp_path: Path) -> None:
    log = raw(dry_days=3.0)
    log.minutes(40.0 + DAY_H * 3.0, 40.0 + DAY_H * 25.0, None, stage="dry", every_min=10.0)
    log.minutes(40.0 + DAY_H * 25.0, 40.0 + DAY_H * 27.0, 13.0, stage="dry", every_min=10.0)
    made = sheet(tmp_path, log, sheet=sheet_of(trichinae="method-6"))
    assert line(made, "trichinae", "drying room")["verdict"] == "not measured"
    assert "22 d without a record" in line(made, "trichinae", "drying room")["found"]


def test_a_piece_that_left_early_is_judged_by_the_days_it_had(tmp_path: Path) -> None:
    plan = sheet_of(trichinae="method-6")
    log = raw(dry_days=26.0).reading(40.0 + DAY_H * 6.0, "weight", 250, piece="A", note="out")
    made = sheet(tmp_path, log, sheet=plan)
    rooms = [each for each in part(made, "trichinae")["lines"] if each["what"].startswith("drying room")]
    assert [each["verdict"] for each in rooms] == ["met", "not met"]
    assert rooms[1]["what"] == "drying room, A, out 2026-01-12 22:00"


def test_a_note_of_later_days_does_not_keep_the_sausage_longer(tmp_path: Path) -> None:
    plan = sheet_of(trichinae="method-1")  # 25 days from cure to release.
    log = raw(dry_days=11.0).event(40.0 + DAY_H * 11.0, "end", "complete").event(DAY_H * 40.0, "note")
    made = sheet(tmp_path, log, sheet=plan)
    assert line(made, "trichinae", "from cure to release")["verdict"] == "not met"
    assert line(made, "trichinae", "from cure to release")["found"] == "12.7 d"
    sealed = Stage(name="sealed", kind="equalise", where="elsewhere", until=Until(confirm=True))
    away = raw(dry_days=11.0).event(40.0 + DAY_H * 11.0, "stage", "until").event(DAY_H * 40.0, "note")
    made = sheet(tmp_path, away, profile=replace(PROFILE, stages=(*PROFILE.stages, sealed)), sheet=plan)
    assert line(made, "trichinae", "from cure to release")["found"] == "12.7 d"


def test_the_salt_of_a_method_is_reckoned_on_what_its_note_says(tmp_path: Path) -> None:
    # 3.4 % of the meat, with pepper, milk powder and wine: on the sausage, without what is dry, and on the meat.
    wanted = Wanted(
        salt_pct=3.4, dextrose_pct=0.4, cure="2", strength=Strength(6.25, 4.0), cure_pct=0.25,
        spices=(("pepper", 5.0), ("milk powder", 30.0), ("red wine", 60.0)),
    )  # fmt: skip
    formula = formulate((PORK,), wanted, style="raw-dried", on=dt.date(2026, 1, 5))
    wet_kg = formula.meat_kg + sum(
        line.grams / 1000.0 for line in formula.ingredients if line.name in {"red wine", "water", "starter"}
    )
    on = {
        "method-1": 3.4 * formula.meat_kg / formula.mix_kg,
        "method-6": 3.4 * formula.meat_kg / wet_kg,
        "method-7": 3.4,
    }
    assert on["method-1"] < 3.33 < on["method-7"]
    for method, salt_pct in on.items():
        made = sheet(tmp_path, raw(), sheet=replace(sheet_of(trichinae=method), formula=formula))
        assert line(made, "trichinae", "salt")["found"] == f"{salt_pct:.2f} %"
    assert line(made, "trichinae", "salt")["verdict"] == "met"


def test_beef_alone_needs_no_option_and_game_none_by_frost(tmp_path: Path) -> None:
    assert verdicts(sheet(tmp_path, raw(), sheet=sheet_of(BEEF)))["trichinae"] == "met"
    game = Meat("haunch", "game", 3.0, 10.0, "frozen 30 days at -20C")
    made = sheet(tmp_path, raw(), sheet=sheet_of(game, trichinae="freeze-5f-20d"))
    assert verdicts(made)["trichinae"] == "not met"
    assert any("cannot be relied on in game" in note for note in part(made, "trichinae")["notes"])


def test_the_cook_is_the_option_where_none_was_chosen(tmp_path: Path) -> None:
    made = sheet(tmp_path, cooked(GOOD_COOK), profile=COOKED, sheet=sheet_of(PORK))
    assert verdicts(made)["trichinae"] == "met"
    assert any(note.startswith("Option cook-144f") for note in part(made, "trichinae")["notes"])


def test_the_cure_is_that_of_the_plan_beside_its_authoritys_limits(tmp_path: Path) -> None:
    us = part(sheet(tmp_path, raw(), sheet=sheet_of()), "cure")
    assert us["verdict"] == "met"
    assert any(each["found"] == "156.2 ppm" for each in us["lines"])  # 2.5 g/kg of 6.25 %: 156.25.
    eu = part(sheet(tmp_path, raw(), sheet=sheet_of(authority="eu")), "cure")
    assert eu["verdict"] == "not met"  # Above 80 mg/kg as ion since October 2025.
    assert part(sheet(tmp_path, raw()), "cure")["verdict"] == "not measured"


def test_no_cure_and_too_little_of_it_meet_nothing(tmp_path: Path) -> None:
    for authority in ("us", "eu"):
        for cure, pct in (("none", 0.0), ("2", 0.03)):
            wanted = Wanted(
                salt_pct=2.8, dextrose_pct=0.4, cure=cure, strength=Strength(6.25 if pct else 0.0), cure_pct=pct
            )  # fmt: skip
            formula = formulate((PORK,), wanted, style="raw-dried", on=dt.date(2026, 1, 5), authority=authority)
            plan = replace(sheet_of(authority=authority), formula=formula, accepted=("no cure goes in",))
            made = sheet(tmp_path, raw(), sheet=plan)
            assert verdicts(made)["cure"] == "not met", (authority, cure)
            assert line(made, "cure", "US: nitrite, any cured")["verdict"] == "not met"
            if cure == "none":
                assert line(made, "cure", "a cure")["found"] == 'none; the maker typed: "no cure goes in"'


def test_a_plan_comes_back_from_the_card_as_it_was(tmp_path: Path) -> None:
    plan = sheet_of(PORK, BEEF, trichinae="method-6", latest_5_3_wall_s=1.0, warnings=("a",))
    folder = raw().write(tmp_path / "b", sheet=plan)
    assert read_card(folder).sheet == plan


# The sheet as a whole.


def test_the_criteria_are_those_that_the_maker_chose(tmp_path: Path) -> None:
    made = sheet(tmp_path, raw(), sheet=sheet_of(criteria=("cure", "ph")))
    assert list(verdicts(made)) == ["ph", "cure"]
    assert list(verdicts(sheet(tmp_path, raw(), sheet=sheet_of()))) == list(ALL)
    assert "chill" in verdicts(sheet(tmp_path, cooked([]), profile=COOKED))
    kill = replace(PROFILE, kill_step="90f-4.6-55mm-hold-6d")
    assert "lethality" in verdicts(sheet(tmp_path, raw(), profile=kill))


@pytest.mark.parametrize("profile", [PROFILE, COOKED], ids=["raw", "cooked"])
def test_the_page_is_80_wide_cites_its_sources_and_leaves_room_to_sign(tmp_path: Path, profile: Any) -> None:  # noqa: ANN401
    log = cooked(GOOD_COOK + GOOD_CHILL) if profile is COOKED else raw()
    log.reading(150.0, "look", "white-mould", piece="A", instrument="")
    lines = tell_release(sheet(tmp_path, log, profile=profile, sheet=sheet_of(PORK, BEEF)))
    assert max(map(len, lines)) <= 80
    page = "\n".join(lines)
    for word in ("RELEASE SHEET", "NOT MEASURED", "confirm with your", "Who decides", "the authority", "a laboratory"):
        assert word in page
    assert page.count("date: ____") == 4
    assert re.search(r"^  (NOT )?ME\w+ +Weight loss$", page, re.MULTILINE)  # All criteria at a glance, on top.
    assert "white-mould (A)" in page
    assert "source: " in page


def test_no_page_says_that_it_may_be_eaten(tmp_path: Path) -> None:
    for log, profile in ((raw(), PROFILE), (cooked(GOOD_COOK + GOOD_CHILL), COOKED)):
        for authority in ("us", "canada", "eu", "uk"):
            made = sheet(tmp_path, log, profile=profile, sheet=sheet_of(PORK, BEEF, authority=authority))
            told = "\n".join(tell_release(made)) + json.dumps(made)
            assert not re.search(r"\bsafe\b|ready[- ]to[- ]eat|edible|harmless", told, re.IGNORECASE)


def test_every_limit_from_memory_asks_to_be_confirmed(tmp_path: Path) -> None:
    made = sheet(tmp_path, raw(), sheet=sheet_of(authority="canada"))
    for each in (each for p in made["criteria"] for each in p["lines"]):
        assert each["confirm"] or "from memory" not in each["source"]


def test_the_json_is_plain_and_complete(tmp_path: Path) -> None:
    made = json.loads(json.dumps(sheet(tmp_path, raw(), sheet=sheet_of())))
    assert {"batch", "criteria", "decides", "cautions", "signatures", "counts", "authority"} <= set(made)
    for each in made["criteria"]:
        assert {"name", "title", "verdict", "lines", "estimates", "notes"} == set(each)
        assert each["verdict"] in {"met", "not met", "not measured"}


def test_a_folder_that_is_no_batch_is_said_in_a_line(tmp_path: Path) -> None:
    with pytest.raises(NoInputError, match="there is no batch card"):
        release(tmp_path)
