"""The computer under the program: what is said of it, when it is over, and what it does to the outputs."""

from math import inf

import pytest
from msgspec.structs import replace

from controller.core.memory import Memory
from controller.core.requests import Clear, Start
from controller.core.restart import after_restart
from controller.core.thresholds import Thresholds
from controller.core.values import Health, Trouble
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench

WELL = Health(
    low_voltage=False,
    processor_c=50.0,
    disk_free_mb=5000.0,
    disk_free_share=0.5,
    disk_read_only=False,
    reset_by_watchdog=False,
)


@pytest.fixture
def idle() -> Bench:
    """Return a chamber without a batch: the computer is looked after all the same."""
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    bench.health = WELL
    return bench.run(minutes=2)


def alarms(bench: Bench) -> list[tuple[str, str]]:
    """Return row and priority of each alarm whose cause is there."""
    return [(alarm.row, alarm.priority) for alarm in bench.memory.alarms if alarm.active]


def text_of(bench: Bench, row: str) -> str:
    return next(alarm.text for alarm in bench.memory.alarms if alarm.row == row)


def test_a_well_computer_raises_nothing(idle: Bench) -> None:
    assert idle.run(minutes=10).memory.alarms == ()


# C1: decisions that come late.


def late(bench: Bench, by_s: float) -> Bench:
    """Let the next tick come so many seconds after the last."""
    bench.now_s += by_s - bench.chamber.tick_s
    bench.wall_s += by_s - bench.chamber.tick_s
    return bench.tick()


@pytest.mark.fault_row("C1")
def test_a_decision_that_comes_after_more_than_three_of_its_periods_is_an_alarm_for_an_hour(idle: Bench) -> None:
    late(idle, 15.0)
    assert alarms(idle) == []
    late(idle, 15.5)
    assert alarms(idle) == [("C1", "2")]
    assert "A decision came 16 s after the last, limit 15 s; one comes every 5 s." in text_of(idle, "C1")
    idle.run(minutes=59)
    assert alarms(idle) == [("C1", "2")]
    idle.run(minutes=2)
    assert alarms(idle) == []
    assert sum(event.startswith("alarm:") for event in idle.events) == 1


def test_how_late_is_too_late_is_a_setting() -> None:
    patient = replace(CHAMBER, thresholds=Thresholds(ticks_late=10))
    assert alarms(late(Bench(patient).run(minutes=1), 45.0)) == []
    assert alarms(late(Bench(patient).run(minutes=1), 55.0)) == [("C1", "2")]


# C3: the watchdog of the machine.


@pytest.mark.fault_row("C3")
def test_a_reset_by_the_watchdog_is_told_once_a_boot_without_a_batch_too(idle: Bench) -> None:
    def begin_again(boot: str) -> None:
        idle.now_s += 60.0
        idle.wall_s += 60.0
        idle.memory, _ = after_restart(idle.memory, CHAMBER, idle.now_s, idle.wall_s, boot, wall_trusted=True)
        idle.run(minutes=2)

    idle.health = replace(WELL, reset_by_watchdog=True)
    begin_again("boot-2")
    assert [alarm.id for alarm in idle.memory.alarms] == ["C3-1"]
    assert idle.memory.alarms[0].priority == "2"
    assert not idle.memory.alarms[0].seen
    begin_again("boot-2")  # The program alone begins anew: the kernel goes on saying what it said.
    assert idle.memory.counts["C3"] == 1
    idle.memory = replace(idle.memory, alarms=())
    begin_again("boot-3")
    assert idle.memory.counts["C3"] == 2


# C6 to C8: the disk.


@pytest.mark.fault_row("C6")
@pytest.mark.parametrize(
    ("free_mb", "share", "is_told"),
    [(200.0, 0.05, False), (199.9, 0.5, True), (5000.0, 0.049, True), (5000.0, None, False)],
)
def test_a_disk_with_little_room_is_told_with_low_priority(
    idle: Bench, free_mb: float, share: float | None, *, is_told: bool
) -> None:
    idle.health = replace(WELL, disk_free_mb=free_mb, disk_free_share=share)
    idle.run(minutes=2)
    assert alarms(idle) == ([("C6", "3")] if is_told else [])


def test_a_disk_at_its_limit_is_one_alarm_that_ends_when_there_is_room_again(idle: Bench) -> None:
    for free_mb in (199.0, 201.0, 199.0, 215.0, 198.0):
        idle.health = replace(WELL, disk_free_mb=free_mb)
        idle.run(minutes=30)
    assert "The disk is nearly full: 198 MB free (50.0 %), limit 200 MB and 5 %." in text_of(idle, "C6")
    assert "Nothing is deleted by itself." in text_of(idle, "C6")
    idle.health = replace(WELL, disk_free_mb=221.0)
    idle.run(minutes=15)
    assert alarms(idle) == []
    assert idle.memory.counts["C6"] == 1


