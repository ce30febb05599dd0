"""The slow tests: what no single reading shows. Heat that does not warm, warming without heat, a dry humidifier.

How much a healthy chamber warms is not a fixed figure: five kilograms of cold meat swallow for an hour what lifts an
empty box by a kelvin a minute. So the rise is judged against what the chamber's own figures and its load lead one to
expect from the heat that was given, and not against a number of minutes.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.memory import OutputMemory, Watch
from controller.core.plan import WET_PCT, Chamber
from controller.core.values import Known, Wanted
from controller.food.air import saturation_pressure_pa

FULL_DUTY: Final = 0.9
FAR_K: Final = 2.0
WATCHED_S: Final = 1200.0
"""Heating is judged after 20 minutes at full power; common practice, no source."""
EXPECTED_K: Final = 3.0
"""and only when the figures lead one to expect at least this rise; what the meat's water takes is not in them."""
BACK_K: Final = 0.5
"""So much has to come: eight steps of a DS18B20, a sixth of what is expected."""
TRIAL_S: Final = 300.0
TRIAL_EVERY_S: Final = 1800.0
OFF_S: Final = 600.0
OFF_RISE_K: Final = 0.3
MARK_S: Final = 120.0
APART_S: Final = 300.0
SLIPPED_S: Final = 60.0
DOOR_S: Final = 600.0
MIST_WATCHED_S: Final = 1800.0
MIST_FAR_PCT: Final = 5.0
MIST_LIFT_PCT: Final = 100.0
"""Walls and leaks take what single pulses bring; this much in half an hour would be seen in any box."""
SATURATED_S: Final = 1800.0


def watch_trip(watch: Watch, known: Known, chamber: Chamber) -> tuple[Watch, list[Condition]]:
    """Raise A2 when a witness has been at the trip or above in two readings in a row."""
    if known.highest_firm_c is None or known.highest_firm_c < chamber.limits.trip_c:
        return (watch if watch.over_trip == 0 else replace(watch, over_trip=0)), []
    if known.highest_firm_s > watch.over_trip_s:
        watch = replace(watch, over_trip=watch.over_trip + 1, over_trip_s=known.highest_firm_s)
    if watch.over_trip < 2:  # noqa: PLR2004 - two readings in a row
        return watch, []
    return watch, [
        Condition("A2", f"Too hot: {known.highest_firm_c:.1f} °C, limit {chamber.limits.trip_c:g} °C. Heat is off.")
    ]


def watch_agreement(watch: Watch, known: Known, chamber: Chamber, now_s: float) -> tuple[Watch, list[Condition]]:
    """Tell a probe that has slipped out of the chamber (H9) from sensors that merely disagree (S9).

    The gate has cut the heat at the first sight of it, and keeps it cut until both have been seen to agree again: that
    one of them has fallen silent since proves nothing.
    """
    if known.spread_k is None:
        return watch, _silent_since(watch, now_s)
    if known.spread_k <= chamber.limits.agree_k:
        return (watch if watch.apart_since_s is None else replace(watch, apart_since_s=None, apart_row="")), []
    if watch.apart_since_s is None:
        return replace(watch, apart_since_s=now_s), []
    apart_s = now_s - watch.apart_since_s
    air_c = known.slowed_c.get("air_temp")
    hottest_c = max(known.slowed_c.values())
    room_c = known.ambient_temp_c if known.ambient_temp_c is not None else chamber.room_c[1]
    is_cold = air_c is not None and air_c < hottest_c - chamber.limits.agree_k and hottest_c > room_c
    if is_cold and apart_s >= SLIPPED_S:
        text = f"The air probe shows {air_c:.1f} °C, another sensor {hottest_c:.1f} °C: is it outside? Heat is off."
        return replace(watch, apart_row="H9"), [Condition("H9", text)]
    if apart_s >= APART_S:
        values = ", ".join(f"{name} {value:.1f}" for name, value in known.slowed_c.items())
        text = f"Temperatures disagree ({values} °C), limit {chamber.limits.agree_k:g} K. Heat is off."
        return replace(watch, apart_row="S9"), [Condition("S9", text)]
    return watch, []


