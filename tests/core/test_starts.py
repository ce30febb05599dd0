"""Starts that followed no stop: a program that crashes, and a supply that comes and goes."""

import pytest

from controller.core.requests import Clear
from controller.core.values import FAILS, Health, Trouble
from tests.helpers.bench_chamber import Bench
from tests.helpers.outages import alarms, answered, cut, hung

MIN = 1.0 / 60.0


def rows(bench: Bench) -> list[str]:
    return [row for row, _ in alarms(bench)]


def burns(bench: Bench, minutes: float = 1.0) -> bool:
    """Let a window of the lamp pass, and say whether it was on in it."""
    before_s = bench.memory.outputs["heater"].on_total_s
    return bench.run(minutes=minutes).memory.outputs["heater"].on_total_s > before_s


# Crashes of the program.


def test_a_cut_of_the_power_is_no_crash_of_the_program() -> None:
    story = hung()
    for _ in range(3):
        cut(story, 1 * MIN).run(minutes=1)
    assert "C2" not in rows(story)


@pytest.mark.fault_row("C2")
def test_a_crash_loop_is_one_alarm_that_calls_once() -> None:
    story = hung()
    for _ in range(8):
        cut(story, 0.1 * MIN, boot_id=story.memory.boot_id).run(minutes=0.5)
    assert rows(story) == ["C2"]
    crash_events = [event for event in story.events if "program crashes" in event or "ends of the program" in event]
    assert len(crash_events) == 1


def test_it_is_over_ten_minutes_after_the_last_crash_and_stays_locked_until_a_person_clears_it() -> None:
    story = hung()
    for _ in range(3):
        cut(story, 0.1 * MIN, boot_id=story.memory.boot_id).run(minutes=0.5)
    name = story.memory.alarms[0].id
    story.run(minutes=7, air_temp=34.0, rh_temp=34.0)
    assert answered(story, Clear(id="a", alarm=name))[0] is False
    assert not burns(story, 3.0)
    assert answered(story, Clear(id="b", alarm=name))[0] is True
    assert rows(story) == ["P11"]  # It was paused, and waits.


@pytest.mark.fault_row("C2")
def test_a_start_after_a_crash_that_no_disk_takes_down_gives_heat_only_once_it_has_outlived_a_loop() -> None:
    story = hung()
    story.trouble = (Trouble("C7", "The disk can only be read.", level=FAILS),)
    before_the_loop = story.memory
    for _ in range(6):  # Each begins with what was kept before the first of them.
        story.memory = before_the_loop
        cut(story, 0.1 * MIN, boot_id=before_the_loop.boot_id)
        assert not burns(story.run(minutes=0.5), 3.0)
        assert story.outcome is not None
        assert "C7" in story.outcome.interlocks
    story.run(minutes=7)
    assert burns(story), "ten minutes without a crash: it goes on, and the alarm of the disk stands"


def test_a_disk_that_takes_something_again_knows_of_the_last_start_only_and_not_of_those_before() -> None:
    """Found by a campaign (seed 30168): four crashes before a full disk, and heat as soon as it had room again."""
    story = hung()
    story.trouble = (Trouble("C6", "The disk is full.", level=FAILS),)
    before_the_loop = story.memory
    for _ in range(4):
        story.memory = before_the_loop
        cut(story, 0.1 * MIN, boot_id=before_the_loop.boot_id).run(minutes=0.5)
    story.trouble = ()
    assert not burns(story.run(minutes=1), 8.5)
    assert story.outcome is not None
    assert "C6" in story.outcome.interlocks
    assert burns(story, 1.0), "ten minutes without a crash"
    story.trouble = (Trouble("C6", "The disk is full.", level=FAILS),)
    assert burns(story, 3.0), "this start has outlived a loop"
    story.trouble = ()
    assert burns(cut(story, 0.1 * MIN, boot_id=before_the_loop.boot_id).run(minutes=0.5), 3.0), "it was written down"


def test_crashes_before_a_full_disk_that_seem_to_be_boots_give_no_heat_before_one_has_outlived_a_loop() -> None:
    """Found by a campaign (seed 52039): the power failed, then four crashes; the disk hid that two of them were any."""
    story = hung()
    before_the_cut = story.memory
    story.trouble = (Trouble("C6", "The disk is full.", level=FAILS),)
    for _ in range(3):
        story.memory = before_the_cut
        assert not burns(cut(story, 0.1 * MIN, boot_id="boot-2").run(minutes=0.5), 1.0)
    story.trouble = ()
    assert not burns(story, 1.0)
    for _ in range(2):
        assert not burns(cut(story, 0.1 * MIN, boot_id="boot-2").run(minutes=0.5), 1.0)
        assert story.outcome is not None
        assert "C6" in story.outcome.interlocks
    assert not burns(story, 8.0)
    assert burns(story, 2.0), "ten minutes without a crash"


def test_a_boot_before_a_good_disk_gives_heat_at_once() -> None:
    assert burns(cut(hung(), 0.1 * MIN, boot_id="boot-2").run(minutes=0.5), 3.0)