@pytest.mark.fault_row("C6")
def test_a_disk_that_refuses_makes_the_same_alarm_urgent_and_calls_again(idle: Bench) -> None:
    idle.health = replace(WELL, disk_free_mb=0.0, disk_free_share=0.0)
    idle.run(minutes=2)
    idle.trouble = (Trouble("C6", "No space left on device; records of 40 s wait in memory.", level=2),)
    idle.run(minutes=2)
    assert alarms(idle) == [("C6", "1")]
    assert idle.memory.counts["C6"] == 1
    assert "records of 40 s wait in memory. Since" in text_of(idle, "C6")
    assert "Make room on the card" in text_of(idle, "C6")
    idle.trouble = ()
    idle.run(minutes=2)
    assert alarms(idle) == [("C6", "3")]


@pytest.mark.fault_row("C7")
def test_a_read_only_disk_locks_new_batches_out_until_a_person_has_cleared_it(idle: Bench) -> None:
    idle.trouble = (Trouble("C7", "Read-only file system; records of 5 s wait in memory.", level=2),)
    idle.health = replace(WELL, disk_read_only=True)
    idle.run(minutes=2)
    assert alarms(idle) == [("C7", "1")]
    idle.tick(Start(id="s1", batch="b1", profile=PROFILE, meat_kg=5.0))
    idle.trouble, idle.health = (), WELL
    idle.run(minutes=15)
    assert alarms(idle) == []
    idle.tick(Start(id="s2", batch="b1", profile=PROFILE, meat_kg=5.0))
    assert idle.memory.batches == ()
    assert idle.outcome is not None
    (answer,) = idle.outcome.answers
    assert not answer.done
    assert "C7-1: the card was found read-only, and a batch that cannot be recorded is not begun" in answer.text
    assert "hangroom clear C7-1" in answer.text
    idle.tick(Clear(id="c1", alarm="C7-1"))
    idle.tick(Start(id="s3", batch="b1", profile=PROFILE, meat_kg=5.0))
    assert idle.batch.id == "b1"


def test_a_mount_that_says_so_is_enough_before_anything_is_written(idle: Bench) -> None:
    idle.health = replace(WELL, disk_read_only=True, disk_free_mb=None)
    idle.run(minutes=2)
    assert alarms(idle) == [("C7", "1")]


@pytest.mark.fault_row("C8")
def test_a_slow_disk_is_one_alarm_until_an_hour_has_passed_without(idle: Bench) -> None:
    slow = (Trouble("C8", "One write took the disk 8 s, limit 5 s."),)
    for _ in range(5):
        idle.trouble = slow
        idle.run(minutes=1)
        idle.trouble = ()
        idle.run(minutes=29)
    assert alarms(idle) == [("C8", "3")]
    idle.run(minutes=45)
    assert alarms(idle) == []
    assert idle.memory.counts["C8"] == 1


def test_a_disk_that_is_slow_and_then_silent_is_one_alarm_that_becomes_urgent(idle: Bench) -> None:
    idle.trouble = (Trouble("C8", "One write has taken the disk 6 s so far, limit 5 s."),)
    idle.run(minutes=1)
    idle.trouble = (Trouble("C6", "The disk has not answered for 65 s.", level=2),)
    idle.run(minutes=10)
    assert [(alarm.row, alarm.follows) for alarm in idle.memory.alarms] == [("C8", "C6-1"), ("C6", "")]


# C9: the supply.


def weak(bench: Bench, *, ticks: int = 1) -> Bench:
    """Let the supply be weak for so many ticks, then well for one."""
    bench.health = replace(WELL, low_voltage=True)
    for _ in range(ticks):
        bench.tick()
    bench.health = WELL
    return bench.tick()


@pytest.mark.fault_row("C9")
def test_a_weak_supply_is_told_at_once_and_over_after_ten_minutes(idle: Bench) -> None:
    weak(idle)
    assert alarms(idle) == [("C9", "3")]
    idle.run(minutes=9)
    assert alarms(idle) == [("C9", "3")]
    idle.run(minutes=2)
    assert alarms(idle) == []


