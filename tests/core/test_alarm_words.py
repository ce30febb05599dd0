"""What is said of an alarm: what, since when, what was done, what to do first, by when; and the same in 140 letters."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.alarms.message import SHORT, clock_utc, full, said_of, short, short_over
from controller.core.fault_table import ROWS
from controller.records.alarm_status import alarm_status, state_of
from tests.helpers.alarm_story import AlarmStory
from tests.helpers.bench_chamber import WALL_S


def test_a_message_says_what_since_when_what_was_done_what_to_do_first_and_by_when() -> None:
    story = AlarmStory().found(Condition("A3", "Lamp gives no heat: 0.1 K in 20 min at full power, 3.2 K expected."))
    assert story.alarm("A3-1").text == (
        "Lamp gives no heat: 0.1 K in 20 min at full power, 3.2 K expected. Since 2026-01-05 08:00 UTC. "
        "Heat only in trials of at most 5 min each half hour. Check lamp, plug and thermal cut-out. "
        "Do this by 2026-01-05 08:30 UTC."
    )


def test_its_words_are_kept_up_to_date_in_silence() -> None:
    story = AlarmStory().found(Condition("P1", "The door has been open for 10 min."))
    story.found(Condition("P1", "The door has been open for 11 min."))
    assert "for 11 min" in story.alarm("P1-1").text
    assert len(story.events) == 1


def test_a_rule_may_say_itself_what_was_done_and_by_when() -> None:
    story = AlarmStory().found(Condition("P9", "705 of 1000 used.", did="Heat goes on.", by_wall_s=WALL_S + 7200.0))
    assert "Heat goes on. Measure the pH now. Do this by 2026-01-05 10:00 UTC." in story.alarm("P9-1").text


def test_what_the_rule_has_said_is_not_said_twice() -> None:
    assert said_of("C2", "3 ends in 10 min; heat is locked.", "") == ""
    assert said_of("C2", "3 ends in 10 min.", "") == "Heat is locked."


@pytest.mark.parametrize(("priority", "within_h"), [("1", 0.5), ("2", 4.0), ("3", 24.0)])
def test_by_when_follows_from_how_urgent_it_is(priority: str, within_h: float) -> None:
    story = AlarmStory().found(Condition("A5", "No mist.", priority=priority))
    assert story.alarm("A5-1").by_wall_s == pytest.approx(story.wall_s + within_h * 3600.0)


@pytest.mark.parametrize("row", ROWS.values(), ids=lambda row: row.id)
def test_the_short_form_of_every_row_has_room_for_what_to_do_first(row: object) -> None:
    name, title, first = (getattr(row, field) for field in ("id", "title", "first"))
    said = short(f"{name}-12", name, "x" * 300, first)
    assert said == f"{name}-12: {title}. {first}"
    assert len(said) <= SHORT


def test_the_short_form_has_the_value_where_it_fits() -> None:
    first = ROWS["A2"].first
    said = short("A2-1", "A2", "Too hot: 45.3 °C, limit 45 °C. Heat is off.", first)
    assert said == f"A2-1: Too hot: 45.3 °C, limit 45 °C. {first}"


@given(st.sampled_from(sorted(ROWS)), st.text(max_size=400), st.text(max_size=400), st.floats(), st.floats())
def test_no_words_make_a_message_without_its_parts_or_a_short_form_too_long(
    row: str, what: str, first: str, since_s: float, by_s: float
) -> None:
    assert len(short(f"{row}-1", row, what, first)) <= SHORT
    said = full(what, "It did this.", first, since_s, by_s)
    assert "It did this." in said
    assert clock_utc(since_s) in said


def test_every_instant_is_in_utc_so_that_a_page_can_make_local_time_of_it() -> None:
    assert re.fullmatch(r"2026-01-05 08:00 UTC", clock_utc(WALL_S))
    assert clock_utc(float("nan")) == "a time that no clock can show"


# What is over.


def test_what_is_over_and_unseen_calls_on_in_words_that_are_true() -> None:
    story = AlarmStory().found(Condition("S1", "The air thermometer is not answering.", did="Heat is off."))
    story.run(minutes=10).found().run(minutes=10)
    again = [event.text for event in story.events if event.kind == "alarm again"]
    was = "It was: The air thermometer is not answering."
    assert again == [f"Over since 2026-01-05 08:10 UTC. {was} Look at the batch, then: hangroom seen S1-1."]
    assert story.alarm("S1-1").text == again[0]
    told = alarm_status(story.alarm("S1-1"), story.now_s, story.wall_s)
    assert told.short == "S1-1: over; it was: The air thermometer is not answering. Then: hangroom seen S1-1"


def test_over_since_is_when_its_cause_was_seen_last_and_not_when_it_was_believed_to_be_gone() -> None:
    story = AlarmStory().found("P7").run(minutes=10).found().run(minutes=31)
    assert ROWS["P7"].off_delay_s == 1800.0
    assert "Over since 2026-01-05 08:10 UTC. It was: P7 is wrong. Look" in story.alarm("P7-1").text


def test_what_is_over_but_locked_still_says_what_to_do_before_it_is_cleared() -> None:
    story = AlarmStory().found(Condition("S6", "It has shown 24.00 °C for 2.5 h.")).run(minutes=5).found()
    assert story.alarm("S6-1").text == (
        "The cause is gone since 2026-01-05 08:05 UTC. It was: It has shown 24.00 °C for 2.5 h. "
        "Replace the sensor, then clear the alarm. Then unlock it: hangroom clear S6-1."
    )


def test_what_is_there_again_has_the_words_of_now_again() -> None:
    story = AlarmStory().found("A5").run(minutes=5).found().run(minutes=2).found("A5")
    assert "Over since" not in story.alarm("A5-1").text
    assert "A5 is wrong. Since 2026-01-05 08:00 UTC." in story.alarm("A5-1").text


def test_of_the_computer_no_batch_can_tell() -> None:
    story = AlarmStory().found("C6").run(minutes=5).found()
    assert story.alarm("C6-1").text.endswith("It was: C6 is wrong. Know of it? Say: hangroom seen C6-1.")


@pytest.mark.parametrize("row", ROWS.values(), ids=lambda row: row.id)
def test_the_short_form_of_what_is_over_says_so_and_fits(row: object) -> None:
    name = getattr(row, "id", "")
    for latched in (False, True):
        alarm = Alarm(f"{name}-12", name, "1", "", WALL_S, latched=latched, what="x" * 300, first=ROWS[name].first)
        said = short_over(alarm)
        assert said.startswith(f"{name}-12: over; it was: {ROWS[name].title}")
        assert len(said) <= SHORT


# For programs.

ALARM = Alarm("A3-2", "A3", "1", "Whole.", WALL_S, what="No heat.", first="Look.", by_wall_s=WALL_S + 1800.0)


@pytest.mark.parametrize(
    ("changed", "state"),
    [
        ({}, "unacknowledged"),
        ({"seen": True}, "acknowledged"),
        ({"active": False}, "returned unacknowledged"),
        ({"active": False, "latched": True}, "latched unacknowledged"),
        ({"active": False, "latched": True, "seen": True}, "latched acknowledged"),
        ({"seen": True, "quiet_until_s": 1.0}, "shelved"),
        ({"follows": "A1-1"}, "suppressed"),
    ],
)
def test_programs_read_the_states_of_the_standard(changed: dict[str, object], state: str) -> None:
    assert state_of(replace(ALARM, **changed)) == state


def test_programs_read_every_instant_by_the_clock_on_the_wall() -> None:
    quiet = replace(ALARM, quiet_until_s=5000.0, follows="A1-1", hides=("P4",))
    told = alarm_status(quiet, 1400.0, WALL_S + 60.0)
    assert (told.since, told.by) == ("2026-01-05T08:00:00Z", "2026-01-05T08:30:00Z")
    assert (told.quiet_until, told.suppressed_by) == ("2026-01-05T09:01:00Z", "A1-1")
    assert (told.title, told.severity, told.what, told.first) == ("heating without warming", 800, "No heat.", "Look.")
    assert [(one.row, one.title) for one in told.hides] == [("P4", "climate off what is wanted")]
    assert alarm_status(replace(ALARM, since_wall_s=float("inf"), by_wall_s=-1.0), 0.0, 0.0).by is None
