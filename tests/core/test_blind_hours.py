"""Hours in which nobody knew how warm it was: none is left out in silence, and none is counted twice."""

from math import exp

import pytest
from msgspec.structs import replace

from controller.core.memory import Batch
from controller.core.plan import Stage
from controller.core.requests import Hang, Hold, Ph, Resume, Start
from controller.core.restart import after_restart, first_memory
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench
from tests.helpers.readings import answer, fermenting, later

HOURS = 3600.0


def f(air_c: float, hours: float, error_k: float = 0.5) -> float:
    """Return the degree-hours (°F) of the US rule by hand."""
    return ((air_c + error_k) * 1.8 + 32.0 - 60.0) * hours


def blind(bench: Bench, hours: float, rh_temp: float | None = None) -> Bench:
    """Let hours pass without an air thermometer; so is the one in the humidity sensor unless it says something."""
    return later(bench, hours, air_temp="missing", rh_temp="missing" if rh_temp is None else rh_temp)


def away(bench: Bench, hours: float, *, told: bool = True, boot_id: str = "boot-2") -> Bench:
    """Let the program be away; where no clock tells how long, the one on the wall has stood still meanwhile.

    The chamber may be as warm as its room, so that its cooling tells nothing either.
    """
    bench.chamber = replace(bench.chamber, room_c=(15.0, 45.0))
    bench.memory = replace(bench.memory, wall_trusted=bench.wall_trusted)
    bench.wall_s += hours * HOURS if told else 20.0
    bench.now_s = bench.now_s + hours * HOURS if boot_id == "boot-1" else 50.0
    bench.wall_trusted = told
    bench.memory, events = after_restart(
        bench.memory, bench.chamber, bench.now_s, bench.wall_s, boot_id, wall_trusted=bench.wall_trusted
    )
    bench.events += [f"{event.kind}: {event.text}" for event in events]
    return bench


def known_again(bench: Bench, hours: float) -> Bench:
    """Let the network tell the time, so many hours later than the clock had thought."""
    bench.wall_s += hours * HOURS
    bench.wall_trusted = True
    return bench.tick()


def gapless(bench: Bench) -> list[str]:
    return [event for event in bench.events if event.startswith("gap")]


def elsewhere(air_c: float | None = 24.0) -> Bench:
    stage = replace(PROFILE.stages[1], where="elsewhere", air_temp_c=air_c)
    bench = Bench(profile=replace(PROFILE, stages=(stage, PROFILE.stages[2])))
    return bench.run(minutes=2, air_temp=14.0, rh_temp=14.0).tick(Hang(id="h", pieces_g={"A": 400.0}))


# Without a thermometer.


def test_blind_hours_count_at_the_warmer_end_once_there_is_a_temperature_again() -> None:
    bench = fermenting(air_c=20.0)
    before_f = bench.batch.guarded_f
    blind(bench, 10.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(20.0, 10.0), rel=0.01)
    bench.run(minutes=1, air_temp=34.0, rh_temp=34.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(34.0, 10.0), rel=0.01)
    assert bench.batch.blind_s == 0.0


def test_a_batch_goes_over_its_limit_blind_too() -> None:
    bench = blind(fermenting(), 30.0)
    assert "over the degree-hours" in bench.batch.held_because


def test_where_no_temperature_was_ever_known_the_hours_are_told_and_count_later() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_index=1),))
    bench.run(minutes=2, air_temp="missing", rh_temp="missing").tick(Hang(id="h"))
    blind(bench, 20.0)
    assert bench.batch.guarded_f == 0.0
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.6, instrument="meter"))
    assert "20.0 h without a temperature not counted yet" in answer(bench)
    bench.run(minutes=1, air_temp=30.0, rh_temp=30.0)
    assert bench.batch.guarded_f == pytest.approx(f(30.0, 20.0), rel=0.01)


def test_a_ph_typed_in_blind_hours_has_those_before_it_and_none_after_it() -> None:
    bench = blind(fermenting(air_c=20.0), 4.0)
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sure=True))
    assert bench.batch.passed_5_3
    blind(bench, 40.0)
    bench.run(minutes=1, air_temp=34.0, rh_temp=34.0)
    assert bench.batch.guarded_f == pytest.approx(f(34.0, 4.0), rel=0.02)
    assert bench.batch.spare_guarded_f == pytest.approx(f(34.0, 40.0), rel=0.02)
    assert bench.batch.state == "suspended" or "over" not in bench.batch.held_because


