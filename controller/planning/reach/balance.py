"""A chamber that has settled: what must be given to it and taken from it so that air and vapour stay as they are.

Theory of operation. Air temperature and vapour are given. Wall and meat settle between the air and what they lose: the
wall to the room, the meat by evaporation; water that condenses warms the wall. What is then missing in the air's own
balances is the heat and the water that somebody has to bring, or to take away. All of it is steady: no clock, no
storage. Equations as in the lumped model of such chambers (Newton's law for heat, Chilton and Colburn's analogy for
water); figures from the chamber. Every unknown is the only zero of a monotone function.
"""

from collections.abc import Callable
from typing import Final

from msgspec import Struct

from controller.food.air import (
    LATENT_J_PER_KG,
    VAPOUR_GAS_CONSTANT,
    ZERO_C_IN_K,
    saturation_pressure_pa,
    vapour_density_kg_m3,
)
from controller.planning.reach.box import Box, Load
from controller.settings.model_figures import (
    AIR_J_PER_M3_K,
    FAN_HEAT,
    FRESH_AIR_PER_H,
    LEWIS_J_PER_M3_K,
    RADIANT_ON_MEAT,
)

FIRST_GUESS_W: Final = 50.0
MOST_STEPS: Final = 40
NEAR_W: Final = 0.02
NEAR_K: Final = 0.001
NEAR_KG_M3: Final = 2e-6


class Room(Struct, frozen=True):
    """Hold the air around the chamber."""

    temp_c: float
    rh_pct: float

    @property
    def kg_m3(self) -> float:
        """Return the density of its vapour."""
        return saturated_kg_m3(self.temp_c) * self.rh_pct / 100.0


class Moved(Struct, frozen=True):
    """Hold for what share of the time (0..1) the fan runs and fresh air is let in."""

    fan: float = 0.0
    fresh_air: float = 0.0


STILL: Final = Moved()


class Balance(Struct, frozen=True, kw_only=True):
    """Hold what a settled chamber needs: heat in W (below 0: cold), water in kg/s (below 0: to be dried away)."""

    heat_w: float
    water_kg_s: float
    wall_c: float
    meat_c: float | None
    evaporated_kg_s: float
    condensed_kg_s: float


def saturated_kg_m3(temp_c: float) -> float:
    """Return the density of saturated vapour in kg/m3."""
    return vapour_density_kg_m3(temp_c, saturation_pressure_pa(temp_c))


def rh_of(temp_c: float, kg_m3: float) -> float:
    """Return the relative humidity in % of air with so much vapour."""
    return 100.0 * kg_m3 / saturated_kg_m3(temp_c)


def kg_m3_of(temp_c: float, humidity_pct: float) -> float:
    """Return the density of the vapour in air of this relative humidity; `rh_of` is its inverse."""
    return saturated_kg_m3(temp_c) * humidity_pct / 100.0


def zero_of(function: Callable[[float], float], low: float, high: float, near: float) -> float:
    """Return where a monotone function is zero, to within `near`; the nearer end where it has no zero between them.

    By false position with the weight of Illinois (Dowell and Jarratt 1971, BIT 11:168).
    """
    at_low, at_high = function(low), function(high)
    if at_low == 0.0 or at_low * at_high > 0.0:
        return low if abs(at_low) <= abs(at_high) else high
    for _ in range(80):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        value = function(middle)
        if value * at_high > 0.0:
            moved = abs(middle - high)
            high, at_high, at_low = middle, value, 0.5 * at_low
        else:
            moved = abs(middle - low)
            low, at_low, at_high = middle, value, 0.5 * at_high
        if value == 0.0 or moved < near or abs(high - low) < near:
            return middle
    return middle


def balance(
    box: Box, room: Room, air_c: float, kg_m3: float, load: Load | None, moved: Moved = STILL, own_w: float = 0.0,
    vent: float = 0.0,
) -> Balance:  # fmt: skip
    """Return what holds the air at this temperature and vapour for good.

    Args:
        box: the chamber.
        room: the air around it.
        air_c: wanted in it.
        kg_m3: of vapour, wanted in it.
        load: what hangs; None: nothing.
        moved: how much fan and fresh air run anyway.
        own_w: heat that something else gives the air, as a dehumidifier; a cold plate gives less than 0.
        vent: share of the time that fresh air is let in so as to dry.
    """
    air_m3_s = air_changes_m3_s(box, moved, vent)
    water_kg_s = air_m3_s * (kg_m3 - room.kg_m3)
    other_w = air_m3_s * AIR_J_PER_M3_K * (room.temp_c - air_c) + box.fan_w * moved.fan + own_w

    def lacking_w(heat_w: float) -> float:
        wall_c, meat_c = bodies(heat_w)
        given_w = heat_w - max(heat_w, 0.0) * box.lamp_radiant
        meat_w = 0.0 if meat_c is None else meat_w_per_k(box, load, moved) * (meat_c - air_c)
        mist_w = max(bring_kg_s(wall_c, meat_c), 0.0) * LATENT_J_PER_KG
        return given_w + box.air_wall_w_per_k * (wall_c - air_c) + meat_w + other_w - mist_w

    def bodies(heat_w: float) -> tuple[float, float | None]:
        radiant_w = max(heat_w, 0.0) * box.lamp_radiant
        on_meat_w = radiant_w * RADIANT_ON_MEAT if load is not None else 0.0
        wall_c = settled_wall_c(box, room, air_c, kg_m3, radiant_w - on_meat_w)
        return wall_c, None if load is None else settled_meat_c(box, load, moved, air_c, kg_m3, on_meat_w)

    def bring_kg_s(wall_c: float, meat_c: float | None) -> float:
        return water_kg_s + condensing_kg_s(box, wall_c, kg_m3) - evaporating_kg_s(load, moved, meat_c, kg_m3)

    heat_w = _nearly_straight(lacking_w)
    wall_c, meat_c = bodies(heat_w)
    return Balance(
        heat_w=heat_w,
        water_kg_s=bring_kg_s(wall_c, meat_c),
        wall_c=wall_c,
        meat_c=meat_c,
        evaporated_kg_s=evaporating_kg_s(load, moved, meat_c, kg_m3),
        condensed_kg_s=condensing_kg_s(box, wall_c, kg_m3),
    )


