"""Forecasts from batch folders written by hand, as any batch could have left them."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.core.plan import Profile, Stage, Until
from controller.errors import NoInputError
from controller.food.drying import equilibrium_loss_pct, mix_of
from controller.review.forecast.folder import Outlook, outlook
from controller.review.forecast.told import Forecast, words_of
from tests.helpers.batch_logs import HOUR_S, Log
from tests.helpers.recorded import PROFILE, WALL_S

WARM, FERMENT, SMOKE, DRY = PROFILE.stages
RAW = replace(PROFILE, stages=(WARM, replace(FERMENT, air_temp_c=24.0, until=Until(ph_at_most=5.2)), DRY))
STEPS = replace(
    PROFILE,
    stages=(
        WARM,
        FERMENT,
        replace(DRY, name="dry-1", air_temp_c=13.0, rh_pct=85.0, until=Until(weight_loss_pct=10.0)),
        replace(DRY, name="dry-2", air_temp_c=13.0, rh_pct=75.0, until=Until(weight_loss_pct=38.0)),
    ),
)
DAY_H = 24.0


def look(log: Log, folder: Path, profile: Profile = RAW) -> Outlook:
    return outlook(log.write(folder, profile))


def the(seen: Outlook, target: float) -> Forecast:
    (found,) = (one for one in seen.forecasts if one.target == target)
    return found


def hours(forecast: Forecast) -> list[float]:
    """Return the five instants in hours after the invented morning, when the meat was hung."""
    assert forecast.quantiles_s is not None
    return [(at_s - WALL_S) / HOUR_S for at_s in forecast.quantiles_s]


def souring(to_h: float, air_c: float = 24.0) -> Log:
    return Log().event(0.0, "hang").minutes(0.0, to_h, air_c, set_c=24.0, every_min=10.0)


def test_before_the_drop_the_recipe_speaks_and_says_so(tmp_path: Path) -> None:
    seen = look(souring(6.0).reading(0.0, "ph", 5.75), tmp_path)
    first = the(seen, 5.3)
    # The published model says 42 to 43 h at 24 °C with 0.3 % of dextrose.
    assert hours(first)[0] < 42.5 < hours(first)[4]
    assert (first.basis, first.readings) == ("recipe", 1)
    assert first.measure_next_s == pytest.approx(WALL_S + hours(first)[1] * HOUR_S)
    assert "(80 %), based mainly on the recipe" in words_of(first, "UTC")
    assert [one.target for one in seen.forecasts] == [5.3, 5.2]


def test_two_readings_inside_the_drop_take_the_word(tmp_path: Path) -> None:
    log = souring(36.0).reading(0.0, "ph", 5.75).reading(24.0, "ph", 5.6).reading(30.0, "ph", 5.55)
    early = the(look(log, tmp_path / "early"), 5.3)
    log.reading(36.0, "ph", 5.42)
    late = the(look(log, tmp_path / "late"), 5.3)
    assert early.basis == "readings"  # 5.60 and 5.55 are both 0.15 below the start.
    assert late.readings == 4
    assert "from 4 readings" in words_of(late, "UTC")
    assert hours(late)[4] - hours(late)[0] < 0.7 * (hours(early)[4] - hours(early)[0])


def test_strips_count_for_nothing_and_a_corrected_reading_is_replaced(tmp_path: Path) -> None:
    plain = souring(36.0).reading(0.0, "ph", 5.75).reading(36.0, "ph", 5.5)
    expected = look(plain, tmp_path / "plain").forecasts
    log = souring(36.0).reading(0.0, "ph", 5.75)
    log.reading(36.0, "ph", 5.0, id="slip").reading(36.0, "ph", 4.8, instrument="strips")
    log.reading(36.0, "ph", 5.5, replaces="slip")
    assert look(log, tmp_path / "corrected").forecasts == expected


def test_a_cold_night_puts_the_hour_off_and_the_wanted_temperature_counts_after_it(tmp_path: Path) -> None:
    warm = the(look(souring(12.0).reading(0.0, "ph", 5.75), tmp_path / "warm"), 5.3)
    cold = the(look(souring(12.0, air_c=12.0).reading(0.0, "ph", 5.75), tmp_path / "cold"), 5.3)
    lost_h = hours(cold)[2] - hours(warm)[2]
    # At 12 °C this culture feels a quarter of what it feels at 24 °C (Rosso's factor), so of 12 h some 8 are lost.
    assert 6.0 < lost_h < 10.0


def test_a_reading_that_came_late_is_not_taken_for_the_fresh_mix(tmp_path: Path) -> None:
    late = the(look(souring(40.0).reading(40.0, "ph", 5.4), tmp_path), 5.3)
    assert hours(late)[0] > 40.0
    assert hours(late)[2] < 50.0


def test_a_reading_at_the_target_ends_the_forecast_once_the_meter_s_error_is_inside(tmp_path: Path) -> None:
    log = souring(44.0).reading(0.0, "ph", 5.75).reading(42.0, "ph", 5.27)
    assert the(look(log, tmp_path / "near"), 5.3).reached_s is None
    log.reading(44.0, "ph", 5.25)
    there = the(look(log, tmp_path / "there"), 5.3)
    assert there.reached_s == WALL_S + 44.0 * HOUR_S
    assert there.quantiles_s is None
    assert words_of(there, "UTC") == "pH 5.3 is reached: measured Wed 02:00."


def test_too_little_dextrose_is_told(tmp_path: Path) -> None:
    profile = replace(RAW, stages=(WARM, replace(FERMENT, air_temp_c=24.0, until=Until(ph_at_most=4.8)), DRY))
    low = the(look(souring(6.0).reading(0.0, "ph", 5.75), tmp_path, profile), 4.8)
    assert low.p_never > 0.9  # Published: 0.3 % ends at 5.08, and at 4.97 with a weak buffer.
    said = words_of(low, "UTC")
    assert "unlikely to come" in said
    assert "The dextrose in this batch (0.29 % of the mix) may not be enough." in said


def test_a_batch_without_a_starter_has_no_forecast_of_its_ph(tmp_path: Path) -> None:
    seen = look(souring(6.0).reading(0.0, "ph", 5.75), tmp_path, replace(RAW, starter="none"))
    assert seen.forecasts == ()
    assert "no starter" in seen.nothing


def drying(days: float, rh_pct: float = 78.0, losses: dict[float, float] | None = None, stage: str = "dry") -> Log:
    """Return a batch that has dried for so long at 13 °C, with the loss (%) weighed on these days."""
    log = Log().event(0.0, "hang").reading(0.0, "weight", 400, piece="A")
    log.event(0.05, "stage", "hang").event(0.1, "stage", "until")
    log.minutes(0.1, days * DAY_H, 13.0, stage=stage, rh_pct=rh_pct, set_c=13.0, every_min=10.0)
    for day, loss_pct in (losses or {}).items():
        log.reading(day * DAY_H, "weight", 400.0 * (1.0 - loss_pct / 100.0), piece="A")
    return log


TABLE = {1.0: 1.75, 3.0: 5.08, 8.0: 12.8, 13.79: 20.0}
"""Of the published drying table, 55 mm at 13 °C and 78 %RH: 35 % come on day 32.6 (day 8 from its model)."""


def test_weighings_bring_the_day_of_the_target(tmp_path: Path) -> None:
    (found,) = look(drying(14.0, losses=TABLE), tmp_path).forecasts
    low, _, middle, _, high = (at / DAY_H for at in hours(found))
    assert low < 32.6 < high
    assert middle == pytest.approx(32.6, rel=0.1)
    assert (found.kind, found.target, found.basis, found.readings) == ("weight_loss", 35.0, "readings", 5)
    assert words_of(found, "UTC").startswith("35 % loss expected ")
    assert "from 5 weighings" in words_of(found, "UTC")


def test_after_a_day_it_is_mainly_the_recipe(tmp_path: Path) -> None:
    (found,) = look(drying(1.0, losses={1.0: 1.75}), tmp_path).forecasts
    assert found.basis == "recipe"
    assert found.measure_next_s == WALL_S + 8.0 * DAY_H * HOUR_S  # A week after the last weighing at the latest.


def test_the_slowest_piece_counts_and_one_that_is_out_does_not(tmp_path: Path) -> None:
    expected = look(drying(14.0, losses=TABLE), tmp_path / "alone").forecasts
    log = drying(14.0, losses=TABLE)
    log.reading(0.0, "weight", 300, piece="B").reading(13.0 * DAY_H, "weight", 210, piece="B")
    log.reading(0.0, "weight", 300, piece="C").reading(5.0 * DAY_H, "weight", 290, piece="C")
    log.reading(5.0 * DAY_H, "weight", 290, piece="C", note="out; eaten")
    assert look(log, tmp_path / "three").forecasts == expected


def test_in_damp_air_the_target_is_out_of_reach_and_a_drier_one_is_named(tmp_path: Path) -> None:
    profile = replace(RAW, stages=(*RAW.stages[:2], replace(DRY, rh_pct=90.0)))
    (found,) = look(drying(10.0, rh_pct=90.0, losses={5.0: 4.0, 10.0: 7.5}), tmp_path, profile).forecasts
    assert found.p_never > 0.5
    said = words_of(found, "UTC")
    assert "At 90 %RH drying ends near " in said
    named_pct = float(said.partition("; at ")[2].partition(" %RH")[0])
    mix = mix_of(25.0, 2.7, 0.3)
    assert equilibrium_loss_pct(mix, named_pct) > 36.0
    assert equilibrium_loss_pct(mix, 90.0) < 35.0


def test_air_that_is_dry_enough_is_not_given_as_the_reason_where_the_weighings_slow_down(tmp_path: Path) -> None:
    slow = {day: 12.0 * (1.0 - 0.6**day) for day in (2.0, 4.0, 6.0, 9.0, 12.0, 16.0, 20.0)}
    (found,) = look(drying(20.0, rh_pct=75.0, losses=slow), tmp_path).forecasts
    assert found.p_never > 0.5
    said = words_of(found, "UTC")
    assert equilibrium_loss_pct(mix_of(25.0, 2.7, 0.3), 75.0) > found.target + 2.3  # The air would let it come.
    assert "unlikely to come" in said
    assert "The air is dry enough" in said
    assert "the weighings slow down" in said
    assert "drying ends near" not in said
    assert "If it comes" not in said
    assert "(80 %)" not in said


def test_a_later_and_drier_stage_is_reckoned_with_its_own_air(tmp_path: Path) -> None:
    log = drying(4.0, rh_pct=85.0, losses={2.0: 2.4, 4.0: 4.6}, stage="dry-1")
    seen = look(log, tmp_path, STEPS)
    assert [one.target for one in seen.forecasts] == [10.0, 38.0]
    # 38 % hardly come at 85 %RH (the equilibrium is near 39 %), but the profile goes on at 75 %RH.
    last = the(seen, 38.0)
    assert last.p_never < 0.1
    assert hours(last)[2] > hours(the(seen, 10.0))[2]


def test_what_dries_elsewhere_is_reckoned_with_the_air_that_the_stage_asks_for(tmp_path: Path) -> None:
    def away(rh_pct: float) -> Forecast:
        cellar = Stage(name="cellar", kind="dry", where="elsewhere", until=DRY.until, air_temp_c=13.0, rh_pct=rh_pct)
        log = Log().event(0.0, "hang").minutes(0.0, 40.0, 24.0, every_min=10.0).reading(0.0, "weight", 400, piece="A")
        log.event(0.05, "stage", "hang").event(40.0, "stage", "until").reading(40.0 + 48.0, "weight", 385, piece="A")
        seen = look(log, tmp_path / f"{rh_pct:g}", replace(RAW, stages=(*RAW.stages[:2], cellar)))
        return the(seen, 35.0)

    dry, damp = away(75.0), away(84.0)
    assert hours(dry)[2] < hours(damp)[2]


def test_after_a_cook_the_days_are_counted_anew_from_the_next_weighing(tmp_path: Path) -> None:
    cook = Stage(name="cook", kind="cook", where="elsewhere", until=Until(confirm=True))
    profile = replace(RAW, stages=(WARM, FERMENT, cook, replace(DRY, until=Until(weight_loss_pct=20.0))))

    def cooked(*losses: tuple[float, float]) -> Forecast:
        log = Log().event(0.0, "hang").minutes(0.0, 20.0, 36.0, every_min=10.0).reading(0.0, "weight", 400, piece="A")
        log.event(0.0, "stage", "hang").event(20.0, "stage", "until").event(24.0, "stage", "until")
        log.minutes(24.0, 74.0, 13.0, stage="dry", rh_pct=75.0, set_c=13.0, every_min=10.0)
        for at_h, loss_pct in losses:
            log.reading(at_h, "weight", 400.0 * (1.0 - loss_pct / 100.0), piece="A")
        return the(look(log, tmp_path / f"{len(losses)}", profile), 20.0)

    unweighed, weighed = cooked((18.0, 2.0)), cooked((18.0, 2.0), (26.0, 9.0), (74.0, 12.0))
    # 9 % went in the cook; nobody can know that before somebody weighs.
    assert hours(unweighed)[4] - hours(unweighed)[0] > 2.0 * (hours(weighed)[4] - hours(weighed)[0])
    assert hours(weighed)[2] < hours(unweighed)[2]


@pytest.mark.parametrize(
    ("log", "why"),
    [
        (Log().minutes(0.0, 2.0, 24.0, stage="warm", every_min=10.0), "not hung yet"),
        (drying(2.0), ""),
        (souring(4.0).event(4.0, "end", "stopped"), "the batch is over"),
    ],
    ids=["not hung", "only the green weight", "ended"],
)
def test_where_nothing_can_be_forecast_the_reason_is_given(log: Log, why: str, tmp_path: Path) -> None:
    seen = look(log, tmp_path)
    assert bool(seen.forecasts) == (not why)
    assert why in seen.nothing


def test_unweighed_meat_asks_for_the_scale(tmp_path: Path) -> None:
    log = drying(2.0)
    log.readings.clear()
    assert look(log, tmp_path).nothing == "nothing has been weighed: hangroom weigh A=412"


def test_a_forecast_made_afterwards_is_the_one_that_was_made_then(tmp_path: Path) -> None:
    now_s = WALL_S + 7.5 * DAY_H * HOUR_S
    then = outlook(drying(7.5, losses={1.0: 1.75, 3.0: 5.08}).write(tmp_path / "then", RAW), now_s)
    whole = drying(20.0, losses=TABLE).write(tmp_path / "whole", RAW)
    assert then.forecasts[0].readings == 3
    assert outlook(whole, now_s) == then
    assert outlook(whole) != then


def test_a_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NoInputError, match="no such folder"):
        outlook(tmp_path / "nowhere")


@pytest.mark.parametrize(("p_never", "told"), [(0.997, "99 in 100"), (1.0, "99 in 100"), (0.62, "62 in 100")])
def test_no_forecast_is_surer_than_99_in_100(p_never: float, told: str) -> None:
    quantiles_s = (WALL_S, WALL_S, WALL_S, WALL_S, WALL_S)
    made = Forecast(
        batch="b", made_s=WALL_S, kind="ph", target=5.3, basis="recipe", readings=0, quantiles_s=quantiles_s,
        p_never=p_never,
    )  # fmt: skip
    assert f"({told} that it never does)" in words_of(made, "UTC")