def test_one_spoilt_reading_that_jumps_makes_no_blind_hours_hot() -> None:
    bench = blind(fermenting(air_c=20.0), 5.0, 20.0)
    before_f = bench.batch.guarded_f
    bench.tick(rh_temp=59.0).tick(rh_temp=20.0)
    assert bench.batch.guarded_f - before_f < 1.0


# The program was away.


def test_a_known_gap_is_reckoned_at_once_though_the_leading_probe_is_dead() -> None:
    bench = later(fermenting(), 10.0)
    before_f = bench.batch.guarded_f
    away(bench, 6.0).run(minutes=1, air_temp="missing", rh_temp=37.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(37.0, 6.0), rel=0.02)


def test_a_gap_counts_at_the_wanted_temperature_for_a_batch_that_ferments_elsewhere() -> None:
    bench = later(elsewhere(), 10.0)
    before_f = bench.batch.guarded_f
    away(bench, 20.0)
    (gap,) = [alarm for alarm in bench.memory.alarms if alarm.row != "C1"]  # Ten hours in one tick are a late one.
    assert gap.row == "C16"
    assert "wanted temperature" in gap.text
    bench.run(minutes=1, air_temp="missing", rh_temp="missing")
    assert bench.batch.guarded_f - before_f == pytest.approx(f(24.0, 20.0), rel=0.01)


def test_so_does_one_of_unknown_length_even_if_the_batch_has_moved_since() -> None:
    bench = later(elsewhere(), 10.0)
    before_f = bench.batch.guarded_f
    away(bench, 20.0, told=False).run(minutes=1)
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_index=1),))  # Into the cool chamber.
    known_again(bench, 20.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(24.0, 20.0), rel=0.01)


def test_an_idle_gap_is_not_put_on_the_next_batch() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    bench.run(minutes=3)
    away(bench, 21 * 24.0, told=False).run(minutes=2, air_temp=36.0, rh_temp=36.0)
    bench.tick(Start(id="s", batch="n", profile=PROFILE, meat_kg=5.0)).run(minutes=20).tick(Hang(id="h"))
    known_again(later(bench, 1.0), 21 * 24.0)
    assert bench.batch.state == "running"
    assert bench.batch.guarded_f == pytest.approx(f(36.0, 1.0), rel=0.02)
    assert bench.batch.elapsed_s < 2 * HOURS


def test_a_known_idle_gap_is_not_kept_for_it_either() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    away(bench.run(minutes=3), 21 * 24.0).run(minutes=60, air_temp=24.0, rh_temp=24.0)
    bench.tick(Start(id="s", batch="n", profile=PROFILE, meat_kg=5.0), Hang(id="h"), air_temp="checksum")
    bench.tick().run(minutes=2, air_temp=24.0)
    assert bench.batch.guarded_f < 2.0


def test_a_batch_hung_after_the_gap_has_no_part_in_it_though_it_stood_there_before() -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0)
    away(bench, 48.0, told=False).run(minutes=2).tick(Resume(id="r")).tick(Hang(id="h"))
    known_again(later(bench, 1.0), 48.0)
    assert bench.batch.guarded_f == pytest.approx(f(36.0, 1.0), rel=0.02)
    assert bench.batch.elapsed_s - bench.batch.hung_s < 2 * HOURS  # type: ignore[operator]


def test_a_gap_that_is_open_still_outlives_a_second_short_end_of_the_program() -> None:
    bench = later(fermenting(), 2.0)
    before_f = bench.batch.guarded_f
    away(bench, 5.0, told=False).run(minutes=2)
    bench.now_s += 60.0
    bench.memory, _ = after_restart(bench.memory, CHAMBER, bench.now_s, bench.wall_s, "boot-2", wall_trusted=False)
    bench.wall_s += 60.0
    bench.run(minutes=2)
    known_again(bench, 5.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(36.0, 5.0 + 5.0 / 60.0), rel=0.01)
    assert bench.batch.elapsed_s / HOURS == pytest.approx(7.0 + 0.42, abs=0.05)


