"""Where no clock tells how long the power was off, the cooling bounds it, and everything goes by that bound."""

from functools import cache
from math import exp

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.batch.stages import next_stage
from controller.core.outage.bound import Load, Now, longest_s
from controller.core.outage.cooling import World, last_at_or_above
from controller.core.outage.warmth import Warmth
from controller.core.plan import Chamber, Until
from controller.core.requests import Ph, Resume, Seen
from controller.core.values import Trouble
from tests.helpers.bench_chamber import CHAMBER, WALL_S, Bench
from tests.helpers.outages import HOURS_S, TIMED, again, alarms, clock_set, cut, hung

MIN = 1.0 / 60.0
CELLAR = replace(CHAMBER, room_c=(10.0, 14.0))
HELD = Warmth(
    at_s=9000.0, since_s=0.0, air_c=36.0, hour_c=36.0, now_c=36.0, high_c=36.06, low_c=35.94,
    heat_w=14.0, hour_w=14.0, meat_high_c=36.1, meat_low_c=35.0, meat="b:chamber",
)  # fmt: skip
LOAD = Load(5.0, 55.0)


def lump(tau_s: float, room_c: float = 12.0, lag_s: float = 1e-6) -> World:
    """Return a chamber of one body: its air, wall and meat hang together as one."""
    return World(
        air_c=36.0, wall_c=36.0, meat_c=36.0, air_j=1.0, wall_j=20_000.0, meat_j=1.0, air_wall_w=1e9, air_meat_w=1e9,
        wall_room_w=20_002.0 / tau_s, room_c=room_c, room_k_per_s=0.0, room_end_c=room_c, lag_s=lag_s, core_lag_s=1.0,
    )  # fmt: skip


# The cooling itself.


@given(tau_s=st.floats(1000.0, 100_000.0), after_s=st.floats(300.0, 100_000.0))
def test_one_body_cools_by_its_time_constant_and_is_never_told_to_be_quicker(tau_s: float, after_s: float) -> None:
    """Newton's law of cooling: (T - room) = (T0 - room) exp(-t / tau)."""
    level_c = 12.0 + 24.0 * exp(-after_s / tau_s)
    if level_c < 12.01:
        return
    found_s = last_at_or_above(lump(tau_s), level_c, None)
    assert found_s >= after_s
    # Steps of 4 % of the time, solved backward, are too slow by their half at most in each time constant.
    assert found_s <= 10.0 + after_s * 1.05 * (1.0 + 0.03 * after_s / tau_s)


@given(
    wall_j=st.floats(2000.0, 30_000.0), meat_kg=st.floats(0.0, 20.0), g_w=st.floats(4.0, 25.0),
    u_w=st.floats(0.5, 8.0), more=st.floats(1.01, 2.0),
)  # fmt: skip
def test_what_holds_more_or_loses_less_takes_longer(
    wall_j: float, meat_kg: float, g_w: float, u_w: float, more: float
) -> None:
    world = World(
        air_c=36.0, wall_c=36.0, meat_c=36.0, air_j=500.0, wall_j=wall_j, meat_j=3300.0 * meat_kg, air_wall_w=g_w,
        air_meat_w=0.4 * meat_kg, wall_room_w=u_w, room_c=12.0, room_k_per_s=0.0, room_end_c=12.0, lag_s=120.0,
        core_lag_s=3600.0,
    )  # fmt: skip
    plain_s = last_at_or_above(world, 33.0, None)
    for slower in (
        replace(world, wall_j=wall_j * more),
        replace(world, wall_room_w=u_w / more),
        replace(world, room_end_c=12.0 * more, room_c=12.0 * more),
        replace(world, lag_s=120.0 * more),
        replace(world, meat_j=world.meat_j * more),
    ):
        assert last_at_or_above(slower, 33.0, None) >= plain_s


def test_what_never_falls_so_far_has_no_bound() -> None:
    assert last_at_or_above(lump(20_000.0, room_c=30.0), 29.9, None) == float("inf")


