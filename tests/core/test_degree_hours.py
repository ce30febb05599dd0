"""The degree-hours of a batch: counted without loss, warned of in time; over the limit nothing goes on by itself."""

from math import floor, inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.batch.counting import count, count_gap, recount
from controller.core.batch.margin import OVER, binding, hours_to_limit, is_over_limit, margins, tell_limit_time
from controller.core.batch.stages import is_over
from controller.core.memory import Batch, Inputs, Sums
from controller.core.plan import Chamber, DegreeHoursRule, StageKind, Until
from controller.core.requests import Confirm, Hold, Next, Ph, Resume
from controller.core.restart import after_restart
from controller.core.step import step
from controller.core.values import Reading
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench
from tests.helpers.published_rows import rows_of
from tests.helpers.readings import answer, fermenting, later, refused

BANDS = [row for row in rows_of("degree_hours_limits.csv") if row["kind"] == "band"]
FERMENT = Batch(id="b", profile=PROFILE, began_wall_s=WALL_S, hung_s=0.0, hung_wall_s=WALL_S, stage_index=1)

temps = st.floats(-5.0, 60.0)
stretches = st.lists(st.tuples(temps, st.floats(1.0, 7200.0)), min_size=1, max_size=12)


def counted(batch: Batch, log: list[tuple[float, float]], error_k: float = 0.5) -> Batch:
    for temp_c, lasts_s in log:
        batch = count(batch, temp_c, lasts_s, error_k)
    return batch


def figures(batch: Batch) -> tuple[float, float, float, float]:
    return batch.degree_hours_f, batch.degree_hours_c, batch.guarded_f, batch.guarded_c


@given(stretches)
def test_degree_hours_never_fall_and_the_guarded_are_never_fewer(log: list[tuple[float, float]]) -> None:
    before = FERMENT
    for stretch in log:
        after = counted(before, [stretch])
        assert all(new >= old for new, old in zip(figures(after), figures(before), strict=True))
        assert (after.guarded_f, after.guarded_c) >= (after.degree_hours_f, after.degree_hours_c)
        assert after.guarded_c >= after.degree_hours_c
        before = after


@given(stretches, st.lists(st.floats(0.01, 0.99), min_size=12, max_size=12))
def test_degree_hours_do_not_depend_on_how_a_log_is_cut(log: list[tuple[float, float]], cuts: list[float]) -> None:
    pieces = []
    for (temp_c, lasts_s), cut in zip(log, cuts, strict=False):
        pieces += [(temp_c, lasts_s * cut), (temp_c, lasts_s * (1.0 - cut))]
    whole, cut_up = counted(FERMENT, log), counted(FERMENT, pieces)
    assert figures(cut_up) == pytest.approx(figures(whole), rel=1e-9)
    assert cut_up.highest_air_c == whole.highest_air_c


@given(stretches, stretches)
def test_a_reading_that_is_taken_back_leaves_what_would_have_been_counted_without_it(
    before: list[tuple[float, float]], after: list[tuple[float, float]]
) -> None:
    plain = counted(counted(FERMENT, before), after)
    sums = counted(FERMENT, before)
    mark = Sums(*figures(sums), sums.highest_air_c)
    read = recount(replace(sums, ph=((WALL_S + 1.0, 5.2),), ph_ids=("a",), ph_errors=(0.05,), ph_sums=(mark,)))
    stopped = counted(read, after)
    assert figures(stopped) == figures(sums)
    back = recount(replace(stopped, ph=(), ph_ids=(), ph_errors=(), ph_sums=()))
    assert figures(back) == pytest.approx(figures(plain), rel=1e-9, abs=1e-9)


