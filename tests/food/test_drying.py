"""Water activity, composition and the end of drying, against published figures."""

import pytest

from controller.food.drying import (
    CASING_M_PER_S,
    STILL_M_PER_S,
    aw_of_salt,
    diffusivity_m2_s,
    equilibrium_loss_pct,
    fresh_area_m2_per_kg,
    mix_of,
    moisture_protein_ratio,
    surface_m_per_s,
    water_activity,
    water_activity_at_loss,
)
from controller.food.drying_rate import FANNED_M_PER_S, HEAT_J_PER_M3_K
from tests.helpers.published_rows import rows_of

LACTATE_MOL = 0.050
"""Of the published table: 0.5 % dextrose."""


@pytest.mark.parametrize("row", rows_of("salt_water_activity.csv"), ids=lambda row: row["mol_per_kg"])
def test_salt_water_agrees_with_robinson_and_stokes(row: dict[str, str]) -> None:
    assert aw_of_salt(float(row["mol_per_kg"])) == pytest.approx(float(row["aw"]), abs=6e-4)


@pytest.mark.parametrize("row", rows_of("aw_vs_loss.csv"), ids=lambda row: f"fat{row['fat']}-loss{row['loss']}")
def test_water_activity_falls_with_weight_loss_as_published(row: dict[str, str]) -> None:
    mix = mix_of(float(row["fat"]) * 100.0, 2.7, 0.5)
    loss_pct = float(row["loss"])
    water_kg = mix.water_kg - loss_pct / 100.0
    assert 100.0 * water_kg / (1.0 - loss_pct / 100.0) == pytest.approx(float(row["water_pct"]), abs=6e-5)
    assert water_activity_at_loss(mix, loss_pct, LACTATE_MOL) == pytest.approx(float(row["aw"]), abs=5e-4)
    assert moisture_protein_ratio(mix, loss_pct) == pytest.approx(float(row["MPR"]), abs=6e-5)


@pytest.mark.parametrize(("rh_pct", "loss_pct"), [(75.0, 45.0), (78.0, 43.8), (82.0, 41.5), (85.0, 39.0)])
def test_drying_ends_where_the_air_is_as_wet_as_the_meat(rh_pct: float, loss_pct: float) -> None:
    # Published for 25 % fat beside drying_table.csv: 45.0, 43.8, 41.5 and about 39 %.
    mix = mix_of(25.0, 2.7, 0.5)
    end_pct = equilibrium_loss_pct(mix, rh_pct, LACTATE_MOL)
    assert end_pct == pytest.approx(loss_pct, abs=0.3)
    assert water_activity_at_loss(mix, end_pct, LACTATE_MOL) == pytest.approx(rh_pct / 100.0)


def test_in_wet_air_nothing_dries_and_without_water_there_is_no_activity() -> None:
    mix = mix_of(25.0, 2.7, 0.5)
    assert equilibrium_loss_pct(mix, 97.0) == 0.0
    assert water_activity(mix, 0.0) == 0.0
    assert equilibrium_loss_pct(mix, 0.0) == pytest.approx(100.0 * mix.water_kg, abs=0.01)


def test_still_air_is_natural_convection_at_one_to_two_kelvin() -> None:
    rows = [row for row in rows_of("surface_transfer.csv") if row["mode"] in {"natural dT=1.0 K", "natural dT=2.0 K"}]
    published = [float(row["kc"]) for row in rows]
    assert len(published) == 6
    assert min(published) <= STILL_M_PER_S <= max(published)


@pytest.mark.parametrize("row", rows_of("surface_transfer.csv"), ids=lambda row: f"{row['d_mm']} mm {row['mode']}")
def test_heat_and_mass_go_through_the_film_together_as_lewis_says(row: dict[str, str]) -> None:
    # The table prints kc to 0.0001; half a step of it, and 1 % for the air's figures at another temperature.
    kc = float(row["h"]) / HEAT_J_PER_M3_K
    assert kc == pytest.approx(float(row["kc"]), rel=0.01, abs=0.00005 + 0.01 * float(row["kc"]))


def test_a_fan_is_moving_air_of_a_tenth_to_half_a_metre_a_second() -> None:
    rows = [
        row for row in rows_of("surface_transfer.csv") if row["d_mm"] == "55.0" and row["mode"].startswith("forced")
    ]
    by_speed = {float(row["mode"].split()[1]): float(row["kc"]) for row in rows}
    assert sorted(by_speed) == [0.05, 0.1, 0.2, 0.3, 0.5, 1.0]
    assert pytest.approx(0.5 * (by_speed[0.1] + by_speed[0.5]), abs=0.0001) == FANNED_M_PER_S
    assert STILL_M_PER_S < by_speed[0.05] == min(by_speed.values())


def test_casing_and_air_stand_one_behind_the_other() -> None:
    assert 1.0 / surface_m_per_s(0.0025) == pytest.approx(1.0 / 0.0025 + 1.0 / CASING_M_PER_S)


def test_warm_and_wet_meat_lets_water_through_faster() -> None:
    assert diffusivity_m2_s(13.0, 1.0) == 1.2e-10
    # 32 kJ/mol (J Food Eng 149:188, 2015): by the definition of the activation energy.
    assert diffusivity_m2_s(23.0, 1.0) / diffusivity_m2_s(13.0, 1.0) == pytest.approx(1.575, abs=0.005)
    assert diffusivity_m2_s(13.0, 0.25) == pytest.approx(0.6e-10)


@pytest.mark.parametrize(("diameter_mm", "area"), [(32.0, 0.119), (55.0, 0.069), (80.0, 0.048)])
def test_thin_sausage_has_more_skin(diameter_mm: float, area: float) -> None:
    assert fresh_area_m2_per_kg(diameter_mm) == pytest.approx(area, abs=0.0006)


@pytest.mark.parametrize("percent", [(98.0, 2.7, 0.5), (25.0, -1.0, 0.5)])
def test_a_mix_that_cannot_be_is_refused(percent: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="below 100 %"):
        mix_of(*percent)