def test_a_gap_that_no_clock_can_ever_tell_stays_with_the_batch() -> None:
    bench = fermenting()
    bench.wall_trusted = False
    later(bench, 5.0)
    away(bench, 9.0, told=False).run(minutes=5).tick(Resume(id="r"))
    assert "no clock can tell" in " ".join(alarm.text for alarm in bench.memory.alarms)
    known_again(bench, 9.0).tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.6, instrument="meter"))
    assert "the degree-hours are incomplete" in answer(bench)
    bench.tick(Ph(id="q", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sure=True))
    assert "the degree-hours are incomplete" in answer(bench)


def test_one_after_5_3_takes_nothing_from_what_was_counted_before_it() -> None:
    bench = fermenting()
    bench.wall_trusted = False
    later(bench, 5.0).tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sure=True))
    away(bench, 9.0, told=False).run(minutes=5).tick(Resume(id="r"))
    bench.tick(Ph(id="q", at_wall_s=bench.wall_s, value=5.1, instrument="meter", sure=True))
    assert "incomplete" not in answer(bench)


# Cooled air, warm meat; a cooled box, a warm room.


def cooled(hours: float, air_c: float) -> Bench:
    """Cool the air for so long after five hours of 36 °C: it is looked at every minute."""
    bench = later(fermenting(air_c=36.0), 5.0)
    for _ in range(round(hours * 60.0)):
        bench.now_s += 55.0
        bench.wall_s += 55.0
        bench.tick(air_temp=air_c, rh_temp=air_c)
    return bench


def test_a_gap_counts_at_what_the_meat_can_give_back_to_air_that_was_cooled_before_it() -> None:
    bench = cooled(0.5, 20.0)
    before_f = bench.batch.guarded_f
    away(bench, 6.0).run(minutes=1, air_temp=24.0, rh_temp=24.0)
    # Half an hour of 20 °C takes a twelfth of the difference, as of a body with a time constant of six hours.
    assert bench.batch.guarded_f - before_f == pytest.approx(f(20.0 + 16.0 * exp(-1.0 / 12.0), 6.0), rel=0.02)


def test_after_a_day_in_cool_air_it_gives_nothing_back() -> None:
    bench = cooled(24.0, 16.0)
    before_f = bench.batch.guarded_f
    away(bench, 6.0).run(minutes=1, air_temp=16.0, rh_temp=16.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(16.0 + 20.0 * exp(-4.0), 6.0), rel=0.05)


def test_a_dead_thermometer_counts_at_it_too() -> None:
    bench = cooled(0.5, 20.0)
    before_f = bench.batch.guarded_f
    blind(bench, 3.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(20.0 + 16.0 * exp(-1.0 / 12.0), 3.0), rel=0.03)


