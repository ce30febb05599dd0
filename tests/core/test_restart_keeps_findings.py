"""What a restart of the program must not forget, nor make of it what it was not."""

import pytest
from msgspec.structs import replace

from controller.core.requests import Clear, Hang, Hold, Seen
from controller.core.restart import after_restart
from tests.helpers.bench_chamber import PROFILE, Bench
from tests.helpers.outages import NOTHING_TOLD, answered, clock_set, cut, hung

MINUTE_H = 1.0 / 60.0


def restart(bench: Bench, gone_s: float = 5.0) -> Bench:
    """Let the program be stopped and begin again; no sensor has been read in its first tick."""
    kept = replace(bench.memory, ended_cleanly=True)
    bench.now_s, bench.wall_s = kept.last_s + gone_s, bench.wall_s + gone_s
    bench.memory, _ = after_restart(
        kept, bench.chamber, bench.now_s, bench.wall_s, kept.boot_id, wall_trusted=bench.wall_trusted
    )
    says = dict(bench.says)
    bench.tick(air_temp="unread", rh="unread", rh_temp="unread")
    bench.says = says
    return bench


def live(bench: Bench, minutes: float, air_c: float) -> Bench:
    """Let both thermometers show this, with the small changes that any of them has."""
    for count in range(round(minutes * 12)):
        bench.tick(air_temp=air_c + 0.06 * (count // 3 % 2), rh_temp=air_c + 0.02 * (count % 3), rh=84 + count % 5)
    return bench


def lamp_s(bench: Bench) -> float:
    return bench.memory.outputs["heater"].on_total_s


def rows(bench: Bench, *names: str) -> list[tuple[str, bool]]:
    """Return which of these alarms there are, and whether they are kept until cleared."""
    return [(alarm.row, alarm.latched) for alarm in bench.memory.alarms if alarm.row in names]


# A lonely thermometer that was silent before the cut.


def silent() -> Bench:
    """Return a ferment with one thermometer, which says nothing any more for five minutes."""
    bench = hung()
    bench.chamber = replace(bench.chamber, channels=("air_temp",), response_s={"air_temp": 120.0}, room_c=(18.0, 22.0))
    bench.says = {"air_temp": 36.0}
    for count in range(120):
        bench.tick(air_temp=36.0 + 0.06 * (count // 3 % 2))
    return bench.run(minutes=5, air_temp="missing")


@pytest.mark.parametrize("minutes", [1.0, 16.0])
def test_one_that_comes_back_cold_after_a_cut_is_not_believed(minutes: float) -> None:
    bench = cut(silent(), minutes * MINUTE_H)
    before_s = lamp_s(bench)
    bench.run(minutes=20, air_temp=20.0)
    assert rows(bench, "H9") == [("H9", True)]
    assert lamp_s(bench) == before_s


def test_nor_where_a_clock_tells_its_length_a_minute_later() -> None:
    bench = cut(silent(), MINUTE_H, told=False).run(minutes=1, air_temp=20.0)
    before_s = lamp_s(bench)
    clock_set(bench, MINUTE_H).run(minutes=20)
    assert rows(bench, "H9") == [("H9", True)]
    assert lamp_s(bench) - before_s <= bench.chamber.tick_s  # The clock and the finding come in the same tick.


def test_one_that_comes_back_as_cold_as_a_night_makes_the_box_is_believed() -> None:
    bench = cut(silent(), 12.0, told=False).run(minutes=1, air_temp=19.0)
    clock_set(bench, 12.0).run(minutes=20)
    assert rows(bench, "H9") == []


# Thermometers that were apart for a moment.


@pytest.mark.parametrize("gone_s", [3.0, 60.0, 3600.0])
def test_a_lid_that_was_lifted_before_a_restart_pauses_nothing(gone_s: float) -> None:
    bench = live(hung(), 5.0, 36.0)
    for count in range(60):
        bench.tick(air_temp=36.0 - 0.02 * count, rh_temp=max(36.0 - 0.5 * count, 30.5))
        if bench.memory.watch.agree.apart_since_s is not None:
            break
    assert bench.memory.watch.agree.apart_since_s is not None
    live(restart(bench, gone_s), 10.0, 36.0)
    assert rows(bench, "S9", "H9") == []
    assert bench.memory.watch.agree.apart_since_s is None


# A lamp that gives no heat.


@pytest.mark.parametrize("every_min", [180, 60, 20])
def test_a_lamp_that_gives_no_heat_gets_its_trials_alone_however_often_the_program_begins(every_min: int) -> None:
    bench = hung()
    bench.chamber = replace(bench.chamber, figures=replace(bench.chamber.figures, heater_w=60.0))
    live(bench.run(minutes=1, air_temp=20.0, rh_temp=20.0), 60.0, 20.0)
    bench.tick(Seen(id="s", alarm="A3-1"))
    before_s = lamp_s(bench)
    for _ in range(180 // every_min):
        live(restart(bench), every_min, 20.0)
    assert lamp_s(bench) - before_s == pytest.approx(6 * 300.0, abs=60.0)
    assert [(alarm.id, alarm.seen) for alarm in bench.memory.alarms if alarm.row == "A3"] == [("A3-1", True)]


def test_one_that_gives_heat_again_is_found_out_by_a_trial() -> None:
    bench = hung()
    bench.chamber = replace(bench.chamber, figures=replace(bench.chamber.figures, heater_w=60.0))
    live(bench.run(minutes=1, air_temp=20.0, rh_temp=20.0), 60.0, 20.0)
    live(restart(bench), 30.0, 20.0)
    assert bench.memory.watch.heat.found
    live(bench, 5.0, 21.0)
    live(bench, 5.0, 22.0)
    assert not bench.memory.watch.heat.found


def test_the_hour_of_water_goes_on() -> None:
    bench = live(hung(), 5.0, 36.0)
    hour_s, last_s = bench.memory.watch.mist.hour_s, bench.memory.last_s
    live(restart(bench, 60.0), 1.0, 36.0)
    assert bench.memory.watch.mist.hour_s == hour_s
    assert bench.memory.last_s > last_s


# What a person says.


def test_what_was_exchanged_while_the_power_was_off_can_be_cleared_by_who_has_done_it() -> None:
    bench = live(hung(), 2.0, 36.0)
    for count in range(75 * 12):
        bench.tick(air_temp=36.0, rh_temp=36.0 - 0.9 * min(count / 400.0, 1.0) + 0.01 * (count % 3))
    assert rows(bench, "S6") == [("S6", True)]
    live(cut(bench, 3.0 * MINUTE_H), 1.0, 36.0)
    done, text = answered(bench, Clear(id="c", alarm="S6-1"))
    assert not done
    assert "nothing could show since that it is gone" in text
    assert "--sure" in text
    assert answered(bench, Clear(id="d", alarm="S6-1", sure=True))[0]


def test_what_is_still_there_cannot_be_cleared_so() -> None:
    bench = live(hung(), 2.0, 36.0).run(minutes=12, air_temp=30.0, rh_temp=36.0)
    assert rows(bench, "S9") == [("S9", True)]
    restart(bench).run(minutes=2)
    done, text = answered(bench, Clear(id="c", alarm="S9-1", sure=True))
    assert not done
    assert "its cause is still there" in text


# Words about a gap behind a gap.


@pytest.mark.parametrize("where", ["elsewhere", "paused by a person"])
def test_the_alarm_of_a_long_unknown_cut_does_not_take_the_words_of_a_short_known_one(where: str) -> None:
    if where == "elsewhere":
        stage = replace(PROFILE.stages[1], where="elsewhere", air_temp_c=24.0)
        bench = live(Bench(NOTHING_TOLD, replace(PROFILE, stages=(stage, PROFILE.stages[2]))), 2.0, 24.0)
        live(bench.tick(Hang(id="h", pieces_g={"A": 400.0})), 60.0, 24.0)
    else:
        bench = hung().tick(Hold(id="x", batch="b", because="me"))
    live(cut(bench, 20.0, told=False), 8.0, 24.0)
    live(restart(bench, 1200.0), 10.0, 24.0)
    (said,) = [alarm.what for alarm in bench.memory.alarms if alarm.row == "C16"]
    assert "for an unknown time" in said
    assert "not counted yet" in said
