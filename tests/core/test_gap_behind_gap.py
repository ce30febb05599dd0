"""A program that is away twice: the second time ends no wait for the first one, and takes nothing of its count."""

import pytest
from msgspec.structs import replace

from controller.core.requests import Hang
from controller.core.restart import after_restart
from tests.helpers.bench_chamber import PROFILE, Bench
from tests.helpers.outages import (
    HOURS_S,
    NOTHING_TOLD,
    alarms,
    clock_set,
    crash,
    cut,
    failed_again,
    hung,
    leaking,
    waiting,
)


def degree_hours_f(air_c: float, hours: float) -> float:
    """Return the guarded degree-hours of the US rule by hand: half a kelvin is added."""
    return ((air_c + 0.5) * 1.8 + 32.0 - 60.0) * hours


# Who waits for a clock or a person goes on waiting.


@pytest.mark.parametrize("minutes", [3.0, 10.0])
def test_a_crash_does_not_end_the_wait_for_a_cut_whose_length_nobody_knows(minutes: float) -> None:
    bench = cut(hung(), 20.0, told=False).run(minutes=minutes, air_temp=22.0, rh_temp=22.0)
    crash(bench).run(minutes=8)
    assert (bench.batch.state, bench.heat_on) == ("held", False)
    assert bench.batch.away.asks == "ph"
    clock_set(bench, 20.0).run(minutes=2)
    assert (bench.batch.state, bench.heat_on) == ("held", False)
    assert bench.batch.away.asks == "ph"
    assert ("C16", "1") in alarms(bench)


def test_a_crash_does_not_keep_the_clock_from_letting_a_short_one_go_on() -> None:
    bench = crash(cut(hung(), 0.1, told=False).run(minutes=1, air_temp=35.0, rh_temp=35.0)).run(minutes=1)
    assert bench.batch.state == "held"
    clock_set(bench, 0.1).run(minutes=1)
    assert bench.batch.state == "running"


def test_nor_does_a_restart_where_no_clock_can_ever_tell() -> None:
    bench = hung()
    bench.memory = replace(bench.memory, wall_trusted=False)
    bench.wall_trusted, bench.now_s = False, 50.0
    bench.memory, _ = after_restart(
        bench.memory, bench.chamber, bench.now_s, bench.wall_s, "boot-2", wall_trusted=False
    )
    bench.run(minutes=60, air_temp=22.0, rh_temp=22.0)
    assert not bench.batch.held_by_gap
    bench.memory = replace(bench.memory, ended_cleanly=True)
    crash(bench).run(minutes=10)
    assert (bench.batch.state, bench.heat_on) == ("held", False)


