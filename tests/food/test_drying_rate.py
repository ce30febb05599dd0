"""How fast is too fast, where drying ends, and how dry the surface is, against the published drying tables."""

import pytest

from controller.food.drying import mix_of
from controller.food.drying_rate import (
    DAY_S,
    is_stalled,
    is_unreachable,
    rate_pct_per_day,
    rh_that_reaches_pct,
    shrunk_to,
    surface_activity,
    too_fast_level,
    usual_pct_per_day,
)
from tests.helpers.published_rows import rows_of

MIX, LACTATE = mix_of(25.0, 2.7, 0.5), 0.050  # As the published drying tables have it.
"""The mix of the published tables."""
TABLE = rows_of("drying_table.csv")


def ids(row: dict[str, str]) -> str:
    return f"{row['d_mm']}mm-{row['T']}C-{row['RH']}"


@pytest.mark.parametrize("row", TABLE, ids=ids)
def test_the_rate_of_the_first_days_tells_how_dry_the_surface_is(row: dict[str, str]) -> None:
    rate = (float(row["loss_d3"]) - float(row["loss_d1"])) / 2.0
    air = (float(row["T"]), float(row["RH"]))
    found = surface_activity(MIX, LACTATE, air, rate, float(row["loss_d3"]), float(row["d_mm"]))
    # The mean rate of the second and third day lies above that of the third day's end: a little too damp.
    assert -0.001 <= found - float(row["awsurf_d3"]) <= 0.007


@pytest.mark.parametrize("row", TABLE, ids=ids)
def test_between_20_and_25_per_cent_the_surface_is_told_within_the_model_s_error(row: dict[str, str]) -> None:
    rate = 5.0 / (float(row["d25"]) - float(row["d20"]))
    air = (float(row["T"]), float(row["RH"]))
    found = surface_activity(MIX, LACTATE, air, rate, 20.0, float(row["d_mm"]))
    # This rate is that of later days than the 20 %, so it tells of a drier surface: up to 0.02.
    assert -0.02 <= found - float(row["awsurf_at20"]) <= 0.0


@pytest.mark.parametrize("row", TABLE, ids=ids)
def test_a_sausage_shrinks_by_the_water_that_left(row: dict[str, str]) -> None:
    assert shrunk_to(float(row["final"])) == pytest.approx(float(row["R_ratio"]), abs=0.001)


def test_a_surface_is_never_damper_than_the_mean_of_the_mix() -> None:
    slow = surface_activity(MIX, LACTATE, (13.0, 95.0), 5.0, 20.0, 55.0)
    assert slow == pytest.approx(0.937, abs=0.001)  # aw_vs_loss.csv: 0.9366 at 25 % fat and 20 %.


def test_a_fan_tells_of_a_damper_surface_at_the_same_rate() -> None:
    still = surface_activity(MIX, LACTATE, (13.0, 75.0), 1.2, 15.0, 55.0)
    assert surface_activity(MIX, LACTATE, (13.0, 75.0), 1.2, 15.0, 55.0, fan_share=1.0) < still


@pytest.mark.parametrize(
    ("rate", "diameter_mm", "level"),
    [
        (2.5, 55.0, 0), (2.6, 55.0, 1), (4.0, 55.0, 1), (4.1, 55.0, 2),  # The published proxy, for 55 mm;
        (4.2, 32.0, 0), (4.4, 32.0, 1), (1.6, 80.0, 0), (1.8, 80.0, 1), (2.8, 80.0, 2),  # it goes with 1/d.
    ],
)  # fmt: skip
def test_too_fast_is_scaled_with_the_diameter(rate: float, diameter_mm: float, level: int) -> None:
    assert too_fast_level(rate, diameter_mm) == level


@pytest.mark.parametrize("row", TABLE, ids=ids)
def test_no_drying_of_the_table_in_still_air_is_called_very_fast(row: dict[str, str]) -> None:
    assert too_fast_level(float(row["loss_d3"]) / 3.0, float(row["d_mm"])) == 0


def test_before_a_fan_the_first_day_may_be_too_fast() -> None:
    levels = {
        row["kc_m_per_s"]: too_fast_level(float(row["loss_d1"]), 55.0) for row in rows_of("drying_by_air_speed.csv")
    }
    assert levels == {"0.0012": 0, "0.0025": 0, "0.005": 1, "0.008": 1, "0.012": 2}


def test_what_is_usual_is_less_after_the_first_days() -> None:
    assert usual_pct_per_day(55.0, 3.0) == (1.0, 1.5)
    assert usual_pct_per_day(55.0, 12.0) == (0.5, 0.7)
    assert usual_pct_per_day(110.0, 12.0) == (0.25, 0.35)


def test_drying_stands_still_only_after_three_days_of_next_to_nothing() -> None:
    assert is_stalled(0.05, 3.0)
    assert not is_stalled(0.05, 2.9)
    assert not is_stalled(0.1, 5.0)


def test_a_rate_is_per_day_and_of_the_green_weight() -> None:
    assert rate_pct_per_day(500.0, (0.0, 450.0), (2.5 * DAY_S, 440.0)) == pytest.approx(0.8)
    assert rate_pct_per_day(500.0, (0.0, 450.0), (1800.0, 440.0)) is None


def test_what_damp_air_forbids_is_told_with_the_air_that_would_do() -> None:
    # Beside drying_table.csv: 25 % fat ends at about 39 % in 85 %RH, so 40 % is never reached; 41.5 % in 82 %RH.
    assert is_unreachable(MIX, LACTATE, 85.0, 40.0) == pytest.approx(39.1, abs=0.1)
    assert is_unreachable(MIX, LACTATE, 82.0, 40.0) is None
    assert [row["d40"] for row in TABLE if row["RH"] == "85"] == ["", "", ""]
    need = rh_that_reaches_pct(MIX, LACTATE, 40.0)
    assert need == 81
    assert is_unreachable(MIX, LACTATE, float(need), 40.0) is None
