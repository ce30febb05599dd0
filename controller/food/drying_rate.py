"""How fast a sausage dries: what is usual, what is too fast for its rim, what has stopped, and what the air asks of it.

Rates are in % of the green weight per day. A rim that dries faster than the core can follow becomes hard and shuts the
water in (case hardening). Thin sausage may dry faster than thick: the figures are for 55 mm and go with 1/d.
"""

from math import sqrt
from typing import Final

from controller.food.air import LATENT_J_PER_KG, saturation_pressure_pa, vapour_density_kg_m3
from controller.food.drying import (
    GREEN_KG_PER_M3,
    STILL_M_PER_S,
    WATER_KG_PER_M3,
    Mix,
    equilibrium_loss_pct,
    fresh_area_m2_per_kg,
    surface_m_per_s,
    water_activity_at_loss,
)

DAY_S: Final = 86_400.0
DIAMETER_MM: Final = 55.0
FAST_PCT_PER_DAY: Final = 2.5
VERY_FAST_PCT_PER_DAY: Final = 4.0
"""Over the last two to three days, of 55 mm. Calibrated on a model of ring by ring diffusion: above the first the rim
holds less than 0.6 of the mean water per solids in the first week, above the second less than 0.45."""
USUAL_FIRST: Final = (1.0, 1.5)
USUAL_LATER: Final = (0.5, 0.7)
FIRST_LOSS_PCT: Final = 10.0
"""Usual in the first days, and after. Common practice, no source; as is where "the first days" end."""
STALLED_PCT_PER_DAY: Final = 0.1
STALLED_DAYS: Final = 3.0
"""Common practice, no source."""
MOST_POINTS: Final = 10.0
"""The trade keeps the humidity five to ten points under 100 times the surface's water activity; common practice, no
source (textbooks say "close to the water activity of the product")."""
FANNED_M_PER_S: Final = 0.0065
"""Mass transfer through the film of air before a fan; the middle of 0.004 to 0.009 at 0.1 to 0.5 m/s."""
RADIATION_W_PER_M2_K: Final = 5.0
"""4 eps sigma T^3 at 13 °C and an emissivity of 0.95."""
HEAT_J_PER_M3_K: Final = 1.23 * 1006.0 * 0.89
"""Times the mass transfer in m/s it is the heat by moving air (Chilton and Colburn, Lewis)."""
SPARE_LOSS_PCT: Final = 2.0
"""So far above the wanted loss the end of drying has to lie, or the last per cent takes for ever. Common practice, no
source; by the drying table 40 % at 82 %RH, 1.5 below its end, takes 75 days instead of 39."""
AW_ERROR: Final = 0.02


def rate_pct_per_day(green_g: float, earlier: tuple[float, float], later: tuple[float, float]) -> float | None:
    """Return the loss in % of the green weight per day between two weighings, each (seconds, grams).

    None where they are not at least an hour apart.
    """
    days = (later[0] - earlier[0]) / DAY_S
    return None if days < 1.0 / 24.0 else 100.0 * (earlier[1] - later[1]) / green_g / days


def for_diameter(pct_per_day: float, diameter_mm: float) -> float:
    """Return what a rate for 55 mm means for this diameter: it goes with 1/d."""
    return pct_per_day * DIAMETER_MM / diameter_mm


def usual_pct_per_day(diameter_mm: float, loss_pct: float) -> tuple[float, float]:
    """Return the usual rate, from and to, at this loss in % of the green weight."""
    low, high = USUAL_FIRST if loss_pct < FIRST_LOSS_PCT else USUAL_LATER
    return for_diameter(low, diameter_mm), for_diameter(high, diameter_mm)


def too_fast_level(pct_per_day: float, diameter_mm: float) -> int:
    """Return 2 for a rate that hardens the rim, 1 for one that may, else 0."""
    return (pct_per_day > for_diameter(FAST_PCT_PER_DAY, diameter_mm)) + (
        pct_per_day > for_diameter(VERY_FAST_PCT_PER_DAY, diameter_mm)
    )


def is_stalled(pct_per_day: float, days: float) -> bool:
    """Say whether drying has come to a stand over these days."""
    return days >= STALLED_DAYS and pct_per_day < STALLED_PCT_PER_DAY


def shrunk_to(loss_pct: float) -> float:
    """Return the diameter after this loss as a share of the fresh one: the water leaves, the length stays."""
    return sqrt(max(1.0 - loss_pct / 100.0 * GREEN_KG_PER_M3 / WATER_KG_PER_M3, 0.0))


def surface_activity(
    mix: Mix, lactate_mol: float, air: tuple[float, float], pct_per_day: float, loss_pct: float, diameter_mm: float,
    fan_share: float = 0.0,
) -> float:  # fmt: skip
    """Return the water activity at the surface that this rate of drying tells of; an estimate, good to about 0.02.

    The flux through film and casing, j = k (aw rho_s - rho) / (1 + k aw rho_s' hfg/h), solved for aw: evaporation cools
    the surface, so it takes more than the bare flux. Never wetter than the mix is on the mean.

    Args:
        mix: the composition.
        lactate_mol: per kg of green mass.
        air: °C and %RH, 0 to 40 °C.
        pct_per_day: measured loss in % of the green weight per day.
        loss_pct: in % of the green weight, so far.
        diameter_mm: of the fresh sausage.
        fan_share: of the time that a fan moves the air, 0 to 1.
    """
    temp_c, rh_pct = air
    film = STILL_M_PER_S + (FANNED_M_PER_S - STILL_M_PER_S) * fan_share
    k = surface_m_per_s(film)
    saturated = vapour_density_kg_m3(temp_c, saturation_pressure_pa(temp_c))
    per_k = (
        vapour_density_kg_m3(temp_c + 0.5, saturation_pressure_pa(temp_c + 0.5))
        - vapour_density_kg_m3(temp_c - 0.5, saturation_pressure_pa(temp_c - 0.5))
    )  # fmt: skip
    area_m2_per_kg = fresh_area_m2_per_kg(diameter_mm) * max(shrunk_to(loss_pct), 0.5)
    flux = max(pct_per_day, 0.0) / 100.0 / DAY_S / area_m2_per_kg
    cooling = k * per_k * LATENT_J_PER_KG / (film * HEAT_J_PER_M3_K + RADIATION_W_PER_M2_K)
    inner = water_activity_at_loss(mix, loss_pct, lactate_mol)
    bare = k * saturated - flux * cooling
    return inner if bare <= 0.0 else min((flux + k * saturated * rh_pct / 100.0) / bare, inner)


def rh_that_reaches_pct(mix: Mix, lactate_mol: float, loss_pct: float) -> int:
    """Return the dampest air, in whole %RH, in which this loss is reached with some to spare."""
    return int(100.0 * water_activity_at_loss(mix, loss_pct + SPARE_LOSS_PCT, lactate_mol))


def is_unreachable(mix: Mix, lactate_mol: float, rh_pct: float, loss_pct: float) -> float | None:
    """Return where drying ends at this humidity if the wanted loss lies beyond it; None where it is reached."""
    ends_pct = equilibrium_loss_pct(mix, rh_pct, lactate_mol)
    return ends_pct if ends_pct <= loss_pct else None
