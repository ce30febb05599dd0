"""Moist air against CoolProp (real gas, ASHRAE RP-1485) and against psychrolib (ASHRAE 2017)."""

import pytest

from controller.food.air import (
    LATENT_J_PER_KG,
    STANDARD_PRESSURE_PA,
    TRIPLE_POINT_C,
    density_kg_m3,
    dew_point_c,
    enthalpy_kj_kg,
    humidity_ratio,
    rh_pct,
    saturation_pressure_pa,
    vapour_density_kg_m3,
    vapour_pressure_pa,
)
from tests.helpers.published_rows import rows_of

GRID = [(float(temp_c), float(rh)) for temp_c in range(-5, 51, 5) for rh in (5, 20, 40, 60, 80, 100)]


def coolprop(what: str, temp_c: float, rh: float) -> float:
    from CoolProp.HumidAirProp import HAPropsSI  # It takes a second, and only one process needs it.

    value: float = HAPropsSI(what, "T", temp_c + 273.15, "P", STANDARD_PRESSURE_PA, "R", rh / 100.0)
    return value


@pytest.mark.parametrize(("temp_c", "rh"), GRID)
def test_moist_air_agrees_with_coolprop(temp_c: float, rh: float) -> None:
    # The differences are those of the ideal gas: CoolProp knows the enhancement factor of 1.004 to 1.006.
    vapour_pa = vapour_pressure_pa(temp_c, rh)
    ratio = humidity_ratio(vapour_pa)
    true_ratio, true_volume_m3 = coolprop("W", temp_c, rh), coolprop("Vda", temp_c, rh)
    assert dew_point_c(vapour_pa) == pytest.approx(coolprop("D", temp_c, rh) - 273.15, abs=0.03)
    assert ratio == pytest.approx(true_ratio, rel=0.007)
    assert vapour_density_kg_m3(temp_c, vapour_pa) == pytest.approx(true_ratio / true_volume_m3, rel=0.007)
    assert enthalpy_kj_kg(temp_c, ratio) == pytest.approx(coolprop("H", temp_c, rh) / 1000.0, abs=1.2)
    assert density_kg_m3(temp_c, ratio) == pytest.approx((1.0 + true_ratio) / true_volume_m3, rel=0.001)


@pytest.mark.parametrize("row", rows_of("psychro_checkpoints.csv"), ids=lambda row: f"{row['T_C']}C-{row['RH_pct']}pct")
def test_moist_air_agrees_with_the_published_check_points(row: dict[str, str]) -> None:
    temp_c = float(row["T_C"])
    vapour_pa = vapour_pressure_pa(temp_c, float(row["RH_pct"]))
    ratio = humidity_ratio(vapour_pa)
    # All figures of the row have four decimals.
    assert vapour_pa == pytest.approx(float(row["pv_Pa_psychrolib"]), abs=1e-4)
    assert dew_point_c(vapour_pa) == pytest.approx(float(row["Td_psychrolib"]), abs=1e-3)
    assert ratio * 1000.0 == pytest.approx(float(row["W_psychrolib_gkg"]), abs=1e-4)
    assert enthalpy_kj_kg(temp_c, ratio) == pytest.approx(float(row["h_psychrolib"]), abs=1e-3)
    assert vapour_density_kg_m3(temp_c, vapour_pa) * 1000.0 == pytest.approx(float(row["AH_psychrolib"]), rel=1e-4)


@pytest.mark.parametrize("temp_c", [-60.0, -20.0, -0.5, 0.0, TRIPLE_POINT_C, 0.02, 0.5, 13.0, 36.0, 100.0, 180.0])
def test_the_dew_point_of_saturated_air_is_its_temperature(temp_c: float) -> None:
    assert dew_point_c(saturation_pressure_pa(temp_c)) == pytest.approx(temp_c, abs=1e-4)


def test_relative_humidity_is_the_way_back_from_vapour_pressure() -> None:
    assert rh_pct(13.0, vapour_pressure_pa(13.0, 78.0)) == pytest.approx(78.0)


@pytest.mark.parametrize("vapour_pa", [0.0, -1.0, float("nan")])
def test_air_without_vapour_has_no_dew_point(vapour_pa: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        dew_point_c(vapour_pa)


def test_the_one_latent_heat_is_that_of_the_chambers_usual_temperature() -> None:
    # Enthalpy of vapour (equation 30) less that of water at 13 °C, in kJ/kg.
    assert pytest.approx(2501.0 + 1.86 * 13.0 - 4.186 * 13.0, rel=0.002) == LATENT_J_PER_KG / 1000.0