def test_it_gives_heat_at_once_where_the_crash_was_written_down_or_there_was_none() -> None:
    story = cut(hung(), 0.1 * MIN, boot_id="boot-1")
    assert burns(story.run(minutes=0.5), 3.0)
    story.trouble = (Trouble("C6", "Less room than there should be.", level=1),)
    assert burns(story, 3.0)
    story = cut(hung(), 0.1 * MIN, clean=True, boot_id="boot-1")
    story.trouble = (Trouble("C7", "The disk can only be read.", level=FAILS),)
    assert burns(story.run(minutes=0.5), 3.0)


def test_crashes_are_counted_by_a_clock_that_no_step_of_the_wall_touches() -> None:
    story = hung()
    for step_h in (500.0, -3000.0, 7.0):
        cut(story, 0.1 * MIN, boot_id=story.memory.boot_id)
        story.wall_s += step_h * 3600.0
        story.run(minutes=0.5)
    assert "C2" in rows(story)


@pytest.mark.parametrize(("cut_min", "locked"), [(0.5, True), (9.0, True), (11.0, False)])
def test_a_short_cut_of_the_power_does_not_make_crashes_forgotten(cut_min: float, *, locked: bool) -> None:
    """Another boot counts from nought again; what was ten minutes ago is ten minutes ago all the same."""
    story = hung()
    for _ in range(2):
        cut(story, 0.1 * MIN, boot_id=story.memory.boot_id)
    cut(story, cut_min * MIN)
    cut(story, 0.1 * MIN, boot_id=story.memory.boot_id).run(minutes=0.5)
    assert ("C2" in rows(story)) is locked


@pytest.mark.parametrize(("away_min", "clean"), [(8.0, False), (60.0, False), (60.0, True)])
def test_the_minutes_in_which_it_could_not_start_make_no_crash_older(away_min: float, *, clean: bool) -> None:
    """Found by a campaign (seed 30397): the third crash, and a disk that refused each start until the first was old."""
    story = hung()
    for _ in range(2):
        cut(story, 0.1 * MIN, boot_id=story.memory.boot_id).run(minutes=1)
    cut(story, away_min * MIN, clean=clean, boot_id=story.memory.boot_id)
    if clean:
        cut(story.run(minutes=1), 0.1 * MIN, boot_id=story.memory.boot_id)
    story.run(minutes=0.5)
    assert "C2" in rows(story)
    assert not burns(story, 8.0)


def test_ten_minutes_of_running_well_make_a_crash_old() -> None:
    story = hung()
    for _ in range(2):
        cut(story, 0.1 * MIN, boot_id=story.memory.boot_id).run(minutes=1)
    cut(story.run(minutes=10), 0.1 * MIN, boot_id=story.memory.boot_id)
    assert "C2" not in rows(story.run(minutes=0.5))


# Mains that dip.


@pytest.mark.fault_row("C14")
def test_the_fourth_boot_in_an_hour_gives_no_heat_until_ten_quiet_minutes_have_passed() -> None:
    story = hung()
    for _ in range(3):
        cut(story, 1 * MIN).run(minutes=5, air_temp=34.0, rh_temp=34.0)
        assert burns(story)
    assert "C14" not in rows(story)
    cut(story, 1 * MIN)
    assert not burns(story, 9.0)
    assert "C14" in rows(story)
    assert story.batch.state == "suspended"
    story.run(minutes=1.5)
    assert burns(story)
    assert story.batch.state == "running"
    assert not any(alarm.active and alarm.row == "C14" for alarm in story.memory.alarms)


def test_four_boots_in_more_than_an_hour_lock_nothing() -> None:
    story = hung()
    for _ in range(4):
        cut(story, 1 * MIN).run(minutes=20.5)
    assert "C14" not in rows(story)


def test_where_nobody_knows_how_far_apart_the_boots_were_they_count_as_near() -> None:
    story = hung()
    for _ in range(4):
        cut(story, 1 * MIN, told=False).run(minutes=2)
    assert "C14" in rows(story)


def test_the_compressor_rests_in_full_after_each_boot() -> None:
    story = cut(hung(stage=2, passed=True, air_c=20.0), 1 * MIN).run(minutes=4.5)
    assert not story.outcome.commands.is_on("cooler", story.now_s)  # type: ignore[union-attr]
    story.run(minutes=2)
    assert story.outcome.commands.is_on("cooler", story.now_s)  # type: ignore[union-attr]


@pytest.mark.parametrize(("bursts", "locked"), [(3, False), (4, True)])
def test_bursts_of_a_weak_supply_count_as_boots_do(bursts: int, locked: bool) -> None:  # noqa: FBT001
    story = hung().run(minutes=1, air_temp=35.5, rh_temp=35.5)
    for _ in range(bursts):
        for low in (True, False, True, False, True, False):
            story.health = Health(low_voltage=low)
            story.tick()
        story.run(minutes=3)
    assert ("C14" in rows(story)) == locked
    assert burns(story) != locked
    story.run(minutes=8)
    assert burns(story)


def test_single_times_of_a_weak_supply_are_no_bursts() -> None:
    story = hung()
    for _ in range(9):
        for low in (True, False):
            story.health = Health(low_voltage=low)
            story.tick()
        story.run(minutes=2)
    assert "C14" not in rows(story)


def test_a_stop_and_a_start_by_hand_are_neither() -> None:
    story = hung()
    for _ in range(6):
        cut(story, 1 * MIN, clean=True).run(minutes=2)
    assert rows(story) == []