def _silent_since(watch: Watch, now_s: float) -> list[Condition]:
    """Keep the alarm of a disagreement while one of the two says nothing."""
    if watch.apart_since_s is None or now_s - watch.apart_since_s < SLIPPED_S:
        return []
    return [Condition(watch.apart_row or "S9", "Temperatures disagreed, then a sensor fell silent. Heat is off.")]


def watch_door(watch: Watch, known: Known, now_s: float) -> tuple[Watch, list[Condition]]:
    """Raise P1 when the door has been open for ten minutes."""
    if not known.door_open:
        return (watch if watch.door_since_s is None else replace(watch, door_since_s=None)), []
    if watch.door_since_s is None:
        return replace(watch, door_since_s=now_s), []
    if now_s - watch.door_since_s < DOOR_S:
        return watch, []
    return watch, [Condition("P1", f"The door has been open for {(now_s - watch.door_since_s) / 60:.0f} min.")]


def watch_heating(
    watch: Watch,
    known: Known,
    wanted: Wanted,
    chamber: Chamber,
    heat_duty: float,
    meat_kg: float,
    now_s: float,
    dt_s: float,
    *,
    excused: bool,
) -> tuple[Watch, list[Condition]]:
    """Raise A3 when full power has not brought the rise that figures and load lead one to expect.

    Args:
        watch: the window so far.
        known: the good air temperature.
        wanted: the set-point; near it nothing is judged.
        chamber: the model figures.
        heat_duty: the duty that is asked for.
        meat_kg: what hangs in the chamber and has to be warmed too.
        now_s: the monotonic clock.
        dt_s: seconds since the last tick.
        excused: the lid is open, the meat has just been hung, or heat is not allowed.
    """
    air_c, figures = known.air_temp_c, chamber.figures
    if (
        air_c is None
        or wanted.air_temp_c is None
        or excused
        or heat_duty < FULL_DUTY
        or air_c > wanted.air_temp_c - FAR_K
    ):
        return (watch if watch.full_since_s is None else replace(watch, full_since_s=None)), []
    if watch.full_since_s is None:
        return replace(watch, full_since_s=now_s, full_lowest_c=air_c, full_expected_k=0.0), []
    room_c = known.ambient_temp_c if known.ambient_temp_c is not None else min(chamber.room_c)
    heat_w = figures.heater_w - figures.ua_w_per_k * (air_c - room_c)
    capacity = figures.air_j_per_k + figures.wall_j_per_k + meat_kg * figures.meat_j_per_kg_k
    expected_k = watch.full_expected_k + max(heat_w, 0.0) / capacity * dt_s
    lowest_c = min(watch.full_lowest_c, air_c)
    rise_k = air_c - lowest_c
    if rise_k >= BACK_K:
        return replace(watch, full_since_s=now_s, full_lowest_c=air_c, full_expected_k=0.0), []
    watch = replace(watch, full_lowest_c=lowest_c, full_expected_k=expected_k)
    lasted_s = now_s - (watch.full_since_s or now_s)
    if lasted_s < WATCHED_S or expected_k < EXPECTED_K:
        return watch, []
    text = (
        f"Lamp gives no heat: {rise_k:.1f} K in {lasted_s / 60:.0f} min at full power, {expected_k:.1f} K expected; "
        f"air {air_c:.1f} °C, wanted {wanted.air_temp_c:.1f} °C. Is the probe inside? Heat only in short trials."
    )
    return watch, [Condition("A3", text)]


def is_trial(watch: Watch, now_s: float) -> bool:
    """Say whether the lamp may be tried now although it gave no heat: five minutes in each half hour."""
    return watch.full_since_s is not None and (now_s - watch.full_since_s) % TRIAL_EVERY_S < TRIAL_S


def is_mist_trial(watch: Watch, now_s: float) -> bool:
    """Say whether mist may be tried now although it gave nothing: five minutes in each half hour."""
    return watch.mist_since_s is not None and (now_s - watch.mist_since_s) % TRIAL_EVERY_S < TRIAL_S


