"""The story of a batch beside its climate, each figure set against a diary of a few lines."""

from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.plan import Until
from controller.core.values import CheckEntry, InstrumentCheck
from controller.records.instruments import FILE, HEADER, check_row
from controller.review.figures import review
from controller.review.page import page
from tests.helpers.batch_logs import HOUR_S, Log, text_of
from tests.helpers.recorded import NAME, PROFILE, WALL_S


def told(log: Log, at_h: float, kind: str, name: str = "", text: str = "words", actor: str = "Ann") -> None:
    """Add a line to the diary with its words."""
    log.event(at_h, kind, name, "1" if kind == "alarm" else "")
    log.events[-1] |= {"text": text, "actor": actor}


def of(log: Log, tmp_path: Path) -> dict[str, Any]:
    return review(log.write(tmp_path / "b"))


def test_what_was_done_about_an_alarm_stands_beside_it(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 12.0, 36.0)
    told(log, 1.0, "alarm", "A3-1", "The air does not get warmer.", "hangroom")
    told(log, 1.5, "alarm", "S1-1", "No answer.", "hangroom")
    told(log, 1.5, "follows", "S1-1", "the sensor: follows from A3-1 (lamp).", "hangroom")
    told(log, 1.25, "seen", "A3-1", "seen.", "Bo")
    told(log, 2.0, "quiet", "A3-1", "lamp: quiet until 2026-01-05 10:00 UTC. It calls again then.", "Bo")
    told(log, 3.0, "alarm again", "A3-1", "still", "hangroom")
    told(log, 4.0, "returned", "A3-1", "over", "hangroom")
    told(log, 4.5, "cleared", "A3-1", "cleared.", "Ann")
    lamp, sensor = of(log, tmp_path)["alarm_history"]
    assert lamp["id"] == "A3-1"
    assert (lamp["seen"]["by"], lamp["seen"]["after_h"]) == ("Bo", 0.25)
    assert [each["after_h"] for each in lamp["quieted"]] == [1.0]
    assert lamp["cleared"] == {"by": "Ann", "time": text_of(4.5), "after_h": 3.5}
    assert (lamp["returned"], lamp["active_h"], lamp["called"], lamp["open"]) == (text_of(4.0), 3.0, 2, False)
    assert (sensor["follows"], sensor["seen"], sensor["returned"], sensor["open"]) == ("A3-1", None, None, True)
    assert sensor["active_h"] == 10.5  # To the end of the record.


def test_corrections_have_old_and_new_value_and_who_typed_them(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 1.0, 25.0)
    log.reading(0.1, "ph", 4.9, id="p1", actor="Ann").reading(
        0.1, "ph", 5.9, id="p2", replaces="p1", actor="Bo", note="5, not 4"
    )
    log.readings[-1]["entered_at"] = text_of(0.6)
    log.reading(0.2, "weight", 400, piece="A", id="w1", unit="g").reading(0.2, "weight", 40, piece="B", id="w1")
    log.reading(0.2, "weight", 402, piece="B", id="w2", replaces="w1").reading(0.3, "ph", 5.8, replaces="nobody")
    ph, weight, lost = of(log, tmp_path)["corrections"]
    assert (ph["old"], ph["new"], ph["old_actor"], ph["actor"], ph["entered"]) == (4.9, 5.9, "Ann", "Bo", text_of(0.6))
    assert "pH: 4.90 became 5.90, by Bo, typed 2026-01-05 06:36: 5, not 4" in " ".join(page(tmp_path / "b"))
    assert (weight["piece"], weight["old"], weight["new"]) == ("B", 40.0, 402.0)
    assert lost["old"] is None


def test_who_entered_what_is_counted_and_how_late(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 1.0, 25.0)
    for at_h in (1.0, 2.0, 3.0):
        log.reading(at_h, "ph", 5.6, actor="Ann", entered_at=text_of(at_h + 0.25 * at_h))
    log.reading(1.0, "weight", 400, piece="A", actor="Bo")
    told(log, 1.0, "note", text="white mould", actor="Bo")
    told(log, 1.1, "summary", actor="hangroom")
    ann, bo = of(log, tmp_path)["entered_by"]
    assert (ann["actor"], ann["readings"], ann["diary"], ann["latest_after_h"]) == ("Ann", {"ph": 3}, {"hang": 1}, 0.75)
    assert (bo["readings"], bo["diary"], bo["latest_after_h"]) == ({"weight": 1}, {"note": 1}, None)


