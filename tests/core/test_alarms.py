"""Each state of an alarm, and each way from one to another, after IEC 62682: told to the book of alarms."""

import re

import pytest
from msgspec.structs import replace

from controller.cli.pages.alarm_lines import describe_alarm
from controller.core.alarms import Condition
from controller.core.alarms.asked import Cannot
from controller.core.alarms.clock import by_new_clock
from controller.core.alarms.entries import KEPT
from controller.core.fault_table import ROWS
from controller.records.alarm_status import alarm_status
from tests.helpers.alarm_story import AlarmStory
from tests.helpers.bench_chamber import WALL_S


def lasting(row: str, *, priority: str = "", about: str = "", level: int = 0, warns: bool = False) -> Condition:
    return Condition(row, f"{row} is wrong.", priority=priority, about=about, level=level, warns=warns)


def test_one_cause_calls_once_and_is_one_occurrence_for_as_long_as_it_lasts() -> None:
    story = AlarmStory().found("A5").run(minutes=30)
    assert story.told() == [("alarm", "A5-1")]
    assert story.names == ["A5-1"]
    assert (story.alarm("A5-1").active, story.alarm("A5-1").seen) == (True, False)


def test_what_is_over_by_itself_stays_on_the_list_until_somebody_has_seen_it() -> None:
    story = AlarmStory().found("A5").run(minutes=5).found().run(minutes=5)
    assert not story.alarm("A5-1").active
    assert story.see("A5-1").names == []
    assert story.told() == [("alarm", "A5-1"), ("returned", "A5-1"), ("seen", "A5-1")]


def test_what_was_seen_leaves_the_list_when_it_is_over() -> None:
    story = AlarmStory().found("A5").see("A5-1").run(minutes=5).found().run(minutes=2)
    assert story.names == []
    assert story.told() == [("alarm", "A5-1"), ("seen", "A5-1"), ("returned", "A5-1")]


def test_what_is_latched_stays_until_it_is_cleared_and_is_cleared_only_after_its_cause() -> None:
    story = AlarmStory().found("A4").see("A4-1")
    with pytest.raises(Cannot, match=r"A4-1: its cause is still there: A4 is wrong\."):
        story.clear("A4-1")
    story.found().run(hours=1)
    alarm = story.alarm("A4-1")
    assert (alarm.active, alarm.latched, alarm.locks) == (False, True, True)
    assert story.clear("A4-1").names == []
    assert story.told()[-2:] == [("returned", "A4-1"), ("cleared", "A4-1")]


def test_what_only_warns_does_not_latch_until_it_gets_worse() -> None:
    warned = replace(lasting("A2", priority="2", level=1), warns=True)
    story = AlarmStory().found(warned).run(minutes=1)
    assert (story.alarm("A2-1").latched, story.alarm("A2-1").locks) == (False, False)
    story.see("A2-1").found(lasting("A2", level=2))
    alarm = story.alarm("A2-1")
    assert (alarm.latched, alarm.locks, alarm.priority, alarm.seen) == (True, True, "1", False)
    assert story.told("alarm", "alarm again") == [("alarm", "A2-1"), ("alarm again", "A2-1")]
    assert story.found(warned).found().alarm("A2-1").latched, "a warning afterwards releases nothing"


def test_nothing_is_cleared_that_is_not_locked() -> None:
    story = AlarmStory().found("A5").found().run(minutes=2)
    with pytest.raises(Cannot, match="hangroom seen A5-1 takes it off the list"):
        story.clear("A5-1")


@pytest.mark.parametrize(("row", "delay_s"), [("S13", 60.0), ("C10", 45.0), ("C5", 120.0)])
def test_what_passes_within_its_on_delay_is_no_alarm(row: str, delay_s: float) -> None:
    assert ROWS[row].on_delay_s == delay_s
    story = AlarmStory().found(row).run(seconds=delay_s - 10.0).found().run(minutes=10)
    assert story.told() == []
    story.found(row).run(seconds=delay_s - 10.0)
    assert story.names == []
    assert story.run(seconds=10.0).names == [f"{row}-1"]


