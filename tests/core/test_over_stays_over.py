"""A batch that is over its degree-hours: nothing brings the heat back without a reason."""

from msgspec.structs import replace

from controller.core.memory import Batch
from controller.core.requests import Next, Ph, Resume, Seen
from tests.helpers.bench_chamber import PROFILE, WALL_S, Bench
from tests.helpers.readings import answer, fermenting, later, refused


def over() -> Bench:
    """Return a ferment at 36 °C that showed pH 5.6 after ten hours and went over its limit in the twenty after them."""
    bench = later(fermenting(), 10.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.6, instrument="meter"))
    later(bench, 20.0)
    assert bench.batch.state == "held"
    assert not bench.heat_on
    return bench


def test_a_correction_that_would_end_being_over_is_asked_back() -> None:
    bench = over()
    slip = Ph(id="b", at_wall_s=None, value=5.2, instrument="meter", replaces="a")
    assert "which is over its degree-hours, would be within them" in refused(bench, slip)
    assert bench.batch.guarded_f > 900.0


def test_a_correction_gives_no_heat_without_a_reason() -> None:
    bench = over()
    bench.tick(Ph(id="b", at_wall_s=None, value=5.2, instrument="meter", replaces="a", sure=True))
    assert "it stays paused, without heat" in answer(bench)
    assert "was over its degree-hours" in refused(bench, Resume(id="r"))
    assert not bench.run(minutes=5, air_temp=34.0, rh_temp=34.0).heat_on
    bench.tick(Resume(id="r2", because="typed 5.6 for 5.2, the meter's memory shows it"))
    assert "which a correction has lowered since" in bench.events[-1]
    assert bench.run(minutes=5).heat_on


def test_what_was_decided_of_one_count_does_not_hold_for_another() -> None:
    bench = over()
    bench.tick(Resume(id="r", because="the laboratory found nothing"))
    bench.tick(Ph(id="b", at_wall_s=None, value=5.2, instrument="meter", replaces="a", sure=True))
    assert not bench.batch.over_accepted
    bench.tick(Ph(id="c", at_wall_s=None, value=5.6, instrument="meter", replaces="b", sure=True))
    assert bench.batch.state == "held"


def test_over_once_more_calls_once_more_though_it_was_seen_before() -> None:
    bench = over()
    for alarm in bench.memory.alarms:
        bench.tick(Seen(id=f"s{alarm.id}", alarm=alarm.id))
    bench.tick(Ph(id="b", at_wall_s=None, value=5.2, instrument="meter", replaces="a", sure=True)).tick()
    before = len(bench.events)
    bench.tick(Ph(id="c", at_wall_s=None, value=5.6, instrument="meter", replaces="b", sure=True)).tick()
    assert [event for event in bench.events[before:] if event.startswith("alarm again: ") and "Over the limit" in event]
    assert [alarm.seen for alarm in bench.memory.alarms if alarm.row == "P9"] == [False]


def test_what_is_over_stays_in_sight_after_a_person_has_decided() -> None:
    bench = over()
    bench.tick(Resume(id="r", because="the laboratory found nothing"))
    later(bench, 1.0)
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.1, instrument="meter", sure=True)).tick()
    assert bench.batch.passed_5_3
    alarm = next(alarm for alarm in bench.memory.alarms if alarm.row == "P9")
    assert alarm.active
    assert "A person has said go on." in alarm.text


def hanging_along(where: str = "chamber") -> Bench:
    """Return a leading ferment, beside which another batch goes over its limit, here or elsewhere."""
    bench = later(fermenting(), 1.0)
    stages = (replace(PROFILE.stages[1], name="beside", where=where), PROFILE.stages[2])
    over_soon = Batch(
        id="c", profile=replace(PROFILE, stages=stages), began_wall_s=WALL_S, hung_s=0.0, hung_wall_s=WALL_S,
        guarded_f=995.0, degree_hours_f=980.0, highest_air_c=36.0,
    )  # fmt: skip
    bench.memory = replace(bench.memory, batches=(bench.batch, over_soon))
    assert bench.run(minutes=3, air_temp=35.5, rh_temp=35.5).heat_on
    return later(bench, 0.5)


def test_no_heat_comes_near_a_batch_that_hangs_along_and_is_over() -> None:
    bench = hanging_along()
    bench.run(minutes=3)
    assert bench.memory.batches[1].state == "held"
    assert bench.memory.batches[0].state == "running"
    assert not bench.heat_on
    assert bench.outcome is not None
    assert "P9" in bench.outcome.interlocks
    assert any("Heat and mist are off in the whole chamber" in event for event in bench.events)
    bench.tick(Resume(id="r", batch="c", because="the laboratory found nothing"))
    assert bench.run(minutes=3).heat_on


def test_of_a_batch_elsewhere_it_is_said_who_has_to_cool_it() -> None:
    bench = hanging_along("elsewhere")
    assert bench.memory.batches[1].state == "held"
    assert any("It is not in this chamber: cool it yourself, now" in event for event in bench.events)
    assert bench.run(minutes=3).heat_on


def test_of_a_ferment_elsewhere_the_answer_says_who_cools_it_when_nobody_measures() -> None:
    bench = hanging_along("elsewhere")
    early = replace(bench.memory.batches[1], state="running", held_because="", guarded_f=0.0, guarded_c=0.0)
    bench.memory = replace(bench.memory, batches=(bench.memory.batches[0], early))
    bench.tick(Ph(id="e", batch="c", at_wall_s=bench.wall_s, value=5.6, instrument="meter"))
    assert "it has to be cooled by you, for it is not in this chamber" in answer(bench)


def test_a_ph_that_is_missed_a_second_time_calls_a_second_time() -> None:
    bench = later(fermenting(air_c=20.0), 15.0)
    first = next(alarm for alarm in bench.memory.alarms if alarm.row == "H2")
    bench.tick(Seen(id="s", alarm=first.id))
    text = next(alarm.text for alarm in bench.memory.alarms if alarm.row == "H2")
    later(bench, 3.0)
    newer = next(alarm.text for alarm in bench.memory.alarms if alarm.row == "H2")
    assert newer != text  # Hours pass, and the words with them, in silence.
    assert sum("has not been entered" in event for event in bench.events) == 1
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.8, instrument="meter"))
    later(bench, 16.0)
    assert sum("has not been entered" in event for event in bench.events) == 2


def test_an_old_ph_does_not_answer_for_the_one_that_is_due() -> None:
    bench = later(fermenting(air_c=20.0), 6.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.7, instrument="meter"))
    later(bench, 9.0)
    assert any(alarm.row == "H2" for alarm in bench.memory.alarms)
    bench.tick(Ph(id="b", at_wall_s=None, value=5.75, instrument="meter", replaces="a"))
    assert bench.batch.overdue
    bench.tick(Ph(id="c", at_wall_s=bench.wall_s, value=5.5, instrument="meter"))
    assert not bench.batch.overdue


def test_the_answer_to_a_corrected_ph_says_which_reading_counts_now() -> None:
    bench = later(fermenting(), 6.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.7, instrument="meter"))
    later(bench, 4.0)
    bench.tick(Ph(id="b", at_wall_s=bench.wall_s, value=5.5, instrument="meter"))
    bench.tick(Ph(id="c", at_wall_s=None, value=5.75, instrument="meter", replaces="a"))
    assert "pH 5.75. The newest reading is 5.50 of 2026-" in answer(bench)


def test_next_is_refused_while_it_is_over() -> None:
    assert "over its degree-hours" in refused(over(), Next(id="n", because="x"))