@given(stretches, st.sampled_from(["us", "canada", "both"]))
def test_the_guarded_limit_is_that_of_the_highest_with_the_error(
    log: list[tuple[float, float]], rule: DegreeHoursRule
) -> None:
    batch = counted(FERMENT, log)
    assert batch.highest_air_c is not None
    over = []
    for margin in margins(batch, 0.5):
        highest = batch.highest_air_c + 0.5
        shown = floor(10 * (highest * 1.8 + 32 if margin.unit == "F" else highest) + 0.5) / 10
        bands = [float(row["limit_degree_hours"]) for row in BANDS if row["unit"] == margin.unit]
        lower, upper = (90.0, 100.0) if margin.unit == "F" else (33.0, 37.0)
        expected = bands[0] if shown < lower else bands[1] if shown <= upper else bands[2]
        if min(abs(shown - lower), abs(shown - upper)) > 0.11:
            assert margin.guarded_limit == expected
        over.append(margin.over)
        assert margin.over == (floor(margin.guarded + 0.5) > margin.guarded_limit)
    chamber = replace(CHAMBER, degree_hours_rule=rule)
    binds = {"us": over[0], "canada": over[1], "both": any(over)}
    assert is_over_limit(batch, chamber) == binds[rule]
    assert binding(batch, chamber).rule in ({rule} if rule != "both" else {"us", "canada"})


@given(st.floats(15.0, 15.2))
def test_a_hair_above_the_base_there_is_no_hour_to_name(temp_c: float) -> None:
    """With the error added 15.1 °C lies at the base: the limit would come in thousands of years, or never."""
    batch = replace(FERMENT, highest_air_c=temp_c)
    assert hours_to_limit(batch, CHAMBER, temp_c) == inf
    assert not tell_limit_time(batch, CHAMBER, temp_c, WALL_S)


@given(st.floats(16.5, 45.0), st.floats(0.0, 400.0))
def test_the_hour_of_the_limit_is_the_hour_at_which_it_is_over(temp_c: float, used_c: float) -> None:
    batch = replace(FERMENT, guarded_c=used_c, guarded_f=used_c * 1.8, highest_air_c=temp_c)
    hours = hours_to_limit(batch, CHAMBER, temp_c)
    assert not is_over_limit(count(batch, temp_c, (hours - 0.001) * 3600.0, 0.5), CHAMBER)
    assert is_over_limit(count(batch, temp_c, (hours + 1.5) * 3600.0, 0.5), CHAMBER)


# A stage never ends by time with the limit passed or the pH unknown.

untils = st.builds(
    Until,
    ph_at_most=st.one_of(st.none(), st.floats(4.4, 5.3)),
    hours=st.one_of(st.none(), st.floats(0.0, 1.0)),
    confirm=st.booleans(),
)
readings = st.lists(st.tuples(st.floats(4.3, 6.2), st.booleans()), max_size=4)


@settings(max_examples=200)
@given(untils, readings, st.floats(0.0, 2000.0), st.sampled_from(["ferment", "dry", "equalise", "rest"]), st.booleans())
def test_no_stage_ends_with_the_limit_passed_or_the_ph_unknown(
    until: Until,
    taken: list[tuple[float, bool]],
    used: float,
    kind: StageKind,
    accepted: bool,  # noqa: FBT001 - drawn
) -> None:
    stage = replace(PROFILE.stages[1], kind=kind, until=until, at_least_h=0.0)
    stages = (PROFILE.stages[0], PROFILE.stages[1], stage)
    batch = replace(
        FERMENT,
        profile=replace(PROFILE, stages=stages),
        stage_index=2,
        stage_elapsed_s=1e6,
        stage_at_conditions_s=1e6,
        confirmed=True,
        over_accepted=accepted,
        ph=tuple((WALL_S + 10.0 + at_s, value) for at_s, (value, _) in enumerate(taken)),
        ph_ids=tuple(str(at_s) for at_s in range(len(taken))),
        ph_errors=(0.05,) * len(taken),
        ph_sums=(Sums(guarded_f=used, highest_air_c=36.0),) * len(taken),
        sausage_ids=tuple(str(at_s) for at_s, (_, core) in enumerate(taken) if core),
        guarded_f=used,
        highest_air_c=36.0,
    )
    batch = recount(batch)
    if is_over(batch, CHAMBER):
        assert accepted or floor(used + 0.5) <= 1000.0
        if until.hours is not None or kind == "ferment":
            assert any(value + 0.05 <= 5.3 + 1e-9 for value, _ in taken)
        if kind == "ferment":
            assert until.ph_at_most is not None
            assert taken[-1][1]
            assert taken[-1][0] + 0.05 <= until.ph_at_most + 1e-9


