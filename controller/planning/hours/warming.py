"""How long the empty chamber takes to get warm, by its own model figures."""

from typing import Final

from controller.settings.chamber_file import ChamberFile
from controller.settings.chamber_plan import (
    AIR_J_PER_M3_K,
    FASTEST_S,
    FITTINGS_J_PER_K,
    RESPONSE_S,
)

STEP_S: Final = 4.0
LONGEST_S: Final = 12.0 * 3600.0
"""What takes longer is not warmed by this lamp in this room, for a plan."""
NEAR_K: Final = 0.5
"""The climate counts as reached within this, as when hours at the right climate are counted."""
SLOWER: Final = 1.35
"""By so much longer it takes than lamp, air and wall alone would: mist cools and the lamp is dimmed near the goal.
Three modelled chambers under the daemon took 1.13 to 1.32 times as long, from 20 to 36 °C."""
STEADY_S: Final = 900.0
"""A warm-up is over after a quarter of an hour at the right climate."""


def warm_up_s(chamber: ChamberFile, room_c: float, wanted_c: float) -> float | None:
    """Return the seconds from a cold start until the empty chamber has been warm for a quarter of an hour.

    Lamp, air, inner wall and thermometer are followed in steps of 4 s: the air takes what the lamp gives it and gives
    to the wall, the wall takes the rest of the radiation and loses to the room. What comes of that is lengthened by
    `SLOWER`.

    Args:
        chamber: its model figures, and the power of its heater.
        room_c: temperature of the room.
        wanted_c: temperature of the ferment.

    Returns:
        None where the lamp does not get it so warm in 12 h. A learned figure is better than this one, where there is
        one.
    """
    goal = wanted_c - room_c - NEAR_K
    if goal <= 0.0:
        return STEADY_S
    lamp_w = sum(entry.w or 0.0 for entry in chamber.output if entry.role == "heater")
    model = chamber.model
    response_s = next(
        (entry.response_s or RESPONSE_S[entry.kind] for entry in chamber.sensor if entry.channel == "air_temp"),
        RESPONSE_S["ds18b20"],
    )
    room_w_per_k = model.ua_w_per_k
    # Nothing is taken to answer faster than the steps are long, so that they stay stable whatever the file says.
    lamp_j = max(model.lamp_j_per_k, FASTEST_S * model.lamp_w_per_k)
    air_j = max(
        model.volume_l / 1000.0 * AIR_J_PER_M3_K + FITTINGS_J_PER_K,
        FASTEST_S * (model.lamp_w_per_k + model.air_wall_w_per_k),
    )
    wall_j = max(model.wall_j_per_k, FASTEST_S * (model.air_wall_w_per_k + room_w_per_k))
    lamp = air = wall = shown = 0.0  # Kelvin above the room.
    seconds = 0.0
    while seconds < LONGEST_S:
        from_lamp = model.lamp_w_per_k * (lamp - air)
        to_wall = model.air_wall_w_per_k * (air - wall)
        lamp += STEP_S * (lamp_w * (1.0 - model.lamp_radiant) - from_lamp) / lamp_j
        wall += STEP_S * (to_wall - room_w_per_k * wall + lamp_w * model.lamp_radiant) / wall_j
        shown += STEP_S * (air - shown) / max(response_s, FASTEST_S)
        air += STEP_S * (from_lamp - to_wall) / air_j
        seconds += STEP_S
        if shown >= goal:
            return SLOWER * seconds + STEADY_S
    return None