def test_a_core_that_has_fallen_less_ends_the_question_earlier() -> None:
    assert last_at_or_above(lump(20_000.0), 20.0, 2.0) < last_at_or_above(lump(20_000.0), 20.0, None)


# The bound.


def test_the_colder_it_has_become_the_longer_it_can_have_been() -> None:
    bounds = [longest_s(HELD, LOAD, CELLAR, Now(air_c)) for air_c in (35.9, 35.5, 34.0, 30.0, 25.0, 20.0)]
    assert all(bound_s is not None for bound_s in bounds)
    assert bounds == sorted(bounds)  # type: ignore[type-var]


@pytest.mark.parametrize(
    ("warmth", "chamber", "now"),
    [
        (Warmth(), CELLAR, Now(36.0)),  # Nothing is known of before.
        (HELD, CELLAR, Now(36.5)),  # Warmer than before: something has warmed it.
        (HELD, CELLAR, Now(15.0)),  # As warm as its room.
        (replace(HELD, heat_w=0.0, hour_w=0.0), replace(CHAMBER, room_c=(20.0, 40.0)), Now(35.9)),
        (replace(HELD, air_c=4.0, high_c=4.1, low_c=3.9), CELLAR, Now(3.5)),  # Colder, though the room is warmer.
    ],
)
def test_where_nothing_can_be_told_there_is_no_bound(warmth: Warmth, chamber: Chamber, now: Now) -> None:
    assert longest_s(warmth, LOAD, chamber, now) is None


def test_a_cold_chamber_is_bounded_by_its_warming() -> None:
    cold = replace(HELD, air_c=4.0, hour_c=4.0, now_c=4.0, high_c=4.1, low_c=3.9, heat_w=0.0, hour_w=0.0, room_c=20.0)
    bounds = [longest_s(cold, LOAD, CHAMBER, Now(air_c, None, 20.0)) for air_c in (4.2, 6.0, 9.0)]
    assert all(bound_s is not None for bound_s in bounds)
    assert bounds == sorted(bounds)  # type: ignore[type-var]


def test_the_lamps_power_tells_what_leaves_the_chamber_though_the_room_is_hardly_known() -> None:
    wide = replace(CHAMBER, room_c=(0.0, 24.0))
    told = longest_s(HELD, LOAD, wide, Now(35.8))
    less = longest_s(replace(HELD, since_s=8000.0), LOAD, wide, Now(35.8))  # It had not been calm for long.
    assert told is not None
    assert less is not None
    assert told < less


# Over a restart.


@cache
def _two_hours_on() -> Bench:
    bench = hung()
    bench.chamber = CELLAR
    return bench.run(minutes=90)


def cellar(**changes: object) -> Bench:
    """Return a ferment at 36 °C in a cellar, two hours and a half after hanging."""
    bench = again(_two_hours_on())
    bench.chamber = replace(CELLAR, **changes)
    return bench


def test_a_ten_second_flicker_in_a_cellar_is_not_unknown() -> None:
    story = cellar()
    counted_f = story.batch.guarded_f
    cut(story, 10.0 / HOURS_S, told=False)
    assert story.batch.state == "held"
    story.tick().tick()
    assert story.batch.state == "held"  # Until three good readings have come,
    story.tick(air_temp=35.95)
    assert story.batch.state == "running"  # then it goes on by itself,
    story.run(minutes=6)
    assert [row for row, _ in alarms(story)] == ["C5"]  # and nobody is called but for the clock.
    (told,) = [event for event in story.events if "By the cooling the gap was of up to" in event]
    minutes = float(told.split("up to ")[1].split(" ")[0])
    assert minutes < 15.0
    assert "a clock may tell it better" in told
    grown_f = story.batch.guarded_f - counted_f
    whole_min = minutes + 6.25
    assert grown_f == pytest.approx((36.5 * 1.8 - 28.0) * whole_min / 60.0, rel=0.1)


def test_no_heat_is_given_before_the_bound_is_known() -> None:
    story = cut(cellar(), 10.0 / HOURS_S, told=False)
    for _ in range(5):
        assert not story.tick(air_temp=34.0, rh_temp=34.0).heat_on
    assert story.batch.state == "running"