def test_what_is_gone_for_less_than_its_off_delay_is_not_over() -> None:
    delay_s = ROWS["P2"].off_delay_s
    story = AlarmStory().found("P2").found().run(seconds=delay_s - 15.0)
    assert story.alarm("P2-1").active
    story.found("P2").found().run(seconds=delay_s - 5.0)
    assert story.alarm("P2-1").active, "the delay begins anew"
    assert not story.run(seconds=5.0).alarm("P2-1").active
    assert story.told() == [("alarm", "P2-1"), ("returned", "P2-1")]


def test_a_condition_may_say_that_its_end_needs_no_delay() -> None:
    weighed = replace(lasting("P8"), off_delay_s=0.0)
    assert ROWS["P8"].off_delay_s > 0.0
    assert not AlarmStory().found(weighed).found().alarm("P8-1").active


def test_a_loose_contact_is_one_occurrence_and_calls_three_times_at_most() -> None:
    story = AlarmStory()
    for _ in range(60):
        story.found("S1").see("S1-1") if "S1-1" in story.names else story.found("S1")
        story.run(seconds=20).found().run(seconds=30)
    assert story.names == ["S1-1"]
    assert story.memory.counts == {"S1": 1}
    assert story.called_at("S1-1") <= 3
    assert story.run(minutes=11).names == [], "it was seen, and ten minutes without are the end of it"


def test_what_comes_back_within_minutes_is_the_same_occurrence_and_later_another_one() -> None:
    story = AlarmStory().found("A5").see("A5-1").found().run(minutes=9).found("A5")
    assert story.told("alarm", "alarm again") == [("alarm", "A5-1"), ("alarm again", "A5-1")]
    assert not story.alarm("A5-1").seen, "it is news"
    story.see("A5-1").found().run(minutes=11)
    assert story.names == []
    assert story.run(minutes=11).found("A5").names == ["A5-2"]


def test_one_sensor_is_one_alarm_in_whatever_way_it_fails() -> None:
    story = AlarmStory().found(lasting("S1", about="air_temp")).run(minutes=1)
    story.found(lasting("S3", about="air_temp")).run(minutes=1).found(lasting("S2", about="air_temp")).run(minutes=1)
    assert story.names == ["S1-1"]
    assert story.alarm("S1-1").what == "S2 is wrong."
    story.found(lasting("S2", about="air_temp"), lasting("S1", about="ambient_temp"))
    assert story.names == ["S1-1", "S1-2"], "another sensor is another cause"
    assert story.told("returned") == []


def test_a_sensor_that_fails_in_another_way_an_hour_later_is_another_occurrence() -> None:
    jumped, lost = lasting("S7", about="air_temp"), lasting("S1", about="air_temp")
    story = AlarmStory().found(jumped).found().run(minutes=5).found(lost)
    assert story.names == ["S7-1"]
    story.found().run(hours=1, dt_s=60.0).found(lost)
    assert story.names == ["S7-1", "S1-1"]


def test_two_rules_that_say_the_same_thing_leave_the_worse_one() -> None:
    story = AlarmStory().found(lasting("P4", priority="3"), replace(lasting("P4", priority="2"), text="Far off."))
    assert [(alarm.id, alarm.priority, alarm.what) for alarm in story.alarms] == [("P4-1", "2", "Far off.")]


@pytest.mark.parametrize("row", ["C3", "C4", "C13", "C16"])
def test_what_has_happened_and_is_over_is_there_until_somebody_has_seen_it(row: str) -> None:
    story = AlarmStory().found(row).found().run(hours=1, dt_s=60.0)
    assert story.alarm(f"{row}-1").active
    assert story.told("returned") == []
    assert story.see(f"{row}-1").names == []
    assert story.run(minutes=5).told("alarm") == [("alarm", f"{row}-1")]


# Called again.