@pytest.mark.fault_row("C9")
def test_more_than_ten_times_in_an_hour_is_more_urgent_and_ten_are_not(idle: Bench) -> None:
    for _ in range(10):
        weak(idle).run(minutes=4)
    assert alarms(idle) == [("C9", "3")]
    weak(idle)
    assert alarms(idle) == [("C9", "2")]
    assert "11 times in an hour, limit 10" in text_of(idle, "C9")
    assert idle.memory.counts["C9"] == 1


def test_what_lies_more_than_an_hour_back_does_not_count(idle: Bench) -> None:
    for _ in range(30):
        weak(idle).run(minutes=7)
    assert alarms(idle) == [("C9", "3")]


def test_a_supply_that_stays_weak_counts_every_minute(idle: Bench) -> None:
    weak(idle, ticks=12 * 9)
    assert alarms(idle) == [("C9", "3")]
    weak(idle, ticks=12 * 3)
    assert alarms(idle) == [("C9", "2")]


@pytest.fixture
def cold() -> Bench:
    """Return a chamber in which the lamp would be switched on at every chance."""
    bench = Bench()
    bench.health = WELL
    return bench.run(minutes=3, air_temp=30.0, rh_temp=30.0)


@pytest.mark.fault_row("C9")
def test_while_the_supply_has_just_become_weak_nothing_is_switched_on_and_what_is_on_stays(cold: Bench) -> None:
    assert cold.heat_on
    weak(cold)
    assert cold.heat_on  # It was on: to leave it is no change.


@pytest.mark.fault_row("C9")
def test_what_is_off_stays_off_for_one_decision_and_a_supply_that_stays_weak_does_not_let_the_meat_go_cold() -> None:
    def lit_at(weak_from: float) -> int:
        """Return at which tick the lamp is lit in a chamber that cools slowly."""
        bench = Bench()
        bench.health = WELL
        bench.run(minutes=3, air_temp=38.0, rh_temp=38.0)
        assert not bench.heat_on
        for ticks in range(1, 100):
            bench.health = replace(WELL, low_voltage=ticks >= weak_from)
            air_c = 38.0 - 0.05 * ticks
            if bench.tick(air_temp=air_c, rh_temp=air_c).heat_on:
                return ticks
        raise AssertionError("the lamp was never lit")

    well = lit_at(weak_from=inf)
    assert lit_at(weak_from=well) == well + 1
    assert lit_at(weak_from=well - 1) == well


@pytest.mark.fault_row("C9")
def test_the_lamp_goes_off_at_once_although_the_supply_is_weak(cold: Bench) -> None:
    cold.health = replace(WELL, low_voltage=True)
    cold.tick(air_temp=50.0, rh_temp=50.0)
    assert not cold.heat_on


# C10: the processor.


@pytest.mark.fault_row("C10")
def test_a_hot_processor_is_told_within_a_minute_and_over_below_75(idle: Bench) -> None:
    idle.health = replace(WELL, processor_c=80.5)
    idle.tick()
    assert alarms(idle) == []
    idle.run(minutes=55 / 60)
    assert alarms(idle) == [("C10", "3")]
    idle.health = replace(WELL, processor_c=75.5)
    idle.run(minutes=20)
    assert alarms(idle) == [("C10", "3")]
    idle.health = replace(WELL, processor_c=74.5)
    idle.run(minutes=2)
    assert alarms(idle) == []


def test_at_the_limit_a_processor_is_not_too_hot(idle: Bench) -> None:
    idle.health = replace(WELL, processor_c=80.0)
    assert alarms(idle.run(minutes=5)) == []


# C13: what was found at the start.


@pytest.mark.fault_row("C13")
@pytest.mark.parametrize("priority", ["1", pytest.param("2", marks=pytest.mark.long)])
def test_a_damaged_memory_is_an_alarm_of_the_first_tick_until_somebody_has_seen_it(idle: Bench, priority: str) -> None:
    found = Trouble("C13", "The newest copy was damaged.", priority=priority)
    idle.memory = replace(idle.memory, found_at_start=(found,))
    idle.tick()
    assert alarms(idle) == [("C13", priority)]
    idle.run(minutes=600)
    assert [alarm.id for alarm in idle.memory.alarms] == ["C13-1"]


def test_what_the_computer_does_outlives_a_start_of_the_program_but_not_a_boot() -> None:
    bench = Bench()
    weak(bench)
    kept: Memory = bench.memory
    same, _ = after_restart(kept, CHAMBER, bench.now_s, WALL_S, kept.boot_id, wall_trusted=True)
    assert same.watch.machine.low_times_s == kept.watch.machine.low_times_s != ()
    other, _ = after_restart(kept, CHAMBER, 30.0, WALL_S, "boot-9", wall_trusted=True)
    assert other.watch.machine.low_times_s == ()