def test_hours_alone_end_no_drying_whose_5_3_was_corrected_away() -> None:
    dry = replace(PROFILE.stages[2], until=Until(hours=1.0))
    bench = later(fermenting(replace(PROFILE, stages=(*PROFILE.stages[:2], dry))), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=4.7, instrument="meter", sample="sausage"))
    assert bench.batch.stage.name == "dry"
    bench.tick(Ph(id="b", at_wall_s=None, value=5.7, instrument="meter", replaces="a"))
    assert "hold the batch" in answer(bench)
    bench.run(minutes=10, air_temp=13.0, rh_temp=13.0)
    assert later(bench, 3.0).batch.stage.name == "dry"
    assert bench.batch.state != "complete"


# Warnings, and the pause.


def near(share: float) -> Bench:
    """Return a ferment at 36 °C that has used this share of the US limit of 1000 by the guarded figure."""
    bench = fermenting()
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, guarded_f=1000.0 * share, highest_air_c=36.0),))
    return bench.run(minutes=1)


@pytest.mark.parametrize(
    ("share", "told"), [(0.69, []), (0.71, [("P9", "2", 1)]), (0.91, [("P9", "1", 2)]), (1.01, [("P9", "1", 3)])]
)
def test_the_guarded_figure_warns_at_70_at_90_and_over(share: float, told: list[tuple[str, str, int]]) -> None:
    bench = near(share)
    assert [(alarm.row, alarm.priority, alarm.level) for alarm in bench.memory.alarms] == told
    assert all("in " in alarm.text and "UTC" in alarm.text for alarm in bench.memory.alarms if alarm.level < 3)


def test_the_warning_names_the_hour_at_which_the_limit_is_reached() -> None:
    bench = near(0.75)
    per_h = 36.5 * 1.8 + 32.0 - 60.0
    hours = (1000.0 - 750.0) / per_h
    assert f"in {hours:.1f} h, if nothing changes" in bench.memory.alarms[0].text
    # Filled to 750, and a minute later: the words of an alarm are kept up to date.
    assert "751 of 1000 degree-hours (°F) used, with the thermometer's error added" in bench.memory.alarms[0].text


def test_a_rule_that_does_not_bind_warns_of_nothing() -> None:
    canada: Chamber = replace(CHAMBER, degree_hours_rule="canada")
    bench = fermenting()
    bench.chamber = canada
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, guarded_f=5000.0, highest_air_c=36.0),))
    assert bench.run(minutes=1).memory.alarms == ()
    assert bench.batch.state == "running"
    us, _ = margins(bench.batch, 0.5)
    assert us.over  # It is counted and shown all the same.


def test_over_the_limit_heat_and_mist_go_off_and_what_can_cool_cools() -> None:
    bench = near(1.01).run(minutes=20)
    assert bench.batch.state == "held"
    assert OVER in bench.batch.held_because
    assert bench.outcome is not None
    assert (bench.heat_on, bench.outcome.wanted.air_temp_c) == (False, 13.0)
    assert bench.outcome.commands.is_on("cooler", bench.now_s)
    assert not bench.outcome.commands.is_on("humidifier", bench.now_s)
    used = bench.batch.guarded_f
    assert bench.run(minutes=10).batch.guarded_f > used  # The meat does not know that the program waits.


def test_not_one_tick_of_heat_is_given_over_the_limit_and_one_alarm_speaks() -> None:
    bench = fermenting().run(minutes=5, air_temp=34.0)
    assert bench.heat_on
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, guarded_f=1001.0),))
    bench.tick()
    assert (bench.heat_on, bench.batch.state) == (False, "held")
    assert [alarm.row for alarm in bench.run(minutes=2).memory.alarms] == ["P9"]


