"""A batch goes from stage to stage on what was measured, and people's words are done once."""

import pytest
from msgspec.structs import replace

from controller.core.plan import Profile, Stage, Until
from controller.core.requests import (
    Clear,
    Confirm,
    CoreTemp,
    End,
    Hang,
    Heard,
    Hold,
    Next,
    Note,
    Ph,
    Request,
    Resume,
    Sample,
    Seen,
    Start,
    Weigh,
)
from tests.helpers.bench_chamber import PROFILE, WALL_S, Bench

COUNT = iter(range(10_000))


def ph(value: float, instrument: str = "meter", replaces: str = "", sample: Sample = "sausage") -> Ph:
    """Return a pH from the middle of a sausage; each four hours after the last one."""
    at_wall_s = WALL_S + 1e5 + 4 * 3600.0 * next(COUNT)
    return Ph(
        id=f"ph-{at_wall_s:.0f}", at_wall_s=at_wall_s, value=value, instrument=instrument, replaces=replaces,
        sample=sample,
    )  # fmt: skip


def hang(**pieces_g: float) -> Hang:
    return Hang(id=f"hang-{next(COUNT)}", pieces_g=pieces_g)


def fermenting() -> Bench:
    """Return a chamber at 36 °C in which the meat has just been hung."""
    return Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(hang(A=400.0, B=410.0))


def answer(bench: Bench) -> str:
    assert bench.outcome is not None
    return bench.outcome.answers[-1].text


def refused(bench: Bench, request: Request) -> str:
    bench.tick(request)
    assert bench.outcome is not None
    assert not bench.outcome.answers[-1].done
    return answer(bench)


def test_the_warm_up_ends_when_the_meat_is_hung() -> None:
    bench = Bench().run(minutes=60, air_temp=36.0, rh_temp=36.0)
    assert bench.batch.stage.name == "warm"
    assert bench.batch.degree_hours_f == 0.0
    bench.tick(hang())
    assert bench.batch.stage.name == "ferment"
    assert bench.batch.ended[0].by == "hang"


def test_ferment_time_and_degree_hours_count_from_hanging() -> None:
    bench = fermenting().run(minutes=60, air_temp=36.0, rh_temp=36.0)
    assert bench.batch.degree_hours_f == pytest.approx(36.0 * 1.8 + 32 - 60, rel=0.01)
    assert bench.batch.degree_hours_c == pytest.approx(36.0 - 15.6, rel=0.01)
    assert bench.batch.stage_elapsed_s == pytest.approx(3600.0, abs=10.0)


def test_a_ferment_ends_on_its_ph_and_on_nothing_else() -> None:
    bench = fermenting().run(minutes=30)
    bench.tick(ph(4.9)).tick(Confirm(id="c"))
    assert bench.batch.stage.name == "ferment"
    bench.tick(ph(4.8))  # The meter may be wrong by 0.05: this may be 4.85.
    assert bench.batch.stage.name == "ferment"
    bench.tick(ph(4.75))
    assert bench.batch.stage.name == "dry"
    assert bench.batch.ended[-1].by == "until"


def test_strips_alone_end_no_ferment() -> None:
    bench = fermenting().tick(ph(4.6, "strips"))
    assert bench.batch.stage.name == "ferment"
    assert bench.outcome is not None
    assert bench.outcome.entries[0].instrument == "strips"


def test_counting_ends_with_the_first_reading_at_5_3() -> None:
    bench = fermenting().tick(ph(5.3)).tick(ph(5.26))  # The meter may be wrong by 0.05: these may be 5.31.
    assert not bench.batch.passed_5_3
    used = bench.tick(ph(5.25)).batch.degree_hours_f
    assert bench.run(minutes=60).batch.degree_hours_f == used


