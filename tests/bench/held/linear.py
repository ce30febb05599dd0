"""The chamber as a linear system: what equally spaced pulses with full knowledge of it would do at best.

Lamp, air, wall, meat and plate by their heat alone (what water does to them is left out), about a resting state in
which the mean is exactly the wanted temperature. The state over one period of a pulse train follows from two matrix
exponentials; so no controller that switches as seldom, and evenly, can hold the air closer than this.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

from controller.settings.model_figures import AIR_J_PER_M3_K, FAN_HEAT, MEAT_J_PER_KG_K, RADIANT_ON_MEAT
from controller.simulator.chamber_parameters import Parameters

Matrix = NDArray[np.float64]
SAMPLES: Final = 200
AREA_M2_PER_KG: Final = 4.0 / (0.055 * 1050.0)


def system(p: Parameters, meat_kg: float, *, fan: bool = False) -> tuple[Matrix, Matrix]:
    """Return A and B of dx/dt = A x + B (lamp on) with x = lamp, air, wall, meat in kelvin above the room."""
    meat_w_per_k = p.meat_w_per_m2_k * AREA_M2_PER_KG * meat_kg * (FAN_HEAT if fan else 1.0)
    leak_w_per_k = p.leak_per_h / 3600.0 * p.volume_m3 * AIR_J_PER_M3_K
    meat_j = max(meat_kg * MEAT_J_PER_KG_K, 1.0)
    on_meat = RADIANT_ON_MEAT if meat_kg else 0.0
    a, w = np.zeros((4, 4)), p.air_wall_w_per_k
    a[0] = [-p.lamp_w_per_k / p.lamp_j_per_k, p.lamp_w_per_k / p.lamp_j_per_k, 0.0, 0.0]
    a[1] = [p.lamp_w_per_k, -(p.lamp_w_per_k + w + meat_w_per_k + leak_w_per_k), w, meat_w_per_k]
    a[2] = [0.0, w, -(w + p.room_w_per_k), 0.0]
    a[3] = [0.0, meat_w_per_k, 0.0, -meat_w_per_k]
    capacities = np.array([1.0, p.air_j_per_k, p.wall_j_per_k, meat_j])
    radiant_w = p.lamp_w * p.lamp_radiant
    b = np.array(
        [
            p.lamp_w * (1.0 - p.lamp_radiant) / p.lamp_j_per_k,
            0.0,
            radiant_w * (1.0 - on_meat) / p.wall_j_per_k,
            radiant_w * on_meat / meat_j,
        ]
    )
    return a / capacities[:, None], b


def floor_k(
    p: Parameters, meat_kg: float, lift_k: float, closings_per_h: float, *, mean_is_right: bool = True
) -> float:
    """Return the least p95 of |deviation| of the air in K that pulses can have.

    Args:
        p: the chamber.
        meat_kg: what hangs in it.
        lift_k: how far the wanted temperature lies above the room.
        closings_per_h: how often the lamp is lit.
        mean_is_right: the mean is what is wanted; else the swing may lie where |deviation| is least.
    """
    if closings_per_h <= 0.0 or lift_k <= 0.0:
        return 0.0
    a, b = system(p, meat_kg)
    full_k = float(-np.linalg.solve(a, b)[1])
    duty = lift_k / full_k
    if duty >= 1.0:
        return 0.0
    air = air_over_a_period(a, b, 3600.0 / closings_per_h, duty)
    if mean_is_right:
        return float(np.quantile(np.abs(air - air.mean()), 0.95))
    offsets = np.linspace(air.min(), air.max(), 401)
    return float(min(np.quantile(np.abs(air - offset), 0.95) for offset in offsets))


def air_over_a_period(a: Matrix, b: Matrix, period_s: float, duty: float) -> Matrix:
    """Return the air's temperature at even instants of one period, in the state that repeats itself."""
    step_s = period_s / SAMPLES
    on_s = duty * period_s
    x = _start(a, b, period_s, on_s)
    found = []
    for place in range(SAMPLES):
        found.append(x[1])
        begin_s = place * step_s
        lit_s = min(max(on_s - begin_s, 0.0), step_s)
        x = _advance(a, b, x, lit_s, lit=True)
        x = _advance(a, b, x, step_s - lit_s, lit=False)
    return np.array(found)


def _start(a: Matrix, b: Matrix, period_s: float, on_s: float) -> Matrix:
    whole, off = expm(a * period_s), expm(a * (period_s - on_s))
    gained = off @ _advance(a, b, np.zeros(4), on_s, lit=True)
    solved: Matrix = np.linalg.solve(np.eye(4) - whole, gained)
    return solved


def _advance(a: Matrix, b: Matrix, x: Matrix, dt_s: float, *, lit: bool) -> Matrix:
    if dt_s <= 0.0:
        return x
    moved: Matrix = expm(a * dt_s) @ x
    return moved + np.linalg.solve(a, (expm(a * dt_s) - np.eye(4)) @ b) if lit else moved