def test_nor_does_a_second_cut_that_the_cooling_bounds() -> None:
    bench = hung()
    bench.chamber = replace(bench.chamber, room_c=(18.0, 22.0))
    cut(bench, 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")  # Nothing bounds the first.
    bench.run(minutes=8, air_temp=30.0, rh_temp=30.0)
    failed_again(bench).run(minutes=5, air_temp=29.5, rh_temp=29.5)
    assert any("By the cooling the gap was" in event for event in bench.events)
    assert (bench.batch.state, bench.heat_on) == ("held", False)


def test_somebody_is_called_within_minutes_where_the_power_failed_again_before_anybody_was() -> None:
    bench = leaking(hung())
    cut(bench, 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")  # Nothing bounds the first.
    bench.run(minutes=2, air_temp=36.0, rh_temp=36.0)
    failed_again(bench).run(minutes=4)
    assert "gap: By the cooling the gap was of up to 12 min; a clock may tell it better." in bench.events
    assert "C16" not in dict(alarms(bench)), "the clock may still come"
    bench.run(minutes=2)
    assert ("C16", "1") in alarms(bench)
    assert (bench.batch.state, bench.batch.away.asks) == ("held", "ph")
    clock_set(bench, 9.0).run(minutes=2)
    assert (bench.batch.state, bench.heat_on) == ("held", False)


def test_a_warm_up_before_its_meat_goes_on_by_what_bounds_its_one_cut() -> None:
    bench = leaking(waiting())
    bench.run(minutes=60, air_temp=36.0, rh_temp=36.0)
    cut(bench, 0.1, told=False).run(minutes=1, air_temp=35.9, rh_temp=35.9)
    assert (bench.batch.state, bench.batch.held_by_gap) == ("running", False)
    bench.tick(Hang(id="h", pieces_g={"A": 400.0})).run(minutes=20)
    assert (bench.batch.state, bench.batch.away.asks) == ("running", "")
    clock_set(bench, 0.1).run(minutes=5)
    assert (bench.batch.state, bench.batch.gap_at_s) == ("running", None)


# What the first one was is not forgotten.


def test_the_clock_of_the_second_gap_does_not_stand_for_both() -> None:
    bench = hung()
    bench.memory = replace(bench.memory, wall_trusted=False)  # Nobody had set the clock before the first one.
    bench.now_s, bench.wall_s = 50.0, bench.wall_s + 9.0 * HOURS_S
    bench.memory, _ = after_restart(bench.memory, bench.chamber, 50.0, bench.wall_s, "boot-2", wall_trusted=True)
    bench.run(minutes=0.5, air_temp="missing", rh_temp="missing")
    cut(bench, 1.0, told=False).run(minutes=0.5, air_temp=36.0, rh_temp=36.0)
    clock_set(bench, 1.0).run(minutes=5)
    assert bench.batch.gap_lost
    assert bench.batch.state == "held"
    assert "no clock can tell" in " ".join(alarm.text for alarm in bench.memory.alarms)


def test_a_ferment_elsewhere_is_told_of_though_the_clock_comes_in_the_first_minute() -> None:
    stage = replace(PROFILE.stages[1], where="elsewhere", air_temp_c=24.0)
    bench = Bench(NOTHING_TOLD, replace(PROFILE, stages=(stage, PROFILE.stages[2])))
    bench.run(minutes=2, air_temp=24.0, rh_temp=24.0).tick(Hang(id="h", pieces_g={"A": 400.0}))
    cut(bench, 20.0, told=False).run(minutes=1)
    clock_set(bench, 20.0).run(minutes=8)
    assert [row for row, _ in alarms(bench)] == ["C16"]


def test_a_gap_that_an_older_program_had_not_reckoned_counts_beside_one_of_unknown_length() -> None:
    bench = hung()
    before_f = bench.batch.guarded_f
    bench.memory = replace(bench.memory, gap_s=5.0 * HOURS_S, gap_highest_c=36.0)
    clock_set(cut(bench, 1.0, told=False).run(minutes=1), 1.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(degree_hours_f(36.0, 6.0), rel=0.01)


# What stands still, and what was in doubt.


def test_a_ferment_that_waits_for_its_meat_has_no_hours_of_a_gap() -> None:
    stages = (replace(PROFILE.stages[1], at_least_h=10.0), PROFILE.stages[2])
    bench = Bench(NOTHING_TOLD, replace(PROFILE, stages=stages)).run(minutes=20, air_temp=36.0, rh_temp=36.0)
    cut(bench, 7.0).run(minutes=1)
    assert bench.batch.stage_elapsed_s == 0.0
    assert bench.batch.elapsed_s > 7.0 * HOURS_S


def test_a_thermometer_that_was_far_colder_than_the_silent_one_is_not_believed_after_a_crash() -> None:
    bench = hung().run(minutes=10, air_temp=22.0, rh_temp=36.0).run(minutes=2, rh_temp="missing")
    before_f = bench.batch.guarded_f
    crash(bench).run(minutes=60)
    assert bench.batch.guarded_f - before_f == pytest.approx(degree_hours_f(36.0, 1.0), rel=0.01)
    assert ("S9", "1") in alarms(bench)
    assert not bench.heat_on


def test_two_that_agree_after_a_crash_are_believed_again() -> None:
    bench = hung().run(minutes=10, air_temp=22.0, rh_temp=36.0)
    crash(bench).run(minutes=10, air_temp=30.0, rh_temp=30.0)
    assert bench.memory.watch.agree.apart_since_s is None
    assert not any(alarm.active for alarm in bench.memory.alarms if alarm.row in {"H9", "S9"})
