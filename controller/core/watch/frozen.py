"""A thermometer that stands still although the lamp was switched: S6, where no other thermometer can be asked.

None can be asked either where all others stand still too: what freezes one on a bus may freeze each of them.

That a number does not change proves nothing: good control keeps the air within one step of a DS18B20 for hours. So two
things are looked at that must move it. The lamp's own phases, where each of two has given or taken enough to move the
air by half a kelvin by the chamber's figures. And, where none is that long and the number has stood still for two
hours, a switching for the purpose: the lamp is on for two minutes, or off where it burns most of the time, or the cold
is on where more heat would come too near the limit. The gate has the last word on that too; what it did not let pass
proves nothing either.
"""

from collections.abc import Iterable
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.plan import BELOW_TRIP_K, Chamber
from controller.core.values import Known, Role
from controller.core.watch.memory import FrozenWatch, Pulse
from controller.core.watch.seen import Seen

EDGES: Final = 2
NUDGE_K: Final = 1.5
"""So much at most is air and wall to be warmed for the purpose: two dozen steps of a DS18B20."""
MOSTLY_ON: Final = 0.5
LEAST_DUTY: Final = 0.1
GIVEN_SHARE: Final = 0.8
RETRY_S: Final = 1800.0
STILL_S: Final = 600.0
"""Where there are several thermometers it is not looked at all before none of them has moved for so long."""
ROLE_OF: Final[dict[Pulse, Role]] = {"lamp on": "heater", "lamp off": "heater", "cold on": "cooler"}
SAID: Final[dict[Pulse, str]] = {
    "lamp on": "the lamp was switched on for it",
    "lamp off": "the lamp was switched off for it",
    "cold on": "it was cooled for it",
}


def watch_frozen(watch: FrozenWatch, seen: Seen, *, lamp_tried: bool) -> tuple[FrozenWatch, list[Condition]]:
    """Raise S6 for a thermometer that has not answered to the lamp, where no other one has moved meanwhile.

    Args:
        watch: what was seen of it.
        seen: this tick.
        lamp_tried: the lamp was found dead, and is only tried: where several stand still it is the lamp.
    """
    known, now_s = seen.known, seen.now_s
    several = known.spread_k is not None
    if several and not watch.found and (lamp_tried or seen.excused or now_s - known.still_since_s < STILL_S):
        return (watch if watch.value is None else FrozenWatch()), []  # The judge compares them.
    air_c = known.air_temp_c if known.stuck_air_c is None else known.stuck_air_c
    if air_c is None:
        return watch, []
    if air_c != watch.value:
        heater = seen.outputs.get("heater")
        since_s = known.still_since_s if several else now_s
        return FrozenWatch(air_c, since_s, heater is not None and heater.on_until_s > now_s, now_s), []
    if not watch.found:
        watch = _judge_pulse(_follow_lamp(watch, seen, air_c), seen)
        if not watch.found:
            return watch, []
        if several:
            watch = replace(watch, found=f"{watch.found}, and no other thermometer has moved either")
    text = (
        f"The air thermometer has shown {air_c:.2f} °C for {(now_s - watch.since_s) / 3600.0:.1f} h although "
        f"{watch.found}. It may be stuck."
    )
    return watch, [Condition("S6", text, about="air_temp")]


def believed(known: Known, watch: FrozenWatch, alarms: Iterable[Alarm]) -> Known:
    """Return what is known without the air thermometer, where it was found stuck and nobody has cleared that yet.

    What it shows is kept beside it: the watch has to see it move. Where all witnesses stood still, none is believed.
    """
    if not watch.found and not any(
        alarm.row == "S6" and alarm.about == "air_temp" and (alarm.active or alarm.latched) for alarm in alarms
    ):
        return known
    slowed_c = {} if watch.found else {name: c for name, c in known.slowed_c.items() if name != "air_temp"}
    return replace(
        known,
        air_temp_c=None,
        stuck_air_c=known.air_temp_c,
        good_air_taken_s=float("-inf"),
        slowed_c=slowed_c,
        spread_k=max(slowed_c.values()) - min(slowed_c.values()) if len(slowed_c) > 1 else None,
        faults={**known.faults, "air_temp": known.faults.get("air_temp", "frozen")},
    )


def warmest_c(known: Known, chamber: Chamber) -> float | None:
    """Return how warm the room can be that the air follows, in °C, while the only thermometer is known to be stuck.

    None where it is not, or another one is believed. Like every number before it this bounds the air from above.
    """
    if known.faults.get("air_temp") != "frozen" or known.slowed_c:
        return None
    return max(chamber.room_c) if known.ambient_temp_c is None else known.ambient_temp_c


