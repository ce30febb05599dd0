"""Moist air: saturation pressure, vapour pressure, dew point, vapour density, humidity ratio, enthalpy.

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
