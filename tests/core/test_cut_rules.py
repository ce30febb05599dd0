"""What a cut of the power means, by its length and by the state of the meat: the table of the module, row by row."""

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from controller.core.plan import Stage, Until
from controller.core.requests import Hold, Ph, Resume, Seen
from tests.helpers.bench_chamber import Bench
from tests.helpers.outages import TIMED, alarms, answered, clock_set, cut, hung, waiting

MIN = 1.0 / 60.0
CHILL = replace(TIMED, stages=(*TIMED.stages[:2], replace(TIMED.stages[3], kind="chill", air_temp_c=2.0)))
SMOKED = replace(
    TIMED, stages=(*TIMED.stages[:2], Stage(name="smoke", kind="smoke", air_temp_c=25.0, until=Until(hours=1.0)))
)


def ph(bench: Bench, value: float, name: str, ago_h: float = 0.0) -> Ph:
    at_s = bench.wall_s - ago_h * 3600.0
    return Ph(id=name, at_wall_s=at_s, value=value, instrument="meter", sample="sausage", sure=True)


# Up to a quarter of an hour.


def drying() -> Bench:
    return hung(stage=2, passed=True, air_c=13.0)


def chilling() -> Bench:
    return hung(CHILL, 2, passed=True)


@pytest.mark.parametrize("bench", [waiting, hung, drying, chilling])
def test_up_to_a_quarter_of_an_hour_it_is_told_and_nothing_more(bench: Callable[[], Bench]) -> None:
    story = cut(bench(), 15 * MIN).run(minutes=2)
    assert story.batch.state == "running"
    assert alarms(story) == []
    assert sum(event.startswith("gap") for event in story.events) == 1


def test_what_the_thermometers_show_after_the_return_is_told_beside_what_they_showed() -> None:
    story = cut(hung(), 5 * MIN).run(minutes=1, air_temp=35.0)
    (told,) = [event for event in story.events if event.startswith("back")]
    assert told == "back: After the return: air 35.0 °C, before 36.0 °C; 85 % RH."


# Up to eight hours.


def test_a_ferment_goes_on_and_a_new_ph_is_wanted_within_the_hour() -> None:
    story = cut(hung(), 2.0).run(minutes=2)
    assert story.batch.state == "running"
    assert alarms(story) == [("C16", "1")]
    (alarm,) = story.memory.alarms
    assert "for up to 2.0 h" in alarm.text
    assert "Do this by 2026-01-05 12:21 UTC" in alarm.text  # An hour after the return.
    story.run(minutes=60)
    assert any("Measure the pH now" in event for event in story.events)


def test_the_ferment_does_not_end_before_a_ph_that_was_measured_after_the_return() -> None:
    story = cut(hung(), 2.0).run(minutes=5)
    story.tick(ph(story, 4.6, "typed late", ago_h=2.0)).run(minutes=1)
    assert story.batch.stage.name == "ferment"
    story.tick(ph(story, 4.6, "after")).run(minutes=1)
    assert story.batch.stage.name == "dry"


@pytest.mark.fault_row("C16")
@pytest.mark.parametrize("at_once", [True, False])
def test_a_stage_does_not_end_by_time_before_somebody_has_seen_the_alarm(*, at_once: bool) -> None:
    story = cut(drying(), 1.0, told=at_once).run(minutes=2)
    if not at_once:
        clock_set(story, 1.0)  # As on a computer without a clock battery.
        story.memory = replace(story.memory, alarms=tuple(a for a in story.memory.alarms if a.row == "C16"))
    story.run(minutes=130)
    assert alarms(story) == [("C16", "2")]
    assert story.batch.stage_at_conditions_s > 2.0 * 3600.0
    assert story.batch.stage.name == "dry"
    story.tick(Seen(id="s", alarm=story.memory.alarms[0].id)).run(minutes=1)
    assert story.batch.stage.name == "rest"