def _follow_lamp(watch: FrozenWatch, seen: Seen, air_c: float) -> FrozenWatch:
    """Count the phases of the lamp that should have moved the number, each seen to its end."""
    heater, figures, now_s = seen.outputs.get("heater"), seen.chamber.figures, seen.now_s
    if heater is None:
        return watch
    is_on = heater.on_until_s > now_s
    if is_on == watch.lamp_on:
        room_c = seen.known.ambient_temp_c
        if room_c is None:
            room_c = min(seen.chamber.room_c) if is_on else max(seen.chamber.room_c)
        watts = figures.heater_w * is_on - figures.ua_w_per_k * (air_c - room_c)
        capacity = figures.air_j_per_k + figures.wall_j_per_k + seen.hung_kg * figures.meat_j_per_kg_k
        return replace(watch, moved_k=watch.moved_k + watts / capacity * seen.dt_s)
    long_enough = now_s - watch.phase_s >= seen.chamber.response_s.get("air_temp", 0.0)
    should_move = watch.moved_k if watch.lamp_on else -watch.moved_k
    edges = watch.edges + (long_enough and should_move >= seen.chamber.thresholds.frozen_move_k)
    found = "the lamp was switched twice for long" if edges >= EDGES else ""
    return replace(watch, lamp_on=is_on, phase_s=now_s, moved_k=0.0, edges=edges, found=found)


def _judge_pulse(watch: FrozenWatch, seen: Seen) -> FrozenWatch:
    """Begin a switching for the purpose where it is due, and look at the end whether it was given and answered."""
    now_s, thresholds = seen.now_s, seen.chamber.thresholds
    if not watch.pulse:
        due = now_s - watch.since_s >= thresholds.provoke_after_s and now_s >= watch.next_s
        led = seen.kind is not None and seen.wanted.air_temp_c is not None and not seen.known.door_open
        return _begin_pulse(watch, seen) if due and led else watch
    if now_s < watch.pulse_until_s:
        return watch
    if not watch.given:
        return _see_whether_given(watch, seen)
    if now_s - watch.pulse_s < thresholds.provoked_within_s:
        return watch
    return replace(watch, found=SAID[watch.pulse])


def _see_whether_given(watch: FrozenWatch, seen: Seen) -> FrozenWatch:
    """Say whether the output really was what it was meant to be; else it is tried again later."""
    on_s = seen.outputs[ROLE_OF[watch.pulse]].on_total_s - watch.on_total_s
    share = on_s / (watch.pulse_until_s - watch.pulse_s)
    if (1.0 - share if watch.pulse == "lamp off" else share) >= GIVEN_SHARE:
        return replace(watch, given=True)
    return replace(watch, pulse="", next_s=seen.now_s + RETRY_S)


def _begin_pulse(watch: FrozenWatch, seen: Seen) -> FrozenWatch:
    """Switch what moves the air most, and never the lamp on where the air is near its limit."""
    chamber, now_s = seen.chamber, seen.now_s
    figures, lasts_s = chamber.figures, chamber.thresholds.provoke_s
    air_j_per_k, duty = figures.air_j_per_k + figures.wall_j_per_k, seen.duty.get("heater", 0.0)
    heater, cooler = chamber.output("heater"), chamber.output("cooler")
    highest_c = chamber.limits.trip_c - BELOW_TRIP_K - NUDGE_K
    has_lamp = heater is not None and figures.heater_w > 0.0
    is_near = watch.value is None or watch.value > highest_c
    if has_lamp and heater is not None and duty < MOSTLY_ON and not is_near:
        enough_s = NUDGE_K * air_j_per_k / figures.heater_w
        return _switched(watch, seen, "lamp on", max(min(lasts_s, enough_s), heater.min_on_s, chamber.tick_s))
    if has_lamp and duty >= LEAST_DUTY:
        enough_s = NUDGE_K * air_j_per_k / (figures.heater_w * duty)
        longest_s = chamber.thresholds.provoked_within_s / 2.0
        return _switched(watch, seen, "lamp off", min(max(lasts_s, enough_s), longest_s))
    if cooler is not None:
        return _switched(watch, seen, "cold on", max(lasts_s, cooler.min_on_s))
    return replace(watch, next_s=now_s + RETRY_S)


def _switched(watch: FrozenWatch, seen: Seen, pulse: Pulse, lasts_s: float) -> FrozenWatch:
    output = seen.outputs.get(ROLE_OF[pulse])
    return replace(
        watch,
        pulse=pulse,
        pulse_s=seen.now_s,
        pulse_until_s=seen.now_s + lasts_s,
        on_total_s=0.0 if output is None else output.on_total_s,
        given=False,
    )


def switched_on(watch: FrozenWatch, now_s: float) -> tuple[Role, ...]:
    """Return the outputs that are on now for the purpose of seeing a thermometer answer."""
    if watch.pulse == "" or now_s >= watch.pulse_until_s or watch.pulse == "lamp off":
        return ()
    return (ROLE_OF[watch.pulse],)


def switched_off(watch: FrozenWatch, now_s: float) -> tuple[Role, ...]:
    """Return the outputs that are off now for the same purpose."""
    if watch.pulse == "" or now_s >= watch.pulse_until_s:
        return ()
    return ("cooler",) if watch.pulse == "lamp on" else ("heater",)