def test_a_person_may_go_on_only_past_5_3_and_when_the_ph_is_flat() -> None:
    bench = fermenting()
    assert "no reading" in refused(bench, Next(id="n1", because="enough"))
    bench.tick(ph(5.4))
    assert "5.40" in refused(bench, Next(id="n2", because="enough"))
    bench.tick(ph(5.2))
    assert "flat" in refused(bench, Next(id="n3", because="enough"))
    bench.tick(ph(5.18))
    assert "reason" in refused(bench, Next(id="n4", because=" "))
    bench.tick(Next(id="n5", because="it stays at 5.2"))
    assert bench.batch.stage.name == "dry"
    assert bench.batch.ended[-1].by == "person"


def test_a_corrected_reading_takes_the_place_of_the_wrong_one() -> None:
    bench = fermenting()
    wrong = ph(4.3)
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, profile=_never_ending()),))
    bench.tick(wrong)
    assert bench.batch.passed_5_3
    bench.tick(ph(5.6, replaces=wrong.id))
    assert [value for _, value in bench.batch.ph] == [5.6]
    assert not bench.batch.passed_5_3
    assert "no such entry" in refused(bench, ph(5.5, replaces="nothing"))


def _never_ending() -> Profile:
    ferment = replace(PROFILE.stages[1], until=Until(ph_at_most=4.2))
    return replace(PROFILE, stages=(PROFILE.stages[0], ferment, PROFILE.stages[2]))


def test_ph_is_asked_for_and_missed() -> None:
    bench = fermenting()
    for minutes in (12 * 60 + 1, 130):
        for _ in range(minutes):
            bench.now_s += 55.0  # Eleven of twelve ticks are left out: only the hours matter here.
            bench.wall_s += 55.0
            bench.tick()
    assert sum("Measure the pH now: 12 h" in event for event in bench.events) == 1
    assert "H2" in [alarm.row for alarm in bench.memory.alarms]
    bench.tick(ph(5.6)).tick()
    assert "H2" not in [alarm.row for alarm in bench.memory.alarms], "who has typed it need not say that he knows"


def test_a_batch_that_is_not_done_is_ended_only_by_who_was_told_what_to_do_with_the_meat() -> None:
    early = Bench().run(minutes=1, air_temp=36.0, rh_temp=36.0)
    assert answer(early.tick(End(id="e"))) == "b: stopped.", "nothing hangs"
    bench = fermenting()
    for request in (End(id="e1"), End(id="e2", aborted=True)):
        question = refused(bench, request)
        assert "no pH has been measured, none at or below 5.3" in question
        assert "It is raw and has not soured: put it below 4 °C at once" in question
        assert "--sure" in question
    assert bench.batch.open
    soured = fermenting().tick(ph(4.7))
    assert soured.batch.stage.name == "dry"
    assert "dry lasts for 0.0 h and is not over" in refused(soured, End(id="e3"))
    assert "It is not finished" in answer(soured.tick(End(id="e4", sure=True)))
    bench.tick(End(id="e5", sure=True))
    assert answer(bench).startswith("b: stopped. It is raw and has not soured")
    assert bench.tick().memory.batches == ()


def test_drying_ends_when_the_slowest_piece_has_lost_enough() -> None:
    bench = fermenting().tick(ph(4.7))
    bench.tick(Weigh(id="w1", at_wall_s=WALL_S + 1e5, pieces_g={"A": 250.0, "B": 280.0}, sure=True))
    assert bench.batch.weight_loss_pct == pytest.approx(100 * (1 - 280 / 410))
    assert bench.batch.state == "running"
    bench.tick(Weigh(id="w2", at_wall_s=WALL_S + 2e5, pieces_g={"B": 260.0}, sure=True))
    assert bench.batch.state == "complete"
    bench.tick(End(id="e"))
    assert not bench.batch.open
    assert bench.batch.state == "complete"
    assert bench.tick().memory.batches == ()


def test_a_corrected_weight_takes_the_place_of_the_wrong_one() -> None:
    bench = fermenting().tick(ph(4.7))
    bench.tick(Weigh(id="w1", at_wall_s=WALL_S + 1e5, pieces_g={"A": 140.0, "B": 280.0}, sure=True))  # 140 for 340.
    bench.tick(Weigh(id="w2", at_wall_s=WALL_S + 2e5, pieces_g={"A": 340.0}, replaces="w1", sure=True))
    assert bench.batch.now_g == {"A": 340.0, "B": 280.0}
    assert bench.batch.weight_loss_pct == pytest.approx(15.0)
    assert "no such entry" in refused(bench, Weigh(id="w3", at_wall_s=WALL_S, pieces_g={"A": 1.0}, replaces="x"))


