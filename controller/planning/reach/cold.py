"""What a cold plate takes out of air that stays as it is: heat and water, on the mean of its runs and its rests.

A compressor comes to its power within minutes and rests as long as its share of the time asks for. The plate is
followed through whole cycles until they repeat. While it runs it takes heat and gathers water; while it rests it gets
warm, and water goes back into the air. Unless a cycle gathers more than goes back, the plate dries nothing, however wet
it looks.
"""

from bisect import bisect_right
from functools import lru_cache
from math import ceil, exp
from typing import Final, NamedTuple

from controller.food.air import LATENT_J_PER_KG
from controller.planning.reach.balance import saturated_kg_m3
from controller.planning.reach.box import Box
from controller.settings.model_figures import (
    COOLING_PER_K,
    FAN_PLATE,
    LEWIS_J_PER_M3_K,
    PLATE_HOLDS_KG,
    PULL_DOWN_S,
)

CYCLES: Final = 3
STEPS: Final = 20
"""Of each phase at least; enough for 2 % of the heat."""
FASTEST_S: Final = 40.0
"""No plate is taken to answer faster, so that the steps stay few whatever the figures say."""
FOR_GOOD_S: Final = 1200.0
SHARES: Final = (0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
DAMPS: Final = 8
"""Between these shares of the time, and so many steps of humidity, lines are straight."""
WATER_J_PER_KG_K: Final = 4186.0


class Taken(NamedTuple):
    """Hold what leaves the air on the mean: heat that can be felt (W), and water that drains away (kg/s)."""

    heat_w: float
    water_kg_s: float


NOTHING: Final = Taken(0.0, 0.0)


@lru_cache(maxsize=64)
def _table(box: Box, air_c: float, fan: float) -> tuple[tuple[Taken, ...], ...]:
    """Return what is taken, before what goes back is minded, for each share of `SHARES` at each of `DAMPS` vapours."""
    full = saturated_kg_m3(air_c)
    return tuple(
        tuple(_followed(box, air_c, full * damp / DAMPS, share, fan) for damp in range(DAMPS + 1)) for share in SHARES
    )


def taken_by_plate(box: Box, air_c: float, kg_m3: float, duty: float, fan: float) -> Taken:
    """Return what the plate takes at this share of the time (0..1), out of air of this temperature and vapour."""
    if duty <= 0.0 or box.plate_w_per_k <= 0.0:
        return NOTHING
    table = _table(box, air_c, fan)
    damp = min(max(kg_m3 / saturated_kg_m3(air_c) * DAMPS, 0.0), DAMPS - 1e-9)
    column, over = int(damp), damp % 1.0
    row = min(bisect_right(SHARES, duty), len(SHARES) - 1)
    low = 0.0 if row == 0 else SHARES[row - 1]
    above = _between(table[row][column], table[row][column + 1], over)
    below = NOTHING if row == 0 else _between(table[row - 1][column], table[row - 1][column + 1], over)
    return _minded(_between(below, above, (min(duty, 1.0) - low) / (SHARES[row] - low)))


def taken_for_good(box: Box, air_c: float, kg_m3: float, fan: float) -> Taken:
    """Return what a plate takes whose compressor never rests; for one look it is quicker than a table."""
    return NOTHING if box.plate_w_per_k <= 0.0 else _minded(_followed(box, air_c, kg_m3, 1.0, fan))


def _between(one: Taken, other: Taken, share: float) -> Taken:
    return Taken(
        one.heat_w + share * (other.heat_w - one.heat_w),
        one.water_kg_s + share * (other.water_kg_s - one.water_kg_s),
    )


def _minded(taken: Taken) -> Taken:
    """Return what really leaves: where more would go back than is gathered, all goes back, and its heat with it."""
    if taken.water_kg_s >= 0.0:
        return taken
    return Taken(taken.heat_w + taken.water_kg_s * LATENT_J_PER_KG, 0.0)


def _followed(box: Box, air_c: float, kg_m3: float, duty: float, fan: float) -> Taken:
    """Return what a wet plate takes on the mean of the last of some cycles; less than no water where more goes back."""
    on_s = max(duty * box.cool_window_s, box.cool_least_s) if duty < 1.0 else FOR_GOOD_S
    off_s = on_s * (1.0 / duty - 1.0)
    w_per_k = box.plate_w_per_k * (1.0 + (FAN_PLATE - 1.0) * fan)
    m3_s = w_per_k / LEWIS_J_PER_M3_K
    answers_w_per_k = w_per_k + box.cooling_w * COOLING_PER_K
    plate_j = max(box.plate_j_per_k + WATER_J_PER_KG_K * PLATE_HOLDS_KG, FASTEST_S * answers_w_per_k)
    longest_s = 0.25 * plate_j / answers_w_per_k  # So that no step goes past where it settles.
    plate_c, taken = air_c, NOTHING
    for _ in range(CYCLES):
        heat_j = water_kg = 0.0
        for phase_s, cooling_w in ((on_s, box.cooling_w), (off_s, 0.0)):
            steps = ceil(phase_s / min(longest_s, max(phase_s / STEPS, 1.0)))
            step_s = phase_s / max(steps, 1)
            for step in range(steps):
                given_w = w_per_k * (air_c - plate_c)
                gathered_kg_s = m3_s * (kg_m3 - saturated_kg_m3(plate_c))
                pulled = 1.0 if duty >= 1.0 else 1.0 - exp(-(step + 0.5) * step_s / PULL_DOWN_S)
                power_w = cooling_w * max(1.0 + COOLING_PER_K * plate_c, 0.0) * pulled
                plate_c += step_s * (given_w + gathered_kg_s * LATENT_J_PER_KG - power_w) / plate_j
                heat_j += given_w * step_s
                water_kg += gathered_kg_s * step_s
        taken = Taken(heat_j / (on_s + off_s), water_kg / (on_s + off_s))
    return taken
