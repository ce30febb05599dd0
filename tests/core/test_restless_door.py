"""A contact at the door that chatters: for two hours it excuses the air, then what is wrong with that is found."""

import pytest
from msgspec.structs import replace

from controller.core.requests import Hang, Learn
from controller.core.restart import after_restart
from controller.core.watch.door import is_resting
from tests.helpers.bench_chamber import Bench
from tests.helpers.outages import hung

BETWEEN_TICKS = 15 * 12
"""The contact opens for one reading in a quarter of an hour."""


def with_contact() -> Bench:
    bench = hung()
    bench.chamber = replace(bench.chamber, channels=(*bench.chamber.channels, "door"))
    return bench.run(minutes=1, door=0.0)


def chatter(bench: Bench, minutes: float, air_c: float, *, every: int = BETWEEN_TICKS) -> Bench:
    """Let these minutes pass in air of this temperature, with the small changes that it always has."""
    for count in range(round(minutes * 12)):
        says = air_c + 0.06 * (count // 3 % 2)
        bench.tick(air_temp=says, rh_temp=says + 0.02, rh=84.0 + count % 3, door=float(count % every == 0))
    return bench


def rows(bench: Bench) -> set[str]:
    return {alarm.row for alarm in bench.memory.alarms if alarm.active and not alarm.warns}


def restless(bench: Bench) -> list[str]:
    """Return the texts of warnings of a door that gives no peace."""
    return [alarm.text for alarm in bench.memory.alarms if alarm.row == "P1" and alarm.active and alarm.warns]


def test_a_lamp_that_gives_no_heat_is_found_though_the_contact_chatters() -> None:
    bench = chatter(with_contact(), 60.0, 30.0)
    assert "A3" not in rows(bench), "its openings excuse the air"
    chatter(bench, 120.0, 30.0)
    assert "A3" in rows(bench)


def test_so_is_meat_that_is_too_cold_for_long() -> None:
    bench = chatter(with_contact(), 30.0, 36.0)
    assert bench.batch.arrived
    chatter(bench, 180.0, 32.0)
    assert rows(bench) & {"P6", "P4", "A3"}


def test_the_contact_itself_is_told_of_once_and_takes_nothing_away() -> None:
    bench = chatter(with_contact(), 180.0, 36.0)
    assert not rows(bench)
    text = "The door is opened over and over: for 3.0 h it was never shut for 20 min (limit 2.0 h)."
    assert [told[: len(text)] for told in restless(bench)] == [text]
    assert sum("over and over" in event for event in bench.events) == 1
    assert bench.batch.state == "running"
    assert bench.memory.outputs["heater"].on_total_s > 0.0


def test_twenty_minutes_of_peace_end_it() -> None:
    bench = chatter(chatter(with_contact(), 150.0, 36.0), 30.0, 36.0, every=10_000)
    assert not restless(bench)
    chatter(bench, 100.0, 30.0)
    assert "A3" not in rows(bench), "the next openings excuse the air again"


def test_somebody_who_works_in_the_box_for_an_hour_and_a_half_is_not_told_of() -> None:
    bench = chatter(chatter(with_contact(), 90.0, 36.0), 90.0, 36.0, every=10_000)
    assert not restless(bench)
    assert not any("over and over" in event for event in bench.events)


def test_a_door_that_is_really_left_open_still_excuses_the_air_and_calls() -> None:
    bench = chatter(with_contact(), 150.0, 36.0).run(minutes=40, door=1.0, air_temp=26.0, rh_temp=26.0)
    assert "P1" in rows(bench)
    assert not rows(bench) & {"A3", "P4", "P6"}
    bench.run(minutes=15, door=0.0)
    assert "A3" not in rows(bench), "it has just been shut"


def test_one_opening_and_another_after_a_cut_of_hours_are_no_restless_door() -> None:
    bench = chatter(with_contact(), 20.0, 36.0, every=10_000)
    kept = replace(bench.memory, ended_cleanly=True)
    bench.now_s, bench.wall_s = kept.last_s + 10_800.0, bench.wall_s + 10_800.0
    bench.memory, _ = after_restart(kept, bench.chamber, bench.now_s, bench.wall_s, kept.boot_id, wall_trusted=True)
    bench.run(minutes=5, door=1.0, air_temp=30.0, rh_temp=30.0)
    assert not restless(bench)
    assert bench.memory.outputs["cooler"].on_until_s <= bench.now_s
    assert not is_resting(bench.memory.watch.door, bench.now_s, bench.chamber.thresholds)
    bench.run(minutes=1, door=0.0)
    assert is_resting(bench.memory.watch.door, bench.now_s, bench.chamber.thresholds)


def test_a_short_limit_does_not_make_one_opening_many() -> None:
    bench = with_contact()
    bench.chamber = replace(bench.chamber, thresholds=replace(bench.chamber.thresholds, door_busy_s=600.0))
    bench.run(minutes=1, door=1.0, air_temp=36.0, rh_temp=36.0).run(minutes=30, door=0.0)
    assert not any("over and over" in event for event in bench.events)


def test_while_the_box_waits_for_its_meat_its_door_may_be_opened_as_often_as_one_likes() -> None:
    bench = Bench()
    bench.chamber = replace(bench.chamber, channels=(*bench.chamber.channels, "door"))
    chatter(bench, 180.0, 36.0)
    assert not restless(bench)
    chatter(bench, 60.0, 20.0)
    assert "A3" in rows(bench), "but a lamp that gives nothing is found"
    bench.tick(Hang(id="h", pieces_g={"A": 400.0}))
    assert not restless(bench), "nor while the meat settles"


def test_a_step_test_is_broken_off_by_a_contact_that_is_believed_no_more() -> None:
    bench = with_contact()
    bench.memory = replace(bench.memory, batches=())
    chatter(bench, 130.0, 20.0)
    bench.chamber = replace(bench.chamber, channels=(*bench.chamber.channels, "ambient_temp"))
    bench.says["ambient_temp"] = 20.0
    bench.run(minutes=1, door=0.0).tick(Learn(id="l", test="t"))
    assert bench.memory.learning is not None
    bench.run(minutes=1, door=1.0)
    assert bench.memory.learning is None


@pytest.mark.parametrize("gone_s", [5.0, 120.0])
def test_a_restart_does_not_begin_the_two_hours_anew(gone_s: float) -> None:
    bench = chatter(with_contact(), 110.0, 30.0)
    kept = replace(bench.memory, ended_cleanly=True)
    bench.now_s, bench.wall_s = kept.last_s + gone_s, bench.wall_s + gone_s
    bench.memory, _ = after_restart(kept, bench.chamber, bench.now_s, bench.wall_s, kept.boot_id, wall_trusted=True)
    chatter(bench, 60.0, 30.0)
    assert "A3" in rows(bench)
