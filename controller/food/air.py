"""Moist air: saturation pressure, vapour pressure, dew point, vapour density, humidity ratio, enthalpy, density.

Equations by number from ASHRAE Handbook, Fundamentals (2017), chapter 1, as quoted in the docstrings of psychrolib
2.5.0. Vapour pressure, dew point and vapour density do not depend on the air's pressure, so no barometer is needed.
"""

from math import exp, log
from typing import Final

ZERO_C_IN_K: Final = 273.15
TRIPLE_POINT_C: Final = 0.01
VAPOUR_GAS_CONSTANT: Final = 461.52
"""Of water vapour, J/(kg K)."""
STANDARD_PRESSURE_PA: Final = 101_325.0
MASS_RATIO: Final = 0.621945
"""Molar mass of water to that of dry air."""
DRY_AIR_GAS_CONSTANT: Final = 287.042
"""Of dry air, J/(kg K)."""
LATENT_J_PER_KG: Final = 2.47e6
"""Heat of evaporation of water near 13 °C; the models use this one figure at all temperatures (2.5e6 at 0 °C by the
enthalpy of equation 30, 2.41e6 at 40 °C)."""
DEW_POINT_TOLERANCE_K: Final = 1e-6


def saturation_pressure_pa(temp_c: float) -> float:
    """Return the pressure of saturated vapour in Pa, over ice below the triple point, else over water.

    Equations 5 and 6. Range -100 to 200 °C; the chamber's own range is -10 to 60 °C.
    """
    t = temp_c + ZERO_C_IN_K
    if temp_c > TRIPLE_POINT_C:
        return exp(
            -5.8002206e3 / t
            + 1.3914993
            + t * (-4.8640239e-2 + t * (4.1764768e-5 - t * 1.4452093e-8))
            + 6.5459673 * log(t)
        )
    return exp(
        -5.6745359e3 / t
        + 6.3925247
        + t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - t * 9.484024e-13)))
        + 4.1635019 * log(t)
    )


def vapour_pressure_pa(temp_c: float, rh_pct: float) -> float:
    """Return the vapour pressure in Pa of air at this temperature and relative humidity (0..100 %). Equation 12."""
    return rh_pct / 100.0 * saturation_pressure_pa(temp_c)


def rh_pct(temp_c: float, vapour_pa: float) -> float:
    """Return the relative humidity in % that this vapour pressure means at this temperature."""
    return 100.0 * vapour_pa / saturation_pressure_pa(temp_c)


def vapour_density_kg_m3(temp_c: float, vapour_pa: float) -> float:
    """Return the mass of vapour in a cubic metre of air, as an ideal gas."""
    return vapour_pa / (VAPOUR_GAS_CONSTANT * (temp_c + ZERO_C_IN_K))


def dew_point_c(vapour_pa: float) -> float:
    """Return the temperature in °C at which this vapour pressure (Pa) saturates: dew point, below 0.01 °C frost point.

    Inverts equations 5 and 6 by Newton's method on ln p. Range -100 to 200 °C.

    Raises:
        ValueError: the vapour pressure is not above zero; perfectly dry air has no dew point.
    """
    if not vapour_pa > 0.0:
        message = f"vapour pressure {vapour_pa} Pa: a dew point needs a pressure above zero"
        raise ValueError(message)
    # Where the wanted point lies is decided by the pressure, so that no step of the search changes the equation.
    slope = _slope_over_water if vapour_pa > _TRIPLE_POINT_PA else _slope_over_ice
    wanted = log(vapour_pa)
    start = log(vapour_pa / 610.94)
    # The first guess is the inverse of Magnus's formula (Alduchov and Eskridge 1996, from memory), kept in its range.
    temp_c = max(-90.0, min(190.0, 243.04 * start / max(17.625 - start, 1.0)))
    for _ in range(50):
        ln_pressure, per_k = slope(temp_c + ZERO_C_IN_K)
        step_k = (wanted - ln_pressure) / per_k
        temp_c += step_k
        if abs(step_k) < DEW_POINT_TOLERANCE_K:
            break
    return temp_c


def humidity_ratio(vapour_pa: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return kg of vapour per kg of dry air. Equation 20."""
    return MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def enthalpy_kj_kg(temp_c: float, ratio: float) -> float:
    """Return the enthalpy in kJ per kg of dry air of air with this humidity ratio. Equation 30."""
    return 1.006 * temp_c + ratio * (2501.0 + 1.86 * temp_c)


def density_kg_m3(temp_c: float, ratio: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the mass of a cubic metre of moist air with this humidity ratio. Equations 11 and 26."""
    volume_m3 = DRY_AIR_GAS_CONSTANT * (temp_c + ZERO_C_IN_K) * (1.0 + 1.607858 * ratio) / pressure_pa
    return (1.0 + ratio) / volume_m3


def _slope_over_water(t: float) -> tuple[float, float]:
    """Return ln p and its derivative by temperature, equation 6."""
    return (
        -5.8002206e3 / t + 1.3914993 + t * (-4.8640239e-2 + t * (4.1764768e-5 - t * 1.4452093e-8)) + 6.5459673 * log(t),
        5.8002206e3 / (t * t) - 4.8640239e-2 + t * (8.3529536e-5 - t * 4.3356279e-8) + 6.5459673 / t,
    )


def _slope_over_ice(t: float) -> tuple[float, float]:
    """Return ln p and its derivative by temperature, equation 5."""
    return (
        -5.6745359e3 / t
        + 6.3925247
        + t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - t * 9.484024e-13)))
        + 4.1635019 * log(t),
        5.6745359e3 / (t * t)
        - 9.677843e-3
        + t * (1.24431402e-6 + t * (6.2243475e-9 - t * 3.7936096e-12))
        + 4.1635019 / t,
    )


_TRIPLE_POINT_PA: Final = saturation_pressure_pa(TRIPLE_POINT_C)
