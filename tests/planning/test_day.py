"""The day is counted back from the stuffing, so that the hours that matter are hours in which somebody is awake."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.planning.hours import day
from tests.helpers.planned import HOUR_S, NINE, answers_for, hour, plan_for, refusals

UTC = ZoneInfo("UTC")
CLOCKS = st.builds(
    day.Clockwork,
    meat_kg=st.floats(1.0, 20.0),
    warm_s=st.none() | st.floats(900.0, 6.0 * HOUR_S),
    window_h=st.none() | st.tuples(st.floats(8.0, 30.0), st.floats(30.0, 50.0), st.floats(50.0, 90.0)),
    awake=st.tuples(st.sampled_from([5.0, 7.0, 9.5]), st.sampled_from([20.0, 22.0, 24.0])),
    zone=st.sampled_from([UTC, ZoneInfo("Europe/Vienna"), ZoneInfo("America/Chicago")]),
)
NOWS = st.floats(NINE - 300.0 * 86_400.0, NINE + 300.0 * 86_400.0)


@settings(max_examples=60)
@given(work=CLOCKS, stuffed_s=NOWS)
def test_the_steps_are_in_order_and_the_starter_stands_in_water_for_half_an_hour(
    work: day.Clockwork, stuffed_s: float
) -> None:
    times = day.times_of(stuffed_s, work)
    order = [times.weigh_s, times.grind_s, times.mix_s, times.starter_s, times.stuff_s, times.stuffed_s, times.hung_s]
    assert order == sorted(order)
    assert times.starter_s - times.soak_s == pytest.approx(30.0 * 60.0, abs=0.01)
    assert times.first_s <= min(order)
    if times.warm_s is not None and work.warm_s is not None:
        assert times.clean_s < times.warm_s
        assert times.warm_s + work.warm_s <= times.starter_s  # Warm before there is no way back.


@settings(max_examples=25)
@given(work=CLOCKS, now_s=NOWS)
def test_no_hour_of_stuffing_would_put_more_of_the_window_into_waking_hours(work: day.Clockwork, now_s: float) -> None:
    choice = day.choose(answers_for("tangy", now_wall_s=now_s), work)
    others = [day.awake_share(day.times_of(stuffed_s, work).hung_s, work) for stuffed_s in day.candidates(now_s, work)]
    assert choice.awake_share >= min(day.ALMOST, max(others))
    assert choice.times.first_s >= now_s - 1.0
    if choice.awake_share < day.ENOUGH:
        assert any("waking hours" in finding.text for finding in choice.findings)


@settings(max_examples=40)
@given(work=CLOCKS, now_s=NOWS, later_h=st.floats(30.0, 60.0))
def test_an_hour_that_was_given_is_kept_and_judged_by_the_same_figure(
    work: day.Clockwork, now_s: float, later_h: float
) -> None:
    given_s = now_s + later_h * HOUR_S
    choice = day.choose(answers_for("tangy", now_wall_s=now_s, stuffing_wall_s=given_s), work)
    assert choice.times.stuffed_s == given_s
    assert choice.awake_share == pytest.approx(day.awake_share(choice.times.hung_s, work))
    best = day.choose(answers_for("tangy", now_wall_s=now_s), work).awake_share
    if best > choice.awake_share + day.BETTER + 0.02:
        assert any("instead would make it" in finding.text for finding in choice.findings)


@pytest.mark.parametrize(
    ("awake", "at", "is_awake"),
    [
        ((7.0, 23.0), 6.99, False), ((7.0, 23.0), 7.0, True), ((7.0, 23.0), 23.0, False),
        ((16.0, 2.0), 1.0, True), ((16.0, 2.0), 3.0, False), ((16.0, 2.0), 17.0, True), ((0.0, 24.0), 3.0, True),
    ],
)  # fmt: skip
def test_who_works_at_night_is_awake_at_night(awake: tuple[float, float], at: float, *, is_awake: bool) -> None:
    midnight = dt.datetime(2026, 11, 25, tzinfo=dt.UTC).timestamp()
    assert day.is_awake(midnight + at * HOUR_S, awake, UTC) is is_awake


def test_a_tangy_is_stuffed_so_that_its_aim_comes_by_day_and_no_later_than_the_degree_hours() -> None:
    plan = plan_for("tangy")
    assert plan.window_wall_s is not None
    fast, expected, slow = plan.window_wall_s
    assert plan.awake_share > 0.9
    assert 7 <= dt.datetime.fromtimestamp(expected, dt.UTC).hour < 23
    assert fast < expected < slow
    # 36.5 °C with the thermometer's error: 97.7 °F, second band, 1000 / 37.7 = 26.5 h; Canada 555 / 20.9 = 26.6 h.
    assert plan.sheet.latest_5_3_wall_s == pytest.approx(plan.times.hung_s + 1000.0 / 37.7 * HOUR_S)


def test_meat_with_its_starter_in_does_not_wait_cold_over_night() -> None:
    said = refusals(plan_for("tangy", waits_cold_h=8.0))
    assert "8 h of waiting cold with the starter in" in said
    assert "add the starter last" in said


def test_an_hour_before_the_chamber_can_be_warm_is_refused_with_the_first_that_works() -> None:
    said = refusals(plan_for("tangy", stuffing_wall_s=NINE + 0.25 * HOUR_S))
    assert "the chamber is warm at Wed 10:" in said
    assert "Stuff at Wed 12:" in said


def test_an_hour_that_is_over_is_refused() -> None:
    assert "that hour is over" in refusals(plan_for("tangy", stuffing_wall_s=NINE - HOUR_S))


def test_who_is_there_for_three_hours_a_day_only_is_told_to_get_help() -> None:
    plan = plan_for("mild", awake=(18.0, 21.0))
    said = " ".join(plan.sheet.warnings)
    assert plan.awake_share < day.ENOUGH
    assert "no hour of stuffing today or tomorrow is better. Ask somebody to measure" in said


def test_the_page_of_times_holds_everything_that_is_to_be_done() -> None:
    plan = plan_for("tangy")
    told = [f"{hour(step.wall_s)} {step.what}" for step in plan.sheet.steps]
    assert [step.wall_s for step in plan.sheet.steps] == sorted(step.wall_s for step in plan.sheet.steps)
    for words in (
        "--topic cleaning", "hangroom start tangy", "Weigh out", "Grind", "Starter out of the freezer, 1.2 g into 54 g",
        "below 4 °C", "Starter in, last", "Stuff at once", "wrapped test portions as thick", "hangroom hang",
        "Starter: 18.8 g left; press the air out, seal, freeze", "First pH", "from its middle", "LATEST HOUR",
    ):  # fmt: skip
        assert any(words in line for line in told), words


def test_where_no_ph_is_due_in_time_by_day_an_alarm_clock_is_asked_for() -> None:
    night = plan_for("tangy", stuffing_wall_s=NINE + 18.0 * HOUR_S)  # At three in the night.
    said = " ".join(night.sheet.warnings)
    assert re.search(r"Between Fri 02:\d\d, when a slow pH reaches 5\.3, and the latest hour, Fri 05:46", said)
    assert "instead would make it" in said
    assert "Set an alarm clock" not in " ".join(plan_for("tangy").sheet.warnings)