def test_a_bound_of_more_than_a_quarter_of_an_hour_goes_on_with_the_alarm() -> None:
    story = cut(cellar(), 0.5, told=False).run(minutes=1, air_temp=34.5, rh_temp=34.5)
    assert story.batch.state == "running"
    assert ("C16", "1") in alarms(story)
    assert story.batch.away.ph_after_s is not None


@pytest.mark.fault_row("C16")
def test_a_stage_does_not_end_by_time_before_the_alarm_of_a_bound_was_seen() -> None:
    story = cellar()
    hours = story.batch.stage_at_conditions_s / HOURS_S + 0.2
    timed = replace(TIMED.stages[1], kind="rest", until=Until(hours=hours))
    timed_batch = replace(story.batch, profile=replace(TIMED, stages=(TIMED.stages[0], timed, *TIMED.stages[2:])))
    story.memory = replace(story.memory, batches=(timed_batch,))
    cut(story, 0.5, told=False).run(minutes=1, air_temp=34.5, rh_temp=34.5)
    assert ("C16", "2") in alarms(story)
    story.run(minutes=25, air_temp=36.0, rh_temp=36.0)
    assert story.batch.stage_at_conditions_s > hours * HOURS_S
    assert story.batch.stage.name == "ferment"
    (alarm,) = [alarm for alarm in story.memory.alarms if alarm.row == "C16"]
    story.tick(Seen(id="s", alarm=alarm.id)).run(minutes=1)
    assert story.batch.stage.name == "dry"


def test_the_time_of_the_stage_is_not_moved_on_by_a_bound() -> None:
    story = cellar()
    elapsed_s = story.batch.stage_elapsed_s
    cut(story, 0.5, told=False).run(minutes=1, air_temp=34.5, rh_temp=34.5)
    assert story.batch.stage_elapsed_s == pytest.approx(elapsed_s + 60.0)


def test_a_clock_that_comes_later_counts_the_gap_anew_and_lets_the_time_pass() -> None:
    story, other = cellar(), cellar()
    for one, told in ((story, False), (other, True)):
        cut(one, 0.5, told=told).run(minutes=1, air_temp=34.5, rh_temp=34.5)
    assert story.batch.guarded_f > other.batch.guarded_f
    clock_set(story, 0.5)
    other.tick()
    assert story.batch.guarded_f == pytest.approx(other.batch.guarded_f, rel=1e-6)
    assert story.batch.guarded_c == pytest.approx(other.batch.guarded_c, rel=1e-6)
    assert story.batch.elapsed_s == pytest.approx(other.batch.elapsed_s)
    assert story.batch.away.cuts[0].lasted_s == pytest.approx(1800.0, abs=1.0)
    assert len(story.batch.away.cuts) == 1


def test_a_gap_that_is_told_late_belongs_to_the_stage_in_which_it_was() -> None:
    story = cellar()
    cut(story, 0.5, told=False).run(minutes=1, air_temp=34.5, rh_temp=34.5)
    dry, _ = next_stage(story.batch, story.wall_s, "person", "it is sour")
    story.memory = replace(story.memory, batches=(dry,))
    elapsed_s = story.batch.elapsed_s
    clock_set(story.run(minutes=2), 0.5)
    assert story.batch.stage_elapsed_s == pytest.approx(125.0, abs=1.0)
    assert story.batch.elapsed_s == pytest.approx(elapsed_s + 125.0 + 1800.0, abs=6.0)


def test_of_gaps_that_are_told_as_one_time_passes_only_for_who_lived_through_all() -> None:
    story = cellar()
    cut(story, 0.5, told=False).run(minutes=1, air_temp=34.5, rh_temp=34.5)
    young = replace(story.batch, id="young", hung_s=None, elapsed_s=0.0, stage_elapsed_s=0.0, gap_at_s=None)
    young = replace(young, away=type(young.away)(), state="running", held_because="", held_by_gap=False)
    story.memory = replace(story.memory, batches=(*story.memory.batches, young))
    old_s = story.batch.elapsed_s
    cut(story, 0.25, told=False).run(minutes=1, air_temp=34.0, rh_temp=34.0)
    clock_set(story, 0.75)
    old, young = story.memory.batches
    assert old.elapsed_s == pytest.approx(old_s + 65.0 + 2700.0, abs=70.0)
    assert young.elapsed_s <= 70.0, "nobody knows which part of it was its own"


