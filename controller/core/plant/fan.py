"""The circulation fan (A9): its contact shows no turns, or two thermometers drift further apart than they usually are.

How far two healthy thermometers are apart while the fan turns is a matter of the chamber and of where they hang: it is
learned, as a slow mean over the time the fan was on. A fan is on for a few minutes in each hour, so all times here are
times of stirring.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.plant.memory import FanWatch
from controller.core.watch.seen import Seen

MIXED_S: Final = 60.0
"""So long after it was switched on the air has been mixed."""
LEARNED_S: Final = 1800.0
"""So much stirring has to be seen before what is usual is known, and the mean is about as long."""
FAN_HEAT: Final = 0.5
"""The most duty of a lamp whose heat nothing carries away: a hot spot forms under it."""


def watch_fan(watch: FanWatch, seen: Seen) -> tuple[FanWatch, tuple[Condition, ...]]:
    """Raise A9 while the fan is believed to stand; it stands until the fan was seen to turn."""
    if not seen.is_on("fan"):
        if watch.on_s is not None or watch.still_s is not None:
            watch = replace(watch, on_s=None, still_s=None)
        return watch, _told(watch)
    turns, limits = seen.known.contacts.get("fan_turns"), seen.chamber.thresholds
    if watch.on_s is None:
        watch = replace(watch, on_s=seen.now_s)
    if turns is None:
        return _by_spread(watch, seen)
    if turns:
        if watch.still_s is not None or watch.why:
            watch = replace(watch, still_s=None, why="")
        return watch, ()
    if watch.still_s is None:
        watch = replace(watch, still_s=seen.now_s)
    elif seen.now_s - watch.still_s >= limits.fan_still_s and not watch.why:
        why = f"The fan is switched on, and its contact shows no turns for {limits.fan_still_s:g} s."
        watch = replace(watch, why=why, by_turns=True)
    return watch, _told(watch)


def _told(watch: FanWatch) -> tuple[Condition, ...]:
    """Return what stands; by thermometers no louder than that one of them may be wrong (S9), which then speaks."""
    return (Condition("A9", watch.why, priority="" if watch.by_turns else "3"),) if watch.why else ()


def _by_spread(watch: FanWatch, seen: Seen) -> tuple[FanWatch, tuple[Condition, ...]]:
    """Compare how far the two thermometers of the air are apart with what is usual."""
    slowed, limits = seen.known.slowed_c, seen.chamber.thresholds
    first_c, second_c = slowed.get("air_temp"), slowed.get("air_temp_2")
    if first_c is None or second_c is None or seen.excused or seen.now_s - (watch.on_s or seen.now_s) < MIXED_S:
        return watch, _told(watch)
    apart_k, dt_s = second_c - first_c, min(seen.dt_s, MIXED_S)
    grown_k = abs(apart_k) - abs(watch.usual_k)
    if watch.learned_s < LEARNED_S or grown_k <= limits.fan_spread_k:
        share = dt_s / min(watch.learned_s + dt_s, LEARNED_S)
        usual_k = watch.usual_k + (apart_k - watch.usual_k) * share
        learned_s = min(watch.learned_s + dt_s, LEARNED_S)
        return replace(watch, usual_k=usual_k, learned_s=learned_s, apart_s=0.0, why=""), ()
    watch = replace(watch, apart_s=watch.apart_s + dt_s)
    if watch.apart_s >= limits.fan_spread_s:
        text = (
            f"Two thermometers are {abs(apart_k):.1f} K apart while the fan is on, usually {abs(watch.usual_k):.1f} K."
        )
        watch = replace(watch, why=f"{text} Limit {limits.fan_spread_k:g} K more.", by_turns=False)
    return watch, _told(watch)