def test_hours_at_the_right_climate_stand_still_in_the_gap_and_the_elapsed_ones_do_not() -> None:
    story = drying().run(minutes=30)
    hours, elapsed_s = story.batch.stage_at_conditions_s, story.batch.stage_elapsed_s
    cut(story, 1.0)
    assert story.batch.stage_at_conditions_s == hours
    assert story.batch.stage_elapsed_s == pytest.approx(elapsed_s + 3600.0)


@pytest.mark.parametrize("bench", [waiting, chilling])
def test_cold_meat_may_have_been_too_warm_and_a_person_decides(bench: Callable[[], Bench]) -> None:
    story = cut(bench(), 3.0).run(minutes=1)
    assert alarms(story) == [("C16", "1")]
    assert "above 4 °C for up to 3.0 h; perishables are given 2 h there. You decide." in story.memory.alarms[0].text


def test_meat_that_soured_in_a_ferment_behind_it_and_has_no_5_3_counts_as_unsoured() -> None:
    story = cut(hung(SMOKED, 2), 1.0).run(minutes=1)
    assert ("C16", "1") in alarms(story)
    story = cut(hung(SMOKED, 2, passed=True), 1.0).run(minutes=1)
    assert alarms(story) == [("C16", "2")]


# Longer, or of unknown length.


@pytest.mark.parametrize("told", [True, False])
def test_nothing_heats_by_itself_and_what_cools_goes_to_the_coolest_stage(*, told: bool) -> None:
    story = cut(hung(), 9.0, told=told).run(minutes=20, air_temp=25.0, rh_temp=25.0, rh=50.0)
    assert story.batch.state == "held"
    assert story.heat_spans == [] or max(began for began, _ in story.heat_spans) > 50.0 + 1200.0 or not story.heat_on
    outcome = story.outcome
    assert outcome is not None
    assert outcome.wanted.air_temp_c == 12.0  # Of the last stage.
    assert outcome.commands.is_on("cooler", story.now_s)
    assert not outcome.commands.is_on("heater", story.now_s)
    assert not outcome.commands.is_on("humidifier", story.now_s)
    assert story.memory.outputs["fan"].on_total_s > hung().memory.outputs["fan"].on_total_s


def test_while_it_is_found_out_how_long_a_cut_was_nobody_is_called_and_then_it_is_said() -> None:
    story = cut(hung(), 30.0 / 3600.0, told=False)
    (waits,) = [event for event in story.events if event.startswith("state")]
    assert waits.startswith("state: Waits, without heat: a time of unknown length without the program; how long it was")
    assert waits.endswith("Nobody need act before.")
    story.run(minutes=20, air_temp=20.0, rh_temp=20.0, rh=50.0)  # Cold as its room: neither clock nor cooling can tell.
    later = [event for event in story.events if event.startswith("state")][1:]
    said = "state: Paused, waits for you: a time of unknown length without the program; look at the meat and measure."
    assert later == [said]
    assert story.batch.held_because.endswith("look at the meat and measure")
    assert ("C16", "1") in alarms(story)


def test_a_ferment_goes_on_only_with_a_new_ph_and_a_reason() -> None:
    story = cut(hung(), 9.0).run(minutes=2)
    assert alarms(story) == [("C16", "1")]
    done, text = answered(story, Resume(id="a", because="smells fine"))
    assert not done
    assert "measure the pH of a sausage first" in text
    story.tick(ph(story, 5.2, "p"))
    done, text = answered(story, Resume(id="b"))
    assert not done
    assert "smell it" in text
    done, _ = answered(story, Resume(id="c", because="smells sour, looks dry and firm"))
    assert done
    assert story.batch.state == "running"


def test_one_that_is_over_its_degree_hours_goes_on_only_as_any_other_that_is_over() -> None:
    story = cut(hung(), 40.0).run(minutes=2)
    story.tick(ph(story, 5.6, "p"))
    done, text = answered(story, Resume(id="a"))
    assert not done
    assert "Over the limit" in " ".join(alarm.text for alarm in story.memory.alarms)
    assert "smell it" in text or "over its degree-hours" in text
    assert not story.heat_on