def test_a_ph_typed_in_between_is_counted_anew_too() -> None:
    story, other = cellar(), cellar()
    for one, told in ((story, False), (other, True)):
        cut(one, 0.5, told=told).run(minutes=1, air_temp=34.5, rh_temp=34.5)
        at_s = one.wall_s
        one.tick(Ph(id="p", at_wall_s=at_s, value=5.1, instrument="meter", sample="sausage", sure=True)).run(minutes=1)
        assert one.batch.passed_5_3
    clock_set(story, 0.5)
    other.tick()
    assert story.batch.passed_5_3
    assert story.batch.guarded_f == pytest.approx(other.batch.guarded_f, rel=1e-6)
    assert story.batch.spare_guarded_f == pytest.approx(other.batch.spare_guarded_f, rel=0.01)


def test_a_clock_that_tells_of_a_long_cut_holds_what_the_cooling_had_let_go() -> None:
    story = cut(cellar(), 9.0, told=False).run(minutes=1, air_temp=35.95)
    assert story.batch.state == "running"  # Somebody had warmed the chamber meanwhile.
    clock_set(story, 9.0).run(minutes=1)
    assert story.batch.state == "held"
    assert any("the model figures of the chamber file are wrong" in event for event in story.events)


def test_what_a_person_has_resumed_no_clock_holds() -> None:
    story = cut(cellar(room_c=(20.0, 45.0)), 9.0, told=False).run(minutes=7)
    story.tick(Ph(id="p", at_wall_s=story.wall_s, value=5.4, instrument="meter", sample="sausage", sure=True))
    story.tick(Resume(id="r", because="looked and smelled")).run(minutes=1)
    assert story.batch.state == "running"
    clock_set(story, 9.0).run(minutes=1)
    assert story.batch.state == "running"


def never(bench: Bench) -> Bench:
    """Let the clock have been wrong before the cut already, so that none can ever tell."""
    bench.wall_trusted = False
    bench.tick()
    kept = bench.memory
    bench = cut(bench, 0.5, told=False)
    bench.memory = replace(bench.memory, gap_open_wall_s=None)
    assert kept.gap_open_wall_s is None
    return bench


def test_where_no_clock_can_ever_tell_the_bound_counts_for_good() -> None:
    story = never(cellar()).run(minutes=1, air_temp=35.0, rh_temp=35.0)
    assert story.batch.state == "running"
    assert not story.batch.gap_lost
    assert story.batch.gap_at_s is None
    assert any("no clock can tell it better" in event for event in story.events)
    counted_f = story.batch.guarded_f
    clock_set(story, 0.5).run(minutes=1)
    assert story.batch.guarded_f == pytest.approx(counted_f, rel=0.02)


def test_a_bound_of_more_than_eight_hours_waits_for_a_clock_and_counts_where_there_is_none() -> None:
    waits = cut(cellar(), 10.0, told=False)
    counted_f = waits.batch.guarded_f
    waits.run(minutes=1, air_temp=20.0, rh_temp=20.0)
    assert waits.batch.state == "held"
    assert waits.batch.guarded_f - counted_f < 1.0
    assert any("only a clock may count that" in event for event in waits.events)
    counts = never(cellar()).run(minutes=1, air_temp=20.0, rh_temp=20.0)
    assert counts.batch.state == "held"
    assert counts.batch.guarded_f - counted_f > (36.5 * 1.8 - 28.0) * 8.0


def test_a_second_cut_before_the_first_was_looked_into_is_bounded_together_with_it() -> None:
    story = cut(cellar(), 5 * MIN, told=False).tick()
    cut(story, 5 * MIN, told=False)
    story.memory = replace(story.memory, gap_open_wall_s=WALL_S)
    story.run(minutes=1, air_temp=35.5, rh_temp=35.5)
    assert story.batch.away.holes == 0
    assert story.batch.state == "running"
    (told,) = [event for event in story.events if "By the cooling" in event]
    assert float(told.split("up to ")[1].split(" ")[0]) > 10.0