def test_over_the_limit_only_a_reason_lets_it_go_on_and_it_is_not_paused_for_it_again() -> None:
    bench = near(1.01)
    assert "--because" in refused(bench, Resume(id="r1"))
    assert "--because" in refused(bench, Resume(id="r2", because="  "))
    assert "First, if so decided" in refused(bench, Next(id="n", because="I want to"))
    bench.tick(Resume(id="r3", because="laboratory report of 7 January", actor="ann")).run(minutes=5)
    assert (bench.batch.state, bench.batch.over_accepted) == ("running", True)
    assert any("by a person's decision: laboratory report of 7 January" in event for event in bench.events)
    assert "do not taste until a laboratory" in next(alarm.text for alarm in bench.memory.alarms if alarm.row == "P9")


def test_a_pause_of_a_person_does_not_hide_that_the_limit_was_passed_meanwhile() -> None:
    bench = near(0.995).tick(Hold(id="h", because="cleaning"))
    bench = later(bench, 1.0)
    assert bench.batch.held_because.startswith("over the degree-hours")
    assert "cleaning" in bench.batch.held_because
    assert "--because" in refused(bench, Resume(id="r"))


def test_what_is_over_stays_over_when_5_3_comes_too_late() -> None:
    bench = later(near(1.01), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=4.7, instrument="meter", sample="sausage")).run(minutes=1)
    assert (bench.batch.state, bench.batch.stage.name) == ("held", "ferment")
    assert "do not taste" in answer_of(bench, "a")
    assert any(alarm.row == "P9" and alarm.active for alarm in bench.memory.alarms)
    bench.tick(Confirm(id="c")).run(minutes=1)
    assert bench.batch.stage.name == "ferment"
    bench.tick(Resume(id="r", because="tested, no toxin found")).run(minutes=1)
    assert bench.batch.stage.name == "dry"


def answer_of(bench: Bench, name: str) -> str:
    """Return what was said of a pH, by asking for it once more under another name."""
    bench.tick(Ph(id=f"{name} again", at_wall_s=None, value=4.71, instrument="meter", replaces=name, sample="sausage"))
    return answer(bench)


def test_the_daily_summary_tells_the_margin_and_the_hour() -> None:
    bench = near(0.5)
    now_s = bench.now_s + 5.0
    inputs = Inputs(
        now_s, bench.wall_s + 5.0, wall_trusted=True, readings={"air_temp": Reading(36.0, now_s)}, summary_due=True
    )
    _, outcome = step(bench.memory, inputs, CHAMBER)
    (summary,) = [event for event in outcome.events if event.kind == "summary"]
    assert "501 of 1000 degree-hours (°F) used" in summary.text
    assert "limit reached at 2026-01-05" in summary.text


# Gaps.


def test_a_gap_counts_at_the_highest_temperature_with_the_error_added() -> None:
    batch = count_gap(replace(FERMENT, highest_air_c=30.0), 38.0, 7200.0, 0.5)
    assert batch.guarded_c == pytest.approx(2.0 * (38.5 - 15.6))
    assert batch.degree_hours_c == pytest.approx(2.0 * (38.0 - 15.6))


def test_a_ph_typed_in_before_the_gap_is_reckoned_does_not_escape_it() -> None:
    """What was measured while the program was away lies in the gap: the gap counts for it, whole."""
    bench = later(fermenting(), 10.0)
    before_c = bench.batch.guarded_c
    kept = replace(bench.memory, wall_trusted=True)
    away_s = 4 * 3600.0
    bench.memory, _ = after_restart(
        kept, CHAMBER, bench.now_s + away_s, bench.wall_s + away_s, "boot-1", wall_trusted=True
    )
    bench.now_s += away_s
    bench.wall_s += away_s
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"), air_temp="missing")
    bench.run(minutes=1, air_temp=36.0)
    assert bench.batch.passed_5_3
    assert bench.batch.guarded_c == pytest.approx(before_c + 4.0 * (36.5 - 15.6), rel=0.01)
