"""How long the empty chamber takes to get warm, as a plan has to reckon with."""

from typing import Final

from controller.planning.reach.balance import Room
from controller.planning.reach.box import box_of
from controller.planning.reach.rooms import ROOM_RH_PCT
from controller.planning.reach.warming import NEAR_K, warming_s
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.chamber_plan import RESPONSE_S

LONGEST_S: Final = 12.0 * 3600.0
"""What takes longer is not warmed by this lamp in this room, for a plan."""
SLOWER: Final = 1.1
"""By so much longer it takes than at full lamp all the way: the lamp is dimmed near the goal. Three modelled chambers
under the daemon took 1.00 to 1.09 times as long, from 5 and 20 to 24 and 36 °C, where it takes over 20 minutes."""
FIRST_S: Final = 200.0
"""And so much more in any case: the program looks at its sensors first, and the last half kelvin comes slowly."""
STEADY_S: Final = 900.0
"""A warm-up is over after a quarter of an hour at the right climate."""


def warm_up_s(chamber: ChamberFile, room_c: float, wanted_c: float) -> float | None:
    """Return the seconds from a cold start until the empty chamber has been warm for a quarter of an hour.

    The time at full lamp, and what the leading thermometer lags behind, lengthened by `SLOWER` and `FIRST_S`.

    Args:
        chamber: its model figures, and the power of its heater.
        room_c: temperature of the room.
        wanted_c: temperature of the ferment.

    Returns:
        None where the lamp does not get it so warm in 12 h. A learned figure is better than this one, where there is
        one.
    """
    if wanted_c - room_c <= NEAR_K:
        return STEADY_S
    plan = plan_of(chamber)
    air_s, _ = warming_s(box_of(chamber, plan), Room(room_c, ROOM_RH_PCT), wanted_c, longest_s=LONGEST_S)
    lag_s = plan.response_s.get("air_temp", RESPONSE_S["ds18b20"])
    return None if air_s is None or air_s + lag_s > LONGEST_S else SLOWER * (air_s + lag_s) + FIRST_S + STEADY_S