def watch_idle(
    watch: Watch, known: Known, wanted: Wanted, chamber: Chamber, heater: OutputMemory | None, now_s: float
) -> tuple[Watch, list[Condition]]:
    """Raise A1 when the chamber warms far above what is wanted although the lamp has been off for ten minutes."""
    air_c = known.air_temp_c
    if air_c is None or heater is None or heater.on_until_s > now_s:
        return (watch if watch.idle_since_s is None else replace(watch, idle_since_s=None, idle_marks=())), []
    idle_since_s = watch.idle_since_s
    if idle_since_s is None:
        return replace(watch, idle_since_s=now_s, idle_marks=((now_s, air_c),)), []
    marks = watch.idle_marks
    if now_s - marks[-1][0] >= MARK_S:
        marks = (*(mark for mark in marks if now_s - mark[0] <= OFF_S + MARK_S), (now_s, air_c))
        watch = replace(watch, idle_marks=marks)
    if now_s - idle_since_s < OFF_S:
        return watch, []
    room_c = known.ambient_temp_c if known.ambient_temp_c is not None else chamber.room_c[1]
    limit_c = (wanted.air_temp_c if wanted.air_temp_c is not None else room_c) + FAR_K
    old = next((value for at_s, value in marks if now_s - at_s >= OFF_S), None)
    if old is None or air_c < limit_c or air_c <= room_c or air_c - old < OFF_RISE_K:
        return watch, []
    minutes = (now_s - idle_since_s) / 60
    text = (
        f"Warming although the lamp has been off for {minutes:.0f} min: {air_c:.1f} °C, {air_c - old:+.1f} K in 10 min."
    )
    return watch, [Condition("A1", text)]


def watch_mist(
    watch: Watch,
    known: Known,
    wanted: Wanted,
    chamber: Chamber,
    mist: OutputMemory | None,
    now_s: float,
    *,
    excused: bool,
    wet_meat: bool,
) -> tuple[Watch, list[Condition]]:
    """Raise A5 when mist was given that should have lifted the humidity and did not, S11 when the sensor is wet."""
    rh, conditions = known.rh_pct, list[Condition]()
    if rh is None or mist is None or wanted.rh_pct is None or wanted.air_temp_c is None:
        idle = watch.mist_since_s is None and watch.saturated_since_s is None
        return watch if idle else replace(watch, mist_since_s=None, saturated_since_s=None), conditions
    mist_off_s = now_s - max(mist.on_until_s, mist.off_since_s)
    saturated = rh >= WET_PCT and mist_off_s >= SATURATED_S / 2 and not (excused or wet_meat)
    since_s = (watch.saturated_since_s if watch.saturated_since_s is not None else now_s) if saturated else None
    if since_s != watch.saturated_since_s:
        watch = replace(watch, saturated_since_s=since_s)
    if since_s is not None and now_s - since_s >= SATURATED_S:
        conditions.append(Condition("S11", f"Humidity sensor shows {rh:.1f} %: probably wet. Humidifier is off."))
    if excused or rh > wanted.rh_pct - MIST_FAR_PCT:
        return (watch if watch.mist_since_s is None else replace(watch, mist_since_s=None)), conditions
    if watch.mist_since_s is None or rh - watch.mist_start_pct >= 1.0:
        return replace(watch, mist_since_s=now_s, mist_start_pct=rh, mist_on_s=mist.on_total_s), conditions
    lift = chamber.figures.mist_pct_per_s * saturation_pressure_pa(20.0) / saturation_pressure_pa(wanted.air_temp_c)
    lift_pct = (mist.on_total_s - watch.mist_on_s) * lift
    if now_s - watch.mist_since_s >= MIST_WATCHED_S and lift_pct >= MIST_LIFT_PCT:
        text = f"Humidifier gives nothing: {rh:.0f} %, wanted {wanted.rh_pct:.0f} %, after mist for {lift_pct:.0f} %."
        conditions.append(Condition("A5", text))
    return watch, conditions


def mist_is_spent(watch: Watch, chamber: Chamber, mist: OutputMemory | None, now_s: float) -> tuple[Watch, bool]:
    """Count the water of each hour and say whether its bound is reached."""
    output = chamber.output("humidifier")
    if mist is None or output is None:
        return watch, False
    if now_s - watch.mist_hour_s >= 3600.0:  # noqa: PLR2004 - an hour
        return replace(watch, mist_hour_s=now_s, mist_hour_on_s=mist.on_total_s), False
    spent_ml = (mist.on_total_s - watch.mist_hour_on_s) * output.ml_per_h / 3600.0
    return watch, spent_ml >= chamber.limits.mist_ml_per_h