def _nearly_straight(function: Callable[[float], float]) -> float:
    """Return the zero of a rising function that is straight but for small bends, by the rule of the secant."""
    before, now = 0.0, FIRST_GUESS_W
    at_before, at_now = function(before), function(now)
    for _ in range(MOST_STEPS):
        if at_now == at_before or abs(at_now) < NEAR_W:
            break
        before, now = now, now - at_now * (now - before) / (at_now - at_before)
        at_before, at_now = at_now, function(now)
    return now


def natural_kg_m3(
    box: Box, room: Room, air_c: float, load: Load | None, moved: Moved = STILL, given_kg_s: float = 0.0
) -> float:
    """Return the vapour at which the air settles by itself, at most as much as it holds.

    Args:
        box: the chamber.
        room: the air around it.
        air_c: at which lamp and cold hold it.
        load: what hangs; None: nothing.
        moved: how much fan and fresh air run.
        given_kg_s: what the humidifier gives besides.
    """
    return zero_of(
        lambda kg_m3: balance(box, room, air_c, kg_m3, load, moved).water_kg_s - given_kg_s,
        0.0,
        saturated_kg_m3(air_c),
        NEAR_KG_M3,
    )


def air_changes_m3_s(box: Box, moved: Moved, vent: float = 0.0) -> float:
    """Return the air that comes in, by cracks, by fresh air that is asked for, and by what dries."""
    asked = moved.fresh_air if box.has_vent else 0.0
    return (box.leak_per_h + FRESH_AIR_PER_H * min(asked + vent, 1.0)) * box.volume_m3 / 3600.0


def meat_w_per_k(box: Box, load: Load | None, moved: Moved) -> float:
    """Return the conductance from air to meat."""
    return 0.0 if load is None else box.meat_w_per_m2_k * load.m2 * (1.0 + (FAN_HEAT - 1.0) * moved.fan)


def mass_m3_s(load: Load, moved: Moved) -> float:
    """Return the conductance for vapour from the meat's surface to the air."""
    return load.m2 * (load.m_per_s + (load.m_per_s_fan - load.m_per_s) * moved.fan)


def condensing_kg_s(box: Box, wall_c: float, kg_m3: float) -> float:
    """Return what settles on the wall; a wall that is warmer than the dew point takes nothing."""
    return box.air_wall_w_per_k / LEWIS_J_PER_M3_K * max(kg_m3 - saturated_kg_m3(wall_c), 0.0)


def evaporating_kg_s(load: Load | None, moved: Moved, meat_c: float | None, kg_m3: float) -> float:
    """Return what the meat gives off; it gathers nothing."""
    if load is None or meat_c is None:
        return 0.0
    return mass_m3_s(load, moved) * max(load.aw * saturated_kg_m3(meat_c) - kg_m3, 0.0)


def settled_wall_c(box: Box, room: Room, air_c: float, kg_m3: float, radiant_w: float) -> float:
    """Return where the inner wall settles between air, room, radiation and what condenses on it."""
    both = box.air_wall_w_per_k + box.ua_w_per_k
    wall_c = dry_c = (box.air_wall_w_per_k * air_c + box.ua_w_per_k * room.temp_c + radiant_w) / both
    per_kg_m3 = box.air_wall_w_per_k / LEWIS_J_PER_M3_K * LATENT_J_PER_KG
    for _ in range(MOST_STEPS):
        excess = kg_m3 - saturated_kg_m3(wall_c)
        if excess <= 0.0 and wall_c == dry_c:
            return dry_c
        gained_w = both * (dry_c - wall_c) + per_kg_m3 * max(excess, 0.0)
        step_k = gained_w / (both + (per_kg_m3 * _per_k(wall_c) if excess > 0.0 else 0.0))
        wall_c += step_k
        if abs(step_k) < NEAR_K:
            break
    return wall_c


def settled_meat_c(box: Box, load: Load, moved: Moved, air_c: float, kg_m3: float, radiant_w: float) -> float:
    """Return where the meat settles between air, radiation and what evaporates from it."""
    w_per_k = meat_w_per_k(box, load, moved)
    meat_c = dry_c = air_c + radiant_w / w_per_k
    per_kg_m3 = mass_m3_s(load, moved) * LATENT_J_PER_KG
    for _ in range(MOST_STEPS):
        excess = load.aw * saturated_kg_m3(meat_c) - kg_m3
        if excess <= 0.0 and meat_c == dry_c:
            return dry_c
        gained_w = w_per_k * (dry_c - meat_c) - per_kg_m3 * max(excess, 0.0)
        step_k = gained_w / (w_per_k + (per_kg_m3 * load.aw * _per_k(meat_c) if excess > 0.0 else 0.0))
        meat_c += step_k
        if abs(step_k) < NEAR_K:
            break
    return meat_c


def _per_k(temp_c: float) -> float:
    """Return how much more vapour saturated air holds for each kelvin (Clausius and Clapeyron), kg/(m3 K)."""
    kelvin = temp_c + ZERO_C_IN_K
    return saturated_kg_m3(temp_c) * (LATENT_J_PER_KG / (VAPOUR_GAS_CONSTANT * kelvin) - 1.0) / kelvin
