"""A humidifier that does not stop (A6): the air grows wetter although no mist is asked for.

The air is judged by its vapour, at the temperature that is wanted: air that cools shows a higher humidity without any
water. A humidifier that is stuck on fills a box within a minute or two, long before it may be called that; so air that
has stayed as good as saturated counts like air that goes on rising. Fresh meat wets the air by itself, and so does the
film on a cold plate between two runs of a compressor, and a humid room that is warmer than the box: there nothing can
be told, and P4 and P7 speak.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.chamber.climate import saturation_pa
from controller.core.plant.lasting import spoken
from controller.core.plant.memory import LeakWatch
from controller.core.watch.seen import Seen
from controller.food.air import saturation_pressure_pa

LOOK_S: Final = 60.0
MEAT_WETS_S: Final = 86_400.0
"""So long after hanging the meat wets the air; common practice, no source."""
HUMID_ROOM: Final = 0.9
"""How near to saturation the air of a room may be, on a summer's day and in a cellar; common practice, no source."""
SOAKED_PCT: Final = 97.0


def watch_leak(watch: LeakWatch, seen: Seen) -> tuple[LeakWatch, tuple[Condition, ...]]:
    """Look once a minute at the vapour while no mist is asked for."""
    now_s, limits, wanted, known = seen.now_s, seen.chamber.thresholds, seen.wanted, seen.known
    if 0.0 <= now_s - watch.looked_s < LOOK_S:
        return watch, watch.found
    off_s, pressure_pa, rh_pct = seen.off_for_s("humidifier"), known.pressure_pa, known.rh_pct
    if pressure_pa is None or rh_pct is None or wanted.rh_pct is None or wanted.air_temp_c is None:
        return LeakWatch(now_s), ()
    damp_pct = 100.0 * pressure_pa / saturation_pa(wanted.air_temp_c) - wanted.rh_pct
    if watch.found and damp_pct > limits.wet_without_mist_pct - limits.back_by_pct:
        return replace(watch, looked_s=now_s), watch.found
    if off_s < limits.wet_without_mist_s or _wets_itself(seen):
        return LeakWatch(now_s), ()
    if watch.low_s is None or damp_pct < watch.low_pct or now_s - watch.low_s > limits.wet_without_mist_s:
        watch = LeakWatch(now_s, now_s, damp_pct)
    rising = damp_pct - watch.low_pct >= limits.wet_rise_pct
    wet = damp_pct > limits.wet_without_mist_pct and (rising or rh_pct >= SOAKED_PCT)
    if not wet or pressure_pa <= _room_pa(seen):
        return replace(watch, looked_s=now_s), ()
    text = (
        f"Humidity {rh_pct:.0f} %, wanted {wanted.rh_pct:.0f} %, and no mist was asked for {spoken(off_s)} "
        f"(limit +{limits.wet_without_mist_pct:g} % after {spoken(limits.wet_without_mist_s)})."
    )
    found = (Condition("A6", text),)
    return LeakWatch(now_s, watch.low_s, watch.low_pct, found), found


def _wets_itself(seen: Seen) -> bool:
    """Say whether something else than the humidifier wets the air, or may do so."""
    if "humidifier" not in seen.outputs or seen.excused or seen.kind is None:
        return True
    if seen.plate_wets:
        return True
    if seen.hung_for_s is None:
        return seen.hung_kg > 0.0  # Another batch may hang along.
    return seen.in_ferment or seen.hung_for_s < MEAT_WETS_S or seen.chamber.drying == "cool-and-reheat"


def _room_pa(seen: Seen) -> float:
    """Return the vapour pressure that the air of the room may have, in Pa."""
    room_c = seen.known.ambient_temp_c if seen.known.ambient_temp_c is not None else seen.chamber.room_c[1]
    return HUMID_ROOM * saturation_pressure_pa(room_c)
