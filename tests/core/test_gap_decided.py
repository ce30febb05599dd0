"""A gap of unknown length over which a person has let the batch go on, and one over which nobody has."""

import pytest
from msgspec.structs import replace

from controller.core.outage.away import Away, Cut
from controller.core.plan import Stage, Until
from controller.core.requests import Hang, Hold, Next, Ph, Resume, Seen
from tests.helpers.bench_chamber import PROFILE, Bench
from tests.helpers.outages import (
    NOTHING_TOLD,
    alarms,
    answered,
    clock_set,
    crash,
    cut,
    failed_again,
    hung,
    leaking,
    waiting,
)

LOOKED = Resume(id="r", because="looked and smelled, as always")


def let_go(bench: Bench) -> Bench:
    """Let a person measure and let the batch go on."""
    assert answered(bench, Ph(id="p", at_wall_s=None, value=5.6, instrument="meter"))[0]
    assert answered(bench, LOOKED)[0]
    return bench


def called(bench: Bench) -> list[tuple[str, str, bool]]:
    """Return the alarms of cuts: which, of which batch, and whether somebody has seen it."""
    return [(alarm.id, alarm.batch, alarm.seen) for alarm in bench.memory.alarms if alarm.row == "C16"]


# Somebody has decided.


@pytest.mark.parametrize("is_called", [True, False])
def test_whom_somebody_has_let_go_on_meanwhile_is_not_paused_again(is_called: bool) -> None:  # noqa: FBT001
    if is_called:
        bench = cut(leaking(hung()), 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")
        bench.run(minutes=2, air_temp=36.0, rh_temp=36.0)
        failed_again(bench).run(minutes=1, air_temp=33.0, rh_temp=33.0)
    else:
        bench = cut(hung(), 9.0, told=False).run(minutes=2, air_temp=30.0, rh_temp=30.0)
    assert (("C16", "1") in alarms(bench), bench.batch.state) == (is_called, "held")
    assert answered(bench, Ph(id="p", at_wall_s=None, value=5.6, instrument="meter"))[0]
    assert answered(bench, Resume(id="r", because="looked and smelled, as always"))[0]
    bench.run(minutes=10)
    assert (bench.batch.state, bench.batch.away.asks) == ("running", "")


def test_one_who_lets_it_go_on_and_pauses_it_again_for_a_reason_of_his_own_is_asked_nothing() -> None:
    bench = let_go(cut(hung(), 9.0, told=False).run(minutes=2, air_temp=30.0, rh_temp=30.0))
    assert answered(bench, Hold(id="o"))[0]
    bench.run(minutes=10)
    assert (bench.batch.state, bench.batch.away.asks, called(bench)) == ("held", "", [])
    assert answered(bench, Resume(id="again"))[0]


def test_a_later_short_cut_does_not_wait_for_one_that_was_decided() -> None:
    bench = cut(leaking(hung()), 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")
    bench.run(minutes=8, air_temp=36.0, rh_temp=36.0)
    let_go(bench).run(minutes=60)
    failed_again(bench).run(minutes=10)
    assert (bench.batch.state, bench.batch.away.asks) == ("running", "")
    assert bench.batch.away.holes == 1, "the count still lacks the first one"


def test_but_one_of_unknown_length_does_though_it_comes_before_the_first_was_looked_into() -> None:
    bench = let_go(cut(hung(), 9.0, told=False).run(minutes=1, air_temp="missing", rh_temp="missing"))
    failed_again(bench).run(minutes=10, air_temp=30.0, rh_temp=30.0)
    assert (bench.batch.state, bench.heat_on) == ("held", False)
    assert ("C16", "1") in alarms(bench)


def test_a_gap_before_hanging_is_none_of_the_meat() -> None:
    bench = cut(leaking(waiting()), 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")
    bench.run(minutes=8, air_temp=36.0, rh_temp=36.0)
    assert answered(bench, LOOKED)[0]
    bench.tick(Hang(id="h", pieces_g={"A": 400.0})).run(minutes=60)
    failed_again(bench).run(minutes=10)
    assert (bench.batch.state, bench.batch.away.asks) == ("running", "")
    clock_set(bench, -20.0).run(minutes=2)
    assert not bench.batch.gap_lost


# Nobody has.


@pytest.mark.parametrize("kind", ["rest", "ferment"])
def test_a_stage_elsewhere_that_ends_before_anybody_is_called_is_no_decision(kind: str) -> None:
    until = Until(hours=1.0, ph_at_most=5.2 if kind == "ferment" else None)
    away = Stage(name="away", kind=kind, where="elsewhere", until=until, air_temp_c=24.0)  # type: ignore[arg-type]
    dry = Stage(name="warm dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=26.0, rh_pct=78.0)
    bench = Bench(NOTHING_TOLD, replace(PROFILE, stages=(away, dry)))
    bench.run(minutes=2, air_temp=20.0, rh_temp=20.0).tick(Hang(id="h", pieces_g={"A": 400.0})).run(minutes=50)
    assert answered(bench, Ph(id="p", at_wall_s=None, value=4.9, instrument="meter", sure=True, sample="sausage"))[0]
    bench.run(minutes=6)
    cut(bench, 20.0, told=False).run(minutes=12)
    assert (bench.batch.stage.name, bench.batch.state, bench.heat_on) == ("warm dry", "held", False)
    assert ("C16", "1") in alarms(bench)
    clock_set(bench, 20.0).run(minutes=5)
    assert bench.batch.state == "held"


def test_two_batches_are_called_for_once_each() -> None:
    bench = leaking(hung())
    cut(bench, 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")
    bench.run(minutes=2, air_temp=36.0, rh_temp=36.0)
    first = bench.batch
    today = tuple(Cut(first.elapsed_s - 3600.0 * hours, 60.0, first.stage_index) for hours in (4, 3, 2, 1))
    often = replace(first, id="often", away=replace(first.away, cuts=today))
    bench.memory = replace(bench.memory, batches=(often, replace(first, id="once")))
    failed_again(bench).run(minutes=1)
    assert [(batch, seen) for _, batch, seen in called(bench)] == [("often", False)], "five cuts in a day"
    assert answered(bench, Seen(id="s", alarm=called(bench)[0][0]))[0]
    bench.run(minutes=8)
    assert sorted(batch for _, batch, _ in called(bench) if batch) in (["once"], ["often", "once"])
    assert sum(event.startswith("alarm: The program was not running") for event in bench.events) == 2


@pytest.mark.parametrize("state", ["held", "running"])
def test_what_an_older_program_kept_of_an_open_gap_is_read_so_too(state: str) -> None:
    bench = cut(hung(), 20.0, told=False).run(minutes=1, air_temp=22.0, rh_temp=22.0)
    kept = replace(bench.batch, away=Away(), state=state, held_by_gap=state == "held")
    bench.memory = replace(bench.memory, back=None, batches=(kept,))
    crash(bench).run(minutes=10)
    assert bench.batch.state == state, "a person has let it go on, or nobody has"
    clock_set(bench, 20.0).run(minutes=5)
    assert bench.batch.state == state
    assert (("C16", "1") in alarms(bench)) == (state == "held")


def test_hanging_the_meat_while_a_batch_waits_is_no_decision() -> None:
    bench = cut(leaking(waiting()), 9.0, told=False).run(minutes=2.5, air_temp="missing", rh_temp="missing")
    bench.run(minutes=8, air_temp=36.0, rh_temp=36.0)
    assert bench.batch.state == "held"
    bench.tick(Hang(id="h", pieces_g={"A": 400.0})).run(minutes=5)
    failed_again(bench).run(minutes=20)
    assert (bench.batch.state, bench.heat_on) == ("held", False)
    assert ("C16", "1") in alarms(bench)


def test_who_decided_over_a_first_gap_is_called_for_the_second() -> None:
    bench = let_go(cut(hung(), 9.0, told=False).run(minutes=8, air_temp=30.0, rh_temp=30.0)).run(minutes=30)
    for name, _, _ in called(bench):
        assert answered(bench, Seen(id=f"s-{name}", alarm=name))[0]
    assert answered(bench, Hold(id="o"))[0]
    cut(bench, 20.0, told=False).run(minutes=1, air_temp=22.0, rh_temp=22.0)
    assert not [one for one in called(bench) if not one[2]]
    clock_set(bench, 20.0).run(minutes=5)
    assert [batch for _, batch, seen in called(bench) if not seen] == [bench.batch.id]
    assert (bench.batch.state, bench.batch.away.asks) == ("held", "ph")


def test_nobody_is_called_twice_for_one_cut_because_the_program_ended_once_more() -> None:
    bench = cut(hung(), 9.0, told=False).run(minutes=2, air_temp=30.0, rh_temp=30.0)
    crash(bench, 1200.0).run(minutes=1)
    ((name, _, _),) = called(bench)
    assert answered(bench, Seen(id="s", alarm=name))[0]
    bench.run(minutes=10)
    assert not [one for one in called(bench) if not one[2]]
    assert bench.batch.state == "held"


def test_a_stage_elsewhere_that_ends_long_after_the_return_waits_for_nothing() -> None:
    rest = Stage(name="rest", kind="rest", where="elsewhere", until=Until(hours=1.2), air_temp_c=4.0)
    dry = Stage(name="warm dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=26.0, rh_pct=78.0)
    bench = Bench(NOTHING_TOLD, replace(PROFILE, stages=(rest, dry)))
    bench.run(minutes=2, air_temp=20.0, rh_temp=20.0).tick(Hang(id="h", pieces_g={"A": 400.0})).run(minutes=50)
    cut(bench, 0.01, told=False).run(minutes=3, air_temp="missing", rh_temp="missing")
    bench.run(minutes=80, air_temp=20.0, rh_temp=20.0)
    assert (bench.batch.stage.name, bench.batch.state) == ("warm dry", "running")
    crash(bench, 1200.0).run(minutes=10)
    assert bench.batch.state == "running"


@pytest.mark.parametrize("ended", [True, False])
def test_a_stage_that_is_ended_in_the_tick_of_the_return_leaves_no_hours_to_the_next(ended: bool) -> None:  # noqa: FBT001
    """Found by a campaign (seed 31101): a cook that had begun five minutes ago was told to have lasted four hours."""
    rest = Stage(name="rest", kind="rest", until=Until(hours=20.0), air_temp_c=13.0)
    dry = Stage(name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=13.0, rh_pct=78.0)
    bench = Bench(NOTHING_TOLD, replace(PROFILE, stages=(rest, dry)))
    bench.run(minutes=2, air_temp=13.0, rh_temp=13.0).tick(Hang(id="h", pieces_g={"A": 400.0})).run(minutes=50)
    cut(bench, 4.0, told=False)
    if ended:
        assert answered(bench, Next(id="n", because="in a hurry"))[0]
    bench.run(minutes=3, air_temp=13.0, rh_temp=13.0)
    clock_set(bench, 4.0)
    assert bench.batch.stage.name == ("dry" if ended else "rest")
    assert bench.batch.elapsed_s > 4.0 * 3600.0
    assert (bench.batch.stage_elapsed_s < 600.0) is ended


@pytest.mark.parametrize("told", [True, False])
def test_nor_after_a_cut_whose_alarm_was_seen_while_the_batch_still_waits(told: bool) -> None:  # noqa: FBT001
    bench = cut(hung(), 20.0, told=told).run(minutes=10, air_temp=22.0, rh_temp=22.0)
    ((name, _, _),) = called(bench)
    assert answered(bench, Seen(id="s", alarm=name))[0]
    crash(bench).run(minutes=10)
    assert called(bench) == []
    assert (bench.batch.state, bench.batch.away.asks) == ("held", "ph")
    crash(bench, 3600.0).run(minutes=10)
    assert len(called(bench)) == 1, "an hour more is news"


def test_whom_a_person_has_paused_is_called_for_where_the_power_failed_often() -> None:
    bench = leaking(hung()).run(minutes=1)
    assert answered(bench, Hold(id="o"))[0]
    batch = bench.batch
    today = tuple(Cut(batch.elapsed_s - 3600.0 * hours, 60.0, batch.stage_index) for hours in (4, 3, 2, 1))
    bench.memory = replace(bench.memory, batches=(replace(batch, away=replace(batch.away, cuts=today)),))
    cut(bench, 0.01, told=False).run(minutes=8, air_temp=36.0, rh_temp=36.0)
    assert [batch for _, batch, _ in called(bench)] == ["b"]


# What the cooling has bounded, and a clock tells after all.


def lengths_s(bench: Bench) -> list[float]:
    """Return how long the cuts of the batch were, oldest first."""
    return [cut.lasted_s for cut in bench.batch.away.cuts]


def test_a_clock_tells_of_the_cut_that_was_bounded_and_not_of_a_later_one() -> None:
    bench = cut(leaking(hung()), 0.1, told=False).run(minutes=2)
    assert [lasted_s > 360.0 for lasted_s in lengths_s(bench)] == [True]
    crash(bench, 2400.0).run(minutes=1)
    clock_set(bench, 0.1).run(minutes=1)
    assert lengths_s(bench) == [2400.0, pytest.approx(360.0, abs=10.0)]
    assert bench.batch.away.counted_s == pytest.approx(sum(lengths_s(bench)))
    assert bench.batch.away.counted == 2


def test_a_clock_tells_as_one_of_two_that_were_bounded() -> None:
    bench = cut(leaking(hung()), 0.1, told=False).run(minutes=2)
    failed_again(bench).run(minutes=2)
    assert len(lengths_s(bench)) == 2
    clock_set(bench, 0.15).run(minutes=1)
    assert lengths_s(bench) == [pytest.approx(540.0, abs=60.0)]
    assert (bench.batch.away.counted, bench.batch.away.counted_s) == (1, lengths_s(bench)[0])


def test_nor_does_one_count_twice_of_a_batch_whose_meat_waits() -> None:
    bench = cut(leaking(waiting()), 0.1, told=False).run(minutes=2)
    assert len(lengths_s(bench)) == 1
    clock_set(bench, 0.1).run(minutes=1)
    assert lengths_s(bench) == [pytest.approx(360.0, abs=10.0)]


def test_one_that_no_clock_could_tell_stays_when_a_clock_tells_of_another() -> None:
    bench = cut(leaking(hung()), 0.1, told=False).run(minutes=2)
    clock_set(bench, -1.0).run(minutes=1)  # It lies before the cut, so nothing can tell of that one any more.
    (bounded_s,) = lengths_s(bench)
    cut(bench, 0.2, told=False).run(minutes=2)
    clock_set(bench, 0.2).run(minutes=1)
    assert lengths_s(bench) == [bounded_s, pytest.approx(720.0, abs=10.0)]