def test_what_is_urgent_calls_each_quarter_of_an_hour_until_it_is_seen_and_then_every_two_hours() -> None:
    story = AlarmStory().found("A10").run(hours=1, dt_s=60.0)
    assert story.called_at("A10-1") == 5
    story.see("A10-1").run(hours=2, dt_s=60.0)
    assert story.called_at("A10-1") == 6
    story.run(hours=4, dt_s=60.0)
    assert story.called_at("A10-1") == 8


def test_what_is_urgent_calls_until_it_is_seen_even_if_it_is_over() -> None:
    story = AlarmStory().found("A10").found().run(hours=1, dt_s=60.0)
    assert not story.alarm("A10-1").active
    assert story.called_at("A10-1") == 5
    assert story.see("A10-1").run(hours=3, dt_s=60.0).called_at("A10-1") == 5


@pytest.mark.parametrize(("priority", "every_h"), [("2", 4), ("3", 24)])
def test_what_can_wait_calls_again_while_it_lasts_seen_or_not(priority: str, every_h: int) -> None:
    story = AlarmStory().found(lasting("A5", priority=priority)).see("A5-1").run(hours=every_h - 0.1, dt_s=60.0)
    assert story.called_at("A5-1") == 1
    story.run(hours=0.2, dt_s=60.0)
    assert story.called_at("A5-1") == 2
    story.found().run(hours=2 * every_h, dt_s=60.0)
    assert story.called_at("A5-1") == 2, "what is over and can wait calls nobody"


def test_what_gets_more_urgent_calls_at_once_with_a_new_deadline() -> None:
    story = AlarmStory().found(lasting("H2")).see("H2-1").run(hours=1, dt_s=60.0)
    assert story.alarm("H2-1").by_wall_s == pytest.approx(WALL_S + 5.0 + 86_400.0)
    story.found(lasting("H2", priority="2"))
    assert story.told()[-1] == ("alarm again", "H2-1")
    assert not story.alarm("H2-1").seen
    assert story.alarm("H2-1").by_wall_s == pytest.approx(story.wall_s + 4 * 3600.0)


# Quieted.


@pytest.mark.fault_row("H7")
def test_what_is_quiet_stays_on_the_list_and_calls_again_afterwards() -> None:
    story = AlarmStory().found("A5").quiet("A5-1", hours=8).run(hours=7.9, dt_s=60.0)
    assert story.called_at("A5-1") == 1
    assert story.alarm("A5-1").quiet_until_s is not None
    story.run(hours=0.2, dt_s=60.0)
    assert story.told()[-2:] == [("quiet", "A5-1"), ("alarm again", "A5-1")]
    assert (story.alarm("A5-1").quiet_until_s, story.alarm("A5-1").seen) == (None, False)


def test_what_is_urgent_is_quieted_for_an_hour_only_and_only_after_it_was_seen() -> None:
    story = AlarmStory().found("A10")
    with pytest.raises(Cannot, match="first say that you know of it: hangroom seen A10-1"):
        story.quiet("A10-1", minutes=30)
    story.see("A10-1")
    with pytest.raises(Cannot, match="can be quiet for 1 h at most where it asks to be answered now"):
        story.quiet("A10-1", hours=1.01)
    story.quiet("A10-1", hours=1).run(minutes=59)
    assert story.called_at("A10-1") == 1
    story.run(minutes=2)
    assert story.called_at("A10-1") == 2
    with pytest.raises(Cannot, match="first say"):
        story.quiet("A10-1", hours=1)


@pytest.mark.parametrize("hours", [8.01, -1.0, float("nan"), float("inf")])
def test_nothing_is_quieted_for_longer_than_a_night(hours: float) -> None:
    with pytest.raises(Cannot, match="can be quiet for 8 h at most"):
        AlarmStory().found("A5").quiet("A5-1", hours=hours)


def test_quiet_ends_when_it_gets_worse() -> None:
    story = AlarmStory().found(lasting("P1")).quiet("P1-1", hours=8).run(minutes=20)
    story.found(lasting("P1", priority="1", level=1))
    assert story.called_at("P1-1") == 2
    assert story.alarm("P1-1").quiet_until_s is None


