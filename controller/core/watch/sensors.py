"""Sensors taken by themselves: too many damaged readings, one that comes back elsewhere, and one nobody has named."""

from collections.abc import Iterable
from math import exp
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.chamber.known import STILL_A_WITNESS
from controller.core.fault_words import SENSOR_NAMES
from controller.core.values import Channel, Role
from controller.core.watch.memory import DamageWatch, ReturnWatch
from controller.core.watch.seen import Seen

CALM: Final = 5
CALM_S: Final = 3600.0
"""Fewer than so many of the last hundred, for so long, and it is over."""
KEPT_S: Final = 60.0
"""What a lonely thermometer shows is noted down so often."""
SAID_S: Final = 60.0


def watch_damage(watch: DamageWatch, seen: Seen) -> tuple[DamageWatch, list[Condition]]:
    """Warn (S2) of a sensor of which many single readings are damaged while values still come."""
    counts = seen.known.damaged_of_100
    if not counts and not watch.doubtful:
        return watch, []
    limit, now_s = seen.chamber.thresholds.damaged_of_100, seen.now_s
    doubtful: dict[Channel, float | None] = dict(watch.doubtful)
    for channel, count in counts.items():
        if count > limit and channel not in seen.known.faults:
            doubtful[channel] = None
    found = []
    for channel, calm_since_s in list(doubtful.items()):
        count = counts.get(channel, 0)
        if count >= CALM:
            doubtful[channel] = None
        elif calm_since_s is None:
            doubtful[channel] = now_s
        elif now_s - calm_since_s >= CALM_S:
            del doubtful[channel]
            continue
        text = f"{SENSOR_NAMES[channel]} gives damaged readings: {count} of the last 100, limit {limit}."
        found.append(
            Condition("S2", text, priority="3", about=channel, warns=True, did="Good readings in between still count.")
        )
    return DamageWatch(tuple(doubtful.items())), found


def watch_return(watch: ReturnWatch, seen: Seen) -> tuple[ReturnWatch, list[Condition]]:
    """Raise H9 for a thermometer without a second one that was lost and comes back much colder than the air can be.

    It may hang outside now. Not where somebody was at the door meanwhile: then it is known why the air is colder.
    """
    known, now_s = seen.known, seen.now_s
    if known.spread_k is not None:
        return (watch if watch.last_s == float("-inf") else ReturnWatch()), []
    air_c = known.air_temp_c
    if known.door_open and not watch.door:
        watch = replace(watch, door=True)
    if air_c is None:
        begins = watch.silent_since_s is None and known.faults.get("air_temp") not in STILL_A_WITNESS
        return (replace(watch, silent_since_s=now_s) if begins else watch), []
    if now_s < watch.far_until_s:
        text = (
            f"The air probe was silent and shows {watch.far_c:.1f} °C now, {watch.last_c:.1f} °C before: more than the "
            "air can have cooled with the door shut. Is it outside?"
        )
        return watch, [Condition("H9", text)]
    if watch.untold:
        return _meanwhile(watch, seen, air_c), []
    limits, silent_since_s = seen.chamber.limits, watch.silent_since_s
    back_c, back_s = (air_c, now_s) if watch.came_s is None else (watch.far_c, watch.came_s)
    is_back = watch.due or known.good_in_a_row <= limits.settle_readings
    was_lost = silent_since_s is not None and back_s - silent_since_s >= limits.lost_s
    is_known = watch.last_s != float("-inf") and not watch.door
    if is_back and was_lost and is_known and back_c < watch.last_c - _may_fall_k(watch, seen, back_s):
        watch = replace(watch, far_until_s=now_s + SAID_S, far_c=back_c, due=False)
    elif watch.due:
        watch = ReturnWatch()
    elif not is_back and (silent_since_s is not None or now_s - watch.last_s >= KEPT_S):
        watch = ReturnWatch(air_c, now_s, seen.duty.get("heater", 0.0))
    return watch, []


def _meanwhile(watch: ReturnWatch, seen: Seen, air_c: float) -> ReturnWatch:
    """Return the watch while nobody knows how long a gap was: what the thermometer shows at its return is kept.

    A person who lets the batch go on has looked.
    """
    if seen.heats:
        return ReturnWatch()
    is_settled = seen.known.good_in_a_row >= seen.chamber.limits.settle_readings
    return replace(watch, came_s=seen.now_s, far_c=air_c) if watch.came_s is None and is_settled else watch


def carried_return(kept: ReturnWatch, shift_s: float, *, told: bool) -> ReturnWatch:
    """Return the watch after a break of the program: of a thermometer that was silent before it is known where.

    Of one that spoke up to the break nothing is kept: nobody has watched the door meanwhile. How far the air can have
    fallen hangs on how long the break was; where that is not `told` it is judged when it is.
    """
    if kept.silent_since_s is None:
        return ReturnWatch()
    return ReturnWatch(
        last_c=kept.last_c,
        last_s=kept.last_s + shift_s,
        duty=kept.duty,
        silent_since_s=kept.silent_since_s + shift_s,
        door=kept.door,
        far_c=kept.far_c,
        untold=kept.untold or not told,
        came_s=None if kept.came_s is None else kept.came_s + shift_s,
    )


def told_return(watch: ReturnWatch, gap_s: float) -> ReturnWatch:
    """Return the watch now that it is known how long the break was, or was at most."""
    if not watch.untold or watch.silent_since_s is None:
        return watch
    last_s, silent_since_s = watch.last_s - gap_s, watch.silent_since_s - gap_s
    return replace(watch, last_s=last_s, silent_since_s=silent_since_s, untold=False, due=True)


def _may_fall_k(watch: ReturnWatch, seen: Seen, until_s: float) -> float:
    """Return how far the air can have fallen until then, by the chamber's figures.

    What the lamp held it above the wall goes at once, then wall and air go toward the coldest room; and beside it what
    two thermometers may be apart.
    """
    figures, chamber = seen.chamber.figures, seen.chamber
    lamp_k = watch.duty * figures.heater_w / figures.air_wall_w_per_k
    share = 1.0 - exp((watch.last_s - until_s) * figures.ua_w_per_k / (figures.air_j_per_k + figures.wall_j_per_k))
    room_c = seen.known.ambient_temp_c if seen.known.ambient_temp_c is not None else min(chamber.room_c)
    return chamber.limits.agree_k + lamp_k + max(watch.last_c - room_c, 0.0) * share


def distrusted(alarms: Iterable[Alarm]) -> tuple[Role, ...]:
    """Return the outputs that stay off until a person has said that the frozen humidity sensor was changed."""
    return ("humidifier", "dehumidifier") if any(alarm.latched and alarm.about == "rh" for alarm in alarms) else ()


def find_strangers(seen: Seen) -> list[Condition]:
    """Raise S13 for each thermometer on the bus that the chamber file does not name."""
    return [
        Condition("S13", f"On the bus hangs {id}, a thermometer that the chamber file does not name.", about=id)
        for id in seen.strangers
    ]
