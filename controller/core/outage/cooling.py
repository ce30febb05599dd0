"""How slowly a chamber can cool down, or warm up, toward its room while nothing drives it.

Theory of operation. Three bodies hang together: the air, the inner wall, the meat; the wall loses heat to the room.
A world is one way in which figures and temperatures that nobody knows may lie. What its thermometers show falls from
the moment of the cut; the last instant at which they still show as much as they do now is how long the cut can have
been in this world. The slowest of all worlds that fit is the bound.

Each step is solved backward (implicit Euler): it is stable however long it is, and a temperature that falls ever more
slowly is left too high, never too low. Steps grow with the time that has passed.
"""

from math import inf
from typing import Final

from msgspec import Struct

FIRST_STEP_S: Final = 5.0
GROWTH: Final = 0.04
"""Each step is at least this share of the time so far; the answer is long by as much at most."""
HORIZON_S: Final = 4.0 * 86_400.0
"""Beyond it nothing is told; common practice, no source."""


class World(Struct, frozen=True, kw_only=True, gc=False):
    """Hold one chamber as it may be: temperatures at the cut (°C), capacities (J/K), conductances (W/K).

    `driven_w` is heat that goes on for `driven_s` after the checkpoint, before the power fails. The room begins at
    `room_c` and may come nearer by `room_k_per_s` up to `room_end_c`.
    """

    air_c: float
    wall_c: float
    meat_c: float
    air_j: float
    wall_j: float
    meat_j: float
    air_wall_w: float
    air_meat_w: float
    wall_room_w: float
    room_c: float
    room_k_per_s: float
    room_end_c: float
    lag_s: float
    core_lag_s: float
    driven_w: float = 0.0
    driven_s: float = 0.0


def last_at_or_above(world: World, air_level_c: float, fallen_k: float | None) -> float:
    """Return until when a world that cools shows at least this, in seconds; infinite beyond the horizon.

    Args:
        world: where the air's thermometer begins at the temperature of the air.
        air_level_c: what it shows now.
        fallen_k: how much less the core probe shows now than at the cut; None where it tells nothing. It begins in
            balance with the meat. The earlier of the two instants is returned.
    """
    air_c, wall_c, meat_c = world.air_c, world.wall_c, world.meat_c
    shown_c, core_c = air_c, meat_c
    air_j, wall_j, meat_j = world.air_j, world.wall_j, world.meat_j
    g_w, h_w, u_w = world.air_wall_w, world.air_meat_w if meat_j > 0.0 else 0.0, world.wall_room_w
    driven_w = world.driven_w
    meat_j = meat_j or 1.0
    now_s = 0.0
    while now_s < HORIZON_S:
        step_s = max(FIRST_STEP_S, GROWTH * now_s)
        now_s += step_s
        room_c = min(world.room_c + world.room_k_per_s * now_s, world.room_end_c)
        wall_all = wall_j + step_s * (g_w + u_w)
        meat_all = meat_j + step_s * h_w
        wall_alone_c = (wall_j * wall_c + step_s * u_w * room_c) / wall_all
        wall_share = step_s * g_w / wall_all
        meat_alone_c = meat_j * meat_c / meat_all
        meat_share = step_s * h_w / meat_all
        power_w = driven_w if now_s <= world.driven_s else 0.0
        air_c = (air_j * air_c + step_s * (power_w + g_w * wall_alone_c + h_w * meat_alone_c)) / (
            air_j + step_s * (g_w * (1.0 - wall_share) + h_w * (1.0 - meat_share))
        )
        wall_c = wall_alone_c + wall_share * air_c
        meat_c = meat_alone_c + meat_share * air_c
        shown_c += (air_c - shown_c) * step_s / (world.lag_s + step_s)
        core_c += (meat_c - core_c) * step_s / (world.core_lag_s + step_s)
        if now_s <= world.driven_s:
            continue
        if shown_c < air_level_c or (fallen_k is not None and world.meat_c - core_c > fallen_k):
            return now_s
    return inf
