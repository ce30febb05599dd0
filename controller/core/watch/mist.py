"""Mist that does not come, and how much water has gone into the air."""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.memory import OutputMemory
from controller.core.plan import Chamber
from controller.core.plant.lasting import spoken
from controller.core.watch.heat import TRIAL_EVERY_S, TRIAL_S
from controller.core.watch.memory import MistWatch
from controller.core.watch.seen import Seen
from controller.food.air import saturation_pressure_pa

FAR_PCT: Final = 5.0


def watch_mist(watch: MistWatch, seen: Seen) -> tuple[MistWatch, list[Condition]]:
    """Raise A5 when mist was given that should have lifted the humidity and did not."""
    rh, mist, wanted, now_s = seen.known.rh_pct, seen.outputs.get("humidifier"), seen.wanted, seen.now_s
    thresholds, conditions = seen.chamber.thresholds, list[Condition]()
    if seen.rh_is_away:
        return watch, conditions
    if rh is None or mist is None or wanted.rh_pct is None or wanted.air_temp_c is None:
        return watch if watch.since_s is None else replace(watch, since_s=None), conditions
    if seen.excused or rh > wanted.rh_pct - FAR_PCT:
        return (watch if watch.since_s is None else replace(watch, since_s=None)), conditions
    if watch.since_s is None or rh - watch.start_pct >= 1.0:
        return replace(watch, since_s=now_s, start_pct=rh, on_s=mist.on_total_s), conditions
    figures = seen.chamber.figures
    lift = figures.mist_pct_per_s * saturation_pressure_pa(20.0) / saturation_pressure_pa(wanted.air_temp_c)
    lift_pct = (mist.on_total_s - watch.on_s) * lift
    if now_s - watch.since_s >= thresholds.mist_watched_s and lift_pct >= thresholds.mist_lift_pct:
        on, lasted = spoken(mist.on_total_s - watch.on_s), spoken(now_s - watch.since_s)
        text = (
            f"Humidifier gives nothing: humidity {rh:.0f} %, wanted {wanted.rh_pct:.0f} %. It was on for {on} "
            f"in {lasted}, enough to fill dry air {lift_pct / 100.0:.1f} times."
        )
        conditions.append(Condition("A5", text))
    return watch, conditions


def is_mist_trial(watch: MistWatch, now_s: float) -> bool:
    """Say whether mist may be tried now although it gave nothing: five minutes in each half hour."""
    return watch.since_s is not None and (now_s - watch.since_s) % TRIAL_EVERY_S < TRIAL_S


def mist_is_spent(
    watch: MistWatch, chamber: Chamber, mist: OutputMemory | None, now_s: float
) -> tuple[MistWatch, bool]:
    """Count the water of each hour and say whether its bound is reached."""
    output = chamber.output("humidifier")
    if mist is None or output is None:
        return watch, False
    if now_s - watch.hour_s >= 3600.0:  # noqa: PLR2004 - an hour
        return replace(watch, hour_s=now_s, hour_on_s=mist.on_total_s), False
    spent_ml = (mist.on_total_s - watch.hour_on_s) * output.ml_per_h / 3600.0
    return watch, spent_ml >= chamber.limits.mist_ml_per_h
