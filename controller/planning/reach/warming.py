"""How long the full lamp takes: the empty chamber to its goal, and the meat after hanging.

Lamp, air, wall, cold plate and meat are followed in short steps. The lamp's heat comes with its own lag; the vapour,
which follows in seconds, is taken as settled between leak, wall and meat. At the goal the lamp gives only what holds
the air.
"""

from typing import Final

from controller.food.air import LATENT_J_PER_KG
from controller.planning.reach.balance import (
    STILL,
    Moved,
    Room,
    air_changes_m3_s,
    condensing_kg_s,
    evaporating_kg_s,
    mass_m3_s,
    meat_w_per_k,
    saturated_kg_m3,
)
from controller.planning.reach.box import DIAMETER_MM, Box, Load
from controller.settings.model_figures import AIR_J_PER_M3_K, LEWIS_J_PER_M3_K, RADIANT_ON_MEAT

NEAR_K: Final = 0.5
"""The air counts as warm within this, as when hours at the right climate are counted,"""
MEAT_NEAR_K: Final = 1.0
"""and the middle of the meat within this."""
LONGEST_S: Final = 72.0 * 3600.0
STEP_S: Final = 10.0
FASTEST_STEPS: Final = 4.0
"""Nothing is taken to answer faster than in so many steps, so that they stay stable whatever the figures say."""
MEAT_M2_PER_S: Final = 1.35e-7
FIRST_ROOT_SQUARED: Final = 5.78
"""Thermal diffusivity of meat, and the square of the first root of J0: the middle of a round piece follows its surface
with R2/(5.78 alpha). From memory."""


def core_lag_s(diameter_mm: float = DIAMETER_MM) -> float:
    """Return by how much the middle of a piece is behind its surface, in s, while it warms."""
    return (diameter_mm / 2000.0) ** 2 / (FIRST_ROOT_SQUARED * MEAT_M2_PER_S)


def warming_s(
    box: Box, room: Room, goal_c: float, *, begin_c: float | None = None, load: Load | None = None,
    meat_c: float = 4.0, longest_s: float = LONGEST_S, moved: Moved = STILL,
) -> tuple[float | None, float | None]:  # fmt: skip
    """Return the seconds until the air, and until the middle of the meat, is warm; None for what takes longer.

    Args:
        box: the chamber.
        room: where it stands.
        goal_c: wanted temperature of the air.
        begin_c: of air and wall at the begin; None: as the room.
        load: what was hung at the begin; None: an empty chamber, of which the second answer is None too.
        meat_c: how warm it was then.
        longest_s: after which nobody waits.
        moved: how much fan and fresh air run.
    """
    air = wall = plate = room.temp_c if begin_c is None else begin_c
    meat = core = meat_c
    fast_s, step_s = FASTEST_STEPS * STEP_S, STEP_S
    meat_w_k = meat_w_per_k(box, load, moved)
    leak_m3_s = air_changes_m3_s(box, moved)
    leak_w_k = leak_m3_s * AIR_J_PER_M3_K
    air_j = max(box.air_j_per_k, fast_s * (box.air_wall_w_per_k + meat_w_k + leak_w_k + box.plate_w_per_k))
    wall_j = max(box.wall_j_per_k, fast_s * (box.air_wall_w_per_k + box.ua_w_per_k))
    meat_j = 0.0 if load is None else max(load.kg * box.meat_j_per_kg_k, fast_s * meat_w_k)
    on_meat = 0.0 if load is None else RADIANT_ON_MEAT
    lamp_s = max(box.lamp_s, fast_s)
    plate_j = max(box.plate_j_per_k, fast_s * box.plate_w_per_k)
    lag_s = core_lag_s()
    convective_w = lamp_w = passed_s = 0.0
    air_s: float | None = 0.0 if air >= goal_c - NEAR_K else None
    while passed_s < longest_s:
        kg_m3 = _vapour(box, room, load, moved, air, wall, meat, leak_m3_s)
        wet_w = condensing_kg_s(box, wall, kg_m3) * LATENT_J_PER_KG
        dry_w = evaporating_kg_s(load, moved, meat, kg_m3) * LATENT_J_PER_KG
        lost_w = (
            box.air_wall_w_per_k * (air - wall) + meat_w_k * (air - meat) + leak_w_k * (air - room.temp_c)
            + box.plate_w_per_k * (air - plate)
            - box.fan_w * moved.fan
        )  # fmt: skip
        # Near the goal the lamp gives what holds the air there, no more.
        share = 1.0 - box.lamp_radiant
        hold_w = (lost_w + (goal_c - air) * air_j / fast_s) / share
        lamp_w = min(max(hold_w, 0.0), box.lamp_w) if air > goal_c - NEAR_K else box.lamp_w
        convective_w += (lamp_w * share - convective_w) * step_s / lamp_s
        wall += (
            box.air_wall_w_per_k * (air - wall) + box.ua_w_per_k * (room.temp_c - wall)
            + lamp_w * box.lamp_radiant * (1.0 - on_meat) + wet_w
        ) * step_s / wall_j  # fmt: skip
        plate += box.plate_w_per_k * (air - plate) * step_s / max(plate_j, 1.0)
        if load is not None:
            meat += (meat_w_k * (air - meat) + lamp_w * box.lamp_radiant * on_meat - dry_w) * step_s / meat_j
            core += (meat - core) * step_s / max(lag_s, fast_s)
        air += (convective_w - lost_w) * step_s / air_j
        passed_s += step_s
        if air < goal_c - NEAR_K:
            air_s = None  # Cold meat takes the warmth of air that was there already.
        elif air_s is None:
            air_s = passed_s
        if air_s is not None and (load is None or core >= goal_c - MEAT_NEAR_K):
            return air_s, None if load is None else passed_s
    return air_s, None


def _vapour(
    box: Box, room: Room, load: Load | None, moved: Moved, air_c: float, wall_c: float, meat_c: float, leak_m3_s: float
) -> float:
    """Return the vapour that settles at once between leak, wall and meat."""
    over_wall, over_meat = saturated_kg_m3(wall_c), 0.0
    wall_m3_s, meat_m3_s = box.air_wall_w_per_k / LEWIS_J_PER_M3_K, 0.0
    if load is not None:
        over_meat = load.aw * saturated_kg_m3(meat_c)
        meat_m3_s = mass_m3_s(load, moved)
    leaked = leak_m3_s * room.kg_m3
    tries = (
        (meat_m3_s, 0.0), (meat_m3_s, wall_m3_s), (0.0, 0.0), (0.0, wall_m3_s),
    )  # fmt: skip
    settled = room.kg_m3
    for from_meat, to_wall in tries:
        all_m3_s = leak_m3_s + from_meat + to_wall
        if all_m3_s <= 0.0:
            continue
        settled = (leaked + from_meat * over_meat + to_wall * over_wall) / all_m3_s
        gives = from_meat == 0.0 or over_meat >= settled
        takes = (to_wall > 0.0) == (settled > over_wall)
        if gives and takes:
            break
    return min(settled, saturated_kg_m3(air_c))