def test_what_comes_and_goes_while_it_is_quiet_does_so_in_silence_and_is_told_in_the_diary() -> None:
    story = AlarmStory().found("A5").quiet("A5-1", hours=2)
    for _ in range(5):
        story.found().run(minutes=11).found("A5").run(minutes=5)
    assert story.called_at("A5-1") == 1
    assert ("returned", "A5-1") in story.told()
    assert story.told("quiet")[1:], "that it is there again"
    story.found().run(hours=2, dt_s=60.0)
    assert story.names == []
    assert story.events[-1].text == "humidifier gives nothing: it is quiet no longer."


def test_quiet_can_be_ended_and_is_not_given_to_what_is_over() -> None:
    story = AlarmStory().found("A5").quiet("A5-1", hours=2).quiet("A5-1")
    assert story.alarm("A5-1").quiet_until_s is None
    with pytest.raises(Cannot, match="is not quiet"):
        story.quiet("A5-1")
    story.found("A4").see("A4-1").found()
    with pytest.raises(Cannot, match="hangroom clear A4-1 releases what it locks"):
        story.quiet("A4-1", minutes=5)
    with pytest.raises(Cannot, match="there is no such alarm now"):
        story.quiet("A4-9", minutes=5)


# One cause, one alarm.


def test_what_follows_from_an_alarm_is_none_of_its_own_but_stands_beside_it() -> None:
    story = AlarmStory().found("A3").found("A3", "P4", "P6")
    assert story.names == ["A3-1"]
    assert sorted(story.alarm("A3-1").hides) == ["P4", "P6"]


def test_a_cause_and_its_consequence_in_the_same_tick_are_one_alarm() -> None:
    assert AlarmStory().found("P4", "P2", "A3", "A4").names == ["A4-1"]


def test_what_came_up_just_before_its_cause_was_found_follows_from_it_and_ends_in_silence() -> None:
    story = AlarmStory().found("P4").run(minutes=10).found("P4", "A3").run(minutes=10)
    assert story.alarm("P4-1").follows == "A3-1"
    assert story.told() == [("alarm", "P4-1"), ("alarm", "A3-1"), ("follows", "P4-1")]
    story.see("A3-1").found().run(minutes=3)
    assert story.names == [], "nobody has to have seen what followed"
    assert ("returned", "P4-1") in story.told(), "the diary has its end all the same"


def test_what_ended_just_when_its_cause_was_found_followed_from_it_too() -> None:
    story = AlarmStory().found(replace(lasting("S9", priority="3"), warns=True)).run(minutes=1).found("S6")
    assert story.names == ["S6-1"], "a thermometer that is stuck is no witness, so the disagreement is over"
    assert story.told() == [("alarm", "S9-1"), ("returned", "S9-1"), ("alarm", "S6-1"), ("follows", "S9-1")]


def test_what_was_there_long_before_is_a_cause_of_its_own() -> None:
    story = AlarmStory().found("P4").run(hours=5, dt_s=60.0).found("P4", "A3")
    assert story.alarm("P4-1").follows == ""


def test_what_outlasts_its_cause_becomes_an_alarm_after_a_quarter_of_an_hour() -> None:
    story = AlarmStory().found("A3").see("A3-1").found("A3", "P4").run(hours=1, dt_s=60.0).found("P4").run(minutes=14)
    assert story.names == []
    assert story.run(minutes=2.5).names == ["P4-1"]
    story = AlarmStory().found("P4").run(minutes=10).found("P4", "A3").run(minutes=30).see("A3-1").found("P4")
    story.run(minutes=2)
    assert (story.alarm("P4-1").follows, story.called_at("P4-1")) == ("", 1)
    assert story.run(minutes=17.5).called_at("P4-1") == 2


def test_what_is_urgent_calls_at_once_when_its_cause_is_over() -> None:
    story = AlarmStory().found("P1").see("P1-1").found("P1", "P6").run(minutes=5).found("P6")
    assert story.names == ["P6-1"]