def test_notes_and_looks_are_one_list_by_time_and_decisions_another(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 9.0, 25.0)
    told(log, 5.0, "note", text="white mould")
    told(log, 5.0 + 5.0 / HOUR_S, "note", text="white mould")  # A program that was killed told it twice.
    log.reading(3.0, "look", "tacky", piece="A", note="ends darker", actor="Bo")
    told(log, 6.0, "set", "set", "ferment: wanted is now 30.0 °C, before 36.0 °C: too quick.")
    told(log, 7.0, "state", "", "Waits by itself: temperatures disagree.", "hangroom")
    figures = of(log, tmp_path)
    assert [(one["about"], one["text"], one["actor"]) for one in figures["notes"]] == [
        ("look of A", "tacky (ends darker)", "Bo"),
        ("note", "white mould", "Ann"),
    ]
    assert [one["kind"] for one in figures["decisions"]] == ["hang", "set"]


def test_the_program_s_absences_are_told_with_what_came_to_be_known_of_them(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 9.0, 25.0)
    away = "The program was not running: a gap of"
    told(log, 2.0, "gap", "unknown", f"{away} unknown length; the power had failed, or the computer had hung.")
    told(log, 2.1, "gap", "bounded:5400", "By the cooling the gap was of up to 1 h 30 min; no clock can tell better.")
    told(log, 5.0, "gap", "", f"{away} of up to 3 min; it had been stopped.")
    first, second = of(log, tmp_path)["breaks"]
    assert (first["back"], first["why"]) == (text_of(2.0), "power cut, or the computer hung")
    assert (first["length"], len(first["later"])) == ("at most 1.5 h, by the cooling", 1)
    assert (second["why"], second["length"]) == ("the program was stopped", "")


def test_pauses_are_told_from_when_to_when_and_whom_they_wait_for(tmp_path: Path) -> None:
    log = Log().event(0.0, "hang").minutes(0.0, 12.0, 25.0)
    told(log, 1.0, "state", "S9", "Waits by itself: temperatures disagree. Heat is off.", "hangroom")
    told(log, 1.25, "state", "", "Paused, waits for you: temperatures disagree for 15 min.", "hangroom")
    told(log, 4.0, "state", "", "Resumed: looked at it.")
    told(log, 9.0, "state", "", "Paused: the door is off. Heat and mist are off.")
    first, second, third = of(log, tmp_path)["pauses"]
    assert [(one["hours"], one["waits_for"], one["actor"]) for one in (first, second, third)] == [
        (0.25, "itself", "hangroom"), (2.75, "person", "hangroom"), (3.0, "person", "Ann"),
    ]  # fmt: skip
    assert (second["until"], third["until"]) == (text_of(4.0), None)
    text = " ".join(" ".join(page(tmp_path / "b")).split())
    assert "paused for 6.0 h in all" in text
    assert "it waited 5.8 h in all for a person" in text


def entry(name: str, at_h: float, instrument: str, verdict: str = "good") -> CheckEntry:
    check = InstrumentCheck(instrument, "ice", (("ice", 0.0, 0.1),), "Cel", 0.0, verdict=verdict)
    at_s = WALL_S + at_h * HOUR_S
    return CheckEntry(name, at_s, check, "Ann", at_s, "")


def test_checks_around_the_batch_are_the_last_before_those_during_and_the_first_after(tmp_path: Path) -> None:
    entries = [
        entry("c0", -500 * 24.0, "probe 2"), entry("c1", -48.0, "probe 1"), entry("c2", -24.0, "probe 1", "0.9 off"),
        entry("c3", 1.0, "meter 1"), entry("c4", 30.0, "probe 1"), entry("c5", 60.0, "probe 1"),
    ]  # fmt: skip
    (tmp_path / FILE).write_bytes(HEADER + b"".join(check_row(one) for one in entries))
    folder = Log().event(0.0, "hang").minutes(0.0, 9.0, 25.0).write(tmp_path / "batches" / NAME)
    checks = review(folder)["checks"]
    assert [(one["when"], one["time"], one["verdict"]) for one in checks["list"]] == [
        ("before", text_of(-24.0), "0.9 off"),
        ("during", text_of(1.0), "good"),
        ("after", text_of(30.0), "good"),
    ]
    copied = Log().event(0.0, "hang").minutes(0.0, 9.0, 25.0).write(tmp_path / "copy")
    assert review(copied)["checks"] == {"known": False, "list": []}