def test_a_refused_request_that_comes_again_is_refused_again() -> None:
    bench = fermenting()
    resume = Resume(id="again")
    assert "nothing to resume" in refused(bench, resume)
    assert "refused already" in refused(bench, resume)


def test_a_complete_batch_rests_without_heat() -> None:
    bench = (
        fermenting()
        .tick(ph(4.7))
        .tick(Weigh(id="w", at_wall_s=WALL_S + 1e5, pieces_g={"A": 200.0, "B": 200.0}, sure=True))
    )
    bench.run(minutes=30, air_temp=10.0, rh_temp=10.0)
    assert not bench.heat_on
    assert bench.outcome is not None
    assert bench.outcome.wanted.air_temp_c == 13.0
    assert bench.outcome.wanted.rh_pct == 80.0


def test_a_pause_takes_heat_and_mist_and_cools_what_can_be_cooled() -> None:
    bench = fermenting().tick(Hold(id="h", because="lid broken"))
    bench.run(minutes=10)
    assert bench.outcome is not None
    assert bench.outcome.wanted.air_temp_c == 13.0
    assert not bench.heat_on
    assert bench.outcome.commands.is_on("cooler", bench.now_s)
    bench.tick(Resume(id="r"))
    assert bench.batch.state == "running"


def test_elapsed_time_goes_on_in_a_pause_and_time_at_conditions_does_not() -> None:
    bench = fermenting().run(minutes=30)
    at_conditions_s = bench.batch.stage_at_conditions_s
    elapsed_s = bench.batch.stage_elapsed_s
    bench.tick(Hold(id="h")).run(minutes=30)
    assert bench.batch.stage_elapsed_s == pytest.approx(elapsed_s + 1805.0)
    assert bench.batch.stage_at_conditions_s == at_conditions_s


def test_time_at_conditions_waits_while_the_air_is_more_than_a_kelvin_away() -> None:
    bench = fermenting().run(minutes=10)
    before_s = bench.batch.stage_at_conditions_s
    bench.run(minutes=10, air_temp=34.9, rh_temp=34.9)
    assert bench.batch.stage_at_conditions_s <= before_s + 10.0


def test_a_ramp_goes_from_where_the_air_is_to_where_it_is_wanted() -> None:
    dry = replace(PROFILE.stages[2], ramp_h=10.0)
    bench = Bench(profile=replace(PROFILE, stages=(*PROFILE.stages[:2], dry)))
    bench.run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(hang()).tick(ph(4.7)).run(minutes=60)
    assert bench.outcome is not None
    assert bench.outcome.wanted.air_temp_c == pytest.approx(36.0 - 23.0 / 10.0, abs=0.02)


def test_the_same_request_is_done_once_and_answered_twice() -> None:
    bench = fermenting()
    reading = ph(5.5)
    bench.tick(reading).tick(reading)
    assert len(bench.batch.ph) == 1
    assert bench.outcome is not None
    assert bench.outcome.answers[0].done
    assert bench.outcome.entries == ()


def test_two_batches_one_in_the_chamber_and_one_elsewhere() -> None:
    cellar = Stage(name="cellar", kind="dry", where="elsewhere", until=Until(confirm=True))
    bench = Bench(profile=replace(PROFILE, stages=(*PROFILE.stages[:2], cellar)))
    bench.run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(hang())
    second = Start(id="s1", batch="b2", profile=PROFILE, meat_kg=3.0)
    assert "led by b" in refused(bench, second)
    bench.tick(ph(4.7)).tick(replace(second, id="s2"))
    assert [(batch.id, batch.in_chamber) for batch in bench.memory.batches] == [("b", False), ("b2", True)]
    assert "earshot" in answer(bench)
    assert "say --batch NAME" in refused(bench, Confirm(id="c1"))
    bench.tick(Confirm(id="c2", batch="b"))
    assert bench.memory.batches[0].state == "complete"


