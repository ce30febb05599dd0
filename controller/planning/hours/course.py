"""How fast the pH may fall in this batch: a fast, an expected and a slow course of the modelled ferment.

The model decides nothing. It serves to see that a starter can be in time at all, and to choose the hour of stuffing so
that the hours that matter are hours in which somebody is awake.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from msgspec import Struct

from controller.core.plan import Profile
from controller.food.acid import (
    BUFFER,
    CULTURES,
    MIX_AW,
    Culture,
    begin,
    ferment_on,
    sugar_at_start,
)
from controller.food.degree_hours import TARGET_PH
from controller.food.drying import (
    USUAL_DEXTROSE_PCT,
    USUAL_FAT_PCT,
    USUAL_SALT_PCT,
    Mix,
    mix_of,
    water_activity,
)
from controller.settings.model_figures import MEAT_J_PER_KG_K

STEP_H: Final = 1.0 / 60.0
LONGEST_H: Final = 20.0 * 24.0
"""Whatever has not soured in so many hours never does, for a plan."""
FLAT_PH: Final = 0.03
"""So near to where it ends a ferment counts as ended."""
NEAR_K: Final = 0.1
SUGAR_GONE: Final = 0.005  # mmol/kg; what it would still sour is 0.0002 of a pH.
MEAT_KG_M3: Final = 1050.0
MEAT_M2_PER_S: Final = 1.35e-7
AIR_W_PER_M2_K: Final = 6.0
"""Figures of meat from memory; heat from still air, with radiation: common practice, no source (6 to 8)."""
FIRST_ROOT_SQUARED: Final = 5.78
"""Of J0: the slowest mode of a round body warms with R²/(5.78 alpha)."""


class Case(Struct, frozen=True):
    """Hold by what a course differs from the expected one: cells at the start, and the buffer of the meat."""

    name: str
    cells: float
    buffer: float


FAST: Final = Case("fast", 10.0, 42.0)
EXPECTED: Final = Case("expected", 1.0, BUFFER)
SLOW: Final = Case("slow", 0.1, 58.0)
"""Starters give 1e6 to 1e7 cells per g of mix (common practice, no source): ten times as many and a tenth of what the
cultures are calibrated with; buffers 42 to 58 mmol per kg and unit of pH, the range that their calibration leaves."""
OLD_PACKET: Final = 1.0 / 3.0
"""What is taken to be left of the cells in a packet that was opened long ago; common practice, no source."""


class Hours(Struct, frozen=True):
    """Hold when, in hours after hanging, a course can be read as 5.3 and as the aim; None: never.

    A reading counts with the meter's error added, so the pH itself has to be lower by it. `flat` is when it has ended.
    """

    to_5_3: float | None
    to_aim: float | None
    flat: float
    end_ph: float


class Course(Struct, frozen=True):
    """Hold the three courses of one batch towards the pH at which its ferment ends.

    Attributes:
        aim_ph: at which the ferment ends, with the meter's error added to the reading.
        meter_ph: what the meter shows then: the aim less its error.
    """

    aim_ph: float
    meter_ph: float
    fast: Hours
    expected: Hours
    slow: Hours

    @property
    def window_h(self) -> tuple[float, float, float]:
        """Return the hours to the aim: fast, expected, slow; where one never gets there, when it stands still."""
        fast, expected, slow = (
            hours.flat if hours.to_aim is None else hours.to_aim for hours in (self.fast, self.expected, self.slow)
        )
        return min(fast, expected), expected, max(slow, expected)

    @property
    def meter_5_3_ph(self) -> float:
        """Return what the meter has to show for 5.3."""
        return TARGET_PH - (self.aim_ph - self.meter_ph)


class Load(Struct, frozen=True, kw_only=True):
    """Hold what of the mix and of the chamber the course of the pH hangs on.

    Attributes:
        meat_kg: all of it, for the lamp has to warm it.
        diameter_mm: of the casing.
        meat_c: when it is hung.
        wanted_c: of the ferment's air.
        dextrose_pct: in % of the mix.
        culture_aw: water activity of the mix, as the cultures' figures take it.
        cells: share of living cells in the packet.
        lamp_w: power of the heater; None: the place is warm whatever hangs there.
        ua_w_per_k: what the chamber loses to the room.
        room_c: of the room.
    """

    meat_kg: float
    diameter_mm: float
    meat_c: float
    wanted_c: float
    dextrose_pct: float
    culture_aw: float = MIX_AW
    cells: float = 1.0
    lamp_w: float | None = None
    ua_w_per_k: float = 0.0
    room_c: float = 20.0


def course_of(profile: Profile, load: Load, aim_ph: float, ph_error: float) -> Course | None:
    """Return the three courses; None where the profile takes no starter, for then nothing is known of the speed.

    Args:
        profile: whose starter.
        load: what the course hangs on.
        aim_ph: at which the ferment ends.
        ph_error: of the meter; it is added to a reading before that counts.
    """
    culture = CULTURES.get(profile.starter)
    if culture is None:
        return None
    fast, expected, slow = (
        _hours(culture, load, case, aim_ph - ph_error, TARGET_PH - ph_error) for case in (FAST, EXPECTED, SLOW)
    )
    return Course(aim_ph, aim_ph - ph_error, fast, expected, slow)


def warm_lag_s(diameter_mm: float) -> float:
    """Return how slowly the core follows the air: tau = rho c R/(2h) + R²/(5.78 alpha), 55 mm: 2.5 h."""
    radius_m = diameter_mm / 2000.0
    outside_s = MEAT_KG_M3 * MEAT_J_PER_KG_K * radius_m / (2.0 * AIR_W_PER_M2_K)
    return outside_s + radius_m**2 / (FIRST_ROOT_SQUARED * MEAT_M2_PER_S)


def warming_of(load: Load) -> Callable[[float], float]:
    """Return the K per hour by which the core warms at a temperature: by its lag, and by what the lamp has left.

    The lamp's share: the air stands q/G above the meat, where G is the surface's conductance, so that
    q = (P - UA (T - Troom)) / (1 + UA/G) at most.
    """
    lag_h = warm_lag_s(load.diameter_mm) / 3600.0
    area_m2 = 4.0 * load.meat_kg / (load.diameter_mm / 1000.0 * MEAT_KG_M3)
    surface_w_per_k = area_m2 * AIR_W_PER_M2_K
    heat_j_per_k = load.meat_kg * MEAT_J_PER_KG_K

    def k_per_h(temp_c: float) -> float:
        slope = (load.wanted_c - temp_c) / lag_h
        if load.lamp_w is None or slope <= 0.0:
            return slope
        spare_w = load.lamp_w - load.ua_w_per_k * (temp_c - load.room_c)
        spare_w /= 1.0 + load.ua_w_per_k / surface_w_per_k
        return min(slope, max(0.0, spare_w) * 3600.0 / heat_j_per_k)

    return k_per_h


def _hours(culture: Culture, load: Load, case: Case, aim_ph: float, target_ph: float) -> Hours:
    now = begin(culture, sugar_at_start(load.dextrose_pct))
    now = replace(now, cells=now.cells * case.cells * load.cells)
    at_start, k_per_h = now.ph, warming_of(load)
    temp_c, hour = load.meat_c, 0.0
    to_5_3: float | None = None
    to_aim: float | None = None
    went: list[tuple[float, float]] = []
    while hour < LONGEST_H and now.sugar > SUGAR_GONE:
        temp_c += k_per_h(temp_c) * STEP_H
        was, now = now, ferment_on(culture, now, STEP_H, temp_c, load.culture_aw, at_start, case.buffer)
        hour += STEP_H
        went.append((hour, now.ph))
        to_5_3 = hour if to_5_3 is None and now.ph <= target_ph else to_5_3
        to_aim = hour if to_aim is None and now.ph <= aim_ph else to_aim
        if to_5_3 is not None and to_aim is not None:
            break
        if now is was and abs(load.wanted_c - temp_c) < NEAR_K:
            break  # It is as warm as it gets, and nothing lives at this temperature.
    flat = next((hour for hour, ph in went if ph <= now.ph + FLAT_PH), hour)
    return Hours(to_5_3, to_aim, flat, now.ph)


def culture_aw(mix: Mix) -> float:
    """Return the water activity that slows the cells: what the mix differs by from the one they are calibrated at."""
    usual = mix_of(USUAL_FAT_PCT, USUAL_SALT_PCT, USUAL_DEXTROSE_PCT)
    return MIX_AW + water_activity(mix, mix.water_kg) - water_activity(usual, usual.water_kg)