def test_while_the_disk_makes_trouble_the_checkpoint_may_be_old_and_nothing_is_bounded() -> None:
    story = cut(cellar(), 10.0 / HOURS_S, told=False)
    story.trouble = (Trouble("C6", "The disk is full"),)
    story.run(minutes=1)
    assert story.batch.state == "held"


def test_one_that_hangs_elsewhere_is_bounded_by_the_same_time() -> None:
    story = cellar()
    away = replace(TIMED, stages=(TIMED.stages[0], replace(TIMED.stages[1], where="elsewhere", air_temp_c=24.0)))
    other = replace(story.batch, id="other", profile=away)
    story.memory = replace(story.memory, batches=(*story.memory.batches, other))
    counted_f = other.guarded_f
    cut(story, 10.0 / HOURS_S, told=False).run(minutes=1, air_temp=35.95)
    grown_f = story.memory.batches[1].guarded_f - counted_f
    assert grown_f == pytest.approx((24.5 * 1.8 - 28.0) * (story.batch.away.bound_s + 60.0) / HOURS_S, rel=0.05)


@settings(max_examples=25)
@given(cuts=st.lists(st.tuples(st.floats(0.01, 0.5), st.floats(0.5, 3.0), st.floats(33.0, 36.0)), max_size=4))
def test_whatever_was_bounded_on_the_way_a_clock_sets_it_right(cuts: list[tuple[float, float, float]]) -> None:
    """Count by clocks alone, and by bounds that a clock takes back at the end: the same, but for warmer gaps."""
    bounded, told = cellar(), cellar()
    lost_h = 0.0
    for hours, minutes, air_c in cuts:
        cut(bounded, hours, told=False).run(minutes=minutes, air_temp=air_c, rh_temp=air_c)
        cut(told, hours).run(minutes=minutes, air_temp=air_c, rh_temp=air_c)
        lost_h += hours - 30.0 / HOURS_S
    bounded.wall_s += lost_h * HOURS_S
    bounded.wall_trusted = True
    bounded.tick()
    told.tick()
    assert bounded.batch.elapsed_s == pytest.approx(told.batch.elapsed_s, abs=1.0)
    assert bounded.batch.guarded_f >= told.batch.guarded_f - 0.05
    assert bounded.batch.guarded_f <= told.batch.guarded_f + sum(hours for hours, _, _ in cuts) * 3.0 * 1.8 + 0.05
    assert bounded.batch.away.bound_s == 0.0


@pytest.mark.parametrize("row", ["A1", "A3", "A10", "S3", "S9"])
def test_while_lamp_relay_or_thermometer_are_in_doubt_nothing_is_bounded(row: str) -> None:
    story = cut(cellar(), 10.0 / HOURS_S, told=False)
    doubt = Alarm(f"{row}-1", row, "1", "Invented.", WALL_S, unproved=True, since_s=story.now_s)
    story.memory = replace(story.memory, alarms=(*story.memory.alarms, doubt))
    story.run(minutes=1)
    assert story.batch.state == "held"


def test_more_meat_takes_longer_also_where_it_is_another_batch_or_nobody_has_said_that_it_hangs() -> None:
    def minutes(story: Bench) -> float:
        cut(story, 0.2, told=False).run(minutes=1, air_temp=35.2, rh_temp=35.2)
        return story.memory.batches[0].away.bound_s / 60.0

    alone, along, unsaid = cellar(), cellar(), cellar()
    along.memory = replace(along.memory, batches=(along.batch, replace(along.batch, id="other", hung_s=None)))
    unsaid.memory = replace(unsaid.memory, batches=(replace(unsaid.batch, meat_kg=10.0),))
    of_5_kg, of_two, of_10_kg = minutes(alone), minutes(along), minutes(unsaid)
    assert of_two == pytest.approx(of_10_kg)
    assert of_two > of_5_kg > 0.0