@pytest.mark.parametrize(
    ("until", "least_h", "most_h", "lasted_h", "ended", "hours", "beside"),
    [
        (Until(hours=10.0), 0.0, None, 10.0, True, 10.0, "as meant"),
        (Until(hours=10.0), 12.0, None, 11.0, True, 12.0, "shorter"),
        (Until(ph_at_most=4.8), 0.0, 20.0, 21.0, True, None, "longer"),
        (Until(ph_at_most=4.8), 0.0, 20.0, 20.0, True, None, "as meant"),
        (Until(ph_at_most=4.8), 0.0, 20.0, 5.0, False, None, None),
        (Until(ph_at_most=4.8), 0.0, 20.0, 25.0, False, None, "longer"),
        (Until(confirm=True, hours=2.0), 0.0, None, 1.5, True, None, "shorter"),
    ],
)
def test_a_stage_s_length_is_judged_by_what_the_card_meant(
    tmp_path: Path, until: Until, least_h: float, most_h: float | None, lasted_h: float, *, ended: bool,
    hours: float | None, beside: str | None,
) -> None:  # fmt: skip
    warm, _, smoke, dry = PROFILE.stages
    stage = replace(PROFILE.stages[1], until=until, at_least_h=least_h, at_most_h=most_h)
    log = Log().event(0.0, "hang").minutes(0.0, lasted_h, 36.0)
    if ended:
        log.event(lasted_h, "stage", "until").minutes(lasted_h, lasted_h + 1.0, 13.0, stage="dry")
    figures = review(log.write(tmp_path / "b", replace(PROFILE, stages=(stage, smoke, dry))))
    planned = figures["planned"][0]
    assert (planned["hours"], planned["most_h"], planned["beside"]) == (hours, most_h, beside)
    assert planned["real_h"] == pytest.approx(lasted_h, abs=0.02)
    assert [one["name"] for one in figures["planned"]] == ["ferment", "smoke", "dry"]
    assert warm.name not in str(figures["planned"])


def test_the_courses_hold_each_reading_with_its_hours_and_each_piece_with_its_loss(tmp_path: Path) -> None:
    log = Log().event(2.0, "hang").minutes(0.0, 30.0, 25.0).reading(1.0, "ph", 5.8).reading(8.0, "ph", 5.5)
    log.reading(9.0, "ph", 5.0, instrument="strips")
    grams = {"A": (410.0, 380.5, 300.0), "B": (505.0, 490.0, 401.0), "C": (450.0,)}
    for piece, weighed in grams.items():
        for place, value in enumerate(weighed):
            log.reading(
                2.0 + 10.0 * place, "weight", value, piece=piece, note="out" if (piece, place) == ("B", 2) else ""
            )
    figures = of(log, tmp_path)
    assert [(row["hours"], row["ph"], row["counts"]) for row in figures["ph_course"]] == [
        (-1.0, 5.8, True), (6.0, 5.5, True), (7.0, 5.0, False),
    ]  # fmt: skip
    for row in figures["weight_course"]:
        place = round(row["hours"] / 10.0)
        loss_pct = 100.0 - 100.0 * grams[row["piece"]][place] / grams[row["piece"]][0]
        assert row["loss_pct"] == pytest.approx(loss_pct, abs=0.005)
        assert row["out"] == ((row["piece"], place) == ("B", 2))
    losses = [100.0 - 100.0 * 300.0 / 410.0, 100.0 - 100.0 * 401.0 / 505.0]
    assert figures["pieces_apart_pct"] == pytest.approx(max(losses) - min(losses), abs=0.011)