def test_a_recent_alarm_test_takes_the_caution_away() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    bench.tick(Heard(id="h", at_wall_s=WALL_S - 3600.0))
    bench.tick(Start(id="s", batch="b", profile=PROFILE, meat_kg=3.0))
    assert "earshot" not in answer(bench)


def test_no_start_without_a_tested_cut_out() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    bench.chamber = replace(bench.chamber, heat_refused="thermal_cutout_c is missing")
    assert "thermal_cutout_c" in refused(bench, Start(id="s", batch="b", profile=PROFILE, meat_kg=3.0))


@pytest.mark.parametrize(
    ("request_", "says"),
    [
        (Confirm(id="x1", batch="nobody"), "no such open batch"),
        (Confirm(id="x2"), "hangroom hang"),
        (Resume(id="x3"), "nothing to resume"),
        (Seen(id="x4", alarm="Z9-1"), "no such alarm"),
        (Clear(id="x5", alarm="Z9-1"), "no such alarm"),
        (Weigh(id="x6", at_wall_s=0.0, pieces_g={"A": 0.0}), "more than 0 g"),
    ],
)
def test_what_cannot_be_done_is_refused_with_the_reason(request_: Request, says: str) -> None:
    assert says in refused(Bench(), request_)


def test_a_core_temperature_ends_a_cook() -> None:
    cook = Stage(name="cook", kind="cook", where="elsewhere", until=Until(core_temp_c=68.0))
    bench = Bench(profile=replace(PROFILE, stages=(*PROFILE.stages[:2], cook, PROFILE.stages[2])))
    bench.run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(hang()).tick(ph(4.7))
    bench.tick(CoreTemp(id="k1", at_wall_s=WALL_S, value_c=67.9)).tick(Note(id="k2", at_wall_s=WALL_S, text="nearly"))
    assert bench.batch.stage.name == "cook"
    assert bench.tick(CoreTemp(id="k3", at_wall_s=WALL_S, value_c=68.0)).batch.stage.name == "dry"


def test_a_latched_alarm_is_cleared_by_a_person_and_only_when_its_cause_is_gone() -> None:
    bench = fermenting().run(minutes=1, rh_temp=46.0, air_temp=44.0)
    name = bench.memory.alarms[0].id
    assert "still there" in refused(bench, Clear(id="c1", alarm=name))
    bench.run(minutes=5, air_temp=36.0, rh_temp=36.0)
    assert name in refused(bench, Resume(id="r1"))
    assert "lamp is dark" in refused(bench, Clear(id="c2", alarm=name))
    bench.tick(Clear(id="c3", alarm=name, sure=True)).tick(Resume(id="r2")).run(minutes=1)
    assert bench.batch.state == "running"


def test_the_sounder_calls_until_the_alarm_has_been_seen() -> None:
    bench = fermenting().run(minutes=3).run(minutes=2, air_temp="missing")
    assert bench.outcome is not None
    assert any(bench.tick().outcome.commands.is_on("sounder", bench.now_s) for _ in range(4))  # type: ignore[union-attr]
    bench.tick(Seen(id="s", alarm=bench.memory.alarms[0].id)).run(minutes=1)
    assert not any(bench.tick().outcome.commands.is_on("sounder", bench.now_s) for _ in range(4))  # type: ignore[union-attr]


def test_one_cause_is_one_alarm() -> None:
    bench = fermenting().run(minutes=3).run(minutes=10, air_temp="missing")
    assert [alarm.row for alarm in bench.memory.alarms] == ["S1"]


def test_a_slow_ferment_warns_before_the_degree_hours_are_used_up() -> None:
    bench = fermenting()
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, guarded_f=699.9, highest_air_c=36.0),))
    bench.run(minutes=5)
    assert [(alarm.row, alarm.priority) for alarm in bench.memory.alarms] == [("P9", "2")]
    assert "do not taste" not in bench.memory.alarms[0].text