def test_a_drying_waits_for_a_look_and_a_reason() -> None:
    story = cut(drying(), 9.0).run(minutes=2)
    assert story.batch.state == "held"
    assert answered(story, Resume(id="a"))[0] is False
    assert answered(story, Resume(id="b", because="surface dry, no smell"))[0] is True


def test_raw_meat_after_a_long_cut_waits_for_who_decides() -> None:
    story = cut(waiting(), 20.0).run(minutes=2)
    assert story.batch.state == "held"
    assert not story.heat_on
    assert "You decide" in story.memory.alarms[0].text


def test_an_alarm_that_was_latched_before_the_cut_still_locks_the_heat() -> None:
    story = hung().run(minutes=2, air_temp=46.0, rh_temp=46.0).run(minutes=2, air_temp=36.0, rh_temp=36.0)
    assert story.batch.state == "held"
    cut(story, 5 * MIN).run(minutes=5, air_temp=34.0, rh_temp=34.0)
    assert story.batch.state == "held"
    assert not story.heat_on


def test_who_waits_after_a_long_cut_is_called_again_hours_after_the_alarm_was_seen() -> None:
    story = cut(drying(), 9.0).run(minutes=2, air_temp=12.0, rh_temp=12.0)
    story.tick(Seen(id="s", alarm=story.memory.alarms[0].id)).run(minutes=100)
    assert alarms(story) == []
    story.run(minutes=30)
    assert ("P11", "1") in alarms(story)


# Several cuts.


def test_the_fourth_short_cut_in_a_day_counts_as_a_longer_one() -> None:
    story = hung()
    for _ in range(3):
        cut(story, 2 * MIN).run(minutes=90)
    assert alarms(story) == []
    cut(story, 2 * MIN).run(minutes=1)
    assert alarms(story) == [("C16", "1")]
    assert "4 times in this stage" in story.memory.alarms[0].text


def test_short_cuts_of_more_than_an_hour_in_one_stage_count_as_a_longer_one() -> None:
    story = drying()
    for _ in range(4):
        cut(story, 14 * MIN, boot_id=story.memory.boot_id).run(minutes=11)  # Of the program: no cut of the power.
    assert "C16" not in [row for row, _ in alarms(story)]
    cut(story, 14 * MIN, boot_id=story.memory.boot_id).run(minutes=1)
    assert ("C16", "2") in alarms(story)


def test_long_cuts_of_more_than_eight_hours_in_one_stage_count_as_the_longest() -> None:
    story = drying()
    cut(story, 5.0).run(minutes=2)
    assert story.batch.state == "running"
    cut(story, 4.0).run(minutes=2)
    assert story.batch.state == "held"


def test_cuts_of_the_stage_before_do_not_count_for_the_sum() -> None:
    story = cut(hung(passed=True), 50 * MIN).run(minutes=2)
    story.memory = replace(story.memory, alarms=(), batches=(replace(story.batch, stage_index=2, stage_elapsed_s=0.0),))
    cut(story, 14 * MIN).run(minutes=1)
    assert alarms(story) == []


@pytest.mark.fault_row("C16")
@pytest.mark.parametrize("clean", [True, False])
def test_a_long_cut_that_a_person_has_answered_makes_no_long_one_of_a_short_stop(*, clean: bool) -> None:
    story = cut(hung(), 9.0).run(minutes=2)
    story.tick(ph(story, 5.2, "p"), Resume(id="c", because="smells sour, looks dry and firm"))
    story.tick(*(Seen(id=f"s{alarm.id}", alarm=alarm.id) for alarm in story.memory.alarms)).run(minutes=60)
    cut(story, 5 / 3600, boot_id=story.memory.boot_id, clean=clean).run(minutes=2)
    assert story.batch.state == "running"
    assert "C16" not in [row for row, _ in alarms(story)]
    cut(story, 9.0).run(minutes=2)
    assert story.batch.state == "held", "the next long one is another"