def test_a_cooled_box_counts_as_warm_as_its_room_before_its_thermometer_speaks_again() -> None:
    bench = fermenting(air_c=16.0)
    bench.chamber = replace(CHAMBER, channels=(*CHAMBER.channels, "ambient_temp"))
    later(bench, 1.0, air_temp=16.0, rh_temp=16.0, ambient_temp=23.0)
    before_f = bench.batch.guarded_f
    away(bench, 6.0).tick(air_temp="missing", rh_temp="missing", ambient_temp=23.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(f(23.0, 6.0), rel=0.02)


# A pause of a person.


def test_what_a_person_resumed_and_paused_again_the_clock_does_not_let_go() -> None:
    bench = later(fermenting(), 3.0)
    away(bench, 1.0, told=False).run(minutes=2).tick(Resume(id="r", because="looked")).run(minutes=1)
    bench.tick(Hold(id="hold", because="my hand is in the chamber")).run(minutes=1, air_temp=34.0, rh_temp=34.0)
    known_again(bench, 1.0).run(minutes=1)
    assert bench.batch.state == "held"
    assert not bench.heat_on


def test_nor_one_that_a_person_paused_while_it_waited_for_the_clock() -> None:
    bench = later(fermenting(), 3.0)
    away(bench, 1.0, told=False).run(minutes=2).tick(Hold(id="hold", because="my hand is in the chamber"))
    known_again(bench, 1.0).run(minutes=1)
    assert bench.batch.state == "held"


# Readings and the clock.


def ph(name: str, value: float, at_s: float, replaces: str = "") -> Ph:
    return Ph(id=name, at_wall_s=at_s, value=value, instrument="meter", sample="sausage", replaces=replaces, sure=True)


def test_an_earlier_reading_typed_in_late_does_not_take_the_count_of_now() -> None:
    bench = later(fermenting(), 14.0)
    bench.tick(ph("a", 5.24, bench.wall_s))
    counted_f = bench.batch.guarded_f
    later(bench, 20.0).tick(ph("b", 5.25, bench.wall_s - 23.0 * HOURS))
    assert bench.batch.guarded_f == counted_f
    assert bench.batch.state == "running"


def test_a_time_corrected_by_minutes_costs_minutes() -> None:
    bench = later(fermenting(), 10.0)
    at_s = bench.wall_s
    bench.tick(ph("a", 4.9, at_s))
    counted_f = bench.batch.guarded_f
    later(bench, 20.0).tick(ph("b", 4.9, at_s + 300.0, replaces="a"))
    assert bench.batch.guarded_f - counted_f == pytest.approx(f(36.0, 300.0 / HOURS), rel=0.01)
    assert bench.batch.state == "running"


def test_a_time_corrected_by_hours_costs_at_most_those_hours() -> None:
    bench = later(fermenting(), 3.0)
    at_s = bench.wall_s
    bench.tick(ph("a", 5.2, at_s))
    later(bench, 3.0).tick(ph("b", 5.2, at_s + 2.0 * HOURS, replaces="a"))
    assert bench.batch.guarded_f == pytest.approx(f(36.0, 5.0), rel=0.02)


@pytest.mark.parametrize("stepped_s", [-86_400.0, 86_400.0])
def test_a_ph_counts_though_the_clock_on_the_wall_was_stepped_after_hanging(stepped_s: float) -> None:
    bench = later(fermenting(), 10.0).tick(Ph(id="a", at_wall_s=WALL_S + 11.0 * HOURS, value=5.6, instrument="meter"))
    bench.wall_s += stepped_s
    later(bench, 7.0).tick(ph("b", 4.7, bench.wall_s))
    assert bench.batch.passed_5_3
    assert [value for _, value in bench.batch.ph] == [5.6, 4.7]
    later(bench, 0.1)
    assert bench.batch.stage.name == "dry"


def test_a_clock_that_becomes_known_moves_what_this_run_wrote_and_nothing_older() -> None:
    bench = later(fermenting(), 3.0)
    hung_s = bench.batch.hung_wall_s
    away(bench, 5.0, told=False).run(minutes=10)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.7, instrument="meter")).run(minutes=1)
    known_again(bench, 5.0)
    assert bench.batch.hung_wall_s == hung_s
    ((at_s, _),) = bench.batch.ph
    assert bench.wall_s - at_s < 120.0


def test_a_ph_that_lies_before_the_hanging_says_that_it_does_not_count() -> None:
    bench = later(fermenting(), 1.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s - 2.0 * HOURS, value=5.8, instrument="meter", sure=True))
    assert "does not count" in answer(bench)


def test_the_fixed_probe_does_not_push_out_what_was_typed_after_the_clock_went_back() -> None:
    chill = Stage(name="chill", kind="chill", where="chamber", air_temp_c=4.0, until=PROFILE.stages[2].until)
    chamber = replace(CHAMBER, channels=(*CHAMBER.channels, "core_temp"))
    bench = Bench(chamber, replace(PROFILE, stages=(chill, PROFILE.stages[2])))
    bench.memory = first_memory(chamber, bench.now_s, WALL_S, "boot-1")
    batch = Batch(id="b", profile=replace(PROFILE, stages=(chill, PROFILE.stages[2])), began_wall_s=WALL_S)
    bench.memory = replace(bench.memory, batches=(batch,))
    bench.run(minutes=1, air_temp=10.0, rh_temp=10.0, core_temp=50.0)
    bench.wall_s -= HOURS
    bench.wall_trusted = False
    bench.run(minutes=30)
    assert len(bench.batch.core_temps) <= 8