def test_a_quieted_alarm_hides_nothing_that_is_more_urgent() -> None:
    story = AlarmStory().found("P1").quiet("P1-1", hours=8).found("P1", "P4")
    assert story.names == ["P1-1"]
    assert story.found("P1", "P4", "P6").names == ["P1-1", "P6-1"]


def test_what_is_more_urgent_than_its_cause_is_an_alarm_of_its_own() -> None:
    story = AlarmStory().found(lasting("A3", priority="2"), lasting("P4", priority="3"))
    assert story.names == ["A3-1"]
    assert story.found(*story.wrong, "P6").names == ["A3-1", "P6-1"]
    assert AlarmStory().found("A3", "P4", "P6").names == ["A3-1"], "as urgent as its cause"
    story = AlarmStory().found("P6").run(minutes=5).found("P6", lasting("A3", priority="2"))
    assert story.alarm("P6-1").follows == ""


def test_what_was_over_and_comes_back_beside_its_cause_follows_from_it_and_does_not_call() -> None:
    story = AlarmStory().found("P4").run(minutes=5).found().run(minutes=30)
    story.found("P4", "P6").run(minutes=30)
    assert story.told("alarm", "alarm again")[:2] == [("alarm", "P4-1"), ("alarm", "P6-1")]
    assert ("alarm again", "P4-1") not in story.told()
    assert story.alarm("P6-1").hides == ("P4",)
    assert not story.alarm("P4-1").active
    story.see("P6-1").found("P4").run(minutes=10)
    assert ("alarm again", "P4-1") not in story.told(), "it may pass by itself"
    story.run(minutes=10)
    assert ("alarm again", "P4-1") in story.told()


def test_a_lost_humidity_sensor_explains_no_cold() -> None:
    lost = lasting("S1", about="rh")
    story = AlarmStory().found(lost, "A3", "A6", lasting("P4", about="air_temp"), lasting("P2", about="rh"))
    assert story.names == ["S1-1", "A3-1"], "the cold is the lamp's"
    assert story.alarm("S1-1").hides == ("A6", "P2")
    assert AlarmStory().found(lasting("S1", about="ambient_temp"), "A3", "A5").names == ["S1-1", "A3-1", "A5-1"]


def test_no_water_explains_dry_air_and_not_the_cold() -> None:
    story = AlarmStory().found("A5", lasting("P4", about="air_temp"), lasting("P4", about="rh"))
    assert story.names == ["A5-1", "P4-1"]
    assert story.alarm("P4-1").about == "air_temp"


def test_a_trip_is_hidden_only_by_what_takes_as_much_away() -> None:
    assert AlarmStory().found("S1", "A2").names == ["S1-1", "A2-1"]
    assert AlarmStory().found("S9", "A2").names == ["S9-1", "A2-1"]
    assert AlarmStory().found("A1", "A2").names == ["A1-1"]
    assert AlarmStory().found("H9", "S9").names == ["H9-1"]


def test_what_concerns_another_batch_is_another_cause() -> None:
    story = AlarmStory().found(Condition("P9", "Much is used.", "b"), Condition("H2", "No pH.", "b"))
    assert story.names == ["P9-1"]
    story.found(*story.wrong, Condition("H2", "No pH.", "c"))
    assert story.names == ["P9-1", "H2-1"]


# Many at once, and many altogether.


def test_many_alarms_at_once_are_told_as_one_and_the_first_is_named() -> None:
    rows = ["S1", "C1", "C5", "C8", "C9", "P10", "P12"]
    story = AlarmStory()
    for count in range(1, len(rows) + 1):
        story.found(*rows[:count]).run(minutes=1)
    story.run(minutes=2)
    assert story.told("flood") == [("flood", "S1-1")]
    flood = next(event for event in story.events if event.kind == "flood")
    assert flood.text == "6 alarms in 10 min. The first was S1-1: S1 is wrong. Look at that one first."
    assert story.memory.calling.flood == "S1-1"
    story.run(minutes=10)
    assert story.memory.calling.flood == ""
    assert story.told("flood") == [("flood", "S1-1"), ("flood", "S1-1")]


