"""Heat: the trip, heat that does not warm, and warming without heat.

How much a healthy chamber warms is not a fixed figure: five kilograms of cold meat swallow for an hour what lifts an
empty box by a kelvin a minute. So the rise is judged against what the chamber's own figures and its load lead one to
expect from the heat that was given, and not against a number of minutes.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.watch.memory import HeatWatch, IdleWatch, TripWatch
from controller.core.watch.seen import Seen

FULL_DUTY: Final = 0.9
FAR_K: Final = 2.0
TRIAL_S: Final = 300.0
TRIAL_EVERY_S: Final = 1800.0
MARK_S: Final = 120.0


def watch_trip(watch: TripWatch, seen: Seen) -> tuple[TripWatch, list[Condition]]:
    """Raise A2 when a witness has been at the trip or above in two readings in a row."""
    known, limits = seen.known, seen.chamber.limits
    if known.highest_firm_c is None or known.highest_firm_c < limits.trip_c:
        return (watch if watch.readings == 0 else replace(watch, readings=0)), []
    if known.highest_firm_s > watch.newest_s:
        watch = TripWatch(watch.readings + 1, known.highest_firm_s)
    if watch.readings < 2:  # noqa: PLR2004 - two readings in a row
        return watch, []
    return watch, [Condition("A2", f"Too hot: {known.highest_firm_c:.1f} °C, limit {limits.trip_c:g} °C. Heat is off.")]


def watch_heating(watch: HeatWatch, seen: Seen) -> tuple[HeatWatch, list[Condition]]:
    """Raise A3 when full power has not brought the rise that figures and load lead one to expect."""
    air_c, figures, thresholds, now_s = seen.known.air_temp_c, seen.chamber.figures, seen.chamber.thresholds, seen.now_s
    wanted_c = seen.wanted.air_temp_c
    excused = seen.excused or any(block != "A3" for block in seen.blocks)
    full = seen.duty.get("heater", 0.0) >= FULL_DUTY
    if air_c is None or wanted_c is None or excused or not full or air_c > wanted_c - FAR_K:
        return (watch if watch.full_since_s is None else HeatWatch()), []
    if watch.full_since_s is None:
        return HeatWatch(now_s, air_c), []
    room_c = seen.known.ambient_temp_c if seen.known.ambient_temp_c is not None else min(seen.chamber.room_c)
    heat_w = figures.heater_w - figures.ua_w_per_k * (air_c - room_c)
    capacity = figures.air_j_per_k + figures.wall_j_per_k + seen.hung_kg * figures.meat_j_per_kg_k
    expected_k = watch.expected_k + max(heat_w, 0.0) / capacity * seen.dt_s
    lowest_c = min(watch.lowest_c, air_c)
    rise_k = air_c - lowest_c
    if rise_k >= thresholds.heat_gained_k:
        return HeatWatch(now_s, air_c), []
    watch = HeatWatch(watch.full_since_s, lowest_c, expected_k)
    lasted_s = now_s - (watch.full_since_s or now_s)
    if lasted_s < thresholds.heat_watched_s or expected_k < thresholds.heat_expected_k:
        return watch, []
    text = (
        f"Lamp gives no heat: {rise_k:.1f} K in {lasted_s / 60:.0f} min at full power, {expected_k:.1f} K expected; "
        f"air {air_c:.1f} °C, wanted {wanted_c:.1f} °C. Is the probe inside? Heat only in short trials."
    )
    return watch, [Condition("A3", text)]


def is_trial(watch: HeatWatch, now_s: float) -> bool:
    """Say whether the lamp may be tried now although it gave no heat: five minutes in each half hour."""
    return watch.full_since_s is not None and (now_s - watch.full_since_s) % TRIAL_EVERY_S < TRIAL_S


def watch_idle(watch: IdleWatch, seen: Seen) -> tuple[IdleWatch, list[Condition]]:
    """Raise A1 when the chamber warms far above what is wanted although the lamp has been off for ten minutes."""
    air_c, heater, now_s, thresholds = (
        seen.known.air_temp_c, seen.outputs.get("heater"), seen.now_s, seen.chamber.thresholds
    )  # fmt: skip
    if air_c is None or heater is None or heater.on_until_s > now_s:
        return (watch if watch.since_s is None else IdleWatch()), []
    if watch.since_s is None:
        return IdleWatch(now_s, ((now_s, air_c),)), []
    off_s, marks = thresholds.idle_s, watch.marks
    if now_s - marks[-1][0] >= MARK_S:
        marks = (*(mark for mark in marks if now_s - mark[0] <= off_s + MARK_S), (now_s, air_c))
        watch = replace(watch, marks=marks)
    if watch.since_s is None or now_s - watch.since_s < off_s:
        return watch, []
    room_c = seen.known.ambient_temp_c if seen.known.ambient_temp_c is not None else seen.chamber.room_c[1]
    limit_c = (seen.wanted.air_temp_c if seen.wanted.air_temp_c is not None else room_c) + FAR_K
    old_c = next((value for at_s, value in marks if now_s - at_s >= off_s), None)
    if old_c is None or air_c < limit_c or air_c <= room_c or air_c - old_c < thresholds.idle_rise_k:
        return watch, []
    minutes = (now_s - watch.since_s) / 60
    rise = f"{air_c - old_c:+.1f} K in {off_s / 60:.0f} min"
    return watch, [
        Condition("A1", f"Warming although the lamp has been off for {minutes:.0f} min: {air_c:.1f} °C, {rise}.")
    ]