def test_so_does_one_of_which_a_clock_tells_only_after_the_answer() -> None:
    story = cut(drying(), 9.0, told=False).run(minutes=7)
    story.tick(Resume(id="r", because="surface dry, no smell"))
    clock_set(story, 9.0).run(minutes=2)
    assert story.batch.state == "running"
    story.tick(*(Seen(id=f"s{alarm.id}", alarm=alarm.id) for alarm in story.memory.alarms)).run(minutes=10)
    cut(story, 5 / 3600, boot_id=story.memory.boot_id, clean=True).run(minutes=2)
    assert story.batch.state == "running"


def test_a_cut_whose_alarm_was_seen_is_added_up_no_more_and_one_that_nobody_saw_is() -> None:
    def story(*, seen: bool) -> Bench:
        bench = cut(drying(), 50 * MIN).run(minutes=2)
        if seen:
            bench.tick(Seen(id="s", alarm=bench.memory.alarms[0].id))
        bench.memory = replace(bench.memory, alarms=())
        return cut(bench, 14 * MIN).run(minutes=2)

    assert alarms(story(seen=True)) == []
    assert alarms(story(seen=False)) == [("C16", "2")]
    long = cut(hung(), 9.0).run(minutes=2)
    long.tick(Seen(id="s", alarm=long.memory.alarms[0].id)).run(minutes=2)
    assert long.batch.away.counted_s > 8 * 3600.0, "to have seen it is no answer where the batch waits"


@pytest.mark.parametrize("stops", [0, 20, 40])
def test_no_number_of_short_stops_pushes_a_long_cut_out_of_the_sum(stops: int) -> None:
    story = cut(drying(), 7.0).run(minutes=1)
    for _ in range(stops):
        cut(story, 5 / 3600, boot_id=story.memory.boot_id, clean=True).run(minutes=0.5)
    cut(story, 2.0).run(minutes=1)
    assert story.batch.state == "held"
    text = next(alarm.text for alarm in story.memory.alarms if alarm.row == "C16")
    assert f"{stops + 2} times in this stage, 9." in text


def test_nor_the_cuts_of_a_day_out_of_their_count() -> None:
    story = hung()
    for _ in range(3):
        cut(story, 1 * MIN).run(minutes=25)
    for _ in range(25):
        cut(story, 5 / 3600, boot_id=story.memory.boot_id, clean=True).run(minutes=0.5)
    assert alarms(story) == []
    cut(story, 1 * MIN).run(minutes=1)
    assert alarms(story) == [("C16", "1")]


def test_a_machine_that_was_shut_down_had_no_cut() -> None:
    story = hung()
    for _ in range(5):
        cut(story, 2 * MIN, clean=True).run(minutes=20)
    assert alarms(story) == []


# Nobody knows how long, until the network tells.


def test_while_the_network_may_still_tell_nobody_is_called_and_nothing_heats() -> None:
    story = cut(hung(), 10 * MIN, told=False).run(minutes=4, air_temp=34.0, rh_temp=34.0)
    assert story.batch.state == "held"
    assert not story.heat_on
    assert [row for row, _ in alarms(story)] == ["C5"]
    clock_set(story, 10 * MIN).run(minutes=1)
    assert story.batch.state == "running"
    assert "C16" not in [row for row, _ in alarms(story)]


def test_when_it_has_not_told_in_five_minutes_a_person_is_called() -> None:
    story = cut(hung(), 10 * MIN, told=False).run(minutes=6)
    assert ("C16", "1") in alarms(story)
    assert "for an unknown time" in next(alarm.text for alarm in story.memory.alarms if alarm.row == "C16")
    clock_set(story, 10 * MIN).run(minutes=1)
    assert story.batch.state == "running"
    assert "for up to 10 min, as the clock tells" in next(a.text for a in story.memory.alarms if a.row == "C16")


def test_what_a_person_paused_meanwhile_no_clock_lets_go() -> None:
    story = cut(hung(), 10 * MIN, told=False).run(minutes=1).tick(Hold(id="h", because="my hand is in it"))
    clock_set(story, 10 * MIN).run(minutes=1)
    assert story.batch.state == "held"