def test_only_so_many_are_remembered_and_none_that_needs_somebody_is_forgotten() -> None:
    story = AlarmStory().found("A4", *(lasting("P10", about=f"x{number}") for number in range(KEPT + 20)))
    assert len(story.alarms) == KEPT + 21, "all of them are there"
    story.found("A4", lasting("P10", about="new"))
    assert len(story.alarms) == KEPT
    assert {"A4-1", f"P10-{KEPT + 21}"} <= set(story.names)
    assert "P10-1" not in story.names


# Over a restart, and with another clock.


def test_an_alarm_outlives_a_restart_without_being_over_and_new_again() -> None:
    story = AlarmStory().found("A3").see("A3-1").run(minutes=10).restart(30.0)
    story.found().run(minutes=15)
    assert story.alarm("A3-1").active, "the rule needs 20 minutes to see it again"
    story.found("A3").run(minutes=30)
    assert story.told("alarm", "returned", "alarm again") == [("alarm", "A3-1")]
    story.found().run(minutes=2)
    assert story.names == []


def test_an_alarm_whose_cause_went_with_the_restart_is_over_when_its_rule_has_looked() -> None:
    story = AlarmStory().found("A3").see("A3-1").restart(30.0).found().run(minutes=21)
    assert story.names == []
    story = AlarmStory().found("S1").see("S1-1").restart(30.0).found().run(seconds=65)
    assert story.names == []


def test_quiet_goes_on_over_a_restart_of_the_program_for_the_rest_of_its_time() -> None:
    story = AlarmStory().found("A5").quiet("A5-1", hours=2).run(hours=1, dt_s=60.0).restart(1800.0).found("A5")
    story.run(minutes=29)
    assert story.called_at("A5-1") == 1
    assert story.run(minutes=2).called_at("A5-1") == 2


def test_a_new_boot_of_the_machine_ends_what_was_quieted() -> None:
    story = AlarmStory().found("A5").quiet("A5-1", hours=2).restart(60.0, same_boot=False).found("A5")
    assert story.told()[-2:] == [("quiet", "A5-1"), ("alarm again", "A5-1")]
    assert not story.alarm("A5-1").seen


def test_what_is_due_is_called_after_a_gap_and_all_is_where_nobody_knows_how_long_it_was() -> None:
    story = AlarmStory().found("A5").see("A5-1").restart(3 * 3600.0, same_boot=False).found("A5").run(minutes=50)
    assert story.called_at("A5-1") == 1
    assert story.run(minutes=15).called_at("A5-1") == 2
    story.restart(None, same_boot=False).found("A5")
    assert story.called_at("A5-1") == 3


def test_a_clock_that_is_put_right_moves_the_times_that_people_read() -> None:
    story = AlarmStory().found("A5")
    moved = by_new_clock(story.alarms, 3600.0, float("-inf"), float("inf"))[0]
    old = story.alarm("A5-1")
    assert old.by_wall_s is not None
    assert (moved.since_wall_s, moved.by_wall_s) == (old.since_wall_s + 3600.0, old.by_wall_s + 3600.0)
    assert by_new_clock(story.alarms, 3600.0, old.since_wall_s + 1.0, float("inf")) == story.alarms


def test_what_should_have_been_answered_by_now_says_that_it_is_overdue() -> None:
    story = AlarmStory().found("H9")
    assert "Do this by " in story.alarm("H9-1").text
    story.run(minutes=29)
    assert not alarm_status(story.alarm("H9-1"), story.now_s, story.wall_s).overdue
    story.run(minutes=17)
    again = [event.text for event in story.events if event.kind == "alarm again"]
    assert "Do this by " in again[0], "after a quarter of an hour there is another one"
    assert "This was to be done by " in again[-1]
    assert "it is overdue." in again[-1]
    shown = alarm_status(story.alarm("H9-1"), story.now_s, story.wall_s)
    assert shown.overdue
    assert re.match(r"H9-1  \S+ \S+  act now, OVERDUE since \d\d:\d\d: ", describe_alarm(shown, "UTC", "C"))
